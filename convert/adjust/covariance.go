package adjust

import (
	"math"
	"slices"
)

// piece is the part of a half-solved column that one front holds.
type piece struct {
	front int32
	y     []float64
}

// half solves the first half of the normal equations for a column with the given
// values at unknowns: the covariance of two combinations of unknowns is the
// product of their halves. Only fronts on the way up from those unknowns are
// touched.
func (f *factor) half(unknowns []int32, values []float64) []piece {
	var path []piece
	at := map[int32]int{} // of a front in the path
	for _, i := range unknowns {
		for s := f.front[f.place[i]]; s >= 0; s = f.parent[s] {
			if _, there := at[s]; there {
				break
			}
			at[s] = 0
			path = append(path, piece{s, make([]float64, f.size(s))})
		}
	}
	slices.SortFunc(path, func(a, b piece) int { return int(a.front - b.front) })
	for k := range path {
		at[path[k].front] = k
	}
	for k, i := range unknowns {
		p := f.place[i]
		s := f.front[p]
		path[at[s]].y[p-f.first[s]] += values[k]
	}
	for k := range path {
		s, y := path[k].front, path[k].y
		own := f.own(s)
		for p := range own {
			add1(y[p+1:], f.column(s, p), y[p])
			y[p] /= math.Sqrt(f.sum[int(f.first[s])+p])
		}
		if up := f.parent[s]; up >= 0 {
			to := path[at[up]].y
			for i, w := range f.withinOf(s) {
				to[w] += y[own+i]
			}
		}
		path[k].y = y[:own]
	}
	return path
}

// product of two half-solved columns.
func product(a, b []piece) float64 {
	v := 0.0
	for len(a) > 0 && len(b) > 0 {
		switch {
		case a[0].front < b[0].front:
			a = a[1:]
		case a[0].front > b[0].front:
			b = b[1:]
		default:
			v += dot(a[0].y, b[0].y)
			a, b = a[1:], b[1:]
		}
	}
	return v
}

// stand is how a level hangs on junctions: by spurs on a point that is part of
// the rest, which is itself, or lies on a tie with so much of its variance before
// and after it.
type stand struct {
	root          int32
	tie           int32 // -1 when the root is a junction or held
	before, after float64
	depth         int // spurs between
	spurs         float64
}

func (r *Result) stand(p int32) stand {
	f := r.f
	s := stand{root: p, tie: -1}
	for f.role[s.root] == hanging {
		x := &f.spurs[f.where[s.root]]
		s.spurs += f.net.Observations[x.observation].Variance
		s.root = x.on
		s.depth++
	}
	if f.role[s.root] == inner {
		s.tie = f.where[s.root]
		t := &f.ties[s.tie]
		sum := &s.before
		for _, l := range f.links[t.first : t.first+t.count] {
			*sum += f.net.Observations[l.observation].Variance
			if l.to == s.root {
				sum = &s.after
			}
		}
	}
	return s
}

// parts are the junctions that a level is made of, times sign.
func (r *Result) parts(s *stand, sign float64, unknowns []int32, values []float64) ([]int32, []float64) {
	add := func(p int32, v float64) {
		if k := r.mesh.number(p); k >= 0 {
			unknowns, values = append(unknowns, k), append(values, sign*v)
		}
	}
	if s.tie < 0 {
		add(s.root, 1)
		return unknowns, values
	}
	t := &r.f.ties[s.tie]
	add(t.from, s.after/t.variance)
	add(t.to, s.before/t.variance)
	return unknowns, values
}

// meet is the variance of the spurs that two points of the same root have in
// common, and that of those that they have not.
func (r *Result) meet(p, q int32, a, b *stand) (common, apart float64) {
	f := r.f
	up := func(p int32) (int32, float64) {
		x := &f.spurs[f.where[p]]
		return x.on, f.net.Observations[x.observation].Variance
	}
	var v float64
	for da, db := a.depth, b.depth; p != q; {
		if da >= db {
			p, v = up(p)
			da--
		} else {
			q, v = up(q)
			db--
		}
		apart += v
	}
	for f.role[p] == hanging {
		p, v = up(p)
		common += v
	}
	return common, apart
}

// Covariance is that of the adjusted levels of two points, in mm²; with a held
// point, or one in a loose part, it is 0. One that is not adjusted has none.
func (r *Result) Covariance(p, q int) float64 {
	if r.Points[p].State == Loose || r.Points[q].State == Loose {
		return 0
	}
	a, b := r.stand(int32(p)), r.stand(int32(q))
	v := product(r.halfOf(&a), r.halfOf(&b))
	if a.tie >= 0 && a.tie == b.tie {
		v += min(a.before, b.before) / r.f.ties[a.tie].variance * min(a.after, b.after)
	}
	if a.root == b.root {
		common, _ := r.meet(int32(p), int32(q), &a, &b)
		v += common
	}
	return v
}

func (r *Result) halfOf(s *stand) []piece {
	return r.mesh.factor.half(r.parts(s, 1, nil, nil))
}

// DifferenceVariance is that of the level of q minus that of p, in mm², with what
// the two have in common. It is summed from positive numbers: that of two near
// points far from any mark has as many digits as any other. ok is false when
// either is in a loose part.
func (r *Result) DifferenceVariance(p, q int) (v float64, ok bool) {
	if r.Points[p].State == Loose || r.Points[q].State == Loose {
		return 0, false
	}
	a, b := r.stand(int32(p)), r.stand(int32(q))
	if a.root != b.root {
		unknowns, values := r.parts(&a, -1, nil, nil)
		h := r.mesh.factor.half(r.parts(&b, 1, unknowns, values))
		v = product(h, h) + a.spurs + b.spurs
		if a.tie >= 0 && a.tie == b.tie {
			s, d := r.f.ties[a.tie].variance, math.Abs(a.before-b.before)
			return v + d/s*(s-d), true
		}
		return v + r.own(&a) + r.own(&b), true
	}
	_, v = r.meet(int32(p), int32(q), &a, &b)
	return v, true
}

// own is the variance of a change point when the ends of its tie are fixed.
func (r *Result) own(s *stand) float64 {
	if s.tie < 0 {
		return 0
	}
	return s.before / r.f.ties[s.tie].variance * s.after
}
