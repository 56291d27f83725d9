package qa_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func runDesign(t *testing.T, design string, f files) (*qa.Result, error) {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nsurveys:\n  - {file: p.csv, kind: points}\ndesigns:\n  - {name: s, " + design + "}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	if err != nil {
		return nil, err
	}
	all := files{"p.csv": "Point,Easting (m),Northing (m),Level (m)\na,1010,1000,10.210\nb,1000,1010,10.111\nc,1500,1000,10.2\nd,,,10.3\n"}
	for k, v := range f {
		all[k] = v
	}
	r, err := qa.Prepare(j, checks.All, all, "test")
	require.NoError(t, err)
	return r.Each(func([]qa.Row) error { return nil })
}

// A plane of 2 % to the east and 1 % up to the left of it, 10.000 at its place: at
// 10 m east 10.200, at 10 m north 10.100 (by hand); on the limit passes.
func TestDesignPlane(t *testing.T) {
	plane := "plane: {easting: 1000 m, northing: 1000 m, level: 10 m, bearing: 90 deg, grade: 2 %, across: -1 %"
	res, err := runDesign(t, plane+", corners: [[990 m, 990 m], [1100 m, 990 m], [1100 m, 1100 m], [990 m, 1100 m]]}", nil)
	require.NoError(t, err)
	require.Empty(t, res.Problems)
	verdicts := map[string]string{}
	for _, r := range res.Rows {
		verdicts[r.Shot.ID] = r.Verdict.String() + " " + r.Reason
	}
	assert.Equal(t, "pass ", verdicts["a"])
	assert.Equal(t, "fail ", verdicts["b"])
	assert.Equal(t, "not assessed outside the design plane s", verdicts["c"])
	assert.Contains(t, verdicts["d"], "it has no place")
	assert.Equal(t, "10.200", res.Rows[0].Design.Fixed(res.Frame.Unit, 3))
	assert.Equal(t, "plane s", res.Rows[0].DesignAt)
	for text, want := range map[string]string{
		"plane: {easting: 0 m, northing: 0 m, level: 1 m, grade: 1 %}":              "no bearing that they run along",
		"plane: {easting: 0 m, northing: 0 m, level: 1 m, corners: [[0 m, 0 m]]}":   "at least three corners",
		"file: d.xml, surface: S, plane: {easting: 0 m, northing: 0 m, level: 1 m}": "a plane is a design of its own",
		"surface: S":                             `the key "file" is missing`,
		"file: d.xml, surface: S, table: byName": "a level table is a design of its own",
	} {
		_, err := runDesign(t, text, nil)
		assert.ErrorContains(t, err, want, text)
	}
}

// A table of levels by name needs no place of the shots.
func TestDesignLevelsByName(t *testing.T) {
	res, err := runDesign(t, "file: levels.csv, table: byName", files{"levels.csv": "Point,Level (m)\na,10.200\nd,10.295\nb,1\nb,2\n"})
	require.NoError(t, err)
	require.Len(t, res.Problems, 1)
	assert.Contains(t, res.Problems[0].Text, "b has another design level here than at levels.csv:4:2; a name has one")
	verdicts := map[string]string{}
	for _, r := range res.Rows {
		verdicts[r.Shot.ID] = r.Verdict.String() + " " + r.Reason
	}
	assert.Equal(t, map[string]string{"a": "pass ", "d": "pass ", "b": "not assessed the level table s has two levels for b", "c": "not assessed the level table s has no point c"}, verdicts)
	assert.Equal(t, "design level of a, levels.csv:2:2", res.Rows[0].DesignAt)
}
