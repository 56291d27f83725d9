package qa

import (
	"fmt"
	"math"

	"sightrail/convert"
	"sightrail/convert/plane"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// LaserResult is one laser set-up, for the report: its plane, what was compared,
// and whether its levels are assessed.
type LaserResult struct {
	Setup  *job.LaserSetup
	Mark   unit.Length // level of the mark
	Plane  plane.Plane
	Laid   bool // the plane could be worked out
	Checks []LaserCheck
	Bad    string // why no level of it is assessed; "" when they are
}

// LaserCheck is one comparison of a set-up: its closing reading, a peg, a grade
// or the direction.
type LaserCheck struct {
	What    string // "closing on BM1", "level on P3", "grade along"
	Against string // the other set-up, or "known level"
	IsGrade bool
	Level   unit.Length // drift: later minus earlier, measured minus known
	Grade   unit.Grade  // drift of a grade, or of the direction as offset over distance
	State   plane.State
	Why     string  // when it was not observed
	U       float64 // standard uncertainty of the drift, in mm or mm per m
	HasU    bool
}

// lasers lays the planes of the job, compares the set-ups, and says which ones
// supply levels.
func (r *Run) lasers() {
	j := r.Head.Job
	r.planes = make([]*convert.LaserSetup, len(j.LaserSetups))
	r.Head.Lasers = make([]LaserResult, len(j.LaserSetups))
	for i := range j.LaserSetups {
		r.planes[i] = r.lay(i)
	}
	for i := range j.LaserSetups {
		r.closing(i)
		r.knownPegs(i)
		for k := range i {
			r.compare(k, i)
		}
	}
	for i := range j.LaserSetups {
		res := &r.Head.Lasers[i]
		if res.Bad == "" {
			res.Bad = res.unproved(j.LaserLimits)
		}
		r.planes[i].Bad = res.Bad
		line := "laser set-up " + res.Setup.Name
		if res.Bad != "" {
			r.Head.Proved = append(r.Head.Proved, line+": levels not proved: "+res.Bad)
		} else {
			r.Head.Proved = append(r.Head.Proved, line+": levels proved by "+res.provedBy())
		}
	}
}

// lay works out the plane of a set-up. What is wanting is a problem of the job.
func (r *Run) lay(i int) *convert.LaserSetup {
	j := r.Head.Job
	l, res := &j.LaserSetups[i], &r.Head.Lasers[i]
	res.Setup = l
	out := &convert.LaserSetup{Name: l.Name, Worth: laserWorth(l)}
	cannot := func(key, format string, args ...any) *convert.LaserSetup {
		res.Bad = fmt.Sprintf(format, args...)
		r.problem(j.Where(fmt.Sprintf("laserSetups[%d].%s", i, key)), l.Name, "%s", res.Bad)
		return out
	}
	if m := r.marks[l.Mark]; m != nil {
		res.Mark = m.Level.Length
	} else {
		res.Mark = l.Level.Length
	}
	origin, ok := r.placeOf(l.Mark, l.Easting, l.Northing)
	if !ok {
		return cannot("mark", "the mark %s has no place; add easting and northing to it, here or in benchMarks, or list it in places", l.Mark)
	}
	level, err := res.Mark.Add(l.Reading.Length)
	if err != nil {
		return cannot("reading", "%v", err)
	}
	res.Plane = plane.Plane{Origin: origin, Level: level, Along: l.Grade.Grade}
	if l.Across != nil {
		res.Plane.Across = l.Across.Grade
	}
	if l.Bearing != nil {
		res.Plane.Axis = plane.Bearing(l.Bearing.Angle)
	} else {
		from, okFrom := r.placeOf(l.From, nil, nil)
		to, okTo := r.placeOf(l.To, nil, nil)
		switch {
		case !okFrom:
			return cannot("from", "%s is neither a pit of a design, nor a mark or a peg with a place", l.From)
		case !okTo:
			return cannot("to", "%s is neither a pit of a design, nor a mark or a peg with a place", l.To)
		}
		if res.Plane.Axis, err = plane.Between(from, to); err != nil {
			return cannot("to", "%v", err)
		}
	}
	out.Plane, res.Laid = res.Plane, true
	if l.Laser != nil {
		if p, err := r.place(l.Laser.Easting, l.Laser.Northing); err == nil {
			out.Stand = &plane.Place{E: p.E, N: p.N}
		}
	}
	if m := l.SightMark; m != nil {
		out.Turned = math.Atan2(float64(m.Offset.Length), float64(m.Distance.Length))
	}
	return out
}

func laserWorth(l *job.LaserSetup) *convert.Worth {
	w := l.Worth
	if w == nil {
		return nil
	}
	out := &convert.Worth{Own: w.Reading.Millimetres(), Shared: w.Setup.Millimetres()}
	if w.Grade != nil {
		perMetre := w.Grade.Ratio() * 1000
		out.Slope = &convert.Slope{Along: perMetre, Across: perMetre}
	}
	return out
}

// placeOf finds the place of a name: what is given beside it, a bench mark, a
// peg list, or a pit that only one design has.
func (r *Run) placeOf(name string, e, n *job.Coordinate) (plane.Place, bool) {
	at := func(p convert.Place) plane.Place { return plane.Place{E: p.E, N: p.N} }
	if m := r.marks[name]; e == nil && m != nil {
		e, n = m.Easting, m.Northing
	}
	if e != nil && n != nil {
		p, err := r.place(*e, *n)
		return at(p), err == nil
	}
	shot := convert.Shot{ID: name}
	if r.places.Join(&shot); shot.Placed {
		return at(shot.Place), true
	}
	var found []convert.Place
	for i := range r.Head.Job.Designs { // not the map, whose order changes
		net := r.Head.Design.Networks[r.Head.Job.Designs[i].Name]
		if net == nil {
			continue
		}
		for k := range net.Pits {
			if p := &net.Pits[k]; p.Name == name && p.Placed && (len(found) == 0 || found[0] != p.Place) {
				found = append(found, p.Place)
			}
		}
	}
	if len(found) != 1 {
		return plane.Place{}, false
	}
	return at(found[0]), true
}

// limits of the job.
func laserLimits(l *job.LaserLimits) (out plane.Limits) {
	if l == nil {
		return out
	}
	if l.Level != nil {
		out.Level = &l.Level.Length
	}
	if l.Grade != nil {
		out.Grade = &l.Grade.Grade
	}
	if l.Direction != nil {
		out.Direction = &l.Direction.Grade
	}
	return out
}

// levelCheck judges a difference of levels by the limit of the job.
func (r *Run) levelCheck(what, against string, diff unit.Length) LaserCheck {
	c := LaserCheck{What: what, Against: against, Level: diff, State: plane.NotJudged}
	if lim := laserLimits(r.Head.Job.LaserLimits).Level; lim != nil {
		c.State = plane.Outside
		if diff.Abs() <= *lim {
			c.State = plane.Within
		}
	}
	return c
}

// closing compares the last reading on the mark with the first.
func (r *Run) closing(i int) {
	res := &r.Head.Lasers[i]
	c := res.Setup.Closing
	if c == nil {
		res.Checks = append(res.Checks, LaserCheck{What: "closing on " + res.Setup.Mark, Why: "no closing reading supplied"})
		return
	}
	res.Checks = append(res.Checks, r.levelCheck("closing on "+res.Setup.Mark, "its first reading", c.Reading.Length-res.Setup.Reading.Length))
}

// knownPegs compares the pegs of a set-up that are bench marks.
func (r *Run) knownPegs(i int) {
	res := &r.Head.Lasers[i]
	for k := range res.Setup.Pegs {
		p := &res.Setup.Pegs[k]
		m := r.marks[p.Name]
		if m == nil || p.Name == res.Setup.Mark {
			continue
		}
		what := "level on " + p.Name
		level, why := r.pegLevel(i, p)
		if why != "" {
			res.Checks = append(res.Checks, LaserCheck{What: what, Against: "known level", Why: why})
			continue
		}
		res.Checks = append(res.Checks, r.levelCheck(what, "known level", level-m.Level.Length))
	}
}

// pegLevel is the level of a peg by a set-up.
func (r *Run) pegLevel(i int, p *job.LaserPeg) (level unit.Length, why string) {
	res := &r.Head.Lasers[i]
	if !res.Laid {
		return 0, "the plane of the set-up is not known"
	}
	at, ok := r.placeOf(p.Name, p.Easting, p.Northing)
	if !ok {
		return 0, "the peg has no place"
	}
	z, err := res.Plane.At(at)
	if err == nil {
		level, err = z.Add(-p.Reading.Length)
	}
	if err != nil {
		return 0, err.Error()
	}
	return level, ""
}

// compare compares a set-up with a later one on what they have in common. A drift
// outside its limit speaks against both: the pegs do not say which has moved.
func (r *Run) compare(k, i int) {
	before, after := &r.Head.Lasers[k], &r.Head.Lasers[i]
	if !before.Laid || !after.Laid {
		return
	}
	common, byName := 0, map[string]*job.LaserPeg{}
	for n := range before.Setup.Pegs {
		byName[before.Setup.Pegs[n].Name] = &before.Setup.Pegs[n]
	}
	var pegs []plane.Peg
	for n := range after.Setup.Pegs {
		p := &after.Setup.Pegs[n]
		old := byName[p.Name]
		if old == nil {
			continue
		}
		common++
		a, why := r.pegLevel(k, old)
		b, why2 := r.pegLevel(i, p)
		if why != "" || why2 != "" {
			continue // said below: no common peg
		}
		at, _ := r.placeOf(p.Name, p.Easting, p.Northing)
		pegs = append(pegs, plane.Peg{Name: p.Name, At: at, Before: a, After: b})
	}
	sb, sa := before.Setup.SightMark, after.Setup.SightMark
	sights := sb != nil && sa != nil && sb.Name == sa.Name
	if common == 0 && !sights {
		return
	}
	lim := laserLimits(r.Head.Job.LaserLimits)
	d := plane.Compare(&after.Plane, pegs, lim)
	if sights {
		d.Direction = plane.Turned(plane.Sight{Offset: sb.Offset.Length, Distance: sb.Distance.Length}, plane.Sight{Offset: sa.Offset.Length, Distance: sa.Distance.Length}, lim.Direction)
	}
	against := before.Setup.Name
	reading, mark, known := drifts(before.Setup, after.Setup)
	if len(pegs) < common {
		after.Checks = append(after.Checks, LaserCheck{What: "level", Against: against, Why: "a common peg has no place"})
	}
	for _, l := range d.Levels {
		c := LaserCheck{What: "level on " + l.Peg, Against: against, Level: l.Drift, State: l.State, Why: l.Why}
		if known {
			c.U, c.HasU = l.U(reading, mark)
		}
		after.Checks = append(after.Checks, c)
	}
	for _, g := range []struct {
		what string
		d    plane.GradeDrift
	}{{"grade along", d.Along}, {"grade across", d.Across}, {"direction", d.Direction}} {
		c := LaserCheck{What: g.what, Against: against, IsGrade: true, Grade: g.d.Grade, State: g.d.State, Why: g.d.Why}
		if known && g.what != "direction" {
			c.U, c.HasU = g.d.U(reading)
		}
		after.Checks = append(after.Checks, c)
	}
	if d.Outside() {
		for _, x := range []*LaserResult{before, after} {
			if x.Bad == "" {
				x.Bad = fmt.Sprintf("the set-ups %s and %s have drifted against each other beyond the limit", before.Setup.Name, after.Setup.Name)
			}
		}
	} else if d.Proves() {
		before.Checks = append(before.Checks, LaserCheck{What: "common pegs", Against: after.Setup.Name, State: plane.Within, Why: "listed at " + after.Setup.Name})
	}
}

// unproved says why a set-up proves nothing; "" when it is proved.
func (res *LaserResult) unproved(lim *job.LaserLimits) string {
	within := false
	for _, c := range res.Checks {
		switch {
		case c.State == plane.Outside:
			return c.What + " is outside its limit"
		case c.State == plane.Within && !c.IsGrade:
			within = true
		}
	}
	switch {
	case within:
		return ""
	case lim == nil || lim.Level == nil:
		return "the job gives no limit (laserLimits, level) to judge it by"
	}
	return "it has no closing reading, no peg of known level and no peg in common with another set-up"
}

func (res *LaserResult) provedBy() string {
	s := ""
	for _, c := range res.Checks {
		if c.State != plane.Within || c.IsGrade {
			continue
		}
		if s != "" {
			s += ", "
		}
		s += c.What
		if c.Against != "its first reading" {
			s += " (" + c.Against + ")"
		}
	}
	return s
}

// laserFile readies a file of readings on laser planes. Shots on known marks are
// compared like those of any point file.
func (r *Run) laserFile(i int, s *job.Survey) error {
	at := r.Head.Job.Where(fmt.Sprintf("surveys[%d].receiver", i))
	if rec := s.Receiver; rec != nil {
		for _, l := range r.planes {
			if l.HasHeight && l.Height != rec.Height.Length && (s.Setup == "" || s.Setup == l.Name) {
				r.problem(at, "receiver", "the receiver on the set-up %s stands at another height in another survey; give the surveys set-ups of their own", l.Name)
			}
			if s.Setup == "" || s.Setup == l.Name {
				l.Height, l.HasHeight = rec.Height.Length, true
				if rec.Tilt != nil {
					l.Tilt = rec.Tilt.Radians()
				}
			}
		}
	}
	return r.pointFile(i, s)
}

// levelOnPlane gives a shot of a laser file its level.
func (r *Run) levelOnPlane(s *job.Survey, shot *convert.Shot) {
	if shot.Laser == nil {
		return
	}
	name := shot.Laser.Setup
	if name == "" {
		name = s.Setup
	}
	for _, l := range r.planes {
		if l.Name == name {
			if !shot.Placed {
				r.places.Join(shot)
			}
			l.Level(shot)
			return
		}
	}
	shot.Use = convert.NotAssessed
	if name == "" {
		shot.Reason = "nothing says which laser set-up it was read on; add a column \"setup\", or \"setup:\" to the survey"
	} else {
		shot.Reason = fmt.Sprintf("no laser set-up of the job is named %q", name)
	}
}

// drifts are the standard uncertainties that drifts between two set-ups are
// worked out from, in mm: the larger of the two.
func drifts(a, b *job.LaserSetup) (reading, mark float64, ok bool) {
	if a.Worth == nil || b.Worth == nil {
		return 0, 0, false
	}
	return max(a.Worth.Reading.Millimetres(), b.Worth.Reading.Millimetres()), max(a.Worth.Setup.Millimetres(), b.Worth.Setup.Millimetres()), true
}
