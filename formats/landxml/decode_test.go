package landxml

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

const root = `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2" date="2026-01-01" time="00:00:00">`
const metres = `<Units><Metric linearUnit="meter" areaUnit="squareMeter" volumeUnit="cubicMeter" temperatureUnit="celsius" pressureUnit="HPA" diameterUnit="millimeter"/></Units>`
const three = `<P id="1">0 0 1</P><P id="2">0 10 1</P><P id="3">10 0 2</P>`

// surface is a Surfaces element with one surface.
func surface(pnts, faces string) string {
	return `<Surfaces><Surface name="S"><Definition surfType="TIN"><Pnts>` + pnts + "</Pnts><Faces>" + faces + "</Faces></Definition></Surface></Surfaces>"
}

func points(s string) string { return "<CgPoints>" + s + "</CgPoints>" }

// file is a whole file with units.
func file(body string) string { return root + metres + body + "</LandXML>" }

func decodeText(t testing.TB, text string, opt formats.Options) *formats.Document {
	d, err := Decode(strings.NewReader(text), "t.xml", opt)
	require.NoError(t, err)
	return d
}

// read decodes a text in which nothing may be wrong.
func read(t testing.TB, text string) *formats.Document {
	d := decodeText(t, text, formats.Options{})
	require.Empty(t, d.Problems)
	return d
}

func texts(list []formats.Problem) string {
	var b strings.Builder
	for _, p := range list {
		b.WriteString(p.String() + "\n")
	}
	return b.String()
}

// refusals holds that each text has one problem, in these words, and that
// nothing of a broken part is left. A § marks the place of the problem.
func refusals(t *testing.T, cases map[string][2]string) {
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			before, after, marked := strings.Cut(c[0], "§")
			d := decodeText(t, before+after, formats.Options{})
			require.Len(t, d.Problems, 1, texts(d.Problems))
			assert.Contains(t, d.Problems[0].String(), c[1])
			if marked {
				line := before[strings.LastIndexByte(before, '\n')+1:]
				assert.Equal(t, formats.Pos{File: "t.xml", Row: strings.Count(before, "\n") + 1, Col: len(line) + 1}, d.Problems[0].Pos)
			}
			assert.Empty(t, d.Surfaces, "nothing of a refused surface is left")
		})
	}
}

func TestSurfacesRefused(t *testing.T) {
	one := func(p string) string { return file(surface(three+p, "")) }
	refusals(t, map[string][2]string{
		"dangling face":             {file(surface(three, "<F>1 2 4</F>")), "surface S: face 1 names point 4, which the surface does not have"},
		"dangling face with gaps":   {file(surface(`<P id="7">0 0 1</P>`+three, "<F>1 2 7</F><F>1 2 5</F>")), "face 2 names point 5, which"},
		"dangling face, far":        {file(surface(`<P id="90000000">0 0 1</P>`+three, "<F>1 2 7</F>")), "face 1 names point 7, which"},
		"points after faces":        {root + metres + `<Surfaces><Surface name="S"><Definition surfType="TIN"><Faces><F>1 2 4</F></Faces><Pnts>` + three + `</Pnts></Definition></Surface></Surfaces></LandXML>`, "face 1 names point 4"},
		"duplicate point":           {one("\n\n" + `<P id="3">9 9 9</P>`), "t.xml:3: surface S: point 3 stands twice, with different coordinates in lines 1 and 3"},
		"face of four":              {file(surface(three+`<P id="4">9 9 9</P>`, "<F>1 2 3 4§</F>")), "face 1 has 4 points; only triangles are read: export the surface as a TIN"},
		"face of two":               {file(surface(three, "<F>1 2§</F>")), "face 1 has 2 points"},
		"empty face":                {file(surface(three, "<F>1 2 3</F>§<F/>")), "face 2 has 0 points"},
		"face of letters":           {file(surface(three, "<F>1 2 A§</F>")), `face 1 names point "A"; a whole number`},
		"face of point 0":           {file(surface(three, "<F>1 2 0§</F>")), `face 1 names point "0"; a whole number`},
		"face by a decimal":         {file(surface(three, "<F>1 2 3.0§</F>")), `face 1 names point "3.0"; a whole number`},
		"face of a long number":     {file(surface(three, "<F>1 2 1000000000§</F>")), `face 1 names point "1000000000"; a whole number`},
		"another mark":              {file(surface(three, "\n"+`§<F i="2">1 2 3</F>`)), `face 1 has i="2"; 1 (invisible) and 0 are known`},
		"grid":                      {root + metres + `<Surfaces><Surface name="S">§<Definition surfType="grid"/></Surface></Surfaces></LandXML>`, "grid of squares"},
		"two definitions":           {root + metres + `<Surfaces><Surface name="S"><Definition surfType="TIN"/>§<Definition surfType="TIN"/></Surface></Surfaces></LandXML>`, "defined twice"},
		"point of two":              {one("\n" + `<P id="4">§0 0</P>`), "point 4 has 2 numbers where northing, easting and level are wanted"},
		"point of four":             {one(`<P id="4">§0 0 1 2</P>`), "point 4 has 4 numbers or more where"},
		"point of none":             {one(`<P id="4">§</P>`), "point 4 has no numbers where"},
		"point without number":      {one(`§<P>0 0 1</P>`), `a point has the number ""; a whole number from 1`},
		"point number of letters":   {one(`§<P id="A">0 0 1</P>`), `a point has the number "A"`},
		"point number 0":            {one(`§<P id="0">0 0 1</P>`), `a point has the number "0"`},
		"point number below 0":      {one(`§<P id="-4">0 0 1</P>`), `a point has the number "-4"`},
		"point number too long":     {one(`§<P id="1000000000">0 0 1</P>`), `a point has the number "1000000000"`},
		"point by reference":        {one(`§<P id="4" pntRef="A"/>`), "point 4 takes its place from another point (pntRef)"},
		"NaN":                       {one(`<P id="4">§0 NaN 1</P>`), `surface S: point 4: "NaN" is not a coordinate`},
		"INF":                       {one(`<P id="4">§0 INF 1</P>`), `"INF" is not a coordinate`},
		"-INF":                      {one(`<P id="4">§0 0 -INF</P>`), `"-INF" is not a coordinate`},
		"Infinity":                  {one(`<P id="4">§0 0 Infinity</P>`), `"Infinity" is not a coordinate`},
		"nan":                       {one(`<P id="4">§0 0 nan</P>`), `"nan" is not a coordinate`},
		"hexadecimal":               {one(`<P id="4">§0 0x1p4 1</P>`), `"0x1p4" is not a coordinate`},
		"underscore":                {one(`<P id="4">§0 1_000 1</P>`), `"1_000" is not a coordinate`},
		"decimal comma":             {one(`<P id="4">§0,5 10,5 1,5</P>`), `"0,5" is not a coordinate`},
		"letter O":                  {one("<P id=\"4\">§\n 0 1O 1</P>"), `"1O" is not a coordinate`},
		"child that holds a number": {one(`<P id="4">§0 0 <Feature>1</Feature></P>`), "point 4 has 2 numbers"},
		"number beyond 18 digits":   {one(`<P id="4">§0 1e30 1</P>`), `"1e30" is not a coordinate`},
	})
}

// Coordinates are the text of the element itself, which its children part.
func TestChildrenOfAPoint(t *testing.T) {
	d := read(t, file(surface(`<P id="4">0 0 1<Feature>5</Feature></P><P id="5">0 0<x/>2</P>`, "<F>4 4 5<x>1</x></F>")+points(`<CgPoint name="a">1 2 3<Feature>9</Feature></CgPoint>`)))
	assert.Equal(t, "1", d.Surfaces[0].Vertices[0].Z.String())
	assert.Equal(t, "2", d.Surfaces[0].Vertices[1].Z.String())
	assert.Equal(t, "3", d.Points[0].Z.String())
	for _, text := range []string{surface(`<P id="1">1 2 3<Pnts><P id="2">1 2 3</P></Pnts></P>`, ""), points(`<CgPoint name="a">1 2 3<CgPoint name="b">4 5 6</CgPoint></CgPoint>`)} {
		d := decodeText(t, file(text), formats.Options{})
		require.Len(t, d.Problems, 1)
		assert.Contains(t, d.Problems[0].Text, "> stands inside another element of coordinates, where it does not belong")
	}
}

// Only the broken surface is refused.
func TestOtherSurfacesStay(t *testing.T) {
	d := decodeText(t, file(surface(three, "<F>1 2 3</F>")+strings.Replace(surface(three, "<F>1 2 9</F>"), `"S"`, `"T"`, 1)), formats.Options{})
	require.Len(t, d.Problems, 1)
	assert.Equal(t, "surface T", d.Problems[0].Field)
	require.Len(t, d.Surfaces, 1)
	assert.Equal(t, "S", d.Surfaces[0].Name)
}

func TestInvisibleFacesAreMarked(t *testing.T) {
	d := read(t, file(surface(three, `<F>1 2 3</F><F i="1">1 2 3</F><F i="0">1 2 3</F><F n="0 0 0" i='1' b="7">1 2 3</F><F i=" 1 ">1 2 3</F><F M="1">1 2 3</F>`)))
	s := d.Surfaces[0]
	var hidden []bool
	for _, f := range s.Faces {
		hidden = append(hidden, f.Invisible)
	}
	assert.Equal(t, []bool{false, true, false, true, true, false}, hidden)
	assert.Equal(t, 3, s.Invisible)
	assert.Equal(t, "faces", s.Source)
}

func TestNumbersOfPointsWithGaps(t *testing.T) {
	for _, far := range []string{"90", "900000000"} {
		d := read(t, file(surface(`<P id="7">0 0 1</P><P id="5">0 10 1</P><P id="`+far+`">10 0 2</P>`, "<F>7 5 "+far+"</F><F>5 7 "+far+"</F>")))
		s := d.Surfaces[0]
		assert.Equal(t, [3]int32{0, 1, 2}, s.Faces[0].V)
		assert.Equal(t, [3]int32{1, 0, 2}, s.Faces[1].V)
		assert.Equal(t, 5, s.Vertices[1].ID)
	}
}

func TestPointTwiceWithOnePlace(t *testing.T) {
	d := read(t, file(surface(three+`<P id="2">0.0 10.00 1</P><P id="4">5 5 5</P>`, "<F>1 2 4</F>")))
	assert.Len(t, d.Surfaces[0].Vertices, 4)
	assert.Equal(t, [3]int32{0, 1, 3}, d.Surfaces[0].Faces[0].V)
	assert.Contains(t, texts(d.Notes), "points that stand twice with the same number and coordinates, read once: 1")
}

func TestFacesThatNameAPointTwice(t *testing.T) {
	d := read(t, file(surface(three, "<F>1 2 3</F><F>1 1 3</F>")))
	assert.Len(t, d.Surfaces[0].Faces, 2)
	assert.Contains(t, texts(d.Notes), "faces that name a point twice and have no area: 1")
}

func TestSeveralListsOfFaces(t *testing.T) {
	d := read(t, file(strings.Replace(surface(three, "<F>1 2 3</F>"), "</Faces>", "</Faces><Faces><F>3 2 1</F></Faces>", 1)))
	assert.Len(t, d.Surfaces[0].Faces, 2)
}

// The forms of numbers, northing before easting.
func TestNumbers(t *testing.T) {
	d := read(t, file(surface("<P id=\"1\">12. 1E3\t-0.450</P><P id=\"2\">\n+5\r\n .5 1.5e-3\n</P><P id=\"3\">0 <!-- a level --> 0 <![CDATA[ 7.5 ]]></P><P id=\"4\">1&#x2E;5 2&#32;3</P>", "")))
	var got []string
	for _, v := range d.Surfaces[0].Vertices {
		got = append(got, v.N.String()+" "+v.E.String()+" "+v.Z.String())
	}
	assert.Equal(t, []string{"12 1000 -0.450", "5 0.5 0.0015", "0 0 7.5", "1.5 2 3"}, got)
	assert.Equal(t, 4, d.Surfaces[0].Vertices[2].Row)
}

// Nineteen digits are rounded to eighteen, and said where it may matter.
func TestLongNumbers(t *testing.T) {
	d := read(t, file(surface(`<P id="1">6407243.751220999993 0 0</P><P id="2">1234567890123.4567891 0 0</P>`, "")))
	assert.Equal(t, "6407243.75122099999", d.Surfaces[0].Vertices[0].N.String())
	assert.Contains(t, texts(d.Notes), "numbers of more than 18 digits, rounded to 18 with fewer than 9 decimals left: 1")
}

func TestSurfaceWithoutFaces(t *testing.T) {
	for body, source := range map[string]string{
		"":                             "nothing",
		`<Definition surfType="TIN"/>`: "nothing",
		`<Definition surfType="TIN"><Pnts>` + three + `</Pnts></Definition>`: "points without faces",
		`<SourceData><DataPoints><PntList3D>1 2 3</PntList3D></DataPoints><Breaklines><Breakline><PntList2D>1 2</PntList2D></Breakline><Breakline><PntList2D>1 2</PntList2D></Breakline></Breaklines></SourceData>`: "breaklines (2), lists of points (1)",
	} {
		d := read(t, file(`<Surfaces><Surface name="S">`+body+`</Surface></Surfaces>`))
		require.Len(t, d.Surfaces, 1)
		assert.Equal(t, source, d.Surfaces[0].Source)
		assert.Contains(t, texts(d.Notes), "surface S: it has no faces (it holds "+source+"); it supplies no level")
	}
	d := read(t, file(`<Surfaces/>`))
	assert.Empty(t, d.Surfaces)
}

func TestAboutHasNoPersons(t *testing.T) {
	d := read(t, file(`<Project name="Depot"/><Application name="Writer" version="2" manufacturer="M"><Author createdBy="Ann Example" createdByEmail="ann@example.org" company="C"/></Application>`))
	assert.Equal(t, []formats.Property{{Name: "LandXML version", Value: "1.2"}, {Name: "date", Value: "2026-01-01"}, {Name: "time", Value: "00:00:00"},
		{Name: "project", Value: "Depot"}, {Name: "application", Value: "Writer 2"}}, d.About)
}

func TestWhatIsNotReadIsNamed(t *testing.T) {
	d := read(t, file(`<Survey>`+points(`<CgPoint name="A">1 2 3</CgPoint>`)+`</Survey><Parcels/><Parcels/><Monuments/>`))
	assert.Equal(t, 1, d.PointCount)
	assert.Contains(t, texts(d.Notes), "these elements are not read, but for the points in them: Monuments (1), Parcels (2), Survey (1)")
}

func TestUnknownUnitIsNoLength(t *testing.T) {
	d := decodeText(t, root+surface(three, "<F>1 2 3</F>")+"</LandXML>", formats.Options{})
	require.Len(t, d.Problems, 1)
	assert.False(t, d.Units.Linear.Known())
	_, err := d.Surfaces[0].Vertices[0].Z.Length(d.Units.Linear)
	assert.ErrorIs(t, err, unit.ErrNoUnit, "the surface may be looked at, not used")
}
