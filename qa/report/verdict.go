package report

import (
	"fmt"
	"strings"

	"sightrail/formats/unit"
	"sightrail/qa"
)

// Verdict says what a run came to, in a few lines for a terminal.
func Verdict(r *qa.Result) []string {
	assessed, failed, open := 0, 0, 0
	for i := range r.Checks {
		c := r.Checks[i].Counts
		assessed, failed, open = assessed+c.Assessed, failed+c.Fail, open+c.NotAssessed
	}
	what := r.Job.Project
	if r.Job.Lot != "" {
		what += ", lot " + r.Job.Lot
	}
	lines := []string{fmt.Sprintf("%s: %s", strings.ToUpper(string(r.Verdict)), what)}
	first := fmt.Sprintf("%d of %d results out of tolerance", failed, assessed)
	if s := concededWords(r); s != "" {
		first += ", " + s
	}
	if open > 0 {
		first += fmt.Sprintf("; %d not assessed", open)
	}
	lines = append(lines, "  "+first)
	for i := range r.Checks {
		c := &r.Checks[i]
		lines = append(lines, fmt.Sprintf("  %s (%s): %d pass, %d fail, %d not assessed", c.Common.Name, c.Common.Element, c.Counts.Pass, c.Counts.Fail, c.Counts.NotAssessed))
	}
	if s := acceptedWords(r); s != "" {
		lines = append(lines, "  "+s)
	}
	lines = append(lines, refused(r)...)
	lines = append(lines, Worst(r)...)
	if s := registerWords(r); s != "" {
		lines = append(lines, "  nonconformances: "+s)
	}
	a := r.Account
	lines = append(lines, fmt.Sprintf("  rows: %d read = %d assessed + %d control + %d superseded + %d excluded + %d not assessed + %d blank",
		a.Read, a.Assessed, a.Control, a.Superseded, a.Excluded, a.NotAssessed, a.Blank))
	for _, p := range r.Proved {
		if strings.Contains(p, "not proved") || strings.Contains(p, "unproved") {
			lines = append(lines, "  "+p)
		}
	}
	if !r.Complete && r.Verdict != qa.VerdictIncomplete {
		lines = append(lines, "  not complete: something was not read or not assessed")
	}
	return lines
}

// refusedShown is how many lots that were not accepted the verdict names.
const refusedShown = 5

// refused names the lots that a rule of the job does not accept.
func refused(r *qa.Result) []string {
	var lines []string
	more := 0
	for i := range r.Checks {
		for k := range r.Checks[i].Acceptance {
			x := &r.Checks[i].Acceptance[k]
			switch {
			case x.State == qa.Accepted:
			case len(lines) == refusedShown:
				more++
			case x.Lot == "":
				lines = append(lines, fmt.Sprintf("  %s: %s", x.Check, x.Words))
			default:
				lines = append(lines, fmt.Sprintf("  lot %s, %s: %s", x.Lot, x.Check, x.Words))
			}
		}
	}
	if more > 0 {
		lines = append(lines, fmt.Sprintf("  and %d more lots that are not accepted", more))
	}
	return lines
}

// Worst names the failures to look at first.
func Worst(r *qa.Result) []string {
	var lines []string
	for i := range r.Worst {
		lines = append(lines, "  "+Failure(r, &r.Worst[i]))
	}
	if n := r.FailureCount - len(r.Worst); n > 0 {
		lines = append(lines, fmt.Sprintf("  and %d more out of tolerance", n))
	}
	return lines
}

func beyond(r *qa.Row) unit.Length { return r.Beyond.Abs() }

// Failure is one failure in one line: what, by how much, what to do, where it
// was read.
func Failure(r *qa.Result, row *qa.Row) string {
	s := row.Shot.ID
	if row.Pipe != "" && !row.Graded() {
		s += " on pipe " + row.Pipe
	}
	switch row.Quantity {
	case qa.QuantityGrade:
		_, built := row.GradeWords()
		s = "pipe " + row.Pipe + ": grade " + built + ", least " + row.LeastGrade.OneIn()
	case qa.QuantityBackfall:
		s += ": " + row.Reason
	case qa.QuantityFall:
		_, built := row.GradeWords()
		s = "pipe " + row.Pipe + " " + row.Reason + ": " + built + ", least " + row.LeastGrade.OneIn()
	case qa.QuantityInvert, qa.QuantityLevel:
		s += ": " + row.Limits.Printed(row.Diff) + " mm, limits " + row.Limits.String()
	default:
		s += ": " + string(row.Quantity) + " " + row.Limits.Printed(row.Diff) + " mm, limits " + row.Limits.String()
		if row.Derived && row.Reason != "" {
			s += ", " + row.Reason
		}
	}
	if row.Action != "" {
		s += ", " + row.Action
	}
	return s + " (" + row.Shot.Pos.String() + ")"
}
