// Package adjust adjusts a network of level differences by least squares, and
// says what each level is worth, what the network can see, and what is to blame.
// Numbers in, numbers out.
//
// Signs: the residual of an observation is adjusted minus observed, in mm; a mark's
// difference is its level by all the others minus its known level. Variances are
// in mm², by the standard deviations that came with the observations.
//
// Observations that lie in a row, with only change points between them, are one:
// their variances add. So are dead ends taken off first, and both are given back
// afterwards. What is left is solved with a sparse factor, and variances are
// worked out for all levels and all observations at once; the covariance of any
// two levels is worked out when it is asked for.
//
// What is tested. An observation's redundancy r is the part of a slip in it that
// its own residual shows; Σr is the degrees of freedom. w = v/(σ√r) is normal when
// nothing is wrong; beyond the two-sided 0.1 % quantile, 3.29, the largest is
// accused. The smallest slip that is seen with a power of 80 % is 4.13 σ/√r. An
// observation without which a part would fall off has r = 0: nothing checks it.
// What lies in one row has one w and cannot be told apart: all are accused.
//
// A mark is tested in the network in which all marks are held. Let g be the sum
// of the weighted residuals at the mark (+ those to it, − those from it) and s
// the weight that its level has from all other marks: were it not held, it would
// move by −g/s, which has the variance 1/s, and Σv²/σ² would fall by g²/s. So
// w = −g/√s stands beside the w of the observations; it does not depend on which
// mark is called the first. The network is adjusted with one mark held before:
// what is accused there is an observation, because marks cannot strain it.
//
// Where no standard deviation was stated before, only the ratios of the variances
// count: w is divided by s0, its quantile is that of Pope's tau (A. J. Pope, NOAA
// Technical Report NOS 65 NGS 1, 1976), and there is no global test. Formulas of w,
// r and of the smallest slip: W. Baarda, "A testing procedure for use in geodetic
// networks", Netherlands Geodetic Commission, 1968.
//
// Accuracy: misclosures are exact differences of unit.Length; float64 is used for
// corrections in mm only, twice: the second solution is of what the first, rounded,
// leaves in exact numbers. Levels are within 1e-9 m of a dense solution, and
// variances within 1e-9 of themselves, for 3,000 random networks of all shapes in
// each run, with slips up to 10 m and variances from 0.03 to 1,000 mm²
// (TestRandomNetworks). Elements of the inverse are within 1e-14 of exact fractions
// for weights over 24 decades (TestInverseHasAllDigits); a redundancy is a
// difference of them, and loses as many digits as the variances of the levels have
// more than that of the observation. In networks of 100,000 junctions the weighted
// residuals at a junction add up to nought within 1e-10 of the weights there
// (TestLargeNetworks).
package adjust

import (
	"fmt"
	"math"

	"sightrail/formats/unit"
)

// Point is a mark, a junction or a change point.
type Point struct {
	Name     string
	Held     bool        // a mark: Level is known
	Level    unit.Length // of a mark
	Variance float64     // of the mark's level, mm²; 0: it does not move
	Wanted   bool        // is not folded away; its results are the same
}

// Observation is a level difference: level of To minus level of From.
type Observation struct {
	From, To int // index of the point; a run back to its own point is a misclosure
	Diff     unit.Length
	Variance float64 // mm², from 1e-12 to 1e19
	Label    int     // the caller's; not used here
}

// Network is what is adjusted.
type Network struct {
	Points       []Point
	Observations []Observation
}

// Options of an adjustment.
type Options struct {
	OneMark    bool // hold the first mark of each part only, exactly; the others move
	HoldLoose  bool // hold the first point of a part without a mark, at its Level
	APriori    bool // the variances are stated, not only their ratios
	LevelsOnly bool // no variances, and no tests that need them
}

// State is what became of a point.
type State uint8

// The states of a point. The zero State is loose.
const (
	Loose    State = iota // hangs on no mark: not adjusted
	Adjusted              // its level is the network's
	Held                  // its level was given
)

// Level is the result for a point.
type Level struct {
	State       State
	Level       unit.Length // rounded once
	Provisional unit.Length // exact sum of observed differences from a mark
	Correction  float64     // mm; adjusted minus provisional
	Variance    float64     // mm²; 0 of a held mark
	// Redundancy is Σr of the observations that end here, those from here to here
	// left out: how much of a slip that ends here shows. Over all points it is twice
	// the degrees of freedom, less those of loops and of marks that may move.
	Redundancy float64
	// Checked: no single observation can shift this level unseen, because it hangs
	// on the marks by two ways that have no observation in common.
	Checked bool
}

// Residual is the result for an observation.
type Residual struct {
	Adjusted   bool    // false in a loose part
	V          float64 // mm; adjusted minus observed
	Variance   float64 // mm², of the adjusted difference
	Redundancy float64 // 0 to 1
	Checked    bool    // has a w: Redundancy is not nought
	W          float64 // V over its standard deviation
	MDB        float64 // mm: the smallest slip that could be seen; only when Checked
}

// Result of an adjustment. Slices of results are parallel to those given.
type Result struct {
	Points       []Level
	Observations []Residual

	LooseParts [][]int // points of each part that hangs on no mark
	Assumed    []int   // points held by HoldLoose
	Untied     []int   // marks with no observation to another point
	Unproved   []int   // marks joined to other points, but to no other mark

	Unknowns int // levels that were solved for, change points included
	DoF      int // degrees of freedom
	Sum      float64
	S0       float64 // √(Sum/DoF), standard deviation of unit weight; 0 when DoF is 0
	APriori  bool
	Global   Global
	Critical float64 // of |W|; 0 when there is no test

	oneMark bool

	net  *Network
	f    *fold
	mesh *mesh
}

// Scale is what turns the root of a variance of the result into a standard
// deviation: 1 when the variances were stated, else S0. ok is false when it is not
// known.
func (r *Result) Scale() (scale float64, ok bool) {
	if r.APriori {
		return 1, true
	}
	return r.S0, r.DoF > 0
}

// SD is the standard deviation of the level of a point, in mm.
func (r *Result) SD(point int) (mm float64, ok bool) {
	s, ok := r.Scale()
	p := &r.Points[point]
	return s * math.Sqrt(p.Variance), ok && p.State != Loose
}

// VarianceByDistance is that of a difference levelled over a distance, in mm²,
// for a standard deviation of a kilometre in mm.
func VarianceByDistance(sigmaPerKm float64, distance unit.Length) float64 {
	return sigmaPerKm * sigmaPerKm * distance.Metres() / 1000
}

// VarianceBySetups is that of a difference levelled with n set-ups, in mm², for a
// standard deviation of one in mm.
func VarianceBySetups(sigmaPerSetup float64, n int) float64 {
	return sigmaPerSetup * sigmaPerSetup * float64(n)
}

// Mistake is an input that cannot be adjusted. Observation or Point says which it
// is in; the other is -1, or both are.
type Mistake struct {
	Observation, Point int
	Text               string
}

func (m *Mistake) Error() string { return m.Text }

// Check returns all mistakes of a network, observations first.
func (n *Network) Check() []*Mistake {
	var out []*Mistake
	for i := range n.Observations {
		o := &n.Observations[i]
		if !n.has(o.From) || !n.has(o.To) {
			out = append(out, &Mistake{i, -1, fmt.Sprintf("observation %d runs from point %d to point %d, and there are %d points, counted from 0; name points that are there", i, o.From, o.To, len(n.Points))})
		} else if !usable(o.Variance) {
			out = append(out, &Mistake{i, -1, fmt.Sprintf("%s has the variance %g mm², and a weight needs one from 1e-12 to 1e19; give its distance or its number of set-ups", n.nameOf(i), o.Variance)})
		} else if o.Diff < -unit.MaxLength {
			out = append(out, n.outOfRange(i))
		}
	}
	for i := range n.Points {
		if p := &n.Points[i]; p.Held && p.Variance != 0 && !usable(p.Variance) {
			out = append(out, &Mistake{-1, i, fmt.Sprintf("mark %q has the variance %g mm², which is not from 1e-12 to 1e19; give 0 for a mark that does not move, or its standard deviation squared", p.Name, p.Variance)})
		} else if p.Level < -unit.MaxLength {
			out = append(out, &Mistake{-1, i, fmt.Sprintf("the level of %q is beyond ±2,342 km; look for a slip in it or in its unit", p.Name)})
		}
	}
	return out
}

// usable reports whether a variance makes a weight: from the square of a
// nanometre to that of the largest Length.
func usable(variance float64) bool { return variance >= 1e-12 && variance <= 1e19 }

func (n *Network) has(point int) bool { return point >= 0 && point < len(n.Points) }

func (n *Network) nameOf(observation int) string {
	o := &n.Observations[observation]
	return fmt.Sprintf("observation %d (%s to %s)", observation, n.Points[o.From].Name, n.Points[o.To].Name)
}

func (n *Network) outOfRange(observation int) *Mistake {
	return &Mistake{observation, -1, n.nameOf(observation) + " carries levels beyond ±2,342 km; look for a slip in its difference or its unit"}
}

// Adjust adjusts a network. The error is a *Mistake: the first that Check finds,
// an observation that carries a level out of range, or a network that has no
// sparse factor (MaxElements).
func Adjust(n *Network, o Options) (*Result, error) {
	if bad := n.Check(); len(bad) > 0 {
		return nil, bad[0]
	}
	r := &Result{
		Points: make([]Level, len(n.Points)), Observations: make([]Residual, len(n.Observations)),
		APriori: o.APriori, oneMark: o.OneMark, net: n,
	}
	f, err := newFold(n, o, r)
	if err != nil {
		return nil, err
	}
	r.f = f
	if r.mesh, err = newMesh(f); err != nil {
		return nil, err
	}
	if err := r.mesh.solve(); err != nil {
		return nil, err
	}
	if !o.LevelsOnly {
		r.mesh.variances()
	}
	if err := r.unfold(); err != nil {
		return nil, err
	}
	r.judge(o.LevelsOnly)
	return r, nil
}
