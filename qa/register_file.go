package qa

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// MaxRegisterBytes is the largest register that is read.
const MaxRegisterBytes = 64 << 20

// Texts is a Files that reads small files as they are: a register. The error is
// for files that cannot be read, or have more than most bytes.
type Texts interface {
	Text(name string, most int64) ([]byte, Input, error)
}

// readRegister begins the register of the run with the one of the run before. A
// register that cannot be read whole stops the run: numbers would be given twice.
func (r *Run) readRegister() error {
	j := r.Head.Job
	if j.Nonconformance == nil {
		return nil
	}
	g := &Register{Unit: r.Head.Frame.Unit.Name, spacing: j.Nonconformance.Spacing, prefix: j.Nonconformance.NumberPrefix(), frame: &r.Head.Frame, surveyed: j.SurveyDate}
	r.Head.Register = g
	if j.Register == "" {
		return nil
	}
	files, ok := r.files.(Texts)
	if !ok {
		return fmt.Errorf("%s: a register cannot be read here", j.Register)
	}
	text, in, err := files.Text(j.Register, MaxRegisterBytes)
	if err != nil {
		return err
	}
	in.Role = "register"
	r.Head.Inputs = append(r.Head.Inputs, in)
	checks := map[string]int{}
	for i := range r.Head.Checks {
		checks[r.Head.Checks[i].Common.Name] = i
	}
	return g.read(j.Register, text, checks)
}

// table is a register as a file has it.
type table struct {
	file  string
	heads []string
	rows  [][]string
	lines []int
}

func readTable(file string, text []byte) (*table, error) {
	fail := func(line int, format string, args ...any) error {
		return formats.ErrorList{{Pos: formats.Pos{File: file, Row: line}, Field: "register", Text: fmt.Sprintf(format, args...)}}
	}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(text) {
		return nil, fail(1, "the file is not UTF-8; save it as CSV in UTF-8")
	}
	c := csv.NewReader(bytes.NewReader(text))
	c.FieldsPerRecord = -1
	if head, _, _ := bytes.Cut(text, []byte("\n")); !bytes.Contains(head, []byte(",")) && bytes.Contains(head, []byte(";")) {
		c.Comma = ';'
	}
	t := &table{file: file}
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var e *csv.ParseError
		if errors.As(err, &e) {
			return nil, fail(e.Line, "the line is no CSV: %v; see that quotes are closed, and that a quote inside them is written twice", e.Err)
		}
		if err != nil {
			return nil, err
		}
		line, _ := c.FieldPos(0)
		if t.heads == nil {
			t.heads = row
			continue
		}
		if !slices.ContainsFunc(row, func(s string) bool { return strings.TrimSpace(s) != "" }) {
			continue
		}
		for len(row) > len(t.heads) && row[len(row)-1] == "" {
			row = row[:len(row)-1]
		}
		if len(row) > len(t.heads) {
			return nil, fail(line, "the row has %d fields and the headings are %d; a comma in a text needs quotes around the text", len(row), len(t.heads))
		}
		for len(row) < len(t.heads) {
			row = append(row, "")
		}
		t.rows, t.lines = append(t.rows, row), append(t.lines, line)
	}
	if t.heads == nil {
		return nil, fail(1, "the file is empty; give the register.csv that the run before wrote, or leave the key out in the first run")
	}
	return t, nil
}

// needed are the columns that an entry cannot be carried on without.
var needed = []Column{ColNumber, ColStatus, ColOpened, ColCheck, ColWhat, ColSide, ColLies, ColOutline}

func (g *Register) read(file string, text []byte, checks map[string]int) error {
	t, err := readTable(file, text)
	if err != nil {
		return err
	}
	at, u := map[Column]int{}, g.frame.Unit
	var extra []int
	var list formats.ErrorList
	problem := func(line, col int, field, format string, args ...any) {
		list = append(list, formats.Problem{Pos: formats.Pos{File: file, Row: line, Col: col + 1}, Field: field, Text: fmt.Sprintf(format, args...)})
	}
	for i, h := range t.heads {
		c := Column(strings.TrimSpace(h))
		if name, ok := strings.CutPrefix(string(c), string(ColOutline)+"_"); ok {
			if known, ok := unit.ByName(name); ok {
				c, u = ColOutline, known
			}
		}
		if _, twice := at[c]; !slices.Contains(Columns, c) || twice {
			extra, g.Extra = append(extra, i), append(g.Extra, h)
			continue
		}
		at[c] = i
	}
	for _, c := range needed {
		if _, ok := at[c]; !ok {
			h := string(c)
			if c == ColOutline {
				h += "_" + g.Unit
			}
			problem(1, -1, h, "the register has no column %q, and entries cannot be carried on without it; give the register.csv that the run before wrote, with your own columns beside its columns", h)
		}
	}
	if len(list) > 0 {
		return list.Err()
	}
	first := map[string]int{}
	for k, row := range t.rows {
		line := t.lines[k]
		e := &Entry{cells: map[Column]string{}}
		for c, i := range at {
			e.cells[c] = unguarded(row[i])
		}
		for _, i := range extra {
			e.Extra = append(e.Extra, unguarded(row[i]))
		}
		n := strings.TrimSpace(e.cells[ColNumber])
		if n == "" {
			problem(line, at[ColNumber], string(ColNumber), "the entry has no number; give it one that no other has")
		} else if first[n] > 0 {
			problem(line, at[ColNumber], string(ColNumber), "%s stands in line %d already; a number is given once", n, first[n])
		}
		first[n] = line
		e.cells[ColNumber] = n
		status := strings.ToLower(strings.TrimSpace(e.cells[ColStatus]))
		if status != StatusOpen && status != StatusClosed {
			problem(line, at[ColStatus], string(ColStatus), "%q is no status; write open or closed", e.cells[ColStatus])
		}
		e.cells[ColStatus] = status
		if d, err := job.ParseDate(e.cells[ColOpened]); err == nil {
			e.opened = d
		}
		if c := e.cells[ColClosedOn]; c != "" {
			if e.closed, err = job.ParseDate(strings.TrimSpace(c)); err != nil {
				problem(line, at[ColClosedOn], string(ColClosedOn), "%v; a spreadsheet may have written the day in its own way", err)
			}
		}
		if err := g.carry(e, u, checks); err != nil {
			problem(line, at[ColOutline], string(ColOutline), "%v", err)
		}
		g.Entries = append(g.Entries, e)
	}
	return list.Err()
}

// carry reads what an entry is of and where it lies.
func (g *Register) carry(e *Entry, u unit.Unit, checks map[string]int) error {
	i, ok := checks[e.cells[ColCheck]]
	e.known = ok
	e.key = patchKey{check: i, quantity: Quantity(e.cells[ColWhat]), line: e.cells[ColLies]}
	if e.key.line == inPlan {
		e.key.line = ""
	}
	switch e.cells[ColSide] {
	case "high":
		e.key.high = true
	case "low":
	default:
		return fmt.Errorf("the side is %q; it is high or low", e.cells[ColSide])
	}
	if strings.TrimSpace(e.cells[ColOutline]) == "" {
		return nil // written by hand: carried on, and nothing is found in it
	}
	for _, text := range strings.Split(e.cells[ColOutline], " | ") {
		x, err := g.part(text, e.key.line, u)
		if err != nil {
			return fmt.Errorf("%q is no outline as this program writes it: %v; put back what the run before wrote", text, err)
		}
		e.parts = append(e.parts, x)
	}
	return nil
}

func (g *Register) part(text, line string, u unit.Unit) (part, error) {
	day, rest, ok := strings.Cut(text, ": ")
	if !ok {
		return part{}, errors.New("there is no day before it")
	}
	x := part{text: text}
	if day != undated {
		d, err := job.ParseDate(day)
		if err != nil {
			return part{}, err
		}
		x.day = d
	}
	for _, c := range strings.Split(rest, ", ") {
		p, err := g.corner(c, line, u)
		if err != nil {
			return part{}, err
		}
		if !inReach(p) {
			return part{}, fmt.Errorf("%q is too far from the origin of the job", c)
		}
		x.outline = append(x.outline, p)
	}
	for i, a := range x.outline {
		if n := len(x.outline); n > 2 && turn(a, x.outline[(i+1)%n], x.outline[(i+2)%n]) <= 0 {
			return part{}, errors.New("its corners do not go round to the left")
		}
	}
	return x, nil
}

func (g *Register) corner(text, line string, u unit.Unit) (p convert.Place, err error) {
	if strings.HasPrefix(line, alone) {
		if text != "-" {
			return p, errors.New("a result that stands alone has \"-\" for its outline")
		}
		return p, nil
	}
	a, b, two := strings.Cut(text, " ")
	if pipe := strings.HasPrefix(line, "pipe "); pipe == two {
		return p, fmt.Errorf("%q has not as many numbers as a corner has", text)
	} else if pipe {
		b = "0"
	}
	x, _, err1 := unit.ParseDecimal(a)
	y, _, err2 := unit.ParseDecimal(b)
	if err := errors.Join(err1, err2); err != nil {
		return p, err
	}
	if line == "" {
		return g.frame.Place(x, y, u)
	}
	e, err1 := x.Length(u)
	n, err2 := y.Length(u)
	return convert.Place{E: e, N: n}, errors.Join(err1, err2)
}

// guarded makes a text inert that a spreadsheet would take for a formula.
func guarded(s string) string {
	if formula(s) {
		return "'" + s
	}
	return s
}

// unguarded takes the one apostrophe off again.
func unguarded(s string) string {
	if tail, ok := strings.CutPrefix(s, "'"); ok && formula(tail) {
		return tail
	}
	return s
}

func formula(s string) bool {
	if len(s) < 2 || strings.IndexByte("=+-@\t\r", s[0]) < 0 {
		return false
	}
	_, _, err := unit.ParseDecimal(s)
	return err != nil
}

// CSV is the register as a file: UTF-8, commas, line feeds.
func (g *Register) CSV() []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	row := func(cells []string) {
		out := make([]string, len(cells))
		for i, c := range cells {
			out[i] = guarded(c)
		}
		w.Write(out) // to memory: it cannot fail
	}
	row(g.Headings())
	for _, e := range g.Entries {
		row(g.Cells(e))
	}
	w.Flush()
	return b.Bytes()
}

// decisions are the columns that belong to the authority.
var decisions = []Column{ColDisposition, ColDecidedBy, ColDecidedOn, ColReason}

// Undecided lists the entries of an old register whose decisions, or words in
// columns of the user, are not in another one: writing over the old one would lose
// them. A file that is no register is named as a whole.
func Undecided(old, other []byte) []string {
	words := func(text []byte) (map[string]map[string]string, error) {
		out := map[string]map[string]string{}
		if len(text) == 0 {
			return out, nil
		}
		t, err := readTable("", text)
		if err != nil {
			return nil, err
		}
		number := slices.Index(t.heads, string(ColNumber))
		for _, row := range t.rows {
			cells := map[string]string{}
			for i, h := range t.heads {
				own := slices.Contains(Columns, Column(h)) || strings.HasPrefix(h, string(ColOutline)+"_")
				if s := strings.TrimSpace(unguarded(row[i])); s != "" && (!own || slices.Contains(decisions, Column(h))) {
					cells[h] = s
				}
			}
			if number >= 0 {
				out[row[number]] = cells
			}
		}
		return out, nil
	}
	had, err := words(old)
	if err != nil {
		return []string{"a file that is no register"}
	}
	has, err := words(other)
	if err != nil {
		has = nil
	}
	var lost []string
	for n, cells := range had {
		for h, s := range cells {
			if has[n][h] != s {
				lost = append(lost, n)
				break
			}
		}
	}
	slices.Sort(lost)
	return lost
}
