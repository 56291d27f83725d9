package landxml

import (
	"slices"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// lineReader reads one Breakline or Boundary of the source data of a surface.
type lineReader struct {
	points   []formats.Vertex
	levelled bool
	lists    int
	depth    int
	line     formats.Breakline
	bound    formats.Boundary
}

// sourceLine handles what is inside the source data; it reports whether the
// element was one of its own.
func (d *decoder) sourceLine(name string, a attrs) bool {
	r := d.surf
	switch {
	case name == "Breakline" && r.line == nil && d.parent(1) == "Breaklines" && d.parent(2) == "SourceData":
		r.line = &lineReader{depth: len(d.path), line: formats.Breakline{Name: a.text("name"), Desc: a.text("desc"), State: d.state(a),
			Kind: d.choice(a, "brkType", "standard", "wall", "proximity", "nondestructive"), Pos: d.here()}}
	case name == "Boundary" && r.line == nil && d.parent(1) == "Boundaries" && d.parent(2) == "SourceData":
		r.line = &lineReader{depth: len(d.path), bound: formats.Boundary{Name: a.text("name"), Desc: a.text("desc"), State: d.state(a),
			Kind: d.choice(a, "bndType", "outer", "void", "island"), EdgeTrim: d.yes(a, "edgeTrim"), Pos: d.here()}}
		if r.line.bound.Kind == "" {
			r.kindless++
		}
	case r.line != nil && len(d.path) == r.line.depth+1 && (name == "PntList2D" || name == "PntList3D"):
		if r.line.lists++; r.line.lists > 1 {
			d.surfaceFault("the %s %q has two lists of points; which of them holds cannot be told", r.line.what(), r.line.name())
		}
		r.line.levelled = name == "PntList3D"
		d.collect()
	default:
		return false
	}
	return true
}

func (l *lineReader) what() string {
	if l.bound.Pos.Row > 0 {
		return "boundary"
	}
	return "breakline"
}

func (l *lineReader) name() string { return l.line.Name + l.bound.Name }

// sourceLineEnd ends a list or a line.
func (d *decoder) sourceLineEnd(name string) {
	r := d.surf
	l := r.line
	switch {
	case d.gathering() && (name == "PntList2D" || name == "PntList3D"):
		size := 2
		if l.levelled {
			size = 3
		}
		r.linePile = r.linePile[:0]
		why, at := d.numbers(d.collected(), size, func(v [3]unit.Decimal, row int) {
			if r.linePoints < formats.MaxVertices {
				r.linePoints++
				r.linePile = append(r.linePile, formats.Vertex{N: v[0], E: v[1], Z: v[2], Row: row})
				return
			}
			d.surfaceFault("its breaklines and boundaries have more than %d points, the most that is read", formats.MaxVertices)
		})
		l.points = slices.Clone(r.linePile)
		if why != "" {
			r.faultAt(at, "%s %q: %s", l.what(), l.name(), why)
		}
	case len(d.path) == l.depth:
		r.line = nil
		switch {
		case len(l.points) == 0:
			r.pointless++
		case l.what() == "boundary":
			l.bound.Points, l.bound.Levelled = l.points, l.levelled
			r.s.Boundaries = append(r.s.Boundaries, l.bound)
		default:
			l.line.Points, l.line.Levelled = l.points, l.levelled
			r.s.Breaklines = append(r.s.Breaklines, l.line)
		}
	}
}

// notesOfLines says what is odd about the source lines of a surface.
func (d *decoder) notesOfLines(r *surfaceReader) {
	if r.pointless > 0 {
		d.note(r.s.Pos, r.field(), "breaklines and boundaries without points, which are left out: %d", r.pointless)
	}
	if r.kindless > 0 {
		d.note(r.s.Pos, r.field(), "boundaries that do not say whether they are outer, void or island: %d", r.kindless)
	}
}
