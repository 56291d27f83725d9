package table

import (
	"sightrail/formats"
	"sightrail/formats/unit"
)

// Field is a cell of a row that its format has taken apart. Its text stands in Bytes,
// which may be reused by the caller, or in Text, which may not change. The zero Field is
// a blank cell.
type Field struct {
	Bytes []byte
	Text  string
	Odd   bool // more than its text: only Row can take it
}

// textsBytes is how much room is made for texts of fields at a time.
const textsBytes = 1 << 13

// Fields takes a row of a list of points as Plain takes a line: its numbers are plain and
// in Bytes, with a place and a level, its name and code are plain. It reports whether it
// did; if not, nothing has happened, and Row must take the cells.
func (b *Builder) Fields(row int, cells []Field) (done bool, err error) {
	if !b.readsPlain() || len(cells) > len(b.plain) {
		return false, nil
	}
	var text [2]*Field // name and code
	var number [3]unit.Decimal
	has := 0
	for i := range cells {
		c := &cells[i]
		switch kind := b.plain[i]; kind {
		case plainSkip:
		case plainName, plainCode:
			if c.Odd || !isPlainText(c.Bytes) || !isPlainText(c.Text) {
				return false, nil
			}
			text[kind-plainName] = c
		default:
			var ok bool
			if number[kind-plainEasting], ok = plainDecimal(c.Bytes); !ok || c.Odd {
				return false, nil
			}
			has++
		}
	}
	if has < len(number) || noNumber(number[2]) {
		return false, nil
	}
	err = b.takePlain(row, &formats.PlainPoint{ID: b.keep(text[0]), Code: b.keep(text[1]), E: number[0], N: number[1], Z: number[2]})
	return err == nil, err
}

// keep is the text of a field, or of none. Bytes become texts in one piece for many of them.
func (b *Builder) keep(f *Field) string {
	switch {
	case f == nil:
		return ""
	case len(f.Bytes) == 0:
		return f.Text
	}
	if b.texts.Cap()-b.texts.Len() < len(f.Bytes) {
		b.texts.Reset()
		b.texts.Grow(max(textsBytes, len(f.Bytes)))
	}
	from := b.texts.Len()
	b.texts.Write(f.Bytes)
	return b.texts.String()[from:]
}

// plainDecimal reads digits that may have a sign before and a point between them.
func plainDecimal(s []byte) (d unit.Decimal, ok bool) {
	i := 0
	if len(s) > 0 && s[0] == '-' {
		i = 1
	}
	if n := len(s) - i; n == 0 || n > unit.MaxDigits {
		return d, false
	}
	coef, point := int64(0), 0
	for k := i; k < len(s); k++ {
		switch c := s[k]; {
		case c-'0' <= 9:
			coef = coef*10 + int64(c-'0')
		case c == '.' && point == 0 && k > i && k < len(s)-1:
			point = k
		default:
			return d, false
		}
	}
	if i > 0 {
		coef = -coef
	}
	d.Coef = coef
	if point > 0 {
		d.Places = uint8(len(s) - point - 1)
	}
	return d, true
}

func isPlainText[T ~string | ~[]byte](s T) bool {
	for i := range len(s) {
		if !plainText[s[i]] {
			return false
		}
	}
	return true
}
