// Package limits holds tolerances as data, each with its source, and is the one
// place where a deviation is compared with a limit. It compares exact Lengths:
// on the limit passes.
package limits

import "sightrail/formats/unit"

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
// the limit it broke, with the sign of the deviation; 0 when it passes. Without
// any limit the verdict is NotAssessed.
func (t Tolerance) Judge(deviation unit.Length) (v Verdict, beyond unit.Length) {
	switch {
	case !t.Given():
		return NotAssessed, 0
	case t.HasUpper && deviation > t.Upper:
		return Fail, deviation - t.Upper
	case t.HasLower && deviation < t.Lower:
		return Fail, deviation - t.Lower
	}
	return Pass, 0
}

// Printed returns the deviation in whole millimetres with its sign, or in tenths where
// whole millimetres would contradict the verdict (25.3 against a limit of 25).
func (t Tolerance) Printed(deviation unit.Length) string {
	s := signed(deviation, 0)
	if t.HasUpper && deviation > t.Upper && roundTo(deviation, unit.Millimetre) <= t.Upper ||
		t.HasLower && deviation < t.Lower && roundTo(deviation, unit.Millimetre) >= t.Lower ||
		t.HasUpper && deviation <= t.Upper && roundTo(deviation, unit.Millimetre) > t.Upper ||
		t.HasLower && deviation >= t.Lower && roundTo(deviation, unit.Millimetre) < t.Lower {
		return signed(deviation, 1)
	}
	return s
}

func signed(l unit.Length, places int) string {
	s := l.Fixed(unit.MM, places)
	if l > 0 && s[0] != '-' {
		s = "+" + s
	}
	return s
}

// roundTo rounds half away from zero to a multiple of step.
func roundTo(l, step unit.Length) unit.Length {
	q, r := l.Abs()/step, l.Abs()%step
	if r >= step-r {
		q++
	}
	if l < 0 {
		return -q * step
	}
	return q * step
}
