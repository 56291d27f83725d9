package checks

import (
	"fmt"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/convert/surface"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Surface compares the level of every shot with the design surface at its
// place.
var Surface = &qa.Check{
	Name:  "surface",
	Title: "Level against a design surface, plane, line or level table",
	Doc: "The level of every selected shot minus the level of the design at its place: a surface of triangles, read or made of points, a plane, a graded line, or a table of levels by name or by chainage and offset; plus a stage offset, " +
		"vertical or square to the design (formation = finished surface − 0.450 m). Parts of the surface may have limits of their own, inside an outline or near a line. Where the job says what places are worth in plan, " +
		"a note says what that is in level if it is more than a third of the tolerance (from its middle to a limit). A place on an edge or vertex is on the surface; a place outside the visible faces is not assessed.",
	Formula: "difference = level of the shot − (design level at its place + offset); + is high. Cut or fill is to design, not to the limit. " +
		"On a triangle the design level is that of the plane through its three corners, worked out exactly and rounded once. " +
		"An offset square to the design counts as offset × √(1 + slope²) vertically, the slope being that of the design at the place.",
	Source:  "difference against each point's design level: UK Specification for Highway Works, Series 700, cl. 702; MoRTH Specifications, cl. 902 (both seen through other documents). Interpolation in a triangle is geometry.",
	Example: "design 12.320 m, shot 12.345 m, limits −30 to +25 mm: difference +25 mm, on the limit, pass. At 12.346 m: +26 mm, fail, cut 26.",
	Presets: []string{"level"},
	Single:  true,
	Params:  func() any { return &SurfaceParams{} },
	Start:   startSurface,
}

// SurfaceParams are the parameters of the check in a job file.
type SurfaceParams struct {
	job.Common `yaml:",inline"`
	Offset     *job.Length        `yaml:"offset,omitempty" json:"offset,omitempty" jsonschema:"description=Stage offset added to the design level; minus is below it"`
	Along      string             `yaml:"offsetAlong,omitempty" json:"offsetAlong,omitempty" jsonschema:"enum=vertical,enum=normal,default=vertical,description=Direction of the offset: vertical; or normal to the design where it slopes"`
	Tolerance  job.ZonedTolerance `yaml:"tolerance" json:"tolerance" jsonschema:"required,description=Limits and their source; or a preset; zones may have others"`
}

// ToleranceOf returns the limits outside all zones, for the checks of the job file.
func (p *SurfaceParams) ToleranceOf() *job.Tolerance { return &p.Tolerance.Tolerance }

// ZonesOf returns the zones with limits of their own.
func (p *SurfaceParams) ZonesOf() []job.Zone { return p.Tolerance.Zones }

// StageOffset is what is added to the design level, for the report, and whether
// the job gives any.
func (p *SurfaceParams) StageOffset() (unit.Length, bool) {
	if p.Offset == nil {
		return 0, false
	}
	return p.Offset.Length, true
}

// OffsetNormal tells whether the stage offset is square to the design.
func (p *SurfaceParams) OffsetNormal() bool { return p.Along == "normal" }

// Validate asks for an offset where its direction is given.
func (p *SurfaceParams) Validate() (faults []job.Fault) {
	if p.Along != "" && p.Offset == nil {
		faults = append(faults, job.Fault{Key: "offsetAlong", Text: "there is no offset that this would be the direction of; add \"offset:\" or leave the key out"})
	}
	return faults
}

func startSurface(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*SurfaceParams)
	s := set.Design.Surfaces[p.Design]
	if s == nil {
		return nil, fmt.Errorf("the design %q is no surface that could be read", p.Design)
	}
	m := &surfaceMeasurer{surface: s, normal: p.Along == "normal", tolerance: p.Tolerance.Limits(), zones: set.Zones, planWorth: set.PlanWorth}
	if p.Offset != nil {
		m.offset = p.Offset.Length
	}
	return m, nil
}

type surfaceMeasurer struct {
	surface   *convert.Surface
	offset    unit.Length
	normal    bool // the offset is square to the design
	tolerance limits.Tolerance
	zones     []*qa.Zone
	planWorth []unit.Length // by survey
}

func (m *surfaceMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		if i%surface.Touched == 0 {
			m.surface.Ready(shots[i:])
		}
		s, r := &shots[i], &rows[i]
		r.Quantity, r.Limits = qa.QuantityLevel, m.tolerance
		switch {
		case !s.Levelled:
			r.Reason = "it has no level"
			continue
		case s.Staffed != "" && s.Staffed != "surface":
			r.Reason = fmt.Sprintf("the staff stood on the %s, not on the surface", s.Staffed)
			continue
		}
		z, face, from, why := m.surface.Level(s)
		if why != "" {
			r.Reason = why
			continue
		}
		offset := m.offset
		if m.normal && offset != 0 {
			if offset, why = m.surface.Raised(s, offset); why != "" {
				r.Reason = why
				continue
			}
		}
		if c, o, ok := m.surface.Chain(s); ok && !s.Chained {
			r.Shot.Chainage, r.Shot.Offset, r.Shot.Chained = c, o, true
		}
		r.Design, r.Measured = z+offset, s.Level
		r.Diff, r.Compared = r.Measured-r.Design, true
		r.DesignAt, r.On, r.Face = from, m.surface, face
		if why := m.zone(s, r); why != "" {
			r.Reason, r.Compared = why, false
			continue
		}
		judgeLevel(r)
		m.batter(s, r)
	}
}

// judgeLevel judges the difference of a row by its limits.
func judgeLevel(r *qa.Row) {
	r.Verdict, r.Beyond = r.Limits.JudgeThere(r.Diff)
	r.Action = ""
	if r.Verdict == limits.Fail {
		r.Action = r.Limits.SurfaceAction(r.Diff)
	}
}

// ByPlace is the surface where nothing but place and level of a shot counts: without
// zones, and with an offset that is the same everywhere.
func (m *surfaceMeasurer) ByPlace() *convert.Surface {
	if len(m.zones) > 0 || m.normal && m.offset != 0 || !m.surface.ByPlace() {
		return nil
	}
	return m.surface
}

// At judges a shot that stood on the surface over a level of the design.
func (m *surfaceMeasurer) At(r *qa.Row, z unit.Length) {
	r.Design, r.Measured = z+m.offset, r.Shot.Level
	r.Diff = r.Measured - r.Design
	judgeLevel(r)
}

// zone gives a row the limits of the first zone that the shot lies in, else those
// for everywhere else. why tells that they cannot be known.
func (m *surfaceMeasurer) zone(s *convert.Shot, r *qa.Row) (why string) {
	if len(m.zones) > 0 && !s.Placed {
		return "it has no place, and its limits depend on the zone it lies in"
	}
	for _, z := range m.zones {
		switch {
		case z.Cannot != "":
			return z.Cannot
		case z.Holds(s.Place):
			r.Limits, r.Note = z.Limits, "zone "+z.Name
			return ""
		}
	}
	if !r.Limits.Given() {
		return "it lies in no zone of the tolerance, and there is no limit for elsewhere"
	}
	return ""
}

// batterShare is the share of the tolerance, from its middle to a limit, from
// which on the effect of an error in plan is said: one in so many.
const batterShare = 3

// batter says what an error of the place in plan is in level, where the design
// slopes and that is more than a third of the tolerance. It changes no verdict.
func (m *surfaceMeasurer) batter(s *convert.Shot, r *qa.Row) {
	if s.Survey >= len(m.planWorth) || m.planWorth[s.Survey] == 0 {
		return
	}
	slope, ok := m.surface.SlopeAt(s.Place)
	if !ok || slope == 0 {
		return
	}
	plan := m.planWorth[s.Survey].Millimetres()
	level, room := slope*plan, halfWidth(r.Limits).Millimetres()
	if level*batterShare <= room {
		return
	}
	note := fmt.Sprintf("a plan error of %s mm is %s mm in level here (slope 1 in %s)", places(plan, 0), places(level, 0), places(1/slope, 1))
	if r.Note != "" {
		note = r.Note + "; " + note
	}
	r.Note = note
}

// places prints a figure of a note, with a tenth where it is below ten.
func places(f float64, n int) string {
	if f < 10 {
		n = 1
	}
	return strings.TrimSuffix(strconv.FormatFloat(f, 'f', n, 64), ".0")
}

// halfWidth is half the distance between two limits, or the distance of the one
// limit from the design.
func halfWidth(t limits.Tolerance) unit.Length {
	switch {
	case t.HasLower && t.HasUpper:
		return t.Upper/2 - t.Lower/2
	case t.HasUpper:
		return t.Upper.Abs()
	}
	return t.Lower.Abs()
}

// Finish says what lies in the zones.
func (m *surfaceMeasurer) Finish() (rows []qa.Row, remarks []string) {
	for _, z := range m.zones {
		if z.Cannot == "" {
			remarks = append(remarks, fmt.Sprintf("Zone %s: %s. Limits %s.", z.Name, z.Words, z.Limits))
		}
	}
	return nil, remarks
}
