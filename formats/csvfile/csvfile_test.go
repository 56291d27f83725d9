package csvfile

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

func decodeText(t testing.TB, text string, opt formats.Options) *formats.Document {
	d, err := Decode(strings.NewReader(text), "t.csv", opt)
	require.NoError(t, err)
	return d
}

func TestPoints(t *testing.T) {
	want := []string{"007", "320000.100", "5800000.2", "12.345", "PAD", "edge, left"}
	for name, c := range map[string]struct {
		text string
		opt  formats.Options
	}{
		"plain":          {text: "Point,Easting (m),Northing (m),Level (m),Code,Description\n007,320000.100,5800000.2,12.345,PAD,\"edge, left\"\n"},
		"unquoted last":  {text: "Point,Easting (m),Northing (m),Level (m),Code,Description\n007,320000.100,5800000.2,12.345,PAD,edge, left\n"},
		"crlf, bom":      {text: "\ufeffPoint,E [m],N [m],RL [m],Code,Remarks\r\n007,320000.100,5800000.2,12.345,PAD,\"edge, left\"\r\n\x1a"},
		"lone cr":        {text: "Point,E (m),N (m),Z,Code,Desc\r007,320000.100,5800000.2,12.345,PAD,edge, left\r"},
		"semicolons":     {text: "Point;Easting (m);Northing (m);Level (m);Code;Desc\n007;320000,100;5800000,2;12,345;PAD;edge, left\n"},
		"tabs":           {text: "point\teasting_m\tnorthing_m\tlevel_m\tcode\tdesc\n007\t320000.100\t5800000.2\t12.345\tPAD\tedge, left\n"},
		"title above":    {text: "Job 12,,,,,\n\nPoint,Easting (m),Northing (m),Level (m),Code,Desc\n007,320000.100,5800000.2,12.345,PAD,\"edge, left\"\n"},
		"two-line heads": {text: "Point,Easting,Northing,Reduced,Code,Desc\n,(m),(m),level (m),,\n007,320000.100,5800000.2,12.345,PAD,\"edge, left\"\n"},
		"comments":       {text: "# made on site\nPoint,Easting (m),Northing (m),Level (m),Code,Desc\n# more\n007,320000.100,5800000.2,12.345,PAD,\"edge, left\"\n"},
		"declared":       {text: "007,5800000.2,320000.100,12.345,PAD,edge, left\n", opt: formats.Options{Content: formats.PointContent, Unit: unit.M, Columns: []string{"name", "northing", "easting", "level", "code", "description"}}},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeText(t, c.text, c.opt)
			require.Empty(t, d.Problems)
			require.Len(t, d.Points, 1)
			p := d.Points[0]
			assert.Equal(t, want, []string{p.ID, p.E.String(), p.N.String(), p.Z.String(), p.Code, p.Desc})
			assert.Equal(t, unit.M, d.Units.Linear)
		})
	}
}

func TestEncodings(t *testing.T) {
	text := "Point;Easting (m);Northing (m);Level (m);Desc\n1;1;2;3;Gebäude\n"
	u16 := func(big bool, bom bool) []byte {
		var b []byte
		units := utf16.Encode([]rune(text))
		if bom {
			units = append([]uint16{0xFEFF}, units...)
		}
		for _, u := range units {
			if big {
				b = append(b, byte(u>>8), byte(u))
			} else {
				b = append(b, byte(u), byte(u>>8))
			}
		}
		return b
	}
	for name, b := range map[string][]byte{"utf-8": []byte(text), "utf-16le": u16(false, true), "utf-16be": u16(true, true), "utf-16le bare": u16(false, false), "utf-16be bare": u16(true, false),
		"windows-1252": []byte(strings.Replace(text, "ä", "\xe4", 1))} {
		t.Run(name, func(t *testing.T) {
			d, err := Decode(bytes.NewReader(b), "t.csv", formats.Options{})
			require.NoError(t, err)
			require.Empty(t, d.Problems)
			require.Len(t, d.Points, 1)
			assert.Equal(t, "Gebäude", d.Points[0].Desc)
			if name == "windows-1252" {
				assert.Contains(t, d.Notes[0].Text, "read as Windows-1252")
			}
		})
	}
}

func TestLevelBook(t *testing.T) {
	d := decodeText(t, "Site book\nStation,B.S. (m),I.S. (m),F.S. (m),Rise,Fall,R.L. (m),Dist BS (m),Dist FS (m),Inv,Remarks\n"+
		"BM1,1.342,,,,,50.000,20,,,start\nA,,(2.310),,,,,,,,soffit\n,,,,,,,,,,\nB,,,1.210,0.132,,50.132,,21,,\nSum,1.342,,1.210,,,,,,,\n", formats.Options{})
	require.Empty(t, d.Problems)
	require.Len(t, d.Books, 1)
	b := d.Books[0]
	assert.Equal(t, unit.M, b.Unit)
	assert.True(t, b.HasFlag)
	require.Len(t, b.Rows, 4, "the row of sums is none")
	assert.True(t, b.Rows[1].IS.Bracket)
	assert.True(t, b.Rows[2].Blank())
	assert.Equal(t, "21", b.Rows[3].DistanceFS.Value.String())
	assert.Equal(t, "t.csv:3:7", b.Pos.At(b.Rows[0].Row, b.Rows[0].Level.Col).String())
	assert.Contains(t, fmt.Sprint(d.Notes), "is a row of sums")
}

// Each text has one problem at the place, in these words.
func TestRefused(t *testing.T) {
	head := "Point,Easting (m),Northing (m),Level (m)\n"
	for name, c := range map[string]struct{ text, want string }{
		"letter for digit":  {head + "a,1,2,1.34O\n", "t.csv:2:4: level: \"1.34O\" holds a letter that looks like a digit; it may be 1.340"},
		"comma number":      {head + "a,1,2,\"1,342\"\n", "t.csv:2:4: level: \"1,342\" may be 1.342 (decimal comma) or 1342 (thousands)"},
		"unit behind":       {head + "a,1,2,1.342 m\n", "it may be 1.342: keep the number alone"},
		"no-break space":    {head + "a,1,2,1\u00a0342.5\n", "no-break space"},
		"odd minus":         {head + "a,1,2,\u22121.342\n", "dash that is not a minus sign"},
		"error cell":        {head + "a,1,2,#REF!\n", "is a spreadsheet error"},
		"sentinel":          {head + "a,1,2,-9999\n", "\"-9999\" stands for \"no level\""},
		"half a place":      {head + "a,1,,3\n", "t.csv:2:3: northing: one of easting and northing is missing"},
		"too many fields":   {head + "a,1,2,3,4\n", "t.csv:2:5: row: it has 5 fields and the heading 4"},
		"x and y":           {"Point,X,Y,Level\na,1,2,3\n", "the headings x and y do not say which one is the easting"},
		"no heading":        {"a,1,2,3\nb,1,2,3\n", "no row of headings was found"},
		"two levels":        {"Point,Easting,Northing,Level,RL\na,1,2,3,4\n", "two columns have a heading of this meaning"},
		"units differ":      {"Point,Easting (m),Northing (m),Level (mm)\na,1,2,3\n", "this column is in mm and another one in m"},
		"which foot":        {"Point,Easting (ft),Northing (ft),Level (ft)\na,2000000,2,3\n", "differ by a foot between the two feet"},
		"quote not closed":  {head + "\"a,1,2,3\n", "a quote is opened in this line and never closed"},
		"NUL":               {head + "a,1,2,3\nb,\x00,2,3\n", "NUL byte"},
		"empty":             {"", "there is nothing in it"},
		"hexadecimal":       {head + "a,1,2,0x1p3\n", "\"0x1p3\" is not a number"},
		"infinity":          {head + "a,1,2,inf\n", "\"inf\" is not a number"},
		"bad bytes later":   {head + strings.Repeat("a,1,2,3\n", 10000) + "\xff,1,2,3\n", "not UTF-8"},
		"unflagged inverse": {"Point,BS,IS,FS,Inv\nA,1.0,,,maybe\n", "\"maybe\" is neither yes nor no"},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeText(t, c.text, formats.Options{})
			require.NotEmpty(t, d.Problems)
			assert.Contains(t, d.Problems[0].String(), c.want)
		})
	}
}

func TestDeclaredUnitAgainstHeading(t *testing.T) {
	d := decodeText(t, "Point,Easting (m),Northing (m),Level (m)\na,1,2,3\n", formats.Options{Unit: unit.Ft})
	require.NotEmpty(t, d.Problems)
	assert.Contains(t, d.Problems[0].Text, "the headings say m, and ft is declared")
}

func TestEveryRowIsARecord(t *testing.T) {
	d := decodeText(t, "Point,Easting (m),Northing (m),Level (m)\na,1,2,3\n\nb,x,2,3\nc,1,2,\n", formats.Options{})
	require.Len(t, d.Points, 4)
	assert.Equal(t, "", d.Points[1].ID)
	assert.Contains(t, d.Points[2].Bad, "\"x\" is not a number")
	assert.False(t, d.Points[3].Levelled)
	assert.Equal(t, []int{2, 3, 4, 5}, []int{d.Points[0].Row, d.Points[1].Row, d.Points[2].Row, d.Points[3].Row})
}

func TestQuotedLineBreakAndLongFile(t *testing.T) {
	var b strings.Builder
	b.WriteString("Point,Easting (m),Northing (m),Level (m),Desc\n")
	for i := range 30_000 {
		fmt.Fprintf(&b, "%d,1.5,2.5,3.5,\"two\nlines \"\"%d\"\"\"\n", i, i)
	}
	n := 0
	_, err := Decode(strings.NewReader(b.String()), "t.csv", formats.Options{Points: func(_ formats.Pos, batch []formats.Point) error {
		for i := range batch {
			require.Equal(t, fmt.Sprint(n), batch[i].ID)
			require.Equal(t, fmt.Sprintf("two\nlines \"%d\"", n), batch[i].Desc)
			require.Equal(t, 2+2*n, batch[i].Row)
			n++
		}
		return nil
	}})
	require.NoError(t, err)
	assert.Equal(t, 30_000, n)
}

// Encode and Decode again: nothing changes.
func TestRoundTrip(t *testing.T) {
	text := rapid.StringMatching(`[A-Za-z0-9"',; =+éß-]{0,12}`).Filter(func(s string) bool { return strings.TrimSpace(s) == s })
	dec := rapid.Custom(func(t *rapid.T) unit.Decimal {
		return unit.Decimal{Coef: rapid.Int64Range(-1e12, 1e12).Draw(t, "coef"), Places: uint8(rapid.IntRange(0, 6).Draw(t, "places"))}
	})
	reading := rapid.Custom(func(t *rapid.T) formats.Reading {
		if rapid.Bool().Draw(t, "set") {
			return formats.Reading{Set: true, Value: dec.Draw(t, "v"), Bracket: rapid.Bool().Draw(t, "bracket")}
		}
		return formats.Reading{}
	})
	strip := func(r *formats.Reading) { r.Col = 0 }
	rapid.Check(t, func(t *rapid.T) {
		d := &formats.Document{Units: formats.Units{Linear: unit.M}}
		for i := range rapid.IntRange(1, 20).Draw(t, "n") {
			d.Points = append(d.Points, formats.Point{ID: fmt.Sprintf("p%d", i), E: dec.Draw(t, "e"), N: dec.Draw(t, "n"), Placed: true, Z: dec.Draw(t, "z"), Levelled: true, Code: text.Draw(t, "code"), Desc: text.Draw(t, "desc")})
		}
		for i := range d.Points {
			if z := d.Points[i].Z.String(); z == "-9999" || z == "99999" || z == "-32768" {
				return
			}
		}
		var b bytes.Buffer
		require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
		again, err := Decode(&b, "t.csv", formats.Options{})
		require.NoError(t, err)
		require.Empty(t, again.Problems)
		for i := range again.Points {
			again.Points[i].Row, again.Points[i].Col = 0, 0
		}
		require.Equal(t, d.Points, again.Points)

		bd := &formats.Document{Books: []formats.Book{{Unit: unit.MM}}}
		for i := range rapid.IntRange(1, 20).Draw(t, "rows") {
			bd.Books[0].Rows = append(bd.Books[0].Rows, formats.BookRow{Point: fmt.Sprintf("b%d", i), BS: reading.Draw(t, "bs"), IS: reading.Draw(t, "is"), FS: reading.Draw(t, "fs"), Known: reading.Draw(t, "known"), Remark: text.Draw(t, "remark")})
		}
		b.Reset()
		require.NoError(t, Encode(&b, bd, formats.EncodeOptions{}))
		again, err = Decode(&b, "t.csv", formats.Options{})
		require.NoError(t, err)
		require.Empty(t, again.Problems)
		require.Equal(t, unit.MM, again.Books[0].Unit)
		for i := range again.Books[0].Rows {
			r := &again.Books[0].Rows[i]
			r.Row = 0
			for _, x := range []*formats.Reading{&r.BS, &r.IS, &r.FS, &r.Known} {
				strip(x)
			}
		}
		require.Equal(t, bd.Books[0].Rows, again.Books[0].Rows)
	})
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte("Point,Easting (m),Northing (m),Level (m)\na,1,2,3\n"))
	f.Add([]byte("Point;BS;IS;FS\r\nA;1,5;;\r\nB;;;2,5"))
	f.Add([]byte("\xff\xfeP\x00"))
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := Decode(bytes.NewReader(text), "f.csv", formats.Options{})
		if err == nil && d == nil {
			t.Fatal("neither a document nor an error")
		}
	})
}

func BenchmarkPoints(b *testing.B) {
	var text strings.Builder
	text.WriteString("point,easting_m,northing_m,level_m,code\n")
	for i := range 200_000 {
		fmt.Fprintf(&text, "%d,%d.123,5800%03d.456,45.678,CL\n", i, 320000+i%1000, i%1000)
	}
	in := text.String()
	b.SetBytes(int64(len(in)))
	for b.Loop() {
		_, err := Decode(strings.NewReader(in), "b.csv", formats.Options{Points: func(formats.Pos, []formats.Point) error { return nil }})
		if err != nil {
			b.Fatal(err)
		}
	}
}
