package report

import (
	"io"
	"strconv"

	"sightrail/qa"
	"sightrail/qa/job"
)

// Lots is lots.csv: the index of the lots of a job, a line each.
var Lots = &Kind{Name: "lots", File: "lots.csv", Doc: "the lots of the job, a line each", Start: startLots, When: func(j *job.Job) bool { return len(j.Lots) > 0 }}

type lotsWriter struct{ w io.Writer }

func startLots(w io.Writer, _ *qa.Result) (Writer, error) { return lotsWriter{w}, nil }

func (lotsWriter) Rows([]qa.Row) error { return nil }

func (l lotsWriter) Close(res *qa.Result) error {
	b := []byte("lot,element,verdict,assessed,pass,fail,not_assessed,acceptance,worst,reason\n")
	for i := range res.Lots {
		x := &res.Lots[i]
		b = append(appendText(b, x.Name), ',')
		b = append(appendText(b, x.Element), ',')
		b = append(append(b, x.Verdict...), ',')
		for _, n := range []int{x.Counts.Assessed, x.Counts.Pass, x.Counts.Fail, x.Counts.NotAssessed} {
			b = append(strconv.AppendInt(b, int64(n), 10), ',')
		}
		b = append(appendText(b, lotAcceptance(x)), ',')
		b = append(appendText(b, x.Worst), ',')
		b = append(appendText(b, x.Reason), '\n')
	}
	_, err := l.w.Write(b)
	return err
}
