package checks

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/convert/mesh"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Coverage compares the largest gap between shots with the spacing that is asked for.
var Coverage = &qa.Check{
	Name:  "coverage",
	Title: "Spacing of shots: the largest place without one",
	Doc: "Whether the shots lie close enough to speak for the whole area. In each lot that lies in a polygon, and in the area that the shots are selected by, the largest circle without a shot in it is found, with its centre inside; shots beside the area count as well. " +
		"The spacing asked for is a grid (with an allowance for shots off their places) or a radius. Along runs, the longest stretch between two shots next to each other is compared with the spacing along; inside lots between chainages, or the chainages that the shots are selected by, also from the start and to the end. Single shots are not judged.",
	Formula: "a grid a × b with allowance c is met when the radius of the largest empty circle is at most √(a² + b²)/2 + c; the squares are compared as exact fractions. " +
		"Along a run: the difference of chainage of neighbours where every shot of the run has one, else their distance in plan in the order of the file.",
	Source:   "geometry; the spacing is set by the contract, as in the sampling rules of published specifications (grids of 5 m to 20 m). Common practice, no published source, for the circle.",
	Example:  "a grid of 5 m × 5 m asks for a circle of at most 3.536 m. One shot of it left out leaves a circle of 5.000 m: fail.",
	NoDesign: true,
	Params:   func() any { return &CoverageParams{} },
	Start:    startCoverage,
}

// CoverageParams are the parameters of the check in a job file.
type CoverageParams struct {
	job.Common `yaml:",inline"`
	Grid       []job.Length `yaml:"grid,omitempty" json:"grid,omitempty" jsonschema:"minItems=2,maxItems=2,description=Sides of the grid of shots that is asked for"`
	Allowance  *job.Length  `yaml:"allowance,omitempty" json:"allowance,omitempty" jsonschema:"description=How far a shot may be off its place in the grid; 0 when left out"`
	Radius     *job.Length  `yaml:"radius,omitempty" json:"radius,omitempty" jsonschema:"description=Largest allowed radius of a circle without a shot; in place of grid"`
	Along      *job.Length  `yaml:"along,omitempty" json:"along,omitempty" jsonschema:"description=Largest allowed stretch between neighbouring shots of a run"`
	From       string       `yaml:"source" json:"source" jsonschema:"required,description=Clause or instruction that asks for the spacing"`
}

// Validate asks for one spacing over areas at most, and for one at all.
func (p *CoverageParams) Validate() (faults []job.Fault) {
	for _, x := range []struct {
		key string
		l   *job.Length
	}{{"radius", p.Radius}, {"along", p.Along}, {"allowance", p.Allowance}} {
		if x.l != nil && (x.l.Length < 0 || x.l.Length == 0 && x.key != "allowance") {
			faults = append(faults, job.Fault{Key: x.key, Text: "a spacing is more than nothing"})
		}
	}
	for _, l := range p.Grid {
		if l.Length <= 0 {
			faults = append(faults, job.Fault{Key: "grid", Text: "both sides of the grid are more than nothing"})
			break
		}
	}
	switch {
	case len(p.Grid) == 0 && p.Radius == nil && p.Along == nil:
		faults = append(faults, job.Fault{Text: "it asks for no spacing; add \"grid: [5 m, 5 m]\", \"radius:\" or \"along:\""})
	case len(p.Grid) > 0 && p.Radius != nil:
		faults = append(faults, job.Fault{Key: "radius", Text: "the grid has a radius of its own; leave one of grid and radius out"})
	case len(p.Grid) == 0 && p.Allowance != nil:
		faults = append(faults, job.Fault{Key: "allowance", Text: "the allowance is for shots off their places in a grid, and there is no \"grid:\""})
	}
	return faults
}

// maxCovering is how many shots a coverage check keeps.
const maxCovering = 2_000_000

// patchOf is an area that must be covered.
type patchOf struct {
	lot    string
	words  string
	region *mesh.Region
	why    string // why there is no region
}

// stretch is a range of chainage that must be covered.
type stretch struct {
	lot, words string
	from, to   unit.Length
	runs       []string
}

type coverageMeasurer struct {
	params *CoverageParams
	ranges []stretch
	frame  *convert.Frame
	areas  []patchOf
	shots  []convert.Shot // assessed
	count  int
}

func startCoverage(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*CoverageParams)
	m := &coverageMeasurer{params: p, frame: set.Frame}
	for i := range set.Lots {
		if l := &set.Lots[i]; l.Chainage != nil && l.Along == nil && l.Cannot == "" {
			m.ranges = append(m.ranges, stretch{l.Name, "lot " + l.Name, l.Chainage.From.Length, l.Chainage.To.Length, l.Runs})
		}
	}
	if c := p.Shots.Chainage; c != nil {
		m.ranges = append(m.ranges, stretch{"", "the chainages of the check", c.From.Length, c.To.Length, nil})
	}
	if len(p.Grid) == 0 && p.Radius == nil {
		return m, nil
	}
	if m.areas = areasOf(set); len(m.areas) > 0 && m.areas[0].lot != "" { // the area of the check as well
		whole := *set
		whole.Lots = nil
		m.areas = append(m.areas, areasOf(&whole)...)
	}
	if len(m.areas) == 0 {
		return nil, fmt.Errorf("a spacing over an area needs the area: add \"shots: {polygon: ...}\" to the check, or lots with polygons to the job")
	}
	return m, nil
}

// areasOf are the lots that lie in polygons, else the areas that shots are selected
// by.
func areasOf(set *qa.Setting) (areas []patchOf) {
	add := func(lot, words string, o *convert.Outline) {
		a := patchOf{lot: lot, words: words}
		var err error
		if a.region, err = o.Region(); err != nil {
			a.why = err.Error()
		}
		areas = append(areas, a)
	}
	for i := range set.Lots {
		if l := &set.Lots[i]; l.Outline != nil && l.Cannot == "" {
			add(l.Name, "lot "+l.Name, l.Outline)
		}
	}
	if len(areas) > 0 {
		return areas
	}
	for i, o := range set.Area {
		words := "the area of the check"
		if len(set.Area) > 1 {
			words = fmt.Sprintf("area %d of the check", i+1)
		}
		add("", words, o)
	}
	return areas
}

func (m *coverageMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		s, r := &shots[i], &rows[i]
		r.Quantity = qa.QuantityCoverage
		switch {
		case s.Use != convert.Assessed:
			continue // keeps its reason
		case !s.Levelled:
			r.Reason = "it has no level, and covers nothing"
		case !s.Placed && (len(m.areas) > 0 || !s.Chained):
			r.Reason = "it has no place: no easting and northing, and its name is in no peg list of the job"
		default:
			r.Shot.Use, r.Reason = convert.Control, "what is asked of the spacing is judged by it and its neighbours"
			if m.count++; m.count <= maxCovering {
				m.shots = append(m.shots, detached(s))
			}
		}
	}
}

// Finish finds the gaps.
func (m *coverageMeasurer) Finish() (rows []qa.Row, remarks []string) {
	if m.count > maxCovering {
		why := fmt.Sprintf("the check has %d shots, more than the %d that are kept; make a check of each part of the work", m.count, maxCovering)
		return []qa.Row{{Quantity: qa.QuantityCoverage, Reason: why, Shot: m.shots[0]}}, nil
	}
	if len(m.areas) > 0 {
		places := make([]mesh.Place, 0, len(m.shots))
		for i := range m.shots {
			if m.shots[i].Placed {
				places = append(places, mesh.Place(m.shots[i].Place))
			}
		}
		for i := range m.areas {
			rows = append(rows, m.gap(&m.areas[i], places))
		}
	}
	if m.params.Along != nil {
		more, said := m.along()
		rows, remarks = append(rows, more...), append(remarks, said...)
	}
	return rows, remarks
}

// limit is what the radius is judged by. Of a grid its number is rounded up to one
// count, for print; whether it is met is told exactly.
func (m *coverageMeasurer) limit() limits.Tolerance {
	t := limits.Tolerance{HasUpper: true, Source: m.params.From}
	if m.params.Radius != nil {
		t.Upper = m.params.Radius.Length
		return t
	}
	a, b := m.params.Grid[0].Length, m.params.Grid[1].Length
	t.Upper = unit.Distance(a, b)/2 + m.allowance()
	return t
}

func (m *coverageMeasurer) allowance() unit.Length {
	if m.params.Allowance == nil {
		return 0
	}
	return m.params.Allowance.Length
}

// gap is the row of one area.
func (m *coverageMeasurer) gap(a *patchOf, places []mesh.Place) qa.Row {
	r := qa.Row{Quantity: qa.QuantityCoverage, Limits: m.limit(), Shot: convert.Shot{ID: a.words, Lot: a.lot}, DesignAt: a.words}
	if a.why != "" {
		r.Reason = a.words + " has no area that can be worked with: " + a.why
		return r
	}
	g, err := mesh.LargestGap(places, a.region)
	if err != nil {
		r.Reason = "no shot of the check was assessed, so that " + a.words + " is not covered at all"
		return r
	}
	centre := convert.Place{E: wholeMillimetre(g.Centre.E), N: wholeMillimetre(g.Centre.N)} // to be found on site
	near := m.nearest(centre)
	r.Shot = *near[0]
	r.Shot.Lot, r.Shot.Place, r.Shot.Placed, r.Shot.Chained, r.Shot.Levelled = a.lot, centre, true, false, false
	r.Measured, r.Diff, r.Compared = g.Radius, g.Radius, true
	met := false
	if m.params.Radius != nil {
		met = g.Compare(m.params.Radius.Length) <= 0
	} else {
		met = g.Meets(m.params.Grid[0].Length, m.params.Grid[1].Length, m.allowance())
	}
	r.Verdict = limits.Pass
	if !met {
		r.Verdict = limits.Fail
		r.Beyond = max(r.Diff-r.Limits.Upper, 1)
	}
	var names []string
	for _, s := range near {
		names = append(names, cmp.Or(s.ID, "a shot without name")+" ("+s.Pos.String()+")")
	}
	r.Reason = fmt.Sprintf("%s: the largest circle without a shot has its centre at %s E, %s N; nearest to it are %s",
		a.words, m.frame.Easting(centre, 3), m.frame.Northing(centre, 3), strings.Join(names, ", "))
	return r
}

// wholeMillimetre rounds a coordinate for print.
func wholeMillimetre(l unit.Length) unit.Length {
	half := unit.Millimetre / 2
	if l < 0 {
		half = -half
	}
	return (l + half) / unit.Millimetre * unit.Millimetre
}

// nearest are the up to three shots nearest to a place, the nearest first.
func (m *coverageMeasurer) nearest(p convert.Place) []*convert.Shot {
	type at struct {
		s *convert.Shot
		d float64
	}
	var best []at
	for i := range m.shots {
		s := &m.shots[i]
		if !s.Placed {
			continue
		}
		de, dn := (s.Place.E - p.E).Metres(), (s.Place.N - p.N).Metres()
		d := de*de + dn*dn
		if len(best) == 3 && d >= best[2].d {
			continue
		}
		k := len(best)
		for k > 0 && d < best[k-1].d {
			k--
		}
		best = slices.Insert(best, k, at{s, d})
		best = best[:min(len(best), 3)]
	}
	out := make([]*convert.Shot, len(best))
	for i := range best {
		out[i] = best[i].s
	}
	return out
}

// along finds the longest stretch of every run.
func (m *coverageMeasurer) along() (rows []qa.Row, remarks []string) {
	byRun := map[string][]*convert.Shot{}
	var runs []string
	for i := range m.shots {
		s := &m.shots[i]
		if _, there := byRun[s.Run]; !there {
			runs = append(runs, s.Run)
		}
		byRun[s.Run] = append(byRun[s.Run], s)
	}
	if len(m.ranges) > 0 {
		for i := range m.ranges {
			rows = append(rows, m.within(&m.ranges[i], runs, byRun)...)
		}
		return append(rows, m.beside(runs, byRun)...), nil
	}
	if len(runs) > 0 {
		remarks = append(remarks, "Where runs begin and end is not known to the check: what lies beyond their first and last shots is not judged. Lots between chainages, or \"chainage:\" of its shots, tell it.")
	}
	for _, run := range runs {
		list := byRun[run]
		words := cmp.Or(run, "the shots without a run")
		r := qa.Row{Quantity: qa.QuantityCoverage, Limits: limits.Tolerance{HasUpper: true, Upper: m.params.Along.Length, Source: m.params.From}, Shot: *list[0], DesignAt: words}
		chained := !slices.ContainsFunc(list, func(s *convert.Shot) bool { return !s.Chained })
		switch {
		case len(list) == 1:
			r.Reason = "there is only one shot of " + words + ", and no stretch between two"
			rows = append(rows, r)
			continue
		case !chained && slices.ContainsFunc(list, func(s *convert.Shot) bool { return !s.Placed }):
			r.Reason = "of " + words + " neither all shots have a chainage nor all a place"
			rows = append(rows, r)
			continue
		case chained:
			slices.SortStableFunc(list, func(a, b *convert.Shot) int { return cmp.Compare(a.Chainage, b.Chainage) })
		}
		for k := 1; k < len(list); k++ {
			a, b := list[k-1], list[k]
			d := b.Chainage - a.Chainage
			if !chained {
				d = unit.Distance(b.Place.E-a.Place.E, b.Place.N-a.Place.N)
			}
			if d > r.Measured || k == 1 {
				r.Measured, r.Shot = d, *a
				r.Reason = fmt.Sprintf("the longest stretch of %s without a shot, from %s to %s (%s)", words, cmp.Or(a.ID, "a shot without name"), cmp.Or(b.ID, "a shot without name"), b.Pos)
			}
		}
		r.Diff, r.Compared = r.Measured, true
		r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
		if len(list) == 2 {
			remarks = append(remarks, fmt.Sprintf("Of %s only two shots were taken: a sag between them cannot be seen.", words))
		}
		rows = append(rows, r)
	}
	return rows, remarks
}

// within judges the runs inside a range of chainage, from its start to the first shot
// and from the last one to its end as well.
func (m *coverageMeasurer) within(s *stretch, runs []string, byRun map[string][]*convert.Shot) (rows []qa.Row) {
	base := qa.Row{Quantity: qa.QuantityCoverage, Limits: limits.Tolerance{HasUpper: true, Upper: m.params.Along.Length, Source: m.params.From}, DesignAt: s.words}
	for _, run := range runs {
		if len(s.runs) > 0 && !(job.Shots{Runs: s.runs}).Matches("", "", "", run, "") {
			continue
		}
		var list []*convert.Shot
		for _, x := range byRun[run] {
			if x.Chained && x.Chainage >= s.from && x.Chainage <= s.to {
				list = append(list, x)
			}
		}
		if len(list) == 0 {
			r := base
			r.Shot = *byRun[run][0]
			r.Shot.Lot = s.lot
			r.Reason = fmt.Sprintf("no shot of %s lies in %s; if the run is no part of it, name the runs of the lot", cmp.Or(run, "the shots without a run"), s.words)
			rows = append(rows, r)
			continue
		}
		slices.SortStableFunc(list, func(a, b *convert.Shot) int { return cmp.Compare(a.Chainage, b.Chainage) })
		r := base
		at, name := s.from, "its start"
		for k := 0; k <= len(list); k++ {
			next, to, shot := s.to, "its end", list[len(list)-1]
			if k < len(list) {
				next, to, shot = list[k].Chainage, cmp.Or(list[k].ID, "a shot without name"), list[k]
			}
			if d := next - at; d > r.Measured || k == 0 {
				r.Measured, r.Shot = d, *shot
				r.Reason = fmt.Sprintf("the longest stretch of %s in %s without a shot, from %s to %s", cmp.Or(run, "the shots without a run"), s.words, name, to)
			}
			at, name = next, to
		}
		r.Shot.Lot = s.lot
		r.Diff, r.Compared = r.Measured, true
		r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
		rows = append(rows, r)
	}
	for _, name := range s.runs {
		if !strings.HasSuffix(name, "*") && len(byRun[name]) == 0 {
			r := base
			r.Shot = convert.Shot{ID: name, Run: name, Lot: s.lot}
			r.Reason = "no shot of " + name + ", which " + s.words + " names, was assessed, so that it is not covered at all"
			rows = append(rows, r)
		}
	}
	if len(rows) == 0 {
		r := base
		r.Shot = convert.Shot{ID: s.words, Lot: s.lot}
		r.Reason = "no shot of the check lies in " + s.words + ", so that it is not covered at all"
		rows = append(rows, r)
	}
	return rows
}

// beside tells of the runs with shots that no range holds: nothing is asked of them
// there, and nothing is judged.
func (m *coverageMeasurer) beside(runs []string, byRun map[string][]*convert.Shot) (rows []qa.Row) {
	for _, run := range runs {
		var first *convert.Shot
		n := 0
		for _, x := range byRun[run] {
			held := slices.ContainsFunc(m.ranges, func(s stretch) bool {
				return x.Chained && x.Chainage >= s.from && x.Chainage <= s.to && (len(s.runs) == 0 || (job.Shots{Runs: s.runs}).Matches("", "", "", run, ""))
			})
			if !held {
				if n++; n == 1 {
					first = x
				}
			}
		}
		if n > 0 {
			rows = append(rows, qa.Row{Quantity: qa.QuantityCoverage, Shot: *first, Reason: fmt.Sprintf("%d shots of %s lie in no lot between chainages, and the spacing there is not judged; this is the first", n, cmp.Or(run, "the shots without a run"))})
		}
	}
	return rows
}
