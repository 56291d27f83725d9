package limits

import (
	"errors"
	"fmt"
	"math/big"
	"slices"

	"sightrail/formats/unit"
)

// Moments are the mean and the scatter of some values, as exact fractions of
// exact sums: whatever the size of the values against their scatter, no digit is
// lost. Checked against the certified values of the NIST Statistical Reference
// Datasets. Variance has n − 1, nil below 2 values; Lag1 is the first
// autocorrelation, nil where all values are equal or the order is not known.
// They are in the unit of the values, its square, and none.
type Moments struct {
	N              int
	Mean, Variance *big.Rat
	Lag1           *big.Rat
}

// sums are what moments are made of. They can be added in any order.
type sums struct {
	n       int
	sum, sq big.Int
}

func (s *sums) add(x *big.Int) {
	var sq big.Int
	s.n++
	s.sum.Add(&s.sum, x)
	s.sq.Add(&s.sq, sq.Mul(x, x))
}

func (s *sums) merge(o *sums) {
	s.n += o.n
	s.sum.Add(&s.sum, &o.sum)
	s.sq.Add(&s.sq, &o.sq)
}

// moments divides by per, the size of one unit.
func (s *sums) moments(per *big.Int) Moments {
	m := Moments{N: s.n}
	if s.n == 0 {
		return m
	}
	n := big.NewInt(int64(s.n))
	m.Mean = new(big.Rat).SetFrac(&s.sum, new(big.Int).Mul(n, per))
	if s.n > 1 {
		// n Σx² − (Σx)² over n (n − 1)
		den := new(big.Int).Mul(n, big.NewInt(int64(s.n-1)))
		m.Variance = new(big.Rat).SetFrac(s.scatter(), den.Mul(den, new(big.Int).Mul(per, per)))
	}
	return m
}

// scatter is n Σx² − (Σx)².
func (s *sums) scatter() *big.Int {
	a := new(big.Int).Mul(big.NewInt(int64(s.n)), &s.sq)
	return a.Sub(a, new(big.Int).Mul(&s.sum, &s.sum))
}

func momentsOf(values []*big.Int, per *big.Int) Moments {
	var s sums
	for _, v := range values {
		s.add(v)
	}
	m := s.moments(per)
	scatter := s.scatter()
	if s.n < 2 || scatter.Sign() == 0 {
		return m
	}
	// Σ (n x − Σ)(n x' − Σ) over n (n Σx² − (Σx)²), x' the next value
	n, lag := big.NewInt(int64(s.n)), new(big.Int)
	off := func(v *big.Int) *big.Int { o := new(big.Int).Mul(n, v); return o.Sub(o, &s.sum) }
	last := off(values[0])
	for _, v := range values[1:] {
		next := off(v)
		lag.Add(lag, last.Mul(last, next))
		last = next
	}
	m.Lag1 = new(big.Rat).SetFrac(lag, n.Mul(n, scatter))
	return m
}

// MomentsOf works out the moments of decimals in their own unit.
func MomentsOf(values []unit.Decimal) Moments {
	places := uint8(0)
	for _, v := range values {
		places = max(places, v.Places)
	}
	scaled := make([]*big.Int, len(values))
	for i, v := range values {
		scaled[i] = new(big.Int).Mul(big.NewInt(v.Coef), tenTo(places-v.Places))
	}
	return momentsOf(scaled, tenTo(places))
}

// MomentsOfLengths works out the moments of lengths in millimetres.
func MomentsOfLengths(values []unit.Length) Moments {
	counts := make([]*big.Int, len(values))
	for i, v := range values {
		counts[i] = big.NewInt(int64(v))
	}
	return momentsOf(counts, big.NewInt(int64(unit.Millimetre)))
}

// Sd is the standard deviation, rounded once; 0 below 2 values.
func (m Moments) Sd() float64 { return squareRoot(m.Variance) }

// squareRoot of a fraction that is not negative; 0 for nil.
func squareRoot(r *big.Rat) float64 {
	if r == nil || r.Sign() <= 0 {
		return 0
	}
	const bits = 200 // far more than a float64 holds
	f := new(big.Float).SetPrec(bits).SetRat(r)
	v, _ := f.Sqrt(f).Float64()
	return v
}

func tenTo(places uint8) *big.Int {
	return new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil)
}

func ratOf(d unit.Decimal) *big.Rat { return new(big.Rat).SetFrac(big.NewInt(d.Coef), tenTo(d.Places)) }

// QuantileDefinition says which of the many definitions Quantile has, for the
// report.
const QuantileDefinition = "the value at place p (n + 1) in ascending order, between two values in proportion, not beyond the smallest and largest (NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2; type 6 of Hyndman and Fan)"

// Quantile is the value that percent of the values do not exceed, as
// QuantileDefinition has it. values are in ascending order. The place is exact;
// between two values the result is rounded once to one count.
func Quantile(values []unit.Length, percent unit.Decimal) (unit.Length, error) {
	p := ratOf(percent)
	p.Quo(p, big.NewRat(100, 1))
	switch {
	case len(values) == 0:
		return 0, errors.New("there are no values to take a quantile of")
	case !slices.IsSorted(values):
		return 0, errors.New("values are not in ascending order")
	case p.Sign() < 0 || p.Cmp(big.NewRat(1, 1)) > 0:
		return 0, fmt.Errorf("%s %% is not a share; use 0 to 100", percent)
	}
	place := p.Mul(p, big.NewRat(int64(len(values)+1), 1))
	whole := new(big.Int).Quo(place.Num(), place.Denom())
	k := int(whole.Int64())
	if k < 1 {
		return values[0], nil
	}
	if k >= len(values) {
		return values[len(values)-1], nil
	}
	rest := place.Sub(place, new(big.Rat).SetInt(whole))
	between := new(big.Rat).Sub(new(big.Rat).SetInt64(int64(values[k])), new(big.Rat).SetInt64(int64(values[k-1])))
	return values[k-1] + roundRat(between.Mul(between, rest)), nil
}

// roundRat rounds half away from zero. The caller knows that it is a length.
func roundRat(r *big.Rat) unit.Length {
	num, den := new(big.Int).Abs(r.Num()), r.Denom()
	num.Mul(num, big.NewInt(2)).Add(num, den)
	num.Quo(num, new(big.Int).Mul(den, big.NewInt(2)))
	if r.Sign() < 0 {
		num.Neg(num)
	}
	return unit.Length(num.Int64())
}
