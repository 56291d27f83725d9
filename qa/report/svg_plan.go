package report

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"

	"sightrail/convert"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// Caps of a plan. What is left out is said under the drawing.
const (
	planFailures = 2000 // marks of failures, those furthest beyond first
	planPasses   = 4000 // dots of passes
	planLabels   = 60   // labelled failures
)

// planShot is a mark on the plan.
type planShot struct {
	e, n  float64 // in the job's unit from the origin of the frame
	mark  string
	label []string
	far   float64 // how far beyond its limit
}

// planView is what a plan shows of the ground.
type planView struct {
	check          *checkRows
	shots          []planShot // passes first, then not assessed, then failures
	fails, outside int
	rings          [][]float64 // e, n, e, n of the design: surface or pipes
	closed         bool
	pits           []planPit
	e0, n0, e1, n1 float64
	counts         map[string]int
	patches        []planPatch
}

type planPit struct {
	e, n float64
	name string
}

// plan draws the shots of the check on its design, seen from above. Without a
// place for any of them it says why there is no plan.
func (c *checkRows) plan() (d *drawing, why string) {
	v := &planView{check: c, counts: map[string]int{}}
	v.take()
	if len(v.shots) == 0 {
		return nil, "No plan is drawn: no shot of this check has a place in plan."
	}
	v.design()
	v.takePatches()
	v.frame()
	var wide, narrow planNotes
	d = &drawing{}
	d.Wide = v.draw(wideWidth, "w", &wide)
	d.Narrow = v.draw(narrowWidth, "n", &narrow)
	d.Caption = v.caption(max(wide.unlabelled, narrow.unlabelled), wide.thinned || narrow.thinned)
	return d, ""
}

// units gives a place in the job's unit, for drawing.
func (c *checkRows) units(p convert.Place) (e, n float64) {
	size := float64(c.res.Frame.Unit.Size)
	return float64(p.E) / size, float64(p.N) / size
}

// take gathers the marks.
func (v *planView) take() {
	c := v.check
	var open []planShot
	for _, r := range c.rows {
		if !r.Shot.Placed || r.Verdict == limits.Fail || r.Derived || control(r) || superseded(r) {
			continue
		}
		s := planShot{mark: markOf(r)}
		s.e, s.n = c.units(r.Shot.Place)
		v.counts[s.mark]++
		if s.mark == markOpen {
			open = append(open, s)
		} else {
			v.shots = append(v.shots, s)
		}
	}
	v.shots = append(v.shots, open...)
	if v.counts[markPass] == 0 { // results are worked out of shots that are not judged
		for _, r := range c.rows {
			if r.Shot.Placed && control(r) {
				s := planShot{mark: markStation}
				s.e, s.n = c.units(r.Shot.Place)
				v.counts[s.mark]++
				v.shots = append(v.shots, s)
			}
		}
	}
	var fails []planShot
	for _, r := range c.failures {
		if !r.Shot.Placed {
			continue
		}
		w := c.words(r)
		s := planShot{mark: w.mark, far: math.Abs(float64(r.Beyond)), label: []string{short(w.point), w.diff}}
		switch r.Quantity {
		case qa.QuantityGrade:
			s.label = []string{"grade " + short(w.point), first(w.measured)}
		case qa.QuantityBackfall:
			s.label = []string{short(w.point), "rises " + w.diff}
		case qa.QuantityFall:
			s.label = []string{short(w.point), "falls " + first(w.measured)}
		case qa.QuantityInvert, qa.QuantityLevel:
		default:
			s.label = []string{short(w.point), string(r.Quantity) + " " + w.diff}
		}
		s.e, s.n = c.units(r.Shot.Place)
		v.counts[s.mark]++
		fails = append(fails, s)
	}
	v.fails = len(fails)
	slices.SortStableFunc(fails, func(a, b planShot) int { return cmp.Compare(b.far, a.far) })
	v.shots = append(v.shots, fails[:min(len(fails), planFailures)]...)
}

// design takes the outline of the surface, or the pipes.
func (v *planView) design() {
	c := v.check
	d := c.res.Design
	if d == nil {
		return
	}
	if s := d.Surfaces[c.common().Design]; s != nil && s.TIN != nil {
		v.closed = true
		for _, ring := range s.TIN.Outline() {
			var xy []float64
			for _, q := range ring {
				e, n := c.units(convert.Place{E: q.E, N: q.N})
				xy = append(xy, e, n)
			}
			v.rings = append(v.rings, xy)
		}
	}
	if n := d.Networks[c.common().Design]; n != nil {
		used := map[int]bool{}
		for i := range n.Pipes {
			p := &n.Pipes[i]
			if p.Bad != "" || p.US >= len(n.Pits) || p.DS >= len(n.Pits) {
				continue
			}
			ue, un := c.units(n.Pits[p.US].Place)
			de, dn := c.units(n.Pits[p.DS].Place)
			v.rings = append(v.rings, []float64{ue, un, de, dn})
			used[p.US], used[p.DS] = true, true
		}
		for i := range n.Pits {
			if used[i] {
				e, m := c.units(n.Pits[i].Place)
				v.pits = append(v.pits, planPit{e, m, n.Pits[i].Name})
			}
		}
	}
}

// frame chooses the ground that is shown: every judged shot, the design where
// it is not much larger, and what was not assessed near them. What lies outside
// is counted, so that one stray shot does not shrink the drawing to a dot.
func (v *planView) frame() {
	v.e0, v.n0, v.e1, v.n1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	grow := func(e, n float64) {
		v.e0, v.e1, v.n0, v.n1 = min(v.e0, e), max(v.e1, e), min(v.n0, n), max(v.n1, n)
	}
	judged := len(v.shots) > v.counts[markOpen]
	for _, s := range v.shots {
		if s.mark != markOpen || !judged {
			grow(s.e, s.n)
		}
	}
	size := max(v.e1-v.e0, v.n1-v.n0, 1)
	near := func(e, n, by float64) bool {
		return e >= v.e0-by && e <= v.e1+by && n >= v.n0-by && n <= v.n1+by
	}
	e0, n0, e1, n1 := v.e0, v.n0, v.e1, v.n1
	all := true
	for _, ring := range v.rings {
		for i := 0; i+1 < len(ring); i += 2 {
			all = all && e0-size <= ring[i] && ring[i] <= e1+size && n0-size <= ring[i+1] && ring[i+1] <= n1+size
		}
	}
	if all {
		for _, ring := range v.rings {
			for i := 0; i+1 < len(ring); i += 2 {
				grow(ring[i], ring[i+1])
			}
		}
	}
	b0, b1, b2, b3 := v.e0, v.n0, v.e1, v.n1
	for _, s := range v.shots {
		if s.mark == markOpen && s.e >= b0-size/3 && s.e <= b2+size/3 && s.n >= b1-size/3 && s.n <= b3+size/3 {
			grow(s.e, s.n)
		}
	}
	for _, s := range v.shots {
		if !near(s.e, s.n, 0) {
			v.outside++
		}
	}
	margin := 0.06 * max(v.e1-v.e0, v.n1-v.n0, 1)
	v.e0, v.e1, v.n0, v.n1 = v.e0-margin, v.e1+margin, v.n0-margin, v.n1+margin
}

// planNotes is what the drawing left out.
type planNotes struct {
	unlabelled int
	thinned    bool
}

func (v *planView) keys() []key {
	var keys []key
	for _, k := range []struct{ mark, text string }{{markPass, "within tolerance"}, {markHigh, "too high"}, {markLow, "too low"},
		{markOther, "worked out of several shots"}, {markOpen, "not assessed"}, {markStation, "shot that results are worked out from"}} {
		if n := v.counts[k.mark]; n > 0 {
			keys = append(keys, key{mark: k.mark, text: k.text + " (" + strconv.Itoa(n) + ")"})
		}
	}
	keys = append(keys, v.patchKeys()...)
	if v.closed {
		keys = append(keys, key{line: "outline", text: "edge of the design surface"})
	} else if len(v.rings) > 0 {
		keys = append(keys, key{line: "pipe", text: "design pipe"})
	}
	return keys
}

func (v *planView) draw(width float64, variant string, notes *planNotes) template.HTML {
	c := v.check
	f := &c.res.Frame
	left, top, right := 1.0, 1.0, 1.0
	inner := width - left - right
	dx, dy := v.e1-v.e0, v.n1-v.n0
	height := min(max(inner*dy/dx, 190), inner*0.95, 640)
	scale := min(inner/dx, height/dy)
	keys := v.keys()
	cv := &canvas{w: width, h: top + height + 46 + keyHeight(keys, inner)}
	frame := box{left, top, left + inner, top + height}
	// centre what is shown
	ec, nc := (v.e0+v.e1)/2, (v.n0+v.n1)/2
	x := func(e float64) float64 { return (frame.x0+frame.x1)/2 + (e-ec)*scale }
	y := func(n float64) float64 { return (frame.y0+frame.y1)/2 - (n-nc)*scale }
	id := c.id() + "-plan-" + variant
	cv.open(id, "plan", "Plan of "+c.common().Name, fmt.Sprintf("%d shots seen from above, %d of them out of tolerance; the table below has the same figures.", len(v.shots), v.fails))
	cv.labels.frame = box{frame.x0 + 2, frame.y0 + 2, frame.x1 - 2, frame.y1 - 2}
	cv.rect("ground", frame)
	grid := v.grid(cv, frame, x, y, f)
	cv.raw(`<clipPath id="`, id, `-c">`)
	cv.rect("", frame)
	cv.raw(`</clipPath><g clip-path="url(#`, id, `-c)">`)
	v.drawDesign(cv, x, y)
	v.drawPatches(cv, x, y)
	for _, g := range grid {
		g.draw(cv)
	}
	v.drawShots(cv, frame, x, y, notes)
	v.namePatches(cv, frame, x, y)
	cv.raw("</g>")
	cv.rect("frame", frame)
	scaleBar(cv, frame, scale, f.Unit.Name)
	northArrow(cv, frame.x1-18, frame.y1+22)
	cv.keys(keys, left, frame.y1+46+lineStep-2)
	return cv.close()
}

// coordLabel is a coordinate that is lettered over the design.
type coordLabel struct {
	class string
	x, y  float64
	text  string
}

func (l *coordLabel) draw(cv *canvas) { cv.words("coord halo "+l.class, l.x, l.y, l.text) }

// grid draws ticks at round coordinates and returns what is to be lettered
// beside them, once the design is drawn; crosses stand where both are round.
func (v *planView) grid(cv *canvas, frame box, x, y func(float64) float64, f *convert.Frame) (letters []coordLabel) {
	// what the frame shows, from its corners
	perX := x(1) - x(0)
	e0, e1 := (frame.x0-x(0))/perX, (frame.x1-x(0))/perX
	n0, n1 := (y(0)-frame.y1)/perX, (y(0)-frame.y0)/perX
	most := max(2, int((frame.x1-frame.x0)/120))
	_, step := steps(e0, e1, 0.001, most)
	if _, other := steps(n0, n1, 0.001, most); other > step {
		step = other
	}
	eAt, nAt := multiples(f.E0, e0, e1, step), multiples(f.N0, n0, n1, step)
	if len(nAt) < 3 { // one of them may have no room for its letters
		_, fine := steps(n0, n1, 0.001, max(2, int((frame.y1-frame.y0)/50)))
		nAt = multiples(f.N0, n0, n1, fine)
	}
	for _, e := range eAt {
		for _, n := range nAt {
			px, py := x(e.at), y(n.at)
			cv.line("grid", px-4, py, px+4, py)
			cv.line("grid", px, py-4, px, py+4)
		}
	}
	for _, e := range eAt {
		px := x(e.at)
		cv.line("tick", px, frame.y1-6, px, frame.y1)
		s := e.text + " E"
		if w := textWidth(s, 10) / 2; px-w > frame.x0 && px+w < frame.x1 {
			b := box{px - w, frame.y1 - 19, px + w, frame.y1 - 7}
			letters = append(letters, coordLabel{"middle", px, b.y1 - 2, s})
			cv.labels.taken = append(cv.labels.taken, b)
		}
	}
	for _, n := range nAt {
		py := y(n.at)
		cv.line("tick", frame.x0, py, frame.x0+6, py)
		s := n.text + " N"
		if b := (box{frame.x0 + 8, py - 7, frame.x0 + 10 + textWidth(s, 10), py + 5}); b.y0 > frame.y0+2 && b.y1 < frame.y1-22 {
			letters = append(letters, coordLabel{"start", b.x0 + 1, py + 3.5, s})
			cv.labels.taken = append(cv.labels.taken, b)
		}
	}
	return letters
}

// gridLine is a round coordinate: where it is in the frame, and as lettered.
type gridLine struct {
	at   float64
	text string
}

// multiples are the round coordinates between two places of the frame. The
// origin is a whole number of units, so that a full coordinate needs no float.
func multiples(origin int64, lo, hi, step float64) []gridLine {
	var out []gridLine
	if step >= 1 {
		s := int64(math.Round(step))
		for k := ceilDiv(origin+int64(math.Ceil(lo)), s) * s; float64(k-origin) <= hi; k += s {
			out = append(out, gridLine{float64(k - origin), strconv.FormatInt(k, 10)})
		}
		return out
	}
	places := decimalsOf(step)
	per := int64(math.Round(math.Pow(10, float64(places))))
	s := max(1, int64(math.Round(step*float64(per))))
	for k := ceilDiv(int64(math.Ceil(lo*float64(per))), s) * s; float64(k)/float64(per) <= hi; k += s {
		whole, rest := origin+floorDiv(k, per), k-floorDiv(k, per)*per
		text := fmt.Sprintf("%d.%0*d", whole, places, rest)
		if whole < 0 && rest > 0 {
			text = fmt.Sprintf("-%d.%0*d", -whole-1, places, per-rest)
		}
		out = append(out, gridLine{float64(k) / float64(per), text})
	}
	return out
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func ceilDiv(a, b int64) int64 { return -floorDiv(-a, b) }

func (v *planView) drawDesign(cv *canvas, x, y func(float64) float64) {
	class := "pipe"
	if v.closed {
		class = "outline"
	}
	for _, ring := range v.rings {
		var xy []float64
		for i := 0; i+1 < len(ring); i += 2 {
			px, py := x(ring[i]), y(ring[i+1])
			// corners closer than half a pixel would not be seen
			if k := len(xy); k > 0 && i+3 < len(ring) && math.Hypot(px-xy[k-2], py-xy[k-1]) < 0.5 {
				continue
			}
			xy = append(xy, px, py)
		}
		cv.path(class, v.closed, xy...)
		if !v.closed {
			cv.labels.lines = append(cv.labels.lines, [4]float64{xy[0], xy[1], xy[len(xy)-2], xy[len(xy)-1]})
			flowArrow(cv, xy)
		}
	}
	for _, p := range v.pits {
		b := around(x(p.e), y(p.n), 5)
		cv.rect("pit", b)
		cv.labels.taken = append(cv.labels.taken, b)
	}
}

// flowArrow draws a small arrow in the middle of a pipe, downstream.
func flowArrow(cv *canvas, xy []float64) {
	dx, dy := xy[2]-xy[0], xy[3]-xy[1]
	l := math.Hypot(dx, dy)
	if l < 30 {
		return
	}
	dx, dy = dx/l, dy/l
	mx, my := (xy[0]+xy[2])/2, (xy[1]+xy[3])/2
	cv.path("flow", false, mx-4*dx-4*dy, my-4*dy+4*dx, mx+3*dx, my+3*dy, mx-4*dx+4*dy, my-4*dy-4*dx)
}

func (v *planView) drawShots(cv *canvas, frame box, x, y func(float64) float64, notes *planNotes) {
	drawn := v.thin(frame, x, y, notes)
	for _, s := range drawn {
		px, py := x(s.e), y(s.n)
		if s.mark == markPass || s.mark == markStation {
			cv.labels.dots = append(cv.labels.dots, [2]float64{px, py})
		} else {
			cv.labels.taken = append(cv.labels.taken, around(px, py, markSize+1))
		}
	}
	cv.many = v.counts[markPass] > manyDots
	for _, s := range drawn {
		cv.mark(s.mark, x(s.e), y(s.n))
	}
	cv.many = false
	n := 0
	for _, s := range drawn {
		if s.label == nil {
			continue
		}
		if n >= planLabels || !frame.has(x(s.e), y(s.n)) || !cv.label("lab fail", x(s.e), y(s.n), s.label...) {
			notes.unlabelled++
			continue
		}
		n++
	}
	notes.unlabelled += max(0, v.fails-planFailures)
	for _, p := range v.pits {
		cv.label("lab", x(p.e), y(p.n), short(p.name))
	}
}

// thin leaves out passes that would be drawn over one another: one is drawn in
// each cell of a grid that is coarse enough for the cap.
func (v *planView) thin(frame box, x, y func(float64) float64, notes *planNotes) []planShot {
	passes := v.counts[markPass] + v.counts[markStation]
	if passes <= planPasses {
		return v.shots
	}
	notes.thinned = true
	for cell := 2.0; ; cell *= 1.5 {
		seen := map[[2]int]bool{}
		var out []planShot
		for _, s := range v.shots {
			if s.mark == markPass || s.mark == markStation {
				k := [2]int{int((x(s.e) - frame.x0) / cell), int((y(s.n) - frame.y0) / cell)}
				if seen[k] {
					continue
				}
				seen[k] = true
			}
			out = append(out, s)
		}
		if len(seen) <= planPasses {
			return out
		}
	}
}

// scaleBar draws a bar of a round length under the frame.
func scaleBar(cv *canvas, frame box, scale float64, name string) {
	length := roundStep((frame.x1 - frame.x0) / scale / 6)
	px, x0, y := length*scale, frame.x0, frame.y1+20
	for k := range 4 {
		class := "bar"
		if k%2 == 1 {
			class = "bar void"
		}
		cv.rect(class, box{x0 + px*float64(k)/4, y, x0 + px*float64(k+1)/4, y + 5})
	}
	places := decimalsOf(length)
	cv.words("coord start", x0, y-4, "0")
	cv.words("coord start", x0+px+6, y+6, strconv.FormatFloat(length, 'f', places, 64)+" "+name)
}

// northArrow draws an arrow to grid north, which is up.
func northArrow(cv *canvas, x, y float64) {
	cv.path("north", true, x, y-14, x+5, y+8, x, y+4, x-5, y+8)
	cv.words("coord end", x-9, y+4, "grid north")
}

func (v *planView) caption(unlabelled int, thinned bool) []string {
	c := v.check
	out := []string{"Each failure is labelled with its name and its difference in mm, as-built minus design, + = high.",
		c.frameWords() + ". " + c.revision() + "."}
	if len(v.pits) > 0 {
		out = append(out, "Squares are pits; arrows show the fall of the design.")
	}
	if v.outside > 0 {
		out = append(out, fmt.Sprintf("%s of this check %s outside the ground shown.", Count(v.outside, "shot", "shots"), lieLies(v.outside)))
	}
	if thinned {
		out = append(out, "Where passes would cover one another only one is drawn; no failure is left out for that.")
	}
	if v.fails > planFailures {
		out = append(out, fmt.Sprintf("The %d failures furthest beyond their limit are drawn, of %d.", planFailures, v.fails))
	}
	if unlabelled > 0 {
		out = append(out, fmt.Sprintf("%s not labelled for want of room; section 1 lists all.", Count(unlabelled, "failure is", "failures are")))
	}
	if hidden := c.result().Counts.Pass + c.result().Counts.Fail; hidden > 0 && c.res.RowCount > len(c.res.Rows) {
		out = append(out, fmt.Sprintf("Drawn from the first %d rows and from all failures kept; results.csv holds every row.", len(c.res.Rows)))
	}
	return out
}

func lieLies(n int) string {
	if n == 1 {
		return "lies"
	}
	return "lie"
}
