package geojson

import (
	"bufio"
	"encoding/json"
	"io"

	"github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/xy"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Encode writes points, lines and polygons as one FeatureCollection, a feature a line,
// in the grid of the document: with the crs member of the 2008 GeoJSON where
// the grid has a code, with null geometry and the place in the properties where
// it has none. Levels are properties. Decimals are written as they were read.
func Encode(w io.Writer, d *formats.Document, opt formats.EncodeOptions) error {
	b := bufio.NewWriterSize(w, 1<<16)
	u := d.Units.Linear
	if !u.Known() {
		u = opt.Unit
	}
	head := []byte(`{"type":"FeatureCollection",`)
	if d.CRS.EPSG != "" {
		head = append(head, `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::`+d.CRS.EPSG+`"}},`...)
		head = append(head, `"note":"Coordinates are easting, northing of the grid in the crs member of the 2008 GeoJSON; they are not longitude and latitude.",`...)
	} else {
		head = append(head, `"note":"Places are easting and northing of a local grid and stand in the properties; there is no geometry, because the grid has no code.",`...)
	}
	if u.Known() {
		head = append(append(append(head, `"unit":"`...), u.Name...), `",`...)
	}
	head = append(head, `"features":[`...)
	if _, err := b.Write(head); err != nil {
		return err
	}
	e := encoder{w: b, grid: d.CRS.EPSG != "", first: true}
	for i := range d.Points {
		if err := e.point(&d.Points[i]); err != nil {
			return err
		}
	}
	for i := range d.Polygons {
		if err := e.polygon(&d.Polygons[i]); err != nil {
			return err
		}
	}
	for i := range d.Lines {
		if err := e.line(&d.Lines[i]); err != nil {
			return err
		}
	}
	if _, err := b.WriteString("\n]}\n"); err != nil {
		return err
	}
	return b.Flush()
}

type encoder struct {
	w     *bufio.Writer
	buf   []byte
	grid  bool
	first bool
}

func (e *encoder) begin() {
	e.buf = append(e.buf[:0], ",\n"...)
	if e.first {
		e.buf, e.first = append(e.buf[:0], '\n'), false
	}
}

func (e *encoder) point(p *formats.Point) error {
	e.begin()
	e.buf = append(e.buf, `{"type":"Feature","geometry":`...)
	if e.grid && p.Placed {
		e.buf = p.E.Append(append(e.buf, `{"type":"Point","coordinates":[`...))
		e.buf = append(p.N.Append(append(e.buf, ',')), "]}"...)
	} else {
		e.buf = append(e.buf, "null"...)
	}
	e.buf = append(e.buf, `,"properties":{"name":`...)
	e.buf = quote(e.buf, p.ID)
	e.number("easting", p.E, p.Placed)
	e.number("northing", p.N, p.Placed)
	e.number("level", p.Z, p.Levelled)
	e.number("chainage", p.Chainage, p.Chained)
	e.number("offset", p.Offset, p.Chained)
	for _, x := range [][2]string{{"code", p.Code}, {"layer", p.Layer}, {"run", p.Run}, {"staffed", p.Staffed}, {"setup", p.Setup}, {"time", p.Time}, {"description", p.Desc}} {
		e.buf = append(append(append(e.buf, `,"`...), x[0]...), `":`...)
		if x[1] == "" {
			e.buf = append(e.buf, "null"...)
		} else {
			e.buf = quote(e.buf, x[1])
		}
	}
	e.buf = append(e.buf, "}}"...)
	_, err := e.w.Write(e.buf)
	return err
}

func (e *encoder) number(key string, v unit.Decimal, set bool) {
	e.buf = append(append(append(e.buf, `,"`...), key...), `":`...)
	if !set {
		e.buf = append(e.buf, "null"...)
		return
	}
	e.buf = v.Append(e.buf)
}

// polygon writes outer rings counter-clockwise and holes clockwise, as RFC 7946
// wants them. Which rings are holes is told by go-geom's ring orientation and
// by order: the first ring is the outer one.
func (e *encoder) polygon(p *formats.Polygon) error {
	e.begin()
	e.buf = append(e.buf, `{"type":"Feature","geometry":{"type":"Polygon","coordinates":[`...)
	for i, ring := range p.Rings {
		if i > 0 {
			e.buf = append(e.buf, ',')
		}
		e.ring(ring, i == 0)
	}
	e.buf = append(e.buf, `]},"properties":{"name":`...)
	e.buf = append(quote(e.buf, p.Name), "}}"...)
	_, err := e.w.Write(e.buf)
	return err
}

// line writes every line as one of several parts.
func (e *encoder) line(l *formats.Line) error {
	e.begin()
	e.buf = append(e.buf, `{"type":"Feature","geometry":{"type":"MultiLineString","coordinates":[`...)
	for i, part := range l.Parts {
		if i > 0 {
			e.buf = append(e.buf, ',')
		}
		e.buf = append(e.buf, '[')
		for k := range part {
			if k > 0 {
				e.buf = append(e.buf, ',')
			}
			e.buf = append(part[k].E.Append(append(e.buf, '[')), ',')
			e.buf = append(part[k].N.Append(e.buf), ']')
		}
		e.buf = append(e.buf, ']')
	}
	e.buf = append(e.buf, `]},"properties":{"name":`...)
	e.buf = append(quote(e.buf, l.Name), "}}"...)
	_, err := e.w.Write(e.buf)
	return err
}

func (e *encoder) ring(ring []formats.Vertex, outer bool) {
	flat := make([]float64, 0, 2*len(ring)+2)
	for k := range len(ring) + 1 {
		v := &ring[k%len(ring)]
		flat = append(flat, v.E.Float(), v.N.Float())
	}
	turn := xy.IsRingCounterClockwise(geom.XY, flat) != outer
	e.buf = append(e.buf, '[')
	for k := range len(ring) + 1 {
		i := k % len(ring)
		if turn {
			i = (len(ring) - i) % len(ring)
		}
		if k > 0 {
			e.buf = append(e.buf, ',')
		}
		e.buf = ring[i].E.Append(append(e.buf, '['))
		e.buf = append(ring[i].N.Append(append(e.buf, ',')), ']')
	}
	e.buf = append(e.buf, ']')
}

// quote appends a JSON string.
func quote(b []byte, s string) []byte {
	q, err := json.Marshal(s)
	if err != nil {
		return append(b, `""`...) // a string always marshals
	}
	return append(b, q...)
}
