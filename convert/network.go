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
	Length   unit.Length // plan, between the places the inverts are at
	Bore     unit.Length // 0 = not said
	Wall     unit.Length
	Material string
	Bad      string // why nothing can be judged on this pipe; "" when it can
}

// Grade is the design fall over the plan length, + downstream.
func (p *Pipe) Grade() unit.Grade { return unit.Grade{Rise: p.USInvert - p.DSInvert, Run: p.Length} }

// InvertAt returns the design invert a distance downstream of the upstream
// end. It is interpolated and rounded once to one count.
func (p *Pipe) InvertAt(along unit.Length) unit.Length {
	return p.USInvert - unit.MulDiv(along, p.USInvert-p.DSInvert, p.Length)
}
