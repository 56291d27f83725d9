package plane

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

// A set-up worked by hand: mark 12.000 and staff 1.500 on it; from pit to pit up a
// 3-4-5 triangle at 1 in 50, 1 % up to the right. No published source.
func TestSetup(t *testing.T) {
	axis, err := Between(Place{E: 10 * unit.Metre, N: 20 * unit.Metre}, Place{E: 40 * unit.Metre, N: 60 * unit.Metre})
	require.NoError(t, err)
	s := Setup{Name: "L1", Date: "2025-03-04", Mark: "BM1", Level: metres(t, "12"), Reading: metres(t, "1.5"), At: Place{E: 10 * unit.Metre, N: 20 * unit.Metre},
		Along: grade(t, "1 in 50"), Across: grade(t, "1 %"), Axis: axis}
	p, err := s.Plane()
	require.NoError(t, err)
	assert.Equal(t, metres(t, "13.5"), p.Level)
	for _, x := range []struct {
		e, n          unit.Length
		reading, want string
	}{
		{10, 20, "1.5", "12"},      // the mark itself
		{40, 60, "2.5", "12"},      // 50 m along: 1.000 up
		{50, -10, "1.75", "12.25"}, // 50 m to the right: 0.500 up
		{40, 60, "-0.3", "14.8"},   // an inverted staff on a soffit there
	} {
		l, err := p.Staff(Place{x.e * unit.Metre, x.n * unit.Metre}, metres(t, x.reading))
		require.NoError(t, err)
		assert.Equal(t, metres(t, x.want), l, "%v", x)
	}

	s.Reading = metres(t, "-0.4") // an inverted staff under the mark
	p, err = s.Plane()
	require.NoError(t, err)
	assert.Equal(t, metres(t, "11.6"), p.Level)

	s.Axis = Axis{}
	_, err = s.Plane()
	assert.ErrorIs(t, err, errNoAxis)
	s.Along, s.Across = unit.Grade{}, unit.Grade{}
	_, err = s.Plane()
	assert.NoError(t, err, "a level plane has no axis")
	s.Level, s.Reading = unit.MaxLength, 1
	_, err = s.Plane()
	assert.ErrorIs(t, err, unit.ErrRange)
}

// The closing shot, on its limit and one count over it, in every unit.
func TestClosing(t *testing.T) {
	for _, u := range []unit.Unit{unit.M, unit.Ft, unit.FtUS} {
		limit, first := 3*u.Size/1000, 1234*u.Size/1000
		for _, x := range []struct {
			drift unit.Length
			state State
		}{{0, Within}, {limit, Within}, {-limit, Within}, {limit + 1, Outside}, {-limit - 1, Outside}} {
			d, err := Closing("BM1", first, first+x.drift, &limit)
			require.NoError(t, err)
			assert.Equal(t, LevelDrift{Peg: "BM1", Drift: x.drift, State: x.state}, d, "a longer reading is a plane that has risen")
		}
		d, err := Closing("BM1", first, first, nil)
		require.NoError(t, err)
		assert.Equal(t, NotJudged, d.State)
	}
	d, err := Closing("BM1", -unit.MaxLength, unit.MaxLength, nil)
	assert.ErrorIs(t, err, unit.ErrRange)
	assert.Equal(t, NotObserved, d.State)
	assert.NotEmpty(t, d.Why)
}
