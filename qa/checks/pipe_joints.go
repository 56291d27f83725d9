package checks

import (
	"cmp"
	"fmt"

	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// StepLimits are how high a step at a joint may be, and which shots stand at one.
type StepLimits struct {
	Within        *job.Length `yaml:"within,omitempty" json:"within,omitempty" jsonschema:"description=Two neighbouring shots no further apart than this stand on the two sides of a joint"`
	Pairs         [][2]string `yaml:"pairs,omitempty" json:"pairs,omitempty" jsonschema:"description=Names of the two shots at a joint; several pairs"`
	SizeTolerance `yaml:",inline"`
}

// Validate asks for a way to tell which shots stand at a joint.
func (s *StepLimits) Validate() (f []job.Fault) {
	f = s.SizeTolerance.Validate()
	switch {
	case s.Within == nil && len(s.Pairs) == 0:
		f = append(f, job.Fault{Text: "nothing says which shots stand at a joint; add \"within:\" (such as 0.3 m) or \"pairs:\""})
	case s.Within != nil && s.Within.Length <= 0:
		f = append(f, job.Fault{Key: "within", Text: "two sides of a joint are more than nought apart"})
	}
	for i, p := range s.Pairs {
		if p[0] == p[1] {
			f = append(f, job.Fault{Key: fmt.Sprintf("pairs[%d]", i), Text: fmt.Sprintf("both sides of the joint are %q; name two shots", p[0])})
		}
	}
	return f
}

// steps judges the steps of a pipe: the built fall between the two sides of a joint
// against the design fall over the same distance. + is a side downstream that
// stands high.
func (m *pipeMeasurer) steps(i int) (rows []qa.Row) {
	if m.params.Step == nil {
		return nil
	}
	on := m.on[i]
	if w := m.params.Step.Within; w != nil {
		for k := 1; k < len(on); k++ {
			if apart := on[k].along - on[k-1].along; apart > 0 && apart <= w.Length {
				rows = append(rows, m.step(i, &on[k-1], &on[k]))
			}
		}
	}
	for p := range m.params.Step.Pairs {
		pair := m.params.Step.Pairs[p]
		var side [2]*onPipe
		for k := range on {
			for s := range side {
				if on[k].shot.ID != pair[s] {
					continue
				}
				if side[s] != nil {
					m.pairs[p] = fmt.Sprintf("pipe %s has two shots %q", m.network.Pipes[i].Name, pair[s])
				}
				side[s] = &on[k]
			}
		}
		if side[0] == nil || side[1] == nil || m.pairs[p] != "" {
			continue
		}
		m.found[p] = true
		if side[1].along < side[0].along {
			side[0], side[1] = side[1], side[0]
		}
		rows = append(rows, m.step(i, side[0], side[1]))
	}
	return rows
}

func (m *pipeMeasurer) step(i int, up, down *onPipe) qa.Row {
	p := &m.network.Pipes[i]
	r := m.row(qa.QuantityStep, i, down)
	r.Design, r.Measured = p.InvertAt(down.along)-p.InvertAt(up.along), down.invert-up.invert
	r.Diff, r.Compared, r.DesignAt = r.Measured-r.Design, true, "fall of pipe "+p.Name+" from "+up.shot.ID
	r.U, r.HasU = up.shot.Worth.UncertaintyTo(down.shot.Worth)
	r.Reason = fmt.Sprintf("step at the joint from %s to %s, %s apart", up.shot.ID, down.shot.ID, inUnit(m.frame, down.along-up.along))
	if why := m.stepLimits[i].why; why != "" {
		r.Reason, r.Compared = why, false
		return r
	}
	r.Limits = m.stepLimits[i].Tolerance
	r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
	return r
}

// lostPairs are the pairs of the job that no pipe has.
func (m *pipeMeasurer) lostPairs() (rows []qa.Row) {
	if m.params.Step == nil {
		return nil
	}
	for p, pair := range m.params.Step.Pairs {
		if m.found[p] {
			continue
		}
		r := qa.Row{Quantity: qa.QuantityStep, Reason: cmp.Or(m.pairs[p], fmt.Sprintf("no pipe has assessed shots %q and %q, which the job names as the two sides of a joint", pair[0], pair[1]))}
		r.Shot.ID = pair[0]
		rows = append(rows, r)
	}
	return rows
}

// drops compares, in every pit, the drop from each pipe that comes in to each that
// leaves: invert of the one less invert of the other.
func (m *pipeMeasurer) drops() (rows []qa.Row, oneShot []string) {
	leaves := make([][]int, len(m.network.Pits)) // pipes by pit
	for k := range m.network.Pipes {
		if p := &m.network.Pipes[k]; p.Bad == "" && m.covered[k] {
			leaves[p.US] = append(leaves[p.US], k)
		}
	}
	for in := range m.network.Pipes {
		a := &m.network.Pipes[in]
		if a.Bad != "" || !m.covered[in] {
			continue
		}
		pit := m.network.Pits[a.DS].Name
		for _, out := range leaves[a.DS] {
			b := &m.network.Pipes[out]
			r, one := m.drop(pit, in, out)
			switch {
			case one:
				oneShot = append(oneShot, a.Name+" to "+b.Name+" in pit "+pit)
			case m.params.Drop != nil:
				rows = append(rows, r)
			case r.Compared:
				of := a.Name + " to " + b.Name + " in " + pit
				for _, x := range []struct {
					name string
					l    unit.Length
				}{{"design drop", r.Design}, {"built drop", r.Measured}} {
					m.figures = append(m.figures, qa.Figure{Of: of, Name: x.name, Value: x.l.Millimetres(), Unit: "mm", Print: x.l.Fixed(unit.MM, 0)})
				}
			}
		}
	}
	return rows, oneShot
}

// drop is that of one pipe to another in a pit; one says that one shot stands for
// both, which proves nothing of a drop.
func (m *pipeMeasurer) drop(pit string, in, out int) (r qa.Row, one bool) {
	a, b := &m.network.Pipes[in], &m.network.Pipes[out]
	from, to := m.on[in], m.on[out]
	none := func(pipe, end string) qa.Row {
		r := m.none(qa.QuantityDrop, in, fmt.Sprintf("drop from %s to %s in pit %s: no shot at the %s end of %s", a.Name, b.Name, pit, end, pipe))
		r.DesignAt = "pit " + pit
		return r
	}
	switch {
	case len(from) == 0 || !m.atDS(in, from[len(from)-1].along):
		return none(a.Name, "downstream"), false
	case len(to) == 0 || !m.atUS(to[0].along):
		return none(b.Name, "upstream"), false
	}
	over, under := &from[len(from)-1], &to[0]
	if over.shot.Pos == under.shot.Pos {
		return r, true
	}
	if m.params.Drop == nil { // two figures are told, and no row
		return qa.Row{Design: a.DSInvert - b.USInvert, Measured: over.invert - under.invert, Compared: true}, false
	}
	r = m.row(qa.QuantityDrop, in, over)
	r.Design, r.Measured = a.DSInvert-b.USInvert, over.invert-under.invert
	r.Diff, r.Compared, r.DesignAt = r.Measured-r.Design, true, "pit "+pit
	r.U, r.HasU = over.shot.Worth.UncertaintyTo(under.shot.Worth)
	r.Reason = fmt.Sprintf("drop from %s (%s) to %s (%s) in pit %s", a.Name, over.shot.ID, b.Name, under.shot.ID, pit)
	if r.Measured < 0 {
		r.Note = fmt.Sprintf("%s leaves %s mm higher than %s comes in: water stands back into it", b.Name, (-r.Measured).Exact(unit.MM, 0), a.Name)
	}
	// a drop is of two pipes; a share of the size is taken of the one that comes in
	if why := m.dropLimits[in].why; why != "" {
		r.Reason, r.Compared = why, false
		return r, false
	}
	r.Limits = m.dropLimits[in].Tolerance
	r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
	return r, false
}
