package landxml

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/encoding/unicode"
)

// utf8Reader returns the text as UTF-8 with the name of its encoding. A byte
// order mark holds; then what the job declares; then the XML declaration. The
// error is for reading; refusal says why a file's encoding cannot be used.
func utf8Reader(r io.Reader, declared string) (text io.Reader, name, refusal string, err error) {
	br := bufio.NewReaderSize(r, 1<<16)
	head, err := br.Peek(512)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, "", "", err
	}
	utf16 := func(e unicode.Endianness, mark unicode.BOMPolicy) (io.Reader, string, string, error) {
		return unicode.UTF16(e, mark).NewDecoder().Reader(br), "utf-16", "", nil
	}
	switch {
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE, 0, 0}), bytes.HasPrefix(head, []byte{0, 0, 0xFE, 0xFF}):
		return nil, "", "the file is in UTF-32, which is not read; save it again as UTF-8", nil
	case bytes.HasPrefix(head, []byte{0xEF, 0xBB, 0xBF}):
		_, err := br.Discard(3)
		return br, "utf-8", "", err
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}), bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return utf16(unicode.LittleEndian, unicode.UseBOM)
	case len(head) > 1 && head[0] == '<' && head[1] == 0:
		return utf16(unicode.LittleEndian, unicode.IgnoreBOM)
	case len(head) > 1 && head[0] == 0 && head[1] == '<':
		return utf16(unicode.BigEndian, unicode.IgnoreBOM)
	}
	name = declared
	if name == "" {
		name = inDeclaration(head)
	}
	switch strings.ToLower(name) {
	case "", "utf-8", "us-ascii", "ascii":
		return br, "utf-8", "", nil
	case "utf-16":
		return nil, "", "the encoding is said to be UTF-16, and the bytes are not; save the file again as UTF-8", nil
	}
	enc, err := htmlindex.Get(name)
	if err != nil || enc == encoding.Replacement {
		return nil, "", fmt.Sprintf("the file says that its encoding is %q, which is not known here; save it again as UTF-8", name), nil
	}
	if c, ok := enc.(*charmap.Charmap); ok && asciiBelow(c) {
		return &byteText{r: br, chars: c}, strings.ToLower(name), "", nil
	}
	return enc.NewDecoder().Reader(br), strings.ToLower(name), "", nil
}

// byteText decodes text of one byte to a character. Nearly all of it is ASCII,
// which is copied.
type byteText struct {
	r     *bufio.Reader
	chars *charmap.Charmap
	rest  []byte // of a character that did not fit
}

// asciiBelow reports whether the first half of a character set is ASCII.
func asciiBelow(c *charmap.Charmap) bool {
	for b := range byte(utf8.RuneSelf) {
		if c.DecodeByte(b) != rune(b) {
			return false
		}
	}
	return true
}

func (t *byteText) Read(p []byte) (int, error) {
	if n := copy(p, t.rest); n > 0 || len(p) == 0 {
		t.rest = t.rest[n:]
		return n, nil
	}
	if _, err := t.r.Peek(1); err != nil {
		return 0, err
	}
	in, _ := t.r.Peek(t.r.Buffered())
	n, used := 0, 0
	for used < len(in) && n < len(p) {
		k := ascii(in[used:min(len(in), used+len(p)-n)])
		copy(p[n:], in[used:used+k])
		n, used = n+k, used+k
		if used < len(in) && n < len(p) {
			var c [utf8.UTFMax]byte
			size := utf8.EncodeRune(c[:], t.chars.DecodeByte(in[used]))
			k = copy(p[n:], c[:size])
			n, used = n+k, used+1
			t.rest = append(t.rest[:0], c[k:size]...)
		}
	}
	_, err := t.r.Discard(used)
	return n, err
}

// ascii is how many bytes at the begin of b are ASCII.
func ascii(b []byte) int {
	i := 0
	for ; i+8 <= len(b) && binary.NativeEndian.Uint64(b[i:])&0x8080808080808080 == 0; i += 8 {
	}
	for i < len(b) && b[i] < utf8.RuneSelf {
		i++
	}
	return i
}

// inDeclaration finds the encoding of the XML declaration.
func inDeclaration(head []byte) string {
	if !bytes.HasPrefix(head, []byte("<?xml")) {
		return ""
	}
	end := bytes.Index(head, []byte("?>"))
	if end < 0 {
		return ""
	}
	var p attrParser
	if a, err := p.parse(head[len("<?xml"):end]); err == nil {
		return a.text("encoding")
	}
	return ""
}
