package formats

import (
	"io"

	"sightrail/formats/unit"
)

// Kind is a kind of content a format can hold. Holds lists them, so that a
// conversion names what it loses from the list.
type Kind string

// The kinds of content.
const (
	Books      Kind = "level book"
	Points     Kind = "points"
	Attributes Kind = "point codes and descriptions"
	// PointExtras are what else a point may carry: chainage, layer, run, set-up,
	// time, what was staffed.
	PointExtras   Kind = "chainage, layer, run, set-up, time and what was staffed"
	LaserReadings Kind = "readings on a laser plane"
	Surfaces      Kind = "surfaces"
	SourceLines   Kind = "breaklines and boundaries of surfaces"
	Alignments    Kind = "alignments"
	Networks      Kind = "pipe networks"
	Polygons      Kind = "polygons"
	PlanLines     Kind = "lines"
	CRSName       Kind = "coordinate system"
	UnitName      Kind = "unit of length"
)

// Format is one file format. Decode never opens a file: it takes a reader and
// a name.
type Format struct {
	Name       string   // "csv"
	Title      string   // "CSV and delimited text"
	Extensions []string // with the dot, lower case
	// Sniff reports whether a file of that name that begins with head looks
	// like this format.
	Sniff func(name string, head []byte) bool
	// Decode reads r to its end. It returns a Document whenever it could read
	// anything; a file that must be refused has Problems. The error is for
	// reading itself (r failed) and for Options.Points that returned one.
	Decode func(r io.Reader, name string, opt Options) (*Document, error)
	// Encode writes what the format Holds; nil when the format is read only.
	Encode func(w io.Writer, d *Document, opt EncodeOptions) error
	Holds  []Kind
}

// Content says what a table file is expected to hold, where the file itself
// cannot say it.
type Content string

// The contents of table files. AnyContent lets the headings decide.
const (
	AnyContent   Content = ""
	LevelContent Content = "levels" // a level book
	PointContent Content = "points" // points, pegs, marks, chainage tables
	PipeContent  Content = "pipes"  // a table of pipes and their pits: a network
)

// Options tell a decoder what the job file or the command line declares. The
// zero value declares nothing.
type Options struct {
	Content Content
	Unit    unit.Unit // of a file that does not say its own
	// FeetInches says that staff readings of a level book are written in feet and
	// inches (5' 6 3/8"), of the international foot; Unit is then left out.
	FeetInches bool
	Sheet      string   // of a workbook; "" = the one that fits
	Columns    []string // roles in order, for a file without headings
	Delimiter  rune     // 0 = found out
	Decimal    rune     // '.' or ','; 0 = found out
	Encoding   string   // "utf-8", "utf-16", "windows-1252"; "" = found out
	// Accept gives cells of a table, named as messages name them ("12:4", "D12"),
	// the number that is to be read there: one of those that a message proposed.
	Accept  map[string]string
	DimUnit unit.Unit // of pipe dimensions in a file that does not declare it
	// Bytes is the size of the file, for making room at once; 0 = not known.
	Bytes int64
	// Lines of a text after line JumpAfter are numbered JumpBy higher: a part of a file
	// behind its head. 0 = none.
	JumpAfter, JumpBy int
	// Points, when set, receives points in batches in file order; the slice is
	// reused after the call returns, strings in it may be kept. at is the file
	// and part of the batch. Document.Points then stays empty.
	Points func(at Pos, batch []Point) error
	// Plain, when set beside Points, is asked to take pieces of the file whose rows are
	// plain points, before they are read. Pieces are committed in file order with the
	// batches of Points; what a piece did not take comes by Points. A format need not use
	// it.
	Plain func(at Pos, rows PlainRows) (PlainWork, error)
}

// BatchSize is how many points a decoder hands over at once.
const BatchSize = 1024

// EncodeOptions tell an encoder what the Document leaves open.
type EncodeOptions struct {
	Unit unit.Unit // to write lengths in; zero = as the Document has them
}

// Limits on what a decoder accepts. A file beyond one is refused by name.
const (
	MaxFileBytes    = 8 << 30   // of an input file that must be held in memory
	MaxLineBytes    = 1 << 20   // of one line of text
	MaxFields       = 1024      // of one row
	MaxDepth        = 100       // of nested elements or values
	MaxSheetBytes   = 2 << 30   // of one sheet, unpacked
	MaxZipRatio     = 200       // unpacked over packed, of one part of a workbook
	MaxVertices     = 200 << 20 // of one surface
	MaxBookRows     = 2_000_000
	MaxProblemsKept = 10_000 // of one file; the rest is counted
)
