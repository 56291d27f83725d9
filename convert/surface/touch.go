package surface

import (
	"math"

	"sightrail/formats/unit"
)

// Touched is how many places Touch takes at once: their faces fit into a near cache.
const Touched = 64

// Touch loads what Level needs for up to Touched places, each kind of it in a loop of
// its own, so that the processor waits for many of them at once and not for one after
// the other. It changes no answer. The result means nothing; it keeps the loads from
// being left out.
//
//go:noinline
func (t *TIN) Touch(places [][2]unit.Length) (sum float64) {
	g := &t.grid
	if places = places[:min(len(places), Touched)]; g.near(places) {
		return 0
	}
	var cell [Touched]int32
	var from, to [Touched]uint32
	for i, p := range places {
		cell[i] = -1
		if e, n := p[0], p[1]; e >= g.e0 && n >= g.n0 && e <= g.e1 && n <= g.n1 {
			r := &g.rows[int(g.cells(n, g.n0))]
			if c := int32(g.cells(e, g.e0)) - r.first; c >= 0 && c < r.count {
				cell[i] = int32(r.at) + c
			}
		}
	}
	for i := range places {
		if c := cell[i]; c >= 0 {
			from[i], to[i] = g.start[c], g.start[c+1]
		}
	}
	var face [Touched]int32
	for i := range places {
		if from[i] < to[i] {
			face[i] = g.items[from[i]]
		}
	}
	for i := range places {
		sum += t.face[face[i]].ends()
	}
	for i := range places {
		for k := from[i] + 1; k < to[i]; k++ {
			sum += t.face[g.items[k]].ends()
		}
	}
	return sum
}

// ends takes the first and the last number of a face, which lies in two lines of a cache.
func (f *face) ends() float64 { return float64(f.e) + f.d }

// nearCells is how many cells a place may be from the one before it, on average, for the
// faces of one to be loaded, or on their way, when the next asks for its own.
const nearCells = 8

// near reports whether places follow each other so closely that nothing need be loaded
// ahead.
func (g *grid) near(places [][2]unit.Length) bool {
	if len(places) < 2 {
		return true
	}
	sum := 0.0
	for i := 1; i < len(places); i++ {
		sum += math.Abs(float64(places[i][0]-places[i-1][0])) + math.Abs(float64(places[i][1]-places[i-1][1]))
	}
	return sum*g.scale < nearCells*float64(len(places))
}
