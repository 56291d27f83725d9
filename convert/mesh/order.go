package mesh

import (
	"cmp"
	"math/bits"
	"slices"

	"sightrail/formats/unit"
)

// order returns the points in the order in which they go into the
// triangulation: in rounds, each of about twice as many points as all before
// it, and within a round along a Hilbert curve, so that a point is near the one
// before it while every round is spread over the whole site. The order is by
// place alone; the order of the points in their file has no part in it. Points
// at one place follow each other by number.
func order(points []Vertex) []int32 {
	if len(points) == 0 {
		return nil
	}
	around := boxOf(points[0].place())
	for i := range points {
		around.add(points[i].place())
	}
	type entry struct {
		key   uint64
		point int32
	}
	rounds := bits.Len(uint(len(points)))
	keys := make([]entry, len(points))
	for i := range points {
		p := &points[i]
		round := rounds - min(bits.TrailingZeros64(scatter(p.E, p.N)), rounds)
		keys[i] = entry{uint64(round)<<(2*curveBits) | around.curve(p.place()), int32(i)}
	}
	slices.SortFunc(keys, func(a, b entry) int {
		if a.key != b.key {
			return cmp.Compare(a.key, b.key)
		}
		p, q := &points[a.point], &points[b.point]
		return cmp.Or(cmp.Compare(p.E, q.E), cmp.Compare(p.N, q.N), cmp.Compare(a.point, b.point))
	})
	out := make([]int32, len(keys))
	for i := range keys {
		out[i] = keys[i].point
	}
	return out
}

// curve is how far along the Hilbert curve of a box a place is.
func (b *box) curve(p Place) uint64 {
	shift := max(bits.Len64(uint64(max(b.hi.E-b.lo.E, b.hi.N-b.lo.N)))-curveBits, 0)
	return hilbert(uint32((p.E-b.lo.E)>>shift), uint32((p.N-b.lo.N)>>shift))
}

// curveBits is how many bits of a coordinate the curve tells apart.
const curveBits = 29

// hilbert is the distance along the Hilbert curve of a square of 2^curveBits.
func hilbert(x, y uint32) uint64 {
	d := uint64(0)
	for s := uint32(1) << (curveBits - 1); s > 0; s >>= 1 {
		rx, ry := x&s != 0, y&s != 0
		d <<= 2
		switch {
		case rx && !ry:
			d |= 3
		case rx:
			d |= 2
		case ry:
			d |= 1
		}
		if !ry {
			if rx {
				x, y = ^x, ^y
			}
			x, y = y, x
		}
	}
	return d
}

// scatter turns a place into bits that look like chance, the same every time.
func scatter(e, n unit.Length) uint64 {
	h := uint64(e)*0x9e3779b97f4a7c15 ^ bits.RotateLeft64(uint64(n)*0xc2b2ae3d27d4eb4f, 31)
	h ^= h >> 32
	h *= 0xd6e8feb86659fd93
	h ^= h >> 32
	h *= 0xd6e8feb86659fd93
	return h ^ h>>32
}
