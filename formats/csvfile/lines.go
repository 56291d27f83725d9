package csvfile

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"sightrail/formats"
	"sightrail/formats/table"
)

// utf8Text finds the encoding and returns the text as UTF-8.
func utf8Text(r io.Reader, declared string, d *formats.Document, at formats.Pos) (io.Reader, error) {
	br := bufio.NewReaderSize(r, 1<<18)
	head, err := br.Peek(1 << 16)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull) {
		return nil, err
	}
	utf16 := func(e unicode.Endianness) io.Reader {
		d.About = append(d.About, formats.Property{Name: "encoding", Value: "utf-16"})
		return unicode.UTF16(e, unicode.UseBOM).NewDecoder().Reader(br)
	}
	switch {
	case bytes.HasPrefix(head, []byte{0xEF, 0xBB, 0xBF}):
		_, err := br.Discard(3)
		return br, err
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}), bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return utf16(unicode.LittleEndian), nil
	case declared == "utf-16" || len(head) > 3 && head[1] == 0 && head[3] == 0:
		return utf16(unicode.LittleEndian), nil
	case len(head) > 3 && head[0] == 0 && head[2] == 0:
		return utf16(unicode.BigEndian), nil
	case declared == "windows-1252":
		return charmap.Windows1252.NewDecoder().Reader(br), nil
	case declared == "" && !validStart(head):
		d.Note(at, "encoding", "the text is not UTF-8 and is read as Windows-1252; declare \"encoding: windows-1252\" to confirm")
		return charmap.Windows1252.NewDecoder().Reader(br), nil
	}
	return br, nil
}

// validStart reports whether the head is UTF-8 but for a rune cut at its end.
func validStart(head []byte) bool {
	for range utf8.UTFMax {
		if utf8.Valid(head) {
			return true
		}
		if len(head) == 0 || head[len(head)-1] < 0x80 {
			return false
		}
		head = head[:len(head)-1]
	}
	return utf8.Valid(head)
}

// lines cuts a text into lines. A block is turned into one string, and lines
// are parts of it, so that a line costs no allocation.
type lines struct {
	r     io.Reader
	buf   []byte
	block string
	rest  []byte // an unfinished line at the end of the block
	row   int
	eof   bool
	bad   int // first line that is not UTF-8
}

func newLines(r io.Reader) *lines { return &lines{r: r, buf: make([]byte, 1<<18)} }

// sample returns the first lines without consuming them.
func (l *lines) sample() ([]string, error) {
	if err := l.fill(); err != nil {
		return nil, err
	}
	var out []string
	for rest := l.block; rest != "" && len(out) < 200; {
		var line string
		line, rest = cut(rest)
		out = append(out, line)
	}
	return out, nil
}

// fill reads the next block, up to the last end of line in it.
func (l *lines) fill() error {
	for l.block == "" && !l.eof {
		n, err := io.ReadFull(l.r, l.buf)
		chunk := append(l.rest, l.buf[:n]...)
		switch {
		case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
			l.eof = true
			chunk = bytes.TrimSuffix(chunk, []byte{0x1A}) // Ctrl-Z
		case err != nil:
			return err
		}
		end := len(chunk)
		if !l.eof {
			// a carriage return at the very end may be half of CRLF
			end = max(bytes.LastIndexByte(chunk, '\n'), bytes.LastIndexByte(chunk[:max(len(chunk)-1, 0)], '\r')) + 1
			if end == 0 && len(chunk) > formats.MaxLineBytes {
				return &tooLong{l.row + 1}
			}
		}
		l.block = string(chunk[:end])
		l.rest = append([]byte(nil), chunk[end:]...)
		if l.bad == 0 && !utf8.ValidString(l.block) {
			for rest, row := l.block, l.row+1; rest != ""; row++ {
				var line string
				if line, rest = cut(rest); !utf8.ValidString(line) {
					l.bad = row
					break
				}
			}
		}
	}
	return nil
}

type tooLong struct{ row int }

func (e *tooLong) Error() string {
	return "a line is longer than 1 MiB; this is not a table of lines"
}

// next returns the next line, without its end, and its number from 1.
func (l *lines) next() (line string, row int, ok bool, err error) {
	if l.block == "" {
		if err := l.fill(); err != nil {
			return "", 0, false, err
		}
		if l.block == "" {
			return "", 0, false, nil
		}
	}
	line, l.block = cut(l.block)
	l.row++
	return line, l.row, true, nil
}

// cut splits off the first line at LF, CRLF or a lone CR.
func cut(s string) (line, rest string) {
	i := strings.IndexByte(s, '\n')
	line = s
	if i >= 0 {
		line, rest = s[:i], s[i+1:]
	}
	if j := strings.IndexByte(line, '\r'); j >= 0 {
		if j == len(line)-1 && i >= 0 {
			return line[:j], rest
		}
		return s[:j], s[j+1:]
	}
	return line, rest
}

// splitter cuts a line into cells, which it reuses.
type splitter struct {
	delim byte
	cells []table.Cell
}

// open reports whether a quote that begins a field is not closed in the line.
func (s *splitter) open(line string) bool {
	if strings.IndexByte(line, '"') < 0 {
		return false
	}
	inside, start := false, true
	for i := 0; i < len(line); i++ {
		c := line[i]
		switch {
		case inside && c == '"':
			if i+1 < len(line) && line[i+1] == '"' {
				i++
			} else {
				inside = false
			}
		case inside:
		case c == '"' && start:
			inside, start = true, false
		case c == s.delim:
			start = true
		case c != ' ':
			start = false
		}
	}
	return inside
}

func (s *splitter) split(line string) []table.Cell {
	s.cells = s.cells[:0]
	if s.delim == ' ' {
		for _, f := range strings.Fields(line) {
			s.cells = append(s.cells, table.Cell{Text: f})
		}
		return s.cells
	}
	for {
		t := line
		if len(t) > 0 && (t[0] == '"' || t[0] == ' ' && strings.HasPrefix(strings.TrimLeft(t, " "), "\"")) {
			field, rest, more := quoted(strings.TrimLeft(t, " "), s.delim)
			s.cells = append(s.cells, table.Cell{Text: field})
			if !more {
				return s.cells
			}
			line = rest
			continue
		}
		i := strings.IndexByte(t, s.delim)
		if i < 0 {
			s.cells = append(s.cells, table.Cell{Text: t})
			return s.cells
		}
		s.cells = append(s.cells, table.Cell{Text: t[:i]})
		line = t[i+1:]
	}
}

// quoted reads a field in quotes; what stands between the closing quote and
// the delimiter is kept.
func quoted(t string, delim byte) (field, rest string, more bool) {
	i := 1
	for i < len(t) {
		j := strings.IndexByte(t[i:], '"')
		if j < 0 {
			return strings.ReplaceAll(t[1:], `""`, `"`), "", false
		}
		i += j
		if i+1 < len(t) && t[i+1] == '"' {
			i += 2
			continue
		}
		break
	}
	field = strings.ReplaceAll(t[1:min(i, len(t))], `""`, `"`)
	after := t[min(i+1, len(t)):]
	k := strings.IndexByte(after, delim)
	if k < 0 {
		return field + strings.TrimSpace(after), "", false
	}
	return field + strings.TrimSpace(after[:k]), after[k+1:], true
}

// rest joins what follows the last heading: unquoted text that holds the
// delimiter.
func (s *splitter) rest(line string, cells []table.Cell, width int) []table.Cell {
	if strings.IndexByte(line, '"') >= 0 || s.delim == ' ' {
		parts := make([]string, 0, len(cells)-width+1)
		for _, c := range cells[width-1:] {
			parts = append(parts, c.Text)
		}
		cells[width-1].Text = strings.Join(parts, string(rune(s.delim)))
		return cells[:width]
	}
	at := 0
	for range width - 1 {
		at += strings.IndexByte(line[at:], s.delim) + 1
	}
	cells[width-1].Text = strings.TrimRight(line[at:], string(rune(s.delim))+" ")
	return cells[:width]
}
