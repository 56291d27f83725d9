package qa

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

// samePlace is how near two chainages are one: half of the last figure that is
// printed.
const samePlace = unit.Millimetre / 2

// leg is one pipe of a run. Chainages of a leg count downstream from the
// upstream end of the run, whatever the sheet prints.
type leg struct {
	pipe  *convert.Pipe
	us    *convert.Pit
	ds    *convert.Pit
	start unit.Length // at the centre of the upstream pit
	end   unit.Length // at the centre of the downstream pit
	wall  unit.Length // of the pipe, or of the job; 0 = not known
}

// run makes the rows of a run of pipes.
func (w *setoutWork) run() {
	legs := w.legs()
	if len(legs) == 0 {
		return
	}
	total := legs[len(legs)-1].end
	from, to := unit.Length(0), total
	if w.of.From != nil {
		from = w.of.From.Length
	}
	if w.of.To != nil {
		to = w.of.To.Length
	}
	if from > total || to > total+samePlace {
		key := "to"
		if from > total {
			key = "from"
		}
		w.fail(key, "the run is %s long from pit to pit; the chainages asked for go beyond it", w.print(total))
		return
	}
	if n := (to - from) / w.of.Every.Length; n > MaxSetoutRows {
		w.fail("every", "a step of %s makes %d rows, more than the %d a sheet may have; make it longer", w.print(w.of.Every.Length), n, MaxSetoutRows)
		return
	}
	down := w.of.ChainageFrom == "downstream"
	// the wanted chainages, downstream from the upstream end
	var marks []unit.Length
	for c := from; c < to; c += w.of.Every.Length {
		marks = append(marks, c)
	}
	marks = append(marks, to)
	if down {
		for i := range marks {
			marks[i] = total - marks[i]
		}
		slices.Reverse(marks)
	}
	rows := w.rowsOf(legs, marks)
	for i := range rows {
		if down {
			rows[i].Chainage.L = total - rows[i].Chainage.L
		}
	}
	if down {
		slices.Reverse(rows)
	}
	w.sheet.Rows = slices.DeleteFunc(rows, func(r SetoutRow) bool {
		return r.Chainage.L < from-samePlace || r.Chainage.L > to+samePlace
	})
	w.describe(legs)
}

// fail says why a sheet has no rows.
func (w *setoutWork) fail(key, format string, args ...any) {
	w.sheet.Why = fmt.Sprintf(format, args...)
	w.problem(w.Head.Job.Where(w.path+"."+key), w.of.Name, "%s", w.sheet.Why)
}

// legs finds the pipes of the run, which must follow each other downstream.
func (w *setoutWork) legs() []leg {
	n := w.Head.Design.Networks[w.of.Design]
	if n == nil {
		w.sheet.Why = fmt.Sprintf("the design %s could not be read", w.of.Design) // the problem is at the design
		if !w.unbuilt[w.of.Design] {
			w.fail("design", "the design %q is no pipe network that could be read", w.of.Design)
		}
		return nil
	}
	var legs []leg
	var at unit.Length
	for i, name := range w.of.Pipes {
		key := fmt.Sprintf("pipes[%d]", i)
		k := slices.IndexFunc(n.Pipes, func(p convert.Pipe) bool { return p.Name == name })
		if k < 0 {
			w.fail(key, "the network %q has no pipe %q", n.Name, name)
			return nil
		}
		p := &n.Pipes[k]
		if p.Bad != "" {
			w.fail(key, "nothing can be set out on pipe %s: %s", name, p.Bad)
			return nil
		}
		l := leg{pipe: p, us: &n.Pits[p.US], ds: &n.Pits[p.DS], start: at, wall: p.Wall}
		if l.wall == 0 && w.of.Wall != nil {
			l.wall = w.of.Wall.Length
		}
		if i > 0 {
			if before := legs[i-1]; before.pipe.DS != p.US {
				hint := ""
				if p.DS == before.pipe.US {
					hint = "; list the pipes from upstream to downstream"
				}
				w.fail(key, "pipe %s ends in %s and pipe %s begins in %s; a run is of pipes that follow each other downstream%s", before.pipe.Name, before.ds.Name, name, l.us.Name, hint)
				return nil
			}
		}
		at += p.USSetback + p.Length + p.DSSetback
		l.end = at
		legs = append(legs, l)
	}
	return legs
}

// rowsOf makes the rows: both ends of every pipe, and the wanted chainages
// between. marks rise; so do the rows.
func (w *setoutWork) rowsOf(legs []leg, marks []unit.Length) []SetoutRow {
	var rows []SetoutRow
	add := func(r SetoutRow) {
		if n := len(rows); n > 0 && r.pit != "" && rows[n-1].pit == r.pit && rows[n-1].Chainage == r.Chainage {
			before := &rows[n-1]
			if before.Design == r.Design && before.TrenchBottom == r.TrenchBottom && before.Top == r.Top {
				before.Pipe += ", " + r.Pipe // they meet without a step: one row serves both
				return
			}
			before.Name, r.Name = r.pit+", "+before.Pipe, r.pit+", "+r.Pipe
		}
		rows = append(rows, r)
	}
	for i := range legs {
		l := &legs[i]
		first, last := l.start+l.pipe.USSetback, l.end-l.pipe.DSSetback
		for _, c := range marks {
			if c > l.start+samePlace && c < first-samePlace {
				add(l.inPit(l.us, c))
			}
		}
		add(w.atPit(l, first, l.us, l.pipe.USSetback))
		for _, c := range marks {
			if c > first+samePlace && c < last-samePlace {
				add(w.onPipe(l, c, ""))
			}
		}
		add(w.atPit(l, last, l.ds, l.pipe.DSSetback))
		for _, c := range marks {
			if c > last+samePlace && c < l.end-samePlace {
				add(l.inPit(l.ds, c))
			}
		}
	}
	return rows
}

// atPit is an end of a pipe: at the centre of a pit, or at its inner face.
func (w *setoutWork) atPit(l *leg, c unit.Length, pit *convert.Pit, setback unit.Length) SetoutRow {
	r := w.onPipe(l, c, pit.Name)
	if setback == 0 {
		r.pit = pit.Name
	} else {
		r.Name += ", inner face"
	}
	return r
}

// inPit is a chainage between the centre of a pit and the end of the pipe.
func (l *leg) inPit(pit *convert.Pit, c unit.Length) SetoutRow {
	r := SetoutRow{Name: "in " + pit.Name, Chainage: levels.Of(c), Pipe: l.pipe.Name, Place: l.at(c), Placed: true}
	r.remark("inside a pit: no pipe here")
	return r
}

// onPipe is a chainage on a pipe.
func (w *setoutWork) onPipe(l *leg, c unit.Length, name string) SetoutRow {
	r := SetoutRow{Name: name, Pipe: l.pipe.Name, Chainage: levels.Of(c), Place: l.at(c), Placed: true, DesignAt: "pipe " + l.pipe.Name}
	invert := l.pipe.InvertAt(c - l.start - l.pipe.USSetback)
	r.Design = levels.Of(invert)
	if w.of.Bedding != nil && l.wall > 0 {
		r.TrenchBottom = levels.Of(invert - l.wall - w.of.Bedding.Length)
	}
	if l.pipe.Bore > 0 && l.wall > 0 {
		r.Top = levels.Of(invert + l.pipe.Bore + l.wall)
	}
	return r
}

// at is the place of a chainage on the line from pit to pit, each coordinate
// rounded once to one count; exact at the pits.
func (l *leg) at(c unit.Length) convert.Place {
	a, b, along, full := l.us.Place, l.ds.Place, c-l.start, l.end-l.start
	return convert.Place{E: a.E + unit.MulDiv(b.E-a.E, along, full), N: a.N + unit.MulDiv(b.N-a.N, along, full)}
}

// describe says what the run is, and what of it is not known.
func (w *setoutWork) describe(legs []leg) {
	first, last := &legs[0], &legs[len(legs)-1]
	what := "pipe "
	if len(legs) > 1 {
		what = "pipes "
	}
	zero := first.us.Name
	if w.of.ChainageFrom == "downstream" {
		zero = last.ds.Name
	}
	w.sheet.What = fmt.Sprintf("%s%s of %s, from %s down to %s; chainage from %s", what, joined(w.of.Pipes), w.Head.Design.Networks[w.of.Design].Name, first.us.Name, last.ds.Name, zero)
	for _, g := range groups(legs, func(l *leg) string {
		s := gradeWords(unit.Grade{Rise: -l.pipe.Grade().Rise, Run: l.pipe.Length}) + " downstream"
		if l.pipe.USInvert == l.pipe.DSInvert {
			s = "is level: its two inverts are equal"
		}
		return s + ", bore " + w.size(l.pipe.Bore) + ", wall " + w.size(l.pipe.Wall)
	}) {
		w.say("%s %s.", g.pipes, g.text)
	}
	w.trench(legs)
}

// size writes a size of a pipe in millimetres.
func (w *setoutWork) size(l unit.Length) string {
	if l == 0 {
		return "not given"
	}
	return l.Exact(unit.MM, 0) + " mm"
}

// trench says how the bottom of the trench was worked out, or why not.
func (w *setoutWork) trench(legs []leg) {
	if w.of.Bedding == nil {
		w.warn("Bottom of the trench: not known; the job gives no bedding.")
		return
	}
	var without, own, other []string
	for i := range legs {
		p := legs[i].pipe
		switch {
		case legs[i].wall == 0:
			without = append(without, p.Name)
		case p.Wall == 0:
			own = append(own, p.Name)
		case w.of.Wall != nil && p.Wall != w.of.Wall.Length:
			other = append(other, p.Name)
		}
	}
	if len(without) > 0 {
		w.cannot("bedding", "Bottom of the trench: not known for %s; the design gives no wall, nor does the job. Add \"wall:\" to the sheet.", joined(without))
	}
	if len(without) < len(legs) {
		w.say("Bottom of the trench = invert less wall less bedding of %s.", w.of.Bedding.Exact(unit.MM, 0)+" mm")
	}
	if len(own) > 0 {
		w.say("The wall of %s, %s mm, is from the job; the design gives none.", joined(own), w.of.Wall.Exact(unit.MM, 0))
	}
	if len(other) > 0 {
		w.say("The wall of %s is that of the design; the %s mm of the job is not used.", joined(other), w.of.Wall.Exact(unit.MM, 0))
	}
}

// group is pipes of which one thing is to be said.
type group struct{ pipes, text string }

// groups puts legs together that follow each other with the same words.
func groups(legs []leg, words func(*leg) string) []group {
	var out []group
	for i := range legs {
		text := words(&legs[i])
		if n := len(out); n > 0 && out[n-1].text == text {
			out[n-1].pipes += ", " + legs[i].pipe.Name
			continue
		}
		out = append(out, group{legs[i].pipe.Name, text})
	}
	return out
}

// Station writes a chainage as full and plus stations: 153.25 with stations of
// 100 is 1+53.25. places are decimals; the plus keeps the digits of a full station.
func Station(chainage, full unit.Length, u unit.Unit, places int) string {
	sign := ""
	if chainage < 0 {
		sign, chainage = "-", -chainage
	}
	n := chainage / full
	plus := (chainage % full).Fixed(u, places)
	if plus == full.Fixed(u, places) { // rounded up to the next station
		n, plus = n+1, unit.Length(0).Fixed(u, places)
	}
	digits := len(strconv.FormatInt(int64((full-1)/u.Size), 10))
	whole, _, _ := strings.Cut(plus, ".")
	return fmt.Sprintf("%s%d+%s%s", sign, n, strings.Repeat("0", max(0, digits-len(whole))), plus)
}

// ChainageOf prints the chainage of a row as the sheet asks for it.
func (s *SetoutSheet) ChainageOf(r *SetoutRow, u unit.Unit) string {
	if !r.Chainage.Set {
		return ""
	}
	if s.Of.Station != nil {
		return Station(r.Chainage.L, s.Of.Station.Length, u, Places(u))
	}
	return r.Chainage.L.Fixed(u, Places(u))
}
