package report

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// letters are the texts of a drawing that carry a class.
func letters(svg *html.Node, class string) []string {
	var out []string
	for _, n := range find(svg, "text", class) {
		out = append(out, textOf(n))
	}
	return out
}

// both runs f on the wide and on the narrow drawings of a class in a check.
func both(t *testing.T, doc *html.Node, check, class string, f func(*testing.T, []*html.Node)) {
	t.Helper()
	for _, size := range []string{"wide", "narrow"} {
		t.Run(size, func(t *testing.T) {
			var drawings []*html.Node
			for _, div := range find(byID(t, doc, check), "div", size) {
				drawings = append(drawings, find(div, "svg", class)...)
			}
			require.NotEmpty(t, drawings)
			f(t, drawings)
		})
	}
}

// TestPlanSaysWhatTheTableSays compares every label of the plans with the row
// of the table that has its name.
func TestPlanSaysWhatTheTableSays(t *testing.T) {
	res := sampleResult(t)
	doc := pageOf(t, res)
	for i, check := range []string{"check-1", "check-2"} {
		inTable := map[string]bool{}
		for _, row := range table(find(byID(t, doc, "failures"), "table", "fails")[i]) {
			switch row[1] {
			case "grade":
				inTable["grade "+row[0]+" "+row[4]] = true
			case "backfall":
				inTable[row[0]+" rises "+row[5]] = true
			default:
				inTable[row[0]+" "+row[5]] = true
			}
		}
		both(t, doc, check, "plan", func(t *testing.T, svg []*html.Node) {
			lab := letters(svg[0], "fail")
			require.Len(t, lab, 2*len(inTable), "every failure has a name and a figure")
			for k := 0; k < len(lab); k += 2 {
				assert.True(t, inTable[lab[k]+" "+lab[k+1]], "%q %q", lab[k], lab[k+1])
			}
		})
	}
}

func TestPlanMarks(t *testing.T) {
	res := sampleResult(t)
	doc := pageOf(t, res)
	both(t, doc, "check-1", "plan", func(t *testing.T, svg []*html.Node) {
		g := find(svg[0], "g", "")[0]
		assert.Len(t, find(g, "circle", "pass"), 33)
		assert.Len(t, find(g, "path", "high"), 5)
		assert.Len(t, find(g, "path", "low"), 1)
		assert.Len(t, find(g, "rect", "open"), 1)
		assert.Len(t, find(g, "path", "outline"), 1)
		all := textOf(svg[0])
		for _, s := range []string{"within tolerance (33)", "too high (5)", "too low (1)", "not assessed (1)", "grid north", "20 m", " E", " N"} {
			assert.Contains(t, all, s)
		}
		caption := textOf(find(byID(t, doc, "check-1"), "figcaption", "")[1])
		for _, s := range []string{"EPSG:7855", "levels in m, height datum AHD", "Design pad, revision C", "as-built minus design"} {
			assert.Contains(t, caption, s)
		}
	})
}

// TestPlanPlaces finds the scale of the plan from its grid ticks and reads the
// place of a shot back off the drawing.
func TestPlanPlaces(t *testing.T) {
	res := sampleResult(t)
	both(t, pageOf(t, res), "check-1", "plan", func(t *testing.T, svg []*html.Node) {
		var ex, ev, ny, nv []float64
		for _, n := range find(svg[0], "text", "coord") {
			m := regexp.MustCompile(`^(\d+) ([EN])$`).FindStringSubmatch(textOf(n))
			if m == nil {
				continue
			}
			v, _ := strconv.ParseFloat(m[1], 64)
			if m[2] == "E" {
				ex, ev = append(ex, number(t, n, "x")), append(ev, v)
			} else {
				ny, nv = append(ny, number(t, n, "y")-3.5), append(nv, v)
			}
		}
		require.NotEmpty(t, ex)
		bar := find(svg[0], "rect", "bar")
		px := number(t, bar[3], "x") + number(t, bar[3], "width") - number(t, bar[0], "x")
		scale := px / 20 // the bar is 20 m
		if len(ev) > 1 {
			assert.InDelta(t, scale, (ex[1]-ex[0])/(ev[1]-ev[0]), 0.01)
		}
		for _, p := range find(svg[0], "path", "low") { // P6 at 321448.250 E, 5812304.500 N
			d := regexp.MustCompile(`M([\d.]+) ([\d.]+)`).FindStringSubmatch(attr(p, "d"))
			x, _ := strconv.ParseFloat(d[1], 64)
			y, _ := strconv.ParseFloat(d[2], 64)
			if attr(p.Parent, "clip-path") == "" {
				continue // the key
			}
			assert.InDelta(t, 321448.25, ev[0]+(x-ex[0])/scale, 0.2)
			if len(nv) > 0 {
				assert.InDelta(t, 5812304.5, nv[0]-(y-markSize-ny[0])/scale, 0.2)
			}
		}
	})
}

func number(t *testing.T, n *html.Node, name string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(attr(n, name), 64)
	require.NoError(t, err)
	return f
}

func TestSectionsSayWhatTheTableSays(t *testing.T) {
	res := sampleResult(t)
	doc := pageOf(t, res)
	inTable := map[string]bool{}
	for _, row := range table(find(byID(t, doc, "check-2"), "table", "rows")[0]) {
		if row[7] == "invert" {
			inTable[row[0]+" "+row[2]] = true
			inTable[row[2]] = true
		}
		if row[7] == "backfall" && row[1] == "fail" {
			inTable["rises "+row[2]+" mm"] = true
		}
	}
	both(t, doc, "check-2", "section", func(t *testing.T, svg []*html.Node) {
		require.Len(t, svg, 3)
		var failed []string
		for _, s := range svg {
			for _, l := range letters(s, "lab") {
				if strings.HasPrefix(l, "MH") || strings.HasPrefix(l, "falls 1 in") {
					continue
				}
				assert.True(t, inTable[l], "%q is in no row of the table", l)
			}
			failed = append(failed, letters(s, "fail")...)
		}
		assert.Equal(t, []string{"rises +6 mm", "A3-1 -12"}, failed)
		assert.Len(t, find(svg[1], "line", "backfall"), 2, "the stretch, and its key")
		assert.Empty(t, find(svg[0], "line", "backfall"))
		for _, s := range []string{"MH2", "rim 26.100", "24.550", "MH3", "rim 25.840", "24.250", "vertical scale", "falls 1 in 100.9", "distance downstream of MH2, m"} {
			assert.Contains(t, textOf(svg[1]), s)
		}
	})
}

func TestSectionScale(t *testing.T) {
	for f, want := range map[float64]string{21.37: "21", 149.6: "150", 3.14: "3.1", 999: "1000"} {
		assert.Equal(t, want, exaggeration(f))
	}
}

// One-sided limits open the band to the edge of the panel, and draw one line.
func TestOneSidedSection(t *testing.T) {
	res := sampleResult(t)
	one := limits.Tolerance{Upper: mm(10), HasUpper: true, Source: "clause 7.1"}
	res.Checks[1].Limits = one
	for i := range res.Rows {
		if r := &res.Rows[i]; r.Quantity == qa.QuantityInvert {
			r.Limits = one
			r.Verdict, r.Beyond = one.Judge(r.Diff)
		}
	}
	addUp(res)
	both(t, pageOf(t, res), "check-2", "section", func(t *testing.T, svg []*html.Node) {
		assert.Len(t, find(svg[0], "line", "limit"), 1)
	})
	both(t, pageOf(t, res), "check-2", "histogram", func(t *testing.T, svg []*html.Node) {
		assert.Len(t, find(svg[0], "line", "limit"), 1)
		assert.Contains(t, textOf(svg[0]), "limit +10")
		assert.NotContains(t, textOf(svg[0]), "limit -10")
	})
}

// A shot in a pit is judged on one pipe; the next pipe begins with it.
func TestSectionBeginsWithTheSharedShot(t *testing.T) {
	res := sampleResult(t)
	for i := range res.Rows {
		if r := &res.Rows[i]; r.Quantity == qa.QuantityInvert && r.Shot.ID == "A2-1" {
			res.Rows = append(res.Rows[:i], res.Rows[i+1:]...)
			break
		}
	}
	addUp(res)
	both(t, pageOf(t, res), "check-2", "section", func(t *testing.T, svg []*html.Node) {
		assert.Len(t, find(svg[1], "circle", "share"), 2, "the shot, and its key")
		assert.Contains(t, textOf(svg[1]), "judged on the next pipe")
	})
}

func TestHistogramCountsEveryDifference(t *testing.T) {
	res := sampleResult(t)
	for _, c := range split(res) {
		v := &histogramView{check: &c}
		v.collect(c.result().Histogram)
		pass, fail := 0, 0
		for _, b := range v.bars {
			pass, fail = pass+b.pass, fail+b.fail
		}
		failures := 0
		for _, r := range c.failures {
			if !r.Derived {
				failures++
			}
		}
		assert.Equal(t, c.result().Stats.N, pass+fail)
		assert.Equal(t, failures, fail)
		assert.Zero(t, v.below+v.above, "all of them are within reach of the limits")
	}
}

// A difference just past its limit rounds to the limit's own bar: that bar
// shows a pass and a failure.
func TestHistogramOnTheLimit(t *testing.T) {
	tol := limits.Tolerance{Lower: mm(-30), Upper: mm(10), HasLower: true, HasUpper: true}
	over := qa.Row{Quantity: qa.QuantityLevel, Compared: true, Diff: mm(10) + 3*unit.Millimetre/10, Verdict: limits.Fail, Limits: tol}
	res := &qa.Result{Checks: []qa.CheckResult{{Limits: tol, Histogram: []qa.Bin{{Mm: -2, N: 1}, {Mm: 10, N: 2}}}}, Failures: []qa.Row{over}}
	c := split(res)[0]
	v := &histogramView{check: &c}
	v.collect(c.result().Histogram)
	for _, b := range v.bars {
		if b.lo == 10 {
			assert.Equal(t, []int{1, 1}, []int{b.pass, b.fail})
		}
	}
	// far outliers are counted in the outermost bar, not drawn to scale
	res.Checks[0].Histogram = append(res.Checks[0].Histogram, qa.Bin{Mm: 2000, N: 3})
	v = &histogramView{check: &c}
	v.collect(c.result().Histogram)
	assert.Equal(t, []int{0, 3}, []int{v.below, v.above}, "and what is in the first bar is not below it")
	assert.Less(t, v.bars[len(v.bars)-1].hi, 200)
	assert.Equal(t, 3, v.bars[len(v.bars)-1].pass)
}

func TestStrayShotDoesNotShrinkThePlan(t *testing.T) {
	res := sampleResult(t)
	for i := range res.Rows {
		if r := &res.Rows[i]; r.Shot.ID == "P40" {
			r.Shot.Place = convert.Place{E: 900 * unit.Metre * 1000, N: 0}
		}
	}
	doc := pageOf(t, res)
	assert.Contains(t, textOf(byID(t, doc, "check-1")), "1 shot of this check lies outside the ground shown.")
	both(t, doc, "check-1", "plan", func(t *testing.T, svg []*html.Node) { assert.Contains(t, textOf(svg[0]), "20 m") })
}

// TestManyRows holds the page to its caps, and every failure in the table.
func TestManyRows(t *testing.T) {
	res := sampleResult(t)
	base := res.Rows[8]
	require.Equal(t, limits.Pass, base.Verdict)
	res.Rows = nil
	const n = 20_000
	for k := range n {
		r := base
		r.Shot.ID = "M" + strconv.Itoa(k)
		r.Shot.Place = convert.Place{E: unit.Length(410+k%200) * unit.Metre, N: unit.Length(300+k/200) * unit.Metre}
		if k%6 == 0 {
			r.Diff = mm(40)
			if k == n-2 {
				r.Diff = mm(77) // the worst comes last
			}
			r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
		}
		res.Rows = append(res.Rows, r)
	}
	addUp(res)
	res.RowCount = 70_000 // as if more had passed by
	doc := pageOf(t, res)
	check := byID(t, doc, "check-1")
	assert.Len(t, table(find(doc, "table", "fails")[0]), (n+5)/6)
	assert.Len(t, table(find(check, "table", "rows")[0]), n)
	open := false
	for _, a := range find(check, "details", "")[0].Attr {
		open = open || a.Key == "open"
	}
	assert.False(t, open)
	all := textOf(check)
	for _, want := range []string{"This page holds the first 20000 of 70000 rows of the run", "Where passes would cover one another only one is drawn",
		fmt.Sprintf("The 2000 failures furthest beyond their limit are drawn, of %d.", (n+5)/6)} {
		assert.True(t, strings.Contains(all, want), want)
	}
	both(t, doc, "check-1", "plan", func(t *testing.T, svg []*html.Node) {
		assert.LessOrEqual(t, len(find(svg[0], "circle", "pass")), planPasses+1)
		assert.Greater(t, len(find(svg[0], "circle", "pass")), planPasses/4)
		assert.Len(t, find(svg[0], "path", "high"), planFailures+1)
		shown := len(letters(svg[0], "fail")) / 2
		assert.Equal(t, []string{"M19998", "+77"}, letters(svg[0], "fail")[:2])
		assert.LessOrEqual(t, shown, planLabels)
	})
	notLabelled := regexp.MustCompile(`(\d+) failures are not labelled`).FindStringSubmatch(all)
	require.NotNil(t, notLabelled)
	left, err := strconv.Atoi(notLabelled[1])
	require.NoError(t, err)
	assert.GreaterOrEqual(t, left, (n+5)/6-planLabels)
}

func TestMultiples(t *testing.T) {
	at := func(origin int64, lo, hi, step float64) string {
		var s []string
		for _, g := range multiples(origin, lo, hi, step) {
			s = append(s, fmt.Sprintf("%s@%g", g.text, g.at))
		}
		return strings.Join(s, " ")
	}
	assert.Equal(t, "321420@420 321440@440", at(321000, 405, 450, 20))
	assert.Equal(t, "5812000.5@0.5 5812001.0@1", at(5812000, 0.3, 1.2, 0.5))
	assert.Equal(t, "-20@-20 0@0 20@20", at(0, -25, 25, 20))
	assert.Equal(t, "-1000.5@-0.5 -1000.0@0 -999.5@0.5", at(-1000, -0.6, 0.6, 0.5))
	assert.Equal(t, "9007199254740993@1", at(9007199254740992, 0.5, 1.5, 1), "beyond the whole numbers of a float")
}

func TestStepsAreRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(-1e6, 1e6).Draw(t, "lo")
		size := math.Pow(10, rapid.Float64Range(-2, 6).Draw(t, "size"))
		most := rapid.IntRange(2, 12).Draw(t, "most")
		at, step := steps(lo, lo+size, 0.001, most)
		if len(at) > most+1 {
			t.Fatalf("%d steps of %g from %g over %g", len(at), step, lo, size)
		}
		for _, v := range at {
			if v < lo-step*1e-6 || v > lo+size+step*1e-6 || math.Signbit(v) && v == 0 {
				t.Fatalf("%g is outside of %g..%g, or minus zero", v, lo, lo+size)
			}
		}
		m := step / math.Pow(10, math.Floor(math.Log10(step)+1e-9))
		if math.Abs(m-1) > 1e-6 && math.Abs(m-2) > 1e-6 && math.Abs(m-5) > 1e-6 {
			t.Fatalf("%g is no round step", step)
		}
	})
	at, _ := steps(math.NaN(), 1, 1, 5)
	assert.Empty(t, at)
}

// TestLabelsNeverOverlap places labels for marks anywhere: none may cover
// another, a mark, or leave the frame.
func TestLabelsNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := placer{frame: box{0, 0, 400, 300}}
		n := rapid.IntRange(1, 40).Draw(t, "marks")
		var marks, labels []box
		var at [][2]float64
		for range n {
			x, y := rapid.Float64Range(0, 400).Draw(t, "x"), rapid.Float64Range(0, 300).Draw(t, "y")
			at = append(at, [2]float64{x, y})
			marks = append(marks, around(x, y, markSize))
		}
		p.taken = append(p.taken, marks...)
		for _, m := range at {
			w := rapid.Float64Range(10, 120).Draw(t, "w")
			if b, ok := p.place(m[0], m[1], w, 26); ok {
				labels = append(labels, b)
			}
		}
		for i, b := range labels {
			if !p.frame.holds(b) {
				t.Fatalf("label %v leaves the frame", b)
			}
			for _, o := range append(marks, labels[i+1:]...) {
				if b.meets(o) {
					t.Fatalf("label %v covers %v", b, o)
				}
			}
		}
	})
	p := placer{frame: box{0, 0, 400, 300}}
	_, ok := p.place(200, 150, 40, 26)
	assert.True(t, ok, "there is room in an empty frame")
}

func TestCrosses(t *testing.T) {
	b := box{10, 10, 20, 20}
	assert.True(t, crosses(b, [4]float64{0, 0, 30, 30}))
	assert.True(t, crosses(b, [4]float64{15, 12, 16, 13}))
	assert.False(t, crosses(b, [4]float64{0, 0, 30, 5}))
	assert.False(t, crosses(b, [4]float64{0, 25, 30, 25}))
	assert.True(t, crosses(b, [4]float64{0, 15, 30, 15}))
	assert.False(t, crosses(b, [4]float64{0, 0, 5, 5}))
}

func TestNumbersOfDrawings(t *testing.T) {
	for f, want := range map[float64]string{1: "1", 1.25: "1.2", -0.04: "0", 0: "0", 12.96: "13", -3.55: "-3.5"} {
		var m markup
		m.number(f)
		assert.Equal(t, want, string(m.b), "%g", f)
	}
	assert.Equal(t, "a very long nam…", short("a very long nam…"))
	assert.Equal(t, "abcdefghijklmnopq…", short("abcdefghijklmnopqrstuvw"))
	assert.Equal(t, "a b", short(" a\n  b "))
}
