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

// runNetwork is a job of four marks at 10.000 and four runs that meet on TP1, at
// 10.500: none of them is closed by itself. off is added to the last foresight of
// each, in millimetres.
func runNetwork(t *testing.T, levelling string, off ...string) *qa.Result {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nlevelling:\n  closing: 6 mm\n  source: s\n" + levelling + "benchMarks:\n"
	for _, m := range []string{"BM1", "BM2", "BM3", "BM4", "BM9"} {
		text += "  - {name: " + m + ", level: 10.000 m, source: s, date: 2026-01-01}\n"
	}
	text += "surveys:\n"
	f := files{"d.xml": flat, "pegs.csv": "Point,Easting (m),Northing (m)\na1,1,1\na2,1,1\na3,1,1\na4,1,1\n"}
	for i, o := range off {
		n := string(rune('1' + i))
		text += "  - {file: b" + n + ".csv, kind: levels}\n"
		f["b"+n+".csv"] = "Point,BS (m),IS (m),FS (m)\nBM" + n + ",1.500,,\na" + n + ",,1.500,\nTP1,,,1.0" + o + "\n"
	}
	text += "places:\n  - {file: pegs.csv}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, f, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	assert.True(t, res.Account.Balances())
	return res
}

const byNetwork = "  network: {junctions: [TP*], weights: setups, deviation: 1 mm, source: s}\n"

// Runs that prove nothing by themselves prove each other where they meet.
func TestNetworkProvesRuns(t *testing.T) {
	res := runNetwork(t, "", "00", "01", "00", "01")
	assert.Zero(t, res.Account.Assessed, "open runs")
	assert.Nil(t, res.Network)

	res = runNetwork(t, byNetwork, "00", "01", "00", "01")
	assert.Equal(t, 4, res.Account.Assessed)
	assert.Empty(t, res.Problems)
	require.NotNil(t, res.Network.Study)
	var tp *qa.NetworkPoint
	for i := range res.Network.Points {
		if p := &res.Network.Points[i]; p.Name == "TP1" {
			tp = p
		}
	}
	require.NotNil(t, tp)
	assert.Equal(t, "10.4995", tp.Level.Fixed(res.Frame.Unit, 4), "the plain mean of four runs of one set-up each")
	assert.InDelta(t, 0.5, tp.SD, 1e-9)
	assert.True(t, tp.Checked)
	assert.Contains(t, strings.Join(res.Proved, "\n"), "marks tied to nothing: BM9")
	assert.Equal(t, "network", res.Books[0].Input[2].KnownFrom)
}

// One run that does not fit is accused, and nothing of it is assessed; because
// its mark may be as wrong, both are named.
func TestNetworkAccuses(t *testing.T) {
	res := runNetwork(t, byNetwork, "00", "00", "08", "00")
	assert.True(t, res.Network.Strained)
	assert.Zero(t, res.Account.Assessed)
	said := strings.Join(res.Proved, "\n")
	assert.Contains(t, said, "ACCUSED, and it cannot be told which (all marks held): the run from BM3 to TP1 (b3.csv:2); the mark BM3")
	assert.Contains(t, said, "GLOBAL TEST FAILED")
	assert.NotEqual(t, 0, res.ExitCode())
	for _, p := range res.Network.Points {
		assert.Equal(t, p.Name == "BM3", p.Accused, p.Name)
	}
}

// A reciprocal line is a run of the network, of two set-ups.
func TestReciprocalLineInNetwork(t *testing.T) {
	// from BM9, at 10.000: both ends read TP1 0.500 above it, 4 mm apart
	line := "  reciprocal: [{from: BM9, to: TP1, atFrom: {from: 1.500 m, to: 1.002 m}, atTo: {from: 1.502 m, to: 1.000 m}}]\n"
	res := runNetwork(t, line+byNetwork, "00", "00")
	require.Len(t, res.Network.Sections, 3)
	assert.Equal(t, "0.500", res.Network.Sections[2].Diff.Fixed(res.Frame.Unit, 3))
	assert.Equal(t, 2, res.Network.Study.Held.DoF)
	assert.InDelta(t, 0, res.Network.Sections[2].Residual.V, 1e-9)
	assert.Equal(t, 2, res.Account.Assessed)
}

// A junction that one run alone reaches is checked by nothing, and proves nothing.
func TestNetworkWithoutRedundancy(t *testing.T) {
	res := runNetwork(t, byNetwork, "00")
	assert.Zero(t, res.Account.Assessed)
	assert.Contains(t, strings.Join(res.Proved, "\n"), "it has no redundancy")
	// by distance, without distances
	res = runNetwork(t, strings.Replace(byNetwork, "setups", "distance", 1), "00", "00")
	assert.Zero(t, res.Account.Assessed)
	assert.Equal(t, "the distance of a sight is missing", res.Network.Sections[0].Unused)
}

// Points of one name are joined only where the job says so.
func TestNetworkJoinsWhatTheJobNames(t *testing.T) {
	res := runNetwork(t, strings.Replace(byNetwork, "TP*", "XX", 1), "00", "00", "00")
	assert.Zero(t, res.Account.Assessed)
	assert.Empty(t, res.Network.Sections)
	assert.Len(t, res.Network.Loose, 3)
}
