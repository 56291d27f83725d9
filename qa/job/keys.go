package job

import (
	"reflect"
	"strings"
)

// Key is one key of a block of the job file, for help texts.
type Key struct {
	Name     string
	Doc      string
	Required bool
}

// Keys lists the keys of a parameters struct, those of an embedded struct where
// it stands.
func Keys(params any) []Key { return keysIn(reflect.TypeOf(params).Elem()) }

func keysIn(t reflect.Type) []Key {
	var out []Key
	for i := range t.NumField() {
		f := t.Field(i)
		name, opts, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		switch {
		case f.Anonymous && opts == "inline":
			out = append(out, keysIn(f.Type)...)
		case name != "" && name != "-":
			k := Key{Name: name}
			for _, part := range strings.Split(f.Tag.Get("jsonschema"), ",") {
				if part == "required" {
					k.Required = true
				}
				if d, ok := strings.CutPrefix(part, "description="); ok {
					k.Doc = d
				}
			}
			out = append(out, k)
		}
	}
	return out
}
