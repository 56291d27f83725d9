package xlsx

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// build makes a workbook by excelize, whose files are those of a stranger here.
func build(t testing.TB, f func(x *excelize.File)) []byte {
	x := excelize.NewFile()
	f(x)
	var b bytes.Buffer
	require.NoError(t, x.Write(&b))
	return b.Bytes()
}

func set(t testing.TB, x *excelize.File, sheet string, rows ...[]any) {
	for i, r := range rows {
		require.NoError(t, x.SetSheetRow(sheet, fmt.Sprintf("A%d", i+1), &r))
	}
}

func decodeBytes(t testing.TB, b []byte, opt formats.Options) *formats.Document {
	d, err := Decode(bytes.NewReader(b), "b.xlsx", opt)
	require.NoError(t, err)
	return d
}

func TestBookAndPointsOnSheets(t *testing.T) {
	b := build(t, func(x *excelize.File) {
		require.NoError(t, x.SetSheetName("Sheet1", "Day 1"))
		set(t, x, "Day 1", []any{"Site book"}, []any{"Point", "BS (m)", "IS (m)", "FS (m)", "Known (m)"}, []any{"BM1", 1.342, nil, nil, 50.0}, []any{"007", nil, 1.1 * 1.1, nil}, []any{"B", nil, nil, "1.210"})
		_, err := x.NewSheet("Notes")
		require.NoError(t, err)
		set(t, x, "Notes", []any{"weather fine"})
		_, err = x.NewSheet("Old")
		require.NoError(t, err)
		require.NoError(t, x.SetSheetVisible("Old", false))
		set(t, x, "Old", []any{"Point", "BS", "IS", "FS"}, []any{"A", 1, nil, nil})
	})
	d := decodeBytes(t, b, formats.Options{})
	require.Empty(t, d.Problems)
	require.Len(t, d.Books, 1)
	rows := d.Books[0].Rows
	require.Len(t, rows, 3)
	assert.Equal(t, "1.342", rows[0].BS.Value.String())
	assert.Equal(t, "007", rows[1].Point)
	assert.Equal(t, "1.21", rows[1].IS.Value.String(), "1.1 × 1.1 is stored as 1.2100000000000002")
	assert.Equal(t, "b.xlsx[Day 1]:B3", d.Books[0].Pos.At(rows[0].Row, rows[0].BS.Col).String())
	notes := fmt.Sprint(d.Notes)
	assert.Contains(t, notes, "b.xlsx[Notes]: the sheet has no fitting headings")
	assert.Contains(t, notes, "b.xlsx[Old]: the sheet is hidden")
	d = decodeBytes(t, b, formats.Options{Sheet: "nowhere"})
	assert.Contains(t, d.Problems[0].Text, `has no sheet "nowhere"; it has "Day 1", "Notes", "Old"`)
}

func TestCellsThatCannotBeUsed(t *testing.T) {
	b := build(t, func(x *excelize.File) {
		set(t, x, "Sheet1", []any{"Point", "Easting (m)", "Northing (m)", "Level (m)"}, []any{"a", 1, 2, 3}, []any{"b", 1, 2}, []any{time.Date(2024, 2, 1, 0, 0, 0, 0, time.UTC), 1, 2, 3}, []any{"d", 1, 2, 3}, []any{"e", 1, 2, "=1/0"})
		require.NoError(t, x.SetCellFormula("Sheet1", "D3", "D2+1"))
		require.NoError(t, x.MergeCell("Sheet1", "A5", "A6"))
		require.NoError(t, x.SetRowVisible("Sheet1", 5, false))
	})
	d := decodeBytes(t, b, formats.Options{})
	text := fmt.Sprint(d.Problems)
	assert.Contains(t, text, "b.xlsx[Sheet1]:D3: level: the cell is a formula without a stored value")
	assert.Contains(t, text, "b.xlsx[Sheet1]:A4: name: the cell is a date (2024-02-01")
	assert.Contains(t, text, `b.xlsx[Sheet1]:D6: level: "=1/0" is not a number`)
	require.Len(t, d.Points, 5)
	assert.NotEmpty(t, d.Points[1].Bad)
	notes := fmt.Sprint(d.Notes)
	assert.Contains(t, notes, "hidden rows are read as well: 5")
	assert.Contains(t, notes, "merged cells hold their text in the first cell only: A5:A6")
}

// minimal is a hand-made workbook around one sheet XML.
func minimal(t testing.TB, sheet string) []byte {
	return packed(t, [][2]string{
		{"[Content_Types].xml", "<Types/>"},
		{"_rels/.rels", `<Relationships><Relationship Id="r" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships><Relationship Id="r1" Type="x/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns:r="r"><workbookPr date1904="1"/><sheets><sheet name="S" sheetId="1" r:id="r1"/></sheets></workbook>`},
		{"xl/worksheets/sheet1.xml", sheet}})
}

// packed packs the parts of a workbook.
func packed(t require.TestingT, parts [][2]string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range parts {
		w, err := z.Create(f[0])
		require.NoError(t, err)
		_, err = w.Write([]byte(f[1]))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}

const headRow = `<row r="1"><c t="inlineStr"><is><t>Point</t></is></c><c t="inlineStr"><is><t>Easting (m)</t></is></c><c t="inlineStr"><is><r><t>North</t></r><r><t>ing (m)</t></r></is></c><c t="inlineStr"><is><t>Level (m)</t></is></c></row>`

func TestHandMadeSheets(t *testing.T) {
	d := decodeBytes(t, minimal(t, "<worksheet><sheetData>"+headRow+`<row r="3"><c r="A3" t="str"><v>a</v></c><c r="C3"><v>2.5</v></c><c r="B3"><v>1.05E1</v></c><c r="D3"><f>1+1</f><v>1.3420000000000001</v></c></row>`+
		`<row><c t="str"><v>b</v></c><c><v>1</v></c><c><v>2</v></c><c t="e"><v>#REF!</v></c></row></sheetData></worksheet>`), formats.Options{})
	require.Len(t, d.Points, 3, "the blank row 2 is a record too")
	p := d.Points[1]
	assert.Equal(t, []string{"a", "10.5", "2.5", "1.342"}, []string{p.ID, p.E.String(), p.N.String(), p.Z.String()})
	require.Len(t, d.Problems, 1)
	assert.Equal(t, `b.xlsx[S]:D4: level: "#REF!" is a spreadsheet error; mend the formula in the workbook`, d.Problems[0].String())
	assert.Contains(t, fmt.Sprint(d.Notes), "1 cells are formulas")
}

func TestRefusedWorkbooks(t *testing.T) {
	whole := build(t, func(x *excelize.File) { set(t, x, "Sheet1", []any{"Point", "BS", "IS", "FS"}) })
	for name, c := range map[string]struct {
		text []byte
		want string
	}{
		"cut off":       {whole[:len(whole)/2], "cannot be unpacked"},
		"tags":          {minimal(t, "<worksheet><sheetData></worksheet>"), "tags that do not match"},
		"ends early":    {minimal(t, "<worksheet><sheetData>"), "ends too early"},
		"document type": {minimal(t, `<!DOCTYPE x [<!ENTITY a "b">]><worksheet/>`), "declares a document type"},
		"bomb":          {minimal(t, "<worksheet><sheetData>"+strings.Repeat(" ", 8<<20)+"</sheetData></worksheet>"), "unpacks to more than 200 times its size"},
		"nothing fits":  {minimal(t, "<worksheet><sheetData><row><c><v>1</v></c></row></sheetData></worksheet>"), "no sheet has fitting headings"},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeBytes(t, c.text, formats.Options{})
			require.NotEmpty(t, d.Problems)
			assert.Contains(t, d.Problems[0].String(), c.want)
		})
	}
}

func TestDateFormats(t *testing.T) {
	for code, want := range map[string]bool{"dd/mm/yyyy": true, "0.000": false, `0.000" days"`: false, "[Red]0.00": false, "hh:mm": true, `0\d`: false, "#,##0": false} {
		assert.Equal(t, want, dateFormat("164", code), code)
	}
	assert.True(t, dateFormat("14", ""))
	assert.False(t, dateFormat("2", ""))
}

func TestRoundTripAndSameBytes(t *testing.T) {
	dec := func(s string) unit.Decimal { d, _, _ := unit.ParseDecimal(s); return d }
	read := func(s string) formats.Reading { return formats.Reading{Set: true, Value: dec(s)} }
	d := &formats.Document{Units: formats.Units{Linear: unit.M},
		Books:  []formats.Book{{Name: "Day 1", Unit: unit.M, Rows: []formats.BookRow{{Point: "007", BS: read("1.340"), Known: read("50")}, {Point: "=A1", FS: read("1.2"), Remark: "+x"}}}},
		Points: []formats.Point{{ID: "1E5", E: dec("320000.123"), N: dec("5800000.1230"), Z: dec("-0.5"), Placed: true, Levelled: true, Code: "3-4"}}}
	var b, c bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
	require.NoError(t, Encode(&c, d, formats.EncodeOptions{}))
	assert.Equal(t, b.Bytes(), c.Bytes())
	again := decodeBytes(t, b.Bytes(), formats.Options{})
	require.Empty(t, again.Problems)
	rows := again.Books[0].Rows
	assert.Equal(t, []string{"007", "1.340", "50", "=A1", "1.2", "+x"}, []string{rows[0].Point, rows[0].BS.Value.String(), rows[0].Known.Value.String(), rows[1].Point, rows[1].FS.Value.String(), rows[1].Remark})
	p := again.Points[0]
	assert.Equal(t, []string{"1E5", "320000.123", "5800000.1230", "-0.5", "3-4"}, []string{p.ID, p.E.String(), p.N.String(), p.Z.String(), p.Code})
	// a text that looks like a formula is no formula in the file
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	require.NoError(t, err)
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		var text bytes.Buffer
		_, err = text.ReadFrom(r)
		require.NoError(t, err)
		assert.NotContains(t, text.String(), "<f>")
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(minimal(f, "<worksheet><sheetData>"+headRow+"</sheetData></worksheet>"))
	f.Fuzz(func(t *testing.T, text []byte) {
		if d, err := Decode(bytes.NewReader(text), "f.xlsx", formats.Options{}); err == nil && d == nil {
			t.Fatal("neither a document nor an error")
		}
	})
}

// FuzzSheet fuzzes the sheet XML inside a sound workbook.
func FuzzSheet(f *testing.F) {
	f.Add("<worksheet><sheetData>" + headRow + `<row r="2"><c r="A2" t="s"><v>0</v></c></row></sheetData></worksheet>`)
	f.Add("<worksheet><sheetData>" + headRow + `<row r="2"><c r="A2" t="s"><v>0</v></c><c r="B2" s="1"><v>1.5</v></c><c r="C2" s="2"><v>2</v></c><c r="D2"><v>0.30000000000000004</v></c></row>` +
		`<row r="4" hidden="1"><c t="str"><v>b</v></c><c/><c r="D4"><v>3</v></c></row></sheetData></worksheet>` + strings.Repeat(" ", tail))
	f.Fuzz(func(t *testing.T, sheet string) {
		if d, err := Decode(bytes.NewReader(minimal(t, sheet)), "f.xlsx", formats.Options{}); err == nil && d == nil {
			t.Fatal("neither a document nor an error")
		}
		sameByBoth(t, styled(t, sheet), formats.Options{})
	})
}

func BenchmarkRows(b *testing.B) {
	var s strings.Builder
	s.WriteString("<worksheet><sheetData>" + headRow)
	for i := range 100_000 {
		fmt.Fprintf(&s, `<row r="%d"><c r="A%d" t="str"><v>%d</v></c><c r="B%d"><v>320000.5</v></c><c r="C%d"><v>5800000.25</v></c><c r="D%d"><v>45.125</v></c></row>`, i+2, i+2, i, i+2, i+2, i+2)
	}
	s.WriteString("</sheetData></worksheet>")
	in := minimal(b, s.String())
	for b.Loop() {
		if _, err := Decode(bytes.NewReader(in), "b.xlsx", formats.Options{Points: func(formats.Pos, []formats.Point) error { return nil }}); err != nil {
			b.Fatal(err)
		}
	}
}
