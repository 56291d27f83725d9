package checks_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
)

// The fall of a pipe with what it is worth: 165 mm over 30 m against 1 in 200, which
// is 150 mm, is 15 mm more; two levels of u 2.5 mm each give u 3.54 mm. A guard band
// of 4 u is 14.14 mm and leaves a pass, one of 4.25 u is 15.03 mm and does not. The
// rules are those of JCGM 106:2012; the figures are made up.
func TestDecisionRuleJudgesGrades(t *testing.T) {
	design, err := os.ReadFile(filepath.Join("testdata", "books", "pipe", "design.xml"))
	require.NoError(t, err)
	grade := func(decision, worth string) *qa.Row {
		text := "project: drain\nunits: m\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, staffed: invert" + worth + "}\n" +
			"designs:\n  - {name: drain, file: d.xml, network: N, invertsAt: centre}\nchecks:\n  - pipe: {name: drain, element: drain, design: drain, tolerance: {lower: -90 mm, upper: 90 mm, source: s}, leastGrade: 1 in 200, gradeSource: s" + decision + "}\n"
		res := runShots(t, text, map[string]string{"d.xml": string(design), "p.csv": "Point,Easting (m),Northing (m),Level (m)\na,0,0,24.856\nb,30,0,24.691\n"})
		require.Empty(t, res.Problems)
		for i := range res.Rows {
			if res.Rows[i].Quantity == qa.QuantityGrade {
				return &res.Rows[i]
			}
		}
		t.Fatal("no grade")
		return nil
	}
	const worth = ", uncertainty: {point: 2.5 mm, source: s}"
	rule := func(name, factor string) string {
		return ", decision: {rule: " + name + ", factor: " + factor + ", source: s}"
	}
	assert.Equal(t, "pass", grade("", worth).Verdict.String())
	r := grade(rule("guarded acceptance", "4"), worth)
	assert.Equal(t, "pass", r.Verdict.String())
	assert.Equal(t, "from a to b", r.Reason)
	r = grade(rule("guarded acceptance", "4.25"), worth)
	assert.Equal(t, "fail", r.Verdict.String())
	assert.Equal(t, "from a to b; fail: within the limits, but not by the guard band of 15 mm", r.Reason)
	assert.Negative(t, int64(r.Beyond))
	r = grade(rule("uncertainty zone", "4.25"), worth)
	assert.Equal(t, "not assessed", r.Verdict.String())
	r = grade(rule("conditional results", "4.25"), worth)
	assert.Equal(t, "pass", r.Verdict.String())
	assert.Contains(t, r.Decided, "conditional pass")
	r = grade(rule("guarded acceptance", "2"), "")
	assert.Equal(t, "not assessed", r.Verdict.String())
	assert.Contains(t, r.Reason, "the uncertainty of this value is not known")
}

// A grade counts in the lot that it is shown in: by place, and by the name of its
// pipe.
func TestGradeCountsInItsLot(t *testing.T) {
	design, err := os.ReadFile(filepath.Join("testdata", "books", "pipe", "design.xml"))
	require.NoError(t, err)
	for lot, rows := range map[string]int{"{name: L, polygon: {corners: [[-1 m, -1 m], [40 m, -1 m], [40 m, 1 m], [-1 m, 1 m]]}}": 4, "{name: L, runs: [P]}": 4} {
		text := "project: drain\nunits: m\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, staffed: invert}\nlots: [" + lot + "]\n" +
			"designs:\n  - {name: drain, file: d.xml, network: N, invertsAt: centre}\nchecks:\n  - pipe: {name: drain, element: drain, design: drain, tolerance: {lower: -90 mm, upper: 90 mm, source: s}, leastGrade: 1 in 100, gradeSource: s}\n"
		res := runShots(t, text, map[string]string{"d.xml": string(design), "p.csv": "Point,Easting (m),Northing (m),Level (m),Run\na,0,0,24.856,P\nb,30,0,24.691,P\n"})
		require.Empty(t, res.Problems)
		assert.Equal(t, rows, res.Lots[0].Counts.Assessed, "two inverts, a backfall and a grade: %s", lot)
		assert.Equal(t, qa.VerdictFail, res.Lots[0].Verdict, "the grade of 1 in 181.8 fails 1 in 100: %s", lot)
	}
}
