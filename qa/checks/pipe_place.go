package checks

import (
	"fmt"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// OnPipes are the keys of checks whose shots lie along pipes: which pipes, and how a
// shot is placed on one.
type OnPipes struct {
	Pipes        []string    `yaml:"pipes,omitempty" json:"pipes,omitempty" jsonschema:"description=Pipes that this check covers; all of the network when left out"`
	Reach        *job.Length `yaml:"reach,omitempty" json:"reach,omitempty" jsonschema:"description=How far from the line of a pipe or from its end a shot may lie in plan; 0.5 m when left out"`
	ChainageFrom string      `yaml:"chainageFrom,omitempty" json:"chainageFrom,omitempty" jsonschema:"enum=upstream,enum=downstream,description=End of each pipe that the chainage of its shots counts from"`
	Sizes        []PipeSize  `yaml:"sizes,omitempty" json:"sizes,omitempty" jsonschema:"description=Sizes of pipes that the design does not say"`
}

// faults refuses distances that cannot be.
func (p *OnPipes) faults() (faults []job.Fault) {
	if p.Reach != nil && p.Reach.Length < 0 {
		faults = append(faults, job.Fault{Key: "reach", Text: "a distance has no minus sign"})
	}
	return faults
}

// defaultReach is how far from its pipe a shot may lie: half a metre covers a
// staff held in a pit of usual size. Common practice, no published source.
const defaultReach = unit.Metre / 2

// maxPipeShots is how many shots a check keeps for what is worked out of several.
// What is beyond is judged each by itself, and nothing is worked out.
const maxPipeShots = 500_000

// pipes places shots on the pipes of a network, and keeps them by pipe.
type pipes struct {
	frame        *convert.Frame
	network      *convert.Network
	reach        unit.Length
	chainageFrom string
	anyOffset    bool // a shot that names its pipe may lie at any offset
	byName       map[string]int
	covered      []bool
	sizes        []sizes
	on           [][]onPipe // by pipe: the shots that may be used for what is worked out
	kept, most   int
}

// onPipe is one shot on one pipe.
type onPipe struct {
	shot   convert.Shot
	along  unit.Length
	invert unit.Length
	shared bool // its row stands at another pipe that meets this one at the pit
}

func newPipes(p *OnPipes, design string, set *qa.Setting) (*pipes, error) {
	n := set.Design.Networks[design]
	if n == nil {
		return nil, fmt.Errorf("the design %q is no pipe network that could be read", design)
	}
	out := &pipes{frame: set.Frame, network: n, reach: defaultReach, chainageFrom: p.ChainageFrom, byName: make(map[string]int, len(n.Pipes)), covered: make([]bool, len(n.Pipes)),
		on: make([][]onPipe, len(n.Pipes)), most: maxPipeShots}
	if p.Reach != nil {
		out.reach = p.Reach.Length
	}
	for i := range n.Pipes {
		out.byName[n.Pipes[i].Name] = i
		out.covered[i] = len(p.Pipes) == 0
	}
	for _, name := range p.Pipes {
		i, ok := out.byName[name]
		if !ok {
			return nil, fmt.Errorf("the network %q has no pipe %q", n.Name, name)
		}
		out.covered[i] = true
	}
	var err error
	out.sizes, err = sizesOf(n, p.Sizes)
	return out, err
}

// keep keeps a shot for what is worked out of several, on every pipe it is on.
func (m *pipes) keep(s *convert.Shot, spots []spot, invert unit.Length) {
	m.kept++
	if m.kept > m.most {
		return
	}
	shot := detached(s)
	for k, spot := range spots {
		if m.on[spot.pipe] == nil {
			m.on[spot.pipe] = make([]onPipe, 0, 4) // the two ends, and some between
		}
		m.on[spot.pipe] = append(m.on[spot.pipe], onPipe{shot: shot, along: spot.along, invert: invert, shared: k > 0})
	}
}

// tooMany says why nothing is worked out of the shots kept, or "".
func (m *pipes) tooMany() string {
	if m.kept <= m.most {
		return ""
	}
	return fmt.Sprintf("nothing is worked out of several shots: the check has %d shots on pipes, and keeps %d at most; make several checks of it, each with some of the pipes and their shots", m.kept, m.most)
}

type spot struct {
	pipe  int
	along unit.Length
}

// put fills in where a row is, and returns the shot's places; false with the reason
// in the row when it is on no pipe that can be judged.
func (m *pipes) put(s *convert.Shot, r *qa.Row) ([]spot, bool) {
	spots, why := m.find(s)
	if why != "" {
		r.Reason = why
		return nil, false
	}
	pipe := &m.network.Pipes[spots[0].pipe]
	r.Pipe, r.Along, r.OnPipe = pipe.Name, spots[0].along, true
	if pipe.Bad != "" {
		r.Reason = fmt.Sprintf("nothing can be judged on pipe %s: %s", pipe.Name, pipe.Bad)
		return nil, false
	}
	return spots, true
}

// find places a shot on a pipe: by the name of its run, else by its place in
// plan. Where pipes meet at a pit with one design invert it is on all of them
// and judged on the first; with different inverts it must be named.
func (m *pipes) find(s *convert.Shot) ([]spot, string) {
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
		along, ok := m.near(i, s.Place, m.anyOffset)
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
		if along, ok := m.near(i, s.Place, false); ok {
			spots = append(spots, spot{i, along})
		}
	}
	if len(spots) == 0 {
		return nil, fmt.Sprintf("outside every pipe of the network: none within %s m in plan", m.reach.Exact(unit.M, 1))
	}
	return m.oneInvert(spots)
}

// oneInvert refuses a shot between pipes of different design invert.
func (m *pipes) oneInvert(spots []spot) ([]spot, string) {
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

func (m *pipes) byChainage(i int, s *convert.Shot) ([]spot, string) {
	p := &m.network.Pipes[i]
	along := s.Chainage
	switch m.chainageFrom {
	case "upstream":
	case "downstream":
		along = p.Length - s.Chainage
	default:
		return nil, "it is placed by chainage, and the check does not say from which end chainage counts; declare \"chainageFrom: upstream\" or \"downstream\""
	}
	if along < 0 || along > p.Length {
		return nil, fmt.Sprintf("chainage %s is outside pipe %s, which is %s long", s.Chainage.Fixed(m.frame.Unit, 3), p.Name, inUnit(m.frame, p.Length))
	}
	return []spot{{i, along}}, ""
}

// near projects a place on a pipe; a place up to reach beyond an end counts as
// the end.
func (m *pipes) near(i int, at convert.Place, anyOffset bool) (unit.Length, bool) {
	p := &m.network.Pipes[i]
	along, offset := m.network.Project(i, at)
	if offset.Abs() > m.reach && !anyOffset || along < -m.reach || along > p.Length+m.reach {
		return 0, false
	}
	return min(max(along, 0), p.Length), true
}

// atUS and atDS report whether a place along a pipe is that of its end.
func (m *pipes) atUS(along unit.Length) bool { return along <= m.reach }
func (m *pipes) atDS(i int, along unit.Length) bool {
	return along >= m.network.Pipes[i].Length-m.reach
}
func (m *pipes) atEnd(i int, along unit.Length) bool { return m.atUS(along) || m.atDS(i, along) }

// ends are the shots nearest to the two ends of a pipe; why says which is missing.
func (m *pipes) ends(i int) (us, ds *onPipe, why string) {
	on, p := m.on[i], &m.network.Pipes[i]
	switch {
	case len(on) == 0:
		return nil, nil, "no shot on this pipe was assessed"
	case !m.atUS(on[0].along):
		return nil, nil, fmt.Sprintf("no shot at the upstream end (%s)", m.network.Pits[p.US].Name)
	case !m.atDS(i, on[len(on)-1].along):
		return nil, nil, fmt.Sprintf("no shot at the downstream end (%s)", m.network.Pits[p.DS].Name)
	}
	return &on[0], &on[len(on)-1], ""
}

// between counts the shots that are at neither end.
func (m *pipes) between(i int) (n int) {
	for _, o := range m.on[i] {
		if !m.atEnd(i, o.along) {
			n++
		}
	}
	return n
}

// row is a row worked out of several shots, shown at one of them.
func (m *pipes) row(q qa.Quantity, i int, o *onPipe) qa.Row {
	return qa.Row{Quantity: q, Shot: o.shot, Pipe: m.network.Pipes[i].Name, Along: o.along, OnPipe: true}
}

// none is a row that says why something of a pipe was not assessed.
func (m *pipes) none(q qa.Quantity, i int, why string) qa.Row {
	p := &m.network.Pipes[i]
	return qa.Row{Quantity: q, Pipe: p.Name, DesignGrade: p.Grade(), Reason: why, Shot: convert.Shot{ID: p.Name, Pos: p.Pos}, DesignAt: "pipe " + p.Name}
}
