package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa/report"
)

// Columns are those asked for, in that order, with the values they have among all; the
// GeoJSON has properties of the same names and values.
func TestColumnsByName(t *testing.T) {
	dir := t.TempDir()
	job := filepath.Join("..", "..", "testdata", "jobs", "demo", "job.yaml")
	table := func(name string, args ...string) [][]string {
		code, _, stderr := sightrail(append([]string{"check", job, "-o", filepath.Join(dir, name), "-q", "--outputs", "csv,geojson"}, args...)...)
		require.Equal(t, exitUndone, code, stderr)
		f, err := os.Open(filepath.Join(dir, name, "results.csv"))
		require.NoError(t, err)
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		return rows
	}
	all := table("all")
	for _, names := range [][]string{{"verdict", "point", "diff_mm", "easting", "reason"}, {"cell"}, {"design", "built_grade", "design_grade", "measured", "lot"}} {
		some := table(strings.Join(names, "-"), "--columns", strings.Join(names, ","))
		require.Equal(t, names, some[0])
		require.Len(t, some, len(all))
		for k, n := range names {
			if at := slices.Index(all[0], n); at >= 0 {
				for i := range all {
					require.Equal(t, all[i][at], some[i][k])
				}
			}
		}
		text, err := os.ReadFile(filepath.Join(dir, strings.Join(names, "-"), "results.geojson"))
		require.NoError(t, err)
		var g struct {
			Features []struct{ Properties map[string]any }
		}
		require.NoError(t, json.Unmarshal(text, &g))
		require.Len(t, g.Features, len(all)-1)
		for i, f := range g.Features {
			require.Len(t, f.Properties, len(names))
			for k, n := range names {
				v, there := f.Properties[n]
				require.True(t, there, n)
				switch x := v.(type) {
				case string:
					require.Equal(t, strings.TrimPrefix(some[i+1][k], "'"), strings.TrimPrefix(x, "'"))
				case nil: // of a grade, whose words are in columns of their own
					require.True(t, some[i+1][k] == "" || strings.Contains(some[i+1][k], "1 in") || some[i+1][k] == "level", some[i+1][k])
				case float64:
					want, err := strconv.ParseFloat(some[i+1][k], 64)
					require.NoError(t, err)
					require.Equal(t, want, x)
				}
			}
		}
	}
	// in the grid the coordinates are easting and northing themselves
	table("grid", "--columns", "point,easting,northing", "--coordinates", "grid")
	text, err := os.ReadFile(filepath.Join(dir, "grid", "results.geojson"))
	require.NoError(t, err)
	assert.NotContains(t, string(text), `"easting":`)
	for list, want := range map[string]string{"point,foo": "there is no column \"foo\"", "point,point": "the column \"point\" is asked for twice"} {
		code, _, stderr := sightrail("check", job, "-o", filepath.Join(dir, "no"), "--columns", list)
		assert.Equal(t, exitUndone, code)
		assert.Contains(t, stderr, want)
	}
	assert.Contains(t, report.ColumnNames(), "built_grade")
}
