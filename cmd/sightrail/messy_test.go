package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const messyDesign = `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Metric linearUnit="meter"/></Units><Surfaces><Surface name="S"><Definition surfType="TIN"><Pnts>` +
	`<P id="1">0 0 10</P><P id="2">0 100 10</P><P id="3">100 0 10</P></Pnts><Faces><F>1 2 3</F></Faces></Definition></Surface></Surfaces></LandXML>`

const messyJob = `project: P
units: m
grid: local site
heightDatum: D
surveys:
  - file: points.csv
    kind: points
designs:
  - name: s
    file: design.xml
    surface: S
checks:
  - surface:
      name: c
      element: e
      design: s
      tolerance: {lower: -10 mm, upper: 10 mm, source: note 1}
`

const messyPoints = "Point,Easting (m),Northing (m),Level (m)\na,10,10,10.005\n"

// What a site sends, and the one line that says what is wrong with it. Every
// case ends with exit code 2. The line shown under a problem of the job file is
// part of its one message.
func TestMessyInputs(t *testing.T) {
	replace := func(in, old, with string) string {
		require.Contains(t, in, old)
		return strings.Replace(in, old, with, 1)
	}
	for name, c := range map[string]struct {
		job, points, design string
		want                string
	}{
		"letter O in a level":       {points: replace(messyPoints, "10.005", "10.0O5"), want: `points.csv:2:4: level: "10.0O5" holds a letter that looks like a digit`},
		"unit in the cell":          {points: replace(messyPoints, "10.005", "10.005 m"), want: "is a number with something behind it"},
		"thousands comma":           {points: replace(messyPoints, "10.005", `"1,005"`), want: "decimal comma"},
		"odd minus":                 {points: replace(messyPoints, "10.005", "\u221210.005"), want: "not a minus sign"},
		"no-break space":            {points: replace(messyPoints, "10.005", "10\u00a0005"), want: "no-break space"},
		"spreadsheet error":         {points: replace(messyPoints, "10.005", "#REF!"), want: "spreadsheet error"},
		"no heading":                {points: "a,10,10,10.005\n", want: "no row of headings was found"},
		"x and y":                   {points: replace(messyPoints, "Easting (m),Northing (m)", "X (m),Y (m)"), want: "do not say which one is the easting"},
		"two levels":                {points: "Point,Easting (m),Northing (m),Level (m),RL (m)\na,10,10,10,10\n", want: "rename one"},
		"unit unknown":              {points: "Point,Easting,Northing,Level\na,10,10,10.005\n", want: "does not say its unit"},
		"mixed units":               {points: replace(messyPoints, "Level (m)", "Level (mm)"), want: "in mm"},
		"northing missing":          {points: replace(messyPoints, "a,10,10,", "a,10,,"), want: "the row has one of easting and northing"},
		"open quote":                {points: messyPoints + "\"b,10,10,10\n", want: "not closed"},
		"empty file":                {points: "", want: "there is nothing in it"},
		"a page instead":            {points: "<html><body>no</body></html>", want: "points.csv"},
		"typo in a key":             {job: replace(messyJob, "tolerance:", "tolerence:"), want: `did you mean "tolerance"`},
		"value without unit":        {job: replace(messyJob, "-10 mm", "-10"), want: "-10"},
		"wrong unit":                {job: replace(messyJob, "upper: 10 mm", "upper: 10 mn"), want: `"mn"`},
		"file not there":            {job: replace(messyJob, "file: points.csv", "file: point.csv"), want: "there is no such file"},
		"limits turned":             {job: replace(messyJob, "lower: -10 mm, upper: 10 mm", "lower: 10 mm, upper: -10 mm"), want: "job.yaml:"},
		"unknown design":            {job: replace(messyJob, "design: s", "design: t"), want: `"t"`},
		"bare foot":                 {job: replace(messyJob, "units: m", "units: feet"), want: "ftUS"},
		"tab in the job":            {job: replace(messyJob, "  - file", "\t- file"), want: "tab"},
		"no such surface":           {job: replace(messyJob, "surface: S", "surface: T"), want: `has no surface "T"; it has "S"`},
		"design cut off":            {design: messyDesign[:300], want: "cut off"},
		"design without units":      {design: replace(messyDesign, `<Units><Metric linearUnit="meter"/></Units>`, ""), want: "does not say its unit of length"},
		"face names no point":       {design: replace(messyDesign, "<F>1 2 3</F>", "<F>1 2 9</F>"), want: "names point 9"},
		"unknown LandXML":           {design: replace(messyDesign, "LandXML-1.2", "LandXML-9.9"), want: "no version that is known"},
		"points outside everything": {points: replace(messyPoints, "a,10,10", "a,500,500"), want: ""},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			for file, text := range map[string]string{"job.yaml": c.job, "points.csv": c.points, "design.xml": c.design} {
				if text == "" && !(name == "empty file" && file == "points.csv") {
					text = map[string]string{"job.yaml": messyJob, "points.csv": messyPoints, "design.xml": messyDesign}[file]
				}
				require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(text), 0o600))
			}
			code, out, msg := sightrail("check", filepath.Join(dir, "job.yaml"), "-o", filepath.Join(dir, "out"))
			assert.Equal(t, exitUndone, code, "%s%s", out, msg)
			assert.Contains(t, msg, c.want)
			lines := 0
			for _, l := range strings.Split(strings.TrimSpace(msg), "\n") {
				if l != "" && !strings.Contains(l, " | ") {
					lines++
				}
			}
			if c.want == "" {
				assert.Contains(t, out, "1 not assessed")
				assert.Zero(t, lines)
			} else {
				assert.Equal(t, 1, lines, msg)
			}
		})
	}
}

// The good neighbour of all those files passes: the messages come from what is
// wrong in them.
func TestTidyInputPasses(t *testing.T) {
	dir := t.TempDir()
	for file, text := range map[string]string{"job.yaml": messyJob, "points.csv": messyPoints, "design.xml": messyDesign} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(text), 0o600))
	}
	code, out, msg := sightrail("check", filepath.Join(dir, "job.yaml"), "-o", filepath.Join(dir, "out"))
	assert.Equal(t, exitOK, code, msg)
	assert.True(t, strings.HasPrefix(out, "PASS: P\n"), out)
	assert.Empty(t, msg)
}
