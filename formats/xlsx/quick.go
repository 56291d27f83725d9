package xlsx

import (
	"bytes"
	"math"
	"strconv"
	"strings"

	"sightrail/formats"
	"sightrail/formats/table"
)

// quickRows takes the rows of a sheet that hold plain cells alone.
type quickRows struct {
	rows   *sheetRows
	fields []table.Field
	raws   []raw
	number []byte // numbers of the row that are written otherwise than they are stored
}

// raw is a cell as it is stored.
type raw struct {
	col   int // from 1
	kind  string
	style int
	has   bool   // it has a value
	value []byte // or the text in its place
}

func plainRows(rows *sheetRows) *plainItems {
	q := &quickRows{rows: rows}
	return &plainItems{parent: "sheetData", depth: 2, start: []byte("<sheetData>"), end: []byte("</row>"), item: q.row, done: q.done}
}

// done hands over the row that was read.
func (q *quickRows) done() error {
	r := q.rows
	if err := r.gap(); err != nil {
		return err
	}
	r.last = r.at
	if !r.hidden {
		if done, err := r.fields(r.at, q.fields); done || err != nil {
			return err
		}
	}
	r.cells = r.cells[:0]
	for i := range q.raws {
		c := &q.raws[i]
		t := string(c.value) // the value, or a text in its place
		r.put(c.col, r.book.cell(c.kind, c.style, false, c.has, t, t))
	}
	return r.row(r.at, r.cells, r.hidden)
}

// row reads a row of cells that have a value or none, without formulas, formats of their
// own text, entities and names of other writers. It returns its length. If there is none
// such, n is 0; whole says that this will not change with more bytes.
func (q *quickRows) row(s []byte) (n int, whole bool) {
	r := q.rows
	if len(s) < tail {
		return 0, false
	}
	if string(s[:4]) != "<row" || s[4] != ' ' && s[4] != '>' {
		return 0, true
	}
	i := bytes.IndexByte(s, '>')
	if i < 0 {
		return 0, false
	}
	at, hidden, ok := r.last+1, false, true
	if i > 4 {
		if at, hidden, ok = rowTag(s[5:i], at); !ok {
			return 0, true
		}
	}
	i++
	q.raws, q.fields, q.number = q.raws[:0], q.fields[:0], q.number[:0]
	for col := 0; ; {
		if len(s)-i < tail {
			return 0, false
		}
		if s[i] != '<' || s[i+1] != 'c' {
			if string(s[i:i+6]) != "</row>" {
				return 0, true
			}
			r.at, r.hidden, r.col = at, hidden, col
			return i + 6, true
		}
		c := raw{col: col + 1}
		var refs, end int // columns by its reference; index behind the tag
		if c.kind, c.style, refs, end = cellTag(s[i : i+tail]); end == 0 {
			return 0, true
		}
		if refs > 0 {
			c.col = refs
		}
		if c.col <= col || c.col > formats.MaxFields {
			return 0, true
		}
		col = c.col
		i += end
		if s[i-2] != '/' {
			if len(s)-i < tail {
				return 0, false
			}
			before, behind := "<v>", "</v>"
			if c.kind == "inlineStr" {
				before, behind = "<is><t>", "</t></is>"
			}
			if n := i + len(before); string(s[i:n]) == before {
				i = n
				for i < len(s) && s[i] != '<' && s[i] != '&' {
					i++
				}
				if len(s)-i < tail {
					return 0, false
				}
				c.value, c.has = s[n:i], true
				if n := i + len(behind); string(s[i:n]) == behind {
					i = n
				} else {
					return 0, true
				}
			}
			if string(s[i:i+4]) != "</c>" {
				return 0, true
			}
			i += 4
		}
		q.raws = append(q.raws, c)
		for len(q.fields) < col {
			q.fields = append(q.fields, table.Field{})
		}
		q.field(&q.fields[col-1], &c)
	}
}

// rowTag reads the attributes of a row. ok is false where its end may be another one.
func rowTag(tag []byte, next int) (at int, hidden, ok bool) {
	if n := len(tag); n > 4 && n < 14 && string(tag[:3]) == `r="` && tag[n-1] == '"' {
		v := 0
		for _, c := range tag[3 : n-1] {
			if c-'0' > 9 {
				return 0, false, false
			}
			v = v*10 + int(c-'0')
		}
		return max(v, next), false, true
	}
	if bytes.IndexByte(tag, '\'') >= 0 || bytes.Count(tag, quote)%2 != 0 || len(tag) > 0 && tag[len(tag)-1] == '/' {
		return 0, false, false
	}
	a := attrs(tag)
	if n, err := strconv.Atoi(a.get("r")); err == nil && n > next {
		next = n
	}
	return next, isTrue(a.get("hidden")), true
}

var quote = []byte{'"'}

// cellTag reads the tag of a cell with plain attributes, each once: its kind, style,
// column by its reference (or 0), and the length of the tag, which is 0 for any other.
func cellTag(s []byte) (kind string, style, refs, end int) {
	i := 2
	seen := byte(0)
	for i+4 < len(s) && s[i] == ' ' {
		if s[i+2] != '=' || s[i+3] != '"' {
			return "", 0, 0, 0
		}
		name := s[i+1]
		i += 4
		from := i
		switch {
		case name == 'r' && seen&1 == 0:
			seen |= 1
			for ; i < len(s) && s[i] >= 'A' && s[i] <= 'Z'; i++ {
				refs = refs*26 + int(s[i]-'A') + 1
			}
			if n := i - from; n == 0 || n > 3 || refs > formats.MaxFields {
				return "", 0, 0, 0
			}
			for i < len(s) && s[i]-'0' <= 9 {
				i++
			}
		case name == 's' && seen&2 == 0:
			seen |= 2
			for ; i < len(s) && s[i]-'0' <= 9; i++ {
				style = style*10 + int(s[i]-'0')
			}
			if n := i - from; n == 0 || n > 6 {
				return "", 0, 0, 0
			}
		case name == 't' && seen&4 == 0:
			seen |= 4
			for i < len(s) && s[i]|0x20 >= 'a' && s[i]|0x20 <= 'z' {
				i++
			}
			switch string(s[from:i]) {
			case "s":
				kind = "s"
			case "n":
				kind = "n"
			case "str":
				kind = "str"
			case "inlineStr":
				kind = "inlineStr"
			case "b":
				kind = "b"
			case "e":
				kind = "e"
			default:
				return "", 0, 0, 0
			}
		default:
			return "", 0, 0, 0
		}
		if i >= len(s) || s[i] != '"' {
			return "", 0, 0, 0
		}
		i++
	}
	if i < len(s) && s[i] == '/' {
		i++
	}
	if i >= len(s) || s[i] != '>' {
		return "", 0, 0, 0
	}
	return kind, style, refs, i + 1
}

// field turns a cell into a field, with the text that workbook.cell gives it.
func (q *quickRows) field(f *table.Field, c *raw) {
	w := q.rows.book
	switch c.kind {
	case "s":
		n := 0
		for _, d := range c.value {
			if d-'0' > 9 || n > math.MaxInt32/16 {
				f.Odd = true
				return
			}
			n = n*10 + int(d-'0')
		}
		if n < len(w.strings) && len(c.value) > 0 {
			f.Text = w.strings[n]
		} else {
			f.Odd = true
		}
	case "str", "inlineStr":
		f.Bytes = c.value
	case "", "n":
		switch {
		case len(c.value) == 0:
		case c.style < len(w.dates) && w.dates[c.style]:
			f.Odd = true
		case plain(c.value):
			f.Bytes = c.value
		default:
			from := len(q.number)
			q.number = append(q.number, shortest(string(c.value))...)
			f.Bytes = q.number[from:len(q.number):len(q.number)]
		}
	default:
		f.Odd = true
	}
}

// textsBytes is how much room is made for shared texts at a time.
const textsBytes = 1 << 14

// plainStrings takes shared texts of a single run without entities; begun is what the XML
// reader has of the next text.
func (w *workbook) plainStrings(begun *strings.Builder) *plainItems {
	var texts strings.Builder
	var text []byte
	return &plainItems{parent: "sst", depth: 1, end: []byte("</si>"), item: func(s []byte) (n int, whole bool) {
		const before, behind = "<si><t>", "</t></si>"
		if len(s) < tail {
			return 0, false
		}
		if string(s[:len(before)]) != before || begun.Len() > 0 {
			return 0, true
		}
		i := len(before)
		for i < len(s) && s[i] != '<' && s[i] != '&' {
			i++
		}
		if len(s)-i < len(behind) {
			return 0, false
		}
		if string(s[i:i+len(behind)]) != behind {
			return 0, true
		}
		text = s[len(before):i]
		return i + len(behind), true
	}, done: func() error {
		if texts.Cap()-texts.Len() < len(text) {
			texts.Reset()
			texts.Grow(max(textsBytes, len(text)))
		}
		from := texts.Len()
		texts.Write(text)
		w.strings = append(w.strings, texts.String()[from:])
		return nil
	}}
}
