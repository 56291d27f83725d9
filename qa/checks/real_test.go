package checks_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/fixture"
	"sightrail/formats/landxml"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// raised are the vertices of a surface a tenth of a metre, or of a foot, higher, as a
// point file: those that belong to a visible face, and how many they are.
func raised(s *formats.Surface) (text string, faced int) {
	on := make([]bool, len(s.Vertices))
	for _, f := range s.Faces {
		if !f.Invisible {
			on[f.V[0]], on[f.V[1]], on[f.V[2]] = true, true, true
		}
	}
	var b strings.Builder
	b.WriteString("Point,Easting,Northing,Level\n")
	for i := range s.Vertices {
		if !on[i] {
			continue
		}
		v := &s.Vertices[i]
		z := v.Z // in its own decimals, of which some files write more than a Length prints
		if z.Places == 0 {
			z = unit.Decimal{Coef: z.Coef * 10, Places: 1}
		}
		tenth := int64(1)
		for range z.Places - 1 {
			tenth *= 10
		}
		z.Coef += tenth
		fmt.Fprintf(&b, "%d,%s,%s,%s\n", v.ID, v.E, v.N, z)
		faced++
	}
	return b.String(), faced
}

// The surfaces of real files through every check of a surface. The shots are their own
// vertices, a tenth of the unit higher: every level and thickness is known exactly, the
// mean of the volumes nearly, because the triangles between the shots are made anew.
func TestRealSurfacesThroughAllChecks(t *testing.T) {
	for _, file := range []string{"d01_tin_usft_small.xml", "d02_tin_3330pts_161invisible_epsg3007.xml", "d03_three_surfaces_invisible.xml", "d05_terrain_20k_pts_iso8859_profile_ns.xml"} {
		t.Run(file, func(t *testing.T) {
			raw, err := os.ReadFile(fixture.Shared(t, "landxml", "files", file))
			require.NoError(t, err)
			d, err := landxml.Format.Decode(strings.NewReader(string(raw)), file, formats.Options{})
			require.NoError(t, err)
			u := d.Units.Linear
			grid := "local site"
			if d.CRS.EPSG != "" {
				grid = "EPSG:" + d.CRS.EPSG
			}
			tested := 0
			for i := range d.Surfaces {
				s := &d.Surfaces[i]
				if len(s.Faces) == s.Invisible {
					continue
				}
				tested++
				shots, n := raised(s)
				tenth := "0.1 " + u.Name
				text := fmt.Sprintf("project: p\nunits: %s\ngrid: %s\nheightDatum: d\nsurveys:\n  - {file: p.csv, kind: points, unit: %s, staffed: surface}\ndesigns:\n  - {name: s, file: %s, surface: %q}\nchecks:\n"+
					"  - surface: {name: level, element: e, design: s, tolerance: {lower: 0 mm, upper: %s, source: s}}\n"+
					"  - thickness: {name: thickness, element: e, design: s, specified: %s, tolerance: {lower: 0 mm, upper: 0 mm, source: s}}\n"+
					"  - volume: {name: volume, element: e, design: s}\n"+
					"  - ponding: {name: ponding, element: e, tolerance: {upper: 1000 %s, source: s}}\n", u.Name, grid, u.Name, file, s.Name, tenth, tenth, u.Name)
				res := runShots(t, text, map[string]string{file: string(raw), "p.csv": shots})
				levels, thick, twice := 0, 0, 0
				for k := range res.Rows {
					r := &res.Rows[k]
					switch {
					case r.Check > 1 || r.Derived:
					case strings.Contains(r.Reason, "lie over each other"):
						twice++
					case r.Check == 0:
						require.Equal(t, u.Size/10, r.Diff, "%s %s: %s", s.Name, r.Shot.ID, r.Reason)
						require.Equal(t, limits.Pass, r.Verdict)
						levels++
					default:
						require.Zero(t, r.Diff, "%s %s: %s", s.Name, r.Shot.ID, r.Reason)
						require.Equal(t, limits.Pass, r.Verdict)
						thick++
					}
				}
				kept := min(n, qa.MaxRows/4) // rows kept of so many shots with four checks
				require.GreaterOrEqual(t, levels+twice/2, kept-1, s.Name)
				require.Equal(t, levels, thick, s.Name)
				volume, pond := &res.Checks[2], &res.Checks[3]
				require.NotEmpty(t, volume.Figures, "%s: %v", s.Name, volume.Remarks)
				got := map[string]float64{}
				for _, f := range volume.Figures {
					got[f.Name] = f.Value
				}
				assert.Greater(t, got["area compared"], 0.0, s.Name)
				assert.GreaterOrEqual(t, got["area without design"], 0.0, s.Name)
				net := got["volume above design"] - got["volume below design"]
				assert.InDelta(t, got["mean difference"]/1000/u.Size.Metres(), net/got["area compared"], 1e-9, s.Name)
				require.Zero(t, pond.Counts.NotAssessed, "%s: %v", s.Name, pond.Remarks)
				require.NotZero(t, pond.Counts.Assessed, s.Name)
				worst := unit.Length(0)
				for k := range res.Rows {
					if r := &res.Rows[k]; r.Quantity == qa.QuantityPonding && r.Derived {
						worst = max(worst, r.Diff)
						assert.GreaterOrEqual(t, r.Diff, unit.Length(0))
						assert.NotEqual(t, convert.NotAssessed, r.Shot.Use)
					}
				}
				t.Logf("%s: %d shots, mean %.1f mm, %d ponds, of those kept the deepest %s mm", s.Name, n, got["mean difference"], pond.Counts.Assessed, worst.Fixed(unit.MM, 0))
			}
			require.NotZero(t, tested)
		})
	}
}
