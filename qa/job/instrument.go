package job

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// TwoPeg is a two-peg test of a level, as observed.
type TwoPeg struct {
	Date   string    `yaml:"date" json:"date" jsonschema:"required,description=Date of the test"`
	Mid    *PegSight `yaml:"mid,omitempty" json:"mid,omitempty" jsonschema:"description=Set-up between the pegs; midway when it has no distances"`
	End    PegSight  `yaml:"end" json:"end" jsonschema:"required,description=Set-up near one peg or beyond it"`
	KnownA *Length   `yaml:"knownA,omitempty" json:"knownA,omitempty" jsonschema:"description=Known level of peg A in place of the set-up between"`
	KnownB *Length   `yaml:"knownB,omitempty" json:"knownB,omitempty" jsonschema:"description=Known level of peg B in place of the set-up between"`
	Limit  LineLimit `yaml:"limit,omitempty" json:"limit,omitempty" jsonschema:"description=Largest error of the line of sight"`
	Source string    `yaml:"limitSource,omitempty" json:"limitSource,omitempty" jsonschema:"description=Who sets the limit"`
}

// PegSight is one set-up of a two-peg test.
type PegSight struct {
	A   Length  `yaml:"a" json:"a" jsonschema:"required,description=Reading on peg A"`
	B   Length  `yaml:"b" json:"b" jsonschema:"required,description=Reading on peg B"`
	ToA *Length `yaml:"toA,omitempty" json:"toA,omitempty" jsonschema:"description=Length of the sight to A; 0 m where the eyepiece was measured over it"`
	ToB *Length `yaml:"toB,omitempty" json:"toB,omitempty" jsonschema:"description=Length of the sight to B"`
}

// Rotating is the check of a rotating laser: one staff read with four sides of
// the instrument towards it.
type Rotating struct {
	Date     string    `yaml:"date" json:"date" jsonschema:"required,description=Date of the check"`
	Distance Length    `yaml:"distance" json:"distance" jsonschema:"required,description=Distance to the staff"`
	R0       *Length   `yaml:"r0,omitempty" json:"r0,omitempty" jsonschema:"description=Reading with side 0 towards the staff"`
	R90      *Length   `yaml:"r90,omitempty" json:"r90,omitempty" jsonschema:"description=Reading with side 90 towards the staff"`
	R180     *Length   `yaml:"r180,omitempty" json:"r180,omitempty" jsonschema:"description=Reading with side 180 towards the staff"`
	R270     *Length   `yaml:"r270,omitempty" json:"r270,omitempty" jsonschema:"description=Reading with side 270 towards the staff"`
	Cone     *Cone     `yaml:"cone,omitempty" json:"cone,omitempty" jsonschema:"description=Near and far peg of known difference; without them the cone error is not tested"`
	Limit    LineLimit `yaml:"limit,omitempty" json:"limit,omitempty" jsonschema:"description=Largest error of either axis and of the cone"`
	Source   string    `yaml:"limitSource,omitempty" json:"limitSource,omitempty" jsonschema:"description=Who sets the limit"`
}

// Cone is what shows a cone error.
type Cone struct {
	Near  Facing `yaml:"near" json:"near" jsonschema:"required,description=The near peg"`
	Far   Facing `yaml:"far" json:"far" jsonschema:"required,description=The far peg"`
	Known Length `yaml:"known" json:"known" jsonschema:"required,description=Level of the far peg minus that of the near one"`
}

// Facing is a peg read with two opposite sides of the instrument towards it.
type Facing struct {
	Distance Length `yaml:"distance" json:"distance" jsonschema:"required,description=Distance to the peg"`
	R0       Length `yaml:"r0" json:"r0" jsonschema:"required,description=Reading with side 0 towards it"`
	R180     Length `yaml:"r180" json:"r180" jsonschema:"required,description=Reading with side 180 towards it"`
}

// LineLimit is the largest error of a line of sight: "10 mm in 100 m".
type LineLimit struct{ levels.LineLimit }

// UnmarshalText reads "10 mm in 100 m" or "0.1 mm/m".
func (l *LineLimit) UnmarshalText(text []byte) (err error) {
	l.LineLimit, err = levels.ParseLineLimit(string(text))
	return err
}

// Test is the two-peg test for the arithmetic; that of nil is not supplied.
func (t *TwoPeg) Test() levels.TwoPeg {
	if t == nil {
		return levels.TwoPeg{}
	}
	out := levels.TwoPeg{Date: t.Date, End: t.End.setup(), KnownA: value(t.KnownA), KnownB: value(t.KnownB), Limit: t.Limit.LineLimit}
	if t.Mid != nil {
		out.Mid = t.Mid.setup()
	}
	return out
}

func (s *PegSight) setup() levels.PegSetup {
	return levels.PegSetup{A: s.A.Length, B: s.B.Length, DistA: value(s.ToA), DistB: value(s.ToB)}
}

func value(l *Length) levels.Value {
	if l == nil {
		return levels.Value{}
	}
	return levels.Of(l.Length)
}

// Check is the check of a rotating laser for the arithmetic; that of nil is not
// supplied.
func (c *Rotating) Check() levels.RotatingCheck {
	if c == nil {
		return levels.RotatingCheck{}
	}
	out := levels.RotatingCheck{Date: c.Date, Distance: levels.Of(c.Distance.Length), R0: value(c.R0), R90: value(c.R90), R180: value(c.R180), R270: value(c.R270), Limit: c.Limit.LineLimit}
	if k := c.Cone; k != nil {
		face := func(f Facing) levels.Facing {
			return levels.Facing{R0: f.R0.Length, R180: f.R180.Length, Distance: levels.Of(f.Distance.Length)}
		}
		out.Cone = levels.ConeCheck{Near: face(k.Near), Far: face(k.Far), Known: levels.Of(k.Known.Length)}
	}
	return out
}

// Validate works the test out: what it lacks is a fault of the job.
func (t *TwoPeg) Validate() (f []Fault) {
	if _, err := t.Test().Result(); err != nil {
		(*faults)(&f).add("", "%v", err)
	}
	return limitSource(f, t.Limit, t.Source)
}

// Validate works the check out.
func (c *Rotating) Validate() (f []Fault) {
	if _, err := c.Check().Result(); err != nil {
		(*faults)(&f).add("", "%v", err)
	}
	return limitSource(f, c.Limit, c.Source)
}

func limitSource(f []Fault, l LineLimit, source string) []Fault {
	if l.Given() && source == "" {
		(*faults)(&f).add("limit", "the limit %q has no source; add \"limitSource:\" with who sets it", l.Text)
	}
	return f
}

// Corrections of the staff readings of level books, each off unless it is asked
// for.
type Corrections struct {
	Collimation string           `yaml:"collimation,omitempty" json:"collimation,omitempty" jsonschema:"description=Instrument whose two-peg test corrects every sight by its length"`
	Curvature   Curvature        `yaml:"curvatureAndRefraction,omitempty" json:"curvatureAndRefraction,omitempty" jsonschema:"description=Coefficient such as 0.0673 m at 1 km"`
	Staffs      map[string]Staff `yaml:"staffs,omitempty" json:"staffs,omitempty" jsonschema:"description=Zero error and scale of each staff by its name"`
}

// Curvature is a coefficient of curvature and refraction: "0.0673 m at 1 km".
type Curvature struct{ levels.Curvature }

// UnmarshalText reads "0.0673 m at 1 km" or "refraction 0.13, radius 6371 km".
func (c *Curvature) UnmarshalText(text []byte) (err error) {
	c.Curvature, err = levels.ParseCurvature(string(text))
	return err
}

// Staff is what is wrong with a staff.
type Staff struct {
	Zero  *Length `yaml:"zero,omitempty" json:"zero,omitempty" jsonschema:"description=Added to the length read from the foot"`
	Scale PPM     `yaml:"scale,omitempty" json:"scale,omitempty" jsonschema:"description=Parts per million that the staff is too long such as 25 ppm"`
}

// PPM is a scale in parts per million: "25 ppm".
type PPM struct{ unit.Decimal }

// UnmarshalText reads "25 ppm".
func (p *PPM) UnmarshalText(text []byte) error {
	number, ok := strings.CutSuffix(strings.TrimSpace(string(text)), "ppm")
	d, exact, err := unit.ParseDecimal(strings.TrimSpace(number))
	if !ok || err != nil || !exact {
		return fmt.Errorf("%q is not a scale; write parts per million, such as \"25 ppm\"", text)
	}
	p.Decimal = d
	return nil
}

// Corrected is the corrections for the arithmetic; collimation comes from the
// two-peg test that they name.
func (j *Job) Corrected() levels.Corrections {
	k := j.Levelling.Corrections
	if k == nil {
		return levels.Corrections{}
	}
	out := levels.Corrections{Curvature: k.Curvature.Curvature}
	for i := range j.Instruments {
		if in := &j.Instruments[i]; in.Name == k.Collimation {
			if r, err := in.TwoPeg.Test().Result(); err == nil && r.Supplied {
				out.Collimation = r.Error
			}
		}
	}
	for name, s := range k.Staffs {
		if out.Staffs == nil {
			out.Staffs = map[string]levels.Staff{}
		}
		staff := levels.Staff{PPM: s.Scale.Decimal}
		if s.Zero != nil {
			staff.Zero = s.Zero.Length
		}
		out.Staffs[name] = staff
	}
	return out
}

// Validate asks for something to correct.
func (c *Corrections) Validate() (f []Fault) {
	if c.Collimation == "" && !c.Curvature.Given() && len(c.Staffs) == 0 {
		(*faults)(&f).add("", "nothing is to be corrected; add \"collimation:\", \"curvatureAndRefraction:\" or \"staffs:\", or leave corrections out")
	}
	return f
}

// collimator looks up the two-peg test that corrections name.
func (j *Job) collimator(f *faults) {
	k := j.Levelling.Corrections
	if k == nil || k.Collimation == "" {
		return
	}
	var with []string
	for i := range j.Instruments {
		if j.Instruments[i].TwoPeg != nil {
			with = append(with, j.Instruments[i].Name)
		}
	}
	if !slices.Contains(with, k.Collimation) {
		f.add("levelling.corrections.collimation", "no instrument %q of the job has a two-peg test (key twoPeg); the error of its line of sight is not known", k.Collimation)
	}
}

// Reciprocal is a line levelled from both ends.
type Reciprocal struct {
	From      string    `yaml:"from" json:"from" jsonschema:"required,description=Point at one end"`
	To        string    `yaml:"to" json:"to" jsonschema:"required,description=Point at the other end"`
	AtFrom    Bank      `yaml:"atFrom" json:"atFrom" jsonschema:"required,description=Readings with the instrument at the first point"`
	AtTo      Bank      `yaml:"atTo" json:"atTo" jsonschema:"required,description=Readings with the instrument at the other point"`
	Distance  *Length   `yaml:"distance,omitempty" json:"distance,omitempty" jsonschema:"description=Length of the line"`
	Curvature Curvature `yaml:"curvatureAndRefraction,omitempty" json:"curvatureAndRefraction,omitempty" jsonschema:"description=Coefficient such as 0.0673 m at 1 km that splits the error"`
	Date      string    `yaml:"date,omitempty" json:"date,omitempty" jsonschema:"description=Date"`
}

// Bank holds the readings from one end; that on the near point may be the height
// of the eyepiece over it.
type Bank struct {
	From Length `yaml:"from" json:"from" jsonschema:"required,description=Reading on the first point"`
	To   Length `yaml:"to" json:"to" jsonschema:"required,description=Reading on the other point"`
}

// Levelled is the line for the arithmetic.
func (r *Reciprocal) Levelled() levels.Reciprocal {
	return levels.Reciprocal{AtA: levels.Bank{A: r.AtFrom.From.Length, B: r.AtFrom.To.Length}, AtB: levels.Bank{A: r.AtTo.From.Length, B: r.AtTo.To.Length},
		Distance: value(r.Distance), Curvature: r.Curvature.Curvature}
}

// Validate works the line out.
func (r *Reciprocal) Validate() (f []Fault) {
	if _, err := r.Levelled().Result(); err != nil {
		(*faults)(&f).add("", "%v", err)
	}
	if r.From == r.To {
		(*faults)(&f).add("to", "the line begins and ends on %q; name two points", r.To)
	}
	return f
}
