package unit_test

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// anyLength draws from the whole range, its ends and small values.
func anyLength() *rapid.Generator[unit.Length] {
	return rapid.Custom(func(t *rapid.T) unit.Length {
		l := rapid.OneOf(
			rapid.Int64Range(-math.MaxInt64, math.MaxInt64), rapid.Int64Range(-5000, 5000),
			rapid.SampledFrom([]int64{0, 1, -1, math.MaxInt64, -math.MaxInt64, 1 << 62, -1 << 62, int64(unit.Metre)}),
		).Draw(t, "counts")
		return unit.Length(l)
	})
}

func TestFixedAndExactAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, u := anyLength().Draw(t, "l"), rapid.SampledFrom(unit.Units).Draw(t, "unit")
		places := rapid.IntRange(0, unit.MaxPlaces).Draw(t, "places")
		r := new(big.Rat).SetFrac64(int64(l), int64(u.Size))
		whole := halfAway(new(big.Rat).Mul(r, tenPower(places)))
		want := new(big.Rat).Quo(new(big.Rat).SetInt(whole), tenPower(places)).FloatString(places)
		require.Equal(t, want, l.Fixed(u, places), "%d counts in %s", int64(l), u)
		require.Equal(t, "z "+want, string(l.AppendFixed([]byte("z "), u, places)))

		// Exact: the least decimals that say the nine-decimal value, no fewer than asked
		exact, nine := l.Exact(u, places), ratOf(t, l.Fixed(u, unit.MaxPlaces))
		require.Zero(t, ratOf(t, exact).Cmp(nine), exact)
		n := decimals(exact)
		require.GreaterOrEqual(t, n, places)
		if n > places {
			require.NotEqual(t, byte('0'), exact[len(exact)-1])
		}
	})
}

// A coordinate from its origin, in print: the nine-decimal value of the sum, with no
// more noughts than asked for.
func TestAppendFromAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, u := anyLength().Draw(t, "l"), rapid.SampledFrom(unit.Units).Draw(t, "unit")
		least := rapid.IntRange(0, unit.MaxPlaces).Draw(t, "places")
		origin := rapid.OneOf(rapid.Int64Range(-10_000_000, 10_000_000), rapid.SampledFrom([]int64{0, 1, -1})).Draw(t, "origin")
		sum := new(big.Rat).SetFrac64(int64(l), int64(u.Size))
		sum.Add(sum, new(big.Rat).SetInt64(origin))
		nine := new(big.Rat).Quo(new(big.Rat).SetInt(halfAway(new(big.Rat).Mul(sum, tenPower(unit.MaxPlaces)))), tenPower(unit.MaxPlaces))
		got := string(l.AppendFrom([]byte("z "), origin, u, least))
		require.Equal(t, "z ", got[:2])
		got = got[2:]
		require.Zero(t, ratOf(t, got).Cmp(nine), "%s for %s", got, nine.FloatString(12))
		n := decimals(got)
		require.GreaterOrEqual(t, n, least)
		if n > least {
			require.NotEqual(t, byte('0'), got[len(got)-1])
		}
		require.NotEqual(t, "-0", got)
	})
}

func decimals(s string) int {
	for i := range s {
		if s[i] == '.' {
			return len(s) - i - 1
		}
	}
	return 0
}

func TestPrinting(t *testing.T) {
	mm := func(s string) unit.Length {
		l, _, err := unit.Parse(s, unit.MM)
		require.NoError(t, err)
		return l
	}
	for _, x := range []struct {
		l      unit.Length
		u      unit.Unit
		places int
		fixed  string
		exact  string
	}{
		{mm("25.3"), unit.MM, 0, "25", "25.3"},
		{mm("24.5"), unit.MM, 0, "25", "24.5"}, // half away from zero
		{mm("-24.5"), unit.MM, 0, "-25", "-24.5"},
		{mm("-0.4"), unit.MM, 0, "0", "-0.4"}, // never minus zero
		{0, unit.M, 3, "0.000", "0.000"},
		{mm("48710"), unit.M, 3, "48.710", "48.710"},
		{mm("48710.25"), unit.M, 3, "48.710", "48.71025"},
		{mm("10"), unit.M, 0, "0", "0.01"},
		{mm("10000"), unit.M, 0, "10", "10"},
		{unit.InternationalFoot, unit.M, 2, "0.30", "0.3048"},
		{unit.USSurveyFoot, unit.M, 4, "0.3048", "0.30480061"},
		{unit.MaxLength, unit.KM, 3, "2342.741", "2342.741182843"},
		{-1, unit.M, 9, "0.000000000", "0.000000000"},
		{unit.Metre, unit.M, -2, "1", "1"},
		{unit.Metre, unit.M, 40, "1.000000000", "1.000000000"},
	} {
		assert.Equal(t, x.fixed, x.l.Fixed(x.u, x.places))
		assert.Equal(t, x.exact, x.l.Exact(x.u, x.places))
	}
	assert.Equal(t, "1.2346 m", mm("1234.56").String())
	assert.Equal(t, "ftUS", unit.FtUS.String())
}

// What is printed exactly is read back as the same length.
func TestExactReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]unit.Unit{unit.M, unit.MM, unit.Ft, unit.FtUS}).Draw(t, "unit")
		l, err := unit.Decimal{Coef: rapid.Int64Range(-1e10, 1e10).Draw(t, "coef"), Places: rapid.Uint8Range(0, 5).Draw(t, "places")}.Length(u)
		if err != nil {
			return
		}
		back, exact, err := unit.Parse(l.Exact(u, 0), u)
		require.NoError(t, err)
		require.True(t, exact)
		require.Equal(t, l, back)
	})
}

func TestAdd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyLength().Draw(t, "a"), anyLength().Draw(t, "b")
		want := new(big.Int).Add(big.NewInt(int64(a)), big.NewInt(int64(b)))
		got, err := a.Add(b)
		if want.IsInt64() && want.Int64() != math.MinInt64 {
			require.NoError(t, err)
			require.Equal(t, want.Int64(), int64(got))
		} else {
			require.ErrorIs(t, err, unit.ErrRange)
		}
	})
	_, err := unit.MaxLength.Add(1)
	assert.ErrorIs(t, err, unit.ErrRange)
	_, err = (-unit.MaxLength).Add(-1)
	assert.ErrorIs(t, err, unit.ErrRange, "the range is the same both ways")
}

func TestSignAndAbs(t *testing.T) {
	for l, sign := range map[unit.Length]int{-5: -1, 0: 0, 7: 1} {
		assert.Equal(t, sign, l.Sign())
		assert.GreaterOrEqual(t, l.Abs(), unit.Length(0))
	}
	assert.Equal(t, unit.Length(5), unit.Length(-5).Abs())
}

func TestMulDivAgainstBig(t *testing.T) {
	held := 0
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := anyLength().Draw(t, "a"), anyLength().Draw(t, "b"), anyLength().Draw(t, "c")
		if c == 0 {
			return
		}
		want := halfAway(new(big.Rat).SetFrac(new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b))), big.NewInt(int64(c))))
		limit := big.NewInt(math.MaxInt64)
		if want.CmpAbs(limit) > 0 {
			held++
			if want.Sign() < 0 {
				limit.Neg(limit)
			}
			want = limit
		}
		require.Equal(t, want.Int64(), int64(unit.MulDiv(a, b, c)), "%d × %d / %d", a, b, c)
	})
	assert.NotZero(t, held)
	assert.Equal(t, unit.Length(2), unit.MulDiv(3, 1, 2), "half away from zero")
	assert.Equal(t, unit.Length(-2), unit.MulDiv(-3, 1, 2))
	assert.Equal(t, unit.Length(0), unit.MulDiv(-1, 1, 3))
	assert.Equal(t, unit.MaxLength, unit.MulDiv(unit.MaxLength, unit.MaxLength, 1<<62-1))
	assert.Equal(t, unit.MaxLength, unit.MulDiv(1<<32, 1<<32, 1))
	assert.Equal(t, unit.MaxLength, unit.MulDiv(5155490048120730684, 2072634566134517017, 579259236014799812), "a quotient of 2^64 − 1 that is rounded up")
}

func TestCompareProductsAgainstBig(t *testing.T) {
	equal := 0
	rapid.Check(t, func(t *rapid.T) {
		var l [4]unit.Length
		for i := range l {
			l[i] = anyLength().Draw(t, "l")
		}
		if rapid.Bool().Draw(t, "the same factors") {
			l[2], l[3] = l[1], l[0]
			if rapid.Bool().Draw(t, "both signs turned") {
				l[2], l[3] = -l[2], -l[3]
			}
		}
		ab := new(big.Int).Mul(big.NewInt(int64(l[0])), big.NewInt(int64(l[1])))
		cd := new(big.Int).Mul(big.NewInt(int64(l[2])), big.NewInt(int64(l[3])))
		got := unit.CompareProducts(l[0], l[1], l[2], l[3])
		require.Equal(t, ab.Cmp(cd), got)
		require.Equal(t, -got, unit.CompareProducts(l[2], l[3], l[0], l[1]))
		if got == 0 {
			equal++
		}
	})
	assert.NotZero(t, equal)
	// a fall of 100 mm over 10 m is 1 in 100, one count less is not
	fall, n, length := 100*unit.Millimetre, unit.Length(100), 10*unit.Metre
	assert.Equal(t, 0, unit.CompareProducts(fall, n, length, 1))
	assert.Equal(t, -1, unit.CompareProducts(fall-1, n, length, 1))
}

func TestFromMetresAgainstBig(t *testing.T) {
	check := func(t require.TestingT, m float64) {
		l, err := unit.FromMetres(m)
		want := halfAway(counts(new(big.Rat).SetFloat64(m), unit.M))
		if want.CmpAbs(big.NewInt(math.MaxInt64)) > 0 {
			require.ErrorIs(t, err, unit.ErrRange)
			return
		}
		if err != nil { // refused only at the very end of the range
			require.Greater(t, math.Abs(m), 2_342_741.0)
			return
		}
		require.Equal(t, want.Int64(), int64(l), "%v m", m)
	}
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.OneOf(rapid.Float64Range(-2_400_000, 2_400_000), rapid.Float64Range(-1, 1), rapid.Float64Range(-1e-11, 1e-11)).Draw(t, "m")
		check(t, m)
		// next to a half of one count
		half := (math.Floor(m*3.937e12) + 0.5) / 3.937e12
		for _, v := range []float64{half, math.Nextafter(half, 9e9), math.Nextafter(half, -9e9)} {
			check(t, v)
		}
	})
	for _, m := range []float64{0, 1, -1, 0.1, 1e-30, -1e-30, 5e-324} {
		check(t, m)
	}
	for _, m := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 2_342_742, -2_342_742, 1e300} {
		_, err := unit.FromMetres(m)
		assert.ErrorIs(t, err, unit.ErrRange)
	}
	assert.Equal(t, 1.5, (3 * unit.Metre / 2).Metres())
	assert.Equal(t, -1.5, (-3 * unit.Millimetre / 2).Millimetres())
}

func TestByName(t *testing.T) {
	for _, u := range unit.Units {
		got, ok := unit.ByName(u.Name)
		assert.True(t, ok)
		assert.Equal(t, u, got)
		assert.True(t, got.Known())
		assert.NotEmpty(t, u.Word)
	}
	for _, name := range []string{"", "M", "FT", "feet", "ft us", "ftus", "metre", "yd"} {
		u, ok := unit.ByName(name)
		assert.False(t, ok, name)
		assert.False(t, u.Known())
	}
}
