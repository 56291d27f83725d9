package adjust

// inverse holds the elements of the inverse of the normal equations, in mm²,
// that stand where the factor has shares: the variances of the unknowns, and the
// covariances of those with an observation between them.
type inverse struct {
	variance   []float64 // in the order of the laplacian
	covariance []float64 // of the two ends of each of its joints
}

// inverse works from the last front to the first. The covariances among the rest
// of a front are known from its parent, and an unknown is the sum of the later
// ones, each by its share, and of an error with the variance 1/d: sums of
// positive numbers again. Method: Takahashi, Fagan, Chin, "Formation of a sparse
// bus impedance matrix", Proc. 8th PICA Conference (1973), a front at a time.
func (f *factor) inverse() *inverse {
	n := len(f.place)
	z := &inverse{variance: make([]float64, n), covariance: make([]float64, len(f.ends))}
	byPlace := make([]float64, n)
	// the matrix of a front lies behind that of its parent
	at, end := make([]int, f.fronts()), 0
	for s := f.fronts() - 1; s >= 0; s-- {
		if p := f.parent[s]; p >= 0 {
			m := f.size(p)
			at[s] = at[p] + m*m
		}
		m := f.size(int32(s))
		end = max(end, at[s]+m*m)
	}
	values := make([]float64, end)
	known := make([]float64, step*f.widest)
	for s := int32(f.fronts()) - 1; s >= 0; s-- {
		k, m := f.own(s), f.size(s)
		own := values[at[s] : at[s]+m*m]
		if p := f.parent[s]; p >= 0 {
			pm := f.size(p)
			spread(own, values[at[p]:at[p]+pm*pm], f.withinOf(s), m, pm)
		}
		f.widen(s, own, known, m, k)
		for p := range k {
			byPlace[int(f.first[s])+p] = own[p*m+p]
		}
		for _, j := range f.joint[f.joints[s]:f.joints[s+1]] {
			e := f.ends[j]
			z.covariance[j] = own[f.slot(s, e[0])*m+f.slot(s, e[1])]
		}
	}
	for i, p := range f.place {
		z.variance[i] = byPlace[p]
	}
	return z
}

// spread copies the covariances among the rest of a front from the matrix of its
// parent, in which they stand at within.
func spread(to, from []float64, within []int32, m, pm int) {
	k := m - len(within)
	for j, q := range within {
		column, source := to[(k+j)*m+k:(k+j)*m+m], from[int(q)*pm:int(q)*pm+pm]
		for i, r := range within {
			column[i] = source[r]
		}
	}
}

// widen fills the rows and columns of the first k of the m members of a front,
// the last first. l is room for step columns.
func (f *factor) widen(s int32, z, l []float64, m, k int) {
	sum := f.sum[f.first[s]:]
	for end := k; end > 0; {
		p := max(0, end-step)
		n := m - end
		// the shares of those after the step, with what goes there by way of others
		// of the step
		for q := end - 1; q >= p; q-- {
			shares := f.column(s, q)
			inner, outer := shares[:end-q-1], l[(q-p)*n:(q-p)*n+n]
			copy(outer, shares[end-q-1:])
			for i, x := range inner {
				add1(outer, l[(q+1+i-p)*n:(q+1+i-p)*n+n], x)
			}
		}
		if end-p == step {
			l0, l1, l2, l3 := l[:n], l[n:2*n], l[2*n:3*n], l[3*n:4*n]
			for j := end; j < m; j++ {
				a, b, c, d := dot4(z[j*m+end:j*m+m], l0, l1, l2, l3)
				column := z[j*m+p : j*m+end]
				column[0], column[1], column[2], column[3] = a, b, c, d
				z[p*m+j], z[p*m+m+j], z[p*m+2*m+j], z[p*m+3*m+j] = a, b, c, d
			}
		} else {
			for q := p; q < end; q++ {
				for j := end; j < m; j++ {
					v := dot(z[j*m+end:j*m+m], l[(q-p)*n:(q-p)*n+n])
					z[j*m+q], z[q*m+j] = v, v
				}
			}
		}
		for q := end - 1; q >= p; q-- {
			shares := f.column(s, q)
			for j := end - 1; j > q; j-- {
				v := dot(z[j*m+q+1:j*m+m], shares)
				z[j*m+q], z[q*m+j] = v, v
			}
			z[q*m+q] = 1/sum[q] + dot(z[q*m+q+1:q*m+m], shares)
		}
		end = p
	}
}

func dot(x, y []float64) float64 {
	y = y[:len(x)]
	v := 0.0
	for i, a := range x {
		v += a * y[i]
	}
	return v
}

func dot4(x, y0, y1, y2, y3 []float64) (a, b, c, d float64) {
	y0, y1, y2, y3 = y0[:len(x)], y1[:len(x)], y2[:len(x)], y3[:len(x)]
	for i, v := range x {
		a += v * y0[i]
		b += v * y1[i]
		c += v * y2[i]
		d += v * y3[i]
	}
	return a, b, c, d
}
