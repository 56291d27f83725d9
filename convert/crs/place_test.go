package crs

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Null shifts and their metres, of the EPSG dataset v10.076.
func TestNullShifts(t *testing.T) {
	var got []string
	for _, s := range NullShifts() {
		require.Equal(t, Null, s.Kind)
		require.True(t, s.Usable())
		got = append(got, s.String())
	}
	assert.Len(t, got, 85)
	for _, want := range []string{
		"null shift ETRS89 to WGS 84 (1) (EPSG:1149), within 1 m",
		"null shift GDA94 to WGS 84 (1) (EPSG:1150), within 3 m",
		"null shift GDA2020 to WGS 84 (2) (EPSG:8450), within 3 m",
		"null shift NAD83 to WGS 84 (1) (EPSG:1188), within 4 m",
		"null shift NAD83(2011) to WGS 84 (1) (EPSG:9774), within 2 m",
		"null shift NZGD2000 to WGS 84 (1) (EPSG:1565), within 1 m",
		"null shift JAD2001 to WGS 84 (1) (EPSG:15925), within 0 m",
		"null shift NAD83(CSRS)v6 to NAD83(2011) (1), NAD83(2011) to WGS 84 (1) (EPSG:9129+9774), within 2 m",
	} {
		assert.Contains(t, got, want)
	}
}

func TestShiftOfSystems(t *testing.T) {
	for code, want := range map[string]string{
		"32633": "none: the grid is on WGS 84",
		"7855":  "null shift GDA2020 to WGS 84 (2) (EPSG:8450), within 3 m",
		"25832": "null shift ETRS89 to WGS 84 (1) (EPSG:1149), within 1 m",
		"27700": "shift by a grid file OSGB36 to WGS 84 (9) (EPSG:7710), within 1 m",
		"2056":  "approximate shift CH1903+ to WGS 84 (1) (EPSG:1676), within 1 m",
		"4500":  "unknown shift",
	} {
		assert.Equal(t, want, look(t, code).Shift().String(), code)
	}
	assert.Equal(t, "approximate shift X (EPSG:1), within an accuracy that is not stated", Shift{Kind: Helmert, Code: "1", Name: "X"}.String())
	// NAD83's null shift is not for Hawaii
	assert.NotEqual(t, Null, look(t, "26961").Shift().Kind)
	assert.Equal(t, []Shift{{Kind: Same, Known: true, Area: world}}, look(t, "32633").Shifts())
}

func TestReason(t *testing.T) {
	for code, want := range map[string]string{
		"7855":  "",
		"32633": "",
		"27700": "EPSG:27700 (OSGB36 / British National Grid) is on OSGB36; its shift to WGS 84 needs the grid file OSTN15_NTv2_OSGBtoETRS.gsb (EPSG:7710), which is not read here; name the one to use: EPSG:1314 (OSGB36 to WGS 84 (6), within 2 m), EPSG:5622 (OSGB36 to WGS 84 (8), within 3 m), EPSG:1196 (OSGB36 to WGS 84 (2), within 10 m), 4 more",
		"2056":  "EPSG:2056 (CH1903+ / LV95) is on CH1903+; its shifts to WGS 84 are approximate; name the one to use: EPSG:1676 (CH1903+ to WGS 84 (1), within 1 m)",
		"4500":  "EPSG:4500 (CGCS2000 / Gauss-Kruger zone 22) is on China Geodetic Coordinate System 2000, from which the EPSG dataset has no shift to WGS 84; say within how many metres the two are the same, or write points in the grid's own coordinates",
		"32181": "",
		"2018":  "EPSG:2018 (NAD27(76) / MTM zone 9) is on NAD27(76); its shift to WGS 84 needs the grid file May76v20.gsb (EPSG:1690), which is not read here; write points in the grid's own coordinates",
	} {
		s := look(t, code)
		assert.Equal(t, want, s.Reason(), code)
		if want == "" {
			continue
		}
		// never a place without a shift
		lon, lat, err := s.ToWGS84(400000, 300000)
		assert.True(t, math.IsNaN(lon) && math.IsNaN(lat), code)
		assert.EqualError(t, err, want)
		_, _, err = s.FromWGS84(0, 50)
		assert.EqualError(t, err, want)
		var bad *PlaceError
		require.ErrorAs(t, err, &bad)
		assert.Equal(t, NoShift, bad.Outcome)
	}
}

func TestWith(t *testing.T) {
	s := look(t, "27700")
	w, err := s.With("EPSG:1314")
	require.NoError(t, err)
	assert.Equal(t, "approximate shift OSGB36 to WGS 84 (6) (EPSG:1314), within 2 m", w.Shift().String())
	assert.Empty(t, w.Reason())
	assert.NotEmpty(t, s.Reason(), "the system itself does not change")
	lon, lat, err := w.ToWGS84(400000, 300000)
	require.NoError(t, err)
	assert.InDelta(t, -2.0015, lon, 1e-3)
	assert.InDelta(t, 52.598, lat, 1e-3)
	e, n, err := w.FromWGS84(lon, lat)
	require.NoError(t, err)
	assert.InDelta(t, 400000, e, 1e-6)
	assert.InDelta(t, 300000, n, 1e-6)

	_, err = s.With("7710")
	assert.EqualError(t, err, "the shift EPSG:7710 (OSGB36 to WGS 84 (9)) needs the grid file OSTN15_NTv2_OSGBtoETRS.gsb, which is not read here; name an approximate one")
	_, err = s.With("1150")
	assert.EqualError(t, err, "EPSG:1150 is not a shift from OSGB36 to WGS 84 that holds in the area of EPSG:27700 (OSGB36 / British National Grid); name one of EPSG's for it")
	// back to the null shift from one with parameters
	a, err := look(t, "28355").With("9688")
	require.NoError(t, err)
	b, err := a.With("1150")
	require.NoError(t, err)
	assert.Equal(t, Null, b.Shift().Kind)
	lon1, lat1, err := a.ToWGS84(500000, 5800000)
	require.NoError(t, err)
	lon2, lat2, err := b.ToWGS84(500000, 5800000)
	require.NoError(t, err)
	assert.InDelta(t, 1.6, apart(lon1, lat1, lon2, lat2), 0.25, "GDA94 and GDA2020 are 1.5 to 1.8 m apart")
}

func TestState(t *testing.T) {
	s := look(t, "4500")
	w, err := s.State(2)
	require.NoError(t, err)
	assert.Equal(t, "null shift stated by the user, within 2 m", w.Shift().String())
	assert.Empty(t, w.Reason())
	lon, lat, err := w.ToWGS84(22500000, 4000000)
	require.NoError(t, err)
	assert.InDelta(t, 129, lon, 1e-9)
	assert.InDelta(t, 36.1, lat, 0.1)
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1), 1001} {
		_, err = s.State(bad)
		assert.ErrorContains(t, err, "is not an accuracy of a shift; state more than 0 and at most 1000 m")
	}
	_, err = look(t, "27700").State(2)
	assert.EqualError(t, err, "EPSG:27700 (OSGB36 / British National Grid) has shifts to WGS 84 in the EPSG dataset; name one of them instead of stating that there is none")
}

func TestOutcomes(t *testing.T) {
	s := look(t, "7855")
	e, n := s.Plane(152, -37)
	for _, x := range []struct {
		e, n float64
		want Outcome
		text string
	}{
		{500000, 5800000, Placed, ""},
		{e, n, OutsideArea, "easting 945037.087, northing 5893424.294 of EPSG:7855 (GDA2020 / MGA zone 55) is longitude 152.00000, latitude -37.00000, outside the area of use of EPSG:7855 (GDA2020 / MGA zone 55), 144°E to 150.01°E, 50.89°S to 9.23°S; check the code of the grid, its unit, and the order of the columns"},
		{500000, -1000, OutsideShift, "easting 500000.000, northing -1000.000 of EPSG:7855 (GDA2020 / MGA zone 55) is longitude -33.00000, latitude -89.97282, outside the area in which the shift EPSG:8450 holds, 93.41°E to 173.34°E, 60.55°S to 8.47°S; name another shift"},
		{math.NaN(), 0, NoPlace, "easting NaN, northing 0.000 of EPSG:7855 (GDA2020 / MGA zone 55) is no place on Earth; check the code of the grid, its unit, and the order of the columns"},
		{9e9, 0, NoPlace, "easting 9000000000.000, northing 0.000 of EPSG:7855 (GDA2020 / MGA zone 55) is no place on Earth; check the code of the grid, its unit, and the order of the columns"},
	} {
		lon, lat, err := s.ToWGS84(x.e, x.n)
		assert.Equal(t, x.want.HasPlace(), !math.IsNaN(lon+lat))
		if x.text == "" {
			assert.NoError(t, err)
			continue
		}
		assert.EqualError(t, err, x.text)
		var bad *PlaceError
		require.True(t, errors.As(err, &bad))
		assert.Equal(t, x.want, bad.Outcome, x.want.String())
	}
	for _, x := range []struct {
		lon, lat float64
		want     Outcome
		text     string
	}{
		{147, -38, Placed, ""},
		{152, -37, OutsideArea, "longitude 152.00000, latitude -37.00000 is outside the area of use of EPSG:7855 (GDA2020 / MGA zone 55), 144°E to 150.01°E, 50.89°S to 9.23°S; check the code of the grid, and that longitude comes first"},
		{-38, 147, OutsideShift, "longitude -38.00000, latitude 147.00000 is outside the area in which the shift EPSG:8450 holds, 93.41°E to 173.34°E, 60.55°S to 8.47°S; name another shift"},
		{95, -10, NoPlace, "longitude 95.00000, latitude -10.00000 is out of reach of the projection of EPSG:7855 (GDA2020 / MGA zone 55); check the code of the grid, and that longitude comes first"},
	} {
		e, n, err := s.FromWGS84(x.lon, x.lat)
		assert.Equal(t, x.want.HasPlace(), !math.IsNaN(e+n))
		if x.text != "" {
			assert.EqualError(t, err, x.text)
		}
	}
	assert.Equal(t, "placed, outside the area of use, outside the area of the datum shift, no shift to WGS 84, beyond the projection",
		strings.Join([]string{Placed.String(), OutsideArea.String(), OutsideShift.String(), NoShift.String(), NoPlace.String()}, ", "))
}

// A batch is the same as one place at a time.
func TestBatch(t *testing.T) {
	s := look(t, "7855")
	e, n := []float64{500000, 945130, math.NaN(), 300000, 1}, []float64{5800000, 5892303, 1, 6000000, 1}
	lon, lat, what := make([]float64, 9), make([]float64, 9), make([]Outcome, 9)
	assert.Equal(t, 3, s.Batch(lon, lat, what, e, n))
	for i := range e {
		wantLon, wantLat, err := s.ToWGS84(e[i], n[i])
		want := Placed
		var bad *PlaceError
		if errors.As(err, &bad) {
			want = bad.Outcome
		}
		assert.Equal(t, want, what[i])
		if want.HasPlace() {
			assert.Equal(t, [2]float64{wantLon, wantLat}, [2]float64{lon[i], lat[i]})
		} else {
			assert.True(t, math.IsNaN(lon[i]) && math.IsNaN(lat[i]))
		}
	}
	assert.Zero(t, testing.AllocsPerRun(10, func() { s.Batch(lon, lat, what, e, n) }))
	assert.Panics(t, func() { s.Batch(lon, lat, what, e, n[:2]) })
}

// There and back through every kind of shift.
func TestWGS84RoundTrip(t *testing.T) {
	list := codes(t)
	rapid.Check(t, func(r *rapid.T) {
		s := look(t, rapid.SampledFrom(list).Draw(r, "code"))
		var usable []string
		for _, x := range s.Shifts() {
			if x.Kind == Null || x.Kind == Helmert {
				usable = append(usable, x.Code)
			}
		}
		if len(usable) > 0 {
			var err error
			s, err = s.With(rapid.SampledFrom(usable).Draw(r, "shift"))
			require.NoError(r, err)
		}
		ownLon, ownLat := somewhere(r, s)
		e, n := s.Plane(ownLon, ownLat)
		lon, lat, err := s.ToWGS84(e, n)
		var bad *PlaceError
		if errors.As(err, &bad) && !bad.Outcome.HasPlace() {
			require.NotEqual(r, NoPlace, bad.Outcome)
			return
		}
		require.Less(r, apart(lon, lat, ownLon, ownLat), 3000.0, "no shift of a datum is that large")
		backE, backN, err := s.FromWGS84(lon, lat)
		require.True(r, err == nil || errors.As(err, &bad) && bad.Outcome == OutsideArea, "%v", err)
		scale := max(1, math.Abs(1/math.Cos(radians(lat)))) / s.Unit.Metres
		require.InDelta(r, e, backE, 2e-6*scale)
		require.InDelta(r, n, backN, 2e-6*scale)
	})
}

// Shifts of the whole area come first, then the better ones; replaced ones last.
func TestOrderOfShifts(t *testing.T) {
	list := look(t, "28992").Shifts()
	assert.True(t, slices.IsSortedFunc(list, func(a, b Shift) int { return yesLast(a.Old, b.Old) }))
	assert.True(t, list[len(list)-1].Old && !list[0].Old)
	area := look(t, "27700").Area
	list = look(t, "27700").Shifts()
	part := false
	for _, s := range list {
		assert.True(t, s.Area.meet(area))
		part = part || !area.within(s.Area) && !s.Old
		if part && !s.Old {
			assert.False(t, area.within(s.Area))
		}
	}
}

func TestInvert(t *testing.T) {
	h := newHelmert(&wgs84, []float64{1, 2, 3, 10, -20, 30, 40, 1e6, 2e6, 3e6})
	v := [3]float64{4e6, -1e6, 5e6}
	got := times(&h.back, times(&h.m, v))
	assert.InDeltaSlice(t, v[:], got[:], 1e-8)
	// the pivot moves by the translations alone
	p := [3]float64{1e6, 2e6, 3e6}
	q := times(&h.m, p)
	for i := range q {
		assert.InDelta(t, p[i]+float64(i+1), q[i]+h.t[i], 1e-8)
	}
}
