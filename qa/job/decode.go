package job

import (
	"encoding"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"sightrail/formats"
)

// Fault is something wrong with a part of a job: Key names the key below that
// part, with dots where it lies deeper; "" is the part itself. Text says what is
// there, what is wrong with it and what to do.
type Fault struct{ Key, Text string }

// Validator is a part of a job that knows more rules than its keys and types
// say. The parameters of a kind of check may be one.
type Validator interface{ Validate() []Fault }

// decoder turns the tree of a YAML text into a job. It goes on after a problem,
// so that one reading finds them all, and notes where every value stands. The
// YAML library gives the tree only: its own decoding stops at the first problem
// and words it for programmers.
type decoder struct {
	source
	file     string
	kinds    []Kind
	problems formats.ErrorList
	rules    []rule // what to validate once everything is read
}

type rule struct {
	path string
	part Validator
}

// spot is where a value stands: its path, and the place to point at when the
// value as a whole is wrong (its key, or the value itself in a list).
type spot struct {
	path string
	at   formats.Pos
}

func (d *decoder) problem(at formats.Pos, path, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if shown := d.excerpt(at); shown != "" {
		text += "\n" + shown
	}
	at.File = d.file
	d.problems = append(d.problems, formats.Problem{Pos: at, Field: fieldOf(path), Text: text})
}

// place returns where a node begins.
func place(n ast.Node) formats.Pos {
	switch m := n.(type) {
	case *ast.MappingNode:
		if !m.IsFlowStyle && len(m.Values) > 0 {
			return place(m.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return place(m.Key)
	}
	return placeOf(n.GetToken())
}

func placeOf(t *token.Token) formats.Pos {
	if t == nil || t.Position == nil {
		return formats.Pos{Row: 1, Col: 1}
	}
	return formats.Pos{Row: t.Position.Line, Col: t.Position.Column}
}

// value fills v with what node n says. It reports whether it could.
func (d *decoder) value(n ast.Node, v reflect.Value, s spot, tag fieldTag) bool {
	if isNull(n) {
		d.problem(s.at, s.path, "the key has no value; write one after the colon%s", tag.orLeaveOut())
		return false
	}
	if v.Kind() == reflect.Pointer {
		p := reflect.New(v.Type().Elem())
		ok := d.value(n, p.Elem(), s, tag)
		v.Set(p)
		return ok
	}
	if v.Type() == reflect.TypeFor[Check]() {
		return d.check(n, v.Addr().Interface().(*Check), s)
	}
	if v.Type() == reflect.TypeFor[Acceptance]() {
		return d.acceptance(n, v.Addr().Interface().(*Acceptance), s, tag)
	}
	if t, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
		text, ok := d.text(n, s, tag)
		if !ok {
			return false
		}
		if err := t.UnmarshalText([]byte(text)); err != nil {
			d.problem(place(n), s.path, "%v", err)
			return false
		}
		return true
	}
	switch v.Kind() {
	case reflect.String:
		text, ok := d.text(n, s, tag)
		v.SetString(text)
		return ok && d.enum(n, text, s, tag)
	case reflect.Bool:
		b, ok := n.(*ast.BoolNode)
		if !ok {
			d.problem(place(n), s.path, "%s is neither true nor false; write one of them", shown(n))
			return false
		}
		v.SetBool(b.Value)
		return true
	case reflect.Int:
		i, err := strconv.Atoi(n.GetToken().Value)
		if _, ok := n.(*ast.IntegerNode); !ok || err != nil {
			d.problem(place(n), s.path, "%s is not a whole number; write one without a unit", shown(n))
			return false
		}
		v.SetInt(int64(i))
		return true
	case reflect.Struct:
		return d.structure(n, v, s)
	case reflect.Map:
		return d.mapping(n, v, s)
	case reflect.Slice, reflect.Array:
		return d.sequence(n, v, s, tag)
	}
	panic("job: no way to read a " + v.Type().String() + " from a job file")
}

// text returns a scalar as it is written. "007" and "1.10" stay what they are:
// names and revisions look like numbers.
func (d *decoder) text(n ast.Node, s spot, tag fieldTag) (string, bool) {
	text := ""
	switch m := n.(type) {
	case *ast.StringNode:
		text = m.Value
	case *ast.LiteralNode:
		text = strings.TrimRight(m.Value.Value, "\n")
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		text = n.GetToken().Value
	default:
		d.problem(place(n), s.path, "here is %s where one value is asked for; write the value on the line of its key", shown(n))
		return "", false
	}
	if strings.TrimSpace(text) == "" {
		d.problem(place(n), s.path, "the text is empty; write it%s", tag.orLeaveOut())
		return "", false
	}
	return text, true
}

func (d *decoder) enum(n ast.Node, text string, s spot, tag fieldTag) bool {
	if len(tag.enum) == 0 || slices.Contains(tag.enum, text) {
		return true
	}
	d.problem(place(n), s.path, "%q is not known here; use %s%s", text, list(tag.enum), didYouMean(text, tag.enum))
	return false
}

// shown names a node in a message.
func shown(n ast.Node) string {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a group of keys"
	case *ast.SequenceNode:
		return "a list"
	}
	return strconv.Quote(n.GetToken().Value)
}

func entries(n ast.Node) ([]*ast.MappingValueNode, bool) {
	switch m := n.(type) {
	case *ast.MappingNode:
		return m.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{m}, true
	}
	return nil, false
}

// keyed goes through the keys of a group, each once, in order.
func (d *decoder) keyed(values []*ast.MappingValueNode, s spot, do func(key string, at formats.Pos, n ast.Node)) {
	lines := map[string]int{}
	for _, e := range values {
		at := place(e.Key)
		key := e.Key.GetToken().Value
		switch e.Key.(type) {
		case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NullNode:
		default:
			d.problem(at, s.path, "%q is no key of a job file; write a word and a colon", key)
			continue
		}
		path := join(s.path, key)
		if first, twice := lines[key]; twice {
			d.problem(at, path, "the key is here a second time, the first is in line %d; keep one of them", first)
			continue
		}
		lines[key] = at.Row
		do(key, at, e.Value)
	}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// note keeps the place of a value for Where: of the key when the value goes on
// below it, of the value when it is one.
func (d *decoder) note(path string, key formats.Pos, n ast.Node) spot {
	at := place(n)
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode, *ast.SequenceNode, *ast.NullNode, *ast.LiteralNode:
		at = key
	}
	d.places[path] = at
	return spot{path, key}
}

func (d *decoder) structure(n ast.Node, v reflect.Value, s spot) bool {
	values, ok := entries(n)
	if !ok {
		d.problem(place(n), s.path, "here is %s where keys with values are asked for: %s", shown(n), strings.Join(keysOf(v.Type()), ", "))
		return false
	}
	before := len(d.problems)
	fields := fieldsOf(v.Type())
	given := map[string]bool{} // and what was given under a slip of its name
	d.keyed(values, s, func(key string, at formats.Pos, n ast.Node) {
		i := slices.IndexFunc(fields, func(f field) bool { return f.key == key })
		if i < 0 {
			given[d.unknown(at, join(s.path, key), key, keysOf(v.Type()))] = true
			return
		}
		given[key] = true
		d.value(n, v.FieldByIndex(fields[i].index), d.note(join(s.path, key), at, n), fields[i].tag)
	})
	for _, f := range fields {
		if f.tag.required && !given[f.key] {
			d.problem(s.at, s.path, "the key %q is missing; add it%s", f.key, inBrackets(f.tag.description))
		}
	}
	if r, ok := v.Addr().Interface().(Validator); ok {
		d.rules = append(d.rules, rule{s.path, r})
	}
	return len(d.problems) == before
}

func inBrackets(text string) string {
	if text == "" {
		return ""
	}
	return " (" + text + ")"
}

// unknown reports a key that is not known, and returns the one that is meant.
func (d *decoder) unknown(at formats.Pos, path, key string, known []string) string {
	meant := nearest(key, known)
	if meant != "" {
		d.problem(at, path, "there is no key %q here%s", key, didYouMean(key, known))
	} else {
		d.problem(at, path, "there is no key %q here; the keys are %s", key, strings.Join(known, ", "))
	}
	return meant
}

func (d *decoder) mapping(n ast.Node, v reflect.Value, s spot) bool {
	values, ok := entries(n)
	if !ok {
		d.problem(place(n), s.path, "here is %s where names with a value each are asked for; write them below the key, a line each", shown(n))
		return false
	}
	v.Set(reflect.MakeMap(v.Type()))
	before := len(d.problems)
	d.keyed(values, s, func(key string, at formats.Pos, n ast.Node) {
		e := reflect.New(v.Type().Elem()).Elem()
		d.value(n, e, d.note(join(s.path, key), at, n), fieldTag{})
		v.SetMapIndex(reflect.ValueOf(key), e)
	})
	return len(d.problems) == before
}

func (d *decoder) sequence(n ast.Node, v reflect.Value, s spot, tag fieldTag) bool {
	q, ok := n.(*ast.SequenceNode)
	switch {
	case !ok && v.Type().Elem().Kind() == reflect.String:
		d.problem(place(n), s.path, "here is %s where a list is asked for; write it in square brackets: [A, B]", shown(n))
		return false
	case !ok:
		d.problem(place(n), s.path, "here is %s where a list is asked for; begin each entry with \"- \"", shown(n))
		return false
	case len(q.Values) < tag.minItems || len(q.Values) == 0:
		d.problem(s.at, s.path, "the list is empty; write its entries%s", tag.orLeaveOut())
		return false
	}
	if v.Kind() == reflect.Slice {
		v.Set(reflect.MakeSlice(v.Type(), len(q.Values), len(q.Values)))
	} else if len(q.Values) != v.Len() {
		d.problem(place(n), s.path, "here is a list of %d where %d values are asked for", len(q.Values), v.Len())
		return false
	}
	ok = true
	for i, e := range q.Values {
		path := fmt.Sprintf("%s[%d]", s.path, i)
		d.places[path] = place(e)
		ok = d.value(e, v.Index(i), spot{path, place(e)}, fieldTag{enum: tag.enum}) && ok
	}
	return ok
}

// check reads one entry of checks: the kind, and its keys below it.
func (d *decoder) check(n ast.Node, c *Check, s spot) bool {
	names := make([]string, len(d.kinds))
	for i, k := range d.kinds {
		names[i] = k.Name
	}
	values, ok := entries(n)
	if !ok || len(values) == 0 {
		d.problem(place(n), s.path, "here is %s where a check is asked for; write \"%s:\" and its keys below it; the kinds are %s", shown(n), names[0], list(names))
		return false
	}
	key := values[0].Key.GetToken().Value
	at := place(values[0].Key)
	i := slices.Index(names, key)
	switch {
	case i < 0:
		d.problem(at, s.path, "there is no check %q; the kinds are %s%s", key, list(names), didYouMean(key, names))
		return false
	case len(values) > 1 && isNull(values[0].Value):
		d.problem(at, s.path, "the keys of %q must stand further in than %q itself; indent them by two more spaces", key, key)
		return false
	case len(values) > 1:
		d.problem(place(values[1].Key), s.path, "%q stands beside the check %q; an entry of checks is one kind of check: begin a new entry with \"- \", or indent it", values[1].Key.GetToken().Value, key)
		return false
	}
	c.Kind, c.NoDesign, c.Line, c.Params = key, d.kinds[i].NoDesign, at.Row, d.kinds[i].Params()
	return d.value(values[0].Value, reflect.ValueOf(c.Params).Elem(), d.note(join(s.path, key), at, values[0].Value), fieldTag{})
}

func isNull(n ast.Node) bool { _, ok := n.(*ast.NullNode); return ok }
