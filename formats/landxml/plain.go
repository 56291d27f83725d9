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
	r, from, i := d.surf, -d.col, 0
	for {
		i = d.blanks(w, i, &from)
		used, d.col = i, i-from
		if len(w)-i > len(open) && string(w[i:i+len(open)]) != open {
			return used, false
		}
		// the whole of a short point is at hand
		if len(w)-i >= quick && r.vertices.len() < formats.MaxVertices {
			if len(r.vertices.block) == cap(r.vertices.block) {
				r.vertices.grow(d.expected(r.vertices.len(), i) * 2 / 3) // faces follow
			}
			n := len(r.vertices.block)
			v := &r.vertices.block[:n+1][n]
			if next := quickPoint(w[i:i+quick], v); next > 0 {
				v.Row = d.line
				r.vertices.block = r.vertices.block[:n+1]
				r.numbered(v.ID)
				i += next
				continue
			}
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

// quick is how many bytes a point or face is read from that is written in the
// plainest way, without looking for its end first.
const quick = 128

// quickPoint reads a point from b, of quick bytes, that is written like
//
//	<P id="12">6407243.751 155551.313 71.</P>
//
// It returns the bytes it takes, or 0 when it is written in another way; v is
// not written to then.
func quickPoint(b []byte, v *formats.Vertex) (used int) {
	const open = `<P id="`
	if len(b) != quick || string(b[:len(open)]) != open {
		return 0
	}
	id, j := quickWhole(b, len(open))
	if id == 0 || j+2 > len(b) || b[j] != '"' || b[j+1] != '>' {
		return 0
	}
	north, j := quickNumber(b, j+2)
	if j >= len(b) || b[j] != ' ' {
		return 0
	}
	east, j := quickNumber(b, j+1)
	if j >= len(b) || b[j] != ' ' {
		return 0
	}
	level, j := quickNumber(b, j+1)
	if j+len(endOfP) > len(b) || string(b[j:j+4]) != "</P>" {
		return 0
	}
	v.N, v.E, v.Z, v.ID = north, east, level, id
	return j + len(endOfP)
}

// quickFace reads a face from b as quickPoint reads a point:
//
//	<F>5 10 20</F>
func quickFace(b []byte, v *[3]int32) (used int) {
	if len(b) != quick || string(b[:3]) != "<F>" {
		return 0
	}
	p, j := quickWhole(b, 3)
	if p == 0 || j >= len(b) || b[j] != ' ' {
		return 0
	}
	q, j := quickWhole(b, j+1)
	if q == 0 || j >= len(b) || b[j] != ' ' {
		return 0
	}
	r, j := quickWhole(b, j+1)
	if r == 0 || j+len(endOfF) > len(b) || string(b[j:j+4]) != "</F>" {
		return 0
	}
	v[0], v[1], v[2] = int32(p), int32(q), int32(r)
	return j + len(endOfF)
}

// quickWhole reads a whole number of at most nine digits from j; 0 when there
// is none.
func quickWhole(b []byte, j int) (n, next int) {
	from := j
	for ; j < len(b); j++ {
		c := b[j] - '0'
		if c > 9 {
			break
		}
		n = n*10 + int(c)
	}
	if j-from > 9 {
		return 0, j
	}
	return n, j
}

// quickNumber reads a decimal of at most unit.MaxDigits digits from j. next is
// beyond b when there is none.
func quickNumber(b []byte, j int) (v unit.Decimal, next int) {
	neg := j < len(b) && b[j] == '-'
	if neg {
		j++
	}
	coef, from, places := int64(0), j, 0
	for ; j < len(b); j++ {
		c := b[j] - '0'
		if c > 9 {
			break
		}
		coef = coef*10 + int64(c)
	}
	digits := j - from
	if j < len(b) && b[j] == '.' {
		j++
		from = j
		for ; j < len(b); j++ {
			c := b[j] - '0'
			if c > 9 {
				break
			}
			coef = coef*10 + int64(c)
		}
		places = j - from
		digits += places
	}
	if digits == 0 || digits > unit.MaxDigits {
		return v, len(b)
	}
	if neg {
		coef = -coef
	}
	return unit.Decimal{Coef: coef, Places: uint8(places)}, j
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
	r, from, i := d.surf, -d.col, 0
	for {
		i = d.blanks(w, i, &from)
		used, d.col = i, i-from
		if len(w)-i > 2 && (w[i] != '<' || w[i+1] != 'F') {
			return used, false
		}
		if len(w)-i >= quick {
			if len(r.faces.block) == cap(r.faces.block) {
				r.faces.grow(d.expected(r.faces.len(), i))
			}
			n := len(r.faces.block)
			f := &r.faces.block[:n+1][n]
			if next := quickFace(w[i:i+quick], &f.V); next > 0 {
				f.Invisible = false
				r.faces.block = r.faces.block[:n+1]
				i += next
				continue
			}
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
		r.addFace(v, hidden)
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
