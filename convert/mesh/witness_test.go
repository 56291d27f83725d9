package mesh

import (
	"cmp"
	"math/big"
	"slices"

	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

// requireSound holds a mesh against what it must be, in math/big.
func requireSound(t require.TestingT, in *Input, m *Mesh) {
	at := func(v int32) Place { return m.Vertices[v].place() }
	require.Equal(t, in.Points, m.Vertices[:len(in.Points)])
	// every face counter-clockwise, every edge once in each direction
	side := map[[2]int32]int32{}
	used := make([]int, len(m.Vertices))
	for f, c := range m.Faces {
		require.Equal(t, 1, orientBig(at(c[0]), at(c[1]), at(c[2])).Sign(), "face %d", f)
		for i, v := range c {
			used[v] = 1
			e := [2]int32{v, c[(i+1)%3]}
			_, again := side[e]
			require.False(t, again, "edge %v twice", e)
			side[e] = c[(i+2)%3]
		}
	}
	held := map[[2]int32]bool{}
	for _, s := range m.Sides {
		require.Less(t, s[0], s[1])
		_, l := side[s]
		_, r := side[[2]int32{s[1], s[0]}]
		require.True(t, l || r, "a side without a face")
		require.False(t, held[s], "a side twice")
		held[s] = true
	}
	// Delaunay across every edge that nothing holds
	for e, p := range side {
		if d, ok := side[[2]int32{e[1], e[0]}]; ok && !held[[2]int32{min(e[0], e[1]), max(e[0], e[1])}] {
			require.LessOrEqual(t, incircleBig(at(e[0]), at(e[1]), at(p), at(d)), 0, "edge %v", e)
		}
	}
	// every point once
	for _, p := range m.Merged {
		require.Zero(t, used[p.Point])
		used[p.Point]++
		require.Equal(t, at(p.Point), at(p.Into))
		require.Less(t, p.Into, p.Point)
	}
	for _, p := range m.Outside {
		require.Zero(t, used[p])
		used[p]++
	}
	for p := range in.Points {
		require.Equal(t, 1, used[p], "point %d", p)
	}
}

func twiceArea(m *Mesh) *big.Int {
	total := new(big.Int)
	for _, c := range m.Faces {
		total.Add(total, orientBig(m.Vertices[c[0]].place(), m.Vertices[c[1]].place(), m.Vertices[c[2]].place()))
	}
	return total
}

func twiceRing(ring []Place) *big.Int {
	total := new(big.Int)
	for i := range ring {
		total.Add(total, orientBig(ring[0], ring[i], ring[(i+1)%len(ring)]))
	}
	return total
}

// hull is the convex hull by the monotone chain.
func hull(points []Vertex) []Place {
	var sorted []Place
	for i := range points {
		sorted = append(sorted, points[i].place())
	}
	slices.SortFunc(sorted, func(p, q Place) int { return cmp.Or(cmp.Compare(p.E, q.E), cmp.Compare(p.N, q.N)) })
	half := func() (h []Place) {
		for _, p := range sorted {
			for len(h) > 1 && orientBig(h[len(h)-2], h[len(h)-1], p).Sign() <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, p)
		}
		return h[:len(h)-1]
	}
	lower := half()
	slices.Reverse(sorted)
	return append(lower, half()...)
}

// requireHeld holds every side of a line against the mesh: the vertices on it,
// and no other, make it up. It is for lines that cross only at points.
func requireHeld(t require.TestingT, in *Input, m *Mesh, lines [][]int32, closed bool) {
	held := map[[2]Place]bool{}
	for _, s := range m.Sides {
		a, b := m.Vertices[s[0]].place(), m.Vertices[s[1]].place()
		held[[2]Place{a, b}], held[[2]Place{b, a}] = true, true
	}
	for _, l := range lines {
		for i := range l {
			if i == len(l)-1 && !closed {
				break
			}
			p, q := in.Points[l[i]].place(), in.Points[l[(i+1)%len(l)]].place()
			var on []Place
			for v := range m.Vertices {
				r := m.Vertices[v].place()
				if orientBig(p, q, r).Sign() == 0 && within(p.E, r.E, q.E) && within(p.N, r.N, q.N) {
					on = append(on, r)
				}
			}
			slices.SortFunc(on, func(a, b Place) int { return cmp.Or(cmp.Compare(a.E, b.E), cmp.Compare(a.N, b.N)) })
			on = slices.Compact(on)
			for k := range len(on) - 1 {
				require.True(t, held[[2]Place{on[k], on[k+1]}], "line from %v to %v misses %v to %v", p, q, on[k], on[k+1])
			}
		}
	}
}

func within(a, v, b unit.Length) bool { return min(a, b) <= v && v <= max(a, b) }
