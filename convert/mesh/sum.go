package mesh

import (
	"math"

	"sightrail/formats/unit"
)

const (
	squareMetre = float64(unit.Metre) * float64(unit.Metre)
	cubicMetre  = squareMetre * float64(unit.Metre)
)

// sum adds float64 with the rounding of every step kept beside it (A. Neumaier,
// Rundungsfehleranalyse einiger Verfahren zur Summation endlicher Summen, 1974).
type sum struct{ s, c float64 }

func (a *sum) add(x float64) {
	t := a.s + x
	if math.Abs(a.s) >= math.Abs(x) {
		a.c += (a.s - t) + x
	} else {
		a.c += (x - t) + a.s
	}
	a.s = t
}

func (a *sum) value() float64 { return a.s + a.c }
