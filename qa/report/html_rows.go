package report

import (
	"html/template"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// levelPlaces is how many decimals of the job's unit levels and places are
// printed with; results.csv has them all.
const levelPlaces = 3

// shown is a row in the words and figures of the page. Tables and drawings take
// them from here, so that they cannot disagree.
type shown struct {
	point, code, what string
	where             []string
	design, measured  []string
	diff, limits      string // millimetres
	beyond, action    string
	reason, source    string
	note              string
	verdict           string
	mark              string // its mark on a drawing
}

// show words a row.
func show(r *qa.Row, f *convert.Frame) shown {
	s := &r.Shot
	out := shown{point: s.ID, code: s.Code, what: string(r.Quantity), where: whereOf(r, f), action: r.Action, reason: r.Reason, note: r.Note, source: s.Pos.String(),
		verdict: VerdictWord(r), mark: markOf(r)}
	if out.point == "" {
		out.point = "no name"
	}
	if control(r) {
		out.verdict = s.Use.String()
	}
	if r.Graded() {
		out.grade(r)
		return out
	}
	if r.Compared {
		out.values(r, f)
	} else if s.Levelled {
		out.measured = []string{s.Level.Fixed(f.Unit, levelPlaces)}
	}
	if r.Verdict == limits.Fail {
		out.beyond = limits.PrintedBeyond(r.Beyond)
	}
	return out
}

// values words what was compared: levels in the job's unit; lengths that are no
// levels in millimetres, because they are small.
func (out *shown) values(r *qa.Row, f *convert.Frame) {
	out.diff, out.limits = r.Limits.Printed(r.Diff), r.Limits.String()
	mm := func(l unit.Length) []string { return []string{l.Fixed(unit.MM, 0) + " mm"} }
	switch r.Quantity {
	case qa.QuantityCover, qa.QuantityPlace, qa.QuantityCoverage:
		out.measured = []string{r.Measured.Fixed(f.Unit, levelPlaces)}
		out.diff, out.limits = strings.TrimPrefix(out.diff, "+"), strings.ReplaceAll(out.limits, "+", "")
	case qa.QuantityGap, qa.QuantityPonding:
		out.measured = []string{r.Measured.Fixed(unit.MM, 1) + " mm"}
		out.diff, out.limits = strings.TrimPrefix(out.diff, "+"), strings.ReplaceAll(out.limits, "+", "")
	case qa.QuantityLine, qa.QuantityMean:
		out.measured = mm(r.Measured)
	case qa.QuantityStep, qa.QuantityDrop, qa.QuantityThickness, qa.QuantityCrossfall:
		out.design, out.measured = mm(r.Design), mm(r.Measured)
	default:
		out.design = []string{r.Design.Fixed(f.Unit, levelPlaces)}
		out.measured = []string{r.Measured.Fixed(f.Unit, levelPlaces)}
	}
	if r.Quantity == qa.QuantityBackfall {
		out.design = append(out.design, "shot upstream")
	}
}

// grade words the fall of a pipe; its limit is the least grade.
func (out *shown) grade(r *qa.Row) {
	if r.Quantity == qa.QuantityGrade {
		out.point = r.Pipe
	}
	design, built := r.GradeWords()
	if design != "" {
		out.design = []string{design}
	}
	if r.LeastGrade.Run > 0 {
		out.limits = "least " + r.LeastGrade.OneIn()
	}
	if built != "" {
		out.measured = []string{built}
	}
	if r.Verdict == limits.Fail {
		out.beyond = limits.PrintedBeyond(r.Beyond)
	}
}

// whereOf says where a row is: along a pipe, by chainage, and in the grid.
func whereOf(r *qa.Row, f *convert.Frame) []string {
	var w []string
	s := &r.Shot
	switch {
	case r.OnPipe:
		w = append(w, r.Pipe+" at "+r.Along.Fixed(f.Unit, levelPlaces))
	case s.Chained:
		side := " right"
		if s.Offset < 0 {
			side = " left"
		}
		w = append(w, "ch "+s.Chainage.Fixed(f.Unit, levelPlaces)+", "+s.Offset.Abs().Fixed(f.Unit, levelPlaces)+side)
	}
	if s.Placed && !r.Graded() {
		w = append(w, f.Easting(s.Place, levelPlaces)+" E", f.Northing(s.Place, levelPlaces)+" N")
	}
	return w
}

// markOf chooses the mark of a row on a drawing.
func markOf(r *qa.Row) string {
	switch {
	case r.Verdict == limits.NotAssessed:
		return markOpen
	case r.Verdict == limits.Pass:
		return markPass
	case r.Derived:
		return markOther
	case r.Beyond < 0:
		return markLow
	}
	return markHigh
}

// verdictClass carries the shape and colour of a verdict in a table.
func verdictClass(v limits.Verdict) string {
	return [...]string{"v o", "v p", "v f"}[v]
}

// oneLine is the place of a row in one line: along its pipe or by chainage, else
// in the grid. The failures and results.csv have all of it. A part of it is not
// broken over two lines.
func oneLine(where []string, r *qa.Row) string {
	if len(where) > 0 && (r.OnPipe || r.Shot.Chained) {
		where = where[:1]
	}
	parts := make([]string, len(where))
	for i, w := range where {
		parts[i] = strings.ReplaceAll(w, " ", "\u00a0")
	}
	return strings.Join(parts, " ")
}

// failGroup is the failures of one check.
type failGroup struct {
	ID, Name, Element string
	Count             int
	Rows              template.HTML
}

// failures groups the failures by check, each group in file order.
func (p *page) failures() []failGroup {
	groups := make([]failGroup, len(p.Res.Checks))
	rows := make([]markup, len(p.Res.Checks))
	for i := range p.Res.Failures {
		r := &p.Res.Failures[i]
		if r.Check < 0 || r.Check >= len(groups) {
			continue
		}
		groups[r.Check].Count++
		accepted := ""
		if x := p.Res.AcceptedBy(r); x != nil {
			accepted = "accepted by the rule of the job"
			if x.Lot != "" {
				accepted = "lot " + x.Lot + " " + accepted
			}
		}
		failureRow(&rows[r.Check], show(r, &p.Res.Frame), r, accepted)
	}
	var out []failGroup
	for i := range groups {
		if groups[i].Count == 0 {
			continue
		}
		c := &p.Res.Checks[i].Common
		groups[i].ID, groups[i].Name, groups[i].Element, groups[i].Rows = checkID(i), c.Name, c.Element, rows[i].html()
		out = append(out, groups[i])
	}
	return out
}

// failureRow is a failure; accepted says which lot is accepted in spite of it.
func failureRow(m *markup, s shown, r *qa.Row, accepted string) {
	m.raw("<tr>")
	m.head(s.point)
	m.cell("", s.what)
	m.lines("w", s.where...)
	m.lines("n", s.design...)
	m.lines("n", s.measured...)
	m.cell("n d", s.diff)
	m.cell("n", s.limits)
	m.cell("n", s.beyond)
	reason := ""
	if r.Derived || r.Decided != "" {
		reason = s.reason
	}
	m.openCell("a")
	m.raw("<b>")
	m.text(s.action)
	m.raw("</b>")
	beside := s.action != ""
	for _, small := range append([]string{reason, s.note, accepted}, traceWords(r)...) {
		if small == "" {
			continue
		}
		if beside {
			m.raw("<br>")
		}
		beside = true
		m.raw("<small>")
		m.text(small)
		m.raw("</small>")
	}
	m.raw("</td>")
	m.cell("s", s.source)
	m.raw("</tr>\n")
}

// resultRow is a row of the table of all rows of a check.
func resultRow(m *markup, s shown, r *qa.Row, withU bool) {
	if r.Verdict == limits.Fail {
		m.raw(`<tr class="f">`)
	} else {
		m.raw("<tr>")
	}
	m.head(s.point)
	m.cell(verdictClass(r.Verdict), s.verdict)
	m.cell("n d", s.diff)
	if withU {
		m.cell("n", tenthU(r))
	}
	m.cell("n", s.limits)
	m.cell("n", first(s.design))
	m.cell("n", first(s.measured))
	class, said := "a", s.action
	if r.Verdict == limits.NotAssessed || s.action == "" && s.reason != "" {
		class, said = "r", s.reason
	}
	lines := []string{said}
	if s.note != "" {
		lines = append(lines, s.note)
	}
	if lines = append(lines, traceWords(r)...); len(lines) > 1 {
		if lines[0] == "" {
			lines = lines[1:]
		}
		m.lines(class, lines...)
	} else {
		m.cell(class, said)
	}
	m.cell("", s.what)
	m.cell("", s.code)
	m.cell("w", oneLine(s.where, r))
	m.cell("s", s.source)
	m.raw("</tr>\n")
}

// openShown is how many rows that were not judged are listed one by one.
const openShown = 1000

// notJudged lists the rows that were left out of judging, and why.
type notJudged struct {
	Rows    template.HTML
	Count   int // of the rows that are kept
	Shown   int
	Reasons []reasonCount // empty for a short list
}

type reasonCount struct {
	Reason string
	Count  int
}

func (p *page) notJudged() notJudged {
	var out notJudged
	var m markup
	at := map[string]int{}
	for i := range p.Res.Rows {
		r := &p.Res.Rows[i]
		use := r.Shot.Use
		switch {
		case r.Check >= 0 && (r.Verdict != limits.NotAssessed || control(r)):
			continue
		case r.Check < 0 && use != convert.NotAssessed && use != convert.Excluded && use != convert.Superseded:
			continue
		}
		out.Count++
		k, ok := at[r.Reason]
		if !ok {
			k = len(out.Reasons)
			at[r.Reason] = k
			out.Reasons = append(out.Reasons, reasonCount{Reason: r.Reason})
		}
		out.Reasons[k].Count++
		if out.Shown == openShown {
			continue
		}
		out.Shown++
		s := show(r, &p.Res.Frame)
		word := "not assessed"
		if use == convert.Excluded || use == convert.Superseded {
			word = use.String()
		}
		check := ""
		if r.Check >= 0 {
			check = p.Res.Checks[r.Check].Common.Name
		}
		if r.Derived {
			word += ", worked out"
		}
		m.raw("<tr>")
		m.head(s.point)
		m.cell("v o", word)
		m.cell("", check)
		m.cell("r", s.reason)
		m.cell("w", oneLine(s.where, r))
		m.cell("s", s.source)
		m.raw("</tr>\n")
	}
	out.Rows = m.html()
	const short = 12
	if out.Count <= short {
		out.Reasons = nil
	}
	slices.SortStableFunc(out.Reasons, func(a, b reasonCount) int { return b.Count - a.Count })
	return out
}

// worst is the failure that is furthest beyond its limit, the first of several.
func worst(res *qa.Result) *qa.Row {
	var w *qa.Row
	far := unit.Length(-1)
	for i := range res.Failures {
		if r := &res.Failures[i]; beyond(r) > far {
			w, far = r, beyond(r)
		}
	}
	return w
}
