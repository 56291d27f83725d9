package report

import (
	"encoding/binary"
	"encoding/json"
	"io"
	"math"
	"slices"
	"strconv"

	"github.com/parquet-go/parquet-go"

	"sightrail/qa"
)

// GeoParquet is results.parquet: a row for every row, with the columns of results.csv,
// for engines that take over where a file of text grows too large. The geometry is a
// point in WKB by GeoParquet 1.1: longitude and latitude of WGS 84, or easting and
// northing of the job's grid on request, whose coordinate system is then left open and
// named in the metadata. Numbers are float64, which is for queries: the exact ones are
// in results.csv. Columns stand in the order of their names.
var GeoParquet = &Kind{Name: "parquet", File: "results.parquet", Doc: "the rows as GeoParquet, for engines that query large results", Start: startParquet, Asked: true}

// rowsPerGroup bounds what is held before it is written.
const rowsPerGroup = 50_000

type parquetWriter struct {
	w       *parquet.GenericWriter[any]
	tell    *teller
	res     *qa.Result
	columns []column // in the order of the file; the geometry has no name
	row     parquet.Row
	rows    []parquet.Row
	buf     []byte
}

const geometryColumn = "geometry"

func startParquet(w io.Writer, head *qa.Result) (Writer, error) {
	list, err := chosenColumns(head.Columns)
	if err != nil {
		return nil, err
	}
	fields := parquet.Group{geometryColumn: parquet.Optional(parquet.Leaf(parquet.ByteArrayType))}
	for _, c := range list {
		if c.number != nil {
			fields[c.name] = parquet.Optional(parquet.Leaf(parquet.DoubleType))
		} else {
			fields[c.name] = parquet.Optional(parquet.String())
		}
	}
	p := &parquetWriter{tell: newTeller(head), res: head}
	for _, f := range fields.Fields() {
		k := slices.IndexFunc(list, func(c column) bool { return c.name == f.Name() })
		if k < 0 {
			p.columns = append(p.columns, column{})
			continue
		}
		p.columns = append(p.columns, list[k])
	}
	p.w = parquet.NewGenericWriter[any](w, parquet.NewSchema("results", fields), parquet.Compression(&parquet.Zstd), parquet.CreatedBy("sightrail", head.Version, ""), parquet.KeyValueMetadata("geo", p.geo()), parquet.MaxRowsPerRowGroup(rowsPerGroup))
	return p, nil
}

// geo is the metadata of GeoParquet 1.1.
func (p *parquetWriter) geo() string {
	column := map[string]any{"encoding": "WKB", "geometry_types": []string{"Point"}}
	if p.res.GridOnly {
		column["crs"] = nil // not told in the way the format asks for
	}
	b, err := json.Marshal(map[string]any{"version": "1.1.0", "primary_column": geometryColumn, "columns": map[string]any{geometryColumn: column}, "grid": p.res.Frame.Grid, "height_datum": p.res.Frame.Datum, "unit": p.res.Frame.Unit.Name})
	if err != nil {
		return "{}" // plain maps of strings always marshal
	}
	return string(b)
}

func (p *parquetWriter) Rows(rows []qa.Row) error {
	p.rows = p.rows[:0]
	p.row = p.row[:0]
	for i := range rows {
		start := len(p.row)
		for k := range p.columns {
			p.row = append(p.row, p.value(&rows[i], k))
		}
		p.rows = append(p.rows, p.row[start:len(p.row):len(p.row)])
	}
	_, err := p.w.WriteRows(p.rows)
	return err
}

// value is one cell, null where there is none.
func (p *parquetWriter) value(r *qa.Row, k int) parquet.Value {
	c := &p.columns[k]
	null := parquet.NullValue().Level(0, 0, k)
	switch {
	case c.name == "":
		b := p.point(r)
		if b == nil {
			return null
		}
		return parquet.ByteArrayValue(b).Level(0, 1, k)
	case c.text != nil || c.words != nil:
		text := ""
		if c.text != nil {
			text = c.text(p.tell, r)
		} else {
			text = c.words(p.tell, r)
		}
		if text == "" {
			return null
		}
		return parquet.ByteArrayValue([]byte(text)).Level(0, 1, k)
	}
	p.buf = c.number(p.tell, p.buf[:0], r)
	if len(p.buf) == 0 {
		return null
	}
	f, err := strconv.ParseFloat(string(p.buf), 64)
	if err != nil {
		return null // what number appends is a number
	}
	return parquet.DoubleValue(f).Level(0, 1, k)
}

// point is the geometry of a row in WKB, nil where there is none.
func (p *parquetWriter) point(r *qa.Row) []byte {
	s := &r.Shot
	if !s.Placed {
		return nil
	}
	var x, y float64
	if p.res.GridOnly {
		if p.res.Frame.EPSG == "" {
			return nil // as in the GeoJSON
		}
		x, _ = strconv.ParseFloat(p.res.Frame.Easting(s.Place, 3), 64)
		y, _ = strconv.ParseFloat(p.res.Frame.Northing(s.Place, 3), 64)
	} else {
		lon, lat, ok, _ := p.res.Earth.Place(&p.res.Frame, s.Place)
		if !ok {
			return nil
		}
		x, y = lon, lat
	}
	b := make([]byte, 0, 21)
	b = append(b, 1)                           // little endian
	b = binary.LittleEndian.AppendUint32(b, 1) // a point
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(y))
}

func (p *parquetWriter) Close(*qa.Result) error { return p.w.Close() }
