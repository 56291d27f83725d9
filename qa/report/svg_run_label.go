package report

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"sightrail/formats/unit"
)

// The stations of a run diagram are lettered in a band below it. Labels stand
// side by side in the order of the stations, each as near to its station as the
// others leave room: they cannot overlap.

// uprightStep is the width of a line of upright lettering.
const uprightStep = 15.0

// setupWidth is the least width of a set-up on the average, in CSS pixels.
const setupWidth = 16.0

// stationLabel is the lettering of a station or a known mark.
type stationLabel struct {
	x     float64  // of the station
	lines []string // the first is the name
	fail  bool     // the last line is a misclosure beyond its limit
	must  bool     // it is a station or an end of the run
	off   unit.Length
	at    float64 // middle of the label
}

// labelBand is the lettering below a run diagram.
type labelBand struct {
	labels  []stationLabel
	upright bool
	left    int // known marks without room
}

// labelBand letters the run for a panel. ok is false when there is no room for
// every station.
func (v *runView) labelBand(p *panel, width float64, full bool) (b labelBand, ok bool) {
	if full && (len(v.stands) > fullSetups || float64(len(v.stands))*setupWidth > p.x1-p.x0) {
		return b, false
	}
	for i := range v.stations {
		end := i == 0 || i == len(v.stations)-1
		if !full && !end {
			continue
		}
		s := &v.stations[i]
		l := stationLabel{x: p.x(s.along), must: true, lines: []string{stationName(orRow(s.name, v.rowNumber(s.row)))}}
		level := levelText(s.level, v.book.Unit)
		switch {
		case s.known.Set && s.known.L == s.level:
			l.lines = append(l.lines, "known "+level)
		case s.known.Set:
			l.lines = append(l.lines, level, "known "+levelText(s.known.L, v.book.Unit))
		default:
			l.lines = append(l.lines, level)
		}
		if i == len(v.stations)-1 && v.line.Misclosure != "" {
			l.lines, l.fail = append(l.lines, v.line.Misclosure+" mm"), beyondRule(v.book.Rule, v.run)
		}
		b.labels = append(b.labels, l)
	}
	for i := range v.checks {
		s := &v.checks[i]
		l := stationLabel{x: p.x(s.along), lines: []string{stationName(orRow(v.book.Input[s.row].Name, v.rowNumber(s.row)))}}
		l.off = (s.level - s.known.L).Abs()
		l.lines = append(l.lines, levelText(s.level, v.book.Unit), "known "+levelText(s.known.L, v.book.Unit), plusSign((s.level-s.known.L).Fixed(unit.MM, 1))+" mm")
		for k := range v.run.Marks {
			if m := &v.run.Marks[k]; m.Index == s.row {
				l.fail = m.Judged && !m.Within
			}
		}
		b.labels = append(b.labels, l)
	}
	slices.SortStableFunc(b.labels, func(x, y stationLabel) int { return cmp.Compare(x.x, y.x) })
	room := width - 12
	if b.place(6, width-6); b.wide() <= room {
		return b, true
	}
	b.upright = true
	for b.wide() > room {
		if !b.drop() {
			return b, false
		}
	}
	b.place(6, width-6)
	return b, true
}

func (v *runView) rowNumber(i int) int {
	if i < len(v.book.Book.Rows) {
		return v.book.Book.Rows[i].Row
	}
	return i + 1
}

// stationName cuts a name that is too long in its middle: pegs of a row differ in
// how they end.
func stationName(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	r := []rune(s)
	if len(r) <= nameLetters {
		return s
	}
	const end = 7
	return string(r[:nameLetters-end-1]) + "…" + string(r[len(r)-end:])
}

func orRow(name string, row int) string {
	if name == "" {
		return "row " + strconv.Itoa(row)
	}
	return name
}

// drop leaves out the known mark between the ends that is least off.
func (b *labelBand) drop() bool {
	least := -1
	for i := range b.labels {
		if l := &b.labels[i]; !l.must && (least < 0 || l.off < b.labels[least].off) {
			least = i
		}
	}
	if least < 0 {
		return false
	}
	b.labels = slices.Delete(b.labels, least, least+1)
	b.left++
	return true
}

// text are the lines as they are lettered: upright, the level stands beside the
// name.
func (l *stationLabel) text(upright bool) []string {
	if !upright || len(l.lines) < 2 {
		return l.lines
	}
	return append([]string{l.lines[0] + "  " + l.lines[1]}, l.lines[2:]...)
}

func (l *stationLabel) width(upright bool) float64 {
	if upright {
		return uprightStep * float64(len(l.text(true)))
	}
	w := 0.0
	for _, s := range l.lines {
		w = max(w, textWidth(s, letter))
	}
	return w*1.04 + 8 // names are bold
}

func (b *labelBand) wide() (w float64) {
	for i := range b.labels {
		w += b.labels[i].width(b.upright)
	}
	return w
}

// place moves the labels apart between two edges, as little as can be in the
// sum of squares: pool adjacent violators, then the edges.
func (b *labelBand) place(x0, x1 float64) {
	type block struct{ sum, n float64 }
	var blocks []block
	off := make([]float64, len(b.labels)) // of the middles, when all touch
	for i := range b.labels {
		if i > 0 {
			off[i] = off[i-1] + (b.labels[i-1].width(b.upright)+b.labels[i].width(b.upright))/2
		}
		blocks = append(blocks, block{b.labels[i].x - off[i], 1})
		for k := len(blocks) - 1; k > 0 && blocks[k-1].sum/blocks[k-1].n > blocks[k].sum/blocks[k].n; k-- {
			blocks[k-1] = block{blocks[k-1].sum + blocks[k].sum, blocks[k-1].n + blocks[k].n}
			blocks = blocks[:k]
		}
	}
	if len(b.labels) == 0 {
		return
	}
	last := len(b.labels) - 1
	lo := x0 + b.labels[0].width(b.upright)/2
	hi := x1 - b.labels[last].width(b.upright)/2 - off[last]
	i := 0
	for _, k := range blocks {
		z := max(lo, min(hi, k.sum/k.n))
		for range int(k.n) {
			b.labels[i].at = z + off[i]
			i++
		}
	}
}

// leaderHeight is the height of the lines from the panel to the labels.
const leaderHeight = 14.0

func (b *labelBand) height() float64 {
	h := 0.0
	for i := range b.labels {
		if !b.upright {
			h = max(h, lineStep*float64(len(b.labels[i].lines)))
			continue
		}
		for k, s := range b.labels[i].text(true) {
			w := textWidth(s, letter)
			if k == 0 {
				w *= 1.04
			}
			h = max(h, w+4)
		}
	}
	return leaderHeight + h + 4
}

func (b *labelBand) draw(cv *canvas, top float64) {
	y := top + leaderHeight
	for i := range b.labels {
		l := &b.labels[i]
		cv.line("tick", l.x, top, l.at, y-2)
		lines := l.text(b.upright)
		for k, s := range lines {
			class := "key"
			if k == 0 {
				class = "lab pit"
			}
			if l.fail && k == len(lines)-1 {
				class = "lab fail"
			}
			if b.upright {
				cv.upright(class, l.at+uprightStep*(float64(k)-float64(len(lines))/2+0.5)+4, y, s)
			} else {
				cv.words(class+" middle", l.at, y+lineStep*float64(k)+11, s)
			}
		}
	}
}

// upright letters a text that reads upwards and ends at a point.
func (c *canvas) upright(class string, x, y float64, s string) {
	c.raw(`<text class="`, class, ` end"`)
	c.attr("x", x)
	c.attr("y", y)
	c.raw(` transform="rotate(-90 `)
	c.number(x)
	c.raw(" ")
	c.number(y)
	c.raw(`)">`)
	c.text(s)
	c.raw("</text>")
}
