package qa_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func runDecision(t *testing.T, decision, worth string) *qa.Result {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nsurveys:\n  - {file: p.csv, kind: points" + worth + "}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}" + decision + "}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, files{"p.csv": "Point,Easting (m),Northing (m),Level (m)\na,1,1,10.005\nb,1,1,10.006\nc,1,1,10.010\nd,1,1,10.014\ne,1,1,10.015\n", "d.xml": flat}, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	return res
}

// Decision rules of JCGM 106:2012 on a limit of 10 mm and u = 2 mm, with a guard
// band of 2 u = 4 mm: values of 5, 6, 10, 14 and 15 mm.
func TestDecisionRules(t *testing.T) {
	const worth = ", uncertainty: {point: 2 mm, source: s}"
	for rule, want := range map[string][]string{
		"":                    {"pass ", "pass ", "pass ", "fail cut 14", "fail cut 15"},
		"guarded acceptance":  {"pass ", "pass ", "fail cut 10", "fail cut 14", "fail cut 15"},
		"guarded rejection":   {"pass ", "pass ", "pass ", "pass ", "fail cut 15"},
		"conditional results": {"pass ", "pass ", "pass ", "fail cut 14", "fail cut 15"},
		"uncertainty zone":    {"pass ", "pass ", "not assessed ", "not assessed ", "fail cut 15"},
	} {
		decision := ""
		if rule != "" {
			decision = ", decision: {rule: " + rule + ", factor: 2, source: contract}"
		}
		res := runDecision(t, decision, worth)
		var got []string
		for _, r := range res.Rows {
			got = append(got, r.Verdict.String()+" "+r.Action)
		}
		assert.Equal(t, want, got, rule)
		if rule == "conditional results" {
			assert.Equal(t, "conditional pass: within the guard band of 4 mm", res.Rows[2].Decided)
			assert.Equal(t, "conditional fail: within the guard band of 4 mm", res.Rows[3].Decided)
			assert.Equal(t, "pass", res.Rows[0].Decided)
		}
		if rule == "guarded acceptance" {
			assert.Equal(t, "fail: within the limits, but not by the guard band of 4 mm", res.Rows[2].Reason)
		}
	}
	// a rule that needs an uncertainty which is not known judges nothing
	res := runDecision(t, ", decision: {rule: guarded acceptance, factor: 2, source: contract}", "")
	assert.Zero(t, res.Account.Assessed)
	assert.Contains(t, res.Rows[0].Reason, "the uncertainty of this value is not known")
	// a stated guard band needs none
	res = runDecision(t, ", decision: {rule: guarded acceptance, guard: 4 mm, source: contract}", "")
	assert.Equal(t, 5, res.Account.Assessed)
	assert.Equal(t, 3, res.Checks[0].Counts.Fail)
	_, err := job.Load("job.yaml", []byte("project: P\nunits: m\ngrid: local site\nheightDatum: D\nsurveys:\n  - {file: p.csv, kind: points}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n"+
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {upper: 10 mm, source: t}, decision: {rule: guarded acceptance, source: x}}\n"), checks.Kinds())
	assert.ErrorContains(t, err, "needs a guard band")
}
