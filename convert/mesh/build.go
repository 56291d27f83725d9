package mesh

// build is a triangulation while it grows: half-edges, three to a face. Half-edge
// h of face h/3 runs from its origin to that of the next one in the face, and
// the face is on its left. Outside the hull every edge has a face with the
// vertex infinity, so that every half-edge has a twin and a place outside is in
// a face like any other.
type build struct {
	at    []Place // of each vertex, in order of insertion
	edge  []edge
	out   []int32 // of each vertex, one half-edge that begins there
	stack []int32
	last  int32 // half-edge where the search for the next place begins
	dice  uint32
}

type edge struct {
	org  int32 // vertex it begins at, or infinity
	twin int32 // the same edge seen from the other face
	mark int32 // what holds it, 0 when nothing does; the same on both sides
}

const infinity = -1

func next(h int32) int32 {
	if h%3 == 2 {
		return h - 2
	}
	return h + 1
}

func prev(h int32) int32 {
	if h%3 == 0 {
		return h + 2
	}
	return h - 1
}

// begin makes the first face of three vertices that are not in one line.
func (b *build) begin(p, q, r int32, room int) {
	if orient(b.at[p], b.at[q], b.at[r]) < 0 {
		q, r = r, q
	}
	b.edge = make([]edge, 0, 6*room)
	b.out = make([]int32, len(b.at), cap(b.at))
	b.face(p, q, r)
	b.face(q, p, infinity)
	b.face(r, q, infinity)
	b.face(p, r, infinity)
	b.link(0, 3)
	b.link(1, 6)
	b.link(2, 9)
	b.link(4, 11)
	b.link(5, 7)
	b.link(8, 10)
}

// face adds a face without twins and returns its first half-edge.
func (b *build) face(p, q, r int32) int32 {
	h := int32(len(b.edge))
	b.edge = append(b.edge, edge{org: p}, edge{org: q}, edge{org: r})
	b.leaves(p, h)
	b.leaves(q, h+1)
	b.leaves(r, h+2)
	return h
}

func (b *build) leaves(v, h int32) {
	if v != infinity {
		b.out[v] = h
	}
}

func (b *build) link(h, g int32) { b.edge[h].twin, b.edge[g].twin = g, h }

// join makes twins of h and what was the twin of old, with the mark of old.
func (b *build) join(h, old int32) {
	b.edge[h].mark = b.edge[old].mark
	b.link(h, b.edge[old].twin)
}

// ghost reports whether the face of h has the corner infinity.
func (b *build) ghost(h int32) bool {
	h -= h % 3
	return b.edge[h].org == infinity || b.edge[h+1].org == infinity || b.edge[h+2].org == infinity
}

// where of an answer of locate.
type where uint8

const (
	inFace where = iota
	onEdge
	onVertex
)

// locate walks from a half-edge to a place. It returns a half-edge of the face
// that holds it, or the one it is on, or one that begins at it. In a
// triangulation with held edges a walk that always tries the sides in one order
// can go round for ever; the dice let it out.
func (b *build) locate(p Place, h int32) (int32, where) {
	h -= h % 3
	if b.ghost(h) {
		for b.edge[h].org == infinity || b.edge[next(h)].org == infinity {
			h++
		}
		h = b.edge[h].twin
		h -= h % 3
	}
	from := int32(infinity)
walk:
	for {
		b.dice = b.dice*1664525 + 1013904223
		zeros := 0
		var zero [2]int32
		for k, g := 0, h+int32(b.dice>>16)%3; k < 3; k, g = k+1, next(g) {
			if g == from {
				continue
			}
			switch orient(b.at[b.edge[g].org], b.at[b.edge[next(g)].org], p) {
			case -1:
				from = b.edge[g].twin
				if b.ghost(from) {
					return from, inFace
				}
				h = from - from%3
				continue walk
			case 0:
				zero[zeros] = g
				zeros++
			}
		}
		switch {
		case zeros == 0:
			return h, inFace
		case zeros == 1:
			return zero[0], onEdge
		case next(zero[0]) == zero[1]:
			return zero[1], onVertex
		}
		return zero[0], onVertex
	}
}

// insert puts vertex v into the triangulation, the search beginning at h. When a
// vertex is at its place already that one is returned, else v.
func (b *build) insert(v, h int32) int32 {
	h, w := b.locate(b.at[v], h)
	switch w {
	case inFace:
		b.splitFace(h, v)
	case onEdge:
		b.splitEdge(h, v)
	case onVertex:
		return b.edge[h].org
	}
	b.legalize(false)
	b.last = b.out[v]
	return v
}

// splitFace makes three faces of that of h, around vertex v.
func (b *build) splitFace(h, v int32) {
	hn, hp := next(h), prev(h)
	p, q, r := b.edge[h].org, b.edge[hn].org, b.edge[hp].org
	g := b.face(q, r, v)
	k := b.face(r, p, v)
	b.join(g, hn)
	b.join(k, hp)
	b.edge[hn].mark, b.edge[hp].mark = 0, 0
	b.edge[hp].org = v
	b.link(hn, g+2)
	b.link(hp, k+1)
	b.link(g+1, k+2)
	b.leaves(v, hp)
	b.leaves(p, h)
	b.stack = append(b.stack, h, g, k)
}

// splitEdge makes four faces of the two at h, with vertex v on it.
func (b *build) splitEdge(h, v int32) {
	f := b.edge[h].twin
	hn, hp, fn, fp := next(h), prev(h), next(f), prev(f)
	q, r, s := b.edge[hn].org, b.edge[hp].org, b.edge[fp].org
	mark := b.edge[h].mark
	g := b.face(v, q, r)
	k := b.face(q, v, s)
	b.join(g+1, hn)
	b.join(k+2, fp)
	b.edge[g].mark, b.edge[k].mark = mark, mark
	b.link(g, k)
	b.edge[hn].org, b.edge[f].org = v, v
	b.edge[hn].mark, b.edge[fp].mark = 0, 0
	b.link(hn, g+2)
	b.link(fp, k+1)
	b.stack = append(b.stack, hp, g+1, fn, k+2)
}

// legalize flips the edges of the stack that are not Delaunay, and what that
// makes so. After the insertion of one vertex only the sides away from it can
// be; with all, every side is looked at.
func (b *build) legalize(all bool) {
	for len(b.stack) > 0 {
		h := b.stack[len(b.stack)-1]
		b.stack = b.stack[:len(b.stack)-1]
		if !b.illegal(h) {
			continue
		}
		f := b.edge[h].twin
		b.flip(h)
		b.stack = append(b.stack, h, next(f))
		if all {
			b.stack = append(b.stack, next(h), f)
		}
	}
}

// illegal reports whether an edge must be flipped.
func (b *build) illegal(h int32) bool {
	f := b.edge[h].twin
	x, y := b.edge[h].org, b.edge[f].org
	p, d := b.edge[prev(h)].org, b.edge[prev(f)].org
	switch {
	case b.edge[h].mark != 0 || p == infinity || d == infinity:
		return false // the hull is convex
	case y == infinity:
		return orient(b.at[x], b.at[d], b.at[p]) > 0
	case x == infinity:
		return orient(b.at[d], b.at[y], b.at[p]) > 0
	}
	return incircle(b.at[x], b.at[y], b.at[p], b.at[d]) > 0
}

// flip turns the edge of h in the quadrilateral of its two faces. h was x to y
// with p on its left and d on its right; afterwards h is d to y and f, that was
// its twin, p to x, the sides of the quadrilateral that face p, and prev(h) is
// p to d.
func (b *build) flip(h int32) {
	f := b.edge[h].twin
	hp, fp := prev(h), prev(f)
	x, y := b.edge[h].org, b.edge[f].org
	p, d := b.edge[hp].org, b.edge[fp].org
	b.join(h, fp)
	b.join(f, hp)
	b.link(hp, fp)
	b.edge[hp].mark, b.edge[fp].mark = 0, 0
	b.edge[h].org, b.edge[f].org = d, p
	b.leaves(x, next(f))
	b.leaves(y, next(h))
	b.leaves(d, h)
	b.leaves(p, f)
}
