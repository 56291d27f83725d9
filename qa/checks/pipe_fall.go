package checks

import (
	"fmt"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// defaultBase is the length that the least grade is judged over where the job
// states none. Common practice, no published source.
const defaultBase = 10 * unit.Metre

// grade judges the fall between the shots nearest to the two ends.
func (m *pipeMeasurer) grade(i int) (r qa.Row, built bool) {
	p := &m.network.Pipes[i]
	last := &m.on[i][len(m.on[i])-1]
	r = qa.Row{Quantity: qa.QuantityGrade, Pipe: p.Name, DesignGrade: p.Grade(), DesignAt: "pipe " + p.Name,
		Shot: convert.Shot{ID: p.Name, Pos: last.shot.Pos, Place: last.shot.Place, Placed: last.shot.Placed, Lot: last.shot.Lot}}
	us, ds, why := m.ends(i)
	if why != "" {
		r.Reason = why
		return r, false
	}
	m.judgeFall(&r, us, ds)
	r.Reason = "from " + us.shot.ID + " to " + ds.shot.ID
	r.Note = m.exchanged(i, us, ds)
	return r, true
}

// exchanged tells of a pipe whose built ends fit the design only when they are
// exchanged. It changes no verdict.
func (m *pipeMeasurer) exchanged(i int, us, ds *onPipe) string {
	p, tol := &m.network.Pipes[i], &m.pitTolerance[i]
	fits := func(l, design unit.Length) bool {
		v, _ := tol.Judge(l - design)
		return tol.why == "" && v == limits.Pass
	}
	if fits(us.invert, p.USInvert) || fits(ds.invert, p.DSInvert) || !fits(us.invert, p.DSInvert) || !fits(ds.invert, p.USInvert) {
		return ""
	}
	return fmt.Sprintf("the two ends fit the design when they are exchanged: were %s and %s taken for each other, or does the chainage count from the other end?", us.shot.ID, ds.shot.ID)
}

// judgeFall fills in the fall between two shots, and judges it by the least grade.
func (m *pipeMeasurer) judgeFall(r *qa.Row, us, ds *onPipe) {
	r.Grade = unit.Grade{Rise: us.invert - ds.invert, Run: ds.along - us.along}
	r.U, r.HasU = us.shot.Worth.UncertaintyTo(ds.shot.Worth)
	if least := m.params.LeastGrade; least != nil {
		r.Limits.Source = m.params.GradeSource
		r.LeastGrade = least.Grade
		r.Verdict = limits.LeastGrade(r.Grade.Rise, r.Grade.Run, least.Grade)
		r.Beyond = limits.Shortfall(r.Grade.Rise, r.Grade.Run, least.Grade)
	}
}

// falls judges the fall over the stated base: from every shot to the first one at
// least a base downstream, and to every shot from the last one at least a base
// upstream. The two ends of the pipe are the grade of the pipe, and not told twice.
func (m *pipeMeasurer) falls(i int) (rows []qa.Row) {
	on := m.on[i]
	fall := func(a, b int) {
		if a == 0 && b == len(on)-1 {
			if us, ds, why := m.ends(i); why == "" && us == &on[a] && ds == &on[b] {
				return
			}
		}
		r := m.row(qa.QuantityFall, i, &on[b])
		r.DesignGrade, r.DesignAt = m.network.Pipes[i].Grade(), "pipe "+m.network.Pipes[i].Name
		m.judgeFall(&r, &on[a], &on[b])
		r.Reason = fmt.Sprintf("from %s to %s, %s", on[a].shot.ID, on[b].shot.ID, inUnit(m.frame, r.Grade.Run))
		rows = append(rows, r)
	}
	up := 0 // how many shots lie a base or more upstream of b
	for b := range on {
		before := up
		for ; up < b && on[b].along-on[up].along >= m.base; up++ {
			fall(up, b) // b is the first one for it
		}
		if up == before && up > 0 {
			fall(up-1, b)
		}
	}
	return rows
}

// backfalls compares every shot with the one upstream of it, and appends the rows.
func (m *pipeMeasurer) backfalls(rows []qa.Row, i int) []qa.Row {
	on := m.on[i]
	for k := 1; k < len(on); k++ {
		up, down := &on[k-1], &on[k]
		if up.along == down.along {
			continue // two shots at one place have no upstream
		}
		rows = append(rows, m.row(qa.QuantityBackfall, i, down))
		r := &rows[len(rows)-1]
		r.Limits, r.Design, r.Measured = m.backfall, up.invert, down.invert
		r.Diff, r.Compared, r.DesignAt = down.invert-up.invert, true, "shot "+up.shot.ID+" upstream, "+up.shot.Pos.String()
		r.U, r.HasU = up.shot.Worth.UncertaintyTo(down.shot.Worth)
		r.Verdict, r.Beyond = m.backfall.Judge(r.Diff)
		switch {
		case r.Verdict == limits.Fail:
			r.Reason = fmt.Sprintf("backfall: %s is %s mm higher than %s, which is upstream of it", down.shot.ID, m.backfall.Printed(r.Diff), up.shot.ID)
			r.Action = m.backfall.PipeAction(r.Diff)
		case r.Diff == 0:
			r.Reason = fmt.Sprintf("flat: level with %s upstream of it", up.shot.ID)
		default:
			r.Reason = "from " + up.shot.ID
		}
	}
	return rows
}
