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
	number []int32 // face of the TIN → face of the file, from 1
}

// NewSurface takes a surface of a file, in unit u, into the frame of the job.
// Invisible faces are left out.
func NewSurface(s *formats.Surface, u unit.Unit, f *Frame) (*Surface, error) {
	out := &Surface{Name: s.Name, Pos: s.Pos}
	vertices := make([]surface.Vertex, len(s.Vertices))
	for i := range s.Vertices {
		v := &s.Vertices[i]
		p, err := f.Place(v.E, v.N, u)
		if err == nil {
			vertices[i].Z, err = v.Z.Length(u)
		}
		if err != nil {
			return nil, fmt.Errorf("point %d: %w", v.ID, err)
		}
		vertices[i].E, vertices[i].N = p.E, p.N
	}
	faces := make([][3]int32, 0, len(s.Faces)-s.Invisible)
	for i := range s.Faces {
		if !s.Faces[i].Invisible {
			faces = append(faces, s.Faces[i].V)
			out.number = append(out.number, int32(i+1))
		}
	}
	var err error
	out.TIN, err = surface.New(vertices, faces)
	return out, err
}

// Face names a face of the TIN as the file counts it.
func (s *Surface) Face(k int32) string { return fmt.Sprintf("face %d of %s", s.number[k], s.Name) }
