package convert

import (
	"math"

	"sightrail/convert/surface"
)

// SlopeAt is the steepest slope of the surface at a place, rise over run, never
// negative. ok is false where it is not known: outside, or by a table of levels.
// It is for remarks, not for verdicts.
func (s *Surface) SlopeAt(p Place) (slope float64, ok bool) {
	switch {
	case s.Plane != nil:
		if s.Outline != nil && !s.Outline.Contains(p) {
			return 0, false
		}
		return math.Hypot(float64(s.Plane.Along.Rise)/math.Max(float64(s.Plane.Along.Run), 1), float64(s.Plane.Across.Rise)/math.Max(float64(s.Plane.Across.Run), 1)), true
	case s.aligned != nil:
		return s.aligned.steepest(p)
	case s.line != nil:
		return math.Abs(float64(s.line.to.Level-s.line.from.Level)) / float64(s.line.length), true
	case s.TIN != nil:
		_, face, state, _ := s.TIN.Level(p.E, p.N)
		if state != surface.On {
			return 0, false
		}
		return s.TIN.Slope(face), true
	}
	return 0, false
}
