package limits

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/gonum/mathext"
)

// PercentWithin estimates the percentage of a normal lot on the right side of
// one limit from the quality index Q = (upper − mean)/s or (mean − lower)/s of n
// values, s with n − 1: the symmetric beta estimator, of which FHWA Technical
// Advisory T 5080.12 (1989), Table 1B, is the table for the standard deviation
// method. Q is negative where the mean lies beyond the limit. It takes 3 values
// or more.
func PercentWithin(q float64, n int) (float64, error) {
	if n < 3 {
		return 0, errors.New("percent within limits needs at least 3 values")
	}
	if math.IsNaN(q) {
		return 0, errors.New("the quality index is not a number")
	}
	x := 0.5 - q*math.Sqrt(float64(n))/(2*float64(n-1))
	switch {
	case x <= 0:
		return 100, nil
	case x >= 1:
		return 0, nil
	}
	a := float64(n)/2 - 1
	return 100 * (1 - mathext.RegIncBeta(a, a, x)), nil
}

// SupportedShare is the share of the whole that x good ones of n taken at random
// support with the given confidence: the exact binomial lower bound for one side
// (Clopper and Pearson, Biometrika 26, 1934). With all good it is the nth root
// of 1 − confidence: 20 of 20 supports 86.1 % at 95 %.
func SupportedShare(x, n int, confidence float64) (float64, error) {
	switch {
	case n < 1, x < 0, x > n:
		return 0, fmt.Errorf("%d of %d is not a count of good ones", x, n)
	case !(confidence > 0 && confidence < 1):
		return 0, errShare
	case x == 0:
		return 0, nil
	case x == n:
		return math.Exp(math.Log1p(-confidence) / float64(n)), nil
	}
	a, b := float64(x), float64(n-x+1)
	// P(X ≥ x) rises with the share; it is the incomplete beta function.
	return root(func(p float64) float64 { return mathext.RegIncBeta(a, b, p) - (1 - confidence) }, 0, 1), nil
}

// RemarkConfidence is the confidence of the remark on every lot.
const RemarkConfidence = 0.95

// Remark says what a count of passes supports, so that "20 of 20" is not read as
// "all of it": "20 of 20 supports 86.1 %: ...". It is "" without any value.
func Remark(pass, assessed int) string {
	share, err := SupportedShare(pass, assessed, RemarkConfidence)
	if err != nil {
		return ""
	}
	return fmt.Sprintf("%d of %d supports %s %%: with %s %% confidence at least so much of the whole is within limits, if the points were taken at random",
		pass, assessed, percentText(100*share, 1), percentText(100*RemarkConfidence, 0))
}

// percentText prints a percentage with so many decimals, and with more where it
// would otherwise print 100 for less than 100.
func percentText(percent float64, places int) string {
	for {
		s := strconv.FormatFloat(percent, 'f', places, 64)
		if v, err := strconv.ParseFloat(s, 64); err != nil || v < 100 || percent >= 100 || places > 12 {
			return s
		}
		places++
	}
}
