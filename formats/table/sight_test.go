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

// rowsOf writes the rows of a book, a line each: name and readings.
func rowsOf(b *formats.Book) []string {
	var out []string
	for i := range b.Rows {
		r := &b.Rows[i]
		s, w := r.Point, formats.RowWires{}
		if r.RowWires != nil {
			w = *r.RowWires
		}
		for _, x := range []struct {
			name  string
			r     formats.Reading
			wires formats.Wires
		}{{"BS", r.BS, w.WiresBS}, {"IS", r.IS, w.WiresIS}, {"FS", r.FS, w.WiresFS}} {
			if x.r.Set {
				s += " " + x.name + " " + reading(x.r)
			}
			if x.wires.Upper.Set || x.wires.Lower.Set {
				s += " [" + reading(x.wires.Upper) + " " + reading(x.wires.Lower) + "]"
			}
		}
		if r.Level.Set {
			s += " RL " + reading(r.Level)
		}
		if r.Page > 0 {
			s += fmt.Sprintf(" p%d", r.Page)
		}
		if r.Bad != "" {
			s += " !"
		}
		out = append(out, s)
	}
	return out
}

// One reading a row: what is before the bars are the headings, and the same book
// comes of each. From common practice, no published source.
func TestOneReadingARow(t *testing.T) {
	want := []string{"BM1 BS 1.500", "a IS (0.250)", "TP1 FS 1.200", "TP1 BS 1.100", "BM2 FS 0.900"}
	for _, rows := range [][]string{
		{"Point|Sight|Reading (m)", "BM1|BS|1.500", "a|IS|(0.250)", "TP1|FS|1.200", "TP1|BS|1.100", "BM2|FS|0.900"},
		{"Point|Type|Reading (m)|Distance", "BM1|B.S.|1.500|30", "a|Int.|(0.250)|", "TP1|Fore sight|1.200|", "TP1|back-sight|1.100|", "BM2|F|0.900|"},
		{"Station|Reading (m)|Sight|Distance", "BM1|1.500|backsight|30", "a|(0.250)|SS|", "TP1|1.200|FORESIGHT|", "TP1|1.100|B/S|", "BM2|0.900|f.s.|"},
		{"Sta|BS/IS/FS|Rod reading (m)|Sight dist (m)", "BM1|bs|1.500|", "a|side shot|(0.250)|", "TP1|fs|1.200|", "TP1|bs|1.100|", "BM2|fs|0.900|"},
		{"Peg|Kind|Middle (m)", "BM1|plus sight|1.500", "a|inter|(0.250)", "TP1|minus sight|1.200", "TP1|b|1.100", "BM2|fs|0.900"},
		{"Point|Sight|Staff|Elevation", "|type|reading|", "||(m)|", "BM1|BS|1.500|", "a|IS|(0.250)|", "TP1|FS|1.200|", "TP1|BS|1.100|", "BM2|FS|0.900|"},
	} {
		for _, content := range []formats.Content{formats.AnyContent, formats.LevelContent} {
			d := build(t, formats.Options{Content: content}, rows...)
			require.Empty(t, d.Problems, rows[0])
			require.Len(t, d.Books, 1, rows[0])
			assert.Equal(t, want, rowsOf(&d.Books[0]), rows[0])
			assert.Equal(t, unit.M, d.Books[0].Unit, rows[0])
		}
	}
	// declared, without headings
	d := build(t, formats.Options{Unit: unit.MM, Columns: []string{"name", "type", "reading"}}, "BM1|BS|1500", "x|FS|900")
	require.Empty(t, d.Problems)
	assert.Equal(t, []string{"BM1 BS 1500", "x FS 900"}, rowsOf(&d.Books[0]))
	// declared, and the headings in the file compared
	d = build(t, formats.Options{Unit: unit.M, Columns: []string{"name", "type", "reading"}}, "Pt|What|Reading (m)", "BM1|BS|1.5", "x|FS|0.9")
	require.Empty(t, d.Problems)
	assert.Len(t, d.Books[0].Rows, 2)
}

func TestThreeWiresInOneReadingARow(t *testing.T) {
	d := build(t, formats.Options{}, "Point|Type|Upper (m)|Middle (m)|Lower (m)|Mean (m)", "BM1|BS|1.650|1.500|1.349|1.4997", "a|IS|(1.1)|(1.0)|(0.9)|", "b|FS|1.35|1.2|1.05|1.21")
	require.Empty(t, d.Problems)
	assert.Equal(t, []string{"BM1 BS 1.500 [1.650 1.349]", "a IS (1.0) [(1.1) (0.9)]", "b FS 1.2 [1.35 1.05]"}, rowsOf(&d.Books[0]))
	assert.Equal(t, "1.4997", d.Books[0].Rows[0].WiresBS.Mean.Value.String())
	assert.Equal(t, []string{"F4: FS: the mean is booked as 1.21, and the three wires give 1.200; the wires are used"}, lines(d.Notes))
}

func TestProblemsOfOneReadingARow(t *testing.T) {
	for _, c := range []struct{ row, want string }{
		{"a|XS|1.2|", `B2: type: "XS" is no type of reading; write BS, IS or FS`},
		{"a|1.2|1.2|", `B2: type: "1.2" is no type of reading; write BS, IS or FS`},
		{"a|XS||", `B2: type: "XS" is no type`},
		{"a||1.2|", "B2: type: the row has a reading and does not say which it is; write BS, IS or FS"},
		{"a|-|1.2|", "B2: type: the row has a reading and does not say which it is"},
		{"a||1.2O|", `C2: reading: "1.2O" holds a letter`},
		{"a|BS||", "C2: BS: the row says BS and its reading is missing; write it, or clear the type"},
		{"a|IS|-|", "C2: IS: the row says IS and its reading is missing"},
		{"a|IS|1.2O|", `C2: IS: "1.2O" holds a letter`},
		{"a|IS|N/A|", `C2: IS: "N/A" stands for "no value" in a column of readings`},
		{"date:2026-01-01|IS|1.2|", "A2: name: the cell is a date"},
		{"a|date:2026-01-01|1.2|", "B2: type: the cell is a date"},
	} {
		d := build(t, formats.Options{Content: formats.LevelContent}, "Point|Type|Reading (m)|RL", c.row)
		require.NotEmpty(t, d.Problems, c.row)
		assert.Contains(t, lines(d.Problems)[0], c.want)
		assert.NotEmpty(t, d.Books[0].Rows[0].Bad)
	}
	d := build(t, formats.Options{}, "Point|Type|Reading (m)|RL", "BM1|||50", "", "a|-||", "Sum||12.3|", "Check|FS|1.0|", "Check||1.0|")
	assert.Equal(t, []string{"BM1 RL 50", "", "a", "Check FS 1.0", "Check !"}, rowsOf(&d.Books[0]))
	assert.Equal(t, []string{"B7: type: the row has a reading and does not say which it is; write BS, IS or FS"}, lines(d.Problems))
}

// What the words sight, type and reading mean is told by the other columns, and
// asked for where these do not tell.
func TestReadingInContext(t *testing.T) {
	for _, c := range []struct {
		heading string
		content formats.Content
		want    string // the roles, or a part of the problem
	}{
		{"Point|Sight (m)|BS (m)|FS (m)", "", "book name distance BS FS"},
		{"Point|Sight|BS (m)|FS (m)", "", "book name distance BS FS"},
		{"Point|Sight|Reading (m)", "", "book name type reading"},
		{"Point|Sight|Reading (m)|Distance", "", "book name type reading distance"},
		{"Point|Sight|Type|Reading (m)", "", "book name distance type reading"},
		{"Point|Type|Reading (m)|BS (m)|FS (m)", "", "book name - - BS FS"},
		{"Point|Type|Kind|BS (m)|FS (m)", "", "book name - - BS FS"},
		{"Point|Reading (m)|Upper|Lower|Staff|Page", formats.PointContent, "points name reading - - - -"},
		{"Point|E (m)|N (m)|Level|Type|Kind", "", "points name easting northing level - -"},
		{"Point|E (m)|N (m)|Level|Type|Reading", "", "points name easting northing level - reading"},
		{"Point|E (m)|N (m)|Level|Type|Reading", formats.LevelContent, "book name easting northing level type reading"},
		{"Point|E (m)|N (m)|Type|Reading", "", "book name easting northing type reading"},
		{"Point|E (m)|N (m)|Type|Reading", formats.PointContent, `readings beside the column "Type" make a level book, and points are asked for; use "kind: levels"`},
		{"Point|Type|Reading", formats.PointContent, "readings beside a column that says whether they are BS, IS or FS make a level book"},
		{"Point|Sight (m)|Reading (m)", formats.PointContent, "points name distance reading"},
		{"Point|Sight (m)|Reading (m)", formats.LevelContent, "a level book needs the headings BS and FS, or type and reading"},
		{"Point|Type|Kind|Reading", "", `columns 2 and 3 ("Type" and "Kind") both mean type`},
		{"Point|Type|Reading|Middle", "", `columns 3 and 4 ("Reading" and "Middle") both mean reading`},
		{"Point|Upper BS|Middle BS|Lower BS|FS|Mean", "", "book name BS upper BS BS lower FS -"},
	} {
		d := build(t, formats.Options{Content: c.content}, c.heading)
		if len(d.Problems) > 0 {
			assert.Contains(t, fmt.Sprint(lines(d.Problems)), c.want, c.heading)
			continue
		}
		h := resolve(cells(c.heading), c.content)
		got := []string{"points"}
		if h.book {
			got[0] = "book"
		}
		for _, x := range h.columns {
			role := x.Role
			if role == "" {
				role = "-"
			}
			got = append(got, role)
		}
		assert.Equal(t, c.want, strings.Join(got, " "), c.heading)
	}
	for _, columns := range [][]string{{"name", "BS", "FS", "type"}, {"name", "easting", "northing", "page"}} {
		d := build(t, formats.Options{Columns: columns}, "a|1|2|3")
		require.Len(t, d.Problems, 1)
		assert.Contains(t, d.Problems[0].Text, fmt.Sprintf("%q is declared and has no meaning beside the other columns", columns[3]))
	}
	d := build(t, formats.Options{Columns: []string{"name", "type", "reading", "middle wire"}}, "a|BS|2|3")
	assert.Contains(t, d.Problems[0].Text, `"reading" and "middle wire" are declared and mean the same`)
}

// The same book, by columns and by types, is read the same.
func TestTypesAgainstColumns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		byColumn, byType := []string{"Name|BS (m)|IS (m)|FS (m)"}, []string{"Name|Type|Reading (m)"}
		for i := range rapid.IntRange(1, 30).Draw(t, "n") {
			k := rapid.IntRange(0, 2).Draw(t, "kind")
			v := fmt.Sprintf("%d.%03d", i, rapid.IntRange(0, 999).Draw(t, "mm"))
			if rapid.Bool().Draw(t, "inverted") {
				v = "(" + v + ")"
			}
			byColumn = append(byColumn, fmt.Sprintf("p%d%s%s%s", i, strings.Repeat("|", k+1), v, strings.Repeat("|", 2-k)))
			byType = append(byType, fmt.Sprintf("p%d|%s|%s", i, []string{"BS", "IS", "FS"}[k], v))
		}
		a, b := buildT(t, byColumn...), buildT(t, byType...)
		require.Empty(t, a.Problems)
		require.Empty(t, b.Problems)
		require.Equal(t, rowsOf(&a.Books[0]), rowsOf(&b.Books[0]))
	})
}

func buildT(t *rapid.T, rows ...string) *formats.Document {
	d := &formats.Document{File: "b.xlsx"}
	b := New(d, formats.Pos{File: "b.xlsx", Part: "Day 1"}, formats.Options{})
	for i, r := range rows {
		require.NoError(t, b.Row(i+1, cells(r)))
	}
	require.NoError(t, b.Close())
	return d
}
