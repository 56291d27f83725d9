package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const setoutDesign = `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Metric linearUnit="meter" diameterUnit="millimeter"/></Units><PipeNetworks><PipeNetwork name="N" pipeNetType="storm"><Structs>` +
	`<Struct name="A"><Center>0 0</Center><Invert elev="10.000" flowDir="out" refPipe="P1"/></Struct><Struct name="B"><Center>0 45</Center><Invert elev="9.550" flowDir="in" refPipe="P1"/></Struct></Structs>` +
	`<Pipes><Pipe name="P1" refStart="A" refEnd="B"><CircPipe diameter="300" thickness="40"/></Pipe></Pipes></PipeNetwork></PipeNetworks></LandXML>`

const setoutJob = `project: Depot
units: m
grid: local site
heightDatum: AHD
surveyDate: 2026-03-04
designs:
  - {name: drain, file: design.xml, network: N, invertsAt: centre}
setout:
  - name: Storm 1
    design: drain
    pipes: [P1]
    every: 1 m
    bedding: 100 mm
    traveller: 2.5 m
`

func TestSetoutCommand(t *testing.T) {
	dir := t.TempDir()
	job := put(t, dir, "job.yaml", setoutJob)
	put(t, dir, "design.xml", setoutDesign)
	out, again := filepath.Join(dir, "out"), filepath.Join(dir, "again")
	code, text, msg := sightrail("setout", job, "-o", out)
	require.Equal(t, exitOK, code, msg)
	assert.Empty(t, msg)
	assert.Equal(t, "Storm 1: 46 rows on 2 pages\nin "+filepath.ToSlash(out)+": setout.html, setout.xlsx, setout.csv\n", text)
	f, err := os.Open(filepath.Join(out, "setout.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 47)
	// 1 in 100 from 10.000: 9.550 after 45 m, less 140 mm, plus 2.5 m
	assert.Equal(t, []string{"Storm 1", "B", "P1", "45.000", "", "45.000", "0.000", "m", "9.550", "9.410", "9.890", "", "", "", "", "12.050"}, rows[46][:16])

	code, _, _ = sightrail("setout", job, "-o", again)
	require.Equal(t, exitOK, code)
	for _, name := range []string{"setout.html", "setout.xlsx", "setout.csv"} {
		a, err := os.ReadFile(filepath.Join(out, name))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(again, name))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(a, b), name)
		assert.NotContains(t, string(a), dir)
	}
	files, err := os.ReadDir(out)
	require.NoError(t, err)
	assert.Len(t, files, 3, "nothing half-written is left")

	put(t, out, "mine.txt", "keep")
	code, _, msg = sightrail("setout", job, "-o", out)
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "holds mine.txt, which is no report")
	code, _, _ = sightrail("setout", job, "-o", out, "--overwrite")
	assert.Equal(t, exitOK, code)
	code, _, msg = sightrail("setout", job, "-o", job)
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "is a file; -o names a folder")

	put(t, dir, "setout.csv", "Point,Chainage (m),Level (m)\nA,,11\n")
	over := put(t, dir, "over.yaml", setoutJob+"    ground: {file: setout.csv}\n")
	code, _, msg = sightrail("setout", over, "-o", dir, "--overwrite")
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "is an input of the job")
}

// What cannot be worked out makes the exit code 2, with its place in the job
// file; the sheets are written and say it.
func TestSetoutSaysWhatItCannot(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "design.xml", strings.Replace(setoutDesign, ` thickness="40"`, "", 1))
	job := put(t, dir, "job.yaml", setoutJob+"  - {name: Storm 2, design: drain, pipes: [P2], every: 1 m}\n")
	out := filepath.Join(dir, "out")
	code, text, msg := sightrail("setout", job, "-o", out)
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "job.yaml:13:14: Storm 1: Bottom of the trench: not known for P1; the design gives no wall, nor does the job")
	assert.Contains(t, msg, `job.yaml:15:44: Storm 2: the network "N" has no pipe "P2"`)
	assert.Contains(t, text, `Storm 2: nothing set out: the network "N" has no pipe "P2"`)
	page, err := os.ReadFile(filepath.Join(out, "setout.html"))
	require.NoError(t, err)
	assert.Contains(t, string(page), "2 things could not be read or worked out")

	code, _, msg = sightrail("setout", put(t, dir, "none.yaml", strings.Replace(setoutJob, "design.xml", "none.xml", 1)), "-o", filepath.Join(dir, "none"))
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, `none.yaml:7:25: file: "none.xml": there is no such file`)
	assert.NoDirExists(t, filepath.Join(dir, "none"))
}

// A job for setting out only has nothing to check, and one for checks only
// nothing to set out.
func TestSetoutAndCheckKeepApart(t *testing.T) {
	dir := t.TempDir()
	job := put(t, dir, "job.yaml", setoutJob)
	put(t, dir, "design.xml", setoutDesign)
	code, _, msg := sightrail("check", job, "-o", filepath.Join(dir, "out"))
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, `job.yaml:1:1: surveys: the job has no "surveys:" (field data), so there is nothing to check; add them, or use "sightrail setout"`)
	assert.Contains(t, msg, `checks: the job has no "checks:"`)
	assert.NoDirExists(t, filepath.Join(dir, "out"))
	other := put(t, dir, "check.yaml", messyJob)
	code, _, msg = sightrail("setout", other, "-o", filepath.Join(dir, "out"))
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, `the job has no set-out sheets; add "setout:"`)
}
