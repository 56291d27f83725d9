package plane

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func peg(name string, e, n int, before, after unit.Length) Peg {
	return Peg{name, Place{unit.Length(e) * unit.Metre, unit.Length(n) * unit.Metre}, before, after}
}

const mm = unit.Millimetre

// What pegs can tell: common practice, no published source. The axis runs north.
func TestWhatPegsTell(t *testing.T) {
	p := &Plane{Axis: bearing(t, "0 deg"), Along: grade(t, "1 %")}
	three, tenth := 3*mm, grade(t, "0.1 mm/m")
	lim := Limits{Level: &three, Grade: &tenth}
	for name, x := range map[string]struct {
		pegs                   []Peg
		along, across          State
		alongGrade, crossGrade string
		outside, proves        bool
	}{
		"none":            {},
		"one":             {pegs: []Peg{peg("A", 0, 50, 0, 3*mm)}, proves: true},
		"one, beyond":     {pegs: []Peg{peg("A", 0, 50, 0, 3*mm+1)}, outside: true},
		"two along":       {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 1, 30, 0, 3*mm)}, along: Within, alongGrade: "0.010 %", proves: true},
		"two along, over": {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 29, 0, 3*mm)}, along: Outside, alongGrade: "0.010 %", outside: true},
		"two across":      {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", -40, 1, 0, 2*mm)}, across: Within, crossGrade: "-0.005 %", proves: true},
		"two askew":       {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 30, 30, 0, 2*mm)}, proves: true},
		"two close":       {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 9, 0, 2*mm)}, proves: true},
		"three, not in line": {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 40, 0, 2*mm), peg("C", 40, 0, 0, -2*mm)}, along: Within, across: Within,
			alongGrade: "0.005 %", crossGrade: "-0.005 %", proves: true},
		"three in line askew":  {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 20, 20, 0, 0), peg("C", 40, 40, 0, 0)}, proves: true},
		"three across, narrow": {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 15, 5, 0, 0), peg("C", 30, 0, 0, 3*mm)}, across: Within, crossGrade: "0.010 %", proves: true},
		"three, too narrow":    {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 2, 15, 0, 0), peg("C", 0, 30, 0, 3*mm)}, proves: true},
		"three in one place":   {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 0, 0, 0), peg("C", 0, 0, 0, 0)}, proves: true},
		"four, two together":   {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("A", 0, 0, 0, 0), peg("B", 0, 20, 0, 2*mm), peg("B", 0, 20, 0, 2*mm)}, along: Within, alongGrade: "0.010 %", proves: true},
		"three along":          {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 20, 0, 1*mm), peg("C", 1, 40, 0, 2*mm)}, along: Within, alongGrade: "0.005 %", proves: true},
	} {
		t.Run(name, func(t *testing.T) {
			d := Compare(p, x.pegs, lim)
			require.Len(t, d.Levels, len(x.pegs))
			assert.Equal(t, x.along, d.Along.State, d.Along.State.String())
			assert.Equal(t, x.across, d.Across.State, d.Across.State.String())
			assert.Equal(t, NotObserved, d.Direction.State)
			if x.alongGrade != "" {
				assert.Equal(t, x.alongGrade, d.Along.Grade.Percent())
			} else {
				assert.NotEmpty(t, d.Along.Why)
				assert.Zero(t, d.Along.Grade)
			}
			if x.crossGrade != "" {
				assert.Equal(t, x.crossGrade, d.Across.Grade.Percent())
			} else {
				assert.NotEmpty(t, d.Across.Why)
				assert.Zero(t, d.Across.Grade)
			}
			assert.Equal(t, x.outside, d.Outside())
			assert.Equal(t, x.proves, d.Proves())
		})
	}
	d := Compare(p, []Peg{peg("A", 0, 50, 0, mm)}, Limits{})
	assert.Equal(t, NotJudged, d.Levels[0].State)
	assert.False(t, d.Proves(), "without a limit nothing is proved")
}

// A drift that is put into a plane is found again: its grades to a nanometre per
// metre, wherever the pegs can tell them.
func TestDriftIsFound(t *testing.T) {
	found := 0
	rapid.Check(t, func(t *rapid.T) {
		p := &Plane{Axis: bearing2(rapid.Float64Range(0, 360).Draw(t, "bearing")), Along: grade(t, "1.5 %"), Across: grade(t, "-1 %"), Level: 20 * unit.Metre}
		later := *p
		later.Level += unit.Length(rapid.Int64Range(-5, 5).Draw(t, "level")) * mm
		later.Along.Rise += unit.Length(rapid.Int64Range(-100, 100).Draw(t, "along")) * later.Along.Run / 1_000_000
		later.Across.Rise += unit.Length(rapid.Int64Range(-100, 100).Draw(t, "across")) * later.Across.Run / 1_000_000
		var pegs []Peg
		for i := range rapid.IntRange(3, 8).Draw(t, "pegs") {
			at := Place{unit.Length(rapid.Int64Range(-200, 200).Draw(t, "e")) * unit.Metre, unit.Length(rapid.Int64Range(-200, 200).Draw(t, "n")) * unit.Metre}
			a, err := p.At(at)
			require.NoError(t, err)
			b, err := later.At(at)
			require.NoError(t, err)
			pegs = append(pegs, Peg{string(rune('A' + i)), at, a, b})
		}
		d := Compare(p, pegs, Limits{})
		if d.Along.State == NotObserved || d.Across.State == NotObserved {
			return
		}
		found++
		assert.InDelta(t, later.Along.Ratio()-p.Along.Ratio(), d.Along.Grade.Ratio(), 1e-9)
		assert.InDelta(t, later.Across.Ratio()-p.Across.Ratio(), d.Across.Grade.Ratio(), 1e-9)
	})
	assert.NotZero(t, found)
}

func TestTurned(t *testing.T) {
	limit := grade(t, "0.1 mm/m")
	g := Turned(Sight{2 * mm, 100 * unit.Metre}, Sight{10 * mm, 80 * unit.Metre}, &limit)
	assert.Equal(t, unit.Grade{Rise: 84 * mm / 10, Run: 80 * unit.Metre}, g.Grade)
	assert.Equal(t, Outside, g.State)
	assert.Equal(t, Within, Turned(Sight{0, 100 * unit.Metre}, Sight{-10 * mm, 100 * unit.Metre}, &limit).State, "on the limit")
	assert.Equal(t, Outside, Turned(Sight{0, 100 * unit.Metre}, Sight{-10*mm - 1, 100 * unit.Metre}, &limit).State)
	assert.Equal(t, NotJudged, Turned(Sight{0, unit.Metre}, Sight{0, unit.Metre}, nil).State)
	assert.Equal(t, NotObserved, Turned(Sight{}, Sight{0, unit.Metre}, &limit).State)
}

// On the limit passes in every unit.
func TestLevelDriftOnTheLimit(t *testing.T) {
	p := &Plane{Axis: bearing(t, "0 deg")}
	for _, u := range []unit.Unit{unit.M, unit.Ft, unit.FtUS} {
		for n := range 200 {
			l := unit.Length(n) * u.Size / 1000
			for _, d := range []unit.Length{l, -l} {
				assert.Equal(t, Within, Compare(p, []Peg{peg("A", 0, 0, 7*u.Size, 7*u.Size+d)}, Limits{Level: &l}).Levels[0].State)
				beyond := d + unit.Length(max(1, d.Sign()))
				if d < 0 {
					beyond = d - 1
				}
				assert.Equal(t, Outside, Compare(p, []Peg{peg("A", 0, 0, 7*u.Size, 7*u.Size+beyond)}, Limits{Level: &l}).Levels[0].State)
			}
		}
	}
}

// Drifts in whole counts are found to the count and judged to the count: on the
// limit of either grade they are within it, and with a limit one part in 10^10
// less they are not, in every unit.
func TestFittedGradeOnTheLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]unit.Unit{unit.M, unit.Ft, unit.FtUS}).Draw(t, "unit")
		part := func(what string, size int64) unit.Length {
			return unit.Length(rapid.Int64Range(-size, size).Draw(t, what))
		}
		level, g, c := part("level in thousandths", 20), part("along in 0.01 mm/m", 30), part("across in 0.01 mm/m", 30)
		p := &Plane{Axis: bearing(t, "90 deg")} // s is east, t is south
		var pegs []Peg
		places := [][2]unit.Length{{0, 0}, {200, 10}, {20, -150}, {part("e", 200), part("n", 200)}, {part("e", 200), part("n", 200)}}
		for _, at := range places[:rapid.IntRange(3, 5).Draw(t, "pegs")] {
			d := level*u.Size/1000 + (g*at[0]-c*at[1])*(u.Size/100_000)
			pegs = append(pegs, Peg{At: Place{at[0] * u.Size, at[1] * u.Size}, Before: 7 * u.Size, After: 7*u.Size + d})
		}
		hundredths := func(x unit.Length) unit.Grade {
			return unit.Grade{Rise: x * unit.Metre / 100, Run: kilometre}
		}
		limit := hundredths(max(g.Abs(), c.Abs()))
		d := Compare(p, pegs, Limits{Grade: &limit})
		require.Equal(t, hundredths(g), d.Along.Grade)
		require.Equal(t, hundredths(c), d.Across.Grade)
		require.Equal(t, [2]State{Within, Within}, [2]State{d.Along.State, d.Across.State})
		require.Equal(t, level*u.Size/1000, d.Levels[0].Drift)

		limit.Rise, limit.Run = limit.Rise*1000-1, limit.Run*1000 // hardly less
		d = Compare(p, pegs, Limits{Grade: &limit})
		is := map[bool]State{true: Outside, false: Within}
		require.Equal(t, is[g.Abs() >= c.Abs()], d.Along.State)
		require.Equal(t, is[c.Abs() >= g.Abs()], d.Across.State)
	})
}

// A grade of two pegs on its limit, and one count over it.
func TestTwoPegsOnTheLimit(t *testing.T) {
	for _, u := range []unit.Unit{unit.M, unit.Ft, unit.FtUS} {
		for n := range unit.Length(40) { // thousandths over 40
			limit := unit.Grade{Rise: n, Run: 40_000}
			p := &Plane{Axis: bearing(t, "0 deg")}
			at := Place{N: 40 * u.Size}
			for _, d := range []unit.Length{n * u.Size / 1000, -n * u.Size / 1000} {
				pegs := []Peg{{At: Place{}}, {At: at, After: d}}
				assert.Equal(t, Within, Compare(p, pegs, Limits{Grade: &limit}).Along.State)
				pegs[1].After += unit.Length(max(1, d.Sign()))
				if d < 0 {
					pegs[1].After = d - 1
				}
				assert.Equal(t, Outside, Compare(p, pegs, Limits{Grade: &limit}).Along.State)
			}
		}
	}
}

// What cannot be judged is not judged: a limit without a run, a peg out of range.
func TestNoLimitNoVerdict(t *testing.T) {
	p := &Plane{Axis: bearing(t, "0 deg")}
	pegs := []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 40, 0, unit.Metre)}
	d := Compare(p, pegs, Limits{Grade: &unit.Grade{}})
	assert.Equal(t, NotJudged, d.Along.State, "the zero Grade limits nothing, and passes nothing")
	assert.Equal(t, NotJudged, Turned(Sight{0, unit.Metre}, Sight{unit.Metre, unit.Metre}, &unit.Grade{}).State)
	zero := unit.Length(0)
	assert.Equal(t, Outside, Compare(p, pegs, Limits{Level: &zero}).Levels[1].State, "a limit of nought is a limit")

	far := Peg{"far", Place{N: unit.MaxLength, E: -unit.MaxLength}, 0, 0}
	d = Compare(p, []Peg{far, peg("B", 0, -40, 0, 0)}, Limits{Level: &zero})
	assert.Equal(t, NotObserved, d.Along.State, "too far to reckon with")
	assert.Equal(t, Within, d.Levels[0].State)
	d = Compare(p, []Peg{{"wide", Place{}, -unit.MaxLength, unit.MaxLength}}, Limits{Level: &zero})
	assert.Equal(t, NotObserved, d.Levels[0].State)
	assert.NotEmpty(t, d.Levels[0].Why)
	assert.False(t, d.Proves())
	d = Compare(p, []Peg{{"A", Place{}, 0, 0}, {"B", Place{N: MinBase}, 0, unit.MaxLength}}, Limits{})
	assert.Equal(t, NotObserved, d.Along.State, "steeper than can be written")
	assert.Contains(t, d.Along.Why, "beyond")
	g := Turned(Sight{-unit.MaxLength, unit.Metre}, Sight{unit.MaxLength, unit.Metre}, nil)
	assert.Equal(t, NotObserved, g.State)
	assert.NotEmpty(t, g.Why)
}

// Without an axis the grades that pegs tell are those along grid north and east.
func TestCompareLevelPlanes(t *testing.T) {
	d := Compare(&Plane{}, []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 40, 0, 2*mm), peg("C", 40, 0, 0, -4*mm)}, Limits{})
	assert.Equal(t, [2]string{"0.005 %", "-0.010 %"}, [2]string{d.Along.Grade.Percent(), d.Across.Grade.Percent()})
}

// The words of a report.
func TestStateWords(t *testing.T) {
	var zero State
	assert.Equal(t, "not observed", zero.String())
	for s, word := range map[State]string{NotJudged: "no limit given", Within: "within its limit", Outside: "outside its limit"} {
		assert.Equal(t, word, s.String())
	}
}

// Standard uncertainties by hand: two readings of 1 mm are 1.41 mm; over 40 m at
// either end 0.05 mm/m; with two marks of 3 mm each 4.47 mm of level.
func TestUncertaintyByHand(t *testing.T) {
	p := &Plane{Axis: bearing(t, "0 deg")}
	d := Compare(p, []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 40, 0, 0)}, Limits{})
	u, ok := d.Levels[0].U(1, 0)
	assert.True(t, ok)
	assert.InDelta(t, math.Sqrt2, u, 1e-12)
	u, _ = d.Levels[0].U(1, 3)
	assert.InDelta(t, math.Sqrt(20), u, 1e-12)
	u, ok = d.Along.U(1)
	assert.True(t, ok)
	assert.InDelta(t, 2.0/40, u, 1e-12)
	for _, g := range []GradeDrift{d.Across, d.Direction} {
		_, ok = g.U(1)
		assert.False(t, ok, "not observed has no uncertainty, and is not certain")
	}
	_, ok = LevelDrift{}.U(1, 1)
	assert.False(t, ok)
	// offsets of 2 mm at 100 m: 2/100 and 2/100 mm/m
	u, ok = Turned(Sight{0, 100 * unit.Metre}, Sight{0, 100 * unit.Metre}, nil).U(2)
	assert.True(t, ok)
	assert.InDelta(t, math.Sqrt2*2/100, u, 1e-12)
	u, _ = Turned(Sight{0, 50 * unit.Metre}, Sight{0, 100 * unit.Metre}, nil).U(2)
	assert.InDelta(t, math.Hypot(2.0/50, 2.0/100), u, 1e-12)
}

// Stated uncertainties against the scatter of 10,000 drawn set-ups, within 3 %.
func TestUncertaintyByMonteCarlo(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	p := &Plane{Axis: bearing(t, "65 deg")}
	const reading, mark, runs = 1.5, 2.5, 10_000
	draw := func(mm float64) unit.Length {
		return unit.Length(random.NormFloat64() * mm * float64(unit.Millimetre))
	}
	pegs := []Peg{peg("A", 0, 0, 0, 0), peg("B", 60, 5, 0, 0), peg("C", -10, 44, 0, 0), peg("D", 30, 70, 0, 0)}
	var level, along, across, direction float64
	var last *Drift
	for range runs {
		before, after := draw(mark), draw(mark)
		for i := range pegs {
			pegs[i].Before, pegs[i].After = before+draw(reading), after+draw(reading)
		}
		last = Compare(p, pegs, Limits{})
		last.Direction = Turned(Sight{draw(reading), 80 * unit.Metre}, Sight{draw(reading), 120 * unit.Metre}, nil)
		square := func(x float64) float64 { return x * x / runs }
		level += square(last.Levels[2].Drift.Millimetres())
		along += square(last.Along.Grade.Ratio() * 1000)
		across += square(last.Across.Grade.Ratio() * 1000)
		direction += square(last.Direction.Grade.Ratio() * 1000)
	}
	u, _ := last.Levels[2].U(reading, mark)
	assert.InEpsilon(t, math.Sqrt(level), u, 0.03)
	for name, x := range map[string]struct {
		d       GradeDrift
		scatter float64
	}{"along": {last.Along, along}, "across": {last.Across, across}, "direction": {last.Direction, direction}} {
		u, ok := x.d.U(reading)
		require.True(t, ok)
		assert.InEpsilon(t, math.Sqrt(x.scatter), u, 0.03, name)
	}
}
