package checks_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// worked reads a worked example of testdata.
func worked(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "worked", "quality", name))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, into))
}

// volumeJob is a volume check against a level plane.
func volumeJob(u, level, keys string) string {
	return fmt.Sprintf("project: p\nunits: %[1]s\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, unit: %[1]s}\n"+
		"designs:\n  - {name: d, plane: {easting: 0 m, northing: 0 m, level: %[2]s %[1]s}}\nchecks:\n  - volume: {name: v, element: e, design: d%[3]s}\n", u, level, keys)
}

// figure is a figure of the first check by its name.
func figure(t *testing.T, res *qa.Result, name string) float64 {
	t.Helper()
	for _, f := range res.Checks[0].Figures {
		if f.Name == name {
			return f.Value
		}
	}
	require.Fail(t, "no figure "+name, "%+v", res.Checks[0].Figures)
	return 0
}

// The fill of one grid cell, by the mean of its corners. The middle of the cell is a
// shot of that mean level: then triangles give the mean of the corners whatever the
// diagonals. Source in the file.
func TestFillOfAGridCell(t *testing.T) {
	var x struct {
		Inputs struct {
			Area      float64 `json:"cell_area"`
			Levels    []float64
			Formation float64
		}
		Want, Within map[string]float64
	}
	worked(t, "single-grid-cell-fill-50ft.json", &x)
	require.EqualValues(t, 2500, x.Inputs.Area, "a square of 50 ft")
	l := x.Inputs.Levels
	shots := fmt.Sprintf("Point,Easting,Northing,Level\na,0,0,%v\nb,50,0,%v\nc,50,50,%v\nd,0,50,%v\nm,25,25,%v\n", l[0], l[1], l[2], l[3], (l[0]+l[1]+l[2]+l[3])/4)
	res := runShots(t, volumeJob("ft", fmt.Sprint(x.Inputs.Formation), ""), map[string]string{"p.csv": shots})
	assert.InDelta(t, x.Want["volume_yd3"], figure(t, res, "volume below design")/27, x.Within["volume_yd3"])
	assert.InDelta(t, -x.Want["depth"]*304.8, figure(t, res, "mean difference"), 1e-6)
	assert.Zero(t, figure(t, res, "volume above design"))
}

// The rule of the triangular prism. Source in the file.
func TestTrianglePrisms(t *testing.T) {
	var x struct {
		Inputs struct {
			S float64
			H [][]float64
		}
		Want   struct{ V []float64 }
		Within struct{ V float64 }
	}
	worked(t, "uni-melbourne-triangle-prism-rule.json", &x)
	require.NotEmpty(t, x.Inputs.H)
	for i, h := range x.Inputs.H {
		shots := fmt.Sprintf("Point,Easting,Northing,Level\na,0,0,%v\nb,%v,0,%v\nc,0,%v,%v\n", h[0], x.Inputs.S, h[1], x.Inputs.S, h[2])
		res := runShots(t, volumeJob("m", "0", ""), map[string]string{"p.csv": shots})
		assert.InDelta(t, x.Want.V[i], figure(t, res, "volume above design"), x.Within.V)
	}
}

// A railway cutting with sides of 1.5 to 1. Its sides and bottom are planes between
// the sections, so that triangles give the volume of the prismoid. The mean of end
// areas, which the source prints, is larger by side slope × length × Σ(Δd)²/6:
// algebra. Source in the file.
func TestCuttingByTrianglesAndByEndAreas(t *testing.T) {
	var x struct {
		Inputs struct {
			Base, Spacing float64
			Slope         float64 `json:"side_slope"`
			Depths        []float64
		}
		Want, Within map[string]float64
	}
	worked(t, "vose-1857-average-end-area.json", &x)
	var shots strings.Builder
	shots.WriteString("Point,Run,Easting,Northing,Level\n")
	correction := 0.0
	half := x.Inputs.Base / 2
	// lines follow each other: toe and top of either side
	for _, line := range []struct {
		run  string
		side float64
		top  bool
	}{{"toe L", -1, false}, {"toe R", 1, false}, {"top L", -1, true}, {"top R", 1, true}} {
		for i, d := range x.Inputs.Depths {
			s := float64(i) * x.Inputs.Spacing
			e, z := line.side*half, -d
			if line.top {
				e, z = line.side*(half+x.Inputs.Slope*d), 0
			}
			fmt.Fprintf(&shots, "%s%d,%s,%v,%v,%v\n", line.run, i, line.run, e, s, z)
		}
	}
	for i := 1; i < len(x.Inputs.Depths); i++ {
		step := x.Inputs.Depths[i] - x.Inputs.Depths[i-1]
		correction += x.Inputs.Slope * x.Inputs.Spacing * step * step / 6
	}
	res := runShots(t, volumeJob("ft", "0", `, made: {breaklines: ["toe *", "top *"]}`), map[string]string{"p.csv": shots.String()})
	require.Empty(t, res.Problems)
	got := figure(t, res, "volume below design")
	assert.InDelta(t, 52_500, got, 1e-6, "by integration")
	assert.InDelta(t, x.Want["average_end_area"], got+correction, x.Within["average_end_area"])
}

// Fill and cut of a road by mean end areas, and by pyramids where one end is nothing.
// Sections of one width make the mean of end areas the volume itself; where width and
// depth go to nothing together, the area that is reckoned narrows to a point. Source
// in the file.
func TestFillAndCutByStations(t *testing.T) {
	var x struct {
		Inputs       struct{ Stations, Fill, Cut []float64 }
		Want, Within map[string]float64
	}
	worked(t, "wikibooks-cut-fill-stations.json", &x)
	const half = 5
	total := map[string]float64{}
	for name, areas := range map[string][]float64{"fill": x.Inputs.Fill, "cut": x.Inputs.Cut} {
		sign := map[string]float64{"fill": 1, "cut": -1}[name]
		for i := 1; i < len(areas); i++ {
			a, b, s, e := areas[i-1], areas[i], x.Inputs.Stations[i-1], x.Inputs.Stations[i]
			if a == 0 && b == 0 {
				continue
			}
			ends := [2]float64{half, half}
			if a == 0 {
				ends[0] = 0
			}
			if b == 0 {
				ends[1] = 0
			}
			shots := fmt.Sprintf("Point,Easting,Northing,Level\na,%v,-5,%v\nb,%v,5,%v\nc,%v,-5,%v\nd,%v,5,%v\n", s, sign*a/10, s, sign*a/10, e, sign*b/10, e, sign*b/10)
			var corners []string
			for _, c := range [][2]float64{{s, -ends[0]}, {e, -ends[1]}, {e, ends[1]}, {s, ends[0]}} {
				at := fmt.Sprintf("[%v m, %v m]", c[0], c[1])
				if len(corners) == 0 || corners[len(corners)-1] != at && corners[0] != at {
					corners = append(corners, at)
				}
			}
			text := volumeJob("m", "0", ", made: {}") + "lots:\n  - {name: L, polygon: {corners: [" + strings.Join(corners, ", ") + "]}}\n"
			res := runShots(t, text, map[string]string{"p.csv": shots})
			require.Empty(t, res.Problems, text)
			total[name] += figure(t, res, map[string]string{"fill": "volume above design", "cut": "volume below design"}[name])
		}
		assert.InDelta(t, x.Want[name], total[name], x.Within[name], name)
	}
	assert.InDelta(t, x.Want["net_needed"], total["fill"]-total["cut"], x.Within["net_needed"])
}

// The example of the page: all shots 20 mm over a pad of 10 m × 10 m. Closed form.
func TestVolumeBeyondTheLimits(t *testing.T) {
	shots := "Point,Easting,Northing,Level\na,0,0,10.02\nb,10,0,10.02\nc,10,10,10.02\nd,0,10,10.02\n"
	res := runShots(t, volumeJob("m", "10", ", beyond: {lower: -30 mm, upper: 15 mm, source: s}"), map[string]string{"p.csv": shots})
	assert.InDelta(t, 2, figure(t, res, "volume above design"), 1e-12)
	assert.InDelta(t, 0.5, figure(t, res, "volume beyond the upper limit, 15 mm"), 1e-12)
	assert.InDelta(t, 100, figure(t, res, "area beyond the upper limit"), 1e-9)
	assert.Zero(t, figure(t, res, "volume beyond the lower limit, -30 mm"))
	assert.InDelta(t, 100, figure(t, res, "area compared"), 1e-9)
	assert.Equal(t, "m³", res.Checks[0].Figures[0].Unit)
	assert.Empty(t, res.Checks[0].Remarks, "a check that informs has nothing to judge")
	assert.Equal(t, qa.VerdictIncomplete, res.Verdict, "a job that judges nothing at all proves nothing")

	// a stage offset, and a surface that ends within the area
	res = runShots(t, volumeJob("m", "10", ", offset: 20 mm"), map[string]string{"p.csv": shots})
	assert.Zero(t, figure(t, res, "volume above design"))
	res = runShots(t, volumeJob("m", "10", "")+"lots:\n  - {name: L, polygon: {corners: [[0 m, 0 m], [20 m, 0 m], [20 m, 10 m], [0 m, 10 m]]}}\n", map[string]string{"p.csv": shots})
	assert.InDelta(t, 100, figure(t, res, "area without a surface of shots"), 1e-9)
	assert.Equal(t, "lot L", res.Checks[0].Figures[0].Of)
}

// A mean exactly on its limit, and one last digit beyond, in every unit.
func TestMeanOnItsLimitInEveryUnit(t *testing.T) {
	for _, c := range []struct{ unit, level, limit, on, over string }{
		{"m", "12", "0.005 m", "12.005", "12.0051"}, {"ft", "40", "0.02 ft", "40.02", "40.0201"}, {"ftUS", "40", "0.07 ftUS", "40.07", "40.0701"}, {"in", "40", "0.0625 in", "40.0625", "40.0626"},
	} {
		for level, want := range map[string]string{c.on: "pass", c.over: "fail"} {
			shots := fmt.Sprintf("Point,Easting,Northing,Level\na,0,0,%[1]s\nb,10,0,%[1]s\nc,10,10,%[1]s\nd,0,10,%[1]s\nm,3,4,%[1]s\n", level)
			text := strings.Replace(volumeJob(c.unit, c.level, fmt.Sprintf(", mean: {upper: %s, source: s}", c.limit)), "units: in", "units: ft", 1)
			res := runShots(t, text, map[string]string{"p.csv": shots})
			require.Len(t, res.Rows, 6)
			r := res.Rows[5]
			assert.Equal(t, want, r.Verdict.String(), "%s %s", level, c.unit)
			assert.Equal(t, qa.QuantityMean, r.Quantity)
			assert.InDelta(t, 0, (r.Diff - r.Limits.Upper).Metres(), 0.0001)
			if want == "pass" {
				assert.Equal(t, r.Limits.Upper, r.Diff, "on the limit")
			}
		}
	}
}

// A hundredth of a nanometre beyond the limit is beyond it: the band about a limit is
// that of the rounding of the sums alone. The levels are 10 m + 5 mm + 0.01 nm.
func TestMeanJustBeyondItsLimit(t *testing.T) {
	for level, want := range map[string]string{"10.005": "pass", "10.00500000001": "fail"} {
		shots := fmt.Sprintf("Point,Easting,Northing,Level\na,0,0,%[1]s\nb,10,0,%[1]s\nc,10,10,%[1]s\nd,0,10,%[1]s\n", level)
		res := runShots(t, volumeJob("m", "10", ", mean: {upper: 5 mm, source: s}"), map[string]string{"p.csv": shots})
		assert.Equal(t, want, res.Rows[4].Verdict.String(), level)
	}
}

// The mean of half a lot says nothing about the other half.
func TestMeanOfAPart(t *testing.T) {
	shots := map[string]string{"p.csv": "Point,Easting,Northing,Level\na,0,0,10\nb,10,0,10\nc,10,10,10\nd,0,10,10\n"}
	lots := "lots:\n  - {name: L, polygon: {corners: [[0 m, 0 m], [20 m, 0 m], [20 m, 10 m], [0 m, 10 m]]}}\n"
	mean := ", mean: {upper: 5 mm, source: s}"
	res := runShots(t, volumeJob("m", "10", mean)+lots, shots)
	assert.Equal(t, "not assessed", res.Rows[4].Verdict.String())
	assert.Equal(t, "50.0 % of lot L has both a surface of shots and a design, and 100 % is asked for (coveredPercent); the mean of a part says nothing about the rest", res.Rows[4].Reason)
	for share, want := range map[string]string{"50": "pass", "51": "not assessed"} {
		res = runShots(t, volumeJob("m", "10", mean+", coveredPercent: "+share)+lots, shots)
		assert.Equal(t, want, res.Rows[4].Verdict.String(), share)
	}
	_, err := job.Load("job.yaml", []byte(volumeJob("m", "10", ", coveredPercent: 50")), checks.Kinds())
	assert.ErrorContains(t, err, "there is no \"mean:\"")
}
