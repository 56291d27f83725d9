package report

import (
	"fmt"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// evidenceLine is one test of an instrument in words.
type evidenceLine struct{ Name, Words, Source, State, Class string }

// evidence works the tests of the instruments out. What was not supplied is said.
func evidence(j *job.Job, u unit.Unit) []evidenceLine {
	var out []evidenceLine
	for i := range j.Instruments {
		in := &j.Instruments[i]
		if in.TwoPeg == nil && in.Rotating == nil {
			out = append(out, evidenceLine{Name: in.Name, Words: "readings of a two-peg test, or of a check of a rotating laser", State: notSupplied, Class: "v o"})
			continue
		}
		if in.TwoPeg != nil {
			if r, err := in.TwoPeg.Test().Result(); err == nil { // the job was validated
				word, class := testState(r.Judged, r.Within)
				out = append(out, evidenceLine{in.Name, r.Words(u), in.TwoPeg.Source, word, class})
			}
		}
		if in.Rotating != nil {
			if r, err := in.Rotating.Check().Result(); err == nil {
				word, class := testState(r.Judged, r.Within)
				out = append(out, evidenceLine{in.Name, r.Words(u), in.Rotating.Source, word, class})
			}
		}
	}
	return out
}

func testState(judged, within bool) (word, class string) {
	switch {
	case !judged:
		return "not judged", "v o"
	case within:
		return "within", "v p"
	}
	return "beyond", "v f"
}

// correctedShown is how many corrected readings the page lists; the others are
// counted.
const correctedShown = 500

// correctionPart is what the page says of the corrections.
type correctionPart struct {
	Words []string
	Lines []correctionLine
	More  int
}

type correctionLine struct{ Row, Point, Sight, Distance, Booked, Parts, Used string }

func (p *page) corrections() *correctionPart {
	c := p.Res.Job.Corrected()
	if !c.Given() {
		return nil
	}
	part := &correctionPart{Words: c.Words(p.Res.Frame.Unit)}
	for i := range p.Res.Books {
		b := &p.Res.Books[i]
		for k := range b.Corrected {
			if len(part.Lines) == correctedShown {
				part.More++
				continue
			}
			part.Lines = append(part.Lines, correctionOf(b, &b.Corrected[k]))
		}
	}
	return part
}

func correctionOf(b *qa.BookResult, c *convert.Corrected) correctionLine {
	row := &b.Book.Rows[c.Index]
	line := correctionLine{Row: b.Book.Pos.At(row.Row, 0).String(), Point: row.Point, Sight: c.Sight, Booked: c.Booked.Exact(b.Unit, 3), Used: c.Reading.Fixed(b.Unit, 5)}
	if c.Distance.Set {
		line.Distance = c.Distance.L.Exact(unit.M, 1) + " m"
	}
	for _, item := range c.Items.Each() {
		if item.Value.Set {
			if line.Parts != "" {
				line.Parts += ", "
			}
			line.Parts += item.Name + " " + plusSign(item.Value.L.Fixed(unit.MM, 2))
		}
	}
	return line
}

// reciprocals are the lines levelled from both ends.
func (p *page) reciprocals() []fact {
	var out []fact
	for i := range p.Res.Job.Levelling.Reciprocal {
		r := &p.Res.Job.Levelling.Reciprocal[i]
		res, err := r.Levelled().Result()
		if err != nil {
			continue // the job was validated
		}
		out = append(out, fact{r.From + " to " + r.To, reciprocalWords(&res, p.Res.Frame.Unit)})
	}
	return out
}

func reciprocalWords(r *levels.ReciprocalResult, u unit.Unit) string {
	s := fmt.Sprintf("difference %s %s, from the two ends %s and %s; error of the long sight %s mm", plusSign(r.True.Fixed(u, 4)), u.Name,
		plusSign(r.FromA.Exact(u, 3)), plusSign(r.FromB.Exact(u, 3)), plusSign(r.Error.Fixed(unit.MM, 1)))
	if r.Drop.Set {
		s += fmt.Sprintf(", of which %s mm is curvature and refraction and %s mm collimation", plusSign(r.Drop.L.Fixed(unit.MM, 1)), plusSign(r.Collimation.L.Fixed(unit.MM, 1)))
	}
	return s
}
