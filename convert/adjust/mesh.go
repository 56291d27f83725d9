package adjust

import (
	"fmt"
	"math"

	"sightrail/formats/unit"
)

// mesh is the ties between the junctions, with all marks as one vertex: vertex 0,
// and vertex k+1 is junction k, unless that is a mark that may move.
type mesh struct {
	f *fold

	ends   [][2]int32 // vertices of a tie, from and to
	first  []int32    // ties at a vertex: at[first[v]:first[v+1]]; loops left out
	at     []int32
	bridge []bool // a tie without which a part falls off
	cutOff []bool // a junction with a bridge between it and the marks; never a mark

	provisional []unit.Length // of a point that stays
	base        []unit.Length // of a point that stays: its level is base + rest
	rest        []float64     // mm, of a junction
	v           []float64     // mm, of a tie

	matrix     *laplacian
	joint      []int32 // of a tie in the matrix; -1 none
	factor     *factor
	variance   []float64 // of a junction; nil: not worked out
	covariance []float64 // of a joint
	freedom    []float64 // redundancy of a tie
}

func newMesh(f *fold) (*mesh, error) {
	m := &mesh{f: f}
	m.list()
	return m, m.search()
}

// vertex of a point that stays.
func (m *mesh) vertex(p int32) int32 {
	if m.f.role[p] == fixed || m.f.weighted[p] {
		return 0
	}
	return m.f.where[p] + 1
}

// number is the unknown of a point that stays; -1 when it does not move.
func (m *mesh) number(p int32) int32 {
	if m.f.role[p] == fixed {
		return -1
	}
	return m.f.where[p]
}

func (t *tie) loop() bool { return t.from == t.to }

func (m *mesh) list() {
	n := len(m.f.junctions) + 1
	m.first = make([]int32, n+1)
	m.ends = make([][2]int32, len(m.f.ties))
	for i := range m.f.ties {
		if t := &m.f.ties[i]; !t.loop() {
			m.ends[i] = [2]int32{m.vertex(t.from), m.vertex(t.to)}
			m.first[m.ends[i][0]+1]++
			m.first[m.ends[i][1]+1]++
		}
	}
	for v := range n {
		m.first[v+1] += m.first[v]
	}
	m.at = make([]int32, m.first[n])
	put := append([]int32(nil), m.first[:n]...)
	for i := range m.f.ties {
		if !m.f.ties[i].loop() {
			for _, v := range m.ends[i] {
				m.at[put[v]] = int32(i)
				put[v]++
			}
		}
	}
}

// search walks the mesh from the marks, depth first. The way it came gives
// provisional levels; a tie is a bridge when nothing beyond it leads back to
// before it (R. Tarjan, "A note on finding the bridges of a graph", Information
// Processing Letters 2 (1974)).
func (m *mesh) search() error {
	f, n := m.f, len(m.f.junctions)+1
	m.provisional = make([]unit.Length, len(f.net.Points))
	m.bridge, m.cutOff = make([]bool, len(f.ties)), make([]bool, len(f.junctions))
	for p := range f.net.Points {
		if f.role[p] == fixed || f.weighted[p] {
			m.provisional[p] = f.net.Points[p].Level
		}
	}
	seen, back := make([]int32, n), make([]int32, n) // when reached; the earliest that is reached from beyond
	came := make([]int32, n)                         // the tie
	next := append([]int32(nil), m.first[:n]...)
	order := make([]int32, 1, n) // vertices as reached
	way := []int32{0}
	seen[0], back[0], came[0] = 1, 1, -1
	for len(way) > 0 {
		v := way[len(way)-1]
		if next[v] == m.first[v+1] {
			way = way[:len(way)-1]
			if len(way) > 0 {
				up := way[len(way)-1]
				m.bridge[came[v]] = back[v] > seen[up]
				back[up] = min(back[up], back[v])
			}
			continue
		}
		k := m.at[next[v]]
		next[v]++
		if k == came[v] {
			continue
		}
		t := &f.ties[k]
		from, to, d, u := t.from, t.to, t.diff, m.ends[k][1]
		if m.ends[k][0] != v {
			from, to, d, u = to, from, -d, m.ends[k][0]
		}
		if u == v { // between marks
			continue
		}
		if seen[u] > 0 {
			back[v] = min(back[v], seen[u])
			continue
		}
		level, err := m.provisional[from].Add(d)
		if err != nil {
			return f.net.outOfRange(int(f.links[t.first].observation))
		}
		m.provisional[to] = level
		order = append(order, u)
		seen[u], back[u], came[u] = int32(len(order)), int32(len(order)), k
		way = append(way, u)
	}
	for _, u := range order[1:] {
		up := m.ends[came[u]][0]
		if up == u {
			up = m.ends[came[u]][1]
		}
		m.cutOff[u-1] = m.bridge[came[u]] || up > 0 && m.cutOff[up-1]
	}
	return nil
}

// solve finds the levels of the junctions and the residuals of the ties.
func (m *mesh) solve() error {
	f := m.f
	m.assemble()
	if m.factor = newFactor(m.matrix, MaxElements); m.factor == nil {
		return &Mistake{-1, -1, fmt.Sprintf("the network has %d junctions, so closely joined that it cannot be adjusted at once; leave observations out, or adjust it in parts", len(f.junctions))}
	}
	m.base = append([]unit.Length(nil), m.provisional...)
	m.rest = make([]float64, len(f.junctions))
	for round := range 2 {
		b, err := m.rightSides()
		if err != nil {
			return err
		}
		m.rest = m.factor.solve(b)
		if round > 0 {
			break
		}
		for k, p := range f.junctions { // the second round is of what is left
			level, err := plus(m.base[p], m.rest[k])
			if err != nil {
				return f.net.outOfRange(int(f.observationsAt(p)[0]))
			}
			m.base[p] = level
		}
	}
	m.v = make([]float64, len(f.ties))
	for i := range f.ties {
		t := &f.ties[i]
		if m.bridge[i] {
			continue
		}
		l, err := m.misclosure(t)
		if err != nil {
			return err
		}
		m.v[i] = m.correction(t.to) - m.correction(t.from) - l
	}
	return nil
}

// plus adds a correction in mm to a level and rounds it to one count.
func plus(l unit.Length, mm float64) (unit.Length, error) {
	c := math.Round(mm * float64(unit.Millimetre))
	if !(math.Abs(c) < math.MaxInt64/2) {
		return 0, unit.ErrRange
	}
	return l.Add(unit.Length(c))
}

func (m *mesh) correction(p int32) float64 {
	if k := m.number(p); k >= 0 && m.f.role[p] == junction {
		return m.rest[k]
	}
	return 0
}

// misclosure is what an observed difference is above that of the bases, in mm:
// exact, then rounded to float64.
func (m *mesh) misclosure(t *tie) (float64, error) {
	if t.loop() {
		return t.diff.Millimetres(), nil
	}
	d, err := m.base[t.to].Add(-m.base[t.from])
	if err == nil {
		d, err = t.diff.Add(-d)
	}
	if err != nil {
		return 0, m.f.net.outOfRange(int(m.f.links[t.first].observation))
	}
	return d.Millimetres(), nil
}

func (m *mesh) assemble() {
	f := m.f
	a := &laplacian{held: make([]float64, len(f.junctions))}
	m.matrix, m.joint = a, make([]int32, len(f.ties))
	for i := range f.ties {
		t := &f.ties[i]
		m.joint[i] = -1
		if t.loop() {
			continue
		}
		j, k, w := m.number(t.from), m.number(t.to), 1/t.variance
		switch {
		case j < 0 && k < 0:
		case j < 0:
			a.held[k] += w
		case k < 0:
			a.held[j] += w
		default:
			m.joint[i] = int32(len(a.weight))
			a.from, a.to, a.weight = append(a.from, j), append(a.to, k), append(a.weight, w)
		}
	}
	for k, p := range f.junctions {
		if f.weighted[p] {
			a.held[k] += 1 / f.net.Points[p].Variance
		}
	}
}

func (m *mesh) rightSides() ([]float64, error) {
	f := m.f
	b := make([]float64, len(f.junctions))
	for i := range f.ties {
		t := &f.ties[i]
		if t.loop() {
			continue
		}
		l, err := m.misclosure(t)
		if err != nil {
			return nil, err
		}
		if k := m.number(t.to); k >= 0 {
			b[k] += l / t.variance
		}
		if k := m.number(t.from); k >= 0 {
			b[k] -= l / t.variance
		}
	}
	for k, p := range f.junctions {
		if f.weighted[p] {
			d, err := f.net.Points[p].Level.Add(-m.base[p])
			if err != nil {
				return nil, f.net.outOfRange(int(f.observationsAt(p)[0]))
			}
			b[k] += d.Millimetres() / f.net.Points[p].Variance
		}
	}
	return b, nil
}

// markResidual is the adjusted minus the known level of a mark that may move.
func (m *mesh) markResidual(p int32) float64 {
	return (m.base[p] - m.f.net.Points[p].Level).Millimetres() + m.rest[m.f.where[p]]
}

// variances works out those of the junctions, and the redundancies of the ties.
func (m *mesh) variances() {
	f := m.f
	z := m.factor.inverse()
	m.variance, m.covariance = z.variance, z.covariance
	m.freedom = make([]float64, len(f.ties))
	for i := range f.ties {
		t := &f.ties[i]
		if t.loop() {
			m.freedom[i] = 1
			continue
		}
		if m.bridge[i] {
			continue
		}
		v := 0.0
		for _, p := range [2]int32{t.from, t.to} {
			if k := m.number(p); k >= 0 {
				v += z.variance[k]
			}
		}
		if j := m.joint[i]; j >= 0 {
			v -= 2 * z.covariance[j]
		}
		m.freedom[i] = min(max(0, 1-v/t.variance), 1)
	}
}
