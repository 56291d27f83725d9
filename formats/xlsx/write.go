package xlsx

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"sightrail/formats"
	"sightrail/formats/table"
)

// Encode writes level books and points, a sheet each, with the headings that
// delimited text has. Decimals are written as numbers; where a number would
// not come back the same (more than 15 digits, trailing zeros that say
// something), it is written as text.
func Encode(w io.Writer, d *formats.Document, opt formats.EncodeOptions) error {
	f := excelize.NewFile()
	defer f.Close()
	grids, err := table.Grids(d, opt)
	if err != nil {
		return err
	}
	for i, g := range grids {
		name := SheetName(g.Name, i)
		if i == 0 {
			err = f.SetSheetName("Sheet1", name)
		} else {
			_, err = f.NewSheet(name)
		}
		if err != nil {
			return err
		}
		s, err := f.NewStreamWriter(name)
		if err != nil {
			return err
		}
		line := make([]any, 0, 16)
		for k, row := range g.Rows {
			line = line[:0]
			for c, cell := range row {
				line = append(line, typed(cell, k > 0 && g.Number[c]))
			}
			if err := s.SetRow(fmt.Sprintf("A%d", k+1), line); err != nil {
				return err
			}
		}
		if err := s.Flush(); err != nil {
			return err
		}
	}
	return Deterministic(w, f)
}

// typed makes a cell of a text: a number where it comes back as the same text.
func typed(text string, isNumber bool) any {
	if text == "" {
		return nil
	}
	if isNumber && shortest(text) == text {
		var f float64
		if _, err := fmt.Sscan(text, &f); err == nil {
			return f
		}
	}
	return text
}

// SheetName makes a name that a workbook accepts.
func SheetName(name string, i int) string {
	name = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`[]:*?/\`, r) || r < ' ' {
			return '_'
		}
		return r
	}, name)
	r := []rune(name)
	if len(r) > 28 {
		r = r[:28]
	}
	if name = strings.Trim(string(r), "' "); name == "" {
		name = fmt.Sprintf("Sheet %d", i+1)
	}
	return name
}

// Deterministic writes a workbook so that the same content gives the same
// bytes: parts in the order of their names, with one fixed time.
func Deterministic(w io.Writer, f *excelize.File) error {
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		return err
	}
	in, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		return err
	}
	files := slices.Clone(in.File)
	slices.SortFunc(files, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	out := zip.NewWriter(w)
	for _, x := range files {
		dst, err := out.CreateHeader(&zip.FileHeader{Name: x.Name, Method: zip.Deflate, Modified: time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return err
		}
		src, err := x.Open()
		if err != nil {
			return err
		}
		if x.Name == "[Content_Types].xml" {
			text, err := io.ReadAll(src)
			if err != nil {
				return err
			}
			if _, err := dst.Write(sortTypes(text)); err != nil {
				return err
			}
		} else if _, err := io.Copy(dst, src); err != nil {
			return err
		}
		src.Close()
	}
	return out.Close()
}

// sortTypes puts the entries of the content types, whose order is random, into
// the order of their texts.
func sortTypes(text []byte) []byte {
	i, j := bytes.IndexByte(text, '<'), bytes.LastIndex(text, []byte("</Types>"))
	if k := bytes.Index(text, []byte("<Types")); k >= 0 {
		i = k + bytes.IndexByte(text[k:], '>') + 1
	}
	if i < 0 || j < i {
		return text
	}
	entries := bytes.SplitAfter(bytes.TrimSpace(text[i:j]), []byte("</Override>"))
	entries = bytes.SplitAfter(bytes.Join(entries, nil), []byte(">"))
	var whole [][]byte
	for _, e := range entries {
		if bytes.HasPrefix(e, []byte("</")) && len(whole) > 0 {
			whole[len(whole)-1] = append(whole[len(whole)-1], e...)
			continue
		}
		if len(e) > 0 {
			whole = append(whole, bytes.Clone(e))
		}
	}
	slices.SortFunc(whole, bytes.Compare)
	return slices.Concat(text[:i], bytes.Join(whole, nil), text[j:])
}
