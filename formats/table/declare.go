package table

import (
	"slices"
	"strings"

	"sightrail/formats"
)

// declare takes the columns of the options as heading. A heading row in the
// file is still looked for, above the first numbers: it is compared, not read.
func (b *Builder) declare() {
	b.found, b.lead = true, &lead{}
	b.h = heading{roles: map[string]int{}}
	for i, c := range b.opt.Columns {
		role, ok := declarable[strings.ToLower(strings.TrimSpace(c))]
		if !ok {
			if role = parseHeading(c).role; role == "" || role == xAxis || role == yAxis {
				b.refuse(b.at, "columns", "%q is not the meaning of a column; use %s, or - for a column that is not read", c,
					"name, easting, northing, level, chainage, offset, code, description, BS, IS, FS, type, reading, known, distance, remark")
				b.refused = true
				return
			}
		}
		b.h.add(formats.Column{Col: i + 1, Heading: c, Role: role}, false, "")
		if role == Skip {
			continue
		}
		if _, twice := b.h.roles[role]; twice {
			b.refuse(b.at, "columns", "%q is declared for two columns; use - for a column that is not read", c)
			b.refused = true
			return
		}
		b.h.roles[role] = i
	}
	b.h.settle(b.opt.Content)
	for _, i := range b.h.dropped {
		b.refuse(b.at, "columns", "%q is declared and has no meaning beside the other columns (%s); use - for a column that is not read", b.h.columns[i].Heading, strings.Join(b.opt.Columns, ", "))
		b.refused = true
	}
	for _, t := range b.h.twice {
		b.refuse(b.at, "columns", "%q and %q are declared and mean the same; use - for a column that is not read", b.h.columns[t[0]].Heading, b.h.columns[t[1]].Heading)
		b.refused = true
	}
	if b.refused {
		return
	}
	if !b.h.fits(b.opt.Content) {
		b.refuse(b.at, "columns", "the declared columns (%s) make neither a level book, which needs BS and FS, or type and reading, nor a point list, which needs easting and northing, or name and chainage", strings.Join(b.opt.Columns, ", "))
		b.refused = true
	}
}

// lead holds the rows of a file with declared columns until it is plain whether
// they are titles and headings, or data.
type lead struct {
	rows  []leadRow
	units []Cell // heading row that was found, until the row below it was seen
	at    int    // its number
}

type leadRow struct {
	row   int
	cells []Cell
	fault fault
}

// row takes a row above the first numbers.
func (l *lead) row(b *Builder, row int, cells []Cell) error {
	if l.units != nil {
		h := l.units
		b.head = []line{lineOf(h)}
		if unitLine(cells) {
			b.lead, b.head = nil, append(b.head, lineOf(cells))
			b.compare(joined(h, cells), row)
			b.faulty(row)
			return nil
		}
		b.lead = nil
		b.compare(h, l.at)
		return b.record(row, cells)
	}
	switch {
	case b.hasNumber(cells):
		return l.data(b, row, cells)
	case b.isHeading(cells):
		b.faulty(row)
		for _, r := range l.rows {
			if !blankRow(r.cells) {
				b.above++
			}
			b.fault = r.fault
			b.faulty(r.row)
		}
		l.units, l.at = slices.Clone(cells), row
		return nil
	case len(l.rows) == headingWithin:
		return l.data(b, row, cells)
	}
	l.rows = append(l.rows, leadRow{row, slices.Clone(cells), b.fault})
	b.fault = fault{}
	return nil
}

// data ends the lead: there is no heading row, and the rows held are data.
func (l *lead) data(b *Builder, row int, cells []Cell) error {
	own := b.fault
	if err := l.end(b); err != nil {
		return err
	}
	b.fault = own
	return b.record(row, cells)
}

// end ends the lead where no heading row was found, or no row below it.
func (l *lead) end(b *Builder) error {
	b.lead = nil
	if l.units != nil {
		b.compare(l.units, l.at)
		return nil
	}
	if len(l.rows) == 0 && b.rows == 0 {
		b.refuse(b.at, "", "there is nothing in it")
		b.refused = true
		return nil
	}
	b.begin(b.at)
	for _, r := range l.rows {
		b.fault = r.fault
		if err := b.record(r.row, r.cells); err != nil {
			return err
		}
	}
	return nil
}

// hasNumber reports whether a cell of a column of numbers holds a digit.
func (b *Builder) hasNumber(cells []Cell) bool {
	for i := range min(len(cells), len(b.h.columns)) {
		if numeric[b.h.columns[i].Role] && strings.ContainsAny(cells[i].Text, "0123456789") {
			return true
		}
	}
	return false
}

// isHeading reports whether a row without numbers names the column of a number.
func (b *Builder) isHeading(cells []Cell) bool {
	for i := range min(len(cells), len(b.h.columns)) {
		r := parseHeading(cells[i].Text).role
		if numeric[b.h.columns[i].Role] && (numeric[r] || r == xAxis || r == yAxis || r == station) {
			return true
		}
	}
	return false
}

// contradictory are the roles of which a heading and the declared columns may
// not name two different ones.
var contradictory = map[string]bool{Easting: true, Northing: true, BS: true, IS: true, FS: true, StaffReading: true}

// contradicts refuses a heading row that names other columns than the declared
// ones, or other units than those they have by now.
func (b *Builder) contradicts(row int, cells []Cell) {
	for i := range min(len(cells), len(b.h.columns)) {
		x, c := parseHeading(cells[i].Text), &b.h.columns[i]
		if x.role == middle {
			x.role = StaffReading
		}
		at := b.at.At(row, i+1)
		switch {
		case !numeric[c.Role]:
		case x.role != c.Role && numeric[x.role] && (contradictory[x.role] || contradictory[c.Role]):
			b.refuse(at, trim(cells[i].Text), "the heading says %s, and the declared columns say %s; one of them is wrong", x.role, c.Role)
			b.refused = true
		case x.unit.Known() && c.Unit.Known() && x.unit != c.Unit && !x.bare:
			b.refuse(at, trim(cells[i].Text), "the heading says %s here and %s above; write one part a file", x.unit.Name, c.Unit.Name)
			b.refused = true
		}
	}
}

// compare holds the heading row of the file against the declared columns, and
// takes the units it names.
func (b *Builder) compare(cells []Cell, row int) {
	pos := b.at.At(row, 0)
	b.contradicts(row, cells)
	for i := range min(len(cells), len(b.h.columns)) {
		if x, c := parseHeading(cells[i].Text), &b.h.columns[i]; numeric[c.Role] {
			c.Unit, b.h.bare[i], b.h.odd[i] = x.unit, x.bare, x.odd
		}
	}
	b.note(pos, "", "the columns are read as declared, and this row is taken as their headings")
	b.begin(pos)
}
