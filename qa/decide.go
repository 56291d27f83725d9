package qa

import "sightrail/qa/limits"

// decide lets the decision rule of the check have the last word on rows that were
// measured: by default that is simple acceptance, and nothing changes. A grade is
// judged as fall against length and keeps its verdict.
func (c *running) decide(rows []Row) {
	if c.common.Decision == nil {
		return
	}
	rule := c.common.Decision.Limits()
	for i := range rows {
		r := &rows[i]
		if !r.Compared || r.Verdict == limits.NotAssessed || r.Graded() {
			continue
		}
		o := rule.Judge(r.Limits, r.Diff, r.U, r.HasU)
		r.Verdict, r.Beyond, r.Decided = o.Verdict, o.Beyond, o.Words()
		switch {
		case o.Verdict == limits.NotAssessed:
			r.Reason, r.Action = o.Words(), ""
		case o.Verdict == limits.Pass:
			r.Action = ""
		case r.Quantity == QuantityLevel:
			r.Action = r.Limits.SurfaceAction(r.Diff)
		case !r.Quantity.Levels():
			r.Action = ""
		default:
			r.Action = r.Limits.PipeAction(r.Diff)
		}
		if o.Verdict != o.Simple || o.State == limits.StateConditionalPass || o.State == limits.StateConditionalFail {
			if r.Reason == "" {
				r.Reason = o.Words()
			}
		}
	}
}
