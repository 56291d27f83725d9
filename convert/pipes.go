package convert

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// NewNetwork takes a network of a file into the frame of the job. A pipe that
// cannot be judged stays, says why in Bad and is a problem; so are names that
// stand twice and words of the job that contradict the file. What is odd but
// usable is in Notes. Both are sorted by place.
func NewNetwork(n *formats.Network, units formats.Units, opt NetworkOptions, f *Frame) (*Network, []formats.Problem) {
	b := &networkBuilder{in: n, units: units, opt: opt, frame: f, out: &Network{Name: n.Name}, pit: make(map[string]int, len(n.Structures)), twice: map[string]bool{}, pipes: make(map[string]int, len(n.Pipes))}
	if len(n.Structures) > 0 {
		b.out.Pits = make([]Pit, 0, len(n.Structures))
	}
	if len(n.Pipes) > 0 {
		b.out.Pipes = make([]Pipe, 0, len(n.Pipes))
	}
	for i := range n.Structures {
		b.addPit(&n.Structures[i])
	}
	for i := range n.Pipes {
		b.pipes[n.Pipes[i].Name]++
	}
	for i := range n.Pipes {
		b.addPipe(&n.Pipes[i])
	}
	b.checkInverts()
	b.noteSizes()
	for _, name := range slices.Sorted(maps.Keys(opt.Flow)) {
		if b.pipes[name] == 0 {
			b.problem(n.Pos, "flow", "the job says how pipe %q flows, and the network has no such pipe", name)
		}
	}
	if opt.InvertsAt == "" && len(n.Pipes) > 0 {
		b.noteCentre()
	}
	formats.SortProblems(b.problems)
	formats.SortProblems(b.out.Notes)
	return b.out, b.problems
}

type networkBuilder struct {
	in       *formats.Network
	units    formats.Units
	opt      NetworkOptions
	frame    *Frame
	out      *Network
	pit      map[string]int
	twice    map[string]bool // names of pits
	pipes    map[string]int  // name → how many have it
	problems []formats.Problem
}

func (b *networkBuilder) problem(at formats.Pos, field, format string, args ...any) {
	b.problems = append(b.problems, formats.Problem{Pos: at, Field: field, Text: fmt.Sprintf(format, args...)})
}

func (b *networkBuilder) note(at formats.Pos, field, format string, args ...any) {
	b.out.Notes = append(b.out.Notes, formats.Problem{Pos: at, Field: field, Text: fmt.Sprintf(format, args...)})
}

// level takes a rim or an invert, which may have a unit of their own.
func (b *networkBuilder) level(r *formats.Reading) (unit.Length, error) {
	if b.units.Level.Known() {
		return r.Value.Length(b.units.Level)
	}
	return r.Value.Length(b.units.Linear)
}

// print writes a length in the unit of the job.
func (b *networkBuilder) print(l unit.Length) string {
	return l.Exact(b.frame.Unit, 3) + " " + b.frame.Unit.Name
}

func (b *networkBuilder) addPit(s *formats.Structure) {
	p := Pit{Name: s.Name, Pos: s.Pos}
	field := "pit " + s.Name
	if s.Placed {
		place, err := b.frame.Place(s.E, s.N, b.units.Linear)
		if err != nil || !place.near() {
			b.problem(s.Pos, field, "it is more than 1,171 km from the origin of the job; check the unit and the grid of the file")
		} else {
			p.Place, p.Placed = place, true
		}
	}
	if s.Rim.Set {
		l, err := b.level(&s.Rim)
		if err != nil {
			b.note(s.Pos, field, "its rim level %s is not used: %v", s.Rim.Value, err)
		} else {
			p.Rim, p.HasRim = l, true
		}
	}
	if s.Diameter.Set && s.DimUnit.Known() {
		if l, err := s.Diameter.Value.Length(s.DimUnit); err == nil && l > 0 {
			p.Radius = l / 2
		}
	}
	if _, ok := b.pit[s.Name]; ok {
		b.twice[s.Name] = true
		b.problem(s.Pos, field, "two pits of the network have this name; pipes to it cannot be judged")
	} else {
		b.pit[s.Name] = len(b.out.Pits)
	}
	b.out.Pits = append(b.out.Pits, p)
}

func (b *networkBuilder) addPipe(in *formats.Pipe) {
	p := Pipe{Name: in.Name, Pos: in.Pos, Material: in.Material, Shape: in.Shape}
	p.Bad = b.pipe(in, &p)
	if b.pipes[in.Name] > 1 {
		p.Bad = "two pipes of the network have this name"
	}
	if p.Bad != "" {
		b.problem(p.Pos, "pipe "+p.Name, "nothing can be judged on it: %s", p.Bad)
	}
	b.out.Pipes = append(b.out.Pipes, p)
}

// pipe fills in one pipe and returns why it cannot be judged, or "". Start and
// end are the file's; what is upstream is decided by the inverts. What can be
// told of a pipe that cannot be judged is told: its pits, its length.
func (b *networkBuilder) pipe(in *formats.Pipe, p *Pipe) string {
	ends := [2]string{in.Start, in.End}
	for _, name := range ends {
		switch _, ok := b.pit[name]; {
		case !ok:
			return fmt.Sprintf("it runs from %q to %q, and the network has no pit %q", in.Start, in.End, name)
		case b.twice[name]:
			return fmt.Sprintf("two pits of the network are named %q", name)
		}
	}
	p.US, p.DS = b.pit[in.Start], b.pit[in.End]
	if p.US == p.DS {
		return fmt.Sprintf("it begins and ends in pit %q", in.Start)
	}
	for _, k := range [2]int{p.US, p.DS} {
		if !b.out.Pits[k].Placed {
			return fmt.Sprintf("pit %q has no place", b.out.Pits[k].Name)
		}
	}
	p.Length = distance(b.out.Pits[p.US].Place, b.out.Pits[p.DS].Place)
	if p.Length == 0 {
		return "its two pits are at one place"
	}
	var inverts [2]invertAt
	for i, name := range ends {
		var why string
		if inverts[i], why = b.invert(in, name); why != "" {
			return why
		}
	}
	p.USInvert, p.DSInvert, p.USPos, p.DSPos = inverts[0].level, inverts[1].level, inverts[0].pos, inverts[1].pos
	down, why := b.flowsToEnd(in, inverts[0].level-inverts[1].level)
	if why != "" {
		return why
	}
	if !down {
		inverts[0], inverts[1] = inverts[1], inverts[0]
		p.US, p.DS, p.USInvert, p.DSInvert, p.USPos, p.DSPos = p.DS, p.US, p.DSInvert, p.USInvert, p.DSPos, p.USPos
	}
	// At its upstream end a pipe leaves the pit, at the other it comes in.
	if inverts[0].flow == "in" || inverts[1].flow == "out" {
		b.note(in.Pos, "pipe "+in.Name, "the flow flags in the file say that it runs from %s to %s; by its inverts it falls from %s (%s) to %s (%s), and the inverts are used",
			b.out.Pits[p.DS].Name, b.out.Pits[p.US].Name, b.out.Pits[p.US].Name, b.print(p.USInvert), b.out.Pits[p.DS].Name, b.print(p.DSInvert))
	}
	b.noteStated(in, p)
	return cmp.Or(b.size(in, p), b.setBack(p))
}

// flowsToEnd reports whether a pipe flows from the file's start to its end: it
// does when it falls that way. With equal inverts the job must say so; a job
// that says the opposite of the inverts is wrong or the design is.
func (b *networkBuilder) flowsToEnd(in *formats.Pipe, fall unit.Length) (bool, string) {
	to, said := b.opt.Flow[in.Name]
	switch {
	case said && to != in.Start && to != in.End:
		return false, fmt.Sprintf("the job says that it flows to %q, which is neither of its pits (%q and %q)", to, in.Start, in.End)
	case fall == 0 && !said:
		return false, fmt.Sprintf("its two design inverts are equal; say in the job which pit it flows to: \"flow: {%s: %s}\"", in.Name, in.End)
	case fall == 0:
		return to == in.End, ""
	case said && (fall > 0) != (to == in.End):
		return false, fmt.Sprintf("the job says that it flows to %q, and its design inverts fall the other way, by %s; correct \"flow\" in the job or the design", to, b.print(fall.Abs()))
	}
	return fall > 0, ""
}

type invertAt struct {
	level unit.Length
	flow  string
	pos   formats.Pos
}

// invert finds the invert of a pipe in one of its pits. An absent one is
// unknown, never the sump.
func (b *networkBuilder) invert(p *formats.Pipe, pit string) (found invertAt, why string) {
	s := &b.in.Structures[b.pit[pit]]
	seen := false
	for i := range s.Inverts {
		in := &s.Inverts[i]
		if in.Pipe != p.Name || !in.Elev.Set {
			continue
		}
		l, err := b.level(&in.Elev)
		if err != nil {
			return found, fmt.Sprintf("its invert in pit %q, %s: %v", pit, in.Elev.Value, err)
		}
		if seen && l != found.level {
			return found, fmt.Sprintf("pit %q has two different inverts for it, %s and %s", pit, b.print(found.level), b.print(l))
		}
		if !seen || found.flow == "" {
			found, seen = invertAt{l, in.Flow, in.Pos}, true
		}
	}
	if !seen {
		return found, fmt.Sprintf("pit %q has no invert for it (the sump of a pit is not an invert)", pit)
	}
	return found, ""
}

// checkInverts tells of inverts that belong to no pipe.
func (b *networkBuilder) checkInverts() {
	touches := make(map[[2]string]bool, 2*len(b.in.Pipes)) // pit, pipe
	for i := range b.in.Pipes {
		p := &b.in.Pipes[i]
		touches[[2]string{p.Start, p.Name}], touches[[2]string{p.End, p.Name}] = true, true
	}
	for i := range b.in.Structures {
		s := &b.in.Structures[i]
		for k := range s.Inverts {
			if in := &s.Inverts[k]; in.Elev.Set && !touches[[2]string{s.Name, in.Pipe}] {
				b.note(in.Pos, "pit "+s.Name, "its invert %s is for pipe %q, and no such pipe begins or ends here; it is not used", in.Elev.Value, in.Pipe)
			}
		}
	}
}

// size takes bore and wall in their own unit. A bore that does not fit between
// rim and invert shows a wrong unit.
func (b *networkBuilder) size(in *formats.Pipe, p *Pipe) string {
	if !in.DimUnit.Known() {
		return ""
	}
	for _, d := range []struct {
		name string
		from *formats.Reading
		to   *unit.Length
	}{{"bore", &in.Bore, &p.Bore}, {"wall", &in.Wall, &p.Wall}} {
		if !d.from.Set {
			continue
		}
		l, err := d.from.Value.Length(in.DimUnit)
		if err != nil || l <= 0 {
			b.note(in.Pos, "pipe "+in.Name, "its %s of %s %s is not used: a size is more than nothing", d.name, d.from.Value, in.DimUnit.Name)
			continue
		}
		*d.to = l
	}
	for _, e := range []struct {
		pit    int
		invert unit.Length
	}{{p.US, p.USInvert}, {p.DS, p.DSInvert}} {
		pit := &b.out.Pits[e.pit]
		switch depth := pit.Rim - e.invert; {
		case !pit.HasRim:
		case depth <= 0:
			b.note(pit.Pos, "pit "+pit.Name, "its rim level %s is not above the invert of pipe %s, %s; the bore is not checked against the depth here", b.print(pit.Rim), in.Name, b.print(e.invert))
		case p.Bore > depth:
			return fmt.Sprintf("its bore of %s is larger than the depth of pit %q from rim to invert, %s; the unit of pipe sizes is wrong, or a level is", b.print(p.Bore), pit.Name, b.print(depth))
		}
	}
	return ""
}

// setBack shortens a pipe whose inverts are at the inner faces of the pits.
func (b *networkBuilder) setBack(p *Pipe) string {
	if b.opt.InvertsAt != "innerFace" {
		return ""
	}
	us, ds := &b.out.Pits[p.US], &b.out.Pits[p.DS]
	for _, pit := range []*Pit{us, ds} {
		if pit.Radius == 0 {
			return fmt.Sprintf("the job says that the inverts are at the inner faces of the pits, and the file gives no diameter with a unit for pit %q; use \"invertsAt: centre\" with inverts at the centres", pit.Name)
		}
	}
	if us.Radius+ds.Radius >= p.Length {
		return fmt.Sprintf("pits %q and %q leave no length between their inner faces; the unit of pit sizes is wrong", us.Name, ds.Name)
	}
	p.USSetback, p.DSSetback = us.Radius, ds.Radius
	p.Length -= us.Radius + ds.Radius
	return ""
}

// noteStated compares the slope that the file states with the inverts. Nobody
// says whether it is a percentage or a ratio; either will do.
func (b *networkBuilder) noteStated(in *formats.Pipe, p *Pipe) {
	if !in.Slope.Set {
		return
	}
	stated, grade := math.Abs(in.Slope.Value.Float()), p.Grade()
	fits := func(s float64) bool { return math.Abs(s-grade.Ratio()) <= max(0.02*grade.Ratio(), 0.0005) }
	if !fits(stated) && !fits(stated/100) {
		b.note(in.Pos, "pipe "+in.Name, "the file states a slope of %s, and its inverts and the plan distance of its pits give %s; the inverts are used", in.Slope.Value, grade.Percent())
	}
}

// noteSizes tells once of all sizes that have no unit.
func (b *networkBuilder) noteSizes() {
	var first *formats.Pipe
	n := 0
	for i := range b.in.Pipes {
		if p := &b.in.Pipes[i]; (p.Bore.Set || p.Wall.Set) && !p.DimUnit.Known() {
			first = cmp.Or(first, p)
			n++
		}
	}
	if n > 0 {
		b.note(b.in.Pos, "pipe sizes", "the sizes of %d pipes have no unit and are not used (the first is pipe %s, %s); declare \"pipeSizeUnit: mm\" (or in, ft, m) for this design", n, first.Name, first.Bore.Value)
	}
}

// noteCentre says what reading the inverts at the centres of the pits may move:
// the fall over the inside of a pit. Where no size is known, it is told for a
// pit of 1 m.
func (b *networkBuilder) noteCentre() {
	const text = "nothing says where along the pipes the inverts are; they are taken at the centres of the pits (%s); declare \"invertsAt: centre\" to confirm"
	var known, steepest unit.Length
	var at string
	for i := range b.out.Pipes {
		p := &b.out.Pipes[i]
		if p.Bad != "" {
			continue
		}
		fall := p.USInvert - p.DSInvert
		steepest = max(steepest, unit.MulDiv(fall, unit.Metre/2, p.Length))
		for _, pit := range [2]*Pit{&b.out.Pits[p.US], &b.out.Pits[p.DS]} {
			if move := unit.MulDiv(fall, pit.Radius, p.Length); move > known {
				known, at = move, fmt.Sprintf("pipe %s in pit %s", p.Name, pit.Name)
			}
		}
	}
	if known > 0 {
		b.note(b.in.Pos, "", text, fmt.Sprintf("at their inner faces the design inverts would move by up to %s mm, %s", known.Fixed(unit.MM, 1), at))
		return
	}
	b.note(b.in.Pos, "", text, fmt.Sprintf("at the inner face of a pit of 1 m the design invert would move by up to %s mm", steepest.Fixed(unit.MM, 0)))
}
