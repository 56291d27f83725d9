package convert

import (
	"sightrail/convert/surface"
	"sightrail/formats"
)

// Surface is a design surface in the frame of the job.
type Surface struct {
	Name   string
	Pos    formats.Pos
	TIN    *surface.TIN
	Source formats.Surface // names and numbering of the file
}
