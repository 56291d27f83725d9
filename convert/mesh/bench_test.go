package mesh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

func mm(v int64) unit.Length { return unit.Length(v) * unit.Millimetre }

func scattered(n int, size int64) []Vertex {
	g := rand.New(rand.NewPCG(1, 2))
	v := make([]Vertex, n)
	for i := range v {
		v[i] = Vertex{mm(g.Int64N(size)), mm(g.Int64N(size)), mm(g.Int64N(5000))}
	}
	return v
}

func gridded(n int64) []Vertex {
	var v []Vertex
	for i := range n {
		for j := range n {
			v = append(v, Vertex{mm(i * 1000), mm(j * 1000), 0})
		}
	}
	return v
}

func benchmark(b *testing.B, in Input) {
	for b.Loop() {
		_, err := Triangulate(in)
		require.NoError(b, err)
	}
}

func BenchmarkTriangulate500k(b *testing.B) {
	benchmark(b, Input{Points: scattered(500_000, 1_000_000), Same: mm(5000)})
}

func BenchmarkTriangulateGrid500k(b *testing.B) { benchmark(b, Input{Points: gridded(707)}) }

// Strings of 100 shots, each a breakline: 5000 × 99 sides.
func BenchmarkTriangulateStrings500k(b *testing.B) {
	g := rand.New(rand.NewPCG(1, 2))
	var in Input
	for s := range int64(5000) {
		var l []int32
		for k := range int64(100) {
			l = append(l, int32(len(in.Points)))
			in.Points = append(in.Points, Vertex{mm(k*2000 + g.Int64N(500)), mm(s*3000 + g.Int64N(2000)), 0})
		}
		in.Lines = append(in.Lines, l)
	}
	benchmark(b, in)
}

// 300 long lines, each across 1000 m of 200,000 points, that cross each other
// at equal levels.
func BenchmarkTriangulateLongLines(b *testing.B) {
	in := Input{Points: scattered(200_000, 1_000_000), Same: mm(10_000)}
	g := rand.New(rand.NewPCG(1, 2))
	for range int64(300) {
		k := int32(len(in.Points))
		in.Points = append(in.Points, Vertex{mm(g.Int64N(1_000_000)), mm(-1), 0}, Vertex{mm(g.Int64N(1_000_000)), mm(1_000_001), 0})
		in.Lines = append(in.Lines, []int32{k, k + 1})
	}
	benchmark(b, in)
}

func BenchmarkOrder500k(b *testing.B) {
	p := scattered(500_000, 1_000_000)
	for b.Loop() {
		order(p)
	}
}

func BenchmarkGrow500k(b *testing.B) {
	p := scattered(500_000, 1_000_000)
	o := order(p)
	for b.Loop() {
		grow(p, o)
	}
}

// Two columns of points, whose triangulation in any order of their strings is
// all slivers that are flipped again.
func BenchmarkTriangulateTwoColumns100k(b *testing.B) {
	benchmark(b, Input{Points: columns(rand.New(rand.NewPCG(1, 2)), 50_000)})
}

// 50,000 points on one circle, but for the rounding, and one at its centre.
func BenchmarkTriangulateCircle50k(b *testing.B) {
	in := Input{Points: []Vertex{{}}}
	for i := range 50_000 {
		sin, cos := math.Sincos(float64(i) * 2 * math.Pi / 50_000)
		in.Points = append(in.Points, Vertex{unit.Length(cos * 1e15), unit.Length(sin * 1e15), 0})
	}
	benchmark(b, in)
}
