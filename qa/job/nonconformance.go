package job

import (
	"fmt"
	"path"
	"regexp"
	"strings"
	"time"

	"github.com/invopop/jsonschema"

	"sightrail/formats/unit"
)

// Nonconformance makes patches of failing neighbours, and a register of them.
type Nonconformance struct {
	Spacing Length `yaml:"spacing" json:"spacing" jsonschema:"required,description=How far failing shots of one patch may be from their neighbours; also the largest hole that re-shots may leave"`
	Source  string `yaml:"source" json:"source" jsonschema:"required,description=Who sets the spacing"`
	Prefix  string `yaml:"prefix,omitempty" json:"prefix,omitempty" jsonschema:"default=NC-,description=What the numbers of the register begin with"`
}

// MaxSpacing is the largest spacing of a patch: beyond it there is no patch that
// a gang could find.
const MaxSpacing = 1000 * unit.Metre

// Validate refuses a spacing that joins nothing or everything, and a prefix that
// a number cannot be told from.
func (n *Nonconformance) Validate() (f []Fault) {
	add := (*faults)(&f).add
	if n.Spacing.Length <= 0 || n.Spacing.Length > MaxSpacing {
		add("spacing", "a spacing is more than nought and at most 1 km; write how far the shots of one patch may be apart, such as 10 m")
	}
	if n.Prefix != "" && (strings.ContainsAny(n.Prefix[len(n.Prefix)-1:], "0123456789") || strings.ContainsAny(n.Prefix, ",;\"\t")) {
		add("prefix", "%q runs into the number that follows it, or has a comma, semicolon or quote in it; end it with a letter or a dash, such as \"NC-\"", n.Prefix)
	}
	return f
}

// NumberPrefix is what the numbers of the register begin with.
func (n *Nonconformance) NumberPrefix() string {
	if n.Prefix == "" {
		return "NC-"
	}
	return n.Prefix
}

// Rework says when a newer shot of a check takes the place of an older one of the
// same check. Where both ways are given both must hold.
type Rework struct {
	Within *Length `yaml:"within,omitempty" json:"within,omitempty" jsonschema:"description=How far in plan the newer shot may be from the older one"`
	ByName bool    `yaml:"byName,omitempty" json:"byName,omitempty" jsonschema:"description=The newer shot has the name of the older one"`
	Source string  `yaml:"source" json:"source" jsonschema:"required,description=Who sets this rule"`
}

// Validate asks for a way to tell which shot is shot again.
func (r *Rework) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch {
	case r.Within == nil && !r.ByName:
		add("", "nothing says which older shot a newer one takes the place of; add \"within:\" (such as 0.5 m) or \"byName: true\"")
	case r.Within != nil && (r.Within.Length < 0 || r.Within.Length > MaxSpacing):
		add("within", "the distance is not negative and at most 1 km; write how far a newer shot may be from the older one, such as 0.5 m")
	}
	return f
}

// Concession is what the engineer has conceded: an entry of the register, or a
// point of a check. The results stay as they are.
type Concession struct {
	Number string `yaml:"number,omitempty" json:"number,omitempty" jsonschema:"description=Number in the register"`
	Point  string `yaml:"point,omitempty" json:"point,omitempty" jsonschema:"description=Name of the point; in place of a number"`
	Check  string `yaml:"check,omitempty" json:"check,omitempty" jsonschema:"description=Name of the check that the point is out of tolerance in"`
	By     string `yaml:"by" json:"by" jsonschema:"required,description=Who conceded it"`
	Date   Date   `yaml:"date" json:"date" jsonschema:"required,description=Day of the concession such as 2026-03-09"`
	Reason string `yaml:"reason" json:"reason" jsonschema:"required,description=Why"`
	Clause string `yaml:"clause,omitempty" json:"clause,omitempty" jsonschema:"description=Clause or instruction that it rests on"`
}

// Validate asks what is conceded.
func (c *Concession) Validate() (f []Fault) {
	add := (*faults)(&f).add
	switch {
	case c.Number != "" && (c.Point != "" || c.Check != ""):
		add("number", "a concession is for a number of the register or for a point of a check; make two entries of it")
	case c.Number == "" && (c.Point == "" || c.Check == ""):
		add("", "nothing says what is conceded; add \"number:\" with a number of the register, or \"point:\" and \"check:\"")
	}
	return f
}

// Words say who conceded, when and why.
func (c *Concession) Words() string {
	s := fmt.Sprintf("conceded by %s on %s: %s", c.By, c.Date, c.Reason)
	if c.Clause != "" {
		s += " (" + c.Clause + ")"
	}
	return s
}

// Date is a day as ISO 8601 writes it: 2026-03-05. Days in that form sort as
// text. The zero Date is not said.
type Date string

// datePattern is the form of a Date, for the schema.
const datePattern = `[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])`

var dateForm = regexp.MustCompile("^" + datePattern + "$")

// ParseDate reads a day.
func ParseDate(text string) (Date, error) {
	if _, err := time.Parse(time.DateOnly, text); err != nil || !dateForm.MatchString(text) {
		return "", fmt.Errorf("%q is no day as it is written here; write year, month and day as 2026-03-05", text)
	}
	return Date(text), nil
}

// UnmarshalText reads a day.
func (d *Date) UnmarshalText(text []byte) (err error) {
	*d, err = ParseDate(string(text))
	return err
}

// JSONSchema describes a day.
func (Date) JSONSchema() *jsonschema.Schema { return text(datePattern, "2026-03-05") }

// DayOf is the day of a survey: its own, or the date of the survey of the job
// where that is one day. It is "" where neither says.
func (j *Job) DayOf(survey int) Date {
	if survey >= 0 && survey < len(j.Surveys) && j.Surveys[survey].Date != "" {
		return j.Surveys[survey].Date
	}
	d, _ := ParseDate(j.SurveyDate)
	return d
}

// nonconformances finds what speaks against each other in rounds of rework, and
// what the register lacks.
func (j *Job) nonconformances(f *faults) {
	if j.Nonconformance == nil && j.Register != "" {
		f.add("register", "a register is carried on by patches, and nothing says how far their shots may be apart; add \"nonconformance:\" with its spacing")
	}
	if e := strings.ToLower(path.Ext(strings.ReplaceAll(j.Register, `\`, "/"))); j.Register != "" && e != ".csv" {
		f.add("register", "%q is no CSV file; give the register.csv that the run before wrote, or save the workbook as CSV", j.Register)
	}
	dated := -1
	for i := range j.Surveys {
		s := &j.Surveys[i]
		if s.Round < 0 {
			f.add(fmt.Sprintf("surveys[%d].round", i), "rounds count from 1")
		}
		if s.Date == "" {
			if s.Round > 1 {
				f.add(fmt.Sprintf("surveys[%d].round", i), "a later round needs its day, because a newer shot is told from an older one by date; add \"date:\"")
			}
			continue
		}
		if dated >= 0 {
			o := &j.Surveys[dated]
			switch {
			case o.Date > s.Date:
				f.add(fmt.Sprintf("surveys[%d].date", i), "%q is older than %q, which stands before it; list dated surveys in the order of their days, so that the old shot is shown before the new one", s.File, o.File)
			case s.Round > 0 && o.Round > s.Round:
				f.add(fmt.Sprintf("surveys[%d].round", i), "round %d stands after round %d of an earlier or the same day; correct the round or the date", s.Round, o.Round)
			}
		}
		dated = i
	}
	if j.Rework != nil && dated < 0 {
		f.add("rework", "a newer shot is told from an older one by date, and no survey has one; add \"date:\" to the surveys")
	}
	names := map[string]bool{}
	for i := range j.Checks {
		names[j.common(i).Name] = true
	}
	seen := map[Concession]int{}
	for i := range j.Concessions {
		c := &j.Concessions[i]
		what := Concession{Number: c.Number, Point: c.Point, Check: c.Check}
		if k, twice := seen[what]; twice {
			f.add(fmt.Sprintf("concessions[%d]", i), "the same is conceded in line %d already; make one entry of the two", j.Where(fmt.Sprintf("concessions[%d]", k)).Row)
		}
		seen[what] = i
		if c.Number != "" && j.Nonconformance == nil {
			f.add(fmt.Sprintf("concessions[%d].number", i), "there is no register without patches; add \"nonconformance:\", or name \"point:\" and \"check:\"")
		}
		if c.Check != "" && !names[c.Check] {
			f.add(fmt.Sprintf("concessions[%d].check", i), "no check of this job is named %q", c.Check)
		}
	}
}
