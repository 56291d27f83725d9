package adjust

import (
	"slices"

	"sightrail/formats/unit"
)

// unfold gives every point and observation its result.
func (r *Result) unfold() error {
	f, m := r.f, r.mesh
	for p := range r.Points {
		x := &r.Points[p]
		switch f.role[p] {
		case fixed:
			x.State, x.Checked = Held, true
			x.Level, x.Provisional = f.net.Points[p].Level, f.net.Points[p].Level
		case junction:
			k := f.where[p]
			x.State, x.Checked = Adjusted, !m.cutOff[k]
			if m.variance != nil {
				x.Variance = m.variance[k]
			}
			if err := x.set(m.base[p], m.rest[k], m.provisional[p]); err != nil {
				return f.net.outOfRange(int(f.observationsAt(int32(p))[0]))
			}
		case outside:
			continue
		}
		if f.role[p] != fixed {
			r.Unknowns++
		}
	}
	var after []float64
	for i := range f.ties {
		after = f.after(&f.ties[i], after[:0])
		if err := r.unfoldTie(int32(i), after); err != nil {
			return err
		}
	}
	for i := len(f.spurs) - 1; i >= 0; i-- {
		s := &f.spurs[i]
		on, x, o := &r.Points[s.on], &r.Points[s.point], &r.Observations[s.observation]
		d := f.signed(s.observation, s.back)
		level, err := on.Level.Add(d)
		if err != nil {
			return f.net.outOfRange(int(s.observation))
		}
		provisional, err := on.Provisional.Add(d)
		if err != nil {
			return f.net.outOfRange(int(s.observation))
		}
		*x = Level{State: Adjusted, Level: level, Provisional: provisional, Correction: on.Correction}
		*o = Residual{Adjusted: true}
		if m.variance != nil {
			o.Variance = f.net.Observations[s.observation].Variance
			x.Variance = on.Variance + o.Variance
		}
	}
	return nil
}

// set puts a level together; provisional is the exact one, base + rest mm the
// adjusted one.
func (x *Level) set(base unit.Length, rest float64, provisional unit.Length) error {
	level, err := plus(base, rest)
	if err != nil {
		return err
	}
	x.Level, x.Provisional = level, provisional
	moved, err := base.Add(-provisional)
	x.Correction = moved.Millimetres() + rest
	return err
}

// after appends, for every link of a tie, the sum of the variances behind it,
// which as a difference would lose digits.
func (f *fold) after(t *tie, to []float64) []float64 {
	sum := 0.0
	for i := t.first + t.count - 1; i >= t.first; i-- {
		to = append(to, sum)
		sum += f.net.Observations[f.links[i].observation].Variance
	}
	slices.Reverse(to)
	return to
}

// unfoldTie shares the residual of a tie among its observations, by variance, and
// finds the levels of its change points. A change point with the part a of the
// variance before it is at (1 − a) of the one end and a of the other, and its own
// error has the variance a(1 − a) of the tie.
func (r *Result) unfoldTie(i int32, after []float64) error {
	f, m := r.f, r.mesh
	t := &f.ties[i]
	v, freedom := m.v[i], 0.0
	var ends endpoints
	if m.variance != nil {
		freedom = m.freedom[i]
		ends = m.endpoints(i)
	}
	provisional, base := m.provisional[t.from], m.base[t.from]
	rest, before := m.correction(t.from), 0.0
	checked := !m.bridge[i] && r.Points[t.from].Checked
	for n, l := range f.links[t.first : t.first+t.count] {
		own := f.net.Observations[l.observation].Variance
		o := &r.Observations[l.observation]
		o.Adjusted, o.V = true, v*(own/t.variance)
		if l.back {
			o.V = -o.V
		}
		if m.variance != nil {
			o.Redundancy = freedom * (own / t.variance)
			o.Variance = own * (1 - o.Redundancy)
			if x := &f.net.Observations[l.observation]; x.From != x.To {
				r.Points[x.From].Redundancy += o.Redundancy
				r.Points[x.To].Redundancy += o.Redundancy
			}
		}
		before += own
		if n == int(t.count)-1 {
			break
		}
		d := f.signed(l.observation, l.back)
		var err error
		if provisional, err = provisional.Add(d); err != nil {
			return f.net.outOfRange(int(l.observation))
		}
		if base, err = base.Add(d); err != nil {
			return f.net.outOfRange(int(l.observation))
		}
		x, a, b := &r.Points[l.to], before/t.variance, after[n]/t.variance
		x.State, x.Checked = Adjusted, checked
		if err := x.set(base, rest+v*a, provisional); err != nil {
			return f.net.outOfRange(int(l.observation))
		}
		if m.variance != nil {
			x.Variance = ends.at(a, b) + a*after[n]
		}
	}
	return nil
}

// endpoints are the variances and the covariance of the ends of a tie.
type endpoints struct{ from, to, both float64 }

// at is the variance of a of the second end and b of the first.
func (e *endpoints) at(a, b float64) float64 { return b*b*e.from + 2*a*b*e.both + a*a*e.to }

func (m *mesh) endpoints(i int32) (e endpoints) {
	t := &m.f.ties[i]
	j, k := m.number(t.from), m.number(t.to)
	if t.loop() {
		if m.f.role[t.from] != junction {
			return e
		}
		e.from = m.variance[j]
		return endpoints{e.from, e.from, e.from}
	}
	if j >= 0 {
		e.from = m.variance[j]
	}
	if k >= 0 {
		e.to = m.variance[k]
	}
	if x := m.joint[i]; x >= 0 {
		e.both = m.covariance[x]
	}
	return e
}
