package crs

import (
	"fmt"
	"math"
)

// foot is the US survey foot in international feet: 2.000004 ppm more.
const foot = 1200.0 / 3937 / 0.3048

// FootSlip is the mark of a wrong foot: control whose coordinates in two frames,
// which ought to be the same, differ by two parts in a million of themselves.
type FootSlip struct {
	PPM         float64 // along the vector of the coordinates; + the declared grid is further from its origin
	East, North float64 // the shift, metres: declared grid less site
	Sentence    string
}

// WrongFoot looks for a wrong foot in control whose site coordinates ought to be
// those of the declared grid. Every point is then shifted by 2.000004 ppm of its
// coordinates along their own vector, false origin included, in one direction
// for the foot that is too long and in the other for the one that is too short:
// so a shift shows it where no fit does. It is seen where that shift is more than
// five times what the control is unsure by. A site grid with a false origin of
// its own hides it.
func WrongFoot(points []Control) (FootSlip, bool) {
	if len(points) == 0 {
		return FootSlip{}, false
	}
	var de, dn, e, n float64
	count := float64(len(points))
	for _, p := range points {
		de, dn, e, n = de+(p.E-p.X)/count, dn+(p.N-p.Y)/count, e+p.X/count, n+p.Y/count
	}
	long := math.Hypot(e, n)
	if !(long > 0) {
		return FootSlip{}, false
	}
	scatter := 0.0
	along, across := (de*e+dn*n)/long, (dn*e-de*n)/long
	k := along / long
	for _, p := range points {
		x, y := p.E-p.X-k*p.X, p.N-p.Y-k*p.Y
		scatter += (x*x + y*y) / count
	}
	// a single point has no scatter: 10 mm is what control is taken to be worth
	unsure := max(0.01, 4*math.Sqrt(scatter/count))
	want := (foot - 1) * long
	if want < 5*unsure || math.Abs(across) > unsure || math.Abs(math.Abs(along)-want) > unsure {
		return FootSlip{}, false
	}
	which := "the site grid was read in international feet and the declared grid in US survey feet"
	if k < 0 {
		which = "the site grid was read in US survey feet and the declared grid in international feet"
	}
	s := FootSlip{PPM: k * 1e6, East: de, North: dn}
	s.Sentence = fmt.Sprintf("the control is shifted by %.3f m east and %.3f m north, which is %+.3f ppm of its coordinates along their own vector: %s, and one of the two is wrong; declare which foot each file has", de, dn, s.PPM, which)
	return s, true
}
