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
	n          int
	lost       bool // a sum left the range, or a reading was not read
}

func (s *sums) add(x *formats.BookRow) {
	for _, c := range [...]struct {
		r  formats.Reading
		to *unit.Length
	}{{x.BS, &s.bs}, {x.IS, &s.is}, {x.FS, &s.fs}} {
		if !c.r.Set {
			continue
		}
		l, err := scaled(c.r, x.Inverted)
		if err == nil {
			*c.to, err = c.to.Add(l)
		}
		s.lost = s.lost || err != nil
		s.n++
	}
	s.lost = s.lost || x.Bad != ""
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
			if t, c := r.plain(role); plainTotals[totalsWord(t)] {
				label, col = t, c
				break
			}
		}
	}
	word := totalsWord(label)
	plain := plainTotals[word]
	if label != "" && !plain && !mayBeTotals[word] {
		return false
	}
	bs, is, fs := r.quiet(BS), r.quiet(IS), r.quiet(FS)
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
	adds := n > 0 && (k.sums.hold(bs, is, fs) || k.page.hold(bs, is, fs))
	pos := b.at.At(r.row, col)
	switch {
	case label == "":
		if n < 2 || !bs.Set || !fs.Set || k.sums.n < 3 || !adds {
			return false
		}
		b.note(b.at.At(r.row, 0), "", "a row without a name that holds the sums of the columns is taken as one; it is not read as a reading")
	case !plain && (filled == 1 || filled > n || filled > 1 && !adds || filled == 0 && (r.quiet(Level).Set || r.quiet(Known).Set)):
		return false // a shot of that name
	case filled == 0 || adds:
		b.note(pos, Name, "%q is a row of sums; it is not read as a reading", label)
	case k.sums.lost:
		b.note(pos, Name, "%q is a row of sums; it is not read as a reading, and was not compared, because a row above it cannot be read", label)
	case filled == 1:
		b.refuse(pos, Name, "%q names a row of sums, but its number is not the sum of the column; correct the sum, or the name if this is a point", label)
	default:
		b.note(pos, Name, "%q is a row of sums, but its numbers are not what the readings above add up to (%s); it is not read as a reading", label, k.sums.words())
	}
	k.page = sums{}
	return true
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
	v, _, why := number(t, r.b.comma)
	return formats.Reading{Set: why == "", Value: v, Bracket: bracket, Col: col}
}
