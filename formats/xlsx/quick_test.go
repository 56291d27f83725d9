package xlsx

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/table"
	"sightrail/formats/unit"
)

// styled is a hand-made workbook around one sheet XML, with shared texts and styles: of
// styles 0 to 2, number 1 shows decimals and number 2 dates.
func styled(t require.TestingT, sheet string) []byte {
	return with(t, sheet, `<sst><si><t>CL</t></si><si><t>Point</t></si><si><t>Easting</t></si><si><t>Northing</t></si><si><t>Level</t></si><si><t>Code</t></si><si><t>3-Apr</t></si><si><t>12.5</t></si><si><t> a b </t></si><si><t>n/a</t></si><si><t></t></si></sst>`)
}

// with is a hand-made workbook around a sheet and its shared texts.
func with(t require.TestingT, sheet, texts string) []byte {
	return packed(t, [][2]string{
		{"_rels/.rels", `<Relationships><Relationship Id="r" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships><Relationship Id="r1" Type="x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="r2" Type="x/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="r3" Type="x/styles" Target="styles.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns:r="r"><sheets><sheet name="S" sheetId="1" r:id="r1"/></sheets></workbook>`},
		{"xl/sharedStrings.xml", texts},
		{"xl/styles.xml", `<styleSheet><cellXfs><xf numFmtId="0"/><xf numFmtId="2"/><xf numFmtId="14"/></cellXfs></styleSheet>`},
		{"xl/worksheets/sheet1.xml", sheet}})
}

// sameByBoth decodes a workbook with the quick reader and without: documents, points,
// problems, notes and places are the same, and so is what is kept of them in one piece.
func sameByBoth(t require.TestingT, text []byte, opt formats.Options) *formats.Document {
	type result struct {
		doc    *formats.Document
		points []formats.Point
		err    error
	}
	read := func(strict, stream bool) (g result) {
		o := opt
		if stream {
			o.Points = func(_ formats.Pos, p []formats.Point) error {
				g.points = append(g.points, p...)
				return nil
			}
		}
		g.doc, g.err = decode(bytes.NewReader(text), "q.xlsx", o, strict)
		return g
	}
	require.Equal(t, read(true, true), read(false, true))
	kept := read(false, false)
	require.Equal(t, read(true, false), kept)
	return kept.doc
}

const headings = `<row r="1"><c r="A1" t="s"><v>1</v></c><c r="B1" t="s"><v>2</v></c><c r="C1" t="s"><v>3</v></c><c r="D1" t="s"><v>4</v></c><c r="E1" t="s"><v>5</v></c></row>`

// The quick reader makes of every sheet what the XML reader makes, whatever stands in it.
func TestQuickRowsAreTheSame(t *testing.T) {
	num := rapid.OneOf(rapid.StringMatching(`-?[0-9]{1,7}(\.[0-9]{0,4})?`), rapid.SampledFrom([]string{"0", "-0", "007", "1.", ".5", "+1", "-9999", "99999.0", "1E5", "1.3420000000000001", "123456789012345678", "1234567890123456", "", "0.5", "1e999", "x", " 1", "1&#48;", "1&bad;", "NaN", "1<!-- -->2", "<![CDATA[3]]>", "41000.5"}))
	cell := rapid.Custom(func(t *rapid.T) string {
		v := num.Draw(t, "v")
		return rapid.SampledFrom([]string{
			`<c r="@"><v>` + v + `</v></c>`, `<c r="@" s="1"><v>` + v + `</v></c>`, `<c r="@"><v>` + v + `</v></c>`, `<c r="@" s="1"><v>` + v + `</v></c>`, `<c r="@"><v>` + v + `</v></c>`,
			`<c r="@" t="s"><v>` + fmt.Sprint(rapid.IntRange(-1, 12).Draw(t, "text")) + `</v></c>`, `<c r="@" s="0" t="s"><v>0</v></c>`, `<c t="s" r="@"><v>0</v></c>`,
			`<c r="@" t="str"><v>` + v + `</v></c>`, `<c r="@" t="str"><v>a b</v></c>`, `<c r="@" s="2"><v>` + v + `</v></c>`, `<c r="@" t="e"><v>#REF!</v></c>`, `<c r="@" t="b"><v>1</v></c>`, `<c r="@" t="d"><v>2024-01-01</v></c>`, `<c r="@" t="n"><v>` + v + `</v></c>`,
			`<c r="@"/>`, `<c r="@" s="1"/>`, `<c r="@" t="s"/>`, `<c r="@"></c>`, `<c/>`, `<c><v>` + v + `</v></c>`, `<c r="@" ><v>` + v + `</v></c>`, `<c  r="@"><v>5</v></c>`, `<c r='@'><v>5</v></c>`, `<c r="@"><v>1</v> </c>`, `<c r="@"> <v>1</v></c>`,
			`<c r="@"><f>1+1</f><v>` + v + `</v></c>`, `<c r="@"><f>1+1</f></c>`, `<c r="@" t="inlineStr"><is><t>CL</t></is></c>`, `<c r="@" t="inlineStr"><is><t>` + v + `</t></is></c>`, `<c r="@" t="inlineStr"/>`, `<c r="@" t="inlineStr"><v>5</v></c>`, `<c r="@" t="inlineStr"><is><t>a</t><t>b</t></is></c>`, `<c r="@" t="inlineStr"><is><t xml:space="preserve"> a</t></is></c>`, `<c r="@"><is><t>4</t></is></c>`, `<c r="@" t="InlineStr"><is><t>4</t></is></c>`, `<c r="@"><v>1</v><v>2</v></c>`, `<c r="@"><v xml:space="preserve">7</v></c>`,
			`<c r="A1"><v>1</v></c>`, `<c r="$"><v>1</v></c>`, `<c r="XFE9"><v>1</v></c>`, `<c r="AMK9"><v>1</v></c>`, `<c r="ZZZZ9"><v>1</v></c>`, `<c r="" s=""><v>1</v></c>`, `<c r="@" s="99"><v>1</v></c>`, `<c r="@" r="B9"><v>1</v></c>`, `<c x="1" r="@"><v>1</v></c>`, `<x:c r="@"><x:v>1</x:v></x:c>`, `<c r="@" a="b>c"><v>1</v></c>`,
		}).Draw(t, "cell")
	})
	tags := []string{`<row r="#">`, `<row r="#">`, `<row r="#">`, `<row r="#" spans="1:5" x14ac:dyDescent="0.25">`, `<row>`, `<row r="#" hidden="1">`, `<row r="#" hidden="true" ht="2">`, `<row r="#" hidden="0">`, `<row hidden='1' r="#">`, `<row r="1">`, `<row r="x">`, `<row r="#" a=">">`, `<row r="#" a="><c r=">`, `<row r="#" a='><c r='>`, `<row r="#" b="1"b>`, `<row  r="#">`, `<x:row r="#">`, `<row x:r="#">`, `<row r="&#50;">`, `<rows r="#">`}
	between := []string{"", "", "", "", "", "", " ", "\n", "<!-- </row> -->", "<row/>", `<row r="50"/>`, `<c r="B7"><v>1</v></c>`, "<c/>", "<v>5</v>", "</row>", "<row>", "<sheetData>", "text", "<![CDATA[<row>]]>", "<?p?>", "<mergeCell ref='A1:B2'/>", "<"}
	quick := 0
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		b.WriteString(rapid.SampledFrom([]string{"<worksheet><sheetData>", "<worksheet><sheetData>", "<worksheet><sheetData>", "<worksheet>\n<sheetData >", "<worksheet><cols/><sheetData><!-- -->", "<sheetData>", "<t><sheetData>", "<w><x><sheetData>", "\ufeff<worksheet><sheetData>"}).Draw(t, "start"))
		b.WriteString(headings)
		odd := rapid.Bool().Draw(t, "odd")
		at := 1
		for range rapid.IntRange(0, 12).Draw(t, "rows") {
			at += rapid.SampledFrom([]int{1, 1, 1, 1, 1, 2, 0, 5, 20_000}).Draw(t, "step")
			tag := rapid.SampledFrom(tags).Draw(t, "tag")
			cells := rapid.SliceOfN(cell, 0, 7).Draw(t, "cells")
			if !odd || rapid.Bool().Draw(t, "plain") {
				cells = []string{`<c r="@" t="s"><v>0</v></c>`, `<c r="@" s="1"><v>1.5</v></c>`, `<c r="@"><v>2</v></c>`, `<c r="@"><v>` + num.Draw(t, "level") + `</v></c>`, `<c r="@" t="s"><v>0</v></c>`}
				tag = tags[0]
				if odd && rapid.Bool().Draw(t, "one odd cell") {
					cells[rapid.IntRange(0, 4).Draw(t, "which")] = cell.Draw(t, "cell")
				}
			} else {
				b.WriteString(rapid.SampledFrom(between).Draw(t, "between"))
			}
			b.WriteString(strings.ReplaceAll(tag, "#", fmt.Sprint(at)))
			for k, c := range cells {
				b.WriteString(strings.NewReplacer("@", fmt.Sprintf("%c%d", 'A'+k, at), "$", fmt.Sprintf("%c%d", 'B'+k, at)).Replace(c))
			}
			end := "</row>"
			if strings.HasPrefix(tag, "<x:") {
				end = "</x:row>"
			}
			b.WriteString(end)
		}
		b.WriteString(rapid.SampledFrom([]string{"</sheetData></worksheet>", "</sheetData><mergeCells><mergeCell ref=\"A1:B1\"/></mergeCells><pageMargins left=\"0.7\" right=\"0.7\" top=\"0.75\"/></worksheet>", "", "</sheetData>", "</worksheet>"}).Draw(t, "end"))
		opt := formats.Options{Content: rapid.SampledFrom([]formats.Content{formats.AnyContent, formats.PointContent}).Draw(t, "content"), Unit: rapid.SampledFrom([]unit.Unit{{}, unit.M, unit.Ft}).Draw(t, "unit"), Sheet: rapid.SampledFrom([]string{"", "S"}).Draw(t, "sheet")}
		if rapid.Bool().Draw(t, "declared") {
			opt.Columns = []string{"name", "easting", "northing", "level", "code"}[:rapid.IntRange(4, 5).Draw(t, "columns")]
		}
		if d := sameByBoth(t, styled(t, b.String()), opt); len(d.Points) > 0 && len(d.Problems) == 0 {
			quick++
		}
	})
	require.NotZero(t, quick)
}

// A book, and points that go over several windows of the reader, with all that is odd at
// the edges of them; a workbook that is cut or damaged behind its rows.
func TestQuickRowsOverWindows(t *testing.T) {
	var b strings.Builder
	b.WriteString("<worksheet><sheetData>" + headings)
	for i := range 9000 {
		if i%1000 == 999 {
			fmt.Fprintf(&b, `<row r="%d"><c r="A%d" t="inlineStr"><is><t>&amp;%s</t></is></c></row>`, i+2, i+2, strings.Repeat("x", i*37))
			continue
		}
		fmt.Fprintf(&b, `<row r="%d"><c r="A%d"><v>%d</v></c><c r="B%d" s="1"><v>%d.5</v></c><c r="C%d"><v>2.0000000000000004</v></c><c r="D%d"><v>%d</v></c><c r="E%d" t="s"><v>0</v></c></row>`, i+2, i+2, i, i+2, i, i+2, i+2, i%7, i+2)
	}
	b.WriteString("</sheetData></worksheet>")
	sheet := b.String()
	d := sameByBoth(t, styled(t, sheet), formats.Options{})
	require.Len(t, d.Points, 9000)
	assert.Equal(t, []any{"8997", 8999, 4}, []any{d.Points[8997].ID, d.Points[8997].Row, d.Points[8997].Col})
	for _, cut := range []int{1, 20, 60, 300, len(sheet) / 2} {
		sameByBoth(t, styled(t, sheet[:len(sheet)-cut]), formats.Options{})
	}
	text := styled(t, sheet)
	z, err := zip.NewReader(bytes.NewReader(text), int64(len(text)))
	require.NoError(t, err)
	for _, f := range z.File {
		from, err := f.DataOffset()
		require.NoError(t, err)
		if !strings.Contains(f.Name, "sheet1") {
			continue
		}
		for _, at := range []int64{2, 100, int64(f.CompressedSize64) / 2, int64(f.CompressedSize64) - 9, int64(f.CompressedSize64) + 5} {
			bad := bytes.Clone(text)
			bad[from+at] ^= 0x10
			if d := sameByBoth(t, bad, formats.Options{Sheet: "S"}); len(d.Problems) == 0 {
				t.Errorf("the damage at %d is not seen", at)
			}
		}
	}
}

// Shared texts are the same by the quick reader and without, whatever stands in them, and
// go over several windows.
func TestQuickTextsAreTheSame(t *testing.T) {
	item := rapid.SampledFrom([]string{"<si><t>CL</t></si>", "<si><t>P1001</t></si>", "<si><t></t></si>", "<si><t> é\r\n</t></si>", "<si><t>" + strings.Repeat("long ", 60_000) + "</t></si>",
		"<si><t>a&amp;b</t></si>", "<si><t>&bad;</t></si>", "<si><r><t>a</t></r><r><rPr/><t>b</t></r></si>", "<si><t>a</t><rPh><t>x</t></rPh></si>", `<si><t xml:space="preserve"> a </t></si>`, "<si/>", "<si></si>", "<si><t/></si>", "<si><t>a</t><t>b</t></si>",
		"<si><t><![CDATA[</si>]]></t></si>", "<si><t>a<!-- </si> --></t></si>", "<!-- <si><t>no</t></si> -->", "<t>loose</t>", "<rPh><si><t>in</t></si></rPh>", " ", "text", "<x:si><x:t>pre</x:t></x:si>", "<si><si><t>a</t></si></si>", "</si>", "<rPh>"})
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom([]string{"<sst>", "<sst>", `<?xml version="1.0"?>` + "\n<sst count=\"1\">", "<x:sst>", "<t>", "<rPh>", "<a><sst>"}).Draw(t, "start") + "<si><t>first</t></si>"
		odd := rapid.IntRange(0, 3).Draw(t, "odd")
		for range rapid.IntRange(0, 12).Draw(t, "texts") {
			if rapid.IntRange(0, 9).Draw(t, "strange") < odd {
				text += item.Draw(t, "item")
			} else {
				text += "<si><t>P7</t></si>"
			}
		}
		text += rapid.SampledFrom([]string{"</sst>", "</sst>", "</sst>", "</sst>" + strings.Repeat(" ", tail), "", "</x:sst>", "</sst"}).Draw(t, "end")
		in := with(t, "<worksheet/>", text)
		strict, err1 := open(in, true)
		quick, err2 := open(in, false)
		require.Equal(t, err1, err2)
		if err1 == nil {
			require.Equal(t, strict.strings, quick.strings)
		}
	})
	var b strings.Builder
	b.WriteString("<sst>")
	for i := range 40_000 {
		fmt.Fprintf(&b, "<si><t>P%d</t></si>", i)
	}
	b.WriteString("</sst>")
	w, err := open(with(t, "<worksheet/>", b.String()), false)
	require.NoError(t, err)
	require.Len(t, w.strings, 40_000)
	for i, s := range w.strings {
		require.Equal(t, fmt.Sprintf("P%d", i), s)
	}
}

// Cells that stand in for each other, and what only looks like the end of a tag.
func TestQuickRowsThatAreNone(t *testing.T) {
	const rest = `<c r="B2"><v>1</v></c><c r="C2"><v>2</v></c><c r="D2"><v>3</v></c></row>`
	for _, row := range []string{
		`<row r="2"><c r="E2" t="e"><v>#REF!</v></c><c r="E2"><v>1</v></c>` + rest,
		`<row r="2"><c r="A2"><v>1</v></c><c r="B2"><v>1</v></c><c r="C2"><v>2</v></c><c r="D2" t="e"><v>#REF!</v></c><c r="D2"><v>3</v></c></row>`,
		`<row r="2"><c r="A2"><v>1</v></c><c r="D2" t="s"><v>9</v></c><c r="A2"><v>4</v></c>` + rest,
		`<row r="2" a="><c r="A2"><v>1</v></c>` + rest + `<row r="3" b="><c r="A3"><v>1</v></c>` + rest,
		`<row r="2" a="><c/>` + rest + `"><c r="A2"><v>7</v></c>` + rest,
		`<row r="2" a='><c r="A2"><v>1</v></c>` + rest + `<row r="3" b='><c r="A3"><v>1</v></c>` + rest,
		`<row r="2"><c r="A2"><v>1&#48;</v></c>` + rest,
		`<row r="2"><c r="A2" t="str"><v>1&amp;2</v></c>` + rest,
	} {
		sameByBoth(t, styled(t, "<worksheet><sheetData>"+headings+row+`<row r="9"><c r="A9"><v>8</v></c>`+rest+"</sheetData>"+strings.Repeat(" ", tail)+"</worksheet>"), formats.Options{})
	}
}

// A level book has no quick way into its rows; its cells are taken apart quickly.
func TestQuickRowsOfABook(t *testing.T) {
	var b strings.Builder
	b.WriteString(`<worksheet><sheetData><row r="1"><c t="str"><v>Point</v></c><c t="str"><v>BS (m)</v></c><c t="str"><v>IS (m)</v></c><c t="str"><v>FS (m)</v></c></row><row r="2"><c t="str"><v>BM</v></c><c r="B2"><v>1.5</v></c></row>`)
	for i := range 50 {
		fmt.Fprintf(&b, `<row r="%d"><c r="A%d"><v>%d</v></c><c r="C%d"><v>1.%d0000000000001</v></c></row>`, i+3, i+3, i, i+3, i)
	}
	b.WriteString(`<row r="60"><c t="str"><v>BM</v></c><c r="D60"><v>1.5</v></c></row></sheetData></worksheet>`)
	d := sameByBoth(t, styled(t, b.String()), formats.Options{})
	require.Len(t, d.Books, 1)
	require.Len(t, d.Books[0].Rows, 59, "blank rows are rows")
	assert.Equal(t, "1.49", d.Books[0].Rows[50].IS.Value.String())
	assert.Equal(t, 60, d.Books[0].Rows[58].Row)
}

// Rows of the plain kind are taken by the quick reader, to the last but those at the end.
func TestQuickTakesPlainRows(t *testing.T) {
	sheet := "<worksheet><sheetData>" + headings + strings.Repeat(`<row><c r="A2"><v>1</v></c><c r="B2" s="1"><v>1.5</v></c><c r="C2"><v>2</v></c><c r="D2"><v>3</v></c><c r="E2" t="s"><v>0</v></c></row>`, 100) + "</sheetData>" + strings.Repeat(" ", tail) + "</worksheet>"
	w, err := open(styled(t, sheet), false)
	require.NoError(t, err)
	taken, other := 0, 0
	require.NoError(t, w.rows(&w.sheets[0], func(int, []table.Cell, bool) error {
		other++
		return nil
	}, func(n int, f []table.Field) (bool, error) {
		taken++
		if n == 1 {
			return false, nil
		}
		assert.Equal(t, []string{"1", "1.5", "2", "3", "CL"}, []string{string(f[0].Bytes), string(f[1].Bytes), string(f[2].Bytes), string(f[3].Bytes), f[4].Text})
		return true, nil
	}))
	assert.Equal(t, []int{101, 1}, []int{taken, other})
}
