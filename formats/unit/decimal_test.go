package unit_test

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// ratOf is a decimal text as an exact fraction, by math/big.
func ratOf(t require.TestingT, s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	require.True(t, ok, s)
	return r
}

// halfAway rounds a fraction to a whole number, half away from zero.
func halfAway(r *big.Rat) *big.Int {
	num, den := new(big.Int).Abs(r.Num()), r.Denom()
	num.Mul(num, big.NewInt(2)).Add(num, den)
	q := num.Quo(num, new(big.Int).Mul(den, big.NewInt(2)))
	if r.Sign() < 0 {
		q.Neg(q)
	}
	return q
}

// counts is how many counts of Length a fraction of a unit is, exactly.
func counts(r *big.Rat, u unit.Unit) *big.Rat {
	return new(big.Rat).Mul(r, new(big.Rat).SetInt64(int64(u.Size)))
}

var tenPower = func(n int) *big.Rat {
	return new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(n)), nil))
}

// The size of the units against their legal definitions: the international foot
// is 0.3048 m and the US survey foot 1200/3937 m (NIST SP 811, 2008, appendix
// B.6), the inch a twelfth and the mile 5280 of the foot.
func TestSizesOfUnits(t *testing.T) {
	for name, metres := range map[string]string{"m": "1", "mm": "1/1000", "cm": "1/100", "km": "1000", "ft": "3048/10000",
		"ftUS": "1200/3937", "in": "254/10000", "mi": "16093440/10000"} {
		u, ok := unit.ByName(name)
		require.True(t, ok, name)
		assert.Zero(t, counts(ratOf(t, metres), unit.M).Cmp(new(big.Rat).SetInt64(int64(u.Size))), name)
	}
	assert.Len(t, unit.Units, 8)
	assert.EqualValues(t, 3_937_000_000_000, unit.Metre)
	assert.EqualValues(t, 1_562_496_875, unit.Inch/64)
	assert.Zero(t, unit.Inch%64)
}

func TestParseDecimal(t *testing.T) {
	nines := strings.Repeat("9", 18)
	for _, x := range []struct {
		in    string
		coef  int64
		place uint8
		exact bool
	}{
		{"12", 12, 0, true}, {"-0.450", -450, 3, true}, {"+0.450", 450, 3, true}, {"12.", 12, 0, true}, {".5", 5, 1, true}, {"-.5", -5, 1, true},
		{"1E3", 1000, 0, true}, {"1.5e-3", 15, 4, true}, {"1.5e+1", 15, 0, true}, {"0", 0, 0, true}, {"-0.000", 0, 3, true}, {"00012.50", 1250, 2, true},
		{"0e400", 0, 0, true}, {"0." + strings.Repeat("0", 40), 0, 18, true},
		{nines, 999999999999999999, 0, true}, {"0." + nines, 999999999999999999, 18, true},
		// beyond 18 significant digits: rounded once, and said
		{"1.23456789012345678", 123456789012345678, 17, true}, {"1.234567890123456780", 123456789012345678, 17, true},
		{"1.234567890123456785", 123456789012345679, 17, false}, {"1.2345678901234567849", 123456789012345678, 17, false},
		{"-1.234567890123456785", -123456789012345679, 17, false}, {nines + ".4", 999999999999999999, 0, false},
		{"0." + nines + "5", 100000000000000000, 17, false}, {nines[1:] + ".95", 100000000000000000, 0, false},
		// beyond 18 decimals
		{"1e-18", 1, 18, true}, {"1e-19", 0, 18, false}, {"5e-19", 1, 18, false}, {"4.9e-19", 0, 18, false}, {"5e-20", 0, 18, false}, {"95e-20", 1, 18, false},
		{"1e-400", 0, 18, false}, {"1000e-21", 1, 18, true},
		// not rounded twice: 0.0000...4 96 is below the half
		{"0.001234567890123456496", 1234567890123456, 18, false}, {"0.001234567890123456499999", 1234567890123456, 18, false},
		{"0.0012345678901234565", 1234567890123457, 18, false},
		{"1234567890123456789e-5", 123456789012345679, 4, false},
	} {
		d, exact, err := unit.ParseDecimal(x.in)
		if assert.NoError(t, err, x.in) {
			assert.Equal(t, unit.Decimal{Coef: x.coef, Places: x.place}, d, x.in)
			assert.Equal(t, x.exact, exact, x.in)
		}
		b, exactB, err := unit.ParseDecimal([]byte(x.in))
		assert.NoError(t, err)
		assert.Equal(t, d, b)
		assert.Equal(t, exact, exactB)
	}
	for _, in := range []string{"", "-", "+", ".", "-.", "e3", "1e", "1e+", "1e1.5", "1e1_0", "1_000", "1,5", "1 000", " 1", "1 ", "--1", "+-1", "1..2", "1.2.3",
		"NaN", "Inf", "-inf", "0x10", "1e401", "1e-401", "1/2", "−1", "１", "1\x00", "12m", nines + "9", nines + ".5", "4e18", "1e18", "1000000000000000000", "1234567890123456789"} {
		_, _, err := unit.ParseDecimal(in)
		assert.Error(t, err, "%q", in)
	}
	_, _, err := unit.ParseDecimal("1O.5")
	assert.EqualError(t, err, `"1O.5" is not a number`)
	_, _, err = unit.ParseDecimal("4e18")
	assert.EqualError(t, err, `"4e18" has more than 18 digits before the decimal point`)
	_, _, err = unit.ParseDecimal(strings.Repeat("x", 1<<20))
	assert.Less(t, len(err.Error()), 120, "a long cell is cut in the message")
}

// checkDecimal holds ParseDecimal against the same text read by math/big.
func checkDecimal(t require.TestingT, s string) {
	d, exact, err := unit.ParseDecimal(s)
	if err != nil {
		return
	}
	want := ratOf(t, s)
	p := tenPower(int(d.Places))
	got := new(big.Rat).Quo(new(big.Rat).SetInt64(d.Coef), p)
	require.Equal(t, exact, want.Cmp(got) == 0, "%s read as %s", s, d)
	require.Zero(t, halfAway(new(big.Rat).Mul(want, p)).Cmp(big.NewInt(d.Coef)), "%s read as %s is not rounded half away from zero", s, d)
	back, exact, err := unit.ParseDecimal(d.String())
	require.NoError(t, err)
	require.True(t, exact)
	require.Equal(t, d, back)
}

func FuzzParseDecimal(f *testing.F) {
	for _, s := range []string{"12", "-0.450", ".5", "1E3", "1e-19", "0.001234567890123456496", "999999999999999999.5", "00.1e+2", "1_0", "0x1p3", "1/2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) { checkDecimal(t, s) })
}

func TestRandomDecimalsAgainstBig(t *testing.T) {
	text := rapid.StringMatching(`[+-]?0{0,3}[0-9]{1,12}(\.[0-9]{0,24})?([eE][+-]?[0-9]{1,2})?`)
	refused := 0
	rapid.Check(t, func(t *rapid.T) {
		s := text.Draw(t, "text")
		if _, _, err := unit.ParseDecimal(s); err != nil {
			refused++
			require.Contains(t, err.Error(), "has more than 18 digits before the decimal point")
			require.GreaterOrEqual(t, new(big.Rat).Abs(ratOf(t, s)).Cmp(ratOf(t, "999999999999999999.5")), 0, "%s is refused", s)
		}
		checkDecimal(t, s)
	})
	assert.NotZero(t, refused)
}

// Every decimal that the units promise to hold is held exactly, and the others
// are rounded half away from zero to one count and said to be.
func TestEveryDecimalIsExact(t *testing.T) {
	held := map[string]int{"m": 9, "mm": 6, "cm": 7, "km": 12, "ft": 5, "ftUS": 11, "in": 5, "mi": 6}
	for _, u := range unit.Units {
		rapid.Check(t, func(t *rapid.T) {
			places := rapid.IntRange(0, 14).Draw(t, "places")
			whole := rapid.Int64Range(-1400, 1400).Draw(t, "whole")
			digits := rapid.StringMatching(fmt.Sprintf(`[0-9]{%d}`, places)).Draw(t, "digits")
			s := fmt.Sprintf("%d.%s", whole, digits)
			l, exact, err := unit.Parse(s, u)
			require.NoError(t, err)
			want := counts(ratOf(t, s), u)
			require.Equal(t, want.IsInt(), exact, "%s %s", s, u)
			require.Zero(t, halfAway(want).Cmp(big.NewInt(int64(l))), "%s %s", s, u)
			if places <= held[u.Name] {
				require.True(t, exact, "%s %s: %d decimals are promised", s, u, held[u.Name])
			}
		})
	}
}

func TestParseRangeAndUnit(t *testing.T) {
	l, exact, err := unit.Parse("2342741.182", unit.M)
	require.NoError(t, err)
	assert.True(t, exact)
	assert.Equal(t, "2342741.182", l.Exact(unit.M, 3))
	for _, s := range []string{"2342741.183", "-2342741.183", "9e15", "-9e15"} {
		_, _, err := unit.Parse(s, unit.M)
		assert.ErrorIs(t, err, unit.ErrRange, s)
		assert.Contains(t, err.Error(), s+" m: ")
	}
	_, _, err = unit.Parse("1", unit.Unit{})
	assert.ErrorIs(t, err, unit.ErrNoUnit, "a number without a unit is no length")
	_, err = unit.Decimal{Coef: 1, Places: 20}.Length(unit.M)
	assert.Error(t, err)
	half, err := unit.Decimal{Coef: 5, Places: 19}.Length(unit.M)
	assert.NoError(t, err, "half of the last place of 18 decimals")
	assert.Zero(t, half)
}

// At the limit of ±2^63 counts, one count either side.
func TestRangeIsExact(t *testing.T) {
	const end = 2342741182843478741 // of 1e-12 m: the last within the range
	held := 0
	for i := int64(-9); i <= 9; i++ {
		for _, coef := range []int64{end + i, -end + i} {
			want := halfAway(counts(new(big.Rat).Quo(new(big.Rat).SetInt64(coef), tenPower(12)), unit.M))
			l, err := unit.Decimal{Coef: coef, Places: 12}.Length(unit.M)
			if want.IsInt64() && want.Int64() != math.MinInt64 {
				require.NoError(t, err)
				assert.Equal(t, want.Int64(), int64(l))
				held++
			} else {
				assert.ErrorIs(t, err, unit.ErrRange)
			}
		}
	}
	assert.Equal(t, 22, held, "ten each way, and the next, which is rounded into the range")
}

// Half of a count is rounded away from zero; −2^63 counts, which an int64 could
// hold, are out of range as 2^63 are.
func TestHalvesAndTheLastCount(t *testing.T) {
	for coef, want := range map[int64]unit.Length{5: 1969, -5: -1969, 15: 5906, -15: -5906, 4: 1575} {
		l, err := unit.Decimal{Coef: coef, Places: 10}.Length(unit.M) // 393.7 counts each
		require.NoError(t, err)
		assert.Equal(t, want, l)
	}
	const metres = 2_342_741 // and the rest of 2^63 counts
	rest := new(big.Rat).SetFrac(new(big.Int).Lsh(big.NewInt(1), 63), big.NewInt(int64(unit.Metre)))
	rest.Sub(rest, new(big.Rat).SetInt64(metres))
	coef := halfAway(rest.Mul(rest, tenPower(13))).Int64()
	_, err := unit.Decimal{Coef: -coef, Places: 13}.LengthFrom(metres, unit.M, unit.M)
	assert.ErrorIs(t, err, unit.ErrRange)
	_, err = unit.Decimal{Coef: coef, Places: 13}.LengthFrom(-metres, unit.M, unit.M)
	assert.ErrorIs(t, err, unit.ErrRange)
	l, err := unit.Decimal{Coef: 3 - coef, Places: 13}.LengthFrom(metres, unit.M, unit.M)
	require.NoError(t, err)
	assert.Equal(t, -unit.MaxLength, l, "one count less is the end of the range")
}

// Coordinates of 6 and 7 whole digits, less an origin, in every pair of units;
// negative ones and ones that leave the range as well.
func TestLengthFromOrigin(t *testing.T) {
	units := []unit.Unit{unit.M, unit.Ft, unit.FtUS, unit.MM, unit.KM}
	refused := 0
	rapid.Check(t, func(t *rapid.T) {
		u, per := rapid.SampledFrom(units).Draw(t, "unit"), rapid.SampledFrom(units).Draw(t, "unit of the origin")
		places := rapid.Uint8Range(0, 6).Draw(t, "places")
		coef := rapid.Int64Range(-99_999_999_999_999, 99_999_999_999_999).Draw(t, "coef")
		origin := rapid.Int64Range(-9_999_999, 9_999_999).Draw(t, "origin")
		l, err := unit.Decimal{Coef: coef, Places: places}.LengthFrom(origin, per, u)
		d := counts(new(big.Rat).Quo(new(big.Rat).SetInt64(coef), tenPower(int(places))), u)
		want := halfAway(d)
		want.Sub(want, halfAway(counts(new(big.Rat).SetInt64(origin), per)))
		if want.IsInt64() && want.Int64() != math.MinInt64 {
			require.NoError(t, err)
			require.Equal(t, want.Int64(), int64(l))
		} else {
			refused++
			require.ErrorIs(t, err, unit.ErrRange)
		}
	})
	assert.NotZero(t, refused)
	for _, x := range []struct {
		text   string
		origin int64
		per, u unit.Unit
		want   string
	}{
		{"6250123.4567", 6_250_000, unit.M, unit.M, "123.4567"},
		{"6250123.4567", 6_251_000, unit.M, unit.M, "-876.5433"},
		{"-334567.891", -334_000, unit.M, unit.M, "-567.891"},
		{"2050123.4567", 2_050_000, unit.FtUS, unit.FtUS, "123.4567"},
		{"998765.43219", 998_000, unit.Ft, unit.Ft, "765.43219"},
		{"9999999.999999", 9_999_999, unit.FtUS, unit.FtUS, "0.999999"},
		{"-9999999.99", -9_999_999, unit.Ft, unit.Ft, "-0.99"},
	} {
		d, exact, err := unit.ParseDecimal(x.text)
		require.NoError(t, err)
		require.True(t, exact)
		l, err := d.LengthFrom(x.origin, x.per, x.u)
		require.NoError(t, err)
		assert.Equal(t, x.want, l.Exact(x.u, 0))
	}
	_, err := unit.Decimal{Coef: 1}.LengthFrom(1, unit.Unit{}, unit.M)
	assert.ErrorIs(t, err, unit.ErrNoUnit, "an origin without a unit")
	_, err = unit.Decimal{Coef: 1}.LengthFrom(0, unit.Unit{}, unit.M)
	assert.NoError(t, err)
	_, err = unit.Decimal{Coef: math.MaxInt64}.LengthFrom(math.MinInt64, unit.Mile, unit.Mile)
	assert.ErrorIs(t, err, unit.ErrRange)
}

// A point on its limit is on its limit: design plus tolerance, added as decimal
// text by math/big and read again, is the sum of the two Lengths, in every one
// of 10,000 cases for 2, 3 and 4 decimals in each of m, ft and ftUS.
func TestPointsOnTheirLimit(t *testing.T) {
	const cases = 10_000
	rng := rand.New(rand.NewPCG(3, 937))
	for _, u := range []unit.Unit{unit.M, unit.Ft, unit.FtUS} {
		for places := 2; places <= 4; places++ {
			p := int64(math.Pow10(places))
			equal := 0
			for range cases {
				design := big.NewRat(rng.Int64N(9000*p)-1000*p, p)
				tol := big.NewRat(rng.Int64N(p/5)-p/10, p)
				measured := new(big.Rat).Add(design, tol)
				var l [3]unit.Length
				for i, r := range []*big.Rat{design, tol, measured} {
					v, exact, err := unit.Parse(r.FloatString(places), u)
					require.NoError(t, err)
					require.True(t, exact)
					l[i] = v
				}
				if l[0]+l[1] == l[2] && l[2]-l[0] == l[1] {
					equal++
				}
			}
			assert.Equal(t, cases, equal, "%d decimals of %s", places, u)
		}
	}
}

func TestDecimalPrints(t *testing.T) {
	for _, s := range []string{"0", "12", "-12", "0.5", "-0.450", "0.005", "100.00", "0.000000000000000001", "-999999999999999.999"} {
		d, _, err := unit.ParseDecimal(s)
		require.NoError(t, err)
		assert.Equal(t, s, d.String())
		assert.Equal(t, "x="+s, string(d.Append([]byte("x="))))
		if want := strings.TrimPrefix(s, "-"); d.Coef < 0 {
			assert.Equal(t, want, d.Neg().String())
		}
		want, _ := ratOf(t, s).Float64()
		assert.Equal(t, want, d.Float())
	}
	assert.Equal(t, "0.0000000000000000000005", unit.Decimal{Coef: 5, Places: 22}.String(), "more places than a text gives")
	assert.Equal(t, "-9223372036854775808", unit.Decimal{Coef: math.MinInt64}.String())
}

func BenchmarkParse(b *testing.B) {
	s := []byte("6250123.457")
	for b.Loop() {
		d, _, _ := unit.ParseDecimal(s)
		_, _ = d.LengthFrom(6_250_000, unit.M, unit.M)
	}
}

// The nearest float64, as strconv reads the same text.
func TestFloatIsTheNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := unit.Decimal{Coef: rapid.OneOf(rapid.Int64Range(-1_000_000_000, 1_000_000_000), rapid.Int64()).Draw(t, "coef"), Places: rapid.Uint8Range(0, unit.MaxDigits).Draw(t, "places")}
		want, err := strconv.ParseFloat(d.String(), 64)
		require.NoError(t, err)
		require.Equal(t, want, d.Float(), d.String())
	})
}
