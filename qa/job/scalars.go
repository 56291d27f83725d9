package job

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert/levels"
	"sightrail/convert/plane"
	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// UnmarshalText reads "10 mm" or "-0.450 m".
func (l *Length) UnmarshalText(text []byte) error {
	if _, _, err := splitUnit(string(text), "10 mm"); err != nil {
		return err
	}
	got, err := unit.ParseQuantity(string(text))
	l.Length = got
	return withPoint(string(text), err)
}

// splitUnit cuts "10 mm" and "10mm" at the end of the number.
func splitUnit(text, example string) (number string, u unit.Unit, err error) {
	text = strings.TrimSpace(text)
	i := strings.LastIndexAny(text, "0123456789.") + 1
	number, name := strings.TrimSpace(text[:i]), strings.TrimSpace(text[i:])
	switch {
	case !strings.ContainsAny(number, "0123456789"):
		return "", u, fmt.Errorf("%q is not a length; write a number and its unit, such as %q", text, example)
	case name == "":
		return "", u, fmt.Errorf("%q has no unit; write it after the number, such as %q", text, number+" "+strings.Fields(example)[1])
	}
	var named Unit
	err = named.UnmarshalText([]byte(name))
	return number, named.Unit, err
}

// withPoint adds a word to an error about a number with a decimal comma.
func withPoint(text string, err error) error {
	if err != nil && strings.Contains(text, ",") {
		return fmt.Errorf("%w; write decimals with a point, and no sign between thousands", err)
	}
	return err
}

// UnmarshalText reads "5800123.456 m". All decimals are kept.
func (c *Coordinate) UnmarshalText(text []byte) error {
	number, u, err := splitUnit(string(text), "5800123.456 m")
	if err != nil {
		return err
	}
	d, exact, err := unit.ParseDecimal(number)
	switch {
	case err != nil:
		return withPoint(number, err)
	case !exact:
		return fmt.Errorf("%q has more decimals than can be kept exactly; leave out those that nobody measured", text)
	}
	c.Value, c.In = d, u
	return nil
}

// String writes the coordinate as the job file has it.
func (c Coordinate) String() string { return c.Value.String() + " " + c.In.Name }

// UnmarshalText reads "1 in 100", "1 %" or "10 mm/m".
func (g *Grade) UnmarshalText(text []byte) (err error) {
	g.Grade, err = unit.ParseGrade(string(text))
	return err
}

// UnmarshalText reads the name of a decision rule.
func (d *DecisionRule) UnmarshalText(text []byte) (err error) {
	d.Decision, err = limits.ParseDecision(string(text))
	return err
}

// UnmarshalText reads "2" or "1.645".
func (f *Factor) UnmarshalText(text []byte) error {
	d, exact, err := unit.ParseDecimal(string(text))
	if err != nil || !exact {
		return fmt.Errorf("%q is no factor; write a number such as 2", text)
	}
	f.Decimal = d
	return nil
}

// UnmarshalText reads "123.5 deg".
func (b *Bearing) UnmarshalText(text []byte) (err error) {
	b.Text = string(text)
	b.Angle, err = plane.ParseBearing(b.Text)
	return err
}

// UnmarshalText reads "12 mm sqrt(K)".
func (r *Rule) UnmarshalText(text []byte) (err error) {
	r.Rule, err = levels.ParseRule(string(text))
	return err
}

// UnmarshalText reads the name of a unit. A foot must say which.
func (u *Unit) UnmarshalText(text []byte) error {
	name := string(text)
	found, ok := unit.ByName(name)
	if ok {
		u.Unit = found
		return nil
	}
	switch strings.ToLower(name) {
	case "foot", "feet", "f", "'":
		return fmt.Errorf("%q does not say which foot; write \"ft\" for the international foot (0.3048 m) or \"ftUS\" for the US survey foot (1200/3937 m)", name)
	case "usft", "us-ft", "us ft", "ft-us", "sft":
		return fmt.Errorf("%q is not written as a unit here; write \"ftUS\" for the US survey foot", name)
	}
	word := strings.ReplaceAll(strings.TrimSuffix(strings.ToLower(name), "s"), "meter", "metre")
	for _, known := range unit.Units {
		if word == known.Word || strings.EqualFold(name, known.Name) {
			return fmt.Errorf("%q is not written as a unit here; write %q for the %s", name, known.Name, known.Word)
		}
	}
	return fmt.Errorf("%q is not a unit of length; use %s", name, list(unitNames()))
}

// UnmarshalText reads the name of a unit, or ft-in.
func (u *FileUnit) UnmarshalText(text []byte) error {
	if string(text) == "ft-in" {
		*u = FileUnit{FeetInches: true}
		return nil
	}
	return u.Unit.UnmarshalText(text)
}

func unitNames() []string {
	names := make([]string, len(unit.Units))
	for i, u := range unit.Units {
		names[i] = u.Name
	}
	return names
}

// list writes words with commas and an "or".
func list(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " or " + words[n-1]
	}
	return strings.Join(words, "")
}

// UnmarshalText reads "EPSG:7855" or "local Site grid A".
func (g *Grid) UnmarshalText(text []byte) error {
	t := string(text)
	if code, ok := strings.CutPrefix(t, "EPSG:"); ok {
		if len(code) < 4 || len(code) > 6 || strings.Trim(code, "0123456789") != "" {
			return fmt.Errorf("%q is not an EPSG code; write four to six digits after \"EPSG:\", such as \"EPSG:7855\"", t)
		}
		*g = Grid{EPSG: code}
		return nil
	}
	word, name, _ := strings.Cut(t, " ")
	if name = strings.TrimSpace(name); word == "local" {
		if name == "" {
			return fmt.Errorf("a local grid needs its name, such as \"local Site grid A\"")
		}
		*g = Grid{Name: name}
		return nil
	}
	return fmt.Errorf("%q does not name a grid; write an EPSG code such as \"EPSG:7855\", or \"local\" and the name of the site grid, such as \"local Site grid A\"", t)
}

// String writes the grid as the job file has it.
func (g Grid) String() string {
	switch {
	case g.EPSG != "":
		return "EPSG:" + g.EPSG
	case g.Name != "":
		return "local " + g.Name
	}
	return ""
}

// The words for what was staffed: inside bottom of a pipe, its inside top, its
// outside top, the outside top of a collar, the bedding it will lie on, the
// bottom of the trench, and a finished or formed surface.
const (
	OnInvert      Staffed = "invert"
	OnSoffit      Staffed = "soffit"
	OnTop         Staffed = "top"
	OnCollar      Staffed = "collar"
	OnBedding     Staffed = "bedding"
	OnTrenchFloor Staffed = "trenchBottom"
	OnSurface     Staffed = "surface"
)

// StaffedWords lists them.
var StaffedWords = []Staffed{OnInvert, OnSoffit, OnTop, OnCollar, OnBedding, OnTrenchFloor, OnSurface}

// UnmarshalText reads one of the words.
func (s *Staffed) UnmarshalText(text []byte) error {
	*s = Staffed(text)
	if slices.Contains(StaffedWords, *s) {
		return nil
	}
	if strings.EqualFold(string(text), "crown") {
		return fmt.Errorf("%q is read in two ways; write \"soffit\" for the inside top of the pipe or \"top\" for its outside top", text)
	}
	words := make([]string, len(StaffedWords))
	for i, w := range StaffedWords {
		words[i] = string(w)
	}
	return fmt.Errorf("%q is not a word for what was staffed; use %s%s", text, list(words), didYouMean(string(text), words))
}
