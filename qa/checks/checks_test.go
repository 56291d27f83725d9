package checks

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/convert/surface"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Every check of the folder stands in the list.
func TestNoneIsLeftOut(t *testing.T) {
	files, err := os.ReadDir(".")
	require.NoError(t, err)
	n := 0
	for _, f := range files {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), f.Name(), nil, 0)
		require.NoError(t, err)
		ast.Inspect(tree, func(x ast.Node) bool {
			if c, ok := x.(*ast.CompositeLit); ok {
				if s, ok := c.Type.(*ast.SelectorExpr); ok && s.Sel.Name == "Check" {
					n++
				}
			}
			return true
		})
	}
	assert.Len(t, All, n)
	for _, c := range All {
		assert.NotEmpty(t, c.Name)
		assert.NotEmpty(t, c.Title)
		assert.NotEmpty(t, c.Doc)
	}
}

func mm(v int64) unit.Length { return unit.Length(v) * unit.Millimetre }

func length(t testing.TB, s string) *job.Length {
	l, err := unit.ParseQuantity(s)
	require.NoError(t, err)
	return &job.Length{Length: l}
}

// pipeLimits is a tolerance of pipes.
func pipeLimits(lower, upper string) SizeTolerance {
	size := func(s string) *SizeLimit {
		if s == "" {
			return nil
		}
		l, err := limits.ParseSize(s)
		if err != nil {
			panic(err)
		}
		return &SizeLimit{l}
	}
	return SizeTolerance{Lower: size(lower), Upper: size(upper), Source: "test"}
}

func dec(s string) unit.Decimal { d, _, _ := unit.ParseDecimal(s); return d }

// line is one row of a test book: what the shot is, and what is wanted of it.
// wantWhy is a part of the reason.
type line struct {
	id, run, staffed string
	e, n, level      int64 // mm
	noPlace, noLevel bool
	want             limits.Verdict
	wantDiff         int64 // mm, of an assessed row
	wantWhy          string
}

func shots(lines []line) []convert.Shot {
	out := make([]convert.Shot, len(lines))
	for i, l := range lines {
		out[i] = convert.Shot{ID: l.id, Run: l.run, Staffed: l.staffed, Place: convert.Place{E: mm(l.e), N: mm(l.n)}, Placed: !l.noPlace, Level: mm(l.level), Levelled: !l.noLevel,
			Use: convert.Assessed, Pos: formats.Pos{File: "book.csv", Row: i + 2}}
	}
	return out
}

// judge runs a measurer over a test book and compares every row.
func judge(t *testing.T, m qa.Measurer, lines []line) []qa.Row {
	in := shots(lines)
	rows := make([]qa.Row, len(in))
	for i := range in {
		rows[i].Shot = in[i]
	}
	m.Batch(in, rows)
	for i, l := range lines {
		r := &rows[i]
		assert.Equal(t, l.want, r.Verdict, "%s: %s", l.id, r.Reason)
		assert.Contains(t, r.Reason, l.wantWhy, l.id)
		if l.want != limits.NotAssessed {
			assert.Equal(t, mm(l.wantDiff), r.Diff, l.id)
		}
		assert.Equal(t, l.want == limits.Fail, r.Action != "", "%s: action %q", l.id, r.Action)
	}
	return rows
}

// A plane of 1 in 100 along e: the witness is the plane itself.
func TestSurfaceBook(t *testing.T) {
	tin, err := surface.New([]surface.Vertex{{E: 0, N: 0, Z: mm(50_000)}, {E: mm(100_000), N: 0, Z: mm(51_000)}, {E: mm(100_000), N: mm(100_000), Z: mm(51_000)}, {E: 0, N: mm(100_000), Z: mm(50_000)}},
		[][3]int32{{0, 1, 2}, {0, 2, 3}})
	require.NoError(t, err)
	file := &formats.Surface{Name: "S", Vertices: []formats.Vertex{{E: dec("0"), N: dec("0"), Z: dec("50"), ID: 1}, {E: dec("100"), N: dec("0"), Z: dec("51"), ID: 2}, {E: dec("100"), N: dec("100"), Z: dec("51"), ID: 3}, {E: dec("0"), N: dec("100"), Z: dec("50"), ID: 4}},
		Faces: []formats.Face{{V: [3]int32{0, 1, 2}}, {V: [3]int32{0, 2, 3}}, {V: [3]int32{0, 1, 3}, Invisible: true}}, Invisible: 1}
	s, err := convert.NewSurface(file, unit.M, &convert.Frame{Unit: unit.M})
	require.NoError(t, err)
	require.Equal(t, tin.PlanArea(), s.TIN.PlanArea(), "the invisible face supplies nothing")
	p := &SurfaceParams{Common: job.Common{Design: "s"}, Offset: length(t, "-0.450 m"), Tolerance: job.ZonedTolerance{Tolerance: job.Tolerance{Lower: length(t, "-30 mm"), Upper: length(t, "10 mm"), Source: "test"}}}
	m, err := Surface.Start(p, &qa.Setting{Design: &convert.Design{Surfaces: map[string]*convert.Surface{"s": s}}, Frame: &convert.Frame{Unit: unit.M}})
	require.NoError(t, err)
	rows := judge(t, m, []line{
		{id: "on design", e: 20_000, n: 30_000, level: 49_750, want: limits.Pass},
		{id: "on the upper limit", e: 20_000, n: 30_000, level: 49_760, want: limits.Pass, wantDiff: 10},
		{id: "one beyond it", e: 20_000, n: 30_000, level: 49_761, want: limits.Fail, wantDiff: 11},
		{id: "on the lower limit", e: 20_000, n: 30_000, level: 49_720, want: limits.Pass, wantDiff: -30},
		{id: "one below it", e: 20_000, n: 30_000, level: 49_719, want: limits.Fail, wantDiff: -31},
		{id: "on the inner edge", e: 50_000, n: 50_000, level: 50_050, want: limits.Pass},
		{id: "on a corner", e: 0, n: 0, level: 49_550, want: limits.Pass},
		{id: "outside", e: 100_001, n: 0, level: 50_000, wantWhy: "outside the design surface S"},
		{id: "no place", noPlace: true, level: 50_000, wantWhy: "it has no place"},
		{id: "no level", e: 1, n: 1, noLevel: true, wantWhy: "it has no level"},
		{id: "pipe", e: 1, n: 1, level: 50_000, staffed: "invert", wantWhy: "the staff stood on the invert"},
	})
	assert.Equal(t, "cut 11", rows[2].Action)
	assert.Equal(t, "fill 31", rows[4].Action)
	assert.Equal(t, mm(-1), rows[4].Beyond)
	assert.Equal(t, "face 2 of S", rows[0].Origin())
	_, err = Surface.Start(p, &qa.Setting{Design: &convert.Design{}, Frame: nil})
	assert.ErrorContains(t, err, "is no surface that could be read")
}

// drain is a network of three pits: P1 60 m at 1 in 100 and P2 40 m at 1 in 200,
// with a step of 20 mm in the second pit; the file runs P2 uphill.
func drain(t *testing.T) (*convert.Network, []formats.Problem) {
	read := func(s string) formats.Reading { return formats.Reading{Set: true, Value: dec(s)} }
	pit := func(name, e string, inverts ...formats.Invert) formats.Structure {
		return formats.Structure{Name: name, E: dec(e), N: dec("0"), Placed: true, Rim: read("103"), Sump: read("90"), Inverts: inverts}
	}
	n := &formats.Network{Name: "N", Structures: []formats.Structure{
		pit("A", "0", formats.Invert{Elev: read("101"), Pipe: "P1", Flow: "out"}),
		pit("B", "60", formats.Invert{Elev: read("100.4"), Pipe: "P1", Flow: "in"}, formats.Invert{Elev: read("100.38"), Pipe: "P2", Flow: "in"}),
		pit("C", "100", formats.Invert{Elev: read("100.18"), Pipe: "P2", Flow: "out"})},
		Pipes: []formats.Pipe{{Name: "P1", Start: "A", End: "B", Bore: read("300"), Wall: read("30"), DimUnit: unit.MM}, {Name: "P2", Start: "C", End: "B", Bore: read("300"), DimUnit: unit.MM}}}
	return convert.NewNetwork(n, formats.Units{Linear: unit.M}, convert.NetworkOptions{InvertsAt: "centre"}, &convert.Frame{Unit: unit.M})
}

func TestPipeBook(t *testing.T) {
	n, problems := drain(t)
	require.Empty(t, problems)
	require.Len(t, n.Notes, 1, "the flags of P2 contradict its inverts: a note, no stop")
	assert.Equal(t, "B", n.Pits[n.Pipes[1].US].Name, "upstream is the higher invert")
	g, err := unit.ParseGrade("1 in 105")
	require.NoError(t, err)
	p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-15 mm", "15 mm"), LeastGrade: &job.Grade{Grade: g}, OnPipes: OnPipes{Pipes: []string{"P1"}}}
	start := func(p *PipeParams) qa.Measurer {
		m, err := Pipe.Start(p, &qa.Setting{Design: &convert.Design{Networks: map[string]*convert.Network{"n": n}}, Frame: &convert.Frame{Unit: unit.M}})
		require.NoError(t, err)
		return m
	}
	m := start(p)
	judge(t, m, []line{
		{id: "a", e: 0, n: 100, level: 101_000, staffed: "invert", want: limits.Pass},
		{id: "soffit", e: 15_000, level: 101_165, staffed: "soffit", want: limits.Pass, wantDiff: 15},
		{id: "top", e: 30_000, level: 101_014, staffed: "top", want: limits.Fail, wantDiff: -16},
		{id: "bedding", e: 31_000, level: 100_663, staffed: "bedding", want: limits.Pass, wantDiff: 3},
		{id: "off the line", e: 30_000, n: 501, level: 100_700, staffed: "invert", wantWhy: "outside every pipe"},
		{id: "nothing said", e: 30_000, level: 100_700, wantWhy: "nothing says what was staffed"},
		{id: "collar", e: 30_000, level: 100_700, staffed: "collar", wantWhy: "says the height of the collar of pipe P1"},
		{id: "other run", run: "P9", e: 30_000, level: 100_700, staffed: "invert", wantWhy: "is no pipe of the network"},
		{id: "not covered", run: "P2", e: 70_000, level: 100_300, staffed: "invert", wantWhy: "does not cover pipe P2"},
		{id: "b", run: "P1", e: 60_000, level: 100_400, staffed: "invert", want: limits.Pass},
	})
	rows, remarks := m.Finish()
	assert.Empty(t, remarks)
	got := map[string]limits.Verdict{}
	for _, r := range rows {
		got[string(r.Quantity)+" "+r.Shot.ID] = r.Verdict
	}
	// the shots in order downstream: 101.000, 100.865, 100.684, 100.693, 100.400
	assert.Equal(t, map[string]limits.Verdict{"grade P1": limits.Pass, "backfall soffit": limits.Pass, "backfall top": limits.Pass, "backfall bedding": limits.Fail, "backfall b": limits.Pass,
		"fall soffit": limits.Fail, "fall top": limits.Pass, "fall bedding": limits.Pass, "fall b": limits.Pass}, got) // 135 mm in 15 m is 1 in 111
	for _, r := range rows {
		if r.Shot.ID == "bedding" && r.Quantity == qa.QuantityBackfall {
			assert.Equal(t, mm(9), r.Beyond)
			assert.Equal(t, "lower 9", r.Action)
		}
	}
}

// At a pit where pipes meet with different inverts a shot must name its pipe.
func TestPipesMeetWithAStep(t *testing.T) {
	n, _ := drain(t)
	p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-15 mm", "15 mm")}
	m, err := Pipe.Start(p, &qa.Setting{Design: &convert.Design{Networks: map[string]*convert.Network{"n": n}}, Frame: &convert.Frame{Unit: unit.M}})
	require.NoError(t, err)
	judge(t, m, []line{
		{id: "b", e: 60_000, level: 100_400, staffed: "invert", wantWhy: "meet here with different inverts"},
		{id: "b out", run: "P2", e: 60_000, level: 100_380, staffed: "invert", want: limits.Pass},
		{id: "c", e: 100_000, level: 100_180, staffed: "invert", want: limits.Pass},
	})
	rows, remarks := m.Finish()
	require.Len(t, rows, 2)
	assert.Equal(t, "no shot on this pipe was assessed", rows[0].Reason)
	assert.Equal(t, limits.NotAssessed, rows[0].Verdict)
	assert.Equal(t, []string{"Grade as built, not judged because the job gives no least grade: P2 1 in 200 (design 1 in 200).", "Shots at the ends only, a sag between them cannot be seen: P2."}, remarks)
}

// Equal levels are flat, no backfall; exactly the least grade passes.
func TestAtTheLimitOfGradeAndBackfall(t *testing.T) {
	n, _ := drain(t)
	g, _ := unit.ParseGrade("1 in 100")
	p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-300 mm", "300 mm"), LeastGrade: &job.Grade{Grade: g}, OnPipes: OnPipes{Pipes: []string{"P1"}}}
	for _, x := range []struct {
		b       int64
		grade   limits.Verdict
		reasons string
	}{{100_400, limits.Pass, "flat"}, {100_401, limits.Fail, "flat"}} {
		m, err := Pipe.Start(p, &qa.Setting{Design: &convert.Design{Networks: map[string]*convert.Network{"n": n}}, Frame: &convert.Frame{Unit: unit.M}})
		require.NoError(t, err)
		judge(t, m, []line{
			{id: "a", e: 0, level: 101_000, staffed: "invert", want: limits.Pass},
			{id: "1", e: 30_000, level: 100_700, staffed: "invert", want: limits.Pass},
			{id: "2", e: 40_000, level: 100_700, staffed: "invert", want: limits.Pass, wantDiff: 100},
			{id: "b", run: "P1", e: 60_000, level: x.b, staffed: "invert", want: limits.Pass, wantDiff: x.b - 100_400},
		})
		rows, _ := m.Finish()
		assert.Equal(t, x.grade, rows[0].Verdict)
		rows = slices.DeleteFunc(rows, func(r qa.Row) bool { return r.Quantity != qa.QuantityBackfall })
		assert.Contains(t, rows[1].Reason, x.reasons)
		assert.Equal(t, limits.Pass, rows[1].Verdict)
	}
}

func TestLimitsOfAPipeNeedTheirSource(t *testing.T) {
	g, _ := unit.ParseGrade("1 in 100")
	keys := func(p *PipeParams) (out []string) {
		for _, f := range p.Validate() {
			out = append(out, f.Key)
		}
		return out
	}
	assert.Empty(t, keys(&PipeParams{}))
	assert.Equal(t, []string{"leastGrade"}, keys(&PipeParams{LeastGrade: &job.Grade{Grade: g}}))
	assert.Equal(t, []string{"backfall"}, keys(&PipeParams{Backfall: length(t, "5 mm")}))
	assert.Equal(t, []string{"backfall", "reach"}, keys(&PipeParams{Backfall: length(t, "-5 mm"), OnPipes: OnPipes{Reach: length(t, "-1 m")}}))
	assert.Empty(t, keys(&PipeParams{LeastGrade: &job.Grade{Grade: g}, GradeSource: "note", Backfall: length(t, "0 mm"), BackfallFrom: "note"}))
}
