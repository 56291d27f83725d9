package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// TestStationLabelsNeverOverlap letters stations anywhere: labels stand in the
// order of the stations, beside one another and inside the drawing.
func TestStationLabelsNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.SampledFrom([]float64{wideWidth, narrowWidth}).Draw(t, "width")
		b := labelBand{upright: rapid.Bool().Draw(t, "upright")}
		places := rapid.SliceOfN(rapid.IntRange(54, int(width)-16), 1, 40).Draw(t, "stations")
		slices.Sort(places)
		for _, x := range places {
			l := stationLabel{x: float64(x), must: rapid.Bool().Draw(t, "must"), off: unit.Length(rapid.IntRange(0, 9).Draw(t, "off"))}
			for range rapid.IntRange(1, 4).Draw(t, "lines") {
				l.lines = append(l.lines, strings.Repeat("M", rapid.IntRange(1, 18).Draw(t, "letters")))
			}
			b.labels = append(b.labels, l)
		}
		for b.wide() > width-12 {
			if !b.drop() {
				b.labels = b.labels[:len(b.labels)-1]
			}
		}
		b.place(6, width-6)
		right := 6.0
		for i := range b.labels {
			l := &b.labels[i]
			w := l.width(b.upright)
			if l.at-w/2 < right-1e-6 {
				t.Fatalf("label %d begins at %g, and the one before ends at %g", i, l.at-w/2, right)
			}
			right = l.at + w/2
		}
		if right > width-6+1e-6 {
			t.Fatalf("the last label ends at %g of %g", right, width)
		}
	})
}

// Labels that have room stand under their stations; two that meet part evenly.
func TestStationLabelsStandNear(t *testing.T) {
	label := func(x float64) stationLabel { return stationLabel{x: x, lines: []string{"a"}} }
	b := labelBand{upright: true, labels: []stationLabel{label(100), label(300), label(304), label(600)}}
	b.place(6, 754)
	var at []float64
	for _, l := range b.labels {
		at = append(at, l.at)
	}
	assert.Equal(t, []float64{100, 302 - uprightStep/2, 302 + uprightStep/2, 600}, at)
	// the least sum of squares: moving a block by a pixel either way makes it more
	sum := func(d float64) (s float64) {
		for i, l := range b.labels[1:3] {
			s += math.Pow(at[i+1]+d-l.x, 2)
		}
		return s
	}
	assert.Less(t, sum(0), sum(1))
	assert.Less(t, sum(0), sum(-1))
	b.labels = b.labels[:0]
	b.place(6, 754)
	assert.Equal(t, leaderHeight+4, b.height())
}

// Of the known marks between the ends those that are least off go first.
func TestWhichMarksAreLettered(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	rows := []levels.Row{{Name: "BM1", BS: v("1.500"), Known: v("20.000"), KnownFrom: "job"}}
	for k := range 30 {
		rows = append(rows, levels.Row{Name: fmt.Sprintf("M%d", k), IS: v("1.000"), Known: levels.Of(metres(t, "20.500") - mm(k)), KnownFrom: "job"})
	}
	rows = append(rows, levels.Row{Name: "PEG", FS: v("1.200")})
	doc := pageOf(t, withBooks(t, bookOf("marks.csv", rows, levels.Options{Rule: levels.Rule{Coef: mm(5), Text: "5 mm"}})))
	svg := diagrams(t, doc)["wide"][0]
	band, _ := bandLetters(svg)
	text := strings.Join(band, "|")
	assert.Contains(t, text, "M29  20.500|known 20.471|+29.0 mm")
	assert.NotContains(t, text, "M0 ")
	assert.Contains(t, textOf(svg), "known marks without a name here")
	assert.Len(t, find(svg, "circle", "known"), 31+1, "every mark is drawn")
	lettered := strings.Count(text, "known 20.4") + strings.Count(text, "known 20.5")
	assert.Contains(t, textOf(svg), fmt.Sprintf("%d known marks without a name here", 30-lettered))
	require.Len(t, find(svg, "text", "fail"), min(lettered, 24), "6 to 29 mm off where 5 are allowed")
}

func TestStationName(t *testing.T) {
	for in, want := range map[string]string{"CP1": "CP1", " a\n b ": "a b", "eighteen letters..": "eighteen letters..", "nail in the kerb by gate 14": "nail in th…gate 14", "éééééééééééééééééééé1": "éééééééééé…éééééé1"} {
		assert.Equal(t, want, stationName(in))
	}
}

func TestRowsWithoutAName(t *testing.T) {
	v := func(s string) levels.Value { return levels.Of(metres(t, s)) }
	rows := []levels.Row{{Name: "BM1", BS: v("1.5"), Known: v("20"), KnownFrom: "job"}, {FS: v("1.2"), BS: v("1.1")}, {Name: "BM1", FS: v("1.4")}}
	doc := pageOf(t, withBooks(t, bookOf("no-name.csv", rows, levels.Options{Rule: twelve})))
	band, _ := bandLetters(diagrams(t, doc)["wide"][0])
	assert.Equal(t, []string{"BM1", "known 20.000", "row 3", "20.300", "BM1", "known 20.000", "0.0 mm"}, band)
}

// A run in feet has its levels and lengths in feet.
func TestRunDiagramInFeet(t *testing.T) {
	ft := func(s string) levels.Value {
		l, _, err := unit.Parse(s, unit.Ft)
		require.NoError(t, err)
		return levels.Of(l)
	}
	rows := []levels.Row{{Name: "BM1", BS: ft("4.25"), Known: ft("100"), KnownFrom: "job", DistBS: ft("120")}, {Name: "BM2", FS: ft("5.12"), Known: ft("99.14"), KnownFrom: "job", DistFS: ft("80")}}
	res := withBooks(t, bookOf("feet.csv", rows, levels.Options{Rule: twelve, Unit: unit.Ft}))
	res.Frame.Unit = unit.Ft
	svg := diagrams(t, pageOf(t, res))["wide"][0]
	band, figures := bandLetters(svg)
	// 0.01 ft is 3.048 mm, and 12 sqrt(200 ft in km) is 2.963: a tenth would say 3.0 of both
	assert.Equal(t, []string{"BM1", "known 100.000", "BM2", "99.130", "known 99.140", "-3.05 mm"}, band)
	assert.Equal(t, []string{"104.250"}, figures)
	assert.Contains(t, textOf(svg), "0 ft")
	assert.Contains(t, textOf(svg), "level, ft")
}
