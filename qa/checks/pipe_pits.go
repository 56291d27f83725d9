package checks

import (
	"fmt"
	"slices"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Pits compares the plan places of pits as built with those of the design.
var Pits = &qa.Check{
	Name:  "pits",
	Title: "Places of pits in plan",
	Doc: "How far every selected shot of a pit lies from the design place of the pit: the one that \"names\" gives it, the one of its name, else the only one within reach. " +
		"A place between two pits within reach of both is not assessed.",
	Formula: "distance = √((easting as built − by design)² + (northing as built − by design)²), rounded once to one count.",
	Source:  "geometry; limits are set by the contract, as in Tauranga City Council Infrastructure Development Code, QA-6.11: plan within 0.1 m (seen)",
	Example: "design 100.000 E, 200.000 N, built 100.030 E, 199.960 N: 50 mm, 30 mm east and 40 mm south of its place.",
	Params:  func() any { return &PitsParams{} },
	Start:   startPits,
}

// PitsParams are the parameters of the check in a job file.
type PitsParams struct {
	job.Common `yaml:",inline"`
	Place      job.Length        `yaml:"place" json:"place" jsonschema:"required,description=How far a pit may be from its design place"`
	Source     string            `yaml:"placeSource" json:"placeSource" jsonschema:"required,description=Clause or drawing that sets the limit"`
	Pits       []string          `yaml:"pits,omitempty" json:"pits,omitempty" jsonschema:"description=Pits that this check covers; all of the network when left out"`
	Names      map[string]string `yaml:"names,omitempty" json:"names,omitempty" jsonschema:"description=Names of shots and the pit that each is of"`
	Reach      *job.Length       `yaml:"reach,omitempty" json:"reach,omitempty" jsonschema:"description=How far from a pit a shot may lie that does not name it; 2 m when left out"`
}

// defaultPitReach is how far from its design place a pit is still looked for.
// Common practice, no published source.
const defaultPitReach = 2 * unit.Metre

// ToleranceOf returns the limit, for the checks of the job file.
func (p *PitsParams) ToleranceOf() *job.Tolerance {
	return &job.Tolerance{Upper: &p.Place, Source: p.Source}
}

// Validate refuses distances that cannot be.
func (p *PitsParams) Validate() (f []job.Fault) {
	if p.Place.Length < 0 {
		f = append(f, job.Fault{Key: "place", Text: "a distance has no minus sign"})
	}
	if p.Reach != nil && p.Reach.Length <= 0 {
		f = append(f, job.Fault{Key: "reach", Text: "a reach is more than nought"})
	}
	return f
}

func startPits(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*PitsParams)
	n := set.Design.Networks[p.Design]
	if n == nil {
		return nil, fmt.Errorf("the design %q is no pipe network that could be read", p.Design)
	}
	m := &pitsMeasurer{params: p, network: n, frame: set.Frame, reach: defaultPitReach, tolerance: p.ToleranceOf().Limits(), byName: map[string]int{}, shots: make([]int, len(n.Pits))}
	if p.Reach != nil {
		m.reach = p.Reach.Length
	}
	for i := range n.Pits {
		if _, twice := m.byName[n.Pits[i].Name]; twice {
			m.byName[n.Pits[i].Name] = -1
			continue
		}
		m.byName[n.Pits[i].Name] = i
	}
	for _, name := range append(slices.Clone(p.Pits), pitsOf(p.Names)...) {
		if _, ok := m.byName[name]; !ok {
			return nil, fmt.Errorf("the network %q has no pit %q", n.Name, name)
		}
	}
	return m, nil
}

func pitsOf(names map[string]string) (out []string) {
	for _, k := range sortedKeys(names) {
		out = append(out, names[k])
	}
	return out
}

type pitsMeasurer struct {
	params    *PitsParams
	network   *convert.Network
	frame     *convert.Frame
	reach     unit.Length
	tolerance limits.Tolerance
	byName    map[string]int // -1 where two pits have the name
	shots     []int          // assessed shots by pit
}

func (m *pitsMeasurer) covers(i int) bool {
	return len(m.params.Pits) == 0 || slices.Contains(m.params.Pits, m.network.Pits[i].Name)
}

// find tells the pit that a shot is of.
func (m *pitsMeasurer) find(s *convert.Shot) (pit int, why string) {
	name, said := m.params.Names[s.ID]
	if !said {
		name = s.ID
	}
	if i, ok := m.byName[name]; ok {
		switch {
		case i < 0:
			return 0, fmt.Sprintf("two pits of the network %s are named %q", m.network.Name, name)
		case !m.network.Pits[i].Placed:
			return 0, fmt.Sprintf("pit %s has no place in the design", name)
		case !m.covers(i):
			return 0, fmt.Sprintf("this check does not cover pit %s", name)
		}
		return i, ""
	}
	found := -1
	for i := range m.network.Pits {
		if !m.network.Pits[i].Placed || !m.covers(i) || convert.Distance(s.Place, m.network.Pits[i].Place) > m.reach {
			continue
		}
		if found >= 0 {
			return 0, fmt.Sprintf("pits %s and %s are both within %s; say which it is in \"names\" of the check", m.network.Pits[found].Name, m.network.Pits[i].Name, inUnit(m.frame, m.reach))
		}
		found = i
	}
	if found < 0 {
		return 0, fmt.Sprintf("no pit of the network has its name, and none is within %s", inUnit(m.frame, m.reach))
	}
	return found, ""
}

func (m *pitsMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		s, r := &shots[i], &rows[i]
		r.Quantity, r.Limits = qa.QuantityPlace, m.tolerance
		if !s.Placed {
			r.Reason = "it has no place: no easting and northing, and its name is in no peg list of the job"
			continue
		}
		k, why := m.find(s)
		if why != "" {
			r.Reason = why
			continue
		}
		pit := &m.network.Pits[k]
		r.Measured = convert.Distance(s.Place, pit.Place)
		r.Diff, r.Compared, r.DesignAt = r.Measured, true, "pit "+pit.Name
		r.Verdict, r.Beyond = m.tolerance.Judge(r.Diff)
		r.Reason = fmt.Sprintf("%s and %s of the design place of pit %s", compass(s.Place.E-pit.Place.E, "east", "west"), compass(s.Place.N-pit.Place.N, "north", "south"), pit.Name)
		if s.Use == convert.Assessed {
			m.shots[k]++
		}
	}
}

// compass says how far in one direction: "30 mm east".
func compass(l unit.Length, plus, minus string) string {
	if l < 0 {
		plus = minus
	}
	return l.Abs().Fixed(unit.MM, 0) + " mm " + plus
}

// Finish names the pits without a shot.
func (m *pitsMeasurer) Finish() (rows []qa.Row, remarks []string) {
	for i := range m.network.Pits {
		pit := &m.network.Pits[i]
		if !m.covers(i) || m.shots[i] > 0 {
			continue
		}
		why := "no shot of this pit was assessed"
		if !pit.Placed {
			why = "the design gives this pit no place"
		}
		rows = append(rows, qa.Row{Quantity: qa.QuantityPlace, Limits: m.tolerance, Reason: why, DesignAt: "pit " + pit.Name, Shot: convert.Shot{ID: pit.Name, Pos: pit.Pos}})
	}
	return rows, nil
}
