package limits

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func TestToleranceText(t *testing.T) {
	for _, c := range []struct{ lower, upper, want string }{
		{"-30 mm", "10 mm", "-30 / +10 mm"},
		{"-0.05 ft", "0.05 ft", "-15.24 / +15.24 mm"},
		{"-0.05 ftUS", "", "not below -15.24 mm"},
		{"", "10 mm", "not above +10 mm"},
		{"", "0 mm", "not above 0 mm"},
		{"-0.020 m", "0 m", "-20 / 0 mm"},
		{"5 mm", "12.5 mm", "+5 / +12.5 mm"},
		{"-1 m", "100 mm", "-1000 / +100 mm"},
		{"", "", "no limit"},
	} {
		assert.Equal(t, c.want, within(t, c.lower, c.upper).String())
	}
}

func TestPrinted(t *testing.T) {
	for _, c := range []struct{ lower, upper, deviation, want, surface, pipe string }{
		{"-30 mm", "25 mm", "12.4 mm", "+12", "cut 12", "lower 12"},
		{"-30 mm", "25 mm", "12.5 mm", "+13", "cut 13", "lower 13"}, // half away from zero
		{"-30 mm", "25 mm", "-12.5 mm", "-13", "fill 13", "raise 13"},
		{"-30 mm", "25 mm", "0 mm", "0", "", ""},
		{"-30 mm", "25 mm", "0.4 mm", "0", "", ""},
		{"-30 mm", "25 mm", "-0.4 mm", "0", "", ""},
		{"-30 mm", "25 mm", "25 mm", "+25", "cut 25", "lower 25"},
		{"-30 mm", "25 mm", "25.3 mm", "+25.3", "cut 25.3", "lower 25.3"},
		{"-30 mm", "25 mm", "25.6 mm", "+26", "cut 26", "lower 26"},
		{"-30 mm", "25 mm", "25.04 mm", "+25.04", "cut 25.04", "lower 25.04"},
		{"-30 mm", "25 mm", "25.0004 mm", "+25.0004", "cut 25.0004", "lower 25.0004"},
		{"-30 mm", "25 mm", "-30.4 mm", "-30.4", "fill 30.4", "raise 30.4"},
		{"-30 mm", "25 mm", "-30.5 mm", "-31", "fill 31", "raise 31"},
		{"-30.4 mm", "25.4 mm", "25.5 mm", "+26", "cut 26", "lower 26"},
		{"-30.4 mm", "25.6 mm", "25.55 mm", "+25.6", "cut 25.6", "lower 25.6"}, // a pass: 26 would be beyond 25.6
		{"-30.6 mm", "25 mm", "-30.57 mm", "-30.6", "fill 30.6", "raise 30.6"},
		{"-15.24 mm", "15.24 mm", "15.24 mm", "+15", "cut 15", "lower 15"},
		{"", "0 mm", "0.3 mm", "+0.3", "cut 0.3", "lower 0.3"},
		{"0 mm", "", "-0.3 mm", "-0.3", "fill 0.3", "raise 0.3"},
		{"0 mm", "0 mm", "0 mm", "0", "", ""},
		{"", "", "25.3 mm", "+25", "cut 25", "lower 25"}, // not assessed: nothing to contradict
	} {
		tol, d := within(t, c.lower, c.upper), length(t, c.deviation)
		assert.Equal(t, c.want, tol.Printed(d), c)
		assert.Equal(t, c.surface, tol.SurfaceAction(d), c)
		assert.Equal(t, c.pipe, tol.PipeAction(d), c)
	}
}

func TestPrintedOneCountBeyond(t *testing.T) {
	tol := within(t, "-30 mm", "25 mm")
	assert.Equal(t, "+25.000000001", tol.Printed(length(t, "25 mm")+1))
	assert.Equal(t, "-30.000000001", tol.Printed(length(t, "-30 mm")-1))
	assert.Equal(t, "+25", tol.Printed(length(t, "25 mm")-1))
	narrow := within(t, "0 mm", "0 mm")
	assert.Equal(t, "+0.000000001", narrow.Printed(1))
	assert.Equal(t, "-0.000000001", narrow.Printed(-1))
}

// Whatever the limits, the printed value judged again gives the verdict that
// stands beside it.
func TestPrintedNeverContradicts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]unit.Unit{unit.MM, unit.M, unit.Ft, unit.FtUS}).Draw(t, "unit")
		limit, _, err := unit.Parse(unit.Decimal{Coef: rapid.Int64Range(-999, 999).Draw(t, "limit"), Places: 2}.String(), u)
		if err != nil {
			t.Fatal(err)
		}
		tol := Tolerance{Lower: limit, HasLower: true}
		if rapid.Bool().Draw(t, "upper") {
			tol = Tolerance{Upper: limit, HasUpper: true}
		}
		near := rapid.SampledFrom([]int64{3, 1e3, 1e6, 1e10, 1e13}).Draw(t, "near")
		d := limit + unit.Length(rapid.Int64Range(-near, near).Draw(t, "off"))
		s := tol.Printed(d)
		printed, exact, err := unit.Parse(s, unit.MM)
		if err != nil {
			t.Fatal(err)
		}
		want, _ := tol.Judge(d)
		got, _ := tol.Judge(printed)
		// Beyond six decimals a printed millimetre is not a whole number of
		// counts; then the text is compared as it stands.
		if exact && got != want {
			t.Fatalf("%s mm printed beside %v; judged again it is %v", s, want, got)
		}
		if !exact && !tol.agrees(strings.TrimPrefix(s, "+"), d) {
			t.Fatalf("%s mm printed beside %v", s, want)
		}
		if (printed - d).Abs() > unit.Millimetre/2 {
			t.Fatalf("%s mm printed for %s", s, d.Fixed(unit.MM, 9))
		}
	})
}

func TestActionsWithoutLimits(t *testing.T) {
	for _, c := range []struct{ diff, surface, pipe string }{
		{"12 mm", "cut 12", "lower 12"},
		{"-12 mm", "fill 12", "raise 12"},
		{"1.25 m", "cut 1250", "lower 1250"},
		{"0.5 mm", "cut 1", "lower 1"},
		{"0.4 mm", "", ""},
		{"0 mm", "", ""},
	} {
		assert.Equal(t, c.surface, SurfaceAction(length(t, c.diff)))
		assert.Equal(t, c.pipe, PipeAction(length(t, c.diff)))
	}
}

func TestPrintedBeyond(t *testing.T) {
	for in, want := range map[string]string{
		"0 mm": "0", "3 mm": "+3", "-3.4 mm": "-3", "0.5 mm": "+1", "0.3 mm": "+0.3", "-0.04 mm": "-0.04", "1.2 m": "+1200",
	} {
		assert.Equal(t, want, PrintedBeyond(length(t, in)), in)
	}
	assert.Equal(t, "+0.000000001", PrintedBeyond(1))
}

func TestPrintedGrade(t *testing.T) {
	for _, c := range []struct{ fall, length, least, want string }{
		{"0.3 m", "30 m", "1 in 100", "1 in 100"},
		{"0.3 m", "29.88 m", "1 in 100", "1 in 99.6"},
		{"0.25 m", "30 m", "1 in 100", "1 in 120"},
		{"0.3 m", "30.01 m", "1 in 100", "1 in 100.03"}, // fails: "1 in 100" would contradict
		{"0.3 m", "30.0001 m", "1 in 100", "1 in 100.0003"},
		{"0.3 m", "10 m", "3 %", "1 in 33.3"},
		{"0.3 m", "10.001 m", "3 %", "1 in 33.34"}, // fails: 33.3 would contradict
		{"0.45 m", "30 m", "1.5 %", "1 in 66.7"},   // exactly the least grade
		{"0.451 m", "30 m", "1.5 %", "1 in 66.5"},
		{"0.4501 m", "30 m", "1.5 %", "1 in 66.65"}, // passes: 66.7 is more than 66.666...
		{"0.4499 m", "30 m", "1.5 %", "1 in 66.7"},
		{"0 m", "30 m", "1 in 100", "level"},
		{"-0.12 m", "30 m", "1 in 100", "-1 in 250"},
	} {
		least, err := unit.ParseGrade(c.least)
		require.NoError(t, err)
		assert.Equal(t, c.want, PrintedGrade(length(t, c.fall), length(t, c.length), least), c)
	}
	least := unit.Grade{Rise: 1 * unit.Metre, Run: 100 * unit.Metre}
	assert.Equal(t, "flatter than 1 in 100", PrintedGrade(length(t, "300 m")-1, length(t, "30 km"), least))
	steep, err := unit.ParseGrade("1.5 %")
	require.NoError(t, err)
	assert.Equal(t, "1 in 66.7 or steeper", PrintedGrade(length(t, "450 m")+1, length(t, "30 km"), steep))
	third, err := unit.ParseGrade("3 %")
	require.NoError(t, err)
	assert.Equal(t, "1 in 33.3", PrintedGrade(length(t, "0.3 m"), length(t, "10 m"), third))
}
