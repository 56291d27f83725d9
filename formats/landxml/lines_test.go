package landxml

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

// source is a surface with source data and one face.
func source(body string) string {
	return file(strings.Replace(surface(three, "<F>1 2 3</F>"), "<Definition", "<SourceData>"+body+"</SourceData><Definition", 1))
}

func TestBreaklinesAndBoundaries(t *testing.T) {
	d := read(t, source(`<Boundaries><Boundary bndType="outer" edgeTrim="true" name="o" desc="limit" area="3"><PntList2D>0 0 0 10`+"\n"+`10 0</PntList2D></Boundary>`+
		`<Boundary bndType="VOID" edgeTrim="0"><PntList3D>1 1 5 1 2 5</PntList3D></Boundary><Boundary bndType="hide" edgeTrim="maybe"><PntList2D>1 1</PntList2D></Boundary></Boundaries>`+
		`<Breaklines><Breakline brkType="standard" name="b1" desc="kerb" state="proposed"><PntList3D>1 2 3 4 5 6</PntList3D><Feature code="x"/></Breakline><Breakline><PntList2D>1 2</PntList2D></Breakline><Breakline name="none"/><RetWall/></Breaklines>`+
		`<DataPoints><PntList3D>1 2 3</PntList3D></DataPoints>`))
	s := d.Surfaces[0]
	require.Len(t, s.Boundaries, 3)
	require.Len(t, s.Breaklines, 2)
	outer, void, hide := s.Boundaries[0], s.Boundaries[1], s.Boundaries[2]
	assert.Equal(t, []string{"outer", "o", "limit", "void", ""}, []string{outer.Kind, outer.Name, outer.Desc, void.Kind, hide.Kind})
	assert.True(t, outer.EdgeTrim && !void.EdgeTrim && !outer.Levelled && void.Levelled)
	assert.Len(t, outer.Points, 3)
	assert.Equal(t, []int{1, 1, 2}, []int{outer.Points[0].Row, outer.Points[1].Row, outer.Points[2].Row})
	assert.Equal(t, []string{"0", "10", "5"}, []string{outer.Points[1].N.String(), outer.Points[1].E.String(), void.Points[0].Z.String()})
	one, two := s.Breaklines[0], s.Breaklines[1]
	assert.Equal(t, []string{"standard", "b1", "kerb", "proposed", ""}, []string{one.Kind, one.Name, one.Desc, one.State, two.Kind})
	assert.True(t, one.Levelled && !two.Levelled)
	assert.Equal(t, formats.Counts{Surfaces: 1, Vertices: 3, Faces: 1, Breaklines: 2, Boundaries: 3}, d.Counts())
	for _, want := range []string{`bndType: "VOID" is read as "void"`, `bndType: "hide" is not a value that LandXML knows here`, `edgeTrim: "maybe" is neither true nor false`,
		"breaklines and boundaries without points, which are left out: 1", "boundaries that do not say whether they are outer, void or island: 1", "because it has faces: lists of points (1), walls (1)"} {
		assert.Contains(t, texts(d.Notes), want)
	}
	assert.Equal(t, 6, strings.Count(texts(d.Notes), "\n"), texts(d.Notes))
}

func TestBreaklinesRefused(t *testing.T) {
	line := func(s string) string {
		return source("<Breaklines><Breakline name='b'>" + s + "</Breakline></Breaklines>")
	}
	refusals(t, map[string][2]string{
		"left over":       {line("<PntList3D>1 2 3 4§</PntList3D>"), `surface S: breakline "b": the list has numbers left over: it takes 3 to a point`},
		"two to a point":  {source("<Boundaries><Boundary name='x' bndType='void' edgeTrim='1'><PntList2D>1 2 3§</PntList2D></Boundary></Boundaries>"), `surface S: boundary "x": the list has numbers left over: it takes 2 to a point`},
		"a word":          {line("<PntList3D>1 2\n§O3</PntList3D>"), `breakline "b": "O3" is not a number`},
		"a decimal comma": {line("<PntList2D>§1,5 2,5</PntList2D>"), `breakline "b": "1,5" is not a number`},
		"NaN":             {line("<PntList2D>1 §NaN</PntList2D>"), `breakline "b": "NaN" is not a number`},
		"two lists":       {line("<PntList2D>1 2</PntList2D>§<PntList2D>1 2</PntList2D>"), `the breakline "b" has two lists of points`},
	})
}

// Where lists stand elsewhere they are not breaklines.
func TestListsThatAreNoBreaklines(t *testing.T) {
	d := read(t, source(`<PntList2D>x</PntList2D><Breakline><PntList2D>x</PntList2D></Breakline><Breaklines><Boundary><PntList2D>x</PntList2D></Boundary><Breakline><Feature><PntList2D>x</PntList2D></Feature><PntList2D>1 2<PntList2D>x</PntList2D></PntList2D></Breakline></Breaklines>`))
	assert.Len(t, d.Surfaces[0].Breaklines, 1)
	assert.Contains(t, texts(d.Notes), "its source data is not read, because it has faces: boundaries (1), breaklines (1)")
}
