package landxml

import (
	"bytes"
	"fmt"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// numbers reads a list of numbers, size to each point, and hands every point
// to add with the line it begins in (0 when that is not known). At the first
// thing that is wrong it says why, and where.
func (d *decoder) numbers(text []byte, size int, add func(v [3]unit.Decimal, row int)) (why string, at formats.Pos) {
	at = d.pos.At(d.textRow, d.textCol)
	row, line := d.textRow, -d.textCol+1 // line: where the current line begins
	known := d.pieces == 1
	place := func(i int) formats.Pos {
		if !known {
			return at
		}
		return d.pos.At(row, i-line+1)
	}
	var v [3]unit.Decimal
	k, first := 0, 0
	last := at // behind the last number
	for i := 0; ; {
		for i < len(text) && blank(text[i]) {
			if text[i] == '\n' {
				row, line = row+1, i+1
			}
			i++
		}
		if i == len(text) {
			break
		}
		if k == 0 {
			first = row
		}
		x, next, exact, err := listNumber(text, i)
		if err != nil {
			word, _ := nextWord(text[i:])
			return fmt.Sprintf("%s is not a number that can stand here", shorten(word)), place(i)
		}
		d.rounded(x, exact)
		v[k] = x
		if k++; k == size {
			if !known {
				first = 0
			}
			add(v, first)
			k = 0
		}
		i = next
		last = place(i)
	}
	if k != 0 {
		return fmt.Sprintf("the list has numbers left over: it takes %d to a point", size), last
	}
	return "", at
}

// listNumber reads the number of b at i, which is not blank there. The common
// form is read at once.
func listNumber(b []byte, i int) (v unit.Decimal, next int, exact bool, err error) {
	j := i
	neg := b[j] == '-'
	if neg {
		j++
	}
	coef, from, places := int64(0), j, 0
	for ; j < len(b) && b[j]-'0' <= 9; j++ {
		coef = coef*10 + int64(b[j]-'0')
	}
	digits := j - from
	if j < len(b) && b[j] == '.' {
		j++
		from = j
		for ; j < len(b) && b[j]-'0' <= 9; j++ {
			coef = coef*10 + int64(b[j]-'0')
		}
		places = j - from
		digits += places
	}
	if digits > 0 && digits <= unit.MaxDigits && (j == len(b) || blank(b[j])) {
		if neg {
			coef = -coef
		}
		return unit.Decimal{Coef: coef, Places: uint8(places)}, j, true, nil
	}
	word, _ := nextWord(b[i:])
	v, exact, err = unit.ParseDecimal(word)
	return v, i + len(word), exact, err
}

// choice reads an attribute that has one of a few values. Another case is
// forgiven; another value is named, and left out.
func (d *decoder) choice(a attrs, key string, values ...string) string {
	text := trim(a.raw(key))
	for _, v := range values {
		switch {
		case string(text) == v:
			return v
		case bytes.EqualFold(text, []byte(v)):
			d.note(d.here(), key, "%s is read as %q", shorten(text), v)
			return v
		}
	}
	if len(text) > 0 {
		d.note(d.here(), key, "%s is not a value that LandXML knows here, and is not used", shorten(text))
	}
	return ""
}

// state reads the attribute of that name.
func (d *decoder) state(a attrs) string {
	return d.choice(a, "state", "abandoned", "destroyed", "existing", "proposed")
}

// yes reads an attribute that is true or false; absent is false.
func (d *decoder) yes(a attrs, key string) bool {
	switch v := string(trim(a.raw(key))); v {
	case "true", "1":
		return true
	case "false", "0", "":
	default:
		d.note(d.here(), key, "%q is neither true nor false; it is read as false", v)
	}
	return false
}
