package job

import (
	"fmt"
	"slices"
)

// Setout is one sheet to set out by: a run of pipes by chainage, or a pad by
// points.
type Setout struct {
	Name   string `yaml:"name" json:"name" jsonschema:"required,description=Name of the run or pad as every page prints it"`
	Design string `yaml:"design" json:"design" jsonschema:"required,description=Name of an entry of designs"`
	Date   string `yaml:"date,omitempty" json:"date,omitempty" jsonschema:"description=Date of the sheet; that of the laser set-up or of the survey when left out"`

	Pipes        []string `yaml:"pipes,omitempty" json:"pipes,omitempty" jsonschema:"description=Pipes of the run one after the other from upstream to downstream"`
	ChainageFrom string   `yaml:"chainageFrom,omitempty" json:"chainageFrom,omitempty" jsonschema:"enum=upstream,enum=downstream,default=upstream,description=End of the run that its chainage counts from"`
	From         *Length  `yaml:"from,omitempty" json:"from,omitempty" jsonschema:"description=First chainage; the beginning of the run when left out"`
	To           *Length  `yaml:"to,omitempty" json:"to,omitempty" jsonschema:"description=Last chainage; the end of the run when left out"`
	Every        *Length  `yaml:"every,omitempty" json:"every,omitempty" jsonschema:"description=Step of chainage; the pits have rows of their own"`
	Station      *Length  `yaml:"station,omitempty" json:"station,omitempty" jsonschema:"description=Length of a full station where chainages are written as full and plus stations such as 1+53.25"`
	Wall         *Length  `yaml:"wall,omitempty" json:"wall,omitempty" jsonschema:"description=Wall of pipes whose wall the design does not give"`
	Bedding      *Length  `yaml:"bedding,omitempty" json:"bedding,omitempty" jsonschema:"description=Thickness of the bedding below the barrel; trench bottom = invert less wall less bedding"`

	Offset  *Length `yaml:"offset,omitempty" json:"offset,omitempty" jsonschema:"description=Stage offset added to the level of the surface; minus is below it"`
	Points  *Places `yaml:"points,omitempty" json:"points,omitempty" jsonschema:"description=Peg list with easting and northing of the points of a pad"`
	Spacing *Length `yaml:"spacing,omitempty" json:"spacing,omitempty" jsonschema:"description=Spacing of a square grid of points on a pad counted from zero easting and northing"`
	Outline bool    `yaml:"outline,omitempty" json:"outline,omitempty" jsonschema:"description=true: a row at every corner of the outline of a pad"`

	Laser       string  `yaml:"laser,omitempty" json:"laser,omitempty" jsonschema:"description=Name of an entry of laserSetups"`
	Receiver    *Length `yaml:"receiver,omitempty" json:"receiver,omitempty" jsonschema:"description=Height of the mark of a machine receiver above the cutting edge"`
	Traveller   *Length `yaml:"traveller,omitempty" json:"traveller,omitempty" jsonschema:"description=Length of the traveller; the sight rails stand that far above what it stands on"`
	TravellerOn Staffed `yaml:"travellerOn,omitempty" json:"travellerOn,omitempty" jsonschema:"default=invert,description=What the traveller stands on in a trench: invert or trenchBottom"`
	Ground      *Ground `yaml:"ground,omitempty" json:"ground,omitempty" jsonschema:"description=Levels of the ground that the dig is worked out from"`
}

// Ground says where levels of the ground come from.
type Ground struct {
	Surface string `yaml:"surface,omitempty" json:"surface,omitempty" jsonschema:"description=Name of an entry of designs that is a surface of the ground"`
	File    string `yaml:"file,omitempty" json:"file,omitempty" jsonschema:"description=Point file with ground levels by chainage of the run or by name"`
	Reading `yaml:",inline"`
}

// Run reports whether the sheet is that of a run of pipes; else it is a pad.
func (s *Setout) Run() bool { return len(s.Pipes) > 0 }

// Validate asks for the keys of a run or of a pad, and for lengths that can be.
func (s *Setout) Validate() (f []Fault) {
	add := (*faults)(&f).add
	given := func(l *Length) bool { return l != nil }
	runKeys := []struct {
		key   string
		given bool
	}{{"chainageFrom", s.ChainageFrom != ""}, {"from", given(s.From)}, {"to", given(s.To)}, {"every", given(s.Every)}, {"station", given(s.Station)},
		{"wall", given(s.Wall)}, {"bedding", given(s.Bedding)}, {"travellerOn", s.TravellerOn != ""}}
	padKeys := []struct {
		key   string
		given bool
	}{{"offset", given(s.Offset)}, {"points", s.Points != nil}, {"spacing", given(s.Spacing)}, {"outline", s.Outline}}
	if s.Run() {
		for _, k := range padKeys {
			if k.given {
				add(k.key, "this key is for a pad, and the sheet is that of a run of pipes; leave it out, or make the pad a sheet of its own")
			}
		}
		if s.Every == nil {
			add("", "the sheet %q does not say how far apart its chainages are; add \"every:\" (such as 5 m)", s.Name)
		}
		for i, p := range s.Pipes {
			if slices.Contains(s.Pipes[:i], p) {
				add(fmt.Sprintf("pipes[%d]", i), "the pipe %q is listed twice; a run goes through each pipe once", p)
			}
		}
	} else {
		for _, k := range runKeys {
			if k.given {
				add(k.key, "this key is for a run of pipes, and the sheet has no \"pipes:\"; add them, or leave the key out")
			}
		}
		if s.Points == nil && s.Spacing == nil && !s.Outline {
			add("", "the sheet %q does not say what is set out; add \"pipes:\" for a run of pipes, or \"points:\", \"spacing:\" or \"outline: true\" for a pad", s.Name)
		}
	}
	s.lengths(&f)
	if s.Receiver != nil && s.Laser == "" {
		add("receiver", "a receiver works on a laser plane, and the sheet has none; add \"laser:\" with the name of a set-up")
	}
	if s.TravellerOn != "" && s.Traveller == nil {
		add("travellerOn", "there is no traveller; add \"traveller:\" with its length, or leave the key out")
	}
	if s.TravellerOn != "" && s.TravellerOn != OnInvert && s.TravellerOn != OnTrenchFloor {
		add("travellerOn", "a traveller stands on the %q or the %q, not on %q", OnInvert, OnTrenchFloor, s.TravellerOn)
	}
	return f
}

// lengths refuses lengths that cannot be.
func (s *Setout) lengths(f *[]Fault) {
	add := (*faults)(f).add
	for _, x := range []struct {
		key string
		l   *Length
	}{{"every", s.Every}, {"station", s.Station}, {"wall", s.Wall}, {"spacing", s.Spacing}, {"receiver", s.Receiver}, {"traveller", s.Traveller}} {
		if x.l != nil && x.l.Length <= 0 {
			add(x.key, "this length is more than nought; write one, or leave the key out")
		}
	}
	if s.Bedding != nil && s.Bedding.Length < 0 {
		add("bedding", "a thickness has no minus sign; 0 mm is a pipe laid on the bottom of the trench")
	}
	for _, x := range []struct {
		key string
		l   *Length
	}{{"from", s.From}, {"to", s.To}} {
		if x.l != nil && x.l.Length < 0 {
			add(x.key, "a run begins at chainage nought; write a chainage without a minus sign")
		}
	}
	if s.From != nil && s.To != nil && s.From.Length > s.To.Length {
		add("from", "the range begins beyond its end, no chainage lies in it; exchange \"from\" and \"to\"")
	}
}

// Validate asks for one source of ground levels.
func (g *Ground) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch {
	case g.Surface == "" && g.File == "":
		add("", "nothing says where the levels of the ground are; add \"surface:\" with the name of a design, or \"file:\"")
	case g.Surface != "" && g.File != "":
		add("file", "the ground has a surface and a file; keep one of them")
	case g.File == "" && !g.empty():
		add("surface", "how a file is read is said here, and there is no file; leave those keys out, or add \"file:\"")
	}
	return f
}

// empty reports whether nothing is said of how a file is read.
func (r *Reading) empty() bool {
	return r.Sheet == "" && r.Unit == nil && len(r.Columns) == 0 && r.Delimiter == "" && r.Decimal == "" && r.Encoding == ""
}

// setouts looks up what the set-out sheets name elsewhere in the job, and
// refuses a job that asks for nothing.
func (j *Job) setouts(f *faults) {
	if len(j.Checks) == 0 && len(j.Setout) == 0 {
		f.add("", "the job asks for nothing; add \"checks:\" for what is judged, or \"setout:\" for what is set out")
	}
	for i := range j.Setout {
		j.setout(f, fmt.Sprintf("setout[%d]", i), &j.Setout[i])
	}
}

func (j *Job) setout(f *faults, path string, s *Setout) {
	if d := j.design(f, path+".design", s.Design); d != nil {
		switch {
		case s.Run() && !d.IsNetwork():
			f.add(path+".design", "the sheet lists pipes, and the design %q (line %d) is no pipe network; name one that is, or leave \"pipes\" out", s.Design, d.Line)
		case !s.Run() && d.IsNetwork():
			f.add(path+".design", "the design %q (line %d) is a pipe network, and the sheet does not say which of its pipes; add \"pipes:\"", s.Design, d.Line)
		}
	}
	if s.Ground != nil && s.Ground.Surface != "" {
		if d := j.design(f, path+".ground.surface", s.Ground.Surface); d != nil && d.Surface == "" {
			f.add(path+".ground.surface", "the design %q (line %d) is no surface; name one that is", s.Ground.Surface, d.Line)
		}
	}
	var setups []string
	laserDate := ""
	for k := range j.LaserSetups {
		setups = append(setups, j.LaserSetups[k].Name)
		if j.LaserSetups[k].Name == s.Laser {
			laserDate = j.LaserSetups[k].Date
		}
	}
	switch {
	case s.Laser != "" && len(setups) == 0:
		f.add(path+".laser", "the job has no laser set-ups; add %q to \"laserSetups\"", s.Laser)
	case s.Laser != "" && !slices.Contains(setups, s.Laser):
		f.add(path+".laser", "no laser set-up is named %q; the set-ups of this job are %s%s", s.Laser, list(quoted(setups)), didYouMean(s.Laser, setups))
	case s.Date == "" && laserDate == "" && j.SurveyDate == "":
		f.add(path, "the sheet has no date, and a sheet in a trench must show its own; add \"date:\" to it, to its laser set-up, or \"surveyDate:\" to the job")
	}
}

// design finds a design by its name.
func (j *Job) design(f *faults, path, name string) *Design {
	names := make([]string, len(j.Designs))
	for k := range j.Designs {
		if j.Designs[k].Name == name {
			return &j.Designs[k]
		}
		names[k] = j.Designs[k].Name
	}
	f.add(path, "no design is named %q; the designs of this job are %s%s", name, list(quoted(names)), didYouMean(name, names))
	return nil
}
