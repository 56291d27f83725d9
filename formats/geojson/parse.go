package geojson

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"

	"sightrail/formats"
)

// fault is something that is not JSON, or not the JSON that is wanted here.
type fault struct {
	row, col int
	text     string
}

func (f *fault) Error() string { return f.text }

// parser reads JSON as a stream, strictly: no NaN, no comments, no trailing
// commas, no duplicate keys in one object, UTF-8 only.
type parser struct {
	r        *bufio.Reader
	row, col int // of the next byte
	depth    int
	buf      []byte
}

func (p *parser) fault(format string, args ...any) error {
	return &fault{p.row, p.col, fmt.Sprintf(format, args...)}
}

func (p *parser) peek() (byte, error) {
	b, err := p.r.Peek(1)
	if err != nil {
		if errors.Is(err, io.EOF) {
			return 0, io.EOF
		}
		return 0, err
	}
	return b[0], nil
}

func (p *parser) next() (byte, error) {
	c, err := p.r.ReadByte()
	if err != nil {
		return 0, err
	}
	if c == '\n' {
		p.row, p.col = p.row+1, 1
	} else {
		p.col++
	}
	return c, nil
}

// space skips white space and returns the byte that follows.
func (p *parser) space() (byte, error) {
	for {
		c, err := p.peek()
		if err != nil {
			if errors.Is(err, io.EOF) {
				return 0, p.fault("the file ends too early; it is cut off")
			}
			return 0, err
		}
		switch c {
		case ' ', '\t', '\r', '\n':
			if _, err := p.next(); err != nil {
				return 0, err
			}
		default:
			return c, nil
		}
	}
}

func (p *parser) expect(want byte) error {
	c, err := p.space()
	if err != nil {
		return err
	}
	if c != want {
		return p.fault("%q stands where %q is wanted", string(rune(c)), string(rune(want)))
	}
	_, err = p.next()
	return err
}

// object reads an object and calls member for every key, which must read the
// value.
func (p *parser) object(member func(key string) error) error {
	var few [8]string
	seen := few[:0]
	return p.list('{', '}', func() error {
		row, col := p.row, p.col
		key, err := p.str()
		if err != nil {
			return err
		}
		if slices.Contains(seen, key) {
			return &fault{row, col, fmt.Sprintf("the key %q stands twice in one object", key)}
		}
		seen = append(seen, key)
		if err := p.expect(':'); err != nil {
			return err
		}
		return member(key)
	})
}

// array reads an array and calls item for every value, which it must read.
func (p *parser) array(item func() error) error { return p.list('[', ']', item) }

// list reads what stands between two brackets, with commas between.
func (p *parser) list(open, end byte, item func() error) error {
	if err := p.expect(open); err != nil {
		return err
	}
	if p.depth++; p.depth > formats.MaxDepth {
		return p.fault("values are nested more than %d deep", formats.MaxDepth)
	}
	defer func() { p.depth-- }()
	c, err := p.space()
	if err != nil {
		return err
	}
	if c == end {
		_, err := p.next()
		return err
	}
	for {
		if err := item(); err != nil {
			return err
		}
		if c, err = p.space(); err != nil {
			return err
		}
		if c != ',' {
			return p.expect(end)
		}
		if _, err := p.next(); err != nil {
			return err
		}
		if _, err := p.space(); err != nil {
			return err
		}
	}
}

// str reads a string.
func (p *parser) str() (string, error) {
	if err := p.expect('"'); err != nil {
		return "", err
	}
	p.buf = p.buf[:0]
	for {
		c, err := p.next()
		if err != nil {
			if errors.Is(err, io.EOF) {
				return "", p.fault("the file ends inside a text; it is cut off")
			}
			return "", err
		}
		switch {
		case c == '"':
			if !utf8.Valid(p.buf) {
				return "", p.fault("a text is not UTF-8; GeoJSON is always UTF-8: save the file again")
			}
			return string(p.buf), nil
		case c == '\\':
			if err := p.escape(); err != nil {
				return "", err
			}
		case c < ' ':
			return "", p.fault("a control character stands in a text; write it as an escape")
		default:
			if len(p.buf) > formats.MaxLineBytes {
				return "", p.fault("a text is longer than %d bytes", formats.MaxLineBytes)
			}
			p.buf = append(p.buf, c)
		}
	}
}

func (p *parser) escape() error {
	c, err := p.next()
	if err != nil {
		return p.fault("the file ends inside a text; it is cut off")
	}
	switch c {
	case '"', '\\', '/':
		p.buf = append(p.buf, c)
	case 'b':
		p.buf = append(p.buf, '\b')
	case 'f':
		p.buf = append(p.buf, '\f')
	case 'n':
		p.buf = append(p.buf, '\n')
	case 'r':
		p.buf = append(p.buf, '\r')
	case 't':
		p.buf = append(p.buf, '\t')
	case 'u':
		r, err := p.hex()
		if err != nil {
			return err
		}
		if utf16.IsSurrogate(r) {
			if b, err := p.r.Peek(2); err != nil || b[0] != '\\' || b[1] != 'u' {
				return p.fault("half of a character stands in a text (\\u%04x without its other half)", r)
			}
			p.next()
			p.next()
			low, err := p.hex()
			if err != nil {
				return err
			}
			if r = utf16.DecodeRune(r, low); r == utf8.RuneError {
				return p.fault("two halves of characters stand in a text that do not fit together")
			}
		}
		p.buf = utf8.AppendRune(p.buf, r)
	default:
		return p.fault("\\%c is no escape of JSON", c)
	}
	return nil
}

func (p *parser) hex() (rune, error) {
	var b [4]byte
	for i := range b {
		c, err := p.next()
		if err != nil {
			return 0, p.fault("the file ends inside a text; it is cut off")
		}
		b[i] = c
	}
	v, err := strconv.ParseUint(string(b[:]), 16, 16)
	if err != nil {
		return 0, p.fault("\\u%s is no escape of JSON", b[:])
	}
	return rune(v), nil
}

// literal reads a number, true, false or null as its text.
func (p *parser) literal() (string, error) {
	if _, err := p.space(); err != nil {
		return "", err
	}
	p.buf = p.buf[:0]
	row, col := p.row, p.col
	var c byte
	for {
		var err error
		c, err = p.peek()
		if err != nil && !errors.Is(err, io.EOF) {
			return "", err
		}
		if err != nil || !(c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '+' || c == '-' || c == '.') || len(p.buf) > 400 {
			break
		}
		p.buf = append(p.buf, c)
		if _, err := p.next(); err != nil {
			return "", err
		}
	}
	t := string(p.buf)
	if t == "true" || t == "false" || t == "null" || jsonNumber(t) {
		return t, nil
	}
	if t == "" {
		t = string(rune(c))
	}
	return "", &fault{row, col, fmt.Sprintf("%q is no value of JSON", t)}
}

// jsonNumber reports whether a text is a number by the grammar of JSON.
func jsonNumber(s string) bool {
	digits := func() bool {
		n := 0
		for n < len(s) && s[n] >= '0' && s[n] <= '9' {
			n++
		}
		s = s[n:]
		return n > 0
	}
	if len(s) > 0 && s[0] == '-' {
		s = s[1:]
	}
	if len(s) > 1 && s[0] == '0' && s[1] >= '0' && s[1] <= '9' {
		return false
	}
	if !digits() {
		return false
	}
	if len(s) > 0 && s[0] == '.' {
		if s = s[1:]; !digits() {
			return false
		}
	}
	if len(s) > 0 && (s[0] == 'e' || s[0] == 'E') {
		s = s[1:]
		if len(s) > 0 && (s[0] == '+' || s[0] == '-') {
			s = s[1:]
		}
		if !digits() {
			return false
		}
	}
	return s == ""
}

// skip reads a value and forgets it.
func (p *parser) skip() error {
	c, err := p.space()
	if err != nil {
		return err
	}
	switch c {
	case '{':
		return p.object(func(string) error { return p.skip() })
	case '[':
		return p.array(p.skip)
	case '"':
		_, err := p.str()
		return err
	}
	_, err = p.literal()
	return err
}

// plain reads a value as text: strings without quotes, numbers and literals as
// written; kind is '"' for a string, 'n' for null, '{' for what is not plain.
func (p *parser) plain() (text string, kind byte, err error) {
	c, err := p.space()
	if err != nil {
		return "", 0, err
	}
	switch c {
	case '"':
		text, err = p.str()
		return text, '"', err
	case '{', '[':
		return "", '{', p.skip()
	}
	text, err = p.literal()
	if text == "null" {
		return "", 'n', err
	}
	return text, '0', err
}
