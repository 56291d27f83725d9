package adjust

// laplacian is the matrix of the normal equations as a network of weights, in
// 1/mm²: joint k joins unknowns from[k] and to[k] with weight[k]; held[i] is the
// weight that joins unknown i to what is held. Its diagonal is the sum of the
// weights at an unknown, and is stored nowhere.
type laplacian struct {
	from, to []int32
	weight   []float64
	held     []float64
}

// factor is a laplacian after elimination. Eliminating unknown i joins those
// that it was joined to: with weights w, held weight h and d = h + Σw, the share
// l_j = w_j/d of i goes to j, and j and k are joined by l_j·w_k more. Only sums of
// positive numbers are formed, so that every share has nearly all its digits,
// whatever the weights (Grassmann, Taksar, Heyman, "Regenerative analysis and
// steady state distributions for Markov chains", Operations Research 33 (1985)).
type factor struct {
	*plan
	// share of the own unknowns of front f, a column for each, down from the next
	// member of the front; columns of front f begin at columns[f]
	shares  []float64
	columns []int
	sum     []float64 // d, by place
	joint   []int32   // joints of front f are joint[joints[f]:joints[f+1]]
	joints  []int32
	ends    [][2]int32 // of a joint of the laplacian: places, the earlier first
}

// newFactor eliminates the unknowns front by front, a front when all its
// children are done. Method: Duff, Reid, "The multifrontal solution of indefinite
// sparse symmetric linear equations", ACM Trans. Math. Softw. 9 (1983). It is nil
// when it would have more than most elements.
func newFactor(a *laplacian, most int) *factor {
	n := len(a.held)
	pairs := make([][2]int32, len(a.from))
	for k := range a.from {
		pairs[k] = [2]int32{a.from[k], a.to[k]}
	}
	p := newPlan(newGraph(n, pairs), most)
	if p == nil {
		return nil
	}
	f := &factor{plan: p, ends: pairs}
	f.sortJoints()
	f.columns = make([]int, f.fronts()+1)
	for s := range int32(f.fronts()) {
		k, m := f.own(s), f.size(s)
		f.columns[s+1] = f.columns[s] + k*m - k*(k+1)/2
	}
	f.shares = make([]float64, f.columns[f.fronts()])
	f.sum = make([]float64, n)
	f.eliminate(a)
	return f
}

// sortJoints lists the joints by the front that eliminates their earlier end.
func (f *factor) sortJoints() {
	f.joints = make([]int32, f.fronts()+1)
	for k, e := range f.ends {
		i, j := f.place[e[0]], f.place[e[1]]
		if i > j {
			i, j = j, i
		}
		f.ends[k] = [2]int32{i, j}
		f.joints[f.front[i]+1]++
	}
	for s := range f.fronts() {
		f.joints[s+1] += f.joints[s]
	}
	f.joint = make([]int32, len(f.ends))
	put := append([]int32(nil), f.joints[:f.fronts()]...)
	for k, e := range f.ends {
		s := f.front[e[0]]
		f.joint[put[s]] = int32(k)
		put[s]++
	}
}

// column returns the shares of own unknown p of front s.
func (f *factor) column(s int32, p int) []float64 {
	m := f.size(s)
	at := f.columns[s] + p*m - p*(p+1)/2
	return f.shares[at : at+m-p-1]
}

func (f *factor) eliminate(a *laplacian) {
	w := make([]float64, f.widest*f.widest) // of a front: column p at p*m, below the diagonal
	held := make([]float64, f.widest)
	left := newPile(f.plan)
	heldAt := make([]float64, len(a.held))
	for i, p := range f.place {
		heldAt[p] = a.held[i]
	}
	for s := range int32(f.fronts()) {
		k, m := f.own(s), f.size(s)
		w := w[:m*m]
		clear(w)
		clear(held[copy(held, heldAt[f.first[s]:f.first[s+1]]):m])
		for _, j := range f.joint[f.joints[s]:f.joints[s+1]] {
			e := f.ends[j]
			w[f.slot(s, e[0])*m+f.slot(s, e[1])] += a.weight[j]
		}
		for c := s - 1; c >= f.lowest[s]; c = f.lowest[c] - 1 {
			left.take(f, c, w, held, m)
		}
		f.panel(s, w, held, f.sum[f.first[s]:], m, k)
		left.put(s, w, held, m, k)
	}
}

// pile keeps what fronts leave to their parents: the last is on top.
type pile struct {
	values []float64
	at     []int
}

// newPile makes room for the highest that it gets.
func newPile(p *plan) *pile {
	height, highest := 0, 0
	size := func(f int32) int {
		r := p.size(f) - p.own(f)
		return r * (r + 1) / 2
	}
	for f := range int32(p.fronts()) {
		for c := f - 1; c >= p.lowest[f]; c = p.lowest[c] - 1 {
			height -= size(c)
		}
		height += size(f)
		highest = max(highest, height)
	}
	return &pile{values: make([]float64, 0, highest), at: make([]int, p.fronts()+1)}
}

// put keeps the joints and held weights that front s leaves to its rest.
func (p *pile) put(s int32, w, held []float64, m, k int) {
	p.at[s] = len(p.values)
	for j := k; j < m; j++ {
		p.values = append(p.values, held[j])
		p.values = append(p.values, w[j*m+j+1:j*m+m]...)
	}
	p.at[s+1] = len(p.values)
}

// take adds what front c left to the front of its parent, of size m.
func (p *pile) take(f *factor, c int32, w, held []float64, m int) {
	v := p.values[p.at[c]:]
	within := f.withinOf(c)
	for j, to := range within {
		held[to] += v[0]
		rows := within[j+1:]
		column, from := w[int(to)*m:int(to)*m+m], v[1:1+len(rows)]
		for i, r := range rows {
			column[r] += from[i]
		}
		v = v[1+len(rows):]
	}
	p.values = p.values[:p.at[c]]
}

// step is how many unknowns are eliminated at once.
const step = 4

// panel eliminates the first k of the m members of a front.
func (f *factor) panel(s int32, w, held, sum []float64, m, k int) {
	for p := 0; p < k; p += step {
		end := min(p+step, k)
		for q := p; q < end; q++ {
			column := w[q*m+q+1 : q*m+m]
			d := held[q]
			for _, x := range column {
				d += x
			}
			sum[q] = d
			shares := f.column(s, q)
			for i, x := range column {
				shares[i] = x / d
			}
			h := held[q]
			for i, l := range shares {
				held[q+1+i] += l * h
			}
			for j := q + 1; j < end; j++ {
				add1(w[j*m+j+1:j*m+m], shares[j-q:], column[j-q-1])
			}
		}
		if end-p == step {
			l0, l1, l2, l3 := f.column(s, p), f.column(s, p+1), f.column(s, p+2), f.column(s, p+3)
			for j := end; j < m; j++ {
				i := j + 1 - p
				add4(w[j*m+j+1:j*m+m], l0[i-1:], l1[i-2:], l2[i-3:], l3[i-4:], w[p*m+j], w[p*m+m+j], w[p*m+2*m+j], w[p*m+3*m+j])
			}
			continue
		}
		for q := p; q < end; q++ {
			l := f.column(s, q)
			for j := end; j < m; j++ {
				add1(w[j*m+j+1:j*m+m], l[j-q:], w[q*m+j])
			}
		}
	}
}

// add1 adds a·x to y.
func add1(y, x []float64, a float64) {
	x = x[:len(y)]
	for i := range y {
		y[i] += a * x[i]
	}
}

// add4 adds a·x of four columns to y.
func add4(y, x0, x1, x2, x3 []float64, a0, a1, a2, a3 float64) {
	x0, x1, x2, x3 = x0[:len(y)], x1[:len(y)], x2[:len(y)], x3[:len(y)]
	for i := range y {
		y[i] += a0*x0[i] + a1*x1[i] + a2*x2[i] + a3*x3[i]
	}
}

// solve returns the unknowns for which the normal equations have the right
// sides b, in the order of the laplacian.
func (f *factor) solve(b []float64) []float64 {
	x := make([]float64, len(b))
	for i, p := range f.place {
		x[p] = b[i]
	}
	for s := range int32(f.fronts()) {
		own, rest := x[f.first[s]:f.first[s+1]], f.restOf(s)
		for p, v := range own {
			l := f.column(s, p)
			n := len(own) - p - 1
			add1(own[p+1:], l, v)
			for i, l := range l[n:] {
				x[rest[i]] += l * v
			}
		}
	}
	for s := int32(f.fronts()) - 1; s >= 0; s-- {
		own, rest := x[f.first[s]:f.first[s+1]], f.restOf(s)
		for p := len(own) - 1; p >= 0; p-- {
			l := f.column(s, p)
			n := len(own) - p - 1
			v := own[p] / f.sum[int(f.first[s])+p]
			for i, l := range l[:n] {
				v += l * own[p+1+i]
			}
			for i, l := range l[n:] {
				v += l * x[rest[i]]
			}
			own[p] = v
		}
	}
	out := make([]float64, len(b))
	for i, p := range f.place {
		out[i] = x[p]
	}
	return out
}
