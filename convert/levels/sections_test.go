package levels_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

func TestSections(t *testing.T) {
	res := reduce(t, `
		BM1 1.500 - - 50.000 db=20
		A - 1.200 - -
		TP1 1.600 - 1.100 - df=30 db=25
		x 1.000 - 1.200 - df=10 db=10
		TP2 1.400 - 1.300 - df=20 db=5
		BM2 - - 2.000 49.900 df=25
		y 1.000 - - -
		TP1 1.000 - 1.500 -
		z - - 1.100 -`, levels.Options{})
	junction := func(name string) bool { return strings.HasPrefix(name, "BM") || strings.HasPrefix(name, "TP") }
	sections, loose := res.Sections(junction)
	type line struct {
		ends   string
		diff   string
		setups int
		length string
	}
	var got []line
	for _, s := range sections {
		length := "-"
		if s.Distance.Set {
			length = s.Distance.L.Exact(unit.M, 0)
		}
		got = append(got, line{s.From + ">" + s.To, s.Diff.Exact(unit.M, 3), s.Setups, length})
	}
	assert.Equal(t, []line{{"BM1>TP1", "0.400", 1, "50"}, {"TP1>TP2", "0.100", 2, "65"}, {"TP2>BM2", "-0.600", 1, "30"}}, got)
	var why []string
	for _, l := range loose {
		why = append(why, l.Why)
	}
	assert.Equal(t, []string{"it begins on y, which is no junction", "it ends on z, which is no junction"}, why)
	_, loose = reduce(t, "\nA 1.5 - - -\nB - - 1 -", levels.Options{}).Sections(junction)
	require.Len(t, loose, 1)
	assert.Equal(t, "no point of it is a junction", loose[0].Why)
}

// The sections of a run add up to it: differences, set-ups and lengths.
func TestSectionsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBook(t, true)
		res := levels.Reduce(b.rows, levels.Options{SideShotsFS: b.side})
		every := rapid.IntRange(1, 3).Draw(t, "every")
		sections, loose := res.Sections(func(name string) bool {
			return strings.HasPrefix(name, "BM") || strings.HasPrefix(name, "C") && len(name)%every == 0
		})
		require.Empty(t, loose)
		for k := range res.Runs {
			run := &res.Runs[k]
			var diff, length unit.Length
			setups := 0
			for _, s := range sections {
				if s.Run == k {
					diff, setups, length = diff+s.Diff, setups+s.Setups, length+s.Distance.L
				}
			}
			require.Equal(t, run.FirstToLast.L, diff)
			require.Equal(t, run.Setups, setups)
			require.Equal(t, run.Distance.L, length)
		}
	})
}
