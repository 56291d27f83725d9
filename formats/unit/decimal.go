package unit

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strconv"
)

// Decimal is a number as a file wrote it: Coef / 10^Places, without rounding.
// It stays in the unit of its file until a Length is made of it.
type Decimal struct {
	Coef   int64
	Places uint8
}

// MaxDigits is how many significant digits a Decimal keeps.
const MaxDigits = 18

// ParseDecimal reads a plain or exponent decimal with a point: "12", "-0.450",
// "12.", ".5", "1E3". Beyond MaxDigits significant digits or decimals the rest
// is rounded half away from zero, once, and exact is false; a whole part of
// more than MaxDigits digits is an error. Infinities, NaN, hexadecimal, digit
// groups, decimal commas and surrounding space are errors: decoders deal with
// those before.
func ParseDecimal[T ~string | ~[]byte](s T) (d Decimal, exact bool, err error) {
	i, neg := 0, false
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		neg = s[i] == '-'
		i++
	}
	var coef, next uint64 // next is the first digit that was dropped
	digits, seen, places, lost := 0, 0, 0, 0
	dot, full := false, false
	exact = true
	for ; i < len(s); i++ {
		c := s[i]
		if c == '.' && !dot {
			dot = true
			continue
		}
		if c < '0' || c > '9' {
			break
		}
		seen++
		if digits == MaxDigits {
			if !full {
				next, full = uint64(c-'0'), true
			}
			exact = exact && c == '0'
			if !dot {
				lost++
			}
			continue
		}
		coef = coef*10 + uint64(c-'0')
		if coef != 0 {
			digits++
		}
		if dot {
			places++
		}
	}
	if seen == 0 {
		return Decimal{}, false, errNotNumber(string(s))
	}
	exp := 0
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		n, convErr := strconv.Atoi(string(s[i+1:]))
		if convErr != nil || n > 400 || n < -400 {
			return Decimal{}, false, errNotNumber(string(s))
		}
		exp, i = n, len(s)
	}
	if i != len(s) {
		return Decimal{}, false, errNotNumber(string(s))
	}
	places -= exp + lost
	for ; places < 0 && coef != 0; places++ {
		if coef >= pow10[MaxDigits-1] {
			return Decimal{}, false, errTooLong(string(s))
		}
		coef *= 10
	}
	for ; places > MaxDigits && coef != 0; places-- {
		exact = exact && coef%10 == 0
		coef, next = coef/10, coef%10
	}
	if places <= MaxDigits && next >= 5 {
		if coef++; coef == pow10[MaxDigits] { // one digit more
			if places == 0 {
				return Decimal{}, false, errTooLong(string(s))
			}
			coef, places = coef/10, places-1
		}
	}
	d = Decimal{Coef: int64(coef), Places: uint8(min(max(places, 0), MaxDigits))}
	if neg {
		d.Coef = -d.Coef
	}
	return d, exact, nil
}

func errNotNumber(s string) error { return fmt.Errorf("%s is not a number", quoted(s)) }

func errTooLong(s string) error {
	return fmt.Errorf("%s has more than %d digits before the decimal point", quoted(s), MaxDigits)
}

// longest is how much of a text of a file a message shows.
const longest = 60

// quoted is a text of a file in quotes, cut where it is too long to be read in
// a message.
func quoted(s string) string {
	if len(s) > longest {
		return strconv.Quote(s[:longest]) + "..."
	}
	return strconv.Quote(s)
}

// maxPlaces is how many decimals a Decimal may have: MaxDigits from a text, one
// more where half of the last place is meant.
const maxPlaces = MaxDigits + 1

var pow10 = [maxPlaces + 1]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19}

// Neg returns -d.
func (d Decimal) Neg() Decimal { d.Coef = -d.Coef; return d }

// Length returns d in unit u as a Length. When d has more decimals than the
// unit can say exactly it is rounded half away from zero to one count.
func (d Decimal) Length(u Unit) (Length, error) {
	if u.Size == Metre && d.Places <= MaxPlaces {
		if m := &metres[d.Places]; d.Coef <= m.most && d.Coef >= -m.most {
			return Length(d.Coef * m.each), nil
		}
	}
	return d.LengthFrom(0, u, u)
}

// metres are the counts in a metre, a tenth of it and so on, which are whole, and how
// many of them a Length holds: most numbers are metres, and need no division.
var metres = func() (t [MaxPlaces + 1]struct{ each, most int64 }) {
	for i := range t {
		t[i].each = int64(Metre) / int64(pow10[i])
		t[i].most = math.MaxInt64 / t[i].each
	}
	return t
}()

// LengthFrom returns d in unit u, less origin whole units of per, as a Length:
// the place of a coordinate that is itself too large for one. The sum is done
// in 128 bits; d is rounded before the origin is taken off. A unit that is not
// known is an error, unless the origin is 0 and it is that of the origin.
func (d Decimal) LengthFrom(origin int64, per, u Unit) (Length, error) {
	if !u.Known() || !per.Known() && origin != 0 {
		return 0, ErrNoUnit
	}
	if d.Places > maxPlaces {
		return 0, fmt.Errorf("the number has %d decimals, more than the %d that are kept", d.Places, MaxDigits)
	}
	p := pow10[d.Places]
	if d.Places <= MaxPlaces && u.Size == per.Size && uint64(u.Size)%p == 0 && origin > -plain && origin < plain {
		// without rounding, and in 64 bits
		if rest, each := d.Coef-origin*int64(p), int64(u.Size)/int64(p); d.Coef > -plain*1e9 && d.Coef < plain*1e9 && rest < math.MaxInt64/each && rest > -math.MaxInt64/each {
			return Length(rest * each), nil
		}
	}
	neg := d.Coef < 0
	c := uint64(d.Coef)
	if neg {
		c = -c
	}
	hi, lo := bits.Mul64(c, uint64(u.Size))
	// whole counts, with the remainder kept for the rounding
	qhi, r := hi/p, hi%p
	qlo, r := bits.Div64(r, lo, p)
	if r >= p-r {
		var carry uint64
		qlo, carry = bits.Add64(qlo, 1, 0)
		qhi += carry
	}
	// signed 128-bit subtraction of the origin
	if neg {
		var b uint64
		qlo, b = bits.Sub64(0, qlo, 0)
		qhi, _ = bits.Sub64(0, qhi, b)
	}
	on := origin < 0
	oc := uint64(origin)
	if on {
		oc = -oc
	}
	ohi, olo := bits.Mul64(oc, uint64(per.Size))
	var b uint64
	if on {
		qlo, b = bits.Add64(qlo, olo, 0)
		qhi, _ = bits.Add64(qhi, ohi, b)
	} else {
		qlo, b = bits.Sub64(qlo, olo, 0)
		qhi, _ = bits.Sub64(qhi, ohi, b)
	}
	if v := int64(qlo); qhi == 0 && v >= 0 || qhi == ^uint64(0) && v < 0 && v != -1<<63 {
		return Length(v), nil
	}
	return 0, ErrRange
}

// Ruler makes Lengths of many numbers in one unit, less one origin: LengthFrom, of which
// most is worked out ahead.
type Ruler struct {
	origin int64
	per, u Unit
	sizes  [MaxPlaces + 1]rulerSize
}

// rulerSize is for numbers with so many decimals: Lengths in one of the last place, the
// origin in last places, and how far from it a number may be. each is 0 where numbers
// with so many decimals are not exact in the unit.
type rulerSize struct{ each, origin, most int64 }

// NewRuler makes a Ruler for LengthFrom(origin, per, u).
func NewRuler(origin int64, per, u Unit) *Ruler {
	r := &Ruler{origin: origin, per: per, u: u}
	if !u.Known() || u.Size != per.Size || origin <= -plain || origin >= plain {
		return r
	}
	for places := range r.sizes {
		if p := int64(pow10[places]); int64(u.Size)%p == 0 {
			each := int64(u.Size) / p
			r.sizes[places] = rulerSize{each, origin * p, math.MaxInt64 / each}
		}
	}
	return r
}

// Length is d in the unit, less the origin.
func (r *Ruler) Length(d Decimal) (Length, error) {
	if int(d.Places) < len(r.sizes) && d.Coef > -plain*1e9 && d.Coef < plain*1e9 {
		s := &r.sizes[d.Places]
		if rest := d.Coef - s.origin; rest < s.most && rest > -s.most {
			return Length(rest * s.each), nil
		}
	}
	return d.LengthFrom(r.origin, r.per, r.u)
}

// plain is the size of an origin, in whole units, up to which sums stay in 64 bits.
const plain = 1 << 32

// Float returns the float64 nearest to d.
func (d Decimal) Float() float64 {
	if d.Coef > -1<<53 && d.Coef < 1<<53 { // both exact, so that the quotient is rounded once
		return float64(d.Coef) / tenths[d.Places]
	}
	f, _ := strconv.ParseFloat(d.String(), 64)
	return f
}

// tenths are the powers of ten as float64, which are exact as far as 10^22.
var tenths = [maxPlaces + 1]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19}

// String prints d with all its decimals.
func (d Decimal) String() string { return string(d.Append(nil)) }

// Append appends d, with all its decimals, to b.
func (d Decimal) Append(b []byte) []byte {
	c := uint64(d.Coef)
	if d.Coef < 0 {
		b, c = append(b, '-'), -c
	}
	return appendPlaces(b, c, int(d.Places))
}

// appendPlaces appends c / 10^places.
func appendPlaces(b []byte, c uint64, places int) []byte {
	n := max(digits(c), places+1)
	if places > 0 {
		n++
	}
	b = slices.Grow(b, n)
	i := len(b) + n
	b = b[:i]
	for ; places > 1; places -= 2 {
		pair := c % 100 * 2
		c /= 100
		i -= 2
		b[i+1], b[i] = pairs[pair+1], pairs[pair]
		if places == 2 {
			i--
			b[i] = '.'
		}
	}
	if places == 1 {
		i -= 2
		b[i+1], b[i] = byte('0'+c%10), '.'
		c /= 10
	}
	for c >= 100 {
		pair := c % 100 * 2
		c /= 100
		i -= 2
		b[i+1], b[i] = pairs[pair+1], pairs[pair]
	}
	i--
	b[i] = byte('0' + c%10)
	if c >= 10 {
		b[i-1] = byte('0' + c/10)
	}
	return b
}

// digits is how many decimal digits c has, 1 for 0.
func digits(c uint64) int {
	n := bits.Len64(c) * 1233 >> 12 // log10 of 2 is 1233/4096 as far as 2^64
	if c >= pow10[n] {
		n++
	}
	return max(n, 1)
}

// pairs are the numbers from 00 to 99.
const pairs = "00010203040506070809" +
	"10111213141516171819" +
	"20212223242526272829" +
	"30313233343536373839" +
	"40414243444546474849" +
	"50515253545556575859" +
	"60616263646566676869" +
	"70717273747576777879" +
	"80818283848586878889" +
	"90919293949596979899"

// Parse reads a decimal text in unit u. exact is false when it had more
// decimals than u can say in whole counts, or more than MaxDigits digits: such
// a text is rounded to MaxDigits digits and then to one count.
func Parse(s string, u Unit) (l Length, exact bool, err error) {
	d, exact, err := ParseDecimal(s)
	if err != nil {
		return 0, false, err
	}
	l, err = d.Length(u)
	if err != nil {
		return 0, false, fmt.Errorf("%s %s: %w", s[:min(len(s), longest)], u.Name, err)
	}
	_, rem := bits.Div64(mulMod(d, u))
	return l, exact && rem == 0, nil
}

func mulMod(d Decimal, u Unit) (hi, lo, p uint64) {
	c := uint64(d.Coef)
	if d.Coef < 0 {
		c = -c
	}
	p = pow10[d.Places]
	hi, lo = bits.Mul64(c, uint64(u.Size))
	return hi % p, lo, p
}
