package gpkg

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"zombiezen.com/go/sqlite"
	"zombiezen.com/go/sqlite/sqlitex"
)

// What OGC 12-128 asks of the tables; GDAL's validator is run with the outside
// witnesses.
func TestFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.gpkg")
	f, err := Create(path, System{ID: 27700, Name: "a grid"}, "2026-03-04T00:00:00.000Z")
	require.NoError(t, err)
	require.NoError(t, f.Layer(Layer{Name: "p", Title: "P", Geometry: Point, Columns: []Column{{"a", Text}, {"b", Real}, {"c", Integer}, {"d", Boolean}}}))
	require.NoError(t, f.Layer(Layer{Name: "l", Title: "L", Geometry: LineString}))
	require.NoError(t, f.Layer(Layer{Name: "g", Title: "G", Geometry: Polygon}))
	require.NoError(t, f.Layer(Layer{Name: "t", Title: "T", Columns: []Column{{"x", Text}}}))
	require.NoError(t, f.Insert("p", [][]XY{{{1, 2}}}, []Value{"it's; DROP TABLE p", 1.5, int64(3), true}))
	require.NoError(t, f.Insert("p", nil, []Value{nil, nil, nil, nil}))
	require.NoError(t, f.Insert("l", [][]XY{{{1, 2}, {3, -4}}}, nil))
	require.NoError(t, f.Insert("g", [][]XY{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}, nil))
	require.NoError(t, f.Insert("t", nil, []Value{"v"}))
	assert.Error(t, f.Insert("p", nil, nil), "a row of another width")
	assert.Error(t, f.Insert("q", nil, nil), "no such layer")
	assert.Error(t, f.Insert("p", nil, []Value{uint8(1), nil, nil, nil}), "no such type")
	require.NoError(t, f.Close())
	conn, err := sqlite.OpenConn(path, sqlite.OpenReadOnly)
	require.NoError(t, err)
	defer conn.Close()
	ask := func(query string) (out []string) {
		require.NoError(t, sqlitex.ExecuteTransient(conn, query, &sqlitex.ExecOptions{ResultFunc: func(s *sqlite.Stmt) error {
			for i := range s.ColumnCount() {
				out = append(out, s.ColumnText(i))
			}
			return nil
		}}), query)
		return out
	}
	assert.Equal(t, []string{"ok"}, ask("PRAGMA integrity_check"))
	assert.Empty(t, ask("PRAGMA foreign_key_check"))
	assert.Equal(t, []string{"it's; DROP TABLE p", "1.5", "3", "1"}, ask("SELECT a, b, c, d FROM p WHERE fid = 1"))
	assert.Equal(t, []string{"47500001346C000001"}, ask("SELECT substr(hex(geom), 1, 18) FROM p WHERE fid = 1"), "GP, version, flags, 27700, byte order")
	assert.Equal(t, []string{"1.0", "-4.0", "3.0", "2.0", "27700"}, ask("SELECT min_x, min_y, max_x, max_y, srs_id FROM gpkg_contents WHERE table_name = 'l'"))
	assert.Equal(t, []string{"attributes", "2026-03-04T00:00:00.000Z"}, ask("SELECT data_type, last_change FROM gpkg_contents WHERE table_name = 't'"))
	assert.Equal(t, []string{"3"}, ask("SELECT count(*) FROM gpkg_geometry_columns"))
	_, err = Create(filepath.Join(t.TempDir(), "no", "such", "folder.gpkg"), System{ID: -1}, "")
	assert.Error(t, err)
}
