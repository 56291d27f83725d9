package plane

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

const degree = math.Pi / 180

// An arm of 3.2 m, 5 degrees out of plumb, leaves a trench 12.2 mm shallow:
// geometry, no published source.
func TestReceivers(t *testing.T) {
	h := metres(t, "3.2")
	assert.Equal(t, "12.2", OutOfPlumb(h, 5*degree).Fixed(unit.MM, 1))
	assert.Equal(t, metres(t, "6.81"), EdgeLevel(metres(t, "10"), metres(t, "0.01"), h, 0), "the mark is above the plane: the surface is high")
	assert.Equal(t, "6.8222", EdgeLevel(metres(t, "10"), metres(t, "0.01"), h, 5*degree).Fixed(unit.M, 4))

	// plane 10 m at the mark, 1 in 100 up to the north, 50 m on; mark 10 mm under the plane
	p := &Plane{Level: metres(t, "10"), Along: grade(t, "1 in 100"), Axis: bearing(t, "0 deg")}
	at := Place{N: 50 * unit.Metre}
	for _, x := range []struct {
		tilt float64
		want string
	}{{0, "7.2900"}, {5 * degree, "7.3022"}, {-5 * degree, "7.3022"}, {60 * degree, "8.8900"}} {
		level, err := Receiver{Height: h, Tilt: x.tilt}.Edge(p, at, -10*unit.Millimetre)
		require.NoError(t, err)
		assert.Equal(t, x.want, level.Fixed(unit.M, 4), "%v", x.tilt)
	}
	for _, tilt := range []float64{math.NaN(), math.Inf(1), math.Pi / 2, -2} {
		_, err := Receiver{Height: h, Tilt: tilt}.Edge(p, at, 0)
		assert.ErrorContains(t, err, "measure it from the upright", "%v", tilt)
	}
	_, err := Receiver{Height: h}.Edge(p, at, unit.MaxLength)
	assert.ErrorIs(t, err, unit.ErrRange)
	_, err = Receiver{Height: h}.Edge(&Plane{Along: p.Along}, at, 0)
	assert.ErrorIs(t, err, errNoAxis)
}

// The edge under an upright arm is where a staff of the same reading would stand.
func TestReceiverIsAStaff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := func(what string, mm int64) unit.Length {
			return unit.Length(rapid.Int64Range(-mm, mm).Draw(t, what)) * unit.Millimetre
		}
		p := &Plane{Level: length("level", 90_000), Along: grade(t, "1.5 %"), Across: grade(t, "-1 in 70"), Axis: bearing(t, "123.4 deg")}
		at, offset, height := Place{length("e", 500_000), length("n", 500_000)}, length("offset", 200), length("height", 4000).Abs()
		edge, err := Receiver{Height: height}.Edge(p, at, offset)
		require.NoError(t, err)
		staff, err := p.Staff(at, height-offset)
		require.NoError(t, err)
		require.Equal(t, staff, edge)
		tilt := rapid.Float64Range(-0.5, 0.5).Draw(t, "tilt")
		leaning, err := Receiver{height, tilt}.Edge(p, at, offset)
		require.NoError(t, err)
		require.Equal(t, OutOfPlumb(height, tilt), leaning-edge)
		require.GreaterOrEqual(t, leaning, edge, "a leaning arm is shallow, never deep")
		require.InDelta(t, height.Metres()*(1-math.Cos(tilt)), (leaning - edge).Metres(), 1e-12)
	})
}

func TestCrossfall(t *testing.T) {
	for _, x := range []struct{ across, left, right, between, want string }{
		{"2 %", "0", "0.005", "2.5", "2.200 %"},     // right end 5 mm up over 2.5 m
		{"2 %", "0.005", "0", "2.5", "1.800 %"},     // left end up
		{"0 %", "0.005", "0", "2.5", "-0.200 %"},    // falls to the right
		{"-2 %", "-0.02", "0.03", "2.5", "0.000 %"}, // a level bar on a plane that falls
	} {
		g, err := Crossfall(grade(t, x.across), metres(t, x.left), metres(t, x.right), metres(t, x.between))
		require.NoError(t, err)
		assert.Equal(t, x.want, g.Percent())
	}
	g, err := Crossfall(unit.Grade{}, 0, metres(t, "0.005"), metres(t, "2.5"))
	require.NoError(t, err)
	assert.Equal(t, unit.Grade{Rise: 5 * unit.Millimetre, Run: metres(t, "2.5")}, g, "the zero Grade is level")
	for _, between := range []unit.Length{0, -unit.Metre} {
		_, err = Crossfall(unit.Grade{}, 0, unit.Metre, between)
		assert.ErrorContains(t, err, "not more than nought")
	}
	_, err = Crossfall(unit.Grade{}, -unit.MaxLength, unit.MaxLength, unit.Metre)
	assert.ErrorIs(t, err, unit.ErrRange)
}

// The fall across a bar anywhere on a plane, heading anywhere, is that between the
// levels of its two edges.
func TestCrossfallIsThatOfTheEdges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &Plane{Level: 50 * unit.Metre, Along: grade(t, "2.5 %"), Across: grade(t, "-1 in 30"), Axis: bearing(t, "37 deg")}
		heading := rapid.Float64Range(0, 360).Draw(t, "heading")
		middle := Place{unit.Length(rapid.Int64Range(-100, 100).Draw(t, "e")) * unit.Metre, unit.Length(rapid.Int64Range(-100, 100).Draw(t, "n")) * unit.Metre}
		sin, cos := math.Sincos(heading * degree)
		end := func(metres float64) Place { // to the right of the heading
			return Place{middle.E + unit.Length(metres*cos*float64(unit.Metre)), middle.N - unit.Length(metres*sin*float64(unit.Metre))}
		}
		offset := func(what string) unit.Length {
			return unit.Length(rapid.Int64Range(-50, 50).Draw(t, what)) * unit.Millimetre
		}
		left, right := offset("left"), offset("right")
		receiver := Receiver{Height: 3 * unit.Metre}
		a, err := receiver.Edge(p, end(-1.5), left)
		require.NoError(t, err)
		b, err := receiver.Edge(p, end(1.5), right)
		require.NoError(t, err)
		_, across, err := p.Toward(bearing2(heading))
		require.NoError(t, err)
		g, err := Crossfall(across, left, right, 3*unit.Metre)
		require.NoError(t, err)
		require.InDelta(t, (b-a).Metres()/3, g.Ratio(), 1e-11)
	})
}
