package checks_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func coverageJob(unit, keys, corners string) string {
	return fmt.Sprintf("project: p\nunits: %s\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, unit: %s}\nchecks:\n  - coverage: {name: c, element: e, %s, source: s%s}\n",
		strings.Replace(unit, "in", "ft", 1), unit, keys, corners)
}

// Four shots at the corners of a rectangle of 3 : 4, whose half diagonal is 2.5 of
// the same part exactly: the grid is met, and not met by a lot that is one last
// digit longer. Geometry, in every unit; 1/16 inch is 0.0625 in.
func TestCoverageOnItsLimitInEveryUnit(t *testing.T) {
	for _, c := range []struct{ unit, a, b, beyond string }{
		{"m", "3", "4", "4.0001"}, {"ft", "0.03", "0.04", "0.0401"}, {"ftUS", "30", "40", "40.001"}, {"in", "0.1875", "0.25", "0.2501"},
	} {
		for far, want := range map[string]string{c.b: "pass", c.beyond: "fail"} {
			shots := fmt.Sprintf("Point,Easting,Northing,Level\na,0,0,1\nb,%[1]s,0,1\nc,0,%[2]s,1\nd,%[1]s,%[2]s,1\n", c.a, far)
			corners := fmt.Sprintf(", shots: {polygon: {corners: [[0 %[3]s, 0 %[3]s], [%[1]s %[3]s, 0 %[3]s], [%[1]s %[3]s, %[2]s %[3]s], [0 %[3]s, %[2]s %[3]s]]}}", c.a, far, c.unit)
			res := runShots(t, coverageJob(c.unit, fmt.Sprintf("grid: [%s %s, %s %s]", c.a, c.unit, c.b, c.unit), corners), map[string]string{"p.csv": shots})
			require.Empty(t, res.Problems)
			require.Len(t, res.Rows, 5)
			r := res.Rows[4]
			assert.Equal(t, want, r.Verdict.String(), "%s %s", far, c.unit)
			assert.True(t, r.Derived)
			assert.Equal(t, qa.QuantityCoverage, r.Quantity)
			assert.Equal(t, convert.Control, res.Rows[0].Shot.Use)
		}
		// along a run, on the limit and beyond
		for far, want := range map[string]string{c.b: "pass", c.beyond: "fail"} {
			shots := fmt.Sprintf("Point,Run,Easting,Northing,Level\na,R,0,0,1\nb,R,%s,0,1\n", far)
			res := runShots(t, coverageJob(c.unit, "along: "+c.b+" "+c.unit, ""), map[string]string{"p.csv": shots})
			assert.Equal(t, want, res.Rows[2].Verdict.String(), "%s %s", far, c.unit)
			assert.Contains(t, res.Checks[0].Remarks, "Of R only two shots were taken: a sag between them cannot be seen.")
		}
	}
}

// The place of the gap, and who is nearest to it.
func TestCoverageSaysWhere(t *testing.T) {
	area := ", shots: {polygon: {corners: [[0 m, 0 m], [10 m, 0 m], [10 m, 10 m], [0 m, 10 m]]}}"
	res := runShots(t, coverageJob("m", "radius: 6 m", area), map[string]string{"p.csv": "Point,Easting,Northing,Level\nA,0,0,1\nB,10,0,1\nC,0,10,1\n"})
	r := res.Rows[3]
	assert.Equal(t, "fail", r.Verdict.String(), "the corner without a shot is 10 m from two of them")
	assert.Equal(t, "10.000", r.Measured.Fixed(res.Frame.Unit, 3))
	assert.Equal(t, "the area of the check: the largest circle without a shot has its centre at 10.000 E, 10.000 N; nearest to it are B (p.csv:3:4), C (p.csv:4:4), A (p.csv:2:4)", r.Reason)
	assert.Equal(t, "10.000 10.000", res.Frame.Easting(r.Shot.Place, 3)+" "+res.Frame.Northing(r.Shot.Place, 3))
	assert.Equal(t, "4000", r.Beyond.Exact(unit.MM, 0))

	// nothing was shot: nothing is covered, and the run is not complete
	res = runShots(t, coverageJob("m", "radius: 6 m", area), map[string]string{"p.csv": "Point,Easting,Northing,Level\nA,1,1,\n"})
	assert.Contains(t, res.Rows[1].Reason, "is not covered at all")
	assert.Equal(t, qa.VerdictIncomplete, res.Verdict)
}

func TestCoverageKeys(t *testing.T) {
	for keys, want := range map[string]string{
		"allowance: 1 m":                "it asks for no spacing",
		"radius: -1 m":                  "a spacing is more than nothing",
		"grid: [5 m, 0 m]":              "both sides of the grid are more than nothing",
		"grid: [5 m, 5 m], radius: 3 m": "leave one of grid and radius out",
		"along: 5 m, allowance: 0.5 m":  "there is no \"grid:\"",
	} {
		_, err := job.Load("job.yaml", []byte(coverageJob("m", keys, "")), checks.Kinds())
		assert.ErrorContains(t, err, want, keys)
	}
	res := runShots(t, coverageJob("m", "radius: 6 m", ""), map[string]string{"p.csv": "Point,Easting,Northing,Level\nA,1,1,1\n"})
	assert.Contains(t, res.Rows[0].Reason, "a spacing over an area needs the area")
}

// The ends count where they are known: by the chainages of the check, or of lots.
func TestCoverageToTheEnds(t *testing.T) {
	shots := map[string]string{"p.csv": "Point,Run,Chainage,Offset,Level\na,R,0,0,1\nb,R,10,0,1\nc,R,20,0,1\nd,R,30,0,1\n"}
	res := runShots(t, coverageJob("m", "along: 10 m", ", shots: {chainage: {from: 0 m, to: 100 m}}"), shots)
	r := res.Rows[4]
	assert.Equal(t, "fail", r.Verdict.String())
	assert.Equal(t, "the longest stretch of R in the chainages of the check without a shot, from d to its end", r.Reason)
	assert.Equal(t, "70000", r.Diff.Exact(unit.MM, 0))
	res = runShots(t, coverageJob("m", "along: 10 m", "")+"lots:\n  - {name: L1, chainage: {from: 0 m, to: 50 m}}\n  - {name: L2, chainage: {from: 50 m, to: 100 m}}\n", shots)
	require.Len(t, res.Rows, 6)
	assert.Equal(t, "L1 fail", res.Rows[4].Shot.Lot+" "+res.Rows[4].Verdict.String())
	assert.Equal(t, "20000", res.Rows[4].Diff.Exact(unit.MM, 0))
	assert.Equal(t, "L2 not assessed", res.Rows[5].Shot.Lot+" "+res.Rows[5].Verdict.String())
	res = runShots(t, coverageJob("m", "along: 10 m", ""), shots)
	assert.Equal(t, "pass", res.Rows[4].Verdict.String())
	assert.Contains(t, strings.Join(res.Checks[0].Remarks, ""), "what lies beyond their first and last shots is not judged")
}

// A lot that is covered says nothing of the area around it.
func TestCoverageOfLotsAndOfTheArea(t *testing.T) {
	area := ", shots: {polygon: {corners: [[0 m, 0 m], [50 m, 0 m], [50 m, 50 m], [0 m, 50 m]]}}"
	lots := "lots:\n  - {name: L, polygon: {corners: [[0 m, 0 m], [2 m, 0 m], [2 m, 2 m], [0 m, 2 m]]}}\n"
	res := runShots(t, coverageJob("m", "radius: 5 m", area)+lots, map[string]string{"p.csv": "Point,Easting,Northing,Level\na,1,1,1\n"})
	require.Len(t, res.Rows, 3)
	assert.Equal(t, "lot L pass", res.Rows[1].DesignAt+" "+res.Rows[1].Verdict.String())
	assert.Equal(t, "the area of the check fail", res.Rows[2].DesignAt+" "+res.Rows[2].Verdict.String())
}

// What lies in no range, and a run without a shot in one, are no pass.
func TestCoverageLeavesNothingOut(t *testing.T) {
	verdicts := func(lots, shots string) (out []string) {
		res := runShots(t, coverageJob("m", "along: 10 m", "")+"lots:\n"+lots, map[string]string{"p.csv": "Point,Run,Chainage,Offset,Level\n" + shots})
		require.Empty(t, res.Problems)
		for i := range res.Rows {
			if r := &res.Rows[i]; r.Derived {
				out = append(out, r.Verdict.String()+": "+r.Reason)
			}
		}
		assert.Equal(t, qa.VerdictIncomplete, res.Verdict)
		return out
	}
	got := verdicts("  - {name: L1, chainage: {from: 0 m, to: 10 m}}\n", "a,R,0,0,1\nb,R,10,0,1\nc,R,60,0,1\nd,R,100,0,1\n")
	require.Len(t, got, 2)
	assert.Equal(t, "not assessed: 2 shots of R lie in no lot between chainages, and the spacing there is not judged; this is the first", got[1])
	got = verdicts("  - {name: L1, chainage: {from: 0 m, to: 10 m}}\n  - {name: L2, chainage: {from: 10 m, to: 20 m}}\n", "a,K1,0,0,1\nb,K1,9,0,1\nc,K1,15,0,1\nd,K2,0,0,1\ne,K2,9,0,1\n")
	assert.Contains(t, strings.Join(got, "\n"), "not assessed: no shot of K2 lies in lot L2")
	got = verdicts("  - {name: L1, chainage: {from: 0 m, to: 10 m}, runs: [K1, K9]}\n", "a,K1,0,0,1\nb,K1,10,0,1\n")
	assert.Contains(t, strings.Join(got, "\n"), "not assessed: no shot of K9, which lot L1 names, was assessed")
}
