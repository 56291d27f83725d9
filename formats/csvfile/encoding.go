package csvfile

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"sightrail/formats"
)

// utf8Text finds the encoding and returns the text as UTF-8. A byte order mark
// holds; then what is declared; then NUL bytes where UTF-16 has them; then
// UTF-8, if the first 64 KiB are, else Windows-1252. What had to be assumed is
// noted. converted is true where damage shows as U+FFFD.
func utf8Text(r io.Reader, declared string, d *formats.Document, at formats.Pos) (text io.Reader, converted bool, err error) {
	br := bufio.NewReaderSize(r, 1<<18)
	head, err := br.Peek(1 << 16)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull) {
		return nil, false, err
	}
	utf16 := func(e unicode.Endianness) (io.Reader, bool, error) {
		d.About = append(d.About, formats.Property{Name: "encoding", Value: "utf-16"})
		return unicode.UTF16(e, unicode.UseBOM).NewDecoder().Reader(br), true, nil
	}
	nul := func(i int) bool { return len(head) > i && head[i] == 0 }
	switch {
	case bytes.HasPrefix(head, []byte{0xEF, 0xBB, 0xBF}):
		_, err := br.Discard(3)
		return br, false, err
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}), bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return utf16(unicode.LittleEndian)
	case declared == "utf-16" && nul(0):
		return utf16(unicode.BigEndian)
	case declared == "utf-16":
		return utf16(unicode.LittleEndian)
	case declared == "" && nul(1) && nul(3) && !nul(0):
		d.Note(at, "encoding", "the text has the NUL bytes of UTF-16 and no mark, and is read as UTF-16; declare \"encoding: utf-16\" to confirm")
		return utf16(unicode.LittleEndian)
	case declared == "" && nul(0) && nul(2) && !nul(1):
		d.Note(at, "encoding", "the text has the NUL bytes of UTF-16 and no mark, and is read as UTF-16; declare \"encoding: utf-16\" to confirm")
		return utf16(unicode.BigEndian)
	case declared == "windows-1252":
		return charmap.Windows1252.NewDecoder().Reader(br), false, nil
	case declared == "" && !validStart(head):
		d.Note(at, "encoding", "the text is not UTF-8 and is read as Windows-1252; declare \"encoding: windows-1252\" to confirm")
		return charmap.Windows1252.NewDecoder().Reader(br), false, nil
	}
	return br, false, nil
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
