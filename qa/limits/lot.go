package limits

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"

	"sightrail/formats/unit"
)

// Lot adds up the judged values of one lot. The zero Lot is empty. Values are
// added in the order that matters to the plan: for "in any 10 consecutive along
// the line" the order along the line. Sums are whole numbers: adding in parts
// and merging them in order gives the same lot to the last bit.
type Lot struct {
	pass, fail, notAssessed int

	values sums
	fails  []bool      // of each assessed value, in order
	most   unit.Length // largest |beyond|
	limits Tolerance
	mixed  bool // limits differ from value to value
}

// Add adds a judged value: its difference, the limits it was judged by, and what
// was found.
func (l *Lot) Add(diff unit.Length, t Tolerance, v Verdict, beyond unit.Length) {
	switch v {
	case Pass:
		l.pass++
	case Fail:
		l.fail++
	default:
		l.notAssessed++
		return
	}
	if l.values.n == 0 {
		l.limits = t
	}
	l.mixed = l.mixed || !sameLimits(l.limits, t)
	l.values.add(big.NewInt(int64(diff)))
	l.fails = append(l.fails, v == Fail)
	l.most = max(l.most, beyond.Abs())
}

// Merge adds a lot that follows l.
func (l *Lot) Merge(o *Lot) {
	if l.values.n == 0 {
		l.limits = o.limits
	}
	l.mixed = l.mixed || o.mixed || o.values.n > 0 && !sameLimits(l.limits, o.limits)
	l.pass += o.pass
	l.fail += o.fail
	l.notAssessed += o.notAssessed
	l.values.merge(&o.values)
	l.fails = append(l.fails, o.fails...)
	l.most = max(l.most, o.most)
}

func sameLimits(a, b Tolerance) bool {
	return a.HasLower == b.HasLower && a.HasUpper == b.HasUpper && (!a.HasLower || a.Lower == b.Lower) && (!a.HasUpper || a.Upper == b.Upper)
}

// Assessed, Passed, Failed and NotAssessed count the values.
func (l *Lot) Assessed() int    { return l.pass + l.fail }
func (l *Lot) Passed() int      { return l.pass }
func (l *Lot) Failed() int      { return l.fail }
func (l *Lot) NotAssessed() int { return l.notAssessed }

// Moments are those of the assessed differences, in millimetres.
func (l *Lot) Moments() Moments { return l.values.moments(big.NewInt(int64(unit.Millimetre))) }

// Remark is the remark on what the count of passes supports.
func (l *Lot) Remark() string { return Remark(l.pass, l.Assessed()) }

// Plan is a rule that a lot is accepted by.
type Plan interface {
	// Judge accepts or rejects the lot.
	Judge(*Lot) Acceptance
	// String says the plan for the report.
	String() string
	// Validate says what is wrong with the plan.
	Validate() error
}

// Acceptance is what a plan makes of a lot. Verdict is Pass for accepted, Fail
// for rejected, NotAssessed where the plan cannot decide. Words say it for the
// report, and Figures are what it was decided by.
type Acceptance struct {
	Verdict Verdict
	Words   string
	Figures []Figure
}

// Figure is one number of an acceptance, as it is printed, with its unit.
type Figure struct{ Name, Value string }

func count(name string, n int) Figure { return Figure{name, strconv.Itoa(n)} }

func millimetres(name string, mm float64) Figure {
	s := strconv.FormatFloat(mm, 'f', 2, 64)
	if s == "-0.00" {
		s = "0.00"
	}
	return Figure{name, s + " mm"}
}

// undecided is a lot that a plan cannot decide.
func undecided(why string, figures ...Figure) Acceptance {
	return Acceptance{NotAssessed, "not decided: " + why, figures}
}

// conclude turns what the assessed values say into the acceptance of the lot. A
// lot is not accepted while values of it are not assessed.
func (l *Lot) conclude(accept bool, because string, figures ...Figure) Acceptance {
	figures = append([]Figure{count("assessed", l.Assessed()), count("within limits", l.pass), count("beyond limits", l.fail), count("not assessed", l.notAssessed)}, figures...)
	switch {
	case !accept:
		return Acceptance{Fail, "rejected: " + because, figures}
	case l.notAssessed > 0:
		return Acceptance{NotAssessed, fmt.Sprintf("not decided: %s; but %s not assessed", because, were(l.notAssessed, "value")), figures}
	}
	return Acceptance{Pass, "accepted: " + because, figures}
}

func were(n int, what string) string {
	if n == 1 {
		return "1 " + what + " was"
	}
	return fmt.Sprintf("%d %ss were", n, what)
}

// EveryPoint accepts a lot whose every value is within its limits.
type EveryPoint struct{}

func (EveryPoint) String() string { return "every point within its limits" }

// Validate finds nothing wrong.
func (EveryPoint) Validate() error { return nil }

// Judge accepts or rejects the lot.
func (EveryPoint) Judge(l *Lot) Acceptance {
	if l.Assessed() == 0 {
		return undecided("no value was assessed")
	}
	return l.conclude(l.fail == 0, fmt.Sprintf("%d of %d within limits", l.pass, l.Assessed()))
}

// AtMost accepts a lot with at most Bad values beyond their limits in Of: as a
// share of the whole lot, or, when Consecutive, in any run of so many values one
// after the other. None of them may be further beyond than MostBeyond, when
// HasMost. With fewer values than Of, the share holds: 1 in 10 allows none in 9.
type AtMost struct {
	Bad, Of     int
	Consecutive bool
	MostBeyond  unit.Length
	HasMost     bool
}

func (p AtMost) String() string {
	s := fmt.Sprintf("at most %d in %d beyond limits", p.Bad, p.Of)
	if p.Consecutive {
		s = fmt.Sprintf("at most %d of any %d consecutive values beyond limits", p.Bad, p.Of)
	}
	if p.HasMost {
		s += ", and by at most " + trimZeros(p.MostBeyond.Fixed(unit.MM, limitPlaces)) + " mm"
	}
	return s
}

// Validate says what is wrong with the plan.
func (p AtMost) Validate() error {
	switch {
	case p.Of < 1 || p.Bad < 0 || p.Bad >= p.Of:
		return fmt.Errorf("at most %d in %d allows nothing or everything; give a count and a larger number it is counted in, such as 1 in 10", p.Bad, p.Of)
	case p.HasMost && p.MostBeyond < 0:
		return fmt.Errorf("the most a value may be beyond its limit is a distance; give it without a sign")
	}
	return nil
}

// Judge accepts or rejects the lot.
func (p AtMost) Judge(l *Lot) Acceptance {
	if err := p.Validate(); err != nil {
		return undecided(err.Error())
	}
	n := l.Assessed()
	if n == 0 {
		return undecided("no value was assessed")
	}
	beyond := Figure{"furthest beyond", PrintedBeyond(l.most) + " mm"}
	if p.HasMost && l.most > p.MostBeyond {
		excess := Tolerance{Upper: p.MostBeyond, HasUpper: true}
		beyond.Value = excess.Printed(l.most) + " mm"
		return l.conclude(false, fmt.Sprintf("a value is %s beyond its limit; at most %s mm is allowed", strings.TrimPrefix(beyond.Value, "+"), trimZeros(p.MostBeyond.Fixed(unit.MM, limitPlaces))), beyond)
	}
	if p.Consecutive && n >= p.Of {
		worst, last := p.window(l.fails)
		return l.conclude(worst <= p.Bad, fmt.Sprintf("%d of %d consecutive values beyond limits, %d allowed (values %d to %d of the lot)", worst, p.Of, p.Bad, last-p.Of+1, last), count("most in "+strconv.Itoa(p.Of), worst), beyond)
	}
	// fail/n ≤ Bad/Of, in whole numbers
	ok := int64(l.fail)*int64(p.Of) <= int64(p.Bad)*int64(n)
	allowed := int(int64(p.Bad) * int64(n) / int64(p.Of))
	return l.conclude(ok, fmt.Sprintf("%d of %d beyond limits, %d allowed", l.fail, n, allowed), count("allowed", allowed), beyond)
}

// window finds the run of Of values with the most beyond limits, the first such,
// and the number of its last value, counted from 1.
func (p AtMost) window(fails []bool) (worst, last int) {
	in, worst := 0, -1
	for i, f := range fails {
		if f {
			in++
		}
		if i >= p.Of && fails[i-p.Of] {
			in--
		}
		if i >= p.Of-1 && in > worst {
			worst, last = in, i+1
		}
	}
	return worst, last
}

// ShareWithin accepts a lot of which at least Percent of the values, counted, are
// within their limits.
type ShareWithin struct{ Percent unit.Decimal }

func (p ShareWithin) String() string {
	return "at least " + p.Percent.String() + " % of the points within limits"
}

// Validate says what is wrong with the plan.
func (p ShareWithin) Validate() error { return checkPercent(p.Percent) }

func checkPercent(d unit.Decimal) error {
	if r := ratOf(d); r.Sign() <= 0 || r.Cmp(big.NewRat(100, 1)) > 0 {
		return fmt.Errorf("%s %% within limits cannot be asked for; use a percentage above 0 and up to 100", d)
	}
	return nil
}

// Judge accepts or rejects the lot.
func (p ShareWithin) Judge(l *Lot) Acceptance {
	if err := p.Validate(); err != nil {
		return undecided(err.Error())
	}
	n := l.Assessed()
	if n == 0 {
		return undecided("no value was assessed")
	}
	share := big.NewRat(int64(l.pass)*100, int64(n))
	ok := share.Cmp(ratOf(p.Percent)) >= 0
	text := shareText(share, ratOf(p.Percent))
	return l.conclude(ok, fmt.Sprintf("%d of %d within limits, %s %%; %s %% asked for", l.pass, n, text, p.Percent), Figure{"within limits", text + " %"})
}

// shareText prints a percentage with as many decimals, one or more, as keep it
// on its side of what is asked.
func shareText(share, asked *big.Rat) string {
	for places := 1; places < 18; places++ {
		s := share.FloatString(places)
		if printed, ok := new(big.Rat).SetString(s); ok && (printed.Cmp(asked) >= 0) == (share.Cmp(asked) >= 0) {
			return s
		}
	}
	f, _ := share.Float64()
	return strconv.FormatFloat(f, 'g', -1, 64)
}

// mean and standard deviation, for print.
func (m Moments) figures() []Figure {
	mean := math.NaN()
	if m.Mean != nil {
		mean, _ = m.Mean.Float64()
	}
	return []Figure{millimetres("mean", mean), millimetres("standard deviation", m.Sd())}
}
