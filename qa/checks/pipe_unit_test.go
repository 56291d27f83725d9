package checks

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// straightDrain is a network of one or more pipes end to end along the northing, each
// with its two design inverts, the pits 3000 steps apart. Its step is one digit of a
// staff: 1 mm, 0.01 ft, 1/16 inch.
func straightDrain(step unit.Length, inverts ...[2]int64) *convert.Network {
	n := &convert.Network{Name: "N"}
	for i := range len(inverts) + 1 {
		n.Pits = append(n.Pits, convert.Pit{Name: string(rune('A' + i)), Placed: true, Place: convert.Place{N: step * unit.Length(3000*i)}, Rim: 5000 * step, HasRim: true})
	}
	for i, v := range inverts {
		n.Pipes = append(n.Pipes, convert.Pipe{Name: "P" + string(rune('1'+i)), US: i, DS: i + 1, USInvert: step * unit.Length(v[0]), DSInvert: step * unit.Length(v[1]), Length: 3000 * step, Bore: 300 * step, Wall: 40 * step, Shape: "circular"})
	}
	return n
}

// pipeShot is a shot on a pipe, all in steps; extra is in counts.
func pipeShot(step unit.Length, run string, along, level int64, extra unit.Length) convert.Shot {
	pipe := int64(run[1] - '1')
	return convert.Shot{ID: run, Run: run, Staffed: "invert", Place: convert.Place{N: step * unit.Length(along+3000*pipe)}, Placed: true, Level: step*unit.Length(level) + extra, Levelled: true, Use: convert.Assessed}
}

// measurePipes runs a check over shots, in batches of a size, and returns the rows of the
// shots and those worked out.
func measurePipes(t rapid.TB, kind *qa.Check, params any, n *convert.Network, u unit.Unit, shots []convert.Shot, batch int) (own, derived []qa.Row, m qa.Measurer) {
	t.Helper()
	m, err := kind.Start(params, &qa.Setting{Design: &convert.Design{Networks: map[string]*convert.Network{"n": n}}, Frame: &convert.Frame{Unit: u}})
	require.NoError(t, err)
	own = make([]qa.Row, len(shots))
	for i := range shots {
		shots[i].Pos = formats.Pos{File: "book.csv", Row: i + 2}
		own[i].Shot = shots[i]
	}
	for i := 0; i < len(shots); i += batch {
		k := min(i+batch, len(shots))
		m.Batch(shots[i:k], own[i:k])
	}
	derived, _ = m.Finish()
	return own, derived, m
}

// Exactly on the limit passes and one count beyond it fails, for every limit of the
// checks of pipes and in every unit that a staff has.
func TestPipesOnTheirLimitsInEveryUnit(t *testing.T) {
	for _, x := range []struct {
		name string
		unit unit.Unit
		step unit.Length
	}{{"1 mm", unit.M, unit.Millimetre}, {"0.01 ft", unit.Ft, unit.InternationalFoot / 100}, {"0.01 ftUS", unit.FtUS, unit.USSurveyFoot / 100}, {"1/16 in", unit.In, unit.Inch / 16}} {
		s := x.step
		steps := func(n int64) *job.Length { return &job.Length{Length: s * unit.Length(n)} }
		size := func(n int64) *SizeLimit {
			return &SizeLimit{limits.Size{Fixed: (s * unit.Length(n)).Abs(), HasFixed: true, Below: n < 0}}
		}
		both := func(n int64) SizeTolerance {
			return SizeTolerance{Lower: size(-n), Upper: size(n), Source: "test"}
		}
		wide := both(5000)
		share := &SizeLimit{limits.Size{Percent: dec("5"), Of: "bore"}} // 15 steps
		params := func(change func(*PipeParams)) *PipeParams {
			p := &PipeParams{Common: job.Common{Design: "n"}, Tolerance: wide, Backfall: steps(9000), BackfallFrom: "test"}
			change(p)
			return p
		}
		grade := &job.Grade{Grade: unit.Grade{Rise: 1, Run: 10}}
		// the pipe falls 300 steps in 3000
		ends := func(between ...convert.Shot) []convert.Shot {
			return append([]convert.Shot{pipeShot(s, "P1", 0, 1300, 0), pipeShot(s, "P1", 3000, 1000, 0)}, between...)
		}
		for _, c := range []struct {
			name   string
			params *PipeParams
			q      qa.Quantity
			at     int // the row of the quantity
			shots  func(extra unit.Length) []convert.Shot
			sign   unit.Length // that fails
		}{
			{"invert above", params(func(p *PipeParams) { p.Tolerance = both(10) }), qa.QuantityInvert, 2, func(e unit.Length) []convert.Shot { return ends(pipeShot(s, "P1", 1500, 1160, e)) }, 1},
			{"invert below", params(func(p *PipeParams) { p.Tolerance = both(10) }), qa.QuantityInvert, 2, func(e unit.Length) []convert.Shot { return ends(pipeShot(s, "P1", 1500, 1140, e)) }, -1},
			{"invert by size", params(func(p *PipeParams) { p.Tolerance = SizeTolerance{Upper: share, Source: "test"} }), qa.QuantityInvert, 2, func(e unit.Length) []convert.Shot { return ends(pipeShot(s, "P1", 1500, 1165, e)) }, 1},
			{"invert in a pit", params(func(p *PipeParams) { w := both(7); p.PitTolerance = &w }), qa.QuantityInvert, 0, func(e unit.Length) []convert.Shot {
				return []convert.Shot{pipeShot(s, "P1", 0, 1307, e)}
			}, 1},
			{"backfall", params(func(p *PipeParams) { p.Backfall = steps(4) }), qa.QuantityBackfall, 1, func(e unit.Length) []convert.Shot {
				return ends(pipeShot(s, "P1", 1500, 1150, 0), pipeShot(s, "P1", 1600, 1154, e))
			}, 1},
			{"no backfall", params(func(p *PipeParams) { p.Backfall = nil }), qa.QuantityBackfall, 1, func(e unit.Length) []convert.Shot {
				return ends(pipeShot(s, "P1", 1500, 1150, 0), pipeShot(s, "P1", 1600, 1150, e))
			}, 1},
			{"grade", params(func(p *PipeParams) { p.LeastGrade = grade }), qa.QuantityGrade, 0, func(e unit.Length) []convert.Shot {
				return []convert.Shot{pipeShot(s, "P1", 0, 1300, e), pipeShot(s, "P1", 3000, 1000, 0)}
			}, -1},
			{"fall over the base", params(func(p *PipeParams) { p.LeastGrade, p.Base = grade, steps(1000) }), qa.QuantityFall, 0, func(e unit.Length) []convert.Shot { return ends(pipeShot(s, "P1", 1000, 1200, e)) }, 1},
			{"sag below design", params(func(p *PipeParams) { p.Sag = &SagLimits{BelowDesign: size(12), Source: "test"} }), qa.QuantitySag, 0, func(e unit.Length) []convert.Shot { return ends(pipeShot(s, "P1", 1500, 1138, e)) }, -1},
			{"sag below line", params(func(p *PipeParams) { p.Sag = &SagLimits{BelowLine: share, Source: "test"} }), qa.QuantitySag, 0, func(e unit.Length) []convert.Shot {
				return []convert.Shot{pipeShot(s, "P1", 0, 1310, 0), pipeShot(s, "P1", 1500, 1140, e), pipeShot(s, "P1", 3000, 1000, 0)}
			}, -1},
			{"ponded depth", params(func(p *PipeParams) { p.Sag = &SagLimits{Ponded: size(5), Source: "test"} }), qa.QuantitySag, 0, func(e unit.Length) []convert.Shot {
				return ends(pipeShot(s, "P1", 1500, 1100, e), pipeShot(s, "P1", 2000, 1105, 0))
			}, -1},
			{"invert line", params(func(p *PipeParams) { w := both(6); p.InvertLine = &w }), qa.QuantityInvertLine, 0, func(e unit.Length) []convert.Shot { return ends(pipeShot(s, "P1", 1000, 1206, e)) }, 1},
			{"step", params(func(p *PipeParams) { p.Step = &StepLimits{Within: steps(100), SizeTolerance: both(6)} }), qa.QuantityStep, 0, func(e unit.Length) []convert.Shot {
				return ends(pipeShot(s, "P1", 1500, 1150, 0), pipeShot(s, "P1", 1600, 1146, e))
			}, 1},
			{"drop", params(func(p *PipeParams) { w := both(10); p.Drop = &w }), qa.QuantityDrop, 0, func(e unit.Length) []convert.Shot {
				return []convert.Shot{pipeShot(s, "P1", 3000, 1010, e), pipeShot(s, "P2", 0, 980, 0)}
			}, 1},
		} {
			for _, extra := range []unit.Length{0, c.sign} {
				own, derived, _ := measurePipes(t, Pipe, c.params, straightDrain(s, [2]int64{1300, 1000}, [2]int64{980, 680}), x.unit, c.shots(extra), 100)
				all := derived
				if c.q == qa.QuantityInvert {
					all = own
				}
				r := rowsOf(all, c.q)[c.at]
				want := limits.Pass
				if extra != 0 {
					want = limits.Fail
				}
				assert.Equal(t, want, r.Verdict, "%s, %s, %d count beyond: %s", x.name, c.name, extra, r.Reason)
				assert.Equal(t, extra != 0, r.Beyond != 0, "%s, %s", x.name, c.name)
			}
		}
		n := straightDrain(s, [2]int64{1300, 1000})
		for _, extra := range []unit.Length{0, 1} {
			want := limits.Pass
			if extra != 0 {
				want = limits.Fail
			}
			cover := &CoverParams{Common: job.Common{Design: "n"}, Cover: *steps(3510), Source: "test", Ground: CoverGround{Rims: true}}
			own, _, _ := measurePipes(t, Cover, cover, n, x.unit, []convert.Shot{pipeShot(s, "P1", 1500, 1150, extra)}, 1)
			assert.Equal(t, want, own[0].Verdict, "%s, cover", x.name) // 5000 − 1150 − 340
			plan := pipeShot(s, "P1", 1500, 1150, 0)
			plan.Place.E = 25*s + extra
			own, _, _ = measurePipes(t, PipeLine, &PipeLineParams{Common: job.Common{Design: "n"}, Tolerance: both(25)}, n, x.unit, []convert.Shot{plan}, 1)
			assert.Equal(t, want, own[0].Verdict, "%s, line", x.name)
			pit := pipeShot(s, "P1", 0, 0, 0)
			pit.Place = convert.Place{E: 30 * s, N: 40*s + extra}
			own, _, _ = measurePipes(t, Pits, &PitsParams{Common: job.Common{Design: "n"}, Place: *steps(50), Source: "test", Pits: []string{"A"}, Reach: steps(500)}, n, x.unit, []convert.Shot{pit}, 1)
			assert.Equal(t, want, own[0].Verdict, "%s, place", x.name)
		}
	}
}

func rowsOf(rows []qa.Row, q qa.Quantity) (out []qa.Row) {
	for i := range rows {
		if rows[i].Quantity == q {
			out = append(out, rows[i])
		}
	}
	return out
}

// A shot that is kept has texts of its own, also where it has only one.
func TestDetachedShotKeepsNoBatch(t *testing.T) {
	whole := convert.Shot{ID: "P1", Code: "INV", Layer: "SW", Run: "L1", Staffed: "invert", Time: "09:00"}
	one := convert.Shot{ID: "P1"}
	for _, s := range []*convert.Shot{&whole, &one} {
		assert.Equal(t, *s, detached(s))
		assert.Equal(t, 1.0, testing.AllocsPerRun(100, func() { kept = detached(s) }), "one text for all")
	}
}

var kept convert.Shot
