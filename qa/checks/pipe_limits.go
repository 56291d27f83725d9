package checks

import (
	"errors"
	"fmt"
	"slices"

	"github.com/invopop/jsonschema"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// SizeLimit is a limit that may depend on the size of the pipe: "20 mm", "5 % of
// bore", "-lesser of 20 mm and 5 % of DN".
type SizeLimit struct{ limits.Size }

// UnmarshalText reads the limit.
func (l *SizeLimit) UnmarshalText(text []byte) (err error) {
	l.Size, err = limits.ParseSize(string(text))
	return err
}

// JSONSchema describes the limit.
func (SizeLimit) JSONSchema() *jsonschema.Schema {
	const part = `([0-9.]+ *(mm|cm|m|km|ft|ftUS|in|mi)|[0-9.]+ *% +of +(DN|bore))`
	return &jsonschema.Schema{Type: "string", Pattern: `^ *[-+]? *(the +)?((lesser|greater) +of +` + part + ` +and +)?` + part + ` *$`,
		Examples: []any{"20 mm", "-lesser of 20 mm and 5 % of DN", "5 % of bore"}}
}

// SizeTolerance is a tolerance whose limits may depend on the size of the pipe: its
// limits and who set them, or a preset by its name.
type SizeTolerance struct {
	Lower  *SizeLimit `yaml:"lower,omitempty" json:"lower,omitempty" jsonschema:"description=Lowest allowed value; a length or a share of the size of the pipe"`
	Upper  *SizeLimit `yaml:"upper,omitempty" json:"upper,omitempty" jsonschema:"description=Highest allowed value; a length or a share of the size of the pipe"`
	Source string     `yaml:"source,omitempty" json:"source,omitempty" jsonschema:"description=Clause or drawing or instruction that sets the limits"`
	Preset string     `yaml:"preset,omitempty" json:"preset,omitempty" jsonschema:"description=Name of a published tolerance in place of limits; it brings its source"`
}

// Validate asks for limits with their source, or for a preset that there is.
func (t *SizeTolerance) Validate() (f []job.Fault) {
	add := func(key, text string) { f = append(f, job.Fault{Key: key, Text: text}) }
	given := t.Lower != nil || t.Upper != nil
	switch {
	case t.Preset != "" && (given || t.Source != ""):
		add("preset", "a preset brings its limits and its source; leave lower, upper and source out, or the preset")
	case t.Preset != "":
		if _, err := limits.PresetByName(t.Preset); err != nil {
			add("preset", err.Error())
		}
	case !given:
		add("", "the tolerance has neither a lower nor an upper limit; give at least one")
	case t.Source == "":
		add("source", "a limit needs its source beside it: the clause, drawing or instruction that sets it")
	}
	if t.Lower != nil && t.Upper != nil && t.Lower.Of == "" && t.Upper.Of == "" {
		if _, err := t.limits().For(0); err != nil {
			add("lower", err.Error())
		}
	}
	return f
}

func (t *SizeTolerance) limits() (s limits.SizeTolerance) {
	s.Source = t.Source
	if t.Lower != nil {
		s.Lower, s.HasLower = t.Lower.Size, true
	}
	if t.Upper != nil {
		s.Upper, s.HasUpper = t.Upper.Size, true
	}
	return s
}

// in is the tolerance where a foot is that of the job. kinds are the kinds of
// preset that fit the quantity.
func (t *SizeTolerance) in(f *convert.Frame, kinds ...string) (limits.SizeTolerance, error) {
	if t.Preset == "" {
		return t.limits(), nil
	}
	p, err := limits.PresetByName(t.Preset)
	if err != nil {
		return limits.SizeTolerance{}, err
	}
	if !slices.Contains(kinds, p.Kind) {
		return limits.SizeTolerance{}, fmt.Errorf("the preset %s is a limit of %q (%s), which is another quantity than the one judged here", p.Name, p.Kind, p.Basis)
	}
	return p.Tolerance(f.Unit)
}

// fixed is the tolerance as the report shows it for the whole check: without
// limits where they differ from pipe to pipe.
func (t *SizeTolerance) fixed() *job.Tolerance {
	out := &job.Tolerance{Source: t.Source}
	if t.Preset != "" || t.Lower != nil && t.Lower.Sized() || t.Upper != nil && t.Upper.Sized() {
		return out
	}
	if t.Lower != nil {
		l, _ := t.Lower.For(0)
		out.Lower = &job.Length{Length: l}
	}
	if t.Upper != nil {
		l, _ := t.Upper.For(0)
		out.Upper = &job.Length{Length: l}
	}
	return out
}

// Nominal is a nominal size, DN: a length, or the bore.
type Nominal struct {
	unit.Length
	IsBore bool
}

// UnmarshalText reads "300 mm" or "bore".
func (n *Nominal) UnmarshalText(text []byte) error {
	if string(text) == "bore" {
		*n = Nominal{IsBore: true}
		return nil
	}
	var l job.Length
	if err := l.UnmarshalText(text); err != nil {
		return fmt.Errorf("%w; or write \"bore\" where the nominal size is the bore", err)
	}
	n.Length = l.Length
	return nil
}

// JSONSchema describes the size.
func (Nominal) JSONSchema() *jsonschema.Schema {
	return &jsonschema.Schema{Type: "string", Pattern: `^(bore|[-+]?[0-9.]+ *(mm|cm|m|km|ft|ftUS|in|mi))$`, Examples: []any{"300 mm", "bore"}}
}

// PipeSize is what the job says of the sizes of some pipes.
type PipeSize struct {
	Pipes   []string    `yaml:"pipes,omitempty" json:"pipes,omitempty" jsonschema:"description=Pipes that it holds for; * at the end stands for any ending; all when left out"`
	Nominal *Nominal    `yaml:"nominal,omitempty" json:"nominal,omitempty" jsonschema:"description=Nominal size (DN) such as 300 mm; or bore where it is the bore"`
	Bore    *job.Length `yaml:"bore,omitempty" json:"bore,omitempty" jsonschema:"description=Inside diameter or height"`
	Wall    *job.Length `yaml:"wall,omitempty" json:"wall,omitempty" jsonschema:"description=Thickness of the wall"`
	Collar  *job.Length `yaml:"collar,omitempty" json:"collar,omitempty" jsonschema:"description=How far the outside top of a collar stands above that of the barrel"`
	Bedding *job.Length `yaml:"bedding,omitempty" json:"bedding,omitempty" jsonschema:"description=Thickness of the bedding below the barrel"`
	Source  string      `yaml:"source" json:"source" jsonschema:"required,description=Drawing or catalogue that these sizes come from"`
}

// Validate asks for a size, and refuses what is none.
func (z *PipeSize) Validate() (f []job.Fault) {
	given := z.Nominal != nil
	if z.Nominal != nil && !z.Nominal.IsBore && z.Nominal.Length <= 0 {
		f = append(f, job.Fault{Key: "nominal", Text: "a size is more than nought"})
	}
	for _, x := range []struct {
		key string
		l   *job.Length
	}{{"bore", z.Bore}, {"wall", z.Wall}, {"collar", z.Collar}, {"bedding", z.Bedding}} {
		given = given || x.l != nil
		if x.l != nil && x.l.Length <= 0 {
			f = append(f, job.Fault{Key: x.key, Text: "a size is more than nought"})
		}
	}
	if !given {
		f = append(f, job.Fault{Text: "no size stands here; give nominal, bore, wall, collar or bedding"})
	}
	return f
}

// sizes of one pipe, from design and job; 0 = not known.
type sizes struct{ nominal, bore, wall, collar, bedding unit.Length }

// sizesOf puts together what the design and the job say of every pipe. They may
// not contradict each other.
func sizesOf(n *convert.Network, list []PipeSize) ([]sizes, error) {
	out := make([]sizes, len(n.Pipes))
	used := make([]bool, len(list))
	for i := range n.Pipes {
		p := &n.Pipes[i]
		z := sizes{bore: p.Bore, wall: p.Wall}
		from := map[string]string{"bore": "the design", "wall": "the design"}
		isBore := false
		for k := range list {
			e := &list[k]
			if !(job.Shots{Runs: e.Pipes}).Matches("", "", "", p.Name, "") {
				continue
			}
			used[k] = true
			says := []struct {
				what string
				to   *unit.Length
				l    *job.Length
			}{{"bore", &z.bore, e.Bore}, {"wall", &z.wall, e.Wall}, {"collar", &z.collar, e.Collar}, {"bedding", &z.bedding, e.Bedding}, {"nominal", &z.nominal, nil}}
			if e.Nominal != nil && !e.Nominal.IsBore {
				says[4].l = &job.Length{Length: e.Nominal.Length}
			}
			isBore = isBore || e.Nominal != nil && e.Nominal.IsBore
			for _, s := range says {
				switch {
				case s.l == nil:
				case *s.to != 0 && *s.to != s.l.Length:
					return nil, fmt.Errorf("pipe %s: the %s is %s mm in %s and %s mm in entry %d of \"sizes\"; correct one of them", p.Name, s.what, s.to.Exact(unit.MM, 0), from[s.what], s.l.Exact(unit.MM, 0), k+1)
				default:
					*s.to, from[s.what] = s.l.Length, fmt.Sprintf("entry %d of \"sizes\"", k+1)
				}
			}
		}
		if isBore {
			if z.nominal != 0 && z.nominal != z.bore {
				return nil, fmt.Errorf("pipe %s: its nominal size is the bore in one entry of \"sizes\", and %s mm in another; correct one of them", p.Name, z.nominal.Exact(unit.MM, 0))
			}
			z.nominal = z.bore
		}
		out[i] = z
	}
	if k := slices.Index(used, false); k >= 0 {
		return nil, fmt.Errorf("entry %d of \"sizes\": the network %q has no pipe %s", k+1, n.Name, quotedOr(list[k].Pipes))
	}
	return out, nil
}

// of is the size that a share is taken of.
func (z *sizes) of(what string) unit.Length {
	if what == "DN" {
		return z.nominal
	}
	return z.bore
}

// sized is a tolerance for a pipe of these sizes.
func (z *sizes) sized(t limits.SizeTolerance) (limits.Tolerance, error) {
	out := limits.Tolerance{HasLower: t.HasLower, HasUpper: t.HasUpper, Source: t.Source}
	var lower, upper error
	if t.HasLower {
		out.Lower, lower = t.Lower.For(z.of(t.Lower.Of))
	}
	if t.HasUpper {
		out.Upper, upper = t.Upper.For(z.of(t.Upper.Of))
	}
	if lower == nil && upper == nil && t.HasLower && t.HasUpper && out.Lower > out.Upper {
		upper = fmt.Errorf("the lower limit %s lies above the upper limit %s for this pipe", t.Lower, t.Upper)
	}
	return out, errors.Join(lower, upper)
}

// byPipe is a tolerance for each pipe, or why there is none.
type byPipe []struct {
	limits.Tolerance
	why string
}

func (z *sizes) tolerance(t limits.SizeTolerance) (limits.Tolerance, string) {
	tol, err := z.sized(t)
	if err != nil {
		return limits.Tolerance{Source: t.Source}, firstLine(err)
	}
	return tol, ""
}

func tolerances(all []sizes, t limits.SizeTolerance) byPipe {
	out := make(byPipe, len(all))
	for i := range all {
		out[i].Tolerance, out[i].why = all[i].tolerance(t)
	}
	return out
}
