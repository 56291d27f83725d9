package levels

import (
	"fmt"

	"sightrail/formats/unit"
)

// Reduce reduces a book. Every run is reduced from the known level of its own
// first mark; where only a later mark of it is known, backwards from that one.
// A row with a known level on which the book closes ends one run, and begins
// the next when the book goes on from it.
func Reduce(rows []Row, opt Options) *Result {
	b := &book{rows: rows, opt: opt, res: &Result{Rows: make([]Reduced, len(rows))}}
	for i := range b.res.Rows {
		b.res.Rows[i] = Reduced{Index: i, Run: -1}
	}
	b.split()
	for k := range b.spans {
		b.run(k)
	}
	b.sums()
	b.verify()
	return b.res
}

// span is a run before it has levels: rows first to last, with what is wrong.
type span struct {
	first, last int
	broken      string
	sideShot    map[int]bool // FS rows that are side shots
}

type book struct {
	rows  []Row
	opt   Options
	spans []span
	res   *Result
	setup int
	moves unit.Length // sum of last minus first of all runs
}

func (r *Row) reading() bool { return r.BS.Set || r.IS.Set || r.FS.Set }

func (b *book) mistake(i int, field, format string, args ...any) string {
	m := Mistake{Index: i, Field: field, Text: fmt.Sprintf(format, args...)}
	b.res.Mistakes = append(b.res.Mistakes, m)
	return m.Text
}

// next finds the next row with a reading after i, or -1.
func (b *book) next(i int) int {
	for j := i + 1; j < len(b.rows); j++ {
		if b.rows[j].reading() {
			return j
		}
	}
	return -1
}

// split cuts the book into runs and names what is missing.
func (b *book) split() {
	var cur *span
	end := func(last int) {
		if cur != nil {
			cur.last = last
			b.spans = append(b.spans, *cur)
			cur = nil
		}
	}
	begin := func(i int) { cur = &span{first: i, last: i, sideShot: map[int]bool{}} }
	breakRun := func(why string) {
		if cur != nil && cur.broken == "" {
			cur.broken = why
		}
	}
	last := -1
	joined := -1 // a BS row that continues the change point of the row before
	for i := range b.rows {
		r := &b.rows[i]
		if !r.reading() {
			continue
		}
		if r.IS.Set && (r.BS.Set || r.FS.Set) {
			if cur == nil {
				begin(i)
			}
			breakRun(b.mistake(i, "IS", "an intermediate sight beside a BS or FS in one row; one row is one place of the staff, so one of them is in the wrong column"))
			last = i
			continue
		}
		switch {
		case r.BS.Set && r.FS.Set:
			switch {
			case cur == nil:
				begin(i)
				breakRun(b.mistake(i, "FS", "a foresight before any backsight; the run must begin with a BS on a known mark"))
			case r.Known.Set:
				end(i)
				begin(i)
			}
		case r.BS.Set:
			if joined == i {
				break
			}
			if cur != nil {
				breakRun(b.mistake(i, "FS", "a new backsight without a foresight before it; the FS to %s is missing", nameOf(r)))
				end(last)
			}
			begin(i)
		case r.IS.Set:
			if cur == nil {
				begin(i)
				breakRun(b.mistake(i, "BS", "an intermediate sight before any backsight; the BS of its set-up is missing"))
			}
		case r.FS.Set:
			if cur == nil {
				begin(i)
				breakRun(b.mistake(i, "BS", "a foresight before any backsight; the BS of its set-up is missing"))
				break
			}
			j := b.next(i)
			switch {
			case j < 0:
				end(i)
			case b.rows[j].BS.Set && !b.rows[j].FS.Set && !b.rows[j].IS.Set:
				if same := b.rows[j].Name == r.Name && r.Name != ""; same && !r.Known.Set && !b.rows[j].Known.Set {
					joined = j
				} else {
					end(i)
				}
			case b.opt.SideShotsFS:
				cur.sideShot[i] = true
			default:
				cur.sideShot[i] = true
				breakRun(b.mistake(i, "BS", "the change point %s has a foresight and no backsight; book the BS, or declare \"sideShots: fs\" if a FS without BS is a side shot", nameOf(r)))
			}
		}
		last = i
	}
	if cur != nil {
		breakRun(b.mistake(last, "FS", "the run ends without a foresight; its last reading must be a FS, on a known mark to close it"))
		end(last)
	}
}

func nameOf(r *Row) string {
	if r.Name == "" {
		return "this point"
	}
	return r.Name
}

// run works out one run: levels by height of collimation and, apart from it,
// by rise and fall; then closing and distribution.
func (b *book) run(k int) {
	s := &b.spans[k]
	run := Run{First: s.first, Last: s.last, From: b.rows[s.first].Name}
	rel := b.collimation(k, s, &run)
	base, at, found := b.base(s, rel)
	if found {
		for i := s.first; i <= s.last; i++ {
			if r := &b.res.Rows[i]; r.Run == k && rel[i-s.first].Set {
				r.Level = Of(base + rel[i-s.first].L)
				if r.Collimation.Set {
					r.Collimation.L += base
				}
			}
		}
		// the mark that a closed run began on keeps its own value
		b.startOf(k, s, base, rel)
	} else {
		for i := s.first; i <= s.last; i++ {
			b.res.Rows[i].Collimation = Value{}
		}
	}
	b.close(s, &run, base, at, found, rel)
	b.res.Runs = append(b.res.Runs, run)
	if run.Distributed != NoDistribution {
		b.distribute(k, &run)
	}
}

// startOf gives the first row of a run its level when the row is shared with
// the run before: the row keeps the level that closed that run, the new
// collimation is the known level plus BS.
func (b *book) startOf(k int, s *span, base unit.Length, rel []Value) {
	r := &b.res.Rows[s.first]
	if r.Run == k {
		return
	}
	r.Collimation = Of(base + rel[0].L + b.rows[s.first].BS.L)
}

// collimation walks the run from a first level of zero. Levels are relative to
// it; the row shared with the run before stays that run's.
func (b *book) collimation(k int, s *span, run *Run) []Value {
	rel := make([]Value, s.last-s.first+1)
	var hpc, prev, byFall unit.Length // byFall: level by rise and fall alone
	setup := 0
	have := false
	dist, all := unit.Length(0), true
	agree := true
	for i := s.first; i <= s.last; i++ {
		in, out := &b.rows[i], &b.res.Rows[i]
		if !in.reading() {
			continue
		}
		shared := i == s.first && out.Run >= 0
		if !shared {
			out.Run, out.Role = k, b.role(in, s, i)
		}
		if i == s.first && in.BS.Set && (shared || !in.FS.Set || s.broken != "") {
			// begins the run: nothing before it
			rel[0] = Of(0)
		} else if reading := sight(in); have && reading.Set {
			level := hpc - reading.L
			change := prev - reading.L
			byFall += change
			agree = agree && byFall == level
			rel[i-s.first] = Of(level)
			if !shared {
				out.Setup = b.setup
				if change >= 0 {
					out.Rise = Of(change)
				} else {
					out.Fall = Of(-change)
				}
			}
			prev = reading.L
			if in.FS.Set && !s.sideShot[i] {
				dist, all = dist+in.DistFS.L, all && in.DistFS.Set
			}
		}
		if in.BS.Set && rel[i-s.first].Set || in.BS.Set && i > s.first && rel[i-s.first-1].Set && b.rows[i-1].Name == in.Name {
			if !rel[i-s.first].Set { // change point over two rows: the BS row has the level of the FS row
				rel[i-s.first] = rel[i-s.first-1]
			}
			hpc = rel[i-s.first].L + in.BS.L
			prev, have = in.BS.L, true
			setup++
			b.setup++
			if out.Setup == 0 {
				out.Setup = b.setup
			}
			out.Collimation = Of(hpc)
			dist, all = dist+in.DistBS.L, all && in.DistBS.Set
		}
	}
	run.Setups = setup
	if all && setup > 0 {
		run.Distance = Of(dist)
	}
	if !agree {
		b.mistake(s.first, "", "internal: the two ways of reduction disagree")
	}
	return rel
}

// sight is the reading that gives a row its level.
func sight(r *Row) Value {
	if r.IS.Set {
		return r.IS
	}
	return r.FS
}

func (b *book) role(r *Row, s *span, i int) Role {
	switch {
	case r.Known.Set:
		return Mark
	case r.BS.Set:
		return ChangePoint
	case r.FS.Set && !s.sideShot[i] && i != s.last:
		return ChangePoint // the FS row of a change point over two rows
	}
	return Shot
}

// base finds what to add to relative levels: from the first known row.
func (b *book) base(s *span, rel []Value) (base unit.Length, at int, ok bool) {
	for i := s.first; i <= s.last; i++ {
		if b.rows[i].Known.Set && rel[i-s.first].Set {
			return b.rows[i].Known.L - rel[i-s.first].L, i, true
		}
	}
	return 0, 0, false
}

// close judges the run.
func (b *book) close(s *span, run *Run, base unit.Length, at int, found bool, rel []Value) {
	end := &b.rows[s.last]
	closedOn := end.Known.Set && end.FS.Set && at != s.last && rel[s.last-s.first].Set
	if found && rel[s.last-s.first].Set && rel[0].Set {
		b.moves += rel[s.last-s.first].L - rel[0].L
	}
	if closedOn {
		run.To = end.Name
		run.Misclosure = Of(base + rel[s.last-s.first].L - end.Known.L)
	}
	rule := b.opt.Rule
	if closedOn && rule.Given() && (run.Distance.Set || !rule.NeedsDistance()) {
		run.Allowed = Of(rule.Limit(run.Distance.L, run.Setups))
	}
	switch {
	case s.broken != "":
		run.State, run.Why = Broken, s.broken
		return
	case !found:
		run.State, run.Why = Open, "no level in it is known"
		return
	}
	if why := b.marksInside(s, run, base, at, rel); why != "" {
		run.State, run.Why = OutOfLimit, why
		return
	}
	switch {
	case !closedOn:
		run.State = Open
		if at != s.first {
			run.Why = fmt.Sprintf("only %s is known; levels are worked backwards from it", nameOf(&b.rows[at]))
		}
	case !rule.Given():
		run.State, run.Why = NotJudged, "there is no closing rule to judge it by"
	case rule.NeedsDistance() && !run.Distance.Set:
		run.State, run.Why = NotJudged, fmt.Sprintf("the rule %s needs the distance of every BS and FS, and some are missing", rule.Text)
	case !rule.Allows(run.Misclosure.L, run.Distance.L, run.Setups):
		run.State = OutOfLimit
	default:
		run.State = Closed
		if end.Name == b.rows[at].Name {
			run.State = LoopClosed
		}
		run.Distributed = b.distribution(run)
	}
}

func (b *book) distribution(run *Run) Distribution {
	if b.opt.Distribute == ByDistance && !run.Distance.Set {
		run.Why = "not distributed: some distances are missing"
		return NoDistribution
	}
	return b.opt.Distribute
}

// marksInside compares readings on known marks between the ends of a run. A run
// that disproves the mark it hangs on is outside its limit.
func (b *book) marksInside(s *span, run *Run, base unit.Length, at int, rel []Value) string {
	why := ""
	for i := s.first; i < s.last; i++ {
		in := &b.rows[i]
		if i == at || !in.Known.Set || !in.IS.Set || !rel[i-s.first].Set {
			continue
		}
		d := base + rel[i-s.first].L - in.Known.L
		run.Marks = append(run.Marks, MarkCheck{Index: i, Name: in.Name, Difference: d})
		rule := b.opt.Rule
		if why == "" && rule.Given() && (run.Distance.Set || !rule.NeedsDistance()) && !rule.Allows(d, run.Distance.L, run.Setups) {
			why = fmt.Sprintf("the sight on %s is off its known level by %s mm, beyond the limit", in.Name, d.Fixed(unit.MM, 1))
		}
	}
	return why
}

// distribute shares the misclosure out: the correction of set-up k applies to
// its collimation, so all that was read from it gets k/n of the whole, or its
// share by distance.
func (b *book) distribute(k int, run *Run) {
	w := -run.Misclosure.L
	var done, sights unit.Length
	share := func(setup int) unit.Length {
		if run.Distributed == ByDistance {
			return unit.MulDiv(w, done, run.Distance.L)
		}
		return unit.MulDiv(w, unit.Length(setup), unit.Length(run.Setups))
	}
	// sights of set-up j, in order, for the share by distance
	byDistance := make([]unit.Length, run.Setups+1)
	j := 0
	for i := run.First; i <= run.Last; i++ {
		in := &b.rows[i]
		if in.FS.Set && i > run.First && in.DistFS.Set {
			byDistance[j] += in.DistFS.L
		}
		if in.BS.Set && j < run.Setups {
			j++
			byDistance[j] += in.DistBS.L
		}
	}
	j = 0
	for i := run.First; i <= run.Last; i++ {
		in, out := &b.rows[i], &b.res.Rows[i]
		if out.Run == k && out.Level.Set {
			if i == run.First {
				out.Adjusted = out.Level
			} else {
				out.Adjusted = Of(out.Level.L + share(j))
			}
		}
		if in.BS.Set {
			j++
			if j <= run.Setups {
				sights += byDistance[j]
				done = sights
			}
		}
	}
}

// sums adds the columns of the book. Side shots in the FS column are not part
// of the chain and stay out of ΣFS.
func (b *book) sums() {
	side := map[int]bool{}
	for i := range b.spans {
		for k := range b.spans[i].sideShot {
			side[k] = true
		}
	}
	sum := &b.res.Sums
	for i := range b.rows {
		if r := &b.rows[i]; r.BS.Set {
			sum.BS += r.BS.L
		}
		if r := &b.rows[i]; r.FS.Set && !side[i] {
			sum.FS += r.FS.L
		}
		sum.Rise += b.res.Rows[i].Rise.L
		sum.Fall += b.res.Rows[i].Fall.L
	}
	b.res.FirstToLast = Value{Set: len(b.spans) > 0 && len(b.res.Mistakes) == 0, L: b.moves}
	for i := range b.res.Runs {
		if b.res.Runs[i].State == Open && b.res.Runs[i].Why == "no level in it is known" {
			b.res.FirstToLast.Set = false
		}
	}
	b.res.ArithmeticOK = b.res.FirstToLast.Set && sum.BS-sum.FS == sum.Rise-sum.Fall && sum.BS-sum.FS == b.moves
}

// verify compares what was booked with what was worked out. Of every column
// the first row that differs is named, and how many more do.
func (b *book) verify() {
	type column struct {
		name  string
		first int
		text  string
		more  int
	}
	cols := []*column{{name: "rise", first: -1}, {name: "fall", first: -1}, {name: "collimation", first: -1}, {name: "level", first: -1}}
	compare := func(c *column, i int, booked, worked Value) {
		if !booked.Set {
			return
		}
		b.res.BookedAny = true
		if worked.Set && (booked.L-worked.L).Abs() <= b.opt.BookedWithin || !worked.Set && booked.L == 0 && c.name != "level" {
			return
		}
		if c.first >= 0 {
			c.more++
			return
		}
		c.first = i
		if worked.Set {
			c.text = fmt.Sprintf("booked %s, worked out %s: %s mm too %s", b.print(booked.L), b.print(worked.L), (booked.L-worked.L).Abs().Fixed(unit.MM, 1), higher(booked.L > worked.L))
		} else {
			c.text = fmt.Sprintf("booked %s where the readings give no %s", b.print(booked.L), c.name)
		}
	}
	collimation := Value{}
	for i := range b.rows {
		in, out := &b.rows[i], &b.res.Rows[i]
		if out.Collimation.Set {
			collimation = out.Collimation
		}
		compare(cols[0], i, in.Booked.Rise, out.Rise)
		compare(cols[1], i, in.Booked.Fall, out.Fall)
		if in.reading() {
			compare(cols[2], i, in.Booked.Collimation, collimation)
			if in.KnownFrom != "from the book" {
				compare(cols[3], i, in.Booked.Level, b.levelShown(i))
			}
		}
	}
	for _, c := range cols {
		if c.first < 0 {
			continue
		}
		if c.more > 0 {
			c.text += fmt.Sprintf("; %d more rows of this column differ", c.more)
		}
		b.res.BookedDiffers = append(b.res.BookedDiffers, Mistake{Index: c.first, Field: c.name, Text: c.text})
	}
}

// levelShown is the level a book would show in a row: a mark that the run
// begins on has its known level.
func (b *book) levelShown(i int) Value {
	if v := b.res.Rows[i].Level; v.Set {
		return v
	}
	return b.rows[i].Known
}

func higher(yes bool) string {
	if yes {
		return "high"
	}
	return "low"
}

// print writes a level of a message in metres with at least three decimals.
func (b *book) print(l unit.Length) string {
	u := b.opt.Unit
	if !u.Known() {
		u = unit.M
	}
	return l.Exact(u, 3)
}

// ThreeWire returns the mean of three wires, rounded to one count, and the two
// half intervals, which should agree.
func ThreeWire(upper, middle, lower unit.Length) (mean, upperHalf, lowerHalf unit.Length) {
	return unit.MulDiv(upper+middle+lower, 1, 3), upper - middle, middle - lower
}

// StadiaDistance is the length of a sight from its outer wires: interval times
// the stadia constant.
func StadiaDistance(upper, lower unit.Length, constant int64) unit.Length {
	return (upper - lower).Abs() * unit.Length(constant)
}
