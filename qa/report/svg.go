package report

import (
	"html/template"
	"math"
	"strings"
	"unicode/utf8"
)

// Drawings are SVG, built here and styled by page.css. A drawing is made twice,
// for a wide page and for a narrow one, so that its lettering is readable on
// both. Drawing is done in float64: nothing is judged from it, and every number
// lettered on it comes from the row it stands for.

// The widths a drawing is made for, in CSS pixels.
const (
	wideWidth   = 760.0
	narrowWidth = 358.0
)

// Sizes of lettering and marks, in CSS pixels.
const (
	letter    = 12.0 // font size
	lineStep  = 15.0 // from line to line
	markSize  = 5.0  // half the height of the mark of a failure
	dotRadius = 2.4
	manyDots  = 600 // from here on dots are smaller
)

// drawing is one picture for the page: what is drawn, and what stands under it.
type drawing struct {
	Wide, Narrow template.HTML
	Caption      []string
}

// canvas is a drawing in the making.
type canvas struct {
	markup
	w, h   float64
	labels placer
	many   bool // small dots: there are many
}

// open begins a drawing. id must be unique on the page.
func (c *canvas) open(id, class, title, desc string) {
	c.raw(`<svg class="`, class, `" viewBox="0 0 `)
	c.number(c.w)
	c.raw(" ")
	c.number(c.h)
	c.raw(`" role="img" aria-labelledby="`, id, `-t `, id, `-d"><title id="`, id, `-t">`)
	c.text(title)
	c.raw(`</title><desc id="`, id, `-d">`)
	c.text(desc)
	c.raw("</desc>")
}

func (c *canvas) close() template.HTML {
	c.raw("</svg>")
	return c.html()
}

func (c *canvas) line(class string, x1, y1, x2, y2 float64) {
	c.raw(`<line class="`, class, `"`)
	c.attr("x1", x1)
	c.attr("y1", y1)
	c.attr("x2", x2)
	c.attr("y2", y2)
	c.raw("/>")
}

func (c *canvas) rect(class string, b box) {
	c.raw(`<rect class="`, class, `"`)
	c.attr("x", b.x0)
	c.attr("y", b.y0)
	c.attr("width", b.x1-b.x0)
	c.attr("height", b.y1-b.y0)
	c.raw("/>")
}

func (c *canvas) dot(class string, x, y, r float64) {
	c.raw(`<circle class="`, class, `"`)
	c.attr("cx", x)
	c.attr("cy", y)
	c.attr("r", r)
	c.raw("/>")
}

// path draws a line through points: x0, y0, x1, y1 and so on.
func (c *canvas) path(class string, closed bool, xy ...float64) {
	c.raw(`<path class="`, class, `" d="`)
	c.points(closed, xy)
	c.raw(`"/>`)
}

func (c *canvas) points(closed bool, xy []float64) {
	for i := 0; i+1 < len(xy); i += 2 {
		if i == 0 {
			c.raw("M")
		} else {
			c.raw("L")
		}
		c.number(xy[i])
		c.raw(" ")
		c.number(xy[i+1])
	}
	if closed {
		c.raw("Z")
	}
}

// words letters a text; class says where it is anchored.
func (c *canvas) words(class string, x, y float64, s string) {
	c.raw(`<text class="`, class, `"`)
	c.attr("x", x)
	c.attr("y", y)
	c.raw(">")
	c.text(s)
	c.raw("</text>")
}

// The marks. Verdicts differ in shape as well as in colour.
const (
	markPass  = "pass"  // a filled dot
	markHigh  = "high"  // a filled triangle that points up
	markLow   = "low"   // a filled triangle that points down
	markOther = "other" // a hollow diamond: grade or backfall
	markOpen  = "open"  // a hollow square: not assessed
	markShare = "share" // a hollow dot: judged on another pipe

	markStation    = "station"    // a dot: a place of the staff
	markKnown      = "known"      // a ringed dot: a known mark
	markInstrument = "instrument" // a tripod under the line
	markStaff      = "staff"      // an upright stroke
	markHang       = "hang"       // a stroke up to a tick: an inverted staff
)

func (c *canvas) mark(kind string, x, y float64) {
	const s = markSize
	switch kind {
	case markPass:
		r := dotRadius
		if c.many {
			r *= 0.6
		}
		c.dot("pass", x, y, r)
	case markShare:
		c.dot("share", x, y, dotRadius)
	case markHigh:
		c.path("high", true, x, y-s, x+s, y+s*0.8, x-s, y+s*0.8)
	case markLow:
		c.path("low", true, x, y+s, x+s, y-s*0.8, x-s, y-s*0.8)
	case markOther:
		c.path("other", true, x, y-s-3, x+s+3, y, x, y+s+3, x-s-3, y)
	case markOpen:
		c.rect("open", box{x - 3, y - 3, x + 3, y + 3})
	case markStation:
		c.dot("station", x, y, dotRadius)
	case markKnown:
		c.dot("known", x, y, markSize)
		c.dot("station", x, y, 1.8)
	case markInstrument:
		c.rect("bar", box{x - 3, y - 2, x + 3, y + 1})
		c.path("tripod", false, x-4, y+9, x, y, x+4, y+9)
	case markStaff:
		c.line("staff", x, y-6, x, y+5)
	case markHang:
		c.line("hang", x, y-5, x, y+5)
		c.line("shot", x-3.5, y-5, x+3.5, y-5)
	}
}

// key is one entry of the key under a drawing.
type key struct {
	mark, line string // a mark, or the class of a line
	text       string
}

// keyHeight is the height that the entries take in a drawing of width w.
func keyHeight(keys []key, w float64) float64 {
	x, rows := 0.0, 1.0
	for _, k := range keys {
		wide := keyWidth(k)
		if x > 0 && x+wide > w {
			x, rows = 0, rows+1
		}
		x += wide
	}
	return rows*(lineStep+3) + 4
}

func keyWidth(k key) float64 { return 24 + textWidth(k.text, letter) + 16 }

// keys draws the entries from left to right, on as many lines as they need.
func (c *canvas) keys(keys []key, left, y float64) {
	x := left
	for _, k := range keys {
		wide := keyWidth(k)
		if x > left && x+wide > c.w {
			x, y = left, y+lineStep+3
		}
		if k.mark != "" {
			c.mark(k.mark, x+8, y-4)
		} else {
			c.line(k.line, x, y-4, x+17, y-4)
		}
		c.words("key", x+24, y, k.text)
		x += wide
	}
}

// textWidth estimates how wide a text is set, on the safe side for the fonts
// that a page may get.
func textWidth(s string, size float64) float64 {
	w := 0.0
	for _, r := range s {
		switch {
		case strings.ContainsRune("ijl.,:;'|!()[]/ tfI", r):
			w += 0.4
		case strings.ContainsRune("mwMW@%—", r):
			w += 0.98
		case r >= 'A' && r <= 'Z', r == '+':
			w += 0.76
		case r < 0x250:
			w += 0.65
		default:
			w += 1.05
		}
	}
	return w * size
}

// nameLetters is how much of a name is lettered on a drawing.
const nameLetters = 18

// short cuts a name that is too long for a drawing.
func short(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if utf8.RuneCountInString(s) <= nameLetters {
		return s
	}
	r := []rune(s)
	return string(r[:nameLetters-1]) + "…"
}

// steps returns round numbers from lo to hi, at most most+1 of them, and the
// distance between them: 1, 2 or 5 times a power of ten, no less than least.
func steps(lo, hi, least float64, most int) (at []float64, step float64) {
	if !(hi > lo) {
		return nil, least
	}
	step = roundStep((hi - lo) / float64(most))
	step = max(step, least)
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+step*1e-9; k++ {
		if k == 0 {
			k = 0 // not minus zero, which would be lettered "-0"
		}
		at = append(at, k*step)
	}
	return at, step
}

// roundStep is the smallest of 1, 2 and 5 times a power of ten that is not
// below x.
func roundStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= x*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// decimalsOf is how many decimals a number needs that is a multiple of step.
func decimalsOf(step float64) int {
	return max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
}
