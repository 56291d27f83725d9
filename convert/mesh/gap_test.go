package mesh

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

type point2 struct{ x, y *big.Rat }

func rat(l unit.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }

func ratOf(p Place) point2 { return point2{rat(p.E), rat(p.N)} }

func (p point2) minus(q point2) point2 {
	return point2{new(big.Rat).Sub(p.x, q.x), new(big.Rat).Sub(p.y, q.y)}
}

func (p point2) dot(q point2) *big.Rat {
	a := new(big.Rat).Mul(p.x, q.x)
	return a.Add(a, new(big.Rat).Mul(p.y, q.y))
}

func (p point2) cross(q point2) *big.Rat {
	a := new(big.Rat).Mul(p.x, q.y)
	return a.Sub(a, new(big.Rat).Mul(p.y, q.x))
}

func (p point2) along(d point2, t *big.Rat) point2 {
	return point2{new(big.Rat).Add(p.x, new(big.Rat).Mul(d.x, t)), new(big.Rat).Add(p.y, new(big.Rat).Mul(d.y, t))}
}

// insideRings is the odd rule with the border inside, in rationals.
func insideRings(rings [][]Place, p point2) bool {
	odd := false
	for _, r := range rings {
		for i := range r {
			a, b := ratOf(r[i]), ratOf(r[(i+1)%len(r)])
			ab, ap, bp := b.minus(a), p.minus(a), p.minus(b)
			c := ab.cross(ap).Sign()
			if c == 0 && ap.dot(bp).Sign() <= 0 {
				return true
			}
			if up := a.y.Cmp(p.y) <= 0; up != (b.y.Cmp(p.y) <= 0) && (c > 0) == up {
				odd = !odd
			}
		}
	}
	return odd
}

// gapOfAll is the square of the largest gap: every corner, every pair of points
// with every side, every three points.
func gapOfAll(points []Place, rings [][]Place) *big.Rat {
	best := new(big.Rat).SetInt64(-1)
	offer := func(p point2) {
		if !insideRings(rings, p) {
			return
		}
		var least *big.Rat
		for _, q := range points {
			d := p.minus(ratOf(q))
			if r := d.dot(d); least == nil || r.Cmp(least) < 0 {
				least = r
			}
		}
		if least.Cmp(best) > 0 {
			best = least
		}
	}
	half := big.NewRat(1, 2)
	for _, r := range rings {
		for i := range r {
			p := ratOf(r[i])
			offer(p)
			d := ratOf(r[(i+1)%len(r)]).minus(p)
			for j, a := range points {
				for _, b := range points[:j] {
					ab := ratOf(b).minus(ratOf(a))
					den := d.dot(ab)
					if den.Sign() == 0 {
						continue
					}
					t := ratOf(a).along(ab, half).minus(p).dot(ab)
					if t.Quo(t, den); t.Sign() >= 0 && t.Cmp(big.NewRat(1, 1)) <= 0 {
						offer(p.along(d, t))
					}
				}
			}
		}
	}
	for i := range points {
		for j := range i {
			for k := range j {
				a := ratOf(points[i])
				b, c := ratOf(points[j]).minus(a), ratOf(points[k]).minus(a)
				den := b.cross(c)
				if den.Sign() == 0 {
					continue
				}
				den.Add(den, den)
				bb, cc := b.dot(b), c.dot(c)
				x := new(big.Rat).Sub(new(big.Rat).Mul(c.y, bb), new(big.Rat).Mul(b.y, cc))
				y := new(big.Rat).Sub(new(big.Rat).Mul(b.x, cc), new(big.Rat).Mul(c.x, bb))
				offer(point2{x.Add(x.Quo(x, den), a.x), y.Add(y.Quo(y, den), a.y)})
			}
		}
	}
	return best
}

func TestGapAgainstAll(t *testing.T) {
	inner, regions := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom([]int64{4, 10, 1000, 1e6, 1e15, int64(extent) / 2}).Draw(t, "size")
		at := rapid.Map(rapid.Int64Range(-size, size), func(v int64) unit.Length { return unit.Length(v) })
		place := rapid.Custom(func(t *rapid.T) Place { return Place{at.Draw(t, "E"), at.Draw(t, "N")} })
		rings := rapid.SliceOfN(rapid.SliceOfN(place, 3, 5), 1, 2).Draw(t, "rings")
		if rapid.Bool().Draw(t, "frame") {
			s := unit.Length(size)
			rings[0] = []Place{{-s, -s}, {s, -s}, {s, s}, {-s, s}}
		}
		region, err := NewRegion(rings)
		if err != nil {
			return
		}
		regions++
		points := rapid.SliceOfN(place, 1, 9).Draw(t, "points")
		if rapid.Bool().Draw(t, "nearly a grid") {
			// circles that float64 cannot tell apart
			off := rapid.Map(rapid.IntRange(-1, 1), func(i int) unit.Length { return unit.Length(i) })
			for i := range points {
				points[i] = Place{unit.Length(i%3-1)*unit.Length(size/2) + off.Draw(t, "e"), unit.Length(i/3-1)*unit.Length(size/2) + off.Draw(t, "n")}
			}
		}
		g, err := LargestGap(points, region)
		require.NoError(t, err)
		want := gapOfAll(points, region.rings)
		require.Equal(t, want.String(), new(big.Rat).SetFrac(g.square.num, g.square.den).String())
		// the radius is the root, rounded: (2R − 1)² ≤ 4r² < (2R + 1)²
		want.Mul(want, big.NewRat(4, 1))
		two := new(big.Rat).Add(rat(g.Radius), rat(g.Radius))
		low, high := new(big.Rat).Sub(two, big.NewRat(1, 1)), new(big.Rat).Add(two, big.NewRat(1, 1))
		require.True(t, g.Radius == 0 || low.Mul(low, low).Cmp(want) <= 0)
		require.Negative(t, want.Cmp(high.Mul(high, high)))
		// the centre is where it says, to a rounding
		least := unit.MaxLength
		for _, p := range points {
			d := square(int64(p.E-g.Centre.E), int64(p.N-g.Centre.N))
			least = min(least, fraction{d.big(), big.NewInt(1)}.root())
		}
		require.LessOrEqual(t, (least - g.Radius).Abs(), unit.Length(2))
		for _, p := range points {
			inside := insideRings(region.rings, ratOf(p))
			require.Equal(t, inside, region.Contains(p))
		}
		if !insideRings(region.rings, ratOf(region.rings[0][0])) {
			inner++
		}
	})
	assert.Zero(t, inner, "corners are inside")
	assert.Greater(t, regions, 20)
}

// A grid of 3 m × 4 m has a diagonal of 5 m: the largest gap is 2.5 m, and a grid
// passes on it. Geometry; the rule of the half diagonal is common practice, no
// published source.
func TestGapOfAGrid(t *testing.T) {
	for _, u := range []unit.Unit{unit.M, unit.Ft, unit.FtUS} {
		var points []Place
		for i := range unit.Length(21) {
			for j := range unit.Length(16) {
				points = append(points, Place{3 * i * u.Size, 4 * j * u.Size})
			}
		}
		rand.New(rand.NewPCG(1, 1)).Shuffle(len(points), func(i, j int) { points[i], points[j] = points[j], points[i] })
		lot, err := NewRegion([][]Place{{{0, 0}, {60 * u.Size, 0}, {60 * u.Size, 60 * u.Size}, {0, 60 * u.Size}}})
		require.NoError(t, err)
		g, err := LargestGap(points, lot)
		require.NoError(t, err)
		assert.Equal(t, u.Size*5/2, g.Radius)
		assert.Equal(t, Place{u.Size * 3 / 2, 2 * u.Size}, g.Centre, "the first of all that are equal")
		assert.Zero(t, g.Compare(u.Size*5/2))
		assert.Equal(t, 1, g.Compare(u.Size*5/2-1))
		assert.Equal(t, -1, g.Compare(u.Size*5/2+1))
		assert.Equal(t, 1, g.Compare(-1))
		assert.True(t, g.Meets(3*u.Size, 4*u.Size, 0))
		assert.False(t, g.Meets(3*u.Size, 4*u.Size-1, 0))
		assert.True(t, g.Meets(3*u.Size, 4*u.Size-1, 1))
		assert.True(t, g.Meets(0, 0, u.Size*5/2))
		assert.False(t, g.Meets(0, 0, u.Size*5/2-1))
		// a diagonal that is not whole: √2/2 m + allowance
		assert.False(t, g.Meets(u.Size, u.Size, u.Size*5/2-u.Size*7072/10000))
		assert.True(t, g.Meets(u.Size, u.Size, u.Size*5/2-u.Size*7071/10000))
	}
}

// Where the largest gap is: inside, on a side, in a corner, on a void; and with
// points that make no triangle. Worked by hand.
func TestPlaceOfTheGap(t *testing.T) {
	m := func(e, n int64) Place { return Place{mm(1000 * e), mm(1000 * n)} }
	square := []Place{m(0, 0), m(10, 0), m(10, 10), m(0, 10)}
	for name, c := range map[string]struct {
		rings  [][]Place
		points []Place
		centre Place
		radius unit.Length
	}{
		"corner":           {[][]Place{square}, []Place{m(0, 0)}, m(10, 10), 14_142_135_623_731 * unit.Nanometre / 1000},
		"side":             {[][]Place{{m(0, 0), m(10, 0), m(10, 1), m(0, 1)}}, []Place{m(0, 0), m(10, 0)}, m(5, 1), 5_099_019_513_593 * unit.Nanometre / 1000},
		"one line":         {[][]Place{square}, []Place{m(2, 5), m(4, 5), m(6, 5), m(8, 5), m(4, 5)}, m(0, 0), 0},
		"centre":           {[][]Place{square}, square, m(5, 5), 0},
		"void":             {[][]Place{square, {m(4, 4), m(6, 4), m(6, 6), m(4, 6)}}, square, m(4, 5), 0},
		"outside is empty": {[][]Place{square}, []Place{m(-3, -3), m(-3, 13), m(13, -3), m(13, 13)}, m(5, 5), 0},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := NewRegion(c.rings)
			require.NoError(t, err)
			g, err := LargestGap(c.points, r)
			require.NoError(t, err)
			assert.Equal(t, c.centre, g.Centre)
			want := gapOfAll(c.points, c.rings)
			assert.Equal(t, want.String(), new(big.Rat).SetFrac(g.square.num, g.square.den).String())
			if c.radius != 0 {
				assert.InDelta(t, float64(c.radius), float64(g.Radius), 4)
			}
		})
	}
	_, err := LargestGap(nil, &Region{})
	assert.EqualError(t, err, "there is no point, so that the whole lot is one gap")
}

func TestRegionsRefused(t *testing.T) {
	for text, rings := range map[string][][]Place{
		"crosses the side":                    {{{0, 0}, {9, 9}, {9, 0}, {0, 9}}},
		"at least one ring":                   {},
		"has 2 different corners":             {{{0, 0}, {9, 9}, {0, 0}}},
		"all in one line":                     {{{0, 0}, {9, 9}, {5, 5}}},
		"more than 1,171 km":                  {{{0, 0}, {unit.MaxLength, 9}, {5, 5}}},
		"outer ring 2 has 0 different corner": {{{0, 0}, {9, 0}, {9, 9}}, {}},
	} {
		_, err := NewRegion(rings)
		assert.ErrorContains(t, err, text)
	}
	r, err := NewRegion([][]Place{{{0, 0}, {9, 0}, {9, 9}, {0, 9}, {0, 0}}, {{2, 2}, {4, 2}, {4, 4}}, {{0, 3}, {0, 5}, {1, 4}}})
	require.NoError(t, err)
	assert.InDelta(t, 78.0, r.Area()*squareMetre, 1e-12)
	for _, p := range []Place{{1, 1}, {3, 3}, {4, 3}, {3, 2}, {9, 9}, {0, 4}, {1, 4}} {
		assert.True(t, r.Contains(p), "%v", p)
	}
	s, err := NewRegion([][]Place{{{0, 0}, {20, 0}, {20, 20}}, {{10, 2}, {14, 2}, {14, 6}}})
	require.NoError(t, err)
	for _, p := range []Place{{13, 3}, {1, 2}, {21, 0}, {-1, 0}} {
		assert.False(t, s.Contains(p), "%v", p)
	}
}

func BenchmarkGap100k(b *testing.B) {
	var p []Place
	for _, v := range scattered(100_000, 300_000) {
		p = append(p, v.place())
	}
	lot, err := NewRegion([][]Place{{{mm(10_000), mm(10_000)}, {mm(290_000), mm(5_000)}, {mm(250_000), mm(280_000)}, {mm(20_000), mm(260_000)}}})
	require.NoError(b, err)
	for b.Loop() {
		_, err := LargestGap(p, lot)
		require.NoError(b, err)
	}
}

func BenchmarkGapOfAGrid100k(b *testing.B) {
	var p []Place
	for _, v := range gridded(316) {
		p = append(p, v.place())
	}
	lot, err := NewRegion([][]Place{{{0, 0}, {mm(315_000), 0}, {mm(315_000), mm(315_000)}, {0, mm(315_000)}}})
	require.NoError(b, err)
	for b.Loop() {
		_, err := LargestGap(p, lot)
		require.NoError(b, err)
	}
}
