package report

import (
	"fmt"
	"strings"

	"sightrail/convert"
	"sightrail/qa"
)

// The words of a row about rework, register and concessions; each "" where there
// is nothing to say.

func ncrNo(r *qa.Row) string {
	if r.Trace == nil {
		return ""
	}
	return r.Trace.Number
}

func ncrStatus(r *qa.Row) string {
	if r.Trace == nil {
		return ""
	}
	return r.Trace.Status
}

func supersedes(r *qa.Row) string {
	if r.Trace == nil {
		return ""
	}
	return r.Trace.Supersedes
}

func conceded(r *qa.Row) string {
	if r.Trace == nil {
		return ""
	}
	return r.Trace.Conceded
}

// traceWords are the remarks on a row in tables: number and status, the
// concession, and what the shot took the place of.
func traceWords(r *qa.Row) []string {
	t := r.Trace
	if t == nil {
		return nil
	}
	var out []string
	if t.Number != "" {
		out = append(out, t.Number+", "+t.Status)
	}
	if t.Conceded != "" {
		out = append(out, t.Conceded)
	}
	if t.Supersedes != "" {
		out = append(out, "takes the place of "+t.Supersedes)
	}
	return out
}

// superseded reports whether a newer shot took the place of that of a row.
func superseded(r *qa.Row) bool { return r.Shot.Use == convert.Superseded }

// concededWords say how many failures are under a concession; "" when none is.
func concededWords(res *qa.Result) string {
	if res.Conceded == 0 {
		return ""
	}
	return fmt.Sprintf("%d of them under concession", res.Conceded)
}

// registerWords say what the register came to; "" when there is none.
func registerWords(res *qa.Result) string {
	g := res.Register
	if g == nil || len(g.Entries) == 0 {
		return ""
	}
	open := g.OpenCount()
	s := fmt.Sprintf("%d open, %d closed", open, len(g.Entries)-open)
	var first []string
	for _, e := range g.Entries {
		if e.Open() && len(first) < 5 {
			first = append(first, e.Text(qa.ColNumber))
		}
	}
	if len(first) > 0 {
		s += " (open: " + strings.Join(first, ", ")
		if open > len(first) {
			s += fmt.Sprintf(" and %d more", open-len(first))
		}
		s += ")"
	}
	return s
}
