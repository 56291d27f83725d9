package table

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// No spelling stands for two roles, and every role can be said.
func TestDictionary(t *testing.T) {
	seen := map[string]string{}
	for role, list := range spellings {
		for _, w := range strings.Fields(list) {
			assert.Empty(t, seen[w], "%q is %s and %s", w, seen[w], role)
			assert.Equal(t, plainWord(strings.ToLower(w)), w, "a spelling is plain")
			seen[w] = role
			assert.Equal(t, role, words[w], "the three wires must not take %q", w)
		}
	}
	for _, role := range declarable {
		if role != Skip {
			assert.Equal(t, role, parseHeading(role).role, "a role's own name is a heading")
		}
	}
	for w := range bareFoot {
		assert.Equal(t, unit.Ft, unitWords[w])
	}
	for w := range otherUnits {
		assert.False(t, unitWords[w].Known(), w)
	}
}

// Headings as the trade writes them. From common practice, no published source.
func TestHeadings(t *testing.T) {
	for text, want := range map[string]string{
		"B.S.": "BS", "Back-sight (m)": "BS m", "BACK SIGHT": "BS", "b.s. [mm]": "BS mm", "BS m": "BS m", "I.S.": "IS", "Int.": "IS", "Inter Sight": "IS",
		"Intermediate Sight (ft)": "IS ft bare", "F.S": "FS", "Fore sight": "FS", "Rise (+)": "rise", "Fall (−)": "fall", "H.P.C.": "collimation",
		"Ht. of Inst.": "collimation", "Height of Instrument": "collimation", "HI (m)": "collimation m", "HC": "collimation", "R.L.": "level", "Reduced Level": "level",
		"RL (AHD)": "level", "RL (m AHD)": "level m", "Elev.": "level", "Height": "level", "Known RL": "known", "Dist (m)": "distance m", "Distance BS": "distanceBS",
		"FS dist": "distanceFS", "Inv.": "inverted", "Remarks": "remark", "Pt. No.": "name", "Peg": "name", "Feature code": "code", "Ch.": "chainage",
		"Chainage m": "chainage m", "O/S": "offset", "Upper BS": "BS upper", "BS (upper)": "BS", "FS bottom hair": "FS lower", "IS mid": "IS",
		"E": "easting", "Eastings": "easting", "X": "x", "Easting (X)": "easting", "X (Easting) (m)": "easting m", "y [Northing]": "northing", "Y-coordinate": "y",
		"Z (ftUS)": "level ftUS", "Level (ft, US)": "level ftUS", "Level (U.S. Survey Feet)": "level ftUS", "Level (furlong)": "level", "Level (yd)": "level odd",
		"Level yards": "level odd", "Date/Time": "time", "Set-up": "setup", "Weather": "", "": "", "(m)": " m", "12.5": "", "Level (m": "level m",
	} {
		h := parseHeading(text)
		got := h.role
		if h.unit.Known() {
			got += " " + h.unit.Name
		}
		if h.bare {
			got += " bare"
		}
		if h.odd != "" {
			got += " odd"
		}
		assert.Equal(t, want, got, "%q", text)
	}
}

// Any cell text: no panic, and a number is never a heading.
func TestNumbersAreNoHeadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[-+ ]?[0-9.,]{1,8}( ?m)?|.{0,6}`).Draw(t, "text")
		h := parseHeading(s)
		if strings.Trim(s, "-+ 0123456789.,") == "" && h.role != "" {
			t.Fatalf("%q is %s", s, h.role)
		}
	})
}

func TestDeclaredColumns(t *testing.T) {
	opt := formats.Options{Unit: unit.M, Columns: []string{"Name", "-", "NORTHING", "easting", "rl", "notes"}}
	d := build(t, opt, "a|?|2|1|3|edge")
	require.Empty(t, d.Problems)
	p := d.Points[0]
	assert.Equal(t, "a 1 2 3 edge", fmt.Sprint(p.ID, " ", p.E, " ", p.N, " ", p.Z, " ", p.Desc))
	assert.Equal(t, unit.M, d.Units.Linear)

	// a heading row is compared, titles above it are noted
	d = build(t, opt, "Job 7", "", "Pt|Q|N (m)|E (m)|Z (m)|Desc", "a||2|1|3|")
	require.Empty(t, d.Problems)
	assert.Len(t, d.Points, 1)
	assert.Equal(t, []string{"3: the columns are read as declared, and this row is taken as their headings", "3: one line above the headings is not read"}, lines(d.Notes))

	// a heading that contradicts is a problem
	d = build(t, opt, "Pt|Q|E (m)|N (m)|Z (m)|Desc", "a||2|1|3|")
	require.Len(t, d.Problems, 2)
	assert.Contains(t, d.Problems[0].String(), "C1: E (m): the heading says easting, and the declared columns say northing")
	assert.Empty(t, d.Points)
	d = build(t, opt, "Pt|Q|N (ft)|E (ft)|Z (ft)|Desc", "a||2|1|3|")
	assert.Contains(t, lines(d.Problems)[0], "the headings say ft, and m is declared")

	// a book without headings
	d = build(t, formats.Options{Unit: unit.MM, Columns: []string{"name", "bs", "is", "fs", "known"}}, "BM1|1342|||50000", "a||1500||", "|||1210|")
	require.Empty(t, d.Problems)
	assert.Equal(t, unit.MM, d.Books[0].Unit)
	assert.Len(t, d.Books[0].Rows, 3)
	assert.Equal(t, 0, d.Books[0].Pos.Row)

	// an RL column declared as known levels is no contradiction
	d = build(t, formats.Options{Unit: unit.M, Columns: []string{"name", "bs", "is", "fs", "known"}}, "Pt|BS|IS|FS|RL", "BM1|1.342|||50")
	require.Empty(t, d.Problems)
	assert.Equal(t, "50", d.Books[0].Rows[0].Known.Value.String())
}

// Rows above the first number of a file without headings are data, all of them.
func TestDeclaredColumnsLoseNoRow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.SampledFrom([]string{"a|||", "", "b|x|y|z", "c|1|2|3", "note"}), 1, 80).Draw(t, "rows")
		d := &formats.Document{}
		b := New(d, formats.Pos{}, formats.Options{Columns: []string{"name", "easting", "northing", "code"}})
		for i, r := range rows {
			if r == "b|x|y|z" {
				r = "b|p|q|z" // x and y would be headings
			}
			require.NoError(t, b.Row(i+1, cells(r)))
		}
		require.NoError(t, b.Close())
		require.Len(t, d.Points, len(rows))
		for i := range d.Points {
			require.Equal(t, i+1, d.Points[i].Row)
		}
	})
}

func TestDecimalCommaIsFoundOut(t *testing.T) {
	for _, c := range []struct {
		heading, row string
		opt          formats.Options
		want         string
	}{
		{"Name|BS (m)|FS (m)", "1.2|1,342|", formats.Options{}, "yes"},
		{"Name|BS (m)|FS (m)", "a|1.342|", formats.Options{}, "no"},
		{"Name|BS (m)|FS (m)", "a|1.342|1,5", formats.Options{}, "no"},
		{"Name|BS (m)|FS (m)", "a|13|", formats.Options{}, "no"},
		{"Name|BS (m)|FS (m)|Remark", "a|13||1,5", formats.Options{}, "no"},
		{"Name|BS (m)|FS (m)", "a|(1,342)|", formats.Options{}, "yes"},
		{"Name|BS (mm)|FS (mm)", "a|1,342|", formats.Options{}, "may have a decimal comma or a comma between thousands"},
		{"Name|BS (mm)|FS (mm)", "a|1342,5|", formats.Options{}, "yes"},
		{"Name|BS|FS", "a|1,342|", formats.Options{Unit: unit.MM}, "may have"},
		{"no|heading", "a|1,342|", formats.Options{}, "no"},
		{"b|2,5|", "a|1,342|", formats.Options{Columns: []string{"name", "BS", "FS"}}, "yes"},
		{"Name|Back|Fore", "a|1,5|", formats.Options{Columns: []string{"name", "BS", "FS"}}, "yes"},
	} {
		yes, why := DecimalComma([][]Cell{cells("title, 1.5"), cells(c.heading), cells(c.row)}, c.opt)
		got := "no"
		if yes {
			got = "yes"
		}
		if why != "" {
			got = why
		}
		assert.Contains(t, got, c.want, c.heading+" / "+c.row)
	}
}
