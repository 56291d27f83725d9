package unit

import (
	"math"
	"math/big"
)

// OverChord returns (a×b + c×d) / √(de² + dn²), rounded half away from zero to one
// count; de and dn are not both zero. It is exact: in float64 where the error
// bound proves the rounding, in whole numbers where it does not. What is out of
// range is held at ±MaxLength.
func OverChord(a, b, c, d, de, dn Length) Length {
	// Every Length is rounded once to float64, every product and sum once: four
	// roundings on each term, four on the root, one on the quotient.
	const u = 1.0 / (1 << 53)
	x, y := float64(a)*float64(b), float64(c)*float64(d)
	chord := math.Sqrt(float64(de)*float64(de) + float64(dn)*float64(dn))
	q := (x + y) / chord
	bound := 6 * u * ((math.Abs(x)+math.Abs(y))/chord + math.Abs(q))
	if whole := math.RoundToEven(q); math.Abs(q-whole)+bound < 0.5 && math.Abs(q) < 1<<51 {
		return Length(whole)
	}
	product := func(a, b Length) *big.Int { return new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b))) }
	top := product(a, b)
	top.Add(top, product(c, d))
	square := product(de, de)
	square.Add(square, product(dn, dn))
	root := RoundRoot(new(big.Int).Mul(top, top), square)
	if top.Sign() < 0 {
		return -root
	}
	return root
}

// Distance is √(de² + dn²), rounded half away from zero to one count: exact.
func Distance(de, dn Length) Length {
	if de == 0 && dn == 0 {
		return 0
	}
	return OverChord(de, de, dn, dn, de, dn)
}

// RoundRoot returns √(n/d) in counts, rounded half away from zero and held at
// MaxLength. n is not negative, d above zero; n is changed.
func RoundRoot(n, d *big.Int) Length {
	root := new(big.Int).Quo(n, d)
	root.Sqrt(root)
	// up when n/d ≥ (root + ½)², that is 4 n ≥ d (2 root + 1)²
	next := new(big.Int).Lsh(root, 1)
	next.Add(next, big.NewInt(1))
	next.Mul(next, next).Mul(next, d)
	if next.Cmp(n.Lsh(n, 2)) <= 0 {
		root.Add(root, big.NewInt(1))
	}
	if !root.IsInt64() {
		return MaxLength
	}
	return Length(root.Int64())
}
