package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/qa"
)

// CSV is results.csv: every row of the run, as they come.
//
// Numbers are plain decimals with a point, differences and limits exact in
// millimetres. Text that came from a file and begins with = + - @ or a tab has
// an apostrophe before it, so that no spreadsheet takes it for a formula.
var CSV = &Kind{Name: "csv", File: "results.csv", Doc: "every row, one a line, for any program", Start: startCSV}

type csvWriter struct {
	w       io.Writer
	tell    *teller
	columns []column
	buf     []byte
}

func startCSV(w io.Writer, head *qa.Result) (Writer, error) {
	list, err := chosenColumns(head.Columns)
	if err != nil {
		return nil, err
	}
	c := &csvWriter{w: w, tell: newTeller(head), columns: list}
	for i := range list {
		c.buf = append(append(c.buf, list[i].name...), ',')
	}
	c.buf[len(c.buf)-1] = '\n'
	return c, nil
}

// csvFlush is how much is gathered before it is written.
const csvFlush = 1 << 18

func (c *csvWriter) Rows(rows []qa.Row) error {
	for i := range rows {
		c.buf = c.line(c.buf, &rows[i])
		if len(c.buf) > csvFlush {
			if err := c.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

// csvPrinter prints lines of results.csv.
type csvPrinter struct {
	of      *csvWriter
	pattern pattern
}

func (c *csvWriter) printer() rowPrinter { return &csvPrinter{of: c} }

func (c *csvWriter) printed(text []byte) error { return writePrinted(c.w, &c.buf, text) }

// writePrinted writes what was gathered and the text behind it.
func writePrinted(w io.Writer, gathered *[]byte, text []byte) error {
	if len(*gathered) > 0 {
		if _, err := w.Write(*gathered); err != nil {
			return err
		}
		*gathered = (*gathered)[:0]
	}
	_, err := w.Write(text)
	return err
}

func (p *csvPrinter) like(r *qa.Row) {
	p.pattern = pattern{}
	for i := range p.of.columns {
		p.pattern.column(&p.of.columns[i], p.of.tell, r, false)
		p.pattern.text(",")
	}
	p.pattern.tail[len(p.pattern.tail)-1] = '\n'
}

func (p *csvPrinter) alike(b []byte, r *qa.Row, as *told) []byte {
	return p.pattern.append(b, p.of.tell, r, as)
}

func (p *csvPrinter) row(b []byte, r *qa.Row) []byte { return p.of.line(b, r) }

func (c *csvWriter) flush() error {
	_, err := c.w.Write(c.buf)
	c.buf = c.buf[:0]
	return err
}

func (c *csvWriter) Close(*qa.Result) error { return c.flush() }

// appendText appends one cell of text that came from a file: inert, and in
// quotes where CSV wants them.
func appendText(b []byte, s string) []byte {
	if s == "" {
		return b
	}
	quotes := s[0] == ' '
	for i := 0; i < len(s) && !quotes; i++ {
		quotes = s[i] < 0x80 && wantsQuotes[s[i]]
	}
	dangerous := strings.IndexByte("=+-@\t\r", s[0]) >= 0
	if !quotes {
		if dangerous {
			b = append(b, '\'')
		}
		return append(b, s...)
	}
	b = append(b, '"')
	if dangerous {
		b = append(b, '\'')
	}
	b = append(b, strings.ReplaceAll(s, `"`, `""`)...)
	return append(b, '"')
}

// wantsQuotes are the characters that a cell has quotes for.
var wantsQuotes = [0x80]bool{',': true, '"': true, '\r': true, '\n': true}

// line appends the line of a row.
func (c *csvWriter) line(b []byte, r *qa.Row) []byte {
	for i := range c.columns {
		b = append(c.columns[i].appendCSV(b, c.tell, r), ',')
	}
	b[len(b)-1] = '\n'
	return b
}

// VerdictWord is the verdict of a row, or nothing where there is no check.
func VerdictWord(r *qa.Row) string {
	switch {
	case r.Check < 0 || control(r):
		return ""
	case superseded(r):
		return r.Shot.Use.String()
	}
	return r.Verdict.String()
}

// control reports whether a row is not judged itself because what is worked out
// rests on it.
func control(r *qa.Row) bool { return !r.Derived && r.Shot.Use == convert.Control }

// uncertainty prints the standard uncertainty of a row in mm, with a hundredth;
// "" when it is not known.
func uncertainty(r *qa.Row) string { return string(appendUncertainty(nil, r)) }

// useWord is what became of the row of input; a derived row is none.
func useWord(r *qa.Row) string {
	if r.Derived {
		return "derived"
	}
	return r.Shot.Use.String()
}

// Count writes a number with its thing: "1 shot", "3 shots".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%s %s", strconv.Itoa(n), many)
}
