// Package table turns rows of cells into records: level books and points. The
// two grid formats, delimited text and workbooks, share it, so that a heading
// means the same in both.
//
// The heading row is found by its words, in one line or two, below any title;
// or a job file declares the columns. Which unit a heading names is kept; "ft"
// is the international foot, unless the file is declared in the other one. x and
// y are refused where nothing says which is the easting. Every row below the
// heading becomes a record, also one that cannot be used: it says why. In a level
// book, rows of sums, the heading and number of another page, and what is
// carried over to it become none, and a note names each; what is carried is
// compared with what it was carried from. A book has columns BS, IS and FS, or
// one reading a row beside its type; both give the same records.
//
// Numbers are kept as written, to 18 digits. A cell that is not plainly a number
// is a problem that proposes what it may have been; no cell is mended.
package table

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Cell is one cell of a grid as text. Its column is its place in the row.
type Cell struct {
	Text string
	Date bool   // a workbook cell typed as a date: never an id
	Bad  string // why the cell cannot be used ("#REF!", no stored value); "" when it can
}

// headingWithin is how many rows are looked at for a heading.
const headingWithin = 60

// Builder takes the rows of one grid in order and fills a Document.
type Builder struct {
	doc   *formats.Document
	at    formats.Pos
	opt   formats.Options
	comma bool // numbers have a decimal comma

	h       heading
	found   bool
	refused bool
	rows    int
	above   int
	prev    []Cell
	head    []line          // of the heading, as written
	titles  map[string]bool // lines above it, without digits
	first   []Cell          // the heading, until the row below it was seen
	sample  string          // the first line, for the message that no heading was found
	lead    *lead           // declared columns: rows above the first numbers
	fault   fault           // of the row to come

	book   *bookBuilder
	points *pointBuilder
	pipes  *pipeBuilder

	plain    []plainKind     // columns for the quick reader, once they are known
	notPlain bool            // there is none for this grid
	texts    strings.Builder // of fields
	slow     bool            // no quick reader of books, for tests

	problems, notes int // beyond those that are kept
	rounded         tally
	accepted        map[string]bool // cells of Options.Accept that were met
	dashes          tally
}

// fault is what the caller found wrong with the row it hands over next.
type fault struct {
	col int
	why string
}

// tally counts what happens in many rows and is noted once.
type tally struct{ n, row, col int }

func (t *tally) add(row, col int) {
	if t.n == 0 {
		t.row, t.col = row, col
	}
	t.n++
}

// New makes a Builder for one grid; at names file and part.
func New(doc *formats.Document, at formats.Pos, opt formats.Options) *Builder {
	b := &Builder{doc: doc, at: at, opt: opt, comma: opt.Decimal == ',', accepted: map[string]bool{}}
	if len(opt.Columns) > 0 {
		b.declare()
	}
	return b
}

// DecimalComma says that numbers of the grid have a decimal comma.
func (b *Builder) DecimalComma(yes bool) { b.comma = yes }

// Headed reports whether the heading has been found or declared.
func (b *Builder) Headed() bool { return b.found }

// Refused reports whether the grid cannot be read at all, so that the rows to
// come are of no use.
func (b *Builder) Refused() bool { return b.refused }

// Width is how many columns the heading has.
func (b *Builder) Width() int { return len(b.h.columns) }

// TextLast reports whether the last column is free text, which may hold the
// delimiter itself.
func (b *Builder) TextLast() bool {
	if n := len(b.h.columns); n > 0 {
		r := b.h.columns[n-1].Role
		return r == Description || r == Remark
	}
	return false
}

// CutNumber reports whether a row with more fields than the heading may hold a
// number that the delimiter, a comma, has cut in two: fields beyond the others
// are plain digits, and a number of the row has no decimals.
func (b *Builder) CutNumber(cells []Cell) bool {
	digits := false
	for _, c := range cells[b.Width()-1:] {
		digits = digits || allDigits(trim(c.Text))
	}
	if !digits {
		return false
	}
	for i := range b.Width() - 1 {
		if numeric[b.h.columns[i].Role] && allDigits(strings.TrimLeft(trim(cells[i].Text), "+-")) {
			return true
		}
	}
	return false
}

// Fault says that the row handed over next cannot be trusted, and why. The row
// becomes a record that is not used.
func (b *Builder) Fault(col int, why string) { b.fault = fault{col, why} }

func (b *Builder) refuse(at formats.Pos, field, format string, args ...any) {
	if len(b.doc.Problems) >= formats.MaxProblemsKept {
		b.problems++
		return
	}
	b.doc.Refuse(at, field, format, args...)
}

func (b *Builder) note(at formats.Pos, field, format string, args ...any) {
	if len(b.doc.Notes) >= formats.MaxProblemsKept {
		b.notes++
		return
	}
	b.doc.Note(at, field, format, args...)
}

// Row takes the next row. Its cells may be reused by the caller, their texts
// may not change.
func (b *Builder) Row(row int, cells []Cell) error {
	b.rows++
	switch {
	case b.refused:
		return nil
	case b.lead != nil:
		return b.lead.row(b, row, cells)
	case !b.found:
		b.look(row, cells)
		b.faulty(row)
		return nil
	}
	if b.first != nil {
		if b.goesOn(row, cells) {
			b.faulty(row)
			return nil
		}
		b.first = nil
		b.begin(b.h.pos)
	}
	return b.record(row, cells)
}

// record turns a row below the heading into a record.
func (b *Builder) record(row int, cells []Cell) error {
	switch {
	case b.refused:
		return nil
	case b.book != nil:
		b.bookRow(row, cells)
		return nil
	case b.pipes != nil:
		b.pipeRow(row, cells)
		return nil
	}
	return b.pointRow(row, cells)
}

// faulty reports a fault of a row that becomes no record.
func (b *Builder) faulty(row int) {
	if b.fault.why != "" {
		b.refuse(b.at.At(row, b.fault.col), "", "%s", b.fault.why)
		b.fault = fault{}
	}
}

// look tries a row as heading, alone and together with the row above it.
func (b *Builder) look(row int, cells []Cell) {
	if h, first, two, ok := headingOf(b.prev, cells, b.opt.Content); ok {
		b.h, b.found, b.first, b.head = h, true, first, []line{lineOf(cells)}
		b.h.pos = b.at.At(row, 0)
		if two {
			b.above--
			b.head = []line{lineOf(b.prev), lineOf(cells)}
		}
		return
	}
	if !blankRow(cells) {
		b.above++
		if b.titles == nil {
			b.titles = map[string]bool{}
		}
		b.titles[lineOf(cells).withoutDigits()] = true
		if b.sample == "" {
			b.sample = sampleOf(cells)
		}
	}
	b.prev = slices.Clone(cells)
	if b.rows == headingWithin {
		b.noHeading()
	}
}

func sampleOf(cells []Cell) string {
	var t []string
	for _, c := range cells[:min(len(cells), 6)] {
		t = append(t, trim(c.Text))
	}
	s := []rune(strings.TrimRight(strings.Join(t, ", "), ", "))
	return string(s[:min(len(s), 80)])
}

func (b *Builder) noHeading() {
	if b.refused {
		return
	}
	b.refused = true
	want := "a level book needs BS and FS (or type and reading), a point list easting and northing (or a chainage)"
	switch b.opt.Content {
	case formats.PipeContent:
		want = pipesWanted
		b.refuse(b.at.At(1, 0), "", "no row of headings was found (the file begins with %q); %s", b.sample, want)
		return
	case formats.LevelContent:
		want = "a level book needs the headings BS and FS, or type and reading"
	case formats.PointContent:
		want = "a point list needs the headings easting and northing, or name and chainage, or name and level; readings beside a column that says whether they are BS, IS or FS make a level book"
	}
	b.refuse(b.at.At(1, 0), "", "no row of headings was found (the file begins with %q); %s; for a file without headings declare them in the job: \"columns: [name, northing, easting, level, description]\"", b.sample, want)
}

// textual are the columns in which any word may be data.
var textual = map[string]bool{Name: true, Remark: true, Code: true, Staffed: true, Run: true, Layer: true, Setup: true, Time: true, Description: true, Inverted: true,
	Type: true, Staff: true, Page: true}

// goesOn reports whether a row goes on with the heading above it: the rest of
// its words, or the units. It holds no digit, at least one heading means something with
// its word, and none loses its meaning by it.
func (b *Builder) goesOn(row int, cells []Cell) bool {
	if blankRow(cells) || slices.ContainsFunc(cells, func(c Cell) bool { return strings.ContainsAny(c.Text, "0123456789") }) {
		return false
	}
	both := joined(b.first, cells)
	h := resolve(both, b.opt.Content)
	if !h.fits(b.opt.Content) || h.xy && !b.h.xy {
		return false
	}
	adds := 0
	for i, c := range h.columns {
		t := ""
		if i < len(cells) {
			t = trim(cells[i].Text)
		}
		var old formats.Column
		if i < len(b.h.columns) {
			old = b.h.columns[i]
		}
		outside, _ := brackets(t)
		switch {
		case t != "" && plainWord(t) == "", old.Role != "" && c.Role == "":
			return false
		case t == "" || c.Role == "":
		case c.Unit.Known() && !old.Unit.Known(), c.Role != old.Role && plainWord(outside) != "":
			adds++
		case plainWord(outside) != "" && !textual[c.Role]:
			adds++ // a word in a column of numbers; in a column of texts it may be a name
		}
	}
	if adds == 0 {
		return false
	}
	h.pos = b.at.At(row, 0)
	b.h, b.first, b.head = h, both, append(b.head, lineOf(cells))
	return true
}

// begin judges the heading at pos, when it is whole; what is wrong with it
// refuses the grid.
func (b *Builder) begin(pos formats.Pos) {
	if b.above > 0 {
		lines := fmt.Sprintf("%d lines above the headings are", b.above)
		if b.above == 1 {
			lines = "one line above the headings is"
		}
		b.note(pos, "", "%s not read", lines)
		b.above = 0
	}
	b.h.foot(b.opt.Unit)
	for _, t := range b.h.twice {
		first, second := b.h.columns[t[0]], b.h.columns[t[1]]
		b.refuse(pos.At(pos.Row, second.Col), second.Heading, "columns %d and %d (%q and %q) both mean %s; rename one, so that it is plain which one holds", first.Col, second.Col, first.Heading, second.Heading, second.Role)
		b.refused = true
	}
	if b.h.xy {
		b.refuse(pos, "x, y", "the headings x and y do not say which one is the easting; rename them easting and northing, or declare \"columns: [name, easting, northing, level]\" in the job, in the order of the file")
		b.refused = true
	}
	if b.h.clash {
		c := b.h.columns[b.h.at(Type)]
		b.refuse(pos.At(pos.Row, c.Col), c.Heading, "readings beside the column %q make a level book, and points are asked for; use \"kind: levels\" if it says BS, IS or FS, else declare the columns, such as \"columns: [name, easting, northing, -, reading]\"", c.Heading)
		b.refused = true
	}
	if b.opt.FeetInches && !b.refused {
		b.feetUnits(pos)
	}
	for i, odd := range b.h.odd {
		switch c := b.h.columns[i]; {
		case odd == "" || !numeric[c.Role]:
		case isFeetInches[plainWord(strings.ToLower(odd))]:
			b.refuse(pos.At(pos.Row, c.Col), c.Heading, "feet and inches are read in a level book where they are declared: \"unit: ft-in\" for the file; or turn the column into decimal feet")
			b.refused = true
		default:
			b.refuse(pos.At(pos.Row, c.Col), c.Heading, "%q is not a unit that is read; turn the column into m, mm, ft or ftUS", odd)
			b.refused = true
		}
	}
	if b.h.xy || len(b.h.twice) > 0 {
		return
	}
	b.h.pos = pos
	if b.opt.Content == formats.PipeContent {
		b.pipeUnits()
	} else {
		b.units(pos)
	}
	b.open()
}

// units compares the units that the headings name, with each other and with
// what is declared.
func (b *Builder) units(pos formats.Pos) {
	h := &b.h
	if b.opt.FeetInches {
		return // judged by feetUnits
	}
	if h.book {
		h.unit = b.unitOf(pos, BS, IS, FS, Rise, Fall, Collimation, Level, Known, BSUpper, BSLower, ISUpper, ISLower, FSUpper, FSLower,
			StaffReading, ReadingUpper, ReadingLower, Mean, BSMean, ISMean, FSMean)
		h.distance = b.unitOf(pos, Distance, DistanceBS, DistanceFS)
		chain := b.unitOf(pos, Chainage, Offset)
		switch readings := orUnit(h.unit, b.opt.Unit); {
		case chain.Known() && readings.Known() && chain != readings:
			b.refuse(pos, "chainage", "chainages are in %s and readings in %s; chainage, offset and readings of one book are read in one unit: turn one of them into the other", chain.Name, readings.Name)
			b.refused = true
		case !chain.Known() && (h.has(Chainage) || h.has(Offset)) && readings.Size < unit.InternationalFoot && readings.Known():
			b.refuse(pos, "chainage", "readings are in %s and the heading of the chainages names no unit; write it, such as \"Chainage (m)\", with readings in the same unit", readings.Name)
			b.refused = true
		}
	} else {
		h.unit = b.unitOf(pos, Easting, Northing, Level, Chainage, Offset, StaffReading, Receiver)
	}
	if h.unit.Known() && b.opt.Unit.Known() && h.unit != b.opt.Unit {
		b.refuse(pos, "unit", "the headings say %s, and %s is declared for the file; one of them is wrong", h.unit.Name, b.opt.Unit.Name)
		b.refused = true
	}
	h.unit = orUnit(h.unit, b.opt.Unit)
}

func orUnit(a, b unit.Unit) unit.Unit {
	if a.Known() {
		return a
	}
	return b
}

// open starts the book or the list of points, when the heading is whole.
func (b *Builder) open() {
	if b.refused {
		return
	}
	if t := b.h.unread(); t != "" {
		b.note(b.h.pos, "", "columns that are not read: %s", t)
	}
	if b.h.book {
		b.openBook()
		return
	}
	if b.opt.Content == formats.PipeContent {
		b.openPipes()
		return
	}
	b.openPoints()
}

// unitOf is the one unit that the columns of these roles name.
func (b *Builder) unitOf(pos formats.Pos, roles ...string) unit.Unit {
	var u unit.Unit
	for _, r := range roles {
		i := b.h.at(r)
		if i < 0 || !b.h.columns[i].Unit.Known() {
			continue
		}
		c := b.h.columns[i]
		if u.Known() && u != c.Unit {
			b.refuse(pos.At(pos.Row, c.Col), c.Heading, "this column is in %s and another one in %s; lengths of one file are in one unit", c.Unit.Name, u.Name)
			b.refused = true
			return u
		}
		u = c.Unit
	}
	return u
}

func (b *Builder) named() []formats.Column {
	var out []formats.Column
	for _, c := range b.h.columns {
		if c.Role != "" && c.Role != Skip {
			out = append(out, c)
		}
	}
	return out
}

// Close ends the grid.
func (b *Builder) Close() error {
	var err error
	switch {
	case b.refused:
	case b.lead != nil:
		err = b.lead.end(b)
	case !b.found && b.sample != "":
		b.noHeading()
	case !b.found:
		b.refuse(b.at, "", "there is nothing in it")
	case b.first != nil:
		b.first = nil
		b.begin(b.h.pos)
	}
	if !b.refused && err == nil {
		switch {
		case b.book != nil:
			b.closeBook()
		case b.points != nil:
			err = b.closePoints()
		case b.pipes != nil:
			b.closePipes()
		}
	}
	b.notMet()
	if t := b.rounded; t.n > 0 {
		b.note(b.at.At(t.row, t.col), "", "%s more than %d digits and %s rounded to that; this is the first", counted(t.n, "number has", "numbers have"), unit.MaxDigits, isAre(t.n))
	}
	if t := b.dashes; t.n > 0 {
		b.note(b.at.At(t.row, t.col), "", "%s a dash and %s taken as blank; this is the first", counted(t.n, "cell holds", "cells hold"), isAre(t.n))
	}
	// the lists are full: one line each says how many they do not hold
	if b.problems > 0 {
		b.doc.Refuse(b.at, "", "there are %d more problems, which are not listed", b.problems)
	}
	if b.notes > 0 {
		b.doc.Note(b.at, "", "there are %d more notes, which are not listed", b.notes)
	}
	return err
}

// notMet refuses what the options accept in cells that hold no number of a record.
func (b *Builder) notMet() {
	if b.refused {
		return
	}
	for _, cell := range slices.Sorted(maps.Keys(b.opt.Accept)) {
		if !b.accepted[cell] {
			b.refuse(b.at, "accept", "the job accepts %q for the cell %s, and no number stands there; leave it out of \"accept\", or correct the cell", b.opt.Accept[cell], cell)
		}
	}
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// Numbers reports whether every cell of a column of coordinates, levels or
// readings that is filled holds a digit, and at least one is: the row could be
// data.
func (b *Builder) Numbers(cells []Cell) bool {
	n := 0
	for i := range min(len(cells), len(b.h.columns)) {
		if !numeric[b.h.columns[i].Role] || trim(cells[i].Text) == "" {
			continue
		}
		if !strings.ContainsAny(cells[i].Text, "0123456789") {
			return false
		}
		n++
	}
	return n > 0
}
