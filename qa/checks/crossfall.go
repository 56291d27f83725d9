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

// Crossfall compares the grade across, between a shot on the left and one on the
// right, with design.
var Crossfall = &qa.Check{
	Name:  "crossfall",
	Title: "Crossfall between the two sides of a cross section",
	Doc: "A shot on the left side and one on the right side of the same cross section are paired, by chainage within a distance or by the name of the run that both belong to. What the right one is higher than the left one is compared with what design asks over their distance in plan; without easting and northing that is the difference of their offsets. " +
		"Where the two do not stand at one chainage and design is a grade, the grade along is a part of their rise: it is taken from each of the two to the shots before and after it on its side, no further than 50 m, and the pair is assessed only where none of these grades changes the verdict, and none of the distances from the one across to the one in plan. " +
		"A pair whose offsets contradict its sides is not assessed. Design is a grade of the job, which says whether it rises or falls and to which side, or the design surface at both places. A shot without a partner is not assessed. Left and right are those of whoever looks along increasing chainage.",
	Formula:  "rise = level on the right − level on the left; difference = rise − design rise over the distance, + is too high on the right. Limits are grades: lower × distance ≤ difference ≤ upper × distance, by products in whole numbers. u is that of the difference of the two levels, without what they share.",
	Source:   "geometry; limits of crossfall are set by the contract. Common practice, no published source, for the pairing, and for how far the grade along is known.",
	Example:  "falls 2.5 % to the right, shots 4 m apart: design rise −100 mm. Left 10.000 m, right 9.906 m: difference +6 mm; limits ±0.25 % are ±10 mm over 4 m: pass.",
	NoDesign: true,
	Params:   func() any { return &CrossfallParams{} },
	Start:    startCrossfall,
}

// CrossfallParams are the parameters of the check in a job file.
type CrossfallParams struct {
	job.Common `yaml:",inline"`
	Left       job.Shots      `yaml:"left" json:"left" jsonschema:"required,description=Which shots of the check are on the left side"`
	Right      job.Shots      `yaml:"right" json:"right" jsonschema:"required,description=Which shots of the check are on the right side"`
	Pair       string         `yaml:"pair" json:"pair" jsonschema:"required,enum=chainage,enum=run,description=What both shots of a cross section have in common"`
	Within     *job.Length    `yaml:"within,omitempty" json:"within,omitempty" jsonschema:"description=How far apart in chainage the two shots may be; with pair: chainage"`
	Grade      SideGrade      `yaml:"grade,omitempty" json:"grade,omitempty" jsonschema:"description=Design crossfall such as fall 2.5 % to the right; in place of design"`
	Tolerance  GradeTolerance `yaml:"tolerance" json:"tolerance" jsonschema:"required,description=Limits of built minus design grade; + is too high on the right"`
}

// SideGrade is a crossfall with its side; the text as written.
type SideGrade string

// grade is the rise to the right.
func (s SideGrade) grade() (g unit.Grade, err error) {
	bad := fmt.Errorf("%q does not say which way the crossfall runs; write \"fall 2.5 %% to the right\", \"rise 1 in 40 to the left\" or \"level\"", string(s))
	t := strings.TrimSpace(string(s))
	if t == "level" {
		return unit.Grade{Run: unit.Metre}, nil
	}
	word, rest, _ := strings.Cut(t, " ")
	number, right := strings.CutSuffix(rest, " to the right")
	left := false
	if !right {
		number, left = strings.CutSuffix(rest, " to the left")
	}
	if word != "fall" && word != "rise" || !left && !right {
		return g, bad
	}
	if g, err = unit.ParseGrade(number); err != nil {
		return g, err
	}
	if g.Rise < 0 || strings.ContainsAny(number, "+-") {
		return g, fmt.Errorf("%q has both a word and a sign; leave the sign out", string(s))
	}
	if (word == "fall") != left {
		g.Rise = -g.Rise
	}
	return g, nil
}

// GradeTolerance is a pair of limits of a difference of grades.
type GradeTolerance struct {
	Lower  *job.Grade `yaml:"lower,omitempty" json:"lower,omitempty" jsonschema:"description=Lowest allowed difference such as -0.5 %"`
	Upper  *job.Grade `yaml:"upper,omitempty" json:"upper,omitempty" jsonschema:"description=Highest allowed difference such as 0.5 %"`
	Source string     `yaml:"source" json:"source" jsonschema:"required,description=Clause or drawing or instruction that sets the limits"`
}

// Validate asks for one limit at least, in order.
func (t *GradeTolerance) Validate() (faults []job.Fault) {
	switch {
	case t.Lower == nil && t.Upper == nil:
		faults = append(faults, job.Fault{Text: "it has neither \"lower:\" nor \"upper:\"; give one at least"})
	case t.Lower != nil && t.Upper != nil && t.Lower.Compare(t.Upper.Grade) > 0:
		faults = append(faults, job.Fault{Key: "lower", Text: "the lower limit is above the upper one; exchange them"})
	}
	return faults
}

// Validate refuses keys that do not go together.
func (p *CrossfallParams) Validate() (faults []job.Fault) {
	add := func(key, text string) { faults = append(faults, job.Fault{Key: key, Text: text}) }
	for key, s := range map[string]*job.Shots{"left": &p.Left, "right": &p.Right} {
		switch {
		case s.Polygon != nil || s.Chainage != nil:
			add(key, "the side of a shot is told by surveys, names, codes, layers or runs")
		case len(s.Names)+len(s.Codes)+len(s.Layers)+len(s.Runs)+len(s.Surveys) == 0:
			add(key, "it takes every shot; say which are on this side, such as \"codes: [EL]\"")
		}
	}
	slices.SortFunc(faults, func(a, b job.Fault) int { return cmp.Compare(a.Key, b.Key) })
	switch {
	case p.Grade == "" && p.Design == "":
		add("", "nothing says what the crossfall should be; add \"grade: fall 2.5 % to the right\" or \"design:\"")
	case p.Grade != "" && p.Design != "":
		add("grade", "the design gives the crossfall already; leave one of design and grade out")
	case p.Grade != "":
		if _, err := p.Grade.grade(); err != nil {
			add("grade", err.Error())
		}
	}
	switch {
	case p.Pair == "chainage" && (p.Within == nil || p.Within.Length < 0):
		add("within", "pairs by chainage need the distance within which two shots are of one cross section, such as \"within: 0.5 m\"")
	case p.Pair == "run" && p.Within != nil:
		add("within", "a distance is for \"pair: chainage\"")
	}
	return faults
}

// maxSideShots is how many shots a crossfall check keeps.
const maxSideShots = 1_000_000

type crossfallMeasurer struct {
	params *CrossfallParams
	frame  *convert.Frame
	design *convert.Surface // nil with a grade
	grade  unit.Grade
	sides  [2][]convert.Shot // left, right
	edges  [2]edge           // the same along, with a grade
	lots   firstOfLots
	count  int
}

func startCrossfall(params any, set *qa.Setting) (qa.Measurer, error) {
	p := params.(*CrossfallParams)
	m := &crossfallMeasurer{params: p, frame: set.Frame}
	if p.Design != "" {
		if m.design = set.Design.Surfaces[p.Design]; m.design == nil {
			return nil, fmt.Errorf("the design %q is no surface that could be read", p.Design)
		}
		return m, nil
	}
	var err error
	m.grade, err = p.Grade.grade()
	return m, err
}

func (m *crossfallMeasurer) Batch(shots []convert.Shot, rows []qa.Row) {
	for i := range shots {
		s, r := &shots[i], &rows[i]
		r.Quantity = qa.QuantityCrossfall
		left := m.params.Left.Matches(s.ID, s.Code, s.Layer, s.Run, s.Pos.File)
		right := m.params.Right.Matches(s.ID, s.Code, s.Layer, s.Run, s.Pos.File)
		switch {
		case s.Use != convert.Assessed:
			continue // keeps its reason
		case left && right:
			r.Reason = "by the job it is on the left and on the right"
		case !left && !right:
			r.Reason = "by the job it is neither on the left nor on the right"
		case !s.Levelled:
			r.Reason = "it has no level"
		case m.params.Pair == "chainage" && !s.Chained:
			r.Reason = "it has no chainage to be paired by"
		case m.params.Pair == "run" && s.Run == "":
			r.Reason = "it belongs to no run to be paired by"
		case !s.Placed && !s.Chained, m.design != nil && !s.Placed:
			r.Reason = "it has no place: no easting and northing, and its name is in no peg list of the job"
		default:
			r.Shot.Use, r.Reason = convert.Control, "the crossfall at its cross section is worked out with it"
			m.lots.meet(s)
			if m.count++; m.count <= maxSideShots {
				k := 0
				if right {
					k = 1
				}
				m.sides[k] = append(m.sides[k], detached(s))
			}
		}
	}
}

// Finish pairs the shots and judges the pairs, in the order of the left ones; then
// come the shots without a partner.
func (m *crossfallMeasurer) Finish() (rows []qa.Row, remarks []string) {
	if m.count > maxSideShots {
		return m.lots.rows(qa.Row{Quantity: qa.QuantityCrossfall,
			Reason: fmt.Sprintf("the check has %d shots, more than the %d that are kept; make a check of each part of the work", m.count, maxSideShots)}), nil
	}
	pairs := m.pairs()
	if m.design == nil {
		m.edges = [2]edge{newEdge(m.sides[0]), newEdge(m.sides[1])}
	}
	slices.SortFunc(pairs, func(a, b pair) int { return cmp.Compare(a.left, b.left) })
	var has [2][]bool
	for k := range has {
		has[k] = make([]bool, len(m.sides[k]))
	}
	for _, p := range pairs {
		has[0][p.left], has[1][p.right] = true, true
		rows = append(rows, m.judge(&m.sides[0][p.left], &m.sides[1][p.right]))
	}
	for k, side := range []string{"right", "left"} {
		for i := range m.sides[k] {
			if !has[k][i] {
				why := "no shot on the " + side + " is within " + m.within() + " of it in chainage, or each has a nearer partner"
				if m.params.Pair == "run" {
					why = "its run has not one shot on either side"
				}
				rows = append(rows, qa.Row{Quantity: qa.QuantityCrossfall, Shot: m.sides[k][i], Reason: why})
			}
		}
	}
	return rows, nil
}

func (m *crossfallMeasurer) within() string {
	if m.params.Within == nil {
		return ""
	}
	return inUnit(m.frame, m.params.Within.Length)
}

// judge compares the rise of one pair with design.
func (m *crossfallMeasurer) judge(a, b *convert.Shot) qa.Row {
	r := qa.Row{Quantity: qa.QuantityCrossfall, Shot: *a, Limits: limits.Tolerance{Source: m.params.Tolerance.Source}}
	partner := cmp.Or(b.ID, "a shot without name") + " (" + b.Pos.String() + ")"
	if a.Chained && b.Chained && a.Offset >= b.Offset && (a.Offset != 0 || b.Offset != 0) {
		r.Reason = fmt.Sprintf("by the job it is on the left (%s) and %s on the right, and its offset of %s is not to the left of %s there; correct the sides in the job, the codes or the offsets", a.Pos, partner, inUnit(m.frame, a.Offset), inUnit(m.frame, b.Offset))
		return r
	}
	d := (b.Offset - a.Offset).Abs()
	if a.Placed && b.Placed {
		d = unit.Distance(b.Place.E-a.Place.E, b.Place.N-a.Place.N)
	}
	if d == 0 {
		r.Reason = "it stands at the same place as " + partner + ", and has no grade to it"
		return r
	}
	r.Measured = b.Level - a.Level
	exact := new(big.Rat) // design rise
	if m.design != nil {
		za, from, why := m.design.At(a)
		if why == "" {
			var zb unit.Length
			zb, _, why = m.design.At(b)
			exact.SetInt64(int64(zb - za))
		}
		if why != "" {
			r.Reason = why
			return r
		}
		r.DesignAt = from
	} else {
		exact = product(m.grade, d)
		r.DesignAt = "crossfall " + string(m.params.Grade)
	}
	r.Design = rounded(exact)
	m.limit(&r.Limits, exact, d)
	r.Diff, r.Compared = r.Measured-r.Design, true
	r.Verdict, r.Beyond = r.Limits.Judge(r.Diff)
	r.U, r.HasU = b.Worth.UncertaintyTo(a.Worth)
	words := sideWords(r.Measured, d)
	r.Reason = fmt.Sprintf("to %s, %s across: %s; design %s", partner, inUnit(m.frame, d), words, sideWords(r.Design, d))
	if m.design == nil && a.Chained && b.Chained && a.Chainage != b.Chainage {
		words, why := m.skewed(a, b, d, &r)
		if why != "" {
			return qa.Row{Quantity: r.Quantity, Shot: r.Shot, Limits: limits.Tolerance{Source: r.Limits.Source}, DesignAt: r.DesignAt, Reason: r.Reason + "; " + why}
		}
		r.Reason += "; " + words
	}
	if r.Measured.Sign()*r.Design.Sign() < 0 {
		r.Note = "it runs the wrong way"
	}
	return r
}

// limit enters what is allowed of rise − design over a distance in whole counts: the
// limits cut to the inside. exact is the design rise.
func (m *crossfallMeasurer) limit(t *limits.Tolerance, exact *big.Rat, d unit.Length) {
	design := rounded(exact)
	if l := m.params.Tolerance.Lower; l != nil {
		x := new(big.Rat).Add(exact, product(l.Grade, d))
		t.HasLower, t.Lower = true, ceil(x)-design
	}
	if l := m.params.Tolerance.Upper; l != nil {
		x := new(big.Rat).Add(exact, product(l.Grade, d))
		t.HasUpper, t.Upper = true, -ceil(x.Neg(x))-design
	}
}

// sideWords says a rise over a distance as a grade: "falls 2.50 % to the right".
func sideWords(rise, over unit.Length) string {
	if rise == 0 {
		return "level"
	}
	word := "rises"
	if rise < 0 {
		word = "falls"
	}
	return word + " " + unit.Grade{Rise: rise.Abs(), Run: over}.Percent() + " to the right"
}

// product is a grade over a distance, exact.
func product(g unit.Grade, d unit.Length) *big.Rat {
	n := new(big.Int).Mul(big.NewInt(int64(g.Rise)), big.NewInt(int64(d)))
	return new(big.Rat).SetFrac(n, big.NewInt(int64(g.Run)))
}

// rounded is the count nearest to a fraction, half upwards.
func rounded(x *big.Rat) unit.Length {
	return -ceil(new(big.Rat).Sub(big.NewRat(-1, 2), x))
}

// ceil is the least count that is not below a fraction.
func ceil(x *big.Rat) unit.Length {
	n := new(big.Int).Neg(x.Num())
	n.Div(n, x.Denom()) // floor of −x, because the denominator is positive
	return -unit.Length(n.Int64())
}
