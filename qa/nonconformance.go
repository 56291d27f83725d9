package qa

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// MaxPassing is how many shots that pass are kept, to close entries and to part
// patches of pipes. Beyond it no entry is closed, and the run says so.
const MaxPassing = 1_000_000

// ahead is what is known of a run before its rows are told.
type ahead struct {
	failures []*failing
	old      []*Row // superseded ones that failed
	oldCount int
	passes   map[job.Date]map[patchKey][]unit.Length // along pipes
	closers  map[patchKey][]closer
	kept     int
	tooMany  bool
}

// nonconformances reads the whole run ahead, makes the patches day by day and
// carries the register on.
func (r *Run) nonconformances() error {
	j := r.Head.Job
	shadow, err := r.shadow()
	if err != nil {
		return err
	}
	a := &ahead{passes: map[job.Date]map[patchKey][]unit.Length{}, closers: map[patchKey][]closer{}}
	first := r.firstDay()
	if err := shadow.pass(newCollector(&shadow.Head, func(rows []Row) error { a.take(j, rows, first); return nil }), nil); err != nil {
		return err
	}
	if r.rework != nil { // the older shots pass by once more
		for i := range r.rework.shots {
			r.rework.shots[i].replaced = ""
		}
	}
	at := j.Where("nonconformance")
	shadow.accept()
	current, accepted := make([]*failing, len(shadow.Head.Failures)), 0
	for i := range shadow.Head.Failures {
		row := &shadow.Head.Failures[i]
		if shadow.Head.AcceptedBy(row) != nil {
			accepted++
			continue
		}
		current[i] = failingOf(row, dayOf(j, row))
		a.failures = append(a.failures, current[i])
	}
	if accepted > 0 {
		r.note(at, "nonconformance", "%s out of tolerance in lots that a rule of the job accepts; they are no nonconformances, and have no number", count(accepted, "result is", "results are"))
	}
	for _, row := range a.old {
		a.failures = append(a.failures, failingOf(row, dayOf(j, row)))
	}
	g := r.Head.Register
	switch {
	case shadow.Head.FailureCount > MaxKept || a.oldCount > MaxKept:
		g.tooMany = fmt.Sprintf("not closed: the run has more failures than the %d that patches are made of", MaxKept)
		r.note(at, "nonconformance", "patches are made of the first %d of %d failures; the others have no number, and no entry of the register is closed", MaxKept, shadow.Head.FailureCount+a.oldCount)
	case a.tooMany:
		g.tooMany = fmt.Sprintf("not closed: the run has more than the %d passing shots that are kept for it", MaxPassing)
		r.note(at, "nonconformance", "more than %d shots pass that might close an entry or part a patch of a pipe, more than are kept: no entry of the register is closed, and along pipes only the spacing parts patches", MaxPassing)
		a.passes = nil
	}
	r.byDays(a)
	r.traces = &traces{}
	for _, f := range current {
		if f == nil {
			r.traces.failed = append(r.traces.failed, nil)
		} else {
			r.traces.failed = append(r.traces.failed, f.mark)
		}
	}
	for _, f := range a.failures[len(a.failures)-len(a.old):] {
		r.traces.old = append(r.traces.old, f.mark)
	}
	return nil
}

// firstDay is the first day that something may have failed on: shots of later days
// may close an entry.
func (r *Run) firstDay() job.Date {
	days := []job.Date{}
	for i := range r.Head.Job.Surveys {
		days = append(days, r.Head.Job.DayOf(i))
	}
	for _, e := range r.Head.Register.Entries {
		if e.Open() {
			days = append(days, e.opened)
		}
	}
	days = slices.DeleteFunc(days, func(d job.Date) bool { return d == "" })
	if len(days) == 0 {
		return ""
	}
	return slices.Min(days)
}

// dayOf is the day of a row: that of the file it is shown at.
func dayOf(j *job.Job, row *Row) job.Date {
	i := row.Shot.Survey
	if i >= len(j.Surveys) || j.Surveys[i].File != row.Shot.Pos.File {
		i = slices.IndexFunc(j.Surveys, func(s job.Survey) bool { return s.File == row.Shot.Pos.File })
	}
	return j.DayOf(i)
}

func (a *ahead) take(j *job.Job, rows []Row, first job.Date) {
	for i := range rows {
		row := &rows[i]
		if row.Check < 0 {
			continue
		}
		v, until := row.Verdict, job.Date("")
		if row.Shot.Use == convert.Superseded && row.Trace != nil {
			v, until = row.Trace.Verdict, row.Trace.until
		}
		switch {
		case v == limits.Fail && until != "":
			if a.oldCount++; len(a.old) < MaxKept {
				d := row.detached()
				a.old = append(a.old, &d)
			}
		case v == limits.Pass:
			a.passed(row, dayOf(j, row), until, first)
		}
	}
}

func (a *ahead) passed(row *Row, day, until, first job.Date) {
	later := day > first && first != ""
	if !row.OnPipe && !later {
		return
	}
	if a.kept++; a.kept > MaxPassing {
		a.tooMany = true
		return
	}
	key, at := keyOf(row, 0)
	key.line = strings.Clone(key.line)
	if row.OnPipe {
		if a.passes[day] == nil {
			a.passes[day] = map[patchKey][]unit.Length{}
		}
		a.passes[day][key] = append(a.passes[day][key], at.E)
	}
	if later {
		a.closers[key] = append(a.closers[key], closer{key, at, day, until, row.Shot.Pos.File})
	}
}

// byDays makes the patches of each day in turn, gives them to the entries that
// stand on it or opens new ones, and closes what the shots until then close.
func (r *Run) byDays(a *ahead) {
	g := r.Head.Register
	days := map[job.Date]bool{}
	byDay := map[job.Date][]*failing{}
	for _, f := range a.failures {
		days[f.day] = true
		byDay[f.day] = append(byDay[f.day], f)
	}
	for _, list := range a.closers {
		for _, c := range list {
			days[c.day] = true
		}
	}
	for _, p := range a.passes {
		for _, list := range p {
			slices.Sort(list)
		}
	}
	why := map[*Entry]string{}
	for _, day := range slices.Sorted(maps.Keys(days)) {
		stood := len(g.Entries)
		for _, p := range patchesOf(byDay[day], a.passes[day], g.spacing.Length) {
			r.number(p, stood)
			g.Patches = append(g.Patches, p)
		}
		for _, e := range g.Entries {
			if e.Open() && e.known && e.opened <= day {
				why[e] = g.close(e, day, a.closers)
			}
		}
	}
	for _, e := range g.Entries {
		r.settle(e, why[e])
	}
	for _, p := range g.Patches {
		status := ""
		for _, e := range g.Entries {
			if e.cells[ColNumber] == p.Number {
				status = e.cells[ColStatus]
			}
		}
		for _, f := range p.shots {
			f.mark = &Trace{Number: p.Number, Status: status}
		}
	}
}

// number gives a patch its number: that of an entry which stood before the day, for
// patches of one day are not one another's; else a new one.
func (r *Run) number(p *Patch, stood int) {
	g := r.Head.Register
	list, same := g.entriesOf(p, g.Entries[:stood])
	if len(list) == 0 {
		list, same = []*Entry{g.open(p, r.Head.Checks)}, true
	}
	p.Number = list[0].cells[ColNumber]
	for _, e := range list {
		g.take(e, p, same)
		for _, o := range list {
			if n := o.cells[ColNumber]; o != e && !slices.Contains(e.with, n) {
				e.with = append(e.with, n)
			}
		}
	}
}

// settle writes how an entry stands at the end of the run, and notes what is odd.
func (r *Run) settle(e *Entry, why string) {
	g := r.Head.Register
	at, n := r.Head.Job.Where(cmp.Or(map[bool]string{true: "register"}[r.Head.Job.Register != ""], "nonconformance")), e.cells[ColNumber]
	live := 0
	for _, f := range e.shots {
		if f.until == "" && (e.Open() || e.closed == "" || f.day < e.closed) {
			live++
		}
	}
	switch {
	case !e.known:
		r.note(at, "register", "%s is of the check %q, which this job does not have; the entry is carried on as it is", n, e.cells[ColCheck])
	case e.Open():
		e.cells[ColStanding] = g.standing(e, cmp.Or(why, "no newer shot"))
	case why != "":
		e.cells[ColStanding] = g.joined(e, why)
	case live > 0:
		r.note(at, "register", "%s is closed in the register, and %s of it still out of tolerance in this run; the results stay as they are", n, count(live, "shot is", "shots are"))
	}
	if e.other {
		r.note(at, "register", "%s: the failures of %s are not those that it was opened for; its first description is kept, and what was found now is added to its outline", n, e.opened)
	}
	if len(e.with) > 0 {
		r.note(at, "register", "%s is one patch with %s now; both numbers stay", n, strings.Join(e.with, ", "))
	}
	for _, day := range slices.Sorted(maps.Keys(e.places)) {
		if k := e.places[day]; k > 1 {
			r.note(at, "register", "%s lies in %d places on %s; they keep its number, and it is closed when all of them are", n, k, cmp.Or(string(day), "an unknown day"))
		}
	}
}
