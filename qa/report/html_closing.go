package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// runLine is one run of a book.
type runLine struct {
	From, To, Setups, Distance, Misclosure, Allowed, Used, Rule string
	State, Judged                                               string
	Proved, Forced                                              bool
	Class                                                       string
	Notes                                                       []string // why it is so, and sights on marks between its ends
}

// runLine words a run, the k-th of its book.
func (p *page) runLine(b *qa.BookResult, k int, accused map[runKey]bool) runLine {
	r := &b.Result.Runs[k]
	line := runLine{From: r.From, To: r.To, Setups: strconv.Itoa(r.Setups), Rule: b.Rule.Text, State: r.State.String(), Proved: r.State.Proved(),
		Judged: "raw", Class: "v o", Forced: r.Forced}
	if line.From == "" {
		line.From = "no mark"
	}
	if line.To == "" {
		line.To = "open"
	}
	switch {
	case r.State.Proved():
		line.Class = "v p"
	case r.State == levels.OutOfLimit:
		line.Class = "v f"
	}
	name := "Run from " + line.From
	if r.To != "" {
		name += " to " + r.To
	}
	note := func(s string) { line.Notes = append(line.Notes, name+": "+strings.TrimSuffix(s, ".")+".") }
	switch {
	case r.State == levels.Open && r.Why != "":
		line.State = "open: " + r.Why
	case r.Why != "" && (r.State != levels.NotJudged || b.Rule.Given()): // that there is no rule is said once
		note(r.Why)
	}
	switch {
	case r.Forced:
		line.Judged = "none: adjusted outside its limit"
	case !line.Proved:
		line.Judged = "none: not assessed"
	case mistakeIn(b, k) != "":
		line.Judged, line.Class = "none: the run holds a mistake", "v o"
		note("it closed, and holds a mistake all the same: " + mistakeIn(b, k))
	case accused[runKey{b.Survey, b.Book.Pos, k}]:
		line.Judged = "none: accused by the level network"
	case p.Res.Job.Levelling.Judge == "adjusted" && r.Distributed != levels.NoDistribution:
		line.Judged = "adjusted by " + string(r.Distributed)
	}
	if r.Distance.Set {
		line.Distance = r.Distance.L.Fixed(p.Res.Frame.Unit, 1) + " " + p.Res.Frame.Unit.Name
	}
	line.Misclosure, line.Allowed = runFigures(b.Rule, r)
	line.Used = shareUsed(b.Rule, r)
	for _, m := range r.Marks {
		off, limit := besideLimit(m.Difference, m.Allowed, m.Judged && !m.Within)
		if limit != "" {
			limit = ", " + limit + " mm allowed"
		}
		note(fmt.Sprintf("on %s between its ends %s mm, computed minus known%s", m.Name, off, limit))
	}
	return line
}

func mistakeIn(b *qa.BookResult, run int) string {
	if run < len(b.Mistaken) {
		return b.Mistaken[run]
	}
	return ""
}

// runKey names a run of the job.
type runKey struct {
	survey int
	at     formats.Pos
	run    int
}

// accusedRuns are the runs of which the level network accuses a section, or a
// mark that a section hangs on.
func accusedRuns(n *qa.NetworkResult) map[runKey]bool {
	if n == nil {
		return nil
	}
	bad, out := map[string]bool{}, map[runKey]bool{}
	for i := range n.Points {
		if n.Points[i].Accused {
			bad[n.Points[i].Name] = true
		}
	}
	for i := range n.Sections {
		if s := &n.Sections[i]; s.Book != nil && (s.Accused || bad[s.From] || bad[s.To]) {
			out[runKey{s.Survey, s.Book.Pos, s.Run}] = true
		}
	}
	return out
}

// beyondRule reports whether the misclosure itself is beyond the rule. A run may
// be out of its limit for a mark between its ends alone.
func beyondRule(rule levels.Rule, r *levels.Run) bool {
	return r.Misclosure.Set && r.Allowed.Set && !rule.Allows(r.Misclosure.L, r.Distance.L, r.Setups)
}

// runFigures prints misclosure and limit in millimetres, with a tenth or with as
// many decimals as it takes that the two do not contradict the judgement.
func runFigures(rule levels.Rule, r *levels.Run) (misclosure, allowed string) {
	if !r.Misclosure.Set {
		if r.Allowed.Set {
			allowed = r.Allowed.L.Fixed(unit.MM, 1)
		}
		return "", allowed
	}
	return besideLimit(r.Misclosure.L, r.Allowed, beyondRule(rule, r))
}

// besideLimit prints a difference and its limit in millimetres, so that they
// read as they were judged.
func besideLimit(diff unit.Length, limit levels.Value, beyond bool) (d, l string) {
	places := 1
	if !limit.Set {
		return plusSign(diff.Fixed(unit.MM, places)), ""
	}
	for ; places < unit.MaxPlaces; places++ {
		a, _, err := unit.Parse(diff.Abs().Fixed(unit.MM, places), unit.MM)
		b, _, err2 := unit.Parse(limit.L.Fixed(unit.MM, places), unit.MM)
		if err != nil || err2 != nil || (a > b) == beyond {
			break
		}
	}
	return plusSign(diff.Fixed(unit.MM, places)), limit.L.Fixed(unit.MM, places)
}

// shareUsed is the misclosure in percent of the limit. It is above 100 only
// where the misclosure is beyond the rule.
func shareUsed(rule levels.Rule, r *levels.Run) string {
	if !r.Misclosure.Set || !r.Allowed.Set || r.Allowed.L <= 0 {
		return ""
	}
	used, beyond := 100*float64(r.Misclosure.L.Abs())/float64(r.Allowed.L), beyondRule(rule, r)
	for places := range 4 {
		s := strconv.FormatFloat(used, 'f', places, 64)
		if f, err := strconv.ParseFloat(s, 64); err == nil && f > 100 == beyond {
			return s
		}
	}
	if beyond {
		return "just over 100"
	}
	return "100"
}

// closingPart is the head of the section on level books: the rule, and what the
// runs of all books say together.
type closingPart struct {
	Rule   string
	NoRule bool
	Loud   []string // runs adjusted outside their limit
	Double *doublePart
	Worth  string // what u is; "" without any
}

func (p *page) closing() closingPart {
	l := &p.Res.Job.Levelling
	c := closingPart{NoRule: !l.Closing.Given(), Double: p.double()}
	c.Rule = ruleWords(l.Closing.Rule, l.Source)
	for i := range p.Res.Books {
		b := &p.Res.Books[i]
		if b.Worth != nil && b.Worth.Book != nil && c.Worth == "" {
			c.Worth = "u is one standard uncertainty of a level as it is judged (" + p.judgedWord() + "), in mm: one standard deviation. U = k·u with k = 2. " + markWords(p.Res.Job) +
				" What two levels have in common drops out of their difference. Section 7 has the rule in full."
		}
		if b.Result == nil {
			continue
		}
		for k := range b.Result.Runs {
			if b.Result.Runs[k].Forced {
				c.Loud = append(c.Loud, p.loudly(b, &b.Result.Runs[k]))
			}
		}
	}
	return c
}

func (p *page) judgedWord() string {
	if p.Res.Job.Levelling.Judge == "adjusted" {
		return "adjusted where its run was adjusted inside its limit, else raw"
	}
	return "raw"
}

// ruleWords says the closing rule, what it grows with, and who set it.
func ruleWords(r levels.Rule, source string) string {
	if !r.Given() {
		return "The job gives no closing rule, so no run is judged and no level of a book is assessed."
	}
	s := map[levels.Per]string{
		levels.Fixed:     "the same for every run",
		levels.SqrtK:     "K is the levelled length in km, the sum of the sights of BS and FS",
		levels.SqrtMiles: "M is the levelled length in miles, the sum of the sights of BS and FS",
		levels.SqrtN:     "n is the number of set-ups",
	}[r.Per]
	s = "Closing rule: " + r.Text + "; " + s + ". "
	if source == "" {
		return s + "The job does not say who set it."
	}
	return s + "Set by: " + source + "."
}

// loudly says that a run was adjusted although its misclosure is outside its
// limit.
func (p *page) loudly(b *qa.BookResult, r *levels.Run) string {
	misclosure, allowed := runFigures(b.Rule, r)
	why := p.Res.Job.Levelling.Outside
	if why == "" {
		why = "no reason given"
	}
	return fmt.Sprintf("%s, run from %s to %s: misclosure %s mm, %s mm allowed. It was shared out because the job says so: %s. The adjusted levels are shown, and none of them is assessed.",
		bookName(b), orNoMark(r.From), r.To, misclosure, allowed, why)
}

func orNoMark(s string) string {
	if s == "" {
		return "no mark"
	}
	return s
}

// doublePart is the table of what was levelled forward and back.
type doublePart struct {
	Lines []doubleLine
	Total *doubleLine
	Words string
	Bad   string // why there is no table
}

// walk is a section as it was levelled.
type walk struct {
	from, to string
	diff     unit.Length
}

type doubleLine struct{ Ends, Forward, Back, Diff, Mean, Length, Allowed, State, Class, Runs string }

// double pairs the sections of all books that were levelled in opposite
// directions. Their ends are known marks, or junctions of the job: other names
// may be two pegs in two books. It is nil when there is no pair.
func (p *page) double() *doublePart {
	marks := map[string]bool{}
	for i := range p.Res.Books {
		for k := range p.Res.Books[i].Input {
			if in := &p.Res.Books[i].Input[k]; in.Known.Set && in.Name != "" {
				marks[in.Name] = true
			}
		}
	}
	joins := func(name string) bool {
		is, known := marks[name]
		if !known {
			is = p.Res.Job.Joins(name)
			marks[name] = is
		}
		return is
	}
	var all []levels.Section
	from := map[walk][]string{}
	for i := range p.Res.Books {
		b := &p.Res.Books[i]
		if b.Result == nil {
			continue
		}
		sections, _ := b.Result.Sections(joins)
		for _, s := range sections {
			all = append(all, s)
			w := walk{s.From, s.To, s.Diff}
			from[w] = append(from[w], b.Book.Pos.At(b.Book.Rows[s.First].Row, 0).String())
		}
	}
	pairs, _ := levels.Pair(all)
	if len(pairs) == 0 {
		return nil
	}
	d, err := levels.ForwardAndBack(pairs, p.Res.Job.Levelling.Closing.Rule)
	if err != nil {
		return &doublePart{Bad: err.Error() + "."}
	}
	part := &doublePart{}
	take := func(w walk) string { // runs are paired in the order of the books
		at := from[w]
		if len(at) == 0 {
			return ""
		}
		from[w] = at[1:]
		return at[0]
	}
	for i := range d.Sections {
		s := &d.Sections[i]
		line := p.doubleLine(s)
		line.Runs = take(walk{s.From, s.To, s.Forward}) + " and " + take(walk{s.To, s.From, s.Back})
		part.Lines = append(part.Lines, line)
	}
	if len(d.Sections) > 1 && d.Total.From != "" {
		t := p.doubleLine(&d.Total)
		t.Ends = "Whole line, " + t.Ends
		part.Total = &t
	}
	const decides = " This comparison decides no verdict: a level is assessed by how its own run closed."
	if d.KnownPerKm {
		part.Words = fmt.Sprintf("Standard deviation of one kilometre of the mean of the two runs: s = %s mm, from sqrt(Σ(d²/L)/(4n)) with n = %d, d in mm and L, one way, in km.",
			strconv.FormatFloat(d.PerKm, 'f', 2, 64), len(d.Sections))
		if len(d.Sections) == 1 {
			part.Words += " One section is little to judge by."
		}
	} else {
		part.Words = "No s: " + d.Why + "."
	}
	part.Words += decides
	return part
}

func (p *page) doubleLine(s *levels.DoubleSection) doubleLine {
	u := p.Res.Frame.Unit
	level := func(l unit.Length) string { return plusSign(levelText(l, u)) }
	line := doubleLine{Ends: s.From + " to " + s.To, Forward: level(s.Forward), Back: level(s.Back), Mean: level(s.Mean), State: s.Why, Class: "v o"}
	if s.Distance.Set {
		line.Length = s.Distance.L.Fixed(u, 1) + " " + u.Name
	}
	line.Diff, line.Allowed = besideLimit(s.Discrepancy, s.Limit, s.Judged && !s.Within)
	switch {
	case s.Judged && s.Within:
		line.State, line.Class = "within", "v p"
	case s.Judged:
		line.State, line.Class = "beyond the limit", "v f"
	}
	return line
}

// levelUncertainty prints the standard uncertainty of a level of a book in
// millimetres; "" where it is not known.
func levelUncertainty(b *qa.BookResult, i int) string {
	if u, ok := uncertaintyOf(b, i); ok {
		return strconv.FormatFloat(u, 'f', 1, 64)
	}
	return ""
}

// uncertaintyOf is the standard uncertainty of the level of a row, in mm.
func uncertaintyOf(b *qa.BookResult, i int) (mm float64, ok bool) {
	if b.Worth == nil || b.Worth.Book == nil || !b.Result.Rows[i].Level.Set {
		return 0, false
	}
	if _, ok := b.Worth.Book.Known(i); !ok {
		return 0, false
	}
	return math.Sqrt(max(0, b.Worth.Book.Variance(i))), true
}
