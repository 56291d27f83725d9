package main

import (
	"archive/zip"
	"encoding/csv"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Text of input files that would act in a page, a sheet or a parser is inert in
// every report.
func TestTextIsInertInEveryReport(t *testing.T) {
	hostile := []string{"=1+1", "+1+1", "-1+1", "@SUM(A1)", `=HYPERLINK("http://x","y")`, "<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`, "{{.}}", "a\"b", "ü,ö;", "\\u0000"}
	var points strings.Builder
	w := csv.NewWriter(&points)
	require.NoError(t, w.Write([]string{"Point", "Easting (m)", "Northing (m)", "Level (m)", "Code"}))
	for _, h := range hostile {
		require.NoError(t, w.Write([]string{h, "10", "10", "11", h}))
	}
	w.Flush()
	dir := t.TempDir()
	put(t, dir, "points.csv", points.String())
	put(t, dir, "design.xml", messyDesign)
	job := put(t, dir, "job.yaml", strings.Replace(messyJob, "project: P", `project: "=<script>P</script>"`, 1))
	out := filepath.Join(dir, "out")
	code, verdict, msg := sightrail("check", job, "-o", out)
	require.Equal(t, exitFail, code, msg)
	assert.NotContains(t, verdict, "\x1b")

	f, err := os.Open(filepath.Join(out, "results.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, len(hostile)+1)
	for i, h := range hostile {
		want := h
		if strings.IndexByte("=+-@", h[0]) >= 0 {
			want = "'" + h
		}
		assert.Equal(t, want, rows[i+1][4])
		assert.Equal(t, want, rows[i+1][5])
	}

	text, err := os.ReadFile(filepath.Join(out, "results.geojson"))
	require.NoError(t, err)
	var g struct {
		Features []struct {
			Geometry   any
			Properties map[string]any
		}
	}
	require.NoError(t, json.Unmarshal(text, &g))
	require.Len(t, g.Features, len(hostile))
	for i, h := range hostile {
		assert.Equal(t, h, g.Features[i].Properties["point_id"])
		assert.Nil(t, g.Features[i].Geometry, "a local grid has no geometry")
		assert.Equal(t, 10.0, g.Features[i].Properties["easting"])
	}

	page, err := os.ReadFile(filepath.Join(out, "report.html"))
	require.NoError(t, err)
	assert.NotContains(t, string(page), "<script")
	assert.NotContains(t, string(page), "<img")

	z, err := zip.OpenReader(filepath.Join(out, "report.xlsx"))
	require.NoError(t, err)
	defer z.Close()
	for _, part := range z.File {
		r, err := part.Open()
		require.NoError(t, err)
		xml, err := io.ReadAll(r)
		require.NoError(t, err)
		for _, f := range strings.Split(string(xml), "<f>")[1:] {
			assert.True(t, strings.HasPrefix(f, "SUM("), "only our own sums are formulas: %.40s", f)
		}
	}

	sum, err := os.ReadFile(filepath.Join(out, "summary.json"))
	require.NoError(t, err)
	assert.True(t, json.Valid(sum))
}

// A property has one type in the whole file, whatever the rows hold. RFC 7946 has
// no crs member; coordinates of the grid need one.
func TestGeoJSONPropertiesKeepTheirType(t *testing.T) {
	for _, coordinates := range []string{"wgs84", "grid"} {
		out := filepath.Join(t.TempDir(), coordinates)
		sightrail("check", "../../testdata/jobs/demo/job.yaml", "-o", out, "--coordinates", coordinates)
		typesIn(t, filepath.Join(out, "results.geojson"), coordinates == "grid")
	}
}

func typesIn(t *testing.T, name string, crs bool) {
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	var g struct {
		CRS      map[string]any
		Features []struct{ Properties map[string]any }
	}
	require.NoError(t, json.Unmarshal(text, &g))
	require.Equal(t, crs, len(g.CRS) > 0)
	kinds := map[string]string{}
	for _, f := range g.Features {
		for k, v := range f.Properties {
			kind := ""
			switch v.(type) {
			case nil:
				continue
			case string:
				kind = "text"
			case float64:
				kind = "number"
			default:
				kind = "other"
			}
			if kinds[k] == "" {
				kinds[k] = kind
			}
			assert.Equal(t, kinds[k], kind, k)
		}
	}
	assert.Equal(t, "number", kinds["diff_mm"])
	assert.Equal(t, "text", kinds["point_id"])
}
