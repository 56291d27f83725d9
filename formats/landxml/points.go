package landxml

import (
	"sightrail/formats"
	"sightrail/formats/unit"
)

// cgPoint is a point that may still have to be looked up.
type cgPoint struct {
	p     formats.Point
	group int
	ref   string // pntRef
	has   int    // numbers in its text
}

func (d *decoder) pointStart(a attrs) {
	d.points = append(d.points, cgPoint{group: d.groups, ref: d.name(a, "pntRef"),
		p: formats.Point{Row: d.row, Col: d.at, ID: d.name(a, "name"), Code: d.name(a, "code"), Desc: d.name(a, "desc"), Time: a.text("timeStamp")}})
	d.collect()
}

func (d *decoder) pointEnd() {
	d.want = false
	c := &d.points[len(d.points)-1]
	var list [4]unit.Decimal
	v, ok := d.numbers(d.text, list[:0], c.p.ID)
	switch {
	case !ok:
		c.p.Bad = "its coordinates are not numbers"
	case len(v) > 3 || len(v) == 1:
		d.refuse(c.p.ID, "%d numbers where northing, easting and level are wanted", len(v))
		c.p.Bad = "its coordinates are not northing, easting and level"
	default:
		c.has = len(v)
		if len(v) >= 2 {
			c.p.N, c.p.E, c.p.Placed = v[0], v[1], true
		}
		if len(v) == 3 {
			c.p.Z, c.p.Levelled = v[2], true
		}
	}
}

func (c *cgPoint) copyFrom(o *cgPoint) {
	c.p.N, c.p.E, c.p.Z, c.p.Placed, c.p.Levelled = o.p.N, o.p.E, o.p.Z, o.p.Placed, o.p.Levelled
}

// finishPoints resolves references and fills the document.
func (d *decoder) finishPoints() {
	byName := map[string][]int{}
	for i := range d.points {
		if n := d.points[i].p.ID; n != "" {
			byName[n] = append(byName[n], i)
		}
	}
	zero, levelled := 0, 0
	for i := range d.points {
		c := &d.points[i]
		if c.has == 0 && c.ref != "" && c.p.Bad == "" {
			if why := d.lookup(byName, c, c.ref, 0); why != "" {
				d.doc.Refuse(d.pos.At(c.p.Row, c.p.Col), c.p.ID, "%s", why)
				c.p.Bad = why
			}
		}
		if c.p.Levelled {
			levelled++
			if c.p.Z.Coef == 0 {
				zero++
			}
		}
		d.doc.Points = append(d.doc.Points, c.p)
	}
	if zero > 1 && zero < levelled || zero > 10 {
		d.doc.Note(d.pos, "elevation", "%d of %d points have a level of exactly 0; if that means \"no level\", leave them out", zero, levelled)
	}
}

// lookup copies the place of a named point, through a chain of references.
func (d *decoder) lookup(byName map[string][]int, c *cgPoint, ref string, depth int) string {
	found := byName[ref]
	if len(found) == 0 {
		return "it refers to point \"" + ref + "\", which is not in the file"
	}
	o := &d.points[found[0]]
	for _, k := range found[1:] {
		if x := &d.points[k]; x.p.N != o.p.N || x.p.E != o.p.E || x.p.Z != o.p.Z {
			return "it refers to point \"" + ref + "\", which stands in the file twice with different coordinates"
		}
	}
	if o.has > 0 {
		c.copyFrom(o)
		return ""
	}
	if o.ref == "" {
		return "it refers to point \"" + ref + "\", which has no coordinates"
	}
	if depth >= formats.MaxDepth {
		return "it refers to point \"" + ref + "\" in a circle"
	}
	return d.lookup(byName, c, o.ref, depth+1)
}

// centerRef is a structure whose place is a named point.
type centerRef struct {
	net, structure int
	ref            string
}

func (d *decoder) finishCenters() {
	byName := map[string][]int{}
	for i := range d.points {
		byName[d.points[i].p.ID] = append(byName[d.points[i].p.ID], i)
	}
	for _, r := range d.centers {
		if r.net >= len(d.doc.Networks) {
			continue
		}
		s := &d.doc.Networks[r.net].Structures[r.structure]
		var c cgPoint
		if why := d.lookup(byName, &c, r.ref, 0); why != "" {
			d.doc.Refuse(s.Pos, s.Name, "%s", why)
			continue
		}
		s.E, s.N, s.Placed = c.p.E, c.p.N, c.p.Placed
	}
}
