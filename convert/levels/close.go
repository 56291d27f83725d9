package levels

import (
	"fmt"
	"slices"

	"sightrail/formats/unit"
)

// close judges the run. from is the height that the levels hang on.
func (b *book) close(c *chain, run *Run, heights []height, base unit.Length, from int) {
	if len(heights) > 0 {
		if path := heights[len(heights)-1].path; path.Set && c.closed {
			run.Distance = path
		}
	}
	end := b.res.Rows[c.last].Known
	closed := c.closed && c.broken == "" && end.Set && from == 0
	if closed {
		run.To = b.rows[c.last].Name
		run.Misclosure = Of(base + heights[len(heights)-1].level - end.L)
		run.Allowed = b.allowed(run.Distance, run.Setups)
	}
	disproved, unsure := "", ""
	if from >= 0 {
		disproved, unsure = b.between(c, run, heights, base, from)
	}
	for _, h := range heights {
		if why := b.twice[b.rows[h.row].Name]; c.broken == "" && why != "" {
			c.broken = why
		}
	}
	rule := b.opt.Rule
	switch {
	case c.broken != "":
		run.State, run.Why = Broken, c.broken
	case disproved != "":
		run.State, run.Why = OutOfLimit, disproved
	case from < 0:
		run.State, run.Why = Open, "no level in it is known"+b.gap(c)
	case from > 0:
		run.State, run.Why = Open, fmt.Sprintf("it begins on no known mark; its levels are worked from %s", nameOf(&b.rows[heights[from].row]))
	case !closed:
		run.State = Open
		if n := len(run.Marks); n > 0 {
			run.Why = fmt.Sprintf("the sight on %s checks it, but does not close it", run.Marks[n-1].Name)
		}
	case !rule.Given():
		run.State, run.Why = NotJudged, "no closing rule in the job"
	case rule.NeedsDistance() && !run.Distance.Set:
		run.State, run.Why = NotJudged, fmt.Sprintf("the rule %s needs the distance of every BS and FS, and some are missing or nought", rule.Text)
	case !rule.Allows(run.Misclosure.L, run.Distance.L, run.Setups):
		run.State = OutOfLimit
		if b.opt.Forced {
			b.share(run)
			run.Forced = run.Distributed != NoDistribution
		}
	case unsure != "":
		run.State, run.Why = NotJudged, unsure
	default:
		run.State = Closed
		if run.From == run.To || run.From == "" || run.To == "" {
			run.State = LoopClosed // without a name it is not known to be another mark
		}
		b.share(run)
	}
}

// share says how the misclosure of a run is distributed.
func (b *book) share(run *Run) {
	run.Distributed = b.opt.Distribute
	if run.Distributed == ByDistance && !run.Distance.Set {
		run.Distributed, run.Why = NoDistribution, "not distributed: some distances are missing"
	}
}

// gap says that a run does not go on where the one before it stopped.
func (b *book) gap(c *chain) string {
	for k := range b.chains {
		before := &b.chains[k]
		if last, first := &b.rows[before.last], &b.rows[c.first]; before.last < c.first && before.closed && !b.res.Rows[before.last].Known.Set &&
			!slices.ContainsFunc(b.rows[before.last+1:c.first], func(r Row) bool { return r.sighted() }) {
			return fmt.Sprintf("; the run before it ends on %s, and this one begins on %s", nameOf(last), nameOf(first))
		}
	}
	return ""
}

// allowed is the limit, for print, where it can be worked out.
func (b *book) allowed(distance Value, setups int) Value {
	if rule := b.opt.Rule; rule.Given() && (distance.Set || !rule.NeedsDistance()) {
		return Of(rule.Limit(distance.L, setups))
	}
	return Value{}
}

// between compares the sights on known marks between the ends of a run with
// their levels. It says which one is beyond the limit, and which cannot be
// judged.
func (b *book) between(c *chain, run *Run, heights []height, base unit.Length, from int) (disproved, unsure string) {
	rule := b.opt.Rule
	for n, h := range heights {
		known := b.res.Rows[h.row].Known
		if n == from || !known.Set || n == 0 || h.end && h.row == c.last {
			continue
		}
		m := MarkCheck{Index: h.row, Name: nameOf(&b.rows[h.row]), Difference: base + h.level - known.L}
		path, setups := h.path, h.setup+1
		if !path.Set && h.least.Set && rule.Allows(m.Difference, h.least.L, setups) {
			path = h.least // what is within the limit of a shorter way is within that of the whole
		}
		if rule.Given() && (path.Set || !rule.NeedsDistance()) {
			m.Allowed = b.allowed(path, setups)
			m.Judged, m.Within = true, rule.Allows(m.Difference, path.L, setups)
		}
		run.Marks = append(run.Marks, m)
		switch {
		case m.Judged && !m.Within && disproved == "":
			disproved = fmt.Sprintf("it hangs on a mark it disproves: the sight on %s is %s mm off its known level, beyond the limit", m.Name, m.Difference.Fixed(unit.MM, 1))
		case !m.Judged && rule.Given() && unsure == "":
			unsure = fmt.Sprintf("the sight on %s cannot be judged by the rule %s: a distance on the way to it is missing", m.Name, rule.Text)
		}
	}
	return disproved, unsure
}

// distribute shares the misclosure out: the correction of set-up k of n applies
// to its collimation, so all that was read from it gets k/n of the whole, or,
// by distance, the share of the sights to the end of the set-up.
func (b *book) distribute(c *chain, run *Run, heights []height) {
	w := -run.Misclosure.L
	c.whole, c.part = unit.Length(run.Setups), make([]unit.Length, run.Setups)
	for k := range c.part {
		c.part[k] = unit.Length(k + 1)
	}
	if run.Distributed == ByDistance {
		c.whole = run.Distance.L
		for _, h := range heights {
			if h.end {
				c.part[h.setup] = h.path.L
			}
		}
	}
	share := func(k int) unit.Length {
		if k < 0 {
			return 0
		}
		return unit.MulDiv(w, c.part[k], c.whole)
	}
	for n, h := range heights {
		if out := &b.res.Rows[h.row]; n > 0 || !c.shared {
			out.Adjusted = Of(out.Level.L + share(h.setup))
		}
	}
	for k := range c.setups[1:] {
		if out := &b.res.Rows[c.setups[k+1].at]; !out.Adjusted.Set { // second row of a change point
			out.Adjusted = Of(out.Level.L + share(k))
		}
	}
}

// share is the part of the whole at the end of set-up k, counted from 0; none
// at the first mark.
func (c *chain) share(k int) float64 {
	if k < 0 || c.whole == 0 {
		return 0
	}
	return float64(c.part[k]) / float64(c.whole)
}

// sortMistakes puts the mistakes in the order of rows.
func (b *book) sortMistakes() {
	slices.SortStableFunc(b.res.Mistakes, func(x, y Mistake) int { return x.Index - y.Index })
}
