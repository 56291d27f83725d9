package align

import (
	"math"
	"math/big"

	"sightrail/formats/unit"
)

// u is the relative error of one rounding to float64.
const u = 1.0 / (1 << 53)

// overChord returns (a×b + c×d) / √(de² + dn²), rounded half away from zero to one
// count; de and dn are not both zero. It is exact: in float64 where the error
// bound proves the rounding, in whole numbers where it does not. What is out of
// range is held at ±MaxLength.
func overChord(a, b, c, d, de, dn unit.Length) unit.Length {
	// four roundings on each product, four on the root, one on the quotient
	x, y := float64(a)*float64(b), float64(c)*float64(d)
	chord := math.Sqrt(float64(de)*float64(de) + float64(dn)*float64(dn))
	q := (x + y) / chord
	bound := 6 * u * ((math.Abs(x)+math.Abs(y))/chord + math.Abs(q))
	if whole := math.RoundToEven(q); math.Abs(q-whole)+bound < 0.5 && math.Abs(q) < 1<<51 {
		return unit.Length(whole)
	}
	top := times(a, b)
	top.Add(top, times(c, d))
	square := times(de, de)
	square.Add(square, times(dn, dn))
	root := roundRoot(new(big.Int).Mul(top, top), square)
	if top.Sign() < 0 {
		return -root
	}
	return root
}

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

// roundRoot returns √(n/d) rounded half away from zero.
func roundRoot(n, d *big.Int) unit.Length {
	root := new(big.Int).Quo(n, d)
	root.Sqrt(root)
	// up when n/d ≥ (root + ½)², that is 4 n ≥ d (2 root + 1)²
	next := new(big.Int).Lsh(root, 1)
	next.Add(next, big.NewInt(1))
	next.Mul(next, next).Mul(next, d)
	if next.Cmp(n.Lsh(n, 2)) <= 0 {
		root.Add(root, big.NewInt(1))
	}
	return length(root)
}

// distance in plan, rounded once to one count. Both must be near.
func distance(p, q Place) unit.Length {
	de, dn := q.E-p.E, q.N-p.N
	if de == 0 && dn == 0 {
		return 0
	}
	return overChord(de, de, dn, dn, de, dn)
}

// length holds a whole number within the range of a Length.
func length(x *big.Int) unit.Length {
	if x.IsInt64() && x.Int64() != math.MinInt64 {
		return unit.Length(x.Int64())
	}
	if x.Sign() < 0 {
		return -unit.MaxLength
	}
	return unit.MaxLength
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
