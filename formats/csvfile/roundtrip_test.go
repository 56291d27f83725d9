package csvfile

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// texts are what people write in names, codes and remarks, with everything that
// delimited text has to protect. Blanks at the ends are no part of a text.
var texts = rapid.Custom(func(t *rapid.T) string {
	s := rapid.StringMatching(`[A-Za-z0-9"'#,;|=+@éß\n-]{0,3}([A-Za-z0-9"',;= +éß\n\t-]{0,10}[A-Za-z0-9"',=+é-])?`).Draw(t, "text")
	return strings.Trim(s, " \t\n")
})

var decimals = rapid.Custom(func(t *rapid.T) unit.Decimal {
	return unit.Decimal{Coef: rapid.Int64Range(-1e15, 1e15).Draw(t, "coef"), Places: uint8(rapid.IntRange(0, 9).Draw(t, "places"))}
})

// aReading avoids the numbers that stand for "no value".
func aReading(bracket bool) *rapid.Generator[formats.Reading] {
	return rapid.Custom(func(t *rapid.T) formats.Reading {
		if !rapid.Bool().Draw(t, "set") {
			return formats.Reading{}
		}
		v := decimals.Filter(func(d unit.Decimal) bool { return !sentinel(d) }).Draw(t, "value")
		return formats.Reading{Set: true, Value: v, Bracket: bracket && rapid.Bool().Draw(t, "bracket")}
	})
}

// noDecimals keeps texts that the column of staffs does not take for a reading.
func noDecimals(s string) bool {
	d, _, err := unit.ParseDecimal(s)
	return err != nil || d.Places == 0
}

func sentinel(d unit.Decimal) bool {
	s := d.String()
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s == "-9999" || s == "-32768" || s == "99999"
}

var units = rapid.SampledFrom([]unit.Unit{unit.M, unit.MM, unit.Ft, unit.FtUS})

// throughText encodes and decodes. The declared unit says which foot, as a job
// does.
func throughText(t *rapid.T, d *formats.Document, u unit.Unit) *formats.Document {
	var b bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
	again, err := Decode(bytes.NewReader(b.Bytes()), "t.csv", formats.Options{Unit: u})
	require.NoError(t, err)
	require.Empty(t, again.Problems, b.String())
	return again
}

func TestPointsThroughText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := units.Draw(t, "unit")
		d := &formats.Document{Units: formats.Units{Linear: u}}
		for range rapid.IntRange(1, 20).Draw(t, "n") {
			p := formats.Point{ID: texts.Draw(t, "id"), Code: texts.Draw(t, "code"), Layer: texts.Draw(t, "layer"), Run: texts.Draw(t, "run"),
				Staffed: texts.Draw(t, "staffed"), Setup: texts.Draw(t, "setup"), Time: texts.Draw(t, "time"), Desc: texts.Draw(t, "desc")}
			if rapid.Bool().Draw(t, "placed") {
				p.E, p.N, p.Placed = decimals.Draw(t, "e"), decimals.Draw(t, "n"), true
			}
			if z := aReading(false).Draw(t, "z"); z.Set {
				p.Z, p.Levelled = z.Value, true
			}
			if rapid.Bool().Draw(t, "chained") {
				p.Chainage, p.Offset, p.Chained = decimals.Draw(t, "chainage"), decimals.Draw(t, "offset"), true
			}
			d.Points = append(d.Points, p)
		}
		again := throughText(t, d, u)
		for i := range again.Points {
			again.Points[i].Row, again.Points[i].Col = 0, 0
		}
		require.Equal(t, d.Points, again.Points)
		require.Equal(t, u, again.Units.Linear)
	})
}

// strip forgets where readings stood, and which columns the file had.
func strip(r *formats.BookRow) {
	r.Row = 0
	if r.RowFigures == nil {
		r.RowFigures = &formats.RowFigures{}
	}
	if r.RowWires == nil {
		r.RowWires = &formats.RowWires{}
	}
	if r.RowNotes == nil {
		r.RowNotes = &formats.RowNotes{}
	}
	for _, x := range []*formats.Reading{&r.BS, &r.IS, &r.FS, &r.WiresBS.Upper, &r.WiresBS.Lower, &r.WiresIS.Upper, &r.WiresIS.Lower, &r.WiresFS.Upper, &r.WiresFS.Lower,
		&r.WiresBS.Mean, &r.WiresIS.Mean, &r.WiresFS.Mean,
		&r.Rise, &r.Fall, &r.Collimation, &r.Level, &r.Known, &r.Distance, &r.DistanceBS, &r.DistanceFS, &r.Chainage, &r.Offset} {
		x.Col = 0
	}
}

func TestBooksThroughText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := units.Draw(t, "unit")
		b := formats.Book{Unit: u, DistIn: u, HasFlag: rapid.Bool().Draw(t, "flag")}
		staff, plain := aReading(true), aReading(false)
		for i := range rapid.IntRange(1, 20).Draw(t, "n") {
			r := formats.BookRow{Point: fmt.Sprintf("b%d%s", i, texts.Draw(t, "name")), BS: staff.Draw(t, "bs"), IS: staff.Draw(t, "is"), FS: staff.Draw(t, "fs"),
				RowFigures: &formats.RowFigures{Rise: plain.Draw(t, "rise"), Fall: plain.Draw(t, "fall"), Collimation: plain.Draw(t, "collimation"),
					Distance: plain.Draw(t, "distance"), DistanceBS: plain.Draw(t, "bs distance"), DistanceFS: plain.Draw(t, "fs distance")},
				Level: plain.Draw(t, "level"), Known: plain.Draw(t, "known"), RowWires: &formats.RowWires{},
				Inverted: b.HasFlag && rapid.Bool().Draw(t, "inverted"), Code: texts.Draw(t, "code"), Remark: texts.Draw(t, "remark"), Page: 1 + i/5,
				RowNotes: &formats.RowNotes{Staffed: texts.Draw(t, "staffed"), Run: texts.Draw(t, "run"), Chainage: plain.Draw(t, "chainage"), Offset: plain.Draw(t, "offset"),
					Staff: texts.Filter(noDecimals).Draw(t, "staff"), Setup: texts.Draw(t, "set-up"), Time: texts.Draw(t, "time")}}
			for _, w := range []struct {
				middle formats.Reading
				to     *formats.Wires
			}{{r.BS, &r.WiresBS}, {r.IS, &r.WiresIS}, {r.FS, &r.WiresFS}} {
				if w.middle.Set { // wires without the middle one are refused
					*w.to = formats.Wires{Upper: staff.Draw(t, "upper"), Lower: staff.Draw(t, "lower"), Mean: staff.Draw(t, "mean")}
				}
			}
			b.Rows = append(b.Rows, r)
		}
		again := throughText(t, &formats.Document{Books: []formats.Book{b}}, u)
		require.Len(t, again.Books, 1)
		got := again.Books[0]
		for i := range got.Rows {
			strip(&got.Rows[i])
		}
		require.Equal(t, b.Rows, got.Rows)
		require.Equal(t, b.Unit, got.Unit)
		require.Equal(t, b.HasFlag, got.HasFlag)
		if slices.ContainsFunc(b.Rows, func(r formats.BookRow) bool { return r.Distance.Set }) {
			require.Equal(t, b.DistIn, got.DistIn)
		}
	})
}

// What a spreadsheet could take for a formula is inert in the file, and comes
// back as it was.
func TestFormulasAreInert(t *testing.T) {
	ids := []string{"=1+1", "+A1", "-A1", "@sum", "'=1+1", "''=1", "-3", "+5", "'A", "#7", "'-3", "=", "a=b"}
	d := &formats.Document{Units: formats.Units{Linear: unit.M}}
	for _, id := range ids {
		d.Points = append(d.Points, formats.Point{ID: id})
	}
	var b bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
	var fields []string
	for _, line := range strings.Split(strings.TrimSpace(b.String()), "\n")[1:] {
		fields = append(fields, strings.TrimSuffix(line, ",,,"))
	}
	assert.Equal(t, []string{"'=1+1", "'+A1", "'-A1", "'@sum", "''=1+1", "'''=1", "-3", "+5", "'A", `"#7"`, "'-3", "'=", "a=b"}, fields)
	assert.NotContains(t, b.String(), "\r")
	again := decodeText(t, b.String(), formats.Options{})
	var got []string
	for _, p := range again.Points {
		got = append(got, p.ID)
	}
	assert.Equal(t, ids, got)
}

func TestTwoTablesDoNotFitOneFile(t *testing.T) {
	d := &formats.Document{Books: []formats.Book{{Name: "a"}}, Points: []formats.Point{{ID: "p"}}}
	assert.ErrorContains(t, Encode(&bytes.Buffer{}, d, formats.EncodeOptions{}), "write a workbook, or one file each")
}

func FuzzDecode(f *testing.F) {
	for _, s := range []string{"Point,Easting (m),Northing (m),Level (m)\na,1,2,3\n", "Point;BS;IS;FS\r\nA;1,5;;\r\nB;;;2,5", "\xff\xfeP\x00", "Point,BS (m),FS (m),Remark\nA,1.5,,\"two\nlines\"\nSum,1.5,,\n",
		"Point,E (m),N (m),Z,Desc\n\"a,1,2,3,\"x\nb,(1),2,N/A,#y\n#c,1,2,3\n", "Point\tE\tN\rA\t1,5\t2,5\r",
		"Job 1\nPoint,Sight,Reading (m),RL\nA,BS,1.5,50\nPage 2\nPoint,Sight,Reading (m),RL\nA,BS,1.50,\nB,FS,1.2,\n", "Point,BS (m),FS (m),Page,Remarks\nA,1.5,,1,\nc/f,1.5,,,\nA,1.5,,2,b/f\nB,,1.0,3,\n",
		"BS upper (m),BS,BS lower,BS mean,FS,Remark\n1.6,1.5,1.4,1.5,,A\n,,,,1,B\nBS,FS,Remark,RL\n1,,A,5' 6\"\n", "Point,BS,FS,RL\nA,5' 6 3/8\",,100\nB,,4-2,\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := Decode(bytes.NewReader(text), "f.csv", formats.Options{Unit: unit.M})
		require.NoError(t, err, "a reader that does not fail gives no error")
		_, err = Decode(bytes.NewReader(text), "f.csv", formats.Options{FeetInches: true})
		require.NoError(t, err)
		for i := range d.Points {
			if d.Points[i].Row < 1 || i > 0 && d.Points[i].Row <= d.Points[i-1].Row {
				t.Fatalf("point %d is of row %d", i, d.Points[i].Row)
			}
		}
		if len(d.Problems) > 0 || len(d.Books)+min(len(d.Points), 1) != 1 {
			return
		}
		// what was read without a problem can be written and reads the same
		var b, c bytes.Buffer
		require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
		again, err := Decode(bytes.NewReader(b.Bytes()), "f.csv", formats.Options{Unit: unit.M})
		require.NoError(t, err)
		require.Empty(t, again.Problems, b.String())
		require.NoError(t, Encode(&c, again, formats.EncodeOptions{}))
		require.Equal(t, b.String(), c.String())
	})
}
