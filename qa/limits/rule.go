package limits

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"sightrail/formats/unit"
)

// Decision is the way in which uncertainty enters a verdict.
type Decision uint8

// The decision rules. With a limit TU that must not be exceeded, a measured
// value y and a guard band w:
const (
	// Simple compares y alone: y ≤ TU passes. JCGM 106:2012, 8.2; ILAC-G8:09/2019, 4.2.1.
	Simple Decision = iota
	// GuardedAcceptance passes y ≤ TU − w, and fails the rest. JCGM 106:2012, 8.3.2.
	GuardedAcceptance
	// GuardedRejection fails only y > TU + w. JCGM 106:2012, 8.3.3.
	GuardedRejection
	// ConditionalResults judges as Simple does and says which results lie
	// within w of the limit. ILAC-G8:09/2019, 4.2.3.
	ConditionalResults
	// UncertaintyZone leaves undetermined what lies within w of the limit.
	// JCGM 106:2012, 7.5.2, says that the interval alone cannot decide there.
	UncertaintyZone
)

var decisionWords = [...]string{"simple acceptance", "guarded acceptance", "guarded rejection", "conditional results", "uncertainty zone"}

func (d Decision) String() string { return decisionWords[d] }

// Decisions lists the decision rules by the words of String.
func Decisions() []string { return append([]string(nil), decisionWords[:]...) }

// ParseDecision finds a decision rule by the words of String.
func ParseDecision(text string) (Decision, error) {
	for i, w := range decisionWords {
		if w == strings.TrimSpace(text) {
			return Decision(i), nil
		}
	}
	return 0, fmt.Errorf("%q is not a decision rule; use %s", text, strings.Join(decisionWords[:], ", "))
}

// UsualFactor is the coverage factor of U = 2 u, which guard bands are made of
// where nothing else is asked.
var UsualFactor = unit.Decimal{Coef: 2}

// Rule is a decision rule with its guard band: Factor standard uncertainties of
// the value judged, or, with HasGuard, the stated Guard for every value. The
// zero Rule is simple acceptance. Source says who asked for it.
type Rule struct {
	Decision Decision
	Factor   unit.Decimal
	Guard    unit.Length
	HasGuard bool
	Source   string
}

// Validate says what a rule lacks.
func (r Rule) Validate() error {
	switch {
	case int(r.Decision) >= len(decisionWords):
		return errors.New("the decision rule is not known; use " + strings.Join(decisionWords[:], ", "))
	case r.Decision == Simple && (r.HasGuard || r.Factor.Coef != 0):
		return errors.New("simple acceptance has no guard band; leave the guard band out, or name another decision rule")
	case r.Decision == Simple:
		return nil
	case r.HasGuard && r.Factor.Coef != 0:
		return fmt.Errorf("%s has both a factor and a guard band; give one of them", r.Decision)
	case r.HasGuard && r.Guard < 0, !r.HasGuard && r.Factor.Coef < 0:
		return fmt.Errorf("%s has a negative guard band; give it without a sign: the rule says on which side of the limit it lies", r.Decision)
	case !r.HasGuard && r.Factor.Coef == 0:
		return fmt.Errorf("%s needs a guard band: a length, or a factor of the standard uncertainty such as 2", r.Decision)
	}
	return nil
}

// String says what the rule does, for the report.
func (r Rule) String() string {
	if r.Decision == Simple {
		return "simple acceptance: the measured value alone is compared, and on the limit passes"
	}
	w := r.Factor.String() + " u"
	if r.HasGuard {
		w = trimZeros(r.Guard.Fixed(unit.MM, limitPlaces)) + " mm"
	}
	how := [...]string{
		GuardedAcceptance:  "passes what lies inside the limits by at least the guard band",
		GuardedRejection:   "fails only what lies beyond the limits by more than the guard band",
		ConditionalResults: "judged as simple acceptance; conditional within the guard band on either side of a limit",
		UncertaintyZone:    "undetermined within the guard band on either side of a limit",
	}[r.Decision]
	return fmt.Sprintf("%s, guard band %s: %s", r.Decision, w, how)
}

// State is the outcome in the words of the decision rule.
type State uint8

// The states of an outcome.
const (
	StateNotAssessed State = iota
	StatePass
	StateConditionalPass
	StateConditionalFail
	StateFail
	StateUndetermined
)

var stateWords = [...]string{"not assessed", "pass", "conditional pass", "conditional fail", "fail", "undetermined"}

func (s State) String() string { return stateWords[s] }

// Outcome is what a rule makes of one value.
//
// Verdict is what counts. A conditional pass counts as a pass and a conditional
// fail as a fail, because the measured value is on that side of the limit;
// undetermined counts as not assessed.
type Outcome struct {
	Verdict Verdict
	State   State
	Beyond  unit.Length // past the limit of Judged that it broke, as Tolerance.Judge has it

	Simple       Verdict     // what simple acceptance says
	SimpleBeyond unit.Length // and by how much

	Judged  Tolerance   // the limits with the guard band taken off or put on: those of acceptance
	Guard   unit.Length // the guard band of this value
	Conform float64     // probability that the true value lies within the limits; NaN where the uncertainty is not known
	Why     string      // why nothing was decided; "" otherwise

	tolerance, inner, outer Tolerance
}

// Judge compares a difference with the tolerance by the rule. uMm is the
// standard uncertainty of the difference in millimetres, one standard deviation;
// known says whether there is any (0 is an exact value). The comparison is one
// of whole counts of Length: a guard band k × u is rounded to one count, once,
// and a guard band of 0 is simple acceptance.
//
// A rule that needs an uncertainty which is not known judges nothing; nor does
// guarded acceptance pass judgement on a value within its limits when the guard
// bands leave no room between them.
func (r Rule) Judge(t Tolerance, diff unit.Length, uMm float64, known bool) Outcome {
	known = known && uMm >= 0 && !math.IsInf(uMm, 1)
	o := Outcome{Judged: t, Conform: math.NaN(), tolerance: t, inner: t, outer: t}
	if known {
		o.Conform = Conformance(t, diff, uMm)
	}
	o.Simple, o.SimpleBeyond = t.Judge(diff)
	if o.Simple == NotAssessed {
		o.Why = "there is no limit to judge by"
		if t.Given() {
			o.Why = "the lower limit lies above the upper one"
		}
		return o
	}
	if err := r.Validate(); err != nil {
		o.Why = err.Error()
		return o
	}
	if r.Decision == Simple {
		o.Verdict, o.Beyond, o.State = o.Simple, o.SimpleBeyond, binary(o.Simple)
		return o
	}
	switch {
	case r.HasGuard:
		o.Guard = r.Guard
	case !known:
		o.Why = "the uncertainty of this value is not known, and the decision rule needs it"
		return o
	default:
		w, err := unit.FromMetres(r.Factor.Float() * uMm / 1000)
		if err != nil {
			o.Why = "the uncertainty is beyond any length"
			return o
		}
		o.Guard = w
	}
	o.inner, o.outer = t.moved(-o.Guard), t.moved(o.Guard)
	r.decide(&o, diff)
	return o
}

func (r Rule) decide(o *Outcome, diff unit.Length) {
	inside, beyondInner := o.inner.Judge(diff)
	outside, beyondOuter := o.outer.Judge(diff)
	switch r.Decision {
	case GuardedAcceptance:
		o.Judged, o.Verdict, o.Beyond = o.inner, inside, beyondInner
		if inside == NotAssessed { // the guard bands meet
			if o.Simple == Fail {
				o.Verdict, o.Beyond, o.Judged = Fail, o.SimpleBeyond, o.tolerance
			} else {
				o.Why = "the guard bands leave nothing between the limits that could pass; measure with less uncertainty"
			}
		}
		o.State = binary(o.Verdict)
	case GuardedRejection:
		o.Judged, o.Verdict, o.Beyond = o.outer, outside, beyondOuter
		o.State = binary(o.Verdict)
	case ConditionalResults:
		o.Verdict, o.Beyond, o.State = o.Simple, o.SimpleBeyond, binary(o.Simple)
		if o.Simple == Pass && inside != Pass {
			o.State = StateConditionalPass
		} else if o.Simple == Fail && outside == Pass {
			o.State = StateConditionalFail
		}
	case UncertaintyZone:
		switch {
		case inside == Pass:
			o.Verdict, o.State = Pass, StatePass
		case outside == Fail:
			o.Verdict, o.Beyond, o.State = Fail, o.SimpleBeyond, StateFail
		default:
			o.State = StateUndetermined
			o.Why = "it lies within the guard band of a limit"
		}
	}
}

func binary(v Verdict) State {
	return [...]State{NotAssessed: StateNotAssessed, Pass: StatePass, Fail: StateFail}[v]
}

// moved widens the tolerance by w on each side that it has; a negative w makes
// it narrower.
func (t Tolerance) moved(w unit.Length) Tolerance {
	if t.HasUpper {
		t.Upper = minus(t.Upper, -w)
	}
	if t.HasLower {
		t.Lower = minus(t.Lower, w)
	}
	return t
}

// Printed writes the difference in millimetres as Tolerance.Printed does, with
// as many decimals as keep it on its side of the limits and of the guard bands.
func (o Outcome) Printed(diff unit.Length) string {
	agrees := func(s string) bool {
		return o.tolerance.agrees(s, diff) && o.inner.agrees(s, diff) && o.outer.agrees(s, diff)
	}
	for places := range unit.MaxPlaces + 1 {
		if s := diff.Fixed(unit.MM, places); agrees(s) {
			return plus(s)
		}
	}
	// nearer than the last decimal: rounded to its own side, as Printed does
	for _, step := range []unit.Length{lastDecimal, -lastDecimal} {
		if s := (diff + step).Fixed(unit.MM, unit.MaxPlaces); agrees(s) {
			return plus(s)
		}
	}
	return o.Judged.Printed(diff)
}

// Words says the outcome for the report: "pass", "conditional fail: within the
// guard band of 4 mm", "not assessed: ...".
func (o Outcome) Words() string {
	band := trimZeros(o.Guard.Fixed(unit.MM, 1)) + " mm"
	switch {
	case o.Why != "":
		return o.State.String() + ": " + o.Why
	case o.State == StateConditionalPass, o.State == StateConditionalFail:
		return o.State.String() + ": within the guard band of " + band
	case o.Verdict != o.Simple && o.Verdict == Fail:
		return "fail: within the limits, but not by the guard band of " + band
	case o.Verdict != o.Simple && o.Verdict == Pass:
		return "pass: beyond the limits, but not by more than the guard band of " + band
	}
	return o.State.String()
}

// trimZeros takes trailing zeros off a printed decimal.
func trimZeros(s string) string {
	if !strings.Contains(s, ".") {
		return s
	}
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}
