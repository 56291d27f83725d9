package landxml

import (
	"sightrail/formats"
	"sightrail/formats/unit"
)

func (d *decoder) profileBegin(name string, a attrs) {
	r := d.align
	r.profile = &formats.Profile{Name: a.text("name"), Desc: a.text("desc"), State: d.state(a), Group: r.group, Kind: "design", Pos: d.here()}
	if name == "ProfSurf" {
		r.profile.Kind = "surface"
	}
}

// curveKinds are the words for the elements of a designed profile.
var curveKinds = map[string]string{"PVI": "", "ParaCurve": "parabola", "UnsymParaCurve": "asymmetric", "CircCurve": "circular"}

func (d *decoder) partOfProfile(name string, a attrs) {
	r := d.align
	curve, known := curveKinds[name]
	switch {
	case r.profile.Kind == "design" && known:
		r.pvi = formats.PVI{Row: d.row, Col: d.at, Curve: curve, Desc: a.text("desc")}
		p := &r.pvi
		given := func(key string) formats.Reading {
			v := d.required(a, key)
			return formats.Reading{Set: true, Value: v, Col: d.at}
		}
		switch curve {
		case "parabola":
			p.Length = given("length")
		case "asymmetric":
			p.In, p.Out = given("lengthIn"), given("lengthOut")
		case "circular":
			p.Length, p.Radius = d.reading(a, "length"), given("radius")
		}
		d.collect()
	case r.profile.Kind == "surface" && name == "PntList2D":
		d.collect()
	case name != "Feature":
		r.unread.add(name)
	}
}

func (d *decoder) pviEnd(text []byte) {
	r := d.align
	v, n, bad := d.coordinates(text)
	at := d.pos.At(d.textRow, d.textCol)
	switch {
	case bad != nil:
		d.refuseAt(at, r.field(), "profile %q: %s is not a station or level", r.profile.Name, shorten(bad))
	case n != 2:
		d.refuseAt(at, r.field(), "profile %q: a point has %s where station and level are wanted", r.profile.Name, numbersOf(n))
	case d.another():
		r.pvi.Station, r.pvi.Elev = v[0], v[1]
		r.profile.PVIs = append(r.profile.PVIs, r.pvi)
	}
}

func (d *decoder) pointsOfProfile(text []byte) {
	r := d.align
	from := len(r.profile.PVIs)
	why, at := d.numbers(text, 2, func(v [3]unit.Decimal, row int) {
		if n := len(r.profile.PVIs); d.another() {
			r.profile.PVIs = append(r.profile.PVIs, formats.PVI{Row: row, Station: v[0], Elev: v[1], Gap: n == from && n > 0})
		}
	})
	if why != "" {
		d.refuseAt(at, r.field(), "profile %q: %s", r.profile.Name, why)
	}
}

func (d *decoder) sectionBegin(a attrs) {
	r := d.align
	r.section = &formats.CrossSection{Name: a.text("name"), Desc: a.text("desc"), Group: r.group, Pos: d.here(), Station: d.required(a, "sta")}
	if skew := d.reading(a, "angleSkew"); skew.Set && skew.Value.Coef != 0 {
		r.section.Skewed = true
		r.skewed++
	}
}

func (d *decoder) lineBegin(name string, a attrs) {
	r := d.align
	switch name {
	case "CrossSectSurf", "DesignCrossSectSurf":
	case "Feature":
		return
	default:
		r.unread.add(name)
		return
	}
	r.line = &formats.SectionSurface{Name: a.text("name"), Desc: a.text("desc"), State: d.state(a), Kind: "surface", Pos: d.here()}
	if l := r.line; name == "DesignCrossSectSurf" {
		l.Kind, l.Side, l.Material = "design", d.choice(a, "side", "left", "right", "both"), a.text("material")
		l.Closed, l.Thickness, l.Width = d.yes(a, "closedArea"), d.reading(a, "typicalThickness"), d.reading(a, "typicalWidth")
	}
}

func (d *decoder) partOfLine(name string, a attrs) {
	r := d.align
	switch {
	case r.line.Kind == "surface" && name == "PntList2D":
		d.collect()
	case r.line.Kind == "design" && name == "CrossSectPnt":
		if a.raw("pntRef") != nil {
			d.refuse(r.field(), "a point of a cross section takes its place from another point (pntRef), which is not read there; export it with offset and level")
		}
		r.pnt = formats.SectionPoint{Row: d.row, Col: d.at, Name: a.text("name"), Code: a.text("code"), Desc: a.text("desc"),
			Sloped: d.choice(a, "dataFormat", "Offset Elevation", "Slope Distance") == "Slope Distance"}
		if r.pnt.Sloped {
			r.sloped++
		}
		d.collect()
	case name != "Feature":
		r.unread.add(name)
	}
}

func (d *decoder) sectionPoint(text []byte) {
	r := d.align
	v, n, bad := d.coordinates(text)
	at := d.pos.At(d.textRow, d.textCol)
	switch {
	case bad != nil:
		d.refuseAt(at, r.field(), "cross section at %s: %s is not an offset or level", r.section.Station, shorten(bad))
	case n != 2:
		d.refuseAt(at, r.field(), "cross section at %s: a point has %s where offset and level are wanted", r.section.Station, numbersOf(n))
	case d.another():
		r.pnt.Offset, r.pnt.Level = v[0], v[1]
		r.line.Points = append(r.line.Points, r.pnt)
	}
}

func (d *decoder) pointsOfSection(text []byte) {
	r := d.align
	from := len(r.line.Points)
	why, at := d.numbers(text, 2, func(v [3]unit.Decimal, row int) {
		if n := len(r.line.Points); d.another() {
			r.line.Points = append(r.line.Points, formats.SectionPoint{Row: row, Offset: v[0], Level: v[1], Gap: n == from && n > 0})
		}
	})
	if why != "" {
		d.refuseAt(at, r.field(), "cross section at %s: %s", r.section.Station, why)
	}
}
