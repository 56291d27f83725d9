package report

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"zombiezen.com/go/sqlite"
	"zombiezen.com/go/sqlite/sqlitex"

	"sightrail/qa"
	"sightrail/qa/limits"
)

func packageOf(t *testing.T, res *qa.Result) string {
	path := filepath.Join(t.TempDir(), "r.gpkg")
	w, err := GeoPackage.StartFile(path, res)
	require.NoError(t, err)
	require.NoError(t, w.Rows(res.Rows))
	require.NoError(t, w.Close(res))
	return path
}

func one(t *testing.T, path, query string) int64 {
	conn, err := sqlite.OpenConn(path, sqlite.OpenReadOnly)
	require.NoError(t, err)
	defer conn.Close()
	var n int64
	require.NoError(t, sqlitex.ExecuteTransient(conn, query, &sqlitex.ExecOptions{ResultFunc: func(s *sqlite.Stmt) error { n = s.ColumnInt64(0); return nil }}))
	return n
}

// Every row is a point, every failure one of the failures; the same input gives
// the same bytes. That a GIS reads it is for the outside witnesses.
func TestGeoPackage(t *testing.T) {
	res := sampleResult(t)
	path := packageOf(t, res)
	assert.Equal(t, int64(len(res.Rows)), one(t, path, "SELECT count(*) FROM points"))
	failed := 0
	for i := range res.Rows {
		if res.Rows[i].Verdict == limits.Fail {
			failed++
		}
	}
	require.Positive(t, failed)
	assert.Equal(t, int64(failed), one(t, path, "SELECT count(*) FROM failures"))
	assert.Equal(t, int64(failed), one(t, path, "SELECT count(*) FROM points WHERE result = 'fail'"))
	assert.Equal(t, int64(0), one(t, path, "SELECT count(*) FROM points WHERE typeof(diff_mm) NOT IN ('real', 'null')"), "a column has one type")
	assert.Equal(t, int64(7855), one(t, path, "SELECT srs_id FROM gpkg_geometry_columns WHERE table_name = 'points'"))
	assert.Equal(t, int64(0x47504B47), one(t, path, "PRAGMA application_id"))
	a, err := os.ReadFile(path)
	require.NoError(t, err)
	b, err := os.ReadFile(packageOf(t, sampleResult(t)))
	require.NoError(t, err)
	assert.True(t, string(a) == string(b), "the same bytes")
	res.Frame.EPSG = ""
	assert.Equal(t, int64(-1), one(t, packageOf(t, res), "SELECT srs_id FROM gpkg_geometry_columns WHERE table_name = 'points'"), "a local grid")
}
