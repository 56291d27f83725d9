package job

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"sightrail/formats"
)

// Load reads a job file. name is how messages call it; kinds are the kinds of
// check it may use. All that is wrong is returned at once, as a
// formats.ErrorList whose texts show the line.
func Load(name string, text []byte, kinds []Kind) (*Job, error) {
	text = []byte(strings.TrimPrefix(string(text), "\ufeff"))
	l := &loader{job: &Job{File: name, at: map[string]formats.Pos{}}, kinds: kinds}
	l.job.lines = strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n")
	file, err := parser.ParseBytes([]byte(strings.Join(l.job.lines, "\n")), 0)
	if err != nil {
		return nil, l.syntax(err)
	}
	var body ast.Node
	for _, d := range file.Docs {
		if d.Body == nil {
			continue
		}
		if body != nil {
			l.problem(d.Body, "", "a second document in the file; a job file holds one job")
			break
		}
		body = d.Body
	}
	if body == nil {
		return nil, formats.ErrorList{{Pos: formats.Pos{File: name, Row: 1, Col: 1}, Text: "the job file is empty; it needs at least project, units, grid, heightDatum, surveys, designs and checks"}}
	}
	l.value(body, reflect.ValueOf(l.job).Elem(), "", "")
	if len(l.list) == 0 {
		l.meaning()
	}
	if err := l.list.Err(); err != nil {
		return nil, err
	}
	return l.job, nil
}

// Where returns the place of a value in the job file: "surveys[0].file". An
// unknown path gives the nearest place above it.
func (j *Job) Where(path string) formats.Pos {
	for {
		if p, ok := j.at[path]; ok {
			return p
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			return formats.Pos{File: j.File}
		}
		path = path[:i]
	}
}

// Excerpt shows the line of a place with a caret under the column, or "".
func (j *Job) Excerpt(p formats.Pos) string {
	if p.Row < 1 || p.Row > len(j.lines) {
		return ""
	}
	line := strings.ReplaceAll(j.lines[p.Row-1], "\t", " ")
	number := fmt.Sprintf("%5d", p.Row)
	return fmt.Sprintf("%s | %s\n%s | %s^", number, line, strings.Repeat(" ", len(number)), strings.Repeat(" ", max(p.Col-1, 0)))
}

type loader struct {
	job   *Job
	kinds []Kind
	list  formats.ErrorList
}

func (l *loader) problem(n ast.Node, field, format string, args ...any) {
	l.problemAt(l.pos(n), field, format, args...)
}

func (l *loader) problemAt(at formats.Pos, field, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if ex := l.job.Excerpt(at); ex != "" {
		text += "\n" + ex
	}
	l.list = append(l.list, formats.Problem{Pos: at, Field: field, Text: text})
}

func (l *loader) pos(n ast.Node) formats.Pos {
	p := formats.Pos{File: l.job.File}
	if t := n.GetToken(); t != nil && t.Position != nil {
		if m, ok := n.(*ast.MappingNode); ok && len(m.Values) > 0 && !m.IsFlowStyle {
			return l.pos(m.Values[0].Key)
		}
		if m, ok := n.(*ast.MappingValueNode); ok {
			return l.pos(m.Key)
		}
		p.Row, p.Col = t.Position.Line, t.Position.Column
	}
	return p
}

// syntax turns an error of the YAML parser into a problem with its place.
func (l *loader) syntax(err error) error {
	at := formats.Pos{File: l.job.File}
	text := err.Error()
	var y yaml.Error
	if errors.As(err, &y) {
		if t := y.GetToken(); t != nil && t.Position != nil {
			at.Row, at.Col = t.Position.Line, t.Position.Column
		}
		text = y.GetMessage()
	}
	if at.Row > 0 && at.Row <= len(l.job.lines) && strings.HasPrefix(strings.TrimLeft(l.job.lines[at.Row-1], " "), "\t") {
		text = "a tab indents this line; YAML is indented with spaces"
	}
	l.problemAt(at, "", "this is not YAML: %s", text)
	return l.list
}

// texts are the types that are written as one text.
type texts interface{ fromText(string) error }

// value reads a node into v. path is the place for Where, name the key.
func (l *loader) value(n ast.Node, v reflect.Value, path, name string) {
	l.job.at[path] = l.pos(n)
	switch x := n.(type) {
	case *ast.AnchorNode:
		l.value(x.Value, v, path, name)
		return
	case *ast.AliasNode:
		l.problem(n, name, "aliases are not used in job files; write the value out")
		return
	case *ast.TagNode:
		l.problem(n, name, "tags are not used in job files; write the plain value")
		return
	case *ast.NullNode:
		l.problem(n, name, "there is no value after the key; give one, or leave the key out")
		return
	}
	if v.Kind() == reflect.Pointer {
		p := reflect.New(v.Type().Elem())
		l.value(n, p.Elem(), path, name)
		v.Set(p)
		return
	}
	if t, ok := v.Addr().Interface().(texts); ok {
		if s, ok := l.scalar(n, name); ok {
			if err := t.fromText(s); err != nil {
				l.problem(n, name, "%v", err)
			}
		}
		return
	}
	switch v.Kind() {
	case reflect.String:
		if s, ok := l.scalar(n, name); ok {
			v.SetString(s)
		}
	case reflect.Slice, reflect.Array:
		l.sequence(n, v, path, name)
	case reflect.Map:
		l.mapOf(n, v, path, name)
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[Check]() {
			l.check(n, v.Addr().Interface().(*Check), path)
			return
		}
		l.structure(n, v, path, name)
	default:
		panic("job: a field of a kind that the loader does not read: " + v.Type().String())
	}
}

// scalar returns the text of a plain value as it was written.
func (l *loader) scalar(n ast.Node, name string) (string, bool) {
	switch n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		l.problem(n, name, "here stand keys, and one plain value is wanted")
		return "", false
	case *ast.SequenceNode:
		l.problem(n, name, "here stands a list, and one plain value is wanted")
		return "", false
	case *ast.LiteralNode:
		return strings.TrimSpace(n.(*ast.LiteralNode).Value.Value), true
	case *ast.StringNode:
		return n.(*ast.StringNode).Value, true
	}
	return n.GetToken().Value, true
}

func (l *loader) sequence(n ast.Node, v reflect.Value, path, name string) {
	seq, ok := n.(*ast.SequenceNode)
	if !ok {
		l.problem(n, name, "a list is wanted here: lines that begin with \"- \", or [a, b]")
		return
	}
	if v.Kind() == reflect.Array {
		if len(seq.Values) != v.Len() {
			l.problem(n, name, "%d values stand here, and %d are wanted", len(seq.Values), v.Len())
			return
		}
	} else {
		v.Set(reflect.MakeSlice(v.Type(), len(seq.Values), len(seq.Values)))
	}
	for i, item := range seq.Values {
		l.value(item, v.Index(i), fmt.Sprintf("%s[%d]", path, i), name)
	}
}

// pairs returns the keys and values of a mapping.
func (l *loader) pairs(n ast.Node, name string) ([]*ast.MappingValueNode, bool) {
	switch m := n.(type) {
	case *ast.MappingNode:
		return m.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{m}, true
	}
	l.problem(n, name, "keys with values are wanted here, such as \"name: value\"")
	return nil, false
}

func (l *loader) mapOf(n ast.Node, v reflect.Value, path, name string) {
	pairs, ok := l.pairs(n, name)
	if !ok {
		return
	}
	v.Set(reflect.MakeMap(v.Type()))
	for _, p := range pairs {
		key := p.Key.GetToken().Value
		if v.MapIndex(reflect.ValueOf(key)).IsValid() {
			l.problem(p.Key, key, "the key stands twice")
			continue
		}
		item := reflect.New(v.Type().Elem()).Elem()
		l.value(p.Value, item, path+"."+key, key)
		v.SetMapIndex(reflect.ValueOf(key), item)
	}
}

// field is one key that a struct takes.
type field struct {
	key      string
	index    []int
	required bool
	enum     []string
}

// fields lists the keys of a struct, embedded ones included.
func fields(t reflect.Type) []field {
	var out []field
	for i := range t.NumField() {
		f := t.Field(i)
		key, opts, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		switch {
		case f.Anonymous && opts == "inline":
			for _, in := range fields(f.Type) {
				in.index = append([]int{i}, in.index...)
				out = append(out, in)
			}
		case key != "" && key != "-":
			x := field{key: key, index: []int{i}}
			for _, tag := range strings.Split(f.Tag.Get("jsonschema"), ",") {
				if tag == "required" {
					x.required = true
				}
				if e, ok := strings.CutPrefix(tag, "enum="); ok {
					x.enum = append(x.enum, e)
				}
			}
			out = append(out, x)
		}
	}
	return out
}

func (l *loader) structure(n ast.Node, v reflect.Value, path, name string) {
	pairs, ok := l.pairs(n, name)
	if !ok {
		return
	}
	known := fields(v.Type())
	seen := map[string]*token.Token{}
	for _, p := range pairs {
		t := p.Key.GetToken()
		key := t.Value
		if first, twice := seen[key]; twice {
			l.problem(p.Key, key, "the key stands twice; it stands in line %d already", first.Position.Line)
			continue
		}
		seen[key] = t
		i := slices.IndexFunc(known, func(f field) bool { return f.key == key })
		if i < 0 {
			l.unknown(p.Key, key, known)
			continue
		}
		at := key
		if path != "" {
			at = path + "." + key
		}
		fv := v.FieldByIndex(known[i].index)
		before := len(l.list)
		l.value(p.Value, fv, at, key)
		if e := known[i].enum; len(e) > 0 && len(l.list) == before && !slices.Contains(e, fmt.Sprint(fv.Interface())) {
			l.problem(p.Value, key, "%q is none of the words that go here: %s%s", fmt.Sprint(fv.Interface()), strings.Join(e, ", "), didYouMean(fmt.Sprint(fv.Interface()), e))
		}
	}
	for _, f := range known {
		if f.required && seen[f.key] == nil {
			what := name
			if what == "" {
				what = "the job"
			}
			l.problem(n, f.key, "%s needs this key, and it is missing", what)
		}
	}
	if line := v.FieldByName("Line"); line.IsValid() && line.Kind() == reflect.Int {
		line.SetInt(int64(l.pos(n).Row))
	}
}

func (l *loader) unknown(n ast.Node, key string, known []field) {
	names := make([]string, len(known))
	for i, f := range known {
		names[i] = f.key
	}
	hint := didYouMean(key, names)
	if hint == "" {
		hint = "; the keys here are " + strings.Join(names, ", ")
	}
	l.problem(n, key, "there is no such key here%s", hint)
}

// check reads one entry of checks: one key, the kind, with its parameters.
func (l *loader) check(n ast.Node, c *Check, path string) {
	pairs, ok := l.pairs(n, "checks")
	if !ok {
		return
	}
	names := make([]string, len(l.kinds))
	for i, k := range l.kinds {
		names[i] = k.Name
	}
	if len(pairs) != 1 {
		l.problem(n, "checks", "an entry of checks has one key, the kind of check (%s), and its parameters indented below it", strings.Join(names, ", "))
		return
	}
	c.Kind, c.Line = pairs[0].Key.GetToken().Value, l.pos(pairs[0].Key).Row
	i := slices.Index(names, c.Kind)
	if i < 0 {
		hint := didYouMean(c.Kind, names)
		if hint == "" {
			hint = "; the kinds are " + strings.Join(names, ", ")
		}
		l.problem(pairs[0].Key, c.Kind, "there is no such kind of check%s", hint)
		return
	}
	c.Params = l.kinds[i].Params()
	l.value(pairs[0].Value, reflect.ValueOf(c.Params).Elem(), path+"."+c.Kind, c.Kind)
}

// didYouMean finds the one word that is nearest, when it is near.
func didYouMean(word string, words []string) string {
	best, distance := "", 1+len(word)/3
	for _, w := range words {
		if strings.EqualFold(w, word) {
			return fmt.Sprintf("; did you mean %q?", w)
		}
		if d := edits(strings.ToLower(word), strings.ToLower(w)); d <= distance && (best == "" || d < distance) {
			best, distance = w, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", best)
}

// edits counts the letters to insert, remove, replace or swap between a and b.
func edits(a, b string) int {
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}
