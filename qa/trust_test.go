package qa_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func runBook(t *testing.T, book string) *qa.Result {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nlevelling: {closing: 20 mm, source: s}\n" +
		"benchMarks:\n  - {name: BM1, level: 10.000 m, source: s, date: 2026-01-01}\n  - {name: BM2, level: 10.000 m, source: s, date: 2026-01-01}\n" +
		"surveys:\n  - {file: b.csv, kind: levels}\nplaces:\n  - {file: pegs.csv}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, shots: {names: [a, b]}, tolerance: {upper: 10 mm, source: t}}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, files{"b.csv": "Point,BS (m),IS (m),FS (m)\n" + book, "d.xml": flat, "pegs.csv": "Point,Easting (m),Northing (m)\na,1,1\nb,2,2\n"}, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	assert.True(t, res.Account.Balances())
	return res
}

// A run in which a backsight or foresight could not be read proves nothing,
// also where it closes by chance; an intermediate sight that could not be read
// costs its own row only.
func TestUnreadReadingsInARun(t *testing.T) {
	for name, x := range map[string]struct {
		book     string
		assessed int
	}{
		"all read":                 {"BM1,1.000,,\na,,1.000,\nCP,1.005,,1.002\nb,,1.001,\nBM2,,,1.001\n", 2},
		"change point unreadable":  {"BM1,1.000,,\na,,1.000,\nCP,1.O05,,1.O02\nb,,1.001,\nBM2,,,1.001\n", 0},
		"intermediate unreadable":  {"BM1,1.000,,\na,,1.OO0,\nCP,1.005,,1.002\nb,,1.001,\nBM2,,,1.001\n", 1},
		"backsight unreadable":     {"BM1,1.000,,\na,,1.000,\nCP,1.O05,,1.002\nb,,1.001,\nBM2,,,1.001\n", 0},
		"last foresight not there": {"BM1,1.000,,\na,,1.000,\nCP,1.005,,1.002\nb,,1.001,\nBM2,,,\n", 0},
	} {
		t.Run(name, func(t *testing.T) {
			res := runBook(t, x.book)
			assert.Equal(t, x.assessed, res.Account.Assessed)
			assert.Equal(t, x.assessed == 2, res.Complete)
		})
	}
}

// A limit in plan alone proves no level.
func TestPlanLimitProvesNoLevel(t *testing.T) {
	head := marks + "checkShots: {plan: 20 mm, source: s}\n"
	res := runJob(t, head, "", "BM1,5,5,10.900,\na,1,1,10,\n", nil)
	assert.Contains(t, strings.Join(res.Proved, "\n"), "levels not proved")
	res = runJob(t, head, "", "BM1,5,5.021,10.500,\na,1,1,10,\n", nil)
	assert.Zero(t, res.Account.Assessed, "outside the limit in plan")
}
