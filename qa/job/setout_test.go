package job

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/unit"
)

const setoutJob = `project: P
units: m
grid: local site
heightDatum: D
surveyDate: 2026-03-04
benchMarks:
  - {name: BM1, level: 10 m, source: s, date: d}
laserSetups:
  - {name: L1, date: 2026-03-05, mark: BM1, reading: 1.5 m, grade: -1 %, bearing: 90 deg}
designs:
  - {name: drain, file: d.xml, network: N}
  - {name: pad, file: d.xml, surface: S}
setout:
  - name: run
    design: drain
    pipes: [P1, P2]
    chainageFrom: downstream
    from: 0 m
    to: 50 m
    every: 5 m
    station: 100 m
    wall: 12 mm
    bedding: 100 mm
    laser: L1
    receiver: 2.2 m
    traveller: 3 m
    travellerOn: trenchBottom
    ground: {file: g.csv, unit: m}
  - name: pad
    design: pad
    date: 2026-03-06
    offset: -0.450 m
    points: {file: pegs.csv}
    spacing: 5 m
    outline: true
    ground: {surface: pad}
`

func TestSetoutKeys(t *testing.T) {
	j, err := Load("job.yaml", []byte(setoutJob), testKinds)
	require.NoError(t, err, "a job may be for setting out only")
	require.Len(t, j.Setout, 2)
	run, pad := &j.Setout[0], &j.Setout[1]
	assert.True(t, run.Run())
	assert.False(t, pad.Run())
	assert.Equal(t, []string{"P1", "P2"}, run.Pipes)
	assert.Equal(t, 5*unit.Metre, run.Every.Length)
	assert.Equal(t, OnTrenchFloor, run.TravellerOn)
	assert.Equal(t, "g.csv", run.Ground.File)
	assert.Equal(t, unit.M, run.Ground.Declared())
	assert.Equal(t, -450*unit.Millimetre, pad.Offset.Length)
	assert.Equal(t, "pegs.csv", pad.Points.File)
	assert.Equal(t, "pad", pad.Ground.Surface)
	assert.Equal(t, "2026-03-06", pad.Date)
	assert.Equal(t, 16, j.Where("setout[0].pipes").Row)
}

func TestWrongSetout(t *testing.T) {
	for name, x := range map[string]struct{ old, new, at, text string }{
		"nothing at all":           {setoutJob[strings.Index(setoutJob, "setout:"):], "", "1:1", `the job asks for nothing; add "checks:" for what is judged, or "setout:" for what is set out`},
		"no such design":           {"design: drain\n", "design: drian\n", "15:13", `no design is named "drian"; the designs of this job are "drain" or "pad"; did you mean "drain"?`},
		"pipes of a surface":       {"design: drain\n", "design: pad\n", "15:13", `the design "pad" (line 12) is no pipe network`},
		"pad of a network":         {"design: pad\n", "design: drain\n", "30:13", `does not say which of its pipes; add "pipes:"`},
		"no such laser":            {"laser: L1", "laser: L2", "24:12", `no laser set-up is named "L2"; the set-ups of this job are "L1"`},
		"no laser":                 {"    laser: L1\n", "", "24:15", `a receiver works on a laser plane, and the sheet has none`},
		"ground is no surface":     {"ground: {surface: pad}", "ground: {surface: drain}", "36:23", `the design "drain" (line 11) is no surface`},
		"ground twice":             {"ground: {file: g.csv,", "ground: {surface: pad, file: g.csv,", "28:34", "the ground has a surface and a file; keep one of them"},
		"ground from nowhere":      {"ground: {file: g.csv, unit: m}", "ground: {unit: m}", "28:5", `add "surface:" with the name of a design, or "file:"`},
		"how, and no file":         {"ground: {surface: pad}", "ground: {surface: pad, unit: m}", "36:23", "how a file is read is said here, and there is no file"},
		"no step":                  {"    every: 5 m\n", "", "14:5", `the sheet "run" does not say how far apart its chainages are`},
		"step of nought":           {"every: 5 m", "every: 0 m", "20:12", "this length is more than nought"},
		"backwards":                {"from: 0 m", "from: 51 m", "18:11", `exchange "from" and "to"`},
		"before the beginning":     {"from: 0 m", "from: -1 m", "18:11", "a run begins at chainage nought"},
		"bedding":                  {"bedding: 100 mm", "bedding: -1 mm", "23:14", "a thickness has no minus sign"},
		"pipe twice":               {"[P1, P2]", "[P1, P1]", "16:17", `the pipe "P1" is listed twice`},
		"pad key on a run":         {"every: 5 m", "every: 5 m\n    offset: 1 m", "21:13", "this key is for a pad"},
		"run key on a pad":         {"outline: true", "outline: true\n    bedding: 1 mm", "36:14", `this key is for a run of pipes, and the sheet has no "pipes:"`},
		"nothing to set out":       {"    points: {file: pegs.csv}\n    spacing: 5 m\n    outline: true\n", "", "29:5", "does not say what is set out"},
		"traveller on the pipe":    {"travellerOn: trenchBottom", "travellerOn: top", "27:18", `a traveller stands on the "invert" or the "trenchBottom", not on "top"`},
		"stands, and no traveller": {"    traveller: 3 m\n", "", "26:18", "there is no traveller"},
		"same name":                {"name: pad\n    design: pad", "name: run\n    design: pad", "29:11", `there is a set-out sheet "run" in line 14 already`},
	} {
		t.Run(name, func(t *testing.T) {
			require.Contains(t, setoutJob, x.old)
			_, err := Load("job.yaml", []byte(strings.Replace(setoutJob, x.old, x.new, 1)), testKinds)
			require.Error(t, err)
			assert.Contains(t, err.Error(), x.text)
			assert.True(t, strings.HasPrefix(err.Error(), "job.yaml:"+x.at+":"), "%s", err)
		})
	}
	undated := strings.Replace(strings.Replace(setoutJob, "surveyDate: 2026-03-04\n", "", 1), "    date: 2026-03-06\n", "", 1)
	_, err := Load("job.yaml", []byte(undated), testKinds)
	require.ErrorContains(t, err, `job.yaml:28:5: setout: the sheet has no date`)
	assert.NotContains(t, err.Error(), "13:5", "the run has the date of its laser")
}
