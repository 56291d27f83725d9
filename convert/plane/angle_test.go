package plane

import (
	"fmt"
	"math"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func TestParseBearing(t *testing.T) {
	for text, degrees := range map[string]float64{"0 deg": 0, "123.5 deg": 123.5, "360 deg": 0, "123°30'15\"": 123.504166666667, "123d30m15s": 123.504166666667,
		"123° 30′ 15.5″": 123.504305555556, "137.2 gon": 123.48, "100gon": 90, "123 deg 30 min": 123.5, "270°": 270, "12º 5’ 6”": 12.085, "0.5 gon": 0.45, " 7 DEG ": 7, "59d59m59.9999s": 59.999999972222} {
		a, err := ParseBearing(text)
		require.NoError(t, err, text)
		assert.InDelta(t, degrees, a.Degrees(), 1e-10, text)
		if degrees > 0 {
			assert.InDelta(t, degrees, Bearing(a).Degrees(), 1e-10, text)
		}
	}
	for text, why := range map[string]string{"123.5": "with its unit", "": "with its unit", "400 deg": "more than a full turn", "401 gon": "more than a full turn", "-5 deg": "not a bearing", "N 45 E": "not a bearing",
		"123.5 deg true": "not a grid bearing", "12 deg magnetic": "not a grid bearing", "12d60m": "60 or more", "12.5d30m": "not a bearing", "12 deg 5": "not a bearing", "deg": "not a bearing", "12d59m60s": "write both below 60", "12d 15s": "not a bearing", "1,5 deg": "not a bearing", "-0 deg": "not a bearing",
		"360.0001 deg": "more than a full turn", "1e400 deg": "not a bearing", "NaN deg": "not a bearing", "12.1234567890123456789 deg": "not a bearing", "12 deg deg": "not a bearing", "mag. 12 deg": "not a grid bearing"} {
		_, err := ParseBearing(text)
		require.Error(t, err, text)
		assert.Contains(t, err.Error(), why, text)
	}
	for _, q := range []struct {
		text     string
		sin, cos float64
	}{{"0 deg", 0, 1}, {"90 deg", 1, 0}, {"200 gon", 0, -1}, {"270 deg", -1, 0}} {
		a, err := ParseBearing(q.text)
		require.NoError(t, err)
		sin, cos := a.sincos()
		assert.True(t, sin == q.sin && cos == q.cos, "%s: %v %v", q.text, sin, cos)
	}
}

// Every message says what is there and what to write.
func TestBearingMessages(t *testing.T) {
	for text, want := range map[string]string{
		"123.5":           `"123.5" is not a bearing; write it with its unit, such as "123.5 deg", "123°30'15\"" or "137.2 gon"`,
		"30 deg magnetic": `"30 deg magnetic" is not a grid bearing; correct it by convergence and declination first, and write the grid bearing`,
		"30d75m":          `"30d75m" has 60 or more minutes or seconds; write both below 60`,
		"500 gon":         `"500 gon" is more than a full turn; a bearing is between 0 and 360 degrees, or 0 and 400 gon`,
	} {
		_, err := ParseBearing(text)
		assert.EqualError(t, err, want)
	}
	_, err := ParseBearing(strings.Repeat("x", 1<<16))
	assert.Less(t, len(err.Error()), 200, "a long cell is cut")
}

// One angle in three notations is one angle, to the last digit.
func TestBearingNotationsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tenths := rapid.Int64Range(0, 360*36000-1).Draw(t, "tenths of a second")
		d, m, s := tenths/36000, tenths/600%60, tenths%600
		a, err := ParseBearing(fmt.Sprintf("%d°%d'%d.%d\"", d, m, s/10, s%10))
		require.NoError(t, err)
		require.Zero(t, a.turn.Cmp(big.NewRat(tenths, 360*36000)))
		half := tenths % 7200 * 50 // a decimal of a degree, and the same in gon
		b, err := ParseBearing(fmt.Sprintf("%d.%06d deg", half/1_000_000, half%1_000_000))
		require.NoError(t, err)
		c, err := ParseBearing(fmt.Sprintf("%s gon", new(big.Rat).Mul(big.NewRat(half, 1_000_000), big.NewRat(10, 9)).FloatString(12)))
		require.NoError(t, err)
		require.InDelta(t, b.Degrees(), c.Degrees(), 1e-11)
	})
}

func FuzzParseBearing(f *testing.F) {
	for _, s := range []string{"123.5 deg", "123°30'15\"", "137.2 gon", "12 d 5 m 6.5 s", "400 gon", "12 deg true", "1e2 deg", "º’”"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseBearing(s)
		if err != nil {
			require.False(t, a.Given())
			return
		}
		require.True(t, a.turn.Sign() >= 0 && a.turn.Cmp(big.NewRat(1, 1)) < 0, "%s turns", a.turn)
		require.True(t, Bearing(a).Given())
	})
}

const bits = 300

func wide(x int64) *big.Float { return new(big.Float).SetPrec(bits).SetInt64(x) }

// series of sine and cosine to 300 bits, of an angle below a full turn in radians.
func series(x *big.Float) (sin, cos *big.Float) {
	sin, cos = wide(0), wide(0)
	term := wide(1)
	for i := int64(0); i < 150; i++ {
		sum := cos
		if i%2 == 1 {
			sum = sin
		}
		if i/2%2 == 0 {
			sum.Add(sum, term)
		} else {
			sum.Sub(sum, term)
		}
		term.Mul(term, x)
		term.Quo(term, wide(i+1))
	}
	return sin, cos
}

// arctan of 1/n.
func arctan(n int64) *big.Float {
	sum, power := wide(0), new(big.Float).Quo(wide(1), wide(n))
	for i := int64(0); i < 250; i++ {
		term := new(big.Float).Quo(power, wide(2*i+1))
		if i%2 == 1 {
			term.Neg(term)
		}
		sum.Add(sum, term)
		power.Quo(power, wide(n*n))
	}
	return sum
}

// pi by Machin: 16 arctan 1/5 − 4 arctan 1/239.
var pi = new(big.Float).Sub(new(big.Float).Mul(wide(16), arctan(5)), new(big.Float).Mul(wide(4), arctan(239)))

// The accuracy that the package comment states, at bearings of every kind against
// 300 bits: sines and cosines within 4e-16, levels 5 km off within 3e-12 m on a
// plane of 1 in 1.
func TestBearingAccuracy(t *testing.T) {
	near, _ := pi.Float64()
	require.Equal(t, math.Pi, near)
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		text := fmt.Sprintf("%d.%09d deg", rapid.IntRange(0, 359).Draw(t, "degrees"), rapid.IntRange(0, 999_999_999).Draw(t, "nano"))
		a, err := ParseBearing(text)
		require.NoError(t, err)
		x := new(big.Float).SetPrec(bits).SetRat(a.turn)
		x.Mul(x, wide(2)).Mul(x, pi)
		sin, cos := series(x)
		s, c := a.sincos()
		for _, d := range []*big.Float{new(big.Float).Sub(sin, wide(0).SetFloat64(s)), new(big.Float).Sub(cos, wide(0).SetFloat64(c))} {
			off, _ := d.Float64()
			worst = max(worst, math.Abs(off))
			require.LessOrEqual(t, math.Abs(off), 4e-16, text)
		}
		p := Plane{Axis: Bearing(a), Along: unit.Grade{Rise: 1, Run: 1}}
		e, n := rapid.Int64Range(-3500, 3500).Draw(t, "e"), rapid.Int64Range(-3500, 3500).Draw(t, "n")
		got, err := p.At(Place{unit.Length(e) * unit.Metre, unit.Length(n) * unit.Metre})
		require.NoError(t, err)
		want := new(big.Float).Add(sin.Mul(sin, wide(e)), cos.Mul(cos, wide(n)))
		want.Mul(want, wide(int64(unit.Metre)))
		off, _ := want.Sub(want, wide(int64(got))).Float64()
		require.LessOrEqual(t, math.Abs(off), 3e-12*float64(unit.Metre), text)
	})
	t.Logf("largest error of a sine or cosine: %.2g", worst)
}
