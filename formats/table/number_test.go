package table

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// What is written plainly is read as it stands; nothing else is read at all.
func TestPlainNumbersOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[-+(]{0,2}[0-9OlS., \x{a0}\x{2212}]{1,8}[m)-]{0,2}`).Draw(t, "text")
		want, wantExact, err := unit.ParseDecimal(s)
		v, exact, why := number(s, false)
		if err != nil {
			require.NotEmpty(t, why)
			require.Contains(t, why, "\"", "the message shows the cell")
			require.Equal(t, unit.Decimal{}, v)
			return
		}
		require.Empty(t, why)
		require.Equal(t, want, v)
		require.Equal(t, wantExact, exact)
	})
}

// With decimal commas the same numbers are read, and a point is refused.
func TestDecimalCommas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := unit.Decimal{Coef: rapid.Int64Range(-1e12, 1e12).Draw(t, "coef"), Places: uint8(rapid.IntRange(0, 9).Draw(t, "places"))}
		s := d.String()
		v, _, why := number(strings.Replace(s, ".", ",", 1), true)
		require.Empty(t, why)
		require.Equal(t, d, v)
		if strings.Contains(s, ".") {
			_, _, why = number(s, true)
			require.Contains(t, why, "has a decimal point, and the numbers of this file have a decimal comma")
		}
	})
	_, _, why := number("1.234,5", true)
	assert.Contains(t, why, "marks between its thousands; it may be 1234,5")
	_, _, why = number("1,2,3", true)
	assert.Contains(t, why, "is not a number")
}

func TestNoValue(t *testing.T) {
	for _, s := range []string{"N/A", "n/a", "NaN", "*", "null", "-", "—", "none"} {
		assert.True(t, noValue(s), s)
	}
	for _, s := range []string{"", "1", "BM", "north", "nonesuch"} {
		assert.False(t, noValue(s), s)
	}
	for s, want := range map[string]bool{"-9999": true, "-9999.000": true, "-32768": true, "99999.0": true, "9999": false, "-9999.5": false, "0": false, "-99990": false, "99.999": false} {
		d, _, err := unit.ParseDecimal(s)
		require.NoError(t, err)
		assert.Equal(t, want, noNumber(d), s)
	}
}

func TestOddNames(t *testing.T) {
	for s, want := range map[string]string{"6.00E+02": "power", "1E+05": "power", "06E2": "", "3-Apr": "date", "Apr-03": "date", "3-4": "", "MH-12": "", "C-Dec": "", "007": "",
		"BM\u00a01": "no-break space", "P\u200b1": "no-break space", "Ü1": "", "A+B": "", "": ""} {
		got := oddName(s)
		if want == "" {
			assert.Empty(t, got, s)
		} else {
			assert.Contains(t, got, want, s)
		}
	}
}

func TestLargeCoordinates(t *testing.T) {
	for s, want := range map[string]bool{"500000": true, "499999.999": false, "-500000.5": true, "0.5": false, "5800000.123456": true} {
		d, _, err := unit.ParseDecimal(s)
		require.NoError(t, err)
		assert.Equal(t, want, large(d), s)
	}
}
