package qa_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func uses(res *qa.Result) (out []string) {
	for i := range res.Rows {
		out = append(out, res.Rows[i].Shot.ID+" "+res.Rows[i].Shot.Use.String())
	}
	return out
}

// What takes the place of what: by distance, exactly at the limit and one count
// beyond; by name; by both; never on one day; the latest of several.
func TestWhatSupersedes(t *testing.T) {
	const both = "rework: {within: 5 m, byName: true, source: s}\n"
	byName := "rework: {byName: true, source: s}\n"
	for name, x := range map[string]struct {
		rule, first, second string
		want                string
	}{
		"at the limit":       {rework, "a,0,0,10.020,\n", "b,0.3,0.4,10,\n", "a superseded, b assessed"},
		"a nanometre beyond": {rework, "a,0,0,10.020,\n", "b,0.300000001,0.4,10,\n", "a assessed, b assessed"},
		"across a cell":      {rework, "a,-0.1,-0.1,10.020,\n", "b,0.1,0.1,10,\n", "a superseded, b assessed"},
		"by name":            {byName, "a,0,0,10.020,\n", "a,50,50,10,\n", "a superseded, a assessed"},
		"another name":       {byName, "a,0,0,10.020,\n", "b,0,0,10,\n", "a assessed, b assessed"},
		"no name":            {byName, ",0,0,10.020,\n", ",0,0,10,\n", " assessed,  assessed"},
		"both hold":          {both, "a,0,0,10.020,\n", "a,3,4,10,\n", "a superseded, a assessed"},
		"too far for both":   {both, "a,0,0,10.020,\n", "a,3,4.000000001,10,\n", "a assessed, a assessed"},
		"a pass as well":     {rework, "a,0,0,10,\n", "b,0,0,10.020,\n", "a superseded, b assessed"},
		"two of one day":     {rework, "a,0,0,10.020,\nb,0,0,10,\n", "c,9,9,10,\n", "a assessed, b assessed, c assessed"},
		"newer not assessed": {rework, "a,0,0,10.020,\n", "b,0,0,x,\n", "a assessed, b not assessed"},
		"two newer ones":     {rework, "a,0,0,10.020,\n", "b,0.2,0,10,\nc,0.1,0,10.012,\n", "a superseded, b assessed, c assessed"},
		"old not assessed":   {rework, "a,0,0,x,\n", "b,0,0,10,\n", "a not assessed, b assessed"},
	} {
		t.Run(name, func(t *testing.T) {
			res, _ := days(t, x.rule, "", map[string]string{"2026-03-04": x.first, "2026-03-05": x.second})
			assert.Equal(t, x.want, strings.Join(uses(res), ", "))
			if name == "two newer ones" {
				assert.Contains(t, res.Rows[0].Reason, "superseded by c of", "the nearest of one day")
			}
		})
	}
}

// Three rounds: the first two are replaced by the last, and each keeps its result.
func TestThreeRounds(t *testing.T) {
	res, _ := days(t, rework, "", map[string]string{"2026-03-04": "a,0,0,10.022,\n", "2026-03-05": "a,0,0,10.014,\n", "2026-03-06": "a,0,0,10.004,\n"})
	assert.Equal(t, []string{"a superseded", "a superseded", "a assessed"}, uses(res))
	require.Len(t, res.Rounds, 2)
	for i, want := range []string{"fail +22", "fail +14"} {
		assert.Equal(t, want, res.Rounds[i].Old.Result)
		assert.Equal(t, i+1, res.Rounds[i].Old.Round)
		assert.Equal(t, "pass +4", res.Rounds[i].New.Result)
	}
	assert.Equal(t, "a of 2026-03-04: fail +22; a of 2026-03-05: fail +14", res.Rows[2].Trace.Supersedes)
	assert.Equal(t, qa.Counts{Assessed: 1, Pass: 1}, res.Checks[0].Counts)
	assert.Equal(t, qa.Account{Read: 3, Assessed: 1, Superseded: 2}, res.Account)
	assert.True(t, res.Complete)
}

const pipeDesign = `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Metric linearUnit="meter" diameterUnit="millimeter"/></Units><PipeNetworks><PipeNetwork name="N" pipeNetType="storm"><Structs>` +
	`<Struct name="A" elevRim="12"><Center>0 0</Center><CircStruct diameter="1000"/><Invert elev="10.000" flowDir="out" refPipe="P"/></Struct>` +
	`<Struct name="B" elevRim="12"><Center>0 60</Center><CircStruct diameter="1000"/><Invert elev="9.400" flowDir="in" refPipe="P"/></Struct></Structs>` +
	`<Pipes><Pipe name="P" refStart="A" refEnd="B"><CircPipe diameter="300" thickness="50"/></Pipe></Pipes></PipeNetwork></PipeNetworks></LandXML>`

func pipeJob(t *testing.T, least string, surveys ...string) *qa.Result {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nnonconformance: {spacing: 10 m, source: s}\nrework: {within: 0.5 m, source: s}\n" +
		"designs:\n  - {name: d, file: d.xml, network: N, invertsAt: centre}\n" +
		"checks:\n  - pipe: {name: c, element: drain, design: d, backfall: 0 mm, " + least + "tolerance: {lower: -20 mm, upper: 20 mm, source: t}}\nsurveys:\n"
	f := files{"d.xml": pipeDesign}
	for i, s := range surveys {
		text += fmt.Sprintf("  - {file: s%d.csv, kind: points, staffed: invert, date: 2026-03-%02d}\n", i, i+4)
		f[fmt.Sprintf("s%d.csv", i)] = "Point,Easting (m),Northing (m),Level (m),Code\n" + s
	}
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, f, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	require.True(t, res.Account.Balances())
	return res
}

// Along a pipe failures that follow each other are one patch; a pass between them
// makes two. A round of rework is what grade and backfall are worked out of: the
// old shots are out of it.
func TestPatchesAndReworkOfAPipe(t *testing.T) {
	first := "a,0,0,10.000,\nb,8,0,9.945,\nc,16,0,9.865,\nd,24,0,9.760,\ne,32,0,9.705,\nf,60,0,9.400,\n"
	res := pipeJob(t, "", first)
	var got []string
	for _, p := range res.Register.Patches {
		got = append(got, fmt.Sprintf("%s %d %s: %s", p.Quantity, p.Points, p.Side(), p.Extent(&res.Frame)))
	}
	assert.Equal(t, []string{"invert 2 high: pipe P from 8.000 to 16.000, 8.0 m long", "invert 1 high: pipe P at 32.000"}, got)
	assert.Equal(t, "lower 25 on average, 25 at the worst shot", entry(t, res, "NC-001").Text(qa.ColAction))
	assert.Equal(t, "2026-03-04: 8.000, 16.000", entry(t, res, "NC-001").Text(qa.ColOutline))

	// b and c relaid; e is shot again and still high; c's new level backs up to b's
	second := "b2,8,0.1,9.920,\nc2,16,0,9.922,\ne2,32,0,9.701,\n"
	res = pipeJob(t, "", first, second)
	e := entry(t, res, "NC-001")
	assert.Equal(t, qa.StatusOpen, e.Text(qa.ColStatus))
	assert.Contains(t, e.Text(qa.ColStanding), "fails again: 1 shot of 2026-03-05 out of tolerance, the worst c2")
	var backfalls []string
	for i := range res.Rows {
		if r := &res.Rows[i]; r.Quantity == qa.QuantityBackfall {
			backfalls = append(backfalls, r.Shot.ID+" "+r.Verdict.String())
		}
	}
	assert.Equal(t, []string{"b2 pass", "c2 fail", "d pass", "e2 pass", "f pass"}, backfalls, "old shots are out of it")

	third := "c3,16,0,9.841,\ne3,32,0,9.681,\n"
	res = pipeJob(t, "", first, second, third)
	assert.Equal(t, qa.StatusClosed, entry(t, res, "NC-001").Text(qa.ColStatus), entry(t, res, "NC-001").Text(qa.ColStanding))
	assert.Equal(t, qa.StatusClosed, entry(t, res, "NC-002").Text(qa.ColStatus))
}

// The grade of a pipe stands alone, and is closed by nothing but a newer grade.
func TestGradeIsAPatchOfItsOwn(t *testing.T) {
	res := pipeJob(t, "leastGrade: 1 in 110, gradeSource: s, ", "a,0,0,9.980,\nf,60,0,9.440,\n")
	e := entry(t, res, "NC-001")
	assert.Equal(t, "grade", e.Text(qa.ColWhat))
	assert.Equal(t, "P as a whole", e.Text(qa.ColExtent))
	assert.Equal(t, "P: 1 in 111.1", e.Text(qa.ColWorst))
	assert.Equal(t, "point P", e.Text(qa.ColLies))
	assert.Equal(t, "2026-03-04: -", e.Text(qa.ColOutline))
	assert.Empty(t, e.Text(qa.ColVolume))
}

// Concessions of a number and of a point: the verdict stays, rows and register say
// who, when and why, and one that is for nothing is a problem.
func TestConcessions(t *testing.T) {
	const give = "concessions:\n  - {number: NC-001, by: A. Patel, date: 2026-03-09, reason: thin topping, clause: EI 7}\n  - {point: c, check: c, by: A. Patel, date: 2026-03-09, reason: drained}\n"
	surveys := map[string]string{"2026-03-04": "a,0,0,10.020,\nb,5,0,10.022,\nc,50,0,10.030,\nd,90,0,10.040,\n"}
	res, register := days(t, give, "", surveys)
	assert.Equal(t, qa.VerdictFail, res.Verdict)
	assert.Equal(t, 1, res.ExitCode(), "the exit code is that of the failures")
	assert.Equal(t, 4, res.Checks[0].Counts.Fail)
	assert.Equal(t, 3, res.Conceded)
	assert.Equal(t, "conceded by A. Patel on 2026-03-09: thin topping (EI 7)", res.Failures[1].Trace.Conceded)
	assert.Equal(t, "conceded by A. Patel on 2026-03-09: drained", res.Failures[2].Trace.Conceded)
	assert.Empty(t, res.Failures[3].Trace.Conceded)
	assert.Equal(t, "conceded by A. Patel on 2026-03-09: thin topping (EI 7)", entry(t, res, "NC-001").Text(qa.ColConcession))
	assert.Equal(t, "c conceded by A. Patel on 2026-03-09: drained", entry(t, res, "NC-002").Text(qa.ColConcession))
	assert.Equal(t, qa.StatusOpen, entry(t, res, "NC-001").Text(qa.ColStatus))
	_, again := days(t, give, register, surveys)
	assert.Equal(t, register, again, "a concession is written once")
	_, without := days(t, "", register, surveys)
	assert.Equal(t, register, without, "and is not lost")

	res, _ = days(t, strings.NewReplacer("NC-001", "NC-009", "point: c", "point: zz").Replace(give), "", surveys)
	require.Len(t, res.Problems, 2)
	assert.Contains(t, res.Problems[0].Text, "the register of this run has no NC-009, so the concession of A. Patel is for nothing")
	assert.Contains(t, res.Problems[1].Text, `no result of "c" at zz is out of tolerance in this run`)
	assert.Equal(t, 2, res.ExitCode(), "a problem is something not done")
}

// A register that cannot be read whole stops the run, and says where.
func TestRegistersThatAreRefused(t *testing.T) {
	_, good := days(t, "", "", map[string]string{"2026-03-04": "a,0,0,10.020,\nb,50,0,10.020,\n"})
	for name, x := range map[string]struct {
		old, new, want string
	}{
		"number twice":      {"NC-002", "NC-001", "register.csv:3:1: number: NC-001 stands in line 2 already"},
		"no number":         {"NC-002", "", "register.csv:3:1: number: the entry has no number"},
		"status":            {"NC-002,open", "NC-002,done", `"done" is no status; write open or closed`},
		"side":              {",high,", ",steep,", `the side is "steep"; it is high or low`},
		"no outline column": {"outline_m", "shape", `the register has no column "outline_m"`},
		"outline day":       {"2026-03-04: 50", "4 March: 50", "is no outline as this program writes it"},
		"outline number":    {"2026-03-04: 50.000 0.000", "2026-03-04: 50.000 x", "is no outline as this program writes it"},
		"one number":        {"2026-03-04: 50.000 0.000", "2026-03-04: 50.000", "has not as many numbers as a corner has"},
		"a quote":           {"NC-002", `NC"002`, "the line is no CSV"},
		"too many fields":   {"NC-002,", "NC-002,,,", "a comma in a text needs quotes around the text"},
		"not UTF-8":         {"pad", "p\xe4d", "the file is not UTF-8"},
	} {
		t.Run(name, func(t *testing.T) {
			require.Contains(t, good, x.old)
			at := strings.LastIndex(good, x.old)
			bad := good[:at] + x.new + good[at+len(x.old):]
			err := registerError(t, bad)
			require.ErrorContains(t, err, x.want)
		})
	}
	require.ErrorContains(t, registerError(t, "\n"), "the file is empty")
	require.ErrorContains(t, registerError(t, strings.Replace(good, ",,in plan", ",05/03/2026,in plan", 1)), `"05/03/2026" is no day`)
	// a spreadsheet's own way of writing CSV is read
	spread := "\xef\xbb\xbf" + strings.ReplaceAll(strings.ReplaceAll(good, ",", ";"), "\n", "\r\n")
	require.NoError(t, registerError(t, spread))
}

func registerError(t *testing.T, register string) error {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nnonconformance: {spacing: 10 m, source: s}\nregister: register.csv\nsurveys:\n  - {file: p.csv, kind: points}\n" +
		"designs:\n  - {name: s, plane: {easting: 0 m, northing: 0 m, level: 10 m}}\nchecks:\n  - surface: {name: c, element: pad, design: s, tolerance: {upper: 10 mm, source: t}}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, files{"p.csv": "Point,Easting (m),Northing (m),Level (m)\na,0,0,10\n", "register.csv": register}, "test")
	if err == nil {
		_, err = r.Each(func([]qa.Row) error { return nil })
		require.NoError(t, err, "it is refused before anything is written")
	}
	return err
}

// Spacing, limits and outline in each unit, exactly at the spacing.
func TestPatchesInEachUnit(t *testing.T) {
	for _, x := range []struct{ unit, spacing, at, beyond string }{
		{"m", "10 m", "10", "10.000000001"},
		{"ft", "10 ft", "10", "10.00001"},
		{"ftUS", "10 ftUS", "10", "10.00000001"},
		{"ft", "0.0625 in", "0.005208333333", "0.00521"}, // 1/16 inch
	} {
		for _, far := range []bool{false, true} {
			at := x.at
			if far {
				at = x.beyond
			}
			text := "project: P\nunits: " + x.unit + "\ngrid: local site\nheightDatum: D\nnonconformance: {spacing: " + x.spacing + ", source: s}\nsurveys:\n  - {file: p.csv, kind: points, unit: " + x.unit + "}\n" +
				"designs:\n  - {name: s, plane: {easting: 0 m, northing: 0 m, level: 0 m}}\nchecks:\n  - surface: {name: c, element: pad, design: s, tolerance: {upper: 10 mm, source: t}}\n"
			j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
			require.NoError(t, err)
			r, err := qa.Prepare(j, checks.All, files{"p.csv": "Point,Easting,Northing,Level\na,0,0,10\nb," + at + ",0,10\n"}, "test")
			require.NoError(t, err)
			res, err := r.Each(func([]qa.Row) error { return nil })
			require.NoError(t, err)
			assert.Len(t, res.Register.Entries, map[bool]int{false: 1, true: 2}[far], "%v %s", x, at)
			assert.Equal(t, "outline_"+x.unit, res.Register.Headings()[len(qa.Columns)-1])
		}
	}
}

// Rows say by their use what became of them, whatever the size of the batches.
func TestSupersededRowsAreNotJudged(t *testing.T) {
	res, _ := days(t, rework, "", map[string]string{"2026-03-04": "a,0,0,10.022,\n", "2026-03-05": "a,0,0,10.004,\n"})
	r := &res.Rows[0]
	assert.Equal(t, convert.Superseded, r.Shot.Use)
	assert.False(t, r.Compared)
	assert.Equal(t, "not assessed", r.Verdict.String())
	assert.Equal(t, "fail", r.Trace.Verdict.String(), "its own result is kept")
	assert.Zero(t, res.FailureCount)
}

// What a rule of the job accepts, lot by lot, is no nonconformance.
func TestAcceptedFailuresHaveNoNumber(t *testing.T) {
	res := runAccept(t, acceptJob(oneInFour+"nonconformance: {spacing: 1 m, source: s}\n", true), shotsOf("0 0 0 12", "0 12 0 13"))
	assert.Equal(t, 3, res.FailureCount)
	require.Len(t, res.Register.Patches, 1)
	assert.Equal(t, "east", res.Register.Patches[0].Lots)
	assert.Equal(t, 2, res.Register.Patches[0].Points)
	assert.Nil(t, res.Failures[0].Trace)
	assert.Equal(t, "NC-001", res.Failures[1].Trace.Number)
	require.NotEmpty(t, res.Notes)
	assert.Equal(t, "1 result is out of tolerance in lots that a rule of the job accepts; they are no nonconformances, and have no number", res.Notes[len(res.Notes)-1].Text)
}

// Shots that a result rests on are replaced as well, and by their like only: a
// newer shot of the ground takes the place of the older one, not of the invert
// below it.
func TestControlIsReworkedByItsLike(t *testing.T) {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nrework: {within: 0.5 m, source: s}\ndesigns:\n  - {name: d, file: d.xml, network: N, invertsAt: centre}\n" +
		"checks:\n  - cover: {name: c, element: drain, design: d, cover: 600 mm, coverSource: t, ground: {codes: [GL]}}\nsurveys:\n" +
		"  - {file: a.csv, kind: points, staffed: invert, staffedByCode: {GL: surface}, date: 2026-03-04}\n  - {file: b.csv, kind: points, staffed: invert, staffedByCode: {GL: surface}, date: 2026-03-05}\n"
	const head = "Point,Easting (m),Northing (m),Level (m),Code\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	run := func(a, b string) *qa.Result {
		r, err := qa.Prepare(j, checks.All, files{"d.xml": pipeDesign, "a.csv": head + a, "b.csv": head + b}, "test")
		require.NoError(t, err)
		res, err := r.Each(func([]qa.Row) error { return nil })
		require.NoError(t, err)
		require.True(t, res.Account.Balances())
		return res
	}
	res := run("t1,30,0,10.000,TOP\ng1,30,0.1,10.500,GL\n", "g2,30,0.1,10.700,GL\n")
	assert.Equal(t, 1, res.Account.Superseded, "%v %v", uses(res), res.Rows[1].Reason)
	assert.Contains(t, strings.Join(uses(res), ", "), "g1 superseded")
	assert.NotContains(t, strings.Join(uses(res), ", "), "t1 superseded")
}
