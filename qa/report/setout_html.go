package report

import (
	"bufio"
	_ "embed" // the template and the style sheet of the pages
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"sightrail/qa"
)

// SetoutPages is setout.html: the sheets as pages to print and take to the
// trench. Every page says what is set out, from which plane, and when. It needs no
// network and holds no script.
var SetoutPages = &SetoutKind{File: "setout.html", Doc: "the sheets as pages to print", Write: writeSetoutPages}

// SetoutRows is the most rows that a page has. Rows that are read with gloves on,
// in the rain, are 11 points or larger, and a page of A4 holds no more of them.
const SetoutRows = 40

// SetoutCautions stand on every page, in short; the whole list is at the end.
const SetoutCautions = "Read the plane on a second mark before use, and again at the end. No one enters a trench that is not protected and inspected that day. Find buried services before digging or driving pegs. Do not look into the beam. Pits are confined spaces: no entry without permit, gas test and rescue. Contract, local codes and licensed practice come first."

//go:embed setout.gohtml
var setoutText string

//go:embed setout.css
var setoutStyle string

var setoutTemplate = template.Must(template.New("setout").Parse(setoutText))

func writeSetoutPages(w io.Writer, res *qa.SetoutResult) error {
	out := bufio.NewWriterSize(w, 1<<16)
	if err := setoutTemplate.Execute(out, newSetoutDocument(res)); err != nil {
		return fmt.Errorf("the pages could not be written: %w", err)
	}
	return out.Flush()
}

// setoutDocument is what the template is filled from.
type setoutDocument struct {
	Res           *qa.SetoutResult
	Head          template.HTML
	Title, Job    string
	Pages         []setoutPage
	Files         []inputLine
	Unread, Notes problemList
	Cautions      []string
}

// setoutPage is one page of a sheet.
type setoutPage struct {
	Name, Job, Levels string
	Facts             []fact
	Warnings          []string
	Remarks           string // one after the other: they are short, and lines are dear
	Why               string
	No, Of            int
	Columns           []setoutHead
	Rows              [][]setoutCell
	Notes             []fact // letter and text of what is remarked on rows of this page
	Dash              bool   // some figure of this page is not known
	Cautions          string
}

type setoutHead struct {
	Text   string
	Number bool
}

type setoutCell struct {
	Text   string
	Number bool
}

func newSetoutDocument(res *qa.SetoutResult) *setoutDocument {
	d := &setoutDocument{Res: res, Head: headOf(setoutStyle), Title: "Set-out sheets: " + res.Job.Project, Job: setoutJob(res),
		Files: inputLines(res.Inputs), Unread: listProblems(res.Problems), Notes: listProblems(res.Notes), Cautions: Cautions}
	for i := range res.Sheets {
		d.Pages = append(d.Pages, setoutPagesOf(res, &res.Sheets[i])...)
	}
	return d
}

// setoutPagesOf breaks a sheet into pages.
func setoutPagesOf(res *qa.SetoutResult, s *qa.SetoutSheet) []setoutPage {
	first := setoutPage{Name: s.Of.Name, Job: setoutJob(res), Levels: setoutLevels(res), Warnings: s.Warnings, Remarks: strings.Join(s.Remarks, " "), Why: s.Why, Cautions: SetoutCautions}
	plane := s.Plane
	if plane == "" {
		plane = "none"
	}
	first.Facts = facts(fact{"Run", s.What}, fact{"Date", s.Date}, fact{"Plane", plane})
	if !s.Of.Run() {
		first.Facts = facts(fact{"Pad", s.What}, fact{"Date", s.Date}, fact{"Plane", plane})
	}
	columns := slices.DeleteFunc(setoutColumns(s), func(c setoutColumn) bool { return c.book })
	first.heads(s, columns)
	var pages []setoutPage
	rows := s.Rows
	for len(rows) > 0 || len(pages) == 0 {
		p := first
		n := min(len(rows), first.room(columns, rows))
		p.fill(res, s, columns, rows[:n])
		rows = rows[n:]
		pages = append(pages, p)
	}
	for i := range pages {
		pages[i].No, pages[i].Of = i+1, len(pages)
	}
	return pages
}

// PageCount is how many pages a sheet has.
func PageCount(res *qa.SetoutResult, s *qa.SetoutSheet) int { return len(setoutPagesOf(res, s)) }

func (p *setoutPage) heads(s *qa.SetoutSheet, columns []setoutColumn) {
	if s.Of.Run() {
		p.Columns = []setoutHead{{"Place", false}, {"Chainage", true}}
	} else {
		p.Columns = []setoutHead{{"Point", false}, {"Easting", true}, {"Northing", true}}
	}
	for i := range columns {
		p.Columns = append(p.Columns, setoutHead{columns[i].head, true})
	}
	p.Columns = append(p.Columns, setoutHead{"Note", false})
}

// The page as lines of writing: how many characters of running text a line
// takes, how many lines a page has beside SetoutRows rows, and what of those is
// always there (name, column headings, cautions). Measured on A4 in print; a
// browser that sets wider letters breaks a page once more, and repeats its heading.
const (
	lineLength = 88
	spareLines = 17
	fixedLines = 10
	leastRows  = 15 // a page with fewer is not worth its heading
)

// room is how many rows the next page takes: fewer where there is much to say
// above and below them. The notes are those of the rows that would be on it.
func (p *setoutPage) room(columns []setoutColumn, rows []qa.SetoutRow) int {
	long := func(s string) int { return (utf8.RuneCountInString(s) + lineLength - 1) / lineLength }
	lines := fixedLines + long(p.Job+"; "+p.Levels) + long(p.Remarks)
	for _, f := range p.Facts {
		lines += long(f.Name + "   " + f.Value)
	}
	for _, w := range p.Warnings {
		lines += long(w)
	}
	seen := map[string]bool{}
	say := func(s string) {
		if !seen[s] {
			seen[s] = true
			lines += long(s)
		}
	}
	n := 0
	for n < len(rows) && n < SetoutRows {
		r := &rows[n]
		for _, text := range r.Remarks {
			say(text)
		}
		for i := range columns {
			if !columns[i].value(r).Set {
				say("not known")
			}
		}
		lines += max(0, (utf8.RuneCountInString(r.Name)-1)/placeLength) // a long name takes more lines
		// a line of text is a tenth lower than a row
		if n >= leastRows && n+1 > SetoutRows-max(0, (lines-spareLines)*9+9)/10 {
			break
		}
		n++
	}
	return max(n, 1)
}

// placeLength is how many characters the first column takes in a line.
const placeLength = 9

// fill makes the lines of a page. Remarks of rows become letters, explained once
// below the table.
func (p *setoutPage) fill(res *qa.SetoutResult, s *qa.SetoutSheet, columns []setoutColumn, rows []qa.SetoutRow) {
	u := res.Frame.Unit
	letters := map[string]string{}
	for i := range rows {
		r := &rows[i]
		cells := []setoutCell{{r.Name, false}}
		if s.Of.Run() {
			cells = append(cells, setoutCell{s.ChainageOf(r, u), true})
		} else {
			cells = append(cells, setoutCell{orDash(coordinate(r, res.Frame.Easting, u)), true}, setoutCell{orDash(coordinate(r, res.Frame.Northing, u)), true})
		}
		for k := range columns {
			text := columns[k].print(r, u)
			if text == "" {
				text, p.Dash = "–", true
			}
			text = strings.Replace(text, "-", "\u2212", 1) // a minus is seen better than a hyphen
			cells = append(cells, setoutCell{text, true})
		}
		var marks []string
		for _, text := range r.Remarks {
			if letters[text] == "" {
				letters[text] = noteLetter(len(letters))
				p.Notes = append(p.Notes, fact{letters[text], text})
			}
			marks = append(marks, letters[text])
		}
		p.Rows = append(p.Rows, append(cells, setoutCell{strings.Join(marks, " "), false}))
	}
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

// noteLetter is a, b, ... z, aa, ab.
func noteLetter(n int) string {
	s := ""
	for n++; n > 0; n = (n - 1) / 26 {
		s = string(rune('a'+(n-1)%26)) + s
	}
	return s
}
