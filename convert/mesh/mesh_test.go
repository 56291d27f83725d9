package mesh

import (
	"cmp"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// sets are point sets that are hard on a triangulation.
func sets() map[string]func(g *rand.Rand) []Vertex {
	in := func(g *rand.Rand, size int64) unit.Length { return unit.Length(g.Int64N(2*size+1) - size) }
	cloud := func(n int, size int64) func(g *rand.Rand) []Vertex {
		return func(g *rand.Rand) []Vertex {
			v := make([]Vertex, n)
			for i := range v {
				v[i] = Vertex{in(g, size), in(g, size), 0}
			}
			return v
		}
	}
	return map[string]func(g *rand.Rand) []Vertex{
		"cloud":            cloud(400, 1e15),
		"whole range":      cloud(200, int64(extent)),
		"few counts":       cloud(300, 9),
		"three":            cloud(3, 9),
		"two columns":      func(g *rand.Rand) []Vertex { return columns(g, 200) },
		"millimetre grid":  func(g *rand.Rand) []Vertex { return grid(18, unit.Millimetre) },
		"grid of counts":   func(g *rand.Rand) []Vertex { return grid(18, 1) },
		"shaken grid":      func(g *rand.Rand) []Vertex { return shaken(g, grid(18, unit.Metre), 1) },
		"grid at a slant":  func(g *rand.Rand) []Vertex { return slanted(grid(15, unit.Millimetre)) },
		"circle":           func(g *rand.Rand) []Vertex { return circle(0) },
		"circle and heart": func(g *rand.Rand) []Vertex { return append(circle(0), Vertex{}) },
		"line and a point": func(g *rand.Rand) []Vertex {
			var v []Vertex
			for i := range unit.Length(100) {
				v = append(v, Vertex{i * unit.Metre, 3 * i * unit.Metre, 0})
			}
			return append(v, Vertex{50 * unit.Metre, 150*unit.Metre + 1, 0})
		},
		"string": func(g *rand.Rand) []Vertex {
			// shots along a road, every 10 mm, in a corridor of 20 mm
			var v []Vertex
			for i := range int64(300) {
				v = append(v, Vertex{mm(10 * i), mm(7*i + g.Int64N(20)), 0})
			}
			return v
		},
		"twins": func(g *rand.Rand) []Vertex {
			// each point with another a count beside it
			var v []Vertex
			for range 100 {
				a := Vertex{in(g, 1e15), in(g, 1e15), 0}
				v = append(v, a, Vertex{a.E + in(g, 1), a.N + in(g, 1), 0})
			}
			return v
		},
	}
}

func grid(n int64, step unit.Length) (v []Vertex) {
	for i := range n {
		for j := range n {
			v = append(v, Vertex{unit.Length(i) * step, unit.Length(j) * step, 0})
		}
	}
	return v
}

func shaken(g *rand.Rand, v []Vertex, by int64) []Vertex {
	for i := range v {
		v[i].E += unit.Length(g.Int64N(2*by+1) - by)
		v[i].N += unit.Length(g.Int64N(2*by+1) - by)
	}
	return v
}

func slanted(v []Vertex) []Vertex {
	for i, p := range v {
		v[i].E, v[i].N = 3*p.E-4*p.N, 4*p.E+3*p.N
	}
	return v
}

// circle is points that are exactly on one circle, of radius 1105 mm: the ways
// in which 1105² is a sum of two squares.
func circle(z unit.Length) (v []Vertex) {
	for e := int64(-1105); e <= 1105; e++ {
		n := int64(math.Round(math.Sqrt(float64(1105*1105 - e*e))))
		if e*e+n*n == 1105*1105 {
			v = append(v, Vertex{mm(e), mm(n), z})
			if n != 0 {
				v = append(v, Vertex{mm(e), mm(-n), z})
			}
		}
	}
	return v
}

func columns(g *rand.Rand, n int64) (v []Vertex) {
	for i := range n {
		v = append(v, Vertex{mm(0), mm(100 * i), 0}, Vertex{mm(50_000), mm(100*i + g.Int64N(3)), 0})
	}
	return v
}

func TestFacesAreDelaunay(t *testing.T) {
	for name, set := range sets() {
		t.Run(name, func(t *testing.T) {
			for seed := range uint64(8) {
				in := Input{Points: set(rand.New(rand.NewPCG(seed, 1)))}
				m, err := Triangulate(in)
				if len(in.Points) == 3 && err != nil {
					continue
				}
				require.NoError(t, err)
				requireSound(t, &in, m)
				require.Empty(t, m.Outside)
				require.Equal(t, twiceRing(hull(in.Points)).String(), twiceArea(m).String())
				// Euler: three sides to a face, every vertex used
				places := map[Place]bool{}
				for i := range in.Points {
					places[in.Points[i].place()] = true
				}
				require.Len(t, m.Merged, len(in.Points)-len(places))
			}
		})
	}
	assert.Len(t, circle(0), 108)
}

// byPlace is the faces as places, each from its least corner, in order.
func byPlace(m *Mesh) (faces [][3]Vertex) {
	order := func(a, b Vertex) int { return cmp.Or(cmp.Compare(a.E, b.E), cmp.Compare(a.N, b.N)) }
	for _, f := range m.Faces {
		c := [3]Vertex{m.Vertices[f[0]], m.Vertices[f[1]], m.Vertices[f[2]]}
		for order(c[0], c[1]) > 0 || order(c[0], c[2]) > 0 {
			c[0], c[1], c[2] = c[1], c[2], c[0]
		}
		faces = append(faces, c)
	}
	slices.SortFunc(faces, func(a, b [3]Vertex) int { return cmp.Or(order(a[0], b[0]), order(a[1], b[1]), order(a[2], b[2])) })
	return faces
}

// The order of the points, the direction and the order of the lines have no
// part in the surface.
func TestOrderOfPoints(t *testing.T) {
	for name, set := range sets() {
		t.Run(name, func(t *testing.T) {
			g := rand.New(rand.NewPCG(4, 4))
			in := Input{Points: set(g)}
			for range 5 {
				a, b := g.IntN(len(in.Points)), g.IntN(len(in.Points))
				if in.Points[a].place() != in.Points[b].place() {
					in.Lines = append(in.Lines, []int32{int32(a), int32(b)})
				}
			}
			first, err := Triangulate(in)
			if name == "three" && err != nil {
				return
			}
			require.NoError(t, err)
			for range 3 {
				to := g.Perm(len(in.Points))
				other := Input{Points: make([]Vertex, len(to))}
				for i, k := range to {
					other.Points[k] = in.Points[i]
				}
				for _, k := range g.Perm(len(in.Lines)) {
					l := in.Lines[k]
					other.Lines = append(other.Lines, []int32{int32(to[l[1]]), int32(to[l[0]])})
				}
				m, err := Triangulate(other)
				require.NoError(t, err)
				require.Equal(t, byPlace(first), byPlace(m))
			}
		})
	}
}

// Lines between any points, crossing at any place; every level is that of one
// plane, so that every crossing is sound. In whole millimetres each line is held
// exactly, but for the rounding of crossings. In whole counts roundings are as
// large as the lines, and there may be no answer; there must be an end.
func TestLinesAreHeld(t *testing.T) {
	crossings, slips, close := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		step := rapid.SampledFrom([]unit.Length{1, unit.Millimetre}).Draw(t, "step")
		size := rapid.SampledFrom([]int64{3, 6, 20, 1000, 1e6}).Draw(t, "size")
		at := rapid.Map(rapid.Int64Range(-size, size), func(v int64) unit.Length { return unit.Length(v) * step })
		n := rapid.IntRange(3, 40).Draw(t, "points")
		in := Input{Points: make([]Vertex, n)}
		for i := range in.Points {
			in.Points[i] = Vertex{at.Draw(t, "E"), at.Draw(t, "N"), 7}
		}
		for range rapid.IntRange(0, 12).Draw(t, "lines") {
			l := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, n-1), func(i int) int32 { return int32(i) }), 2, 4).Draw(t, "line")
			if in.Points[l[0]].place() != in.Points[l[1]].place() {
				in.Lines = append(in.Lines, l)
			}
		}
		m, err := Triangulate(in)
		switch {
		case errors.Is(err, errOneLine):
			return
		case errors.Is(err, errTooClose) && step == 1:
			close++
			return
		}
		require.NoError(t, err)
		requireSound(t, &in, m)
		crossings += len(m.Added)
		for _, c := range m.Added {
			require.Equal(t, Vertex{c.E, c.N, 7}, c.Vertex)
			require.EqualValues(t, 7, c.Other)
		}
		require.Empty(t, m.Passed)
		if len(m.Added) == 0 && step > 1 {
			requireHeld(t, &in, m, in.Lines, false)
			require.Equal(t, twiceRing(hull(in.Points)).String(), twiceArea(m).String())
			return
		}
		counts := 0.71 // half a count each way
		if step == 1 {
			counts, slips = 3, slips+1
		}
		for _, l := range in.Lines {
			for i := range len(l) - 1 {
				requireWay(t, m, in.Points[l[i]].place(), in.Points[l[i+1]].place(), counts)
			}
		}
	})
	assert.Greater(t, crossings, 100)
	assert.Greater(t, slips, 10)
	assert.LessOrEqual(t, close*5, slips)
}

// requireWay requires a way along sides that stays within so many counts of the
// line.
func requireWay(t require.TestingT, m *Mesh, p, q Place, counts float64) {
	length := math.Hypot(float64(q.E-p.E), float64(q.N-p.N))
	near := func(r Place) bool {
		if length == 0 {
			return r == p
		}
		d, _ := orientBig(p, q, r).Float64()
		return math.Abs(d)/length <= counts
	}
	beside := map[Place][]Place{}
	for _, s := range m.Sides {
		a, b := m.Vertices[s[0]].place(), m.Vertices[s[1]].place()
		if near(a) && near(b) {
			beside[a], beside[b] = append(beside[a], b), append(beside[b], a)
		}
	}
	seen, pile := map[Place]bool{p: true}, []Place{p}
	for len(pile) > 0 {
		r := pile[len(pile)-1]
		pile = pile[:len(pile)-1]
		for _, s := range beside[r] {
			if !seen[s] {
				seen[s] = true
				pile = append(pile, s)
			}
		}
	}
	require.True(t, seen[q], "no way along sides from %v to %v", p, q)
}
