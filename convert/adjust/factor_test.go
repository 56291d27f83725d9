package adjust

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// randomLaplacian joins n unknowns at random; each hangs on what is held, at
// least by way of others.
func randomLaplacian(g *rand.Rand, n, joints int, decades float64) *laplacian {
	a := &laplacian{held: make([]float64, n)}
	weight := func() float64 { return math.Pow(10, decades*(g.Float64()-0.5)) }
	a.held[0] = weight()
	add := func(i, j int) {
		if i != j {
			a.from, a.to, a.weight = append(a.from, int32(i)), append(a.to, int32(j)), append(a.weight, weight())
		}
	}
	for i := 1; i < n; i++ {
		if g.IntN(6) == 0 {
			a.held[i] = weight()
		}
		add(g.IntN(i), i)
	}
	for range joints {
		add(g.IntN(n), g.IntN(n))
	}
	return a
}

// exactInverse is the inverse of a laplacian in fractions, by Gauss and Jordan.
func exactInverse(a *laplacian) [][]*big.Rat {
	n := len(a.held)
	m := make([][]*big.Rat, n)
	for i := range m {
		m[i] = make([]*big.Rat, 2*n)
		for j := range m[i] {
			m[i][j] = new(big.Rat)
		}
		m[i][i].SetFloat64(a.held[i])
		m[i][n+i].SetInt64(1)
	}
	for k := range a.weight {
		w, i, j := new(big.Rat).SetFloat64(a.weight[k]), a.from[k], a.to[k]
		m[i][i].Add(m[i][i], w)
		m[j][j].Add(m[j][j], w)
		m[i][j].Sub(m[i][j], w)
		m[j][i].Sub(m[j][i], w)
	}
	for p := range n {
		inv := new(big.Rat).Inv(m[p][p])
		for j := range m[p] {
			m[p][j].Mul(m[p][j], inv)
		}
		for i := range n {
			if f := new(big.Rat).Set(m[i][p]); i != p && f.Sign() != 0 {
				for j := range m[i] {
					m[i][j].Sub(m[i][j], new(big.Rat).Mul(f, m[p][j]))
				}
			}
		}
	}
	for i := range m {
		m[i] = m[i][n:]
	}
	return m
}

// Variances and covariances against exact fractions, with weights over 24
// decades: every one has nearly all its digits.
func TestInverseHasAllDigits(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		g := generator(t)
		n := 1 + g.IntN(9)
		a := randomLaplacian(g, n, g.IntN(2*n), 24)
		want := exactInverse(a)
		off := func(got float64, w *big.Rat) {
			v, _ := w.Float64()
			worst = max(worst, math.Abs(got/v-1))
			require.InEpsilon(t, v, got, 1e-14)
		}
		f := newFactor(a, MaxElements)
		z := f.inverse()
		for i := range n {
			off(z.variance[i], want[i][i])
			for j := range n {
				off(product(f.half([]int32{int32(i)}, []float64{1}), f.half([]int32{int32(j)}, []float64{1})), want[i][j])
			}
		}
		for k := range a.from {
			off(z.covariance[k], want[a.from[k]][a.to[k]])
		}
	})
	t.Logf("largest relative error %.2g", worst)
}

// Larger graphs, on which fronts are joined and steps are full: the factor times
// the solution gives the right sides, columns of the inverse are solutions, and
// what stands in the inverse is in them.
func TestFactorOfLargerGraphs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := generator(t)
		n := 2 + g.IntN(300)
		a := randomLaplacian(g, n, g.IntN(3*n), 4)
		f := newFactor(a, MaxElements)
		checkPlan(t, f.plan, a)
		z := f.inverse()
		for range 4 {
			k := g.IntN(n)
			e := make([]float64, n)
			e[k] = 1
			x := f.solve(e)
			require.InEpsilon(t, x[k], z.variance[k], 1e-12)
			back := times(a, x)
			for i := range back {
				require.InDelta(t, e[i], back[i], 1e-9)
			}
			for j := range a.from {
				if a.from[j] == int32(k) {
					require.InEpsilon(t, x[a.to[j]], z.covariance[j], 1e-12)
				}
			}
		}
	})
}

func times(a *laplacian, x []float64) []float64 {
	b := make([]float64, len(x))
	for i, h := range a.held {
		b[i] = h * x[i]
	}
	for k, w := range a.weight {
		i, j := a.from[k], a.to[k]
		b[i] += w * (x[i] - x[j])
		b[j] += w * (x[j] - x[i])
	}
	return b
}

// checkPlan holds what a plan promises.
func checkPlan(t require.TestingT, p *plan, a *laplacian) {
	n := len(a.held)
	seen := make([]bool, n)
	for _, i := range p.place {
		require.False(t, seen[i], "every unknown has a place of its own")
		seen[i] = true
	}
	require.Equal(t, int32(n), p.first[p.fronts()])
	for f := range int32(p.fronts()) {
		rest := p.restOf(f)
		require.True(t, slices.IsSorted(rest))
		for k, i := range rest {
			require.GreaterOrEqual(t, i, p.first[f+1])
			q := p.parent[f]
			require.Greater(t, q, f)
			require.Equal(t, int(p.withinOf(f)[k]), p.slot(q, i))
			if own := p.own(q); int(p.withinOf(f)[k]) >= own {
				require.Equal(t, i, p.restOf(q)[int(p.withinOf(f)[k])-own])
			}
		}
		require.Equal(t, len(rest) == 0, p.parent[f] < 0)
	}
	for k := range a.from {
		i, j := p.place[a.from[k]], p.place[a.to[k]]
		i, j = min(i, j), max(i, j)
		if f := p.front[i]; j >= p.first[f+1] {
			require.Contains(t, p.restOf(f), j)
		}
	}
}

// fill is how many elements a factor has without the noughts that are stored to
// make fronts larger: what an order of elimination is measured by.
func fill(g *graph) int {
	b := minimumDegree(g)
	s := newSketch(g, &b, MaxElements)
	sum := 0
	for f, k := range s.count {
		sum += int(k)*(int(k)+1)/2 + int(k)*len(s.rest[f])
	}
	return sum
}

// grid of k × k unknowns, each joined with the next to the right and below, named
// at random.
func gridGraph(k int) *graph {
	name := rand.New(rand.NewPCG(1, 1)).Perm(k * k)
	var pairs [][2]int32
	for i := range k {
		for j := range k {
			if j+1 < k {
				pairs = append(pairs, [2]int32{int32(name[i*k+j]), int32(name[i*k+j+1])})
			}
			if i+1 < k {
				pairs = append(pairs, [2]int32{int32(name[i*k+j]), int32(name[i*k+k+j])})
			}
		}
	}
	return newGraph(k*k, pairs)
}

// The order of elimination: none but one element more for each joint in a tree,
// two in a ring; on a grid of k × k well below the k³ of a row after the other
// (A. George, "Nested dissection of a regular finite element mesh", SIAM J. Numer.
// Anal. 10 (1973), has 7.75 k² log2 k; the constant here is measured).
func TestFill(t *testing.T) {
	var path, star [][2]int32
	const n = 5000
	for i := range int32(n - 1) {
		path = append(path, [2]int32{i, i + 1})
		star = append(star, [2]int32{n - 1, i})
	}
	assert.Equal(t, 2*n-1, fill(newGraph(n, path)))
	assert.Equal(t, 2*n-1, fill(newGraph(n, star)))
	ring := append(path, [2]int32{n - 1, 0})
	assert.Equal(t, 3*n-3, fill(newGraph(n, ring)))
	for _, k := range []int{30, 100} {
		ratio := float64(fill(gridGraph(k))) / (float64(k*k) * math.Log2(float64(k)))
		t.Logf("%d × %d: %.2f k² log2 k", k, k, ratio)
		assert.Less(t, ratio, 3.5)
	}
}

// The lists of the order are moved together when there is no room left.
func TestOrderWithoutRoom(t *testing.T) {
	g := gridGraph(40)
	want := minimumDegree(g)
	o := newOrdering(g)
	for v := range int32(g.size()) {
		o.degree[v] = o.size[v]
		o.insert(v)
	}
	o.left = int32(g.size())
	var got []int32
	for n := 0; o.left > 0; n++ {
		if n%7 == 0 {
			o.compact(0)
		}
		p := o.take()
		o.eliminate(p)
		for v := p; v >= 0; v = o.same[v] {
			got = append(got, v)
		}
	}
	assert.Equal(t, want.order, got)
}

// A hub with very many neighbours goes last: the others are eliminated without
// looking through its list each time.
func TestHubGoesLast(t *testing.T) {
	const n = 4000
	var pairs [][2]int32
	for i := int32(1); i < n; i++ {
		pairs = append(pairs, [2]int32{0, i}, [2]int32{i, 1 + i%(n-1)})
	}
	b := minimumDegree(newGraph(n, pairs))
	assert.Equal(t, int32(0), b.order[n-1])
	assert.Len(t, b.order, n)
	assert.Less(t, fill(newGraph(n, pairs)), 4*n, "a ring, and one more for each")
}

// What has no sparse factor is refused before memory is spent on it: here every
// junction is joined with three others, wherever they are.
func TestTooCloselyJoined(t *testing.T) {
	g := rand.New(rand.NewPCG(4, 4))
	n := &Network{Points: make([]Point, 60_000)}
	n.Points[0].Held = true
	for p := range n.Points {
		for range 3 {
			n.Observations = append(n.Observations, run(p, g.IntN(len(n.Points)), 0, 1))
		}
	}
	_, err := Adjust(n, Options{})
	require.ErrorContains(t, err, "junctions, so closely joined that it cannot be adjusted at once; leave observations out")
	var m *Mistake
	require.ErrorAs(t, err, &m)
	assert.True(t, m.Observation == -1 && m.Point == -1)
}
