package limits

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// Factors against an independent program: the definition integrated adaptively
// with another library's densities. Among them are figures of tables in common
// use: 2.911 and 4.203 for one limit, from memory.
func TestToleranceFactors(t *testing.T) {
	for _, c := range []struct {
		n                    int
		coverage, confidence float64
		one, two             float64 // 0: not worked out
	}{
		{2, .9, .95, 20.581467624244905, 31.092225599749664},
		{3, .95, .95, 7.655900133153334, 9.78875240303187},
		{5, .95, .95, 4.202680741256182, 5.0768745320593975},
		{10, .9, .95, 2.354640131829062, 2.8563108485789295},
		{10, .95, .95, 2.9109634130781634, 3.393429478712608},
		{20, .99, .95, 3.295156936170862, 3.6209861737612177},
		{40, .9, .99, 1.9017259136133688, 0},
		{43, .9, .99, 0, 2.222825173791277},
		{50, .5, .95, 0.2371001010347643, 0},
		{100, .95, .9, 1.8612516488966686, 2.172381090319769},
		{300, .99, .95, 2.521880800864543, 2.7674199429757937}, // the noncentrality is 40.3
		{1000, .999, .99, 3.2756837477604845, 0},
	} {
		if c.one != 0 {
			k, err := OneSidedFactor(c.n, c.coverage, c.confidence)
			require.NoError(t, err)
			assert.InEpsilon(t, c.one, k, 1e-8, "%+v", c)
		}
		if c.two != 0 {
			k, err := TwoSidedFactor(c.n, c.coverage, c.confidence)
			require.NoError(t, err)
			assert.InEpsilon(t, c.two, k, 1e-8, "%+v", c)
		}
	}
}

// noncentralT against the library's own where that is good, below a
// noncentrality of 37.
func TestNoncentralTAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nu := float64(rapid.IntRange(1, 200).Draw(t, "nu"))
		delta := rapid.Float64Range(-5, 30).Draw(t, "delta")
		x := delta + rapid.Float64Range(-10, 10).Draw(t, "t")
		want := distuv.NoncentralT{Nu: nu, Mu: delta}.CDF(x)
		if got := noncentralT(x, nu, delta); math.Abs(got-want) > 1e-9 {
			t.Fatalf("t %v, nu %v, delta %v: %v, the library has %v", x, nu, delta, got, want)
		}
	})
}

// Lots made by chance: mean ± k s holds the share it should in as many of them as
// the confidence says, to four standard errors.
func TestFactorsHoldWhatTheyPromise(t *testing.T) {
	const n, coverage, confidence, lots = 8, 0.9, 0.95, 40_000
	one, err := OneSidedFactor(n, coverage, confidence)
	require.NoError(t, err)
	two, err := TwoSidedFactor(n, coverage, confidence)
	require.NoError(t, err)
	random := rand.New(rand.NewPCG(20, 26))
	heldOne, heldTwo := 0, 0
	for range lots {
		sum, squares := 0.0, 0.0
		for range n {
			x := random.NormFloat64()
			sum, squares = sum+x, squares+x*x
		}
		mean := sum / n
		s := math.Sqrt((squares - n*mean*mean) / (n - 1))
		if normalBelow(mean+one*s) >= coverage {
			heldOne++
		}
		if normalBetween(mean-two*s, mean+two*s) >= coverage {
			heldTwo++
		}
	}
	off := 4 * math.Sqrt(confidence*(1-confidence)/lots)
	assert.InDelta(t, confidence, float64(heldOne)/lots, off)
	assert.InDelta(t, confidence, float64(heldTwo)/lots, off)
}

// k from a quality level, and the average outgoing quality of it, against the
// same independent program; a factor found from an outgoing limit leads back.
func TestFactorsForQuality(t *testing.T) {
	for _, c := range []struct {
		n         int
		aql, risk float64
		want      float64
	}{
		{5, .025, .05, 1.060607567906168},
		{10, .01, .05, 1.5625339138491259},
		{35, .025, .05, 1.5524063228061273},
		{20, .04, .1, 1.3646144584399802},
	} {
		k, err := FactorForQuality(c.n, c.aql, c.risk)
		require.NoError(t, err)
		assert.InEpsilon(t, c.want, k, 1e-8)
		accepted, err := Accepted(c.n, k, c.aql)
		require.NoError(t, err)
		assert.InDelta(t, 1-c.risk, accepted, 1e-9)
	}
	// k 1.57 of 35 values and 2.5 % is published (OIML R 138:2007, Annex A): it
	// accepts a lot of that quality 94 times in 100.
	accepted, err := Accepted(35, 1.57, .025)
	require.NoError(t, err)
	assert.InDelta(t, 0.94, accepted, 0.01)
	for _, c := range []struct {
		n       int
		k, want float64
	}{{5, 1.24, 0.06384961394496443}, {10, 1.72, 0.02501993812206551}, {35, 1.57, 0.03189602428166801}} {
		limit, err := OutgoingLimit(c.n, c.k)
		require.NoError(t, err)
		assert.InEpsilon(t, c.want, limit, 1e-7)
		k, err := FactorForOutgoing(c.n, limit)
		require.NoError(t, err)
		assert.InDelta(t, c.k, k, 1e-7)
	}
}

func TestFactorErrors(t *testing.T) {
	for _, f := range []func(int, float64, float64) (float64, error){OneSidedFactor, TwoSidedFactor, HoweFactor, NatrellaFactor, FactorForQuality} {
		_, err := f(1, .9, .9)
		assert.ErrorIs(t, err, errSample)
		_, err = f(mostValues+1, .9, .9)
		assert.ErrorContains(t, err, "at most")
		for _, p := range []float64{0, 1, -1, math.NaN()} {
			_, err = f(10, p, .9)
			assert.ErrorIs(t, err, errShare)
			_, err = f(10, .9, p)
			assert.ErrorIs(t, err, errShare)
		}
	}
	_, err := NatrellaFactor(2, .99, .99)
	assert.ErrorIs(t, err, errTooHard, "the approximation has no factor")
	_, err = Accepted(1, 1, .5)
	assert.Error(t, err)
	_, err = OutgoingLimit(1, 1)
	assert.Error(t, err)
	_, err = FactorForOutgoing(10, .5)
	assert.ErrorContains(t, err, "limits nothing")
	_, err = FactorForOutgoing(10, 0)
	assert.ErrorIs(t, err, errShare)
	_, err = Factor(math.Inf(1))
	assert.Error(t, err)
	_, err = OneSidedFactor(2, .9, 1-1e-12)
	assert.ErrorIs(t, err, errTooHard)
	_, err = FactorForQuality(2, .9, 1e-12)
	assert.ErrorIs(t, err, errTooHard)
	negative, err := FactorForQuality(3, .9, .001) // far below 0
	require.NoError(t, err)
	accepted, err := Accepted(3, negative, .9)
	require.NoError(t, err)
	assert.InDelta(t, .999, accepted, 1e-9)
	k, err := Factor(1.90175)
	require.NoError(t, err)
	assert.Equal(t, "1.9018", k.String())
}

func TestPublishedFactorErrors(t *testing.T) {
	percent := func(s string) unit.Decimal { d, _, err := unit.ParseDecimal(s); require.NoError(t, err); return d }
	k, err := PublishedFactor(10, percent("1.00"))
	require.NoError(t, err)
	assert.Equal(t, "1.72", k.String())
	_, err = PublishedFactor(11, percent("1"))
	assert.ErrorContains(t, err, "no sample of 11 values; it has 3, 4, 5, 7, 10")
	_, err = PublishedFactor(10, percent("1.2"))
	assert.ErrorContains(t, err, "level of 1.2 %; it has 0.10")
	_, err = PublishedFactor(20, percent("4"))
	assert.ErrorContains(t, err, "state the factor and its source")
	// Along each row the factor falls as more is let through; down each column it
	// rises with the sample.
	table := readFactorTable()
	for column, level := range table.aql {
		last := 0.0
		for _, n := range table.n {
			if k, err := PublishedFactor(n, percent(level)); err == nil {
				assert.GreaterOrEqual(t, k.Float(), last, "%d values, %s %%", n, level)
				last = k.Float()
				if column > 0 {
					if before, err := PublishedFactor(n, percent(table.aql[column-1])); err == nil {
						assert.Less(t, k.Float(), before.Float(), "%d values, %s %%", n, level)
					}
				}
			}
		}
	}
}

// More confidence, more coverage and fewer values each ask for a larger factor.
func TestFactorsRise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 60).Draw(t, "n")
		p := rapid.Float64Range(0.5, 0.98).Draw(t, "coverage")
		g := rapid.Float64Range(0.5, 0.98).Draw(t, "confidence")
		f := OneSidedFactor
		if rapid.Bool().Draw(t, "two sides") && n < 20 { // slower
			f = TwoSidedFactor
		}
		k := func(n int, p, g float64) float64 {
			v, err := f(n, p, g)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		base := k(n, p, g)
		if k(n, p+0.01, g) <= base || k(n, p, g+0.01) <= base {
			t.Fatalf("n %d, coverage %v, confidence %v: factor %v does not rise", n, p, g, base)
		}
		if g >= 0.6 && k(n+1, p, g) >= base {
			t.Fatalf("n %d, coverage %v, confidence %v: one more value does not help", n, p, g)
		}
	})
}
