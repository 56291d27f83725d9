package adjust

import (
	"fmt"
	"math"
	"slices"
)

// MarkTest is what all others say of a known mark.
type MarkTest struct {
	Point      int
	Difference float64 // mm; its level by all others minus its known level
	SD         float64 // mm, of the difference
	W          float64 // Difference over SD
	MDB        float64 // mm: the smallest error of the known level that could be seen
	// Checked: another mark is joined to it. Nothing else can prove a mark; of two
	// marks it cannot be told which is wrong, and both have one |W|.
	Checked bool

	// From the network with one mark held, by Study: the level minus the known one,
	// and its standard deviation. HeldThere is the mark they are measured from.
	FreeDifference, FreeSD float64
	HeldThere              bool
}

// Study is the whole examination of a network with its marks.
type Study struct {
	Free, Held *Result // with one mark held in each part; with all
	Marks      []MarkTest

	// InFree is what the network accuses that no mark strains: observations only.
	// InHeld is what fits best with all marks held: observations or marks.
	InFree, InHeld Accused
	// Accused is both together: one slip shows in both as the same. It is for
	// refusing levels; where the two differ, each is a cause of its own.
	Accused Accused
	Stage   Stage // the first that accuses
}

// Stage is one of the two adjustments of a Study.
type Stage uint8

// The stages.
const (
	Nothing  Stage = iota // nothing is accused
	FreeNet               // with one mark held
	AllMarks              // with all marks held
)

// Examine adjusts a network with one mark held in each part and then with all,
// and tests observations and marks. The OneMark and LevelsOnly of the options
// are not used.
func Examine(n *Network, o Options) (*Study, error) {
	s := &Study{}
	o.OneMark, o.LevelsOnly = true, false
	var err error
	if s.Free, err = Adjust(n, o); err != nil {
		return nil, err
	}
	o.OneMark = false
	if s.Held, err = Adjust(n, o); err != nil {
		return nil, err
	}
	s.Marks = s.Held.Marks()
	for i := range s.Marks {
		m := &s.Marks[i]
		p := &s.Free.Points[m.Point]
		m.HeldThere = p.State == Held
		if !m.HeldThere {
			d, err := p.Level.Add(-n.Points[m.Point].Level)
			if err != nil {
				return nil, &Mistake{-1, m.Point, fmt.Sprintf("the level of %q and that of the mark %q are further apart than 2,342 km; look for a slip in one of them", n.Points[m.Point].Name, n.Points[m.Point].Name)}
			}
			m.FreeDifference = d.Millimetres()
			m.FreeSD, _ = s.Free.SD(m.Point)
		}
	}
	s.InFree, s.InHeld = s.Free.Accused(), s.Held.accuse(s.Marks)
	s.Accused = Accused{Observations: slices.Clone(s.InFree.Observations), Marks: s.InHeld.Marks, W: max(s.InFree.W, s.InHeld.W)}
	for _, i := range s.InHeld.Observations {
		if !slices.Contains(s.InFree.Observations, i) {
			s.Accused.Observations = append(s.Accused.Observations, i)
		}
	}
	slices.Sort(s.Accused.Observations)
	switch {
	case s.InFree.Any():
		s.Stage = FreeNet
	case s.InHeld.Any():
		s.Stage = AllMarks
	}
	return s, nil
}

// Marks tests every mark of an adjustment in which all are held. The error of the
// known level of a mark that may move counts with the observations. With one mark
// held there is nothing to test.
func (r *Result) Marks() []MarkTest {
	if r.oneMark || r.mesh.variance == nil {
		return nil
	}
	var out []MarkTest
	f, m := r.f, r.mesh
	ties := m.tiesAtMarks()
	_, delta := normal()
	scale, known := r.Scale()
	for p := range f.net.Points {
		if !f.net.Points[p].Held || f.role[p] == outside {
			continue
		}
		t := MarkTest{Point: p}
		var g, s float64 // strain, and the weight that others give its level
		switch {
		case f.marks[f.part[p]] < 2:
		case f.weighted[p]:
			v, free := f.net.Points[p].Variance, 1-m.variance[f.where[p]]/f.net.Points[p].Variance
			if free >= minMark {
				// without its own weight it would be at v/free, with the variance v/free
				t.Checked = true
				g, s = -m.markResidual(int32(p))/v, free/v
			}
		default:
			g, s, t.Checked = m.strain(int32(p), ties[p])
		}
		if t.Checked {
			t.Difference = -g / s
			if known {
				t.SD = scale / math.Sqrt(s)
				t.MDB = delta * t.SD
			}
			if t.SD > 0 {
				t.W = t.Difference / t.SD
			}
		}
		out = append(out, t)
	}
	return out
}

// tiesAtMarks lists the ties at every held point that does not move.
func (m *mesh) tiesAtMarks() map[int][]int32 {
	at := map[int][]int32{}
	for _, i := range m.at[m.first[0]:m.first[1]] {
		t := &m.f.ties[i]
		for _, p := range [2]int32{t.from, t.to} {
			if l := at[int(p)]; m.f.role[p] == fixed && (len(l) == 0 || l[len(l)-1] != i) {
				at[int(p)] = append(l, i)
			}
		}
	}
	return at
}

// strain returns Σ of the weighted residuals at a mark, + to it and − from it, and
// the weight that all other marks give its level; ok is false when that is nothing
// beside the weights at the mark.
func (m *mesh) strain(p int32, ties []int32) (g, s float64, ok bool) {
	var unknowns []int32
	var weights []float64
	at := 0.0
	for _, i := range ties {
		t := &m.f.ties[i]
		w, other := 1/t.variance, t.from
		if t.from == p {
			g -= w * m.v[i]
			other = t.to
		} else {
			g += w * m.v[i]
		}
		at += w
		if k := m.number(other); k >= 0 {
			unknowns, weights = append(unknowns, k), append(weights, w)
		}
	}
	h := m.factor.half(unknowns, weights)
	s = at - product(h, h)
	return g, s, s > minMark*at
}
