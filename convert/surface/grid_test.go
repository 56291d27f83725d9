package surface

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

// all asks every face, without the grid.
func (t *TIN) all(e, n unit.Length) (z unit.Length, face int32, state State) {
	for k := range t.face {
		if t.face[k].flat() {
			continue
		}
		if level, inside := t.exact(int32(k), e, n); inside {
			switch {
			case state == Outside:
				z, face, state = level, int32(k), On
			case level != z:
				return z, face, Twice
			}
		}
	}
	return z, face, state
}

// The grid and the filter lose no face: any heap of triangles, needles across
// the whole box among them, answers as the search through all of them does.
func TestGridLosesNothing(t *testing.T) {
	g := rand.New(rand.NewPCG(11, 11))
	at := func(size int64) unit.Length { return unit.Length(g.Int64N(size)) }
	heaps := map[string]func() []Vertex{
		"needles": func() []Vertex {
			a, b := Vertex{at(1e15), at(1e15), at(1e12)}, Vertex{at(1e15), at(1e15), at(1e12)}
			return []Vertex{a, b, {(a.E+b.E)/2 + at(1e6), (a.N+b.N)/2 + at(1e6), at(1e12)}}
		},
		"small and large": func() []Vertex {
			size := int64(1) << (4 + g.IntN(46))
			e, n := at(1e15), at(1e15)
			return []Vertex{{e + at(size), n + at(size), at(1e9)}, {e + at(size), n + at(size), at(1e9)}, {e + at(size), n + at(size), at(1e9)}}
		},
		"lines along the axes": func() []Vertex {
			e, n := at(1e15), at(1e15)
			if g.IntN(2) == 0 {
				return []Vertex{{0, n, at(1e9)}, {1e15, n, at(1e9)}, {e, n + 1 + at(1e3), at(1e9)}}
			}
			return []Vertex{{e, 0, at(1e9)}, {e, 1e15, at(1e9)}, {e + 1 + at(1e3), n, at(1e9)}}
		},
		"one cell": func() []Vertex {
			return []Vertex{{at(9), at(9), at(9)}, {at(9), at(9), at(9)}, {at(9), at(9), at(9)}}
		},
	}
	for name, heap := range heaps {
		t.Run(name, func(t *testing.T) {
			var v []Vertex
			var f [][3]int32
			for i := range int32(300) {
				v = append(v, heap()...)
				f = append(f, [3]int32{3 * i, 3*i + 1, 3*i + 2})
			}
			tin, err := New(v, f)
			require.NoError(t, err)
			on := 0
			for i := range 9000 {
				// places in and beside a triangle: corners, edges, means
				k := i % 300
				a, b, c := &v[3*k], &v[3*k+1], &v[3*k+2]
				p, q := unit.Length(g.IntN(5)), unit.Length(g.IntN(5))
				e := a.E + (b.E-a.E)/8*p + (c.E-a.E)/8*q + unit.Length(g.IntN(3)-1)
				n := a.N + (b.N-a.N)/8*p + (c.N-a.N)/8*q + unit.Length(g.IntN(3)-1)
				z, face, state, _ := tin.Level(e, n)
				wantZ, wantFace, wantState := tin.all(e, n)
				require.Equal(t, wantState, state, "%d %d", e, n)
				require.Equal(t, wantZ, z)
				require.Equal(t, wantFace, face)
				if state != Outside {
					on++
				}
			}
			assert.Greater(t, on, 500)
		})
	}
}

// A road at a slant keeps small cells, and a heap of needles keeps to the cap.
func TestGridKeepsToItsCap(t *testing.T) {
	road := corridor(t, 10_000)
	cells := len(road.grid.start) - 1
	assert.Less(t, cells, perFace*road.Faces()+atLeast)
	assert.Less(t, len(road.grid.items)/road.Faces(), 8)
	deepest := uint32(0)
	for c := range cells {
		deepest = max(deepest, road.grid.start[c+1]-road.grid.start[c])
	}
	assert.Less(t, deepest, uint32(12), "faces in the fullest cell")

	// ten faces of one count by a kilometre, at a slant
	var v []Vertex
	var f [][3]int32
	for i := range int32(10) {
		k := unit.Length(i)
		v = append(v, Vertex{k, 0, 0}, Vertex{k + 1, 0, 0}, Vertex{k + 1000*unit.Metre, 1000 * unit.Metre, 0})
		f = append(f, [3]int32{3 * i, 3*i + 1, 3*i + 2})
	}
	needles, err := New(v, f)
	require.NoError(t, err)
	assert.LessOrEqual(t, len(needles.grid.start)+len(needles.grid.items), 2*(perFace*10+atLeast)+1)
	_, _, state, _ := needles.Level(500*unit.Metre, 500*unit.Metre)
	assert.Equal(t, On, state)
}

func TestLevelAllocatesNothing(t *testing.T) {
	tin := sheet(t, 20, -13, 7, 1)
	i := int64(0)
	assert.Zero(t, testing.AllocsPerRun(1000, func() {
		tin.Level(mm(i*97%200_000), mm(i*1009%200_000))
		i++
	}))
}
