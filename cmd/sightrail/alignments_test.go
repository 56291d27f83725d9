package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/fixture"
)

const roadDesign = `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Metric linearUnit="meter"/></Units>` +
	`<CgPoints><CgPoint name="P">1 2 3</CgPoint></CgPoints><Surfaces><Surface name="S"><SourceData><Boundaries><Boundary bndType="outer" edgeTrim="true"><PntList2D>0 0 0 9 9 0</PntList2D></Boundary></Boundaries>` +
	`<Breaklines><Breakline><PntList2D>0 0 9 9</PntList2D></Breakline></Breaklines></SourceData></Surface></Surfaces>` +
	`<Alignments><Alignment name="R" staStart="100" length="20"><CoordGeom><Line><Start>1000 500</Start><End>1020 500</End></Line></CoordGeom><StaEquation staInternal="110" staAhead="7"/>` +
	`<Profile><ProfAlign name="D"><PVI>100 5</PVI><PVI>120 6</PVI></ProfAlign><ProfSurf name="G"><PntList2D>100 4 120 4</PntList2D></ProfSurf></Profile><CrossSects><CrossSect sta="105"/></CrossSects></Alignment></Alignments></LandXML>`

func TestAlignmentsInspectedAndConverted(t *testing.T) {
	dir := t.TempDir()
	in := put(t, dir, "road.xml", roadDesign)
	code, out, _ := sightrail("inspect", in)
	assert.Equal(t, exitOK, code)
	assert.Contains(t, out, "alignment R: from 100, 1 elements, 1 lines, 1 design profiles, 1 profiles of surfaces, 1 station equations, 1 cross sections\n")
	assert.Contains(t, out, "1 breakline, 1 boundary, 1 alignment, 2 profiles, 1 station equation, 1 cross section\n")
	assert.Contains(t, out, "surface S: 0 vertices, 0 faces, 0 of them invisible, 1 breaklines, 1 boundaries\n")
	assert.Contains(t, out, "easting 2 to 500, northing 1 to 1020\n", "places of alignments count to the extent")
	code, _, msg := sightrail("convert", in, filepath.Join(dir, "out.csv"))
	assert.Equal(t, exitOK, code)
	for _, want := range []string{"2 breaklines and boundaries of surfaces", "1 alignments", "2 profiles of alignments", "1 station equations", "1 cross sections"} {
		assert.Contains(t, msg, "not carried to CSV and delimited text: "+want+"\n")
	}
	code, _, msg = sightrail("convert", in, filepath.Join(dir, "out.xml"), "--lossless")
	assert.Equal(t, exitOK, code, msg)
	assert.NotContains(t, msg, "not carried")
	code, out, _ = sightrail("inspect", filepath.Join(dir, "out.xml"))
	assert.Equal(t, exitOK, code)
	assert.Contains(t, out, "alignment R: from 100, 1 elements, 1 lines, 1 design profiles, 1 profiles of surfaces, 1 station equations, 1 cross sections\n")
}

// independent is what another reader counted in a real file.
type independent struct {
	File     string
	CgPoints struct{ Points int }
	Surfaces []struct{ P, F, F_i1, Breaklines, Boundaries int }

	Alignments []struct {
		Geom                     map[string]int
		StaEquations, CrossSects int
		CrossSectSurf            int
		DesignCrossSectSurf      int
		ProfAligns               []map[string]any
		ProfSurfs                []struct{ Numbers int }
	}
	PipeNetworks []struct{ Structs, Pipes int }
}

func (x *independent) counts() formats.Counts {
	c := formats.Counts{Points: x.CgPoints.Points, Surfaces: len(x.Surfaces), Alignments: len(x.Alignments)}
	for _, s := range x.Surfaces {
		c.Vertices, c.Faces, c.InvisibleFaces = c.Vertices+s.P, c.Faces+s.F, c.InvisibleFaces+s.F_i1
		c.Breaklines, c.Boundaries = c.Breaklines+s.Breaklines, c.Boundaries+s.Boundaries
	}
	for _, a := range x.Alignments {
		for _, n := range a.Geom {
			c.Elements += n
		}
		c.Equations += a.StaEquations
		c.Sections += a.CrossSects
		c.SectionLines += a.CrossSectSurf + a.DesignCrossSectSurf
		c.Profiles += len(a.ProfAligns) + len(a.ProfSurfs)
		for _, p := range a.ProfAligns {
			for _, n := range p {
				if n, ok := n.(float64); ok {
					c.PVIs += int(n)
				}
			}
		}
		for _, p := range a.ProfSurfs {
			c.PVIs += p.Numbers / 2
		}
	}
	for _, n := range x.PipeNetworks {
		c.Structures, c.Pipes = c.Structures+n.Structs, c.Pipes+n.Pipes
	}
	return c
}

// inspect counts in every real file what an independent reader counted there.
// Points of cross sections and points of intersection are not in its counts.
func TestInspectCountsRealFiles(t *testing.T) {
	text, err := os.ReadFile(fixture.Shared(t, "landxml", "counts.json"))
	require.NoError(t, err)
	var list []independent
	require.NoError(t, json.Unmarshal(text, &list))
	require.NotEmpty(t, list)
	for i := range list {
		x := &list[i]
		t.Run(strings.TrimSuffix(x.File, ".xml"), func(t *testing.T) {
			code, out, _ := sightrail("inspect", "--json", fixture.Shared(t, "landxml", "files", x.File))
			var got []inspected
			require.NoError(t, json.Unmarshal([]byte(out), &got))
			require.Len(t, got, 1)
			if x.File == "d18_unknown_version_ns.xml" {
				assert.Equal(t, exitUndone, code)
				assert.Contains(t, got[0].Problems[0], "no version that is known here")
				return
			}
			assert.Equal(t, exitOK, code, got[0].Problems)
			have := got[0].Counts
			have.SectionPoints, have.PIs = 0, 0
			assert.Equal(t, x.counts(), have)
		})
	}
}
