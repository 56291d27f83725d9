package table

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// heading is a resolved heading row.
type heading struct {
	columns []formats.Column
	bare    []bool         // columns in a foot that does not say which
	odd     []string       // columns in a unit that is not read: that unit
	roles   map[string]int // role → index into columns
	book    bool
	kinds   bool     // a book with one reading a row, whose type is a column
	clash   bool     // such a book by its columns, and points are asked for
	dropped []int    // columns whose words mean nothing beside the others
	twice   [][2]int // two columns of one role
	xy      bool     // x and y stand for the coordinates
	known   int      // headings understood

	pos            formats.Pos // the row
	unit, distance unit.Unit   // of the lengths, and of the sights of a book
}

func (h *heading) add(c formats.Column, bare bool, odd string) {
	h.columns, h.bare, h.odd = append(h.columns, c), append(h.bare, bare), append(h.odd, odd)
}

// resolve reads a heading row. It is good when it makes a level book or a list
// of points.
func resolve(cells []Cell, content formats.Content) heading {
	h := heading{roles: map[string]int{}}
	axes := 0
	for i, c := range cells {
		text := strings.TrimSpace(c.Text)
		x := parseWith(dictionaryOf(content), text)
		if x.role == xAxis || x.role == yAxis {
			axes++
			x.role = ""
		}
		h.add(formats.Column{Col: i + 1, Heading: text, Role: x.role, Unit: x.unit}, x.bare, x.odd)
		if x.role == "" {
			continue
		}
		h.known++
		if first, ok := h.roles[x.role]; ok {
			h.twice = append(h.twice, [2]int{first, i})
			continue
		}
		h.roles[x.role] = i
	}
	h.settle(content)
	h.xy = !h.book && axes > 0 && !(h.has(Easting) && h.has(Northing)) && !(h.has(Chainage) && h.has(Name)) &&
		(axes == 2 || h.has(Easting) || h.has(Northing))
	h.clash = h.kinds && content == formats.PointContent && (h.has(Easting) && h.has(Northing) || h.has(Chainage))
	return h
}

// dictionaryOf are the words of headings of a content.
func dictionaryOf(content formats.Content) map[string]string {
	if content == formats.PipeContent {
		return pipeWords
	}
	return words
}

// settle decides what depends on the other columns: a station is a chainage
// where another column holds the name or an offset stands beside it.
func (h *heading) settle(content formats.Content) {
	if content == formats.PipeContent {
		return
	}
	h.typed(content)
	h.book = h.has(BS) && h.has(FS) || h.kinds
	h.narrow()
	if i, ok := h.roles[station]; ok {
		role := Name
		if h.has(Name) || h.has(Offset) && !h.book {
			role = Chainage
		}
		delete(h.roles, station)
		if _, taken := h.roles[role]; !taken {
			h.roles[role], h.columns[i].Role = i, role
		} else {
			h.columns[i].Role = ""
		}
	}
	rename := func(from, to string) {
		if i, ok := h.roles[from]; ok && !h.has(to) {
			delete(h.roles, from)
			h.roles[to], h.columns[i].Role = i, to
		}
	}
	if h.book {
		rename(Description, Remark)
	} else {
		rename(Remark, Description)
		rename(Known, Level) // a list of marks
	}
}

func (h *heading) has(role string) bool { _, ok := h.roles[role]; return ok }

// at is the column of a role from 0, or -1.
func (h *heading) at(role string) int {
	if i, ok := h.roles[role]; ok {
		return i
	}
	return -1
}

// points reports whether the columns list points.
func (h *heading) points() bool {
	return h.has(Easting) && h.has(Northing) || h.has(Chainage) && (h.has(Name) || h.has(Level) || h.has(StaffReading) || h.has(Receiver)) || h.xy && h.known > 0 || h.laser()
}

// laser reports whether the columns list readings on a laser plane.
func (h *heading) laser() bool { return h.has(Name) && (h.has(StaffReading) || h.has(Receiver)) }

// fits reports whether the heading serves the content that is asked for. Names
// with levels alone are points only where the job says so: their places come
// from another file.
func (h *heading) fits(c formats.Content) bool {
	switch c {
	case formats.LevelContent:
		return h.book
	case formats.PipeContent:
		return h.pipes()
	case formats.PointContent:
		return h.clash || !h.book && (h.points() || h.has(Name) && h.has(Level))
	}
	return h.book || h.points()
}

// foot takes the declared foot for headings that say "ft" alone.
func (h *heading) foot(declared unit.Unit) {
	if declared != unit.Ft && declared != unit.FtUS {
		return
	}
	for i := range h.columns {
		if h.bare[i] {
			h.columns[i].Unit, h.bare[i] = declared, false
		}
	}
}

// unread lists the headings that have no meaning here.
func (h *heading) unread() string {
	var out []string
	for i := range h.columns {
		c := &h.columns[i]
		if c.Heading != "" && c.Role == "" {
			out = append(out, fmt.Sprintf("%q", c.Heading))
		}
	}
	return strings.Join(out, ", ")
}

// Fits reports whether one of the first rows of a grid is a heading that
// serves the content, so that a workbook's sheets can be tried.
func Fits(rows [][]Cell, opt formats.Options) bool {
	if len(opt.Columns) > 0 {
		return len(rows) > 0
	}
	_, _, ok := find(rows, opt)
	return ok
}

// find looks for the heading in the first rows; n is the row below it.
func find(rows [][]Cell, opt formats.Options) (h heading, n int, ok bool) {
	for i := range min(len(rows), headingWithin) {
		if len(rows[i]) < 2 {
			continue // one cell makes no heading
		}
		var above []Cell
		if i > 0 {
			above = rows[i-1]
		}
		if h, _, _, ok := headingOf(above, rows[i], opt.Content); ok {
			return h, i + 1, true
		}
	}
	return heading{}, 0, false
}

// headingOf takes a row as heading, by itself or as the second line of the one
// above it: where it needs that one, or where that one adds to it and takes
// nothing away.
func headingOf(above, cells []Cell, content formats.Content) (h heading, texts []Cell, two, ok bool) {
	h, texts = resolve(cells, content), slices.Clone(cells)
	ok = h.fits(content)
	if blankRow(above) || blankRow(cells) {
		return h, texts, false, ok
	}
	both := joined(above, cells)
	if x := resolve(both, content); x.fits(content) && (!ok || x.extends(&h)) {
		return x, both, true, true
	}
	return h, texts, false, ok
}

// extends reports whether every column of o means the same here, and more do.
func (h *heading) extends(o *heading) bool {
	for i, c := range o.columns {
		if c.Role != "" && (h.columns[i].Role != c.Role || c.Unit.Known() && h.columns[i].Unit != c.Unit) {
			return false
		}
	}
	return len(h.roles) > len(o.roles) && h.book == o.book && len(h.twice) <= len(o.twice) && h.xy == o.xy && h.clash == o.clash
}

// unitLine reports whether a row is the second line of a heading: it names units
// and holds no digit.
func unitLine(cells []Cell) bool {
	units := 0
	for _, c := range cells {
		t := strings.TrimSpace(c.Text)
		if strings.ContainsAny(t, "0123456789") {
			return false
		}
		if t != "" && parseHeading("level "+t).unit.Known() {
			units++
		}
	}
	return units > 1
}

// joined puts two heading lines together, cell by cell.
func joined(a, b []Cell) []Cell {
	out := make([]Cell, max(len(a), len(b)))
	for i := range out {
		var t []string
		for _, line := range [][]Cell{a, b} {
			if i < len(line) {
				if s := strings.TrimSpace(line[i].Text); s != "" {
					t = append(t, s)
				}
			}
		}
		out[i].Text = strings.Join(t, " ")
	}
	return out
}

func blankRow(cells []Cell) bool {
	for i := range cells {
		if cells[i].Bad != "" || strings.TrimSpace(cells[i].Text) != "" {
			return false
		}
	}
	return true
}
