package convert

import (
	"fmt"

	"sightrail/convert/mesh"
	"sightrail/convert/plane"
	"sightrail/convert/surface"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// NewSurfaceOfShots triangulates shots that have a place and a level, with their
// breaklines and boundary. Corner k of the TIN is shot k; corners beyond the last shot
// are crossings of lines. Problems say which shots contradict each other; with any of
// them there is no surface.
func NewSurfaceOfShots(name string, shots []Shot, opt MadeOptions, f *Frame) (*Surface, []formats.Problem) {
	m := &made{surface: &Surface{Name: name}, frame: f}
	m.in.MaxSide = opt.MaxSide
	lines := []lines{{of: opt.Break}, {of: opt.Bound}, {of: opt.Void}}
	for i := range shots {
		s := &shots[i]
		if i == 0 {
			m.surface.Pos = formats.Pos{File: s.Pos.File, Part: s.Pos.Part}
		}
		k := m.add(s.Place, s.Level, s.Pos, s.ID)
		for n := range lines {
			lines[n].add(s.Code, s.Run, k)
		}
	}
	m.in.Lines, m.in.Outer, m.in.Voids = lines[0].list, lines[1].list, lines[2].list
	if len(shots) == 0 {
		return nil, []formats.Problem{{Field: "surface " + name, Text: "there is no shot to make a surface of"}}
	}
	return m.triangulate()
}

// Layer is the surface for the reckoning of volumes, offset added to its levels. A
// plane without an outline reaches as far as around. Surfaces that are not made of
// faces or of one plane, and those whose boundary has no levels, are errors.
func (s *Surface) Layer(offset unit.Length, around []Place) (*mesh.Layer, error) {
	switch {
	case s.TIN != nil && s.Outline != nil:
		return nil, fmt.Errorf("the surface %s ends at a boundary without levels, and volumes need a surface that ends with its faces; give the area to the check, and the surface without its boundary", s.Name)
	case s.TIN != nil:
		vertices, faces := s.TIN.Mesh()
		out := make([]mesh.Vertex, len(vertices))
		for i, v := range vertices {
			out[i] = mesh.Vertex{E: v.E, N: v.N, Z: v.Z + offset}
		}
		return mesh.NewLayer(out, faces)
	case s.Plane == nil:
		return nil, fmt.Errorf("the design %s is a list of levels or a line, and volumes need a surface", s.Name)
	}
	in := mesh.Input{}
	var rings []ring
	if s.Outline != nil {
		rings = s.Outline.rings
	} else {
		rings = []ring{box(around)}
	}
	for _, r := range rings {
		var corners []int32
		for _, p := range r {
			z, err := s.Plane.At(plane.Place{E: p.E, N: p.N})
			if err != nil {
				return nil, fmt.Errorf("the design plane %s at its corner: %v", s.Name, err)
			}
			corners = append(corners, int32(len(in.Points)))
			in.Points = append(in.Points, mesh.Vertex{E: p.E, N: p.N, Z: z + offset})
		}
		in.Outer = append(in.Outer, corners)
	}
	out, err := mesh.Triangulate(in)
	if err != nil {
		return nil, err
	}
	return out.Layer()
}

// box is a rectangle around places, a metre larger than they need.
func box(places []Place) ring {
	lo, hi := Place{unit.MaxLength, unit.MaxLength}, Place{-unit.MaxLength, -unit.MaxLength}
	for _, p := range places {
		lo = Place{min(lo.E, p.E), min(lo.N, p.N)}
		hi = Place{max(hi.E, p.E), max(hi.N, p.N)}
	}
	lo, hi = Place{lo.E - unit.Metre, lo.N - unit.Metre}, Place{hi.E + unit.Metre, hi.N + unit.Metre}
	return ring{lo, {hi.E, lo.N}, hi, {lo.E, hi.N}}
}

// Corners are the corners of the face of a TIN at a place: the numbers of the shots
// they are, where it was made of shots. ok is false where there is no face, or two
// over each other.
func (s *Surface) Corners(p Place) (corners [3]int32, ok bool) {
	if s.TIN == nil || s.Outline != nil && !s.Outline.Contains(p) {
		return corners, false
	}
	_, face, state, _ := s.TIN.Level(p.E, p.N)
	if state != surface.On {
		return corners, false
	}
	_, faces := s.TIN.Mesh()
	return faces[face], true
}
