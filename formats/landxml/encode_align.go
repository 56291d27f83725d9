package landxml

import (
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// alignments writes alignments in their order. Names have to differ within a
// group, so that a name that comes again begins another.
func (e *encoder) alignments(d *formats.Document) {
	var seen map[string]bool
	for i := range d.Alignments {
		a := &d.Alignments[i]
		if seen[a.Name] {
			e.put(" </Alignments>\n")
			seen = nil
		}
		if seen == nil {
			e.put(" <Alignments>\n")
			seen = map[string]bool{}
		}
		seen[a.Name] = true
		e.alignment(a)
		if e.err != nil {
			return
		}
	}
	if seen != nil {
		e.put(" </Alignments>\n")
	}
}

func (e *encoder) alignment(a *formats.Alignment) {
	missing := func(what, key string) {
		e.fail("alignment %q has no %s (%s); LandXML wants one: complete it first", a.Name, what, key)
	}
	if !a.Stationed {
		missing("station to begin at", "staStart")
	}
	if !a.Measured {
		missing("length", "length")
	}
	e.put("  <Alignment")
	e.must("name", a.Name)
	e.must("length", a.Length.String())
	e.must("staStart", a.StaStart.String())
	e.described(a.Desc, a.State)
	e.put(">\n")
	if len(a.Elements) > 0 {
		e.put("   <CoordGeom>\n")
		for i := range a.Elements {
			e.element(a, &a.Elements[i], "    ")
		}
		e.put("   </CoordGeom>\n")
	}
	if len(a.PIs) > 0 {
		e.intersections(a)
	}
	for i := range a.Equations {
		q := &a.Equations[i]
		e.put("   <StaEquation")
		e.must("staAhead", q.Ahead.String())
		e.reading("staBack", q.Back)
		e.must("staInternal", q.Internal.String())
		e.attr("staIncrement", q.Increment)
		e.attr("desc", q.Desc)
		e.put("/>\n")
	}
	e.profiles(a)
	e.sections(a)
	e.put("  </Alignment>\n")
}

// described writes what many elements have.
func (e *encoder) described(desc, state string) {
	e.attr("desc", desc)
	e.attr("state", state)
}

// partOrder is the order of the curves at a point of intersection.
var partOrder = []string{"InSpiral", "Curve1", "ConnSpiral", "Curve2", "OutSpiral"}

func (e *encoder) intersections(a *formats.Alignment) {
	if len(a.PIs) < 2 {
		e.fail("the alignment %q has one point of intersection; LandXML wants two at least: leave it out", a.Name)
	}
	e.put("   <AlignPIs>\n")
	for i := range a.PIs {
		p := &a.PIs[i]
		e.put("    <AlignPI>\n     <PI")
		e.attr("name", p.Name)
		e.attr("code", p.Code)
		e.attr("desc", p.Desc)
		e.put(">")
		e.coordinates(&p.Place)
		e.put("</PI>\n")
		if p.Station.Set {
			e.put("     <Station>" + p.Station.Value.String() + "</Station>\n")
		}
		for k := range p.Curves {
			c := &p.Curves[k]
			tag := ""
			for _, t := range partOrder {
				if piParts[t] == c.Part {
					tag = t
				}
			}
			if tag == "" || (c.Kind == "spiral") != strings.HasSuffix(tag, "Spiral") || c.Kind != "spiral" && c.Kind != "curve" {
				e.fail("the alignment %q has a %q that is a %s at a point of intersection; LandXML has no place for it", a.Name, c.Part, c.Kind)
				return
			}
			e.put("     <" + tag + ">\n")
			e.element(a, &c.AlignmentElement, "      ")
			e.put("     </" + tag + ">\n")
		}
		e.put("    </AlignPI>\n")
	}
	e.put("   </AlignPIs>\n")
}

var elementTags = func() map[string]string {
	m := map[string]string{}
	for tag, kind := range elementKinds {
		m[kind] = tag
	}
	return m
}()

// element writes an element of plan geometry behind a margin.
func (e *encoder) element(a *formats.Alignment, el *formats.AlignmentElement, margin string) {
	missing := func(what string) {
		e.fail("the alignment %q has a piece (%s) without %s; LandXML wants one: complete it first", a.Name, el.Kind, what)
	}
	tag := elementTags[el.Kind]
	if tag == "" {
		e.fail("the alignment %q has an element of the kind %q, which LandXML does not know", a.Name, el.Kind)
		return
	}
	e.put(margin + "<" + tag)
	switch el.Kind {
	case "curve":
		if el.Rotation == "" {
			missing("a sense of rotation (cw or ccw)")
		}
		e.attr("rot", el.Rotation)
		e.attr("crvType", el.CurveType)
		e.reading("radius", el.Radius)
	case "spiral":
		if el.Rotation == "" {
			missing("a sense of rotation (cw or ccw)")
		}
		if !el.Length.Set || !el.RadiusStart.Set || !el.RadiusEnd.Set {
			missing("a length, or without a radius at an end")
		}
		known := false
		for _, t := range spiralTypes {
			known = known || t == el.SpiralType
		}
		if !known {
			e.fail("a spiral of the alignment %q is of the type %q, which LandXML does not know", a.Name, el.SpiralType)
		}
		e.radius("radiusStart", el.RadiusStart)
		e.radius("radiusEnd", el.RadiusEnd)
		e.attr("rot", el.Rotation)
		e.attr("spiType", el.SpiralType)
	}
	if el.Kind != "chain" {
		e.reading("length", el.Length)
		e.reading("staStart", el.Station)
	}
	e.attr("name", el.Name)
	e.attr("desc", el.Desc)
	e.put(">")
	if el.Kind == "chain" {
		e.chain(a, el)
		return
	}
	e.put("\n")
	e.place(margin, "Start", &el.Start)
	switch el.Kind {
	case "curve":
		e.place(margin, "Center", &el.Centre)
		e.place(margin, "End", &el.End)
		if el.PI.Placed {
			e.place(margin, "PI", &el.PI)
		}
	case "spiral":
		e.place(margin, "PI", &el.PI)
		e.place(margin, "End", &el.End)
	case "irregular line":
		e.place(margin, "End", &el.End)
		if len(el.Points) == 0 {
			missing("a point in its list")
		}
		e.pointList(margin, el.Points)
	default:
		e.place(margin, "End", &el.End)
	}
	e.put(margin + "</" + tag + ">\n")
}

func (e *encoder) radius(name string, r formats.Radius) {
	switch {
	case r.Infinite:
		e.must(name, "INF")
	case r.Set:
		e.must(name, r.Value.String())
	}
}

// chain writes the names of points, which blanks part.
func (e *encoder) chain(a *formats.Alignment, el *formats.AlignmentElement) {
	for i, n := range el.Names {
		if word, rest := nextWord([]byte(n)); len(word) == 0 || len(rest) > 0 || len(word) != len(n) {
			e.fail("a chain of the alignment %q names the point %q; LandXML cannot hold a name with blanks there", a.Name, n)
		}
		if i > 0 {
			e.put(" ")
		}
		e.text(n)
	}
	e.put("</Chain>\n")
}

// text writes text between tags.
func (e *encoder) text(s string) {
	var err error
	if e.buf, err = appendEscaped(e.buf[:0], s); err != nil {
		e.fail("%q: %v", s, err)
	}
	_, _ = e.w.Write(e.buf)
}

func (e *encoder) place(margin, tag string, p *formats.Place) {
	e.put(margin + " <" + tag + ">")
	e.coordinates(p)
	e.put("</" + tag + ">\n")
}

func (e *encoder) coordinates(p *formats.Place) {
	if !p.Placed {
		return
	}
	e.buf = appendNumbers(e.buf[:0], p.N, p.E)
	if p.Levelled {
		e.buf = p.Z.Append(append(e.buf, ' '))
	}
	_, _ = e.w.Write(e.buf)
}

func appendNumbers(b []byte, v ...unit.Decimal) []byte {
	for i, x := range v {
		if i > 0 {
			b = append(b, ' ')
		}
		b = x.Append(b)
	}
	return b
}

// pointList writes the points of an irregular line, with levels when all have
// one.
func (e *encoder) pointList(margin string, list []formats.Place) {
	all := true
	for i := range list {
		all = all && list[i].Levelled
	}
	tag := "PntList2D"
	if all {
		tag = "PntList3D"
	}
	e.put(margin + " <" + tag + ">")
	for i := range list {
		e.buf = e.buf[:0]
		if i > 0 {
			e.buf = append(e.buf, ' ')
		}
		e.buf = appendNumbers(e.buf, list[i].N, list[i].E)
		if all {
			e.buf = list[i].Z.Append(append(e.buf, ' '))
		}
		_, _ = e.w.Write(e.buf)
	}
	e.put("</" + tag + ">\n")
}

// profiles writes profiles; neighbours of one group stand together.
func (e *encoder) profiles(a *formats.Alignment) {
	for i := range a.Profiles {
		p := &a.Profiles[i]
		if i == 0 || a.Profiles[i-1].Group != p.Group {
			e.put("   <Profile")
			e.attr("name", p.Group)
			e.put(">\n")
		}
		e.profile(a, p)
		if i == len(a.Profiles)-1 || a.Profiles[i+1].Group != p.Group {
			e.put("   </Profile>\n")
		}
	}
}

func (e *encoder) profile(a *formats.Alignment, p *formats.Profile) {
	tag := map[string]string{"design": "ProfAlign", "surface": "ProfSurf"}[p.Kind]
	switch {
	case tag == "":
		e.fail("the profile %q of the alignment %q is of the kind %q; design and surface are known", p.Name, a.Name, p.Kind)
	case p.Kind == "surface" && len(p.PVIs) == 0:
		e.fail("the profile %q of the alignment %q has no points; LandXML wants some: leave it out", p.Name, a.Name)
	}
	e.put("    <" + tag)
	e.must("name", p.Name)
	e.described(p.Desc, p.State)
	e.put(">\n")
	if p.Kind == "surface" {
		for i := range p.PVIs {
			v := &p.PVIs[i]
			e.pair("     ", v.Station, v.Elev, i == 0, v.Gap, i == len(p.PVIs)-1)
		}
	} else {
		for i := range p.PVIs {
			e.pvi(a, p, &p.PVIs[i])
		}
	}
	e.put("    </" + tag + ">\n")
}

// pair writes two numbers of a PntList2D, which begins anew at a gap.
func (e *encoder) pair(margin string, x, y unit.Decimal, first, gap, last bool) {
	const open, end = "<PntList2D>", "</PntList2D>\n"
	e.buf = e.buf[:0]
	switch {
	case first:
		e.buf = append(append(e.buf, margin...), open...)
	case gap:
		e.buf = append(append(append(e.buf, end...), margin...), open...)
	default:
		e.buf = append(e.buf, ' ')
	}
	e.buf = appendNumbers(e.buf, x, y)
	if last {
		e.buf = append(e.buf, end...)
	}
	_, _ = e.w.Write(e.buf)
}

func (e *encoder) pvi(a *formats.Alignment, p *formats.Profile, v *formats.PVI) {
	need := func(name string, r formats.Reading) {
		if !r.Set {
			e.fail("the vertical curve at %s in the profile %q of the alignment %q has no %s; LandXML wants one: complete it first", v.Station, p.Name, a.Name, name)
		}
		e.reading(name, r)
	}
	tag := ""
	for t, kind := range curveKinds {
		if kind == v.Curve {
			tag = t
		}
	}
	if tag == "" {
		e.fail("the profile %q of the alignment %q has a vertical curve of the kind %q; parabola, asymmetric and circular are known", p.Name, a.Name, v.Curve)
		return
	}
	e.put("     <" + tag)
	switch v.Curve {
	case "parabola":
		need("length", v.Length)
	case "asymmetric":
		need("lengthIn", v.In)
		need("lengthOut", v.Out)
	case "circular":
		need("length", v.Length)
		need("radius", v.Radius)
	}
	e.attr("desc", v.Desc)
	e.put(">" + v.Station.String() + " " + v.Elev.String() + "</" + tag + ">\n")
}

// sections writes cross sections. Stations have to differ within a group, so
// that one that comes again begins another.
func (e *encoder) sections(a *formats.Alignment) {
	var seen map[unit.Decimal]bool
	group := ""
	for i := range a.Sections {
		s := &a.Sections[i]
		key := shortest(s.Station)
		if seen != nil && (seen[key] || s.Group != group) {
			e.put("   </CrossSects>\n")
			seen = nil
		}
		if seen == nil {
			e.put("   <CrossSects")
			e.attr("name", s.Group)
			e.put(">\n")
			seen, group = map[unit.Decimal]bool{}, s.Group
		}
		seen[key] = true
		e.section(a, s)
	}
	if seen != nil {
		e.put("   </CrossSects>\n")
	}
}

// shortest is a number without zeros at its end.
func shortest(v unit.Decimal) unit.Decimal {
	for v.Places > 0 && v.Coef%10 == 0 {
		v.Coef, v.Places = v.Coef/10, v.Places-1
	}
	return v
}

func (e *encoder) section(a *formats.Alignment, s *formats.CrossSection) {
	if s.Skewed {
		e.fail("the cross section at %s of the alignment %q is not square to it, by an angle that was not read; leave the cross sections out", s.Station, a.Name)
	}
	e.put("    <CrossSect")
	e.must("sta", s.Station.String())
	e.attr("name", s.Name)
	e.attr("desc", s.Desc)
	e.put(">\n")
	for _, kind := range []string{"surface", "design"} {
		for i := range s.Surfaces {
			if l := &s.Surfaces[i]; l.Kind == kind {
				e.line(a, s, l)
			}
		}
	}
	e.put("    </CrossSect>\n")
}

func (e *encoder) line(a *formats.Alignment, s *formats.CrossSection, l *formats.SectionSurface) {
	if l.Kind == "surface" {
		if len(l.Points) == 0 {
			e.fail("the cross section at %s of the alignment %q has no points on %q; LandXML wants some: leave it out", s.Station, a.Name, l.Name)
		}
		e.put("     <CrossSectSurf")
		e.must("name", l.Name)
		e.described(l.Desc, l.State)
		e.put(">\n")
		for i := range l.Points {
			p := &l.Points[i]
			e.pair("      ", p.Offset, p.Level, i == 0, p.Gap, i == len(l.Points)-1)
		}
		e.put("     </CrossSectSurf>\n")
		return
	}
	e.put("     <DesignCrossSectSurf")
	e.attr("name", l.Name)
	e.described(l.Desc, l.State)
	e.attr("side", l.Side)
	e.attr("material", l.Material)
	if l.Closed {
		e.must("closedArea", "true")
	}
	e.reading("typicalThickness", l.Thickness)
	e.reading("typicalWidth", l.Width)
	e.put(">\n")
	for i := range l.Points {
		p := &l.Points[i]
		e.put("      <CrossSectPnt")
		e.attr("name", p.Name)
		e.attr("code", p.Code)
		e.attr("desc", p.Desc)
		if p.Sloped {
			e.must("dataFormat", "Slope Distance")
		}
		e.put(">" + p.Offset.String() + " " + p.Level.String() + "</CrossSectPnt>\n")
	}
	e.put("     </DesignCrossSectSurf>\n")
}
