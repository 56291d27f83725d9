package convert

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

func TestEarth(t *testing.T) {
	// PROJ 9.1.1 (cs2cs) gives 146.415549085, -37.297779493 for this place
	f := &Frame{Unit: unit.M, E0: 448000, N0: 5871000, EPSG: "7855"}
	e, err := NewEarth(f, "")
	require.NoError(t, err)
	assert.Contains(t, e.Words(), "within 3 m")
	assert.Equal(t, 3.0, e.Metres())
	lon, lat, ok, note := e.Place(f, Place{E: 201108 * unit.Millimetre, N: 933060 * unit.Millimetre})
	require.True(t, ok, note)
	assert.InDelta(t, 146.415549085, lon, 1e-9)
	assert.InDelta(t, -37.297779493, lat, 1e-9)
	_, _, ok, note = e.Place(f, Place{E: 2_000_000 * unit.Metre})
	assert.True(t, ok)
	assert.Equal(t, "outside the area in which the grid is used", note)

	// a shift that needs a grid file is never left out
	f = &Frame{Unit: unit.M, E0: 400000, N0: 300000, EPSG: "27700"}
	e, err = NewEarth(f, "")
	require.NoError(t, err)
	_, _, ok, note = e.Place(f, Place{})
	assert.False(t, ok)
	assert.Contains(t, note, "needs the grid file")
	assert.Zero(t, e.Metres())
	e, err = NewEarth(f, "EPSG:1314")
	require.NoError(t, err)
	_, _, ok, _ = e.Place(f, Place{})
	assert.True(t, ok)
	assert.Positive(t, e.Metres())

	for _, x := range [][2]string{{"4326", "is longitude and latitude"}, {"999999", "not a plane system"}} {
		_, err := NewEarth(&Frame{Unit: unit.M, EPSG: x[0]}, "")
		assert.ErrorContains(t, err, x[1])
	}
	_, err = NewEarth(f, "EPSG:9999")
	assert.ErrorContains(t, err, "is not a shift from")
	_, err = NewEarth(f, "none within 2")
	assert.Error(t, err)
	e, err = NewEarth(&Frame{Unit: unit.M}, "")
	require.NoError(t, err)
	assert.Contains(t, e.Why(), "local")
}
