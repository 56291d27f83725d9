package qa

import (
	"fmt"

	"sightrail/convert"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// AcceptanceResult is what a rule of acceptance made of the results of one check,
// in one lot or in the whole job. Verdicts of points stay what they are.
type AcceptanceResult struct {
	Lot      string             `json:"lot,omitempty"` // "" = the whole job
	Check    string             `json:"check"`
	Quantity Quantity           `json:"quantity,omitempty"` // "" = results read at single shots
	State    AcceptanceState    `json:"state"`
	Rule     string             `json:"rule"`
	Source   string             `json:"source"`
	Words    string             `json:"words"`
	Figures  []AcceptanceFigure `json:"figures,omitempty"`
	Failing  int                `json:"failing"` // points beyond their limits
	check    int
}

// AcceptanceFigure is a number that a lot was accepted or rejected by, as it is
// printed.
type AcceptanceFigure struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// AcceptanceState is the outcome of a rule of acceptance.
type AcceptanceState string

// The outcomes.
const (
	Accepted   AcceptanceState = "accepted"
	Rejected   AcceptanceState = "rejected"
	NotDecided AcceptanceState = "not decided"
)

// MaxOrdered is how many values of a job are kept to be put in order along the
// line, for rules about values one after the other. Beyond it such a rule decides
// nothing.
const MaxOrdered = 2_000_000

// acceptor gathers the values of one rule, for each of its checks and each lot.
type acceptor struct {
	run   *Run
	plan  *job.Plan
	byLot map[[2]int]*gathered // check and lot; lot -1 is the whole job
}

type gathered struct {
	lot  limits.Lot
	line *line // of a rule about values one after the other
}

// startAcceptance readies the rules of the job.
func (r *Run) startAcceptance() {
	j := r.Head.Job
	for i := range j.Acceptance {
		r.acceptors = append(r.acceptors, &acceptor{run: r, plan: &j.Acceptance[i], byLot: map[[2]int]*gathered{}})
	}
}

// takes tells whether the rule judges the row.
func (a *acceptor) takes(r *Row) bool {
	return r.Check >= 0 && a.plan.For(a.run.Head.Checks[r.Check].Common.Name) && r.accepted(Quantity(a.plan.Quantity))
}

// accepted tells whether a rule for a quantity, or for results of single shots,
// judges such a row. A grade is none of them, nor is a result that is worked out
// of several shots unless its quantity is named.
func (r *Row) accepted(q Quantity) bool {
	switch {
	case r.Graded(), r.Shot.Use == convert.Control: // what is not to be judged is no part of a lot
		return false
	case r.Verdict == limits.NotAssessed && r.Quantity == QuantityNone:
		return !r.Derived
	case q == "":
		return !r.Derived && (r.Compared || r.Verdict == limits.NotAssessed)
	default:
		return r.Quantity == q && (r.Compared || r.Verdict == limits.NotAssessed)
	}
}

// gather hands a row to the rule that judges it. What lies in no lot of a job that
// has lots is judged by none.
func (r *Run) gather(row *Row) {
	for _, a := range r.acceptors {
		if !a.takes(row) {
			continue
		}
		lot := -1
		if len(r.lots) > 0 {
			i, ok := r.lotAt[row.Shot.Lot]
			if !ok || row.Shot.Lot == "" {
				continue
			}
			lot = i
		}
		key := [2]int{row.Check, lot}
		g := a.byLot[key]
		if g == nil {
			g = &gathered{}
			if a.plan.Consecutive {
				g.line = &line{}
			}
			a.byLot[key] = g
		}
		switch {
		case g.line == nil || row.Verdict == limits.NotAssessed:
			g.lot.Add(row.Diff, row.Limits, row.Verdict, row.Beyond)
		case r.ordered < MaxOrdered:
			r.ordered++
			g.line.add(row)
		default:
			r.ordered = MaxOrdered + 1 // beyond it
			g.line.spots = nil
			g.lot.Add(row.Diff, row.Limits, row.Verdict, row.Beyond)
		}
	}
}

// result judges what was gathered of one check in one lot.
func (a *acceptor) result(check, lot int, g *gathered) AcceptanceResult {
	r := a.run
	out := AcceptanceResult{Check: r.Head.Checks[check].Common.Name, Quantity: Quantity(a.plan.Quantity), Rule: a.plan.Words(), Source: a.plan.Source, check: check}
	if lot >= 0 {
		out.Lot = r.lots[lot].Name
	}
	order := ""
	if g.line != nil {
		order = g.line.sort()
		for i := range g.line.spots {
			s := &g.line.spots[i]
			g.lot.Add(s.diff, g.line.limits[s.limits], s.verdict, s.beyond)
		}
	}
	out.Failing = g.lot.Failed()
	plan, err := a.plan.Limits(g.lot.Assessed())
	if lot >= 0 && r.lots[lot].Cannot != "" {
		err = fmt.Errorf("the lot %s", r.lots[lot].Cannot)
	}
	if g.line != nil && r.ordered > MaxOrdered {
		err = fmt.Errorf("the job has more than %d values to be put in order along the line; make jobs of parts of it", MaxOrdered)
	}
	if err != nil {
		out.State, out.Words = NotDecided, "not decided: "+err.Error()
		return out
	}
	verdict := plan.Judge(&g.lot)
	out.Words = verdict.Words
	for _, f := range verdict.Figures {
		out.Figures = append(out.Figures, AcceptanceFigure(f))
	}
	if order != "" {
		out.Words += "; " + order
	}
	switch verdict.Verdict {
	case limits.Pass:
		out.State = Accepted
	case limits.Fail:
		out.State = Rejected
	default:
		out.State = NotDecided
	}
	return out
}

// accept judges every lot by the rules of the job, and hands the results to the
// lots and to the checks. A check that a rule is for and that has no value at all
// in a lot has nothing to be accepted there.
func (r *Run) accept() {
	lots := []int{-1}
	if len(r.lots) > 0 {
		lots = lots[:0]
		for i := range r.lots {
			lots = append(lots, i)
		}
	}
	for _, lot := range lots {
		for c := range r.Head.Checks {
			for _, a := range r.acceptors {
				g := a.byLot[[2]int{c, lot}]
				if g == nil {
					continue
				}
				x := a.result(c, lot, g)
				check := &r.Head.Checks[c]
				check.Acceptance = append(check.Acceptance, x)
				if x.State == Accepted {
					check.Accepted += x.Failing
				}
				if lot >= 0 {
					l := &r.Head.Lots[lot]
					l.Acceptance = append(l.Acceptance, x)
					if x.State == Accepted {
						l.Accepted += x.Failing
					}
				}
			}
		}
	}
}

// outcome is what acceptances add to a verdict.
func outcome(list []AcceptanceResult) (rejected, open bool) {
	for i := range list {
		rejected = rejected || list[i].State == Rejected
		open = open || list[i].State == NotDecided
	}
	return rejected, open
}

// AcceptedBy is the acceptance of the lot that a failing row counts in, if a rule
// of the job accepted that lot in spite of it; else nil. The verdict of the row
// stays a fail.
func (res *Result) AcceptedBy(r *Row) *AcceptanceResult {
	if r.Verdict != limits.Fail || r.Check < 0 || len(res.Job.Acceptance) == 0 {
		return nil
	}
	list := res.Checks[r.Check].Acceptance
	for i := range list {
		x := &list[i]
		if x.State != Accepted || x.Lot != r.Shot.Lot && len(res.Lots) > 0 {
			continue
		}
		if r.accepted(x.Quantity) {
			return x
		}
	}
	return nil
}

// Verdict is that of one check, by the rule of a run: fail if a result failed that
// no accepted lot is accepted with, or if a lot was rejected; else incomplete if
// anything was not assessed or decided, or nothing was; else pass.
func (c *CheckResult) Verdict() Verdict {
	switch rejected, open := outcome(c.Acceptance); {
	case rejected || c.Counts.Fail > c.Accepted:
		return VerdictFail
	case open || c.Counts.NotAssessed > 0 || c.Counts.Assessed == 0:
		return VerdictIncomplete
	}
	return VerdictPass
}
