package report

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/convert/adjust"
	"sightrail/convert/levels"
	"sightrail/convert/plane"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// Drifts of laser sets-ups: what is not observed is said, never printed as nought,
// and print never contradicts the state beside it.
func TestLaserSetupsOnThePage(t *testing.T) {
	res := sampleResult(t)
	three := job.Length{Length: 3 * unit.Millimetre}
	limit, err := unit.ParseGrade("0.1 mm/m")
	require.NoError(t, err)
	res.Job.LaserLimits = &job.LaserLimits{Level: &three, Grade: &job.Grade{Grade: limit}, Source: "note <5>"}
	just := unit.Grade{Rise: limit.Rise*1000 + 1, Run: limit.Run * 1000}
	res.Lasers = []qa.LaserResult{{Setup: &job.LaserSetup{Name: "day <1>", Mark: "BM1"}, Bad: "closing on BM1 is outside its limit", Checks: []qa.LaserCheck{
		{What: "closing on BM1", Against: "its first reading", Level: 3*unit.Millimetre + unit.Millimetre/1000, State: plane.Outside},
		{What: "level on TP1", Against: "day 0", Level: -3 * unit.Millimetre, State: plane.Within},
		{What: "grade along", Against: "day 0", IsGrade: true, Grade: just, State: plane.Outside},
		{What: "grade across", Against: "day 0", IsGrade: true, Why: "pegs apart across the axis are wanting"},
	}}}
	page := string(writeOf(t, HTML, res))
	assert.Contains(t, page, "day &lt;1&gt;")
	assert.NotContains(t, page, "day <1>")
	assert.Contains(t, page, "No level of this set-up is assessed: closing on BM1 is outside its limit.")
	lines := newPage(res).Lasers[0].Checks
	assert.Equal(t, "+3.001 mm", lines[0].Drift, "beyond the limit it does not print as on it")
	assert.Equal(t, "-3.0 mm", lines[1].Drift)
	assert.Equal(t, "just over 0.10 mm/m", lines[2].Drift)
	assert.Equal(t, "", lines[3].Drift)
	assert.Equal(t, "not observed: pegs apart across the axis are wanting", lines[3].State)
}

func TestNetworkOnThePage(t *testing.T) {
	res := sampleResult(t)
	dev := job.Length{Length: unit.Millimetre}
	res.Job.Levelling.Network = &job.LevelNetwork{Weights: "setups", Deviation: &dev, Source: "note 4"}
	net := &adjust.Network{Points: []adjust.Point{{Name: "BM1", Held: true, Level: 10 * unit.Metre}, {Name: "BM2", Held: true, Level: 10 * unit.Metre}, {Name: "TP1", Wanted: true}}}
	for i, d := range []unit.Length{500 * unit.Millimetre, 502 * unit.Millimetre} {
		net.Observations = append(net.Observations, adjust.Observation{From: i, To: 2, Diff: d, Variance: 1})
	}
	study, err := adjust.Examine(net, adjust.Options{APriori: true})
	require.NoError(t, err)
	sd, has := study.Held.SD(2)
	res.Network = &qa.NetworkResult{Study: study, Words: []string{"a word"},
		Points:   []qa.NetworkPoint{{Name: "TP1", Level: study.Held.Points[2].Level, SD: sd, HasSD: has, State: adjust.Adjusted, Checked: true}, {Name: "BM9", Mark: true}},
		Sections: []qa.NetworkSection{{Section: levels.Section{From: "BM1", To: "TP1", Diff: 500 * unit.Millimetre, Setups: 1}, Residual: study.Held.Observations[0]}}}
	part := newPage(res).Network
	assert.Equal(t, "weights by setups, standard deviation 1 mm of one set-up. Set by: note 4.", part.Rule)
	assert.Equal(t, networkPoint{Name: "TP1", Role: "junction", Level: "10.5010", SD: "0.71", Redundancy: "0.00", State: "checked", Class: "v p"}, part.Points[0])
	assert.Equal(t, "tied to no mark", part.Points[1].State)
	assert.Equal(t, "+1.0", part.Sections[0].V)
	assert.Equal(t, "0.50", part.Sections[0].R)
	assert.Equal(t, "1.4", part.Sections[0].W)
	assert.Contains(t, string(writeOf(t, HTML, res)), "Level network")
	res.Network = nil
	assert.NotContains(t, string(writeOf(t, HTML, res)), "Level network")
}

func TestEvidenceAndCorrectionsOnThePage(t *testing.T) {
	res := sampleResult(t)
	assert.Contains(t, string(writeOf(t, HTML, res)), "None: readings are used as they were booked.")
	l := func(s string) job.Length { return job.Length{Length: metres(t, s)} }
	two, fifty := l("2"), l("52")
	limit, err := levels.ParseLineLimit("1 mm in 50 m")
	require.NoError(t, err)
	res.Job.Instruments = []job.Instrument{{Name: "level", TwoPeg: &job.TwoPeg{Date: "2026-03-02", Mid: &job.PegSight{A: l("1.412"), B: l("1.287")},
		End: job.PegSight{A: l("1.530"), B: l("1.406"), ToA: &two, ToB: &fifty}, Limit: job.LineLimit{LineLimit: limit}, Source: "note 5"}}, {Name: "rover"}}
	lines := evidence(res.Job, unit.M)
	require.Len(t, lines, 2)
	assert.Equal(t, "within", lines[0].State, "1 mm in 50 m, on the limit")
	assert.Equal(t, "not supplied", lines[1].State)
	res.Job.Levelling.Corrections = &job.Corrections{Collimation: "level"}
	res.Books[0].Corrected = []convert.Corrected{{Index: 0, Sight: "BS", Booked: metres(t, "1.500"), Distance: levels.Of(50 * unit.Metre), Reading: metres(t, "1.499"), Items: levels.Items{Collimation: levels.Of(-unit.Millimetre)}}}
	part := newPage(res).Corrections
	require.Len(t, part.Lines, 1)
	assert.Equal(t, "collimation -1.00", part.Lines[0].Parts)
	assert.Equal(t, "1.49900", part.Lines[0].Used)
	assert.Contains(t, string(writeOf(t, HTML, res)), "1 corrected readings")
}
