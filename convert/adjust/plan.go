package adjust

import (
	"slices"
)

// plan is an order of elimination as a forest of fronts. Unknowns are named by
// their place in the order, from 0. Front f eliminates first[f] to first[f+1]-1;
// rest(f) are the later unknowns that these are joined to by then, ascending.
// All of rest(f) are in the front parent[f], at the places of within(f).
type plan struct {
	place  []int32 // of an unknown in the order
	first  []int32
	at     []int32 // rest and within of front f are at[f]:at[f+1]
	rest   []int32
	within []int32
	parent []int32 // -1 none; after its children
	lowest []int32 // the fronts below f, and f, are lowest[f] to f
	front  []int32 // of a place
	widest int     // most unknowns in a front
}

func (p *plan) fronts() int            { return len(p.parent) }
func (p *plan) own(f int32) int        { return int(p.first[f+1] - p.first[f]) }
func (p *plan) restOf(f int32) []int32 { return p.rest[p.at[f]:p.at[f+1]] }
func (p *plan) size(f int32) int       { return p.own(f) + int(p.at[f+1]-p.at[f]) }
func (p *plan) withinOf(f int32) []int32 {
	return p.within[p.at[f]:p.at[f+1]]
}

// slot is where place i stands in front f, of which it must be a member.
func (p *plan) slot(f, i int32) int {
	if i < p.first[f+1] {
		return int(i - p.first[f])
	}
	k, _ := slices.BinarySearch(p.restOf(f), i)
	return p.own(f) + k
}

// sketch is a plan while fronts are still joined.
type sketch struct {
	count  []int32 // unknowns eliminated by front f
	rest   [][]int32
	parent []int32
	child  []int32 // first child, next child of the same parent; -1 none
	next   []int32
	gone   []bool // joined with its parent
}

// MaxElements is how many elements a factor may have, 8 bytes each; the largest
// front may have a quarter as many. A town of a million junctions has 36 million.
const MaxElements = 100_000_000

// newPlan orders the unknowns of a graph and works out the fronts; nil when they
// have more than most elements.
func newPlan(g *graph, most int) *plan {
	b := minimumDegree(g)
	s := newSketch(g, &b, most)
	if s == nil {
		return nil
	}
	s.coalesce()
	return s.finish(&b)
}

// newSketch finds what each block is joined to when it is eliminated: its
// neighbours, and what those before it leave to it. It is nil when that is too
// much.
func newSketch(g *graph, b *blocks, most int) *sketch {
	n, nb := g.size(), len(b.first)-1
	ints := make([]int32, 4*nb)
	s := &sketch{count: ints[:nb], parent: ints[nb : 2*nb], child: ints[2*nb : 3*nb], next: ints[3*nb:], rest: make([][]int32, nb), gone: make([]bool, nb)}
	place, block, seen := make([]int32, n), make([]int32, n), make([]int32, n)
	for i, v := range b.order {
		place[v] = int32(i)
	}
	for f := range nb {
		s.parent[f], s.child[f], s.next[f] = -1, -1, -1
		s.count[f] = b.first[f+1] - b.first[f]
		for i := b.first[f]; i < b.first[f+1]; i++ {
			block[i] = int32(f)
		}
	}
	var pool []int32 // lists are cut from large pieces
	elements := 0
	for f := range int32(nb) {
		end := b.first[f+1]
		start := len(pool)
		take := func(i int32) {
			if i >= end && seen[i] != f+1 {
				seen[i] = f + 1
				pool = append(pool, i)
			}
		}
		for i := b.first[f]; i < end; i++ {
			for _, v := range g.neighbours(b.order[i]) {
				take(place[v])
			}
		}
		for c := s.child[f]; c >= 0; c = s.next[c] {
			for _, i := range s.rest[c] {
				take(i)
			}
		}
		s.rest[f] = pool[start:len(pool):len(pool)]
		k, r := int(s.count[f]), len(s.rest[f])
		elements += k * (k + r)
		if elements > most || (k+r)*(k+r) > most/4 {
			return nil
		}
		if cap(pool)-len(pool) < n {
			pool = make([]int32, 0, max(4*n, 1024))
		}
		if len(s.rest[f]) > 0 {
			p := block[slices.Min(s.rest[f])]
			s.parent[f], s.next[f], s.child[p] = p, s.child[p], f
		}
	}
	return s
}

// coalesce joins fronts with their parents where few noughts are stored by it:
// a few large fronts are quicker than many small ones.
func (s *sketch) coalesce() {
	noughts := make([]int, len(s.count)) // stored in a front already
	var open []int32
	for f := range int32(len(s.count)) {
		open = s.children(open[:0], f)
		s.child[f] = -1
		for len(open) > 0 {
			c := open[len(open)-1]
			open = open[:len(open)-1]
			if more, ok := s.worthJoining(c, f, noughts); ok {
				noughts[f] = more
				s.count[f] += s.count[c]
				s.gone[c] = true
				open = s.children(open, c)
				continue
			}
			s.parent[c], s.next[c], s.child[f] = f, s.child[f], c
		}
	}
}

func (s *sketch) children(to []int32, f int32) []int32 {
	for c := s.child[f]; c >= 0; c = s.next[c] {
		to = append(to, c)
	}
	return to
}

func (s *sketch) worthJoining(c, f int32, noughts []int) (more int, ok bool) {
	kc, kf, rc, rf := int(s.count[c]), int(s.count[f]), len(s.rest[c]), len(s.rest[f])
	more = noughts[c] + noughts[f] + kc*(kf+rf-rc)
	k, stored := kc+kf, (kc+kf)*(kc+kf+1)/2+(kc+kf)*rf
	switch {
	case k <= 4:
		return more, 2*more <= stored
	case k <= 16:
		return more, 8*more <= stored
	}
	return more, 20*more <= stored
}

// finish puts children before parents, each subtree together, and names the
// unknowns anew.
func (s *sketch) finish(b *blocks) *plan {
	n, nb := len(b.order), int32(len(s.count))
	into := make([]int32, nb) // the front that a block ended in, and its number
	left := 0
	for f := nb - 1; f >= 0; f-- {
		into[f] = f
		if s.gone[f] {
			into[f] = into[s.parent[f]] // later, so known
		} else {
			left++
		}
	}
	number := make([]int32, nb)
	order := make([]int32, 0, left)
	for root := range nb { // each root after its subtree
		if s.gone[root] || s.parent[root] >= 0 {
			continue
		}
		for f := root; ; {
			if c := s.child[f]; c >= 0 {
				s.child[f] = s.next[c]
				f = c
				continue
			}
			number[f] = int32(len(order))
			order = append(order, f)
			if f == root {
				break
			}
			f = s.parent[f]
		}
	}
	p := &plan{place: make([]int32, n), first: make([]int32, left+1), at: make([]int32, left+1), parent: make([]int32, left), front: make([]int32, n)}
	total := int32(0)
	for i, f := range order {
		p.first[i+1] = p.first[i] + s.count[f]
		p.parent[i] = -1
		if q := s.parent[f]; q >= 0 {
			p.parent[i] = number[q]
		}
		total += int32(len(s.rest[f]))
		p.at[i+1] = total
	}
	// unknowns of one front stay in the order in which they were
	put := slices.Clone(p.first[:left])
	renamed := make([]int32, n)
	for f := range nb {
		at := number[into[f]]
		for i := b.first[f]; i < b.first[f+1]; i++ {
			renamed[i] = put[at]
			p.place[b.order[i]] = put[at]
			p.front[put[at]] = at
			put[at]++
		}
	}
	p.rest, p.within = make([]int32, total), make([]int32, total)
	for i, f := range order {
		l := p.restOf(int32(i))
		for k, x := range s.rest[f] {
			l[k] = renamed[x]
		}
		slices.Sort(l)
		p.widest = max(p.widest, p.size(int32(i)))
	}
	p.link()
	return p
}

// link finds the place of every rest in the front of the parent.
func (p *plan) link() {
	p.lowest = make([]int32, p.fronts())
	for f := range p.lowest {
		p.lowest[f] = int32(f)
	}
	for f, q := range p.parent { // children come first
		if q >= 0 {
			p.lowest[q] = min(p.lowest[q], p.lowest[f])
		}
	}
	for f := range int32(p.fronts()) {
		q := p.parent[f]
		if q < 0 {
			continue
		}
		w, rest := p.withinOf(f), p.restOf(q)
		k, own := 0, p.own(q)
		for i, x := range p.restOf(f) {
			if x < p.first[q+1] {
				w[i] = x - p.first[q]
				continue
			}
			for rest[k] != x {
				k++
			}
			w[i] = int32(own + k)
		}
	}
}
