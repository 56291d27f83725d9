package plane

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// Turned by 2 degrees at 100 m: −70.4 mm where the plane falls 2 % across too,
// −0.6 mm where it does not.
func TestMisalignment(t *testing.T) {
	p := Plane{Along: grade(t, "1 %"), Across: grade(t, "2 %"), Axis: bearing(t, "0 deg")}
	at := Place{N: 100 * unit.Metre}
	assert.Equal(t, "-70.4", p.MisalignedBy(at, 2*degree).Fixed(unit.MM, 1))
	p.Across = unit.Grade{}
	assert.Equal(t, "-0.6", p.MisalignedBy(at, 2*degree).Fixed(unit.MM, 1))
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

// A laser that turns about itself takes the plane off at the mark as well: 2 % to
// the right, laser 30 m short of the mark on the axis, turned by 1 degree.
func TestMisalignedAboutTheLaser(t *testing.T) {
	p := Plane{Across: grade(t, "2 %"), Axis: bearing(t, "0 deg")}
	laser := Place{N: -30 * unit.Metre}
	assert.Zero(t, p.MisalignedAbout(laser, laser, degree), "the laser stays where it is")
	assert.Equal(t, "-10.5", p.MisalignedAbout(laser, Place{}, degree).Fixed(unit.MM, 1), "−0.02 × 30 m × sin 1° = −10.47 mm at the mark")
	assert.Zero(t, p.MisalignedBy(Place{}, degree), "levelled on the mark afterwards")
	rapid.Check(t, func(t *rapid.T) {
		place := func(what string) Place {
			return Place{unit.Length(rapid.Int64Range(-300, 300).Draw(t, what+" e")) * unit.Metre, unit.Length(rapid.Int64Range(-300, 300).Draw(t, what+" n")) * unit.Metre}
		}
		d := rapid.Float64Range(-0.2, 0.2).Draw(t, "angle")
		p := Plane{Origin: place("mark"), Along: grade(t, "1.5 %"), Across: grade(t, "-2.5 %"), Axis: bearing(t, "71 deg")}
		laser, at := place("laser"), place("at")
		// what the levelling takes away is the error at the mark
		about := p.MisalignedAbout(laser, at, d) - p.MisalignedAbout(laser, p.Origin, d)
		require.InDelta(t, p.MisalignedBy(at, d).Millimetres(), about.Millimetres(), 1e-6)
	})
}

// What does not fit is at the end of the range, and never inside a limit.
func TestMisalignmentOutOfRange(t *testing.T) {
	p := Plane{Along: grade(t, "100 in 1"), Axis: bearing(t, "0 deg")}
	far := Place{N: unit.MaxLength}
	assert.Equal(t, -unit.MaxLength, p.MisalignedBy(far, math.Pi))
	assert.Equal(t, unit.MaxLength, (&Plane{Along: grade(t, "-100 in 1"), Axis: p.Axis}).MisalignedBy(far, math.Pi))
	assert.Equal(t, unit.MaxLength, p.MisalignedBy(far, math.NaN()))
}

// Along the axis of a plane that falls across, 100 m on at 2 %: 2 m × sin d is
// 10 mm at d = asin 0.005.
func TestLargestMisalignmentByHand(t *testing.T) {
	p := Plane{Across: grade(t, "2 %"), Axis: bearing(t, "0 deg")}
	places := []Place{{}, {N: 50 * unit.Metre}, {N: 100 * unit.Metre}, {N: 80 * unit.Metre}}
	d, at := p.LargestMisalignment(places, 10*unit.Millimetre)
	assert.InDelta(t, math.Asin(0.005), d, 1e-12)
	assert.Equal(t, 2, at)
	// a plane that falls along its axis only: 1 m (1 − cos d) is 10 mm at acos 0.99
	q := Plane{Along: grade(t, "1 %"), Axis: p.Axis}
	d, at = q.LargestMisalignment(places, 10*unit.Millimetre)
	assert.InDelta(t, math.Acos(0.99), d, 1e-12)
	assert.Equal(t, 2, at)
	for name, x := range map[string]struct {
		p      *Plane
		places []Place
		limit  unit.Length
	}{
		"no place":            {&p, nil, 0},
		"the mark":            {&p, places[:1], 0},
		"a level plane":       {&Plane{}, places, 0},
		"beyond all turns":    {&p, places, 2001 * unit.Millimetre},
		"at the most it does": {&q, places[2:3], 2 * unit.Metre},
	} {
		d, at := x.p.LargestMisalignment(x.places, x.limit)
		assert.Equal(t, -1, at, name)
		assert.Equal(t, math.Pi, d, name)
	}
	for _, limit := range []unit.Length{0, -unit.Metre} {
		d, at = p.LargestMisalignment(places, limit)
		assert.Zero(t, d, "no misalignment is allowed")
		assert.Equal(t, 1, at, "the first of them")
	}
}

// At the largest misalignment every place is within the limit, at anything less as
// well, and a little more takes the deciding place out of it.
func TestLargestMisalignment(t *testing.T) {
	decided := 0
	rapid.Check(t, func(t *rapid.T) {
		g := func(what string) unit.Grade {
			return unit.Grade{Rise: unit.Length(rapid.Int64Range(-500, 500).Draw(t, what)), Run: 10_000}
		}
		p := Plane{Along: g("along"), Across: g("across"), Axis: bearing2(rapid.Float64Range(0, 360).Draw(t, "bearing"))}
		var places []Place
		for range rapid.IntRange(1, 5).Draw(t, "places") {
			places = append(places, Place{unit.Length(rapid.Int64Range(-300, 300).Draw(t, "e")) * unit.Metre, unit.Length(rapid.Int64Range(-300, 300).Draw(t, "n")) * unit.Metre})
		}
		limit := unit.Length(rapid.Int64Range(1, 30_000).Draw(t, "limit in mm")) * unit.Millimetre
		d, at := p.LargestMisalignment(places, limit)
		for _, part := range []float64{1, 0.99, 0.5, 0.01} {
			for _, place := range places {
				require.LessOrEqual(t, p.MisalignedBy(place, part*d).Abs(), limit)
				require.LessOrEqual(t, p.MisalignedBy(place, -part*d).Abs(), limit)
			}
		}
		if at < 0 {
			return
		}
		if a, b := p.lever(p.Origin, places[at]); float64(limit) > 0.99*(math.Abs(a)+math.Hypot(a, b)) {
			return // the top of the curve is flat
		}
		decided++
		more := d*1.0001 + 1e-9
		require.Greater(t, max(p.MisalignedBy(places[at], more).Abs(), p.MisalignedBy(places[at], -more).Abs()), limit)
	})
	assert.NotZero(t, decided)
}
