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
	Doc: "A rigid bar is thought laid along each profile, anywhere and resting on the highest points it reaches; at every shot the greatest gap that can come under it there is judged. A profile is the shots of one run, in the order of their chainage where all have one, else in the order of the file by their distances in plan; " +
		"between shots it is taken as straight, and the bar does not reach beyond its ends. It needs shots no further apart than a sixth of the bar: where they are, nothing within a bar's length is assessed. The limits of a preset hold under the straightedge of its document: that one is taken, and another length is refused. " +
		"Rules on how many irregularities a length of road may have are judged as well: shots next to each other with a gap over the size are one irregularity.",
	Formula:  "gap at a shot = the highest straight line over it between two points of the profile, one on either side and no further apart than the bar, minus the level of the shot; the points may lie between shots, where the bar ends there. Exact fractions are compared with the limit.",
	Source:   "gap under a 3 m straightedge: India, MoRTH Specifications, section 902, and a county specification of North Yorkshire (both seen); the shots a sixth of the bar apart: common practice, no published source.",
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
	Per    job.Length `yaml:"per" json:"per" jsonschema:"required,description=Length of profile they are counted in"`
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
		return []qa.Row{{Quantity: qa.QuantityGap, Shot: m.byRun[m.runs[0]][0],
			Reason: fmt.Sprintf("the check has %d shots, more than the %d that are kept; make a check of each part of the work", m.count, maxProfileShots)}}, nil
	}
	for _, run := range m.runs {
		rows = append(rows, m.profile(run, m.byRun[run])...)
	}
	return rows, nil
}

// profile judges the shots of one profile.
func (m *straightedgeMeasurer) profile(run string, shots []convert.Shot) (rows []qa.Row) {
	p, why := newProfile(shots, m.bar)
	base := qa.Row{Quantity: qa.QuantityGap, Limits: m.tolerance, DesignAt: "straightedge of " + inUnit(m.frame, m.bar)}
	if why != "" {
		base.Shot, base.Reason = shots[0], "the profile "+words(run)+" "+why
		return []qa.Row{base}
	}
	gaps := make([]*big.Rat, len(p.shots)) // nil where it is not known, and at the ends
	for k := 1; k+1 < len(p.shots); k++ {
		r := base
		r.Shot = *p.shots[k]
		if a, b, wide := p.wide(k); wide {
			r.Reason = fmt.Sprintf("%s and %s are %s apart, more than a sixth of the straightedge", named(p.shots[a]), named(p.shots[b]), inUnit(m.frame, p.x[b]-p.x[a]))
			rows = append(rows, r)
			continue
		}
		g, c := p.gap(k)
		gaps[k] = g
		r.Measured = rounded(g)
		r.Diff, r.Compared = r.Measured, true
		r.Verdict, r.Beyond = judgeFraction(m.tolerance, g)
		if g.Sign() > 0 {
			r.Reason = "under a straightedge from " + p.contact(c.left, m.frame) + " to " + p.contact(c.right, m.frame)
		}
		rows = append(rows, r)
	}
	for i := range m.params.Irregularities {
		rows = append(rows, m.irregular(&m.params.Irregularities[i], run, p, gaps)...)
	}
	return rows
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

// irregular judges one rule about the number of irregularities, in stretches from the
// start of the profile; the last stretch ends at its end.
func (m *straightedgeMeasurer) irregular(rule *Irregularities, run string, p *profile, gaps []*big.Rat) (rows []qa.Row) {
	over := new(big.Rat).SetInt64(int64(rule.Over.Length))
	type one struct {
		at   int // the shot with the largest gap of it
		gap  *big.Rat
		last int
	}
	var found []one
	for k, g := range gaps {
		if g == nil || g.Cmp(over) <= 0 {
			continue
		}
		if n := len(found) - 1; n >= 0 && found[n].last == k-1 {
			found[n].last = k
			if g.Cmp(found[n].gap) > 0 {
				found[n].at, found[n].gap = k, g
			}
			continue
		}
		found = append(found, one{k, g, k})
	}
	end := p.x[len(p.x)-1]
	per := rule.Per.Length
	for from := p.x[0]; ; from += per {
		to := from + per
		if to > end {
			from, to = max(p.x[0], end-per), end
		}
		n, first := 0, -1
		for _, f := range found {
			if x := p.x[f.at]; x >= from && x <= to {
				if n++; first < 0 {
					first = f.at
				}
			}
		}
		open := 0 // shots whose gap is not known
		for k := 1; k+1 < len(gaps); k++ {
			if gaps[k] == nil && p.x[k] >= from && p.x[k] <= to {
				open++
			}
		}
		at := max(first, 0)
		r := qa.Row{Quantity: qa.QuantityIrregularities, Shot: *p.shots[at], DesignAt: "straightedge of " + inUnit(m.frame, m.bar), Limits: limits.Tolerance{Source: rule.Source}}
		what := fmt.Sprintf("%d over %s mm in the %s of the profile %s from %s to %s, %d allowed", n, rule.Over.Exact(unit.MM, 0), inUnit(m.frame, to-from), words(run), inUnit(m.frame, from), inUnit(m.frame, to), rule.Most)
		switch {
		case n > rule.Most:
			r.Verdict, r.Reason = limits.Fail, what
		case open > 0:
			r.Reason = fmt.Sprintf("%s; the gap at %d more shots is not known", what, open)
		case to-from < per:
			r.Reason = what + "; the profile is shorter than the length of the rule"
		default:
			r.Verdict, r.Reason = limits.Pass, what
		}
		rows = append(rows, r)
		if to >= end {
			return rows
		}
	}
}

// profile is a line of shots in order.
type profile struct {
	shots []*convert.Shot
	x, z  []unit.Length // along, and level
	bar   unit.Length
	found []candidate // of the last shot
}

// newProfile puts shots in order along their line; why says that there is none.
func newProfile(shots []convert.Shot, bar unit.Length) (p *profile, why string) {
	p = &profile{bar: bar}
	chained, placed := true, true
	for i := range shots {
		p.shots = append(p.shots, &shots[i])
		chained, placed = chained && shots[i].Chained, placed && shots[i].Placed
	}
	switch {
	case len(shots) < 3:
		return nil, "has fewer than three shots"
	case chained:
		slices.SortStableFunc(p.shots, func(a, b *convert.Shot) int { return cmp.Compare(a.Chainage, b.Chainage) })
	case !placed:
		return nil, "has shots without a chainage and shots without a place"
	}
	for i, s := range p.shots {
		x := s.Chainage
		if !chained {
			if i > 0 {
				b := p.shots[i-1]
				x = p.x[i-1] + unit.Distance(s.Place.E-b.Place.E, s.Place.N-b.Place.N)
			} else {
				x = 0
			}
		}
		if i > 0 && x == p.x[i-1] {
			return nil, "has two shots at one place: " + named(p.shots[i-1]) + " and " + named(s)
		}
		p.x, p.z = append(p.x, x), append(p.z, s.Level)
	}
	if p.x[len(p.x)-1]-p.x[0] < bar {
		return nil, "is shorter than the straightedge"
	}
	return p, ""
}

// wide finds neighbours further apart than a sixth of the bar, within a bar's length
// of shot k.
func (p *profile) wide(k int) (a, b int, wide bool) {
	for i := k; i > 0 && p.x[k]-p.x[i] < p.bar; i-- {
		if (p.x[i]-p.x[i-1])*perBar > p.bar {
			return i - 1, i, true
		}
	}
	for i := k; i+1 < len(p.x) && p.x[i]-p.x[k] < p.bar; i++ {
		if (p.x[i+1]-p.x[i])*perBar > p.bar {
			return i, i + 1, true
		}
	}
	return 0, 0, false
}
