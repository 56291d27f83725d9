package landxml

import (
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// names of units in LandXML. "foot" is the international foot.
var unitNames = map[string]unit.Unit{
	"millimeter": unit.MM, "centimeter": unit.CM, "meter": unit.M, "kilometer": unit.KM,
	"foot": unit.Ft, "ussurveyfoot": unit.FtUS, "inch": unit.In, "mile": unit.Mile,
}

type seenUnits struct {
	pos       formats.Pos
	linear    string
	diameter  string
	elevation string
}

// unitsElement keeps one Units element. Those of a pipe network are its own.
func (d *decoder) unitsElement(_ string, a attrs) {
	d.units = append(d.units, seenUnits{pos: d.here(), linear: a.text("linearUnit"), diameter: a.text("diameterUnit"), elevation: a.text("elevationUnit")})
}

func unitOf(name string) (unit.Unit, bool) {
	u, ok := unitNames[strings.ToLower(strings.TrimSpace(name))]
	return u, ok
}

// finishUnits decides the units of the file.
func (d *decoder) finishUnits() {
	u := &d.doc.Units
	if len(d.units) == 0 {
		switch {
		case d.opt.Unit.Known():
			u.Linear = d.opt.Unit
			d.doc.Note(d.pos, "Units", "the file does not say its unit; it is taken as %s, as declared", d.opt.Unit.Name)
		default:
			d.doc.Refuse(d.pos, "Units", "the file does not say its unit of length; declare it: \"unit: m\" in the job file, --unit on the command line")
		}
		return
	}
	first := d.units[0]
	for _, x := range d.units[1:] {
		if !strings.EqualFold(x.linear, first.linear) || !strings.EqualFold(x.diameter, first.diameter) {
			d.doc.Refuse(x.pos, "Units", "a second Units element says %q where the one in line %d says %q; which one holds cannot be told", x.linear, first.pos.Row, first.linear)
			return
		}
	}
	linear, ok := unitOf(first.linear)
	if !ok {
		d.doc.Refuse(first.pos, "linearUnit", "%q is not a unit of length of LandXML (meter, foot, USSurveyFoot, ...)", first.linear)
		return
	}
	u.Linear = linear
	for _, x := range d.netLinear {
		if own, ok := unitOf(x.linear); !ok || own != linear {
			d.doc.Refuse(x.pos, "Units", "a pipe network has Units of its own that say %q where the file says %q; such a mix is not read", x.linear, first.linear)
		}
	}
	if d.opt.Unit.Known() && d.opt.Unit != linear {
		d.doc.Refuse(first.pos, "linearUnit", "the file is in %s, and %s is declared for it; one of them is wrong", linear.Name, d.opt.Unit.Name)
	}
	if first.diameter != "" {
		if dia, ok := unitOf(first.diameter); ok {
			u.Diameter = dia
		} else {
			d.doc.Refuse(first.pos, "diameterUnit", "%q is not a unit of length of LandXML", first.diameter)
		}
	}
	// Z is in the linear unit; an elevationUnit that says otherwise is a question
	if e := strings.ToLower(first.elevation); e != "" {
		agrees := map[string][]unit.Unit{"meter": {unit.M}, "kilometer": {unit.KM}, "feet": {unit.Ft, unit.FtUS}, "foot": {unit.Ft, unit.FtUS}, "miles": {unit.Mile}}[e]
		fits := false
		for _, a := range agrees {
			fits = fits || a == linear
		}
		if !fits {
			d.doc.Refuse(first.pos, "elevationUnit", "levels are said to be in %q and lengths in %q; levels are read in the linear unit, so one of them is wrong", first.elevation, first.linear)
		}
	}
}
