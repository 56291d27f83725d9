package qa

import (
	"cmp"
	"fmt"
	"maps"
	"math/bits"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// MaxReshots is how many shots of later rounds are kept, to know what older shots
// they take the place of. Beyond it none takes the place of any, and the run says
// so.
const MaxReshots = 500_000

// Trace is what a row has to do with rework, the register and concessions. The
// verdict of the row is not touched by any of it.
type Trace struct {
	Number, Status string // of the register
	Conceded       string // "conceded by A. Patel on 2026-03-09: ..."
	Supersedes     string // the older shots that it took the place of, with their results
	SupersededBy   string // the newer shot, with its result

	// The own result of a superseded row, as it was judged.
	Verdict      limits.Verdict
	Compared     bool
	Diff, Beyond unit.Length
	Action       string

	until   job.Date // the day from which it is superseded
	by      int32    // index of the newer shot
	control bool     // the newer shot is control of its check
}

// Seen is one result of a round.
type Seen struct {
	Day     job.Date
	Round   int // 0 = not stated
	Point   string
	Pos     formats.Pos
	Verdict limits.Verdict
	Result  string // "fail +22"
}

// Round is a shot that a newer one took the place of, and that one.
type Round struct {
	Check    int
	Old, New Seen
}

// reshot is a shot of a later round that its check judges, or that is control of it.
type reshot struct {
	staffed  string
	code     string // of control
	control  bool
	check    int
	at       convert.Place // chainage and offset where it has no place
	run      string        // of a shot that has no place
	placed   bool
	chained  bool
	seen     Seen
	replaced string // the older shots, once they have passed by
}

// rework knows the later rounds, and what they take the place of.
type rework struct {
	job    *job.Job
	rule   *job.Rework
	shots  []reshot
	byName map[nameKey][]int32
	byCell map[cellKey][]int32
	byPos  map[posKey]int32
	head   *Result // where rounds are listed; nil in a rehearsal
}

type nameKey struct {
	check int
	name  string
}

type cellKey struct {
	check int
	run   string
	e, n  int64
}

type posKey struct {
	check int
	pos   formats.Pos
}

// shadow is the run once more from its beginning, with measurers and counts of
// its own, to see what will come.
func (r *Run) shadow() (*Run, error) {
	s := *r
	h := &s.Head
	h.Problems, h.Notes, h.Account = nil, nil, Account{}
	h.Checks = slices.Clone(h.Checks)
	h.Lots = slices.Clone(h.Lots)
	for i := range h.Lots {
		h.Lots[i].Checks = slices.Clone(h.Lots[i].Checks)
	}
	s.checks, s.traces, s.acceptors = nil, nil, nil
	s.startAcceptance()
	for i, c := range r.checks {
		x := &running{kind: c.kind, common: c.common, surveys: c.surveys, outlines: c.outlines, cannot: c.cannot, zones: c.zones}
		if c.measurer != nil {
			var err error
			set := &Setting{Design: r.Head.Design, Frame: &r.Head.Frame, Area: c.outlines, Lots: r.lots, Zones: c.zones, PlanWorth: r.planWorth()}
			if x.measurer, err = c.kind.Start(r.Head.Job.Checks[i].Params, set); err != nil {
				return nil, err
			}
		}
		s.checks = append(s.checks, x)
	}
	return &s, nil
}

// rehearse reads ahead where the job asks for rework or patches: first the later
// rounds, to know which older shots they take the place of; then everything, to
// know the patches before the first row is told.
func (r *Run) rehearse() error {
	j := r.Head.Job
	if j.Rework != nil {
		if err := r.laterRounds(); err != nil {
			return err
		}
	}
	if j.Nonconformance != nil {
		if err := r.nonconformances(); err != nil {
			return err
		}
	}
	if r.rework != nil {
		r.rework.head = &r.Head
	}
	return r.concede()
}

// laterRounds judges the shots of all dated surveys but those of the first day.
func (r *Run) laterRounds() error {
	j := r.Head.Job
	only, any, first := make([]bool, len(j.Surveys)), false, job.Date("")
	days := map[job.Date][]string{}
	var without, together []string
	for i := range j.Surveys {
		s := &j.Surveys[i]
		switch {
		case s.Date == "":
			without = append(without, s.File)
			continue
		case first == "":
			first = s.Date // they are in the order of their days
		case s.Date > first:
			only[i], any = true, true
		}
		days[s.Date] = append(days[s.Date], s.File)
	}
	for _, d := range slices.Sorted(maps.Keys(days)) {
		if len(days[d]) > 1 {
			together = append(together, strings.Join(days[d], ", ")+" ("+string(d)+")")
		}
	}
	if len(without) > 0 {
		r.note(j.Where("rework"), "rework", "surveys without a date: %s; none of their shots takes the place of another, and none is replaced", strings.Join(without, ", "))
	}
	if len(together) > 0 {
		r.note(j.Where("rework"), "rework", "surveys of one day: %s; no shot takes the place of another of its own day", strings.Join(together, "; "))
	}
	if !any {
		r.note(j.Where("rework"), "rework", "there is no survey of a later day: no shot takes the place of another")
		return nil
	}
	w := &rework{job: j, rule: j.Rework, byName: map[nameKey][]int32{}, byCell: map[cellKey][]int32{}, byPos: map[posKey]int32{}}
	shadow, err := r.shadow()
	if err != nil {
		return err
	}
	tooMany := false
	err = shadow.pass(newCollector(&shadow.Head, func(rows []Row) error {
		for i := range rows {
			if row := &rows[i]; row.Check >= 0 && !row.Derived && (row.Verdict != limits.NotAssessed || row.Shot.Use == convert.Control) {
				if tooMany = tooMany || len(w.shots) == MaxReshots; tooMany {
					return nil
				}
				w.add(row)
			}
		}
		return nil
	}), only)
	if err != nil {
		return err
	}
	if tooMany {
		r.problem(j.Where("rework"), "rework", "the later rounds have more than %d judged shots, more than are kept: no shot takes the place of another; make a job of each part of the work", MaxReshots)
		return nil
	}
	r.rework = w
	return nil
}

// cell is the size of the cells that shots are looked up in.
func (w *rework) cell() unit.Length { return max(w.rule.Within.Length, unit.Millimetre) }

func (w *rework) add(row *Row) {
	s, k := &row.Shot, int32(len(w.shots))
	x := reshot{check: row.Check, staffed: strings.Clone(s.Staffed), control: s.Use == convert.Control, placed: s.Placed, chained: s.Chained && !s.Placed, at: s.Place, seen: w.seen(row, row.Verdict, row.Diff, row.Compared)}
	if x.control {
		x.code = strings.Clone(s.Code)
	}
	if x.chained {
		x.at, x.run = convert.Place{E: s.Chainage, N: s.Offset}, strings.Clone(s.Run)
	}
	w.shots = append(w.shots, x)
	if w.rule.ByName && s.ID != "" {
		key := nameKey{row.Check, x.seen.Point}
		w.byName[key] = append(w.byName[key], k)
	}
	if w.rule.Within != nil && (x.placed || x.chained) {
		key := w.cellOf(row.Check, x.run, x.at)
		w.byCell[key] = append(w.byCell[key], k)
	}
	w.byPos[posKey{row.Check, s.Pos}] = k
}

func (w *rework) cellOf(check int, run string, at convert.Place) cellKey {
	c := int64(w.cell())
	return cellKey{check, run, floorDiv(int64(at.E), c), floorDiv(int64(at.N), c)}
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

// seen puts a result in words.
func (w *rework) seen(row *Row, v limits.Verdict, diff unit.Length, compared bool) Seen {
	s := &w.job.Surveys[row.Shot.Survey]
	out := Seen{Day: s.Date, Round: s.Round, Point: strings.Clone(row.Shot.ID), Pos: row.Shot.Pos, Verdict: v, Result: v.String()}
	if v == limits.NotAssessed {
		out.Result = convert.Control.String() // what is not assessed takes no part in rework
	}
	if compared {
		out.Result += " " + row.Limits.Printed(diff)
	}
	return out
}

// supersede sets a shot aside that a newer one of its check takes the place of; the
// staff stood on the same for both, and what a result rests on has the code of the
// older one.
func (w *rework) supersede(s *convert.Shot, row *Row) {
	day := w.job.Surveys[s.Survey].Date
	if s.Use != convert.Assessed || day == "" {
		return
	}
	best, until := int32(-1), job.Date("")
	var near [2]uint64
	consider := func(k int32) {
		x := &w.shots[k]
		if x.seen.Day <= day || x.staffed != s.Staffed || x.control && x.code != s.Code || w.rule.ByName && (s.ID == "" || x.seen.Point != s.ID) {
			return
		}
		var d [2]uint64
		if w.rule.Within != nil {
			at := s.Place
			switch {
			case s.Placed && x.placed:
			case !s.Placed && s.Chained && x.chained && s.Run == x.run:
				at = convert.Place{E: s.Chainage, N: s.Offset}
			default:
				return
			}
			if d = square(at, x.at); further(d, w.rule.Within.Length) {
				return
			}
		}
		if until == "" || x.seen.Day < until {
			until = x.seen.Day
		}
		if best >= 0 {
			b := &w.shots[best]
			if cmp.Or(cmp.Compare(b.seen.Day, x.seen.Day), compare128(d, near), cmp.Compare(x.seen.Point, b.seen.Point), cmp.Compare(k, best)) >= 0 {
				return
			}
		}
		best, near = k, d
	}
	switch {
	case w.rule.ByName:
		for _, k := range w.byName[nameKey{row.Check, s.ID}] {
			consider(k)
		}
	case s.Placed || s.Chained:
		at, run := s.Place, ""
		if !s.Placed {
			at, run = convert.Place{E: s.Chainage, N: s.Offset}, s.Run
		}
		c := w.cellOf(row.Check, run, at)
		for e := c.e - 1; e <= c.e+1; e++ {
			for n := c.n - 1; n <= c.n+1; n++ {
				for _, k := range w.byCell[cellKey{c.check, c.run, e, n}] {
					consider(k)
				}
			}
		}
	}
	if best < 0 {
		return
	}
	x := &w.shots[best]
	by := fmt.Sprintf("%s of %s (%s)", cmp.Or(x.seen.Point, "a shot without name"), x.seen.Day, x.seen.Pos)
	s.Use, s.Reason = convert.Superseded, fmt.Sprintf("superseded by %s: %s", by, x.seen.Result)
	row.Shot.Use, row.Trace = convert.Superseded, &Trace{SupersededBy: by + ": " + x.seen.Result, until: until, by: best, control: x.control}
}

// keepRaw keeps the own result of a superseded row, which is then shown and not
// judged. It reports whether the row is to be cleared: one that could not have
// been judged is not superseded, and keeps its reason; nor is one that was judged
// where the newer shot is not.
func (r *Row) keepRaw() bool {
	if r.Shot.Use != convert.Superseded {
		return true
	}
	t := r.Trace
	switch judged := r.Verdict != limits.NotAssessed; {
	case !judged && !t.control:
		r.Shot.Use, r.Trace = convert.NotAssessed, nil
		return false
	case judged && t.control:
		r.Shot.Use, r.Trace = convert.Assessed, nil
		return false
	}
	t.Verdict, t.Compared, t.Diff, t.Beyond, t.Action = r.Verdict, r.Compared, r.Diff, r.Beyond, r.Action
	return true
}

// told takes note of a row as it is told, and reports whether it is superseded.
func (w *rework) told(row *Row) bool {
	if row.Shot.Use != convert.Superseded {
		if k, ok := w.byPos[posKey{row.Check, row.Shot.Pos}]; ok && w.shots[k].replaced != "" {
			row.Trace = &Trace{Supersedes: w.shots[k].replaced}
		}
		return false
	}
	t := row.Trace
	x := &w.shots[t.by]
	old := w.seen(row, t.Verdict, t.Diff, t.Compared)
	row.Reason = "its own result was " + old.Result + "; " + row.Reason
	said := fmt.Sprintf("%s of %s: %s", cmp.Or(old.Point, "a shot without name"), old.Day, old.Result)
	if len(x.replaced) < maxReplaced {
		if x.replaced != "" {
			said = "; " + said
		}
		x.replaced += said
	}
	if w.head != nil {
		w.head.RoundCount++
		if len(w.head.Rounds) < MaxKept {
			w.head.Rounds = append(w.head.Rounds, Round{Check: row.Check, Old: old, New: x.seen})
		}
	}
	return true
}

// maxReplaced is how long the list of what one shot took the place of may grow.
const maxReplaced = 400

// square is the square of the distance of two places, in 128 bits. Places are
// within ±2,342 km, so that a difference fits into 64 bits without sign; the
// square of what is further than MaxLength is held there.
func square(a, b convert.Place) [2]uint64 {
	apart := func(x, y unit.Length) uint64 {
		if x < y {
			x, y = y, x
		}
		return min(uint64(x)-uint64(y), uint64(unit.MaxLength))
	}
	e, n := apart(a.E, b.E), apart(a.N, b.N)
	h1, l1 := bits.Mul64(e, e)
	h2, l2 := bits.Mul64(n, n)
	lo, c := bits.Add64(l1, l2, 0)
	hi, _ := bits.Add64(h1, h2, c)
	return [2]uint64{hi, lo}
}

// further reports whether a square is that of more than a distance, exactly.
func further(sq [2]uint64, d unit.Length) bool {
	hi, lo := bits.Mul64(uint64(d), uint64(d))
	return compare128(sq, [2]uint64{hi, lo}) > 0
}

func compare128(a, b [2]uint64) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) }
