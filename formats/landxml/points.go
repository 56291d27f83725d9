package landxml

import (
	"strconv"

	"sightrail/formats"
)

// cgPoint is a point that may still have to be looked up.
type cgPoint struct {
	p     formats.Point
	ref   string // pntRef
	state uint8
	why   string // why its reference leads nowhere
}

// states of the lookup of a point.
const (
	unresolved = iota
	underway
	resolved
)

func (d *decoder) pointStart(a attrs) {
	d.points = append(d.points, cgPoint{ref: a.text("pntRef"),
		p: formats.Point{Row: d.row, Col: d.at, ID: a.text("name"), Code: a.text("code"), Desc: a.text("desc"), Time: a.text("timeStamp")}})
	d.collect()
}

func (d *decoder) pointEnd() {
	p := &d.points[len(d.points)-1].p
	v, n, bad := d.coordinates(d.collected())
	at := d.pos.At(d.textRow, d.textCol)
	switch {
	case bad != nil:
		d.refuseAt(at, "point "+p.ID, "%s is not a coordinate", shorten(bad))
		p.Bad = "its coordinates are not numbers"
	case n == 1 || n > 3:
		d.refuseAt(at, "point "+p.ID, "%s where northing, easting and level are wanted", numbersOf(n))
		p.Bad = "its coordinates are not northing, easting and level"
	default:
		if n >= 2 {
			p.N, p.E, p.Placed = v[0], v[1], true
		}
		if n == 3 {
			p.Z, p.Levelled = v[2], true
		}
	}
}

// finishPoints resolves references and tells of levels that may be none.
func (d *decoder) finishPoints() {
	var names map[string][]int
	zero, levelled, nowhere := 0, 0, 0
	for i := range d.points {
		c := &d.points[i]
		if c.ref != "" && !c.p.Placed && c.p.Bad == "" {
			if names == nil {
				names = d.pointNames()
			}
			d.resolvePoint(names, i, 0)
			if c.why != "" {
				d.refuseAt(d.pos.At(c.p.Row, c.p.Col), "point "+c.p.ID, "%s", c.why)
				c.p.Bad = c.why
			}
		}
		switch {
		case c.p.Levelled:
			levelled++
			if c.p.Z.Coef == 0 {
				zero++
			}
		case !c.p.Placed && c.p.Bad == "":
			nowhere++
		}
	}
	if zero > 1 && zero < levelled || zero > 10 {
		d.note(d.pos, "elevation", "%d of %d points have a level of exactly 0; if that means \"no level\", leave them out", zero, levelled)
	}
	if nowhere > 0 {
		d.note(d.pos, "CgPoint", "points without coordinates: %d", nowhere)
	}
}

func (d *decoder) pointNames() map[string][]int {
	names := make(map[string][]int, len(d.points))
	for i := range d.points {
		if n := d.points[i].p.ID; n != "" {
			names[n] = append(names[n], i)
		}
	}
	return names
}

// resolvePoint gives a point the place of the one it refers to, through a chain
// of references, or says why it cannot.
func (d *decoder) resolvePoint(names map[string][]int, i, depth int) {
	c := &d.points[i]
	if c.state == resolved || c.p.Placed || c.p.Bad != "" || c.ref == "" {
		return
	}
	c.state = underway
	var o *cgPoint
	if o, c.why = d.named(names, c.ref, depth); o != nil {
		c.p.N, c.p.E, c.p.Z, c.p.Placed, c.p.Levelled = o.p.N, o.p.E, o.p.Z, o.p.Placed, o.p.Levelled
	}
	c.state = resolved
}

// named returns the point of a name, or why there is none to be used.
func (d *decoder) named(names map[string][]int, ref string, depth int) (*cgPoint, string) {
	why := func(what string) (*cgPoint, string) {
		return nil, "it refers to point " + strconv.Quote(ref) + ", which " + what
	}
	if depth == formats.MaxDepth {
		return why("refers on and on to others")
	}
	var found *cgPoint
	for _, k := range names[ref] {
		c := &d.points[k]
		if c.state == underway {
			return why("refers back to it, in a circle")
		}
		d.resolvePoint(names, k, depth+1)
		switch {
		case c.why != "":
			return nil, c.why
		case c.p.Bad != "":
			return why("could not be read")
		case found == nil:
			found = c
		case !same(c.p.N, found.p.N) || !same(c.p.E, found.p.E) || !same(c.p.Z, found.p.Z) || c.p.Placed != found.p.Placed || c.p.Levelled != found.p.Levelled:
			return why("stands in the file twice with different coordinates")
		}
	}
	switch {
	case found == nil:
		return why("is not in the file")
	case !found.p.Placed:
		return why("has no coordinates")
	}
	return found, ""
}

// handOver fills the document, or hands the points over in batches.
func (d *decoder) handOver() error {
	d.doc.PointCount = len(d.points)
	if d.opt.Points == nil {
		if len(d.points) > 0 {
			d.doc.Points = make([]formats.Point, len(d.points))
		}
		for i := range d.points {
			d.doc.Points[i] = d.points[i].p
		}
		return nil
	}
	batch := make([]formats.Point, 0, min(len(d.points), formats.BatchSize))
	for i := range d.points {
		if batch = append(batch, d.points[i].p); len(batch) == formats.BatchSize || i == len(d.points)-1 {
			if err := d.opt.Points(d.pos, batch); err != nil {
				return err
			}
			batch = batch[:0]
		}
	}
	return nil
}
