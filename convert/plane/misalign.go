package plane

import (
	"math"

	"sightrail/formats/unit"
)

// MisalignedBy is the error of the plane's level at a place when its axis is
// turned by an angle in radians, + clockwise from above, and the plane is levelled
// on its mark afterwards:
//
//	g (s cos d + t sin d − s) + c (t cos d − s sin d − t)
//
// Worked in float64: good to a micrometre over kilometres.
func (p *Plane) MisalignedBy(at Place, radians float64) unit.Length {
	return p.MisalignedAbout(p.Origin, at, radians)
}

// MisalignedAbout is the error when the axis turns about another place, with s and
// t from there: a laser that is knocked after it was levelled on the mark turns
// about itself, and its plane is then off at the mark too.
func (p *Plane) MisalignedAbout(laser, at Place, radians float64) unit.Length {
	rise, turn := p.lever(laser, at)
	sin, half := math.Sin(radians), math.Sin(radians/2)
	return held(turn*sin - 2*rise*half*half) // cos d − 1 without cancellation
}

// lever has what (cos d − 1) and sin d are multiplied by, in counts.
func (p *Plane) lever(from, at Place) (rise, turn float64) {
	ls, lt := p.coordinates(from, at)
	s, t := float64(ls), float64(lt)
	g, c := sound(p.Along).Ratio(), sound(p.Across).Ratio()
	return g*s + c*t, g*t - c*s
}

// held rounds counts to a Length, and what does not fit, or is not a number, to
// MaxLength: no limit allows that.
func held(counts float64) unit.Length {
	switch x := math.Round(counts); {
	case math.Abs(x) < 1<<63:
		return unit.Length(x)
	case x < 0:
		return -unit.MaxLength
	}
	return unit.MaxLength
}

// LargestMisalignment is the angle in radians by which the axis may be turned
// either way before the plane is off by more than a limit at one of the places,
// and the index of that place. No misalignment at all takes the plane out of the
// limit when at is -1; radians is then half a turn.
//
// With A = g s + c t and B = g t − c s the error is A (cos d − 1) + B sin d, and
// the larger of both ways |A| (1 − cos d) + |B| sin d. With x = tan(d/2) it is at
// the limit L where (2|A| − L) x² + 2|B| x − L = 0, first at
// x = L / (|B| + √(B² + L (2|A| − L))). The angle is rounded down, so that
// MisalignedBy is within the limit at it.
func (p *Plane) LargestMisalignment(places []Place, limit unit.Length) (radians float64, at int) {
	radians, at = math.Pi, -1
	l := float64(max(limit, 0))
	for i, place := range places {
		rise, turn := p.lever(p.Origin, place)
		a, b := math.Abs(rise), math.Abs(turn)
		under := b*b + l*(2*a-l)
		if a == 0 && b == 0 || under < 0 || l > 0 && under == 0 && b == 0 {
			continue // the limit is never passed
		}
		d := 0.0
		if l > 0 {
			d = 2 * math.Atan(l/(b+math.Sqrt(under)))
		}
		for step := 1e-15; step < 1 && max(p.MisalignedBy(place, d).Abs(), p.MisalignedBy(place, -d).Abs()) > max(limit, 0); step *= 2 {
			d *= 1 - step
		}
		if d < radians {
			radians, at = d, i
		}
	}
	return radians, at
}
