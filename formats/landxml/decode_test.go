package landxml

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

const ns = `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2" date="2026-01-01" time="00:00:00">`
const metres = `<Units><Metric linearUnit="meter" areaUnit="squareMeter" volumeUnit="cubicMeter" temperatureUnit="celsius" pressureUnit="HPA" diameterUnit="millimeter"/></Units>`
const triangle = `<Surfaces><Surface name="S"><Definition surfType="TIN"><Pnts><P id="1">0 0 1</P><P id="2">0 10 1</P><P id="3">10 0 2</P></Pnts><Faces><F>1 2 3</F></Faces></Definition></Surface></Surfaces>`

func decodeText(t testing.TB, text string, opt formats.Options) *formats.Document {
	d, err := Decode(strings.NewReader(text), "t.xml", opt)
	require.NoError(t, err)
	return d
}

// Each file is refused with one problem at the place, in these words.
func TestRefused(t *testing.T) {
	surface := func(pnts, faces string) string {
		return ns + metres + "<Surfaces><Surface name=\"S\"><Definition surfType=\"TIN\"><Pnts>" + pnts + "</Pnts><Faces>" + faces + "</Faces></Definition></Surface></Surfaces></LandXML>"
	}
	three := `<P id="1">0 0 1</P><P id="2">0 10 1</P><P id="3">10 0 2</P>`
	for name, c := range map[string]struct{ text, want string }{
		"no units":            {ns + triangle + "</LandXML>", "t.xml: Units: the file does not say its unit of length"},
		"two units":           {ns + metres + strings.Replace(metres, "linearUnit=\"meter\"", "linearUnit=\"kilometer\"", 1) + "</LandXML>", "a second Units element says \"kilometer\""},
		"unknown unit":        {ns + strings.Replace(metres, "\"meter\"", "\"cubit\"", 1) + "</LandXML>", "\"cubit\" is not a unit of length"},
		"level unit":          {ns + strings.Replace(metres, "linearUnit", "elevationUnit=\"feet\" linearUnit", 1) + "</LandXML>", "levels are said to be in \"feet\""},
		"other root":          {"<gpx/>", "the root element is <gpx>"},
		"cut off":             {ns + metres + "<Surfaces><Surface name=\"S\">", "the file ends inside <Surface>"},
		"cut off in a tag":    {ns + metres + "<Surfaces><Surface name=", "the file ends inside a tag"},
		"tags do not match":   {ns + metres + "<Surfaces></Surface></LandXML>", "</Surface> closes <Surfaces>"},
		"document type":       {"<!DOCTYPE x [<!ENTITY a \"b\">]>" + ns + "</LandXML>", "document type declaration"},
		"nested":              {ns + strings.Repeat("<a>", 200), "nested more than 100 deep"},
		"empty":               {"", "there is no element in the file"},
		"unknown encoding":    {`<?xml version="1.0" encoding="klingon"?>` + ns + "</LandXML>", "encoding is \"klingon\""},
		"utf-16 that is not":  {`<?xml version="1.0" encoding="UTF-16"?>` + ns + "</LandXML>", "says that it is in UTF-16, and it is not"},
		"dangling face":       {surface(three, "<F>1 2 4</F>"), "face 1 names point 4"},
		"duplicate point":     {surface(three+`<P id="3">9 9 9</P>`, "<F>1 2 3</F>"), "point number 3 stands twice"},
		"face of four":        {surface(three+`<P id="4">9 9 9</P>`, "<F>1 2 3 4</F>"), "face 1 has 4 points"},
		"point of two":        {surface(`<P id="1">0 0</P>`, "<F>1 2 3</F>"), "point 1 does not have three numbers"},
		"point without id":    {surface(`<P>0 0 1</P>`, "<F>1 2 3</F>"), "a point has the number \"\""},
		"NaN":                 {surface(`<P id="1">0 NaN 1</P>`, ""), "\"NaN\" is not a coordinate"},
		"INF":                 {surface(`<P id="1">0 INF 1</P>`, ""), "\"INF\" is not a coordinate"},
		"hexadecimal":         {surface(`<P id="1">0 0x1p4 1</P>`, ""), "\"0x1p4\" is not a coordinate"},
		"dangling reference":  {ns + metres + `<CgPoints><CgPoint name="a" pntRef="b"/></CgPoints></LandXML>`, "refers to point \"b\", which is not in the file"},
		"circle":              {ns + metres + `<CgPoints><CgPoint name="a" pntRef="b"/><CgPoint name="b" pntRef="a"/></CgPoints></LandXML>`, "in a circle"},
		"ambiguous reference": {ns + metres + `<CgPoints><CgPoint name="a">1 2 3</CgPoint></CgPoints><CgPoints><CgPoint name="a">1 2 4</CgPoint><CgPoint name="c" pntRef="a"/></CgPoints></LandXML>`, "stands in the file twice"},
		"one number":          {ns + metres + `<CgPoints><CgPoint name="a">1</CgPoint></CgPoints></LandXML>`, "1 numbers where"},
		"grid":                {ns + metres + `<Surfaces><Surface name="S"><Definition surfType="grid"/></Surface></Surfaces></LandXML>`, "grid of squares"},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeText(t, c.text, formats.Options{})
			require.NotEmpty(t, d.Problems)
			assert.Contains(t, d.Problems[0].String()+d.Problems[len(d.Problems)-1].String(), c.want)
			if name == "no units" {
				return // it stays to be looked at; without a unit nothing can be done with it
			}
			assert.Empty(t, d.Surfaces, "nothing of a refused surface is left")
		})
	}
}

func TestPlaceOfAProblem(t *testing.T) {
	d := decodeText(t, ns+metres+"\n<CgPoints>\n  <CgPoint name=\"a\">1 2 three</CgPoint>\n</CgPoints></LandXML>", formats.Options{})
	require.Len(t, d.Problems, 1)
	assert.Equal(t, "t.xml:3:21: a: \"three\" is not a coordinate", d.Problems[0].String())
}

func TestUnitsMayStandLast(t *testing.T) {
	d := decodeText(t, ns+triangle+metres+"</LandXML>", formats.Options{})
	assert.Empty(t, d.Problems)
	assert.Equal(t, unit.M, d.Units.Linear)
	assert.Len(t, d.Surfaces, 1)
}

func TestDeclaredUnit(t *testing.T) {
	d := decodeText(t, ns+triangle+"</LandXML>", formats.Options{Unit: unit.FtUS})
	assert.Empty(t, d.Problems)
	assert.Equal(t, unit.FtUS, d.Units.Linear)
	d = decodeText(t, ns+metres+triangle+"</LandXML>", formats.Options{Unit: unit.FtUS})
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].Text, "the file is in m, and ftUS is declared for it")
}

func TestGapsCommentsEntitiesAndForeignElements(t *testing.T) {
	d := decodeText(t, ns+metres+`<x:note xmlns:x="urn:other"><Surface name="no"/></x:note><Surfaces><Surface name="A &amp; B &#x41;"><Definition surfType="TIN"><Pnts>`+
		`<P id="7">0 0 <!-- level --> 1.</P><P id="9">0`+"\n\t"+`10 1E0</P><P id="90000">10 0 <![CDATA[2]]></P></Pnts><Faces><F i="1">7 9 90000</F><F n="0 0 0">9 7 90000</F></Faces></Definition></Surface></Surfaces></LandXML>`, formats.Options{})
	require.Empty(t, d.Problems)
	require.Len(t, d.Surfaces, 1)
	s := d.Surfaces[0]
	assert.Equal(t, "A & B A", s.Name)
	assert.Equal(t, 1, s.Invisible)
	assert.True(t, s.Faces[0].Invisible)
	assert.Equal(t, [3]int32{1, 0, 2}, s.Faces[1].V)
	assert.Equal(t, "10", s.Vertices[1].E.String(), "northing comes first")
	assert.Equal(t, "2", s.Vertices[2].Z.String())
}

func TestPointWithoutLevelStaysWithout(t *testing.T) {
	d := decodeText(t, ns+metres+`<CgPoints><CgPoint name="001" code="PEG">5 6</CgPoint><CgPoint name="1">5 6 0</CgPoint><CgPoint name="r" pntRef="1"/></CgPoints></LandXML>`, formats.Options{})
	require.Empty(t, d.Problems)
	require.Len(t, d.Points, 3)
	assert.Equal(t, "001", d.Points[0].ID)
	assert.False(t, d.Points[0].Levelled)
	assert.True(t, d.Points[1].Levelled)
	assert.Equal(t, d.Points[1].E, d.Points[2].E)
}

func TestPipeSizesKeepTheirOwnUnit(t *testing.T) {
	net := func(units, own string) *formats.Document {
		return decodeText(t, ns+units+`<PipeNetworks><PipeNetwork name="N" pipeNetType="storm"><Structs><Struct name="A" elevSump="1"><Center>0 0</Center><Connection/><Invert elev="2" flowDir="out" refPipe="P"/></Struct>`+
			`<Struct name="B"><Center>0 10</Center><Connection/><Invert elev="1.9" flowDir="in" refPipe="P"/></Struct></Structs><Pipes>`+own+`<Pipe name="P" refStart="A" refEnd="B"><CircPipe diameter="300" thickness="NaN"/></Pipe></Pipes></PipeNetwork></PipeNetworks></LandXML>`, formats.Options{})
	}
	d := net(metres, "")
	require.Empty(t, d.Problems)
	p := d.Networks[0].Pipes[0]
	assert.Equal(t, unit.MM, p.DimUnit)
	assert.False(t, p.Wall.Set)
	assert.Equal(t, "2", d.Networks[0].Structures[0].Inverts[0].Elev.Value.String())
	bare := strings.Replace(metres, ` diameterUnit="millimeter"`, "", 1)
	d = net(bare, "")
	assert.False(t, d.Networks[0].Pipes[0].DimUnit.Known())
	assert.Contains(t, fmt.Sprint(d.Notes), "size without a unit")
	d = net(bare, strings.Replace(metres, "millimeter", "centimeter", 1))
	assert.Equal(t, unit.CM, d.Networks[0].Pipes[0].DimUnit)
}

// Encode and Decode again: nothing changes, in the real files neither.
func TestRoundTrip(t *testing.T) {
	files, err := filepath.Glob(fixture.Shared(t, "landxml", "files", "*.xml"))
	require.NoError(t, err)
	for _, path := range files {
		d := decodeFile(t, path)
		if len(d.Problems) > 0 {
			continue
		}
		t.Run(filepath.Base(path), func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
			again, err := Decode(&b, filepath.Base(path), formats.Options{})
			require.NoError(t, err)
			require.Empty(t, again.Problems)
			c, e := d.Counts(), again.Counts()
			c.Alignments = 0 // not carried, and not claimed to be
			assert.Equal(t, c, e)
			for i := range d.Surfaces {
				assert.Equal(t, d.Surfaces[i].Faces, again.Surfaces[i].Faces)
				for k := range d.Surfaces[i].Vertices {
					v, w := d.Surfaces[i].Vertices[k], again.Surfaces[i].Vertices[k]
					v.Row, w.Row = 0, 0
					require.Equal(t, v, w)
				}
			}
			for i := range d.Points {
				p, r := d.Points[i], again.Points[i]
				assert.Equal(t, []any{p.ID, p.E, p.N, p.Z, p.Levelled, p.Code}, []any{r.ID, r.E, r.N, r.Z, r.Levelled, r.Code})
			}
		})
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(ns + metres + triangle + "</LandXML>"))
	f.Add([]byte(ns + metres + `<CgPoints><CgPoint name="a" pntRef="b"/></CgPoints></LandXML>`))
	f.Add([]byte("\xff\xfe<\x00L\x00"))
	f.Add([]byte(`<LandXML><PipeNetworks><PipeNetwork><Structs><Struct><Center>1 2</Center><Invert elev="1"/></Struct></Structs><Pipes><Pipe><CircPipe/></Pipe></Pipes></PipeNetwork></PipeNetworks></LandXML>`))
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := Decode(bytes.NewReader(text), "f.xml", formats.Options{Unit: unit.M})
		if err != nil {
			return
		}
		for i := range d.Surfaces {
			for _, face := range d.Surfaces[i].Faces {
				for _, v := range face.V {
					if int(v) >= len(d.Surfaces[i].Vertices) || v < 0 {
						t.Fatal("a face names a vertex that is not there")
					}
				}
			}
		}
		if len(d.Problems) == 0 {
			var b bytes.Buffer
			if Encode(&b, d, formats.EncodeOptions{}) == nil {
				again, err := Decode(&b, "f.xml", formats.Options{})
				if err != nil || len(again.Problems) > 0 {
					t.Fatalf("what was written is not read: %v %v", err, again.Problems)
				}
			}
		}
	})
}

func BenchmarkDecode(b *testing.B) {
	path := filepath.Join(fixture.Shared(b, "landxml", "files"), "d05_terrain_20k_pts_iso8859_profile_ns.xml")
	text, err := os.ReadFile(path)
	require.NoError(b, err)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := Decode(bytes.NewReader(text), "d05", formats.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
