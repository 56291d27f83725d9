package plane

import (
	"math"

	"sightrail/formats/unit"
)

// EdgeLevel is the level of a cutting edge under a machine receiver: the plane
// there, plus the offset of the receiver's mark above it (+ is a high surface),
// minus the height of the mark above the edge along the arm, times the cosine of
// the arm's tilt in radians. The product is rounded once.
func EdgeLevel(plane, offset, height unit.Length, tilt float64) unit.Length {
	return plane + offset - height + OutOfPlumb(height, tilt)
}

// OutOfPlumb is how much too high an edge is left when its arm leans by a tilt in
// radians and is taken for upright: height × (1 − cos tilt). A trench is left
// shallow by as much.
func OutOfPlumb(height unit.Length, tilt float64) unit.Length {
	half := math.Sin(tilt / 2)
	return unit.Length(math.Round(float64(height) * 2 * half * half))
}

// Crossfall is the fall across a bar with a receiver at either end: the plane's
// grade across the bar plus (right − left) over the distance between them, + rises
// to the right. Exact: rise and run are in counts.
func Crossfall(across unit.Grade, left, right, between unit.Length) unit.Grade {
	if across.Run == 0 {
		across.Run = unit.Metre
	}
	return unit.Grade{Rise: unit.MulDiv(between, across.Rise, across.Run) + right - left, Run: between}
}
