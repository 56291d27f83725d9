package landxml

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

// counted is what an independent reader counted in a real file.
type counted struct {
	File     string
	CgPoints struct{ Points int }
	Surfaces []struct {
		Name             string
		P, F             int
		F_i1, F_visible  int
		Visible_bbox_N_E []float64
		Visible_z        []float64
		Plan_area        float64 `json:"plan_area_visible"`
	}
	Alignments   []struct{ Name string }
	PipeNetworks []struct {
		Name                    string
		Structs, Pipes, Inverts int
		Pipes_without_slope     int
	}
}

// Files that are read by their counts although counts.json has the same file
// in another encoding.
var sameCounts = map[string]string{"d01_utf16le_bom.xml": "d01_tin_usft_small.xml", "d01_utf16be_bom.xml": "d01_tin_usft_small.xml"}

// Files that must be refused, and the words of the refusal.
var refused = map[string]string{"d18_unknown_version_ns.xml": "no version that is known here"}

func decodeFile(t *testing.T, path string) *formats.Document {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	d, err := Decode(f, filepath.Base(path), formats.Options{})
	require.NoError(t, err)
	return d
}

// Every real file has the counts of an independent reader, or is refused.
func TestRealFilesHaveTheirCounts(t *testing.T) {
	text, err := os.ReadFile(fixture.Shared(t, "landxml", "counts.json"))
	require.NoError(t, err)
	var all []counted
	require.NoError(t, json.Unmarshal(text, &all))
	want := map[string]counted{}
	for _, c := range all {
		want[c.File] = c
	}
	files, err := filepath.Glob(fixture.Shared(t, "landxml", "files", "*.xml"))
	require.NoError(t, err)
	require.Len(t, files, len(all)+len(sameCounts))
	for _, path := range files {
		name := filepath.Base(path)
		t.Run(strings.TrimSuffix(name, ".xml"), func(t *testing.T) {
			d := decodeFile(t, path)
			if words, ok := refused[name]; ok {
				require.Len(t, d.Problems, 1)
				assert.Contains(t, d.Problems[0].Text, words)
				return
			}
			assert.Empty(t, d.Problems)
			key := name
			if other, ok := sameCounts[name]; ok {
				key = other
			}
			c, ok := want[key]
			require.True(t, ok)
			assert.Equal(t, c.CgPoints.Points, d.PointCount)
			assert.Len(t, d.Alignments, len(c.Alignments))
			require.Len(t, d.Surfaces, len(c.Surfaces))
			for i, s := range c.Surfaces {
				got := d.Surfaces[i]
				assert.Equal(t, s.Name, got.Name)
				assert.Len(t, got.Vertices, s.P)
				assert.Len(t, got.Faces, s.F)
				assert.Equal(t, s.F_i1, got.Invisible)
				if s.F_visible > 0 {
					compareVisible(t, &got, s.Visible_bbox_N_E, s.Visible_z, s.Plan_area)
				}
			}
			require.Len(t, d.Networks, len(c.PipeNetworks))
			for i, n := range c.PipeNetworks {
				got := d.Networks[i]
				assert.Equal(t, n.Name, got.Name)
				assert.Len(t, got.Structures, n.Structs)
				assert.Len(t, got.Pipes, n.Pipes)
				inverts, noSlope := 0, 0
				for _, s := range got.Structures {
					inverts += len(s.Inverts)
				}
				for _, p := range got.Pipes {
					if !p.Slope.Set {
						noSlope++
					}
				}
				assert.Equal(t, n.Inverts, inverts)
				assert.Equal(t, n.Pipes_without_slope, noSlope)
			}
		})
	}
}

// compareVisible compares box, levels and plan area of the visible faces.
func compareVisible(t *testing.T, s *formats.Surface, box, z []float64, area float64) {
	lo, hi := [3]float64{1e30, 1e30, 1e30}, [3]float64{-1e30, -1e30, -1e30}
	sum := 0.0
	for _, f := range s.Faces {
		if f.Invisible {
			continue
		}
		var v [3][3]float64
		for k, i := range f.V {
			p := s.Vertices[i]
			v[k] = [3]float64{p.N.Float(), p.E.Float(), p.Z.Float()}
			for j := range 3 {
				lo[j], hi[j] = min(lo[j], v[k][j]), max(hi[j], v[k][j])
			}
		}
		a := (v[1][0]-v[0][0])*(v[2][1]-v[0][1]) - (v[1][1]-v[0][1])*(v[2][0]-v[0][0])
		sum += max(a, -a) / 2
	}
	assert.InDeltaSlice(t, box, []float64{lo[0], lo[1], hi[0], hi[1]}, 1e-6)
	assert.InDeltaSlice(t, z, []float64{lo[2], hi[2]}, 1e-6)
	assert.InDelta(t, area, sum, max(0.001, area*1e-6)) // the count is rounded to 0.001
}
