package geojson

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

const grid = `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::7855"}},`

func decodeText(t testing.TB, text string) *formats.Document {
	d, err := Decode(strings.NewReader(text), "t.geojson", formats.Options{})
	require.NoError(t, err)
	return d
}

func collection(head string, features ...string) string {
	return `{"type":"FeatureCollection",` + head + `"features":[` + strings.Join(features, ",\n") + `]}`
}

func TestProjectedPoints(t *testing.T) {
	d := decodeText(t, collection(grid, `{"type":"Feature","geometry":{"type":"Point","coordinates":[320000.123,5800000.45]},"properties":{"point_id":"0042","level":12.340,"code":"PAD","nothing":null,"deep":{"a":[1,2]}}}`,
		`{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2,3.5]},"properties":null,"id":7}`))
	require.Empty(t, d.Problems)
	require.Len(t, d.Points, 2)
	assert.Equal(t, "7855", d.CRS.EPSG)
	p := d.Points[0]
	assert.Equal(t, []string{"0042", "320000.123", "5800000.45", "12.340", "PAD"}, []string{p.ID, p.E.String(), p.N.String(), p.Z.String(), p.Code})
	assert.Equal(t, "3.5", d.Points[1].Z.String())
	assert.Equal(t, "7", d.Points[1].ID)
	assert.Contains(t, d.Notes[0].Text, "third coordinate of 1 points is taken as their level")
}

func TestLongitudeLatitudeIsNoGrid(t *testing.T) {
	d := decodeText(t, collection("", `{"type":"Feature","geometry":{"type":"Point","coordinates":[144.9,-37.8,55]},"properties":{"name":"a"}}`))
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].Text, "longitude and latitude only")
	assert.False(t, d.Points[0].Levelled, "a height above the ellipsoid is no level")
	d = decodeText(t, collection("", `{"type":"Feature","geometry":{"type":"Point","coordinates":[144.9,-37.8]},"properties":{"name":"a","easting":1.5,"northing":2,"level":3}}`))
	require.Empty(t, d.Problems)
	assert.Equal(t, "1.5", d.Points[0].E.String())
}

func TestPolygons(t *testing.T) {
	d := decodeText(t, collection(grid, `{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[0,0],[10,0],[10,10],[0,0]],[[2,1],[3,1],[3,2],[2,1]]]},"properties":{"name":"lot"}}`,
		`{"type":"Feature","geometry":{"type":"LineString","coordinates":[[0,0],[1,1]]},"properties":{}}`))
	require.Empty(t, d.Problems)
	require.Len(t, d.Polygons, 1)
	assert.Equal(t, "lot", d.Polygons[0].Name)
	assert.Len(t, d.Polygons[0].Rings, 2)
	assert.Len(t, d.Polygons[0].Rings[0], 3)
	require.Len(t, d.Lines, 1)
	assert.Len(t, d.Lines[0].Parts[0], 2)
	var b bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
	assert.Contains(t, b.String(), "[[[0,0],[10,0],[10,10],[0,0]],[[2,1],[3,2],[3,1],[2,1]]]", "outer counter-clockwise, hole clockwise")
}

// Each text is refused at the place, in these words.
func TestRefused(t *testing.T) {
	point := func(coords string) string {
		return `{"type":"Feature","geometry":{"type":"Point","coordinates":` + coords + `},"properties":{}}`
	}
	for name, c := range map[string]struct{ text, want string }{
		"empty":           {"", "t.geojson:1:1: the file is empty"},
		"not an object":   {"[1]", "t.geojson:1:1: \"[\" stands where an object is wanted"},
		"cut off":         {collection(grid, point("[1,2]"))[:120], "cut off"},
		"NaN":             {collection(grid, point("[NaN,2]")), "\"NaN\" is no value of JSON"},
		"leading zero":    {collection(grid, point("[01,2]")), "\"01\" is no value of JSON"},
		"text coordinate": {collection(grid, point(`["1",2]`)), "is no value of JSON"},
		"one number":      {collection(grid, point("[1]")), "a position has 1 numbers"},
		"duplicate key":   {`{"type":"Feature","type":"Feature"}`, "t.geojson:1:19: the key \"type\" stands twice"},
		"trailing":        {collection(grid, point("[1,2]")) + "x", "\"x\" stands where an object is wanted"},
		"trailing comma":  {`{"type":"Feature",}`, "stands where"},
		"no grid":         {collection("", point("[320000,5800000]")), "the coordinates (320000, 5800000) are no longitude and latitude"},
		"late crs":        {`{"type":"FeatureCollection","features":[` + point("[1,2]") + `],` + grid + `"x":1}`, "the crs member stands behind the features"},
		"unknown crs":     {collection(`"crs":{"type":"name","properties":{"name":"site"}},`, point("[1,2]")), "the crs \"site\" is not understood"},
		"deep":            {`{"a":` + strings.Repeat("[", 200), "nested more than 100 deep"},
		"bad utf-8":       {"{\"a\xff\":1}", "is not UTF-8"},
		"half character":  {`{"a\ud800":1}`, "half of a character"},
		"level text":      {collection(grid, `{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"properties":{"level":"n/a"}}`), "level: \"n/a\" is not a number"},
		"two places":      {collection(grid, `{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"properties":{"easting":1,"northing":3}}`), "one of them is wrong"},
		"unknown type":    {collection(grid, `{"type":"Feature","geometry":{"type":"Blob","coordinates":[1,2]},"properties":{}}`), "of no type of GeoJSON"},
		"other json":      {`{"type":"Topology"}`, "the type is \"Topology\""},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeText(t, c.text)
			require.NotEmpty(t, d.Problems)
			assert.Contains(t, d.Problems[0].String(), c.want)
		})
	}
}

func TestFeaturesALine(t *testing.T) {
	line := `{"type":"Feature","geometry":null,"properties":{"name":"a","easting":1,"northing":2,"level":3}}`
	for _, sep := range []string{"\n", "\n\x1e"} {
		d := decodeText(t, line+sep+line+"\n")
		require.Empty(t, d.Problems)
		assert.Len(t, d.Points, 2)
		assert.Equal(t, 2, d.Points[1].Row)
	}
}

func TestBatches(t *testing.T) {
	var many []string
	for range formats.BatchSize + 3 {
		many = append(many, `{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"properties":{"level":1}}`)
	}
	var sizes []int
	d, err := Decode(strings.NewReader(collection(grid, many...)), "t.geojson", formats.Options{Points: func(_ formats.Pos, b []formats.Point) error {
		sizes = append(sizes, len(b))
		return nil
	}})
	require.NoError(t, err)
	assert.Equal(t, []int{formats.BatchSize, 3}, sizes)
	assert.Equal(t, formats.BatchSize+3, d.PointCount)
	assert.Empty(t, d.Points)
}

func TestRoundTrip(t *testing.T) {
	dec := func(s string) unit.Decimal { d, _, _ := unit.ParseDecimal(s); return d }
	for _, epsg := range []string{"7855", ""} {
		d := &formats.Document{CRS: formats.CRS{EPSG: epsg}, Units: formats.Units{Linear: unit.FtUS}, Points: []formats.Point{
			{ID: "1 <&>\"é", E: dec("320000.1230"), N: dec("-5"), Z: dec("0.100"), Placed: true, Levelled: true, Code: "=1+1", Run: "P1", Staffed: "invert", Desc: "a\nb"},
			{ID: "2", Chainage: dec("12.5"), Offset: dec("-1.0"), Chained: true},
		}}
		var b bytes.Buffer
		require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
		again, err := Decode(&b, "t.geojson", formats.Options{})
		require.NoError(t, err)
		require.Empty(t, again.Problems)
		assert.Equal(t, unit.FtUS, again.Units.Linear)
		for i := range again.Points {
			again.Points[i].Row, again.Points[i].Col = 0, 0
		}
		assert.Equal(t, d.Points, again.Points)
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(collection(grid, `{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"properties":{"level":1}}`)))
	f.Add([]byte(collection("", `{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]},"properties":{"name":"é"}}`)))
	f.Add([]byte("{\"type\":\"Feature\",\"properties\":{\"point\":\"1\"},\"geometry\":{\"type\":\"Point\",\"coordinates\":[1,2]}}\n\x1e{\"type\":\"Feature\",\"properties\":{\"point\":\"2\"},\"geometry\":{\"type\":\"Point\",\"coordinates\":[3,2]}}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		sameByBoth(t, text)
		d, err := Decode(bytes.NewReader(text), "f.geojson", formats.Options{})
		if err != nil || len(d.Problems) > 0 {
			return
		}
		var b bytes.Buffer
		if err := Encode(&b, d, formats.EncodeOptions{}); err != nil {
			t.Fatal(err)
		}
		again, err := Decode(&b, "f.geojson", formats.Options{})
		if err != nil || len(again.Points) != len(d.Points) {
			t.Fatalf("what was written is not read: %v %v", err, again.Problems)
		}
	})
}

// Lines keep their parts and their names; a geometry of several kinds is not read.
func TestLines(t *testing.T) {
	d := decodeText(t, collection(grid, `{"type":"Feature","geometry":{"type":"LineString","coordinates":[[0,0],[1.25,1]]},"properties":{"name":"kerb"}}`,
		`{"type":"Feature","id":"L2","geometry":{"type":"MultiLineString","coordinates":[[[0,0],[1,1],[2,0]],[[5,5],[6,6]]]},"properties":{}}`,
		`{"type":"Feature","geometry":{"type":"GeometryCollection","geometries":[]},"properties":{}}`))
	require.Empty(t, d.Problems)
	require.Len(t, d.Lines, 2)
	assert.Equal(t, "kerb", d.Lines[0].Name)
	assert.Equal(t, "1.25", d.Lines[0].Parts[0][1].E.String())
	assert.Equal(t, "L2", d.Lines[1].Name)
	assert.Len(t, d.Lines[1].Parts, 2)
	assert.Len(t, d.Lines[1].Parts[0], 3)
	assert.Contains(t, d.Notes[0].Text, "1 features of type GeometryCollection are not read")
	var b bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
	assert.Contains(t, b.String(), `{"type":"MultiLineString","coordinates":[[[0,0],[1,1],[2,0]],[[5,5],[6,6]]]},"properties":{"name":"L2"}}`)
	d = decodeText(t, collection(grid, `{"type":"Feature","geometry":{"type":"LineString","coordinates":[[0,0]]},"properties":{}}`))
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].Text, "a line has fewer than two corners")
}
