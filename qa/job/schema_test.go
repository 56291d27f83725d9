package job

import (
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// node is what these tests look at in a schema.
type node struct {
	Type        any              `json:"type"`
	Description string           `json:"description"`
	Properties  map[string]*node `json:"properties"`
	Additional  json.RawMessage  `json:"additionalProperties"`
	Required    []string         `json:"required"`
	Items       *node            `json:"items"`
	OneOf       []*node          `json:"oneOf"`
	Enum        []string         `json:"enum"`
	Pattern     string           `json:"pattern"`
	Examples    []string         `json:"examples"`
	MinItems    int              `json:"minItems"`
	MaxItems    *int             `json:"maxItems"`
	MinLength   int              `json:"minLength"`
}

func schema(t testing.TB) *node {
	t.Helper()
	text, err := Schema(testKinds)
	require.NoError(t, err)
	var n node
	require.NoError(t, json.Unmarshal(text, &n))
	return &n
}

// Schema and structs have the same keys, the same required keys and the same
// words, all the way down. Every key of the job itself says what it is for.
func TestSchemaFitsTheStructs(t *testing.T) {
	walk(t, reflect.TypeFor[Job](), schema(t), "job")
}

func walk(t *testing.T, typ reflect.Type, n *node, path string) {
	require.NotNil(t, n, path)
	for typ.Kind() == reflect.Pointer {
		typ = typ.Elem()
	}
	switch {
	case typ == reflect.TypeFor[Check]():
		require.Len(t, n.OneOf, len(testKinds), path)
		for i, k := range testKinds {
			one := n.OneOf[i]
			require.Equal(t, []string{k.Name}, one.Required)
			require.JSONEq(t, "false", string(one.Additional))
			assert.Equal(t, k.Doc, one.Properties[k.Name].Description)
			walk(t, reflect.TypeOf(k.Params()), one.Properties[k.Name], path+"."+k.Name)
		}
		return
	case typ == reflect.TypeFor[Acceptance](): // the word, one rule, or a list of them
		require.Len(t, n.OneOf, 3, path)
		assert.Equal(t, []string{Every}, n.OneOf[0].Enum)
		walk(t, typ.Elem(), n.OneOf[1], path)
		walk(t, reflect.TypeFor[[]Plan](), n.OneOf[2], path)
		return
	case n.Pattern != "" || len(n.Enum) > 0:
		assert.Contains(t, []any{"string", []any{"string", "number"}}, n.Type, path)
		return
	}
	switch typ.Kind() {
	case reflect.Struct:
		var keys, required []string
		for _, f := range fieldsOf(typ) {
			keys = append(keys, f.key)
			if f.tag.required {
				required = append(required, f.key)
			}
			assert.Equal(t, f.key, jsonKey(typ, f.index), "yaml and json name one key")
			child := n.Properties[f.key]
			if assert.NotNil(t, child, path+"."+f.key) {
				assert.Equal(t, f.tag.description, child.Description)
				if !strings.Contains(path, ".fall") && !strings.HasSuffix(path, ".level") {
					assert.NotEmpty(t, child.Description, path+"."+f.key)
				}
				if len(f.tag.enum) > 0 {
					assert.Equal(t, f.tag.enum, child.Enum, path+"."+f.key)
				}
				walk(t, typ.FieldByIndex(f.index).Type, child, path+"."+f.key)
			}
		}
		assert.Len(t, n.Properties, len(keys), "%s: keys that no struct has", path)
		assert.ElementsMatch(t, required, n.Required, path)
		assert.JSONEq(t, "false", string(n.Additional), path)
	case reflect.Slice, reflect.Array:
		assert.GreaterOrEqual(t, n.MinItems, 1, path)
		walk(t, typ.Elem(), n.Items, path+"[]")
	case reflect.Map:
		assert.Equal(t, "object", n.Type, path)
	case reflect.String:
		assert.Equal(t, []any{"string", "number"}, n.Type, path)
		assert.Equal(t, 1, n.MinLength, path)
	}
}

func jsonKey(t reflect.Type, index []int) string {
	key, _, _ := strings.Cut(t.FieldByIndex(index).Tag.Get("json"), ",")
	return key
}

func TestSchemaIsTheSameEveryTime(t *testing.T) {
	first, err := Schema(testKinds)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(first), "{\n  \"$schema\": \"https://json-schema.org/draft/2020-12/schema\""))
	for range 5 {
		again, err := Schema(testKinds)
		require.NoError(t, err)
		require.Equal(t, string(first), string(again))
	}
}

// The patterns take what Load takes, and their own examples.
func TestSchemaPatterns(t *testing.T) {
	for _, c := range []struct {
		schema  func() (pattern string, examples []any)
		read    func(string) error
		yes, no []string
	}{
		{func() (string, []any) { s := Length{}.JSONSchema(); return s.Pattern, s.Examples },
			func(s string) error { return new(Length).UnmarshalText([]byte(s)) },
			[]string{"10 mm", "10mm", "-.5 m", "1e-3 m", "+2 ftUS", "12. in"}, []string{"10", "mm", "10 yd", "1,5 m", "ten mm", "10 mm2", "", "- 5 mm", "0x10 m"}},
		{func() (string, []any) { s := Coordinate{}.JSONSchema(); return s.Pattern, s.Examples },
			func(s string) error { return new(Coordinate).UnmarshalText([]byte(s)) },
			[]string{"5800123.456 m", "-20 ft", "1.0e3 km"}, []string{"5800123.456", "m", "5 800 123 m", "1 US ft"}},
		{func() (string, []any) { s := Grade{}.JSONSchema(); return s.Pattern, s.Examples },
			func(s string) error { return new(Grade).UnmarshalText([]byte(s)) },
			[]string{"1 in 100", "0.5 %", "-2%", "10 mm/m", "1 in 87.3"}, []string{"2:1", "1:100", "1in100", "5", "1 %%", "1/100"}},
		{func() (string, []any) { s := Rule{}.JSONSchema(); return s.Pattern, s.Examples },
			func(s string) error { return new(Rule).UnmarshalText([]byte(s)) },
			[]string{"12 mm sqrt(K)", "5 mm sqrt(n)", "0.05 ft sqrt(M)", "6 mm"}, []string{"12 sqrt(K)", "12 mm sqrt(k)", "12 mm * K", "sqrt(K)"}},
		{func() (string, []any) { s := Grid{}.JSONSchema(); return s.Pattern, s.Examples },
			func(s string) error { return new(Grid).UnmarshalText([]byte(s)) },
			[]string{"EPSG:7855", "local A", "local  Site grid A"}, []string{"EPSG:", "epsg:7855", "EPSG:12", "local", "local ", "7855", "localA"}},
	} {
		pattern, examples := c.schema()
		p := regexp.MustCompile(pattern)
		for _, e := range examples {
			c.yes = append(c.yes, e.(string))
		}
		for _, s := range c.yes {
			assert.True(t, p.MatchString(s), "%q by pattern", s)
			assert.NoError(t, c.read(s))
		}
		for _, s := range c.no {
			assert.False(t, p.MatchString(s), "%q by pattern", s)
			assert.Error(t, c.read(s), s)
		}
	}
}

// The sample, which Load takes, is what the schema describes; and a job with a
// slip is not.
func TestSampleConforms(t *testing.T) {
	n := schema(t)
	read := func(text string) any {
		var v any
		require.NoError(t, yaml.Unmarshal([]byte(text), &v))
		return v
	}
	assert.Empty(t, conform(n, read(sample(t)), "job"))
	assert.Empty(t, conform(n, read(small), "job"))
	for _, c := range []struct{ old, with, want string }{
		{"units: m", "unit: m", "job: no key unit"},
		{"heightDatum: AHD\n", "", "job: heightDatum is missing"},
		{"kind: levels", "kind: level", "job.surveys[0].kind: level is not in the list"},
		{"upper: 10 mm", "upper: 10", "job.checks[0].level.tolerance.upper: 10 is no string"},
		{"upper: 10 mm", "upper: 10 yd", "job.checks[0].level.tolerance.upper: 10 yd does not match"},
		{"- level:", "- levels:", "job.checks[0]: fits 0 of the kinds"},
		{"designs: [{name: pad, file: pad.xml, surface: \"FG\"}]", "designs: []", "job.designs: has 0 items"},
	} {
		got := conform(n, read(change(t, c.old, c.with)), "job")
		assert.Contains(t, got, c.want)
	}
}

// conform checks a value against the part of JSON Schema that these schemas use.
func conform(n *node, v any, path string) (wrong []string) {
	say := func(format string, args ...any) { wrong = append(wrong, path+": "+fmt.Sprintf(format, args...)) }
	if len(n.OneOf) > 0 {
		fit, best := 0, []string(nil)
		for _, o := range n.OneOf {
			w := conform(o, v, path)
			if len(w) == 0 {
				fit++
			} else if m, keys := v.(map[string]any); keys && len(o.Required) > 0 {
				if _, named := m[o.Required[0]]; named {
					best = w
				}
			}
		}
		if fit != 1 {
			say("fits %d of the kinds", fit)
		}
		return append(wrong, best...)
	}
	switch x := v.(type) {
	case map[string]any:
		if n.Type != "object" {
			say("keys")
			return wrong
		}
		for _, r := range n.Required {
			if _, ok := x[r]; !ok {
				say("%s is missing", r)
			}
		}
		for key, value := range x {
			switch p := n.Properties[key]; {
			case p != nil:
				wrong = append(wrong, conform(p, value, path+"."+key)...)
			case string(n.Additional) == "false":
				say("no key %s", key)
			default:
				var extra node
				if err := json.Unmarshal(n.Additional, &extra); err != nil {
					say("%v", err)
				}
				wrong = append(wrong, conform(&extra, value, path+"."+key)...)
			}
		}
	case []any:
		if n.Type != "array" {
			say("a list")
			return wrong
		}
		if len(x) < n.MinItems || n.MaxItems != nil && len(x) > *n.MaxItems {
			say("has %d items", len(x))
		}
		for i, value := range x {
			wrong = append(wrong, conform(n.Items, value, fmt.Sprintf("%s[%d]", path, i))...)
		}
	case string:
		switch {
		case n.Type != "string" && !reflect.DeepEqual(n.Type, []any{"string", "number"}):
			say("%q is a text", x)
		case len(n.Enum) > 0 && !slices.Contains(n.Enum, x):
			say("%s is not in the list", x)
		case n.Pattern != "" && !regexp.MustCompile(n.Pattern).MatchString(x):
			say("%s does not match", x)
		case len(x) < n.MinLength:
			say("is empty")
		}
	case bool:
		if n.Type != "boolean" {
			say("%v is true or false", x)
		}
	default: // a number
		if n.Type != "integer" && !reflect.DeepEqual(n.Type, []any{"string", "number"}) {
			say("%v is no %v", x, n.Type)
		}
	}
	return wrong
}
