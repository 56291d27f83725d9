package job

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Limits on a job file. One that is beyond them is refused.
const (
	MaxBytes = 1 << 20 // of the file
	MaxLines = 20_000  // of the file
	MaxDepth = 64      // of brackets inside brackets
)

// Load reads a job file. name is the file for messages, text all of it, kinds
// the kinds of check it may ask for. The error is a formats.ErrorList with every
// problem found: first what cannot be read as a job at all; when all of it can,
// what contradicts itself or leads nowhere. Each names its line and column and
// shows the line with a caret.
func Load(name string, text []byte, kinds []Kind) (*Job, error) {
	j := &Job{File: name}
	d := &decoder{file: name, kinds: kinds, source: source{places: map[string]formats.Pos{}}}
	root := d.parse(text)
	if len(d.problems) > 0 {
		return nil, d.problems.Err()
	}
	d.places[""] = place(root)
	d.value(root, reflect.ValueOf(j).Elem(), spot{at: place(root)}, fieldTag{})
	if len(d.problems) > 0 {
		return nil, d.problems.Err()
	}
	j.source = d.source
	j.number()
	for _, r := range d.rules {
		if t, ok := r.part.(interface{ setFoot(unit.Unit) }); ok {
			t.setFoot(j.Units.Unit)
		}
	}
	for _, r := range d.rules {
		for _, f := range r.part.Validate() {
			d.fault(j, join(r.path, f.Key), f.Text)
		}
	}
	for _, f := range j.contradictions() {
		d.fault(j, f.Key, f.Text)
	}
	if len(d.problems) > 0 {
		return nil, d.problems.Err()
	}
	if j.Levelling.Judge == "" {
		j.Levelling.Judge = "raw"
	}
	return j, nil
}

func (d *decoder) fault(j *Job, path, text string) {
	path = strings.TrimSuffix(path, ".")
	d.problem(j.Where(path), path, "%s", text)
}

// parse reads the YAML of a job file and returns its one document.
func (d *decoder) parse(text []byte) ast.Node {
	start := formats.Pos{Row: 1, Col: 1}
	switch {
	case len(text) > MaxBytes:
		d.problem(formats.Pos{}, "", "the file has %d bytes, more than the %d a job file may have; is it the job file?", len(text), MaxBytes)
		return nil
	case bytes.HasPrefix(text, []byte("\xff\xfe")) || bytes.HasPrefix(text, []byte("\xfe\xff")):
		d.problem(formats.Pos{}, "", "the file is encoded in UTF-16; save it as UTF-8")
		return nil
	}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
	d.source.lines = strings.Split(string(text), "\n")
	if n := len(d.source.lines); n > MaxLines {
		d.problem(formats.Pos{}, "", "the file has %d lines, more than the %d a job file may have; is it the job file?", n, MaxLines)
		return nil
	}
	for i, line := range d.source.lines {
		if !utf8.ValidString(line) {
			col := strings.IndexRune(strings.ToValidUTF8(line, "\x00"), 0) + 1
			d.problem(formats.Pos{Row: i + 1, Col: utf8.RuneCountInString(line[:col-1]) + 1}, "", "the line has a character that is not UTF-8; save the file as UTF-8")
			return nil
		}
		if at := strings.IndexFunc(line, func(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }); at >= 0 {
			d.problem(formats.Pos{Row: i + 1, Col: utf8.RuneCountInString(line[:at]) + 1}, "", "the line has a control character; take it out")
			return nil
		}
	}
	tokens := lexer.Tokenize(string(text))
	if !d.tokens(tokens) {
		return nil
	}
	file, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		d.syntax(err)
		return nil
	}
	var root ast.Node
	for _, doc := range file.Docs {
		switch {
		case doc.Body == nil:
		case root != nil:
			d.problem(place(doc.Body), "", "a second document begins here; a job file holds one, without \"---\" between")
			return nil
		default:
			root = doc.Body
		}
	}
	if root == nil {
		d.problem(start, "", "the file is empty; a job begins with \"project:\" and the name of the project")
	}
	return root
}

// tokens refuses what the parser would lose without a word, and what it could
// not bear.
func (d *decoder) tokens(tokens token.Tokens) bool {
	depth, dashes, line := 0, 0, 0
	for i, t := range tokens {
		if t.Position.Line != line {
			line, dashes = t.Position.Line, 0
		}
		switch t.Type {
		case token.SequenceEntryType:
			if dashes++; dashes > MaxDepth {
				d.problem(placeOf(t), "", "more than %d lists inside each other; a job file needs a few", MaxDepth)
				return false
			}
		case token.MappingStartType, token.SequenceStartType:
			if depth++; depth > MaxDepth {
				d.problem(placeOf(t), "", "more than %d brackets inside each other; a job file needs a few", MaxDepth)
				return false
			}
		case token.MappingEndType, token.SequenceEndType:
			depth--
		case token.AnchorType, token.AliasType, token.TagType, token.MergeKeyType, token.MappingKeyType, token.DirectiveType:
			d.problem(placeOf(t), "", "a value that begins with %s must be in quotes; YAML takes the sign for something that a job file does not use", t.Value)
			return false
		case token.CommentType:
			// "Pit #4" would become "Pit"
			if i > 0 && tokens[i-1].Position.Line == t.Position.Line && startsLikeText(t.Value) {
				d.problem(placeOf(t), "", "\"#%s\" would be taken for a remark and lost; put the whole value in quotes, or write \"# \" with a space before a remark", strings.TrimSpace(t.Value))
			}
		}
	}
	return len(d.problems) == 0
}

func startsLikeText(remark string) bool {
	return remark != "" && !strings.ContainsRune(" \t#-=*!~", rune(remark[0]))
}

// syntax words an error of the parser.
func (d *decoder) syntax(err error) {
	at, text := formats.Pos{Row: 1, Col: 1}, err.Error()
	var e yaml.Error
	if errors.As(err, &e) {
		at, text = placeOf(e.GetToken()), e.GetMessage()
	}
	d.problem(at, "", "%s", plain(text))
}

// plain says in plain words what the parser reports; the words of the parser
// are kept where there are none better.
func plain(report string) string {
	for _, w := range []struct{ part, text string }{
		{"cannot start any token", "a tab stands where spaces are asked for; indent with spaces"},
		{"tab character", "a tab stands where spaces are asked for; indent with spaces"},
		{"mapping value is not allowed", "a second colon, or keys below a key that already has a value; put a value with a colon and a space in it in quotes, or correct the indentation"},
		{"sequence end token ']'", "the list that begins here is not closed; add \"]\""},
		{"mapping end token '}'", "the group that begins here is not closed; add \"}\""},
		{"',' or ']' must be specified", "the list is not closed, or a comma is missing in it; add \"]\" or \",\""},
		{"',' or '}' must be specified", "the group is not closed, or a comma is missing in it; add \"}\" or \",\""},
		{"end character of double-quoted", "the text that begins here has no closing quote; add \""},
		{"end character of single-quoted", "the text that begins here has no closing quote; add '"},
		{"is a reserved character", "a value cannot begin with this sign; put it in quotes"},
		{"could not find '['", "\"]\" without a \"[\" before it; take it out, or put the value in quotes"},
		{"could not find '{'", "\"}\" without a \"{\" before it; take it out, or put the value in quotes"},
		{"block sequence entries", "a list begins on the line of its key; begin it on the next line, or write it in square brackets: [A, B]"},
		{"unexpected key name", "this is not a key with its value; write a colon and a space between the two"},
		{"map key-value is pre-defined", "something stands after the closing quote; put all of the value inside the quotes"},
		{"value is not allowed in this context", "this line fits no key above it; correct its indentation"},
		{"non-map value", "this is not a key with its value; write a colon and a space between the two, and a value of several lines in quotes"},
		{"unknown escape character", "a backslash in double quotes has a meaning of its own; use single quotes"},
	} {
		if strings.Contains(report, w.part) {
			return w.text
		}
	}
	return "the line cannot be read (" + report + "); see that keys end with a colon and a space, and that lines of one group begin in one column"
}
