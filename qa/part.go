package qa

import (
	"errors"
	"fmt"
	"math/bits"
	"strings"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// Part is what a part of a run came to: the figures that make those of the whole when
// the parts are put together, all of them whole numbers.
type Part struct {
	Account      Account     `json:"rows"`
	Checks       []PartCheck `json:"checks"`
	RowCount     int         `json:"rowCount"`
	FailureCount int         `json:"failures"`
	Worst        []PartRow   `json:"worst"`
}

// PartCheck are the figures of one check.
type PartCheck struct {
	Counts  Counts        `json:"counts"`
	N       int           `json:"n"`
	Within  int           `json:"within"`
	High    int           `json:"high"`
	Low     int           `json:"low"`
	Sum     [2]uint64     `json:"sum"` // high and low half; of the sum in two's complement
	Squares [2]uint64     `json:"squares"`
	Min     unit.Length   `json:"min"`
	Max     unit.Length   `json:"max"`
	Bins    []Bin         `json:"bins"`
	Values  []unit.Length `json:"values,omitempty"` // with MaxValues or fewer
	Order   []PartSpot    `json:"order,omitempty"`  // beside Values
}

// PartSpot is where a value stands along a line.
type PartSpot struct {
	Run      string         `json:"run,omitempty"`
	Chained  bool           `json:"chained,omitempty"`
	Chainage unit.Length    `json:"chainage,omitempty"`
	Offset   unit.Length    `json:"offset,omitempty"`
	Verdict  limits.Verdict `json:"verdict"`
}

// PartRow is as much of a failure as a verdict tells.
type PartRow struct {
	Check    int              `json:"check"`
	Quantity Quantity         `json:"quantity"`
	Pos      formats.Pos      `json:"pos"`
	ID       string           `json:"id"`
	Diff     unit.Length      `json:"diff"`
	Beyond   unit.Length      `json:"beyond"`
	Limits   limits.Tolerance `json:"limits"`
	Action   string           `json:"action"`
}

// CanPart says why a job cannot be run in parts, or nil: its one survey is a point file
// that is read once, and its checks judge each shot by itself.
func (r *Run) CanPart() error {
	j := r.Head.Job
	no := func(format string, args ...any) error {
		return fmt.Errorf("the job cannot be run in parts: "+format, args...)
	}
	switch {
	case len(j.Surveys) != 1:
		return no("it has %d surveys; make a job of each file", len(j.Surveys))
	case !r.once[0]:
		return no("its survey must be a point file in delimited text whose unit is declared (\"unit: m\"), without marks to look for, rework and nonconformances")
	case len(j.Lots) > 0 || len(j.Acceptance) > 0:
		return no("it has lots or rules of acceptance, which need all results together")
	case len(j.Concessions) > 0:
		return no("it has concessions, which need all results together")
	case len(r.byShots) > 0:
		return no("a zone of a tolerance lies along shots, which need all be known")
	}
	for i, c := range r.checks {
		switch {
		case !c.kind.Single:
			return no("the check %q works results out of several shots", r.Head.Checks[i].Common.Name)
		case c.former != nil:
			return no("the fit to another revision is asked for")
		}
	}
	return nil
}

// KeepPart has the run keep what Part needs.
func (r *Run) KeepPart() {
	for _, c := range r.checks {
		c.tally.keep = true
	}
}

// Part is what the run came to, after it ran.
func (r *Run) Part() *Part {
	h := &r.Head
	p := &Part{Account: h.Account, RowCount: h.RowCount, FailureCount: h.FailureCount, Worst: []PartRow{}}
	for _, c := range r.checks {
		t := &c.tally
		x := PartCheck{Counts: t.counts, N: t.n, Within: t.within, High: t.high, Low: t.low, Sum: t.sum, Squares: t.sq, Min: t.min, Max: t.max, Bins: t.histogram()}
		if t.n <= MaxValues {
			x.Values, x.Order = t.raw, t.order
		}
		p.Checks = append(p.Checks, x)
	}
	for i := range h.Worst {
		w := &h.Worst[i]
		p.Worst = append(p.Worst, PartRow{w.Check, w.Quantity, w.Shot.Pos, w.Shot.ID, w.Diff, w.Beyond, w.Limits, w.Action})
	}
	return p
}

// Merge puts parts together, in the order of the file, to the result of the whole run.
// The file is read once more, for its problems, notes and hash, and its rows counted.
func (r *Run) Merge(parts []*Part) (*Result, error) {
	h := &r.Head
	s := &h.Job.Surveys[0]
	opt := s.Reading.Options(formats.PointContent)
	read := 0
	opt.Points = func(_ formats.Pos, batch []formats.Point) error { read += len(batch); return nil }
	doc, in, err := r.files.Decode(s.File, opt)
	if err != nil {
		return nil, err
	}
	if err := r.wasRead(0, s, doc, in); err != nil {
		return nil, err
	}
	for _, p := range parts {
		if len(p.Checks) != len(r.checks) {
			return nil, errors.New("the parts are of another job: they have another number of checks")
		}
		a, b := &h.Account, &p.Account
		a.Read, a.Assessed, a.Control, a.Superseded = a.Read+b.Read, a.Assessed+b.Assessed, a.Control+b.Control, a.Superseded+b.Superseded
		a.Excluded, a.NotAssessed, a.Blank = a.Excluded+b.Excluded, a.NotAssessed+b.NotAssessed, a.Blank+b.Blank
		h.RowCount += p.RowCount
		h.FailureCount += p.FailureCount
		for i := range p.Checks {
			r.checks[i].tally.merge(&p.Checks[i])
		}
		for i := range p.Worst {
			w := &p.Worst[i]
			h.worst(&Row{Check: w.Check, Quantity: w.Quantity, Shot: convert.Shot{Pos: w.Pos, ID: w.ID}, Diff: w.Diff, Compared: true, Beyond: w.Beyond, Limits: w.Limits, Action: w.Action, Verdict: limits.Fail})
		}
	}
	if h.Account.Read != read {
		return nil, fmt.Errorf("the parts have %d rows of %s, which has %d; a part is missing, or is there twice, or is of another file", h.Account.Read, s.File, read)
	}
	for i, c := range r.checks {
		if c.measurer == nil {
			continue
		}
		_, c.remarks = c.measurer.Finish()
		if f, ok := c.measurer.(Figurer); ok {
			h.Checks[i].Figures = f.Figures()
		}
	}
	r.sum()
	return h, nil
}

// merge adds the figures of a part, whose values come after those there are.
func (t *tally) merge(p *PartCheck) {
	t.counts.Assessed += p.Counts.Assessed
	t.counts.Pass += p.Counts.Pass
	t.counts.Fail += p.Counts.Fail
	t.counts.NotAssessed += p.Counts.NotAssessed
	if p.N == 0 {
		return
	}
	if t.n == 0 {
		t.min, t.max, t.bins = p.Min, p.Max, map[int]int{}
	}
	t.n += p.N
	t.within, t.high, t.low = t.within+p.Within, t.high+p.High, t.low+p.Low
	t.min, t.max = min(t.min, p.Min), max(t.max, p.Max)
	add := func(a *[2]uint64, b [2]uint64) {
		var carry uint64
		a[1], carry = bits.Add64(a[1], b[1], 0)
		a[0], _ = bits.Add64(a[0], b[0], carry)
	}
	add(&t.sum, p.Sum)
	add(&t.sq, p.Squares)
	for _, b := range p.Bins {
		t.bins[b.Mm] += b.N
	}
	if t.n <= MaxValues {
		t.values = append(t.values, p.Values...)
		for i := range p.Order {
			o := &p.Order[i]
			t.along.add(&Row{Shot: convert.Shot{Run: o.Run, Chained: o.Chained, Chainage: o.Chainage, Offset: o.Offset}, Verdict: o.Verdict})
		}
	}
}

// remember keeps a value in its order, for a part.
func (t *tally) remember(r *Row) {
	s := PartSpot{Run: r.Shot.Run, Chained: r.Shot.Chained, Chainage: r.Shot.Chainage, Offset: r.Shot.Offset, Verdict: r.Verdict}
	if r.OnPipe {
		s = PartSpot{Run: r.Pipe, Chained: true, Chainage: r.Along, Verdict: r.Verdict}
	}
	if n := len(t.order); n > 0 && t.order[n-1].Run == s.Run {
		s.Run = t.order[n-1].Run
	} else {
		s.Run = strings.Clone(s.Run) // not a part of a block of the file
	}
	t.order = append(t.order, s)
	t.raw = append(t.raw, r.Diff)
}
