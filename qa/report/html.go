package report

import (
	"bufio"
	"crypto/sha256"
	_ "embed" // the template and the style sheet of the page
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"sightrail/formats"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// HTML is report.html: the report as one page, to read on any screen and to
// print. It needs no network and holds no script; its content policy allows
// none. Everything that comes from files is escaped.
var HTML = &Kind{Name: "html", File: "report.html", Doc: "the report as one page, to read and to print", Start: startHTML, Keeps: true}

type htmlWriter struct{ w io.Writer }

func startHTML(w io.Writer, _ *qa.Result) (Writer, error) { return htmlWriter{w}, nil }

// Rows keeps nothing: the final Result has the rows that the page shows.
func (htmlWriter) Rows([]qa.Row) error { return nil }

// Close writes the page.
func (h htmlWriter) Close(res *qa.Result) error {
	w := bufio.NewWriterSize(h.w, 1<<16)
	if err := pageTemplate.Execute(w, newPage(res)); err != nil {
		return fmt.Errorf("the page could not be written: %w", err)
	}
	return w.Flush()
}

//go:embed page.gohtml
var pageText string

//go:embed page.css
var pageStyle string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// page is what the template is filled from.
type page struct {
	Res         *qa.Result
	Head        template.HTML // policy and style sheet
	Title       string
	Band        band
	Facts       []fact
	Checks      []checkPart
	Lots        []lotLine
	Failed      []failGroup
	Patches     *ncrPart // nil when the job asks for none of it
	NoFailures  string   // what to say when there are none
	Open        notJudged
	Ledger      []term
	Balance     string
	Closing     closingPart
	Books       []bookPart
	Marks       []markLine
	Lasers      []laserPart
	Site        *sitePart
	Network     *networkPart
	Evidence    []evidenceLine
	Corrections *correctionPart
	Reciprocal  []fact
	Basis       basis
	Files       []inputLine
	Unread      problemList
	Notes       problemList
	Cautions    []string
	Roles       []string // who signs
	Quantile    string   // its definition
	MostValues  int      // that quantiles are exact for
	HasU        bool     // some row has an uncertainty
	Worth       []fact   // how uncertainties are worked out
}

// fact is a name and what it is.
type fact struct{ Name, Value string }

// facts leaves out what has no value.
func facts(list ...fact) []fact {
	var out []fact
	for _, f := range list {
		if strings.TrimSpace(f.Value) != "" {
			out = append(out, f)
		}
	}
	return out
}

func newPage(res *qa.Result) *page {
	j := res.Job
	p := &page{Res: res, Head: pageHead(), Title: j.Project, Lots: lotLines(res)}
	if j.Lot != "" {
		p.Title += ", lot " + j.Lot
	}
	p.Band = newBand(res)
	p.Facts = facts(
		fact{"Lot", j.Lot}, fact{"Element", j.Element}, fact{"Clause", j.Clause}, fact{"Design revision called for", j.Revision},
		fact{"Contract", j.Contract}, fact{"Client", j.Client}, fact{"Survey by", j.Company}, fact{"Hold point", j.HoldPoint},
		fact{"Report no.", j.ReportNo}, fact{"Date of survey", j.SurveyDate}, fact{"Weather", j.Weather})
	p.HasU = hasU(res)
	p.Quantile, p.MostValues = limits.QuantileDefinition, qa.MaxValues
	p.Worth = worthWords(j)
	p.Failed = p.failures()
	p.NoFailures = noFailures(res)
	p.Patches = p.nonconformances()
	p.Open = p.notJudged()
	p.Ledger, p.Balance = ledger(res.Account)
	p.Checks = p.checkParts()
	p.Closing = p.closing()
	p.Books = p.bookParts()
	p.Marks = p.markLines()
	p.Lasers = p.laserParts()
	p.Site = p.sitePart()
	p.Network = p.networkPart()
	p.Evidence = evidence(j, res.Frame.Unit)
	p.Corrections = p.corrections()
	p.Reciprocal = p.reciprocals()
	p.Basis = p.newBasis()
	p.Files = inputLines(res.Inputs)
	p.Unread = listProblems(res.Problems)
	p.Notes = listProblems(res.Notes)
	p.Cautions = Cautions
	p.Roles = []string{"Prepared", "Checked", "Approved"}
	return p
}

// noFailures says what it means that no failure is listed.
func noFailures(res *qa.Result) string {
	assessed := 0
	for i := range res.Checks {
		assessed += res.Checks[i].Counts.Assessed
	}
	switch {
	case assessed == 0:
		return "Nothing was assessed, so there is nothing to list. Section 2 says why."
	case res.Verdict == qa.VerdictPass:
		return "Nothing is out of tolerance."
	}
	return "Nothing that was assessed is out of tolerance. What was not assessed is in section 2."
}

// pageHead allows the one style sheet, by its hash, and nothing else: no
// script, no picture, no font, no connection.
func pageHead() template.HTML { return headOf(pageStyle) }

func headOf(style string) template.HTML {
	css := strings.ReplaceAll(style, "\r\n", "\n")
	sum := sha256.Sum256([]byte(css))
	return template.HTML(`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'sha256-` +
		base64.StdEncoding.EncodeToString(sum[:]) + `'; base-uri 'none'; form-action 'none'">` + "\n<style>" + css + "</style>")
}

// band is the verdict and why, at the top of the page.
type band struct {
	Class, Word, Beside string
	Why                 string
	Worst               string
	Also                []string
}

func newBand(res *qa.Result) band {
	var c qa.Counts
	for i := range res.Checks {
		k := res.Checks[i].Counts
		c.Assessed, c.Pass, c.Fail, c.NotAssessed = c.Assessed+k.Assessed, c.Pass+k.Pass, c.Fail+k.Fail, c.NotAssessed+k.NotAssessed
	}
	var b band
	switch res.Verdict {
	case qa.VerdictPass:
		b = band{Class: "pass", Word: "Pass", Why: fmt.Sprintf("%d of %s assessed %s within tolerance.", c.Pass, Count(c.Assessed, "result", "results"), isAre(c.Pass))}
		if c.Fail > 0 {
			b.Word, b.Beside = "Accepted", "by the rule of the job, with points out of tolerance"
		}
	case qa.VerdictFail:
		b = band{Class: "fail", Word: "Fail", Why: fmt.Sprintf("%d of %s assessed %s out of tolerance.", c.Fail, Count(c.Assessed, "result", "results"), isAre(c.Fail))}
		if !res.Complete {
			b.Beside = "and not complete"
		}
	default:
		b = band{Class: "open", Word: "Incomplete", Why: fmt.Sprintf("Nothing assessed is out of tolerance (%s), but not everything was read and assessed.", Count(c.Assessed, "result", "results"))}
		if c.Fail > 0 {
			b.Why = fmt.Sprintf("%d of %s assessed %s out of tolerance, all of them in lots that a rule of the job accepts; but not everything was read, assessed and decided.", c.Fail, Count(c.Assessed, "result", "results"), isAre(c.Fail))
		}
		if c.Assessed == 0 {
			b.Why = "Nothing was assessed, so nothing is proved."
		}
	}
	if s := acceptedWords(res); s != "" {
		b.Also = append(b.Also, s+".")
	}
	for _, s := range refused(res) {
		b.Also = append(b.Also, strings.TrimSpace(s)+".")
	}
	if s := concededWords(res); s != "" {
		b.Why = strings.TrimSuffix(b.Why, ".") + ", " + s + "; a concession changes no result."
	}
	if s := registerWords(res); s != "" {
		b.Also = append(b.Also, "Nonconformances: "+s+".")
	}
	if w := worst(res); w != nil {
		b.Worst = worstSentence(res, w)
	}
	if c.NotAssessed > 0 || res.Account.NotAssessed > 0 {
		b.Also = append(b.Also, fmt.Sprintf("Not assessed: %s, and %s of the checks (section 2).",
			Count(res.Account.NotAssessed, "row read", "rows read"), Count(c.NotAssessed, "result", "results")))
	}
	if n := len(res.Problems); n > 0 {
		b.Also = append(b.Also, fmt.Sprintf("%s in the input could not be read or used (section 2).", Count(n, "thing", "things")))
	}
	for _, s := range res.Proved {
		if unproved(s) {
			b.Also = append(b.Also, "Levels: "+s+".")
		}
	}
	return b
}

// unproved finds the sentences that say that levels are not proved.
func unproved(s string) bool {
	return strings.Contains(s, "not proved") || strings.Contains(s, "unproved")
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// worstSentence says which failure is furthest beyond its limit.
func worstSentence(res *qa.Result, r *qa.Row) string {
	s := show(r, &res.Frame)
	of := ""
	if res.FailureCount > len(res.Failures) {
		of = fmt.Sprintf(" of the first %d", len(res.Failures))
	}
	where := ""
	if len(s.where) > 0 {
		where = " (" + strings.Join(s.where, ", ") + ")"
	}
	element := res.Checks[r.Check].Common.Element
	switch r.Quantity {
	case qa.QuantityGrade:
		return fmt.Sprintf("Furthest beyond its limit%s: the grade of pipe %s, %s where the %s is allowed; its fall is short by %s mm.",
			of, r.Pipe, first(s.measured), s.limits, strings.TrimPrefix(s.beyond, "-"))
	case qa.QuantityBackfall:
		return fmt.Sprintf("Furthest beyond its limit%s: %s%s rises %s mm above the shot upstream of it.", of, s.point, where, strings.TrimPrefix(s.diff, "+"))
	}
	what := ""
	switch r.Quantity {
	case qa.QuantityFall:
		return fmt.Sprintf("Furthest beyond its limit%s: the fall of pipe %s %s, %s where the %s is allowed; it is short by %s mm.",
			of, r.Pipe, r.Reason, first(s.measured), s.limits, strings.TrimPrefix(s.beyond, "-"))
	case qa.QuantitySag, qa.QuantityInvertLine, qa.QuantityStep, qa.QuantityDrop, qa.QuantityLine, qa.QuantityPlace, qa.QuantityCover, qa.QuantityThickness, qa.QuantityGap, qa.QuantityPonding, qa.QuantityCoverage, qa.QuantityMean, qa.QuantityCrossfall:
		what = "the " + string(r.Quantity) + " at "
	}
	sentence := fmt.Sprintf("Furthest beyond its limit%s: %s%s of %s%s, %s mm against %s", of, what, s.point, element, where, s.diff, s.limits)
	if what != "" && r.Reason != "" {
		sentence += "; " + r.Reason
	}
	return sentence + "."
}

func first(l []string) string {
	if len(l) == 0 {
		return ""
	}
	return l[0]
}

// term is one part of the row account.
type term struct {
	Count int
	Name  string
	Doc   string
}

// ledger lays the row account out as a sum, and says whether it balances.
func ledger(a qa.Account) (terms []term, balance string) {
	terms = []term{
		{a.Assessed, "assessed", "judged by every check that selects them"},
		{a.Control, "control", "bench marks, change points, check shots, shots that others are judged by"},
		{a.Superseded, "superseded", "replaced by a newer shot, by a rule of the job"},
		{a.Excluded, "excluded", "left out by a named rule of the job"},
		{a.NotAssessed, "not assessed", "read, and not judged for the reason given"},
		{a.Blank, "blank", "nothing in the row"},
	}
	sum := 0
	for _, t := range terms {
		sum += t.Count
	}
	if sum == a.Read {
		return terms, fmt.Sprintf("The sum is the number of rows read, %d: no row is lost or counted twice.", a.Read)
	}
	return terms, fmt.Sprintf("The account does not balance: the parts add up to %d and %d rows were read. Do not use this report.", sum, a.Read)
}

// problemShown is how many problems or notes the page lists.
const problemShown = 200

type problemList struct {
	List []formats.Problem
	More int
}

func listProblems(l []formats.Problem) problemList {
	if len(l) > problemShown {
		return problemList{l[:problemShown], len(l) - problemShown}
	}
	return problemList{List: l}
}
