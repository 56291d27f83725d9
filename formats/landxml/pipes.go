package landxml

import (
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// networkReader reads one PipeNetwork.
type networkReader struct {
	n       formats.Network
	depth   int
	structs *statedUnits       // of its own, for all structures
	pipes   *statedUnits       // of its own, for all pipes
	struc   *formats.Structure // the one that is being read, in read.struc; nil: none
	pipe    *formats.Pipe
	refs    []centerRef

	// as they are read, for n
	strucs pile[formats.Structure]
	lines  pile[formats.Pipe]
	read   struct {
		struc formats.Structure
		pipe  formats.Pipe
	}
}

// centerRef is a structure whose place is that of a named point.
type centerRef struct {
	structure int
	ref       string
}

// structKinds and pipeShapes are the words for the elements that say what a
// structure or pipe is.
var structKinds = map[string]string{"CircStruct": "circular", "RectStruct": "rectangular", "InletStruct": "inlet", "OutletStruct": "outlet", "Connection": "connection"}
var pipeShapes = map[string]string{"CircPipe": "circular", "EggPipe": "egg", "ElliPipe": "elliptical", "RectPipe": "rectangular", "Channel": "channel"}

func (d *decoder) networkBegin(a attrs) {
	d.net = &networkReader{n: formats.Network{Name: a.text("name"), Type: a.text("pipeNetType"), Pos: d.here()}, depth: len(d.path)}
}

func (d *decoder) networkStart(name string, a attrs) {
	r := d.net
	switch name {
	case "Metric", "Imperial":
		d.networkUnits(name, a)
	case "Struct":
		r.read.struc = formats.Structure{Name: a.text("name"), Pos: d.here(), Desc: a.text("desc"), Rim: d.reading(a, "elevRim"), Sump: d.reading(a, "elevSump")}
		r.struc = &r.read.struc
	case "Pipe":
		r.read.pipe = formats.Pipe{Name: a.text("name"), Pos: d.here(), Start: a.text("refStart"), End: a.text("refEnd"), Desc: a.text("desc"),
			Slope: d.reading(a, "slope"), Length: d.reading(a, "length")}
		r.pipe = &r.read.pipe
	}
	switch {
	case d.parent(1) == "Struct" && r.struc != nil:
		d.partOfStruct(name, a)
	case d.parent(1) == "Pipe" && r.pipe != nil && pipeShapes[name] != "":
		d.shapeOfPipe(name, a)
	case d.parent(1) == "Pipe" && r.pipe != nil && name == "Center":
		if a.raw("pntRef") != nil {
			d.refuse("pipe "+r.pipe.Name, "the centre of its arc is that of another point (pntRef), which is not read there; export it with coordinates")
		}
		d.collect()
	}
}

func (d *decoder) networkUnits(name string, a attrs) {
	if d.parent(1) != "Units" {
		return
	}
	own := d.statedUnits(name, a)
	to := &d.net.structs
	switch d.parent(2) {
	case "Structs":
	case "Pipes":
		to = &d.net.pipes
	default:
		return
	}
	if *to != nil && !own.agrees(*to) {
		d.refuse("Units", "the network %q states the units of its %s twice and not alike; which holds cannot be told", d.net.n.Name, strings.ToLower(d.parent(2)))
	}
	*to = &own
}

func (d *decoder) partOfStruct(name string, a attrs) {
	s := d.net.struc
	if kind := structKinds[name]; kind != "" {
		s.Kind = kind
	}
	switch name {
	case "Center":
		if ref := a.text("pntRef"); ref != "" {
			d.net.refs = append(d.net.refs, centerRef{d.net.strucs.len(), ref})
		}
		d.collect()
	case "CircStruct":
		s.Diameter = d.reading(a, "diameter")
	case "RectStruct":
		s.Length, s.Width = d.reading(a, "length"), d.reading(a, "width")
	case "Invert":
		flow := strings.ToLower(strings.TrimSpace(a.text("flowDir")))
		if flow != "in" && flow != "out" && flow != "both" && flow != "" {
			d.note(d.here(), "flowDir", "%q is none of in, out and both, and is not used", a.text("flowDir"))
			flow = ""
		}
		s.Inverts = append(s.Inverts, formats.Invert{Pos: d.here(), Elev: d.reading(a, "elev"), Flow: flow, Pipe: a.text("refPipe")})
	}
}

func (d *decoder) shapeOfPipe(name string, a attrs) {
	p := d.net.pipe
	p.Shape, p.Material, p.Wall = pipeShapes[name], a.text("material"), d.reading(a, "thickness")
	switch name {
	case "CircPipe":
		p.Bore = d.reading(a, "diameter")
	case "RectPipe":
		p.Bore, p.Width = d.reading(a, "height"), d.reading(a, "width")
	case "Channel":
		p.Bore, p.Width, p.Bottom = d.reading(a, "height"), d.reading(a, "widthTop"), d.reading(a, "widthBottom")
	default:
		p.Bore, p.Width = d.reading(a, "height"), d.reading(a, "span")
	}
}

func (d *decoder) networkEnd(name string) {
	r := d.net
	switch {
	case name == "Center" && d.gathering():
		d.center(d.collected())
	case name == "Struct" && r.struc != nil:
		r.strucs.add(*r.struc)
		r.struc = nil
	case name == "Pipe" && r.pipe != nil:
		r.lines.add(*r.pipe)
		r.pipe = nil
	case name == "PipeNetwork" && len(d.path) == r.depth:
		r.n.Structures, r.n.Pipes = r.strucs.join(), r.lines.join()
		d.nets = append(d.nets, r)
		d.net = nil
	}
}

func (d *decoder) center(text []byte) {
	s := d.net.struc
	if s == nil {
		if d.net.pipe != nil {
			d.placeIn("pipe "+d.net.pipe.Name, &d.net.pipe.Centre, "<Center>", text)
		}
		return
	}
	v, n, bad := d.coordinates(text)
	at := d.pos.At(d.textRow, d.textCol)
	switch {
	case bad != nil:
		d.refuseAt(at, "structure "+s.Name, "%s is not a coordinate", shorten(bad))
	case n == 1 || n > 3:
		d.refuseAt(at, "structure "+s.Name, "%s where northing and easting are wanted", numbersOf(n))
	case n >= 2:
		s.N, s.E, s.Placed = v[0], v[1], true
	}
}

// finishCenters finds the places of structures that stand on a named point.
func (d *decoder) finishCenters() {
	var names map[string][]int
	for i, r := range d.nets {
		for _, ref := range r.refs {
			if ref.structure >= len(r.n.Structures) || r.n.Structures[ref.structure].Placed {
				continue // its own coordinates hold
			}
			if names == nil {
				names = d.pointNames()
			}
			s := &d.doc.Networks[i].Structures[ref.structure]
			o, why := d.named(names, ref.ref, 0)
			if o == nil {
				d.refuseAt(s.Pos, "structure "+s.Name, "%s", why)
				continue
			}
			s.E, s.N, s.Placed = o.p.E, o.p.N, true
		}
	}
}

// finishNetworks gives sizes their unit: that of the network, of the file, or
// the declared one; else none, and no size is used.
func (d *decoder) finishNetworks() {
	for _, r := range d.nets {
		n := &r.n
		d.ownUnits(r, r.structs)
		d.ownUnits(r, r.pipes)
		bare, declared, walls, open, curved := 0, 0, 0, 0, 0
		for i := range n.Structures {
			s := &n.Structures[i]
			kind := ""
			switch {
			case s.Diameter.Set:
				kind = "diameter"
			case s.Length.Set || s.Width.Set:
				kind = "width"
			}
			s.DimUnit = d.sizeUnit(r.structs, s.Pos, "structure "+s.Name, kind, "", &bare, &declared)
			for _, in := range s.Inverts {
				if !in.Elev.Set {
					open++
				}
			}
		}
		for i := range n.Pipes {
			p := &n.Pipes[i]
			first, second := "height", "width"
			switch {
			case !p.Bore.Set && !p.Wall.Set && !p.Width.Set:
				first, second = "", ""
			case p.Shape == "circular":
				first, second = "diameter", ""
			}
			p.DimUnit = d.sizeUnit(r.pipes, p.Pos, "pipe "+p.Name, first, second, &bare, &declared)
			if p.Wall.Set && p.DimUnit.Known() {
				walls++
			}
			if p.Centre.Placed {
				curved++
			}
		}
		at := n.Pos
		field := "network " + n.Name
		if declared > 0 {
			d.note(at, field, "pipes and structures whose sizes have no unit in the file, taken as %s, as declared: %d", d.opt.DimUnit.Name, declared)
		}
		if bare > 0 {
			d.note(at, field, "pipes and structures whose sizes have no unit (no diameterUnit, heightUnit or widthUnit in Units): %d; their sizes are not used until the unit is declared (pipeSizeUnit in the job file)", bare)
		}
		if walls > 0 {
			d.note(at, field, "LandXML does not say the unit of wall thickness; it is taken to be that of the size of the pipe: %d", walls)
		}
		if curved > 0 {
			d.note(at, field, "pipes that are curved in plan (Center), longer than from structure to structure: %d", curved)
		}
		if open > 0 {
			d.note(at, field, "inverts without a level, which are unknown: %d", open)
		}
		d.doc.Networks = append(d.doc.Networks, *n)
	}
}

// ownUnits refuses bad units of a network's own, and a network whose levels and
// places would be in another unit than those of the file.
func (d *decoder) ownUnits(r *networkReader, own *statedUnits) {
	if own == nil {
		return
	}
	d.unit(own, "diameterUnit", own.diameter)
	d.unit(own, "heightUnit", own.height)
	d.unit(own, "widthUnit", own.width)
	if !d.doc.Units.Linear.Known() {
		return
	}
	if u, ok := d.unit(own, "linearUnit", own.linear); ok && u != d.doc.Units.Linear {
		d.refuseAt(own.pos, "Units", "the network %q has units of its own with lengths in %s, where the file has %s; such a mix is not read", r.n.Name, u.Name, d.doc.Units.Linear.Name)
	}
}

// sizeUnit is the unit of the sizes of one pipe or structure, by the kind of
// its sizes: diameter, height or width. The zero Unit is "not said".
func (d *decoder) sizeUnit(own *statedUnits, at formats.Pos, field, first, second string, bare, declared *int) unit.Unit {
	if first == "" {
		return unit.Unit{}
	}
	if own == nil && len(d.units) > 0 {
		own = &d.units[0]
	}
	stated := func(kind string) unit.Unit {
		if own == nil {
			return unit.Unit{}
		}
		name := ""
		switch kind {
		case "diameter":
			name = own.diameter
		case "height":
			name = own.height
		case "width":
			name = own.width
		}
		u, _ := unitOf(name)
		return u
	}
	u, o := stated(first), stated(second)
	switch {
	case u.Known() && o.Known() && u != o:
		d.refuseAt(at, field, "its %s is in %s and its %s in %s; a pipe with sizes in two units is not read", first, u.Name, second, o.Name)
		return unit.Unit{}
	}
	switch {
	case u.Known() && d.opt.DimUnit.Known() && u != d.opt.DimUnit:
		d.refuseAt(at, field, "the file says that its size is in %s, and %s is declared for sizes; one of them is wrong", u.Name, d.opt.DimUnit.Name)
	case u.Known():
	case d.opt.DimUnit.Known():
		*declared++
		u = d.opt.DimUnit
	default:
		*bare++
	}
	return u
}
