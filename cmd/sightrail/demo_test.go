package main

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/fixture"
)

// demoRows runs the demo job and returns the rows of results.csv by heading.
func demoRows(t *testing.T) []map[string]string {
	out := t.TempDir()
	code, _, msg := sightrail("check", filepath.Join(fixture.Root(t), "testdata", "jobs", "demo", "job.yaml"), "-o", out)
	require.Equal(t, exitUndone, code, msg)
	f, err := os.Open(filepath.Join(out, "results.csv"))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll() // every line with as many fields as the first
	require.NoError(t, err)
	var rows []map[string]string
	for _, l := range lines[1:] {
		row := map[string]string{}
		for i, h := range lines[0] {
			row[h] = l[i]
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows
}

// What neighbours share drops out of their difference: two shots of one set-up
// differ by √2 readings whatever the set-up and the mark are worth, and those of
// two set-ups by more (JCGM 100:2008, 5.2).
func TestDemoUncertainties(t *testing.T) {
	u := func(quantity, point string) float64 {
		for _, r := range demoRows(t) {
			if r["quantity"] == quantity && r["point"] == point {
				x, err := strconv.ParseFloat(r["u_mm"], 64)
				require.NoError(t, err, "%v", r)
				return x
			}
		}
		t.Fatal(quantity, point)
		return 0
	}
	const reading, setup, mark = 1, 1.5, 1
	assert.InDelta(t, math.Sqrt2, u("backfall", "D02"), 0.005, "one set-up")
	// D06 and D05 stand in two set-ups: two readings, the foresight between them
	// and what the second set-up adds
	assert.InDelta(t, math.Sqrt(3*reading*reading+setup*setup), u("backfall", "D06"), 0.005)
	assert.InDelta(t, math.Sqrt(mark*mark+setup*setup+reading*reading), u("invert", "D01"), 0.005)
	assert.InDelta(t, math.Sqrt2, u("grade", "P12"), 0.005, "D01 and D05 were read from one set-up")
}

// The register of the demo is carried on: numbers, decisions and the column of the
// user stay, and the register that comes out, given back, comes out with the same
// bytes. register-want.csv is to be read before it is changed.
func TestDemoRegister(t *testing.T) {
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "out")
	require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Join(fixture.Root(t), "testdata", "jobs", "demo"))))
	want, err := os.ReadFile(filepath.Join(dir, "register-want.csv"))
	require.NoError(t, err)
	for range 2 {
		sightrail("check", filepath.Join(dir, "job.yaml"), "-o", out)
		got, err := os.ReadFile(filepath.Join(out, "register.csv"))
		require.NoError(t, err)
		require.Equal(t, string(want), string(got))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "register.csv"), got, 0o600))
	}
}

// A register is an input: it is not written over by the run that reads it.
func TestRegisterIsNotWrittenOver(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Join(fixture.Root(t), "testdata", "jobs", "demo"))))
	before, err := os.ReadFile(filepath.Join(dir, "register.csv"))
	require.NoError(t, err)
	code, _, msg := sightrail("check", filepath.Join(dir, "job.yaml"), "-o", dir, "--overwrite")
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "register.csv")
	after, err := os.ReadFile(filepath.Join(dir, "register.csv"))
	require.NoError(t, err)
	assert.Equal(t, before, after)
}
