package job

import (
	"fmt"
	"slices"

	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// Tolerance is the limits of as-built minus design, and who set them. Either
// side may be left out. In place of the limits stands the name of a preset, whose
// source is the document it quotes.
type Tolerance struct {
	Lower  *Length `yaml:"lower,omitempty" json:"lower,omitempty" jsonschema:"description=Lowest allowed as-built minus design"`
	Upper  *Length `yaml:"upper,omitempty" json:"upper,omitempty" jsonschema:"description=Highest allowed as-built minus design"`
	Preset string  `yaml:"preset,omitempty" json:"preset,omitempty" jsonschema:"description=Name of a published tolerance in place of lower and upper; sightrail presets lists them"`
	Source string  `yaml:"source,omitempty" json:"source,omitempty" jsonschema:"description=Clause or drawing or instruction that sets the limits; a preset brings its own"`
	foot   unit.Unit
}

// setFoot tells which foot a preset in feet is of: the unit of the job.
func (t *Tolerance) setFoot(u unit.Unit) { t.foot = u }

// Limits are the limits as data. Those of a preset that cannot be used are none,
// and Validate says why.
func (t Tolerance) Limits() limits.Tolerance {
	if t.Preset != "" {
		l, err := t.ofPreset()
		if err != nil {
			return limits.Tolerance{}
		}
		return l
	}
	l := limits.Tolerance{Source: t.Source}
	if t.Lower != nil {
		l.Lower, l.HasLower = t.Lower.Length, true
	}
	if t.Upper != nil {
		l.Upper, l.HasUpper = t.Upper.Length, true
	}
	return l
}

// ofPreset is the tolerance of the preset, with its citation as the source.
func (t Tolerance) ofPreset() (limits.Tolerance, error) {
	p, err := limits.PresetByName(t.Preset)
	if err != nil {
		return limits.Tolerance{}, fmt.Errorf("there is no preset %q%s; \"sightrail presets\" lists them, and \"sightrail presets WORD\" those with a word", t.Preset, didYouMean(t.Preset, presetNames()))
	}
	if foot := t.foot; p.InFeet() && foot != unit.Ft && foot != unit.FtUS {
		return limits.Tolerance{}, fmt.Errorf("the limits of the preset %q are in feet, and the job is in %s, which does not say which foot; give \"lower:\" and \"upper:\" with their unit (%s to %s in the document)", t.Preset, foot.Name, p.Lower, p.Upper)
	}
	s, err := p.Tolerance(t.foot)
	if err != nil {
		return limits.Tolerance{}, err
	}
	if s.HasLower && s.Lower.Sized() || s.HasUpper && s.Upper.Sized() {
		return limits.Tolerance{}, fmt.Errorf("the limits of the preset %q depend on the size of the pipe (%s), and these are one for all; give \"lower:\" and \"upper:\" for the size that is laid", t.Preset, s)
	}
	l, err := s.For(0)
	l.Source = fmt.Sprintf("preset %s: %s", t.Preset, l.Source)
	if t.Source != "" {
		l.Source = t.Source + "; " + l.Source
	}
	return l, err
}

func presetNames() []string {
	all := limits.Presets()
	names := make([]string, len(all))
	for i := range all {
		names[i] = all[i].Name
	}
	return names
}

// PresetFor refuses a preset that is for another kind of measure than the ones
// given: "level", "thickness".
func (t *Tolerance) PresetFor(kinds ...string) (f []Fault) {
	p, err := limits.PresetByName(t.Preset)
	if t.Preset != "" && err == nil && !slices.Contains(kinds, p.Kind) {
		(*faults)(&f).add("preset", "the preset %q is for another measure (%s: %s), and this check judges %s; take one of that kind, or give \"lower:\" and \"upper:\"", t.Preset, p.Kind, p.Basis, list(kinds))
	}
	return f
}

// Validate asks for at least one side, for the right order of the two, and for
// their source; or for a preset that can be used.
func (t *Tolerance) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch {
	case t.Preset != "" && (t.Lower != nil || t.Upper != nil):
		add("preset", "a preset brings its limits, and limits stand here as well; keep one of the two")
	case t.Preset != "":
		if _, err := t.ofPreset(); err != nil {
			add("preset", "%v", err)
		}
	case t.Lower == nil && t.Upper == nil:
		add("", "the tolerance has neither a lower nor an upper limit; give at least one, or the name of a preset")
	case t.Lower != nil && t.Upper != nil && t.Lower.Length > t.Upper.Length:
		add("lower", "the lower limit is above the upper one, nothing could be inside; below design is negative: \"lower: -30 mm\"")
	case t.Source == "":
		add("", "the key \"source\" is missing; add it (Clause or drawing or instruction that sets the limits)")
	}
	return f
}

// given tells whether anything of a tolerance is there.
func (t *Tolerance) given() bool {
	return t.Lower != nil || t.Upper != nil || t.Preset != "" || t.Source != ""
}

// ZonedTolerance is a tolerance with others for zones. A shot in several zones is
// judged by the first in the list. Without limits of its own, what lies in no
// zone is not judged.
type ZonedTolerance struct {
	Tolerance `yaml:",inline"`
	Zones     []Zone `yaml:"zones,omitempty" json:"zones,omitempty" jsonschema:"description=Other limits for parts of the surface; a shot in several is judged by the first"`
}

// Validate looks at the limits; those elsewhere may be left out where there are
// zones.
func (t *ZonedTolerance) Validate() (f []Fault) {
	if len(t.Zones) == 0 || t.given() {
		f = t.Tolerance.Validate()
	}
	if len(f) == 0 {
		f = t.PresetFor("level")
	}
	for i := range t.Zones {
		for k := range i {
			if t.Zones[k].Name == t.Zones[i].Name {
				(*faults)(&f).add(fmt.Sprintf("zones[%d].name", i), "there is a zone %q already; give this one another name", t.Zones[i].Name)
				break
			}
		}
	}
	return f
}

// Zone is a part of a surface with limits of its own: inside an outline, or near
// a line.
type Zone struct {
	Name      string   `yaml:"name" json:"name" jsonschema:"required,description=Name of the zone in the reports"`
	Polygon   *Outline `yaml:"polygon,omitempty" json:"polygon,omitempty" jsonschema:"description=What lies inside an outline"`
	Near      *Near    `yaml:"near,omitempty" json:"near,omitempty" jsonschema:"description=What lies within a distance of a line"`
	Tolerance `yaml:",inline"`
}

// Validate asks for one way to tell what lies in the zone, and for its limits.
func (z *Zone) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch {
	case z.Polygon == nil && z.Near == nil:
		add("", "nothing says what lies in this zone; add \"polygon:\" or \"near:\"")
	case z.Polygon != nil && z.Near != nil:
		add("near", "a zone lies in a polygon or near a line, not both; keep one of them")
	}
	limits := z.Tolerance.Validate()
	if len(limits) == 0 {
		limits = z.PresetFor("level")
	}
	return append(f, limits...)
}

// Near is what lies within a distance of a line, in plan; a place that is exactly
// so far away lies in it.
type Near struct {
	Distance Length          `yaml:"distance" json:"distance" jsonschema:"required,description=Greatest distance from the line in plan"`
	Corners  [][2]Coordinate `yaml:"corners,omitempty" json:"corners,omitempty" jsonschema:"description=Easting and northing of each corner of the line"`
	File     string          `yaml:"file,omitempty" json:"file,omitempty" jsonschema:"description=GeoJSON file with the line or with an outline whose edge it is"`
	Name     string          `yaml:"name,omitempty" json:"name,omitempty" jsonschema:"description=Name of the line or outline in the file; all of them when left out"`
	Codes    []string        `yaml:"codes,omitempty" json:"codes,omitempty" jsonschema:"description=Codes of the shots that the line runs through in the order of the files; * at the end stands for any ending"`
	Runs     []string        `yaml:"runs,omitempty" json:"runs,omitempty" jsonschema:"description=Runs of the shots that the line runs through; each run is a line of its own; * at the end stands for any ending"`
	Design   bool            `yaml:"designOutline,omitempty" json:"designOutline,omitempty" jsonschema:"description=The line is the outline of the design"`
}

// Validate asks for one line, and for a distance.
func (n *Near) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch ways := count(len(n.Corners) > 0, n.File != "", len(n.Codes) > 0 || len(n.Runs) > 0, n.Design); {
	case ways == 0:
		add("", "nothing says which line is meant; add \"corners:\", \"file:\", \"codes:\" or \"runs:\" of shots, or \"designOutline: true\"")
	case ways > 1:
		add("", "the line is given in %d ways; keep one of \"corners:\", \"file:\", shots by \"codes:\" and \"runs:\", and \"designOutline:\"", ways)
	case len(n.Corners) == 1:
		add("corners", "a line has two corners or more, here is one")
	case n.File == "" && n.Name != "":
		add("name", "the name is that of a line in a file, and there is no file; leave the name out, or add \"file:\"")
	}
	if n.Distance.Length < 0 {
		add("distance", "the distance is negative and nothing lies so near; write it without a sign")
	}
	stars(&f, "codes", n.Codes)
	stars(&f, "runs", n.Runs)
	return f
}
