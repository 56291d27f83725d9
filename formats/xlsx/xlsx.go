// Package xlsx reads level books and points from workbooks and writes them.
//
// A number cell holds a binary float that stands for the decimal somebody
// typed; it is read as the shortest decimal of at most 15 significant digits
// that a spreadsheet shows for it: 1.3420000000000001 is 1.342. Formula cells
// are read by their stored value, and a note says so; a formula without one and
// a cell with an error are refused. Dates stay dates and are never taken as
// numbers or names. Hidden sheets are not read unless they are named; hidden
// rows are read and named. Macros never run.
package xlsx

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"sightrail/formats"
	"sightrail/formats/table"
)

// Format is the workbook format.
var Format = &formats.Format{
	Name:       "xlsx",
	Title:      "Excel workbook (.xlsx)",
	Extensions: []string{".xlsx", ".xlsm"},
	Sniff: func(_ string, head []byte) bool {
		return bytes.HasPrefix(head, []byte("PK\x03\x04")) && (bytes.Contains(head, []byte("[Content_Types].xml")) || bytes.Contains(head, []byte("xl/")) || bytes.Contains(head, []byte("_rels/.rels")) || bytes.Contains(head, []byte("docProps/")))
	},
	Decode: Decode,
	Encode: Encode,
	Holds:  []formats.Kind{formats.Books, formats.Points, formats.Attributes, formats.PointExtras, formats.LaserReadings, formats.UnitName},
}

// maxWorkbook is the largest packed workbook that is read.
const maxWorkbook = 512 << 20

// tried is how many rows of a sheet are looked at to see whether it fits.
const tried = 60

// Decode reads the named sheet, or every visible sheet whose headings fit.
func Decode(r io.Reader, name string, opt formats.Options) (*formats.Document, error) {
	return decode(r, name, opt, false)
}

// decode is Decode; strict has all read by the XML reader.
func decode(r io.Reader, name string, opt formats.Options, strict bool) (*formats.Document, error) {
	d := &formats.Document{File: name, Format: "xlsx"}
	at := formats.Pos{File: name}
	packed := bytes.NewBuffer(make([]byte, 0, min(max(opt.Bytes, 0), maxWorkbook)+bytes.MinRead)) // at once, where the size is known
	if _, err := packed.ReadFrom(io.LimitReader(r, maxWorkbook+1)); err != nil {
		return nil, err
	}
	text := packed.Bytes()
	if len(text) > maxWorkbook {
		d.Refuse(at, "", "the workbook is larger than %d MiB; save the sheet that is wanted as CSV", maxWorkbook>>20)
		return d, nil
	}
	w, err := open(text, strict)
	if err != nil {
		d.Refuse(at, "", "%v", err)
		return d, nil
	}
	var names []string
	for i := range w.sheets {
		names = append(names, fmt.Sprintf("%q", w.sheets[i].name))
	}
	if opt.Sheet != "" && !slices.ContainsFunc(w.sheets, func(s sheet) bool { return s.name == opt.Sheet }) {
		d.Refuse(at, "sheet", "the workbook has no sheet %q; it has %s", opt.Sheet, strings.Join(names, ", "))
		return d, nil
	}
	read := 0
	for i := range w.sheets {
		s := &w.sheets[i]
		part := formats.Pos{File: name, Part: s.name}
		switch {
		case opt.Sheet != "" && s.name != opt.Sheet:
			continue
		case opt.Sheet == "" && s.hidden:
			d.Note(part, "", "the sheet is hidden and is not read; name it (sheet:) to read it")
			continue
		case opt.Sheet == "":
			fits, err := w.fits(s, opt)
			if err != nil {
				d.Refuse(part, "", "%v", err)
				continue
			}
			if !fits {
				d.Note(part, "", "the sheet has no fitting headings and is not read")
				continue
			}
		}
		read++
		if err := w.sheet(s, d, part, opt); err != nil {
			var f *fault
			if !errors.As(err, &f) {
				return nil, err
			}
			d.Refuse(part, "", "%v", f)
		}
	}
	if read == 0 && len(d.Problems) == 0 {
		d.Refuse(at, "", "no sheet has fitting headings (%s); a level book needs BS and FS, a point list easting and northing; name the sheet and its columns in the job", strings.Join(names, ", "))
	}
	formats.SortProblems(d.Problems)
	return d, nil
}

// fits tries the first rows of a sheet.
func (w *workbook) fits(s *sheet, opt formats.Options) (bool, error) {
	var rows [][]table.Cell
	err := w.rows(s, func(_ int, cells []table.Cell, _ bool) error {
		rows = append(rows, slices.Clone(cells))
		if len(rows) == tried {
			return errEnough
		}
		return nil
	}, nil)
	if err != nil && !errors.Is(err, errEnough) {
		return false, err
	}
	return table.Fits(rows, opt), nil
}

var errEnough = errors.New("enough rows")

// sheet hands the rows of a sheet to a table builder.
func (w *workbook) sheet(s *sheet, d *formats.Document, at formats.Pos, opt formats.Options) error {
	b := table.New(d, at, opt)
	var hidden []string
	w.stored, w.merges = 0, nil
	err := w.rows(s, func(row int, cells []table.Cell, hide bool) error {
		if hide && b.Headed() && len(hidden) < formats.FirstShown {
			hidden = append(hidden, fmt.Sprint(row))
		}
		return b.Row(row, cells)
	}, b.Fields)
	if err != nil {
		return err
	}
	if len(hidden) > 0 {
		d.Note(at, "", "hidden rows are read as well: %s", strings.Join(hidden, ", "))
	}
	if w.stored > 0 {
		d.Note(at, "", "%d cells are formulas; their stored values are read, not worked out again", w.stored)
	}
	if len(w.merges) > 0 {
		d.Note(at, "", "merged cells hold their text in the first cell only: %s", strings.Join(w.merges[:min(len(w.merges), formats.FirstShown)], ", "))
	}
	return b.Close()
}

// fault is a workbook that cannot be read.
type fault struct{ text string }

func (f *fault) Error() string { return f.text }

func faultf(format string, args ...any) error { return &fault{fmt.Sprintf(format, args...)} }

// part opens one part of the workbook, with its limits.
func (w *workbook) part(name string) (io.ReadCloser, error) {
	for _, f := range w.zip.File {
		if f.Name != name {
			continue
		}
		if f.UncompressedSize64 > formats.MaxSheetBytes {
			return nil, faultf("%s is larger than %d MiB unpacked", name, formats.MaxSheetBytes>>20)
		}
		if f.UncompressedSize64 > 1<<20 && f.UncompressedSize64/max(f.CompressedSize64, 1) > formats.MaxZipRatio {
			return nil, faultf("%s unpacks to more than %d times its size; this is no honest workbook", name, formats.MaxZipRatio)
		}
		r, err := f.Open()
		if err != nil {
			return nil, faultf("%s cannot be unpacked: %v", name, err)
		}
		if f.UncompressedSize64 > unpackBytes {
			return unpackAhead(r), nil
		}
		return r, nil
	}
	return nil, faultf("the part %s is missing; the workbook is damaged", name)
}

func open(text []byte, strict bool) (*workbook, error) {
	z, err := zip.NewReader(bytes.NewReader(text), int64(len(text)))
	if err != nil {
		return nil, faultf("the workbook cannot be unpacked (%v); it is damaged or cut off", err)
	}
	quickly(z, text)
	w := &workbook{zip: z, strict: strict}
	if err := w.structure(); err != nil {
		return nil, err
	}
	return w, nil
}
