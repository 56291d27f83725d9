package levels

import "sightrail/formats/unit"

// Section is the levelled way from one junction to the next, over the change
// points between: what a network is made of. A sight on a junction that is no
// change point is none: it shares its set-up with the line.
type Section struct {
	From, To    string
	Run         int         // index into Result.Runs
	First, Last int         // rows
	Diff        unit.Length // level of To minus level of From, exact
	Setups      int
	Distance    Value // sum of the sights, where all are measured
}

// Loose is a part of a run that lies between no two junctions.
type Loose struct {
	Run         int
	First, Last int // rows
	Why         string
}

// Sections cuts the runs at the junctions: points of that name join what was
// levelled to them, in any run. Whether a name is a junction is for the job to
// say; a change point of the same name in two books may be two pegs.
func (r *Result) Sections(junction func(name string) bool) (sections []Section, loose []Loose) {
	if r.book == nil {
		return nil, nil
	}
	rows := r.book.rows
	var heights []height
	var collimation []unit.Length
	for k := range r.book.chains {
		c := &r.book.chains[k]
		if c.broken != "" {
			loose = append(loose, Loose{k, c.first, c.last, c.broken})
			continue
		}
		var err error
		heights, collimation, err = byCollimation(c, heights[:0], collimation[:0])
		if err != nil {
			continue // the chain is broken for it
		}
		is := func(h *height) bool { return rows[h.row].Name != "" && junction(rows[h.row].Name) }
		from, at := heights[0], is(&heights[0])
		for i := 1; i < len(heights); i++ {
			h := heights[i]
			if !h.end || !is(&h) {
				continue
			}
			if !at {
				loose = append(loose, Loose{k, from.row, h.row, "it begins on " + nameOf(&rows[from.row]) + ", which is no junction"})
			} else {
				s := Section{From: rows[from.row].Name, To: rows[h.row].Name, Run: k, First: from.row, Last: h.row, Diff: h.level - from.level, Setups: h.setup - from.setup}
				if from.path.Set && h.path.Set {
					s.Distance = Of(h.path.L - from.path.L)
				}
				sections = append(sections, s)
			}
			from, at = h, true
		}
		if from.row != c.last || !at {
			why := "it ends on " + nameOf(&rows[c.last]) + ", which is no junction"
			if !at {
				why = "no point of it is a junction"
			}
			loose = append(loose, Loose{k, from.row, c.last, why})
		}
	}
	return sections, loose
}
