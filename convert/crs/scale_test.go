package crs

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// A site near Melbourne, 250 m above the ellipsoid: common practice, no published
// source. The combined factor is 0.9996 and a little, less 39 ppm of height.
func melbourne(t *testing.T) float64 {
	combined, err := look(t, "7855").Combined(520000, 5810000, 250)
	require.NoError(t, err)
	assert.InDelta(t, -434.3, (combined-1)*1e6, 0.2)
	return combined
}

func TestCompare(t *testing.T) {
	combined := melbourne(t)
	for _, x := range []struct {
		scale, sd   float64
		n           int
		o           Options
		uncertainty float64
		want        Distances
		text        string
	}{
		{1, 0.003, 8, Options{}, 3, OnGrid, `^the scale from site to grid is \d\.\d{8} \([+-]\d\.\d ppm\): the site has grid distances \(1, within \d+\.\d ppm\)$`},
		{combined, 0.003, 8, Options{}, 3, OnGround, `^the scale from site to grid is 0\.99956\d+ \(-4\d\d\.\d ppm\): the site has distances on the ground \(the combined factor 0\.99956571 \(-434\.3 ppm\), within \d+\.\d ppm\)$`},
		{combined, 0.003, 8, Options{Plan: 0.003}, 16, OnGround, `distances on the ground`},
		{1.0002, 0.003, 8, Options{}, 3, Neither, `it is neither 1 nor the combined factor 0\.99956571 \(-434\.3 ppm\) within \d+\.\d ppm; check the code of the grid, the height of the site, the units, and each point$`},
		{0.3048, 0.003, 8, Options{}, 3, Neither, `: the site grid is in feet and was read as metres; check both grids$`},
		{combined / 0.3048, 0.003, 8, Options{}, 3, Neither, `: the declared grid is in feet and was read as metres; check both grids$`},
		{1 / combined, 0.0001, 8, Options{}, 3, Neither, `: the factor was taken the wrong way round, so that it stands in the scale twice or as its inverse; check both grids$`},
		{1, 0.3, 3, Options{}, 3, Untold, `sure to \d+\.\d ppm only: 1 and the combined factor 0\.99956571 \(-434\.3 ppm\) both agree with it, so that grid distances cannot be told from distances on the ground; use control that is further apart, or more of it$`},
		{1, 0.003, 2, Options{}, 3, Untold, `^the scale is \d\.\d{8}, but two points do not check it; add a point, or state how good the control is$`},
		{1, 0.003, 8, Options{Scale: 1}, 3, Untold, `^the scale was held, so that it says nothing of what the distances of the site are$`},
	} {
		g, err := FitSite(laid(x.n, x.scale, 0.7, x.sd, 3), x.o)
		require.NoError(t, err)
		v, err := g.Compare(combined, x.uncertainty)
		require.NoError(t, err)
		assert.Equal(t, x.want, v.Distances, v.Sentence)
		assert.Regexp(t, x.text, v.Sentence)
		assert.InDelta(t, (combined-1)*1e6, v.GridPPM-v.GroundPPM, 1e-6)
	}
	g, err := FitSite(laid(8, 1, 0.7, 0.0005, 3), Options{})
	require.NoError(t, err)
	v, err := g.Compare(1.000002, 3)
	require.NoError(t, err)
	assert.Equal(t, Both, v.Distances)
	assert.Contains(t, v.Sentence, "so that grid distances and distances on the ground are the same here")
	for _, bad := range []float64{0, math.NaN(), 1.2, math.Inf(1)} {
		_, err := g.Compare(bad, 0)
		assert.ErrorContains(t, err, "is not one of a survey grid; look at the grid's code, the place and the height it was worked out for")
	}
}

// The two feet in the scale, on a site of some kilometres with good control.
func TestCompareFeet(t *testing.T) {
	for _, scale := range []float64{foot, 1 / foot} {
		g, err := FitSite(wide(laid(12, scale, 0.7, 0.0003, 3), scale, 0.7), Options{Plan: 0.0003})
		require.NoError(t, err)
		v, err := g.Compare(0.9999, 3)
		require.NoError(t, err)
		assert.Equal(t, Neither, v.Distances, v.Sentence)
		want := ": the site grid was read in international feet and the declared grid in US survey feet; check both grids"
		if scale < 1 {
			want = ": the site grid was read in US survey feet and the declared grid in international feet; check both grids"
		}
		assert.Contains(t, v.Sentence, want)
	}
}

// wide makes a site ten times as large.
func wide(c []Control, scale, turn float64) []Control {
	s, co := math.Sincos(turn)
	for i, p := range c {
		dx, dy := 9*(p.X-1000), 9*(p.Y-2000)
		c[i].X, c[i].Y = p.X+dx, p.Y+dy
		c[i].E, c[i].N = p.E+scale*(co*dx-s*dy), p.N+scale*(s*dx+co*dy)
	}
	return c
}

// A scale is never called grid or ground when it is far from it: the wrong one
// of two that are 100 ppm apart is chosen in none of 500 sites.
func TestCompareNeverWrong(t *testing.T) {
	wrong := 0
	for seed := range uint64(500) {
		for n := 3; n < 7; n++ {
			g, err := FitSite(laid(n, 0.9999, 0.7, 0.01, seed), Options{})
			require.NoError(t, err)
			v, err := g.Compare(0.9999, 1)
			require.NoError(t, err)
			if v.Distances == OnGrid || v.Distances == Both {
				wrong++
			}
		}
	}
	assert.LessOrEqual(t, wrong, 4, "0.1 %% of 2000 at most, twice")
}

// EPSG:2921 and 3568 are one zone in two feet: coordinates read in the wrong one
// are shifted by 2 ppm along their own vector, 7.055 ft in northing (TestWorkedStatePlane).
func TestWrongFoot(t *testing.T) {
	international, survey := look(t, "2921").Unit.Metres, look(t, "3568").Unit.Metres
	rapid.Check(t, func(r *rapid.T) {
		e, n := rapid.Float64Range(5e5, 8e6).Draw(r, "e"), rapid.Float64Range(5e5, 14e6).Draw(r, "n")
		grid, site := survey, international
		swapped := rapid.Bool().Draw(r, "swapped")
		if swapped {
			grid, site = site, grid
		}
		var right, wrong []Control
		for i := range rapid.IntRange(1, 6).Draw(r, "points") {
			pe, pn := e+300*float64(i), n+200*float64(i*i%7)
			noise := 0.006 * float64(i%3-1)
			c := Control{Name: fmt.Sprint(i), X: pe * site, Y: pn * site, E: pe*grid + noise, N: pn*grid - noise}
			wrong = append(wrong, c)
			c.E, c.N = pe*site+noise, pn*site-noise
			right = append(right, c)
		}
		_, ok := WrongFoot(right)
		require.False(r, ok)
		slip, ok := WrongFoot(wrong)
		require.True(r, ok)
		require.InDelta(r, 2, math.Abs(slip.PPM), 0.05)
		require.Equal(r, swapped, slip.PPM < 0)
		if len(wrong) > 1 {
			g, err := FitSite(wrong, Options{})
			require.NoError(r, err)
			require.NotNil(r, g.Foot)
			require.Equal(r, slip, *g.Foot)
		}
	})
}

func TestWrongFootSentence(t *testing.T) {
	m := look(t, "3568").Unit.Metres
	e, n := 2054432.4593, 3527295.6725
	c := []Control{{X: e * 0.3048, Y: n * 0.3048, E: e * m, N: n * m}}
	slip, ok := WrongFoot(c)
	require.True(t, ok)
	assert.Equal(t, "the control is shifted by 1.252 m east and 2.150 m north, which is +2.000 ppm of its coordinates along their own vector: the site grid was read in international feet and the declared grid in US survey feet, and one of the two is wrong; declare which foot each file has", slip.Sentence)
	// other shifts are not taken for one: of the same size to the side, of 1.8 m
	// as between GDA94 and GDA2020, nothing at all, or too near to the origin
	for _, x := range [][4]float64{
		{e, n, -(n * 2e-6), e * 2e-6}, {273741, 5796489, 0.6, 1.5}, {273741, 5796489, 0, 0}, {e, n, e * 4e-6, n * 4e-6}, {1000, 2000, 0.002, 0.004}, {0, 0, 1, 1},
	} {
		_, ok := WrongFoot([]Control{{X: x[0], Y: x[1], E: x[0] + x[2], N: x[1] + x[3]}})
		assert.False(t, ok, "%v", x)
	}
	_, ok = WrongFoot(nil)
	assert.False(t, ok)
	// a site grid with an origin of its own shows nothing
	g, err := FitSite(laid(5, 1, 0.4, 0.002, 1), Options{})
	require.NoError(t, err)
	assert.Nil(t, g.Foot)
}
