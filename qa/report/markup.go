package report

import (
	"html/template"
	"strconv"
	"strings"
)

// markup builds the parts of the page that the template does not: long tables
// and drawings. Text and attribute values are escaped by it, always; raw takes
// only what the program itself wrote.
type markup struct{ b []byte }

func (m *markup) raw(s ...string) {
	for _, x := range s {
		m.b = append(m.b, x...)
	}
}

// text appends text, escaped for an element or for an attribute in double
// quotes.
func (m *markup) text(s string) {
	if strings.ContainsAny(s, "&<>\"'\x00") {
		s = template.HTMLEscapeString(s)
	}
	m.b = append(m.b, s...)
}

// number appends a coordinate of a drawing, to a tenth of a pixel.
func (m *markup) number(f float64) {
	at := len(m.b)
	m.b = strconv.AppendFloat(m.b, f, 'f', 1, 64)
	switch s := string(m.b[at:]); {
	case s == "-0.0":
		m.b = append(m.b[:at], '0')
	case strings.HasSuffix(s, ".0"):
		m.b = m.b[:len(m.b)-2]
	}
}

// attr appends an attribute with a number.
func (m *markup) attr(name string, f float64) {
	m.raw(" ", name, `="`)
	m.number(f)
	m.raw(`"`)
}

// cell appends a cell of a table; class may be empty.
func (m *markup) cell(class, s string) {
	m.openCell(class)
	m.text(s)
	m.raw("</td>")
}

func (m *markup) openCell(class string) {
	if class == "" {
		m.raw("<td>")
		return
	}
	m.raw(`<td class="`, class, `">`)
}

// lines appends a cell with a line of text each.
func (m *markup) lines(class string, lines ...string) {
	m.openCell(class)
	n := 0
	for _, s := range lines {
		if s == "" {
			continue
		}
		if n > 0 {
			m.raw("<br>")
		}
		m.text(s)
		n++
	}
	m.raw("</td>")
}

// head appends the cell that names a row.
func (m *markup) head(s string) {
	m.raw(`<th scope="row">`)
	m.text(s)
	m.raw("</th>")
}

// html hands the markup to the template, which takes it as it is: every text in
// it was escaped when it was appended.
func (m *markup) html() template.HTML { return template.HTML(m.b) }
