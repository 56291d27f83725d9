package limits

import (
	"math/big"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// The lesser of 20 mm and 5 % of nominal diameter: Tauranga City Council,
// Infrastructure Development Code, CS-9.4. At DN 400 both are the same.
func TestLesserOfLengthAndShare(t *testing.T) {
	s, err := ParseSize("lesser of 20 mm and 5 % of DN")
	require.NoError(t, err)
	assert.True(t, s.Sized())
	for dn, want := range map[string]string{
		"100 mm": "5 mm", "150 mm": "7.5 mm", "225 mm": "11.25 mm", "375 mm": "18.75 mm", "399 mm": "19.95 mm",
		"400 mm": "20 mm", "401 mm": "20 mm", "1200 mm": "20 mm", "6 in": "0.3 in", "8 in": "0.4 in", "1 ftUS": "0.05 ftUS",
	} {
		l, err := s.For(length(t, dn))
		require.NoError(t, err)
		assert.Equal(t, length(t, want), l, dn)
	}
	both := SizeTolerance{Lower: s, Upper: s, HasLower: true, HasUpper: true, Source: "CS-9.4"}
	both.Lower.Below = true
	assert.Equal(t, "-lesser of 20 mm and 5 % of DN / lesser of 20 mm and 5 % of DN", both.String())
	// on the limit passes for DN 225: 11.25 mm; a count beyond fails
	tol, err := both.For(length(t, "225 mm"))
	require.NoError(t, err)
	assert.Equal(t, "CS-9.4", tol.Source)
	for _, sign := range []unit.Length{1, -1} {
		assert.Equal(t, Pass, verdict(tol, sign*length(t, "11.25 mm")))
		assert.Equal(t, Fail, verdict(tol, sign*(length(t, "11.25 mm")+1)))
	}
	_, err = both.For(0)
	assert.ErrorContains(t, err, "the DN of this pipe is not known")
	both.Lower.Below = false
	both.Lower.Fixed = length(t, "30 mm")
	both.Lower.Greater = true
	_, err = both.For(length(t, "225 mm"))
	assert.ErrorContains(t, err, "lies above the upper limit")
}

func TestParseSize(t *testing.T) {
	for text, want := range map[string]string{
		"20 mm":                              "20 mm",
		"-20 mm":                             "-20 mm",
		"+0.05 ft":                           "15.24 mm",
		"5 % of bore":                        "5 % of bore",
		"-2.5% of DN":                        "-2.5 % of DN",
		"the lesser of 20 mm and 5 % of DN":  "lesser of 20 mm and 5 % of DN",
		"- lesser of 5 % of DN and 20 mm":    "-lesser of 20 mm and 5 % of DN",
		"greater of 0.010 m and 2 % of bore": "greater of 10 mm and 2 % of bore",
		"  lesser  of 20mm and 5% of DN ":    "lesser of 20 mm and 5 % of DN",
	} {
		s, err := ParseSize(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, s.String())
		again, err := ParseSize(s.String())
		require.NoError(t, err)
		assert.Equal(t, s.String(), again.String())
	}
	for text, want := range map[string]string{
		"":                                  "needs a number and a unit",
		"20":                                "needs a number and a unit",
		"5 %":                               `a percentage is "of DN" or "of bore"`,
		"5 % of wall":                       `a percentage is "of DN" or "of bore"`,
		"x % of DN":                         "is not a number",
		"0.1234567890123456789 % of DN":     "more decimals",
		"lesser of 20 mm":                   `joined by "and"`,
		"lesser of 20 mm and 10 mm":         "one of the two is a length",
		"lesser of 5 % of DN and 3 % of DN": "one of the two is a length",
		"lesser of -20 mm and 5 % of DN":    "a sign belongs before the whole",
		"lesser of 20 mm and -5 % of DN":    "a sign belongs before the whole",
		"--20 mm":                           "a sign belongs before the whole",
		"20 mm and 5 % of DN":               "is not a number",
		"20 furlong":                        "is not a unit",
	} {
		_, err := ParseSize(text)
		require.Error(t, err, text)
		assert.Contains(t, err.Error(), want, text)
		assert.Contains(t, err.Error(), `write "20 mm"`, "what to do")
	}
	huge, err := ParseSize("999999999999999999 % of DN")
	require.NoError(t, err)
	_, err = huge.For(unit.Metre)
	assert.ErrorContains(t, err, "look at the percentage")
}

// Against fractions: the limit is exact, or cut by less than one count.
func TestSizeAgainstFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		percent := unit.Decimal{Coef: rapid.Int64Range(0, 100_000).Draw(t, "percent"), Places: uint8(rapid.IntRange(0, 9).Draw(t, "places"))}
		dn := unit.Length(rapid.Int64Range(1, 3000).Draw(t, "DN")) * rapid.SampledFrom([]unit.Length{unit.Millimetre, unit.Inch}).Draw(t, "unit of DN")
		fixed := unit.Length(rapid.Int64Range(0, 100).Draw(t, "fixed")) * unit.Millimetre
		s := Size{Fixed: fixed, HasFixed: true, Percent: percent, Of: "DN", Greater: rapid.Bool().Draw(t, "greater")}
		got, err := s.For(dn)
		if err != nil {
			return // a percentage beyond any length
		}
		share := new(big.Rat).Mul(ratOf(percent), big.NewRat(int64(dn), 100))
		want := new(big.Rat).SetInt64(int64(fixed))
		if (share.Cmp(want) > 0) == s.Greater {
			want = share
		}
		rest := want.Sub(want, new(big.Rat).SetInt64(int64(got)))
		if rest.Sign() < 0 || rest.Cmp(big.NewRat(1, 1)) >= 0 {
			t.Fatalf("%s for %s: %d is off by %s", s, dn, got, rest.FloatString(9))
		}
		if percent.Places <= 3 && rest.Sign() != 0 {
			t.Fatalf("%s for %s is not exact", s, dn)
		}
		s.Below = true
		if below, err := s.For(dn); err != nil || below != -got {
			t.Fatalf("below: %d for %d", below, got)
		}
	})
}

func FuzzParseSize(f *testing.F) {
	for _, s := range []string{"20 mm", "-lesser of 20 mm and 5 % of DN", "greater of 1 % of bore and 2 in", "% of DN", "lesser of and "} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseSize(text)
		if err != nil {
			return
		}
		l, err := s.For(unit.Metre)
		if err != nil {
			return
		}
		if s.Below && l > 0 || !s.Below && l < 0 {
			t.Fatalf("%q is %d", text, l)
		}
	})
}

func TestSizeToleranceWords(t *testing.T) {
	assert.Equal(t, "no limit", SizeTolerance{}.String())
	twenty, err := ParseSize("20 mm")
	require.NoError(t, err)
	assert.Equal(t, "not above 20 mm", SizeTolerance{Upper: twenty, HasUpper: true}.String())
	assert.Equal(t, "not below 20 mm", SizeTolerance{Lower: twenty, HasLower: true}.String())
	tol, err := SizeTolerance{Upper: twenty, HasUpper: true}.For(0)
	require.NoError(t, err, "a plain length needs no size")
	assert.Equal(t, length(t, "20 mm"), tol.Upper)
}

// Every preset can be used in either foot, has its own name and says how it was
// seen; what is in feet needs to know which.
func TestPresets(t *testing.T) {
	names := map[string]bool{}
	slug := regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)+$`)
	feet := 0
	for _, p := range Presets() {
		assert.Regexp(t, slug, p.Name)
		assert.False(t, names[p.Name], p.Name)
		names[p.Name] = true
		for _, s := range []string{p.Element, p.Kind, p.Basis, p.Source, p.Clause, p.Seen} {
			assert.NotEmpty(t, s, p.Name)
			assert.NotContains(t, s, "memory", p.Name)
		}
		for _, foot := range []unit.Unit{unit.Ft, unit.FtUS} {
			sized, err := p.Tolerance(foot)
			require.NoError(t, err, p.Name)
			tol, err := sized.For(length(t, "225 mm"))
			require.NoError(t, err, p.Name)
			require.True(t, tol.Given(), p.Name)
			assert.Contains(t, tol.Source, p.Clause)
			assert.Contains(t, tol.Source, p.Seen)
			if tol.HasLower {
				assert.Equal(t, Pass, verdict(tol, tol.Lower), p.Name)
				assert.Equal(t, Fail, verdict(tol, tol.Lower-1), p.Name)
			}
			if tol.HasUpper {
				assert.Equal(t, Pass, verdict(tol, tol.Upper), p.Name)
				assert.Equal(t, Fail, verdict(tol, tol.Upper+1), p.Name)
			}
		}
		_, err := p.Tolerance(unit.M)
		if inFeet := strings.HasSuffix(p.Lower, " ft"); inFeet {
			feet++
			assert.ErrorContains(t, err, "say which foot")
		} else {
			assert.NoError(t, err, p.Name)
		}
	}
	assert.Equal(t, 6, feet)
	for _, p := range Presets() { // a gap is one under a bar of the length that the document has
		bars := p.Bars()
		require.Equal(t, p.Kind == "straightedge", len(bars) > 0, p.Name)
		for _, l := range bars {
			assert.True(t, strings.Contains(p.Basis, l.Exact(unit.M, 0)+" m") || strings.Contains(p.Basis, l.Exact(unit.Ft, 0)+" ft") || strings.Contains(p.Basis, l.Exact(unit.FtUS, 0)+" ft"), "%s: %s", p.Name, p.Basis)
		}
	}
	p, err := PresetByName("tauranga-gravity-pipe")
	require.NoError(t, err)
	assert.Equal(t, "Tauranga City Council, Infrastructure Development Code, CS-9.4 (council's page; least grades are kept; no step, no backfall)", p.Cite())
	_, err = PresetByName("none")
	assert.ErrorContains(t, err, `no preset named "none"`)
	assert.Contains(t, ContractRules, "The contract rules")

	// The list is a copy.
	Presets()[0].Name = "changed"
	assert.NotEqual(t, "changed", Presets()[0].Name)

	// 0.1 ft of the survey foot: a level exactly on it passes, which it would
	// not against 0.1 international foot.
	p, err = PresetByName("kentucky-subgrade-final")
	require.NoError(t, err)
	sized, err := p.Tolerance(unit.FtUS)
	require.NoError(t, err)
	tol, err := sized.For(0)
	require.NoError(t, err)
	d := length(t, "812.37 ftUS") - length(t, "812.27 ftUS")
	assert.Equal(t, Pass, verdict(tol, d))
	other, err := p.Tolerance(unit.Ft)
	require.NoError(t, err)
	tol, err = other.For(0)
	require.NoError(t, err)
	assert.Equal(t, Fail, verdict(tol, d))
}
