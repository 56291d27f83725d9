package surface

import (
	"fmt"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func mm(v int64) unit.Length { return unit.Length(v) * unit.Millimetre }

// sheet is a grid of n × n squares of 10 m with corners moved by whole
// millimetres, on the plane z = 50 m + gx·e + gy·n with grades of whole
// millimetres in a metre, so that every level at a whole metre is a whole
// millimetre.
func sheet(t testing.TB, n int, gx, gy int64, seed uint64) *TIN {
	g := rand.New(rand.NewPCG(seed, 1))
	var v []Vertex
	for j := 0; j <= n; j++ {
		for i := 0; i <= n; i++ {
			e, y := int64(i)*10_000, int64(j)*10_000
			if i > 0 && i < n && j > 0 && j < n {
				e += g.Int64N(6000) - 3000
				y += g.Int64N(6000) - 3000
			}
			// z in micrometres is exact: grade mm/m × mm
			z := unit.Length(50_000_000+gx*e+gy*y) * unit.Micrometre
			v = append(v, Vertex{mm(e), mm(y), z})
		}
	}
	var f [][3]int32
	at := func(i, j int) int32 { return int32(j*(n+1) + i) }
	for j := range n {
		for i := range n {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			if g.IntN(2) == 0 {
				f = append(f, [3]int32{a, b, c}, [3]int32{a, d, c}) // one of each turn
			} else {
				f = append(f, [3]int32{b, a, d}, [3]int32{b, c, d})
			}
		}
	}
	tin, err := New(v, f)
	require.NoError(t, err)
	return tin
}

// The witness is the plane itself: geometry, no published example.
func TestPlaneIsExactEverywhere(t *testing.T) {
	tin := sheet(t, 20, -13, 7, 1)
	g := rand.New(rand.NewPCG(2, 2))
	for range 20_000 {
		e, n := g.Int64N(200_001), g.Int64N(200_001)
		z, _, state, _ := tin.Level(mm(e), mm(n))
		require.Equal(t, On, state, "%d %d", e, n)
		require.Equal(t, unit.Length(50_000_000-13*e+7*n)*unit.Micrometre, z, "%d %d", e, n)
	}
}

// Places on edges and vertices are inside: none is lost.
func TestEdgesAndVerticesAreInside(t *testing.T) {
	tin := sheet(t, 12, 5, 5, 3)
	g := rand.New(rand.NewPCG(4, 4))
	for i := range tin.vertices {
		v := tin.vertices[i]
		z, _, state, _ := tin.Level(v.E, v.N)
		require.Equal(t, On, state)
		require.Equal(t, v.Z, z)
	}
	for range 10_000 {
		f := tin.corners[g.IntN(len(tin.corners))]
		side := g.IntN(3)
		a, b := tin.vertices[f[side]], tin.vertices[f[(side+1)%3]]
		// a place on the edge in whole counts: coordinates are whole millimetres,
		// 3,937,000,000 counts, so 1/2^k of an edge is whole for k to 6
		k := unit.Length(g.IntN(65))
		e, n := a.E+(b.E-a.E)/64*k, a.N+(b.N-a.N)/64*k
		z, _, state, _ := tin.Level(e, n)
		require.Equal(t, On, state)
		// the edge's own level, half upwards: the same from either face
		require.Equal(t, a.Z+((b.Z-a.Z)*2*k+64)>>7, z)
	}
}

// On edges of any shape, rounded to whole counts on either side of the edge,
// the two faces leave no gap and do not contradict each other.
func TestNoGapAlongAnEdge(t *testing.T) {
	g := rand.New(rand.NewPCG(5, 5))
	for range 10_000 {
		at := func() unit.Length { return unit.Length(g.Int64N(int64(mm(100_000)))) }
		v := []Vertex{{at(), at(), at()}, {at(), at(), at()}}
		// a corner far to each side of the edge
		de, dn := v[1].E-v[0].E, v[1].N-v[0].N
		v = append(v, Vertex{v[0].E - dn, v[0].N + de, at()}, Vertex{v[0].E + dn, v[0].N - de, at()})
		tin, err := New(v, [][3]int32{{0, 1, 2}, {0, 1, 3}})
		require.NoError(t, err)
		k := unit.Length(g.IntN(999) + 1)
		e, n := v[0].E+unit.MulDiv(de, k, 1000), v[0].N+unit.MulDiv(dn, k, 1000)
		_, _, state, _ := tin.Level(e, n)
		require.Equal(t, On, state)
	}
}

func TestOutside(t *testing.T) {
	tin := sheet(t, 3, 0, 0, 5)
	for _, p := range [][2]int64{{-1, 5}, {5, -1}, {30_001, 5}, {5, 30_001}, {1 << 30, 0}, {-1 << 30, -1 << 30}} {
		_, _, state, _ := tin.Level(mm(p[0]), mm(p[1]))
		assert.Equal(t, Outside, state, "%v", p)
	}
	// one count beyond the border
	_, _, state, _ := tin.Level(mm(30_000)+1, mm(15_000))
	assert.Equal(t, Outside, state)
	_, _, state, _ = tin.Level(mm(30_000), mm(15_000))
	assert.Equal(t, On, state)
}

// The level of any place is the exact rational of the plane through three
// vertices, rounded half upwards. Witness: math/big. Fat triangles, needles and
// coordinates at the end of the range; both turns and every order of the
// corners give one answer, inside and outside alike.
func TestLevelIsExact(t *testing.T) {
	g := rand.New(rand.NewPCG(6, 6))
	within := func(size unit.Length) unit.Length { return unit.Length(g.Int64N(2*int64(size)+1)) - size }
	shapes := map[string]func() []Vertex{
		"fat": func() []Vertex {
			v := make([]Vertex, 3)
			for i := range v {
				v[i] = Vertex{within(mm(1e6)), within(mm(1e6)), within(mm(3e5))}
			}
			return v
		},
		"needle": func() []Vertex {
			v := make([]Vertex, 3)
			a, e, n := Vertex{within(mm(1e6)), within(mm(1e6)), within(mm(3e4))}, within(mm(500)), within(mm(500))
			for i := range v {
				k := unit.Length(g.Int64N(2000))
				v[i] = Vertex{a.E + k*e + within(5), a.N + k*n + within(5), a.Z + within(mm(2000))}
			}
			return v
		},
		"end of the range": func() []Vertex {
			v := make([]Vertex, 3)
			for i := range v {
				v[i] = Vertex{within(extent), within(extent), within(extent)}
			}
			return v
		},
		"few counts": func() []Vertex {
			v := make([]Vertex, 3)
			for i := range v {
				v[i] = Vertex{within(6), within(6), within(9)}
			}
			return v
		},
	}
	orders := [][3]int32{{0, 1, 2}, {1, 2, 0}, {2, 0, 1}, {0, 2, 1}, {2, 1, 0}, {1, 0, 2}}
	for name, shape := range shapes {
		t.Run(name, func(t *testing.T) {
			inside, outside := 0, 0
			for range 4000 {
				v := shape()
				tins := make([]*TIN, len(orders))
				flat := false
				for i, o := range orders {
					var err error
					tins[i], err = New(v, [][3]int32{o})
					flat = flat || err != nil
				}
				if flat {
					continue
				}
				// a mean of the corners, moved by a few counts
				a, b := big.NewInt(g.Int64N(101)), big.NewInt(g.Int64N(101))
				c := new(big.Int).Sub(big.NewInt(200), a)
				c.Sub(c, b)
				mean := func(x, y, z unit.Length) unit.Length {
					s := new(big.Int).Mul(a, big.NewInt(int64(x)))
					s.Add(s, new(big.Int).Mul(b, big.NewInt(int64(y))))
					s.Add(s, new(big.Int).Mul(c, big.NewInt(int64(z))))
					return unit.Length(s.Div(s, big.NewInt(200)).Int64()) + unit.Length(g.IntN(3)-1)
				}
				e, n := mean(v[0].E, v[1].E, v[2].E), mean(v[0].N, v[1].N, v[2].N)
				want, in := exact(v, e, n)
				for i := range tins {
					z, _, state, _ := tins[i].Level(e, n)
					require.Equal(t, in, state == On, "%v at %d %d", v, e, n)
					if in {
						require.Equal(t, want, z, "%v at %d %d", v, e, n)
					}
				}
				if in {
					inside++
				} else {
					outside++
				}
			}
			assert.Greater(t, inside, 300)
			assert.Greater(t, outside, 10)
		})
	}
}

// exact is the level in rationals, and whether the place is inside.
func exact(v []Vertex, e, n unit.Length) (unit.Length, bool) {
	rat := func(l unit.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }
	cross := func(a, b, c, d unit.Length) *big.Rat {
		x := new(big.Rat).Mul(rat(a), rat(d))
		return x.Sub(x, new(big.Rat).Mul(rat(b), rat(c)))
	}
	d := cross(v[1].E-v[0].E, v[1].N-v[0].N, v[2].E-v[0].E, v[2].N-v[0].N)
	wb := cross(e-v[0].E, n-v[0].N, v[2].E-v[0].E, v[2].N-v[0].N)
	wc := cross(v[1].E-v[0].E, v[1].N-v[0].N, e-v[0].E, n-v[0].N)
	wb.Quo(wb, d)
	wc.Quo(wc, d)
	wa := new(big.Rat).Sub(big.NewRat(1, 1), wb)
	if wa.Sub(wa, wc).Sign() < 0 || wb.Sign() < 0 || wc.Sign() < 0 {
		return 0, false
	}
	sum := new(big.Rat).Mul(wb, rat(v[1].Z-v[0].Z))
	sum.Add(sum, new(big.Rat).Mul(wc, rat(v[2].Z-v[0].Z)))
	sum.Add(sum, rat(v[0].Z)).Add(sum, big.NewRat(1, 2))
	f := new(big.Int).Div(sum.Num(), sum.Denom()) // Div floors for a positive divisor
	return unit.Length(f.Int64()), true
}

// A level half way between two counts goes up, whatever its sign and whichever
// corner it is reckoned from.
func TestHalfACountGoesUp(t *testing.T) {
	for _, c := range []struct{ a, b, want unit.Length }{{0, 1, 1}, {1, 0, 1}, {-1, 0, 0}, {0, -1, 0}, {-3, 0, -1}, {-4, -5, -4}} {
		v := []Vertex{{0, 0, c.a}, {2, 0, c.b}, {0, 2, c.a}, {2, 2, c.b}}
		for _, faces := range [][][3]int32{{{0, 1, 2}}, {{2, 0, 1}}, {{1, 0, 2}}, {{0, 1, 3}, {0, 3, 2}}} {
			tin, err := New(v, faces)
			require.NoError(t, err)
			z, _, state, _ := tin.Level(1, 0)
			assert.Equal(t, On, state)
			assert.Equal(t, c.want, z, "%v %v", c, faces)
		}
	}
}

func TestTwoFacesOverEachOther(t *testing.T) {
	v := []Vertex{{0, 0, 0}, {mm(1000), 0, 0}, {0, mm(1000), 0}, {0, 0, mm(120)}, {mm(1000), 0, mm(120)}, {0, mm(1000), mm(120)}}
	tin, err := New(v, [][3]int32{{0, 1, 2}, {3, 4, 5}})
	require.NoError(t, err)
	z, face, state, other := tin.Level(mm(100), mm(100))
	assert.Equal(t, Twice, state)
	assert.EqualValues(t, 0, face)
	assert.Equal(t, mm(120), other-z)
}

func TestRefused(t *testing.T) {
	_, err := New([]Vertex{{0, 0, 0}, {1, 0, 0}, {2, 0, 0}}, [][3]int32{{0, 1, 2}})
	assert.ErrorContains(t, err, "no visible face")
	_, err = New([]Vertex{{0, 0, 0}}, [][3]int32{{0, 1, 2}})
	assert.ErrorContains(t, err, "vertex that is not there")
	_, err = New([]Vertex{{unit.MaxLength, 0, 0}, {1, 0, 0}, {2, 5, 0}}, [][3]int32{{0, 1, 2}})
	assert.ErrorContains(t, err, "vertex 1 is more than 1,171 km")
	_, err = New([]Vertex{{0, 0, 0}, {1, 0, -unit.MaxLength}, {2, 5, 0}}, [][3]int32{{0, 1, 2}})
	assert.ErrorContains(t, err, "vertex 2 is more than 1,171 km")
	_, err = New(nil, nil)
	assert.ErrorContains(t, err, "no visible face")
}

// A vertical face supplies nothing and is counted; at the foot of a step two
// levels contradict each other, beside it they do not.
func TestStep(t *testing.T) {
	v := []Vertex{{0, 0, 0}, {mm(10), 0, 0}, {mm(10), mm(10), 0}, {0, mm(10), 0},
		{mm(10), 0, mm(120)}, {mm(10), mm(10), mm(120)}, {mm(20), 0, mm(120)}, {mm(20), mm(10), mm(120)}}
	tin, err := New(v, [][3]int32{{0, 1, 2}, {0, 2, 3}, {1, 4, 5}, {1, 5, 2}, {4, 6, 7}, {4, 7, 5}, {0, 0, 1}})
	require.NoError(t, err)
	assert.Equal(t, 3, tin.Flat)
	assert.Equal(t, 7, tin.Faces())
	assert.InDelta(t, 200e-6, tin.PlanArea(), 1e-15)
	for _, c := range []struct {
		e     unit.Length
		state State
		z     unit.Length
		face  int32
	}{{mm(10) - 1, On, 0, 0}, {mm(10), Twice, 0, 0}, {mm(10) + 1, On, mm(120), 5}, {mm(20), On, mm(120), 4}, {mm(20) + 1, Outside, 0, 0}} {
		z, face, state, _ := tin.Level(c.e, mm(4))
		assert.Equal(t, c.state, state, "%v", c)
		assert.Equal(t, c.z, z, "%v", c)
		assert.Equal(t, c.face, face, "%v", c)
	}
	rings := tin.Outline()
	require.Len(t, rings, 1, "a step is no border")
	assert.Len(t, rings[0], 6)
}

// The same face twice is no contradiction.
func TestFaceListedTwice(t *testing.T) {
	v := []Vertex{{0, 0, 0}, {mm(10), 0, mm(3)}, {0, mm(10), mm(7)}}
	tin, err := New(v, [][3]int32{{0, 1, 2}, {2, 1, 0}})
	require.NoError(t, err)
	z, face, state, _ := tin.Level(mm(5), mm(5))
	assert.Equal(t, On, state)
	assert.Equal(t, mm(5), z)
	assert.EqualValues(t, 0, face)
	lo, hi := tin.Bounds()
	assert.Equal(t, Vertex{}, lo)
	assert.Equal(t, Vertex{mm(10), mm(10), mm(7)}, hi)
}

func benchmarkLevel(b *testing.B, shuffled bool) {
	tin := sheet(b, 316, -13, 7, 1) // 199,712 faces
	g := rand.New(rand.NewPCG(9, 9))
	places := make([][2]unit.Length, 1<<18)
	for i := range places {
		places[i] = [2]unit.Length{mm(g.Int64N(3_160_000)), mm(int64(i) * 3_160_000 / int64(len(places)))}
	}
	if shuffled {
		g.Shuffle(len(places), func(i, j int) { places[i], places[j] = places[j], places[i] })
	}
	for i := 0; b.Loop(); i++ {
		p := &places[i&(len(places)-1)]
		tin.Level(p[0], p[1])
	}
}

// corridor is a road of n × 2 faces, 5 m wide, that runs north-east.
func corridor(t testing.TB, n int) *TIN {
	var v []Vertex
	var f [][3]int32
	for i := range int64(n + 1) {
		v = append(v, Vertex{mm(i*5000 + 2500), mm(i*5000 - 2500), mm(i * 50)}, Vertex{mm(i*5000 - 2500), mm(i*5000 + 2500), mm(i * 50)})
	}
	for i := range int32(n) {
		k := 2 * i
		f = append(f, [3]int32{k, k + 2, k + 3}, [3]int32{k, k + 3, k + 1})
	}
	tin, err := New(v, f)
	require.NoError(t, err)
	return tin
}

func BenchmarkLevelOnARoad(b *testing.B) {
	tin := corridor(b, 50_000)
	g := rand.New(rand.NewPCG(9, 9))
	var places [1 << 16][2]int64
	for i := range places {
		along := g.Int64N(250_000_000)
		places[i] = [2]int64{along + g.Int64N(2000), along - g.Int64N(2000)}
	}
	for i := 0; b.Loop(); i++ {
		p := &places[i&(len(places)-1)]
		tin.Level(mm(p[0]), mm(p[1]))
	}
}

func BenchmarkNew(b *testing.B) {
	tin := sheet(b, 316, -13, 7, 1)
	for b.Loop() {
		_, err := New(tin.vertices, tin.corners)
		require.NoError(b, err)
	}
}

func BenchmarkLevelInOrder(b *testing.B)  { benchmarkLevel(b, false) }
func BenchmarkLevelShuffled(b *testing.B) { benchmarkLevel(b, true) }

// Touch changes nothing, wherever the places are.
func TestTouchChangesNothing(t *testing.T) {
	tins := []*TIN{sheet(t, 9, 20, -30, 3), corridor(t, 40)}
	rapid.Check(t, func(t *rapid.T) {
		tin := rapid.SampledFrom(tins).Draw(t, "surface")
		lo, hi := tin.Bounds()
		var places [][2]unit.Length
		for range rapid.IntRange(0, Touched+3).Draw(t, "places") {
			places = append(places, [2]unit.Length{
				unit.Length(rapid.Int64Range(int64(lo.E-(hi.E-lo.E)), int64(hi.E+(hi.E-lo.E))).Draw(t, "e")),
				unit.Length(rapid.Int64Range(int64(lo.N-(hi.N-lo.N)), int64(hi.N+(hi.N-lo.N))).Draw(t, "n"))})
		}
		answer := func() (out []string) {
			for _, p := range places {
				z, face, state, other := tin.Level(p[0], p[1])
				out = append(out, fmt.Sprint(z, face, state, other))
			}
			return out
		}
		want := answer()
		tin.Touch(places)
		require.Equal(t, want, answer())
	})
}
