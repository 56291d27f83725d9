package table

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Ways to write feet and inches. From common practice, no published source; the
// sums are arithmetic.
func TestFeetInches(t *testing.T) {
	for text, want := range map[string]string{
		`5' 6 3/8"`: "66.375", `5'-6 3/8"`: "66.375", `5'6"`: "66", `5' 6`: "66", `5 ft 6 in`: "66", `5 ft. 6 3/8 in.`: "66.375", `5ft 6ins`: "66", `5 feet 6 inches`: "66",
		`5' 6.375"`: "66.375", `6 3/8"`: "6.375", `6-3/8"`: "6.375", `0' 4 1/2"`: "4.5", `3/8"`: "0.375", `1/64"`: "0.015625", `5' 0 63/64"`: "60.984375", `5' 3/8"`: "60.375",
		`5'`: "60", `5.5'`: "66.0", `5.25 ft`: "63.00", `5-6-3/8`: "66.375", `5-6 3/8`: "66.375", `5-6`: "66", `66"`: "66", `-5' 6"`: "-66", `- 5' 6"`: "-66",
		`5′ 6⅜″`: "66.375", `5’ 6½”`: "66.5", `5'' `: "5", `5' 6''`: "66", `5' 11 63/64"`: "71.984375", `5' 6 2/4"`: "66.5", `0' 0"`: "0", `99999' 0"`: "1199988", `5 FT 6 IN`: "66",
	} {
		v, ok, why := feetInches(text, false)
		assert.True(t, ok, text)
		assert.Empty(t, why, text)
		assert.Equal(t, want, v.String(), text)
	}
	for text, want := range map[string]string{
		`5' 12"`: "12 inches make a foot or more", `5' 12.0"`: "make a foot or more", `5' 6 8/8"`: `"8/8" is no part of an inch`, `5' 6 3/7"`: "no part of an inch; halves, quarters",
		`5' 6 3/128"`: "no part of an inch", `5' 6 0/8"`: "no part of an inch", `5' 6.5 3/8"`: "decimals and a fraction of an inch stand together", `5.5' 6"`: `"5.5" is no whole number of feet`,
		`5' x"`: "is no number of inches", `x' 5"`: "is no whole number of feet", `x'`: "is no number of feet", `"`: "is no number of inches", `5' -6 x"`: "is no number of inches",
		`100000' 0"`: "is no whole number of feet", `5' 6/"`: "is no part of an inch", `5' 1.0000000000000001"`: "is no number of inches", `5' 1.0000000000001"`: "too many decimals",
		`999999999999999999'`: "too many digits", `--5'`: "is no number of feet", `99999999999 3/8"`: "is no number of inches", `5' 6' 3"`: "is no number of inches",
	} {
		v, ok, why := feetInches(text, false)
		assert.False(t, ok, text)
		assert.Contains(t, why, want, text)
		assert.Equal(t, unit.Decimal{}, v, text)
	}
	for _, text := range []string{"5.5", "6 3/8", "5 6", "5 6 3/8", "", "-5", "1E3", "a", "a-b", "MH-1", "-5-6x", "3/8"} {
		_, ok, why := feetInches(text, false)
		if text == "-5-6x" {
			assert.NotEmpty(t, why)
			continue
		}
		assert.False(t, ok, text)
		assert.Empty(t, why, "%q does not say feet or inches", text)
	}
	v, ok, _ := feetInches(`5' 6,375"`, true)
	assert.True(t, ok)
	assert.Equal(t, "66.375", v.String())
}

// Every feet, inches and fraction is exact, by math/big, also as a length.
func TestFeetInchesAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		feet, inch := rapid.Int64Range(0, 9999).Draw(t, "feet"), rapid.Int64Range(0, 11).Draw(t, "inches")
		d := rapid.SampledFrom([]int64{2, 4, 8, 16, 32, 64}).Draw(t, "part")
		n := rapid.Int64Range(1, d-1).Draw(t, "of it")
		form := rapid.SampledFrom([]string{`%d' %d %d/%d"`, `%d'-%d-%d/%d"`, `%d ft %d %d/%d in`, `%d-%d-%d/%d`, `%d' %d %d/%d`}).Draw(t, "form")
		text := fmt.Sprintf(form, feet, inch, n, d)
		v, ok, why := feetInches(text, false)
		require.True(t, ok, "%s: %s", text, why)
		want := new(big.Rat).Add(big.NewRat(feet*12+inch, 1), big.NewRat(n, d))
		got, _ := new(big.Rat).SetString(v.String())
		require.Zero(t, want.Cmp(got), "%s is %s", text, v)
		l, err := v.Length(unit.In)
		require.NoError(t, err)
		counts := new(big.Rat).Mul(want, new(big.Rat).SetInt64(int64(unit.Inch)))
		require.True(t, counts.IsInt())
		require.Equal(t, counts.Num().Int64(), int64(l))
	})
}

func TestBookInFeetAndInches(t *testing.T) {
	opt := formats.Options{Content: formats.LevelContent, FeetInches: true}
	for _, head := range []string{"Sta|BS (+)|IS|HI|FS (-)|Elev|Dist BS|Rise", "Sta|BS (ft-in)|IS (ft in)|HI (ft)|FS (feet & inches)|Elev (ft)|Dist BS (ft)|Rise"} {
		d := build(t, opt, head, `BM1|5' 6 3/8"||105.53125||100.00|150.5|`, `a||(0' 4 1/2")||| 99' 3"||`, `b||-1' 2"||||||`, `BM2||||4-2|101.365|120|1' 4 3/8"`, `Sum|5' 6 3/8"|||4' 2"||||`)
		require.Empty(t, d.Problems, head)
		b := d.Books[0]
		assert.True(t, b.FeetInches)
		assert.Equal(t, []string{"in", "ft"}, []string{b.Unit.Name, b.DistIn.Name})
		assert.Equal(t, []string{"BM1 BS 66.375 RL 1200.00", "a IS (4.5) RL 1191", "b IS -14", "BM2 FS 50 RL 1216.380"}, rowsOf(&b))
		assert.Equal(t, "1266.37500", b.Rows[0].Collimation.Value.String())
		assert.Equal(t, "150.5", b.Rows[0].DistanceBS.Value.String(), "distances stay in feet")
		assert.Equal(t, "16.375", b.Rows[3].Rise.Value.String())
	}
	d := build(t, opt, "Point|Type|Reading|Chainage", `BM1|BS|5' 6"|120.5`, `x|FS|4' 2"|`)
	require.Empty(t, d.Problems)
	assert.Equal(t, []string{"BM1 BS 66", "x FS 50"}, rowsOf(&d.Books[0]))
	assert.Equal(t, "1446.0", d.Books[0].Rows[0].Chainage.Value.String())

	for _, c := range []struct{ row, want string }{
		{`a|5.5||`, `B2: BS: "5.5" does not say what is feet and what is inches; write it like 5' 6 3/8", 5 ft 6 in or 5-6-3/8`},
		{`a|5||`, `B2: BS: "5" does not say`},
		{`a|5' 13"||`, `B2: BS: "5' 13\"": 13 inches make a foot or more`},
		{"a|\u22125' 6\"||", `is no whole number of feet`},
		{`a|N/A||`, `B2: BS: "N/A" stands for "no value"`},
		{`a|5' 6"||1O0.0`, `D2: level: "1O0.0" holds a letter`},
		{`a|5' 6"||999999999999999999`, `D2: level: "999999999999999999" has too many digits to be turned into inches exactly`},
	} {
		d := build(t, opt, "Point|BS|FS|RL", c.row)
		require.Len(t, d.Problems, 1, c.row)
		assert.Contains(t, lines(d.Problems)[0], c.want)
		assert.NotEmpty(t, d.Books[0].Rows[0].Bad)
	}
	d = build(t, opt, "Point|BS|FS|RL", `a|5' 6"||-9999`, `b|5' 6"||8333.25`)
	assert.Equal(t, []string{"a BS 66", "b BS 66 RL 99999.00"}, rowsOf(&d.Books[0]), "only what is written stands for no value")
}

// Feet and inches are read only where they are declared, and the headings must
// not contradict.
func TestFeetInchesDeclared(t *testing.T) {
	feet := formats.Options{FeetInches: true}
	both := formats.Options{FeetInches: true, Unit: unit.M}
	for _, c := range []struct {
		opt        formats.Options
		head, want string
	}{
		{formats.Options{}, "Point|BS (ft-in)|FS (ft-in)", `B1: BS (ft-in): feet and inches are read in a level book where they are declared: "unit: ft-in" for the file`},
		{formats.Options{}, "Point|BS (ft in)|FS (ft in)", "feet and inches are read in a level book where they are declared"},
		{formats.Options{}, "Point|BS feet-inches|FS", "feet and inches are read in a level book where they are declared"},
		{feet, "Point|BS (m)|FS (m)", "B1: BS (m): the heading says m, and feet and inches are declared for the file"},
		{feet, "Point|BS (ft US)|FS", "B1: BS (ft US): feet and inches are those of the international foot, and this column is in US survey feet"},
		{feet, "Point|BS|FS|RL (m)", "D1: RL (m): the heading says m"},
		{feet, "Point|BS (rods)|FS", `"rods" is not a unit that is read`},
		{feet, "Point|E|N|Level", "feet and inches are read in level books only"},
		{both, "Point|BS|FS", "feet and inches are declared for the file, and m as well"},
	} {
		d := build(t, c.opt, c.head, `a|5' 6"||`)
		require.NotEmpty(t, d.Problems, c.head)
		assert.Contains(t, lines(d.Problems)[0], c.want)
		assert.Empty(t, d.Books)
		assert.Empty(t, d.Points)
	}
	for _, cell := range []string{`5' 6"`, "5'", `6 3/8"`, "5 ft 6 in", "5-6-3/8", "5-6"} {
		d := build(t, formats.Options{}, "Point|BS (ft)|FS (ft)", "a|"+cell+"|")
		require.Len(t, d.Problems, 1, cell)
		assert.Contains(t, d.Problems[0].Text, "feet and inches; write decimal feet, or declare \"unit: ft-in\" for a level book that is kept so", cell)
	}
	assert.NotContains(t, dirty("M-1", false), "feet")
}

// Any text: no panic, and what is read as feet and inches has a mark of them.
func FuzzFeetInches(f *testing.F) {
	for _, s := range []string{`5' 6 3/8"`, "5-6-3/8", "5 ft 6 in", `-1/2"`, "5'6'7", "½\"", "'\"", "5 ft-in"} {
		f.Add(s, false)
	}
	f.Fuzz(func(t *testing.T, s string, comma bool) {
		v, ok, why := feetInches(s, comma)
		if ok && (why != "" || !strings.ContainsAny(strings.ToLower(s), "'\"′″’‘”“-fi")) {
			t.Fatalf("%q is %s, %q", s, v, why)
		}
		if !ok && v != (unit.Decimal{}) {
			t.Fatalf("%q is refused as %s", s, v)
		}
	})
}
