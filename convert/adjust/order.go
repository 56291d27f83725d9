package adjust

import "math"

// graph is an undirected graph without loops and double edges: the neighbours
// of v are next[first[v]:first[v+1]].
type graph struct {
	first []int32
	next  []int32
}

func (g *graph) size() int                  { return len(g.first) - 1 }
func (g *graph) neighbours(v int32) []int32 { return g.next[g.first[v]:g.first[v+1]] }

// newGraph makes a graph of n vertices from pairs, which may be given twice.
func newGraph(n int, pairs [][2]int32) *graph {
	at := make([]int32, n+1)
	for _, p := range pairs {
		at[p[0]+1]++
		at[p[1]+1]++
	}
	for v := range n {
		at[v+1] += at[v]
	}
	all := make([]int32, at[n])
	put := append([]int32(nil), at[:n]...)
	for _, p := range pairs {
		all[put[p[0]]] = p[1]
		put[p[0]]++
		all[put[p[1]]] = p[0]
		put[p[1]]++
	}
	// drop what is there twice
	seen := make([]int32, n)
	g := &graph{first: make([]int32, n+1)}
	k := int32(0)
	for v := range n {
		for _, o := range all[at[v]:at[v+1]] {
			if seen[o] != int32(v)+1 {
				seen[o] = int32(v) + 1
				all[k] = o
				k++
			}
		}
		g.first[v+1] = k
	}
	g.next = all[:k]
	return g
}

// blocks is an order of elimination: the unknowns of block b are
// order[first[b]:first[b+1]], and all of a block are joined to the same others.
type blocks struct {
	order []int32
	first []int32
}

// ordering eliminates the unknown with the fewest neighbours, and the next. It
// keeps the graph that is left as a quotient graph: an eliminated unknown becomes
// an element, the set of those that it joined. A variable has a list of elements
// and, after those, of variables; unknowns with equal lists are one variable from
// then on. Method: Amestoy, Davis, Duff, "An approximate minimum degree ordering
// algorithm", SIAM J. Matrix Anal. Appl. 17 (1996): the number of neighbours is
// an upper bound that is cheap to keep.
type ordering struct {
	lists    []int32 // all lists, and room for the next element at the end
	spare    []int32
	at, size []int32 // list of a variable or an element
	elements []int32 // how many of a variable's list are elements
	weight   []int32 // unknowns in a variable; negative while it is in the pivot's list, 0 when it is none any more
	degree   []int32 // bound of the number of neighbours; of an element, its unknowns
	dead     []bool  // an element that is within another one
	element  []bool

	byDegree, after, before []int32 // variables of each degree, doubly linked; -1 ends
	least                   int32

	outside []int64 // of an element: mark + its unknowns outside the pivot's list
	mark    int64
	bucket  []int32 // by hash: last variable of it, -1 none
	chained []int32
	hashes  []uint32

	same, last []int32 // unknowns of a variable: linked from the one that names it
	left       int32   // unknowns not eliminated
}

// minimumDegree orders the unknowns of a graph so that few new joints arise. An
// unknown with very many neighbours goes last, whatever the others are.
func minimumDegree(g *graph) blocks {
	n := g.size()
	o := newOrdering(g)
	var b blocks
	b.order = make([]int32, 0, n)
	b.first = append(b.first, 0)
	var hubs []int32
	limit := max(16, int32(10*math.Sqrt(float64(n))))
	for v := range int32(n) {
		if d := o.size[v]; d > limit {
			hubs = append(hubs, v)
			o.weight[v] = 0
		}
	}
	o.left = int32(n - len(hubs))
	for v := range int32(n) {
		if o.weight[v] == 0 {
			continue
		}
		if len(hubs) > 0 { // they are not seen by the others
			o.withoutGone(v)
		}
		o.degree[v] = o.size[v]
		o.insert(v)
	}
	for o.left > 0 {
		p := o.take()
		o.eliminate(p)
		for v := p; v >= 0; v = o.same[v] {
			b.order = append(b.order, v)
		}
		b.first = append(b.first, int32(len(b.order)))
	}
	for _, v := range hubs {
		b.order = append(b.order, v)
		b.first = append(b.first, int32(len(b.order)))
	}
	return b
}

func newOrdering(g *graph) *ordering {
	n := g.size()
	room := len(g.next) + len(g.next)/2 + 2*n + 16
	o := &ordering{lists: make([]int32, len(g.next), room)}
	copy(o.lists, g.next)
	ints := make([]int32, 11*n)
	for i, p := range []*[]int32{&o.at, &o.size, &o.elements, &o.weight, &o.degree, &o.byDegree, &o.after, &o.before, &o.bucket, &o.chained, &o.same} {
		*p = ints[i*n : (i+1)*n : (i+1)*n]
	}
	o.last = make([]int32, n)
	o.dead, o.element = make([]bool, n), make([]bool, n)
	o.outside, o.mark = make([]int64, n), 1
	o.hashes = make([]uint32, n)
	for v := range n {
		o.at[v], o.size[v] = g.first[v], g.first[v+1]-g.first[v]
		o.weight[v] = 1
		o.byDegree[v], o.bucket[v], o.same[v] = -1, -1, -1
		o.last[v] = int32(v)
	}
	return o
}

func (o *ordering) list(v int32) []int32 { return o.lists[o.at[v] : o.at[v]+o.size[v]] }

func (o *ordering) withoutGone(v int32) {
	l := o.list(v)
	k := int32(0)
	for _, x := range l {
		if o.weight[x] != 0 {
			l[k] = x
			k++
		}
	}
	o.size[v] = k
}

func (o *ordering) insert(v int32) {
	d := o.degree[v]
	f := o.byDegree[d]
	o.after[v], o.before[v] = f, -1
	if f >= 0 {
		o.before[f] = v
	}
	o.byDegree[d] = v
	o.least = min(o.least, d)
}

func (o *ordering) remove(v int32) {
	a, b := o.after[v], o.before[v]
	if a >= 0 {
		o.before[a] = b
	}
	if b >= 0 {
		o.after[b] = a
	} else {
		o.byDegree[o.degree[v]] = a
	}
}

// take removes a variable with the fewest neighbours.
func (o *ordering) take() int32 {
	for o.byDegree[o.least] < 0 {
		o.least++
	}
	p := o.byDegree[o.least]
	o.remove(p)
	return p
}

// join makes the unknowns of variable v part of those of into.
func (o *ordering) join(v, into int32) {
	o.same[o.last[into]] = v
	o.last[into] = o.last[v]
	o.weight[v] = 0
	o.size[v] = 0
}

// eliminate turns variable p into an element.
func (o *ordering) eliminate(p int32) {
	if need := int(o.degree[p]) + 1; len(o.lists)+need > cap(o.lists) {
		o.compact(need)
	}
	sum := o.gather(p)
	o.measure(p)
	sum = o.update(p, sum)
	o.merge(p)
	o.settle(p, sum)
}

// gather makes the list of p: all that it is joined to, and returns how many
// unknowns those are. The elements of p are within it from then on.
func (o *ordering) gather(p int32) int32 {
	start := int32(len(o.lists))
	own := o.list(p)
	o.left -= o.weight[p]
	o.weight[p] = -o.weight[p]
	sum := int32(0)
	take := func(l []int32) {
		for _, v := range l {
			if w := o.weight[v]; w > 0 {
				sum += w
				o.weight[v] = -w
				o.lists = append(o.lists, v)
				o.remove(v)
			}
		}
	}
	e := o.elements[p]
	for _, x := range own[:e] {
		take(o.list(x))
		o.dead[x], o.size[x] = true, 0
	}
	take(own[e:])
	o.at[p], o.size[p], o.elements[p] = start, int32(len(o.lists))-start, 0
	o.element[p] = true
	return sum
}

// measure finds, of every element that touches the list of p, how many of its
// unknowns are not in that list.
func (o *ordering) measure(p int32) {
	for _, v := range o.list(p) {
		w := int64(-o.weight[v])
		for _, e := range o.list(v)[:o.elements[v]] {
			if o.dead[e] {
				continue
			}
			if o.outside[e] < o.mark {
				o.outside[e] = o.mark + int64(o.degree[e])
			}
			o.outside[e] -= w
		}
	}
}

// update renews the lists and degrees of the variables in the list of p. What
// has no other neighbours goes with p. It returns the unknowns that stay.
func (o *ordering) update(p, sum int32) int32 {
	for _, v := range o.list(p) {
		l := o.list(v)
		k, d, hash := int32(0), int32(0), uint32(0)
		for _, e := range l[:o.elements[v]] {
			if o.dead[e] {
				continue
			}
			if out := int32(o.outside[e] - o.mark); out > 0 {
				d += out
				hash += uint32(e)
				l[k] = e
				k++
			} else { // all of it is in the list of p
				o.dead[e], o.size[e] = true, 0
			}
		}
		kept := k
		for _, x := range l[o.elements[v]:] {
			if w := o.weight[x]; w > 0 {
				d += w
				hash += uint32(x)
				l[k] = x
				k++
			}
		}
		if d == 0 {
			sum += o.weight[v] // negative
			o.left += o.weight[v]
			o.join(v, p)
			continue
		}
		l[k] = l[kept]
		l[kept] = p
		o.elements[v], o.size[v] = kept+1, k+1
		o.degree[v] = min(o.degree[v], d)
		hash = (hash + uint32(p)) % uint32(len(o.bucket))
		o.hashes[v] = hash
		o.chained[v] = o.bucket[hash]
		o.bucket[hash] = v
	}
	// a new mark, above all that was written
	o.mark += int64(len(o.at)) + 1
	return sum
}

// merge finds variables with equal lists.
func (o *ordering) merge(p int32) {
	for _, v := range o.list(p) {
		if o.weight[v] == 0 {
			continue
		}
		h := o.hashes[v]
		a := o.bucket[h]
		o.bucket[h] = -1
		for ; a >= 0 && o.chained[a] >= 0; a = o.chained[a] {
			for _, x := range o.list(a) {
				o.outside[x] = o.mark
			}
			prev := a
			for b := o.chained[a]; b >= 0; b = o.chained[b] {
				if o.equal(a, b) {
					o.weight[a] += o.weight[b]
					o.join(b, a)
					o.chained[prev] = o.chained[b]
				} else {
					prev = b
				}
			}
			o.mark++
		}
	}
	o.mark++
}

// equal reports whether b has the list of a, all of which is marked.
func (o *ordering) equal(a, b int32) bool {
	if o.size[a] != o.size[b] || o.elements[a] != o.elements[b] {
		return false
	}
	for _, x := range o.list(b) {
		if o.outside[x] != o.mark {
			return false
		}
	}
	return true
}

// settle puts the variables of the list of p back among those of their degree.
func (o *ordering) settle(p, sum int32) {
	l := o.list(p)
	k := int32(0)
	for _, v := range l {
		w := -o.weight[v]
		if w == 0 {
			continue
		}
		o.weight[v] = w
		o.degree[v] = min(o.degree[v]+sum-w, o.left-w)
		o.insert(v)
		l[k] = v
		k++
	}
	o.size[p], o.degree[p], o.weight[p] = k, sum, 0
	o.lists = o.lists[:o.at[p]+k]
	if k == 0 {
		o.dead[p] = true
	}
}

// compact moves all lists that are still used together.
func (o *ordering) compact(need int) {
	total := need
	for _, s := range o.size {
		total += int(s)
	}
	if cap(o.spare) < total {
		o.spare = make([]int32, 0, max(total, cap(o.lists)))
	}
	to := o.spare[:0]
	for v := range o.at {
		l := o.list(int32(v))
		o.at[v] = int32(len(to))
		to = append(to, l...)
	}
	o.lists, o.spare = to, o.lists
}
