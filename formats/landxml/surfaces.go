package landxml

import (
	"fmt"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// surfaceReader reads one Surface. Faces keep the numbers of their points until
// the surface ends, because nothing says that points come first.
type surfaceReader struct {
	s       formats.Surface
	faulty  string // the first thing that makes it unusable
	at      formats.Pos
	faces   [][3]int32
	id      int
	idText  string
	hidden  bool
	row     int
	defined bool
	big     int // largest point number
	list    [4]unit.Decimal
}

func (d *decoder) surfaceStart(name string, a attrs) error {
	r := d.surf
	switch name {
	case "P":
		r.row = d.row
		if id, ok := whole(a.raw("id")); ok {
			r.id = id
		} else {
			r.id = -1
			r.idText = a.text("id")
		}
		d.collect()
	case "F":
		r.hidden = string(a.raw("i")) == "1"
		d.collect()
	case "Definition":
		r.defined = true
		if t := a.text("surfType"); t == "grid" {
			d.surfaceFault("it is a grid of squares, and only triangles are read; export it as a TIN")
		}
	case "DataPoints":
		r.source("points")
	case "Breakline":
		r.source("breaklines")
	case "Contour":
		r.source("contours")
	case "PointFile":
		r.source("a named point file")
	}
	return nil
}

func (r *surfaceReader) source(what string) {
	if r.s.Source == "nothing" {
		r.s.Source = what
	}
}

// whole reads a plain positive whole number.
func whole(b []byte) (int, bool) {
	n := 0
	if len(b) == 0 || len(b) > 9 {
		return 0, false
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}

func (d *decoder) surfaceFault(format string, args ...any) {
	if d.surf.faulty == "" {
		d.surf.faulty, d.surf.at = fmt.Sprintf(format, args...), d.here()
	}
}

func (d *decoder) surfaceEnd(name string) {
	r := d.surf
	switch name {
	case "P":
		d.want = false
		v, ok := d.vertex(r)
		if ok {
			r.s.Vertices = append(r.s.Vertices, v)
			r.big = max(r.big, v.ID)
		}
	case "F":
		d.want = false
		d.face(r)
	case "Surface":
		d.surfaceDone(r)
		d.surf = nil
	}
}

func (d *decoder) vertex(r *surfaceReader) (formats.Vertex, bool) {
	if r.id < 0 {
		d.surfaceFault("a point has the number %q; a whole number is wanted", r.idText)
		return formats.Vertex{}, false
	}
	v, ok := d.numbers(d.text, r.list[:0], fmt.Sprintf("point %d", r.id))
	if !ok || len(v) != 3 {
		d.surfaceFault("point %d does not have three numbers for northing, easting and level", r.id)
		return formats.Vertex{}, false
	}
	if len(r.s.Vertices) >= formats.MaxVertices {
		d.surfaceFault("it has more than %d points", formats.MaxVertices)
		return formats.Vertex{}, false
	}
	return formats.Vertex{N: v[0], E: v[1], Z: v[2], ID: r.id, Row: r.row}, true
}

func (d *decoder) face(r *surfaceReader) {
	var f [3]int32
	n := 0
	text := d.text
	for i := 0; i < len(text); {
		for i < len(text) && blank(text[i]) {
			i++
		}
		j := i
		for j < len(text) && !blank(text[j]) {
			j++
		}
		if j == i {
			break
		}
		id, ok := whole(text[i:j])
		if !ok {
			d.surfaceFault("face %d names point %q; a whole number is wanted", len(r.faces)+1, string(text[i:j]))
			return
		}
		if n < 3 {
			f[n] = int32(id)
		}
		n++
		i = j
	}
	if n != 3 {
		d.surfaceFault("face %d has %d points; only triangles are read: export the surface as a TIN", len(r.faces)+1, n)
		return
	}
	r.faces = append(r.faces, f)
	r.s.Faces = append(r.s.Faces, formats.Face{Invisible: r.hidden})
	if r.hidden {
		r.s.Invisible++
	}
}

// surfaceDone joins faces to points. A surface that cannot be trusted is
// refused whole.
func (d *decoder) surfaceDone(r *surfaceReader) {
	s := &r.s
	if r.faulty == "" {
		d.joinFaces(r)
	}
	if r.faulty != "" {
		d.doc.Refuse(r.at, "surface "+s.Name, "%s", r.faulty)
		return
	}
	if len(s.Faces) > 0 {
		s.Source = "faces"
	} else {
		d.doc.Note(s.Pos, "surface "+s.Name, "it has no faces (it holds %s); it supplies no level", s.Source)
	}
	d.doc.Surfaces = append(d.doc.Surfaces, *s)
}

func (d *decoder) joinFaces(r *surfaceReader) {
	s := &r.s
	// numbers may begin anywhere and have gaps; a table serves unless the gaps
	// are absurd
	var table []int32
	var sparse map[int]int32
	if r.big <= 8*len(s.Vertices)+1024 {
		table = make([]int32, r.big+1)
	} else {
		sparse = make(map[int]int32, len(s.Vertices))
	}
	index := func(id int) int32 {
		if sparse != nil {
			return sparse[id]
		}
		if id < len(table) {
			return table[id]
		}
		return 0
	}
	same := 0
	for i := range s.Vertices {
		v := &s.Vertices[i]
		if k := index(v.ID); k > 0 {
			if o := &s.Vertices[k-1]; o.E != v.E || o.N != v.N || o.Z != v.Z {
				r.faulty, r.at = fmt.Sprintf("point number %d stands twice, with different coordinates in lines %d and %d", v.ID, o.Row, v.Row), d.pos.At(v.Row, 0)
				return
			}
			same++
			continue
		}
		if sparse != nil {
			sparse[v.ID] = int32(i + 1)
		} else {
			table[v.ID] = int32(i + 1)
		}
	}
	if same > 0 {
		d.doc.Note(s.Pos, "surface "+s.Name, "%d points stand twice with the same number and coordinates", same)
	}
	for i, f := range r.faces {
		for k, id := range f {
			v := index(int(id))
			if v == 0 {
				r.faulty, r.at = fmt.Sprintf("face %d names point %d, which the surface does not have", i+1, id), s.Pos
				return
			}
			s.Faces[i].V[k] = v - 1
		}
	}
	r.faces = nil
}
