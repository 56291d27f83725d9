package table

import (
	"sightrail/formats"
	"sightrail/formats/unit"
)

// Most rows of a level book hold a name and a reading or two, and nothing that needs
// a second look. quickRow reads those alone; it makes of them what bookRow would
// have made, and leaves the others to it. TestQuickRowsAreTheSame holds that.

// quickKind is what the quick reader does with a column.
type quickKind uint8

const (
	quickSkip    quickKind = iota // not read
	quickName                     // of the point
	quickNumber                   // to the row at hand
	quickText                     // the same
	quickStaff                    // a text that may be a reading in the wrong column
	quickCarried                  // a text that may say that the row is carried
	quickFlag                     // of an inverted staff
	quickPage                     // its number
)

// quickColumn is a column and where its cells go.
type quickColumn struct {
	kind quickKind
	to   *formats.Reading
	text *string
}

// quickColumns are the columns of the book for the quick reader; nil where it has
// none.
func (b *Builder) quickColumns() []quickColumn {
	k := b.book
	if b.slow || b.h.kinds || b.opt.FeetInches || len(b.opt.Accept) > 0 || k.wires.kept || !b.h.has(Name) {
		return nil
	}
	q := make([]quickColumn, len(b.h.columns))
	for i := range k.numbers {
		if n := &k.numbers[i]; n.column >= 0 {
			q[n.column] = quickColumn{kind: quickNumber, to: n.reading}
		}
	}
	for role, c := range map[string]quickColumn{Name: {quickName, nil, &k.now.Point}, Inverted: {kind: quickFlag}, Page: {kind: quickPage},
		Code: {quickCarried, nil, &k.now.Code}, Remark: {quickCarried, nil, &k.now.Remark}, Staffed: {quickText, nil, &k.notes.now.Staffed}, Run: {quickText, nil, &k.notes.now.Run},
		Setup: {quickText, nil, &k.notes.now.Setup}, Time: {quickText, nil, &k.notes.now.Time}, Staff: {quickStaff, nil, &k.notes.now.Staff}} {
		if i := b.h.at(role); i >= 0 {
			q[i] = c
		}
	}
	return q
}

// quickRow takes a row of the book that holds nothing but plain numbers, a plain
// name with a digit, and texts. It reports whether it did; if not, nothing has
// happened.
func (b *Builder) quickRow(row int, cells []Cell) bool {
	k := b.book
	if k.quick == nil || len(cells) > len(k.quick) || b.fault.why != "" || k.pages.line != 0 || k.pages.first || len(k.Rows) >= formats.MaxBookRows {
		return false
	}
	mark := byte('.')
	if b.comma {
		mark = ','
	}
	k.clear(row)
	numbers := 0
	for i := range cells {
		c := &cells[i]
		if c.Bad != "" || c.Date {
			return false
		}
		t := trim(c.Text)
		if t == "" {
			continue
		}
		switch q := &k.quick[i]; q.kind {
		case quickNumber:
			if !plainReading(t, mark, &q.to.Value) {
				return false
			}
			q.to.Col, q.to.Set = i+1, true
			numbers++
		case quickName:
			if !plainMark(t) {
				return false
			}
			*q.text = t
		case quickCarried:
			if mayBeCarried(t) {
				return false
			}
			*q.text = t
		case quickStaff:
			if !letter(t[0]) {
				return false
			}
			*q.text = t
		case quickText:
			*q.text = t
		case quickFlag:
			if !no[t] {
				return false
			}
		case quickPage:
			var page unit.Decimal // the one that the row above is on
			if k.pages.no == 0 || len(t) > 5 || !plainReading(t, mark, &page) || page != (unit.Decimal{Coef: int64(k.pages.no)}) {
				return false
			}
		}
	}
	x := &k.now
	if x.Point == "" || numbers == 0 || !k.count(x) {
		return false
	}
	x.Page = k.pages.no
	k.add(cells, b.opt.Bytes)
	return true
}

// count adds the readings of a row without brackets to all sums. It reports whether
// they are lengths; if not, nothing has happened.
func (k *bookBuilder) count(x *formats.BookRow) bool {
	var l [5]unit.Length
	list := [5]*formats.Reading{&x.BS, &x.IS, &x.FS, &x.Rise, &x.Fall}
	for i, r := range list {
		if r.Set {
			var err error
			if l[i], err = r.Value.Length(unit.M); err != nil {
				return false
			}
		}
	}
	for _, s := range [...]*sums{&k.sumsTwice, &k.pageTwice, &k.sums, &k.page} {
		if x.BS.Set {
			s.sight(&s.bs, l[0])
		}
		if x.IS.Set {
			s.sight(&s.is, l[1])
		}
		if x.FS.Set {
			s.sight(&s.fs, l[2])
		}
		if x.Rise.Set {
			height(&s.rise, l[3])
		}
		if x.Fall.Set {
			height(&s.fall, l[4])
		}
	}
	return true
}

// plainReading reads a trimmed number of digits, with a minus or without, with
// decimals or without, that stands for itself.
func plainReading(t string, mark byte, to *unit.Decimal) bool {
	i := 0
	if t[0] == '-' {
		i = 1
	}
	first, point, coef := i, -1, int64(0)
	for ; i < len(t); i++ {
		c := t[i]
		if c-'0' <= 9 {
			coef = coef*10 + int64(c-'0')
		} else if c == mark && point < 0 && i > first {
			point = i
		} else {
			return false
		}
	}
	digits, places := len(t)-first, 0
	if point >= 0 {
		digits, places = digits-1, len(t)-point-1
	}
	if digits == 0 || digits > unit.MaxDigits || point == len(t)-1 {
		return false
	}
	if first == 1 {
		coef = -coef
	}
	d := unit.Decimal{Coef: coef, Places: uint8(places)}
	*to = d
	return !noNumber(d)
}

// plainMark reports whether a name is that of a point and of nothing else: it has a
// digit, which no row of sums and none that is carried has, and nothing is odd
// about it.
func plainMark(t string) bool {
	digit, odd := false, false
	for i := range len(t) {
		c := t[i]
		digit = digit || c-'0' <= 9
		odd = odd || c == '-' || c == '+' || c >= 0x80
	}
	return digit && (!odd || oddName(t) == "")
}

// mayBeCarried reports whether a text may say that its row is carried: it has no
// digit, and the first letter of "carried" or "brought".
func mayBeCarried(t string) bool {
	for i := range len(t) {
		switch c := t[i]; {
		case c >= 0x80:
			return isCarried(t)
		case c-'0' <= 9:
			return false
		case letter(c):
			return (c|0x20 == 'c' || c|0x20 == 'b') && isCarried(t)
		}
	}
	return false
}

func letter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }
