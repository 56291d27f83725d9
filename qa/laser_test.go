package qa_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/plane"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// laserHead is a job of two days on one plane that rises 1 % to the east: the
// mark is at 10.500, the plane there at 12.000.
const laserHead = "benchMarks:\n" +
	"  - {name: BM1, level: 10.500 m, easting: 0 m, northing: 0 m, source: s, date: 2026-01-01}\n" +
	"  - {name: BM2, level: 10.900 m, easting: 40 m, northing: 0 m, source: s, date: 2026-01-01}\n" +
	"laserLimits: {level: 3 mm, grade: 0.1 mm/m, source: s}\n" +
	"places:\n  - {file: pegs.csv}\n"

const pegPlaces = "Point,Easting (m),Northing (m)\nP1,50,0\nP2,10,0\na,20,0\nb,20,10\n"

func runLaser(t *testing.T, head, readings string) *qa.Result {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\n" + head + "surveys:\n  - {file: r.csv, kind: laser, setup: L1}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	f := files{"r.csv": "Point,Reading (m),Setup\n" + readings, "d.xml": flat, "pegs.csv": pegPlaces}
	r, err := qa.Prepare(j, checks.All, f, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	assert.True(t, res.Account.Balances(), "%+v", res.Account)
	return res
}

const setup1 = "  - {name: L1, mark: BM1, reading: 1.500 m, grade: 1 %, bearing: 90 deg, closing: {reading: 1.502 m}, pegs: [{name: P1, reading: 1.000 m}, {name: P2, reading: 1.000 m}]}\n"

// The level of a reading is the plane at its place minus the reading: at 20 m
// along, 12.000 + 0.200 − 2.190 = 10.010 (by hand).
func TestLevelsOnALaserPlane(t *testing.T) {
	res := runLaser(t, laserHead+"laserSetups:\n"+setup1, "a,2.190,\nb,2.211,\nb,2.190,L9\nc,2.2,\n")
	require.Empty(t, res.Problems)
	require.Len(t, res.Rows, 4)
	assert.Equal(t, "10.010", res.Rows[0].Measured.Fixed(res.Frame.Unit, 3))
	assert.Equal(t, "pass", res.Rows[0].Verdict.String(), "on the limit")
	assert.Equal(t, "fail", res.Rows[1].Verdict.String())
	assert.Contains(t, res.Rows[2].Reason, `no laser set-up of the job is named "L9"`)
	assert.Contains(t, res.Rows[3].Reason, "it has no place")
	assert.Equal(t, qa.Account{Read: 4, Assessed: 2, NotAssessed: 2}, res.Account)
	assert.Contains(t, strings.Join(res.Proved, "\n"), "laser set-up L1: levels proved by closing on BM1")
}

// A set-up that nothing proves, or that has drifted, supplies no assessed level.
func TestLaserSetupsAreProved(t *testing.T) {
	second := func(reading, p1, p2 string) string {
		return "  - {name: L2, mark: BM1, reading: " + reading + " m, grade: 1 %, bearing: 90 deg, pegs: [{name: P1, reading: " + p1 + " m}, {name: P2, reading: " + p2 + " m}]}\n"
	}
	for name, x := range map[string]struct {
		head, setups string
		bad          []string // of every set-up
		assessed     int
	}{
		"closed":            {laserHead, setup1, []string{""}, 1},
		"closed at a limit": {laserHead, strings.Replace(setup1, "1.502 m", "1.503 m", 1), []string{""}, 1},
		"closed beyond":     {laserHead, strings.Replace(setup1, "1.502 m", "1.504 m", 1), []string{"closing on BM1 is outside its limit"}, 0},
		"nothing":           {laserHead, strings.Replace(setup1, ", closing: {reading: 1.502 m}", "", 1), []string{"it has no closing reading, no peg of known level and no peg in common with another set-up"}, 0},
		"no limits":         {strings.Replace(laserHead, "laserLimits: {level: 3 mm, grade: 0.1 mm/m, source: s}\n", "", 1), setup1, []string{"the job gives no limit (laserLimits, level) to judge it by"}, 0},
		"known peg":         {laserHead, "  - {name: L1, mark: BM1, reading: 1.500 m, grade: 1 %, bearing: 90 deg, pegs: [{name: BM2, reading: 1.503 m}]}\n", []string{""}, 1},
		"known peg, off":    {laserHead, "  - {name: L1, mark: BM1, reading: 1.500 m, grade: 1 %, bearing: 90 deg, pegs: [{name: BM2, reading: 1.504 m}]}\n", []string{"level on BM2 is outside its limit"}, 0},
		"two days":          {laserHead, setup1 + second("1.600", "1.101", "1.100"), []string{"", ""}, 1},
		"drift of level":    {laserHead, setup1 + second("1.600", "1.095", "1.095"), []string{"the set-ups L1 and L2 have drifted against each other beyond the limit", "the set-ups L1 and L2 have drifted against each other beyond the limit"}, 0},
		"drift of grade":    {laserHead, setup1 + second("1.600", "1.097", "1.103"), []string{"the set-ups L1 and L2 have drifted against each other beyond the limit", "the set-ups L1 and L2 have drifted against each other beyond the limit"}, 0},
		"mark without place": {strings.Replace(laserHead, ", easting: 0 m, northing: 0 m", "", 1), setup1,
			[]string{"the mark BM1 has no place; add easting and northing to it, here or in benchMarks, or list it in places"}, 0},
		"axis to nowhere": {laserHead, strings.Replace(setup1, "bearing: 90 deg", "from: P2, to: P9", 1), []string{"P9 is neither a pit of a design, nor a mark or a peg with a place"}, 0},
		"axis by pegs":    {laserHead, strings.Replace(setup1, "bearing: 90 deg", "from: P2, to: P1", 1), []string{""}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			res := runLaser(t, x.head+"laserSetups:\n"+x.setups, "a,2.200,\n")
			var bad []string
			for _, l := range res.Lasers {
				bad = append(bad, l.Bad)
			}
			assert.Equal(t, x.bad, bad)
			assert.Equal(t, x.assessed, res.Account.Assessed)
			if x.assessed == 0 {
				assert.NotEqual(t, 0, res.ExitCode())
				assert.Contains(t, res.Rows[0].Reason, "its laser set-up L1 is not proved: "+x.bad[0])
			}
		})
	}
	// what two pegs along the axis cannot tell is not observed
	res := runLaser(t, laserHead+"laserSetups:\n"+setup1+second("1.600", "1.100", "1.100"), "a,2.200,\n")
	states := map[string]plane.State{}
	for _, c := range res.Lasers[1].Checks {
		states[c.What] = c.State
	}
	assert.Equal(t, map[string]plane.State{"closing on BM1": plane.NotObserved, "level on P1": plane.Within, "level on P2": plane.Within,
		"grade along": plane.Within, "grade across": plane.NotObserved, "direction": plane.NotObserved}, states)
}

// A laser that is turned by its sight mark says what that does at every point,
// and corrects nothing: 1 % along and 2 % across, 20 m out.
func TestTurnedLaser(t *testing.T) {
	setup := strings.Replace(setup1, "closing:", "across: 2 %, sightMark: {name: S, offset: 1 m, distance: 30 m}, closing:", 1)
	res := runLaser(t, laserHead+"laserSetups:\n"+setup, "a,2.200,\n")
	assert.Equal(t, "by its sight mark the laser is turned, and its plane here is off by -13.4 mm; not corrected", res.Rows[0].Reason)
	assert.Equal(t, "10.000", res.Rows[0].Measured.Fixed(res.Frame.Unit, 3))
}
