package convert

import (
	"fmt"

	"sightrail/convert/plane"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// LaserSetup is one standing of a laser, ready to give levels.
type LaserSetup struct {
	Name  string
	Plane plane.Plane
	// Height is that of a receiver's mark above the cutting edge, along the arm,
	// and Tilt how far the arm leans, in radians; for receiver readings only.
	Height    unit.Length
	HasHeight bool
	Tilt      float64
	Stand     *plane.Place // of the laser; nil when not known
	Turned    float64      // by which its axis is known to be off, in radians, + clockwise
	Bad       string       // why its levels are not assessed; "" when they are
	Worth     *Worth
}

// OnPlane is what was read on a laser plane.
type OnPlane struct {
	Setup    string
	Reading  unit.Length // of a staff, or the offset of a receiver
	Receiver bool
	Turned   unit.Length // by how much the plane is off here for it; not corrected
}

// onPlane takes the reading of a point. why says what is wrong with it.
func (r *PointReader) onPlane(p *formats.Point) (on *OnPlane, why string) {
	on = &OnPlane{Setup: p.Setup}
	x := p.Reading
	switch {
	case p.Reading.Set && p.Receiver.Set:
		return nil, "a staff reading and a receiver offset in one row; one row is one place, so one of them is in the wrong column"
	case p.Receiver.Set:
		on.Receiver, x = true, p.Receiver
	case !p.Reading.Set:
		return nil, "no reading in this row"
	}
	l, err := x.Value.Length(r.Unit)
	if err != nil {
		return nil, err.Error()
	}
	if x.Bracket {
		l = -l.Abs()
	}
	on.Reading = l
	return on, ""
}

// Level gives a shot its level on the plane: the plane at its place minus the
// staff reading, or the cutting edge under a receiver.
func (l *LaserSetup) Level(s *Shot) {
	fail := func(format string, args ...any) {
		s.Use, s.Reason, s.Levelled = NotAssessed, fmt.Sprintf(format, args...), false
	}
	if !l.Plane.Axis.Given() {
		fail("its laser set-up %s is not proved: %s", l.Name, l.Bad)
		return
	}
	if !s.Placed {
		fail("it has no place, and the level of a laser plane differs from place to place; add easting and northing, or its name to a peg list of the job")
		return
	}
	at := plane.Place{E: s.Place.E, N: s.Place.N}
	z, err := l.Plane.At(at)
	if err != nil {
		fail("the plane of the laser set-up %s at this place: %v", l.Name, err)
		return
	}
	level, err := z.Add(-s.Laser.Reading)
	if s.Laser.Receiver {
		if !l.HasHeight {
			fail("it is a receiver offset, and the height of the receiver above the cutting edge is not known; add \"receiver:\" to the survey")
			return
		}
		level, err = plane.Receiver{Height: l.Height, Tilt: l.Tilt}.Edge(&l.Plane, at, s.Laser.Reading)
	}
	if err != nil {
		fail("its level on the plane of the laser set-up %s: %v", l.Name, err)
		return
	}
	along, right := l.Plane.Coordinates(at)
	s.Level, s.Levelled = level, true
	if l.Turned != 0 {
		s.Laser.Turned = l.Plane.MisalignedBy(at, l.Turned)
		if l.Stand != nil { // the sight mark shows a turn after levelling, about the laser
			s.Laser.Turned = l.Plane.MisalignedAbout(*l.Stand, at, l.Turned)
		}
	}
	s.Worth = Worthy{Of: l.Worth, At: [2]float32{float32(along.Metres()), float32(right.Metres())}}
	if l.Bad != "" {
		s.Use, s.Reason = NotAssessed, "its laser set-up "+l.Name+" is not proved: "+l.Bad
	}
}
