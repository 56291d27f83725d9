package report

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/all"
	"sightrail/formats/fixture"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// demo are the files of the demo job, some of them changed.
type demo struct {
	dir     string
	changed map[string]string
}

func (d demo) read(name string) ([]byte, error) {
	if text, ok := d.changed[name]; ok {
		return []byte(text), nil
	}
	return os.ReadFile(filepath.Join(d.dir, name))
}

func (d demo) Exists(name string) error { _, err := d.read(name); return err }

func (d demo) Decode(name string, opt formats.Options) (*formats.Document, qa.Input, error) {
	text, err := d.read(name)
	if err != nil {
		return nil, qa.Input{}, err
	}
	f, err := all.Find(name, text)
	if err != nil {
		return nil, qa.Input{}, err
	}
	doc, err := f.Decode(bytes.NewReader(text), name, opt)
	return doc, qa.Input{File: name, SHA256: fmt.Sprintf("%x", sha256.Sum256(text))}, err
}

func (d demo) Text(name string, _ int64) ([]byte, qa.Input, error) {
	text, err := d.read(name)
	return text, qa.Input{File: name}, err
}

// demoOf runs the demo job; edit changes its files by name.
func demoOf(t testing.TB, kinds []*Kind, edit map[string]func(string) string) (*qa.Result, []string) {
	t.Helper()
	d := demo{filepath.Join(fixture.Root(t), "testdata", "jobs", "demo"), map[string]string{}}
	for name, f := range edit {
		text, err := d.read(name)
		require.NoError(t, err)
		d.changed[name] = f(string(text))
	}
	text, err := d.read("job.yaml")
	require.NoError(t, err)
	j, err := job.Load("job.yaml", text, checks.Kinds())
	require.NoError(t, err)
	run, err := qa.Prepare(j, checks.All, d, "dev")
	require.NoError(t, err)
	bufs, writers := make([]bytes.Buffer, len(kinds)), make([]Writer, len(kinds))
	for i, k := range kinds {
		writers[i], err = k.Start(&bufs[i], &run.Head)
		require.NoError(t, err)
	}
	res, err := run.Each(func(rows []qa.Row) error {
		for _, w := range writers {
			if err := w.Rows(rows); err != nil {
				return err
			}
		}
		return nil
	})
	require.NoError(t, err)
	out := make([]string, len(kinds))
	for i, w := range writers {
		require.NoError(t, w.Close(res))
		out[i] = bufs[i].String()
	}
	return res, out
}

// Every report tells the same of the nonconformances: number, status, concession,
// the old result and the new one.
func TestNonconformancesInEveryReport(t *testing.T) {
	res, out := demoOf(t, []*Kind{HTML, CSV, GeoJSON, Workbook, Summary, Register}, nil)
	page := out[0]
	for _, want := range []string{`<section id="patches"><h2><span>1a</span>Nonconformances</h2>`, "5 of 250 results assessed are out of tolerance, 1 of them under concession; a concession changes no result.",
		"Nonconformances: 5 open, 0 closed (open: NC-001, NC-002, NC-003, NC-004, NC-005).", "Fails again: 1 shot of 2026-03-05 out of tolerance, the worst F056 by +6 mm beyond its limit",
		"round 1, 2026-03-03: fail +35", "round 2, 2026-03-05: fail +16", "Conceded by S. Whitmore, engineer on 2026-03-05", "Disposition: open, for the authority that the contract names",
		"takes the place of F056 of 2026-03-03: fail +35", ">NC-005</text>", "nonconformance, open (1)"} {
		assert.True(t, strings.Contains(page, want), want)
	}

	rows, err := csv.NewReader(strings.NewReader(out[1])).ReadAll()
	require.NoError(t, err)
	at := map[string]int{}
	for i, h := range rows[0] {
		at[h] = i
	}
	old, failed := 0, 0
	for _, r := range rows[1:] {
		switch get := func(h string) string { return r[at[h]] }; {
		case get("use") == "superseded":
			old++
			assert.Equal(t, "superseded", get("verdict"))
			assert.Equal(t, "NC-005", get("ncr_no"))
			assert.Contains(t, get("reason"), "its own result was fail +")
		case get("verdict") == "fail":
			failed++
			assert.NotEmpty(t, get("ncr_no"))
			assert.Equal(t, "open", get("status"))
			assert.Equal(t, get("point") == "B06", get("concession") != "", get("point"))
			assert.Equal(t, get("point") == "F056", get("supersedes") != "", get("point"))
		default:
			assert.Empty(t, get("ncr_no"))
		}
	}
	assert.Equal(t, []int{9, 5}, []int{old, failed})

	var g struct {
		Features []struct {
			Properties map[string]any `json:"properties"`
		} `json:"features"`
	}
	require.NoError(t, json.Unmarshal([]byte(out[2]), &g))
	numbers := map[any]int{}
	for _, f := range g.Features {
		if f.Properties["ncr_no"] != nil {
			numbers[f.Properties["ncr_no"]]++
		}
	}
	assert.Equal(t, map[any]int{"NC-001": 1, "NC-002": 1, "NC-003": 1, "NC-004": 1, "NC-005": 10}, numbers)

	sheets := unzipped(t, out[3])
	for _, want := range []string{"Register", "Rework", "rework: trim to formation and shoot again"} {
		assert.True(t, strings.Contains(sheets, want), want)
	}
	assert.Contains(t, out[4], `"nonconformances": {`+"\n"+`  "open": 5,`)
	assert.Equal(t, out[5], string(res.Register.CSV()))
	assert.Contains(t, strings.Join(Verdict(res), "\n"), "5 of 250 results out of tolerance, 1 of them under concession")
}

func unzipped(t *testing.T, text string) string {
	z, err := zip.NewReader(strings.NewReader(text), int64(len(text)))
	require.NoError(t, err)
	var b strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		x, err := io.ReadAll(r)
		require.NoError(t, err)
		b.Write(x)
	}
	return b.String()
}

// Text of a register and of a concession is inert in every report.
func TestRegisterTextIsInert(t *testing.T) {
	const evil, formula = `<script>alert(1)</script>`, `=HYPERLINK("http://x","y")`
	edit := map[string]func(string) string{
		"register.csv": func(s string) string {
			s = strings.Replace(s, "S. Whitmore", evil, 1)
			s = strings.Replace(s, "grader crew 2", `"=HYPERLINK(""http://x"",""y"")"`, 1)
			return strings.Replace(s, ",gang\n", ",=gang+1\n", 1)
		},
		"job.yaml": func(s string) string { return strings.Replace(s, "S. Whitmore, engineer", `"`+evil+`"`, 1) },
	}
	res, out := demoOf(t, []*Kind{HTML, CSV, GeoJSON, Workbook, Register}, edit)
	assert.False(t, strings.Contains(out[0], "<script"))
	assert.False(t, strings.Contains(out[2], "<script"))
	for _, cell := range strings.Split(unzipped(t, out[3]), "<f>")[1:] {
		assert.True(t, strings.HasPrefix(cell, "SUM("), "only our own sums are formulas: %.40s", cell)
	}
	rows, err := csv.NewReader(strings.NewReader(out[4])).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, "'=gang+1", rows[0][len(rows[0])-1])
	assert.Equal(t, "'"+formula, rows[5][len(rows[5])-1])
	_, again := demoOf(t, []*Kind{Register}, map[string]func(string) string{"register.csv": func(string) string { return out[4] }, "job.yaml": edit["job.yaml"]})
	assert.Equal(t, out[4], again[0], "and comes out the same when it is given back")
	assert.NotNil(t, res)
}

// A job that asks for none of it has no such section, and the register that is
// asked for by name is a heading.
func TestNoNonconformances(t *testing.T) {
	res := sampleResult(t)
	assert.NotContains(t, string(writeOf(t, HTML, res)), `id="patches"`)
	assert.True(t, strings.HasPrefix(string(writeOf(t, Register, res)), "number,status,opened,"))
	assert.False(t, Register.When(res.Job))
}
