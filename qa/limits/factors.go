package limits

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"gonum.org/v1/gonum/mathext"

	"sightrail/formats/unit"
)

var (
	errSample  = errors.New("a standard deviation needs at least 2 values")
	errShare   = errors.New("a share must lie between 0 and 100 %, ends excluded")
	errTooHard = errors.New("no factor reaches this with so few values; take more values or ask for less")
)

// mostValues is the largest sample that factors are worked out for. A chi
// density of more degrees of freedom loses digits in its logarithms.
const mostValues = 1_000_000

func checkSample(n int, shares ...float64) error {
	if n < 2 {
		return errSample
	}
	if n > mostValues {
		return fmt.Errorf("factors are worked out for at most %d values; here are %d", mostValues, n)
	}
	for _, p := range shares {
		if !(p > 0 && p < 1) {
			return errShare
		}
	}
	return nil
}

// OneSidedFactor is the k with which mean + k s lies above a share coverage of a
// normal population with the given confidence, s from n values with n − 1: the
// exact factor, a quantile of the noncentral t distribution over √n, by
// quadrature (agrees with published and independent values to 1e-8 relative).
// Shares are between 0 and 1.
func OneSidedFactor(n int, coverage, confidence float64) (float64, error) {
	if err := checkSample(n, coverage, confidence); err != nil {
		return 0, err
	}
	return noncentralTFactor(n, normalQuantile(coverage), confidence)
}

// noncentralTFactor is the p quantile of the noncentral t with n − 1 degrees of
// freedom and δ = z √n, over √n.
func noncentralTFactor(n int, z, p float64) (float64, error) {
	nu, rootN := float64(n-1), math.Sqrt(float64(n))
	f := func(k float64) float64 { return noncentralT(k*rootN, nu, z*rootN) - p }
	return bracket(f, z)
}

// bracket finds the root of a rising f, searching outwards from start.
func bracket(f func(float64) float64, start float64) (float64, error) {
	lower, upper := start-1, start+1
	for step := 1.0; f(lower) > 0; step *= 2 {
		if step > 1e6 {
			return 0, errTooHard
		}
		lower -= step
	}
	for step := 1.0; f(upper) < 0; step *= 2 {
		if step > 1e6 {
			return 0, errTooHard
		}
		upper += step
	}
	return root(f, lower, upper), nil
}

// TwoSidedFactor is the k with which mean − k s to mean + k s holds at least a
// share coverage of a normal population with the given confidence: the exact
// factor, by quadrature over the place of the mean. (What is often printed is
// HoweFactor.)
func TwoSidedFactor(n int, coverage, confidence float64) (float64, error) {
	if err := checkSample(n, coverage, confidence); err != nil {
		return 0, err
	}
	nu, rootN := float64(n-1), math.Sqrt(float64(n))
	// The mean of the sample lies m standard deviations off the true one; then
	// the half width r that covers the share solves Φ(m + r) − Φ(m − r) = coverage.
	// The r of each node do not depend on k.
	type node struct{ weight, r2 float64 }
	var nodes []node
	widest := 10 / rootN
	for p := range panels {
		for j, x := range panelX {
			m := widest * (float64(p) + (1+x)/2) / panels
			r := root(func(r float64) float64 { return normalBetween(m-r, m+r) - coverage }, 0, m+10)
			density := math.Exp(-m*m*float64(n)/2) * rootN / math.Sqrt(2*math.Pi)
			nodes = append(nodes, node{panelW[j] * widest / panels * density, r * r}) // twice, for ±m
		}
	}
	f := func(k float64) float64 {
		if k <= 0 {
			return -confidence
		}
		held := 0.0
		for _, o := range nodes {
			held += o.weight * chiSquaredAbove(nu*o.r2/(k*k), nu)
		}
		return held - confidence
	}
	return bracket(f, normalQuantile((1+coverage)/2))
}

// HoweFactor is the approximation to TwoSidedFactor that the NIST/SEMATECH
// e-Handbook of Statistical Methods, 7.2.6.3, prints.
func HoweFactor(n int, coverage, confidence float64) (float64, error) {
	if err := checkSample(n, coverage, confidence); err != nil {
		return 0, err
	}
	z := normalQuantile((1 + coverage) / 2)
	return z * math.Sqrt(float64(n-1)*(1+1/float64(n))/chiSquaredQuantile(1-confidence, float64(n-1))), nil
}

// chiSquaredQuantile is the value below which chi-squared lies with probability p.
func chiSquaredQuantile(p, nu float64) float64 { return 2 * mathext.GammaIncRegInv(nu/2, p) }

// NatrellaFactor is the approximation to OneSidedFactor that the same handbook
// prints beside the exact one. Small samples have none.
func NatrellaFactor(n int, coverage, confidence float64) (float64, error) {
	if err := checkSample(n, coverage, confidence); err != nil {
		return 0, err
	}
	zp, zg := normalQuantile(coverage), normalQuantile(confidence)
	a := 1 - zg*zg/(2*float64(n-1))
	b := zp*zp - zg*zg/float64(n)
	under := zp*zp - a*b
	if a <= 0 || under < 0 {
		return 0, errTooHard
	}
	return (zp + math.Sqrt(under)) / a, nil
}

// FactorForQuality is the k of mean + k s ≤ upper limit (or mean − k s ≥ lower
// limit) with which a lot that has the share defective aql beyond the limit is
// rejected with the probability risk, the producer's: exact, for one limit.
func FactorForQuality(n int, aql, risk float64) (float64, error) {
	if err := checkSample(n, aql, risk); err != nil {
		return 0, err
	}
	return noncentralTFactor(n, -normalQuantile(aql), risk)
}

// Accepted is the probability that a lot with the share defective beyond its one
// limit is accepted by mean + k s from n values.
func Accepted(n int, k, defective float64) (float64, error) {
	if err := checkSample(n, defective); err != nil {
		return 0, err
	}
	rootN := math.Sqrt(float64(n))
	return 1 - noncentralT(k*rootN, float64(n-1), -normalQuantile(defective)*rootN), nil
}

// OutgoingLimit is the average outgoing quality limit of n values and k: the
// largest average share defective that leaves the inspection, over lots of any
// quality, when rejected lots are put right point by point and lots are large
// against the sample.
func OutgoingLimit(n int, k float64) (float64, error) {
	if err := checkSample(n); err != nil {
		return 0, err
	}
	outgoing := func(z float64) float64 { // of a lot whose limit lies z sd from its mean
		p := normalBelow(-z)
		rootN := math.Sqrt(float64(n))
		return p * (1 - noncentralT(k*rootN, float64(n-1), z*rootN))
	}
	// A coarse search, then golden section: the curve has one top.
	best, at := 0.0, 0.0
	const coarse = 0.1
	for i := -80; i <= 80; i++ {
		if v := outgoing(float64(i) * coarse); v > best {
			best, at = v, float64(i)*coarse
		}
	}
	ratio := (math.Sqrt(5) - 1) / 2
	a, b := at-coarse, at+coarse
	for range 60 {
		c, d := b-ratio*(b-a), a+ratio*(b-a)
		if outgoing(c) > outgoing(d) {
			b = d
		} else {
			a = c
		}
	}
	return outgoing((a + b) / 2), nil
}

// FactorForOutgoing is the k whose OutgoingLimit is aoql, a share between 0 and
// one half.
func FactorForOutgoing(n int, aoql float64) (float64, error) {
	if err := checkSample(n, aoql); err != nil {
		return 0, err
	}
	if aoql >= 0.5 {
		return 0, errors.New("an average outgoing quality limit of half the lot or more limits nothing; ask for less")
	}
	return bracket(func(k float64) float64 {
		v, _ := OutgoingLimit(n, k) // n was looked at above
		return aoql - v
	}, -normalQuantile(aoql))
}

// Factor makes a k that was worked out into the decimal that is printed and
// judged with: four decimals, half away from zero.
func Factor(k float64) (unit.Decimal, error) {
	if !(math.Abs(k) < 1e12) {
		return unit.Decimal{}, errors.New("the factor is no number that can be printed")
	}
	return unit.Decimal{Coef: int64(math.Round(k * 1e4)), Places: 4}, nil
}

//go:embed z19.csv
var z19 string

// FactorTableSource names the table of PublishedFactor.
const FactorTableSource = "ANSI/ASQ Z1.9 (1980), Table B-1, standard deviation method, Form 1, normal inspection"

type factorTable struct {
	aql  []string
	rows map[int][]string
	n    []int
}

var readFactorTable = sync.OnceValue(func() factorTable {
	r := csv.NewReader(strings.NewReader(z19))
	rows, err := r.ReadAll()
	if err != nil {
		panic(err) // the table is part of the program
	}
	t := factorTable{aql: rows[0][1:], rows: map[int][]string{}}
	for _, row := range rows[1:] {
		n, err := strconv.Atoi(row[0])
		if err != nil {
			panic(err)
		}
		t.rows[n], t.n = row[1:], append(t.n, n)
	}
	return t
})

// PublishedFactor is the k of FactorTableSource for n values and an acceptable
// quality level in percent. The table has certain sizes of sample and certain
// levels; between them nothing is guessed.
func PublishedFactor(n int, aqlPercent unit.Decimal) (unit.Decimal, error) {
	t := readFactorTable()
	row, ok := t.rows[n]
	if !ok {
		return unit.Decimal{}, fmt.Errorf("%s has no sample of %d values; it has %s", FactorTableSource, n, ints(t.n))
	}
	i := slices.IndexFunc(t.aql, func(s string) bool {
		d, _, err := unit.ParseDecimal(s)
		return err == nil && equalDecimals(d, aqlPercent)
	})
	if i < 0 {
		return unit.Decimal{}, fmt.Errorf("%s has no acceptable quality level of %s %%; it has %s", FactorTableSource, aqlPercent, strings.Join(t.aql, ", "))
	}
	if row[i] == "" {
		return unit.Decimal{}, fmt.Errorf("no factor for %d values and %s %% was seen in %s; state the factor and its source", n, aqlPercent, FactorTableSource)
	}
	d, _, err := unit.ParseDecimal(row[i])
	return d, err
}

func equalDecimals(a, b unit.Decimal) bool { return ratOf(a).Cmp(ratOf(b)) == 0 }

func ints(n []int) string {
	s := make([]string, len(n))
	for i, v := range n {
		s[i] = strconv.Itoa(v)
	}
	return strings.Join(s, ", ")
}
