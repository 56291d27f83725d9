package mesh

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// star is a ring around a centre, of n corners at whole millimetres; it never
// crosses itself.
func star(g *rand.Rand, e, n, least, most int64) []Place {
	// directions in order around, as a diamond
	var ring []Place
	for _, d := range [][2]int64{{4, 0}, {3, 1}, {2, 2}, {1, 3}, {0, 4}, {-1, 3}, {-2, 2}, {-3, 1}, {-4, 0}, {-3, -1}, {-2, -2}, {-1, -3}, {0, -4}, {1, -3}, {2, -2}, {3, -1}} {
		r := least + g.Int64N(most-least)
		ring = append(ring, Place{mm(e + d[0]*r/4), mm(n + d[1]*r/4)})
	}
	return ring
}

// The area of the faces is that of the ring less the voids, to the last count;
// what is inside is kept, what is on the border too, and nothing else.
func TestBoundary(t *testing.T) {
	for seed := range uint64(8) {
		g := rand.New(rand.NewPCG(seed, 9))
		var in Input
		add := func(ring []Place) (l []int32) {
			for _, p := range ring {
				l = append(l, int32(len(in.Points)))
				in.Points = append(in.Points, Vertex{p.E, p.N, mm(g.Int64N(500))})
			}
			return l
		}
		outer := star(g, 0, 0, 6000, 10_000)
		second := star(g, 30_000, 0, 2000, 4000)
		voids := [][]Place{star(g, 1500, 1000, 300, 900), star(g, -1500, -1000, 300, 900)}
		rings := [][]Place{outer, second, voids[0], voids[1]}
		in.Outer = [][]int32{add(outer), add(second)}
		in.Voids = [][]int32{add(voids[0]), add(voids[1])}
		for range 300 {
			in.Points = append(in.Points, Vertex{mm(g.Int64N(44_000) - 10_000), mm(g.Int64N(20_000) - 10_000), mm(g.Int64N(500))})
		}
		in.Points = append(in.Points, in.Points[3]) // the same point again
		// the middle of a side is on the border
		a, b := outer[0], outer[1]
		middle := Place{a.E/2 + b.E/2, a.N/2 + b.N/2}
		in.Points = append(in.Points, Vertex{middle.E, middle.N, 0})
		m, err := Triangulate(in)
		require.NoError(t, err)
		requireSound(t, &in, m)
		requireHeld(t, &in, m, append(in.Outer, in.Voids...), true)
		want := twiceRing(outer)
		want.Add(want, twiceRing(second))
		want.Sub(want, twiceRing(voids[0])).Sub(want, twiceRing(voids[1]))
		require.Equal(t, want.String(), twiceArea(m).String())
		outside := map[int32]bool{}
		for _, p := range m.Outside {
			outside[p] = true
		}
		for i := range in.Points {
			inside := insideRings(rings, ratOf(in.Points[i].place()))
			require.Equal(t, !inside, outside[int32(i)], "point %d", i)
		}
		require.Greater(t, len(m.Outside), 100)
		require.Empty(t, m.Added)
		require.Empty(t, m.Passed)
		require.Equal(t, []Merged{{int32(len(in.Points) - 2), 3}}, m.Merged)
	}
}

// Voids alone bound nothing outside; rings may share a side and a corner; a
// breakline may run along a ring.
func TestVoidsAndSharedSides(t *testing.T) {
	in := Input{Points: grid(5, unit.Metre), Voids: [][]int32{{0, 1, 6, 5}, {6, 7, 12, 11}, {7, 8, 13, 12}}, Lines: [][]int32{{7, 8, 9}, {7, 12, 17}}}
	m, err := Triangulate(in)
	require.NoError(t, err)
	requireSound(t, &in, m)
	square := unit.Metre
	want := twiceRing([]Place{{0, 0}, {4 * square, 0}, {4 * square, 4 * square}, {0, 4 * square}})
	one := twiceRing([]Place{{0, 0}, {square, 0}, {square, square}, {0, square}})
	want.Sub(want, one).Sub(want, one).Sub(want, one)
	assert.Equal(t, want.String(), twiceArea(m).String())
	assert.Equal(t, []int32{0}, m.Outside, "the corner of the hull is in a void")
	// the side between two voids has no face
	assert.NotContains(t, m.Sides, [2]int32{7, 12})
	assert.Contains(t, m.Sides, [2]int32{12, 17})
}

// Two levels at one place name both points; inside the allowed difference, or
// outside the boundary, they do not stop anything.
func TestTwoLevels(t *testing.T) {
	in := Input{Points: append(grid(4, unit.Metre), Vertex{mm(1000), mm(2000), mm(20)}, Vertex{mm(1000), mm(2000), 0}, Vertex{0, 0, mm(30)})}
	_, err := Triangulate(in)
	require.EqualError(t, err, "point 1 and point 19 are at one place, 0.000 E, 0.000 N, with the levels 0.000 m and 0.030 m; correct one of them or leave it out\n"+
		"point 7 and point 17 are at one place, 1.000 E, 2.000 N, with the levels 0.000 m and 0.020 m; correct one of them or leave it out")
	var faults Faults
	require.ErrorAs(t, err, &faults)
	assert.Equal(t, Fault{TwoLevels, []int32{6, 16}, Place{mm(1000), mm(2000)}, [2]unit.Length{0, mm(20)}}, faults[1])
	in.Same = mm(20)
	_, err = Triangulate(in)
	require.ErrorAs(t, err, &faults)
	require.Len(t, faults, 1)
	in.Same = mm(30)
	m, err := Triangulate(in)
	require.NoError(t, err)
	assert.Equal(t, []Merged{{16, 6}, {17, 6}, {18, 0}}, m.Merged)
	// the point of 30 mm is outside this ring, and so is what it contradicts
	in.Same, in.Outer = mm(20), [][]int32{{1, 3, 15, 12}}
	m, err = Triangulate(in)
	require.NoError(t, err)
	assert.Equal(t, []int32{0, 4, 8, 18}, m.Outside)
	assert.Equal(t, []Merged{{16, 6}, {17, 6}}, m.Merged)
}

func cross4(z0, z1, z2, z3 unit.Length) []Vertex {
	return []Vertex{{0, 0, z0}, {mm(3000), mm(3000), z1}, {mm(3000), 0, z2}, {0, mm(3000), z3}}
}

// Breaklines that cross: at equal levels a vertex, else a fault with both places.
func TestLinesCross(t *testing.T) {
	in := Input{Points: cross4(mm(100), mm(200), mm(300), 0), Lines: [][]int32{{0, 1}, {2, 3}}}
	m, err := Triangulate(in)
	require.NoError(t, err)
	requireSound(t, &in, m)
	assert.Equal(t, []Vertex{{mm(1500), mm(1500), mm(150)}}, m.Vertices[4:])
	require.Len(t, m.Added, 1)
	assert.Equal(t, m.Vertices[4], m.Added[0].Vertex)
	assert.Equal(t, mm(150), m.Added[0].Other)
	assert.ElementsMatch(t, []int32{0, 1, 2, 3}, m.Added[0].Ends[:])
	assert.Len(t, m.Faces, 4)
	assert.Equal(t, [][2]int32{{0, 4}, {1, 4}, {2, 4}, {3, 4}}, m.Sides)

	in.Points[3].Z = mm(2)
	_, err = Triangulate(in)
	assert.EqualError(t, err, "the breakline from point 3 to point 4 and the breakline from point 1 to point 2 cross at 1.500 E, 1.500 N with the levels 0.151 m and 0.150 m; give them a common point there, or end one of them before")
	in.Same = mm(1)
	m, err = Triangulate(in)
	require.NoError(t, err)
	assert.Equal(t, mm(1), (m.Added[0].Z - m.Added[0].Other).Abs())

	// a third of the way, rounded once: 3 and 7 counts are 4⅓ at a third
	third := Input{Points: []Vertex{{0, 0, 3}, {3, 3, 7}, {0, 2, 4}, {2, 0, 5}}, Lines: [][]int32{{0, 1}, {2, 3}}}
	m, err = Triangulate(third)
	if assert.Error(t, err) {
		assert.Nil(t, m)
		assert.ErrorContains(t, err, "cross at")
	}
	third.Points[2].Z, third.Points[3].Z = 4, 4
	m, err = Triangulate(third)
	require.NoError(t, err)
	assert.Equal(t, Vertex{1, 1, 4}, m.Vertices[4])
}

// Three breaklines through one place, no two of which have an end there: they
// agree, or it is a fault, whichever two are put in first.
func TestThreeLinesCross(t *testing.T) {
	ends := []Place{{0, 0}, {mm(3000), mm(3000)}, {mm(3000), 0}, {0, mm(3000)}, {0, mm(1500)}, {mm(3000), mm(1500)}}
	for odd := range 4 {
		var in Input
		for line := range int32(3) {
			z := mm(100)
			if int(line) == odd {
				z = mm(120)
			}
			in.Points = append(in.Points, Vertex{ends[2*line].E, ends[2*line].N, z}, Vertex{ends[2*line+1].E, ends[2*line+1].N, z})
			in.Lines = append(in.Lines, []int32{2 * line, 2*line + 1})
		}
		m, err := Triangulate(in)
		if odd < 3 {
			require.ErrorContains(t, err, "cross at 1.500 E, 1.500 N with the levels 0.1")
			require.ErrorContains(t, err, "0.120 m")
			continue
		}
		require.NoError(t, err)
		requireSound(t, &in, m)
		assert.Len(t, m.Added, 1)
		assert.Len(t, m.Sides, 6)
		assert.Empty(t, m.Passed)
	}
}

// A breakline through a point is split there; the point holds, and the
// difference of level is told when there is one.
func TestLineThroughAPoint(t *testing.T) {
	in := Input{Points: grid(3, unit.Metre), Lines: [][]int32{{0, 8}, {6, 8}}}
	in.Points[4].Z, in.Points[8].Z, in.Points[6].Z, in.Points[7].Z = mm(7), mm(10), mm(10), mm(10)
	m, err := Triangulate(in)
	require.NoError(t, err)
	requireSound(t, &in, m)
	requireHeld(t, &in, m, in.Lines, false)
	assert.Equal(t, []Passing{{Vertex: 4, Ends: [2]int32{0, 8}, Line: mm(5)}}, m.Passed)
	assert.Empty(t, m.Added)
}

// A side of a ring has no level of its own where a breakline crosses it.
func TestLineAcrossTheBoundary(t *testing.T) {
	in := Input{Points: append(cross4(0, mm(100), mm(100), mm(0)), Vertex{mm(1000), mm(1500), mm(40)}, Vertex{mm(6000), mm(1500), mm(90)}, Vertex{mm(1000), mm(200), 0}),
		Lines: [][]int32{{4, 5}}, Outer: [][]int32{{0, 2, 1, 3}}}
	m, err := Triangulate(in)
	require.NoError(t, err)
	requireSound(t, &in, m)
	require.Len(t, m.Added, 1)
	assert.Equal(t, Vertex{mm(3000), mm(1500), mm(60)}, m.Added[0].Vertex)
	assert.Equal(t, m.Added[0].Z, m.Added[0].Other)
	assert.Equal(t, []int32{5}, m.Outside)
	assert.Equal(t, twiceRing([]Place{{0, 0}, {mm(3000), 0}, {mm(3000), mm(3000)}, {0, mm(3000)}}).String(), twiceArea(m).String())
}

func TestRingsThatCross(t *testing.T) {
	in := Input{Points: cross4(0, 0, 0, 0), Outer: [][]int32{{0, 1, 2, 3}}}
	_, err := Triangulate(in)
	assert.EqualError(t, err, "the side of the boundary or of a void from point 3 to point 4 crosses the side from point 1 to point 2 at 1.500 E, 1.500 N; give the corners of each ring in order around it, and voids inside")
}

// Faces with a long side go from outside inwards; a breakline stops them, and so
// does a short side.
func TestLongSides(t *testing.T) {
	// a square of 10 m with a point in each corner and a cluster far to the east
	v := append(grid(11, unit.Metre), Vertex{mm(60_000), 0, 0}, Vertex{mm(60_000), mm(1000), 0}, Vertex{mm(61_000), 0, 0})
	in := Input{Points: v, MaxSide: mm(2000)}
	m, err := Triangulate(in)
	require.NoError(t, err)
	requireSound(t, &in, m)
	assert.Empty(t, m.Outside)
	assert.Len(t, m.Faces, 201)
	whole, err := Triangulate(Input{Points: v})
	require.NoError(t, err)
	assert.Equal(t, len(whole.Faces)-201, m.Long)
	a, b := layer(t, v, whole.Faces...), layer(t, v, m.Faces...)
	assert.InEpsilon(t, a.Area()-b.Area(), m.LongArea, 1e-12)
	assert.InEpsilon(t, 100.5, b.Area(), 1e-12)

	// on the limit stays; a point that loses its last face is told
	far := append(grid(2, unit.Metre), Vertex{mm(500), mm(2200), 0}) // 500, 1200, 1300
	m, err = Triangulate(Input{Points: far, MaxSide: mm(1300)})
	require.NoError(t, err)
	assert.Zero(t, m.Long)
	m, err = Triangulate(Input{Points: far, MaxSide: mm(1300) - 1})
	require.NoError(t, err)
	assert.Equal(t, 1, m.Long)
	assert.Equal(t, []int32{4}, m.Outside)
	m, err = Triangulate(Input{Points: far, MaxSide: mm(1200), Lines: [][]int32{{1, 4}, {4, 3}}})
	require.NoError(t, err)
	assert.Zero(t, m.Long)
	_, err = Triangulate(Input{Points: far, MaxSide: mm(10)})
	assert.Equal(t, errNothingShort, err)
}

func TestInputRefused(t *testing.T) {
	v := grid(3, unit.Metre)
	for text, in := range map[string]Input{
		"fewer than three": {Points: v[:2]},
		"all in one line":  {Points: v[:3]},
		"breakline 2 names a point that is not there":                         {Points: v, Lines: [][]int32{{0, 1}, {0, 9}}},
		"void 1 names a point":                                                {Points: v, Voids: [][]int32{{-1, 1, 2}}},
		"breakline 1 has 1 different corner":                                  {Points: v, Lines: [][]int32{{1, 1}}},
		"outer ring 1 has 2 different corners; a ring needs at least three":   {Points: v, Outer: [][]int32{{0, 1, 0}}},
		"leaves nothing":                                                      {Points: v, Outer: [][]int32{{0, 1, 2}}},
		"point 1 is more than 1,171 km from the origin":                       {Points: []Vertex{{unit.MaxLength, 0, 0}}},
		"must not be negative":                                                {Points: v, MaxSide: -1},
		"leave out either the boundary or the longest side":                   {Points: v, MaxSide: 1, Outer: [][]int32{{0, 2, 8}}},
		"point 2 is more than 1,171 km from the origin of the job; check the": {Points: []Vertex{{}, {Z: -unit.MaxLength}}},
	} {
		_, err := Triangulate(in)
		assert.ErrorContains(t, err, text)
	}
	_, err := Triangulate(Input{})
	assert.Equal(t, errOneLine, err)
}

// Rings and lines through everything: nothing is lost, whatever crosses.
func TestRingsAndLines(t *testing.T) {
	added, made := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		g := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		var in Input
		for range 60 {
			in.Points = append(in.Points, Vertex{mm(g.Int64N(9000) - 4500), mm(g.Int64N(9000) - 4500), 0})
		}
		ring := func(e, n, r int64) (l []int32) {
			for _, p := range star(g, e, n, r/2, r) {
				l = append(l, int32(len(in.Points)))
				in.Points = append(in.Points, Vertex{p.E, p.N, mm(500)})
			}
			return l
		}
		in.Outer = append(in.Outer, ring(0, 0, 4000))
		in.Voids = append(in.Voids, ring(g.Int64N(2000)-1000, g.Int64N(2000)-1000, 1500))
		for range g.IntN(6) {
			l := g.Perm(60)
			in.Lines = append(in.Lines, []int32{int32(l[0]), int32(l[1]), int32(l[2])})
		}
		in.Same = mm(500)
		m, err := Triangulate(in)
		var faults Faults
		if err != nil {
			require.ErrorAs(t, err, &faults)
			for _, f := range faults {
				require.Equal(t, RingsCross, f.Kind)
			}
			return
		}
		requireSound(t, &in, m)
		made++
		added += len(m.Added)
		// the boundary bends by no more than the rounding of the crossings on it
		want := twiceInside(&in)
		got, _ := twiceArea(m).Float64()
		require.InDelta(t, want, got, float64(len(m.Added)+1)*2*float64(mm(10_000)))
	})
	assert.Greater(t, made, 10)
	assert.Greater(t, added, 30)
}

// twiceInside is twice the area inside the outer ring and outside the void.
func twiceInside(in *Input) float64 {
	of := func(l []int32) float64 {
		var ring []Place
		for _, p := range l {
			ring = append(ring, in.Points[p].place())
		}
		f, _ := twiceRing(ring).Float64()
		return f
	}
	return of(in.Outer[0]) - of(in.Voids[0])
}
