package plane

import (
	"cmp"
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

// Limits of drifts; a pointer that is nil judges nothing, and neither does a grade
// without a run. A drift on its limit is within it.
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
	Why   string // not observed
}

// U is the standard uncertainty of a drift of level in mm, where every reading has
// the standard uncertainty reading, in mm, and the planes hang on mark readings of
// their own: u² = 2 (reading² + mark²). mark is 0 for one set-up read twice, which
// has one mark reading. ok is false where nothing was observed.
func (d LevelDrift) U(reading, mark float64) (u float64, ok bool) {
	return math.Sqrt2 * math.Hypot(reading, mark), d.State != NotObserved
}

// GradeDrift is the change of a grade, as a rise over a run; + rises more than
// before.
type GradeDrift struct {
	Grade unit.Grade
	State State
	Why   string // not observed

	weight float64 // root of the sum of squares of what each difference counts for, per metre
}

// U is the standard uncertainty of a drift of grade or direction in mm per metre,
// where every reading has the standard uncertainty reading, in mm. A drift of
// level, and so the mark, has no part in it. ok is false where nothing was
// observed.
func (d GradeDrift) U(reading float64) (u float64, ok bool) {
	return math.Sqrt2 * reading * d.weight, d.State != NotObserved
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

// Compare compares two set-ups on common pegs, in the axis of plane p (grid north
// where it has none). What the pegs tell is the rank of [1, s, t] over them:
//
//   - one peg tells the drift of level only;
//   - pegs at least MinBase apart along the axis, and no further across it than a
//     twentieth of that, tell the grade along it as well. A twentieth of a drift
//     of the grade across may be in it;
//   - pegs across the axis likewise tell the grade across;
//   - three or more whose root mean square distance from the line that fits them
//     best is at least an eighth of MinBase tell each grade along which they are
//     MinBase apart, by least squares.
//
// What they do not tell is not observed. Level drifts and grades are judged
// exactly; a fitted grade is an exact fraction, of which the Grade is rounded to a
// count in a kilometre, for print.
func Compare(p *Plane, pegs []Peg, lim Limits) *Drift {
	d := &Drift{}
	list := make([]common, 0, len(pegs))
	for _, peg := range pegs {
		drift, err := peg.After.Add(-peg.Before)
		if err != nil {
			d.Levels = append(d.Levels, LevelDrift{Peg: peg.Name, Why: err.Error()})
			continue
		}
		d.Levels = append(d.Levels, judgedLevel(peg.Name, drift, lim.Level))
		if s, t := p.Coordinates(peg.At); s.Abs() <= farthest && t.Abs() <= farthest {
			list = append(list, common{s, t, drift})
		}
	}
	d.Along.Why, d.Across.Why, d.Direction.Why = "pegs apart along the axis are wanting", "pegs apart across the axis are wanting", "no sight mark is common"
	if len(list) < 2 {
		return d
	}
	ds := span(list, func(c common) unit.Length { return c.s })
	dt := span(list, func(c common) unit.Length { return c.t })
	m := momentsOf(list)
	if ds >= MinBase {
		d.Along.Why = "the pegs do not tell the grade along the axis from the grade across it; another peg, off their line, would"
	}
	if dt >= MinBase {
		d.Across.Why = "the pegs do not tell the grade across the axis from the grade along it; another peg, off their line, would"
	}
	switch {
	case m.wide(): // never of two pegs
		den := minus(times(m.ss, m.tt), times(m.st, m.st))
		if ds >= MinBase {
			d.Along.fitted(minus(times(m.sd, m.tt), times(m.td, m.st)), den, m.weight(m.tt, den), lim.Grade)
		}
		if dt >= MinBase {
			d.Across.fitted(minus(times(m.td, m.ss), times(m.sd, m.st)), den, m.weight(m.ss, den), lim.Grade)
		}
	case ds >= MinBase && dt <= ds/20:
		d.Along.fitted(m.sd, m.ss, m.weight(big.NewInt(1), m.ss), lim.Grade)
	case dt >= MinBase && ds <= dt/20:
		d.Across.fitted(m.td, m.tt, m.weight(big.NewInt(1), m.tt), lim.Grade)
	}
	return d
}

// farthest from the mark that a peg tells of grades: differences stay Lengths.
const farthest = unit.MaxLength / 2

// common is a common peg: its coordinates, and its drift of level.
type common struct{ s, t, d unit.Length }

func span(list []common, of func(common) unit.Length) unit.Length {
	by := func(a, b common) int { return cmp.Compare(of(a), of(b)) }
	return of(slices.MaxFunc(list, by)) - of(slices.MinFunc(list, by))
}

// moments about the means, each n times the sum of squares or products, in counts.
type moments struct {
	n                  int64
	ss, tt, st, sd, td *big.Int
}

func momentsOf(list []common) *moments {
	n := int64(len(list))
	of := func(x, y func(common) unit.Length) *big.Int {
		sum, sx, sy := new(big.Int), new(big.Int), new(big.Int)
		for _, c := range list {
			a, b := big.NewInt(int64(x(c))), big.NewInt(int64(y(c)))
			sx.Add(sx, a)
			sy.Add(sy, b)
			sum.Add(sum, a.Mul(a, b))
		}
		return minus(sum.Mul(sum, big.NewInt(n)), times(sx, sy))
	}
	s, t, d := func(c common) unit.Length { return c.s }, func(c common) unit.Length { return c.t }, func(c common) unit.Length { return c.d }
	return &moments{n, of(s, s), of(t, t), of(s, t), of(s, d), of(t, d)}
}

// wide reports whether the mean square distance of the pegs from the line that
// fits them best is at least the square of an eighth of MinBase: the smaller root
// of the moments is at least n² of it.
func (m *moments) wide() bool {
	eighth := big.NewInt(int64(MinBase / 8))
	least := times(times(eighth, eighth), big.NewInt(m.n*m.n))
	s, t := minus(m.ss, least), minus(m.tt, least)
	return s.Sign() >= 0 && t.Sign() >= 0 && times(s, t).Cmp(times(m.st, m.st)) >= 0
}

// weight is √(n · top/bottom), per metre.
func (m *moments) weight(top, bottom *big.Int) float64 {
	v, _ := new(big.Rat).SetFrac(times(top, big.NewInt(m.n)), bottom).Float64()
	return math.Sqrt(v) * float64(unit.Metre)
}

func times(a, b *big.Int) *big.Int { return new(big.Int).Mul(a, b) }

func minus(a, b *big.Int) *big.Int { return new(big.Int).Sub(a, b) }

// fitted takes the grade top/bottom; bottom is positive.
func (g *GradeDrift) fitted(top, bottom *big.Int, weight float64, limit *unit.Grade) {
	x := new(big.Float).SetPrec(precision).SetInt(times(top, big.NewInt(int64(kilometre))))
	rise, err := rounded(x.Quo(x, new(big.Float).SetPrec(precision).SetInt(bottom)))
	if err != nil {
		*g = GradeDrift{Why: "the grade is beyond what can be reckoned; see the levels of the pegs"}
		return
	}
	*g = GradeDrift{Grade: unit.Grade{Rise: rise, Run: kilometre}, State: judgedGrade(top, bottom, limit), weight: weight}
}

// judgedGrade judges top/bottom, exactly; bottom is positive.
func judgedGrade(top, bottom *big.Int, limit *unit.Grade) State {
	if limit == nil || limit.Run <= 0 {
		return NotJudged
	}
	size := times(new(big.Int).Abs(top), big.NewInt(int64(limit.Run)))
	return judged(size.Cmp(times(bottom, big.NewInt(int64(limit.Rise)))) <= 0)
}

// judgedLevel judges a drift of level, exactly.
func judgedLevel(peg string, drift unit.Length, limit *unit.Length) LevelDrift {
	x := LevelDrift{Peg: peg, Drift: drift, State: NotJudged}
	if limit != nil {
		x.State = judged(drift.Abs() <= *limit)
	}
	return x
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
// offset over distance, + clockwise. It is judged exactly; the rise of the Grade is
// rounded to a count, for print.
func Turned(before, after Sight, limit *unit.Grade) GradeDrift {
	if before.Distance <= 0 || after.Distance <= 0 {
		return GradeDrift{Why: "the distance to the sight mark is wanting"}
	}
	x := func(a, b unit.Length) *big.Int { return times(big.NewInt(int64(a)), big.NewInt(int64(b))) }
	rise, err := after.Offset.Add(-unit.MulDiv(before.Offset, after.Distance, before.Distance))
	if err != nil {
		return GradeDrift{Why: err.Error()}
	}
	// (o₂ d₁ − o₁ d₂) / (d₁ d₂)
	off := minus(x(after.Offset, before.Distance), x(before.Offset, after.Distance))
	return GradeDrift{
		Grade:  unit.Grade{Rise: rise, Run: after.Distance},
		State:  judgedGrade(off, x(before.Distance, after.Distance), limit),
		weight: math.Hypot(1/before.Distance.Metres(), 1/after.Distance.Metres()) / math.Sqrt2,
	}
}
