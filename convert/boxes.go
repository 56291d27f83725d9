package convert

import (
	"math"

	"sightrail/formats/unit"
)

// Boxes finds which of many boxes hold a place, without trying all: a grid of
// cells, each with the boxes that reach into it. It finds what trying all would
// find.
type Boxes struct {
	boxes      []Box
	lo, hi     Place
	wide, high unit.Length // of a cell
	across     int         // cells in a row
	cells      [][]int32   // boxes in ascending order
}

// Box is an upright rectangle; its edges belong to it.
type Box struct{ Lo, Hi Place }

// Holds tells whether a place lies in the box.
func (b *Box) Holds(p Place) bool {
	return p.E >= b.Lo.E && p.N >= b.Lo.N && p.E <= b.Hi.E && p.N <= b.Hi.N
}

// Grown is the box with so much more on every side, up to the end of the range.
func (b Box) Grown(by unit.Length) Box {
	less := func(l unit.Length) unit.Length { return max(l, -unit.MaxLength+by) - by }
	more := func(l unit.Length) unit.Length { return min(l, unit.MaxLength-by) + by }
	return Box{Place{less(b.Lo.E), less(b.Lo.N)}, Place{more(b.Hi.E), more(b.Hi.N)}}
}

// boxRows is how many cells the grid has in each direction at most, boxEntries
// how many entries a box makes in it on average at most.
const (
	boxRows    = 512
	boxEntries = 32
)

// NewBoxes lays the grid over boxes, of which the number stays that of the list.
func NewBoxes(boxes []Box) *Boxes {
	b := &Boxes{boxes: boxes, lo: Place{unit.MaxLength, unit.MaxLength}, hi: Place{-unit.MaxLength, -unit.MaxLength}}
	for i := range boxes {
		x := &boxes[i]
		b.lo = Place{min(b.lo.E, x.Lo.E), min(b.lo.N, x.Lo.N)}
		b.hi = Place{max(b.hi.E, x.Hi.E), max(b.hi.N, x.Hi.N)}
	}
	if len(boxes) == 0 {
		return b
	}
	for rows := min(2*int(math.Sqrt(float64(len(boxes))))+1, boxRows); ; rows = rows/2 + 1 {
		if b.lay(rows) || rows <= 2 {
			return b
		}
	}
}

// lay fills a grid of so many rows. It stops where large boxes make too many
// entries.
func (b *Boxes) lay(rows int) bool {
	// halves, because the whole range is wider than a Length
	b.wide = max((b.hi.E/2-b.lo.E/2)/unit.Length(rows)*2+2, 1)
	b.high = max((b.hi.N/2-b.lo.N/2)/unit.Length(rows)*2+2, 1)
	b.across = rows + 1
	b.cells = make([][]int32, b.across*b.across)
	entries := 0
	for i := range b.boxes {
		x := &b.boxes[i]
		c0, r0 := b.cell(x.Lo)
		c1, r1 := b.cell(x.Hi)
		if entries += (c1 - c0 + 1) * (r1 - r0 + 1); rows > 2 && entries > boxEntries*len(b.boxes)+boxRows {
			return false
		}
		for r := r0; r <= r1; r++ {
			for c := c0; c <= c1; c++ {
				k := r*b.across + c
				b.cells[k] = append(b.cells[k], int32(i))
			}
		}
	}
	return true
}

// cell is the column and row of a place within the bounds.
func (b *Boxes) cell(p Place) (column, row int) {
	steps := func(from, to, size unit.Length) int { // to − from may be wider than a Length
		return int((uint64(to) - uint64(from)) / uint64(size))
	}
	return min(steps(b.lo.E, p.E, b.wide), b.across-1), min(steps(b.lo.N, p.N, b.high), b.across-1)
}

// Each hands the numbers of the boxes that hold a place to do, in ascending
// order, until it returns false.
func (b *Boxes) Each(p Place, do func(i int) bool) {
	if len(b.boxes) == 0 || p.E < b.lo.E || p.N < b.lo.N || p.E > b.hi.E || p.N > b.hi.N {
		return
	}
	column, row := b.cell(p)
	for _, i := range b.cells[row*b.across+column] {
		if b.boxes[i].Holds(p) && !do(int(i)) {
			return
		}
	}
}
