package job

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

// small is the least a job needs.
const small = `project: Riverside depot
units: m
grid: local Site grid A
heightDatum: AHD
surveys:
  - file: levels.csv
    kind: levels
designs: [{name: pad, file: pad.xml, surface: "FG"}]
checks:
  - level:
      name: Pad
      element: Pad 2
      design: pad
      tolerance: {upper: 10 mm, source: clause 3}
`

// mark stands in the texts of the tests where an error is expected.
const mark = "▸"

// unmark takes the marks out and returns their places.
func unmark(text string) (plain string, at []formats.Pos) {
	for i, line := range strings.Split(text, "\n") {
		for {
			before, after, ok := strings.Cut(line, mark)
			if !ok {
				break
			}
			at = append(at, formats.Pos{File: "job.yaml", Row: i + 1, Col: len([]rune(before)) + 1})
			line = before + after
		}
	}
	return strings.ReplaceAll(text, mark, ""), at
}

// expect loads a marked text and compares places and messages. A message stands
// without its place and its excerpt, which are checked apart.
func expect(t *testing.T, marked string, want ...string) {
	t.Helper()
	text, at := unmark(marked)
	require.Len(t, at, len(want), "one mark for each message")
	j, err := Load("job.yaml", []byte(text), testKinds)
	require.Error(t, err)
	assert.Nil(t, j)
	var list formats.ErrorList
	require.True(t, errors.As(err, &list))
	var got []string
	for i, p := range list {
		lines := strings.Split(formats.Problem{Field: p.Field, Text: p.Text}.String(), "\n")
		got = append(got, strings.TrimPrefix(lines[0], ": "))
		if i < len(at) {
			assert.Equal(t, at[i], p.Pos, lines[0])
		}
		require.Len(t, lines, 3, "the line is shown: %s", p.Text)
		caret := strings.IndexRune(lines[2], '^')
		shown := []rune(lines[1])
		require.LessOrEqual(t, caret, len(shown))
		if line := strings.Split(text, "\n")[p.Pos.Row-1]; len([]rune(line)) < 60 {
			assert.Equal(t, line, string(shown[7:]))
			assert.Equal(t, p.Pos.Col, caret-6, "the caret stands under the column")
		}
	}
	assert.Equal(t, want, got)
}

// change replaces one part of small.
func change(t *testing.T, old, with string) string {
	t.Helper()
	require.Equal(t, 1, strings.Count(small, old), old)
	return strings.Replace(small, old, with, 1)
}

func TestWhatCannotBeReadAsAJob(t *testing.T) {
	for _, c := range []struct {
		name, old, with string
		want            []string
	}{
		{"unknown key with a near one", "heightDatum: AHD", "▸heigthDatum: AHD",
			[]string{`heigthDatum: there is no key "heigthDatum" here; did you mean "heightDatum"?`}},
		{"unknown key", "units: m", "units: m\n▸colour: red",
			[]string{`colour: there is no key "colour" here; the keys are ` + strings.Join(keysOf(reflect.TypeFor[Job]()), ", ")}},
		{"unknown key inside a check", "tolerance: {upper", "▸tolerence: {upper",
			[]string{`checks.level.tolerence: there is no key "tolerence" here; did you mean "tolerance"?`}},
		{"unknown key inside a tolerance", "{upper: 10 mm, source", "{upper: 10 mm, ▸uper: 5 mm, source",
			[]string{`checks.level.tolerance.uper: there is no key "uper" here; did you mean "upper"?`}},
		{"key twice", "units: m", "units: m\n▸units: ft",
			[]string{`units: the key is here a second time, the first is in line 2; keep one of them`}},
		{"required key missing", "heightDatum: AHD\n", "",
			[]string{`the key "heightDatum" is missing; add it (Name of the height datum all levels refer to)`}},
		{"required key of an entry missing", "file: levels.csv\n    kind: levels", "▸file: levels.csv",
			[]string{`surveys: the key "kind" is missing; add it (levels: a level book; points: a point file; laser: staff readings on a laser plane)`}},
		{"source of a tolerance missing", "tolerance: {upper: 10 mm, source: clause 3}", "▸tolerance: {upper: 10 mm}",
			[]string{`checks.level.tolerance: the key "source" is missing; add it (Clause or drawing or instruction that sets the limits)`}},
		{"tolerance missing", "  - level:\n      name: Pad\n      element: Pad 2\n      design: pad\n      tolerance: {upper: 10 mm, source: clause 3}", "  - ▸level:\n      name: Pad\n      element: Pad 2\n      design: pad",
			[]string{`checks.level: the key "tolerance" is missing; add it`}},
		{"no value", "heightDatum: AHD", "▸heightDatum:",
			[]string{`heightDatum: the key has no value; write one after the colon`}},
		{"no value of a key that may be absent", "units: m", "units: m\n▸lot: ~",
			[]string{`lot: the key has no value; write one after the colon, or leave the key out`}},
		{"empty text", "surface: \"FG\"", "surface: ▸\" \"",
			[]string{`designs.surface: the text is empty; write it, or leave the key out`}},
		{"empty list", "designs: [{name: pad, file: pad.xml, surface: \"FG\"}]", "▸designs: []",
			[]string{`designs: the list is empty; write its entries, or leave the key out`}},
		{"list for a value", "units: m", "units: ▸[m]",
			[]string{`units: here is a list where one value is asked for; write the value on the line of its key`}},
		{"keys for a value", "file: levels.csv", "file: ▸{name: levels.csv}",
			[]string{`surveys.file: here is a group of keys where one value is asked for; write the value on the line of its key`}},
		{"value for a list of texts", "      design: pad", "      design: pad\n      shots: {codes: ▸FG}",
			[]string{`checks.level.shots.codes: here is "FG" where a list is asked for; write it in square brackets: [A, B]`}},
		{"value for a list of entries", "  - file: levels.csv\n    kind: levels", "  ▸levels.csv",
			[]string{`surveys: here is "levels.csv" where a list is asked for; begin each entry with "- "`}},
		{"value for keys", "tolerance: {upper: 10 mm, source: clause 3}", "tolerance: ▸10 mm",
			[]string{`checks.level.tolerance: here is "10 mm" where keys with values are asked for: lower, upper, preset, source`}},
		{"value for names with values", "kind: levels", "kind: levels\n    staffedByCode: ▸top",
			[]string{`surveys.staffedByCode: here is "top" where names with a value each are asked for; write them below the key, a line each`}},
		{"corner with one number", "      design: pad", "      design: pad\n      shots: {polygon: {corners: [▸[1 m]]}}",
			[]string{`checks.level.shots.polygon.corners: here is a list of 1 where 2 values are asked for`}},
		{"several at once", "units: m\ngrid: local Site grid A", "units: ▸metre\ngrid: ▸MGA\n▸lotts: 5",
			[]string{`units: "metre" is not written as a unit here; write "m" for the metre`,
				`grid: "MGA" does not name a grid; write an EPSG code such as "EPSG:7855", or "local" and the name of the site grid, such as "local Site grid A"`,
				`lotts: there is no key "lotts" here; did you mean "lots"?`}},
		{"unknown kind of check", "- level:", "- ▸levle:",
			[]string{`checks: there is no check "levle"; the kinds are level or fall; did you mean "level"?`}},
		{"quite unknown kind of check", "- level:", "- ▸smoothness:",
			[]string{`checks: there is no check "smoothness"; the kinds are level or fall`}},
		{"keys not indented below the kind", "- level:\n      name: Pad\n      element: Pad 2\n      design: pad\n      tolerance:", "- ▸level:\n    name: Pad\n    element: Pad 2\n    design: pad\n    tolerance:",
			[]string{`checks: the keys of "level" must stand further in than "level" itself; indent them by two more spaces`}},
		{"two kinds in one entry", "      tolerance: {upper: 10 mm, source: clause 3}", "      tolerance: {upper: 10 mm, source: clause 3}\n    ▸fall: {name: x}",
			[]string{`checks: "fall" stands beside the check "level"; an entry of checks is one kind of check: begin a new entry with "- ", or indent it`}},
		{"a check that is a word", "  - level:", "  - ▸level\n  - level:",
			[]string{`checks: here is "level" where a check is asked for; write "level:" and its keys below it; the kinds are level or fall`}},
		{"neither true nor false", "checks:", "checks:\n  - fall: {name: F, element: E, design: pad, ends: ▸yes}",
			[]string{`checks.fall.ends: "yes" is neither true nor false; write one of them`}},
		{"not a whole number", "checks:", "checks:\n  - fall: {name: F, element: E, design: pad, leastShots: ▸2.5}",
			[]string{`checks.fall.leastShots: "2.5" is not a whole number; write one without a unit`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := change(t, c.old, c.with)
			if !strings.Contains(text, mark) {
				text = mark + text // the job itself
			}
			expect(t, text, c.want...)
		})
	}
}

func TestWrongValues(t *testing.T) {
	tolerance := "upper: 10 mm"
	for _, c := range []struct{ name, old, with, want string }{
		{"no unit", tolerance, "upper: ▸10", `checks.level.tolerance.upper: "10" has no unit; write it after the number, such as "10 mm"`},
		{"no number", tolerance, "upper: ▸mm", `checks.level.tolerance.upper: "mm" is not a length; write a number and its unit, such as "10 mm"`},
		{"unknown unit", tolerance, "upper: ▸10 yd", `checks.level.tolerance.upper: "yd" is not a unit of length; use m, mm, cm, km, ft, ftUS, in or mi`},
		{"which foot", tolerance, "upper: ▸0.05 feet", `checks.level.tolerance.upper: "feet" does not say which foot; write "ft" for the international foot (0.3048 m) or "ftUS" for the US survey foot (1200/3937 m)`},
		{"unit in full", tolerance, "upper: ▸10 Millimeters", `checks.level.tolerance.upper: "Millimeters" is not written as a unit here; write "mm" for the millimetre`},
		{"unit in capitals", tolerance, "upper: ▸10 MM", `checks.level.tolerance.upper: "MM" is not written as a unit here; write "mm" for the millimetre`},
		{"decimal comma", tolerance, `upper: ▸"10,5 mm"`, `checks.level.tolerance.upper: "10,5" is not a number; write decimals with a point, and no sign between thousands`},
		{"beyond the range", tolerance, "upper: ▸9000 km", `checks.level.tolerance.upper: 9000 km: the value is beyond ±2,342 km, the range of a length`},
		{"infinite", tolerance, "upper: ▸.inf", `checks.level.tolerance.upper: ".inf" is not a length; write a number and its unit, such as "10 mm"`},
		{"grid code", "local Site grid A", "▸EPSG:78", `grid: "EPSG:78" is not an EPSG code; write four to six digits after "EPSG:", such as "EPSG:7855"`},
		{"grid code in words", "local Site grid A", "▸EPSG:MGA55", `grid: "EPSG:MGA55" is not an EPSG code; write four to six digits after "EPSG:", such as "EPSG:7855"`},
		{"local grid without name", "local Site grid A", "▸local", `grid: a local grid needs its name, such as "local Site grid A"`},
		{"bare code", "local Site grid A", "▸7855", `grid: "7855" does not name a grid; write an EPSG code such as "EPSG:7855", or "local" and the name of the site grid, such as "local Site grid A"`},
		{"word of a list", "kind: levels", "kind: ▸level", `surveys.kind: "level" is not known here; use levels, points or laser; did you mean "levels"?`},
		{"delimiter", "kind: levels", "kind: levels\n    delimiter: ▸\";\"", `surveys.delimiter: ";" is not known here; use comma, semicolon, tab, pipe or space`},
		{"staffed", "kind: levels", "kind: levels\n    staffed: ▸sofit", `surveys.staffed: "sofit" is not a word for what was staffed; use invert, soffit, top, collar, bedding, trenchBottom or surface; did you mean "soffit"?`},
		{"crown", "kind: levels", "kind: levels\n    staffed: ▸crown", `surveys.staffed: "crown" is read in two ways; write "soffit" for the inside top of the pipe or "top" for its outside top`},
		{"staffed by code", "kind: levels", "kind: levels\n    staffedByCode: {IL: ▸pipe}", `surveys.staffedByCode.IL: "pipe" is not a word for what was staffed; use invert, soffit, top, collar, bedding, trenchBottom or surface`},
		{"acceptance", "units: m", "units: m\nacceptance: ▸average", `acceptance: there is no acceptance rule "average"; write "every" for each point within its limits, or a list of rules, each with "plan:" and "source:"`},
		{"closing rule", "units: m", "units: m\nlevelling: {source: x, closing: ▸12 sqrt(K)}", `levelling.closing: "12 sqrt(K)" is not a closing rule; write a limit such as "12 mm sqrt(K)", "5 mm sqrt(n)", "0.05 ft sqrt(M)" or "6 mm"`},
		{"grade as a ratio", "checks:", "checks:\n  - fall: {name: F, element: E, design: pad, source: s, least: ▸2:1}", `checks.fall.least: "2:1" does not say which number is vertical; write "1 in N" (vertical in horizontal), "%" or "mm/m"`},
		{"coordinate without unit", "units: m", "units: m\nbenchMarks: [{name: A, level: 1 m, source: s, date: d, easting: ▸320100.25, northing: 1 m}]", `benchMarks.easting: "320100.25" has no unit; write it after the number, such as "320100.25 m"`},
		{"coordinate with a comma", "units: m", "units: m\nbenchMarks: [{name: A, level: 1 m, source: s, date: d, easting: ▸\"320,100 m\", northing: 1 m}]", `benchMarks.easting: "320,100" is not a number; write decimals with a point, and no sign between thousands`},
		{"level too fine", "units: m", "units: m\nbenchMarks: [{name: A, source: s, date: d, level: ▸1.0000000000001 m}]", `benchMarks.level: "1.0000000000001 m" has more decimals than can be kept exactly`},
	} {
		t.Run(c.name, func(t *testing.T) { expect(t, change(t, c.old, c.with), c.want) })
	}
}
