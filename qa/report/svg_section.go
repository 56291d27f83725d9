package report

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// sectionsDrawn is how many long sections a check has at most; those with
// failures come first, and the page says how many there are more.
const sectionsDrawn = 40

// sectionShots is how many shots of a section are lettered; failures always.
const sectionShots = 14

// pipeView is what the long section of one pipe shows. Lengths along are from
// the upstream end, in the job's unit; levels too.
type pipeView struct {
	check  *checkRows
	net    *convert.Network
	pipe   *convert.Pipe
	shots  []pipeShot // in the order of flow
	rises  []pipeRise
	grade  *qa.Row
	limits limits.Tolerance // of the check, or of a shot between the pits where they differ from pipe to pipe
	pits   bool             // some shots, those in the pits, have other limits
	line   bool             // the line between the built ends is judged by
	failed bool
}

// pipeShot is one built invert.
type pipeShot struct {
	along, level float64
	diff         float64 // mm
	row          *qa.Row // nil: judged on the pipe that meets this one at the pit
	words        shown
}

// pipeRise is a place where the pipe falls backwards.
type pipeRise struct {
	from, to pipeShot
	text     string
	row      *qa.Row
}

// sections draws a long section for every pipe that has shots.
func (c *checkRows) sections() (out []drawing, more int) {
	if c.res.Design == nil {
		return nil, 0
	}
	net := c.res.Design.Networks[c.common().Design]
	if net == nil {
		return nil, 0
	}
	byPipe := map[string][]*qa.Row{}
	for _, r := range c.rows {
		if r.Pipe != "" {
			byPipe[r.Pipe] = append(byPipe[r.Pipe], r)
		}
	}
	var views []*pipeView
	for i := range net.Pipes {
		p := &net.Pipes[i]
		if p.Bad != "" || p.Length <= 0 || p.US >= len(net.Pits) || p.DS >= len(net.Pits) {
			continue
		}
		v := &pipeView{check: c, net: net, pipe: p, limits: c.limits}
		if v.take(byPipe[p.Name]); len(v.shots) > 0 {
			views = append(views, v)
		}
	}
	order := slices.Clone(views)
	slices.SortStableFunc(order, func(a, b *pipeView) int { return cmp.Compare(b2i(b.failed), b2i(a.failed)) })
	keep := map[*pipeView]bool{}
	for _, v := range order[:min(len(order), sectionsDrawn)] {
		keep[v] = true
	}
	for i, v := range views {
		if keep[v] {
			id := c.id() + "-pipe-" + strconv.Itoa(i+1)
			out = append(out, drawing{Wide: v.draw(wideWidth, id+"-w"), Narrow: v.draw(narrowWidth, id+"-n"), Caption: v.caption()})
		}
	}
	return out, len(views) - len(out)
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (v *pipeView) units(l unit.Length) float64 {
	return float64(l) / float64(v.check.res.Frame.Unit.Size)
}

// take gathers the built inverts of the pipe. The rows of backfall name a shot
// of their own, which may be judged on another pipe.
func (v *pipeView) take(rows []*qa.Row) {
	var backfalls []*qa.Row
	seen := map[[2]unit.Length]bool{}
	for _, r := range rows {
		v.failed = v.failed || r.Verdict == limits.Fail
		switch {
		case r.Quantity == qa.QuantityGrade:
			v.grade = r
		case r.Verdict != limits.NotAssessed && strings.HasPrefix(r.DesignAt, qa.LineFrom):
			v.line = true
		case r.Quantity == qa.QuantityBackfall && r.Compared:
			backfalls = append(backfalls, r)
		case r.Quantity == qa.QuantityInvert && r.Compared && r.OnPipe && r.Verdict != limits.NotAssessed:
			seen[[2]unit.Length{r.Along, r.Measured}] = true
			v.shots = append(v.shots, pipeShot{along: v.units(r.Along), level: v.units(r.Measured), diff: r.Diff.Millimetres(), row: r, words: v.check.words(r)})
		}
	}
	v.ownLimits()
	for i, r := range backfalls {
		if k := [2]unit.Length{r.Along, r.Measured}; !seen[k] {
			seen[k] = true
			v.shots = append(v.shots, pipeShot{along: v.units(r.Along), level: v.units(r.Measured)})
		}
		if k := [2]unit.Length{0, r.Design}; i == 0 && !v.upstreamOf(r) && !seen[k] {
			seen[k] = true
			v.shots = append(v.shots, pipeShot{along: 0, level: v.units(r.Design)})
		}
	}
	slices.SortStableFunc(v.shots, func(a, b pipeShot) int { return cmp.Compare(a.along, b.along) })
	for _, r := range backfalls {
		if r.Verdict != limits.Fail {
			continue
		}
		to, from := v.units(r.Along), -1
		for i := range v.shots {
			if v.shots[i].along < to {
				from = i
			}
		}
		if from >= 0 {
			v.rises = append(v.rises, pipeRise{from: v.shots[from], to: pipeShot{along: to, level: v.units(r.Measured)}, row: r,
				text: "rises " + v.check.words(r).diff + " mm"})
		}
	}
}

// ownLimits takes the limits of the pipe from the shot nearest to its middle: they
// may depend on its size, and pits may have others.
func (v *pipeView) ownLimits() {
	middle, nearest := v.units(v.pipe.Length)/2, math.Inf(1)
	for i := range v.shots {
		if d := math.Abs(v.shots[i].along - middle); d < nearest {
			v.limits, nearest = v.shots[i].row.Limits, d
		}
	}
	for i := range v.shots {
		v.pits = v.pits || v.shots[i].row.Limits != v.limits
	}
}

// upstreamOf reports whether a judged shot lies upstream of a row.
func (v *pipeView) upstreamOf(r *qa.Row) bool {
	return slices.ContainsFunc(v.shots, func(s pipeShot) bool { return s.row != nil && s.row.Along < r.Along })
}

// panel maps along and a value onto a rectangle of the drawing.
type panel struct {
	box
	x0v, x1v, lo, hi float64
}

func (p *panel) x(v float64) float64 { return p.x0 + (v-p.x0v)/(p.x1v-p.x0v)*(p.x1-p.x0) }
func (p *panel) y(v float64) float64 { return p.y1 - (v-p.lo)/(p.hi-p.lo)*(p.y1-p.y0) }

func (v *pipeView) draw(width float64, id string) template.HTML {
	wide := width == wideWidth
	length := v.units(v.pipe.Length)
	left, right, top := 62.0, 16.0, 52.0
	if !wide {
		left, right = 54, 12
	}
	levels := &panel{box: box{left, top, width - right, top + 190}, x0v: 0, x1v: length}
	diffs := &panel{box: box{left, levels.y1 + 44, width - right, levels.y1 + 44 + 130}, x0v: 0, x1v: length}
	v.rangeLevels(levels)
	v.rangeDiffs(diffs)
	keys := v.keys()
	cv := &canvas{w: width, h: diffs.y1 + 44 + keyHeight(keys, width-12)}
	us, ds := &v.net.Pits[v.pipe.US], &v.net.Pits[v.pipe.DS]
	cv.open(id, "section", "Long section of pipe "+v.pipe.Name, fmt.Sprintf("Built inverts of pipe %s from %s down to %s against the design line, and their differences in millimetres.", v.pipe.Name, us.Name, ds.Name))
	v.drawLevels(cv, levels)
	v.drawDiffs(cv, diffs)
	v.pitNames(cv, levels, wide)
	cv.keys(keys, 6, diffs.y1+44+lineStep-2)
	return cv.close()
}

func (v *pipeView) keys() []key {
	keys := []key{{line: "design", text: "design invert"}, {line: "band", text: "tolerance"}, {line: "built", text: "built, shot to shot"}}
	counts := map[string]bool{}
	for i := range v.shots {
		if v.shots[i].row == nil {
			counts[markShare] = true
		} else {
			counts[v.shots[i].words.mark] = true
		}
	}
	for _, k := range []key{{mark: markPass, text: "within tolerance"}, {mark: markHigh, text: "too high"}, {mark: markLow, text: "too low"}, {mark: markShare, text: "judged on the next pipe"}} {
		if counts[k.mark] {
			keys = append(keys, k)
		}
	}
	if v.line {
		keys = append(keys, key{line: "chord", text: "line between built ends"})
	}
	if len(v.rises) > 0 {
		keys = append(keys, key{line: "backfall", text: "falls backwards"})
	}
	return keys
}

func (v *pipeView) rangeLevels(p *panel) {
	lo, hi := math.Inf(1), math.Inf(-1)
	grow := func(l float64) { lo, hi = min(lo, l), max(hi, l) }
	for _, l := range []unit.Length{v.pipe.USInvert, v.pipe.DSInvert} {
		grow(v.units(l))
		grow(v.units(l + v.limits.Lower))
		grow(v.units(l + v.limits.Upper))
	}
	for i := range v.shots {
		grow(v.shots[i].level)
	}
	pad := max(0.12*(hi-lo), 0.002)
	p.lo, p.hi = lo-pad, hi+pad
}

func (v *pipeView) rangeDiffs(p *panel) {
	lo, hi := v.limits.Lower.Millimetres(), v.limits.Upper.Millimetres()
	lo, hi = min(lo, 0), max(hi, 0)
	for i := range v.shots {
		if v.shots[i].row != nil {
			lo, hi = min(lo, v.shots[i].diff), max(hi, v.shots[i].diff)
		}
	}
	pad := max(0.22*(hi-lo), 2)
	p.lo, p.hi = lo-pad, hi+pad
}

// axes draws frame, levels or millimetres at the left, and lengths below.
func (v *pipeView) axes(cv *canvas, p *panel, title string, least float64, signed, lengths bool) {
	cv.rect("ground", p.box)
	at, step := steps(p.lo, p.hi, least, 5)
	for _, l := range at {
		cv.line("rule", p.x0, p.y(l), p.x1, p.y(l))
		s := strconv.FormatFloat(l, 'f', decimalsOf(step), 64)
		if signed {
			s = plusSign(s)
		}
		cv.words("coord end", p.x0-5, p.y(l)+3.5, s)
	}
	across, step := steps(0, p.x1v, 0.001, max(3, int((p.x1-p.x0)/70)))
	for _, l := range across {
		cv.line("tick", p.x(l), p.y1, p.x(l), p.y1+4)
		if lengths {
			cv.words("coord middle", p.x(l), p.y1+16, strconv.FormatFloat(l, 'f', decimalsOf(step), 64))
		}
	}
	if title != "" {
		cv.words("key start", p.x0, p.y0-6, title)
	}
}

func (v *pipeView) drawLevels(cv *canvas, p *panel) {
	f := &v.check.res.Frame
	v.axes(cv, p, "", 0.001, false, false)
	us, ds := v.units(v.pipe.USInvert), v.units(v.pipe.DSInvert)
	lower, upper := v.band(p)
	cv.path("zone", true, p.x0, p.y(us)+upper, p.x1, p.y(ds)+upper, p.x1, p.y(ds)+lower, p.x0, p.y(us)+lower)
	cv.line("design", p.x0, p.y(us), p.x1, p.y(ds))
	cv.labels.frame = box{p.x0 + 3, p.y0 + 3, p.x1 - 3, p.y1 - 3}
	cv.labels.lines = append(cv.labels.lines, [4]float64{p.x0, p.y(us), p.x1, p.y(ds)})
	corner := box{p.x0 + 8, p.y1 - 34, p.x0 + 190, p.y1 - 4}
	cv.labels.taken = append(cv.labels.taken, corner, box{p.x1 - 60, p.y0, p.x1, p.y0 + 16})
	if n := len(v.shots); v.line && n > 1 {
		a, b := &v.shots[0], &v.shots[n-1]
		cv.line("chord", p.x(a.along), p.y(a.level), p.x(b.along), p.y(b.level))
	}
	v.builtLine(cv, p, func(s *pipeShot) float64 { return s.level })
	for i := range v.rises {
		r := &v.rises[i]
		x, y := (p.x(r.from.along)+p.x(r.to.along))/2, (p.y(r.from.level)+p.y(r.to.level))/2
		cv.line("backfall", p.x(r.from.along), p.y(r.from.level), p.x(r.to.along), p.y(r.to.level))
		cv.label("lab fail", x, y-4, r.text)
	}
	for i := range v.shots {
		s := &v.shots[i]
		cv.mark(s.markOf(), p.x(s.along), p.y(s.level))
	}
	// the fall, where the design line leaves the most room
	foot := p.y1 - 8
	sx, sy := (p.x1-p.x0)/(p.x1v-p.x0v), (p.y1-p.y0)/(p.hi-p.lo)
	fall := "falls " + v.pipe.Grade().OneIn()
	if g := v.pipe.Grade(); g.Rise == 0 {
		fall = "level by design"
	}
	cv.words("lab start", corner.x0, foot, fall)
	x := corner.x0 + textWidth(fall, letter) + 4
	cv.line("fall", x, foot-4, x+24, foot-4)
	cv.path("fall", false, x+19, foot-8, x+24, foot-4, x+19, foot)
	cv.words("coord start", corner.x0, foot-15, fmt.Sprintf("vertical scale %s× the horizontal", exaggeration(sy/sx)))
	cv.rect("frame", p.box)
	cv.words("coord end", p.x1-6, p.y0+13, "level, "+f.Unit.Name)
}

// band is the tolerance in pixels below and above the design line. A side
// without a limit is open to the edge of the panel.
func (v *pipeView) band(p *panel) (lower, upper float64) {
	t := v.limits
	perUnit := (p.y1 - p.y0) / (p.hi - p.lo)
	if t.HasLower {
		lower = -v.units(t.Lower) * perUnit
	}
	if t.HasUpper {
		upper = -v.units(t.Upper) * perUnit
	}
	return lower, upper
}

// exaggeration prints how many times the vertical scale is larger, to two
// figures.
func exaggeration(f float64) string {
	if f < 10 {
		return strconv.FormatFloat(f, 'f', 1, 64)
	}
	p := math.Pow(10, math.Floor(math.Log10(f))-1)
	return strconv.FormatFloat(math.Round(f/p)*p, 'f', 0, 64)
}

func (s *pipeShot) markOf() string {
	if s.row == nil {
		return markShare
	}
	return s.words.mark
}

// builtLine joins the built inverts.
func (v *pipeView) builtLine(cv *canvas, p *panel, value func(*pipeShot) float64) {
	var xy []float64
	for i := range v.shots {
		xy = append(xy, p.x(v.shots[i].along), p.y(value(&v.shots[i])))
	}
	if len(xy) > 2 {
		cv.path("built", false, xy...)
	}
}

func (v *pipeView) drawDiffs(cv *canvas, p *panel) {
	f := &v.check.res.Frame
	t := v.limits
	v.axes(cv, p, "built minus design, mm", 1, true, true)
	lower, upper := p.y1, p.y0
	if t.HasLower {
		lower = p.y(t.Lower.Millimetres())
	}
	if t.HasUpper {
		upper = p.y(t.Upper.Millimetres())
	}
	if t.Given() {
		cv.rect("zone", box{p.x0, upper, p.x1, lower})
	}
	cv.line("design", p.x0, p.y(0), p.x1, p.y(0))
	if t.HasLower {
		cv.line("limit", p.x0, lower, p.x1, lower)
	}
	if t.HasUpper {
		cv.line("limit", p.x0, upper, p.x1, upper)
	}
	var xy []float64
	labels := placer{frame: box{p.x0 + 2, p.y0 + 2, p.x1 - 2, p.y1 - 2}}
	for i := range v.shots {
		s := &v.shots[i]
		if s.row == nil {
			continue
		}
		x, y := p.x(s.along), p.y(s.diff)
		xy = append(xy, x, y)
		labels.taken = append(labels.taken, around(x, y, markSize))
	}
	for i := 0; i+3 < len(xy); i += 2 {
		labels.lines = append(labels.lines, [4]float64{xy[i], xy[i+1], xy[i+2], xy[i+3]})
	}
	labels.lines = append(labels.lines, [4]float64{p.x0, p.y(0), p.x1, p.y(0)}, [4]float64{p.x0, lower, p.x1, lower}, [4]float64{p.x0, upper, p.x1, upper})
	if len(xy) > 2 {
		cv.path("built", false, xy...)
	}
	was := cv.labels
	cv.labels = labels
	v.letterShots(cv, p)
	cv.labels = was
	cv.rect("frame", p.box)
	cv.words("key middle", (p.x0+p.x1)/2, p.y1+33, "distance downstream of "+short(v.net.Pits[v.pipe.US].Name)+", "+f.Unit.Name)
}

// letterShots marks the shots, and letters the failures first.
func (v *pipeView) letterShots(cv *canvas, p *panel) {
	few := len(v.shots) <= sectionShots
	for _, failed := range []bool{true, false} {
		for i := range v.shots {
			s := &v.shots[i]
			if s.row == nil || (s.row.Verdict == limits.Fail) != failed {
				continue
			}
			x, y := p.x(s.along), p.y(s.diff)
			cv.mark(s.words.mark, x, y)
			switch {
			case failed:
				cv.label("lab fail", x, y, short(s.words.point)+" "+s.words.diff)
			case few:
				cv.label("lab", x, y, s.words.diff)
			}
		}
	}
}

// pitNames letters the pits above the two ends, and draws them. Rims are
// lettered, not drawn to scale: they would flatten the pipe to a line.
func (v *pipeView) pitNames(cv *canvas, p *panel, wide bool) {
	f := &v.check.res.Frame
	for i, k := range []int{v.pipe.US, v.pipe.DS} {
		pit := &v.net.Pits[k]
		invert, x, anchor := v.pipe.USInvert, p.x0, "start"
		if i == 1 {
			invert, x, anchor = v.pipe.DSInvert, p.x1, "end"
		}
		y := p.y(v.units(invert))
		cv.line("shaft", x, p.y0-4, x, y)
		rim := "rim not given"
		if pit.HasRim {
			rim = "rim " + pit.Rim.Fixed(f.Unit, levelPlaces)
		}
		text := "design invert " + invert.Fixed(f.Unit, levelPlaces)
		if !wide {
			text = "inv. " + invert.Fixed(f.Unit, levelPlaces)
		}
		dx := -24.0
		if i == 1 {
			dx = 0
		}
		if !wide && i == 0 {
			dx = -40
		}
		cv.words("lab pit "+anchor, x+dx, p.y0-37, short(pit.Name))
		cv.words("coord "+anchor, x+dx, p.y0-24, rim)
		cv.words("coord "+anchor, x+dx, p.y0-11, text)
	}
}

func (v *pipeView) caption() []string {
	c := v.check
	out := []string{fmt.Sprintf("Pipe %s, %s to %s, flowing from left to right.", v.pipe.Name, v.net.Pits[v.pipe.US].Name, v.net.Pits[v.pipe.DS].Name)}
	if v.grade != nil {
		w := c.words(v.grade)
		s := "Grade: design " + v.grade.DesignGrade.OneIn()
		if g := first(w.measured); g != "" {
			s += ", built " + g
		}
		if w.limits != "" {
			s += ", " + w.limits
		}
		out = append(out, s+": "+w.verdict+".")
	}
	if v.pits {
		out = append(out, "The tolerance shown is that of the shots between the pits; those in the pits have limits of their own.")
	}
	return append(out, "Above: levels, with the rims lettered only. Below: the differences on a scale of their own.", c.frameWords()+". "+c.revision()+".")
}
