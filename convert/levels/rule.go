package levels

import (
	"fmt"
	"math"
	"math/big"
	"strings"

	"sightrail/formats/unit"
)

// Per is what the limit of a closing rule grows with.
type Per uint8

// What a rule grows with.
const (
	Fixed     Per = iota // nothing: a fixed limit
	SqrtK                // square root of the levelled length in kilometres
	SqrtMiles            // square root of the levelled length in miles
	SqrtN                // square root of the number of set-ups
)

// Rule is a closing rule: the largest misclosure that is accepted, such as
// "12 mm sqrt(K)", "5 mm sqrt(n)", "0.05 ft sqrt(M)" or "6 mm". K is the
// levelled length in km, the sum of the sights, one way for forward and back;
// n is the number of set-ups. The zero Rule judges nothing.
type Rule struct {
	Coef unit.Length
	Per  Per
	Text string // as written
}

// ParseRule reads a closing rule.
func ParseRule(text string) (Rule, error) {
	t := strings.TrimSpace(text)
	r := Rule{Text: t}
	for suffix, per := range map[string]Per{"sqrt(K)": SqrtK, "sqrt(M)": SqrtMiles, "sqrt(n)": SqrtN} {
		if q, ok := strings.CutSuffix(t, suffix); ok {
			t, r.Per = strings.TrimSpace(q), per
			break
		}
	}
	l, err := unit.ParseQuantity(t)
	if err != nil || l <= 0 {
		return Rule{}, fmt.Errorf("%q is not a closing rule; write a limit such as \"12 mm sqrt(K)\", \"5 mm sqrt(n)\", \"0.05 ft sqrt(M)\" or \"6 mm\"", text)
	}
	r.Coef = l
	return r, nil
}

// Given reports whether there is a rule at all.
func (r Rule) Given() bool { return r.Coef != 0 }

// NeedsDistance reports whether the rule cannot be judged without sight
// distances.
func (r Rule) NeedsDistance() bool { return r.Per == SqrtK || r.Per == SqrtMiles }

// over returns the exact quantity under the root as a fraction.
func (r Rule) over(distance unit.Length, setups int) (num, den *big.Int) {
	switch r.Per {
	case SqrtK:
		return big.NewInt(int64(distance)), big.NewInt(int64(unit.KM.Size))
	case SqrtMiles:
		return big.NewInt(int64(distance)), big.NewInt(int64(unit.Mile.Size))
	case SqrtN:
		return big.NewInt(int64(setups)), big.NewInt(1)
	}
	return big.NewInt(1), big.NewInt(1)
}

// Allows reports whether a misclosure is within the rule; on the limit it is.
// It compares squares of whole numbers: w²·den ≤ c²·num.
func (r Rule) Allows(misclosure, distance unit.Length, setups int) bool {
	num, den := r.over(distance, setups)
	w, c := big.NewInt(int64(misclosure)), big.NewInt(int64(r.Coef))
	w.Mul(w, w).Mul(w, den)
	c.Mul(c, c).Mul(c, num)
	return w.Cmp(c) <= 0
}

// Limit returns the allowed misclosure, for print.
func (r Rule) Limit(distance unit.Length, setups int) unit.Length {
	num, den := r.over(distance, setups)
	q, _ := new(big.Rat).SetFrac(num, den).Float64()
	return unit.Length(math.Round(float64(r.Coef) * math.Sqrt(q)))
}
