// Package unit holds the one length type of the program and the named units
// that files may use.
//
// A Length is a whole count of 1/3937 nanometre. In that count one metre, one
// US survey foot (1200/3937 m), one international foot (0.3048 m) and 1/64 of
// an inch are whole numbers, so every decimal that a staff, a rover or a
// design writes in any of them becomes a Length without rounding: up to 9
// decimals of a metre, 11 of a US survey foot, 5 of an international foot.
// What has more decimals is rounded half away from zero, and Parse says so. Sums of Lengths are exact and two Lengths are equal when they are equal.
//
// Accuracy: exact by construction; TestEveryDecimalIsExact draws decimals of
// every unit and compares with math/big.
package unit

import (
	"errors"
	"math"
	"math/bits"
)

// Length is a length, level, level difference or tolerance, in counts of
// 1/3937 nanometre. Its range is ±2,342 km.
type Length int64

// Lengths of one unit.
const (
	Nanometre         Length = 3937
	Micrometre               = 1000 * Nanometre
	Millimetre               = 1000 * Micrometre
	Metre                    = 1000 * Millimetre
	InternationalFoot Length = 1_199_997_600_000
	Inch                     = InternationalFoot / 12
	USSurveyFoot      Length = 1_200_000_000_000
)

// MaxLength is the largest Length; the smallest is its negative.
const MaxLength = Length(math.MaxInt64)

// ErrRange is returned where a value does not fit into a Length or a Decimal.
var ErrRange = errors.New("the value is beyond ±2,342 km, the range of a length")

// ErrNoUnit is returned where a number has no unit to be read in.
var ErrNoUnit = errors.New("the number has no unit of length; say which it is")

// Metres returns the length in metres, rounded to the nearest float64. It is
// for curves, projections and drawings, never for a comparison with a limit.
func (l Length) Metres() float64 { return float64(l) / float64(Metre) }

// Millimetres returns the length in millimetres, rounded to the nearest float64.
func (l Length) Millimetres() float64 { return float64(l) / float64(Millimetre) }

// FromMetres returns the Length nearest to m metres, half away from zero. It is
// the one rounding of computed geometry: the product is not rounded before. NaN,
// infinities and values out of range are errors.
func FromMetres(m float64) (Length, error) {
	v := math.Abs(m) * float64(Metre)
	if !(v < math.MaxInt64) {
		return 0, ErrRange
	}
	rest := math.FMA(math.Abs(m), float64(Metre), -v) // what the rounding of v took
	whole := math.Floor(v)
	up := 0.0
	if half := v - whole; half != 0 { // then rest is too small to matter, but for a tie
		if half > 0.5 || half == 0.5 && rest >= 0 {
			up = 1
		}
	} else if up = math.Floor(rest); rest-up >= 0.5 {
		up++
	}
	l := Length(whole) + Length(up)
	if m < 0 {
		l = -l
	}
	return l, nil
}

// Add returns l + o, or ErrRange.
func (l Length) Add(o Length) (Length, error) {
	s := l + o
	if (s > l) != (o > 0) && o != 0 || s == math.MinInt64 {
		return 0, ErrRange
	}
	return s, nil
}

// Abs returns the absolute value of l.
func (l Length) Abs() Length {
	if l < 0 {
		return -l
	}
	return l
}

// Sign returns -1, 0 or +1.
func (l Length) Sign() int {
	switch {
	case l < 0:
		return -1
	case l > 0:
		return 1
	}
	return 0
}

// CompareProducts returns the sign of a×b − c×d, exactly. Grades are judged
// with it: fall × N against length × 1.
func CompareProducts(a, b, c, d Length) int {
	return product(a, b).compare(product(c, d))
}

// MulDiv returns a×b/c, rounded half away from zero to one count; c must not be
// zero. A result out of range is held at ±MaxLength.
func MulDiv(a, b, c Length) Length {
	hi, lo := bits.Mul64(uint64(a.Abs()), uint64(b.Abs()))
	d := uint64(c.Abs())
	neg := (a < 0) != (b < 0) != (c < 0)
	q := uint64(MaxLength)
	if hi < d {
		var r uint64
		q, r = bits.Div64(hi, lo, d)
		if r >= d-r && q < uint64(MaxLength) {
			q++
		}
		q = min(q, uint64(MaxLength))
	}
	if neg {
		return -Length(q)
	}
	return Length(q)
}

type wide struct {
	neg    bool
	hi, lo uint64
}

func product(a, b Length) wide {
	hi, lo := bits.Mul64(uint64(a.Abs()), uint64(b.Abs()))
	return wide{neg: (a < 0) != (b < 0) && (hi|lo) != 0, hi: hi, lo: lo}
}

func (w wide) compare(o wide) int {
	if w.neg != o.neg {
		if w.neg {
			return -1
		}
		return 1
	}
	c := 0
	switch {
	case w.hi != o.hi && w.hi > o.hi, w.hi == o.hi && w.lo > o.lo:
		c = 1
	case w.hi != o.hi || w.lo != o.lo:
		c = -1
	}
	if w.neg {
		return -c
	}
	return c
}

// MaxPlaces is the largest number of decimals that Fixed prints.
const MaxPlaces = 9

// Fixed prints l in unit u with exactly places decimals (0 to MaxPlaces),
// rounded half away from zero. Minus zero is printed as zero.
func (l Length) Fixed(u Unit, places int) string {
	return string(l.AppendFixed(nil, u, places))
}

// AppendFixed appends what Fixed prints.
func (l Length) AppendFixed(b []byte, u Unit, places int) []byte {
	places = min(max(places, 0), MaxPlaces)
	var q uint64
	if u.Size == Metre && places == 3 { // as most levels are printed: by a constant
		q = (uint64(l.Abs()) + uint64(Millimetre)/2) / uint64(Millimetre)
	} else {
		q = l.scaled(u, places)
	}
	if l < 0 && q != 0 {
		b = append(b, '-')
	}
	return appendPlaces(b, q, places)
}

// scaled returns |l| in u × 10^places, rounded half away from zero.
func (l Length) scaled(u Unit, places int) uint64 {
	hi, lo := bits.Mul64(uint64(l.Abs()), pow10[places])
	size := uint64(u.Size)
	q, r := bits.Div64(hi, lo, size) // hi < size: |l| < 2^63, 10^places ≤ 10^9, size ≥ 3.9×10^9
	if r >= size-r {
		q++
	}
	return q
}

// Exact prints l in unit u with at least least decimals, and as many more (to
// MaxPlaces) as it takes to say l exactly. What has still more is rounded.
func (l Length) Exact(u Unit, least int) string {
	return string(l.AppendExact(nil, u, least))
}

// AppendExact appends what Exact prints.
func (l Length) AppendExact(b []byte, u Unit, least int) []byte {
	q := l.billionths(u)
	if l < 0 && q != 0 {
		b = append(b, '-')
	}
	q, places := trim(q, min(max(least, 0), MaxPlaces))
	return appendPlaces(b, q, places)
}

// billionths is scaled with MaxPlaces. Of metres and millimetres, which most numbers
// are printed in, it divides by a constant: several times faster.
func (l Length) billionths(u Unit) uint64 {
	a := uint64(l.Abs())
	switch {
	case u.Size == Metre:
		return (a + uint64(Nanometre)/2) / uint64(Nanometre)
	case u.Size == Millimetre && a < math.MaxUint64/2000:
		return (a*1000 + uint64(Nanometre)/2) / uint64(Nanometre)
	}
	return l.scaled(u, MaxPlaces)
}

// trim takes noughts off the end of q / 10^MaxPlaces, down to least decimals.
func trim(q uint64, least int) (uint64, int) {
	places := MaxPlaces
	if least <= 3 && q%1e6 == 0 { // whole thousandths, as most readings are
		q, places = q/1e6, 3
	}
	for places > least && q%10 == 0 {
		q, places = q/10, places-1
	}
	return q, places
}

// AppendFrom appends origin whole units plus l, in unit u, as AppendExact prints
// them: a coordinate that is too large for a Length.
func (l Length) AppendFrom(b []byte, origin int64, u Unit, least int) []byte {
	whole, rest := l.split(u)
	whole += origin
	// the fraction must have the sign of the whole
	if whole > 0 && rest < 0 {
		whole, rest = whole-1, rest+u.Size
	} else if whole < 0 && rest > 0 {
		whole, rest = whole+1, rest-u.Size
	}
	q, neg := rest.billionths(u), whole < 0 || rest < 0
	n := uint64(whole)
	if whole < 0 {
		n = -n
	}
	if q == pow10[MaxPlaces] { // rounding carried into the whole part
		n, q = n+1, 0
	}
	if neg && (n != 0 || q != 0) {
		b = append(b, '-')
	}
	q, places := trim(q, min(max(least, 0), MaxPlaces))
	if n < plain {
		return appendPlaces(b, n*pow10[places]+q, places)
	}
	b = append(appendPlaces(b, n, 0), '.')
	if places == 0 {
		return b[:len(b)-1]
	}
	var buf [MaxPlaces]byte
	for i := places; i > 0; i-- {
		buf[i-1] = byte('0' + q%10)
		q /= 10
	}
	return append(b, buf[:places]...)
}

// split is l in whole units, towards nought, and what is left.
func (l Length) split(u Unit) (whole int64, rest Length) {
	if u.Size == Metre {
		return int64(l / Metre), l % Metre
	}
	return int64(l / u.Size), l % u.Size
}

// String prints l in metres to the tenth of a millimetre; it is for debugging,
// reports choose unit and decimals.
func (l Length) String() string { return l.Fixed(M, 4) + " m" }

// Unit is a named unit of length.
type Unit struct {
	Name string // as written in job files, options and reports
	Size Length // one of it
	Word string // in full
}

// The units that files may use.
var (
	M     = Unit{"m", Metre, "metre"}
	MM    = Unit{"mm", Millimetre, "millimetre"}
	CM    = Unit{"cm", 10 * Millimetre, "centimetre"}
	KM    = Unit{"km", 1000 * Metre, "kilometre"}
	Ft    = Unit{"ft", InternationalFoot, "international foot"}
	FtUS  = Unit{"ftUS", USSurveyFoot, "US survey foot"}
	In    = Unit{"in", Inch, "inch"}
	Mile  = Unit{"mi", 5280 * InternationalFoot, "mile"}
	Units = []Unit{M, MM, CM, KM, Ft, FtUS, In, Mile}
)

// Known reports whether u is a unit at all; the zero Unit is "not said".
func (u Unit) Known() bool { return u.Size != 0 }

func (u Unit) String() string { return u.Name }

// ByName finds a unit by its name. Names are exact: "ft" is the international
// foot, "ftUS" the US survey foot.
func ByName(name string) (Unit, bool) {
	for _, u := range Units {
		if u.Name == name {
			return u, true
		}
	}
	return Unit{}, false
}
