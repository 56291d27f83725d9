package convert

import (
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
	Place  Place // of its centre
	Placed bool
	Rim    unit.Length
	HasRim bool
	Radius unit.Length // inside, of a round pit whose size has a unit; 0 = not known
}

// Pipe is one design pipe, named by flow: US and DS are the upstream and
// downstream pits by design invert, whatever the file's direction.
type Pipe struct {
	Name      string
	Pos       formats.Pos
	US, DS    int // index of the pit
	USInvert  unit.Length
	DSInvert  unit.Length
	USPos     formats.Pos // where the invert was written
	DSPos     formats.Pos
	Length    unit.Length // plan, between the places the inverts are at
	USSetback unit.Length // from the centre of the upstream pit to where its invert is
	DSSetback unit.Length
	Bore      unit.Length // 0 = not said
	Wall      unit.Length
	Material  string
	Shape     string // "circular", "egg", ...; "" = not said
	Bad       string // why nothing can be judged on this pipe; "" when it can
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

// Project returns how far downstream of its upstream end a place lies along a
// pipe, and how far to the right of it looking downstream; each is the exact
// value rounded once to one count. Along is negative before the end and beyond
// Length after it. Where the inverts are at the centres of the pits, it is
// exactly 0 and exactly Length at them. For a pipe without a direction in plan,
// and a place more than 1,171 km from the origin, both are unit.MaxLength.
func (n *Network) Project(pipe int, at Place) (along, offset unit.Length) {
	p := &n.Pipes[pipe]
	if p.Length == 0 || !at.near() {
		return unit.MaxLength, unit.MaxLength
	}
	us, ds := n.Pits[p.US].Place, n.Pits[p.DS].Place
	de, dn := ds.E-us.E, ds.N-us.N
	e, m := at.E-us.E, at.N-us.N
	return unit.OverChord(e, de, m, dn, de, dn) - p.USSetback, unit.OverChord(e, dn, -m, de, de, dn)
}

// near reports whether differences of the place fit into a Length.
func (p Place) near() bool { return p.E.Abs() <= unit.MaxLength/2 && p.N.Abs() <= unit.MaxLength/2 }

// distance in plan, rounded once to one count. Both places must be near.
func distance(a, b Place) unit.Length { return unit.Distance(b.E-a.E, b.N-a.N) }

// Distance is how far apart two places are in plan, rounded once to one count;
// unit.MaxLength where one of them is more than 1,171 km from the origin.
func Distance(a, b Place) unit.Length {
	if !a.near() || !b.near() {
		return unit.MaxLength
	}
	return distance(a, b)
}

// PlaceOn is the place a distance downstream of the upstream end of a pipe, on its
// line; each coordinate is rounded once to one count.
func (n *Network) PlaceOn(pipe int, along unit.Length) Place {
	p := &n.Pipes[pipe]
	us, ds := n.Pits[p.US].Place, n.Pits[p.DS].Place
	chord := p.USSetback + p.Length + p.DSSetback
	if chord == 0 {
		return us
	}
	along += p.USSetback
	return Place{us.E + unit.MulDiv(along, ds.E-us.E, chord), us.N + unit.MulDiv(along, ds.N-us.N, chord)}
}
