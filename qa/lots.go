package qa

import (
	"cmp"
	"fmt"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Lot is a part of the work that is accepted or rejected by itself.
type Lot struct {
	Name, Element string
	Pos           formats.Pos
	Outline       *convert.Outline // nil = not by place
	Chainage      *job.Chainage    // nil = not by chainage
	Along         *convert.Surface // the design that chainages count on; nil = those of the shots
	Runs          []string
	Cannot        string // why no shot can be said to lie in it
}

// Holds reports whether a shot lies in the lot, its ends and edges included.
func (l *Lot) Holds(s *convert.Shot) bool {
	switch {
	case l.Cannot != "":
		return false
	case len(l.Runs) > 0 && !(job.Shots{Runs: l.Runs}).Matches("", "", "", s.Run, ""):
		return false
	case l.Chainage != nil && l.Along != nil:
		c, _, ok := l.Along.Chain(s)
		return ok && c >= l.Chainage.From.Length && c <= l.Chainage.To.Length
	case l.Chainage != nil:
		return s.Chained && s.Chainage >= l.Chainage.From.Length && s.Chainage <= l.Chainage.To.Length
	case l.Outline != nil:
		return s.Placed && l.Outline.Contains(s.Place)
	}
	return true
}

// LotResult is what one lot came to: its line in the index of lots.
type LotResult struct {
	Name     string      `json:"name"`
	Element  string      `json:"element,omitempty"`
	Verdict  Verdict     `json:"verdict"`
	Complete bool        `json:"complete"`
	Counts   Counts      `json:"counts"`
	Checks   []Counts    `json:"checks"`           // of each check of the job
	Worst    string      `json:"worst,omitempty"`  // the point that is furthest beyond its limit, and its check
	Beyond   unit.Length `json:"-"`                // how far
	Reason   string      `json:"reason,omitempty"` // why it is not complete
	Pos      formats.Pos `json:"-"`

	Acceptance []AcceptanceResult `json:"acceptance,omitempty"`     // by the rules of the job
	Accepted   int                `json:"acceptedByPlan,omitempty"` // failing points that the rules accept the lot with
}

// readLots makes the lots of the job. What is wrong with one is a problem of
// that lot: it stays in the index, and the others go on.
func (r *Run) readLots() error {
	j := r.Head.Job
	first := map[string]string{}
	for i := range j.Lots {
		l := &j.Lots[i]
		at := j.Where(fmt.Sprintf("lots[%d]", i))
		lots := []Lot{{Name: l.Name, Element: l.Element, Pos: at, Chainage: l.Chainage, Runs: l.Runs}}
		if l.Along != "" {
			lots[0].Along = r.Head.Design.Surfaces[l.Along]
			if s := lots[0].Along; s == nil || !s.Along() {
				lots[0].Cannot = fmt.Sprintf("%q is no design along an alignment that could be read", l.Along)
			}
		}
		if l.Polygon != nil {
			polygons, err := r.polygons(l.Polygon)
			if err != nil {
				return err
			}
			if l.Name == "" {
				lots = lots[:0]
			}
			for k, p := range polygons {
				lot := Lot{Name: cmp.Or(l.Name, p.name), Element: l.Element, Pos: at, Runs: l.Runs, Outline: p.outline}
				if p.err != nil {
					lot.Cannot = "its outline cannot be used: " + p.err.Error()
				}
				switch {
				case l.Name != "" && k > 0:
					lots[0].Cannot = fmt.Sprintf("%s has %d polygons for it, and a lot is one; give the name of one of them", l.Polygon.File, len(polygons))
					continue
				case l.Name != "":
					lots[0] = lot
					continue
				case lot.Name == "":
					lot.Name = fmt.Sprintf("polygon %d", k+1)
					lot.Cannot = "the polygon has no name in " + l.Polygon.File + "; a lot needs one"
				}
				lots = append(lots, lot)
			}
			if len(polygons) == 0 && l.Name == "" {
				r.problem(at, "lots", "%s has no polygon", l.Polygon.File)
			}
		}
		for k := range lots {
			if lots[k].Cannot == "" && first[lots[k].Name] != "" {
				lots[k].Cannot = "a lot of this name stands before it"
			}
			first[lots[k].Name] = lots[k].Name
			if lots[k].Cannot != "" {
				r.problem(at, "lot "+lots[k].Name, "%s", lots[k].Cannot)
			}
		}
		r.lots = append(r.lots, lots...)
	}
	r.lotIndex = newLotIndex(r.lots)
	r.lotAt = map[string]int{}
	for i := range r.lots {
		l := &r.lots[i]
		if _, there := r.lotAt[l.Name]; !there {
			r.lotAt[l.Name] = i
		}
		r.Head.Lots = append(r.Head.Lots, LotResult{Name: l.Name, Element: l.Element, Pos: l.Pos, Checks: make([]Counts, len(j.Checks)), Reason: l.Cannot})
	}
	return nil
}

// toLot tells a shot its lot: the first of the job that holds it.
func (r *Run) toLot(s *convert.Shot) {
	if len(r.lots) == 0 || s.Use != convert.Assessed && s.Use != convert.NotAssessed {
		return
	}
	s.Lot = ""
	if i := r.lotIndex.first(s); i >= 0 {
		s.Lot = r.lots[i].Name
		return
	}
	r.noLot++
}

// derivedToLot gives a result worked out of several shots the lot it is shown in,
// where its check has not: a grade that fails must not leave its lot a pass.
func (r *Run) derivedToLot(row *Row) {
	if len(r.lots) == 0 || row.Shot.Lot != "" {
		return
	}
	s := row.Shot
	if s.Run == "" {
		s.Run = row.Pipe
	}
	if i := r.lotIndex.first(&s); i >= 0 {
		row.Shot.Lot = r.lots[i].Name
	}
}

// inLot counts a row in its lot, and hands it to the rule of acceptance.
func (r *Run) inLot(row *Row) {
	r.gather(row)
	if row.Shot.Lot == "" {
		return
	}
	i, ok := r.lotAt[row.Shot.Lot]
	if !ok {
		return
	}
	l := &r.Head.Lots[i]
	counts := []*Counts{&l.Counts}
	if row.Check >= 0 {
		counts = append(counts, &l.Checks[row.Check])
	}
	for _, c := range counts {
		switch row.Verdict {
		case limits.Pass:
			c.Assessed++
			c.Pass++
		case limits.Fail:
			c.Assessed++
			c.Fail++
		default:
			c.NotAssessed++
		}
	}
	if row.Verdict == limits.Fail && row.Beyond.Abs() > l.Beyond.Abs() {
		l.Beyond = row.Beyond
		l.Worst = fmt.Sprintf("%s: %s beyond the limit by %s mm", r.Head.Checks[row.Check].Common.Name, cmp.Or(row.Shot.ID, "a point without name"), limits.PrintedBeyond(row.Beyond))
	}
}

// sumLots gives every lot its verdict, by the rule of a run.
func (r *Run) sumLots() {
	for i := range r.Head.Lots {
		l := &r.Head.Lots[i]
		rejected, open := outcome(l.Acceptance)
		l.Complete = l.Counts.Assessed > 0 && l.Counts.NotAssessed == 0 && l.Reason == "" && !open
		switch {
		case l.Counts.Fail > l.Accepted || rejected:
			l.Verdict = VerdictFail
		case !l.Complete:
			l.Verdict = VerdictIncomplete
		default:
			l.Verdict = VerdictPass
		}
		switch n := l.Counts.NotAssessed; {
		case l.Reason != "":
		case l.Counts.Assessed == 0 && n == 0:
			l.Reason = "no shot of the job lies in it"
		case n > 0:
			l.Reason = fmt.Sprintf("%d results were not assessed", n)
		}
	}
	if r.noLot > 0 {
		r.note(r.Head.Job.Where("lots"), "lots", "%d shots lie in no lot; they are judged, and count in the verdict of the job only", r.noLot)
	}
}
