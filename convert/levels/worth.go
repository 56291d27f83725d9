package levels

import (
	"errors"
	"fmt"
	"math"

	"sightrail/formats/unit"
)

// Uncertainty is what the worth of levels is worked out from: standard
// uncertainties, one standard deviation, in millimetres. Either Reading or PerKm
// must be given.
//
// The rule: a level is the mark, plus what every set-up on the way to it adds,
// plus its own reading. A set-up adds Setup to its collimation, its backsight
// included (Reading where Setup is not given), and Reading with the foresight
// that leaves it. With PerKm, the standard deviation of a kilometre levelled
// forward and back, every sight of d km adds √2 · PerKm · √d instead; a sight
// without a distance counts as the longest measured one of its set-up. What two
// levels have in common, marks and set-ups, drops out of their difference. A
// level that shares the misclosure by a part p hangs on both marks of its run,
// with 1 − p and p. Side shots of one set-up share all but their own readings:
// with a reading of 1 mm and a set-up of 3 mm, two of them differ by 1.4 mm.
type Uncertainty struct {
	Reading float64
	Setup   float64
	PerKm   float64
	Marks   map[string]float64 // by name; one that is not in it counts as exact
}

// Given reports whether there is anything to work with.
func (u Uncertainty) Given() bool { return u.Reading > 0 || u.PerKm > 0 }

// Check refuses what is no uncertainty.
func (u Uncertainty) Check() error {
	for _, x := range []float64{u.Reading, u.Setup, u.PerKm} {
		if x < 0 || math.IsNaN(x) || math.IsInf(x, 0) {
			return errors.New("a standard uncertainty is a length above nought")
		}
	}
	if u.Reading > 0 && u.PerKm > 0 {
		return errors.New("the uncertainty of a reading and the one per km are given; a sight has one or the other")
	}
	return nil
}

// standing is where the level of a row comes from.
type standing struct {
	chain int // index into the chains, -1 = none
	s, f  int // how many set-ups and how many foresights lie before its own reading
	own   float64
	row   int // of its own reading, -1 where it has none beyond the chain's
	share float64
}

// Worth says what every level of a reduced book is worth.
type Worth struct {
	rows  []standing
	lines []line
}

// line is a chain as a sum of independent errors: S[k] and F[k] are the
// variances of its first k set-ups and foresights, in mm².
type line struct {
	s, f     []float64
	base     standing // what the levels hang on
	from, to string   // marks
	vFrom    float64
	vTo      float64
	ends     standing // the last foresight
	unknown  string
}

// Worth works out what the levels are worth; adjusted says of which levels. An
// error is about the figures given.
func (r *Result) Worth(u Uncertainty, adjusted bool) (*Worth, error) {
	if err := u.Check(); err != nil {
		return nil, err
	}
	if !u.Given() {
		return nil, errors.New("no uncertainty of a reading or per km is given")
	}
	w := &Worth{rows: make([]standing, len(r.Rows))}
	for i := range w.rows {
		w.rows[i] = standing{chain: -1, row: -1}
	}
	if r.book == nil {
		return w, nil
	}
	for k := range r.book.chains {
		w.chain(r, k, u, adjusted)
	}
	return w, nil
}

// sight is the variance of one sight, in mm². ok is false when it takes a
// distance that is not there.
func (u Uncertainty) sight(x *shot, longest unit.Length) (v float64, ok bool) {
	if u.PerKm == 0 {
		return u.Reading * u.Reading, true
	}
	d := longest
	if x.measured() {
		d = x.dist.L
	}
	return 2 * u.PerKm * u.PerKm * d.Metres() / 1000, d > 0
}

func (s *setup) longest() (d unit.Length) {
	for i := range s.read {
		d = max(d, s.read[i].dist.L)
	}
	if s.fs != nil {
		d = max(d, s.fs.dist.L)
	}
	return max(d, s.bs.dist.L)
}

func (w *Worth) chain(r *Result, k int, u Uncertainty, adjusted bool) {
	c, run := &r.book.chains[k], &r.Runs[k]
	l := line{s: []float64{0}, f: []float64{0}, from: r.book.rows[c.first].Name}
	at := map[int]standing{c.first: {chain: k, row: -1}}
	for j := range c.setups {
		st := &c.setups[j]
		longest := st.longest()
		v, ok := u.sight(&st.bs, longest)
		if u.Setup > 0 && u.PerKm == 0 {
			v = 0
		}
		v += u.Setup * u.Setup
		if !ok && l.unknown == "" {
			l.unknown = fmt.Sprintf("set-up %d of the run has no distance of a sight", j+1)
		}
		l.s = append(l.s, l.s[j]+v)
		if _, there := at[st.at]; !there { // second row of a change point
			at[st.at] = standing{chain: k, s: j, f: j, row: -1}
		}
		for i := range st.read {
			own, _ := u.sight(&st.read[i], longest)
			at[st.read[i].row] = standing{chain: k, s: j + 1, f: j, own: own, row: st.read[i].row}
		}
		if st.fs != nil {
			v, _ := u.sight(st.fs, longest)
			l.f = append(l.f, l.f[j]+v)
			at[st.fs.row] = standing{chain: k, s: j + 1, f: j + 1, row: -1}
		}
	}
	base := c.base
	if base < 0 {
		return
	}
	l.base = at[base]
	l.from = r.book.rows[base].Name
	l.vFrom = square(u.Marks[l.from])
	if l.from == "" {
		l.from = fmt.Sprintf("\x00row %d", base) // a mark without a name is like no other
	}
	shared := adjusted && run.Distributed != NoDistribution
	if shared {
		l.to, l.ends = r.book.rows[c.last].Name, at[c.last]
		l.vTo = square(u.Marks[l.to])
		if l.to == "" {
			l.to = fmt.Sprintf("\x00row %d", c.last)
		}
	}
	w.lines = append(w.lines, make([]line, k+1-len(w.lines))...)
	w.lines[k] = l
	for i, x := range at {
		if i == c.first && c.shared || !r.Rows[i].Level.Set {
			continue
		}
		if shared {
			x.share = c.share(x.s - 1)
		}
		w.rows[i] = x
	}
}

func square(x float64) float64 { return x * x }

// Known reports whether the worth of a row's level is known, and why not.
func (w *Worth) Known(row int) (why string, ok bool) {
	x := &w.rows[row]
	if x.chain < 0 {
		return "no level hangs on a mark here", false
	}
	if u := w.lines[x.chain].unknown; u != "" {
		return u, false
	}
	return "", true
}

// Variance is that of the level of a row, in mm².
func (w *Worth) Variance(row int) float64 { return w.Covariance(w, row, row) }

// Covariance is that of the levels of two rows, the second of book o, in mm².
// Books have their marks in common.
func (w *Worth) Covariance(o *Worth, a, b int) float64 {
	x, y := &w.rows[a], &o.rows[b]
	if x.chain < 0 || y.chain < 0 {
		return 0
	}
	l, m := &w.lines[x.chain], &o.lines[y.chain]
	v := 0.0
	// marks: each level hangs on one or two of them
	for _, p := range l.hangs(x) {
		for _, q := range m.hangs(y) {
			if p.mark == q.mark && p.part != 0 && q.part != 0 {
				v += p.part * q.part * p.v
			}
		}
	}
	if w != o || x.chain != y.chain {
		return v
	}
	// set-ups and foresights: levels are sums of the same errors, up to where
	// they part, minus those to the base, minus a share of the whole
	for _, p := range l.parts(x) {
		for _, q := range l.parts(y) {
			v += p.part * q.part * (l.s[min(p.at.s, q.at.s)] + l.f[min(p.at.f, q.at.f)])
		}
	}
	for _, p := range l.sights(x) {
		for _, q := range l.sights(y) {
			if p.row == q.row && p.row >= 0 {
				v += p.part * q.part * p.v
			}
		}
	}
	return v
}

type hang struct {
	mark    string
	part, v float64
}

// hangs are the marks that a level hangs on.
func (l *line) hangs(x *standing) [2]hang {
	return [2]hang{{l.from, 1 - x.share, l.vFrom}, {l.to, x.share, l.vTo}}
}

type part struct {
	part float64
	at   *standing
}

// parts are the sums of errors that a level is made of.
func (l *line) parts(x *standing) [3]part {
	return [3]part{{1, x}, {-1 + x.share, &l.base}, {-x.share, &l.ends}}
}

type sighted struct {
	part float64
	row  int
	v    float64
}

// sights are the readings of one row only that a level is made of: its own, and
// that on the mark it hangs on.
func (l *line) sights(x *standing) [2]sighted {
	return [2]sighted{{1, x.row, x.own}, {-1 + x.share, l.base.row, l.base.own}}
}

// Difference is the standard uncertainty of the difference of two levels, in mm.
func (w *Worth) Difference(o *Worth, a, b int) float64 {
	return math.Sqrt(max(0, w.Variance(a)+o.Variance(b)-2*w.Covariance(o, a, b)))
}
