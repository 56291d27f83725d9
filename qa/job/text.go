package job

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// The words of what the staff stood on.
const (
	OnSurface     Staffed = "surface"
	OnInvert      Staffed = "invert"
	OnSoffit      Staffed = "soffit"
	OnTop         Staffed = "top"
	OnCollar      Staffed = "collar"
	OnBedding     Staffed = "bedding"
	OnTrenchFloor Staffed = "trenchBottom"
)

// StaffedWords lists them.
var StaffedWords = []Staffed{OnSurface, OnInvert, OnSoffit, OnTop, OnCollar, OnBedding, OnTrenchFloor}

// Every is the acceptance rule that every shot must be within tolerance.
const Every Acceptance = "every"

func (l *Length) fromText(s string) (err error) {
	l.Length, err = unit.ParseQuantity(s)
	return err
}

func (g *Grade) fromText(s string) (err error) {
	g.Grade, err = unit.ParseGrade(s)
	return err
}

func (r *Rule) fromText(s string) (err error) {
	r.Rule, err = levels.ParseRule(s)
	return err
}

func (u *Unit) fromText(s string) error {
	x, ok := unit.ByName(s)
	if !ok {
		names := make([]string, len(unit.Units))
		for i, n := range unit.Units {
			names[i] = n.Name
		}
		hint := ""
		switch strings.ToLower(s) {
		case "feet", "foot", "us-ft", "usft", "sft":
			hint = "; ft is the international foot, ftUS the US survey foot"
		case "metre", "meter", "metres", "meters":
			hint = "; write m"
		}
		return fmt.Errorf("%q is not the name of a unit of length (%s)%s", s, strings.Join(names, ", "), hint)
	}
	u.Unit = x
	return nil
}

func (c *Coordinate) fromText(s string) error {
	s = strings.TrimSpace(s)
	i := strings.LastIndexAny(s, "0123456789.") + 1
	d, exact, err := unit.ParseDecimal(strings.TrimSpace(s[:i]))
	u, ok := unit.ByName(strings.TrimSpace(s[i:]))
	if err != nil || !exact || !ok {
		return fmt.Errorf("%q is not a coordinate; write a number and its unit, such as \"5800123.456 m\"", s)
	}
	c.Value, c.In = d, u
	return nil
}

func (g *Grid) fromText(s string) error {
	if code, ok := strings.CutPrefix(s, "EPSG:"); ok {
		if code == "" || strings.Trim(code, "0123456789") != "" {
			return fmt.Errorf("%q is not an EPSG code; write it with digits, such as \"EPSG:7855\"", s)
		}
		g.EPSG = code
		return nil
	}
	if name, ok := strings.CutPrefix(s, "local "); ok && strings.TrimSpace(name) != "" {
		g.Name = strings.TrimSpace(name)
		return nil
	}
	return fmt.Errorf("%q is not a grid; write \"EPSG:7855\" for a grid with a code, or \"local NAME\" for a site grid, with its name", s)
}

// String writes the grid as in a job file.
func (g Grid) String() string {
	if g.EPSG != "" {
		return "EPSG:" + g.EPSG
	}
	return "local " + g.Name
}

func (s *Staffed) fromText(t string) error {
	if !slices.Contains(StaffedWords, Staffed(t)) {
		words := make([]string, len(StaffedWords))
		for i, w := range StaffedWords {
			words[i] = string(w)
		}
		hint := didYouMean(t, words)
		if strings.EqualFold(t, "crown") {
			hint = "; crown is said of the inside and of the outside: write soffit (inside top) or top (outside top)"
		}
		return fmt.Errorf("%q is none of the words for what the staff stood on: %s%s", t, strings.Join(words, ", "), hint)
	}
	*s = Staffed(t)
	return nil
}

func (a *Acceptance) fromText(t string) error {
	if Acceptance(t) != Every {
		return fmt.Errorf("%q is not an acceptance rule; there is one, \"every\": every shot within tolerance", t)
	}
	*a = Every
	return nil
}

// Options returns how a decoder reads the file.
func (r Reading) Options(content formats.Content) formats.Options {
	o := formats.Options{Content: content, Sheet: r.Sheet, Columns: r.Columns, Encoding: r.Encoding}
	if r.Unit != nil {
		o.Unit = r.Unit.Unit
	}
	o.Delimiter = map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t', "pipe": '|', "space": ' '}[r.Delimiter]
	o.Decimal = map[string]rune{"point": '.', "comma": ','}[r.Decimal]
	return o
}

// Matches reports whether the texts of a shot fit the selection. Polygon and
// chainage are the caller's.
func (s Shots) Matches(id, code, layer, run, survey string) bool {
	return anyOf(s.Names, id) && anyOf(s.Codes, code) && anyOf(s.Layers, layer) && anyOf(s.Runs, run) && anyOf(s.Surveys, survey)
}

// anyOf reports whether a text is one of the patterns; a pattern may end in *.
// No pattern at all fits everything.
func anyOf(patterns []string, text string) bool {
	for _, p := range patterns {
		if head, ok := strings.CutSuffix(p, "*"); ok && strings.HasPrefix(text, head) || p == text {
			return true
		}
	}
	return len(patterns) == 0
}

// meaning checks what the file says as a whole: names that lead nowhere, limits
// the wrong way round, a stale design.
func (l *loader) meaning() {
	j := l.job
	l.unique("benchMarks", len(j.BenchMarks), func(i int) string { return j.BenchMarks[i].Name })
	l.unique("designs", len(j.Designs), func(i int) string { return j.Designs[i].Name })
	for i := range j.BenchMarks {
		if b := &j.BenchMarks[i]; (b.Easting == nil) != (b.Northing == nil) {
			l.at(fmt.Sprintf("benchMarks[%d]", i), b.Name, "a mark has both easting and northing, or neither")
		}
	}
	if j.Levelling.Closing.Given() && j.Levelling.Source == "" {
		l.at("levelling.closing", "closing", "a closing rule needs its source beside it: who set it")
	}
	if j.Levelling.Judge == "adjusted" && j.Levelling.Distribute == levels.NoDistribution {
		l.at("levelling.judge", "judge", "adjusted levels are to be judged, and nothing says how to adjust; add \"distribute: setups\" or \"distribute: distance\"")
	}
	if (j.CheckShots.Level != nil || j.CheckShots.Plan != nil) && j.CheckShots.Source == "" {
		l.at("checkShots", "checkShots", "limits for check shots need their source beside them")
	}
	for i := range j.Surveys {
		s := &j.Surveys[i]
		path := fmt.Sprintf("surveys[%d]", i)
		l.datum(path, s.File, s.HeightDatum)
		for k := range s.Exclude {
			if x := &s.Exclude[k]; len(x.Names)+len(x.Codes) == 0 {
				l.at(fmt.Sprintf("%s.exclude[%d]", path, k), "exclude", "the rule names neither names nor codes; it would leave every row out")
			}
		}
	}
	for i := range j.Designs {
		d := &j.Designs[i]
		path := fmt.Sprintf("designs[%d]", i)
		l.datum(path, d.Name, d.HeightDatum)
		if (d.Surface == "") == (d.Network == "") {
			l.at(path, d.Name, "a design names one of surface and network: what to take of the file")
		}
		if d.Revision != "" && j.Revision != "" && d.Revision != j.Revision {
			l.at(path+".revision", d.Name, "this design is revision %s and the job calls for %s; get the right file, or correct the job", d.Revision, j.Revision)
		}
	}
	for i := range j.Checks {
		l.checkMeaning(i)
	}
}

func (l *loader) at(path, field, format string, args ...any) {
	l.problemAt(l.job.Where(path), field, format, args...)
}

func (l *loader) datum(path, name, datum string) {
	if datum != "" && datum != l.job.HeightDatum {
		l.at(path+".heightDatum", name, "its height datum is %q and that of the job is %q; levels of two datums cannot be compared", datum, l.job.HeightDatum)
	}
}

func (l *loader) unique(list string, n int, name func(int) string) {
	seen := map[string]int{}
	for i := range n {
		if k, ok := seen[name(i)]; ok {
			l.at(fmt.Sprintf("%s[%d].name", list, i), name(i), "the name stands twice in %s; it is entry %d already", list, k+1)
		}
		seen[name(i)] = i
	}
}

// tolerant is what a check's parameters tell of their limits.
type tolerant interface{ ToleranceOf() *Tolerance }

func (l *loader) checkMeaning(i int) {
	c := &l.job.Checks[i]
	path := fmt.Sprintf("checks[%d].%s", i, c.Kind)
	if co, ok := c.Params.(interface{ CommonOf() *Common }); ok {
		common := co.CommonOf()
		if !slices.ContainsFunc(l.job.Designs, func(d Design) bool { return d.Name == common.Design }) {
			names := make([]string, len(l.job.Designs))
			for k := range l.job.Designs {
				names[k] = l.job.Designs[k].Name
			}
			l.at(path+".design", "design", "no entry of designs is named %q; there are %s%s", common.Design, strings.Join(names, ", "), didYouMean(common.Design, names))
		}
		if ch := common.Shots.Chainage; ch != nil && ch.From.Length > ch.To.Length {
			l.at(path+".shots.chainage", "chainage", "from is beyond to")
		}
		if p := common.Shots.Polygon; p != nil && (p.File == "") == (len(p.Corners) == 0) {
			l.at(path+".shots.polygon", "polygon", "a polygon has corners here, or a file with a name, and not both")
		}
	}
	if t, ok := c.Params.(tolerant); ok {
		tol := t.ToleranceOf()
		switch {
		case tol.Lower == nil && tol.Upper == nil:
			l.at(path+".tolerance", "tolerance", "there is neither lower nor upper; give at least one limit")
		case tol.Lower != nil && tol.Upper != nil && tol.Lower.Length > tol.Upper.Length:
			l.at(path+".tolerance", "tolerance", "lower is above upper")
		case strings.TrimSpace(tol.Source) == "":
			l.at(path+".tolerance.source", "source", "a tolerance needs its source: the clause or drawing that sets it")
		}
	}
}
