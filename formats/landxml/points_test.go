package landxml

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

func TestPointsRefused(t *testing.T) {
	a := `<CgPoint name="a">1 2 3</CgPoint>`
	refusals(t, map[string][2]string{
		"dangling reference":  {file(points(a + `§<CgPoint name="b" pntRef="c"/>`)), `point b: it refers to point "c", which is not in the file`},
		"by number, not name": {file(strings.Replace(points(a+`<CgPoint name="b" pntRef="77"/>`), `name="a"`, `name="a" oID="77"`, 1)), `it refers to point "77", which is not in the file`},
		"circle of one":       {file(points(`§<CgPoint name="a" pntRef="a"/>`)), `point a: it refers to point "a", which refers back to it, in a circle`},
		"ambiguous":           {file(points(a) + points(`<CgPoint name="a">1 2 4</CgPoint>`+"\n"+`§<CgPoint name="c" pntRef="a"/>`)), `it refers to point "a", which stands in the file twice with different coordinates`},
		"ambiguous by level":  {file(points(`<CgPoint name="a">1 2 0</CgPoint>`) + points(`<CgPoint name="a">1 2</CgPoint>§<CgPoint name="c" pntRef="a"/>`)), "twice with different coordinates"},
		"to nothing":          {file(points(`<CgPoint name="a"/>§<CgPoint name="c" pntRef="a"/>`)), `it refers to point "a", which has no coordinates`},
		"one number":          {file(points("\n" + `<CgPoint name="a">§1</CgPoint>`)), "t.xml:2:19: point a: 1 number where northing, easting and level are wanted"},
		"four numbers":        {file(points(`<CgPoint name="a">§1 2 3 4</CgPoint>`)), "point a: 4 numbers or more where"},
		"five numbers":        {file(points(`<CgPoint name="a">§1 2 3 4 5</CgPoint>`)), "point a: 4 numbers or more where"},
		"a word":              {file(points("\n  " + `<CgPoint name="a">§1 2 three</CgPoint>`)), `point a: "three" is not a coordinate`},
		"NaN":                 {file(points(`<CgPoint name="a">§NaN 2 3</CgPoint>`)), `point a: "NaN" is not a coordinate`},
		"INF":                 {file(points(`<CgPoint name="a">§1 2 INF</CgPoint>`)), `point a: "INF" is not a coordinate`},
	})
}

func TestReferences(t *testing.T) {
	d := read(t, file(points(`<CgPoint name="d" pntRef="c"/><CgPoint name="c" pntRef="a"/><CgPoint name="e" pntRef="none">7 8</CgPoint>`)+points(`<CgPoint name="a">1 2 3</CgPoint>`)+points(`<CgPoint name="a">1.0 2.00 3</CgPoint>`)))
	require.Len(t, d.Points, 5)
	for _, p := range d.Points[:2] {
		assert.Equal(t, "2 1 3", p.E.String()+" "+p.N.String()+" "+p.Z.String())
		assert.True(t, p.Placed && p.Levelled)
	}
	assert.Equal(t, "7", d.Points[2].N.String(), "its own coordinates hold")
	assert.False(t, d.Points[2].Levelled)
}

// Two groups hold the name, each by reference: both have to lead to one place.
func TestAmbiguousThroughReferences(t *testing.T) {
	text := points(`<CgPoint name="b">1 2 3</CgPoint><CgPoint name="c">1 2 4</CgPoint><CgPoint name="a" pntRef="b"/>`) + points(`<CgPoint name="a" pntRef="c"/><CgPoint name="d" pntRef="a"/>`)
	d := decodeText(t, file(text), formats.Options{})
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].String(), `point d: it refers to point "a", which stands in the file twice with different coordinates`)
	assert.NotEmpty(t, d.Points[4].Bad)
}

func TestCircleOfReferences(t *testing.T) {
	d := decodeText(t, file(points(`<CgPoint name="a" pntRef="b"/><CgPoint name="b" pntRef="c"/><CgPoint name="c" pntRef="a"/><CgPoint name="d" pntRef="a"/>`)), formats.Options{})
	require.Len(t, d.Problems, 4)
	for _, p := range d.Problems {
		assert.Contains(t, p.Text, "in a circle")
	}
}

func TestLongChainOfReferences(t *testing.T) {
	var b strings.Builder
	for i := range 200 {
		fmt.Fprintf(&b, `<CgPoint name="%d" pntRef="%d"/>`, i, i+1)
	}
	d := decodeText(t, file(points(b.String()+`<CgPoint name="200">1 2 3</CgPoint>`)), formats.Options{})
	require.NotEmpty(t, d.Problems)
	assert.Contains(t, d.Problems[0].Text, "which refers on and on to others")
	assert.False(t, d.Points[0].Placed)
	assert.True(t, d.Points[199].Placed)
}

func TestReferenceToABadPoint(t *testing.T) {
	d := decodeText(t, file(points(`<CgPoint name="a">1 2 x</CgPoint><CgPoint name="b" pntRef="a"/>`)), formats.Options{})
	require.Len(t, d.Problems, 2)
	assert.Contains(t, d.Problems[1].Text, `it refers to point "a", which could not be read`)
}

func TestPointFields(t *testing.T) {
	d := read(t, file(`<CgPoints name="G"><CgPoint name="001" code="PEG " desc="a peg" timeStamp="2026-01-02T03:04:05">5 6</CgPoint><CgPoint name="1">5 6 0</CgPoint>`+
		`<CgPoints><CgPoint>`+"\n"+`7 8 9.50</CgPoint></CgPoints></CgPoints>`))
	require.Len(t, d.Points, 3)
	p := d.Points[0]
	assert.Equal(t, []any{"001", "PEG ", "a peg", "2026-01-02T03:04:05", "5", "6", true, false}, []any{p.ID, p.Code, p.Desc, p.Time, p.N.String(), p.E.String(), p.Placed, p.Levelled})
	assert.True(t, d.Points[1].Levelled, "a level of 0 is a level")
	assert.Equal(t, "9.50", d.Points[2].Z.String())
	assert.Equal(t, 3, d.PointCount)
	assert.Empty(t, d.Notes)
}

func TestLevelsOfExactlyZero(t *testing.T) {
	zero, other := `<CgPoint name="z">1 2 0.000</CgPoint>`, `<CgPoint name="o">1 2 3</CgPoint>`
	assert.Contains(t, texts(read(t, file(points(zero+zero+other))).Notes), `elevation: 2 of 3 points have a level of exactly 0; if that means "no level", leave them out`)
	assert.Empty(t, read(t, file(points(zero+other))).Notes)
	assert.Contains(t, texts(read(t, file(points(`<CgPoint name="n"/>`+other))).Notes), "points without coordinates: 1")
}

func TestPointsInBatches(t *testing.T) {
	const n = 2*formats.BatchSize + 7
	text := file(points(strings.Repeat(`<CgPoint name="A">1 2 3</CgPoint>`, n)))
	var sizes []int
	d := decodeText(t, text, formats.Options{Points: func(at formats.Pos, batch []formats.Point) error {
		sizes = append(sizes, len(batch))
		assert.Equal(t, "t.xml", at.File)
		assert.Equal(t, "A", batch[0].ID)
		return nil
	}})
	assert.Equal(t, []int{formats.BatchSize, formats.BatchSize, 7}, sizes)
	assert.Equal(t, n, d.PointCount)
	assert.Empty(t, d.Points)
}
