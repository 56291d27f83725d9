package mesh

import (
	"cmp"
	"math/big"
	"slices"

	"sightrail/formats/unit"
)

// What holds an edge. A side of a ring that is passed twice parts nothing from
// nothing, so those bits are counted by two.
const (
	byLine  = 1 << iota // a breakline: it has levels
	byRing              // a side of the boundary or of a void
	byOuter             // passed an odd number of times by outer rings
	byVoid              // passed an odd number of times by voids
)

// segment is a piece of a side of a breakline or ring, between vertices.
type segment struct {
	a, b int32
	hold *hold
}

// hold says what holds an edge: the bits, the two points of the first side that
// did, and the two vertices of the straight line that the piece is of. Pieces
// bend by less than a count where lines cross; crossings are reckoned on the
// straight lines, so that they do not drift.
type hold struct {
	bits int
	ends [2]int32
	line [2]int32
}

// holder puts breaklines and rings into a triangulation.
type holder struct {
	*build
	z      []unit.Length // level of each vertex
	same   unit.Length
	holds  []*hold // by mark
	work   []segment
	added  []Crossing
	passed []passing
	faults Faults
	slips  int // crossings that a rounding made, or moved to a vertex that was there
}

// passing is a vertex on a breakline whose level is not that of the line.
type passing struct {
	vertex int32
	ends   [2]int32
	line   unit.Length
}

// MaxCrossings is how many times breaklines and rings may cross.
const MaxCrossings = 1 << 22

// manySlips, and sixteen for every line, are more than lines make that a file can
// tell apart. On a lattice of a few counts lines can push each other about for
// ever.
const manySlips = 1000

// holdAll puts segments in.
func (b *holder) holdAll(segments []segment) error {
	b.holds = []*hold{nil}
	pieces := b.pieces(segments)
	for _, s := range pieces {
		b.work = append(b.work, s)
		for len(b.work) > 0 {
			s := b.work[len(b.work)-1]
			b.work = b.work[:len(b.work)-1]
			if s.a != s.b {
				b.put(s)
			}
			switch {
			case len(b.added) > MaxCrossings:
				return errTooManyCrossings
			case b.slips > manySlips+16*len(pieces):
				return errTooClose
			}
		}
	}
	return nil
}

// pieces cuts segments at the vertices that are on them, and makes one of those
// between the same two. Their order and direction are those of the vertices,
// which have theirs by place, so that the order and the direction of the lines
// have no part in the result.
func (b *holder) pieces(segments []segment) []segment {
	all := make([]segment, 0, len(segments))
	for _, s := range segments {
		s.a, s.b = min(s.a, s.b), max(s.a, s.b)
		for s.a != s.b {
			to, _, _ := b.trace(s, false)
			h := s.hold
			if to != s.b {
				h = &hold{bits: h.bits, ends: h.ends}
				if h.bits&byLine != 0 {
					b.pass(&hold{ends: h.ends, line: [2]int32{s.a, s.b}}, to)
				}
			}
			h.line = [2]int32{min(s.a, to), max(s.a, to)}
			all = append(all, segment{h.line[0], h.line[1], h})
			s.a = to
		}
	}
	slices.SortStableFunc(all, func(s, t segment) int {
		return cmp.Or(cmp.Compare(s.a, t.a), cmp.Compare(s.b, t.b), cmp.Compare(s.hold.bits, t.hold.bits))
	})
	out := all[:0]
	for _, s := range all {
		if n := len(out); n > 0 && out[n-1].a == s.a && out[n-1].b == s.b {
			out[n-1].hold.bits = together(out[n-1].hold.bits, s.hold.bits)
		} else {
			out = append(out, s)
		}
	}
	return out
}

// together is what holds an edge that two sides share.
func together(a, b int) int {
	return a ^ b&(byOuter|byVoid) | b&(byLine|byRing)
}

// put puts the first piece of a segment in, as far as the next vertex on it or
// the next line that crosses it, and the rest on the pile of work.
func (b *holder) put(s segment) {
	to, crossed, stop := b.trace(s, true)
	if stop {
		b.cross(s, crossed[len(crossed)-1])
		return
	}
	if len(crossed) > 0 {
		b.force(s.a, to, crossed)
	}
	if to != s.b {
		if s.hold.bits&byLine != 0 {
			b.pass(s.hold, to)
		}
		b.work = append(b.work, segment{to, s.b, s.hold})
	}
	h, _ := b.towards(s.a, to)
	b.claim(h, s.hold)
}

// trace follows a segment to the first vertex on it, and lists the edges that it
// crosses on the way. With lines it stops when the last of them is held.
func (b *holder) trace(s segment, lines bool) (to int32, crossed []int32, stop bool) {
	h, to := b.towards(s.a, s.b)
	for to == infinity {
		if lines {
			crossed = append(crossed, h)
			if b.edge[h].mark != 0 {
				return to, crossed, true
			}
		}
		f := b.edge[h].twin
		d := b.edge[prev(f)].org
		side := 0
		if d != s.b {
			side = orient(b.at[s.a], b.at[s.b], b.at[d])
		}
		switch side {
		case 0:
			to = d
		case 1:
			h = next(f)
		case -1:
			h = prev(f)
		}
	}
	return to, crossed, false
}

// towards looks from vertex p to vertex q. It returns the half-edge from p
// along that line and the vertex it leads to, or the edge across it and infinity.
func (b *holder) towards(p, q int32) (h, to int32) {
	for h := b.out[p]; ; {
		x, y := b.edge[next(h)].org, b.edge[prev(h)].org
		switch {
		case x == q:
			return h, q
		case x == infinity:
		default:
			s := orient(b.at[p], b.at[q], b.at[x])
			if s == 0 && ahead(b.at[p], b.at[q], b.at[x]) {
				return h, x
			}
			if s < 0 && y != infinity && y != q && orient(b.at[p], b.at[q], b.at[y]) > 0 {
				return next(h), infinity
			}
		}
		h = b.edge[prev(h)].twin
	}
}

// claim marks an edge.
func (b *holder) claim(h int32, by *hold) {
	if m := b.edge[h].mark; m != 0 {
		was := b.holds[m]
		both := together(was.bits, by.bits)
		if both == was.bits {
			return
		}
		by = &hold{both, was.ends, was.line}
	}
	if n := len(b.holds); b.holds[n-1] != by {
		b.holds = append(b.holds, by)
	}
	b.mark(h, int32(len(b.holds)-1))
}

func (b *holder) mark(h, m int32) {
	b.edge[h].mark = m
	b.edge[b.edge[h].twin].mark = m
}

// edgeOf is an edge by its vertices, with the half-edge where it last was: flips
// around it may have moved it to another.
type edgeOf struct{ x, y, h int32 }

func (b *build) ends(h int32) edgeOf { return edgeOf{b.edge[h].org, b.edge[next(h)].org, h} }

// find returns the half-edge of an edge, or -1 when there is no such edge.
func (b *build) find(e edgeOf) int32 {
	if b.ends(e.h) == e {
		return e.h
	}
	first := b.out[e.x]
	for h := first; ; {
		if b.edge[next(h)].org == e.y {
			return h
		}
		if h = b.edge[prev(h)].twin; h == first {
			return -1
		}
	}
}

// force flips the crossed edges until p to q is an edge, and then makes the
// others Delaunay again. An edge whose quadrilateral is not convex waits until
// its neighbours have been flipped; the last that waits always can be (S. W.
// Sloan, A fast algorithm for generating constrained Delaunay triangulations,
// Computers & Structures 47, 1993, from memory).
func (b *holder) force(p, q int32, crossed []int32) {
	wait := make([]edgeOf, len(crossed))
	for i, h := range crossed {
		wait[i] = b.ends(h)
	}
	var fresh []edgeOf
	for len(wait) > 0 {
		e := wait[0]
		wait = wait[1:]
		h := b.find(e)
		l, r := b.edge[prev(h)].org, b.edge[prev(b.edge[h].twin)].org
		if orient(b.at[l], b.at[r], b.at[e.x]) >= 0 || orient(b.at[l], b.at[r], b.at[e.y]) <= 0 {
			wait = append(wait, e)
			continue
		}
		b.flip(h)
		e = b.ends(prev(h))
		if l != p && l != q && r != p && r != q &&
			orient(b.at[p], b.at[q], b.at[l])*orient(b.at[p], b.at[q], b.at[r]) < 0 {
			wait = append(wait, e)
		} else {
			fresh = append(fresh, e)
		}
	}
	h, _ := b.towards(p, q)
	b.mark(h, held)
	for _, e := range fresh {
		if h := b.find(e); h >= 0 {
			b.stack = append(b.stack, h)
			b.legalize(true)
		}
	}
	h, _ = b.towards(p, q)
	b.mark(h, 0)
}

// held marks the edge that is being put in.
const held = -1

// cross deals with a segment that crosses the held edge h. Both become lines
// through the vertex that stands for the crossing.
func (b *holder) cross(s segment, h int32) {
	other := b.holds[b.edge[h].mark]
	x, y := b.edge[h].org, b.edge[next(h)].org
	c := Crossing{Ends: [4]int32{s.hold.ends[0], s.hold.ends[1], other.ends[0], other.ends[1]}}
	p, q := s.hold.line, other.line
	if !b.crosses(p, q) {
		b.slips++ // they cross by a rounding before
		p, q = [2]int32{s.a, s.b}, [2]int32{x, y}
	}
	t := b.share(p, q)
	c.E, c.N = along(b.at[p[0]].E, b.at[p[1]].E, t), along(b.at[p[0]].N, b.at[p[1]].N, t)
	one, two := s.hold.bits&byLine != 0, other.bits&byLine != 0
	if one {
		c.Z = along(b.z[p[0]], b.z[p[1]], t)
	}
	if two {
		c.Other = along(b.z[q[0]], b.z[q[1]], b.share(q, p))
	}
	switch {
	case s.hold.bits&byRing != 0 && other.bits&byRing != 0:
		b.faults = append(b.faults, Fault{Kind: RingsCross, Points: c.Ends[:], At: Place{c.E, c.N}})
		return
	case one && two && (c.Z-c.Other).Abs() > b.same:
		b.faults = append(b.faults, Fault{Kind: LinesCross, Points: c.Ends[:], At: Place{c.E, c.N}, Levels: [2]unit.Length{c.Z, c.Other}})
		return
	case !one:
		c.Z = c.Other
	case !two:
		c.Other = c.Z
	}
	b.mark(h, 0)
	b.stack = append(b.stack, h)
	b.legalize(true)
	v := b.vertex(c, s.hold, b.out[x])
	b.work = append(b.work, segment{v, s.b, s.hold}, segment{s.a, v, s.hold}, segment{v, y, other}, segment{x, v, other})
}

// vertex returns the vertex of a crossing: a new one, or the one that is there.
// by is one of the lines that cross there.
func (b *holder) vertex(c Crossing, by *hold, near int32) int32 {
	v := int32(len(b.at))
	b.at, b.z, b.out = append(b.at, Place{c.E, c.N}), append(b.z, c.Z), append(b.out, 0)
	there := b.insert(v, near)
	if there == v {
		c.vertex = v
		b.added = append(b.added, c)
		return v
	}
	b.slips++
	b.at, b.z, b.out = b.at[:v], b.z[:v], b.out[:v]
	if (b.z[there] - c.Z).Abs() > b.same {
		b.passed = append(b.passed, passing{there, by.ends, c.Z})
	}
	return there
}

// pass notes a vertex on a breakline that has another level than the line. Where
// other lines cross to make that vertex, it is a fault like any crossing.
func (b *holder) pass(h *hold, v int32) {
	p, q, at := b.at[h.line[0]], b.at[h.line[1]], b.at[v]
	// how far along, by the coordinate that changes more
	n, d := at.E-p.E, q.E-p.E
	if (q.N - p.N).Abs() > d.Abs() {
		n, d = at.N-p.N, q.N-p.N
	}
	z := along(b.z[h.line[0]], b.z[h.line[1]], new(big.Rat).SetFrac(big64(n), big64(d)))
	if (z - b.z[v]).Abs() <= b.same {
		return
	}
	if k := int(v) - (len(b.at) - len(b.added)); k >= 0 {
		c := &b.added[k]
		b.faults = append(b.faults, Fault{LinesCross, []int32{h.ends[0], h.ends[1], c.Ends[0], c.Ends[1]}, at, [2]unit.Length{z, b.z[v]}})
		return
	}
	b.passed = append(b.passed, passing{v, h.ends, z})
}

func big64(l unit.Length) *big.Int { return big.NewInt(int64(l)) }

// crosses reports whether two lines cut each other in one place inside both.
func (b *holder) crosses(p, q [2]int32) bool {
	p0, p1, q0, q1 := b.at[p[0]], b.at[p[1]], b.at[q[0]], b.at[q[1]]
	return orient(p0, p1, q0)*orient(p0, p1, q1) < 0 && orient(q0, q1, p0)*orient(q0, q1, p1) < 0
}

// share is how far along p the line through q crosses it.
func (b *holder) share(p, q [2]int32) *big.Rat {
	x, y := b.at[q[0]], b.at[q[1]]
	side := func(v Place) *big.Int {
		return cross(int64(y.E-x.E), int64(y.N-x.N), int64(v.E-x.E), int64(v.N-x.N)).big()
	}
	n, m := side(b.at[p[0]]), side(b.at[p[1]])
	return new(big.Rat).SetFrac(n, m.Sub(n, m))
}

// along is the value between two, rounded once to one count, half upwards.
func along(from, to unit.Length, t *big.Rat) unit.Length {
	v := new(big.Rat).SetInt64(int64(to - from))
	v.Mul(v, t).Add(v, big.NewRat(1, 2))
	return from + unit.Length(new(big.Int).Div(v.Num(), v.Denom()).Int64())
}
