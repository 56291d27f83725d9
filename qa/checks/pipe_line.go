package checks

import (
	"fmt"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// PipeLine compares the plan place of every shot with the straight line between the
// pits of its pipe.
var PipeLine = &qa.Check{
	Name:  "pipeLine",
	Title: "Pipes in plan: offset from the straight line between the pits",
	Doc: "How far every selected shot lies beside the straight line between the design places of the pits of its pipe. What was staffed does not matter. " +
		"A shot that names its pipe may lie at any offset; one that does not must lie within reach of it.",
	Formula: "offset = distance from the line through the two pits, + to the right looking downstream, worked out exactly and rounded once.",
	Source:  "geometry; limits are set by the contract, as in the code of the Carmel Area Wastewater District (preset carmel-sewer-line, seen)",
	Example: "pits 30 m apart due north, a shot 25 mm east of the line between them: +25 mm, 25 mm to the right.",
	Params:  func() any { return &PipeLineParams{} },
	Start:   startPipeLine,
}

// PipeLineParams are the parameters of the check in a job file.
type PipeLineParams struct {
	job.Common `yaml:",inline"`
	OnPipes    `yaml:",inline"`
	Tolerance  SizeTolerance `yaml:"tolerance" json:"tolerance" jsonschema:"required,description=Limits of the offset; + is to the right looking downstream"`
}

// ToleranceOf returns the limits, for the checks of the job file.
func (p *PipeLineParams) ToleranceOf() *job.Tolerance { return p.Tolerance.fixed() }

// Validate refuses distances that cannot be.
func (p *PipeLineParams) Validate() []job.Fault { return p.OnPipes.faults() }

func startPipeLine(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*PipeLineParams)
	on, err := newPipes(&p.OnPipes, p.Design, set)
	if err != nil {
		return nil, err
	}
	on.anyOffset = true
	t, err := p.Tolerance.in(set.Frame, "plan")
	if err != nil {
		return nil, err
	}
	return &lineMeasurer{pipes: on, tolerance: tolerances(on.sizes, t), general: p.Tolerance.fixed().Limits(), seen: make([]bool, len(on.network.Pipes))}, nil
}

type lineMeasurer struct {
	*pipes
	tolerance byPipe
	general   limits.Tolerance
	seen      []bool // pipes with an assessed shot
}

func (m *lineMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		m.one(&shots[i], &rows[i])
	}
}

func (m *lineMeasurer) one(s *convert.Shot, r *qa.Row) {
	r.Quantity, r.Limits = qa.QuantityLine, m.general
	if !s.Placed {
		r.Reason = "it has no place in plan: no easting and northing, and its name is in no peg list of the job"
		return
	}
	spots, ok := m.put(s, r)
	switch {
	case !ok:
		return
	case len(spots) > 1 && !m.inLine(spots):
		r.Reason = fmt.Sprintf("pipes %s and %s meet here at an angle; name the pipe in a column \"run\"", m.network.Pipes[spots[0].pipe].Name, m.network.Pipes[spots[1].pipe].Name)
		return
	}
	i := spots[0].pipe
	p := &m.network.Pipes[i]
	r.Limits = m.tolerance[i].Tolerance
	if m.tolerance[i].why != "" {
		r.Reason = m.tolerance[i].why
		return
	}
	_, offset := m.network.Project(i, s.Place)
	r.Measured, r.Diff, r.Compared = offset, offset, true
	r.DesignAt = fmt.Sprintf("line from %s to %s", m.network.Pits[p.US].Name, m.network.Pits[p.DS].Name)
	r.Verdict, r.Beyond = r.Limits.Judge(offset)
	side := "right"
	if offset < 0 {
		side = "left"
	}
	r.Reason = fmt.Sprintf("%s mm to the %s of the line between the pits, looking downstream", offset.Abs().Fixed(unit.MM, 0), side)
	if s.Use == convert.Assessed {
		m.seen[i] = true
	}
}

// inLine reports whether the pipes that meet at a place run on in one line there, so
// that the offset from the one is that from the other: their pits lie in one line,
// in the same direction.
func (m *lineMeasurer) inLine(spots []spot) bool {
	first := &m.network.Pipes[spots[0].pipe]
	for _, s := range spots[1:] {
		p := &m.network.Pipes[s.pipe]
		for _, pit := range []int{p.US, p.DS} {
			if _, off := m.network.Project(spots[0].pipe, m.network.Pits[pit].Place); off != 0 {
				return false
			}
		}
		us, _ := m.network.Project(spots[0].pipe, m.network.Pits[p.US].Place)
		ds, _ := m.network.Project(spots[0].pipe, m.network.Pits[p.DS].Place)
		if us >= ds || first.Length == 0 {
			return false
		}
	}
	return true
}

// Finish names the pipes without a shot.
func (m *lineMeasurer) Finish() (rows []qa.Row, remarks []string) {
	for i := range m.network.Pipes {
		if !m.covered[i] || m.seen[i] {
			continue
		}
		why := "no shot on this pipe was assessed"
		if bad := m.network.Pipes[i].Bad; bad != "" {
			why = bad
		}
		rows = append(rows, m.none(qa.QuantityLine, i, why))
	}
	return rows, nil
}
