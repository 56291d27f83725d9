package checks_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/all"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// folder reads the files of a test book.
type folder string

func (f folder) Exists(name string) error {
	_, err := os.Stat(filepath.Join(string(f), name))
	return err
}

func (f folder) Decode(name string, opt formats.Options) (*formats.Document, qa.Input, error) {
	text, err := os.ReadFile(filepath.Join(string(f), name))
	if err != nil {
		return nil, qa.Input{}, err
	}
	format, err := all.Find(name, text)
	if err != nil {
		return nil, qa.Input{}, err
	}
	d, err := format.Decode(bytes.NewReader(text), name, opt)
	return d, qa.Input{File: name, SHA256: fmt.Sprintf("%x", sha256.Sum256(text))}, err
}

// finding is a result in the words of a test book: "level fail +12", "grade pass
// 1 in 99.8", "level not assessed". Differences are exact, in millimetres.
func finding(r *qa.Row) string {
	if !r.Derived && r.Shot.Use == convert.Control {
		return string(r.Quantity) + " control" // what is worked out rests on it
	}
	words := []string{string(r.Quantity), r.Verdict.String()}
	if _, built := r.GradeWords(); r.Graded() && built != "" {
		words = append(words, built)
	} else if r.Compared && !r.Graded() {
		mm := r.Diff.Exact(unit.MM, 0)
		if r.Diff > 0 {
			mm = "+" + mm
		}
		words = append(words, mm)
	}
	return strings.Join(words, " ")
}

// TestBooks runs the test books of every kind of check: each kind has a folder in
// testdata/books with its name, or several that begin with it and a dash. A book is
// a job.yaml and its files. In a CSV file with a column "want" that column holds
// every finding of its row, with "; " between them; findings shown at no row of
// such a file stand in want.txt, a line each, as "point: finding". What is missing
// and what is too much both fail.
func TestBooks(t *testing.T) {
	root := filepath.Join("testdata", "books")
	entries, err := os.ReadDir(root)
	require.NoError(t, err)
	for _, kind := range checks.All {
		var books []string
		for _, e := range entries {
			if e.Name() == kind.Name || strings.HasPrefix(e.Name(), kind.Name+"-") {
				books = append(books, e.Name())
			}
		}
		assert.NotEmpty(t, books, "the check %q has no test book", kind.Name)
		for _, b := range books {
			t.Run(b, func(t *testing.T) { testBook(t, filepath.Join(root, b)) })
		}
	}
}

func testBook(t *testing.T, dir string) {
	text, err := os.ReadFile(filepath.Join(dir, "job.yaml"))
	require.NoError(t, err)
	j, err := job.Load("job.yaml", text, checks.Kinds())
	require.NoError(t, err)
	run, err := qa.Prepare(j, checks.All, folder(dir), "test")
	require.NoError(t, err)
	res, err := run.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	require.Empty(t, res.Problems)
	require.True(t, res.Account.Balances())
	wanted := wantColumns(t, dir)
	got := map[string][]string{}
	for i := range res.Rows {
		r := &res.Rows[i]
		if r.Check < 0 {
			continue
		}
		key := fmt.Sprintf("%s:%d", r.Shot.Pos.File, r.Shot.Pos.Row)
		if _, there := wanted[key]; there {
			got[key] = append(got[key], finding(r))
		} else {
			got["want.txt"] = append(got["want.txt"], r.Shot.ID+": "+finding(r))
		}
	}
	if b, err := os.ReadFile(filepath.Join(dir, "want.txt")); err == nil {
		wanted["want.txt"] = strings.Split(strings.TrimSpace(strings.ReplaceAll(string(b), "\r\n", "\n")), "\n")
	}
	for key, want := range wanted {
		have := got[key]
		slices.Sort(have)
		slices.Sort(want)
		assert.Equal(t, strings.Join(want, "\n"), strings.Join(have, "\n"), key)
		delete(got, key)
	}
	assert.Empty(t, got, "findings that no want tells")
}

// wantColumns reads the columns "want" by file and line.
func wantColumns(t *testing.T, dir string) map[string][]string {
	out := map[string][]string{}
	names, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	require.NoError(t, err)
	for _, name := range names {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		r := csv.NewReader(bytes.NewReader(b))
		r.FieldsPerRecord = -1
		rows, err := r.ReadAll()
		require.NoError(t, err)
		at := slices.Index(rows[0], "want")
		for i, row := range rows[1:] {
			if at < 0 {
				break
			}
			key := fmt.Sprintf("%s:%d", filepath.Base(name), i+2)
			out[key] = []string{}
			if row[at] != "" {
				out[key] = strings.Split(row[at], "; ")
			}
		}
	}
	return out
}
