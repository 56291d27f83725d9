package report

import (
	"strconv"

	"sightrail/convert/plane"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// laserPart is what the page says of one laser set-up.
type laserPart struct {
	Name   string
	Facts  []fact
	State  string
	Class  string
	Checks []laserLine
}

// laserLine is one comparison of a set-up.
type laserLine struct{ What, Against, Drift, U, Limit, State, Class string }

func (p *page) laserParts() []laserPart {
	var out []laserPart
	for i := range p.Res.Lasers {
		out = append(out, p.laserPart(&p.Res.Lasers[i]))
	}
	return out
}

func (p *page) laserPart(l *qa.LaserResult) laserPart {
	s, u := l.Setup, p.Res.Frame.Unit
	part := laserPart{Name: s.Name, State: "Levels of this set-up are assessed.", Class: "v p"}
	if l.Bad != "" {
		part.State, part.Class = "No level of this set-up is assessed: "+l.Bad+".", "v f"
	}
	axis := ""
	switch {
	case s.Bearing != nil:
		axis = "bearing " + s.Bearing.Text
	case l.Laid:
		axis = "from " + s.From + " to " + s.To + ", bearing " + strconv.FormatFloat(l.Plane.Axis.Degrees(), 'f', 4, 64) + " deg"
	}
	across := "level"
	if s.Across != nil {
		across = gradeWords(s.Across.Grade) + " to the right"
	}
	place := ""
	if s.Laser != nil {
		place = s.Laser.Easting.String() + " E, " + s.Laser.Northing.String() + " N"
	}
	part.Facts = facts(fact{"Date", orMissing(s.Date)}, fact{"Instrument", orMissing(s.Instrument)},
		fact{"Levelled on", s.Mark + " at " + l.Mark.Exact(u, levelPlaces) + " " + u.Name},
		fact{"Reading there", s.Reading.Exact(u, levelPlaces) + " " + u.Name},
		fact{"Plane at the mark", l.Plane.Level.Exact(u, levelPlaces) + " " + u.Name},
		fact{"Grade along the axis", gradeWords(s.Grade.Grade)}, fact{"Grade across", across}, fact{"Axis", axis}, fact{"Laser stands at", place})
	if !l.Laid {
		part.Facts = part.Facts[:4]
	}
	for k := range l.Checks {
		part.Checks = append(part.Checks, p.laserLine(&l.Checks[k]))
	}
	return part
}

// gradeWords prints a grade of a plane with its sense.
func gradeWords(g unit.Grade) string {
	switch g.Rise.Sign() {
	case 0:
		return "level"
	case 1:
		return g.OneIn() + " (" + g.Percent() + "), rising"
	}
	g.Rise = -g.Rise
	return g.OneIn() + " (" + g.Percent() + "), falling"
}

func (p *page) laserLine(c *qa.LaserCheck) laserLine {
	line := laserLine{What: c.What, Against: c.Against, State: c.State.String(), Class: "v o"}
	switch c.State {
	case plane.Within:
		line.Class = "v p"
	case plane.Outside:
		line.Class = "v f"
	}
	if c.Why != "" {
		line.State += ": " + c.Why
		return line
	}
	if c.HasU {
		line.U = decimals(c.U, 1) + " mm"
		if c.IsGrade {
			line.U = decimals(c.U, 2) + " mm/m"
		}
	}
	lim := p.Res.Job.LaserLimits
	if !c.IsGrade {
		line.Drift, line.Limit = plusSign(c.Level.Fixed(unit.MM, 1))+" mm", "none"
		if lim != nil && lim.Level != nil {
			line.Drift, line.Limit = plusSign(nearLimit(c.Level, lim.Level.Length))+" mm", lim.Level.Exact(unit.MM, 0)+" mm"
		}
		return line
	}
	line.Drift, line.Limit = plusSign(perMetre(c.Grade))+" mm/m", "none"
	if lim == nil {
		return line
	}
	limit := lim.Grade
	if c.What == "direction" {
		limit = lim.Direction
	}
	if limit != nil {
		line.Limit = perMetre(limit.Grade) + " mm/m"
		if (line.Drift[1:] == line.Limit || line.Drift == line.Limit) && c.State == plane.Outside {
			line.Drift = "just over " + line.Limit
		}
	}
	return line
}

// perMetre prints a grade in millimetres per metre, with a hundredth.
func perMetre(g unit.Grade) string {
	if g.Run == 0 {
		return "0.00"
	}
	return unit.MulDiv(unit.Metre, g.Rise, g.Run).Fixed(unit.MM, 2)
}
