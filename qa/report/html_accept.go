package report

import (
	"fmt"
	"strings"

	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// acceptanceRules are the rules of acceptance of a job, in words.
func acceptanceRules(j *job.Job) string {
	if len(j.Acceptance) == 0 {
		return "every point within its limits"
	}
	var out []string
	for i := range j.Acceptance {
		p := &j.Acceptance[i]
		s := setBy(p.Words(), p.Source)
		of := "results of single shots"
		if p.Quantity != "" {
			of = p.Quantity
		}
		if len(p.Checks) > 0 {
			of += " of " + strings.Join(p.Checks, ", ")
		}
		out = append(out, of+": "+s)
	}
	return strings.Join(out, "; ") + "; else every point within its limits"
}

// acceptLine is what a rule made of one lot, in the table of a check.
type acceptLine struct{ Lot, State, Class, Words, Figures string }

// acceptPart is the acceptance of a check by the rules of the job.
type acceptPart struct {
	Rules []fact // rule and its source
	Lines []acceptLine
}

// acceptClass carries the shape and colour of an acceptance.
func acceptClass(s qa.AcceptanceState) string {
	switch s {
	case qa.Accepted:
		return "v p"
	case qa.Rejected:
		return "v f"
	}
	return "v o"
}

// acceptanceOf describes the acceptance of a check; nil where no rule is for it.
func acceptanceOf(c *qa.CheckResult) *acceptPart {
	if len(c.Acceptance) == 0 {
		return nil
	}
	part := &acceptPart{}
	seen := map[string]bool{}
	for i := range c.Acceptance {
		x := &c.Acceptance[i]
		of := string(x.Quantity)
		if of == "" {
			of = "results of single shots"
		}
		if !seen[of] {
			seen[of] = true
			part.Rules = append(part.Rules, fact{"Rule for " + of, setBy(x.Rule, x.Source)})
		}
		line := acceptLine{Lot: x.Lot, State: string(x.State), Class: acceptClass(x.State), Words: x.Words}
		if line.Lot == "" {
			line.Lot = "the whole job"
		}
		if x.Quantity != "" {
			line.Lot += ", " + of
		}
		var figures []string
		for _, f := range x.Figures {
			figures = append(figures, f.Name+" "+f.Value)
		}
		line.Figures = strings.Join(figures, "; ")
		part.Lines = append(part.Lines, line)
	}
	return part
}

// acceptedWords says that failing points are those that lots are accepted with;
// "" where there are none.
func acceptedWords(r *qa.Result) string {
	n := 0
	for i := range r.Checks {
		n += r.Checks[i].Accepted
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%s out of tolerance %s in lots that a rule of the job accepts; they stay fails and are listed as such", Count(n, "result", "results"), isAre(n))
}

// lotAcceptance is the acceptance of a lot in its line of the index.
func lotAcceptance(l *qa.LotResult) string {
	var out []string
	for i := range l.Acceptance {
		x := &l.Acceptance[i]
		s := x.Check
		if x.Quantity != "" {
			s += " " + string(x.Quantity)
		}
		s += " " + string(x.State)
		if x.State == qa.Accepted && x.Failing > 0 {
			s += fmt.Sprintf(" with %d beyond", x.Failing)
		}
		out = append(out, s)
	}
	return strings.Join(out, "; ")
}

// presetWords stand beside limits that come from a preset.
func presetWords(source string) string {
	if strings.Contains(source, "preset ") {
		return limits.ContractRules
	}
	return ""
}

// lotLine is a lot in the index, with its acceptance in words.
type lotLine struct {
	*qa.LotResult
	ByRule string
}

func lotLines(r *qa.Result) []lotLine {
	var out []lotLine
	for i := range r.Lots {
		out = append(out, lotLine{&r.Lots[i], lotAcceptance(&r.Lots[i])})
	}
	return out
}
