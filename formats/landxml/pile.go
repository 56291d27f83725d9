package landxml

// pile gathers a list of unknown length; join makes one slice of it. Where
// nothing tells how long the list will be, it is gathered in blocks that
// double, so that nothing is moved before the end. Where something does, it is
// gathered in one block that is large enough, so that it is not moved at all:
// room that stays unused is never touched, and takes no memory.
type pile[T any] struct {
	full  [][]T
	block []T
	held  int // in full
}

const firstBlock = 1 << 6
const largestBlock = 1 << 17
const pieceSize = 1 << 10 // that is moved at a time

// An expectation is believed from enough on, and for room that is leap times
// what is held at most; this bounds what a wrong one costs.
const (
	enough = 1 << 12
	leap   = 16
)

func (p *pile[T]) len() int { return p.held + len(p.block) }

func (p *pile[T]) add(v T) {
	if len(p.block) == cap(p.block) {
		p.grow(0)
	}
	p.block = append(p.block, v)
}

// grow makes room for one more at least. expected is how many there may be in
// the end, or 0.
func (p *pile[T]) grow(expected int) {
	n := p.len()
	if n >= enough && expected > n+n/leap {
		size := expected
		for size > leap*n {
			size = max(size/leap, 4*n)
		}
		p.block, p.full, p.held = p.all(size), nil, 0
		return
	}
	size := firstBlock
	if p.block != nil {
		p.full = append(p.full, p.block)
		p.held = n
		size = min(2*cap(p.block), largestBlock)
	}
	p.block = make([]T, 0, size)
}

// all is what the pile holds, in one slice with room for size.
func (p *pile[T]) all(size int) []T {
	all := make([]T, 0, size)
	for _, b := range append(p.full, p.block) {
		for len(b) > 0 {
			k := min(len(b), pieceSize)
			all, b = piece(all, b[:k]), b[k:]
		}
	}
	return all
}

// piece appends some of a long list. Each piece is a call, where a goroutine
// can be stopped: a collection of garbage that begins during one long copy
// waits for its end, spinning.
//
//go:noinline
func piece[T any](to, from []T) []T { return append(to, from...) }

// join empties the pile.
func (p *pile[T]) join() []T {
	n := p.len()
	var all []T
	switch {
	case n == 0:
	case p.held > 0 || n < cap(p.block)/2: // much room that is not used would count as memory
		all = p.all(n)
	default:
		all = p.block[:n:n]
	}
	*p = pile[T]{}
	return all
}
