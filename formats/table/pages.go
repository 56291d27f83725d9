package table

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"sightrail/formats"
)

// A book may be kept on pages. A page begins where the heading is written
// again, where a row says "Page 2", with a row that is carried or brought
// forward, or where a column of page numbers says so. What is carried over is
// compared with what it was carried from, and is not read twice.

// pages is where a book stands between its pages.
type pages struct {
	no     int    // of the page; 0 as long as there is but one
	first  bool   // no reading has been read on it
	lines  []line // the heading, a text a cell, to know it again
	line   int    // how many of its lines have been seen again
	titles map[string]bool
}

type line []string

func lineOf(cells []Cell) line {
	l := make(line, len(cells))
	for i := range cells {
		l[i] = strings.ToLower(trim(cells[i].Text))
	}
	for len(l) > 0 && l[len(l)-1] == "" {
		l = l[:len(l)-1]
	}
	return l
}

// withoutDigits is the text of a title, so that "Page 1 of 3" is "Page 2 of 3".
func (l line) withoutDigits() string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return -1
		}
		return r
	}, strings.Join(l, "\x00"))
}

// turn begins page no, or the next one for 0.
func (b *Builder) turn(no int) {
	k := b.book
	p := &k.pages
	switch {
	case p.no == 0:
		if len(k.Rows) == 0 {
			if no > 0 {
				p.no, p.first = no, true
			}
			return
		}
		for i := range k.Rows {
			k.Rows[i].Page = 1
		}
		p.no = 1
		if no == 1 {
			return // it stands at the foot of the first page
		}
	case no == p.no:
		return // at the foot of this page, or at the head of the one that has begun
	}
	if p.first && no == 0 {
		return
	}
	if no == 0 {
		no = p.no + 1
	}
	p.no, p.first = no, true
	k.page, k.pageTwice = sums{}, sums{}
}

// headed deals with rows that stand at the head of a page: titles, the number of
// the page, the heading. true means that the row is none of the book. A heading
// with other columns begins a book of its own.
func (b *Builder) headed(row int, cells []Cell) bool {
	p := &b.book.pages
	if p.line == 0 && b.hasNumber(cells) && filledCells(cells) > 1 {
		return false // most rows: a reading, and a name or more beside it
	}
	l := lineOf(cells)
	if len(l) == 0 {
		return false
	}
	if p.line < len(p.lines) && slices.Equal(l, p.lines[p.line]) {
		if p.line++; p.line == len(p.lines) {
			p.line = 0
			b.again(row)
		}
		return true
	}
	if p.line > 0 { // without its lines of units
		p.line = 0
		b.again(row - 1)
	}
	if no, ok := pageMark(l); ok {
		b.note(b.at.At(row, 0), "", "%q is the number of a page; it is not read as a reading", trim(strings.Join(l, " ")))
		b.turn(no)
		return true
	}
	if p.titles[l.withoutDigits()] && !b.hasNumber(cells) {
		b.note(b.at.At(row, 0), "", "the row repeats a line above the headings, as the head of a page; it is not read as a reading")
		b.turn(0)
		return true
	}
	return b.otherHeading(row, cells)
}

func filledCells(cells []Cell) int {
	n := 0
	for i := range cells {
		if trim(cells[i].Text) != "" {
			n++
		}
	}
	return n
}

// again is called at the end of a heading that is written again.
func (b *Builder) again(row int) {
	b.turn(0)
	if len(b.book.Rows) > 0 {
		b.note(b.at.At(row, 0), "", "the headings are written again here, and begin page %d", b.book.pages.no)
	}
}

// otherHeading looks for a heading in other words than those of the book.
func (b *Builder) otherHeading(row int, cells []Cell) bool {
	if b.hasNumber(cells) {
		return false
	}
	if len(b.opt.Columns) > 0 {
		if n := 0; b.isHeading(cells) {
			for i := range min(len(cells), len(b.h.columns)) {
				if numeric[parseHeading(cells[i].Text).role] {
					n++
				}
			}
			if n > 1 {
				b.contradicts(row, cells)
				if !b.refused {
					b.again(row)
				}
				return true
			}
		}
		return false
	}
	h := resolve(cells, b.opt.Content)
	if !h.book {
		return false
	}
	h.foot(b.opt.Unit)
	if h.sameAs(&b.h) {
		b.again(row)
		return true
	}
	b.closeBook()
	b.note(b.at.At(row, 0), "", "the headings are written again with other columns, and begin a book of their own")
	b.book, b.found, b.prev, b.rows = nil, false, nil, 1
	b.look(row, cells)
	return true
}

// HeadedAgain reports whether a row below the heading of a book is a heading
// again, the same or another: its fields are its own.
func (b *Builder) HeadedAgain(cells []Cell) bool {
	return b.book != nil && len(b.opt.Columns) == 0 && !b.hasNumber(cells) && func() bool { h := resolve(cells, b.opt.Content); return h.book }()
}

// sameAs reports whether two headings mean the same, column by column.
func (h *heading) sameAs(o *heading) bool {
	for i := range max(len(h.columns), len(o.columns)) {
		var a, b formats.Column
		if i < len(h.columns) {
			a = h.columns[i]
		}
		if i < len(o.columns) {
			b = o.columns[i]
		}
		if a.Role != b.Role || a.Unit.Known() && a.Unit != b.Unit {
			return false
		}
	}
	return true
}

var pageNumber = regexp.MustCompile(`^(?:page|sheet|pg)\.? *(?:no\.?|number|nr\.?)? *[:#]? *(\d{1,5})(?: *(?:of|/) *\d{1,5})?$`)

// pageMark reads a row that holds nothing but the number of a page.
func pageMark(l line) (no int, ok bool) {
	text := ""
	for _, t := range l {
		if t == "" {
			continue
		}
		if text != "" {
			return 0, false
		}
		text = t
	}
	if m := pageNumber.FindStringSubmatch(text); m != nil {
		no, _ = strconv.Atoi(m[1])
	}
	return no, no > 0
}

var pageCell = regexp.MustCompile(`^(?:(?:page|sheet|pg|p)\.? *)?(\d{1,5})(?: *(?:of|/) *\d{1,5})?$`)

// page reads the column of page numbers. A blank cell belongs to the page of the
// row above it.
func (r *rowReader) page() {
	i := r.b.h.at(Page)
	t := r.text(i, Page, true)
	if t == "" || dash(t) {
		return
	}
	m := pageCell.FindStringSubmatch(strings.ToLower(t))
	if m == nil {
		r.refuse(i+1, Page, "%q is no number of a page; write 1, 2, 3", t)
		return
	}
	no, _ := strconv.Atoi(m[1])
	p := &r.b.book.pages
	switch {
	case no == 0:
		r.refuse(i+1, Page, "pages are numbered from 1")
		return
	case no < p.no:
		r.b.note(r.b.at.At(r.row, i+1), Page, "page %d comes after page %d; the rows are read in the order of the file", no, p.no)
	case p.no == 0 && len(r.b.book.Rows) > 0:
		// rows above the first number belong to the page before
		for k := range r.b.book.Rows {
			r.b.book.Rows[k].Page = max(no-1, 1)
		}
		p.no = max(no-1, 1)
	}
	r.b.turn(no)
}

// carriedWords are the words, without marks, by which a row says that it is
// carried to the next page or brought from the one before. From common practice,
// no published source.
var carriedWords = set("carriedforward carryforward carriedfwd carriedover carriedoverpage broughtforward bringforward broughtfwd broughtover broughtdown cfwd bfwd")

// isCarried reports whether a label says that its row is carried: in words, or
// as c/f and b/f with a stroke or dots. Plain "cf" may be the name of a shot.
func isCarried(label string) bool {
	t := strings.ToLower(trim(label))
	w := plainWord(t)
	return carriedWords[w] || (w == "cf" || w == "bf" || w == "co" || w == "bo") && strings.ContainsAny(t, "/.")
}

// marked reports whether a row says beside its point that it is carried.
func marked(x *formats.BookRow) bool { return isCarried(x.Remark) || isCarried(x.Code) }

// carried compares a row that repeats the last one of the page before: the same
// point, at the head of a page or marked as carried. What is repeated is not
// read twice. true means that nothing is left of the row.
func (r *rowReader) carried(x *formats.BookRow) bool {
	k := r.b.book
	if x.Point == "" || !k.pages.first && !marked(x) || r.bad != "" {
		return false
	}
	last := k.lastRow()
	if last == nil || last.Point != x.Point || last.Bad != "" {
		return false
	}
	sights := [...]struct {
		role      string
		now, was  *formats.Reading
		wires     *formats.Wires
		distance  *formats.Reading
		repeating bool
	}{
		{role: BS, now: &x.BS, was: &last.BS, wires: &x.WiresBS, distance: &x.DistanceBS}, {role: IS, now: &x.IS, was: &last.IS, wires: &x.WiresIS},
		{role: FS, now: &x.FS, was: &last.FS, wires: &x.WiresFS, distance: &x.DistanceFS}}
	repeated, left := 0, 0
	for i := range sights {
		s := &sights[i]
		switch {
		case !s.now.Set:
		case s.was.Set:
			repeated++
			s.repeating = true
			r.compare(s.role, *s.now, *s.was, x.Inverted, last)
		default:
			left++
		}
	}
	if repeated == 0 && left > 0 {
		return false // the other half of a change point
	}
	was := last.RowFigures
	if was == nil {
		was = &formats.RowFigures{}
	}
	booked := [...]struct {
		role     string
		now, was *formats.Reading
	}{{Level, &x.Level, &last.Level}, {Rise, &x.Rise, &was.Rise}, {Fall, &x.Fall, &was.Fall}}
	for _, c := range booked {
		if c.now.Set && c.was.Set {
			r.compare(c.role, *c.now, *c.was, false, last)
		}
	}
	if r.bad != "" {
		return false
	}
	if left == 0 {
		r.b.note(r.b.at.At(r.row, 0), "", "the row repeats %s of row %d, carried to another page; it is read once", x.Point, last.Row)
		return true
	}
	for _, c := range booked[1:] {
		if c.was.Set {
			*c.now = formats.Reading{} // it belongs to the FS
		}
	}
	for _, s := range sights {
		if s.repeating {
			r.b.note(r.b.at.At(r.row, s.now.Col), s.role, "the %s of %s is that of row %d, carried to another page; it is read once", s.role, x.Point, last.Row)
			*s.now, *s.wires = formats.Reading{}, formats.Wires{}
			if s.distance != nil {
				*s.distance = formats.Reading{}
			}
		}
	}
	return false
}

// compare refuses a value that is not what it was carried from.
func (r *rowReader) compare(role string, now, was formats.Reading, inverted bool, last *formats.BookRow) {
	a, err1 := scaled(now, inverted && role != Level)
	b, err2 := scaled(was, last.Inverted && role != Level)
	if err1 != nil || err2 != nil || a != b {
		r.refuse(now.Col, role, "%s is carried over from row %d with %s, and has %s there; correct the one that is wrong", last.Point, last.Row, now.Value, was.Value)
	}
}

// lastRow is the last row that holds anything.
func (k *bookBuilder) lastRow() *formats.BookRow {
	for i := len(k.Rows) - 1; i >= 0; i-- {
		if !k.Rows[i].Blank() {
			return &k.Rows[i]
		}
	}
	return nil
}
