package limits

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

func metres(t *testing.T, text string) unit.Length {
	t.Helper()
	l, exact, err := unit.Parse(text, unit.M)
	require.NoError(t, err)
	require.True(t, exact)
	return l
}

// City of Edmonton, Commercial lot grading, Surface elevations, as-built
// tolerances: two worked examples, both printed as a pass. The third case is
// the second level against the topsoil row of the same table, 0 / -100 mm.
// Neither difference is exact in binary floating point.
func TestEdmontonLotGrading(t *testing.T) {
	topsoil := within(t, "-100 mm", "0 mm")
	landscaping := within(t, "-100 mm", "100 mm")
	for _, c := range []struct {
		tol             Tolerance
		design, asBuilt string
		want            Verdict
		printed, action string
	}{
		{topsoil, "682.25", "682.20", Pass, "-50", "fill 50"},
		{landscaping, "682.25", "682.30", Pass, "+50", "cut 50"},
		{topsoil, "682.25", "682.30", Fail, "+50", "cut 50"},
	} {
		d := metres(t, c.asBuilt) - metres(t, c.design)
		v, _ := c.tol.Judge(d)
		assert.Equal(t, c.want, v, c)
		assert.Equal(t, c.printed, c.tol.Printed(d))
		assert.Equal(t, c.action, c.tol.SurfaceAction(d))
	}
}

// Formation -30 / +20 mm: North Yorkshire Council highway specification, Table
// 07-01, last row. The fifteen differences and their outcome are worked by
// hand; no published source.
func TestFormationOfFifteenPoints(t *testing.T) {
	formation := within(t, "-30 mm", "20 mm")
	differences := []int64{-12, -8, -5, -3, 0, 2, 4, 6, 9, 11, 14, 18, 23, 27, -31}
	beyond := map[int64]unit.Length{23: 3, 27: 7, -31: -1}
	in := 0
	for _, mm := range differences {
		v, past := formation.Judge(unit.Length(mm) * unit.Millimetre)
		if v == Pass {
			in++
		}
		assert.Equal(t, beyond[mm]*unit.Millimetre, past, mm)
		assert.Equal(t, beyond[mm] != 0, v == Fail, mm)
	}
	assert.Equal(t, 15, len(differences))
	assert.Equal(t, 12, in)
}

// Limits of several specifications, one- and two-sided: on the limit passes,
// a tenth of a millimetre beyond fails.
func TestPublishedLimits(t *testing.T) {
	for _, c := range []struct{ lower, upper, text, source string }{
		{"-30 mm", "10 mm", "-30 / +10 mm", "UK Specification for Highway Works, clause 702, Table 7/1, sub-base (quoted in a county specification)"},
		{"-6 mm", "6 mm", "-6 / +6 mm", "UK Specification for Highway Works, clause 702, Table 7/1, surface course (quoted in a county specification)"},
		{"-25 mm", "20 mm", "-25 / +20 mm", "India MoRTH Specifications for Road and Bridge Works, Table 900-1, subgrade"},
		{"-20 mm", "0 mm", "-20 / 0 mm", "Tauranga City Council Infrastructure Development Code, CS-15.1, subgrade"},
		{"-15 mm", "0 mm", "-15 / 0 mm", "VicRoads section 502Q (e), lean mix concrete subbase"},
		{"-0.1 ft", "0.1 ft", "-30.48 / +30.48 mm", "Kentucky Transportation Cabinet, construction tolerances, 204.03.10 (5), subgrade"},
		{"-0.5 in", "0.5 in", "-12.7 / +12.7 mm", "Lawrenceburg (Indiana) city code, section 155.080, subgrade"},
		{"-15 mm", "", "not below -15 mm", "UK Specification for Highway Works, clause 702, reduction in thickness of asphalt layers"},
		{"", "0 mm", "not above 0 mm", "UK reinstatement of openings in highways, S2, drainage features: never proud (upper side only)"},
	} {
		tol := within(t, c.lower, c.upper)
		assert.Equal(t, c.text, tol.String(), c.source)
		tenth := unit.Millimetre / 10
		if tol.HasLower {
			assert.Equal(t, Pass, verdict(tol, tol.Lower), c.source)
			assert.Equal(t, Fail, verdict(tol, tol.Lower-tenth), c.source)
		}
		if tol.HasUpper {
			assert.Equal(t, Pass, verdict(tol, tol.Upper), c.source)
			assert.Equal(t, Fail, verdict(tol, tol.Upper+tenth), c.source)
		}
	}
}

// Least grades on the limit. A fall that is exactly the printed one passes; one
// count of Length less fails.
func TestPublishedLeastGrades(t *testing.T) {
	inch, foot := unit.Inch, unit.InternationalFoot
	for _, c := range []struct {
		fall, length unit.Length
		least        unit.Grade
		source       string
	}{
		{metres(t, "0.3"), metres(t, "24"), unit.Grade{Rise: 1, Run: 80}, "public teaching note on drainage falls: 0.3 m in 24 m is 1 in 80"},
		{metres(t, "0.625"), metres(t, "50"), unit.Grade{Rise: 1, Run: 80}, "the same note: 1 in 80 over 50 m is 0.625 m"},
		{300 * inch / 4, 300 * foot, unit.Grade{Rise: inch / 4, Run: foot}, "Chicago plumbing code, Table 18-29-704.1: 1/4 in per ft"},
		{300 * inch / 8, 300 * foot, unit.Grade{Rise: inch / 8, Run: foot}, "Chicago plumbing code, Table 18-29-704.1: 1/8 in per ft"},
		{metres(t, "0.096"), metres(t, "24"), unit.Grade{Rise: 4, Run: 1000}, "Purcell (Oklahoma) city code, section 12-488: 8 in, 0.4 %"},
		{metres(t, "0.2"), metres(t, "30"), unit.Grade{Rise: 1, Run: 150}, "Approved Document H, Table 6: 1 in 150 (quoted by a guide)"},
	} {
		assert.Equal(t, Pass, LeastGrade(c.fall, c.length, c.least), c.source)
		assert.Equal(t, Fail, LeastGrade(c.fall-1, c.length, c.least), c.source)
	}
	// Davison (Michigan) code, building sewer grade: "2 in per 8 ft (2 %)" is
	// more than 2 %, so it passes 2 % and 2.08 %, and fails 2.09 %.
	for percent, want := range map[string]Verdict{"2 %": Pass, "2.08 %": Pass, "2.09 %": Fail} {
		g, err := unit.ParseGrade(percent)
		require.NoError(t, err)
		assert.Equal(t, want, LeastGrade(2*inch, 8*foot, g), percent)
	}
}

// Comparisons that go wrong in binary floating point: 16.1 − 15.6 against at
// most 0.5, and 3060.45 − 3060.03 against at least 0.42. Both lie exactly on
// the limit. Reported for spreadsheets, excelbanter.com thread 760174.
func TestDifferencesThatDoublesGetWrong(t *testing.T) {
	a, b := 16.1, 15.6
	require.Greater(t, a-b, 0.5, "in doubles the first would fail")
	c, d := 3060.45, 3060.03
	require.Less(t, c-d, 0.42, "in doubles the second would fail")

	most := Tolerance{Upper: metres(t, "0.5"), HasUpper: true}
	assert.Equal(t, Pass, verdict(most, metres(t, "16.1")-metres(t, "15.6")))
	least := Tolerance{Lower: metres(t, "0.42"), HasLower: true}
	assert.Equal(t, Pass, verdict(least, metres(t, "3060.45")-metres(t, "3060.03")))
}

// Simple acceptance: the measured value alone is compared, and equality
// conforms (JCGM 106:2012, 8.2, and ILAC-G8:09/2019, 4.2.1). The two measured
// values are those of JCGM 106:2012, 7.3.3, examples 1 and 2, as if they were
// lengths; both are accepted.
func TestSimpleAcceptance(t *testing.T) {
	for _, c := range []struct {
		measured, limit string
		upper           bool
		source          string
	}{
		{"-5.47", "-5.40", true, "example 1: a Zener diode, at most -5.40 V, measured -5.47 V"},
		{"509.7", "490", false, "example 2: a burst pressure, at least 490 kPa, measured 509.7 kPa"},
	} {
		l := metres(t, c.limit)
		tol := Tolerance{Lower: l, HasLower: !c.upper, Upper: l, HasUpper: c.upper}
		assert.Equal(t, Pass, verdict(tol, metres(t, c.measured)), c.source)
		assert.Equal(t, Pass, verdict(tol, l), "equality conforms: "+c.source)
	}
}
