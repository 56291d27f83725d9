package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const registerJob = "project: P\nunits: m\ngrid: local site\nheightDatum: D\nnonconformance: {spacing: 10 m, source: s}\nsurveys:\n  - {file: p.csv, kind: points}\n" +
	"designs:\n  - {name: s, plane: {easting: 0 m, northing: 0 m, level: 10 m}}\nchecks:\n  - surface: {name: c, element: pad, design: s, tolerance: {upper: 10 mm, source: t}}\n"

// A decision that somebody wrote into the register of an earlier result is not
// written over by a run that knows nothing of it.
func TestDecisionsAreNotWrittenOver(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "p.csv", "Point,Easting (m),Northing (m),Level (m)\na,0,0,10.020\n")
	j, out := put(t, dir, "job.yaml", registerJob), filepath.Join(dir, "out")
	file := filepath.Join(out, "register.csv")
	code, _, msg := sightrail("check", j, "-o", out)
	require.Equal(t, exitFail, code, msg)
	code, _, msg = sightrail("check", j, "-o", out)
	require.Equal(t, exitFail, code, "nobody has written into it: %s", msg)

	text, err := os.ReadFile(file)
	require.NoError(t, err)
	decided := strings.Replace(string(text), ",,,,,,,,in plan", ",accept as it is,A. Patel,2026-03-09,,,,,in plan", 1)
	require.NotEqual(t, string(text), decided)
	require.NoError(t, os.WriteFile(file, []byte(decided), 0o600))
	code, _, msg = sightrail("check", j, "-o", out)
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "register.csv")
	assert.Contains(t, msg, "holds decisions that this run does not carry on (NC-001); copy it beside the job and name it there as \"register:\"")
	kept, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, decided, string(kept))

	put(t, dir, "register.csv", decided)
	put(t, dir, "job.yaml", registerJob+"register: register.csv\n")
	code, _, msg = sightrail("check", j, "-o", out)
	require.Equal(t, exitFail, code, msg)
	kept, err = os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, decided, string(kept))
}
