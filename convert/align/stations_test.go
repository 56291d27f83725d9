package align_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/align"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

func stations(t *testing.T, equations ...align.Equation) *align.Stations {
	s, flaws := align.NewStations(0, 3000*m, equations, millimetre, unit.M)
	require.Empty(t, flaws)
	return s
}

// Two station equations: at 1000 the stations jump ahead to 1200, at 2000 (2200 by
// then) they go back to 1500. (Mechanics; the equation of TestPublishedArc has a
// source.)
func TestStationsThereAndBack(t *testing.T) {
	s := stations(t, align.Equation{Internal: 1000 * m, Back: align.Stated(1000 * m), Ahead: 1200 * m},
		align.Equation{Internal: 2000 * m, Back: align.Stated(2200 * m), Ahead: 1500 * m})
	shown := func(internal unit.Length) []align.Station {
		out, err := s.Shown(internal)
		require.NoError(t, err)
		return out
	}
	assert.Equal(t, []align.Station{{Value: 0, Region: 0}}, shown(0))
	assert.Equal(t, []align.Station{{Value: 1000 * m, Region: 0}, {Value: 1200 * m, Region: 1}}, shown(1000*m), "back, then ahead")
	assert.Equal(t, []align.Station{{Value: 1700 * m, Region: 1}}, shown(1500*m))
	assert.Equal(t, []align.Station{{Value: 2200 * m, Region: 1}, {Value: 1500 * m, Region: 2}}, shown(2000*m))
	assert.Equal(t, []align.Station{{Value: 2500 * m, Region: 2}}, shown(3000*m))
	_, err := s.Shown(3000*m + 1)
	assert.ErrorIs(t, err, align.ErrAfter)
	_, err = s.Shown(-1)
	assert.ErrorIs(t, err, align.ErrBefore)

	internal := func(value unit.Length, region int) unit.Length {
		l, err := s.Internal(value, region)
		require.NoError(t, err)
		return l
	}
	assert.Equal(t, 999*m, internal(999*m, align.Any))
	assert.Equal(t, 1000*m, internal(1000*m, align.Any))
	assert.Equal(t, 1000*m, internal(1200*m, align.Any))
	assert.Equal(t, 1500*m, internal(1700*m, 1))
	assert.Equal(t, 2200*m, internal(1700*m, 2))
	assert.Equal(t, 3000*m, internal(2500*m, align.Any))

	_, err = s.Internal(1700*m, align.Any)
	var twice *align.Ambiguous
	require.ErrorAs(t, err, &twice)
	assert.Equal(t, []unit.Length{1500 * m, 2200 * m}, twice.Internal)
	assert.Equal(t, []int{1, 2}, twice.Region)
	assert.EqualError(t, err, "station 1700.000 m stands for 2 places, at chainages from the start of 1500.000 m in stretch 1 and 2200.000 m in stretch 2; say which stretch is meant (0 is before the first station equation)")
	for _, x := range []struct {
		value  unit.Length
		region int
		text   string
	}{
		{1100 * m, align.Any, "station 1100.000 m is not on the alignment: it is outside, or a station equation jumps over it"},
		{2600 * m, align.Any, "station 2600.000 m is not on the alignment: it is outside, or a station equation jumps over it"},
		{1100 * m, 1, "station 1100.000 m is not on the alignment in stretch 1, which runs from 1200.000 m to 2200.000 m"},
		{1100 * m, 3, "stretch 3 is not on the alignment, which has 2 station equations; stretches count from 0"},
		{1100 * m, -2, "stretch -2 is not on the alignment, which has 2 station equations; stretches count from 0"},
		{unit.MaxLength, align.Any, "station 2342741.182843479 m is not on the alignment: it is outside, or a station equation jumps over it"},
	} {
		_, err = s.Internal(x.value, x.region)
		assert.ErrorIs(t, err, align.ErrNoStation)
		assert.EqualError(t, err, x.text)
	}
	_, err = stations(t).Internal(3001*m, align.Any)
	assert.EqualError(t, err, "station 3001.000 m is not on the alignment, which runs from 0.000 m to 3000.000 m")

	// stations that fall
	s = stations(t, align.Equation{Internal: 1000 * m, Ahead: 5000 * m, Decreasing: true})
	assert.Equal(t, []align.Station{{Value: 4500 * m, Region: 1}}, shown(1500*m))
	assert.Equal(t, 1500*m, internal(4500*m, align.Any))
}

func TestStationsThereAndBackAtRandom(t *testing.T) {
	ambiguous := 0
	rapid.Check(t, func(t *rapid.T) {
		var equations []align.Equation
		at := unit.Length(0)
		for range rapid.IntRange(0, 4).Draw(t, "equations") {
			at += unit.Length(rapid.Int64Range(1, 700).Draw(t, "distance")) * m
			equations = append(equations, align.Equation{Internal: at, Ahead: unit.Length(rapid.Int64Range(-500, 3000).Draw(t, "ahead")) * m, Decreasing: rapid.Bool().Draw(t, "decreasing")})
		}
		s, flaws := align.NewStations(0, 3000*m, equations, 0, unit.M)
		require.Empty(t, flaws)
		internal := unit.Length(rapid.Int64Range(0, 3000).Draw(t, "internal")) * m
		shown, err := s.Shown(internal)
		require.NoError(t, err)
		for _, x := range shown {
			got, err := s.Internal(x.Value, x.Region)
			require.NoError(t, err)
			require.Equal(t, internal, got)
			got, err = s.Internal(x.Value, align.Any)
			if twice, ok := err.(*align.Ambiguous); ok {
				ambiguous++
				require.Contains(t, twice.Internal, internal)
				for i, at := range twice.Internal {
					others, err := s.Shown(at)
					require.NoError(t, err)
					require.Contains(t, others, align.Station{Value: x.Value, Region: twice.Region[i]})
				}
				continue
			}
			require.NoError(t, err)
			require.Equal(t, internal, got)
		}
	})
	assert.NotZero(t, ambiguous)
}

func TestFlawsOfStations(t *testing.T) {
	for want, equations := range map[string][]align.Equation{
		"station equation 1 has back station 1000.002 m; the stations before it reach 1000.000 m there; correct the file":        {{Internal: 1000 * m, Back: align.Stated(1000*m + 2*millimetre), Ahead: 1200 * m}},
		"station equation 2 has back station 1500.000 m; the stations before it reach 1700.000 m there; correct the file":        {{Internal: 1000 * m, Ahead: 1200 * m}, {Internal: 1500 * m, Back: align.Stated(1500 * m), Ahead: 0}},
		"station equation 2 is at 1000.000 m, not after the one before it, at 1000.000 m; correct the file":                      {{Internal: 1000 * m, Ahead: 1200 * m}, {Internal: 1000 * m, Ahead: 1300 * m}},
		"station equation 1 is at 3000.001 m, outside of the alignment, which runs from 0.000 m to 3000.000 m; correct the file": {{Internal: 3000*m + millimetre}},
		"station equation 1 is more than 1,171 km from 0; check its unit":                                                        {{Internal: 1000 * m, Ahead: unit.MaxLength}},
		"station equation 1 has back station 999.998999999 m; the stations before it reach 1000.000 m there; correct the file":   {{Internal: 1000 * m, Back: align.Stated(1000*m - millimetre - unit.Nanometre), Ahead: 1200 * m}},
		"station equation 1 is at -0.001 m, outside of the alignment, which runs from 0.000 m to 3000.000 m; correct the file":   {{Internal: -millimetre}},
		"station equation 2 has back station 5000.000 m; the stations before it reach 4500.000 m there; correct the file":        {{Internal: 1000 * m, Ahead: 5000 * m, Decreasing: true}, {Internal: 1500 * m, Back: align.Stated(5000 * m)}},
		"station equation 1 has back station 1000.001000001 m; the stations before it reach 1000.000 m there; correct the file":  {{Internal: 1000 * m, Back: align.Stated(1000*m + millimetre + unit.Nanometre), Ahead: 1200 * m}},
	} {
		s, flaws := align.NewStations(0, 3000*m, equations, millimetre, unit.M)
		assert.Nil(t, s)
		assert.EqualError(t, flaws.Err(), want)
	}
	for _, ends := range [][2]unit.Length{{1, 0}, {-unit.MaxLength, 0}, {0, unit.MaxLength}} {
		_, flaws := align.NewStations(ends[0], ends[1], nil, 0, unit.M)
		assert.EqualError(t, flaws.Err(), "the stations have no usable start and end; check their unit")
	}
}

// The plus station of testdata/worked/levelling/st-plus-station-metric.json: NPTEL
// course 105107122, module 4, page 53, grade A, answer printed.
func TestPublishedStation(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", "st-plus-station-metric.json"))
	require.NoError(t, err)
	var x struct {
		Setout struct{ Chainage, FullStation string }
		Want   struct{ Station string }
	}
	require.NoError(t, json.Unmarshal(text, &x))
	chainage, full := inUnit(t, x.Setout.Chainage, unit.M), inUnit(t, x.Setout.FullStation, unit.M)
	assert.Equal(t, x.Want.Station, align.FormatStation(chainage, full, unit.M, 2))
	got, err := align.ParseStation(x.Want.Station, full, unit.M)
	require.NoError(t, err)
	assert.Equal(t, chainage, got)
}

func TestFormatStation(t *testing.T) {
	for _, x := range []struct {
		chainage string
		full     unit.Length
		places   int
		want     string
	}{
		{"153.25", 100 * m, 3, "1+53.250"}, {"153.25", 1000 * m, 3, "0+153.250"}, {"6780", 1000 * m, 0, "6+780"}, {"5", 100 * m, 3, "0+05.000"},
		{"199.9996", 100 * m, 3, "2+00.000"}, {"199.9994", 100 * m, 3, "1+99.999"}, {"-199.9996", 100 * m, 3, "-2+00.000"},
		{"-153.25", 100 * m, 1, "-1+53.3"}, {"-0.0004", 100 * m, 3, "0+00.000"}, {"0", 100 * m, 3, "0+00.000"},
		{"75.2", 20 * m, 1, "3+15.2"}, {"153.25", 100*m + 1, 3, "153.250"}, {"153.25", 0, 3, "153.250"}, {"1234567.5", 100 * m, 1, "12345+67.5"},
	} {
		assert.Equal(t, x.want, align.FormatStation(inUnit(t, x.chainage, unit.M), x.full, unit.M, x.places))
	}
	assert.Equal(t, "53+12.50", align.FormatStation(inUnit(t, "5312.5", unit.FtUS), 100*unit.USSurveyFoot, unit.FtUS, 2))
	assert.Equal(t, "1.000000000", align.FormatStation(m, 0, unit.M, 40))
}

func TestParseStation(t *testing.T) {
	for text, want := range map[string]string{"1+53.25": "153.25", "-1+53.25": "-153.25", "0+05": "5", "12345+67.5": "1234567.5", "153.25": "153.25", "-3": "-3", "+3": "3", "00+01.0": "1"} {
		got, err := align.ParseStation(text, 100*m, unit.M)
		require.NoError(t, err, text)
		assert.Equal(t, inUnit(t, want, unit.M), got, text)
	}
	got, err := align.ParseStation("3+5.2", 20*m, unit.M)
	require.NoError(t, err)
	assert.Equal(t, inUnit(t, "65.2", unit.M), got, "stations of 20 m are not of digits")
	for text, want := range map[string]string{
		"1+5.25":                  `"1+5.25" has 5.25 after the plus, which does not fit full stations of 100.000 m; declare the right length of a full station, or write the plus with 2 digits before the point`,
		"6+780":                   `"6+780" has 780 after the plus, which does not fit full stations of 100.000 m; declare the right length of a full station, or write the plus with 2 digits before the point`,
		"1+100":                   `"1+100" has 100 after the plus, which does not fit full stations of 100.000 m; declare the right length of a full station, or write the plus with 2 digits before the point`,
		"1+05.e1":                 `"1+05.e1" is not a chainage in full and plus stations such as 1+50.000`,
		"1+-5":                    `"1+-5" is not a chainage in full and plus stations such as 1+50.000`,
		"1.5+50":                  `"1.5+50" is not a chainage in full and plus stations such as 1+50.000`,
		"1++50":                   `"1++50" is not a chainage in full and plus stations such as 1+50.000`,
		"1+":                      `"1+" is not a chainage in full and plus stations such as 1+50.000`,
		"-+50":                    `"-+50" is not a chainage in full and plus stations such as 1+50.000`,
		"1+50.x":                  `"1+50.x" is not a chainage in full and plus stations such as 1+50.000`,
		"1+50.0000000001":         `"50.0000000001" has more decimals than can be kept exactly`,
		"99999999999999999999+50": `"99999999999999999999+50": the value is beyond ±2,342 km, the range of a length`,
		"99999999+50":             `"99999999+50": the value is beyond ±2,342 km, the range of a length`,
		"CH 5":                    `"CH 5" is not a number`,
		"1 + 50":                  `"1 + 50" is not a chainage in full and plus stations such as 1+50.000`,
	} {
		_, err := align.ParseStation(text, 100*m, unit.M)
		assert.EqualError(t, err, want)
	}
	_, err = align.ParseStation("1+53.25", 0, unit.M)
	assert.EqualError(t, err, `"1+53.25" is a chainage in full and plus stations, and it is not declared how long a full station is; declare it (100 m, 1000 m, 100 ft)`)
	_, err = align.ParseStation("1+53.25", 1000*m, unit.M)
	assert.ErrorContains(t, err, "does not fit full stations of 1000.000 m", "a wrong declaration shows")
	_, err = align.ParseStation("1+53.25", 100*m, unit.Ft)
	assert.ErrorContains(t, err, "is not a whole number of ft")
	_, err = align.ParseStation("23427+42", 100*m, unit.M)
	assert.ErrorIs(t, err, unit.ErrRange)
}

// What is written is read back, in every unit.
func TestStationReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]unit.Unit{unit.M, unit.Ft, unit.FtUS}).Draw(t, "unit")
		full := u.Size * unit.Length(rapid.SampledFrom([]int64{10, 20, 50, 100, 1000}).Draw(t, "full station"))
		l, err := unit.Decimal{Coef: rapid.Int64Range(-1e9, 1e9).Draw(t, "coef"), Places: 4}.Length(u)
		require.NoError(t, err)
		written := align.FormatStation(l, full, u, 4)
		require.Contains(t, written, "+")
		got, err := align.ParseStation(written, full, u)
		require.NoError(t, err, written)
		require.Equal(t, l, got, written)
	})
}

func FuzzParseStation(f *testing.F) {
	for _, s := range []string{"1+53.25", "-1+05", "153.25", "1++2", "+", "", "1+5e1", "0x1+00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := align.ParseStation(s, 100*m, unit.M)
		if err != nil {
			return
		}
		// what it says is said again with nine decimals, which hold it when it had no more
		again, err := align.ParseStation(align.FormatStation(l, 100*m, unit.M, 9), 100*m, unit.M)
		require.NoError(t, err)
		require.LessOrEqual(t, (again - l).Abs(), unit.Nanometre/2+1, s)
		if sign, rest, ok := strings.Cut(s, "+"); ok && sign != "" {
			require.NotContains(t, rest, "e", s)
		}
	})
}
