package landxml

import (
	"math"

	"sightrail/formats"
)

// equations compares station equations: what ends at one is counted on from
// the one before.
func (c *agreement) equations() {
	a := &c.r.a
	for i := range a.Equations {
		q := &a.Equations[i]
		if i > 0 && near(q.Internal) < near(a.Equations[i-1].Internal) {
			c.note(q.Pos, "the station equation at %s stands behind the one at %s; they are not in their order", q.Internal, a.Equations[i-1].Internal)
			continue
		}
		if lo, hi, ok := c.span(); ok && (near(q.Internal) < lo-c.close || near(q.Internal) > hi+c.close) {
			c.note(q.Pos, "the station equation at %s is not on the alignment, which goes from %.4f to %.4f by its internal stations", q.Internal, lo, hi)
		}
		if !q.Back.Set {
			continue
		}
		want := near(q.Internal)
		if i > 0 {
			p := &a.Equations[i-1]
			on := near(q.Internal) - near(p.Internal)
			if p.Increment == "decreasing" {
				on = -on
			}
			want = near(p.Ahead) + on
		}
		if x := near(q.Back.Value) - want; math.Abs(x) > c.close+rounding(q.Back.Value, q.Internal) {
			c.note(q.Pos, "the station equation at %s says that station %s ends there, and counted on from the equation before it is %.4f: %s apart", q.Internal, q.Back.Value, want, c.amount(x))
		}
	}
}

// span is the range of internal stations.
func (c *agreement) span() (lo, hi float64, ok bool) {
	a := &c.r.a
	lo = near(a.StaStart)
	switch {
	case !a.Stationed:
		return 0, 0, false
	case c.whole && len(a.Elements) > 0:
		return lo, lo + c.sum, true
	}
	return lo, lo + near(a.Length), a.Measured
}

// profile compares a profile with itself and with the alignment.
func (c *agreement) profile(p *formats.Profile) {
	n := len(p.PVIs)
	if n == 0 {
		c.note(p.Pos, "the profile %q has no points", p.Name)
		return
	}
	if lo, hi, ok := c.span(); ok {
		tol := c.close + rounding(p.PVIs[0].Station, p.PVIs[n-1].Station)
		if x := lo - near(p.PVIs[0].Station); x > tol {
			c.note(p.Pos, "the profile %q begins %s before the alignment does", p.Name, c.amount(x))
		}
		if x := near(p.PVIs[n-1].Station) - hi; x > tol {
			c.note(p.Pos, "the profile %q goes on %s behind the end of the alignment", p.Name, c.amount(x))
		}
	}
	end := 0.0 // of the curve before
	for i := range p.PVIs {
		v := &p.PVIs[i]
		at := p.Pos.At(v.Row, v.Col)
		in, out := c.verticalCurve(p, i)
		if i > 0 {
			o := &p.PVIs[i-1]
			switch sta := near(v.Station); {
			case sta < near(o.Station):
				c.note(at, "the profile %q goes back from station %s to %s: %s", p.Name, o.Station, v.Station, c.amount(sta-near(o.Station)))
			case end-(sta-in) > 2*c.close+rounding(v.Station, o.Station):
				c.note(at, "in the profile %q the points of intersection at %s and %s are too close for their vertical curves, which overlap by %s", p.Name, o.Station, v.Station, c.amount(end-(sta-in)))
			}
		}
		end = near(v.Station) + out
	}
}

// verticalCurve says how far a vertical curve reaches before and behind its
// point of intersection, and compares a circular one with its grades.
func (c *agreement) verticalCurve(p *formats.Profile, i int) (in, out float64) {
	v := &p.PVIs[i]
	at := p.Pos.At(v.Row, v.Col)
	switch {
	case v.Curve == "":
		return 0, 0
	case i == 0 || i == len(p.PVIs)-1:
		c.note(at, "the profile %q begins or ends with a vertical curve at %s, where there is no grade on one side of it", p.Name, v.Station)
		return 0, 0
	case v.Curve == "parabola":
		return near(v.Length.Value) / 2, near(v.Length.Value) / 2
	case v.Curve == "asymmetric":
		return near(v.In.Value), near(v.Out.Value)
	}
	before, behind := &p.PVIs[i-1], &p.PVIs[i+1]
	g0 := math.Atan2(near(v.Elev)-near(before.Elev), near(v.Station)-near(before.Station))
	g1 := math.Atan2(near(behind.Elev)-near(v.Elev), near(behind.Station)-near(v.Station))
	radius, turn := near(v.Radius.Value), g1-g0 // turn + : a sag
	if radius < 0 && turn > 0 {
		c.note(at, "in the profile %q the circular curve at %s has the radius %s, which says a crest, and its grades make a sag; the grades hold", p.Name, v.Station, v.Radius.Value)
	}
	radius = math.Abs(radius)
	tangent := radius * math.Tan(math.Abs(turn)/2)
	if v.Length.Set && radius > 0 {
		length := near(v.Length.Value)
		arc, level := radius*math.Abs(turn), tangent*(math.Cos(g0)+math.Cos(g1))
		// the turn is known as well as the levels of the points are written
		tol := c.close + rounding(v.Length.Value) + radius*(c.close+rounding(v.Elev, before.Elev, behind.Elev))*(1/apart(v, before)+1/apart(behind, v))
		if x := math.Min(math.Abs(length-arc), math.Abs(length-level)); x > tol {
			c.note(at, "in the profile %q the length of the circular curve at %s is stated as %s, and by its radius and its grades it is %.4f along the arc and %.4f horizontally: %s apart; the radius holds", p.Name, v.Station, v.Length.Value, arc, level, c.amount(x))
		}
	}
	return tangent * math.Cos(g0), tangent * math.Cos(g1)
}

// apart is the horizontal distance between two points, not less than what a
// grade can be told from.
func apart(a, b *formats.PVI) float64 {
	return math.Max(math.Abs(near(a.Station)-near(b.Station)), 0.001)
}

// sections says what is odd about cross sections.
func (c *agreement) sections() {
	a := &c.r.a
	if c.r.skewed > 0 {
		c.note(a.Pos, "cross sections that are not square to the alignment (angleSkew); the angle is not read: %d", c.r.skewed)
	}
	if c.r.sloped > 0 {
		c.note(a.Pos, "points of cross sections that are given as slope and distance, kept as written: %d", c.r.sloped)
	}
	lo, hi, ok := c.span()
	off := 0
	for i := range a.Sections {
		s := near(a.Sections[i].Station)
		tol := c.close + rounding(a.Sections[i].Station)
		if ok && (s < lo-tol || s > hi+tol) {
			off++
		}
	}
	if off > 0 {
		c.note(a.Pos, "cross sections at stations that are not on the alignment: %d of %d", off, len(a.Sections))
	}
}
