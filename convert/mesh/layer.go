package mesh

import (
	"errors"
	"fmt"
)

// Layer is a surface ready to be compared with another. It is safe for use by
// several goroutines.
type Layer struct {
	corners [][3]Vertex // of each face, counter-clockwise
	boxes   *boxes
	// Flat is how many faces have no plan area and were left out.
	Flat int
}

// NewLayer makes a Layer of vertices and faces; a face is three indices into
// vertices, in either turn. A face that names a vertex that is not there, a
// vertex out of range and a surface without any plan area are errors; vertices
// and faces count from 1 in them.
func NewLayer(vertices []Vertex, faces [][3]int32) (*Layer, error) {
	for i := range vertices {
		if v := &vertices[i]; v.E.Abs() > extent || v.N.Abs() > extent || v.Z.Abs() > extent {
			return nil, fmt.Errorf("vertex %d is more than 1,171 km from the origin of the job; check the unit and the grid of the file", i+1)
		}
	}
	l := &Layer{corners: make([][3]Vertex, 0, len(faces))}
	all := make([]box, 0, len(faces))
	for i, f := range faces {
		var c [3]Vertex
		for k, v := range f {
			if v < 0 || int(v) >= len(vertices) {
				return nil, fmt.Errorf("face %d names a vertex that is not there", i+1)
			}
			c[k] = vertices[v]
		}
		switch orient(c[0].place(), c[1].place(), c[2].place()) {
		case 0:
			l.Flat++
			continue
		case -1:
			c[1], c[2] = c[2], c[1]
		}
		l.corners = append(l.corners, c)
		all = append(all, boxOf(c[0].place(), c[1].place(), c[2].place()))
	}
	if len(all) == 0 {
		return nil, errors.New("it has no face with a plan area")
	}
	l.boxes = newBoxes(all)
	return l, nil
}

// Layer makes a Layer of a mesh.
func (m *Mesh) Layer() (*Layer, error) { return NewLayer(m.Vertices, m.Faces) }

// Area is the plan area of the faces in m². Faces over each other count each.
func (l *Layer) Area() float64 {
	var a sum
	for i := range l.corners {
		a.add(twiceOf(&l.corners[i]) / 2)
	}
	return a.value() / squareMetre
}

// Doubled is the plan area in m² where faces of the layer lie over each other:
// 0 for one that Triangulate made. Volumes count what is doubled twice.
func (l *Layer) Doubled() float64 {
	v, _ := Compare(l, l, nil, 0, 0)
	return unlessNoise(v.Compared-v.Area, v.Area)
}

func twiceOf(c *[3]Vertex) float64 {
	return cross(int64(c[1].E-c[0].E), int64(c[1].N-c[0].N), int64(c[2].E-c[0].E), int64(c[2].N-c[0].N)).abs().float()
}

// unlessNoise is a difference of areas, or 0 where it is of the size of their
// roundings.
func unlessNoise(d, of float64) float64 {
	if d < 1e-12*of {
		return 0
	}
	return d
}

// Region is a polygon of places: an outer ring and voids, or several of both.
// What is inside an odd number of rings is inside; the border is inside.
type Region struct {
	rings [][]Place
	faces [][3]Place // counter-clockwise
	boxes *boxes     // of the faces
	box   box
}

// NewRegion makes a region of rings; a ring need not repeat its first corner.
// Rings that cross themselves or each other are errors, and so are rings with
// fewer than three corners and rings without an area.
func NewRegion(rings [][]Place) (*Region, error) {
	var in Input
	r := &Region{}
	for _, ring := range rings {
		var l []int32
		for i, p := range ring {
			if i > 0 && (p == ring[i-1] || i == len(ring)-1 && p == ring[0]) {
				continue
			}
			l = append(l, int32(len(in.Points)))
			in.Points = append(in.Points, Vertex{E: p.E, N: p.N})
		}
		in.Outer = append(in.Outer, l)
	}
	if len(in.Points) == 0 {
		return nil, errors.New("a polygon needs at least one ring")
	}
	m, err := Triangulate(in)
	if err != nil {
		return nil, err
	}
	all := make([]box, len(m.Faces))
	r.box = boxOf(in.Points[0].place())
	for i, f := range m.Faces {
		c := [3]Place{m.Vertices[f[0]].place(), m.Vertices[f[1]].place(), m.Vertices[f[2]].place()}
		r.faces = append(r.faces, c)
		all[i] = boxOf(c[:]...)
	}
	r.boxes = newBoxes(all)
	for _, l := range in.Outer {
		var ring []Place
		for _, p := range l {
			ring = append(ring, in.Points[p].place())
			r.box.add(in.Points[p].place())
		}
		r.rings = append(r.rings, ring)
	}
	return r, nil
}

// Area is the plan area in m².
func (r *Region) Area() float64 {
	var a sum
	for _, c := range r.faces {
		a.add(cross(int64(c[1].E-c[0].E), int64(c[1].N-c[0].N), int64(c[2].E-c[0].E), int64(c[2].N-c[0].N)).abs().float() / 2)
	}
	return a.value() / squareMetre
}

// Contains reports whether a place is inside or on the border, exactly.
func (r *Region) Contains(p Place) bool {
	var buffer [16]int32
	for _, f := range r.boxes.touching(box{p, p}, buffer[:0]) {
		c := &r.faces[f]
		if orient(c[0], c[1], p) >= 0 && orient(c[1], c[2], p) >= 0 && orient(c[2], c[0], p) >= 0 {
			return true
		}
	}
	// where the border of one ring runs along that of another there may be no face
	// beside it
	for _, ring := range r.rings {
		a := ring[len(ring)-1]
		for _, b := range ring {
			side := boxOf(a, b)
			if side.touches(&box{p, p}) && orient(a, b, p) == 0 {
				return true
			}
			a = b
		}
	}
	return false
}
