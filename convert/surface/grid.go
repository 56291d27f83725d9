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
	g.e0, g.n0, g.e1, g.n1 = t.lo.E, t.lo.N, t.hi.E, t.hi.N
	side := max(float64(g.e1-g.e0), float64(g.n1-g.n0))
	cell := max(math.Sqrt(t.area/float64(len(t.face)-t.Flat)*facesPerCell), side/(maxSide-2), 1)
	s := make(spans, 0, 5*len(t.face)+1)
	for !g.layOut(t, cell, &s) {
		cell *= 1.5
	}
	s.deal(g)
	sum := uint32(0)
	for c, n := range g.start {
		g.start[c], sum = sum, sum+n
	}
	g.items = make([]int32, sum)
	s.deal(g)
	// the start of each cell has walked to the start of the next
	copy(g.start[1:], g.start)
	g.start[0] = 0
}

// layOut lays out cells of a size and cuts the faces into them; false when that
// is too much.
func (g *grid) layOut(t *TIN, cell float64, s *spans) bool {
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
	entries, fits := s.cut(g, t, most)
	if !fits || entries > math.MaxInt32 {
		return false
	}
	cells := 0
	for i := range g.rows {
		r := &g.rows[i]
		r.count = max(r.count-r.first, 0)
		r.at = cells
		cells += int(r.count)
	}
	if cells > most {
		return false
	}
	g.start = make([]uint32, cells+1)
	return true
}

func (g *grid) cells(l, origin unit.Length) float64 { return float64(l-origin) * g.scale }

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
