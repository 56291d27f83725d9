// Package plane does the arithmetic of graded laser planes: the level of a plane
// at a place, what a staff or a machine receiver reads on it, what a misalignment
// does, and what two set-ups of a laser have drifted against each other. Numbers
// in, numbers out.
//
// A plane is z = z0 + g·s + c·t: z0 its level at the mark it was levelled on, s
// along the axis from there and t to the right of it, g and c the grades, + rises.
// The level of a staff reading is the plane at that place minus the reading.
//
// Accuracy: along an axis between two points, and along bearings that are
// multiples of a quarter turn, s, t and levels are exact, rounded once to one
// count of Length (worked with 256 bits). Along other bearings the direction is a
// float64: 1 µm in 4,000 km. TestPlaneTwoWays compares with whole numbers.
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

// precision of the arithmetic, in bits: products of four Lengths fit.
const precision = 256

func number(x float64) *big.Float { return new(big.Float).SetPrec(precision).SetFloat64(x) }

func count(l unit.Length) *big.Float { return new(big.Float).SetPrec(precision).SetInt64(int64(l)) }

func product(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(precision).Mul(a, b) }

func total(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(precision).Add(a, b) }

func quotient(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(precision).Quo(a, b) }

// Bearing makes the axis of a grid bearing.
func Bearing(a Angle) Axis {
	sin, cos := a.sincos()
	return Axis{number(sin), number(cos), number(1)}
}

// Between makes the axis from one point to another.
func Between(from, to Place) (Axis, error) {
	if from == to {
		return Axis{}, errors.New("the two points of the axis are one place; it has no direction")
	}
	e := total(count(to.E), count(-from.E))
	n := total(count(to.N), count(-from.N))
	chord := new(big.Float).SetPrec(precision).Sqrt(total(product(e, e), product(n, n)))
	return Axis{e, n, chord}, nil
}

// Given reports whether the axis has a direction.
func (a Axis) Given() bool { return a.chord != nil }

// Degrees is the bearing of the axis, clockwise from grid north, for print.
func (a Axis) Degrees() float64 {
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
// the right of it. A place further off than a Length holds is at MaxLength.
func (p *Plane) Coordinates(at Place) (s, t unit.Length) {
	e, n := p.from(at)
	s, err := rounded(quotient(p.Axis.along(e, n), p.Axis.chord))
	t, err2 := rounded(quotient(p.Axis.right(e, n), p.Axis.chord))
	if err != nil || err2 != nil {
		return unit.MaxLength, unit.MaxLength
	}
	return s, t
}

func (p *Plane) from(at Place) (e, n *big.Float) {
	return total(count(at.E), count(-p.Origin.E)), total(count(at.N), count(-p.Origin.N))
}

// At is the level of the plane at a place, rounded once to one count.
func (p *Plane) At(at Place) (unit.Length, error) {
	e, n := p.from(at)
	rise := total(graded(p.Axis.along(e, n), p.Along), graded(p.Axis.right(e, n), p.Across))
	return rounded(total(count(p.Level), quotient(rise, p.Axis.chord)))
}

// graded is a distance times a grade.
func graded(d *big.Float, g unit.Grade) *big.Float {
	if g.Rise == 0 || g.Run == 0 {
		return number(0)
	}
	return quotient(product(d, count(g.Rise)), count(g.Run))
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

// Steepest is the steepest grade of the plane, and the bearing in degrees that
// it rises along; for print.
func (p *Plane) Steepest() (ratio, degrees float64) {
	g, c := ratioOf(p.Along), ratioOf(p.Across)
	d := p.Axis.Degrees() + math.Atan2(c, g)*180/math.Pi
	return math.Hypot(g, c), math.Mod(d+360, 360)
}

func ratioOf(g unit.Grade) float64 {
	if g.Run == 0 {
		return 0
	}
	return g.Ratio()
}

// MisalignedBy is the error of the plane's level at a place when its axis is
// turned by an angle in radians, + clockwise from above:
//
//	g (s cos d + t sin d − s) + c (t cos d − s sin d − t)
//
// A float64 in one rounding each; good to a micrometre over kilometres.
func (p *Plane) MisalignedBy(at Place, radians float64) unit.Length {
	ls, lt := p.Coordinates(at)
	s, t := float64(ls), float64(lt)
	sin, half := math.Sin(radians), math.Sin(radians/2)
	less := -2 * half * half // cos d − 1 without cancellation
	return unit.Length(math.Round(ratioOf(p.Along)*(s*less+t*sin) + ratioOf(p.Across)*(t*less-s*sin)))
}
