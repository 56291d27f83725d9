package adjust

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// generator has a seed of its own in every check: a number drawn by rapid is small
// too often.
func generator(t *rapid.T) *rand.Rand {
	seed := rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "seed")
	return rand.New(rand.NewPCG(binary.LittleEndian.Uint64(seed), binary.LittleEndian.Uint64(seed[8:])))
}

// truth is a network with the levels that it was drawn from.
type truth struct {
	net    Network
	levels []unit.Length
}

// draw makes a network of any shape: parts, chains, dead ends, rings, parallel
// runs, runs back to their own point, marks with and without a variance, slips.
func draw(g *rand.Rand, points, more int, spread float64) *truth {
	t := &truth{}
	level := func() unit.Length { return unit.Length(g.Int64N(200_000)) * unit.Millimetre }
	noise := func(v float64) unit.Length {
		return unit.Length(math.Round(g.NormFloat64() * math.Sqrt(v) * float64(unit.Millimetre)))
	}
	variance := func() float64 { return math.Pow(10, spread*(g.Float64()*6-2)) }
	for range points {
		l := level()
		p := Point{Name: "P", Level: l}
		if g.IntN(5) == 0 {
			p.Held = true
			if g.IntN(3) == 0 {
				p.Variance = variance()
				p.Level += noise(p.Variance)
			} else if g.IntN(3) == 0 {
				p.Level += noise(400)
			}
		} else {
			p.Level = level() // means nothing
		}
		p.Wanted = g.IntN(8) == 0
		t.net.Points, t.levels = append(t.net.Points, p), append(t.levels, l)
	}
	add := func(a, b int) {
		v := variance()
		d := t.levels[b] - t.levels[a] + noise(v)
		if g.IntN(40) == 0 {
			d += unit.Length(g.Int64N(20_000)-10_000) * unit.Millimetre
		}
		t.net.Observations = append(t.net.Observations, Observation{From: a, To: b, Diff: d, Variance: v})
	}
	for b := 1; b < points; b++ { // a tree, mostly
		if g.IntN(12) == 0 {
			continue
		}
		a := g.IntN(b)
		if g.IntN(3) > 0 {
			a = b - 1
		}
		if g.IntN(2) == 0 {
			add(a, b)
		} else {
			add(b, a)
		}
	}
	for range more {
		add(g.IntN(points), g.IntN(points))
	}
	return t
}

// dense is the textbook solution of a network: full matrices, all points that
// move, each part with a mark.
type dense struct {
	moves []int // unknown of a point, -1 none
	near  []unit.Length
	x     []float64 // mm above near
	n     *mat.SymDense
	q     *mat.Dense
	dof   int
	sum   float64
}

// supported finds the points that hang on marks, by spreading names.
func supported(n *Network) []bool {
	on := make([]bool, len(n.Points))
	for i := range on {
		on[i] = n.Points[i].Held
	}
	for again := true; again; {
		again = false
		for _, o := range n.Observations {
			if on[o.From] != on[o.To] {
				on[o.From], on[o.To], again = true, true, true
			}
		}
	}
	return on
}

func solveDense(t require.TestingT, x *truth, held func(p int) bool) *dense {
	d := &dense{moves: make([]int, len(x.net.Points))}
	on, u := supported(&x.net), 0
	for p := range x.net.Points {
		d.moves[p] = -1
		if on[p] && !held(p) {
			d.moves[p] = u
			u++
		}
	}
	d.near = slices.Clone(x.levels)
	for p := range d.near {
		if on[p] && d.moves[p] < 0 {
			d.near[p] = x.net.Points[p].Level
		}
	}
	d.solve(t, x, on, u)
	for p, i := range d.moves { // once more, for what float64 left
		if i >= 0 {
			d.near[p] += unit.Length(d.x[i] * float64(unit.Millimetre))
		}
	}
	d.solve(t, x, on, u)
	d.addUp(x, on, u)
	return d
}

func (d *dense) solve(t require.TestingT, x *truth, on []bool, u int) {
	if u > 0 {
		d.n = mat.NewSymDense(u, nil)
	}
	b := make([]float64, u)
	put := func(i, j int, v float64) { d.n.SetSym(i, j, d.n.At(i, j)+v) }
	for k := range x.net.Observations {
		o := &x.net.Observations[k]
		if !on[o.From] || o.From == o.To {
			continue
		}
		i, j, w := d.moves[o.From], d.moves[o.To], 1/o.Variance
		l := (o.Diff - (d.near[o.To] - d.near[o.From])).Millimetres()
		if i >= 0 {
			put(i, i, w)
			b[i] -= w * l
		}
		if j >= 0 {
			put(j, j, w)
			b[j] += w * l
		}
		if i >= 0 && j >= 0 {
			put(i, j, -w)
		}
	}
	for p := range x.net.Points {
		if i, v := d.moves[p], x.net.Points[p].Variance; i >= 0 && x.net.Points[p].Held && v > 0 {
			put(i, i, 1/v)
			b[i] += (x.net.Points[p].Level - d.near[p]).Millimetres() / v
		}
	}
	d.x = make([]float64, u)
	if u > 0 {
		var c mat.Cholesky
		require.True(t, c.Factorize(d.n))
		xs := mat.NewVecDense(u, d.x)
		require.NoError(t, c.SolveVecTo(xs, mat.NewVecDense(u, b)))
		eye := mat.NewDense(u, u, nil)
		for i := range u {
			eye.Set(i, i, 1)
		}
		d.q = mat.NewDense(u, u, nil)
		require.NoError(t, c.SolveTo(d.q, eye))
	}
}

// addUp finds the degrees of freedom and Σv²/σ².
func (d *dense) addUp(x *truth, on []bool, u int) {
	d.dof = -u
	for k := range x.net.Observations {
		o := &x.net.Observations[k]
		if on[o.From] {
			d.dof++
			v := d.residual(x, o)
			d.sum += v * v / o.Variance
		}
	}
	for p := range x.net.Points {
		if v := x.net.Points[p].Variance; d.moves[p] >= 0 && x.net.Points[p].Held && v > 0 {
			e := d.x[d.moves[p]] - (x.net.Points[p].Level - d.near[p]).Millimetres()
			d.sum += e * e / v
			d.dof++
		}
	}
}

// level is that of a point above the level it was drawn from, in mm.
func (d *dense) level(x *truth, p int) float64 {
	above := (d.near[p] - x.levels[p]).Millimetres()
	if i := d.moves[p]; i >= 0 {
		return above + d.x[i]
	}
	return above
}

func (d *dense) residual(x *truth, o *Observation) float64 {
	v := (d.near[o.To] - d.near[o.From] - o.Diff).Millimetres()
	if i := d.moves[o.To]; i >= 0 {
		v += d.x[i]
	}
	if i := d.moves[o.From]; i >= 0 {
		v -= d.x[i]
	}
	return v
}

func (d *dense) covariance(p, q int) float64 {
	i, j := d.moves[p], d.moves[q]
	if i < 0 || j < 0 {
		return 0
	}
	return d.q.At(i, j)
}

func (d *dense) difference(p, q int) float64 {
	return d.covariance(p, p) + d.covariance(q, q) - 2*d.covariance(p, q)
}

func near(t require.TestingT, want, got, within float64, what string, at ...any) {
	if !(math.Abs(want-got) <= within) {
		require.Failf(t, what, "%v: %.15g, the dense solution has %.15g, %.3g apart", at, got, want, want-got)
	}
}

// Random networks against a dense solution by gonum: levels to 1e-9 m, variances,
// covariances and redundancies to 1e-9 of themselves. Variances are from 0.03 to
// 1,000 mm²: with more the dense solution has fewer digits.
func TestRandomNetworks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := generator(t)
		for range 30 { // thousands of networks
			compareDense(t, draw(g, 1+g.IntN(30), g.IntN(25), 0.75), g)
		}
	})
}

func compareDense(t require.TestingT, x *truth, g *rand.Rand) {
	r, err := Adjust(&x.net, Options{APriori: true})
	require.NoError(t, err)
	d := solveDense(t, x, func(p int) bool { return x.net.Points[p].Held && x.net.Points[p].Variance == 0 })
	on := supported(&x.net)
	require.Equal(t, d.dof, r.DoF)
	near(t, d.sum, r.Sum, 1e-9*(1+d.sum), "Σv²/σ²")
	for p := range r.Points {
		got := &r.Points[p]
		require.Equal(t, on[p], got.State != Loose)
		require.Equal(t, on[p] && d.moves[p] < 0, got.State == Held)
		if !on[p] {
			continue
		}
		near(t, d.level(x, p), (got.Level - x.levels[p]).Millimetres(), 1e-6, "level", p)
		near(t, d.level(x, p), (got.Provisional-x.levels[p]).Millimetres()+got.Correction, 1e-6, "correction", p)
		v := d.covariance(p, p)
		near(t, v, got.Variance, 1e-9*v, "variance", p)
	}
	total := 0.0
	for i := range r.Observations {
		o, got := &x.net.Observations[i], &r.Observations[i]
		require.Equal(t, on[o.From], got.Adjusted)
		if !on[o.From] {
			continue
		}
		near(t, d.residual(x, o), got.V, 1e-6, "residual", i)
		// the subtraction takes digits from the dense solution
		lost := 1e-10 * (d.covariance(o.From, o.From) + d.covariance(o.To, o.To))
		near(t, d.difference(o.From, o.To), got.Variance, 1e-9*o.Variance+lost, "variance of a difference", i)
		near(t, 1-d.difference(o.From, o.To)/o.Variance, got.Redundancy, 1e-9+lost/o.Variance, "redundancy", i)
		total += got.Redundancy
		if got.Checked {
			near(t, got.V/math.Sqrt(o.Variance*got.Redundancy), got.W, 1e-9*(1+math.Abs(got.W)), "w", i)
		}
	}
	for p := range r.Points {
		if v := x.net.Points[p].Variance; d.moves[p] >= 0 && x.net.Points[p].Held && v > 0 {
			total += 1 - d.covariance(p, p)/v
		}
	}
	near(t, float64(d.dof), total, 1e-7, "Σr is the degrees of freedom")
	for i := range r.f.ties {
		if r.mesh.bridge[i] {
			o := &r.Observations[r.f.links[r.f.ties[i].first].observation]
			require.True(t, o.V == 0 && o.Redundancy == 0 && !o.Checked, "nothing checks it: exactly nought")
		}
	}
	for range 6 {
		p, q := g.IntN(len(on)), g.IntN(len(on))
		if !on[p] || !on[q] {
			continue
		}
		scale := math.Sqrt(d.covariance(p, p) * d.covariance(q, q))
		near(t, d.covariance(p, q), r.Covariance(p, q), 1e-9*scale, "covariance", p, q)
		v, ok := r.DifferenceVariance(p, q)
		require.True(t, ok)
		near(t, d.difference(p, q), v, 1e-9*(d.covariance(p, p)+d.covariance(q, q)), "variance of a difference", p, q)
	}
	checkMarks(t, x, r, d)
}

// checkMarks compares each mark's test with the dense solution in which that mark
// is released.
func checkMarks(t require.TestingT, x *truth, r *Result, d *dense) {
	for _, m := range r.Marks() {
		p := m.Point
		if !m.Checked || x.net.Points[p].Variance != 0 {
			continue
		}
		others := solveDense(t, x, func(q int) bool { return q != p && x.net.Points[q].Held && x.net.Points[q].Variance == 0 })
		diff := others.level(x, p) - (x.net.Points[p].Level - x.levels[p]).Millimetres()
		near(t, others.covariance(p, p), m.SD*m.SD, 1e-7*m.SD*m.SD, "variance of a mark", p)
		near(t, diff, m.Difference, 1e-6*(1+m.SD), "level of a mark by the others", p)
		near(t, d.sum-others.sum, m.W*m.W, 1e-6*(1+d.sum), "what the release of a mark takes off Σv²/σ²", p)
	}
}
