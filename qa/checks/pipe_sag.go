package checks

import (
	"fmt"
	"math"

	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// SagLimits are how deep a pipe may hang, by each of the three numbers.
type SagLimits struct {
	BelowDesign *SizeLimit `yaml:"belowDesign,omitempty" json:"belowDesign,omitempty" jsonschema:"description=Deepest allowed below the design invert such as 20 mm or 5 % of bore"`
	BelowLine   *SizeLimit `yaml:"belowLine,omitempty" json:"belowLine,omitempty" jsonschema:"description=Deepest allowed below the straight line between the built ends"`
	Ponded      *SizeLimit `yaml:"ponded,omitempty" json:"ponded,omitempty" jsonschema:"description=Deepest water that may stand: highest invert downstream minus the low one"`
	Source      string     `yaml:"source" json:"source" jsonschema:"required,description=Clause or drawing that sets these limits"`
}

// Validate asks for a limit, without a sign.
func (l *SagLimits) Validate() (f []job.Fault) {
	given := false
	for _, x := range []struct {
		key string
		l   *SizeLimit
	}{{"belowDesign", l.BelowDesign}, {"belowLine", l.BelowLine}, {"ponded", l.Ponded}} {
		given = given || x.l != nil
		if x.l != nil && x.l.Below {
			f = append(f, job.Fault{Key: x.key, Text: "a sag is a depth and has no minus sign"})
		}
	}
	if !given {
		f = append(f, job.Fault{Text: "there is no limit here; give belowDesign, belowLine or ponded"})
	}
	return f
}

// sag is one of the three numbers of a pipe, where it is worst: Diff is minus the
// depth, and above 0 where the pipe does not come down to the line.
type sag struct {
	name  string // of the figure
	limit *SizeLimit
	row   qa.Row
	why   string // why there is no number
}

// lineAt is the level of the straight line between two shots.
func lineAt(us, ds *onPipe, along unit.Length) unit.Length {
	if ds.along == us.along {
		return us.invert
	}
	return us.invert - unit.MulDiv(along-us.along, us.invert-ds.invert, ds.along-us.along)
}

// offLine is the standard uncertainty of the level of a shot against the line
// between two others, with what the three levels share. The weights of the three
// add up to nought, so that it follows from the uncertainties of their differences.
func offLine(us, o, ds *onPipe) (mm float64, ok bool) {
	if ds.along == us.along {
		return 0, false
	}
	toUS, ok1 := o.shot.Worth.UncertaintyTo(us.shot.Worth)
	toDS, ok2 := o.shot.Worth.UncertaintyTo(ds.shot.Worth)
	between, ok3 := us.shot.Worth.UncertaintyTo(ds.shot.Worth)
	t := (o.along - us.along).Metres() / (ds.along - us.along).Metres()
	v := (1-t)*toUS*toUS + t*toDS*toDS - t*(1-t)*between*between
	return math.Sqrt(max(0, v)), ok1 && ok2 && ok3
}

// sags are the three numbers of a pipe with shots.
func (m *pipeMeasurer) sags(i int) []sag {
	on, p := m.on[i], &m.network.Pipes[i]
	var limit SagLimits
	if m.params.Sag != nil {
		limit = *m.params.Sag
	}
	out := []sag{{name: "sag below design", limit: limit.BelowDesign}, {name: "sag below line between built ends", limit: limit.BelowLine}, {name: "ponded depth", limit: limit.Ponded}}
	us, ds, why := m.ends(i)
	if m.between(i) == 0 {
		for k := range out {
			out[k].why = "shots at the ends only, a sag between them cannot be seen"
		}
		return out
	}
	out[1].why = why
	deepest := func(s *sag, o *onPipe, reference unit.Length, from string, u float64, hasU bool) {
		d := o.invert - reference
		if s.row.Compared && s.row.Diff <= d {
			return
		}
		s.row = m.row(qa.QuantitySag, i, o)
		s.row.Design, s.row.Measured, s.row.Diff, s.row.Compared = reference, o.invert, d, true
		s.row.DesignAt, s.row.U, s.row.HasU = from, u, hasU
	}
	var high *onPipe // the highest invert downstream of the shot
	for k := len(on) - 1; k >= 0; k-- {
		o := &on[k]
		u, hasU := o.shot.Worth.Uncertainty()
		deepest(&out[0], o, p.InvertAt(o.along), "pipe "+p.Name, u, hasU)
		if why == "" && !m.atEnd(i, o.along) {
			u, hasU = offLine(us, o, ds)
			deepest(&out[1], o, lineAt(us, ds, o.along), qa.LineFrom+us.shot.ID+" to "+ds.shot.ID, u, hasU)
		}
		if high == nil || o.invert >= high.invert {
			high = o
		}
		u, hasU = o.shot.Worth.UncertaintyTo(high.shot.Worth)
		deepest(&out[2], o, high.invert, "shot "+high.shot.ID+", "+high.shot.Pos.String(), u, hasU)
	}
	out[0].row.Reason = "deepest of the pipe below design"
	if out[1].row.Compared {
		out[1].row.Reason = "deepest below the line between the built ends " + us.shot.ID + " and " + ds.shot.ID
	}
	out[2].row.Reason = "no water stands"
	if d := out[2].row.Diff; d < 0 {
		out[2].row.Reason = fmt.Sprintf("water stands %s mm deep%s", (-d).Fixed(unit.MM, 0), m.shareOfBore(i, -d))
	}
	for k := range out {
		if r := &out[k].row; r.Compared && r.Diff > 0 {
			r.Reason = "the pipe does not come down to " + map[int]string{0: "its design", 1: "the line between its built ends"}[k]
		}
	}
	return out
}

// shareOfBore is a depth in percent of the bore, in words.
func (m *pipeMeasurer) shareOfBore(i int, depth unit.Length) string {
	if m.sizes[i].bore <= 0 {
		return ""
	}
	return fmt.Sprintf(", %.1f %% of the bore", 100*float64(depth)/float64(m.sizes[i].bore))
}

// sagRows judges the numbers that have a limit. The others are figures.
func (m *pipeMeasurer) sagRows(i int) (rows []qa.Row) {
	for _, s := range m.sags(i) {
		if s.limit == nil {
			m.sagFigure(i, &s)
			continue
		}
		lower := s.limit.Size
		lower.Below = true
		tol, why := m.sizes[i].tolerance(limits.SizeTolerance{Lower: lower, HasLower: true, Source: m.params.Sag.Source})
		if s.why != "" || why != "" {
			r := m.none(qa.QuantitySag, i, s.name+": "+s.why)
			if s.why == "" {
				r.Reason = s.name + ": " + why
			}
			rows = append(rows, r)
			continue
		}
		r := s.row
		r.Limits = tol
		r.Verdict, r.Beyond = tol.Judge(r.Diff)
		if r.Verdict == limits.Fail {
			r.Action = tol.PipeAction(r.Diff)
		}
		rows = append(rows, r)
	}
	return rows
}

// sagFigure tells a number that no limit judges.
func (m *pipeMeasurer) sagFigure(i int, s *sag) {
	if s.why != "" || !s.row.Compared {
		return
	}
	depth := max(0, -s.row.Diff)
	m.figure(i, s.name, depth)
	if s.name == "ponded depth" && m.sizes[i].bore > 0 {
		share := 100 * float64(depth) / float64(m.sizes[i].bore)
		m.figures = append(m.figures, qa.Figure{Of: m.network.Pipes[i].Name, Name: "ponded depth of bore", Value: share, Unit: "%", Print: fmt.Sprintf("%.1f", share)})
	}
}

// figure adds a length in millimetres to what is not judged.
func (m *pipeMeasurer) figure(i int, name string, l unit.Length) {
	m.figures = append(m.figures, qa.Figure{Of: m.network.Pipes[i].Name, Name: name, Value: l.Millimetres(), Unit: "mm", Print: l.Fixed(unit.MM, 0)})
}

// lineRows compares the shots between the ends with the straight line between the
// built ends: every one where the job limits it, else a figure of the highest. The
// lowest is a sag.
func (m *pipeMeasurer) lineRows(i int) (rows []qa.Row) {
	us, ds, why := m.ends(i)
	if m.params.InvertLine != nil {
		switch {
		case m.between(i) == 0:
			why = "shots at the ends only, the line between them cannot be judged"
		case why == "":
			why = m.invertLine[i].why
		}
		if why != "" {
			return append(rows, m.none(qa.QuantityInvertLine, i, why))
		}
	}
	if why != "" || m.between(i) == 0 {
		return nil
	}
	var highest unit.Length
	for k := range m.on[i] {
		o := &m.on[i][k]
		if m.atEnd(i, o.along) {
			continue
		}
		r := m.row(qa.QuantityInvertLine, i, o)
		r.Design, r.Measured = lineAt(us, ds, o.along), o.invert
		r.Diff, r.Compared, r.DesignAt = r.Measured-r.Design, true, qa.LineFrom+us.shot.ID+" to "+ds.shot.ID
		highest = max(highest, r.Diff)
		if m.params.InvertLine == nil {
			continue
		}
		r.U, r.HasU = offLine(us, o, ds)
		r.Limits = m.invertLine[i].Tolerance
		r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
		r.Reason = "off the line between the built ends " + us.shot.ID + " and " + ds.shot.ID
		if r.Verdict == limits.Fail {
			r.Action = r.Limits.PipeAction(r.Diff)
		}
		rows = append(rows, r)
	}
	if m.params.InvertLine == nil {
		m.figure(i, "highest above line between built ends", highest)
	}
	return rows
}
