package unit_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func TestParseQuantity(t *testing.T) {
	for in, want := range map[string]unit.Length{
		"10 mm": 10 * unit.Millimetre, "10mm": 10 * unit.Millimetre, " 10  mm ": 10 * unit.Millimetre, "+10 mm": 10 * unit.Millimetre,
		"-0.450 m": -450 * unit.Millimetre, ".5 m": 500 * unit.Millimetre, "12. m": 12 * unit.Metre, "1e3 mm": unit.Metre,
		"1.5 ft": 3 * unit.InternationalFoot / 2, "1.5 ftUS": 3 * unit.USSurveyFoot / 2, "2 cm": 20 * unit.Millimetre,
		"0 mm": 0, "3 in": 3 * unit.Inch, "1 km": 1000 * unit.Metre, "1 mi": 5280 * unit.InternationalFoot, "0.000000001 m": 3937,
	} {
		l, err := unit.ParseQuantity(in)
		assert.NoError(t, err, in)
		assert.Equal(t, want, l, in)
	}
	needs := ` needs a number and a unit, such as "10 mm" or "0.450 m"`
	names := "use m, mm, cm, km, ft, ftUS, in, mi"
	for in, want := range map[string]string{
		"10":                 `"10"` + needs,
		"":                   `""` + needs,
		"mm":                 `"mm"` + needs,
		"ten mm":             `"ten mm"` + needs,
		"10 m2":              `"10 m2"` + needs,
		"10 mn":              `"10 mn": "mn" is not a unit of length; ` + names,
		"10 MM":              `"10 MM": "MM" is not a unit of length; ` + names,
		"10 mm/m":            `"10 mm/m": "mm/m" is not a unit of length; ` + names,
		"10,5 mm":            `"10,5" is not a number`,
		"1,000 mm":           `"1,000" is not a number`,
		"ab1 mm":             `"ab1" is not a number`,
		"1/2 in":             `"1/2" is not a number`,
		"0.0000000001 m":     `"0.0000000001 m" has more decimals than can be kept exactly`,
		"0.123456 ft":        `"0.123456 ft" has more decimals than can be kept exactly`,
		"3000 km":            `3000 km: the value is beyond ±2,342 km, the range of a length`,
		"10 mm 5":            `"10 mm 5"` + needs,
		"123456789012345e9m": `"123456789012345e9" has more than 18 digits before the decimal point`,
	} {
		_, err := unit.ParseQuantity(in)
		assert.EqualError(t, err, want, in)
	}
}

func TestParseGrade(t *testing.T) {
	m := unit.Metre
	for in, want := range map[string]unit.Grade{
		"1 in 100": {Rise: m, Run: 100 * m}, "1  in  100": {Rise: m, Run: 100 * m}, " 1 in 87.5 ": {Rise: m, Run: 87*m + m/2}, "-1 in 100": {Rise: -m, Run: 100 * m},
		"2 in 1": {Rise: 2 * m, Run: m}, "0 in 100": {Rise: 0, Run: 100 * m},
		"1 %": {Rise: m, Run: 100 * m}, "1%": {Rise: m, Run: 100 * m}, "-2.5 %": {Rise: -5 * m / 2, Run: 100 * m}, "0 %": {Rise: 0, Run: 100 * m},
		"10 mm/m": {Rise: 10 * m, Run: 1000 * m}, "-10mm/m": {Rise: -10 * m, Run: 1000 * m},
	} {
		g, err := unit.ParseGrade(in)
		assert.NoError(t, err, in)
		assert.Equal(t, want, g, in)
	}
	for _, in := range []string{"2:1", "1:100", "1 : 100", "1:100 %"} {
		_, err := unit.ParseGrade(in)
		assert.EqualError(t, err, `"`+in+`" does not say which number is vertical; write "1 in N" (vertical in horizontal), "%" or "mm/m"`)
	}
	for _, in := range []string{"", "1", "100", "1 in", "in 100", "1 in 0", "1 in -100", "1 in 100 in 2", "one in 100", "1in100", "%", " %", "mm/m", "1 mm", "1 % %", "5 %/m",
		"1,5 %", "1 in 100 %", "1 in 3000000", "0.0000000001 %", "1 degree"} {
		_, err := unit.ParseGrade(in)
		assert.EqualError(t, err, `"`+in+`" is not a grade; write "1 in 100", "1 %" or "10 mm/m"`)
	}
}

// 1 in 100 = 1 % = 10 mm/m (common practice, no published source).
func TestGradesAreCompared(t *testing.T) {
	grade := func(s string) unit.Grade {
		g, err := unit.ParseGrade(s)
		require.NoError(t, err)
		return g
	}
	for _, s := range []string{"1 %", "10 mm/m", "2 in 200", "1.000 in 100.0"} {
		assert.Equal(t, 0, grade("1 in 100").Compare(grade(s)), s)
	}
	assert.Equal(t, 1, grade("1 in 99.9").Compare(grade("1 %")))
	assert.Equal(t, -1, grade("1 in 3").Compare(grade("33.3333334 %")))
	assert.Equal(t, -1, grade("-1 %").Compare(grade("0 %")))
	assert.Equal(t, 100*unit.Millimetre, grade("1 in 100").Over(10*unit.Metre))
	assert.Equal(t, -100*unit.Millimetre, grade("-1 %").Over(10*unit.Metre))
	assert.Equal(t, "3.333333333", grade("1 in 3").Over(10*unit.Metre).Exact(unit.M, 3), "rounded once, to a count")
	assert.InDelta(t, 0.01, grade("1 %").Ratio(), 1e-15)
	for in, words := range map[string][2]string{
		"1 in 100": {"1 in 100", "1.000 %"}, "-1 %": {"-1 in 100", "-1.000 %"}, "1 in 87.3": {"1 in 87.3", "1.145 %"}, "0 %": {"level", "0.000 %"},
		"5 mm/m": {"1 in 200", "0.500 %"}, "200 %": {"1 in 0.5", "200.000 %"},
	} {
		g := grade(in)
		assert.Equal(t, words[0], g.OneIn())
		assert.Equal(t, words[1], g.Percent())
	}
}

// A fall that is exactly the grade times the length is the grade, and one count
// less is not.
func TestGradeOnItsLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(1, 1000).Draw(t, "N")
		fall := unit.Length(rapid.Int64Range(1, 5000).Draw(t, "fall in tenths of mm")) * unit.Millimetre / 10
		asked := unit.Grade{Rise: unit.Metre, Run: unit.Length(n) * unit.Metre}
		built := unit.Grade{Rise: fall, Run: fall * unit.Length(n)}
		require.Equal(t, 0, built.Compare(asked))
		built.Rise--
		require.Equal(t, -1, built.Compare(asked))
		require.Equal(t, fall, asked.Over(fall*unit.Length(n)))
	})
}

// 1 in 100, 1 % and 10 mm/m are one grade, and 0.57294 degrees (common practice;
// the angle is rounded).
func TestOneGradeInManyWords(t *testing.T) {
	for _, text := range []string{"1 in 100", "1 %", "10 mm/m"} {
		g, err := unit.ParseGrade(text)
		require.NoError(t, err)
		assert.Equal(t, unit.Metre, g.Over(100*unit.Metre), text)
		assert.InDelta(t, 0.57294, math.Atan(g.Ratio())*180/math.Pi, 0.000005, text)
	}
}

// The count of the length unit, by hand: 4.567 × 1,199,997,600,000.
func TestCountOfAReading(t *testing.T) {
	l, err := unit.ParseQuantity("4.567 ft")
	require.NoError(t, err)
	assert.Equal(t, unit.Length(5_480_389_039_200), l)
	assert.Equal(t, unit.Length(1_562_496_875), unit.Inch/64)
}
