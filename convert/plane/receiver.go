package plane

import (
	"errors"
	"math"

	"sightrail/formats/unit"
)

// Receiver is a machine receiver on its arm.
type Receiver struct {
	Height unit.Length // of its mark above the cutting edge, along the arm
	Tilt   float64     // of the arm out of plumb, in radians
}

// Edge is the level of the cutting edge at a place: the plane there, plus the
// offset of the receiver's mark above it (+ is a high surface), minus the height
// of the mark above the edge times the cosine of the tilt.
func (r Receiver) Edge(p *Plane, at Place, offset unit.Length) (unit.Length, error) {
	if !(math.Abs(r.Tilt) < math.Pi/2) {
		return 0, errors.New("the tilt of the arm is not below a quarter turn; measure it from the upright")
	}
	level, err := p.At(at)
	for _, l := range []unit.Length{offset, -r.Height, OutOfPlumb(r.Height, r.Tilt)} {
		if err != nil {
			return 0, err
		}
		level, err = level.Add(l)
	}
	return level, err
}

// EdgeLevel is the level of a cutting edge under a machine receiver: the plane
// there, plus the offset of the receiver's mark above it (+ is a high surface),
// minus the height of the mark above the edge along the arm, times the cosine of
// the arm's tilt in radians. The product is rounded once. Sums beyond the range of
// a Length are not found; Receiver.Edge finds them.
func EdgeLevel(plane, offset, height unit.Length, tilt float64) unit.Length {
	return plane + offset - height + OutOfPlumb(height, tilt)
}

// OutOfPlumb is how much too high an edge is left when its arm leans by a tilt in
// radians and is taken for upright: height × (1 − cos tilt). A trench is left
// shallow by as much.
func OutOfPlumb(height unit.Length, tilt float64) unit.Length {
	half := math.Sin(tilt / 2)
	return held(float64(height) * 2 * half * half)
}

// Crossfall is the fall across a bar with a receiver at either end: the plane's
// grade across the bar plus (right − left) over the distance between them, + rises
// to the right. The rise of the plane between them is rounded once to one count.
// Where the bar is not square to the axis, Toward has the plane's grade across it.
func Crossfall(across unit.Grade, left, right, between unit.Length) (unit.Grade, error) {
	if between <= 0 {
		return unit.Grade{}, errors.New("the distance between the two receivers is not more than nought; without it they tell no crossfall")
	}
	across = sound(across)
	rise, err := right.Add(-left)
	if err == nil {
		rise, err = rise.Add(unit.MulDiv(between, across.Rise, across.Run))
	}
	return unit.Grade{Rise: rise, Run: between}, err
}
