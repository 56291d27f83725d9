package checks

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Pipe compares the invert of every shot with the design invert at its place,
// and judges the fall of each pipe.
var Pipe = &qa.Check{
	Name:  "pipe",
	Title: "Pipe inverts, grade and backfall",
	Doc: "The invert at every selected shot, at the ends and between, minus the design invert at its place along the pipe; " +
		"what was staffed is turned into the invert by bore and wall. The grade as built from end to end against the least grade. " +
		"Backfall: a shot that is higher than the one upstream of it by more than the allowance.",
	Formula: "difference = invert of the shot − (upstream invert − fall × distance from the upstream end / length of the pipe). " +
		"Grade as built = (upstream − downstream invert as built) / distance between the two shots; it meets 1 in N when fall × N ≥ distance, exactly. " +
		"Backfall = invert of a shot − invert of the shot upstream of it, when above 0.",
	Source:  "geometry; invert tolerances are set by the contract, as in Tauranga City Council Infrastructure Development Code, CS-9.4 and CS-11 (seen)",
	Example: "design 24.850 m and 24.700 m over 30 m, built 24.856 m and 24.691 m: +6 mm and −9 mm, grade as built 1 in 181.8; a shot of 24.684 m at 20 m rises 7 mm towards the end: backfall, though both ends pass.",
	Presets: []string{"invert", "level"},
	Params:  func() any { return &PipeParams{} },
	Start:   startPipe,
}

// PipeParams are the parameters of the check in a job file.
type PipeParams struct {
	job.Common   `yaml:",inline"`
	Tolerance    job.Tolerance `yaml:"tolerance" json:"tolerance" jsonschema:"required"`
	Pipes        []string      `yaml:"pipes,omitempty" json:"pipes,omitempty" jsonschema:"description=Pipes that this check covers; all of the network when left out"`
	LeastGrade   *job.Grade    `yaml:"leastGrade,omitempty" json:"leastGrade,omitempty" jsonschema:"description=Least fall from end to end of a pipe"`
	GradeSource  string        `yaml:"gradeSource,omitempty" json:"gradeSource,omitempty" jsonschema:"description=Clause or drawing that sets the least grade"`
	Backfall     *job.Length   `yaml:"backfall,omitempty" json:"backfall,omitempty" jsonschema:"description=Rise towards downstream that is allowed between neighbouring shots; 0 mm when left out"`
	BackfallFrom string        `yaml:"backfallSource,omitempty" json:"backfallSource,omitempty" jsonschema:"description=Clause or drawing that allows the backfall"`
	Reach        *job.Length   `yaml:"reach,omitempty" json:"reach,omitempty" jsonschema:"description=How far from the line of a pipe or from its end a shot may lie in plan; 0.5 m when left out"`
	ChainageFrom string        `yaml:"chainageFrom,omitempty" json:"chainageFrom,omitempty" jsonschema:"enum=upstream,enum=downstream,description=End of each pipe that the chainage of its shots counts from"`
}

// defaultReach is how far from its pipe a shot may lie: half a metre covers a
// staff held in a pit of usual size. Common practice, no published source.
const defaultReach = unit.Metre / 2

// ToleranceOf returns the limits, for the checks of the job file.
func (p *PipeParams) ToleranceOf() *job.Tolerance { return &p.Tolerance }

// Validate asks for the source of every limit that is given, and refuses
// distances that cannot be.
func (p *PipeParams) Validate() (faults []job.Fault) {
	if p.LeastGrade != nil && p.GradeSource == "" {
		faults = append(faults, job.Fault{Key: "leastGrade", Text: "a least grade needs its source beside it: \"gradeSource\", the clause or drawing that sets it"})
	}
	if p.LeastGrade != nil && p.LeastGrade.Rise < 0 {
		faults = append(faults, job.Fault{Key: "leastGrade", Text: "a least grade is a fall and has no minus sign"})
	}
	if p.Backfall != nil && p.Backfall.Length > 0 && p.BackfallFrom == "" {
		faults = append(faults, job.Fault{Key: "backfall", Text: "an allowance for backfall needs its source beside it: \"backfallSource\", the clause or drawing that allows it"})
	}
	if p.Backfall != nil && p.Backfall.Length < 0 {
		faults = append(faults, job.Fault{Key: "backfall", Text: "an allowance has no minus sign; 0 mm allows no rise towards downstream"})
	}
	if p.Reach != nil && p.Reach.Length < 0 {
		faults = append(faults, job.Fault{Key: "reach", Text: "a distance has no minus sign"})
	}
	return faults
}

func startPipe(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*PipeParams)
	n := set.Design.Networks[p.Design]
	if n == nil {
		return nil, fmt.Errorf("the design %q is no pipe network that could be read", p.Design)
	}
	m := &pipeMeasurer{params: p, frame: set.Frame, network: n, tolerance: p.Tolerance.Limits(), reach: defaultReach, on: make([][]onPipe, len(n.Pipes)), covered: make([]bool, len(n.Pipes))}
	if p.Reach != nil {
		m.reach = p.Reach.Length
	}
	m.backfall = limits.Tolerance{HasUpper: true, Source: "this check: a drain does not rise towards downstream"}
	if p.Backfall != nil && p.Backfall.Length > 0 {
		m.backfall.Upper, m.backfall.Source = p.Backfall.Length, p.BackfallFrom
	}
	m.byName = map[string]int{}
	for i := range n.Pipes {
		m.byName[n.Pipes[i].Name] = i
		m.covered[i] = len(p.Pipes) == 0
	}
	for _, name := range p.Pipes {
		i, ok := m.byName[name]
		if !ok {
			return nil, fmt.Errorf("the network %q has no pipe %q", n.Name, name)
		}
		m.covered[i] = true
	}
	return m, nil
}

type pipeMeasurer struct {
	params    *PipeParams
	frame     *convert.Frame
	network   *convert.Network
	tolerance limits.Tolerance
	backfall  limits.Tolerance
	reach     unit.Length
	byName    map[string]int
	covered   []bool
	on        [][]onPipe // by pipe: the shots that may be used for its fall
}

// onPipe is one shot on one pipe.
type onPipe struct {
	shot   convert.Shot
	along  unit.Length
	invert unit.Length
	shared bool // its row stands at another pipe that meets this one at the pit
}

func (m *pipeMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		m.one(&shots[i], &rows[i])
	}
}

func (m *pipeMeasurer) one(s *convert.Shot, r *qa.Row) {
	r.Quantity, r.Limits = qa.QuantityInvert, m.tolerance
	if !s.Levelled {
		r.Reason = "it has no level"
		return
	}
	spots, why := m.find(s)
	if why != "" {
		r.Reason = why
		return
	}
	first := spots[0]
	pipe := &m.network.Pipes[first.pipe]
	r.Pipe, r.Along, r.OnPipe = pipe.Name, first.along, true
	if pipe.Bad != "" {
		r.Reason = fmt.Sprintf("nothing can be judged on pipe %s: %s", pipe.Name, pipe.Bad)
		return
	}
	invert, why := asInvert(s, pipe)
	if why != "" {
		r.Reason = why
		return
	}
	r.Design, r.Measured = pipe.InvertAt(first.along), invert
	r.Diff, r.Compared = r.Measured-r.Design, true
	r.DesignAt = fmt.Sprintf("pipe %s, %s %s below %s", pipe.Name, first.along.Fixed(m.frame.Unit, 3), m.frame.Unit.Name, m.network.Pits[pipe.US].Name)
	r.Verdict, r.Beyond = m.tolerance.Judge(r.Diff)
	if r.Verdict == limits.Fail {
		r.Action = m.tolerance.PipeAction(r.Diff)
	}
	if s.Use != convert.Assessed {
		return
	}
	for k, spot := range spots {
		m.on[spot.pipe] = append(m.on[spot.pipe], onPipe{shot: *s, along: spot.along, invert: invert, shared: k > 0})
	}
}

type spot struct {
	pipe  int
	along unit.Length
}

// find places a shot on a pipe: by the name of its run, else by its place in
// plan. Where pipes meet at a pit with one design invert it is on all of them
// and judged on the first; with different inverts it must be named.
func (m *pipeMeasurer) find(s *convert.Shot) ([]spot, string) {
	if s.Run != "" {
		i, ok := m.byName[s.Run]
		switch {
		case !ok:
			return nil, fmt.Sprintf("its run %q is no pipe of the network %s", s.Run, m.network.Name)
		case !m.covered[i]:
			return nil, fmt.Sprintf("this check does not cover pipe %s", s.Run)
		case s.Chained && !s.Placed:
			return m.byChainage(i, s)
		case !s.Placed:
			return nil, "it has no place: neither easting and northing nor a chainage, and its name is in no peg list of the job"
		}
		along, ok := m.near(i, s)
		if !ok {
			return nil, fmt.Sprintf("it is not on pipe %s: more than %s m away in plan", s.Run, m.reach.Exact(unit.M, 1))
		}
		return []spot{{i, along}}, ""
	}
	if !s.Placed {
		return nil, "it has no place: no easting and northing, and its name is in no peg list of the job"
	}
	var spots []spot
	for i := range m.network.Pipes {
		if !m.covered[i] {
			continue
		}
		if along, ok := m.near(i, s); ok {
			spots = append(spots, spot{i, along})
		}
	}
	if len(spots) == 0 {
		return nil, fmt.Sprintf("outside every pipe of the network: none within %s m in plan", m.reach.Exact(unit.M, 1))
	}
	return m.oneInvert(spots)
}

// oneInvert refuses a shot between pipes of different design invert.
func (m *pipeMeasurer) oneInvert(spots []spot) ([]spot, string) {
	// at an end what counts is the invert in the pit: the staff never stands
	// exactly on its centre
	design := func(k int) unit.Length {
		p := &m.network.Pipes[spots[k].pipe]
		switch along := spots[k].along; {
		case along <= m.reach:
			return p.USInvert
		case along >= p.Length-m.reach:
			return p.DSInvert
		default:
			return p.InvertAt(along)
		}
	}
	for k := 1; k < len(spots); k++ {
		a, b := &m.network.Pipes[spots[0].pipe], &m.network.Pipes[spots[k].pipe]
		if a.Bad != "" || b.Bad != "" || design(0) != design(k) {
			return nil, fmt.Sprintf("pipes %s and %s meet here with different inverts; name the pipe in a column \"run\"", a.Name, b.Name)
		}
	}
	return spots, ""
}

func (m *pipeMeasurer) byChainage(i int, s *convert.Shot) ([]spot, string) {
	p := &m.network.Pipes[i]
	along := s.Chainage
	switch m.params.ChainageFrom {
	case "upstream":
	case "downstream":
		along = p.Length - s.Chainage
	default:
		return nil, "it is placed by chainage, and the check does not say from which end chainage counts; declare \"chainageFrom: upstream\" or \"downstream\""
	}
	if along < 0 || along > p.Length {
		return nil, fmt.Sprintf("chainage %s is outside pipe %s, which is %s %s long", s.Chainage.Fixed(m.frame.Unit, 3), p.Name, p.Length.Fixed(m.frame.Unit, 3), m.frame.Unit.Name)
	}
	return []spot{{i, along}}, ""
}

// near projects a shot on a pipe; a place up to reach beyond an end counts as
// the end.
func (m *pipeMeasurer) near(i int, s *convert.Shot) (unit.Length, bool) {
	p := &m.network.Pipes[i]
	along, offset := m.network.Project(i, s.Place)
	if offset.Abs() > m.reach || along < -m.reach || along > p.Length+m.reach {
		return 0, false
	}
	return min(max(along, 0), p.Length), true
}

// asInvert turns what was staffed into the invert.
func asInvert(s *convert.Shot, p *convert.Pipe) (unit.Length, string) {
	need := func(have unit.Length, what string) string {
		if have > 0 {
			return ""
		}
		return fmt.Sprintf("the staff stood on the %s and the design does not say the %s of pipe %s", s.Staffed, what, p.Name)
	}
	switch s.Staffed {
	case "invert":
		return s.Level, ""
	case "soffit":
		return s.Level - p.Bore, need(p.Bore, "bore")
	case "top":
		return s.Level - p.Bore - p.Wall, cmp.Or(need(p.Bore, "bore"), need(p.Wall, "wall thickness"))
	case "bedding":
		return s.Level + p.Wall, need(p.Wall, "wall thickness")
	case "":
		return 0, "nothing says what was staffed; declare \"staffed: invert\" (or soffit, top, bedding) for the survey, or by code"
	}
	return 0, fmt.Sprintf("a shot on the %s cannot be turned into an invert", s.Staffed)
}

// Finish judges what needs all shots of a pipe: its grade and its backfall.
func (m *pipeMeasurer) Finish() (rows []qa.Row, remarks []string) {
	var endsOnly, unjudged []string
	for i := range m.network.Pipes {
		if !m.covered[i] {
			continue
		}
		p, on := &m.network.Pipes[i], m.on[i]
		slices.SortStableFunc(on, func(a, b onPipe) int { return cmp.Compare(a.along, b.along) })
		if len(on) == 0 {
			why := "no shot on this pipe was assessed"
			if p.Bad != "" {
				why = p.Bad
			}
			rows = append(rows, qa.Row{Quantity: qa.QuantityGrade, Pipe: p.Name, DesignGrade: p.Grade(), Reason: why,
				Shot: convert.Shot{ID: p.Name, Pos: p.Pos}, DesignAt: "pipe " + p.Name})
			continue
		}
		grade, built := m.grade(p, on)
		if m.params.LeastGrade != nil {
			rows = append(rows, grade)
		} else if built {
			unjudged = append(unjudged, fmt.Sprintf("%s %s (design %s)", p.Name, grade.Grade.OneIn(), p.Grade().OneIn()))
		}
		rows = append(rows, m.backfalls(p, on)...)
		if m.between(p, on) == 0 {
			endsOnly = append(endsOnly, p.Name)
		}
	}
	if len(unjudged) > 0 {
		remarks = append(remarks, "Grade as built, not judged because the job gives no least grade: "+strings.Join(unjudged, "; ")+".")
	}
	if len(endsOnly) > 0 {
		remarks = append(remarks, "Shots at the ends only, a sag between them cannot be seen: "+strings.Join(endsOnly, ", ")+".")
	}
	return rows, remarks
}

// between counts the shots that are at neither end.
func (m *pipeMeasurer) between(p *convert.Pipe, on []onPipe) int {
	n := 0
	for _, o := range on {
		if o.along > m.reach && o.along < p.Length-m.reach {
			n++
		}
	}
	return n
}

// grade judges the fall between the shots nearest to the two ends.
func (m *pipeMeasurer) grade(p *convert.Pipe, on []onPipe) (r qa.Row, built bool) {
	us, ds := on[0], on[len(on)-1]
	r = qa.Row{Quantity: qa.QuantityGrade, Pipe: p.Name, DesignGrade: p.Grade(), DesignAt: "pipe " + p.Name,
		Shot: convert.Shot{ID: p.Name, Pos: ds.shot.Pos, Place: ds.shot.Place, Placed: ds.shot.Placed}}
	switch {
	case us.along > m.reach:
		r.Reason = fmt.Sprintf("no shot at the upstream end (%s)", m.network.Pits[p.US].Name)
		return r, false
	case ds.along < p.Length-m.reach:
		r.Reason = fmt.Sprintf("no shot at the downstream end (%s)", m.network.Pits[p.DS].Name)
		return r, false
	}
	r.Grade = unit.Grade{Rise: us.invert - ds.invert, Run: ds.along - us.along}
	r.Reason = fmt.Sprintf("from %s to %s", us.shot.ID, ds.shot.ID)
	r.U, r.HasU = us.shot.Worth.UncertaintyTo(ds.shot.Worth)
	if least := m.params.LeastGrade; least != nil {
		r.Limits.Source = m.params.GradeSource
		r.LeastGrade = least.Grade
		r.Verdict = limits.LeastGrade(r.Grade.Rise, r.Grade.Run, least.Grade)
		r.Beyond = limits.Shortfall(r.Grade.Rise, r.Grade.Run, least.Grade)
	}
	return r, true
}

// backfalls compares every shot with the one upstream of it.
func (m *pipeMeasurer) backfalls(p *convert.Pipe, on []onPipe) (rows []qa.Row) {
	for k := 1; k < len(on); k++ {
		up, down := &on[k-1], &on[k]
		if up.along == down.along {
			continue // two shots at one place have no upstream
		}
		r := qa.Row{Quantity: qa.QuantityBackfall, Shot: down.shot, Pipe: p.Name, Along: down.along, OnPipe: true, Limits: m.backfall,
			Design: up.invert, Measured: down.invert, Diff: down.invert - up.invert, Compared: true, DesignAt: "shot " + up.shot.ID + " upstream, " + up.shot.Pos.String()}
		r.U, r.HasU = up.shot.Worth.UncertaintyTo(down.shot.Worth)
		r.Verdict, r.Beyond = m.backfall.Judge(r.Diff)
		switch {
		case r.Verdict == limits.Fail:
			r.Reason = fmt.Sprintf("backfall: %s is %s mm higher than %s, which is upstream of it", down.shot.ID, m.backfall.Printed(r.Diff), up.shot.ID)
			r.Action = m.backfall.PipeAction(r.Diff)
		case r.Diff == 0:
			r.Reason = fmt.Sprintf("flat: level with %s upstream of it", up.shot.ID)
		default:
			r.Reason = "from " + up.shot.ID
		}
		rows = append(rows, r)
	}
	return rows
}
