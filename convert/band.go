package convert

import (
	"fmt"
	"math/big"
	"math/bits"

	"sightrail/formats/unit"
)

// Band is what lies within a distance of lines, in plan: a place that is exactly
// so far away lies in it. Squares of distances are compared in whole numbers, so
// that nothing is rounded.
type Band struct {
	distance unit.Length
	sides    [][2]Place
	boxes    *Boxes
}

// NewBand makes the band of so much on both sides of lines of places, and round
// their ends. A line of one place is that place. A corner further than 1,171 km
// from the origin of the job is an error.
func NewBand(lines [][]Place, distance unit.Length) (*Band, error) {
	b := &Band{distance: distance}
	var boxes []Box
	add := func(p, q Place) {
		b.sides = append(b.sides, [2]Place{p, q})
		box := Box{Place{min(p.E, q.E), min(p.N, q.N)}, Place{max(p.E, q.E), max(p.N, q.N)}}
		boxes = append(boxes, box.Grown(distance))
	}
	for _, l := range lines {
		for i, p := range l {
			if !p.near() {
				return nil, fmt.Errorf("corner %d of the line is more than 1,171 km from the origin of the job; check its unit", i+1)
			}
		}
		if len(l) == 1 {
			add(l[0], l[0])
		}
		for i := 1; i < len(l); i++ {
			add(l[i-1], l[i])
		}
	}
	b.boxes = NewBoxes(boxes)
	return b, nil
}

// Contains reports whether a place lies in the band, exactly. What is further
// than 1,171 km from the origin lies in none.
func (b *Band) Contains(p Place) bool {
	found := false
	if !p.near() {
		return false
	}
	b.boxes.Each(p, func(i int) bool {
		found = reaches(b.sides[i][0], b.sides[i][1], p, b.distance)
		return !found
	})
	return found
}

// Rings are the rings of an outline as closed lines, for a band along them.
func (o *Outline) Rings() [][]Place {
	out := make([][]Place, len(o.rings))
	for i, r := range o.rings {
		out[i] = append(append(out[i], r...), r[0])
	}
	return out
}

// Box is the box of the outline.
func (o *Outline) Box() Box { return Box{o.lo, o.hi} }

// reaches tells whether p is at most d away from the side from a to b. p is so
// near their box that differences are in the range of a Length.
func reaches(a, b, p Place, d unit.Length) bool {
	if near(a, p, d) || near(b, p, d) {
		return true
	}
	along := Place{b.E - a.E, b.N - a.N}
	// beside the side, not beyond its ends: (p − a)·ab > 0 and (p − b)·ab < 0
	if unit.CompareProducts(p.E-a.E, along.E, -(p.N-a.N), along.N) <= 0 || unit.CompareProducts(p.E-b.E, along.E, -(p.N-b.N), along.N) >= 0 {
		return false
	}
	// |ab × ap| ≤ d |ab|, squared
	product := func(x, y unit.Length) *big.Int {
		return new(big.Int).Mul(big.NewInt(int64(x)), big.NewInt(int64(y)))
	}
	cross := product(along.E, p.N-a.N)
	cross.Sub(cross, product(along.N, p.E-a.E))
	cross.Mul(cross, cross)
	most := product(along.E, along.E)
	most.Add(most, product(along.N, along.N))
	most.Mul(most, product(d, d))
	return cross.Cmp(most) <= 0
}

// near tells whether two places are at most d apart.
func near(a, b Place, d unit.Length) bool {
	square := func(x unit.Length) (hi, lo uint64) { return bits.Mul64(uint64(x.Abs()), uint64(x.Abs())) }
	h, l := square(a.E - b.E)
	h2, l2 := square(a.N - b.N)
	l, carry := bits.Add64(l, l2, 0)
	h, over := bits.Add64(h, h2, carry)
	mh, ml := square(d)
	return over == 0 && (h < mh || h == mh && l <= ml)
}
