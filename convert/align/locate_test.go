package align_test

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/align"
	"sightrail/formats/unit"
)

// A hairpin: 100 m north, half a circle of radius 10 m to the right, 100 m south.
func hairpin(t *testing.T) *align.Alignment {
	return build(t, 1000*m, line(0, 0, 0, 100),
		align.Element{Shape: align.Arc, Start: place(0, 100), End: place(20, 100), Turn: align.ToRight, Centre: align.Point{Place: place(10, 100), Set: true}},
		line(20, 100, 20, 0))
}

// Geometry that can be checked by eye; no published source.
func TestEveryFootWithinReach(t *testing.T) {
	a := hairpin(t)
	bend := mOf(10 * math.Pi)
	hit := func(chainage, offset unit.Length, element int) align.Hit {
		return align.Hit{Chainage: chainage, Offset: offset, Element: element, Foot: align.On, Distance: offset.Abs()}
	}
	// between the legs: right of both, the nearer first
	assert.Equal(t, []align.Hit{hit(1040*m, 8*m, 0), hit(1160*m+bend, 12*m, 2)}, a.Locate(place(8, 40), 50*m))
	// a reach counts what is on it
	assert.Len(t, a.Locate(place(8, 40), 12*m), 2)
	assert.Len(t, a.Locate(place(8, 40), 12*m-1), 1)
	assert.Len(t, a.Locate(place(8, 40), 8*m), 1)
	assert.Empty(t, a.Locate(place(8, 40), 8*m-1))
	assert.Len(t, a.Locate(place(8, 40), 0), 0)
	assert.Equal(t, []align.Hit{hit(1040*m, 0, 0)}, a.Locate(place(0, 40), 0))
	// in the middle both are as near; the lesser chainage comes first
	both := a.Locate(place(10, 40), 20*m)
	assert.Equal(t, []align.Hit{hit(1040*m, 10*m, 0), hit(1160*m+bend, 10*m, 2)}, both)
	// left of the first leg; the other leg and the ends are out of reach
	assert.Equal(t, []align.Hit{hit(1040*m, -5*m, 0)}, a.Locate(place(-5, 40), 20*m))
	// the place on a joint is one hit, of the element before it
	assert.Equal(t, []align.Hit{hit(1100*m, 0, 0)}, a.Locate(place(0, 100), m))
	// outside of the bend
	top := a.Locate(place(10, 113), 20*m)
	require.Len(t, top, 1)
	assert.Equal(t, 1, top[0].Element)
	assert.InDelta(t, (1100*m + bend/2).Metres(), top[0].Chainage.Metres(), 1e-9)
	assert.InDelta(t, -3, top[0].Offset.Metres(), 1e-12)
	// at its centre all of it is equally near; the legs end there, 10 m off
	centre := a.Locate(place(10, 100), 20*m)
	require.NotEmpty(t, centre)
	found := false
	for _, h := range centre {
		assert.InDelta(t, 10, h.Offset.Metres(), 1e-12)
		found = found || h.Foot == align.Centre && h.Element == 1 && h.Chainage == 1100*m
	}
	assert.True(t, found, "%+v", centre)
	assert.Nil(t, a.Locate(align.Place{E: unit.MaxLength/2 + 1}, -1), "further than can be computed")
}

func TestEndsAreReported(t *testing.T) {
	a := build(t, 1000*m, line(0, 0, 30, 40), line(30, 40, 60, 80))
	// 5 m before the start and 1 m right of it
	before := a.Locate(place(-3+0.8, -4-0.6), 10*m)
	require.Len(t, before, 1)
	assert.Equal(t, align.Hit{Chainage: 1000 * m, Offset: m, Foot: align.Before, Beyond: 5 * m, Distance: mOf(math.Sqrt(26))}, before[0])
	after := a.Locate(place(63-1.6, 84+1.2), 10*m)
	require.Len(t, after, 1)
	assert.Equal(t, align.Hit{Chainage: 1100 * m, Offset: -2 * m, Element: 1, Foot: align.After, Beyond: 5 * m, Distance: mOf(math.Sqrt(29))}, after[0])
	// on the normals at the ends: on the alignment
	for _, p := range []align.Place{place(4, -3), place(60+4, 80-3)} {
		on := a.Locate(p, 10*m)
		require.Len(t, on, 1)
		assert.Equal(t, align.On, on[0].Foot)
		assert.Equal(t, 5*m, on[0].Offset)
	}
	// one millimetre outside is outside
	assert.Equal(t, align.Before, a.Locate(place(-0.0006, -0.0008), m)[0].Foot)
	assert.Equal(t, align.After, a.Locate(place(60.0006, 80.0008), m)[0].Foot)
	// and of a curve: its tangent is carried on
	c := build(t, 0, quarter())
	h := c.Locate(place(3, -4), 10*m)
	require.Len(t, h, 1)
	assert.Equal(t, align.Before, h[0].Foot)
	assert.InDelta(t, 4, h[0].Beyond.Metres(), 1e-12)
	assert.InDelta(t, 3, h[0].Offset.Metres(), 1e-12)
	h = c.Locate(place(104, 103), 10*m)
	require.Len(t, h, 1)
	assert.Equal(t, align.After, h[0].Foot)
	assert.InDelta(t, 4, h[0].Beyond.Metres(), 1e-12)
	assert.InDelta(t, -3, h[0].Offset.Metres(), 1e-12)
}

// Outside of a bend no perpendicular stands, and the joint is nearest; inside two
// stand.
func TestCorner(t *testing.T) {
	a, flaws := align.New([]align.Element{line(0, 0, 0, 100), line(0, 100, 100, 100)}, 0, align.Options{})
	require.Len(t, flaws, 1)
	require.Equal(t, align.Kink, flaws[0].Kind)
	assert.InDelta(t, 90, flaws[0].Degrees, 1e-12)
	corner := a.Locate(place(-3, 104), 50*m)
	assert.Equal(t, []align.Hit{{Chainage: 100 * m, Offset: -5 * m, Element: 1, Foot: align.Corner, Distance: 5 * m}}, corner)
	inside := a.Locate(place(3, 96), 50*m)
	require.Len(t, inside, 2)
	assert.Equal(t, align.Hit{Chainage: 96 * m, Offset: 3 * m, Foot: align.On, Distance: 3 * m}, inside[0])
	assert.Equal(t, 103*m, inside[1].Chainage)
	assert.Equal(t, 4*m, inside[1].Offset)
	left, _ := align.New([]align.Element{line(0, 0, 0, 100), line(0, 100, -100, 100)}, 0, align.Options{})
	assert.Equal(t, 5*m, left.Locate(place(3, 104), 50*m)[0].Offset, "a bend to the left has its outside on the right")
	// a kink within tolerance is no corner, and its two feet are one
	slight, flaws := align.New([]align.Element{line(0, 0, 0, 100), line(0, 100, 0.01, 200)}, 0, align.Options{})
	require.Empty(t, flaws)
	for _, x := range []float64{-50, -1, 0, 1, 50} {
		for _, n := range []float64{100 - 1e-4, 100, 100 + 1e-4} {
			h := slight.Locate(place(x, n), 60*m)
			require.Len(t, h, 1, "%v %v: %+v", x, n, h)
			assert.Equal(t, align.On, h[0].Foot)
			assert.InDelta(t, x, h[0].Offset.Metres(), 1e-6)
			assert.InDelta(t, n, h[0].Chainage.Metres(), 1e-2)
		}
	}
	// a gap within tolerance loses no place either
	second := line(0, 100.0009, 0, 200)
	gap, flaws := align.New([]align.Element{line(0, 0, 0, 100), second}, 0, align.Options{})
	require.Empty(t, flaws)
	assert.Equal(t, 900*unit.Micrometre, gap.Joints()[0].Gap)
	h := gap.Locate(place(3, 100.0004), 50*m)
	require.Len(t, h, 1)
	assert.Equal(t, 100*m, h[0].Chainage)
	assert.Positive(t, h[0].Offset)
}

func TestAtIsInsideOnly(t *testing.T) {
	a := hairpin(t)
	_, _, err := a.At(999999*millimetre, 0)
	assert.EqualError(t, err, "chainage 999.999 m is before the start of the alignment at 1000.000 m")
	assert.True(t, errors.Is(err, align.ErrBefore))
	_, _, err = a.At(a.End()+1, 0)
	assert.ErrorIs(t, err, align.ErrAfter)
	_, _, err = a.At(1000*m, unit.MaxLength/2+1)
	assert.ErrorIs(t, err, align.ErrFar)
	for _, s := range []unit.Length{1050 * m, a.Joints()[0].Chainage + m} {
		_, _, err = a.At(s, unit.MaxLength/2)
		assert.NoError(t, err)
	}
	edge := build(t, 0, align.Element{Shape: align.Line, Start: align.Place{E: unit.MaxLength/2 - 10*m}, End: align.Place{E: unit.MaxLength/2 - 10*m, N: 10 * m}})
	_, _, err = edge.At(m, 11*m)
	assert.ErrorIs(t, err, align.ErrFar)

	// bearings, clockwise from north (geometry)
	for at, want := range map[unit.Length]float64{1000 * m: 0, 1100 * m: 0, a.Joints()[1].Chainage: 180, a.End(): 180} {
		_, b, err := a.At(at, 0)
		require.NoError(t, err)
		assert.InDelta(t, want, b*180/math.Pi, 1e-12)
	}
	p, b, err := a.At(1100*m+mOf(5*math.Pi), -2*m)
	require.NoError(t, err)
	assert.InDelta(t, 90, b*180/math.Pi, 1e-9)
	assert.Less(t, apart(place(10, 112), p), 1e-9, "left of it")
	west := build(t, 0, line(0, 0, -1, 0))
	_, b, err = west.At(0, 0)
	require.NoError(t, err)
	assert.InDelta(t, 270, b*180/math.Pi, 1e-12)
}

func BenchmarkLocate(b *testing.B) {
	elements := []align.Element{line(0, -200, 0, 0), easing()}
	a, flaws := align.New(elements, 0, align.Options{})
	if flaws.Err() != nil {
		b.Fatal(flaws)
	}
	for b.Loop() {
		if len(a.Locate(place(1, 30), 10*m)) != 1 {
			b.Fatal("lost")
		}
	}
}
