package report

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"

	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// checkPart is what the page says of one check.
type checkPart struct {
	ID, Name, Title, Doc string
	Element              string
	Facts                []fact
	Counts               qa.Counts
	Class                string // of its verdict
	Stats                []fact
	Acceptance           *acceptPart  // nil where the job has no rule for it
	Figures              *figureTable // nil when there are none
	Remarks              []string
	Histogram            *drawing
	Plan                 *drawing
	NoPlan               string
	Sections             []drawing
	MoreSections         int
	Rows                 template.HTML
	RowCount             int
	RowsOpen             bool
	RowsMore             bool // results.csv has more
}

// openRows is how many rows of a table are shown without being asked for.
const openRows = 250

func checkID(i int) string { return "check-" + strconv.Itoa(i+1) }

// checkRows is one check of the result with the rows that belong to it.
type checkRows struct {
	res      *qa.Result
	index    int
	rows     []*qa.Row // of the kept rows, in order
	failures []*qa.Row // of the kept failures, in order
	limits   limits.Tolerance
}

func (c *checkRows) id() string              { return checkID(c.index) }
func (c *checkRows) result() *qa.CheckResult { return &c.res.Checks[c.index] }
func (c *checkRows) common() *job.Common     { return &c.res.Checks[c.index].Common }
func (c *checkRows) words(r *qa.Row) shown   { return show(r, &c.res.Frame) }

// split gives every check its rows, and the limits that its levels are judged
// by: those of the check, or else those of the first row that has any.
func split(res *qa.Result) []checkRows {
	out := make([]checkRows, len(res.Checks))
	for i := range out {
		out[i] = checkRows{res: res, index: i, limits: res.Checks[i].Limits}
	}
	for i := range res.Rows {
		r := &res.Rows[i]
		if r.Check < 0 || r.Check >= len(out) {
			continue
		}
		c := &out[r.Check]
		c.rows = append(c.rows, r)
		if !c.limits.Given() && !r.Derived {
			c.limits = r.Limits
		}
	}
	for i := range res.Failures {
		if r := &res.Failures[i]; r.Check >= 0 && r.Check < len(out) {
			out[r.Check].failures = append(out[r.Check].failures, r)
		}
	}
	return out
}

// checkParts describes the checks.
func (p *page) checkParts() []checkPart {
	var parts []checkPart
	for _, c := range split(p.Res) {
		parts = append(parts, c.part())
	}
	return parts
}

func (c *checkRows) part() checkPart {
	r := c.result()
	part := checkPart{ID: c.id(), Name: r.Common.Name, Element: r.Common.Element, Title: r.Kind.Title, Doc: r.Kind.Doc, Counts: r.Counts, Remarks: r.Remarks,
		Facts: c.facts(), Stats: statFacts(r), Figures: figuresOf(r.Figures), RowCount: len(c.rows), RowsOpen: len(c.rows) <= openRows, RowsMore: c.res.RowCount > len(c.res.Rows), Class: "open"}
	switch r.Verdict() {
	case qa.VerdictFail:
		part.Class = "fail"
	case qa.VerdictPass:
		part.Class = "pass"
	}
	part.Acceptance = acceptanceOf(r)
	part.Histogram = c.histogram()
	part.Plan, part.NoPlan = c.plan()
	part.Sections, part.MoreSections = c.sections()
	var m markup
	withU := hasU(c.res)
	for _, row := range c.rows {
		resultRow(&m, c.words(row), row, withU)
	}
	part.Rows = m.html()
	return part
}

// stageOffset is what parameters with a stage offset say of it.
type stageOffset interface {
	StageOffset() (unit.Length, bool)
}

func (c *checkRows) facts() []fact {
	j, common := c.res.Job, c.common()
	list := []fact{{"Element", common.Element}, {"Clause", common.Clause}, {"Design", c.design()}}
	if c.index < len(j.Checks) {
		if s, ok := j.Checks[c.index].Params.(stageOffset); ok {
			if l, set := s.StageOffset(); set {
				words := plusSign(l.Fixed(unit.MM, 0)) + " mm to the design level"
				if n, ok := s.(interface{ OffsetNormal() bool }); ok && n.OffsetNormal() {
					words = plusSign(l.Fixed(unit.MM, 0)) + " mm square to the design"
				}
				list = append(list, fact{"Stage offset", words})
			}
		}
	}
	list = append(list, fact{"Shots", selection(&common.Shots)})
	for i, t := range c.tolerances() {
		if i == tolerancesShown {
			list = append(list, fact{"Tolerance", "and others: each result has its own beside it"})
			break
		}
		list = append(list, fact{"Tolerance", setBy(t.String(), t.Source)})
	}
	sources := c.limits.Source
	if c.index < len(j.Checks) {
		if z, ok := j.Checks[c.index].Params.(interface{ ZonesOf() []job.Zone }); ok {
			for _, zone := range z.ZonesOf() {
				l := zone.Limits()
				list = append(list, fact{"Zone " + zone.Name, setBy(l.String(), l.Source)})
				sources += " " + l.Source
			}
		}
	}
	list = append(list, fact{"Preset", presetWords(sources)})
	if d := common.Decision; d != nil {
		words := setBy(d.Limits().String(), d.Source)
		if slices.ContainsFunc(c.rows, func(r *qa.Row) bool { return r.Graded() && r.LeastGrade.Run == 0 && r.Verdict != limits.NotAssessed }) {
			words += "; a grade is judged by it against a least grade only, and without it against other limits"
		}
		list = append(list, fact{"Decision rule", words})
	}
	if s := &c.result().Stats; s.N > 0 {
		list = append(list, fact{"What the shots support", limits.Remark(s.Within, s.N)})
	}
	if f := c.result().Former; f != nil {
		list = append(list, fact{"Fit to revision " + f.Revision, formerWords(f)})
	}
	grade, backfall := false, false
	other := map[qa.Quantity][]limits.Tolerance{}
	for _, r := range c.rows {
		switch {
		case r.Graded() && r.LeastGrade.Run > 0 && !grade:
			grade = true
			list = append(list, fact{"Least grade", setBy(r.LeastGrade.OneIn(), r.Limits.Source)})
		case r.Quantity == qa.QuantityBackfall && r.Limits.Given() && !backfall:
			backfall = true
			list = append(list, fact{"Backfall", setBy("rise towards downstream "+r.Limits.String(), r.Limits.Source)})
		case r.Derived && !r.Graded() && r.Quantity != qa.QuantityBackfall && r.Limits.Given() && r.Limits != c.limits && len(other[r.Quantity]) < tolerancesShown && !slices.Contains(other[r.Quantity], r.Limits):
			other[r.Quantity] = append(other[r.Quantity], r.Limits)
			list = append(list, fact{"Limits of " + string(r.Quantity), setBy(r.Limits.String(), r.Limits.Source)})
		}
	}
	return facts(list...)
}

// tolerancesShown is how many different limits of one check are listed.
const tolerancesShown = 6

// tolerances are the limits that the shots of the check were judged by: several
// where they depend on the size of a pipe or on where a shot lies.
func (c *checkRows) tolerances() (out []limits.Tolerance) {
	for _, r := range c.rows {
		if !r.Derived && !r.Graded() && r.Compared && r.Limits.Given() && len(out) <= tolerancesShown && !slices.Contains(out, r.Limits) {
			out = append(out, r.Limits)
		}
	}
	if len(out) == 0 && c.limits.Given() {
		out = append(out, c.limits)
	}
	return out
}

// formerWords says how the shots fit the other revision.
func formerWords(f *qa.FormerFit) string {
	if f.Stats.N == 0 {
		return "no shot could be compared with it"
	}
	return fmt.Sprintf("not judged: mean %s mm, RMS %s mm, %s %% of %s would be within the tolerance", tenth(f.Stats.MeanMm), strings.TrimPrefix(tenth(f.Stats.RmsMm), "+"),
		percent(f.Stats.WithinPercent), Count(f.Stats.N, "shot", "shots"))
}

// setBy puts the source of a limit beside it.
func setBy(limit, source string) string {
	if source == "" {
		return limit + ", source not stated"
	}
	return limit + ", set by " + source
}

// plusSign writes the sign of a number that has none.
func plusSign(s string) string {
	if s == "" || s[0] == '-' || strings.Trim(s, "0.") == "" {
		return s
	}
	return "+" + s
}

// design names the design of the check, with file and revision.
func (c *checkRows) design() string {
	for i := range c.res.Job.Designs {
		d := &c.res.Job.Designs[i]
		if d.Name != c.common().Design {
			continue
		}
		s := d.Name
		if d.Surface != "" {
			s += ": surface " + d.Surface
		}
		if d.Network != "" {
			s += ": network " + d.Network
		}
		switch {
		case d.Table == "pipes":
			s += ": table of pipes " + d.File
		case d.Alignment != nil:
			s += ": alignment " + d.Alignment.Name
		case d.Plane != nil:
			s += planeWords(d.Plane)
		case d.Table != "":
			s += ": design levels by name, " + d.File
		default:
			s += ", " + d.File
		}
		if d.Revision != "" {
			s += ", revision " + d.Revision
		}
		return s
	}
	return c.common().Design
}

// planeWords says what a design plane is.
func planeWords(p *job.DesignPlane) string {
	s := ": plane, " + p.Level.Exact(unit.M, 3) + " m at " + p.Easting.String() + " E, " + p.Northing.String() + " N"
	if p.Bearing == nil {
		return s + ", level"
	}
	if p.Grade != nil {
		s += ", " + gradeWords(p.Grade.Grade) + " along " + p.Bearing.Text
	}
	if p.Across != nil {
		s += ", " + gradeWords(p.Across.Grade) + " to the right of " + p.Bearing.Text
	}
	return s
}

// revision is the revision of the design of the check, for captions.
func (c *checkRows) revision() string {
	for i := range c.res.Job.Designs {
		if d := &c.res.Job.Designs[i]; d.Name == c.common().Design && d.Revision != "" {
			return "Design " + d.Name + ", revision " + d.Revision
		}
	}
	if c.common().Design == "" {
		return "There is no design to compare with"
	}
	return "Design " + c.common().Design + ", revision not stated"
}

// frameWords are grid, datum and units, for captions.
func (c *checkRows) frameWords() string {
	f := &c.res.Frame
	grid := f.Grid
	if grid == "" {
		grid = "not stated"
	}
	return fmt.Sprintf("Grid %s; levels in %s, height datum %s", grid, f.Unit.Name, f.Datum)
}

// selection says in words which shots a check takes.
func selection(s *job.Shots) string {
	var parts []string
	for _, x := range []struct {
		name string
		list []string
	}{{"names", s.Names}, {"codes", s.Codes}, {"layers", s.Layers}, {"runs", s.Runs}, {"files", s.Surveys}} {
		if len(x.list) > 0 {
			parts = append(parts, x.name+" "+strings.Join(x.list, ", "))
		}
	}
	if s.Polygon != nil {
		in := "inside an outline of the job"
		if s.Polygon.File != "" {
			in = "inside the outline " + strings.TrimSpace(s.Polygon.Name+" of "+s.Polygon.File)
		}
		parts = append(parts, in)
	}
	if s.Chainage != nil {
		parts = append(parts, fmt.Sprintf("chainage %s to %s m", s.Chainage.From.Exact(unit.M, 3), s.Chainage.To.Exact(unit.M, 3)))
	}
	if len(parts) == 0 {
		return "every shot of the job"
	}
	return strings.Join(parts, "; ")
}

// statFacts are the statistics of the differences, in millimetres.
func statFacts(c *qa.CheckResult) []fact {
	s := &c.Stats
	if s.N == 0 {
		return nil
	}
	out := []fact{{"Differences", strconv.Itoa(s.N)}, {"Mean", tenth(s.MeanMm)}}
	if s.N > 1 {
		out = append(out, fact{"Standard deviation", strings.TrimPrefix(tenth(s.SdMm), "+")})
	}
	for i, q := range s.Quantiles {
		name := fmt.Sprintf("%d %% not above", qa.QuantilePercents[i])
		if qa.QuantilePercents[i] == 50 {
			name = "Median"
		}
		out = append(out, fact{name, about(s) + tenth(q)})
	}
	out = append(out, fact{"RMS about zero", strings.TrimPrefix(tenth(s.RmsMm), "+")}, fact{"Lowest", tenth(s.MinMm)}, fact{"Highest", tenth(s.MaxMm)})
	out = append(out, fact{"Within tolerance", percent(s.WithinPercent) + " %"}, fact{"Out of tolerance, high", strconv.Itoa(s.High)}, fact{"Out of tolerance, low", strconv.Itoa(s.Low)})
	if s.RunOfFailures < 0 {
		return append(out, fact{"Most failures in a row", "not worked out for so many"})
	}
	return append(out, fact{"Most failures in a row", strconv.Itoa(s.RunOfFailures)})
}

// about marks a quantile of whole millimetres.
func about(s *qa.Stats) string {
	if s.Coarse {
		return "about "
	}
	return ""
}

// tenth prints a statistic to a tenth, with its sign.
func tenth(f float64) string {
	s := strconv.FormatFloat(f, 'f', 1, 64)
	if s == "-0.0" {
		s = "0.0"
	}
	return plusSign(s)
}

// percent prints a share to a tenth; what is not all is never printed as 100.0,
// what is not nothing never as 0.0.
func percent(f float64) string {
	s := strconv.FormatFloat(f, 'f', 1, 64)
	switch {
	case s == "100.0" && f < 100:
		return "99.9"
	case s == "0.0" && f > 0:
		return "0.1"
	}
	return s
}
