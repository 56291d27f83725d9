// Package surface finds the level of a triangulated surface at a place.
//
// Vertices are whole Lengths relative to the job's origin, within ±1,171 km of
// it. Whether a place is inside a triangle is the exact sign of the edge
// function: a float64 filter with its error bound first, then 128-bit whole
// numbers. No place on an edge or a vertex is lost and none outside is found.
// Faces of no plan area (vertical ones) supply nothing; invisible faces are
// left out by the caller.
//
// Accuracy: the level is the exact rational level of the plane through the
// three vertices, rounded once to one count of Length, half upwards. It does
// not depend on the order of the vertices, and two faces give the same level on
// their shared edge. It is computed in float64 where the error bound proves the
// rounding, and in 192-bit whole numbers where it does not. Experiment:
// TestLevelIsExact compares with math/big rationals, for fat triangles, needles
// and coordinates at the end of the range.
//
// The package does not triangulate, and it does not choose between faces that
// lie over each other: it says so.
package surface

import (
	"errors"
	"fmt"

	"sightrail/formats/unit"
)

// Vertex is a corner: place and level.
type Vertex struct{ E, N, Z unit.Length }

// TIN is a triangulated surface ready to be asked. It is safe for use by
// several goroutines.
type TIN struct {
	vertices []Vertex
	corners  [][3]int32 // of each face, counter-clockwise
	face     []face
	grid     grid
	area     float64 // in plan, of all faces, in square counts
	lo, hi   Vertex  // the smallest box around the faces that have a plan area
	Flat     int     // faces without plan area, left out
}

// extent is the largest coordinate, so that differences fit into an int64.
const extent = unit.MaxLength / 2

// New makes a TIN of vertices and faces; a face is three indices into vertices,
// in either turn. The faces are numbered as given in what Level returns. New
// keeps both lists, which must not be used afterwards. A face that names a vertex
// that is not there, a vertex out of range and a surface without any plan area
// are errors; vertices and faces count from 1 in them.
func New(vertices []Vertex, faces [][3]int32) (*TIN, error) {
	for i := range vertices {
		if v := &vertices[i]; v.E.Abs() > extent || v.N.Abs() > extent || v.Z.Abs() > extent {
			return nil, fmt.Errorf("vertex %d is more than 1,171 km from the origin of the job; check the unit and the grid of the file", i+1)
		}
	}
	t := &TIN{vertices: vertices, corners: faces, face: make([]face, len(faces))}
	lo := Vertex{unit.MaxLength, unit.MaxLength, unit.MaxLength}
	hi := Vertex{-unit.MaxLength, -unit.MaxLength, -unit.MaxLength}
	for i, f := range faces {
		for _, v := range f {
			if v < 0 || int(v) >= len(vertices) {
				return nil, fmt.Errorf("face %d names a vertex that is not there", i+1)
			}
		}
		t.corners[i], t.face[i] = pack(vertices, f)
		if t.face[i].flat() {
			t.Flat++
			continue
		}
		t.area += t.face[i].d / 2
		for _, k := range f {
			v := &vertices[k]
			lo.E, lo.N, lo.Z = min(lo.E, v.E), min(lo.N, v.N), min(lo.Z, v.Z)
			hi.E, hi.N, hi.Z = max(hi.E, v.E), max(hi.N, v.N), max(hi.Z, v.Z)
		}
	}
	t.lo, t.hi = lo, hi
	if t.Flat == len(faces) {
		return nil, errors.New("it has no visible face with a plan area")
	}
	t.grid.build(t)
	return t, nil
}

// Faces is how many faces the TIN was given, the flat ones included.
func (t *TIN) Faces() int { return len(t.face) }

// Mesh returns the vertices and, by face, their corners, which must not be changed.
func (t *TIN) Mesh() ([]Vertex, [][3]int32) { return t.vertices, t.corners }

// State of an answer.
type State uint8

// The states. Twice means that faces of different level lie over each other at
// the place: a step, or a faulty file.
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
		level, inside := t.level(k, e, n)
		switch {
		case !inside:
		case state == Outside:
			z, face, state = level, k, On
		case level != z:
			return z, face, Twice, level
		}
	}
	return z, face, state, 0
}

// PlanArea is the plan area of the faces in square metres, a float64 sum for
// print. Faces that lie over each other count each.
func (t *TIN) PlanArea() float64 { return t.area / float64(unit.Metre) / float64(unit.Metre) }

// Bounds is the smallest box around the faces that have a plan area.
func (t *TIN) Bounds() (lo, hi Vertex) { return t.lo, t.hi }
