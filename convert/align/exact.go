package align

import (
	"math"
	"math/big"

	"sightrail/formats/unit"
)

// u is the relative error of one rounding to float64.
const u = 1.0 / (1 << 53)

// distance in plan, rounded once to one count. Both must be near.
func distance(p, q Place) unit.Length { return unit.Distance(q.E-p.E, q.N-p.N) }

// dotSign returns the sign of a×b + c×d, exactly.
func dotSign(a, b, c, d unit.Length) int {
	x, y := float64(a)*float64(b), float64(c)*float64(d)
	if s := x + y; math.Abs(s) > 8*u*(math.Abs(x)+math.Abs(y)) {
		if s > 0 {
			return 1
		}
		return -1
	}
	top := times(a, b)
	return top.Add(top, times(c, d)).Sign()
}

func times(a, b unit.Length) *big.Int {
	return new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b)))
}

// fraction is an exact number: num over den, den above zero. It is not reduced:
// the fractions here are sums of a few products.
type fraction struct{ num, den *big.Int }

func whole(l unit.Length) fraction { return fraction{big.NewInt(int64(l)), big.NewInt(1)} }

// ratio returns a/b; b is above zero.
func ratio(a, b unit.Length) fraction {
	return fraction{big.NewInt(int64(a)), big.NewInt(int64(b))}
}

func (f fraction) plus(g fraction) fraction {
	if f.den.Cmp(g.den) == 0 {
		return fraction{new(big.Int).Add(f.num, g.num), f.den}
	}
	n := new(big.Int).Mul(f.num, g.den)
	return fraction{n.Add(n, new(big.Int).Mul(g.num, f.den)), new(big.Int).Mul(f.den, g.den)}
}

func (f fraction) minus(g fraction) fraction {
	return f.plus(fraction{new(big.Int).Neg(g.num), g.den})
}

func (f fraction) times(g fraction) fraction {
	return fraction{new(big.Int).Mul(f.num, g.num), new(big.Int).Mul(f.den, g.den)}
}

// over returns f/g; g is not zero.
func (f fraction) over(g fraction) fraction {
	q := fraction{new(big.Int).Mul(f.num, g.den), new(big.Int).Mul(f.den, g.num)}
	if q.den.Sign() < 0 {
		q.num.Neg(q.num)
		q.den.Neg(q.den)
	}
	return q
}

func (f fraction) sign() int { return f.num.Sign() }

func (f fraction) compare(g fraction) int {
	return new(big.Int).Mul(f.num, g.den).Cmp(new(big.Int).Mul(g.num, f.den))
}

// round returns the nearest count, half away from zero, or unit.ErrRange.
func (f fraction) round() (unit.Length, error) {
	n := new(big.Int).Abs(f.num)
	n.Lsh(n, 1).Add(n, f.den)
	n.Quo(n, new(big.Int).Lsh(f.den, 1))
	if !n.IsInt64() {
		return 0, unit.ErrRange
	}
	if f.num.Sign() < 0 {
		return -unit.Length(n.Int64()), nil
	}
	return unit.Length(n.Int64()), nil
}

// float returns the float64 nearest to f.
func (f fraction) float() float64 {
	x, _ := new(big.Rat).SetFrac(f.num, f.den).Float64()
	return x
}
