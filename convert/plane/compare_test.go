package plane

import (
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
		"three in line askew": {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 20, 20, 0, 0), peg("C", 40, 40, 0, 0)}, proves: true},
		"three along":         {pegs: []Peg{peg("A", 0, 0, 0, 0), peg("B", 0, 20, 0, 1*mm), peg("C", 1, 40, 0, 2*mm)}, along: Within, alongGrade: "0.005 %", proves: true},
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
			}
			if x.crossGrade != "" {
				assert.Equal(t, x.crossGrade, d.Across.Grade.Percent())
			} else {
				assert.NotEmpty(t, d.Across.Why)
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
		assert.InDelta(t, later.Along.Ratio()-p.Along.Ratio(), d.Along.Grade.Ratio(), 1e-9)
		assert.InDelta(t, later.Across.Ratio()-p.Across.Ratio(), d.Across.Grade.Ratio(), 1e-9)
	})
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
