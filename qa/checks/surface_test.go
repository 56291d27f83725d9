package checks_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// runShots runs a job of texts: its files by name.
func runShots(t *testing.T, text string, files map[string]string) *qa.Result {
	t.Helper()
	dir := t.TempDir()
	for name, content := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644))
	}
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	run, err := qa.Prepare(j, checks.All, folder(dir), "test")
	require.NoError(t, err)
	res, err := run.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	require.True(t, res.Account.Balances())
	return res
}

// padJob is a level pad of 12 m, or of 40 of another unit, with a tolerance.
func padJob(unit, tolerance string) string {
	level := "12"
	if unit != "m" {
		level = "40"
	}
	return fmt.Sprintf("project: pad\nunits: %s\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, unit: %s}\n"+
		"designs:\n  - {name: pad, plane: {easting: 0 m, northing: 0 m, level: %s %s}}\nchecks:\n  - surface: {name: pad, element: pad, design: pad, tolerance: %s}\n", unit, unit, level, unit, tolerance)
}

// The row names the zone that judged it, in its note and in the source of its
// limits, and the check says what lies in each.
func TestZoneIsNamed(t *testing.T) {
	text := padJob("m", "{lower: -20 mm, upper: 20 mm, source: clause 1, zones: [{name: lip, near: {distance: 300 mm, codes: [LIP]}, lower: -5 mm, upper: 5 mm, source: note 1}, {name: inner, polygon: {corners: [[0 m, 0 m], [9 m, 0 m], [9 m, 9 m]]}, preset: tnz-b02-basecourse-lip}]}")
	points := "Point,Easting,Northing,Level,Code,Run\nL1,1,1,12,LIP,A\nL2,5,1,12,LIP,A\nL3,5,8,12,LIP,B\nL4,9,8,12,LIP,B\na,3,1.3,12.005,FG,\nb,6,5,12.005,FG,\nc,1,9,12.02,FG,\n"
	res := runShots(t, text, map[string]string{"p.csv": points})
	require.Empty(t, res.Problems)
	row := func(id string) *qa.Row {
		for i := range res.Rows {
			if res.Rows[i].Shot.ID == id {
				return &res.Rows[i]
			}
		}
		t.Fatal(id)
		return nil
	}
	assert.Equal(t, "zone lip", row("a").Note)
	assert.Equal(t, "zone lip: note 1", row("a").Limits.Source)
	assert.Equal(t, "zone inner", row("b").Note, "a line of run A and one of run B, and none between them")
	assert.Equal(t, "zone inner: preset tnz-b02-basecourse-lip: New Zealand, TNZ B/02:2005, 5.1(b), note 1 (copy of the text)", row("b").Limits.Source)
	assert.Empty(t, row("c").Note)
	assert.Equal(t, "clause 1", row("c").Limits.Source)
	assert.Equal(t, []string{"Zone lip: within 300 mm of the line through 4 shots in 2 runs. Limits -5 / +5 mm.", "Zone inner: inside an outline of the job. Limits -5 / +5 mm."}, res.Checks[0].Remarks)
	assert.Equal(t, qa.VerdictPass, res.Verdict)

	// shots that only give the line are control where no check judges them
	res = runShots(t, strings.Replace(text, "design: pad,", "design: pad, shots: {codes: [FG]},", 1), map[string]string{"p.csv": points})
	assert.Equal(t, qa.Account{Read: 7, Assessed: 3, Control: 4}, res.Account)
	assert.Equal(t, "it gives the line of the zone lip, and no check judges it", res.Rows[0].Reason)
	assert.Equal(t, qa.VerdictPass, res.Verdict)
	assert.True(t, res.Complete)
}

// A zone that cannot be told leaves nothing to be judged by other limits; a zone
// before it in the list still judges.
func TestZoneThatCannotBeTold(t *testing.T) {
	points := "Point,Easting,Northing,Level,Code\na,3,1.3,12,FG\nb,60,5,12,FG\n"
	for near, want := range map[string]string{
		"codes: [LIP]":                  "no shot with a place has the codes or runs that its line runs through",
		"designOutline: true":           "the design \"pad\" has no outline; give the line by \"corners:\" or \"file:\"",
		"file: l.geojson, name: nobody": "l.geojson has no such line or polygon",
		"file: l.geojson":               "crosses or touches itself",
	} {
		text := padJob("m", "{upper: 20 mm, source: s, zones: [{name: first, polygon: {corners: [[50 m, 0 m], [90 m, 0 m], [90 m, 9 m], [50 m, 9 m]]}, upper: 1 mm, source: s}, {name: lip, near: {distance: 300 mm, "+near+"}, upper: 5 mm, source: s}]}")
		res := runShots(t, text, map[string]string{"p.csv": points, "l.geojson": `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"x"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,1],[1,0],[0,1],[0,0]]]}}]}`})
		require.Len(t, res.Problems, 1, near)
		assert.Contains(t, res.Problems[0].Text, want)
		assert.Equal(t, "zone lip", res.Problems[0].Field)
		assert.Contains(t, res.Rows[0].Reason, "the zone lip of the check cannot be used", near)
		assert.Equal(t, "pass", res.Rows[1].Verdict.String(), near)
		assert.Equal(t, 2, res.ExitCode(), near)
	}
}

// Without limits for elsewhere a shot in no zone is not judged; without a place
// none is where there are zones.
func TestOutsideEveryZone(t *testing.T) {
	text := padJob("m", "{zones: [{name: lip, near: {distance: 300 mm, corners: [[0 m, 0 m], [9 m, 0 m]]}, upper: 5 mm, source: s}]}")
	res := runShots(t, text, map[string]string{"p.csv": "Point,Easting,Northing,Level\na,3,0.3,12.005\nb,3,0.4,12\nc,,,12\n"})
	assert.Equal(t, "pass", res.Rows[0].Verdict.String())
	assert.Equal(t, "it lies in no zone of the tolerance, and there is no limit for elsewhere", res.Rows[1].Reason)
	assert.False(t, res.Rows[1].Compared)
	assert.Contains(t, res.Rows[2].Reason, "it has no place")
}

// Exactly on the edge of the zone and exactly on its limit, in every unit, and one
// last digit beyond either: a zone of so much along a line, with a limit of its
// own. Levels are 40 of the unit; 1/16 inch is 0.0625 in.
func TestZonesOnTheirLimitInEveryUnit(t *testing.T) {
	for u, c := range map[string]struct{ distance, limit, on, level string }{
		"m":    {"300 mm", "5 mm", "0.3", "12.005"},
		"ft":   {"1 ft", "0.02 ft", "1", "40.02"},
		"ftUS": {"1 ftUS", "0.02 ftUS", "1", "40.02"},
		"in":   {"12.0625 in", "0.0625 in", "12.0625", "40.0625"},
	} {
		text := strings.Replace(padJob(u, fmt.Sprintf("{upper: 3 m, source: s, zones: [{name: lip, near: {distance: %s, corners: [[0 m, 0 m], [9 m, 0 m]]}, upper: %s, source: s}]}", c.distance, c.limit)), "units: in", "units: ft", 1)
		points := fmt.Sprintf("Point,Easting,Northing,Level\na,3,%[1]s,%[2]s\nb,3,%[1]s,%[2]s01\nc,3,%[1]s%[3]s,%[2]s01\n", c.on, c.level, map[bool]string{true: "0001", false: ".0001"}[strings.Contains(c.on, ".")])
		res := runShots(t, text, map[string]string{"p.csv": points})
		require.Empty(t, res.Problems)
		var got []string
		for i := range res.Rows {
			got = append(got, strings.TrimSpace(res.Rows[i].Verdict.String()+" "+res.Rows[i].Note))
		}
		assert.Equal(t, []string{"pass zone lip", "fail zone lip", "pass"}, got, u)
	}
}

// On a batter of 1 in 2 a plan error of 20 mm is 10 mm in level: more than a third
// of ±15 mm, less than a third of ±31 mm, exactly a third of ±30 mm. The note
// changes no verdict. Geometry; the third is the check's own.
func TestBatterNote(t *testing.T) {
	for limit, want := range map[string]string{
		"15": "a plan error of 20 mm is 10 mm in level here (slope 1 in 2)", "30": "", "29.9": "a plan error of 20 mm is 10 mm in level here (slope 1 in 2)", "31": "",
	} {
		tol := fmt.Sprintf("{lower: -%s mm, upper: %s mm, source: s}", limit, limit)
		text := strings.Replace(padJob("m", tol), "level: 12 m", "level: 12 m, bearing: 90 deg, grade: 1 in 2", 1)
		for _, at := range []string{"job", "survey"} {
			text := strings.Replace(text, "surveys:", "planUncertainty: 20 mm\nsurveys:", 1)
			if at == "survey" {
				text = strings.Replace(strings.Replace(text, "planUncertainty: 20 mm", "planUncertainty: 1 mm", 1), "kind: points", "planUncertainty: 20 mm, kind: points", 1)
			}
			res := runShots(t, text, map[string]string{"p.csv": "Point,Easting,Northing,Level\na,4,0,14\nb,4,0,14.5\n"})
			assert.Equal(t, want, res.Rows[0].Note, "%s, ±%s mm", at, limit)
			assert.Equal(t, "pass", res.Rows[0].Verdict.String())
			assert.Equal(t, "fail", res.Rows[1].Verdict.String())
		}
	}
	// a level design has none, whatever places are worth
	res := runShots(t, strings.Replace(padJob("m", "{upper: 1 mm, source: s}"), "surveys:", "planUncertainty: 2 m\nsurveys:", 1), map[string]string{"p.csv": "Point,Easting,Northing,Level\na,4,0,12\n"})
	assert.Empty(t, res.Rows[0].Note)
}

// What a shot is judged by does not depend on where the files are cut.
func TestZonesByBatch(t *testing.T) {
	var points strings.Builder
	points.WriteString("Point,Easting,Northing,Level,Code\n")
	for i := range 40 {
		code := "FG"
		if i%8 == 0 {
			code = "LIP"
		}
		fmt.Fprintf(&points, "%d,%d,%d.%d,12.00%d,%s\n", i, i%5, i%3, i%7, i%8, code)
	}
	text := padJob("m", "{upper: 3 mm, source: s, zones: [{name: lip, near: {distance: 300 mm, codes: [LIP]}, upper: 5 mm, source: s}]}")
	want := ""
	for _, size := range []int{1, 7, formats.BatchSize} {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, "p.csv"), []byte(points.String()), 0o644))
		j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
		require.NoError(t, err)
		run, err := qa.Prepare(j, checks.All, cut{folder(dir), size}, "test")
		require.NoError(t, err)
		res, err := run.Each(func([]qa.Row) error { return nil })
		require.NoError(t, err)
		got := ""
		for i := range res.Rows {
			got += finding(&res.Rows[i]) + " " + res.Rows[i].Note + "\n"
		}
		if want == "" {
			want = got
		}
		assert.Contains(t, got, "zone lip")
		assert.Equal(t, want, got, size)
	}
}

// cut hands points over in batches of so many.
type cut struct {
	folder
	size int
}

func (c cut) Decode(name string, opt formats.Options) (*formats.Document, qa.Input, error) {
	if to := opt.Points; to != nil {
		opt.Points = func(at formats.Pos, batch []formats.Point) error {
			for len(batch) > 0 {
				n := min(c.size, len(batch))
				if err := to(at, batch[:n]); err != nil {
					return err
				}
				batch = batch[n:]
			}
			return nil
		}
	}
	return c.folder.Decode(name, opt)
}

// A limit of a thickness is none of a level or of an invert, wherever it stands in a
// check. A tolerance of a pipe is refused where the check starts, because its limits
// may wait for the size of the pipe.
func TestPresetOfAnotherMeasure(t *testing.T) {
	design, err := os.ReadFile(filepath.Join("testdata", "books", "pipe", "design.xml"))
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "d.xml"), design, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "p.csv"), []byte("Point,Easting (m),Northing (m),Level (m)\na,0,0,24.856\n"), 0o644))
	prepare := func(design, check string) (*qa.Run, error) {
		text := "project: drain\nunits: m\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, staffed: invert}\n" +
			"designs:\n  - " + design + "\nchecks:\n  - " + check + "\n"
		j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
		if err != nil {
			return nil, err
		}
		return qa.Prepare(j, checks.All, folder(dir), "test")
	}
	surface := func(preset string) error {
		_, err := prepare("{name: pad, plane: {easting: 0 m, northing: 0 m, level: 12 m}}", "surface: {name: pad, element: pad, design: pad, tolerance: {preset: "+preset+"}}")
		return err
	}
	assert.NoError(t, surface("shw-sub-base"))
	assert.ErrorContains(t, surface("shw-asphalt-thickness"), "is for another measure (thickness")
	assert.ErrorContains(t, surface("shw-asphalt-thickness"), "this check judges level")
	pipe := func(preset string) string {
		r, err := prepare("{name: drain, file: d.xml, network: N, invertsAt: centre}", "pipe: {name: drain, element: drain, design: drain, tolerance: {preset: "+preset+"}}")
		require.NoError(t, err)
		return fmt.Sprint(r.Head.Problems)
	}
	assert.Equal(t, "[]", pipe("carmel-sewer-grade"))
	assert.Contains(t, pipe("shw-asphalt-thickness"), "which is another quantity than the one judged here")
}

// A line may run through shots of a level book, whose places are in a peg list: also
// where the run of levels is not proved, because a line is in plan.
func TestZoneAlongShotsOfABook(t *testing.T) {
	text := "project: pad\nunits: m\ngrid: local site\nheightDatum: site\nbenchMarks: [{name: BM, level: 12 m, source: s, date: d}]\n" +
		"levelling: {closing: 5 mm sqrt(n), source: s}\nsurveys:\n  - {file: lip.csv, kind: levels}\n  - {file: p.csv, kind: points, unit: m}\nplaces: [{file: pegs.csv}]\n" +
		"designs:\n  - {name: pad, plane: {easting: 0 m, northing: 0 m, level: 12 m}}\nchecks:\n  - surface: {name: pad, element: pad, design: pad, shots: {surveys: [p.csv]}, tolerance: {upper: 20 mm, source: s, zones: [{name: lip, near: {distance: 300 mm, runs: [LIP]}, upper: 5 mm, source: s}]}}\n"
	for misclosure, control := range map[string]int{"1.000": 4, "1.500": 2} {
		res := runShots(t, text, map[string]string{
			"lip.csv":  "Point,BS (m),IS (m),FS (m)\nBM,1.000,,\nL1,,1.000,\nL2,,1.000,\nBM,,," + misclosure + "\n",
			"pegs.csv": "Point,Easting (m),Northing (m),Run\nL1,0,0,LIP\nL2,9,0,LIP\n",
			"p.csv":    "Point,Easting,Northing,Level\na,3,0.3,12.006\nb,3,0.31,12.006\n",
		})
		require.Empty(t, res.Problems)
		var got []string
		for i := range res.Rows {
			if r := &res.Rows[i]; r.Check >= 0 {
				got = append(got, r.Shot.ID+" "+r.Verdict.String())
			}
		}
		assert.Equal(t, []string{"a fail", "b pass"}, got)
		assert.Equal(t, control, res.Account.Control, "a level that is not proved is not control")
	}
}
