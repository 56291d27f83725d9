package qa_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// acceptJob is a pad at level 10 with limits of ±10 mm, two lots east and west of
// 5 m, and rules of acceptance.
func acceptJob(acceptance string, lots bool) string {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nsurveys:\n  - {file: p.csv, kind: points}\ndesigns:\n  - {name: s, plane: {easting: 0 m, northing: 0 m, level: 10 m}}\n"
	if lots {
		text += "lots:\n  - {name: west, polygon: {corners: [[0 m, 0 m], [5 m, 0 m], [5 m, 10 m], [0 m, 10 m]]}}\n  - {name: east, polygon: {corners: [[5 m, 0 m], [10 m, 0 m], [10 m, 10 m], [5 m, 10 m]]}}\n"
	}
	return text + "checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\n" + acceptance
}

// shotsOf writes points: millimetres above 10 m, west or east; "x" has no level.
func shotsOf(west, east string) string {
	text := "Point,Easting,Northing,Level\n"
	for i, list := range []string{west, east} {
		for k, v := range strings.Fields(list) {
			level := ""
			if v != "x" {
				var mm int
				fmt.Sscan(v, &mm)
				level = fmt.Sprintf("%.3f", 10+float64(mm)/1000)
			}
			text += fmt.Sprintf("%c%d,%d,1,%s\n", "we"[i], k+1, 2+6*i, level)
		}
	}
	return strings.ReplaceAll(text, "Easting,Northing,Level", "Easting (m),Northing (m),Level (m)")
}

func runAccept(t *testing.T, text, points string) *qa.Result {
	t.Helper()
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, files{"p.csv": points}, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	require.Empty(t, res.Problems)
	return res
}

const oneInFour = "acceptance: {plan: at most, bad: 1, in: 4, source: clause 9}\n"

// What the rules of a job make of lots, of the run and of the exit code. The shape
// of "1 in 10" is that of the India MoRTH Specifications, 902.3; figures are made
// up.
func TestAcceptance(t *testing.T) {
	for name, c := range map[string]struct {
		rule, west, east string
		lots             bool
		want             string // state of each lot and check
		verdict          qa.Verdict
		exit             int
	}{
		"without a rule a failure fails":                       {"", "1 2 3 11", "0 0", true, "", qa.VerdictFail, 1},
		"accepted in spite of a failure":                       {oneInFour, "1 2 3 11", "0 0", true, "west accepted, east accepted", qa.VerdictPass, 0},
		"one lot is rejected":                                  {oneInFour, "1 2 3 11", "0 11 0", true, "west accepted, east rejected", qa.VerdictFail, 1},
		"a lot with a value not assessed is not decided":       {oneInFour, "1 2 3 11 x", "0 0", true, "west not decided, east accepted", qa.VerdictFail, 2},
		"not decided without a failure":                        {oneInFour, "1 2 3 x", "0 0", true, "west not decided, east accepted", qa.VerdictIncomplete, 2},
		"a lot without any result is not accepted":             {oneInFour, "1 2 3 11", "", true, "west accepted", qa.VerdictIncomplete, 2},
		"the whole job where there are no lots":                {oneInFour, "1 2 3 11", "", false, "the job accepted", qa.VerdictPass, 0},
		"the whole job rejected":                               {oneInFour, "1 2 11", "", false, "the job rejected", qa.VerdictFail, 1},
		"rejected without a failing point":                     {"acceptance: {plan: mean and deviation, k: 2, source: s}\n", "9 9 10 0", "", false, "the job rejected", qa.VerdictFail, 1},
		"accepted by mean and deviation with a failing point":  {"acceptance: {plan: mean and deviation, k: 0.5, source: s}\n", "0 0 11 0 0 0", "", false, "the job accepted", qa.VerdictPass, 0},
		"too few values for a published factor":                {"acceptance: {plan: mean and deviation, quality: 2.5 %, source: s}\n", "0 1", "", false, "the job not decided", qa.VerdictIncomplete, 2},
		"a published factor":                                   {"acceptance: {plan: mean and deviation, quality: 2.5 %, source: s}\n", "0 1 -1", "", false, "the job accepted", qa.VerdictPass, 0},
		"percent within, estimated":                            {"acceptance: {plan: percent within, percent: 90 %, source: s}\n", "0 1 -1 2", "", false, "the job accepted", qa.VerdictPass, 0},
		"percent within, too few values":                       {"acceptance: {plan: percent within, percent: 90 %, source: s}\n", "0 1", "", false, "the job not decided", qa.VerdictIncomplete, 2},
		"share within, on its limit":                           {"acceptance: {plan: share within, percent: 75 %, source: s}\n", "0 1 2 11", "", false, "the job accepted", qa.VerdictPass, 0},
		"share within, beyond its limit":                       {"acceptance: {plan: share within, percent: 75.01 %, source: s}\n", "0 1 2 11", "", false, "the job rejected", qa.VerdictFail, 1},
		"every point":                                          {"acceptance: [{checks: [c], plan: every point, source: s}]\n", "0 11", "0", true, "west rejected, east accepted", qa.VerdictFail, 1},
		"by 1 mm at most, on it":                               {"acceptance: {plan: at most, bad: 1, in: 4, mostBeyond: 1 mm, source: s}\n", "0 1 2 11", "", false, "the job accepted", qa.VerdictPass, 0},
		"by 1 mm at most, beyond it":                           {"acceptance: {plan: at most, bad: 1, in: 4, mostBeyond: 1 mm, source: s}\n", "0 1 2 12", "", false, "the job rejected", qa.VerdictFail, 1},
		"consecutive":                                          {"acceptance: {plan: at most, bad: 1, in: 3, consecutive: true, source: s}\n", "11 0 0 11 0 0", "", false, "the job accepted", qa.VerdictPass, 0},
		"consecutive, two in three":                            {"acceptance: {plan: at most, bad: 1, in: 3, consecutive: true, source: s}\n", "11 0 11 0 0 0", "", false, "the job rejected", qa.VerdictFail, 1},
		"consecutive, not assessed":                            {"acceptance: {plan: at most, bad: 1, in: 3, consecutive: true, source: s}\n", "11 0 0 x", "", false, "the job not decided", qa.VerdictFail, 2},
		"a rule for a quantity that is not there changes none": {"acceptance: {plan: share within, percent: 10 %, quantity: thickness, source: s}\n", "0 11", "", false, "", qa.VerdictFail, 1},
		"a rule for the quantity that is there":                {"acceptance: {plan: share within, percent: 50 %, quantity: level, source: s}\n", "0 11", "", false, "the job accepted", qa.VerdictPass, 0},
	} {
		res := runAccept(t, acceptJob(c.rule, c.lots), shotsOf(c.west, c.east))
		var got []string
		for _, x := range res.Checks[0].Acceptance {
			lot := x.Lot
			if lot == "" {
				lot = "the job"
			}
			got = append(got, lot+" "+string(x.State))
		}
		assert.Equal(t, c.want, strings.Join(got, ", "), name)
		assert.Equal(t, c.verdict, res.Verdict, name)
		assert.Equal(t, c.exit, res.ExitCode(), name)
		// verdicts of points stay what they are
		assert.Equal(t, strings.Count(" "+c.west+" "+c.east, " 11")+strings.Count(" "+c.west, " 12"), res.FailureCount, name)
	}
}

// A failing point that lies in no lot is accepted by none.
func TestFailureInNoLot(t *testing.T) {
	points := shotsOf("1 2 3 11", "0 0")
	res := runAccept(t, acceptJob(oneInFour, true), points+"out,30,1,10.011\n")
	assert.Equal(t, qa.VerdictFail, res.Verdict)
	assert.Equal(t, qa.VerdictPass, res.Lots[0].Verdict)
	assert.Equal(t, 1, res.Lots[0].Accepted)
	require.Len(t, res.Failures, 2)
	assert.Equal(t, "west", res.AcceptedBy(&res.Failures[0]).Lot)
	assert.Nil(t, res.AcceptedBy(&res.Failures[1]))
	assert.Nil(t, res.AcceptedBy(&res.Rows[0]), "a pass needs no acceptance")
}

// Figures, rule and source of an acceptance, and its order: by chainage in a run
// whose every shot has one.
func TestAcceptanceWords(t *testing.T) {
	res := runAccept(t, acceptJob("acceptance: {plan: mean and deviation, quality: 2.5 %, source: clause 9}\n", false), shotsOf("3 -3 0", ""))
	x := res.Checks[0].Acceptance[0]
	assert.Equal(t, "accepted: mean 0.00 mm, standard deviation 3.00 mm, k 1.12; limits -10 / +10 mm", x.Words)
	assert.Contains(t, x.Figures, qa.AcceptanceFigure{Name: "k", Value: "1.12"})
	assert.Contains(t, x.Rule, "ANSI/ASQ Z1.9")
	assert.Equal(t, "clause 9", x.Source)

	const consecutive = "acceptance: {plan: at most, bad: 1, in: 3, consecutive: true, source: s}\n"
	head := "Point,Easting (m),Northing (m),Level (m),Run,Chainage (m),Offset (m)\n"
	// in file order two failures stand side by side, by chainage they do not
	res = runAccept(t, acceptJob(consecutive, false), head+"a,1,1,10.011,A,1,0\nb,1,1,10.011,A,9,0\nc,1,1,10,A,3,0\nd,1,1,10,A,5,0\n")
	x = res.Checks[0].Acceptance[0]
	assert.Equal(t, qa.Accepted, x.State)
	assert.Contains(t, x.Words, "in the order of chainage, run by run")
	assert.Equal(t, 1, res.Checks[0].Stats.RunOfFailures)
	res = runAccept(t, acceptJob(consecutive, false), head+"a,1,1,10.011,A,1,0\nb,1,1,10.011,A,9,0\nc,1,1,10,A,,\nd,1,1,10,A,5,0\n")
	x = res.Checks[0].Acceptance[0]
	assert.Equal(t, qa.Rejected, x.State)
	assert.Contains(t, x.Words, "in the order of the files, run by run")
	assert.Equal(t, 2, res.Checks[0].Stats.RunOfFailures)
}

// One of 500 lots fails and one cannot be used: one index, a line each, and nobody
// is stopped.
func TestManyLots(t *testing.T) {
	var text, points strings.Builder
	text.WriteString("project: P\nunits: m\ngrid: local site\nheightDatum: D\nsurveys:\n  - {file: p.csv, kind: points}\ndesigns:\n  - {name: s, plane: {easting: 0 m, northing: 0 m, level: 10 m}}\nlots:\n")
	points.WriteString("Point,Easting (m),Northing (m),Level (m)\n")
	for i := range 500 {
		e, n := i%25*10, i/25*10
		corners := fmt.Sprintf("[%d m, %d m], [%d m, %d m], [%d m, %d m], [%d m, %d m]", e, n, e+10, n, e+10, n+10, e, n+10)
		if i == 77 { // crosses itself
			corners = fmt.Sprintf("[%d m, %d m], [%d m, %d m], [%d m, %d m], [%d m, %d m]", e, n, e+10, n+10, e+10, n, e, n+10)
		}
		fmt.Fprintf(&text, "  - {name: L%d, polygon: {corners: [%s]}}\n", i, corners)
		for k := range 20 {
			level := "10.003"
			if i == 300 && k == 7 {
				level = "10.025"
			}
			fmt.Fprintf(&points, "%d-%d,%d,%d,%s\n", i, k, e+1+k%5, n+1+k%7, level)
		}
	}
	text.WriteString("checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\n")
	j, err := job.Load("job.yaml", []byte(text.String()), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, files{"p.csv": points.String()}, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	require.Len(t, res.Lots, 500)
	verdicts := map[qa.Verdict]int{}
	for i := range res.Lots {
		verdicts[res.Lots[i].Verdict]++
	}
	assert.Equal(t, map[qa.Verdict]int{qa.VerdictPass: 498, qa.VerdictFail: 1, qa.VerdictIncomplete: 1}, verdicts)
	assert.Equal(t, qa.VerdictFail, res.Lots[300].Verdict)
	assert.Equal(t, "c: 300-7 beyond the limit by +15 mm", res.Lots[300].Worst)
	assert.Contains(t, res.Lots[77].Reason, "its outline cannot be used")
	assert.Len(t, res.Problems, 1)
	assert.Equal(t, 10_000, res.Account.Assessed, "the shots of the bad lot are judged, and counted in the job")
}

// Whatever the values and the rule: the verdicts of points are those without a
// rule, what was not assessed keeps the run incomplete, and a run passes only if
// every lot was accepted and no failure lies outside them.
func TestAcceptanceIsNeverMoreLenient(t *testing.T) {
	rules := []string{"{plan: every point, source: s}", "{plan: at most, bad: 1, in: 3, source: s}", "{plan: at most, bad: 1, in: 3, consecutive: true, source: s}", "{plan: share within, percent: 60 %, source: s}",
		"{plan: percent within, percent: 60 %, source: s}", "{plan: mean and deviation, k: 1.5, source: s}", "{plan: mean and deviation, k: 1, spread: 0.2, values: 4, source: s}"}
	rapid.Check(t, func(rt *rapid.T) {
		value := rapid.SampledFrom([]string{"0", "3", "-4", "9", "10", "11", "-12", "x"})
		list := func(name string) string {
			return strings.Join(rapid.SliceOfN(value, 0, 6).Draw(rt, name), " ")
		}
		west, east, rule := list("west"), list("east"), rapid.SampledFrom(rules).Draw(rt, "rule")
		lots := rapid.Bool().Draw(rt, "lots")
		points := shotsOf(west, east)
		strict := runAccept(t, acceptJob("", lots), points)
		res := runAccept(t, acceptJob("acceptance: "+rule+"\n", lots), points)
		require.Len(t, res.Rows, len(strict.Rows))
		for i := range res.Rows {
			require.Equal(t, strict.Rows[i].Verdict, res.Rows[i].Verdict)
		}
		require.Equal(t, strict.Checks[0].Counts, res.Checks[0].Counts)
		if !strict.Complete {
			require.False(t, res.Complete)
			require.Equal(t, 2, res.ExitCode())
		}
		rejected := false
		for _, x := range res.Checks[0].Acceptance {
			rejected = rejected || x.State == qa.Rejected
			require.False(t, x.State != qa.Accepted && res.Verdict == qa.VerdictPass, "%s: %s", rule, x.Words)
		}
		require.False(t, rejected && res.Verdict != qa.VerdictFail)
		if res.Verdict == qa.VerdictPass {
			for i := range res.Failures {
				require.NotNil(t, res.AcceptedBy(&res.Failures[i]))
			}
		}
	})
}
