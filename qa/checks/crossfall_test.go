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

// A pair at two chainages along a grade of 8 %: the right shot, 0.5 m further up, is
// 40 mm too high for the cross section of the left one. Built at 3.5 % it would look
// like the 2.5 % that are asked. Arithmetic.
func TestCrossfallOfASkewedPair(t *testing.T) {
	keys := "pair: chainage, within: 0.5 m, grade: fall 2.5 % to the right, tolerance: {lower: -0.25 %, upper: 0.25 %, source: s}"
	section := func(at float64, fall float64) string { // both shots at one chainage
		return fmt.Sprintf("l%[1]v,%[1]v,-2,%.4[2]f,L\nr%[1]v,%[1]v,2,%.4[3]f,R\n", at, 10+0.08*(at-100), 10+0.08*(at-100)-4*fall)
	}
	pair := func(along, fall float64) string {
		return fmt.Sprintf("a,100,-2,10,L\nb,%v,2,%.4f,R\n", 100+along, 10+0.08*along-4*fall)
	}
	for _, c := range []struct{ name, shots, want, why string }{
		{"nothing is known of the grade along", pair(0.5, 0.035), "not assessed", "the two are 0.500 m apart along, and the grade along is not known there"},
		{"the same at one chainage", pair(0, 0.035), "fail", ""},
		{"known by sections beside", section(90, 0.025) + pair(0.5, 0.035) + section(110, 0.025), "not assessed", "the two are 0.500 m apart along, where the grade along makes between +38.1 and +42.1 mm of the rise, and the verdict hangs on it; shoot both at one chainage"},
		{"known by the section before", section(90, 0.035) + pair(0.5, 0.035), "not assessed", "and the verdict hangs on it"},
		{"known by the section behind only, on the left, from which it runs on", pair(0.5, 0.035) + "l110,110,-2,10.8,L\n", "not assessed", "and the verdict hangs on it"},
		{"known only where it does not lie", pair(0.5, 0.035) + "r110,110,2,10.66,R\n", "not assessed", "the grade along is not known there"},
		{"known by a section too far off", pair(0.5, 0.035) + section(150.5, 0.035), "not assessed", "the grade along is not known there"},
		{"so little askew that it cannot matter", section(90, 0.025) + pair(0.05, 0.025) + section(110, 0.025), "pass", "; the two are 0.050 m apart along, where the grade along makes between +4.0 and +4.0 mm of the rise"},
		{"so far off that it cannot matter", section(90, 0.025) + pair(0.05, 0.035) + section(110, 0.025), "fail", "; the two are 0.050 m apart along"},
	} {
		res := runShots(t, crossfallJob("m", keys), map[string]string{"p.csv": "Point,Chainage,Offset,Level,Code\n" + c.shots})
		require.Empty(t, res.Problems)
		found := false
		for i := range res.Rows {
			if r := &res.Rows[i]; r.Derived && r.Shot.ID == "a" {
				found = true
				assert.Equal(t, c.want, r.Verdict.String(), "%s: %s", c.name, r.Reason)
				assert.Contains(t, r.Reason, c.why, c.name)
				assert.Equal(t, c.want != "not assessed", r.Compared, c.name)
			}
		}
		assert.True(t, found, c.name)
		if c.want == "not assessed" {
			assert.NotEqual(t, "pass", string(res.Verdict), c.name)
		}
	}
}

// A skewed pair with places is further apart in plan than it is across: 4 m across and
// 1.5 m along on the level are 4.272 m, over which 2.5 % ask for 106.8 mm in place of
// 100 mm. Whatever lies between decides nothing. Arithmetic.
func TestCrossfallAcrossAndNotInPlan(t *testing.T) {
	keys := "pair: chainage, within: 2 m, grade: fall 2.5 % to the right, tolerance: {lower: -0.25 %, upper: 0.25 %, source: s}"
	for level, want := range map[string]string{"9.9": "pass", "9.896": "pass", "9.884": "not assessed", "9.888": "not assessed", "9.907": "not assessed", "9.87": "fail", "9.93": "fail"} {
		shots := "Point,Easting,Northing,Chainage,Offset,Level,Code\n" +
			"l,-2,90,90,-2,10,L\nr,2,90,90,2,9.9,R\n" +
			"a,-2,100,100,-2,10,L\nb,2,101.5,101.5,2," + level + ",R\nl2,-2,110,110,-2,10,L\nr2,2,110,110,2," + level + ",R\n"
		res := runShots(t, crossfallJob("m", keys), map[string]string{"p.csv": shots})
		for i := range res.Rows {
			if r := &res.Rows[i]; r.Derived && r.Shot.ID == "a" {
				assert.Equal(t, want, r.Verdict.String(), "%s: %s", level, r.Reason)
			}
		}
	}
}

// Codes that put a shot on one side and an offset that puts it on the other: neither
// is believed. Both cells are named.
func TestCrossfallOfContradictingSides(t *testing.T) {
	keys := "pair: chainage, within: 0.5 m, grade: fall 2.5 % to the right, tolerance: {lower: -0.25 %, upper: 0.25 %, source: s}"
	for offsets, why := range map[string]string{
		"2,-2":  "by the job it is on the left (p.csv:2:6) and b (p.csv:3:6) on the right, and its offset of 2.000 m is not to the left of -2.000 m there; correct the sides in the job, the codes or the offsets",
		"2,2":   "its offset of 2.000 m is not to the left of 2.000 m there",
		"0,-4":  "its offset of 0.000 m is not to the left of -4.000 m there",
		"-2,2":  "",
		"2,6":   "",
		"-6,-2": "",
		"0,0":   "", // a file without offsets; its places tell how far
	} {
		left, right, _ := strings.Cut(offsets, ",")
		shots := "Point,Easting,Northing,Chainage,Offset,Level,Code\na,0,0,100," + left + ",10,L\nb,4,0,100," + right + ",9.9,R\n"
		res := runShots(t, crossfallJob("m", keys), map[string]string{"p.csv": shots})
		r := res.Rows[2]
		if why == "" {
			assert.Equal(t, "pass", r.Verdict.String(), "%s: %s", offsets, r.Reason)
			continue
		}
		assert.Equal(t, "not assessed", r.Verdict.String(), offsets)
		assert.Contains(t, r.Reason, why, offsets)
		assert.Equal(t, "incomplete", string(res.Verdict))
	}
}

// A decision rule has the last word, and the grade along must not change that either:
// +7 mm of ±10 mm passes by a guard band of 2 mm at one chainage; 0.02 m along 8 % are
// 1.6 mm, with which it is within the limits, but not by the guard band. Arithmetic.
func TestCrossfallOfASkewedPairByADecisionRule(t *testing.T) {
	for _, c := range []struct{ guard, at, want string }{
		{"2 mm", "100", "pass"}, {"2 mm", "99.98", "not assessed"}, {"0 mm", "99.98", "pass"}, {"2 mm", "99.99", "pass"},
	} {
		keys := "pair: chainage, within: 0.5 m, grade: fall 2.5 % to the right, tolerance: {lower: -0.25 %, upper: 0.25 %, source: s}, decision: {rule: guarded acceptance, guard: " + c.guard + ", source: s}"
		shots := "Point,Chainage,Offset,Level,Code\nl,90,-2,9.2,L\nr,90,2,9.1,R\na,100,-2,10,L\nb," + c.at + ",2,9.907,R\nl2,110,-2,10.8,L\nr2,110,2,10.7,R\n"
		res := runShots(t, crossfallJob("m", keys), map[string]string{"p.csv": shots})
		require.Empty(t, res.Problems)
		for i := range res.Rows {
			if r := &res.Rows[i]; r.Derived && r.Shot.ID == "a" {
				assert.Equal(t, c.want, r.Verdict.String(), "%v: %s", c, r.Reason)
			}
		}
	}
}
