package job

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/invopop/jsonschema"

	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// Acceptance are the rules that lots are accepted by. Without any, and for the
// checks that none of them names, every point has to be within its limits:
// "every" in the job file.
type Acceptance []Plan

// Every is the word for no other rule than that every point must be within its
// limits.
const Every = "every"

// Plan is a rule that each lot is accepted by, or the whole job where it has no
// lots. It judges the results of shots of the checks it is for, or those of the
// Quantity it names; verdicts of points stay what they are.
type Plan struct {
	Checks      []string `yaml:"checks,omitempty" json:"checks,omitempty" jsonschema:"description=Names of the checks it is for; every check when left out"`
	Quantity    string   `yaml:"quantity,omitempty" json:"quantity,omitempty" jsonschema:"enum=level,enum=invert,enum=line,enum=step,enum=cover,enum=place,enum=thickness,enum=gap,description=Which results of the checks it is for; those read at single shots when left out"`
	Plan        string   `yaml:"plan" json:"plan" jsonschema:"required,enum=every point,enum=share within,enum=percent within,enum=at most,enum=mean and deviation,description=Kind of rule: share within counts points; percent within estimates from mean and standard deviation; at most allows so many beyond in so many; mean and deviation asks for mean ± k s within the limits"`
	Percent     *Percent `yaml:"percent,omitempty" json:"percent,omitempty" jsonschema:"description=Least percentage within limits"`
	Bad         *int     `yaml:"bad,omitempty" json:"bad,omitempty" jsonschema:"description=How many may be beyond their limits"`
	In          *int     `yaml:"in,omitempty" json:"in,omitempty" jsonschema:"description=In how many"`
	Consecutive bool     `yaml:"consecutive,omitempty" json:"consecutive,omitempty" jsonschema:"description=In any so many one after the other along the line; of the whole lot when left out"`
	MostBeyond  *Length  `yaml:"mostBeyond,omitempty" json:"mostBeyond,omitempty" jsonschema:"description=How far beyond its limit a point may be at most"`
	K           *Factor  `yaml:"k,omitempty" json:"k,omitempty" jsonschema:"description=Factor of the standard deviation"`
	Quality     *Percent `yaml:"quality,omitempty" json:"quality,omitempty" jsonschema:"description=Acceptable quality level in percent that k is taken for from the published table by the number of points"`
	Spread      *Factor  `yaml:"spread,omitempty" json:"spread,omitempty" jsonschema:"description=Largest standard deviation as a share of the distance between the limits"`
	Values      *int     `yaml:"values,omitempty" json:"values,omitempty" jsonschema:"description=How many points the factor k is for"`
	Source      string   `yaml:"source" json:"source" jsonschema:"required,description=Clause or instruction that sets the rule"`
}

// Percent is a percentage, exact in its decimals: "90 %".
type Percent struct{ unit.Decimal }

// UnmarshalText reads "90 %".
func (p *Percent) UnmarshalText(text []byte) error {
	number, ok := strings.CutSuffix(strings.TrimSpace(string(text)), "%")
	d, exact, err := unit.ParseDecimal(strings.TrimSpace(number))
	if !ok || err != nil || !exact {
		return fmt.Errorf("%q is no percentage; write a number and its sign, such as 90 %%", text)
	}
	p.Decimal = d
	return nil
}

// JSONSchema describes a percentage.
func (Percent) JSONSchema() *jsonschema.Schema { return text(numberPattern+` *%`, "90 %", "1.5 %") }

// Limits is the rule as data for a lot of n assessed values. The error says why
// the published table has no factor for so many.
func (p *Plan) Limits(n int) (limits.Plan, error) {
	switch p.Plan {
	case "share within":
		return limits.ShareWithin{Percent: p.Percent.Decimal}, nil
	case "percent within":
		return limits.EstimatedWithin{Percent: p.Percent.Decimal}, nil
	case "at most":
		a := limits.AtMost{Bad: *p.Bad, Of: *p.In, Consecutive: p.Consecutive}
		if p.MostBeyond != nil {
			a.MostBeyond, a.HasMost = p.MostBeyond.Length, true
		}
		return a, nil
	case "mean and deviation":
		v := limits.Variables{Source: p.Source}
		if p.Spread != nil {
			v.Spread, v.HasSpread = p.Spread.Decimal, true
		}
		if p.Values != nil {
			v.Values = *p.Values
		}
		if p.K != nil {
			v.K = p.K.Decimal
			return v, nil
		}
		k, err := limits.PublishedFactor(n, p.Quality.Decimal)
		v.K, v.Values, v.Source = k, n, limits.FactorTableSource
		return v, err
	}
	return limits.EveryPoint{}, nil
}

// Words say the rule for the report.
func (p *Plan) Words() string {
	if p.Quality != nil {
		s := "mean ± k s within the limits, k for an acceptable quality level of " + p.Quality.String() + " % by the number of points (" + limits.FactorTableSource + ")"
		if p.Spread != nil {
			s += ", s at most " + p.Spread.String() + " of the distance between the limits"
		}
		return s
	}
	plan, err := p.Limits(0)
	if err != nil {
		return p.Plan
	}
	return plan.String()
}

// planKeys are the parameters of each kind of plan, those that it needs first.
var planKeys = map[string]struct{ needs, may []string }{
	"every point":        {},
	"share within":       {needs: []string{"percent"}},
	"percent within":     {needs: []string{"percent"}},
	"at most":            {needs: []string{"bad", "in"}, may: []string{"consecutive", "mostBeyond"}},
	"mean and deviation": {may: []string{"k", "quality", "spread", "values"}},
}

// Validate asks for the parameters of the plan, and refuses those of another.
func (p *Plan) Validate() (f []Fault) {
	add := (*faults)(&f).add
	keys := planKeys[p.Plan]
	for _, x := range []struct {
		key   string
		given bool
	}{{"percent", p.Percent != nil}, {"bad", p.Bad != nil}, {"in", p.In != nil}, {"consecutive", p.Consecutive}, {"mostBeyond", p.MostBeyond != nil}, {"k", p.K != nil}, {"quality", p.Quality != nil}, {"spread", p.Spread != nil}, {"values", p.Values != nil}} {
		switch needed := slices.Contains(keys.needs, x.key); {
		case needed && !x.given:
			add("", "the plan %q needs the key %q; add it", p.Plan, x.key)
		case x.given && !needed && !slices.Contains(keys.may, x.key):
			add(x.key, "the plan %q does not use this key; leave it out, or take the plan it belongs to", p.Plan)
		}
	}
	if p.Plan == "mean and deviation" {
		switch {
		case p.K == nil && p.Quality == nil:
			add("", "the plan %q needs its factor; add \"k:\", or \"quality:\" with the acceptable quality level it is taken for from the published table", p.Plan)
		case p.K != nil && p.Quality != nil:
			add("quality", "the factor is given, and the level it would be taken for as well; keep \"k:\" or \"quality:\"")
		case p.Quality != nil && p.Values != nil:
			add("values", "the factor of the published table follows the number of points of each lot; leave \"values:\" out")
		}
	}
	if len(f) > 0 {
		return f
	}
	plan, err := p.Limits(10)
	if p.Quality != nil {
		if !slices.ContainsFunc(factorSizes, func(n int) bool { _, e := limits.PublishedFactor(n, p.Quality.Decimal); return e == nil }) {
			add("quality", "%v", err)
		}
		return f
	}
	if err = plan.Validate(); err != nil {
		add("", "%v", err)
	}
	return f
}

// factorSizes are numbers of values to try a quality level with.
var factorSizes = []int{3, 4, 5, 7, 10, 15, 20, 25, 30, 35, 40, 50, 75, 100, 150, 200}

// acceptances looks up the checks of the rules. A check and a quantity have one
// rule, and one by mean and deviation knows no guard bands.
func (j *Job) acceptances(f *faults) {
	var names []string
	for i := range j.Checks {
		names = append(names, j.common(i).Name)
	}
	first := map[[2]string]int{}
	for i := range j.Acceptance {
		p := &j.Acceptance[i]
		at := fmt.Sprintf("acceptance[%d]", i)
		for k, n := range p.Checks {
			if !slices.Contains(names, n) {
				f.add(fmt.Sprintf("%s.checks[%d]", at, k), "no check is named %q; the checks of this job are %s%s", n, list(quoted(names)), didYouMean(n, names))
			}
		}
		for c := range j.Checks {
			common := j.common(c)
			if !p.For(common.Name) {
				continue
			}
			key := [2]string{common.Name, p.Quantity}
			if k, twice := first[key]; twice {
				f.add(at, "the check %q has a rule of acceptance in line %d already; a check has one, or one for each quantity", common.Name, j.Where(fmt.Sprintf("acceptance[%d]", k)).Row)
				continue
			}
			first[key] = i
			if other := [2]string{common.Name, ""}; p.Quantity != "" {
				if k, both := first[other]; both {
					f.add(at, "the check %q has a rule for all results of shots in line %d, and this one names a quantity; name the quantity there as well", common.Name, j.Where(fmt.Sprintf("acceptance[%d]", k)).Row)
				}
			} else if slices.ContainsFunc(j.Acceptance[:i], func(o Plan) bool { return o.For(common.Name) && o.Quantity != "" }) {
				f.add(at, "the check %q has a rule for one quantity already, and this one is for all results of shots; name the quantity here as well", common.Name)
			}
			if d := common.Decision; d != nil && d.Rule.Decision != limits.Simple && (p.Plan == "mean and deviation" || p.Plan == "percent within") {
				f.add(at, "the check %q has a decision rule (%s), and a plan by mean and standard deviation knows the limits only; judge by one of the two", common.Name, d.Rule)
			}
		}
	}
}

// For tells whether the rule is for a check of that name.
func (p *Plan) For(check string) bool {
	return len(p.Checks) == 0 || slices.Contains(p.Checks, check)
}

// acceptance reads "every", one rule, or a list of them.
func (d *decoder) acceptance(n ast.Node, a *Acceptance, s spot, tag fieldTag) bool {
	switch n.(type) {
	case *ast.SequenceNode:
		var plans []Plan
		ok := d.sequence(n, reflect.ValueOf(&plans).Elem(), s, tag)
		*a = plans
		return ok
	case *ast.MappingNode, *ast.MappingValueNode:
		*a = make(Acceptance, 1)
		d.places[s.path+"[0]"] = s.at
		return d.value(n, reflect.ValueOf(&(*a)[0]).Elem(), spot{s.path + "[0]", s.at}, fieldTag{})
	}
	text, ok := d.text(n, s, tag)
	if ok && text != Every {
		d.problem(place(n), s.path, "there is no acceptance rule %q; write \"every\" for each point within its limits, or a list of rules, each with \"plan:\" and \"source:\"", text)
		return false
	}
	return ok
}

// acceptanceSchema is the word, one rule or a list of rules.
func acceptanceSchema(r *jsonschema.Reflector) *jsonschema.Schema {
	word := &jsonschema.Schema{Type: "string", Enum: []any{Every}}
	one := r.ReflectFromType(reflect.TypeFor[Plan]())
	one.Version = ""
	many := r.ReflectFromType(reflect.TypeFor[[]Plan]())
	many.Version = ""
	return &jsonschema.Schema{OneOf: []*jsonschema.Schema{word, one, many}}
}
