package landxml

import "sightrail/formats"

// sourceLines writes the boundaries and breaklines of a surface.
func (e *encoder) sourceLines(s *formats.Surface) {
	if len(s.Breaklines)+len(s.Boundaries) == 0 {
		return
	}
	e.put("   <SourceData>\n")
	if len(s.Boundaries) > 0 {
		e.put("    <Boundaries>\n")
		for i := range s.Boundaries {
			b := &s.Boundaries[i]
			if b.Kind == "" {
				e.fail("boundary %q of the surface %q does not say whether it is outer, void or island; LandXML wants it said: complete it first", b.Name, s.Name)
			}
			e.put("     <Boundary")
			e.attr("bndType", b.Kind)
			e.must("edgeTrim", map[bool]string{true: "true", false: "false"}[b.EdgeTrim])
			e.attr("name", b.Name)
			e.described(b.Desc, b.State)
			e.put(">")
			e.vertices(s, "boundary", b.Name, b.Points, b.Levelled)
			e.put("</Boundary>\n")
		}
		e.put("    </Boundaries>\n")
	}
	if len(s.Breaklines) > 0 {
		e.put("    <Breaklines>\n")
		for i := range s.Breaklines {
			b := &s.Breaklines[i]
			e.put("     <Breakline")
			e.attr("brkType", b.Kind)
			e.attr("name", b.Name)
			e.described(b.Desc, b.State)
			e.put(">")
			e.vertices(s, "breakline", b.Name, b.Points, b.Levelled)
			e.put("</Breakline>\n")
		}
		e.put("    </Breaklines>\n")
	}
	e.put("   </SourceData>\n")
}

func (e *encoder) vertices(s *formats.Surface, what, name string, list []formats.Vertex, levelled bool) {
	if len(list) == 0 {
		e.fail("%s %q of the surface %q has no points; LandXML wants some: leave it out", what, name, s.Name)
	}
	tag := "PntList2D"
	if levelled {
		tag = "PntList3D"
	}
	e.put("<" + tag + ">")
	for i := range list {
		v := &list[i]
		e.buf = e.buf[:0]
		if i > 0 {
			e.buf = append(e.buf, ' ')
		}
		e.buf = appendNumbers(e.buf, v.N, v.E)
		if levelled {
			e.buf = v.Z.Append(append(e.buf, ' '))
		}
		_, _ = e.w.Write(e.buf)
	}
	e.put("</" + tag + ">")
}
