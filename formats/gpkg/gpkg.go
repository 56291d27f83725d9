// Package gpkg writes GeoPackages (OGC 12-128, version 1.3): layers of points,
// lines and polygons with typed columns in one SQLite file, for any GIS. It is
// written only; a GeoPackage is no input of a job.
//
// Coordinates are easting, northing (or longitude, latitude) in the file's
// float64; what must be exact stands in columns of text. The same calls give the
// same bytes: the time of the last change is the caller's.
package gpkg

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"

	"zombiezen.com/go/sqlite"
	"zombiezen.com/go/sqlite/sqlitex"
)

// Geometry is the kind of geometry of a layer.
type Geometry string

// The geometries. A layer without one is a table of attributes.
const (
	None       Geometry = ""
	Point      Geometry = "POINT"
	LineString Geometry = "LINESTRING"
	Polygon    Geometry = "POLYGON"
)

// Type is the type of a column.
type Type string

// The types.
const (
	Text    Type = "TEXT"
	Integer Type = "INTEGER"
	Real    Type = "DOUBLE"
	Boolean Type = "BOOLEAN"
)

// Column is one column of a layer.
type Column struct {
	Name string
	Type Type
}

// The reference systems that every GeoPackage has.
const (
	UndefinedCartesian = -1 // a local grid
	WGS84              = 4326
)

// System is a coordinate reference system of EPSG.
type System struct {
	ID   int // EPSG code; UndefinedCartesian for a local grid
	Name string
	WKT  string // its definition; "" where only the code is known
}

// Layer is a table.
type Layer struct {
	Name        string // of the table: letters, digits and _
	Title       string
	Description string
	Geometry    Geometry
	Columns     []Column
}

// Value is one value of a row: nil, string, int64, float64 or bool.
type Value any

// XY is a position.
type XY struct{ X, Y float64 }

// File is a GeoPackage that is being written.
type File struct {
	conn   *sqlite.Conn
	system int
	change string
	layers map[string]*table
	order  []string
}

type table struct {
	Layer
	insert   *sqlite.Stmt
	lo, hi   XY
	any      bool
	geometry []byte
}

// wgs84 is the definition of EPSG 4326 in the form of OGC 01-009.
const wgs84 = `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],` +
	`PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]`

const schema = `
PRAGMA page_size = 4096;
PRAGMA journal_mode = OFF;
PRAGMA synchronous = OFF;
PRAGMA application_id = 1196444487;
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER, CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name), CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name), CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
`

// Create begins a GeoPackage in a new file. change is the time that is written
// as that of the last change, in ISO 8601 with milliseconds and Z.
func Create(path string, s System, change string) (*File, error) {
	conn, err := sqlite.OpenConn(path, sqlite.OpenReadWrite, sqlite.OpenCreate)
	if err != nil {
		return nil, fmt.Errorf("the GeoPackage cannot be written: %w", err)
	}
	f := &File{conn: conn, system: s.ID, change: change, layers: map[string]*table{}}
	if err := f.begin(s); err != nil {
		conn.Close()
		return nil, err
	}
	return f, nil
}

func (f *File) begin(s System) error {
	for _, q := range strings.Split(schema, "\n") {
		if err := f.do(q); err != nil {
			return err
		}
	}
	add := func(name string, id int, org string, code int, wkt, about string) error {
		return f.do("INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)", name, id, org, code, wkt, about)
	}
	if err := add("WGS 84 geodetic", WGS84, "EPSG", WGS84, wgs84, "longitude and latitude"); err != nil {
		return err
	}
	if err := add("Undefined cartesian SRS", UndefinedCartesian, "NONE", UndefinedCartesian, "undefined", "a local grid"); err != nil {
		return err
	}
	if err := add("Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic coordinates"); err != nil {
		return err
	}
	if s.ID != WGS84 && s.ID != UndefinedCartesian {
		wkt := s.WKT
		if wkt == "" {
			wkt = "undefined"
		}
		if err := add(s.Name, s.ID, "EPSG", s.ID, wkt, s.Name); err != nil {
			return err
		}
	}
	return f.do("BEGIN")
}

func (f *File) do(query string, args ...any) error {
	if strings.TrimSpace(query) == "" {
		return nil
	}
	return sqlitex.ExecuteTransient(f.conn, query, &sqlitex.ExecOptions{Args: args})
}

// quoted makes a name of a table or column safe; it is ours, never a file's.
func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

// Layer begins a layer. All layers are begun before the first row.
func (f *File) Layer(l Layer) error {
	cols := []string{"fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"}
	marks := []string{}
	names := []string{}
	if l.Geometry != None {
		cols, names, marks = append(cols, "geom "+string(l.Geometry)), append(names, "geom"), append(marks, "?")
	}
	for _, c := range l.Columns {
		cols, names, marks = append(cols, quoted(c.Name)+" "+string(c.Type)), append(names, quoted(c.Name)), append(marks, "?")
	}
	if err := f.do("CREATE TABLE " + quoted(l.Name) + " (" + strings.Join(cols, ", ") + ")"); err != nil {
		return err
	}
	stmt, _, err := f.conn.PrepareTransient("INSERT INTO " + quoted(l.Name) + " (" + strings.Join(names, ", ") + ") VALUES (" + strings.Join(marks, ", ") + ")")
	if err != nil {
		return err
	}
	f.layers[l.Name], f.order = &table{Layer: l, insert: stmt}, append(f.order, l.Name)
	return nil
}

// Insert adds a row to a layer: its parts, one position of a point, those of a
// line, or the rings of a polygon, and a value for every column. Without parts the
// geometry is null.
func (f *File) Insert(layer string, parts [][]XY, values []Value) error {
	t := f.layers[layer]
	if t == nil || len(values) != len(t.Columns) {
		return fmt.Errorf("the layer %q takes another row", layer)
	}
	n := 1
	if t.Geometry != None {
		if len(parts) == 0 || len(parts[0]) == 0 {
			t.insert.BindNull(n)
		} else {
			t.geometry = t.encode(t.geometry[:0], f.system, parts)
			t.insert.BindBytes(n, t.geometry)
		}
		n++
	}
	for i, v := range values {
		switch x := v.(type) {
		case nil:
			t.insert.BindNull(n + i)
		case string:
			t.insert.BindText(n+i, x)
		case int64:
			t.insert.BindInt64(n+i, x)
		case float64:
			t.insert.BindFloat(n+i, x)
		case bool:
			t.insert.BindBool(n+i, x)
		default:
			return fmt.Errorf("a value of the type %T in the column %s", v, t.Columns[i].Name)
		}
	}
	if _, err := t.insert.Step(); err != nil {
		return err
	}
	return t.insert.Reset()
}

// encode writes the header of a GeoPackage geometry and its WKB, and widens the
// bounds of the layer.
func (t *table) encode(b []byte, srs int, parts [][]XY) []byte {
	b = append(b, 'G', 'P', 0, 1) // version 1, little-endian, no envelope
	le := binary.LittleEndian
	b = le.AppendUint32(b, uint32(int32(srs)))
	b = append(b, 1)
	xy := func(p XY) {
		b = le.AppendUint64(le.AppendUint64(b, math.Float64bits(p.X)), math.Float64bits(p.Y))
		if !t.any {
			t.lo, t.hi, t.any = p, p, true
		}
		t.lo = XY{min(t.lo.X, p.X), min(t.lo.Y, p.Y)}
		t.hi = XY{max(t.hi.X, p.X), max(t.hi.Y, p.Y)}
	}
	switch t.Geometry {
	case Point:
		b = le.AppendUint32(b, 1)
		xy(parts[0][0])
	case LineString:
		b = le.AppendUint32(le.AppendUint32(b, 2), uint32(len(parts[0])))
		for _, p := range parts[0] {
			xy(p)
		}
	default:
		b = le.AppendUint32(le.AppendUint32(b, 3), uint32(len(parts)))
		for _, ring := range parts {
			b = le.AppendUint32(b, uint32(len(ring)))
			for _, p := range ring {
				xy(p)
			}
		}
	}
	return b
}

// Close writes the contents and closes the file. After an error of another call
// it closes it too, and the file is of no use.
func (f *File) Close() error {
	err := f.finish()
	for _, t := range f.layers {
		t.insert.Finalize()
	}
	if e := f.conn.Close(); err == nil {
		err = e
	}
	return err
}

func (f *File) finish() error {
	for _, name := range f.order {
		t := f.layers[name]
		kind := "features"
		var srs any = f.system
		if t.Geometry == None {
			kind, srs = "attributes", nil
		}
		lo, hi := []any{nil, nil}, []any{nil, nil}
		if t.any {
			lo, hi = []any{t.lo.X, t.lo.Y}, []any{t.hi.X, t.hi.Y}
		}
		if err := f.do("INSERT INTO gpkg_contents VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", t.Name, kind, t.Title, t.Description, f.change, lo[0], lo[1], hi[0], hi[1], srs); err != nil {
			return err
		}
		if t.Geometry == None {
			continue
		}
		if err := f.do("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)", t.Name, string(t.Geometry), f.system); err != nil {
			return err
		}
	}
	return f.do("COMMIT")
}
