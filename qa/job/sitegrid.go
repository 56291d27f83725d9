package job

import (
	"fmt"
	"strconv"
)

// SiteGrid fits a local grid to control that is known in a grid of EPSG as well.
type SiteGrid struct {
	Grid      Grid           `yaml:"grid" json:"grid" jsonschema:"required,description=Grid of EPSG that the control is known in"`
	Control   []ControlPoint `yaml:"control" json:"control" jsonschema:"required,minItems=2,description=Points known in both grids; three or more check each other"`
	Scale     Scale          `yaml:"scale,omitempty" json:"scale,omitempty" jsonschema:"description=fitted (the default) or the factor from site to grid that is held"`
	Vertical  string         `yaml:"vertical,omitempty" json:"vertical,omitempty" jsonschema:"enum=none,enum=shift,enum=tilt,default=none,description=What is fitted to the levels of the control"`
	Height    *Length        `yaml:"height,omitempty" json:"height,omitempty" jsonschema:"description=Height of the site above the ellipsoid for the combined factor"`
	Within    *Length        `yaml:"heightWithin,omitempty" json:"heightWithin,omitempty" jsonschema:"description=How far that height may be off; 100 m where a level was taken for it"`
	Deviation *Length        `yaml:"deviation,omitempty" json:"deviation,omitempty" jsonschema:"description=Standard deviation of a coordinate of the control"`
	Source    string         `yaml:"source" json:"source" jsonschema:"required,description=Where the control comes from"`
}

// ControlPoint is a point in the site grid and in the other one.
type ControlPoint struct {
	Name         string     `yaml:"name" json:"name" jsonschema:"required,description=Name of the point"`
	Easting      Coordinate `yaml:"easting" json:"easting" jsonschema:"required,description=Easting on the site"`
	Northing     Coordinate `yaml:"northing" json:"northing" jsonschema:"required,description=Northing on the site"`
	GridEasting  Coordinate `yaml:"gridEasting" json:"gridEasting" jsonschema:"required,description=Easting in the other grid"`
	GridNorthing Coordinate `yaml:"gridNorthing" json:"gridNorthing" jsonschema:"required,description=Northing in the other grid"`
	Level        *Length    `yaml:"level,omitempty" json:"level,omitempty" jsonschema:"description=Level on the site"`
	GridLevel    *Length    `yaml:"gridLevel,omitempty" json:"gridLevel,omitempty" jsonschema:"description=Height in the datum of the other grid"`
}

// Scale is a factor from site to grid; 0 is fitted.
type Scale struct {
	Factor float64
	Text   string // as written
}

// UnmarshalText reads "fitted" or a factor such as 0.99987654.
func (s *Scale) UnmarshalText(text []byte) error {
	s.Text = string(text)
	if s.Text == "fitted" {
		s.Factor = 0
		return nil
	}
	f, err := strconv.ParseFloat(s.Text, 64)
	if err != nil || !(f > 0.9 && f < 1.1) {
		return fmt.Errorf("%q is no scale of a site grid; write fitted, 1, or the combined factor such as 0.99987654", s.Text)
	}
	s.Factor = f
	return nil
}

// Validate asks for the code of the grid, and for levels in pairs.
func (g *SiteGrid) Validate() (f []Fault) {
	add := (*faults)(&f).add
	if g.Grid.EPSG == "" {
		add("grid", "the control must be known in a grid of EPSG; write its code, such as \"EPSG:7855\"")
	}
	for i := range g.Control {
		c := &g.Control[i]
		if (c.Level == nil) != (c.GridLevel == nil) {
			add(fmt.Sprintf("control[%d]", i), "%s has one of level and gridLevel; give both or neither", c.Name)
		}
		for k := range i {
			if g.Control[k].Name == c.Name {
				add(fmt.Sprintf("control[%d].name", i), "the point %q is listed twice; keep one of them", c.Name)
			}
		}
	}
	return f
}
