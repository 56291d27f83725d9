package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// CSV is results.csv: every row of the run, as they come.
//
// Numbers are plain decimals with a point, differences and limits exact in
// millimetres. Text that came from a file and begins with = + - @ or a tab has
// an apostrophe before it, so that no spreadsheet takes it for a formula.
var CSV = &Kind{Name: "csv", File: "results.csv", Doc: "every row, one a line, for any program", Start: startCSV}

// columns of results.csv, in order.
var csvColumns = []string{"check", "element", "lot", "quantity", "point", "code", "run", "verdict", "use", "easting", "northing", "chainage", "offset", "pipe", "along",
	"design", "measured", "diff_mm", "u_mm", "lower_mm", "upper_mm", "beyond_mm", "action", "reason", "note", "ncr_no", "status", "supersedes", "concession", "design_at", "tolerance_source", "file", "part", "cell"}

type csvWriter struct {
	w   io.Writer
	res *qa.Result
	buf []byte
}

func startCSV(w io.Writer, head *qa.Result) (Writer, error) {
	c := &csvWriter{w: w, res: head}
	c.buf = append(c.buf, strings.Join(csvColumns, ",")...)
	c.buf = append(c.buf, '\n')
	return c, nil
}

// csvFlush is how much is gathered before it is written.
const csvFlush = 1 << 16

func (c *csvWriter) Rows(rows []qa.Row) error {
	for i := range rows {
		c.row(&rows[i])
		if len(c.buf) > csvFlush {
			if err := c.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

func (c *csvWriter) flush() error {
	_, err := c.w.Write(c.buf)
	c.buf = c.buf[:0]
	return err
}

func (c *csvWriter) Close(*qa.Result) error { return c.flush() }

// text appends a text of a file, made inert, and a comma.
func (c *csvWriter) text(s string) { c.buf = append(appendText(c.buf, s), ',') }

// raw appends what the program wrote itself, and a comma.
func (c *csvWriter) raw(s string) { c.buf = append(append(c.buf, s...), ',') }

// appendText appends one cell of text that came from a file: inert, and in
// quotes where CSV wants them.
func appendText(b []byte, s string) []byte {
	if s == "" {
		return b
	}
	dangerous := strings.IndexByte("=+-@\t\r", s[0]) >= 0
	if !strings.ContainsAny(s, ",\"\r\n") && s[0] != ' ' {
		if dangerous {
			b = append(b, '\'')
		}
		return append(b, s...)
	}
	b = append(b, '"')
	if dangerous {
		b = append(b, '\'')
	}
	b = append(b, strings.ReplaceAll(s, `"`, `""`)...)
	return append(b, '"')
}

func (c *csvWriter) row(r *qa.Row) {
	u := c.res.Frame.Unit
	s := &r.Shot
	name, element := "", ""
	if r.Check >= 0 {
		common := &c.res.Checks[r.Check].Common
		name, element = common.Name, common.Element
	}
	c.text(name)
	c.text(element)
	c.text(s.Lot)
	c.raw(string(r.Quantity))
	c.text(s.ID)
	c.text(s.Code)
	c.text(s.Run)
	c.raw(VerdictWord(r))
	c.raw(useWord(r))
	if s.Placed {
		c.raw(c.res.Frame.Easting(s.Place, 3))
		c.raw(c.res.Frame.Northing(s.Place, 3))
	} else {
		c.raw(",")
	}
	if s.Chained {
		c.raw(s.Chainage.Exact(u, 3))
		c.raw(s.Offset.Exact(u, 3))
	} else {
		c.raw(",")
	}
	c.text(r.Pipe)
	c.lengthIf(r.OnPipe, r.Along, 3)
	switch {
	case r.Graded():
		design, built := r.GradeWords()
		c.raw(design)
		c.raw(built)
		c.raw("")
		c.raw(uncertainty(r))
		c.raw(",")
	case r.Compared:
		c.lengthIf(!r.Quantity.Alone(), r.Design, 3)
		c.raw(r.Measured.Exact(u, 3))
		c.raw(r.Diff.Exact(unit.MM, 0))
		c.raw(uncertainty(r))
		c.millimetres(r.Limits.HasLower, r.Limits.Lower)
		c.millimetres(r.Limits.HasUpper, r.Limits.Upper)
	default:
		c.raw("")
		c.lengthIf(s.Levelled, s.Level, 3)
		c.raw(",,,")
	}
	c.millimetres(r.Beyond != 0, r.Beyond)
	c.raw(r.Action)
	c.text(r.Reason)
	c.text(r.Note)
	c.text(ncrNo(r))
	c.raw(ncrStatus(r))
	c.text(supersedes(r))
	c.text(conceded(r))
	c.text(r.DesignAt)
	c.text(r.Limits.Source)
	c.text(s.Pos.File)
	c.text(s.Pos.Part)
	c.buf = append(append(c.buf, s.Pos.Cell()...), '\n')
}

func (c *csvWriter) lengthIf(set bool, l unit.Length, least int) {
	if set {
		c.buf = append(c.buf, l.Exact(c.res.Frame.Unit, least)...)
	}
	c.buf = append(c.buf, ',')
}

func (c *csvWriter) millimetres(set bool, l unit.Length) {
	if set {
		c.buf = append(c.buf, l.Exact(unit.MM, 0)...)
	}
	c.buf = append(c.buf, ',')
}

// VerdictWord is the verdict of a row, or nothing where there is no check.
func VerdictWord(r *qa.Row) string {
	switch {
	case r.Check < 0 || control(r):
		return ""
	case superseded(r):
		return r.Shot.Use.String()
	}
	return r.Verdict.String()
}

// control reports whether a row is not judged itself because what is worked out
// rests on it.
func control(r *qa.Row) bool { return !r.Derived && r.Shot.Use == convert.Control }

// uncertainty prints the standard uncertainty of a row in mm, with a hundredth;
// "" when it is not known.
func uncertainty(r *qa.Row) string {
	if !r.HasU {
		return ""
	}
	return strconv.FormatFloat(r.U, 'f', 2, 64)
}

// useWord is what became of the row of input; a derived row is none.
func useWord(r *qa.Row) string {
	if r.Derived {
		return "derived"
	}
	return r.Shot.Use.String()
}

// Count writes a number with its thing: "1 shot", "3 shots".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%s %s", strconv.Itoa(n), many)
}
