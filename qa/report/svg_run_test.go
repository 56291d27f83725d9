package report

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// leveller books an invented run: for the mechanics of the drawing, no figure of
// it is a fact.
type leveller struct {
	rows    []levels.Row
	draw    func(label string, lo, hi int) int // a whole number, drawn or worked out
	spaced  bool                               // sights are measured
	side    int                                // side shots a set-up
	known   map[string]unit.Length
	carried unit.Length // level of the last station
}

// plain draws the same numbers every time.
func plain() func(string, int, int) int {
	k := uint32(1)
	return func(_ string, lo, hi int) int {
		k = k*1664525 + 1013904223
		return lo + int(k>>8)%(hi-lo+1)
	}
}

// run levels n set-ups from one known mark to another. The last level is off mm
// above the known one.
func (l *leveller) run(from, to string, n, off int) {
	mark := func(name string) levels.Row {
		r := levels.Row{Name: name}
		if k, ok := l.known[name]; ok {
			r.Known, r.KnownFrom = levels.Of(k), "job"
		}
		return r
	}
	dist := func() (v levels.Value) {
		if l.spaced {
			v = levels.Of(unit.Length(l.draw("sight", 100, 400)) * unit.Metre / 10)
		}
		return v
	}
	last := len(l.rows) - 1
	if last < 0 || l.rows[last].Name != from {
		l.rows = append(l.rows, mark(from))
		last++
	}
	level := l.known[from]
	for k := range n {
		r := &l.rows[last]
		back := mm(l.draw("BS", 300, 2800))
		r.BS, r.DistBS = levels.Of(back), dist()
		for j := range l.side {
			v := mm(l.draw("IS", 100, 3900))
			if l.draw("staff", 0, 4) == 0 {
				v = -v
			}
			l.rows = append(l.rows, levels.Row{Name: fmt.Sprintf("S%d.%d", k+1, j+1), IS: levels.Of(v)})
		}
		fore := mm(l.draw("FS", 300, 2800))
		next := mark(fmt.Sprintf("TP%d", k+1))
		if k == n-1 {
			if next = mark(to); next.Known.Set {
				fore = level + back - l.known[to] - mm(off)
			}
		}
		level += back - fore
		next.FS, next.DistFS = levels.Of(fore), dist()
		l.rows = append(l.rows, next)
		last = len(l.rows) - 1
	}
	l.carried = level
}

// bookOf reduces rows for a report.
func bookOf(file string, rows []levels.Row, opt levels.Options) qa.BookResult {
	if !opt.Unit.Known() {
		opt.Unit = unit.M
	}
	b := &formats.Book{Pos: formats.Pos{File: file}}
	for i := range rows {
		b.Rows = append(b.Rows, formats.BookRow{Row: i + 2, Point: rows[i].Name})
	}
	return qa.BookResult{Book: b, Unit: opt.Unit, Input: rows, Rule: opt.Rule, Result: levels.Reduce(rows, opt)}
}

var twelve = levels.Rule{Coef: mm(12), Per: levels.SqrtK, Text: "12 mm sqrt(K)"}

// withBooks is the sample with other books.
func withBooks(t testing.TB, books ...qa.BookResult) *qa.Result {
	t.Helper()
	res := sampleResult(t)
	res.Books = books
	return res
}

// oneRun is a job of one run of n set-ups that closes 4 mm high.
func oneRun(t testing.TB, n int, spaced bool) *qa.Result {
	t.Helper()
	l := &leveller{draw: plain(), spaced: spaced, side: 3, known: map[string]unit.Length{"BM1": metres(t, "26.400"), "BM2": metres(t, "25.875")}}
	l.run("BM1", "BM2", n, 4)
	return withBooks(t, bookOf("run.csv", l.rows, levels.Options{Rule: twelve}))
}

// diagrams are the run diagrams of the page, wide and narrow.
func diagrams(t testing.TB, doc *html.Node) map[string][]*html.Node {
	t.Helper()
	out := map[string][]*html.Node{}
	for _, size := range []string{"wide", "narrow"} {
		for _, div := range find(byID(t, doc, "levels"), "div", size) {
			out[size] = append(out[size], find(div, "svg", "run")...)
		}
	}
	require.Len(t, out["wide"], len(out["narrow"]))
	return out
}

// allowedLetters is all that a diagram may letter below its panel and on its
// collimation lines, taken from the table of the reduced book and from the
// closing table. Names have no blank.
func allowedLetters(doc *html.Node) map[string]bool {
	out := map[string]bool{}
	for _, tab := range find(doc, "table", "book") {
		for _, r := range table(tab) {
			name, level, remarks := r[1], r[8], r[len(r)-1]
			out[name], out[level], out[name+"  "+level], out["coll "+r[5]] = true, true, true, true
			if m := regexp.MustCompile(`known (\S+) \(`).FindStringSubmatch(remarks); m != nil {
				out["known "+m[1]], out[name+"  known "+m[1]] = true, true
			}
		}
	}
	for _, tab := range find(doc, "table", "closing") {
		for _, r := range table(tab) {
			out[r[4]+" mm"] = true
		}
	}
	for _, p := range find(doc, "p", "remark") {
		if m := regexp.MustCompile(`between its ends (\S+ mm)`).FindStringSubmatch(textOf(p)); m != nil {
			out[m[1]] = true
		}
	}
	return out
}

// bandLetters are the texts below the panel, figures those on collimation lines.
func bandLetters(svg *html.Node) (band, figures []string) {
	frame := find(svg, "rect", "frame")[0]
	foot := numberOf(frame, "y") + numberOf(frame, "height")
	for _, n := range find(svg, "text", "") {
		class := strings.Fields(attr(n, "class"))[0]
		x, y := numberOf(n, "x"), numberOf(n, "y")
		switch {
		case class == "coord" && y > numberOf(frame, "y")+2 && y < foot-2 && x > numberOf(frame, "x"):
			figures = append(figures, textOf(n))
		case class == "lab", class == "key" && strings.Contains(attr(n, "class"), " "): // the key itself is only "key"
			band = append(band, textOf(n))
		}
	}
	return band, figures
}

func numberOf(n *html.Node, name string) float64 {
	f, _ := strconv.ParseFloat(attr(n, name), 64)
	return f
}

// TestRunDiagramSaysWhatTheTableSays draws runs and compares every figure of
// their diagrams with the reduced book and the closing table.
func TestRunDiagramSaysWhatTheTableSays(t *testing.T) {
	base := sampleResult(t)
	rapid.Check(t, func(rt *rapid.T) {
		l := &leveller{spaced: rapid.Bool().Draw(rt, "measured"), side: rapid.IntRange(0, 4).Draw(rt, "side shots"),
			draw:  func(label string, lo, hi int) int { return rapid.IntRange(lo, hi).Draw(rt, label) },
			known: map[string]unit.Length{"BM1": 26 * unit.Metre, "BM2": mm(25_875), "BM3": mm(27_001)}}
		n := rapid.IntRange(1, 25).Draw(rt, "set-ups")
		l.run("BM1", "BM2", n, rapid.IntRange(-30, 30).Draw(rt, "off"))
		l.run("BM2", "BM3", 2, 1)
		l.run("BM3", "PEG", 1, 0)
		res := *base
		res.Books = []qa.BookResult{bookOf("run.csv", l.rows, levels.Options{Rule: twelve})}
		var b bytes.Buffer
		w, err := HTML.Start(&b, &res)
		require.NoError(rt, err)
		require.NoError(rt, w.Close(&res))
		doc, err := html.Parse(&b)
		require.NoError(rt, err)
		allowed := allowedLetters(doc)
		for size, svgs := range diagrams(t, doc) {
			require.Len(rt, svgs, 3)
			for k, svg := range svgs {
				band, figures := bandLetters(svg)
				for _, s := range band {
					require.True(rt, allowed[s], "%s run %d: %q is in no table", size, k+1, s)
				}
				for _, s := range figures {
					require.True(rt, allowed["coll "+s], "%s run %d: collimation %q is in no table", size, k+1, s)
				}
			}
			if full := len(find(svgs[0], "path", "tripod")) > 0; full { // then every station of the run is lettered
				text := strings.Join(strings.Fields(textOf(svgs[0])), " ")
				for _, r := range table(find(doc, "table", "book")[0]) {
					if strings.HasPrefix(r[1], "TP") && r[1] != fmt.Sprintf("TP%d", n) && !strings.Contains(r[1], "PEG") {
						require.Contains(rt, text, r[1])
					}
				}
			}
		}
	})
}

// TestRunDiagramByHand letters the sample: a run with side shots, an inverted
// one, and sights of known length.
func TestRunDiagramByHand(t *testing.T) {
	doc := pageOf(t, sampleResult(t))
	d := diagrams(t, doc)
	band, figures := bandLetters(d["wide"][0])
	assert.Equal(t, []string{"BM1", "known 26.400", "CP1", "26.087", "CP2", "25.421", "BM2", "25.874", "known 25.875", "-1.0 mm"}, band)
	assert.Equal(t, []string{"27.742", "27.297"}, figures, "no room on the third")
	narrow, _ := bandLetters(d["narrow"][0])
	assert.Equal(t, band, narrow)
	six, _ := bandLetters(diagrams(t, pageOf(t, oneRun(t, 6, true)))["narrow"][0])
	assert.Equal(t, "BM1  known 26.400", six[0], "upright, where there is no room side by side")
	assert.Equal(t, []string{"BM2  25.879", "known 25.875", "+4.0 mm"}, six[6:])
	for _, svgs := range d {
		svg := svgs[0]
		assert.Len(t, find(svg, "path", "tripod"), 3+1, "set-ups, and the key")
		assert.Len(t, find(svg, "circle", "known"), 2+1)
		assert.Len(t, find(svg, "line", "sight"), 3+1)
		assert.Len(t, find(svg, "line", "shot"), 3+2, "side shots, their key and that of the inverted staff")
		hang := find(svg, "line", "hang")
		require.Len(t, hang, 1+1)
		assert.Less(t, numberOf(hang[0], "y2"), numberOf(hang[0], "y1"), "it hangs above its collimation")
	}
	caption := textOf(find(byID(t, doc, "levels"), "figcaption", "")[0])
	for _, s := range []string{"Run from BM1 to BM2: 3 set-ups, 124.5 m, misclosure -1.0 mm where 4.2 mm is allowed: closed.", "Stations stand to the scale of the sights.", "Raw levels in m, height datum AHD"} {
		assert.Contains(t, caption, s)
	}
}

// TestRunDiagramPlaces reads levels and lengths back off the drawing, by its own
// two scales, and works the exaggeration out of them.
func TestRunDiagramPlaces(t *testing.T) {
	res := sampleResult(t)
	for size, svgs := range diagrams(t, pageOf(t, res)) {
		svg := svgs[0]
		var ly, lv, lx, lm []float64
		for _, n := range find(svg, "text", "coord") {
			v, err := strconv.ParseFloat(strings.TrimSuffix(textOf(n), " m"), 64)
			switch {
			case err != nil:
			case strings.Contains(attr(n, "class"), "end"):
				ly, lv = append(ly, numberOf(n, "y")-3.5), append(lv, v)
			case numberOf(n, "y") < 40:
				lx, lm = append(lx, numberOf(n, "x")), append(lm, v)
			}
		}
		require.GreaterOrEqual(t, len(ly), 2, size)
		require.GreaterOrEqual(t, len(lx), 2, size)
		level := func(y float64) float64 { return lv[0] + (y-ly[0])*(lv[1]-lv[0])/(ly[1]-ly[0]) }
		along := func(x float64) float64 { return lm[0] + (x-lx[0])*(lm[1]-lm[0])/(lx[1]-lx[0]) }
		want := []struct{ hpc, x0, x1 float64 }{{27.742, 0, 58}, {27.297, 58, 118}, {26.975, 118, 124.5}} // sums of the booked sights
		for k, w := range want {
			s := find(svg, "line", "sight")[k]
			assert.InDelta(t, w.hpc, level(numberOf(s, "y1")), 0.01, size)
			assert.InDelta(t, w.x0, along(numberOf(s, "x1")), 0.3, size)
			assert.InDelta(t, w.x1, along(numberOf(s, "x2")), 0.3, size)
			assert.Equal(t, attr(s, "y1"), attr(s, "y2"), "a collimation line is level")
		}
		m := regexp.MustCompile(`vertical scale (\S+)× the horizontal`).FindStringSubmatch(textOf(svg))
		require.NotNil(t, m)
		said, _ := strconv.ParseFloat(m[1], 64)
		perLevel, perMetre := -(ly[1]-ly[0])/(lv[1]-lv[0]), (lx[1]-lx[0])/(lm[1]-lm[0])
		assert.InEpsilon(t, perLevel/perMetre, said, 0.06, "two figures")
	}
}

// TestRunForms draws short and long runs, with and without lengths of sights.
func TestRunForms(t *testing.T) {
	for _, x := range []struct {
		n            int
		spaced       bool
		wide, narrow int // set-ups drawn one by one
	}{{1, true, 1, 1}, {1, false, 1, 1}, {16, true, 16, 16}, {20, false, 20, 0}, {40, true, 40, 0}, {41, true, 0, 0}, {200, true, 0, 0}, {200, false, 0, 0}} {
		t.Run(fmt.Sprintf("%d set-ups, lengths %v", x.n, x.spaced), func(t *testing.T) {
			doc := pageOf(t, oneRun(t, x.n, x.spaced))
			text := textOf(byID(t, doc, "levels"))
			d := diagrams(t, doc)
			for size, want := range map[string]int{"wide": x.wide, "narrow": x.narrow} {
				svg := d[size][0]
				assert.Len(t, find(svg, "path", "tripod"), want+b2i(want > 0), size)
				assert.Equal(t, x.spaced, strings.Contains(textOf(svg), "vertical scale"), size)
				assert.Equal(t, !x.spaced, strings.Contains(textOf(svg), "not to scale along the run"), size)
				assert.Len(t, find(svg, "circle", "known"), 3, "two marks, and their key")
				band, _ := bandLetters(svg)
				all := strings.Join(band, "|")
				for _, s := range []string{"BM1", "known 26.400", "BM2", "25.879", "known 25.875", "+4.0 mm"} {
					assert.Contains(t, all, s, size)
				}
				if want == 0 {
					assert.Contains(t, textOf(svg), "level from station to station")
					assert.NotContains(t, all, "TP")
				}
			}
			assert.Equal(t, !x.spaced, strings.Contains(text, "Stations stand at equal spacing: not every sight has a length."))
			assert.Equal(t, x.n > fullSetups, strings.Contains(text, "A long run is drawn by its levels alone."))
		})
	}
}

// TestLongestRun holds the drawing small, and keeps its highest point.
func TestLongestRun(t *testing.T) {
	res := oneRun(t, 20_000, true)
	lines := []runLine{(&page{Res: res}).runLine(&res.Books[0], 0, nil)}
	drawn, none, more := runDiagrams(res, 0, lines, 1)
	require.Len(t, drawn, 1)
	assert.Empty(t, none)
	assert.Zero(t, more)
	assert.Less(t, len(drawn[0].Wide), 150_000)
	doc, err := html.Parse(strings.NewReader(string(drawn[0].Wide)))
	require.NoError(t, err)
	v := &runView{res: res, book: &res.Books[0], run: &res.Books[0].Result.Runs[0], line: lines[0]}
	v.take(0)
	require.Len(t, v.stations, 20_001)
	p := &panel{box: box{62, 46, 744, 236}}
	v.rangeLevels(p, false)
	top, want := 1e9, 1e9
	for i := range v.stations {
		want = min(want, p.y(v.units(v.stations[i].level)))
	}
	for _, m := range regexp.MustCompile(`[ML]\S+ ([\d.]+)`).FindAllStringSubmatch(attr(find(doc, "path", "stations")[0], "d"), -1) {
		y, err := strconv.ParseFloat(m[1], 64)
		require.NoError(t, err)
		top = min(top, y)
	}
	assert.InDelta(t, want, top, 0.06, "thinning loses no peak")
}

// Every kind of run that is not closed has its drawing, or a sentence.
func TestRunsThatDoNotClose(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	known := levels.Row{Name: "BM1", BS: v("1.500"), Known: v("20.000"), KnownFrom: "job"}
	for _, x := range []struct {
		name    string
		rows    []levels.Row
		band    []string
		caption string
		broken  bool
	}{
		{"open", []levels.Row{known, {Name: "P", IS: v("1.1")}, {Name: "PEG", FS: v("1.000")}}, []string{"BM1", "known 20.000", "PEG", "20.500"}, "Run from BM1: 1 set-up: open: ends on no known mark.", false},
		{"backwards", []levels.Row{{Name: "PEG", BS: v("1.000")}, {Name: "BM2", FS: v("1.500"), Known: v("20.000"), KnownFrom: "job"}}, []string{"PEG", "20.500", "BM2", "known 20.000"},
			"Run from PEG: 1 set-up: open: it begins on no known mark; its levels are worked from BM2.", false},
		{"no foresight", []levels.Row{known, {Name: "P", IS: v("1.1")}}, []string{"BM1", "known 20.000"}, "Run from BM1: 1 set-up: broken: a reading is missing or in the wrong place.", true},
		{"IS beside BS", []levels.Row{known, {Name: "CP1", FS: v("1.2"), BS: v("1.4")}, {Name: "X", IS: v("1.0"), BS: v("1.0")}, {Name: "BM1", FS: v("1.7")}},
			[]string{"BM1", "known 20.000", "CP1", "20.300"}, "broken: a reading is missing or in the wrong place.", true},
	} {
		t.Run(x.name, func(t *testing.T) {
			doc := pageOf(t, withBooks(t, bookOf("open.csv", x.rows, levels.Options{Rule: twelve})))
			for size, svgs := range diagrams(t, doc) {
				band, _ := bandLetters(svgs[0])
				if size == "wide" {
					assert.Equal(t, x.band, band)
				}
				assert.Equal(t, x.broken, strings.Contains(textOf(svgs[0]), "broken here"))
			}
			assert.Contains(t, textOf(find(byID(t, doc, "levels"), "figcaption", "")[0]), x.caption)
		})
	}
	doc := pageOf(t, withBooks(t, bookOf("lost.csv", []levels.Row{{Name: "A", BS: v("1")}, {Name: "B", FS: v("1.2")}}, levels.Options{Rule: twelve})))
	assert.Empty(t, diagrams(t, doc)["wide"])
	assert.Contains(t, textOf(byID(t, doc, "levels")), "No diagram of the run from A: no level in it could be worked out.")
}

// A change point over two rows is one station, a change point on an inverted
// staff lies above its collimation, and a run goes on from the known level of
// the mark that it shares with the one before.
func TestStationsOfRuns(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	rows := []levels.Row{
		{Name: "BM1", BS: v("1.500"), Known: v("20.000"), KnownFrom: "job"},
		{Name: "soffit", FS: v("-2.100")}, {Name: "soffit", BS: v("-1.200")},
		{Name: "BM2", FS: v("1.400"), BS: v("1.000"), Known: v("20.996"), KnownFrom: "job"},
		{Name: "BM3", IS: v("0.900"), Known: v("21.098"), KnownFrom: "job"},
		{Name: "BM1", FS: v("1.997")},
	}
	res := withBooks(t, bookOf("two.csv", rows, levels.Options{Rule: levels.Rule{Coef: mm(10), Text: "10 mm"}}))
	d := diagrams(t, pageOf(t, res))
	require.Len(t, d["wide"], 2)
	first, _ := bandLetters(d["wide"][0])
	assert.Equal(t, []string{"BM1", "known 20.000", "soffit", "23.600", "BM2", "21.000", "known 20.996", "+4.0 mm"}, first)
	second, _ := bandLetters(d["wide"][1])
	assert.Equal(t, []string{"BM2", "known 20.996", "BM3", "21.096", "known 21.098", "-2.0 mm", "BM1", "19.999", "known 20.000", "-1.0 mm"}, second)
	assert.Len(t, find(d["wide"][0], "line", "staff"), 4+1)
	staff := find(d["wide"][0], "line", "staff")[1]
	assert.Less(t, numberOf(staff, "y1"), numberOf(staff, "y2"), "the soffit is above the line of sight")
}

// Of many runs twelve are drawn, those that are not proved before the others.
func TestManyRuns(t *testing.T) {
	l := &leveller{draw: plain(), spaced: true, known: map[string]unit.Length{"BM1": metres(t, "26.400"), "BM2": metres(t, "25.875")}}
	for k := range 15 {
		off := 1
		if k >= 12 {
			off = 40
		}
		l.run([]string{"BM1", "BM2"}[k%2], []string{"BM2", "BM1"}[k%2], 2, off)
	}
	doc := pageOf(t, withBooks(t, bookOf("many.csv", l.rows, levels.Options{Rule: twelve})))
	require.Len(t, diagrams(t, doc)["wide"], diagramsOfBook)
	text := textOf(byID(t, doc, "levels"))
	assert.Contains(t, text, "3 more runs have no drawing here; the table of runs has all.")
	assert.Len(t, find(byID(t, doc, "levels"), "text", "fail"), 2*3, "the three that failed, wide and narrow")
	assert.Len(t, table(find(doc, "table", "closing")[0]), 15)
	assert.Equal(t, writeOf(t, HTML, withBooks(t, bookOf("many.csv", l.rows, levels.Options{Rule: twelve}))), writeOf(t, HTML, withBooks(t, bookOf("many.csv", l.rows, levels.Options{Rule: twelve}))))
}

// Where side shots stand in the FS column, they are ticks and no stations; one
// on a known mark is a mark between the ends.
func TestSideShotsInTheFSColumn(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	rows := []levels.Row{
		{Name: "BM1", BS: v("1.500"), Known: v("20.000"), KnownFrom: "job"},
		{Name: "K1", FS: v("1.100")}, {Name: "K2", FS: v("1.200")},
		{Name: "BM3", FS: v("1.001"), Known: v("20.500"), KnownFrom: "job"},
		{Name: "CP1", FS: v("1.300"), BS: v("1.400")},
		{Name: "K3", FS: v("1.000")},
		{Name: "BM1", FS: v("1.600")},
	}
	doc := pageOf(t, withBooks(t, bookOf("side.csv", rows, levels.Options{Rule: levels.Rule{Coef: mm(3), Text: "3 mm"}, SideShotsFS: true})))
	svg := diagrams(t, doc)["wide"][0]
	band, _ := bandLetters(svg)
	assert.Equal(t, []string{"BM1", "known 20.000", "BM3", "20.499", "known 20.500", "-1.0 mm", "CP1", "20.200", "BM1", "known 20.000", "0.0 mm"}, band)
	assert.Len(t, find(svg, "line", "shot"), 3+1)
	assert.Len(t, find(svg, "line", "sight"), 2+1)
}
