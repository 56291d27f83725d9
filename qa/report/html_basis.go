package report

import (
	"strconv"

	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// basis is what the results rest on.
type basis struct {
	Frame       []fact
	Marks       []basisMark
	Instruments []basisInstrument
	People      []fact
	Method      []fact
	Missing     []string
}

type basisMark struct{ Name, Level, Easting, Northing, Source, Date string }

type basisInstrument struct{ Name, Type, Serial, Checked, Result string }

// notSupplied stands where evidence is wanting.
const notSupplied = "not supplied"

func orMissing(s string) string {
	if s == "" {
		return notSupplied
	}
	return s
}

func (p *page) newBasis() basis {
	j, f := p.Res.Job, &p.Res.Frame
	b := basis{Missing: p.Res.Missing}
	b.Frame = []fact{{"Plan grid", orMissing(f.Grid)}, {"Height datum", orMissing(f.Datum)}, {"Units of places and levels", f.Unit.Word + " (" + f.Unit.Name + ")"},
		{"Units of differences", "millimetre (mm)"}}
	for i := range j.BenchMarks {
		m := &j.BenchMarks[i]
		line := basisMark{Name: m.Name, Level: m.Level.Exact(f.Unit, levelPlaces), Source: m.Source, Date: m.Date}
		if m.Easting != nil && m.Northing != nil {
			line.Easting, line.Northing = m.Easting.String(), m.Northing.String()
		}
		b.Marks = append(b.Marks, line)
	}
	for i := range j.Instruments {
		in := &j.Instruments[i]
		b.Instruments = append(b.Instruments, basisInstrument{in.Name, orMissing(in.Type), orMissing(in.Serial), orMissing(in.Checked), resultOf(in)})
	}
	b.People = []fact{{"Observer", orMissing(j.People.Observer)}, {"Booker", orMissing(j.People.Booker)}, {"Checker", orMissing(j.People.Checker)}, {"Approver", orMissing(j.People.Approver)}}
	judged := "raw"
	if j.Levelling.Judge != "" {
		judged = j.Levelling.Judge
	}
	limit := func(l *unit.Length) string {
		if l == nil {
			return ""
		}
		return l.Exact(unit.MM, 0) + " mm"
	}
	var level, plan *unit.Length
	if j.CheckShots.Level != nil {
		level = &j.CheckShots.Level.Length
	}
	if j.CheckShots.Plan != nil {
		plan = &j.CheckShots.Plan.Length
	}
	b.Method = facts(fact{"Closing rule", j.Levelling.Closing.Text}, fact{"Closing rule set by", j.Levelling.Source}, fact{"Levels judged", judged},
		fact{"Check shots, level within", limit(level)}, fact{"Check shots, plan within", limit(plan)}, fact{"Check shots set by", j.CheckShots.Source},
		fact{"Acceptance", acceptanceRules(j)}, fact{"Software", "sightrail " + p.Res.Version})
	return b
}

// resultOf is the result of an instrument's last check, or where it is shown.
func resultOf(in *job.Instrument) string {
	if in.Result == "" && (in.TwoPeg != nil || in.Rotating != nil) {
		return "see instrument tests"
	}
	return orMissing(in.Result)
}

// inputLine is one file that was read.
type inputLine struct{ File, Role, Format, Bytes, SHA256 string }

func inputLines(in []qa.Input) []inputLine {
	var out []inputLine
	for _, i := range in {
		out = append(out, inputLine{i.File, i.Role, i.Format, strconv.FormatInt(i.Bytes, 10), i.SHA256})
	}
	return out
}
