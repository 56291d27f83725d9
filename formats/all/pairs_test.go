package all

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// kinds are the kinds of records that a document of the test is made of, with what
// is compared of it: a text a record, without the place in the file.
var kinds = map[formats.Kind]struct {
	draw func(*rapid.T, *formats.Document)
	read func(d *formats.Document, holds func(formats.Kind) bool) []string
}{
	formats.Points:    {drawPoints, readPoints},
	formats.Books:     {drawBook, readBooks},
	formats.Surfaces:  {drawSurface, readSurfaces},
	formats.Networks:  {drawNetwork, readNetworks},
	formats.Polygons:  {drawPolygon, readPolygons},
	formats.PlanLines: {drawLine, readLines},
}

func decimal(t *rapid.T, lo, hi int64, what string) unit.Decimal {
	return unit.Decimal{Coef: rapid.Int64Range(lo, hi).Draw(t, what), Places: 3}
}

func word(t *rapid.T, what string) string {
	return rapid.StringMatching(`[A-Za-z][A-Za-z0-9 ,;"'<&>äß]{0,6}[A-Za-z0-9]`).Draw(t, what)
}

func drawPoints(t *rapid.T, d *formats.Document) {
	for i := range rapid.IntRange(1, 5).Draw(t, "points") {
		p := formats.Point{ID: fmt.Sprint("P", i), E: decimal(t, 400_000_000, 500_000_000, "e"), N: decimal(t, 5_000_000_000, 6_000_000_000, "n"), Z: decimal(t, -5_000, 500_000, "z"), Placed: true, Levelled: true,
			Code: word(t, "code"), Desc: word(t, "desc"), Layer: word(t, "layer"), Run: word(t, "run"), Setup: word(t, "setup"), Staffed: "invert", Time: "2026-03-04T10:00:00Z"}
		p.Chainage, p.Offset, p.Chained = decimal(t, 0, 900_000, "chainage"), decimal(t, -9_000, 9_000, "offset"), true
		if rapid.Bool().Draw(t, "reading") {
			p.Reading = formats.Reading{Set: true, Value: decimal(t, 1, 4_000, "reading")}
		}
		d.Points = append(d.Points, p)
	}
	d.PointCount = len(d.Points)
}

func readPoints(d *formats.Document, holds func(formats.Kind) bool) (out []string) {
	for i := range d.Points {
		p := &d.Points[i]
		s := p.ID + " " + p.E.String() + " " + p.N.String() + " " + p.Z.String()
		if holds(formats.Attributes) {
			s += "|" + p.Code + "|" + p.Desc
		}
		if holds(formats.PointExtras) {
			s += "|" + p.Layer + "|" + p.Run + "|" + p.Setup + "|" + p.Staffed + "|" + p.Time + "|" + p.Chainage.String() + "|" + p.Offset.String()
		}
		if holds(formats.LaserReadings) && p.Reading.Set {
			s += "|" + p.Reading.Value.String()
		}
		out = append(out, s)
	}
	return out
}

func drawBook(t *rapid.T, d *formats.Document) {
	b := formats.Book{Name: "Book", Unit: unit.M}
	reading := func(what string) formats.Reading {
		return formats.Reading{Set: rapid.Bool().Draw(t, what+" is there"), Value: decimal(t, 1, 4_000, what)}
	}
	for i := range rapid.IntRange(1, 6).Draw(t, "rows") {
		b.Rows = append(b.Rows, formats.BookRow{Point: fmt.Sprint("b", i), BS: reading("BS"), IS: reading("IS"), FS: reading("FS"), Known: reading("known"), Code: word(t, "code"), RowNotes: &formats.RowNotes{Staff: word(t, "staff")}})
	}
	d.Books = append(d.Books, b)
}

func readBooks(d *formats.Document, _ func(formats.Kind) bool) (out []string) {
	value := func(r formats.Reading) string {
		if !r.Set {
			return "-"
		}
		return r.Value.String()
	}
	for i := range d.Books {
		for _, r := range d.Books[i].Rows {
			staff := ""
			if r.RowNotes != nil {
				staff = r.Staff
			}
			out = append(out, strings.Join([]string{r.Point, value(r.BS), value(r.IS), value(r.FS), value(r.Known), r.Code, staff}, "|"))
		}
	}
	return out
}

func drawSurface(t *rapid.T, d *formats.Document) {
	s := formats.Surface{Name: word(t, "name"), Source: "faces"}
	for i, xy := range [][2]int64{{0, 0}, {0, 100_000}, {100_000, 0}, {100_000, 100_000}} {
		s.Vertices = append(s.Vertices, formats.Vertex{E: unit.Decimal{Coef: xy[0], Places: 3}, N: unit.Decimal{Coef: xy[1], Places: 3}, Z: decimal(t, 0, 50_000, "z"), ID: i + 1})
	}
	s.Faces = []formats.Face{{V: [3]int32{0, 1, 2}}, {V: [3]int32{1, 2, 3}}}
	d.Surfaces = append(d.Surfaces, s)
}

func readSurfaces(d *formats.Document, _ func(formats.Kind) bool) (out []string) {
	for i := range d.Surfaces {
		s := &d.Surfaces[i]
		line := s.Name
		for _, v := range s.Vertices {
			line += "|" + v.E.String() + " " + v.N.String() + " " + v.Z.String()
		}
		for _, f := range s.Faces {
			line += fmt.Sprint(f.V)
		}
		out = append(out, line)
	}
	return out
}

func drawNetwork(t *rapid.T, d *formats.Document) {
	n := formats.Network{Name: word(t, "name"), Type: "storm"}
	inverts := []formats.Reading{{Set: true, Value: decimal(t, 10_000, 11_000, "invert")}, {Set: true, Value: decimal(t, 9_000, 9_900, "invert")}}
	for i := range 2 {
		n.Structures = append(n.Structures, formats.Structure{Name: fmt.Sprint("S", i), E: decimal(t, 0, 900_000, "e"), N: decimal(t, 0, 900_000, "n"), Placed: true, Kind: "circular", DimUnit: unit.MM,
			Diameter: formats.Reading{Set: true, Value: unit.Decimal{Coef: 1050}}, Inverts: []formats.Invert{{Elev: inverts[i], Flow: []string{"out", "in"}[i], Pipe: "P"}}})
	}
	n.Pipes = []formats.Pipe{{Name: "P", Start: "S0", End: "S1", Shape: "circular", Bore: formats.Reading{Set: true, Value: unit.Decimal{Coef: 300}}, DimUnit: unit.MM}}
	d.Networks = append(d.Networks, n)
	d.Units.Diameter = unit.MM
}

func readNetworks(d *formats.Document, _ func(formats.Kind) bool) (out []string) {
	for i := range d.Networks {
		n := &d.Networks[i]
		for _, s := range n.Structures {
			out = append(out, n.Name+"|"+s.Name+"|"+s.E.String()+"|"+s.N.String()+"|"+s.Inverts[0].Elev.Value.String())
		}
		for _, p := range n.Pipes {
			out = append(out, p.Name+"|"+p.Start+"|"+p.End+"|"+p.Bore.Value.String())
		}
	}
	return out
}

func drawPolygon(t *rapid.T, d *formats.Document) {
	e, n, w, h := decimal(t, 400_000_000, 400_100_000, "e"), decimal(t, 5_000_000_000, 5_000_100_000, "n"), rapid.Int64Range(1, 9_000).Draw(t, "width"), rapid.Int64Range(1, 9_000).Draw(t, "height")
	right, up := e, n
	right.Coef, up.Coef = e.Coef+w, n.Coef+h
	// anticlockwise, as the right-hand rule of RFC 7946 has an outline
	d.Polygons = append(d.Polygons, formats.Polygon{Name: word(t, "name"), Rings: [][]formats.Vertex{{{E: e, N: n}, {E: right, N: n}, {E: e, N: up}}}})
}

func readPolygons(d *formats.Document, _ func(formats.Kind) bool) (out []string) {
	for _, p := range d.Polygons {
		line := p.Name
		for _, v := range p.Rings[0] {
			line += "|" + v.E.String() + " " + v.N.String()
		}
		out = append(out, line)
	}
	return out
}

func drawLine(t *rapid.T, d *formats.Document) {
	l := formats.Line{Name: word(t, "name")}
	for range rapid.IntRange(1, 3).Draw(t, "parts") {
		var part []formats.Vertex
		for range rapid.IntRange(2, 4).Draw(t, "corners") {
			part = append(part, formats.Vertex{E: decimal(t, 400_000_000, 400_100_000, "e"), N: decimal(t, 5_000_000_000, 5_000_100_000, "n")})
		}
		l.Parts = append(l.Parts, part)
	}
	d.Lines = append(d.Lines, l)
}

func readLines(d *formats.Document, _ func(formats.Kind) bool) (out []string) {
	for _, l := range d.Lines {
		line := l.Name
		for _, part := range l.Parts {
			line += "/"
			for _, v := range part {
				line += "|" + v.E.String() + " " + v.N.String()
			}
		}
		out = append(out, line)
	}
	return out
}

// through writes a document in a format and reads it again.
func through(t *rapid.T, f *formats.Format, d *formats.Document) *formats.Document {
	var b bytes.Buffer
	require.NoError(t, f.Encode(&b, d, formats.EncodeOptions{Unit: unit.M}), f.Name)
	again, err := f.Decode(&b, "a"+f.Extensions[0], formats.Options{Unit: unit.M})
	require.NoError(t, err, f.Name)
	require.Empty(t, again.Problems, f.Name)
	return again
}

// What two formats both hold goes from one to the other and is the same: for every
// pair, and every kind of record, from the list of what each holds.
func TestPairs(t *testing.T) {
	pairs := 0
	for kind, k := range kinds {
		for _, a := range Formats {
			for _, b := range Formats {
				if !slices.Contains(a.Holds, kind) || !slices.Contains(b.Holds, kind) {
					continue
				}
				pairs++
				both := func(x formats.Kind) bool { return slices.Contains(a.Holds, x) && slices.Contains(b.Holds, x) }
				t.Run(string(kind)+" "+a.Name+" "+b.Name, func(t *testing.T) {
					rapid.Check(t, func(t *rapid.T) {
						d := &formats.Document{Units: formats.Units{Linear: unit.M}, CRS: formats.CRS{EPSG: "7855"}}
						k.draw(t, d)
						one := through(t, a, d)
						two := through(t, b, one)
						require.NotEmpty(t, k.read(d, both))
						require.Equal(t, k.read(d, both), k.read(one, both), a.Name)
						require.Equal(t, k.read(d, both), k.read(two, both), a.Name+" to "+b.Name)
					})
				})
			}
		}
	}
	require.Greater(t, pairs, 12)
}

// The table of the README says what each format holds, from the same list.
func TestReadmeSaysWhatFormatsHold(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(fixture.Root(t), "README.md"))
	require.NoError(t, err)
	for _, f := range Formats {
		var holds []string
		for _, k := range f.Holds {
			holds = append(holds, string(k))
		}
		line := "| " + f.Title + " | " + strings.Join(holds, "; ") + " |"
		assert.True(t, strings.Contains(string(text), line), "the README has no line %s", line)
	}
}
