package levels

import (
	"errors"

	"sightrail/formats/unit"
)

// ThreeWire returns the mean of three wires, rounded to one count, and the two
// half intervals, which should agree. The mean differs from the middle wire by
// a third of the difference of the half intervals.
func ThreeWire(upper, middle, lower unit.Length) (mean, upperHalf, lowerHalf unit.Length) {
	upperHalf, lowerHalf = upper-middle, middle-lower
	return middle + unit.MulDiv(upperHalf-lowerHalf, 1, 3), upperHalf, lowerHalf
}

// StadiaDistance is the length of a sight from its outer wires: interval times
// the stadia constant, 100 in most instruments.
func StadiaDistance(upper, lower unit.Length, constant int64) (unit.Length, error) {
	if constant <= 0 {
		return 0, errors.New("the stadia constant must be a number above nought, such as 100")
	}
	d := unit.MulDiv(upper-lower, unit.Length(constant), 1).Abs()
	if d > MaxSight {
		return 0, unit.ErrRange
	}
	return d, nil
}
