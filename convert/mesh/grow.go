package mesh

// grow makes the Delaunay triangulation of the points at the given places in
// their order. Points at one place must follow each other in it; the first one
// becomes the vertex. It returns the point of every vertex; without three
// points that are not in one line the triangulation has no face.
func grow(points []Vertex, order []int32) (b *build, point []int32) {
	b = &build{at: make([]Place, 0, len(order))}
	point = make([]int32, 0, len(order))
	for _, i := range order {
		p := Place{points[i].E, points[i].N}
		if n := len(b.at); n == 0 || b.at[n-1] != p {
			b.at, point = append(b.at, p), append(point, i)
		}
	}
	third := 2
	for ; third < len(b.at) && orient(b.at[0], b.at[1], b.at[third]) == 0; third++ {
	}
	if third >= len(b.at) {
		return b, point
	}
	// the points between are on the line of the first two; they wait their turn
	b.at[2], b.at[third] = b.at[third], b.at[2]
	point[2], point[third] = point[third], point[2]
	b.begin(0, 1, 2, len(b.at))
	for v := int32(3); v < int32(len(b.at)); v++ {
		b.insert(v, b.last)
	}
	return b, point
}

// flat reports whether there is no face.
func (b *build) flat() bool { return len(b.edge) == 0 }
