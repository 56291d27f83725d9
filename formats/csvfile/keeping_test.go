package csvfile

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// sights writes the rows of a book in short.
func sights(b *formats.Book) []string {
	var out []string
	for i := range b.Rows {
		s := b.Rows[i].Point
		for _, x := range []formats.Reading{b.Rows[i].BS, b.Rows[i].IS, b.Rows[i].FS} {
			s += "|"
			if x.Set {
				s += x.Value.String()
			}
		}
		out = append(out, s)
	}
	return out
}

// A book with one reading a row, on two pages, is written with the columns BS,
// IS and FS and reads the same.
func TestOneReadingARowOnPages(t *testing.T) {
	const head = "Point;Sight;Reading (m);RL\r\n"
	d := decodeText(t, head+"BM1;BS;1,500;50\r\na;IS;1,25;\r\nTP;FS;1,000;50,5\r\n"+head+"TP;FS;1,000;50,5\r\nTP;BS;1,1;\r\nBM2;FS;0,9;50,7\r\n", formats.Options{Content: formats.LevelContent})
	require.Empty(t, d.Problems)
	want := []string{"BM1|1.500||", "a||1.25|", "TP|||1.000", "TP|1.1||", "BM2|||0.9"}
	assert.Equal(t, want, sights(&d.Books[0]))
	assert.Equal(t, 3, d.Books[0].Rows[0].BS.Col, "the place of the reading")
	var b bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
	again := decodeText(t, b.String(), formats.Options{})
	require.Empty(t, again.Problems)
	assert.Equal(t, want, sights(&again.Books[0]))
	assert.Equal(t, 2, again.Books[0].Rows[4].Page)
}

// Inch marks are quotes of the delimited text: in a field that needs none they
// stand as they are, and in quotes they are doubled.
func TestFeetAndInchesInText(t *testing.T) {
	text := "Sta,BS (+),HI,FS (-),Elev\nBM1,5' 6 3/8\",105.53125,,100.00\nBM2,,,\"4' 2\"\"\",101.365\n"
	d := decodeText(t, text, formats.Options{FeetInches: true})
	require.Empty(t, d.Problems)
	assert.Equal(t, []string{"BM1|66.375||", "BM2|||50"}, sights(&d.Books[0]))
	assert.Equal(t, unit.In, d.Books[0].Unit)
	var b bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
	again := decodeText(t, b.String(), formats.Options{})
	require.Empty(t, again.Problems, b.String())
	assert.Equal(t, sights(&d.Books[0]), sights(&again.Books[0]), "written as decimals of inches")
	d = decodeText(t, text, formats.Options{})
	require.Len(t, d.Problems, 2)
	assert.Equal(t, `t.csv:2:2: BS: "5' 6 3/8\"" looks like feet and inches; write decimal feet, or declare "unit: ft-in" for a level book that is kept so`, d.Problems[0].String())
}

// Another heading further down may have more columns than the one above, whose
// last column is free text: its fields are not joined.
func TestAnotherHeadingIsWider(t *testing.T) {
	d := decodeText(t, "Point,BS (m),FS (m),Remarks\na,1.5,,one, two\nPoint,BS (m),IS (m),FS (m),RL,Remarks\nb,,1.2,,50,\nc,,,1.0,,three, four\n", formats.Options{})
	require.Empty(t, d.Problems)
	require.Len(t, d.Books, 2)
	assert.Equal(t, "one, two", d.Books[0].Rows[0].Remark)
	assert.Equal(t, []string{"b||1.2|", "c|||1.0"}, sights(&d.Books[1]))
	assert.Equal(t, "three, four", d.Books[1].Rows[1].Remark)
	assert.Equal(t, "t.csv:3", d.Books[1].Pos.String(), fmt.Sprint(d.Notes))
}
