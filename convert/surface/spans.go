package surface

import "math"

// spans are the faces of a surface cut by the rows of its grid: face after
// face, the first row and how many there are, then for each row the first cell
// and how many more there are. They are worked out once, because that takes
// most of the time a grid takes, and dealt out twice.
//
// A word holds one such pair: 24 bits, as many as maxSide needs, and 8 bits.
// When these are all set, the second number is in the next word.
type spans []uint32

const more = 255

func (s spans) add(from, n int) spans {
	if n < more {
		return append(s, uint32(from)<<8|uint32(n))
	}
	return append(s, uint32(from)<<8|more, uint32(n))
}

// pair reads what add wrote at i.
func (s spans) pair(i int) (from, n, next int) {
	w := s[i]
	if w&more != more {
		return int(w >> 8), int(w & more), i + 1
	}
	return int(w >> 8), int(s[i+1]), i + 2
}

// cut fills s with the cells that each face may touch, and lets the rows of the
// grid reach from the first to the end of the last of them. It stops when they
// are more than most.
func (s *spans) cut(g *grid, t *TIN, most int) (entries int, fits bool) {
	out := (*s)[:0]
	defer func() { *s = out }()
	for k := range t.face {
		if t.face[k].flat() {
			out = out.add(0, 0)
			continue
		}
		f := &t.corners[k]
		a, b, c := &t.vertices[f[0]], &t.vertices[f[1]], &t.vertices[f[2]]
		p := corner{g.cells(a.E, g.e0), g.cells(a.N, g.n0)}
		q := corner{g.cells(b.E, g.e0), g.cells(b.N, g.n0)}
		r := corner{g.cells(c.E, g.e0), g.cells(c.N, g.n0)}
		// from the lowest to the highest
		if q.y < p.y {
			p, q = q, p
		}
		if r.y < q.y {
			q, r = r, q
			if q.y < p.y {
				p, q = q, p
			}
		}
		c0, c1 := int(min(p.x, q.x, r.x)), int(max(p.x, q.x, r.x))
		r0, r1 := int(p.y), int(r.y)
		out = out.add(r0, r1-r0+1)
		narrow := r0 == r1 || c0 == c1
		var e edges
		if !narrow {
			e = newEdges(p, q, r)
		}
		for row := r0; row <= r1; row++ {
			first, last := c0, c1
			if !narrow {
				low, high := e.strip(float64(row)-widened, float64(row+1)+widened)
				first, last = max(c0, int(low-widened)), min(c1, int(high+widened))
			}
			out = out.add(first, last-first)
			at := &g.rows[row]
			at.first, at.count = min(at.first, int32(first)), max(at.count, int32(last+1)) // the end, for now
			if entries += last - first + 1; entries > most {
				return entries, false
			}
		}
	}
	return entries, true
}

// deal goes through the faces in their order: it counts them in their cells while
// the grid has no items, and else puts them where the cell stands, and moves it on.
func (s spans) deal(g *grid) {
	items := g.items
	face := int32(0)
	for i := 0; i < len(s); face++ {
		var row, n int
		row, n, i = s.pair(i)
		for _, r := range g.rows[row : row+n] {
			var first, width int
			first, width, i = s.pair(i)
			at := r.at + first - int(r.first)
			cells := g.start[at : at+width+1]
			if items == nil {
				for c := range cells {
					cells[c]++
				}
				continue
			}
			for c, at := range cells {
				items[at] = face
				cells[c] = at + 1
			}
		}
	}
}

// corner is a corner of a face in cells.
type corner struct{ x, y float64 }

// edges are those of a face, from the lowest corner a over b to the highest c.
type edges struct {
	a, b, c    corner
	ac, ab, bc float64 // x for one y; 0 along a row
}

func newEdges(a, b, c corner) edges {
	e := edges{a: a, b: b, c: c, ac: (c.x - a.x) / (c.y - a.y)}
	if b.y > a.y {
		e.ab = (b.x - a.x) / (b.y - a.y)
	}
	if c.y > b.y {
		e.bc = (c.x - b.x) / (c.y - b.y)
	}
	return e
}

// side is the x of the edges a-b-c at a y.
func (e *edges) side(y float64) float64 {
	if y < e.b.y {
		return e.a.x + (y-e.a.y)*e.ab
	}
	return e.b.x + (y-e.b.y)*e.bc
}

// strip returns the range of x of the face between two values of y, which it
// reaches.
func (e *edges) strip(y0, y1 float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	if y0 <= e.b.y && e.b.y <= y1 {
		low, high = e.b.x, e.b.x
	}
	y0, y1 = max(y0, e.a.y), min(y1, e.c.y)
	for _, x := range [4]float64{e.a.x + (y0-e.a.y)*e.ac, e.a.x + (y1-e.a.y)*e.ac, e.side(y0), e.side(y1)} {
		if x < low {
			low = x
		}
		if x > high {
			high = x
		}
	}
	return low, high
}
