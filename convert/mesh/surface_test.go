package mesh

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/convert/surface"
)

// What Triangulate makes is what the surface package asks: every vertex, corner
// of a line and crossing has its own level there, and nothing is lost between.
func TestSurfaceOfAMesh(t *testing.T) {
	g := rand.New(rand.NewPCG(2, 2))
	in := Input{Points: scattered(2000, 100_000), Same: mm(5000)}
	for range 40 {
		in.Lines = append(in.Lines, []int32{int32(g.IntN(1000)), int32(1000 + g.IntN(1000))})
	}
	m, err := Triangulate(in)
	require.NoError(t, err)
	require.NotEmpty(t, m.Added)
	requireSound(t, &in, m)
	vertices := make([]surface.Vertex, len(m.Vertices))
	for i, v := range m.Vertices {
		vertices[i] = surface.Vertex(v)
	}
	tin, err := surface.New(vertices, m.Faces)
	require.NoError(t, err)
	require.Zero(t, tin.Flat)
	merged := map[int32]bool{}
	for _, p := range m.Merged {
		merged[p.Point] = true
	}
	for i, v := range m.Vertices {
		z, _, state, _ := tin.Level(v.E, v.N)
		require.Equal(t, surface.On, state)
		if !merged[int32(i)] {
			require.Equal(t, v.Z, z)
		}
	}
	l, err := m.Layer()
	require.NoError(t, err)
	require.InEpsilon(t, tin.PlanArea(), l.Area(), 1e-12)
	require.Len(t, tin.Outline(), 1)
}
