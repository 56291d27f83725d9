package crs

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// codes of the systems that can be had, in order.
func codes(t testing.TB) (list []string) {
	for code := range loaded().planes.codes() {
		if _, err := Lookup(code); err == nil {
			list = append(list, code)
		}
	}
	slices.Sort(list)
	require.Greater(t, len(list), 5000)
	return list
}

// somewhere is a place in the area of use that the projection reaches, degrees
// of the system's own datum.
func somewhere(t *rapid.T, s *System) (lon, lat float64) {
	b := s.Area
	lat = rapid.Float64Range(max(b.South, -89.9), min(b.North, 89.9)).Draw(t, "lat")
	lon = b.West + b.width()*rapid.Float64Range(0, 1).Draw(t, "across")
	if lon > 180 {
		lon -= 360
	}
	if e, n := s.Plane(lon, lat); math.IsNaN(e + n) {
		t.Skip("out of reach of the projection")
	}
	return lon, lat
}

func apart(lon1, lat1, lon2, lat2 float64) float64 {
	return math.Hypot(math.Remainder(lon1-lon2, 360)*math.Cos(radians(lat1)), lat1-lat2) * 111320
}

// Forward and back is the same place within 50 nm: near the equator a cone is far
// larger than its grid. The equal-area grids of whole polar regions lose more at
// the other end of theirs, where a millimetre of the map is many on the Earth.
func TestRoundTrip(t *testing.T) {
	list := codes(t)
	worst := 0.0
	rapid.Check(t, func(r *rapid.T) {
		s := look(t, rapid.SampledFrom(list).Draw(r, "code"))
		lon, lat := somewhere(r, s)
		e, n := s.Plane(lon, lat)
		backLon, backLat := s.Earth(e, n)
		d := apart(lon, lat, backLon, backLat)
		worst = max(worst, d)
		within := 5e-8
		if s.Method == "Lambert Azimuthal Equal Area" {
			within = 1e-6
		}
		require.LessOrEqual(r, d, within, "EPSG:%s", s.Code)
	})
	t.Logf("worst %.2g m", worst)
}

// A conformal grid has one scale in all directions; the differences of Factors do
// not know of it.
func TestConformalGrids(t *testing.T) {
	list := codes(t)
	rapid.Check(t, func(r *rapid.T) {
		s := look(t, rapid.SampledFrom(list).Draw(r, "code"))
		lon, lat := somewhere(r, s)
		if math.Abs(lat) > 85 {
			r.Skip("near a pole")
		}
		e, n := s.Plane(lon, lat)
		f, err := s.Factors(e, n)
		require.NoError(r, err)
		if s.Conformal {
			require.InEpsilon(r, f.Scale, f.ScaleNorth, 2e-10, "EPSG:%s", s.Code)
		}
	})
}

// Albers and Lambert keep areas: on the axis, where parallel and meridian are at
// right angles on the map, the two scales are inverse.
func TestEqualArea(t *testing.T) {
	for _, code := range []string{"5070", "3577", "3035"} {
		s := look(t, code)
		require.False(t, s.Conformal)
		mid := degrees(s.lon0)
		for lat := s.Area.South + 1; lat < min(s.Area.North, 85); lat += 3 {
			f, err := s.Factors(s.Plane(mid, lat))
			require.NoError(t, err)
			assert.InDelta(t, 1, f.Scale*f.ScaleNorth, 1e-9, code)
			assert.InDelta(t, 0, f.Convergence, 1e-10)
		}
		_, err := s.Combined(0, 0, 0)
		assert.ErrorContains(t, err, "cannot be compared with it by one factor")
	}
}

// The series against the closed formulas.
func TestSeries(t *testing.T) {
	for _, l := range []ellipsoid{ellipsoidOf(6378137, 298.257223563), ellipsoidOf(6378249.145, 293.465), ellipsoidOf(6370997, 0)} {
		for lat := -89.0; lat < 90; lat += 0.5 {
			phi := radians(lat)
			psi := math.Asinh(math.Tan(phi)) - l.e*math.Atanh(l.e*math.Sin(phi))
			assert.InDelta(t, psi, l.isometric(phi), 2e-14*max(1, math.Abs(1/math.Cos(phi))))
			assert.InDelta(t, phi, l.fromIsometric(psi), 5e-16)
			q, slope := l.authalic(phi)
			assert.InDelta(t, phi, l.fromAuthalic(q), 1e-13)
			up, _ := l.authalic(phi + 1e-5)
			down, _ := l.authalic(phi - 1e-5)
			assert.InDelta(t, (up-down)/2e-5, slope, 1e-9)
		}
		assert.Equal(t, math.Pi/2, l.fromAuthalic(func() float64 { q, _ := l.authalic(math.Pi / 2); return q }()))
		assert.True(t, math.IsNaN(l.fromAuthalic(3)))
	}
	// meridian arc from the equator to the pole: 10001965.729 m on WGS 84, common
	// knowledge of geodesy
	l := ellipsoidOf(6378137, 298.257223563)
	assert.InDelta(t, 10001965.729, rectifying(&l)*math.Pi/2, 6e-4)
}

// What no projection can do is NaN, never a number.
func TestOutOfReach(t *testing.T) {
	tm, cone := look(t, "7855"), look(t, "3111")
	for _, s := range []*System{tm, cone, look(t, "28992"), look(t, "26931"), look(t, "2056"), look(t, "5514"), look(t, "3577"), look(t, "3035"), look(t, "3031"), look(t, "30200")} {
		for _, p := range [][2]float64{{math.NaN(), 0}, {0, math.NaN()}, {math.Inf(1), 0}, {0, math.Inf(-1)}} {
			lon, lat := s.Earth(p[0], p[1])
			assert.True(t, math.IsNaN(lon) || math.Abs(lat) == 90, "EPSG:%s %v: %v %v", s.Code, p, lon, lat)
		}
		for _, p := range [][2]float64{{147, 91}, {147, -91}, {147, math.NaN()}, {math.NaN(), -30}} {
			e, n := s.Plane(p[0], p[1])
			assert.True(t, math.IsNaN(e) || math.IsNaN(n), "EPSG:%s %v", s.Code, p)
		}
	}
	for _, p := range [][2]float64{{147 + 46, 0}, {147 - 90, -30}, {-33, -37}} {
		e, n := tm.Plane(p[0], p[1])
		assert.True(t, math.IsNaN(e) && math.IsNaN(n), "%v", p)
	}
	lon, lat := tm.Earth(9e6, 5e6)
	assert.True(t, math.IsNaN(lon) && math.IsNaN(lat))
	e, n := tm.Plane(147, -90)
	assert.InDelta(t, 500000, e, 1e-8)
	_, lat = tm.Earth(e, n)
	assert.InDelta(t, -90, lat, 1e-12)
	_, err := tm.Factors(e, n)
	assert.Error(t, err)
	_, err = tm.Factors(math.NaN(), n)
	assert.Error(t, err)
}

func TestElevation(t *testing.T) {
	s := look(t, "7855")
	f, err := s.Factors(500000, 5800000)
	require.NoError(t, err)
	assert.InDelta(t, 0.9996, f.Scale, 1e-12)
	assert.InDelta(t, 0, f.Convergence, 1e-11)
	assert.InDelta(t, 6372800, f.Radius, 2000) // between the radii of a and b at 38 degrees
	c, err := s.Combined(500000, 5800000, 1000)
	require.NoError(t, err)
	assert.InDelta(t, 0.9996*f.Radius/(f.Radius+1000), c, 1e-12)
	assert.InDelta(t, -0.157, (c/0.9996-1)*1e6/1000, 0.0005, "ppm for a metre of height")
	for _, height := range []float64{math.NaN(), 20000, -1e9} {
		_, err = s.Combined(500000, 5800000, height)
		assert.ErrorContains(t, err, "is not one of a site")
	}
	_, err = s.Combined(9e6, 5800000, 0)
	assert.EqualError(t, err, "easting 9000000.000, northing 5800000.000 of EPSG:7855 (GDA2020 / MGA zone 55) is no place on Earth; check the code of the grid, its unit, and the order of the columns")
}

func BenchmarkBatch(b *testing.B) {
	for _, x := range [][2]string{{"7855", ""}, {"2236", ""}, {"2263", ""}, {"26931", ""}, {"3577", ""}, {"28992", "4833"}, {"27700", "1314"}} {
		s := look(b, x[0])
		if x[1] != "" {
			var err error
			s, err = s.With(x[1])
			require.NoError(b, err)
		}
		const count = 4096
		var e, n, lon, lat [count]float64
		var what [count]Outcome
		for i := range e {
			across, up := 0.1+float64(i%61)/76, 0.1+float64(i%67)/84
			var err error
			e[i], n[i], err = s.FromWGS84(s.Area.West+s.Area.width()*across, s.Area.South+(s.Area.North-s.Area.South)*up)
			require.NoError(b, err)
		}
		b.Run(s.Code+" "+s.Method, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				s.Batch(lon[:], lat[:], what[:], e[:], n[:])
			}
			b.ReportMetric(float64(b.N)*count/b.Elapsed().Seconds()/1e6, "Mpoints/s")
		})
	}
}
