package xlsx

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"path"
	"strconv"
	"strings"

	"github.com/orisano/gosax"

	"sightrail/formats"
	"sightrail/formats/table"
)

// workbook is an opened workbook.
type workbook struct {
	zip     *zip.Reader
	sheets  []sheet
	strings []string
	dates   []bool // by style: shows a date
	from04  bool   // dates count from 1904
	stored  int    // formula cells read by their stored value
	merges  []string
	strict  bool // parts are read by the XML reader alone
}

type sheet struct {
	name, part string
	hidden     bool
}

// xml reads the events of a part. start gets every start tag (and says with
// true that the text of the element is wanted), end every end tag with the text
// gathered since.
func (w *workbook) xml(part string, start func(name string, a attrs) bool, end func(name, text string) error) error {
	return w.xmlWith(part, nil, start, end)
}

// xmlWith is xml with plain items taken out, where there may be some.
func (w *workbook) xmlWith(part string, items *plainItems, start func(name string, a attrs) bool, end func(name, text string) error) error {
	p, err := w.part(part)
	if err != nil {
		return err
	}
	defer p.Close()
	r := io.LimitReader(p, formats.MaxSheetBytes)
	var quick *pieces
	if items != nil && !w.strict {
		quick = newPieces(r, items)
		r = quick
	}
	taken := int64(0) // bytes of the events so far
	x := gosax.NewReaderSize(r, 1<<18)
	x.EmitSelfClosingTag = true
	var stack []string
	var text []byte
	want := false
	for {
		if quick != nil && quick.given == taken && !want && len(stack) == quick.depth && stack[quick.depth-1] == quick.parent {
			if err := quick.take(); err != nil {
				return err
			}
		}
		e, err := x.Event()
		if err != nil {
			if errors.Is(err, zip.ErrChecksum) || errors.Is(err, zip.ErrFormat) {
				return faultf("%s is damaged: %v", part, err)
			}
			return faultf("%s is no whole XML; the workbook is damaged", part)
		}
		if quick != nil && (e.Type() != gosax.EventStart || !bytes.HasSuffix(e.Bytes, selfClosing)) { // whose end has the same bytes
			taken += int64(len(e.Bytes))
		}
		switch e.Type() {
		case gosax.EventEOF:
			if len(stack) > 0 {
				return faultf("%s ends too early; the workbook is cut off", part)
			}
			return nil
		case gosax.EventStart:
			full, rest := gosax.Name(e.Bytes)
			name := localName(full)
			if len(stack) == formats.MaxDepth {
				return faultf("%s nests elements more than %d deep", part, formats.MaxDepth)
			}
			stack = append(stack, name)
			if start(name, attrs(rest)) {
				want, text = true, text[:0]
			}
		case gosax.EventEnd:
			full, _ := gosax.Name(e.Bytes)
			name := localName(full)
			if len(stack) == 0 || stack[len(stack)-1] != name {
				return faultf("%s has tags that do not match; the workbook is damaged", part)
			}
			stack = stack[:len(stack)-1]
			s := ""
			if want {
				s = string(text)
			}
			if err := end(name, s); err != nil {
				return err
			}
			want = false
		case gosax.EventText:
			if want {
				text = append(text, unescaped(e.Bytes)...)
			}
		case gosax.EventCData:
			if want {
				text = append(text, e.Bytes[len("<![CDATA["):len(e.Bytes)-len("]]>")]...)
			}
		case gosax.EventDocType:
			return faultf("%s declares a document type; this is no honest workbook", part)
		}
	}
}

var selfClosing = []byte("/>")

func localName(full []byte) string {
	switch string(full) { // of every cell: without a copy
	case "c":
		return "c"
	case "v":
		return "v"
	case "row":
		return "row"
	}
	if i := bytes.IndexByte(full, ':'); i >= 0 {
		full = full[i+1:]
	}
	return string(full)
}

// unescaped is a text with its entities resolved; as it is where they are damaged.
func unescaped(b []byte) []byte {
	if bytes.IndexByte(b, '&') < 0 {
		return b
	}
	u, err := gosax.Unescape(bytes.Clone(b))
	if err != nil {
		return b
	}
	return u
}

// attrs is the raw text of a start tag after its name.
type attrs []byte

func (a attrs) get(name string) string {
	for b := []byte(a); len(b) > 0; {
		x, rest, err := gosax.NextAttribute(b)
		if err != nil || len(x.Key) == 0 {
			return ""
		}
		b = rest
		if key := x.Key; string(key) == name || len(key) > len(name) && key[len(key)-len(name)-1] == ':' && string(key[len(key)-len(name):]) == name {
			if len(x.Value) < 2 {
				return ""
			}
			return string(unescaped(x.Value[1 : len(x.Value)-1]))
		}
	}
	return ""
}

// ofCell are the attributes r, t and s of a cell, in one go.
func (a attrs) ofCell() (ref, kind, style string) {
	for b := []byte(a); len(b) > 0; {
		x, rest, err := gosax.NextAttribute(b)
		if err != nil || len(x.Key) == 0 {
			return ref, kind, style
		}
		b = rest
		key := x.Key
		if i := bytes.LastIndexByte(key, ':'); i >= 0 {
			key = key[i+1:]
		}
		if len(key) != 1 || len(x.Value) < 2 {
			continue
		}
		value := x.Value[1 : len(x.Value)-1]
		switch {
		case key[0] == 'r' && ref == "":
			ref = string(unescaped(value))
		case key[0] == 't' && kind == "":
			if kind = "s"; string(value) != "s" {
				kind = string(unescaped(value))
			}
		case key[0] == 's' && style == "":
			style = string(unescaped(value))
		}
	}
	return ref, kind, style
}

func nothing(string, string) error { return nil }

// structure reads the list of sheets, the shared strings and the styles.
func (w *workbook) structure() error {
	targets := map[string]string{}
	book := "xl/workbook.xml"
	if err := w.xml("_rels/.rels", func(name string, a attrs) bool {
		if name == "Relationship" && strings.HasSuffix(a.get("Type"), "/officeDocument") {
			book = strings.TrimPrefix(a.get("Target"), "/")
		}
		return false
	}, nothing); err != nil {
		return err
	}
	dir := path.Dir(book)
	shared, styles := "", ""
	if err := w.xml(path.Join(dir, "_rels", path.Base(book)+".rels"), func(name string, a attrs) bool {
		if name != "Relationship" {
			return false
		}
		t := a.get("Target")
		if strings.HasPrefix(t, "/") {
			t = strings.TrimPrefix(t, "/")
		} else {
			t = path.Join(dir, t)
		}
		targets[a.get("Id")] = t
		switch kind := a.get("Type"); {
		case strings.HasSuffix(kind, "/sharedStrings"):
			shared = t
		case strings.HasSuffix(kind, "/styles"):
			styles = t
		}
		return false
	}, nothing); err != nil {
		return err
	}
	if err := w.xml(book, func(name string, a attrs) bool {
		switch name {
		case "sheet":
			if t := targets[a.get("id")]; strings.Contains(t, "worksheet") {
				w.sheets = append(w.sheets, sheet{name: a.get("name"), part: t, hidden: a.get("state") == "hidden" || a.get("state") == "veryHidden"})
			}
		case "workbookPr":
			v := a.get("date1904")
			w.from04 = isTrue(v)
		}
		return false
	}, nothing); err != nil {
		return err
	}
	if len(w.sheets) == 0 {
		return faultf("the workbook has no sheet")
	}
	if shared != "" {
		if err := w.sharedStrings(shared); err != nil {
			return err
		}
	}
	if styles != "" {
		return w.styles(styles)
	}
	return nil
}

// sharedStrings joins the runs of rich text; phonetic runs are left out.
func (w *workbook) sharedStrings(part string) error {
	var b strings.Builder
	phonetic := 0
	return w.xmlWith(part, w.plainStrings(&b), func(name string, _ attrs) bool {
		if name == "rPh" {
			phonetic++
		}
		return name == "t" && phonetic == 0
	}, func(name, text string) error {
		switch name {
		case "t":
			b.WriteString(text)
		case "rPh":
			phonetic--
		case "si":
			w.strings = append(w.strings, b.String())
			b.Reset()
		}
		return nil
	})
}

// styles finds which cell styles show dates.
func (w *workbook) styles(part string) error {
	formatsByID := map[string]string{}
	inCells := false
	return w.xml(part, func(name string, a attrs) bool {
		switch name {
		case "numFmt":
			formatsByID[a.get("numFmtId")] = a.get("formatCode")
		case "cellXfs":
			inCells = true
		case "xf":
			if inCells {
				id := a.get("numFmtId")
				w.dates = append(w.dates, dateFormat(id, formatsByID[id]))
			}
		}
		return false
	}, func(name, _ string) error {
		if name == "cellXfs" {
			inCells = false
		}
		return nil
	})
}

// sheetRows is where a sheet is read.
type sheetRows struct {
	book     *workbook
	at, last int // row, and the one before it
	col      int
	hidden   bool
	cells    []table.Cell
	row      func(n int, cells []table.Cell, hidden bool) error
	fields   func(n int, fields []table.Field) (done bool, err error)
}

// gap hands over the blank rows between the last one and this one.
func (r *sheetRows) gap() error {
	for n := r.last + 1; n < r.at; n++ {
		if r.at-r.last > 10_000 {
			break // a gap that large is no part of a table
		}
		if err := r.row(n, nil, false); err != nil {
			return err
		}
	}
	return nil
}

// put sets the cell of a column from 1.
func (r *sheetRows) put(col int, c table.Cell) {
	for len(r.cells) < col {
		r.cells = append(r.cells, table.Cell{})
	}
	r.cells[col-1] = c
}

// rows reads the rows of a sheet in order, blank rows between them included. fields,
// where it is given, is offered the plain ones first.
func (w *workbook) rows(s *sheet, row func(n int, cells []table.Cell, hidden bool) error, fields func(n int, fields []table.Field) (done bool, err error)) error {
	r := &sheetRows{book: w, row: row, fields: fields}
	var quick *plainItems
	if fields != nil {
		quick = plainRows(r)
	}
	kind, style, formula, value, inline := "", 0, false, "", ""
	hasValue := false
	return w.xmlWith(s.part, quick, func(name string, a attrs) bool {
		switch name {
		case "row":
			r.at = r.last + 1
			if n, err := strconv.Atoi(a.get("r")); err == nil && n > r.last {
				r.at = n
			}
			r.cells, r.col = r.cells[:0], 0
			r.hidden = isTrue(a.get("hidden"))
		case "c":
			r.col++
			var ref, show string
			ref, kind, show = a.ofCell()
			if n := columnOf(ref); n > 0 {
				r.col = n
			}
			formula, value, inline, hasValue = false, "", "", false
			style, _ = strconv.Atoi(show)
		case "f":
			formula = true
		case "mergeCell":
			w.merges = append(w.merges, a.get("ref"))
		case "v", "t":
			return true
		}
		return false
	}, func(name, text string) error {
		switch name {
		case "v":
			value, hasValue = text, true
		case "t":
			inline += text
		case "c":
			if r.col > formats.MaxFields {
				return faultf("the sheet has more than %d columns", formats.MaxFields)
			}
			r.put(r.col, w.cell(kind, style, formula, hasValue, value, inline))
		case "row":
			if err := r.gap(); err != nil {
				return err
			}
			r.last = r.at
			return row(r.at, r.cells, r.hidden)
		}
		return nil
	})
}

func isTrue(s string) bool { return s == "1" || s == "true" }
