package job

import (
	"encoding/json"
	"reflect"
	"strings"

	"github.com/invopop/jsonschema"
	orderedmap "github.com/pb33f/ordered-map/v2"

	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// Schema returns the JSON Schema (draft 2020-12) of a job file, made from the
// structs that Load fills, with the kinds of check given. It is for editors: it
// knows keys, words and the shape of values, not what contradicts what.
func Schema(kinds []Kind) ([]byte, error) {
	r := &jsonschema.Reflector{
		Anonymous: true, DoNotReference: true, ExpandedStruct: true, RequiredFromJSONSchemaTags: true, FieldNameTag: "yaml",
	}
	r.Mapper = func(t reflect.Type) *jsonschema.Schema {
		if t == reflect.TypeFor[Check]() {
			return checkSchema(r, kinds)
		}
		if t == reflect.TypeFor[Acceptance]() {
			return acceptanceSchema(r)
		}
		return nil
	}
	s := r.ReflectFromType(reflect.TypeFor[Job]())
	s.Title = "sightrail job file"
	if units, ok := s.Properties.Get("units"); ok {
		units.Enum = nil
		for _, u := range printUnits {
			units.Enum = append(units.Enum, u.Name)
		}
	}
	loosen(s)
	text, err := json.MarshalIndent(s, "", "  ")
	return append(text, '\n'), err
}

// checkSchema is one of the kinds: an object with one key.
func checkSchema(r *jsonschema.Reflector, kinds []Kind) *jsonschema.Schema {
	s := &jsonschema.Schema{}
	for _, k := range kinds {
		params := r.ReflectFromType(reflect.TypeOf(k.Params()).Elem())
		params.Version, params.Description = "", k.Doc
		one := &jsonschema.Schema{
			Type: "object", Title: k.Name, Properties: orderedmap.New[string, *jsonschema.Schema](),
			Required: []string{k.Name}, AdditionalProperties: jsonschema.FalseSchema,
		}
		one.Properties.Set(k.Name, params)
		s.OneOf = append(s.OneOf, one)
	}
	return s
}

// loosen lets a free text be a number, because names, lots and revisions look
// like numbers and Load takes them as written; and lets no text or list be
// empty.
func loosen(s *jsonschema.Schema) {
	if s == nil {
		return
	}
	one := uint64(1)
	switch {
	case s.Type == "string" && len(s.Enum) == 0 && s.Pattern == "":
		s.Type, s.MinLength = "", &one
		if s.Extras == nil {
			s.Extras = map[string]any{}
		}
		s.Extras["type"] = []string{"string", "number"}
	case s.Type == "array" && s.MinItems == nil:
		s.MinItems = &one
	}
	loosen(s.Items)
	if s.AdditionalProperties != jsonschema.FalseSchema {
		loosen(s.AdditionalProperties)
	}
	for _, o := range s.OneOf {
		loosen(o)
	}
	if s.Properties != nil {
		for p := s.Properties.Oldest(); p != nil; p = p.Next() {
			loosen(p.Value)
		}
	}
}

// numberPattern is a decimal number as a job file writes it.
const numberPattern = `[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?`

func oneUnit() string { return "(" + strings.Join(unitNames(), "|") + ")" }

func text(pattern string, examples ...any) *jsonschema.Schema {
	return &jsonschema.Schema{Type: "string", Pattern: "^" + pattern + "$", Examples: examples}
}

// JSONSchema describes a length with its unit.
func (Length) JSONSchema() *jsonschema.Schema {
	return text(numberPattern+` *`+oneUnit(), "10 mm", "-0.450 m", "0.05 ft")
}

// JSONSchema describes a coordinate with its unit.
func (Coordinate) JSONSchema() *jsonschema.Schema {
	return text(numberPattern+` *`+oneUnit(), "5800123.456 m")
}

// JSONSchema describes a grade.
func (Grade) JSONSchema() *jsonschema.Schema {
	return text(numberPattern+`( +in +`+numberPattern+`| *%| *mm/m)`, "1 in 100", "1 %", "10 mm/m")
}

// JSONSchema lists the decision rules.
func (DecisionRule) JSONSchema() *jsonschema.Schema {
	return words(limits.Decisions(), func(s string) string { return s })
}

// JSONSchema describes a factor.
func (Factor) JSONSchema() *jsonschema.Schema {
	s := text(numberPattern, "2", "1.645")
	s.Type, s.Extras = "", map[string]any{"type": []string{"string", "number"}} // a number of YAML, kept as it is written
	return s
}

// JSONSchema describes a bearing.
func (Bearing) JSONSchema() *jsonschema.Schema {
	return text(`[0-9].*(deg|gon|°|d|'|m|"|s)`, "123.5 deg", "123°30'15\"", "137.2 gon")
}

// JSONSchema describes a limit of a line of sight.
func (LineLimit) JSONSchema() *jsonschema.Schema {
	return text(numberPattern+` *(`+oneUnit()+` +(in|over) +`+numberPattern+` *`+oneUnit()+`|mm/m|%| +in +`+numberPattern+`)`, "10 mm in 100 m", "0.1 mm/m")
}

// JSONSchema describes a coefficient of curvature and refraction.
func (Curvature) JSONSchema() *jsonschema.Schema {
	return text(`(`+numberPattern+` *`+oneUnit()+` +at +`+numberPattern+` *`+oneUnit()+`|refraction +`+numberPattern+`, +radius +`+numberPattern+` +`+oneUnit()+`)`, "0.0673 m at 1 km", "refraction 0.13, radius 6371 km")
}

// JSONSchema describes the scale of a site grid.
func (Scale) JSONSchema() *jsonschema.Schema {
	return text(`(fitted|1|0\.9[0-9]*|1\.0[0-9]*)`, "fitted", "1", "0.99987654")
}

// JSONSchema describes a scale.
func (PPM) JSONSchema() *jsonschema.Schema { return text(numberPattern+` *ppm`, "25 ppm") }

// JSONSchema describes a closing rule.
func (Rule) JSONSchema() *jsonschema.Schema {
	return text(numberPattern+` *`+oneUnit()+`( *sqrt\([KMn]\))?`, "12 mm sqrt(K)", "5 mm sqrt(n)", "0.05 ft sqrt(M)", "6 mm")
}

// JSONSchema lists the names of units.
func (Unit) JSONSchema() *jsonschema.Schema {
	return words(unit.Units, func(u unit.Unit) string { return u.Name })
}

// JSONSchema lists the units of a table file.
func (FileUnit) JSONSchema() *jsonschema.Schema {
	s := Unit{}.JSONSchema()
	s.Enum = append(s.Enum, "ft-in")
	return s
}

// JSONSchema describes a plan grid.
func (Grid) JSONSchema() *jsonschema.Schema {
	return text(`(EPSG:[0-9]{4,6}|local +[^ ].*)`, "EPSG:7855", "local Site grid A")
}

// JSONSchema lists what a staff is held on.
func (Staffed) JSONSchema() *jsonschema.Schema {
	return words(StaffedWords, func(s Staffed) string { return string(s) })
}

func words[T any](all []T, name func(T) string) *jsonschema.Schema {
	s := &jsonschema.Schema{Type: "string"}
	for _, w := range all {
		s.Enum = append(s.Enum, name(w))
	}
	return s
}
