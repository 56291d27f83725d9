package landxml

import (
	"errors"
	"io"
	"strings"

	"github.com/orisano/gosax"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// decoder walks one file.
type decoder struct {
	*scanner
	doc   *formats.Document
	opt   formats.Options
	pos   formats.Pos // the file
	plain bool        // lists of points and faces are read by readPlain

	path   []string // local names of open elements
	skip   int      // depth inside an element that is not read
	spaces []space  // namespaces declared by open elements
	ns     string   // namespace of the root element

	want    bool   // the text of an element is gathered
	wantAt  int    // its depth
	content []byte // the text so far
	textRow int    // where it begins
	textCol int
	pieces  int // how many texts it was gathered from

	units  []statedUnits // of the file
	points []cgPoint
	surf   *surfaceReader
	align  *alignReader
	aligns []*alignReader
	net    *networkReader
	areas  []statedArea
	nets   []*networkReader
	unread tally // elements that are not read, by name
	nan    tally // attributes that hold NaN, by name
	long   int   // numbers that lost digits
	bad    int   // problems that were not kept
}

// space is one namespace declaration.
type space struct {
	prefix, uri string
	depth       int // of the element that declares it
}

// errOther stops the walk: the problem is written, the rest is of no use.
var errOther = errors.New("the file is no LandXML that is read")

// Decode reads a LandXML file. Coordinates stay decimals in the linear unit of
// the file; northing and easting are put in their places.
func Decode(r io.Reader, name string, opt formats.Options) (*formats.Document, error) {
	return decode(r, name, opt, true)
}

func decode(r io.Reader, name string, opt formats.Options, plain bool) (*formats.Document, error) {
	d := &decoder{doc: &formats.Document{File: name, Format: "landxml"}, opt: opt, pos: formats.Pos{File: name}, plain: plain, unread: tally{}, nan: tally{}}
	text, enc, refusal, err := utf8Reader(r, opt.Encoding)
	if err != nil {
		return nil, err
	}
	if refusal != "" {
		d.doc.Refuse(d.pos.At(1, 1), "encoding", "%s", refusal)
		return d.doc, nil
	}
	if enc != "utf-8" {
		d.about("encoding", enc)
	}
	d.scanner = newScanner(text, enc != "utf-8")
	if err := d.walk(); err != nil {
		var x *errXML
		if errors.As(err, &x) {
			d.doc.Refuse(d.pos.At(x.row, x.col), "", "%s", x.text)
		} else if err != errOther {
			return nil, err
		}
		// what a broken file still said is not to be trusted
		d.doc.Surfaces, d.doc.Alignments = nil, nil
		formats.SortProblems(d.doc.Problems)
		formats.SortProblems(d.doc.Notes)
		return d.doc, nil
	}
	err = d.finish()
	formats.SortProblems(d.doc.Problems)
	formats.SortProblems(d.doc.Notes)
	return d.doc, err
}

func (d *decoder) here() formats.Pos { return d.pos.At(d.row, d.at) }

// refuse adds a problem at the current event.
func (d *decoder) refuse(field, format string, args ...any) {
	d.refuseAt(d.here(), field, format, args...)
}

func (d *decoder) refuseAt(at formats.Pos, field, format string, args ...any) {
	if len(d.doc.Problems) >= formats.MaxProblemsKept {
		d.bad++
		return
	}
	d.doc.Refuse(at, field, format, args...)
}

func (d *decoder) note(at formats.Pos, field, format string, args ...any) {
	if len(d.doc.Notes) < formats.MaxProblemsKept {
		d.doc.Note(at, field, format, args...)
	}
}

// walk reads all events.
func (d *decoder) walk() error {
	for {
		kind, full, text, err := d.next()
		if err != nil {
			return err
		}
		switch kind {
		case gosax.EventEOF:
			return nil
		case gosax.EventStart:
			if d.skip > 0 {
				if !d.empty {
					d.skip++
				}
				continue
			}
			if err := d.open(full); err != nil {
				return err
			}
		case gosax.EventEnd:
			if d.skip > 0 {
				d.skip--
				continue
			}
			d.close()
			if d.surf != nil && d.plain {
				d.readPlain()
			}
		case gosax.EventText, gosax.EventCData:
			if d.gathering() && d.skip == 0 {
				if err := d.gather(text, kind == gosax.EventText); err != nil {
					return err
				}
			}
		}
	}
}

// open handles a start tag, and the end of an element that is empty.
func (d *decoder) open(full string) error {
	if d.want {
		d.content = append(d.content, ' ') // a child parts the text before from that behind
		d.pieces++
	}
	empty := d.empty
	name, mine := d.resolve(full)
	if len(d.path) == 0 {
		if !d.rootElement(full, name) {
			return errOther
		}
		mine = true
	}
	if !mine {
		d.dropSpaces()
		if !empty {
			d.skip = 1
		}
		return nil
	}
	d.path = append(d.path, name)
	d.start(name, d.attrs)
	if empty {
		d.close()
	} else if d.surf != nil && d.plain {
		d.readPlain()
	}
	return nil
}

func (d *decoder) close() {
	d.end(d.path[len(d.path)-1])
	d.path = d.path[:len(d.path)-1]
	d.dropSpaces()
}

// gather adds to the text of an element. In a CDATA section references are not
// resolved.
func (d *decoder) gather(text []byte, resolve bool) (err error) {
	if len(d.content) == 0 {
		d.textRow, d.textCol = d.row, d.at
	}
	d.pieces++
	if !resolve || simple(text) {
		d.content = append(d.content, text...)
		return nil
	}
	d.pieces++ // a reference is longer than its character
	if d.content, err = appendText(d.content, text, false); err != nil {
		return d.fault("%v", err)
	}
	return nil
}

// simple reports whether a text stands for itself: no references, no line
// breaks of two characters, no control characters.
func simple(text []byte) bool {
	for _, c := range text {
		if class[c]&special != 0 && c != '\n' && c != '\t' {
			return false
		}
	}
	return true
}

// collect begins to gather the text of an element, without that of its
// children.
func (d *decoder) collect() {
	if d.want {
		d.refuse("", "<%s> stands inside another element of coordinates, where it does not belong", d.parent(0))
	}
	d.want, d.wantAt, d.content, d.pieces = true, len(d.path), d.content[:0], 0
}

// gathering reports whether the innermost element is the one whose text is
// gathered.
func (d *decoder) gathering() bool { return d.want && len(d.path) == d.wantAt }

// collected ends it.
func (d *decoder) collected() []byte {
	if len(d.content) == 0 {
		d.textRow, d.textCol = d.row, d.at
	}
	d.want = false
	return d.content
}

// parent is the element n levels above the current one.
func (d *decoder) parent(n int) string {
	if i := len(d.path) - 1 - n; i >= 0 {
		return d.path[i]
	}
	return ""
}

// start handles a start tag by where it stands.
func (d *decoder) start(name string, a attrs) {
	switch {
	case d.surf != nil:
		d.surfaceStart(name, a)
		return
	case d.net != nil:
		d.networkStart(name, a)
		return
	case d.align != nil:
		d.alignStart(name, a)
		return
	}
	if len(d.path) == 2 && !readElements[name] {
		d.unread.add(name)
	}
	switch name {
	case "Metric", "Imperial":
		if d.parent(1) == "Units" && len(d.path) == 3 {
			d.units = append(d.units, d.statedUnits(name, a))
		}
	case "CoordinateSystem":
		d.coordinateSystem(a)
	case "Project":
		d.about("project", a.text("name"))
	case "Application":
		d.about("application", strings.TrimSpace(a.text("name")+" "+a.text("version")))
	case "CgPoint":
		d.pointStart(a)
	case "Surface":
		d.surfaceBegin(a)
	case "Alignment":
		d.alignBegin(a)
	case "PipeNetwork":
		d.networkBegin(a)
	}
}

// end handles an end tag.
func (d *decoder) end(name string) {
	switch {
	case d.surf != nil:
		d.surfaceEnd(name)
	case d.net != nil:
		d.networkEnd(name)
	case d.align != nil:
		d.alignEnd(name)
	case name == "CgPoint" && d.gathering():
		d.pointEnd()
	}
}

// finish puts together what needed the whole file.
func (d *decoder) finish() error {
	d.finishUnits()
	d.finishAreas()
	d.finishNetworks()
	d.finishPoints()
	d.finishCenters()
	d.finishAlignments()
	if n := d.unread.String(); n != "" {
		d.note(d.pos, "", "these elements are not read, but for the points in them: %s", n)
	}
	for _, k := range d.nan.names() {
		d.note(d.pos, k, "values that are NaN (not a number), taken as not given: %d", d.nan[k])
	}
	if d.long > 0 {
		d.note(d.pos, "", "numbers of more than %d digits, rounded to %d with fewer than %d decimals left: %d", unit.MaxDigits, unit.MaxDigits, enoughPlaces, d.long)
	}
	if d.bad > 0 {
		d.doc.Refuse(d.pos, "", "further problems, not listed: %d", d.bad)
	}
	return d.handOver()
}
