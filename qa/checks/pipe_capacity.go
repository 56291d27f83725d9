package checks

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/invopop/jsonschema"

	"sightrail/convert/flow"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
)

// Capacity asks for what a pipe carries as built against its design: information
// for an engineer who is asked for a concession. Nothing is judged by it.
type Capacity struct {
	Manning   *job.Factor         `yaml:"manning,omitempty" json:"manning,omitempty" jsonschema:"description=Roughness n of Manning's formula such as 0.013"`
	Colebrook *job.Length         `yaml:"colebrookWhite,omitempty" json:"colebrookWhite,omitempty" jsonschema:"description=Roughness ks of the formula of Colebrook and White such as 0.6 mm"`
	Viscosity *Viscosity          `yaml:"viscosity,omitempty" json:"viscosity,omitempty" jsonschema:"description=Kinematic viscosity for Colebrook-White such as 1.14 mm2/s"`
	PartFull  *Share              `yaml:"partFull,omitempty" json:"partFull,omitempty" jsonschema:"description=Depth of flow as a share of the bore that the flow is told for as well such as 75 %"`
	Flows     map[string]FlowRate `yaml:"flows,omitempty" json:"flows,omitempty" jsonschema:"description=Flow of a pipe that depth and velocity are told for"`
	Source    string              `yaml:"source" json:"source" jsonschema:"required,description=Where roughness and flows come from"`
}

// Viscosity is a kinematic viscosity in m²/s.
type Viscosity struct{ MetresSquared float64 }

// Share is a part of the whole in percent, above 0 and below 100.
type Share struct{ Percent float64 }

// FlowRate is a flow in m³/s.
type FlowRate struct{ CubicMetres float64 }

// quantity reads a positive number and one of some units, each with its size.
func quantity(text, what, example string, units map[string]float64) (float64, error) {
	text = strings.TrimSpace(text)
	i := strings.LastIndexAny(text, "0123456789.") + 1
	for ; i > 0; i-- { // the digit of "m3/s" belongs to the unit
		if _, _, err := unit.ParseDecimal(strings.TrimSpace(text[:i])); err == nil {
			break
		}
	}
	d, _, err := unit.ParseDecimal(strings.TrimSpace(text[:i]))
	size, ok := units[strings.TrimSpace(text[i:])]
	if err != nil || !ok || d.Coef <= 0 {
		return 0, fmt.Errorf("%q is not a %s; write a number above nought and its unit, such as %q", text, what, example)
	}
	return d.Float() * size, nil
}

const cubicFoot = 0.3048 * 0.3048 * 0.3048

// UnmarshalText reads "1.14 mm2/s".
func (v *Viscosity) UnmarshalText(text []byte) (err error) {
	v.MetresSquared, err = quantity(string(text), "viscosity", "1.14 mm2/s", map[string]float64{"mm2/s": 1e-6, "m2/s": 1, "cSt": 1e-6})
	return err
}

// UnmarshalText reads "75 %".
func (s *Share) UnmarshalText(text []byte) (err error) {
	if s.Percent, err = quantity(string(text), "share", "75 %", map[string]float64{"%": 1}); err == nil && s.Percent >= 100 {
		return fmt.Errorf("%q is no part of the bore; write less than 100 %%", text)
	}
	return err
}

// UnmarshalText reads "12.5 L/s".
func (q *FlowRate) UnmarshalText(text []byte) (err error) {
	q.CubicMetres, err = quantity(string(text), "flow", "12.5 L/s", map[string]float64{"L/s": 1e-3, "l/s": 1e-3, "m3/s": 1, "ft3/s": cubicFoot})
	return err
}

// JSONSchema describes a viscosity.
func (Viscosity) JSONSchema() *jsonschema.Schema {
	return &jsonschema.Schema{Type: "string", Pattern: `^[0-9.]+([eE][-+]?[0-9]+)? *(mm2/s|m2/s|cSt)$`, Examples: []any{"1.14 mm2/s"}}
}

// JSONSchema describes a share.
func (Share) JSONSchema() *jsonschema.Schema {
	return &jsonschema.Schema{Type: "string", Pattern: `^[0-9.]+ *%$`, Examples: []any{"75 %"}}
}

// JSONSchema describes a flow.
func (FlowRate) JSONSchema() *jsonschema.Schema {
	return &jsonschema.Schema{Type: "string", Pattern: `^[0-9.]+([eE][-+]?[0-9]+)? *(L/s|l/s|m3/s|ft3/s)$`, Examples: []any{"12.5 L/s", "0.44 ft3/s"}}
}

// Validate asks for a formula, and for a viscosity where it needs one.
func (c *Capacity) Validate() (f []job.Fault) {
	add := func(key, text string) { f = append(f, job.Fault{Key: key, Text: text}) }
	switch {
	case c.Manning == nil && c.Colebrook == nil:
		add("", "nothing says how rough the pipes are; add \"manning:\" (such as 0.013) or \"colebrookWhite:\" (such as 0.6 mm)")
	case c.Colebrook != nil && c.Viscosity == nil:
		add("colebrookWhite", "the formula of Colebrook and White needs the viscosity of the water; add \"viscosity:\", such as 1.14 mm2/s (water of 15 °C)")
	}
	if c.Manning != nil && c.Manning.Coef <= 0 {
		add("manning", "a roughness is more than nought")
	}
	if c.Colebrook != nil && c.Colebrook.Length < 0 {
		add("colebrookWhite", "a roughness is not negative")
	}
	return f
}

// capacities tells what every pipe with both ends built carries, at its design
// grade and at the grade from end to end as built.
func (m *pipeMeasurer) capacities(i int, grade *qa.Row, built bool) {
	c, p := m.params.Capacity, &m.network.Pipes[i]
	if c == nil || !built {
		return
	}
	if m.sizes[i].bore <= 0 || p.Shape != "" && p.Shape != "circular" {
		m.noBore = append(m.noBore, p.Name)
		return
	}
	d := m.sizes[i].bore.Metres()
	for _, l := range c.laws() {
		slopes := [2]struct {
			of string
			s  float64
		}{{"design", p.Grade().Ratio()}, {"as built", grade.Grade.Ratio()}}
		var full [2]float64
		for k, x := range slopes {
			var v float64
			v, full[k] = flow.Full(l.law, d, x.s)
			m.rate(i, l.name+", full bore, "+x.of, full[k])
			m.velocity(i, l.name+", velocity at full bore, "+x.of, v)
		}
		if full[0] > 0 {
			m.number(i, l.name+", full bore as built of design", 100*full[1]/full[0], "%", 1)
		}
		for _, x := range slopes {
			if c.PartFull != nil {
				v, q := flow.At(l.law, d, d*c.PartFull.Percent/100, x.s)
				at := fmt.Sprintf("%s, %s %% deep, %s", l.name, strconv.FormatFloat(c.PartFull.Percent, 'f', -1, 64), x.of)
				m.rate(i, at, q)
				m.velocity(i, at+", velocity", v)
			}
			if want, ok := c.Flows[p.Name]; ok {
				y, err := flow.Depth(l.law, d, x.s, want.CubicMetres)
				name := l.name + ", depth of the stated flow, " + x.of
				if err != nil {
					m.figures = append(m.figures, qa.Figure{Of: p.Name, Name: name, Value: 100, Unit: "% of bore", Print: "more than it carries with a free surface"})
					continue
				}
				m.number(i, name, 100*y/d, "% of bore", 1)
				v, _ := flow.At(l.law, d, y, x.s)
				m.velocity(i, l.name+", velocity of the stated flow, "+x.of, v)
			}
		}
	}
}

type law struct {
	name string
	law  flow.Law
	of   string // its roughness in words
}

func (c *Capacity) laws() (out []law) {
	if c.Manning != nil {
		out = append(out, law{"Manning", flow.Manning{N: c.Manning.Float(), K: flow.Metres}, "Manning with n " + c.Manning.String()})
	}
	if c.Colebrook != nil {
		out = append(out, law{"Colebrook-White", flow.ColebrookWhite{Ks: c.Colebrook.Metres(), Nu: c.Viscosity.MetresSquared, G: flow.Gravity},
			fmt.Sprintf("Colebrook-White with ks %s mm and a viscosity of %s mm²/s", c.Colebrook.Exact(unit.MM, 0), strconv.FormatFloat(c.Viscosity.MetresSquared*1e6, 'g', 6, 64))})
	}
	return out
}

func (m *pipeMeasurer) number(i int, name string, v float64, in string, places int) {
	m.figures = append(m.figures, qa.Figure{Of: m.network.Pipes[i].Name, Name: name, Value: v, Unit: in, Print: strconv.FormatFloat(v, 'f', places, 64)})
}

// feet reports whether the job is in feet.
func (m *pipeMeasurer) feet() bool { return m.frame.Unit == unit.Ft || m.frame.Unit == unit.FtUS }

func (m *pipeMeasurer) rate(i int, name string, q float64) {
	if m.feet() {
		m.number(i, name, q/cubicFoot, "ft³/s", 2)
		return
	}
	m.number(i, name, q*1000, "L/s", 1)
}

func (m *pipeMeasurer) velocity(i int, name string, v float64) {
	if m.feet() {
		m.number(i, name, v/0.3048, "ft/s", 2)
		return
	}
	m.number(i, name, v, "m/s", 2)
}

// capacityRemarks say what the figures rest on, and where there are none.
func (m *pipeMeasurer) capacityRemarks() (out []string) {
	c := m.params.Capacity
	if c == nil {
		return nil
	}
	var of []string
	for _, l := range c.laws() {
		of = append(of, l.of)
	}
	out = append(out, fmt.Sprintf("Capacities are information for a concession and judge nothing: %s (%s), uniform flow at the grade from end to end; a sag, a backfall or a step carries less.", strings.Join(of, "; "), c.Source))
	if len(m.noBore) > 0 {
		out = append(out, "No capacity is worked out for pipes that are not round or whose bore is not known: "+strings.Join(m.noBore, ", ")+".")
	}
	for _, name := range sortedKeys(c.Flows) {
		if _, ok := m.byName[name]; !ok {
			out = append(out, fmt.Sprintf("A flow is stated for pipe %q, and the network has no such pipe.", name))
		}
	}
	return out
}
