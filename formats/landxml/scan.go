package landxml

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/orisano/gosax"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/encoding/unicode"

	"sightrail/formats"
)

// scanner is the XML layer over gosax: it keeps the element stack and the
// place, and refuses what gosax lets pass: a file that ends too early, tags
// that do not match, a document type, elements too deep.
type scanner struct {
	r     *gosax.Reader
	line  int // of the next event, from 1
	col   int // bytes before the next event on its line
	stack []string
	names map[string]string // interned element names
	row   int               // place of the current event
	at    int
	empty bool // the current start tag closes itself
	root  bool // a root element was seen
}

// errXML is a fault of the XML itself, with its place already known.
type errXML struct {
	row, col int
	text     string
}

func (e *errXML) Error() string { return e.text }

func newScanner(r io.Reader) *scanner {
	return &scanner{r: gosax.NewReaderSize(r, 1<<20), line: 1, names: map[string]string{}}
}

func (s *scanner) fault(format string, args ...any) error {
	return &errXML{s.row, s.at, fmt.Sprintf(format, args...)}
}

// next returns the next start, end or text event; raw is valid until the next
// call. At the end it returns EventEOF.
func (s *scanner) next() (kind uint8, name string, raw []byte, err error) {
	for {
		e, err := s.r.Event()
		s.row, s.at = s.line, s.col+1
		if err != nil {
			if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
				return 0, "", nil, s.fault("the file ends inside a tag or comment; it is cut off")
			}
			return 0, "", nil, s.fault("this is not XML: %v", err)
		}
		if e.Type() == gosax.EventEOF {
			if len(s.stack) > 0 {
				return 0, "", nil, s.fault("the file ends inside <%s>; it is cut off", s.stack[len(s.stack)-1])
			}
			if !s.root {
				return 0, "", nil, s.fault("there is no element in the file")
			}
			return gosax.EventEOF, "", nil, nil
		}
		if n := bytes.Count(e.Bytes, newline); n > 0 {
			s.line += n
			s.col = len(e.Bytes) - bytes.LastIndexByte(e.Bytes, '\n') - 1
		} else {
			s.col += len(e.Bytes)
		}
		switch e.Type() {
		case gosax.EventStart:
			full, rest := gosax.Name(e.Bytes)
			if len(full) == 0 || full[0] == '<' || full[0] == '/' {
				return 0, "", nil, s.fault("a tag without a name")
			}
			name = s.intern(full)
			s.root = true
			s.empty = len(e.Bytes) > 2 && e.Bytes[len(e.Bytes)-2] == '/'
			if !s.empty {
				if len(s.stack) == formats.MaxDepth {
					return 0, "", nil, s.fault("elements are nested more than %d deep", formats.MaxDepth)
				}
				s.stack = append(s.stack, name)
			}
			return gosax.EventStart, name, rest, nil
		case gosax.EventEnd:
			full, _ := gosax.Name(e.Bytes)
			name = s.intern(full)
			if len(s.stack) == 0 || s.stack[len(s.stack)-1] != name {
				open := "no element"
				if len(s.stack) > 0 {
					open = "<" + s.stack[len(s.stack)-1] + ">"
				}
				return 0, "", nil, s.fault("</%s> closes %s; the tags do not match", name, open)
			}
			s.stack = s.stack[:len(s.stack)-1]
			return gosax.EventEnd, name, nil, nil
		case gosax.EventText:
			return gosax.EventText, "", e.Bytes, nil
		case gosax.EventCData:
			return gosax.EventCData, "", e.Bytes[len("<![CDATA[") : len(e.Bytes)-len("]]>")], nil
		case gosax.EventDocType:
			return 0, "", nil, s.fault("a document type declaration; it can define anything, and LandXML has none: remove the <!DOCTYPE ...>")
		}
	}
}

var newline = []byte{'\n'}

func (s *scanner) intern(b []byte) string {
	if n, ok := s.names[string(b)]; ok {
		return n
	}
	n := string(b)
	s.names[n] = n
	return n
}

// local is an element or attribute name without its prefix.
func local(name string) (prefix, rest string) {
	if i := strings.IndexByte(name, ':'); i >= 0 {
		return name[:i], name[i+1:]
	}
	return "", name
}

// attrs is the raw text of a start tag after its name.
type attrs []byte

// get returns an attribute by local name, with entities resolved.
func (a attrs) get(name string) (string, bool) {
	for b := []byte(a); len(b) > 0; {
		x, rest, err := gosax.NextAttribute(b)
		if err != nil || len(x.Key) == 0 {
			return "", false
		}
		b = rest
		key := x.Key
		if i := bytes.IndexByte(key, ':'); i >= 0 && !bytes.HasPrefix(key, []byte("xmlns")) {
			key = key[i+1:]
		}
		if string(key) == name {
			return unquote(x.Value), true
		}
	}
	return "", false
}

func (a attrs) text(name string) string { s, _ := a.get(name); return s }

// raw returns an attribute's value without resolving entities, for numbers.
func (a attrs) raw(name string) []byte {
	for b := []byte(a); len(b) > 0; {
		x, rest, err := gosax.NextAttribute(b)
		if err != nil || len(x.Key) == 0 {
			return nil
		}
		if string(x.Key) == name && len(x.Value) >= 2 {
			return x.Value[1 : len(x.Value)-1]
		}
		b = rest
	}
	return nil
}

func unquote(v []byte) string {
	if len(v) < 2 {
		return ""
	}
	v = v[1 : len(v)-1]
	if bytes.IndexByte(v, '&') < 0 {
		return string(v)
	}
	u, err := gosax.Unescape(bytes.Clone(v))
	if err != nil {
		return string(v)
	}
	return string(u)
}

// utf8Reader finds the encoding by byte order mark or declaration and returns
// the text as UTF-8, with the name of the encoding.
func utf8Reader(r io.Reader) (io.Reader, string, error) {
	br := bufio.NewReaderSize(r, 1<<16)
	head, err := br.Peek(512)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, "", err
	}
	switch {
	case len(head) == 0:
		return br, "utf-8", nil
	case bytes.HasPrefix(head, []byte{0xEF, 0xBB, 0xBF}):
		_, err := br.Discard(3)
		return br, "utf-8", err
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}), bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder().Reader(br), "utf-16", nil
	case len(head) > 1 && head[0] == '<' && head[1] == 0:
		return unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM).NewDecoder().Reader(br), "utf-16", nil
	case len(head) > 1 && head[0] == 0 && head[1] == '<':
		return unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewDecoder().Reader(br), "utf-16", nil
	}
	name := declared(head)
	switch strings.ToLower(name) {
	case "", "utf-8", "us-ascii", "ascii":
		return br, "utf-8", nil
	case "utf-16":
		return nil, name, fmt.Errorf("the file says that it is in UTF-16, and it is not; save it again as UTF-8")
	}
	enc, err := htmlindex.Get(name)
	if err != nil {
		return nil, name, fmt.Errorf("the file says that its encoding is %q, which is not known here; save it again as UTF-8", name)
	}
	if enc == encoding.Nop {
		return br, name, nil
	}
	return enc.NewDecoder().Reader(br), strings.ToLower(name), nil
}

// declared finds the encoding of the XML declaration.
func declared(head []byte) string {
	if !bytes.HasPrefix(head, []byte("<?xml")) {
		return ""
	}
	end := bytes.Index(head, []byte("?>"))
	if end < 0 {
		return ""
	}
	v, _ := attrs(head[len("<?xml"):end]).get("encoding")
	return v
}

func valid(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, utf8.RuneError) }
