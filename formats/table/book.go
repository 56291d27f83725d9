package table

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// bookBuilder fills one level book.
type bookBuilder struct {
	formats.Book
	pages
	sums, page           sums // of the readings, and of those since the last sums or the head of the page
	sumsTwice, pageTwice sums // with what is repeated at the head of a page
	full                 bool
	now                  formats.BookRow // the row that is being read, with all that may stand beside it
	figures              beside[formats.RowFigures]
	wires                beside[formats.RowWires]
	notes                beside[formats.RowNotes]
	numbers              [22]roleReading // of now
	bytes                int64           // of the rows so far, about
	quick                []quickColumn   // for plain rows; nil = there are none
}

// sampleRows are enough to tell how many the others will be.
const sampleRows = 1024

// feet reports whether readings are in feet and inches.
func (r *rowReader) feet() bool { return r.b.book != nil && r.b.book.FeetInches }

// number reads a number as it is written in the book.
func (r *rowReader) number(t, role string) (v unit.Decimal, exact bool, why string) {
	if r.feet() {
		return r.feetNumber(t, role)
	}
	return number(t, r.b.comma)
}

func (b *Builder) openBook() {
	name := b.at.Part
	if name == "" {
		name = b.at.File[strings.LastIndexByte(b.at.File, '/')+1:]
	}
	if b.h.at(Name) < 0 && b.h.has(Remark) {
		b.note(b.h.pos, "", "the book has no column of names; its remarks name the points")
	}
	k := &bookBuilder{Book: formats.Book{Name: name, Pos: b.h.pos, Unit: b.h.unit, DistIn: b.h.distance, Columns: b.named(), HasFlag: b.h.has(Inverted), FeetInches: b.opt.FeetInches},
		pages: pages{lines: b.head, titles: b.titles}}
	k.figures.kept = b.hasAny(Rise, Fall, Collimation, Distance, DistanceBS, DistanceFS)
	k.wires.kept = b.hasAny(BSUpper, BSLower, ISUpper, ISLower, FSUpper, FSLower, BSMean, ISMean, FSMean, ReadingUpper, ReadingLower, Mean)
	k.notes.kept = b.hasAny(Staffed, Run, Staff, Setup, Time, Chainage, Offset)
	k.clear(0)
	k.numbers = readings(&k.now)
	for i := range k.numbers {
		k.numbers[i].column = b.h.at(k.numbers[i].role)
	}
	b.book = k
	k.quick = b.quickColumns()
}

func (b *Builder) hasAny(roles ...string) bool { return slices.ContainsFunc(roles, b.h.has) }

func (b *Builder) closeBook() { b.doc.Books = append(b.doc.Books, b.book.Book) }

// beside holds what stands beside the rows of a book, in chunks, so that it never
// moves.
type beside[T any] struct {
	kept  bool // the book has columns of it
	now   T    // of the row that is being read
	chunk []T
}

// besideRows is how many a chunk holds.
const besideRows = 512

// keep returns what is beside the row at hand in a place of its own, or nil where
// the book has no columns of it.
func (x *beside[T]) keep() *T {
	if !x.kept {
		return nil
	}
	if len(x.chunk) == cap(x.chunk) {
		x.chunk = make([]T, 0, besideRows)
	}
	x.chunk = append(x.chunk, x.now)
	return &x.chunk[len(x.chunk)-1]
}

// clear begins a row.
func (k *bookBuilder) clear(row int) {
	if k.figures.kept {
		k.figures.now = formats.RowFigures{}
	}
	if k.wires.kept {
		k.wires.now = formats.RowWires{}
	}
	if k.notes.kept {
		k.notes.now = formats.RowNotes{}
	}
	k.now = formats.BookRow{Row: row, RowFigures: &k.figures.now, RowWires: &k.wires.now, RowNotes: &k.notes.now}
}

// add keeps the row at hand.
func (k *bookBuilder) add(cells []Cell, all int64) {
	k.room(cells, all)
	n := len(k.Rows)
	k.Rows = k.Rows[:n+1]
	x := &k.Rows[n]
	*x = k.now
	x.RowFigures, x.RowWires, x.RowNotes = k.figures.keep(), k.wires.keep(), k.notes.keep()
}

// room makes room for a row of these cells: rows are large, so it is for all that
// is to come in a file of all bytes, or for twice as much.
func (k *bookBuilder) room(cells []Cell, all int64) {
	for i := range cells {
		k.bytes += int64(len(cells[i].Text)) + 1
	}
	n := len(k.Rows)
	if n < cap(k.Rows) {
		return
	}
	room := int64(n) + 64
	if n >= sampleRows && all > k.bytes {
		room = min((all-k.bytes)*int64(n)/k.bytes*102/100+64, formats.MaxBookRows)
	}
	k.Rows = slices.Grow(k.Rows, int(room))
}

var yes = map[string]bool{"yes": true, "y": true, "x": true, "1": true, "true": true, "inv": true, "inverted": true, "i": true}
var no = map[string]bool{"": true, "no": true, "n": true, "0": true, "false": true, "-": true}

// rowReader reads the cells of one row; what is wrong with one is a problem,
// and the first is kept as the reason why the row cannot be used.
type rowReader struct {
	b     *Builder
	row   int
	cells []Cell
	bad   string
	col   int // of the first problem
}

func (r *rowReader) refuse(col int, field, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	r.b.refuse(r.b.at.At(r.row, col), field, "%s", text)
	if r.bad == "" {
		r.bad, r.col = text, col
		if field != "" {
			r.bad = field + ": " + text
		}
	}
}

// fault takes over what the caller found wrong with the row.
func (r *rowReader) fault() {
	if f := r.b.fault; f.why != "" {
		r.refuse(f.col, "", "%s", f.why)
		r.b.fault = fault{}
	}
}

// text reads the cell of column i from 0; id says that it names something, and
// must not be a date.
func (r *rowReader) text(i int, field string, id bool) string {
	if i < 0 || i >= len(r.cells) {
		return ""
	}
	c := &r.cells[i]
	switch {
	case c.Bad != "":
		r.refuse(i+1, field, "%s", c.Bad)
	case c.Date && id:
		r.refuse(i+1, field, "the cell is a date (%s), and a text is wanted; a spreadsheet may have turned it into one: write it again as text", c.Text)
	}
	return trim(c.Text)
}

// cell finds the text of a number's cell. ok is false when the cell is blank or
// cannot be used.
func (r *rowReader) cell(i int, field string) (t string, ok bool) {
	if i < 0 || i >= len(r.cells) {
		return "", false
	}
	c := &r.cells[i]
	switch {
	case c.Bad != "":
		r.refuse(i+1, field, "%s", c.Bad)
		return "", false
	case c.Date:
		r.refuse(i+1, field, "the cell is a date (%s), and a number is wanted; write it again as a number", c.Text)
		return "", false
	}
	t = trim(c.Text)
	if len(r.b.opt.Accept) > 0 {
		t = r.accepted(t, i+1, field)
	}
	return t, t != ""
}

// accepted reads a cell as the options accept it, where it holds no plain number
// and that is what it may have been.
func (r *rowReader) accepted(t string, col int, field string) string {
	at := r.b.at.At(r.row, col)
	as, ok := r.b.opt.Accept[at.Cell()]
	if !ok {
		return t
	}
	first := !r.b.accepted[at.Cell()] // a cell may be looked at twice
	r.b.accepted[at.Cell()] = true
	if _, may := dirt(t, r.b.comma); !slices.Contains(may, as) || isNumber(t) {
		if !first {
			return ""
		}
		r.refuse(col, field, "the job accepts %q for this cell, which holds %q; that is not what it may have been: correct the file, or the job", as, t)
		return ""
	}
	if first {
		r.b.note(at, field, "%q is read as %s, as the job accepts", t, as)
	}
	return as
}

// name reads the name of a row and notes what a spreadsheet may have made of it.
func (r *rowReader) name(i int) string {
	id := r.text(i, Name, true)
	if why := oddName(id); why != "" {
		r.b.note(r.b.at.At(r.row, i+1), Name, "%q %s", id, why)
	}
	return id
}

// extra refuses fields beyond the heading.
func (r *rowReader) extra() {
	for i := len(r.b.h.columns); i < len(r.cells); i++ {
		if trim(r.cells[i].Text) != "" {
			r.refuse(i+1, "row", "the row has %d fields and the heading %d; a text that holds the delimiter needs quotes around it", len(r.cells), len(r.b.h.columns))
			return
		}
	}
}

// staff are the columns of readings on a staff, where brackets mean an inverted
// staff.
var staff = map[string]bool{StaffReading: true, BSMean: true, ISMean: true, FSMean: true, BS: true, IS: true, FS: true, BSUpper: true, BSLower: true, ISUpper: true, ISLower: true, FSUpper: true, FSLower: true}

// reading reads one number of the column of a role.
func (r *rowReader) reading(role string) formats.Reading { return r.readingIn(r.b.h.at(role), role) }

// readingIn reads one number of column i from 0, which counts as one of role.
func (r *rowReader) readingIn(i int, role string) formats.Reading {
	t, ok := r.cell(i, role)
	if !ok {
		return formats.Reading{}
	}
	if dash(t) {
		r.b.dashes.add(r.row, i+1)
		return formats.Reading{}
	}
	out := formats.Reading{Set: true, Col: i + 1}
	if len(t) > 2 && t[0] == '(' && t[len(t)-1] == ')' {
		if !staff[role] {
			r.refuse(i+1, role, "%q is in brackets, which mark an inverted staff in columns of staff readings only; write the number with its sign", t)
			return formats.Reading{}
		}
		out.Bracket, t = true, trim(t[1:len(t)-1])
	}
	gone := noValue(t)
	if !gone {
		v, exact, why := r.number(t, role)
		if why != "" {
			r.refuse(i+1, role, "%s", why)
			return formats.Reading{}
		}
		if !exact {
			r.b.rounded.add(r.row, i+1)
		}
		out.Value, gone = v, noNumber(v)
		if r.feet() {
			as, _, why := number(t, r.b.comma)
			gone = why == "" && noNumber(as)
		}
	}
	switch {
	case gone && staff[role]:
		r.refuse(i+1, role, "%q stands for \"no value\" in a column of readings; leave the cell blank where nothing was read", t)
		return formats.Reading{}
	case gone:
		r.b.note(r.b.at.At(r.row, i+1), role, "%q stands for \"no value\" and is not read", t)
		return formats.Reading{}
	}
	return out
}

// staff reads which staff was used. A number with decimals is a reading in the
// wrong column: some books head theirs "Rod".
func (r *rowReader) staff() string {
	i := r.b.h.at(Staff)
	t := r.text(i, Staff, true)
	if t == "" {
		return ""
	}
	if d, _, err := unit.ParseDecimal(t); err == nil && d.Places > 0 {
		r.refuse(i+1, Staff, "%q looks like a reading, and the column %q is taken for the name of the staff; head it BS, IS or FS if it holds readings", t, r.b.h.columns[i].Heading)
	}
	return t
}

func (b *Builder) bookRow(row int, cells []Cell) {
	if b.quickRow(row, cells) {
		return
	}
	r := rowReader{b: b, row: row, cells: cells}
	if b.fault.why == "" && (b.headed(row, cells) || b.total(&r)) {
		return
	}
	if len(b.book.Rows) >= formats.MaxBookRows {
		if !b.book.full {
			b.refuse(b.at.At(row, 0), "", "the book has more than %d rows; the rest is not read", formats.MaxBookRows)
			b.book.full = true
		}
		return
	}
	r.fault()
	k := b.book
	k.clear(row)
	x := &k.now
	x.Point = r.name(b.h.at(Name))
	for _, to := range k.numbers {
		if to.column >= 0 {
			*to.reading = r.readingIn(to.column, to.role)
		}
	}
	if b.h.kinds {
		r.kind(x)
	}
	remark := r.text(b.h.at(Remark), Remark, false)
	if b.h.at(Name) < 0 && (!x.Blank() || r.bad != "") {
		x.Point = remark
	}
	flag := strings.ToLower(r.text(b.h.at(Inverted), Inverted, false))
	switch {
	case yes[flag]:
		x.Inverted = true
	case !no[flag]:
		r.refuse(b.h.at(Inverted)+1, Inverted, "%q is neither yes nor no", flag)
	}
	x.Code, x.Staffed, x.Run = r.text(b.h.at(Code), Code, true), r.text(b.h.at(Staffed), Staffed, true), r.text(b.h.at(Run), Run, true)
	x.Remark, x.Time = remark, r.text(b.h.at(Time), Time, false)
	x.Setup, x.Staff = r.text(b.h.at(Setup), Setup, true), r.staff()
	r.wires(BS, x.BS, &x.WiresBS, x.Inverted)
	r.wires(IS, x.IS, &x.WiresIS, x.Inverted)
	r.wires(FS, x.FS, &x.WiresFS, x.Inverted)
	r.extra()
	r.page()
	x.Bad, x.Page = r.bad, k.pages.no
	k.sumsTwice.add(x)
	k.pageTwice.add(x)
	blank := x.Blank()
	dropped := r.carried(x)
	x.Bad = r.bad
	switch {
	case dropped && marked(x):
		b.turn(0)
		return
	case !blank:
		k.pages.first = false
	}
	if dropped {
		return
	}
	k.sums.add(x)
	k.page.add(x)
	k.add(cells, b.opt.Bytes)
}

type roleReading struct {
	role    string
	reading *formats.Reading
	column  int // from 0; -1 = none
}

// readings are the numbers of a row with the roles of their columns.
func readings(x *formats.BookRow) [22]roleReading {
	list := [22]struct {
		role    string
		reading *formats.Reading
	}{{BS, &x.BS}, {IS, &x.IS}, {FS, &x.FS}, {Rise, &x.Rise}, {Fall, &x.Fall}, {Collimation, &x.Collimation}, {Level, &x.Level}, {Known, &x.Known},
		{Distance, &x.Distance}, {DistanceBS, &x.DistanceBS}, {DistanceFS, &x.DistanceFS}, {Chainage, &x.Chainage}, {Offset, &x.Offset},
		{BSUpper, &x.WiresBS.Upper}, {BSLower, &x.WiresBS.Lower}, {ISUpper, &x.WiresIS.Upper}, {ISLower, &x.WiresIS.Lower},
		{FSUpper, &x.WiresFS.Upper}, {FSLower, &x.WiresFS.Lower}, {BSMean, &x.WiresBS.Mean}, {ISMean, &x.WiresIS.Mean}, {FSMean, &x.WiresFS.Mean}}
	var out [22]roleReading
	for i := range list {
		out[i] = roleReading{list[i].role, list[i].reading, -1}
	}
	return out
}
