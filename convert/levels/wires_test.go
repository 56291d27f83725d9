package levels_test

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// The mean is that of the three wires, rounded once. A third of a whole count is
// never a half, so there are no ties.
func TestThreeWire(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func() unit.Length { return unit.Length(rapid.Int64Range(-5e12, 5e12).Draw(t, "wire")) }
		u, mid, l := draw(), draw(), draw()
		mean, upper, lower := levels.ThreeWire(u, mid, l)
		off := new(big.Rat).Sub(big.NewRat(int64(u)+int64(mid)+int64(l), 3), big.NewRat(int64(mean), 1))
		require.Equal(t, -1, off.Abs(off).Cmp(big.NewRat(1, 2)))
		require.Equal(t, u-mid, upper)
		require.Equal(t, mid-l, lower)
	})
}

func TestStadiaDistance(t *testing.T) {
	d, err := levels.StadiaDistance(m(t, "1.735"), m(t, "1.435"), 100)
	require.NoError(t, err)
	assert.Equal(t, 30*unit.Metre, d)
	d, err = levels.StadiaDistance(m(t, "-1.735"), m(t, "-1.435"), 100)
	require.NoError(t, err)
	assert.Equal(t, 30*unit.Metre, d, "the wires of an inverted staff")
	for _, constant := range []int64{0, -100} {
		_, err = levels.StadiaDistance(unit.Metre, 0, constant)
		assert.EqualError(t, err, "the stadia constant must be a number above nought, such as 100")
	}
	_, err = levels.StadiaDistance(unit.MaxLength/2, 0, 100)
	assert.ErrorIs(t, err, unit.ErrRange)
}
