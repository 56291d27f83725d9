package limits

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func length(t testing.TB, text string) unit.Length {
	t.Helper()
	l, err := unit.ParseQuantity(text)
	require.NoError(t, err)
	return l
}

// within makes a tolerance; an empty text leaves that side out.
func within(t testing.TB, lower, upper string) Tolerance {
	t.Helper()
	var tol Tolerance
	if lower != "" {
		tol.Lower, tol.HasLower = length(t, lower), true
	}
	if upper != "" {
		tol.Upper, tol.HasUpper = length(t, upper), true
	}
	return tol
}

func TestZeroVerdictIsNotAssessed(t *testing.T) {
	var v Verdict
	assert.Equal(t, "not assessed", v.String())
	v, beyond := Tolerance{}.Judge(0)
	assert.Equal(t, NotAssessed, v)
	assert.Zero(t, beyond)
	crossed := within(t, "10 mm", "-30 mm")
	v, _ = crossed.Judge(0)
	assert.Equal(t, NotAssessed, v, "limits that cross each other judge nothing")
}

func TestJudge(t *testing.T) {
	for _, c := range []struct {
		lower, upper, deviation string
		want                    Verdict
		beyond                  string
	}{
		{"-30 mm", "20 mm", "20 mm", Pass, "0 mm"},
		{"-30 mm", "20 mm", "-30 mm", Pass, "0 mm"},
		{"-30 mm", "20 mm", "20.1 mm", Fail, "0.1 mm"},
		{"-30 mm", "20 mm", "-31 mm", Fail, "-1 mm"},
		{"-30 mm", "", "5 m", Pass, "0 mm"},
		{"-30 mm", "", "-30.001 mm", Fail, "-0.001 mm"},
		{"", "0 mm", "-5 m", Pass, "0 mm"},
		{"", "0 mm", "0.000001 mm", Fail, "0.000001 mm"},
		{"0 mm", "0 mm", "0 mm", Pass, "0 mm"},
		{"5 mm", "10 mm", "0 mm", Fail, "-5 mm"}, // both limits on one side of design
	} {
		v, beyond := within(t, c.lower, c.upper).Judge(length(t, c.deviation))
		assert.Equal(t, c.want, v, c)
		assert.Equal(t, length(t, c.beyond), beyond, c)
	}
	// A deviation at the end of the range does not wrap around into a pass.
	v, beyond := within(t, "1 mm", "").Judge(-unit.MaxLength)
	assert.Equal(t, Fail, v)
	assert.Equal(t, -unit.MaxLength, beyond)
	v, beyond = within(t, "", "-1 mm").Judge(unit.MaxLength)
	assert.Equal(t, Fail, v)
	assert.Equal(t, unit.MaxLength, beyond)
}

// A design level, a limit and the built level that lies exactly on it, written
// as decimals of one unit: 10,000 cases for each of m, ft and ftUS with 2, 3
// and 4 decimals. Each passes, and one count of Length beyond fails.
func TestOnTheLimitPasses(t *testing.T) {
	const cases = 10_000
	random := rand.New(rand.NewPCG(20, 26))
	for _, u := range []unit.Unit{unit.M, unit.Ft, unit.FtUS} {
		for places := uint8(2); places <= 4; places++ {
			t.Run(fmt.Sprintf("%s %d decimals", u, places), func(t *testing.T) {
				read := func(coef int64) unit.Length {
					// through the text of a cell, as a file would have it
					l, exact, err := unit.Parse(unit.Decimal{Coef: coef, Places: places}.String(), u)
					if err != nil || !exact {
						t.Fatalf("%d with %d decimals of %s: exact %v, %v", coef, places, u, exact, err)
					}
					return l
				}
				passed, failed := 0, 0
				for range cases {
					design := random.Int64N(20_000_000) - 5_000_000
					lower := -random.Int64N(1000)
					upper := random.Int64N(1000)
					both := Tolerance{Lower: read(lower), Upper: read(upper), HasLower: true, HasUpper: true}
					atLower := read(design+lower) - read(design)
					atUpper := read(design+upper) - read(design)
					ok, beyond := true, true
					for _, tol := range []Tolerance{both, {Lower: both.Lower, HasLower: true}} {
						ok = ok && verdict(tol, atLower) == Pass
						beyond = beyond && verdict(tol, atLower-1) == Fail
					}
					for _, tol := range []Tolerance{both, {Upper: both.Upper, HasUpper: true}} {
						ok = ok && verdict(tol, atUpper) == Pass
						beyond = beyond && verdict(tol, atUpper+1) == Fail
					}
					if ok {
						passed++
					}
					if beyond {
						failed++
					}
				}
				assert.Equal(t, cases, passed, "on the limit passes")
				assert.Equal(t, cases, failed, "one count beyond fails")
			})
		}
	}
}

func verdict(t Tolerance, deviation unit.Length) Verdict { v, _ := t.Judge(deviation); return v }

// The verdict does not depend on the unit that the limit was written in, and
// beyond brings the deviation back onto the limit.
func TestBeyondReachesTheLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tol := Tolerance{
			Lower: -unit.Length(rapid.Int64Range(0, 1e12).Draw(t, "lower")), HasLower: true,
			Upper: unit.Length(rapid.Int64Range(0, 1e12).Draw(t, "upper")), HasUpper: true,
		}
		d := unit.Length(rapid.Int64Range(-3e12, 3e12).Draw(t, "deviation"))
		v, beyond := tol.Judge(d)
		if (v == Pass) != (beyond == 0) {
			t.Fatalf("%v with %d beyond", v, beyond)
		}
		if v == Fail {
			if on := d - beyond; on != tol.Lower && on != tol.Upper {
				t.Fatalf("%d less %d is on neither limit", d, beyond)
			}
			if v, _ := tol.Judge(d - beyond); v != Pass {
				t.Fatal("on the limit does not pass")
			}
		}
	})
}

func TestBackfall(t *testing.T) {
	for _, c := range []struct {
		rise, allowance string
		want            Verdict
		beyond          string
	}{
		{"0 mm", "0 mm", Pass, "0 mm"}, // flat
		{"-12 mm", "0 mm", Pass, "0 mm"},
		{"1 mm", "0 mm", Fail, "1 mm"},
		{"3 mm", "3 mm", Pass, "0 mm"},
		{"3.1 mm", "3 mm", Fail, "0.1 mm"},
		{"-12 mm", "-1 mm", NotAssessed, "0 mm"},
	} {
		v, beyond := Backfall(length(t, c.rise), length(t, c.allowance))
		assert.Equal(t, c.want, v, c)
		assert.Equal(t, length(t, c.beyond), beyond, c)
	}
	v, beyond := Backfall(1, 0)
	assert.Equal(t, Fail, v, "one count backwards is backwards")
	assert.Equal(t, unit.Length(1), beyond)
}

func TestLeastGrade(t *testing.T) {
	grade := func(text string) unit.Grade {
		g, err := unit.ParseGrade(text)
		require.NoError(t, err)
		return g
	}
	for _, c := range []struct {
		fall, length, least string
		want                Verdict
		short               string
	}{
		{"0.3 m", "30 m", "1 in 100", Pass, "0 mm"},
		{"0.299 m", "30 m", "1 in 100", Fail, "-1 mm"},
		{"0.1 m", "30 m", "1 in 300", Pass, "0 mm"},  // 0.1/30 is no decimal: a quotient would guess
		{"0.07 m", "21 m", "1 in 300", Pass, "0 mm"}, // 0.07 × 300 is 21.000000000000004 in doubles
		{"0.29 m", "29 m", "1 %", Pass, "0 mm"},      // 0.29 × 100 is 28.999999999999996 in doubles
		{"-0.05 m", "30 m", "1 in 100", Fail, "-350 mm"},
		{"0 m", "30 m", "0 %", Pass, "0 mm"},
		{"-1 mm", "30 m", "0 %", Fail, "-1 mm"},
		{"0.3 m", "0 m", "1 in 100", NotAssessed, "0 mm"},
		{"0.3 m", "-30 m", "1 in 100", NotAssessed, "0 mm"},
		{"0.3 m", "30 m", "-1 in 100", NotAssessed, "0 mm"},
	} {
		fall, run, least := length(t, c.fall), length(t, c.length), grade(c.least)
		assert.Equal(t, c.want, LeastGrade(fall, run, least), c)
		assert.Equal(t, length(t, c.short), Shortfall(fall, run, least), c)
	}
	assert.Equal(t, NotAssessed, LeastGrade(unit.Metre, unit.Metre, unit.Grade{}), "no least grade")

	fall, run, least := length(t, "0.1 m"), length(t, "30 m"), grade("1 in 300")
	assert.Equal(t, Fail, LeastGrade(fall-1, run, least), "one count short of the least grade")
	assert.Equal(t, unit.Length(-1), Shortfall(fall-1, run, least))
	assert.Equal(t, Fail, LeastGrade(fall, run+1, least), "one count too long for the fall")
	assert.Equal(t, unit.Length(-1), Shortfall(fall, run+1, least), "a shortage too small to round is not zero")
}

// A pipe laid to exactly 1 in N, in any unit and over any length, passes.
func TestExactlyTheLeastGradePasses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]unit.Unit{unit.M, unit.Ft, unit.FtUS}).Draw(t, "unit")
		n := rapid.Int64Range(1, 2000).Draw(t, "N")
		fall, _, err := unit.Parse(unit.Decimal{Coef: rapid.Int64Range(1, 99_999).Draw(t, "fall"), Places: 4}.String(), u)
		if err != nil {
			t.Fatal(err)
		}
		least := unit.Grade{Rise: unit.Metre, Run: unit.Length(n) * unit.Metre}
		along := fall * unit.Length(n)
		if v := LeastGrade(fall, along, least); v != Pass {
			t.Fatal(v)
		}
		if v := LeastGrade(fall, along+1, least); v != Fail {
			t.Fatal("one count too long passes")
		}
		if v := LeastGrade(fall-1, along, least); v != Fail {
			t.Fatal("one count of fall short passes")
		}
	})
}
