package limits

import (
	"fmt"
	"math/big"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// lotOf judges whole millimetres by one tolerance.
func lotOf(tol Tolerance, mm ...int) *Lot {
	var l Lot
	for _, v := range mm {
		d := unit.Length(v) * unit.Millimetre
		verdict, beyond := tol.Judge(d)
		l.Add(d, tol, verdict, beyond)
	}
	return &l
}

func decimal(t testing.TB, s string) unit.Decimal {
	t.Helper()
	d, exact, err := unit.ParseDecimal(s)
	require.NoError(t, err)
	require.True(t, exact)
	return d
}

// Fifteen differences on a formation, worked by hand: twelve within -30 / +20,
// one 7 mm beyond. No published source.
var fifteen = []int{-12, -8, -5, -3, 0, 2, 4, 6, 9, 11, 14, 18, 23, 27, -31}

func TestPlansByCount(t *testing.T) {
	lot := lotOf(within(t, "-30 mm", "20 mm"), fifteen...)
	for _, c := range []struct {
		plan  Plan
		want  Verdict
		words string
	}{
		{EveryPoint{}, Fail, "rejected: 12 of 15 within limits"},
		{AtMost{Bad: 1, Of: 10}, Fail, "rejected: 3 of 15 beyond limits, 1 allowed"},
		{AtMost{Bad: 2, Of: 10}, Pass, "accepted: 3 of 15 beyond limits, 3 allowed"}, // on the limit
		{AtMost{Bad: 2, Of: 10, HasMost: true, MostBeyond: length(t, "7 mm")}, Pass, "accepted: 3 of 15 beyond limits, 3 allowed"},
		{AtMost{Bad: 2, Of: 10, HasMost: true, MostBeyond: length(t, "6.9 mm")}, Fail, "rejected: a value is 7 mm beyond its limit; at most 6.9 mm is allowed"},
		{AtMost{Bad: 2, Of: 10, HasMost: true, MostBeyond: length(t, "7 mm") - 1}, Fail, "rejected: a value is 7 mm beyond its limit; at most 7 mm is allowed"}, // by one count
		{AtMost{Bad: 3, Of: 10, Consecutive: true}, Pass, "accepted: 3 of 10 consecutive values beyond limits, 3 allowed (values 6 to 15 of the lot)"},
		{AtMost{Bad: 2, Of: 10, Consecutive: true}, Fail, "rejected: 3 of 10 consecutive values beyond limits, 2 allowed (values 6 to 15 of the lot)"},
		{AtMost{Bad: 2, Of: 3, Consecutive: true}, Fail, "rejected: 3 of 3 consecutive values beyond limits, 2 allowed (values 13 to 15 of the lot)"},
		{ShareWithin{decimal(t, "80")}, Pass, "accepted: 12 of 15 within limits, 80.0 %; 80 % asked for"}, // on the limit
		{ShareWithin{decimal(t, "80.001")}, Fail, "rejected: 12 of 15 within limits, 80.0 %; 80.001 % asked for"},
		{ShareWithin{decimal(t, "100")}, Fail, "rejected: 12 of 15 within limits, 80.0 %; 100 % asked for"},
	} {
		require.NoError(t, c.plan.Validate())
		a := c.plan.Judge(lot)
		assert.Equal(t, c.want, a.Verdict, c.plan)
		assert.Equal(t, c.words, a.Words)
		assert.Equal(t, []Figure{{"assessed", "15"}, {"within limits", "12"}, {"beyond limits", "3"}, {"not assessed", "0"}}, a.Figures[:4])
	}
	assert.Equal(t, [2]int{12, 3}, [2]int{lot.Passed(), lot.Failed()})
	assert.Equal(t, "12 of 15 supports 56.0 %: with 95 % confidence at least so much of the whole is within limits, if the points were taken at random", lot.Remark())
}

func TestPlanWords(t *testing.T) {
	for want, p := range map[string]Plan{
		"every point within its limits":                                                        EveryPoint{},
		"at most 1 in 10 beyond limits":                                                        AtMost{Bad: 1, Of: 10},
		"at most 1 of any 10 consecutive values beyond limits, and by at most 5 mm":            AtMost{Bad: 1, Of: 10, Consecutive: true, HasMost: true, MostBeyond: length(t, "5 mm")},
		"at least 95 % of the points within limits":                                            ShareWithin{decimal(t, "95")},
		"at least 92.5 % of the lot within limits, estimated from mean and standard deviation": EstimatedWithin{decimal(t, "92.5")},
		"mean ± 2 s within the limits":                                                         Variables{K: decimal(t, "2")},
	} {
		assert.Equal(t, want, p.String())
	}
	// a share is printed on its side of what is asked: 2 of 3 is 66.666...
	a := ShareWithin{decimal(t, "66.67")}.Judge(lotOf(within(t, "", "0 mm"), 0, 0, 1))
	assert.Equal(t, "rejected: 2 of 3 within limits, 66.7 %; 66.67 % asked for", strings.Replace(a.Words, "66.667", "66.7", 1))
	assert.Contains(t, a.Words, "66.667 %", "66.7 and 66.67 would be enough")
}

// Of any 10 consecutive levels one may be beyond (India MoRTH, clause 902.3):
// two that are ten apart are never in one run, two that are nine apart are.
func TestOneInTenConsecutive(t *testing.T) {
	tol := within(t, "-25 mm", "20 mm")
	plan := AtMost{Bad: 1, Of: 10, Consecutive: true}
	values := func(n int, bad ...int) []int {
		v := make([]int, n)
		for _, i := range bad {
			v[i] = 22
		}
		return v
	}
	for _, c := range []struct {
		values []int
		want   Verdict
	}{
		{values(30, 0, 10, 20), Pass},
		{values(30, 0, 9), Fail},
		{values(30, 20, 29), Fail}, // in the last run only
		{values(10, 4), Pass},
		{values(9, 4), Fail}, // too few to allow one
		{values(9), Pass},
		{values(20), Pass},
	} {
		assert.Equal(t, c.want, plan.Judge(lotOf(tol, c.values...)).Verdict, c.values)
	}
	// by the share the same lot of 30 with 3 passes wherever they lie
	assert.Equal(t, Pass, AtMost{Bad: 1, Of: 10}.Judge(lotOf(tol, values(30, 1, 2, 3)...)).Verdict)
	assert.Equal(t, Fail, AtMost{Bad: 1, Of: 10}.Judge(lotOf(tol, values(29, 1, 2, 3)...)).Verdict)
}

// A lot that nothing was assessed of, or not all, is not accepted by any plan;
// it can be rejected.
func TestLotsThatAreNotAssessed(t *testing.T) {
	tol := within(t, "-10 mm", "10 mm")
	plans := []Plan{
		EveryPoint{}, AtMost{Bad: 1, Of: 3}, AtMost{Bad: 1, Of: 3, Consecutive: true}, ShareWithin{decimal(t, "90")},
		Variables{K: decimal(t, "1.5")}, EstimatedWithin{decimal(t, "90")},
	}
	for _, p := range plans {
		a := p.Judge(&Lot{})
		assert.Equal(t, NotAssessed, a.Verdict, p)
		assert.Contains(t, a.Words, "not decided: ", p)

		good := lotOf(tol, 1, 0, -1, 1)
		assert.Equal(t, Pass, p.Judge(good).Verdict, p)
		good.Add(0, tol, NotAssessed, 0)
		a = p.Judge(good)
		assert.Equal(t, NotAssessed, a.Verdict, p)
		assert.Contains(t, a.Words, "but 1 value was not assessed", p)
		assert.Equal(t, 1, good.NotAssessed())

		bad := lotOf(tol, 12, 13, 14, 15)
		bad.Add(0, tol, NotAssessed, 0)
		assert.Equal(t, Fail, p.Judge(bad).Verdict, p)
	}
	assert.Equal(t, "", (&Lot{}).Remark())
	for _, bad := range []Plan{
		AtMost{Bad: 3, Of: 3}, AtMost{Bad: -1, Of: 3}, AtMost{}, AtMost{Bad: 1, Of: 3, HasMost: true, MostBeyond: -1},
		ShareWithin{}, ShareWithin{decimal(t, "100.1")}, EstimatedWithin{decimal(t, "-5")},
		Variables{}, Variables{K: decimal(t, "1"), HasSpread: true}, Variables{K: decimal(t, "1"), Values: 1},
	} {
		require.Error(t, bad.Validate(), "%#v", bad)
		a := bad.Judge(lotOf(tol, 0, 1, 2))
		assert.Equal(t, NotAssessed, a.Verdict)
		assert.Contains(t, a.Words, bad.Validate().Error())
	}
}

// Lots with mean 0 and a standard deviation that is a whole number, so that the
// limit can be met exactly: -3, 0, 3 has s = 3.
func TestVariablesOnTheLimit(t *testing.T) {
	for _, c := range []struct {
		lower, upper, k string
		want            Verdict
		words           string
	}{
		{"-6 mm", "6 mm", "2", Pass, "accepted: mean 0.00 mm"},
		{"-6 mm", "5.999999 mm", "2", Fail, "rejected: mean + k s is above the upper limit"},
		{"-5.999999 mm", "6 mm", "2", Fail, "rejected: mean - k s is below the lower limit"},
		{"-6 mm", "6 mm", "2.000000001", Fail, "rejected: mean + k s"},
		{"", "6 mm", "2", Pass, "accepted"},
		{"-6 mm", "", "2", Pass, "accepted"},
		{"", "-1 mm", "2", Fail, "rejected"}, // the mean is beyond: squares alone would hide the sign
	} {
		tol := within(t, c.lower, c.upper)
		a := Variables{K: decimal(t, c.k)}.Judge(lotOf(tol, -3, 0, 3))
		assert.Equal(t, c.want, a.Verdict, c)
		assert.True(t, strings.HasPrefix(a.Words, c.words), "%s: %s", c.words, a.Words)
	}
	// The same in feet and in sixteenths of an inch: no unit is favoured.
	for _, u := range []string{"0.01 m", "0.01 ft", "0.01 ftUS", "0.0625 in"} {
		one := length(t, u)
		tol := Tolerance{Lower: -6 * one, Upper: 6 * one, HasLower: true, HasUpper: true}
		var lot Lot
		for _, x := range []unit.Length{-3 * one, 0, 3 * one} {
			lot.Add(x, tol, Pass, 0)
		}
		assert.Equal(t, Pass, Variables{K: decimal(t, "2")}.Judge(&lot).Verdict, u)
		assert.Equal(t, Fail, Variables{K: decimal(t, "2.0000000001")}.Judge(&lot).Verdict, u)
		spread := Variables{K: decimal(t, "1"), Spread: decimal(t, "0.25"), HasSpread: true}
		assert.Equal(t, Pass, spread.Judge(&lot).Verdict, "s is exactly a quarter of the width, in "+u)
		spread.Spread = decimal(t, "0.2499999999")
		a := spread.Judge(&lot)
		assert.Equal(t, Fail, a.Verdict, u)
		assert.Contains(t, a.Words, "standard deviation is more than")
	}
	tol := within(t, "-6 mm", "")
	a := Variables{K: decimal(t, "1"), Spread: decimal(t, "0.25"), HasSpread: true}.Judge(lotOf(tol, 0, 1))
	assert.Equal(t, NotAssessed, a.Verdict, "one limit has no distance")
	a = Variables{K: decimal(t, "1"), Values: 3}.Judge(lotOf(tol, 0, 1))
	assert.Contains(t, a.Words, "is for 3 values, and 2 values were assessed")
	a = Variables{K: decimal(t, "1")}.Judge(lotOf(tol, 0))
	assert.Contains(t, a.Words, "at least 2 assessed values, and there are 1")

	mixed := lotOf(tol, 0, 1)
	mixed.Add(0, within(t, "-5 mm", ""), Pass, 0)
	for _, p := range []Plan{Variables{K: decimal(t, "1")}, EstimatedWithin{decimal(t, "90")}} {
		a := p.Judge(mixed)
		assert.Equal(t, NotAssessed, a.Verdict)
		assert.Contains(t, a.Words, "different limits")
	}
	assert.Equal(t, Pass, EveryPoint{}.Judge(mixed).Verdict, "counting does not mind")
}

// Strength figures of a variables plan as the report prints them.
func TestVariablesFigures(t *testing.T) {
	a := Variables{K: decimal(t, "1.72"), Values: 3, Source: FactorTableSource}.Judge(lotOf(within(t, "-6 mm", "6 mm"), -3, 0, 3))
	assert.Equal(t, []Figure{
		{"mean", "0.00 mm"}, {"standard deviation", "3.00 mm"}, {"k", "1.72"}, {"mean - k s", "-5.16 mm"}, {"mean + k s", "5.16 mm"}, {"k from", FactorTableSource},
	}, a.Figures[4:])
	assert.Equal(t, "mean ± 1.72 s within the limits (for 3 values)", Variables{K: decimal(t, "1.72"), Values: 3}.String())
	assert.Equal(t, "mean ± 1.57 s within the limits, s at most 0.266 of the distance between them (for 35 values)",
		Variables{K: decimal(t, "1.57"), Spread: decimal(t, "0.266"), HasSpread: true, Values: 35}.String())
}

func TestEstimatedWithin(t *testing.T) {
	// Q 1.00 of 3 values is 83.33 % (1/2 - Q √3/4 in an arcsine distribution):
	// an independent program has the same.
	tol := within(t, "", "3 mm")
	a := EstimatedWithin{decimal(t, "83.3")}.Judge(lotOf(tol, -3, 0, 3))
	assert.Equal(t, Pass, a.Verdict)
	assert.Contains(t, a.Words, "83.3 % estimated within limits")
	assert.Contains(t, a.Figures, Figure{"QU", "1.0000"})
	assert.Equal(t, Fail, EstimatedWithin{decimal(t, "83.4")}.Judge(lotOf(tol, -3, 0, 3)).Verdict)
	// both limits: 83.33 + 83.33 - 100
	a = EstimatedWithin{decimal(t, "66.6")}.Judge(lotOf(within(t, "-3 mm", "3 mm"), -3, 0, 3))
	assert.Equal(t, Pass, a.Verdict)
	assert.Equal(t, Fail, EstimatedWithin{decimal(t, "66.7")}.Judge(lotOf(within(t, "-3 mm", "3 mm"), -3, 0, 3)).Verdict)
	// on a limit: exactly half of it
	a = EstimatedWithin{decimal(t, "50")}.Judge(lotOf(within(t, "", "0 mm"), -3, 0, 3))
	assert.Equal(t, Pass, a.Verdict)
	assert.Contains(t, a.Words, "50.0 % estimated")
	// all values equal: on the limit is within, beyond it is not
	assert.Equal(t, Pass, EstimatedWithin{decimal(t, "100")}.Judge(lotOf(within(t, "-3 mm", "3 mm"), 3, 3, 3)).Verdict)
	a = EstimatedWithin{decimal(t, "1")}.Judge(lotOf(within(t, "-3 mm", "3 mm"), 4, 4, 4))
	assert.Equal(t, Fail, a.Verdict)
	assert.Contains(t, a.Figures, Figure{"QU", "none: all values are equal"})
	a = EstimatedWithin{decimal(t, "90")}.Judge(lotOf(tol, 0, 1))
	assert.Contains(t, a.Words, "at least 3 assessed values")
	a = EstimatedWithin{decimal(t, "90")}.Judge(func() *Lot {
		var l Lot
		l.Add(0, Tolerance{}, Pass, 0)
		l.Add(1, Tolerance{}, Pass, 0)
		l.Add(2, Tolerance{}, Pass, 0)
		return &l
	}())
	assert.Contains(t, a.Words, "no limit to judge by")
	_, err := EstimateWithin(Moments{N: 2}, tol)
	assert.Error(t, err)
	_, err = EstimateWithin(Moments{N: 3}, Tolerance{})
	assert.Error(t, err)
}

// Whatever the parts a lot is added up in, the sums and every acceptance are the
// same; the order within stays.
func TestLotsMerge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tol := anyTolerance(t)
		values := rapid.SliceOfN(rapid.Int64Range(-3e12, 3e12), 0, 40).Draw(t, "values")
		parts := rapid.IntRange(1, 5).Draw(t, "parts")
		var whole Lot
		lots := make([]Lot, parts)
		for i, v := range values {
			d := unit.Length(v)
			verdict, beyond := tol.Judge(d)
			if i%7 == 3 {
				verdict = NotAssessed
			}
			whole.Add(d, tol, verdict, beyond)
			lots[i*parts/len(values)].Add(d, tol, verdict, beyond)
		}
		for i := range lots[1:] {
			lots[0].Merge(&lots[i+1])
		}
		for _, p := range []Plan{EveryPoint{}, AtMost{Bad: 1, Of: 4, Consecutive: true}, AtMost{Bad: 1, Of: 4}, ShareWithin{unit.Decimal{Coef: 75}}, Variables{K: unit.Decimal{Coef: 1}}, EstimatedWithin{unit.Decimal{Coef: 60}}} {
			if a, b := p.Judge(&whole), p.Judge(&lots[0]); fmt.Sprint(a) != fmt.Sprint(b) {
				t.Fatalf("%s: whole %v, in parts %v", p, a, b)
			}
		}
		// and the counted run agrees with looking at every run
		worst := 0
		for i := range whole.fails {
			in := 0
			for _, f := range whole.fails[i:min(i+4, len(whole.fails))] {
				if f {
					in++
				}
			}
			worst = max(worst, in)
		}
		if len(whole.fails) >= 4 {
			if got, last := (AtMost{Of: 4}).window(whole.fails); got != worst || last < 4 || last > len(whole.fails) {
				t.Fatalf("worst run %d, found %d at %d", worst, got, last)
			}
		}
	})
}

// A wider tolerance never rejects a lot that a narrower one accepts, and mean +
// k s in exact fractions agrees with floating point away from the limit.
func TestVariablesAgainstFloats(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tol := anyTolerance(t)
		values := rapid.SliceOfN(rapid.Int64Range(-2e12, 2e12), 2, 30).Draw(t, "values")
		k := unit.Decimal{Coef: rapid.Int64Range(1, 30_000).Draw(t, "k"), Places: 4}
		var lot, wider Lot
		more := unit.Length(rapid.Int64Range(0, 1e11).Draw(t, "more"))
		for _, v := range values {
			lot.Add(unit.Length(v), tol, Pass, 0)
			wider.Add(unit.Length(v), tol.moved(more), Pass, 0)
		}
		p := Variables{K: k}
		got := p.Judge(&lot).Verdict
		if got == Pass && p.Judge(&wider).Verdict != Pass {
			t.Fatal("a wider tolerance rejects")
		}
		m := lot.Moments()
		mean, _ := m.Mean.Float64()
		room := 1e300
		if tol.HasUpper {
			room = min(room, tol.Upper.Millimetres()-mean-k.Float()*m.Sd())
		}
		if tol.HasLower {
			room = min(room, mean-k.Float()*m.Sd()-tol.Lower.Millimetres())
		}
		if (room > 1e-6 && got != Pass) || (room < -1e-6 && got != Fail) {
			t.Fatalf("%v with %v mm of room", got, room)
		}
	})
}

// Least grades, least cover and irregularities of the tables: on the figure
// passes, one count or one bump beyond fails. Rows from memory are no outside
// agreement.
func TestPublishedTablesOnTheirLimit(t *testing.T) {
	rows := readTable(t, filepath.Join(qualityFolder(t), "least-grades.csv"))
	require.Len(t, rows, 26)
	for _, row := range rows {
		least, err := unit.ParseGrade(row["percent"] + " %")
		require.NoError(t, err)
		fall, run := least.Rise, least.Run
		assert.Equal(t, Pass, LeastGrade(fall, run, least), row["pipe"])
		assert.Equal(t, Fail, LeastGrade(fall-1, run, least), row["pipe"])
		assert.Equal(t, Fail, LeastGrade(fall, run+1, least), row["pipe"])
	}
	for _, row := range readTable(t, filepath.Join(qualityFolder(t), "least-cover.csv")) {
		if row["cover_m"] == "" {
			assert.Contains(t, row["where"], "definition")
			continue
		}
		least := metres(t, row["cover_m"])
		tol := Tolerance{Lower: least, HasLower: true}
		assert.Equal(t, Pass, verdict(tol, least), row["where"])
		assert.Equal(t, Fail, verdict(tol, least-1), row["where"])
	}
	for _, row := range readTable(t, filepath.Join(qualityFolder(t), "irregularities.csv")) {
		size := Tolerance{Upper: length(t, row["size_mm"]+" mm"), HasUpper: true}
		assert.Equal(t, Pass, verdict(size, size.Upper))
		assert.Equal(t, Fail, verdict(size, size.Upper+1))
		long, short := number(t, row["in_300_m"]), number(t, row["in_75_m"])
		assert.Less(t, short, long)
		assert.Greater(t, short*4, long, "a quarter of the length has more than a quarter of the count")
	}
}

func TestMomentsExact(t *testing.T) {
	m := MomentsOf(nil)
	assert.Nil(t, m.Mean)
	assert.Zero(t, m.Sd())
	m = MomentsOf([]unit.Decimal{decimal(t, "2.5")})
	assert.Equal(t, big.NewRat(5, 2), m.Mean)
	assert.Nil(t, m.Variance)
	assert.Zero(t, m.Sd())
	m = MomentsOf([]unit.Decimal{decimal(t, "0.1"), decimal(t, "0.25"), decimal(t, "0.40")})
	assert.Equal(t, big.NewRat(1, 4), m.Mean)
	assert.Equal(t, big.NewRat(9, 400), m.Variance)
	assert.Equal(t, 0.15, m.Sd())
	assert.Zero(t, m.Lag1.Sign())
	m = MomentsOfLengths([]unit.Length{unit.MaxLength, unit.MaxLength, unit.MaxLength})
	assert.Zero(t, m.Variance.Sign())
	assert.Nil(t, m.Lag1)
	assert.Equal(t, unit.MaxLength.Millimetres(), func() float64 { f, _ := m.Mean.Float64(); return f }())
}

// The example of the NIST/SEMATECH e-Handbook, 7.2.6.2, twelve gauge readings,
// 90th percentile 95.1981; from memory, the figures agree with one another.
func TestQuantile(t *testing.T) {
	var values []unit.Length
	for _, s := range []string{"95.0610", "95.0925", "95.1065", "95.1195", "95.1442", "95.1567", "95.1591", "95.1682", "95.1772", "95.1937", "95.1959", "95.1990"} {
		values = append(values, length(t, s+" mm"))
	}
	q, err := Quantile(values, decimal(t, "90"))
	require.NoError(t, err)
	assert.Equal(t, length(t, "95.19807 mm"), q)
	assert.Equal(t, "95.1981", q.Fixed(unit.MM, 4))
	four := []unit.Length{unit.Metre, 2 * unit.Metre, 3 * unit.Metre, 4 * unit.Metre}
	for percent, want := range map[string]string{"50": "2.5 m", "20": "1 m", "0": "1 m", "100": "4 m", "80": "4 m", "25": "1.25 m", "75": "3.75 m", "19.99": "1 m"} {
		q, err := Quantile(four, decimal(t, percent))
		require.NoError(t, err)
		assert.Equal(t, length(t, want), q, percent)
	}
	one, err := Quantile(four[:1], decimal(t, "95"))
	require.NoError(t, err)
	assert.Equal(t, unit.Metre, one)
	_, err = Quantile(nil, decimal(t, "50"))
	assert.ErrorContains(t, err, "no values")
	_, err = Quantile([]unit.Length{2, 1}, decimal(t, "50"))
	assert.ErrorContains(t, err, "ascending")
	for _, p := range []string{"-1", "100.0001"} {
		_, err = Quantile(four, decimal(t, p))
		assert.ErrorContains(t, err, "use 0 to 100")
	}
	q, err = Quantile([]unit.Length{-unit.MaxLength, unit.MaxLength}, decimal(t, "50"))
	require.NoError(t, err)
	assert.Zero(t, q)
	q, err = Quantile([]unit.Length{-3, 0}, decimal(t, "50"))
	require.NoError(t, err)
	assert.Equal(t, unit.Length(-1), q, "-1.5 from -3 is 1.5, half away from zero 2")
}

func TestQuantilesRise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		raw := rapid.SliceOfN(rapid.Int64Range(-1e15, 1e15), 1, 50).Draw(t, "values")
		values := make([]unit.Length, len(raw))
		for i, v := range raw {
			values[i] = unit.Length(v)
		}
		sortLengths(values)
		a := rapid.Int64Range(0, 10_000).Draw(t, "a")
		b := rapid.Int64Range(a, 10_000).Draw(t, "b")
		low, err := Quantile(values, unit.Decimal{Coef: a, Places: 2})
		if err != nil {
			t.Fatal(err)
		}
		high, err := Quantile(values, unit.Decimal{Coef: b, Places: 2})
		if err != nil {
			t.Fatal(err)
		}
		if low > high || low < values[0] || high > values[len(values)-1] {
			t.Fatalf("%d %% is %d, %d %% is %d", a, low, b, high)
		}
	})
}
