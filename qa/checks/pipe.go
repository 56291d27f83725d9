package checks

import (
	"cmp"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Pipe compares the invert of every shot with the design invert at its place,
// and judges grade, backfall, sag, line, joints and drops of the pipes.
var Pipe = &qa.Check{
	Name:  "pipe",
	Title: "Pipe inverts, grade, backfall, sag, steps and drops",
	Doc: "The invert at every selected shot, at the ends and between, minus the design invert at its place along the pipe; " +
		"what was staffed (invert, soffit, top, collar, bedding, trench bottom) is turned into the invert by bore, wall, collar and bedding, and a difference that equals one of them is named. " +
		"The grade as built from end to end and over a stated base (10 m when left out) against the least grade. " +
		"Backfall: a shot that is higher than the one upstream of it by more than the allowance. " +
		"Sag, in three numbers: below design; below the line between the built ends; ponded depth. " +
		"The offset in level from the line between the built ends, steps at joints and the drop of each pipe that comes into a pit to each that leaves it are judged where the job limits them. " +
		"Capacity as built against design is told, not judged.",
	Formula: "difference = invert of the shot − (upstream invert − fall × distance from the upstream end / length of the pipe). " +
		"Grade as built = (upstream − downstream invert as built) / distance between the two shots; it meets 1 in N when fall × N ≥ distance, exactly. " +
		"Over the base it is judged from every shot to the first one at least the base downstream of it, and to every shot from the last one at least the base upstream of it. " +
		"Backfall = invert of a shot − invert of the shot upstream of it, when above 0. " +
		"Sag: invert − design invert; invert − level of the straight line between the shots at the two ends; invert − highest invert downstream; each where it is lowest. " +
		"Step = (downstream − upstream invert) as built − by design, of the two sides of a joint; + stands high downstream. " +
		"Drop = invert of the pipe that comes in − invert of the pipe that leaves; difference = drop as built − drop by design.",
	Source: "geometry; invert tolerances are set by the contract, as in Tauranga City Council Infrastructure Development Code, CS-9.4 and CS-11 (seen). " +
		"The base of 10 m and the three numbers of a sag are common practice, no published source. Capacity: formulas of Manning and of Colebrook and White.",
	Example: "design 24.850 m and 24.700 m over 30 m, built 24.856 m and 24.691 m: +6 mm and −9 mm, grade as built 1 in 181.8; a shot of 24.684 m at 20 m rises 7 mm towards the end: backfall, though both ends pass. " +
		"It hangs 66 mm below design and 62 mm below the line between the built ends, and water stands 7 mm deep in it.",
	Presets: []string{"invert", "level"},
	Params:  func() any { return &PipeParams{} },
	Start:   startPipe,
}

// PipeParams are the parameters of the check in a job file.
type PipeParams struct {
	job.Common   `yaml:",inline"`
	OnPipes      `yaml:",inline"`
	Tolerance    SizeTolerance  `yaml:"tolerance" json:"tolerance" jsonschema:"required,description=Limits of the inverts; those of the shots between the pits where pitTolerance is given"`
	PitTolerance *SizeTolerance `yaml:"pitTolerance,omitempty" json:"pitTolerance,omitempty" jsonschema:"description=Limits of the inverts in the pits; tolerance when left out"`
	LeastGrade   *job.Grade     `yaml:"leastGrade,omitempty" json:"leastGrade,omitempty" jsonschema:"description=Least fall from end to end of a pipe and over the base"`
	GradeSource  string         `yaml:"gradeSource,omitempty" json:"gradeSource,omitempty" jsonschema:"description=Clause or drawing that sets the least grade"`
	Base         *job.Length    `yaml:"base,omitempty" json:"base,omitempty" jsonschema:"description=Length that the least grade must hold over between shots; 10 m when left out"`
	Backfall     *job.Length    `yaml:"backfall,omitempty" json:"backfall,omitempty" jsonschema:"description=Rise towards downstream that is allowed between neighbouring shots; 0 mm when left out"`
	BackfallFrom string         `yaml:"backfallSource,omitempty" json:"backfallSource,omitempty" jsonschema:"description=Clause or drawing that allows the backfall"`
	Sag          *SagLimits     `yaml:"sag,omitempty" json:"sag,omitempty" jsonschema:"description=How deep a pipe may hang; its sags are told and not judged when left out"`
	InvertLine   *SizeTolerance `yaml:"invertLine,omitempty" json:"invertLine,omitempty" jsonschema:"description=Limits of the offset in level from the straight line between the built ends"`
	Step         *StepLimits    `yaml:"step,omitempty" json:"step,omitempty" jsonschema:"description=Limits of the steps at joints"`
	Drop         *SizeTolerance `yaml:"drop,omitempty" json:"drop,omitempty" jsonschema:"description=Limits of built minus design drop from each pipe that comes into a pit to each that leaves it"`
	Capacity     *Capacity      `yaml:"capacity,omitempty" json:"capacity,omitempty" jsonschema:"description=Capacity as built against design; told and not judged"`
}

// ToleranceOf returns the limits, for the checks of the job file: without figures
// where they depend on the size of the pipe.
func (p *PipeParams) ToleranceOf() *job.Tolerance { return p.Tolerance.fixed() }

// Validate asks for the source of every limit that is given, and refuses
// distances that cannot be.
func (p *PipeParams) Validate() (faults []job.Fault) {
	add := func(key, text string) { faults = append(faults, job.Fault{Key: key, Text: text}) }
	if p.LeastGrade != nil && p.GradeSource == "" {
		add("leastGrade", "a least grade needs its source beside it: \"gradeSource\", the clause or drawing that sets it")
	}
	if p.LeastGrade != nil && p.LeastGrade.Rise < 0 {
		add("leastGrade", "a least grade is a fall and has no minus sign")
	}
	switch {
	case p.Base != nil && p.LeastGrade == nil:
		add("base", "the base is what a least grade must hold over, and there is none; add \"leastGrade:\", or leave the base out")
	case p.Base != nil && p.Base.Length <= 0:
		add("base", "the base is a length above nought")
	}
	if p.Backfall != nil && p.Backfall.Length > 0 && p.BackfallFrom == "" {
		add("backfall", "an allowance for backfall needs its source beside it: \"backfallSource\", the clause or drawing that allows it")
	}
	if p.Backfall != nil && p.Backfall.Length < 0 {
		add("backfall", "an allowance has no minus sign; 0 mm allows no rise towards downstream")
	}
	return append(faults, p.OnPipes.faults()...)
}

func startPipe(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*PipeParams)
	on, err := newPipes(&p.OnPipes, p.Design, set)
	if err != nil {
		return nil, err
	}
	m := &pipeMeasurer{params: p, pipes: on, base: defaultBase, general: p.Tolerance.fixed().Limits(), doubts: make([]mistaken, len(on.network.Pipes))}
	for _, x := range []struct {
		from  *SizeTolerance
		to    *byPipe
		kinds []string
	}{{&p.Tolerance, &m.tolerance, []string{"invert", "level"}}, {p.PitTolerance, &m.pitTolerance, []string{"invert", "level"}}, {p.InvertLine, &m.invertLine, []string{"line"}},
		{p.Drop, &m.dropLimits, nil}} {
		if x.from == nil {
			continue
		}
		t, err := x.from.in(set.Frame, x.kinds...)
		if err != nil {
			return nil, err
		}
		*x.to = tolerances(on.sizes, t)
	}
	if p.PitTolerance == nil {
		m.pitTolerance = m.tolerance
	}
	if p.Step != nil {
		t, err := p.Step.in(set.Frame)
		if err != nil {
			return nil, err
		}
		m.stepLimits = tolerances(on.sizes, t)
		m.found, m.pairs = make([]bool, len(p.Step.Pairs)), make([]string, len(p.Step.Pairs))
	}
	if p.Base != nil {
		m.base = p.Base.Length
	}
	m.backfall = limits.Tolerance{HasUpper: true, Source: "this check: a drain does not rise towards downstream"}
	if p.Backfall != nil && p.Backfall.Length > 0 {
		m.backfall.Upper, m.backfall.Source = p.Backfall.Length, p.BackfallFrom
	}
	return m, nil
}

type pipeMeasurer struct {
	*pipes
	params                             *PipeParams
	tolerance, pitTolerance            byPipe
	invertLine, dropLimits, stepLimits byPipe           // where the job limits them
	general                            limits.Tolerance // of the whole check, in the row of a shot that is on no pipe
	base                               unit.Length
	backfall                           limits.Tolerance
	doubts                             []mistaken // by pipe
	found                              []bool     // pairs of shots at joints
	pairs                              []string   // why a pair cannot be used
	figures                            []qa.Figure
	noBore                             []string
}

func (m *pipeMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		m.one(&shots[i], &rows[i])
	}
}

func (m *pipeMeasurer) one(s *convert.Shot, r *qa.Row) {
	r.Quantity, r.Limits = qa.QuantityInvert, m.general
	if !s.Levelled {
		r.Reason = "it has no level"
		return
	}
	spots, ok := m.put(s, r)
	if !ok {
		return
	}
	i, along := spots[0].pipe, spots[0].along
	pipe := &m.network.Pipes[i]
	invert, why := m.sizes[i].asInvert(s, pipe.Name)
	if why != "" {
		r.Reason = why
		return
	}
	tol := &m.tolerance[i]
	if m.atEnd(i, along) {
		tol = &m.pitTolerance[i]
	}
	r.Limits = tol.Tolerance
	if tol.why != "" {
		r.Reason = tol.why
		return
	}
	r.Design, r.Measured = pipe.InvertAt(along), invert
	r.Diff, r.Compared = r.Measured-r.Design, true
	r.DesignAt = "pipe " + pipe.Name + ", " + inUnit(m.frame, along) + " below " + m.network.Pits[pipe.US].Name
	r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
	if r.Verdict == limits.Fail {
		r.Action = r.Limits.PipeAction(r.Diff)
	}
	if s.Use != convert.Assessed {
		return
	}
	u, hasU := s.Worth.Uncertainty()
	floor, note := m.sizes[i].suspect(s.Staffed, r.Diff, staffWindow(r.Limits.Lower, r.Limits.Upper, u, hasU))
	r.Note = note
	m.doubts[i].add(floor, note)
	m.keep(s, spots, invert)
}

// Finish judges what needs all shots of a pipe.
func (m *pipeMeasurer) Finish() (rows []qa.Row, remarks []string) {
	if why := m.tooMany(); why != "" {
		return []qa.Row{{Quantity: qa.QuantityGrade, Reason: why, Shot: convert.Shot{ID: m.network.Name}}}, []string{why + "."}
	}
	rows = m.room()
	var endsOnly, unjudged []string
	for i := range m.network.Pipes {
		if !m.covered[i] {
			continue
		}
		p := &m.network.Pipes[i]
		slices.SortStableFunc(m.on[i], func(a, b onPipe) int { return cmp.Compare(a.along, b.along) })
		if len(m.on[i]) == 0 {
			rows = append(rows, m.none(qa.QuantityGrade, i, cmp.Or(p.Bad, "no shot on this pipe was assessed")))
			continue
		}
		grade, built := m.grade(i)
		if m.params.LeastGrade != nil {
			rows = append(append(rows, grade), m.falls(i)...)
		} else if built {
			unjudged = append(unjudged, p.Name+" "+grade.Grade.OneIn()+" (design "+p.Grade().OneIn()+")")
		}
		rows = m.backfalls(rows, i)
		rows = append(rows, m.sagRows(i)...)
		rows = append(rows, m.lineRows(i)...)
		rows = append(rows, m.steps(i)...)
		if m.between(i) == 0 {
			endsOnly = append(endsOnly, p.Name)
		}
		m.capacities(i, &grade, built)
		if grade.Note != "" {
			remarks = append(remarks, "Pipe "+p.Name+": "+grade.Note)
		}
		if said := m.doubts[i].remark(p.Name); said != "" {
			remarks = append(remarks, said)
		}
	}
	drops, oneShot := m.drops()
	rows = append(append(rows, drops...), m.lostPairs()...)
	if len(unjudged) > 0 {
		remarks = append(remarks, "Grade as built, not judged because the job gives no least grade: "+strings.Join(unjudged, "; ")+".")
	}
	if len(endsOnly) > 0 {
		remarks = append(remarks, "Shots at the ends only, a sag between them cannot be seen: "+strings.Join(endsOnly, ", ")+".")
	}
	if len(oneShot) > 0 && m.params.Drop != nil {
		remarks = append(remarks, "One shot stands for both pipes, so a drop between them cannot be seen: "+strings.Join(oneShot, "; ")+".")
	}
	return rows, append(remarks, m.capacityRemarks()...)
}

// room makes room for the figures and for the rows of grades and backfalls, which are
// large and would be moved as they grow. Rows of other limits are beyond it.
func (m *pipeMeasurer) room() []qa.Row {
	rows, pipes := 0, 0
	for i, on := range m.on {
		switch {
		case !m.covered[i]:
		case len(on) == 0:
			rows++
		default:
			pipes++
			rows += len(on) - 1
			if m.params.LeastGrade != nil {
				rows++
			}
		}
	}
	m.figures = slices.Grow(m.figures, 7*pipes) // five of a pipe, two of a drop
	return make([]qa.Row, 0, rows)
}

// Figures are the sags, lines and drops that no limit judges, and the capacities.
func (m *pipeMeasurer) Figures() []qa.Figure {
	if len(m.figures) == 0 {
		return nil
	}
	return m.figures
}
