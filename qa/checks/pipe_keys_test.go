package checks

import (
	"regexp"
	"testing"

	"github.com/invopop/jsonschema"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// E. Maurer, Hydraulics and Water Resources: Examples Using R (testdata/worked,
// manning-part-full-200mm): 200 mm at 1 in 1000 with n 0.013 carries 10.37 L/s full,
// and 10 L/s stand 158 mm deep, at 0.376 m/s. Laid flatter it carries less.
func TestCapacityAsBuilt(t *testing.T) {
	n := straightDrain(unit.Millimetre, [2]int64{1003, 1000})
	n.Pipes[0].Bore = mm(200)
	q := FlowRate{0.01}
	p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-20 mm", "20 mm"),
		Capacity: &Capacity{Manning: &job.Factor{Decimal: dec("0.013")}, Colebrook: &job.Length{Length: mm(1)}, Viscosity: &Viscosity{1.14e-6}, PartFull: &Share{50}, Flows: map[string]FlowRate{"P1": q, "P9": q}, Source: "test"}}
	shots := []convert.Shot{pipeShot(unit.Millimetre, "P1", 0, 1003, 0), pipeShot(unit.Millimetre, "P1", 3000, 1002, 0)}
	_, _, m := measurePipes(t, Pipe, p, n, unit.M, shots, 2)
	got := map[string]string{}
	for _, f := range m.(qa.Figurer).Figures() {
		assert.Equal(t, "P1", f.Of)
		got[f.Name] = f.Print + " " + f.Unit
	}
	assert.Equal(t, "10.4 L/s", got["Manning, full bore, design"])
	assert.Equal(t, "78.9 % of bore", got["Manning, depth of the stated flow, design"]) // printed: 0.158 m, to the millimetre
	assert.Equal(t, "0.38 m/s", got["Manning, velocity of the stated flow, design"])
	assert.Equal(t, "6.0 L/s", got["Manning, full bore, as built"])
	assert.Equal(t, "57.7 %", got["Manning, full bore as built of design"], "as the root of 1 in 3")
	assert.Equal(t, "more than it carries with a free surface % of bore", got["Manning, depth of the stated flow, as built"])
	assert.Equal(t, "5.2 L/s", got["Manning, 50 % deep, design"])
	assert.Equal(t, got["Manning, velocity at full bore, design"], got["Manning, 50 % deep, design, velocity"], "half full is as fast as full")
	assert.Contains(t, got, "Colebrook-White, full bore, as built")
	_, remarks := m.Finish()
	assert.Contains(t, remarks, "Capacities are information for a concession and judge nothing: Manning with n 0.013; Colebrook-White with ks 1 mm and a viscosity of 1.14 mm²/s (test), uniform flow at the grade from end to end; a sag, a backfall or a step carries less.")
	assert.Contains(t, remarks, `A flow is stated for pipe "P9", and the network has no such pipe.`)

	// in feet, backwards, and a pipe that is not round
	shots[1].Level = mm(1004)
	_, _, m = measurePipes(t, Pipe, p, n, unit.Ft, shots, 2)
	for _, f := range m.(qa.Figurer).Figures() {
		if f.Name == "Manning, full bore, design" {
			assert.Equal(t, "0.37 ft³/s", f.Print+" "+f.Unit)
		}
		if f.Name == "Manning, full bore, as built" {
			assert.Zero(t, f.Value)
		}
	}
	n.Pipes[0].Shape = "egg"
	_, _, m = measurePipes(t, Pipe, p, n, unit.M, shots, 2)
	assert.Empty(t, m.(qa.Figurer).Figures())
}

func TestWordsOfPipeKeys(t *testing.T) {
	var v Viscosity
	var s Share
	var q FlowRate
	var z Nominal
	var l SizeLimit
	for _, x := range []struct {
		to   interface{ UnmarshalText([]byte) error }
		text string
		want any
	}{
		{&v, "1.14 mm2/s", Viscosity{1.14e-6}}, {&v, "1.14e-6 m2/s", Viscosity{1.14e-6}}, {&s, "75 %", Share{75}}, {&s, "12.5%", Share{12.5}},
		{&q, "12.5 L/s", FlowRate{0.0125}}, {&q, "2 m3/s", FlowRate{2}}, {&q, "1 ft3/s", FlowRate{0.028316846592}},
		{&z, "300 mm", Nominal{Length: mm(300)}}, {&z, "bore", Nominal{IsBore: true}},
	} {
		require.NoError(t, x.to.UnmarshalText([]byte(x.text)), x.text)
		switch to := x.to.(type) {
		case *Viscosity:
			assert.InEpsilon(t, x.want.(Viscosity).MetresSquared, to.MetresSquared, 1e-14)
		case *Share:
			assert.Equal(t, x.want, *to)
		case *FlowRate:
			assert.InEpsilon(t, x.want.(FlowRate).CubicMetres, to.CubicMetres, 1e-14)
		case *Nominal:
			assert.Equal(t, x.want, *to)
		}
	}
	for _, x := range []struct {
		to   interface{ UnmarshalText([]byte) error }
		text string
	}{{&v, "1.14"}, {&v, "-1 mm2/s"}, {&s, "100 %"}, {&s, "0 %"}, {&q, "12 l"}, {&q, "m3/s"}, {&q, ""}, {&z, "300"}, {&z, "crown"}, {&l, "5 %"}, {&l, "20"}} {
		assert.Error(t, x.to.UnmarshalText([]byte(x.text)), "%T %s", x.to, x.text)
	}
}

// Every limit has its source, and what cannot be is a fault of the job.
func TestFaultsOfPipeKeys(t *testing.T) {
	l := func(s string) *job.Length { return length(t, s) }
	size := func(s string) *SizeLimit { x, _ := limits.ParseSize(s); return &SizeLimit{x} }
	half := &job.Factor{Decimal: dec("0.013")}
	for _, x := range []struct {
		part job.Validator
		want []string
	}{
		{&SizeTolerance{}, []string{""}},
		{&SizeTolerance{Upper: size("5 mm")}, []string{"source"}},
		{&SizeTolerance{Upper: size("5 mm"), Lower: size("10 mm"), Source: "x"}, []string{"lower"}},
		{&SizeTolerance{Preset: "tauranga-gravity-pipe"}, nil},
		{&SizeTolerance{Preset: "no such"}, []string{"preset"}},
		{&SizeTolerance{Preset: "tauranga-gravity-pipe", Source: "x"}, []string{"preset"}},
		{&SagLimits{Source: "x"}, []string{""}},
		{&SagLimits{Source: "x", BelowLine: size("-5 mm")}, []string{"belowLine"}},
		{&SagLimits{Source: "x", Ponded: size("5 % of bore")}, nil},
		{&StepLimits{SizeTolerance: pipeLimits("", "5 mm")}, []string{""}},
		{&StepLimits{SizeTolerance: pipeLimits("", "5 mm"), Within: l("0 m")}, []string{"within"}},
		{&StepLimits{SizeTolerance: pipeLimits("", "5 mm"), Pairs: [][2]string{{"a", "b"}, {"c", "c"}}}, []string{"pairs[1]"}},
		{&Capacity{Source: "x"}, []string{""}},
		{&Capacity{Source: "x", Colebrook: l("1 mm")}, []string{"colebrookWhite"}},
		{&Capacity{Source: "x", Manning: &job.Factor{}}, []string{"manning"}},
		{&Capacity{Source: "x", Manning: half}, nil},
		{&PipeSize{Source: "x"}, []string{""}},
		{&PipeSize{Source: "x", Wall: l("0 mm"), Nominal: &Nominal{}}, []string{"nominal", "wall"}},
		{&CoverGround{}, []string{""}},
		{&CoverGround{Rims: true, Codes: []string{"G"}}, []string{""}},
		{&CoverGround{Rims: true}, nil},
		{&CoverParams{Cover: *l("-1 m")}, []string{"cover"}},
		{&PitsParams{Place: *l("-1 m"), Reach: l("0 m")}, []string{"place", "reach"}},
		{&PipeLineParams{OnPipes: OnPipes{Reach: l("-1 m")}}, []string{"reach"}},
		{&PipeParams{Base: l("10 m")}, []string{"base"}},
		{&PipeParams{Base: l("0 m"), LeastGrade: &job.Grade{}, GradeSource: "x"}, []string{"base"}},
	} {
		var got []string
		for _, f := range x.part.Validate() {
			got = append(got, f.Key)
			assert.NotEmpty(t, f.Text)
		}
		assert.Equal(t, x.want, got, "%+v", x.part)
	}
	set := &qa.Setting{Design: &convert.Design{Networks: map[string]*convert.Network{"n": straightDrain(unit.Millimetre, [2]int64{1300, 1000})}}, Frame: &convert.Frame{Unit: unit.M}}
	n := job.Common{Design: "n"}
	for _, x := range []struct {
		kind   *qa.Check
		params any
		want   string
	}{
		{Pipe, &PipeParams{}, "is no pipe network"},
		{Pits, &PitsParams{}, "is no pipe network"},
		{Pipe, &PipeParams{Common: n, Tolerance: SizeTolerance{Preset: "shw-base"}, Drop: &SizeTolerance{Preset: "shw-base"}}, "which is another quantity"},
		{Pipe, &PipeParams{Common: n, Tolerance: SizeTolerance{Preset: "carmel-sewer-line"}}, "which is another quantity"},
		{PipeLine, &PipeLineParams{Common: n, Tolerance: SizeTolerance{Preset: "tauranga-manhole-invert"}}, "which is another quantity"},
		{Pits, &PitsParams{Common: n, Names: map[string]string{"lid": "X"}}, `has no pit "X"`},
		{Pipe, &PipeParams{Common: n, Tolerance: pipeLimits("", "1 mm"), OnPipes: OnPipes{Pipes: []string{"X"}}}, `has no pipe "X"`},
		{Cover, &CoverParams{Common: n, Ground: CoverGround{Design: "g"}}, "is no surface, plane or level table"},
	} {
		_, err := x.kind.Start(x.params, set)
		assert.ErrorContains(t, err, x.want)
	}
	m, err := PipeLine.Start(&PipeLineParams{Common: n, Tolerance: SizeTolerance{Preset: "carmel-sewer-line"}}, set)
	require.NoError(t, err)
	assert.Equal(t, 3*unit.Inch, m.(*lineMeasurer).tolerance[0].Upper)
}

// Two pits within reach of one shot are told apart by name only.
func TestWhichPit(t *testing.T) {
	n := &convert.Network{Name: "N", Pits: []convert.Pit{{Name: "A", Placed: true}, {Name: "B", Placed: true, Place: convert.Place{E: mm(1500)}}, {Name: "C"}, {Name: "T", Placed: true, Place: convert.Place{E: mm(9000)}}, {Name: "T", Placed: true, Place: convert.Place{E: mm(9900)}}}}
	at := func(id string, e, north int64) convert.Shot {
		return convert.Shot{ID: id, Placed: true, Place: convert.Place{E: mm(e), N: mm(north)}, Use: convert.Assessed}
	}
	own, derived, _ := measurePipes(t, Pits, &PitsParams{Common: job.Common{Design: "n"}, Place: *length(t, "50 mm"), Source: "test", Names: map[string]string{"lid": "B"}}, n, unit.M,
		[]convert.Shot{at("A", 30, -40), at("lid", 1500, 0), at("x", 700, 0), at("C", 0, 0), at("T", 9000, 0)}, 2)
	var why []string
	for _, r := range own {
		why = append(why, r.Reason)
	}
	assert.Equal(t, []string{"30 mm east and 40 mm south of the design place of pit A", "0 mm east and 0 mm north of the design place of pit B",
		`pits A and B are both within 2.000 m; say which it is in "names" of the check`, "pit C has no place in the design", `two pits of the network N are named "T"`}, why)
	require.Len(t, derived, 3)
	assert.Equal(t, "the design gives this pit no place", derived[0].Reason)
}

// The schema takes what the program takes, and refuses what is plainly wrong.
func TestSchemaOfPipeKeys(t *testing.T) {
	for _, x := range []struct {
		schema  interface{ JSONSchema() *jsonschema.Schema }
		to      interface{ UnmarshalText([]byte) error }
		yes, no []string
	}{
		{SizeLimit{}, &SizeLimit{}, []string{"20 mm", "-20 mm", "5 % of DN", "5% of bore", "-lesser of 20 mm and 5 % of DN", "greater of 5 % of bore and 0.05 ft", "+0.5 in"}, []string{"20", "5 %", "5 % of OD", "lesser of 20 mm", "mm"}},
		{Nominal{}, &Nominal{}, []string{"300 mm", "bore", "12 in", "0.3 m"}, []string{"300", "the bore", "DN300"}},
		{Viscosity{}, &Viscosity{}, []string{"1.14 mm2/s", "1e-6 m2/s", "1.14 cSt"}, []string{"1.14", "1.14 mm2"}},
		{Share{}, &Share{}, []string{"75 %", "12.5%"}, []string{"0.75", "75"}},
		{FlowRate{}, &FlowRate{}, []string{"12.5 L/s", "0.44 ft3/s", "1 m3/s"}, []string{"12.5", "12 gpm"}},
	} {
		pattern := regexp.MustCompile(x.schema.JSONSchema().Pattern)
		for _, text := range x.yes {
			assert.Regexp(t, pattern, text)
			assert.NoError(t, x.to.UnmarshalText([]byte(text)), "%T %s", x.to, text)
		}
		for _, text := range x.no {
			assert.NotRegexp(t, pattern, text)
			assert.Error(t, x.to.UnmarshalText([]byte(text)), "%T %s", x.to, text)
		}
		for _, e := range x.schema.JSONSchema().Examples {
			assert.NoError(t, x.to.UnmarshalText([]byte(e.(string))))
		}
	}
}

// A pipe that comes in below the one that leaves is told, whatever the limit says.
func TestDropThatIsNone(t *testing.T) {
	n := straightDrain(unit.Millimetre, [2]int64{1300, 1000}, [2]int64{990, 700})
	wide := pipeLimits("-50 mm", "50 mm")
	p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: wide, Drop: &wide}
	_, rows, _ := measurePipes(t, Pipe, p, n, unit.M, []convert.Shot{pipeShot(unit.Millimetre, "P1", 3000, 985, 0), pipeShot(unit.Millimetre, "P2", 0, 990, 0)}, 2)
	drop := rowsOf(rows, qa.QuantityDrop)
	require.Len(t, drop, 1)
	assert.Equal(t, []unit.Length{mm(10), mm(-5), mm(-15)}, []unit.Length{drop[0].Design, drop[0].Measured, drop[0].Diff})
	assert.Equal(t, limits.Pass, drop[0].Verdict)
	assert.Equal(t, "P2 leaves 5 mm higher than P1 comes in: water stands back into it", drop[0].Note)

	p.Drop = nil
	_, rows, m := measurePipes(t, Pipe, p, n, unit.M, []convert.Shot{pipeShot(unit.Millimetre, "P1", 3000, 985, 0), pipeShot(unit.Millimetre, "P2", 0, 990, 0)}, 2)
	assert.Empty(t, rowsOf(rows, qa.QuantityDrop))
	assert.Equal(t, []qa.Figure{{Of: "P1 to P2 in B", Name: "design drop", Value: 10, Unit: "mm", Print: "10"}, {Of: "P1 to P2 in B", Name: "built drop", Value: -5, Unit: "mm", Print: "-5"}}, m.(qa.Figurer).Figures())

	// one shot on the common invert of both proves no drop
	n = straightDrain(unit.Millimetre, [2]int64{1300, 1000}, [2]int64{1000, 700})
	p.Drop = &wide
	one := pipeShot(unit.Millimetre, "P1", 3000, 1000, 0)
	one.Run = ""
	_, rows, m = measurePipes(t, Pipe, p, n, unit.M, []convert.Shot{one}, 1)
	assert.Empty(t, rowsOf(rows, qa.QuantityDrop))
	_, remarks := m.Finish()
	assert.Contains(t, remarks, "One shot stands for both pipes, so a drop between them cannot be seen: P1 to P2 in pit B.")
}

// Shots by chainage count from the end that the job names, and the ground over them
// is found by their place on the pipe.
func TestPipesByChainage(t *testing.T) {
	n := straightDrain(unit.Metre/100, [2]int64{1300, 1000}) // 30 m
	for _, x := range []struct {
		from     string
		chainage int64
		along    int64
		why      string
	}{{"upstream", 10_000, 10_000, ""}, {"downstream", 10_000, 20_000, ""}, {"", 10_000, 0, "does not say from which end chainage counts"}, {"upstream", 30_001, 0, "is outside pipe P1"}} {
		s := convert.Shot{ID: "s", Run: "P1", Staffed: "invert", Chained: true, Chainage: mm(x.chainage), Level: mm(11_000), Levelled: true, Use: convert.Assessed}
		p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: pipeLimits("-5 m", "5 m"), OnPipes: OnPipes{ChainageFrom: x.from}}
		own, _, _ := measurePipes(t, Pipe, p, n, unit.M, []convert.Shot{s}, 1)
		assert.Contains(t, own[0].Reason, x.why)
		if x.why == "" {
			assert.Equal(t, mm(x.along), own[0].Along)
		}
		ground := s
		ground.Code, ground.Staffed, ground.Level = "G", "", mm(50_000)
		c := &CoverParams{Common: job.Common{Design: "n"}, OnPipes: OnPipes{ChainageFrom: x.from}, Ground: CoverGround{Codes: []string{"G"}}}
		own, derived, _ := measurePipes(t, Cover, c, n, unit.M, []convert.Shot{s, ground}, 1)
		assert.Contains(t, own[1].Reason, x.why)
		if x.why == "" {
			require.Len(t, derived, 2)
			assert.Equal(t, mm(50_000-11_000-3_400), derived[1].Diff)
		}
	}
	assert.Equal(t, convert.Place{N: 10 * unit.Metre}, n.PlaceOn(0, 10*unit.Metre))
	n.Pipes[0].USSetback, n.Pipes[0].DSSetback, n.Pipes[0].Length = unit.Metre, unit.Metre, 28*unit.Metre
	assert.Equal(t, convert.Place{N: 11 * unit.Metre}, n.PlaceOn(0, 10*unit.Metre))
}

// A pipe that cannot be judged is told by every check, and no drop is taken from it.
func TestBadPipe(t *testing.T) {
	n := straightDrain(unit.Millimetre, [2]int64{1300, 1000}, [2]int64{1000, 700})
	n.Pipes[1].Bad = "its two pits are at one place"
	wide := pipeLimits("-50 mm", "50 mm")
	own, rows, _ := measurePipes(t, Pipe, &PipeParams{Common: job.Common{Design: "n"}, Tolerance: wide, Drop: &wide, Sag: &SagLimits{BelowDesign: wide.Upper}}, n, unit.M, []convert.Shot{pipeShot(unit.Millimetre, "P2", 1500, 850, 0)}, 1)
	assert.Equal(t, "nothing can be judged on pipe P2: its two pits are at one place", own[0].Reason)
	require.Len(t, rows, 2)
	assert.Equal(t, "its two pits are at one place", rows[1].Reason)
	_, rows, _ = measurePipes(t, PipeLine, &PipeLineParams{Common: job.Common{Design: "n"}, Tolerance: wide}, n, unit.M, nil, 1)
	assert.Equal(t, []string{"no shot on this pipe was assessed", "its two pits are at one place"}, []string{rows[0].Reason, rows[1].Reason})
	_, rows, _ = measurePipes(t, Cover, &CoverParams{Common: job.Common{Design: "n"}, Ground: CoverGround{Codes: []string{"G"}}}, n, unit.M, nil, 1)
	assert.Equal(t, "its two pits are at one place", rows[1].Reason)
}
