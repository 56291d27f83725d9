package checks

import (
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// decided is what a difference comes to by the decision rule of a check, which has the
// last word: what must not hang on something has to come to the same with and without.
type decided struct {
	verdict limits.Verdict
	state   limits.State
	side    int // of the limit that was broken
}

func decidedBy(d *job.Decision, t limits.Tolerance, diff unit.Length, u float64, hasU bool) decided {
	if d == nil {
		v, beyond := t.Judge(diff)
		return decided{verdict: v, side: beyond.Sign()}
	}
	o := d.Limits().Judge(t, diff, u, hasU)
	return decided{o.Verdict, o.State, o.Beyond.Sign()}
}
