package landxml

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Encode writes LandXML 1.2: points, surfaces with their invisible faces,
// breaklines and boundaries, alignments with their profiles and cross sections,
// and pipe networks. Decimals are written as they were read, in the unit of the
// document; that unit must be known, by the document or by opt. Vertices keep
// their numbers where those are positive and differ; else they are counted
// from 1.
//
// The schema wants a date and a time. They are those of the file the document
// came from; where it has none they are 1970-01-01 and 00:00:00, with a comment
// in the file that they are not known, because the same input has to give the
// same file.
//
// What the schema cannot hold is an error that names it: a point with a level
// and no place, a surface of points without faces, an alignment without a
// length, a curve without a sense of rotation, a structure without an invert, a
// pipe without a size, characters that XML has no way to write.
func Encode(w io.Writer, d *formats.Document, opt formats.EncodeOptions) error {
	u, err := lengthUnit(d, opt.Unit)
	if err != nil {
		return err
	}
	e := &encoder{w: bufio.NewWriterSize(w, 1<<16)}
	e.document(d, u)
	if e.err != nil {
		return e.err
	}
	return e.w.Flush()
}

func lengthUnit(d *formats.Document, asked unit.Unit) (unit.Unit, error) {
	u := d.Units.Linear
	switch {
	case !u.Known() && !asked.Known():
		return u, fmt.Errorf("LandXML needs the unit of length, and %s does not say it; declare it with --unit", d.File)
	case !u.Known():
		u = asked
	case asked.Known() && asked != u:
		return u, fmt.Errorf("%s is in %s and %s is asked for; LandXML is written in the unit that was read: leave the unit out", d.File, u.Name, asked.Name)
	}
	if v := d.Units.Level; v.Known() && v != u {
		return u, fmt.Errorf("levels are in %s and lengths in %s; LandXML holds one unit for both: bring the file to one unit first", v.Name, u.Name)
	}
	if elementOf[u.Name] == "" {
		return u, fmt.Errorf("LandXML has no unit %s; bring the file to m, mm, cm, km, ft, ftUS, in or mi first", u.Name)
	}
	return u, nil
}

// elementOf is the name of a unit in LandXML, by our name of it.
var elementOf = func() map[string]string {
	m := map[string]string{}
	for name, u := range unitNames {
		m[u.Name] = name
	}
	return m
}()

// encoder writes; its first error stays.
type encoder struct {
	w   *bufio.Writer
	buf []byte
	err error
}

func (e *encoder) fail(format string, args ...any) {
	if e.err == nil {
		e.err = fmt.Errorf(format, args...)
	}
}

func (e *encoder) put(s string) { _, _ = e.w.WriteString(s) }

// attr writes an attribute; an empty one is left out.
func (e *encoder) attr(name, value string) {
	if value != "" {
		e.must(name, value)
	}
}

// must writes an attribute that may be empty.
func (e *encoder) must(name, value string) {
	var err error
	e.buf = append(append(append(e.buf[:0], ' '), name...), `="`...)
	if e.buf, err = appendEscaped(e.buf, value); err != nil {
		e.fail("%s=%q: %v", name, value, err)
	}
	e.buf = append(e.buf, '"')
	_, _ = e.w.Write(e.buf)
}

func (e *encoder) reading(name string, r formats.Reading) {
	if r.Set {
		e.must(name, r.Value.String())
	}
}

var errCharacter = errors.New("it holds a character that XML cannot hold; take it out")

// appendEscaped appends text as it stands in an attribute.
func appendEscaped(b []byte, s string) ([]byte, error) {
	for i, r := range s {
		switch {
		case r == '&':
			b = append(b, "&amp;"...)
		case r == '<':
			b = append(b, "&lt;"...)
		case r == '>':
			b = append(b, "&gt;"...)
		case r == '"':
			b = append(b, "&quot;"...)
		case r == '\t', r == '\n', r == '\r':
			b = fmt.Appendf(b, "&#%d;", r)
		case !allowed(r) || r == utf8.RuneError && !strings.HasPrefix(s[i:], string(utf8.RuneError)):
			return b, errCharacter
		default:
			b = utf8.AppendRune(b, r)
		}
	}
	return b, nil
}

// validDate and timeForm hold what the schema takes (xs:date, xs:time).
func validDate(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}

var timeForm = regexp.MustCompile(`^([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d+)?(Z|[+-](0\d|1[0-3]):[0-5]\d)?$`)

func about(d *formats.Document, name string) string {
	for _, p := range d.About {
		if p.Name == name {
			return p.Value
		}
	}
	return ""
}

func (e *encoder) document(d *formats.Document, u unit.Unit) {
	date, clock := about(d, "date"), about(d, "time")
	known := validDate(date) && timeForm.MatchString(clock)
	if !known {
		date, clock = "1970-01-01", "00:00:00"
	}
	e.put("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	e.put("<LandXML xmlns=\"http://www.landxml.org/schema/LandXML-1.2\" date=\"" + date + "\" time=\"" + clock + "\" version=\"1.2\">\n")
	if !known {
		e.put(" <!-- Date and time are not known. -->\n")
	}
	e.units(d, u)
	if d.CRS.EPSG != "" || d.CRS.Name != "" || d.CRS.Vertical != "" {
		e.put(" <CoordinateSystem")
		e.attr("name", d.CRS.Name)
		e.attr("epsgCode", d.CRS.EPSG)
		e.attr("verticalDatum", d.CRS.Vertical)
		e.put("/>\n")
	}
	if p := about(d, "project"); p != "" {
		e.put(" <Project")
		e.attr("name", p)
		e.put("/>\n")
	}
	e.points(d)
	if len(d.Surfaces) > 0 {
		e.put(" <Surfaces>\n")
		for i := range d.Surfaces {
			e.surface(&d.Surfaces[i])
		}
		e.put(" </Surfaces>\n")
	}
	e.alignments(d)
	if len(d.Networks) > 0 {
		e.put(" <PipeNetworks>\n")
		for i := range d.Networks {
			e.network(&d.Networks[i])
		}
		e.put(" </PipeNetworks>\n")
	}
	e.put("</LandXML>\n")
}

// points writes the points in their order. Names have to differ within a group,
// so that a name that comes again begins another.
func (e *encoder) points(d *formats.Document) {
	var seen map[string]bool
	for i := range d.Points {
		p := &d.Points[i]
		switch {
		case p.Bad != "":
			e.fail("point %q could not be read (%s); correct the file first", p.ID, p.Bad)
		case !p.Placed && (p.Levelled || p.Chained):
			e.fail("point %q has no easting and northing; LandXML cannot hold it without: leave it out, or write CSV", p.ID)
		}
		if e.err != nil {
			return
		}
		if p.ID != "" && seen[p.ID] {
			e.put(" </CgPoints>\n")
			seen = nil
		}
		if seen == nil {
			e.put(" <CgPoints>\n")
			seen = map[string]bool{}
		}
		seen[p.ID] = true
		e.put("  <CgPoint")
		e.attr("name", p.ID)
		e.attr("code", p.Code)
		e.attr("desc", p.Desc)
		e.put(">")
		e.buf = e.buf[:0]
		if p.Placed {
			e.buf = p.E.Append(append(p.N.Append(e.buf), ' '))
		}
		if p.Levelled {
			e.buf = p.Z.Append(append(e.buf, ' '))
		}
		_, _ = e.w.Write(append(e.buf, "</CgPoint>\n"...))
	}
	if seen != nil {
		e.put(" </CgPoints>\n")
	}
}

func (e *encoder) surface(s *formats.Surface) {
	e.put("  <Surface")
	e.must("name", s.Name)
	e.attr("desc", s.Desc)
	switch {
	case len(s.Faces) == 0 && len(s.Vertices) > 0:
		e.fail("surface %q has points and no faces; LandXML wants both: leave the surface out", s.Name)
		return
	case len(s.Faces) == 0 && len(s.Breaklines)+len(s.Boundaries) == 0:
		e.put("/>\n")
		return
	case len(s.Faces) == 0:
		e.put(">\n")
		e.sourceLines(s)
		e.put("  </Surface>\n")
		return
	case len(s.Vertices) < 3:
		e.fail("surface %q has %d points; LandXML wants three at least", s.Name, len(s.Vertices))
		return
	}
	number := numbering(s)
	e.put(">\n")
	e.sourceLines(s)
	e.put("   <Definition surfType=\"TIN\">\n    <Pnts>\n")
	for i := range s.Vertices {
		v := &s.Vertices[i]
		e.buf = append(e.buf[:0], `     <P id="`...)
		e.buf = append(appendInt(e.buf, number(int32(i))), `">`...)
		e.buf = append(v.N.Append(e.buf), ' ')
		e.buf = append(v.E.Append(e.buf), ' ')
		e.buf = append(v.Z.Append(e.buf), "</P>\n"...)
		_, _ = e.w.Write(e.buf)
	}
	e.put("    </Pnts>\n    <Faces>\n")
	for i := range s.Faces {
		f := &s.Faces[i]
		e.buf = append(e.buf[:0], "     <F>"...)
		if f.Invisible {
			e.buf = append(e.buf[:0], `     <F i="1">`...)
		}
		e.buf = append(appendInt(e.buf, number(f.V[0])), ' ')
		e.buf = append(appendInt(e.buf, number(f.V[1])), ' ')
		e.buf = append(appendInt(e.buf, number(f.V[2])), "</F>\n"...)
		_, _ = e.w.Write(e.buf)
	}
	e.put("    </Faces>\n   </Definition>\n  </Surface>\n")
}

// numbering gives vertices the numbers they have, or counts them where those
// will not do.
func numbering(s *formats.Surface) func(i int32) int {
	own := func(i int32) int { return s.Vertices[i].ID }
	counted := func(i int32) int { return int(i) + 1 }
	rising := 0
	for i := range s.Vertices {
		if id := s.Vertices[i].ID; id <= rising {
			break
		} else if rising = id; i == len(s.Vertices)-1 && id <= largestID {
			return own
		}
	}
	seen := make(map[int]bool, len(s.Vertices))
	for i := range s.Vertices {
		id := s.Vertices[i].ID
		if id <= 0 || id > largestID || seen[id] {
			return counted
		}
		seen[id] = true
	}
	return own
}

// largestID is the largest number of a point that Decode reads.
const largestID = 999_999_999

func appendInt(b []byte, n int) []byte { return strconv.AppendInt(b, int64(n), 10) }
