package adjust

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// The levels of the tests.
const (
	GlobalLevel = 0.05  // two-sided, of all residuals together
	LocalLevel  = 0.001 // two-sided, of one observation or mark
	Power       = 0.80  // with which a slip is to be seen
)

// MinRedundancy is the least redundancy that is tested: below it a slip would
// have to be 4,000 standard deviations large.
const MinRedundancy = 1e-6

// minMark is the same for the stated level of a mark that may move: a small
// standard deviation makes its redundancy small, though others check it well.
const minMark = 1e-9

// alike is how near two |w| are, as a part of them, that are taken as equal.
const alike = 1e-6

// Global is the test of all residuals together: Sum is Σv²/σ², which has a chi
// squared distribution when nothing is wrong.
type Global struct {
	Done         bool // only with variances that were stated, and redundancy
	Sum          float64
	Lower, Upper float64
	Pass         bool
}

// normal is the two-sided local quantile, and what a slip must reach beyond it.
func normal() (critical, delta float64) {
	critical = distuv.UnitNormal.Quantile(1 - LocalLevel/2)
	return critical, critical + distuv.UnitNormal.Quantile(Power)
}

// tau is the two-sided local quantile of a residual that is measured by the s0
// which it is itself a part of. With one degree of freedom nothing is tested.
func tau(dof int) float64 {
	if dof < 2 {
		return 0
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(dof - 1)}.Quantile(1 - LocalLevel/2)
	// t / √((f − 1 + t²)/f), without overflow of a large t
	return math.Sqrt(float64(dof) / (float64(dof-1)/(t*t) + 1))
}

// judge adds up the residuals and tests them.
func (r *Result) judge(levelsOnly bool) {
	f, m := r.f, r.mesh
	r.DoF = -r.Unknowns
	for i := range f.ties {
		t := &f.ties[i]
		r.Sum += m.v[i] * m.v[i] / t.variance
	}
	for i := range r.Observations {
		if r.Observations[i].Adjusted {
			r.DoF++
		}
	}
	for _, p := range f.junctions {
		if f.weighted[p] {
			r.DoF++
			v := m.markResidual(p)
			r.Sum += v * v / f.net.Points[p].Variance
		}
	}
	if r.DoF > 0 {
		r.S0 = math.Sqrt(r.Sum / float64(r.DoF))
	}
	if r.APriori && r.DoF > 0 {
		chi := distuv.ChiSquared{K: float64(r.DoF)}
		r.Global = Global{Done: true, Sum: r.Sum, Lower: chi.Quantile(GlobalLevel / 2), Upper: chi.Quantile(1 - GlobalLevel/2)}
		r.Global.Pass = r.Sum >= r.Global.Lower && r.Sum <= r.Global.Upper
	}
	if levelsOnly || r.DoF == 0 {
		return
	}
	r.snoop()
}

// snoop works out w and the smallest visible slip of every observation.
func (r *Result) snoop() {
	f, m := r.f, r.mesh
	critical, delta := normal()
	r.Critical = critical
	scale, _ := r.Scale()
	if !r.APriori {
		r.Critical = tau(r.DoF)
	}
	for i := range f.ties {
		t, free := &f.ties[i], m.freedom[i]
		if free < MinRedundancy {
			continue
		}
		w := 0.0
		if scale > 0 { // without any strain s0 is 0, and w too
			w = m.v[i] / math.Sqrt(free*t.variance) / scale
		}
		for _, l := range f.links[t.first : t.first+t.count] {
			o := &r.Observations[l.observation]
			o.Checked, o.W = true, w
			if l.back {
				o.W = -w
			}
			o.MDB = delta * scale * math.Sqrt(t.variance/free)
		}
	}
}

// Accused is what the tests blame: all that have the largest |w|, where that is
// beyond the critical value.
type Accused struct {
	Observations []int
	Marks        []int // points
	W            float64
}

// Any reports whether anything is accused.
func (a *Accused) Any() bool { return len(a.Observations)+len(a.Marks) > 0 }

// Accused returns the observations that this adjustment blames.
func (r *Result) Accused() Accused { return r.accuse(nil) }

// accuse finds the largest |w| among observations and marks.
func (r *Result) accuse(marks []MarkTest) Accused {
	var a Accused
	if r.Critical == 0 {
		return a
	}
	for i := range r.Observations {
		a.W = max(a.W, math.Abs(r.Observations[i].W))
	}
	for i := range marks {
		a.W = max(a.W, math.Abs(marks[i].W))
	}
	if a.W <= r.Critical {
		return Accused{W: a.W}
	}
	least := a.W * (1 - alike)
	for i := range r.Observations {
		if math.Abs(r.Observations[i].W) >= least {
			a.Observations = append(a.Observations, i)
		}
	}
	for i := range marks {
		if math.Abs(marks[i].W) >= least {
			a.Marks = append(a.Marks, marks[i].Point)
		}
	}
	return a
}
