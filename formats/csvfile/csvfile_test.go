package csvfile

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
