package job

import (
	"fmt"
	"strings"
	"unicode"

	"sightrail/formats"
)

// source is the text of a job file and the places of what stands in it.
type source struct {
	lines  []string
	places map[string]formats.Pos
}

// Where returns the place in the job file of a value, named by the keys that
// lead to it and the entries of lists counted from 0: "heightDatum",
// "surveys[0].file", "checks[1].surface.tolerance.upper". What the file leaves
// out has the place of what it would stand in.
func (j *Job) Where(path string) formats.Pos {
	for {
		if p, ok := j.places[path]; ok {
			p.File = j.File
			return p
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			break
		}
		path = path[:i]
	}
	return formats.Pos{File: j.File, Row: 1, Col: 1}
}

// excerptWidth is how many characters of a long line Excerpt shows.
const excerptWidth = 100

// Excerpt shows the line of a place in the job file, with a caret under its
// column:
//
//	12 |   lower: -30
//	   |          ^
//
// It is "" for a place that is not in the job file.
func (j *Job) Excerpt(p formats.Pos) string {
	if p.File != j.File {
		return ""
	}
	return j.excerpt(p)
}

func (s *source) excerpt(p formats.Pos) string {
	if p.Row < 1 || p.Row > len(s.lines) {
		return ""
	}
	line := []rune(s.lines[p.Row-1])
	col := min(max(p.Col, 1), len(line)+1) - 1
	for i, r := range line {
		switch {
		case r == '\t':
			line[i] = ' ' // so that the caret stands under its column
		case !unicode.IsPrint(r):
			line[i] = unicode.ReplacementChar
		}
	}
	before, after := "", ""
	if from := col - excerptWidth*2/3; from > 0 && len(line) > excerptWidth {
		line, col, before = line[from:], col-from, "..."
	}
	if len(line) > excerptWidth {
		line, after = line[:excerptWidth], "..."
	}
	number := fmt.Sprintf("%4d", p.Row)
	gap := strings.Repeat(" ", len(number))
	return fmt.Sprintf("%s | %s%s%s\n%s | %s^", number, before, string(line), after, gap, strings.Repeat(" ", len(before)+col))
}

// fieldOf writes a path for a message, without the numbers of list entries,
// which nobody counts: "checks.surface.tolerance.upper".
func fieldOf(path string) string {
	var b strings.Builder
	for {
		before, rest, ok := strings.Cut(path, "[")
		b.WriteString(before)
		if !ok {
			return b.String()
		}
		_, path, _ = strings.Cut(rest, "]")
	}
}
