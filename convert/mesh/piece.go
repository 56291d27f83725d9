package mesh

// piece is a convex polygon that is cut smaller.
type piece struct {
	p, spare []corner
	side     []float64
}

// from is a place in counts from another.
func from(o, p Place) corner { return corner{x: float64(p.E - o.E), y: float64(p.N - o.N)} }

// face makes the piece a whole face.
func (p *piece) face(o Place, f *[3]Vertex) {
	p.p = append(p.p[:0], corner{}, from(o, f[1].place()), from(o, f[2].place()))
}

// cut leaves what is inside a triangle, one side after the other (I. E.
// Sutherland, G. W. Hodgman, Reentrant polygon clipping, 1974).
func (p *piece) cut(o Place, by *[3]Place) {
	a := from(o, by[2])
	for i := range by {
		b := from(o, by[i])
		ex, ey := b.x-a.x, b.y-a.y
		p.side = p.side[:0]
		out, in := false, false
		for _, v := range p.p {
			s := ex*(v.y-a.y) - ey*(v.x-a.x)
			out, in = out || s < 0, in || s > 0
			p.side = append(p.side, s)
		}
		if !in {
			p.p = p.p[:0]
			return
		}
		if out {
			p.keep()
		}
		a = b
	}
}

// over makes the piece the part of another where the difference is past a
// level, upwards or with sign -1 downwards, with its differences from there.
func (p *piece) over(of []corner, sign, level float64) []corner {
	p.p, p.side = append(p.p[:0], of...), p.side[:0]
	out := false
	for k := range p.p {
		v := &p.p[k]
		v.d = sign * (v.d - level)
		out = out || v.d < 0
		p.side = append(p.side, v.d)
	}
	if out {
		p.keep()
	}
	return p.p
}

// keep leaves the part where side is not negative.
func (p *piece) keep() {
	q := p.spare[:0]
	last := len(p.p) - 1
	for k := range p.p {
		s, t := p.side[last], p.side[k]
		if s < 0 && t > 0 || s > 0 && t < 0 {
			q = append(q, p.p[last].towards(p.p[k], s/(s-t)))
		}
		if t >= 0 {
			q = append(q, p.p[k])
		}
		last = k
	}
	p.p, p.spare = q, p.p
}

func (c corner) towards(to corner, t float64) corner {
	if t > 0.5 { // from the nearer end
		c, to, t = to, c, 1-t
	}
	return corner{c.x + (to.x-c.x)*t, c.y + (to.y-c.y)*t, c.d + (to.d-c.d)*t}
}
