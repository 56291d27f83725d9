package plane

import (
	"math"
	"math/big"
	"slices"

	"sightrail/formats/unit"
)

// State of a drift. The zero State is not observed: never taken for nought.
type State uint8

// The states of a drift.
const (
	NotObserved State = iota
	NotJudged         // observed, and no limit is given
	Within
	Outside
)

var stateWords = [...]string{"not observed", "no limit given", "within its limit", "outside its limit"}

func (s State) String() string { return stateWords[s] }

// Peg is a common peg of two set-ups: its place, and its level by each of them.
type Peg struct {
	Name          string
	At            Place
	Before, After unit.Length
}

// Limits of drifts; a pointer that is nil judges nothing.
type Limits struct {
	Level     *unit.Length // at every peg
	Grade     *unit.Grade  // of either grade
	Direction *unit.Grade  // offset over distance at the sight mark
}

// MinBase is how far pegs must lie apart along an axis before they tell a drift
// of the grade along it. Common practice, no published source.
const MinBase = 10 * unit.Metre

// LevelDrift is what a peg says: later minus earlier level.
type LevelDrift struct {
	Peg   string
	Drift unit.Length
	State State
}

// GradeDrift is the change of a grade, as a rise over a run; + rises more than
// before.
type GradeDrift struct {
	Grade unit.Grade
	State State
	Why   string // not observed
}

// Drift is what two set-ups have drifted against each other.
type Drift struct {
	Levels        []LevelDrift
	Along, Across GradeDrift
	Direction     GradeDrift // offset over distance, + clockwise
}

// Outside reports whether a drift is outside its limit.
func (d *Drift) Outside() bool {
	return slices.ContainsFunc(d.Levels, func(l LevelDrift) bool { return l.State == Outside }) ||
		d.Along.State == Outside || d.Across.State == Outside || d.Direction.State == Outside
}

// Proves reports whether the drift of level was judged at a peg, and nothing is
// outside its limit.
func (d *Drift) Proves() bool {
	return !d.Outside() && slices.ContainsFunc(d.Levels, func(l LevelDrift) bool { return l.State == Within })
}

// Compare compares two set-ups on common pegs, in the axis of plane p. One peg
// tells the drift of level only; two that lie at least MinBase apart along the
// axis, and no further across it than a twentieth of that, the grade along it as
// well; two across it likewise the grade across; three that are not in line,
// MinBase apart both ways and on the whole an eighth of that off any line, both
// grades, by least squares. What the pegs do
// not tell is not observed. Level drifts and grades of two pegs are judged
// exactly; fitted grades are rounded to a count over a kilometre before.
func Compare(p *Plane, pegs []Peg, lim Limits) *Drift {
	d := &Drift{}
	type point struct{ s, t, d unit.Length }
	var list []point
	for _, peg := range pegs {
		x := LevelDrift{Peg: peg.Name, Drift: peg.After - peg.Before, State: NotJudged}
		if lim.Level != nil {
			x.State = judged(x.Drift.Abs() <= *lim.Level)
		}
		d.Levels = append(d.Levels, x)
		s, t := p.Coordinates(peg.At)
		list = append(list, point{s, t, x.Drift})
	}
	d.Along.Why, d.Across.Why, d.Direction.Why = "pegs apart along the axis are wanting", "pegs apart across the axis are wanting", "no sight mark is common"
	if len(list) < 2 {
		return d
	}
	span := func(of func(point) unit.Length) (lo, hi point) {
		by := func(a, b point) int { return int(min(1, max(-1, of(a)-of(b)))) }
		return slices.MinFunc(list, by), slices.MaxFunc(list, by)
	}
	along, across := func(x point) unit.Length { return x.s }, func(x point) unit.Length { return x.t }
	s0, s1 := span(along)
	t0, t1 := span(across)
	ds, dt := s1.s-s0.s, t1.t-t0.t
	two := func(g *GradeDrift, lo, hi point, run unit.Length) {
		g.Grade = unit.Grade{Rise: hi.d - lo.d, Run: run}
		g.judge(lim.Grade)
	}
	switch {
	case ds >= MinBase && dt <= ds/20 && len(list) == 2:
		two(&d.Along, s0, s1, ds)
	case dt >= MinBase && ds <= dt/20 && len(list) == 2:
		two(&d.Across, t0, t1, dt)
	case len(list) == 2:
		return d
	}
	if len(list) == 2 {
		return d
	}
	// least squares of d = a + b s + c t about the means, in metres
	n := float64(len(list))
	var ms, mt, md float64
	for _, x := range list {
		ms, mt, md = ms+x.s.Metres()/n, mt+x.t.Metres()/n, md+x.d.Metres()/n
	}
	var ss, tt, st, sd, td float64
	for _, x := range list {
		s, t, v := x.s.Metres()-ms, x.t.Metres()-mt, x.d.Metres()-md
		ss, tt, st, sd, td = ss+s*s, tt+t*t, st+s*t, sd+s*v, td+t*v
	}
	base := MinBase.Metres()
	// mean square of the pegs about the line that fits them best
	narrow := ((ss+tt)/2 - math.Hypot((ss-tt)/2, st)) / n
	fit := func(g *GradeDrift, slope float64) {
		const run = 1000 * unit.Metre
		g.Grade = unit.Grade{Rise: unit.Length(math.Round(slope * float64(run))), Run: run}
		g.judge(lim.Grade)
	}
	switch det := ss*tt - st*st; {
	case ds >= MinBase && dt >= MinBase && narrow >= base*base/64 && det > 0:
		fit(&d.Along, (sd*tt-td*st)/det)
		fit(&d.Across, (td*ss-sd*st)/det)
	case ds >= MinBase && dt <= ds/20:
		fit(&d.Along, sd/ss)
	case dt >= MinBase && ds <= dt/20:
		fit(&d.Across, td/tt)
	}
	return d
}

func (g *GradeDrift) judge(limit *unit.Grade) {
	g.State, g.Why = NotJudged, ""
	if limit != nil {
		g.State = judged(unit.Grade{Rise: g.Grade.Rise.Abs(), Run: g.Grade.Run}.Compare(*limit) <= 0)
	}
}

func judged(within bool) State {
	if within {
		return Within
	}
	return Outside
}

// Sight is where an axis passes a sight mark: Offset right of it at Distance.
type Sight struct{ Offset, Distance unit.Length }

// Turned is how far an axis has turned from one sight of a mark to the next, as
// offset over distance, + clockwise. It is judged exactly.
func Turned(before, after Sight, limit *unit.Grade) GradeDrift {
	if before.Distance <= 0 || after.Distance <= 0 {
		return GradeDrift{Why: "the distance to the sight mark is wanting"}
	}
	g := GradeDrift{State: NotJudged, Grade: unit.Grade{Rise: after.Offset - unit.MulDiv(before.Offset, after.Distance, before.Distance), Run: after.Distance}}
	if limit != nil {
		x := func(a, b unit.Length) *big.Int {
			return new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b)))
		}
		// |o₂ d₁ − o₁ d₂| · run ≤ rise · d₁ d₂
		off := new(big.Int).Sub(x(after.Offset, before.Distance), x(before.Offset, after.Distance))
		off.Abs(off).Mul(off, big.NewInt(int64(limit.Run)))
		allowed := x(before.Distance, after.Distance)
		allowed.Mul(allowed, big.NewInt(int64(limit.Rise)))
		g.State = judged(off.Cmp(allowed) <= 0)
	}
	return g
}
