package convert

import (
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

const metre = unit.Metre

// straight is a network of one pipe between two places.
func straight(us, ds Place) *Network {
	return &Network{Pits: []Pit{{Place: us, Placed: true}, {Place: ds, Placed: true}},
		Pipes: []Pipe{{US: 0, DS: 1, Length: distance(us, ds), USInvert: 10 * metre, DSInvert: 9 * metre}}}
}

// Right triangles with whole sides (3-4-5, 5-12-13, 8-15-17): along and offset
// are whole, whichever way the pipe runs.
func TestProjectIsExact(t *testing.T) {
	for _, c := range [][3]unit.Length{{3, 4, 5}, {5, 12, 13}, {8, 15, 17}, {0, 1, 1}, {1, 0, 1}} {
		for _, sign := range [][2]unit.Length{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
			e, n, l := c[0]*sign[0], c[1]*sign[1], c[2]
			us := Place{123_456_789, -987_654_321}
			net := straight(us, Place{us.E + 7*metre*e, us.N + 7*metre*n})
			require.Equal(t, 7*metre*l, net.Pipes[0].Length)
			// a steps of the unit vector down the pipe, b to the right of it
			for _, ab := range [][2]unit.Length{{0, 0}, {7, 0}, {3, 0}, {-2, 0}, {9, 1}, {4, -5}, {0, 3}} {
				a, b := ab[0]*metre, ab[1]*metre
				along, offset := net.Project(0, Place{us.E + a*e + b*n, us.N + a*n - b*e})
				require.Equal(t, a*l, along, "%v %v", c, ab)
				require.Equal(t, b*l, offset, "%v %v: + is right, looking downstream", c, ab)
			}
		}
	}
}

// Along and offset are the exact values rounded once. Witness: math/big with
// 400 bits. Pits give exactly 0 and Length, whatever their places.
func TestProjectIsRoundedOnce(t *testing.T) {
	g := rand.New(rand.NewPCG(1, 5))
	float := func(l unit.Length) *big.Float { return new(big.Float).SetPrec(400).SetInt64(int64(l)) }
	mul := func(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(400).Mul(a, b) }
	round := func(f *big.Float) unit.Length {
		half := big.NewFloat(0.5)
		if f.Sign() < 0 {
			half = big.NewFloat(-0.5)
		}
		i, _ := f.Add(f, half).Int64()
		return unit.Length(i)
	}
	for _, size := range []int64{50, int64(metre), 300 * int64(metre), 900_000 * int64(metre)} {
		at := func() unit.Length { return unit.Length(g.Int64N(2*size+1) - size) }
		for range 2000 {
			us, ds, p := Place{at(), at()}, Place{at(), at()}, Place{at(), at()}
			if us == ds {
				continue
			}
			net := straight(us, ds)
			de, dn, e, n := float(ds.E-us.E), float(ds.N-us.N), float(p.E-us.E), float(p.N-us.N)
			length := new(big.Float).SetPrec(400).Add(mul(de, de), mul(dn, dn))
			length.Sqrt(length)
			a := new(big.Float).SetPrec(400).Add(mul(e, de), mul(n, dn))
			o := new(big.Float).SetPrec(400).Sub(mul(e, dn), mul(n, de))
			along, offset := net.Project(0, p)
			require.Equal(t, round(a.Quo(a, length)), along, "%v %v %v", us, ds, p)
			require.Equal(t, round(o.Quo(o, length)), offset, "%v %v %v", us, ds, p)
			require.Equal(t, round(length), net.Pipes[0].Length)

			along, offset = net.Project(0, us)
			require.True(t, along == 0 && offset == 0)
			along, offset = net.Project(0, ds)
			require.True(t, along == net.Pipes[0].Length && offset == 0)
			require.Equal(t, net.Pipes[0].USInvert, net.Pipes[0].InvertAt(0))
			require.Equal(t, net.Pipes[0].DSInvert, net.Pipes[0].InvertAt(along))
		}
	}
}

func TestProjectOfNoPipe(t *testing.T) {
	net := straight(Place{5, 5}, Place{5, 5})
	along, offset := net.Project(0, Place{5, 5})
	assert.Equal(t, [2]unit.Length{unit.MaxLength, unit.MaxLength}, [2]unit.Length{along, offset})
	assert.Equal(t, 10*metre, net.Pipes[0].InvertAt(metre))
	net = straight(Place{}, Place{metre, 0})
	along, offset = net.Project(0, Place{-unit.MaxLength, 0})
	assert.Equal(t, [2]unit.Length{unit.MaxLength, unit.MaxLength}, [2]unit.Length{along, offset})
}

// A drain at 1 in 100 (common practice, no published source): 10 mm a metre.
func TestInvertAt(t *testing.T) {
	net := straight(Place{}, Place{0, 60 * metre})
	p := &net.Pipes[0]
	p.USInvert, p.DSInvert = 10*metre, 10*metre-60*10*unit.Millimetre
	for m := range unit.Length(61) {
		assert.Equal(t, 10*metre-m*10*unit.Millimetre, p.InvertAt(m*metre))
	}
	assert.Equal(t, "1 in 100", p.Grade().OneIn())
}

func BenchmarkProject(b *testing.B) {
	net := straight(Place{1, 2}, Place{61*metre + 1, 23*metre + 7})
	for i := 0; b.Loop(); i++ {
		net.Project(0, Place{unit.Length(i%60) * metre, unit.Length(i%23) * metre})
	}
}
