package checks

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Thickness compares the thickness of a layer with the one that is specified.
var Thickness = &qa.Check{
	Name:  "thickness",
	Title: "Thickness of a layer between what was built below it and its top",
	Doc: "The level of every shot on top of a layer minus the level of what lies below it, minus the specified thickness. What lies below is a design entry made of as-built levels (a surface, or a table of levels by name), or shots of the same job that \"lower\" names: " +
		"then they are joined to the top by name, by place within a distance, or by the surface of triangles between them. A place with nothing below it is not assessed.",
	Formula: "thickness = level on top − level below at the same place; difference = thickness − specified, + is thick. Along the normal of the lower surface: vertical thickness ÷ √(1 + slope²); " +
		"it is judged by the vertical thickness that each limit comes to there, exactly. u is that of the difference of the two levels, without what they share; over a triangle, the largest of its three corners.",
	Source:   "thickness from levels before and after: UK Specification for Highway Works, Series 700, cl. 702, and TNZ B/02:2005 (both seen through other documents). Common practice, no published source, for the join by place.",
	Example:  "bottom 10.000 m, top 10.146 m, specified 150 mm, limits −5 to +15 mm: 146 mm thick, difference −4 mm, pass; at 10.144 m −6 mm, fail.",
	Presets:  []string{"thickness"},
	NoDesign: true,
	Params:   func() any { return &ThicknessParams{} },
	Start:    startThickness,
}

// ThicknessParams are the parameters of the check in a job file.
type ThicknessParams struct {
	job.Common `yaml:",inline"`
	Specified  job.Length       `yaml:"specified" json:"specified" jsonschema:"required,description=Thickness that is specified"`
	Direction  string           `yaml:"direction,omitempty" json:"direction,omitempty" jsonschema:"enum=vertical,enum=normal,default=vertical,description=How the thickness is measured: vertical; or normal to the lower surface"`
	Lower      *job.Shots       `yaml:"lower,omitempty" json:"lower,omitempty" jsonschema:"description=Which shots of the check lie below the layer; in place of design"`
	Join       string           `yaml:"join,omitempty" json:"join,omitempty" jsonschema:"enum=surface,enum=name,enum=place,default=surface,description=How a shot on top finds what lies below: the triangles between the lower shots; the lower shot of the same name; or the nearest one"`
	Within     *job.Length      `yaml:"within,omitempty" json:"within,omitempty" jsonschema:"description=How far apart in plan two shots of one place may lie; with join: place"`
	Made       job.DesignPoints `yaml:"made,omitempty" json:"made,omitempty" jsonschema:"description=How the lower shots are triangulated: breaklines and boundary"`
	Tolerance  job.Tolerance    `yaml:"tolerance" json:"tolerance" jsonschema:"required,description=Limits of built minus specified thickness and their source; or a preset"`
}

// ToleranceOf returns the limits, for the checks of the job file.
func (p *ThicknessParams) ToleranceOf() *job.Tolerance { return &p.Tolerance }

// Validate refuses keys that do not go together.
func (p *ThicknessParams) Validate() (faults []job.Fault) {
	add := func(key, text string) { faults = append(faults, job.Fault{Key: key, Text: text}) }
	if p.Specified.Length <= 0 {
		add("specified", "a layer is thicker than nothing")
	}
	switch {
	case p.Lower == nil && p.Design == "":
		add("", "nothing says what lies below the layer; add \"design:\" with the name of a design made of as-built levels, or \"lower:\" with the shots")
	case p.Lower != nil && p.Design != "":
		add("lower", "the design lies below the layer already; leave one of design and lower out")
	case p.Lower == nil && p.Join != "":
		add("join", "it tells how shots find those of \"lower:\", and there is no \"lower:\"")
	}
	if p.Lower != nil && (p.Lower.Polygon != nil || p.Lower.Chainage != nil) {
		add("lower", "lower shots are told by surveys, names, codes, layers or runs")
	}
	switch {
	case p.Join == "place" && (p.Within == nil || p.Within.Length < 0):
		add("within", "a join by place needs the distance within which two shots are of one place, such as \"within: 200 mm\"")
	case p.Join != "place" && p.Within != nil:
		add("within", "a distance is for \"join: place\"")
	case p.Direction == "normal" && (p.Join == "name" || p.Join == "place"):
		add("direction", "a thickness normal to the lower surface needs that surface; leave \"join:\" out")
	}
	return append(faults, p.Made.Validate()...)
}

// maxLayerShots is how many shots a thickness check with lower shots keeps.
const maxLayerShots = 1_000_000

type thicknessMeasurer struct {
	params    *ThicknessParams
	frame     *convert.Frame
	below     *convert.Surface // a design; nil with lower shots
	tolerance limits.Tolerance
	top, low  []convert.Shot
	count     int
}

func startThickness(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*ThicknessParams)
	m := &thicknessMeasurer{params: p, frame: set.Frame, tolerance: p.Tolerance.Limits()}
	if p.Lower == nil {
		if m.below = set.Design.Surfaces[p.Design]; m.below == nil {
			return nil, fmt.Errorf("the design %q is no surface that could be read", p.Design)
		}
	}
	return m, nil
}

func (m *thicknessMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		s, r := &shots[i], &rows[i]
		r.Quantity, r.Limits = qa.QuantityThickness, m.tolerance
		switch {
		case !s.Levelled:
			r.Reason = "it has no level"
		case s.Staffed != "" && s.Staffed != "surface":
			r.Reason = fmt.Sprintf("the staff stood on the %s, not on the surface", s.Staffed)
		case m.below != nil:
			z, face, from, why := m.below.Level(s)
			if r.Reason = why; why == "" {
				r.DesignAt, r.On, r.Face = from, m.below, face
				r.Reason = m.judge(r, s, z, m.below)
			}
		case s.Use != convert.Assessed: // keeps its reason
		default:
			m.keep(s, r)
		}
	}
}

// keep keeps a shot for Finish.
func (m *thicknessMeasurer) keep(s *convert.Shot, r *qa.Row) {
	if !s.Placed && m.params.Join != "name" {
		r.Reason = "it has no place: no easting and northing, and its name is in no peg list of the job"
		return
	}
	r.Shot.Use = convert.Control
	if m.count++; m.count > maxLayerShots {
		return
	}
	l := m.params.Lower
	if l.Matches(s.ID, s.Code, s.Layer, s.Run, s.Pos.File) {
		r.Reason = "it lies below the layer"
		m.low = append(m.low, detached(s))
		return
	}
	r.Reason = "the thickness at it is worked out with what lies below"
	m.top = append(m.top, detached(s))
}

// judge fills in a row with a level below; it returns why there is no thickness.
func (m *thicknessMeasurer) judge(r *qa.Row, s *convert.Shot, below unit.Length, surface *convert.Surface) string {
	specified, thick := m.params.Specified.Length, s.Level-below
	r.Design, r.Compared = specified, true
	if m.params.Direction != "normal" {
		r.Measured, r.Diff = thick, thick-specified
		r.Verdict, r.Beyond = m.tolerance.Judge(r.Diff)
		return ""
	}
	// the vertical thickness that each limit comes to
	t := m.tolerance
	for _, x := range []struct {
		has bool
		l   *unit.Length
	}{{t.HasLower, &t.Lower}, {t.HasUpper, &t.Upper}} {
		if !x.has {
			continue
		}
		v, why := surface.Raised(s, specified+*x.l)
		if why != "" {
			r.Compared = false
			return why
		}
		*x.l = v
	}
	metre, why := surface.Raised(s, unit.Metre)
	if why != "" {
		r.Compared = false
		return why
	}
	r.Measured = unit.MulDiv(thick, unit.Metre, metre)
	r.Diff = r.Measured - specified
	r.Verdict, _ = t.Judge(thick)
	if r.Verdict == limits.Fail {
		if _, r.Beyond = m.tolerance.Judge(r.Diff); r.Beyond == 0 { // past it by less than one count
			r.Beyond = unit.Length(1)
			if thick < 0 || t.HasLower && thick < t.Lower {
				r.Beyond = -1
			}
		}
	}
	return ""
}

// Finish joins the shots on top with those below.
func (m *thicknessMeasurer) Finish() (rows []qa.Row, remarks []string) {
	if m.below != nil {
		return nil, nil
	}
	base := qa.Row{Quantity: qa.QuantityThickness, Limits: m.tolerance}
	if m.count > maxLayerShots {
		r := base
		r.Shot = m.first()
		r.Reason = fmt.Sprintf("the check has %d shots, more than the %d that are kept; make a check of each part of the work", m.count, maxLayerShots)
		return []qa.Row{r}, nil
	}
	find, why := m.join()
	for i := range m.top {
		s := &m.top[i]
		r := base
		r.Shot = *s
		if r.Reason = why; why == "" {
			find(s, &r)
		}
		rows = append(rows, r)
	}
	if len(m.top) == 0 && len(m.low) > 0 {
		r := base
		r.Shot, r.Reason = m.first(), "every shot of the check lies below the layer by \"lower:\", and none on top"
		rows = append(rows, r)
	}
	return rows, nil
}

func (m *thicknessMeasurer) first() convert.Shot {
	if len(m.top) > 0 {
		return m.top[0]
	}
	return m.low[0]
}

// join readies the search for what lies below; why says that there is none for any.
func (m *thicknessMeasurer) join() (find func(*convert.Shot, *qa.Row), why string) {
	if len(m.low) == 0 {
		return nil, "no shot of the check lies below the layer by \"lower:\""
	}
	switch m.params.Join {
	case "name":
		byName := map[string][]int{}
		for i := range m.low {
			byName[m.low[i].ID] = append(byName[m.low[i].ID], i)
		}
		return func(s *convert.Shot, r *qa.Row) {
			switch at := byName[s.ID]; {
			case s.ID == "":
				r.Reason = "it has no name that a lower shot could have too"
			case len(at) == 0:
				r.Reason = "no lower shot is named " + s.ID
			case len(at) > 1:
				r.Reason = fmt.Sprintf("%d lower shots are named %s: %s and %s", len(at), s.ID, m.low[at[0]].Pos, m.low[at[1]].Pos)
			default:
				m.over(s, r, at[0])
			}
		}, ""
	case "place":
		return m.byPlace(), ""
	}
	surface, problems := convert.NewSurfaceOfShots("the shots below", m.low, qa.MadeOf(&m.params.Made), m.frame)
	if surface == nil {
		p := problems[0]
		return nil, strings.TrimPrefix(fmt.Sprintf("the shots below make no surface: %s: %s", p.Pos, p.Text), " ")
	}
	return func(s *convert.Shot, r *qa.Row) {
		z, face, from, why := surface.Level(s)
		if r.Reason = why; why != "" {
			return
		}
		r.DesignAt, r.On, r.Face = from, surface, face
		if r.Reason = m.judge(r, s, z, surface); r.Reason != "" {
			return
		}
		corners, _ := surface.Corners(s.Place)
		r.HasU = true
		for _, c := range corners {
			if int(c) >= len(m.low) {
				continue // a crossing of lines
			}
			u, ok := s.Worth.UncertaintyTo(m.low[c].Worth)
			r.U, r.HasU = math.Max(r.U, u), r.HasU && ok
		}
	}, ""
}

// over judges a shot over one lower shot.
func (m *thicknessMeasurer) over(s *convert.Shot, r *qa.Row, below int) {
	low := &m.low[below]
	r.DesignAt = cmp.Or(low.ID, "a shot without name") + " (" + low.Pos.String() + ")"
	r.Reason = m.judge(r, s, low.Level, nil)
	r.U, r.HasU = s.Worth.UncertaintyTo(low.Worth)
}

// byPlace finds the nearest lower shot within the distance, exactly.
func (m *thicknessMeasurer) byPlace() func(*convert.Shot, *qa.Row) {
	within := m.params.Within.Length
	side := max(within, unit.Millimetre)
	floor := func(l unit.Length) int64 { // towards less, in whole numbers
		q := int64(l / side)
		if l%side < 0 {
			q--
		}
		return q
	}
	cell := func(p convert.Place) [2]int64 { return [2]int64{floor(p.E), floor(p.N)} }
	cells := map[[2]int64][]int{}
	for i := range m.low {
		c := cell(m.low[i].Place)
		cells[c] = append(cells[c], i)
	}
	return func(s *convert.Shot, r *qa.Row) {
		c := cell(s.Place)
		best, twin, near := -1, -1, unit.Length(0)
		for e := c[0] - 1; e <= c[0]+1; e++ {
			for n := c[1] - 1; n <= c[1]+1; n++ {
				for _, i := range cells[[2]int64{e, n}] {
					p := m.low[i].Place
					d := unit.Distance(p.E-s.Place.E, p.N-s.Place.N)
					switch {
					case d > within || best >= 0 && d > near:
					case best < 0 || d < near:
						best, twin, near = i, -1, d
					case m.low[i].Level != m.low[best].Level:
						twin = i
					}
				}
			}
		}
		if best < 0 {
			r.Reason = "no lower shot lies within " + inUnit(m.frame, within) + " of it"
			return
		}
		if twin >= 0 {
			r.Reason = fmt.Sprintf("two lower shots are equally near, %s and %s, with different levels; which of them lies below it is not plain", named(&m.low[min(best, twin)])+" ("+m.low[min(best, twin)].Pos.String()+")", named(&m.low[max(best, twin)])+" ("+m.low[max(best, twin)].Pos.String()+")")
			return
		}
		m.over(s, r, best)
		r.DesignAt += ", " + near.Fixed(unit.MM, 0) + " mm away"
	}
}
