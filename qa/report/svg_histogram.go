package report

import (
	"fmt"
	"html/template"
	"math"
	"strconv"

	"sightrail/formats/unit"
	"sightrail/qa"
)

// histogramBars is how many bars a histogram has at most.
const histogramBars = 80

// bar is one bar: passes below, failures hatched on top of them.
type bar struct {
	lo, hi     int // whole mm, both included
	pass, fail int
}

// histogramView is what a histogram shows.
type histogramView struct {
	check        *checkRows
	bars         []bar
	below, above int // counted in the first and last bar, from outside
	lo, hi       float64
	most         int
}

// histogram draws how often each difference occurs, with the limits. Bars hold
// differences rounded to whole millimetres; what failed is hatched, so that a
// bar on the limit shows both sides of it.
func (c *checkRows) histogram() *drawing {
	bins := c.result().Histogram
	if len(bins) == 0 {
		return nil
	}
	v := &histogramView{check: c}
	v.collect(bins)
	d := &drawing{Wide: v.draw(440, "w"), Narrow: v.draw(narrowWidth, "n")}
	d.Caption = []string{"Number of differences, as-built minus design in whole mm. Dashed lines are the limits; hatched is out of tolerance."}
	if width := v.bars[0].hi - v.bars[0].lo + 1; width > 1 {
		d.Caption = append(d.Caption, fmt.Sprintf("Each bar covers %d mm.", width))
	}
	if v.below+v.above > 0 {
		d.Caption = append(d.Caption, fmt.Sprintf("The outermost bars hold %s further out.", Count(v.below+v.above, "difference", "differences")))
	}
	return d
}

// collect sorts the bins into bars over a range that holds the limits and what
// is not far outside them.
func (v *histogramView) collect(bins []qa.Bin) {
	c := v.check
	lo, hi := bins[0].Mm, bins[len(bins)-1].Mm
	if t := c.limits; t.Given() {
		a, b := t.Lower.Millimetres(), t.Upper.Millimetres()
		if !t.HasLower {
			a = min(b, 0) - math.Abs(b)
		}
		if !t.HasUpper {
			b = max(a, 0) + math.Abs(a)
		}
		reach := 1.5*max(b-a, 2) + 2
		lo = max(lo, int(math.Floor(a-reach)))
		hi = min(hi, int(math.Ceil(b+reach)))
		if t.HasLower {
			lo = min(lo, int(math.Floor(a))-1)
		}
		if t.HasUpper {
			hi = max(hi, int(math.Ceil(b))+1)
		}
	}
	hi = max(hi, lo)
	width := max(1, int(roundStep(float64(hi-lo+1)/histogramBars)))
	first := int(floorDiv(int64(lo), int64(width))) * width
	for at := first; at <= hi; at += width {
		v.bars = append(v.bars, bar{lo: at, hi: at + width - 1})
	}
	end := len(v.bars) - 1
	find := func(mm int) int { return min(max(int(floorDiv(int64(mm-first), int64(width))), 0), end) }
	for _, b := range bins {
		v.bars[find(b.Mm)].pass += b.N
		if b.Mm < first {
			v.below += b.N
		} else if b.Mm > v.bars[end].hi {
			v.above += b.N
		}
	}
	for _, r := range c.failures {
		if !r.Compared || r.Derived {
			continue
		}
		mm, err := strconv.Atoi(r.Diff.Fixed(unit.MM, 0))
		if err != nil {
			continue
		}
		if b := &v.bars[find(mm)]; b.pass > 0 {
			b.pass, b.fail = b.pass-1, b.fail+1
		}
	}
	for _, b := range v.bars {
		v.most = max(v.most, b.pass+b.fail)
	}
	v.lo, v.hi = float64(v.bars[0].lo)-0.5, float64(v.bars[end].hi)+0.5
}

func (v *histogramView) draw(width float64, variant string) template.HTML {
	c := v.check
	cv := &canvas{w: width, h: 236}
	f := box{34, 30, width - 10, 194}
	x := func(mm float64) float64 { return f.x0 + (mm-v.lo)/(v.hi-v.lo)*(f.x1-f.x0) }
	y := func(n float64) float64 { return f.y1 - n/float64(v.most)*(f.y1-f.y0) }
	id := c.id() + "-histogram-" + variant
	cv.open(id, "histogram", "Differences of "+c.common().Name, "Histogram of the differences in millimetres, with the limits.")
	cv.raw(`<pattern id="`, id, `-h" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect class="hatch-ground" width="5" height="5"/><rect class="hatch" width="2" height="5"/></pattern>`)
	counts, _ := steps(0, float64(v.most), 1, 4)
	for _, n := range counts {
		cv.line("rule", f.x0, y(n), f.x1, y(n))
		cv.words("coord end", f.x0-6, y(n)+3.5, strconv.FormatFloat(n, 'f', 0, 64))
	}
	for _, b := range v.bars {
		x0, x1 := x(float64(b.lo)-0.5), x(float64(b.hi)+0.5)
		if gap := x1 - x0; gap > 4 {
			x0, x1 = x0+0.5, x1-0.5
		}
		if b.pass > 0 {
			cv.rect("column", box{x0, y(float64(b.pass)), x1, f.y1})
		}
		if b.fail > 0 {
			cv.raw(`<rect class="column-fail" fill="url(#`, id, `-h)"`)
			cv.attr("x", x0)
			cv.attr("y", y(float64(b.pass+b.fail)))
			cv.attr("width", x1-x0)
			cv.attr("height", y(float64(b.pass))-y(float64(b.pass+b.fail)))
			cv.raw("/>")
		}
	}
	cv.line("axis", f.x0, f.y1, f.x1, f.y1)
	ticks, _ := steps(v.lo, v.hi, 1, max(3, int((f.x1-f.x0)/52)))
	for _, mm := range ticks {
		cv.line("tick", x(mm), f.y1, x(mm), f.y1+4)
		cv.words("coord middle", x(mm), f.y1+16, plusSign(strconv.FormatFloat(mm, 'f', 0, 64)))
	}
	cv.words("key middle", (f.x0+f.x1)/2, f.y1+35, "difference, mm (+ = high)")
	v.limitLines(cv, f, x)
	return cv.close()
}

// limitLines draws the limits and letters them above: each at its line, or
// both in one where they are close.
func (v *histogramView) limitLines(cv *canvas, f box, x func(float64) float64) {
	t := v.check.limits
	var at []float64
	var text []string
	for _, l := range []struct {
		has bool
		is  unit.Length
	}{{t.HasLower, t.Lower}, {t.HasUpper, t.Upper}} {
		px := x(l.is.Millimetres())
		if !l.has || px < f.x0 || px > f.x1 {
			continue
		}
		cv.line("limit", px, f.y0-6, px, f.y1)
		at, text = append(at, px), append(text, "limit "+limitWord(l.is))
	}
	if len(at) == 2 && at[1]-at[0] < (textWidth(text[0], letter)+textWidth(text[1], letter))/2+8 {
		at, text = []float64{(at[0] + at[1]) / 2}, []string{"limits " + t.String()}
	}
	for i := range at {
		half := textWidth(text[i], letter) / 2
		cv.words("lab middle", min(max(at[i], half), cv.w-half), f.y0-11, text[i])
	}
}

// limitWord prints a limit in millimetres with its sign, and all its decimals.
func limitWord(l unit.Length) string { return plusSign(l.Exact(unit.MM, 0)) }
