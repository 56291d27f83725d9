package surface

import "math/bits"

// int128 is a signed whole number of 128 bits, in two's complement.
type int128 struct {
	hi int64
	lo uint64
}

// cross returns ax×by − ay×bx. All four must be within ±(2^63 − 1), so that the
// result is within ±2^127.
func cross(ax, ay, bx, by int64) int128 {
	return times(ax, by).sub(times(ay, bx))
}

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

func (a int128) sub(b int128) int128 {
	lo, borrow := bits.Sub64(a.lo, b.lo, 0)
	hi, _ := bits.Sub64(uint64(a.hi), uint64(b.hi), borrow)
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

// float returns a, which must not be negative, with an error of less than two
// roundings.
func (a int128) float() float64 { return float64(a.hi)*(1<<64) + float64(a.lo) }

// int192 is a signed whole number of 192 bits in two's complement, lowest word
// first.
type int192 [3]uint64

// scale returns a×z; a must not be negative.
func (a int128) scale(z int64) int192 {
	m := uint64(z)
	if z < 0 {
		m = -m
	}
	h0, w0 := bits.Mul64(a.lo, m)
	h1, w1 := bits.Mul64(uint64(a.hi), m)
	w1, carry := bits.Add64(w1, h0, 0)
	p := int192{w0, w1, h1 + carry}
	if z < 0 {
		return p.neg()
	}
	return p
}

func (a int192) neg() int192 {
	var r int192
	var borrow uint64
	for i := range a {
		r[i], borrow = bits.Sub64(0, a[i], borrow)
	}
	return r
}

func (a int192) add(b int192) int192 {
	var carry uint64
	for i := range a {
		a[i], carry = bits.Add64(a[i], b[i], carry)
	}
	return a
}

// divide returns the floor of n/d, and how twice the remainder compares with d:
// -1 below half, 0 exactly half, +1 above. d must be positive and |n| less than
// d × 2^63.
func divide(n int192, d int128) (quotient int64, half int) {
	neg := int64(n[2]) < 0
	if neg {
		n = n.neg()
	}
	q, rhi, rlo := divideUnsigned(n, uint64(d.hi), d.lo)
	rest := rhi|rlo != 0
	// compare the remainder with d − remainder; neither can overflow
	olo, borrow := bits.Sub64(d.lo, rlo, 0)
	ohi, _ := bits.Sub64(uint64(d.hi), rhi, borrow)
	switch {
	case rhi > ohi || rhi == ohi && rlo > olo:
		half = 1
	case rhi != ohi || rlo != olo:
		half = -1
	}
	switch {
	case !neg:
		return int64(q), half
	case !rest:
		return -int64(q), half
	}
	return -int64(q) - 1, -half
}

// divideUnsigned divides n by (hi, lo): long division in words of 64 bits,
// where the first guess of the quotient is at most two too large once the
// divisor's top bit is set (Knuth, The Art of Computer Programming, volume 2,
// section 4.3.1).
func divideUnsigned(n int192, hi, lo uint64) (q, rhi, rlo uint64) {
	if hi == 0 {
		// |n| < d × 2^63 leaves nothing in the third word, and n[1] < lo
		q, rlo = bits.Div64(n[1], n[0], lo)
		return q, 0, rlo
	}
	s := uint(bits.LeadingZeros64(hi)) // ≥ 1, because d is a positive int128
	d1, d0 := hi<<s|lo>>(64-s), lo<<s
	n2, n1, n0 := n[2]<<s|n[1]>>(64-s), n[1]<<s|n[0]>>(64-s), n[0]<<s
	q, r1 := bits.Div64(n2, n1, d1)
	phi, plo := bits.Mul64(q, d0)
	for phi > r1 || phi == r1 && plo > n0 {
		q--
		var borrow, carry uint64
		plo, borrow = bits.Sub64(plo, d0, 0)
		phi, _ = bits.Sub64(phi, 0, borrow)
		if r1, carry = bits.Add64(r1, d1, 0); carry != 0 {
			break
		}
	}
	rlo, borrow := bits.Sub64(n0, plo, 0)
	rhi, _ = bits.Sub64(r1, phi, borrow)
	return q, rhi >> s, rlo>>s | rhi<<(64-s)
}
