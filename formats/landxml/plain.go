package landxml

import (
	"bytes"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// The points and faces of a surface are nearly all of a large file, and nearly
// all of them are written in one plain way:
//
//	<P id="12">6407243.751 155551.313 71.</P>
//	<F i="1" n="4 0 2">5 10 20</F>
//
// These are read here straight from the bytes. Whatever looks different (a
// comment, a reference, another attribute, a line break between numbers, a
// fault) is left to the XML reader, one element at a time. The two ways give
// the same document; a test holds that.

// readPlain reads plain points or faces as far as they go, when the last event
// was next to one.
func (d *decoder) readPlain() {
	list := d.path[len(d.path)-1]
	if list != "Pnts" && list != "Faces" || d.surf.fault != "" {
		return
	}
	read, stop := d.plainPoints, endOfP
	if list == "Faces" {
		read, stop = d.plainFaces, endOfF
	}
	d.feed.stop = stop // so that the XML reader comes to no more than the next end
	if !d.atHand() {
		return
	}
	for {
		d.row = d.line
		used, whole := read(d.feed.rest())
		d.off += int64(used)
		d.feed.take(used)
		if !whole || !d.feed.more() {
			break
		}
	}
	if w := d.feed.rest(); len(w) < 2 || w[1] == '/' {
		d.feed.stop = nil // the list ends here
	}
}

// blanks skips white space from i and keeps the place. from is where the line
// of d.col begins.
func (d *decoder) blanks(w []byte, i int, from *int) int {
	for ; i < len(w) && blank(w[i]); i++ {
		if w[i] == '\n' {
			d.line++
			*from = i + 1
		}
	}
	return i
}

var endOfP, endOfF = []byte("</P>"), []byte("</F>")

// plainPoints reads points from w. used is where it stopped, at the begin of an
// element. whole is false when what follows is no plain point, and true when w
// ends first.
func (d *decoder) plainPoints(w []byte) (used int, whole bool) {
	const open = `<P id="`
	from, i := -d.col, 0
	for {
		i = d.blanks(w, i, &from)
		used, d.col = i, i-from
		if len(w)-i > len(open) && string(w[i:i+len(open)]) != open {
			return used, false
		}
		n := bytes.Index(w[i:], endOfP)
		if n < 0 {
			return used, true
		}
		b := w[i : i+n]
		j := min(len(open), n)
		id, first := 0, j
		for ; j < len(b) && b[j]-'0' <= 9; j++ {
			id = id*10 + int(b[j]-'0')
		}
		if id == 0 || j-first > 9 || j+2 > len(b) || b[j] != '"' || b[j+1] != '>' {
			return used, false
		}
		j += 2
		v := formats.Vertex{ID: id, Row: d.line}
		var exact [3]bool
		for k, x := range []*unit.Decimal{&v.N, &v.E, &v.Z} {
			var ok bool
			if *x, j, exact[k], ok = plainNumber(b, j); !ok {
				return used, false
			}
		}
		if j != len(b) {
			return used, false
		}
		d.rounded(v.N, exact[0])
		d.rounded(v.E, exact[1])
		d.rounded(v.Z, exact[2])
		d.addVertex(v)
		i += n + len(endOfP)
	}
}

// plainNumber reads a decimal of b from j, with the blanks before and behind
// it.
func plainNumber(b []byte, j int) (v unit.Decimal, next int, exact, ok bool) {
	for j < len(b) && b[j] == ' ' {
		j++
	}
	start := j
	neg := j < len(b) && b[j] == '-'
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
	end := j
	for end < len(b) && b[end] != ' ' {
		end++
	}
	if digits == 0 || digits > unit.MaxDigits || end != j {
		var err error
		if v, exact, err = unit.ParseDecimal(b[start:end]); err != nil {
			return v, j, false, false
		}
	} else {
		if neg {
			coef = -coef
		}
		v, exact = unit.Decimal{Coef: coef, Places: uint8(places)}, true
	}
	for end < len(b) && b[end] == ' ' {
		end++
	}
	return v, end, exact, true
}

// plainFaces reads faces from w as plainPoints reads points.
func (d *decoder) plainFaces(w []byte) (used int, whole bool) {
	from, i := -d.col, 0
	for {
		i = d.blanks(w, i, &from)
		used, d.col = i, i-from
		if len(w)-i > 2 && (w[i] != '<' || w[i+1] != 'F') {
			return used, false
		}
		n := bytes.Index(w[i:], endOfF)
		if n < 0 {
			return used, true
		}
		b := w[i : i+n]
		j, hidden, ok := 3, false, true
		if len(b) < 3 {
			return used, false
		}
		if b[2] != '>' {
			if j, hidden, ok = plainMarks(b); !ok {
				return used, false
			}
		}
		var v [3]int32
		for k := range v {
			for j < len(b) && b[j] == ' ' {
				j++
			}
			id, first := int32(0), j
			for ; j < len(b) && b[j]-'0' <= 9; j++ {
				id = id*10 + int32(b[j]-'0')
			}
			if id <= 0 || j-first > 9 || j < len(b) && b[j] != ' ' {
				return used, false
			}
			v[k] = id
		}
		for j < len(b) && b[j] == ' ' {
			j++
		}
		if j != len(b) {
			return used, false
		}
		d.surf.addFace(v, hidden)
		i += n + len(endOfF)
	}
}

// plainMarks reads the attributes of a face: i, and n, b and m, which are of no
// use here. next is where its text begins.
func plainMarks(b []byte) (next int, hidden, ok bool) {
	seen := uint32(0)
	for j := 2; ; {
		switch {
		case j+5 > len(b):
			return 0, false, false
		case b[j] == '>':
			return j + 1, hidden, true
		case b[j] != ' ' || b[j+1] < 'a' || b[j+1] > 'z' || b[j+2] != '=' || b[j+3] != '"':
			return 0, false, false
		}
		key := b[j+1]
		if seen&(1<<(key-'a')) != 0 {
			return 0, false, false
		}
		seen |= 1 << (key - 'a')
		from := j + 4
		for j = from; j < len(b) && (b[j]-'0' <= 9 || b[j] == ' ' || b[j] == '-'); j++ {
		}
		if j >= len(b) || b[j] != '"' {
			return 0, false, false
		}
		switch key {
		case 'i':
			if j != from+1 || b[from] > '1' || b[from] < '0' {
				return 0, false, false
			}
			hidden = b[from] == '1'
		case 'n', 'b', 'm':
		default:
			return 0, false, false
		}
		j++
	}
}
