package qa

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// wrongPreset finds a preset in the parameters of a check that is for another
// measure than the check judges: a thickness is no limit of a level. A check that
// names no kinds takes no presets.
func (k *Check) wrongPreset(params any) error {
	var found error
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Pointer:
			if !v.IsNil() {
				walk(v.Elem())
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		case reflect.Struct:
			if t, ok := v.Interface().(job.Tolerance); ok {
				p, err := limits.PresetByName(t.Preset)
				if t.Preset != "" && (err != nil || !slices.Contains(k.Presets, p.Kind)) && found == nil {
					found = fmt.Errorf("the preset %q is for another measure (%s: %s); this check takes %s; give \"lower:\" and \"upper:\" with their source", t.Preset, p.Kind, p.Basis, kindWords(k.Presets))
				}
				return
			}
			for i := range v.NumField() {
				if v.Type().Field(i).IsExported() {
					walk(v.Field(i))
				}
			}
		}
	}
	walk(reflect.ValueOf(params))
	return found
}

func kindWords(kinds []string) string {
	if len(kinds) == 0 {
		return "no presets"
	}
	return "presets of " + strings.Join(kinds, " and ")
}
