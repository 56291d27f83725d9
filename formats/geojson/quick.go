package geojson

import (
	"bytes"

	"sightrail/formats/unit"
)

// quickWindow is how much of the file a feature is looked for in.
const quickWindow = 1 << 16

// quick reads features of the plain kind, as many as follow each other: points, or no
// geometry that is known, one object of plain properties, texts without escapes in
// ASCII, numbers without exponents, no key twice. took is false where there is none;
// whatever it does not know it leaves untouched to the strict reader, which alone says
// what is wrong. Both give the same features, which the fuzz test holds. Features that are
// texts of their own have white space between them, those of a collection commas.
func (d *decoder) quick(alone bool) (took bool, err error) {
	if d.r.Buffered() < quickWindow {
		_, _ = d.r.Peek(quickWindow) // an error comes again to the strict reader
	}
	q := &d.plainly
	q.s, _ = d.r.Peek(d.r.Buffered())
	taken, row, col := 0, d.row, d.col // col of s[i]
	i := 0
	for {
		d.feature.reset(row, col)
		end := q.again(i)
		if end < 0 {
			end = q.learn(d, i)
		}
		if end < 0 || alone && !q.named {
			break
		}
		q.fill(d)
		if col += end - i; q.rows > 0 {
			row, col = row+q.rows, end-q.lineEnd(end)
		}
		taken, d.row, d.col = end, row, col
		if err := d.done(); err != nil {
			return true, err
		}
		if i = end; !alone {
			if i == len(q.s) || q.s[i] != ',' {
				break
			}
			i, col = i+1, col+1
		}
		for ; i < len(q.s); i++ {
			if c := q.s[i]; c == '\n' {
				row, col = row+1, 0
			} else if c != ' ' && c != '\t' && c != '\r' && (c != separator || !alone) {
				break
			}
			col++
		}
	}
	_, _ = d.r.Discard(taken) // they are buffered
	return taken > 0, nil
}

// quick knows how the last plain feature was written. Most features of a file differ from
// the one before in their values alone.
type quick struct {
	s     []byte
	slots []slot
	text  []byte // of the feature that was learnt from
	tail  []byte // of text, behind the last value
	kind  string // of its geometry
	named bool   // it says that it is a feature
	rows  int    // line ends in it
	slot  int    // the last of them stands before the value of this slot, or in the tail
	back  int    // so many bytes before it, or before the end

	look look
}

// slot is a value of a feature, and what stands before it.
type slot struct {
	from, to int // in s
	what     what
	quoted   bool
	plain    bool // number holds it
	known         // of a property
	number   unit.Decimal
	before   []byte
	last     string // what it held before, or anything else
}

// what a value is.
type what uint8

const (
	idValue what = iota
	propertyValue
	coordinate
)

// inText are the bytes of plain texts.
var inText = func() (t [256]bool) {
	for c := ' '; c < 0x80; c++ {
		t[c] = c != '"' && c != '\\'
	}
	return t
}()

// again reads a feature that differs from the last in its values alone, and returns where
// it ends, or -1.
func (q *quick) again(i int) int {
	s := q.s
	if len(q.text) == 0 {
		return -1
	}
	for k := range q.slots {
		x := &q.slots[k]
		if n := i + len(x.before); n >= len(s) || string(s[i:n]) != string(x.before) {
			return -1
		} else {
			i = n
		}
		x.from = i
		if x.quoted {
			for i < len(s) && inText[s[i]] {
				i++
			}
		} else if i = x.decimal(s, i); i < 0 {
			return -1
		}
		x.to = i
	}
	if n := i + len(q.tail); n <= len(s) && string(s[i:n]) == string(q.tail) {
		return n
	}
	return -1
}

// decimal reads a number of JSON that is no longer than what is kept of one. What may
// stand behind it is that which stood behind the last one.
func (x *slot) decimal(s []byte, i int) int {
	neg := i < len(s) && s[i] == '-'
	if neg {
		i++
	}
	first, point, coef := i, 0, int64(0)
	for ; i < len(s); i++ {
		if c := s[i]; c-'0' <= 9 {
			coef = coef*10 + int64(c-'0')
		} else if c == '.' && point == 0 && i > first {
			point = i
		} else {
			break
		}
	}
	whole := i - first
	x.number.Places = 0
	if point > 0 {
		whole = point - first
		x.number.Places = uint8(i - point - 1)
	}
	if whole == 0 || whole > 1 && s[first] == '0' || i-first > unit.MaxDigits || point == i-1 {
		return -1
	}
	if x.number.Coef = coef; neg {
		x.number.Coef = -coef
	}
	x.plain = true
	return i
}

// lineEnd is where the last line end of a feature stands that ends at end.
func (q *quick) lineEnd(end int) int {
	if q.slot < len(q.slots) {
		end = q.slots[q.slot].from
	}
	return end - q.back
}

// fill makes the values of a feature what the strict reader makes of them.
func (q *quick) fill(d *decoder) {
	f := &d.feature
	f.geometry = q.kind
	var p position
	for k := range q.slots {
		x := &q.slots[k]
		switch x.what {
		case coordinate:
			p.v[p.n] = x.number
			p.n++
		case idValue:
			f.id = d.kept(x, q.s)
		case propertyValue:
			if x.role == noRole {
				continue
			}
			f.props = append(f.props, property{}) // filled in its place, which is quicker
			y := &f.props[len(f.props)-1]
			if y.known = x.known; x.plain && x.role.numeric() {
				y.plain, y.number = true, x.number
			} else {
				y.value = d.kept(x, q.s)
			}
		}
	}
	if p.n == 0 {
		return
	}
	if cap(f.coords) > 0 {
		f.coords = f.coords[:1]
	} else {
		f.coords = append(f.coords, nil)
	}
	f.coords[0] = append(f.coords[0][:0], p)
}

// textsBytes is how much room is made for texts at a time, so that a document does not
// hold the whole file.
const textsBytes = 1 << 13

// kept is the text of a value.
func (d *decoder) kept(x *slot, s []byte) string {
	b := s[x.from:x.to]
	if string(b) == x.last {
		return x.last
	}
	if d.room.Cap()-d.room.Len() < len(b) {
		d.room.Reset()
		d.room.Grow(max(textsBytes, len(b)))
	}
	from := d.room.Len()
	d.room.Write(b)
	x.last = d.room.String()[from:]
	return x.last
}

// learn reads a plain feature and how it is written. It returns where it ends, or -1.
func (q *quick) learn(d *decoder, from int) int {
	l := &q.look
	l.s, l.i, l.rows, l.line, l.d, l.kind, l.named = q.s, from, 0, 0, d, "", false
	l.slots, q.slots = q.slots[:0], nil
	q.text = q.text[:0]
	ok := l.members(0, l.member)
	q.slots = l.slots
	if !ok {
		return -1
	}
	q.text = append(q.text, q.s[from:l.i]...)
	q.named, q.kind, q.rows, q.slot, q.back = l.named, l.kind, l.rows, len(q.slots), l.i-l.line
	at := 0
	for k := range q.slots {
		x := &q.slots[k]
		x.before = q.text[at : x.from-from]
		at = x.to - from
		if l.line < x.from && q.slot == len(q.slots) {
			q.slot, q.back = k, x.from-l.line
		}
	}
	q.tail = q.text[at:]
	return l.i
}

// look is a look at a feature whose writing is not known.
type look struct {
	s     []byte
	i     int
	rows  int // line ends met
	line  int // index of the last of them
	kind  string
	named bool
	d     *decoder
	slots []slot
	keys  [64][]byte
}

// add notes the value that ends here.
func (q *look) add(x slot) {
	n := len(q.slots)
	if n < cap(q.slots) {
		q.slots = q.slots[:n+1]
		x.last = q.slots[n].last
		q.slots[n] = x
		return
	}
	q.slots = append(q.slots, x)
}

// byte returns the next byte that is no white space, or 0 at the end.
func (q *look) byte() byte {
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
func (q *look) take(want byte) bool {
	if q.byte() != want {
		return false
	}
	q.i++
	return true
}

// text reads a text of plain ASCII.
func (q *look) text() (from, to int, ok bool) {
	if !q.take('"') {
		return 0, 0, false
	}
	from = q.i
	for q.i < len(q.s) && inText[q.s[q.i]] {
		q.i++
	}
	if q.i == len(q.s) || q.s[q.i] != '"' {
		return 0, 0, false
	}
	q.i++
	return from, q.i - 1, true
}

// number reads a number of JSON without an exponent.
func (q *look) number() (from, to int, ok bool) {
	from = q.i
	if q.i < len(q.s) && q.s[q.i] == '-' {
		q.i++
	}
	first := q.i
	for q.i < len(q.s) && q.s[q.i]-'0' <= 9 {
		q.i++
	}
	if n := q.i - first; n == 0 || n > 1 && q.s[first] == '0' {
		return 0, 0, false
	}
	if q.i < len(q.s) && q.s[q.i] == '.' {
		q.i++
		first = q.i
		for q.i < len(q.s) && q.s[q.i]-'0' <= 9 {
			q.i++
		}
		if q.i == first {
			return 0, 0, false
		}
	}
	if q.i == len(q.s) || q.i-from > 60 { // it may go on, or be very long
		return 0, 0, false
	}
	switch c := q.s[q.i]; c {
	case ',', ']', '}', ' ', '\n', '\r', '\t':
		return from, q.i, true
	}
	return 0, 0, false
}

// members reads an object and calls member for every key; no key may stand twice.
// base is how many of keys are in use by the objects around it.
func (q *look) members(base int, member func(key []byte) bool) bool {
	if !q.take('{') {
		return false
	}
	if q.byte() == '}' {
		q.i++
		return true
	}
	for n := base; ; n++ {
		from, to, ok := q.text()
		if !ok || n == len(q.keys) {
			return false
		}
		key := q.s[from:to]
		for _, k := range q.keys[base:n] {
			if bytes.Equal(k, key) {
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

func (q *look) member(key []byte) bool {
	switch string(key) {
	case "type":
		from, to, ok := q.text()
		q.named = string(q.s[from:to]) == "Feature"
		return ok
	case "id":
		return q.value(slot{what: idValue})
	case "properties":
		return q.members(outer, q.property)
	case "geometry":
		return q.members(outer, q.geometry)
	}
	return false
}

// value reads a text or a number.
func (q *look) value(x slot) bool {
	var ok bool
	if x.quoted = q.byte() == '"'; x.quoted {
		x.from, x.to, ok = q.text()
	} else if x.from, x.to, ok = q.number(); ok {
		v, _, err := unit.ParseDecimal(q.s[x.from:x.to])
		x.number, x.plain = v, err == nil
	}
	if ok {
		q.add(x)
	}
	return ok
}

func (q *look) property(key []byte) bool {
	if q.byte() == 'n' && bytes.HasPrefix(q.s[q.i:], []byte("null")) {
		q.i += len("null")
		return true
	}
	return q.value(slot{what: propertyValue, known: q.d.know(key)})
}

func (q *look) geometry(key []byte) bool {
	switch string(key) {
	case "type":
		from, to, ok := q.text()
		q.kind = "Point"
		return ok && string(q.s[from:to]) == q.kind
	case "coordinates":
		return q.position()
	}
	return false
}

// position reads the coordinates of a point.
func (q *look) position() bool {
	if !q.take('[') {
		return false
	}
	for n := 1; ; n++ {
		if q.byte() == '"' || !q.value(slot{what: coordinate}) || !q.slots[len(q.slots)-1].plain {
			return false
		}
		switch q.byte() {
		case ',':
			if q.i++; n == len(position{}.v) {
				return false
			}
		case ']':
			q.i++
			return n >= 2
		default:
			return false
		}
	}
}
