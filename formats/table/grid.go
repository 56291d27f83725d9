package table

import (
	"slices"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// kind of a column: text, a length in the unit of the table, or the length of a
// sight in its own.
type kind uint8

const (
	textual kind = iota
	length
	sight
)

// column is one column of an output: heading, kind, whether it always stands,
// and the cell of a record.
type column[T any] struct {
	heading string
	kind    kind
	always  bool
	cell    func(*T) string
}

func reading(r formats.Reading) string {
	switch {
	case !r.Set:
		return ""
	case r.Bracket:
		return "(" + r.Value.String() + ")"
	}
	return r.Value.String()
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

var bookColumns = []column[formats.BookRow]{
	{"Point", textual, true, func(r *formats.BookRow) string { return r.Point }},
	{"BS", length, true, func(r *formats.BookRow) string { return reading(r.BS) }},
	{"IS", length, true, func(r *formats.BookRow) string { return reading(r.IS) }},
	{"FS", length, true, func(r *formats.BookRow) string { return reading(r.FS) }},
	{"BS upper", length, false, func(r *formats.BookRow) string { return reading(r.WiresBS.Upper) }},
	{"BS lower", length, false, func(r *formats.BookRow) string { return reading(r.WiresBS.Lower) }},
	{"IS upper", length, false, func(r *formats.BookRow) string { return reading(r.WiresIS.Upper) }},
	{"IS lower", length, false, func(r *formats.BookRow) string { return reading(r.WiresIS.Lower) }},
	{"FS upper", length, false, func(r *formats.BookRow) string { return reading(r.WiresFS.Upper) }},
	{"FS lower", length, false, func(r *formats.BookRow) string { return reading(r.WiresFS.Lower) }},
	{"Rise", length, false, func(r *formats.BookRow) string { return reading(r.Rise) }},
	{"Fall", length, false, func(r *formats.BookRow) string { return reading(r.Fall) }},
	{"Collimation", length, false, func(r *formats.BookRow) string { return reading(r.Collimation) }},
	{"Level", length, false, func(r *formats.BookRow) string { return reading(r.Level) }},
	{"Known", length, false, func(r *formats.BookRow) string { return reading(r.Known) }},
	{"Distance", sight, false, func(r *formats.BookRow) string { return reading(r.Distance) }},
	{"Distance BS", sight, false, func(r *formats.BookRow) string { return reading(r.DistanceBS) }},
	{"Distance FS", sight, false, func(r *formats.BookRow) string { return reading(r.DistanceFS) }},
	{"Inverted", textual, false, func(r *formats.BookRow) string { return yesNo(r.Inverted) }},
	{"Code", textual, false, func(r *formats.BookRow) string { return r.Code }},
	{"Staffed", textual, false, func(r *formats.BookRow) string { return r.Staffed }},
	{"Run", textual, false, func(r *formats.BookRow) string { return r.Run }},
	{"Chainage", length, false, func(r *formats.BookRow) string { return reading(r.Chainage) }},
	{"Offset", length, false, func(r *formats.BookRow) string { return reading(r.Offset) }},
	{"Remark", textual, false, func(r *formats.BookRow) string { return r.Remark }},
}

var pointColumns = []column[formats.Point]{
	{"Point", textual, true, func(p *formats.Point) string { return p.ID }},
	{"Easting", length, true, func(p *formats.Point) string { return decimal(p.E, p.Placed) }},
	{"Northing", length, true, func(p *formats.Point) string { return decimal(p.N, p.Placed) }},
	{"Level", length, true, func(p *formats.Point) string { return decimal(p.Z, p.Levelled) }},
	{"Chainage", length, false, func(p *formats.Point) string { return decimal(p.Chainage, p.Chained) }},
	{"Offset", length, false, func(p *formats.Point) string { return decimal(p.Offset, p.Chained) }},
	{"Code", textual, false, func(p *formats.Point) string { return p.Code }},
	{"Layer", textual, false, func(p *formats.Point) string { return p.Layer }},
	{"Run", textual, false, func(p *formats.Point) string { return p.Run }},
	{"Staffed", textual, false, func(p *formats.Point) string { return p.Staffed }},
	{"Set-up", textual, false, func(p *formats.Point) string { return p.Setup }},
	{"Time", textual, false, func(p *formats.Point) string { return p.Time }},
	{"Description", textual, false, func(p *formats.Point) string { return p.Desc }},
}

func decimal(d unit.Decimal, set bool) string {
	if !set {
		return ""
	}
	return d.String()
}

// used are the columns that always stand and those that some record fills.
func used[T any](all []column[T], records []T) []column[T] {
	var out []column[T]
	for _, c := range all {
		if c.always || slices.ContainsFunc(records, func(r T) bool { return c.cell(&r) != "" }) {
			out = append(out, c)
		}
	}
	return out
}

// Grid is a table to write: headings first, then a row a record.
type Grid struct {
	Name   string
	Number []bool // columns of numbers
	Rows   [][]string
}

// Grids writes the books and points of a document as tables, with headings
// that name the unit.
func Grids(d *formats.Document, opt formats.EncodeOptions) ([]Grid, error) {
	var out []Grid
	for i := range d.Books {
		b := &d.Books[i]
		u := b.Unit
		if !u.Known() {
			u = opt.Unit
		}
		cols := used(bookColumns, b.Rows)
		if b.HasFlag && !slices.ContainsFunc(cols, func(c column[formats.BookRow]) bool { return c.heading == "Inverted" }) {
			cols = append(cols, column[formats.BookRow]{heading: "Inverted", cell: func(*formats.BookRow) string { return "" }})
		}
		out = append(out, gridOf(b.Name, cols, b.Rows, u, b.DistIn))
	}
	if len(d.Points) > 0 || len(d.Books) == 0 {
		u := d.Units.Linear
		if !u.Known() {
			u = opt.Unit
		}
		out = append(out, gridOf("Points", used(pointColumns, d.Points), d.Points, u, unit.Unit{}))
	}
	return out, nil
}

func gridOf[T any](name string, cols []column[T], records []T, u, distance unit.Unit) Grid {
	g := Grid{Name: name, Number: make([]bool, len(cols)), Rows: make([][]string, 0, len(records)+1)}
	line := make([]string, len(cols))
	for i, c := range cols {
		line[i], g.Number[i] = c.heading, c.kind != textual
		switch {
		case c.kind == length && u.Known():
			line[i] += " (" + u.Name + ")"
		case c.kind == sight && distance.Known():
			line[i] += " (" + distance.Name + ")"
		}
	}
	g.Rows = append(g.Rows, line)
	for i := range records {
		line := make([]string, len(cols))
		for k, c := range cols {
			line[k] = c.cell(&records[i])
		}
		g.Rows = append(g.Rows, line)
	}
	return g
}
