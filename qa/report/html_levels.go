package report

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// bookPart is what the page says of one level book.
type bookPart struct {
	Name, Unit string
	Failed     string // why there is no reduction; "" when there is one
	Runs       []runLine
	Sums       []sumLine
	Agrees     bool
	Booked     string
	Mistakes   []string
	Differs    []string
	Adjusted   bool
	Rows       template.HTML
	RowCount   int
	RowsOpen   bool
}

// sumLine is one of the differences of the page check, which must be equal.
type sumLine struct{ Name, Of, Is string }

// runLine is one run of a book.
type runLine struct {
	From, To, Setups, Distance, Misclosure, Allowed, Rule string
	State, Why, Judged                                    string
	Proved                                                bool
	Class                                                 string
	Marks                                                 []string
}

func (p *page) bookParts() []bookPart {
	var parts []bookPart
	for i := range p.Res.Books {
		parts = append(parts, p.bookPart(&p.Res.Books[i]))
	}
	return parts
}

func (p *page) bookPart(b *qa.BookResult) bookPart {
	part := bookPart{Name: b.Book.Pos.File, Unit: b.Unit.Name}
	if b.Book.Pos.Part != "" {
		part.Name += ", sheet " + b.Book.Pos.Part
	}
	if b.Result == nil {
		part.Failed = "This book could not be reduced; section 2 says why. None of its levels is used."
		return part
	}
	for i := range b.Result.Runs {
		part.Runs = append(part.Runs, p.runLine(b, &b.Result.Runs[i]))
	}
	part.sums(b)
	for _, m := range b.Result.Mistakes {
		part.Mistakes = append(part.Mistakes, bookAt(b, m))
	}
	for _, m := range b.Result.BookedDiffers {
		part.Differs = append(part.Differs, bookAt(b, m))
	}
	switch {
	case len(part.Differs) > 0:
		part.Booked = fmt.Sprintf("%s in the book differ from the reduction; the reduction is used:", Count(len(part.Differs), "figure", "figures"))
	case b.Result.BookedAny:
		part.Booked = "Rises, falls, collimations and levels that the book gives agree with the reduction."
	}
	for i := range b.Result.Rows {
		part.Adjusted = part.Adjusted || b.Result.Rows[i].Adjusted.Set
	}
	var m markup
	for i := range b.Result.Rows {
		bookRow(&m, b, i, part.Adjusted)
	}
	part.Rows, part.RowCount = m.html(), len(b.Result.Rows)
	part.RowsOpen = part.RowCount <= openRows
	return part
}

// bookAt puts the row before what is wrong with it.
func bookAt(b *qa.BookResult, m levels.Mistake) string {
	row, point := m.Index+1, ""
	if m.Index < len(b.Book.Rows) {
		row, point = b.Book.Rows[m.Index].Row, b.Book.Rows[m.Index].Point
	}
	s := "Row " + strconv.Itoa(row)
	if point != "" {
		s += " (" + point + ")"
	}
	if m.Field != "" {
		s += ", " + m.Field
	}
	return s + ": " + m.Text
}

// sums lays out the check of a page.
func (part *bookPart) sums(b *qa.BookResult) {
	s, l := b.Result.Sums, func(x unit.Length) string { return x.Exact(b.Unit, 3) }
	part.Sums = []sumLine{
		{"Sum of BS − sum of FS", l(s.BS) + " − " + l(s.FS), l(s.BS - s.FS)},
		{"Sum of rises − sum of falls", l(s.Rise) + " − " + l(s.Fall), l(s.Rise - s.Fall)}}
	if b.Result.FirstToLast.Set {
		part.Sums = append(part.Sums, sumLine{"Last level − first level", "", l(b.Result.FirstToLast.L)})
	}
	part.Agrees = b.Result.ArithmeticOK
}

func (p *page) runLine(b *qa.BookResult, r *levels.Run) runLine {
	line := runLine{From: r.From, To: r.To, Setups: strconv.Itoa(r.Setups), Rule: b.Rule.Text, State: r.State.String(), Why: r.Why, Proved: r.State.Proved(),
		Judged: "raw", Class: "v o"}
	if line.From == "" {
		line.From = "no mark"
	}
	if line.To == "" {
		line.To = "open"
	}
	switch {
	case r.State.Proved():
		line.Class = "v p"
	case r.State == levels.OutOfLimit:
		line.Class = "v f"
	}
	if !line.Proved {
		line.Judged = "none: not assessed"
	} else if p.Res.Job.Levelling.Judge == "adjusted" && r.Distributed != "" {
		line.Judged = "adjusted by " + string(r.Distributed)
	}
	if r.Distance.Set {
		line.Distance = r.Distance.L.Fixed(p.Res.Frame.Unit, 1) + " " + p.Res.Frame.Unit.Name
	}
	line.Misclosure, line.Allowed = runFigures(r)
	for _, m := range r.Marks {
		line.Marks = append(line.Marks, fmt.Sprintf("On %s between the ends: %s mm (computed minus known).", m.Name, plusSign(m.Difference.Fixed(unit.MM, 1))))
	}
	return line
}

// runFigures prints misclosure and limit in millimetres, with a tenth or with as
// many decimals as it takes that the two do not contradict the state.
func runFigures(r *levels.Run) (misclosure, allowed string) {
	if r.Allowed.Set {
		allowed = r.Allowed.L.Fixed(unit.MM, 1)
	}
	if !r.Misclosure.Set {
		return "", allowed
	}
	places := 1
	for r.Allowed.Set && places < unit.MaxPlaces {
		l, _, err := unit.Parse(r.Misclosure.L.Abs().Fixed(unit.MM, places), unit.MM)
		limit, _, err2 := unit.Parse(r.Allowed.L.Fixed(unit.MM, places), unit.MM)
		if err != nil || err2 != nil || (l > limit) == (r.State == levels.OutOfLimit) {
			break
		}
		places++
	}
	if r.Allowed.Set {
		allowed = r.Allowed.L.Fixed(unit.MM, places)
	}
	return plusSign(r.Misclosure.L.Fixed(unit.MM, places)), allowed
}

// bookRow is a row of the reduced table.
func bookRow(m *markup, b *qa.BookResult, i int, adjusted bool) {
	in, out := &b.Input[i], &b.Result.Rows[i]
	value := func(v levels.Value) string {
		if !v.Set {
			return ""
		}
		return v.L.Exact(b.Unit, 3)
	}
	if out.Role == levels.Mark {
		m.raw(`<tr class="k">`)
	} else {
		m.raw("<tr>")
	}
	row := strconv.Itoa(i + 1)
	remark := ""
	if i < len(b.Book.Rows) {
		row, remark = strconv.Itoa(b.Book.Rows[i].Row), b.Book.Rows[i].Remark
	}
	m.cell("n s", row)
	m.head(in.Name)
	for _, v := range []levels.Value{in.BS, in.IS, in.FS, out.Collimation, out.Rise, out.Fall} {
		m.cell("n", value(v))
	}
	m.cell("n d", value(out.Level))
	if adjusted {
		s := ""
		if out.Adjusted.Set {
			s = out.Adjusted.L.Fixed(b.Unit, levelPlaces+1)
		}
		m.cell("n", s)
	}
	var notes []string
	if in.Known.Set {
		notes = append(notes, "known "+in.Known.L.Exact(b.Unit, 3)+" ("+in.KnownFrom+")")
	}
	switch {
	case in.BS.Set && in.BS.L < 0, in.IS.Set && in.IS.L < 0, in.FS.Set && in.FS.L < 0:
		notes = append(notes, "inverted staff")
	}
	if out.Role == levels.ChangePoint {
		notes = append(notes, "change point")
	}
	if remark != "" {
		notes = append(notes, remark)
	}
	m.cell("r", strings.Join(notes, "; "))
	m.raw("</tr>\n")
}

// markLine is one check shot on a known mark.
type markLine struct {
	Mark, Source      string
	Level, LevelLimit string
	Plan, PlanLimit   string
	State, Class      string
}

func (p *page) markLines() []markLine {
	var lines []markLine
	for i := range p.Res.Marks {
		c := &p.Res.Marks[i]
		l := markLine{Mark: c.Mark, Source: c.Shot.Pos.String(), State: "no limit given", Class: "v o", LevelLimit: "none", PlanLimit: "none"}
		l.Level = plusSign(nearLimit(c.LevelDiff, c.LevelLimit))
		if c.LevelLimit > 0 {
			l.LevelLimit = c.LevelLimit.Exact(unit.MM, 0)
		}
		if c.HasPlan {
			l.Plan = nearLimit(c.PlanDiff, c.PlanLimit)
		}
		if c.PlanLimit > 0 {
			l.PlanLimit = c.PlanLimit.Exact(unit.MM, 0)
		}
		switch {
		case c.Judged && c.Within:
			l.State, l.Class = "within", "v p"
		case c.Judged:
			l.State, l.Class = "outside", "v f"
		}
		lines = append(lines, l)
	}
	return lines
}

// nearLimit prints millimetres to a tenth, exactly where a tenth would put the
// value on the other side of its limit.
func nearLimit(l, limit unit.Length) string {
	s := l.Fixed(unit.MM, 1)
	if limit <= 0 {
		return s
	}
	if printed, _, err := unit.Parse(strings.TrimPrefix(s, "-"), unit.MM); err == nil && (printed > limit) != (l.Abs() > limit) {
		return l.Exact(unit.MM, 1)
	}
	return s
}
