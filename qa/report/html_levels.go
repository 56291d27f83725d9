package report

import (
	"html/template"
	"strconv"
	"strings"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// bookPart is what the page says of one level book.
type bookPart struct {
	ID, Name, Unit string
	Failed         string // why there is no reduction; "" when there is one
	Runs           []runLine
	Diagrams       []drawing
	NoDiagram      []string // why a run has none
	MoreDiagrams   int
	Sums           []sumLine
	Agrees         bool
	Booked         string
	Mistakes       []string
	Differs        []string
	Adjusted       bool
	HasU           bool
	Rows           template.HTML
	RowCount       int
	RowsOpen       bool
}

// sumLine is one of the differences of the page check, which must be equal.
type sumLine struct{ Name, Of, Is string }

func bookID(i int) string { return "book-" + strconv.Itoa(i+1) }

// bookName is the file of a book, and its sheet.
func bookName(b *qa.BookResult) string {
	name := b.Book.Pos.File
	if b.Book.Pos.Part != "" {
		name += ", sheet " + b.Book.Pos.Part
	}
	return name
}

func (p *page) bookParts() []bookPart {
	var parts []bookPart
	accused, left := accusedRuns(p.Res.Network), diagramsOnPage
	for i := range p.Res.Books {
		b := &p.Res.Books[i]
		part := bookPart{ID: bookID(i), Name: bookName(b), Unit: b.Unit.Name}
		if b.Result == nil {
			part.Failed = "This book could not be reduced; section 2 says why. None of its levels is used."
			parts = append(parts, part)
			continue
		}
		for k := range b.Result.Runs {
			part.Runs = append(part.Runs, p.runLine(b, k, accused))
		}
		part.Diagrams, part.NoDiagram, part.MoreDiagrams = runDiagrams(p.Res, i, part.Runs, min(left, diagramsOfBook))
		left -= len(part.Diagrams)
		part.fill(b)
		parts = append(parts, part)
	}
	return parts
}

// fill takes over sums, what was booked, and the reduced table.
func (part *bookPart) fill(b *qa.BookResult) {
	part.sums(b)
	for _, m := range b.Result.Mistakes {
		part.Mistakes = append(part.Mistakes, bookAt(b, m))
	}
	for _, m := range b.Result.BookedDiffers {
		part.Differs = append(part.Differs, bookAt(b, m))
	}
	switch {
	case len(part.Differs) > 0:
		part.Booked = "what is booked differs from the reduction, which is used. The first row of every column that differs:"
	case b.Result.BookedAny:
		part.Booked = "what the book works out agrees with the reduction."
	default:
		part.Booked = nothingBooked + "."
	}
	for i := range b.Result.Rows {
		part.Adjusted = part.Adjusted || b.Result.Rows[i].Adjusted.Set
		if _, ok := uncertaintyOf(b, i); ok {
			part.HasU = true
		}
	}
	var m markup
	givers := knownGivers(b)
	for i := range b.Result.Rows {
		bookRow(&m, b, i, part, givers)
	}
	part.Rows, part.RowCount = m.html(), len(b.Result.Rows)
	part.RowsOpen = part.RowCount <= openRows
}

// nothingBooked is said of a book without worked-out columns.
const nothingBooked = "arithmetic recomputed, nothing booked to compare"

// knownGivers says of every mark who gave its level: another row of the name may
// have it.
func knownGivers(b *qa.BookResult) map[string]string {
	out := map[string]string{}
	for i := range b.Input {
		if in := &b.Input[i]; in.Known.Set && in.Name != "" && out[in.Name] == "" {
			out[in.Name] = in.KnownFrom
		}
	}
	return out
}

// levelText prints a level or a reading of a book: as it is, and to a hundredth
// of a millimetre where a correction or another unit leaves no end of decimals.
func levelText(l unit.Length, u unit.Unit) string {
	least, most := levelPlaces, levelPlaces+2
	if u == unit.MM {
		least, most = 0, 2
	}
	s := l.Exact(u, least)
	if _, decimals, _ := strings.Cut(s, "."); len(decimals) > most {
		return l.Fixed(u, most)
	}
	return s
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
	s, l := b.Result.Sums, func(x unit.Length) string { return levelText(x, b.Unit) }
	part.Sums = []sumLine{
		{"Sum of BS − sum of FS", l(s.BS) + " − " + l(s.FS), l(s.BS - s.FS)},
		{"Sum of rises − sum of falls", l(s.Rise) + " − " + l(s.Fall), l(s.Rise - s.Fall)}}
	if b.Result.FirstToLast.Set {
		part.Sums = append(part.Sums, sumLine{"Last level − first level", "", l(b.Result.FirstToLast.L)})
	}
	part.Agrees = b.Result.ArithmeticOK
}

// bookRow is a row of the reduced table.
func bookRow(m *markup, b *qa.BookResult, i int, part *bookPart, givers map[string]string) {
	in, out := &b.Input[i], &b.Result.Rows[i]
	value := func(v levels.Value) string {
		if !v.Set {
			return ""
		}
		return levelText(v.L, b.Unit)
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
	if part.Adjusted {
		s := ""
		if out.Adjusted.Set {
			s = out.Adjusted.L.Fixed(b.Unit, levelPlaces+1)
		}
		m.cell("n", s)
	}
	if part.HasU {
		m.cell("n", levelUncertainty(b, i))
	}
	var notes []string
	if out.Known.Set {
		from := in.KnownFrom
		if from == "" {
			from = givers[in.Name]
		}
		notes = append(notes, "known "+levelText(out.Known.L, b.Unit)+" ("+from+")")
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
