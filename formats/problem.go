package formats

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is one thing that is wrong or odd at one place. Text says what is
// there, what is wrong with it and what to do.
type Problem struct {
	Pos   Pos
	Field string // column, attribute or key; "" for the row or the file
	Text  string
}

// String is one line: place: field: text.
func (p Problem) String() string {
	s := p.Pos.String() + ": "
	if p.Field != "" {
		s += p.Field + ": "
	}
	return s + p.Text
}

// ErrorList is several problems as one error.
type ErrorList []Problem

// Error joins the lines of all problems.
func (l ErrorList) Error() string {
	lines := make([]string, len(l))
	for i, p := range l {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}

// Err returns l sorted, or nil when it is empty.
func (l ErrorList) Err() error {
	if len(l) == 0 {
		return nil
	}
	SortProblems(l)
	return l
}

// SortProblems puts problems into the order of their places; what stands at
// one place keeps its order.
func SortProblems(l []Problem) {
	slices.SortStableFunc(l, func(a, b Problem) int { return cmp.Or(a.Pos.Compare(b.Pos)) })
}

// FirstShown is how many problems of one file are printed before the rest is
// only counted.
const FirstShown = 10

// Lines writes problems a line each, the first FirstShown of every file and
// then how many more there are; all of them with all.
func Lines(l []Problem, all bool) []string {
	var out []string
	shown := map[string]int{}
	for _, p := range l {
		shown[p.Pos.File]++
	}
	seen := map[string]int{}
	for _, p := range l {
		f := p.Pos.File
		seen[f]++
		switch {
		case all || seen[f] <= FirstShown:
			out = append(out, p.String())
		case seen[f] == shown[f]:
			out = append(out, fmt.Sprintf("%s: and %d more; --all-problems lists them", f, shown[f]-FirstShown))
		}
	}
	return out
}
