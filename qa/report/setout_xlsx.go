package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/formats/xlsx"
	"sightrail/qa"
)

// SetoutWorkbook is setout.xlsx: a sheet for each set-out sheet, headed on every
// printed page, and one for inputs and notes. Figures are numbers for the eye; the
// exact ones are in setout.csv.
var SetoutWorkbook = &SetoutKind{File: "setout.xlsx", Doc: "the sheets as a workbook", Write: writeSetoutWorkbook}

func writeSetoutWorkbook(w io.Writer, res *qa.SetoutResult) error {
	b := &book{f: excelize.NewFile(), style: map[string]int{}}
	defer b.f.Close()
	if err := b.styles(); err != nil {
		return err
	}
	used := map[string]bool{"basis": true}
	for i := range res.Sheets {
		if err := b.setoutSheet(res, &res.Sheets[i], sheetName(res.Sheets[i].Of.Name, i, used)); err != nil {
			return err
		}
	}
	if err := b.setoutBasis(res); err != nil {
		return err
	}
	if err := b.f.SetDocProps(&excelize.DocProperties{Title: res.Job.Project, Creator: "sightrail " + res.Version, Created: "2000-01-01T00:00:00Z", Modified: "2000-01-01T00:00:00Z"}); err != nil {
		return err
	}
	return xlsx.Deterministic(w, b.f)
}

// sheetName makes a name that a workbook takes, and that no other sheet has in
// any writing.
func sheetName(name string, i int, used map[string]bool) string {
	clean := strings.Map(func(r rune) rune {
		if r < ' ' || r > 0xFFFF || r >= 0xFFFE || strings.ContainsRune(`:\/?*[]'`, r) {
			return '_'
		}
		return r
	}, strings.TrimSpace(name))
	const most = 31 // characters of the name of a sheet
	if r := []rune(clean); len(r) > most {
		clean = string(r[:most])
	}
	if clean == "" || used[strings.ToLower(clean)] || strings.EqualFold(clean, "history") {
		clean = fmt.Sprintf("Sheet %d", i+1)
		for used[strings.ToLower(clean)] {
			clean += "_"
		}
	}
	used[strings.ToLower(clean)] = true
	return clean
}

func (b *book) setoutSheet(res *qa.SetoutResult, s *qa.SetoutSheet, name string) error {
	run, columns := s.Of.Run(), setoutColumns(s)
	heads := []string{"Place", "Chainage", "Easting", "Northing"}
	widths := []float64{16, 12, 15, 15}
	if !run {
		heads, widths = []string{"Point", "Easting", "Northing"}, []float64{16, 15, 15}
	}
	for i := range columns {
		heads, widths = append(heads, columns[i].head), append(widths, 11)
	}
	heads, widths = append(heads, "Remark"), append(widths, 60)
	w, err := b.sheet(name, widths, 0)
	if err != nil {
		return err
	}
	n := 0
	about := [][2]string{{"", setoutJob(res)}, {"What", s.What}, {"Date", s.Date}, {"Plane", s.Plane}, {"Figures", setoutLevels(res)}}
	if err := row(w, &n, b.text("title", s.Of.Name)); err != nil {
		return err
	}
	for _, x := range about {
		if x[1] == "" {
			continue
		}
		if err := row(w, &n, b.cell("label", x[0]), b.text("cell", x[1])); err != nil {
			return err
		}
	}
	// what is above the rows repeats on every printed page
	if err := b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: fmt.Sprintf("'%s'!$1:$%d", name, n+1), Scope: name}); err != nil {
		return err
	}
	cells := make([]any, len(heads))
	for i, h := range heads {
		cells[i] = b.cell("head", h)
	}
	n++
	if err := w.SetRow(fmt.Sprintf("A%d", n), cells, excelize.RowOpts{Height: 45}); err != nil { // three lines of heading
		return err
	}
	for i := range s.Rows {
		if i > 0 && i%SetoutRows == 0 {
			if err := w.InsertPageBreak(fmt.Sprintf("A%d", n+1)); err != nil {
				return err
			}
		}
		if err := row(w, &n, b.setoutCells(res, s, columns, &s.Rows[i])...); err != nil {
			return err
		}
	}
	n++
	var remarks []string
	if s.Why != "" {
		remarks = append(remarks, "Nothing is set out: "+s.Why)
	}
	for _, t := range slices.Concat(remarks, s.Warnings, s.Remarks, []string{SetoutCautions}) {
		if err := row(w, &n, b.text("cell", t)); err != nil {
			return err
		}
	}
	return w.Flush()
}

func (b *book) setoutCells(res *qa.SetoutResult, s *qa.SetoutSheet, columns []setoutColumn, r *qa.SetoutRow) []any {
	u := res.Frame.Unit
	cells := []any{b.text("cell", r.Name)}
	if s.Of.Run() {
		chainage := b.length("level", r.Chainage.Set, r.Chainage.L, u)
		if s.Of.Station != nil {
			chainage = b.cell("cell", s.ChainageOf(r, u))
		}
		cells = append(cells, chainage)
	}
	cells = append(cells, b.text("cell", coordinate(r, res.Frame.Easting, u)), b.text("cell", coordinate(r, res.Frame.Northing, u)))
	for i := range columns {
		v, in := columns[i].value(r), u
		style := "level"
		if columns[i].mm {
			style, in = "mm", unit.MM
		}
		if !v.Set {
			cells = append(cells, b.cell("open", "not known"))
			continue
		}
		cells = append(cells, b.length(style, true, v.L, in))
	}
	return append(cells, b.text("cell", strings.Join(r.Remarks, "; ")))
}

func (b *book) setoutBasis(res *qa.SetoutResult) error {
	s, err := b.sheet("Basis", []float64{14, 34, 110}, 1)
	if err != nil {
		return err
	}
	n := 0
	if err := row(s, &n, b.cell("head", "Kind"), b.cell("head", "Place"), b.cell("head", "Text")); err != nil {
		return err
	}
	for _, l := range []struct {
		kind string
		list []formats.Problem
	}{{"problem", res.Problems}, {"note", res.Notes}} {
		for _, p := range l.list {
			if err := row(s, &n, b.cell("cell", l.kind), b.text("text", p.Pos.String()), b.text("text", fieldAnd(p))); err != nil {
				return err
			}
		}
	}
	for _, in := range res.Inputs {
		if err := row(s, &n, b.cell("cell", "input"), b.text("text", in.File), b.cell("text", in.Role+", "+in.Format+", SHA-256 "+in.SHA256)); err != nil {
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

// fieldAnd is the text of a problem with its field before it.
func fieldAnd(p formats.Problem) string {
	if p.Field == "" {
		return p.Text
	}
	return p.Field + ": " + p.Text
}
