package checks

import (
	"fmt"
	"math"
	"strconv"

	"sightrail/convert"
	"sightrail/convert/mesh"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Volume reckons what is above and below design between two surfaces.
var Volume = &qa.Check{
	Name:  "volume",
	Title: "Volumes above and below design, and the mean level of an area",
	Doc: "The surface of triangles between the shots is compared with the design surface: volume above and below design, and separately what is beyond the limits, with the plan areas that were compared, that have no shots around them and that have no design. " +
		"Each lot in a polygon is reckoned by itself, else the area that the shots are selected by, else all that the shots cover. Volumes are figures that nothing is judged by; where the job gives limits of the mean level, the mean difference of each area is judged.",
	Formula: "every triangle as built is cut by every triangle of the design that it overlaps; over each piece the difference is plane, and what lies between is a prism with a closed form. Mean level = (volume above − volume below) ÷ area compared; one that is no further beyond a limit than the rounding of its sums, far below a nanometre, is on it. A mean is judged where all of its area has both surfaces, or the share of it that the job asks for. " +
		"Volumes beyond the limits are those over design + upper and under design + lower.",
	Source:  "TIN difference by prisms: M. Vose, 1857, and later texts on earthwork, for the prismoid. Common practice, no published source, for the mean.",
	Example: "a pad of 10 m × 10 m whose shots are all 20 mm above design: 2.000 m³ above, mean level +20 mm; beyond an upper limit of 15 mm lie 0.500 m³.",
	Informs: true,
	Params:  func() any { return &VolumeParams{} },
	Start:   startVolume,
}

// VolumeParams are the parameters of the check in a job file.
type VolumeParams struct {
	job.Common `yaml:",inline"`
	Offset     *job.Length      `yaml:"offset,omitempty" json:"offset,omitempty" jsonschema:"description=Stage offset added to the design level; minus is below it"`
	Made       job.DesignPoints `yaml:"made,omitempty" json:"made,omitempty" jsonschema:"description=How the shots are triangulated: breaklines and boundary"`
	Beyond     *job.Tolerance   `yaml:"beyond,omitempty" json:"beyond,omitempty" jsonschema:"description=Limits of the level; what lies beyond them is reckoned by itself"`
	Mean       *job.Tolerance   `yaml:"mean,omitempty" json:"mean,omitempty" jsonschema:"description=Limits of the mean difference from design of each area and their source"`
	Covered    *int             `yaml:"coveredPercent,omitempty" json:"coveredPercent,omitempty" jsonschema:"minimum=1,maximum=100,description=Share of an area that must have both a surface of shots and a design for its mean to be judged; 100 when left out"`
}

// Validate looks at the parts.
func (p *VolumeParams) Validate() (faults []job.Fault) {
	switch {
	case p.Covered == nil:
	case *p.Covered < 1 || *p.Covered > 100:
		faults = append(faults, job.Fault{Key: "coveredPercent", Text: "a share of the area is from 1 to 100"})
	case p.Mean == nil:
		faults = append(faults, job.Fault{Key: "coveredPercent", Text: "it says when a mean is judged, and there is no \"mean:\"; add it or leave the key out"})
	}
	return append(faults, p.Made.Validate()...)
}

// maxVolumeShots is how many shots a volume check keeps.
const maxVolumeShots = 1_000_000

type volumeMeasurer struct {
	params *VolumeParams
	frame  *convert.Frame
	design *convert.Surface
	areas  []patchOf
	shots  []convert.Shot
	count  int
	out    []qa.Figure
}

func startVolume(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*VolumeParams)
	m := &volumeMeasurer{params: p, frame: set.Frame, design: set.Design.Surfaces[p.Design]}
	if m.design == nil {
		return nil, fmt.Errorf("the design %q is no surface that could be read", p.Design)
	}
	m.areas = areasOf(set)
	if len(m.areas) == 0 {
		m.areas = []patchOf{{words: "all that the shots cover"}}
	}
	return m, nil
}

func (m *volumeMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		s, r := &shots[i], &rows[i]
		r.Quantity = qa.QuantityMean
		if !corner(s, r, "it is a corner of the surface that volumes are reckoned from") {
			continue
		}
		if m.count++; m.count <= maxVolumeShots {
			m.shots = append(m.shots, detached(s))
		}
	}
}

// corner tells whether a shot is a corner of the surface between the shots, and what
// it is used for or why not.
func corner(s *convert.Shot, r *qa.Row, use string) bool {
	switch {
	case s.Use != convert.Assessed: // keeps its reason
	case !s.Levelled:
		r.Reason = "it has no level, and is no part of the surface"
	case s.Staffed != "" && s.Staffed != "surface":
		r.Reason = fmt.Sprintf("the staff stood on the %s, not on the surface", s.Staffed)
	case !s.Placed:
		r.Reason = "it has no place: no easting and northing, and its name is in no peg list of the job"
	default:
		r.Shot.Use, r.Reason = convert.Control, use
		return true
	}
	return false
}

// Finish reckons the volumes, area by area.
func (m *volumeMeasurer) Finish() (rows []qa.Row, remarks []string) {
	if m.count == 0 {
		return nil, nil
	}
	built, design, why := m.layers()
	for i := range m.areas {
		a := &m.areas[i]
		r := qa.Row{Quantity: qa.QuantityMean, Shot: m.at(a), DesignAt: a.words}
		r.Shot.Lot, r.Shot.Levelled = a.lot, false
		if m.params.Mean != nil {
			r.Limits = m.params.Mean.Limits()
		}
		if r.Reason = why; why == "" {
			r.Reason = m.reckon(a, built, design, &r)
		}
		if r.Reason != "" || m.params.Mean != nil {
			rows = append(rows, r)
		}
	}
	return rows, nil
}

// at is a shot to show an area at: the first that lies in it.
func (m *volumeMeasurer) at(a *patchOf) convert.Shot {
	for i := range m.shots {
		if a.region == nil || a.region.Contains(mesh.Place(m.shots[i].Place)) {
			return m.shots[i]
		}
	}
	return m.shots[0]
}

// layers makes both surfaces, or says why there are none.
func (m *volumeMeasurer) layers() (built, design *mesh.Layer, why string) {
	if m.count > maxVolumeShots {
		return nil, nil, fmt.Sprintf("the check has %d shots, more than the %d that are kept; make a check of each part of the work", m.count, maxVolumeShots)
	}
	s, problems := convert.NewSurfaceOfShots("the shots", m.shots, qa.MadeOf(&m.params.Made), m.frame)
	if s == nil {
		return nil, nil, fmt.Sprintf("the shots make no surface: %s: %s", problems[0].Pos, problems[0].Text)
	}
	built, err := s.Layer(0, nil)
	if err != nil {
		return nil, nil, "the shots make no surface: " + err.Error()
	}
	var places []convert.Place
	for i := range m.shots {
		places = append(places, m.shots[i].Place)
	}
	var offset unit.Length
	if m.params.Offset != nil {
		offset = m.params.Offset.Length
	}
	if design, err = m.design.Layer(offset, places); err != nil {
		return nil, nil, err.Error()
	}
	return built, design, ""
}

// reckon compares the surfaces in an area, keeps its figures and judges its mean; it
// returns why there is none.
func (m *volumeMeasurer) reckon(a *patchOf, built, design *mesh.Layer, r *qa.Row) string {
	if a.why != "" {
		return a.words + " has no area that can be worked with: " + a.why
	}
	t := limits.Tolerance{}
	if m.params.Beyond != nil {
		t = m.params.Beyond.Limits()
	}
	// a side without a limit has nothing beyond it
	lower, upper := -unit.MaxLength/4, unit.MaxLength/4
	if t.HasLower {
		lower = t.Lower
	}
	if t.HasUpper {
		upper = t.Upper
	}
	v, err := mesh.Compare(built, design, a.region, lower, upper)
	if err != nil {
		return err.Error()
	}
	of := a.words
	if a.lot != "" {
		of = "lot " + a.lot
	}
	side := m.frame.Unit.Size.Metres()
	name := m.frame.Unit.Name
	number := func(what string, value float64, power, places int) {
		value /= math.Pow(side, float64(power))
		m.out = append(m.out, qa.Figure{Of: of, Name: what, Value: value, Unit: name + map[int]string{2: "²", 3: "³"}[power], Print: strconv.FormatFloat(value, 'f', places, 64)})
	}
	number("volume above design", v.Above, 3, 3)
	number("volume below design", v.Below, 3, 3)
	number("area above design", v.AreaAbove, 2, 2)
	number("area below design", v.AreaBelow, 2, 2)
	if t.HasUpper {
		number("volume beyond the upper limit, "+t.Upper.Exact(unit.MM, 0)+" mm", v.Over, 3, 3)
		number("area beyond the upper limit", v.AreaOver, 2, 2)
	}
	if t.HasLower {
		number("volume beyond the lower limit, "+t.Lower.Exact(unit.MM, 0)+" mm", v.Under, 3, 3)
		number("area beyond the lower limit", v.AreaUnder, 2, 2)
	}
	number("area compared", v.Compared, 2, 2)
	number("area without a surface of shots", v.NoBuilt, 2, 2)
	number("area without design", v.NoDesign, 2, 2)
	if v.Compared == 0 {
		return "nothing of " + a.words + " has both a surface of shots and a design"
	}
	mean := (v.Above - v.Below) / v.Compared
	m.out = append(m.out, qa.Figure{Of: of, Name: "mean difference", Value: mean * 1000, Unit: "mm", Print: strconv.FormatFloat(mean*1000, 'f', 1, 64)})
	if v.Doubled > 0 {
		return fmt.Sprintf("%s m² of %s lie under two faces of a surface, so that volumes count them twice", strconv.FormatFloat(v.Doubled, 'f', 3, 64), a.words)
	}
	if m.params.Mean == nil {
		return ""
	}
	share := 100
	if m.params.Covered != nil {
		share = *m.params.Covered
	}
	if v.Compared < v.Area*float64(share)/100*(1-areaNoise) {
		return fmt.Sprintf("%s %% of %s has both a surface of shots and a design, and %d %% is asked for (coveredPercent); the mean of a part says nothing about the rest", strconv.FormatFloat(math.Floor(1000*v.Compared/v.Area)/10, 'f', 1, 64), a.words, share)
	}
	l, err := unit.FromMetres(mean)
	if err != nil {
		return err.Error()
	}
	r.Measured = l
	noise, err := unit.FromMetres(volumeNoise * (v.Above + v.Below) / v.Compared)
	if err != nil {
		return err.Error()
	}
	for _, x := range []struct {
		has bool
		at  unit.Length
	}{{r.Limits.HasLower, r.Limits.Lower}, {r.Limits.HasUpper, r.Limits.Upper}} {
		if x.has && (l-x.at).Abs() <= noise+1 {
			r.Measured = x.at
		}
	}
	r.Diff, r.Compared = r.Measured, true
	r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
	return ""
}

// volumeNoise and areaNoise bound the rounding of sums, relative to what was added up:
// they agree with exact ones to 1e-12.
const (
	volumeNoise = 1e-11
	areaNoise   = 1e-9
)

// Figures are the volumes and areas.
func (m *volumeMeasurer) Figures() []qa.Figure { return m.out }
