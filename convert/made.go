package convert

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"sightrail/convert/mesh"
	"sightrail/convert/surface"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// MadeOptions say what a surface is made of, beside its points. A line is told by
// the code and the run of its points, which follow each other in the file.
type MadeOptions struct {
	// Break, Bound and Void name the breakline, the ring of the boundary or the hole
	// that a point belongs to; "" is none. A point may belong to several.
	Break, Bound, Void func(code, run string) string
	MaxSide            unit.Length // of the faces along the hull; 0 = any
}

// made gathers what a surface is made of.
type made struct {
	surface *Surface
	frame   *Frame
	points  []mesh.Vertex
	pos     []formats.Pos // of points
	names   []string      // of points; "" where the file gives none
	in      mesh.Input
	noPlace []formats.Pos // rows that supply no point
}

// NewMadeSurface triangulates the points of a file with their breaklines and
// boundary. Problems say which points contradict each other; with any of them there
// is no surface. What is odd but usable is in Notes.
func NewMadeSurface(name string, d *formats.Document, opt MadeOptions, u unit.Unit, f *Frame) (*Surface, []formats.Problem) {
	m := &made{surface: &Surface{Name: name, Pos: formats.Pos{File: d.File}}, frame: f}
	m.in.MaxSide = opt.MaxSide
	lines := []lines{{of: opt.Break}, {of: opt.Bound}, {of: opt.Void}}
	r := PointReader{Frame: f, Unit: u}
	for i := range d.Points {
		var s Shot
		r.shot(&s, m.surface.Pos, &d.Points[i])
		if s.Use == Blank {
			continue
		}
		if !s.Placed || !s.Levelled {
			m.noPlace = append(m.noPlace, s.Pos)
			continue
		}
		k := m.add(s.Place, s.Level, s.Pos, s.ID)
		for n := range lines {
			lines[n].add(s.Code, s.Run, k)
		}
	}
	m.in.Lines, m.in.Outer, m.in.Voids = lines[0].list, lines[1].list, lines[2].list
	return m.triangulate()
}

// NewMadeFrom triangulates a surface of a file that has no faces: its points, its
// breaklines and its boundary. A boundary without levels cuts the surface off in
// plan.
func NewMadeFrom(in *formats.Surface, opt MadeOptions, u unit.Unit, f *Frame) (*Surface, []formats.Problem) {
	m := &made{surface: &Surface{Name: in.Name, Pos: in.Pos}, frame: f}
	m.in.MaxSide = opt.MaxSide
	fail := func(at formats.Pos, format string, args ...any) (*Surface, []formats.Problem) {
		return nil, []formats.Problem{{Pos: at, Field: "surface " + in.Name, Text: fmt.Sprintf(format, args...)}}
	}
	take := func(v *formats.Vertex, at formats.Pos, name string) (int32, error) {
		p, err := f.Place(v.E, v.N, u)
		z, zErr := v.Z.Length(u)
		if err = errors.Join(err, zErr); err != nil {
			return 0, err
		}
		if v.Row > 0 {
			at = at.At(v.Row, 0)
		}
		return m.add(p, z, at, name), nil
	}
	for i := range in.Vertices {
		if _, err := take(&in.Vertices[i], in.Pos, fmt.Sprintf("point %d", in.Vertices[i].ID)); err != nil {
			return fail(in.Pos, "point %d is too far from the origin of the job; check the unit and the grid of the file", in.Vertices[i].ID)
		}
	}
	for i := range in.Breaklines {
		b := &in.Breaklines[i]
		if !b.Levelled {
			m.surface.Notes = append(m.surface.Notes, formats.Problem{Pos: b.Pos, Field: "breakline " + b.Name, Text: "its points have no levels, so it is not used"})
			continue
		}
		var line []int32
		for k := range b.Points {
			n, err := take(&b.Points[k], b.Pos, fmt.Sprintf("point %d of breakline %s", k+1, b.Name))
			if err != nil {
				return fail(b.Pos, "point %d of breakline %s is too far from the origin of the job", k+1, b.Name)
			}
			line = append(line, n)
		}
		m.in.Lines = append(m.in.Lines, line)
	}
	var flat [][]Place
	for i := range in.Boundaries {
		b := &in.Boundaries[i]
		var ring []int32
		var places []Place
		for k := range b.Points {
			p, err := f.Place(b.Points[k].E, b.Points[k].N, u)
			if err != nil {
				return fail(b.Pos, "point %d of boundary %s is too far from the origin of the job", k+1, b.Name)
			}
			places = append(places, p)
			if b.Levelled {
				n, err := take(&b.Points[k], b.Pos, fmt.Sprintf("point %d of boundary %s", k+1, b.Name))
				if err != nil {
					return fail(b.Pos, "point %d of boundary %s is too far from the origin of the job", k+1, b.Name)
				}
				ring = append(ring, n)
			}
		}
		switch {
		case !b.Levelled:
			flat = append(flat, places)
		case b.Kind == "void":
			m.in.Voids = append(m.in.Voids, ring)
		default:
			m.in.Outer = append(m.in.Outer, ring)
		}
	}
	if len(flat) > 0 {
		o, err := NewOutline(flat)
		if err != nil {
			return fail(in.Pos, "its boundary cannot be used: %v", err)
		}
		m.surface.Outline = o
	}
	return m.triangulate()
}

// lines gathers points by the line they belong to, lines in the order of their
// first points.
type lines struct {
	of   func(code, run string) string
	at   map[string]int
	list [][]int32
}

func (l *lines) add(code, run string, point int32) {
	if l.of == nil {
		return
	}
	name := l.of(code, run)
	if name == "" {
		return
	}
	k, there := l.at[name]
	if !there {
		if l.at == nil {
			l.at = map[string]int{}
		}
		k = len(l.list)
		l.at[name] = k
		l.list = append(l.list, nil)
	}
	l.list[k] = append(l.list[k], point)
}

func (m *made) add(p Place, z unit.Length, at formats.Pos, name string) int32 {
	m.points = append(m.points, mesh.Vertex{E: p.E, N: p.N, Z: z})
	m.pos = append(m.pos, at)
	m.names = append(m.names, name)
	return int32(len(m.points) - 1)
}

// point names a point with its place in the file.
func (m *made) point(i int32) string {
	if int(i) >= len(m.pos) {
		return "a crossing of two breaklines"
	}
	if m.names[i] == "" {
		return m.pos[i].String()
	}
	return m.names[i] + " (" + m.pos[i].String() + ")"
}

func (m *made) note(at formats.Pos, format string, args ...any) {
	m.surface.Notes = append(m.surface.Notes, formats.Problem{Pos: at, Field: "surface " + m.surface.Name, Text: fmt.Sprintf(format, args...)})
}

func (m *made) triangulate() (*Surface, []formats.Problem) {
	field := "surface " + m.surface.Name
	m.in.Points = m.points
	out, err := mesh.Triangulate(m.in)
	var faults mesh.Faults
	switch {
	case errors.As(err, &faults):
		words := mesh.Words{Point: m.point,
			Place: func(p mesh.Place) string {
				at := Place(p)
				return m.frame.Easting(at, 3) + " E, " + m.frame.Northing(at, 3) + " N"
			},
			Level: func(l unit.Length) string { return l.Exact(m.frame.Unit, 3) }}
		var problems []formats.Problem
		for _, f := range faults {
			problems = append(problems, formats.Problem{Pos: m.pos[min(int(f.Points[0]), len(m.pos)-1)], Field: field, Text: f.Text(words)})
		}
		return nil, problems
	case err != nil:
		return nil, []formats.Problem{{Pos: m.surface.Pos, Field: field, Text: fmt.Sprintf("no surface can be made of its %d points: %v", len(m.points), err)}}
	}
	m.tell(out)
	vertices := make([]surface.Vertex, len(out.Vertices))
	for i, v := range out.Vertices {
		vertices[i] = surface.Vertex(v)
	}
	if m.surface.TIN, err = surface.New(vertices, slices.Clone(out.Faces)); err != nil {
		return nil, []formats.Problem{{Pos: m.surface.Pos, Field: field, Text: err.Error()}}
	}
	names := make([]string, len(m.names))
	for i := range names {
		if names[i] = m.names[i]; names[i] == "" {
			names[i] = m.pos[i].Cell()
		}
	}
	m.surface.corners = func(k int32) string {
		var words []string
		for _, v := range out.Faces[k] {
			if int(v) < len(names) {
				words = append(words, names[v])
			} else {
				words = append(words, "a crossing")
			}
		}
		return strings.Join(words, ", ")
	}
	return m.surface, nil
}

// tell notes what became of points that are no corner of a face, and of what was
// bent or added.
func (m *made) tell(out *mesh.Mesh) {
	if n := len(m.noPlace); n > 0 {
		m.note(m.noPlace[0], "rows with no place or no level, which are no part of it: %d; this is the first", n)
	}
	if n := len(out.Merged); n > 0 {
		x := out.Merged[0]
		m.note(m.pos[x.Point], "points at the place and level of another one, which count once: %d; the first is %s, as %s", n, m.point(x.Point), m.point(x.Into))
	}
	if n := len(out.Outside); n > 0 {
		m.note(m.pos[out.Outside[0]], "points outside of it, which supply no level: %d; the first is %s", n, m.point(out.Outside[0]))
	}
	if n := len(out.Passed); n > 0 {
		x := out.Passed[0]
		m.note(m.pos[x.Ends[0]], "points of another level that a breakline passes through and bends to: %d; the first is %s, where the breakline from %s to %s has %s",
			n, m.point(x.Vertex), m.point(x.Ends[0]), m.point(x.Ends[1]), x.Line.Exact(m.frame.Unit, 3))
	}
	if out.Long > 0 {
		m.note(m.surface.Pos, "triangles along the edge with a side longer than %s m, which are left out: %d, %.1f m² in all", m.in.MaxSide.Exact(unit.M, 0), out.Long, out.LongArea)
	}
}
