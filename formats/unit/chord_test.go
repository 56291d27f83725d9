package unit

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// Pythagoras: 3, 4 and 5 in every size that fits, to the count.
func TestDistanceOfWholeTriangles(t *testing.T) {
	assert.Equal(t, Length(0), Distance(0, 0))
	for k := Length(1); k < MaxLength/70; k *= 7 {
		assert.Equal(t, 5*k, Distance(3*k, -4*k))
		assert.Equal(t, -k, OverChord(k, -15, 0, 1, 9, 12), "a length taken back along a direction of 15")
	}
}

// The rounding is that of the exact quotient: twice the distance from it is never
// more than one count.
func TestOverChordIsRoundedOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom([]int64{10, 1_000_000, int64(Metre), 1000 * int64(Metre)}).Draw(t, "size")
		l := func(name string) int64 { return rapid.Int64Range(-size, size).Draw(t, name) }
		a, b, c, d, de, dn := l("a"), l("b"), l("c"), l("d"), l("de"), l("dn")
		if de == 0 && dn == 0 {
			return
		}
		got := big.NewInt(int64(OverChord(Length(a), Length(b), Length(c), Length(d), Length(de), Length(dn))))
		mul := func(x, y int64) *big.Int { return new(big.Int).Mul(big.NewInt(x), big.NewInt(y)) }
		top := new(big.Int).Add(mul(a, b), mul(c, d))
		square := new(big.Int).Add(mul(de, de), mul(dn, dn))
		// (2|got| − 1)² ≤ 4 top² / square ≤ (2|got| + 1)²
		four := new(big.Int).Mul(top, top)
		four.Lsh(four, 2)
		twice := new(big.Int).Lsh(new(big.Int).Abs(got), 1)
		low, high := new(big.Int).Sub(twice, big.NewInt(1)), new(big.Int).Add(twice, big.NewInt(1))
		if got.Sign() != 0 {
			if low.Mul(low, low).Mul(low, square).Cmp(four) > 0 {
				t.Fatalf("%v is too large", got)
			}
			if top.Sign() != got.Sign() {
				t.Fatalf("%v has the wrong sign", got)
			}
		}
		if got.IsInt64() && Length(got.Int64()).Abs() == MaxLength {
			return // held there
		}
		if high.Mul(high, high).Mul(high, square).Cmp(four) < 0 {
			t.Fatalf("%v is too small", got)
		}
	})
}
