package levels_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// Three sections of 0.25, 1 and 4 km that differ by 3, −6 and 12 mm: d²/L is 36
// in each, so the mean of both runs has sqrt(3·36/(4·3)) = 3 mm per km
// (arithmetic).
func TestForwardAndBack(t *testing.T) {
	sections := []levels.ForwardBack{
		{From: "A", To: "B", Forward: 1503 * milli, Back: -1500 * milli, Distance: of(250), Setups: 4},
		{From: "B", To: "C", Forward: -700 * milli, Back: 694 * milli, Distance: of(1000), Setups: 9},
		{From: "C", To: "D", Forward: 6 * milli, Back: 6 * milli, Distance: of(4000), Setups: 36},
	}
	d, err := levels.ForwardAndBack(sections, rule(t, "6 mm sqrt(K)"))
	require.NoError(t, err)
	require.Len(t, d.Sections, 3)
	for i, want := range []levels.DoubleSection{
		{Discrepancy: 3 * milli, Mean: 1501*milli + milli/2, Limit: levels.Of(3 * milli), Judged: true, Within: true},
		{Discrepancy: -6 * milli, Mean: -697 * milli, Limit: levels.Of(6 * milli), Judged: true, Within: true},
		{Discrepancy: 12 * milli, Mean: 0, Limit: levels.Of(12 * milli), Judged: true, Within: true},
	} {
		want.ForwardBack = sections[i]
		assert.Equal(t, want, d.Sections[i], "on the limit")
	}
	assert.Equal(t, levels.ForwardBack{From: "A", To: "D", Forward: 809 * milli, Back: -800 * milli, Distance: of(5250), Setups: 49}, d.Total.ForwardBack)
	assert.Equal(t, 9*milli, d.Total.Discrepancy)
	assert.Equal(t, 804*milli+milli/2, d.Total.Mean)
	assert.True(t, d.Total.Judged && d.Total.Within)
	assert.Equal(t, "13.7", d.Total.Limit.L.Fixed(unit.MM, 1), "6 sqrt(5.25)")
	assert.True(t, d.KnownPerKm)
	assert.Empty(t, d.Why)
	assert.InDelta(t, 3, d.PerKm, 1e-12)

	sections[2].Forward++
	d, err = levels.ForwardAndBack(sections, rule(t, "6 mm sqrt(K)"))
	require.NoError(t, err)
	assert.True(t, d.Sections[2].Judged)
	assert.False(t, d.Sections[2].Within, "one count beyond")

	d, err = levels.ForwardAndBack(sections, rule(t, "2 mm sqrt(n)"))
	require.NoError(t, err)
	assert.True(t, d.Sections[0].Judged && d.Sections[0].Within, "3 mm, 4 allowed")
	assert.True(t, d.Sections[1].Within, "6 mm, 6 allowed")
	assert.False(t, d.Sections[2].Within)
	assert.Equal(t, levels.Of(14*milli), d.Total.Limit)

	d, err = levels.ForwardAndBack(sections, levels.Rule{})
	require.NoError(t, err)
	assert.False(t, d.Total.Judged || d.Total.Within || d.Sections[0].Judged)
	assert.Equal(t, "no limit for forward and back in the job", d.Sections[0].Why)
}

func TestForwardAndBackWithoutLengths(t *testing.T) {
	sections := []levels.ForwardBack{{From: "A", To: "B", Forward: milli, Distance: of(100)}, {From: "B", To: "C"}, {From: "X", To: "Y", Distance: of(100), Setups: 3}}
	d, err := levels.ForwardAndBack(sections, rule(t, "12 mm sqrt(K)"))
	require.NoError(t, err)
	assert.True(t, d.Sections[0].Judged && d.Sections[2].Judged)
	assert.False(t, d.Sections[1].Judged || d.Sections[1].Within || d.Total.Judged || d.KnownPerKm)
	assert.Equal(t, "the rule 12 mm sqrt(K) needs the levelled length, which is missing", d.Sections[1].Why)
	assert.Equal(t, "the standard deviation of a kilometre needs the length of every section; missing: B to C", d.Why)
	assert.Equal(t, levels.ForwardBack{Forward: milli}, d.Total.ForwardBack, "no line, no length, no count")
	d, err = levels.ForwardAndBack(sections, rule(t, "5 mm sqrt(n)"))
	require.NoError(t, err)
	assert.Equal(t, "the rule 5 mm sqrt(n) needs the number of set-ups, which is missing", d.Sections[0].Why)
	assert.True(t, d.Sections[2].Judged)
	d, err = levels.ForwardAndBack(sections, rule(t, "5 mm"))
	require.NoError(t, err)
	assert.True(t, d.Total.Judged && d.Sections[1].Judged, "a fixed rule needs neither")

	d, err = levels.ForwardAndBack(nil, rule(t, "5 mm"))
	require.NoError(t, err)
	assert.False(t, d.Total.Judged || d.Total.Within || d.KnownPerKm, "nothing is not within")
	assert.Equal(t, "no section was levelled forward and back", d.Why)
	assert.Equal(t, d.Why, d.Total.Why)

	for want, s := range map[string]levels.ForwardBack{
		"section A to B: a difference of 30000 m is between no two places; check the number and its unit": {From: "A", To: "B", Back: 30_000 * metre},
		"section A to B: a length of 0 m cannot be; check the distance and its unit, or leave it blank":   {From: "A", To: "B", Distance: of(0)},
		"section A to B: -1 set-ups cannot be; check the number, or leave it blank":                       {From: "A", To: "B", Setups: -1},
	} {
		_, err := levels.ForwardAndBack([]levels.ForwardBack{s}, levels.Rule{})
		assert.EqualError(t, err, want)
	}
	long := levels.ForwardBack{From: "A", To: "B", Distance: levels.Of(unit.MaxLength / 2)}
	_, err = levels.ForwardAndBack([]levels.ForwardBack{long, long}, levels.Rule{})
	assert.EqualError(t, err, "forward and back: a sum over the sections leaves the range of ±2,342 km; check the differences, the distances and their units")
}

func TestPair(t *testing.T) {
	sections, unpaired := levels.Pair([]levels.Section{
		{From: "A", To: "B", Diff: 1000 * milli, Distance: of(100), Setups: 2},
		{From: "B", To: "C", Diff: 500 * milli, Distance: of(101)},
		{From: "A", To: "B", Diff: 1001 * milli, Distance: of(100)}, // a third time, the same way
		{From: "C", To: "B", Diff: -501 * milli, Setups: 3},
		{From: "D", To: "D"},
		{From: "B", To: "A", Diff: -1002 * milli, Distance: levels.Of(100*metre + 1), Setups: 4},
		{From: "", To: "B"},
		{From: "b", To: "A"},
		{From: "E", To: "F", Diff: milli},
		{From: "F", To: "E", Diff: -milli},
	})
	assert.Equal(t, []levels.ForwardBack{
		{From: "A", To: "B", Forward: 1000 * milli, Back: -1002 * milli, Distance: levels.Of(100*metre + 1), Setups: 4},
		{From: "B", To: "C", Forward: 500 * milli, Back: -501 * milli, Distance: of(101)},
		{From: "E", To: "F", Forward: milli, Back: -milli},
	}, sections)
	assert.Equal(t, []levels.Unpaired{
		{Index: 2, Why: "no run goes back from B to A"}, {Index: 4, Why: "it begins and ends on D, so it has no run against it"},
		{Index: 6, Why: "one of its ends has no name"}, {Index: 7, Why: "no run goes back from A to b"},
	}, unpaired)
	sections, unpaired = levels.Pair(nil)
	assert.Empty(t, sections)
	assert.Empty(t, unpaired)
}

// Every run is in one pair or is named as unpaired, and pairs lie between the
// same ends.
func TestPairLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{"A", "B", "C", ""})
		runs := make([]levels.Section, rapid.IntRange(0, 20).Draw(t, "runs"))
		sum, balance := unit.Length(0), map[string]int{}
		for i := range runs {
			runs[i] = levels.Section{From: name.Draw(t, "from"), To: name.Draw(t, "to"), Diff: unit.Length(1) << i}
			sum += runs[i].Diff
			if runs[i].From != "" && runs[i].To != "" && runs[i].From != runs[i].To {
				balance[runs[i].From+runs[i].To]++
			}
		}
		sections, unpaired := levels.Pair(runs)
		for _, s := range sections {
			sum -= s.Forward + s.Back
			require.Contains(t, runs, levels.Section{From: s.From, To: s.To, Diff: s.Forward})
			require.Contains(t, runs, levels.Section{From: s.To, To: s.From, Diff: s.Back})
			require.Less(t, s.Forward, s.Back, "the earlier one is the forward one")
		}
		for _, u := range unpaired {
			sum -= runs[u.Index].Diff
			require.NotEmpty(t, u.Why)
		}
		require.Zero(t, sum)
		require.Len(t, runs, 2*len(sections)+len(unpaired))
		pairs := min(balance["AB"], balance["BA"]) + min(balance["AC"], balance["CA"]) + min(balance["BC"], balance["CB"])
		require.Len(t, sections, pairs, "none is left that has a run against it")
	})
}

// A book that goes out to a peg and back again gives its two runs.
func TestPairsOfABook(t *testing.T) {
	rows := []levels.Row{
		{Name: "BM1", BS: of(1.5), Known: of(10), DistBS: of(30)},
		{Name: "T", FS: of(1.0), DistFS: of(30)},
		{Name: "T", BS: of(1.2), DistBS: of(31)},
		{Name: "BM1", FS: of(1.701), DistFS: of(31)},
	}
	sections, loose := levels.Reduce(rows, levels.Options{}).Sections(func(name string) bool { return true })
	require.Empty(t, loose)
	pairs, unpaired := levels.Pair(sections)
	assert.Empty(t, unpaired)
	assert.Equal(t, []levels.ForwardBack{{From: "BM1", To: "T", Forward: 500 * milli, Back: -501 * milli, Distance: of(61), Setups: 1}}, pairs)
}

// The formula against plain float computation.
func TestPerKmAgainstFloat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sections := make([]levels.ForwardBack, rapid.IntRange(1, 30).Draw(t, "sections"))
		sum := 0.0
		for i := range sections {
			d, km := rapid.Int64Range(-20, 20).Draw(t, "mm"), rapid.Int64Range(1, 4000).Draw(t, "m")
			f := unit.Length(rapid.Int64Range(-9000, 9000).Draw(t, "forward")) * milli
			sections[i] = levels.ForwardBack{From: fmt.Sprint(i), To: fmt.Sprint(i + 1), Forward: f, Back: unit.Length(d)*milli - f, Distance: levels.Of(unit.Length(km) * metre)}
			sum += float64(d*d) / (float64(km) / 1000)
		}
		got, err := levels.ForwardAndBack(sections, levels.Rule{})
		require.NoError(t, err)
		require.InDelta(t, math.Sqrt(sum/(4*float64(len(sections)))), got.PerKm, 1e-9)
		total := levels.DoubleSection{}
		for _, s := range got.Sections {
			total.Forward += s.Forward
			total.Back += s.Back
			total.Discrepancy += s.Discrepancy
			require.LessOrEqual(t, (2*s.Mean - s.Forward + s.Back).Abs(), unit.Length(1))
		}
		require.Equal(t, total.Forward, got.Total.Forward)
		require.Equal(t, total.Back, got.Total.Back)
		require.Equal(t, total.Discrepancy, got.Total.Discrepancy)
	})
}

// Runs are drawn with a known error of 1.7 mm per sqrt(km), independent forward
// and back: the mean of the two is off by 1.7/√2 per sqrt(km), and that is what
// the discrepancies alone estimate. Fixed seed.
func TestPerKmEstimatesTheMean(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	const one = 1.7
	sections, off := make([]levels.ForwardBack, 10_000), 0.0
	for i := range sections {
		km := 0.02 + 0.18*r.Float64()
		right := 4 * (r.Float64() - 0.5) * 1000
		forward, back := right+one*math.Sqrt(km)*r.NormFloat64(), -right+one*math.Sqrt(km)*r.NormFloat64()
		sections[i] = levels.ForwardBack{Forward: mm(forward), Back: mm(back), Distance: levels.Of(mm(km * 1e6))}
		e := (forward-back)/2 - right
		off += e * e / km
	}
	d, err := levels.ForwardAndBack(sections, levels.Rule{})
	require.NoError(t, err)
	assert.InEpsilon(t, one/math.Sqrt2, d.PerKm, 0.02)
	assert.InEpsilon(t, math.Sqrt(off/float64(len(sections))), d.PerKm, 0.02, "the errors that were really made")
}

// Closing rules of testdata/worked/closing-rules.csv: every one is read, and
// where the source works one, its limit is the printed one. The status says
// whether the document itself was seen, another that quotes it, or neither.
func TestPublishedClosingRules(t *testing.T) {
	f, err := os.Open(filepath.Join(fixture.Root(t), "testdata", "worked", "closing-rules.csv"))
	require.NoError(t, err)
	defer f.Close()
	cells, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"id", "document", "applies to", "formula", "coefficient", "unit", "status", "worked over (km)", "worked limit (mm)"}, cells[0])
	status, worked, ids := map[string]int{}, 0, map[string]bool{}
	for _, c := range cells[1:] {
		require.False(t, ids[c[0]], "%s is there twice", c[0])
		ids[c[0]] = true
		r := rule(t, c[4]+" "+c[5]+" "+c[3])
		assert.Equal(t, c[3], map[levels.Per]string{levels.SqrtK: "sqrt(K)", levels.SqrtMiles: "sqrt(M)", levels.SqrtN: "sqrt(n)"}[r.Per], c[0])
		u, _ := unit.ByName(c[5])
		assert.Equal(t, decimal(t, c[4]).Float(), decimal(t, r.Coef.Exact(u, 0)).Float(), c[0])
		require.Contains(t, []string{"seen", "secondary", "memory"}, c[6])
		status[c[6]]++
		if c[7] == "" {
			continue
		}
		worked++
		km, _, err := unit.Parse(c[7], unit.KM)
		require.NoError(t, err)
		assert.Equal(t, c[8], r.Limit(km, 0).Fixed(unit.MM, len(c[8])-1-strings.Index(c[8], ".")), "%s over %s km", c[0], c[7])
	}
	assert.Equal(t, 1, worked)
	assert.Equal(t, map[string]int{"seen": 5, "secondary": 5, "memory": 13}, status)
}

// The same against the collection it was made from, where that is at hand.
func TestTranscriptionOfClosingRules(t *testing.T) {
	read := func(path string) map[string][]string {
		f, err := os.Open(path)
		require.NoError(t, err)
		defer f.Close()
		cells, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		rows := map[string][]string{}
		for _, c := range cells[1:] {
			rows[c[0]] = c
		}
		return rows
	}
	source := read(fixture.Shared(t, "published", "levelling", "misclosure_limits.csv"))
	for id, c := range read(filepath.Join(fixture.Root(t), "testdata", "worked", "closing-rules.csv")) {
		s := source[id]
		if assert.NotEmpty(t, s, id) {
			assert.Equal(t, []string{strings.ReplaceAll(s[5], "D", "K"), s[6], s[7], s[9]}, []string{"C*" + c[3], c[4], c[5], c[6]}, id)
		}
	}
}
