package convert

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

func at(e, n int64) Place {
	return Place{unit.Length(e) * unit.Millimetre, unit.Length(n) * unit.Millimetre}
}

// Coordinates of any size print back as they were written, in every unit.
func TestFramePrintsWhatWasRead(t *testing.T) {
	g := rand.New(rand.NewPCG(1, 2))
	for _, u := range []unit.Unit{unit.M, unit.Ft, unit.FtUS} {
		f := Frame{Unit: u, E0: 2_000_000, N0: -4_000_000}
		for range 5000 {
			e := unit.Decimal{Coef: 2_000_000_000 + g.Int64N(2e7) - 1e7, Places: 3}
			n := unit.Decimal{Coef: -4_000_000_000 + g.Int64N(2e7) - 1e7, Places: 3}
			p, err := f.Place(e, n, u)
			require.NoError(t, err)
			require.Equal(t, e.String(), f.Easting(p, 3))
			require.Equal(t, n.String(), f.Northing(p, 3))
		}
		for _, s := range []string{"0.000", "-0.001", "0.001", "1.000", "-1.000", "999.999", "-999.999", "1000.000"} {
			d, _, err := unit.ParseDecimal(s)
			require.NoError(t, err)
			near := Frame{Unit: u}
			p, err := near.Place(d, d, u)
			require.NoError(t, err)
			assert.Equal(t, s, near.Easting(p, 3))
			far := Frame{Unit: u, E0: 1000, N0: -1000}
			p, err = far.Place(d, d, u)
			require.NoError(t, err)
			assert.Equal(t, s, far.Easting(p, 3))
			assert.Equal(t, s, far.Northing(p, 3))
		}
	}
	f := Frame{Unit: unit.M}
	_, err := f.Place(unit.Decimal{Coef: 5_800_000}, unit.Decimal{}, unit.M)
	assert.ErrorIs(t, err, unit.ErrRange, "without an origin a full northing is too large, and says so")
}

func TestDistanceAndProjection(t *testing.T) {
	n := Network{Pits: []Pit{{Place: at(0, 0)}, {Place: at(30_000, 40_000)}}, Pipes: []Pipe{{US: 0, DS: 1, Length: distance(at(0, 0), at(30_000, 40_000))}}}
	assert.Equal(t, 50*unit.Metre, n.Pipes[0].Length, "3-4-5")
	along, offset := n.Project(0, at(30_000, 40_000))
	assert.Equal(t, 50*unit.Metre, along)
	assert.Zero(t, offset)
	along, offset = n.Project(0, at(16_000, 7_000)) // 25 m along, 20-15 across
	assert.InDelta(t, 15.2, along.Metres(), 1e-9)
	assert.InDelta(t, 8.6, offset.Metres(), 1e-9, "to the right looking downstream")
	along, _ = n.Project(0, at(-3000, -4000))
	assert.InDelta(t, -5, along.Metres(), 1e-9)
}
