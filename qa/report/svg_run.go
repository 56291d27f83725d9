package report

import (
	"fmt"
	"html/template"
	"math"
	"strconv"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// A run diagram shows how a level run was levelled: set-ups with their
// collimation lines, the staff on every station, side shots, known marks, and
// how it closed. A long run is drawn as a line of levels with its marks.

// How many diagrams there are at most, of a book and on the page. Runs that are
// not proved come first, and the page says how many there are more.
const (
	diagramsOfBook = 12
	diagramsOnPage = 60
)

// fullSetups is how many set-ups are drawn one by one at most.
const fullSetups = 40

// runInset is how far the ends of a run are from the frame, in CSS pixels.
const runInset = 9.0

// runView is what the diagram of one run shows. Lengths along are in metres, or
// count set-ups; levels are in the unit of the book.
type runView struct {
	res      *qa.Result
	book     *qa.BookResult
	run      *levels.Run
	line     runLine
	stations []runStation
	stands   []runStand
	checks   []runShot // sights on known marks between the ends
	shots    int       // side shots, inverted ones included
	inverted bool      // an inverted staff is among them
	turned   bool      // a station has an inverted staff
	toScale  bool
	broken   bool // there are readings that no level comes from
	merged   bool // ticks that would cover one another are drawn once
	length   float64
}

// runStation is a place of the staff that the run goes through.
type runStation struct {
	row    int
	name   string
	level  unit.Length
	known  levels.Value
	along  float64
	mark   bool
	booked bool // its level stands in the row: not at the mark that a run begins on after another
}

// runStand is a set-up.
type runStand struct {
	from, to    int // stations; to is -1 where no foresight ends it
	collimation unit.Length
	bs, fs      levels.Value // lengths of sights
	at, x0, x1  float64      // along: the instrument, and the ends of its line
	shots       []runShot
}

// runShot is a side shot, or a check on a known mark.
type runShot struct {
	row      int
	level    unit.Length
	known    levels.Value
	inverted bool
	along    float64
}

// runDiagrams draws the runs of a book, at most room of them.
func runDiagrams(res *qa.Result, index int, lines []runLine, room int) (out []drawing, none []string, more int) {
	b := &res.Books[index]
	var views []*runView
	var at []int
	for k := range b.Result.Runs {
		v := &runView{res: res, book: b, run: &b.Result.Runs[k], line: lines[k]}
		if v.take(k); len(v.stations) == 0 {
			none = append(none, fmt.Sprintf("No diagram of the run from %s: no level in it could be worked out.", v.line.From))
			continue
		}
		views, at = append(views, v), append(at, k)
	}
	keep := make([]bool, len(views))
	for _, proved := range []bool{false, true} {
		for i, v := range views {
			if v.line.Proved == proved && room > 0 {
				keep[i], room = true, room-1
			}
		}
	}
	for i, v := range views {
		if !keep[i] {
			more++
			continue
		}
		id := bookID(index) + "-run-" + strconv.Itoa(at[i]+1)
		d := drawing{Wide: v.draw(wideWidth, id+"-w"), Narrow: v.draw(narrowWidth, id+"-n")}
		d.Caption = v.caption()
		out = append(out, d)
	}
	return out, none, more
}

// take walks through the rows of the run.
func (v *runView) take(index int) {
	b, runs := v.book, v.book.Result.Runs
	shares := func(k int) bool { return k > 0 && runs[k-1].Last == runs[k].First }
	cur, ended := -1, -1 // the set-up, and the station of a foresight that waits for its backsight
	for i := v.run.First; i <= v.run.Last; i++ {
		in, out := &b.Input[i], &b.Result.Rows[i]
		before := i == v.run.First && shares(index)                        // its FS belongs to the run before
		after := i == v.run.Last && index+1 < len(runs) && shares(index+1) // its BS begins the next
		sighted := false
		switch {
		case before || cur < 0 || !out.Level.Set:
			sighted = !before && (in.FS.Set || in.IS.Set)
		case in.FS.Set && (in.BS.Set || out.Role == levels.ChangePoint || i == v.run.Last):
			v.stands[cur].to, v.stands[cur].fs = len(v.stations), in.DistFS
			v.turned = v.turned || in.FS.L < 0
			cur, ended = -1, len(v.stations)
			v.stations = append(v.stations, runStation{row: i, name: in.Name, level: out.Level.L, known: out.Known, mark: out.Known.Set, booked: true})
		case in.FS.Set:
			v.shot(cur, runShot{row: i, level: out.Level.L, known: out.Known, inverted: in.FS.L < 0})
		case in.IS.Set:
			v.shot(cur, runShot{row: i, level: out.Level.L, known: out.Known, inverted: in.IS.L < 0})
		}
		if in.BS.Set && !after {
			if sighted = sighted || !out.Collimation.Set; !sighted {
				if ended < 0 {
					ended = len(v.stations)
					v.stations = append(v.stations, runStation{row: i, name: in.Name, level: out.Collimation.L - in.BS.L, known: out.Known, mark: out.Known.Set, booked: !before})
				}
				v.turned = v.turned || in.BS.L < 0
				cur = len(v.stands)
				v.stands = append(v.stands, runStand{from: ended, to: -1, collimation: out.Collimation.L, bs: in.DistBS})
				ended = -1
			}
		}
		v.broken = v.broken || sighted
	}
	v.broken = v.broken || len(v.stands) > 0 && v.stands[len(v.stands)-1].to < 0
	v.spread()
}

func (v *runView) shot(stand int, s runShot) {
	v.stands[stand].shots = append(v.stands[stand].shots, s)
	if s.known.Set {
		return
	}
	v.shots++
	v.inverted = v.inverted || s.inverted
}

// spread places stations and set-ups along the run: to the scale of the sights
// where every one is measured, else at equal spacing. Side shots stand in their
// order between the stations of their set-up.
func (v *runView) spread() {
	v.toScale = len(v.stands) > 0
	for k := range v.stands {
		s := &v.stands[k]
		v.toScale = v.toScale && s.bs.Set && s.bs.L > 0 && (s.to < 0 || s.fs.Set && s.fs.L > 0)
	}
	for k := range v.stands {
		s := &v.stands[k]
		s.x0 = v.stations[s.from].along
		back, fore := 0.5, 0.5
		if v.toScale {
			back = s.bs.L.Metres()
			if fore = back; s.to >= 0 {
				fore = s.fs.L.Metres()
			}
		}
		s.at, s.x1 = s.x0+back, s.x0+back+fore
		if s.to >= 0 {
			v.stations[s.to].along = s.x1
		}
		for j := range s.shots {
			s.shots[j].along = s.x0 + (s.x1-s.x0)*float64(j+1)/float64(len(s.shots)+1)
			if s.shots[j].known.Set {
				v.checks = append(v.checks, s.shots[j])
			}
		}
		v.length = s.x1
	}
	if v.length == 0 {
		v.length = 1 // a station alone
	}
}

func (v *runView) units(l unit.Length) float64 { return float64(l) / float64(v.book.Unit.Size) }

// draw draws the run: set-up by set-up where they are few enough for the width
// and every station can be named, else as a line of levels.
func (v *runView) draw(width float64, id string) template.HTML {
	left, right := 62.0, 16.0
	if width != wideWidth {
		left, right = 54, 12
	}
	p := &panel{box: box{left, 46, width - right, 46 + 190}}
	inset := v.length * runInset / (p.x1 - p.x0 - 2*runInset) // marks stand inside the frame
	p.x0v, p.x1v = -inset, v.length+inset
	band, full := v.labelBand(p, width, true)
	if !full {
		band, _ = v.labelBand(p, width, false)
	}
	v.rangeLevels(p, full)
	keys := v.keys(full)
	cv := &canvas{w: width}
	cv.h = p.y1 + band.height() + 10 + keyHeight(keys, width-12)
	if band.left > 0 {
		cv.h += lineStep
	}
	cv.open(id, "run", v.title()+", diagram", "The levels of the run, its known marks, and how it closed; the figures are those of the reduced book.")
	v.axes(cv, p)
	if full {
		v.drawStands(cv, p)
	} else {
		v.drawLevels(cv, p)
	}
	v.drawMarks(cv, p, full)
	cv.rect("frame", p.box)
	band.draw(cv, p.y1)
	y := p.y1 + band.height() + lineStep + 5
	cv.keys(keys, 6, y)
	if band.left > 0 {
		cv.words("coord start", 6, cv.h-4, Count(band.left, "known mark", "known marks")+" without a name here")
	}
	return cv.close()
}

// rangeLevels fits all levels into the panel, and leaves room for lettering.
func (v *runView) rangeLevels(p *panel, full bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	grow := func(l unit.Length) { lo, hi = min(lo, v.units(l)), max(hi, v.units(l)) }
	for i := range v.stations {
		grow(v.stations[i].level)
	}
	for i := range v.checks {
		grow(v.checks[i].level)
	}
	for k := range v.stands {
		if !full {
			break
		}
		grow(v.stands[k].collimation)
		for i := range v.stands[k].shots {
			grow(v.stands[k].shots[i].level)
		}
	}
	if least := v.units(unit.Metre / 10); hi-lo < least {
		mid := (hi + lo) / 2
		lo, hi = mid-least/2, mid+least/2
	}
	const above, below = 22, 14 // pixels
	perPixel := (hi - lo) / (p.y1 - p.y0 - above - below)
	p.lo, p.hi = lo-below*perPixel, hi+above*perPixel
}

// axes draws levels at the left, lengths above, and says the scales.
func (v *runView) axes(cv *canvas, p *panel) {
	cv.rect("ground", p.box)
	at, step := steps(p.lo, p.hi, 0.001, 6)
	for _, l := range at {
		cv.line("rule", p.x0, p.y(l), p.x1, p.y(l))
		cv.words("coord end", p.x0-5, p.y(l)+3.5, strconv.FormatFloat(l, 'f', decimalsOf(step), 64))
	}
	cv.words("coord start", 6, 11, "level, "+v.book.Unit.Name)
	f := v.res.Frame.Unit
	if !v.toScale {
		cv.words("coord end", p.x1, 11, "not to scale along the run")
		return
	}
	per := float64(f.Size) / float64(unit.Metre) // metres in the unit of the job
	across, step := steps(0, v.length/per, 0.1, max(3, int((p.x1-p.x0)/80)))
	for _, l := range across {
		x := p.x(l * per)
		cv.line("tick", x, p.y0-4, x, p.y0)
		s := strconv.FormatFloat(l, 'f', decimalsOf(step), 64)
		if l == 0 {
			s += " " + f.Name
		}
		cv.words("coord middle", x, p.y0-8, s)
	}
	sx := (p.x1 - p.x0) / (p.x1v - p.x0v) // pixels per metre
	sy := (p.y1 - p.y0) / (p.hi - p.lo) * float64(unit.Metre) / float64(v.book.Unit.Size)
	cv.words("coord end", p.x1, 11, fmt.Sprintf("vertical scale %s× the horizontal", exaggeration(sy/sx)))
}

// drawStands draws the set-ups one by one.
func (v *runView) drawStands(cv *canvas, p *panel) {
	y := func(l unit.Length) float64 { return p.y(v.units(l)) }
	for i := range v.stations {
		cv.line("drop", p.x(v.stations[i].along), y(v.stations[i].level), p.x(v.stations[i].along), p.y1)
	}
	for i := range v.checks {
		cv.line("drop", p.x(v.checks[i].along), y(v.checks[i].level), p.x(v.checks[i].along), p.y1)
	}
	v.joined(cv, p)
	cv.labels.frame = box{p.x0 + 1, p.y0 + 1, p.x1 - 1, p.y1 - 1}
	seen := map[[2]int]bool{}
	for k := range v.stands {
		s := &v.stands[k]
		hpc := y(s.collimation)
		for i := range s.shots {
			shot := &s.shots[i]
			x, ys := p.x(shot.along), y(shot.level)
			if cell := [2]int{int(x / 4), int(ys / 2)}; !seen[cell] || shot.known.Set {
				seen[cell] = true
			} else {
				v.merged = true
				continue
			}
			if shot.inverted {
				cv.line("hang", x, hpc, x, ys)
				cv.labels.taken = append(cv.labels.taken, box{x - 2, ys - 2, x + 2, hpc})
			}
			if !shot.known.Set {
				cv.line("shot", x-3.5, ys, x+3.5, ys)
				cv.labels.taken = append(cv.labels.taken, box{x - 4, ys - 2, x + 4, ys + 2})
			}
		}
		cv.line("staff", p.x(s.x0)+1.5, y(v.stations[s.from].level), p.x(s.x0)+1.5, hpc)
		if s.to >= 0 {
			cv.line("staff", p.x(s.x1)-1.5, y(v.stations[s.to].level), p.x(s.x1)-1.5, hpc)
		}
		cv.line("sight", p.x(s.x0), hpc, p.x(s.x1), hpc)
	}
	for i := range v.stations {
		s := &v.stations[i]
		cv.labels.taken = append(cv.labels.taken, around(p.x(s.along), y(s.level), markSize+1))
	}
	for k := range v.stands {
		s := &v.stands[k]
		x, hpc := p.x(s.at), y(s.collimation)
		cv.mark(markInstrument, x, hpc)
		cv.labels.taken = append(cv.labels.taken, box{x - 6, hpc - 3, x + 6, hpc + 10})
	}
	for k := range v.stands { // the figure stands on its line, where there is room
		s := &v.stands[k]
		text := levelText(s.collimation, v.book.Unit)
		w, hpc := textWidth(text, 10)+4, y(s.collimation)
		x0, x1 := p.x(s.x0)+w/2+4, p.x(s.x1)-w/2-4
		if x0 > x1 {
			continue
		}
		for _, at := range [][2]float64{{min(max(p.x(s.at), x0), x1), hpc - 14}, {x0, hpc - 14}, {x1, hpc - 14}, {x0, hpc + 3}, {x1, hpc + 3}} {
			b := box{at[0] - w/2, at[1], at[0] + w/2, at[1] + 11}
			if !cv.labels.free(b) || cv.labels.covers(b) > 0 {
				continue
			}
			cv.labels.taken = append(cv.labels.taken, b)
			cv.words("coord middle", at[0], at[1]+9, text)
			break
		}
	}
}

// joined draws the line through the stations, straight from one to the next.
func (v *runView) joined(cv *canvas, p *panel) {
	var xy []float64
	for i := range v.stations {
		xy = append(xy, p.x(v.stations[i].along), p.y(v.units(v.stations[i].level)))
	}
	if len(xy) > 2 {
		cv.path("stations", false, xy...)
	}
	for i := 0; i+3 < len(xy); i += 2 {
		cv.labels.lines = append(cv.labels.lines, [4]float64{xy[i], xy[i+1], xy[i+2], xy[i+3]})
	}
}

// manyStations is how many points the line of levels is drawn through one by
// one.
const manyStations = 1500

// drawLevels draws the levels of the stations as a line. Of very many, the
// first, lowest, highest and last of every pixel are joined.
func (v *runView) drawLevels(cv *canvas, p *panel) {
	if len(v.stations) <= manyStations {
		v.joined(cv, p)
		return
	}
	var xy []float64
	for i := 0; i < len(v.stations); {
		x := math.Floor(p.x(v.stations[i].along))
		first, lo, hi := p.y(v.units(v.stations[i].level)), math.Inf(1), math.Inf(-1)
		last := first
		for ; i < len(v.stations) && math.Floor(p.x(v.stations[i].along)) == x; i++ {
			last = p.y(v.units(v.stations[i].level))
			lo, hi = min(lo, last), max(hi, last)
		}
		xy = append(xy, x, first, x, lo, x, hi, x, last)
	}
	cv.path("stations", false, xy...)
}

// drawMarks draws stations and known marks over the lines.
func (v *runView) drawMarks(cv *canvas, p *panel, full bool) {
	for i := range v.stations {
		s := &v.stations[i]
		x, y := p.x(s.along), p.y(v.units(s.level))
		switch {
		case s.mark:
			cv.mark(markKnown, x, y)
		case full:
			cv.mark(markStation, x, y)
		}
	}
	for i := range v.checks {
		cv.mark(markKnown, p.x(v.checks[i].along), p.y(v.units(v.checks[i].level)))
	}
	if v.broken {
		last := &v.stations[len(v.stations)-1]
		x, y := p.x(last.along), p.y(v.units(last.level))
		if k := len(v.stands) - 1; k >= 0 && v.stands[k].to < 0 {
			x, y = p.x(v.stands[k].x1), p.y(v.units(v.stands[k].collimation))
		}
		for _, dx := range []float64{-2, 3} {
			cv.line("backfall", x+dx-3, y+9, x+dx+3, y-9)
		}
	}
}

func (v *runView) keys(full bool) []key {
	keys := []key{{line: "stations", text: "level from station to station"}}
	if full {
		keys = []key{{mark: markStation, text: "staff station"}, {mark: markInstrument, text: "set-up"}, {line: "sight", text: "collimation"}, {mark: markStaff, text: "staff reading"}}
	}
	for i := range v.stations {
		if v.stations[i].mark || len(v.checks) > 0 {
			keys = append(keys, key{mark: markKnown, text: "known mark"})
			break
		}
	}
	if full && v.shots > 0 {
		keys = append(keys, key{line: "shot", text: "side shot"})
	}
	if full && v.inverted {
		keys = append(keys, key{mark: markHang, text: "inverted staff"})
	}
	if v.broken {
		keys = append(keys, key{line: "backfall", text: "broken here"})
	}
	return keys
}

func (v *runView) title() string {
	if v.run.To == "" {
		return "Run from " + v.line.From
	}
	return "Run from " + v.line.From + " to " + v.line.To
}

// caption says what run it is, how it closed, and how it is drawn.
func (v *runView) caption() []string {
	s := v.title() + ": " + Count(v.run.Setups, "set-up", "set-ups")
	if v.line.Distance != "" {
		s += ", " + v.line.Distance
	}
	if v.line.Misclosure != "" {
		s += ", misclosure " + v.line.Misclosure + " mm"
		if v.line.Allowed != "" {
			s += " where " + v.line.Allowed + " mm is allowed"
		}
	}
	out := []string{s + ": " + v.line.State + "."}
	if v.toScale {
		out = append(out, "Stations stand to the scale of the sights.")
	} else {
		out = append(out, "Stations stand at equal spacing: not every sight has a length.")
	}
	if v.shots > 0 && len(v.stands) <= fullSetups {
		out = append(out, "Side shots, where they are drawn, stand between the stations of their set-up in the order they were read.")
	}
	if v.merged {
		out = append(out, "Where they would cover one another only one is drawn.")
	}
	if len(v.stands) > fullSetups {
		out = append(out, "A long run is drawn by its levels alone.")
	}
	s = "Raw levels in " + v.book.Unit.Name
	if v.res.Frame.Datum != "" {
		s += ", height datum " + v.res.Frame.Datum
	}
	return append(out, s+"; the line between stations is not the ground.")
}
