package checks

import (
	"math/big"
	"slices"

	"sightrail/convert"
	"sightrail/formats/unit"
)

// The greatest gap over a shot is that of the highest line over it through two points
// of the profile, one on either side, no further apart than the bar: of all places of
// the bar, the one that lifts it most there. With one point held, the height of the
// line over the shot goes one way along a straight piece of the profile, so that the
// highest has its points at shots, or is a whole bar long. Of the lines a whole bar
// long between two pieces the height is a quadratic, and its top is a candidate too.

// point is a point of the profile: on the piece from shot at to the next, share of the
// way; a share of 0 is the shot itself.
type point struct {
	at    int
	share *big.Rat // nil = 0
}

// chord is a line through two points.
type chord struct{ left, right point }

// candidate is a line over shot k with its height over it, in float64 counts.
type candidate struct {
	kind   lineKind
	i, j   int // its shots, or the shots that its pieces begin at
	height float64
}

type lineKind uint8

const (
	shotToShot  lineKind = iota
	fromShot             // from shot i, a whole bar long
	toShot               // to shot j, a whole bar long
	bothBetween          // a whole bar long, between the pieces from i and j
)

// slack is far more than the rounding of a height in float64, and far less than
// anything that is printed: in counts.
const slack = 64

// gap is the greatest gap at shot k under a bar, in counts, and the line it is under.
func (p *profile) gap(k int, bar unit.Length) (*big.Rat, chord) {
	defer func(was unit.Length) { p.bar = was }(p.bar)
	p.bar = bar
	p.found = p.wholeBars(k, p.shots2(k, p.found[:0]))
	best, line := new(big.Rat), chord{}
	top := float64(-2 * slack)
	for i := range p.found {
		top = max(top, p.found[i].height)
	}
	for i := range p.found {
		if c := &p.found[i]; c.height >= top-slack && top >= -slack {
			if l, ok := p.line(k, c); ok {
				if g := p.exact(k, &l); g.Cmp(best) > 0 {
					best, line = g, l
				}
			}
		}
	}
	return best, line
}

// line is the exact line of a candidate.
func (p *profile) line(k int, c *candidate) (chord, bool) {
	whole := func(l unit.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }
	switch c.kind {
	case shotToShot:
		return chord{point{at: c.i}, point{at: c.j}}, true
	case fromShot:
		return chord{point{at: c.i}, p.on(whole(p.x[c.i] + p.bar))}, true
	case toShot:
		return chord{p.on(whole(p.x[c.j] - p.bar)), point{at: c.j}}, true
	}
	left := p.top(k, c.i, c.j)
	if left == nil {
		return chord{}, false
	}
	return chord{p.on(left), p.on(new(big.Rat).Add(left, whole(p.bar)))}, true
}

// shots2 appends the best lines between two shots: for every one on the left the
// highest, and those too near to it to tell.
func (p *profile) shots2(k int, out []candidate) []candidate {
	for i := k - 1; i >= 0 && p.x[k]-p.x[i] < p.bar; i-- {
		first := len(out)
		for j := k + 1; j < len(p.x) && p.x[j]-p.x[i] <= p.bar; j++ {
			h := p.height(k, p.x[i], float64(p.z[i]-p.z[k]), p.x[j], float64(p.z[j]-p.z[k]))
			if len(out) == first || h > out[first].height+slack {
				out = append(out[:first], candidate{shotToShot, i, j, h})
			} else if h > out[first].height-slack {
				out = append(out, candidate{shotToShot, i, j, h})
			}
		}
	}
	return out
}

// height is that of a line over shot k, levels from its own.
func (p *profile) height(k int, xa unit.Length, za float64, xb unit.Length, zb float64) float64 {
	return za + (zb-za)*float64(p.x[k]-xa)/float64(xb-xa)
}

// level is that of the profile at x, on the piece from shot i, from that of shot k.
func (p *profile) level(k, i int, x unit.Length) float64 {
	return float64(p.z[i]-p.z[k]) + float64(p.z[i+1]-p.z[i])*float64(x-p.x[i])/float64(p.x[i+1]-p.x[i])
}

// wholeBars appends the lines a whole bar long: with a shot at the left end, at the
// right end, and between two pieces where the height has a top.
func (p *profile) wholeBars(k int, out []candidate) []candidate {
	last := len(p.x) - 1
	for i, j := k-1, k; i >= 0 && p.x[k]-p.x[i] < p.bar; i-- {
		if q := p.x[i] + p.bar; q <= p.x[last] {
			for j < last-1 && p.x[j+1] < q { // from the first i on, q only falls
				j++
			}
			for j > k && p.x[j] > q {
				j--
			}
			out = append(out, candidate{fromShot, i, 0, p.height(k, p.x[i], float64(p.z[i]-p.z[k]), q, p.level(k, j, q))})
		}
	}
	for i, j := k-1, k+1; j <= last && p.x[j]-p.x[k] < p.bar; j++ {
		if q := p.x[j] - p.bar; q >= p.x[0] {
			for i > 0 && p.x[i] > q {
				i--
			}
			for i < k-1 && p.x[i+1] <= q {
				i++
			}
			out = append(out, candidate{toShot, 0, j, p.height(k, q, p.level(k, i, q), p.x[j], float64(p.z[j]-p.z[k]))})
		}
	}
	for i := k - 1; i >= 0 && p.x[k]-p.x[i+1] < p.bar; i-- {
		for j := k; j < last && p.x[j] < p.x[i+1]+p.bar; j++ {
			if p.x[j+1] <= p.x[i]+p.bar {
				continue
			}
			b1 := float64(p.z[i+1]-p.z[i]) / float64(p.x[i+1]-p.x[i])
			bend := float64(p.z[j+1]-p.z[j])/float64(p.x[j+1]-p.x[j]) - b1
			if bend <= 0 {
				continue
			}
			// as in top
			d := p.level(k, j, p.x[i]+p.bar) - float64(p.z[i]-p.z[k])
			x := float64(p.x[k] - p.x[i])
			t := (b1*float64(p.bar) + bend*x - d) / (2 * bend)
			lo, hi := p.between(k, i, j)
			if t < float64(lo-p.x[i])-slack || t > float64(hi-p.x[i])+slack {
				continue
			}
			left := float64(p.z[i]-p.z[k]) + b1*t
			out = append(out, candidate{bothBetween, i, j, left + (d+bend*t)*(x-t)/float64(p.bar)})
		}
	}
	return out
}

// between is where the left end of a whole bar over shot k may stand, its ends on the
// pieces from shots i and j.
func (p *profile) between(k, i, j int) (lo, hi unit.Length) {
	return max(p.x[i], p.x[j]-p.bar, p.x[k]-p.bar), min(p.x[i+1], p.x[j+1]-p.bar, p.x[k])
}

// top is where the left end of a whole bar stands, on the piece from shot i, when its
// height over shot k is greatest and its right end is on the piece from shot j; nil
// where that is at an end of a piece or there is none.
func (p *profile) top(k, i, j int) *big.Rat {
	num := func(l unit.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }
	slope := func(a int) *big.Rat {
		return new(big.Rat).SetFrac64(int64(p.z[a+1]-p.z[a]), int64(p.x[a+1]-p.x[a]))
	}
	b1, b2 := slope(i), slope(j)
	bend := new(big.Rat).Sub(b2, b1)
	if bend.Sign() <= 0 {
		return nil
	}
	// With t from shot i: left end z_i + b1 t; right end, at x_i + t + bar,
	// z_j + b2 (x_i + bar − x_j) + b2 t. The height over x_k, X from shot i, is
	// left + (right − left)(X − t)/bar; its slope is nought at
	// t = (b1 bar + bend X − D) / (2 bend), D the difference of the ends at t = 0.
	d := new(big.Rat).Mul(b2, num(p.x[i]+p.bar-p.x[j]))
	d.Add(d, num(p.z[j]-p.z[i]))
	t := new(big.Rat).Mul(b1, num(p.bar))
	t.Add(t, new(big.Rat).Mul(bend, num(p.x[k]-p.x[i])))
	t.Sub(t, d)
	t.Quo(t, bend.Add(bend, bend))
	at := t.Add(t, num(p.x[i]))
	lo, hi := p.between(k, i, j)
	if at.Cmp(num(lo)) <= 0 || at.Cmp(num(hi)) >= 0 {
		return nil
	}
	return at
}

// on is the point of the profile at a place along it.
func (p *profile) on(x *big.Rat) point {
	k, _ := slices.BinarySearchFunc(p.x, x, func(l unit.Length, x *big.Rat) int { return new(big.Rat).SetInt64(int64(l)).Cmp(x) })
	if k < len(p.x) && new(big.Rat).SetInt64(int64(p.x[k])).Cmp(x) == 0 {
		return point{at: k}
	}
	k--
	share := new(big.Rat).Sub(x, new(big.Rat).SetInt64(int64(p.x[k])))
	return point{k, share.Quo(share, new(big.Rat).SetInt64(int64(p.x[k+1]-p.x[k])))}
}

// place is where a point is: along, and level.
func (p *profile) place(q point) (x, z *big.Rat) {
	x, z = new(big.Rat).SetInt64(int64(p.x[q.at])), new(big.Rat).SetInt64(int64(p.z[q.at]))
	if q.share != nil {
		x.Add(x, new(big.Rat).Mul(q.share, new(big.Rat).SetInt64(int64(p.x[q.at+1]-p.x[q.at]))))
		z.Add(z, new(big.Rat).Mul(q.share, new(big.Rat).SetInt64(int64(p.z[q.at+1]-p.z[q.at]))))
	}
	return x, z
}

// exact is the height of a line over shot k.
func (p *profile) exact(k int, c *chord) *big.Rat {
	xa, za := p.place(c.left)
	xb, zb := p.place(c.right)
	h := zb.Sub(zb, za)
	h.Mul(h, new(big.Rat).Sub(new(big.Rat).SetInt64(int64(p.x[k])), xa))
	h.Quo(h, xb.Sub(xb, xa))
	h.Add(h, za)
	return h.Sub(h, new(big.Rat).SetInt64(int64(p.z[k])))
}

// contact names a point of the profile for a reader.
func (p *profile) contact(q point, f *convert.Frame) string {
	if q.share == nil {
		return named(p.shots[q.at])
	}
	x, _ := p.place(q)
	return inUnit(f, rounded(x)-p.x[q.at]) + " past " + named(p.shots[q.at])
}
