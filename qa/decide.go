package qa

import "sightrail/qa/limits"

// decide lets the decision rule of the check have the last word on rows that were
// measured: by default that is simple acceptance, and nothing changes. Of a grade
// the surplus of the fall over the least fall is judged, with what the fall is
// worth; a grade that is judged by other limits keeps its verdict.
func (c *running) decide(rows []Row) {
	if c.common.Decision == nil {
		return
	}
	rule := c.common.Decision.Limits()
	for i := range rows {
		r := &rows[i]
		var o limits.Outcome
		switch {
		case r.Verdict == limits.NotAssessed:
			continue
		case r.Graded():
			if r.LeastGrade.Run <= 0 {
				continue
			}
			o = rule.JudgeGrade(r.Grade.Rise, r.Grade.Run, r.LeastGrade, r.U, r.HasU)
		case r.Compared:
			o = rule.Judge(r.Limits, r.Diff, r.U, r.HasU)
		default:
			continue
		}
		r.decided(o)
	}
}

// decided enters the outcome of a decision rule in a row.
func (r *Row) decided(o limits.Outcome) {
	r.Verdict, r.Beyond, r.Decided = o.Verdict, o.Beyond, o.Words()
	switch {
	case o.Verdict != limits.Fail || r.Graded():
		r.Action = ""
	case r.Quantity == QuantityLevel:
		r.Action = r.Limits.SurfaceAction(r.Diff)
	case !r.Quantity.Levels():
		r.Action = ""
	default:
		r.Action = r.Limits.PipeAction(r.Diff)
	}
	if o.Verdict == limits.NotAssessed || o.Verdict != o.Simple || o.State == limits.StateConditionalPass || o.State == limits.StateConditionalFail {
		if r.Reason != "" {
			r.Reason += "; "
		}
		r.Reason += o.Words()
	}
}
