package report

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// closingTable is the table of all runs.
func closingTable(t testing.TB, doc *html.Node) [][]string {
	t.Helper()
	tabs := find(byID(t, doc, "levels"), "table", "closing")
	require.Len(t, tabs, 1)
	return table(tabs[0])
}

func TestClosingTableHasEveryRunOfEveryBook(t *testing.T) {
	res := sampleResult(t)
	l := &leveller{draw: plain(), spaced: true, known: map[string]unit.Length{"BM1": metres(t, "26.400"), "BM2": metres(t, "25.875")}}
	l.run("BM1", "BM2", 2, 30)
	l.run("BM2", "PEG", 1, 0)
	res.Books = append(res.Books, bookOf("day2.csv", l.rows, levels.Options{Rule: twelve}), qa.BookResult{Book: &formats.Book{Pos: formats.Pos{File: "bad.csv"}}})
	doc := pageOf(t, res)
	rows := closingTable(t, doc)
	require.Len(t, rows, 4)
	assert.Equal(t, []string{"levels.xlsx, sheet Day 1", "BM1", "BM2", "closed", "-1.0", "4.2", "24", "3", "124.5 m", "12 mm sqrt(K)", "raw"}, rows[0])
	assert.Equal(t, []string{"day2.csv", "BM1", "BM2", "misclosure beyond the limit", "+30.0"}, rows[1][:5])
	assert.Equal(t, "none: not assessed", rows[1][10])
	assert.Equal(t, []string{"day2.csv", "BM2", "open", "open: ends on no known mark", "", "", ""}, rows[2][:7])
	assert.Equal(t, []string{"bad.csv", "could not be reduced"}, rows[3])
	head := textOf(byID(t, doc, "levels"))
	assert.Contains(t, head, "Closing rule: 12 mm sqrt(K); K is the levelled length in km, the sum of the sights of BS and FS. Set by: Earthworks specification, clause 2.4.")
	for _, a := range find(byID(t, doc, "levels"), "a", "") {
		byID(t, doc, strings.TrimPrefix(attr(a, "href"), "#"))
	}
}

func TestRuleWords(t *testing.T) {
	for text, want := range map[string]string{
		"12 mm sqrt(K)":   "Closing rule: 12 mm sqrt(K); K is the levelled length in km, the sum of the sights of BS and FS. Set by: us.",
		"5 mm sqrt(n)":    "Closing rule: 5 mm sqrt(n); n is the number of set-ups. Set by: us.",
		"0.05 ft sqrt(M)": "Closing rule: 0.05 ft sqrt(M); M is the levelled length in miles, the sum of the sights of BS and FS. Set by: us.",
		"6 mm":            "Closing rule: 6 mm; the same for every run. Set by: us.",
	} {
		r, err := levels.ParseRule(text)
		require.NoError(t, err)
		assert.Equal(t, want, ruleWords(r, "us"))
	}
	assert.Contains(t, ruleWords(twelve, ""), "The job does not say who set it.")
	assert.Contains(t, ruleWords(levels.Rule{}, "us"), "no closing rule")
}

// TestShareUsed draws misclosures about the limit: the share says "beyond" when,
// and only when, the rule does.
func TestShareUsed(t *testing.T) {
	run := func(misclosure, limit unit.Length) (levels.Rule, *levels.Run) {
		return levels.Rule{Coef: limit, Text: "fixed"}, &levels.Run{Misclosure: levels.Of(misclosure), Allowed: levels.Of(limit)}
	}
	for _, x := range []struct {
		misclosure, limit unit.Length
		want              string
	}{{mm(3), mm(6), "50"}, {-mm(6), mm(6), "100"}, {mm(6) + 1, mm(6), "just over 100"}, {mm(6) - 1, mm(6), "100"}, {mm(6) + 20*unit.Micrometre, mm(6), "100.3"}, {0, mm(6), "0"}} {
		assert.Equal(t, x.want, shareUsed(run(x.misclosure, x.limit)))
	}
	assert.Empty(t, shareUsed(levels.Rule{}, &levels.Run{Misclosure: levels.Of(1)}))
	rapid.Check(t, func(t *rapid.T) {
		limit := unit.Length(rapid.Int64Range(1, int64(mm(50))).Draw(t, "limit"))
		m := limit + unit.Length(rapid.Int64Range(-int64(limit), int64(limit)).Draw(t, "beyond"))
		s := shareUsed(run(m, limit))
		var f float64
		_, err := fmt.Sscanf(strings.TrimPrefix(s, "just over "), "%f", &f)
		if err != nil || (f > 100 || strings.HasPrefix(s, "just")) != (m > limit) {
			t.Fatalf("%d of %d reads as %q", m, limit, s)
		}
	})
}

// A run is out of its limit for a mark between its ends alone: its misclosure
// is printed as it is.
func TestRunOutForAMarkBetween(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	rows := []levels.Row{{Name: "BM1", BS: v("1.500"), Known: v("20.000"), KnownFrom: "job"}, {Name: "BM3", IS: v("1.000"), Known: v("20.480"), KnownFrom: "job"},
		{Name: "BM2", FS: v("1.200"), Known: v("20.299"), KnownFrom: "job"}}
	doc := pageOf(t, withBooks(t, bookOf("mark.csv", rows, levels.Options{Rule: levels.Rule{Coef: mm(6), Text: "6 mm"}})))
	assert.Equal(t, []string{"mark.csv", "BM1", "BM2", "misclosure beyond the limit", "+1.0", "6.0", "17"}, closingTable(t, doc)[0][:7])
	var notes []string
	for _, p := range find(byID(t, doc, "levels"), "p", "remark") {
		notes = append(notes, textOf(p))
	}
	assert.Equal(t, []string{"Run from BM1 to BM2: it hangs on a mark it disproves: the sight on BM3 is 20.0 mm off its known level, beyond the limit.",
		"Run from BM1 to BM2: on BM3 between its ends +20.0 mm, computed minus known, 6.0 mm allowed."}, notes)
	band, _ := bandLetters(diagrams(t, doc)["wide"][0])
	assert.Equal(t, []string{"BM1", "known 20.000", "BM3", "20.500", "known 20.480", "+20.0 mm", "BM2", "20.300", "known 20.299", "+1.0 mm"}, band)
}

// What was adjusted outside its limit is said at the head, in its row and in the
// workbook.
func TestAdjustedOutsideItsLimitIsLoud(t *testing.T) {
	l := &leveller{draw: plain(), spaced: true, known: map[string]unit.Length{"BM1": metres(t, "26.400"), "BM2": metres(t, "25.875")}}
	l.run("BM1", "BM2", 3, 14)
	res := withBooks(t, bookOf("forced.csv", l.rows, levels.Options{Rule: twelve, Distribute: levels.BySetups, Forced: true}))
	res.Job.Levelling.Outside, res.Job.Levelling.Judge = "asked for by the <client>", "adjusted"
	doc := pageOf(t, res)
	loud := find(doc, "p", "loud")
	require.Len(t, loud, 1)
	for _, s := range []string{"Adjusted outside its limit.", "forced.csv, run from BM1 to BM2: misclosure +14.0 mm", "asked for by the <client>", "none of them is assessed"} {
		assert.Contains(t, textOf(loud[0]), s)
	}
	row := closingTable(t, doc)[0]
	assert.Equal(t, []string{"misclosure beyond the limit", "none: adjusted outside its limit"}, []string{row[3], row[10]})
	last := table(find(doc, "table", "book")[0])[3]
	assert.Equal(t, []string{"25.889", "25.8750"}, last[8:10])
	assert.Contains(t, strings.Join(levelSheet(t, res), "\n"), "ADJUSTED OUTSIDE ITS LIMIT, because the job says so: asked for by the <client>")

	res.Books[0] = bookOf("forced.csv", l.rows, levels.Options{Rule: levels.Rule{Coef: mm(14), Text: "14 mm"}, Distribute: levels.BySetups, Forced: true})
	doc = pageOf(t, res)
	assert.Empty(t, find(doc, "p", "loud"), "on the limit it is inside")
	assert.Equal(t, "adjusted by setups", closingTable(t, doc)[0][10])
}

// A run that closed and is not assessed all the same says so.
func TestClosedAndNotAssessed(t *testing.T) {
	res := sampleResult(t)
	res.Books[0].Mistaken = []string{"levels.xlsx[Day 1]:C5: IS: not a number"}
	doc := pageOf(t, res)
	assert.Equal(t, "none: the run holds a mistake", closingTable(t, doc)[0][10])
	assert.Contains(t, textOf(byID(t, doc, "levels")), "Run from BM1 to BM2: it closed, and holds a mistake all the same: levels.xlsx[Day 1]:C5: IS: not a number.")
	assert.Contains(t, strings.Join(levelSheet(t, res), "\n"), "None of its levels is assessed: levels.xlsx[Day 1]:C5: IS: not a number")

	res = sampleResult(t)
	res.Job.Levelling.Network = &job.LevelNetwork{Weights: "setups", Source: "note 4"}
	section := qa.NetworkSection{Section: levels.Section{From: "BM1", To: "BM2"}, Book: res.Books[0].Book}
	for _, x := range []struct {
		name    string
		network qa.NetworkResult
		want    string
	}{
		{"nothing accused", qa.NetworkResult{Sections: []qa.NetworkSection{section}}, "raw"},
		{"the mark", qa.NetworkResult{Sections: []qa.NetworkSection{section}, Points: []qa.NetworkPoint{{Name: "BM2", Accused: true}}}, "none: accused by the level network"},
		{"another mark", qa.NetworkResult{Sections: []qa.NetworkSection{section}, Points: []qa.NetworkPoint{{Name: "BM9", Accused: true}}}, "raw"},
		{"another run", qa.NetworkResult{Sections: []qa.NetworkSection{{Section: levels.Section{Run: 1}, Book: res.Books[0].Book, Accused: true}}}, "raw"},
	} {
		res.Network = &x.network
		assert.Equal(t, x.want, closingTable(t, pageOf(t, res))[0][10], x.name)
	}
}

// Three sections levelled both ways. Lengths and discrepancies are chosen so that
// d²/L is 36 in each: s = sqrt(3·36/(4·3)) = 3 mm (arithmetic; the formula is
// common practice).
func TestForwardAndBackOnThePage(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	known := map[string]levels.Value{"A": v("10.000"), "B": v("11.500"), "C": v("10.800"), "D": v("10.000")}
	leg := func(from, to, bs, fs, half string) []levels.Row {
		return []levels.Row{{Name: from, BS: v(bs), Known: known[from], KnownFrom: "job", DistBS: v(half)}, {Name: to, FS: v(fs), Known: known[to], KnownFrom: "job", DistFS: v(half)}}
	}
	rule := levels.Rule{Coef: mm(6), Per: levels.SqrtK, Text: "6 mm sqrt(K)"}
	opt := levels.Options{Rule: rule}
	res := withBooks(t,
		bookOf("ab.csv", leg("A", "B", "2.503", "1.000", "125"), opt), bookOf("bc.csv", leg("B", "C", "1.000", "1.700", "500"), opt), bookOf("cd.csv", leg("C", "D", "1.006", "1.800", "2000"), opt),
		bookOf("dc.csv", leg("D", "C", "1.806", "1.000", "2000"), opt), bookOf("cb.csv", leg("C", "B", "1.694", "1.000", "500"), opt), bookOf("ba.csv", leg("B", "A", "1.000", "2.500", "125"), opt))
	res.Job.Levelling.Closing.Rule = rule
	doc := pageOf(t, res)
	tab := find(byID(t, doc, "levels"), "table", "double")
	require.Len(t, tab, 1)
	assert.Equal(t, [][]string{
		{"A to B", "within", "+1.503", "-1.500", "+3.0", "+1.5015", "250.0 m", "3.0", "ab.csv:2 and ba.csv:2"},
		{"B to C", "within", "-0.700", "+0.694", "-6.0", "-0.697", "1000.0 m", "6.0", "bc.csv:2 and cb.csv:2"},
		{"C to D", "within", "-0.794", "+0.806", "+12.0", "-0.800", "4000.0 m", "12.0", "cd.csv:2 and dc.csv:2"},
		{"Whole line, A to D", "within", "+0.009", "0.000", "+9.0", "+0.0045", "5250.0 m", "13.7", ""},
	}, table(tab[0]))
	text := textOf(byID(t, doc, "levels"))
	assert.Contains(t, text, "s = 3.00 mm, from sqrt(Σ(d²/L)/(4n)) with n = 3")
	assert.Contains(t, text, "decides no verdict")

	res.Books[5] = bookOf("ba.csv", leg("B", "A", "1.000", "2.499", "125"), opt) // 4 mm now, 3 allowed
	assert.Equal(t, []string{"A to B", "beyond the limit"}, table(find(pageOf(t, res), "table", "double")[0])[0][:2])
	for i := range res.Books {
		for k := range res.Books[i].Input {
			res.Books[i].Input[k].DistBS = levels.Value{}
		}
		res.Books[i] = bookOf(res.Books[i].Book.Pos.File, res.Books[i].Input, opt)
	}
	doc = pageOf(t, res)
	assert.Equal(t, "the rule 6 mm sqrt(K) needs the levelled length, which is missing", table(find(doc, "table", "double")[0])[0][1])
	assert.Contains(t, textOf(byID(t, doc, "levels")), "No s: the standard deviation of a kilometre needs the length of every section; missing: A to B, B to C, C to D.")

	res.Books = res.Books[:3]
	doc = pageOf(t, res)
	assert.Empty(t, find(doc, "table", "double"), "nothing goes back")
	assert.NotContains(t, textOf(byID(t, doc, "levels")), "Forward and back")
}

// Change points of one name in two books may be two pegs: they pair nothing,
// unless the job calls them junctions.
func TestForwardAndBackNeedsMarksOrJunctions(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	rows := func(first, last string, bs, fs string) []levels.Row {
		return []levels.Row{{Name: first, BS: v(bs)}, {Name: last, FS: v(fs)}}
	}
	out := rows("TP1", "TP2", "1.500", "1.000")
	back := rows("TP2", "TP1", "1.000", "1.501")
	out[0].Known, out[0].KnownFrom = v("20.000"), "from the book"
	res := withBooks(t, bookOf("a.csv", out, levels.Options{Rule: twelve}), bookOf("b.csv", back, levels.Options{Rule: twelve}))
	assert.Empty(t, find(pageOf(t, res), "table", "double"))
	res.Job.Levelling.Network = &job.LevelNetwork{Weights: "setups", Source: "note 4", Junctions: []string{"TP*"}}
	got := table(find(pageOf(t, res), "table", "double")[0])
	require.Len(t, got, 1)
	assert.Equal(t, []string{"TP1 to TP2", "+0.500", "-0.501", "-1.0"}, []string{got[0][0], got[0][2], got[0][3], got[0][4]})
	for i := range res.Books {
		in := res.Books[i].Input
		in[0].DistBS, in[1].DistFS = v("20"), v("20")
		res.Books[i] = bookOf(res.Books[i].Book.Pos.File, in, levels.Options{Rule: twelve})
	}
	// d is 1 mm and L 0.04 km: sqrt(25/4) is 2.5
	assert.Contains(t, textOf(byID(t, pageOf(t, res), "levels")), "s = 2.50 mm, from sqrt(Σ(d²/L)/(4n)) with n = 1, d in mm and L, one way, in km. One section is little to judge by.")
	res.Books[0].Input[0].BS = v("15000")
	res.Books[0] = bookOf("a.csv", res.Books[0].Input, levels.Options{Rule: twelve})
	assert.Empty(t, find(pageOf(t, res), "table", "double"), "a broken run is no half of a pair")
}

// worthOf gives the sample a reading of 1 mm and a set-up of 3 mm.
func worthOf(t *testing.T, res *qa.Result, marks map[string]float64) {
	t.Helper()
	w, err := res.Books[0].Result.Worth(levels.Uncertainty{Reading: 1, Setup: 3, Marks: marks}, false)
	require.NoError(t, err)
	res.Books[0].Worth = &convert.Worth{Book: w}
}

// The uncertainties by hand: a set-up adds 3 mm, backsight included, a reading 1
// mm: sqrt(10) after one set-up, sqrt(20) after two, sqrt(30) after three; with
// 2 mm of the mark sqrt(14), sqrt(24) and sqrt(34).
func TestUncertaintyOfEveryLevel(t *testing.T) {
	column := func(res *qa.Result) (u []string) {
		for _, r := range table(find(byID(t, pageOf(t, res), "levels"), "table", "book")[0]) {
			u = append(u, r[len(r)-2])
		}
		return u
	}
	res := sampleResult(t)
	assert.NotContains(t, textOf(byID(t, pageOf(t, res), "levels")), "u mm")
	worthOf(t, res, nil)
	assert.Equal(t, []string{"0.0", "3.2", "3.2", "3.2", "4.5", "4.5", "5.5"}, column(res))
	doc := textOf(byID(t, pageOf(t, res), "levels"))
	assert.Contains(t, doc, "u is one standard uncertainty of a level as it is judged (raw), in mm: one standard deviation. U = k·u with k = 2. The marks are not included: they count as exact. What two levels have in common drops out of their difference.")
	assert.Equal(t, 1, strings.Count(doc, "k = 2"), "the rule is said once")

	res.Job.BenchMarks[0].Worth, res.Job.BenchMarks[1].Worth = &job.Length{Length: mm(2)}, &job.Length{Length: mm(2)}
	worthOf(t, res, map[string]float64{"BM1": 2})
	assert.Equal(t, []string{"2.0", "3.7", "3.7", "3.7", "4.9", "4.9", "5.8"}, column(res))
	assert.Contains(t, textOf(byID(t, pageOf(t, res), "levels")), "The marks are included: BM1 2 mm, BM2 2 mm.")

	f, err := excelize.OpenReader(bytes.NewReader(writeOf(t, Workbook, res)))
	require.NoError(t, err)
	defer f.Close()
	rows, err := f.GetRows("Levels", excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	head, first := -1, -1
	for i, r := range rows {
		if len(r) > 9 && r[0] == "Point" {
			assert.Equal(t, []string{"u (mm)", "Remark"}, r[9:])
			head = i
		}
		if head >= 0 && first < 0 && len(r) > 0 && r[0] == "K1" {
			first = i
			var u float64
			_, err := fmt.Sscanf(r[9], "%f", &u)
			require.NoError(t, err)
			assert.InDelta(t, math.Sqrt(14), u, 1e-9)
		}
	}
	require.Positive(t, first)
	formula, err := f.GetCellFormula("Levels", fmt.Sprintf("B%d", head+9))
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("SUM(B%d:B%d)", head+2, head+8), formula)
}

// levelSheet is the text of the sheet "Levels", a line a row.
func levelSheet(t testing.TB, res *qa.Result) (lines []string) {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(writeOf(t, Workbook, res)))
	require.NoError(t, err)
	defer f.Close()
	rows, err := f.GetRows("Levels")
	require.NoError(t, err)
	for _, r := range rows {
		lines = append(lines, strings.Join(r, "\t"))
	}
	return lines
}

// Without worth there is no column of it.
func TestLevelSheetWithoutUncertainty(t *testing.T) {
	text := strings.Join(levelSheet(t, sampleResult(t)), "\n")
	assert.NotContains(t, text, "u (mm)")
	assert.Contains(t, text, "Point\tBS\tIS\tFS\tRise\tFall\tCollimation\tLevel\tAdjusted\tRemark")
	assert.Contains(t, text, "CP1\t1.210\t\t1.655\t\t0.785\t27.297\t26.087")
	assert.Contains(t, text, "Run from BM1 to BM2, 3 set-ups, 0.125 km: misclosure (computed − known) -1.0 mm, allowed 4.2 mm by 12 mm sqrt(K): closed")
	assert.Contains(t, text, nothingBooked)
	assert.Contains(t, text, "Set by: Earthworks specification, clause 2.4.")
}

// What was booked is compared, and said in so many words.
func TestWhatWasBooked(t *testing.T) {
	said := func(rows []levels.Row) string {
		return textOf(byID(t, pageOf(t, withBooks(t, bookOf("booked.csv", rows, levels.Options{Rule: twelve}))), "levels"))
	}
	l := &leveller{draw: plain(), known: map[string]unit.Length{"BM1": metres(t, "26.400"), "BM2": metres(t, "25.875")}}
	l.run("BM1", "BM2", 60, 0)
	assert.Contains(t, said(l.rows), "Booked columns: arithmetic recomputed, nothing booked to compare.")
	reduced := levels.Reduce(l.rows, levels.Options{}).Rows
	for i := range l.rows {
		l.rows[i].Booked = &levels.Booked{Level: reduced[i].Level}
	}
	assert.Contains(t, said(l.rows), "Booked columns: what the book works out agrees with the reduction.")
	l.rows[7].Booked.Level.L += mm(1)
	text := said(l.rows)
	assert.Contains(t, text, "Booked columns: what is booked differs from the reduction, which is used. The first row of every column that differs:")
	assert.Contains(t, text, "Row 9 (TP7), level: booked ")
	for i := 3; i < len(l.rows); i++ {
		l.rows[i].Booked.Level.L = reduced[i].Level.L + mm(i)
	}
	text = said(l.rows)
	assert.Contains(t, text, "Row 5 (TP3), level: booked ")
	assert.Contains(t, text, "57 more rows of this column differ")
	assert.NotContains(t, text, nothingBooked)
}

func TestLevelText(t *testing.T) {
	l := metres(t, "26.4")
	assert.Equal(t, "26.400", levelText(l, unit.M))
	assert.Equal(t, "26.40005", levelText(l+50*unit.Micrometre, unit.M))
	assert.Equal(t, "26.40000", levelText(l+unit.Micrometre, unit.M), "a correction leaves more decimals than anyone can read")
	assert.Equal(t, "86.61417", levelText(l, unit.Ft))
	assert.Equal(t, "26400", levelText(l, unit.MM))
	assert.Equal(t, "26400.05", levelText(l+50*unit.Micrometre, unit.MM))
}

// A mark that another row knows is known in every row.
func TestKnownLevelOfEveryRow(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	rows := []levels.Row{{Name: "TBM", BS: v("1.5"), Known: v("20"), KnownFrom: levels.FromBook}, {Name: "P", IS: v("1.1")}, {Name: "TBM", FS: v("1.501")}}
	doc := pageOf(t, withBooks(t, bookOf("loop.csv", rows, levels.Options{Rule: levels.Rule{Coef: mm(3), Text: "3 mm"}})))
	got := table(find(doc, "table", "book")[0])
	assert.Equal(t, "known 20.000 (from the book)", got[0][9])
	assert.Equal(t, "known 20.000 (from the book)", got[2][9])
	assert.Equal(t, "closed on its own mark: mark unproved", closingTable(t, doc)[0][3])
}
