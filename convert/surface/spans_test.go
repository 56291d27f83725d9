package surface

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A strip of a face holds every place of the face in it, and ends at one of them.
func TestStripIsThatOfTheFace(t *testing.T) {
	g := rand.New(rand.NewPCG(21, 4))
	ordinate := func() float64 {
		switch g.IntN(4) {
		case 0:
			return float64(g.IntN(5)) // on the border of rows, and two on one level
		case 1:
			return 3 + 1e-9*g.Float64() // nearly so
		}
		return 5 * g.Float64()
	}
	for range 20_000 {
		p := [3]corner{{9 * g.Float64(), ordinate()}, {9 * g.Float64(), ordinate()}, {9 * g.Float64(), ordinate()}}
		if g.IntN(20) == 0 {
			p[0].x *= maxSide / 9
		}
		a, b, c := p[0], p[1], p[2]
		for a.y > b.y || b.y > c.y {
			if a.y > b.y {
				a, b = b, a
			}
			if b.y > c.y {
				b, c = c, b
			}
		}
		if a.y == c.y {
			continue
		}
		e := newEdges(a, b, c)
		row := math.Floor(a.y + g.Float64()*(c.y-a.y))
		y0, y1 := row-widened, row+1+widened
		low, high := e.strip(y0, y1)
		const rounded = 1e-8 // of coordinates up to maxSide
		for range 20 {
			u, v := g.Float64(), g.Float64()
			if u+v > 1 {
				u, v = 1-u, 1-v
			}
			x, y := a.x+u*(b.x-a.x)+v*(c.x-a.x), a.y+u*(b.y-a.y)+v*(c.y-a.y)
			if y >= y0 && y <= y1 {
				require.True(t, x >= low-rounded && x <= high+rounded, "%v %v %v row %g: %g is not in %g to %g", a, b, c, row, x, low, high)
			}
		}
		// the ends by clipping edge after edge
		wantLow, wantHigh := math.Inf(1), math.Inf(-1)
		for i := range 3 {
			s, f := p[i], p[(i+1)%3]
			if s.y > f.y {
				s, f = f, s
			}
			for _, y := range []float64{max(y0, s.y), min(y1, f.y)} {
				if y < max(y0, s.y) || y > min(y1, f.y) {
					continue
				}
				x := s.x
				if f.y > s.y {
					x += (f.x - s.x) * ((y - s.y) / (f.y - s.y))
				}
				wantLow, wantHigh = min(wantLow, x), max(wantHigh, x)
			}
			if s.y == f.y && s.y >= y0 && s.y <= y1 {
				wantLow, wantHigh = min(wantLow, f.x), max(wantHigh, f.x)
			}
		}
		require.InDelta(t, wantLow, low, rounded, "%v %v %v row %g", a, b, c, row)
		require.InDelta(t, wantHigh, high, rounded, "%v %v %v row %g", a, b, c, row)
	}
}

// What is added is read again, to the last cell of the largest grid.
func TestSpansKeepTheirNumbers(t *testing.T) {
	var s spans
	want := [][2]int{{0, 0}, {0, more - 1}, {1, more}, {2, more + 1}, {maxSide - 1, 0}, {maxSide - 1, more}, {7, maxSide}, {0, 1}}
	for _, w := range want {
		s = s.add(w[0], w[1])
	}
	i := 0
	for _, w := range want {
		var from, n int
		from, n, i = s.pair(i)
		assert.Equal(t, w, [2]int{from, n})
	}
	assert.Equal(t, len(s), i)
}
