package table

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// cells makes the cells of a row: fields between bars; "date:" and "bad:" mark
// what a workbook would say of the cell.
func cells(line string) []Cell {
	var out []Cell
	for _, f := range strings.Split(line, "|") {
		c := Cell{Text: f}
		if t, ok := strings.CutPrefix(f, "date:"); ok {
			c = Cell{Text: t, Date: true}
		} else if t, ok := strings.CutPrefix(f, "bad:"); ok {
			c = Cell{Bad: t}
		}
		out = append(out, c)
	}
	return out
}

// build reads rows as one sheet. The cells are overwritten after each row, as
// readers do that reuse them.
func build(t testing.TB, opt formats.Options, rows ...string) *formats.Document {
	d := &formats.Document{File: "b.xlsx"}
	b := New(d, formats.Pos{File: "b.xlsx", Part: "Day 1"}, opt)
	for i, r := range rows {
		c := cells(r)
		require.NoError(t, b.Row(i+1, c))
		for k := range c {
			c[k] = Cell{Text: "overwritten", Bad: "overwritten"}
		}
	}
	require.NoError(t, b.Close())
	return d
}

// lines writes problems or notes, a line each, without the file.
func lines(l []formats.Problem) []string {
	var out []string
	for _, p := range l {
		out = append(out, strings.TrimPrefix(p.String(), "b.xlsx[Day 1]:"))
	}
	return out
}

func TestCellsOfWorkbooks(t *testing.T) {
	const formula = "the cell is a formula without a stored value"
	d := build(t, formats.Options{}, "Name|Easting (m)|Northing (m)|Level (m)|Code|Staffed|Time|Weather",
		"a|1|2|3|PAD|invert|date:2026-02-01|bad:x",
		"date:2026-02-01|1|2|3||||",
		"c|date:1900-01-01|2|3||||",
		"d|1|2|bad:"+formula+"||||",
		"e|1|2|3|date:2026-04-03|||",
		"f|1|2|3||bad:"+formula+"||",
		"bad:"+formula+"|1|2|3||||")
	got := lines(d.Problems)
	for i, want := range []string{"A3: name: the cell is a date (2026-02-01)", "B4: easting: the cell is a date (1900-01-01), and a number is wanted", "D5: level: " + formula,
		"E6: code: the cell is a date (2026-04-03)", "F7: staffed: " + formula, "A8: name: " + formula} {
		assert.Contains(t, got[i], want)
	}
	require.Len(t, d.Points, 7)
	assert.Equal(t, "2026-02-01", d.Points[0].Time)
	assert.Empty(t, d.Points[0].Bad, "a cell that is not read does not spoil its row")
	for _, p := range d.Points[1:] {
		assert.NotEmpty(t, p.Bad)
	}
	assert.Contains(t, strings.Join(lines(d.Notes), "\n"), `1: columns that are not read: "Weather"`)

	d = build(t, formats.Options{}, "Name|BS (m)|IS (m)|FS (m)|Staffed", "bad:"+formula+"|1.5|||", "b||bad:#REF!||", "c|||1.2|bad:"+formula)
	assert.Len(t, d.Problems, 3)
	for _, r := range d.Books[0].Rows {
		assert.NotEmpty(t, r.Bad)
		assert.False(t, r.Blank())
	}
}

// A row with no record in it is a record still: it keeps the account of rows.
func TestBlankRows(t *testing.T) {
	d := build(t, formats.Options{}, "", "Name|E (m)|N (m)|Z", "", "a|1|2|3", "|||", "")
	require.Len(t, d.Points, 4)
	for _, i := range []int{0, 2, 3} {
		assert.Equal(t, formats.Point{Row: i + 3, Col: 1}, d.Points[i])
	}
	d = build(t, formats.Options{}, "Name|BS (m)|FS (m)", "", "a|1|", "||")
	require.Len(t, d.Books[0].Rows, 3)
	assert.True(t, d.Books[0].Rows[0].Blank())
	assert.True(t, d.Books[0].Rows[2].Blank())
}

func TestPlacesOfRecords(t *testing.T) {
	d := build(t, formats.Options{}, "Job 12", "Name|E (m)|N (m)|Z", "a|1|2|3", "b|1|2|", "c|1|2|x")
	assert.Equal(t, [][2]int{{3, 4}, {4, 1}, {5, 4}}, [][2]int{{d.Points[0].Row, d.Points[0].Col}, {d.Points[1].Row, d.Points[1].Col}, {d.Points[2].Row, d.Points[2].Col}})
	d = build(t, formats.Options{}, "Name|BS (m)|FS (m)|RL", "a|1||50")
	b := d.Books[0]
	assert.Equal(t, "Day 1", b.Name)
	assert.Equal(t, "b.xlsx[Day 1]:1", b.Pos.String())
	assert.Equal(t, "b.xlsx[Day 1]:D2", b.Pos.At(b.Rows[0].Row, b.Rows[0].Level.Col).String())
	assert.Equal(t, []formats.Column{{Col: 1, Heading: "Name", Role: Name}, {Col: 2, Heading: "BS (m)", Role: BS, Unit: unit.M}, {Col: 3, Heading: "FS (m)", Role: FS, Unit: unit.M}, {Col: 4, Heading: "RL", Role: Level}}, b.Columns)
	assert.True(t, b.Has(Level))
}

// Points leave in batches; two sheets go into one document.
func TestBatches(t *testing.T) {
	d := &formats.Document{}
	var sizes []int
	var parts []string
	const rows = 2*formats.BatchSize + 7
	n := 0
	opt := formats.Options{Points: func(at formats.Pos, batch []formats.Point) error {
		sizes, parts = append(sizes, len(batch)), append(parts, at.Part)
		for _, p := range batch {
			assert.Equal(t, fmt.Sprint("p", n%rows), p.ID)
			n++
		}
		return nil
	}}
	for _, part := range []string{"one", "two"} {
		b := New(d, formats.Pos{File: "b.xlsx", Part: part}, opt)
		require.NoError(t, b.Row(1, cells("Name|E (m)|N (m)|Z")))
		for i := range rows {
			require.NoError(t, b.Row(i+2, cells(fmt.Sprintf("p%d|1|2|3", i))))
		}
		require.NoError(t, b.Close())
	}
	assert.Equal(t, []int{formats.BatchSize, formats.BatchSize, 7, formats.BatchSize, formats.BatchSize, 7}, sizes)
	assert.Equal(t, []string{"one", "one", "one", "two", "two", "two"}, parts)
	assert.Equal(t, 2*rows, d.PointCount)
	assert.Empty(t, d.Points)
}

func TestErrorOfTheTakerStops(t *testing.T) {
	full := errors.New("disk full")
	b := New(&formats.Document{}, formats.Pos{}, formats.Options{Points: func(formats.Pos, []formats.Point) error { return full }})
	require.NoError(t, b.Row(1, cells("Name|E (m)|N (m)|Z")))
	var err error
	for i := 0; err == nil && i < 5000; i++ {
		err = b.Row(i+2, cells("a|1|2|3"))
	}
	assert.ErrorIs(t, err, full)
}

// Headings in several lines, below titles; a row of data is never taken for one.
func TestHeadingsInLines(t *testing.T) {
	for name, c := range map[string]struct {
		rows   []string
		first  int // row of the first record
		record int
	}{
		"one line":                 {[]string{"Name|BS (m)|FS (m)", "a|1|"}, 2, 1},
		"units below":              {[]string{"Name|BS|FS", "|m|m", "a|1|"}, 3, 1},
		"one unit below":           {[]string{"Name|BS (m)|FS|Dist BS", "|||(m)", "a|1|"}, 3, 1},
		"words below":              {[]string{"Point|Back|Fore|Reduced", "|sight|sight|level", "|(m)|(m)|(m)", "a|1||"}, 4, 1},
		"words above":              {[]string{"|Back|Fore|Reduced", "Point|sight (m)|sight (m)|level", "a|1||"}, 3, 1},
		"title above":              {[]string{"Level book", "", "Site|North", "Name|BS (m)|FS (m)", "a|1|"}, 5, 1},
		"name without reading":     {[]string{"Name|BS (m)|FS (m)", "BM|||", "a|1|"}, 2, 2},
		"name in brackets":         {[]string{"Name|BS (m)|FS (m)", "(BM)||", "a|1|"}, 2, 2},
		"remark alone":             {[]string{"Name|BS (m)|FS (m)|Remark", "|||start", "a|1||"}, 2, 2},
		"word in an unread column": {[]string{"Name|BS (m)|FS (m)|Weather", "|||fine", "a|1||"}, 2, 2},
	} {
		t.Run(name, func(t *testing.T) {
			d := build(t, formats.Options{}, c.rows...)
			require.Empty(t, d.Problems)
			require.Len(t, d.Books, 1)
			assert.Len(t, d.Books[0].Rows, c.record)
			assert.Equal(t, c.first, d.Books[0].Rows[0].Row)
			assert.Equal(t, unit.M, d.Books[0].Unit)
		})
	}
}

// Which content a heading makes.
func TestBookOrPoints(t *testing.T) {
	for _, c := range []struct {
		heading string
		content formats.Content
		want    string
	}{
		{"Point|BS (m)|FS (m)", formats.AnyContent, "book"},
		{"Point|BS (m)|FS (m)|Easting (m)|Northing (m)", formats.AnyContent, "book"},
		{"Point|Easting (m)|Northing (m)|Level", formats.PointContent, "points"},
		{"Easting (m)|Northing (m)", formats.AnyContent, "points"},
		{"Name|Chainage (m)", formats.AnyContent, "points"},
		{"Chainage (m)|Level (m)", formats.AnyContent, "points"},
		{"Name|Level (m)", formats.AnyContent, ""},
		{"Name|Level (m)", formats.PointContent, "points"},
		{"Point|BS (m)|FS (m)", formats.PointContent, ""},
		{"Point|Easting (m)|Northing (m)", formats.LevelContent, ""},
		{"Point|BS (m)|IS (m)", formats.LevelContent, ""},
		{"Latitude|Longitude|Height", formats.AnyContent, ""},
	} {
		opt := formats.Options{Content: c.content}
		d := build(t, opt, c.heading, strings.Repeat("1|", strings.Count(c.heading, "|"))+"1")
		got := ""
		switch {
		case len(d.Books) > 0:
			got = "book"
		case len(d.Points) > 0:
			got = "points"
		}
		assert.Equal(t, c.want, got, c.heading)
		assert.Equal(t, c.want != "", Fits([][]Cell{cells("title"), cells(c.heading)}, opt), c.heading)
		assert.Equal(t, c.want == "", len(d.Problems) > 0, c.heading)
	}
}

// A station is a name, or a chainage where the name stands in another column or
// an offset beside it.
func TestStation(t *testing.T) {
	d := build(t, formats.Options{}, "Station|BS (m)|FS (m)", "S1|1|")
	assert.Equal(t, "S1", d.Books[0].Rows[0].Point)
	d = build(t, formats.Options{}, "Point|Station (m)|BS (m)|FS (m)", "S1|120.5|1|")
	assert.Equal(t, "120.5", d.Books[0].Rows[0].Chainage.Value.String())
	d = build(t, formats.Options{}, "Station (m)|Offset|Level", "120.5|-2|44")
	assert.Equal(t, "120.5 -2", fmt.Sprint(d.Points[0].Chainage, d.Points[0].Offset))
}

func TestUnitsAgainstTheDeclared(t *testing.T) {
	for _, c := range []struct {
		heading string
		opt     unit.Unit
		want    unit.Unit
		problem string
	}{
		{"Name|BS (ft)|FS (ft)", unit.Unit{}, unit.Ft, ""},
		{"Name|BS (ft)|FS (ft)", unit.FtUS, unit.FtUS, ""},
		{"Name|BS (int ft)|FS (int ft)", unit.FtUS, unit.Unit{}, "the headings say ft, and ftUS is declared"},
		{"Name|BS (US ft)|FS (US ft)", unit.Ft, unit.Unit{}, "the headings say ftUS, and ft is declared"},
		{"Name|BS|FS", unit.MM, unit.MM, ""},
		{"Name|BS|FS", unit.Unit{}, unit.Unit{}, ""},
		{"Name|BS (mm)|FS (m)", unit.Unit{}, unit.Unit{}, "this column is in m and another one in mm"},
		{"Name|BS (m)|FS (m)|Chainage (ft)", unit.Unit{}, unit.Unit{}, "chainages are in ft and readings in m"},
		{"Name|BS (m)|FS (m)|Chainage", unit.Unit{}, unit.M, ""},
		{"Name|BS (mm)|FS (mm)|Dist BS (m)", unit.Unit{}, unit.MM, ""},
		{"Name|BS (chains)|FS (m)", unit.Unit{}, unit.Unit{}, `"chains" is not a unit that is read`},
	} {
		d := build(t, formats.Options{Unit: c.opt}, c.heading, "a|1|")
		if c.problem != "" {
			require.NotEmpty(t, d.Problems, c.heading)
			assert.Contains(t, d.Problems[0].Text, c.problem)
			assert.Empty(t, d.Books)
			continue
		}
		require.Empty(t, d.Problems, c.heading)
		assert.Equal(t, c.want, d.Books[0].Unit, c.heading)
	}
}

func TestManyRowsAboveHeadings(t *testing.T) {
	rows := append(slices.Repeat([]string{"note"}, headingWithin-1), "Name|BS (m)|FS (m)", "a|1|")
	d := build(t, formats.Options{}, rows...)
	require.Empty(t, d.Problems)
	assert.Equal(t, []string{"60: 59 lines above the headings are not read"}, lines(d.Notes))
	d = build(t, formats.Options{}, append([]string{"note"}, rows...)...)
	assert.Contains(t, d.Problems[0].Text, "no row of headings was found")
	assert.Len(t, d.Problems, 1)
}

// Faults that the reader of the rows found go with the row they stand in.
func TestFaults(t *testing.T) {
	d := &formats.Document{}
	b := New(d, formats.Pos{File: "t"}, formats.Options{})
	step := func(row int, fault, line string) {
		if fault != "" {
			b.Fault(2, fault)
		}
		require.NoError(t, b.Row(row, cells(line)))
	}
	step(1, "torn title", "Job")
	step(2, "", "Name|E (m)|N (m)|Z")
	step(3, "torn row", "a|1|2|3")
	step(4, "", "b|1|2|3")
	require.NoError(t, b.Close())
	assert.Equal(t, []string{"t:1:2: torn title", "t:3:2: torn row"}, lines(d.Problems))
	assert.Equal(t, []string{"torn row", ""}, []string{d.Points[0].Bad, d.Points[1].Bad})
}
