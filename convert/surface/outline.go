package surface

import "slices"

// Outline returns the border of the faces as rings of vertices, outer rings
// and holes alike, for drawing. The order is that of the faces.
func (t *TIN) Outline() [][]Vertex {
	type directed struct{ a, b int32 }
	edges := make(map[directed]bool, 3*len(t.faces)/2)
	each := func(f func(directed)) {
		for i, face := range t.faces {
			if t.tri[i].dead {
				continue
			}
			if edge(&t.vertices[face[0]], &t.vertices[face[1]], t.vertices[face[2]].E, t.vertices[face[2]].N).sign() < 0 {
				face[1], face[2] = face[2], face[1]
			}
			for k := range 3 {
				f(directed{face[k], face[(k+1)%3]})
			}
		}
	}
	each(func(d directed) { edges[d] = true })
	next := map[int32][]int32{}
	var order []int32
	each(func(d directed) {
		if !edges[directed{d.b, d.a}] {
			if len(next[d.a]) == 0 {
				order = append(order, d.a)
			}
			next[d.a] = append(next[d.a], d.b)
		}
	})
	var rings [][]Vertex
	for _, from := range order {
		for len(next[from]) > 0 {
			var ring []Vertex
			at := from
			for len(next[at]) > 0 {
				ring = append(ring, t.vertices[at])
				to := next[at][0]
				next[at] = slices.Delete(next[at], 0, 1)
				at = to
			}
			rings = append(rings, ring)
		}
	}
	return rings
}
