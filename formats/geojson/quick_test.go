package geojson

import (
	"bufio"
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
)

// The quick reader and the strict one read the same, on files of every make; and
// the quick one does read the plain ones.
func TestQuickReadsAsStrict(t *testing.T) {
	plain := `{"type":"Feature","properties":{"point":"1","code":"CL","level":42.534},"geometry":{"type":"Point","coordinates":[319979.890,5800014.277,42.534]}}`
	for _, features := range [][]string{
		{plain, plain},
		{plain, `{"type":"Feature","properties":{"point":"a\u0020b"},"geometry":{"type":"Point","coordinates":[1,2]}}`, plain},
		{`{ "type" : "Feature",` + "\r\n" + ` "id": 7, "properties" : {"a":null,"level":-1.5, "b":"x" } ,` + "\n\n" + `"geometry":{"coordinates":[1 , 2],"type":"Point"}}`, plain},
		{`{"type":"Feature","properties":{"point":"1","point":"2"},"geometry":null}`, plain},
		{`{"type":"Feature","properties":{"level":1e3},"geometry":{"type":"Point","coordinates":[1,2]}}`},
		{`{"type":"Feature","properties":{"level":01},"geometry":{"type":"Point","coordinates":[1,2]}}`},
		{`{"type":"Feature","properties":{"level":1.},"geometry":{"type":"Point","coordinates":[1,2]}}`},
		{`{"type":"Feature","properties":{"more":{"deep":[1,{"a":2}]},"level":1},"geometry":{"type":"Point","coordinates":[1,2,3,4]}}`, plain},
		{`{"type":"Feature","properties":{"name":"é"},"geometry":{"type":"Point","coordinates":[1,2]}}`, plain},
		{`{"type":"Feature","properties":{"p":"` + strings.Repeat("x", 3*quickWindow) + `"},"geometry":{"type":"Point","coordinates":[1,2]}}`, plain},
		{`{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[]}}`},
		{`{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[0,0],[1,1]]}}`, plain},
		{`{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"geometry":null}`},
		{plain[:len(plain)-3]},
	} {
		sameByBoth(t, []byte(collection(grid, features...)))
		sameByBoth(t, []byte(collection("", features...)))
		sameByBoth(t, []byte(strings.Join(features, "\n")))
	}
	sameByBoth(t, []byte(`{"type":"Feature","features":[`+plain+`,`+plain+`]}`))
	many := make([]string, 3000) // several windows
	for i := range many {
		many[i] = plain
	}
	sameByBoth(t, []byte(collection(grid, many...)))
	d := &decoder{parser: &parser{r: bufio.NewReaderSize(strings.NewReader(plain), 1<<18), row: 1, col: 1}}
	d.doc = &formats.Document{}
	took, err := d.quick(false)
	require.NoError(t, err)
	require.True(t, took)
	assert.Equal(t, len(plain)+1, d.col)
	require.Len(t, d.points, 1)
	assert.Equal(t, []string{"1", "CL", "42.534"}, []string{d.points[0].ID, d.points[0].Code, d.points[0].Z.String()})
}

// Values that are plain, nearly plain and not plain at all.
var (
	oddNumbers = []string{"0", "-0", "-0.0", "00", "1.", ".5", "+1", "-", "1e3", "1E-2", "null", "true", "[1]", "{}", "NaN", "", "1 ", "1\n", "123456789012345678", "1234567890123456789", "0.1234567890123456789", "12345678901234567890", "0.00000000000000001", "1" + strings.Repeat("0", 70), `"5"`, `"x"`}
	oddTexts   = []string{"", "é", `\"`, `\u0041`, `\ud800`, "a\tb", "a\nb", "\x7f", "\xff", "n/a", "12.5", "5,3", strings.Repeat("long", 30_000)}
)

// ways of writing a feature, the first plainWays of them plain; # stands for a number and $
// for a text.
var ways = []string{
	`{"type":"Feature","properties":{"point":"$","code":"$","level":#},"geometry":{"type":"Point","coordinates":[#,#]}}`,
	`{"type":"Feature","properties":{"point":"$","code":"$"},"geometry":{"type":"Point","coordinates":[#,#,#]}}`,
	`{"type":"Feature","id":#,"geometry":{"type":"Point","coordinates":[#,#]},"properties":{"ID":"$","rl":"$","easting":#,"northing":#}}`,
	`{"type":"Feature","id":"$","geometry":{"coordinates":[#,#,#],"type":"Point"},"properties":{"id":#,"other":#,"x y":"$","time":"$"}}`,
	"{ \"type\" : \"Feature\",\r\n \"properties\": {\n  \"name\" : \"$\",\n\t\"chainage\": # , \"offset\":#\n },\n \"geometry\": {\"type\":\"Point\", \"coordinates\" : [ # ,\n# ] } }",
	"{\n\"properties\":{},\"geometry\":{\"type\":\"Point\",\"coordinates\":[#,#]},\"type\":\"Feature\"\n\n}",
	`{"type":"Feature","properties":{"run":"$","layer":#,"desc":"$","staffed":"$","set-up":#,"level":#,"RL":#},"geometry":{"coordinates":[#,#]}}`,
	`{"type":"Feature","properties":{"point":"$","point":"$"},"geometry":{"type":"Point","coordinates":[#,#]}}`,
	`{"type":"Feature","properties":null,"geometry":{"type":"Point","coordinates":[#]}}`,
	`{"type":"Feature","properties":{"a":#},"geometry":{"type":"Point","coordinates":[#,#,#,#]}}`,
	`{"type":"Feature","properties":{"name":"$"},"geometry":{"type":"LineString","coordinates":[[#,#],[#,#]]}}`,
	`{"type":"Feature","properties":{"name":"$"},"geometry":{"type":"MultiPoint","coordinates":[[#,#],[#,#]]}}`,
	`{"type":"Feature","properties":{"name":"$"},"geometry":null}`,
	`{"type":"Feature","properties":{"name":"$","level":#},"geometry":{"type":"Point"}}`,
	`{"type":"Feature","properties":{"name":"$","deep":[{"a":1}]},"geometry":{"type":"Point","coordinates":[#,#]}}`,
	`{"properties":{"name":"$"}}`, `{}`, `[]`, `5`, `{"type":5}`, `{"type":"Feature","properties":{"a":"$"},"geometry":{"type":"Point","coordinates":[#,#]}`,
}

const plainWays = 7

// The same on files that are made of a few ways of writing, in which values change, and of
// what is not quite one of them.
func TestQuickReadsAnyMixAsStrict(t *testing.T) {
	number := rapid.OneOf(rapid.StringMatching(`-?(0|[1-9][0-9]{0,6})(\.[0-9]{1,4})?`), rapid.SampledFrom(oddNumbers))
	text := rapid.OneOf(rapid.StringMatching(`[A-Za-z0-9 ._-]{0,9}`), rapid.SampledFrom(oddTexts))
	ways := append(ways[:len(ways):len(ways)], `{"type":"Feat","properties":{"name":"$"},"geometry":{"type":"Point","coordinates":[#,#]}}`, `{"properties":{"name":"$"},"geometry":{"type":"Point","coordinates":[#,#]}}`, `{"type":"FeatureCollection","geometry":{"type":"Point","coordinates":[#,#]}}`)
	read := 0
	rapid.Check(t, func(t *rapid.T) {
		some := rapid.SliceOfN(rapid.SampledFrom(ways[:plainWays]), 1, 2).Draw(t, "ways")
		odd := rapid.SampledFrom([]int{0, 0, 1, 5}).Draw(t, "odd")
		var b strings.Builder
		between := rapid.SampledFrom([]string{",", ",\n", ", ", ",\r\n\n ", "\n,", " , ", ",\x1e"})
		end := rapid.SampledFrom([]string{"]}", "]}", "]}", `],"type":"Feature"}`, "\n]\n}\n", "", "]", ",]}", `],"a":1}`, "]}x"})
		if rapid.Bool().Draw(t, "alone") {
			between = rapid.SampledFrom([]string{"\n", "\n", "\r\n", "\n\x1e", "\x1e \x1e", "", ",", "\t", "\n\n "})
			end = rapid.SampledFrom([]string{"", "\n", "\x1e", "x", "{}"})
		} else {
			b.WriteString(rapid.SampledFrom([]string{`{"type":"FeatureCollection",`, `{"type":"FeatureCollection",`, `{`}).Draw(t, "start"))
			b.WriteString(rapid.SampledFrom([]string{"", grid, grid, grid, `"name":"n","unit":"m",` + grid}).Draw(t, "head"))
			b.WriteString(`"features":[`)
		}
		for i := range rapid.IntRange(0, 12).Draw(t, "features") {
			if i > 0 {
				b.WriteString(between.Draw(t, "between"))
			}
			way := rapid.SampledFrom(some).Draw(t, "way")
			strange := rapid.IntRange(0, 9).Draw(t, "strange") < odd
			if strange {
				way = rapid.SampledFrom(ways).Draw(t, "any way")
			}
			for _, c := range way {
				switch {
				case c == '$' && strange:
					b.WriteString(text.Draw(t, "text"))
				case c == '$':
					b.WriteString(rapid.SampledFrom([]string{"a", "CL", "", "EP 1"}).Draw(t, "text"))
				case c == '#' && strange:
					b.WriteString(number.Draw(t, "number"))
				case c == '#':
					fmt.Fprintf(&b, "%.*f", rapid.IntRange(0, 4).Draw(t, "places"), float64(rapid.IntRange(-99999, 99999).Draw(t, "number"))/100)
				default:
					b.WriteRune(c)
				}
			}
		}
		b.WriteString(end.Draw(t, "end"))
		if d := sameByBoth(t, []byte(b.String())); len(d.Problems) == 0 {
			read += d.PointCount
		}
	})
	require.NotZero(t, read)
}

// A value that is not plain, behind features that are written alike.
func TestQuickReadsOneOddValueAsStrict(t *testing.T) {
	fill := func(way, number, text string, hole int, odd string) string {
		var b strings.Builder
		for _, c := range way {
			v := string(c)
			switch {
			case c != '#' && c != '$':
			case hole == 0:
				v = odd
				hole--
			case c == '#':
				v = number
				hole--
			default:
				v = text
				hole--
			}
			b.WriteString(v)
		}
		return b.String()
	}
	for _, way := range ways {
		plain := fill(way, "12.25", "CL", -1, "")
		for hole := range strings.Count(way, "#") + strings.Count(way, "$") {
			for _, odd := range append(append(oddNumbers[:len(oddNumbers):len(oddNumbers)], oddTexts...), "3", "-7.5", "abc", `,`, `"`, `","code":"`, "1,2", "]") {
				if len(odd) > 1000 {
					continue // is met above, and takes its time
				}
				middle := fill(way, "7", "EP", hole, odd)
				sameByBoth(t, []byte(collection(grid, plain, middle, plain)))
				sameByBoth(t, []byte(plain+"\n"+middle+" \x1e\n"+plain))
			}
		}
	}
}

// The id of a feature is its name, unless a property other than id is.
func TestNameAndID(t *testing.T) {
	for props, want := range map[string]string{`{}`: "7", `{"id":"x"}`: "7", `{"point":"x"}`: "x", `{"id":"y","name":"x"}`: "x", `{"name":"x","ID":"y"}`: "x"} {
		d := sameByBoth(t, []byte(collection(grid, `{"type":"Feature","id":7,"properties":`+props+`,"geometry":{"type":"Point","coordinates":[1,2]}}`)))
		require.Len(t, d.Points, 1)
		assert.Equal(t, want, d.Points[0].ID, props)
	}
	d := sameByBoth(t, []byte(collection(grid, `{"type":"Feature","properties":{"id":"y"},"geometry":{"type":"Point","coordinates":[1,2]}}`)))
	assert.Equal(t, "y", d.Points[0].ID)
}

// A feature is found wherever the window of the reader ends in it.
func TestQuickReadsOverWindows(t *testing.T) {
	for shift := range 150 {
		var b strings.Builder
		b.WriteString(`{"type":"FeatureCollection",` + grid + `"name":"` + strings.Repeat("x", shift) + `","features":[`)
		for i := range 2200 {
			if i > 0 {
				b.WriteString(",\n")
			}
			fmt.Fprintf(&b, `{"type":"Feature","properties":{"point":"%d","code":"CL"},"geometry":{"type":"Point","coordinates":[%d.5,2]}}`, i, i)
		}
		b.WriteString("]}")
		d, err := decode(strings.NewReader(b.String()), "t.geojson", formats.Options{}, false)
		require.NoError(t, err)
		require.Empty(t, d.Problems)
		require.Len(t, d.Points, 2200)
		for i := range d.Points {
			if p := &d.Points[i]; p.Row != i+1 || p.ID != fmt.Sprint(i) || p.E.String() != p.ID+".5" {
				t.Fatalf("feature %d is read as %v", i, p)
			}
		}
	}
}

// sameByBoth decodes a text with the quick reader and without, with points that pass by and
// points that are kept: documents, points, problems, notes and places are the same.
func sameByBoth(t require.TestingT, text []byte) *formats.Document {
	type result struct {
		doc    *formats.Document
		points []formats.Point
		err    error
	}
	read := func(strict, stream bool) (g result) {
		var o formats.Options
		if stream {
			o.Points = func(_ formats.Pos, p []formats.Point) error {
				g.points = append(g.points, p...)
				return nil
			}
		}
		g.doc, g.err = decode(bytes.NewReader(text), "f.geojson", o, strict)
		return g
	}
	require.Equal(t, read(true, true), read(false, true), "%.300s", text)
	kept := read(false, false)
	require.Equal(t, read(true, false), kept, "%.300s", text)
	return kept.doc
}
