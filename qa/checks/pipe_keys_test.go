package checks

import (
	"testing"

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
	n := straight(unit.Millimetre, [2]int64{1003, 1000})
	n.Pipes[0].Bore = mm(200)
	q := FlowRate{0.01}
	p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: limit("-20 mm", "20 mm"),
		Capacity: &Capacity{Manning: &job.Factor{Decimal: dec("0.013")}, Colebrook: &job.Length{Length: mm(1)}, Viscosity: &Viscosity{1.14e-6}, PartFull: &Share{50}, Flows: map[string]FlowRate{"P1": q, "P9": q}, Source: "test"}}
	shots := []convert.Shot{on(unit.Millimetre, "P1", 0, 1003, 0), on(unit.Millimetre, "P1", 3000, 1002, 0)}
	_, _, m := measure(t, Pipe, p, n, unit.M, shots, 2)
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
	_, _, m = measure(t, Pipe, p, n, unit.Ft, shots, 2)
	for _, f := range m.(qa.Figurer).Figures() {
		if f.Name == "Manning, full bore, design" {
			assert.Equal(t, "0.37 ft³/s", f.Print+" "+f.Unit)
		}
		if f.Name == "Manning, full bore, as built" {
			assert.Zero(t, f.Value)
		}
	}
	n.Pipes[0].Shape = "egg"
	_, _, m = measure(t, Pipe, p, n, unit.M, shots, 2)
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
		{&StepLimits{SizeTolerance: limit("", "5 mm")}, []string{""}},
		{&StepLimits{SizeTolerance: limit("", "5 mm"), Within: l("0 m")}, []string{"within"}},
		{&StepLimits{SizeTolerance: limit("", "5 mm"), Pairs: [][2]string{{"a", "b"}, {"c", "c"}}}, []string{"pairs[1]"}},
		{&Capacity{Source: "x"}, []string{""}},
		{&Capacity{Source: "x", Colebrook: l("1 mm")}, []string{"colebrookWhite"}},
		{&Capacity{Source: "x", Manning: &job.Factor{}}, []string{"manning"}},
		{&Capacity{Source: "x", Manning: half}, nil},
		{&PipeSize{Source: "x"}, []string{""}},
		{&PipeSize{Source: "x", Wall: l("0 mm"), Nominal: &Nominal{}}, []string{"nominal", "wall"}},
		{&Ground{}, []string{""}},
		{&Ground{Rims: true, Codes: []string{"G"}}, []string{""}},
		{&Ground{Rims: true}, nil},
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
	set := &qa.Setting{Design: &convert.Design{Networks: map[string]*convert.Network{"n": straight(unit.Millimetre, [2]int64{1300, 1000})}}, Frame: &convert.Frame{Unit: unit.M}}
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
		{Pipe, &PipeParams{Common: n, Tolerance: limit("", "1 mm"), OnPipes: OnPipes{Pipes: []string{"X"}}}, `has no pipe "X"`},
		{Cover, &CoverParams{Common: n, Ground: Ground{Design: "g"}}, "is no surface, plane or level table"},
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
	own, derived, _ := measure(t, Pits, &PitsParams{Common: job.Common{Design: "n"}, Place: *length(t, "50 mm"), Source: "test", Names: map[string]string{"lid": "B"}}, n, unit.M,
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
