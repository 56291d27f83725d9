package adjust

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func TestMistakes(t *testing.T) {
	good := func() *Network {
		return &Network{
			Points:       []Point{mark("A", 0), {Name: "B"}, {Name: "C"}, {Name: "D"}},
			Observations: []Observation{run(0, 1, 1, 1), run(1, 2, 1, 1), run(2, 3, 1, 1), run(3, 1, 1, 1)},
		}
	}
	require.Empty(t, good().Check())
	for _, c := range []struct {
		spoil       func(n *Network)
		observation int
		point       int
		text        string
	}{
		{func(n *Network) { n.Observations[1].To = 4 }, 1, -1, "observation 1 runs from point 1 to point 4, and there are 4 points"},
		{func(n *Network) { n.Observations[0].From = -1 }, 0, -1, "observation 0 runs from point -1"},
		{func(n *Network) { n.Observations[2].Variance = 0 }, 2, -1, "observation 2 (C to D) has the variance 0 mm², and a weight needs one"},
		{func(n *Network) { n.Observations[2].Variance = math.NaN() }, 2, -1, "has the variance NaN mm²"},
		{func(n *Network) { n.Observations[2].Variance = math.Inf(1) }, 2, -1, "has the variance +Inf mm²"},
		{func(n *Network) { n.Observations[2].Variance = -1 }, 2, -1, "has the variance -1 mm²"},
		{func(n *Network) { n.Observations[3].Diff = math.MinInt64 }, 3, -1, "observation 3 (D to B) carries levels beyond ±2,342 km"},
		{func(n *Network) { n.Points[0].Variance = -2 }, -1, 0, `mark "A" has the variance -2 mm²`},
		{func(n *Network) { n.Points[0].Variance = math.NaN() }, -1, 0, `mark "A" has the variance NaN mm²`},
		{func(n *Network) { n.Points[0].Level = math.MinInt64 }, -1, 0, `the level of "A" is beyond`},
		// found on the way
		{func(n *Network) { n.Points[0].Level, n.Observations[0].Diff = unit.MaxLength, 1 }, 0, -1, "observation 0 (A to B) carries levels beyond"},
		{func(n *Network) { n.Observations[1].Diff, n.Observations[2].Diff = unit.MaxLength, unit.MaxLength }, -2, -1, "carries levels beyond"},
		{func(n *Network) { n.Observations[3].Diff = unit.MaxLength; n.Observations[1].Diff = unit.MaxLength }, -2, -1, "carries levels beyond"},
	} {
		n := good()
		c.spoil(n)
		_, err := Adjust(n, Options{})
		require.Error(t, err, c.text)
		assert.Contains(t, err.Error(), c.text)
		var m *Mistake
		require.ErrorAs(t, err, &m)
		assert.Equal(t, c.point, m.Point)
		if c.observation >= -1 {
			assert.Equal(t, c.observation, m.Observation)
		}
		_, again := Examine(n, Options{})
		require.Error(t, again)
		if bad := n.Check(); len(bad) > 0 {
			assert.Equal(t, err, bad[0])
		}
	}
	n := good()
	n.Observations[0].Variance, n.Observations[3].Variance, n.Points[0].Variance = 0, 0, -1
	assert.Len(t, n.Check(), 3, "all are found")
}

// Differences of any size: either an error, or levels that obey them.
func TestAnyDifference(t *testing.T) {
	refused := 0
	rapid.Check(t, func(t *rapid.T) {
		g := generator(t)
		for range 20 {
			if !anyDifference(t, g) {
				refused++
			}
		}
	})
	t.Logf("%d of 2000 refused", refused)
	assert.NotZero(t, refused)
}

func anyDifference(t require.TestingT, g *rand.Rand) (adjusted bool) {
	x := draw(g, 1+g.IntN(12), g.IntN(8), 1)
	for i := range x.net.Observations {
		if g.IntN(3) == 0 {
			x.net.Observations[i].Diff = unit.Length(g.Uint64()) >> g.IntN(40)
		}
		if g.IntN(4) == 0 {
			x.net.Observations[i].Variance = math.Pow(10, g.Float64()*31-12)
		}
	}
	for p := range x.net.Points {
		if g.IntN(4) == 0 {
			x.net.Points[p].Level = unit.Length(g.Uint64()) >> g.IntN(40)
		}
	}
	s, err := Examine(&x.net, Options{APriori: g.IntN(2) == 0})
	if err != nil {
		require.Contains(t, err.Error(), "2,342 km")
		return false
	}
	for p := range s.Held.Points {
		l := &s.Held.Points[p]
		require.False(t, math.IsNaN(l.Variance) || l.Variance < 0 || math.IsNaN(l.Correction))
		require.LessOrEqual(t, l.Level.Abs(), unit.MaxLength)
	}
	for _, o := range s.Held.Observations {
		require.False(t, math.IsNaN(o.W) || math.IsNaN(o.V) || math.IsNaN(o.MDB) || math.IsInf(o.MDB, 0))
		require.True(t, o.Redundancy >= 0 && o.Redundancy <= 1 && o.Variance >= 0)
	}
	for _, m := range s.Marks {
		require.False(t, math.IsNaN(m.W) || math.IsNaN(m.Difference) || math.IsNaN(m.SD))
	}
	return true
}
