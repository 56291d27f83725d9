package landxml

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

// alignment is an Alignments element with one alignment.
func alignment(body string) string {
	return `<Alignments><Alignment name="A" staStart="100" length="20">` + body + `</Alignment></Alignments>`
}

func geometry(body string) string { return alignment("<CoordGeom>" + body + "</CoordGeom>") }

// A line of 20 m to the north.
const north = `<Line length="20"><Start>1000 500</Start><End>1020 500</End></Line>`

func readAlignment(t testing.TB, text string) (*formats.Alignment, string) {
	d := read(t, file(text))
	require.Len(t, d.Alignments, 1)
	return &d.Alignments[0], texts(d.Notes)
}

func at(p formats.Place) string {
	if !p.Placed {
		return ""
	}
	s := p.N.String() + " " + p.E.String()
	if p.Levelled {
		s += " " + p.Z.String()
	}
	return s
}

func TestElements(t *testing.T) {
	a, notes := readAlignment(t, strings.Replace(geometry("\n"+`<Line name="L" desc="first" length="50.00" staStart="100.0" dir="7"><Start>0 0</Start><End>50 0 1.5</End><Feature code="x"/></Line>`+
		`<Spiral length="30" radiusStart="INF" radiusEnd="200" rot="cw" spiType="clothoid"><Start>50 0</Start><PI>70.004 0</PI><End>79.9831293 0.7495982</End></Spiral>`+
		`<Curve rot="CW" radius="200" crvType="arc" length="62.8"><End>3 4</End><Start>1 2</Start><PI>7 8</PI><Center>5 6</Center></Curve>`+
		`<IrregularLine><Start>1 2</Start><End>5 6</End><PntList3D>1 2 9  3 4 8`+"\n"+`5 6 7</PntList3D></IrregularLine>`+
		`<Chain>a b</Chain>`), `name="A"`, `name=" A 1" desc="road" state="proposed"`, 1)+points(`<CgPoint name="a">1 2</CgPoint><CgPoint name="b">3 4 5</CgPoint>`))
	assert.Equal(t, []string{" A 1", "road", "proposed", "100", "20"}, []string{a.Name, a.Desc, a.State, a.StaStart.String(), a.Length.String()})
	assert.True(t, a.Stationed && a.Measured)
	require.Len(t, a.Elements, 5)
	line, spiral, curve, odd, chain := a.Elements[0], a.Elements[1], a.Elements[2], a.Elements[3], a.Elements[4]
	assert.Equal(t, []string{"line", "L", "first", "50.00", "100.0", "0 0", "50 0 1.5"}, []string{line.Kind, line.Name, line.Desc, line.Length.Value.String(), line.Station.Value.String(), at(line.Start), at(line.End)})
	assert.Equal(t, formats.Pos{File: "t.xml", Row: 2, Col: 1}, line.Pos)
	assert.Equal(t, []int{2, 76}, []int{line.Start.Row, line.Start.Col})
	assert.Equal(t, []string{"spiral", "clothoid", "cw", "30", "50 0", "70.004 0", "79.9831293 0.7495982"}, []string{spiral.Kind, spiral.SpiralType, spiral.Rotation, spiral.Length.Value.String(), at(spiral.Start), at(spiral.PI), at(spiral.End)})
	assert.Equal(t, formats.Radius{Set: true, Infinite: true}, spiral.RadiusStart)
	assert.Equal(t, "200", spiral.RadiusEnd.Value.String())
	assert.Equal(t, []string{"curve", "cw", "arc", "200", "1 2", "3 4", "5 6", "7 8"}, []string{curve.Kind, curve.Rotation, curve.CurveType, curve.Radius.Value.String(), at(curve.Start), at(curve.End), at(curve.Centre), at(curve.PI)})
	assert.Contains(t, notes, `rot: "CW" is read as "cw"`)
	require.Len(t, odd.Points, 3)
	assert.Equal(t, []string{"irregular line", "1 2 9", "5 6 7"}, []string{odd.Kind, at(odd.Points[0]), at(odd.Points[2])})
	assert.Equal(t, []int{2, 2, 3}, []int{odd.Points[0].Row, odd.Points[1].Row, odd.Points[2].Row})
	assert.Equal(t, []string{"chain", "1 2", "3 4 5"}, []string{chain.Kind, at(chain.Start), at(chain.End)})
	assert.Equal(t, []string{"a", "b"}, chain.Names)
}

func TestProfiles(t *testing.T) {
	a, notes := readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><Profile name="group" staStart="0"><ProfAlign name="P" desc="road" state="proposed">`+"\n"+
		`<PVI desc="begin">100 10</PVI><ParaCurve length="2">103 10.5</ParaCurve><UnsymParaCurve lengthIn="1" lengthOut="2">106 11</UnsymParaCurve><CircCurve length="1.743" radius="-20">112 11.6</CircCurve><PVI>120 11.7</PVI></ProfAlign>`+
		`<ProfSurf name="S" state="existing"><PntList2D>100 1 105 2</PntList2D>`+"\n"+`<PntList2D>110 3 120 4</PntList2D></ProfSurf></Profile><Profile><ProfSurf name="T"><PntList2D>100 1</PntList2D></ProfSurf></Profile>`))
	assert.Empty(t, notes)
	require.Len(t, a.Profiles, 3)
	p, s := a.Profiles[0], a.Profiles[1]
	assert.Equal(t, []string{"P", "road", "proposed", "group", "design", "surface", "existing", "", "group"}, []string{p.Name, p.Desc, p.State, p.Group, p.Kind, s.Kind, s.State, a.Profiles[2].Group, s.Group})
	var got []string
	for _, v := range p.PVIs {
		got = append(got, fmt.Sprint(v.Station, " ", v.Elev, " ", v.Curve, " ", v.Length.Value, " ", v.In.Value, " ", v.Out.Value, " ", v.Radius.Value, " ", v.Desc))
	}
	assert.Equal(t, []string{"100 10  0 0 0 0 begin", "103 10.5 parabola 2 0 0 0 ", "106 11 asymmetric 0 1 2 0 ", "112 11.6 circular 1.743 0 0 -20 ", "120 11.7  0 0 0 0 "}, got)
	assert.Equal(t, []int{2, 1}, []int{p.PVIs[0].Row, p.PVIs[0].Col})
	got = nil
	for _, v := range s.PVIs {
		got = append(got, fmt.Sprint(v.Row, " ", v.Station, " ", v.Elev, " ", v.Gap))
	}
	assert.Equal(t, []string{"2 100 1 false", "2 105 2 false", "3 110 3 true", "3 120 4 false"}, got, "several lists leave gaps between them")
}

func TestStationEquations(t *testing.T) {
	a, notes := readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><StaEquation staInternal="105" staBack="105" staAhead="200" staIncrement="increasing" desc="one"/><StaEquation staInternal="110.0" staAhead="50" staIncrement="decreasing"/>`))
	assert.Empty(t, notes)
	require.Len(t, a.Equations, 2)
	q := a.Equations[0]
	assert.Equal(t, []string{"105", "105", "200", "increasing", "one"}, []string{q.Internal.String(), q.Back.Value.String(), q.Ahead.String(), q.Increment, q.Desc})
	assert.False(t, a.Equations[1].Back.Set, "the station that ends there need not be said")
	assert.Equal(t, []string{"110.0", "50", "decreasing"}, []string{a.Equations[1].Internal.String(), a.Equations[1].Ahead.String(), a.Equations[1].Increment})
}

func TestCrossSections(t *testing.T) {
	a, notes := readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><CrossSects name="set"><CrossSect sta="105" name="n" desc="d"><CrossSectSurf name="ground" state="existing"><PntList2D>-2.5 10 0 10.1</PntList2D><PntList2D>3 9</PntList2D></CrossSectSurf>`+
		`<DesignCrossSectSurf name="base" side="left" material="gravel" closedArea="true" typicalThickness="0.150" typicalWidth="4"><CrossSectPnt code="EP" name="1" desc="edge">-3.0 9.95</CrossSectPnt><CrossSectPnt dataFormat="Slope Distance">-2 3</CrossSectPnt></DesignCrossSectSurf></CrossSect>`+
		`<CrossSect sta="106" angleSkew="0.2"/></CrossSects>`))
	assert.Contains(t, notes, "cross sections that are not square to the alignment (angleSkew); the angle is not read: 1")
	assert.Contains(t, notes, "points of cross sections that are given as slope and distance, kept as written: 1")
	require.Len(t, a.Sections, 2)
	s := a.Sections[0]
	assert.Equal(t, []string{"105", "n", "d", "set"}, []string{s.Station.String(), s.Name, s.Desc, s.Group})
	assert.True(t, a.Sections[1].Skewed && !s.Skewed)
	ground, base := s.Surfaces[0], s.Surfaces[1]
	assert.Equal(t, []string{"ground", "existing", "surface", "-2.5", "10", "0", "10.1"}, []string{ground.Name, ground.State, ground.Kind, ground.Points[0].Offset.String(), ground.Points[0].Level.String(), ground.Points[1].Offset.String(), ground.Points[1].Level.String()})
	assert.True(t, ground.Points[2].Gap && !ground.Points[1].Gap)
	assert.Equal(t, []string{"base", "design", "left", "gravel", "0.150", "4"}, []string{base.Name, base.Kind, base.Side, base.Material, base.Thickness.Value.String(), base.Width.Value.String()})
	assert.True(t, base.Closed && base.Points[1].Sloped && !base.Points[0].Sloped)
	assert.Equal(t, []string{"EP", "1", "edge", "-3.0", "9.95"}, []string{base.Points[0].Code, base.Points[0].Name, base.Points[0].Desc, base.Points[0].Offset.String(), base.Points[0].Level.String()})
	assert.Equal(t, 2, read(t, file(alignment(`<CrossSects><CrossSect sta="105"/><CrossSect sta="105.0"/></CrossSects>`))).Counts().Sections)
}

// What a number says that cannot be read refuses the alignment whole, and no
// other.
func TestAlignmentsRefused(t *testing.T) {
	line := func(s string) string { return file(geometry(s)) }
	prof := func(s string) string { return file(alignment("<Profile>" + s + "</Profile>")) }
	sect := func(s string) string { return file(alignment("<CrossSects>" + s + "</CrossSects>")) }
	refusals(t, map[string][2]string{
		"station":                 {file(`<Alignments>§<Alignment name="A" staStart="x" length="1"/></Alignments>`), `staStart: "x" is not a number`},
		"length":                  {file(`<Alignments>§<Alignment name="A" length="INF"/></Alignments>`), `length: "INF" is not a number`},
		"length of a line":        {line(`§<Line length="1,5"/>`), `length: "1,5" is not a number`},
		"start of one number":     {line("\n<Line><Start>§5</Start></Line>"), "alignment A: <Start> of a line has 1 number where northing and easting are wanted"},
		"start of four":           {line("<Line><Start>§5 5 5 5</Start></Line>"), "<Start> of a line has 4 numbers or more where"},
		"start of words":          {line("<Curve><Center>§5 five</Center></Curve>"), `<Center> of a curve: "five" is not a coordinate`},
		"start at infinity":       {line("<Curve><Center>§5 INF</Center></Curve>"), `<Center> of a curve: "INF" is not a coordinate`},
		"two starts":              {line("<Line><Start>5 5</Start><Start>§5 6</Start></Line>"), "<Start> of a line stands twice, with different coordinates"},
		"radius":                  {line(`§<Curve radius="big"/>`), `radius: "big" is not a number`},
		"radius of a spiral":      {line(`§<Spiral radiusStart="inf"/>`), `radiusStart: "inf" is not a number`},
		"point that is not there": {line(`<Line>§<Start pntRef="P"/></Line>`), `alignment A: it refers to point "P", which is not in the file`},
		"chain of no point":       {line(`§<Chain>P</Chain>`), `alignment A: it refers to point "P", which is not in the file`},
		"ambiguous point":         {file(points(`<CgPoint name="P">1 2</CgPoint>`) + points(`<CgPoint name="P">1 3</CgPoint>`) + geometry(`<Line><Start/>§<End pntRef="P"/></Line>`)), `it refers to point "P", which stands in the file twice with different coordinates`},
		"list of three":           {line("<IrregularLine><PntList2D>1 2 3§</PntList2D></IrregularLine>"), "irregular line: the list has numbers left over: it takes 2 to a point"},
		"list of four":            {line("<IrregularLine><PntList3D>1 2 3\n 4§ \n</PntList3D></IrregularLine>"), "irregular line: the list has numbers left over: it takes 3 to a point"},
		"list of words":           {line("<IrregularLine><PntList2D>1 2\n  3 §x</PntList2D></IrregularLine>"), `irregular line: "x" is not a number that can stand here`},
		"list with NaN":           {line("<IrregularLine><PntList2D>1 2 3 §NaN</PntList2D></IrregularLine>"), `irregular line: "NaN" is not a number`},
		"two lists":               {line("<IrregularLine><PntList2D>1 2</PntList2D>§<PntList3D>1 2 3</PntList3D></IrregularLine>"), "an irregular line has two lists of points"},
		"PI":                      {file(alignment("<AlignPIs><AlignPI><PI>§1</PI></AlignPI></AlignPIs>")), "<PI> of AlignPI has 1 number where"},
		"station of a PI":         {file(alignment("<AlignPIs><AlignPI><Station>§1+00</Station></AlignPI></AlignPIs>")), `<Station> of AlignPI: "1+00" is not a number`},
		"stations of a PI":        {file(alignment("<AlignPIs><AlignPI><Station>§1 00</Station></AlignPI></AlignPIs>")), `<Station> of AlignPI has 2 numbers where one is wanted`},
		"equation at nowhere":     {file(alignment(`§<StaEquation staAhead="5"/>`)), "alignment A: <StaEquation> has no staInternal; write it into the file"},
		"equation to nowhere":     {file(alignment(`§<StaEquation staInternal="5"/>`)), "<StaEquation> has no staAhead"},
		"equation to NaN":         {file(alignment(`§<StaEquation staInternal="5" staAhead="NaN"/>`)), "the staAhead of <StaEquation> is NaN (not a number)"},
		"PVI of one":              {prof("<ProfAlign name='P'><PVI>§5</PVI></ProfAlign>"), `alignment A: profile "P": a point has 1 number where station and level are wanted`},
		"PVI of three":            {prof("<ProfAlign name='P'><PVI>§5 5 5</PVI></ProfAlign>"), `profile "P": a point has 3 numbers where`},
		"PVI of words":            {prof("<ProfAlign name='P'><PVI>§5 -</PVI></ProfAlign>"), `profile "P": "-" is not a station or level`},
		"parabola of no length":   {prof("<ProfAlign name='P'>§<ParaCurve>5 5</ParaCurve></ProfAlign>"), "<ParaCurve> has no length"},
		"half a parabola":         {prof("<ProfAlign name='P'>§<UnsymParaCurve lengthIn='4'>5 5</UnsymParaCurve></ProfAlign>"), "<UnsymParaCurve> has no lengthOut"},
		"curve of no radius":      {prof("<ProfAlign name='P'>§<CircCurve length='4'>5 5</CircCurve></ProfAlign>"), "<CircCurve> has no radius"},
		"profile of three":        {prof("<ProfSurf name='P'><PntList2D>1 2 3§</PntList2D></ProfSurf>"), `profile "P": the list has numbers left over`},
		"section nowhere":         {sect("§<CrossSect/>"), "<CrossSect> has no sta"},
		"section of three":        {sect("<CrossSect sta='7.5'><CrossSectSurf><PntList2D>1 2 3§</PntList2D></CrossSectSurf></CrossSect>"), `cross section at 7.5: the list has numbers left over`},
		"section point of one":    {sect("<CrossSect sta='7'><DesignCrossSectSurf><CrossSectPnt>§1</CrossSectPnt></DesignCrossSectSurf></CrossSect>"), `cross section at 7: a point has 1 number where offset and level are wanted`},
		"section point of words":  {sect("<CrossSect sta='7'><DesignCrossSectSurf><CrossSectPnt>§1 a</CrossSectPnt></DesignCrossSectSurf></CrossSect>"), `cross section at 7: "a" is not an offset or level`},
		"section point elsewhere": {sect("<CrossSect sta='7'><DesignCrossSectSurf>§<CrossSectPnt pntRef='P'>1 2</CrossSectPnt></DesignCrossSectSurf></CrossSect>"), `takes its place from another point (pntRef)`},
	})
	d := decodeText(t, file(geometry(`<Line length="x"/>`)+strings.Replace(geometry(north), `"A"`, `"B"`, 1)), formats.Options{})
	require.Len(t, d.Problems, 1)
	require.Len(t, d.Alignments, 1)
	assert.Equal(t, "B", d.Alignments[0].Name)
}

// What is missing is named, and the rest can still be looked at.
func TestAlignmentsThatLackSomething(t *testing.T) {
	a, notes := readAlignment(t, `<Alignments><Alignment name="A"><CoordGeom><Line/><Curve/><Spiral/><Spiral spiType="Bloss"/><Spiral spiType="wiggle"/></CoordGeom><Superelevation/><Cant/><Superelevation/><Start/></Alignment></Alignments>`)
	assert.Len(t, a.Elements, 5)
	assert.False(t, a.Stationed || a.Measured)
	for _, want := range []string{"these parts of it are not read: Cant (1), Start (1), Superelevation (2)", "it does not say the station it begins at (staStart)",
		"so that they cannot be computed: 5 of 5", "kept and not computed: bloss (1), no type given (1), wiggle (1)"} {
		assert.Contains(t, notes, want)
	}
	_, notes = readAlignment(t, `<Alignments><Alignment name="A" staStart="0"/></Alignments>`)
	assert.Contains(t, notes, "it has no geometry in plan (CoordGeom); no place on it can be found")
	_, notes = readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><Profile><ProfAlign name="P"/></Profile><CrossSects><Foo/></CrossSects><StaEquation staInternal="101" staAhead="5" staIncrement="up"/>`))
	for _, want := range []string{`the profile "P" has no points`, "not read: Foo (1)", `staIncrement: "up" is not a value that LandXML knows here, and is not used`} {
		assert.Contains(t, notes, want)
	}
	_, notes = readAlignment(t, alignment(`<CoordGeom>`+north+`</CoordGeom><CoordGeom><Foo/></CoordGeom><CrossSects><CrossSect sta="100"><DesignCrossSectSurf closedArea="maybe"/><Foo/></CrossSect></CrossSects>`))
	for _, want := range []string{"stands in 2 parts (CoordGeom), which are joined", "not read: Foo (2)", `closedArea: "maybe" is neither true nor false; it is read as false`} {
		assert.Contains(t, notes, want)
	}
}

func TestPointsOfIntersection(t *testing.T) {
	a, notes := readAlignment(t, alignment(`<AlignPIs><AlignPI><PI name="1" code="c" desc="d">10 20</PI><Station>100.00</Station></AlignPI><AlignPI><InSpiral><Spiral length="5" radiusStart="0" radiusEnd="50" rot="cw" spiType="clothoid"><Start/><PI/><End/></Spiral></InSpiral>`+
		`<Curve1><Curve rot="cw" radius="50"><Start/><Start/><Start/></Curve></Curve1><OutSpiral><Spiral length="5" radiusStart="50" radiusEnd="0.000" rot="cw" spiType="clothoid"><Start/><PI>1 2</PI><End pntRef="P"/></Spiral></OutSpiral><PI pntRef="P"/></AlignPI></AlignPIs>`)+
		points(`<CgPoint name="P">3 4</CgPoint>`))
	require.Len(t, a.PIs, 2)
	p, q := a.PIs[0], a.PIs[1]
	assert.Equal(t, []string{"1", "c", "d", "10 20", "100.00", "3 4"}, []string{p.Name, p.Code, p.Desc, at(p.Place), p.Station.Value.String(), at(q.Place)})
	require.Len(t, q.Curves, 3)
	assert.Equal(t, []string{"spiral in", "curve", "spiral out"}, []string{q.Curves[0].Part, q.Curves[1].Part, q.Curves[2].Part})
	assert.Equal(t, formats.Radius{Set: true, Infinite: true}, q.Curves[0].RadiusStart)
	assert.Equal(t, []string{"5", "50", "50", "1 2", "3 4"}, []string{q.Curves[0].Length.Value.String(), q.Curves[0].RadiusEnd.Value.String(), q.Curves[1].Radius.Value.String(), at(q.Curves[2].PI), at(q.Curves[2].End)})
	assert.Empty(t, a.Elements)
	assert.Contains(t, notes, "radii of spirals that are written as 0, which none can have, and are read as infinite: 2")
}

// Whatever stands inside an alignment is not taken for something else.
func TestStrangersInsideAnAlignment(t *testing.T) {
	d := read(t, file(alignment(points(`<CgPoint name="P">1 2 3</CgPoint>`)+metres+`<Alignment name="B"/><Line/><CoordGeom><Start/>`+strings.Replace(north, "</Line>", "<Line/><Chain>x</Chain></Line>", 1)+`</CoordGeom><PVI>1</PVI><Profile><PVI>1</PVI></Profile>`)))
	require.Len(t, d.Alignments, 1)
	assert.Len(t, d.Alignments[0].Elements, 1)
	assert.Zero(t, d.PointCount)
	assert.Contains(t, texts(d.Notes), "these parts of it are not read: Alignment (1), CgPoints (1), Chain (1), Line (2), PVI (2), Start (1), Units (1)")
}
