package qa

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert"
	"sightrail/formats/unit"
)

func placeAt(e, n int) convert.Place {
	return convert.Place{E: unit.Length(e) * unit.Metre, N: unit.Length(n) * unit.Metre}
}

func drawPlaces(t *rapid.T, least, most, size int) []convert.Place {
	n := rapid.IntRange(least, most).Draw(t, "n")
	out := make([]convert.Place, n)
	for i := range out {
		out[i] = placeAt(rapid.IntRange(-size, size).Draw(t, "e"), rapid.IntRange(-size, size).Draw(t, "n"))
	}
	slices.SortFunc(out, func(a, b convert.Place) int {
		if a.E != b.E {
			return int((a.E - b.E) / unit.Metre)
		}
		return int((a.N - b.N) / unit.Metre)
	})
	return out
}

// Groups by cells are those of trying all pairs, at any spacing, odd counts too.
func TestJoinWithinAgainstAllPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		spacing := unit.Length(rapid.Int64Range(1, 12).Draw(t, "spacing"))
		at := make([]convert.Place, n)
		for i := range at {
			at[i] = convert.Place{E: unit.Length(rapid.Int64Range(-25, 25).Draw(t, "e")), N: unit.Length(rapid.Int64Range(-25, 25).Draw(t, "n"))}
		}
		root := make([]int, n)
		for i := range root {
			root[i] = i
		}
		for range at {
			for i, a := range at {
				for k, b := range at {
					if de, dn := a.E-b.E, a.N-b.N; de*de+dn*dn <= spacing*spacing {
						root[i] = min(root[i], root[k])
					}
				}
			}
		}
		assert.Equal(t, root, joinWithin(at, spacing))
	})
}

// Squares of distances hold over the whole range of places.
func TestSquareOverTheRange(t *testing.T) {
	far := convert.Place{E: unit.MaxLength, N: unit.MaxLength}
	assert.True(t, further(square(far, convert.Place{E: -unit.MaxLength, N: -unit.MaxLength}), unit.MaxLength))
	assert.False(t, further(square(far, far), 0))
	assert.False(t, further(square(convert.Place{}, convert.Place{E: 3 * unit.Metre, N: 4 * unit.Metre}), 5*unit.Metre))
	assert.True(t, further(square(convert.Place{}, convert.Place{E: 3 * unit.Metre, N: 4*unit.Metre + 1}), 5*unit.Metre))
}

// The hull holds every place, turns left only, and its length and width are those
// of trying all pairs of places and all sides.
func TestHullAgainstAllPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pts := drawPlaces(t, 1, 30, 12)
		h := hull(pts)
		longest := 0.0
		for _, a := range pts {
			for _, b := range pts {
				longest = max(longest, math.Hypot((a.E-b.E).Metres(), (a.N-b.N).Metres()))
			}
		}
		length, width := spans(h)
		assert.InDelta(t, longest, length.Metres(), 1e-9)
		if len(h) < 3 {
			assert.Zero(t, width)
			assert.Zero(t, areaOf(h))
			return
		}
		thin := math.Inf(1)
		for i, a := range h {
			b := h[(i+1)%len(h)]
			require.Positive(t, turn(a, b, h[(i+2)%len(h)]))
			far := 0.0
			for _, p := range pts {
				require.GreaterOrEqual(t, turn(a, b, p), 0)
				x, _ := new(big.Float).SetInt(cross(a, b, p)).Float64()
				far = max(far, x/float64(unit.Metre)/float64(unit.Metre)/math.Hypot((a.E-b.E).Metres(), (a.N-b.N).Metres()))
			}
			thin = min(thin, far)
		}
		assert.InDelta(t, thin, width.Metres(), 1e-9)
		// the area by walking round it
		area := 0.0
		for i, a := range h {
			b := h[(i+1)%len(h)]
			area += (a.E.Metres()*b.N.Metres() - b.E.Metres()*a.N.Metres()) / 2
		}
		assert.InDelta(t, area, areaOf(h), 1e-9)
	})
}

// The furthest place of a line from any shot is that of walking it in small steps.
func TestHoleOnLineAgainstWalking(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ends, shots := drawPlaces(t, 2, 2, 20), drawPlaces(t, 1, 9, 20)
		a, b := ends[0], ends[1]
		far := 0.0
		const steps = 2000
		for i := range steps + 1 {
			s := float64(i) / steps
			e, n := a.E.Metres()+s*(b.E-a.E).Metres(), a.N.Metres()+s*(b.N-a.N).Metres()
			near := math.Inf(1)
			for _, p := range shots {
				near = min(near, math.Hypot(e-p.E.Metres(), n-p.N.Metres()))
			}
			far = max(far, near)
		}
		h := holeOnLine(a, b, shots, 5*unit.Metre)
		step := math.Hypot((b.E-a.E).Metres(), (b.N-a.N).Metres()) / steps
		assert.InDelta(t, far, h.radius.Metres(), step+1e-9)
		near := math.Inf(1)
		for _, p := range shots {
			near = min(near, math.Hypot((h.at.E-p.E).Metres(), (h.at.N-p.N).Metres()))
		}
		assert.InDelta(t, h.radius.Metres(), near, 1e-6, "the place is as far as it says")
		if math.Abs(far-5) > step {
			assert.Equal(t, far > 5, h.beyond)
		}
	})
}

// A line of 20 m between two shots at its ends has its furthest place in the
// middle, exactly 10 m from both: on the limit it is covered, one count less is not.
func TestHoleOnLineAtTheLimit(t *testing.T) {
	for _, m := range []unit.Length{unit.Metre, unit.InternationalFoot, unit.USSurveyFoot, unit.Inch / 16} {
		ends := []convert.Place{{}, {E: 20 * m}}
		assert.False(t, holeOnLine(ends[0], ends[1], ends, 10*m).beyond)
		assert.True(t, holeOnLine(ends[0], ends[1], ends, 10*m-1).beyond)
		assert.Equal(t, convert.Place{E: 10 * m}, holeOnLine(ends[0], ends[1], ends, 10*m).at)
		// and aslant: 6, 8, 10
		shots := []convert.Place{{E: -6 * m, N: 8 * m}, {E: 26 * m, N: -8 * m}}
		assert.False(t, holeOnLine(ends[0], ends[0], shots, 10*m).beyond)
		assert.True(t, holeOnLine(ends[0], ends[0], shots, 10*m-1).beyond)
	}
}

// Two outlines are as far apart as the nearest two places of them.
func TestBetweenOutlines(t *testing.T) {
	square := func(e, n, s int) []convert.Place {
		return []convert.Place{placeAt(e, n), placeAt(e+s, n), placeAt(e+s, n+s), placeAt(e, n+s)}
	}
	for name, x := range map[string]struct {
		a, b []convert.Place
		want float64 // -1 = too far
	}{
		"apart":       {square(0, 0, 4), square(7, 0, 4), 3},
		"corners":     {square(0, 0, 4), square(7, 8, 4), 5},
		"touch":       {square(0, 0, 4), square(4, 4, 4), 0},
		"inside":      {square(0, 0, 9), square(3, 3, 1), 0},
		"around":      {square(3, 3, 1), square(0, 0, 9), 0},
		"a cross":     {[]convert.Place{placeAt(0, 5), placeAt(10, 5)}, []convert.Place{placeAt(5, 0), placeAt(5, 10)}, 0},
		"a shot":      {[]convert.Place{placeAt(2, 9)}, square(0, 0, 4), 5},
		"two shots":   {[]convert.Place{placeAt(2, 9)}, []convert.Place{placeAt(5, 13)}, 5},
		"at the most": {square(0, 0, 4), square(14, 0, 1), 10},
		"too far":     {square(0, 0, 4), square(15, 0, 1), -1},
		"too far up":  {square(0, 0, 4), square(11, 12, 1), -1},
	} {
		t.Run(name, func(t *testing.T) {
			for _, pair := range [][2][]convert.Place{{x.a, x.b}, {x.b, x.a}} {
				d, ok := between(pair[0], pair[1], 10*unit.Metre)
				require.Equal(t, x.want >= 0, ok)
				if ok {
					f, _ := d.sq.Float64()
					assert.InDelta(t, x.want, math.Sqrt(f)/float64(unit.Metre), 1e-12)
				}
			}
		})
	}
}

// Along a pipe a shot that passes parts two patches; exactly the spacing joins.
func TestJoinAlong(t *testing.T) {
	at := func(list ...int) (out []convert.Place) {
		for _, x := range list {
			out = append(out, convert.Place{E: unit.Length(x) * unit.Metre})
		}
		return out
	}
	passes := func(list ...int) (out []unit.Length) {
		for _, x := range list {
			out = append(out, unit.Length(x)*unit.Metre)
		}
		return out
	}
	for i, x := range []struct {
		at     []convert.Place
		passes []unit.Length
		want   []int
	}{
		{at(0, 10, 20), nil, []int{0, 0, 0}},
		{at(0, 10, 21), nil, []int{0, 0, 2}},
		{at(0, 10, 20), passes(5), []int{0, 1, 1}},
		{at(0, 10, 20), passes(0, 10, 20), []int{0, 0, 0}}, // a pass at the place of a failure parts nothing
		{at(0, 10, 20), passes(-3, 10, 11, 30), []int{0, 0, 2}},
		{at(4, 4, 5), passes(4), []int{0, 0, 0}},
	} {
		assert.Equal(t, x.want, joinAlong(x.at, x.passes, 10*unit.Metre), fmt.Sprint(i))
	}
}

// A mean is rounded half away from zero, once.
func TestMeanOf(t *testing.T) {
	for _, x := range []struct {
		sum  int64
		n    int
		want unit.Length
	}{{7, 2, 4}, {-7, 2, -4}, {7, 3, 2}, {-8, 3, -3}, {0, 5, 0}, {9, 1, 9}} {
		assert.Equal(t, x.want, meanOf(big.NewInt(x.sum), x.n))
	}
}

func TestPrintVolume(t *testing.T) {
	for v, want := range map[float64]string{0: "0.00", 1.005: "1.00", 0.004: "0.004", 0.00004: "0.00004", 12.346: "12.35"} {
		assert.Equal(t, want, PrintVolume(v))
	}
}
