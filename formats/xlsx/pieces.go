package xlsx

import (
	"bytes"
	"io"
)

// quickWindow is how much of a part is looked at at a time.
const quickWindow = 1 << 18

// tail is how many bytes are to stand behind any place that is looked at; what is
// written at the end of a part is left to the XML reader.
const tail = 48

// plainItems are the many items of a part that stand in one element: how those that are
// written in the plain way are taken without the XML reader.
type plainItems struct {
	parent     string // local name of the element
	depth      int    // how deep it is, from 1
	start, end []byte // how its own start is written, where it is always the same, and the end of an item

	// item reads the item that s begins with and returns its length. If it is not plain, n
	// is 0; whole says that this will not change with more bytes.
	item func(s []byte) (n int, whole bool)
	done func() error // hands over the item that was read
}

// pieces stands between a part and its XML reader. It hands the part over in pieces that end
// where plain items may begin. While the XML reader has nothing in hand and is there, it
// takes plain items itself. All that is odd is left to the XML reader, which alone says
// what is wrong.
type pieces struct {
	*plainItems
	r     io.Reader
	buf   []byte
	rest  []byte // of buf, not handed over
	err   error  // that r ended with
	piece int    // bytes of rest that may be handed over
	given int64  // bytes that were handed over
	begun bool   // an end of a piece was met
}

func newPieces(r io.Reader, items *plainItems) *pieces {
	return &pieces{plainItems: items, r: r, buf: make([]byte, 0, quickWindow)}
}

// more reads on, and reports whether rest has grown.
func (q *pieces) more() bool {
	if q.err != nil || len(q.rest) == cap(q.buf) {
		return false
	}
	if len(q.buf) == cap(q.buf) || len(q.rest) == 0 {
		q.buf = q.buf[:copy(q.buf[:cap(q.buf)], q.rest)]
	}
	had := len(q.rest)
	for range 100 {
		n, err := q.r.Read(q.buf[len(q.buf):cap(q.buf)])
		q.buf = q.buf[:len(q.buf)+n]
		q.rest, q.err = q.buf[len(q.buf)-had-n:], err
		if n > 0 || err != nil {
			return n > 0
		}
	}
	q.err = io.ErrNoProgress
	return false
}

// Read hands over no more than up to the next place where plain items may begin.
func (q *pieces) Read(p []byte) (int, error) {
	for q.piece == 0 {
		if q.piece = q.toMark(); q.piece == 0 && !q.more() {
			if q.piece = len(q.rest); q.piece == 0 {
				return 0, q.err
			}
		}
	}
	n := copy(p, q.rest[:q.piece])
	q.rest, q.piece, q.given = q.rest[n:], q.piece-n, q.given+int64(n)
	return n, nil
}

// toMark is how many bytes there are to where plain items may begin, or 0.
func (q *pieces) toMark() int {
	mark := q.end
	i := bytes.Index(q.rest, mark)
	if !q.begun && q.start != nil {
		if j := bytes.Index(q.rest, q.start); j >= 0 && (i < 0 || j < i) {
			mark, i = q.start, j
		}
	}
	if i < 0 {
		return 0
	}
	q.begun = true
	return i + len(mark)
}

// take reads plain items, as long as there are.
func (q *pieces) take() error {
	for {
		n, whole := q.item(q.rest)
		if n > 0 {
			q.rest = q.rest[n:]
			if err := q.done(); err != nil {
				return err
			}
			continue
		}
		if whole || !q.more() {
			return nil
		}
	}
}
