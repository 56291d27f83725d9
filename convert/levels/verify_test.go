package levels_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

func differs(res *levels.Result) []string {
	var out []string
	for _, x := range res.BookedDiffers {
		out = append(out, string(rune('0'+x.Index))+" "+x.Field+": "+x.Text)
	}
	return out
}

// Booked columns are compared, to half of the last place booked.
func TestBookedColumns(t *testing.T) {
	half := unit.Millimetre / 2
	for _, x := range []struct {
		name, text string
		unit       unit.Unit
		want       []string
		any        bool
	}{
		{"nothing booked", "BM1 1.500 - - 50.000\nBM2 - - 1.000 50.500", unit.M, nil, false},
		{"all agree", `
			BM1 1.500 - - 50.000 hpc=51.500 rl=50.000
			A - 1.200 - - rise=0.300 rl=50.300 fall=0.000
			C 1.000 - 1.400 - fall=0.200 hpc=51.100 rl=50.100
			BM2 - - 1.100 50.003 fall=0.100 rl=50.000`, unit.M, nil, true},
		{"collimation in every row", `
			BM1 1.500 - - 50.000 hpc=51.500
			A - 1.200 - - hpc=51.500
			C - - 1.400 - hpc=51.500
			C 1.000 - - - hpc=51.100
			BM2 - - 1.100 50.003 hpc=51.100`, unit.M, nil, true},
		{"inside half of the last place", `
			BM1 1.5004 - - 50.000
			A - 1.2000 - - rise=0.300 rl=50.300
			B - - 1.2005 - fall=0.001`, unit.M, nil, true},
		{"the first of each column, and how many more", `
			BM1 1.500 - - 50.000 hpc=51.501
			A - 1.200 - - rise=0.302 rl=50.302
			B - 1.300 - - fall=0.100 rl=50.202
			C - - 1.400 - fall=0.099 rl=50.101`, unit.M, []string{
			"1 rise: booked 0.302, worked out 0.300: 2.0 mm too much",
			"3 fall: booked 0.099, worked out 0.100: 1.0 mm too little",
			"0 collimation: booked 51.501, worked out 51.500: 1.0 mm too high",
			"1 level: booked 50.302, worked out 50.300: 2.0 mm too high; 2 more rows of this column differ"}, true},
		{"rise booked as fall", `
			BM1 1.500 - - 50.000
			A - 1.200 - - fall=0.300 rl=49.700
			B - - 1.400 - fall=0.200 rl=49.500`, unit.M, []string{
			"1 fall: booked 0.300 where the readings give no fall",
			"1 level: booked 49.700, worked out 50.300: 600.0 mm too low; one more row of this column differs"}, true},
		{"the level of a first row from the book is itself", `
			BM1 1.500 - - 50.000 rl=50.000 from=from_the_book
			BM2 - - 1.000 50.504 rl=50.504 from=from_the_book`, unit.M, nil, false},
		{"a closing mark may show its known level when it goes on", `
			BM1 1.500 - - 50.000
			BM2 1.000 - 1.000 50.504 rl=50.504 hpc=51.504
			BM3 - - 1.000 50.504 rl=50.504`, unit.M, nil, false},
		{"but no other", `
			BM1 1.500 - - 50.000
			BM2 1.000 - 1.000 50.504 rl=50.502
			BM3 - - 1.000 50.504`, unit.M, []string{"1 level: booked 50.502, worked out 50.500: 2.0 mm too high"}, true},
		{"nothing to compare with after a mistake", `
			BM1 1.500 - - 50.000 rl=50.000
			A - 1.200 1.300 - rise=0.300 rl=50.300
			B - 1.300 - - fall=0.100 rl=50.200
			C - - 1.400 - fall=0.100 rl=50.100`, unit.M, nil, true},
		{"printed in the unit of the book", `
			BM1 1.524 - - 30.480
			A - - 1.219 - rise=0.610`, unit.Ft, []string{"1 rise: booked 2.001312336, worked out 1.000656168: 305.0 mm too much"}, true},
		{"in metres, so named, where it is not told", `
			BM1 1.524 - - 30.480
			A - - 1.219 - rise=0.610`, unit.Unit{}, []string{"1 rise: booked 0.610 m, worked out 0.305 m: 305.0 mm too much"}, true},
	} {
		t.Run(x.name, func(t *testing.T) {
			res := reduce(t, x.text, levels.Options{BookedWithin: half, Unit: x.unit})
			assert.Equal(t, x.want, differs(res))
			if x.name != "a closing mark may show its known level when it goes on" {
				assert.Equal(t, x.any, res.BookedAny)
			}
		})
	}
}

// One count beyond half of the last place is a difference.
func TestBookedOnTheLimit(t *testing.T) {
	rows := book(t, "BM1 1.500 - - 50.000\nA - - 1.200 - rl=50.3005")
	opt := levels.Options{BookedWithin: unit.Millimetre / 2}
	assert.Empty(t, levels.Reduce(rows, opt).BookedDiffers)
	rows[1].Booked.Level.L++
	assert.Len(t, levels.Reduce(rows, opt).BookedDiffers, 1)
	rows[1].Booked.Level = levels.Of(m(t, "50.2995"))
	assert.Empty(t, levels.Reduce(rows, opt).BookedDiffers)
	rows[1].Booked.Level.L--
	assert.Len(t, levels.Reduce(rows, opt).BookedDiffers, 1)
}
