package convert

import (
	"fmt"
	"math"
	"math/big"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Network is a design pipe network in the frame of the job.
type Network struct {
	Name  string
	Pits  []Pit
	Pipes []Pipe
	Notes []formats.Problem
}

// Pit is a structure of a network. Its sump is not an invert.
type Pit struct {
	Name   string
	Pos    formats.Pos
	Place  Place
	Placed bool
	Rim    unit.Length
	HasRim bool
}

// Pipe is one design pipe, named by flow: US and DS are the upstream and
// downstream pits by design invert, whatever the file's direction.
type Pipe struct {
	Name     string
	Pos      formats.Pos
	US, DS   int // index of the pit
	USInvert unit.Length
	DSInvert unit.Length
	USPos    formats.Pos // where the invert was written
	DSPos    formats.Pos
	Length   unit.Length // plan, between the centres of the pits
	Bore     unit.Length // 0 = not said
	Wall     unit.Length
	Material string
	Bad      string // why nothing can be judged on this pipe; "" when it can
}

// NetworkOptions are what the job says of a network.
type NetworkOptions struct {
	InvertsAt string            // "centre" or "innerFace"; "" = centre, with a note
	Flow      map[string]string // pipe with equal inverts → pit it flows to
}

// Grade is the design fall over the plan length, + downstream.
func (p *Pipe) Grade() unit.Grade { return unit.Grade{Rise: p.USInvert - p.DSInvert, Run: p.Length} }

// InvertAt returns the design invert a distance downstream of the upstream
// end. It is interpolated and rounded once to one count.
func (p *Pipe) InvertAt(along unit.Length) unit.Length {
	if p.Length == 0 {
		return p.USInvert
	}
	return p.USInvert - unit.MulDiv(along, p.USInvert-p.DSInvert, p.Length)
}

// NewNetwork takes a network of a file into the frame of the job. A pipe that
// cannot be judged stays, and says why in Bad. The problems are those that make
// pipes unusable.
func NewNetwork(n *formats.Network, units formats.Units, opt NetworkOptions, f *Frame) (*Network, []formats.Problem) {
	b := &networkBuilder{in: n, units: units, opt: opt, frame: f, out: &Network{Name: n.Name}, pit: map[string]int{}}
	for i := range n.Structures {
		b.addPit(&n.Structures[i])
	}
	names := map[string]bool{}
	unsized := 0
	for i := range n.Pipes {
		p := &n.Pipes[i]
		b.out.Pipes = append(b.out.Pipes, b.pipe(p))
		q := &b.out.Pipes[len(b.out.Pipes)-1]
		if names[p.Name] {
			q.Bad = "two pipes of the network have this name"
		}
		names[p.Name] = true
		if q.Bad != "" {
			b.problem(p.Pos, "pipe "+p.Name, "nothing can be judged on it: %s", q.Bad)
		}
		if p.Bore.Set && !p.DimUnit.Known() {
			unsized++
		}
	}
	if unsized > 0 {
		b.note(n.Pos, "", "the sizes of %d pipes have no unit and are not used; declare \"pipeSizeUnit: mm\" (or in, ft, m) for this design", unsized)
	}
	for name := range opt.Flow {
		if !names[name] {
			b.problem(n.Pos, "flow", "the job says how pipe %q flows, and the network has no such pipe", name)
		}
	}
	if opt.InvertsAt == "" && len(n.Pipes) > 0 {
		b.noteCentre()
	}
	formats.SortProblems(b.problems)
	return b.out, b.problems
}

type networkBuilder struct {
	in       *formats.Network
	units    formats.Units
	opt      NetworkOptions
	frame    *Frame
	out      *Network
	pit      map[string]int
	twice    map[string]bool
	problems []formats.Problem
}

func (b *networkBuilder) problem(at formats.Pos, field, format string, args ...any) {
	b.problems = append(b.problems, formats.Problem{Pos: at, Field: field, Text: fmt.Sprintf(format, args...)})
}

func (b *networkBuilder) note(at formats.Pos, field, format string, args ...any) {
	b.out.Notes = append(b.out.Notes, formats.Problem{Pos: at, Field: field, Text: fmt.Sprintf(format, args...)})
}

func (b *networkBuilder) addPit(s *formats.Structure) {
	p := Pit{Name: s.Name, Pos: s.Pos}
	if s.Placed {
		place, err := b.frame.Place(s.E, s.N, b.units.Linear)
		if err != nil {
			b.problem(s.Pos, s.Name, "its place is too far from the origin of the job: %v", err)
		}
		p.Place, p.Placed = place, err == nil
	}
	if s.Rim.Set {
		if l, err := s.Rim.Value.Length(b.units.Linear); err == nil {
			p.Rim, p.HasRim = l, true
		}
	}
	if _, ok := b.pit[s.Name]; ok {
		if b.twice == nil {
			b.twice = map[string]bool{}
		}
		b.twice[s.Name] = true
		b.problem(s.Pos, s.Name, "two pits of the network have this name; pipes to it cannot be judged")
	}
	b.pit[s.Name] = len(b.out.Pits)
	b.out.Pits = append(b.out.Pits, p)
}

// pipe builds one pipe. Start and end are the file's; what is upstream is
// decided by the inverts.
func (b *networkBuilder) pipe(in *formats.Pipe) Pipe {
	p := Pipe{Name: in.Name, Pos: in.Pos, Material: in.Material}
	start, ok1 := b.pit[in.Start]
	end, ok2 := b.pit[in.End]
	p.US, p.DS = start, end
	switch {
	case !ok1 || !ok2:
		p.Bad = fmt.Sprintf("it runs from %q to %q, and one of them is no pit of the network", in.Start, in.End)
		return p
	case b.twice[in.Start] || b.twice[in.End]:
		p.Bad = "the name of one of its pits is used twice"
		return p
	case !b.out.Pits[start].Placed || !b.out.Pits[end].Placed:
		p.Bad = "one of its pits has no place"
		return p
	}
	p.Length = distance(b.out.Pits[start].Place, b.out.Pits[end].Place)
	if p.Length == 0 {
		p.Bad = "its two pits are at one place"
		return p
	}
	si, why := b.invert(in, in.Start)
	if why != "" {
		p.Bad = why
		return p
	}
	ei, why := b.invert(in, in.End)
	if why != "" {
		p.Bad = why
		return p
	}
	p.USInvert, p.DSInvert, p.USPos, p.DSPos = si.level, ei.level, si.pos, ei.pos
	down := si.level > ei.level
	if si.level == ei.level {
		to, ok := b.opt.Flow[in.Name]
		switch {
		case !ok:
			p.Bad = fmt.Sprintf("its two design inverts are equal; say in the job which pit it flows to: \"flow: {%s: %s}\"", in.Name, in.End)
			return p
		case to != in.Start && to != in.End:
			p.Bad = fmt.Sprintf("the job says that it flows to %q, which is neither of its pits", to)
			return p
		}
		down = to == in.End
	}
	if !down {
		p.US, p.DS = end, start
		p.USInvert, p.DSInvert, p.USPos, p.DSPos = ei.level, si.level, ei.pos, si.pos
	}
	us, ds := si, ei
	if !down {
		us, ds = ei, si
	}
	// At its upstream end a pipe leaves the pit, at the other it comes in.
	if us.flow == "in" || ds.flow == "out" {
		b.note(in.Pos, "pipe "+in.Name, "the flow flags in the file say that it runs from %s to %s; by its inverts it falls the other way, and the inverts are used",
			b.out.Pits[p.DS].Name, b.out.Pits[p.US].Name)
	}
	b.size(in, &p)
	if b.opt.InvertsAt == "innerFace" {
		p.Bad = "the job says that its inverts are at the inner face of the pits, and the size of the pits along the pipe is not known; use \"invertsAt: centre\" with inverts at the centre"
	}
	return p
}

type invertAt struct {
	level unit.Length
	flow  string
	pos   formats.Pos
}

// invert finds the invert of a pipe in one of its pits. An absent one is
// unknown, never the sump.
func (b *networkBuilder) invert(p *formats.Pipe, pit string) (invertAt, string) {
	found := -1
	s := &b.in.Structures[b.pit[pit]]
	for i := range s.Inverts {
		if s.Inverts[i].Pipe != p.Name {
			continue
		}
		if found >= 0 && s.Inverts[found].Elev.Value != s.Inverts[i].Elev.Value {
			return invertAt{}, fmt.Sprintf("pit %s has two different inverts for it", pit)
		}
		found = i
	}
	if found < 0 || !s.Inverts[found].Elev.Set {
		return invertAt{}, fmt.Sprintf("pit %s has no invert for it", pit)
	}
	in := &s.Inverts[found]
	l, err := in.Elev.Value.Length(b.units.Linear)
	if err != nil {
		return invertAt{}, err.Error()
	}
	return invertAt{l, in.Flow, in.Pos}, ""
}

// size takes bore and wall in their own unit. A bore that does not fit between
// rim and invert shows a wrong unit.
func (b *networkBuilder) size(in *formats.Pipe, p *Pipe) {
	if !in.DimUnit.Known() {
		return
	}
	if in.Bore.Set {
		if l, err := in.Bore.Value.Length(in.DimUnit); err == nil && l > 0 {
			p.Bore = l
		}
	}
	if in.Wall.Set {
		if l, err := in.Wall.Value.Length(in.DimUnit); err == nil && l > 0 {
			p.Wall = l
		}
	}
	for _, e := range []struct {
		pit    int
		invert unit.Length
	}{{p.US, p.USInvert}, {p.DS, p.DSInvert}} {
		pit := &b.out.Pits[e.pit]
		if pit.HasRim && p.Bore > 0 && pit.Rim > e.invert && p.Bore > pit.Rim-e.invert {
			p.Bad = fmt.Sprintf("its bore of %s m is larger than the depth of %s from rim to invert, %s m; the unit of pipe sizes is wrong",
				p.Bore.Exact(unit.M, 3), pit.Name, (pit.Rim-e.invert).Exact(unit.M, 3))
			return
		}
	}
}

// noteCentre says what reading the inverts at the centre may move: fall over
// half a pit. The size of the pits is not known, so it is told for 0.5 m.
func (b *networkBuilder) noteCentre() {
	steepest := 0.0
	for i := range b.out.Pipes {
		if p := &b.out.Pipes[i]; p.Bad == "" {
			steepest = max(steepest, p.Grade().Ratio())
		}
	}
	b.note(b.in.Pos, "", "nothing says where along the pipes the inverts are; they are taken at the centres of the pits (at the inner face of a pit of 1 m the design invert would move by up to %.0f mm); declare \"invertsAt: centre\" to confirm",
		500*steepest)
}

// distance in plan, rounded once to one count.
func distance(a, b Place) unit.Length {
	sq := func(l unit.Length) *big.Int { x := big.NewInt(int64(l)); return x.Mul(x, x) }
	sum := sq(a.E - b.E)
	sum.Add(sum, sq(a.N-b.N))
	root := new(big.Int).Sqrt(sum)
	// round to nearest: (root + ½)² = root² + root + ¼
	next := new(big.Int).Mul(root, root)
	next.Add(next, root)
	if sum.Cmp(next) > 0 {
		root.Add(root, big.NewInt(1))
	}
	if !root.IsInt64() {
		return unit.MaxLength
	}
	return unit.Length(root.Int64())
}

// Project returns how far downstream of its upstream end a place lies along a
// pipe, and how far to the right of it looking downstream. Along is negative
// before the end and beyond Length after it. At the centre of a pit it is
// exactly 0 or exactly Length.
func (n *Network) Project(pipe int, at Place) (along, offset unit.Length) {
	p := &n.Pipes[pipe]
	if p.Length == 0 {
		return unit.MaxLength, unit.MaxLength
	}
	us, ds := n.Pits[p.US].Place, n.Pits[p.DS].Place
	switch at {
	case us:
		return 0, 0
	case ds:
		return p.Length, 0
	}
	de, dn := float64(ds.E-us.E), float64(ds.N-us.N)
	e, m := float64(at.E-us.E), float64(at.N-us.N)
	length := math.Hypot(de, dn)
	return unit.Length(math.Round((e*de + m*dn) / length)), unit.Length(math.Round((e*dn - m*de) / length))
}
