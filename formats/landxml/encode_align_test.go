package landxml

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// everything is a file with one of each of what an alignment and a surface can
// hold.
func everything() string {
	return file(points(`<CgPoint name="a">1 2</CgPoint><CgPoint name="b">3 4</CgPoint>`) +
		strings.Replace(surface(three, "<F>1 2 3</F>"), "<Definition", `<SourceData><Boundaries><Boundary bndType="outer" edgeTrim="1"><PntList2D>0 0 0 10 10 0</PntList2D></Boundary></Boundaries><Breaklines><Breakline brkType="wall" name="w"><PntList3D>0 0 1 0 10 1</PntList3D></Breakline></Breaklines></SourceData><Definition`, 1) +
		`<Alignments><Alignment name="A" staStart="100.0" length="20." desc="r" state="proposed"><CoordGeom><Line name="L" length="20"><Start>1000 500</Start><End>1020 500 0.0</End></Line>` + quarter + transition + `<IrregularLine><Start>1 2</Start><End>3 4</End><PntList2D>1 2 3 4</PntList2D></IrregularLine><Chain>a b</Chain></CoordGeom>` +
		`<AlignPIs><AlignPI><PI name="1">1 2</PI><Station>100</Station></AlignPI><AlignPI><PI/><Curve1><Curve rot="cw" radius="5"/></Curve1></AlignPI></AlignPIs>` +
		`<StaEquation staInternal="110" staBack="110" staAhead="500" staIncrement="decreasing" desc="e"/>` +
		`<Profile name="g"><ProfAlign name="P"><PVI>100 10</PVI><ParaCurve length="4">105 11</ParaCurve><UnsymParaCurve lengthIn="1" lengthOut="2">110 11</UnsymParaCurve><CircCurve length="1.5" radius="-100">115 12</CircCurve><PVI>120 12</PVI></ProfAlign><ProfSurf name="S"><PntList2D>100 1 105 2</PntList2D><PntList2D>110 3</PntList2D></ProfSurf></Profile>` +
		`<CrossSects name="x"><CrossSect sta="105"><CrossSectSurf name="S" state="existing"><PntList2D>-1 2 1 2</PntList2D><PntList2D>5 2</PntList2D></CrossSectSurf><DesignCrossSectSurf name="base" side="left" material="m" closedArea="1" typicalThickness="0.15"><CrossSectPnt code="E">-3 0.1</CrossSectPnt><CrossSectPnt dataFormat="Slope Distance">-2 3</CrossSectPnt></DesignCrossSectSurf></CrossSect><CrossSect sta="105.0"/></CrossSects></Alignment>` +
		`<Alignment name="A" staStart="0" length="0"/></Alignments>`)
}

func TestWrittenAlignment(t *testing.T) {
	text := string(encoded(t, read(t, everything())))
	_, text, _ = strings.Cut(text, "<Surfaces>")
	assert.Equal(t, `
  <Surface name="S">
   <SourceData>
    <Boundaries>
     <Boundary bndType="outer" edgeTrim="true"><PntList2D>0 0 0 10 10 0</PntList2D></Boundary>
    </Boundaries>
    <Breaklines>
     <Breakline brkType="wall" name="w"><PntList3D>0 0 1 0 10 1</PntList3D></Breakline>
    </Breaklines>
   </SourceData>
   <Definition surfType="TIN">
    <Pnts>
     <P id="1">0 0 1</P>
     <P id="2">0 10 1</P>
     <P id="3">10 0 2</P>
    </Pnts>
    <Faces>
     <F>1 2 3</F>
    </Faces>
   </Definition>
  </Surface>
 </Surfaces>
 <Alignments>
  <Alignment name="A" length="20" staStart="100.0" desc="r" state="proposed">
   <CoordGeom>
    <Line length="20" name="L">
     <Start>1000 500</Start>
     <End>1020 500 0.0</End>
    </Line>
    <Curve rot="cw" radius="100" length="157.0796">
     <Start>1100 500</Start>
     <Center>1000 500</Center>
     <End>1000 600</End>
     <PI>1100 600</PI>
    </Curve>
    <Spiral radiusStart="INF" radiusEnd="400" rot="ccw" spiType="clothoid" length="80">
     <Start>0 0</Start>
     <PI>0 53.3609</PI>
     <End>2.664763 79.920037</End>
    </Spiral>
    <IrregularLine>
     <Start>1 2</Start>
     <End>3 4</End>
     <PntList2D>1 2 3 4</PntList2D>
    </IrregularLine>
    <Chain>a b</Chain>
   </CoordGeom>
   <AlignPIs>
    <AlignPI>
     <PI name="1">1 2</PI>
     <Station>100</Station>
    </AlignPI>
    <AlignPI>
     <PI></PI>
     <Curve1>
      <Curve rot="cw" radius="5">
       <Start></Start>
       <Center></Center>
       <End></End>
      </Curve>
     </Curve1>
    </AlignPI>
   </AlignPIs>
   <StaEquation staAhead="500" staBack="110" staInternal="110" staIncrement="decreasing" desc="e"/>
   <Profile name="g">
    <ProfAlign name="P">
     <PVI>100 10</PVI>
     <ParaCurve length="4">105 11</ParaCurve>
     <UnsymParaCurve lengthIn="1" lengthOut="2">110 11</UnsymParaCurve>
     <CircCurve length="1.5" radius="-100">115 12</CircCurve>
     <PVI>120 12</PVI>
    </ProfAlign>
    <ProfSurf name="S">
     <PntList2D>100 1 105 2</PntList2D>
     <PntList2D>110 3</PntList2D>
    </ProfSurf>
   </Profile>
   <CrossSects name="x">
    <CrossSect sta="105">
     <CrossSectSurf name="S" state="existing">
      <PntList2D>-1 2 1 2</PntList2D>
      <PntList2D>5 2</PntList2D>
     </CrossSectSurf>
     <DesignCrossSectSurf name="base" side="left" material="m" closedArea="true" typicalThickness="0.15">
      <CrossSectPnt code="E">-3 0.1</CrossSectPnt>
      <CrossSectPnt dataFormat="Slope Distance">-2 3</CrossSectPnt>
     </DesignCrossSectSurf>
    </CrossSect>
   </CrossSects>
   <CrossSects name="x">
    <CrossSect sta="105.0">
    </CrossSect>
   </CrossSects>
  </Alignment>
 </Alignments>
 <Alignments>
  <Alignment name="A" length="0" staStart="0">
  </Alignment>
 </Alignments>
</LandXML>
`, text)
}

// What LandXML wants and an alignment or a line lacks is an error that names it.
func TestWhatCannotBeWrittenOfAnAlignment(t *testing.T) {
	element := func(i int, change func(*formats.AlignmentElement)) func(*formats.Document) {
		return func(d *formats.Document) { change(&d.Alignments[0].Elements[i]) }
	}
	for want, change := range map[string]func(d *formats.Document){
		`alignment "A" has no station to begin at (staStart); LandXML wants one`:                 func(d *formats.Document) { d.Alignments[0].Stationed = false },
		`alignment "A" has no length (length); LandXML wants one`:                                func(d *formats.Document) { d.Alignments[1].Measured = false },
		`the alignment "A" has a piece (curve) without a sense of rotation (cw or ccw)`:          element(1, func(e *formats.AlignmentElement) { e.Rotation = "" }),
		`the alignment "A" has a piece (spiral) without a sense of rotation`:                     element(2, func(e *formats.AlignmentElement) { e.Rotation = "" }),
		`the alignment "A" has a piece (spiral) without a length, or without a radius at an end`: element(2, func(e *formats.AlignmentElement) { e.RadiusEnd.Set = false }),
		`a spiral of the alignment "A" is of the type "wiggle"`:                                  element(2, func(e *formats.AlignmentElement) { e.SpiralType = "wiggle" }),
		`the alignment "A" has a piece (irregular line) without a point in its list`:             element(3, func(e *formats.AlignmentElement) { e.Points = nil }),
		`a chain of the alignment "A" names the point "a b"`:                                     element(4, func(e *formats.AlignmentElement) { e.Names[0] = "a b" }),
		`a chain of the alignment "A" names the point ""`:                                        element(4, func(e *formats.AlignmentElement) { e.Names[0] = "" }),
		`"\x01": it holds a character that XML cannot hold`:                                      element(4, func(e *formats.AlignmentElement) { e.Names[0] = "\x01" }),
		`the alignment "A" has an element of the kind "loop"`:                                    element(0, func(e *formats.AlignmentElement) { e.Kind = "loop" }),
		`the alignment "A" has one point of intersection; LandXML wants two at least`:            func(d *formats.Document) { d.Alignments[0].PIs = d.Alignments[0].PIs[:1] },
		`the alignment "A" has a "spiral in" that is a curve at a point of intersection`:         func(d *formats.Document) { d.Alignments[0].PIs[1].Curves[0].Part = "spiral in" },
		`the alignment "A" has a "loop" that is a curve at a point of intersection`:              func(d *formats.Document) { d.Alignments[0].PIs[1].Curves[0].Part = "loop" },
		`the profile "P" of the alignment "A" is of the kind ""`:                                 func(d *formats.Document) { d.Alignments[0].Profiles[0].Kind = "" },
		`the profile "S" of the alignment "A" has no points`:                                     func(d *formats.Document) { d.Alignments[0].Profiles[1].PVIs = nil },
		`the vertical curve at 105 in the profile "P" of the alignment "A" has no length`:        func(d *formats.Document) { d.Alignments[0].Profiles[0].PVIs[1].Length.Set = false },
		`the vertical curve at 110 in the profile "P" of the alignment "A" has no lengthOut`:     func(d *formats.Document) { d.Alignments[0].Profiles[0].PVIs[2].Out.Set = false },
		`the vertical curve at 115 in the profile "P" of the alignment "A" has no radius`:        func(d *formats.Document) { d.Alignments[0].Profiles[0].PVIs[3].Radius.Set = false },
		`has a vertical curve of the kind "cubic"; parabola, asymmetric and circular`:            func(d *formats.Document) { d.Alignments[0].Profiles[0].PVIs[0].Curve = "cubic" },
		`the cross section at 105 of the alignment "A" is not square to it`:                      func(d *formats.Document) { d.Alignments[0].Sections[0].Skewed = true },
		`the cross section at 105 of the alignment "A" has no points on "S"`:                     func(d *formats.Document) { d.Alignments[0].Sections[0].Surfaces[0].Points = nil },
		`boundary "" of the surface "S" does not say whether it is outer, void or island`:        func(d *formats.Document) { d.Surfaces[0].Boundaries[0].Kind = "" },
		`breakline "w" of the surface "S" has no points`:                                         func(d *formats.Document) { d.Surfaces[0].Breaklines[0].Points = nil },
	} {
		t.Run(want, func(t *testing.T) {
			d := read(t, everything())
			change(d)
			err := Encode(&bytes.Buffer{}, d, formats.EncodeOptions{})
			require.Error(t, err)
			assert.Contains(t, err.Error(), want)
		})
	}
}

// A surface of breaklines without faces is written as that.
func TestSurfaceOfBreaklines(t *testing.T) {
	d := &formats.Document{Units: formats.Units{Linear: unit.M}, Surfaces: []formats.Surface{{Name: "S", Breaklines: []formats.Breakline{{Points: []formats.Vertex{{E: unit.Decimal{Coef: 5}}}}}}}}
	again := read(t, string(encoded(t, d)))
	assert.Equal(t, unplaced(d.Surfaces[0].Breaklines), unplaced(again.Surfaces[0].Breaklines))
	assert.Empty(t, again.Surfaces[0].Faces)
}
