package qa

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/qa/job"
)

// Column of the register, by its heading.
type Column string

// The columns of the register, in order. What a nonconformity record holds is
// common practice; ISO 9001:2015, 8.7.2 names the description, the actions, the
// concessions and the authority that decided. Disposition to Reason and what a
// user adds are for that authority, and are never written here.
const (
	ColNumber      Column = "number"
	ColStatus      Column = "status" // open or closed
	ColOpened      Column = "opened" // day of the survey
	ColCheck       Column = "check"
	ColElement     Column = "element"
	ColLot         Column = "lot"
	ColWhat        Column = "what"     // quantity
	ColSide        Column = "side"     // high or low
	ColStanding    Column = "standing" // why it is open or closed
	ColExtent      Column = "extent"
	ColArea        Column = "area_m2"
	ColPoints      Column = "points"
	ColWorst       Column = "worst"
	ColWorstAt     Column = "worst_at"
	ColMean        Column = "mean_mm"
	ColAction      Column = "action_mm"
	ColVolume      Column = "volume_m3"
	ColVolumeBy    Column = "volume_by"
	ColDisposition Column = "disposition"
	ColDecidedBy   Column = "decided_by"
	ColDecidedOn   Column = "decided_on"
	ColReason      Column = "reason"
	ColConcession  Column = "concession"
	ColClosedBy    Column = "closed_by"
	ColClosedOn    Column = "closed_on"
	ColLies        Column = "lies"    // in plan, or along what
	ColOutline     Column = "outline" // by day; the heading ends with the unit: outline_m
)

// Columns lists them.
var Columns = []Column{ColNumber, ColStatus, ColOpened, ColCheck, ColElement, ColLot, ColWhat, ColSide, ColStanding, ColExtent, ColArea, ColPoints, ColWorst, ColWorstAt, ColMean,
	ColAction, ColVolume, ColVolumeBy, ColDisposition, ColDecidedBy, ColDecidedOn, ColReason, ColConcession, ColClosedBy, ColClosedOn, ColLies, ColOutline}

// Status of an entry.
const (
	StatusOpen   = "open"
	StatusClosed = "closed"
)

// Register is the nonconformances of a job: those of the runs before and those of
// this one.
type Register struct {
	Entries []*Entry
	Extra   []string // headings of columns that the user added
	Patches []*Patch // of this run, by day
	Unit    string   // of the outlines

	spacing  job.Length
	prefix   string
	frame    *convert.Frame
	tooMany  string // why nothing is closed
	surveyed string // the date of the survey as the job writes it
}

// Entry is one nonconformance. Its number never changes.
type Entry struct {
	cells map[Column]string
	Extra []string // in the user's columns, as they were

	key    patchKey
	known  bool   // its check is one of this job
	parts  []part // where it was found, by day
	opened job.Date
	closed job.Date

	shots  []*failing // of this run
	places map[job.Date]int
	with   []string // numbers of the entries that it is one patch with
	other  bool     // its shots of the day it was opened are not those it was opened for
}

// part is where an entry was found on one day.
type part struct {
	day     job.Date
	outline []convert.Place
	text    string
}

// Text is what stands in a column.
func (e *Entry) Text(c Column) string { return e.cells[c] }

// Open reports whether the entry is open.
func (e *Entry) Open() bool { return e.cells[ColStatus] != StatusClosed }

// Headings are those of the file: the columns, and those that the user added.
func (g *Register) Headings() []string {
	out := make([]string, 0, len(Columns)+len(g.Extra))
	for _, c := range Columns {
		if c == ColOutline {
			c += Column("_" + g.Unit)
		}
		out = append(out, string(c))
	}
	return append(out, g.Extra...)
}

// Cells are the texts of an entry under the headings.
func (g *Register) Cells(e *Entry) []string {
	out := make([]string, 0, len(Columns)+len(g.Extra))
	for _, c := range Columns {
		out = append(out, e.cells[c])
	}
	out = append(out, e.Extra...)
	for len(out) < len(Columns)+len(g.Extra) {
		out = append(out, "")
	}
	return out
}

// OpenCount is how many entries are open.
func (g *Register) OpenCount() (n int) {
	for _, e := range g.Entries {
		if e.Open() {
			n++
		}
	}
	return n
}

// nextNumber is the number after the last one given.
func (g *Register) nextNumber() string {
	last := 0
	for _, e := range g.Entries {
		if tail, ok := strings.CutPrefix(e.cells[ColNumber], g.prefix); ok {
			if n, err := strconv.Atoi(tail); err == nil {
				last = max(last, n)
			}
		}
	}
	return fmt.Sprintf("%s%03d", g.prefix, last+1)
}

// open makes an entry of a patch.
func (g *Register) open(p *Patch, checks []CheckResult) *Entry {
	c := &checks[p.Check].Common
	e := &Entry{key: p.shots[0].key, known: true, opened: p.Day, cells: map[Column]string{
		ColNumber: g.nextNumber(), ColStatus: StatusOpen, ColOpened: string(p.Day), ColCheck: c.Name, ColElement: c.Element, ColLot: p.Lots, ColWhat: string(p.Quantity), ColSide: p.Side(),
		ColExtent: p.Extent(g.frame), ColPoints: strconv.Itoa(p.Points), ColWorst: p.WorstWords(), ColWorstAt: p.Worst.Shot.Pos.String(), ColAction: p.Need(), ColLies: lies(p.Line)}}
	if p.Day == "" {
		e.cells[ColOpened] = g.surveyed
	}
	if p.HasMean {
		e.cells[ColMean] = p.Worst.Limits.Printed(p.Mean)
	}
	if p.Area > 0 && !p.Alone() {
		e.cells[ColArea] = strconv.FormatFloat(p.Area, 'f', 1, 64)
	}
	if p.VolumeBy != "" {
		e.cells[ColVolume], e.cells[ColVolumeBy] = PrintVolume(p.Volume), p.VolumeBy
	}
	g.Entries = append(g.Entries, e)
	return e
}

// PrintVolume prints a volume of a patch in m³: what is there is never printed as
// nothing.
func PrintVolume(v float64) string {
	for places := 2; places < 9; places++ {
		if s := strconv.FormatFloat(v, 'f', places, 64); v == 0 || strings.Trim(s, "0.") != "" {
			return s
		}
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

const inPlan = "in plan"

func lies(line string) string {
	if line == "" {
		return inPlan
	}
	return line
}

// take gives a patch to an entry.
func (g *Register) take(e *Entry, p *Patch, same bool) {
	e.shots = append(e.shots, p.shots...)
	if e.places == nil {
		e.places = map[job.Date]int{}
	}
	e.places[p.Day]++
	text := g.outlineText(p)
	if !slices.ContainsFunc(e.parts, func(x part) bool { return x.text == text }) {
		e.other = e.other || p.Day == e.opened && len(e.parts) > 0 && !same
		e.parts = append(e.parts, part{p.Day, p.Outline, text})
		g.writeOutline(e)
	}
}

func (g *Register) writeOutline(e *Entry) {
	texts := make([]string, len(e.parts))
	for i, x := range e.parts {
		texts[i] = x.text
	}
	e.cells[ColOutline] = strings.Join(texts, " | ")
}

const undated = "undated"

// outlineText is where a patch lies, and the day, so that a later run reads it.
func (g *Register) outlineText(p *Patch) string {
	day := string(p.Day)
	if day == "" {
		day = undated
	}
	corners := make([]string, len(p.Outline))
	for i, c := range p.Outline {
		switch {
		case p.Alone():
			corners[i] = "-"
		case p.Line == "":
			corners[i] = g.frame.Easting(c, 3) + " " + g.frame.Northing(c, 3)
		case strings.HasPrefix(p.Line, "pipe "):
			corners[i] = c.E.Exact(g.frame.Unit, 3)
		default:
			corners[i] = c.E.Exact(g.frame.Unit, 3) + " " + c.N.Exact(g.frame.Unit, 3)
		}
	}
	return day + ": " + strings.Join(corners, ", ")
}

// entriesOf finds the entries that a patch belongs to, in the order of the
// register: those that were found just there on that day; else those that it
// overlaps; else the nearest within the spacing.
func (g *Register) entriesOf(p *Patch, among []*Entry) (out []*Entry, same bool) {
	text := g.outlineText(p)
	var alive []*Entry
	for _, e := range among {
		if !e.known || e.key != p.shots[0].key || !e.alive(p.Day) {
			continue
		}
		alive = append(alive, e)
		if slices.ContainsFunc(e.parts, func(x part) bool { return x.text == text }) {
			out = append(out, e)
		}
	}
	if len(out) > 0 {
		return out, true
	}
	var nearest *Entry
	var least gap
	for _, e := range alive {
		for _, x := range e.parts {
			if x.day > p.Day && p.Day != "" {
				continue
			}
			switch d, ok := between(p.Outline, x.outline, g.spacing.Length); {
			case !ok:
			case d.zero():
				if len(out) == 0 || out[len(out)-1] != e {
					out = append(out, e)
				}
			case nearest == nil || d.less(least):
				nearest, least = e, d
			}
		}
	}
	if len(out) == 0 && nearest != nil {
		out = append(out, nearest)
	}
	return out, false
}

// alive reports whether the entry stood on a day. A day that is not known may be
// any.
func (e *Entry) alive(day job.Date) bool {
	return day == "" || e.opened <= day && (e.Open() || e.closed == "" || day < e.closed)
}

// standing says why an open entry is open.
func (g *Register) standing(e *Entry, why string) string {
	var live []*failing
	last := job.Date("")
	for _, f := range e.shots {
		if f.until == "" {
			live = append(live, f)
			last = max(last, f.day)
		}
	}
	if len(live) == 0 {
		return g.joined(e, why)
	}
	n, older := 0, 0
	worst := live[0]
	for _, f := range live {
		if f.day == last {
			n++
		} else {
			older++
		}
		if worst.day != last || f.day == last && f.beyond.Abs() > worst.beyond.Abs() {
			worst = f
		}
	}
	s := ""
	switch {
	case last > e.opened:
		s = fmt.Sprintf("fails again: %s of %s out of tolerance", count(n, "shot", "shots"), last)
		if k := e.places[last]; k > 1 {
			s += fmt.Sprintf(" in %d places", k)
		}
		s += fmt.Sprintf(", the worst %s by %s mm beyond its limit", name(worst.row), worst.row.Limits.Printed(worst.beyond))
		if older > 0 {
			s += fmt.Sprintf("; %s older, which no newer one takes the place of", count(older, "shot is", "shots are"))
		}
	case len(live) < len(e.shots):
		s = fmt.Sprintf("no newer shot takes the place of %d of its %d shots", len(live), len(e.shots))
	default:
		s = "no newer shot"
		if k := e.places[last]; k > 1 {
			s += fmt.Sprintf("; it lies in %d places", k)
		}
	}
	return g.joined(e, s)
}

func (g *Register) joined(e *Entry, s string) string {
	if len(e.with) > 0 {
		s += "; one patch with " + strings.Join(e.with, ", ")
	}
	return s
}

func name(r *Row) string {
	if r.Shot.ID == "" {
		return "a shot without name"
	}
	return r.Shot.ID
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Found is where an entry was found on one day.
type Found struct {
	Day     job.Date
	Outline []convert.Place
}

// Check is the check of the job that the entry is of, and whether the job has it.
func (e *Entry) Check() (index int, ok bool) { return e.key.check, e.known }

// InPlan are the outlines of an entry that lies in plan, by day: one corner for one
// shot, two for shots in a line.
func (e *Entry) InPlan() []Found {
	if e.key.line != "" {
		return nil
	}
	out := make([]Found, len(e.parts))
	for i, x := range e.parts {
		out[i] = Found{x.day, x.outline}
	}
	return out
}

// Places are the places in plan of the shots of a patch, along its line.
func (p *Patch) Places() []convert.Place {
	var out []convert.Place
	for _, f := range p.shots {
		if f.row.Shot.Placed {
			out = append(out, f.row.Shot.Place)
		}
	}
	return out
}
