package checks

import (
	"cmp"
	"container/heap"
	"fmt"
	"slices"
	"strconv"

	"sightrail/convert"
	"sightrail/convert/surface"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Ponding finds where water would stand on a finished surface.
var Ponding = &qa.Check{
	Name:  "ponding",
	Title: "Standing water: low spots without an outlet",
	Doc: "On the surface of triangles between the shots water runs to an outlet or stands up to the level at which it spills. Outlets are the edges of the surface, but for those along kerbs, which hold water, and the inlets: gullies and grates that the job names. " +
		"Each pond is judged by its depth at its deepest shot, and told with its area, volume, extent and the place where it spills. Low spots that stand under one water are one pond. Water that cannot get out at all fails.",
	Formula:  "spill level of a shot = of all ways from it to an outlet along the sides of triangles, the lowest of their highest levels; depth = spill level − lowest level of the pond, exact. On triangles low points and passes are always corners. Area and volume are those of the triangles below the spill level.",
	Source:   "geometry. Limits of standing water are set by the contract; common practice, no published source, for edges that let water out.",
	Example:  "a square of 2 m at 10.000 m with a shot of 9.970 m in its middle: a pond 30 mm deep, 4.00 m², 0.040 m³.",
	NoDesign: true,
	Params:   func() any { return &PondingParams{} },
	Start:    startPonding,
}

// PondingParams are the parameters of the check in a job file.
type PondingParams struct {
	job.Common `yaml:",inline"`
	Made       job.DesignPoints `yaml:"made,omitempty" json:"made,omitempty" jsonschema:"description=How the shots are triangulated: breaklines and boundary"`
	Kerbs      []string         `yaml:"kerbs,omitempty" json:"kerbs,omitempty" jsonschema:"description=Runs or codes of shots along edges that hold water; * at the end stands for any ending"`
	Inlets     *job.Shots       `yaml:"inlets,omitempty" json:"inlets,omitempty" jsonschema:"description=Which shots of the check are inlets that water leaves by"`
	Tolerance  job.Tolerance    `yaml:"tolerance" json:"tolerance" jsonschema:"required,description=Largest depth of standing water as upper and its source"`
}

// ToleranceOf returns the limits, for the checks of the job file.
func (p *PondingParams) ToleranceOf() *job.Tolerance { return &p.Tolerance }

// Validate asks for a largest depth.
func (p *PondingParams) Validate() (faults []job.Fault) {
	if p.Tolerance.Upper == nil || p.Tolerance.Upper.Length < 0 {
		faults = append(faults, job.Fault{Key: "tolerance", Text: "standing water has a largest depth; add \"upper: 5 mm\", or 0 mm where none may stand"})
	}
	if p.Tolerance.Lower != nil {
		faults = append(faults, job.Fault{Key: "tolerance", Text: "a depth has no lower limit; leave \"lower:\" out"})
	}
	if p.Inlets != nil && (p.Inlets.Polygon != nil || p.Inlets.Chainage != nil) {
		faults = append(faults, job.Fault{Key: "inlets", Text: "inlets are told by surveys, names, codes, layers or runs"})
	}
	return append(faults, p.Made.Validate()...)
}

// maxPondShots is how many shots a ponding check keeps.
const maxPondShots = 1_000_000

type pondingMeasurer struct {
	params    *PondingParams
	frame     *convert.Frame
	tolerance limits.Tolerance
	shots     []convert.Shot
	count     int
}

func startPonding(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*PondingParams)
	return &pondingMeasurer{params: p, frame: set.Frame, tolerance: p.Tolerance.Limits()}, nil
}

func (m *pondingMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		s, r := &shots[i], &rows[i]
		r.Quantity = qa.QuantityPonding
		if !corner(s, r, "it is a corner of the surface that water runs over") {
			continue
		}
		if m.count++; m.count <= maxPondShots {
			m.shots = append(m.shots, detached(s))
		}
	}
}

// Finish floods the surface.
func (m *pondingMeasurer) Finish() (rows []qa.Row, remarks []string) {
	if m.count == 0 {
		return nil, nil
	}
	base := qa.Row{Quantity: qa.QuantityPonding, Limits: m.tolerance, Shot: m.shots[0]}
	if m.count > maxPondShots {
		base.Reason = fmt.Sprintf("the check has %d shots, more than the %d that are kept; make a check of each part of the work", m.count, maxPondShots)
		return []qa.Row{base}, nil
	}
	s, problems := convert.NewSurfaceOfShots("the shots", m.shots, qa.MadeOf(&m.params.Made), m.frame)
	if s == nil {
		base.Reason = fmt.Sprintf("the shots make no surface: %s: %s", problems[0].Pos, problems[0].Text)
		return []qa.Row{base}, nil
	}
	f := newFlood(s.TIN)
	if why := m.unmatched(); why != "" {
		base.Reason = why
		return []qa.Row{base}, nil
	}
	var joined [][2]int32
	f.edges(m.kerb(f.vertices, &joined))
	if a, b, ok := m.inside(f); ok {
		base.Shot = m.shots[a]
		base.Reason = fmt.Sprintf("the kerb from %s to %s does not run along the edge of the surface, and whether water passes it is not worked out; end the surface at the kerb with \"made: {boundary: ...}\", or leave the shots behind it out of the check", named(&m.shots[a]), named(&m.shots[b]))
		return []qa.Row{base}, nil
	}
	if len(joined) > 0 {
		slices.SortFunc(joined, func(a, b [2]int32) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
		a, b := m.near(f, joined[0][0]), m.near(f, joined[0][1])
		remarks = append(remarks, fmt.Sprintf("Sides from one kerb to another are taken to hold water: %d, the first from %s to %s. Where one is an opening, shoot a point of it that is on no kerb.", len(joined), named(&a), named(&b)))
	}
	inlets := map[convert.Place]bool{} // by place, because shots at one place are one corner
	for i := range m.shots {
		x := &m.shots[i]
		if in := m.params.Inlets; in != nil && in.Matches(x.ID, x.Code, x.Layer, x.Run, x.Pos.File) {
			inlets[x.Place] = true
		}
	}
	for i, v := range f.vertices {
		if inlets[convert.Place{E: v.E, N: v.N}] {
			f.outlet(int32(i))
		}
	}
	if m.params.Inlets != nil && len(inlets) == 0 {
		remarks = append(remarks, "No shot is an inlet by \"inlets:\" of the check.")
	}
	f.run()
	ponds := f.ponds()
	for i := range ponds {
		rows = append(rows, m.row(base, f, &ponds[i]))
	}
	if len(ponds) == 0 {
		base.Compared, base.Verdict = true, limits.Pass
		base.Reason = fmt.Sprintf("no low spot without an outlet on a surface of %d triangles", len(f.faces))
		rows = append(rows, base)
	}
	return rows, remarks
}

// kerb tells whether the side of the surface between two corners holds water: both are
// shots of kerbs. A corner where two kerbs meet belongs to both of them, and so may a
// side from one kerb to the next; it is counted, because it may be an opening too.
func (m *pondingMeasurer) kerb(v []surface.Vertex, joined *[][2]int32) func(a, b int32) bool {
	of := job.LineOf(m.params.Kerbs)
	if of == nil {
		return func(a, b int32) bool { return false }
	}
	names := map[convert.Place][]string{} // shots at one place are one corner
	for i := range m.shots {
		if n := of(m.shots[i].Code, m.shots[i].Run); n != "" {
			names[m.shots[i].Place] = append(names[m.shots[i].Place], n)
		}
	}
	return func(a, b int32) bool {
		x, y := names[convert.Place{E: v[a].E, N: v[a].N}], names[convert.Place{E: v[b].E, N: v[b].N}]
		if len(x) == 0 || len(y) == 0 {
			return false
		}
		if !slices.ContainsFunc(x, func(n string) bool { return slices.Contains(y, n) }) {
			*joined = append(*joined, [2]int32{a, b})
		}
		return true
	}
}

// unmatched says which kerb of the job no shot belongs to, or "".
func (m *pondingMeasurer) unmatched() string {
	for _, name := range m.params.Kerbs {
		of := job.LineOf([]string{name})
		if !slices.ContainsFunc(m.shots, func(s convert.Shot) bool { return of(s.Code, s.Run) != "" }) {
			return fmt.Sprintf("no shot of the check belongs to the kerb %q of the job; correct the name, or leave it out", name)
		}
	}
	return ""
}

// inside finds two shots of one kerb, next to each other in it, whose side is a side of
// triangles and not on the edge of the surface, or that no side joins.
func (m *pondingMeasurer) inside(f *flood) (a, b int, ok bool) {
	of := job.LineOf(m.params.Kerbs)
	if of == nil {
		return 0, 0, false
	}
	corner := map[convert.Place]int32{}
	for i := len(f.vertices) - 1; i >= 0; i-- {
		if len(f.next[i]) > 0 {
			corner[convert.Place{E: f.vertices[i].E, N: f.vertices[i].N}] = int32(i)
		}
	}
	last := map[string]int{}
	for i := range m.shots {
		name := of(m.shots[i].Code, m.shots[i].Run)
		if name == "" {
			continue
		}
		k, there := last[name]
		last[name] = i
		if !there || m.shots[k].Place == m.shots[i].Place {
			continue
		}
		x, okX := corner[m.shots[k].Place]
		y, okY := corner[m.shots[i].Place]
		if !okX || !okY || !f.border[[2]int32{min(x, y), max(x, y)}] {
			return k, i, true
		}
	}
	return 0, 0, false
}

// row tells one pond at its deepest shot.
func (m *pondingMeasurer) row(r qa.Row, f *flood, p *pond) qa.Row {
	r.Shot = m.near(f, p.deepest)
	v := f.vertices[p.deepest]
	r.Shot.Place, r.Shot.Level = convert.Place{E: v.E, N: v.N}, v.Z
	extent := fmt.Sprintf("%s m², %s m³, from %s to %s E and %s to %s N", strconv.FormatFloat(p.area, 'f', 2, 64), strconv.FormatFloat(p.volume, 'f', 3, 64),
		m.frame.Easting(p.lo, 3), m.frame.Easting(p.hi, 3), m.frame.Northing(p.lo, 3), m.frame.Northing(p.hi, 3))
	lows := ""
	if p.lows > 1 {
		lows = fmt.Sprintf(" over %d low spots", p.lows)
	}
	if p.closed {
		r.Verdict = limits.Fail
		r.Reason = fmt.Sprintf("water cannot get out%s: no way leads from here to an edge without a kerb or to an inlet; %d shots", lows, len(p.vertices))
		return r
	}
	spill := m.near(f, p.spill)
	r.Measured = p.level - v.Z
	r.Diff, r.Compared = r.Measured, true
	r.Verdict, r.Beyond = m.tolerance.Judge(r.Diff)
	r.Reason = fmt.Sprintf("a pond%s: %s; it spills at %s of %s", lows, extent, p.level.Exact(m.frame.Unit, 3), named(&spill))
	return r
}

// near is the shot at a vertex, or for a crossing of lines one beside it.
func (m *pondingMeasurer) near(f *flood, v int32) convert.Shot {
	if int(v) < len(m.shots) {
		return m.shots[v]
	}
	for _, n := range f.next[v] {
		if int(n) < len(m.shots) {
			return m.shots[n]
		}
	}
	return m.shots[0]
}

// flood is water on a surface of triangles.
type flood struct {
	vertices []surface.Vertex
	faces    [][3]int32
	next     [][]int32 // neighbours of each vertex, ascending
	out      []bool    // outlets
	spill    []unit.Length
	at       []int32           // where the water of a vertex spills; -1 = it does not get out
	border   map[[2]int32]bool // sides on the edge of the surface, the smaller vertex first
}

func newFlood(t *surface.TIN) *flood {
	f := &flood{}
	f.vertices, f.faces = t.Mesh()
	n := len(f.vertices)
	f.next, f.out, f.spill, f.at = make([][]int32, n), make([]bool, n), make([]unit.Length, n), make([]int32, n)
	for _, c := range f.faces {
		for i := range 3 {
			a, b := c[i], c[(i+1)%3]
			f.next[a], f.next[b] = append(f.next[a], b), append(f.next[b], a)
		}
	}
	for i := range f.next {
		slices.Sort(f.next[i])
		f.next[i] = slices.Compact(f.next[i])
	}
	return f
}

// edges opens the edges of the surface that hold no water.
func (f *flood) edges(kerb func(a, b int32) bool) {
	sides := map[[2]int32]int{}
	for _, c := range f.faces {
		for i := range 3 {
			a, b := c[i], c[(i+1)%3]
			sides[[2]int32{min(a, b), max(a, b)}]++
		}
	}
	f.border = map[[2]int32]bool{}
	for s, n := range sides {
		f.border[s] = n == 1
		if n == 1 && !kerb(s[0], s[1]) {
			f.out[s[0]], f.out[s[1]] = true, true
		}
	}
}

func (f *flood) outlet(v int32) { f.out[v] = true }

// queue is the shore: vertices by spill level, the lowest first.
type queue struct {
	f    *flood
	list []int32
}

func (q *queue) Len() int { return len(q.list) }
func (q *queue) Less(i, j int) bool {
	a, b := q.list[i], q.list[j]
	return cmp.Or(cmp.Compare(q.f.spill[a], q.f.spill[b]), cmp.Compare(a, b)) < 0
}
func (q *queue) Swap(i, j int) { q.list[i], q.list[j] = q.list[j], q.list[i] }
func (q *queue) Push(x any)    { q.list = append(q.list, x.(int32)) }
func (q *queue) Pop() any {
	x := q.list[len(q.list)-1]
	q.list = q.list[:len(q.list)-1]
	return x
}

// run finds the spill level of every vertex, from the outlets upwards.
func (f *flood) run() {
	q := &queue{f: f}
	seen := make([]bool, len(f.vertices))
	for i := range f.vertices {
		f.at[i] = -1
		if f.out[i] {
			f.spill[i], f.at[i], seen[i] = f.vertices[i].Z, int32(i), true
			q.list = append(q.list, int32(i))
		}
	}
	heap.Init(q)
	for q.Len() > 0 {
		v := heap.Pop(q).(int32)
		for _, n := range f.next[v] {
			if seen[n] {
				continue
			}
			seen[n] = true
			f.spill[n], f.at[n] = f.spill[v], f.at[v]
			if z := f.vertices[n].Z; z >= f.spill[v] {
				f.spill[n], f.at[n] = z, n
			}
			heap.Push(q, n)
		}
	}
}

// wet tells whether water stands over a vertex.
func (f *flood) wet(v int32) bool {
	return len(f.next[v]) > 0 && (f.at[v] < 0 || f.spill[v] > f.vertices[v].Z)
}

// pond is water that stands together.
type pond struct {
	vertices     []int32
	level        unit.Length
	deepest      int32
	spill        int32
	lows         int
	closed       bool // no way out
	area, volume float64
	lo, hi       convert.Place // of its vertices
}

// ponds gathers them, the deepest first; of equals, by the number of their deepest
// vertex.
func (f *flood) ponds() (out []pond) {
	of := make([]int, len(f.vertices)) // pond + 1
	for i := range f.vertices {
		if of[i] > 0 || !f.wet(int32(i)) {
			continue
		}
		p := pond{level: f.spill[i], closed: f.at[i] < 0, deepest: int32(i), spill: f.at[i]}
		of[i] = len(out) + 1
		for stack := []int32{int32(i)}; len(stack) > 0; {
			v := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			p.vertices = append(p.vertices, v)
			for _, n := range f.next[v] {
				if of[n] == 0 && f.wet(n) {
					of[n] = len(out) + 1
					stack = append(stack, n)
				}
			}
		}
		f.measure(&p)
		out = append(out, p)
	}
	for _, c := range f.faces {
		for _, v := range c {
			if of[v] > 0 {
				p := &out[of[v]-1]
				a, volume := f.under(c, p.level)
				p.area += a
				p.volume += volume
				break
			}
		}
	}
	slices.SortFunc(out, func(a, b pond) int {
		depth := func(p *pond) unit.Length {
			if p.closed {
				return unit.MaxLength
			}
			return p.level - f.vertices[p.deepest].Z
		}
		return cmp.Or(cmp.Compare(depth(&b), depth(&a)), cmp.Compare(a.deepest, b.deepest))
	})
	return out
}

// measure finds the deepest vertex, the low spots and the extent of a pond.
func (f *flood) measure(p *pond) {
	slices.Sort(p.vertices)
	z := func(v int32) unit.Length { return f.vertices[v].Z }
	first := f.vertices[p.vertices[0]]
	p.lo, p.hi = convert.Place{E: first.E, N: first.N}, convert.Place{E: first.E, N: first.N}
	for _, v := range p.vertices {
		x := f.vertices[v]
		p.lo = convert.Place{E: min(p.lo.E, x.E), N: min(p.lo.N, x.N)}
		p.hi = convert.Place{E: max(p.hi.E, x.E), N: max(p.hi.N, x.N)}
		if z(v) < z(p.deepest) || z(v) == z(p.deepest) && v < p.deepest {
			p.deepest = v
		}
	}
	p.lows = f.lowSpots(p.vertices)
}

// lowSpots counts the bottoms: vertices of one level that hang together and have no
// lower one beside them.
func (f *flood) lowSpots(vertices []int32) (n int) {
	z := func(v int32) unit.Length { return f.vertices[v].Z }
	seen := map[int32]bool{}
	for _, start := range vertices {
		if seen[start] {
			continue
		}
		seen[start] = true
		low := true
		for stack := []int32{start}; len(stack) > 0; {
			v := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			for _, b := range f.next[v] {
				switch {
				case z(b) < z(v):
					low = false
				case z(b) == z(v) && !seen[b]:
					seen[b] = true
					stack = append(stack, b)
				}
			}
		}
		if low {
			n++
		}
	}
	return n
}

// under is the plan area in m² of what of a face lies below a level, and the volume in
// m³ of the water on it.
func (f *flood) under(c [3]int32, level unit.Length) (area, volume float64) {
	a, b, d := f.vertices[c[0]], f.vertices[c[1]], f.vertices[c[2]]
	whole := ((b.E-a.E).Metres()*(d.N-a.N).Metres() - (d.E-a.E).Metres()*(b.N-a.N).Metres()) / 2
	depth := [3]float64{(level - a.Z).Metres(), (level - b.Z).Metres(), (level - d.Z).Metres()}
	slices.Sort(depth[:]) // the deepest last
	// the part of a corner of depth x, others y and z on the other side of the level
	corner := func(x, y, z float64) (float64, float64) {
		part := whole * x / (x - y) * x / (x - z)
		return part, part * x / 3
	}
	switch {
	case depth[2] <= 0:
		return 0, 0
	case depth[0] >= 0:
		return whole, whole * (depth[0] + depth[1] + depth[2]) / 3
	case depth[1] <= 0:
		return corner(depth[2], depth[1], depth[0])
	}
	high, missing := corner(depth[0], depth[1], depth[2]) // the corner that stands out
	return whole - high, whole*(depth[0]+depth[1]+depth[2])/3 - missing
}
