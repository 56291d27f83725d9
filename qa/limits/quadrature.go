package limits

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
)

// panelPoints is the order of the Gauss-Legendre rule of one panel, panels how
// many lie between two cuts.
const (
	panelPoints = 20
	panels      = 12
)

var panelX, panelW = func() (x, w []float64) {
	x, w = make([]float64, panelPoints), make([]float64, panelPoints)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	return x, w
}()

// integrate integrates f from a to b, with panels of its own between the cuts
// that lie there: cuts are where f is not smooth or bends in a short space.
func integrate(f func(float64) float64, a, b float64, cuts ...float64) float64 {
	if !(a < b) {
		return 0
	}
	ends := []float64{a, b}
	for _, c := range cuts {
		if c > a && c < b {
			ends = append(ends, c)
		}
	}
	slices.Sort(ends)
	total := 0.0
	for i := range len(ends) - 1 {
		width := (ends[i+1] - ends[i]) / panels
		for p := range panels {
			mid := ends[i] + (float64(p)+0.5)*width
			sum := 0.0
			for j, x := range panelX {
				sum += panelW[j] * f(mid+x*width/2)
			}
			total += sum * width / 2
		}
	}
	return total
}

// root finds where f, which rises or falls throughout, crosses 0 between a and
// b. It halves the interval until it cannot be halved.
func root(f func(float64) float64, a, b float64) float64 {
	up := f(b) > 0
	for range 200 {
		mid := a + (b-a)/2
		if mid <= a || mid >= b {
			break
		}
		if (f(mid) > 0) == up {
			b = mid
		} else {
			a = mid
		}
	}
	return a + (b-a)/2
}

// noncentralT is the probability that (Z + delta) / sqrt(C/nu) is at most t,
// with Z standard normal and C chi-squared with nu degrees of freedom: the
// mean of Φ(t x/√nu − delta) over the chi density of x, by quadrature.
//
// A chi variable is further than 9 from the root of nu with a probability below
// 1e-16 (it is Gaussian or narrower about its mean), so that the range is known.
// The series in use elsewhere lose delta above some 38.
func noncentralT(t, nu, delta float64) float64 {
	slope := t / math.Sqrt(nu)
	lnGamma, _ := math.Lgamma(nu / 2)
	norm := lnGamma + (nu/2-1)*math.Ln2
	f := func(x float64) float64 {
		return math.Exp((nu-1)*math.Log(x)-x*x/2-norm) * normalBelow(slope*x-delta)
	}
	middle := math.Sqrt(nu)
	cuts := []float64{middle}
	if slope != 0 { // Φ goes from 0 to 1 here
		at, wide := delta/slope, 9/math.Abs(slope)
		cuts = append(cuts, at-wide, at, at+wide)
	}
	return integrate(f, max(0, middle-10), middle+10, cuts...)
}

// chiSquaredAbove is the probability that a chi-squared value with nu degrees of
// freedom is more than x.
func chiSquaredAbove(x, nu float64) float64 { return mathext.GammaIncRegComp(nu/2, x/2) }
