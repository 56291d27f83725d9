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

// sag is one of the three numbers of a pipe, where it is worst: diff is minus the
// depth, and above 0 where the pipe does not come down to the line.
type sag struct {
	name            string // of the figure
	limit           *SizeLimit
	why             string  // why there is no number
	at              *onPipe // where it is worst; nil where there is no number
	high            *onPipe // the highest invert downstream of that shot
	reference, diff unit.Length
}

// worst keeps a shot that lies deeper than those before it.
func (s *sag) worst(o *onPipe, reference unit.Length, high *onPipe) {
	if d := o.invert - reference; s.at == nil || d < s.diff {
		s.at, s.high, s.reference, s.diff = o, high, reference, d
	}
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

// sags are the three numbers of a pipe with shots: below design, below the line
// between the built ends, ponded depth.
func (m *pipeMeasurer) sags(i int) (out [3]sag) {
	on, p := m.on[i], &m.network.Pipes[i]
	var limit SagLimits
	if m.params.Sag != nil {
		limit = *m.params.Sag
	}
	out[0].name, out[0].limit = "sag below design", limit.BelowDesign
	out[1].name, out[1].limit = "sag below line between built ends", limit.BelowLine
	out[2].name, out[2].limit = "ponded depth", limit.Ponded
	if m.between(i) == 0 {
		for k := range out {
			out[k].why = "shots at the ends only, a sag between them cannot be seen"
		}
		return out
	}
	us, ds, why := m.ends(i)
	out[1].why = why
	var high *onPipe // the highest invert downstream of the shot
	for k := len(on) - 1; k >= 0; k-- {
		o := &on[k]
		if high == nil || o.invert >= high.invert {
			high = o
		}
		out[0].worst(o, p.InvertAt(o.along), high)
		if why == "" && !m.atEnd(i, o.along) {
			out[1].worst(o, lineAt(us, ds, o.along), high)
		}
		out[2].worst(o, high.invert, high)
	}
	return out
}

// sagRow is the row of number k of a pipe, where there is one.
func (m *pipeMeasurer) sagRow(i, k int, s *sag) qa.Row {
	r := m.row(qa.QuantitySag, i, s.at)
	r.Design, r.Measured, r.Diff, r.Compared = s.reference, s.at.invert, s.diff, true
	line := ""
	switch k {
	case 0:
		r.DesignAt, r.Reason, line = "pipe "+r.Pipe, "deepest of the pipe below design", "its design"
		r.U, r.HasU = s.at.shot.Worth.Uncertainty()
	case 1:
		us, ds, _ := m.ends(i)
		r.DesignAt, line = qa.LineFrom+us.shot.ID+" to "+ds.shot.ID, "the line between its built ends"
		r.Reason = "deepest below the line between the built ends " + us.shot.ID + " and " + ds.shot.ID
		r.U, r.HasU = offLine(us, s.at, ds)
	default:
		r.DesignAt, r.Reason = "shot "+s.high.shot.ID+", "+s.high.shot.Pos.String(), "no water stands"
		if s.diff < 0 {
			r.Reason = fmt.Sprintf("water stands %s mm deep%s", (-s.diff).Fixed(unit.MM, 0), m.shareOfBore(i, -s.diff))
		}
		r.U, r.HasU = s.at.shot.Worth.UncertaintyTo(s.high.shot.Worth)
	}
	if s.diff > 0 { // never of the ponded depth
		r.Reason = "the pipe does not come down to " + line
	}
	return r
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
	sags := m.sags(i)
	for k := range sags {
		s := &sags[k]
		if s.limit == nil {
			m.sagFigure(i, s)
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
		r := m.sagRow(i, k, s)
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
	if s.why != "" || s.at == nil {
		return
	}
	depth := max(0, -s.diff)
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
		line := lineAt(us, ds, o.along)
		highest = max(highest, o.invert-line)
		if m.params.InvertLine == nil {
			continue
		}
		r := m.row(qa.QuantityInvertLine, i, o)
		r.Design, r.Measured = line, o.invert
		r.Diff, r.Compared, r.DesignAt = r.Measured-r.Design, true, qa.LineFrom+us.shot.ID+" to "+ds.shot.ID
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
