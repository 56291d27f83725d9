// Package table turns rows of cells into records: level books and points. The
// two grid formats, delimited text and workbooks, share it, so that a heading
// means the same in both.
//
// The heading row is found by its words, in one line or two, below any title;
// or a job file declares the columns of a file without headings. Which unit a
// heading names is kept; "ft" is the international foot. x and y are refused
// where nothing says which is the easting. Every row below the heading becomes
// a record, also one that cannot be used: it says why.
package table

import (
	"fmt"
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
	rows    int
	above   int
	prev    []Cell
	first   []Cell // the heading, until the row below it was seen
	sample  string // the first line, for the message that no heading was found
	book    *formats.Book
	points  []formats.Point
	count   int
	refused string
}

// New makes a Builder for one grid; at names file and part.
func New(doc *formats.Document, at formats.Pos, opt formats.Options) *Builder {
	b := &Builder{doc: doc, at: at, opt: opt, comma: opt.Decimal == ','}
	if len(opt.Columns) > 0 {
		b.declare()
	}
	return b
}

// DecimalComma says that numbers of the grid have a decimal comma.
func (b *Builder) DecimalComma(yes bool) { b.comma = yes }

// Headed reports whether the heading has been found or declared.
func (b *Builder) Headed() bool { return b.found }

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

// declare takes the columns of the options as heading.
func (b *Builder) declare() {
	b.h = heading{roles: map[string]int{}}
	for i, c := range b.opt.Columns {
		role, ok := declarable[strings.ToLower(c)]
		if !ok {
			if role, _ = parseHeading(c); role == "" || role == xAxis || role == yAxis {
				b.refuse(b.at, "columns", "%q is not the meaning of a column; use %s, or - for a column that is not read", c,
					"name, easting, northing, level, code, description, BS, IS, FS, known, distance, remark")
				b.refused = "the declared columns are not understood"
				return
			}
		}
		b.h.columns = append(b.h.columns, formats.Column{Col: i + 1, Heading: c, Role: role, Unit: b.opt.Unit})
		if role == Skip {
			continue
		}
		if _, twice := b.h.roles[role]; twice {
			b.refuse(b.at, "columns", "%q is declared for two columns", c)
			b.refused = "a column is declared twice"
			return
		}
		b.h.roles[role] = i
	}
	b.h.settle()
	b.begin(b.at)
}

func (b *Builder) refuse(at formats.Pos, field, format string, args ...any) {
	if len(b.doc.Problems) < formats.MaxProblemsKept {
		b.doc.Refuse(at, field, format, args...)
	}
}

// Row takes the next row. Its cells may be reused by the caller, their texts
// may not change.
func (b *Builder) Row(row int, cells []Cell) error {
	b.rows++
	if b.refused != "" {
		return nil
	}
	if !b.found {
		b.look(row, cells)
		return nil
	}
	if first := b.first; first != nil {
		b.first = nil
		if second := joined(first, cells); unitLine(cells) {
			// the heading goes on in a second line, with the units
			b.h, b.book = resolve(second), nil
			b.begin(b.at.At(row, 0))
			return nil
		}
	}
	if b.book != nil {
		b.bookRow(row, cells)
		return nil
	}
	return b.pointRow(row, cells)
}

// look tries a row as heading, alone and together with the row above it.
func (b *Builder) look(row int, cells []Cell) {
	try := func(cells []Cell, row int) bool {
		h := resolve(cells)
		if !h.fits(b.opt.Content) {
			return false
		}
		b.h, b.first = h, slices.Clone(cells)
		b.begin(b.at.At(row, 0))
		return true
	}
	if try(cells, row) {
		return
	}
	if b.prev != nil && !blankRow(b.prev) && !blankRow(cells) && try(joined(b.prev, cells), row) {
		b.above--
		return
	}
	if !blankRow(cells) {
		b.above++
		if b.sample == "" {
			var t []string
			for _, c := range cells[:min(len(cells), 6)] {
				t = append(t, c.Text)
			}
			b.sample = strings.Join(t, ", ")
		}
	}
	b.prev = slices.Clone(cells)
	if b.rows == headingWithin {
		b.noHeading()
	}
}

func blankRow(cells []Cell) bool {
	for _, c := range cells {
		if strings.TrimSpace(c.Text) != "" || c.Bad != "" {
			return false
		}
	}
	return true
}

func (b *Builder) noHeading() {
	if b.refused != "" {
		return
	}
	b.refused = "no heading"
	want := "a level book needs BS and FS, a point list easting and northing (or a name and a chainage)"
	switch b.opt.Content {
	case formats.LevelContent:
		want = "a level book needs the headings BS and FS"
	case formats.PointContent:
		want = "a point list needs the headings easting and northing, or name and chainage"
	}
	b.refuse(b.at.At(1, 0), "", "no row of headings was found (the file begins with %q); %s; for a file without headings declare them in the job: \"columns: [name, northing, easting, level, description]\"", b.sample, want)
}

// begin opens the book or the list of points under the heading at pos.
func (b *Builder) begin(pos formats.Pos) {
	b.found = true
	if b.above > 0 {
		b.doc.Note(pos, "", "%d lines above the headings are not read", b.above)
		b.above = 0
	}
	for _, t := range b.h.twice {
		b.refuse(pos, t, "two columns have a heading of this meaning; rename one, so that it is plain which one holds")
		b.refused = "two columns of one meaning"
	}
	if b.h.xy {
		b.refuse(pos, "x, y", "the headings x and y do not say which one is the easting; rename them easting and northing, or declare \"columns:\" in the job")
		b.refused = "x and y"
	}
	if b.refused != "" {
		return
	}
	if b.h.book {
		name := b.at.Part
		if name == "" {
			name = b.at.File[strings.LastIndexByte(b.at.File, '/')+1:]
		}
		b.book = &formats.Book{Name: name, Pos: pos, Columns: b.named(), HasFlag: b.h.has(Inverted)}
		b.book.Unit = b.unitOf(pos, BS, IS, FS, Rise, Fall, Collimation, Level, Known, BSUpper, BSLower, ISUpper, ISLower, FSUpper, FSLower)
		b.book.DistIn = b.unitOf(pos, Distance, DistanceBS, DistanceFS)
		return
	}
	u := b.unitOf(pos, Easting, Northing, Level, Chainage, Offset)
	switch {
	case u.Known() && b.opt.Unit.Known() && u != b.opt.Unit:
		b.refuse(pos, "unit", "the headings say %s, and %s is declared for the file; one of them is wrong", u.Name, b.opt.Unit.Name)
		b.refused = "unit"
	case u.Known():
		b.doc.Units.Linear = u
	case b.opt.Unit.Known():
		b.doc.Units.Linear = b.opt.Unit
	}
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

// unitOf is the one unit that the columns of these roles name.
func (b *Builder) unitOf(pos formats.Pos, roles ...string) unit.Unit {
	var u unit.Unit
	for _, r := range roles {
		i, ok := b.h.roles[r]
		if !ok || !b.h.columns[i].Unit.Known() {
			continue
		}
		c := b.h.columns[i]
		if u.Known() && u != c.Unit {
			b.refuse(pos.At(pos.Row, c.Col), c.Heading, "this column is in %s and another one in %s; lengths of one file are in one unit", c.Unit.Name, u.Name)
			b.refused = "units"
		}
		u = c.Unit
	}
	return u
}

func (b *Builder) cell(cells []Cell, role string) (Cell, int) {
	if i, ok := b.h.roles[role]; ok && i < len(cells) {
		return cells[i], i + 1
	}
	return Cell{}, 0
}

func (b *Builder) text(cells []Cell, role string) string {
	c, _ := b.cell(cells, role)
	return strings.TrimSpace(c.Text)
}

// Close ends the grid.
func (b *Builder) Close() error {
	if !b.found {
		if b.sample != "" {
			b.noHeading()
		} else if b.refused == "" {
			b.refuse(b.at, "", "there is nothing in it")
		}
		return nil
	}
	if b.book != nil {
		b.doc.Books = append(b.doc.Books, *b.book)
		if b.opt.Unit.Known() && b.book.Unit.Known() && b.opt.Unit != b.book.Unit {
			b.refuse(b.book.Pos, "unit", "the headings say %s, and %s is declared for the book; one of them is wrong", b.book.Unit.Name, b.opt.Unit.Name)
		}
		return nil
	}
	return b.flush()
}

var yes = map[string]bool{"yes": true, "y": true, "x": true, "1": true, "true": true, "inv": true, "inverted": true, "i": true}
var no = map[string]bool{"": true, "no": true, "n": true, "0": true, "false": true, "-": true}

// totals are the names of rows that add up the columns.
var totals = map[string]bool{"sum": true, "sums": true, "total": true, "totals": true, "σ": true, "σbs": true, "pagecheck": true, "arithmeticcheck": true, "check": true,
	"difference": true, "diff": true, "carriedforward": true, "cf": true, "sumbs": true, "sumfs": true, "sumcheck": true}

func (b *Builder) bookRow(row int, cells []Cell) {
	r := formats.BookRow{Row: row}
	c, col := b.cell(cells, Name)
	r.Point = strings.TrimSpace(c.Text)
	if c.Date {
		b.refuse(b.at.At(row, col), Name, "the cell is a date (%s); a name was turned into one: write it again as text", c.Text)
	}
	if totals[plainWord(strings.ToLower(r.Point))] {
		b.doc.Note(b.at.At(row, col), Name, "%q is a row of sums; it is not read as a reading", r.Point)
		return
	}
	if len(b.book.Rows) >= formats.MaxBookRows {
		if b.refused == "" {
			b.refuse(b.at.At(row, 0), "", "the book has more than %d rows", formats.MaxBookRows)
			b.refused = "too long"
		}
		return
	}
	for _, x := range []struct {
		role string
		to   *formats.Reading
	}{{BS, &r.BS}, {IS, &r.IS}, {FS, &r.FS}, {Rise, &r.Rise}, {Fall, &r.Fall}, {Collimation, &r.Collimation}, {Level, &r.Level}, {Known, &r.Known},
		{Distance, &r.Distance}, {DistanceBS, &r.DistanceBS}, {DistanceFS, &r.DistanceFS}, {Chainage, &r.Chainage}, {Offset, &r.Offset},
		{BSUpper, &r.WiresBS.Upper}, {BSLower, &r.WiresBS.Lower}, {ISUpper, &r.WiresIS.Upper}, {ISLower, &r.WiresIS.Lower}, {FSUpper, &r.WiresFS.Upper}, {FSLower, &r.WiresFS.Lower}} {
		*x.to = b.reading(row, cells, x.role)
	}
	flag := strings.ToLower(b.text(cells, Inverted))
	switch {
	case yes[flag]:
		r.Inverted = true
	case !no[flag]:
		_, col := b.cell(cells, Inverted)
		b.refuse(b.at.At(row, col), Inverted, "%q is neither yes nor no", flag)
	}
	r.Code, r.Staffed, r.Run, r.Remark = b.text(cells, Code), b.text(cells, Staffed), b.text(cells, Run), b.text(cells, Remark)
	if b.extra(row, cells) && r.Remark == "" {
		r.Remark = "row has more fields than headings"
	}
	b.book.Rows = append(b.book.Rows, r)
}

// reading reads one number of a row; what is wrong with it is a problem.
func (b *Builder) reading(row int, cells []Cell, role string) formats.Reading {
	c, col := b.cell(cells, role)
	if c.Bad != "" {
		b.refuse(b.at.At(row, col), role, "%s", c.Bad)
		return formats.Reading{}
	}
	if c.Date {
		b.refuse(b.at.At(row, col), role, "the cell is a date (%s), and a number is wanted; write it again as a number", c.Text)
		return formats.Reading{}
	}
	v, why := b.number(c.Text, col)
	if why != "" {
		b.refuse(b.at.At(row, col), role, "%s", why)
	}
	return v
}

// extra refuses fields beyond the heading.
func (b *Builder) extra(row int, cells []Cell) bool {
	for i := len(b.h.columns); i < len(cells); i++ {
		if strings.TrimSpace(cells[i].Text) != "" {
			b.refuse(b.at.At(row, i+1), "", "the row has %d fields and the heading %d; a comma inside a text needs quotes around it", len(cells), len(b.h.columns))
			return true
		}
	}
	return false
}

func (b *Builder) pointRow(row int, cells []Cell) error {
	if len(b.points) == cap(b.points) {
		if err := b.grow(); err != nil {
			return err
		}
	}
	b.points = append(b.points, formats.Point{})
	p := &b.points[len(b.points)-1]
	p.Row, p.Col = row, 1
	b.count++
	c, col := b.cell(cells, Name)
	p.ID = strings.TrimSpace(c.Text)
	bad := func(col int, field, format string, args ...any) {
		text := fmt.Sprintf(format, args...)
		b.refuse(b.at.At(row, col), field, "%s", text)
		if p.Bad == "" {
			p.Bad, p.Col = field+": "+text, col
		}
	}
	if c.Date {
		bad(col, Name, "the cell is a date (%s); a name was turned into one: write it again as text", c.Text)
	}
	if c.Bad != "" {
		bad(col, Name, "%s", c.Bad)
	}
	value := func(role string) (unit.Decimal, bool) {
		c, col := b.cell(cells, role)
		switch {
		case c.Bad != "":
			bad(col, role, "%s", c.Bad)
			return unit.Decimal{}, false
		case c.Date:
			bad(col, role, "the cell is a date (%s), and a number is wanted; write it again as a number", c.Text)
			return unit.Decimal{}, false
		case role == Level && noValue(c.Text):
			bad(col, role, "%q stands for \"no level\" here", strings.TrimSpace(c.Text))
			return unit.Decimal{}, false
		}
		v, why := b.number(c.Text, col)
		if why != "" {
			bad(col, role, "%s", why)
		}
		return v.Value, v.Set
	}
	e, hasE := value(Easting)
	n, hasN := value(Northing)
	z, hasZ := value(Level)
	if hasE != hasN && p.Bad == "" {
		_, col := b.cell(cells, Northing)
		bad(col, Northing, "one of easting and northing is missing")
	}
	p.E, p.N, p.Placed = e, n, hasE && hasN
	p.Z, p.Levelled = z, hasZ
	if _, col := b.cell(cells, Level); hasZ {
		p.Col = col
	}
	if b.h.has(Chainage) {
		p.Chainage, p.Chained = value(Chainage)
		p.Offset, _ = value(Offset)
	}
	p.Code, p.Layer, p.Run = b.text(cells, Code), b.text(cells, Layer), b.text(cells, Run)
	p.Staffed, p.Setup, p.Time = b.text(cells, Staffed), b.text(cells, Setup), b.text(cells, Time)
	p.Desc = b.text(cells, Description)
	if len(cells) > len(b.h.columns) {
		for i := len(b.h.columns); i < len(cells); i++ {
			if strings.TrimSpace(cells[i].Text) != "" {
				bad(i+1, "row", "it has %d fields and the heading %d; a comma inside a text needs quotes around it", len(cells), len(b.h.columns))
				break
			}
		}
	}
	if b.doc.Units.Linear == unit.Ft && !b.opt.Unit.Known() && p.Placed && max(e.Float(), n.Float()) > 500_000 && b.count == 1 {
		b.refuse(b.at.At(row, 0), "unit", "coordinates this large in \"ft\" differ by a foot between the two feet; declare \"unit: ft\" or \"unit: ftUS\" in the job")
	}
	return nil
}

// grow hands a full batch over, or makes room.
func (b *Builder) grow() error {
	if b.opt.Points != nil && len(b.points) > 0 {
		return b.flush()
	}
	if b.points == nil {
		b.points = make([]formats.Point, 0, formats.BatchSize)
		return nil
	}
	b.points = slices.Grow(b.points, len(b.points))
	return nil
}

func (b *Builder) flush() error {
	b.doc.PointCount += len(b.points)
	if b.opt.Points == nil {
		b.doc.Points = append(b.doc.Points, b.points...)
		b.points = b.points[:0]
		return nil
	}
	if len(b.points) == 0 {
		return nil
	}
	err := b.opt.Points(b.at, b.points)
	b.points = b.points[:0]
	return err
}
