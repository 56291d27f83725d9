package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// writeJob writes a job with its points into a folder.
func writeJob(t *testing.T, job, points string) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "job.yaml"), []byte(job), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "p.csv"), []byte(points), 0o644))
	return filepath.Join(dir, "job.yaml")
}

const lotsJob = `project: Lots
units: m
grid: local site
heightDatum: D
surveys:
  - {file: p.csv, kind: points}
designs:
  - {name: s, plane: {easting: 0 m, northing: 0 m, level: 10 m}}
lots:
  - {name: west, polygon: {corners: [[0 m, 0 m], [5 m, 0 m], [5 m, 10 m], [0 m, 10 m]]}}
  - {name: east, polygon: {corners: [[5 m, 0 m], [10 m, 0 m], [10 m, 10 m], [5 m, 10 m]]}}
acceptance: {plan: at most, bad: 1, in: 4, source: clause 902}
checks:
  - surface: {name: base, element: base, design: s, tolerance: {preset: tnz-b02-basecourse-lip}}
`

// What a rule of acceptance makes of lots stands in the index, in the part of the
// check, in lots.csv, in summary.json and on the terminal; a point that failed is
// listed as a fail all the same.
func TestAcceptanceInEveryReport(t *testing.T) {
	points := "Point,Easting (m),Northing (m),Level (m)\na,1,1,10\nb,2,1,10.0051\nc,3,1,10\nd,4,1,10\ne,6,1,10\n"
	job := writeJob(t, lotsJob, points)
	out := filepath.Join(t.TempDir(), "out")
	code, said, msg := sightrail("check", job, "-o", out)
	said += msg
	assert.Equal(t, exitOK, code, said)
	assert.Contains(t, said, "1 result out of tolerance is in lots that a rule of the job accepts; they stay fails and are listed as such")
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(out, name))
		require.NoError(t, err)
		return string(b)
	}
	assert.Equal(t, "lot,element,verdict,assessed,pass,fail,not_assessed,acceptance,worst,reason\n"+
		"west,,pass,4,3,1,0,base accepted with 1 beyond,base: b beyond the limit by +0.1 mm,\n"+
		"east,,pass,1,1,0,0,base accepted,,\n", read("lots.csv"))
	book, err := excelize.OpenFile(filepath.Join(out, "report.xlsx"))
	require.NoError(t, err)
	defer book.Close()
	cells, err := book.GetRows("Lots")
	require.NoError(t, err)
	require.Len(t, cells, 3)
	assert.Equal(t, []string{"west", "", "pass", "4", "3", "1", "0", "base accepted with 1 beyond", "base: b beyond the limit by +0.1 mm"}, cells[1])
	page := read("report.html")
	for _, want := range []string{
		"Accepted<small>by the rule of the job, with points out of tolerance</small>", // in the band
		"<td>base accepted with 1 beyond</td>",                                        // in the index
		"accepted: 1 of 4 beyond limits, 1 allowed",                                   // in the part of the check
		"at most 1 in 4 beyond limits, set by clause 902",                             // the rule and its source
		"lot west accepted by the rule of the job",                                    // beside the failure
		"A point that failed stays failed and is listed, also in a lot that is accepted.",
		"The contract rules. A preset quotes a published document",
		"Most failures in a row", "Median", "95 % not above", "Out of tolerance, high",
		"type 6 of Hyndman and Fan",
	} {
		assert.Contains(t, page, want)
	}
	var s struct {
		Verdict string
		Checks  []struct {
			Accepted   int `json:"acceptedByPlan"`
			Acceptance []struct{ Lot, State, Rule, Source, Words string }
			Stats      struct {
				High, Low, RunOfFailures int
				MedianMm                 float64
				Quantiles                []struct {
					Percent int
					Mm      float64
				}
			}
		}
		Lots []struct {
			Name, Verdict string
			Accepted      int `json:"acceptedByPlan"`
		}
	}
	require.NoError(t, json.Unmarshal([]byte(read("summary.json")), &s))
	assert.Equal(t, "pass", s.Verdict)
	require.Len(t, s.Checks[0].Acceptance, 2)
	assert.Equal(t, "accepted", s.Checks[0].Acceptance[0].State)
	assert.Equal(t, 1, s.Checks[0].Accepted)
	assert.Equal(t, 1, s.Checks[0].Stats.High)
	assert.Equal(t, 1, s.Checks[0].Stats.RunOfFailures)
	assert.Len(t, s.Checks[0].Stats.Quantiles, 5)
	assert.Equal(t, 1, s.Lots[0].Accepted)
	assert.Contains(t, read("results.csv"), "base,base,west,level,b,,,fail,assessed", "the point stays failed")

	// one more, and the lot is rejected
	job = writeJob(t, lotsJob, strings.Replace(points, "d,4,1,10\n", "d,4,1,10.006\n", 1))
	code, said, msg = sightrail("check", job, "-o", out)
	assert.Equal(t, exitFail, code)
	assert.Contains(t, said+msg, "lot west, base: rejected: 2 of 4 beyond limits, 1 allowed")
}

// A preset that is not there is named with the one that may be meant.
func TestPresetThatIsNotThere(t *testing.T) {
	job := writeJob(t, strings.Replace(lotsJob, "tnz-b02-basecourse-lip", "tnz-b02-basecourse-lib", 1), "")
	code, _, msg := sightrail("check", job, "-o", t.TempDir())
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, `there is no preset "tnz-b02-basecourse-lib"; did you mean "tnz-b02-basecourse-lip"?; "sightrail presets" lists them`)
}
