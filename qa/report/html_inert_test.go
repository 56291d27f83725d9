package report

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"sightrail/qa"
)

// hostile are names that would do something if any of them got out of its text.
var hostile = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `' onmouseover='alert(1)`, `{{.Res.Job}}{{template "page"}}`, `</title></svg></style><script>`,
	`]]><!--`, `-->`, `javascript:alert(1)`, `&lt;b&gt;&#60;`, "\x00<b>", "`${1}`", `<![CDATA[<b>]]>`, `</td></tr></table><h1>Pass</h1>`, "\u202eevil\u202c",
}

// dress puts the text that f gives into every text of a result that comes from
// a file.
func dress(res *qa.Result, f func() string) {
	j := res.Job
	for _, p := range []*string{&j.Project, &j.Contract, &j.Client, &j.Company, &j.Lot, &j.Element, &j.Clause, &j.Revision, &j.HoldPoint, &j.ReportNo, &j.SurveyDate, &j.Weather,
		&j.Levelling.Source, &j.Levelling.Outside, &j.Levelling.Closing.Text, &j.CheckShots.Source, &j.People.Observer, &j.People.Booker, &j.People.Checker, &j.People.Approver,
		&res.Frame.Grid, &res.Frame.Datum, &res.Version} {
		*p = f()
	}
	for i := range j.BenchMarks {
		m := &j.BenchMarks[i]
		m.Name, m.Source, m.Date = f(), f(), f()
	}
	for i := range j.Instruments {
		in := &j.Instruments[i]
		in.Name, in.Type, in.Serial, in.Checked, in.Result = f(), f(), f(), f(), f()
	}
	for i := range j.Designs {
		d := &j.Designs[i]
		d.File, d.Revision = f(), f()
	}
	for _, n := range res.Design.Networks {
		for i := range n.Pits {
			n.Pits[i].Name = f()
		}
	}
	for i := range res.Checks {
		c := &res.Checks[i]
		c.Common.Name, c.Common.Element, c.Common.Clause, c.Limits.Source = f(), f(), f(), f()
		c.Common.Shots.Codes = []string{f()}
		c.Remarks = []string{f()}
	}
	rows := func(rows []qa.Row) {
		for i := range rows {
			r := &rows[i]
			r.Shot.ID, r.Shot.Code, r.Reason, r.Action, r.Shot.Pos.File, r.Shot.Pos.Part, r.Limits.Source = f(), f(), f(), f(), f(), f(), f()
		}
	}
	rows(res.Rows)
	rows(res.Failures)
	for i := range res.Inputs {
		in := &res.Inputs[i]
		in.File, in.Format, in.SHA256, in.Role = f(), f(), f(), f()
	}
	for i := range res.Marks {
		res.Marks[i].Mark, res.Marks[i].Shot.Pos.File = f(), f()
	}
	for i := range res.Books {
		b := &res.Books[i]
		b.Book.Pos.File, b.Book.Pos.Part = f(), f()
		for k := range b.Book.Rows {
			b.Book.Rows[k].Remark = f()
			b.Input[k].Name, b.Input[k].KnownFrom = f(), f()
		}
		for k := range b.Result.Runs {
			b.Result.Runs[k].From, b.Result.Runs[k].To, b.Result.Runs[k].Why, b.Result.Runs[k].Forced = f(), f(), f(), true
			b.Mistaken = append(b.Mistaken, f())
		}
	}
	for i := range res.Notes {
		res.Notes[i].Pos.File, res.Notes[i].Field, res.Notes[i].Text = f(), f(), f()
	}
	res.Problems = slices.Clone(res.Notes)
	res.Proved, res.Missing = []string{f()}, []string{f()}
}

// shape counts the elements and the names of their attributes.
func shape(doc *html.Node) map[string]int {
	out := map[string]int{}
	every(doc, func(n *html.Node) {
		if n.Type == html.CommentNode {
			out["comment"]++
		}
		if n.Type != html.ElementNode {
			return
		}
		out[n.Data]++
		for _, a := range n.Attr {
			out[n.Data+" "+a.Key]++
		}
	})
	// how labels find room depends on their length, and so do these
	for _, k := range []string{"text", "text class", "text x", "text y", "line", "line class", "line x1", "line x2", "line y1", "line y2", "text transform"} {
		delete(out, k)
	}
	return out
}

// TestTextIsInert writes hostile text everywhere: the page must have the same
// elements and attributes as with harmless text, and show the text itself.
func TestTextIsInert(t *testing.T) {
	plain := sampleResult(t)
	dress(plain, func() string { return "plain" })
	want := shape(pageOf(t, plain))
	for _, bad := range hostile {
		t.Run(fmt.Sprintf("%q", bad), func(t *testing.T) {
			res := sampleResult(t)
			dress(res, func() string { return bad })
			doc := pageOf(t, res)
			assert.Equal(t, want, shape(doc))
			shown := strings.TrimSpace(strings.ReplaceAll(bad, "\x00", "\ufffd"))
			assert.Equal(t, shown, textOf(find(doc, "h1", "")[0]))
			assert.Equal(t, shown, table(find(doc, "table", "fails")[0])[0][0])
			lettered := map[string]bool{}
			for _, n := range find(doc, "text", "") {
				lettered[strings.TrimSpace(textOf(n))] = true
			}
			assert.True(t, lettered[strings.TrimSpace(short(shown))], "%q is lettered nowhere: %v", shown, slices.Collect(maps.Keys(lettered)))
		})
	}
}

func TestMarkupEscapes(t *testing.T) {
	var m markup
	m.cell("", `a<b>&"'`)
	m.lines("w", "<i>", "", `"`)
	m.head("<u>")
	doc, err := html.Parse(bytes.NewReader([]byte("<table><tr>" + string(m.html()) + "</tr></table>")))
	require.NoError(t, err)
	assert.Empty(t, find(doc, "b", ""))
	assert.Empty(t, find(doc, "i", ""))
	assert.Equal(t, [][]string{{`a<b>&"'`, `<i> "`, "<u>"}}, table(doc))
}
