package surface

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func (a int128) big() *big.Int {
	b := new(big.Int).Lsh(big.NewInt(a.hi), 64)
	return b.Add(b, new(big.Int).SetUint64(a.lo))
}

// whole draws numbers of every size, the ends of the range included.
func whole() *rapid.Generator[int64] {
	return rapid.OneOf(rapid.Int64Range(-math.MaxInt64, math.MaxInt64), rapid.Int64Range(-9, 9), rapid.SampledFrom([]int64{math.MaxInt64, -math.MaxInt64, 1 << 32, 1<<32 - 1}))
}

// The witness is math/big.
func TestCrossIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := [4]int64{}
		for i := range v {
			v[i] = whole().Draw(t, "v")
		}
		product := func(a, b int64) *big.Int { return new(big.Int).Mul(big.NewInt(a), big.NewInt(b)) }
		want := product(v[0], v[3])
		want.Sub(want, product(v[1], v[2]))
		got := cross(v[0], v[1], v[2], v[3])
		require.Equal(t, want.String(), got.big().String())
		require.Equal(t, want.Sign(), got.sign())
		if want.Sign() >= 0 {
			f, _ := new(big.Float).SetInt(want).Float64()
			require.InEpsilon(t, f+1, got.float()+1, 3*u)
		}
	})
}

// A weighted mean of two rises is divided as math/big divides it: floor, and on
// which side of half the rest lies.
func TestDivideIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// d > 0 in 128 bits of every length, and weights of at most d together
		d := int128{rapid.Int64Range(0, math.MaxInt64).Draw(t, "hi") >> rapid.IntRange(0, 63).Draw(t, "shift"), rapid.Uint64().Draw(t, "lo")}
		if d.sign() == 0 {
			d.lo = 1
		}
		part := func(of *big.Int, name string) *big.Int {
			switch rapid.IntRange(0, 3).Draw(t, name) {
			case 0:
				return new(big.Int)
			case 1:
				return new(big.Int).Set(of)
			case 2:
				return new(big.Int).Rsh(of, 1)
			}
			k := new(big.Int).SetUint64(rapid.Uint64().Draw(t, name))
			return k.Mul(k, of).Rsh(k, 64)
		}
		narrow := func(b *big.Int) int128 {
			return int128{int64(new(big.Int).Rsh(b, 64).Uint64()), new(big.Int).And(b, new(big.Int).SetUint64(math.MaxUint64)).Uint64()}
		}
		w1 := part(d.big(), "w1")
		w2 := part(new(big.Int).Sub(d.big(), w1), "w2")
		z1, z2 := whole().Draw(t, "z1"), whole().Draw(t, "z2")
		n := new(big.Int).Mul(w1, big.NewInt(z1))
		n.Add(n, new(big.Int).Mul(w2, big.NewInt(z2)))
		q, half := divide(narrow(w1).scale(z1).add(narrow(w2).scale(z2)), d)
		wantQ, rest := new(big.Int).DivMod(n, d.big(), new(big.Int))
		require.Equal(t, wantQ.String(), big.NewInt(q).String())
		require.Equal(t, new(big.Int).Lsh(rest, 1).Cmp(d.big()), half)
	})
}
