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
	_, err = Between(Place{E: -unit.MaxLength}, Place{E: unit.MaxLength})
	assert.NoError(t, err)
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

func bearing2(degrees float64) Axis {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return Axis{number(sin), number(cos), number(1)}
}

func TestOutOfRange(t *testing.T) {
	p := Plane{Level: unit.MaxLength, Along: grade(t, "1 in 1"), Axis: bearing(t, "0 deg")}
	_, err := p.At(Place{N: unit.MaxLength})
	assert.ErrorIs(t, err, unit.ErrRange)
}

// A staff 1.250 below the plane, and one held upside down against a soffit 0.800
// above it.
func TestStaff(t *testing.T) {
	p := Plane{Level: metres(t, "13.5"), Along: grade(t, "1 in 100"), Axis: bearing(t, "90 deg")}
	at := Place{E: 50 * unit.Metre}
	for reading, want := range map[string]string{"1.250": "12.75", "-0.800": "14.8", "0": "14"} {
		l, err := p.Staff(at, metres(t, reading))
		require.NoError(t, err)
		assert.Equal(t, metres(t, want), l, reading)
	}
	_, err := p.Staff(at, -unit.MaxLength)
	assert.ErrorIs(t, err, unit.ErrRange)
	_, err = (&Plane{Across: p.Along}).Staff(at, 0)
	assert.ErrorContains(t, err, "give it a bearing")
}

// Two sight rails at 203.575 and 203.475, 10 m apart: 1 in 100 down (an
// examination key, question 67811 of curioustab.com; not agreement with an outside
// source). The plane through the tops of the rails runs between them.
func TestTwoRails(t *testing.T) {
	a, b := Place{E: 3 * unit.Metre, N: 7 * unit.Metre}, Place{E: 9 * unit.Metre, N: 15 * unit.Metre}
	axis, err := Between(a, b)
	require.NoError(t, err)
	p := Plane{Origin: a, Level: metres(t, "203.575"), Along: unit.Grade{Rise: metres(t, "203.475") - metres(t, "203.575"), Run: 10 * unit.Metre}, Axis: axis}
	assert.Equal(t, "-1 in 100", p.Along.OneIn())
	l, err := p.At(b)
	require.NoError(t, err)
	assert.Equal(t, metres(t, "203.475"), l)
}

// A level plane needs no axis; a grade does, and without one there is no level.
func TestNoAxis(t *testing.T) {
	at := Place{E: 30 * unit.Metre, N: 40 * unit.Metre}
	p := Plane{Level: metres(t, "12"), Along: grade(t, "0 %")}
	l, err := p.At(at)
	require.NoError(t, err)
	assert.Equal(t, metres(t, "12"), l)
	s, c := p.Coordinates(at)
	assert.Equal(t, []unit.Length{40 * unit.Metre, 30 * unit.Metre}, []unit.Length{s, c}, "north, and right of it")
	assert.True(t, math.IsNaN(p.Axis.Degrees()))
	assert.False(t, Bearing(Angle{}).Given(), "an angle that was never read is no bearing")
	assert.False(t, Angle{}.Given())
	for _, p := range []Plane{{Along: grade(t, "1 %")}, {Across: grade(t, "-1 %")}} {
		_, err := p.At(at)
		assert.ErrorIs(t, err, errNoAxis)
		_, _, err = p.Toward(north)
		assert.ErrorIs(t, err, errNoAxis)
	}
	_, _, err = p.Toward(Axis{})
	assert.ErrorContains(t, err, "direction of travel")
	along, right, err := p.Toward(north)
	require.NoError(t, err)
	assert.Zero(t, along.Rise+right.Rise)
}

// Sums of grades that are half a count exactly are rounded away from zero, though
// neither grade is a decimal: 1/3 + 1/6.
func TestLevelOnHalfACount(t *testing.T) {
	axes := map[int64]Axis{}
	for chord, to := range map[int64]Place{1: {N: 1}, 5: {E: 3, N: 4}, 29: {E: 20, N: 21}} {
		axis, err := Between(Place{}, to)
		require.NoError(t, err)
		axes[chord] = axis
	}
	ties := 0
	rapid.Check(t, func(t *rapid.T) {
		chord := rapid.SampledFrom([]int64{1, 5, 29}).Draw(t, "chord")
		axis := axes[chord]
		// a place one chord along and one to the right
		e, _ := axis.e.Int64()
		n, _ := axis.n.Int64()
		at := Place{unit.Length(e + n), unit.Length(n - e)}
		run := rapid.Int64Range(1, 1<<40).Draw(t, "run")
		k := rapid.Int64Range(1, 1000).Draw(t, "k")
		rise := rapid.Int64Range(-1000, 1000).Draw(t, "rise")
		// chord·(rise/run + x/(2·k·run)) is h/2, an odd h
		h := 2*rapid.Int64Range(-1000, 1000).Draw(t, "level") + 1
		x := new(big.Rat).SetFrac64(h, 2*chord)
		x.Sub(x, big.NewRat(rise, run))
		if !x.Num().IsInt64() || !x.Denom().IsInt64() {
			return
		}
		ties++
		p := Plane{Along: unit.Grade{Rise: unit.Length(rise), Run: unit.Length(run)}, Across: unit.Grade{Rise: unit.Length(x.Num().Int64()), Run: unit.Length(x.Denom().Int64())}, Axis: axis}
		p.Along.Rise, p.Along.Run = p.Along.Rise*unit.Length(k), p.Along.Run*unit.Length(k)
		got, err := p.At(at)
		require.NoError(t, err)
		want := (h + 1) / 2
		if h < 0 {
			want = (h - 1) / 2
		}
		require.EqualValues(t, want, got)
	})
	assert.NotZero(t, ties)
}

// The grades along another axis are those between places on it.
func TestToward(t *testing.T) {
	p := &Plane{Along: grade(t, "1 in 3"), Across: grade(t, "-1 in 7"), Axis: bearing(t, "31 deg")}
	along, right, err := p.Toward(p.Axis)
	require.NoError(t, err)
	assert.Equal(t, p.Along, along, "as it is")
	assert.Equal(t, p.Across, right)
	q := &Plane{Along: grade(t, "1 %"), Across: grade(t, "2 %"), Axis: bearing(t, "0 deg")}
	for text, want := range map[string][2]string{"0 deg": {"1.000 %", "2.000 %"}, "90 deg": {"2.000 %", "-1.000 %"}, "200 gon": {"-1.000 %", "-2.000 %"}, "270 deg": {"-2.000 %", "1.000 %"},
		"45 deg": {"2.121 %", "0.707 %"}} {
		along, right, err := q.Toward(bearing(t, text))
		require.NoError(t, err)
		assert.Equal(t, want, [2]string{along.Percent(), right.Percent()}, text)
	}
	rapid.Check(t, func(t *rapid.T) {
		a, err := Between(Place{}, Place{unit.Length(rapid.Int64Range(1, 90).Draw(t, "e")) * unit.Metre, unit.Length(rapid.Int64Range(-90, 90).Draw(t, "n")) * unit.Metre})
		require.NoError(t, err)
		along, right, err := p.Toward(a)
		require.NoError(t, err)
		other := &Plane{Along: along, Across: right, Axis: a}
		at := Place{unit.Length(rapid.Int64Range(-500, 500).Draw(t, "e")) * unit.Metre, unit.Length(rapid.Int64Range(-500, 500).Draw(t, "n")) * unit.Metre}
		x, err := p.At(at)
		require.NoError(t, err)
		y, err := other.At(at)
		require.NoError(t, err)
		require.LessOrEqual(t, (x - y).Abs(), unit.Length(10), "counts")
		g, _ := p.Steepest()
		h, _ := other.Steepest()
		require.InDelta(t, g, h, 1e-12, "the plane is no steeper for it")
	})
}

func TestCoordinatesOutOfRange(t *testing.T) {
	p := Plane{Origin: Place{E: -unit.MaxLength}, Axis: bearing(t, "90 deg")}
	s, c := p.Coordinates(Place{E: unit.MaxLength})
	assert.Equal(t, unit.MaxLength, s)
	assert.Equal(t, unit.MaxLength, c)
}

func BenchmarkAt(b *testing.B) {
	axis, err := Between(Place{}, Place{31 * unit.Metre, 57 * unit.Metre})
	require.NoError(b, err)
	p := Plane{Level: 12 * unit.Metre, Along: grade(b, "1 in 100"), Across: grade(b, "2 %"), Axis: axis}
	at := Place{77 * unit.Metre, 13 * unit.Metre}
	for b.Loop() {
		if _, err := p.At(at); err != nil {
			b.Fatal(err)
		}
	}
}
