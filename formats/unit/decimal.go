package unit

import (
	"fmt"
	"math/bits"
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
// "12.", ".5", "1E3". Beyond MaxDigits significant digits, decimals are
// rounded half away from zero and exact is false; a whole part that long is an
// error. Infinities, NaN, hexadecimal, digit groups, decimal commas and
// surrounding space are errors: decoders deal with those before.
func ParseDecimal[T ~string | ~[]byte](s T) (d Decimal, exact bool, err error) {
	i, neg := 0, false
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		neg = s[i] == '-'
		i++
	}
	var coef uint64
	digits, seen, places, exact := 0, 0, 0, true
	dot, up, dropped, lost := false, false, 0, 0
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
			if dropped == 0 {
				up = c >= '5'
			}
			dropped++
			if c != '0' {
				exact = false
			}
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
		if convErr != nil || len(s) == i+1 || n > 400 || n < -400 {
			return Decimal{}, false, errNotNumber(string(s))
		}
		exp, i = n, len(s)
	}
	if i != len(s) {
		return Decimal{}, false, errNotNumber(string(s))
	}
	if up {
		coef++
	}
	places -= exp + lost
	for places < 0 && coef != 0 {
		hi, lo := bits.Mul64(coef, 10)
		if hi != 0 || lo > 1<<62 {
			return Decimal{}, false, fmt.Errorf("%q has more than %d digits before the decimal point", string(s), MaxDigits)
		}
		coef, places = lo, places+1
	}
	for places > MaxDigits && coef != 0 {
		if coef%10 != 0 {
			exact = false
		}
		up := coef%10 >= 5
		coef, places = coef/10, places-1
		if places == MaxDigits && up {
			coef++
		}
	}
	if coef == 0 {
		places = min(max(places, 0), MaxDigits)
	}
	d = Decimal{Coef: int64(coef), Places: uint8(places)}
	if neg {
		d.Coef = -d.Coef
	}
	return d, exact, nil
}

func errNotNumber(s string) error { return fmt.Errorf("%q is not a number", s) }

var pow10 = [...]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18}

// Neg returns -d.
func (d Decimal) Neg() Decimal { d.Coef = -d.Coef; return d }

// Length returns d in unit u as a Length. When d has more decimals than the
// unit can say exactly it is rounded half away from zero to one count.
func (d Decimal) Length(u Unit) (Length, error) { return d.LengthFrom(0, M, u) }

// LengthFrom returns d in unit u, less origin whole units of per, as a Length:
// the place of a coordinate that is itself too large for one. The sum is done
// in 128 bits.
func (d Decimal) LengthFrom(origin int64, per, u Unit) (Length, error) {
	neg := d.Coef < 0
	c := uint64(d.Coef)
	if neg {
		c = -c
	}
	p := pow10[d.Places]
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

// Float returns the float64 nearest to d.
func (d Decimal) Float() float64 {
	f, _ := strconv.ParseFloat(d.String(), 64)
	return f
}

// String prints d with all its decimals.
func (d Decimal) String() string { return string(d.Append(nil)) }

// Append appends d, with all its decimals, to b.
func (d Decimal) Append(b []byte) []byte {
	c := uint64(d.Coef)
	if d.Coef < 0 {
		b, c = append(b, '-'), -c
	}
	if d.Places == 0 {
		return strconv.AppendUint(b, c, 10)
	}
	p := pow10[d.Places]
	b = append(strconv.AppendUint(b, c/p, 10), '.')
	frac := c % p
	for q := p / 10; q > 1 && frac < q; q /= 10 {
		b = append(b, '0')
	}
	return strconv.AppendUint(b, frac, 10)
}

// Parse reads a decimal text in unit u. exact is false when it had more
// decimals than u can say in whole counts.
func Parse(s string, u Unit) (l Length, exact bool, err error) {
	d, exact, err := ParseDecimal(s)
	if err != nil {
		return 0, false, err
	}
	l, err = d.Length(u)
	if err != nil {
		return 0, false, fmt.Errorf("%s %s: %w", s, u.Name, err)
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
