package limits

import (
	"math/big"

	"sightrail/formats/unit"
)

// JudgeGrade compares a fall over a horizontal length with the least fall for that
// length, by the rule: the surplus of the fall over the least fall must not be
// below 0. uMm is the standard uncertainty of the fall in millimetres; the length
// counts as exact. Every comparison is exact: the surplus is a fraction, and to be
// at least a whole number of counts it need only be so cut down to the count below.
// Without a length or a least grade, as LeastGrade has it, nothing is judged.
func (r Rule) JudgeGrade(fall, length unit.Length, least unit.Grade, uMm float64, known bool) Outcome {
	if LeastGrade(fall, length, least) == NotAssessed {
		return Outcome{Why: "there is no least grade, or no length, to judge by"}
	}
	product := func(a, b unit.Length) *big.Int {
		return new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b)))
	}
	surplus := product(fall, least.Run)
	surplus.Sub(surplus, product(length, least.Rise))
	surplus.Div(surplus, big.NewInt(int64(least.Run))) // cut down, because Run is positive
	s := unit.MaxLength
	switch {
	case surplus.IsInt64() && surplus.Int64() >= -int64(unit.MaxLength) && surplus.Int64() <= int64(unit.MaxLength):
		s = unit.Length(surplus.Int64())
	case surplus.Sign() < 0:
		s = -unit.MaxLength
	}
	return r.Judge(Tolerance{HasLower: true}, s, uMm, known)
}
