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
	CgPoints struct {
		Points int
		Dims   map[string]int
	}
	Surfaces []struct {
		Name                   string
		P, F                   int
		F_i1, F_visible        int
		Min_N_E_Z, Max_N_E_Z   []float64
		Visible_bbox_N_E       []float64
		Visible_z              []float64
		P_used_by_visible      int
		Plan_area_visible      float64
		Breaklines, Boundaries int
	}
	Alignments   []countedAlignment
	PipeNetworks []struct {
		Name, PipeNetType       string
		Structs, Pipes, Inverts int
		Struct_shape            map[string]int
		Pipe_shape              map[string]int
		Invert_flowDir          map[string]int
		Pipes_without_slope     int
		Diameters               []float64 `json:"circpipe_diameter_min_max"`
	}
	CoordinateSystem []map[string]string
}

// Files that are read by their counts although the counts have the same file
// in another encoding.
var sameCounts = map[string]string{"d01_utf16le_bom.xml": "d01_tin_usft_small.xml", "d01_utf16be_bom.xml": "d01_tin_usft_small.xml"}

// Files that must be refused, and the words of the refusal.
var refused = map[string]string{"d18_unknown_version_ns.xml": "no version that is known here"}

func decodeFile(t testing.TB, path string) *formats.Document {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	d, err := Decode(f, filepath.Base(path), formats.Options{})
	require.NoError(t, err)
	return d
}

func realCounts(t testing.TB) map[string]counted {
	text, err := os.ReadFile(fixture.Shared(t, "landxml", "counts.json"))
	require.NoError(t, err)
	var all []counted
	require.NoError(t, json.Unmarshal(text, &all))
	want := map[string]counted{}
	for _, c := range all {
		want[c.File] = c
	}
	for name, other := range sameCounts {
		want[name] = want[other]
	}
	return want
}

func realFiles(t testing.TB) []string {
	files, err := filepath.Glob(fixture.Shared(t, "landxml", "files", "*.xml"))
	require.NoError(t, err)
	return files
}

// Every real file has the counts of an independent reader, or is refused.
func TestRealFilesHaveTheirCounts(t *testing.T) {
	want := realCounts(t)
	files := realFiles(t)
	require.Len(t, files, len(want))
	for _, path := range files {
		name := filepath.Base(path)
		t.Run(strings.TrimSuffix(name, ".xml"), func(t *testing.T) {
			d := decodeFile(t, path)
			if words, ok := refused[name]; ok {
				require.Len(t, d.Problems, 1)
				assert.Contains(t, d.Problems[0].Text, words)
				assert.Zero(t, d.Counts())
				return
			}
			assert.Empty(t, d.Problems)
			c, ok := want[name]
			require.True(t, ok)
			assert.Equal(t, c.CgPoints.Points, d.PointCount)
			levelled := 0
			for i := range d.Points {
				if d.Points[i].Levelled {
					levelled++
				}
			}
			assert.Equal(t, c.CgPoints.Dims["3"], levelled)
			compareSurfaces(t, c, d)
			compareAlignments(t, c, d)
			compareNetworks(t, c, d)
			if len(c.CoordinateSystem) > 0 {
				assert.Equal(t, c.CoordinateSystem[0]["epsgCode"], d.CRS.EPSG)
				assert.Equal(t, c.CoordinateSystem[0]["verticalCoordinateSystemName"], d.CRS.Vertical)
			}
		})
	}
}

func compareSurfaces(t *testing.T, c counted, d *formats.Document) {
	require.Len(t, d.Surfaces, len(c.Surfaces))
	for i, s := range c.Surfaces {
		got := &d.Surfaces[i]
		assert.Equal(t, s.Name, got.Name)
		assert.Len(t, got.Vertices, s.P)
		assert.Len(t, got.Faces, s.F)
		assert.Equal(t, s.F_i1, got.Invisible)
		assert.Equal(t, s.F_visible, len(got.Faces)-got.Invisible)
		assert.Len(t, got.Breaklines, s.Breaklines)
		assert.Len(t, got.Boundaries, s.Boundaries)
		if s.F_visible == 0 {
			assert.Equal(t, "nothing", got.Source)
			continue
		}
		all, visible := box{}, box{}
		used := map[int32]bool{}
		for _, v := range got.Vertices {
			all.add(v)
		}
		for _, f := range got.Faces {
			for _, v := range f.V {
				if !f.Invisible {
					used[v] = true
					visible.add(got.Vertices[v])
				}
			}
		}
		assert.InDeltaSlice(t, s.Min_N_E_Z, all.lo[:], 1e-6)
		assert.InDeltaSlice(t, s.Max_N_E_Z, all.hi[:], 1e-6)
		assert.Len(t, used, s.P_used_by_visible)
		assert.InDeltaSlice(t, s.Visible_bbox_N_E, []float64{visible.lo[0], visible.lo[1], visible.hi[0], visible.hi[1]}, 1e-6)
		assert.InDeltaSlice(t, s.Visible_z, []float64{visible.lo[2], visible.hi[2]}, 1e-6)
		assert.InDelta(t, s.Plan_area_visible, planArea(got), max(0.0006, s.Plan_area_visible*1e-6), "the count is rounded to 0.001")
	}
}

// box is northing, easting and level, least and largest.
type box struct {
	any    bool
	lo, hi [3]float64
}

func (b *box) add(v formats.Vertex) {
	p := [3]float64{v.N.Float(), v.E.Float(), v.Z.Float()}
	if !b.any {
		b.any, b.lo, b.hi = true, p, p
	}
	for i := range p {
		b.lo[i], b.hi[i] = min(b.lo[i], p[i]), max(b.hi[i], p[i])
	}
}

// planArea is the area of the visible faces in plan.
func planArea(s *formats.Surface) float64 {
	sum := 0.0
	for _, f := range s.Faces {
		if f.Invisible {
			continue
		}
		var v [3][2]float64
		for k, i := range f.V {
			v[k] = [2]float64{s.Vertices[i].N.Float(), s.Vertices[i].E.Float()}
		}
		a := (v[1][0]-v[0][0])*(v[2][1]-v[0][1]) - (v[1][1]-v[0][1])*(v[2][0]-v[0][0])
		sum += max(a, -a) / 2
	}
	return sum
}

func compareNetworks(t *testing.T, c counted, d *formats.Document) {
	require.Len(t, d.Networks, len(c.PipeNetworks))
	for i, n := range c.PipeNetworks {
		got := &d.Networks[i]
		assert.Equal(t, n.Name, got.Name)
		assert.Equal(t, n.PipeNetType, got.Type)
		assert.Len(t, got.Structures, n.Structs)
		assert.Len(t, got.Pipes, n.Pipes)
		inverts, noSlope, kinds, shapes, flow := 0, 0, map[string]int{}, map[string]int{}, map[string]int{}
		for _, s := range got.Structures {
			inverts += len(s.Inverts)
			kinds[s.Kind]++
			assert.True(t, s.Placed && s.Diameter.Set)
			for _, v := range s.Inverts {
				assert.True(t, v.Elev.Set)
				flow[v.Flow]++
			}
		}
		lo, hi := 1e9, 0.0
		for _, p := range got.Pipes {
			shapes[p.Shape]++
			lo, hi = min(lo, p.Bore.Value.Float()), max(hi, p.Bore.Value.Float())
			if !p.Slope.Set {
				noSlope++
			}
		}
		assert.Equal(t, n.Inverts, inverts)
		assert.Equal(t, n.Pipes_without_slope, noSlope)
		assert.Equal(t, n.Struct_shape["CircStruct"], kinds["circular"])
		assert.Equal(t, n.Pipe_shape["CircPipe"], shapes["circular"])
		assert.Equal(t, n.Invert_flowDir, flow)
		assert.Equal(t, n.Diameters, []float64{lo, hi})
	}
}

// The same file in UTF-16 is the same document.
func TestEncodingsOfOneFile(t *testing.T) {
	dir := fixture.Shared(t, "landxml", "files")
	plain := decodeFile(t, filepath.Join(dir, "d01_tin_usft_small.xml"))
	for name := range sameCounts {
		d := decodeFile(t, filepath.Join(dir, name))
		assert.Equal(t, formats.Property{Name: "encoding", Value: "utf-16"}, d.About[0])
		require.Len(t, d.Surfaces, 1)
		assert.Equal(t, plain.Surfaces[0].Faces, d.Surfaces[0].Faces)
		for i, v := range plain.Surfaces[0].Vertices {
			w := d.Surfaces[0].Vertices[i]
			v.Row, w.Row = 0, 0
			require.Equal(t, v, w)
		}
		assert.Equal(t, plain.Units, d.Units)
	}
}

var notesOfRealFiles = map[string][]string{
	"d01_tin_usft_small.xml":                     nil,
	"d02_tin_3330pts_161invisible_epsg3007.xml":  nil,
	"d03_three_surfaces_invisible.xml":           nil,
	"d04_no_namespace.xml":                       {"no namespace"},
	"d05_terrain_20k_pts_iso8859_profile_ns.xml": {"that of a profile", "because it has faces: lists of points (1)"},
	"d06_alignment_arcs_profile.xml":             {"that of a profile"},
	"d07_cgpoints_37_codes.xml":                  {"that of a profile"},
	"d08_storm_pipes_circ.xml":                   {"that of a profile", "wall thickness; it is taken to be that of the size of the pipe: 6"},
	"d09_alignment_usft_bom.xml":                 {"goes on 39.6004 ftUS behind the end of the alignment"},
	"d10_county_road_11_usft.xml":                {"the points of intersection at 92.267300 and 166.906000 are too close for their vertical curves, which overlap by 44.6387 ftUS"},
	"d11_subdivision_11_foot_pipes.xml": {"286 of 639 points have a level of exactly 0", "Parcels (1)", "widthUnit in Units): 11;", "goes on 0.0049 ft behind the end",
		"at 478.590362 and 645.423282 are too close for their vertical curves, which overlap by 8.1671 ft", "at 4012.460613 and 4028.062513 are too close for their vertical curves, which overlap by 146.8981 ft"},
	"d12_survey_observations_11.xml": {"PlanFeatures (1), Survey (1)"},
	"d16_empty_surface.xml":          {"it holds nothing"},
	"d17_no_surface.xml":             nil,
	"d19_alignpis_only_11.xml": {"the version attribute says 1.0 and the namespace 1.1", "only points of intersection (AlignPIs): 10",
		"written as 0, which none can have, and are read as infinite: 16"},
	"d20_azimuth_dir_clothoids.xml": nil,
}

// What is odd about the real files is said, and nothing else.
func TestNotesOfRealFiles(t *testing.T) {
	dir := fixture.Shared(t, "landxml", "files")
	for name, want := range notesOfRealFiles {
		d := decodeFile(t, filepath.Join(dir, name))
		var got []string
		for _, n := range d.Notes {
			got = append(got, n.Text)
		}
		all := strings.Join(got, "\n")
		assert.Len(t, got, len(want), "%s: %s", name, all)
		for _, w := range want {
			assert.Contains(t, all, w, name)
		}
	}
}

// Surfaces that state their plan area: with the marks of invisible faces it
// fits, without them a note says that it does not.
func TestLostMarksOfInvisibleFaces(t *testing.T) {
	path := fixture.Shared(t, "landxml", "files", "d02_tin_3330pts_161invisible_epsg3007.xml")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	d := decodeText(t, strings.ReplaceAll(string(text), ` i="1"`, ""), formats.Options{})
	require.Empty(t, d.Problems)
	assert.Zero(t, d.Surfaces[0].Invisible)
	require.Len(t, d.Notes, 1)
	assert.Contains(t, d.Notes[0].Text, "the file states a plan area of 92134.631 and its visible faces cover 174068.9")
}
