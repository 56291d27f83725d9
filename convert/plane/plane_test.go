package plane

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// There is no published worked example of a two-axis plane or of its
// misalignment; the figures here follow from the geometry by hand.

func metres(t require.TestingT, s string) unit.Length {
	l, exact, err := unit.Parse(s, unit.M)
	require.NoError(t, err)
	require.True(t, exact)
	return l
}

func grade(t require.TestingT, s string) unit.Grade {
	g, err := unit.ParseGrade(s)
	require.NoError(t, err)
	return g
}

func bearing(t require.TestingT, s string) Axis {
	a, err := ParseBearing(s)
	require.NoError(t, err)
	return Bearing(a)
}

func TestLevelOfAReading(t *testing.T) {
	// mark 12.000 and reading 1.500; 1 in 100 up to the east, 2 % up to the
	// right, which is south: 100 m east and 10 m north is 1.000 up, 0.200 down
	p := Plane{Level: metres(t, "13.5"), Along: grade(t, "1 in 100"), Across: grade(t, "2 %"), Axis: bearing(t, "90 deg")}
	at := Place{100 * unit.Metre, 10 * unit.Metre}
	s, c := p.Coordinates(at)
	assert.Equal(t, 100*unit.Metre, s)
	assert.Equal(t, -10*unit.Metre, c)
	l, err := p.At(at)
	require.NoError(t, err)
	assert.Equal(t, metres(t, "14.3"), l)
	assert.Equal(t, metres(t, "12.05"), l-metres(t, "2.25"))

	// the same from pit to pit, along a 3-4-5 triangle: 50 m at 1 in 40
	axis, err := Between(Place{unit.Metre, unit.Metre}, Place{31 * unit.Metre, 41 * unit.Metre})
	require.NoError(t, err)
	p = Plane{Level: metres(t, "10"), Along: grade(t, "-1 in 40"), Axis: axis}
	l, err = p.At(Place{30 * unit.Metre, 40 * unit.Metre})
	require.NoError(t, err)
	assert.Equal(t, metres(t, "8.75"), l, "exact")
	_, err = Between(at, at)
	assert.ErrorContains(t, err, "no direction")
	ratio, degrees := (&Plane{Along: grade(t, "3 %"), Across: grade(t, "4 %"), Axis: bearing(t, "0 deg")}).Steepest()
	assert.InDelta(t, 0.05, ratio, 1e-15)
	assert.InDelta(t, 53.130102, degrees, 1e-6)
}

// Levels against whole numbers: on axes whose chord is a whole number, and on
// quarter turns, a level is the exact fraction, rounded once.
func TestPlaneTwoWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		triple := rapid.SampledFrom([][3]int64{{3, 4, 5}, {5, 12, 13}, {8, 15, 17}, {20, 21, 29}, {0, 1, 1}, {1, 0, 1}}).Draw(t, "axis")
		sign := func() int64 { return rapid.SampledFrom([]int64{1, -1}).Draw(t, "sign") }
		de, dn := triple[0]*sign(), triple[1]*sign()
		length := func(what string) unit.Length {
			return unit.Length(rapid.Int64Range(-4e15, 4e15).Draw(t, what))
		}
		axis, err := Between(Place{}, Place{unit.Length(de) * unit.Metre, unit.Length(dn) * unit.Metre})
		require.NoError(t, err)
		g := unit.Grade{Rise: unit.Length(rapid.Int64Range(-200, 200).Draw(t, "rise")), Run: unit.Length(rapid.Int64Range(1, 2000).Draw(t, "run"))}
		c := unit.Grade{Rise: unit.Length(rapid.Int64Range(-200, 200).Draw(t, "rise")), Run: unit.Length(rapid.Int64Range(1, 2000).Draw(t, "run"))}
		p := Plane{Origin: Place{length("e0"), length("n0")}, Level: length("z"), Along: g, Across: c, Axis: axis}
		at := Place{length("e"), length("n")}
		e, n := new(big.Int).Sub(big.NewInt(int64(at.E)), big.NewInt(int64(p.Origin.E))), new(big.Int).Sub(big.NewInt(int64(at.N)), big.NewInt(int64(p.Origin.N)))
		times := func(a *big.Int, k int64) *big.Int { return new(big.Int).Mul(a, big.NewInt(k)) }
		s := new(big.Rat).SetFrac(new(big.Int).Add(times(e, de), times(n, dn)), big.NewInt(triple[2]))
		r := new(big.Rat).SetFrac(new(big.Int).Sub(times(e, dn), times(n, de)), big.NewInt(triple[2]))
		want := new(big.Rat).SetInt64(int64(p.Level))
		want.Add(want, s.Mul(s, big.NewRat(int64(g.Rise), int64(g.Run))))
		want.Add(want, r.Mul(r, big.NewRat(int64(c.Rise), int64(c.Run))))
		got, err := p.At(at)
		require.NoError(t, err)
		off := new(big.Rat).Sub(want, new(big.Rat).SetInt64(int64(got)))
		require.LessOrEqual(t, off.Abs(off).Cmp(big.NewRat(1, 2)), 0, "%v is not the nearest count to %v", got, want)
	})
}

// The float direction of a bearing that is no quarter turn, against 256 bits:
// 30 degrees has the sine of one half.
func TestBearingAccuracy(t *testing.T) {
	axis := bearing(t, "30 deg")
	p := Plane{Axis: axis, Along: grade(t, "1 in 1")}
	at := Place{E: 5000 * unit.Metre, N: -3000 * unit.Metre}
	root := new(big.Float).SetPrec(precision).Sqrt(number(3))
	want := total(quotient(count(at.E), number(2)), quotient(product(count(at.N), root), number(2)))
	got, err := p.At(at)
	require.NoError(t, err)
	off, _ := total(want, count(-got)).Float64()
	assert.Less(t, math.Abs(off), float64(unit.Metre)*1e-11)
}

func TestParseBearing(t *testing.T) {
	for text, degrees := range map[string]float64{"0 deg": 0, "123.5 deg": 123.5, "360 deg": 0, "123°30'15\"": 123.504166666667, "123d30m15s": 123.504166666667,
		"123° 30′ 15.5″": 123.504305555556, "137.2 gon": 123.48, "100gon": 90, "123 deg 30 min": 123.5, "270°": 270} {
		a, err := ParseBearing(text)
		require.NoError(t, err, text)
		assert.InDelta(t, degrees, a.Degrees(), 1e-10, text)
		if degrees > 0 {
			assert.InDelta(t, degrees, Bearing(a).Degrees(), 1e-10, text)
		}
	}
	for text, why := range map[string]string{"123.5": "with its unit", "": "with its unit", "400 deg": "more than a full turn", "401 gon": "more than a full turn", "-5 deg": "not a bearing", "N 45 E": "not a bearing",
		"123.5 deg true": "not a grid bearing", "12 deg magnetic": "not a grid bearing", "12d60m": "60 or more", "12.5d30m": "not a bearing", "12 deg 5": "not a bearing", "deg": "not a bearing"} {
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

// Turned by 2 degrees at 100 m: −70.4 mm where the plane falls 2 % across too,
// −0.6 mm where it does not.
func TestMisalignment(t *testing.T) {
	p := Plane{Along: grade(t, "1 %"), Across: grade(t, "2 %"), Axis: bearing(t, "0 deg")}
	at := Place{N: 100 * unit.Metre}
	assert.Equal(t, "-70.4", p.MisalignedBy(at, 2*math.Pi/180).Fixed(unit.MM, 1))
	p.Across = unit.Grade{}
	assert.Equal(t, "-0.6", p.MisalignedBy(at, 2*math.Pi/180).Fixed(unit.MM, 1))
	assert.Zero(t, p.MisalignedBy(at, 0))
	// the turned plane, worked out as a plane of its own
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.Float64Range(-5, 5).Draw(t, "degrees")
		p := Plane{Along: grade(t, "1.5 %"), Across: grade(t, "-2.5 %"), Axis: bearing2(0)}
		turned := p
		turned.Axis = bearing2(d)
		at := Place{unit.Length(rapid.Int64Range(-500, 500).Draw(t, "e")) * unit.Metre, unit.Length(rapid.Int64Range(-500, 500).Draw(t, "n")) * unit.Metre}
		a, err := p.At(at)
		require.NoError(t, err)
		b, err := turned.At(at)
		require.NoError(t, err)
		require.LessOrEqual(t, (b - a - p.MisalignedBy(at, d*math.Pi/180)).Abs(), unit.Millimetre/1000)
	})
}

func bearing2(degrees float64) Axis {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return Axis{number(sin), number(cos), number(1)}
}

// An arm of 3.2 m, 5 degrees out of plumb, leaves a trench 12.2 mm shallow.
func TestReceivers(t *testing.T) {
	h := metres(t, "3.2")
	assert.Equal(t, "12.2", OutOfPlumb(h, 5*math.Pi/180).Fixed(unit.MM, 1))
	assert.Equal(t, metres(t, "6.81"), EdgeLevel(metres(t, "10"), metres(t, "0.01"), h, 0), "the mark is above the plane: the surface is high")
	assert.Equal(t, "6.8222", EdgeLevel(metres(t, "10"), metres(t, "0.01"), h, 5*math.Pi/180).Fixed(unit.M, 4))
	// 2 % across the bar, right end 5 mm up over 2.5 m: 2.2 %, rising to the right
	g := Crossfall(grade(t, "2 %"), 0, metres(t, "0.005"), metres(t, "2.5"))
	assert.Equal(t, "2.200 %", g.Percent())
	assert.Equal(t, "-0.200 %", Crossfall(unit.Grade{}, metres(t, "0.005"), 0, metres(t, "2.5")).Percent())
}

func TestOutOfRange(t *testing.T) {
	p := Plane{Level: unit.MaxLength, Along: grade(t, "1 in 1"), Axis: bearing(t, "0 deg")}
	_, err := p.At(Place{N: unit.MaxLength})
	assert.ErrorIs(t, err, unit.ErrRange)
}
