package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const bookJob = `project: P
units: m
grid: local site
heightDatum: D
benchMarks:
  - {name: BM1, level: 10.000 m, source: control sheet, date: 2026-01-20}
  - {name: BM2, level: 10.300 m, source: control sheet, date: 2026-01-20}
levelling: {closing: 6 mm, source: note 2, staff: 5 m}
surveys:
  - file: levels.csv
    kind: levels
    staffed: surface
places:
  - file: pegs.csv
designs:
  - name: s
    file: design.xml
    surface: S
checks:
  - surface:
      name: c
      element: e
      design: s
      tolerance: {lower: -500 mm, upper: 500 mm, source: note 1}
`

const goodBook = `Point,BS (m),IS (m),FS (m)
BM1,1.500,,
A,,1.400,
CP,1.600,,1.300
B,,1.700,
BM2,,,1.500
`

func checkBook(t *testing.T, job, book string) (code int, out, msg string, rows string) {
	dir := t.TempDir()
	for file, text := range map[string]string{"job.yaml": job, "levels.csv": book, "design.xml": messyDesign, "pegs.csv": "Point,Easting (m),Northing (m)\nA,10,10\nB,20,10\n"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(text), 0o600))
	}
	code, out, msg = sightrail("check", filepath.Join(dir, "job.yaml"), "-o", filepath.Join(dir, "out"))
	text, err := os.ReadFile(filepath.Join(dir, "out", "results.csv"))
	if err != nil {
		require.ErrorIs(t, err, os.ErrNotExist)
	}
	return code, out, msg, string(text)
}

// What can be wrong with a book: one line with its cell, and no level of that
// run is assessed. The good book, from which the others differ in one place, has
// two.
func TestBadBooks(t *testing.T) {
	code, out, msg, _ := checkBook(t, bookJob, goodBook)
	require.Equal(t, exitOK, code, msg)
	require.Contains(t, out, "2 assessed")
	replace := func(in, old, with string) string {
		require.Contains(t, in, old)
		return strings.Replace(in, old, with, 1)
	}
	for name, c := range map[string]struct{ job, book, want string }{
		"missing BS":           {book: replace(goodBook, "BM1,1.500,,", "BM1,,,"), want: "levels.csv:3:2: BS: an intermediate sight before any backsight; the BS of its set-up is missing"},
		"missing FS":           {book: replace(goodBook, "CP,1.600,,1.300", "CP,1.600,,"), want: "levels.csv:4:4: FS: a new backsight without a foresight before it; the FS to CP is missing"},
		"open change point":    {book: replace(goodBook, "CP,1.600,,1.300", "CP,,,1.300"), want: "levels.csv:4:2: BS: the change point CP has a foresight and no backsight"},
		"longer than staff":    {book: replace(goodBook, "B,,1.700,", "B,,5.001,"), want: "levels.csv:5:3: IS: a reading of 5.001 is longer than the staff, which is 5.000"},
		"negative, no flag":    {book: strings.ReplaceAll(strings.ReplaceAll(strings.ReplaceAll(goodBook, "\n", ",\n"), "FS (m),", "FS (m),inverted"), "1.700", "-1.700"), want: "levels.csv:5:3: IS: -1.700 is negative but the row is not flagged as an inverted staff"},
		"begins nowhere":       {book: replace(goodBook, "BM1,", "X1,"), want: "levels.csv:2:2: BS: the run begins on X1, which has no known level"},
		"ends nowhere":         {book: replace(goodBook, "BM2,", "X2,"), want: "levels.csv:6:4: FS: the run ends on X2, which has no known level, so that nothing closes it"},
		"two values of a mark": {book: replace(replace(strings.ReplaceAll(goodBook, "\n", ",\n"), "FS (m),", "FS (m),Known (m)"), "BM2,,,1.500,", "BM2,,,1.500,10.301"), want: "levels.csv:6:5: known: BM2 is 10.301 here and 10.300 by job; one mark has one level"},
		"unreadable FS":        {book: replace(goodBook, "BM2,,,1.500", "BM2,,,1.5O0"), want: `levels.csv:6:4: FS: "1.5O0" holds a letter that looks like a digit`},
		"grade without direction": {job: bookJob + "laserSetups:\n  - {name: L1, mark: BM1, reading: 1.2 m, grade: \"2:1\", bearing: 90 deg}\n",
			want: `job.yaml:26:50: laserSetups.grade: "2:1" does not say which number is vertical`},
	} {
		t.Run(name, func(t *testing.T) {
			job, book := bookJob, goodBook
			if c.job != "" {
				job = c.job
			}
			if c.book != "" {
				book = c.book
			}
			code, out, msg, rows := checkBook(t, job, book)
			assert.Equal(t, exitUndone, code, out)
			var lines []string
			for l := range strings.Lines(msg) {
				if !strings.Contains(l, " | ") && strings.TrimSpace(l) != "" {
					lines = append(lines, l)
				}
			}
			require.Len(t, lines, 1, msg)
			assert.Contains(t, lines[0], c.want)
			assert.NotContains(t, rows, ",pass,")
			assert.NotContains(t, rows, ",fail,")
		})
	}
}
