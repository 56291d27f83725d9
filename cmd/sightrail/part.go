package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"sightrail/formats"
	"sightrail/qa"
)

// part is one of several parts that a point file is cut into by bytes. A line belongs
// to the part that its first byte lies in. Every part reads the first lines too,
// because they say how the file is to be read.
type part struct {
	I, N int // I of N, from 1

	From, To int64  // the bytes of its lines
	SHA256   string // of these bytes
	first    int    // number of its first line, from 1
	lines    int    // how many it has
}

// parsePart reads "2/8".
func parsePart(s string) (*part, error) {
	a, b, ok := strings.Cut(s, "/")
	i, err1 := strconv.Atoi(a)
	n, err2 := strconv.Atoi(b)
	if !ok || err1 != nil || err2 != nil || i < 1 || n < 1 || i > n {
		return nil, fmt.Errorf("--part: %q is not a part; write it as \"2/8\", the second of eight", s)
	}
	return &part{I: i, N: n}, nil
}

// partHead is how much of a file its first lines are looked for in, leastLines how many
// there must be: more than a decoder looks at to find out delimiter and decimal mark.
const (
	partHead   = 1 << 17
	leastLines = 256
)

// decode reads the lines of the part, with the points of other parts left out.
func (p *part) decode(r *os.File, name string, opt formats.Options) (*formats.Document, qa.Input, error) {
	info, err := r.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return nil, qa.Input{}, fmt.Errorf("%s: only a file on a disk can be read in parts", name)
	}
	size := info.Size()
	head := make([]byte, min(size, partHead))
	if _, err := io.ReadFull(r, head); err != nil {
		return nil, qa.Input{}, fmt.Errorf("%s: %s", name, reason(err))
	}
	whole := int64(len(head)) == size
	if end := bytes.LastIndexByte(head, '\n') + 1; !whole {
		head = head[:end]
		if bytes.Count(head, []byte{'\n'}) < leastLines {
			return nil, qa.Input{}, fmt.Errorf("%s cannot be read in parts: its lines are too long (fewer than %d in the first %d bytes)", name, leastLines, partHead)
		}
	}
	if bytes.HasPrefix(head, []byte{0xFF, 0xFE}) || bytes.HasPrefix(head, []byte{0xFE, 0xFF}) || opt.Encoding == "utf-16" || bytes.IndexByte(head, 0) >= 0 {
		return nil, qa.Input{}, fmt.Errorf("%s cannot be read in parts: it is in UTF-16; save it as UTF-8", name)
	}
	if err := p.lay(r, name, size); err != nil {
		return nil, qa.Input{}, err
	}
	start := max(p.From, int64(len(head)))
	stream := io.MultiReader(bytes.NewReader(head), io.NewSectionReader(r, start, max(p.To-start, 0)))
	if p.From > int64(len(head)) {
		opt.JumpAfter = bytes.Count(head, []byte{'\n'})
		opt.JumpBy = p.first - 1 - opt.JumpAfter
	}
	points := opt.Points
	opt.Plain = nil // rows of other parts are among them
	var kept []formats.Point
	opt.Points = func(at formats.Pos, batch []formats.Point) error {
		kept = kept[:0]
		for i := range batch {
			if row := batch[i].Row; row >= p.first && row < p.first+p.lines {
				kept = append(kept, batch[i])
			}
		}
		if len(kept) == 0 {
			return nil
		}
		return points(at, kept)
	}
	return decode(stream, name, opt)
}

// lay finds where the part begins and ends: at the first line that begins at or after
// its share of the bytes. It counts the lines before, and hashes its own.
func (p *part) lay(r *os.File, name string, size int64) error {
	cut := func(k int) int64 { return size / int64(p.N) * int64(k) }
	var err error
	if p.From, err = lineFrom(r, cut(p.I-1)); err != nil {
		return fmt.Errorf("%s: %s", name, reason(err))
	}
	if p.To = size; p.I < p.N {
		if p.To, err = lineFrom(r, cut(p.I)); err != nil {
			return fmt.Errorf("%s: %s", name, reason(err))
		}
	}
	before, err := countLines(io.NewSectionReader(r, 0, p.From), io.Discard)
	if err != nil {
		return fmt.Errorf("%s cannot be read in parts: %v", name, err)
	}
	hash := sha256.New()
	own, err := countLines(io.NewSectionReader(r, p.From, p.To-p.From), hash)
	if err != nil {
		return fmt.Errorf("%s cannot be read in parts: %v", name, err)
	}
	p.first, p.lines, p.SHA256 = before+1, own, hex.EncodeToString(hash.Sum(nil))
	return nil
}

// lineFrom is where the first line begins that begins at or after a byte.
func lineFrom(r io.ReaderAt, at int64) (int64, error) {
	if at == 0 {
		return 0, nil
	}
	buf := make([]byte, 1<<16)
	for from := at - 1; ; {
		n, err := r.ReadAt(buf, from)
		if i := bytes.IndexByte(buf[:n], '\n'); i >= 0 {
			return from + int64(i) + 1, nil
		}
		from += int64(n)
		if errors.Is(err, io.EOF) {
			return from, nil
		}
		if err != nil {
			return 0, err
		}
	}
}

// countLines counts lines, and copies them to w. What a decoder would not count as one
// line a line feed is refused: a line break in quotes, a carriage return alone.
func countLines(r io.Reader, w io.Writer) (lines int, err error) {
	buf := make([]byte, 1<<18)
	quotes, last := 0, byte('\n') // quotes in the line so far, and the byte before
	for {
		n, err := io.ReadFull(r, buf)
		b := buf[:n]
		if n > 0 {
			lines += bytes.Count(b, []byte{'\n'})
			if bytes.IndexByte(b, '\r') >= 0 || last == '\r' {
				alone := bytes.Count(b, []byte{'\r'}) - bytes.Count(b, []byte("\r\n"))
				if last == '\r' && b[0] != '\n' || alone > 1 || alone == 1 && b[n-1] != '\r' {
					return 0, errors.New("it has line ends that are a carriage return alone; save it with the usual line ends")
				}
			}
			if quotes, err = inQuotes(b, quotes, err); quotes < 0 {
				return 0, errors.New("it has a line break inside quotes; one worker must read it whole")
			}
			if _, werr := w.Write(b); werr != nil {
				return 0, werr
			}
			last = b[n-1]
		}
		switch {
		case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
			if last != '\n' {
				lines++ // the last line has no end
			}
			return lines, nil
		case err != nil:
			return 0, err
		}
	}
}

// inQuotes counts the quotes of the line that is not at its end yet; -1 where a line
// has an odd number of them.
func inQuotes(b []byte, quotes int, err error) (int, error) {
	if quotes == 0 && bytes.IndexByte(b, '"') < 0 {
		return 0, err
	}
	for _, c := range b {
		switch c {
		case '"':
			quotes++
		case '\n':
			if quotes%2 == 1 {
				return -1, err
			}
			quotes = 0
		}
	}
	return quotes, err
}
