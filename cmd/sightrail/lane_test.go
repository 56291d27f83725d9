package main

import (
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/qa"
	"sightrail/qa/checks"
)

// laneFiles reads files with plain rows taken in one go or not, and counts the pieces.
type laneFiles struct {
	folder
	off    bool
	pieces *int
}

func (f laneFiles) Decode(name string, opt formats.Options) (*formats.Document, qa.Input, error) {
	if take := opt.Plain; take != nil {
		opt.Plain = func(at formats.Pos, rows formats.PlainRows) (formats.PlainWork, error) {
			*f.pieces++
			return take(at, rows)
		}
	}
	if f.off {
		opt.Plain = nil
	}
	return f.folder.Decode(name, opt)
}

// laneRun runs a job; what are the bytes it writes, verdict and counts among them.
func laneRun(t *testing.T, path string, off bool, columns []string, grid bool) (got map[string]string, pieces int) {
	t.Helper()
	j, in, err := loadJob(path)
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, laneFiles{folder{dir: filepath.Dir(path)}, off, &pieces}, "test")
	require.NoError(t, err)
	r.Head.Inputs = append(r.Head.Inputs, in)
	r.Head.Columns, r.Head.GridOnly = columns, grid
	kinds, err := chosen([]string{"csv", "geojson", "geojsonl", "summary"}, j)
	require.NoError(t, err)
	dir := t.TempDir()
	out := &output{dir: dir}
	res, err := write(r, kinds, out)
	require.NoError(t, err)
	require.NoError(t, out.commit())
	got = outputs(t, dir)
	for i := range res.Worst {
		res.Worst[i].Shot.Worth = convert.Worthy{} // a pointer
	}
	got["worst"] = fmt.Sprint(res.Worst, res.RowCount, res.FailureCount, res.Account, res.Problems, res.Notes)
	return got, pieces
}

// lanePoints are points of which few are not plain, off a pad of 90 m, or written in
// another way than they are printed.
func lanePoints(n, rare int, seed int64) string {
	r := rand.New(rand.NewSource(seed))
	var b strings.Builder
	b.WriteString("Point,Easting,Northing,Level,Code\n")
	number := func(whole, spread, places int) string {
		s := fmt.Sprintf("%.*f", places, float64(whole)+float64(spread)*r.Float64())
		if r.Intn(9) == 0 {
			s = "0" + s
		}
		return s
	}
	for i := range n {
		if r.Intn(rare) == 0 {
			b.WriteString([]string{"# a remark, 12\n", "\n", "short,1\n", "a b,320001,5800001,10,X\n", "p,320001,5800001,1O,X\n", "p,320001,5800001,,X\n", "p,320001,99999999999999999,10,X\n", "p,320001,5800001,-9999,X\n", "\"p, q\",320001,5800001,10,X\n", "p,320001,5800001,0,X\r\n"}[r.Intn(10)])
			continue
		}
		places := []int{3, 3, 3, 0, 2, 4, 6, 9}[r.Intn(8)]
		fmt.Fprintf(&b, "p%d,%s,%s,%s,%s\n", i, number(320000, 91, places), number(5800000, 91, places), fmt.Sprintf("%.*f", places, 10+0.009*r.NormFloat64()), []string{"FG", "", "#1", "A/b.c"}[r.Intn(4)])
	}
	return b.String()
}

// Rows taken in one go come to the same bytes, verdict, figures and problems as those
// that pass the checks one by one, with every kind of design, column and coordinates, and
// any number of workers.
func TestOneGoIsTheSame(t *testing.T) {
	plane := "{name: pad, plane: {easting: 320000 m, northing: 5800000 m, level: 10 m, corners: [[320000 m, 5800000 m], [320090 m, 5800000 m], [320090 m, 5800090 m], [320000 m, 5800090 m]]}}"
	tin := "{name: pad, file: grid.csv, points: {maxSide: 20 m}}"
	short := []string{"point", "easting", "northing", "measured", "code", "design", "diff_mm", "verdict"}
	check := "  - surface: {name: pad, element: pad, design: pad, %stolerance: {lower: -20 mm, upper: 10 mm, source: s}}\n"
	for name, c := range map[string]struct {
		unit, design, survey, checks string
		columns                      []string
		grid                         bool
		rare                         int
		pieces                       bool // some are expected
	}{
		"plane":            {"m", plane, "", fmt.Sprintf(check, ""), short, true, 4000, true},
		"every column":     {"m", plane, "", fmt.Sprintf(check, ""), nil, false, 4000, true},
		"triangles":        {"m", tin, "", fmt.Sprintf(check, ""), short, true, 4000, true},
		"plane in ft":      {"ft", strings.ReplaceAll(strings.ReplaceAll(plane, " m,", " ft,"), " m]", " ft]"), "", strings.NewReplacer("20 mm", "0.02 ft", "10 mm", "0.01 ft").Replace(fmt.Sprintf(check, "")), short, true, 4000, true},
		"offset and worth": {"m", tin, ", uncertainty: {point: 3 mm, source: s}", fmt.Sprintf(check, "offset: -5 mm, "), append([]string{"u_mm", "action", "beyond_mm", "design_at", "cell", "use", "lower_mm"}, short...), false, 4000, true},
		"much that is odd": {"m", tin, "", fmt.Sprintf(check, ""), short, true, 30, true},
		"two checks":       {"m", tin, "", fmt.Sprintf(check, "") + strings.Replace(fmt.Sprintf(check, ""), "name: pad", "name: again", 1), short, true, 4000, false},
		"some shots":       {"m", tin, "", fmt.Sprintf(check, "shots: {codes: [FG]}, "), short, true, 4000, false},
		"excluded":         {"m", tin, ", exclude: [{codes: [\"#1\"], reason: r}]", fmt.Sprintf(check, ""), short, true, 4000, false},
		"decision":         {"m", tin, ", uncertainty: {point: 3 mm, source: s}", fmt.Sprintf(check, "decision: {rule: guarded acceptance, factor: 2, source: s}, "), short, true, 4000, false},
		"pegs of inverts":  {"m", tin, ", staffed: invert", fmt.Sprintf(check, ""), short, true, 4000, true},
		"normal offset":    {"m", tin, "", fmt.Sprintf(check, "offset: -5 mm, offsetAlong: normal, "), short, true, 4000, false},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "job.yaml")
			grid := "EPSG:7855"
			if c.unit != "m" {
				grid = "local site"
			}
			text := fmt.Sprintf("project: p\nunits: %[1]s\ngrid: %[2]s\nheightDatum: d\nsurveys:\n  - {file: points.csv, kind: points, unit: %[1]s%[3]s}\ndesigns:\n  - %[4]s\nchecks:\n%[5]s", c.unit, grid, c.survey, c.design, c.checks)
			require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "points.csv"), []byte(lanePoints(22_000, c.rare, 7)), 0o644))
			var g strings.Builder
			g.WriteString("Point,Easting (m),Northing (m),Level (m)\n")
			for i := range 100 {
				fmt.Fprintf(&g, "g%d,%d,%d,10.%02d\n", i, 320000+10*(i%10), 5800000+10*(i/10), i%3)
			}
			require.NoError(t, os.WriteFile(filepath.Join(dir, "grid.csv"), []byte(g.String()), 0o644))
			want, none := laneRun(t, path, true, c.columns, c.grid)
			require.Zero(t, none)
			judged := strings.Count(want["results.csv"], "fail") > 100 && strings.Count(want["results.csv"], "pass") > 100
			require.Equal(t, name != "pegs of inverts", judged)
			for _, workers := range []int{1, 2, 7} {
				before := runtime.GOMAXPROCS(workers)
				got, pieces := laneRun(t, path, false, c.columns, c.grid)
				runtime.GOMAXPROCS(before)
				require.Equal(t, c.pieces, pieces > 1, "%d pieces", pieces)
				for name, text := range want {
					require.Equal(t, text, got[name], "%s with %d workers", name, workers)
				}
			}
		})
	}
}
