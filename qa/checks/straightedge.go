package checks

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// Straightedge finds the greatest gap under a rigid bar laid along a profile.
var Straightedge = &qa.Check{
	Name:  "straightedge",
	Title: "Evenness: the gap under a straightedge",
	Doc: "A rigid bar is thought laid along each profile, anywhere and resting on the highest points it reaches; at every shot the greatest gap that can come under it there is judged. A profile is the shots of one run, in the order of their chainage where all have one (of their offset, where that is the shorter way: a line across), else in the order of the file. " +
		"Distances along it are those in plan; between shots without easting and northing they are those of chainages and offsets, and a remark says so. " +
		"Between shots it is taken as straight, and the bar does not reach beyond its ends. Where the way along the shots turns back, by a right angle or more, or is longer over a bar's length than the straight line by more than 1 % of it, nothing within a bar's length is assessed; where it bends less, a gap that would not pass under a bar longer by as much is not passed. It needs shots no further apart than a sixth of the bar: where they are, nothing within a bar's length is assessed. The limits of a preset hold under the straightedge of its document: that one is taken, and another length is refused. " +
		"Rules on how many irregularities a length of road may have are judged as well: shots next to each other with a gap over the size are one irregularity, and the worst stretch of that length anywhere along the profile is judged, which holds every irregularity with a shot in it.",
	Formula:  "gap at a shot = the highest straight line over it between two points of the profile, one on either side and no further apart than the bar, minus the level of the shot; the points may lie between shots, where the bar ends there. Exact fractions are compared with the limit.",
	Source:   "gap under a 3 m straightedge: India, MoRTH Specifications, section 902, and a county specification of North Yorkshire (both seen); the shots a sixth of the bar apart, and how far a profile may bend: common practice, no published source.",
	Example:  "shots every 0.5 m, all at 10.000 m but one of 9.994 m: under a bar of 3 m the gap there is 6 mm; a limit of 5 mm fails.",
	Presets:  []string{"straightedge"},
	NoDesign: true,
	Params:   func() any { return &StraightedgeParams{} },
	Start:    startStraightedge,
}

// StraightedgeParams are the parameters of the check in a job file.
type StraightedgeParams struct {
	job.Common     `yaml:",inline"`
	Length         *job.Length      `yaml:"length,omitempty" json:"length,omitempty" jsonschema:"description=Length of the straightedge; that of the preset when left out"`
	Tolerance      job.Tolerance    `yaml:"tolerance" json:"tolerance" jsonschema:"required,description=Largest gap as upper and its source; or a preset"`
	Irregularities []Irregularities `yaml:"irregularities,omitempty" json:"irregularities,omitempty" jsonschema:"description=How many irregularities of a size a length of profile may have"`
}

// Irregularities is a rule about their number.
type Irregularities struct {
	Over   job.Length `yaml:"over" json:"over" jsonschema:"required,description=Gap that counts as an irregularity when it is larger"`
	Most   int        `yaml:"most" json:"most" jsonschema:"required,minimum=0,description=How many are allowed"`
	Per    job.Length `yaml:"per" json:"per" jsonschema:"required,description=Length of profile they are counted in; the worst stretch of it is judged"`
	Source string     `yaml:"source" json:"source" jsonschema:"required,description=Clause or instruction that sets the rule"`
}

// ToleranceOf returns the limits, for the checks of the job file.
func (p *StraightedgeParams) ToleranceOf() *job.Tolerance { return &p.Tolerance }

// presetBars is the preset of the limits with the lengths of straightedge that it is
// for; none where there is no preset, or not one of a straightedge.
func (p *StraightedgeParams) presetBars() (limits.Preset, []unit.Length) {
	preset, err := limits.PresetByName(p.Tolerance.Preset)
	if err != nil {
		return preset, nil // the tolerance says so
	}
	return preset, preset.Bars()
}

// bar is the length of the straightedge, 0 where nothing says it.
func (p *StraightedgeParams) bar() unit.Length {
	if p.Length != nil {
		return p.Length.Length
	}
	if _, bars := p.presetBars(); len(bars) == 1 {
		return bars[0]
	}
	return 0
}

// Validate refuses lengths that cannot be, and a length that is not the preset's.
func (p *StraightedgeParams) Validate() (faults []job.Fault) {
	add := func(key, text string) { faults = append(faults, job.Fault{Key: key, Text: text}) }
	bar := p.bar()
	preset, bars := p.presetBars()
	switch {
	case p.Length == nil && len(bars) > 1:
		add("", fmt.Sprintf("the preset %q is for a straightedge of %s; add \"length:\" with the one that is laid", preset.Name, preset.Bar))
	case p.Length == nil && len(bars) == 0:
		add("", "nothing says how long the straightedge is; add \"length:\", such as \"length: 3 m\", or the preset of a straightedge")
	case bar < 6 || bar > maxBar:
		add("length", "a straightedge is longer than nothing, and not longer than 100 m")
	case len(bars) > 0 && !slices.Contains(bars, bar):
		add("length", fmt.Sprintf("the limits of the preset %q are for a straightedge of %s, and the length here is %s m, under which the gaps are others; write \"length: %s\" or leave the key out, or give \"upper:\" with its source in place of the preset",
			preset.Name, preset.Bar, bar.Exact(unit.M, 0), strings.Replace(preset.Bar, " or ", "\" or \"length: ", 1)))
	}
	if p.Tolerance.Preset == "" && p.Tolerance.Upper == nil {
		add("tolerance", "a gap has an upper limit; add \"upper: 5 mm\" or a preset")
	}
	for i, x := range p.Irregularities {
		key := fmt.Sprintf("irregularities[%d]", i)
		switch {
		case x.Over.Length <= 0:
			add(key, "\"over:\" is a gap of more than nothing")
		case x.Per.Length <= bar:
			add(key, "\"per:\" is longer than the straightedge")
		case x.Most < 0:
			add(key, "\"most:\" is a number of irregularities, 0 or more")
		}
	}
	return faults
}

// perBar is how many shots a bar needs: none further apart than its part.
const perBar = 6

// maxBar is the longest straightedge, so that its numbers are exact in float64.
const maxBar = 100 * unit.Metre

// maxProfileShots is how many shots a straightedge check keeps.
const maxProfileShots = 500_000

type straightedgeMeasurer struct {
	params    *StraightedgeParams
	frame     *convert.Frame
	bar       unit.Length
	tolerance limits.Tolerance
	runs      []string
	byRun     map[string][]convert.Shot
	chained   []string // the runs whose distances are by chainage
	lots      firstOfLots
	count     int
}

func startStraightedge(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*StraightedgeParams)
	return &straightedgeMeasurer{params: p, frame: set.Frame, bar: p.bar(), tolerance: p.Tolerance.Limits(), byRun: map[string][]convert.Shot{}}, nil
}

func (m *straightedgeMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		s, r := &shots[i], &rows[i]
		r.Quantity = qa.QuantityGap
		switch {
		case s.Use != convert.Assessed:
			continue // keeps its reason
		case !s.Levelled:
			r.Reason = "it has no level"
		case s.Staffed != "" && s.Staffed != "surface":
			r.Reason = fmt.Sprintf("the staff stood on the %s, not on the surface", s.Staffed)
		case !s.Placed && !s.Chained:
			r.Reason = "it has no place: no easting and northing, and its name is in no peg list of the job"
		default:
			r.Shot.Use, r.Reason = convert.Control, "it is a point of the profile "+words(s.Run)
			m.lots.meet(s)
			if m.count++; m.count <= maxProfileShots {
				if _, there := m.byRun[s.Run]; !there {
					m.runs = append(m.runs, detached(s).Run)
				}
				m.byRun[s.Run] = append(m.byRun[s.Run], detached(s))
			}
		}
	}
}

// words names a profile.
func words(run string) string { return cmp.Or(run, "of the shots without a run") }

// Finish lays the bar along the profiles.
func (m *straightedgeMeasurer) Finish() (rows []qa.Row, remarks []string) {
	if m.count > maxProfileShots {
		return m.lots.rows(qa.Row{Quantity: qa.QuantityGap,
			Reason: fmt.Sprintf("the check has %d shots, more than the %d that are kept; make a check of each part of the work", m.count, maxProfileShots)}), nil
	}
	for _, run := range m.runs {
		rows = append(rows, m.profile(run, m.byRun[run])...)
	}
	if n := len(m.chained); n > 0 {
		which := "the profile " + words(m.chained[0])
		if n > 1 {
			which += fmt.Sprintf(" and of %d more", n-1)
		}
		remarks = append(remarks, "the distances of "+which+" are those of chainages and offsets, because there are shots without easting and northing: beside a curve of the alignment they are not the distances in plan that a straightedge has")
	}
	return rows, remarks
}

// profile judges the shots of one profile.
func (m *straightedgeMeasurer) profile(run string, shots []convert.Shot) (rows []qa.Row) {
	p, why := newProfile(shots, m.bar)
	base := qa.Row{Quantity: qa.QuantityGap, Limits: m.tolerance, DesignAt: "straightedge of " + inUnit(m.frame, m.bar)}
	if why != "" {
		base.Reason = "the profile " + words(run) + " " + why
		var lots firstOfLots
		for i := range shots {
			lots.meet(&shots[i])
		}
		return lots.rows(base)
	}
	if p.chained {
		m.chained = append(m.chained, run)
	}
	gaps := newGaps(len(p.shots))
	for k := 1; k+1 < len(p.shots); k++ {
		r := base
		r.Shot = *p.shots[k]
		if r.Reason = m.cannot(p, k); r.Reason == "" {
			m.judge(p, k, gaps, &r)
		}
		rows = append(rows, r)
	}
	for i := range m.params.Irregularities {
		rows = append(rows, m.irregular(&m.params.Irregularities[i], run, p, gaps))
	}
	return rows
}

// cannot says why no bar can be laid over shot k, "" where one can.
func (m *straightedgeMeasurer) cannot(p *profile, k int) string {
	if a, b, wide := p.wide(k); wide {
		return fmt.Sprintf("%s and %s are %s apart, more than a sixth of the straightedge", named(p.shots[a]), named(p.shots[b]), inUnit(m.frame, p.x[b]-p.x[a]))
	}
	if at := p.turns[k]; at > 0 {
		return fmt.Sprintf("at %s (%s) the way along the shots turns back, and that is within a straightedge's length; put the shots of the profile in order, or give each line a run of its own", named(p.shots[at]), p.shots[at].Pos)
	}
	if at := p.bent[k]; at > 0 {
		return fmt.Sprintf("over a straightedge's length the way along the shots is longer than the straight line by more than 1 %% of it, and %s (%s) lies furthest beside it: no straightedge lies along such a way; shoot along a straight line", named(p.shots[at]), p.shots[at].Pos)
	}
	return ""
}

// judge lays the bar over shot k. Where the way along the shots bends, a bar reaches
// further along it than its own length: what passes has to pass under both.
func (m *straightedgeMeasurer) judge(p *profile, k int, gaps *gaps, r *qa.Row) {
	g, c := p.gap(k, m.bar)
	gaps.least[k], gaps.most[k] = g, g
	verdict, beyond := judgeFraction(m.tolerance, g)
	if p.reach[k] > m.bar {
		most, _ := p.gap(k, p.reach[k])
		gaps.most[k] = most
		by := func(x *big.Rat) decided { return decidedBy(m.params.Decision, m.tolerance, rounded(x), 0, false) }
		if v, _ := judgeFraction(m.tolerance, most); v != verdict || by(most) != by(g) {
			r.Reason = fmt.Sprintf("the way along the shots bends: the gap is %s mm with distances along it and %s mm under a straightedge that reaches %s along it, and the verdict hangs on that; shoot along a straight line",
				rounded(g).Fixed(unit.MM, 2), rounded(most).Fixed(unit.MM, 2), p.reach[k].Fixed(m.frame.Unit, 4)+" "+m.frame.Unit.Name)
			return
		}
	}
	r.Measured = rounded(g)
	r.Diff, r.Compared = r.Measured, true
	r.Verdict, r.Beyond = verdict, beyond
	if g.Sign() > 0 {
		r.Reason = "under a straightedge from " + p.contact(c.left, m.frame) + " to " + p.contact(c.right, m.frame)
	}
}

func named(s *convert.Shot) string { return cmp.Or(s.ID, "the shot at "+s.Pos.String()) }

// judgeFraction judges an exact fraction of counts by an upper limit.
func judgeFraction(t limits.Tolerance, g *big.Rat) (limits.Verdict, unit.Length) {
	over := new(big.Rat).Sub(g, new(big.Rat).SetInt64(int64(t.Upper)))
	switch {
	case !t.HasUpper:
		return limits.NotAssessed, 0
	case over.Sign() <= 0:
		return limits.Pass, 0
	}
	return limits.Fail, max(rounded(over), 1)
}
