package levels_test

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

func TestParseRule(t *testing.T) {
	for in, want := range map[string]levels.Rule{
		"12 mm sqrt(K)":   {Coef: 12 * unit.Millimetre, Per: levels.SqrtK, Text: "12 mm sqrt(K)"},
		" 12mm sqrt(K) ":  {Coef: 12 * unit.Millimetre, Per: levels.SqrtK, Text: "12mm sqrt(K)"},
		"5 mm sqrt(n)":    {Coef: 5 * unit.Millimetre, Per: levels.SqrtN, Text: "5 mm sqrt(n)"},
		"0.05 ft sqrt(M)": {Coef: unit.InternationalFoot / 20, Per: levels.SqrtMiles, Text: "0.05 ft sqrt(M)"},
		"6 mm":            {Coef: 6 * unit.Millimetre, Per: levels.Fixed, Text: "6 mm"},
	} {
		r, err := levels.ParseRule(in)
		assert.NoError(t, err, in)
		assert.Equal(t, want, r)
		assert.True(t, r.Given())
		assert.Equal(t, want.Per == levels.SqrtK || want.Per == levels.SqrtMiles, r.NeedsDistance())
	}
	for _, in := range []string{"", "12", "12 sqrt(K)", "0 mm", "-12 mm sqrt(K)", "12 mm sqrt(k)", "12 mm sqrt(N)", "12 mm sqrt(L)", "12 mm K", "sqrt(K)", "12 mn sqrt(K)", "12 mm sqrt(K) mm"} {
		_, err := levels.ParseRule(in)
		assert.EqualError(t, err, `"`+in+`" is not a closing rule; write a limit such as "12 mm sqrt(K)", "5 mm sqrt(n)", "0.05 ft sqrt(M)" or "6 mm"`)
	}
	assert.False(t, levels.Rule{}.Given(), "the zero Rule judges nothing")
}

// On the limit it is allowed, one count beyond it is not: 12 mm sqrt(K) gives
// 12, 24, 36 mm at 1, 4 and 9 km, and so on for the others (arithmetic).
func TestRuleOnItsLimit(t *testing.T) {
	for _, x := range []struct {
		rule     string
		distance unit.Length
		setups   int
		want     unit.Length
	}{
		{"12 mm sqrt(K)", 1000 * unit.Metre, 5, 12 * unit.Millimetre},
		{"12 mm sqrt(K)", 4000 * unit.Metre, 5, 24 * unit.Millimetre},
		{"12 mm sqrt(K)", 9000 * unit.Metre, 5, 36 * unit.Millimetre},
		{"12 mm sqrt(K)", 250 * unit.Metre, 5, 6 * unit.Millimetre},
		{"5 mm sqrt(n)", 0, 16, 20 * unit.Millimetre},
		{"5 mm sqrt(n)", 0, 1, 5 * unit.Millimetre},
		{"0.05 ft sqrt(M)", 4 * unit.Mile.Size, 5, unit.InternationalFoot / 10},
		{"6 mm", 0, 0, 6 * unit.Millimetre},
	} {
		r := rule(t, x.rule)
		assert.Equal(t, x.want, r.Limit(x.distance, x.setups), x.rule)
		for _, sign := range []unit.Length{1, -1} {
			assert.True(t, r.Allows(sign*x.want, x.distance, x.setups), x.rule)
			assert.False(t, r.Allows(sign*(x.want+1), x.distance, x.setups), x.rule)
		}
	}
	k := rule(t, "12 mm sqrt(K)")
	assert.True(t, k.Allows(0, 0, 0))
	assert.False(t, k.Allows(1, 0, 0))
}

// The 900 m loop of testdata/worked/levelling/m-loop-bm7-order.json misses by
// 10 mm: 12 mm sqrt(K) allows 11.4 mm and 8 mm sqrt(K) 7.6 mm (the coefficients
// of US third and second order, class II, levelling, from memory).
func TestOrdersOfALoop(t *testing.T) {
	for text, limit := range map[string]string{"12 mm sqrt(K)": "11.4", "8 mm sqrt(K)": "7.6"} {
		r := rule(t, text)
		assert.Equal(t, limit, r.Limit(900*unit.Metre, 5).Fixed(unit.MM, 1))
		assert.Equal(t, limit == "11.4", r.Allows(10*unit.Millimetre, 900*unit.Metre, 5))
	}
}

// The exact judgement and the rounded limit for print never differ by more than
// the rounding; judged by the whole square root of math/big.
func TestRuleAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom([]string{"12 mm sqrt(K)", "0.017 ft sqrt(M)", "3.3 mm sqrt(n)"}).Draw(t, "rule")
		r := rule(t, text)
		distance := unit.Length(rapid.Int64Range(1, 50_000_000).Draw(t, "mm")) * unit.Millimetre
		setups := rapid.IntRange(1, 500).Draw(t, "set-ups")
		under := big.NewRat(int64(setups), 1)
		switch r.Per {
		case levels.SqrtK:
			under = big.NewRat(int64(distance), int64(1000*unit.Metre))
		case levels.SqrtMiles:
			under = big.NewRat(int64(distance), int64(unit.Mile.Size))
		}
		square := new(big.Int).Mul(big.NewInt(int64(r.Coef)), big.NewInt(int64(r.Coef)))
		square.Mul(square, under.Num()).Quo(square, under.Denom())
		whole := square.Sqrt(square).Int64() // the largest that is allowed
		require.True(t, r.Allows(unit.Length(whole), distance, setups))
		require.True(t, r.Allows(unit.Length(-whole), distance, setups))
		require.False(t, r.Allows(unit.Length(whole+1), distance, setups))
		printed := int64(r.Limit(distance, setups))
		require.InDelta(t, whole, printed, 2+float64(whole)/1e15)
	})
}
