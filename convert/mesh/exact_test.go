package mesh

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// orientBig and incircleBig are the determinants in math/big.
func orientBig(a, b, c Place) *big.Int {
	minus := func(p, q unit.Length) *big.Int { return new(big.Int).Sub(big64(p), big64(q)) }
	l := new(big.Int).Mul(minus(b.E, a.E), minus(c.N, a.N))
	return l.Sub(l, new(big.Int).Mul(minus(b.N, a.N), minus(c.E, a.E)))
}

func incircleBig(a, b, c, d Place) int {
	total := new(big.Int)
	for _, r := range [3][3]Place{{a, b, c}, {b, c, a}, {c, a, b}} {
		e, n := new(big.Int).Sub(big64(r[0].E), big64(d.E)), new(big.Int).Sub(big64(r[0].N), big64(d.N))
		lift := new(big.Int).Add(e.Mul(e, e), n.Mul(n, n))
		total.Add(total, lift.Mul(lift, orientBig(d, r[1], r[2])))
	}
	return total.Sign()
}

// coordinate draws numbers of every size, the ends of the range included.
func coordinate() *rapid.Generator[unit.Length] {
	return rapid.Map(rapid.OneOf(rapid.Int64Range(-int64(extent), int64(extent)), rapid.Int64Range(-5, 5), rapid.Int64Range(-1<<40, 1<<40),
		rapid.SampledFrom([]int64{int64(extent), -int64(extent), 1 << 53, 1<<53 + 1})), func(v int64) unit.Length { return unit.Length(v) })
}

func places(n int) *rapid.Generator[[]Place] {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Place { return Place{coordinate().Draw(t, "E"), coordinate().Draw(t, "N")} }), n, n)
}

func TestSidesAndCirclesAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := places(4).Draw(t, "places")
		if rapid.Bool().Draw(t, "nearly in one line") {
			// a mean of two others, moved by a count
			p[2] = Place{p[0].E/2 + p[1].E/2 + unit.Length(rapid.IntRange(-1, 1).Draw(t, "e")), p[0].N/2 + p[1].N/2 + unit.Length(rapid.IntRange(-1, 1).Draw(t, "n"))}
		}
		require.Equal(t, orientBig(p[0], p[1], p[2]).Sign(), orient(p[0], p[1], p[2]))
		if rapid.Bool().Draw(t, "nearly on one circle") {
			// the corners of a rectangle, one of them moved by a count
			p[1], p[3] = Place{p[2].E, p[0].N}, Place{p[0].E, p[2].N + unit.Length(rapid.IntRange(-1, 1).Draw(t, "n"))}
			if p[3].N.Abs() > extent {
				p[3].N = p[2].N
			}
		}
		if orient(p[0], p[1], p[2]) < 0 {
			p[0], p[1] = p[1], p[0]
		}
		require.Equal(t, incircleBig(p[0], p[1], p[2], p[3]), incircle(p[0], p[1], p[2], p[3]))
	})
}

// Places a count off the line between two, and off the circle through three,
// where float64 has long lost it.
func TestSidesAndCirclesByACount(t *testing.T) {
	g := rand.New(rand.NewPCG(7, 7))
	for range 5000 {
		size := int64(1) << (20 + g.IntN(42))
		at := func() unit.Length { return unit.Length(g.Int64N(2*size) - size) }
		a, b := Place{at() / 2, at() / 2}, Place{at() / 2, at() / 2}
		k, n := g.Int64N(100), 1+g.Int64N(100)
		off := func() unit.Length { return unit.Length(g.Int64N(3) - 1) }
		c := Place{a.E + (b.E-a.E)/unit.Length(n)*unit.Length(k)/100 + off(), a.N + (b.N-a.N)/unit.Length(n)*unit.Length(k)/100 + off()}
		require.Equal(t, orientBig(a, b, c).Sign(), orient(a, b, c), "%d %d %d", a, b, c)
		// the corners of a rectangle at a slant
		w, h := (b.E-a.E)/7, (b.N-a.N)/7
		d := Place{a.E - 2*h, a.N + 2*w}
		e := Place{a.E + w - 2*h + off(), a.N + h + 2*w + off()}
		c = Place{a.E + w, a.N + h}
		if orient(a, c, e) > 0 {
			require.Equal(t, incircleBig(a, c, e, d), incircle(a, c, e, d), "%d %d %d %d", a, c, e, d)
		}
	}
}

// The corners of the whole range: sums of products of the largest differences.
func TestCirclesAtTheEndOfTheRange(t *testing.T) {
	x := extent
	a, b, c, d := Place{-x, -x}, Place{x, -x}, Place{x, x}, Place{-x, x}
	assert.Equal(t, 0, incircle(a, b, c, d))
	assert.Equal(t, 1, incircle(a, b, c, Place{-x + 1, x}))
	assert.Equal(t, 1, incircle(a, b, c, Place{-x, x - 1}))
	assert.Equal(t, -1, incircle(a, b, Place{x - 1, x}, d))
	assert.Equal(t, 1, orient(a, b, d))
	assert.Equal(t, 1, orient(a, c, Place{x - 1, x}))
	assert.Equal(t, 0, orient(a, c, Place{0, 0}))
	assert.Equal(t, -1, orient(a, c, Place{1, 0}))
}

func TestWideNumbers(t *testing.T) {
	whole := rapid.OneOf(rapid.Int64Range(-math.MaxInt64, math.MaxInt64), rapid.Int64Range(-3, 3), rapid.SampledFrom([]int64{math.MaxInt64, -math.MaxInt64, 1 << 32}))
	rapid.Check(t, func(t *rapid.T) {
		v := [8]int64{}
		for i := range v {
			v[i] = whole.Draw(t, "v")
		}
		mul := func(a, b int64) *big.Int { return new(big.Int).Mul(big.NewInt(a), big.NewInt(b)) }
		c := cross(v[0], v[1], v[2], v[3])
		want := new(big.Int).Sub(mul(v[0], v[3]), mul(v[1], v[2]))
		require.Equal(t, want.String(), c.big().String())
		require.Equal(t, want.Sign(), c.sign())
		d := dot(v[0], v[1], v[2], v[3])
		require.Equal(t, new(big.Int).Add(mul(v[0], v[2]), mul(v[1], v[3])).String(), d.big().String())
		s, r := square(v[4], v[5]), square(v[6], v[7])
		sb, rb := new(big.Int).Add(mul(v[4], v[4]), mul(v[5], v[5])), new(big.Int).Add(mul(v[6], v[6]), mul(v[7], v[7]))
		require.Equal(t, sb.String(), s.big().String())
		require.Equal(t, sb.Cmp(rb), s.compare(r))
		f, _ := new(big.Float).SetInt(sb).Float64()
		require.InEpsilon(t, f+1, s.float()+1, 3*u)
		x, y := new(big.Int).Mul(sb, c.abs().big()), new(big.Int).Mul(rb, d.abs().big())
		require.Equal(t, x.Cmp(y), compareProducts(s, c.abs(), r, d.abs()))
		total := new(big.Int).Add(new(big.Int).Mul(sb, c.big()), new(big.Int).Mul(rb, d.big()))
		require.Equal(t, total.Sign(), int320{}.plus(s, c).plus(r, d).sign())
	})
}
