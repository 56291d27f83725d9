package landxml

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

// What real LandXML files do, or the schema of 2008-07-29 allows, that a reader
// may fall into. What is not here has a test of its name with its kind.

func TestTrapUnitsBehindAlignments(t *testing.T) {
	d := read(t, root+geometry(north)+`<CoordinateSystem desc="late"/>`+metres+"</LandXML>")
	assert.Equal(t, "m", d.Units.Linear.Name)
	assert.Len(t, d.Alignments[0].Elements, 1)
	assert.Empty(t, d.Notes)
}

func TestTrapOnePrefixedElementAmongOthers(t *testing.T) {
	const q = ` staInternal="110" staAhead="500"/>`
	text := strings.Replace(root, "<LandXML ", `<LandXML xmlns:landxml="http://www.landxml.org/schema/LandXML-1.2" `, 1) + metres +
		alignment(`<CoordGeom>`+north+`</CoordGeom><landxml:StaEquation`+q) + "</LandXML>"
	assert.Len(t, read(t, text).Alignments[0].Equations, 1)
	// one of another namespace is not of LandXML
	other := strings.Replace(text, `xmlns:landxml="http://www.landxml.org/schema/LandXML-1.2"`, `xmlns:landxml="urn:other"`, 1)
	assert.Empty(t, read(t, other).Alignments[0].Equations)
}

func TestTrapEmptyTimeStamp(t *testing.T) {
	d := read(t, file(`<Application name="Writer" timeStamp=""/>`))
	assert.Empty(t, d.Notes)
}

func TestTrapAngularUnitWithTwoBlanks(t *testing.T) {
	d := read(t, root+units("Metric", `linearUnit="meter" angularUnit="decimal  dd.mm.ss" directionUnit="decimal  dd.mm.ss"`)+geometry(strings.Replace(north, "<Line", `<Line dir="-359.5958"`, 1))+"</LandXML>")
	assert.Empty(t, d.Notes)
}

// Directions are counted from east or from north, either way round. None is
// read: whatever they say, the document is the same.
func TestTrapDirectionsAreNotUsed(t *testing.T) {
	body := func(dir string) string {
		a := ` dir="` + dir + `"`
		b := ` dirStart="` + dir + `" dirEnd="` + dir + `" delta="` + dir + `"`
		s := ` theta="` + dir + `" dirStart="` + dir + `"`
		return sized("257.0796", strings.Replace(`<Line length="100"><Start>1100 400</Start><End>1100 500</End></Line>`, "<Line", "<Line"+a, 1)+strings.Replace(quarter, "<Curve", "<Curve"+b, 1)) +
			strings.Replace(sized("80", strings.Replace(transition, "<Spiral", "<Spiral"+s, 1)), `"A"`, `"B"`, 1)
	}
	want := read(t, file(body("0")))
	assert.Empty(t, want.Notes)
	for _, dir := range []string{"90", "270", "1.5707963", "-359.5958", "nonsense", ""} {
		got := read(t, file(body(dir)))
		assert.Equal(t, unplaced(want.Alignments), unplaced(got.Alignments), dir)
		assert.Empty(t, got.Notes)
	}
}

func TestTrapAttributesThatVersion2LeavesOut(t *testing.T) {
	d := read(t, strings.NewReplacer("LandXML-1.2", "LandXML-2.0", `version="1.2"`, `version="2.0"`).Replace(root)+metres+`<Alignments><Alignment name="A"><CoordGeom>`+north+`</CoordGeom></Alignment></Alignments>`+
		surface(three, `<F M="1">1 2 3</F>`)+"</LandXML>")
	a := d.Alignments[0]
	assert.False(t, a.Stationed || a.Measured)
	assert.Contains(t, texts(d.Notes), "its stations are unknown", "a station that is not said is not 0")
	assert.Equal(t, 0, d.Surfaces[0].Invisible, "a material is no mark of invisibility")
}

func TestTrapChildrenOfAnAlignmentInAnyOrder(t *testing.T) {
	parts := []string{`<CoordGeom>` + north + `</CoordGeom>`, `<Profile><ProfAlign name="P"><PVI>100 1</PVI><PVI>120 2</PVI></ProfAlign></Profile>`, `<CrossSects><CrossSect sta="101"/></CrossSects>`, `<StaEquation staInternal="110" staAhead="7"/>`}
	want := read(t, file(alignment(strings.Join(parts, ""))))
	got := read(t, file(alignment(parts[3]+parts[2]+parts[1]+parts[0])))
	assert.Equal(t, unplaced(want.Alignments), unplaced(got.Alignments))
	assert.Empty(t, got.Notes)
}

func TestTrapChildrenOfACurveInAnyOrder(t *testing.T) {
	want := read(t, file(sized("157.0796", quarter)))
	got := read(t, file(sized("157.0796", `<Curve rot="cw" radius="100" length="157.0796"><PI>1100 600</PI><End>1000 600</End><Center>1000 500</Center><Start>1100 500</Start></Curve>`)))
	assert.Equal(t, unplaced(want.Alignments), unplaced(got.Alignments))
}

func TestTrapLevelOfAPlanPlace(t *testing.T) {
	a, _ := readAlignment(t, geometry(`<Line><Start>0 0 0.000</Start><End>0 20</End></Line>`))
	assert.True(t, a.Elements[0].Start.Levelled, "a third number is kept")
	assert.False(t, a.Elements[0].End.Levelled, "two numbers have no level, which is not a level of 0")
}

func TestTrapPlacesByReference(t *testing.T) {
	a, notes := readAlignment(t, geometry(`<Line><Start pntRef="007"/><End pntRef="7">0 20</End></Line>`)+points(`<CgPoint name="007">0 0 3</CgPoint><CgPoint name="7">9 9</CgPoint>`))
	assert.Empty(t, notes)
	assert.Equal(t, "0 0 3", at(a.Elements[0].Start), "by the whole name")
	assert.Equal(t, "0 20", at(a.Elements[0].End), "its own coordinates hold")
}

func TestTrapInfiniteRadius(t *testing.T) {
	for text, infinite := range map[string]bool{"INF": true, "-INF": true, "0": true, "0.000": true, "500": false} {
		a, _ := readAlignment(t, geometry(`<Spiral radiusStart="`+text+`" radiusEnd="100" length="1" spiType="clothoid" rot="cw"/>`))
		assert.Equal(t, infinite, a.Elements[0].RadiusStart.Infinite, text)
		assert.True(t, a.Elements[0].RadiusStart.Set)
	}
	a, _ := readAlignment(t, geometry(`<Spiral radiusStart="NaN" spiType="clothoid"/>`))
	assert.False(t, a.Elements[0].RadiusStart.Set, "NaN is not given")
	assert.False(t, a.Elements[0].RadiusEnd.Set)
}

func TestTrapSpiralsOfAllTypes(t *testing.T) {
	for _, kind := range spiralTypes {
		a, notes := readAlignment(t, geometry(`<Spiral radiusStart="INF" radiusEnd="100" length="10" spiType="`+kind+`" rot="cw"><Start>0 0</Start><PI>0 7</PI><End>-1 19.9</End></Spiral>`))
		assert.Equal(t, kind, a.Elements[0].SpiralType)
		if kind != "clothoid" {
			assert.Contains(t, notes, "spirals of other types than clothoid are kept and not computed: "+kind+" (1)")
		}
	}
	require.Len(t, spiralTypes, 16, "as in the schema")
}

// Stations of profiles and sections are internal: beyond an equation they are
// not renumbered.
func TestTrapInternalStations(t *testing.T) {
	a, notes := readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><StaEquation staInternal="105" staAhead="5350"/><Profile><ProfAlign name="P"><PVI>100 1</PVI><PVI>110.5 2</PVI></ProfAlign></Profile><CrossSects><CrossSect sta="110.5"/></CrossSects>`))
	assert.Empty(t, notes)
	assert.Equal(t, "110.5", a.Profiles[0].PVIs[1].Station.String())
	assert.Equal(t, "110.5", a.Sections[0].Station.String())
	_, notes = readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><StaEquation staInternal="105" staAhead="5350"/><Profile><ProfAlign name="P"><PVI>100 1</PVI><PVI>5355.5 2</PVI></ProfAlign></Profile>`))
	assert.Contains(t, notes, "goes on 5235.5000 m behind the end of the alignment", "shown stations in a profile are found out")
}

// The length of a circular vertical curve is seen as that of the arc and as the
// horizontal one, its radius with a sign and without.
func TestTrapCircularVerticalCurves(t *testing.T) {
	// grades of 4 % up and 4 % down, 1000 m: turn 2 atan 0.04
	const arc, level = "79.9574", "79.9361"
	for _, length := range []string{arc, level} {
		for _, radius := range []string{"1000", "-1000"} {
			_, notes := readAlignment(t, sized("200", `<Line><Start>0 0</Start><End>0 200</End></Line></CoordGeom><Profile><ProfAlign name="P"><PVI>100 10</PVI><CircCurve length="`+length+`" radius="`+radius+`">200 14</CircCurve><PVI>300 10</PVI></ProfAlign></Profile><CoordGeom>`))
			assert.NotContains(t, notes, "circular", length+" "+radius)
		}
	}
}

func TestTrapProfilePastTheEnd(t *testing.T) {
	a, notes := readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><Profile><ProfAlign name="P"><PVI>100 1</PVI><PVI>159.6 2</PVI></ProfAlign></Profile>`))
	assert.Len(t, a.Profiles[0].PVIs, 2, "nothing is cut off")
	assert.Contains(t, notes, "goes on 39.6000 m behind the end of the alignment")
}

func TestTrapSectionOfOnePair(t *testing.T) {
	a, notes := readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><CrossSects><CrossSect sta="101"><CrossSectSurf name="S"><PntList2D>`+"\n-100.00000000 977.83117000\n"+`</PntList2D></CrossSectSurf><CrossSectSurf name="S"><PntList2D>-93.8 978.1</PntList2D></CrossSectSurf></CrossSect></CrossSects>`))
	assert.Empty(t, notes)
	require.Len(t, a.Sections[0].Surfaces, 2)
	assert.Equal(t, formats.SectionPoint{Row: 2, Offset: a.Sections[0].Surfaces[0].Points[0].Offset, Level: a.Sections[0].Surfaces[0].Points[0].Level}, a.Sections[0].Surfaces[0].Points[0])
}

// Levels of sections are absolute in some files and above the profile in
// others. They are kept as written.
func TestTrapSectionLevelsAsWritten(t *testing.T) {
	a, notes := readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><Profile><ProfAlign name="P"><PVI>100 978</PVI><PVI>120 978</PVI></ProfAlign></Profile><CrossSects><CrossSect sta="101"><DesignCrossSectSurf name="S"><CrossSectPnt>0 0</CrossSectPnt><CrossSectPnt>6.0 -0.24</CrossSectPnt></DesignCrossSectSurf></CrossSect></CrossSects>`))
	assert.Empty(t, notes)
	assert.Equal(t, "-0.24", a.Sections[0].Surfaces[0].Points[1].Level.String())
}

// One element of the schema holds lists of northing and easting, of station and
// level, and of offset and level.
func TestTrapOneListOfThreeMeanings(t *testing.T) {
	const list = `<PntList2D>1 2 3 4</PntList2D>`
	d := read(t, file(`<Surfaces><Surface name="S"><SourceData><Boundaries><Boundary bndType="outer" edgeTrim="true">`+list+`</Boundary></Boundaries></SourceData></Surface></Surfaces>`+
		alignment(`<Profile><ProfSurf name="S">`+list+`</ProfSurf></Profile><CrossSects><CrossSect sta="1"><CrossSectSurf name="S">`+list+`</CrossSectSurf></CrossSect></CrossSects>`)))
	b, p, s := d.Surfaces[0].Boundaries[0].Points[0], d.Alignments[0].Profiles[0].PVIs[0], d.Alignments[0].Sections[0].Surfaces[0].Points[0]
	assert.Equal(t, "N 1 E 2, station 1 level 2, offset 1 level 2", fmt.Sprintf("N %s E %s, station %s level %s, offset %s level %s", b.N, b.E, p.Station, p.Elev, s.Offset, s.Level))
}

// The forms of numbers that the schema allows in a list.
func TestTrapNumbersInLists(t *testing.T) {
	a, _ := readAlignment(t, alignment("<Profile><ProfSurf name='S'><PntList2D>\n\t12.\n1E3 +5 .5\r\n-0.5e1 007 <!-- x --> 1 2</PntList2D></ProfSurf></Profile>"))
	var got []string
	for _, v := range a.Profiles[0].PVIs {
		got = append(got, fmt.Sprint(v.Station, " ", v.Elev, " ", v.Row))
	}
	assert.Equal(t, []string{"12 1000 0", "5 0.5 0", "-5 7 0", "1 2 0"}, got, "after a comment the line of a number is not known")
	for _, bad := range []string{"NaN", "INF", "0x10", "1_0", "1,5", "1d3", "--1", "1.2.3", "."} {
		d := decodeText(t, file(alignment("<Profile><ProfSurf name='S'><PntList2D>1 "+bad+"</PntList2D></ProfSurf></Profile>")), formats.Options{})
		require.Len(t, d.Problems, 1, bad)
		assert.Contains(t, d.Problems[0].Text, "is not a number that can stand here")
	}
}

// Faces turn either way; they are neither left out nor turned.
func TestTrapWindingOfFaces(t *testing.T) {
	s := read(t, file(surface(three+`<P id="4">10 10 1</P>`, "<F>1 2 3</F><F>3 2 4</F><F>4 2 3</F>"))).Surfaces[0]
	assert.Equal(t, [][3]int32{{0, 1, 2}, {2, 1, 3}, {3, 1, 2}}, [][3]int32{s.Faces[0].V, s.Faces[1].V, s.Faces[2].V})
}

// A stated least or greatest level may be wrong and is not used.
func TestTrapStatedLevels(t *testing.T) {
	d := read(t, file(strings.Replace(surface(three, "<F>1 2 3</F>"), `surfType="TIN"`, `surfType="TIN" elevMin="0" elevMax="x"`, 1)))
	assert.Empty(t, d.Notes)
	assert.Equal(t, "1", d.Surfaces[0].Vertices[0].Z.String())
}

// The source data of a surface is what its faces were made from. It is kept,
// and never made into faces again.
func TestTrapSourceDataIsNotTriangulated(t *testing.T) {
	const lines = `<SourceData><Breaklines><Breakline><PntList3D>0 0 1 0 10 1 10 0 2</PntList3D></Breakline></Breaklines></SourceData>`
	d := read(t, file(`<Surfaces><Surface name="S">`+lines+`</Surface></Surfaces>`))
	s := d.Surfaces[0]
	assert.Empty(t, s.Faces)
	assert.Len(t, s.Breaklines, 1)
	assert.Contains(t, texts(d.Notes), "it has no faces (it holds breaklines (1)); it supplies no level")
	d = read(t, file(strings.Replace(surface(three, "<F>1 2 3</F>"), "<Definition", lines+"<Definition", 1)))
	assert.Len(t, d.Surfaces[0].Faces, 1)
	assert.Empty(t, d.Notes)
}

// A refPipe of version 2.0 may be left out.
func TestTrapInvertWithoutPipe(t *testing.T) {
	d := read(t, file(strings.Replace(network("", "", circular), ` refPipe="P"`, "", 1)))
	assert.Empty(t, d.Networks[0].Structures[0].Inverts[0].Pipe)
}
