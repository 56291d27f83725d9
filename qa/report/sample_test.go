package report

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// The sample is invented: a depot with a pad that has a soft patch left too
// high, a drain of three pipes with a backfall that two good ends hide, and a
// level book. It is for the mechanics of the page; no figure of it is a fact.

func metres(t testing.TB, s string) unit.Length {
	t.Helper()
	l, exact, err := unit.Parse(s, unit.M)
	require.NoError(t, err)
	require.True(t, exact)
	return l
}

func mm(n int) unit.Length { return unit.Length(n) * unit.Millimetre }

func decimal(t testing.TB, s string) unit.Decimal {
	t.Helper()
	d, _, err := unit.ParseDecimal(s)
	require.NoError(t, err)
	return d
}

type sample struct {
	t   testing.TB
	res *qa.Result
	row int // of the next row of points.csv
}

// sampleResult makes the whole sample.
func sampleResult(t testing.TB) *qa.Result {
	t.Helper()
	s := &sample{t: t, row: 1}
	j := &job.Job{
		File: "job.yaml", Project: "Kelso Road depot", Contract: "C-2241", Client: "Northern Transit", Company: "Plain Levels Ltd", Lot: "L-014",
		Element: "Building pad and storm drain A", Clause: "Earthworks specification, clause 4.3", Revision: "C", HoldPoint: "HP 7", ReportNo: "R-031",
		SurveyDate: "2026-03-04", Weather: "dry, light wind", Units: job.Unit{Unit: unit.M}, Grid: job.Grid{EPSG: "7855"}, HeightDatum: "AHD",
		BenchMarks: []job.BenchMark{
			{Name: "BM1", Level: job.Length{Length: metres(t, "26.400")}, Source: "mark sheet 12", Date: "2026-02-03",
				Easting: &job.Coordinate{Value: decimal(t, "321400.250"), In: unit.M}, Northing: &job.Coordinate{Value: decimal(t, "5812290.500"), In: unit.M}},
			{Name: "BM2", Level: job.Length{Length: metres(t, "25.875")}, Source: "mark sheet 12", Date: "2026-02-03"},
		},
		Instruments: []job.Instrument{{Name: "level 1", Type: "automatic level", Serial: "40117", Checked: "2026-03-01", Result: "0.8 mm in 30 m"}, {Name: "rover 2", Type: "GNSS rover"}},
		People:      job.People{Observer: "A. Chan", Booker: "B. Diaz", Checker: "C. Eze"},
		Designs:     []job.Design{{Name: "pad", File: "design.xml", Surface: "FG PAD", Revision: "C"}, {Name: "drain", File: "design.xml", Network: "STORM A", Revision: "C"}},
	}
	j.Levelling.Closing.Rule = levels.Rule{Coef: mm(12), Per: levels.SqrtK, Text: "12 mm sqrt(K)"}
	j.Levelling.Source = "Earthworks specification, clause 2.4"
	s.res = &qa.Result{Version: "dev", Job: j,
		Frame:  convert.Frame{Unit: unit.M, E0: 321000, N0: 5812000, EPSG: "7855", Grid: "EPSG:7855", Datum: "AHD"},
		Design: &convert.Design{Surfaces: map[string]*convert.Surface{}, Networks: map[string]*convert.Network{}},
		Inputs: []qa.Input{
			{File: "job.yaml", SHA256: strings.Repeat("0a1b2c3d", 8), Role: "job", Format: "yaml", Bytes: 2210},
			{File: "design.xml", SHA256: strings.Repeat("4e5f6071", 8), Role: "design", Format: "landxml", Bytes: 48112},
			{File: "points.csv", SHA256: strings.Repeat("8293a4b5", 8), Role: "points", Format: "csv", Bytes: 5120},
			{File: "levels.xlsx", SHA256: strings.Repeat("c6d7e8f9", 8), Role: "levels", Format: "xlsx", Bytes: 9004}},
		Missing: []string{"serial number of rover 2", "date of the last check of rover 2", "approver"},
		Notes:   []formats.Problem{{Pos: formats.Pos{File: "design.xml", Part: "Pipe A2", Row: 88}, Text: "the flow flags in the file say that it runs from MH3 to MH2; by its inverts it falls the other way, and the inverts are used"}},
		Proved: []string{"points.csv: levels proved by 2 shots on known marks",
			"levels.xlsx [Day 1]: run from BM1 to BM2: misclosure -1.0 mm, allowed 4.2 mm (12 mm sqrt(K)): closed"},
	}
	s.checks()
	s.control()
	s.pad()
	s.drain()
	s.book()
	s.finish()
	return s.res
}

func (s *sample) checks() {
	tol := func(lo, hi int, source string) limits.Tolerance {
		return limits.Tolerance{Lower: mm(lo), Upper: mm(hi), HasLower: true, HasUpper: true, Source: source}
	}
	s.res.Checks = []qa.CheckResult{
		{Kind: &qa.Check{Name: "surface", Title: "Level against a design surface", Doc: "The level of every selected shot minus the level of the design surface at its place."},
			Common: job.Common{Name: "Pad level", Element: "Building pad", Clause: "clause 4.3", Design: "pad", Shots: job.Shots{Codes: []string{"FG*"}}}, Limits: tol(-30, 10, "clause 4.3, table 2")},
		{Kind: &qa.Check{Name: "pipe", Title: "Pipe inverts, grade and backfall", Doc: "The invert at every selected shot minus the design invert at its place along the pipe."},
			Common: job.Common{Name: "Drain A", Element: "Storm drain A", Clause: "clause 7.1", Design: "drain", Shots: job.Shots{Codes: []string{"INV"}}}, Limits: tol(-10, 10, "clause 7.1")},
	}
}

func (s *sample) pos() formats.Pos {
	s.row++
	return formats.Pos{File: "points.csv", Row: s.row, Col: 4}
}

func (s *sample) add(r qa.Row) { s.res.Rows = append(s.res.Rows, r) }

// control are the check shots, an excluded shot and a blank row.
func (s *sample) control() {
	for i, m := range []string{"BM1", "BM2"} {
		shot := convert.Shot{ID: m, Pos: s.pos(), Use: convert.Control, Reason: "check shot on a known mark", Levelled: true, Level: metres(s.t, "26.403")}
		s.add(qa.Row{Check: -1, Shot: shot})
		s.res.Marks = append(s.res.Marks, qa.CheckShot{Shot: shot, Mark: m, LevelDiff: mm(3 - 7*i), PlanDiff: mm(8), HasPlan: i == 0, Judged: true, Within: true, LevelLimit: mm(10), PlanLimit: mm(25 * (1 - i))})
	}
	s.add(qa.Row{Check: -1, Shot: convert.Shot{ID: "P99", Code: "FG", Pos: s.pos(), Use: convert.Excluded, Reason: "pole was bumped"}, Reason: "pole was bumped"})
	s.add(qa.Row{Check: -1, Shot: convert.Shot{Pos: s.pos(), Use: convert.Blank}})
}

// pad is forty shots on a surface that falls to the east.
func (s *sample) pad() {
	t, d := s.t, func(x string) unit.Decimal { return decimal(s.t, x) }
	fg := formats.Surface{Name: "FG PAD", Vertices: []formats.Vertex{
		{E: d("321410"), N: d("5812300"), Z: d("25.600")}, {E: d("321470"), N: d("5812300"), Z: d("25.000")},
		{E: d("321470"), N: d("5812335"), Z: d("25.000")}, {E: d("321448"), N: d("5812345"), Z: d("25.220")}, {E: d("321410"), N: d("5812345"), Z: d("25.600")}},
		Faces: []formats.Face{{V: [3]int32{0, 1, 2}}, {V: [3]int32{0, 2, 3}}, {V: [3]int32{0, 3, 4}}}}
	design, err := convert.NewSurface(&fg, unit.M, &s.res.Frame)
	require.NoError(t, err)
	s.res.Design.Surfaces["pad"] = design
	off := map[int]int{17: 11, 18: 18, 19: 23, 26: 31, 27: 14, 5: -34}
	seed := uint32(7)
	for k := range 40 {
		seed = seed*1664525 + 1013904223
		diff := int(seed>>24)%27 - 17
		if o, ok := off[k]; ok {
			diff = o
		}
		e, n := 413+k%8*7, 304+k/8*8
		if k == 39 {
			e = 478 // beyond the edge
		}
		p, err := s.res.Frame.Place(d(fmt.Sprintf("321%d.25", e)), d(fmt.Sprintf("5812%d.50", n)), unit.M)
		require.NoError(t, err)
		r := qa.Row{Check: 0, Quantity: qa.QuantityLevel, Limits: s.res.Checks[0].Limits,
			Shot: convert.Shot{ID: fmt.Sprintf("P%d", k+1), Code: "FG", Pos: s.pos(), Place: p, Placed: true, Levelled: true, Use: convert.Assessed}}
		z, face, state, _ := design.TIN.Level(p.E, p.N)
		r.Shot.Level = z + mm(diff)
		if state == 0 {
			r.Shot.Level, r.Shot.Use, r.Reason = metres(t, "24.950"), convert.NotAssessed, "outside the design surface FG PAD"
			s.add(r)
			continue
		}
		r.Design, r.Measured, r.Diff, r.Compared, r.DesignAt = z, r.Shot.Level, mm(diff), true, design.Face(face)
		r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
		r.Action = r.Limits.SurfaceAction(r.Diff)
		s.add(r)
	}
}

// drain is three pipes. A2 falls backwards between two shots; A3 is too flat.
func (s *sample) drain() {
	t := s.t
	read := func(x string) formats.Reading { return formats.Reading{Set: true, Value: decimal(t, x)} }
	in := formats.Network{Name: "STORM A"}
	pits := []struct{ e, n, rim string }{{"321405.000", "5812295.000", "26.350"}, {"321435.000", "5812292.000", "26.100"}, {"321465.000", "5812296.000", "25.840"}, {"321482.000", "5812318.000", "25.500"}}
	inv := []string{"24.850", "24.550", "24.250", "23.970"}
	for i, p := range pits {
		st := formats.Structure{Name: fmt.Sprintf("MH%d", i+1), E: decimal(t, p.e), N: decimal(t, p.n), Placed: true, Rim: read(p.rim)}
		for k := range 3 {
			if k == i || k == i-1 {
				st.Inverts = append(st.Inverts, formats.Invert{Elev: read(inv[i]), Pipe: fmt.Sprintf("A%d", k+1)})
			}
		}
		in.Structures = append(in.Structures, st)
	}
	for k := range 3 {
		in.Pipes = append(in.Pipes, formats.Pipe{Name: fmt.Sprintf("A%d", k+1), Start: fmt.Sprintf("MH%d", k+1), End: fmt.Sprintf("MH%d", k+2), Bore: read("300"), DimUnit: unit.MM})
	}
	net, problems := convert.NewNetwork(&in, formats.Units{Linear: unit.M}, convert.NetworkOptions{InvertsAt: "centre"}, &s.res.Frame)
	require.Empty(t, problems)
	s.res.Design.Networks["drain"] = net
	diffs := [][]int{{6, 2, -3, -9}, {3, -4, -9, 9, 4}, {-12, 4, 6, 8}}
	at := [][]float64{{0, 0.33, 0.7, 1}, {0, 0.3, 0.66, 0.7, 1}, {0, 0.4, 0.75, 1}}
	var derived []qa.Row
	for i := range net.Pipes {
		p := &net.Pipes[i]
		us, ds := net.Pits[p.US].Place, net.Pits[p.DS].Place
		var before *qa.Row
		var firstRow qa.Row
		for k, share := range at[i] {
			along := unit.Length(math.Round(share * float64(p.Length)))
			place := convert.Place{E: us.E + unit.MulDiv(ds.E-us.E, along, p.Length), N: us.N + unit.MulDiv(ds.N-us.N, along, p.Length)}
			r := qa.Row{Check: 1, Quantity: qa.QuantityInvert, Pipe: p.Name, Along: along, OnPipe: true, Limits: s.res.Checks[1].Limits, Compared: true,
				Shot:   convert.Shot{ID: fmt.Sprintf("%s-%d", p.Name, k+1), Code: "INV", Pos: s.pos(), Place: place, Placed: true, Levelled: true, Use: convert.Assessed},
				Design: p.InvertAt(along), Diff: mm(diffs[i][k]), DesignAt: "pipe " + p.Name}
			r.Measured = r.Design + r.Diff
			r.Shot.Level = r.Measured
			r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
			r.Action = r.Limits.PipeAction(r.Diff)
			s.add(r)
			if before != nil {
				derived = append(derived, s.backfall(before, &r))
			} else {
				firstRow = r
			}
			before = &r
		}
		least := unit.Grade{Rise: 1, Run: 100}
		g := qa.Row{Check: 1, Quantity: qa.QuantityGrade, Derived: true, Pipe: p.Name, DesignGrade: p.Grade(), LeastGrade: least, Limits: limits.Tolerance{Source: "clause 7.2"},
			Shot: convert.Shot{ID: p.Name, Pos: before.Shot.Pos, Place: before.Shot.Place, Placed: true}, Reason: "from " + firstRow.Shot.ID + " to " + before.Shot.ID}
		g.Grade = unit.Grade{Rise: firstRow.Measured - before.Measured, Run: before.Along - firstRow.Along}
		g.Verdict, g.Beyond = limits.LeastGrade(g.Grade.Rise, g.Grade.Run, least), limits.Shortfall(g.Grade.Rise, g.Grade.Run, least)
		derived = append(derived, g)
	}
	s.res.Rows = append(s.res.Rows, derived...)
}

func (s *sample) backfall(up, down *qa.Row) qa.Row {
	r := qa.Row{Check: 1, Quantity: qa.QuantityBackfall, Derived: true, Shot: down.Shot, Pipe: down.Pipe, Along: down.Along, OnPipe: true, Compared: true,
		Design: up.Measured, Measured: down.Measured, Diff: down.Measured - up.Measured, Limits: limits.Tolerance{HasUpper: true, Source: "a drain falls downstream"}}
	r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
	if r.Reason = "from " + up.Shot.ID; r.Verdict == limits.Fail {
		r.Reason = fmt.Sprintf("backfall: %s is %s mm higher than %s, which is upstream of it", down.Shot.ID, r.Limits.Printed(r.Diff), up.Shot.ID)
		r.Action = r.Limits.PipeAction(r.Diff)
	}
	return r
}

// book is a level book that closes on a second mark.
func (s *sample) book() {
	v := func(x string) levels.Value { return levels.Of(metres(s.t, x)) }
	rows := []levels.Row{
		{Name: "BM1", BS: v("1.342"), Known: v("26.400"), KnownFrom: "job", DistBS: v("28")},
		{Name: "K1", IS: v("1.105")}, {Name: "K2", IS: v("0.870")},
		{Name: "CP1", FS: v("1.655"), BS: v("1.210"), DistFS: v("30"), DistBS: v("31")},
		{Name: "lintel", IS: v("-2.315")},
		{Name: "CP2", FS: v("1.876"), BS: v("1.554"), DistFS: v("29"), DistBS: v("3.5")},
		{Name: "BM2", FS: v("1.101"), Known: v("25.875"), KnownFrom: "job", DistFS: v("3")}}
	book := &formats.Book{Name: "Day 1", Pos: formats.Pos{File: "levels.xlsx", Part: "Day 1", Row: 3}}
	for i, r := range rows {
		book.Rows = append(book.Rows, formats.BookRow{Row: i + 4, Point: r.Name})
	}
	book.Rows[1].Remark = "kerb at gate"
	rule := s.res.Job.Levelling.Closing.Rule
	s.res.Books = []qa.BookResult{{Book: book, Unit: unit.M, Input: rows, Rule: rule, Result: levels.Reduce(rows, levels.Options{Rule: rule, Unit: unit.M})}}
	for i, r := range rows {
		shot := convert.Shot{ID: r.Name, Pos: formats.Pos{File: "levels.xlsx", Part: "Day 1", Row: i + 4, Col: 3}, Use: convert.Control, Reason: "change point"}
		reason := ""
		if r.IS.Set {
			shot.Use, reason = convert.NotAssessed, "no check of the job selects it"
		}
		s.add(qa.Row{Check: -1, Shot: shot, Reason: reason})
	}
}

// finish adds the result up as a run does.
func (s *sample) finish() { addUp(s.res) }

// addUp counts rows, failures, statistics and bins of a result made by hand.
func addUp(res *qa.Result) {
	res.Failures, res.FailureCount, res.RowCount, res.Account = nil, 0, len(res.Rows), qa.Account{}
	bins := make([]map[int]int, len(res.Checks))
	diffs := make([][]float64, len(res.Checks))
	within := make([]int, len(res.Checks))
	for i := range res.Checks {
		bins[i], res.Checks[i].Counts = map[int]int{}, qa.Counts{}
	}
	for i := range res.Rows {
		r := &res.Rows[i]
		if r.Check >= 0 {
			c := &res.Checks[r.Check].Counts
			switch r.Verdict {
			case limits.Pass:
				c.Assessed, c.Pass = c.Assessed+1, c.Pass+1
			case limits.Fail:
				c.Assessed, c.Fail = c.Assessed+1, c.Fail+1
				res.Failures = append(res.Failures, *r)
				res.FailureCount++
			default:
				c.NotAssessed++
			}
			if r.Compared && !r.Derived && r.Verdict != limits.NotAssessed {
				if r.Verdict == limits.Pass {
					within[r.Check]++
				}
				bins[r.Check][int(math.Round(r.Diff.Millimetres()))]++
				diffs[r.Check] = append(diffs[r.Check], r.Diff.Millimetres())
			}
		}
		if r.Derived {
			continue
		}
		a := &res.Account
		a.Read++
		switch r.Shot.Use {
		case convert.Assessed:
			a.Assessed++
		case convert.Control:
			a.Control++
		case convert.Excluded:
			a.Excluded++
		case convert.Superseded:
			a.Superseded++
		case convert.Blank:
			a.Blank++
		default:
			a.NotAssessed++
		}
	}
	open := len(res.Problems) > 0 || res.Account.NotAssessed > 0
	for i := range res.Checks {
		c := &res.Checks[i]
		c.Histogram, c.Stats = nil, stats(diffs[i])
		for mm, n := range bins[i] {
			c.Histogram = append(c.Histogram, qa.Bin{Mm: mm, N: n})
		}
		sort.Slice(c.Histogram, func(a, b int) bool { return c.Histogram[a].Mm < c.Histogram[b].Mm })
		if c.Stats.N > 0 {
			c.Stats.WithinPercent = 100 * float64(within[i]) / float64(c.Stats.N)
		}
		open = open || c.Counts.NotAssessed > 0 || c.Counts.Assessed == 0
	}
	res.Complete = !open
	switch {
	case res.FailureCount > 0:
		res.Verdict = qa.VerdictFail
	case open:
		res.Verdict = qa.VerdictIncomplete
	default:
		res.Verdict = qa.VerdictPass
	}
}

func stats(d []float64) qa.Stats {
	s := qa.Stats{N: len(d)}
	if s.N == 0 {
		return s
	}
	sum, sq := 0.0, 0.0
	s.MinMm, s.MaxMm = d[0], d[0]
	for _, x := range d {
		sum, sq = sum+x, sq+x*x
		s.MinMm, s.MaxMm = min(s.MinMm, x), max(s.MaxMm, x)
	}
	n := float64(s.N)
	s.MeanMm, s.RmsMm = sum/n, math.Sqrt(sq/n)
	if s.N > 1 {
		s.SdMm = math.Sqrt((sq - sum*sum/n) / (n - 1))
	}
	return s
}
