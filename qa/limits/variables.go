package limits

import (
	"errors"
	"fmt"
	"math/big"
	"strconv"

	"sightrail/formats/unit"
)

// oneTolerance is what a plan by variables needs of a lot: at least so many
// values, and one pair of limits for all.
func (l *Lot) oneTolerance(least int) error {
	switch {
	case l.Assessed() < least:
		return fmt.Errorf("it needs at least %d assessed values, and there are %d", least, l.Assessed())
	case l.mixed:
		return errors.New("the values of the lot have different limits; a plan by mean and standard deviation needs one pair of limits for all")
	case !l.limits.Given():
		return errors.New("there is no limit to judge by")
	}
	return nil
}

// Variables accepts a lot by its mean and standard deviation: mean + K s not
// above the upper limit, mean − K s not below the lower one, each where there is
// such a limit; and, with HasSpread, s not above Spread times the distance of
// the two limits. On the limit passes, exactly: the comparison is one of
// fractions. Values, if set, is how many values the factor is for.
// Source says where the factor comes from. The shape of the rule is that of OIML
// R 138:2007, Annex A.
type Variables struct {
	K         unit.Decimal
	Spread    unit.Decimal
	HasSpread bool
	Values    int
	Source    string
}

func (p Variables) String() string {
	s := "mean ± " + p.K.String() + " s within the limits"
	if p.HasSpread {
		s += ", s at most " + p.Spread.String() + " of the distance between them"
	}
	if p.Values > 0 {
		s += fmt.Sprintf(" (for %d values)", p.Values)
	}
	return s
}

// Validate says what is wrong with the plan.
func (p Variables) Validate() error {
	switch {
	case p.K.Coef <= 0:
		return errors.New("acceptance by mean and standard deviation needs a factor k above 0; state it, or the number of values and the quality level it is taken from")
	case p.HasSpread && p.Spread.Coef <= 0:
		return errors.New("the largest standard deviation must be a share above 0 of the distance between the limits")
	case p.Values < 0 || p.Values == 1:
		return errSample
	}
	return nil
}

// Judge accepts or rejects the lot.
func (p Variables) Judge(l *Lot) Acceptance {
	if err := p.Validate(); err != nil {
		return undecided(err.Error())
	}
	if err := l.oneTolerance(2); err != nil {
		return undecided(err.Error())
	}
	if p.Values > 0 && l.Assessed() != p.Values {
		return undecided(fmt.Sprintf("the factor %s is for %d values, and %s assessed; take the factor for that number", p.K, p.Values, were(l.Assessed(), "value")))
	}
	if p.HasSpread && !(l.limits.HasLower && l.limits.HasUpper) {
		return undecided("a largest standard deviation is a share of the distance between two limits, and there is one limit only")
	}
	m := l.Moments()
	figures := append(m.figures(), Figure{"k", p.K.String()})
	broken := p.broken(m.Mean, m.Variance, l.limits)
	mean, _ := m.Mean.Float64()
	ks := p.K.Float() * m.Sd()
	if l.limits.HasLower {
		figures = append(figures, millimetres("mean - k s", mean-ks))
	}
	if l.limits.HasUpper {
		figures = append(figures, millimetres("mean + k s", mean+ks))
	}
	if p.Source != "" {
		figures = append(figures, Figure{"k from", p.Source})
	}
	text := fmt.Sprintf("mean %s mm, standard deviation %s mm, k %s; limits %s", fixed(mean), fixed(m.Sd()), p.K, l.limits)
	if broken != "" {
		text = broken + ": " + text
	}
	return l.conclude(broken == "", text, figures...)
}

func fixed(mm float64) string { return strconv.FormatFloat(mm, 'f', 2, 64) }

// broken names the inequality that a mean and a variance, in millimetres and
// their square, break; "" if none.
func (p Variables) broken(mean, variance *big.Rat, t Tolerance) string {
	k2 := ratOf(p.K)
	k2.Mul(k2, k2).Mul(k2, variance)   // (k s)²
	room := func(a, b *big.Rat) bool { // k s ≤ a − b
		d := new(big.Rat).Sub(a, b)
		return d.Sign() >= 0 && k2.Cmp(d.Mul(d, d)) <= 0
	}
	switch {
	case t.HasUpper && !room(ratMm(t.Upper), mean):
		return "mean + k s is above the upper limit"
	case t.HasLower && !room(mean, ratMm(t.Lower)):
		return "mean - k s is below the lower limit"
	case p.HasSpread:
		most := new(big.Rat).Sub(ratMm(t.Upper), ratMm(t.Lower))
		most.Mul(most, ratOf(p.Spread))
		if most.Sign() < 0 || variance.Cmp(most.Mul(most, most)) > 0 {
			return "the standard deviation is more than " + p.Spread.String() + " of the distance between the limits"
		}
	}
	return ""
}

func ratMm(l unit.Length) *big.Rat { return big.NewRat(int64(l), int64(unit.Millimetre)) }

// EstimatedWithin accepts a lot of which at least Percent is estimated to be
// within limits from its mean and standard deviation, as PercentWithin has it;
// with two limits the percentages of both less 100. It takes 3 values or more.
type EstimatedWithin struct{ Percent unit.Decimal }

func (p EstimatedWithin) String() string {
	return "at least " + p.Percent.String() + " % of the lot within limits, estimated from mean and standard deviation"
}

// Validate says what is wrong with the plan.
func (p EstimatedWithin) Validate() error { return checkPercent(p.Percent) }

// estimateError is more than the rounding errors of an estimated percentage: it
// may fall short of what is asked by so much. It is no tolerance: nothing that
// is printed shows it.
const estimateError = 1e-9

// Judge accepts or rejects the lot.
func (p EstimatedWithin) Judge(l *Lot) Acceptance {
	if err := p.Validate(); err != nil {
		return undecided(err.Error())
	}
	if err := l.oneTolerance(3); err != nil {
		return undecided(err.Error())
	}
	m := l.Moments()
	e, err := EstimateWithin(m, l.limits)
	if err != nil {
		return undecided(err.Error())
	}
	figures := m.figures()
	if l.limits.HasUpper {
		figures = append(figures, indexFigure("QU", e.QUpper, m))
	}
	if l.limits.HasLower {
		figures = append(figures, indexFigure("QL", e.QLower, m))
	}
	ok := e.Percent >= p.Percent.Float()-estimateError
	share := new(big.Rat).SetFloat64(e.Percent)
	if ok && share.Cmp(ratOf(p.Percent)) < 0 {
		share = ratOf(p.Percent)
	}
	text := shareText(share, ratOf(p.Percent))
	figures = append(figures, Figure{"estimated within limits", text + " %"})
	return l.conclude(ok, fmt.Sprintf("%s %% estimated within limits, %s %% asked for", text, p.Percent), figures...)
}

func indexFigure(name string, q float64, m Moments) Figure {
	if m.Variance.Sign() == 0 {
		return Figure{name, "none: all values are equal"}
	}
	return Figure{name, strconv.FormatFloat(q, 'f', 4, 64)}
}

// Estimate is a percentage within limits and the quality indices it comes from,
// (upper − mean)/s and (mean − lower)/s; 0 where there is no such limit or no
// scatter.
type Estimate struct{ QUpper, QLower, Percent float64 }

// EstimateWithin estimates the percentage within limits of a lot in
// millimetres. Without any scatter it is 100 on and within the limits, and 0
// beyond.
func EstimateWithin(m Moments, t Tolerance) (Estimate, error) {
	if m.N < 3 {
		return Estimate{}, errors.New("percent within limits needs at least 3 values")
	}
	if v, _ := t.Judge(0); v == NotAssessed {
		return Estimate{}, errors.New("there is no limit to judge by")
	}
	e := Estimate{Percent: 100}
	side := func(room *big.Rat, q *float64) error {
		if m.Variance.Sign() == 0 {
			if room.Sign() < 0 {
				e.Percent -= 100
			}
			return nil
		}
		r, _ := room.Float64()
		*q = r / m.Sd()
		percent, err := PercentWithin(*q, m.N)
		e.Percent += percent - 100
		return err
	}
	if t.HasUpper {
		if err := side(new(big.Rat).Sub(ratMm(t.Upper), m.Mean), &e.QUpper); err != nil {
			return Estimate{}, err
		}
	}
	if t.HasLower {
		if err := side(new(big.Rat).Sub(m.Mean, ratMm(t.Lower)), &e.QLower); err != nil {
			return Estimate{}, err
		}
	}
	e.Percent = max(0, e.Percent)
	return e, nil
}
