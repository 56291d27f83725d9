package report

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// pipeRow is a failing row of a quantity.
func pipeRow(t testing.TB, q qa.Quantity, design, measured string, tol limits.Tolerance, reason string) qa.Row {
	r := qa.Row{Check: 1, Quantity: q, Derived: true, Pipe: "A2", Along: 10 * unit.Metre, OnPipe: true, Shot: convert.Shot{ID: "x1", Pos: formats.Pos{File: "points.csv", Row: 90, Col: 4}, Use: convert.Assessed},
		Design: metres(t, design), Measured: metres(t, measured), Compared: true, Limits: tol, Reason: reason}
	r.Diff = r.Measured - r.Design
	r.Verdict, r.Beyond = tol.Judge(r.Diff)
	require.Equal(t, limits.Fail, r.Verdict)
	return r
}

// Lengths that are no levels are worded as lengths, and every failure says in the
// verdict sentence and in the terminal what it is of.
func TestWordsOfPipeQuantities(t *testing.T) {
	upper := func(n int) limits.Tolerance { return limits.Tolerance{Upper: mm(n), HasUpper: true, Source: "test"} }
	lower := func(n int) limits.Tolerance { return limits.Tolerance{Lower: mm(n), HasLower: true, Source: "test"} }
	for _, x := range []struct {
		row              qa.Row
		design, measured string
		diff, limits     string
		sentence, line   string
	}{
		{pipeRow(t, qa.QuantitySag, "24.500", "24.475", lower(-15), "deepest below the line between the built ends a and b"), "24.500", "24.475", "-25", "not below -15 mm",
			"Furthest beyond its limit: the sag at x1 of Storm drain A (A2 at 10.000), -25 mm against not below -15 mm; deepest below the line between the built ends a and b.",
			"x1 on pipe A2: sag -25 mm, limits not below -15 mm, deepest below the line between the built ends a and b (points.csv:90:4)"},
		{pipeRow(t, qa.QuantityStep, "-0.002", "0.006", upper(5), "step at the joint from j1 to x1, 0.200 m apart"), "-2 mm", "6 mm", "+8", "not above +5 mm",
			"Furthest beyond its limit: the step at x1 of Storm drain A (A2 at 10.000), +8 mm against not above +5 mm; step at the joint from j1 to x1, 0.200 m apart.",
			"x1 on pipe A2: step +8 mm, limits not above +5 mm, step at the joint from j1 to x1, 0.200 m apart (points.csv:90:4)"},
		{pipeRow(t, qa.QuantityDrop, "0.050", "0.070", upper(10), ""), "50 mm", "70 mm", "+20", "not above +10 mm",
			"Furthest beyond its limit: the drop at x1 of Storm drain A (A2 at 10.000), +20 mm against not above +10 mm.", "x1 on pipe A2: drop +20 mm, limits not above +10 mm (points.csv:90:4)"},
		{pipeRow(t, qa.QuantityCover, "0", "0.540", lower(600), ""), "", "0.540", "540", "not below 600 mm",
			"Furthest beyond its limit: the cover at x1 of Storm drain A (A2 at 10.000), 540 mm against not below 600 mm.", "x1 on pipe A2: cover +540 mm, limits not below +600 mm (points.csv:90:4)"},
		{pipeRow(t, qa.QuantityPlace, "0", "0.060", upper(50), ""), "", "0.060", "60", "not above 50 mm",
			"Furthest beyond its limit: the place at x1 of Storm drain A (A2 at 10.000), 60 mm against not above 50 mm.", "x1 on pipe A2: place +60 mm, limits not above +50 mm (points.csv:90:4)"},
		{pipeRow(t, qa.QuantityLine, "0", "-0.030", lower(-25), ""), "", "-30 mm", "-30", "not below -25 mm",
			"Furthest beyond its limit: the line at x1 of Storm drain A (A2 at 10.000), -30 mm against not below -25 mm.", "x1 on pipe A2: line -30 mm, limits not below -25 mm (points.csv:90:4)"},
	} {
		res := sampleResult(t)
		s := show(&x.row, &res.Frame)
		assert.Equal(t, []string{x.design, x.measured, x.diff, x.limits}, []string{first(s.design), first(s.measured), s.diff, s.limits}, "%s", x.row.Quantity)
		assert.Equal(t, x.sentence, worstSentence(res, &x.row))
		assert.Equal(t, x.line, Failure(res, &x.row))
	}
	res := sampleResult(t)
	fall := qa.Row{Check: 1, Quantity: qa.QuantityFall, Derived: true, Pipe: "A2", OnPipe: true, Shot: convert.Shot{ID: "x1", Pos: formats.Pos{File: "points.csv", Row: 90}},
		Grade: unit.Grade{Rise: mm(80), Run: 10 * unit.Metre}, DesignGrade: unit.Grade{Rise: 1, Run: 100}, LeastGrade: unit.Grade{Rise: 1, Run: 100}, Verdict: limits.Fail, Beyond: mm(-20), Reason: "from A2-1 to x1, 10.000 m"}
	assert.Equal(t, "Furthest beyond its limit: the fall of pipe A2 from A2-1 to x1, 10.000 m, 1 in 125 where the least 1 in 100 is allowed; it is short by 20 mm.", worstSentence(res, &fall))
	assert.Equal(t, "pipe A2 from A2-1 to x1, 10.000 m: 1 in 125, least 1 in 100 (points.csv:90)", Failure(res, &fall))
	s := show(&fall, &res.Frame)
	assert.Equal(t, []string{"x1", "1 in 100", "1 in 125"}, []string{s.point, first(s.design), first(s.measured)}, "shown at its shot, not at the pipe")
}

// New quantities add nothing to the built line of a long section; a sag that is
// judged by the line between the built ends shows that line; limits of a pipe are its
// own.
func TestSectionWithSags(t *testing.T) {
	plain := sampleResult(t)
	res := sampleResult(t)
	tol := limits.Tolerance{Lower: mm(-40), HasLower: true, Source: "test"}
	for _, q := range []qa.Quantity{qa.QuantitySag, qa.QuantityInvertLine, qa.QuantityStep, qa.QuantityDrop, qa.QuantityCover, qa.QuantityLine} {
		r := qa.Row{Check: 1, Quantity: q, Derived: true, Pipe: "A2", Along: 7 * unit.Metre, OnPipe: true, Compared: true, Measured: metres(t, "99"), Diff: mm(3), Limits: tol, Verdict: limits.Pass, Shot: convert.Shot{ID: "x1"}}
		if q == qa.QuantitySag {
			r.DesignAt = qa.LineFrom + "A2-1 to A2-5"
		}
		res.Rows = append(res.Rows, r)
	}
	for i := range res.Rows {
		if r := &res.Rows[i]; r.Pipe == "A1" && r.Quantity == qa.QuantityInvert && r.Along > 0 && r.Along < 25*unit.Metre {
			r.Limits = limits.Tolerance{Upper: mm(7), HasUpper: true, Source: "test"}
		}
	}
	addUp(res)
	was := map[string][]*html.Node{}
	before := pageOf(t, plain)
	for _, size := range []string{"wide", "narrow"} {
		for _, div := range find(byID(t, before, "check-2"), "div", size) {
			was[size] = append(was[size], find(div, "svg", "section")...)
		}
	}
	doc := pageOf(t, res)
	both(t, doc, "check-2", "section", func(t *testing.T, svg []*html.Node) {
		require.Len(t, svg, 3)
		assert.Len(t, find(svg[1], "line", "chord"), 2, "the line, and its key")
		assert.Empty(t, find(svg[2], "line", "chord"))
		assert.Equal(t, len(find(was["wide"][1], "circle", "")), len(find(svg[1], "circle", "")), "no shot more")
		assert.Contains(t, textOf(svg[1]), "line between built ends")
		assert.Len(t, find(svg[0], "line", "limit"), 1, "one-sided, as the shots between the pits of A1 are")
	})
	assert.Contains(t, textOf(byID(t, doc, "check-2")), "those in the pits have limits of their own")
	assert.Contains(t, textOf(byID(t, doc, "check-2")), "not above +7 mm, set by test")
	assert.Contains(t, textOf(byID(t, doc, "check-2")), "Limits of sag")
}

// A shot that what is worked out rests on has no verdict, is no open result and is
// no mark on a plan.
func TestControlRowsHaveNoVerdict(t *testing.T) {
	res := sampleResult(t)
	open := len(find(pageOf(t, res), "td", "o"))
	res.Rows = append(res.Rows, qa.Row{Check: 1, Quantity: qa.QuantityCover, Reason: "ground level, for the cover worked out from it", Shot: convert.Shot{ID: "g7", Use: convert.Control, Levelled: true, Placed: true}})
	r := &res.Rows[len(res.Rows)-1]
	assert.Empty(t, VerdictWord(r))
	assert.Equal(t, "control", show(r, &res.Frame).verdict)
	p := &page{Res: res}
	for _, reason := range p.notJudged().Reasons {
		assert.NotContains(t, reason.Reason, "ground level")
	}
	assert.Len(t, find(pageOf(t, res), "td", "o"), open+1, "in the table of its check only")
}

// A column of levels holds levels only.
func TestNoLengthAmongLevels(t *testing.T) {
	res := sampleResult(t)
	cover := pipeRow(t, qa.QuantityCover, "0", "0.540", limits.Tolerance{Lower: mm(600), HasLower: true, Source: "test"}, "")
	cover.Derived, cover.Shot.Level, cover.Shot.Levelled, cover.Shot.ID = false, metres(t, "24.123"), true, "own"
	place := pipeRow(t, qa.QuantityPlace, "0", "0.060", limits.Tolerance{Upper: mm(50), HasUpper: true, Source: "test"}, "")
	place.Shot.ID = "worked out"
	var err error
	res.Earth, err = convert.NewEarth(&res.Frame, "")
	require.NoError(t, err)
	res.Rows = []qa.Row{cover, place}
	addUp(res)
	var doc struct {
		Features []struct{ Properties map[string]any }
	}
	require.NoError(t, json.Unmarshal(writeOf(t, GeoJSON, res), &doc))
	require.Len(t, doc.Features, 2)
	for i, want := range []any{24.123, nil} {
		p := doc.Features[i].Properties
		assert.Nil(t, p["design_level"])
		assert.Equal(t, want, p["measured_level"])
		assert.Nil(t, p["arrow_mm"])
		assert.NotNil(t, p["diff_mm"])
	}
	csv := string(writeOf(t, CSV, res))
	assert.Contains(t, csv, ",A2,10.000,,0.540,540,,600,,-60,")
}
