package geojson

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// decoder reads one file.
type decoder struct {
	*parser
	doc     *formats.Document
	opt     formats.Options
	at      formats.Pos
	points  []formats.Point
	seen    map[string]int // geometry types that are not read → how many
	crs     bool           // a crs member was read
	lonlat  bool           // it says longitude and latitude
	none    bool           // features were met before any crs
	beyond  string         // the first coordinate that is no longitude or latitude
	heights int            // third coordinates that are not used as level
	asLevel int            // third coordinates used as level
	noPlace int
	feature feature
	plainly quick
	strict  bool            // quick is not used
	room    strings.Builder // of the texts that quick keeps
	keys    map[string]known
}

// feature is one feature being read; it is reused.
type feature struct {
	row, col int
	id       string
	geometry string
	coords   [][]position // rings of all parts; a point is one ring of one
	props    []property
}

type position struct {
	v [3]unit.Decimal
	n int
}

type property struct {
	known
	value  string
	plain  bool // number holds it, and value nothing
	number unit.Decimal
}

// Decode reads a FeatureCollection, a feature, or features a line.
func Decode(r io.Reader, name string, opt formats.Options) (*formats.Document, error) {
	return decode(r, name, opt, false)
}

func decode(r io.Reader, name string, opt formats.Options, strict bool) (*formats.Document, error) {
	d := &decoder{parser: &parser{r: bufio.NewReaderSize(r, 1<<18), row: 1, col: 1}, doc: &formats.Document{File: name, Format: "geojson"}, opt: opt,
		at: formats.Pos{File: name}, seen: map[string]int{}, strict: strict}
	if b, err := d.r.Peek(3); err == nil && string(b) == "\xef\xbb\xbf" {
		_, _ = d.r.Discard(3)
	}
	err := d.texts()
	var f *fault
	if errors.As(err, &f) {
		d.doc.Refuse(d.at.At(f.row, f.col), "", "%s", f.text)
		return d.doc, d.flush(true)
	}
	if err == nil {
		err = d.flush(true)
	}
	if err != nil {
		return nil, err
	}
	d.finish()
	formats.SortProblems(d.doc.Problems)
	return d.doc, nil
}

// separator may stand before each of many JSON texts.
const separator = 0x1e

// texts reads one JSON text after another.
func (d *decoder) texts() error {
	first := true
	for {
		c, err := d.peek()
		switch {
		case errors.Is(err, io.EOF):
			if first {
				return d.fault("the file is empty")
			}
			return nil
		case err != nil:
			return err
		case c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == separator:
			if _, err := d.next(); err != nil {
				return err
			}
			continue
		case c != '{':
			return d.fault("%q stands where an object is wanted; GeoJSON begins with {", string(rune(c)))
		}
		first = false
		took := false
		if !d.strict {
			took, err = d.quick(true)
		}
		if !took {
			err = d.top()
		}
		if err != nil {
			return err
		}
	}
}

// top reads a FeatureCollection or a single feature.
func (d *decoder) top() error {
	d.feature.reset(d.row, d.col)
	kind, sawFeatures := "", false
	err := d.object(func(key string) error {
		switch key {
		case "type":
			t, _, err := d.plain()
			kind = t
			return err
		case "features":
			sawFeatures = true
			return d.array(func() error {
				if _, err := d.space(); err != nil {
					return err
				}
				d.feature.reset(d.row, d.col)
				if !d.strict {
					if took, err := d.quick(false); took {
						return err
					}
				}
				if err := d.object(d.member); err != nil {
					return err
				}
				return d.done()
			})
		case "crs":
			return d.readCRS()
		case "unit":
			return d.readUnit()
		case "name":
			t, _, err := d.plain()
			if t != "" {
				d.doc.About = append(d.doc.About, formats.Property{Name: "name", Value: t})
			}
			return err
		}
		return d.member(key)
	})
	if err != nil {
		return err
	}
	switch {
	case kind == "Feature":
		return d.done()
	case kind == "FeatureCollection" && sawFeatures:
		return nil
	case kind == "FeatureCollection":
		return d.fault("the FeatureCollection has no features member")
	}
	return d.fault("the type is %q; a FeatureCollection or features are wanted", kind)
}

func (f *feature) reset(row, col int) {
	f.row, f.col, f.id, f.geometry, f.coords, f.props = row, col, "", "", f.coords[:0], f.props[:0]
}

// member reads one member of a feature.
func (d *decoder) member(key string) error {
	f := &d.feature
	switch key {
	case "id":
		t, _, err := d.plain()
		f.id = t
		return err
	case "geometry":
		c, err := d.space()
		if err != nil {
			return err
		}
		if c != '{' {
			t, kind, err := d.plain()
			if err == nil && kind != 'n' {
				return d.fault("the geometry is %q; an object or null is wanted", t)
			}
			return err
		}
		return d.object(func(key string) error {
			switch key {
			case "type":
				t, _, err := d.plain()
				f.geometry = t
				return err
			case "coordinates":
				return d.coordinates()
			}
			return d.skip()
		})
	case "properties":
		c, err := d.space()
		if err != nil {
			return err
		}
		if c != '{' {
			_, kind, err := d.plain()
			if err == nil && kind != 'n' {
				return d.fault("the properties are no object")
			}
			return err
		}
		return d.object(func(key string) error {
			t, kind, err := d.plain()
			if kind != 'n' && kind != '{' {
				f.props = append(f.props, property{known: d.know([]byte(key)), value: t})
			}
			return err
		})
	}
	return d.skip()
}

// coordinates reads nested arrays of numbers, ring by ring.
func (d *decoder) coordinates() error {
	var list func() error
	open := false // the ring that positions go to is begun
	list = func() error {
		c, err := d.space()
		if err != nil {
			return err
		}
		if c != '[' {
			return d.fault("%q stands where a coordinate list is wanted", string(rune(c)))
		}
		var p position
		nested := false
		err = d.array(func() error {
			c, err := d.space()
			if err != nil {
				return err
			}
			if c == '[' {
				nested = true
				return list()
			}
			row, col := d.row, d.col
			t, err := d.literal()
			if err != nil {
				return err
			}
			v, _, numErr := unit.ParseDecimal(t)
			if numErr != nil || nested {
				return &fault{row, col, fmt.Sprintf("%q is no coordinate", t)}
			}
			if p.n < 3 {
				p.v[p.n] = v
			}
			p.n++
			return nil
		})
		if err != nil {
			return err
		}
		if nested {
			open = false
			return nil
		}
		if p.n < 2 {
			return d.fault("a position has %d numbers; two are wanted", p.n)
		}
		if !open {
			d.feature.coords = append(d.feature.coords, nil)
			open = true
		}
		k := len(d.feature.coords) - 1
		d.feature.coords[k] = append(d.feature.coords[k], p)
		return nil
	}
	return list()
}

// readCRS reads the crs member of the 2008 GeoJSON.
func (d *decoder) readCRS() error {
	if d.none {
		return d.fault("the crs member stands behind the features; put it before them, so that coordinates are read for what they are")
	}
	c, err := d.space()
	if err != nil {
		return err
	}
	if c != '{' {
		_, _, err := d.plain()
		return err
	}
	name := ""
	if err := d.object(func(key string) error {
		if key != "properties" {
			return d.skip()
		}
		return d.object(func(key string) error {
			if key != "name" {
				return d.skip()
			}
			t, _, err := d.plain()
			name = t
			return err
		})
	}); err != nil {
		return err
	}
	d.crs = true
	upper := strings.ToUpper(name)
	code := upper[strings.LastIndexByte(upper, ':')+1:]
	switch {
	case strings.Contains(upper, "CRS84") || strings.HasSuffix(upper, "EPSG::4326") || upper == "EPSG:4326":
		d.lonlat = true
		d.doc.CRS.Name = "longitude and latitude"
	case strings.Contains(upper, "EPSG:") && code != "" && strings.Trim(code, "0123456789") == "":
		d.doc.CRS.EPSG = code
	default:
		return d.fault("the crs %q is not understood; write \"urn:ogc:def:crs:EPSG::CODE\"", name)
	}
	return nil
}

func (d *decoder) readUnit() error {
	t, _, err := d.plain()
	if err != nil {
		return err
	}
	u, ok := unit.ByName(t)
	if !ok {
		return d.fault("the unit %q is not known", t)
	}
	d.doc.Units.Linear = u
	return nil
}

// done turns the feature that was read into a record.
func (d *decoder) done() error {
	if !d.crs {
		d.none = true
	}
	f := &d.feature
	switch f.geometry {
	case "Polygon", "MultiPolygon":
		return d.polygon(f)
	case "LineString", "MultiLineString":
		return d.line(f)
	case "", "Point":
		return d.point(f, f.coords)
	case "MultiPoint":
		for _, ring := range f.coords {
			for i := range ring {
				if err := d.point(f, [][]position{ring[i : i+1]}); err != nil {
					return err
				}
			}
		}
		return nil
	}
	d.seen[f.geometry]++
	return nil
}

// title is the name of a feature: that of its properties, else its id.
func (f *feature) title() string {
	name := f.id
	for _, x := range f.props {
		if x.role == nameRole || x.role == idRole {
			name = x.value
		}
	}
	return name
}

func (d *decoder) line(f *feature) error {
	l := formats.Line{Pos: d.at.At(f.row, f.col), Name: f.title()}
	for _, part := range f.coords {
		if len(part) < 2 {
			return &fault{f.row, f.col, "a line has fewer than two corners"}
		}
		out := make([]formats.Vertex, len(part))
		for i := range part {
			d.latLon(&part[i])
			out[i] = formats.Vertex{E: part[i].v[0], N: part[i].v[1]}
		}
		l.Parts = append(l.Parts, out)
	}
	d.doc.Lines = append(d.doc.Lines, l)
	return nil
}

func (d *decoder) polygon(f *feature) error {
	p := formats.Polygon{Pos: d.at.At(f.row, f.col), Name: f.title()}
	for _, ring := range f.coords {
		if len(ring) > 1 && ring[0].v[0] == ring[len(ring)-1].v[0] && ring[0].v[1] == ring[len(ring)-1].v[1] {
			ring = ring[:len(ring)-1]
		}
		if len(ring) < 3 {
			return &fault{f.row, f.col, "a ring of the polygon has fewer than three corners"}
		}
		out := make([]formats.Vertex, len(ring))
		for i := range ring {
			d.latLon(&ring[i])
			out[i] = formats.Vertex{E: ring[i].v[0], N: ring[i].v[1]}
		}
		p.Rings = append(p.Rings, out)
	}
	d.doc.Polygons = append(d.doc.Polygons, p)
	return nil
}

// latLon notes the first coordinate that cannot be longitude and latitude.
func (d *decoder) latLon(p *position) {
	if d.crs || d.beyond != "" {
		return
	}
	if e, n := p.v[0].Float(), p.v[1].Float(); e > 180 || e < -180 || n > 90 || n < -90 {
		d.beyond = fmt.Sprintf("%s, %s", p.v[0], p.v[1])
	}
}

func (d *decoder) flush(end bool) error {
	if d.opt.Points == nil {
		if end {
			d.doc.Points = d.points
		}
		return nil
	}
	if len(d.points) < formats.BatchSize && !end || len(d.points) == 0 {
		return nil
	}
	err := d.opt.Points(d.at, d.points)
	d.points = d.points[:0]
	return err
}

// finish says what can only be said of the whole file.
func (d *decoder) finish() {
	if !d.doc.Units.Linear.Known() {
		d.doc.Units.Linear = d.opt.Unit
	} else if d.opt.Unit.Known() && d.opt.Unit != d.doc.Units.Linear {
		d.doc.Refuse(d.at, "unit", "the file says %s, and %s is declared for it; one of them is wrong", d.doc.Units.Linear.Name, d.opt.Unit.Name)
	}
	if d.beyond != "" {
		d.doc.Refuse(d.at, "crs", "the coordinates (%s) are no longitude and latitude, and the file names no grid; add \"crs\":{\"type\":\"name\",\"properties\":{\"name\":\"urn:ogc:def:crs:EPSG::CODE\"}}", d.beyond)
	} else if d.noPlace > 0 {
		d.doc.Refuse(d.at, "geometry", "%d points have longitude and latitude only; a place on the grid of the job is wanted: add easting and northing as properties, or export in the grid with a crs member", d.noPlace)
	}
	if d.heights > 0 {
		d.doc.Note(d.at, "geometry", "%d points have a third coordinate, a height above the ellipsoid, and no level among their properties; it is not taken as level", d.heights)
	}
	if d.asLevel > 0 {
		d.doc.Note(d.at, "geometry", "the third coordinate of %d points is taken as their level", d.asLevel)
	}
	for _, t := range []string{"GeometryCollection"} {
		if n := d.seen[t]; n > 0 {
			d.doc.Note(d.at, "geometry", "%d features of type %s are not read", n, t)
			delete(d.seen, t)
		}
	}
	n := 0
	for _, k := range d.seen {
		n += k
	}
	if n > 0 {
		d.doc.Refuse(d.at, "geometry", "%d features have a geometry of no type of GeoJSON", n)
	}
}
