// Package surface finds the level of a triangulated surface at a place.
//
// Vertices are whole Lengths relative to the job's origin. Whether a place is
// inside a triangle is the exact sign of the edge function (a float filter with
// its error bound first, then 128-bit whole numbers), so no place on an edge or
// a vertex is lost and none outside is found. Invisible faces supply nothing.
package surface

import "sightrail/formats/unit"

// Vertex is a corner: place and level.
type Vertex struct{ E, N, Z unit.Length }

// TIN is a triangulated surface ready to be asked. It is safe for use by
// several goroutines.
type TIN struct {
	vertices []Vertex
	faces    [][3]int32
}
