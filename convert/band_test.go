package convert

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func band(t require.TestingT, lines [][]Place, d unit.Length) *Band {
	b, err := NewBand(lines, d)
	require.NoError(t, err)
	return b
}

// A place exactly 300 mm, or 1 foot, or 11 13/16 inches from a line lies in the
// band, and one a count further does not: beside the line, off its end, and off a
// sloping line by a triangle of 3, 4 and 5. Geometry, no published source.
func TestBandOnItsLimit(t *testing.T) {
	for _, d := range []unit.Length{300 * unit.Millimetre, unit.InternationalFoot, 1_200_000_000_000, 189 * unit.Inch / 16} {
		require.Zero(t, d%15)
		e, n := 123_456*unit.Metre, -77_001*unit.Millimetre
		at := func(x, y unit.Length) Place { return Place{e + x, n + y} }
		flat := band(t, [][]Place{{at(0, 0), at(10*unit.Metre, 0)}}, d)
		assert.True(t, flat.Contains(at(5*unit.Metre, d)), d)
		assert.False(t, flat.Contains(at(5*unit.Metre, d+1)), d)
		assert.True(t, flat.Contains(at(-d, 0)))
		assert.False(t, flat.Contains(at(-d-1, 0)))
		assert.True(t, flat.Contains(at(-d/5*3, d/5*4)), "round the end")
		assert.False(t, flat.Contains(at(-d/5*3-1, d/5*4)))
		slope := band(t, [][]Place{{at(0, 0), at(4*unit.Metre, 3*unit.Metre)}}, d)
		assert.True(t, slope.Contains(at(2*unit.Metre-d/5*3, 1500*unit.Millimetre+d/5*4)), d)
		assert.False(t, slope.Contains(at(2*unit.Metre-d/5*3, 1500*unit.Millimetre+d/5*4+1)), d)
		point := band(t, [][]Place{{at(0, 0)}}, d)
		assert.True(t, point.Contains(at(d/5*4, -d/5*3)))
		assert.False(t, point.Contains(at(d/5*4, -d/5*3-1)))
	}
	assert.False(t, band(t, nil, unit.Metre).Contains(Place{}))
}

func TestBandOutOfRange(t *testing.T) {
	_, err := NewBand([][]Place{{{0, 0}, {unit.MaxLength, 0}}}, unit.Metre)
	assert.ErrorContains(t, err, "corner 2 of the line is more than 1,171 km")
	assert.False(t, band(t, [][]Place{{{0, 0}}}, unit.MaxLength).Contains(Place{unit.MaxLength, 0}))
}

// The distance in fractions, by a formula of its own: the nearest place of the
// side is worked out first.
func TestBandAgainstFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Int64Range(-40, 40)
		place := func(name string) Place {
			return Place{unit.Length(c.Draw(t, name+" e")), unit.Length(c.Draw(t, name+" n"))}
		}
		a, b, p := place("a"), place("b"), place("p")
		d := unit.Length(rapid.Int64Range(0, 30).Draw(t, "d"))
		r := func(l unit.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }
		ab2 := r((b.E-a.E)*(b.E-a.E) + (b.N-a.N)*(b.N-a.N))
		share := new(big.Rat)
		if ab2.Sign() > 0 {
			share.Quo(r((p.E-a.E)*(b.E-a.E)+(p.N-a.N)*(b.N-a.N)), ab2)
		}
		if share.Sign() < 0 {
			share.SetInt64(0)
		} else if share.Cmp(big.NewRat(1, 1)) > 0 {
			share.SetInt64(1)
		}
		gap := func(a, b, p unit.Length) *big.Rat {
			x := new(big.Rat).Mul(share, r(b-a))
			x.Sub(r(p-a), x)
			return x.Mul(x, x)
		}
		square := new(big.Rat).Add(gap(a.E, b.E, p.E), gap(a.N, b.N, p.N))
		want := square.Cmp(r(d*d)) <= 0
		if got := band(t, [][]Place{{a, b}}, d).Contains(p); got != want {
			t.Fatalf("%v to %v, %v within %d: %v", a, b, p, d, got)
		}
	})
}

// The grid finds what trying every box finds, in the same order.
func TestBoxesLoseNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scale := rapid.SampledFrom([]unit.Length{1, unit.Millimetre, unit.Metre, unit.MaxLength / 64}).Draw(t, "scale")
		c := rapid.Int64Range(-60, 60)
		n := rapid.IntRange(0, 60).Draw(t, "n")
		boxes := make([]Box, n)
		for i := range boxes {
			e, w := c.Draw(t, "e"), rapid.Int64Range(0, 30).Draw(t, "w")
			s, h := c.Draw(t, "s"), rapid.Int64Range(0, 30).Draw(t, "h")
			boxes[i] = Box{Place{unit.Length(e) * scale, unit.Length(s) * scale}, Place{unit.Length(min(e+w, 63)) * scale, unit.Length(min(s+h, 63)) * scale}}
		}
		index := NewBoxes(boxes)
		for range 20 {
			p := Place{unit.Length(c.Draw(t, "pe")) * scale, unit.Length(c.Draw(t, "pn")) * scale}
			var want, got []int
			for i := range boxes {
				if boxes[i].Holds(p) {
					want = append(want, i)
				}
			}
			index.Each(p, func(i int) bool { got = append(got, i); return true })
			if !assert.ObjectsAreEqual(want, got) {
				t.Fatalf("%v: %v, all tried %v", p, got, want)
			}
		}
	})
}

func TestBoxGrownStaysInRange(t *testing.T) {
	b := Box{Place{-unit.MaxLength + 5, 0}, Place{0, unit.MaxLength - 5}}.Grown(10)
	assert.Equal(t, Box{Place{-unit.MaxLength, -10}, Place{10, unit.MaxLength}}, b)
}
