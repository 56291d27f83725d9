package qa

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// Keep is how many rows and failures of a run are kept in its Result.
type Keep struct{ Rows, Failures int }

// Each runs the checks over every shot of the job, in the order of the surveys
// and of their rows, and hands the rows to sink as they come; the slice is
// reused. Rows worked out of several shots follow at the end. It returns the
// final result.
func (r *Run) Each(sink func([]Row) error) (*Result, error) {
	return r.To(&sinkFunc{take: sink}, Keep{MaxRows, MaxKept})
}

// To is Each for a sink that takes rows over, with what is to be kept of them.
func (r *Run) To(sink Sink, keep Keep) (*Result, error) {
	if err := r.zoneLines(); err != nil {
		return nil, err
	}
	if err := r.rehearse(); err != nil {
		return nil, err
	}
	if err := r.pass(&collector{res: &r.Head, sink: sink, keep: keep, traces: r.traces}, nil); err != nil {
		return nil, err
	}
	r.unused()
	r.sum()
	return &r.Head, nil
}

// pass lets the shots pass by the checks, those of the surveys in only where it is
// not nil.
func (r *Run) pass(out *collector, only []bool) error {
	for i := range r.Head.Job.Surveys {
		s := &r.Head.Job.Surveys[i]
		if only != nil && !only[i] {
			continue
		}
		if b := r.books[i]; b != nil {
			r.join(b.shots)
			if err := r.batch(i, s, b.shots, out); err != nil {
				return err
			}
			continue
		}
		if err := r.points(i, s, out); err != nil {
			return err
		}
	}
	for i, c := range r.checks {
		if c.measurer == nil {
			continue
		}
		rows, remarks := c.measurer.Finish()
		c.remarks = remarks
		if f, ok := c.measurer.(Figurer); ok {
			r.Head.Checks[i].Figures = f.Figures()
		}
		c.decide(rows)
		for k := range rows {
			rows[k].Check, rows[k].Derived = i, true
			c.tally.add(&rows[k])
			r.derivedToLot(&rows[k])
			r.inLot(&rows[k])
		}
		if err := out.take(append(out.sink.Room(), rows...)); err != nil {
			return err
		}
	}
	return nil
}

// join gives book shots the places of their names.
func (r *Run) join(shots []convert.Shot) {
	for i := range shots {
		if s := &shots[i]; s.Use == convert.Assessed || s.Use == convert.NotAssessed {
			r.places.Join(s)
		}
	}
}

// count adds a row to the account.
func (a *Account) count(u convert.Use) {
	a.Read++
	switch u {
	case convert.Assessed:
		a.Assessed++
	case convert.Control:
		a.Control++
	case convert.Superseded:
		a.Superseded++
	case convert.Excluded:
		a.Excluded++
	case convert.Blank:
		a.Blank++
	default:
		a.NotAssessed++
	}
}

// Balances reports whether every row read is in the account once.
func (a Account) Balances() bool {
	return a.Read == a.Assessed+a.Control+a.Superseded+a.Excluded+a.NotAssessed+a.Blank
}

// sum adds the verdicts up.
func (r *Run) sum() {
	h := &r.Head
	r.accept()
	r.sumLots()
	formats.SortProblems(h.Problems)
	formats.SortProblems(h.Notes)
	failed, open, assessed := false, false, 0
	for i, c := range r.checks {
		res := &h.Checks[i]
		res.Counts, res.Stats, res.Histogram, res.Remarks = c.tally.counts, c.tally.stats(), c.tally.histogram(), c.remarks
		if c.former != nil {
			res.Former = &FormerFit{Revision: r.formerOf(c.common.Design), Counts: c.fit.counts, Stats: c.fit.stats()}
		}
		if res.Counts.Assessed == 0 && !(c.kind.Informs && res.Counts.NotAssessed == 0 && len(res.Figures) > 0) {
			open = true
			why := "nothing was assessed"
			if c.cannot != "" {
				why += ": " + c.cannot
			} else if res.Counts.NotAssessed == 0 {
				why += ": no shot of the job is selected by this check"
			}
			res.Remarks = append(res.Remarks, why)
		}
		_, undecided := outcome(res.Acceptance)
		failed = failed || res.Verdict() == VerdictFail
		open = open || undecided || res.Counts.NotAssessed > 0
		assessed += res.Counts.Assessed
	}
	for i := range h.Lots {
		// where lots are accepted by a rule, one without any result is not
		open = open || len(r.acceptors) > 0 && h.Lots[i].Counts == (Counts{})
	}
	h.Complete = !open && h.Account.NotAssessed == 0 && len(h.Problems) == 0 && assessed > 0
	switch {
	case failed:
		h.Verdict = VerdictFail
	case !h.Complete:
		h.Verdict = VerdictIncomplete
	default:
		h.Verdict = VerdictPass
	}
}

// formerOf is the name of the other revision of a design.
func (r *Run) formerOf(design string) string {
	for i := range r.Head.Job.Designs {
		if d := &r.Head.Job.Designs[i]; d.Name == design && d.Former != nil {
			return d.Former.Revision
		}
	}
	return ""
}

// ExitCode is 0 when everything was read, assessed and within tolerance, 1 when
// something is out of tolerance, 2 when something was not read or assessed,
// also beside failures.
func (res *Result) ExitCode() int {
	switch {
	case !res.Complete:
		return 2
	case res.Verdict == VerdictFail:
		return 1
	case res.Verdict == VerdictPass:
		return 0
	}
	return 2
}

// Sink takes the rows of a run as they come.
type Sink interface {
	// Room returns a slice without rows that the next ones are put into. It may
	// have been used before.
	Room() []Row
	// Take takes the next rows over, in order. They lie in the slice that Room
	// returned last, or in a larger one.
	Take(rows []Row) error
}

// PrintSink is a sink that also takes rows that were printed on the way to it.
type PrintSink interface {
	Sink
	// Printer makes a printer for its reports; nil where one of them needs the rows.
	Printer() Printer
	// TakePrinted takes the rows of a printer over, in order with those of Take. The
	// printer may be used again once free was called.
	TakePrinted(p Printer, free func()) error
}

// Printer prints rows for the reports of a PrintSink. It is for one goroutine at a time.
type Printer interface {
	// Like says what the rows are like that Alike prints: they differ from r only in name,
	// code, row, place and level of the shot, and in face, design, measured (the level),
	// difference, verdict, beyond and action. Their names and codes have nothing but
	// letters and digits of ASCII, and . _ / #.
	Like(r *Row)
	Alike(r *Row, as *Written)
	// Row prints any row.
	Row(r *Row)
	// Reset throws away what was printed.
	Reset()
}

// Written are numbers of a row as its file has them, where reports print them just so;
// "" where they do not.
type Written struct{ Easting, Northing, Level string }

// sinkFunc is a sink that is done with the rows when it returns.
type sinkFunc struct {
	take func([]Row) error
	room []Row
}

func (s *sinkFunc) Room() []Row { return s.room[:0] }

func (s *sinkFunc) Take(rows []Row) error {
	s.room = rows
	return s.take(rows)
}

// collector keeps what page and workbook need and passes every row on.
type collector struct {
	res    *Result
	sink   Sink
	keep   Keep
	traces *traces // what rows have to do with the register; nil = nothing
}

// newCollector keeps all that may be kept.
func newCollector(res *Result, take func([]Row) error) *collector {
	return &collector{res: res, sink: &sinkFunc{take: take}, keep: Keep{MaxRows, MaxKept}}
}

// detached is a row with texts of its own: a text of a point is a part of the
// block of the file it was read from, and would keep that whole block.
func (r *Row) detached() Row {
	d := *r
	d.DesignAt, d.On = r.Origin(), nil
	for _, t := range []*string{&d.Shot.ID, &d.Shot.Code, &d.Shot.Layer, &d.Shot.Run, &d.Shot.Staffed, &d.Shot.Time, &d.DesignAt} {
		*t = strings.Clone(*t)
	}
	return d
}

func (c *collector) take(rows []Row) error {
	for i := range rows {
		row := &rows[i]
		c.res.RowCount++
		if c.traces != nil {
			c.traces.mark(row, c.res)
		}
		if len(c.res.Rows) < c.keep.Rows {
			c.res.Rows = append(c.res.Rows, row.detached())
		}
		if row.Verdict == limits.Fail {
			c.res.FailureCount++
			c.res.worst(row)
			if len(c.res.Failures) < c.keep.Failures {
				c.res.Failures = append(c.res.Failures, row.detached())
			}
		}
	}
	if len(rows) == 0 {
		return nil
	}
	return wroteResults(c.sink.Take(rows))
}

func wroteResults(err error) error {
	if err != nil {
		return fmt.Errorf("writing results: %w", err)
	}
	return nil
}

// worst keeps the failures to look at first, what is most urgent first and of
// equals what came first.
func (res *Result) worst(row *Row) {
	k := len(res.Worst)
	for k > 0 && row.urgency() > res.Worst[k-1].urgency() {
		k--
	}
	if k < MaxWorst {
		res.Worst = slices.Insert(res.Worst, k, row.detached())
		res.Worst = res.Worst[:min(len(res.Worst), MaxWorst)]
	}
}

// urgency orders failures: a drain that falls backwards comes before any level
// that is out, else what is furthest beyond its limit, and gaps between shots last.
func (r *Row) urgency() unit.Length {
	switch r.Quantity {
	case QuantityBackfall:
		return unit.MaxLength/2 + r.Beyond.Abs()
	case QuantityCoverage: // metres of spacing say nothing beside millimetres of level
		return min(r.Beyond.Abs(), unit.Nanometre)
	}
	return r.Beyond.Abs()
}
