package report

// lots is the index of lots, a line each, where the job has any.
func (b *book) lots() error {
	if len(b.res.Lots) == 0 {
		return nil
	}
	s, err := b.sheet("Lots", []float64{18, 22, 13, 11, 9, 9, 14, 34, 44, 40}, 1)
	if err != nil {
		return err
	}
	n := 0
	var heads []any
	for _, h := range []string{"Lot", "Element", "Verdict", "Assessed", "Pass", "Fail", "Not assessed", "Acceptance", "Furthest out", "Why it is not complete"} {
		heads = append(heads, b.cell("head", h))
	}
	if err := row(s, &n, heads...); err != nil {
		return err
	}
	for i := range b.res.Lots {
		l := &b.res.Lots[i]
		style := map[string]string{"fail": "fail", "incomplete": "open"}[string(l.Verdict)]
		if style == "" {
			style = "cell"
		}
		if err := row(s, &n, b.text("cell", l.Name), b.text("cell", l.Element), b.cell(style, string(l.Verdict)), b.cell("cell", l.Counts.Assessed), b.cell("cell", l.Counts.Pass), b.cell("cell", l.Counts.Fail),
			b.cell("cell", l.Counts.NotAssessed), b.text("cell", lotAcceptance(l)), b.text("cell", l.Worst), b.text("cell", l.Reason)); err != nil {
			return err
		}
	}
	return s.Flush()
}
