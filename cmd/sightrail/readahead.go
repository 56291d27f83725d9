package main

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
)

// aheadBytes is how much is read and hashed at a time, aheadBlocks how many of such
// blocks may be in hand.
const (
	aheadBytes  = 1 << 18
	aheadBlocks = 4
)

// ahead reads a stream and hashes it on its own, while what came before is taken
// apart. It is read to the end or stopped.
type ahead struct {
	full  chan block
	empty chan []byte
	quit  chan struct{}
	rest  []byte // of now
	now   []byte
	err   error

	// of the whole stream, after io.EOF
	sum  [sha256.Size]byte
	size int64
}

type block struct {
	bytes []byte
	err   error
}

func readAhead(r io.Reader) *ahead {
	a := &ahead{full: make(chan block, aheadBlocks), empty: make(chan []byte, aheadBlocks), quit: make(chan struct{})}
	for range aheadBlocks {
		a.empty <- make([]byte, aheadBytes)
	}
	go a.run(r)
	return a
}

func (a *ahead) run(r io.Reader) {
	hash := sha256.New()
	for {
		var b []byte
		select {
		case b = <-a.empty:
		case <-a.quit:
			return
		}
		n, err := io.ReadFull(r, b[:aheadBytes])
		if err == io.ErrUnexpectedEOF {
			err = io.EOF
		}
		hash.Write(b[:n])
		a.size += int64(n)
		if err == io.EOF {
			hash.Sum(a.sum[:0])
		}
		a.full <- block{b[:n], err} // there is room: no more blocks are in hand than it holds
		if err != nil {
			return
		}
	}
}

func (a *ahead) Read(p []byte) (int, error) {
	for len(a.rest) == 0 {
		if a.err != nil {
			return 0, a.err
		}
		if a.now != nil {
			a.empty <- a.now // there is room, as above
		}
		b := <-a.full
		a.now, a.rest, a.err = b.bytes, b.bytes, b.err
	}
	n := copy(p, a.rest)
	a.rest = a.rest[n:]
	return n, nil
}

// stop ends the reading before the end of the stream.
func (a *ahead) stop() { close(a.quit) }

// hash is the SHA-256 of the stream, which was read to its end.
func (a *ahead) hash() string { return hex.EncodeToString(a.sum[:]) }
