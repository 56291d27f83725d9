package report

import (
	"strconv"

	"sightrail/convert/crs"
)

// sitePart is what the page says of the fit of a site grid.
type sitePart struct {
	Facts []fact
	Words []siteWord
	Rows  []siteRow
}

type siteWord struct{ Text, Class string }

type siteRow struct{ Name, East, North, Level string }

func (p *page) sitePart() *sitePart {
	s := p.Res.Site
	if s == nil {
		return nil
	}
	g := s.Fit
	held := "held"
	if g.Fitted {
		held = "fitted"
		if g.ScaleSD > 0 {
			held += ", standard deviation " + decimals(g.ScaleSD*1e6, 2) + " ppm"
		}
	}
	part := &sitePart{Facts: facts(fact{"Control in", s.Keys.Grid.String()}, fact{"Control from", s.Keys.Source},
		fact{"Rotation, site to grid, anticlockwise", strconv.FormatFloat(g.Rotation*180/3.141592653589793, 'f', 7, 64) + " deg"},
		fact{"Scale, site to grid", strconv.FormatFloat(g.Scale, 'f', 8, 64) + " (" + held + ")"})}
	if s.Combined > 0 {
		part.Facts = append(part.Facts, fact{"Combined factor there", strconv.FormatFloat(s.Combined, 'f', 8, 64)})
	}
	for _, t := range []crs.Test{g.PlanTest, g.LevelTest} {
		if t.Sentence == "" {
			continue
		}
		class := "v o"
		switch t.Finding {
		case crs.Agrees:
			class = "v p"
		case crs.OneStands, crs.SomeStands, crs.Disagrees:
			class = "v f"
		}
		part.Words = append(part.Words, siteWord{t.Sentence, class})
	}
	if g.Foot != nil {
		part.Words = append(part.Words, siteWord{g.Foot.Sentence, "v f"})
	}
	if s.Scale != "" {
		part.Words = append(part.Words, siteWord{s.Scale, "v o"})
	}
	for _, r := range g.Residuals {
		row := siteRow{Name: r.Name, East: plusSign(decimals(r.East*1000, 1)), North: plusSign(decimals(r.North*1000, 1))}
		if r.Levelled {
			row.Level = plusSign(decimals(r.Level*1000, 1))
		}
		part.Rows = append(part.Rows, row)
	}
	return part
}
