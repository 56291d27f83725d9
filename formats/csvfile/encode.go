package csvfile

import (
	"encoding/csv"
	"errors"
	"slices"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// column is one column of an output: heading, whether it is a length, and the
// cell of a record.
type column[T any] struct {
	heading string
	length  bool
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
	{"Point", false, true, func(r *formats.BookRow) string { return r.Point }},
	{"BS", true, true, func(r *formats.BookRow) string { return reading(r.BS) }},
	{"IS", true, true, func(r *formats.BookRow) string { return reading(r.IS) }},
	{"FS", true, true, func(r *formats.BookRow) string { return reading(r.FS) }},
	{"BS upper", true, false, func(r *formats.BookRow) string { return reading(r.WiresBS.Upper) }},
	{"BS lower", true, false, func(r *formats.BookRow) string { return reading(r.WiresBS.Lower) }},
	{"IS upper", true, false, func(r *formats.BookRow) string { return reading(r.WiresIS.Upper) }},
	{"IS lower", true, false, func(r *formats.BookRow) string { return reading(r.WiresIS.Lower) }},
	{"FS upper", true, false, func(r *formats.BookRow) string { return reading(r.WiresFS.Upper) }},
	{"FS lower", true, false, func(r *formats.BookRow) string { return reading(r.WiresFS.Lower) }},
	{"Rise", true, false, func(r *formats.BookRow) string { return reading(r.Rise) }},
	{"Fall", true, false, func(r *formats.BookRow) string { return reading(r.Fall) }},
	{"Collimation", true, false, func(r *formats.BookRow) string { return reading(r.Collimation) }},
	{"Level", true, false, func(r *formats.BookRow) string { return reading(r.Level) }},
	{"Known", true, false, func(r *formats.BookRow) string { return reading(r.Known) }},
	{"Distance", false, false, func(r *formats.BookRow) string { return reading(r.Distance) }},
	{"Distance BS", false, false, func(r *formats.BookRow) string { return reading(r.DistanceBS) }},
	{"Distance FS", false, false, func(r *formats.BookRow) string { return reading(r.DistanceFS) }},
	{"Inverted", false, false, func(r *formats.BookRow) string { return yesNo(r.Inverted) }},
	{"Code", false, false, func(r *formats.BookRow) string { return r.Code }},
	{"Staffed", false, false, func(r *formats.BookRow) string { return r.Staffed }},
	{"Run", false, false, func(r *formats.BookRow) string { return r.Run }},
	{"Chainage", true, false, func(r *formats.BookRow) string { return reading(r.Chainage) }},
	{"Offset", true, false, func(r *formats.BookRow) string { return reading(r.Offset) }},
	{"Remark", false, false, func(r *formats.BookRow) string { return r.Remark }},
}

var pointColumns = []column[formats.Point]{
	{"Point", false, true, func(p *formats.Point) string { return p.ID }},
	{"Easting", true, true, func(p *formats.Point) string { return decimal(p.E, p.Placed) }},
	{"Northing", true, true, func(p *formats.Point) string { return decimal(p.N, p.Placed) }},
	{"Level", true, true, func(p *formats.Point) string { return decimal(p.Z, p.Levelled) }},
	{"Chainage", true, false, func(p *formats.Point) string { return decimal(p.Chainage, p.Chained) }},
	{"Offset", true, false, func(p *formats.Point) string { return decimal(p.Offset, p.Chained) }},
	{"Code", false, false, func(p *formats.Point) string { return p.Code }},
	{"Layer", false, false, func(p *formats.Point) string { return p.Layer }},
	{"Run", false, false, func(p *formats.Point) string { return p.Run }},
	{"Staffed", false, false, func(p *formats.Point) string { return p.Staffed }},
	{"Set-up", false, false, func(p *formats.Point) string { return p.Setup }},
	{"Time", false, false, func(p *formats.Point) string { return p.Time }},
	{"Description", false, false, func(p *formats.Point) string { return p.Desc }},
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

func write[T any](w *csv.Writer, cols []column[T], records []T, u unit.Unit) error {
	line := make([]string, len(cols))
	for i, c := range cols {
		line[i] = c.heading
		if c.length && u.Known() {
			line[i] += " (" + u.Name + ")"
		}
	}
	if err := w.Write(line); err != nil {
		return err
	}
	for i := range records {
		for k, c := range cols {
			line[k] = c.cell(&records[i])
		}
		if err := w.Write(line); err != nil {
			return err
		}
	}
	return nil
}

func writeBooks(w *csv.Writer, d *formats.Document, opt formats.EncodeOptions) error {
	if len(d.Books) > 1 {
		return errors.New("a CSV file holds one level book; write a workbook, or one file a book")
	}
	b := &d.Books[0]
	u := b.Unit
	if !u.Known() {
		u = opt.Unit
	}
	cols := used(bookColumns, b.Rows)
	if b.HasFlag && !slices.ContainsFunc(cols, func(c column[formats.BookRow]) bool { return c.heading == "Inverted" }) {
		cols = append(cols, column[formats.BookRow]{"Inverted", false, true, func(*formats.BookRow) string { return "" }})
	}
	for i := range cols {
		if role := cols[i].heading; (role == "Distance" || role == "Distance BS" || role == "Distance FS") && b.DistIn.Known() {
			cols[i].heading += " (" + b.DistIn.Name + ")"
		}
	}
	return write(w, cols, b.Rows, u)
}

func writePoints(w *csv.Writer, d *formats.Document, u unit.Unit) error {
	return write(w, used(pointColumns, d.Points), d.Points, u)
}
