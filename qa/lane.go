package qa

import (
	"runtime"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// lane takes plain rows of a point file from their text to the print of the reports in
// one go, a piece of the file at a time and several beside each other, where one check
// judges every shot by place and level and no row is kept. Whatever is not plain about a
// row, it goes through the same code as everywhere else.
type lane struct {
	run      *Run
	survey   *job.Survey
	check    *running
	number   int // of the check
	measurer PlaceMeasurer
	surface  *convert.Surface
	sink     PrintSink
	reader   convert.PointReader
	e, n, z  *unit.Ruler
	exact    uint8 // as many decimals are printed as they are written; 0 = none are

	free chan *piece
	full chan<- passed
	stop <-chan struct{}
}

// passed is what the reader of a file hands to the checks: shots, or a piece that went
// past them.
type passed struct {
	shots []convert.Shot
	piece *piece
}

// laneBatch is how many points are in hand at once: they fit into a near cache.
const laneBatch = 128

// piece is a piece of a file on its way, and room for the next.
type piece struct {
	lane *lane
	rows formats.PlainRows
	at   formats.Pos
	done chan error

	points [laneBatch]formats.PlainPoint
	places [laneBatch]convert.Place
	levels [laneBatch]unit.Length
	fit    [laneBatch]bool // place and level are within range
	spots  [laneBatch]convert.Spot
	like   Row // that rows are written over; Check is -1 until there is one
	shot   [1]convert.Shot
	row    [1]Row

	print   Printer
	judged  []outcomeOf
	found   Result // the worst of its failures
	written Written
}

// outcomeOf is what a row adds to the figures.
type outcomeOf struct {
	diff, beyond unit.Length
	verdict      limits.Verdict
	compared     bool
}

// newLane makes a lane for a survey, or nil where its rows need more than that.
func (r *Run) newLane(i int, s *job.Survey, out *collector, reader convert.PointReader) *lane {
	sink, ok := out.sink.(PrintSink)
	if !ok || out.keep != (Keep{}) || out.traces != nil || s.Kind != "points" || len(s.Exclude) > 0 || len(s.ByCode) > 0 || r.untrue[i] != "" || len(r.marks) > 0 ||
		len(r.lots) > 0 || len(r.acceptors) > 0 || len(r.byShots) > 0 || r.rework != nil || r.traces != nil || r.planWorth()[i] != 0 {
		return nil
	}
	l := &lane{run: r, survey: s, sink: sink, reader: reader}
	for k, c := range r.checks {
		if c.surveys != nil && !c.surveys[i] {
			continue
		}
		if l.check != nil || !c.takesAll() {
			return nil
		}
		l.check, l.number = c, k
	}
	if l.check == nil {
		return nil
	}
	if l.measurer, ok = l.check.measurer.(PlaceMeasurer); !ok {
		return nil
	}
	if l.surface = l.measurer.ByPlace(); l.surface == nil {
		return nil
	}
	l.e, l.n = reader.Frame.Rulers(reader.Unit)
	l.z = unit.NewRuler(0, reader.Unit, reader.Unit)
	if u := r.Head.Frame.Unit; u.Size == reader.Unit.Size {
		for p := unit.Length(10); l.exact < unit.MaxPlaces && u.Size%p == 0; p *= 10 {
			l.exact++
		}
	}
	pieces := runtime.GOMAXPROCS(0) + 4 // more than a decoder waits for at once
	l.free = make(chan *piece, pieces)
	for range pieces {
		p := &piece{lane: l, done: make(chan error, 1), print: sink.Printer(), like: Row{Check: -1}}
		if p.print == nil {
			return nil
		}
		l.free <- p
	}
	return l
}

// takesAll reports whether a check judges every shot of its surveys, each by the limits
// alone, and nothing is compared beside.
func (c *running) takesAll() bool {
	s := &c.common.Shots
	return len(s.Names) == 0 && len(s.Codes) == 0 && len(s.Layers) == 0 && len(s.Runs) == 0 && s.Along == "" && s.Polygon == nil && s.Chainage == nil &&
		c.former == nil && c.common.Decision == nil && len(c.zones) == 0 && !c.tally.keep
}

// begin has a piece of the file worked on beside everything else.
func (l *lane) begin(at formats.Pos, rows formats.PlainRows) (formats.PlainWork, error) {
	select {
	case p := <-l.free:
		p.at, p.rows = at, rows
		go func() { p.done <- Beside(p.work) }()
		return p, nil
	case <-l.stop:
		return nil, errStopped
	}
}

// Wait waits until the piece is worked through.
func (p *piece) Wait() error { return <-p.done }

// Commit sends the piece after what was sent before.
func (p *piece) Commit() error {
	p.lane.full <- passed{piece: p}
	return nil
}

// Drop makes room for another piece.
func (p *piece) Drop() {
	p.print.Reset()
	p.release()
}

// release is the end of a piece whose print nobody needs any more.
func (p *piece) release() {
	p.rows = nil
	clear(p.points[:]) // which hold the text
	p.like.Shot.ID, p.like.Shot.Code = "", ""
	p.judged = p.judged[:0]
	p.found = Result{}
	p.lane.free <- p
}

// work takes the points of the piece as far as they are plain.
func (p *piece) work() error {
	l := p.lane
	row := p.rows.First()
	for {
		n := p.rows.Take(p.points[:])
		for i := range n {
			q := &p.points[i]
			e, err1 := l.e.Length(q.E)
			n, err2 := l.n.Length(q.N)
			z, err3 := l.z.Length(q.Z)
			p.places[i], p.levels[i], p.fit[i] = convert.Place{E: e, N: n}, z, err1 == nil && err2 == nil && err3 == nil
		}
		l.surface.Spots(p.places[:n], p.spots[:n])
		for i := range n {
			if p.like.Check >= 0 && p.fit[i] && p.spots[i].On {
				p.alike(i, row)
			} else {
				p.any(i, row)
			}
			row++
		}
		if n < len(p.points) {
			return nil
		}
	}
}

// alike is a row like those before it.
func (p *piece) alike(i, number int) {
	l, q, r := p.lane, &p.points[i], &p.like
	r.Shot.ID, r.Shot.Code, r.Shot.Pos.Row = q.ID, q.Code, number
	r.Shot.Place, r.Shot.Level = p.places[i], p.levels[i]
	r.Face = p.spots[i].Face
	l.measurer.At(r, p.spots[i].Z)
	p.written = Written{l.as(q.E, q.TextE), l.as(q.N, q.TextN), l.as(q.Z, q.TextZ)}
	p.print.Alike(r, &p.written)
	p.count(r)
}

// any is a row made as every other: off the surface, out of range, or the first.
func (p *piece) any(i, number int) {
	l, q := p.lane, &p.points[i]
	x := formats.Point{Row: number, Col: p.rows.Col(), ID: q.ID, Code: q.Code, E: q.E, N: q.N, Z: q.Z, Placed: true, Levelled: true}
	shot, row := &p.shot[0], &p.row[0]
	l.reader.Shot(shot, p.at, &x)
	l.run.ready(l.survey, shot)
	*row = Row{Check: l.number, Shot: *shot}
	l.check.measured(p.shot[:], p.row[:])
	if row.Verdict == limits.NotAssessed {
		row.Shot.Use = convert.NotAssessed
	}
	p.print.Row(row)
	p.count(row)
	if p.like.Check < 0 && row.Compared && row.Reason == "" && row.Note == "" && row.Shot.Use == convert.Assessed {
		p.like = *row
		p.print.Like(&p.like)
	}
	*shot, *row = convert.Shot{}, Row{} // which hold the text
}

// count enters a row in the figures of the piece.
func (p *piece) count(r *Row) {
	p.judged = append(p.judged, outcomeOf{r.Diff, r.Beyond, r.Verdict, r.Compared})
	if r.Verdict == limits.Fail {
		p.found.FailureCount++
		p.found.worst(r)
	}
}

// as is a number as it is written where it is printed just so: with three decimals or
// more, and no noughts too many.
func (l *lane) as(d unit.Decimal, text string) string {
	if d.Places < 3 || d.Places > l.exact || text[0] == '-' || text[0] == '0' && text[1] != '.' || d.Places > 3 && text[len(text)-1] == '0' {
		return ""
	}
	return text
}

// passBy enters a piece in account and figures, and sends its print on.
func (r *Run) passBy(p *piece, out *collector) error {
	l, row := p.lane, &Row{}
	for i := range p.judged {
		o := &p.judged[i]
		row.Diff, row.Beyond, row.Verdict, row.Compared = o.diff, o.beyond, o.verdict, o.compared
		use := convert.Assessed
		if o.verdict == limits.NotAssessed {
			use = convert.NotAssessed
		}
		r.Head.Account.count(use)
		l.check.tally.add(row)
	}
	return out.takePrinted(p)
}

// takePrinted is take for a piece.
func (c *collector) takePrinted(p *piece) error {
	c.res.RowCount += len(p.judged)
	c.res.FailureCount += p.found.FailureCount
	for i := range p.found.Worst {
		c.res.worst(&p.found.Worst[i])
	}
	if len(p.judged) == 0 {
		p.Drop()
		return nil
	}
	return wroteResults(p.lane.sink.TakePrinted(p.print, p.release))
}
