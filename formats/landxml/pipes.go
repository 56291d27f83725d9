package landxml

import (
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

var structKinds = map[string]string{"CircStruct": "circular", "RectStruct": "rectangular", "InletStruct": "inlet", "OutletStruct": "outlet", "Connection": "connection"}
var pipeShapes = map[string][2]string{ // shape, attribute of the inside height
	"CircPipe": {"circular", "diameter"}, "EggPipe": {"egg", "height"}, "ElliPipe": {"elliptical", "height"},
	"RectPipe": {"rectangular", "height"}, "Channel": {"channel", "height"},
}

func (d *decoder) networkStart(name string, a attrs) {
	switch name {
	case "Metric", "Imperial":
		if d.parent(1) == "Units" && d.parent(2) == "Pipes" {
			if u, ok := unitOf(a.text("diameterUnit")); ok {
				d.netUnits = u
			}
		}
		d.netLinear = append(d.netLinear, seenUnits{pos: d.here(), linear: a.text("linearUnit")})
	case "Struct":
		d.struc = &formats.Structure{Name: d.name(a, "name"), Pos: d.here(), Desc: d.name(a, "desc"), Rim: d.number(a, "elevRim"), Sump: d.number(a, "elevSump")}
	case "Center":
		if d.struc == nil || d.parent(1) != "Struct" {
			return
		}
		if ref, ok := a.get("pntRef"); ok {
			d.centers = append(d.centers, centerRef{len(d.doc.Networks), len(d.net.Structures), ref})
		}
		d.collect()
	case "CircStruct", "RectStruct", "InletStruct", "OutletStruct", "Connection":
		if d.struc != nil {
			d.struc.Kind = structKinds[name]
			if name == "CircStruct" {
				d.struc.Diameter = d.number(a, "diameter")
			}
		}
	case "Invert":
		if d.struc != nil {
			d.struc.Inverts = append(d.struc.Inverts, formats.Invert{Pos: d.here(), Elev: d.number(a, "elev"), Flow: strings.ToLower(a.text("flowDir")), Pipe: d.name(a, "refPipe")})
		}
	case "Pipe":
		d.pipe = &formats.Pipe{Name: d.name(a, "name"), Pos: d.here(), Start: d.name(a, "refStart"), End: d.name(a, "refEnd"), Desc: d.name(a, "desc"),
			Slope: d.number(a, "slope"), Length: d.number(a, "length")}
	case "CircPipe", "EggPipe", "ElliPipe", "RectPipe", "Channel":
		if d.pipe == nil {
			return
		}
		shape := pipeShapes[name]
		d.pipe.Shape, d.pipe.Bore, d.pipe.Material = shape[0], d.number(a, shape[1]), d.name(a, "material")
		if t := string(trim(a.raw("thickness"))); t == "NaN" {
			d.nan++
		} else {
			d.pipe.Wall = d.number(a, "thickness")
		}
	}
}

func (d *decoder) networkEnd(name string) {
	switch name {
	case "Center":
		if d.struc == nil || !d.want {
			return
		}
		d.want = false
		var list [4]unit.Decimal
		if v, ok := d.numbers(d.text, list[:0], d.struc.Name); ok && len(v) >= 2 {
			d.struc.N, d.struc.E, d.struc.Placed = v[0], v[1], true
		}
	case "Struct":
		if d.struc != nil {
			d.net.Structures = append(d.net.Structures, *d.struc)
			d.struc = nil
		}
	case "Pipe":
		if d.pipe != nil {
			d.net.Pipes = append(d.net.Pipes, *d.pipe)
			d.pipe = nil
		}
	case "PipeNetwork":
		d.doc.Networks = append(d.doc.Networks, *d.net)
		d.ownUnits = append(d.ownUnits, d.netUnits)
		d.net, d.netUnits = nil, unit.Unit{}
	}
}

// finishPipes gives pipe sizes their unit: that of the network, of the file, or
// the declared one; else none, and no size is used.
func (d *decoder) finishPipes() {
	for i := range d.doc.Networks {
		n := &d.doc.Networks[i]
		u := d.ownUnits[i]
		if !u.Known() {
			u = d.doc.Units.Diameter
		}
		declared := false
		if !u.Known() && d.opt.DimUnit.Known() {
			u, declared = d.opt.DimUnit, true
		}
		sized := 0
		for k := range n.Structures {
			n.Structures[k].DimUnit = u
		}
		for k := range n.Pipes {
			n.Pipes[k].DimUnit = u
			if n.Pipes[k].Bore.Set {
				sized++
			}
		}
		switch {
		case sized == 0:
		case declared:
			d.doc.Note(n.Pos, "pipe sizes", "the file does not say their unit; they are taken as %s, as declared", u.Name)
		case !u.Known():
			d.doc.Note(n.Pos, "pipe sizes", "%d pipes have a size without a unit (no diameterUnit in Units); sizes are not used until the unit is declared", sized)
		}
	}
}
