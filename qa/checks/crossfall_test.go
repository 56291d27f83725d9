package checks_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func crossfallJob(u, keys string) string {
	return fmt.Sprintf("project: p\nunits: %[1]s\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, unit: %[2]s, uncertainty: {point: 3 mm, shared: 5 mm, source: test}}\n"+
		"checks:\n  - crossfall: {name: v, element: e, left: {codes: [L]}, right: {codes: [R]}, %[3]s}\n", strings.Replace(u, "in", "ft", 1), u, keys)
}

// Exactly on both limits, and one last digit beyond, in every unit: 4 of the unit
// across that should fall 2.5 %, with 0.25 % either way; 1/16 inch over 25 inches.
// Arithmetic.
func TestCrossfallOnItsLimitInEveryUnit(t *testing.T) {
	for _, c := range []struct{ unit, across, grade, limit, onLower, below, onUpper, above string }{
		{"m", "4", "2.5 %", "0.25 %", "9.89", "9.8899", "9.91", "9.9101"},
		{"ft", "4", "2.5 %", "0.25 %", "9.89", "9.8899", "9.91", "9.9101"},
		{"ftUS", "4", "2.5 %", "0.25 %", "9.89", "9.8899", "9.91", "9.9101"},
		{"in", "25", "1 in 50", "0.25 %", "9.4375", "9.4374", "9.5625", "9.5626"},
	} {
		for level, want := range map[string]string{c.onLower: "pass", c.below: "fail", c.onUpper: "pass", c.above: "fail"} {
			for _, far := range []string{"0,%s", "%s,0"} { // whichever way the section lies
				place := fmt.Sprintf(far, c.across)
				shots := fmt.Sprintf("Point,Easting,Northing,Level,Code,Run\na,0,0,10,L,S\nb,%s,%s,R,S\n", place, level)
				res := runShots(t, crossfallJob(c.unit, fmt.Sprintf("pair: run, grade: fall %s to the right, tolerance: {lower: -%s, upper: %s, source: s}", c.grade, c.limit, c.limit)), map[string]string{"p.csv": shots})
				require.Empty(t, res.Problems)
				r := res.Rows[2]
				assert.Equal(t, want, r.Verdict.String(), "%s %s", level, c.unit)
				assert.InDelta(t, 4.2426, r.U, 1e-4)
				assert.Empty(t, r.Note)
			}
		}
	}
}

// Grades that are no whole counts over the distance: limits are cut to the inside, so
// that a third of a count never passes. Arithmetic: 1 in 3 over 0.1 m is 33.333… mm.
func TestCrossfallByProducts(t *testing.T) {
	for level, want := range map[string]string{"10.033333333333": "pass", "10.0333333333334": "fail"} {
		shots := "Point,Easting,Northing,Level,Code,Run\na,0,0,10,L,S\nb,0.1,0," + level + ",R,S\n"
		res := runShots(t, crossfallJob("m", "pair: run, grade: level, tolerance: {upper: 1 in 3, source: s}"), map[string]string{"p.csv": shots})
		assert.Equal(t, want, res.Rows[2].Verdict.String(), level)
	}
}

func TestCrossfallSaysWhichWay(t *testing.T) {
	shots := map[string]string{"p.csv": "Point,Easting,Northing,Level,Code,Run\na,0,0,10,L,S\nb,4,0,10.1,R,S\nc,9,9,10,L,T\n"}
	res := runShots(t, crossfallJob("m", "pair: run, grade: rise 1 in 40 to the left, tolerance: {upper: 1 %, source: s}"), shots)
	r := res.Rows[3]
	assert.Equal(t, "it runs the wrong way", r.Note)
	assert.Equal(t, "to b (p.csv:3:4), 4.000 m across: rises 2.500 % to the right; design falls 2.500 % to the right", r.Reason)
	assert.Equal(t, "crossfall rise 1 in 40 to the left", r.DesignAt)
	assert.Equal(t, "its run has not one shot on either side", res.Rows[4].Reason)
	res = runShots(t, crossfallJob("m", "pair: run, grade: rise 1 in 40 to the right, tolerance: {upper: 1 %, source: s}"), shots)
	assert.Equal(t, "pass", res.Rows[3].Verdict.String())
}

func TestCrossfallKeys(t *testing.T) {
	tol := ", tolerance: {upper: 1 %, source: s}"
	for keys, want := range map[string]string{
		"pair: run" + tol:                                                         "nothing says what the crossfall should be",
		"pair: run, grade: 2.5 %" + tol:                                           "does not say which way the crossfall runs",
		"pair: run, grade: fall -2 % to the left" + tol:                           "leave the sign out",
		"pair: run, grade: fall 2:1 to the left" + tol:                            "does not say which number is vertical",
		"pair: chainage, grade: level" + tol:                                      "pairs by chainage need the distance",
		"pair: run, within: 1 m, grade: level" + tol:                              "a distance is for",
		"pair: run, grade: level, tolerance: {source: s}":                         "neither \"lower:\" nor \"upper:\"",
		"pair: run, grade: level, tolerance: {lower: 1 %, upper: 0 %, source: s}": "exchange them",
	} {
		_, err := job.Load("job.yaml", []byte(crossfallJob("m", keys)), checks.Kinds())
		assert.ErrorContains(t, err, want, keys)
	}
	_, err := job.Load("job.yaml", []byte(strings.Replace(crossfallJob("m", "pair: run, grade: level"+tol), "left: {codes: [L]}", "left: {}", 1)), checks.Kinds())
	assert.ErrorContains(t, err, "it takes every shot")
}
