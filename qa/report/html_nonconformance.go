package report

import (
	"fmt"
	"html/template"
	"regexp"
	"strings"

	"sightrail/formats/unit"
	"sightrail/qa"
)

// ncrPart is the section of nonconformances.
type ncrPart struct {
	Facts      []fact
	Rows       template.HTML
	Count      int
	More       int
	None       string
	Rounds     template.HTML
	RoundCount int
	MoreRounds int
	Conceded   []string
}

// Caps of the section; register.csv and results.csv have all.
const (
	entriesShown = 500
	roundsShown  = 1000
)

// nonconformances is the section, or nil where the job asks for none of it.
func (p *page) nonconformances() *ncrPart {
	res, j := p.Res, p.Res.Job
	if res.Register == nil && j.Rework == nil && len(j.Concessions) == 0 {
		return nil
	}
	part := &ncrPart{None: "The job makes no patches of its failures; add “nonconformance” with a spacing to the job file."}
	if n := j.Nonconformance; n != nil {
		part.Facts = append(part.Facts, fact{"Patch", "failing neighbours of one check within " + trimmed(n.Spacing.Exact(unit.M, 0)) + " m of each other, all high or all low; along a pipe with no shot that passes between; set by " + n.Source})
		part.Facts = append(part.Facts, fact{"Closed when", "newer shots cover it so that no place of it is further than that from one, all of them pass, and no older failure of it stands"})
		part.Facts = append(part.Facts, fact{"What is recorded", "common practice; ISO 9001:2015, 8.7.2 names the nonconformity, the actions taken, concessions, and the authority that decided"})
		part.None = "No nonconformance: nothing that was assessed is out of tolerance, and no register was carried on."
	}
	if w := j.Rework; w != nil {
		how := []string{}
		if w.ByName {
			how = append(how, "with the name of the older one")
		}
		if w.Within != nil {
			how = append(how, "within "+trimmed(w.Within.Exact(unit.M, 0))+" m of it")
		}
		part.Facts = append(part.Facts, fact{"Rework", "a shot of a later day takes the place of an older one of the same check " + strings.Join(how, " and ") + "; set by " + w.Source})
	}
	if g := res.Register; g != nil {
		part.Count = len(g.Entries)
		var m markup
		for i, e := range g.Entries {
			if i == entriesShown {
				part.More = len(g.Entries) - i
				break
			}
			entryRow(&m, e)
		}
		part.Rows = m.html()
	}
	part.rounds(res)
	for i := range j.Concessions {
		c := &j.Concessions[i]
		what := c.Number
		if what == "" {
			what = c.Point + ", " + c.Check
		}
		part.Conceded = append(part.Conceded, what+": "+c.Words())
	}
	return part
}

func trimmed(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// entryRow is an entry of the register in one row.
func entryRow(m *markup, e *qa.Entry) {
	t := e.Text
	m.raw("<tr>")
	m.head(t(qa.ColNumber))
	class := "v f"
	if !e.Open() {
		class = "v p"
	}
	m.cell(class, t(qa.ColStatus))
	what := t(qa.ColWhat) + ", " + t(qa.ColSide)
	of := joined(", ", t(qa.ColElement), prefixed("lot ", t(qa.ColLot)))
	m.linesSmall("r", t(qa.ColCheck), what, of)
	m.cell("w", t(qa.ColOpened))
	extent := t(qa.ColExtent)
	area := t(qa.ColArea)
	if area != "" {
		area += " m²"
	}
	m.linesSmall("a", unbroken(extent), area)
	m.cell("n", t(qa.ColPoints))
	m.cell("n", t(qa.ColMean))
	m.linesSmall("a", unbroken(t(qa.ColWorst)), t(qa.ColWorstAt))
	volume := t(qa.ColVolume)
	if volume != "" {
		volume += " m³, " + t(qa.ColVolumeBy)
	}
	m.linesSmall("a", t(qa.ColAction), volume)
	lines := []string{upper(t(qa.ColStanding))}
	if d := joined(", ", t(qa.ColDisposition), prefixed("by ", t(qa.ColDecidedBy)), prefixed("on ", t(qa.ColDecidedOn)), t(qa.ColReason)); d != "" {
		lines = append(lines, "Disposition: "+d)
	} else if e.Open() {
		lines = append(lines, "Disposition: open, for the authority that the contract names")
	}
	if c := t(qa.ColConcession); c != "" {
		lines = append(lines, upper(c))
	}
	if c := joined(" on ", t(qa.ColClosedBy), t(qa.ColClosedOn)); c != "" {
		lines = append(lines, "Closed by "+c)
	}
	m.linesSmall("r", lines...)
	m.raw("</tr>\n")
}

// upper begins a sentence.
func upper(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

var withUnit = regexp.MustCompile(`([0-9]) (m|mm|ft|ftUS)\b`)

// unbroken keeps a number and its unit on one line.
func unbroken(s string) string { return withUnit.ReplaceAllString(s, "$1\u00a0$2") }

func prefixed(prefix, s string) string {
	if s == "" {
		return ""
	}
	return prefix + s
}

// joined joins what is not empty.
func joined(between string, parts ...string) string {
	var out []string
	for _, p := range parts {
		if strings.TrimSpace(p) != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, between)
}

// linesSmall is a cell with a first line and smaller ones below it; empty ones are
// left out.
func (m *markup) linesSmall(class string, lines ...string) {
	m.openCell(class)
	n := 0
	for i, l := range lines {
		if l == "" {
			continue
		}
		if n++; n > 1 {
			m.raw("<br>")
		}
		if i > 0 {
			m.raw("<small>")
		}
		m.text(l)
		if i > 0 {
			m.raw("</small>")
		}
	}
	m.raw("</td>")
}

// rounds lists what newer shots took the place of: a row for each newer one, with
// the older ones before it.
func (part *ncrPart) rounds(res *qa.Result) {
	type key struct {
		check int
		at    string
	}
	at := map[key]int{}
	var groups [][]*qa.Round
	for i := range res.Rounds {
		r := &res.Rounds[i]
		k := key{r.Check, r.New.Pos.String()}
		n, ok := at[k]
		if !ok {
			n = len(groups)
			at[k] = n
			groups = append(groups, nil)
		}
		groups[n] = append(groups[n], r)
	}
	part.RoundCount = res.RoundCount
	var m markup
	shown := 0
	for i, g := range groups {
		if i == roundsShown {
			break
		}
		shown += len(g)
		m.raw("<tr>")
		m.head(g[0].Old.Point)
		m.cell("r", res.Checks[g[0].Check].Common.Name)
		var before []string
		for _, r := range g {
			before = append(before, seenWords(&r.Old, r.Old.Point != g[0].Old.Point))
		}
		m.lines("r", before...)
		n := &g[0].New
		m.cell(verdictClass(n.Verdict), seenWords(n, n.Point != g[0].Old.Point))
		m.raw("</tr>\n")
	}
	part.MoreRounds = res.RoundCount - shown
	part.Rounds = m.html()
}

// seenWords say what came out of a shot in its round.
func seenWords(s *qa.Seen, named bool) string {
	when := string(s.Day)
	if s.Round > 0 {
		when = fmt.Sprintf("round %d, %s", s.Round, s.Day)
	}
	if named && s.Point != "" {
		when += ", " + s.Point
	}
	return when + ": " + s.Result
}
