package align

import (
	"fmt"
	"math"

	"sightrail/formats/unit"
)

// maxRadius is the largest radius that an arc or the end of a clothoid may have.
const maxRadius = 1000 * 1000 * unit.Metre

// arcOf is a circular arc. Everything is measured from its start, along and across
// the direction there, so that the error grows with its length and not with its
// radius.
type arcOf struct {
	from, to Place
	t0, t1   vec     // directions at the ends
	radius   float64 // metres
	sweep    float64 // radians, above 0
	side     float64 // +1 turns left, -1 right
	length   unit.Length
}

func (b *builder) arc(i int, e *Element) piece {
	a := b.shapeArc(i, e)
	if a == nil {
		return nil
	}
	a.length = inMetres(a.radius * a.sweep)
	if a.length <= 0 || a.length > extent {
		b.bad(i, Malformed, "has no usable length; check its ends and its centre")
		return nil
	}
	if e.Length.Set && e.Turn != 0 && (e.Length.L-a.length).Abs() > b.Fit && e.Start != e.End {
		if other := inMetres(a.radius * (2*math.Pi - a.sweep)); (e.Length.L - other).Abs() <= b.Fit {
			b.off(i, WrongLength, true, e.Length.L-a.length, fmt.Sprintf("is stated to turn %s, which makes it %s long, and to be %s long, which is the arc that turns the other way; correct one of them",
				e.Turn, text(a.length, b.In), text(e.Length.L, b.In)))
			return a
		}
	}
	b.fits(i, e, a.length)
	return a
}

// shapeArc finds radius, sweep and side of an arc; nil, with a flaw, when there is
// none.
func (b *builder) shapeArc(i int, e *Element) *arcOf {
	v := between(e.Start, e.End)
	half := v.size() / 2
	switch {
	case e.Start == e.End && (!e.Centre.Set || !e.Length.Set || e.Length.L == 0):
		b.left(i)
		return nil
	case e.Start == e.End:
		return b.circle(i, e)
	case !e.Centre.Set && !e.Radius.Set:
		b.bad(i, Malformed, "has neither centre nor radius; give one")
		return nil
	}
	chord := v.times(1 / v.size())
	var across float64 // from the middle of the chord to the centre, + to the left
	if e.Centre.Set {
		to := between(e.Start, e.Centre.Place)
		across = chord.cross(to)
		r0, r1 := to.size(), between(e.End, e.Centre.Place).size()
		moved := math.Abs(r0 - r1)
		if e.Length.Set && e.Length.L.Metres() > math.Pi*r0 { // more than half a circle: its far side moves as the centre does
			moved = max(moved, math.Abs(chord.dot(to)-half))
		}
		if by := inMetres(moved); by > b.Fit {
			b.off(i, WrongRadius, true, by, fmt.Sprintf("has its start %s and its end %s from its centre; both are its radius, so one of the three places is wrong; correct the file, or state a larger tolerance",
				text(inMetres(r0), b.In), text(inMetres(r1), b.In)))
			return nil
		}
		if r := math.Hypot(half, across); e.Radius.Set {
			if by := e.Radius.L - inMetres(r); by.Abs() > b.Fit {
				b.off(i, WrongRadius, true, by, fmt.Sprintf("is stated to have a radius of %s; by its coordinates it has %s, a difference of %s; correct the file, or state a larger tolerance",
					text(e.Radius.L, b.In), text(inMetres(r), b.In), mm(by)))
				return nil
			}
		}
	} else {
		r := e.Radius.L.Metres()
		if by := inMetres(half - r); by > b.Fit {
			b.off(i, WrongRadius, true, by, fmt.Sprintf("has a radius of %s and ends %s apart, which is more than two radii; correct the file",
				text(e.Radius.L, b.In), text(inMetres(2*half), b.In)))
			return nil
		}
		across = math.Sqrt(max(0, (r-half)*(r+half)))
		if e.Turn == 0 {
			b.bad(i, Malformed, "has a radius and no centre, and it is not said to which side it turns; say which")
			return nil
		}
		if e.Length.Set && e.Length.L.Metres() > math.Pi*r {
			across = -across
		}
		across *= float64(e.Turn)
	}
	a := &arcOf{from: e.Start, to: e.End, radius: math.Hypot(half, across), side: float64(e.Turn)}
	if a.side == 0 {
		if a.side = b.sideByLength(i, e, half, across); a.side == 0 {
			return nil
		}
	}
	if a.radius > maxRadius.Metres() {
		b.bad(i, Malformed, "has a radius of more than 1,000 km; make it a line")
		return nil
	}
	d := across * a.side
	a.sweep = 2 * math.Atan2(half, d)
	cos, sin := d/a.radius, half/a.radius
	a.t0, a.t1 = chord.turned(cos, -a.side*sin), chord.turned(cos, a.side*sin)
	return a
}

// sideByLength finds the turn that makes an arc as long as it is stated to be.
func (b *builder) sideByLength(i int, e *Element, half, across float64) float64 {
	if !e.Length.Set {
		b.bad(i, Malformed, "does not say to which side it turns, nor how long it is; say one of them")
		return 0
	}
	r := math.Hypot(half, across)
	for _, side := range []float64{1, -1} {
		if by := inMetres(2*r*math.Atan2(half, across*side)) - e.Length.L; by.Abs() <= b.Fit {
			return side
		}
	}
	b.bad(i, Malformed, fmt.Sprintf("does not say to which side it turns, and neither of the two arcs about its centre is %s long; correct the file", text(e.Length.L, b.In)))
	return 0
}

// circle is an arc that ends where it started.
func (b *builder) circle(i int, e *Element) *arcOf {
	to := between(e.Start, e.Centre.Place)
	if to.size() == 0 || to.size() > maxRadius.Metres() || e.Turn == 0 {
		b.bad(i, Malformed, "is a whole circle without a usable radius or sense of turning; correct the file")
		return nil
	}
	a := &arcOf{from: e.Start, to: e.End, radius: to.size(), sweep: 2 * math.Pi, side: float64(e.Turn)}
	a.t0 = to.right().times(a.side / a.radius)
	a.t1 = a.t0
	return a
}

func (a *arcOf) size() unit.Length            { return a.length }
func (a *arcOf) ends() (start, end Place)     { return a.from, a.to }
func (a *arcOf) directions() (start, end vec) { return a.t0, a.t1 }
func (a *arcOf) before(p Place) bool          { return between(a.from, p).dot(a.t0) < 0 }
func (a *arcOf) after(p Place) bool           { return between(a.to, p).dot(a.t1) > 0 }

func (a *arcOf) feet(to []foot, p Place) []foot {
	v := between(a.from, p)
	x, y := v.dot(a.t0), a.side*a.t0.cross(v) // y towards the centre
	r := math.Hypot(x, a.radius-y)
	if r < slack {
		return append(to, foot{offset: inMetres(-a.side * a.radius), centre: true})
	}
	angle := math.Atan2(x, a.radius-y)
	// towards the centre from the near foot: radius - r, without cancelling
	in := (2*a.radius*y - (x*x + y*y)) / (r + a.radius)
	to = a.foot(to, angle, in)
	return a.foot(to, angle+math.Pi, a.radius+r)
}

// foot appends the foot at an angle from the start when it is on the arc. in is
// how far the place is from it towards the centre.
func (a *arcOf) foot(to []foot, angle, in float64) []foot {
	s := angle * a.radius
	if s < -slack {
		s = (angle + 2*math.Pi) * a.radius
	}
	if s > a.radius*a.sweep+slack {
		return to
	}
	return append(to, foot{along: min(max(inMetres(s), 0), a.length), offset: inMetres(-a.side * in)})
}

func (a *arcOf) at(along, offset unit.Length) (Place, vec, error) {
	angle := along.Metres() / a.radius
	sin, cos := math.Sincos(angle / 2)
	v := a.t0.turned(cos, a.side*sin).times(2 * a.radius * sin)
	sin, cos = math.Sincos(angle)
	dir := a.t0.turned(cos, a.side*sin)
	p, err := a.from.plus(v.sub(dir.right().times(-offset.Metres())))
	return p, dir, err
}
