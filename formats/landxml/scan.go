package landxml

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/orisano/gosax"

	"sightrail/formats"
)

// scanner is the XML layer over gosax: it keeps the element stack and the
// place, and refuses what gosax lets pass: a file that ends too early, tags
// that do not match, broken attributes, a second root, a document type, text
// that is not in its encoding, elements too deep.
type scanner struct {
	r         *gosax.Reader
	feed      *feed
	converted bool // from another encoding: damage shows as U+FFFD
	parser    attrParser
	attrs     attrs             // of the current start tag
	off       int64             // bytes of all events so far
	line, col int               // of the next event: line from 1, bytes before it on the line
	row, at   int               // place of the current event, both from 1
	stack     []string          // open elements, with their prefixes
	names     map[string]string // element names seen
	last      string            // the last element begun
	empty     bool              // the current start tag closes itself
	root      bool              // a root element was seen
}

// errXML is a fault of the XML itself, with its place already known.
type errXML struct {
	row, col int
	text     string
}

func (e *errXML) Error() string { return e.text }

func newScanner(r io.Reader, converted bool) *scanner {
	f := newFeed(r)
	return &scanner{r: gosax.NewReaderSize(f, 1<<16), feed: f, converted: converted, line: 1, names: map[string]string{}}
}

func (s *scanner) fault(format string, args ...any) error {
	return &errXML{s.row, s.at, fmt.Sprintf(format, args...)}
}

// next returns the next start, end, text or CDATA event with what is in it; the
// attributes of a start tag are in s.attrs. All is valid until the next call.
// At the end it returns EventEOF.
func (s *scanner) next() (kind uint8, name string, text []byte, err error) {
	for {
		e, err := s.r.Event()
		s.row, s.at = s.line, s.col+1
		if err != nil {
			return 0, "", nil, s.readFault(err)
		}
		kind := e.Type()
		if kind == gosax.EventEOF {
			return kind, "", nil, s.atEnd()
		}
		s.pass(e.Bytes)
		switch kind {
		case gosax.EventStart:
			name, err := s.startTag(e.Bytes)
			return kind, name, nil, err
		case gosax.EventEnd:
			name, err := s.endTag(e.Bytes)
			return kind, name, nil, err
		case gosax.EventText:
			if len(s.stack) == 0 && len(trim(e.Bytes)) > 0 {
				return 0, "", nil, s.fault("text stands outside the root element: %s", shorten(trim(e.Bytes)))
			}
			return kind, "", e.Bytes, s.encoded(e.Bytes)
		case gosax.EventCData:
			if len(s.stack) == 0 || !bytes.HasPrefix(e.Bytes, []byte("<![CDATA[")) {
				return 0, "", nil, s.fault("<![ begins no CDATA section that may stand here")
			}
			return kind, "", e.Bytes[len("<![CDATA[") : len(e.Bytes)-len("]]>")], s.encoded(e.Bytes)
		case gosax.EventDocType:
			return 0, "", nil, s.fault("a document type declaration; it can define anything, and LandXML has none: remove the <!DOCTYPE ...>")
		}
	}
}

// pass moves the place behind b.
func (s *scanner) pass(b []byte) {
	s.off += int64(len(b))
	if i := bytes.LastIndexByte(b, '\n'); i >= 0 {
		s.line += bytes.Count(b[:i], newline) + 1
		s.col = len(b) - i - 1
	} else {
		s.col += len(b)
	}
}

var newline = []byte{'\n'}

// atHand reports whether the feed stands exactly behind the last event.
func (s *scanner) atHand() bool { return s.off == s.feed.out }

func (s *scanner) readFault(err error) error {
	switch {
	case errors.Is(s.feed.err, errTooLarge):
		return s.fault("the file is larger than %d GiB, the most that is read", s.feed.limit>>30)
	case s.feed.err != nil && s.feed.err != io.EOF:
		return s.feed.err
	case errors.Is(err, io.EOF):
		return s.fault("the file ends inside a tag or comment; it is cut off")
	}
	return s.fault("this is not XML: <! begins neither a comment nor a CDATA section")
}

func (s *scanner) atEnd() error {
	switch {
	case s.feed.err != io.EOF && s.feed.err != nil:
		return s.readFault(s.feed.err)
	case len(s.stack) > 0:
		return s.fault("the file ends inside <%s>; it is cut off", s.stack[len(s.stack)-1])
	case !s.root:
		return s.fault("there is no element in the file")
	}
	return nil
}

func (s *scanner) startTag(tag []byte) (string, error) {
	if err := s.encoded(tag); err != nil {
		return "", err
	}
	body := tag[1 : len(tag)-1]
	s.empty = len(body) > 0 && body[len(body)-1] == '/'
	if s.empty {
		body = body[:len(body)-1]
	}
	i := 0
	for i < len(body) && class[body[i]]&inName != 0 {
		i++
	}
	if i == 0 || i < len(body) && class[body[i]]&inBlank == 0 {
		return "", s.fault("%s is no tag", shorten(tag))
	}
	name := s.last
	if name != string(body[:i]) {
		name = s.intern(body[:i])
		s.last = name
	}
	if len(s.stack) == 0 && s.root {
		return "", s.fault("a second root element <%s>; two files may have been put together", name)
	}
	s.root = true
	var err error
	if s.attrs, err = s.parser.parse(body[i:]); err != nil {
		return "", s.fault("<%s>: %v", name, err)
	}
	if !s.empty {
		if len(s.stack) == formats.MaxDepth {
			return "", s.fault("elements are nested more than %d deep", formats.MaxDepth)
		}
		s.stack = append(s.stack, name)
	}
	return name, nil
}

func (s *scanner) endTag(tag []byte) (string, error) {
	full := trim(tag[len("</") : len(tag)-1])
	if len(s.stack) == 0 {
		return "", s.fault("</%s> closes no element; the tags do not match", full)
	}
	open := s.stack[len(s.stack)-1]
	if string(full) != open {
		return "", s.fault("</%s> closes <%s>; the tags do not match", full, open)
	}
	s.stack = s.stack[:len(s.stack)-1]
	return open, nil
}

// encoded refuses text that is not in the encoding the file says, at the place
// of the byte.
func (s *scanner) encoded(b []byte) error {
	if s.converted {
		if i := bytes.Index(b, []byte(string(utf8.RuneError))); i >= 0 {
			s.within(b[:i])
			return s.fault("there are bytes that are no character of the encoding of the file; save it again as UTF-8")
		}
		return nil
	}
	if utf8.Valid(b) {
		return nil
	}
	i := 0
	for i < len(b) {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			break
		}
		i += n
	}
	s.within(b[:i])
	return s.fault("the byte 0x%X is not UTF-8, and the file names no other encoding; name the right one in its first line (encoding=\"windows-1252\", say) or save it again as UTF-8", b[i])
}

// within moves the place of the current event behind what of it was read.
func (s *scanner) within(b []byte) {
	if i := bytes.LastIndexByte(b, '\n'); i >= 0 {
		s.row += bytes.Count(b, newline)
		s.at = len(b) - i
	} else {
		s.at += len(b)
	}
}

func (s *scanner) intern(b []byte) string {
	if n, ok := s.names[string(b)]; ok {
		return n
	}
	n := string(b)
	s.names[n] = n
	return n
}

// local splits a name into prefix and local name.
func local(name string) (prefix, rest string) {
	if i := strings.IndexByte(name, ':'); i >= 0 {
		return name[:i], name[i+1:]
	}
	return "", name
}

func blank(c byte) bool { return class[c]&inBlank != 0 }

func trim(b []byte) []byte {
	for len(b) > 0 && blank(b[0]) {
		b = b[1:]
	}
	for len(b) > 0 && blank(b[len(b)-1]) {
		b = b[:len(b)-1]
	}
	return b
}
