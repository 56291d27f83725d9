package flow

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Half full and full have the same hydraulic radius, a quarter of the bore:
// geometry.
func TestRoundSection(t *testing.T) {
	for _, x := range []struct{ y, area, perimeter, width float64 }{
		{0, 0, 0, 0}, {-1, 0, 0, 0}, {0.5, math.Pi / 8, math.Pi / 2, 1}, {1, math.Pi / 4, math.Pi, 0}, {2, math.Pi / 4, math.Pi, 0},
		// a depth of three quarters is seen under 240 degrees
		{0.75, math.Pi/6 + math.Sqrt(3)/16, 2 * math.Pi / 3, math.Sqrt(3) / 2},
	} {
		s := Round(1, x.y)
		assert.InDelta(t, x.area, s.Area, 1e-15, "%g", x.y)
		assert.InDelta(t, x.perimeter, s.Perimeter, 1e-15, "%g", x.y)
		assert.InDelta(t, x.width, s.Width, 1e-15, "%g", x.y)
	}
	assert.InDelta(t, 0.25, Round(1, 0.5).Radius, 1e-15)
	assert.InDelta(t, 0.25, Round(1, 1).Radius, 1e-15)
	assert.Zero(t, Round(1, 0).Radius)
}

// A round pipe carries most at 0.938 of its bore, 1.076 times what it carries full,
// by Manning with one roughness: common knowledge of the trade, here worked out by
// the condition d(A^5/P^2)/dθ = 0 in another form.
func TestMost(t *testing.T) {
	// 3θ − 5θ cos θ + 2 sin θ = 0 for the whole angle θ
	lo, hi := 4.0, 6.0
	for range 60 {
		if m := (lo + hi) / 2; 3*m-5*m*math.Cos(m)+2*math.Sin(m) > 0 {
			lo = m
		} else {
			hi = m
		}
	}
	y, q := Most(Manning{0.013, Metres}, 0.6, 0.002)
	assert.InDelta(t, (1-math.Cos(lo/2))/2, y/0.6, 1e-7)
	assert.InDelta(t, 0.938, y/0.6, 0.0005)
	_, full := Full(Manning{0.013, Metres}, 0.6, 0.002)
	assert.InDelta(t, 1.076, q/full, 0.0005)
}

func TestNoFlow(t *testing.T) {
	for _, l := range []Law{Manning{0.013, Metres}, ColebrookWhite{0.0006, 1e-6, Gravity}, Manning{}} {
		for _, s := range []float64{0, -0.01, math.NaN()} {
			v, q := Full(l, 0.3, s)
			assert.Zero(t, v)
			assert.Zero(t, q)
			_, err := Depth(l, 0.3, s, 0.01)
			assert.ErrorIs(t, err, ErrTooMuch)
		}
		y, err := Depth(l, 0.3, 0.01, 0)
		assert.NoError(t, err)
		assert.Zero(t, y)
		_, err = Depth(l, 0.3, 0.01, -1)
		assert.ErrorContains(t, err, "is none")
	}
	assert.Zero(t, ColebrookWhite{0.0006, 1e-6, Gravity}.Velocity(1e-5, 1e-5), "too thin to be turbulent")
	assert.Zero(t, Critical(0.3, 0, Gravity))
}

// The depth found carries the flow, it is the lower one of two, and more flow
// stands deeper.
func TestDepthCarriesItsFlow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s := rapid.Float64Range(0.1, 3).Draw(t, "bore"), rapid.Float64Range(0.0005, 0.2).Draw(t, "slope")
		var l Law = Manning{rapid.Float64Range(0.009, 0.02).Draw(t, "n"), Metres}
		if rapid.Bool().Draw(t, "colebrook") {
			l = ColebrookWhite{rapid.Float64Range(0.00001, 0.003).Draw(t, "ks"), 1.141e-6, Gravity}
		}
		top, most := Most(l, d, s)
		q := most * rapid.Float64Range(0.001, 0.999).Draw(t, "share")
		y, err := Depth(l, d, s, q)
		require.NoError(t, err)
		_, got := At(l, d, y, s)
		assert.InEpsilon(t, q, got, 1e-10)
		assert.LessOrEqual(t, y, top)
		_, less := At(l, d, y*0.99, s)
		assert.Less(t, less, q)
		c := Round(d, Critical(d, q, Gravity))
		assert.InEpsilon(t, q*q*c.Width, Gravity*math.Pow(c.Area, 3), 1e-6)
		_, err = Depth(l, d, s, most*1.001)
		assert.ErrorIs(t, err, ErrTooMuch)
	})
}

// Velocities to 1e-13: against the formulas in 200 bits. Cube roots by halving.
func TestVelocityAgainstLongArithmetic(t *testing.T) {
	big200 := func(x float64) *big.Float { return new(big.Float).SetPrec(200).SetFloat64(x) }
	for _, x := range []struct{ n, r, s float64 }{{0.013, 0.05, 0.001}, {0.009, 0.75, 0.2}, {0.02, 0.025, 0.0005}} {
		lo, hi := big200(0), big200(1)
		cube := new(big.Float).SetPrec(200)
		for range 190 { // r^(2/3) is the cube root of r²
			mid := new(big.Float).SetPrec(200).Add(lo, hi)
			mid.Quo(mid, big200(2))
			cube.Mul(mid, mid).Mul(cube, mid)
			if cube.Cmp(new(big.Float).SetPrec(200).Mul(big200(x.r), big200(x.r))) < 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		v := new(big.Float).SetPrec(200).Sqrt(big200(x.s))
		v.Mul(v, lo).Quo(v, big200(x.n))
		want, _ := v.Float64()
		assert.InEpsilon(t, want, Manning{x.n, Metres}.Velocity(x.r, x.s), 1e-13)
		assert.InEpsilon(t, x.s, Manning{x.n, Metres}.Slope(want, x.r), 1e-13)
	}
	assert.InDelta(t, math.Cbrt(1/0.3048), Feet, 0.0003, "the foot's constant is rounded")
}
