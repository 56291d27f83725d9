package job

import (
	"fmt"

	"sightrail/convert/align"
	"sightrail/formats/unit"
)

// DesignAlignment is a design by chainage and offset: an alignment, its profile, and
// what lies across.
type DesignAlignment struct {
	Name      string       `yaml:"name" json:"name" jsonschema:"required,description=Name of the alignment in the file"`
	Profile   string       `yaml:"profile,omitempty" json:"profile,omitempty" jsonschema:"description=Name of the design profile; needed where there are several"`
	Crossfall []Crossfall  `yaml:"crossfall,omitempty" json:"crossfall,omitempty" jsonschema:"description=Grades from the profile outwards; one row without chainage holds all along; between two rows they change evenly"`
	Sections  *SectionsKey `yaml:"sections,omitempty" json:"sections,omitempty" jsonschema:"description=Design cross sections of the file in place of crossfalls"`
	Reach     *Length      `yaml:"reach,omitempty" json:"reach,omitempty" jsonschema:"description=How far from the alignment shots are looked for; 50 m when left out; 0.5 m without crossfall and sections"`
}

// Crossfall is the shape across at a chainage.
type Crossfall struct {
	Chainage  *Length `yaml:"chainage,omitempty" json:"chainage,omitempty" jsonschema:"description=Where it holds; left out in a single row that holds all along"`
	Left      string  `yaml:"left" json:"left" jsonschema:"required,description=Grade to the left going outwards such as fall 3 %"`
	Right     string  `yaml:"right" json:"right" jsonschema:"required,description=Grade to the right going outwards such as fall 3 %"`
	LeftEdge  *Length `yaml:"leftEdge,omitempty" json:"leftEdge,omitempty" jsonschema:"description=Distance from the alignment beyond which the design says nothing"`
	RightEdge *Length `yaml:"rightEdge,omitempty" json:"rightEdge,omitempty" jsonschema:"description=Distance from the alignment beyond which the design says nothing"`
}

// SectionsKey says which cross sections are the design.
type SectionsKey struct {
	Surface string `yaml:"surface" json:"surface" jsonschema:"required,description=Name of the surface in the cross sections"`
	Between string `yaml:"between" json:"between" jsonschema:"required,enum=offset,enum=name,description=How the design runs from one section to the next: straight at one offset; or from each point to the one of the same name"`
	Levels  string `yaml:"levels,omitempty" json:"levels,omitempty" jsonschema:"enum=absolute,enum=overProfile,description=What the levels of the sections are; told from the values when left out"`
}

// Validate refuses what cannot go together.
func (d *DesignAlignment) Validate() (f []Fault) {
	add := (*faults)(&f).add
	if len(d.Crossfall) > 0 && d.Sections != nil {
		add("sections", "cross sections and crossfalls both say what lies across; leave one of them out")
	}
	if d.Reach != nil && d.Reach.Length < 0 {
		add("reach", "a distance has no minus sign")
	}
	for i := range d.Crossfall {
		c := &d.Crossfall[i]
		key := fmt.Sprintf("crossfall[%d]", i)
		if c.Chainage == nil && len(d.Crossfall) > 1 {
			add(key, "of several rows each needs its chainage")
		}
		if c.Chainage != nil && len(d.Crossfall) == 1 {
			add(key, "one row holds all along and needs no chainage; leave it out, or add the row at the other end")
		}
		for _, g := range []string{c.Left, c.Right} {
			if _, err := align.ParseCrossfall(g); err != nil && g != "" {
				add(key, "%v", err)
			}
		}
	}
	return f
}

// Crossfalls are the rows as data.
func (d *DesignAlignment) Crossfalls() (rows []align.Crossfall, allAlong bool) {
	edge := func(l *Length) align.Value {
		if l == nil {
			return align.Value{}
		}
		return align.Stated(l.Length)
	}
	for i := range d.Crossfall {
		c := &d.Crossfall[i]
		var x align.Crossfall
		x.Left, _ = align.ParseCrossfall(c.Left)
		x.Right, _ = align.ParseCrossfall(c.Right)
		x.LeftEdge, x.RightEdge = edge(c.LeftEdge), edge(c.RightEdge)
		if c.Chainage != nil {
			x.Chainage = c.Chainage.Length
		}
		rows = append(rows, x)
	}
	return rows, len(rows) == 1
}

// ReachOf is how far from the alignment shots are looked for.
func (d *DesignAlignment) ReachOf() unit.Length {
	switch {
	case d.Reach != nil:
		return d.Reach.Length
	case len(d.Crossfall) > 0 || d.Sections != nil:
		return 50 * unit.Metre
	}
	return unit.Metre / 2
}
