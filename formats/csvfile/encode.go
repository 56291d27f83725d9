package csvfile

import (
	"bufio"
	"errors"
	"io"
	"strings"

	"sightrail/formats"
	"sightrail/formats/table"
	"sightrail/formats/unit"
)

// Encode writes one level book, or points, as comma-separated text in UTF-8
// with line feeds and headings that name the unit. A field is put in quotes
// where it holds a comma, a quote, a line break, spaces at an end, or begins
// with #.
//
// A text that a spreadsheet would take for a formula (it begins with = + - or @
// and is no plain number) gets an apostrophe in front, which makes it inert;
// Decode takes that one apostrophe off again, so that reading what was written
// gives back the same text. Names such as -3 are left alone.
func Encode(w io.Writer, d *formats.Document, opt formats.EncodeOptions) error {
	grids, err := table.Grids(d, opt)
	if err != nil {
		return err
	}
	if len(grids) > 1 {
		return errors.New("a CSV file holds one level book or one list of points; write a workbook, or one file each")
	}
	g := &grids[0]
	out := bufio.NewWriterSize(w, 1<<16)
	var line []byte
	for _, row := range g.Rows {
		line = line[:0]
		for i, cell := range row {
			if i > 0 {
				line = append(line, ',')
			}
			if !g.Number[i] && active(cell) {
				cell = "'" + cell
			}
			line = appendField(line, cell)
		}
		if _, err := out.Write(append(line, '\n')); err != nil {
			return err
		}
	}
	return out.Flush()
}

func appendField(b []byte, s string) []byte {
	if s == "" || !strings.ContainsAny(s, "\",\n\r") && s[0] != '#' && s[0] != ' ' && s[len(s)-1] != ' ' && s[0] != '\t' && s[len(s)-1] != '\t' {
		return append(b, s...)
	}
	b = append(b, '"')
	b = append(b, strings.ReplaceAll(s, `"`, `""`)...)
	return append(b, '"')
}

// active reports whether a spreadsheet may take a text for a formula, any
// apostrophes and blanks in front of it left aside.
func active(s string) bool {
	t := strings.TrimLeft(s, "' \t\r\n")
	if t == "" || strings.IndexByte("=+-@", t[0]) < 0 {
		return false
	}
	_, _, err := unit.ParseDecimal(t)
	return err != nil
}
