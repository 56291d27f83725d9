package checks

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
)

// quotedOr writes names in quotes with "or" before the last.
func quotedOr(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = fmt.Sprintf("%q", n)
	}
	if n := len(out); n > 1 {
		return strings.Join(out[:n-1], ", ") + " or " + out[n-1]
	}
	return strings.Join(out, "")
}

// firstLine is the first of several errors.
func firstLine(err error) string {
	text, _, _ := strings.Cut(err.Error(), "\n")
	return text
}

// inUnit writes a length in the unit of the job.
func inUnit(f *convert.Frame, l unit.Length) string { return l.Fixed(f.Unit, 3) + " " + f.Unit.Name }

// detached is a shot that outlives its batch: with a text of its own, because a text of
// a file is a part of a block of it and would keep that whole block.
func detached(s *convert.Shot) convert.Shot {
	out := *s
	texts := [...]*string{&out.ID, &out.Code, &out.Layer, &out.Run, &out.Staffed, &out.Time}
	n := 0
	for _, t := range texts {
		n += len(*t)
	}
	var b strings.Builder // a sum of texts of which only one is not empty would be that text
	b.Grow(n)
	for _, t := range texts {
		b.WriteString(*t)
	}
	own := b.String()
	for _, t := range texts {
		n := len(*t)
		*t, own = own[:n], own[n:]
	}
	return out
}

// sortedKeys are the keys of a map in order.
func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
