package adjust

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"sightrail/formats/unit"
)

// W. Baarda, "A testing procedure for use in geodetic networks", 1968: for 0.1 %
// and 80 % the critical value is 3.29 and the non-centrality 4.13 (λ0 = 17.07).
func TestQuantiles(t *testing.T) {
	critical, delta := normal()
	assert.InDelta(t, 3.2905, critical, 5e-5)
	assert.InDelta(t, 4.1321, delta, 5e-5)
	assert.InDelta(t, 17.075, delta*delta, 5e-3)
	// Pope's tau from Student's t, with tables of t at 0.05 %: 636.62 for one degree
	// of freedom, 4.781 for nine (common tables)
	assert.InDelta(t, math.Sqrt(2)*636.62/math.Sqrt(1+636.62*636.62), tau(2), 1e-9)
	assert.InDelta(t, math.Sqrt(10)*4.781/math.Sqrt(9+4.781*4.781), tau(10), 2e-4)
	assert.Zero(t, tau(1), "one redundancy: the only |w| is always 1")
	assert.InDelta(t, critical, tau(1_000_000), 1e-4)
	for f := 2; f < 2000; f += 7 {
		assert.Less(t, tau(f), math.Sqrt(float64(f)), "no residual is larger")
	}
}

// The quantiles of chi squared against printed tables (5 and 10 degrees of
// freedom) and, for many, Wilson and Hilferty's cube (Proc. Nat. Acad. Sci. 17,
// 1931).
func TestChiSquared(t *testing.T) {
	for k, want := range map[float64][2]float64{5: {0.831, 12.833}, 10: {3.247, 20.483}, 1: {0.001, 5.024}} {
		chi := distuv.ChiSquared{K: k}
		assert.InDelta(t, want[0], chi.Quantile(0.025), 5e-4)
		assert.InDelta(t, want[1], chi.Quantile(0.975), 5e-4)
	}
	for _, k := range []float64{1e3, 84_129, 1e6} {
		for _, z := range []float64{-1.959964, 1.959964} {
			c := 2 / (9 * k)
			want := k * math.Pow(1-c+z*math.Sqrt(c), 3)
			assert.InEpsilon(t, want, distuv.ChiSquared{K: k}.Quantile(distuv.UnitNormal.CDF(z)), 1e-5)
		}
	}
}

// block is a small town: a grid of 4 × 4 junctions with a mark at each of the
// corners that are wanted, 1 mm a run.
func block(g *rand.Rand, marks int, noise float64) *Network {
	n := &Network{}
	levels := make([]unit.Length, 16)
	for p := range 16 {
		levels[p] = unit.Length(g.IntN(50_000)) * mm
		n.Points = append(n.Points, Point{Name: string(rune('A' + p)), Level: levels[p]})
	}
	for _, p := range []int{0, 3, 12, 15, 5}[:marks] {
		n.Points[p].Held = true
	}
	add := func(a, b int) {
		d := levels[b] - levels[a] + unit.Length(noise*g.NormFloat64()*float64(mm))
		n.Observations = append(n.Observations, Observation{From: a, To: b, Diff: d, Variance: 1})
	}
	for p := range 16 {
		if p%4 < 3 {
			add(p, p+1)
		}
		if p < 12 {
			add(p+4, p)
		}
	}
	return n
}

// Without any slip: the global test fails in 5 % of the networks, w is beyond its
// critical value in 0.1 %, with and without a stated standard deviation. Drawn, so
// the bounds are four standard errors.
func TestFalseAlarms(t *testing.T) {
	const runs = 4000
	g := rand.New(rand.NewPCG(21, 4))
	fails, alarms, tauAlarms, tests := 0, 0, 0, 0
	for range runs {
		n := block(g, 2, 1)
		r, err := Adjust(n, Options{APriori: true})
		require.NoError(t, err)
		if !r.Global.Pass {
			fails++
		}
		s, err := Adjust(n, Options{})
		require.NoError(t, err)
		for i := range r.Observations {
			tests++
			if math.Abs(r.Observations[i].W) > r.Critical {
				alarms++
			}
			if math.Abs(s.Observations[i].W) > s.Critical {
				tauAlarms++
			}
		}
	}
	assert.InDelta(t, 0.05, float64(fails)/runs, 4*math.Sqrt(0.05*0.95/runs))
	within := 4 * math.Sqrt(0.001*0.999/float64(tests)) * 1.5 // the w of one network are correlated
	assert.InDelta(t, 0.001, float64(alarms)/float64(tests), within)
	assert.InDelta(t, 0.001, float64(tauAlarms)/float64(tests), within)
}

// A slip of the size of MDB is beyond the critical value in 80 % of the networks;
// one twice as large nearly always, and it is that observation which is accused.
func TestSmallestSlip(t *testing.T) {
	const runs = 3000
	g := rand.New(rand.NewPCG(8, 80))
	seen, accused := 0, 0
	for k := range runs {
		n := block(g, 2, 1)
		i := k % len(n.Observations)
		r, err := Adjust(n, Options{APriori: true})
		require.NoError(t, err)
		slip := unit.Length(r.Observations[i].MDB * float64(mm))
		n.Observations[i].Diff += slip
		r, err = Adjust(n, Options{APriori: true})
		require.NoError(t, err)
		if math.Abs(r.Observations[i].W) > r.Critical {
			seen++
		}
		n.Observations[i].Diff += slip
		r, err = Adjust(n, Options{APriori: true})
		require.NoError(t, err)
		if a := r.Accused(); slices.Contains(a.Observations, i) {
			accused++
		}
	}
	assert.InDelta(t, 0.8, float64(seen)/runs, 4*math.Sqrt(0.8*0.2/runs))
	assert.Greater(t, float64(accused)/runs, 0.97)
}

// In one ring all have one |w|: all are accused, not the first.
func TestOneRingCannotBeToldApart(t *testing.T) {
	n := &Network{
		Points:       []Point{mark("A", 0), {Name: "B"}, {Name: "C", Wanted: true}},
		Observations: []Observation{run(0, 1, 10, 1), run(1, 2, 10, 1), run(0, 2, 30, 4)},
	}
	r, err := Adjust(n, Options{APriori: true})
	require.NoError(t, err)
	a := r.Accused()
	assert.True(t, a.Any())
	assert.Equal(t, []int{0, 1, 2}, a.Observations)
	assert.Empty(t, a.Marks)
	assert.InDelta(t, 10/math.Sqrt(6), a.W, 1e-12)
	n.Observations[2].Diff = 27 * mm
	r, err = Adjust(n, Options{APriori: true})
	require.NoError(t, err)
	a = r.Accused()
	assert.False(t, a.Any(), "7 mm in √6 is within 3.29")
	assert.InDelta(t, 7/math.Sqrt(6), a.W, 1e-12)
	r, err = Adjust(n, Options{})
	require.NoError(t, err)
	assert.Zero(t, r.Critical, "one redundancy and no stated deviation: no test")
	a = r.Accused()
	assert.False(t, a.Any())
}

// A larger ring, with every point kept, so that each w is worked out by itself.
func TestRingOfMany(t *testing.T) {
	g := rand.New(rand.NewPCG(3, 3))
	n := &Network{}
	const k = 400
	for p := range k {
		n.Points = append(n.Points, Point{Wanted: true})
		n.Observations = append(n.Observations, run(p, (p+1)%k, 1, 0.1+g.Float64()))
	}
	n.Points[17].Held = true
	r, err := Adjust(n, Options{APriori: true})
	require.NoError(t, err)
	a := r.Accused()
	assert.Len(t, a.Observations, k)
	different := false
	for i := range r.Observations {
		different = different || r.Observations[i].W != r.Observations[0].W
	}
	assert.True(t, different, "the last digits differ")
}

// A network that closes exactly has no strain: nothing is divided by nought.
func TestExactNetwork(t *testing.T) {
	g := rand.New(rand.NewPCG(1, 2))
	r, err := Adjust(block(g, 4, 0), Options{})
	require.NoError(t, err)
	assert.Zero(t, r.Sum)
	assert.Zero(t, r.S0)
	for i, o := range r.Observations {
		assert.True(t, o.V == 0 && o.W == 0 && o.MDB == 0 && o.Checked, i)
	}
	a := r.Accused()
	assert.False(t, a.Any())
}

func TestVariances(t *testing.T) {
	assert.InDelta(t, 4*0.25, VarianceByDistance(2, 250*unit.Metre), 1e-15)
	assert.InDelta(t, 9*4.0, VarianceBySetups(3, 4), 1e-15)
}
