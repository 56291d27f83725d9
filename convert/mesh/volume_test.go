package mesh

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

func layer(t testing.TB, v []Vertex, faces ...[3]int32) *Layer {
	if faces == nil {
		m, err := Triangulate(Input{Points: v})
		require.NoError(t, err)
		faces = m.Faces
	}
	l, err := NewLayer(v, faces)
	require.NoError(t, err)
	return l
}

// pad is a flat square of a side in mm, at a level in mm.
func pad(t testing.TB, side, z int64) *Layer {
	return layer(t, []Vertex{{0, 0, mm(z)}, {mm(side), 0, mm(z)}, {mm(side), mm(side), mm(z)}, {0, mm(side), mm(z)}})
}

// The solids have closed forms; the numbers stand in metres beside each.
func TestVolumeOfSolids(t *testing.T) {
	flat := pad(t, 12_000, 0)
	roof := []Vertex{{0, 0, 0}, {mm(12_000), 0, 0}, {mm(12_000), mm(12_000), 0}, {0, mm(12_000), 0}, {mm(6000), mm(6000), mm(3000)}}
	pyramid := layer(t, roof)
	wedge := layer(t, []Vertex{{0, 0, mm(-1000)}, {mm(12_000), 0, mm(2000)}, {mm(12_000), mm(12_000), mm(2000)}, {0, mm(12_000), mm(-1000)}})
	bar := func(rings ...[]Place) *Region {
		r, err := NewRegion(rings)
		require.NoError(t, err)
		return r
	}
	m := func(e, n int64) Place { return Place{mm(e), mm(n)} }
	for name, c := range map[string]struct {
		built, design *Layer
		in            *Region
		lower, upper  int64
		want          Volumes
	}{
		"slab 0.25 × 144": {pad(t, 12_000, 250), flat, nil, 0, 0,
			Volumes{Above: 36, AreaAbove: 144, Over: 36, AreaOver: 144, Area: 144, Compared: 144}},
		"on design": {flat, flat, nil, 0, 0, Volumes{Area: 144, Compared: 144}},
		"on the limit": {pad(t, 12_000, 250), flat, nil, -250, 250,
			Volumes{Above: 36, AreaAbove: 144, Area: 144, Compared: 144}},
		"slab, limits -20 and +50": {pad(t, 12_000, -250), flat, nil, -20, 50,
			Volumes{Below: 36, AreaBelow: 144, Under: 0.23 * 144, AreaUnder: 144, Area: 144, Compared: 144}},
		// a pyramid of height 3 on 12 × 12: a third of 3 × 144; over 1 m the one of
		// height 2 on 8 × 8
		"pyramid": {pyramid, flat, nil, -1000, 1000,
			Volumes{Above: 144, AreaAbove: 144, Over: 128. / 3, AreaOver: 64, Area: 144, Compared: 144}},
		"pyramid upside down": {flat, pyramid, nil, -1000, 1000,
			Volumes{Below: 144, AreaBelow: 144, Under: 128. / 3, AreaUnder: 64, Area: 144, Compared: 144}},
		// −1 to +2 over 12: triangles of 4 × 1 and 8 × 2, 12 wide; past ±0.5: 2 × 0.5 and 6 × 1.5
		"wedge": {wedge, flat, nil, -500, 500,
			Volumes{Above: 96, Below: 24, AreaAbove: 96, AreaBelow: 48, Over: 54, Under: 6, AreaOver: 72, AreaUnder: 24, Area: 144, Compared: 144}},
		// a strip 2 m wide, from east 8: 1 to 1.5 over 2, 10 of its 12 m
		"a lot": {wedge, flat, bar([]Place{m(8000, 1000), m(10_000, 1000), m(10_000, 11_000), m(8000, 11_000)}), 0, 0,
			Volumes{Above: 25, AreaAbove: 20, Over: 25, AreaOver: 20, Area: 20, Compared: 20}},
		"a lot with a void, past the edge": {pad(t, 12_000, 100), flat,
			bar([]Place{m(6000, 0), m(18_000, 0), m(18_000, 12_000), m(6000, 12_000)}, []Place{m(7000, 1000), m(8000, 1000), m(8000, 2000), m(7000, 2000)}), 0, 0,
			Volumes{Above: 7.1, AreaAbove: 71, Over: 7.1, AreaOver: 71, Area: 143, Compared: 71, NoBuilt: 72}},
		"design is smaller": {pad(t, 12_000, 100), pad(t, 6000, 0), nil, 0, 0,
			Volumes{Above: 3.6, AreaAbove: 36, Over: 3.6, AreaOver: 36, Area: 144, Compared: 36, NoDesign: 108}},
		"lot on both edges": {pad(t, 12_000, 100), pad(t, 6000, 0), bar([]Place{m(0, 0), m(24_000, 0), m(24_000, 12_000), m(0, 12_000)}), 0, 0,
			Volumes{Above: 3.6, AreaAbove: 36, Over: 3.6, AreaOver: 36, Area: 288, Compared: 36, NoBuilt: 144, NoDesign: 108}},
		"nothing in common": {pad(t, 12_000, 100), flat, bar([]Place{m(90_000, 0), m(91_000, 0), m(91_000, 1000)}), 0, 0,
			Volumes{Area: 0.5, NoBuilt: 0.5}},
	} {
		t.Run(name, func(t *testing.T) {
			v, err := Compare(c.built, c.design, c.in, mm(c.lower), mm(c.upper))
			require.NoError(t, err)
			requireVolumes(t, &c.want, &v, 1e-12)
		})
	}
	_, err := Compare(flat, flat, nil, 1, 0)
	assert.EqualError(t, err, "the lower limit is above the upper one; exchange them")
}

func requireVolumes(t testing.TB, want, got *Volumes, within float64) {
	for _, x := range []struct {
		name      string
		want, got float64
		scale     float64
	}{
		{"Above", want.Above, got.Above, want.Above + want.Below}, {"Below", want.Below, got.Below, want.Above + want.Below},
		{"Over", want.Over, got.Over, want.Above + want.Below}, {"Under", want.Under, got.Under, want.Above + want.Below},
		{"AreaAbove", want.AreaAbove, got.AreaAbove, want.Area}, {"AreaBelow", want.AreaBelow, got.AreaBelow, want.Area},
		{"AreaOver", want.AreaOver, got.AreaOver, want.Area}, {"AreaUnder", want.AreaUnder, got.AreaUnder, want.Area},
		{"Area", want.Area, got.Area, want.Area}, {"Compared", want.Compared, got.Compared, want.Area},
		{"NoBuilt", want.NoBuilt, got.NoBuilt, want.Area}, {"NoDesign", want.NoDesign, got.NoDesign, want.Area},
		{"Doubled", want.Doubled, got.Doubled, want.Area},
	} {
		require.InDelta(t, x.want, x.got, within*x.scale, x.name)
	}
}

// solidCorner is a corner of a piece in rationals, with the difference there.
type solidCorner struct {
	point2
	d *big.Rat
}

// cutBy keeps the corners where f is not negative, and adds those where it is 0.
func cutBy(p []solidCorner, f func(*solidCorner) *big.Rat) (q []solidCorner) {
	for i := range p {
		a, b := &p[(i+len(p)-1)%len(p)], &p[i]
		s, t := f(a), f(b)
		if s.Sign()*t.Sign() < 0 {
			k := new(big.Rat).Quo(s, new(big.Rat).Sub(s, t))
			d := new(big.Rat).Sub(b.d, a.d)
			q = append(q, solidCorner{a.along(b.minus(a.point2), k), d.Add(d.Mul(d, k), a.d)})
		}
		if t.Sign() >= 0 {
			q = append(q, *b)
		}
	}
	return q
}

func cutByFace(p []solidCorner, c []Place) []solidCorner {
	for i := range c {
		a, b := ratOf(c[i]), ratOf(c[(i+1)%3])
		p = cutBy(p, func(s *solidCorner) *big.Rat { return b.minus(a).cross(s.minus(a)) })
	}
	return p
}

func solidBig(p []solidCorner) (area, volume *big.Rat) {
	area, volume = new(big.Rat), new(big.Rat)
	for k := 1; k+1 < len(p); k++ {
		a := p[k].minus(p[0].point2).cross(p[k+1].minus(p[0].point2))
		a.Mul(a, big.NewRat(1, 2))
		area.Add(area, a)
		d := new(big.Rat).Add(p[0].d, p[k].d)
		volume.Add(volume, d.Add(d, p[k+1].d).Mul(d, a).Mul(d, big.NewRat(1, 3)))
	}
	return area, volume
}

func levelAt(c *[3]Vertex, p point2) *big.Rat {
	a := ratOf(c[0].place())
	b, d, q := ratOf(c[1].place()).minus(a), ratOf(c[2].place()).minus(a), p.minus(a)
	z := new(big.Rat).Mul(q.cross(d), rat(c[1].Z-c[0].Z))
	z.Add(z, new(big.Rat).Mul(b.cross(q), rat(c[2].Z-c[0].Z)))
	return z.Add(z.Quo(z, b.cross(d)), rat(c[0].Z))
}

// volumesBig is Compare with a region, over all faces, in rationals.
func volumesBig(built, design *Layer, in *Region, lower, upper unit.Length) *Volumes {
	var above, below, over, under, found, compared, areaAbove, areaBelow, areaOver, areaUnder big.Rat
	for _, r := range in.faces {
		for f := range built.corners {
			c := &built.corners[f]
			var p []solidCorner
			for _, v := range c {
				p = append(p, solidCorner{ratOf(v.place()), new(big.Rat)})
			}
			p = cutByFace(p, r[:])
			a, _ := solidBig(p)
			found.Add(&found, a)
			for k := range design.corners {
				o := &design.corners[k]
				q := cutByFace(p, []Place{o[0].place(), o[1].place(), o[2].place()})
				a, _ := solidBig(q)
				compared.Add(&compared, a)
				past := func(volume, area *big.Rat, sign int64, limit unit.Length) {
					var w []solidCorner
					for _, s := range q {
						d := new(big.Rat).Sub(levelAt(c, s.point2), levelAt(o, s.point2))
						d.Sub(d, rat(limit))
						w = append(w, solidCorner{s.point2, d.Mul(d, big.NewRat(sign, 1))})
					}
					a, v := solidBig(cutBy(w, func(s *solidCorner) *big.Rat { return s.d }))
					// what lies in the limit itself is not past it
					if v.Sign() > 0 {
						area.Add(area, a)
					}
					volume.Add(volume, v)
				}
				past(&above, &areaAbove, 1, 0)
				past(&below, &areaBelow, -1, 0)
				past(&over, &areaOver, 1, upper)
				past(&under, &areaUnder, -1, lower)
			}
		}
	}
	f := func(r *big.Rat, by float64) float64 { v, _ := r.Float64(); return v / by }
	v := &Volumes{Above: f(&above, cubicMetre), Below: f(&below, cubicMetre), Over: f(&over, cubicMetre), Under: f(&under, cubicMetre),
		AreaAbove: f(&areaAbove, squareMetre), AreaBelow: f(&areaBelow, squareMetre), AreaOver: f(&areaOver, squareMetre), AreaUnder: f(&areaUnder, squareMetre),
		Compared: f(&compared, squareMetre), Area: in.Area()}
	v.NoBuilt, v.NoDesign = v.Area-f(&found, squareMetre), f(found.Sub(&found, &compared), squareMetre)
	return v
}

// Random surfaces, some of them in slivers, over each other and a random lot.
func TestVolumeByRationals(t *testing.T) {
	g := rand.New(rand.NewPCG(8, 8))
	in := func(size unit.Length) unit.Length { return unit.Length(g.Int64N(2*int64(size)+1)) - size }
	for k := range 24 {
		size := []unit.Length{mm(20_000), mm(3_000_000), 1000, extent / 4}[k%4]
		surface := func() *Layer {
			var v []Vertex
			for range 9 {
				v = append(v, Vertex{in(size), in(size), in(size / 50)})
			}
			if k%3 == 0 { // slivers
				v = append(v, Vertex{v[0].E + 1, v[0].N, in(size / 50)}, Vertex{v[1].E, v[1].N + 1, in(size / 50)})
			}
			return layer(t, v)
		}
		built, design := surface(), surface()
		lot, err := NewRegion([][]Place{{{in(size), in(size)}, {in(size), in(size)}, {in(size), in(size)}}})
		require.NoError(t, err)
		want := volumesBig(built, design, lot, -size/200, size/300)
		got, err := Compare(built, design, lot, -size/200, size/300)
		require.NoError(t, err)
		requireVolumes(t, want, &got, 1e-12)
	}
}

// The same surface in other triangles: nothing is moved. With a shift of the
// whole, the volume is area × shift.
func TestVolumeOfAShift(t *testing.T) {
	g := rand.New(rand.NewPCG(3, 3))
	var v []Vertex
	for i := range int64(40) {
		for j := range int64(40) {
			// a plane, in whole millimetres
			e, n := 1000*i+g.Int64N(800), 1000*j+g.Int64N(800)
			v = append(v, Vertex{mm(e), mm(n), unit.Length(30*e-20*n) * unit.Micrometre})
		}
	}
	a := layer(t, v)
	some := append([]Vertex{}, v[:700]...)
	b := layer(t, some)
	same, err := Compare(a, b, nil, 0, 0)
	require.NoError(t, err)
	assert.Zero(t, same.Above+same.Below)
	assert.Zero(t, same.AreaAbove+same.AreaBelow+same.AreaOver+same.AreaUnder)
	assert.InDelta(t, b.Area(), same.Compared, 1e-9)
	assert.InDelta(t, a.Area()-b.Area(), same.NoDesign, 1e-9)
	for i := range some {
		some[i].Z -= mm(250)
	}
	moved, err := Compare(a, layer(t, some), nil, mm(-100), mm(100))
	require.NoError(t, err)
	assert.InEpsilon(t, b.Area()/4, moved.Above, 1e-12)
	assert.InEpsilon(t, b.Area()*0.15, moved.Over, 1e-12)
	assert.Zero(t, moved.Below)
	// on the limit nothing is past it; a nanometre inside the limit all is
	on, err := Compare(a, layer(t, some), nil, mm(-250), mm(250))
	require.NoError(t, err)
	assert.Zero(t, on.AreaOver)
	on, err = Compare(a, layer(t, some), nil, mm(-250), mm(250)-unit.Nanometre)
	require.NoError(t, err)
	assert.InEpsilon(t, b.Area(), on.AreaOver, 1e-12)
}

// A layer that lies over itself says so, and one that was made here does not.
func TestDoubled(t *testing.T) {
	v := []Vertex{{0, 0, 0}, {mm(1000), 0, 0}, {mm(1000), mm(1000), 0}, {0, mm(1000), 0}}
	once := layer(t, v, [3]int32{0, 1, 2}, [3]int32{0, 3, 2}, [3]int32{0, 0, 1})
	assert.Equal(t, 1, once.Flat)
	assert.Zero(t, once.Doubled())
	twice := layer(t, v, [3]int32{0, 1, 2}, [3]int32{0, 1, 3})
	assert.InDelta(t, 0.5, twice.Doubled(), 1e-12)
	got, err := Compare(once, twice, nil, 0, 0)
	require.NoError(t, err)
	assert.InDelta(t, 1.0, got.Compared, 1e-12)
	lot, err := NewRegion([][]Place{{{0, 0}, {mm(1000), 0}, {mm(500), mm(500)}}})
	require.NoError(t, err)
	got, err = Compare(once, twice, lot, 0, 0)
	require.NoError(t, err)
	assert.InDelta(t, 0.25, got.Doubled, 1e-12)
	got, err = Compare(twice, once, lot, 0, 0)
	require.NoError(t, err)
	assert.InDelta(t, 0.25, got.Doubled, 1e-12)
}

func TestLayersRefused(t *testing.T) {
	_, err := NewLayer([]Vertex{{}, {E: 1}, {E: 2}}, [][3]int32{{0, 1, 2}})
	assert.EqualError(t, err, "it has no face with a plan area")
	_, err = NewLayer([]Vertex{{}, {E: 1}, {N: 2}}, [][3]int32{{0, 1, 3}})
	assert.EqualError(t, err, "face 1 names a vertex that is not there")
	_, err = NewLayer([]Vertex{{}, {E: 1}, {Z: unit.MaxLength}}, [][3]int32{{0, 1, 2}})
	assert.ErrorContains(t, err, "vertex 3 is more than 1,171 km")
}

// Every box that touches, and no other.
func TestBoxes(t *testing.T) {
	g := rand.New(rand.NewPCG(5, 5))
	at := func(size int64) Place { return Place{unit.Length(g.Int64N(size)), unit.Length(g.Int64N(size))} }
	for _, n := range []int{1, 2, 8, 9, 500} {
		var all []box
		for range n {
			p := at(1000)
			q := at(60)
			all = append(all, boxOf(p, Place{p.E + q.E, p.N + q.N}))
		}
		tree := newBoxes(all)
		for range 200 {
			b := boxOf(at(1100), at(1100))
			var want []int32
			for i := range all {
				if all[i].touches(&b) {
					want = append(want, int32(i))
				}
			}
			require.Equal(t, want, tree.touching(b, nil))
		}
	}
}

func TestSumIsCompensated(t *testing.T) {
	var a sum
	for _, x := range []float64{1, 1e100, 1, -1e100} {
		a.add(x)
	}
	assert.Equal(t, 2.0, a.value())
	assert.Equal(t, 0.0, math.Abs((&sum{}).value()))
}

func BenchmarkCompare200k(b *testing.B) {
	p, q := scattered(100_000, 1_000_000), scattered(200_000, 1_000_000)[100_000:]
	one, two := layer(b, p), layer(b, q)
	for b.Loop() {
		_, err := Compare(one, two, nil, mm(-20), mm(20))
		require.NoError(b, err)
	}
}

func BenchmarkNewLayer200k(b *testing.B) {
	p := scattered(100_000, 1_000_000)
	m, err := Triangulate(Input{Points: p})
	require.NoError(b, err)
	for b.Loop() {
		_, err := m.Layer()
		require.NoError(b, err)
	}
}
