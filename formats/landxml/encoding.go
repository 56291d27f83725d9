package landxml

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/text/encoding"
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
	return enc.NewDecoder().Reader(br), strings.ToLower(name), "", nil
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
