package csvfile

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"sightrail/formats"
)

const (
	blockBytes  = 1 << 16
	sampleLines = 200 // looked at to find out delimiter and decimal mark
	// maxQuotedLines is how many lines a field in quotes may go on for.
	maxQuotedLines = 100
)

// lines cuts a text into lines. A block is turned into one string, and lines
// are parts of it, so that a line costs no allocation.
type lines struct {
	r         io.Reader
	converted bool // damage of the encoding shows as U+FFFD
	suspect   bool // the block holds NUL, what is not UTF-8, or damage; or may, of lines given back

	buf    []byte
	carry  int // bytes of an unfinished line at the start of buf
	block  string
	lf     int // place of the next line feed in block; -1 = not looked for
	row    int
	eof    bool
	pushed []string // lines that were taken and given back
	stash  []block  // blocks that were taken and given back
	blocks int      // that were read

	jumpAfter, jumpBy int // of the numbers of lines
}

// block is a piece of the text that ends where a line does.
type block struct {
	text    string
	suspect bool
}

func newLines(r io.Reader, converted bool, bytes int) *lines {
	return &lines{r: r, converted: converted, buf: make([]byte, bytes), lf: -1}
}

// sample returns the first lines without consuming them.
func (l *lines) sample() ([]string, error) {
	if err := l.fill(); err != nil {
		return nil, err
	}
	save := *l
	var out []string
	for len(out) < sampleLines && l.block != "" {
		out = append(out, l.cut())
	}
	*l = save
	return out, nil
}

// fill reads the next block, up to the last end of line in it.
func (l *lines) fill() error {
	if l.block == "" && len(l.stash) > 0 {
		l.block, l.suspect, l.lf = l.stash[0].text, l.stash[0].suspect, -1
		l.stash = l.stash[1:]
		l.blocks++
		return nil
	}
	for l.block == "" && !l.eof {
		n, err := io.ReadFull(l.r, l.buf[l.carry:])
		chunk := l.buf[:l.carry+n]
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
			end = bytes.LastIndexByte(chunk, '\n') + 1
			if rest := chunk[end:]; len(rest) > 1 {
				end += bytes.LastIndexByte(rest[:len(rest)-1], '\r') + 1
			}
			if end == 0 {
				if len(chunk) > formats.MaxLineBytes {
					return tooLong(l.row + 1)
				}
				l.buf = append(l.buf, make([]byte, len(l.buf))...)
				l.carry = len(chunk)
				continue
			}
		}
		l.block, l.lf = string(chunk[:end]), -1
		l.suspect = !utf8.ValidString(l.block) || strings.IndexByte(l.block, 0) >= 0 || l.converted && strings.ContainsRune(l.block, utf8.RuneError)
		l.carry = copy(l.buf, chunk[end:])
		l.blocks++
	}
	return nil
}

func tooLong(row int) error {
	return &refusal{row, "", "the line is longer than 1 MiB; this is no table of lines"}
}

// next returns the next line, without its end, and its number from 1.
func (l *lines) next() (line string, row int, ok bool, err error) {
	if len(l.pushed) > 0 {
		line, l.pushed = l.pushed[0], l.pushed[1:]
		l.row++
		l.suspect = true // it may be of another block
		return line, l.row, true, nil
	}
	if l.block == "" {
		if err := l.fill(); err != nil {
			return "", 0, false, err
		}
		if l.block == "" {
			return "", 0, false, nil
		}
	}
	line = l.cut()
	if l.row++; l.row == l.jumpAfter+1 && l.jumpBy > 0 {
		l.row += l.jumpBy
	}
	if len(line) > formats.MaxLineBytes {
		return "", 0, false, tooLong(l.row)
	}
	return line, l.row, true, nil
}

// push gives lines back that next returned last.
func (l *lines) push(taken []string) {
	l.pushed = append(taken[:len(taken):len(taken)], l.pushed...)
	l.row -= len(taken)
}

// cut splits the first line off the block, at LF, CRLF or a lone CR.
func (l *lines) cut() string {
	b := l.block
	if l.lf < 0 {
		if l.lf = strings.IndexByte(b, '\n'); l.lf < 0 {
			l.lf = len(b)
		}
	}
	end := l.lf
	if cr := strings.IndexByte(b[:end], '\r'); cr >= 0 && (cr < end-1 || end == len(b)) {
		l.block, l.lf = b[cr+1:], end-cr-1
		return b[:cr]
	} else if cr >= 0 {
		end = cr
	}
	l.block = b[min(l.lf+1, len(b)):]
	l.lf = -1
	return b[:end]
}
