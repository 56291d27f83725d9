package table

import (
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// sums are the sums of the columns of readings so far; their scale does not
// matter, they are only compared.
type sums struct {
	bs, is, fs unit.Length
	rise, fall unit.Length
	n          int
	lost       bool // a sum left the range, or a reading was not read
}

func (s *sums) add(x *formats.BookRow) {
	for _, c := range [...]struct {
		r  *formats.Reading
		to *unit.Length
	}{{&x.BS, &s.bs}, {&x.IS, &s.is}, {&x.FS, &s.fs}} {
		if !c.r.Set {
			continue
		}
		if l, err := scaled(*c.r, x.Inverted); err == nil {
			s.sight(c.to, l)
		} else {
			s.lost = true
			s.n++
		}
	}
	for _, c := range [...]struct {
		r  *formats.Reading
		to *unit.Length
	}{{&x.Rise, &s.rise}, {&x.Fall, &s.fall}} {
		if !c.r.Set {
			continue
		}
		if l, err := c.r.Value.Length(unit.M); err == nil {
			height(c.to, l)
		}
	}
	s.lost = s.lost || x.Bad != ""
}

// sight adds a reading to one of the sums.
func (s *sums) sight(to *unit.Length, l unit.Length) {
	var err error
	*to, err = to.Add(l)
	s.lost = s.lost || err != nil
	s.n++
}

// height adds a rise or a fall to its sum, as long as there is room.
func height(to *unit.Length, l unit.Length) {
	if sum, err := to.Add(l); err == nil {
		*to = sum
	}
}

// scaled is a reading as a Length, its unit left aside; an inverted one counts
// as negative.
func scaled(r formats.Reading, inverted bool) (unit.Length, error) {
	l, err := r.Value.Length(unit.M)
	if r.Bracket || inverted {
		l = -l.Abs()
	}
	return l, err
}

// plainTotals are names that no mark has; others may be names of shots, and
// count only when the numbers bear it out. Common practice, no published source.
var plainTotals = set("sum sums total totals subtotal subtotals sumbs sumfs sumis sumofbs sumoffs totalbs totalfs pagetotal pagetotals pagesum pagesums " +
	"grandtotal carriedforward carryforward broughtforward pagecheck arithmeticcheck sumcheck checksum checksums difference diff summe " +
	"σ ∑ σbs σfs σis ∑bs ∑fs ∑is σbsσfs ∑bsfs sumbssumfs bsfs")

var mayBeTotals = set("check checks cf bf forward result")

func set(list string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(list) {
		m[w] = true
	}
	return m
}

// totalsWord keeps letters and the signs of a sum.
func totalsWord(s string) string {
	s = strings.ToLower(trim(s))
	sigma := strings.HasPrefix(s, "∑")
	w := plainWord(s) // the sign ∑ is no letter
	if sigma {
		w = "∑" + w
	}
	return w
}

// total reports whether a row adds up the columns and notes it. It does so when
// its name says it, or when a nameless row holds just the sums.
func (b *Builder) total(r *rowReader) bool {
	label, col := r.plain(Name)
	if label == "" {
		for _, role := range []string{Remark, Code} {
			if t, c := r.plain(role); plainTotals[totalsWord(t)] || isCarried(t) {
				label, col = t, c
				break
			}
		}
	}
	word := totalsWord(label)
	over := isCarried(label)
	plain := plainTotals[word] || over
	if label != "" && !plain && !mayBeTotals[word] {
		return false
	}
	bs, is, fs := r.sight(BS), r.sight(IS), r.sight(FS)
	n, filled := 0, 0
	for _, x := range []formats.Reading{bs, is, fs} {
		if x.Set {
			n++
		}
		if x.Col > 0 {
			filled++
		}
	}
	k := b.book
	adds := n > 0 && (k.sums.hold(bs, is, fs) || k.page.hold(bs, is, fs) || k.sumsTwice.hold(bs, is, fs) || k.pageTwice.hold(bs, is, fs))
	if t, _ := r.plain(StaffReading); b.h.kinds && !plain && filled == 0 && t != "" {
		return false // a shot of that name, without a type
	}
	pos := b.at.At(r.row, col)
	switch {
	case label == "":
		if n < 2 || !bs.Set || !fs.Set || k.sums.n < 3 || !adds {
			return false
		}
		b.note(b.at.At(r.row, 0), "", "a row without a name that holds the sums of the columns is taken as one; it is not read as a reading")
	case !plain && (filled == 1 || filled > n || filled > 1 && !adds || filled == 0 && (r.quiet(Level).Set || r.quiet(Known).Set)):
		return false // a shot of that name
	case over && filled == 0:
		r.carriedLevel(label, pos)
	case filled == 0 || adds:
		b.note(pos, Name, "%q is a row of sums; it is not read as a reading", label)
		r.heights()
	case over && n == filled && k.repeats(bs, is, fs):
		b.note(pos, Name, "%q repeats the readings of row %d; they are read once", label, k.lastRow().Row)
	case k.sums.lost:
		b.note(pos, Name, "%q is a row of sums; it is not read as a reading, and was not compared, because a row above it cannot be read", label)
	case over:
		b.refuse(pos, Name, "%q is carried to another page, and its numbers are neither the sums of the readings above (%s) nor the readings of the row above; correct them, or write the name of the point if it is a reading", label, k.words())
	case filled == 1:
		b.refuse(pos, Name, "%q names a row of sums, but its number is not the sum of the column; correct the sum, or the name if this is a point", label)
	default:
		b.note(pos, Name, "%q is a row of sums, but its numbers are not what the readings above add up to (%s); it is not read as a reading", label, k.words())
	}
	k.page, k.pageTwice = sums{}, sums{}
	if over {
		b.turn(0)
	}
	return true
}

// carriedLevel compares the level that a row carries over with the last one.
func (r *rowReader) carriedLevel(label string, pos formats.Pos) {
	now, last := r.quiet(Level), r.b.book.lastRow()
	switch {
	case !now.Set:
		r.b.note(pos, Name, "%q carries the page over; it is not read as a reading", label)
	case last == nil || !last.Level.Set:
		r.b.note(pos, Name, "%q carries a level over that the row above does not have; it is not compared, and not read", label)
	default:
		a, err1 := scaled(now, false)
		b, err2 := scaled(last.Level, false)
		if err1 != nil || err2 != nil || a != b {
			r.b.refuse(r.b.at.At(r.row, now.Col), Level, "%q carries %s over, and row %d has %s; correct the one that is wrong", label, now.Value, last.Row, last.Level.Value)
			return
		}
		r.b.note(pos, Name, "%q carries the level of row %d over; it is not read as a reading", label, last.Row)
	}
}

// heights compares the sums of rises and falls, where a row of sums has them.
func (r *rowReader) heights() {
	rise, fall := r.quiet(Rise), r.quiet(Fall)
	k := r.b.book
	for _, s := range []*sums{&k.sums, &k.page, &k.sumsTwice, &k.pageTwice} {
		as := sums{n: 1, bs: s.rise, fs: s.fall}
		if as.hold(rise, formats.Reading{}, fall) {
			return
		}
	}
	col := max(rise.Col, fall.Col)
	r.b.note(r.b.at.At(r.row, col), Rise, "the sums of rise and fall are not what the rows above add up to (rise %s, fall %s)", k.sums.rise.Exact(unit.M, 0), k.sums.fall.Exact(unit.M, 0))
}

// repeats reports whether these are the readings of the last row.
func (k *bookBuilder) repeats(bs, is, fs formats.Reading) bool {
	last := k.lastRow()
	if last == nil {
		return false
	}
	for _, x := range [...][2]formats.Reading{{bs, last.BS}, {is, last.IS}, {fs, last.FS}} {
		a, err1 := scaled(x[0], last.Inverted)
		b, err2 := scaled(x[1], last.Inverted)
		if x[0].Set && (!x[1].Set || err1 != nil || err2 != nil || a != b) {
			return false
		}
	}
	return true
}

// sight is the reading of a row by its column, or by its type.
func (r *rowReader) sight(role string) formats.Reading {
	if !r.b.h.kinds {
		return r.quiet(role)
	}
	if t, _ := r.plain(Type); kindOf(t) != role {
		return formats.Reading{}
	}
	return r.quiet(StaffReading)
}

// hold reports whether the numbers of a row are these sums, or their difference.
func (s *sums) hold(bs, is, fs formats.Reading) bool {
	if s.n == 0 {
		return false
	}
	same := func(r formats.Reading, want unit.Length) bool {
		l, err := scaled(r, false)
		return !r.Set || err == nil && l == want
	}
	if same(bs, s.bs) && same(is, s.is) && same(fs, s.fs) {
		return true
	}
	d := s.bs - s.fs
	return (same(bs, d) || same(bs, -d)) && (same(is, d) || same(is, -d)) && (same(fs, d) || same(fs, -d))
}

// words are the sums of the book so far, for a message.
func (k *bookBuilder) words() string {
	if k.FeetInches {
		return k.sums.words() + ", in inches"
	}
	return k.sums.words()
}

func (s *sums) words() string {
	t := "BS " + s.bs.Exact(unit.M, 0) + ", FS " + s.fs.Exact(unit.M, 0)
	if s.is != 0 {
		t = "BS " + s.bs.Exact(unit.M, 0) + ", IS " + s.is.Exact(unit.M, 0) + ", FS " + s.fs.Exact(unit.M, 0)
	}
	return t
}

// plain is the text of a cell, unjudged, and its column.
func (r *rowReader) plain(role string) (string, int) {
	if i := r.b.h.at(role); i >= 0 && i < len(r.cells) {
		return trim(r.cells[i].Text), i + 1
	}
	return "", 0
}

// quiet reads a number without a word about what is wrong with it. Col is set
// when the cell holds anything.
func (r *rowReader) quiet(role string) formats.Reading {
	t, col := r.plain(role)
	if col == 0 || t == "" && r.cells[col-1].Bad == "" || dash(t) {
		return formats.Reading{}
	}
	bracket := len(t) > 2 && t[0] == '(' && t[len(t)-1] == ')'
	if bracket {
		t = trim(t[1 : len(t)-1])
	}
	v, _, why := r.number(t, role)
	return formats.Reading{Set: why == "", Value: v, Bracket: bracket, Col: col}
}
