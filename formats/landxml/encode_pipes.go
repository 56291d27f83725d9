package landxml

import (
	"fmt"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// units writes the Units element, with the units of sizes as far as the
// networks have any.
func (e *encoder) units(d *formats.Document, u unit.Unit) {
	sizes, err := sizeUnits(d)
	if err != nil {
		e.fail("%v", err)
		return
	}
	system, rest := "Metric", `areaUnit="squareMeter" volumeUnit="cubicMeter" temperatureUnit="celsius" pressureUnit="HPA"`
	if !metric(u) {
		system, rest = "Imperial", `areaUnit="squareFoot" volumeUnit="cubicFeet" temperatureUnit="fahrenheit" pressureUnit="inHG"`
	}
	e.put(" <Units>\n  <" + system + " " + rest)
	e.must("linearUnit", elementOf[u.Name])
	for i, key := range []string{"diameterUnit", "heightUnit", "widthUnit"} {
		x := sizes[i]
		if !x.Known() {
			continue
		}
		if metric(x) != metric(u) || x == unit.Mile {
			e.fail("pipe sizes in %s cannot stand beside lengths in %s in LandXML, which keeps metric and imperial units apart", x.Name, u.Name)
		}
		e.must(key, elementOf[x.Name])
	}
	e.put("/>\n </Units>\n")
}

// sizeUnits are the units of diameters, heights and widths. A file holds one of
// each, so that all sizes of one kind must have the same, or none.
func sizeUnits(d *formats.Document) (units [3]unit.Unit, err error) {
	const diameter, height, width = 0, 1, 2
	var used [3]bool
	add := func(kind int, r formats.Reading, u unit.Unit, what, name string) {
		switch {
		case !r.Set || err != nil:
		case !used[kind]:
			units[kind], used[kind] = u, true
		case units[kind] != u:
			err = fmt.Errorf("%s %q has its size in %s, and others have theirs in %s; LandXML holds one unit of sizes: bring them to one unit first", what, name, unitWord(u), unitWord(units[kind]))
		}
	}
	for i := range d.Networks {
		n := &d.Networks[i]
		for k := range n.Structures {
			s := &n.Structures[k]
			add(diameter, s.Diameter, s.DimUnit, "structure", s.Name)
			add(width, s.Length, s.DimUnit, "structure", s.Name)
			add(width, s.Width, s.DimUnit, "structure", s.Name)
		}
		for k := range n.Pipes {
			p := &n.Pipes[k]
			if p.Shape == "circular" {
				add(diameter, p.Bore, p.DimUnit, "pipe", p.Name)
				continue
			}
			add(height, p.Bore, p.DimUnit, "pipe", p.Name)
			add(width, p.Width, p.DimUnit, "pipe", p.Name)
		}
	}
	if !used[diameter] {
		units[diameter] = d.Units.Diameter
	}
	return units, err
}

func unitWord(u unit.Unit) string {
	if u.Known() {
		return u.Name
	}
	return "an unknown unit"
}

var networkTypes = map[string]bool{"sanitary": true, "storm": true, "water": true, "other": true}

// network writes a network. One that does not say its type is "other".
func (e *encoder) network(n *formats.Network) {
	kind := n.Type
	if kind == "" {
		kind = "other"
	}
	switch {
	case len(n.Structures) < 2 || len(n.Pipes) < 1:
		e.fail("the network %q has %d structures and %d pipes; LandXML wants two structures and a pipe at least", n.Name, len(n.Structures), len(n.Pipes))
	case !networkTypes[kind]:
		e.fail("the network %q is of the type %q; LandXML knows sanitary, storm, water and other", n.Name, n.Type)
	}
	if e.err != nil {
		return
	}
	e.put("  <PipeNetwork")
	e.must("name", n.Name)
	e.attr("pipeNetType", kind)
	e.put(">\n   <Structs>\n")
	for i := range n.Structures {
		e.structure(n, &n.Structures[i])
	}
	e.put("   </Structs>\n   <Pipes>\n")
	for i := range n.Pipes {
		e.pipe(n, &n.Pipes[i])
	}
	e.put("   </Pipes>\n  </PipeNetwork>\n")
}

func (e *encoder) structure(n *formats.Network, s *formats.Structure) {
	e.put("    <Struct")
	e.must("name", s.Name)
	e.attr("desc", s.Desc)
	e.reading("elevRim", s.Rim)
	e.reading("elevSump", s.Sump)
	e.put(">\n     <Center>")
	if s.Placed {
		e.put(s.N.String() + " " + s.E.String())
	}
	e.put("</Center>\n     <")
	missing := func(what string) {
		e.fail("structure %q of the network %q has %s; LandXML wants one: complete it first", s.Name, n.Name, what)
	}
	switch s.Kind {
	case "circular":
		if !s.Diameter.Set {
			missing("no diameter")
		}
		e.put("CircStruct")
		e.reading("diameter", s.Diameter)
	case "rectangular":
		if !s.Length.Set || !s.Width.Set {
			missing("no length or no width")
		}
		e.put("RectStruct")
		e.reading("length", s.Length)
		e.reading("width", s.Width)
	case "inlet":
		e.put("InletStruct")
	case "outlet":
		e.put("OutletStruct")
	case "connection":
		e.put("Connection")
	default:
		missing("no kind (circular, rectangular, inlet, outlet, connection)")
	}
	e.put("/>\n")
	if len(s.Inverts) == 0 {
		missing("no invert")
	}
	for i := range s.Inverts {
		v := &s.Inverts[i]
		if !v.Elev.Set {
			missing("an invert without a level")
		}
		if v.Flow == "" {
			missing("an invert without a direction of flow (in, out or both)")
		}
		e.put("     <Invert")
		e.reading("elev", v.Elev)
		e.attr("flowDir", v.Flow)
		e.must("refPipe", v.Pipe)
		e.put("/>\n")
	}
	e.put("    </Struct>\n")
}

// shapeElements are the elements of the shapes of pipes, with the attributes of
// height and width.
var shapeElements = map[string][4]string{
	"circular": {"CircPipe", "diameter"}, "egg": {"EggPipe", "height", "span"}, "elliptical": {"ElliPipe", "height", "span"},
	"rectangular": {"RectPipe", "height", "width"}, "channel": {"Channel", "height", "widthTop", "widthBottom"},
}

func (e *encoder) pipe(n *formats.Network, p *formats.Pipe) {
	e.put("    <Pipe")
	e.must("name", p.Name)
	e.must("refStart", p.Start)
	e.must("refEnd", p.End)
	e.attr("desc", p.Desc)
	e.reading("slope", p.Slope)
	e.reading("length", p.Length)
	e.put(">\n     <")
	shape, ok := shapeElements[p.Shape]
	if !ok {
		e.fail("pipe %q of the network %q does not say its shape; LandXML wants one: complete it first", p.Name, n.Name)
		return
	}
	e.put(shape[0])
	for i, r := range []formats.Reading{p.Bore, p.Width, p.Bottom} {
		switch key := shape[i+1]; {
		case key == "":
		case !r.Set:
			e.fail("pipe %q of the network %q has no %s; LandXML wants one: complete it first", p.Name, n.Name, key)
		default:
			e.reading(key, r)
		}
	}
	e.reading("thickness", p.Wall)
	e.attr("material", p.Material)
	e.put("/>\n")
	if p.Centre.Placed {
		e.place("    ", "Center", &p.Centre)
	}
	e.put("    </Pipe>\n")
}
