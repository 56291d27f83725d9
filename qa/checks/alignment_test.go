package checks_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func alignmentBook(t *testing.T) (text, design string) {
	t.Helper()
	dir := filepath.Join("testdata", "books", "surface-alignment")
	b, err := os.ReadFile(filepath.Join(dir, "job.yaml"))
	require.NoError(t, err)
	x, err := os.ReadFile(filepath.Join(dir, "design.xml"))
	require.NoError(t, err)
	return string(b), string(x)
}

// Lots between chainages of the design, which the shots do not have themselves.
func TestLotsAlongAnAlignment(t *testing.T) {
	text, design := alignmentBook(t)
	text += "lots:\n  - {name: L1, along: lane, chainage: {from: 0 m, to: 50 m}}\n  - {name: L2, along: lane, chainage: {from: 50 m, to: 100 m}}\n"
	shots := "Point,Easting (m),Northing (m),Level (m)\na,20,0,10.4\nb,50,0,10.8\nc,50.001,0,10.8\nd,50,60,10\n"
	res := runShots(t, text, map[string]string{"design.xml": design, "shots.csv": shots})
	require.Empty(t, res.Problems)
	var lots []string
	for _, r := range res.Rows {
		lots = append(lots, r.Shot.Lot)
	}
	assert.Equal(t, []string{"L1", "L1", "L2", ""}, lots)
	assert.Equal(t, "20.000", res.Rows[0].Shot.Chainage.Exact(res.Frame.Unit, 3), "the row has the chainage on the design")
	assert.Equal(t, "ch 20.000 of Lane", res.Rows[0].Origin())

	res = runShots(t, strings.ReplaceAll(text, "along: lane", "along: road"), map[string]string{"design.xml": design, "shots.csv": shots})
	assert.Contains(t, res.Problems[0].Text, "\"road\" is no design along an alignment that could be read")
}

// Exactly on the limit and one last digit beyond it, on the vertical curve and beside
// the crown, in every unit. The numbers of the file are in its unit; 1/16 inch of the
// job is 0.0625 in.
func TestAlignmentOnItsLimitInEveryUnit(t *testing.T) {
	text, design := alignmentBook(t)
	imperial := func(unit string) string {
		return strings.Replace(design, `<Metric linearUnit="meter" areaUnit="squareMeter" volumeUnit="cubicMeter"`, `<Imperial linearUnit="`+unit+`" areaUnit="squareFoot" volumeUnit="cubicFeet"`, 1)
	}
	for _, c := range []struct{ unit, limit, design, place, on, over string }{
		{"m", "5 mm", design, "50,-2", "10.745", "10.7451"}, {"ft", "0.02 ft", imperial("foot"), "50,-2", "10.76", "10.7601"}, {"ftUS", "0.02 ftUS", imperial("USSurveyFoot"), "50,-2", "10.76", "10.7601"},
		{"in", "0.0625 in", imperial("foot"), "600,-24", "128.9425", "128.9426"}, // shots in inches, the design in feet
	} {
		for level, want := range map[string]string{c.on: "pass", c.over: "fail"} {
			foot := strings.Replace(c.unit, "in", "ft", 1)
			j := strings.NewReplacer("units: m", "units: "+foot, "kind: points,", "kind: points, unit: "+c.unit+",", "10 mm", c.limit, "3.5 m", "3.5 "+foot).Replace(text)
			if c.unit != "m" {
				c.design = strings.Replace(c.design, `temperatureUnit="celsius" pressureUnit="milliBars"`, `temperatureUnit="fahrenheit" pressureUnit="inchHG"`, 1)
			}
			res := runShots(t, j, map[string]string{"design.xml": c.design, "shots.csv": "Point,Easting,Northing,Level\na," + c.place + "," + level + "\n"})
			require.Empty(t, res.Problems)
			assert.Equal(t, want, res.Rows[0].Verdict.String(), "%s %s: %s", level, c.unit, res.Rows[0].Reason)
		}
	}
}

func TestAlignmentKeys(t *testing.T) {
	text, design := alignmentBook(t)
	for old, x := range map[string][2]string{
		"left: fall 3 %,":      {"left: 3 %,", "does not say whether it rises or falls outwards"},
		"- {left":              {"- {chainage: 0 m, left", "one row holds all along and needs no chainage"},
		"      name: Lane":     {"      name: Lane\n      sections: {surface: FG, between: offset}", "leave one of them out"},
		"    file: design.xml": {"    file: design.xml\n    surface: FG", "a design along an alignment is one of its own"},
	} {
		require.Contains(t, text, old)
		_, err := job.Load("job.yaml", []byte(strings.Replace(text, old, x[0], 1)), checks.Kinds())
		assert.ErrorContains(t, err, x[1])
	}
	res := runShots(t, strings.Replace(text, "name: Lane", "name: Lain", 1), map[string]string{"design.xml": design, "shots.csv": "Point,Easting (m),Northing (m),Level (m)\na,20,0,10.4\n"})
	assert.Contains(t, res.Problems[0].Text, "design.xml has 0 alignments named \"Lain\"; it has \"Lane\"")
	assert.Equal(t, 2, res.ExitCode())
}
