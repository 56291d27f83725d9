// Package plane does the arithmetic of graded laser planes: the level of a plane
// at a place, what a staff or a machine receiver reads on it, what a misalignment
// does, and what two set-ups of a laser have drifted against each other. Numbers
// in, numbers out.
//
// A plane is z = z0 + g·s + c·t: z0 its level at the mark it was levelled on, s
// along the axis from there and t to the right of it, g and c the grades, + rises.
// The level of a staff reading is the plane at that place minus the reading; the
// reading of an inverted staff is negative. The formulas are geometry; no
// published example of a two-axis plane is known.
//
// Accuracy: along an axis between two points, and along bearings that are
// multiples of a quarter turn, s, t and levels are exact, rounded once to one
// count of Length. Along other bearings the sine and cosine are float64, each
// within 4e-16, and the rest is exact: s and t are within 6e-16 of the distance
// from the mark, 3e-12 m at 5 km. TestPlaneTwoWays and TestLevelOnHalfACount
// compare with whole numbers, TestBearingAccuracy with 300 bits.
package plane

import (
	"errors"
	"math"
	"math/big"

	"sightrail/formats/unit"
)

// Place in plan, relative to the origin of the job's frame.
type Place struct{ E, N unit.Length }

// Axis is the direction along which a grade is set. The zero Axis is none.
type Axis struct {
	e, n  *big.Float // components, over the chord
	chord *big.Float
}

// precision of the arithmetic, in bits. A level is a whole number of less than
// 2^260 over another of less than 2^126 and a root of one of less than 2^131. Such
// a number is half a count exactly or is further from it than 2^-452, and what 640
// bits round off a Length is less than 2^-570: half a count is always told.
const precision = 640

func number(x float64) *big.Float { return new(big.Float).SetPrec(precision).SetFloat64(x) }

func count(l unit.Length) *big.Float { return new(big.Float).SetPrec(precision).SetInt64(int64(l)) }

func product(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(precision).Mul(a, b) }

func total(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(precision).Add(a, b) }

func quotient(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(precision).Quo(a, b) }

// Bearing makes the axis of a grid bearing. The zero Angle, which was never read,
// makes the zero Axis.
func Bearing(a Angle) Axis {
	if !a.Given() {
		return Axis{}
	}
	sin, cos := a.sincos()
	return Axis{number(sin), number(cos), number(1)}
}

// Between makes the axis from one point to another.
func Between(from, to Place) (Axis, error) {
	if from == to {
		return Axis{}, errors.New("the two points of the axis are one place; it has no direction")
	}
	e, n := between(from, to)
	chord := new(big.Float).SetPrec(precision).Sqrt(total(product(e, e), product(n, n)))
	return Axis{e, n, chord}, nil
}

// Given reports whether the axis has a direction.
func (a Axis) Given() bool { return a.chord != nil }

// or takes another axis where there is none.
func (a Axis) or(b Axis) Axis {
	if a.Given() {
		return a
	}
	return b
}

// north is the axis of grid north.
var north = Axis{number(0), number(1), number(1)}

// Degrees is the bearing of the axis, clockwise from grid north, for print; NaN
// when there is none.
func (a Axis) Degrees() float64 {
	if !a.Given() {
		return math.NaN()
	}
	e, _ := a.e.Float64()
	n, _ := a.n.Float64()
	d := math.Atan2(e, n) * 180 / math.Pi
	if d < 0 {
		d += 360
	}
	return d
}

// along and right are s and t of a difference of places, times the chord.
func (a Axis) along(e, n *big.Float) *big.Float { return total(product(e, a.e), product(n, a.n)) }

func (a Axis) right(e, n *big.Float) *big.Float {
	m := product(n, a.e)
	return total(product(e, a.n), m.Neg(m))
}

// Plane is a graded plane.
type Plane struct {
	Origin Place       // of the levelled mark
	Level  unit.Length // of the plane at Origin: mark plus staff reading
	Along  unit.Grade  // along the axis; + rises
	Across unit.Grade  // to the right of the axis; + rises; the zero Grade is level
	Axis   Axis
}

// Coordinates are the distance of a place along the axis from the mark, and to
// the right of it. A plane without an axis has grid north for it. A place further
// off than a Length holds is at MaxLength.
func (p *Plane) Coordinates(at Place) (s, t unit.Length) { return p.coordinates(p.Origin, at) }

func (p *Plane) coordinates(from, at Place) (s, t unit.Length) {
	axis := p.Axis.or(north)
	e, n := between(from, at)
	s, err := rounded(quotient(axis.along(e, n), axis.chord))
	t, err2 := rounded(quotient(axis.right(e, n), axis.chord))
	if err != nil || err2 != nil {
		return unit.MaxLength, unit.MaxLength
	}
	return s, t
}

func between(from, to Place) (e, n *big.Float) {
	return total(count(to.E), count(-from.E)), total(count(to.N), count(-from.N))
}

var errNoAxis = errors.New("the plane has a grade and no axis to run along; give it a bearing, or the two points it runs between")

// At is the level of the plane at a place, rounded once to one count. A plane
// that is level both ways needs no axis.
func (p *Plane) At(at Place) (unit.Length, error) {
	g, c := sound(p.Along), sound(p.Across)
	switch {
	case g.Rise == 0 && c.Rise == 0:
		return p.Level, nil
	case !p.Axis.Given():
		return 0, errNoAxis
	}
	// over one denominator, so that thirds and sixths add up to halves
	e, n := between(p.Origin, at)
	rise := total(product(p.Axis.along(e, n), product(count(g.Rise), count(c.Run))),
		product(p.Axis.right(e, n), product(count(c.Rise), count(g.Run))))
	runs := product(count(g.Run), count(c.Run))
	return rounded(total(count(p.Level), quotient(rise, product(runs, p.Axis.chord))))
}

// sound takes the zero Grade, which has no run, for level.
func sound(g unit.Grade) unit.Grade {
	if g.Rise == 0 || g.Run == 0 {
		return unit.Grade{Run: 1}
	}
	return g
}

// Staff is the level of the point that a staff stands on at a place: the plane
// there minus the reading. The reading of an inverted staff is negative, and its
// point is above the plane.
func (p *Plane) Staff(at Place, reading unit.Length) (unit.Length, error) {
	level, err := p.At(at)
	if err != nil {
		return 0, err
	}
	return level.Add(-reading)
}

// rounded takes the nearest count, half away from zero.
func rounded(x *big.Float) (unit.Length, error) {
	half := number(0.5)
	if x.Sign() < 0 {
		half.Neg(half)
	}
	x = total(x, half)
	if new(big.Float).Abs(x).Cmp(count(unit.MaxLength)) > 0 {
		return 0, unit.ErrRange
	}
	whole, _ := x.Int64() // towards zero
	return unit.Length(whole), nil
}

// Steepest is the steepest grade of the plane, √(g² + c²), and the bearing in
// degrees that it rises along; for print. A plane without an axis has grid north
// for it.
func (p *Plane) Steepest() (ratio, degrees float64) {
	g, c := sound(p.Along).Ratio(), sound(p.Across).Ratio()
	d := p.Axis.or(north).Degrees() + math.Atan2(c, g)*180/math.Pi
	return math.Hypot(g, c), math.Mod(d+360, 360)
}

// Toward is the grade of the plane along another axis, and to the right of it:
// what a machine that heads there has along its track and across its bar. The same
// axis gives the grades as they are; others are rounded to a count in a kilometre.
func (p *Plane) Toward(axis Axis) (along, right unit.Grade, err error) {
	g, c := sound(p.Along), sound(p.Across)
	switch {
	case !axis.Given():
		return g, c, errors.New("the direction of travel is wanting; give its bearing, or two points of it")
	case g.Rise == 0 && c.Rise == 0:
		return g, c, nil
	case !p.Axis.Given():
		return g, c, errNoAxis
	}
	chords := product(p.Axis.chord, axis.chord)
	cos, sin := p.Axis.along(axis.e, axis.n), p.Axis.right(axis.e, axis.n)
	if sin.Sign() == 0 && cos.Sign() > 0 {
		return g, c, nil
	}
	over := func(x, y *big.Float) (unit.Grade, error) {
		x, y = product(x, product(count(g.Rise), count(c.Run))), product(y, product(count(c.Rise), count(g.Run)))
		rise, err := rounded(quotient(product(total(x, y), count(kilometre)), product(chords, product(count(g.Run), count(c.Run)))))
		return unit.Grade{Rise: rise, Run: kilometre}, err
	}
	if along, err = over(cos, sin); err != nil {
		return along, right, err
	}
	right, err = over(new(big.Float).Neg(sin), cos)
	return along, right, err
}

// kilometre is the run that a computed grade is rounded over.
const kilometre = 1000 * unit.Metre
