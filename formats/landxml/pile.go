package landxml

// pile gathers a list of unknown length without moving what it holds, in
// blocks that double; join makes one slice of exact size.
type pile[T any] struct {
	full  [][]T
	block []T
	n     int
}

const firstBlock = 1 << 10
const largestBlock = 1 << 17

func (p *pile[T]) add(v T) {
	if len(p.block) == cap(p.block) {
		size := firstBlock
		if p.block != nil {
			p.full = append(p.full, p.block)
			size = min(2*cap(p.block), largestBlock)
		}
		p.block = make([]T, 0, size)
	}
	p.block = append(p.block, v)
	p.n++
}

func (p *pile[T]) join() []T {
	if p.n == 0 {
		return nil
	}
	all := make([]T, 0, p.n)
	for _, b := range p.full {
		all = append(all, b...)
	}
	all = append(all, p.block...)
	*p = pile[T]{}
	return all
}
