package adjust

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

// town is a grid of k × k junctions 0.8 km apart, levelled along its sides with
// 1 mm a kilometre, a part of the sides left out, with five marks. Junctions are
// named at random.
func town(k int) *Network {
	g := rand.New(rand.NewPCG(51, uint64(k)))
	n := &Network{Points: make([]Point, k*k)}
	name, levels := g.Perm(k*k), make([]unit.Length, k*k)
	for p := range levels {
		levels[p] = unit.Length(g.IntN(50_000)) * mm
	}
	add := func(a, b int) {
		a, b = name[a], name[b]
		km := 1.2 * (0.6 + 0.4*g.Float64())
		noise := unit.Length(g.NormFloat64() * math.Sqrt(km) * float64(mm))
		n.Observations = append(n.Observations, Observation{From: a, To: b, Diff: levels[b] - levels[a] + noise, Variance: km})
	}
	for i := range k {
		for j := range k {
			if j+1 < k {
				add(i*k+j, i*k+j+1)
			}
			if i+1 < k && g.IntN(100) >= 15 {
				add(i*k+j, i*k+k+j)
			}
		}
	}
	for _, p := range []int{0, k - 1, k*k - k, k*k - 1, k*k/2 + k/2} {
		p = name[p]
		n.Points[p] = Point{Held: true, Level: levels[p]}
	}
	return n
}

// shapes of 100,000 points: each must take about the time of its size.
var shapes = map[string]func() *Network{
	"town": func() *Network { return town(316) },
	"chain": func() *Network {
		return linked(100_000, func(n *Network, p int) { n.Observations = append(n.Observations, run(p-1, p, 1, 1)) }, 0, 99_999)
	},
	"ring": func() *Network {
		return linked(100_000, func(n *Network, p int) {
			n.Observations = append(n.Observations, run(p-1, p, 0, 1), run(p, (p+1)%100_000, 0, 3))
		}, 0)
	},
	"wheel": func() *Network { // a hub with 99,999 runs
		return linked(100_000, func(n *Network, p int) {
			n.Observations = append(n.Observations, run(0, p, 5, 1), run(p, 1+p%99_999, 0, 1))
		}, 7)
	},
	"star": func() *Network {
		return linked(100_000, func(n *Network, p int) { n.Observations = append(n.Observations, run(0, p, 5, 1)) }, 0)
	},
	"tree": func() *Network {
		return linked(100_000, func(n *Network, p int) { n.Observations = append(n.Observations, run(p/2, p, 5, 1)) }, 3)
	},
	"ladder": func() *Network {
		return linked(100_000, func(n *Network, p int) {
			if p > 1 {
				n.Observations = append(n.Observations, run(p-2, p, 1, 1))
			}
			if p%2 == 1 {
				n.Observations = append(n.Observations, run(p, p-1, 1, 2))
			}
		}, 0)
	},
	"marks": func() *Network { // every second point is one
		n := linked(100_000, func(n *Network, p int) { n.Observations = append(n.Observations, run(p-1, p, 1, 1)) })
		for p := 0; p < len(n.Points); p += 2 {
			n.Points[p].Held, n.Points[p].Level = true, unit.Length(p)*mm
		}
		return n
	},
	"pairs": func() *Network { // 50,000 parts
		n := linked(100_000, func(n *Network, p int) {
			if p%2 == 1 {
				n.Observations = append(n.Observations, run(p-1, p, 1, 1), run(p, p-1, 1, 1))
			}
		})
		for p := 0; p < len(n.Points); p += 4 {
			n.Points[p].Held = true
		}
		return n
	},
	"repeated": func() *Network { // one difference, 100,000 times
		return linked(2, func(n *Network, p int) {
			for i := range 100_000 {
				n.Observations = append(n.Observations, run(0, 1, unit.Length(i%3), 1))
			}
		}, 0)
	},
	"wanted": func() *Network { // nothing folded
		n := linked(100_000, func(n *Network, p int) { n.Observations = append(n.Observations, run(p-1, p, 1, 1)) }, 0, 99_999)
		for p := range n.Points {
			n.Points[p].Wanted = true
		}
		return n
	},
}

func linked(points int, add func(n *Network, p int), marks ...int) *Network {
	n := &Network{Points: make([]Point, points)}
	for p := 1; p < points; p++ {
		add(n, p)
	}
	for _, p := range marks {
		n.Points[p].Held = true
	}
	return n
}

// Networks of 100,000 junctions: the weighted residuals at every junction add up
// to nought, Σr is the degrees of freedom, and memory stays that of the network.
func TestLargeNetworks(t *testing.T) {
	for name, make := range shapes {
		t.Run(name, func(t *testing.T) {
			n := make()
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			r, err := Adjust(n, Options{APriori: true})
			require.NoError(t, err)
			runtime.ReadMemStats(&after)
			perPoint := float64(after.TotalAlloc-before.TotalAlloc) / float64(len(n.Points)+len(n.Observations))
			t.Logf("%.0f bytes allocated for each point and observation", perPoint)
			assert.Less(t, perPoint, 2000.0)
			checkStrain(t, n, r)
		})
	}
}

func checkStrain(t *testing.T, n *Network, r *Result) {
	pull, weight := make([]float64, len(n.Points)), make([]float64, len(n.Points))
	total, sum := 0.0, 0.0
	for i, o := range n.Observations {
		got := &r.Observations[i]
		if !got.Adjusted {
			continue
		}
		total += got.Redundancy
		sum += got.V * got.V / o.Variance
		pull[o.To] += got.V / o.Variance
		pull[o.From] -= got.V / o.Variance
		weight[o.To] += 1/o.Variance + math.Abs(got.V)/o.Variance
		weight[o.From] += 1/o.Variance + math.Abs(got.V)/o.Variance
		exact := (r.Points[o.To].Level - r.Points[o.From].Level - o.Diff).Millimetres()
		if !(math.Abs(exact-got.V) < 1e-6) {
			require.Failf(t, "residual", "%d: %g and %g", i, exact, got.V)
		}
	}
	worst := 0.0
	for p := range pull {
		if r.Points[p].State == Adjusted && weight[p] > 0 {
			worst = max(worst, math.Abs(pull[p])/weight[p])
		}
	}
	assert.Less(t, worst, 1e-10, "mm")
	near(t, float64(r.DoF), total, 1e-6*(1+total), "Σr")
	near(t, r.Sum, sum, 1e-9*(1+sum), "Σv²/σ²")
	assert.InDelta(t, r.DoF, float64(len(n.Observations)-r.Unknowns)-float64(loose(n, r)), 0.1)
}

func loose(n *Network, r *Result) (obs int) {
	for i := range n.Observations {
		if !r.Observations[i].Adjusted {
			obs++
		}
	}
	return obs
}

// Far from its only mark a level is poor, but the difference of two neighbours is
// as good as that of two near the mark, to the last digits.
func TestDifferencesFarFromTheMark(t *testing.T) {
	n := shapes["ladder"]()
	r, err := Adjust(n, Options{APriori: true})
	require.NoError(t, err)
	assert.Greater(t, r.Points[99_990].Variance, 20_000.0)
	a, _ := r.DifferenceVariance(50_000, 50_001)
	b, _ := r.DifferenceVariance(90_000, 90_001)
	assert.InEpsilon(t, a, b, 1e-14)
	// a rung of 2 with an endless ladder of 1 on both sides, by the recursion of
	// resistors: x = 1 + 1 + 2x/(2 + x), so x = 1 + √5
	x := 1 + math.Sqrt(5)
	assert.InEpsilon(t, 1/(1/2.0+2/x), a, 1e-14)
	// a difference of large numbers has fewer digits
	assert.InEpsilon(t, a, r.Points[50_000].Variance+r.Points[50_001].Variance-2*r.Covariance(50_000, 50_001), 1e-6)
}

// The same network gives the same bits, whatever was adjusted before it.
func TestSameBitsEachTime(t *testing.T) {
	a, err := Adjust(town(40), Options{APriori: true})
	require.NoError(t, err)
	b, err := Adjust(town(40), Options{APriori: true})
	require.NoError(t, err)
	assert.Equal(t, a.Points, b.Points)
	assert.Equal(t, a.Observations, b.Observations)
	quick, err := Adjust(town(40), Options{LevelsOnly: true})
	require.NoError(t, err)
	for p := range a.Points {
		require.Equal(t, a.Points[p].Level, quick.Points[p].Level)
	}
	assert.Equal(t, a.S0, quick.S0)
}

func BenchmarkLevels(b *testing.B) {
	n := town(316)
	for b.Loop() {
		if _, err := Adjust(n, Options{APriori: true, LevelsOnly: true}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAllVariances(b *testing.B) {
	n := town(316)
	for b.Loop() {
		if _, err := Adjust(n, Options{APriori: true}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOrder(b *testing.B) {
	g := gridGraph(316)
	for b.Loop() {
		minimumDegree(g)
	}
}

func BenchmarkCovariance(b *testing.B) {
	n := town(316)
	r, err := Adjust(n, Options{APriori: true})
	require.NoError(b, err)
	for i := 0; b.Loop(); i++ {
		r.Covariance(i%90_000, (i*7)%90_000)
	}
}
