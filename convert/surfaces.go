package convert

import (
	"fmt"

	"sightrail/convert/surface"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// Surface is a design surface in the frame of the job.
type Surface struct {
	Name   string
	Pos    formats.Pos
	TIN    *surface.TIN
	Notes  []formats.Problem // what is odd but usable
	number []int32           // face of the TIN → face of the file, from 1
}

// NewSurface takes a surface of a file, in unit u, into the frame of the job.
// Invisible faces are left out. A surface without a visible face, a face that
// names a point that is not there, and a point beyond the range of a length are
// errors.
func NewSurface(s *formats.Surface, u unit.Unit, f *Frame) (*Surface, error) {
	out := &Surface{Name: s.Name, Pos: s.Pos}
	vertices := make([]surface.Vertex, len(s.Vertices))
	for i := range s.Vertices {
		v := &s.Vertices[i]
		p, err := f.Place(v.E, v.N, u)
		z, zErr := v.Z.Length(u)
		if err != nil || zErr != nil || !p.near() || z.Abs() > unit.MaxLength/2 {
			return nil, fmt.Errorf("point %d%s is more than 1,171 km from the origin of the job (%d E, %d N); check the unit and the grid of the file",
				v.ID, inLine(v.Row), f.E0, f.N0)
		}
		vertices[i] = surface.Vertex{E: p.E, N: p.N, Z: z}
	}
	faces := make([][3]int32, 0, max(len(s.Faces)-s.Invisible, 0))
	for i := range s.Faces {
		face := &s.Faces[i]
		if face.Invisible {
			continue
		}
		for _, v := range face.V {
			if v < 0 || int(v) >= len(vertices) {
				return nil, fmt.Errorf("face %d names a point that is not there", i+1)
			}
		}
		faces = append(faces, face.V)
		out.number = append(out.number, int32(i+1))
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

func inLine(row int) string {
	if row == 0 {
		return ""
	}
	return fmt.Sprintf(" (line %d)", row)
}

// Face names a face of the TIN as the file counts it, invisible faces included.
func (s *Surface) Face(k int32) string { return fmt.Sprintf("face %d of %s", s.number[k], s.Name) }
