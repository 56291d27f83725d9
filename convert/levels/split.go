package levels

import (
	"fmt"

	"sightrail/formats/unit"
)

// Limits of what a row may hold. A value beyond them is a slip of the unit or of
// the column.
const (
	MaxReading = 1000 * unit.Metre   // of a staff, or of a tape down a shaft
	MaxSight   = 10_000 * unit.Metre // distance of a sight
	MaxLevel   = 20_000 * unit.Metre // known level
)

// shot is one sight of a set-up: its row, reading and distance.
type shot struct {
	row     int
	reading unit.Length
	dist    Value
}

// measured reports whether the distance of the sight is known; nought is what
// a blank cell becomes in some books.
func (x *shot) measured() bool { return x.dist.Set && x.dist.L > 0 }

// setup is one standing of the instrument: the BS, what was read after it, and
// the FS that ends it. at is the row of the BS.
type setup struct {
	at   int
	bs   shot
	read []shot
	fs   *shot // nil while it has not been read
}

// chain is a run before it has levels.
type chain struct {
	first, last int
	shared      bool // first is the last row of the chain before
	setups      []setup
	broken      string        // why, or ""
	closed      bool          // the last reading is a FS
	base        int           // row that the levels hang on, -1 = none
	part        []unit.Length // of whole, at the end of each set-up, where it was distributed
	whole       unit.Length
}

func (c *chain) current() *setup {
	if len(c.setups) == 0 || c.setups[len(c.setups)-1].fs != nil {
		return nil
	}
	return &c.setups[len(c.setups)-1]
}

// sighted reports whether the row holds a reading.
func (r *Row) sighted() bool { return r.BS.Set || r.IS.Set || r.FS.Set }

// only reports whether BS is the one reading of the row.
func (r *Row) onlyBS() bool { return r.BS.Set && !r.IS.Set && !r.FS.Set }

func nameOf(r *Row) string {
	if r.Name == "" {
		return "this point"
	}
	return r.Name
}

// splitter cuts a book into chains, row after row.
type splitter struct {
	book   *book
	cur    *chain
	last   int // last row with a reading
	joined int // row of the BS that goes on from the FS of the row before, or -1
	// shots and setups of the whole book, of which chains and set-ups have their
	// stretch. There is room for all, so that they never move.
	shots  []shot
	setups []setup
}

func (b *book) split() {
	s := &splitter{book: b, last: -1, joined: -1, shots: make([]shot, 0, b.sights), setups: make([]setup, 0, b.stands)}
	for i := range b.rows {
		if b.rows[i].sighted() {
			s.row(i)
			s.last = i
		}
	}
	if s.cur != nil {
		if s.cur.broken == "" {
			s.fail(s.last, "FS", "the run ends without a foresight; its last reading must be a FS, on a known mark to close it")
		}
		s.end(s.last)
	}
}

// distrust says that a row stands after what broke its chain.
func (b *book) distrust(i int) {
	if b.rest == nil {
		b.rest = map[int]bool{}
	}
	b.rest[i] = true
}

func (s *splitter) begin(i int) {
	s.cur = &chain{first: i, last: i}
}

// end closes the chain at a row.
func (s *splitter) end(i int) {
	s.cur.last = i
	s.book.chains = append(s.book.chains, *s.cur)
	s.cur = nil
}

// fail names a mistake; the chain has no levels from here on, unless it had
// none before.
func (s *splitter) fail(i int, field, format string, args ...any) {
	why := s.book.mistake(i, field, format, args...)
	if s.cur.broken == "" {
		s.cur.broken = why
	}
}

// beginBroken begins a chain that has no BS to hang on.
func (s *splitter) beginBroken(i int, field, text string) {
	s.begin(i)
	s.fail(i, field, "%s", text)
	s.book.distrust(i)
}

func (s *splitter) row(i int) {
	r := &s.book.rows[i]
	if why, field := s.book.wrong(r); why != "" {
		if s.cur == nil {
			s.begin(i)
		}
		s.fail(i, field, "%s", why)
		s.book.distrust(i)
		return
	}
	switch {
	case r.BS.Set && r.FS.Set:
		s.changePoint(i)
	case r.BS.Set:
		s.backsight(i)
	case r.IS.Set:
		if s.cur == nil {
			s.beginBroken(i, "BS", "an intermediate sight before any backsight; the BS of its set-up is missing")
			return
		}
		s.read(i, r.IS, r.DistIS)
	default:
		s.foresight(i)
	}
}

// wrong says what is wrong with a row by itself.
func (b *book) wrong(r *Row) (why, field string) {
	if r.IS.Set && (r.BS.Set || r.FS.Set) {
		return "an intermediate sight beside a BS or FS in one row; one row is one place of the staff, so one of them is in the wrong column", "IS"
	}
	for _, x := range []struct {
		v     Value
		field string
	}{{r.BS, "BS"}, {r.IS, "IS"}, {r.FS, "FS"}} {
		if x.v.Set && x.v.L.Abs() > MaxReading {
			return fmt.Sprintf("a reading of %s m is longer than any staff; check the number and the unit of the book", x.v.L.Fixed(unit.M, 0)), x.field
		}
		if staff := b.opt.Staff; staff > 0 && x.v.Set && x.v.L.Abs() > staff {
			return fmt.Sprintf("a reading of %s is longer than the staff, which is %s; check the reading against the field book", b.print(x.v.L.Abs()), b.print(staff)), x.field
		}
	}
	for _, d := range []Value{r.DistBS, r.DistIS, r.DistFS} {
		if d.Set && (d.L < 0 || d.L > MaxSight) {
			return fmt.Sprintf("a sight of %s m cannot be; check the distance and its unit, or leave it blank", d.L.Exact(unit.M, 0)), "distance"
		}
	}
	return "", ""
}

// read takes a sight into the current set-up.
func (s *splitter) read(i int, v, dist Value) {
	c := s.cur.current()
	if s.cur.broken != "" || c == nil {
		s.book.distrust(i)
		return
	}
	s.shots = append(s.shots, shot{i, v.L, dist})
	n := len(s.shots)
	c.read = s.shots[n-len(c.read)-1 : n : n] // nothing comes between the sights of a set-up
}

// foot takes the FS that ends the current set-up.
func (s *splitter) foot(i int) {
	r, c := &s.book.rows[i], s.cur.current()
	if s.cur.broken != "" || c == nil {
		s.book.distrust(i)
		return
	}
	s.shots = append(s.shots, shot{i, r.FS.L, r.DistFS})
	c.fs = &s.shots[len(s.shots)-1]
}

// stand begins a set-up.
func (s *splitter) stand(i int) {
	r := &s.book.rows[i]
	if s.cur.broken != "" {
		s.book.distrust(i)
		return
	}
	s.setups = append(s.setups, setup{at: i, bs: shot{i, r.BS.L, r.DistBS}})
	n := len(s.setups)
	s.cur.setups = s.setups[n-len(s.cur.setups)-1 : n : n]
}

// close ends the chain on the FS of a row.
func (s *splitter) close(i int) {
	s.foot(i)
	s.cur.closed = true
	s.end(i)
}

// changePoint takes a row with FS and BS. On a known mark it closes one run and
// begins the next.
func (s *splitter) changePoint(i int) {
	if s.cur == nil {
		s.beginBroken(i, "FS", "a foresight before any backsight; the run must begin with a BS on a known mark")
		return
	}
	if s.book.res.Rows[i].Known.Set {
		s.close(i)
		s.begin(i)
		s.cur.shared = true
	} else {
		s.foot(i)
	}
	s.stand(i)
}

// backsight takes a row with nothing but a BS.
func (s *splitter) backsight(i int) {
	if s.cur != nil && s.joined != i {
		if s.cur.broken == "" {
			s.fail(i, "FS", "a new backsight without a foresight before it; the FS to %s is missing", nameOf(&s.book.rows[i]))
		}
		s.end(s.last)
	}
	if s.cur == nil {
		s.begin(i)
	}
	s.stand(i)
}

// foresight takes a row with nothing but a FS: the end of a run, the first half
// of a change point over two rows, or a side shot.
func (s *splitter) foresight(i int) {
	b, r := s.book, &s.book.rows[i]
	if s.cur == nil {
		s.beginBroken(i, "BS", "a foresight before any backsight; the BS of its set-up is missing")
		return
	}
	j := i + 1
	for j < len(b.rows) && !b.rows[j].sighted() {
		j++
	}
	standsNext := j < len(b.rows) && b.rows[j].onlyBS()
	switch {
	case standsNext && b.rows[j].Name == r.Name && r.Name != "" && !b.res.Rows[i].Known.Set:
		s.foot(i)
		s.joined = j
	case standsNext, j == len(b.rows), b.res.Rows[i].Known.Set && !b.opt.SideShotsFS:
		s.close(i)
	case b.opt.SideShotsFS:
		b.side[i] = true
		s.read(i, r.FS, r.DistFS)
	default:
		b.side[i] = true
		s.read(i, r.FS, r.DistFS)
		s.fail(i, "BS", "the change point %s has a foresight and no backsight; book the BS, or declare \"sideShots: fs\" if a FS without BS is a side shot", nameOf(r))
	}
}
