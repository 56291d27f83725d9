package report

import "sightrail/qa"

// printing is a Writer whose rows may be printed elsewhere, on several processors at
// once; it takes the print in order.
type printing interface {
	// printer makes a printer of rows; nil where it prints nothing of them.
	printer() rowPrinter
	// printed takes the print of the next rows.
	printed(text []byte) error
}

// rowPrinter prints rows, each by itself, as the Writer does.
type rowPrinter interface {
	like(r *qa.Row)
	alike(b []byte, r *qa.Row, as *told) []byte
	row(b []byte, r *qa.Row) []byte
}

// fanPrinter prints rows for all writers of a fan.
type fanPrinter struct {
	printers []rowPrinter // by writer; nil = prints nothing
	texts    [][]byte
	told     told
}

// told is what several reports print of one row alike.
type told struct {
	written *qa.Written
	shared  [2]sharedText // design and difference
}

// sharedText is a number that was printed for one report and is there for the next.
type sharedText struct {
	text []byte
	is   bool
}

// number is a shared number; it is printed the first time.
func (s *sharedText) number(c *column, t *teller, r *qa.Row) []byte {
	if !s.is {
		s.text, s.is = c.number(t, s.text[:0], r), true
	}
	return s.text
}

// Printer makes a printer for the writers; nil where one of them needs the rows.
func (f *Fan) Printer() qa.Printer {
	p := &fanPrinter{printers: make([]rowPrinter, len(f.writers)), texts: make([][]byte, len(f.writers))}
	for i, w := range f.writers {
		x, ok := w.(printing)
		if !ok {
			return nil
		}
		p.printers[i] = x.printer()
	}
	return p
}

// TakePrinted hands print on, as Take does with rows.
func (f *Fan) TakePrinted(p qa.Printer, free func()) error {
	x := p.(*fanPrinter)
	b := &batch{print: x, free: func() { x.Reset(); free() }}
	f.pass(b)
	return f.failed()
}

// Like has all rows that Alike prints be like this one.
func (p *fanPrinter) Like(r *qa.Row) {
	for _, x := range p.printers {
		if x != nil {
			x.like(r)
		}
	}
}

// Alike prints a row like that of Like.
func (p *fanPrinter) Alike(r *qa.Row, as *qa.Written) {
	p.told.written = as
	p.told.shared[0].is, p.told.shared[1].is = false, false
	for i, x := range p.printers {
		if x != nil {
			p.texts[i] = x.alike(p.texts[i], r, &p.told)
		}
	}
}

// Row prints any row.
func (p *fanPrinter) Row(r *qa.Row) {
	for i, x := range p.printers {
		if x != nil {
			p.texts[i] = x.row(p.texts[i], r)
		}
	}
}

// Reset throws away what was printed.
func (p *fanPrinter) Reset() {
	for i := range p.texts {
		p.texts[i] = p.texts[i][:0]
	}
}

// pattern is the print of a row of which most is the same in all rows alike: what is
// not, with the print before each, and the print behind the last.
type pattern struct {
	parts []part
	tail  []byte
}

type part struct {
	before []byte
	column *column
	from   writtenAs
	json   bool
}

// differs tells which columns may differ between rows alike; see qa.Printer.
var differs = map[string]bool{"point": true, "code": true, "verdict": true, "easting": true, "northing": true, "design": true, "measured": true, "diff_mm": true,
	"beyond_mm": true, "action": true, "design_at": true, "cell": true}

// text adds print that is the same in all rows.
func (p *pattern) text(s string) { p.tail = append(p.tail, s...) }

// column adds a column of a row like r.
func (p *pattern) column(c *column, t *teller, r *qa.Row, json bool) {
	switch {
	case differs[c.name]:
		from := c.written
		if r.Graded() || !r.Compared || r.Quantity.Alone() || r.Check < 0 || control(r) || superseded(r) { // they are printed otherwise
			from = notWritten
		}
		p.parts = append(p.parts, part{p.tail, c, from, json})
		p.tail = nil
	case json:
		p.tail = c.appendJSON(p.tail, t, r)
	default:
		p.tail = c.appendCSV(p.tail, t, r)
	}
}

// append appends the print of a row.
func (p *pattern) append(b []byte, t *teller, r *qa.Row, as *told) []byte {
	for i := range p.parts {
		x := &p.parts[i]
		if len(x.before) == 1 {
			b = append(b, x.before[0])
		} else {
			b = append(b, x.before...)
		}
		written := ""
		switch x.from {
		case writtenEasting:
			written = as.written.Easting
		case writtenNorthing:
			written = as.written.Northing
		case writtenLevel:
			written = as.written.Level
		case writtenName:
			b = x.name(b, r.Shot.ID)
			continue
		case writtenCode:
			b = x.name(b, r.Shot.Code)
			continue
		case writtenVerdict:
			b = x.name(b, r.Verdict.String())
			continue
		case sharedDesign, sharedDiff:
			b = append(b, as.shared[x.from-sharedDesign].number(x.column, t, r)...)
			continue
		}
		switch {
		case written != "":
			b = append(b, written...)
		case x.json:
			b = x.column.appendJSON(b, t, r)
		default:
			b = x.column.appendCSV(b, t, r)
		}
	}
	return append(b, p.tail...)
}

// name appends a name or code of plain characters.
func (x *part) name(b []byte, s string) []byte {
	switch {
	case !x.json:
		return append(b, s...)
	case s == "":
		return append(b, "null"...)
	}
	return append(append(append(b, '"'), s...), '"')
}
