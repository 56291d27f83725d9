package adjust

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

// A bad mark among several is accused as a mark, also when it is the one that is
// held first; no observation is, and the network with one mark held is at rest.
func TestBadMark(t *testing.T) {
	g := rand.New(rand.NewPCG(5, 5))
	right, runs := 0, 0
	for range 60 {
		for _, variance := range []float64{0, 0.01, 1} {
			for k, bad := range []int{0, 3, 12, 15, 5} {
				n := block(g, 5, 1)
				for p := range n.Points {
					if n.Points[p].Held {
						n.Points[p].Variance = variance
					}
				}
				sign := 1 - 2*(k%2)
				n.Points[bad].Level += 25 * mm * unit.Length(sign)
				s, err := Examine(n, Options{APriori: true})
				require.NoError(t, err)
				runs++
				// an observation is now and then accused by chance
				if len(s.Accused.Marks) == 1 && s.Accused.Marks[0] == bad && len(s.Accused.Observations) == 0 {
					right++
				}
				for _, m := range s.Marks {
					assert.Equal(t, m.Point == 0, m.HeldThere)
					if m.Point == bad {
						assert.True(t, m.Checked)
						assert.InDelta(t, -25*float64(sign), m.Difference, 5*m.SD, "the others say where it should be")
						assert.Less(t, m.MDB, 25.0)
					}
				}
			}
		}
	}
	t.Logf("%d of %d", right, runs)
	assert.Greater(t, float64(right)/float64(runs), 0.95)
}

// Where no standard deviation was stated, the bad mark makes s0 large too, and is
// found all the same, by tau.
func TestBadMarkWithoutStatedDeviation(t *testing.T) {
	g := rand.New(rand.NewPCG(15, 5))
	for _, unitWeight := range []float64{0.01, 1, 100} {
		n := block(g, 5, math.Sqrt(unitWeight))
		n.Points[15].Level += unit.Length(40 * math.Sqrt(unitWeight) * float64(mm))
		s, err := Examine(n, Options{})
		require.NoError(t, err)
		assert.Equal(t, []int{15}, s.Accused.Marks)
		assert.InDelta(t, math.Sqrt(unitWeight), s.Free.S0, 0.6*math.Sqrt(unitWeight))
		assert.Greater(t, s.Held.S0, 3*s.Free.S0)
		assert.False(t, s.Held.Global.Done, "there is nothing to compare s0 with")
		assert.Less(t, s.Accused.W, math.Sqrt(float64(s.Held.DoF)), "no w by s0 is larger")
		assert.InDelta(t, tau(s.Held.DoF), s.Held.Critical, 1e-15)
	}
}

// With one mark held, the levels of the others show how far each is off.
func TestMarksInTheFreeNetwork(t *testing.T) {
	g := rand.New(rand.NewPCG(6, 5))
	n := block(g, 3, 0)
	n.Points[12].Level -= 30 * mm
	s, err := Examine(n, Options{APriori: true})
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{0, 0, 30}, column(s.Marks, func(m MarkTest) float64 { return m.FreeDifference }), 1e-6)
	assert.Zero(t, s.Free.Sum, "marks do not strain it")
	assert.Equal(t, []int{12}, s.Accused.Marks)
	assert.Equal(t, AllMarks, s.Stage)
	assert.InDelta(t, 30, s.Marks[2].Difference, 1e-6)
	for _, m := range s.Marks[1:] {
		assert.Positive(t, m.FreeSD)
	}
	n.Points[12].Level += 30 * mm // right again
	n.Points[0].Level += 30 * mm
	s, err = Examine(n, Options{APriori: true})
	require.NoError(t, err)
	assert.True(t, s.Marks[0].HeldThere)
	assert.Equal(t, []int{0}, s.Accused.Marks, "it is the one that was held")
}

// Of two marks that disagree both are named: it cannot be told which is wrong.
func TestTwoMarks(t *testing.T) {
	g := rand.New(rand.NewPCG(7, 5))
	n := block(g, 2, 0.5)
	n.Points[3].Level += 40 * mm
	for _, variance := range []float64{0, 0.25} {
		n.Points[0].Variance, n.Points[3].Variance = variance, variance
		s, err := Examine(n, Options{APriori: true})
		require.NoError(t, err)
		assert.Equal(t, []int{0, 3}, s.Accused.Marks)
		assert.Empty(t, s.Accused.Observations)
		assert.InDelta(t, s.Marks[0].W, -s.Marks[1].W, 1e-9)
	}
}

// A line between two marks: the marks and every run of it have one |w|. A mark at
// the end of a line of its own cannot be told from that line.
func TestMarksAndLines(t *testing.T) {
	line := &Network{
		Points:       []Point{mark("A", 0), {Name: "c"}, mark("B", 50)},
		Observations: []Observation{run(0, 1, 10, 1), run(1, 2, 10, 1)},
	}
	s, err := Examine(line, Options{APriori: true})
	require.NoError(t, err)
	assert.Zero(t, s.Free.DoF)
	assert.Equal(t, []int{0, 1}, s.Accused.Observations)
	assert.Equal(t, []int{0, 2}, s.Accused.Marks)
	assert.InDelta(t, 30/math.Sqrt2, s.Accused.W, 1e-12)

	star := &Network{
		Points:       []Point{{Name: "J"}, mark("A", 10), mark("B", 10), mark("C", 40)},
		Observations: []Observation{run(1, 0, 10, 1), run(2, 0, 10, 1), run(3, 0, 10, 1)},
	}
	s, err = Examine(star, Options{APriori: true})
	require.NoError(t, err)
	assert.Equal(t, []int{2}, s.Accused.Observations)
	assert.Equal(t, []int{3}, s.Accused.Marks)
}

// A slip in an observation that the free network sees is accused there.
func TestSlipIsNoBadMark(t *testing.T) {
	g := rand.New(rand.NewPCG(9, 5))
	n := block(g, 4, 0.5)
	n.Observations[10].Diff += 30 * mm
	s, err := Examine(n, Options{APriori: true})
	require.NoError(t, err)
	assert.Equal(t, FreeNet, s.Stage)
	assert.Equal(t, []int{10}, s.InFree.Observations)
	assert.Equal(t, []int{10}, s.InHeld.Observations)
	assert.Equal(t, []int{10}, s.Accused.Observations, "once")
	assert.Empty(t, s.Accused.Marks)

	// with a bad mark besides, each is accused of its own
	n.Points[3].Level -= 80 * mm
	s, err = Examine(n, Options{APriori: true})
	require.NoError(t, err)
	assert.Equal(t, []int{10}, s.Accused.Observations)
	assert.Equal(t, []int{3}, s.Accused.Marks)
	assert.Greater(t, s.InHeld.W, s.InFree.W)
	assert.Equal(t, s.InHeld.W, s.Accused.W)
}

// Marks that no other mark is joined to are not proved by anything; a network
// without strain accuses none.
func TestUnprovedMarks(t *testing.T) {
	g := rand.New(rand.NewPCG(10, 5))
	n := block(g, 1, 0.5)
	n.Points = append(n.Points, mark("lonely", 5))
	s, err := Examine(n, Options{APriori: true})
	require.NoError(t, err)
	assert.False(t, s.Accused.Any())
	assert.Equal(t, Nothing, s.Stage)
	assert.Equal(t, []int{0}, s.Held.Unproved)
	assert.Equal(t, []int{16}, s.Held.Untied)
	require.Len(t, s.Marks, 2)
	for _, m := range s.Marks {
		assert.False(t, m.Checked)
		assert.Zero(t, m.W)
	}
	assert.Nil(t, s.Free.Marks(), "with one mark held there is no test of marks")
	quick, err := Adjust(n, Options{LevelsOnly: true})
	require.NoError(t, err)
	assert.Nil(t, quick.Marks())
}
