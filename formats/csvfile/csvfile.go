// Package csvfile reads and writes delimited text: level books and points.
//
// Delimiter, decimal mark and encoding are found out, or taken as declared.
// A byte order mark, CRLF, lone carriage returns and a trailing Ctrl-Z are
// accepted; NUL bytes are refused. Lines that begin with # are comments. A file
// is read as a stream, whatever its size: memory does not grow with it when
// points are handed over in batches.
package csvfile

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"

	"sightrail/formats"
	"sightrail/formats/table"
	"sightrail/formats/unit"
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
	Holds:      []formats.Kind{formats.Books, formats.Points, formats.Attributes, formats.PointExtras, formats.UnitName},
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

// Decode reads a level book or points.
func Decode(r io.Reader, name string, opt formats.Options) (*formats.Document, error) {
	d := &formats.Document{File: name, Format: "csv"}
	at := formats.Pos{File: name}
	text, err := utf8Text(r, opt.Encoding, d, at)
	if err != nil {
		return nil, err
	}
	l := newLines(text)
	sample, err := l.sample()
	if err != nil {
		return nil, err
	}
	delim := opt.Delimiter
	if delim == 0 {
		delim = findDelimiter(sample, opt)
	}
	b := table.New(d, at, opt)
	if opt.Decimal == 0 && decimalComma(sample, delim) {
		b.DecimalComma(true)
		d.Note(at, "", "numbers have a decimal comma")
	}
	if delim != ',' {
		d.About = append(d.About, formats.Property{Name: "delimiter", Value: delimiterName(delim)})
	}
	s := splitter{delim: byte(delim)}
	comments := 0
	for {
		line, row, ok, err := l.next()
		if err != nil {
			return nil, err
		}
		if !ok {
			break
		}
		if strings.HasPrefix(line, "#") {
			comments++
			continue
		}
		if i := strings.IndexByte(line, 0); i >= 0 {
			d.Refuse(at.At(row, 0), "", "the line holds a NUL byte; this is not a text file, or it is in UTF-16 without a mark: declare \"encoding: utf-16\"")
			break
		}
		for s.open(line) { // a quoted line break
			more, _, ok, err := l.next()
			if err != nil {
				return nil, err
			}
			if !ok {
				d.Refuse(at.At(row, 0), "", "a quote is opened in this line and never closed")
				break
			}
			line += "\n" + more
		}
		cells := s.split(line)
		if b.Headed() && b.TextLast() && len(cells) > b.Width() {
			cells = s.rest(line, cells, b.Width())
		}
		if err := b.Row(row, cells); err != nil {
			return nil, err
		}
	}
	if comments > 0 {
		d.Note(at, "", "%d comment lines (#) are not read", comments)
	}
	if l.bad > 0 {
		d.Refuse(at.At(l.bad, 0), "", "the line holds bytes that are not UTF-8; declare the encoding of the file, such as \"encoding: windows-1252\"")
	}
	if err := b.Close(); err != nil {
		return nil, err
	}
	formats.SortProblems(d.Problems)
	formats.SortProblems(d.Notes)
	return d, nil
}

func delimiterName(r rune) string {
	return map[rune]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "pipe", ' ': "space"}[r]
}

// findDelimiter takes the delimiter under which a heading is found; else the
// one that cuts the lines most evenly.
func findDelimiter(sample []string, opt formats.Options) rune {
	best, score := ',', -1
	for _, d := range []rune{',', ';', '\t', '|'} {
		s := splitter{delim: byte(d)}
		var rows [][]table.Cell
		counts := map[int]int{}
		for _, line := range sample {
			if strings.HasPrefix(line, "#") || s.open(line) {
				continue
			}
			cells := append([]table.Cell(nil), s.split(line)...)
			rows = append(rows, cells)
			if len(cells) > 1 {
				counts[len(cells)]++
			}
		}
		n := 0
		for _, c := range counts {
			n = max(n, c)
		}
		if len(opt.Columns) == 0 && table.Fits(rows, opt) {
			n += 1000
		}
		if n > score {
			best, score = d, n
		}
	}
	return best
}

// decimalComma reports whether the numbers of the sample have decimal commas:
// some do and none has a point. With a comma as delimiter it cannot be.
func decimalComma(sample []string, delim rune) bool {
	if delim == ',' {
		return false
	}
	s := splitter{delim: byte(delim)}
	commas, points := 0, 0
	for _, line := range sample {
		for _, c := range s.split(line) {
			t := strings.TrimSpace(c.Text)
			if _, _, err := unit.ParseDecimal(t); err == nil && strings.Contains(t, ".") {
				points++
			} else if strings.Count(t, ",") == 1 {
				if _, _, err := unit.ParseDecimal(strings.Replace(t, ",", ".", 1)); err == nil {
					commas++
				}
			}
		}
	}
	return commas > 0 && points == 0
}

// Encode writes level books or points as CSV with headings that name the unit.
// Text is written as it is: a file that goes on into a spreadsheet should be
// taken from the reports, where text is made inert.
func Encode(w io.Writer, d *formats.Document, opt formats.EncodeOptions) error {
	grids, err := table.Grids(d, opt)
	if err != nil {
		return err
	}
	if len(grids) > 1 {
		return errors.New("a CSV file holds one level book or one list of points; write a workbook, or one file each")
	}
	c := csv.NewWriter(w)
	if err := c.WriteAll(grids[0].Rows); err != nil {
		return err
	}
	return c.Error()
}
