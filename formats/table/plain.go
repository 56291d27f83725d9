package table

import (
	"sightrail/formats"
	"sightrail/formats/unit"
)

// plainKind is what a quick reader does with a column.
type plainKind uint8

const (
	plainSkip plainKind = iota // not read
	plainName
	plainCode
	plainEasting
	plainNorthing
	plainLevel
)

// maxPlain is how many columns a quick reader takes.
const maxPlain = 16

// plainColumns are the columns of a list of points, where it has only those that a
// quick reader knows: place, level, name and code.
func (b *Builder) plainColumns() (kinds []plainKind) {
	k := b.points
	if k == nil || len(b.h.columns) > maxPlain || k.foot || b.comma || len(b.opt.Accept) > 0 || b.opt.FeetInches || k.e < 0 || k.n < 0 || k.z < 0 {
		return nil
	}
	for _, other := range []int{k.chainage, k.offset, k.layer, k.run, k.staffed, k.setup, k.time, k.desc, k.reading, k.receiver} {
		if other >= 0 {
			return nil
		}
	}
	kinds = make([]plainKind, len(b.h.columns))
	for at, kind := range map[int]plainKind{k.name: plainName, k.code: plainCode, k.e: plainEasting, k.n: plainNorthing, k.z: plainLevel} {
		if at >= 0 {
			kinds[at] = kind
		}
	}
	return kinds
}

// readsPlain reports whether the next row is one below the heading of a list that a quick
// reader knows, and finds its columns.
func (b *Builder) readsPlain() bool {
	switch {
	case b.notPlain || b.refused || !b.found || b.lead != nil || b.first != nil || b.points == nil || b.fault.why != "":
		return false
	case b.plain == nil:
		if b.plain = b.plainColumns(); b.plain == nil {
			b.notPlain = true
			return false
		}
	}
	return true
}

// Plain takes a line of a list of points that holds nothing that needs a second look: as
// many fields as the heading has, plain numbers, a plain name and code. It reports
// whether it did; if not, nothing has happened, and Row must take the cells. What it
// takes is what Row would have made of it. The line must be valid UTF-8.
func (b *Builder) Plain(row int, line string, delim byte) (done bool, err error) {
	if !b.readsPlain() {
		return false, nil
	}
	var q formats.PlainPoint
	if _, ok := plainRow(b.plain, delim, line, 0, &q); !ok {
		return false, nil
	}
	err = b.takePlain(row, &q)
	return err == nil, err
}

// takePlain makes a record of a plain point.
func (b *Builder) takePlain(row int, q *formats.PlainPoint) error {
	p, err := b.next()
	if err != nil {
		return err
	}
	b.rows++
	k := b.points
	k.count++
	p.Row, p.Col = row, k.z+1
	p.ID, p.Code = q.ID, q.Code
	p.E, p.N, p.Z = q.E, q.N, q.Z
	p.Placed, p.Levelled = true, true
	k.seen.see(p.Z, row, p.Col)
	return nil
}

// plainRow reads the row that begins at byte i of a text; next is where the one after it
// begins. ok is false where it is not plain: then it is not read. A row that begins with
// # may be a comment, and is not plain.
func plainRow(kinds []plainKind, delim byte, s string, i int, p *formats.PlainPoint) (next int, ok bool) {
	if i < len(s) && s[i] == '#' {
		return i, false
	}
	last := len(kinds) - 1
	for col, kind := range kinds {
		start := i
		switch kind {
		case plainEasting, plainNorthing, plainLevel:
			d, end := plainNumber(s, i)
			if end < 0 {
				return i, false
			}
			i = end
			switch text := s[start:i]; kind {
			case plainEasting:
				p.E, p.TextE = d, text
			case plainNorthing:
				p.N, p.TextN = d, text
			default:
				if noNumber(d) {
					return i, false
				}
				p.Z, p.TextZ = d, text
			}
		case plainName, plainCode:
			for i < len(s) && plainText[s[i]] {
				i++
			}
			if kind == plainName {
				p.ID = s[start:i]
			} else {
				p.Code = s[start:i]
			}
		default:
			for i < len(s) && s[i] != delim && s[i] != '\n' && s[i] != '\r' && s[i] != '"' {
				i++
			}
		}
		if col < last {
			if i == len(s) || s[i] != delim {
				return i, false
			}
			i++
		}
	}
	switch {
	case i == len(s):
		return i, true
	case s[i] == '\n':
		return i + 1, true
	case s[i] == '\r' && i+1 < len(s) && s[i+1] == '\n':
		return i + 2, true
	}
	return i, false
}

// plainNumber reads digits that may have a minus before and a point between them, from
// byte i of a text; end is the byte behind them, -1 where there is no such number.
func plainNumber(s string, i int) (d unit.Decimal, end int) {
	neg := i < len(s) && s[i] == '-'
	if neg {
		i++
	}
	first, point, coef := i, -1, int64(0)
	for ; i < len(s); i++ {
		c := s[i]
		if c-'0' <= 9 {
			coef = coef*10 + int64(c-'0')
		} else if c == '.' && point < 0 && i > first {
			point = i
		} else {
			break
		}
	}
	digits := i - first
	if point >= 0 {
		digits--
		d.Places = uint8(i - point - 1)
	}
	if digits == 0 || digits > unit.MaxDigits || point == i-1 {
		return d, -1
	}
	if d.Coef = coef; neg {
		d.Coef = -coef
	}
	return d, i
}

// plainText are the characters of names and codes that nothing is odd about.
var plainText = func() (t [256]bool) {
	for c := '0'; c <= '9'; c++ {
		t[c] = true
	}
	for c := 'A'; c <= 'Z'; c++ {
		t[c], t[c+'a'-'A'] = true, true
	}
	for _, c := range "._/#" {
		t[c] = true
	}
	return t
}()
