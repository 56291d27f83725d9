package landxml

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Encode writes LandXML 1.2: points, surfaces with their invisible faces, and
// pipe networks. Decimals are written as they were read. Date and time are
// those of the file the document came from; where it has none they are
// 1970-01-01T00:00:00, because the schema wants some and the same input gives
// the same file. The unit must be known. A network needs what the schema needs:
// two structures, an invert in each, a shape for each pipe.
func Encode(w io.Writer, d *formats.Document, opt formats.EncodeOptions) error {
	u := d.Units.Linear
	if !u.Known() {
		u = opt.Unit
	}
	if !u.Known() {
		return fmt.Errorf("LandXML needs the unit of length, and %s does not say it; declare it with --unit", d.File)
	}
	e := &encoder{w: bufio.NewWriterSize(w, 1<<16)}
	if err := e.document(d, u); err != nil {
		return err
	}
	return e.w.Flush()
}

type encoder struct {
	w   *bufio.Writer
	buf []byte
}

func (e *encoder) put(format string, args ...any) { fmt.Fprintf(e.w, format, args...) }

// q writes text as an attribute value, with its quotes.
func q(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	_ = xml.EscapeText(&b, []byte(s))
	b.WriteByte('"')
	return b.String()
}

func about(d *formats.Document, name, or string) string {
	for _, p := range d.About {
		if p.Name == name {
			return p.Value
		}
	}
	return or
}

var systems = map[string]string{ // unit → Units element up to the diameter unit
	"m": "Metric meter", "mm": "Metric millimeter", "cm": "Metric centimeter", "km": "Metric kilometer",
	"ft": "Imperial foot", "ftUS": "Imperial USSurveyFoot", "in": "Imperial inch", "mi": "Imperial mile",
}

func (e *encoder) document(d *formats.Document, u unit.Unit) error {
	e.put("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<LandXML xmlns=\"http://www.landxml.org/schema/LandXML-1.2\" date=%s time=%s version=\"1.2\">\n",
		q(about(d, "date", "1970-01-01")), q(about(d, "time", "00:00:00")))
	if err := e.units(d, u); err != nil {
		return err
	}
	if d.CRS.EPSG != "" || d.CRS.Name != "" || d.CRS.Vertical != "" {
		e.put(" <CoordinateSystem")
		e.attr("desc", d.CRS.Name)
		e.attr("epsgCode", d.CRS.EPSG)
		e.attr("verticalDatum", d.CRS.Vertical)
		e.put("/>\n")
	}
	e.put(" <Project name=%s/>\n", q(about(d, "project", "points and surfaces")))
	e.points(d)
	if len(d.Surfaces) > 0 {
		e.put(" <Surfaces>\n")
		for i := range d.Surfaces {
			e.surface(&d.Surfaces[i])
		}
		e.put(" </Surfaces>\n")
	}
	if len(d.Networks) > 0 {
		e.put(" <PipeNetworks>\n")
		for i := range d.Networks {
			if err := e.network(&d.Networks[i]); err != nil {
				return err
			}
		}
		e.put(" </PipeNetworks>\n")
	}
	e.put("</LandXML>\n")
	return nil
}

func (e *encoder) attr(name, value string) {
	if value != "" {
		e.put(" %s=%s", name, q(value))
	}
}

func (e *encoder) units(d *formats.Document, u unit.Unit) error {
	system, linear, _ := strings.Cut(systems[u.Name], " ")
	dia := d.Units.Diameter
	for i := range d.Networks {
		for k := range d.Networks[i].Pipes {
			x := d.Networks[i].Pipes[k].DimUnit
			if x.Known() && dia.Known() && x != dia {
				return fmt.Errorf("pipe sizes are in %s and in %s; one file holds one unit of pipe sizes", dia.Name, x.Name)
			}
			if x.Known() {
				dia = x
			}
		}
	}
	names := map[string]string{"m": "meter", "mm": "millimeter", "cm": "centimeter", "km": "kilometer", "ft": "foot", "ftUS": "USSurveyFoot", "in": "inch"}
	diameter := ""
	if dia.Known() {
		metric := strings.HasPrefix(systems[dia.Name], "Metric")
		if metric != (system == "Metric") || names[dia.Name] == "" {
			return fmt.Errorf("pipe sizes in %s cannot stand beside lengths in %s in LandXML", dia.Name, u.Name)
		}
		diameter = fmt.Sprintf(" diameterUnit=%q", names[dia.Name])
	}
	rest := `areaUnit="squareMeter" volumeUnit="cubicMeter" temperatureUnit="celsius" pressureUnit="HPA"`
	if system == "Imperial" {
		rest = `areaUnit="squareFoot" volumeUnit="cubicFeet" temperatureUnit="fahrenheit" pressureUnit="inchHG"`
	}
	e.put(" <Units>\n  <%s %s linearUnit=%q%s/>\n </Units>\n", system, rest, linear, diameter)
	return nil
}

func (e *encoder) points(d *formats.Document) {
	if len(d.Points) == 0 {
		return
	}
	e.put(" <CgPoints>\n")
	for i := range d.Points {
		p := &d.Points[i]
		if !p.Placed {
			continue
		}
		e.put("  <CgPoint")
		e.attr("name", p.ID)
		e.attr("code", p.Code)
		e.attr("desc", p.Desc)
		e.put(">")
		e.buf = p.E.Append(append(p.N.Append(e.buf[:0]), ' '))
		if p.Levelled {
			e.buf = p.Z.Append(append(e.buf, ' '))
		}
		_, _ = e.w.Write(e.buf)
		e.put("</CgPoint>\n")
	}
	e.put(" </CgPoints>\n")
}

func (e *encoder) surface(s *formats.Surface) {
	e.put("  <Surface name=%s", q(s.Name))
	e.attr("desc", s.Desc)
	if len(s.Faces) == 0 {
		e.put("/>\n")
		return
	}
	e.put(">\n   <Definition surfType=\"TIN\">\n    <Pnts>\n")
	for i := range s.Vertices {
		v := &s.Vertices[i]
		e.buf = fmt.Appendf(e.buf[:0], "     <P id=\"%d\">", v.ID)
		e.buf = append(v.N.Append(e.buf), ' ')
		e.buf = append(v.E.Append(e.buf), ' ')
		e.buf = append(v.Z.Append(e.buf), "</P>\n"...)
		_, _ = e.w.Write(e.buf)
	}
	e.put("    </Pnts>\n    <Faces>\n")
	for i := range s.Faces {
		f := &s.Faces[i]
		hide := ""
		if f.Invisible {
			hide = " i=\"1\""
		}
		e.put("     <F%s>%d %d %d</F>\n", hide, s.Vertices[f.V[0]].ID, s.Vertices[f.V[1]].ID, s.Vertices[f.V[2]].ID)
	}
	e.put("    </Faces>\n   </Definition>\n  </Surface>\n")
}

func (e *encoder) network(n *formats.Network) error {
	if len(n.Structures) < 2 {
		return fmt.Errorf("the network %q has %d structures; LandXML wants two at least", n.Name, len(n.Structures))
	}
	kind := n.Type
	if kind == "" {
		kind = "other"
	}
	e.put("  <PipeNetwork name=%s pipeNetType=%s>\n   <Structs>\n", q(n.Name), q(kind))
	for i := range n.Structures {
		if err := e.structure(n, &n.Structures[i]); err != nil {
			return err
		}
	}
	e.put("   </Structs>\n   <Pipes>\n")
	for i := range n.Pipes {
		if err := e.pipe(n, &n.Pipes[i]); err != nil {
			return err
		}
	}
	e.put("   </Pipes>\n  </PipeNetwork>\n")
	return nil
}

func (e *encoder) structure(n *formats.Network, s *formats.Structure) error {
	if len(s.Inverts) == 0 {
		return fmt.Errorf("structure %q of the network %q has no invert; LandXML wants one", s.Name, n.Name)
	}
	e.put("    <Struct name=%s", q(s.Name))
	e.attr("desc", s.Desc)
	e.reading("elevRim", s.Rim)
	e.reading("elevSump", s.Sump)
	e.put(">\n")
	if s.Placed {
		e.put("     <Center>%s %s</Center>\n", s.N, s.E)
	}
	e.put("     <Connection/>\n")
	for _, i := range s.Inverts {
		if !i.Elev.Set {
			return fmt.Errorf("an invert of structure %q of the network %q has no level", s.Name, n.Name)
		}
		flow := i.Flow
		if flow == "" {
			flow = "both"
		}
		e.put("     <Invert elev=%q flowDir=%s refPipe=%s/>\n", i.Elev.Value.String(), q(flow), q(i.Pipe))
	}
	e.put("    </Struct>\n")
	return nil
}

func (e *encoder) reading(name string, r formats.Reading) {
	if r.Set {
		e.put(" %s=%q", name, r.Value.String())
	}
}

func (e *encoder) pipe(n *formats.Network, p *formats.Pipe) error {
	e.put("    <Pipe name=%s refStart=%s refEnd=%s", q(p.Name), q(p.Start), q(p.End))
	e.attr("desc", p.Desc)
	e.reading("slope", p.Slope)
	e.reading("length", p.Length)
	e.put(">\n")
	if p.Shape != "circular" || !p.Bore.Set {
		return fmt.Errorf("pipe %q of the network %q is not a circular pipe with a diameter; only those are written", p.Name, n.Name)
	}
	e.put("     <CircPipe diameter=%q", p.Bore.Value.String())
	e.reading("thickness", p.Wall)
	e.attr("material", p.Material)
	e.put("/>\n    </Pipe>\n")
	return nil
}
