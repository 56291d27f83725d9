package qa

import (
	"fmt"
	"math"
	"strings"

	"sightrail/convert"
	"sightrail/convert/adjust"
	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// NetworkResult is the adjustment of all level runs together, for the report.
type NetworkResult struct {
	Points   []NetworkPoint
	Sections []NetworkSection
	Loose    []formats.Problem // parts of runs that lie between no two junctions
	Study    *adjust.Study     // nil when nothing could be adjusted
	Words    []string          // what the tests say, a sentence each
	Strained bool              // the network supplies no level
	used     []int             // sections of the observations
}

// NetworkPoint is a mark or junction after the adjustment.
type NetworkPoint struct {
	Name       string
	Mark       bool
	Known      unit.Length // of a mark
	Level      unit.Length // adjusted; of a mark, the known one
	SD         float64     // mm
	HasSD      bool
	State      adjust.State
	Checked    bool // no single run can shift it unseen
	Redundancy float64
	Test       *adjust.MarkTest // of a mark
	Accused    bool
}

// NetworkSection is a section of a run after the adjustment.
type NetworkSection struct {
	levels.Section
	Survey   int
	Book     *formats.Book // nil of a reciprocal line
	At       formats.Pos   // where it begins
	Residual adjust.Residual
	Accused  bool
	Unused   string // why it is not in the network; "" when it is
}

// levelled is a book as reduced before the network.
type levelled struct {
	survey int
	book   *convert.ReducedBook
}

// network adjusts all runs of the job together. What it finds is in Head.Network;
// the levels of junctions that it checks become known ones.
func (r *Run) network(books []levelled) {
	n := r.Head.Job.Levelling.Network
	if n == nil {
		return
	}
	res := &NetworkResult{}
	r.Head.Network = res
	net := &adjust.Network{}
	index := map[string]int{}
	point := func(name string) int {
		i, ok := index[name]
		if !ok {
			i = len(net.Points)
			index[name] = i
			p := adjust.Point{Name: name, Wanted: true}
			if m := r.marks[name]; m != nil {
				p.Held, p.Level = true, m.Level.Length
				if n.Deviation != nil {
					p.Variance = millimetres(m.Worth) * millimetres(m.Worth)
				}
			}
			net.Points = append(net.Points, p)
		}
		return i
	}
	for i := range r.Head.Job.BenchMarks { // in the order of the job, tied or not
		point(r.Head.Job.BenchMarks[i].Name)
	}
	deviation := 1.0
	if n.Deviation != nil {
		deviation = n.Deviation.Millimetres()
	}
	observe := func(x NetworkSection) {
		o := adjust.Observation{From: point(x.From), To: point(x.To), Diff: x.Diff, Label: len(res.Sections)}
		switch {
		case n.Weights == "setups":
			o.Variance = adjust.VarianceBySetups(deviation, x.Setups)
		case x.Distance.Set && x.Distance.L > 0:
			o.Variance = adjust.VarianceByDistance(deviation, x.Distance.L)
		default:
			x.Unused = "the distance of a sight is missing"
		}
		res.Sections = append(res.Sections, x)
		if x.Unused == "" {
			net.Observations = append(net.Observations, o)
			res.used = append(res.used, o.Label)
		}
	}
	for _, b := range books {
		if b.book.Result == nil {
			continue
		}
		sections, loose := b.book.Result.Sections(r.Head.Job.Joins)
		for _, l := range loose {
			res.Loose = append(res.Loose, formats.Problem{Pos: b.book.Book.Pos.At(b.book.Book.Rows[l.First].Row, 0), Text: "not in the network: " + l.Why})
		}
		for _, s := range sections {
			x := NetworkSection{Section: s, Survey: b.survey, Book: b.book.Book, At: b.book.Book.Pos.At(b.book.Book.Rows[s.First].Row, 0)}
			observe(x)
		}
	}
	for i := range r.Head.Job.Levelling.Reciprocal {
		line := &r.Head.Job.Levelling.Reciprocal[i]
		if l, err := line.Levelled().Result(); err == nil { // the job was validated
			s := levels.Section{From: line.From, To: line.To, Diff: l.True, Setups: 2}
			if line.Distance != nil {
				s.Distance = levels.Of(line.Distance.Length)
			}
			observe(NetworkSection{Section: s, At: r.Head.Job.Where(fmt.Sprintf("levelling.reciprocal[%d]", i))})
		}
	}
	study, err := adjust.Examine(net, adjust.Options{APriori: n.Deviation != nil})
	if err != nil {
		r.problem(r.Head.Job.Where("levelling.network"), "network", "the runs cannot be adjusted together: %v", err)
		res.Strained = true
		return
	}
	res.Study = study
	res.fill(net, study)
	res.judge(study)
	for _, w := range res.Words {
		r.Head.Proved = append(r.Head.Proved, "level network: "+w)
	}
}

// fill takes the results over: those of the network in which all marks are held.
func (res *NetworkResult) fill(net *adjust.Network, study *adjust.Study) {
	held := study.Held
	tests := map[int]*adjust.MarkTest{}
	for i := range study.Marks {
		tests[study.Marks[i].Point] = &study.Marks[i]
	}
	for i := range net.Points {
		p, l := &net.Points[i], &held.Points[i]
		x := NetworkPoint{Name: p.Name, Mark: p.Held, Known: p.Level, Level: l.Level, State: l.State, Checked: l.Checked, Redundancy: l.Redundancy, Test: tests[i]}
		x.SD, x.HasSD = held.SD(i)
		res.Points = append(res.Points, x)
	}
	for _, i := range study.Accused.Marks {
		res.Points[i].Accused = true
	}
	from := held
	if study.Stage == adjust.FreeNet {
		from = study.Free // what is accused there is an observation: its figures are those
	}
	for i := range net.Observations {
		res.Sections[net.Observations[i].Label].Residual = from.Observations[i]
	}
	for _, i := range study.Accused.Observations {
		res.Sections[net.Observations[i].Label].Accused = true
	}
}

// judge says what the tests found.
func (res *NetworkResult) judge(study *adjust.Study) {
	held := study.Held
	say := func(format string, args ...any) { res.Words = append(res.Words, fmt.Sprintf(format, args...)) }
	names := func(points []int) string {
		var out []string
		for _, i := range points {
			out = append(out, res.Points[i].Name)
		}
		return strings.Join(out, ", ")
	}
	switch g := held.Global; {
	case held.DoF == 0:
		say("it has no redundancy: nothing checks it, and it supplies no level")
		res.Strained = true
	case !g.Done:
		say("standard deviation of unit weight %.2f mm with %d degrees of freedom; no global test, because the job states no deviation", held.S0, held.DoF)
	case g.Pass:
		say("global test passed: sum of squares %.2f between %.2f and %.2f (%d degrees of freedom, 5 %% two-sided), standard deviation of unit weight %.2f", g.Sum, g.Lower, g.Upper, held.DoF, held.S0)
	case g.Sum < g.Lower:
		say("residuals are smaller than the stated deviation lets expect: sum of squares %.2f below %.2f (%d degrees of freedom, 5 %% two-sided); the deviation is stated too large", g.Sum, g.Lower, held.DoF)
	default:
		say("GLOBAL TEST FAILED: sum of squares %.2f above %.2f (%d degrees of freedom, 5 %% two-sided), standard deviation of unit weight %.2f; levels not proved by it", g.Sum, g.Upper, held.DoF, held.S0)
		res.Strained = true
	}
	for _, x := range []struct {
		a        *adjust.Accused
		critical float64
		with     string
	}{{&study.InFree, study.Free.Critical, "one mark held"}, {&study.InHeld, held.Critical, "all marks held"}} {
		if !x.a.Any() {
			continue
		}
		res.Strained = true
		what := res.named(study, x.a)
		word := "ACCUSED"
		if len(what) > 1 {
			word = "ACCUSED, and it cannot be told which"
		}
		say("%s (%s): %s, with a residual of %.1f standard deviations (0.1 %% two-sided: %.2f); levels not proved by the network", word, x.with, strings.Join(what, "; "), math.Abs(x.a.W), x.critical)
	}
	for _, part := range held.LooseParts {
		say("tied to no mark: %s", names(part))
	}
	if len(held.Untied) > 0 {
		say("marks tied to nothing: %s", names(held.Untied))
	}
	if len(held.Unproved) > 0 {
		say("marks tied to no other mark, so that nothing proves them: %s", names(held.Unproved))
	}
}

// named are the runs and marks that one adjustment accuses.
func (res *NetworkResult) named(study *adjust.Study, a *adjust.Accused) (what []string) {
	for _, i := range a.Observations {
		s := &res.Sections[res.used[i]]
		what = append(what, fmt.Sprintf("the run from %s to %s (%s)", s.From, s.To, s.At))
	}
	for _, i := range a.Marks {
		what = append(what, "the mark "+res.Points[i].Name)
	}
	return what
}

// fromNetwork are the levels that the network supplies: junctions that hang on
// the marks by two ways, in a network without strain.
func (r *Run) fromNetwork(known map[string]convert.Known) {
	n := r.Head.Network
	if n == nil || n.Strained {
		return
	}
	for i := range n.Points {
		if p := &n.Points[i]; !p.Mark && p.Checked && p.State == adjust.Adjusted {
			known[p.Name] = convert.Known{Level: p.Level, From: "network"}
		}
	}
}

// accused gives the shots between the ends of an accused section, and all that
// was levelled from an accused mark, their reason.
func (r *Run) accused(survey int, b *convert.ReducedBook, shots []convert.Shot) {
	n := r.Head.Network
	if n == nil || b.Result == nil {
		return
	}
	refuse := func(first, last int, why string) {
		for i := first; i <= last; i++ {
			if shots[i].Use == convert.Assessed {
				shots[i].Use, shots[i].Reason = convert.NotAssessed, why
			}
		}
	}
	bad := map[string]bool{}
	for i := range n.Points {
		bad[n.Points[i].Name] = n.Points[i].Accused
	}
	for i := range n.Sections {
		s := &n.Sections[i]
		if s.Book == nil || s.Survey != survey || s.Book.Pos != b.Book.Pos {
			continue
		}
		if s.Accused {
			refuse(s.First, s.Last, fmt.Sprintf("the level network accuses the run from %s to %s", s.From, s.To))
		}
		for _, end := range []string{s.From, s.To} {
			if bad[end] {
				refuse(s.First, s.Last, "its run hangs on the mark "+end+", which the level network accuses")
			}
		}
	}
}
