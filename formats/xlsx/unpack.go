package xlsx

import (
	"archive/zip"
	"bytes"
	"io"

	"github.com/klauspost/compress/flate"
)

// Parts of a workbook are unpacked on their own, a few blocks ahead of what takes them
// apart.
const (
	unpackBytes  = 1 << 17
	unpackBlocks = 3
)

// quickly has a workbook unpacked by a faster decompressor than that of the library,
// straight from its bytes.
func quickly(z *zip.Reader, text []byte) {
	z.RegisterDecompressor(zip.Deflate, func(r io.Reader) io.ReadCloser {
		if s, ok := r.(*io.SectionReader); ok {
			if _, from, n := s.Outer(); from >= 0 && n >= 0 && from <= int64(len(text))-n {
				r = bytes.NewReader(text[from : from+n])
			}
		}
		return flate.NewReader(r)
	})
}

// unpacker reads a part ahead.
type unpacker struct {
	part  io.ReadCloser
	full  chan unpacked
	empty chan []byte
	quit  chan struct{}
	done  chan struct{}
	now   []byte // block in hand, and what is left of it
	rest  []byte
	err   error
}

type unpacked struct {
	bytes []byte
	err   error
}

func unpackAhead(part io.ReadCloser) *unpacker {
	u := &unpacker{part: part, full: make(chan unpacked, unpackBlocks), empty: make(chan []byte, unpackBlocks), quit: make(chan struct{}), done: make(chan struct{})}
	for range unpackBlocks {
		u.empty <- make([]byte, unpackBytes)
	}
	go u.run()
	return u
}

func (u *unpacker) run() {
	defer close(u.done)
	for {
		var b []byte
		select {
		case b = <-u.empty:
		case <-u.quit:
			return
		}
		n, err := io.ReadFull(u.part, b[:unpackBytes])
		if err == io.ErrUnexpectedEOF {
			err = io.EOF
		}
		u.full <- unpacked{b[:n], err} // there is room: no more blocks are in hand than it holds
		if err != nil {
			return
		}
	}
}

func (u *unpacker) Read(p []byte) (int, error) {
	for len(u.rest) == 0 {
		if u.err != nil {
			return 0, u.err
		}
		if u.now != nil {
			u.empty <- u.now // there is room, as above
		}
		b := <-u.full
		u.now, u.rest, u.err = b.bytes, b.bytes, b.err
	}
	n := copy(p, u.rest)
	u.rest = u.rest[n:]
	return n, nil
}

// Close stops the unpacking where it is.
func (u *unpacker) Close() error {
	close(u.quit)
	<-u.done
	return u.part.Close()
}
