package report

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"sightrail/formats/unit"
	"sightrail/qa"
)

// levels writes every book as reduced. The sums are formulas over the columns,
// with their values beside them, so that the arithmetic can be followed.
func (b *book) levels() error {
	if len(b.res.Books) == 0 {
		return nil
	}
	withU := false
	for i := range b.res.Books {
		withU = withU || b.res.Books[i].Worth != nil && b.res.Books[i].Result != nil
	}
	widths := []float64{24, 10, 10, 10, 10, 10, 13, 11, 11}
	if withU {
		widths = append(widths, 8)
	}
	s, err := b.sheet("Levels", append(widths, 40), 0)
	if err != nil {
		return err
	}
	n := 0
	lines := []string{ruleWords(b.res.Job.Levelling.Closing.Rule, b.res.Job.Levelling.Source)}
	if withU {
		lines = append(lines, "u is one standard uncertainty of a level as it is judged, in mm; U = k·u with k = 2. "+markWords(b.res.Job))
	}
	for _, line := range lines {
		if err := row(s, &n, b.text("label", line)); err != nil {
			return err
		}
	}
	for i := range b.res.Books {
		n++
		if err := b.levelBook(s, &n, &b.res.Books[i], withU); err != nil {
			return err
		}
	}
	return s.Flush()
}

func (b *book) levelBook(s *excelize.StreamWriter, n *int, k *qa.BookResult, withU bool) error {
	if err := row(s, n, b.text("title", k.Book.Pos.File+partOf(k.Book.Pos)+", "+k.Unit.Word)); err != nil {
		return err
	}
	if k.Result == nil {
		return row(s, n, b.cell("open", "the book could not be reduced"))
	}
	var heads []any
	for _, h := range []string{"Point", "BS", "IS", "FS", "Rise", "Fall", "Collimation", "Level", "Adjusted"} {
		heads = append(heads, b.cell("head", h))
	}
	if withU {
		heads = append(heads, b.cell("head", "u (mm)"))
	}
	if err := row(s, n, append(heads, b.cell("head", "Remark"))...); err != nil {
		return err
	}
	first := *n + 1
	givers := knownGivers(k)
	for i := range k.Result.Rows {
		if err := row(s, n, b.levelRow(k, i, withU, givers)...); err != nil {
			return err
		}
	}
	if last := *n; last >= first {
		if err := row(s, n, b.levelSums(k, first, last, withU)...); err != nil {
			return err
		}
	}
	for i := range k.Result.Runs {
		style := "cell"
		if k.Result.Runs[i].Forced {
			style = "fail"
		}
		if err := row(s, n, b.text(style, b.bookRunLine(k, i))); err != nil {
			return err
		}
	}
	if !k.Result.BookedAny {
		return row(s, n, b.cell("cell", nothingBooked))
	}
	return nil
}

// levelRow is one row of a reduced book.
func (b *book) levelRow(k *qa.BookResult, i int, withU bool, givers map[string]string) []any {
	in, r, w := &k.Input[i], &k.Result.Rows[i], &k.Book.Rows[i]
	remark := w.Remark
	if r.Known.Set {
		from := in.KnownFrom
		if from == "" {
			from = givers[in.Name]
		}
		remark = strings.TrimSpace(remark + " known " + levelText(r.Known.L, k.Unit) + " (" + from + ")")
	}
	cells := []any{b.text("cell", w.Point), b.length("level", in.BS.Set, in.BS.L, k.Unit), b.length("level", in.IS.Set, in.IS.L, k.Unit), b.length("level", in.FS.Set, in.FS.L, k.Unit),
		b.length("level", r.Rise.Set, r.Rise.L, k.Unit), b.length("level", r.Fall.Set, r.Fall.L, k.Unit), b.length("level", r.Collimation.Set, r.Collimation.L, k.Unit),
		b.length("level", r.Level.Set, r.Level.L, k.Unit), b.length("level", r.Adjusted.Set, r.Adjusted.L, k.Unit)}
	if withU {
		u := b.cell("cell", nil)
		if mm, ok := uncertaintyOf(k, i); ok {
			u = b.cell("tenth", mm)
		}
		cells = append(cells, u)
	}
	return append(cells, b.text("cell", remark))
}

// levelSums is the row of sums below a book.
func (b *book) levelSums(k *qa.BookResult, first, last int, withU bool) []any {
	sum := func(col string, l unit.Length) excelize.Cell {
		return excelize.Cell{StyleID: b.style["sum"], Formula: fmt.Sprintf("SUM(%s%d:%s%d)", col, first, col, last), Value: float64(l) / float64(k.Unit.Size)}
	}
	blank := b.cell("sum", nil)
	fs := sum("D", k.Result.Sums.FS)
	if sideShots(k) {
		// side shots stand in the FS column and are no part of the chain: a sum of
		// the column would be another figure
		fs.Formula = ""
	}
	cells := []any{b.cell("sum", "Sums"), sum("B", k.Result.Sums.BS), blank, fs, sum("E", k.Result.Sums.Rise), sum("F", k.Result.Sums.Fall), blank, blank, blank}
	if withU {
		cells = append(cells, blank)
	}
	return append(cells, b.cell("sum", pageCheck(k)))
}

// sideShots reports whether the FS column holds more than the chain.
func sideShots(k *qa.BookResult) bool {
	var all unit.Length
	for i := range k.Input {
		all += k.Input[i].FS.L
	}
	return all != k.Result.Sums.FS
}

// pageCheck says whether the sums agree. A column sum of FS with side shots in
// it is not that of the chain.
func pageCheck(k *qa.BookResult) string {
	if !k.Result.ArithmeticOK {
		return "page check not possible: the book has a gap"
	}
	return "sum BS − sum FS = sum rise − sum fall = last − first: agrees"
}

// bookRunLine says in one line how a run closed.
func (b *book) bookRunLine(k *qa.BookResult, i int) string {
	x := &k.Result.Runs[i]
	s := "Run from " + orNoMark(x.From)
	if x.To != "" {
		s += " to " + x.To
	}
	s += ", " + Count(x.Setups, "set-up", "set-ups")
	if x.Distance.Set {
		s += ", " + x.Distance.L.Fixed(unit.KM, 3) + " km"
	}
	if misclosure, allowed := runFigures(k.Rule, x); misclosure != "" {
		s += ": misclosure (computed − known) " + misclosure + " mm"
		if allowed != "" {
			s += ", allowed " + allowed + " mm by " + k.Rule.Text
		}
	}
	s += ": " + x.State.String()
	if x.Why != "" {
		s += " (" + x.Why + ")"
	}
	switch {
	case x.Forced:
		s += ". ADJUSTED OUTSIDE ITS LIMIT, because the job says so: " + b.res.Job.Levelling.Outside + "; none of its levels is assessed"
	case mistakeIn(k, i) != "":
		s += ". None of its levels is assessed: " + mistakeIn(k, i)
	}
	return s
}
