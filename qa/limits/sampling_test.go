package limits

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

// figuresOf takes the numbers out of a rule, in order.
func figuresOf(t *testing.T, rule string, want ...string) {
	t.Helper()
	assert.Equal(t, want, figure.FindAllString(rule, -1), rule)
}

// lotWith is a lot of so many values on their limit, the ones at the places given
// one count beyond it, or so much.
func lotWith(n int, limit, past unit.Length, bad ...int) *Lot {
	tol := Tolerance{Upper: limit, HasUpper: true}
	var lot Lot
	for i := range n {
		d := limit
		for _, b := range bad {
			if b == i {
				d += past
			}
		}
		v, beyond := tol.Judge(d)
		lot.Add(d, tol, v, beyond)
	}
	return &lot
}

// Rules of acceptance of testdata/worked/quality/sampling-rules.csv, each with a
// lot on its limit and one beyond. The rules and their figures are those of the
// sources named there; the lots are made up. Rows of status memory are no outside
// agreement. The other rows are about where to take levels, and about instruments.
func TestPublishedSamplingRules(t *testing.T) {
	const mm = unit.Millimetre
	rules := map[string]func(t *testing.T, rule string){
		"1 in 10": func(t *testing.T, rule string) {
			figuresOf(t, rule, "1", "10")
			p := AtMost{Bad: 1, Of: 10, Consecutive: true}
			assert.Equal(t, Pass, p.Judge(lotWith(30, 20*mm, 1, 0, 10, 20)).Verdict, "one in each ten, ten apart")
			assert.Equal(t, Fail, p.Judge(lotWith(30, 20*mm, 1, 0, 9)).Verdict, "two in ten")
			assert.Equal(t, Pass, AtMost{Bad: 1, Of: 10}.Judge(lotWith(30, 20*mm, 1, 0, 9)).Verdict, "of the whole lot it would be one in ten")
		},
		"1 in 10, how far": func(t *testing.T, rule string) {
			figuresOf(t, rule, "5")
			p := AtMost{Bad: 1, Of: 10, Consecutive: true, MostBeyond: 5 * mm, HasMost: true}
			assert.Equal(t, Pass, p.Judge(lotWith(10, 20*mm, 5*mm, 3)).Verdict)
			assert.Equal(t, Fail, p.Judge(lotWith(10, 20*mm, 5*mm+1, 3)).Verdict)
		},
		"straightedge, payment": func(t *testing.T, rule string) {
			figuresOf(t, rule, "5", "10")
			for _, bad := range []int{5, 10} {
				p := ShareWithin{unit.Decimal{Coef: int64(100 - bad)}}
				var places []int
				for i := range bad {
					places = append(places, i)
				}
				assert.Equal(t, Pass, p.Judge(lotWith(100, 3*mm, 1, places...)).Verdict)
				assert.Equal(t, Fail, p.Judge(lotWith(100, 3*mm, 1, append(places, 99)...)).Verdict)
			}
		},
		"acceptance by variables": func(t *testing.T, rule string) {
			if strings.Contains(rule, "of the table") { // the one side of mean + k s
				k, err := PublishedFactor(3, unit.Decimal{Coef: 25, Places: 1})
				require.NoError(t, err)
				// values −3, 0, 3: mean 0, s 3, so that the limit is k s = 3.36 mm
				p := Variables{K: k}
				on := length(t, "3.36 mm")
				assert.Equal(t, Pass, p.Judge(spread(on)).Verdict)
				assert.Equal(t, Fail, p.Judge(spread(on-1)).Verdict)
				return
			}
			e := readExample(t, "oiml-r138-variables-acceptance.json")
			for key, want := range map[string]string{"n": "35 values", "k": "k " + e.Inputs["k"].(interface{ String() string }).String(), "F": "F " + e.Inputs["F"].(interface{ String() string }).String()} {
				assert.Contains(t, rule, want, key)
			}
		},
		"percent within limits": func(t *testing.T, rule string) {
			assert.Contains(t, rule, "sum less 100")
			var lot Lot
			tol := within(t, "-4 mm", "5 mm")
			for _, d := range []unit.Length{-3 * mm, 0, 3 * mm, 2 * mm, -mm} {
				v, b := tol.Judge(d)
				lot.Add(d, tol, v, b)
			}
			m := lot.Moments()
			both, err := EstimateWithin(m, tol)
			require.NoError(t, err)
			upper, err := PercentWithin(both.QUpper, 5)
			require.NoError(t, err)
			lower, err := PercentWithin(both.QLower, 5)
			require.NoError(t, err)
			assert.InDelta(t, upper+lower-100, both.Percent, 1e-12)
			mean, _ := m.Mean.Float64()
			assert.InDelta(t, (5-mean)/m.Sd(), both.QUpper, 1e-12)
			assert.InDelta(t, (mean+4)/m.Sd(), both.QLower, 1e-12)
		},
	}
	elsewhere := []string{"grid of levels", "thickness", "thickness by levels", "straightedge", "lot", "percent within limits, rounding", "laser for pipes", "sight rails", "covering", "closing"}
	seen := map[string]bool{}
	for _, row := range readTable(t, filepath.Join(qualityFolder(t), "sampling-rules.csv")) {
		check, ok := rules[row["topic"]]
		if !ok {
			assert.Contains(t, elsewhere, row["topic"])
			continue
		}
		seen[row["topic"]] = true
		t.Run(row["topic"]+", "+row["source"], func(t *testing.T) { check(t, row["rule"]) })
	}
	assert.Len(t, seen, len(rules))
}

// spread is a lot of −3, 0 and 3 mm with an upper limit.
func spread(limit unit.Length) *Lot {
	tol := Tolerance{Upper: limit, HasUpper: true}
	var lot Lot
	for _, d := range []unit.Length{-3 * unit.Millimetre, 0, 3 * unit.Millimetre} {
		v, b := tol.Judge(d)
		lot.Add(d, tol, v, b)
	}
	return &lot
}

// Every plan on its limit and one count beyond, in metres, both feet and sixteenths
// of an inch. Values are −3, 0 and 3 of a small length of each unit.
func TestEveryPlanOnItsLimitInEveryUnit(t *testing.T) {
	for name, d := range map[string]unit.Length{"mm": unit.Millimetre, "0.01 ft": unit.InternationalFoot / 100, "0.01 ftUS": 1_200_000_000_000 / 100, "1/16 inch": unit.Inch / 16} {
		three := func(limit unit.Length) *Lot {
			tol := Tolerance{Upper: limit, HasUpper: true}
			var lot Lot
			for _, x := range []unit.Length{-3 * d, 0, 3 * d} {
				v, b := tol.Judge(x)
				lot.Add(x, tol, v, b)
			}
			return &lot
		}
		for plan, limit := range map[Plan]unit.Length{
			EveryPoint{}:                                        3 * d,
			AtMost{Bad: 0, Of: 3}:                               3 * d,
			AtMost{Bad: 0, Of: 2, Consecutive: true}:            3 * d,
			AtMost{Bad: 1, Of: 3, MostBeyond: d, HasMost: true}: 2 * d,
			ShareWithin{unit.Decimal{Coef: 100}}:                3 * d,
			ShareWithin{unit.Decimal{Coef: 666, Places: 1}}:     0,
			Variables{K: unit.Decimal{Coef: 2}}:                 6 * d, // mean 0, s 3
		} {
			assert.Equal(t, Pass, plan.Judge(three(limit)).Verdict, "%s, %s", plan, name)
			assert.Equal(t, Fail, plan.Judge(three(limit-1)).Verdict, "%s, %s", plan, name)
		}
		// estimated from mean and standard deviation: a limit at the mean has half
		half := EstimatedWithin{unit.Decimal{Coef: 50}}
		assert.Equal(t, Pass, half.Judge(three(0)).Verdict, name)
		assert.Equal(t, Fail, half.Judge(three(-d/1000)).Verdict, name)
	}
}
