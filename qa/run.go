package qa

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Each runs the checks over every shot of the job, in the order of the surveys
// and of their rows, and hands the rows to sink as they come; the slice is
// reused. Rows worked out of several shots follow at the end. It returns the
// final result.
func (r *Run) Each(sink func([]Row) error) (*Result, error) {
	if err := r.zoneLines(); err != nil {
		return nil, err
	}
	if err := r.rehearse(); err != nil {
		return nil, err
	}
	if err := r.pass(&collector{res: &r.Head, sink: sink, traces: r.traces}, nil); err != nil {
		return nil, err
	}
	r.unused()
	r.sum()
	return &r.Head, nil
}

// pass lets the shots pass by the checks, those of the surveys in only where it is
// not nil.
func (r *Run) pass(out *collector, only []bool) error {
	for i := range r.Head.Job.Surveys {
		s := &r.Head.Job.Surveys[i]
		if only != nil && !only[i] {
			continue
		}
		if b := r.books[i]; b != nil {
			r.join(b.shots)
			if err := r.batch(i, s, b.shots, out); err != nil {
				return err
			}
			continue
		}
		if err := r.points(i, s, out); err != nil {
			return err
		}
	}
	for i, c := range r.checks {
		if c.measurer == nil {
			continue
		}
		rows, remarks := c.measurer.Finish()
		c.remarks = remarks
		if f, ok := c.measurer.(Figurer); ok {
			r.Head.Checks[i].Figures = f.Figures()
		}
		c.decide(rows)
		for k := range rows {
			rows[k].Check, rows[k].Derived = i, true
			c.tally.add(&rows[k])
			r.derivedToLot(&rows[k])
			r.inLot(&rows[k])
		}
		if err := out.take(rows); err != nil {
			return err
		}
	}
	return nil
}

// join gives book shots the places of their names.
func (r *Run) join(shots []convert.Shot) {
	for i := range shots {
		if s := &shots[i]; s.Use == convert.Assessed || s.Use == convert.NotAssessed {
			r.places.Join(s)
		}
	}
}

// points passes a point file by, batch after batch.
func (r *Run) points(i int, s *job.Survey, out *collector) error {
	reader := convert.PointReader{Frame: &r.Head.Frame, Unit: r.units[i], Survey: i, Worth: pointWorth(s), Laser: s.Kind == "laser"}
	opt := s.Reading.Options(formats.PointContent)
	opt.Points = func(at formats.Pos, batch []formats.Point) error {
		shots := reader.Shots(at, batch)
		for k := range shots {
			shot := &shots[k]
			switch {
			case shot.Use == convert.Blank:
			case s.Kind == "laser" && r.marks[shot.ID] == nil && r.untrue[i] == "":
				r.levelOnPlane(s, shot)
			case r.marks[shot.ID] != nil:
				shot.Use, shot.Reason = convert.Control, "check shot on a known mark"
			case r.untrue[i] != "":
				shot.Use, shot.Reason = convert.NotAssessed, r.untrue[i]
			default:
				if !shot.Placed {
					r.places.Join(shot)
				}
			}
		}
		return r.batch(i, s, shots, out)
	}
	_, _, err := r.files.Decode(s.File, opt)
	return err
}

// batch sends shots to the checks that select them, and their rows on.
func (r *Run) batch(survey int, s *job.Survey, shots []convert.Shot, out *collector) error {
	for _, c := range r.checks {
		c.shots, c.rows, c.at = c.shots[:0], c.rows[:0], c.at[:0]
	}
	for i := range shots {
		shot := &shots[i]
		r.ready(s, shot)
		r.toLot(shot)
		if shot.Use != convert.Assessed && shot.Use != convert.NotAssessed {
			continue
		}
		for k, c := range r.checks {
			if c.selects(survey, s.File, shot) {
				c.shots = append(c.shots, *shot)
				c.rows = append(c.rows, Row{Check: k, Shot: *shot})
				c.at = append(c.at, i)
				if n := len(c.rows) - 1; r.rework != nil {
					r.rework.supersede(&c.shots[n], &c.rows[n])
				}
			}
		}
	}
	for _, c := range r.checks {
		c.measure()
	}
	// rows of a shot follow each other, shots in file order
	next := make([]int, len(r.checks))
	rows := out.rows[:0]
	for i := range shots {
		use, any, judged, rested := shots[i].Use, false, false, false
		for k, c := range r.checks {
			if n := next[k]; n < len(c.at) && c.at[n] == i {
				row := &c.rows[n]
				next[k]++
				if row.Shot.Use == convert.Control { // what is worked out rests on it
					rows, any, rested = append(rows, *row), true, true
					continue
				}
				if r.rework != nil && r.rework.told(row) {
					rows, any = append(rows, *row), true
					continue
				}
				judged = true
				if row.Verdict == limits.NotAssessed {
					row.Shot.Use = convert.NotAssessed
					use = convert.NotAssessed
				}
				c.tally.add(row)
				r.inLot(row)
				rows, any = append(rows, *row), true
			}
		}
		if !any {
			row := Row{Check: -1, Shot: shots[i], Reason: shots[i].Reason}
			if zone := r.givesLine(s, &shots[i]); zone != "" && use == convert.Assessed {
				use = convert.Control
				row.Shot.Use, row.Reason = use, "it gives the line of the zone "+zone+", and no check judges it"
			}
			if use == convert.Assessed || use == convert.NotAssessed {
				use = convert.NotAssessed
				row.Shot.Use = use
				if row.Reason == "" {
					row.Reason = "no check of the job selects it"
				}
				r.inLot(&row)
			}
			rows = append(rows, row)
		}
		switch { // of no check that judges it
		case !any || judged:
		case rested:
			use = convert.Control
		default:
			use = convert.Superseded
		}
		r.Head.Account.count(use)
	}
	out.rows = rows
	return out.take(rows)
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

// measure has the check measure what it selected. A shot that arrived not
// assessed keeps its reason; a check that cannot work says why at every row.
func (c *running) measure() {
	if len(c.shots) == 0 {
		return
	}
	if c.measurer == nil {
		for i := range c.rows {
			c.rows[i].Reason = c.cannot
		}
		return
	}
	c.measurer.Batch(c.shots, c.rows)
	c.compare()
	for i := range c.rows {
		if c.rows[i].Compared {
			if !c.rows[i].Quantity.InPlan() {
				c.rows[i].U, c.rows[i].HasU = c.shots[i].Worth.Uncertainty()
			}
			c.decide(c.rows[i : i+1])
		}
		if l := c.shots[i].Laser; l != nil && c.rows[i].Reason == "" && l.Turned.Abs() >= unit.Millimetre/10 {
			c.rows[i].Reason = "by its sight mark the laser is turned, and its plane here is off by " + l.Turned.Fixed(unit.MM, 1) + " mm; not corrected"
		}
		if c.shots[i].Use != convert.Assessed && c.rows[i].keepRaw() {
			c.rows[i].Verdict, c.rows[i].Action, c.rows[i].Beyond = limits.NotAssessed, "", 0
			c.rows[i].HasU, c.rows[i].Decided = false, ""
			c.rows[i].Compared = false // a difference of a level that is not proved would be taken as judged
			c.rows[i].Reason = c.shots[i].Reason
		}
	}
}

// compare measures the shots against the other revision as well.
func (c *running) compare() {
	if c.former == nil {
		return
	}
	c.again = c.again[:0]
	for i := range c.shots {
		c.again = append(c.again, Row{Check: c.rows[i].Check, Shot: c.shots[i]})
	}
	c.former.Batch(c.shots, c.again)
	for i := range c.again {
		if c.shots[i].Use == convert.Assessed && c.again[i].Shot.Use != convert.Control {
			c.fit.add(&c.again[i])
		}
	}
}

// count adds a row to the account.
func (a *Account) count(u convert.Use) {
	a.Read++
	switch u {
	case convert.Assessed:
		a.Assessed++
	case convert.Control:
		a.Control++
	case convert.Superseded:
		a.Superseded++
	case convert.Excluded:
		a.Excluded++
	case convert.Blank:
		a.Blank++
	default:
		a.NotAssessed++
	}
}

// Balances reports whether every row read is in the account once.
func (a Account) Balances() bool {
	return a.Read == a.Assessed+a.Control+a.Superseded+a.Excluded+a.NotAssessed+a.Blank
}

// sum adds the verdicts up.
func (r *Run) sum() {
	h := &r.Head
	r.accept()
	r.sumLots()
	formats.SortProblems(h.Problems)
	formats.SortProblems(h.Notes)
	failed, open, assessed := false, false, 0
	for i, c := range r.checks {
		res := &h.Checks[i]
		res.Counts, res.Stats, res.Histogram, res.Remarks = c.tally.counts, c.tally.stats(), c.tally.histogram(), c.remarks
		if c.former != nil {
			res.Former = &FormerFit{Revision: r.formerOf(c.common.Design), Counts: c.fit.counts, Stats: c.fit.stats()}
		}
		if res.Counts.Assessed == 0 {
			open = true
			why := "nothing was assessed"
			if c.cannot != "" {
				why += ": " + c.cannot
			} else if res.Counts.NotAssessed == 0 {
				why += ": no shot of the job is selected by this check"
			}
			res.Remarks = append(res.Remarks, why)
		}
		_, undecided := outcome(res.Acceptance)
		failed = failed || res.Verdict() == VerdictFail
		open = open || undecided || res.Counts.NotAssessed > 0
		assessed += res.Counts.Assessed
	}
	for i := range h.Lots {
		// where lots are accepted by a rule, one without any result is not
		open = open || len(r.acceptors) > 0 && h.Lots[i].Counts == (Counts{})
	}
	h.Complete = !open && h.Account.NotAssessed == 0 && len(h.Problems) == 0 && assessed > 0
	switch {
	case failed:
		h.Verdict = VerdictFail
	case !h.Complete:
		h.Verdict = VerdictIncomplete
	default:
		h.Verdict = VerdictPass
	}
}

// formerOf is the name of the other revision of a design.
func (r *Run) formerOf(design string) string {
	for i := range r.Head.Job.Designs {
		if d := &r.Head.Job.Designs[i]; d.Name == design && d.Former != nil {
			return d.Former.Revision
		}
	}
	return ""
}

// ExitCode is 0 when everything was read, assessed and within tolerance, 1 when
// something is out of tolerance, 2 when something was not read or assessed,
// also beside failures.
func (res *Result) ExitCode() int {
	switch {
	case !res.Complete:
		return 2
	case res.Verdict == VerdictFail:
		return 1
	case res.Verdict == VerdictPass:
		return 0
	}
	return 2
}

// collector keeps what page and workbook need and passes every row on.
type collector struct {
	res    *Result
	sink   func([]Row) error
	rows   []Row
	traces *traces // what rows have to do with the register; nil = nothing
}

// detached is a row with texts of its own: a text of a point is a part of the
// block of the file it was read from, and would keep that whole block.
func (r *Row) detached() Row {
	d := *r
	for _, t := range []*string{&d.Shot.ID, &d.Shot.Code, &d.Shot.Layer, &d.Shot.Run, &d.Shot.Staffed, &d.Shot.Time} {
		*t = strings.Clone(*t)
	}
	return d
}

func (c *collector) take(rows []Row) error {
	for i := range rows {
		c.res.RowCount++
		c.traces.mark(&rows[i], c.res)
		if len(c.res.Rows) < MaxRows {
			c.res.Rows = append(c.res.Rows, rows[i].detached())
		}
		if rows[i].Verdict == limits.Fail {
			c.res.FailureCount++
			if len(c.res.Failures) < MaxKept {
				c.res.Failures = append(c.res.Failures, rows[i].detached())
			}
		}
	}
	if len(rows) == 0 {
		return nil
	}
	if err := c.sink(rows); err != nil {
		return fmt.Errorf("writing results: %w", err)
	}
	return nil
}
