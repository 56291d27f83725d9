// Package mesh makes a triangulated surface of points, breaklines, a boundary
// and voids; reckons the volumes between two surfaces; and finds the largest
// empty circle among points. Numbers in, numbers out. Places and levels are
// whole Lengths relative to the job's origin, within ±1,171 km of it.
//
// Triangulate makes the constrained Delaunay triangulation: no vertex is inside
// the circle through the corners of a face, unless a breakline or a ring hides
// it. Vertices go in one by one, in the order of a Hilbert curve taken in rounds
// (Amenta, Choi, Rote: Incremental constructions con BRIO, 2003), edges are
// flipped until all are Delaunay, and breaklines are put in by flipping the
// edges that they cross.
//
// Accuracy: on which side of a line and inside which circle a point is, is told
// exactly: float64 with its error bound first, then whole numbers of 128 and 320
// bits. So no vertex and no breakline is lost, no face is turned over, and the
// areas of the faces add up to the area of the boundary to the last count. Where
// four or more vertices are on one circle, as in a grid, more than one
// triangulation is Delaunay, and the level between them depends on which is
// taken; it is chosen by places alone, so that neither the order of the points
// nor the direction of the lines changes the surface. The place and level of a
// crossing of two breaklines are exact rationals, rounded once to one count.
// Experiments: TestFacesAreDelaunay and TestLinesAreHeld check all of it with
// math/big on random, gridded, collinear and cocircular points and on lines that
// cross at every count; TestOrderOfPoints shuffles them.
//
// Volumes are exact in kind and float64 in number: every face of one surface is
// cut by every face of the other that it overlaps, and what is between is a
// prism whose volume has a closed form. Nothing is sampled. Sums are compensated
// and run in the order of the faces, so that the same input gives the same bits.
// A difference that is past a limit by no more than its own rounding, far less
// than a nanometre, is on it. Experiments: TestVolumeOfSolids against closed forms and
// TestVolumeByRationals against math/big rationals on random surfaces agree to
// 1e-12 of the volume and area moved.
//
// The largest empty circle is exact: its centre is a vertex of the Voronoi
// diagram, the crossing of an edge of it with the boundary, or a corner of the
// boundary, and the square of its radius is a rational that is compared with
// limits as such. Experiment: TestGapAgainstAll compares with math/big over all
// pairs and triples of points.
//
// The package does not extrapolate: outside the outermost points there is no
// surface, whatever the boundary.
package mesh

import (
	"errors"
	"fmt"
	"slices"

	"sightrail/formats/unit"
)

// Place in plan, relative to the origin of the job's frame.
type Place struct{ E, N unit.Length }

// Vertex is a place and its level.
type Vertex struct{ E, N, Z unit.Length }

func (v *Vertex) place() Place { return Place{v.E, v.N} }

// Input is what a surface is made of. Lines and rings name points by their
// index; their corners are points like any other.
type Input struct {
	Points []Vertex
	// Lines are breaklines, corner by corner. A closed one ends with its first
	// corner.
	Lines [][]int32
	// Outer rings and Voids bound the surface in plan; a ring need not repeat its
	// first corner. What is kept is inside an odd number of outer rings, or anywhere
	// when there is none, and not inside an odd number of voids. The sides are not
	// breaklines: where a breakline crosses one, it gives the level.
	Outer, Voids [][]int32
	// Same is how much two levels at one place may differ and count as the same;
	// the first one holds.
	Same unit.Length
	// MaxSide takes away faces with a longer side that can be reached from
	// outside over such sides: the slivers along a hull. Breaklines stop it. 0 takes
	// nothing away, and with an outer ring it must be 0.
	MaxSide unit.Length
}

// Mesh is a surface. Every point of the input is one of three: a corner of a
// face, in Merged, or in Outside.
type Mesh struct {
	// Vertices are the points of the input, under their own numbers, and after them
	// those added where lines cross.
	Vertices []Vertex
	// Faces are counter-clockwise triples of Vertices.
	Faces [][3]int32
	// Sides are the edges of faces that breaklines and rings run along, the smaller
	// vertex first.
	Sides [][2]int32
	// Merged are points at the place of an earlier one and with its level.
	Merged []Merged
	// Outside are points with no face: outside the boundary or inside a void, or
	// beyond sides longer than MaxSide.
	Outside []int32
	// Added are the crossings, in the order of the vertices they became.
	Added []Crossing
	// Passed are vertices that a breakline runs through with another level of its
	// own; the vertex holds, and the breakline bends there.
	Passed []Passing
	// Long is how many faces MaxSide took away, and LongArea their plan area in m².
	Long     int
	LongArea float64
}

// Merged is a point that fell together with another.
type Merged struct{ Point, Into int32 }

// Crossing is a vertex that was added. Ends are the points of the two sides that
// cross. Other is the level of the second, within Same of Z; where only one of
// the two is a breakline both levels are its own.
type Crossing struct {
	Vertex
	Other  unit.Length
	Ends   [4]int32
	vertex int32
}

// Passing is a vertex on a breakline between two points, and the level that the
// breakline would have there.
type Passing struct {
	Vertex int32
	Ends   [2]int32
	Line   unit.Length
}

// extent is the largest coordinate, so that differences fit into an int64.
const extent = unit.MaxLength / 2

// Triangulate makes the surface. Contradictions come back as Faults, all that
// were found; anything else that is wrong as a plain error.
func Triangulate(in Input) (*Mesh, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	sorted := order(in.Points)
	b, point := grow(in.Points, sorted)
	if b.flat() {
		return nil, errOneLine
	}
	m := &Mesh{}
	t := &holder{build: b, z: make([]unit.Length, len(point)), same: in.Same}
	for v, p := range point {
		t.z[v] = in.Points[p].Z
	}
	vertex := m.merge(&in, sorted, point, t)
	if err := t.holdAll(in.segments(vertex)); err != nil {
		return nil, err
	}
	keep := t.inside(len(in.Outer) > 0)
	if in.MaxSide > 0 {
		m.Long, m.LongArea = t.trim(keep, in.MaxSide)
	}
	m.write(&in, t, point, keep)
	outside := map[int32]bool{}
	for _, p := range m.Outside {
		outside[p] = true
	}
	var faults Faults
	for _, f := range t.faults {
		if f.Kind != TwoLevels || !outside[f.Points[0]] {
			faults = append(faults, f)
		}
	}
	switch faults.sort(); {
	case len(faults) > 0:
		return nil, faults
	case len(m.Faces) == 0 && m.Long > 0:
		return nil, errNothingShort
	case len(m.Faces) == 0:
		return nil, errNothingInside
	}
	return m, nil
}

func (in *Input) check() error {
	for i := range in.Points {
		if p := &in.Points[i]; p.E.Abs() > extent || p.N.Abs() > extent || p.Z.Abs() > extent {
			return fmt.Errorf("point %d is more than 1,171 km from the origin of the job; check the unit and the grid of the file", i+1)
		}
	}
	if in.MaxSide < 0 || in.Same < 0 {
		return errors.New("the longest side allowed and the difference of levels that count as the same must not be negative")
	}
	if in.MaxSide > 0 && len(in.Outer) > 0 {
		return errors.New("a surface with an outer boundary ends there; leave out either the boundary or the longest side allowed")
	}
	for _, l := range []struct {
		name  string
		lines [][]int32
		ring  bool
	}{{"breakline", in.Lines, false}, {"outer ring", in.Outer, true}, {"void", in.Voids, true}} {
		for k, line := range l.lines {
			var places []Place // the first three that differ
			for _, p := range line {
				if p < 0 || int(p) >= len(in.Points) {
					return fmt.Errorf("%s %d names a point that is not there", l.name, k+1)
				}
				if at := in.Points[p].place(); len(places) < 3 && !slices.Contains(places, at) {
					places = append(places, at)
				}
			}
			if n := len(places); l.ring && n < 3 {
				return fmt.Errorf("%s %d has %d different corners; a ring needs at least three", l.name, k+1, n)
			} else if n < 2 {
				return fmt.Errorf("%s %d has %d different corners; a line needs at least two", l.name, k+1, n)
			}
		}
	}
	return nil
}

// merge finds the vertex of every point, and what fell together.
func (m *Mesh) merge(in *Input, sorted, point []int32, t *holder) (vertex []int32) {
	vertex = make([]int32, len(in.Points))
	for v, p := range point {
		vertex[p] = int32(v)
	}
	if len(point) == len(in.Points) {
		return vertex
	}
	first := sorted[0]
	for _, p := range sorted[1:] {
		a, b := &in.Points[first], &in.Points[p]
		if a.place() != b.place() {
			first = p
			continue
		}
		vertex[p] = vertex[first]
		if (a.Z - b.Z).Abs() > in.Same {
			t.faults = append(t.faults, Fault{TwoLevels, []int32{first, p}, a.place(), [2]unit.Length{a.Z, b.Z}})
		}
		m.Merged = append(m.Merged, Merged{p, first})
	}
	return vertex
}

// segments lists the sides of the lines and rings.
func (in *Input) segments(vertex []int32) []segment {
	n := 0
	for _, lines := range [][][]int32{in.Lines, in.Outer, in.Voids} {
		for _, l := range lines {
			n += len(l)
		}
	}
	out, holds := make([]segment, 0, n), make([]hold, 0, n)
	add := func(p, q int32, bits int) {
		if a, b := vertex[p], vertex[q]; a != b {
			holds = append(holds, hold{bits: bits, ends: [2]int32{p, q}})
			out = append(out, segment{a, b, &holds[len(holds)-1]})
		}
	}
	for _, l := range in.Lines {
		for i := range len(l) - 1 {
			add(l[i], l[i+1], byLine)
		}
	}
	for _, l := range in.Outer {
		for i := range l {
			add(l[i], l[(i+1)%len(l)], byRing|byOuter)
		}
	}
	for _, l := range in.Voids {
		for i := range l {
			add(l[i], l[(i+1)%len(l)], byRing|byVoid)
		}
	}
	return out
}
