// Package formats says what a file can say (Document and its records), where
// it said it (Pos), what is wrong with it (Problem) and what a file format is
// (Format). Each format is a folder below; the folder all lists them.
//
// Records keep numbers as the file wrote them (unit.Decimal, in the unit of the
// file) and the place they were written. Nothing here computes a level.
package formats

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sightrail/formats/unit"
)

// Pos is a place in an input file. Rows and columns count from 1; 0 means "not
// one row" or "not one column".
type Pos struct {
	File string // name as the job or the command line gave it, with forward slashes
	Part string // sheet of a workbook or path of an element; "" in plain text
	Row  int    // line of a text file, row of a sheet
	Col  int    // field of a row (first byte of a line, in XML); column of a sheet
}

// String writes file:row:col, with the part in square brackets after the file:
// "levels.csv:12:4", "levels.xlsx[Day 1]:D12", "design.xml[Surface DESIGN]:88".
func (p Pos) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Part != "" {
		b.WriteString("[" + p.Part + "]")
	}
	if c := p.Cell(); c != "" {
		b.WriteString(":" + c)
	}
	return b.String()
}

// Cell writes the place inside the file: "12:4", or "D12" in a workbook.
func (p Pos) Cell() string {
	switch {
	case p.Row <= 0:
		return ""
	case p.Col <= 0:
		return strconv.Itoa(p.Row)
	case p.sheet():
		return ColumnName(p.Col) + strconv.Itoa(p.Row)
	}
	return strconv.Itoa(p.Row) + ":" + strconv.Itoa(p.Col)
}

func (p Pos) sheet() bool {
	f := strings.ToLower(p.File)
	return p.Part != "" && (strings.HasSuffix(f, ".xlsx") || strings.HasSuffix(f, ".xlsm"))
}

// At returns p with another row and column.
func (p Pos) At(row, col int) Pos { p.Row, p.Col = row, col; return p }

// Compare orders places by file, part, row and column.
func (p Pos) Compare(o Pos) int {
	return cmp.Or(cmp.Compare(p.File, o.File), cmp.Compare(p.Part, o.Part), cmp.Compare(p.Row, o.Row), cmp.Compare(p.Col, o.Col))
}

// ColumnName writes a sheet's column number in letters: 1 is A, 28 is AB.
func ColumnName(n int) string {
	s := ""
	for ; n > 0; n = (n - 1) / 26 {
		s = string(rune('A'+(n-1)%26)) + s
	}
	return s
}

// Document is what one file says. A decoder fills what it finds; absent kinds
// stay empty.
type Document struct {
	File   string
	Format string // name of the Format
	Units  Units
	CRS    CRS
	About  []Property // what the file says of itself: version, dates, project

	Books      []Book
	Points     []Point // empty when the decoder was given Options.Points
	PointCount int     // points read, kept or streamed
	Surfaces   []Surface
	Alignments []Alignment
	Networks   []Network
	Polygons   []Polygon
	Lines      []Line

	Problems []Problem // what could not be read; sorted by place
	Notes    []Problem // what is odd but usable
}

// Units is what a file declares of its units. A zero unit.Unit is "not said".
type Units struct {
	Linear   unit.Unit // plan and levels
	Level    unit.Unit // levels, when declared apart from Linear
	Diameter unit.Unit // pipe dimensions
}

// CRS is what a file declares of its coordinate system, as text.
type CRS struct {
	EPSG     string // "7855"; digits only
	Name     string
	Vertical string // height datum
}

// Property is one thing a file says of itself.
type Property struct{ Name, Value string }

// Reading is one number of a row, as written.
type Reading struct {
	Value   unit.Decimal
	Col     int  // column of the cell
	Set     bool // a cell that holds a number; a blank cell is not set
	Bracket bool // written in brackets: an inverted staff
}

// Book is a level book: one sheet or one file of staff readings, in order.
type Book struct {
	Name    string    // sheet, or file without its folder
	Pos     Pos       // the heading row
	Unit    unit.Unit // of readings and levels, where the headings say it
	DistIn  unit.Unit // of distances, where the headings say it
	Columns []Column  // the columns found, in order
	Rows    []BookRow
	HasFlag bool // has a column that flags an inverted staff
	// FeetInches says that readings were written in feet and inches, as the
	// options declare: Unit is the inch, and levels, written in decimal feet, are
	// inches as well.
	FeetInches bool
}

// Has reports whether the book has a column of that role.
func (b *Book) Has(role string) bool {
	return slices.ContainsFunc(b.Columns, func(c Column) bool { return c.Role == role })
}

// Column is one column of a table: its number, its heading as written, the
// role it was given and the unit its heading names.
type Column struct {
	Col     int
	Heading string
	Role    string
	Unit    unit.Unit
}

// BookRow is one row of a level book. What not every book has columns for stands
// beside the row: RowFigures, RowWires and RowNotes are nil in all rows of a book
// that has none of their columns, and are there in all rows of one that has; ask
// before reading their fields.
type BookRow struct {
	Row          int
	Point        string
	BS, IS, FS   Reading
	Level        Reading // as booked
	Known        Reading // a level that is given, not observed
	Inverted     bool    // the flag column says so
	Page         int     // from 1; 0 where the book has no pages
	Code, Remark string
	Bad          string // why this row cannot be used; "" when it can
	*RowFigures
	*RowWires
	*RowNotes
}

// RowFigures are what a book works out beside its readings, and how long the sights
// are.
type RowFigures struct {
	Rise, Fall  Reading // as booked
	Collimation Reading // as booked
	Distance    Reading // of the sight, where a row has one column for it
	DistanceBS  Reading
	DistanceFS  Reading
}

// RowWires are the other wires of three-wire readings.
type RowWires struct {
	WiresBS          Wires // upper and lower wire of a three-wire reading; BS is the middle one
	WiresIS, WiresFS Wires
}

// RowNotes are what a row says of its point and of its instrument, where the book
// has columns for that.
type RowNotes struct {
	Staffed            string
	Run                string  // run, pipe or line the point belongs to
	Staff, Setup, Time string  // as written
	Chainage, Offset   Reading // where the book places its points by chainage
}

// Wires are the outer wires of a three-wire reading, and the mean of the three
// as booked; a decoder has compared it with the wires.
type Wires struct{ Upper, Lower, Mean Reading }

// Blank reports whether the row holds nothing that a book is kept for.
func (r *BookRow) Blank() bool {
	return r.Bad == "" && r.Point == "" && !r.BS.Set && !r.IS.Set && !r.FS.Set && !r.Known.Set && !r.Level.Set
}

// Point is one surveyed or listed place.
type Point struct {
	Row, Col int // of its first field; the Document or the Batch knows file and part
	ID       string
	E, N, Z  unit.Decimal
	Placed   bool // E and N are there
	Levelled bool // Z is there
	Chainage unit.Decimal
	Offset   unit.Decimal // + = right
	Chained  bool         // Chainage is there
	Code     string
	Layer    string
	Run      string // run, pipe or line the point belongs to
	Staffed  string // what was staffed: invert, soffit, top, ...
	Setup    string
	Reading  Reading // of a staff on a laser plane
	Receiver Reading // offset of a machine receiver above a laser plane; + is high
	Time     string  // as written
	Desc     string
	Bad      string // why this row cannot be used; "" when it can
}

// Surface is a triangulated surface. Coordinates are in the file's linear unit.
type Surface struct {
	Name, Desc string
	Pos        Pos
	Vertices   []Vertex
	Faces      []Face
	Invisible  int         // how many of the Faces are invisible
	Source     string      // "faces", or what there is instead: "points", "breaklines", "nothing"
	Breaklines []Breakline // what the faces were made from, as far as the file gives it
	Boundaries []Boundary
}

// Vertex is one corner of a surface.
type Vertex struct {
	E, N, Z unit.Decimal
	ID      int // as the file numbers it
	Row     int // line in the file, or 0 when it was not counted
}

// Face is one triangle, by index into Vertices.
type Face struct {
	V         [3]int32
	Invisible bool // part of the triangulation that supplies no level
}

// Network is a pipe network.
type Network struct {
	Name, Type string
	Pos        Pos
	Structures []Structure
	Pipes      []Pipe
}

// Structure is a pit, manhole or outlet.
type Structure struct {
	Name    string
	Pos     Pos
	E, N    unit.Decimal
	Placed  bool
	Rim     Reading
	Sump    Reading
	Inverts []Invert
	Kind    string // "circular", "rectangular", "inlet", "outlet", "connection"
	Desc    string

	Diameter      Reading   // inside, of a circular structure
	Length, Width Reading   // inside, of a rectangular structure
	DimUnit       unit.Unit // of these; zero when the file does not say
}

// Invert is a pipe's invert in a structure.
type Invert struct {
	Pos  Pos
	Elev Reading
	Flow string // "in", "out", "both" or ""
	Pipe string
}

// Pipe is one pipe from structure to structure. Start and End are the file's
// direction, which is not the direction of flow.
type Pipe struct {
	Name       string
	Pos        Pos
	Start, End string
	Shape      string    // "circular", "egg", "elliptical", "rectangular", "channel" or ""
	Bore       Reading   // inside diameter or height
	Wall       Reading   // thickness
	Width      Reading   // inside, of a pipe that is not circular; of a channel, at the top
	Bottom     Reading   // width of a channel at the bottom
	DimUnit    unit.Unit // of these; zero when the file does not say
	Material   string
	Slope      Reading // as stated
	Length     Reading // as stated
	Centre     Place   // of the arc of a curved pipe
	Desc       string
}

// Polygon is a named outline, first ring outer, the others holes.
type Polygon struct {
	Name  string
	Pos   Pos
	Rings [][]Vertex // Z unused; first corner not repeated at the end
}

// Line is a named line of one part or several.
type Line struct {
	Name  string
	Pos   Pos
	Parts [][]Vertex // Z unused
}

// Counts of a document, as `inspect` prints them.
type Counts struct {
	Points         int `json:"points"`
	Surfaces       int `json:"surfaces"`
	Vertices       int `json:"vertices"`
	Faces          int `json:"faces"`
	InvisibleFaces int `json:"invisibleFaces"`
	Alignments     int `json:"alignments"`
	Structures     int `json:"structures"`
	Pipes          int `json:"pipes"`
	Books          int `json:"books"`
	BookRows       int `json:"bookRows"`
	Polygons       int `json:"polygons"`
	Lines          int `json:"lines"`
	Breaklines     int `json:"breaklines"`
	Boundaries     int `json:"boundaries"`
	Elements       int `json:"alignmentElements"`
	PIs            int `json:"intersectionPoints"`
	Equations      int `json:"stationEquations"`
	Profiles       int `json:"profiles"`
	PVIs           int `json:"profilePoints"`
	Sections       int `json:"crossSections"`
	SectionLines   int `json:"crossSectionLines"`
	SectionPoints  int `json:"crossSectionPoints"`
}

// Counts counts what the document holds. Faces counts all faces, the invisible
// ones included.
func (d *Document) Counts() Counts {
	c := Counts{Points: d.PointCount, Surfaces: len(d.Surfaces), Alignments: len(d.Alignments), Books: len(d.Books), Polygons: len(d.Polygons), Lines: len(d.Lines)}
	for i := range d.Surfaces {
		c.Vertices += len(d.Surfaces[i].Vertices)
		c.Faces += len(d.Surfaces[i].Faces)
		c.InvisibleFaces += d.Surfaces[i].Invisible
		c.Breaklines += len(d.Surfaces[i].Breaklines)
		c.Boundaries += len(d.Surfaces[i].Boundaries)
	}
	for i := range d.Alignments {
		c.countAlignment(&d.Alignments[i])
	}
	for i := range d.Networks {
		c.Structures += len(d.Networks[i].Structures)
		c.Pipes += len(d.Networks[i].Pipes)
	}
	for i := range d.Books {
		c.BookRows += len(d.Books[i].Rows)
	}
	return c
}

func (c *Counts) countAlignment(a *Alignment) {
	c.Elements += len(a.Elements)
	c.PIs += len(a.PIs)
	c.Equations += len(a.Equations)
	c.Profiles += len(a.Profiles)
	c.Sections += len(a.Sections)
	for i := range a.Profiles {
		c.PVIs += len(a.Profiles[i].PVIs)
	}
	for i := range a.Sections {
		c.SectionLines += len(a.Sections[i].Surfaces)
		for k := range a.Sections[i].Surfaces {
			c.SectionPoints += len(a.Sections[i].Surfaces[k].Points)
		}
	}
}

// Refuse adds a problem: something that could not be read.
func (d *Document) Refuse(at Pos, field, format string, args ...any) {
	d.Problems = append(d.Problems, Problem{Pos: at, Field: field, Text: fmt.Sprintf(format, args...)})
}

// Note adds a note: something odd but usable.
func (d *Document) Note(at Pos, field, format string, args ...any) {
	d.Notes = append(d.Notes, Problem{Pos: at, Field: field, Text: fmt.Sprintf(format, args...)})
}
