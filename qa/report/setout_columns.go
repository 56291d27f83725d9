package report

import (
	"io"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// SetoutKind is one way the set-out sheets of a job are written.
type SetoutKind struct {
	File  string // "setout.html"
	Doc   string
	Write func(w io.Writer, res *qa.SetoutResult) error
}

// SetoutKinds lists them.
var SetoutKinds = []*SetoutKind{SetoutPages, SetoutWorkbook, SetoutCSV}

// setoutColumn is one figure of a set-out sheet, as page and workbook head it.
type setoutColumn struct {
	head  string
	value func(*qa.SetoutRow) levels.Value
	mm    bool // in millimetres with its sign; else in the unit of the job
	book  bool // in the workbook only: the page has no room for it
}

// setoutColumns are the figures that a sheet has. A figure that nothing in the
// job asks for is left out; one that is asked for and not known is shown as such.
func setoutColumns(s *qa.SetoutSheet) []setoutColumn {
	run := s.Of.Run()
	var out []setoutColumn
	add := func(shown bool, c setoutColumn) {
		if shown {
			out = append(out, c)
		}
	}
	design, staff := "Design level", "Staff reading"
	if run {
		design, staff = "Invert", "Staff on invert"
	}
	add(true, setoutColumn{head: design, value: func(r *qa.SetoutRow) levels.Value { return r.Design }})
	add(run && s.Of.Bedding != nil, setoutColumn{head: "Trench bottom", value: func(r *qa.SetoutRow) levels.Value { return r.TrenchBottom }})
	add(s.HasTop, setoutColumn{head: "Top of pipe", value: func(r *qa.SetoutRow) levels.Value { return r.Top }, book: true})
	add(s.Of.Laser != "", setoutColumn{head: "Plane", value: func(r *qa.SetoutRow) levels.Value { return r.Plane }, book: true})
	add(s.Of.Laser != "", setoutColumn{head: staff, value: func(r *qa.SetoutRow) levels.Value { return r.StaffDesign }})
	add(s.Of.Laser != "" && run && s.Of.Bedding != nil, setoutColumn{head: "Staff on trench bottom", value: func(r *qa.SetoutRow) levels.Value { return r.StaffTrench }})
	add(s.Of.Receiver != nil, setoutColumn{head: "Receiver over plane mm", value: func(r *qa.SetoutRow) levels.Value { return r.Receiver }, mm: true})
	add(s.Of.Traveller != nil, setoutColumn{head: "Sight rail", value: func(r *qa.SetoutRow) levels.Value { return r.Rail }})
	add(s.Of.Traveller != nil && s.Of.Ground != nil, setoutColumn{head: "Rail over ground", value: func(r *qa.SetoutRow) levels.Value { return r.RailOverGround }})
	add(s.Of.Ground != nil, setoutColumn{head: "Ground", value: func(r *qa.SetoutRow) levels.Value { return r.Ground }})
	add(s.Of.Ground != nil, setoutColumn{head: "Dig", value: func(r *qa.SetoutRow) levels.Value { return r.Dig }})
	return out
}

// print writes a figure as the page has it: to a millimetre, or a thousandth of
// a foot. "" is not known.
func (c *setoutColumn) print(r *qa.SetoutRow, u unit.Unit) string {
	v := c.value(r)
	switch {
	case !v.Set:
		return ""
	case c.mm:
		s := v.L.Fixed(unit.MM, 0)
		if v.L > 0 && s != "0" {
			s = "+" + s
		}
		return s
	}
	return v.L.Fixed(u, qa.Places(u))
}

// setoutJob says in one line whose sheet it is.
func setoutJob(res *qa.SetoutResult) string {
	j := res.Job
	s := j.Project
	for _, x := range [][2]string{{"contract ", j.Contract}, {"lot ", j.Lot}, {"design revision ", j.Revision}, {"by ", j.Company}} {
		if x[1] != "" {
			s += "; " + x[0] + x[1]
		}
	}
	return s
}

// setoutLevels says what the figures are in.
func setoutLevels(res *qa.SetoutResult) string {
	s := "levels in " + res.Frame.Unit.Name + " above " + res.Frame.Datum
	if res.Frame.Grid != "" {
		s += "; grid " + res.Frame.Grid
	}
	return s
}

// coordinate prints a coordinate of a row rounded to the decimals of levels: a
// place on a pipe has no end of them. "" is not known.
func coordinate(r *qa.SetoutRow, print func(convert.Place, int) string, u unit.Unit) string {
	if !r.Placed {
		return ""
	}
	places := qa.Places(u)
	step := u.Size
	for range places {
		step /= 10
	}
	nearest := func(l unit.Length) unit.Length {
		if rest := l % step; rest.Abs() >= step-rest.Abs() {
			l += unit.Length(l.Sign()) * step
		}
		return l - l%step
	}
	return print(convert.Place{E: nearest(r.Place.E), N: nearest(r.Place.N)}, places)
}
