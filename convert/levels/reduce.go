package levels

import (
	"fmt"

	"sightrail/formats/unit"
)

// Reduce reduces a book. Every run is reduced from the known level of its own
// first mark; where only a later mark of it is known, backwards from that one.
// The rows are not changed.
func Reduce(rows []Row, opt Options) *Result {
	b := &book{rows: rows, opt: opt, side: map[int]bool{}, res: &Result{Rows: make([]Reduced, len(rows))}}
	b.res.book = b
	b.marks()
	b.split()
	for k := range b.chains {
		b.run(k)
	}
	b.total()
	b.verify()
	b.sortMistakes()
	return b.res
}

// book is a reduction under way.
type book struct {
	rows   []Row
	opt    Options
	byName map[string]int // mark: first row that gives its level
	twice  map[string]string
	chains []chain
	side   map[int]bool // FS rows that are side shots
	rest   map[int]bool // rows after what broke their chain
	setup  int          // set-ups so far
	booked bool         // a row has something booked
	sights int          // rows with an IS or FS, and
	stands int          // with a BS
	res    *Result

	// of the run at hand
	heights     []height
	collimation []unit.Length
	changes     []change
}

func (b *book) mistake(i int, field, format string, args ...any) string {
	m := Mistake{Index: i, Field: field, Text: fmt.Sprintf(format, args...)}
	b.res.Mistakes = append(b.res.Mistakes, m)
	return m.Text
}

// marks gives every row the known level of its mark, and names marks that are
// given two. It counts what there is on the way.
func (b *book) marks() {
	b.byName, b.twice = map[string]int{}, map[string]string{}
	for i := range b.rows {
		r, out := &b.rows[i], &b.res.Rows[i]
		out.Index, out.Run = i, -1
		b.booked = b.booked || r.Booked != nil
		if r.BS.Set {
			b.stands++
		}
		if r.IS.Set || r.FS.Set {
			b.sights++
		}
		if !r.Known.Set {
			continue
		}
		if r.Known.L.Abs() > MaxLevel {
			b.mistake(i, "known", "a known level of %s m is on no ground; check the number and the unit of the book", r.Known.L.Fixed(unit.M, 0))
			continue
		}
		if out.Known = r.Known; r.Name == "" {
			continue
		}
		j, seen := b.byName[r.Name]
		if !seen {
			b.byName[r.Name] = i
		} else if first := b.rows[j].Known.L; first != r.Known.L && b.twice[r.Name] == "" {
			b.twice[r.Name] = b.mistake(i, "known", "%s is %s here and %s in an earlier row; one mark has one level", r.Name, b.print(r.Known.L), b.print(first))
		}
	}
	if len(b.byName) == 0 {
		return
	}
	for i := range b.rows {
		if r := &b.rows[i]; !r.Known.Set && r.Name != "" {
			if j, ok := b.byName[r.Name]; ok {
				b.res.Rows[i].Known = b.rows[j].Known
			}
		}
	}
}

// height is a level of a chain, relative to its first row.
type height struct {
	row   int
	level unit.Length
	path  Value // sum of the sights from the first row to this one
	least Value // the same without the last sight
	setup int   // of the chain, from 0; -1 is the first row
	end   bool  // read by the FS that ends its set-up
}

// sum adds lengths and remembers that it left the range.
type sum struct {
	l   unit.Length
	err error
}

func (s *sum) add(l unit.Length) {
	if s.err == nil {
		s.l, s.err = s.l.Add(l)
	}
}

// byCollimation works out the heights of a chain from the height of collimation
// of its set-ups, and appends them. collimation has one entry a set-up.
func byCollimation(c *chain, heights []height, collimation []unit.Length) ([]height, []unit.Length, error) {
	var err error
	var at, path sum
	measured := true
	to := func(x shot, setup int, hpc sum, end bool) height {
		level, whole := hpc, path
		level.add(-x.reading)
		whole.add(x.dist.L)
		if level.err != nil || whole.err != nil || level.l.Abs() > unit.MaxLength/2 { // half is left for the base
			err = unit.ErrRange
		}
		return height{row: x.row, level: level.l, setup: setup, end: end,
			path: Value{measured && x.measured(), whole.l}, least: Value{measured, path.l}}
	}
	heights = append(heights, height{row: c.first, path: Of(0), least: Of(0), setup: -1})
	for k := range c.setups {
		s := &c.setups[k]
		hpc := at
		hpc.add(s.bs.reading)
		path.add(s.bs.dist.L)
		measured = measured && s.bs.measured()
		collimation = append(collimation, hpc.l)
		for _, x := range s.read {
			heights = append(heights, to(x, k, hpc, false))
		}
		if s.fs == nil {
			break
		}
		h := to(*s.fs, k, hpc, true)
		heights = append(heights, h)
		at.l, path.l, measured = h.level, h.path.L, h.path.Set
	}
	return heights, collimation, err
}

// change is the rise (+) or fall (−) to a row from the one before.
type change struct {
	row int
	l   unit.Length
}

// byRiseAndFall works out the changes of a chain: in every set-up each reading
// is compared with the one before it. They are appended.
func byRiseAndFall(c *chain, changes []change) []change {
	for k := range c.setups {
		s := &c.setups[k]
		before := s.bs.reading
		step := func(x shot) {
			changes = append(changes, change{x.row, before - x.reading})
			before = x.reading
		}
		for _, x := range s.read {
			step(x)
		}
		if s.fs != nil {
			step(*s.fs)
		}
	}
	return changes
}

// agree reports whether the two reductions give the same levels. A rise or fall
// to a side shot or IS is carried on to the next reading, as in the book.
func agree(heights []height, changes []change) bool {
	if len(heights) != len(changes)+1 {
		return false
	}
	level := unit.Length(0)
	for i, x := range changes {
		level += x.l
		if heights[i+1].row != x.row || heights[i+1].level != level {
			return false
		}
	}
	return true
}

// run works out one run: levels both ways, then closing and distribution.
func (b *book) run(k int) {
	c := &b.chains[k]
	heights, collimation, err := byCollimation(c, b.heights[:0], b.collimation[:0])
	changes := byRiseAndFall(c, b.changes[:0])
	b.heights, b.collimation, b.changes = heights, collimation, changes
	run := Run{First: c.first, Last: c.last, From: b.rows[c.first].Name, Setups: len(c.setups)}
	if len(c.setups) == 0 {
		heights = nil // nothing to hang a level on
	}
	switch {
	case err != nil:
		c.broken = b.mistake(c.first, "", "the levels of the run that begins here leave the range of ±2,342 km; check the readings and their unit")
	case heights != nil && !agree(heights, changes):
		c.broken = b.mistake(c.first, "", "height of collimation and rise and fall do not give the same levels; do not use this run, and report it as a fault of the program")
	}
	b.roles(k, c)
	for _, x := range changes {
		out := &b.res.Rows[x.row]
		if x.l >= 0 {
			out.Rise = Of(x.l)
		} else {
			out.Fall = Of(-x.l)
		}
	}
	base, from := b.base(c, heights)
	if c.base = -1; from >= 0 {
		c.base = heights[from].row
	}
	if from >= 0 && err == nil {
		b.levels(c, heights, collimation, base)
	}
	b.runSums(c, &run, heights, changes, from >= 0 && err == nil)
	b.close(c, &run, heights, base, from)
	if run.Distributed != NoDistribution {
		b.distribute(c, &run, heights)
	}
	b.res.Runs = append(b.res.Runs, run)
	b.setup += len(c.setups)
}

// roles says what every row is to the run. The row that it shares with the run
// before stays that one's.
func (b *book) roles(k int, c *chain) {
	for i := c.first; i <= c.last; i++ {
		r, out := &b.rows[i], &b.res.Rows[i]
		if !r.sighted() || i == c.first && c.shared {
			continue
		}
		out.Run = k
		switch {
		case b.res.Rows[i].Known.Set:
			out.Role = Mark
		case r.BS.Set, r.FS.Set && !b.side[i] && i != c.last:
			out.Role = ChangePoint
		default:
			out.Role = Shot
		}
	}
}

// base finds what is to be added to the heights: from the first row when it is
// known, else from the last, else from a mark between. from is the index into
// heights, -1 when no level is known.
func (b *book) base(c *chain, heights []height) (base unit.Length, from int) {
	from = -1
	for i := range heights {
		if !b.res.Rows[heights[i].row].Known.Set {
			continue
		}
		if from < 0 {
			from = i
		}
		if heights[i].end && heights[i].row == c.last && from != 0 {
			from = i
		}
	}
	if from < 0 {
		return 0, -1
	}
	return b.res.Rows[heights[from].row].Known.L - heights[from].level, from
}

// levels hangs the heights on the base.
func (b *book) levels(c *chain, heights []height, collimation []unit.Length, base unit.Length) {
	for n, h := range heights {
		out := &b.res.Rows[h.row]
		if n == 0 && c.shared {
			continue
		}
		out.Level, out.Setup = Of(base+h.level), b.setup+max(h.setup, 0)+1
	}
	for k := range c.setups {
		at := c.setups[k].at
		out := &b.res.Rows[at]
		out.Collimation = Of(base + collimation[k])
		if !out.Level.Set { // second row of a change point, or a mark that a broken run ends on
			out.Level, out.Setup = Of(base+collimation[k]-c.setups[k].bs.reading), b.setup+k+1
		}
	}
}

// runSums adds the readings of a run, row by row, and its rises and falls.
func (b *book) runSums(c *chain, run *Run, heights []height, changes []change, levelled bool) {
	var bs, fs, rise, fall sum
	for k := range c.setups {
		bs.add(c.setups[k].bs.reading)
		if f := c.setups[k].fs; f != nil {
			fs.add(f.reading)
		}
	}
	for _, x := range changes {
		if x.l >= 0 {
			rise.add(x.l)
		} else {
			fall.add(-x.l)
		}
	}
	run.Sums = Sums{bs.l, fs.l, rise.l, fall.l}
	if bs.err != nil || fs.err != nil || rise.err != nil || fall.err != nil {
		if c.broken == "" {
			c.broken = b.mistake(c.first, "", "a sum of the run that begins here leaves the range of ±2,342 km; check the readings and their unit")
		}
		return
	}
	if levelled && c.broken == "" {
		run.FirstToLast = Of(heights[len(heights)-1].level - heights[0].level)
	}
}

// total adds up the book and checks its arithmetic: sums of the columns as they
// stand against the rises and falls and against the levels of the runs.
func (b *book) total() {
	var bs, fs, rise, fall, moved sum
	for i := range b.rows {
		r, out := &b.rows[i], &b.res.Rows[i]
		if r.BS.Set {
			bs.add(r.BS.L)
		}
		if r.FS.Set && !b.side[i] {
			fs.add(r.FS.L)
		}
		rise.add(out.Rise.L)
		fall.add(out.Fall.L)
	}
	levelled := len(b.res.Runs) > 0 && len(b.res.Mistakes) == 0
	for i := range b.res.Runs {
		run := &b.res.Runs[i]
		levelled = levelled && run.FirstToLast.Set
		moved.add(run.FirstToLast.L)
	}
	for _, s := range []sum{bs, fs, rise, fall, moved} {
		levelled = levelled && s.err == nil
	}
	b.res.Sums = Sums{bs.l, fs.l, rise.l, fall.l}
	b.res.FirstToLast = Value{levelled, moved.l}
	if !levelled {
		b.res.FirstToLast.L = 0
		return
	}
	b.res.ArithmeticOK = bs.l-fs.l == rise.l-fall.l && bs.l-fs.l == moved.l
}
