package limits

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func guarded(d Decision) Rule { return Rule{Decision: d, Factor: UsualFactor} }

// The rules on one value each side of every boundary: limits -20 and +10 mm, u
// 1.6 mm, so that the guard band is exactly 3.2 mm. The boundaries are those of
// JCGM 106:2012, 8.2 and 8.3, and ILAC-G8:09/2019, 4.2.
func TestRules(t *testing.T) {
	tol := within(t, "-20 mm", "10 mm")
	for _, c := range []struct {
		diff                            string
		simple, accept, reject          Verdict
		acceptBeyond, conditional, zone string
	}{
		{"0 mm", Pass, Pass, Pass, "0 mm", "pass", "pass"},
		{"6.8 mm", Pass, Pass, Pass, "0 mm", "pass", "pass"}, // on the acceptance limit
		{"6.800001 mm", Pass, Fail, Pass, "0.000001 mm", "conditional pass", "undetermined"},
		{"10 mm", Pass, Fail, Pass, "3.2 mm", "conditional pass", "undetermined"}, // on the limit
		{"10.000001 mm", Fail, Fail, Pass, "3.200001 mm", "conditional fail", "undetermined"},
		{"13.2 mm", Fail, Fail, Pass, "6.4 mm", "conditional fail", "undetermined"}, // on the rejection limit
		{"13.200001 mm", Fail, Fail, Fail, "6.400001 mm", "fail", "fail"},
		{"-16.8 mm", Pass, Pass, Pass, "0 mm", "pass", "pass"},
		{"-16.9 mm", Pass, Fail, Pass, "-0.1 mm", "conditional pass", "undetermined"},
		{"-20 mm", Pass, Fail, Pass, "-3.2 mm", "conditional pass", "undetermined"},
		{"-23.2 mm", Fail, Fail, Pass, "-6.4 mm", "conditional fail", "undetermined"},
		{"-23.3 mm", Fail, Fail, Fail, "-6.5 mm", "fail", "fail"},
	} {
		d := length(t, c.diff)
		const u = 1.6
		o := Rule{}.Judge(tol, d, u, true)
		assert.Equal(t, c.simple, o.Verdict, c.diff)
		raw, beyond := tol.Judge(d)
		assert.Equal(t, raw, o.Verdict)
		assert.Equal(t, beyond, o.Beyond)

		o = guarded(GuardedAcceptance).Judge(tol, d, u, true)
		assert.Equal(t, c.accept, o.Verdict, c.diff)
		assert.Equal(t, length(t, c.acceptBeyond), o.Beyond, c.diff)
		assert.Equal(t, raw, o.Simple, "the raw result never changes")
		assert.Equal(t, beyond, o.SimpleBeyond)
		assert.Equal(t, length(t, "3.2 mm"), o.Guard)
		assert.Equal(t, "-16.8 / +6.8 mm", o.Judged.String())

		o = guarded(GuardedRejection).Judge(tol, d, u, true)
		assert.Equal(t, c.reject, o.Verdict, c.diff)
		assert.Equal(t, "-23.2 / +13.2 mm", o.Judged.String())

		o = guarded(ConditionalResults).Judge(tol, d, u, true)
		assert.Equal(t, c.conditional, o.State.String(), c.diff)
		assert.Equal(t, raw, o.Verdict, "a conditional result counts as the side it is on")
		assert.Equal(t, beyond, o.Beyond)

		o = guarded(UncertaintyZone).Judge(tol, d, u, true)
		assert.Equal(t, c.zone, o.State.String(), c.diff)
		assert.Equal(t, c.zone == "undetermined", o.Verdict == NotAssessed, "undetermined is not assessed")

		// A guard band that is stated does the same without any uncertainty.
		for _, kind := range []Decision{GuardedAcceptance, GuardedRejection, ConditionalResults, UncertaintyZone} {
			stated := Rule{Decision: kind, Guard: length(t, "3.2 mm"), HasGuard: true}.Judge(tol, d, 0, false)
			byFactor := guarded(kind).Judge(tol, d, u, true)
			assert.Equal(t, byFactor.State, stated.State, "%s %s", kind, c.diff)
			assert.Equal(t, byFactor.Beyond, stated.Beyond)
			assert.True(t, math.IsNaN(stated.Conform), "no probability without an uncertainty")
		}
	}
}

// The table of decision rules: each is one of ours, by name and with its states.
func TestPublishedDecisionRules(t *testing.T) {
	rows := readTable(t, filepath.Join(qualityFolder(t), "decision-rules.csv"))
	require.Len(t, rows, len(Decisions()))
	tol := within(t, "", "10 mm")
	for _, row := range rows {
		kind, err := ParseDecision(row["rule"])
		require.NoError(t, err)
		r := guarded(kind)
		if kind == Simple {
			r = Rule{}
		}
		states := map[string]bool{}
		for d := unit.Length(0); d <= 20*unit.Millimetre; d += unit.Millimetre {
			states[r.Judge(tol, d, 1.5, true).State.String()] = true
		}
		want := strings.Split(row["states"], ", ")
		assert.Len(t, states, len(want), row["rule"])
		for _, s := range want {
			assert.True(t, states[s], "%s: %s", row["rule"], s)
		}
	}
}

func TestRulesThatCannotDecide(t *testing.T) {
	tol := within(t, "-5 mm", "5 mm")
	wide := within(t, "-5 mm", "5 mm")
	for _, u := range []struct {
		mm    float64
		known bool
	}{{0, false}, {-1, true}, {math.NaN(), true}, {math.Inf(1), true}} {
		o := guarded(GuardedAcceptance).Judge(tol, 0, u.mm, u.known)
		assert.Equal(t, NotAssessed, o.Verdict)
		assert.Contains(t, o.Words(), "not assessed: the uncertainty of this value is not known")
		assert.Equal(t, Pass, o.Simple)
		assert.Equal(t, Pass, Rule{}.Judge(tol, 0, u.mm, u.known).Verdict, "simple acceptance needs none")
	}
	o := guarded(GuardedAcceptance).Judge(tol, 0, 1e300, true)
	assert.Equal(t, NotAssessed, o.Verdict)

	// Guard bands that meet: on exactly half the width one value still passes.
	assert.Equal(t, Pass, guarded(GuardedAcceptance).Judge(wide, 0, 2.5, true).Verdict)
	o = guarded(GuardedAcceptance).Judge(wide, 0, 2.6, true)
	assert.Equal(t, NotAssessed, o.Verdict)
	assert.Contains(t, o.Words(), "measure with less uncertainty")
	o = guarded(GuardedAcceptance).Judge(wide, length(t, "6 mm"), 2.6, true)
	assert.Equal(t, Fail, o.Verdict, "what is beyond its limit fails all the same")
	assert.Equal(t, unit.Millimetre, o.Beyond)
	assert.Equal(t, StateConditionalPass, guarded(ConditionalResults).Judge(wide, 0, 2.6, true).State)
	assert.Equal(t, StateUndetermined, guarded(UncertaintyZone).Judge(wide, 0, 2.6, true).State)

	for _, none := range []Tolerance{{}, within(t, "10 mm", "-10 mm")} {
		o := guarded(GuardedRejection).Judge(none, 0, 1, true)
		assert.Equal(t, NotAssessed, o.Verdict)
		assert.NotEmpty(t, o.Why)
		assert.True(t, math.IsNaN(o.Conform))
	}
	for _, bad := range []Rule{
		{Decision: GuardedAcceptance},
		{Decision: ConditionalResults, Factor: unit.Decimal{Coef: -2}},
		{Decision: GuardedRejection, HasGuard: true, Guard: -1},
		{Decision: GuardedRejection, HasGuard: true, Guard: 1, Factor: UsualFactor},
		{Factor: UsualFactor},
		{Decision: 9},
	} {
		require.Error(t, bad.Validate())
		o := bad.Judge(tol, 0, 1, true)
		assert.Equal(t, NotAssessed, o.Verdict)
		assert.Equal(t, bad.Validate().Error(), o.Why)
	}
	_, err := ParseDecision("generous")
	assert.ErrorContains(t, err, "simple acceptance, guarded acceptance")
}

func TestRuleWords(t *testing.T) {
	assert.Contains(t, Rule{}.String(), "simple acceptance")
	assert.Contains(t, guarded(GuardedAcceptance).String(), "guard band 2 u")
	assert.Contains(t, Rule{Decision: ConditionalResults, Guard: length(t, "3.5 mm"), HasGuard: true}.String(), "guard band 3.5 mm")
	tol := within(t, "", "10 mm")
	words := func(d Decision, diff string) string {
		return guarded(d).Judge(tol, length(t, diff), 2, true).Words()
	}
	assert.Equal(t, "pass", words(GuardedAcceptance, "6 mm"))
	assert.Equal(t, "fail: within the limits, but not by the guard band of 4 mm", words(GuardedAcceptance, "8 mm"))
	assert.Equal(t, "fail", words(GuardedAcceptance, "11 mm"))
	assert.Equal(t, "pass: beyond the limits, but not by more than the guard band of 4 mm", words(GuardedRejection, "12 mm"))
	assert.Equal(t, "conditional pass: within the guard band of 4 mm", words(ConditionalResults, "9 mm"))
	assert.Equal(t, "conditional fail: within the guard band of 4 mm", words(ConditionalResults, "11 mm"))
	assert.Equal(t, "undetermined: it lies within the guard band of a limit", words(UncertaintyZone, "11 mm"))
}

// What is printed keeps its side of the limit and of the guard bands.
func TestOutcomePrinted(t *testing.T) {
	tol := within(t, "", "10 mm")
	for _, c := range []struct{ diff, want string }{
		{"6 mm", "+6"}, {"6.1 mm", "+6.1"}, {"9.7 mm", "+10"}, {"10.04 mm", "+10.04"}, {"13.6 mm", "+14"}, {"14.2 mm", "+14.2"}, {"-3.4 mm", "-3"},
	} {
		o := guarded(ConditionalResults).Judge(tol, length(t, c.diff), 2, true)
		assert.Equal(t, c.want, o.Printed(length(t, c.diff)), c.diff)
	}
	at := length(t, "10 mm")
	o := guarded(ConditionalResults).Judge(tol, at+1, 2, true)
	assert.Equal(t, "+10.000000001", o.Printed(at+1))
	// limits one count apart: no decimal says it, and the last place is printed
	near := Tolerance{Lower: at + 1, Upper: at + 1, HasLower: true, HasUpper: true}
	assert.Equal(t, "+10.000000000", Rule{}.Judge(near, at+1, 0, true).Printed(at+1))
}

// On the limit passes in every unit that a staff or a design uses, with and
// without a guard band, and one count beyond does not. Sixteenths of an inch are
// 0.0625 in.
func TestOnTheLimitOfEveryRule(t *testing.T) {
	for _, c := range []struct{ design, upper, built, guard, guarded string }{
		{"682.253 m", "0.010 m", "682.263 m", "0.003 m", "682.260 m"},
		{"101.27 ft", "0.05 ft", "101.32 ft", "0.02 ft", "101.30 ft"},
		{"101.27 ftUS", "0.05 ftUS", "101.32 ftUS", "0.02 ftUS", "101.30 ftUS"},
		{"1203.3125 in", "0.5625 in", "1203.875 in", "0.0625 in", "1203.8125 in"},
		{"-3.07 ftUS", "0.1 ftUS", "-2.97 ftUS", "0.01 ftUS", "-2.98 ftUS"},
	} {
		tol := Tolerance{Upper: length(t, c.upper), HasUpper: true}
		d := length(t, c.built) - length(t, c.design)
		assert.Equal(t, Pass, Rule{}.Judge(tol, d, 3, true).Verdict, c)
		assert.Equal(t, Fail, Rule{}.Judge(tol, d+1, 3, true).Verdict, c)
		g := Rule{Decision: GuardedAcceptance, Guard: length(t, c.guard), HasGuard: true}
		on := length(t, c.guarded) - length(t, c.design)
		assert.Equal(t, Pass, g.Judge(tol, on, 0, false).Verdict, c)
		assert.Equal(t, Fail, g.Judge(tol, on+1, 0, false).Verdict, c)
		mirrored := Tolerance{Lower: -tol.Upper, HasLower: true}
		assert.Equal(t, Pass, g.Judge(mirrored, -on, 0, false).Verdict, c)
		assert.Equal(t, Fail, g.Judge(mirrored, -on-1, 0, false).Verdict, c)
		conditional := Rule{Decision: ConditionalResults, Guard: g.Guard, HasGuard: true}
		assert.Equal(t, StatePass, conditional.Judge(tol, on, 0, false).State)
		assert.Equal(t, StateConditionalPass, conditional.Judge(tol, d, 0, false).State)
		assert.Equal(t, StateConditionalFail, conditional.Judge(tol, d+1, 0, false).State)
		assert.Equal(t, StateConditionalFail, conditional.Judge(tol, d+g.Guard, 0, false).State)
		assert.Equal(t, StateFail, conditional.Judge(tol, d+g.Guard+1, 0, false).State)
	}
}

func anyTolerance(t *rapid.T) Tolerance {
	lower := unit.Length(rapid.Int64Range(-2e8, 2e8).Draw(t, "lower")) * unit.Nanometre
	width := unit.Length(rapid.Int64Range(0, 2e8).Draw(t, "width")) * unit.Nanometre
	tol := Tolerance{Lower: lower, Upper: lower + width}
	sides := rapid.IntRange(1, 3).Draw(t, "sides")
	tol.HasLower, tol.HasUpper = sides&1 != 0, sides&2 != 0
	return tol
}

// More uncertainty never turns a fail into a pass in guarded acceptance, never a
// pass into a fail in guarded rejection, and never moves a conditional result
// over the limit.
func TestMoreUncertaintyIsNeverKinder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tol := anyTolerance(t)
		d := unit.Length(rapid.Int64Range(-3e12, 3e12).Draw(t, "difference"))
		small := rapid.Float64Range(0, 100).Draw(t, "u")
		large := small + rapid.Float64Range(0, 100).Draw(t, "more")
		less, more := guarded(GuardedAcceptance).Judge(tol, d, small, true), guarded(GuardedAcceptance).Judge(tol, d, large, true)
		if less.Verdict != Pass && more.Verdict == Pass {
			t.Fatal("guarded acceptance: more uncertainty made a pass")
		}
		if less.Verdict == Pass && less.Simple != Pass {
			t.Fatal("guarded acceptance passed what is beyond its limits")
		}
		less, more = guarded(GuardedRejection).Judge(tol, d, small, true), guarded(GuardedRejection).Judge(tol, d, large, true)
		if less.Verdict == Pass && more.Verdict != Pass {
			t.Fatal("guarded rejection: more uncertainty made a fail")
		}
		conditional := guarded(ConditionalResults).Judge(tol, d, large, true)
		if conditional.Verdict != conditional.Simple {
			t.Fatal("a conditional result changed sides")
		}
		zone := guarded(UncertaintyZone).Judge(tol, d, large, true)
		if zone.Verdict != NotAssessed && zone.Verdict != zone.Simple {
			t.Fatal("the uncertainty zone changed a verdict")
		}
		// Without uncertainty every rule is simple acceptance.
		for kind := range Decision(len(decisionWords)) {
			r := Rule{Decision: kind}
			if kind != Simple {
				r.Factor = UsualFactor
			}
			if o := r.Judge(tol, d, 0, true); o.Verdict != o.Simple || o.Beyond != o.SimpleBeyond {
				t.Fatalf("%s without uncertainty: %v", kind, o)
			}
			o := r.Judge(tol, d, small, true)
			if p := o.Conform; !(p >= 0 && p <= 1) {
				t.Fatalf("probability %v", p)
			}
			// Beyond leads back to the limit that was broken.
			if o.Verdict == Fail {
				if v, _ := o.Judged.Judge(d - o.Beyond); v != Pass {
					t.Fatalf("%s: %d beyond leads back to no limit", kind, o.Beyond)
				}
			}
			// What is printed lies on the same side of every limit, unless limits
			// are so near to one another that no decimal fits between.
			if o.Guard > 0 && o.Guard < 100 {
				continue
			}
			printed, exact, err := unit.Parse(o.Printed(d), unit.MM)
			if err != nil {
				t.Fatal(err)
			}
			if again := r.Judge(tol, printed, small, true); exact && again.State != o.State {
				t.Fatalf("%s: %s mm printed beside %s; judged again it is %s", kind, o.Printed(d), o.State, again.State)
			}
		}
	})
}

func TestConformance(t *testing.T) {
	tol := within(t, "-10 mm", "10 mm")
	assert.InDelta(t, 0.954499736, Conformance(tol, 0, 5), 1e-9, "two standard deviations each side")
	assert.InDelta(t, 0.5, Conformance(tol, length(t, "10 mm"), 1), 1e-15, "on a limit far from the other")
	assert.Equal(t, 1.0, Conformance(tol, length(t, "10 mm"), 0))
	assert.Equal(t, 0.0, Conformance(tol, length(t, "10 mm")+1, 0))
	tail := Conformance(within(t, "", "0 mm"), length(t, "30 mm"), 1)
	assert.InEpsilon(t, 4.906713927148187e-198, tail, 1e-9, "far tails keep their digits")
	upper := Conformance(within(t, "10 mm", ""), length(t, "-20 mm"), 1)
	assert.InEpsilon(t, tail, upper, 1e-12)
	assert.True(t, math.IsNaN(Conformance(tol, 0, -1)))
	assert.True(t, math.IsNaN(Capability(within(t, "", "1 mm"), 1)))
	assert.True(t, math.IsInf(Capability(tol, 0), 1))
	for _, c := range [][2]float64{{0, 1}, {1, 0}, {math.NaN(), 1}, {1, math.Inf(1)}} {
		a, b := Risks(tol, tol, 0, c[0], c[1])
		assert.True(t, math.IsNaN(a) && math.IsNaN(b))
	}
	// with a measurement that is all but exact nothing goes wrong
	a, b := Risks(tol, tol, 0, 5, 1e-9)
	assert.InDelta(t, 0, a, 1e-8)
	assert.InDelta(t, 0, b, 1e-8)
	a, b = Risks(tol, within(t, "20 mm", "-20 mm"), 0, 5, 1)
	assert.Zero(t, a, "nothing is accepted")
	assert.InDelta(t, Conformance(tol, 0, 5), b, 1e-12)
}
