package landxml

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

func encoded(t require.TestingT, d *formats.Document) []byte {
	var b bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{}))
	return b.Bytes()
}

// bare is a document without what an encoder cannot carry: places in the file,
// notes, and what the file says of itself but for date, time and project.
func bare(d *formats.Document) *formats.Document {
	out := *d
	out.File, out.Format, out.Notes, out.PointCount, out.About = "", "", nil, 0, nil
	for _, p := range d.About {
		if p.Name == "date" || p.Name == "time" || p.Name == "project" {
			out.About = append(out.About, p)
		}
	}
	out.Points = append([]formats.Point{}, d.Points...)
	for i := range out.Points {
		p := &out.Points[i]
		p.Row, p.Col, p.Time = 0, 0, ""
	}
	out.Surfaces = append([]formats.Surface{}, d.Surfaces...)
	for i := range out.Surfaces {
		s := &out.Surfaces[i]
		s.Pos, s.Source = formats.Pos{}, ""
		s.Vertices = append([]formats.Vertex{}, s.Vertices...)
		for k := range s.Vertices {
			s.Vertices[k].Row = 0
		}
	}
	for i := range out.Surfaces {
		out.Surfaces[i].Breaklines = unplaced(out.Surfaces[i].Breaklines)
		out.Surfaces[i].Boundaries = unplaced(out.Surfaces[i].Boundaries)
	}
	out.Alignments = unplaced(d.Alignments)
	out.Networks = append([]formats.Network{}, d.Networks...)
	for i := range out.Networks {
		n := &out.Networks[i]
		n.Pos = formats.Pos{}
		n.Structures = append([]formats.Structure{}, n.Structures...)
		for k := range n.Structures {
			s := &n.Structures[k]
			s.Pos, s.Rim.Col, s.Sump.Col, s.Diameter.Col, s.Length.Col, s.Width.Col = formats.Pos{}, 0, 0, 0, 0, 0
			s.Inverts = append([]formats.Invert{}, s.Inverts...)
			for j := range s.Inverts {
				s.Inverts[j].Pos, s.Inverts[j].Elev.Col = formats.Pos{}, 0
			}
		}
		n.Pipes = append([]formats.Pipe{}, n.Pipes...)
		for k := range n.Pipes {
			p := &n.Pipes[k]
			p.Pos, p.Bore.Col, p.Wall.Col, p.Width.Col, p.Bottom.Col, p.Slope.Col, p.Length.Col = formats.Pos{}, 0, 0, 0, 0, 0, 0
			p.Centre.Row, p.Centre.Col = 0, 0
		}
	}
	return &out
}

// Real files, written and read again, hold the same.
func TestRealFilesWrittenAndReadAgain(t *testing.T) {
	for _, path := range realFiles(t) {
		d := decodeFile(t, path)
		if len(d.Problems) > 0 {
			continue
		}
		t.Run(filepath.Base(path), func(t *testing.T) {
			again, err := Decode(bytes.NewReader(encoded(t, d)), d.File, formats.Options{})
			require.NoError(t, err)
			require.Empty(t, again.Problems)
			assert.Equal(t, d.Counts(), again.Counts())
			assert.Equal(t, bare(d), bare(again))
			assert.Equal(t, encoded(t, d), encoded(t, again))
		})
	}
}

// generators of documents.
var (
	anyText = rapid.StringOf(rapid.RuneFrom([]rune("aZ09 <>&\"'/=\t\n\r;:-é×€\u00a0\u2028\U0001F600]")))
	anyName = rapid.StringOfN(rapid.RuneFrom([]rune("AB12 &<é")), 0, 6, -1)
	decimal = rapid.Custom(func(t *rapid.T) unit.Decimal {
		return unit.Decimal{Coef: rapid.Int64Range(-999_999_999_999_999_999, 999_999_999_999_999_999).Draw(t, "coef"), Places: uint8(rapid.IntRange(0, unit.MaxDigits).Draw(t, "places"))}
	})
	reading = rapid.Custom(func(t *rapid.T) formats.Reading { return formats.Reading{Set: true, Value: decimal.Draw(t, "value")} })
	maybe   = rapid.Custom(func(t *rapid.T) formats.Reading {
		if rapid.Bool().Draw(t, "set") {
			return reading.Draw(t, "reading")
		}
		return formats.Reading{}
	})
)

func anyPoint(t *rapid.T) formats.Point {
	p := formats.Point{ID: anyName.Draw(t, "name"), Code: anyText.Draw(t, "code"), Desc: anyText.Draw(t, "desc")}
	if p.Placed = rapid.IntRange(0, 5).Draw(t, "placed") > 0; p.Placed {
		p.E, p.N = decimal.Draw(t, "E"), decimal.Draw(t, "N")
		if p.Levelled = rapid.Bool().Draw(t, "levelled"); p.Levelled {
			p.Z = decimal.Draw(t, "Z")
		}
	}
	return p
}

func anySurface(t *rapid.T) formats.Surface {
	s := formats.Surface{Name: anyText.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), Vertices: []formats.Vertex{}}
	id := 0
	for range rapid.SampledFrom([]int{0, 3, 4, 7}).Draw(t, "vertices") {
		id += rapid.SampledFrom([]int{1, 1, 1, 2, 50, 50_000_000}).Draw(t, "step")
		s.Vertices = append(s.Vertices, formats.Vertex{E: decimal.Draw(t, "E"), N: decimal.Draw(t, "N"), Z: decimal.Draw(t, "Z"), ID: id})
	}
	if n := len(s.Vertices); n > 0 {
		if rapid.Bool().Draw(t, "turned") {
			s.Vertices[0].ID, s.Vertices[n-1].ID = s.Vertices[n-1].ID, s.Vertices[0].ID
		}
		corner := rapid.Int32Range(0, int32(n-1))
		for range rapid.IntRange(1, 5).Draw(t, "faces") {
			f := formats.Face{V: [3]int32{corner.Draw(t, "a"), corner.Draw(t, "b"), corner.Draw(t, "c")}, Invisible: rapid.Bool().Draw(t, "invisible")}
			if f.Invisible {
				s.Invisible++
			}
			s.Faces = append(s.Faces, f)
		}
	}
	s.Breaklines, s.Boundaries = anyLines(t)
	return s
}

func anyNetwork(t *rapid.T, dia, tall unit.Unit) formats.Network {
	n := formats.Network{Name: anyText.Draw(t, "name"), Type: rapid.SampledFrom([]string{"sanitary", "storm", "water", "other"}).Draw(t, "type")}
	for range rapid.IntRange(2, 4).Draw(t, "structures") {
		s := formats.Structure{Name: anyName.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), Rim: maybe.Draw(t, "rim"), Sump: maybe.Draw(t, "sump"),
			Kind: rapid.SampledFrom([]string{"circular", "rectangular", "inlet", "outlet", "connection"}).Draw(t, "kind")}
		if s.Placed = rapid.Bool().Draw(t, "placed"); s.Placed {
			s.E, s.N = decimal.Draw(t, "E"), decimal.Draw(t, "N")
		}
		switch s.Kind {
		case "circular":
			s.Diameter, s.DimUnit = reading.Draw(t, "diameter"), dia
		case "rectangular":
			s.Length, s.Width, s.DimUnit = reading.Draw(t, "length"), reading.Draw(t, "width"), tall
		}
		for range rapid.IntRange(1, 3).Draw(t, "inverts") {
			s.Inverts = append(s.Inverts, formats.Invert{Elev: reading.Draw(t, "elev"), Flow: rapid.SampledFrom([]string{"in", "out", "both"}).Draw(t, "flow"), Pipe: anyName.Draw(t, "pipe")})
		}
		n.Structures = append(n.Structures, s)
	}
	for range rapid.IntRange(1, 3).Draw(t, "pipes") {
		p := formats.Pipe{Name: anyName.Draw(t, "name"), Start: anyName.Draw(t, "start"), End: anyName.Draw(t, "end"), Shape: rapid.SampledFrom([]string{"circular", "egg", "elliptical", "rectangular", "channel"}).Draw(t, "shape"),
			Bore: reading.Draw(t, "bore"), Wall: maybe.Draw(t, "wall"), DimUnit: dia, Material: anyText.Draw(t, "material"), Slope: maybe.Draw(t, "slope"), Length: maybe.Draw(t, "length"), Desc: anyText.Draw(t, "desc")}
		if p.Shape != "circular" {
			p.Width, p.DimUnit = reading.Draw(t, "width"), tall
		}
		if p.Shape == "channel" {
			p.Bottom = reading.Draw(t, "bottom")
		}
		p.Centre = anyPlace.Draw(t, "centre")
		n.Pipes = append(n.Pipes, p)
	}
	return n
}

func anyDocument(t *rapid.T) *formats.Document {
	d := &formats.Document{Units: formats.Units{Linear: rapid.SampledFrom(unit.Units).Draw(t, "unit")}}
	sizes := []unit.Unit{unit.Ft, unit.FtUS, unit.In}
	if metric(d.Units.Linear) {
		sizes = []unit.Unit{unit.MM, unit.CM, unit.M, unit.KM}
	}
	size := rapid.SampledFrom(append(sizes, unit.Unit{}))
	trimmed := rapid.Map(anyText, strings.TrimSpace)
	d.CRS = formats.CRS{EPSG: rapid.SampledFrom([]string{"", "7855"}).Draw(t, "code"), Name: trimmed.Draw(t, "grid"), Vertical: trimmed.Draw(t, "datum")}
	if rapid.Bool().Draw(t, "dated") {
		d.About = []formats.Property{{Name: "date", Value: "2024-02-29"}, {Name: "time", Value: rapid.SampledFrom([]string{"23:59:59", "00:00:00.25Z", "07:05:00+02:00"}).Draw(t, "time")}}
	}
	if p := anyText.Draw(t, "project"); p != "" {
		d.About = append(d.About, formats.Property{Name: "project", Value: p})
	}
	for range rapid.IntRange(0, 5).Draw(t, "points") {
		d.Points = append(d.Points, anyPoint(t))
	}
	for range rapid.IntRange(0, 2).Draw(t, "surfaces") {
		d.Surfaces = append(d.Surfaces, anySurface(t))
	}
	for range rapid.IntRange(0, 2).Draw(t, "alignments") {
		d.Alignments = append(d.Alignments, anyAlignment(t, d.Points))
	}
	d.Units.Diameter = size.Draw(t, "diameters")
	tall := size.Draw(t, "heights")
	for range rapid.IntRange(0, 2).Draw(t, "networks") {
		d.Networks = append(d.Networks, anyNetwork(t, d.Units.Diameter, tall))
	}
	return d
}

// What is written is read as it was, and written again is the same.
func TestDecodeOfEncodeIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDocument(t)
		text := encoded(t, d)
		again, err := Decode(bytes.NewReader(text), "t.xml", formats.Options{})
		require.NoError(t, err)
		require.Empty(t, again.Problems, string(text))
		want := bare(d)
		if len(want.About) == 0 || want.About[0].Name != "date" {
			want.About = append([]formats.Property{{Name: "date", Value: "1970-01-01"}, {Name: "time", Value: "00:00:00"}}, want.About...)
		}
		require.Equal(t, want, bare(again), string(text))
		again.About = d.About // the version, and a date that was not known
		require.Equal(t, string(text), string(encoded(t, again)))
	})
}

func TestWrittenFile(t *testing.T) {
	d := read(t, root+units("Metric", `linearUnit="meter" diameterUnit="millimeter" widthUnit="millimeter"`)+`<CoordinateSystem epsgCode="EPSG:7855" desc="MGA &amp; more" verticalDatum="AHD"/><Project name="Depot"/>`+
		points(`<CgPoint name="A" code="PEG">1.50 2.0</CgPoint><CgPoint name="A">1 2 3.</CgPoint><CgPoint/>`)+surface(three+`<P id="7">10 10 2.500</P>`, `<F>1 2 3</F><F i="1">2 7 3</F>`)+network("", "", circular)+"</LandXML>")
	assert.Equal(t, `<?xml version="1.0" encoding="UTF-8"?>
<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" date="2026-01-01" time="00:00:00" version="1.2">
 <Units>
  <Metric areaUnit="squareMeter" volumeUnit="cubicMeter" temperatureUnit="celsius" pressureUnit="HPA" linearUnit="meter" diameterUnit="millimeter" widthUnit="millimeter"/>
 </Units>
 <CoordinateSystem name="MGA &amp; more" epsgCode="7855" verticalDatum="AHD"/>
 <Project name="Depot"/>
 <CgPoints>
  <CgPoint name="A" code="PEG">1.50 2.0</CgPoint>
 </CgPoints>
 <CgPoints>
  <CgPoint name="A">1 2 3</CgPoint>
  <CgPoint></CgPoint>
 </CgPoints>
 <Surfaces>
  <Surface name="S">
   <Definition surfType="TIN">
    <Pnts>
     <P id="1">0 0 1</P>
     <P id="2">0 10 1</P>
     <P id="3">10 0 2</P>
     <P id="7">10 10 2.500</P>
    </Pnts>
    <Faces>
     <F>1 2 3</F>
     <F i="1">2 7 3</F>
    </Faces>
   </Definition>
  </Surface>
 </Surfaces>
 <PipeNetworks>
  <PipeNetwork name="N 1" pipeNetType="storm">
   <Structs>
    <Struct name=" A" desc="first" elevRim="4" elevSump="1">
     <Center>100 200</Center>
     <CircStruct diameter="1050"/>
     <Invert elev="2.345" flowDir="out" refPipe="P"/>
    </Struct>
    <Struct name="B">
     <Center>100 210</Center>
     <RectStruct length="900" width="600"/>
     <Invert elev="1.9" flowDir="in" refPipe="P"/>
    </Struct>
   </Structs>
   <Pipes>
    <Pipe name="P" refStart=" A" refEnd="B" slope="1.0" length="10">
     <CircPipe diameter="300" thickness="30" material="concrete"/>
    </Pipe>
   </Pipes>
  </PipeNetwork>
 </PipeNetworks>
</LandXML>
`, string(encoded(t, d)))
}

func TestDateAndTimeAreNotInvented(t *testing.T) {
	d := &formats.Document{Units: formats.Units{Linear: unit.M}}
	none := string(encoded(t, d))
	assert.Contains(t, none, `date="1970-01-01" time="00:00:00"`)
	assert.Contains(t, none, "<!-- Date and time are not known. -->")
	for _, x := range [][2]string{{"2026-02-29", "10:00:00"}, {"26.10.2020", "10:00:00"}, {"2026-02-28", "25:00:00"}, {"2026-02-28", ""}, {"", "10:00:00"}, {"2026-02-28", "10:00"}} {
		d.About = []formats.Property{{Name: "date", Value: x[0]}, {Name: "time", Value: x[1]}}
		assert.Equal(t, none, string(encoded(t, d)), x)
	}
	d.About = []formats.Property{{Name: "date", Value: "2026-02-28"}, {Name: "time", Value: "10:00:00"}}
	assert.NotContains(t, string(encoded(t, d)), "not known")
}

// Numbers of vertices that will not do are counted anew.
func TestNumbersOfVertices(t *testing.T) {
	for _, c := range []struct{ ids, want [3]int }{
		{[3]int{5, 6, 9}, [3]int{5, 6, 9}}, {[3]int{9, 5, 6}, [3]int{9, 5, 6}}, {[3]int{0, 0, 0}, [3]int{1, 2, 3}}, {[3]int{3, 4, 3}, [3]int{1, 2, 3}},
		{[3]int{1, 2, 1_000_000_000}, [3]int{1, 2, 3}}, {[3]int{-1, 1, 2}, [3]int{1, 2, 3}},
	} {
		s := formats.Surface{Name: "S", Faces: []formats.Face{{V: [3]int32{2, 1, 0}}}}
		for i, id := range c.ids {
			s.Vertices = append(s.Vertices, formats.Vertex{ID: id, E: unit.Decimal{Coef: int64(i)}})
		}
		again := read(t, string(encoded(t, &formats.Document{Units: formats.Units{Linear: unit.M}, Surfaces: []formats.Surface{s}})))
		for i, v := range again.Surfaces[0].Vertices {
			assert.Equal(t, c.want[i], v.ID)
		}
		assert.Equal(t, s.Faces, again.Surfaces[0].Faces)
	}
}

// What LandXML cannot hold is an error that names it.
func TestWhatCannotBeWritten(t *testing.T) {
	whole := func() *formats.Document {
		d := read(t, root+units("Metric", `linearUnit="meter" diameterUnit="millimeter" widthUnit="millimeter" heightUnit="millimeter"`)+network("", "", circular)+points(`<CgPoint name="A">1 2 3</CgPoint>`)+surface(three, "<F>1 2 3</F>")+"</LandXML>")
		d.File = "a.csv"
		return d
	}
	encoded(t, whole())
	for want, change := range map[string]func(d *formats.Document){
		"LandXML needs the unit of length, and a.csv does not say it; declare it with --unit": func(d *formats.Document) { d.Units.Linear = unit.Unit{} },
		"LandXML has no unit chain; bring the file to m, mm":                                  func(d *formats.Document) { d.Units.Linear = unit.Unit{Name: "chain", Size: 1} },
		"levels are in mm and lengths in m; LandXML holds one unit for both":                  func(d *formats.Document) { d.Units.Level = unit.MM },
		`point "A" has no easting and northing`:                                               func(d *formats.Document) { d.Points[0].Placed = false },
		`point "B" has no easting and northing`:                                               func(d *formats.Document) { d.Points = append(d.Points, formats.Point{ID: "B", Chained: true}) },
		`point "A" could not be read (level)`:                                                 func(d *formats.Document) { d.Points[0].Bad = "level" },
		"it holds a character that XML cannot hold":                                           func(d *formats.Document) { d.Points[0].Code = "a\x01b" },
		`desc="a\xffb": it holds a character`:                                                 func(d *formats.Document) { d.Points[0].Desc = "a\xffb" },
		`name="\ufffe": it holds a character`:                                                 func(d *formats.Document) { d.Surfaces[0].Name = "\ufffe" },
		`surface "S" has points and no faces`:                                                 func(d *formats.Document) { d.Surfaces[0].Faces = nil },
		`surface "S" has 1 points; LandXML wants three at least`:                              func(d *formats.Document) { d.Surfaces[0].Vertices = d.Surfaces[0].Vertices[:1] },
		`the network "N 1" has 1 structures and 1 pipes`:                                      func(d *formats.Document) { d.Networks[0].Structures = d.Networks[0].Structures[:1] },
		`the network "N 1" has 2 structures and 0 pipes`:                                      func(d *formats.Document) { d.Networks[0].Pipes = nil },
		`the network "N 1" is of the type "gas"`:                                              func(d *formats.Document) { d.Networks[0].Type = "gas" },
		`structure "B" of the network "N 1" has no invert`:                                    func(d *formats.Document) { d.Networks[0].Structures[1].Inverts = nil },
		`structure "B" of the network "N 1" has an invert without a level`:                    func(d *formats.Document) { d.Networks[0].Structures[1].Inverts[0].Elev.Set = false },
		`structure "B" of the network "N 1" has an invert without a direction of flow`:        func(d *formats.Document) { d.Networks[0].Structures[1].Inverts[0].Flow = "" },
		`structure "B" of the network "N 1" has no length or no width`:                        func(d *formats.Document) { d.Networks[0].Structures[1].Width.Set = false },
		`structure " A" of the network "N 1" has no diameter`:                                 func(d *formats.Document) { d.Networks[0].Structures[0].Diameter.Set = false },
		`structure " A" of the network "N 1" has no kind`:                                     func(d *formats.Document) { d.Networks[0].Structures[0].Kind = "" },
		`pipe "P" of the network "N 1" does not say its shape`:                                func(d *formats.Document) { d.Networks[0].Pipes[0].Shape = "" },
		`pipe "P" of the network "N 1" has no diameter`:                                       func(d *formats.Document) { d.Networks[0].Pipes[0].Bore.Set = false },
		`pipe "P" of the network "N 1" has no span`:                                           func(d *formats.Document) { d.Networks[0].Pipes[0].Shape = "egg" },
		`pipe "P" has its size in m, and others have theirs in mm`:                            func(d *formats.Document) { d.Networks[0].Pipes[0].DimUnit = unit.M },
		`pipe "P" has its size in an unknown unit, and others have theirs in mm`:              func(d *formats.Document) { d.Networks[0].Pipes[0].DimUnit = unit.Unit{} },
		"pipe sizes in mm cannot stand beside lengths in ft":                                  func(d *formats.Document) { d.Units.Linear = unit.Ft },
	} {
		d := whole()
		change(d)
		var b bytes.Buffer
		err := Encode(&b, d, formats.EncodeOptions{})
		if assert.Error(t, err, want) {
			assert.Contains(t, err.Error(), want)
		}
	}
	d := whole()
	d.Units.Linear = unit.Unit{}
	var b bytes.Buffer
	require.NoError(t, Encode(&b, d, formats.EncodeOptions{Unit: unit.M}))
	assert.Contains(t, b.String(), `linearUnit="meter"`)
	assert.EqualError(t, Encode(&b, whole(), formats.EncodeOptions{Unit: unit.Ft}), "a.csv is in m and ft is asked for; LandXML is written in the unit that was read: leave the unit out")
	require.Error(t, Encode(full{}, whole(), formats.EncodeOptions{}))
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, fmt.Errorf("no space left") }
