package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// writeOf writes one report of a result.
func writeOf(t testing.TB, kind *Kind, res *qa.Result) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := kind.Start(&b, res)
	require.NoError(t, err)
	require.NoError(t, w.Rows(res.Rows))
	require.NoError(t, w.Close(res))
	return b.Bytes()
}

// pageOf writes the page of a result and reads it back.
func pageOf(t testing.TB, res *qa.Result) *html.Node {
	t.Helper()
	doc, err := html.Parse(bytes.NewReader(writeOf(t, HTML, res)))
	require.NoError(t, err)
	return doc
}

// every calls f with every node.
func every(n *html.Node, f func(*html.Node)) {
	f(n)
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		every(c, f)
	}
}

// find returns the elements of a name; class, when given, must be one of theirs.
func find(n *html.Node, name, class string) []*html.Node {
	var out []*html.Node
	every(n, func(x *html.Node) {
		if x.Type == html.ElementNode && x.Data == name && (class == "" || slices.Contains(strings.Fields(attr(x, "class")), class)) {
			out = append(out, x)
		}
	})
	return out
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func byID(t testing.TB, n *html.Node, id string) *html.Node {
	t.Helper()
	var got *html.Node
	every(n, func(x *html.Node) {
		if attr(x, "id") == id {
			got = x
		}
	})
	require.NotNil(t, got, "no element with id %q", id)
	return got
}

// textOf is the text of a node; a line break counts as a space.
func textOf(n *html.Node) string {
	var b strings.Builder
	every(n, func(x *html.Node) {
		switch {
		case x.Type == html.TextNode:
			b.WriteString(x.Data)
		case x.Type == html.ElementNode && x.Data == "br":
			b.WriteString(" ")
		}
	})
	return strings.TrimSpace(strings.ReplaceAll(b.String(), "\u00a0", " "))
}

// table reads the body of a table.
func table(n *html.Node) (rows [][]string) {
	for _, body := range find(n, "tbody", "") {
		for _, tr := range find(body, "tr", "") {
			var cells []string
			for c := tr.FirstChild; c != nil; c = c.NextSibling {
				if c.Type == html.ElementNode {
					cells = append(cells, textOf(c))
				}
			}
			rows = append(rows, cells)
		}
	}
	return rows
}

func TestEveryFailureIsOnThePage(t *testing.T) {
	res := sampleResult(t)
	doc := pageOf(t, res)
	var got [][]string
	for _, tab := range find(doc, "table", "fails") {
		got = append(got, table(tab)...)
	}
	require.Len(t, got, len(res.Failures))
	require.NotEmpty(t, got)
	// written out by hand from the offsets of the sample
	assert.Equal(t, []string{"P27", "level", "321427.250 E 5812328.500 N", "25.428", "25.459", "+31", "-30 / +10 mm", "+21", "cut 31", "points.csv:32:4"}, got[4])
	assert.Equal(t, []string{"P6", "level", "321448.250 E 5812304.500 N", "25.218", "25.184", "-34", "-30 / +10 mm", "-4", "fill 34", "points.csv:11:4"}, got[0])
	assert.Equal(t, []string{"A2-4", "backfall", "A2 at 21.186 321456.000 E 5812294.800 N", "24.343 shot upstream", "24.349", "+6", "not above 0 mm", "+6",
		"lower 6 backfall: A2-4 is +6 mm higher than A2-3, which is upstream of it", "points.csv:53:4"}, got[7])
	assert.Equal(t, []string{"A3", "grade", "", "1 in 99.3", "1 in 106.9", "", "least 1 in 100", "-18", "from A3-1 to A3-4", "points.csv:58:4"}, got[9])
	// and all of them from the rows
	for i, r := range res.Failures {
		row := got[i]
		assert.Equal(t, r.Shot.Pos.String(), row[9])
		assert.Equal(t, limits.PrintedBeyond(r.Beyond), row[7])
		if !r.Graded() {
			assert.Equal(t, r.Limits.Printed(r.Diff), row[5])
			assert.True(t, strings.HasPrefix(row[8], r.Action), row[8])
		}
	}
}

func TestEveryRowOfACheckIsInItsTable(t *testing.T) {
	res := sampleResult(t)
	doc := pageOf(t, res)
	for i := range res.Checks {
		var want []string
		for _, r := range res.Rows {
			if r.Check == i {
				name := r.Shot.ID
				if r.Graded() {
					name = r.Pipe
				}
				want = append(want, name+" "+string(r.Quantity)+" "+r.Verdict.String())
			}
		}
		var got []string
		for _, row := range table(find(byID(t, doc, checkID(i)), "table", "rows")[0]) {
			got = append(got, row[0]+" "+row[7]+" "+row[1])
		}
		assert.Equal(t, want, got)
	}
}

func TestPrintNeverContradictsTheVerdict(t *testing.T) {
	res := sampleResult(t)
	for i := range res.Rows {
		if r := &res.Rows[i]; r.Shot.ID == "P1" {
			r.Diff = mm(10) + 3*unit.Millimetre/10
			r.Measured = r.Design + r.Diff
			r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
			r.Action = r.Limits.SurfaceAction(r.Diff)
		}
	}
	addUp(res)
	row := table(find(pageOf(t, res), "table", "fails")[0])[0]
	assert.Equal(t, []string{"P1", "+10.3", "+0.3", "cut 10.3"}, []string{row[0], row[5], row[7], row[8]})
}

func TestAccountIsShownAsASum(t *testing.T) {
	res := sampleResult(t)
	doc := pageOf(t, res)
	sum := 0
	for _, term := range find(doc, "div", "term") {
		n, err := strconv.Atoi(textOf(find(term, "b", "")[0]))
		require.NoError(t, err)
		sum += n
	}
	assert.Equal(t, strconv.Itoa(sum), textOf(find(find(doc, "div", "sum")[0], "b", "")[0]))
	assert.Contains(t, textOf(byID(t, doc, "rows")), fmt.Sprintf("The sum is the number of rows read, %d", res.Account.Read))
	res.Account.Read++
	assert.Contains(t, textOf(byID(t, pageOf(t, res), "rows")), "The account does not balance")
}

func TestWhatWasNotJudgedIsListedWithItsReason(t *testing.T) {
	res := sampleResult(t)
	got := table(byID(t, pageOf(t, res), "rows"))
	assert.Contains(t, got, []string{"P99", "excluded", "", "pole was bumped", "", "points.csv:4:4"})
	assert.Contains(t, got, []string{"P40", "not assessed", "Pad level", "outside the design surface FG PAD", "321478.250 E 5812336.500 N", "points.csv:45:4"})
	assert.Contains(t, got, []string{"K1", "not assessed", "", "no check of the job selects it", "", "levels.xlsx[Day 1]:C5"})
	assert.Len(t, got, res.Account.NotAssessed+res.Account.Excluded)
}

func TestBand(t *testing.T) {
	pass := func(r *qa.Row) bool { return r.Verdict == limits.Pass && !r.Derived }
	keep := func(res *qa.Result, f func(*qa.Row) bool) {
		res.Rows = slices.DeleteFunc(res.Rows, func(r qa.Row) bool { return !f(&r) })
		addUp(res)
	}
	for _, x := range []struct {
		name string
		edit func(*qa.Result)
		word string
		says []string
	}{
		{"fail", func(*qa.Result) {}, "Fail", []string{"and not complete", "10 of 65 results assessed are out of tolerance.", "P27 of Building pad (321427.250 E, 5812328.500 N), +31 mm against -30 / +10 mm",
			"Not assessed: 4 rows read, and 1 result of the checks", "Evidence not supplied: serial number of rover 2"}},
		{"pass", func(res *qa.Result) { keep(res, pass) }, "Pass", []string{"45 of 45 results assessed are within tolerance."}},
		{"incomplete", func(res *qa.Result) {
			keep(res, func(r *qa.Row) bool { return pass(r) || r.Verdict == limits.NotAssessed && r.Check >= 0 })
		}, "Incomplete", []string{"Nothing assessed is out of tolerance (45 results)", "Not assessed: 1 row read, and 1 result of the checks"}},
		{"nothing", func(res *qa.Result) { keep(res, func(r *qa.Row) bool { return r.Check < 0 }) }, "Incomplete", []string{"Nothing was assessed, so nothing is proved."}},
		{"not proved", func(res *qa.Result) {
			keep(res, pass)
			res.Proved = []string{"points.csv: levels not proved: no shot on a known mark"}
		}, "Pass", []string{"Levels: points.csv: levels not proved: no shot on a known mark."}},
		{"grade worst", func(res *qa.Result) {
			keep(res, func(r *qa.Row) bool { return pass(r) || r.Graded() })
		}, "Fail", []string{"2 of 48 results assessed are out", "the grade of pipe A3, 1 in 106.9 where the least 1 in 100 is allowed; its fall is short by 18 mm"}},
		{"backfall worst", func(res *qa.Result) {
			keep(res, func(r *qa.Row) bool { return pass(r) || r.Quantity == qa.QuantityBackfall })
		}, "Fail", []string{"1 of 55 results assessed is out", "A2-4 (A2 at 21.186, 321456.000 E, 5812294.800 N) rises 6 mm above the shot upstream of it"}},
	} {
		t.Run(x.name, func(t *testing.T) {
			res := sampleResult(t)
			x.edit(res)
			doc := pageOf(t, res)
			band := find(doc, "section", "band")[0]
			assert.True(t, strings.HasPrefix(textOf(find(band, "p", "word")[0]), x.word))
			for _, s := range x.says {
				assert.Contains(t, textOf(band), s)
			}
			assert.True(t, strings.HasPrefix(textOf(find(doc, "title", "")[0]), x.word+": "))
		})
	}
}

func TestBooksMarksAndBasisAreShown(t *testing.T) {
	doc := pageOf(t, sampleResult(t))
	levels := byID(t, doc, "levels")
	assert.Contains(t, table(levels), []string{"levels.xlsx, sheet Day 1", "BM1", "BM2", "closed", "-1.0", "4.2", "24", "3", "124.5 m", "12 mm sqrt(K)", "raw"})
	assert.Contains(t, table(levels), []string{"Sum of BS − sum of FS", "4.106 − 4.632", "-0.526"})
	assert.Contains(t, table(levels), []string{"7", "CP1", "1.210", "", "1.655", "27.297", "", "0.785", "26.087", "change point"})
	assert.Contains(t, table(levels), []string{"8", "lintel", "", "-2.315", "", "", "3.525", "", "29.612", "inverted staff"})
	assert.Contains(t, textOf(levels), "proves the arithmetic, not the readings")
	assert.Contains(t, table(byID(t, doc, "marks")), []string{"BM1", "+3.0", "10", "8.0", "25", "within", "points.csv:2:4"})
	basis := textOf(byID(t, doc, "basis"))
	for _, s := range []string{"EPSG:7855", "AHD", "metre (m)", "mark sheet 12", "2026-02-03", "40117", "not supplied", "A. Chan", strings.Repeat("8293a4b5", 8)} {
		assert.Contains(t, basis, s)
	}
	for _, s := range Cautions {
		assert.Contains(t, textOf(byID(t, doc, "cautions")), s)
	}
	assert.Len(t, find(byID(t, doc, "signatures"), "div", "sign"), 3)
}

func TestStageOffsetIsSaid(t *testing.T) {
	res := sampleResult(t)
	res.Job.Checks = []job.Check{{Kind: "surface", Params: offsetParams{}}, {Kind: "pipe"}}
	assert.Contains(t, textOf(byID(t, pageOf(t, res), "check-1")), "-450 mm to the design level")
	assert.NotContains(t, textOf(byID(t, pageOf(t, res), "check-2")), "to the design level")
}

type offsetParams struct{}

func (offsetParams) StageOffset() (unit.Length, bool) { return -450 * unit.Millimetre, true }

func TestNothingCanRunOrLoad(t *testing.T) {
	text := writeOf(t, HTML, sampleResult(t))
	doc, err := html.Parse(bytes.NewReader(text))
	require.NoError(t, err)
	var policy string
	every(doc, func(n *html.Node) {
		if n.Type != html.ElementNode {
			return
		}
		assert.NotContains(t, []string{"script", "iframe", "img", "image", "link", "object", "embed", "base", "form", "foreignobject", "use"}, strings.ToLower(n.Data))
		for _, a := range n.Attr {
			assert.False(t, strings.HasPrefix(a.Key, "on"), "%s has the attribute %s", n.Data, a.Key)
			assert.NotContains(t, []string{"style", "src", "srcset", "action", "xlink:href"}, a.Key)
			if a.Key == "href" {
				assert.True(t, strings.HasPrefix(a.Val, "#"), a.Val)
			}
		}
		if attr(n, "http-equiv") == "Content-Security-Policy" {
			policy = attr(n, "content")
		}
	})
	css := find(doc, "style", "")
	require.Len(t, css, 1)
	sum := sha256.Sum256([]byte(css[0].FirstChild.Data))
	assert.Contains(t, policy, "default-src 'none'; style-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'")
	assert.NotContains(t, css[0].FirstChild.Data, "url(")
	assert.NotContains(t, css[0].FirstChild.Data, "@import")
}

func TestLinksAndIDs(t *testing.T) {
	doc := pageOf(t, sampleResult(t))
	ids := map[string]int{}
	every(doc, func(n *html.Node) {
		if id := attr(n, "id"); id != "" {
			ids[id]++
		}
	})
	for id, n := range ids {
		assert.Equal(t, 1, n, "id %q", id)
	}
	links := 0
	every(doc, func(n *html.Node) {
		for _, name := range []string{"href", "aria-labelledby"} {
			for _, id := range strings.Fields(attr(n, name)) {
				links++
				assert.Contains(t, ids, strings.TrimPrefix(id, "#"))
			}
		}
		for _, a := range n.Attr {
			for _, m := range regexp.MustCompile(`url\(#([^)]+)\)`).FindAllStringSubmatch(a.Val, -1) {
				links++
				assert.Contains(t, ids, m[1])
			}
		}
	})
	assert.Greater(t, links, 20)
	for _, svg := range find(doc, "svg", "") {
		assert.Equal(t, "img", attr(svg, "role"))
		assert.NotEmpty(t, textOf(find(svg, "title", "")[0]))
		assert.NotEmpty(t, textOf(find(svg, "desc", "")[0]))
	}
	for _, th := range find(doc, "th", "") {
		assert.Contains(t, []string{"col", "row"}, attr(th, "scope"))
	}
}

func TestSameBytes(t *testing.T) {
	a, b := writeOf(t, HTML, sampleResult(t)), writeOf(t, HTML, sampleResult(t))
	assert.True(t, bytes.Equal(a, b))
}

// TestColoursAreReadable computes the contrast ratio of every text colour on
// every ground it stands on: at least 4.5, WCAG 2.1 success criterion 1.4.3,
// by the formula for relative luminance of the same document.
func TestColoursAreReadable(t *testing.T) {
	colour := map[string][3]float64{"#fff": {1, 1, 1}}
	for _, m := range regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6})`).FindAllStringSubmatch(pageStyle, -1) {
		v, err := strconv.ParseUint(m[2], 16, 32)
		require.NoError(t, err)
		colour[m[1]] = [3]float64{float64(v>>16) / 255, float64(v>>8&255) / 255, float64(v&255) / 255}
	}
	luminance := func(name string) float64 {
		c, ok := colour[name]
		require.True(t, ok, name)
		for i, v := range c {
			if c[i] = v / 12.92; v > 0.04045 {
				c[i] = math.Pow((v+0.055)/1.055, 2.4)
			}
		}
		return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]
	}
	for _, x := range [][2]string{{"ink", "paper"}, {"quiet", "paper"}, {"quiet", "faint"}, {"quiet", "fail-tint"}, {"pass", "paper"}, {"pass", "pass-tint"}, {"fail", "paper"},
		{"fail", "fail-tint"}, {"fail", "#fff"}, {"open", "paper"}, {"open", "open-tint"}, {"ink", "pass-tint"}, {"quiet", "#fff"}} {
		a, b := luminance(x[0]), luminance(x[1])
		assert.GreaterOrEqual(t, (max(a, b)+0.05)/(min(a, b)+0.05), 4.5, "%s on %s", x[0], x[1])
	}
}

func TestFeetAndSmallResults(t *testing.T) {
	res := sampleResult(t)
	res.Frame.Unit = unit.FtUS
	assert.Contains(t, textOf(byID(t, pageOf(t, res), "basis")), "US survey foot (ftUS)")

	bare := &qa.Result{Job: &job.Job{Project: "Bare"}, Frame: convert.Frame{Unit: unit.M}, Verdict: qa.VerdictIncomplete}
	doc := pageOf(t, bare)
	assert.Contains(t, textOf(find(doc, "section", "band")[0]), "Nothing was assessed")
	assert.Contains(t, textOf(byID(t, doc, "failures")), "Nothing was assessed")
	assert.Contains(t, textOf(byID(t, doc, "marks")), "Levels not proved")

	res = sampleResult(t)
	res.Books[0].Result = nil
	res.Design = nil
	doc = pageOf(t, res)
	assert.Contains(t, textOf(byID(t, doc, "levels")), "This book could not be reduced")
	assert.NotEmpty(t, find(doc, "svg", "plan"))
	assert.Empty(t, find(doc, "svg", "section"))
}
