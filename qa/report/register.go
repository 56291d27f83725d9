package report

import (
	"io"

	"sightrail/qa"
	"sightrail/qa/job"
)

// Register is register.csv: the nonconformances of the job, a line each. It is an
// input of the next run, which carries every number and every decision on.
var Register = &Kind{Name: "register", File: "register.csv", Doc: "the nonconformances, a line each; an input of the next run", Start: startRegister,
	When: func(j *job.Job) bool { return j.Nonconformance != nil }}

type registerWriter struct{ w io.Writer }

func startRegister(w io.Writer, _ *qa.Result) (Writer, error) { return registerWriter{w}, nil }

func (registerWriter) Rows([]qa.Row) error { return nil }

func (r registerWriter) Close(res *qa.Result) error {
	g := res.Register
	if g == nil { // asked for by name: the job makes no patches
		g = &qa.Register{Unit: res.Frame.Unit.Name}
	}
	_, err := r.w.Write(g.CSV())
	return err
}
