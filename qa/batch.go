package qa

import (
	"slices"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// batch sends shots to the checks that select them, and their rows on: rows of a
// shot follow each other, shots in file order. A row is made once, where it is
// told from; checks measure it there.
func (r *Run) batch(survey int, s *job.Survey, shots []convert.Shot, out *collector) error {
	rows := r.selectRows(survey, s, shots, out.sink.Room())
	for _, c := range r.checks {
		if len(c.at) > 0 {
			c.measure(r.rework, shots, rows)
		}
	}
	for i := range shots {
		r.Head.Account.count(r.tellShot(shots[i].Use, rows[r.begin[i]:r.begin[i+1]]))
	}
	return out.take(rows)
}

// selectRows appends the rows of shots, not measured; r.begin is where those of
// each shot begin, running.at and running.of which are of a check, and their shots.
func (r *Run) selectRows(survey int, s *job.Survey, shots []convert.Shot, rows []Row) []Row {
	for _, c := range r.checks {
		c.at, c.of = c.at[:0], c.of[:0]
	}
	r.begin = r.begin[:0]
	for i := range shots {
		shot := &shots[i]
		r.ready(s, shot)
		r.toLot(shot)
		r.begin = append(r.begin, len(rows))
		if shot.Use == convert.Assessed || shot.Use == convert.NotAssessed {
			for k, c := range r.checks {
				if c.selects(survey, s.File, shot) {
					c.at, c.of = append(c.at, len(rows)), append(c.of, i)
					rows = appendRow(rows, k, shot)
				}
			}
		}
		if r.begin[i] == len(rows) {
			rows = appendRow(rows, -1, shot)
			r.unselected(s, &rows[len(rows)-1])
		}
	}
	r.begin = append(r.begin, len(rows))
	return rows
}

// appendRow appends the row of a check for a shot, written once.
func appendRow(rows []Row, check int, shot *convert.Shot) []Row {
	if len(rows) < cap(rows) {
		rows = rows[:len(rows)+1]
		rows[len(rows)-1] = Row{}
	} else {
		rows = append(rows, Row{})
	}
	row := &rows[len(rows)-1]
	row.Check, row.Shot = check, *shot
	return rows
}

// unselected says of the row of a shot that no check takes what it is.
func (r *Run) unselected(s *job.Survey, row *Row) {
	row.Reason = row.Shot.Reason
	if zone := r.givesLine(s, &row.Shot); zone != "" && row.Shot.Use == convert.Assessed {
		row.Shot.Use, row.Reason = convert.Control, "it gives the line of the zone "+zone+", and no check judges it"
	}
	if row.Shot.Use == convert.Assessed || row.Shot.Use == convert.NotAssessed {
		row.Shot.Use = convert.NotAssessed
		if row.Reason == "" {
			row.Reason = "no check of the job selects it"
		}
		r.inLot(row)
	}
}

// tellShot counts the measured rows of one shot, and returns what became of it.
func (r *Run) tellShot(use convert.Use, rows []Row) convert.Use {
	if rows[0].Check < 0 {
		return rows[0].Shot.Use
	}
	judged, rested := false, false
	for i := range rows {
		row := &rows[i]
		if row.Shot.Use == convert.Control { // what is worked out rests on it
			rested = true
			continue
		}
		if r.rework != nil && r.rework.told(row) {
			continue
		}
		judged = true
		if row.Verdict == limits.NotAssessed {
			row.Shot.Use = convert.NotAssessed
			use = convert.NotAssessed
		}
		r.checks[row.Check].tally.add(row)
		r.inLot(row)
	}
	switch { // of no check that judges it
	case judged:
	case rested:
		use = convert.Control
	default:
		use = convert.Superseded
	}
	return use
}

// ready applies the rules of the survey to a shot: exclusions, and what was
// staffed.
func (r *Run) ready(s *job.Survey, shot *convert.Shot) {
	if shot.Use == convert.Assessed || shot.Use == convert.NotAssessed {
		for i := range s.Exclude {
			x := &s.Exclude[i]
			if (job.Shots{Names: x.Names, Codes: x.Codes}).Matches(shot.ID, shot.Code, shot.Layer, shot.Run, s.File) {
				shot.Use, shot.Reason = convert.Excluded, x.Reason
				return
			}
		}
	}
	if shot.Staffed == "" {
		if w, ok := s.ByCode[shot.Code]; ok && shot.Code != "" {
			shot.Staffed = string(w)
		} else {
			shot.Staffed = string(s.Staffed)
		}
	}
}

func (c *running) selects(survey int, file string, shot *convert.Shot) bool {
	sel := &c.common.Shots
	if c.surveys != nil && !c.surveys[survey] {
		return false
	}
	if !sel.Matches(shot.ID, shot.Code, shot.Layer, shot.Run, file) {
		return false
	}
	if ch := sel.Chainage; ch != nil && (!shot.Chained || shot.Chainage < ch.From.Length || shot.Chainage > ch.To.Length) {
		return false
	}
	if len(c.outlines) == 0 {
		return true
	}
	return shot.Placed && slices.ContainsFunc(c.outlines, func(o *convert.Outline) bool { return o.Contains(shot.Place) })
}

// measure has the check measure what it selected: where it lies, when that is in
// one piece, else in a copy. Shots that a newer one takes the place of are set
// aside in a copy too.
func (c *running) measure(w *rework, shots []convert.Shot, rows []Row) {
	n := len(c.at)
	if w == nil && c.at[n-1]-c.at[0] == n-1 && c.of[n-1]-c.of[0] == n-1 {
		c.measured(shots[c.of[0]:c.of[0]+n], rows[c.at[0]:c.at[0]+n])
		return
	}
	c.shots, c.rows = c.shots[:0], c.rows[:0]
	for k, at := range c.at {
		c.shots, c.rows = append(c.shots, shots[c.of[k]]), append(c.rows, rows[at])
		if w != nil {
			w.supersede(&c.shots[k], &c.rows[k])
		}
	}
	c.measured(c.shots, c.rows)
	for k, at := range c.at {
		rows[at] = c.rows[k]
	}
}

// measured measures. A shot that arrived not assessed keeps its reason; a check
// that cannot work says why at every row.
func (c *running) measured(shots []convert.Shot, rows []Row) {
	if c.measurer == nil {
		for i := range rows {
			rows[i].Reason = c.cannot
		}
		return
	}
	c.measurer.Batch(shots, rows)
	c.compare(shots, rows)
	for i := range rows {
		row, shot := &rows[i], &shots[i]
		if row.Compared {
			// what lies below a layer is no exact design, and its worth is not known here
			if !row.Quantity.InPlan() && row.Quantity != QuantityThickness {
				row.U, row.HasU = shot.Worth.Uncertainty()
			}
			c.decide(rows[i : i+1])
		}
		if l := shot.Laser; l != nil && row.Reason == "" && l.Turned.Abs() >= unit.Millimetre/10 {
			row.Reason = "by its sight mark the laser is turned, and its plane here is off by " + l.Turned.Fixed(unit.MM, 1) + " mm; not corrected"
		}
		if shot.Use != convert.Assessed && row.keepRaw() {
			row.Verdict, row.Action, row.Beyond = limits.NotAssessed, "", 0
			row.HasU, row.Decided = false, ""
			row.Compared = false // a difference of a level that is not proved would be taken as judged
			row.Reason = shot.Reason
		}
	}
}

// compare measures the shots against the other revision as well.
func (c *running) compare(shots []convert.Shot, rows []Row) {
	if c.former == nil {
		return
	}
	c.again = c.again[:0]
	for i := range shots {
		c.again = append(c.again, Row{Check: rows[i].Check, Shot: shots[i]})
	}
	c.former.Batch(shots, c.again)
	for i := range c.again {
		if shots[i].Use == convert.Assessed && c.again[i].Shot.Use != convert.Control {
			c.fit.add(&c.again[i])
		}
	}
}
