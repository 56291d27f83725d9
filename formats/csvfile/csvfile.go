// Package csvfile reads and writes delimited text: level books and points.
//
// Delimiter, decimal mark and encoding are found out, or taken as declared;
// what cannot be told apart for certain is refused and asked for. A byte order
// mark, CRLF, lone carriage returns and a trailing Ctrl-Z are accepted; NUL
// bytes are refused. Lines that begin with # are comments. Quotes follow RFC
// 4180, and a line break in quotes is read as one line feed; a quote that is
// opened and never properly closed spoils its own line only. A row with fewer
// fields than the heading is blank in the others, and a note counts such rows.
//
// A file is read as a stream, whatever its size: memory does not grow with it
// when points are handed over in batches. Texts of points are parts of blocks of
// the file; who keeps one beyond its batch keeps the block, and clones it.
package csvfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"sightrail/formats"
	"sightrail/formats/table"
)

var extensions = []string{".csv", ".txt", ".tsv", ".asc", ".pts"}

// Format is the delimited text format.
var Format = &formats.Format{
	Name:       "csv",
	Title:      "CSV and delimited text",
	Extensions: extensions,
	Sniff:      sniff,
	Decode:     Decode,
	Encode:     Encode,
	Holds:      []formats.Kind{formats.Books, formats.Points, formats.Attributes, formats.PointExtras, formats.LaserReadings, formats.UnitName},
}

// sniff takes what looks like lines of text and has a fitting ending.
func sniff(name string, head []byte) bool {
	for _, x := range extensions {
		if strings.HasSuffix(strings.ToLower(name), x) {
			return !bytes.HasPrefix(bytes.TrimSpace(head), []byte("<")) && !bytes.HasPrefix(head, []byte("PK\x03\x04"))
		}
	}
	return false
}

// decoder reads one file.
type decoder struct {
	d        *formats.Document
	at       formats.Pos
	lines    *lines
	b        *table.Builder
	s        splitter
	comments places
	short    places
	pieces   pieces
	strict   bool // no quick reader, for tests
}

// places counts rows and keeps the first of them.
type places struct {
	n     int
	first []string
}

func (p *places) add(row int) {
	if p.n < formats.FirstShown {
		p.first = append(p.first, fmt.Sprint(row))
	}
	p.n++
}

func (p *places) String() string {
	s := strings.Join(p.first, ", ")
	if p.n > len(p.first) {
		s += fmt.Sprintf(" and %d more", p.n-len(p.first))
	}
	return s
}

// Decode reads a level book or points.
func Decode(r io.Reader, name string, opt formats.Options) (*formats.Document, error) {
	return decode(r, name, opt, false, blockBytes)
}

// decode reads blocks of so many bytes.
func decode(r io.Reader, name string, opt formats.Options, strict bool, bytes int) (*formats.Document, error) {
	x := &decoder{d: &formats.Document{File: name, Format: "csv"}, at: formats.Pos{File: name}, strict: strict}
	text, converted, err := utf8Text(r, opt.Encoding, x.d, x.at)
	if err != nil {
		return nil, err
	}
	x.lines = newLines(text, converted, bytes)
	x.lines.jumpAfter, x.lines.jumpBy = opt.JumpAfter, opt.JumpBy
	if opt.Points != nil && !strict {
		x.pieces.take = opt.Plain
	}
	started := false
	if err = x.start(opt); err == nil {
		started, err = true, x.rows()
	}
	var stop *refusal
	switch {
	case errors.As(err, &stop):
		x.d.Refuse(x.at.At(stop.row, 0), stop.field, "%s", stop.text)
	case err != nil:
		return nil, err
	}
	x.notes()
	if started && (stop == nil || x.b.Headed()) {
		if err := x.b.Close(); err != nil {
			return nil, err
		}
	}
	formats.SortProblems(x.d.Problems)
	formats.SortProblems(x.d.Notes)
	return x.d, nil
}

// refusal stops the reading of a file.
type refusal struct {
	row         int
	field, text string
}

func (r *refusal) Error() string { return r.text }

// start finds out delimiter and decimal mark from the first lines.
func (x *decoder) start(opt formats.Options) error {
	sample, err := x.lines.sample()
	if err != nil {
		return err
	}
	delim := opt.Delimiter
	if delim == 0 {
		var spaces bool
		if delim, spaces = findDelimiter(sample, opt); spaces {
			return &refusal{1, "delimiter", "the fields seem to stand apart by spaces; declare \"delimiter: space\" for the file, if no name or code in it holds a space"}
		}
	}
	if delim != ',' {
		x.d.About = append(x.d.About, formats.Property{Name: "delimiter", Value: delimiterName(delim)})
	}
	x.s = splitter{delim: byte(delim)}
	x.b = table.New(x.d, x.at, opt)
	if opt.Decimal == 0 && delim != ',' {
		yes, why := table.DecimalComma(x.s.all(sample), opt)
		switch {
		case why != "":
			return &refusal{1, "decimal", why}
		case yes:
			x.b.DecimalComma(true)
			x.d.Note(x.at, "", "numbers have a decimal comma")
		}
	}
	return nil
}

// rows reads the lines to the end of the file, or to where it must be refused.
func (x *decoder) rows() error {
	for !x.b.Refused() {
		if x.plainBlock() {
			if err := x.piecemeal(); err != nil {
				return err
			}
		}
		line, row, ok, err := x.lines.next()
		if err != nil || !ok {
			return err
		}
		if x.lines.suspect {
			if err := x.suspect(line, row); err != nil {
				return err
			}
		}
		if strings.HasPrefix(line, "#") {
			x.comment(line, row)
			continue
		}
		if !x.lines.suspect && x.s.delim != ' ' && !x.strict {
			done, err := x.b.Plain(row, line, x.s.delim)
			if err != nil {
				return err
			}
			if done {
				continue
			}
		}
		cells, quote := x.s.split(line)
		if quote.col > 0 {
			if cells, err = x.quotes(line, quote); err != nil {
				return err
			}
		}
		if len(cells) > formats.MaxFields {
			x.b.Fault(formats.MaxFields, fmt.Sprintf("the line has more than %d fields", formats.MaxFields))
			cells = cells[:formats.MaxFields]
		}
		if x.b.Headed() {
			cells = x.fit(line, row, cells)
		}
		if err := x.b.Row(row, cells); err != nil {
			return err
		}
	}
	return nil
}

// suspect looks at a line of a block that holds NUL bytes, bytes that are not
// UTF-8, or characters lost in the conversion.
func (x *decoder) suspect(line string, row int) error {
	switch {
	case strings.IndexByte(line, 0) >= 0:
		return &refusal{row, "", "the line holds a NUL byte; this is not a text file, or it is in UTF-16 without a mark: declare \"encoding: utf-16\""}
	case !utf8.ValidString(line):
		x.b.Fault(0, "the line holds bytes that are not UTF-8; declare the encoding of the file, such as \"encoding: windows-1252\"")
	case x.lines.converted && strings.ContainsRune(line, utf8.RuneError):
		x.b.Fault(0, "the line holds characters that are damaged in its encoding; save the file again as UTF-8")
	}
	return nil
}

// comment counts a comment, and names one that could be a row of data.
func (x *decoder) comment(line string, row int) {
	x.comments.add(row)
	if !x.b.Headed() || x.comments.n > formats.MaxProblemsKept {
		return
	}
	if cells, _ := x.s.split(line); len(cells) == x.b.Width() && x.b.Numbers(cells) {
		x.d.Note(x.at.At(row, 1), "", "the line begins with # and is not read, though it holds numbers like a row; a name that begins with # needs quotes around it")
	}
}

// quotes joins the lines of a field that holds line breaks. A quote that is
// never closed, or closed inside a text, is a fault of its own line alone: the
// lines below are read as rows of their own.
func (x *decoder) quotes(line string, quote quoteFault) ([]table.Cell, error) {
	text, more, row, suspect := line, []string(nil), 0, false
	for f := quote; f.open && len(more) < maxQuotedLines && len(text) < formats.MaxLineBytes; {
		next, at, ok, err := x.lines.next()
		if err != nil {
			return nil, err
		}
		if !ok {
			break
		}
		row, suspect = at, suspect || x.lines.suspect
		more = append(more, next)
		text += "\n" + next
		if strings.IndexByte(next, '"') < 0 {
			continue
		}
		var cells []table.Cell
		if cells, f = x.s.split(text); f.col == 0 {
			if suspect {
				err = x.suspect(text, row)
			}
			return cells, err
		}
	}
	x.lines.push(more)
	if quote.open {
		x.b.Fault(quote.col, fmt.Sprintf("a quote is opened in this field and not closed (within %d lines); close it, or write two quotes for one that belongs to the text", maxQuotedLines))
	} else {
		x.b.Fault(quote.col, "text follows the closing quote of this field; write two quotes for one that belongs to the text")
	}
	return x.s.literal(line), nil
}

// fit deals with rows that have another number of fields than the heading.
func (x *decoder) fit(line string, row int, cells []table.Cell) []table.Cell {
	for i := range cells {
		if t := cells[i].Text; len(t) > 1 && t[0] == '\'' && active(t) {
			cells[i].Text = t[1:] // made inert when it was written
		}
	}
	width := x.b.Width()
	switch {
	case len(cells) < width && (len(cells) > 1 || strings.TrimSpace(cells[0].Text) != ""):
		x.short.add(row)
	case len(cells) > width && x.b.TextLast() && !x.b.HeadedAgain(cells):
		if joined, ok := x.s.rest(line, width); ok {
			if x.s.delim == ',' && x.b.CutNumber(cells) {
				x.b.Fault(width, fmt.Sprintf("the row has %d fields and the heading %d, and a comma may have cut a number in two; put the text that holds commas in quotes, or use another delimiter than the decimal comma", len(cells), width))
			}
			cells[width-1].Text = joined
			return cells[:width]
		}
	}
	return cells
}

// notes tells what was counted on the way.
func (x *decoder) notes() {
	if x.comments.n > 0 {
		x.d.Note(x.at, "", "lines that begin with # are comments and not read: %s", x.comments.String())
	}
	if x.short.n > 0 {
		x.d.Note(x.at, "", "rows with fewer fields than the heading are blank in the others: %s", x.short.String())
	}
}
