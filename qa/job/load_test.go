package job

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// levelParams and fallParams are kinds of check for the tests: one with limits,
// one with every type that parameters may have and a rule of its own.
type levelParams struct {
	Common    `yaml:",inline"`
	Offset    *Length   `yaml:"offset,omitempty" json:"offset,omitempty" jsonschema:"description=Stage offset"`
	Tolerance Tolerance `yaml:"tolerance" json:"tolerance" jsonschema:"required"`
}

type fallParams struct {
	Common  `yaml:",inline"`
	Least   *Grade     `yaml:"least,omitempty" json:"least,omitempty"`
	Source  string     `yaml:"source,omitempty" json:"source,omitempty"`
	Between *Tolerance `yaml:"between,omitempty" json:"between,omitempty"`
	Ends    bool       `yaml:"ends,omitempty" json:"ends,omitempty"`
	Shots2  int        `yaml:"leastShots,omitempty" json:"leastShots,omitempty"`
}

func (p *fallParams) Validate() []Fault {
	if p.Least != nil && p.Source == "" {
		return []Fault{{"least", "the least grade has no source"}}
	}
	return nil
}

var testKinds = []Kind{
	{Name: "level", Doc: "Levels against a design.", Params: func() any { return new(levelParams) }},
	{Name: "fall", Doc: "Falls against a design.", Params: func() any { return new(fallParams) }},
}

func sample(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", "sample.yaml"))
	require.NoError(t, err)
	return string(text)
}

func length(t testing.TB, text string) unit.Length {
	t.Helper()
	l, err := unit.ParseQuantity(text)
	require.NoError(t, err)
	return l
}

func TestLoadReadsEveryKey(t *testing.T) {
	j, err := Load("depot/job.yaml", []byte(sample(t)), testKinds)
	require.NoError(t, err)

	assert.Equal(t, "depot/job.yaml", j.File)
	assert.Equal(t, "Riverside depot", j.Project)
	assert.Equal(t, "007", j.Lot, "a number that is a name is kept as written")
	assert.Equal(t, "1.10", j.Revision)
	assert.Equal(t, "2026-03-04", j.SurveyDate)
	assert.Equal(t, "Roads specification 7, clause 3.2: drains", j.Clause)
	assert.Equal(t, unit.M, j.Units.Unit)
	assert.Equal(t, Grid{EPSG: "7855"}, j.Grid)
	assert.Equal(t, "EPSG:7855", j.Grid.String())
	assert.Equal(t, "AHD", j.HeightDatum)

	require.Len(t, j.BenchMarks, 2)
	bm := j.BenchMarks[0]
	assert.Equal(t, length(t, "23.416 m"), bm.Level.Length)
	assert.Equal(t, "5800200.500 m", bm.Northing.String())
	assert.Equal(t, Coordinate{unit.Decimal{Coef: 320100250, Places: 3}, unit.M}, *bm.Easting)
	assert.Nil(t, j.BenchMarks[1].Easting)
	assert.Equal(t, "40117", j.Instruments[0].Serial)
	assert.Equal(t, People{Observer: "A. Chan", Booker: "B. Diaz", Checker: "C. Eze", Approver: "D. Fox"}, j.People)

	rule, err := levels.ParseRule("12 mm sqrt(K)")
	require.NoError(t, err)
	assert.Equal(t, Levelling{Closing: Rule{rule}, Source: "Specification 7, clause 2.4", Distribute: levels.BySetups, Judge: "adjusted"}, j.Levelling)
	assert.Equal(t, length(t, "25 mm"), j.CheckShots.Plan.Length)

	require.Len(t, j.Surveys, 2)
	book, points := j.Surveys[0], j.Surveys[1]
	assert.Equal(t, "Day 1", book.Sheet)
	assert.Equal(t, "fs", book.SideShots)
	assert.Equal(t, OnInvert, book.Staffed)
	assert.Equal(t, map[string]Staffed{"TOP": OnTop, "12": OnSoffit}, book.ByCode)
	assert.Equal(t, []Exclusion{{Codes: []string{"TREE*"}, Reason: "not part of the work"}}, book.Exclude)
	assert.Equal(t, formats.Options{
		Content: formats.PointContent, Unit: unit.FtUS, Columns: []string{"name", "easting", "northing", "level", "code"},
		Delimiter: ';', Decimal: ',', Encoding: "windows-1252",
	}, points.Options(formats.PointContent))
	assert.Equal(t, formats.Options{Content: formats.LevelContent, Sheet: "Day 1"}, book.Options(formats.LevelContent))

	assert.Equal(t, unit.M, j.Places[0].Declared())
	require.Len(t, j.Designs, 2)
	assert.Equal(t, "FG", j.Designs[0].Surface)
	assert.Equal(t, map[string]string{"P1": "MH2"}, j.Designs[1].Flow)
	assert.Equal(t, unit.MM, j.Designs[1].DimUnit.Unit)

	require.Len(t, j.Checks, 2)
	level := j.Checks[0].Params.(*levelParams)
	assert.Equal(t, "level", j.Checks[0].Kind)
	assert.Equal(t, length(t, "-0.450 m"), level.Offset.Length)
	assert.Equal(t, []string{"FG*", "F2"}, level.Shots.Codes)
	require.Len(t, level.Shots.Polygon.Corners, 3)
	assert.Equal(t, "5800300 m", level.Shots.Polygon.Corners[2][1].String())
	assert.Equal(t, length(t, "120 m"), level.Shots.Chainage.To.Length)
	limits := level.Tolerance.Limits()
	assert.Equal(t, "-30 / +20 mm", limits.String())
	assert.Equal(t, "clause 3.2, table 1", limits.Source)
	fall := j.Checks[1].Params.(*fallParams)
	assert.Equal(t, unit.Grade{Rise: unit.Metre, Run: 150 * unit.Metre}, fall.Least.Grade)
	assert.Equal(t, "not above +10 mm", fall.Between.Limits().String())
	assert.True(t, fall.Ends)
	assert.Equal(t, 5, fall.Shots2)
	assert.Empty(t, j.Acceptance)
}

func TestDefaults(t *testing.T) {
	j, err := Load("job.yaml", []byte(small), testKinds)
	require.NoError(t, err)
	assert.Equal(t, "raw", j.Levelling.Judge)
	assert.Empty(t, j.Acceptance)
	assert.Equal(t, "local Site grid A", j.Grid.String())
	assert.Equal(t, Grid{Name: "Site grid A"}, j.Grid)
	assert.Equal(t, "", Grid{}.String())
}

// A file from another editor: byte order mark, line ends of two characters.
func TestLoadReadsOtherLineEnds(t *testing.T) {
	text := "\ufeff" + strings.ReplaceAll(sample(t), "\n", "\r\n")
	j, err := Load("job.yaml", []byte(text), testKinds)
	require.NoError(t, err)
	plain, err := Load("job.yaml", []byte(sample(t)), testKinds)
	require.NoError(t, err)
	assert.Equal(t, plain, j)
}

func TestWhere(t *testing.T) {
	j, err := Load("job.yaml", []byte(small), testKinds)
	require.NoError(t, err)
	for path, want := range map[string]string{
		"project":                         "job.yaml:1:10",
		"surveys":                         "job.yaml:5:1",
		"surveys[0]":                      "job.yaml:6:5",
		"surveys[0].file":                 "job.yaml:6:11",
		"surveys[0].kind":                 "job.yaml:7:11",
		"surveys[0].unit":                 "job.yaml:6:5",  // not there: the entry
		"surveys[7].file":                 "job.yaml:5:1",  // not there: the list
		"places[0].file":                  "job.yaml:1:1",  // not there at all
		"designs[0].surface":              "job.yaml:8:47", // written in braces
		"checks[0]":                       "job.yaml:10:5",
		"checks[0].level":                 "job.yaml:10:5",
		"checks[0].level.design":          "job.yaml:13:15",
		"checks[0].level.tolerance":       "job.yaml:14:7",
		"checks[0].level.tolerance.upper": "job.yaml:14:26",
		"checks[0].level.tolerance.lower": "job.yaml:14:7",
	} {
		assert.Equal(t, want, j.Where(path).String(), path)
	}
	assert.Equal(t, 6, j.Surveys[0].Line)
	assert.Equal(t, 8, j.Designs[0].Line)
	assert.Equal(t, 10, j.Checks[0].Line)
}

func TestExcerpt(t *testing.T) {
	j, err := Load("job.yaml", []byte(small), testKinds)
	require.NoError(t, err)
	assert.Equal(t, "   6 |   - file: levels.csv\n     |           ^", j.Excerpt(j.Where("surveys[0].file")))
	assert.Equal(t, "", j.Excerpt(formats.Pos{File: "levels.csv", Row: 6, Col: 11}), "another file")
	assert.Equal(t, "", j.Excerpt(formats.Pos{File: "job.yaml", Row: 600}))
	assert.Equal(t, "", j.Excerpt(formats.Pos{File: "job.yaml"}))
	assert.Equal(t, "   2 | units: m\n     |         ^", j.Excerpt(formats.Pos{File: "job.yaml", Row: 2, Col: 99}), "beyond the line: its end")
}

func TestExcerptOfALongLine(t *testing.T) {
	s := source{lines: []string{strings.Repeat("Ü", 150) + "x" + strings.Repeat("y", 200), "a\tb\x1b[31m"}}
	shown := strings.Split(s.excerpt(formats.Pos{Row: 1, Col: 151}), "\n")
	caret := strings.IndexRune(shown[1], '^')
	assert.Equal(t, "x", string([]rune(shown[0])[caret]), "the caret stands under its column")
	assert.LessOrEqual(t, len([]rune(shown[0])), 120)
	assert.Contains(t, shown[0], "| ...Ü")
	assert.True(t, strings.HasSuffix(shown[0], "y..."))
	assert.Equal(t, "   2 | a b\ufffd[31m\n     |   ^", s.excerpt(formats.Pos{Row: 2, Col: 3}), "a tab is one column, control characters do nothing")
}

func TestShotsMatch(t *testing.T) {
	for _, c := range []struct {
		name  string
		shots Shots
		want  bool
	}{
		{"nothing asked", Shots{}, true},
		{"name", Shots{Names: []string{"P7", "P8"}}, true},
		{"another name", Shots{Names: []string{"P7"}}, false},
		{"any ending", Shots{Names: []string{"P*"}}, true},
		{"the ending may be empty", Shots{Names: []string{"P8*"}}, true},
		{"a star alone", Shots{Codes: []string{"*"}}, true},
		{"letters count as written", Shots{Codes: []string{"fg*"}}, false},
		{"all lists must fit", Shots{Names: []string{"P8"}, Codes: []string{"INV"}}, false},
		{"all lists fit", Shots{Names: []string{"P8"}, Codes: []string{"FG1"}, Layers: []string{"pad"}, Runs: []string{"A"}, Surveys: []string{"pts.csv"}}, true},
		{"layer", Shots{Layers: []string{"road"}}, false},
		{"run", Shots{Runs: []string{"B"}}, false},
		{"survey", Shots{Surveys: []string{"other.csv"}}, false},
		{"survey by its start", Shots{Surveys: []string{"pts*"}}, true},
		{"polygon and chainage are not looked at", Shots{Polygon: &Outline{}, Chainage: &Chainage{}}, true},
	} {
		assert.Equal(t, c.want, c.shots.Matches("P8", "FG1", "pad", "A", "pts.csv"), c.name)
	}
	assert.True(t, Shots{Codes: []string{"*"}}.Matches("P8", "", "", "", ""), "a star takes a shot without code")
	assert.False(t, Shots{Codes: []string{"FG"}}.Matches("P8", "", "", "", ""))
}

func TestDidYouMean(t *testing.T) {
	keys := []string{"tolerance", "names", "codes", "surveys", "file"}
	for written, want := range map[string]string{
		"tolerence": "tolerance", "Tolerance": "tolerance", "toleranec": "tolerance", "tolrnce": "tolerance",
		"name": "names", "survey": "surveys", "fiel": "file", "fill": "file",
		"design": "", "x": "", "": "", "datum": "",
	} {
		assert.Equal(t, want, nearest(written, keys), written)
	}
}
