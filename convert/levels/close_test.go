package levels_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// A run of two set-ups with every sight measured: 20 + 30 + 25 + 25 = 100 m.
const measured = `
	BM1 1.500 - - 50.000 db=20
	A - 1.200 - - di=10
	C 1.600 - 1.100 - df=30 db=25
	B - 1.000 - - di=5
	BM2 - - 2.000 49.990 df=25`

// The sign of a misclosure is computed minus known, that of a correction the
// opposite; set-up k of n gets k/n of the whole (common practice, no published
// source; the sign as in testdata/worked/levelling/ea-bm19.json).
func TestMisclosureAndCorrection(t *testing.T) {
	res := reduce(t, measured, levels.Options{Rule: rule(t, "10 mm"), Distribute: levels.BySetups})
	run := &res.Runs[0]
	assert.Equal(t, "BM1>BM2 closed", states(res))
	assert.Equal(t, levels.Of(10*unit.Millimetre), run.Misclosure, "computed 50.000 minus known 49.990")
	assert.Equal(t, levels.Of(10*unit.Millimetre), run.Allowed)
	assert.Equal(t, 2, run.Setups)
	assert.Equal(t, levels.Of(100*unit.Metre), run.Distance, "sights of BS and FS, not of IS")
	assert.Equal(t, levels.BySetups, run.Distributed)
	assert.Equal(t, "50.000 50.300 50.400 51.000 50.000", levelsOf(res), "raw levels stay")
	assert.Equal(t, "50.000 50.295 50.395 50.990 49.990", adjustedOf(res))

	// by distance: 50 of 100 m at the end of the first set-up
	res = reduce(t, measured, levels.Options{Rule: rule(t, "10 mm"), Distribute: levels.ByDistance})
	assert.Equal(t, "50.000 50.295 50.395 50.990 49.990", adjustedOf(res))
	uneven := `
		BM1 1.500 - - 50.000 db=10
		A - 1.200 - - di=10
		C - - 1.100 - df=10
		C 1.600 - - - db=40
		BM2 - - 2.000 49.990 df=20`
	res = reduce(t, uneven, levels.Options{Rule: rule(t, "10 mm"), Distribute: levels.ByDistance})
	assert.Equal(t, levels.ByDistance, res.Runs[0].Distributed)
	assert.Equal(t, "50.000 50.2975 50.3975 50.3975 49.990", adjustedOf(res), "20 of 80 m, in both rows of the change point")

	// the other sign
	res = reduce(t, `
		BM1 1.500 - - 50.000
		A - 1.200 - -
		BM2 - - 1.500 50.004`, levels.Options{Rule: rule(t, "10 mm"), Distribute: levels.BySetups})
	assert.Equal(t, levels.Of(-4*unit.Millimetre), res.Runs[0].Misclosure)
	assert.Equal(t, "50.000 50.304 50.004", adjustedOf(res), "the IS of the one set-up gets all of it")
}

// Outside the limit it is shared out only where that is asked for, and the
// levels stay unproved.
func TestForced(t *testing.T) {
	res := reduce(t, measured, levels.Options{Rule: rule(t, "9 mm"), Distribute: levels.BySetups, Forced: true})
	run := &res.Runs[0]
	assert.Equal(t, levels.OutOfLimit, run.State)
	assert.False(t, run.State.Proved())
	assert.True(t, run.Forced)
	assert.Equal(t, "50.000 50.295 50.395 50.990 49.990", adjustedOf(res))
	assert.False(t, reduce(t, measured, levels.Options{Rule: rule(t, "10 mm"), Distribute: levels.BySetups, Forced: true}).Runs[0].Forced)
}

func TestOnlyInsideTheLimit(t *testing.T) {
	for _, x := range []struct {
		name, rule, states, why string
		with                    levels.Distribution
		text                    string
		adjusted                bool
	}{
		{"on the limit", "10 mm", "BM1>BM2 closed", "", levels.BySetups, measured, true},
		{"beyond it", "9.999999 mm", "BM1>BM2 out", "", levels.BySetups, measured, false},
		{"not asked", "10 mm", "BM1>BM2 closed", "", levels.NoDistribution, measured, false},
		{"no rule", "", "BM1>BM2 not judged", "no closing rule in the job", levels.BySetups, measured, false},
		{"K, measured", "32 mm sqrt(K)", "BM1>BM2 closed", "", levels.BySetups, measured, true},
		{"K, beyond", "31 mm sqrt(K)", "BM1>BM2 out", "", levels.BySetups, measured, false},
		{"K without distances", "50 mm sqrt(K)", "BM1>BM2 not judged", "the rule 50 mm sqrt(K) needs the distance of every BS and FS, and some are missing or nought", levels.BySetups, `
			BM1 1.500 - - 50.000 db=20
			BM2 - - 1.500 50.000`, false},
		{"K, one distance missing between", "50 mm sqrt(K)", "BM1>BM2 not judged", "the rule 50 mm sqrt(K) needs the distance of every BS and FS, and some are missing or nought", levels.ByDistance, `
			BM1 1.500 - - 50.000 db=20
			C 1.500 - 1.500 - db=20
			BM2 - - 1.500 50.000 df=20`, false},
		{"K with noughts for distances", "50 mm sqrt(K)", "BM1>BM2 not judged", "the rule 50 mm sqrt(K) needs the distance of every BS and FS, and some are missing or nought", levels.ByDistance, `
			BM1 1.500 - - 50.000 db=0
			BM2 - - 1.500 50.000 df=0`, false},
		{"miles without distances", "0.05 ft sqrt(M)", "BM1>BM2 not judged", "the rule 0.05 ft sqrt(M) needs the distance of every BS and FS, and some are missing or nought", levels.BySetups, `
			BM1 1.500 - - 50.000
			BM2 - - 1.500 50.000`, false},
		{"set-ups", "7.1 mm sqrt(n)", "BM1>BM2 closed", "", levels.BySetups, measured, true},
		{"set-ups, beyond", "7 mm sqrt(n)", "BM1>BM2 out", "", levels.BySetups, measured, false},
		{"by distance without distances", "10 mm", "BM1>BM2 closed", "not distributed: some distances are missing", levels.ByDistance, `
			BM1 1.500 - - 50.000
			BM2 - - 1.500 50.005`, false},
		{"open", "10 mm", "BM1>? open", "", levels.BySetups, `
			BM1 1.500 - - 50.000
			A - - 1.500 -`, false},
	} {
		t.Run(x.name, func(t *testing.T) {
			opt := levels.Options{Distribute: x.with}
			if x.rule != "" {
				opt.Rule = rule(t, x.rule)
			}
			res := reduce(t, x.text, opt)
			assert.Equal(t, x.states, states(res))
			assert.Equal(t, x.why, res.Runs[0].Why)
			for _, r := range res.Rows {
				assert.Equal(t, x.adjusted, r.Adjusted.Set)
			}
			assert.Equal(t, x.adjusted, res.Runs[0].Distributed != levels.NoDistribution)
		})
	}
}

// A misclosure does not run on: each run begins at the known level of its mark,
// and is distributed by itself.
func TestRunsAreReducedApart(t *testing.T) {
	res := reduce(t, `
		BM1 1.500 - - 50.000
		BM2 1.000 - 1.000 50.480
		A - 1.200 - -
		BM3 1.000 - 0.500 50.976
		B - - 0.500 51.476`, levels.Options{Rule: rule(t, "5 mm"), Distribute: levels.BySetups})
	assert.Equal(t, "BM1>BM2 out, BM2>BM3 closed, BM3>B closed", states(res))
	assert.Equal(t, "50.000 50.500 50.280 50.980 51.476", levelsOf(res))
	assert.Equal(t, "- - 50.276 50.976 51.476", adjustedOf(res), "the shared row belongs to the run it closes")
	assert.Equal(t, "51.500 51.480 - 51.976 -", column(res, func(r *levels.Reduced) levels.Value { return r.Collimation }))
	assert.Equal(t, levels.Of(20*unit.Millimetre), res.Runs[0].Misclosure)
	assert.Equal(t, levels.Of(4*unit.Millimetre), res.Runs[1].Misclosure)
	assert.Equal(t, "1.500", res.FirstToLast.L.Exact(unit.M, 3), "the changes as levelled, without the jumps at the marks")
	assert.True(t, res.ArithmeticOK)
}

// Sights on known marks between the ends of a run, judged over the set-ups and
// sights that lead to them.
func TestMarksBetween(t *testing.T) {
	for _, x := range []struct {
		name, rule, text, states, why string
		judged, within                bool
		allowed                       string
	}{
		{"agrees", "5 mm sqrt(n)", `
			BM1 1.500 - - 50.000
			BM3 - 1.200 - 50.295
			BM2 - - 1.500 50.001`, "BM1>BM2 closed", "", true, true, "5.0"},
		{"disproved", "5 mm sqrt(n)", `
			BM1 1.500 - - 50.000
			BM3 - 1.200 - 50.294
			BM2 - - 1.500 50.001`, "BM1>BM2 out", "it hangs on a mark it disproves: the sight on BM3 is 6.0 mm off its known level, beyond the limit", true, false, "5.0"},
		{"one set-up leads to it, not the two of the run", "5 mm sqrt(n)", `
			BM1 1.500 - - 50.000
			BM3 - 1.200 - 50.294
			C 1.000 - 1.000 -
			BM2 - - 1.500 50.001`, "BM1>BM2 out", "it hangs on a mark it disproves: the sight on BM3 is 6.0 mm off its known level, beyond the limit", true, false, "5.0"},
		{"the first mark read again", "5 mm", `
			BM1 1.500 - - 50.000
			BM1 - 1.510 - -
			BM2 - - 1.500 50.001`, "BM1>BM2 out", "it hangs on a mark it disproves: the sight on BM1 is -10.0 mm off its known level, beyond the limit", true, false, "5.0"},
		{"open, and disproved", "5 mm", `
			BM1 1.500 - - 50.000
			BM3 - 1.200 - 50.250
			A - - 1.500 -`, "BM1>? out", "it hangs on a mark it disproves: the sight on BM3 is 50.0 mm off its known level, beyond the limit", true, false, "5.0"},
		{"does not close an open run", "5 mm", `
			BM1 1.500 - - 50.000
			BM3 - 1.200 - 50.300
			A - - 1.500 -`, "BM1>? open", "the sight on BM3 checks it, but does not close it", true, true, "5.0"},
		{"no rule", "", `
			BM1 1.500 - - 50.000
			BM3 - 1.200 - 50.250
			BM2 - - 1.500 50.000`, "BM1>BM2 not judged", "no closing rule in the job", false, false, ""},
		{"by distance, to the mark", "20 mm sqrt(K)", `
			BM1 1.500 - - 50.000 db=40
			BM3 - 1.200 - 50.296 di=60
			BM2 - - 1.500 50.001 df=40`, "BM1>BM2 closed", "", true, true, "6.3"},
		{"by distance, its own sight missing but not needed", "20 mm sqrt(K)", `
			BM1 1.500 - - 50.000 db=40
			BM3 - 1.200 - 50.296
			BM2 - - 1.500 50.001 df=40`, "BM1>BM2 closed", "", true, true, "4.0"},
		{"by distance, its own sight missing and needed", "20 mm sqrt(K)", `
			BM1 1.500 - - 50.000 db=40
			BM3 - 1.200 - 50.2959
			BM2 - - 1.500 50.001 df=40`, "BM1>BM2 not judged", "the sight on BM3 cannot be judged by the rule 20 mm sqrt(K): a distance on the way to it is missing", false, false, ""},
	} {
		t.Run(x.name, func(t *testing.T) {
			opt := levels.Options{Distribute: levels.BySetups}
			if x.rule != "" {
				opt.Rule = rule(t, x.rule)
			}
			res := reduce(t, x.text, opt)
			assert.Equal(t, x.states, states(res))
			run := &res.Runs[0]
			assert.Equal(t, x.why, run.Why)
			require.Len(t, run.Marks, 1)
			mark := run.Marks[0]
			assert.Equal(t, 1, mark.Index)
			assert.Equal(t, res.Rows[1].Level.L-res.Rows[1].Known.L, mark.Difference, "computed minus known")
			assert.Equal(t, x.judged, mark.Judged)
			assert.Equal(t, x.within, mark.Within)
			assert.Equal(t, x.allowed != "", mark.Allowed.Set)
			if mark.Allowed.Set {
				assert.Equal(t, x.allowed, mark.Allowed.L.Fixed(unit.MM, 1))
			}
			assert.Equal(t, run.State.Proved(), run.Distributed != levels.NoDistribution)
		})
	}
}

// Every way of an open or broken run leaves nothing proved, whatever the size of
// the limit.
func TestNothingIsProvedByChance(t *testing.T) {
	wide := rule(t, "1 km")
	for _, text := range []string{
		"A 1.500 - - -\nB - - 1.500 -",
		"A 1.500 - - -\nBM2 - - 1.500 50.000",
		"A 1.500 - - -\nBM1 - 1.500 - 50.000\nBM2 - - 1.500 50.000",
		"BM1 1.500 - - 50.000\nB - - 1.500 -",
		"BM1 1.500 - - 50.000\nB - 1.500 - 50.000",
		"BM1 - 1.500 - 50.000\nBM2 - - 1.500 50.000",
		"BM1 1.500 - - 50.000",
		"BM1 - - 1.500 50.000",
		"BM1 1.500 1.500 - 50.000\nBM2 - - 1.500 50.000",
	} {
		for _, side := range []bool{false, true} {
			res := reduce(t, text, levels.Options{Rule: wide, Distribute: levels.BySetups, SideShotsFS: side})
			require.NotEmpty(t, res.Runs)
			for _, r := range res.Runs {
				assert.False(t, r.State.Proved(), text)
				assert.Equal(t, levels.NoDistribution, r.Distributed)
			}
		}
	}
}
