package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sightrail/formats/unit"
	"sightrail/qa"
)

// column is one column of results.csv: a text, or a number.
type column struct {
	name string
	// text gives a text of a file or of the job. words gives one that the program
	// wrote itself, which needs no quotes in CSV. number appends one that is a
	// number, nothing where there is none. Exactly one of them is set.
	text, words func(t *teller, r *qa.Row) string
	number      func(t *teller, b []byte, r *qa.Row) []byte
	grades      bool // in place of the number, of a row that is a grade, CSV has it in words
	asked       bool // only when it is asked for by name
	written     writtenAs
}

// writtenAs tells what of the input a column shows, or which number it shares with
// another report.
type writtenAs uint8

const (
	notWritten writtenAs = iota
	writtenEasting
	writtenNorthing
	writtenLevel
	writtenName
	writtenCode
	writtenVerdict
	sharedDesign
	sharedDiff
)

// teller prints what a row says, in the frame and under the checks of a run.
type teller struct {
	res  *qa.Result
	unit unit.Unit
}

func newTeller(res *qa.Result) *teller { return &teller{res, res.Frame.Unit} }

func (t *teller) common(r *qa.Row) (name, element string) {
	if r.Check < 0 {
		return "", ""
	}
	c := &t.res.Checks[r.Check].Common
	return c.Name, c.Element
}

// length appends a length in the unit of the job, with three decimals or more.
func (t *teller) length(b []byte, set bool, l unit.Length) []byte {
	if !set {
		return b
	}
	return l.AppendExact(b, t.unit, 3)
}

func millimetres(b []byte, set bool, l unit.Length) []byte {
	if !set {
		return b
	}
	return l.AppendExact(b, unit.MM, 0)
}

// judged reports whether a row was compared by its level or length.
func judged(r *qa.Row) bool { return r.Compared && !r.Graded() }

// columns of results.csv, in order.
var columns = []column{
	{name: "check", text: func(t *teller, r *qa.Row) string { n, _ := t.common(r); return n }},
	{name: "element", text: func(t *teller, r *qa.Row) string { _, e := t.common(r); return e }},
	{name: "lot", text: func(_ *teller, r *qa.Row) string { return r.Shot.Lot }},
	{name: "quantity", words: func(_ *teller, r *qa.Row) string { return string(r.Quantity) }},
	{name: "point", written: writtenName, text: func(_ *teller, r *qa.Row) string { return r.Shot.ID }},
	{name: "code", written: writtenCode, text: func(_ *teller, r *qa.Row) string { return r.Shot.Code }},
	{name: "run", text: func(_ *teller, r *qa.Row) string { return r.Shot.Run }},
	{name: "verdict", written: writtenVerdict, words: func(_ *teller, r *qa.Row) string { return VerdictWord(r) }},
	{name: "use", words: func(_ *teller, r *qa.Row) string { return useWord(r) }},
	{name: "easting", written: writtenEasting, number: func(t *teller, b []byte, r *qa.Row) []byte {
		if !r.Shot.Placed {
			return b
		}
		return t.res.Frame.AppendEasting(b, r.Shot.Place, 3)
	}},
	{name: "northing", written: writtenNorthing, number: func(t *teller, b []byte, r *qa.Row) []byte {
		if !r.Shot.Placed {
			return b
		}
		return t.res.Frame.AppendNorthing(b, r.Shot.Place, 3)
	}},
	{name: "chainage", number: func(t *teller, b []byte, r *qa.Row) []byte { return t.length(b, r.Shot.Chained, r.Shot.Chainage) }},
	{name: "offset", number: func(t *teller, b []byte, r *qa.Row) []byte { return t.length(b, r.Shot.Chained, r.Shot.Offset) }},
	{name: "pipe", text: func(_ *teller, r *qa.Row) string { return r.Pipe }},
	{name: "along", number: func(t *teller, b []byte, r *qa.Row) []byte { return t.length(b, r.OnPipe, r.Along) }},
	{name: "design", written: sharedDesign, grades: true, number: func(t *teller, b []byte, r *qa.Row) []byte {
		return t.length(b, judged(r) && !r.Quantity.Alone(), r.Design)
	}},
	{name: "measured", written: writtenLevel, grades: true, number: func(t *teller, b []byte, r *qa.Row) []byte {
		if judged(r) {
			return r.Measured.AppendExact(b, t.unit, 3)
		}
		return t.length(b, !r.Graded() && r.Shot.Levelled, r.Shot.Level)
	}},
	{name: "diff_mm", written: sharedDiff, number: func(_ *teller, b []byte, r *qa.Row) []byte { return millimetres(b, judged(r), r.Diff) }},
	{name: "u_mm", number: func(_ *teller, b []byte, r *qa.Row) []byte {
		if !r.Graded() && !r.Compared {
			return b
		}
		return appendUncertainty(b, r)
	}},
	{name: "lower_mm", number: func(_ *teller, b []byte, r *qa.Row) []byte {
		return millimetres(b, judged(r) && r.Limits.HasLower, r.Limits.Lower)
	}},
	{name: "upper_mm", number: func(_ *teller, b []byte, r *qa.Row) []byte {
		return millimetres(b, judged(r) && r.Limits.HasUpper, r.Limits.Upper)
	}},
	{name: "beyond_mm", number: func(_ *teller, b []byte, r *qa.Row) []byte { return millimetres(b, r.Beyond != 0, r.Beyond) }},
	{name: "action", words: func(_ *teller, r *qa.Row) string { return r.Action }},
	{name: "reason", text: func(_ *teller, r *qa.Row) string { return r.Reason }},
	{name: "note", text: func(_ *teller, r *qa.Row) string { return r.Note }},
	{name: "ncr_no", text: func(_ *teller, r *qa.Row) string { return ncrNo(r) }},
	{name: "status", words: func(_ *teller, r *qa.Row) string { return ncrStatus(r) }},
	{name: "supersedes", text: func(_ *teller, r *qa.Row) string { return supersedes(r) }},
	{name: "concession", text: func(_ *teller, r *qa.Row) string { return conceded(r) }},
	{name: "design_at", text: func(_ *teller, r *qa.Row) string { return r.Origin() }},
	{name: "tolerance_source", text: func(_ *teller, r *qa.Row) string { return r.Limits.Source }},
	{name: "file", text: func(_ *teller, r *qa.Row) string { return r.Shot.Pos.File }},
	{name: "part", text: func(_ *teller, r *qa.Row) string { return r.Shot.Pos.Part }},
	{name: "cell", words: func(_ *teller, r *qa.Row) string { return r.Shot.Pos.Cell() }},
	{name: "design_grade", asked: true, words: func(_ *teller, r *qa.Row) string { return gradeWord(r, 0) }},
	{name: "built_grade", asked: true, words: func(_ *teller, r *qa.Row) string { return gradeWord(r, 1) }},
}

// gradeWord is the design fall (0) or the one as built (1) in words; "" of a row
// that is no grade.
func gradeWord(r *qa.Row, which int) string {
	if !r.Graded() {
		return ""
	}
	design, built := r.GradeWords()
	return [2]string{design, built}[which]
}

// ColumnNames are the columns that may be asked for.
func ColumnNames() []string {
	var names []string
	for i := range columns {
		names = append(names, columns[i].name)
	}
	return names
}

// chosenColumns are the columns by their names, in the order asked for; without
// names all that are not only for those who ask. An unknown or repeated name is an
// error.
func chosenColumns(names []string) ([]column, error) {
	var out []column
	if len(names) == 0 {
		for _, c := range columns {
			if !c.asked {
				out = append(out, c)
			}
		}
		return out, nil
	}
	for i, n := range names {
		k := slices.IndexFunc(columns, func(c column) bool { return c.name == n })
		if k < 0 {
			return nil, fmt.Errorf("there is no column %q; there are %s", n, strings.Join(ColumnNames(), ", "))
		}
		if slices.Contains(names[:i], n) {
			return nil, fmt.Errorf("the column %q is asked for twice", n)
		}
		out = append(out, columns[k])
	}
	return out, nil
}

// CheckColumns says what is wrong with a list of columns.
func CheckColumns(names []string) error {
	_, err := chosenColumns(names)
	return err
}

// appendCSV appends one cell of a row as CSV has it.
func (c *column) appendCSV(b []byte, t *teller, r *qa.Row) []byte {
	switch {
	case c.text != nil:
		return appendText(b, c.text(t, r))
	case c.words != nil:
		return append(b, c.words(t, r)...)
	case c.grades && r.Graded():
		which := 0
		if c.name == "measured" {
			which = 1
		}
		return append(b, gradeWord(r, which)...)
	}
	return c.number(t, b, r)
}

// appendJSON appends the value of a row as JSON has it; null where there is none.
func (c *column) appendJSON(b []byte, t *teller, r *qa.Row) []byte {
	switch {
	case c.text != nil:
		return textOrNull(b, c.text(t, r))
	case c.words != nil:
		return textOrNull(b, c.words(t, r))
	}
	n := len(b)
	if b = c.number(t, b, r); len(b) == n {
		b = append(b, "null"...)
	}
	return b
}

// appendUncertainty appends the standard uncertainty of a row in mm, with a
// hundredth; nothing when it is not known.
func appendUncertainty(b []byte, r *qa.Row) []byte {
	if !r.HasU {
		return b
	}
	return strconv.AppendFloat(b, r.U, 'f', 2, 64)
}
