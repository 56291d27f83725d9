package landxml

import (
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/fixture"
)

// countedAlignment is what an independent reader counted in an alignment.
type countedAlignment struct {
	Name             string
	StaStart, Length string
	Geom             map[string]int
	Curve_rot        map[string]int
	Curve_no_radius  int
	SpiType          map[string]int
	Sum              float64 `json:"sum_of_stated_lengths"`
	No_length        int     `json:"elements_without_length"`
	StaEquations     int
	ProfAligns       []map[string]any
	ProfSurfs        []struct {
		Name    string
		Numbers int
	}
	CrossSects, CrossSectSurf, DesignCrossSectSurf, CrossSectPnt int
}

func compareAlignments(t *testing.T, c counted, d *formats.Document) {
	require.Len(t, d.Alignments, len(c.Alignments))
	for i := range c.Alignments {
		compareAlignment(t, &c.Alignments[i], &d.Alignments[i])
	}
	assert.Equal(t, len(d.Alignments), d.Counts().Alignments)
}

func compareAlignment(t *testing.T, a *countedAlignment, got *formats.Alignment) {
	assert.Equal(t, a.Name, got.Name)
	assert.Equal(t, strings.TrimSuffix(a.StaStart, "."), got.StaStart.String())
	assert.Equal(t, a.Length, got.Length.String())
	assert.True(t, got.Stationed && got.Measured)
	geom, rot, types, noRadius, noLength, sum := map[string]int{}, map[string]int{}, map[string]int{}, 0, 0, 0.0
	count := func(e *formats.AlignmentElement) {
		switch e.Kind {
		case "curve":
			rot[e.Rotation]++
			if !e.Radius.Set {
				noRadius++
			}
		case "spiral":
			types[e.SpiralType]++
		}
	}
	for k := range got.Elements {
		e := &got.Elements[k]
		geom[elementTags[e.Kind]]++
		count(e)
		if !e.Length.Set {
			noLength++
		}
		sum += e.Length.Value.Float()
	}
	for k := range got.PIs {
		for j := range got.PIs[k].Curves {
			count(&got.PIs[k].Curves[j].AlignmentElement)
		}
	}
	assert.Equal(t, a.Geom, geom)
	assert.Equal(t, a.Curve_rot, rot)
	assert.Equal(t, a.SpiType, types)
	assert.Equal(t, a.Curve_no_radius, noRadius)
	assert.Equal(t, a.No_length, noLength)
	assert.InDelta(t, a.Sum, sum, 1e-6)
	assert.Len(t, got.Equations, a.StaEquations)
	compareProfiles(t, a, got)
	assert.Len(t, got.Sections, a.CrossSects)
	lines, points := map[string]int{}, 0
	for _, s := range got.Sections {
		for _, l := range s.Surfaces {
			lines[l.Kind]++
			if l.Kind == "design" {
				points += len(l.Points)
			}
			assert.NotEmpty(t, l.Points)
		}
	}
	assert.Equal(t, a.CrossSectSurf, lines["surface"])
	assert.Equal(t, a.DesignCrossSectSurf, lines["design"])
	assert.Equal(t, a.CrossSectPnt, points)
}

func compareProfiles(t *testing.T, a *countedAlignment, got *formats.Alignment) {
	tags := map[string]string{}
	for tag, kind := range curveKinds {
		tags[kind] = tag
	}
	var design []map[string]any
	surfaces := 0
	for _, p := range got.Profiles {
		if p.Kind == "design" {
			kinds := map[string]any{"name": p.Name}
			for _, v := range p.PVIs {
				n, _ := kinds[tags[v.Curve]].(float64)
				kinds[tags[v.Curve]] = n + 1
			}
			design = append(design, kinds)
			continue
		}
		require.Less(t, surfaces, len(a.ProfSurfs))
		want := a.ProfSurfs[surfaces]
		surfaces++
		assert.Equal(t, want.Name, p.Name)
		assert.Equal(t, want.Numbers, 2*len(p.PVIs))
	}
	assert.Len(t, a.ProfSurfs, surfaces)
	require.Len(t, design, len(a.ProfAligns))
	for i := range design {
		assert.Equal(t, a.ProfAligns[i], design[i])
	}
}

// The points of breaklines, counted with another XML library (lxml 4.9 for
// Python): 17613 numbers in 175 lists of three to a point.
func TestBreaklinesOfARealFile(t *testing.T) {
	d := decodeFile(t, fixture.Shared(t, "landxml", "files", "d05_terrain_20k_pts_iso8859_profile_ns.xml"))
	n := 0
	for i, b := range d.Surfaces[0].Breaklines {
		assert.Equal(t, strconv.Itoa(i+1), b.Name)
		assert.Equal(t, "standard", b.Kind)
		assert.True(t, b.Levelled)
		n += len(b.Points)
	}
	assert.Equal(t, 17613, 3*n)
	b := d.Surfaces[0].Breaklines[0]
	assert.Equal(t, []string{"6783172.777000", "21531279.279000", "21.172000"}, []string{b.Points[0].N.String(), b.Points[0].E.String(), b.Points[0].Z.String()})
	assert.Equal(t, 22, b.Pos.Row)
	assert.Equal(t, 23, b.Points[0].Row)
}

// Where a file says something twice, the two agree in all real files but for
// the differences that are listed: the notes of each file are all there are.
func TestNotesNameEveryRealFile(t *testing.T) {
	for _, path := range realFiles(t) {
		name := filepath.Base(path)
		_, known := notesOfRealFiles[name]
		_, other := sameCounts[name]
		_, no := refused[name]
		assert.True(t, known || other || no, name)
	}
}
