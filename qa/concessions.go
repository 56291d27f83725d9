package qa

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/qa/limits"
)

// traces is what rows have to do with register and concessions, by their order in
// the run: the same in the rehearsal and when they are told.
type traces struct {
	failed, old []*Trace // of failures, and of superseded ones that failed
	failures    int
	replaced    int
	byPoint     map[nameKey]int // concessions of points, by check
	byNumber    map[string]int  // concessions of numbers
	words       []string        // of the concessions
	used        []bool
}

// mark gives a row its number, and says what was conceded. The verdict stays as it
// is.
func (t *traces) mark(row *Row, res *Result) {
	if t == nil {
		return
	}
	var m *Trace
	failed := row.Verdict == limits.Fail
	switch {
	case failed:
		if t.failures < len(t.failed) {
			m = t.failed[t.failures]
		}
		t.failures++
	case row.Shot.Use == convert.Superseded && row.Trace != nil && row.Trace.Verdict == limits.Fail:
		if t.replaced < len(t.old) {
			m = t.old[t.replaced]
		}
		t.replaced++
	default:
		return
	}
	var words []string
	add := func(i int, ok bool) {
		if ok {
			t.used[i] = true
			words = append(words, t.words[i])
		}
	}
	if m != nil {
		i, ok := t.byNumber[m.Number]
		add(i, ok)
	}
	if failed {
		i, ok := t.byPoint[nameKey{row.Check, row.Shot.ID}]
		add(i, ok)
	}
	if m == nil && len(words) == 0 {
		return
	}
	if row.Trace == nil {
		row.Trace = &Trace{}
	}
	if m != nil {
		row.Trace.Number, row.Trace.Status = m.Number, m.Status
	}
	row.Trace.Conceded = strings.Join(words, "; ")
	if failed && len(words) > 0 {
		res.Conceded++
	}
}

// concede looks up what the concessions of the job are for.
func (r *Run) concede() error {
	j := r.Head.Job
	if len(j.Concessions) == 0 {
		return nil
	}
	if r.traces == nil {
		r.traces = &traces{}
	}
	t := r.traces
	t.byPoint, t.byNumber = map[nameKey]int{}, map[string]int{}
	t.used = make([]bool, len(j.Concessions))
	for i := range j.Concessions {
		c := &j.Concessions[i]
		t.words = append(t.words, c.Words())
		if c.Number != "" {
			t.byNumber[c.Number] = i
			r.concedeNumber(i)
			continue
		}
		for k := range r.Head.Checks {
			if r.Head.Checks[k].Common.Name == c.Check {
				t.byPoint[nameKey{k, c.Point}] = i
			}
		}
		r.concedePoint(i)
	}
	return nil
}

// concedeNumber writes a concession into its entry of the register.
func (r *Run) concedeNumber(i int) {
	c := &r.Head.Job.Concessions[i]
	g := r.Head.Register
	k := slices.IndexFunc(g.Entries, func(e *Entry) bool { return e.cells[ColNumber] == c.Number })
	if k < 0 {
		r.problem(r.Head.Job.Where(fmt.Sprintf("concessions[%d].number", i)), "concessions", "the register of this run has no %s, so the concession of %s is for nothing; correct the number", c.Number, c.By)
		r.traces.used[i] = true
		return
	}
	g.Entries[k].concede(c.Words())
	r.traces.used[i] = true
}

// concedePoint writes a concession into the entries that the point belongs to.
func (r *Run) concedePoint(i int) {
	c := &r.Head.Job.Concessions[i]
	g := r.Head.Register
	if g == nil {
		return
	}
	for _, e := range g.Entries {
		if e.cells[ColCheck] == c.Check && slices.ContainsFunc(e.shots, func(f *failing) bool { return f.until == "" && f.row.Shot.ID == c.Point }) {
			e.concede(c.Point + " " + c.Words())
		}
	}
}

// concede adds a concession to an entry, once.
func (e *Entry) concede(words string) {
	old := e.cells[ColConcession]
	switch {
	case strings.Contains(old, words):
	case old == "":
		e.cells[ColConcession] = words
	default:
		e.cells[ColConcession] = old + "; " + words
	}
}

// unused says which concessions were for nothing in the run.
func (r *Run) unused() {
	if r.traces == nil {
		return
	}
	for i, used := range r.traces.used {
		if c := &r.Head.Job.Concessions[i]; !used {
			r.problem(r.Head.Job.Where(fmt.Sprintf("concessions[%d]", i)), "concessions", "no result of %q at %s is out of tolerance in this run, so the concession of %s is for nothing; correct the point, or take it out", c.Check, c.Point, c.By)
		}
	}
}
