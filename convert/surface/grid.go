package surface

import (
	"math"

	"sightrail/formats/unit"
)

// grid finds the faces that may hold a place. A cell is about as large as a
// face: its size comes from the plan area of the faces, not of their box, so
// that a corridor has small cells too; the number of cells has a cap.
type grid struct {
	e0, n0 unit.Length
	cell   unit.Length
	nx, ny int64
	start  []int32 // nx × ny + 1 offsets into items
	items  []int32 // faces of a cell, ascending
}

// maxCells caps the memory of a grid at 64 MiB of offsets.
const maxCells = 16 << 20

func (g *grid) build(tri []triangle, area float64) {
	lo := [2]unit.Length{unit.MaxLength, unit.MaxLength}
	hi := [2]unit.Length{-unit.MaxLength, -unit.MaxLength}
	for i := range tri {
		if tri[i].dead {
			continue
		}
		for _, v := range [3]*Vertex{&tri[i].a, &tri[i].b, &tri[i].c} {
			lo = [2]unit.Length{min(lo[0], v.E), min(lo[1], v.N)}
			hi = [2]unit.Length{max(hi[0], v.E), max(hi[1], v.N)}
		}
	}
	g.e0, g.n0 = lo[0], lo[1]
	cell := math.Sqrt(area / float64(len(tri)))
	w, h := float64(hi[0]-lo[0]), float64(hi[1]-lo[1])
	for (w/cell+1)*(h/cell+1) > maxCells {
		cell *= 1.5
	}
	g.cell = max(unit.Length(cell), 1)
	g.nx, g.ny = int64((hi[0]-lo[0])/g.cell)+1, int64((hi[1]-lo[1])/g.cell)+1
	g.start = make([]int32, g.nx*g.ny+1)
	for i := range tri {
		g.each(&tri[i], func(c int64) { g.start[c+1]++ })
	}
	for c := int64(0); c < g.nx*g.ny; c++ {
		g.start[c+1] += g.start[c]
	}
	g.items = make([]int32, g.start[g.nx*g.ny])
	fill := make([]int32, g.nx*g.ny)
	for i := range tri {
		g.each(&tri[i], func(c int64) {
			g.items[g.start[c]+fill[c]] = int32(i)
			fill[c]++
		})
	}
}

// each calls f for every cell that the face may touch: those of its box that
// are not wholly beyond one of its edges.
func (g *grid) each(t *triangle, f func(cell int64)) {
	if t.dead {
		return
	}
	x0, x1 := g.column(min(t.a.E, t.b.E, t.c.E)), g.column(max(t.a.E, t.b.E, t.c.E))
	y0, y1 := g.row(min(t.a.N, t.b.N, t.c.N)), g.row(max(t.a.N, t.b.N, t.c.N))
	if x1-x0 < 2 || y1-y0 < 2 {
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				f(y*g.nx + x)
			}
		}
		return
	}
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			if !g.beyond(&t.a, &t.b, x, y) && !g.beyond(&t.b, &t.c, x, y) && !g.beyond(&t.c, &t.a, x, y) {
				f(y*g.nx + x)
			}
		}
	}
}

// beyond reports whether a cell lies wholly to the right of an edge: so does
// its corner that is furthest to the left.
func (g *grid) beyond(a, b *Vertex, x, y int64) bool {
	e, n := g.e0+unit.Length(x)*g.cell, g.n0+unit.Length(y)*g.cell
	if b.N < a.N {
		e += g.cell
	}
	if b.E > a.E {
		n += g.cell
	}
	return side(a, b, e, n) < 0
}

func (g *grid) column(e unit.Length) int64 { return int64((e - g.e0) / g.cell) }
func (g *grid) row(n unit.Length) int64    { return int64((n - g.n0) / g.cell) }

// at returns the faces of the cell of a place.
func (g *grid) at(e, n unit.Length) []int32 {
	if e < g.e0 || n < g.n0 || e > extent || n > extent {
		return nil
	}
	x, y := g.column(e), g.row(n)
	if x >= g.nx || y >= g.ny {
		return nil
	}
	c := y*g.nx + x
	return g.items[g.start[c]:g.start[c+1]]
}
