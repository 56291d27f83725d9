package report

import "math"

// box is a rectangle of a drawing, y downwards.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) meets(o box) bool { return b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1 }

func (b box) holds(o box) bool { return o.x0 >= b.x0 && o.x1 <= b.x1 && o.y0 >= b.y0 && o.y1 <= b.y1 }

func (b box) has(x, y float64) bool { return x > b.x0 && x < b.x1 && y > b.y0 && y < b.y1 }

// around is the box of a mark.
func around(x, y, r float64) box { return box{x - r, y - r, x + r, y + r} }

// placer finds room for labels. A label never covers another label, a mark that
// is taken or the edge of the frame; of the places that are left it takes the
// nearest that covers the fewest dots.
type placer struct {
	frame box
	taken []box
	dots  [][2]float64
	lines [][4]float64 // drawn lines that a label had better not cross
}

// labelReach are the distances from its mark that a label is tried at.
var labelReach = []float64{9, 20, 34, 50}

// labelTurns are the directions it is tried in, in turns from the east,
// clockwise: beside first, then above and below, then across.
var labelTurns = []float64{0, 4, 6, 2, 7, 1, 5, 3}

// place finds room for a label of size w × h at a mark. It returns the box, and
// whether there is any.
func (p *placer) place(x, y, w, h float64) (box, bool) {
	best, cost, found := box{}, math.Inf(1), false
	for i, reach := range labelReach {
		for k, turn := range labelTurns {
			sin, cos := math.Sincos(turn * math.Pi / 4)
			cx, cy := x+cos*(reach+w/2), y+sin*(reach+h/2)
			if turn == 2 || turn == 6 {
				cx = x
			}
			b := box{cx - w/2, cy - h/2, cx + w/2, cy + h/2}
			if !p.free(b) {
				continue
			}
			now := float64(i)*4 + float64(k)*0.1 + p.covers(b)
			if now < cost {
				best, cost, found = b, now, true
			}
		}
		if found && cost < float64(i+1)*4 {
			break
		}
	}
	if found {
		p.taken = append(p.taken, best)
	}
	return best, found
}

func (p *placer) free(b box) bool {
	if !p.frame.holds(b) {
		return false
	}
	for _, t := range p.taken {
		if t.meets(b) {
			return false
		}
	}
	return true
}

func (p *placer) covers(b box) float64 {
	n := 0.0
	for _, d := range p.dots {
		if b.has(d[0], d[1]) {
			n++
		}
	}
	for _, l := range p.lines {
		if crosses(b, l) {
			n += 2
		}
	}
	return n
}

// crosses reports whether a line goes through a box, by cutting it at the four
// sides.
func crosses(b box, l [4]float64) bool {
	t0, t1 := 0.0, 1.0
	dx, dy := l[2]-l[0], l[3]-l[1]
	for _, s := range [4][2]float64{{-dx, l[0] - b.x0}, {dx, b.x1 - l[0]}, {-dy, l[1] - b.y0}, {dy, b.y1 - l[1]}} {
		switch {
		case s[0] == 0 && s[1] < 0:
			return false
		case s[0] < 0:
			t0 = max(t0, s[1]/s[0])
		case s[0] > 0:
			t1 = min(t1, s[1]/s[0])
		}
	}
	return t0 < t1
}

// label letters a text of one or two lines at a mark, with a thin line to it
// where it stands apart. It reports whether there was room.
func (c *canvas) label(class string, x, y float64, lines ...string) bool {
	w := 0.0
	for _, s := range lines {
		w = max(w, textWidth(s, letter))
	}
	const step = lineStep - 2
	h := step*float64(len(lines)) + 1
	b, ok := c.labels.place(x, y, w+2, h)
	if !ok {
		return false
	}
	// the point of the box that is nearest to the mark
	nx, ny := min(max(x, b.x0), b.x1), min(max(y, b.y0), b.y1)
	if math.Hypot(nx-x, ny-y) > 14 {
		c.line("leader", x, y, nx, ny)
	}
	anchor, at := "middle", (b.x0+b.x1)/2
	switch {
	case b.x0 >= x:
		anchor, at = "start", b.x0
	case b.x1 <= x:
		anchor, at = "end", b.x1
	}
	for i, s := range lines {
		c.words(class+" "+anchor, at, b.y0+step*float64(i+1)-2.5, s)
	}
	return true
}
