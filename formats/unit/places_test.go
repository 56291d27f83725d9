package unit

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Every number of digits, and either side of it, with any number of places.
func TestAppendPlaces(t *testing.T) {
	for n := 0; n <= 19; n++ {
		for _, c := range []uint64{pow10[n] - 1, pow10[n], pow10[n] + 1, math.MaxUint64} {
			text := strconv.FormatUint(c, 10)
			assert.Equal(t, len(text), digits(c), text)
			for places := range 20 {
				want := strings.Repeat("0", max(0, places+1-len(text))) + text
				if places > 0 {
					want = want[:len(want)-places] + "." + want[len(want)-places:]
				}
				assert.Equal(t, "x"+want, string(appendPlaces([]byte("x"), c, places)))
			}
		}
	}
}

// A Ruler says what LengthFrom says, of every number, origin and unit.
func TestRulerIsLengthFrom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := rapid.SampledFrom([]Unit{M, MM, Ft, FtUS, In, {}})
		per, u := units.Draw(t, "per"), units.Draw(t, "unit")
		origin := rapid.OneOf(rapid.Int64Range(-10_000_000, 10_000_000), rapid.SampledFrom([]int64{0, plain - 1, plain, -plain, 1 - plain, math.MaxInt64})).Draw(t, "origin")
		r := NewRuler(origin, per, u)
		for range 20 {
			d := Decimal{rapid.OneOf(rapid.Int64Range(-1e13, 1e13), rapid.Int64Range(-999_999_999_999_999_999, 999_999_999_999_999_999)).Draw(t, "coef"), uint8(rapid.IntRange(0, 20).Draw(t, "places"))}
			want, err1 := d.LengthFrom(origin, per, u)
			got, err2 := r.Length(d)
			require.Equal(t, err1, err2)
			require.Equal(t, want, got)
		}
	})
}
