package landxml

import (
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// units of length by their names in LandXML, with the element they belong in.
// "foot" is the international foot.
var unitNames = map[string]unit.Unit{
	"millimeter": unit.MM, "centimeter": unit.CM, "meter": unit.M, "kilometer": unit.KM,
	"foot": unit.Ft, "USSurveyFoot": unit.FtUS, "inch": unit.In, "mile": unit.Mile,
}

func metric(u unit.Unit) bool { return u == unit.MM || u == unit.CM || u == unit.M || u == unit.KM }

func unitOf(name string) (unit.Unit, bool) {
	if name == "" {
		return unit.Unit{}, false
	}
	if u, ok := unitNames[name]; ok {
		return u, true
	}
	for k, u := range unitNames { // case and blanks are forgiven: no two names are alike without them
		if strings.EqualFold(k, strings.TrimSpace(name)) {
			return u, true
		}
	}
	return unit.Unit{}, false
}

// statedUnits is one Units element, as written.
type statedUnits struct {
	pos       formats.Pos
	system    string // Metric or Imperial
	linear    string
	diameter  string
	width     string
	height    string
	elevation string
	area      string
}

func (d *decoder) statedUnits(system string, a attrs) statedUnits {
	return statedUnits{d.here(), system, a.text("linearUnit"), a.text("diameterUnit"), a.text("widthUnit"), a.text("heightUnit"), a.text("elevationUnit"), a.text("areaUnit")}
}

// agrees reports whether two Units elements say the same of what is read.
func (s *statedUnits) agrees(o *statedUnits) bool {
	for _, p := range [][2]string{{s.linear, o.linear}, {s.diameter, o.diameter}, {s.width, o.width}, {s.height, o.height}, {s.elevation, o.elevation}} {
		if !strings.EqualFold(strings.TrimSpace(p[0]), strings.TrimSpace(p[1])) {
			return false
		}
	}
	return true
}

// finishUnits decides the units of the file.
func (d *decoder) finishUnits() {
	u := &d.doc.Units
	if len(d.units) == 0 {
		if u.Linear = d.opt.Unit; u.Linear.Known() {
			d.note(d.pos, "Units", "the file does not say its unit; it is taken as %s, as declared", u.Linear.Name)
		} else {
			d.refuseAt(d.pos, "Units", "the file does not say its unit of length; declare it: \"unit: m\" in the job file, --unit on the command line")
		}
		return
	}
	first := &d.units[0]
	for i := range d.units[1:] {
		if x := &d.units[i+1]; !x.agrees(first) {
			d.refuseAt(x.pos, "Units", "the file states its units twice and not alike (lengths in %q here and in %q in line %d); which holds cannot be told", x.linear, first.linear, first.pos.Row)
			return
		}
	}
	linear, ok := d.unit(first, "linearUnit", first.linear)
	if !ok {
		if first.linear == "" {
			d.refuseAt(first.pos, "linearUnit", "the unit of length is not said; write linearUnit=\"meter\", \"foot\" or \"USSurveyFoot\" into the file")
		}
		return
	}
	u.Linear = linear
	if d.opt.Unit.Known() && d.opt.Unit != linear {
		d.refuseAt(first.pos, "linearUnit", "the file is in %s, and %s is declared for it; one of them is wrong", linear.Name, d.opt.Unit.Name)
	}
	u.Diameter, _ = d.unit(first, "diameterUnit", first.diameter)
	d.unit(first, "widthUnit", first.width)
	d.unit(first, "heightUnit", first.height)
	d.elevationUnit(first, linear)
}

// unit reads one unit of a Units element; a bad one is a problem.
func (d *decoder) unit(s *statedUnits, key, name string) (unit.Unit, bool) {
	if name == "" {
		return unit.Unit{}, false
	}
	u, ok := unitOf(name)
	switch {
	case !ok:
		d.refuseAt(s.pos, key, "%q is not a unit of length of LandXML (meter, millimeter, foot, USSurveyFoot, inch, ...); correct it in the file", name)
	case metric(u) != (s.system == "Metric"):
		d.refuseAt(s.pos, key, "%q stands in the element %s, where it does not belong; one of them is wrong", name, s.system)
		ok = false
	case unitNames[name] != u:
		d.note(s.pos, key, "%q is read as the %s", name, u.Word)
	}
	return u, ok
}

// elevationUnit compares the unit of levels, where it is stated, with that of
// lengths, in which levels are read. Where it is not stated, its default of
// metres is not believed: files in feet have feet in their levels.
func (d *decoder) elevationUnit(s *statedUnits, linear unit.Unit) {
	name := strings.ToLower(strings.TrimSpace(s.elevation))
	agrees := map[string][]unit.Unit{"meter": {unit.M}, "kilometer": {unit.KM}, "feet": {unit.Ft, unit.FtUS}, "foot": {unit.Ft, unit.FtUS}, "miles": {unit.Mile}}
	if name == "" {
		return
	}
	for _, u := range agrees[name] {
		if u == linear {
			return
		}
	}
	d.refuseAt(s.pos, "elevationUnit", "levels are said to be in %q and lengths in %q; levels are read in the unit of lengths, so one of them is wrong", s.elevation, s.linear)
}
