package report

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/formats/xlsx"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// Workbook is report.xlsx: summary, lots, failures, results, level books with the sums
// as formulas, inputs and notes. Text of input files is written as text cells,
// never as formulas.
var Workbook = &Kind{Name: "xlsx", File: "report.xlsx", Doc: "summary, failures, rows and level books as a workbook", Start: startWorkbook, Keeps: true}

type workbookWriter struct{ w io.Writer }

func startWorkbook(w io.Writer, _ *qa.Result) (Writer, error) { return &workbookWriter{w}, nil }

func (workbookWriter) Rows([]qa.Row) error { return nil }

// book is a workbook being written.
type book struct {
	f      *excelize.File
	res    *qa.Result
	style  map[string]int
	sheets int
}

func (x *workbookWriter) Close(r *qa.Result) error {
	b := &book{f: excelize.NewFile(), res: r, style: map[string]int{}}
	defer b.f.Close()
	if err := b.styles(); err != nil {
		return err
	}
	for _, f := range []func() error{b.summary, b.lots, b.failures, b.register, b.rounds, b.results, b.levels, b.inputs, b.notes} {
		if err := f(); err != nil {
			return err
		}
	}
	if err := b.f.SetDocProps(&excelize.DocProperties{Title: r.Job.Project, Creator: "sightrail " + r.Version, Created: "2000-01-01T00:00:00Z", Modified: "2000-01-01T00:00:00Z"}); err != nil {
		return err
	}
	return xlsx.Deterministic(x.w, b.f)
}

func (b *book) styles() error {
	line := []excelize.Border{{Type: "bottom", Color: "B8C0C8", Style: 1}}
	decimals := "0.000"
	millimetres := `+0.0;-0.0;0.0`
	tenth := "0.0"
	styles := map[string]*excelize.Style{
		"title": {Font: &excelize.Font{Family: "Calibri", Bold: true, Size: 16, Color: "1D2B36"}},
		"head":  {Font: &excelize.Font{Family: "Calibri", Bold: true, Color: "FFFFFF"}, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"2F4858"}}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "center"}},
		"label": {Font: &excelize.Font{Family: "Calibri", Bold: true, Color: "44545F"}, Alignment: &excelize.Alignment{Vertical: "top"}},
		"text":  {Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}},
		"level": {CustomNumFmt: &decimals, Border: line},
		"mm":    {CustomNumFmt: &millimetres, Border: line},
		"tenth": {CustomNumFmt: &tenth, Border: line},
		"cell":  {Border: line, Alignment: &excelize.Alignment{Vertical: "top"}},
		"fail":  {Font: &excelize.Font{Family: "Calibri", Bold: true, Color: "8A3B12"}, Border: line},
		"open":  {Font: &excelize.Font{Family: "Calibri", Italic: true, Color: "5B5F63"}, Border: line},
		"sum":   {Font: &excelize.Font{Bold: true}, CustomNumFmt: &decimals, Border: []excelize.Border{{Type: "top", Color: "2F4858", Style: 2}}},
	}
	for _, name := range slices.Sorted(maps.Keys(styles)) {
		id, err := b.f.NewStyle(styles[name])
		if err != nil {
			return err
		}
		b.style[name] = id
	}
	return nil
}

// sheet opens a sheet for streaming: widths, frozen heading and page set-up
// come before the first row.
func (b *book) sheet(name string, widths []float64, frozen int) (*excelize.StreamWriter, error) {
	var err error
	if b.sheets == 0 {
		err = b.f.SetSheetName("Sheet1", name)
	} else {
		_, err = b.f.NewSheet(name)
	}
	if err != nil {
		return nil, err
	}
	b.sheets++
	landscape, a4, one, many := "landscape", 9, 1, 0
	if err := b.f.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &landscape, Size: &a4, FitToWidth: &one, FitToHeight: &many}); err != nil {
		return nil, err
	}
	fit := true
	if err := b.f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return nil, err
	}
	if err := b.f.SetHeaderFooter(name, &excelize.HeaderFooterOptions{OddFooter: "&L&A&RPage &P of &N"}); err != nil {
		return nil, err
	}
	if frozen > 0 {
		if err := b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: fmt.Sprintf("'%s'!$%d:$%d", name, frozen, frozen), Scope: name}); err != nil {
			return nil, err
		}
	}
	s, err := b.f.NewStreamWriter(name)
	if err != nil {
		return nil, err
	}
	for i, w := range widths {
		if err := s.SetColWidth(i+1, i+1, w); err != nil {
			return nil, err
		}
	}
	if frozen > 0 {
		err = s.SetPanes(&excelize.Panes{Freeze: true, YSplit: frozen, TopLeftCell: fmt.Sprintf("A%d", frozen+1), ActivePane: "bottomLeft"})
	}
	return s, err
}

// cell makes a styled cell.
func (b *book) cell(style string, v any) excelize.Cell {
	return excelize.Cell{StyleID: b.style[style], Value: v}
}

// maxCell is the longest text of a cell in a workbook.
const maxCell = 32_000

// text makes a cell of text that came from a file: a string, never a formula.
func (b *book) text(style, s string) excelize.Cell {
	s = strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' && r != '\t' || r == 0xFFFE || r == 0xFFFF {
			return '\uFFFD' // not allowed in XML
		}
		return r
	}, s)
	if len(s) > maxCell {
		s = strings.ToValidUTF8(s[:maxCell], "")
	}
	return b.cell(style, s)
}

// length makes a cell of a length in a unit; a number for the eye, rounded to a
// float64. The exact value is in results.csv.
func (b *book) length(style string, set bool, l unit.Length, u unit.Unit) excelize.Cell {
	if !set {
		return b.cell("cell", nil)
	}
	return b.cell(style, float64(l)/float64(u.Size))
}

func row(s *excelize.StreamWriter, n *int, cells ...any) error {
	*n++
	return s.SetRow(fmt.Sprintf("A%d", *n), cells)
}

func (b *book) summary() error {
	s, err := b.sheet("Summary", []float64{26, 34, 16, 12, 10, 10, 15, 14, 14, 15}, 0)
	if err != nil {
		return err
	}
	r, n := b.res, 0
	j := r.Job
	if err := row(s, &n, b.text("title", strings.ToUpper(string(r.Verdict))+" · "+j.Project)); err != nil {
		return err
	}
	pairs := [][2]string{{"", ""}, {"Contract", j.Contract}, {"Client", j.Client}, {"Lot", j.Lot}, {"Element", j.Element}, {"Specification clause", j.Clause}, {"Design revision", j.Revision}, {"Report no.", j.ReportNo},
		{"Survey date", j.SurveyDate}, {"Grid", r.Frame.Grid}, {"Height datum", r.Frame.Datum}, {"Unit", r.Frame.Unit.Word}, {"Complete", map[bool]string{true: "yes: everything was read and assessed", false: "no: something was not read or not assessed"}[r.Complete]}}
	for _, p := range r.Proved {
		pairs = append(pairs, [2]string{"Levels", p})
	}
	for _, p := range pairs {
		if p[1] == "" && p[0] != "" {
			continue
		}
		if err := row(s, &n, b.text("label", p[0]), b.text("cell", p[1])); err != nil {
			return err
		}
	}
	n++
	if err := row(s, &n, b.cell("head", "Check"), b.cell("head", "Element"), b.cell("head", "Limits (mm)"), b.cell("head", "Assessed"), b.cell("head", "Pass"), b.cell("head", "Fail"), b.cell("head", "Not assessed"), b.cell("head", "Mean (mm)"), b.cell("head", "Lowest (mm)"), b.cell("head", "Highest (mm)")); err != nil {
		return err
	}
	for i := range r.Checks {
		c := &r.Checks[i]
		cells := []any{b.text("cell", c.Common.Name), b.text("cell", c.Common.Element), b.text("cell", c.Limits.String()), b.cell("cell", c.Counts.Assessed), b.cell("cell", c.Counts.Pass), b.cell("fail", c.Counts.Fail), b.cell("cell", c.Counts.NotAssessed)}
		if c.Stats.N > 0 {
			cells = append(cells, b.cell("mm", c.Stats.MeanMm), b.cell("mm", c.Stats.MinMm), b.cell("mm", c.Stats.MaxMm))
		}
		if err := row(s, &n, cells...); err != nil {
			return err
		}
	}
	n++
	a := r.Account
	for _, x := range []struct {
		what string
		n    int
	}{{"Rows assessed", a.Assessed}, {"control", a.Control}, {"superseded", a.Superseded}, {"excluded", a.Excluded}, {"not assessed", a.NotAssessed}, {"blank", a.Blank}} {
		if err := row(s, &n, b.cell("label", x.what), b.cell("cell", x.n)); err != nil {
			return err
		}
	}
	if err := row(s, &n, b.cell("label", "Rows read"), excelize.Cell{StyleID: b.style["cell"], Formula: fmt.Sprintf("SUM(B%d:B%d)", n-5, n), Value: a.Read}); err != nil {
		return err
	}
	return s.Flush()
}

var resultHeads = []string{"Check", "Element", "Lot", "Quantity", "Point", "Code", "Verdict", "Easting", "Northing", "Chainage", "Pipe", "Along", "Design", "Measured", "Difference (mm)", "Uncertainty u (mm)", "Lower (mm)", "Upper (mm)", "Beyond (mm)", "Action (mm, to design)", "Reason", "Note", "Nonconformance", "Status", "Takes the place of", "Concession", "Design value from", "Tolerance set by", "File", "Cell"}
var resultWidths = []float64{20, 18, 12, 10, 14, 9, 12, 14, 14, 11, 10, 10, 11, 11, 11, 12, 9, 9, 10, 14, 34, 30, 14, 9, 26, 26, 26, 26, 20, 10}

func (b *book) table(name string, rows []qa.Row, total int) error {
	s, err := b.sheet(name, resultWidths, 1)
	if err != nil {
		return err
	}
	n := 0
	heads := make([]any, len(resultHeads))
	for i, h := range resultHeads {
		heads[i] = b.cell("head", h)
	}
	if err := row(s, &n, heads...); err != nil {
		return err
	}
	for i := range rows {
		if err := row(s, &n, b.result(&rows[i])...); err != nil {
			return err
		}
	}
	if more := total - len(rows); more > 0 {
		if err := row(s, &n, b.cell("open", fmt.Sprintf("%d rows more: results.csv holds every row", more))); err != nil {
			return err
		}
	}
	return s.Flush()
}

func (b *book) failures() error { return b.table("Failures", b.res.Failures, b.res.FailureCount) }
func (b *book) results() error  { return b.table("Results", b.res.Rows, b.res.RowCount) }

// result is one row of results. Coordinates are text where a float64 would lose
// their decimals.
func (b *book) result(r *qa.Row) []any {
	f, s := &b.res.Frame, &r.Shot
	name, element, style := "", "", "cell"
	if r.Check >= 0 {
		name, element = b.res.Checks[r.Check].Common.Name, b.res.Checks[r.Check].Common.Element
	}
	verdict := VerdictWord(r)
	switch {
	case r.Verdict == limits.Fail:
		style = "fail"
	case verdict != "pass":
		style = "open"
	}
	if verdict == "" {
		verdict = useWord(r)
	}
	e, n := "", ""
	if s.Placed {
		e, n = f.Easting(s.Place, 3), f.Northing(s.Place, 3)
	}
	design, built := b.length("level", r.Compared && !r.Quantity.Alone(), r.Design, f.Unit), b.length("level", r.Compared || s.Levelled, measured(r), f.Unit)
	if r.Graded() {
		words, as := r.GradeWords()
		design, built = b.cell("cell", words), b.cell("cell", as)
	}
	return []any{b.text("cell", name), b.text("cell", element), b.text("cell", s.Lot), b.cell("cell", string(r.Quantity)), b.text("cell", s.ID), b.text("cell", s.Code), b.cell(style, verdict),
		b.cell("cell", e), b.cell("cell", n), b.length("level", s.Chained, s.Chainage, f.Unit), b.text("cell", r.Pipe), b.length("level", r.OnPipe, r.Along, f.Unit),
		design, built, b.length("mm", r.Compared, r.Diff, unit.MM), b.worth(r), b.length("mm", r.Limits.HasLower, r.Limits.Lower, unit.MM), b.length("mm", r.Limits.HasUpper, r.Limits.Upper, unit.MM),
		b.length("mm", r.Beyond != 0, r.Beyond, unit.MM), b.cell("cell", r.Action), b.text("cell", r.Reason), b.text("cell", r.Note), b.text("cell", ncrNo(r)), b.cell("cell", ncrStatus(r)), b.text("cell", supersedes(r)), b.text("cell", conceded(r)), b.text("cell", r.Origin()), b.text("cell", r.Limits.Source),
		b.text("cell", s.Pos.File+partOf(s.Pos)), b.cell("cell", s.Pos.Cell())}
}

func (b *book) worth(r *qa.Row) excelize.Cell {
	if !r.HasU {
		return b.cell("cell", nil)
	}
	return b.cell("mm", r.U)
}

func partOf(p formats.Pos) string {
	if p.Part == "" {
		return ""
	}
	return " [" + p.Part + "]"
}

func (b *book) inputs() error {
	s, err := b.sheet("Inputs", []float64{34, 12, 10, 14, 70}, 1)
	if err != nil {
		return err
	}
	n := 0
	if err := row(s, &n, b.cell("head", "File"), b.cell("head", "Role"), b.cell("head", "Format"), b.cell("head", "Bytes"), b.cell("head", "SHA-256")); err != nil {
		return err
	}
	for _, in := range b.res.Inputs {
		if err := row(s, &n, b.text("cell", in.File), b.cell("cell", in.Role), b.cell("cell", in.Format), b.cell("cell", in.Bytes), b.cell("cell", in.SHA256)); err != nil {
			return err
		}
	}
	return s.Flush()
}

func (b *book) notes() error {
	s, err := b.sheet("Notes", []float64{14, 34, 110}, 1)
	if err != nil {
		return err
	}
	n := 0
	if err := row(s, &n, b.cell("head", "Kind"), b.cell("head", "Place"), b.cell("head", "Text")); err != nil {
		return err
	}
	add := func(kind string, l []formats.Problem) error {
		for _, p := range l {
			text := p.Text
			if p.Field != "" {
				text = p.Field + ": " + text
			}
			if err := row(s, &n, b.cell("cell", kind), b.text("text", p.Pos.String()), b.text("text", text)); err != nil {
				return err
			}
		}
		return nil
	}
	if err := add("problem", b.res.Problems); err != nil {
		return err
	}
	if err := add("note", b.res.Notes); err != nil {
		return err
	}
	for _, m := range b.res.Missing {
		if err := row(s, &n, b.cell("cell", "not supplied"), b.cell("text", ""), b.text("text", m)); err != nil {
			return err
		}
	}
	for _, c := range Cautions {
		if err := row(s, &n, b.cell("cell", "caution"), b.cell("text", ""), b.cell("text", c)); err != nil {
			return err
		}
	}
	return s.Flush()
}
