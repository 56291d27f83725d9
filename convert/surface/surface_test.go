package surface

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
		f := tin.faces[g.IntN(len(tin.faces))]
		a, b := tin.vertices[f[0]], tin.vertices[f[1]]
		// a place on the edge in whole counts: coordinates are whole millimetres,
		// 3,937,000,000 counts, so 1/2^k of an edge is whole for k to 6
		k := unit.Length(g.IntN(65))
		e, n := a.E+(b.E-a.E)/64*k, a.N+(b.N-a.N)/64*k
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
// vertices, rounded half upwards. Witness: math/big.
func TestLevelIsExact(t *testing.T) {
	g := rand.New(rand.NewPCG(6, 6))
	length := func(m int64) unit.Length {
		return unit.Length(g.Int64N(m*2)-m)*unit.Millimetre + unit.Length(g.Int64N(5)-2)
	}
	for range 5000 {
		v := []Vertex{{length(1e6), length(1e6), length(3e5)}, {length(1e6), length(1e6), length(3e5)}, {length(1e6), length(1e6), length(3e5)}}
		tin, err := New(v, [][3]int32{{0, 1, 2}})
		if err != nil {
			continue
		}
		// a place inside: mean of corners with weights
		a, b := unit.Length(g.Int64N(100)), unit.Length(g.Int64N(100))
		c := 200 - a - b
		e, n := (v[0].E*a+v[1].E*b+v[2].E*c)/200, (v[0].N*a+v[1].N*b+v[2].N*c)/200
		z, _, state, _ := tin.Level(e, n)
		if state != On {
			continue // rounding of the mean may leave a sliver
		}
		require.Equal(t, exact(v, e, n), z)
	}
}

func exact(v []Vertex, e, n unit.Length) unit.Length {
	rat := func(l unit.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }
	cross := func(a, b, c, d unit.Length) *big.Rat {
		x := new(big.Rat).Mul(rat(a), rat(d))
		return x.Sub(x, new(big.Rat).Mul(rat(b), rat(c)))
	}
	d := cross(v[1].E-v[0].E, v[1].N-v[0].N, v[2].E-v[0].E, v[2].N-v[0].N)
	wb := cross(e-v[0].E, n-v[0].N, v[2].E-v[0].E, v[2].N-v[0].N)
	wc := cross(v[1].E-v[0].E, v[1].N-v[0].N, e-v[0].E, n-v[0].N)
	sum := new(big.Rat).Mul(wb, rat(v[1].Z-v[0].Z))
	sum.Add(sum, new(big.Rat).Mul(wc, rat(v[2].Z-v[0].Z)))
	sum.Quo(sum, d).Add(sum, rat(v[0].Z)).Add(sum, big.NewRat(1, 2))
	f := new(big.Int).Div(sum.Num(), sum.Denom()) // Div floors for a positive divisor
	return unit.Length(f.Int64())
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
	assert.ErrorContains(t, err, "1,171 km")
}

func TestOutline(t *testing.T) {
	tin := sheet(t, 4, 0, 0, 7)
	rings := tin.Outline()
	require.Len(t, rings, 1)
	assert.Len(t, rings[0], 16)
	lo, hi := tin.Bounds()
	assert.Equal(t, Vertex{0, 0, 50 * unit.Metre}, lo)
	assert.Equal(t, Vertex{40 * unit.Metre, 40 * unit.Metre, 50 * unit.Metre}, hi)
	assert.InDelta(t, 1600, tin.PlanArea(), 1e-9)
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

func BenchmarkLevelInOrder(b *testing.B)  { benchmarkLevel(b, false) }
func BenchmarkLevelShuffled(b *testing.B) { benchmarkLevel(b, true) }
