package landxml

import (
	"fmt"
	"maps"
	"math"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// surfaceReader reads one Surface. Faces keep the numbers of their points until
// the surface ends, because nothing says that points come first.
type surfaceReader struct {
	s           formats.Surface
	depth       int    // of the Surface element
	fault       string // the first thing that makes it unusable
	at          formats.Pos
	vertices    pile[formats.Vertex]
	faces       pile[formats.Face] // V holds numbers of points
	definitions int
	ordered     bool // points are numbered 1, 2, 3 and so on
	largest     int  // number of a point
	stated      formats.Reading
	given       tally // what the source data holds and is not read

	line                *lineReader // the breakline or boundary that is being read
	linePile            []formats.Vertex
	linePoints          int // of all of them
	pointless, kindless int

	list struct { // of points or faces that is being read
		off int64 // where it begins
		n   int   // points or faces before it
	}

	row, id int // of the point that is being read
	hidden  bool
}

// sources are the elements of source data, with the words for them.
var sources = map[string]string{"DataPoints": "lists of points", "Breakline": "breaklines", "RetWall": "walls", "Contour": "contours",
	"Boundary": "boundaries", "PointFile": "named point files", "Chain": "chains of points", "Watershed": "watersheds"}

func (d *decoder) surfaceBegin(a attrs) {
	d.surf = &surfaceReader{s: formats.Surface{Name: a.text("name"), Desc: a.text("desc"), Pos: d.here()}, depth: len(d.path), ordered: true, given: tally{}}
}

func (r *surfaceReader) field() string { return "surface " + r.s.Name }

// surfaceFault keeps the first fault of a surface, at the current event.
func (d *decoder) surfaceFault(format string, args ...any) {
	d.surf.faultAt(d.here(), format, args...)
}

func (r *surfaceReader) faultAt(at formats.Pos, format string, args ...any) {
	if r.fault == "" {
		r.fault, r.at = fmt.Sprintf(format, args...), at
	}
}

func (d *decoder) surfaceStart(name string, a attrs) {
	r := d.surf
	switch name {
	case "P":
		if d.parent(1) == "Pnts" {
			d.pointOfSurface(a)
		}
	case "F":
		if d.parent(1) == "Faces" {
			d.faceOfSurface(a)
		}
	case "Pnts":
		r.list.off, r.list.n = d.off, r.vertices.len()
	case "Faces":
		r.list.off, r.list.n = d.off, r.faces.len()
	case "Definition":
		if r.definitions++; r.definitions > 1 {
			d.surfaceFault("it is defined twice; export it with one definition")
		}
		if strings.EqualFold(a.text("surfType"), "grid") {
			d.surfaceFault("it is a grid of squares, and only triangles are read; export it as a TIN")
		}
		if t := trim(a.raw("area2DSurf")); len(t) > 0 {
			if v, _, err := unit.ParseDecimal(t); err == nil {
				r.stated = formats.Reading{Set: true, Value: v}
			}
		}
	default:
		if what := sources[name]; !d.sourceLine(name, a) && what != "" {
			r.given.add(what)
		}
	}
}

func (d *decoder) pointOfSurface(a attrs) {
	r := d.surf
	r.row = d.row
	id, ok := whole(trim(a.raw("id")))
	if !ok {
		d.surfaceFault("a point has the number %s; a whole number from 1 to 999999999 is wanted", shorten(a.raw("id")))
	}
	if a.raw("pntRef") != nil {
		d.surfaceFault("point %d takes its place from another point (pntRef), which is not read in a surface; export it with coordinates", id)
	}
	r.id = id
	d.collect()
}

func (d *decoder) faceOfSurface(a attrs) {
	i := string(trim(a.raw("i")))
	if i != "" && i != "0" && i != "1" {
		d.surfaceFault("face %d has i=%q; 1 (invisible) and 0 are known", d.surf.faces.len()+1, i)
	}
	d.surf.hidden = i == "1"
	d.collect()
}

func (d *decoder) surfaceEnd(name string) {
	r := d.surf
	switch {
	case name == "P" && d.gathering():
		if v, ok := d.vertex(d.collected()); ok {
			d.addVertex(v)
		}
	case name == "F" && d.gathering():
		if v, ok := d.corners(d.collected()); ok {
			r.addFace(v, r.hidden)
		}
	case r.line != nil:
		d.sourceLineEnd(name)
	case name == "Pnts", name == "Faces":
		d.feed.stop = nil
	case name == "Surface" && len(d.path) == r.depth:
		d.surfaceDone(r)
		d.surf = nil
	}
}

func (d *decoder) vertex(text []byte) (formats.Vertex, bool) {
	r := d.surf
	v, n, bad := d.coordinates(text)
	at := d.pos.At(d.textRow, d.textCol)
	switch {
	case bad != nil:
		r.faultAt(at, "point %d: %s is not a coordinate", r.id, shorten(bad))
	case n != 3:
		r.faultAt(at, "point %d has %s where northing, easting and level are wanted", r.id, numbersOf(n))
	default:
		return formats.Vertex{N: v[0], E: v[1], Z: v[2], ID: r.id, Row: r.row}, true
	}
	return formats.Vertex{}, false
}

func numbersOf(n int) string {
	switch n {
	case 0:
		return "no numbers"
	case 1:
		return "1 number"
	case 4:
		return "4 numbers or more"
	}
	return fmt.Sprintf("%d numbers", n)
}

func (d *decoder) corners(text []byte) (v [3]int32, ok bool) {
	face, n := d.surf.faces.len()+1, 0
	for {
		word, rest := nextWord(text)
		if len(word) == 0 {
			break
		}
		id, ok := whole(word)
		if !ok {
			d.surfaceFault("face %d names point %s; a whole number from 1 to 999999999 is wanted", face, shorten(word))
			return v, false
		}
		if n < 3 {
			v[n] = int32(id)
		}
		n++
		text = rest
	}
	if n != 3 {
		d.surfaceFault("face %d has %d points; only triangles are read: export the surface as a TIN", face, n)
		return v, false
	}
	return v, true
}

// addVertex adds a point.
func (d *decoder) addVertex(v formats.Vertex) {
	r := d.surf
	if r.vertices.len() == formats.MaxVertices {
		d.surfaceFault("it has more than %d points, the most that is read", formats.MaxVertices)
		return
	}
	r.vertices.add(v)
	r.numbered(v.ID)
}

// numbered takes note of the number of the point that was added.
func (r *surfaceReader) numbered(id int) {
	r.ordered = r.ordered && id == r.vertices.len()
	r.largest = max(r.largest, id)
}

// expected is how many points or faces there may be in the end, after n, of
// which the last ends i bytes behind the last event: as many as fill the rest
// of the file; 0 when its size is not known.
func (d *decoder) expected(n, i int) int {
	l := &d.surf.list
	at := d.off + int64(i)
	if read, rest := at-l.off, d.opt.Bytes-at; n > l.n && read > 0 && rest > 0 {
		return n + int(float64(rest)/float64(read)*float64(n-l.n))
	}
	return 0
}

// addFace adds a triangle by the numbers of its points.
func (r *surfaceReader) addFace(v [3]int32, hidden bool) {
	if hidden {
		r.s.Invisible++
	}
	r.faces.add(formats.Face{V: v, Invisible: hidden})
}

// surfaceDone ends a surface. One that cannot be trusted is refused whole.
func (d *decoder) surfaceDone(r *surfaceReader) {
	s := &r.s
	if r.fault == "" {
		d.join(r)
	}
	if r.fault != "" {
		d.refuseAt(r.at, r.field(), "%s", r.fault)
		return
	}
	d.notesOfLines(r)
	given := r.given.String()
	if len(s.Faces) == 0 {
		given = r.whatThereIs()
	}
	switch {
	case len(s.Faces) > 0:
		s.Source = "faces"
		if given != "" {
			d.note(s.Pos, r.field(), "its source data is not read, because it has faces: %s", given)
		}
	case len(s.Vertices) > 0:
		s.Source = "points without faces"
	case given != "":
		s.Source = given
	default:
		s.Source = "nothing"
	}
	if len(s.Faces) == 0 {
		d.note(s.Pos, r.field(), "it has no faces (it holds %s); it supplies no level", s.Source)
	}
	if r.stated.Set && len(s.Faces) > 0 {
		d.areas = append(d.areas, statedArea{s.Name, s.Pos, near(r.stated.Value), visibleArea(s)})
	}
	d.doc.Surfaces = append(d.doc.Surfaces, *s)
}

// whatThereIs names all of the source data, read or not.
func (r *surfaceReader) whatThereIs() string {
	all := maps.Clone(r.given)
	for _, x := range []struct {
		what string
		n    int
	}{{sources["Breakline"], len(r.s.Breaklines)}, {sources["Boundary"], len(r.s.Boundaries)}} {
		if x.n > 0 {
			all[x.what] += x.n
		}
	}
	return all.String()
}

// join turns the numbers of points in faces into indices.
func (d *decoder) join(r *surfaceReader) {
	s := &r.s
	s.Vertices, s.Faces = r.vertices.join(), r.faces.join()
	var index *pointIndex // nil: point n is the nth
	if !r.ordered {
		index = d.number(r)
	}
	flat, last := 0, int32(len(s.Vertices))
	for i := range s.Faces {
		v := &s.Faces[i].V
		if v[0] == v[1] || v[1] == v[2] || v[2] == v[0] {
			flat++
		}
		for k, id := range v {
			at := id
			if index != nil {
				at = index.of(int(id))
			}
			if at == 0 || at > last {
				r.faultAt(s.Pos, "face %d names point %d, which the surface does not have", i+1, id)
				return
			}
			v[k] = at - 1
		}
	}
	if flat > 0 {
		d.note(s.Pos, r.field(), "faces that name a point twice and have no area: %d", flat)
	}
}

// number makes the index of the points. A point that stands twice with one
// number and place is dropped; two places under one number are a fault.
func (d *decoder) number(r *surfaceReader) *pointIndex {
	s := &r.s
	index := newIndex(r)
	kept := s.Vertices[:0]
	for _, v := range s.Vertices {
		k := index.of(v.ID)
		if k == 0 {
			kept = append(kept, v)
			index.set(v.ID, len(kept))
			continue
		}
		if o := &kept[k-1]; !same(o.E, v.E) || !same(o.N, v.N) || !same(o.Z, v.Z) {
			r.faultAt(d.pos.At(v.Row, 0), "point %d stands twice, with different coordinates in lines %d and %d", v.ID, o.Row, v.Row)
		}
	}
	if twins := len(s.Vertices) - len(kept); twins > 0 {
		d.note(s.Pos, r.field(), "points that stand twice with the same number and coordinates, read once: %d", twins)
	}
	s.Vertices = kept
	return index
}

// pointIndex finds points by their numbers, which may begin anywhere and have
// gaps: in a table, or in a map when the gaps are absurd.
type pointIndex struct {
	table  []int32
	sparse map[int]int32
}

func newIndex(r *surfaceReader) *pointIndex {
	if r.largest <= 8*len(r.s.Vertices)+1024 {
		return &pointIndex{table: make([]int32, r.largest+1)}
	}
	return &pointIndex{sparse: make(map[int]int32, len(r.s.Vertices))}
}

// of returns the index of a point from 1, or 0.
func (x *pointIndex) of(id int) int32 {
	switch {
	case x.sparse != nil:
		return x.sparse[id]
	case id < len(x.table):
		return x.table[id]
	}
	return 0
}

func (x *pointIndex) set(id, index int) {
	if x.sparse != nil {
		x.sparse[id] = int32(index)
	} else {
		x.table[id] = int32(index)
	}
}

// statedArea is the plan area a file states for a surface, and that of its
// visible faces.
type statedArea struct {
	name           string
	pos            formats.Pos
	stated, facing float64
}

func visibleArea(s *formats.Surface) float64 {
	sum := 0.0
	n0, e0 := near(s.Vertices[0].N), near(s.Vertices[0].E)
	for i := range s.Faces {
		if s.Faces[i].Invisible {
			continue
		}
		var n, e [3]float64
		for k, v := range s.Faces[i].V {
			n[k], e[k] = near(s.Vertices[v].N)-n0, near(s.Vertices[v].E)-e0
		}
		sum += math.Abs((n[1]-n[0])*(e[2]-e[0])-(n[2]-n[0])*(e[1]-e[0])) / 2
	}
	return sum
}

// finishAreas compares stated areas, where they are in the square of the unit
// of lengths. A surface that has lost its marks of invisible faces shows here.
func (d *decoder) finishAreas() {
	squares := map[string]unit.Unit{"squaremeter": unit.M, "squaremillimeter": unit.MM, "squarecentimeter": unit.CM, "squarefoot": unit.Ft, "squareinch": unit.In, "squaremiles": unit.Mile}
	linear := d.doc.Units.Linear
	if linear == unit.FtUS {
		linear = unit.Ft
	}
	if len(d.units) == 0 || squares[strings.ToLower(d.units[0].area)] != linear {
		return
	}
	for _, a := range d.areas {
		if math.Abs(a.stated-a.facing) > 0.001*a.facing {
			d.note(a.pos, "surface "+a.name, "the file states a plan area of %.3f and its visible faces cover %.3f; faces may be missing, or invisible ones not marked", a.stated, a.facing)
		}
	}
}
