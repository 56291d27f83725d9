package job

// LaserSetup is one standing of a laser that gives a graded plane. The plane is
// levelled by a staff reading on a mark: its level there is mark plus reading.
// Along the axis it has the grade, to the right of it the grade across; + rises.
type LaserSetup struct {
	Name       string        `yaml:"name" json:"name" jsonschema:"required,description=Name of the set-up as the field files write it"`
	Date       string        `yaml:"date,omitempty" json:"date,omitempty" jsonschema:"description=Date of the set-up"`
	Instrument string        `yaml:"instrument,omitempty" json:"instrument,omitempty" jsonschema:"description=Name of an entry of instruments"`
	Mark       string        `yaml:"mark" json:"mark" jsonschema:"required,description=Mark the plane was levelled on"`
	Level      *Length       `yaml:"level,omitempty" json:"level,omitempty" jsonschema:"description=Level of the mark when it is no bench mark of the job"`
	Easting    *Coordinate   `yaml:"easting,omitempty" json:"easting,omitempty" jsonschema:"description=Easting of the mark when neither benchMarks nor places give it"`
	Northing   *Coordinate   `yaml:"northing,omitempty" json:"northing,omitempty" jsonschema:"description=Northing of the mark when neither benchMarks nor places give it"`
	Reading    Length        `yaml:"reading" json:"reading" jsonschema:"required,description=Staff reading of the plane on the mark"`
	Grade      Grade         `yaml:"grade" json:"grade" jsonschema:"required,description=Grade along the axis; + rises"`
	Across     *Grade        `yaml:"across,omitempty" json:"across,omitempty" jsonschema:"description=Grade to the right of the axis; + rises"`
	Bearing    string        `yaml:"bearing,omitempty" json:"bearing,omitempty" jsonschema:"description=Grid bearing of the axis with its unit"`
	From       string        `yaml:"from,omitempty" json:"from,omitempty" jsonschema:"description=Pit or placed point that the axis begins at"`
	To         string        `yaml:"to,omitempty" json:"to,omitempty" jsonschema:"description=Pit or placed point that the axis runs to"`
	Laser      *Spot         `yaml:"laser,omitempty" json:"laser,omitempty" jsonschema:"description=Place of the laser"`
	Pegs       []LaserPeg    `yaml:"pegs,omitempty" json:"pegs,omitempty" jsonschema:"description=Staff readings on pegs that set-ups have in common"`
	SightMark  *SightMark    `yaml:"sightMark,omitempty" json:"sightMark,omitempty" jsonschema:"description=Where the axis passes a distant mark"`
	Closing    *LaserClosing `yaml:"closing,omitempty" json:"closing,omitempty" jsonschema:"description=Staff reading on the mark again at the end"`
	Line       int           `yaml:"-" json:"-"`
}

// Spot is a place in plan.
type Spot struct {
	Easting  Coordinate `yaml:"easting" json:"easting" jsonschema:"required,description=Easting"`
	Northing Coordinate `yaml:"northing" json:"northing" jsonschema:"required,description=Northing"`
}

// LaserPeg is a staff reading of the plane on a peg.
type LaserPeg struct {
	Name     string      `yaml:"name" json:"name" jsonschema:"required,description=Name of the peg"`
	Reading  Length      `yaml:"reading" json:"reading" jsonschema:"required,description=Staff reading of the plane on the peg"`
	Easting  *Coordinate `yaml:"easting,omitempty" json:"easting,omitempty" jsonschema:"description=Easting of the peg when places does not give it"`
	Northing *Coordinate `yaml:"northing,omitempty" json:"northing,omitempty" jsonschema:"description=Northing of the peg when places does not give it"`
}

// SightMark says where the axis passes a distant mark.
type SightMark struct {
	Name     string `yaml:"name" json:"name" jsonschema:"required,description=Name of the sight mark"`
	Offset   Length `yaml:"offset" json:"offset" jsonschema:"required,description=How far to the right of the mark the axis passes; negative is to the left"`
	Distance Length `yaml:"distance" json:"distance" jsonschema:"required,description=Distance from the laser to the mark"`
}

// LaserClosing is the staff reading on the mark again.
type LaserClosing struct {
	Reading Length `yaml:"reading" json:"reading" jsonschema:"required,description=Staff reading of the plane on the mark at the end"`
	Time    string `yaml:"time,omitempty" json:"time,omitempty" jsonschema:"description=When it was read"`
}

// LaserLimits say how far a laser may drift during a set-up and between
// set-ups. A set-up outside a limit supplies no assessed level.
type LaserLimits struct {
	Level     *Length `yaml:"level,omitempty" json:"level,omitempty" jsonschema:"description=Largest drift of level"`
	Grade     *Grade  `yaml:"grade,omitempty" json:"grade,omitempty" jsonschema:"description=Largest drift of grade along or across"`
	Direction *Grade  `yaml:"direction,omitempty" json:"direction,omitempty" jsonschema:"description=Largest drift of direction at a sight mark as offset over distance"`
	Source    string  `yaml:"source" json:"source" jsonschema:"required,description=Who set these limits"`
}
