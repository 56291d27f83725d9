// Package convert turns documents into a Survey (what was built) and a Design
// (what was asked), keeping the place in the file of every number. Its folders
// do the arithmetic: levels, surface.
//
// Plan places are exact: a coordinate is taken from its decimals, the origin of
// the job's Frame is subtracted in whole units, and what is left is a
// unit.Length. Levels never pass through a float.
package convert

import (
	"sightrail/formats"
	"sightrail/formats/unit"
)

// Frame is the plan frame and height datum of a job. Places are kept relative
// to its origin, which is a whole number of Unit, so that a coordinate of any
// size is exact.
type Frame struct {
	Unit   unit.Unit // of plan coordinates and levels, in print
	E0, N0 int64     // origin, in whole Units
	EPSG   string    // digits; "" for a local grid
	Grid   string    // name of the grid, for print
	Datum  string    // height datum, as text
}

// Place is a plan position relative to the origin of the Frame.
type Place struct{ E, N unit.Length }

// Place makes a Place of file coordinates in unit u.
func (f *Frame) Place(e, n unit.Decimal, u unit.Unit) (Place, error) {
	x, err := e.LengthFrom(f.E0, f.Unit, u)
	if err != nil {
		return Place{}, err
	}
	y, err := n.LengthFrom(f.N0, f.Unit, u)
	return Place{x, y}, err
}

// Rulers make places of many coordinates in one unit: easting and northing, as Place.
func (f *Frame) Rulers(u unit.Unit) (e, n *unit.Ruler) {
	return unit.NewRuler(f.E0, f.Unit, u), unit.NewRuler(f.N0, f.Unit, u)
}

// Easting and Northing print a place in the Frame's unit with at least least
// decimals, more where it takes more to be exact.
func (f *Frame) Easting(p Place, least int) string { return string(f.AppendEasting(nil, p, least)) }

// Northing prints the other coordinate.
func (f *Frame) Northing(p Place, least int) string { return string(f.AppendNorthing(nil, p, least)) }

// AppendEasting appends what Easting prints.
func (f *Frame) AppendEasting(b []byte, p Place, least int) []byte {
	return p.E.AppendFrom(b, f.E0, f.Unit, least)
}

// AppendNorthing appends what Northing prints.
func (f *Frame) AppendNorthing(b []byte, p Place, least int) []byte {
	return p.N.AppendFrom(b, f.N0, f.Unit, least)
}

// Use is what became of a row of input. The zero Use is not assessed.
type Use uint8

// The uses of a row. Every row read has exactly one; when several checks use
// it, the one that stands first here.
const (
	NotAssessed Use = iota
	Assessed
	Control    // bench marks, change points, check shots
	Superseded // a newer shot took its place by a rule of the job
	Excluded   // by a named rule of the job
	Blank      // nothing in it
)

var useWords = [...]string{"not assessed", "assessed", "control", "superseded", "excluded", "blank"}

func (u Use) String() string { return useWords[u] }

// Shot is one row of a survey: a reading reduced to a level, or a point of a
// point file. Use is Assessed until something says otherwise: a shot that
// arrives at the checks with another Use is shown, not judged.
type Shot struct {
	Pos      formats.Pos // the row, and the cell of its level or reading
	ID       string
	Code     string
	Layer    string
	Run      string // pipe or line it belongs to, where the file says so
	Staffed  string // invert, soffit, top, ...; "" = as the survey says
	Time     string
	Place    Place
	Placed   bool
	Chainage unit.Length // along Run
	Offset   unit.Length
	Chained  bool
	Level    unit.Length
	Laser    *OnPlane // read on a laser plane; nil for all others
	Levelled bool
	Use      Use
	Reason   string // why it is not to be assessed, or what it is control of
	Lot      string // of the job that it lies in; "" = none, or the job has none
	Survey   int    // index of the survey file in the job
	Adjusted bool   // Level was adjusted
	Worth    Worthy // what Level is worth, where the job says how to know
}

// Design is what was asked, by the names the job gives.
type Design struct {
	Surfaces map[string]*Surface
	Networks map[string]*Network
}
