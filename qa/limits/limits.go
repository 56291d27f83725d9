// Package limits holds tolerances as data, each with its source, and is the one
// place where a deviation is compared with a limit. It compares exact Lengths:
// on the limit passes. Grades are judged by products, never as a quotient.
//
// It also prints what it judged. Print is in millimetres, and a printed value
// never contradicts the verdict beside it: where rounding would carry it across
// the limit, it gets more decimals.
//
// A Rule brings in the uncertainty of the value. A Lot adds judged values up,
// and a Plan accepts or rejects it. Verdicts by count, and by mean ± k s, are
// exact; factors, probabilities and estimated percentages are float64, good to
// 1e-8 relative or better in the range of their tests.
package limits

import (
	"math"

	"sightrail/formats/unit"
)

// Verdict of one row. The zero Verdict is not assessed: nothing passes by
// accident.
type Verdict uint8

// The verdicts of a row.
const (
	NotAssessed Verdict = iota
	Pass
	Fail
)

var verdictWords = [...]string{"not assessed", "pass", "fail"}

func (v Verdict) String() string { return verdictWords[v] }

// Tolerance is what is allowed of as-built minus design. Either side may be
// absent: a one-sided tolerance allows anything on the other side. Source says
// who set it: a clause, a drawing, an instruction.
type Tolerance struct {
	Lower, Upper       unit.Length
	HasLower, HasUpper bool
	Source             string
}

// Given reports whether there is any limit.
func (t Tolerance) Given() bool { return t.HasLower || t.HasUpper }

// Judge compares a deviation with the tolerance. beyond is how far it is past
// the limit it broke, + above the upper and - below the lower one; 0 when it
// passes. Without any limit, and where the lower limit lies above the upper,
// the verdict is NotAssessed.
func (t Tolerance) Judge(deviation unit.Length) (v Verdict, beyond unit.Length) {
	return t.JudgeThere(deviation)
}

// JudgeThere is Judge for a Tolerance where it lies, without a copy of it.
func (t *Tolerance) JudgeThere(deviation unit.Length) (v Verdict, beyond unit.Length) {
	switch {
	case !t.HasLower && !t.HasUpper, t.HasLower && t.HasUpper && t.Lower > t.Upper:
		return NotAssessed, 0
	case t.HasUpper && deviation > t.Upper:
		return Fail, minus(deviation, t.Upper)
	case t.HasLower && deviation < t.Lower:
		return Fail, minus(deviation, t.Lower)
	}
	return Pass, 0
}

// Backfall judges two neighbouring shots along a pipe. rise is the level of the
// downstream shot minus that of the upstream one. It fails when rise is more
// than the allowance; beyond is by how much. Equal levels are flat and pass an
// allowance of 0. A negative allowance allows nothing to be judged.
func Backfall(rise, allowance unit.Length) (v Verdict, beyond unit.Length) {
	if allowance < 0 {
		return NotAssessed, 0
	}
	return Tolerance{Upper: allowance, HasUpper: true}.Judge(rise)
}

// LeastGrade judges a fall over a horizontal length against the least grade
// allowed, all positive downstream, as fall × run ≥ length × rise of the grade.
// A pipe laid to exactly the least grade passes. Without a positive length or a
// least grade (its run positive, its rise not negative) the verdict is
// NotAssessed.
func LeastGrade(fall, length unit.Length, least unit.Grade) Verdict {
	switch {
	case length <= 0 || least.Run <= 0 || least.Rise < 0:
		return NotAssessed
	case unit.CompareProducts(fall, least.Run, length, least.Rise) >= 0:
		return Pass
	}
	return Fail
}

// Shortfall is the fall that is missing from a pipe that fails LeastGrade: fall
// minus the least fall, negative, rounded once to one count but never to 0. It
// is 0 when the pipe does not fail.
func Shortfall(fall, length unit.Length, least unit.Grade) unit.Length {
	if LeastGrade(fall, length, least) != Fail {
		return 0
	}
	return min(minus(fall, least.Over(length)), -1)
}

// minus returns a − b, held at the ends of the range.
func minus(a, b unit.Length) unit.Length {
	d, err := a.Add(-max(b, -unit.MaxLength))
	switch {
	case err == nil:
		return d
	case a < 0:
		return -unit.MaxLength
	}
	return math.MaxInt64
}
