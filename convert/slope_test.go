package convert

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/plane"
	"sightrail/convert/surface"
	"sightrail/formats/unit"
)

// The steepest slope of a face that rises 3 in 10 to the east and 4 in 10 to the
// north is 1 in 2; of a plane with the same two grades it is the same. Geometry.
func TestSlopeAt(t *testing.T) {
	m := unit.Metre
	tin, err := surface.New([]surface.Vertex{{}, {E: 10 * m, Z: 3 * m}, {E: 10 * m, N: 10 * m, Z: 7 * m}, {N: 10 * m, Z: 7 * m}}, [][3]int32{{0, 1, 2}, {0, 2, 3}})
	require.NoError(t, err)
	s := &Surface{TIN: tin}
	slope, ok := s.SlopeAt(Place{9 * m, m})
	assert.True(t, ok)
	assert.InDelta(t, 0.5, slope, 1e-15)
	slope, ok = s.SlopeAt(Place{m, 9 * m}) // level to the east, 7 in 10 to the north
	assert.True(t, ok)
	assert.InDelta(t, 0.7, slope, 1e-15)
	_, ok = s.SlopeAt(Place{-m, 0})
	assert.False(t, ok)

	o, err := NewOutline([][]Place{{{0, 0}, {10 * m, 0}, {10 * m, 10 * m}}})
	require.NoError(t, err)
	p := &Surface{Plane: &plane.Plane{Along: unit.Grade{Rise: 3, Run: 10}, Across: unit.Grade{Rise: -4, Run: 10}}, Outline: o}
	slope, ok = p.SlopeAt(Place{5 * m, m})
	assert.True(t, ok)
	assert.InDelta(t, 0.5, slope, 1e-15)
	_, ok = p.SlopeAt(Place{m, 5 * m})
	assert.False(t, ok, "outside")
	level := &Surface{Plane: &plane.Plane{}}
	slope, ok = level.SlopeAt(Place{})
	assert.True(t, ok)
	assert.Zero(t, slope)
	_, ok = (&Surface{Levels: map[string]TableLevel{}}).SlopeAt(Place{})
	assert.False(t, ok)
}

// A surface ends at the edges of its faces, a plane at its corners; what has no
// end has no border.
func TestBorder(t *testing.T) {
	m := unit.Metre
	tin, err := surface.New([]surface.Vertex{{}, {E: m}, {E: m, N: m}, {N: m}}, [][3]int32{{0, 1, 2}, {0, 2, 3}})
	require.NoError(t, err)
	square := [][]Place{{{0, 0}, {m, 0}, {m, m}, {0, m}, {0, 0}}}
	assert.Equal(t, square, (&Surface{TIN: tin}).Border(), "the edge between two faces is none")
	o, err := NewOutline([][]Place{{{0, 0}, {m, 0}, {m, m}, {0, m}}})
	require.NoError(t, err)
	assert.Equal(t, square, (&Surface{Plane: &plane.Plane{}, Outline: o}).Border())
	assert.Empty(t, (&Surface{Plane: &plane.Plane{}}).Border())
	assert.Empty(t, (&Surface{Levels: map[string]TableLevel{}}).Border())
}
