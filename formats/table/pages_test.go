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

const (
	pageHead  = "Point|BS (m)|IS (m)|FS (m)|RL|Remarks"
	pageOne   = "BM1|1.500|||50.000|"
	pageOneIS = "a||1.250||50.250|"
	pageOneFS = "TP1|||1.000|50.500|"
)

// Ways in which one book goes on over two pages; the sums and the rows that are
// carried over are not read as readings. From common practice, no published
// source.
func TestPages(t *testing.T) {
	for name, c := range map[string]struct {
		between []string // of the two pages
		notes   []string // parts of them
	}{
		"the heading again":        {[]string{pageHead}, []string{"5: the headings are written again here, and begin page 2"}},
		"in other words":           {[]string{"Peg|Backsight|Int|Fore sight|Elev|Comments"}, []string{"begin page 2"}},
		"page number":              {[]string{"Page 2"}, []string{`"page 2" is the number of a page`}},
		"number, blank, heading":   {[]string{"", "Page 2 of 3", "", pageHead}, []string{`"page 2 of 3" is the number`, "begin page 2"}},
		"foot and head":            {[]string{"|||||Page 1", "|||||Sheet No. 2", pageHead}, []string{`"page 1"`, `"sheet no. 2"`}},
		"sums":                     {[]string{"Sum|1.500|1.250|1.000||", pageHead}, []string{`"Sum" is a row of sums`, "begin page 2"}},
		"carried sums":             {[]string{"C/F|1.500||1.000||", pageHead, "B/F|1.500||1.000||"}, []string{`"C/F" is a row of sums`, `"B/F" is a row of sums`}},
		"carried in words":         {[]string{"Carried forward|1.500|1.250|1.000||", "Brought fwd.|1.500|1.250|1.000||"}, []string{`"Carried forward" is a row of sums`, `"Brought fwd." is`}},
		"carried in the remark":    {[]string{"|1.500||1.000||c/f", "|1.500||1.000||b/f"}, []string{`"c/f" is a row of sums`, `"b/f" is`}},
		"carried, no number":       {[]string{"c/f|||||"}, []string{`"c/f" carries the page over`}},
		"carried level":            {[]string{"c/f||||50.500|", pageHead, "b/f||||50.500|"}, []string{`"c/f" carries the level of row 4 over`, `"b/f" carries the level`}},
		"last row again":           {[]string{pageHead, pageOneFS}, []string{"6: the row repeats TP1 of row 4, carried to another page; it is read once"}},
		"last row again, marked":   {[]string{"TP1|||1.000|50.500|c/f", "TP1|||1.000||b/f"}, []string{"5: the row repeats TP1 of row 4", "6: the row repeats TP1 of row 4"}},
		"level of the last row":    {[]string{pageHead, "TP1||||50.500|"}, []string{"the row repeats TP1 of row 4"}},
		"name of the last row":     {[]string{pageHead, "TP1|||||"}, []string{"the row repeats TP1 of row 4"}},
		"lines above the headings": {[]string{"Level book, page 2|||||", "Job|North||||", pageHead}, []string{"the row repeats a line above the headings"}},
	} {
		t.Run(name, func(t *testing.T) {
			rows := append([]string{pageHead, pageOne, pageOneIS, pageOneFS}, c.between...)
			rows = append(rows, "TP1|1.100||||", "BM2|||0.900|50.700|")
			if strings.Contains(name, "above") {
				rows = append([]string{"Level book, page 1|||||", "Job|North||||"}, rows...)
			}
			d := build(t, formats.Options{}, rows...)
			require.Empty(t, d.Problems)
			require.Len(t, d.Books, 1)
			var got []string
			for _, r := range rowsOf(&d.Books[0]) {
				if r != "" && r != " p1" && r != " p2" {
					got = append(got, r)
				}
			}
			assert.Equal(t, []string{"BM1 BS 1.500 RL 50.000 p1", "a IS 1.250 RL 50.250 p1", "TP1 FS 1.000 RL 50.500 p1", "TP1 BS 1.100 p2", "BM2 FS 0.900 RL 50.700 p2"}, got)
			for _, want := range c.notes {
				assert.Contains(t, strings.Join(lines(d.Notes), "\n"), want)
			}
		})
	}
}

// The whole change point again, or its FS again beside the new BS.
func TestCarriedChangePoints(t *testing.T) {
	for name, c := range map[string]struct {
		rows []string
		want string
	}{
		"whole":           {[]string{"TP|1.1||1.0|50.5|", pageHead, "TP|1.1||1.0|50.5|"}, "TP BS 1.1 FS 1.0 RL 50.5 p1"},
		"BS":              {[]string{"TP|1.1||1.0|50.5|", pageHead, "TP|1.10|||50.50|"}, "TP BS 1.1 FS 1.0 RL 50.5 p1"},
		"FS beside BS":    {[]string{"TP|||1.0|50.5|", pageHead, "TP|1.1||1.0|50.5|"}, "TP FS 1.0 RL 50.5 p1, TP BS 1.1 RL 50.5 p2"},
		"other half":      {[]string{"TP|||1.0|50.5|", pageHead, "TP|1.1|||50.5|"}, "TP FS 1.0 RL 50.5 p1, TP BS 1.1 RL 50.5 p2"},
		"another point":   {[]string{"TP|||1.0|50.5|", pageHead, "TQ|||1.0||"}, "TP FS 1.0 RL 50.5 p1, TQ FS 1.0 p2"},
		"not at the head": {[]string{"TP||1.0|||", "TP||1.0|||"}, "TP IS 1.0, TP IS 1.0"},
		"second row":      {[]string{"TP||1.0|||", pageHead, "TQ||1.0|||", "TQ||1.0|||"}, "TP IS 1.0 p1, TQ IS 1.0 p2, TQ IS 1.0 p2"},
		"no name":         {[]string{"TP|1.1||1.0||", "TQ|||0.7||", "c/f|||0.7||", pageHead, "b/f|||0.70||", "TQ|1.2||||"}, "TP BS 1.1 FS 1.0 p1, TQ FS 0.7 p1, TQ BS 1.2 p2"},
		"inverted":        {[]string{"TP||(1.0)|||", pageHead, "TP||(1.00)|||"}, "TP IS (1.0) p1"},
	} {
		d := build(t, formats.Options{}, append([]string{pageHead, pageOne}, c.rows...)...)
		require.Empty(t, d.Problems, name)
		assert.Equal(t, c.want, strings.Join(rowsOf(&d.Books[0])[1:], ", "), name)
	}
}

// What is carried over and is not what it was carried from is a problem of its
// cell; the row stays a record, which is not used.
func TestCarriedWrongly(t *testing.T) {
	for _, c := range []struct{ row, want string }{
		{"TP1|||1.001||", "D6: FS: TP1 is carried over from row 4 with 1.001, and has 1.000 there; correct the one that is wrong"},
		{"TP1|||1.000|50.501|", "E6: level: TP1 is carried over from row 4 with 50.501, and has 50.500 there"},
		{"TP1|||(1.000)||", "D6: FS: TP1 is carried over from row 4 with 1.000, and has 1.000 there"},
		{"TP1|1.1||1.001||", "D6: FS: TP1 is carried over"},
		{"TP1||||50.400|", "E6: level: TP1 is carried over from row 4 with 50.400"},
		{"B/F|1.501||1.000||", `A6: name: "B/F" is carried to another page, and its numbers are neither the sums of the readings above (BS 1.5, IS 1.25, FS 1) nor the readings of the row above`},
		{"B/F|1.5||||", ""},
		{"B/F|1.4||||", `"B/F" is carried to another page, and its numbers are neither`},
		{"B/F||||50.400|", `E6: level: "B/F" carries 50.400 over, and row 4 has 50.500`},
	} {
		d := build(t, formats.Options{}, pageHead, pageOne, pageOneIS, pageOneFS, pageHead, c.row)
		if c.want == "" {
			assert.Empty(t, d.Problems, c.row)
			continue
		}
		require.Len(t, d.Problems, 1, c.row)
		assert.Contains(t, lines(d.Problems)[0], c.want)
		if strings.HasPrefix(c.row, "TP") {
			assert.NotEmpty(t, d.Books[0].Rows[len(d.Books[0].Rows)-1].Bad)
		}
	}
}

// Sums of a page, of the book so far, and of a page with what is repeated at its
// head; those of rises and falls too.
func TestSumsOfPages(t *testing.T) {
	rows := []string{"Point|BS (m)|FS (m)|Rise|Fall|RL|Page", "BM1|1.5|||||1", "TP|||1.0||0.5|", "Sum|1.5|1.0|0.5||"}
	rows[2] = "TP||1.0|0.5||50.5|1"
	rows[3] = "Sum|1.5|1.0|0.5|||1"
	second := []string{"TP|1.1|1.0|0.5||50.5|2", "BM2||2.0||0.9||2"}
	for _, c := range []struct{ sums, note string }{
		{"Sum|1.1|2.0||0.9||2", "is a row of sums; it is not read as a reading"},
		{"Sum|1.1|3.0|0.5|0.9||2", "is a row of sums; it is not read as a reading"},
		{"Sum|2.6|3.0|0.5|0.9||2", "is a row of sums; it is not read as a reading"},
		{"Sum|2.6|3.0|0.5|0.8||", "the sums of rise and fall are not what the rows above add up to (rise 0.5, fall 0.9)"},
		{"Sum|1.2|2.0|0|0.9||", "its numbers are not what the readings above add up to (BS 2.6, FS 3)"},
	} {
		d := build(t, formats.Options{}, append(append(append([]string{}, rows...), second...), c.sums)...)
		require.Empty(t, d.Problems, c.sums)
		assert.Equal(t, []string{"BM1 BS 1.5 p1", "TP FS 1.0 RL 50.5 p1", "TP BS 1.1 RL 50.5 p2", "BM2 FS 2.0 p2"}, rowsOf(&d.Books[0]))
		assert.False(t, d.Books[0].Rows[2].Rise.Set, "the rise belongs to the FS")
		notes := lines(d.Notes)
		assert.Contains(t, strings.Join(notes, "\n"), "FS of TP is that of row 3, carried to another page")
		assert.Contains(t, strings.Join(notes, "\n"), c.note)
		if !strings.Contains(c.note, "not what") {
			assert.NotContains(t, strings.Join(notes, "\n"), "not what", c.sums)
		}
	}
}

func TestColumnOfPages(t *testing.T) {
	head := "Point|BS (m)|FS (m)|Page no"
	for _, c := range []struct {
		pages, want string
		problem     string
	}{
		{"1 1 2 2", "1 1 2 2", ""},
		{"1 - 2 -", "1 1 2 2", ""},
		{"- - 2 -", "1 1 2 2", ""},
		{"- 1 - 2", "1 1 1 2", ""},
		{"7 7 8 8", "7 7 8 8", ""},
		{"p.1 page_2 2/5 3_of_5", "1 2 2 3", ""},
		{"- - - -", "0 0 0 0", ""},
		{"1 x 2 2", "1 1 2 2", `D3: page: "x" is no number of a page; write 1, 2, 3`},
		{"1 0 2 2", "1 1 2 2", `D3: page: pages are numbered from 1`},
		{"1 1.5 2 2", "1 1 2 2", `D3: page: "1.5" is no number of a page`},
	} {
		rows := []string{head}
		for i, p := range strings.Fields(c.pages) {
			rows = append(rows, fmt.Sprintf("p%d|1.%d||%s", i, i, strings.ReplaceAll(p, "_", " ")))
		}
		d := build(t, formats.Options{}, rows...)
		var got []string
		for _, r := range d.Books[0].Rows {
			got = append(got, fmt.Sprint(r.Page))
		}
		assert.Equal(t, c.want, strings.Join(got, " "), c.pages)
		if c.problem == "" {
			assert.Empty(t, d.Problems)
		} else {
			assert.Contains(t, strings.Join(lines(d.Problems), "\n"), c.problem)
		}
	}
	d := build(t, formats.Options{}, head, "a|1||2", "b||1|1")
	assert.Contains(t, strings.Join(lines(d.Notes), "\n"), "D3: page: page 1 comes after page 2")
}

// Headings in several lines, again with and without all of them; other columns
// or units begin a book of their own.
func TestHeadingsAgain(t *testing.T) {
	first := []string{"Point|Back|Fore|Reduced", "|sight|sight|level", "|(m)|(m)|(m)", "a|1.5||50"}
	for name, again := range map[string][]string{"all lines": first[:3], "one line": {"POINT|Back|Fore|Reduced"}, "two lines": first[:2], "in one": {"Point|BS (m)|FS (m)|RL"}} {
		d := build(t, formats.Options{}, append(append(append([]string{}, first...), again...), "b||1.0|")...)
		require.Empty(t, d.Problems, name)
		require.Len(t, d.Books, 1, name)
		assert.Equal(t, []string{"a BS 1.5 RL 50 p1", "b FS 1.0 p2"}, rowsOf(&d.Books[0]), name)
		assert.Contains(t, fmt.Sprint(lines(d.Notes)), "the headings are written again here, and begin page 2", name)
	}
	for name, c := range map[string]struct {
		again, row string
		unit       unit.Unit
	}{
		"other order":   {"Point|FS (m)|BS (m)|RL", "b|1.0||", unit.M},
		"another unit":  {"Point|BS (ft)|FS (ft)|RL", "b||1.0|", unit.Ft},
		"one more":      {"Point|BS (m)|FS (m)|RL|Remarks", "b||1.0||x", unit.M},
		"types":         {"Point|Type|Reading (mm)", "b|FS|1.0", unit.MM},
		"in two lines":  {"Point|BS|IS|FS", "b|||1.0", unit.Unit{}},
		"without level": {"Point|BS (m)|FS (m)", "b||1.0", unit.M},
	} {
		d := build(t, formats.Options{}, append(append([]string{}, first...), "", c.again, c.row)...)
		require.Empty(t, d.Problems, name)
		require.Len(t, d.Books, 2, name)
		assert.Equal(t, []string{"b FS 1.0"}, rowsOf(&d.Books[1]), name)
		assert.Equal(t, c.unit, d.Books[1].Unit, name)
		assert.Equal(t, 6, d.Books[1].Pos.Row)
	}
	// declared columns: the heading must not contradict them
	opt := formats.Options{Unit: unit.M, Columns: []string{"name", "bs", "fs", "known"}}
	d := build(t, opt, "Pt|BS (m)|FS (m)|RL", "a|1.5||50", "Pt|BS (m)|FS (m)|RL", "b||1.0|", "Peg|Back|Fore|Elev", "b|1.1||")
	require.Empty(t, d.Problems)
	assert.Equal(t, []string{"a BS 1.5 p1", "b FS 1.0 p2", "b BS 1.1 p3"}, rowsOf(&d.Books[0]))
	d = build(t, opt, "Pt|BS (m)|FS (m)|RL", "a|1.5||50", "Pt|FS (m)|BS (m)|RL", "b||1.0|")
	assert.Contains(t, fmt.Sprint(lines(d.Problems)), "B3: FS (m): the heading says FS, and the declared columns say BS")
	d = build(t, opt, "Pt|BS (m)|FS (m)|RL", "a|1.5||50", "Pt|BS (mm)|FS (mm)|RL", "b||1.0|")
	assert.Contains(t, fmt.Sprint(lines(d.Problems)), "the heading says mm here and m above")
}

// Several runs with blank rows between them stay one book, on one page.
func TestRunsInOneFile(t *testing.T) {
	d := build(t, formats.Options{}, "Run|Point|BS (m)|FS (m)", "1|BM1|1.5|", "1|BM2||1.0", "|||", "", "2|BM2|1.5|", "2|BM1||2.0")
	require.Empty(t, d.Problems)
	require.Len(t, d.Books, 1)
	assert.Equal(t, []string{"BM1 BS 1.5", "BM2 FS 1.0", "", "", "BM2 BS 1.5", "BM1 FS 2.0"}, rowsOf(&d.Books[0]))
	assert.Equal(t, "2", d.Books[0].Rows[5].Run)
}

// A book cut into pages anywhere, with headings, carried sums and the last row
// again, is the book that it was.
func TestPagesLoseNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		head := "Point|BS (m)|IS (m)|FS (m)|RL"
		plain, paged := []string{head}, []string{head}
		var bs, is, fs int64 // mm
		mm := func(v int64) string { return unit.Decimal{Coef: v, Places: 3}.String() }
		last := ""
		for i := range rapid.IntRange(2, 40).Draw(t, "rows") {
			v := rapid.Int64Range(1, 3999).Draw(t, "reading")
			row, sums := fmt.Sprintf("p%d|", i), "|"+mm(bs)+"|"+mm(is)+"|"+mm(fs)+"|"
			switch rapid.IntRange(0, 2).Draw(t, "sight") {
			case 0:
				row, bs = row+mm(v)+"|||", bs+v
			case 1:
				row, is = row+"|"+mm(v)+"||", is+v
			default:
				row, fs = row+"||"+mm(v)+"|", fs+v
			}
			row += mm(50_000 + v)
			if last != "" && rapid.IntRange(0, 4).Draw(t, "page") == 0 {
				switch rapid.IntRange(0, 3).Draw(t, "how") {
				case 0:
					paged = append(paged, "Page total"+sums, head)
				case 1:
					paged = append(paged, "c/f"+sums, head, "b/f"+sums)
				case 2:
					paged = append(paged, head, last)
				default:
					paged = append(paged, head)
				}
			}
			plain, paged, last = append(plain, row), append(paged, row), row
		}
		a, b := buildT(t, plain...), buildT(t, paged...)
		require.Empty(t, a.Problems)
		require.Empty(t, b.Problems)
		for i := range b.Books[0].Rows {
			b.Books[0].Rows[i].Page = 0
		}
		require.Equal(t, rowsOf(&a.Books[0]), rowsOf(&b.Books[0]))
	})
}
