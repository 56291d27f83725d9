package convert

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

// ringOf makes a ring of whole millimetres.
func ringOf(corners ...[2]int64) []Place {
	r := make([]Place, len(corners))
	for i, c := range corners {
		r[i] = Place{unit.Length(c[0]) * unit.Millimetre, unit.Length(c[1]) * unit.Millimetre}
	}
	return r
}

func TestOutlineContains(t *testing.T) {
	outer := ringOf([2]int64{0, 0}, [2]int64{10_000, 0}, [2]int64{10_000, 10_000}, [2]int64{5000, 4000}, [2]int64{0, 10_000})
	hole := ringOf([2]int64{1000, 1000}, [2]int64{1000, 3000}, [2]int64{3000, 3000}, [2]int64{3000, 1000}, [2]int64{1000, 1000})
	island := ringOf([2]int64{1500, 1500}, [2]int64{2500, 1500}, [2]int64{2000, 2500})
	o, err := NewOutline([][]Place{outer, hole, island})
	require.NoError(t, err)
	mm := unit.Millimetre
	for name, c := range map[string]struct {
		e, n unit.Length
		want bool
	}{
		"inside":                         {500 * mm, 500 * mm, true},
		"a corner":                       {0, 0, true},
		"the re-entrant corner":          {5000 * mm, 4000 * mm, true},
		"one count above it":             {5000 * mm, 4000*mm + 1, false},
		"one count below it":             {5000 * mm, 4000*mm - 1, true},
		"on a side":                      {10_000 * mm, 3000 * mm, true},
		"one count beyond a side":        {10_000*mm + 1, 3000 * mm, false},
		"level with corners, outside":    {-1, 10_000 * mm, false},
		"between the horns":              {5000 * mm, 10_000 * mm, false},
		"on a slanted side":              {2500 * mm, 7000 * mm, true},
		"one count right of it":          {2500*mm + 1, 7000 * mm, false},
		"on the edge of the hole":        {1000 * mm, 2000 * mm, true},
		"on a corner of the hole":        {3000 * mm, 3000 * mm, true},
		"one count inside the hole":      {1000*mm + 1, 2000 * mm, false},
		"in the hole":                    {1200 * mm, 2900 * mm, false},
		"on the island":                  {2000 * mm, 2000 * mm, true},
		"on the island's tip":            {2000 * mm, 2500 * mm, true},
		"one count above the tip":        {2000 * mm, 2500*mm + 1, false},
		"beyond the range of difference": {unit.MaxLength, -unit.MaxLength, false},
	} {
		assert.Equal(t, c.want, o.Contains(Place{c.e, c.n}), name)
	}
}

// A star around a centre has a known inside: a place is inside when it is
// nearer to the centre than the side in its direction. Witness: rationals, by
// the triangles of the fan.
func TestOutlineAgreesWithItsFan(t *testing.T) {
	g := rand.New(rand.NewPCG(3, 1))
	rat := func(l unit.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }
	left := func(a, b, p Place) int {
		x := new(big.Rat).Mul(rat(b.E-a.E), rat(p.N-a.N))
		return x.Cmp(new(big.Rat).Mul(rat(b.N-a.N), rat(p.E-a.E)))
	}
	for range 60 {
		// corners at increasing directions, one in every eighth of the circle
		var star []Place
		for k := range int64(8) {
			x, y := 50+g.Int64N(900), g.Int64N(50)
			c := [8][2]int64{{x, y}, {x, x + y}, {-y, x}, {-x - y, x}, {-x, -y}, {-x, -x - y}, {y, -x}, {x + y, -x}}[k]
			star = append(star, ringOf(c)...)
		}
		o, err := NewOutline([][]Place{star})
		require.NoError(t, err)
		for range 300 {
			p := ringOf([2]int64{g.Int64N(2400) - 1200, g.Int64N(2400) - 1200})[0]
			if g.IntN(3) == 0 {
				p = star[g.IntN(8)]
				p.E += unit.Length(g.IntN(3) - 1)
			}
			want := false
			for i := range star {
				a, b := star[i], star[(i+1)%8]
				want = want || left(Place{}, a, p) >= 0 && left(a, b, p) >= 0 && left(b, Place{}, p) >= 0
			}
			require.Equal(t, want, o.Contains(p), "%v %v", star, p)
		}
	}
}

func TestOutlineRefused(t *testing.T) {
	square := ringOf([2]int64{0, 0}, [2]int64{10, 0}, [2]int64{10, 10}, [2]int64{0, 10})
	moved := ringOf([2]int64{5, 5}, [2]int64{15, 5}, [2]int64{15, 15}, [2]int64{5, 15})
	turned := ringOf([2]int64{10, 10}, [2]int64{10, 0}, [2]int64{0, 0}, [2]int64{0, 10})
	for name, c := range map[string]struct {
		rings [][]Place
		want  string
	}{
		"none":                     {nil, "at least one ring"},
		"two corners":              {[][]Place{ringOf([2]int64{0, 0}, [2]int64{1, 0}, [2]int64{0, 0})}, "ring 1 has 2 different corners"},
		"one corner":               {[][]Place{square, ringOf([2]int64{1, 1}, [2]int64{1, 1}, [2]int64{1, 1})}, "ring 2 has 1 different corners"},
		"a bow":                    {[][]Place{ringOf([2]int64{0, 0}, [2]int64{10, 10}, [2]int64{10, 0}, [2]int64{0, 10})}, "ring 1 crosses or touches itself: the sides from corner 1 and from corner 3"},
		"out and back":             {[][]Place{ringOf([2]int64{0, 0}, [2]int64{10, 0}, [2]int64{5, 0})}, "touches itself"},
		"a spike":                  {[][]Place{ringOf([2]int64{0, 0}, [2]int64{10, 0}, [2]int64{20, 0}, [2]int64{10, 0}, [2]int64{10, 10})}, "touches itself"},
		"a corner on another side": {[][]Place{ringOf([2]int64{0, 0}, [2]int64{10, 0}, [2]int64{10, 10}, [2]int64{5, 0}, [2]int64{0, 10})}, "touches itself"},
		"two that cross":           {[][]Place{square, moved}, "crosses ring"},
		"one twice":                {[][]Place{square, turned}, "ring 2 is ring 1 again"},
		"too far":                  {[][]Place{{{0, 0}, {unit.MaxLength, 0}, {0, 5}}}, "corner 2 of ring 1 is more than 1,171 km"},
	} {
		_, err := NewOutline(c.rings)
		assert.ErrorContains(t, err, c.want, name)
	}
	// rings that touch are no mistake
	for name, rings := range map[string][][]Place{
		"side by side":          {square, ringOf([2]int64{10, 0}, [2]int64{20, 0}, [2]int64{20, 10}, [2]int64{10, 10})},
		"hole on the edge":      {square, ringOf([2]int64{0, 2}, [2]int64{4, 2}, [2]int64{4, 4}, [2]int64{0, 4})},
		"corner to corner":      {square, ringOf([2]int64{10, 10}, [2]int64{20, 10}, [2]int64{20, 20})},
		"closed, corner double": {append(append(square[:1:1], square...), square[0])},
		"corners in one line":   {ringOf([2]int64{0, 0}, [2]int64{5, 0}, [2]int64{10, 0}, [2]int64{5, 5})},
	} {
		_, err := NewOutline(rings)
		assert.NoError(t, err, name)
	}
}

func TestOutlineGeom(t *testing.T) {
	f := &Frame{Unit: unit.M, E0: 321_000, N0: 5_812_000}
	square := ringOf([2]int64{478_250, 336_500}, [2]int64{479_250, 336_500}, [2]int64{479_250, 337_501})
	o, err := NewOutline([][]Place{square})
	require.NoError(t, err)
	p := o.Geom(f)
	require.Equal(t, 1, p.NumLinearRings())
	assert.Equal(t, []float64{321_478.25, 5_812_336.5, 321_479.25, 5_812_336.5, 321_479.25, 5_812_337.501, 321_478.25, 5_812_336.5}, p.FlatCoords())
}

func BenchmarkOutline(b *testing.B) {
	var r []Place
	for i := range int64(10_000) {
		r = append(r, ringOf([2]int64{i, i * i / 10_000})...)
	}
	r = append(r, ringOf([2]int64{0, 10_000})...)
	for b.Loop() {
		_, err := NewOutline([][]Place{r})
		require.NoError(b, err)
	}
}
