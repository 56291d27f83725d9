package landxml

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/orisano/gosax"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// decoder walks one file.
type decoder struct {
	*scanner
	doc    *formats.Document
	opt    formats.Options
	pos    formats.Pos // file
	root   string      // namespace of the root element
	skip   int         // depth inside an element that is not read
	path   []string    // local names of open elements
	text   []byte      // of the element being collected
	textAt formats.Pos // where it begins
	want   bool        // text is collected
	bad    int         // problems not kept

	spaces map[string]string // prefix → namespace

	units     []seenUnits
	netLinear []seenUnits // Units elements inside networks
	netUnits  unit.Unit   // diameter unit of the Pipes being read
	ownUnits  []unit.Unit // that of every network

	points  []cgPoint
	groups  int
	surf    *surfaceReader
	align   *formats.Alignment
	net     *formats.Network
	struc   *formats.Structure
	pipe    *formats.Pipe
	centers []centerRef
	nan     int
	fatal   bool
}

// Decode reads a LandXML file. Coordinates stay decimals in the linear unit of
// the file; northing and easting are put in their places.
func Decode(r io.Reader, name string, opt formats.Options) (*formats.Document, error) {
	d := &decoder{doc: &formats.Document{File: name, Format: "landxml"}, opt: opt, pos: formats.Pos{File: name}, spaces: map[string]string{}}
	u, enc, err := utf8Reader(r)
	if err != nil {
		if u == nil && enc != "" {
			d.doc.Refuse(d.pos.At(1, 1), "encoding", "%v", err)
			return d.doc, nil
		}
		return nil, err
	}
	if enc != "utf-8" {
		d.doc.About = append(d.doc.About, formats.Property{Name: "encoding", Value: enc})
	}
	d.scanner = newScanner(u)
	if err := d.walk(); err != nil {
		var x *errXML
		if !errors.As(err, &x) {
			return nil, err
		}
		d.doc.Problems = append(d.doc.Problems, formats.Problem{Pos: d.pos.At(x.row, x.col), Text: x.text})
		// what a broken file still said is not to be trusted
		d.doc.Surfaces, d.doc.Networks, d.doc.Alignments, d.points = nil, nil, nil, nil
		return d.doc, nil
	}
	if d.fatal {
		d.doc.Surfaces, d.doc.Networks, d.doc.Alignments = nil, nil, nil
		return d.doc, nil
	}
	err = d.finish()
	formats.SortProblems(d.doc.Problems)
	formats.SortProblems(d.doc.Notes)
	return d.doc, err
}

func (d *decoder) here() formats.Pos { return d.pos.At(d.row, d.at) }

func (d *decoder) refuse(field, format string, args ...any) {
	if len(d.doc.Problems) >= formats.MaxProblemsKept {
		d.bad++
		return
	}
	d.doc.Refuse(d.here(), field, format, args...)
}

// walk reads all events.
func (d *decoder) walk() error {
	for {
		kind, full, raw, err := d.next()
		if err != nil {
			return err
		}
		switch kind {
		case gosax.EventEOF:
			return nil
		case gosax.EventStart:
			empty := d.empty
			if d.skip > 0 {
				if !empty {
					d.skip++
				}
				continue
			}
			name, foreign := d.resolve(full, attrs(raw))
			if foreign || d.fatal {
				if !empty {
					d.skip = 1
				}
				continue
			}
			d.path = append(d.path, name)
			if err := d.start(name, attrs(raw)); err != nil {
				return err
			}
			if empty {
				d.end(name)
				d.path = d.path[:len(d.path)-1]
			}
		case gosax.EventEnd:
			if d.skip > 0 {
				d.skip--
				continue
			}
			d.end(d.path[len(d.path)-1])
			d.path = d.path[:len(d.path)-1]
		case gosax.EventText, gosax.EventCData:
			if d.want && d.skip == 0 {
				if len(d.text) == 0 {
					d.textAt = d.here()
				}
				d.text = append(d.text, raw...)
			}
		}
	}
}

// resolve returns the local name of an element, and whether it belongs to
// another namespace than the root.
func (d *decoder) resolve(full string, a attrs) (name string, foreign bool) {
	prefix, name := local(full)
	if len(d.path) == 0 {
		d.rootElement(prefix, name, a)
		return name, false
	}
	if prefix == "" {
		// most elements have few attributes; a default namespace among them is rare
		if ns, ok := a.get("xmlns"); ok && ns != d.root {
			return name, true
		}
		return name, false
	}
	ns, ok := a.get("xmlns:" + prefix)
	if !ok {
		ns, ok = d.spaces[prefix]
	}
	return name, ok && ns != d.root && !strings.Contains(ns, "landxml.org")
}

// parent is the element n levels above the current one.
func (d *decoder) parent(n int) string {
	if i := len(d.path) - 1 - n; i >= 0 {
		return d.path[i]
	}
	return ""
}

var versions = map[string]string{
	"http://www.landxml.org/schema/LandXML-1.0": "1.0",
	"http://www.landxml.org/schema/LandXML-1.1": "1.1",
	"http://www.landxml.org/schema/LandXML-1.2": "1.2",
	"http://www.landxml.org/schema/LandXML-2.0": "2.0",
}

// rootElement judges the root: its name, namespace and version.
func (d *decoder) rootElement(prefix, name string, a attrs) {
	if name != "LandXML" {
		d.refuse("", "the root element is <%s>, not <LandXML>; this is another kind of XML", name)
		d.fatal = true
		return
	}
	for b := []byte(a); len(b) > 0; {
		x, rest, err := gosax.NextAttribute(b)
		if err != nil || len(x.Key) == 0 {
			break
		}
		if p, ok := strings.CutPrefix(string(x.Key), "xmlns:"); ok {
			d.spaces[p] = unquote(x.Value)
		}
		b = rest
	}
	d.root = a.text("xmlns")
	if prefix != "" {
		d.root = d.spaces[prefix]
	}
	version, stated := versions[d.root], a.text("version")
	switch {
	case version != "":
		if stated != "" && stated != version {
			d.doc.Note(d.here(), "version", "the version attribute says %s and the namespace %s; the elements are the same and it is read", stated, version)
		}
	case d.root == "":
		d.doc.Note(d.here(), "xmlns", "the file has no namespace; it is read as LandXML")
		version = stated
	case strings.Contains(d.root, "landxml.org/schema/LandXML-"):
		d.refuse("xmlns", "the namespace %s is no version that is known here (1.0, 1.1, 1.2, 2.0); export the file as LandXML 1.2", d.root)
		d.fatal = true
		return
	default:
		d.doc.Note(d.here(), "xmlns", "the namespace %s is that of a profile; the file is read as LandXML", d.root)
		version = stated
	}
	if version == "" {
		d.doc.Note(d.here(), "version", "the file does not say its LandXML version")
	}
	d.about("LandXML version", version)
	for _, k := range []string{"date", "time"} {
		d.about(k, a.text(k))
	}
}

func (d *decoder) about(name, value string) {
	if value != "" && valid(value) {
		d.doc.About = append(d.doc.About, formats.Property{Name: name, Value: value})
	}
}

// name reads a name attribute. Spaces in it are kept.
func (d *decoder) name(a attrs, key string) string {
	s := a.text(key)
	if !valid(s) {
		d.refuse(key, "%q holds bytes that are not text in the encoding of the file; save the file again as UTF-8", s)
		return strings.ToValidUTF8(s, "�")
	}
	return s
}

// number reads an attribute that holds one number; it may be absent.
func (d *decoder) number(a attrs, key string) formats.Reading {
	raw := a.raw(key)
	if raw == nil {
		return formats.Reading{}
	}
	t := trim(raw)
	if len(t) == 0 {
		return formats.Reading{}
	}
	v, _, err := unit.ParseDecimal(t)
	if err != nil {
		d.refuse(key, "%q is not a number", string(t))
		return formats.Reading{}
	}
	return formats.Reading{Set: true, Value: v, Col: d.at}
}

// numbers splits a list of numbers. ok is false when one is not a number.
func (d *decoder) numbers(text []byte, into []unit.Decimal, what string) (_ []unit.Decimal, ok bool) {
	for i := 0; i < len(text); {
		for i < len(text) && blank(text[i]) {
			i++
		}
		j := i
		for j < len(text) && !blank(text[j]) {
			j++
		}
		if j == i {
			break
		}
		v, _, err := unit.ParseDecimal(text[i:j])
		if err != nil {
			d.row, d.at = d.textAt.Row, d.textAt.Col
			d.refuse(what, "%q is not a coordinate", string(text[i:j]))
			return into, false
		}
		into = append(into, v)
		i = j
	}
	return into, true
}

func blank(c byte) bool { return c == ' ' || c == '\n' || c == '\t' || c == '\r' }

func trim(b []byte) []byte {
	for len(b) > 0 && blank(b[0]) {
		b = b[1:]
	}
	for len(b) > 0 && blank(b[len(b)-1]) {
		b = b[:len(b)-1]
	}
	return b
}

// collect begins to gather the text of an element.
func (d *decoder) collect() { d.want, d.text = true, d.text[:0] }

// start handles a start tag by where it stands.
func (d *decoder) start(name string, a attrs) error {
	if d.surf != nil {
		return d.surfaceStart(name, a)
	}
	if d.net != nil {
		d.networkStart(name, a)
		return nil
	}
	switch name {
	case "Metric", "Imperial":
		if d.parent(1) == "Units" {
			d.unitsElement(name, a)
		}
	case "CoordinateSystem":
		d.coordinateSystem(a)
	case "Project":
		d.about("project", a.text("name"))
	case "Application":
		d.about("application", strings.TrimSpace(a.text("name")+" "+a.text("version")))
	case "CgPoints":
		d.groups++
	case "CgPoint":
		d.pointStart(a)
	case "Surface":
		d.surf = &surfaceReader{s: formats.Surface{Name: d.name(a, "name"), Desc: d.name(a, "desc"), Pos: d.here(), Source: "nothing"}}
	case "Alignment":
		d.alignmentStart(a)
	case "Line", "Curve", "Spiral", "IrregularLine", "Chain":
		if d.align != nil && d.parent(1) == "CoordGeom" {
			d.align.Elements++
		}
	case "ProfAlign":
		if d.align != nil {
			d.align.Profiles++
		}
	case "PipeNetwork":
		d.net = &formats.Network{Name: d.name(a, "name"), Type: a.text("pipeNetType"), Pos: d.here()}
	}
	return nil
}

// end handles an end tag.
func (d *decoder) end(name string) {
	switch {
	case d.surf != nil:
		d.surfaceEnd(name)
	case d.net != nil:
		d.networkEnd(name)
	case name == "CgPoint":
		d.pointEnd()
	case name == "Alignment" && d.align != nil:
		d.doc.Alignments = append(d.doc.Alignments, *d.align)
		d.align = nil
	}
}

func (d *decoder) alignmentStart(a attrs) {
	d.align = &formats.Alignment{Name: d.name(a, "name"), Pos: d.here()}
	d.align.StaStart = d.number(a, "staStart").Value
	d.align.Length = d.number(a, "length").Value
}

func (d *decoder) coordinateSystem(a attrs) {
	c := &d.doc.CRS
	if code := strings.TrimSpace(a.text("epsgCode")); code != "" {
		code = strings.TrimSpace(strings.TrimPrefix(strings.ToUpper(code), "EPSG:"))
		if strings.Trim(code, "0123456789") == "" && code != "" {
			c.EPSG = code
		} else {
			d.doc.Note(d.here(), "epsgCode", "%q is not an EPSG code and is not used", a.text("epsgCode"))
		}
	}
	for _, k := range []string{"horizontalCoordinateSystemName", "projectedCoordinateSystemName", "name", "desc", "horizontalDatum"} {
		if c.Name == "" {
			c.Name = d.name(a, k)
		}
	}
	for _, k := range []string{"verticalCoordinateSystemName", "verticalDatum"} {
		if c.Vertical == "" {
			c.Vertical = d.name(a, k)
		}
	}
}

// finish puts together what needed the whole file.
func (d *decoder) finish() error {
	d.finishUnits()
	d.finishPipes()
	d.finishPoints()
	d.finishCenters()
	if d.nan > 0 {
		d.doc.Note(d.pos, "thickness", "the thickness of %d pipes is NaN and is taken as not given", d.nan)
	}
	if d.bad > 0 {
		d.doc.Refuse(d.pos, "", "%s", fmt.Sprintf("and %d problems more, not listed", d.bad))
	}
	d.doc.PointCount = len(d.doc.Points)
	if d.opt.Points != nil {
		for i := 0; i < len(d.doc.Points); i += formats.BatchSize {
			if err := d.opt.Points(d.pos, d.doc.Points[i:min(i+formats.BatchSize, len(d.doc.Points))]); err != nil {
				return err
			}
		}
		d.doc.Points = nil
	}
	return nil
}
