package mesh

import (
	"math/big"
	"math/bits"
)

// int128 is a signed whole number of 128 bits, in two's complement.
type int128 struct {
	hi int64
	lo uint64
}

// uint128 is a whole number of 128 bits.
type uint128 struct{ hi, lo uint64 }

func times(a, b int64) int128 {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	h := int64(hi)
	// the unsigned product of two's complements is too large by 2^64 × the
	// other factor for every negative one
	if a < 0 {
		h -= b
	}
	if b < 0 {
		h -= a
	}
	return int128{h, lo}
}

// cross returns ax×by − ay×bx, and dot ax×bx + ay×by. All four must be within
// ±(2^63 − 1), so that the result is within ±2^127.
func cross(ax, ay, bx, by int64) int128 { return times(ax, by).sub(times(ay, bx)) }

func dot(ax, ay, bx, by int64) int128 { return times(ax, bx).add(times(ay, by)) }

// square returns x² + y².
func square(x, y int64) uint128 {
	d := dot(x, y, x, y)
	return uint128{uint64(d.hi), d.lo}
}

func (a int128) sub(b int128) int128 {
	lo, borrow := bits.Sub64(a.lo, b.lo, 0)
	hi, _ := bits.Sub64(uint64(a.hi), uint64(b.hi), borrow)
	return int128{int64(hi), lo}
}

func (a int128) add(b int128) int128 {
	lo, carry := bits.Add64(a.lo, b.lo, 0)
	hi, _ := bits.Add64(uint64(a.hi), uint64(b.hi), carry)
	return int128{int64(hi), lo}
}

func (a int128) sign() int {
	switch {
	case a.hi < 0:
		return -1
	case a.hi != 0 || a.lo != 0:
		return 1
	}
	return 0
}

// abs returns the size of a, which may be 2^127.
func (a int128) abs() uint128 {
	if a.hi < 0 {
		a = int128{}.sub(a)
	}
	return uint128{uint64(a.hi), a.lo}
}

// float returns a with an error of less than two roundings.
func (a uint128) float() float64 { return float64(a.hi)*(1<<64) + float64(a.lo) }

func (a uint128) compare(b uint128) int {
	switch {
	case a.hi != b.hi:
		if a.hi < b.hi {
			return -1
		}
		return 1
	case a.lo < b.lo:
		return -1
	case a.lo > b.lo:
		return 1
	}
	return 0
}

func (a uint128) big() *big.Int {
	b := new(big.Int).SetUint64(a.hi)
	return b.Lsh(b, 64).Add(b, new(big.Int).SetUint64(a.lo))
}

func (a int128) big() *big.Int {
	b := a.abs().big()
	if a.hi < 0 {
		b.Neg(b)
	}
	return b
}

// int320 is a signed whole number of 320 bits in two's complement, lowest word
// first.
type int320 [5]uint64

// product returns a×b, in four words.
func product(a, b uint128) (p [4]uint64) {
	var c uint64
	h00, l00 := bits.Mul64(a.lo, b.lo)
	h01, l01 := bits.Mul64(a.lo, b.hi)
	h10, l10 := bits.Mul64(a.hi, b.lo)
	h11, l11 := bits.Mul64(a.hi, b.hi)
	p[0] = l00
	p[1], c = bits.Add64(h00, l01, 0)
	p[2], c = bits.Add64(h01, l11, c)
	p[3] = h11 + c
	p[1], c = bits.Add64(p[1], l10, 0)
	p[2], c = bits.Add64(p[2], h10, c)
	p[3] += c
	return p
}

// compareProducts returns the sign of a×b − c×d.
func compareProducts(a, b, c, d uint128) int {
	p, q := product(a, b), product(c, d)
	for i := 3; i >= 0; i-- {
		switch {
		case p[i] < q[i]:
			return -1
		case p[i] > q[i]:
			return 1
		}
	}
	return 0
}

// plus returns s + a×b.
func (s int320) plus(a uint128, b int128) int320 {
	p := product(a, b.abs())
	var c uint64
	if b.hi < 0 {
		for i := range p {
			s[i], c = bits.Sub64(s[i], p[i], c)
		}
		s[4] -= c
		return s
	}
	for i := range p {
		s[i], c = bits.Add64(s[i], p[i], c)
	}
	s[4] += c
	return s
}

func (s int320) sign() int {
	switch {
	case int64(s[4]) < 0:
		return -1
	case s != int320{}:
		return 1
	}
	return 0
}

// minus returns a − b, which must not be negative.
func (a uint128) minus(b uint128) uint128 {
	lo, borrow := bits.Sub64(a.lo, b.lo, 0)
	hi, _ := bits.Sub64(a.hi, b.hi, borrow)
	return uint128{hi, lo}
}

// add returns a + b, which must be below 2^128.
func (a uint128) add(b uint128) uint128 {
	lo, carry := bits.Add64(a.lo, b.lo, 0)
	hi, _ := bits.Add64(a.hi, b.hi, carry)
	return uint128{hi, lo}
}
