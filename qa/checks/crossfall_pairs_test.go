package checks

import (
	"cmp"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// All pairs that are within, the nearest first, and of those as near the one of the
// earlier shot on the left and then on the right: what the queue of neighbours must
// come to.
func allPairs(sides [2][]convert.Shot, within unit.Length) (out []pair) {
	var near []pair
	apart := func(p pair) unit.Length { return (sides[1][p.right].Chainage - sides[0][p.left].Chainage).Abs() }
	for i := range sides[0] {
		for k := range sides[1] {
			if p := (pair{left: i, right: k}); apart(p) <= within {
				near = append(near, p)
			}
		}
	}
	slices.SortFunc(near, func(a, b pair) int {
		return cmp.Or(cmp.Compare(apart(a), apart(b)), cmp.Compare(a.left, b.left), cmp.Compare(a.right, b.right))
	})
	var used [2]map[int]bool
	used[0], used[1] = map[int]bool{}, map[int]bool{}
	for _, p := range near {
		if !used[0][p.left] && !used[1][p.right] {
			used[0][p.left], used[1][p.right] = true, true
			out = append(out, p)
		}
	}
	return out
}

func TestNearestPairsAreThoseOfAllPairs(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var m crossfallMeasurer
		for k := range m.sides {
			for _, c := range rapid.SliceOfN(rapid.Int64Range(0, 30), 0, 12).Draw(rt, "chainages") {
				m.sides[k] = append(m.sides[k], convert.Shot{Chainage: unit.Length(c), Chained: true})
			}
		}
		within := unit.Length(rapid.Int64Range(0, 31).Draw(rt, "within"))
		m.params = &CrossfallParams{Pair: "chainage", Within: &job.Length{Length: within}}
		got := m.pairs()
		slices.SortFunc(got, func(a, b pair) int { return cmp.Compare(a.left, b.left) })
		want := allPairs(m.sides, within)
		slices.SortFunc(want, func(a, b pair) int { return cmp.Compare(a.left, b.left) })
		require.Equal(rt, want, got)
	})
}

// A distance that takes in every pair costs memory by the shot: 2 × 3000 of them, of
// which there are nine million pairs. Chainages at the ends of what a Length holds are
// not near each other.
func TestPairsTakeMemoryByTheShot(t *testing.T) {
	var m crossfallMeasurer
	for i := range 3000 {
		m.sides[0] = append(m.sides[0], convert.Shot{Chainage: unit.Length(i) * unit.Metre, Chained: true})
		m.sides[1] = append(m.sides[1], convert.Shot{Chainage: unit.Length(i)*unit.Metre + unit.Metre/3, Chained: true})
	}
	m.params = &CrossfallParams{Pair: "chainage", Within: &job.Length{Length: 10_000 * unit.Metre}}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	got := m.pairs()
	runtime.ReadMemStats(&after)
	assert.Len(t, got, 3000)
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(6000*1000), "bytes for 6000 shots")

	far := crossfallMeasurer{params: m.params, sides: [2][]convert.Shot{{{Chainage: -unit.MaxLength}}, {{Chainage: unit.MaxLength}}}}
	assert.Empty(t, far.pairs())
}
