package convert

import (
	"fmt"
	"slices"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// PointReader turns batches of points into batches of shots.
type PointReader struct {
	Frame  *Frame
	Unit   unit.Unit // of the file
	Survey int
	Worth  *Worth // of every point; nil when not known
	Laser  bool   // points are readings on a laser plane
	shots  []Shot
}

// Shots converts one batch. The slice is reused by the next call.
func (r *PointReader) Shots(at formats.Pos, batch []formats.Point) []Shot {
	r.shots = r.Append(r.shots[:0], at, batch)
	return r.shots
}

// Append converts one batch and appends it.
func (r *PointReader) Append(shots []Shot, at formats.Pos, batch []formats.Point) []Shot {
	n := len(shots)
	shots = slices.Grow(shots, len(batch))[:n+len(batch)]
	for i := range batch {
		r.shot(&shots[n+i], at, &batch[i])
	}
	return shots
}

// Shot converts one point.
func (r *PointReader) Shot(s *Shot, at formats.Pos, p *formats.Point) { r.shot(s, at, p) }

func (r *PointReader) shot(s *Shot, at formats.Pos, p *formats.Point) {
	*s = Shot{} // and field by field, without a copy of the whole
	s.Pos.File, s.Pos.Part, s.Pos.Row, s.Pos.Col = at.File, at.Part, p.Row, p.Col
	s.ID, s.Code, s.Layer, s.Run, s.Staffed, s.Time = p.ID, p.Code, p.Layer, p.Run, p.Staffed, p.Time
	s.Survey, s.Use = r.Survey, Assessed
	if p.Bad != "" {
		s.Use, s.Reason = NotAssessed, p.Bad
		return
	}
	if p.ID == "" && !p.Placed && !p.Levelled && !p.Chained && !p.Reading.Set && !p.Receiver.Set {
		s.Use = Blank
		return
	}
	if p.Placed {
		place, err := r.Frame.Place(p.E, p.N, r.Unit)
		if err != nil {
			s.Use, s.Reason = NotAssessed, fmt.Sprintf("easting %s, northing %s: too far from the origin of the job to be kept exactly", p.E, p.N)
			return
		}
		s.Place, s.Placed = place, true
	}
	switch {
	case r.Laser:
		on, why := r.onPlane(p)
		if why != "" {
			s.Use, s.Reason = NotAssessed, why
			return
		}
		s.Laser = on
	case p.Levelled:
		l, err := p.Z.Length(r.Unit)
		if err != nil {
			s.Use, s.Reason = NotAssessed, err.Error()
			return
		}
		s.Level, s.Levelled, s.Worth = l, true, Worthy{Of: r.Worth}
	default:
		s.Use, s.Reason = NotAssessed, "no level in this row"
	}
	if p.Chained {
		c, err1 := p.Chainage.Length(r.Unit)
		o, err2 := p.Offset.Length(r.Unit)
		if err1 == nil && err2 == nil {
			s.Chainage, s.Offset, s.Chained = c, o, true
		}
	}
}

// Places gives names their places: from peg lists and chainage tables.
type Places struct {
	byName map[string]placed
	Notes  []formats.Problem
}

type placed struct {
	pos              formats.Pos
	place            Place
	placed           bool
	chainage, offset unit.Length
	chained          bool
	run              string
	twice            bool // two different places for the name
}

// NewPlaces makes an empty list.
func NewPlaces() *Places { return &Places{byName: map[string]placed{}} }

// Add takes the points of one peg list or chainage table. A name with two
// different places is a problem, and gives no place at all.
func (l *Places) Add(f *Frame, d *formats.Document, u unit.Unit) (problems []formats.Problem) {
	r := PointReader{Frame: f, Unit: u}
	at := formats.Pos{File: d.File}
	for i := range d.Points {
		var s Shot
		r.shot(&s, at, &d.Points[i])
		if s.ID == "" || !s.Placed && !s.Chained {
			continue
		}
		p := placed{pos: s.Pos, place: s.Place, placed: s.Placed, chainage: s.Chainage, offset: s.Offset, chained: s.Chained, run: s.Run}
		if old, ok := l.byName[s.ID]; ok && (old.place != p.place || old.chainage != p.chainage || old.offset != p.offset || old.run != p.run) {
			problems = append(problems, formats.Problem{Pos: s.Pos, Field: "name",
				Text: fmt.Sprintf("%s has another place here than at %s; a name must have one place to be joined to", s.ID, old.pos)})
			p.twice = true
		}
		l.byName[s.ID] = p
	}
	return problems
}

// Len is how many names have a place.
func (l *Places) Len() int { return len(l.byName) }

// Join gives a shot without a place the place of its name. It reports whether
// the name was found.
func (l *Places) Join(s *Shot) bool {
	p, ok := l.byName[s.ID]
	if !ok || p.twice {
		return false
	}
	if !s.Placed && p.placed {
		s.Place, s.Placed = p.place, true
	}
	if !s.Chained && p.chained {
		s.Chainage, s.Offset, s.Chained = p.chainage, p.offset, true
	}
	if s.Run == "" {
		s.Run = p.run
	}
	return true
}
