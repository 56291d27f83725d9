package landxml

import (
	"reflect"

	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// unplaced is a copy without places in the file, and without lists that are
// empty.
func unplaced[T any](v T) T { return strip(reflect.ValueOf(v)).Interface().(T) }

func strip(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			switch v.Type().Field(i).Name {
			case "Pos", "Row", "Col":
			default:
				out.Field(i).Set(strip(v.Field(i)))
			}
		}
	case reflect.Slice:
		if v.Len() > 0 {
			out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		}
		for i := range v.Len() {
			out.Index(i).Set(strip(v.Index(i)))
		}
	default:
		out.Set(v)
	}
	return out
}

var (
	anyState = rapid.SampledFrom([]string{"", "abandoned", "destroyed", "existing", "proposed"})
	anyTurn  = rapid.SampledFrom([]string{"cw", "ccw"})
	anyPlace = rapid.Custom(func(t *rapid.T) (p formats.Place) {
		if p.Placed = rapid.IntRange(0, 7).Draw(t, "placed") > 0; p.Placed {
			p.E, p.N = decimal.Draw(t, "E"), decimal.Draw(t, "N")
			if p.Levelled = rapid.Bool().Draw(t, "levelled"); p.Levelled {
				p.Z = decimal.Draw(t, "Z")
			}
		}
		return p
	})
	anyRadius = rapid.Custom(func(t *rapid.T) formats.Radius {
		v := decimal.Draw(t, "radius")
		if v.Coef == 0 || rapid.Bool().Draw(t, "infinite") {
			return formats.Radius{Set: true, Infinite: true}
		}
		return formats.Radius{Set: true, Value: v}
	})
)

func anyCurve(t *rapid.T) formats.AlignmentElement {
	return formats.AlignmentElement{Kind: "curve", Name: anyName.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), Start: anyPlace.Draw(t, "start"), End: anyPlace.Draw(t, "end"),
		Centre: anyPlace.Draw(t, "centre"), PI: anyPlace.Draw(t, "PI"), Station: maybe.Draw(t, "station"), Length: maybe.Draw(t, "length"), Radius: maybe.Draw(t, "radius"),
		Rotation: anyTurn.Draw(t, "rot"), CurveType: rapid.SampledFrom([]string{"", "arc", "chord"}).Draw(t, "type")}
}

func anySpiral(t *rapid.T) formats.AlignmentElement {
	return formats.AlignmentElement{Kind: "spiral", Name: anyName.Draw(t, "name"), Start: anyPlace.Draw(t, "start"), End: anyPlace.Draw(t, "end"), PI: anyPlace.Draw(t, "PI"),
		Station: maybe.Draw(t, "station"), Length: reading.Draw(t, "length"), Rotation: anyTurn.Draw(t, "rot"), SpiralType: rapid.SampledFrom(spiralTypes).Draw(t, "type"),
		RadiusStart: anyRadius.Draw(t, "from"), RadiusEnd: anyRadius.Draw(t, "to")}
}

func anyElement(t *rapid.T, points []formats.Point) formats.AlignmentElement {
	switch kind := rapid.SampledFrom([]string{"line", "curve", "spiral", "irregular line", "chain"}).Draw(t, "kind"); kind {
	case "curve":
		return anyCurve(t)
	case "spiral":
		return anySpiral(t)
	case "irregular line":
		e := formats.AlignmentElement{Kind: kind, Start: anyPlace.Draw(t, "start"), End: anyPlace.Draw(t, "end"), Length: maybe.Draw(t, "length")}
		levelled := rapid.Bool().Draw(t, "levelled")
		for range rapid.IntRange(1, 4).Draw(t, "points") {
			p := formats.Place{E: decimal.Draw(t, "E"), N: decimal.Draw(t, "N"), Placed: true, Levelled: levelled}
			if levelled {
				p.Z = decimal.Draw(t, "Z")
			}
			e.Points = append(e.Points, p)
		}
		return e
	case "chain":
		e := formats.AlignmentElement{Kind: kind, Name: anyName.Draw(t, "name")}
		for i := range points {
			p := &points[i]
			if word, rest := nextWord([]byte(p.ID)); !p.Placed || len(rest) > 0 || len(word) != len(p.ID) || len(word) == 0 || twice(points, p.ID) {
				continue
			}
			e.Names = append(e.Names, p.ID)
			e.Points = append(e.Points, formats.Place{E: p.E, N: p.N, Z: p.Z, Placed: true, Levelled: p.Levelled})
		}
		if n := len(e.Points); n > 0 {
			e.Start, e.End = e.Points[0], e.Points[n-1]
		}
		return e
	}
	return formats.AlignmentElement{Kind: "line", Name: anyName.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), Start: anyPlace.Draw(t, "start"), End: anyPlace.Draw(t, "end"),
		Station: maybe.Draw(t, "station"), Length: maybe.Draw(t, "length")}
}

// twice reports whether a name stands in the list more than once.
func twice(points []formats.Point, name string) bool {
	n := 0
	for i := range points {
		if points[i].ID == name {
			n++
		}
	}
	return n > 1
}

func anyAlignment(t *rapid.T, points []formats.Point) formats.Alignment {
	a := formats.Alignment{Name: anyName.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), State: anyState.Draw(t, "state"), StaStart: decimal.Draw(t, "begin"), Stationed: true,
		Length: decimal.Draw(t, "length"), Measured: true}
	for range rapid.IntRange(0, 4).Draw(t, "elements") {
		a.Elements = append(a.Elements, anyElement(t, points))
	}
	if rapid.Bool().Draw(t, "by intersections") {
		for range rapid.IntRange(2, 4).Draw(t, "PIs") {
			a.PIs = append(a.PIs, anyPI(t))
		}
	}
	for range rapid.IntRange(0, 3).Draw(t, "equations") {
		a.Equations = append(a.Equations, formats.StationEquation{Internal: decimal.Draw(t, "internal"), Back: maybe.Draw(t, "back"), Ahead: decimal.Draw(t, "ahead"),
			Increment: rapid.SampledFrom([]string{"", "increasing", "decreasing"}).Draw(t, "increment"), Desc: anyText.Draw(t, "desc")})
	}
	for range rapid.IntRange(0, 3).Draw(t, "profiles") {
		a.Profiles = append(a.Profiles, anyProfile(t))
	}
	for range rapid.IntRange(0, 3).Draw(t, "sections") {
		a.Sections = append(a.Sections, anySection(t))
	}
	return a
}

func anyPI(t *rapid.T) formats.AlignmentPI {
	p := formats.AlignmentPI{Name: anyName.Draw(t, "name"), Code: anyText.Draw(t, "code"), Desc: anyText.Draw(t, "desc"), Place: anyPlace.Draw(t, "place"), Station: maybe.Draw(t, "station")}
	for _, tag := range partOrder {
		if rapid.Bool().Draw(t, tag) {
			c := formats.PICurve{Part: piParts[tag], AlignmentElement: anyCurve(t)}
			if tag != "Curve1" && tag != "Curve2" {
				c.AlignmentElement = anySpiral(t)
			}
			p.Curves = append(p.Curves, c)
		}
	}
	return p
}

func anyProfile(t *rapid.T) formats.Profile {
	p := formats.Profile{Name: anyText.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), State: anyState.Draw(t, "state"), Group: rapid.SampledFrom([]string{"", "A", "B"}).Draw(t, "group"),
		Kind: rapid.SampledFrom([]string{"design", "surface"}).Draw(t, "kind")}
	for i := range rapid.IntRange(1, 5).Draw(t, "points") {
		v := formats.PVI{Station: decimal.Draw(t, "station"), Elev: decimal.Draw(t, "level")}
		if p.Kind == "surface" {
			v.Gap = i > 0 && rapid.Bool().Draw(t, "gap")
			p.PVIs = append(p.PVIs, v)
			continue
		}
		v.Desc = anyText.Draw(t, "desc")
		switch v.Curve = rapid.SampledFrom([]string{"", "parabola", "asymmetric", "circular"}).Draw(t, "curve"); v.Curve {
		case "parabola":
			v.Length = reading.Draw(t, "length")
		case "asymmetric":
			v.In, v.Out = reading.Draw(t, "in"), reading.Draw(t, "out")
		case "circular":
			v.Length, v.Radius = reading.Draw(t, "length"), reading.Draw(t, "radius")
		}
		p.PVIs = append(p.PVIs, v)
	}
	return p
}

func anySection(t *rapid.T) formats.CrossSection {
	s := formats.CrossSection{Name: anyText.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), Group: rapid.SampledFrom([]string{"", "A", "B"}).Draw(t, "group")}
	s.Station = rapid.SampledFrom([]unit.Decimal{{Coef: 1}, {Coef: 10, Places: 1}, {Coef: 12345, Places: 3}, decimal.Draw(t, "any")}).Draw(t, "station")
	for _, kind := range []string{"surface", "design"} {
		for range rapid.IntRange(0, 2).Draw(t, kind) {
			l := formats.SectionSurface{Kind: kind, Name: anyText.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), State: anyState.Draw(t, "state")}
			if kind == "design" {
				l.Side, l.Material = rapid.SampledFrom([]string{"", "left", "right", "both"}).Draw(t, "side"), anyText.Draw(t, "material")
				l.Closed, l.Thickness, l.Width = rapid.Bool().Draw(t, "closed"), maybe.Draw(t, "thickness"), maybe.Draw(t, "width")
			}
			for i := range rapid.IntRange(1, 4).Draw(t, "points") {
				p := formats.SectionPoint{Offset: decimal.Draw(t, "offset"), Level: decimal.Draw(t, "level")}
				if kind == "surface" {
					p.Gap = i > 0 && rapid.Bool().Draw(t, "gap")
				} else {
					p.Sloped, p.Name, p.Code, p.Desc = rapid.Bool().Draw(t, "sloped"), anyName.Draw(t, "name"), anyText.Draw(t, "code"), anyText.Draw(t, "desc")
				}
				l.Points = append(l.Points, p)
			}
			s.Surfaces = append(s.Surfaces, l)
		}
	}
	return s
}

func anyLines(t *rapid.T) (breaks []formats.Breakline, bounds []formats.Boundary) {
	points := func(levelled bool) (out []formats.Vertex) {
		for range rapid.IntRange(1, 4).Draw(t, "points") {
			v := formats.Vertex{E: decimal.Draw(t, "E"), N: decimal.Draw(t, "N")}
			if levelled {
				v.Z = decimal.Draw(t, "Z")
			}
			out = append(out, v)
		}
		return out
	}
	for range rapid.IntRange(0, 2).Draw(t, "breaklines") {
		b := formats.Breakline{Name: anyText.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), State: anyState.Draw(t, "state"),
			Kind: rapid.SampledFrom([]string{"", "standard", "wall", "proximity", "nondestructive"}).Draw(t, "kind"), Levelled: rapid.Bool().Draw(t, "levelled")}
		b.Points = points(b.Levelled)
		breaks = append(breaks, b)
	}
	for range rapid.IntRange(0, 2).Draw(t, "boundaries") {
		b := formats.Boundary{Name: anyText.Draw(t, "name"), Desc: anyText.Draw(t, "desc"), State: anyState.Draw(t, "state"), EdgeTrim: rapid.Bool().Draw(t, "trim"),
			Kind: rapid.SampledFrom([]string{"outer", "void", "island"}).Draw(t, "kind"), Levelled: rapid.Bool().Draw(t, "levelled")}
		b.Points = points(b.Levelled)
		bounds = append(bounds, b)
	}
	return breaks, bounds
}
