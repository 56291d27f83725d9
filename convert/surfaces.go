package convert

import (
	"fmt"
	"strconv"

	"sightrail/convert/plane"
	"sightrail/convert/surface"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// Surface is a design surface in the frame of the job: triangles, a plane, or a
// table of levels by name.
type Surface struct {
	Name    string
	Pos     formats.Pos
	TIN     *surface.TIN
	Plane   *plane.Plane
	Outline *Outline              // of Plane and TIN in plan; nil has no end of its own
	Levels  map[string]TableLevel // of a table
	Notes   []formats.Problem     // what is odd but usable
	chain   *chainTable           // levels by chainage and offset
	line    *gradedLine
	aligned *aligned
	number  []int32            // face of the TIN → face of the file, from 1; nil: the next
	corners func(int32) string // names the corners of a face of a TIN that was made here
}

// NewSurface takes a surface of a file, in unit u, into the frame of the job.
// Invisible faces are left out. A surface without a visible face, a face that
// names a point that is not there, and a point beyond the range of a length are
// errors.
func NewSurface(s *formats.Surface, u unit.Unit, f *Frame) (*Surface, error) {
	out := &Surface{Name: s.Name, Pos: s.Pos}
	vertices := make([]surface.Vertex, len(s.Vertices))
	east, north := f.Rulers(u)
	level := unit.NewRuler(0, u, u)
	for i := range s.Vertices {
		v := &s.Vertices[i]
		e, err := east.Length(v.E)
		n, nErr := north.Length(v.N)
		z, zErr := level.Length(v.Z)
		p := Place{e, n}
		if err != nil || nErr != nil || zErr != nil || !p.near() || z.Abs() > unit.MaxLength/2 {
			return nil, fmt.Errorf("point %d%s is more than 1,171 km from the origin of the job (%d E, %d N); check the unit and the grid of the file",
				v.ID, inLine(v.Row), f.E0, f.N0)
		}
		vertices[i] = surface.Vertex{E: p.E, N: p.N, Z: z}
	}
	faces := make([][3]int32, 0, max(len(s.Faces)-s.Invisible, 0))
	for i := range s.Faces {
		face := &s.Faces[i]
		if face.Invisible {
			if out.number == nil {
				out.number = make([]int32, i, len(s.Faces))
				for k := range out.number {
					out.number[k] = int32(k + 1)
				}
			}
			continue
		}
		for _, v := range face.V {
			if v < 0 || int(v) >= len(vertices) {
				return nil, fmt.Errorf("face %d names a point that is not there", i+1)
			}
		}
		if faces = append(faces, face.V); out.number != nil {
			out.number = append(out.number, int32(i+1))
		}
	}
	if len(faces) == 0 {
		return nil, fmt.Errorf("it has no visible face: %d points and %d faces, all invisible or none; ask for a surface with its triangles", len(s.Vertices), len(s.Faces))
	}
	var err error
	if out.TIN, err = surface.New(vertices, faces); err != nil {
		return nil, err
	}
	if n := out.TIN.Flat; n > 0 {
		out.Notes = append(out.Notes, formats.Problem{Pos: s.Pos, Field: "surface " + s.Name,
			Text: fmt.Sprintf("%d of %d visible faces have no plan area (vertical, or corners in one line) and supply no level", n, len(faces))})
	}
	return out, nil
}

// TableLevel is a design level by name.
type TableLevel struct {
	Pos   formats.Pos
	Level unit.Length
	Twice bool // two levels are given for the name
}

// NewLevelTable makes a surface of the points of a file: design levels by name.
// Two levels of one name are a problem, and give none.
func NewLevelTable(name string, d *formats.Document, u unit.Unit, f *Frame) (*Surface, []formats.Problem) {
	s := &Surface{Name: name, Pos: formats.Pos{File: d.File}, Levels: map[string]TableLevel{}}
	var problems []formats.Problem
	r := PointReader{Frame: f, Unit: u}
	for i := range d.Points {
		var shot Shot
		r.shot(&shot, s.Pos, &d.Points[i])
		if shot.ID == "" || !shot.Levelled {
			continue
		}
		x := TableLevel{Pos: shot.Pos, Level: shot.Level}
		if old, there := s.Levels[shot.ID]; there && old.Level != x.Level {
			problems = append(problems, formats.Problem{Pos: shot.Pos, Field: "level", Text: fmt.Sprintf("%s has another design level here than at %s; a name has one", shot.ID, old.Pos)})
			x.Twice = true
		}
		s.Levels[shot.ID] = x
	}
	return s, problems
}

// At is the design level for a shot: at its place, or by its name. from says what
// it comes from; why, that there is none.
func (s *Surface) At(shot *Shot) (z unit.Length, from, why string) {
	z, face, from, why := s.Level(shot)
	if why == "" && from == "" {
		from = s.Face(face)
	}
	return z, from, why
}

// Level is At, with the face in place of words where the level comes from a TIN: from
// is empty then, and Face names it.
func (s *Surface) Level(shot *Shot) (z unit.Length, face int32, from, why string) {
	if s.Levels != nil {
		x, there := s.Levels[shot.ID]
		switch {
		case !there:
			return 0, 0, "", fmt.Sprintf("the level table %s has no point %s", s.Name, shot.ID)
		case x.Twice:
			return 0, 0, "", fmt.Sprintf("the level table %s has two levels for %s", s.Name, shot.ID)
		}
		return x.Level, 0, "design level of " + shot.ID + ", " + x.Pos.String(), ""
	}
	switch {
	case s.chain != nil:
		z, from, why = s.chain.at(shot)
		return z, 0, from, why
	case s.line != nil:
		z, from, why = s.line.at(shot)
		return z, 0, from, why
	case s.aligned != nil:
		z, from, why = s.aligned.at(shot)
		return z, 0, from, why
	case !shot.Placed:
		return 0, 0, "", "it has no place: no easting and northing, and its name is in no peg list of the job"
	}
	if s.Plane != nil {
		if s.Outline != nil && !s.Outline.Contains(shot.Place) {
			return 0, 0, "", fmt.Sprintf("outside the design plane %s", s.Name)
		}
		z, err := s.Plane.At(plane.Place{E: shot.Place.E, N: shot.Place.N})
		if err != nil {
			return 0, 0, "", fmt.Sprintf("the design plane %s at this place: %v", s.Name, err)
		}
		return z, 0, "plane " + s.Name, ""
	}
	if s.Outline != nil && !s.Outline.Contains(shot.Place) {
		return 0, 0, "", fmt.Sprintf("outside the boundary of the design surface %s", s.Name)
	}
	z, face, state, other := s.TIN.Level(shot.Place.E, shot.Place.N)
	switch state {
	case surface.Outside:
		return 0, 0, "", fmt.Sprintf("outside the design surface %s", s.Name)
	case surface.Twice:
		return 0, 0, "", fmt.Sprintf("two faces of the design surface %s lie over each other here, %s m apart", s.Name, (other-z).Abs().Fixed(unit.M, 3))
	}
	return z, face, "", ""
}

func inLine(row int) string {
	if row == 0 {
		return ""
	}
	return fmt.Sprintf(" (line %d)", row)
}

// Ready loads ahead what Level needs for shots that follow each other in any order; it
// changes no answer.
func (s *Surface) Ready(shots []Shot) {
	if s.TIN == nil || s.Levels != nil {
		return
	}
	var places [surface.Touched][2]unit.Length
	n := min(len(shots), surface.Touched)
	for i := range n {
		places[i] = [2]unit.Length{shots[i].Place.E, shots[i].Place.N}
	}
	s.TIN.Touch(places[:n])
}

// Face names a face of the TIN as the file counts it, invisible faces included, or by
// its corners where it was made here.
func (s *Surface) Face(k int32) string {
	if s.corners != nil {
		return fmt.Sprintf("triangle %s of %s", s.corners(k), s.Name)
	}
	n := k + 1
	if s.number != nil {
		n = s.number[k]
	}
	var b [64]byte // of every shot on a surface: without fmt
	return string(append(append(strconv.AppendInt(append(b[:0], "face "...), int64(n), 10), " of "...), s.Name...))
}
