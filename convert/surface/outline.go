package surface

import (
	"cmp"
	"slices"

	"sightrail/formats/unit"
)

// Outline returns the border of the faces as rings of vertices, for drawing:
// outer rings counter-clockwise, holes clockwise, the first corner not
// repeated. Vertices at one place are one corner, whatever their numbers and
// levels, so that a step is no border. No ring passes twice through a corner.
// A ring begins at its westernmost corner, the southern one of two, and the
// rings are ordered by it.
func (t *TIN) Outline() [][]Vertex {
	open := t.border()
	unused := make(map[int32]int, len(open)) // corner → its first unused edge in open
	for i := len(open) - 1; i >= 0; i-- {
		unused[open[i].a] = i
	}
	var rings [][]Vertex
	for i := range open {
		if i < unused[open[i].a] {
			continue
		}
		// walk until a corner comes again, and cut the ring off there; as many
		// edges leave a corner as come in, so the walk ends where it began
		var path []border
		place := map[int32]int{} // corner → where the path leaves it
		for at := open[i].a; ; {
			if k, again := place[at]; again {
				rings = append(rings, t.ring(path[k:]))
				for _, b := range path[k:] {
					delete(place, b.a)
				}
				path = path[:k]
				if k == 0 {
					break
				}
			}
			b := open[unused[at]]
			unused[at]++
			place[at] = len(path)
			path, at = append(path, b), b.b
		}
	}
	slices.SortStableFunc(rings, func(x, y []Vertex) int { return comparePlaces(&x[0], &y[0]) })
	return rings
}

// border is one edge with faces on its left only.
type border struct{ a, b int32 }

func (b border) compare(o border) int { return cmp.Or(cmp.Compare(b.a, o.a), cmp.Compare(b.b, o.b)) }

// border lists the edges that the faces on their two sides do not cancel,
// ordered. At every corner as many come in as go out, because they do so for
// every face.
func (t *TIN) border() []border {
	same := t.samePlace()
	type side struct {
		border
		turned int // +1 as it stands, −1 when it was turned round
	}
	all := make([]side, 0, 3*len(t.face))
	for i, f := range t.corners {
		if t.face[i].flat() {
			continue
		}
		for k := range 3 {
			a, b := same[f[k]], same[f[(k+1)%3]]
			if a < b {
				all = append(all, side{border{a, b}, 1})
			} else {
				all = append(all, side{border{b, a}, -1})
			}
		}
	}
	slices.SortFunc(all, func(x, y side) int { return x.border.compare(y.border) })
	var open []border
	for i := 0; i < len(all); {
		sum, b := 0, all[i].border
		for ; i < len(all) && all[i].border == b; i++ {
			sum += all[i].turned
		}
		for ; sum > 0; sum-- {
			open = append(open, b)
		}
		for ; sum < 0; sum++ {
			open = append(open, border{b.b, b.a})
		}
	}
	slices.SortFunc(open, border.compare)
	return open
}

// samePlace gives every vertex the first vertex at its place.
func (t *TIN) samePlace() []int32 {
	type place struct{ e, n unit.Length }
	first := make(map[place]int32, len(t.vertices))
	same := make([]int32, len(t.vertices))
	for i := range t.vertices {
		p := place{t.vertices[i].E, t.vertices[i].N}
		k, ok := first[p]
		if !ok {
			k = int32(i)
			first[p] = k
		}
		same[i] = k
	}
	return same
}

// ring writes a closed path from its westernmost corner.
func (t *TIN) ring(path []border) []Vertex {
	ring := make([]Vertex, len(path))
	first := 0
	for i, b := range path {
		ring[i] = t.vertices[b.a]
		if comparePlaces(&ring[i], &ring[first]) < 0 {
			first = i
		}
	}
	return append(ring[first:len(ring):len(ring)], ring[:first]...)
}

func comparePlaces(a, b *Vertex) int { return cmp.Or(cmp.Compare(a.E, b.E), cmp.Compare(a.N, b.N)) }
