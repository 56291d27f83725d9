package align

import (
	"fmt"
	"math"

	"sightrail/formats/unit"
)

// maxTurn is the largest angle, in radians, that a clothoid may turn through.
const maxTurn = 2 * math.Pi

// spiral is a clothoid in its own frame: x along the direction at its start, y to
// the side it turns to; its curvature runs evenly from k0 to k1, neither negative.
type spiral struct {
	k0, k1 float64      // 1/m
	length float64      // m
	step   float64      // length of a panel
	knots  []complex128 // where the panels start
}

// newSpiral makes a spiral; no panel turns by more than one radian.
func newSpiral(k0, k1, length float64) *spiral {
	c := &spiral{k0: k0, k1: k1, length: length}
	n := max(1, int(math.Ceil(max(k0, k1)*length)))
	c.step = length / float64(n)
	c.knots = make([]complex128, n)
	for i := 1; i < n; i++ {
		c.knots[i] = c.knots[i-1] + c.panel(float64(i-1)*c.step, float64(i)*c.step)
	}
	return c
}

// curvature and angle after a length s.
func (c *spiral) curvature(s float64) float64 { return c.k0 + (c.k1-c.k0)*(s/c.length) }
func (c *spiral) angle(s float64) float64     { return s * (c.k0 + (c.k1-c.k0)*(s/c.length)/2) }

// Gauss-Legendre quadrature with 8 points: over one radian its error is below
// 1e-19 of the length.
var (
	gaussAt     = [4]float64{0.18343464249564980494, 0.52553240991632898582, 0.79666647741362673959, 0.96028985649753623168}
	gaussWeight = [4]float64{0.36268378337836198297, 0.31370664587788728734, 0.22238103445337447054, 0.10122853629037625915}
)

// panel integrates the direction from s0 to s1, which are in one panel.
func (c *spiral) panel(s0, s1 float64) complex128 {
	half, middle := (s1-s0)/2, (s1+s0)/2
	var x, y float64
	for i, at := range gaussAt {
		sin0, cos0 := math.Sincos(c.angle(middle - half*at))
		sin1, cos1 := math.Sincos(c.angle(middle + half*at))
		x += gaussWeight[i] * (cos0 + cos1)
		y += gaussWeight[i] * (sin0 + sin1)
	}
	return complex(x*half, y*half)
}

// point after a length s.
func (c *spiral) point(s float64) complex128 {
	i := min(max(int(s/c.step), 0), len(c.knots)-1)
	return c.knots[i] + c.panel(float64(i)*c.step, s)
}

// sight is how a place is seen from the point after a length s: how far ahead
// along the direction there, and how far to the side of the turn.
type sight struct{ s, ahead, aside, k, angle float64 }

func (c *spiral) sight(p complex128, s float64) sight {
	d := p - c.point(s)
	angle := c.angle(s)
	sin, cos := math.Sincos(angle)
	return sight{s, real(d)*cos + imag(d)*sin, imag(d)*cos - real(d)*sin, c.curvature(s), angle}
}

// feet returns where the perpendiculars from a place stand.
//
// With the angle as variable, what is ahead, f, obeys f” + f = -(radius)', whose
// right side has one sign. On a stretch that turns by less than π, f over
// cos(angle - middle) has therefore at most one stationary point, and f at most
// two zeros, one on either side of it. So none is missed.
// first and last are the sights from its ends.
func (c *spiral) feet(p complex128) (feet []sight, first, last sight) {
	n := max(1, int(math.Ceil(max(c.k0, c.k1)*c.length/(math.Pi/2))))
	at := func(s float64) sight { return c.sight(p, s) }
	first = at(0)
	from := first
	for i := 1; i <= n; i++ {
		to := at(c.length * float64(i) / float64(n))
		middle := (from.angle + to.angle) / 2
		slope := func(v sight) float64 { // that of f/cos, times a positive factor
			sin, cos := math.Sincos(v.angle - middle)
			return (v.k*v.aside-1)*cos + v.k*v.ahead*sin
		}
		if (slope(from) < 0) != (slope(to) < 0) {
			still := zero(from, to, at, func(v sight) (float64, float64) { return slope(v), 0 })
			feet = c.between(feet, from, still, at)
			feet = c.between(feet, still, to, at)
		} else {
			feet = c.between(feet, from, to, at)
		}
		from = to
	}
	return feet, first, from
}

// between appends the foot between two sights, if there is one.
func (c *spiral) between(feet []sight, from, to sight, at func(float64) sight) []sight {
	if len(feet) > 0 && to.s-feet[len(feet)-1].s < slack { // found at the end of the stretch before
		return feet
	}
	if from.ahead == 0 {
		return append(feet, from)
	}
	if to.ahead == 0 {
		return append(feet, to)
	}
	if (from.ahead < 0) == (to.ahead < 0) {
		return feet
	}
	foot := zero(from, to, at, func(v sight) (float64, float64) { return v.ahead, v.k*v.aside - 1 })
	if len(feet) > 0 && foot.s-feet[len(feet)-1].s < slack {
		return feet
	}
	return append(feet, foot)
}

// zero finds the one change of sign of f between two sights: by Newton's steps
// where f has a slope, and by halves where it has none or the step leaves the
// bracket.
func zero(from, to sight, at func(float64) sight, f func(sight) (value, slope float64)) sight {
	start, _ := f(from)
	end, _ := f(to)
	lo, hi := from.s, to.s
	guess := lo + (hi-lo)*(start/(start-end)) // where a straight line between the two has it
	if !(guess > lo && guess < hi) {
		guess = (lo + hi) / 2
	}
	v := at(guess)
	for range 200 {
		value, slope := f(v)
		if value == 0 {
			return v
		}
		if (value < 0) == (start < 0) {
			lo = v.s
		} else {
			hi = v.s
		}
		next := (lo + hi) / 2
		if slope != 0 {
			if newton := v.s - value/slope; newton > lo && newton < hi {
				next = newton
			} else if d := math.Abs(value / slope); d < 1e-13 {
				return v
			}
		}
		if math.Abs(next-v.s) < 1e-13 || next <= lo || next >= hi {
			return v
		}
		v = at(next)
	}
	return v
}

// clothoidOf is a clothoid between its ends.
type clothoidOf struct {
	*spiral
	from, to Place
	t0, t1   vec
	side     float64 // +1 turns left, -1 right
	whole    unit.Length
}

func (b *builder) clothoid(i int, e *Element) piece {
	if e.Start == e.End {
		b.left(i)
		return nil
	}
	var k0, k1 float64
	if e.StartRadius.Set {
		k0 = 1 / e.StartRadius.L.Metres()
	}
	if e.EndRadius.Set {
		k1 = 1 / e.EndRadius.L.Metres()
	}
	stated := e.Length.L.Metres()
	side := b.sideByPI(i, e)
	switch {
	case !e.Length.Set || stated == 0:
		b.bad(i, Malformed, "has no length; without it, its shape is not known")
		return nil
	case k0 == 0 && k1 == 0:
		b.bad(i, Malformed, "is straight at both ends; give a radius, or make it a line")
		return nil
	case (k0+k1)/2*stated > maxTurn:
		b.bad(i, Malformed, "turns by more than a whole circle; check its length and its radii")
		return nil
	case side == 0:
		return nil
	}
	v := between(e.Start, e.End)
	c := newSpiral(k0, k1, stated)
	chord := c.point(stated)
	size := math.Hypot(real(chord), imag(chord))
	if by := inMetres(size - v.size()); by.Abs() > b.Fit {
		b.off(i, WrongLength, true, by, fmt.Sprintf("has ends %s apart; with its length and its radii they would be %s apart, a difference of %s; correct the file, or state a larger tolerance",
			text(inMetres(v.size()), b.In), text(inMetres(size), b.In), mm(by)))
		return nil
	}
	scale := v.size() / size
	c = newSpiral(k0/scale, k1/scale, stated*scale)
	// the direction at the start is that of the chord, turned back by the angle
	// between the two
	cos, sin := real(chord)/size, imag(chord)/size
	t0 := v.times(1/v.size()).turned(cos, -side*sin)
	sin, cos = math.Sincos(c.angle(c.length))
	p := &clothoidOf{spiral: c, from: e.Start, to: e.End, t0: t0, t1: t0.turned(cos, side*sin), side: side, whole: inMetres(c.length)}
	b.checkPI(i, e, p)
	return p
}

// sideByPI finds the turn of a clothoid, and compares it with the point of
// intersection; 0, with a flaw, when it is not known.
func (b *builder) sideByPI(i int, e *Element) float64 {
	turn := e.Turn
	if e.PI.Set {
		v, pi := between(e.Start, e.End), between(e.Start, e.PI.Place)
		if across := v.cross(pi) / v.size(); math.Abs(across) > b.Fit.Metres() {
			by := ToLeft
			if across > 0 {
				by = ToRight
			}
			if turn != 0 && turn != by {
				b.bad(i, WrongPI, fmt.Sprintf("is stated to turn %s; by its ends and its PI it turns %s; correct one of them", turn, by))
				return 0
			}
			turn = by
		}
	}
	if turn == 0 {
		b.bad(i, Malformed, "does not say to which side it turns; say which")
	}
	return float64(turn)
}

// checkPI compares the stated point of intersection with the tangents.
func (b *builder) checkPI(i int, e *Element, p *clothoidOf) {
	if !e.PI.Set {
		return
	}
	off := max(math.Abs(p.t0.cross(between(p.from, e.PI.Place))), math.Abs(p.t1.cross(between(p.to, e.PI.Place))))
	if by := inMetres(off); by > b.Fit {
		b.off(i, WrongPI, false, by, fmt.Sprintf("has its PI %s off the tangents that its ends, length and radii give; it may not be a clothoid", mm(by)))
	}
}

func (c *clothoidOf) size() unit.Length            { return c.whole }
func (c *clothoidOf) ends() (start, end Place)     { return c.from, c.to }
func (c *clothoidOf) directions() (start, end vec) { return c.t0, c.t1 }
func (c *clothoidOf) before(p Place) bool          { return between(c.from, p).dot(c.t0) < 0 }
func (c *clothoidOf) after(p Place) bool           { return between(c.to, p).dot(c.t1) > 0 }

func (c *clothoidOf) feet(to []foot, p Place) []foot {
	v := between(c.from, p)
	local := complex(v.dot(c.t0), c.side*c.t0.cross(v))
	feet, first, last := c.spiral.feet(local)
	add := func(v sight) {
		to = append(to, foot{along: min(max(inMetres(v.s), 0), c.whole), offset: inMetres(-c.side * v.aside)})
	}
	if math.Abs(first.ahead) < slack && (len(feet) == 0 || feet[0].s > 2*slack) {
		add(first)
	}
	for _, v := range feet {
		add(v)
	}
	if math.Abs(last.ahead) < slack && (len(feet) == 0 || feet[len(feet)-1].s < c.length-2*slack) {
		add(last)
	}
	return to
}

func (c *clothoidOf) at(along, offset unit.Length) (Place, vec, error) {
	s := min(along.Metres(), c.length)
	v := c.point(s)
	sin, cos := math.Sincos(c.angle(s))
	dir := c.t0.turned(cos, c.side*sin)
	d := c.t0.times(real(v)).sub(c.t0.right().times(c.side * imag(v)))
	p, err := c.from.plus(d.sub(dir.right().times(-offset.Metres())))
	return p, dir, err
}
