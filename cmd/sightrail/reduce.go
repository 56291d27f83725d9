package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sightrail/convert"
	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
)

type reduceCmd struct {
	Book       string   `arg:"" help:"Level book: CSV or workbook."`
	Known      []string `placeholder:"NAME=LEVEL" sep:"none" help:"Known level of a mark, in the unit of the book; may be given several times."`
	Unit       string   `enum:",m,mm,ft,ftUS,ft-in" default:"" placeholder:"m|mm|ft|ftUS|ft-in" help:"Unit of a book that does not say it; ft-in for a level book kept in feet and inches."`
	Sheet      string   `help:"Sheet of a workbook."`
	Closing    string   `placeholder:"RULE" help:"Closing rule, such as \"12 mm sqrt(K)\" or \"5 mm sqrt(n)\"."`
	Distribute string   `enum:"setups,distance,none" default:"setups" help:"How a misclosure inside its limit is shared out: setups, distance or none."`
	SideShots  string   `enum:",fs" default:"" placeholder:"fs" help:"fs: a foresight without backsight is a side shot."`
	Staff      string   `placeholder:"LENGTH" help:"Length of the staff, such as \"5 m\": a longer reading is a mistake."`
	Reading    string   `placeholder:"LENGTH" help:"Standard uncertainty of a reading, such as \"1 mm\": every level then says what it is worth."`
	Setup      string   `placeholder:"LENGTH" help:"Standard uncertainty that a set-up adds to its collimation."`
	PerKm      string   `name:"per-km" placeholder:"LENGTH" help:"Standard deviation of a kilometre levelled forward and back, in place of --reading."`
	Stadia     int64    `placeholder:"CONSTANT" help:"Constant that turns the interval of the outer wires into the length of a sight; 100 in most instruments."`
	JSON       bool     `name:"json" help:"Print JSON."`
}

// Rules taken when --closing is not given. Both are common practice, no
// published source; the contract's rule takes their place.
const (
	usualByDistance = "12 mm sqrt(K)"
	usualBySetups   = "5 mm sqrt(n)"
)

func (k *reduceCmd) run(c *console) int {
	keepFirst(bookBytes)
	opt := formats.Options{Content: formats.LevelContent, Sheet: k.Sheet}
	opt.Unit, opt.FeetInches = unitFlag(k.Unit)
	d, _, err := folder{dir: ".", watch: c.progress}.Decode(k.Book, opt)
	if err != nil {
		return c.fail(err)
	}
	if len(d.Books) == 0 {
		c.problems(d.Problems)
		if len(d.Problems) == 0 {
			c.say("%s: no level book was found: no heading row with BS and FS", shown(k.Book))
		}
		return exitUndone
	}
	if len(d.Books) > 1 {
		var names []string
		for i := range d.Books {
			names = append(names, d.Books[i].Name)
		}
		c.say("%s: it holds %d level books (%s); name one with --sheet", shown(k.Book), len(d.Books), strings.Join(names, ", "))
		return exitUndone
	}
	book := &d.Books[0]
	bo := convert.BookOptions{Unit: opt.Unit, Levels: levels.Options{SideShotsFS: k.SideShots == "fs"}}
	if bo.Known, err = k.known(book, opt.Unit); err != nil {
		return c.fail(err)
	}
	if k.Distribute != "none" {
		bo.Levels.Distribute = levels.Distribution(k.Distribute)
	}
	ruleFrom, err := k.rule(book, &bo.Levels)
	if err != nil {
		return c.fail(err)
	}
	if err := k.lengths(&bo); err != nil {
		return c.fail(err)
	}
	r := convert.ReduceBook(book, bo)
	problems := append(append([]formats.Problem(nil), d.Problems...), r.Problems...)
	formats.SortProblems(problems)
	if r.Result == nil {
		c.problems(problems)
		return exitUndone
	}
	notes := append(append(append([]formats.Problem(nil), d.Notes...), r.Notes...), r.OpenEnds()...)
	formats.SortProblems(notes)
	out := reduction{book: r, rule: bo.Levels.Rule, ruleFrom: ruleFrom, problems: problems, notes: notes}
	if bo.Worth.Given() {
		if out.worth, err = r.Result.Worth(bo.Worth, false); err != nil {
			return c.fail(err)
		}
	}
	if k.JSON {
		err = out.json(c.out)
	} else {
		err = out.text(c.out)
	}
	if err != nil {
		return c.fail(err)
	}
	c.problems(problems)
	return out.exit()
}

// lengths reads the options that are lengths with their unit.
func (k *reduceCmd) lengths(bo *convert.BookOptions) error {
	positive := func(option, text string) (unit.Length, error) {
		if text == "" {
			return 0, nil
		}
		l, err := unit.ParseQuantity(text)
		if err != nil {
			return 0, fmt.Errorf("--%s %q: %w", option, text, err)
		}
		if l <= 0 {
			return 0, fmt.Errorf("--%s %q: it must be more than nought", option, text)
		}
		return l, nil
	}
	var err error
	if bo.Levels.Staff, err = positive("staff", k.Staff); err != nil {
		return err
	}
	if bo.Stadia = k.Stadia; k.Stadia < 0 || k.Stadia > 1000 {
		return fmt.Errorf("--stadia %d: it is 100 in most instruments", k.Stadia)
	}
	for _, x := range []struct {
		option, text string
		to           *float64
	}{{"reading", k.Reading, &bo.Worth.Reading}, {"setup", k.Setup, &bo.Worth.Setup}, {"per-km", k.PerKm, &bo.Worth.PerKm}} {
		l, err := positive(x.option, x.text)
		if err != nil {
			return err
		}
		*x.to = l.Millimetres()
	}
	switch {
	case k.Reading != "" && k.PerKm != "":
		return errors.New("--reading and --per-km: a sight is worth what one of them says; give one")
	case k.Setup != "" && k.Reading == "" && k.PerKm == "":
		return errors.New("--setup: nothing says what a reading is worth; add --reading or --per-km")
	}
	return nil
}

// known reads the --known options.
func (k *reduceCmd) known(b *formats.Book, declared unit.Unit) (map[string]convert.Known, error) {
	u := b.Unit
	switch {
	case b.FeetInches:
		u = unit.Ft // levels of such a book are decimal feet
	case !u.Known():
		u = declared
	}
	out := map[string]convert.Known{}
	for _, s := range k.Known {
		i := strings.LastIndexByte(s, '=')
		if i <= 0 {
			return nil, fmt.Errorf("--known %q: write NAME=LEVEL, such as BM1=50.000", s)
		}
		name, text := s[:i], s[i+1:]
		if !u.Known() {
			return nil, fmt.Errorf("--known %q: the book does not say its unit; add --unit", s)
		}
		l, exact, err := unit.Parse(text, u)
		if err != nil || !exact {
			return nil, fmt.Errorf("--known %q: %q is not a level in %s", s, text, u.Name)
		}
		if old, ok := out[name]; ok && old.Level != l {
			return nil, fmt.Errorf("--known: %s is given two levels; one mark has one level", name)
		}
		out[name] = convert.Known{Level: l, From: "--known"}
		found := false
		for i := range b.Rows {
			found = found || b.Rows[i].Point == name
		}
		if !found {
			return nil, fmt.Errorf("--known %q: the book has no point %q; names are compared letter by letter", s, name)
		}
	}
	return out, nil
}

// rule takes the rule that was given, or the usual one.
func (k *reduceCmd) rule(b *formats.Book, lo *levels.Options) (from string, err error) {
	text, from := k.Closing, "given"
	if text == "" {
		text, from = usualBySetups, "common practice; none was given"
		if b.Has("distance") || b.Has("distanceBS") && b.Has("distanceFS") {
			text = usualByDistance
		}
	}
	lo.Rule, err = levels.ParseRule(text)
	return from, err
}

// reduction is a reduced book on its way to the page or to JSON.
type reduction struct {
	book            *convert.ReducedBook
	rule            levels.Rule
	ruleFrom        string
	problems, notes []formats.Problem
	worth           *levels.Worth // nil when not asked for
}

func (r *reduction) exit() int {
	code := exitOK
	for _, run := range r.book.Result.Runs {
		switch run.State {
		case levels.OutOfLimit:
			code = max(code, exitFail)
		case levels.Broken, levels.NotJudged:
			return exitUndone
		}
	}
	if len(r.problems) > 0 || len(r.book.Result.Runs) == 0 {
		return exitUndone
	}
	for i := range r.book.Result.Rows {
		if row := &r.book.Result.Rows[i]; row.Role != levels.NoReading && !row.Level.Set {
			return exitUndone // no known level to hang it on
		}
	}
	return code
}

// worst is the run with the largest misclosure.
func (r *reduction) worst() *levels.Run {
	var w *levels.Run
	for i := range r.book.Result.Runs {
		run := &r.book.Result.Runs[i]
		if run.Misclosure.Set && (w == nil || run.Misclosure.L.Abs() > w.Misclosure.L.Abs()) {
			w = run
		}
	}
	return w
}

// number is a length as a JSON number in the unit of the book.
func (r *reduction) number(v levels.Value) json.RawMessage {
	if !v.Set {
		return json.RawMessage("null")
	}
	return json.RawMessage(v.L.Exact(r.book.Unit, 0))
}

func mm(v levels.Value) json.RawMessage {
	if !v.Set {
		return json.RawMessage("null")
	}
	return json.RawMessage(v.L.Exact(unit.MM, 0))
}

// uncertainty is the standard uncertainty of the raw level of a row in mm, or "".
func (r *reduction) uncertainty(i int) string {
	if r.worth == nil {
		return ""
	}
	if _, ok := r.worth.Known(i); !ok {
		return ""
	}
	return strconv.FormatFloat(math.Sqrt(r.worth.Variance(i)), 'f', 2, 64)
}

func orNull(number string) string {
	if number == "" {
		return "null"
	}
	return number
}

type jsonRow struct {
	Row         int             `json:"row"`
	Point       string          `json:"point"`
	BS          json.RawMessage `json:"bs"`
	IS          json.RawMessage `json:"is"`
	FS          json.RawMessage `json:"fs"`
	Collimation json.RawMessage `json:"collimation"`
	Rise        json.RawMessage `json:"rise"`
	Fall        json.RawMessage `json:"fall"`
	Level       json.RawMessage `json:"level"`
	Adjusted    json.RawMessage `json:"adjusted"`
	U           json.RawMessage `json:"uncertaintyMm"` // standard uncertainty of the raw level
}

type jsonRun struct {
	From       string          `json:"from"`
	To         string          `json:"to"`
	FirstRow   int             `json:"firstRow"`
	LastRow    int             `json:"lastRow"`
	Setups     int             `json:"setups"`
	Distance   json.RawMessage `json:"distance"`
	Misclosure json.RawMessage `json:"misclosureMm"`
	Allowed    json.RawMessage `json:"allowedMm"`
	State      string          `json:"state"`
	Why        string          `json:"why,omitempty"`
	Adjusted   string          `json:"distributed,omitempty"`
}

func (r *reduction) json(w io.Writer) error {
	res := r.book.Result
	rows := make([]jsonRow, len(res.Rows))
	for i := range res.Rows {
		in, row, b := &r.book.Rows[i], &res.Rows[i], &r.book.Book.Rows[i]
		rows[i] = jsonRow{b.Row, b.Point, r.number(in.BS), r.number(in.IS), r.number(in.FS), r.number(row.Collimation), r.number(row.Rise), r.number(row.Fall), r.number(row.Level), r.number(row.Adjusted), json.RawMessage(orNull(r.uncertainty(i)))}
	}
	runs := make([]jsonRun, len(res.Runs))
	for i, x := range res.Runs {
		runs[i] = jsonRun{x.From, x.To, r.book.Book.Rows[x.First].Row, r.book.Book.Rows[x.Last].Row, x.Setups, r.number(x.Distance), mm(x.Misclosure), mm(x.Allowed), x.State.String(), x.Why, string(x.Distributed)}
	}
	lines := func(l []formats.Problem) []string {
		out := []string{}
		for _, p := range l {
			out = append(out, p.String())
		}
		return out
	}
	doc := struct {
		File         string                     `json:"file"`
		Unit         string                     `json:"unit"`
		Rows         []jsonRow                  `json:"rows"`
		Sums         map[string]json.RawMessage `json:"sums"`
		ArithmeticOK bool                       `json:"arithmeticAgrees"`
		Booked       string                     `json:"booked"`
		Rule         string                     `json:"rule"`
		RuleSource   string                     `json:"ruleSource"`
		Misclosure   json.RawMessage            `json:"misclosureMm"`
		Allowed      json.RawMessage            `json:"allowedMm"`
		Closes       *bool                      `json:"closes"`
		Runs         []jsonRun                  `json:"runs"`
		Problems     []string                   `json:"problems"`
		Notes        []string                   `json:"notes"`
	}{File: r.book.Book.Pos.File, Unit: r.book.Unit.Name, Rows: rows, ArithmeticOK: res.ArithmeticOK, Booked: r.booked(), Rule: r.rule.Text, RuleSource: r.ruleFrom,
		Misclosure: mm(levels.Value{}), Allowed: mm(levels.Value{}), Closes: r.closes(), Runs: runs, Problems: lines(r.problems), Notes: lines(r.notes),
		Sums: map[string]json.RawMessage{"bs": r.number(levels.Of(res.Sums.BS)), "fs": r.number(levels.Of(res.Sums.FS)),
			"rise": r.number(levels.Of(res.Sums.Rise)), "fall": r.number(levels.Of(res.Sums.Fall)), "lastMinusFirst": r.number(res.FirstToLast)}}
	if x := r.worst(); x != nil {
		doc.Misclosure, doc.Allowed = mm(x.Misclosure), mm(x.Allowed)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(doc)
}

// closes is true when every run closed inside its limit, false when one did
// not, and nil when nothing was closed or it could not be judged.
func (r *reduction) closes() *bool {
	yes, no := true, false
	var out *bool
	for _, x := range r.book.Result.Runs {
		switch {
		case x.State == levels.OutOfLimit:
			return &no
		case x.State.Proved() && out == nil:
			out = &yes
		}
	}
	for _, x := range r.book.Result.Runs {
		if !x.State.Proved() {
			return nil
		}
	}
	return out
}

func (r *reduction) booked() string {
	switch {
	case !r.book.Result.BookedAny:
		return "arithmetic recomputed, nothing booked to compare"
	case len(r.book.Result.BookedDiffers) > 0:
		return "booked columns differ from the recomputed ones"
	}
	return "booked columns agree with the recomputed ones"
}

func (r *reduction) text(w io.Writer) error {
	res, u := r.book.Result, r.book.Unit
	places := 3
	if u == unit.MM {
		places = 0
	}
	fmt.Fprintf(w, "%s, unit %s\n", r.book.Book.Pos.File, u.Name)
	if err := newBookTable(r, places).write(w); err != nil {
		return err
	}
	s := res.Sums
	fmt.Fprintf(w, "sum BS %s − sum FS %s = %s; sum rise %s − sum fall %s = %s", s.BS.Exact(u, places), s.FS.Exact(u, places), (s.BS-s.FS).Exact(u, places),
		s.Rise.Exact(u, places), s.Fall.Exact(u, places), (s.Rise-s.Fall).Exact(u, places))
	if res.FirstToLast.Set {
		fmt.Fprintf(w, "; last − first = %s", res.FirstToLast.L.Exact(u, places))
	}
	if res.ArithmeticOK {
		fmt.Fprintln(w, ": agree")
	} else {
		fmt.Fprintln(w, ": not checked, the book has a gap")
	}
	fmt.Fprintln(w, r.booked())
	for _, x := range res.Runs {
		fmt.Fprint(w, "run from ", printable(x.From))
		if x.To != "" {
			fmt.Fprint(w, " to ", printable(x.To))
		}
		fmt.Fprint(w, ", ", plenty(x.Setups, "set-ups"))
		if x.Distance.Set {
			fmt.Fprintf(w, ", %s km", x.Distance.L.Fixed(unit.KM, 3))
		}
		if x.Misclosure.Set {
			fmt.Fprintf(w, ": misclosure (computed − known) %s mm", x.Misclosure.L.Fixed(unit.MM, 1))
			if x.Allowed.Set {
				fmt.Fprintf(w, ", allowed %s mm by %s (%s)", x.Allowed.L.Fixed(unit.MM, 1), r.rule.Text, r.ruleFrom)
			}
		}
		fmt.Fprintf(w, ": %s", x.State)
		if x.Why != "" {
			fmt.Fprintf(w, " (%s)", x.Why)
		}
		fmt.Fprintln(w)
	}
	if r.worth != nil {
		fmt.Fprintln(w, "u is one standard deviation of the raw level, from the readings and set-ups behind it; the known marks count as exact")
	}
	for _, n := range r.notes {
		fmt.Fprintln(w, "note:", n)
	}
	return nil
}

// printable keeps control characters of a file off the terminal.
func printable(s string) string {
	for i := range len(s) {
		if s[i] < ' ' || s[i] >= 0x7f {
			return masked(s)
		}
	}
	return s
}

func masked(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 {
			return '?'
		}
		return r
	}, s)
}
