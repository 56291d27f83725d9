package table

import (
	"fmt"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// pointBuilder fills batches of points.
type pointBuilder struct {
	name, e, n, z, chainage, offset, code, layer, run, staffed, setup, time, desc, reading, receiver int // columns from 0, or -1

	batch []formats.Point // handed over when it is full; unused when the document keeps the points
	count int
	foot  bool // which of the two feet the coordinates are in is not known
	asked bool // and was asked

	seen levelsSeen
}

// levelsSeen is the range of levels, and those that are exactly 0.
type levelsSeen struct {
	zero         tally
	levels       int   // other levels
	least, great int64 // of them, whole units

	// a range that was seen, of numbers with so many decimals: most levels lie in it
	places uint8
	lo, hi int64
}

// plainFoot is the coordinate from which a foot that is not named is refused:
// the two differ by a foot in 500,000.
const plainFoot = 500_000

func (b *Builder) openPoints() {
	h := &b.h
	k := &pointBuilder{name: h.at(Name), e: h.at(Easting), n: h.at(Northing), z: h.at(Level), chainage: h.at(Chainage), offset: h.at(Offset), code: h.at(Code),
		layer: h.at(Layer), run: h.at(Run), staffed: h.at(Staffed), setup: h.at(Setup), time: h.at(Time), desc: h.at(Description), reading: h.at(StaffReading), receiver: h.at(Receiver)}
	for _, i := range []int{k.e, k.n} {
		k.foot = k.foot || i >= 0 && h.bare[i]
	}
	if b.opt.Points != nil {
		k.batch = make([]formats.Point, 0, formats.BatchSize)
	}
	b.points = k
	if h.unit.Known() {
		b.doc.Units.Linear = h.unit
	}
}

// next makes room for a point.
func (b *Builder) next() (*formats.Point, error) {
	if b.opt.Points == nil {
		b.doc.Points = append(b.doc.Points, formats.Point{})
		return &b.doc.Points[len(b.doc.Points)-1], nil
	}
	k := b.points
	if len(k.batch) == cap(k.batch) {
		if err := b.flush(); err != nil {
			return nil, err
		}
	}
	k.batch = append(k.batch, formats.Point{})
	return &k.batch[len(k.batch)-1], nil
}

func (b *Builder) flush() error {
	k := b.points
	if len(k.batch) == 0 {
		return nil
	}
	err := b.opt.Points(b.at, k.batch)
	k.batch = k.batch[:0]
	return err
}

func (b *Builder) closePoints() error {
	k := b.points
	b.doc.PointCount += k.count
	if k := &k.seen; k.zero.n > 0 && k.levels > 0 && (k.least > 5 || k.great < -5) {
		b.note(b.at.At(k.zero.row, k.zero.col), Level, "%s exactly 0, and all others lie between %d and %d; 0 may stand for \"no level\" here; leave the cell blank where there is none", counted(k.zero.n, "level is", "levels are"), k.least, k.great+1)
	}
	return b.flush()
}

// decimal reads a number of a point.
func (r *rowReader) decimal(i int, field string) (v unit.Decimal, ok bool) {
	t, ok := r.cell(i, field)
	if !ok {
		return v, false
	}
	if t[0] == '(' {
		r.refuse(i+1, field, "%q is in brackets, which have no meaning here; write the number with its sign", t)
		return v, false
	}
	v, exact, why := number(t, r.b.comma)
	if why != "" {
		r.refuse(i+1, field, "%s", why)
		return v, false
	}
	if !exact {
		r.b.rounded.add(r.row, i+1)
	}
	return v, true
}

// level reads the level of a point; what stands for "no level" is noted.
func (r *rowReader) level(i int) (v unit.Decimal, ok bool) {
	t, ok := r.cell(i, Level)
	if !ok {
		return v, false
	}
	gone := (t[0] < '0' || t[0] > '9') && noValue(t)
	if !gone {
		if v, ok = r.decimal(i, Level); ok {
			gone = noNumber(v)
		}
	}
	if gone {
		text := fmt.Sprintf("%q stands for \"no level\" here", t)
		r.b.note(r.b.at.At(r.row, i+1), Level, "%s; the point is not assessed", text)
		if r.bad == "" {
			r.bad, r.col = Level+": "+text, i+1
		}
		return unit.Decimal{}, false
	}
	return v, ok
}

func (b *Builder) pointRow(row int, cells []Cell) error {
	p, err := b.next()
	if err != nil {
		return err
	}
	k := b.points
	k.count++
	r := rowReader{b: b, row: row, cells: cells}
	r.fault()
	p.Row, p.Col = row, 1
	p.ID = r.name(k.name)
	var hasE, hasN bool
	p.E, hasE = r.decimal(k.e, Easting)
	p.N, hasN = r.decimal(k.n, Northing)
	p.Placed = hasE && hasN
	if hasE != hasN && r.bad == "" {
		field, i := Northing, k.n
		if hasN {
			field, i = Easting, k.e
		}
		r.refuse(i+1, field, "the row has one of easting and northing; it needs both, or neither")
	}
	if p.Z, p.Levelled = r.level(k.z); p.Levelled {
		p.Col = k.z + 1
		k.seen.see(p.Z, row, p.Col)
	}
	if k.chainage >= 0 {
		p.Chainage, p.Chained = r.decimal(k.chainage, Chainage)
		var off bool
		if p.Offset, off = r.decimal(k.offset, Offset); off && !p.Chained && r.bad == "" {
			r.refuse(k.chainage+1, Chainage, "the row has an offset and no chainage")
		}
	}
	if k.reading >= 0 || k.receiver >= 0 {
		r.onPlane(p)
	}
	p.Code, p.Layer, p.Run = r.text(k.code, Code, true), r.text(k.layer, Layer, true), r.text(k.run, Run, true)
	p.Staffed, p.Setup, p.Time = r.text(k.staffed, Staffed, true), r.text(k.setup, Setup, true), r.text(k.time, Time, false)
	p.Desc = r.text(k.desc, Description, false)
	if len(cells) > len(b.h.columns) {
		r.extra()
	}
	if k.foot && p.Placed && (large(p.E) || large(p.N)) {
		text := "coordinates this large in \"ft\" differ by a foot or more between the two feet; declare \"unit: ft\" (international) or \"unit: ftUS\" (US survey) in the job"
		if !k.asked {
			r.refuse(k.e+1, "unit", "%s", text)
			k.asked = true
		} else if r.bad == "" {
			r.bad, r.col = "unit: "+text, k.e+1
		}
	}
	if r.bad != "" {
		p.Bad = r.bad
		if r.col > 0 {
			p.Col = r.col
		}
	}
	return nil
}

// onPlane reads what was read on a laser plane: of a staff, where brackets mean
// an inverted one, or of a machine receiver.
func (r *rowReader) onPlane(p *formats.Point) {
	p.Reading = r.reading(StaffReading)
	p.Receiver = r.reading(Receiver)
	switch {
	case p.Reading.Set:
		p.Col = p.Reading.Col
	case p.Receiver.Set:
		p.Col = p.Receiver.Col
	}
}

// large reports whether a coordinate is beyond plainFoot.
func large(d unit.Decimal) bool {
	w := whole(d)
	return w >= plainFoot || w <= -plainFoot
}

func whole(d unit.Decimal) int64 {
	if int(d.Places) < len(tens) {
		return d.Coef / tens[d.Places]
	}
	return 0
}

var tens = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18}

func (k *levelsSeen) see(z unit.Decimal, row, col int) {
	if z.Coef == 0 {
		k.zero.add(row, col)
		return
	}
	if z.Places == k.places && k.lo <= z.Coef && z.Coef <= k.hi && k.levels > 0 {
		k.levels++
		return
	}
	if z.Places != k.places || k.levels == 0 {
		k.places, k.lo, k.hi = z.Places, z.Coef, z.Coef
	}
	k.lo, k.hi = min(k.lo, z.Coef), max(k.hi, z.Coef)
	w := whole(z)
	if k.levels == 0 || w < k.least {
		k.least = w
	}
	if k.levels == 0 || w > k.great {
		k.great = w
	}
	k.levels++
}

// merge adds levels that come after those that were seen.
func (k *levelsSeen) merge(o *levelsSeen) {
	if k.zero.n == 0 {
		k.zero.row, k.zero.col = o.zero.row, o.zero.col
	}
	k.zero.n += o.zero.n
	switch {
	case o.levels == 0:
		return
	case k.levels == 0:
		k.least, k.great = o.least, o.great
	}
	k.least, k.great = min(k.least, o.least), max(k.great, o.great)
	k.levels += o.levels
}
