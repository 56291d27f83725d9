package align_test

import (
	"math"
	"math/big"

	"github.com/stretchr/testify/require"

	"sightrail/convert/align"
	"sightrail/formats/unit"
)

// Arithmetic of 300 bits, to have what float64 is compared with.

func num(x float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(x) }

func add(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(300).Add(a, b) }
func sub(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(300).Sub(a, b) }
func mul(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(300).Mul(a, b) }
func quo(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(300).Quo(a, b) }
func neg(a *big.Float) *big.Float    { return new(big.Float).SetPrec(300).Neg(a) }
func root(a *big.Float) *big.Float   { return new(big.Float).SetPrec(300).Sqrt(a) }

func float(a *big.Float) float64 { f, _ := a.Float64(); return f }

// metres is a Length in metres, exactly.
func metres(l unit.Length) *big.Float {
	return quo(new(big.Float).SetPrec(300).SetInt64(int64(l)), num(float64(unit.Metre)))
}

// pair is a complex number.
type pair struct{ re, im *big.Float }

func (a pair) plus(b pair) pair { return pair{add(a.re, b.re), add(a.im, b.im)} }
func (a pair) times(b pair) pair {
	return pair{sub(mul(a.re, b.re), mul(a.im, b.im)), add(mul(a.re, b.im), mul(a.im, b.re))}
}
func (a pair) scaled(k *big.Float) pair { return pair{mul(a.re, k), mul(a.im, k)} }
func (a pair) i() pair                  { return pair{neg(a.im), a.re} }

// spiralSeries returns the point, and the direction as a unit vector, after a
// length s of a curve that starts at 0 along the real axis and whose curvature is
// k0 + a·s: the power series of w' = i(k0 + a·s)w, and of its integral.
func spiralSeries(k0, a, s *big.Float) (point, direction pair) {
	zero := pair{num(0), num(0)}
	before, w := zero, pair{num(1), num(0)}
	power := num(1) // s^n
	tiny := num(1e-60)
	for n := 1; n <= 400; n++ {
		if n > 20 && small(w.scaled(power), tiny) && small(before.scaled(power), tiny) {
			break
		}
		direction0 := w.scaled(power)
		if direction.re == nil {
			direction, point = direction0, zero
		} else {
			direction = direction.plus(direction0)
		}
		power = mul(power, s)
		point = point.plus(w.scaled(quo(power, num(float64(n)))))
		next := w.scaled(k0).plus(before.scaled(a)).i().scaled(quo(num(1), num(float64(n))))
		before, w = w, next
	}
	return point, direction
}

func small(p pair, tiny *big.Float) bool {
	return new(big.Float).Abs(p.re).Cmp(tiny) < 0 && new(big.Float).Abs(p.im).Cmp(tiny) < 0
}

// count is the Length nearest to a number of metres.
func count(t require.TestingT, x *big.Float) unit.Length {
	y := mul(x, num(float64(unit.Metre)))
	half := num(math.Copysign(0.5, float64(y.Sign())))
	whole, _ := add(y, half).Int64()
	require.Less(t, new(big.Float).Abs(y).Cmp(num(9e18)), 0)
	return unit.Length(whole)
}

// sine and cosine by the series of a circle of radius 1.
func sincos(x *big.Float) (sin, cos *big.Float) {
	_, d := spiralSeries(num(1), num(0), x)
	return d.im, d.re
}

// frame places curves: start, direction there as a unit vector (east + i north),
// and side: +1 left, -1 right.
type frame struct {
	start pair
	dir   pair
	side  float64
}

// at returns the place of a point of a curve that turns left from the real axis,
// and of an offset to the right of it.
func (f frame) at(t require.TestingT, point, direction pair, offset *big.Float) align.Place {
	flip := func(p pair) pair { return pair{p.re, mul(p.im, num(f.side))} }
	point, direction = flip(point), flip(direction)
	right := pair{direction.im, neg(direction.re)}
	p := f.start.plus(f.dir.times(point.plus(right.scaled(offset))))
	return align.Place{E: count(t, p.re), N: count(t, p.im)}
}

func mOf(s float64) unit.Length {
	l, err := unit.FromMetres(s)
	if err != nil {
		panic(err)
	}
	return l
}

func place(e, n float64) align.Place { return align.Place{E: mOf(e), N: mOf(n)} }
