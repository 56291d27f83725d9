package geojson

import (
	"strings"

	"sightrail/formats/unit"
)

// quickWindow is how much of the file a feature is looked for in.
const quickWindow = 1 << 16

// quick reads a feature of the plain kind: a point or no geometry that is known, one
// object of plain properties, texts without escapes in ASCII, numbers without
// exponents, no key twice. It reports whether it did; whatever it does not know it
// leaves untouched to the strict reader, which alone says what is wrong. Both give
// the same feature, which the fuzz test holds.
func (d *decoder) quick() bool {
	d.block = d.block[min(d.read-d.blockAt, len(d.block)):] // what the strict reader took in the meantime
	if len(d.block) < quickWindow/8 {
		b, _ := d.r.Peek(quickWindow) // an error comes again to the strict reader
		d.block = string(b)
	}
	d.blockAt = d.read
	q := quick{s: d.block, f: &d.feature}
	if !q.feature() {
		d.feature.reset(d.row, d.col)
		return false
	}
	if d.opt.Points == nil {
		q.keep()
	}
	d.used(q.i)
	if q.rows > 0 {
		d.row, d.col = d.row+q.rows, q.i-q.line
	} else {
		d.col += q.i
	}
	return true
}

// used takes n bytes of the file that were read in the block.
func (d *decoder) used(n int) {
	_, _ = d.r.Discard(n) // they are buffered
	d.read += n
}

// quick is a feature being read out of a block.
type quick struct {
	s    string
	i    int
	rows int // line ends met
	line int // index of the last of them
	f    *feature
	keys [64]string
}

// keep makes texts of their own, so that a document does not hold the whole file.
func (q *quick) keep() {
	q.f.id = strings.Clone(q.f.id)
	for k := range q.f.props {
		q.f.props[k].value = strings.Clone(q.f.props[k].value)
		q.f.props[k].key = strings.Clone(q.f.props[k].key)
	}
}

// byte returns the next byte that is no white space, or 0 at the end.
func (q *quick) byte() byte {
	for q.i < len(q.s) {
		switch c := q.s[q.i]; c {
		case ' ', '\t', '\r':
			q.i++
		case '\n':
			q.rows, q.line = q.rows+1, q.i
			q.i++
		default:
			return c
		}
	}
	return 0
}

// take reads one byte after white space.
func (q *quick) take(want byte) bool {
	if q.byte() != want {
		return false
	}
	q.i++
	return true
}

// text reads a text of plain ASCII.
func (q *quick) text() (string, bool) {
	if !q.take('"') {
		return "", false
	}
	from := q.i
	for ; q.i < len(q.s); q.i++ {
		switch c := q.s[q.i]; {
		case c == '"':
			t := q.s[from:q.i]
			q.i++
			return t, true
		case c == '\\' || c < ' ' || c >= 0x80:
			return "", false
		}
	}
	return "", false
}

// number reads a number of JSON without an exponent.
func (q *quick) number() (string, bool) {
	from := q.i
	if q.i < len(q.s) && q.s[q.i] == '-' {
		q.i++
	}
	first := q.i
	for q.i < len(q.s) && q.s[q.i]-'0' <= 9 {
		q.i++
	}
	if n := q.i - first; n == 0 || n > 1 && q.s[first] == '0' {
		return "", false
	}
	if q.i < len(q.s) && q.s[q.i] == '.' {
		q.i++
		first = q.i
		for q.i < len(q.s) && q.s[q.i]-'0' <= 9 {
			q.i++
		}
		if q.i == first {
			return "", false
		}
	}
	if q.i == len(q.s) || q.i-from > 60 { // it may go on, or be very long
		return "", false
	}
	switch c := q.s[q.i]; c {
	case ',', ']', '}', ' ', '\n', '\r', '\t':
		return q.s[from:q.i], true
	}
	return "", false
}

// members reads an object and calls member for every key; no key may stand twice.
// base is how many of keys are in use by the objects around it.
func (q *quick) members(base int, member func(key string) bool) bool {
	if !q.take('{') {
		return false
	}
	if q.byte() == '}' {
		q.i++
		return true
	}
	for n := base; ; n++ {
		key, ok := q.text()
		if !ok || n == len(q.keys) {
			return false
		}
		for _, k := range q.keys[base:n] {
			if k == key {
				return false
			}
		}
		q.keys[n] = key
		if !q.take(':') || !member(key) {
			return false
		}
		switch q.byte() {
		case ',':
			q.i++
		case '}':
			q.i++
			return true
		default:
			return false
		}
	}
}

// outer is how many keys a feature has at most here.
const outer = 4

func (q *quick) feature() bool {
	return q.members(0, q.member)
}

func (q *quick) member(key string) bool {
	switch key {
	case "type":
		_, ok := q.text()
		return ok
	case "id":
		if q.byte() == '"' {
			t, ok := q.text()
			q.f.id = t
			return ok
		}
		t, ok := q.number()
		q.f.id = t
		return ok
	case "properties":
		return q.members(outer, q.property)
	case "geometry":
		return q.members(outer, q.geometry)
	}
	return false
}

func (q *quick) property(key string) bool {
	switch c := q.byte(); {
	case c == '"':
		t, ok := q.text()
		q.f.props = append(q.f.props, property{key, t})
		return ok
	case c == '-' || c-'0' <= 9:
		t, ok := q.number()
		q.f.props = append(q.f.props, property{key, t})
		return ok
	case c == 'n' && strings.HasPrefix(q.s[q.i:], "null"):
		q.i += len("null")
		return true
	}
	return false
}

func (q *quick) geometry(key string) bool {
	switch key {
	case "type":
		t, ok := q.text()
		q.f.geometry = t
		return ok && t == "Point"
	case "coordinates":
		return q.position()
	}
	return false
}

// position reads the coordinates of a point.
func (q *quick) position() bool {
	if !q.take('[') {
		return false
	}
	var p position
	for {
		q.byte()
		t, ok := q.number()
		if !ok || p.n == len(p.v) {
			return false
		}
		v, _, err := unit.ParseDecimal(t)
		if err != nil {
			return false
		}
		p.v[p.n] = v
		p.n++
		switch q.byte() {
		case ',':
			q.i++
			continue
		case ']':
			q.i++
		default:
			return false
		}
		break
	}
	if p.n < 2 {
		return false
	}
	if cap(q.f.coords) > 0 {
		q.f.coords = q.f.coords[:1]
	} else {
		q.f.coords = append(q.f.coords, nil)
	}
	q.f.coords[0] = append(q.f.coords[0][:0], p)
	return true
}
