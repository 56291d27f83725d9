package mesh

import (
	"cmp"
	"slices"
)

// box is a rectangle along the axes, its border included.
type box struct{ lo, hi Place }

func boxOf(p ...Place) box {
	b := box{p[0], p[0]}
	for _, q := range p[1:] {
		b.add(q)
	}
	return b
}

func (b *box) add(p Place) {
	b.lo = Place{min(b.lo.E, p.E), min(b.lo.N, p.N)}
	b.hi = Place{max(b.hi.E, p.E), max(b.hi.N, p.N)}
}

func (b *box) touches(c *box) bool {
	return b.lo.E <= c.hi.E && c.lo.E <= b.hi.E && b.lo.N <= c.hi.N && c.lo.N <= b.hi.N
}

// within is what two boxes that touch share.
func (b box) within(c box) box {
	return box{Place{max(b.lo.E, c.lo.E), max(b.lo.N, c.lo.N)}, Place{min(b.hi.E, c.hi.E), min(b.hi.N, c.hi.N)}}
}

// boxes finds the boxes that touch a box: a tree of boxes, bundle of them under
// each, packed in the order of a Hilbert curve.
type boxes struct {
	item   []int32 // of each box of the lowest layer
	layers [][]box // from the boxes themselves to the one around all
}

const bundle = 8

func newBoxes(all []box) *boxes {
	around := all[0]
	for _, b := range all {
		around.add(b.lo)
		around.add(b.hi)
	}
	type entry struct {
		key  uint64
		item int32
	}
	keys := make([]entry, len(all))
	for i, b := range all {
		keys[i] = entry{around.curve(Place{b.lo.E + (b.hi.E-b.lo.E)/2, b.lo.N + (b.hi.N-b.lo.N)/2}), int32(i)}
	}
	slices.SortFunc(keys, func(a, b entry) int { return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.item, b.item)) })
	t := &boxes{item: make([]int32, len(all)), layers: [][]box{make([]box, len(all))}}
	for i, k := range keys {
		t.item[i], t.layers[0][i] = k.item, all[k.item]
	}
	for {
		below := t.layers[len(t.layers)-1]
		if len(below) == 1 {
			return t
		}
		layer := make([]box, (len(below)+bundle-1)/bundle)
		for i := range below {
			if b := &layer[i/bundle]; i%bundle == 0 {
				*b = below[i]
			} else {
				b.add(below[i].lo)
				b.add(below[i].hi)
			}
		}
		t.layers = append(t.layers, layer)
	}
}

// touching appends the items whose boxes touch b, ascending.
func (t *boxes) touching(b box, to []int32) []int32 {
	begin := len(to)
	to = t.under(len(t.layers)-1, 0, &b, to)
	slices.Sort(to[begin:])
	return to
}

func (t *boxes) under(layer, k int, b *box, to []int32) []int32 {
	if !t.layers[layer][k].touches(b) {
		return to
	}
	if layer == 0 {
		return append(to, t.item[k])
	}
	for i := k * bundle; i < min((k+1)*bundle, len(t.layers[layer-1])); i++ {
		to = t.under(layer-1, i, b, to)
	}
	return to
}
