package report

import (
	"io"
	"strings"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// SetoutCSV is setout.csv: every row of every sheet. Figures are exact, plain
// decimals with a point; what is not known is empty. Text of input files is inert
// as in results.csv.
var SetoutCSV = &SetoutKind{File: "setout.csv", Doc: "every row of every sheet, for any program", Write: writeSetoutCSV}

var setoutCSVColumns = []string{"sheet", "point", "pipe", "chainage", "station", "easting", "northing", "unit", "design", "trench_bottom", "top_of_pipe", "plane", "staff_on_design",
	"staff_on_trench_bottom", "receiver_over_plane_mm", "sight_rail", "rail_over_ground", "ground", "dig", "remark", "design_at", "ground_at", "laser", "date"}

// setoutWriter writes the cells of setout.csv.
type setoutWriter struct {
	frame *convert.Frame
	buf   []byte
}

// text appends a text of a file, made inert, and a comma.
func (c *setoutWriter) text(s string) { c.buf = append(appendText(c.buf, s), ',') }

// raw appends what the program wrote itself, and a comma.
func (c *setoutWriter) raw(s string) { c.buf = append(append(c.buf, s...), ',') }

func (c *setoutWriter) lengthIf(set bool, l unit.Length, least int) {
	if set {
		c.buf = l.AppendExact(c.buf, c.frame.Unit, least)
	}
	c.buf = append(c.buf, ',')
}

func writeSetoutCSV(w io.Writer, res *qa.SetoutResult) error {
	c := &setoutWriter{frame: &res.Frame}
	c.buf = append(c.buf, strings.Join(setoutCSVColumns, ",")+"\n"...)
	for i := range res.Sheets {
		s := &res.Sheets[i]
		for k := range s.Rows {
			c.setoutRow(s, &s.Rows[k])
		}
		if len(s.Rows) == 0 {
			c.text(s.Of.Name)
			c.raw(strings.Repeat(",", 17))
			c.text("nothing is set out: " + s.Why)
			c.raw(",")
			c.text(s.Of.Laser)
			c.end(s.Date)
		}
	}
	_, err := w.Write(c.buf)
	return err
}

func (c *setoutWriter) setoutRow(s *qa.SetoutSheet, r *qa.SetoutRow) {
	u := c.frame.Unit
	value := func(v levels.Value) { c.lengthIf(v.Set, v.L, qa.Places(u)) }
	c.text(s.Of.Name)
	c.text(r.Name)
	c.text(r.Pipe)
	value(r.Chainage)
	if s.Of.Station != nil {
		c.raw(s.ChainageOf(r, u))
	} else {
		c.raw("")
	}
	if r.Placed {
		c.raw(c.frame.Easting(r.Place, 3))
		c.raw(c.frame.Northing(r.Place, 3))
	} else {
		c.raw(",")
	}
	c.raw(u.Name)
	for _, v := range []levels.Value{r.Design, r.TrenchBottom, r.Top, r.Plane, r.StaffDesign, r.StaffTrench} {
		value(v)
	}
	if r.Receiver.Set {
		c.raw(r.Receiver.L.Exact(unit.MM, 0))
	} else {
		c.raw("")
	}
	for _, v := range []levels.Value{r.Rail, r.RailOverGround, r.Ground, r.Dig} {
		value(v)
	}
	c.text(strings.Join(r.Remarks, "; "))
	c.text(r.DesignAt)
	c.text(r.GroundAt)
	c.text(s.Of.Laser)
	c.end(s.Date)
}

// end writes the last cell of a line.
func (c *setoutWriter) end(s string) { c.buf = append(appendText(c.buf, s), '\n') }
