package levels_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// Readings over a river are made from a true difference, a line of sight out of
// level and a curved one: both ends together give all of them back.
func TestReciprocalRecoversErrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		diff := unit.Length(rapid.Int64Range(-3000, 3000).Draw(t, "difference")) * milli
		e := unit.Grade{Rise: unit.Length(rapid.Int64Range(-100, 100).Draw(t, "error")) * milli, Run: 1000 * metre}
		dist := unit.Length(rapid.Int64Range(1, 800).Draw(t, "distance")) * metre
		c := levels.Curvature{}
		if rapid.Bool().Draw(t, "curved") {
			c = curvature(t, "0.0673 m at 1 km")
		}
		drop, err := c.At(dist)
		require.NoError(t, err)
		far := e.Over(dist) + drop
		near := unit.Length(rapid.Int64Range(500, 2500).Draw(t, "near")) * milli
		r := levels.Reciprocal{AtA: levels.Bank{A: near, B: near - diff + far}, AtB: levels.Bank{A: near + diff + far, B: near}, Distance: levels.Of(dist), Curvature: c}
		got, err := r.Result()
		require.NoError(t, err)
		require.Equal(t, diff, got.True)
		require.Equal(t, diff-far, got.FromA)
		require.Equal(t, diff+far, got.FromB)
		require.Equal(t, far, got.Error)
		require.Equal(t, c.Given(), got.Collimation.Set)
		if c.Given() {
			require.Equal(t, levels.Of(drop), got.Drop)
			require.Equal(t, levels.Of(e.Over(dist)), got.Collimation)
			require.Equal(t, 0, got.Slope.Compare(unit.Grade{Rise: e.Over(dist), Run: dist}))
			// what it found corrects the far readings
			fixed, _, err := levels.Corrections{Collimation: got.Slope, Curvature: c}.Apply(r.AtA.B, levels.Of(dist), "")
			require.NoError(t, err)
			require.Equal(t, near-diff, fixed)
		}
	})
}

func TestReciprocalRefused(t *testing.T) {
	good := levels.Reciprocal{AtA: levels.Bank{A: metre, B: metre}, AtB: levels.Bank{A: metre, B: metre}}
	r, err := good.Result()
	require.NoError(t, err)
	assert.Equal(t, levels.ReciprocalResult{}, r, "level, and nothing known of the line of sight")
	for want, change := range map[string]func(*levels.Reciprocal){
		"the reading on A from B is 1500 m, longer than any staff; check the number and its unit":                                        func(r *levels.Reciprocal) { r.AtB.A = 1500 * metre },
		"the distance from A to B is missing, and curvature and refraction need it; give the distance, or do not ask for the correction": func(r *levels.Reciprocal) { r.Curvature = curvature(t, "0.0673 m at 1 km") },
		"a sight of 0 m from A to B cannot be; check the distance and its unit":                                                          func(r *levels.Reciprocal) { r.Curvature, r.Distance = curvature(t, "0.0673 m at 1 km"), of(0) },
	} {
		x := good
		change(&x)
		_, err := x.Result()
		assert.EqualError(t, err, "reciprocal levelling: "+want)
	}
	_, err = levels.Reciprocal{AtA: levels.Bank{A: metre}, Distance: of(100), Curvature: levels.Curvature{Drop: unit.MaxLength, Over: 1, By: 1}}.Result()
	assert.ErrorIs(t, err, unit.ErrRange)
}

func TestTargets(t *testing.T) {
	x := levels.Targets{A: 2000 * milli, B: 1600 * milli, DrumA: decimal(t, "10"), DrumB: decimal(t, "30.00"), DrumAt: decimal(t, "15.0")}
	reading, fromA, err := x.Reading()
	require.NoError(t, err)
	assert.Equal(t, 1900*milli, reading)
	assert.Equal(t, -100*milli, fromA, "down the staff from target A")
	x.DrumA, x.DrumB = x.DrumB, x.DrumA
	reading, fromA, err = x.Reading()
	require.NoError(t, err)
	assert.Equal(t, 1700*milli, reading, "a drum that turns the other way")
	assert.Equal(t, -300*milli, fromA)
	for drum, want := range map[string]unit.Length{"10": 1600 * milli, "30": 2000 * milli} {
		x.DrumAt = decimal(t, drum)
		reading, _, err = x.Reading()
		require.NoError(t, err)
		assert.Equal(t, want, reading, "on a target")
	}
	for drum, want := range map[string]string{
		"9.99":  "two targets: the drum reads 9.99 on the level line and 30.00 and 10 on the targets, so the line does not pass between them; move the targets, or check the readings",
		"30.01": "two targets: the drum reads 30.01 on the level line and 30.00 and 10 on the targets, so the line does not pass between them; move the targets, or check the readings",
	} {
		x.DrumAt = decimal(t, drum)
		_, _, err = x.Reading()
		assert.EqualError(t, err, want)
	}
	x.DrumB = decimal(t, "30.0")
	_, _, err = x.Reading()
	assert.EqualError(t, err, "two targets: the drum reads 30.00 on both targets, so it measures nothing between them; check the readings")
	x.A = 1500 * metre
	_, _, err = x.Reading()
	assert.EqualError(t, err, "two targets: a target at 1500 m is above any staff; check the number and its unit")
}
