package job

// DesignPoints say how a surface is triangulated from points: which of them form
// breaklines, the boundary and holes. A point belongs to a line when its run or its
// code is one of the names; points of one run and code follow each other.
type DesignPoints struct {
	Breaklines []string `yaml:"breaklines,omitempty" json:"breaklines,omitempty" jsonschema:"description=Runs or codes of points that form breaklines; * at the end stands for any ending"`
	Boundary   []string `yaml:"boundary,omitempty" json:"boundary,omitempty" jsonschema:"description=Runs or codes of points that go around the surface; * at the end stands for any ending"`
	Voids      []string `yaml:"voids,omitempty" json:"voids,omitempty" jsonschema:"description=Runs or codes of points that go around holes; * at the end stands for any ending"`
	MaxSide    *Length  `yaml:"maxSide,omitempty" json:"maxSide,omitempty" jsonschema:"description=Longest side of a triangle along the edge; longer ones are left out; not beside a boundary"`
}

// Validate refuses what cannot go together.
func (p *DesignPoints) Validate() (f []Fault) {
	stars(&f, "breaklines", p.Breaklines)
	stars(&f, "boundary", p.Boundary)
	stars(&f, "voids", p.Voids)
	add := (*faults)(&f).add
	switch {
	case p.MaxSide == nil:
	case p.MaxSide.Length <= 0:
		add("maxSide", "a side is longer than nothing")
	case len(p.Boundary) > 0:
		add("maxSide", "a boundary says where the surface ends, and so does a longest side; keep one of the two")
	}
	return f
}

// LineOf tells which line of the names a point belongs to: "" for none.
func LineOf(names []string) func(code, run string) string {
	if len(names) == 0 {
		return nil
	}
	return func(code, run string) string {
		switch {
		case run != "" && fits(names, run):
			return run + "\x00"
		case code != "" && fits(names, code):
			return run + "\x00" + code
		}
		return ""
	}
}

// DesignLine is a straight line between two nodes, in plan and in level.
type DesignLine struct {
	From  DesignNode `yaml:"from" json:"from" jsonschema:"required,description=Node the line begins at; chainage counts from it"`
	To    DesignNode `yaml:"to" json:"to" jsonschema:"required,description=Node the line ends at"`
	Reach *Length    `yaml:"reach,omitempty" json:"reach,omitempty" jsonschema:"description=How far to either side the line holds; 0.5 m when left out"`
}

// DesignNode is an end of a line.
type DesignNode struct {
	Name     string     `yaml:"name" json:"name" jsonschema:"required,description=Name of the node"`
	Easting  Coordinate `yaml:"easting" json:"easting" jsonschema:"required,description=Easting of the node"`
	Northing Coordinate `yaml:"northing" json:"northing" jsonschema:"required,description=Northing of the node"`
	Level    Length     `yaml:"level" json:"level" jsonschema:"required,description=Design level at the node"`
}

// Validate refuses a reach that cannot be.
func (l *DesignLine) Validate() (f []Fault) {
	if l.Reach != nil && l.Reach.Length < 0 {
		(*faults)(&f).add("reach", "a distance has no minus sign")
	}
	return f
}
