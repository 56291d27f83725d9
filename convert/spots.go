package convert

import (
	"sightrail/convert/plane"
	"sightrail/convert/surface"
	"sightrail/formats/unit"
)

// Spot is what a surface is at a place. Where On is false Level says why.
type Spot struct {
	Z    unit.Length
	Face int32 // of the TIN
	On   bool
}

// ByPlace reports whether the level of a surface depends on the place alone, and comes
// from triangles or a plane, so that Spots finds it.
func (s *Surface) ByPlace() bool {
	return s.Levels == nil && s.chain == nil && s.line == nil && s.aligned == nil && (s.TIN != nil || s.Plane != nil)
}

// Spots finds the levels at places, one for one, of a surface that goes by place. It is
// safe for use by several goroutines.
func (s *Surface) Spots(places []Place, spots []Spot) {
	for len(places) > 0 {
		n := min(len(places), surface.Touched)
		s.spots(places[:n], spots[:n])
		places, spots = places[n:], spots[n:]
	}
}

func (s *Surface) spots(places []Place, spots []Spot) {
	if s.TIN != nil && s.Plane == nil {
		var near [surface.Touched][2]unit.Length
		for i, p := range places {
			near[i] = [2]unit.Length{p.E, p.N}
		}
		s.TIN.Touch(near[:len(places)])
	}
	for i, p := range places {
		spots[i] = Spot{}
		if s.Outline != nil && !s.Outline.Contains(p) {
			continue
		}
		if s.Plane != nil {
			z, err := s.Plane.At(plane.Place{E: p.E, N: p.N})
			spots[i] = Spot{Z: z, On: err == nil}
			continue
		}
		z, face, state, _ := s.TIN.Level(p.E, p.N)
		spots[i] = Spot{z, face, state == surface.On}
	}
}
