package landxml

import (
	"bytes"
	"fmt"
	"strconv"
	"unicode/utf8"
)

// attr is one attribute: its name as written and its value with references
// resolved and line breaks turned into blanks.
type attr struct{ key, value []byte }

// attrs are the attributes of the current start tag; they are valid until the
// next event.
type attrs []attr

// raw returns the value of an attribute without a prefix; nil when absent.
func (a attrs) raw(name string) []byte {
	for i := range a {
		if string(a[i].key) == name {
			return a[i].value
		}
	}
	return nil
}

func (a attrs) text(name string) string { return string(a.raw(name)) }

// attrParser parses start tags strictly; its memory is used again.
type attrParser struct {
	list    attrs
	scratch []byte
}

// classes of bytes in a tag.
const (
	inName = 1 << iota
	inBlank
	special // in a value: to be resolved, or not allowed
)

var class = func() (c [256]uint8) {
	for i := range c {
		switch {
		case i >= 'a' && i <= 'z', i >= 'A' && i <= 'Z', i >= '0' && i <= '9', i >= 0x80, i == '_', i == '-', i == '.', i == ':':
			c[i] = inName
		case i == ' ', i == '\t', i == '\r', i == '\n':
			c[i] = inBlank
		}
		if i < ' ' || i == '&' || i == '<' {
			c[i] |= special
		}
	}
	return c
}()

// parse reads the attributes of a start tag, b being what follows the name.
func (p *attrParser) parse(b []byte) (attrs, error) {
	p.list, p.scratch = p.list[:0], p.scratch[:0]
	for i := 0; ; {
		start := i
		for i < len(b) && class[b[i]]&inBlank != 0 {
			i++
		}
		if i == len(b) {
			return p.list, nil
		}
		if start == i && len(p.list) > 0 {
			return nil, fmt.Errorf("two attributes of a tag are not parted by a blank")
		}
		from := i
		for i < len(b) && class[b[i]]&inName != 0 {
			i++
		}
		key := b[from:i]
		for i < len(b) && class[b[i]]&inBlank != 0 {
			i++
		}
		if len(key) == 0 || i == len(b) || b[i] != '=' {
			return nil, fmt.Errorf("%s in a tag is no attribute with a value", shorten(b[from:]))
		}
		i++
		for i < len(b) && class[b[i]]&inBlank != 0 {
			i++
		}
		if i == len(b) || b[i] != '"' && b[i] != '\'' {
			return nil, fmt.Errorf("the value of the attribute %s is not in quotes", key)
		}
		end := bytes.IndexByte(b[i+1:], b[i])
		if end < 0 {
			return nil, fmt.Errorf("the value of the attribute %s has no closing quote", key)
		}
		value := b[i+1 : i+1+end]
		i += end + 2
		for _, o := range p.list {
			if bytes.Equal(o.key, key) {
				return nil, fmt.Errorf("the attribute %s stands twice in one tag", key)
			}
		}
		value, err := p.resolve(value)
		if err != nil {
			return nil, fmt.Errorf("the attribute %s: %w", key, err)
		}
		p.list = append(p.list, attr{key, value})
	}
}

// resolve returns an attribute value as XML reads it. Nearly every value is
// returned as it is.
func (p *attrParser) resolve(v []byte) ([]byte, error) {
	for _, c := range v {
		if class[c]&special != 0 {
			from := len(p.scratch)
			var err error
			p.scratch, err = appendText(p.scratch, v, true)
			return p.scratch[from:len(p.scratch):len(p.scratch)], err
		}
	}
	return v, nil
}

// appendText appends text with its references resolved. In an attribute, line
// breaks and tabs are blanks (XML 1.0, 3.3.3).
func appendText(to, s []byte, attribute bool) ([]byte, error) {
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '&':
			end := bytes.IndexByte(s[i:], ';')
			if end < 0 {
				return to, fmt.Errorf("an & is not followed by the name of a character; it has to be written &amp;")
			}
			r, ok := character(s[i+1 : i+end])
			if !ok {
				return to, fmt.Errorf("%s is no character that XML knows", shorten(s[i:i+end+1]))
			}
			to = utf8.AppendRune(to, r)
			i += end
		case c == '<' && attribute:
			return to, fmt.Errorf("a < stands in the value; it has to be written &lt;")
		case c == '\r' && i+1 < len(s) && s[i+1] == '\n':
		case c == '\n', c == '\t', c == '\r':
			if attribute {
				c = ' '
			}
			to = append(to, c)
		case c < ' ':
			return to, fmt.Errorf("a control character (number %d) stands in it", c)
		default:
			to = append(to, c)
		}
	}
	return to, nil
}

// character is the character of a reference, between & and ;.
func character(name []byte) (rune, bool) {
	switch string(name) {
	case "lt":
		return '<', true
	case "gt":
		return '>', true
	case "amp":
		return '&', true
	case "quot":
		return '"', true
	case "apos":
		return '\'', true
	}
	digits, base := bytes.TrimPrefix(name, []byte("#")), 10
	if len(digits) == len(name) {
		return 0, false
	}
	if len(digits) > 0 && digits[0] == 'x' {
		digits, base = digits[1:], 16
	}
	n, err := strconv.ParseUint(string(digits), base, 32)
	return rune(n), err == nil && allowed(rune(n))
}

// allowed reports whether XML 1.0 can hold a character (production 2, Char).
func allowed(r rune) bool {
	return r == '\t' || r == '\n' || r == '\r' || r >= ' ' && r <= 0xD7FF || r >= 0xE000 && r <= 0xFFFD || r >= 0x10000 && r <= 0x10FFFF
}

// shorten is a text of the file in quotes, cut to what a message can hold.
func shorten(b []byte) string {
	if len(b) > 40 {
		return strconv.Quote(string(b[:40])) + "..."
	}
	return strconv.Quote(string(b))
}
