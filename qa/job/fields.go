package job

import (
	"reflect"
	"strconv"
	"strings"
)

// field is one key of a struct: how the job file names it and what is asked of
// it. Structs that are embedded inline lend their keys.
type field struct {
	key   string
	index []int
	tag   fieldTag
}

// fieldTag is what the tag jsonschema of a field says. Schema and decoder read
// the same one.
type fieldTag struct {
	required    bool
	enum        []string
	minItems    int
	description string
}

// orLeaveOut is the other way out of a problem with a value that may be absent.
func (t fieldTag) orLeaveOut() string {
	if t.required {
		return ""
	}
	return ", or leave the key out"
}

func fieldsOf(t reflect.Type) []field {
	var out []field
	for i := range t.NumField() {
		f := t.Field(i)
		key, options, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		switch {
		case f.Anonymous && strings.Contains(options, "inline"):
			for _, in := range fieldsOf(f.Type) {
				in.index = append([]int{i}, in.index...)
				out = append(out, in)
			}
		case key != "" && key != "-" && f.IsExported():
			out = append(out, field{key, []int{i}, tagOf(f)})
		}
	}
	return out
}

func tagOf(f reflect.StructField) fieldTag {
	var tag fieldTag
	for part := range strings.SplitSeq(f.Tag.Get("jsonschema"), ",") {
		name, value, _ := strings.Cut(part, "=")
		switch name {
		case "required":
			tag.required = true
		case "enum":
			tag.enum = append(tag.enum, value)
		case "minItems":
			tag.minItems, _ = strconv.Atoi(value)
		case "description":
			tag.description = value
		}
	}
	return tag
}

func keysOf(t reflect.Type) []string {
	fields := fieldsOf(t)
	keys := make([]string, len(fields))
	for i, f := range fields {
		keys[i] = f.key
	}
	return keys
}
