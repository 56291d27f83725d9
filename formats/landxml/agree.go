package landxml

import (
	"fmt"
	"math"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// A LandXML file says most of an alignment twice: as places, and as lengths,
// radii, stations and senses of rotation. Here the two are compared. Where they
// differ by more than the tolerance a note names the amount; nothing is
// changed. Directions (dir, dirStart, dirEnd, delta, theta) are not read: files
// disagree on what they are counted from.

// closeMetres is the tolerance of all comparisons, in metres. To it comes what
// the decimals of the file leave open.
const closeMetres = 0.001

// agreement compares what one alignment says.
type agreement struct {
	d     *decoder
	r     *alignReader
	close float64 // the tolerance, in the unit of the file
	word  string  // that unit
	sum   float64 // lengths of the elements so far
	whole bool    // all of them are known
}

func (d *decoder) notesOfAlignment(r *alignReader) {
	u := d.doc.Units.Linear
	if !u.Known() {
		u = unit.M
	}
	c := &agreement{d: d, r: r, close: closeMetres * float64(unit.M.Size) / float64(u.Size), word: u.Name, whole: true}
	a := &r.a
	c.complete()
	for i := range a.Elements {
		c.element(i)
	}
	c.length()
	c.equations()
	for i := range a.Profiles {
		c.profile(&a.Profiles[i])
	}
	c.sections()
}

func (c *agreement) note(at formats.Pos, format string, args ...any) {
	c.d.note(at, c.r.field(), format, args...)
}

// amount writes a difference with its unit.
func (c *agreement) amount(x float64) string { return fmt.Sprintf("%.4f %s", math.Abs(x), c.word) }

// rounding is what the last decimals of stated numbers leave open: half of one
// each.
func rounding(list ...unit.Decimal) (sum float64) {
	for _, v := range list {
		if v.Places > 0 {
			sum += 0.5 / tens[v.Places]
		}
	}
	return sum
}

// placing is what the decimals of places leave open. The one with most decimals
// tells how all are written, because zeros at the end may be left out.
func placing(list ...*formats.Place) float64 {
	most := uint8(0)
	for _, p := range list {
		most = max(most, p.E.Places, p.N.Places)
	}
	if most == 0 {
		return 0
	}
	return 1.5 / tens[most]
}

// complete says what of the alignment is not read or not complete.
func (c *agreement) complete() {
	r := c.r
	a := &r.a
	at := a.Pos
	if n := r.unread.String(); n != "" {
		c.note(at, "these parts of it are not read: %s", n)
	}
	if !a.Stationed {
		c.note(at, "it does not say the station it begins at (staStart); its stations are unknown")
	}
	switch {
	case len(a.Elements) > 0:
	case len(a.PIs) > 0:
		c.note(at, "it has no geometry in plan (CoordGeom) but only points of intersection (AlignPIs): %d", len(a.PIs))
	default:
		c.note(at, "it has no geometry in plan (CoordGeom); no place on it can be found")
	}
	if r.flat > 0 {
		c.note(at, "radii of spirals that are written as 0, which none can have, and are read as infinite: %d", r.flat)
	}
	if r.geoms > 1 {
		c.note(at, "its geometry stands in %d parts (CoordGeom), which are joined in their order", r.geoms)
	}
	open, turns, other := 0, 0, tally{}
	for i := range a.Elements {
		e := &a.Elements[i]
		switch e.Kind {
		case "curve":
			if !e.Centre.Placed {
				open++
				continue
			}
		case "spiral":
			if e.SpiralType != "clothoid" {
				other.add(typeWord(e.SpiralType))
			} else if !e.Length.Set || !e.RadiusStart.Set || !e.RadiusEnd.Set {
				open++
				continue
			}
		}
		switch {
		case !e.Start.Placed || !e.End.Placed:
			open++
		case (e.Kind == "curve" || e.Kind == "spiral") && e.Rotation == "":
			turns++
		}
	}
	if open > 0 {
		c.note(at, "elements that lack a start, an end, a centre, a radius or a length, so that they cannot be computed: %d of %d", open, len(a.Elements))
	}
	if turns > 0 {
		c.note(at, "curves and spirals that do not say which way they turn (rot): %d", turns)
	}
	if n := other.String(); n != "" {
		c.note(at, "spirals of other types than clothoid are kept and not computed: %s", n)
	}
}

func typeWord(kind string) string {
	if kind == "" {
		return "no type given"
	}
	return kind
}

// vec is from one place to another.
type vec struct{ e, n float64 }

func between(p, q *formats.Place) vec {
	return vec{near(q.E) - near(p.E), near(q.N) - near(p.N)}
}

func (v vec) long() float64                          { return math.Hypot(v.e, v.n) }
func (v vec) dot(o vec) float64                      { return v.e*o.e + v.n*o.n }
func (v vec) cross(o vec) float64                    { return v.e*o.n - v.n*o.e } // + when o is left of v
func (c *agreement) all() []formats.AlignmentElement { return c.r.a.Elements }

// element compares one element with itself and with the one before.
func (c *agreement) element(i int) {
	e := &c.all()[i]
	if e.Station.Set && c.r.a.Stationed && c.whole {
		want := near(c.r.a.StaStart) + c.sum
		if x := near(e.Station.Value) - want; math.Abs(x) > float64(i+1)*c.close+rounding(e.Station.Value) {
			c.note(e.Pos, "the %s is said to begin at %s, and lies at %.4f by the elements before: %s apart", e.Kind, e.Station.Value, want, c.amount(x))
		}
	}
	if i > 0 {
		if p := &c.all()[i-1]; p.End.Placed && e.Start.Placed {
			if x := between(&p.End, &e.Start).long(); x > c.close+placing(&p.End, &e.Start) {
				c.note(e.Pos, "the %s begins %s from where the %s before it ends", e.Kind, c.amount(x), p.Kind)
			}
		}
	}
	length, known := 0.0, e.Start.Placed && e.End.Placed
	switch {
	case !known:
	case e.Kind == "line":
		length = between(&e.Start, &e.End).long()
		c.stated(e, length)
	case e.Kind == "curve" && e.Centre.Placed:
		length = c.curve(e)
	case e.Kind == "spiral":
		if known = e.Length.Set; known {
			length = near(e.Length.Value)
			c.spiral(i)
		}
	case e.Kind == "irregular line", e.Kind == "chain":
		length = c.irregular(e)
	default:
		known = false
	}
	c.sum += length
	c.whole = c.whole && known
}

// stated compares a stated length with that of the places.
func (c *agreement) stated(e *formats.AlignmentElement, length float64) {
	if !e.Length.Set {
		return
	}
	if x := near(e.Length.Value) - length; math.Abs(x) > c.close+placing(&e.Start, &e.End)+rounding(e.Length.Value) {
		c.note(e.Pos, "the length of the %s is stated as %s, and is %.4f by its places: %s apart", e.Kind, e.Length.Value, length, c.amount(x))
	}
}

// curve compares a curve, and returns its length.
func (c *agreement) curve(e *formats.AlignmentElement) float64 {
	s, t := between(&e.Centre, &e.Start), between(&e.Centre, &e.End)
	radius, tol := s.long(), c.close+placing(&e.Start, &e.End, &e.Centre)
	if x := t.long() - radius; math.Abs(x) > 2*tol {
		c.note(e.Pos, "the end of the curve is %.4f from its centre, and the start %.4f: %s apart", t.long(), radius, c.amount(x))
	}
	if e.Radius.Set {
		if x := math.Abs(near(e.Radius.Value)) - radius; math.Abs(x) > tol+rounding(e.Radius.Value) {
			c.note(e.Pos, "the radius of the curve is stated as %s, and is %.4f from its centre to its start: %s apart", e.Radius.Value, radius, c.amount(x))
		}
	}
	if e.PI.Placed && radius > 0 {
		if x := between(&e.Start, &e.PI).dot(s) / radius; math.Abs(x) > 2*tol {
			c.note(e.Pos, "the intersection point (PI) of the curve is off the tangent at its start by %s", c.amount(x))
		}
	}
	turn := math.Atan2(s.cross(t), s.dot(t)) // + left
	left, right := math.Mod(turn+2*math.Pi, 2*math.Pi), math.Mod(2*math.Pi-turn, 2*math.Pi)
	way, other := left, right
	switch e.Rotation {
	case "cw":
		way, other = right, left
	case "":
		way, other = math.Min(left, right), math.Max(left, right)
	}
	if e.CurveType == "chord" || radius <= tol {
		return radius * way
	}
	if !e.Length.Set {
		if way > math.Pi+tol/radius {
			c.note(e.Pos, "the curve is said to turn %s, which way it turns by %.4f degrees; the other way it turns by %.4f, and no length says which is meant", e.Rotation, way*180/math.Pi, other*180/math.Pi)
		}
		return radius * way
	}
	length := near(e.Length.Value)
	x, fits := length-radius*way, 3*tol+rounding(e.Length.Value)
	if math.Abs(x) <= fits {
		return length
	}
	if e.Rotation != "" && math.Abs(length-radius*other) <= fits {
		c.note(e.Pos, "the curve is said to turn %s, and by its places and its length of %s it turns the other way; that way it is %.4f long: %s apart", e.Rotation, e.Length.Value, radius*way, c.amount(x))
		return length
	}
	c.note(e.Pos, "the length of the curve is stated as %s, and is %.4f by its places: %s apart", e.Length.Value, radius*way, c.amount(x))
	return radius * way
}

// spiral compares a clothoid with its chord, its tangents and its neighbours.
func (c *agreement) spiral(i int) {
	e := &c.all()[i]
	chord := between(&e.Start, &e.End)
	tol := c.close + placing(&e.Start, &e.End) + rounding(e.Length.Value)
	if e.PI.Placed && e.Rotation != "" && chord.long() > tol {
		// a spiral that turns right has its tangents left of its chord
		off := chord.cross(between(&e.Start, &e.PI)) / chord.long()
		if e.Rotation == "ccw" {
			off = -off
		}
		if off < -2*tol {
			c.note(e.Pos, "the spiral is said to turn %s, and by its places it turns the other way: its intersection point (PI) is %s on the other side of its chord", e.Rotation, c.amount(off))
		}
	}
	if i > 0 {
		c.neighbour(e, &c.all()[i-1], e.RadiusStart, "start", "before", (*agreement).radiusAtEnd)
	}
	if i+1 < len(c.all()) {
		c.neighbour(e, &c.all()[i+1], e.RadiusEnd, "end", "behind", (*agreement).radiusAtStart)
	}
	length := near(e.Length.Value)
	if e.SpiralType != "clothoid" || !e.RadiusStart.Set || !e.RadiusEnd.Set || length <= 0 {
		return
	}
	k0, k1 := curvature(e.RadiusStart), curvature(e.RadiusEnd)
	if math.Abs(k0+k1)*length > 8*math.Pi {
		c.note(e.Pos, "a spiral of the length %s with these radii turns more than twice round; it cannot be compared with its places", e.Length.Value)
		return
	}
	want := clothoidChord(k0, k1, length)
	if x := chord.long() - want; math.Abs(x) > 2*tol {
		c.note(e.Pos, "a clothoid of the length %s with these radii has a chord of %.4f, and its places are %.4f from each other: %s apart", e.Length.Value, want, chord.long(), c.amount(x))
	}
}

func curvature(r formats.Radius) float64 {
	if r.Infinite || r.Value.Coef == 0 {
		return 0
	}
	return 1 / math.Abs(near(r.Value))
}

// clothoidChord is the distance between the ends of a clothoid, by Simpson's
// rule: curvature goes evenly from k0 to k1.
func clothoidChord(k0, k1, length float64) float64 {
	const n = 200
	e, m := 0.0, 0.0
	for i := range n + 1 {
		s := length * float64(i) / n
		turn := k0*s + (k1-k0)*s*s/(2*length)
		w := 2.0
		switch {
		case i == 0 || i == n:
			w = 1
		case i%2 == 1:
			w = 4
		}
		e, m = e+w*math.Cos(turn), m+w*math.Sin(turn)
	}
	return math.Hypot(e, m) * length / (3 * n)
}

// neighbour compares the radius at an end of a spiral with that of the element
// it meets there.
func (c *agreement) neighbour(e, o *formats.AlignmentElement, own formats.Radius, end, side string, of func(*agreement, *formats.AlignmentElement) (formats.Radius, float64)) {
	r, curve := of(c, o)
	if !own.Set || !r.Set {
		return
	}
	switch {
	case own.Infinite && r.Infinite:
	case own.Infinite:
		c.note(e.Pos, "the radius at the %s of the spiral is infinite, and the %s %s it has %.4f", end, o.Kind, side, curve)
	case r.Infinite:
		c.note(e.Pos, "the radius at the %s of the spiral is %s, and the %s %s it is straight there", end, own.Value, o.Kind, side)
	default:
		x := math.Abs(near(own.Value)) - curve
		if math.Abs(x) > c.close+placing(&o.Start, &o.Centre)+rounding(own.Value) {
			c.note(e.Pos, "the radius at the %s of the spiral is %s, and the %s %s it has %.4f: %s apart", end, own.Value, o.Kind, side, curve, c.amount(x))
		}
	}
}

func (c *agreement) radiusAtStart(o *formats.AlignmentElement) (formats.Radius, float64) {
	return c.radiusOf(o, o.RadiusStart)
}

func (c *agreement) radiusAtEnd(o *formats.AlignmentElement) (formats.Radius, float64) {
	return c.radiusOf(o, o.RadiusEnd)
}

func (c *agreement) radiusOf(o *formats.AlignmentElement, end formats.Radius) (formats.Radius, float64) {
	switch {
	case o.Kind == "line":
		return formats.Radius{Set: true, Infinite: true}, 0
	case o.Kind == "spiral":
		return end, math.Abs(near(end.Value))
	case o.Kind == "curve" && o.Start.Placed && o.Centre.Placed:
		return formats.Radius{Set: true}, between(&o.Start, &o.Centre).long()
	}
	return formats.Radius{}, 0
}

// irregular compares an irregular line with its list, and returns its length.
func (c *agreement) irregular(e *formats.AlignmentElement) float64 {
	length, last := 0.0, &e.Start
	for k := range e.Points {
		length += between(last, &e.Points[k]).long()
		last = &e.Points[k]
	}
	length += between(last, &e.End).long()
	if n := len(e.Points); n > 0 && e.Kind == "irregular line" {
		first, last := between(&e.Start, &e.Points[0]).long(), between(&e.Points[n-1], &e.End).long()
		if x := math.Max(first, last); x > c.close+placing(&e.Start, &e.End) {
			c.note(e.Pos, "the list of points of the irregular line does not begin and end where the line does: %s apart", c.amount(x))
		}
	}
	c.stated(e, length)
	return length
}

// length compares the length of the alignment with that of its elements.
func (c *agreement) length() {
	a := &c.r.a
	if !a.Measured || !c.whole || len(a.Elements) == 0 {
		return
	}
	if x := near(a.Length) - c.sum; math.Abs(x) > float64(len(a.Elements)+1)*c.close+rounding(a.Length) {
		c.note(a.Pos, "its length is stated as %s, and its elements are %.4f long: %s apart", a.Length, c.sum, c.amount(x))
	}
}
