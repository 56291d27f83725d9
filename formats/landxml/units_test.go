package landxml

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// units is a Units element of one system with these attributes.
func units(system, attributes string) string {
	return "<Units><" + system + " " + attributes + "/></Units>"
}

func TestUnitsRefused(t *testing.T) {
	with := func(u string) string { return root + u + "</LandXML>" }
	imperial := units("Imperial", `linearUnit="foot"`)
	refusals(t, map[string][2]string{
		"none":                    {root + "</LandXML>", "t.xml: Units: the file does not say its unit of length; declare it"},
		"empty":                   {with("<Units/>"), "the file does not say its unit of length"},
		"in a wrong place":        {with("<Project name=\"P\">" + metres + "</Project>"), "the file does not say its unit of length"},
		"twice, lengths differ":   {with(imperial + "\n<Units>§<Imperial linearUnit=\"USSurveyFoot\"/></Units>"), `Units: the file states its units twice and not alike (lengths in "USSurveyFoot" here and in "foot" in line 1)`},
		"twice, sizes differ":     {with(metres + units("Metric", `linearUnit="meter"`)), "states its units twice and not alike"},
		"both systems":            {with("<Units><Metric linearUnit=\"meter\"/><Imperial linearUnit=\"foot\"/></Units>"), "states its units twice and not alike"},
		"unknown":                 {with(units("Imperial", `linearUnit="cubit"`)), `linearUnit: "cubit" is not a unit of length of LandXML`},
		"not said":                {with(units("Metric", `areaUnit="squareMeter"`)), `linearUnit: the unit of length is not said`},
		"of the other system":     {with(units("Metric", `linearUnit="foot"`)), `"foot" stands in the element Metric, where it does not belong`},
		"sizes unknown":           {with(units("Metric", `linearUnit="meter" diameterUnit="hand"`)), `diameterUnit: "hand" is not a unit of length`},
		"sizes of another system": {with(units("Metric", `linearUnit="meter" heightUnit="inch"`)), `heightUnit: "inch" stands in the element Metric`},
		"levels in feet":          {with(units("Metric", `linearUnit="meter" elevationUnit="feet"`)), `elevationUnit: levels are said to be in "feet" and lengths in "meter"`},
		"levels in metres":        {with(units("Imperial", `linearUnit="foot" elevationUnit="meter"`)), `levels are said to be in "meter" and lengths in "foot"`},
		"levels in cubits":        {with(units("Imperial", `linearUnit="foot" elevationUnit="cubit"`)), `levels are said to be in "cubit"`},
	})
}

func TestUnitsByTheirNames(t *testing.T) {
	for name, u := range unitNames {
		system := "Imperial"
		if metric(u) {
			system = "Metric"
		}
		d := read(t, root+units(system, `linearUnit="`+name+`"`)+"</LandXML>")
		assert.Equal(t, u, d.Units.Linear)
		assert.Empty(t, d.Notes)
	}
	d := read(t, root+units("Imperial", `linearUnit=" ussurveyFoot" elevationUnit="feet" diameterUnit="inch"`)+"</LandXML>")
	assert.Equal(t, formats.Units{Linear: unit.FtUS, Diameter: unit.In}, d.Units)
	assert.Contains(t, texts(d.Notes), `" ussurveyFoot" is read as the US survey foot`)
}

// Units may stand anywhere, and twice when they agree.
func TestUnitsMayStandLast(t *testing.T) {
	d := read(t, root+surface(three, "<F>1 2 3</F>")+points(`<CgPoint name="A">1 2 3</CgPoint>`)+metres+metres+"</LandXML>")
	assert.Equal(t, unit.M, d.Units.Linear)
	assert.Len(t, d.Surfaces, 1)
}

func TestDeclaredUnit(t *testing.T) {
	d := decodeText(t, root+surface(three, "<F>1 2 3</F>")+"</LandXML>", formats.Options{Unit: unit.FtUS})
	assert.Empty(t, d.Problems)
	assert.Equal(t, unit.FtUS, d.Units.Linear)
	assert.Contains(t, texts(d.Notes), "it is taken as ftUS, as declared")
	d = decodeText(t, file(""), formats.Options{Unit: unit.FtUS})
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].Text, "the file is in m, and ftUS is declared for it")
	d = decodeText(t, file(""), formats.Options{Unit: unit.M})
	assert.Empty(t, d.Problems)
}

func TestCoordinateSystem(t *testing.T) {
	for in, want := range map[string]formats.CRS{
		`epsgCode="3878"`:                 {EPSG: "3878"},
		`epsgCode=" EPSG:3878 " desc="D"`: {EPSG: "3878", Name: "D"},
		`epsgCode="epsg: 3878"`:           {EPSG: "3878"},
		`epsgCode="urn:ogc:def:crs:EPSG::3878" name="GK24" desc="D"`:          {EPSG: "3878", Name: "GK24"},
		`epsgCode="" verticalCoordinateSystemName="3900"`:                     {Vertical: "3900"},
		`horizontalCoordinateSystemName="H" name="N" verticalDatum=" N2000 "`: {Name: "H", Vertical: "N2000"},
		`horizontalDatum="Local"`:                                             {Name: "Local"},
	} {
		d := read(t, file("<CoordinateSystem "+in+"/>"))
		assert.Equal(t, want, d.CRS, in)
		assert.Empty(t, d.Notes, in)
	}
	d := read(t, file(`<CoordinateSystem epsgCode="GK24" verticalDatum="N2000" verticalCoordinateSystemName="3900"/>`))
	assert.Equal(t, formats.CRS{Vertical: "N2000"}, d.CRS)
	assert.Contains(t, texts(d.Notes), `epsgCode: "GK24" is not an EPSG code and is not used`)
	assert.Contains(t, texts(d.Notes), `the file names the height datum "N2000" and also "3900"; the first is used`)
	d = decodeText(t, file(`<CoordinateSystem epsgCode="3878"/><CoordinateSystem epsgCode="3879"/>`), formats.Options{})
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].String(), "a second coordinate system says 3879 where the first says 3878")
}

// The versions, a profile, no namespace; anything else is refused.
func TestNamespaces(t *testing.T) {
	body := metres + points(`<CgPoint name="A">1 2 3</CgPoint>`) + "</LandXML>"
	for attributes, want := range map[string][2]string{
		`xmlns="http://www.landxml.org/schema/LandXML-1.0" version="1.0"`: {"1.0", ""},
		`xmlns="http://www.landxml.org/schema/LandXML-1.1" version="1.1"`: {"1.1", ""},
		`xmlns="http://www.landxml.org/schema/LandXML-2.0" version="2.0"`: {"2.0", ""},
		`xmlns="http://www.landxml.org/schema/LandXML-1.2"`:               {"1.2", ""},
		`xmlns="http://www.landxml.org/schema/LandXML-1.1" version="1.0"`: {"1.1", "the version attribute says 1.0 and the namespace 1.1"},
		`xmlns="http://example.org/profile" version="1.2"`:                {"1.2", "the namespace http://example.org/profile is that of a profile"},
		`version="1.1"`: {"1.1", "the file has no namespace"},
		``:              {"", "the file does not say its LandXML version"},
	} {
		d := read(t, "<LandXML "+attributes+">"+body)
		assert.Equal(t, 1, d.PointCount)
		assert.Equal(t, want[0], about(d, "LandXML version"))
		if want[1] == "" {
			assert.Empty(t, d.Notes, attributes)
		}
		assert.Contains(t, texts(d.Notes), want[1])
	}
	for attributes, want := range map[string]string{
		`xmlns="http://www.landxml.org/schema/LandXML-99.0"`: "xmlns: the namespace http://www.landxml.org/schema/LandXML-99.0 is that of no version",
		`xmlns="https://www.landxml.org/schema/LandXML-1.2"`: "is that of no version that is known here",
		`version="99.0"`: `version: "99.0" is no version that is known here`,
		`xmlns="http://example.org/profile" version="3"`: `"3" is no version that is known here`,
	} {
		d := decodeText(t, "<LandXML "+attributes+">"+body, formats.Options{})
		require.Len(t, d.Problems, 1)
		assert.Contains(t, d.Problems[0].String(), want)
		assert.Zero(t, d.Counts())
	}
}

// Elements of other namespaces are passed over, with all that is in them;
// those of LandXML count with any prefix.
func TestForeignElements(t *testing.T) {
	d := read(t, root+metres+`<x:note xmlns:x="urn:other"><CgPoints><CgPoint name="no">1 2 3</CgPoint></CgPoints></x:note><CgPoints xmlns:y="urn:other">`+
		`<CgPoint name="yes" y:name="no">1 2 3</CgPoint><y:CgPoint name="no">1 2 3</y:CgPoint><CgPoint xmlns="urn:other" name="no">1 2 3</CgPoint></CgPoints><x:empty xmlns:x="urn:other"/>`+
		`<l:CgPoints xmlns:l="http://www.landxml.org/schema/LandXML-1.2"><l:CgPoint name="too">1 2 3</l:CgPoint></l:CgPoints></LandXML>`)
	require.Len(t, d.Points, 2)
	assert.Equal(t, "yes", d.Points[0].ID)
	assert.Equal(t, "too", d.Points[1].ID)

	d = read(t, `<l:LandXML xmlns:l="http://www.landxml.org/schema/LandXML-1.2">`+strings.NewReplacer("</", "</l:", "<", "<l:").Replace(metres+surface(three, `<F>1 2 3</F>`))+`</l:LandXML>`)
	require.Len(t, d.Surfaces, 1)
	assert.Len(t, d.Surfaces[0].Faces, 1)

	d = decodeText(t, file(`<x:a/><x:b><CgPoints/></x:b>`), formats.Options{})
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].Text, "the prefix of <x:a> is declared nowhere")
}
