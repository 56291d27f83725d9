package job

import (
	"fmt"
	"slices"
)

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
	Bearing    *Bearing      `yaml:"bearing,omitempty" json:"bearing,omitempty" jsonschema:"description=Grid bearing of the axis with its unit"`
	From       string        `yaml:"from,omitempty" json:"from,omitempty" jsonschema:"description=Pit or placed point that the axis begins at"`
	To         string        `yaml:"to,omitempty" json:"to,omitempty" jsonschema:"description=Pit or placed point that the axis runs to"`
	Laser      *Spot         `yaml:"laser,omitempty" json:"laser,omitempty" jsonschema:"description=Place of the laser"`
	Pegs       []LaserPeg    `yaml:"pegs,omitempty" json:"pegs,omitempty" jsonschema:"description=Staff readings on pegs that set-ups have in common"`
	SightMark  *SightMark    `yaml:"sightMark,omitempty" json:"sightMark,omitempty" jsonschema:"description=Where the axis passes a distant mark"`
	Worth      *LaserWorth   `yaml:"uncertainty,omitempty" json:"uncertainty,omitempty" jsonschema:"description=What the levels of the set-up are worth"`
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

// LaserWorth is what levels read on a laser plane are worth: standard
// uncertainties.
type LaserWorth struct {
	Reading Length `yaml:"reading" json:"reading" jsonschema:"required,description=Standard uncertainty of a staff or receiver reading"`
	Setup   Length `yaml:"setup" json:"setup" jsonschema:"required,description=Standard uncertainty of the level of the plane at its mark"`
	Grade   *Grade `yaml:"grade,omitempty" json:"grade,omitempty" jsonschema:"description=Standard uncertainty of either grade such as 0.05 mm/m"`
	Source  string `yaml:"source" json:"source" jsonschema:"required,description=Where these figures come from"`
}

// Receiver is how a machine receiver stands above a cutting edge.
type Receiver struct {
	Height Length   `yaml:"height" json:"height" jsonschema:"required,description=Height of the receiver's mark above the cutting edge along the arm"`
	Tilt   *Bearing `yaml:"tilt,omitempty" json:"tilt,omitempty" jsonschema:"description=How far the arm leans with its unit such as 2 deg; upright when left out"`
}

// LaserLimits say how far a laser may drift during a set-up and between
// set-ups. A set-up outside a limit supplies no assessed level.
type LaserLimits struct {
	Level     *Length `yaml:"level,omitempty" json:"level,omitempty" jsonschema:"description=Largest drift of level"`
	Grade     *Grade  `yaml:"grade,omitempty" json:"grade,omitempty" jsonschema:"description=Largest drift of grade along or across"`
	Direction *Grade  `yaml:"direction,omitempty" json:"direction,omitempty" jsonschema:"description=Largest drift of direction at a sight mark as offset over distance"`
	Source    string  `yaml:"source" json:"source" jsonschema:"required,description=Who set these limits"`
}

// Validate asks for one way to say where the axis runs, and for whole places.
func (l *LaserSetup) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch {
	case l.Bearing == nil && l.From == "" && l.To == "":
		add("", "the set-up %q does not say where its axis runs; add \"bearing:\" (such as 123.5 deg), or \"from:\" and \"to:\" with two pits or pegs", l.Name)
	case l.Bearing != nil && (l.From != "" || l.To != ""):
		add("bearing", "the axis has a bearing and two points; keep one of them")
	case l.Bearing == nil && l.From == "":
		add("to", "the axis runs to a point and from none; add \"from:\"")
	case l.Bearing == nil && l.To == "":
		add("from", "the axis runs from a point and to none; add \"to:\"")
	case l.From != "" && l.From == l.To:
		add("to", "the axis begins and ends on %q; name two points", l.To)
	}
	half(&f, l.Easting, l.Northing)
	seen := map[string]bool{}
	for i := range l.Pegs {
		if seen[l.Pegs[i].Name] {
			add(fmt.Sprintf("pegs[%d].name", i), "the peg %q is listed twice in this set-up; keep one reading", l.Pegs[i].Name)
		}
		seen[l.Pegs[i].Name] = true
	}
	return f
}

// Validate asks for easting and northing together.
func (p *LaserPeg) Validate() (f []Fault) {
	half(&f, p.Easting, p.Northing)
	return f
}

// half refuses half a place.
func half(f *[]Fault, e, n *Coordinate) {
	switch {
	case e != nil && n == nil:
		(*faults)(f).add("easting", "there is an easting and no northing; give both or neither")
	case n != nil && e == nil:
		(*faults)(f).add("northing", "there is a northing and no easting; give both or neither")
	}
}

// Validate asks for a sight mark far enough away to tell a direction.
func (s *SightMark) Validate() (f []Fault) {
	if s.Distance.Length <= 0 {
		(*faults)(&f).add("distance", "the distance to the sight mark is more than nought")
	}
	return f
}

// Validate refuses what is no uncertainty.
func (w *LaserWorth) Validate() (f []Fault) {
	add := (*faults)(&f).add
	if w.Reading.Length <= 0 {
		add("reading", "a standard uncertainty is more than nought")
	}
	if w.Setup.Length < 0 {
		add("setup", "a standard uncertainty is not negative")
	}
	if w.Grade != nil && w.Grade.Rise < 0 {
		add("grade", "a standard uncertainty is not negative")
	}
	return f
}

// Validate asks for a limit, without signs.
func (l *LaserLimits) Validate() (f []Fault) {
	add := (*faults)(&f).add
	if l.Level == nil && l.Grade == nil && l.Direction == nil {
		add("", "there is no limit here; add \"level:\", \"grade:\" or \"direction:\", or leave laserLimits out")
	}
	if l.Level != nil && l.Level.Length < 0 {
		add("level", "the limit is negative and nothing could be inside it; write the largest drift without a sign")
	}
	for _, x := range []struct {
		key string
		g   *Grade
	}{{"grade", l.Grade}, {"direction", l.Direction}} {
		if x.g != nil && x.g.Rise < 0 {
			add(x.key, "the limit is negative and nothing could be inside it; write the largest drift without a sign")
		}
	}
	return f
}

// lasers looks up what laser set-ups name elsewhere in the job.
func (j *Job) lasers(f *faults) {
	names := make([]string, len(j.LaserSetups))
	for i := range j.LaserSetups {
		names[i] = j.LaserSetups[i].Name
	}
	for i := range j.LaserSetups {
		l := &j.LaserSetups[i]
		known := l.Level != nil
		for k := range j.BenchMarks {
			if m := &j.BenchMarks[k]; m.Name == l.Mark {
				if l.Level != nil && l.Level.Length != m.Level.Length {
					f.add(fmt.Sprintf("laserSetups[%d].level", i), "the level of %s differs from that in line %d; one mark has one level", l.Mark, m.Line)
				}
				known = true
			}
		}
		if !known {
			f.add(fmt.Sprintf("laserSetups[%d].mark", i), "the mark %q is no bench mark of the job; add it to benchMarks, or add \"level:\" here", l.Mark)
		}
		if l.Instrument != "" {
			var have []string
			for k := range j.Instruments {
				have = append(have, j.Instruments[k].Name)
			}
			if !slices.Contains(have, l.Instrument) {
				f.add(fmt.Sprintf("laserSetups[%d].instrument", i), "no instrument is named %q%s", l.Instrument, didYouMean(l.Instrument, have))
			}
		}
	}
	for i := range j.Surveys {
		s := &j.Surveys[i]
		path := fmt.Sprintf("surveys[%d]", i)
		switch {
		case s.Kind != "laser" && s.Setup != "":
			f.add(path+".setup", "a laser set-up is for readings on a laser plane; set \"kind: laser\", or leave the key out")
		case s.Kind == "laser" && len(names) == 0:
			f.add(path+".kind", "readings on a laser plane need the set-up of the laser; add it to \"laserSetups\"")
		case s.Setup != "" && !slices.Contains(names, s.Setup):
			f.add(path+".setup", "no laser set-up is named %q; the set-ups of this job are %s%s", s.Setup, list(quoted(names)), didYouMean(s.Setup, names))
		}
	}
}
