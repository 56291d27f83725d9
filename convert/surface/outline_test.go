package surface

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

// area is the plan area inside a ring in square metres, + counter-clockwise.
func area(ring []Vertex) float64 {
	sum := 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		sum += a.E.Metres()*b.N.Metres() - b.E.Metres()*a.N.Metres()
	}
	return sum / 2
}

func TestOutlineOfASheet(t *testing.T) {
	tin := sheet(t, 4, 0, 0, 7)
	rings := tin.Outline()
	require.Len(t, rings, 1)
	assert.Len(t, rings[0], 16)
	assert.Equal(t, Vertex{0, 0, 50 * unit.Metre}, rings[0][0])
	lo, hi := tin.Bounds()
	assert.Equal(t, Vertex{0, 0, 50 * unit.Metre}, lo)
	assert.Equal(t, Vertex{40 * unit.Metre, 40 * unit.Metre, 50 * unit.Metre}, hi)
	assert.InDelta(t, 1600, tin.PlanArea(), 1e-9)
	assert.InDelta(t, 1600, area(rings[0]), 1e-9)
}

// squares makes a TIN of unit squares of a metre, each with vertices of its
// own, at the places given.
func squares(t *testing.T, at ...[2]int64) *TIN {
	var v []Vertex
	var f [][3]int32
	for i, p := range at {
		e, n, k := mm(p[0]*1000), mm(p[1]*1000), int32(4*i)
		v = append(v, Vertex{e, n, mm(int64(i))}, Vertex{e + mm(1000), n, 0}, Vertex{e + mm(1000), n + mm(1000), 0}, Vertex{e, n + mm(1000), 0})
		f = append(f, [3]int32{k, k + 1, k + 2}, [3]int32{k + 2, k, k + 3})
	}
	tin, err := New(v, f)
	require.NoError(t, err)
	return tin
}

func TestOutlineRings(t *testing.T) {
	for name, c := range map[string]struct {
		at    [][2]int64
		rings []float64 // areas, in order
		edges []int
	}{
		"one square":           {[][2]int64{{0, 0}}, []float64{1}, []int{4}},
		"apart, by their west": {[][2]int64{{5, 5}, {0, 9}, {0, 0}}, []float64{1, 1, 1}, []int{4, 4, 4}},
		"a hole":               {[][2]int64{{0, 0}, {1, 0}, {2, 0}, {0, 1}, {2, 1}, {0, 2}, {1, 2}, {2, 2}}, []float64{9, -1}, []int{12, 4}},
		"corner to corner":     {[][2]int64{{0, 0}, {1, 1}}, []float64{1, 1}, []int{4, 4}},
		"listed twice":         {[][2]int64{{0, 0}, {0, 0}}, []float64{1, 1}, []int{4, 4}},
	} {
		t.Run(name, func(t *testing.T) {
			rings := squares(t, c.at...).Outline()
			require.Len(t, rings, len(c.rings))
			for i, r := range rings {
				assert.InDelta(t, c.rings[i], area(r), 1e-12)
				assert.Len(t, r, c.edges[i])
			}
		})
	}
}

// Whatever faces are left of a sheet, the rings enclose their area, pass no
// corner twice, and do not depend on the order or the turn of the faces.
func TestOutlineEnclosesTheFaces(t *testing.T) {
	whole := sheet(t, 8, 1, 1, 13)
	g := rand.New(rand.NewPCG(13, 13))
	for range 200 {
		var f [][3]int32
		for _, c := range whole.corners {
			if g.IntN(4) > 0 {
				f = append(f, c)
			}
		}
		tin, err := New(whole.vertices, f)
		require.NoError(t, err)
		rings, sum := tin.Outline(), 0.0
		for _, r := range rings {
			sum += area(r)
			seen := map[Vertex]bool{}
			for _, v := range r {
				require.False(t, seen[v])
				seen[v] = true
			}
		}
		require.InDelta(t, tin.PlanArea(), sum, 1e-9)
		g.Shuffle(len(f), func(i, j int) { f[i], f[j] = f[j], f[i] })
		for i := range f {
			f[i][1], f[i][2] = f[i][2], f[i][1]
		}
		again, err := New(whole.vertices, f)
		require.NoError(t, err)
		require.Equal(t, rings, again.Outline())
	}
}
