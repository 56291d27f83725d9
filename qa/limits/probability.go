package limits

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sightrail/formats/unit"
)

// Conformance is the probability that the true difference lies within the
// tolerance when it is normal about the measured one with the standard
// uncertainty uMm, in millimetres, and nothing is known beforehand (JCGM
// 106:2012, 7.3 and 7.4). With uMm 0 it is 1 on and within the limits and 0
// beyond. It is NaN without any limit, with limits that cross, or with an
// uncertainty that is negative or not a number.
func Conformance(t Tolerance, diff unit.Length, uMm float64) float64 {
	v, _ := t.Judge(diff)
	if v == NotAssessed || !(uMm >= 0) {
		return math.NaN()
	}
	if uMm == 0 {
		if v == Pass {
			return 1
		}
		return 0
	}
	lower, upper := math.Inf(-1), math.Inf(1)
	if t.HasLower {
		lower = minus(t.Lower, diff).Millimetres() / uMm
	}
	if t.HasUpper {
		upper = minus(t.Upper, diff).Millimetres() / uMm
	}
	return normalBetween(lower, upper)
}

// normalBetween is the probability of a standard normal value between a and b,
// taken from the nearer tail so that small ones keep their digits.
func normalBetween(a, b float64) float64 {
	if a > 0 {
		a, b = -b, -a
	}
	return normalBelow(b) - normalBelow(a)
}

func normalBelow(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// normalQuantile is the z below which a standard normal value lies with
// probability p.
func normalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// GuardFactor is the guard band in standard uncertainties with which a value on
// the acceptance limit conforms to a one-sided limit with probability p (JCGM
// 106:2012, Table 1): 1.64 for 95 %. p is between 0 and 1, ends excluded.
func GuardFactor(p float64) float64 { return normalQuantile(p) }

// GuardedRisk is the greatest probability that a value accepted by guarded
// acceptance against one limit does not conform, with a guard band of factor
// standard uncertainties: 0.023 for a factor of 2.
func GuardedRisk(factor float64) float64 { return normalBelow(-factor) }

// Capability is the measurement capability index of JCGM 106:2012, 7.6: the
// width of a two-sided tolerance over 4 standard uncertainties. It is NaN for
// other tolerances, +Inf for an exact measurement.
func Capability(t Tolerance, uMm float64) float64 {
	if !t.HasLower || !t.HasUpper || t.Lower > t.Upper || !(uMm >= 0) {
		return math.NaN()
	}
	return minus(t.Upper, t.Lower).Millimetres() / (4 * uMm)
}

// Risks are the two ways in which judging many values goes wrong (JCGM
// 106:2012, 9.5). The true differences are taken as normal with mean meanMm and
// standard deviation sdMm, and each is measured with standard uncertainty uMm.
// falseAccept is the share of all values that is accepted and does not conform,
// falseReject the share that is rejected and conforms. All in millimetres, sdMm
// and uMm above 0; NaN otherwise.
func Risks(t, acceptance Tolerance, meanMm, sdMm, uMm float64) (falseAccept, falseReject float64) {
	if !(sdMm > 0) || !(uMm > 0) || math.IsInf(sdMm+uMm, 0) {
		return math.NaN(), math.NaN()
	}
	ends := func(t Tolerance) (lower, upper float64) {
		lower, upper = math.Inf(-1), math.Inf(1)
		if t.HasLower {
			lower = t.Lower.Millimetres()
		}
		if t.HasUpper {
			upper = t.Upper.Millimetres()
		}
		return lower, upper
	}
	tl, tu := ends(t)
	al, au := ends(acceptance)
	process := distuv.Normal{Mu: meanMm, Sigma: sdMm}
	accepted := func(x float64) float64 {
		if al > au {
			return 0
		}
		return normalBetween((al-x)/uMm, (au-x)/uMm)
	}
	// The integrand bends at the limits, and within some u of the acceptance
	// limits.
	from, to := meanMm-10*sdMm, meanMm+10*sdMm
	cuts := []float64{tl, tu, al, al - 9*uMm, al + 9*uMm, au, au - 9*uMm, au + 9*uMm, meanMm}
	falseAccept = integrate(func(x float64) float64 {
		if x >= tl && x <= tu {
			return 0
		}
		return process.Prob(x) * accepted(x)
	}, from, to, cuts...)
	falseReject = integrate(func(x float64) float64 {
		if x < tl || x > tu {
			return 0
		}
		return process.Prob(x) * (1 - accepted(x))
	}, from, to, cuts...)
	return falseAccept, falseReject
}
