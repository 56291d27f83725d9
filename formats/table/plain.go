package table

import "sightrail/formats/unit"

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
// takes is what Row would have made of it. The line must be valid UTF-8 without quotes.
func (b *Builder) Plain(row int, line string, delim byte) (done bool, err error) {
	if !b.readsPlain() {
		return false, nil
	}
	var text [2]string // name and code
	var number [3]unit.Decimal
	i := 0
	for col, kind := range b.plain {
		start := i
		switch kind {
		case plainEasting, plainNorthing, plainLevel:
			d := &number[kind-plainEasting]
			neg := i < len(line) && line[i] == '-'
			if neg {
				i++
			}
			first, point, coef := i, -1, int64(0)
			for ; i < len(line); i++ {
				c := line[i]
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
				return false, nil
			}
			if d.Coef = coef; neg {
				d.Coef = -coef
			}
		case plainName, plainCode:
			for ; i < len(line) && line[i] != delim; i++ {
				if !plainText[line[i]] {
					return false, nil
				}
			}
			text[kind-plainName] = line[start:i]
		default:
			for i < len(line) && line[i] != delim {
				i++
			}
		}
		if last := col == len(b.plain)-1; last != (i == len(line)) || !last && line[i] != delim {
			return false, nil
		}
		i++ // behind the delimiter
	}
	if noNumber(number[2]) {
		return false, nil
	}
	p, err := b.next()
	if err != nil {
		return false, err
	}
	b.rows++
	k := b.points
	k.count++
	p.Row, p.Col = row, k.z+1
	p.ID, p.Code = text[0], text[1]
	p.E, p.N, p.Z = number[0], number[1], number[2]
	p.Placed, p.Levelled = true, true
	k.see(p.Z, row, p.Col)
	return true, nil
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
