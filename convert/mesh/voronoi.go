package mesh

import (
	"cmp"
	"math"
	"math/big"
	"slices"
)

// search looks for the largest empty circle. Over the part of the region that is
// nearest to one point, the distance to that point is largest at a corner of
// the part: a vertex of the Voronoi diagram, a crossing of an edge of it with a
// side of the region, or a corner of the region.
type search struct {
	*build
	in    *Region
	sides [][2]Place
	first []int32 // of each vertex, into beside; and the end of the last
	near  []int32 // vertices beside each
	found []candidate
}

type kind uint8

const (
	atCorner kind = iota // a is nearest to the first end of side
	atSide               // a and b are nearest to a place on side
	atCircle             // a, b and c are on the circle
)

// candidate is a place that may be the centre, with its distance from the
// nearest points, and the error of that.
type candidate struct {
	r, err  float64
	kind    kind
	a, b, c int32
	side    int32
}

func newSearch(points []Place, in *Region) *search {
	v := make([]Vertex, len(points))
	for i, p := range points {
		v[i] = Vertex{E: p.E, N: p.N}
	}
	b, _ := grow(v, order(v))
	s := &search{build: b, in: in}
	for _, ring := range in.rings {
		for i, p := range ring {
			s.sides = append(s.sides, [2]Place{p, ring[(i+1)%len(ring)]})
		}
	}
	if b.flat() {
		s.chain()
	} else {
		s.stars()
	}
	return s
}

// stars lists the vertices that each one shares an edge with.
func (s *search) stars() {
	s.first = make([]int32, len(s.at)+1)
	real := func(h int32) bool { return s.edge[h].org != infinity && s.edge[next(h)].org != infinity }
	for h := range int32(len(s.edge)) {
		if real(h) {
			s.first[s.edge[h].org+1]++
		}
	}
	for v := range s.at {
		s.first[v+1] += s.first[v]
	}
	s.near = make([]int32, s.first[len(s.at)])
	at := slices.Clone(s.first)
	for h := range int32(len(s.edge)) {
		if real(h) {
			v := s.edge[h].org
			s.near[at[v]] = s.edge[next(h)].org
			at[v]++
		}
	}
}

// chain is stars for points in one line.
func (s *search) chain() {
	slices.SortFunc(s.at, func(p, q Place) int { return cmp.Or(cmp.Compare(p.E, q.E), cmp.Compare(p.N, q.N)) })
	s.first = []int32{0}
	for v := range s.at {
		if v > 0 {
			s.near = append(s.near, int32(v-1))
		}
		if v+1 < len(s.at) {
			s.near = append(s.near, int32(v+1))
		}
		s.first = append(s.first, int32(len(s.near)))
	}
}

func (s *search) beside(v int32) []int32 { return s.near[s.first[v]:s.first[v+1]] }

// corners adds the corners of the region, and the places along its sides where
// another point becomes the nearest.
func (s *search) corners() {
	k := 0
	for _, ring := range s.in.rings {
		v := s.nearestTo(ring[0], 0)
		for range ring {
			from := s.sides[k][0]
			r := distance(from, s.at[v])
			s.found = append(s.found, candidate{r: r, err: 4 * u * r, kind: atCorner, a: v, side: int32(k)})
			v = s.along(int32(k), v)
			k++
		}
	}
}

func distance(p, q Place) float64 { return math.Hypot(float64(p.E-q.E), float64(p.N-q.N)) }

// nearestTo walks to the vertex nearest to a place. From every vertex but that
// one a neighbour is nearer.
func (s *search) nearestTo(p Place, v int32) int32 {
	from := func(v int32) uint128 { return square(int64(s.at[v].E-p.E), int64(s.at[v].N-p.N)) }
	for d := from(v); ; {
		better := v
		for _, w := range s.beside(v) {
			if e := from(w); e.compare(d) < 0 {
				better, d = w, e
			}
		}
		if better == v {
			return v
		}
		v = better
	}
}

// meeting is where along a side two vertices are equally near: num/den of it.
func (s *search) meeting(side *[2]Place, v, w int32) (num, den uint128, ahead bool) {
	p, a, b := side[0], s.at[v], s.at[w]
	along := dot(int64(side[1].E-p.E), int64(side[1].N-p.N), int64(b.E-a.E), int64(b.N-a.N))
	if along.sign() <= 0 {
		return num, den, false
	}
	n := square(int64(b.E-p.E), int64(b.N-p.N)).minus(square(int64(a.E-p.E), int64(a.N-p.N)))
	d := along.abs()
	return n, d.add(d), true
}

// along walks along a side, v being nearest to its first end, and returns the
// vertex nearest to its last. The square of the distance from a place on the
// side to a vertex is, but for a part that all vertices share, a linear function
// of the place; of those the least is looked for. The next one is beside the
// one before, and falls more steeply.
func (s *search) along(k, v int32) int32 {
	side := &s.sides[k]
	for {
		to := int32(infinity)
		var num, den uint128
		for _, w := range s.beside(v) {
			n, d, ok := s.meeting(side, v, w)
			if !ok || n.compare(d) > 0 {
				continue
			}
			if to == infinity || compareProducts(n, den, num, d) < 0 {
				to, num, den = w, n, d
			}
		}
		if to == infinity {
			return v
		}
		t := num.float() / den.float()
		e, n := float64(side[1].E-side[0].E), float64(side[1].N-side[0].N)
		x, y := float64(side[0].E-s.at[v].E), float64(side[0].N-s.at[v].N)
		s.found = append(s.found, candidate{
			r:    math.Hypot(x+t*e, y+t*n),
			err:  16 * u * (math.Abs(x) + math.Abs(y) + math.Abs(e) + math.Abs(n)),
			kind: atSide, a: v, b: to, side: k})
		v = to
	}
}

// circles adds the circles of the faces that may be centred inside.
func (s *search) circles() {
	for h := int32(0); h < int32(len(s.edge)); h += 3 {
		if s.ghost(h) {
			continue
		}
		c := candidate{kind: atCircle, a: s.edge[h].org, b: s.edge[h+1].org, c: s.edge[h+2].org}
		// a opposite to the longest side: the centre comes out best from there
		if ab, bc, ca := distance(s.at[c.a], s.at[c.b]), distance(s.at[c.b], s.at[c.c]), distance(s.at[c.c], s.at[c.a]); ab > bc && ab > ca {
			c.a, c.b, c.c = c.c, c.a, c.b
		} else if ca > bc {
			c.a, c.b, c.c = c.b, c.c, c.a
		}
		x, y, err := s.centreOf(&c)
		c.r = math.Hypot(x, y)
		c.err = err + 8*u*c.r
		lo, hi := from(s.at[c.a], s.in.box.lo), from(s.at[c.a], s.in.box.hi)
		if pad := c.err + 4*u*(math.Abs(lo.x)+math.Abs(lo.y)+math.Abs(hi.x)+math.Abs(hi.y)); x+pad >= lo.x && x-pad <= hi.x && y+pad >= lo.y && y-pad <= hi.y {
			s.found = append(s.found, c)
		}
	}
}

// centreOf is the centre of a circle in counts from its point a, and the error
// of it: six roundings of each product, their difference, and four of the
// quotient.
func (s *search) centreOf(c *candidate) (x, y, err float64) {
	b, d := from(s.at[c.a], s.at[c.b]), from(s.at[c.a], s.at[c.c])
	bb, dd := b.x*b.x+b.y*b.y, d.x*d.x+d.y*d.y
	area := 2 * s.doubled(c).abs().float()
	x, y = (d.y*bb-b.y*dd)/area, (b.x*dd-d.x*bb)/area
	err = 16 * u * ((math.Abs(d.y)+math.Abs(d.x))*bb + (math.Abs(b.y)+math.Abs(b.x))*dd) / area
	return x, y, err
}

// doubled is twice the area of the face of a circle.
func (s *search) doubled(c *candidate) int128 {
	a, b, d := s.at[c.a], s.at[c.b], s.at[c.c]
	return cross(int64(b.E-a.E), int64(b.N-a.N), int64(d.E-a.E), int64(d.N-a.N))
}

// inside reports whether a circle is centred inside the region.
func (s *search) inside(c *candidate) bool {
	x, y, _ := s.centreOf(c)
	o := s.at[c.a]
	pad := c.err + 4*u*(math.Abs(float64(o.E))+math.Abs(float64(o.N))) + 1
	around := box{Place{clamp(float64(o.E) + x - pad), clamp(float64(o.N) + y - pad)}, Place{clamp(float64(o.E) + x + pad), clamp(float64(o.N) + y + pad)}}
	var buffer [16]int32
	unsure := buffer[:0]
	for _, f := range s.in.boxes.touching(around, nil) {
		t := &s.in.faces[f]
		least := math.Inf(1)
		for i := range t {
			p, q := from(o, t[i]), from(o, t[(i+1)%3])
			ex, ey := q.x-p.x, q.y-p.y
			l, r := ex*(y-p.y), ey*(x-p.x)
			e := 8*u*(math.Abs(l)+math.Abs(r)+(math.Abs(ex)+math.Abs(ey))*(math.Abs(x)+math.Abs(y)+math.Abs(p.x)+math.Abs(p.y)+math.Abs(q.x)+math.Abs(q.y))) + c.err*(math.Abs(ex)+math.Abs(ey))
			switch d := l - r; {
			case d > e:
				least = min(least, 1)
			case d < -e:
				least = -1
			default:
				least = min(least, 0)
			}
		}
		switch least {
		case 1:
			return true
		case 0:
			unsure = append(unsure, f)
		}
	}
	if len(unsure) == 0 {
		return false
	}
	e, n, den := s.circle(c)
	for _, f := range unsure {
		if s.holds(&s.in.faces[f], o, e, n, den) {
			return true
		}
	}
	return false
}

// holds reports whether a face of the region holds the place o + (e, n)/den.
func (s *search) holds(t *[3]Place, o Place, e, n, den *big.Int) bool {
	for i := range t {
		p, q := t[i], t[(i+1)%3]
		de, dn := big64(q.E-p.E), big64(q.N-p.N)
		side := cross(int64(q.E-p.E), int64(q.N-p.N), int64(o.E-p.E), int64(o.N-p.N)).big()
		side.Mul(side, den)
		side.Add(side, de.Mul(de, n))
		if side.Sub(side, dn.Mul(dn, e)).Sign() < 0 {
			return false
		}
	}
	return true
}

// circle is the centre of a circle from its point a: (e, n)/den.
func (s *search) circle(c *candidate) (e, n, den *big.Int) {
	o, b, d := s.at[c.a], s.at[c.b], s.at[c.c]
	be, bn, ce, cn := b.E-o.E, b.N-o.N, d.E-o.E, d.N-o.N
	bb, cc := square(int64(be), int64(bn)).big(), square(int64(ce), int64(cn)).big()
	difference := func(k, l *big.Int) *big.Int {
		x := new(big.Int).Mul(k, bb)
		return x.Sub(x, new(big.Int).Mul(l, cc))
	}
	den = s.doubled(c).big()
	return difference(big64(cn), big64(bn)), new(big.Int).Neg(difference(big64(ce), big64(be))), den.Lsh(den, 1)
}

// fromNearest is the place of a candidate on a side, from its point a:
// (e, n)/den.
func (s *search) fromNearest(c *candidate) (e, n, den *big.Int) {
	side, o := &s.sides[c.side], s.at[c.a]
	num, d, _ := s.meeting(side, c.a, c.b)
	t := num.big()
	den = d.big()
	part := func(from, to, o *big.Int) *big.Int {
		x := new(big.Int).Sub(to, from)
		x.Mul(x, t)
		from.Sub(from, o)
		return x.Add(x, from.Mul(from, den))
	}
	return part(big64(side[0].E), big64(side[1].E), big64(o.E)), part(big64(side[0].N), big64(side[1].N), big64(o.N)), den
}

// square is the square of the radius of a candidate.
func (s *search) square(c *candidate) fraction {
	switch c.kind {
	case atCorner:
		p, q := s.sides[c.side][0], s.at[c.a]
		return fraction{square(int64(p.E-q.E), int64(p.N-q.N)).big(), big.NewInt(1)}
	case atSide:
		e, n, den := s.fromNearest(c)
		num := e.Mul(e, e)
		return fraction{num.Add(num, n.Mul(n, n)), den.Mul(den, den)}
	}
	// R = abc/4F, with 2F the cross product
	side := func(v, w int32) *big.Int {
		p, q := s.at[v], s.at[w]
		return square(int64(p.E-q.E), int64(p.N-q.N)).big()
	}
	num := side(c.a, c.b)
	num.Mul(num, side(c.b, c.c)).Mul(num, side(c.c, c.a))
	den := s.doubled(c).big()
	return fraction{num, den.Mul(den, den).Lsh(den, 2)}
}

// centre is the place of a candidate, rounded once.
func (s *search) centre(c *candidate) Place {
	var e, n, den *big.Int
	switch c.kind {
	case atCorner:
		return s.sides[c.side][0]
	case atSide:
		e, n, den = s.fromNearest(c)
	case atCircle:
		e, n, den = s.circle(c)
	}
	o := s.at[c.a]
	return Place{o.E + nearest(e, den), o.N + nearest(n, den)}
}
