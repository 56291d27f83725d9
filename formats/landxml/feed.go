package landxml

import (
	"bytes"
	"errors"
	"io"

	"sightrail/formats"
)

// feed hands the text of a file to the XML reader. It ends a Read where the
// points or faces of a surface begin, so that these long lists of one kind of
// element can be read straight from its buffer; see plain.go.
type feed struct {
	r      io.Reader
	buf    []byte
	lo, hi int    // what is not handed out yet
	err    error  // of r; io.EOF at the end
	out    int64  // bytes handed out or taken
	limit  int64  // bytes that are read at most
	total  int64  // bytes read
	stop   []byte // when set, a Read ends after this text
}

var errTooLarge = errors.New("too large")

const feedSize = 1 << 18

func newFeed(r io.Reader) *feed {
	return &feed{r: r, buf: make([]byte, feedSize), limit: formats.MaxFileBytes}
}

// rest is what is buffered and not handed out.
func (f *feed) rest() []byte { return f.buf[f.lo:f.hi] }

// take marks n bytes of rest as read.
func (f *feed) take(n int) { f.lo += n; f.out += int64(n) }

// more reads until rest has grown. It returns false at the end of the file, on
// an error and when the buffer is full.
func (f *feed) more() bool {
	if f.err != nil {
		return false
	}
	if f.lo > 0 {
		f.hi = copy(f.buf, f.buf[f.lo:f.hi])
		f.lo = 0
	}
	if f.hi == len(f.buf) {
		return false
	}
	for empty := 0; f.err == nil; empty++ {
		var n int
		n, f.err = f.r.Read(f.buf[f.hi:])
		f.hi += n
		f.total += int64(n)
		if f.total > f.limit {
			f.err = errTooLarge
			return false
		}
		if n > 0 {
			return true
		}
		if empty == 100 {
			f.err = io.ErrNoProgress
		}
	}
	return false
}

// Read implements io.Reader for the XML reader.
func (f *feed) Read(p []byte) (int, error) {
	if f.lo == f.hi && !f.more() {
		return 0, f.err
	}
	w := f.rest()
	n := min(len(w), len(p))
	if end := f.boundary(w[:n]); end > 0 {
		n = end
	}
	copy(p, w[:n])
	f.take(n)
	return n, nil
}

var listTags = [][]byte{[]byte("<Pnts"), []byte("<Faces")}

// boundary is how much of w may be handed out: to the end of a tag that begins
// a list, or 0 when there is none.
func (f *feed) boundary(w []byte) int {
	if f.stop != nil {
		if i := bytes.Index(w, f.stop); i >= 0 {
			return i + len(f.stop)
		}
		return 0
	}
	first := len(w)
	for _, tag := range listTags {
		if i := bytes.Index(w[:first], tag); i >= 0 {
			first = i
		}
	}
	if first == len(w) {
		// a tag that is cut here shall be found whole in the next Read
		if i := bytes.LastIndexByte(w, '<'); i > 0 && len(w)-i < 64 && bytes.IndexByte(w[i:], '>') < 0 {
			return i
		}
		return 0
	}
	if end := bytes.IndexByte(w[first:], '>'); end >= 0 {
		return first + end + 1
	}
	return first // 0 when the tag fills the rest
}
