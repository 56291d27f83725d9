package adjust

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

const mm = unit.Millimetre

// run makes an observation from mm.
func run(from, to int, diff unit.Length, variance float64) Observation {
	return Observation{From: from, To: to, Diff: diff * mm, Variance: variance}
}

func mark(name string, level unit.Length) Point {
	return Point{Name: name, Held: true, Level: level * mm}
}

// Folded and not folded, a network has the same results.
func TestFoldingChangesNothing(t *testing.T) {
	folded, hung := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		g := generator(t)
		for range 10 {
			x := draw(g, 2+g.IntN(40), g.IntN(12), 1)
			whole := Network{append([]Point(nil), x.net.Points...), x.net.Observations}
			for p := range whole.Points {
				x.net.Points[p].Wanted, whole.Points[p].Wanted = false, true
			}
			for _, o := range []Options{{}, {APriori: true}, {OneMark: true, APriori: true}, {HoldLoose: true, APriori: true}} {
				a, err := Adjust(&x.net, o)
				require.NoError(t, err)
				b, err := Adjust(&whole, o)
				require.NoError(t, err)
				for p := range a.Points {
					if a.f.role[p] == inner {
						folded++
					} else if a.f.role[p] == hanging {
						hung++
					}
				}
				for p := range b.Points {
					require.False(t, b.f.role[p] == inner || b.f.role[p] == hanging)
				}
				sameResults(t, a, b)
			}
		}
	})
	assert.Greater(t, folded, 1000)
	assert.Greater(t, hung, 1000)
}

func sameResults(t require.TestingT, a, b *Result) {
	require.Equal(t, b.Unknowns, a.Unknowns)
	require.Equal(t, b.DoF, a.DoF)
	require.Equal(t, b.LooseParts, a.LooseParts)
	require.Equal(t, b.Assumed, a.Assumed)
	near(t, b.Sum, a.Sum, 1e-9*(1+b.Sum), "Σv²/σ²")
	for p := range b.Points {
		x, y := &a.Points[p], &b.Points[p]
		require.Equal(t, y.State, x.State)
		require.Equal(t, y.Checked, x.Checked, "point %d", p)
		near(t, 0, (x.Level - y.Level).Millimetres(), 1e-6, "level", p)
		near(t, y.Variance, x.Variance, 1e-11*y.Variance, "variance", p)
		near(t, y.Redundancy, x.Redundancy, 1e-9, "redundancy", p)
	}
	for i := range b.Observations {
		x, y := &a.Observations[i], &b.Observations[i]
		lost := 1e-12
		if y.Adjusted {
			o := &b.net.Observations[i]
			lost += 1e-13 * (b.Points[o.From].Variance + b.Points[o.To].Variance) / o.Variance
		}
		require.Equal(t, y.Adjusted, x.Adjusted)
		near(t, y.V, x.V, 1e-7, "residual", i) // slips of 10 m are in runs of 0.1 mm
		near(t, y.Redundancy, x.Redundancy, lost, "redundancy of an observation", i)
		if x.Redundancy > 1e-3 { // else digits are gone in both
			require.Equal(t, y.Checked, x.Checked)
			near(t, y.W, x.W, 1e-6*(1+math.Abs(y.W)), "w", i)
			near(t, y.MDB, x.MDB, 1e-6*y.MDB, "smallest slip", i)
		}
	}
}

// A line of three runs between two marks 9 mm apart from what was levelled, from
// a textbook rule (common practice, no published source): each run takes its part
// by variance; the variance of a point is that of two resistors side by side.
func TestChainBetweenMarks(t *testing.T) {
	n := &Network{
		Points: []Point{mark("A", 10_000), {Name: "c1"}, {Name: "c2"}, mark("B", 13_009)},
		Observations: []Observation{
			run(0, 1, 1000, 1), run(2, 1, -2000, 3), run(2, 3, 0, 5), // the middle one is observed backwards
		},
	}
	r, err := Adjust(n, Options{APriori: true})
	require.NoError(t, err)
	assert.Equal(t, 1, r.DoF)
	assert.Equal(t, 2, r.Unknowns)
	assert.Equal(t, 11_001*mm, r.Points[1].Level)
	assert.Equal(t, 13_004*mm, r.Points[2].Level)
	assert.Equal(t, 13_000*mm, r.Points[2].Provisional)
	assert.InDelta(t, 4, r.Points[2].Correction, 1e-12)
	assert.InDeltaSlice(t, []float64{0, 1 * 8. / 9, 4 * 5. / 9, 0}, column(r.Points, func(l Level) float64 { return l.Variance }), 1e-14)
	assert.InDeltaSlice(t, []float64{1, -3, 5}, column(r.Observations, func(o Residual) float64 { return o.V }), 1e-12)
	assert.InDeltaSlice(t, []float64{1. / 9, 3. / 9, 5. / 9}, column(r.Observations, func(o Residual) float64 { return o.Redundancy }), 1e-15)
	assert.InDeltaSlice(t, []float64{3, -3, 3}, column(r.Observations, func(o Residual) float64 { return o.W }), 1e-12, "9 mm over √9, in all of a row")
	assert.InDelta(t, 9, r.Sum, 1e-12)
	assert.InDelta(t, 1*5./9, r.Covariance(1, 2), 1e-14)
	v, ok := r.DifferenceVariance(1, 2)
	assert.True(t, ok)
	assert.InDelta(t, 3*6./9, v, 1e-14)
	assert.InDeltaSlice(t, []float64{1. / 9, 4. / 9, 8. / 9, 5. / 9}, column(r.Points, func(l Level) float64 { return l.Redundancy }), 1e-15)
	assert.True(t, r.Points[1].Checked && r.Points[2].Checked)
}

func column[T any](rows []T, of func(T) float64) []float64 {
	out := make([]float64, len(rows))
	for i, r := range rows {
		out[i] = of(r)
	}
	return out
}

// A ring that hangs on one junction, which hangs on a mark by one run; a dead end
// of two on a change point of the ring; a run back to its own point on the last of
// that.
func TestRingOnADeadEnd(t *testing.T) {
	n := &Network{
		Points: []Point{mark("A", 5000), {Name: "J"}, {Name: "r1"}, {Name: "r2"}, {Name: "d1"}, {Name: "d2"}},
		Observations: []Observation{
			run(0, 1, 100, 2), run(1, 2, 10, 1), run(2, 3, 10, 2), run(3, 1, -26, 3), // the ring closes to −6
			run(4, 2, -7, 4), run(4, 5, 5, 6), run(5, 5, 4, 1),
		},
	}
	r, err := Adjust(n, Options{APriori: true})
	require.NoError(t, err)
	assert.Equal(t, 2, r.DoF, "the ring and the run back")
	want := []unit.Length{5000, 5100, 5111, 5123, 5118, 5123}
	for p, l := range want {
		assert.Equal(t, l*mm, r.Points[p].Level, n.Points[p].Name)
	}
	assert.InDeltaSlice(t, []float64{0, 2, 2 + 5./6, 2 + 3*3./6, 6 + 5./6, 12 + 5./6}, column(r.Points, func(l Level) float64 { return l.Variance }), 1e-12)
	assert.InDeltaSlice(t, []float64{0, 1, 2, 3, 0, 0, -4}, column(r.Observations, func(o Residual) float64 { return o.V }), 1e-12)
	for p := range n.Points {
		assert.Equal(t, p == 0, r.Points[p].Checked, "a slip between A and J moves all the rest unseen: %s", n.Points[p].Name)
	}
	assert.Equal(t, []bool{false, true, true, true, false, false, true},
		[]bool{r.Observations[0].Checked, r.Observations[1].Checked, r.Observations[2].Checked, r.Observations[3].Checked, r.Observations[4].Checked, r.Observations[5].Checked, r.Observations[6].Checked})
	assert.Equal(t, []int{0}, r.Unproved)
	v, _ := r.DifferenceVariance(5, 2)
	assert.InDelta(t, 10, v, 1e-12, "only the dead end is between")
	v, _ = r.DifferenceVariance(5, 3)
	assert.InDelta(t, 10+2*4./6, v, 1e-12)
	v, _ = r.DifferenceVariance(4, 5)
	assert.InDelta(t, 6, v, 1e-12)
	assert.InDelta(t, 6+5./6, r.Covariance(5, 4), 1e-12)
	assert.InDelta(t, 2, r.Covariance(5, 1), 1e-12)
}

// Two runs side by side, and dead ends that share a part of their way.
func TestParallelRunsAndBranches(t *testing.T) {
	n := &Network{
		Points:       []Point{mark("A", 0), {Name: "B", Wanted: true}, {Name: "s"}, {Name: "s1"}, {Name: "s2"}},
		Observations: []Observation{run(0, 1, 1004, 3), run(1, 0, -1000, 1), run(1, 2, 1, 2), run(2, 3, 1, 5), run(4, 2, 1, 7)},
	}
	for _, wanted := range []bool{true, false} {
		n.Points[1].Wanted = wanted
		r, err := Adjust(n, Options{})
		require.NoError(t, err)
		assert.Equal(t, 1001*mm, r.Points[1].Level, "weighted mean")
		assert.InDelta(t, 0.75, r.Points[1].Variance, 1e-14)
		assert.InDelta(t, 2, r.S0, 1e-12, "√(3²/3 + 1²/1) = 2")
		sd, ok := r.SD(1)
		assert.True(t, ok)
		assert.InDelta(t, math.Sqrt(3), sd, 1e-12, "with s0")
		assert.InDelta(t, 0.75+2, r.Covariance(3, 4), 1e-12)
		v, _ := r.DifferenceVariance(3, 4)
		assert.InDelta(t, 12, v, 1e-12)
		v, _ = r.DifferenceVariance(3, 3)
		assert.Zero(t, v)
	}
}

// Parts without a mark are named, and adjusted where that is asked for.
func TestLooseParts(t *testing.T) {
	n := &Network{
		Points: []Point{
			{Name: "a"}, mark("M", 100), {Name: "b"}, {Name: "c"}, {Name: "d", Level: 7 * mm}, {Name: "e"}, mark("N", 5), {Name: "alone"},
		},
		Observations: []Observation{run(1, 0, 1, 1), run(2, 3, 1, 1), run(4, 5, 10, 1), run(5, 4, -12, 1)},
	}
	r, err := Adjust(n, Options{})
	require.NoError(t, err)
	assert.Equal(t, [][]int{{2, 3}, {4, 5}, {7}}, r.LooseParts)
	assert.Equal(t, []int{6}, r.Untied)
	assert.Equal(t, []int{1}, r.Unproved)
	assert.Empty(t, r.Assumed)
	assert.Zero(t, r.DoF)
	assert.Zero(t, r.Critical)
	assert.Equal(t, Residual{}, r.Observations[1])
	assert.Equal(t, Level{}, r.Points[2])
	assert.Zero(t, r.Covariance(0, 2))
	_, ok := r.DifferenceVariance(0, 2)
	assert.False(t, ok, "what is not joined has no difference")
	_, ok = r.SD(0)
	assert.False(t, ok, "without redundancy and a stated deviation s0 is not known")

	r, err = Adjust(n, Options{HoldLoose: true})
	require.NoError(t, err)
	assert.Empty(t, r.LooseParts)
	assert.Equal(t, []int{2, 4, 7}, r.Assumed)
	assert.Equal(t, 1, r.DoF)
	assert.Equal(t, 18*mm, r.Points[5].Level, "7 + 11")
	assert.Equal(t, Held, r.Points[4].State)
}

// Nothing at all, and only a mark.
func TestEmptyNetworks(t *testing.T) {
	r, err := Adjust(&Network{}, Options{APriori: true})
	require.NoError(t, err)
	assert.False(t, r.Global.Done)
	r, err = Adjust(&Network{Points: []Point{mark("A", 1)}}, Options{APriori: true})
	require.NoError(t, err)
	assert.Equal(t, []int{0}, r.Untied)
	assert.Equal(t, mm, r.Points[0].Level)
}

// Provisional levels are exact sums from a mark, whether a point is folded or not.
func TestProvisionalLevels(t *testing.T) {
	n := &Network{
		Points:       []Point{mark("A", 100), {Name: "J", Wanted: true}, {Name: "c"}, {Name: "K", Wanted: true}, {Name: "d"}},
		Observations: []Observation{run(0, 1, 10, 1), run(1, 0, -16, 1), run(2, 1, -5, 1), run(2, 3, 5, 1), run(1, 3, 20, 2), run(3, 4, 1, 1)},
	}
	r, err := Adjust(n, Options{})
	require.NoError(t, err)
	assert.Equal(t, 113*mm, r.Points[1].Level)
	assert.Equal(t, 128*mm, r.Points[3].Level)
	for p := range n.Points {
		x := &r.Points[p]
		up := x.Provisional - 100*mm
		assert.Contains(t, [][]unit.Length{{0}, {10 * mm, 16 * mm}, {15 * mm, 21 * mm, 25 * mm, 31 * mm}, {20 * mm, 26 * mm, 30 * mm, 36 * mm}, {21 * mm, 27 * mm, 31 * mm, 37 * mm}}[p], up)
		assert.InDelta(t, (x.Level - x.Provisional).Millimetres(), x.Correction, 1e-9)
	}
}
