package checks

import (
	"fmt"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Surface compares the level of every shot with the design surface at its
// place.
var Surface = &qa.Check{
	Name:  "surface",
	Title: "Level against a design surface, plane or level table",
	Doc: "The level of every selected shot minus the level of the design at its place: a surface of triangles, a plane, or a table of levels by name; plus a stage offset " +
		"(formation = finished surface − 0.450 m). A place on an edge or vertex is on the surface; a place outside the visible faces is not assessed.",
	Formula: "difference = level of the shot − (design level at its place + offset); + is high. Cut or fill is to design, not to the limit. " +
		"On a triangle the design level is that of the plane through its three corners, worked out exactly and rounded once.",
	Source:  "difference against each point's design level: UK Specification for Highway Works, Series 700, cl. 702; MoRTH Specifications, cl. 902 (both seen through other documents). Interpolation in a triangle is geometry.",
	Example: "design 12.320 m, shot 12.345 m, limits −30 to +25 mm: difference +25 mm, on the limit, pass. At 12.346 m: +26 mm, fail, cut 26.",
	Params:  func() any { return &SurfaceParams{} },
	Start:   startSurface,
}

// SurfaceParams are the parameters of the check in a job file.
type SurfaceParams struct {
	job.Common `yaml:",inline"`
	Offset     *job.Length   `yaml:"offset,omitempty" json:"offset,omitempty" jsonschema:"description=Stage offset added to the design level; minus is below it"`
	Tolerance  job.Tolerance `yaml:"tolerance" json:"tolerance" jsonschema:"required"`
}

// ToleranceOf returns the limits, for the checks of the job file.
func (p *SurfaceParams) ToleranceOf() *job.Tolerance { return &p.Tolerance }

// StageOffset is what is added to the design level, for the report, and whether
// the job gives any.
func (p *SurfaceParams) StageOffset() (unit.Length, bool) {
	if p.Offset == nil {
		return 0, false
	}
	return p.Offset.Length, true
}

func startSurface(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*SurfaceParams)
	s := set.Design.Surfaces[p.Design]
	if s == nil {
		return nil, fmt.Errorf("the design %q is no surface that could be read", p.Design)
	}
	m := &surfaceMeasurer{surface: s, tolerance: p.Tolerance.Limits()}
	if p.Offset != nil {
		m.offset = p.Offset.Length
	}
	return m, nil
}

type surfaceMeasurer struct {
	surface   *convert.Surface
	offset    unit.Length
	tolerance limits.Tolerance
}

func (m *surfaceMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
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
		z, from, why := m.surface.At(s)
		if why != "" {
			r.Reason = why
			continue
		}
		r.Design, r.Measured = z+m.offset, s.Level
		r.Diff, r.Compared = r.Measured-r.Design, true
		r.DesignAt = from
		r.Verdict, r.Beyond = m.tolerance.Judge(r.Diff)
		if r.Verdict == limits.Fail {
			r.Action = m.tolerance.SurfaceAction(r.Diff)
		}
	}
}

func (m *surfaceMeasurer) Finish() ([]qa.Row, []string) { return nil, nil }
