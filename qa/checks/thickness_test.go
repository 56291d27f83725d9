package checks_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

func thicknessJob(u, keys string) string {
	return fmt.Sprintf("project: p\nunits: %[1]s\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, unit: %[2]s, uncertainty: {point: 3 mm, shared: 5 mm, source: test}}\n"+
		"checks:\n  - thickness: {name: v, element: e, lower: {codes: [LOW]}, %[3]s}\n", strings.Replace(u, "in", "ft", 1), u, keys)
}

// Exactly on both limits, and one last digit beyond, by name, by place and over a
// surface, in every unit. Arithmetic.
func TestThicknessOnItsLimitInEveryUnit(t *testing.T) {
	for _, c := range []struct{ unit, specified, limit, low, onLower, below, onUpper, above string }{
		{"m", "0.15 m", "5 mm", "10", "10.145", "10.1449", "10.155", "10.1551"},
		{"ft", "0.5 ft", "0.02 ft", "40", "40.48", "40.4799", "40.52", "40.5201"},
		{"ftUS", "0.5 ftUS", "0.02 ftUS", "40", "40.48", "40.4799", "40.52", "40.5201"},
		{"in", "6 in", "0.0625 in", "40", "45.9375", "45.9374", "46.0625", "46.0626"},
	} {
		for _, join := range []string{"name", "place, within: 0 m", "surface"} {
			for level, want := range map[string]string{c.onLower: "pass", c.below: "fail", c.onUpper: "pass", c.above: "fail"} {
				shots := fmt.Sprintf("Point,Easting,Northing,Level,Code\na,0,0,%[1]s,LOW\nb,10,0,%[1]s,LOW\nc,0,10,%[1]s,LOW\na,0,0,%[2]s,TOP\n", c.low, level)
				text := thicknessJob(c.unit, fmt.Sprintf("join: %s, specified: %s, tolerance: {lower: -%s, upper: %s, source: s}", join, c.specified, c.limit, c.limit))
				res := runShots(t, text, map[string]string{"p.csv": shots})
				require.Empty(t, res.Problems)
				require.Len(t, res.Rows, 5)
				r := res.Rows[4]
				assert.Equal(t, want, r.Verdict.String(), "%s %s %s: %s", level, c.unit, join, r.Reason)
				assert.True(t, r.HasU)
				assert.InDelta(t, 4.2426, r.U, 1e-4, "3√2 mm: what all points share drops out")
			}
		}
	}
}

// What lies below is named, and what cannot be joined says why.
func TestThicknessSaysWhatLiesBelow(t *testing.T) {
	shots := "Point,Easting,Northing,Level,Code\na,0,0,10,LOW\nb,10,0,10,LOW\nc,0,10,10,LOW\nt,1,1,10.1,TOP\nout,9,9,10.1,TOP\n"
	tol := ", specified: 100 mm, tolerance: {lower: -5 mm, source: s}"
	for join, want := range map[string]string{
		"join: surface":                "triangle a, b, c of the shots below|outside the design surface the shots below",
		"join: place, within: 1500 mm": "a (p.csv:2:4), 1414 mm away|no lower shot lies within 1.500 m of it",
	} {
		res := runShots(t, thicknessJob("m", join+tol), map[string]string{"p.csv": shots})
		require.Len(t, res.Rows, 7)
		w := strings.Split(want, "|")
		assert.Equal(t, w[0], res.Rows[5].Origin(), join)
		assert.Contains(t, res.Rows[6].Reason, w[1], join)
		assert.Equal(t, convert.Control, res.Rows[3].Shot.Use)
	}
	res := runShots(t, thicknessJob("m", "join: name"+tol), map[string]string{"p.csv": shots})
	assert.Equal(t, "no lower shot is named t", res.Rows[5].Reason)
	res = runShots(t, strings.Replace(thicknessJob("m", "join: name"+tol), "[LOW]", "[NONE]", 1), map[string]string{"p.csv": shots})
	assert.Equal(t, "no shot of the check lies below the layer by \"lower:\"", res.Rows[5].Reason)
	res = runShots(t, thicknessJob("m", "specified: 100 mm, tolerance: {lower: -5 mm, source: s}"), map[string]string{"p.csv": "Point,Easting,Northing,Level,Code\na,0,0,10,LOW\nb,0,0,11,LOW\nt,0,0,12,TOP\n"})
	assert.Contains(t, res.Rows[3].Reason, "the shots below make no surface")
}

// Two lower shots that are equally near and differ are no answer; a shot exactly within
// the distance is found on either side of the origin.
func TestThicknessByPlaceIsPlain(t *testing.T) {
	tol := ", specified: 100 mm, tolerance: {lower: -5 mm, source: s}"
	shots := "Point,Easting,Northing,Level,Code\na,0,0,10,LOW\nb,0.4,0,10.02,LOW\nt,0.2,0,10.1,TOP\n"
	res := runShots(t, thicknessJob("m", "join: place, within: 1 m"+tol), map[string]string{"p.csv": shots})
	assert.Equal(t, "two lower shots are equally near, a (p.csv:2:4) and b (p.csv:3:4), with different levels; which of them lies below it is not plain", res.Rows[3].Reason)
	res = runShots(t, thicknessJob("m", "join: place, within: 1 m"+tol), map[string]string{"p.csv": strings.Replace(shots, "10.02", "10", 1)})
	assert.Equal(t, "pass", res.Rows[3].Verdict.String())
	for _, at := range []string{"-0.6", "-1.2", "-300000.6", "300000.6", "0", "0.6"} {
		e, err := strconv.ParseFloat(at, 64)
		require.NoError(t, err)
		text := fmt.Sprintf("Point,Easting,Northing,Level,Code\na,%s,0,10,LOW\nt,%.1f,0,10.1,TOP\n", at, e+0.6)
		res = runShots(t, thicknessJob("m", "join: place, within: 0.6 m"+tol), map[string]string{"p.csv": text})
		assert.Equal(t, "pass", res.Rows[2].Verdict.String(), "%s: %s", at, res.Rows[2].Reason)
	}
}

// What an as-built design below is worth is not known, and so is the thickness.
func TestThicknessOverADesignHasNoWorth(t *testing.T) {
	text := strings.Replace(thicknessJob("m", "specified: 100 mm, tolerance: {lower: -5 mm, source: s}"), "lower: {codes: [LOW]}", "design: low", 1)
	text = strings.Replace(text, "checks:", "designs:\n  - {name: low, file: low.csv, points: {}}\nchecks:", 1)
	res := runShots(t, text, map[string]string{"p.csv": "Point,Easting,Northing,Level,Code\nt,1,1,10.1,TOP\n", "low.csv": "Point,Easting (m),Northing (m),Level (m)\na,0,0,10\nb,9,0,10\nc,0,9,10\n"})
	require.Empty(t, res.Problems)
	assert.Equal(t, "pass", res.Rows[0].Verdict.String())
	assert.False(t, res.Rows[0].HasU)
}

func TestThicknessKeys(t *testing.T) {
	tol := "tolerance: {lower: -5 mm, source: s}"
	for keys, want := range map[string]string{
		"specified: 0 mm, " + tol:                                 "a layer is thicker than nothing",
		"specified: 10 mm, join: place, " + tol:                   "within 200 mm",
		"specified: 10 mm, within: 1 m, " + tol:                   "a distance is for \"join: place\"",
		"specified: 10 mm, join: name, direction: normal, " + tol: "needs that surface",
	} {
		want = strings.Replace(want, "within 200 mm", "within: 200 mm", 1)
		_, err := job.Load("job.yaml", []byte(thicknessJob("m", keys)), checks.Kinds())
		assert.ErrorContains(t, err, want, keys)
	}
	text := strings.Replace(thicknessJob("m", "specified: 10 mm, "+tol), "lower: {codes: [LOW]}, ", "", 1)
	_, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	assert.ErrorContains(t, err, "nothing says what lies below the layer")

	// a preset must be one of thickness
	shots := map[string]string{"p.csv": "Point,Easting,Northing,Level,Code\na,0,0,10,LOW\na,0,0,10.1,TOP\n"}
	res := runShots(t, thicknessJob("m", "join: name, specified: 100 mm, tolerance: {preset: "+thicknessPreset(t)+"}"), shots)
	assert.Equal(t, "pass", res.Rows[2].Verdict.String(), res.Rows[2].Reason)
	j, err := job.Load("job.yaml", []byte(thicknessJob("m", "specified: 100 mm, tolerance: {preset: tnz-b02-basecourse-lip}")), checks.Kinds())
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "p.csv"), []byte(shots["p.csv"]), 0o644))
	_, err = qa.Prepare(j, checks.All, folder(dir), "test")
	assert.ErrorContains(t, err, "this check takes presets of thickness")
}

// thicknessPreset is a preset of thickness in the list.
func thicknessPreset(t *testing.T) string {
	for _, p := range limits.Presets() {
		if p.Kind == "thickness" {
			return p.Name
		}
	}
	t.Fatal("there is no preset of thickness")
	return ""
}

// Square to a batter of 3 in 4, where vertical thickness is five quarters of it: exactly
// on both limits and one last digit beyond, in every unit. Geometry.
func TestNormalThicknessOnItsLimitInEveryUnit(t *testing.T) {
	for _, c := range []struct{ unit, specified, limit, onLower, below, onUpper, above string }{
		{"m", "0.08 m", "0.008 m", "1.59", "1.5899", "1.61", "1.6101"},
		{"ft", "0.8 ft", "0.08 ft", "2.4", "2.3999", "2.6", "2.6001"},
		{"ftUS", "0.8 ftUS", "0.08 ftUS", "2.4", "2.3999", "2.6", "2.6001"},
		{"in", "0.8 in", "0.0625 in", "2.421875", "2.421874", "2.578125", "2.578126"},
	} {
		for level, want := range map[string]string{c.onLower: "pass", c.below: "fail", c.onUpper: "pass", c.above: "fail"} {
			shots := "Point,Easting,Northing,Level,Code\na,0,0,0,LOW\nb,4,0,3,LOW\nc,4,4,3,LOW\nd,0,4,0,LOW\nt,2,1," + level + ",TOP\n"
			text := thicknessJob(c.unit, fmt.Sprintf("direction: normal, specified: %s, tolerance: {lower: -%s, upper: %s, source: s}", c.specified, c.limit, c.limit))
			res := runShots(t, text, map[string]string{"p.csv": shots})
			require.Empty(t, res.Problems)
			assert.Equal(t, want, res.Rows[5].Verdict.String(), "%s %s: %s", level, c.unit, res.Rows[5].Reason)
		}
	}
}
