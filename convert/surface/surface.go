// Package surface finds the level of a triangulated surface at a place.
//
// Vertices are whole Lengths relative to the job's origin. Whether a place is
// inside a triangle is the exact sign of the edge function: a float64 filter
// with its error bound first, then 128-bit whole numbers. No place on an edge
// or a vertex is lost and none outside is found. Faces of no plan area supply
// nothing; invisible faces are left out by the caller.
//
// Accuracy: the level is the exact rational level of the plane through the
// three vertices, rounded once to one count of Length, half upwards, so that
// two faces give the same level on their shared edge. It is computed in
// float64 where the error bound proves the rounding, and with math/big where
// it does not. Experiment: TestLevelIsExact compares with math/big rationals.
// Differences of coordinates must stay within ±1,171 km, which New checks.
package surface

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/bits"

	"sightrail/formats/unit"
)

// Vertex is a corner: place and level.
type Vertex struct{ E, N, Z unit.Length }

// TIN is a triangulated surface ready to be asked. It is safe for use by
// several goroutines.
type TIN struct {
	vertices []Vertex
	faces    [][3]int32
	tri      []triangle
	grid     grid
	Flat     int // faces without plan area, left out
}

// triangle is a face oriented counter-clockwise, with what the filter needs.
type triangle struct {
	a, b, c Vertex
	dead    bool
}

// extent is the largest coordinate, so that differences fit into an int64.
const extent = unit.MaxLength / 2

// New makes a TIN of vertices and faces; a face is three indices into vertices.
// The faces are numbered as given in what Level returns.
func New(vertices []Vertex, faces [][3]int32) (*TIN, error) {
	t := &TIN{vertices: vertices, faces: faces, tri: make([]triangle, len(faces))}
	for i := range vertices {
		if vertices[i].E.Abs() > extent || vertices[i].N.Abs() > extent {
			return nil, fmt.Errorf("vertex %d is more than 1,171 km from the origin of the job", i+1)
		}
	}
	area := 0.0
	for i, f := range faces {
		for _, v := range f {
			if v < 0 || int(v) >= len(vertices) {
				return nil, fmt.Errorf("face %d names a vertex that is not there", i+1)
			}
		}
		tr := triangle{a: vertices[f[0]], b: vertices[f[1]], c: vertices[f[2]]}
		d := edge(&tr.a, &tr.b, tr.c.E, tr.c.N)
		switch d.sign() {
		case 0:
			tr.dead = true
			t.Flat++
		case -1:
			tr.b, tr.c = tr.c, tr.b
		}
		area += math.Abs(d.float()) / 2
		t.tri[i] = tr
	}
	if len(faces) == 0 || t.Flat == len(faces) {
		return nil, errors.New("it has no visible face with a plan area")
	}
	t.grid.build(t.tri, area)
	return t, nil
}

// Faces is how many faces the TIN was given.
func (t *TIN) Faces() int { return len(t.faces) }

// State of an answer.
type State uint8

// The states. Twice means that faces of different level lie over each other at
// the place.
const (
	Outside State = iota
	On
	Twice
)

// Level returns the level at a place and the face it comes from, the first one
// where several share the place. With state Twice, z is the level of the first
// face and other that of another one.
func (t *TIN) Level(e, n unit.Length) (z unit.Length, face int32, state State, other unit.Length) {
	for _, k := range t.grid.at(e, n) {
		tr := &t.tri[k]
		if !tr.contains(e, n) {
			continue
		}
		level := tr.level(e, n)
		if state == Outside {
			z, face, state = level, k, On
			continue
		}
		if level != z {
			return z, face, Twice, level
		}
	}
	return z, face, state, 0
}

// contains reports whether the place is inside or on the border.
func (t *triangle) contains(e, n unit.Length) bool {
	return side(&t.a, &t.b, e, n) >= 0 && side(&t.b, &t.c, e, n) >= 0 && side(&t.c, &t.a, e, n) >= 0
}

// side is the sign of the edge function of a place: + left of a to b.
func side(a, b *Vertex, e, n unit.Length) int {
	// Each difference is exact in int64 and rounded once to float64 (2^-53), each
	// product once more, and so is the difference of the products: the error is
	// below 4 × 2^-53 × (|l| + |r|).
	l := float64(b.E-a.E) * float64(n-a.N)
	r := float64(b.N-a.N) * float64(e-a.E)
	d := l - r
	if bound := (math.Abs(l) + math.Abs(r)) * (4.0 / (1 << 53)); d > bound || -d > bound {
		if d > 0 {
			return 1
		}
		return -1
	}
	w := edge(a, b, e, n)
	return w.sign()
}

// level is the level of the plane at a place inside the triangle.
func (t *triangle) level(e, n unit.Length) unit.Length {
	d := edge(&t.a, &t.b, t.c.E, t.c.N)
	wb := edge(&t.c, &t.a, e, n)
	wc := edge(&t.a, &t.b, e, n)
	zb, zc := t.b.Z-t.a.Z, t.c.Z-t.a.Z
	// wb/d and wc/d are right to 2^-50 and at most 1
	f := float64(zb)*(wb.float()/d.float()) + float64(zc)*(wc.float()/d.float())
	bound := (math.Abs(float64(zb)) + math.Abs(float64(zc))) * (1.0 / (1 << 49))
	whole := math.Floor(f + 0.5)
	if off := math.Abs(f + 0.5 - whole); off > bound+1e-9 && off < 1-bound-1e-9 && bound < 0.25 {
		return t.a.Z + unit.Length(whole)
	}
	num := new(big.Int).Mul(wb.big(), big.NewInt(int64(zb)))
	num.Add(num, new(big.Int).Mul(wc.big(), big.NewInt(int64(zc))))
	// floor(num/d + 1/2) = floor((2 num + d) / 2 d), d > 0
	den := d.big()
	num.Lsh(num, 1).Add(num, den)
	num.Div(num, den.Lsh(den, 1))
	return t.a.Z + unit.Length(num.Int64())
}

// wide is a signed 128-bit whole number.
type wide struct {
	hi int64
	lo uint64
}

func mul(a, b unit.Length) wide {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	h := int64(hi)
	if a < 0 {
		h -= int64(b)
	}
	if b < 0 {
		h -= int64(a)
	}
	return wide{h, lo}
}

// edge is the edge function: twice the plan area of a, b and the place, +
// when they turn left.
func edge(a, b *Vertex, e, n unit.Length) wide {
	l, r := mul(b.E-a.E, n-a.N), mul(b.N-a.N, e-a.E)
	lo, borrow := bits.Sub64(l.lo, r.lo, 0)
	hi, _ := bits.Sub64(uint64(l.hi), uint64(r.hi), borrow)
	return wide{int64(hi), lo}
}

func (w wide) sign() int {
	switch {
	case w.hi < 0:
		return -1
	case w.hi == 0 && w.lo == 0:
		return 0
	}
	return 1
}

func (w wide) float() float64 {
	if w.hi < 0 {
		lo, b := bits.Sub64(0, w.lo, 0)
		hi, _ := bits.Sub64(0, uint64(w.hi), b)
		return -(float64(hi)*(1<<64) + float64(lo))
	}
	return float64(w.hi)*(1<<64) + float64(w.lo)
}

func (w wide) big() *big.Int {
	b := new(big.Int).Lsh(big.NewInt(w.hi), 64)
	return b.Add(b, new(big.Int).SetUint64(w.lo))
}

// PlanArea is the plan area of the visible faces in square metres.
func (t *TIN) PlanArea() float64 {
	sum := 0.0
	for i := range t.tri {
		tr := &t.tri[i]
		sum += math.Abs(edge(&tr.a, &tr.b, tr.c.E, tr.c.N).float()) / 2
	}
	return sum / float64(unit.Metre) / float64(unit.Metre)
}

// Bounds is the smallest box around the faces.
func (t *TIN) Bounds() (lo, hi Vertex) {
	lo = Vertex{unit.MaxLength, unit.MaxLength, unit.MaxLength}
	hi = Vertex{-unit.MaxLength, -unit.MaxLength, -unit.MaxLength}
	for _, f := range t.faces {
		for _, k := range f {
			v := t.vertices[k]
			lo = Vertex{min(lo.E, v.E), min(lo.N, v.N), min(lo.Z, v.Z)}
			hi = Vertex{max(hi.E, v.E), max(hi.N, v.N), max(hi.Z, v.Z)}
		}
	}
	return lo, hi
}
