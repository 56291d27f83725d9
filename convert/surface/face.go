package surface

import (
	"math"

	"sightrail/formats/unit"
)

// face is a triangle a, b, c, counter-clockwise in plan, packed for the float64
// filter: corner a in whole counts, the others as differences from it.
type face struct {
	e, n, z unit.Length
	be, bn  float64
	ce, cn  float64
	zb, zc  float64
	d       float64 // twice the plan area; 0 when it has none
}

func (f *face) flat() bool { return f.d == 0 }

// u is the largest relative error of one rounding to float64.
const u = 1.0 / (1 << 53)

// filter bounds the error of p×q − r×s computed in float64, as a factor of
// |p×q| + |r×s|. Each of p to s is a whole number rounded once, each product
// once and the difference once: four roundings on every term, (1+u)^4 − 1. Six
// cover that and the roundings of the bound itself. A machine that fuses a
// product with a sum rounds less often.
const filter = 6 * u

// pack orients a face and prepares it. A face of no plan area, by exact
// arithmetic, is flat.
func pack(vertices []Vertex, f [3]int32) ([3]int32, face) {
	d := twiceArea(vertices, f)
	switch d.sign() {
	case 0:
		return f, face{}
	case -1:
		f[1], f[2] = f[2], f[1]
		d = int128{}.sub(d)
	}
	a, b, c := &vertices[f[0]], &vertices[f[1]], &vertices[f[2]]
	return f, face{
		e: a.E, n: a.N, z: a.Z,
		be: float64(b.E - a.E), bn: float64(b.N - a.N), zb: float64(b.Z - a.Z),
		ce: float64(c.E - a.E), cn: float64(c.N - a.N), zc: float64(c.Z - a.Z),
		d: d.float(),
	}
}

func twiceArea(vertices []Vertex, f [3]int32) int128 {
	a, b, c := &vertices[f[0]], &vertices[f[1]], &vertices[f[2]]
	return cross(int64(b.E-a.E), int64(b.N-a.N), int64(c.E-a.E), int64(c.N-a.N))
}

// level returns the level of face k at a place, and whether the place is inside
// it or on its border. The place must be inside the box of the surface.
//
// With p the place from corner a, the weights of the corners are wb = p × c,
// wc = b × p and wa = d − wb − wc, all of them 0 or more inside.
func (t *TIN) level(k int32, e, n unit.Length) (z unit.Length, inside bool) {
	f := &t.face[k]
	pe, pn := float64(e-f.e), float64(n-f.n)
	l, r := pe*f.cn, pn*f.ce
	wb, eb := l-r, (math.Abs(l)+math.Abs(r))*filter
	if wb < -eb {
		return 0, false
	}
	l, r = pn*f.be, pe*f.bn
	wc, ec := l-r, (math.Abs(l)+math.Abs(r))*filter
	if wc < -ec {
		return 0, false
	}
	wa, ea := f.d-wb-wc, eb+ec+(f.d+math.Abs(wb)+math.Abs(wc))*filter
	if wa < -ea {
		return 0, false
	}
	if wa <= ea || wb <= eb || wc <= ec {
		return t.exact(k, e, n)
	}
	// The place is inside. The rise over corner a is x = (wb zb + wc zc) / d. Its
	// error is that of the weights, three roundings of each term with that of
	// their sum, two roundings of d and one of the quotient; a tenth on top is for
	// the roundings of the bound itself.
	sb, sc := wb*f.zb, wc*f.zc
	x := (sb + sc) / f.d
	bound := 1.1 * ((eb*math.Abs(f.zb)+ec*math.Abs(f.zc)+(math.Abs(sb)+math.Abs(sc))*(3*u))/f.d + 3*u*math.Abs(x))
	whole := math.RoundToEven(x)
	if math.Abs(x-whole)+bound < 0.5 && math.Abs(x) < 1<<51 {
		return f.z + unit.Length(whole), true
	}
	return t.exact(k, e, n)
}

// exact is level in whole numbers.
func (t *TIN) exact(k int32, e, n unit.Length) (z unit.Length, inside bool) {
	f := t.corners[k]
	a, b, c := &t.vertices[f[0]], &t.vertices[f[1]], &t.vertices[f[2]]
	pe, pn := int64(e-a.E), int64(n-a.N)
	be, bn := int64(b.E-a.E), int64(b.N-a.N)
	ce, cn := int64(c.E-a.E), int64(c.N-a.N)
	wb, wc, d := cross(pe, pn, ce, cn), cross(be, bn, pe, pn), cross(be, bn, ce, cn)
	if wb.sign() < 0 || wc.sign() < 0 {
		return 0, false
	}
	// one after the other: d − wb − wc can be beyond 128 bits, each step cannot
	wa := d.sub(wb)
	if wa.sign() < 0 || wa.sub(wc).sign() < 0 {
		return 0, false
	}
	rise, half := divide(wb.scale(int64(b.Z-a.Z)).add(wc.scale(int64(c.Z-a.Z))), d)
	if half >= 0 {
		rise++
	}
	return a.Z + unit.Length(rise), true
}
