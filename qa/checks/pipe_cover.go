package checks

import (
	"cmp"
	"fmt"
	"slices"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Cover judges the cover over the pipes as built.
var Cover = &qa.Check{
	Name:  "cover",
	Title: "Cover over pipes",
	Doc: "Ground level minus the level of the outside top of the barrel, at every selected shot on a pipe. The ground is a design surface, plane or level table; " +
		"or the rim levels of the two pits, with a straight line between; or shots of some codes: then cover is judged at every shot of the ground and at every shot of the pipe, with straight lines between the shots of the other, and the shots count as control here.",
	Formula: "cover = ground level − (invert + bore + wall); at least the least cover passes. What was staffed is turned into the invert as in the check pipe.",
	Source:  "vertically from the top of the barrel to the surface: EN 1610, as a book of 2004 quotes it (seen); least covers are set by the contract or the utility",
	Example: "invert 24.760 m, bore 300 mm, wall 40 mm: top 25.100 m. Ground 25.700 m: 600 mm of cover, on a limit of 600 mm, pass.",
	Params:  func() any { return &CoverParams{} },
	Start:   startCover,
}

// CoverParams are the parameters of the check in a job file.
type CoverParams struct {
	job.Common `yaml:",inline"`
	OnPipes    `yaml:",inline"`
	Cover      job.Length  `yaml:"cover" json:"cover" jsonschema:"required,description=Least cover over the outside top of the barrel"`
	Source     string      `yaml:"coverSource" json:"coverSource" jsonschema:"required,description=Clause or drawing that sets the least cover"`
	Ground     CoverGround `yaml:"ground" json:"ground" jsonschema:"required,description=What the ground level is taken from"`
}

// CoverGround says what the ground level is taken from: one of three.
type CoverGround struct {
	Design string   `yaml:"design,omitempty" json:"design,omitempty" jsonschema:"description=Name of an entry of designs: a surface or plane or level table"`
	Rims   bool     `yaml:"rims,omitempty" json:"rims,omitempty" jsonschema:"description=true: the rim levels of the two pits with a straight line between them"`
	Codes  []string `yaml:"codes,omitempty" json:"codes,omitempty" jsonschema:"description=Codes of the shots of the ground among those that the check selects; * at the end stands for any ending"`
}

// Validate asks for one source of the ground level.
func (g *CoverGround) Validate() (f []job.Fault) {
	n := 0
	for _, given := range []bool{g.Design != "", g.Rims, len(g.Codes) > 0} {
		if given {
			n++
		}
	}
	if n != 1 {
		f = append(f, job.Fault{Text: fmt.Sprintf("the ground level comes from one place, here are %d; give \"design:\", \"rims: true\" or \"codes:\"", n)})
	}
	return f
}

// ToleranceOf returns the limit, for the checks of the job file.
func (p *CoverParams) ToleranceOf() *job.Tolerance {
	return &job.Tolerance{Lower: &p.Cover, Source: p.Source}
}

// Validate refuses distances that cannot be.
func (p *CoverParams) Validate() (f []job.Fault) {
	if p.Cover.Length < 0 {
		f = append(f, job.Fault{Key: "cover", Text: "a least cover has no minus sign"})
	}
	return append(f, p.OnPipes.faults()...)
}

func startCover(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*CoverParams)
	on, err := newPipes(&p.OnPipes, p.Design, set)
	if err != nil {
		return nil, err
	}
	m := &coverMeasurer{pipes: on, params: p, tolerance: p.ToleranceOf().Limits(), ground: make([][]onPipe, len(on.network.Pipes)), seen: make([]bool, len(on.network.Pipes))}
	if p.Ground.Design != "" {
		if m.surface = set.Design.Surfaces[p.Ground.Design]; m.surface == nil {
			return nil, fmt.Errorf("the ground %q is no surface, plane or level table that could be read", p.Ground.Design)
		}
	}
	return m, nil
}

type coverMeasurer struct {
	*pipes
	params    *CoverParams
	tolerance limits.Tolerance
	surface   *convert.Surface
	ground    [][]onPipe // by pipe: shots of the ground, invert being their level
	seen      []bool     // pipes with an assessed shot
}

func (m *coverMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		m.one(&shots[i], &rows[i])
	}
}

func (m *coverMeasurer) one(s *convert.Shot, r *qa.Row) {
	r.Quantity, r.Limits = qa.QuantityCover, m.tolerance
	if !s.Levelled {
		r.Reason = "it has no level"
		return
	}
	if len(m.params.Ground.Codes) > 0 && (job.Shots{Codes: m.params.Ground.Codes}).Matches("", s.Code, "", "", "") {
		m.onGround(s, r)
		return
	}
	spots, ok := m.put(s, r)
	if !ok {
		return
	}
	top, why := m.top(s, spots[0].pipe)
	if why != "" {
		r.Reason = why
		return
	}
	if len(m.params.Ground.Codes) > 0 {
		m.control(s, r, "top of the pipe, for the cover worked out from it")
		if s.Use == convert.Assessed {
			m.keep(s, spots, top)
		}
		return
	}
	ground, from, why := m.groundAt(s, spots[0])
	if why != "" {
		r.Reason = why
		return
	}
	m.judge(r, ground, top)
	r.DesignAt = from
	for _, spot := range spots {
		m.seen[spot.pipe] = m.seen[spot.pipe] || s.Use == convert.Assessed
	}
}

// top is the level of the outside top of the barrel at a shot.
func (m *coverMeasurer) top(s *convert.Shot, i int) (unit.Length, string) {
	z, name := &m.sizes[i], m.network.Pipes[i].Name
	invert, why := z.asInvert(s, name)
	if why != "" {
		return 0, why
	}
	up, _, missing := z.rise(floorOf(string(job.OnInvert)), floorOf(string(job.OnTop)))
	if missing != "" {
		return 0, fmt.Sprintf("neither the design nor \"sizes\" of the check says the %s of pipe %s, which its top is worked out by", missing, name)
	}
	return invert + up, ""
}

// groundAt is the ground level over a shot.
func (m *coverMeasurer) groundAt(s *convert.Shot, at spot) (level unit.Length, from, why string) {
	p := &m.network.Pipes[at.pipe]
	if m.surface != nil {
		shot := *s
		if !shot.Placed {
			shot.Place, shot.Placed = m.network.PlaceOn(at.pipe, at.along), true
		}
		return m.surface.At(&shot)
	}
	us, ds := &m.network.Pits[p.US], &m.network.Pits[p.DS]
	for _, pit := range []*convert.Pit{us, ds} {
		if !pit.HasRim {
			return 0, "", fmt.Sprintf("the design gives pit %s no rim level", pit.Name)
		}
	}
	// rims are over the centres of the pits
	whole := p.USSetback + p.Length + p.DSSetback
	level = us.Rim + unit.MulDiv(at.along+p.USSetback, ds.Rim-us.Rim, whole)
	return level, fmt.Sprintf("line between the rims of %s and %s", us.Name, ds.Name), ""
}

// judge fills in a cover.
func (m *coverMeasurer) judge(r *qa.Row, ground, top unit.Length) {
	r.Measured = ground - top
	r.Diff, r.Compared = r.Measured, true
	r.Verdict, r.Beyond = m.tolerance.Judge(r.Diff)
	r.Reason = fmt.Sprintf("ground %s, top of the pipe %s", inUnit(m.frame, ground), inUnit(m.frame, top))
}

// control marks a row that what is worked out rests on.
func (m *coverMeasurer) control(s *convert.Shot, r *qa.Row, what string) {
	if s.Use == convert.Assessed {
		r.Shot.Use, r.Reason, r.Limits = convert.Control, what, limits.Tolerance{}
	}
}

// onGround keeps a shot of the ground for every pipe that it lies over.
func (m *coverMeasurer) onGround(s *convert.Shot, r *qa.Row) {
	over := *s
	if s.Staffed != "" && s.Staffed != string(job.OnSurface) {
		r.Reason = fmt.Sprintf("its code is one of the ground, and the staff stood on the %s", s.Staffed)
		return
	}
	var spots []spot
	switch {
	case s.Run != "" || !s.Placed:
		found, why := m.find(&over)
		if why != "" {
			r.Reason = why
			return
		}
		spots = found
	default:
		for i := range m.network.Pipes {
			if !m.covered[i] || m.network.Pipes[i].Bad != "" {
				continue
			}
			if along, ok := m.near(i, s.Place, false); ok {
				spots = append(spots, spot{i, along})
			}
		}
	}
	if len(spots) == 0 {
		r.Reason = fmt.Sprintf("outside every pipe of the network: none within %s m in plan", m.reach.Exact(unit.M, 1))
		return
	}
	m.control(s, r, "ground level, for the cover worked out from it")
	if s.Use != convert.Assessed {
		return
	}
	if m.kept++; m.kept > m.most {
		return
	}
	shot := detached(s)
	for _, at := range spots {
		m.ground[at.pipe] = append(m.ground[at.pipe], onPipe{shot: shot, along: at.along, invert: s.Level})
	}
}

// Finish judges the cover between shots of the ground and of the pipe, and names the
// pipes where nothing was.
func (m *coverMeasurer) Finish() (rows []qa.Row, remarks []string) {
	if why := m.tooMany(); why != "" {
		return []qa.Row{{Quantity: qa.QuantityCover, Reason: why, Shot: convert.Shot{ID: m.network.Name}}}, []string{why + "."}
	}
	for i := range m.network.Pipes {
		p := &m.network.Pipes[i]
		along := func(a, b onPipe) int { return cmp.Compare(a.along, b.along) }
		slices.SortStableFunc(m.on[i], along)
		slices.SortStableFunc(m.ground[i], along)
		switch {
		case !m.covered[i]:
		case p.Bad != "":
			rows = append(rows, m.none(qa.QuantityCover, i, p.Bad))
		case len(m.params.Ground.Codes) == 0:
			if !m.seen[i] {
				rows = append(rows, m.none(qa.QuantityCover, i, "no shot on this pipe was assessed"))
			}
		case len(m.on[i]) == 0:
			rows = append(rows, m.none(qa.QuantityCover, i, "no shot on this pipe was assessed"))
		case len(m.ground[i]) == 0:
			rows = append(rows, m.none(qa.QuantityCover, i, "no shot of the ground lies over this pipe"))
		default:
			rows = append(rows, m.along(i)...)
		}
	}
	return rows, nil
}

// along judges one pipe at every shot of its top and of the ground over it. Both are
// straight between their shots, so that the least cover is at one of them.
func (m *coverMeasurer) along(i int) (rows []qa.Row) {
	add := func(o *onPipe, other []onPipe, over bool) {
		r := m.row(qa.QuantityCover, i, o)
		r.Limits = m.tolerance
		a, b := bothSides(other, o.along)
		if a == nil {
			r.Reason = "no shots of the ground on both sides of it"
			if over {
				r.Reason = "no shots of the pipe on both sides of it"
			}
			rows = append(rows, r)
			return
		}
		level := lineAt(a, b, o.along)
		u, known := offLine(a, o, b)
		if a.along == b.along {
			u, known = o.shot.Worth.UncertaintyTo(a.shot.Worth)
		}
		ground, top, what := level, o.invert, "ground"
		if over {
			ground, top, what = o.invert, level, "top of the pipe"
		}
		m.judge(&r, ground, top)
		r.U, r.HasU = u, known
		r.DesignAt = fmt.Sprintf("%s between %s and %s", what, a.shot.ID, b.shot.ID)
		if a == b {
			r.DesignAt = what + " at " + a.shot.ID
		}
		rows = append(rows, r)
	}
	for k := range m.on[i] {
		if !m.on[i][k].shared {
			add(&m.on[i][k], m.ground[i], false)
		}
	}
	for k := range m.ground[i] {
		add(&m.ground[i][k], m.on[i], true)
	}
	return rows
}

// bothSides finds the two neighbours of a place in a sorted list: twice the one that is
// there, nil where there is none on one side. Of several at one place, the first.
func bothSides(list []onPipe, along unit.Length) (a, b *onPipe) {
	k, there := slices.BinarySearchFunc(list, along, func(o onPipe, at unit.Length) int { return cmp.Compare(o.along, at) })
	switch {
	case there:
		return &list[k], &list[k]
	case k == 0 || k == len(list):
		return nil, nil
	}
	return &list[k-1], &list[k]
}
