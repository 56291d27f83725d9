package qa

import (
	"fmt"

	"sightrail/convert/plane"
	"sightrail/formats/unit"
)

// setLaser takes the plane that the sheet is set out from, and says what proves
// it.
func (w *setoutWork) setLaser() {
	if w.of.Laser == "" {
		return
	}
	for i := range w.Head.Lasers {
		l := &w.Head.Lasers[i]
		if l.Setup.Name != w.of.Laser {
			continue
		}
		if !l.Laid { // the problem is at the set-up
			w.warn("No staff reading is known: %s.", l.Bad)
			w.sheet.Plane = l.Setup.Name + ", not known"
			return
		}
		w.plane, w.turn = &l.Plane, w.planes[i].Turned
		w.sheet.Plane = w.planeWords(l)
		for _, c := range l.Checks {
			if c.State == plane.Outside {
				w.cannot("laser", "The laser set-up %s must not be used: %s.", l.Setup.Name, l.Bad)
				return
			}
		}
		if l.Bad != "" {
			w.warn("The plane is not proved: %s. Read it on a second mark before it is used.", l.Bad)
		}
	}
}

// planeWords say how a plane was set up: from mark and reading to its grades.
func (w *setoutWork) planeWords(l *LaserResult) string {
	s := l.Setup.Name
	if l.Setup.Date != "" {
		s += ", set up " + l.Setup.Date
	}
	if l.Setup.Instrument != "" {
		s += ", " + l.Setup.Instrument
	}
	s += fmt.Sprintf("; %s %s + staff %s = plane %s there", l.Setup.Mark, w.print(l.Mark), w.print(l.Setup.Reading.Length), w.print(l.Plane.Level))
	axis := fmt.Sprintf("grid bearing %.4f°", l.Plane.Axis.Degrees())
	if l.Setup.From != "" {
		axis = l.Setup.From + " to " + l.Setup.To
	}
	s += fmt.Sprintf("; along %s %s", axis, gradeWords(l.Plane.Along))
	if l.Plane.Across.Rise != 0 {
		s += ", to the right of it " + gradeWords(l.Plane.Across)
	} else {
		s += ", level across"
	}
	return s
}

// gradeWords writes a grade of which + rises.
func gradeWords(g unit.Grade) string {
	switch {
	case g.Run == 0 || g.Rise == 0:
		return "level"
	case g.Rise < 0:
		g.Rise = -g.Rise
		return "falls " + g.OneIn() + " (" + g.Percent() + ")"
	}
	return "rises " + g.OneIn() + " (" + g.Percent() + ")"
}

// turned says what a laser that its sight mark shows turned does to the plane.
func (w *setoutWork) turned() {
	if w.turn == 0 {
		return
	}
	var worst *SetoutRow
	var off unit.Length
	for i := range w.sheet.Rows {
		r := &w.sheet.Rows[i]
		if !r.Plane.Set {
			continue
		}
		if d := w.plane.MisalignedBy(plane.Place(r.Place), w.turn); worst == nil || d.Abs() > off.Abs() {
			worst, off = r, d
		}
	}
	if worst != nil && off.Abs() >= unit.Millimetre/2 {
		w.warn("By its sight mark the laser is turned: its plane is off by up to %s mm, at %s. The readings are not corrected; turn the laser back.", off.Fixed(unit.MM, 1), w.rowName(worst))
	}
}
