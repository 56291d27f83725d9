package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/fixture"
	"sightrail/qa"
)

func sightrail(args ...string) (code int, out, err string) {
	var o, e bytes.Buffer
	code = run(args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

type summary struct {
	Verdict string
	Rows    qa.Account
}

// Every job of testdata: rows balance, and the same input gives the same bytes.
func TestJobsBalanceAndRepeat(t *testing.T) {
	jobs, err := filepath.Glob(filepath.Join(fixture.Root(t), "testdata", "jobs", "*", "job.yaml"))
	require.NoError(t, err)
	require.NotEmpty(t, jobs)
	for _, j := range jobs {
		a, b := filepath.Join(t.TempDir(), "a"), filepath.Join(t.TempDir(), "b")
		sightrail("check", j, "-o", a)
		sightrail("check", j, "-o", b)
		text, err := os.ReadFile(filepath.Join(a, "summary.json"))
		require.NoError(t, err)
		var s summary
		require.NoError(t, json.Unmarshal(text, &s))
		assert.True(t, s.Rows.Balances(), "%+v", s.Rows)
		assert.Positive(t, s.Rows.Read)
		for _, f := range []string{"report.html", "report.xlsx", "results.csv", "results.geojson", "summary.json"} {
			x, err := os.ReadFile(filepath.Join(a, f))
			require.NoError(t, err)
			y, err := os.ReadFile(filepath.Join(b, f))
			require.NoError(t, err)
			assert.True(t, bytes.Equal(x, y), f)
		}
	}
}

// Points sampled from a real surface by testdata/terrain/sample.py, which works
// with exact fractions: every verdict agrees.
func TestRealSurface(t *testing.T) {
	design := fixture.Shared(t, "landxml", "files", "d02_tin_3330pts_161invisible_epsg3007.xml")
	dir := t.TempDir()
	points := filepath.Join(fixture.Root(t), "testdata", "terrain", "d02_points.csv")
	job := "project: T\nunits: m\ngrid: EPSG:3007\nheightDatum: RH 2000\nsurveys:\n  - {file: " + filepath.ToSlash(points) + ", kind: points}\ndesigns:\n  - {name: t, file: " + filepath.ToSlash(design) +
		", surface: Underlag skyfall}\nchecks:\n  - surface: {name: t, element: t, design: t, tolerance: {lower: -20 mm, upper: 10 mm, source: test}}\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "job.yaml"), []byte(job), 0o600))
	code, _, msg := sightrail("check", filepath.Join(dir, "job.yaml"), "-o", filepath.Join(dir, "out"))
	require.Equal(t, 2, code, msg)
	read := func(p string) [][]string {
		f, err := os.Open(p)
		require.NoError(t, err)
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		return rows[1:]
	}
	want, got := read(points), read(filepath.Join(dir, "out", "results.csv"))
	require.Len(t, got, len(want))
	for i := range want {
		verdict := want[i][4]
		if verdict == "outside" {
			verdict = "not assessed"
		}
		assert.Equal(t, verdict, got[i][7], want[i][0])
	}
}

func TestPublishedBooksThroughReduce(t *testing.T) {
	books, err := filepath.Glob(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", "*.csv"))
	require.NoError(t, err)
	require.NotEmpty(t, books)
	for _, b := range books {
		code, out, msg := sightrail("reduce", b, "--json")
		assert.Less(t, code, 2, "%s: %s", b, msg)
		var doc struct{ Rows []map[string]any }
		require.NoError(t, json.Unmarshal([]byte(out), &doc))
		assert.NotEmpty(t, doc.Rows)
	}
}
