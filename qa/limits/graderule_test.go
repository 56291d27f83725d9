package limits

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// A fall over 24 m against 1 in 80, which is 300 mm, with a guard band of 4 mm (u
// 2 mm, factor 2): falls of 300, 304, one count less, 296 and one count less, in
// metres and in feet. The rules are those of JCGM 106:2012 and ILAC-G8:09/2019;
// the figures are made up.
func TestGradeWithGuardBand(t *testing.T) {
	for _, scale := range []unit.Length{unit.Millimetre, unit.InternationalFoot / 300, 1_200_000_000_000 / 300, unit.Inch / 16} {
		least := unit.Grade{Rise: 1, Run: 80}
		u := (2 * scale).Millimetres()
		for fall, want := range map[unit.Length]map[Decision]Verdict{
			304 * scale:   {Simple: Pass, GuardedAcceptance: Pass, GuardedRejection: Pass, ConditionalResults: Pass, UncertaintyZone: Pass},
			304*scale - 1: {Simple: Pass, GuardedAcceptance: Fail, GuardedRejection: Pass, ConditionalResults: Pass, UncertaintyZone: NotAssessed},
			300 * scale:   {Simple: Pass, GuardedAcceptance: Fail, GuardedRejection: Pass, ConditionalResults: Pass, UncertaintyZone: NotAssessed},
			300*scale - 1: {Simple: Fail, GuardedAcceptance: Fail, GuardedRejection: Pass, ConditionalResults: Fail, UncertaintyZone: NotAssessed},
			296*scale - 1: {Simple: Fail, GuardedAcceptance: Fail, GuardedRejection: Fail, ConditionalResults: Fail, UncertaintyZone: Fail},
		} {
			for d, verdict := range want {
				r := Rule{Decision: d, Guard: 4 * scale, HasGuard: true, Source: "s"}
				if d == Simple {
					r = Rule{}
				}
				o := r.JudgeGrade(fall, 24000*scale, least, u, true)
				assert.Equal(t, verdict, o.Verdict, "%s, fall %d of scale %d", d, fall, scale)
			}
		}
	}
	o := Rule{}.JudgeGrade(unit.Metre, 0, unit.Grade{Rise: 1, Run: 80}, 0, true)
	assert.Equal(t, NotAssessed, o.Verdict)
	assert.Contains(t, o.Words(), "no least grade")
	o = Rule{Decision: GuardedAcceptance, Factor: UsualFactor}.JudgeGrade(unit.Metre, 50*unit.Metre, unit.Grade{Rise: 1, Run: 80}, 0, false)
	assert.Equal(t, NotAssessed, o.Verdict, "the rule needs an uncertainty")
}

// With fractions: guarded acceptance passes exactly what is by the guard band more
// than the least fall, whatever that is; and without a guard band every rule says
// what LeastGrade says.
func TestGradeRuleAgainstFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fall := unit.Length(rapid.Int64Range(-500, 500).Draw(t, "fall"))
		length := unit.Length(rapid.Int64Range(1, 500).Draw(t, "length"))
		least := unit.Grade{Rise: unit.Length(rapid.Int64Range(0, 20).Draw(t, "rise")), Run: unit.Length(rapid.Int64Range(1, 90).Draw(t, "run"))}
		guard := unit.Length(rapid.Int64Range(0, 9).Draw(t, "guard"))
		need := new(big.Rat).Mul(big.NewRat(int64(length), 1), big.NewRat(int64(least.Rise), int64(least.Run)))
		at := func(shift unit.Length) Verdict {
			if big.NewRat(int64(fall-shift), 1).Cmp(need) >= 0 {
				return Pass
			}
			return Fail
		}
		for d, shift := range map[Decision]unit.Length{Simple: 0, GuardedAcceptance: guard, GuardedRejection: -guard} {
			if got := (Rule{Decision: d, Guard: guard, HasGuard: d != Simple}).JudgeGrade(fall, length, least, 0, false).Verdict; got != at(shift) {
				t.Fatalf("%s: %s, want %s", d, got, at(shift))
			}
		}
		if got := (Rule{Decision: ConditionalResults, HasGuard: true}).JudgeGrade(fall, length, least, 0, true).Verdict; got != LeastGrade(fall, length, least) {
			t.Fatalf("without a guard band: %s", got)
		}
	})
}
