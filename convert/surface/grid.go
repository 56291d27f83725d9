package surface

import (
	"math"

	"sightrail/formats/unit"
)

// grid finds the faces that may hold a place: square cells, about as large as a
// face. Each row of cells reaches from the first to the last face in it, so
// that a road that crosses its box at a slant has small cells too.
//
// A coordinate becomes a cell by a difference in whole counts and one float64
// product. Both are monotonic, so a place between two vertices falls between
// their cells; the strips that faces are cut into are widened by far more than
// the roundings.
type grid struct {
	e0, n0, e1, n1 unit.Length // the box of the faces
	scale          float64     // cells in one count
	rows           []gridRow
	start          []uint32 // of each cell, into items, and the end of the last
	items          []int32  // faces of a cell, ascending
}

type gridRow struct {
	first, count int32 // cells of the row
	at           int   // of its first cell, in start
}

// Caps of a grid. With them a grid takes no more memory than the faces do,
// whatever their shape; the cells grow until it fits.
const (
	facesPerCell = 0.5     // aimed at, by plan area
	maxSide      = 1 << 24 // cells along a side, so that widened covers the roundings
	perFace      = 12      // cells, and entries, for each face
	atLeast      = 1024    // whatever the number of faces
	widened      = 1e-6    // of a cell
)

func (g *grid) build(t *TIN) {
	lo, hi := t.Bounds()
	g.e0, g.n0, g.e1, g.n1 = lo.E, lo.N, hi.E, hi.N
	side := max(float64(hi.E-lo.E), float64(hi.N-lo.N))
	cell := max(math.Sqrt(t.counts()/float64(len(t.face)-t.Flat)*facesPerCell), side/(maxSide-2), 1)
	for !g.layOut(t, cell) {
		cell *= 1.5
	}
	g.items = make([]int32, g.start[len(g.start)-1])
	for k := range t.face {
		g.each(t, k, func(row, c0, c1 int) bool {
			r := &g.rows[row]
			for c := r.at + c0 - int(r.first); c <= r.at+c1-int(r.first); c++ {
				g.items[g.start[c]] = int32(k)
				g.start[c]++
			}
			return true
		})
	}
	// the start of each cell has walked to the start of the next
	copy(g.start[1:], g.start)
	g.start[0] = 0
}

// layOut lays out cells of a size and counts what goes into them; false when
// that is too much.
func (g *grid) layOut(t *TIN, cell float64) bool {
	most := perFace*len(t.face) + atLeast
	g.scale = 1 / cell
	n := int(g.cells(g.n1, g.n0)) + 1
	if n > most {
		return false
	}
	g.rows = make([]gridRow, n)
	for i := range g.rows {
		g.rows[i].first = math.MaxInt32
	}
	entries := 0
	for k := range t.face {
		fits := g.each(t, k, func(row, c0, c1 int) bool {
			r := &g.rows[row]
			r.first, r.count = min(r.first, int32(c0)), max(r.count, int32(c1+1)) // the end, for now
			entries += c1 - c0 + 1
			return entries <= most
		})
		if !fits {
			return false
		}
	}
	cells := 0
	for i := range g.rows {
		r := &g.rows[i]
		r.count = max(r.count-r.first, 0)
		r.at = cells
		cells += int(r.count)
	}
	if cells > most || entries > math.MaxInt32 {
		return false
	}
	g.start = make([]uint32, cells+1)
	for k := range t.face {
		g.each(t, k, func(row, c0, c1 int) bool {
			r := &g.rows[row]
			for c := r.at + c0 - int(r.first); c <= r.at+c1-int(r.first); c++ {
				g.start[c]++
			}
			return true
		})
	}
	sum := uint32(0)
	for c := range g.start {
		sum, g.start[c] = sum+g.start[c], sum
	}
	return true
}

func (g *grid) cells(l, origin unit.Length) float64 { return float64(l-origin) * g.scale }

// each calls f for every row of cells that face k may touch, with the first and
// the last cell, until f returns false.
func (g *grid) each(t *TIN, k int, f func(row, c0, c1 int) bool) bool {
	if t.face[k].flat() {
		return true
	}
	var x, y [3]float64
	for i, v := range t.corners[k] {
		x[i], y[i] = g.cells(t.vertices[v].E, g.e0), g.cells(t.vertices[v].N, g.n0)
	}
	c0, c1 := int(min(x[0], x[1], x[2])), int(max(x[0], x[1], x[2]))
	r0, r1 := int(min(y[0], y[1], y[2])), int(max(y[0], y[1], y[2]))
	for r := r0; r <= r1; r++ {
		a, b := c0, c1
		if r0 != r1 && c0 != c1 {
			low, high := strip(&x, &y, float64(r)-widened, float64(r+1)+widened)
			a, b = max(c0, int(low-widened)), min(c1, int(high+widened))
		}
		if !f(r, a, b) {
			return false
		}
	}
	return true
}

// strip returns the range of x of a triangle between two values of y.
func strip(x, y *[3]float64, y0, y1 float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for i := range 3 {
		j := (i + 1) % 3
		xa, ya, xb, yb := x[i], y[i], x[j], y[j]
		if ya > yb {
			xa, ya, xb, yb = xb, yb, xa, ya
		}
		if yb < y0 || ya > y1 {
			continue
		}
		from, to := xa, xb
		if ya < y0 {
			from = xa + (xb-xa)*((y0-ya)/(yb-ya))
		}
		if yb > y1 {
			to = xa + (xb-xa)*((y1-ya)/(yb-ya))
		}
		low, high = min(low, from, to), max(high, from, to)
	}
	return low, high
}

// at returns the faces of the cell of a place; none outside the box.
func (g *grid) at(e, n unit.Length) []int32 {
	if e < g.e0 || n < g.n0 || e > g.e1 || n > g.n1 {
		return nil
	}
	r := &g.rows[int(g.cells(n, g.n0))]
	c := int(g.cells(e, g.e0)) - int(r.first)
	if c < 0 || c >= int(r.count) {
		return nil
	}
	c += r.at
	return g.items[g.start[c]:g.start[c+1]]
}
