package csvfile

import (
	"strings"

	"sightrail/formats/table"
)

// splitter cuts a line into cells, which it reuses. A space as delimiter stands
// for any run of spaces and tabs.
type splitter struct {
	delim byte
	cells []table.Cell
}

// quoteFault is the first field whose quotes are wrong: not closed in the line,
// or followed by text. A col of 0 means none.
type quoteFault struct {
	col  int
	open bool
}

// split cuts a line; quotes around a field are taken off.
func (s *splitter) split(line string) ([]table.Cell, quoteFault) {
	if strings.IndexByte(line, '"') < 0 {
		return s.literal(line), quoteFault{}
	}
	s.cells = s.cells[:0]
	var bad quoteFault
	for more := true; more; {
		var f field
		f, line, more = s.field(line)
		if s.delim == ' ' && !more && f.text == "" && !f.quoted {
			break
		}
		s.cells = append(s.cells, table.Cell{Text: f.text})
		if (f.open || f.after) && bad.col == 0 {
			bad = quoteFault{len(s.cells), f.open}
		}
	}
	return s.cells, bad
}

// literal cuts a line and leaves quotes as they are.
func (s *splitter) literal(line string) []table.Cell {
	s.cells = s.cells[:0]
	if s.delim == ' ' {
		for _, f := range strings.Fields(line) {
			s.cells = append(s.cells, table.Cell{Text: f})
		}
		return s.cells
	}
	for {
		i := strings.IndexByte(line, s.delim)
		if i < 0 {
			s.cells = append(s.cells, table.Cell{Text: line})
			return s.cells
		}
		s.cells = append(s.cells, table.Cell{Text: line[:i]})
		line = line[i+1:]
	}
}

// field is one field of a line.
type field struct {
	text   string
	quoted bool
	open   bool // its quote is not closed
	after  bool // text follows its closing quote
}

// field cuts off the first field; more says that a delimiter followed it.
func (s *splitter) field(line string) (f field, rest string, more bool) {
	t := line
	if s.delim == ' ' {
		t = strings.TrimLeft(t, " \t")
	}
	if q := strings.TrimLeft(t, " "); strings.HasPrefix(q, "\"") {
		return s.quoted(q)
	}
	i := s.end(t)
	if i < 0 {
		return field{text: t}, "", false
	}
	return field{text: t[:i]}, t[i+1:], true
}

// end is the place of the next delimiter, or -1.
func (s *splitter) end(t string) int {
	if s.delim == ' ' {
		return strings.IndexAny(t, " \t")
	}
	return strings.IndexByte(t, s.delim)
}

// quoted reads a field that begins with a quote.
func (s *splitter) quoted(t string) (f field, rest string, more bool) {
	f.quoted = true
	i := 1
	for {
		j := strings.IndexByte(t[i:], '"')
		if j < 0 {
			f.open = true
			f.text = strings.ReplaceAll(t[1:], `""`, `"`)
			return f, "", false
		}
		if i += j; !strings.HasPrefix(t[i+1:], `"`) {
			break
		}
		i += 2
	}
	f.text = t[1:i]
	if strings.IndexByte(f.text, '"') >= 0 {
		f.text = strings.ReplaceAll(f.text, `""`, `"`)
	}
	after := t[i+1:]
	k := s.end(after)
	if k < 0 {
		f.after = strings.Trim(after, " \t") != ""
		return f, "", false
	}
	f.after = strings.Trim(after[:k], " \t") != ""
	return f, after[k+1:], true
}

// rest is the text of a line from field width on: free text that holds the
// delimiter. ok is false when that field stands in quotes, or when nothing
// follows it.
func (s *splitter) rest(line string, width int) (text string, ok bool) {
	for range width - 1 {
		_, line, _ = s.field(line)
	}
	if f, more, _ := s.field(line); f.quoted || strings.Trim(more, string(rune(s.delim))+" \t") == "" {
		return "", false
	}
	return strings.Trim(line, string(rune(s.delim))+" \t"), true
}

// all cuts the lines of a sample that are whole.
func (s *splitter) all(lines []string) [][]table.Cell {
	var out [][]table.Cell
	for _, line := range lines {
		if strings.HasPrefix(line, "#") {
			continue
		}
		if cells, bad := s.split(line); bad.col == 0 {
			out = append(out, append([]table.Cell(nil), cells...))
		}
	}
	return out
}
