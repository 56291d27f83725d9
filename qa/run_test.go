package qa_test

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/all"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// files are the files of a job in memory.
type files map[string]string

func (f files) Exists(name string) error {
	if _, ok := f[name]; !ok {
		return fs.ErrNotExist
	}
	return nil
}

func (f files) Decode(name string, opt formats.Options) (*formats.Document, qa.Input, error) {
	text, ok := f[name]
	if !ok {
		return nil, qa.Input{}, errors.New("not there")
	}
	format, err := all.Find(name, []byte(text))
	if err != nil {
		return nil, qa.Input{}, err
	}
	d, err := format.Decode(strings.NewReader(text), name, opt)
	return d, qa.Input{File: name, SHA256: fmt.Sprintf("%x", sha256.Sum256([]byte(text)))}, err
}

const flat = `<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Metric linearUnit="meter"/></Units><Surfaces><Surface name="S"><Definition surfType="TIN"><Pnts>` +
	`<P id="1">0 0 10</P><P id="2">0 100 10</P><P id="3">100 0 10</P></Pnts><Faces><F>1 2 3</F></Faces></Definition></Surface></Surfaces></LandXML>`

func runJob(t *testing.T, head, shots, points string, more files) *qa.Result {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\n" + head + "surveys:\n  - {file: p.csv, kind: points, exclude: [{names: [X*], reason: rain}]}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {upper: 10 mm, source: t}" + shots + "}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	f := files{"p.csv": "Point,Easting (m),Northing (m),Level (m),Code\n" + points, "d.xml": flat}
	for k, v := range more {
		f[k] = v
	}
	r, err := qa.Prepare(j, checks.All, f, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	assert.True(t, res.Account.Balances(), "%+v", res.Account)
	return res
}

const marks = "benchMarks:\n  - {name: BM1, level: 10.500 m, easting: 5 m, northing: 5 m, source: s, date: 2026-01-01}\n"

// The verdict of a run: fail before incomplete before pass, and nothing passes
// by accident.
func TestVerdicts(t *testing.T) {
	for name, x := range map[string]struct {
		head, shots, points string
		verdict             qa.Verdict
		exit                int
		account             qa.Account
	}{
		"pass":          {points: "a,1,1,10.010,\nb,2,2,3,\n", verdict: qa.VerdictPass, exit: 0, account: qa.Account{Read: 2, Assessed: 2}},
		"fail":          {points: "a,1,1,10.011,\nb,2,2,10,\n", verdict: qa.VerdictFail, exit: 1, account: qa.Account{Read: 2, Assessed: 2}},
		"outside":       {points: "a,1,1,10,\nb,200,2,10,\n", verdict: qa.VerdictIncomplete, exit: 2, account: qa.Account{Read: 2, Assessed: 1, NotAssessed: 1}},
		"fail, outside": {points: "a,1,1,11,\nb,200,2,10,\n", verdict: qa.VerdictFail, exit: 2, account: qa.Account{Read: 2, Assessed: 1, NotAssessed: 1}},
		"nothing":       {points: "", verdict: qa.VerdictIncomplete, exit: 2},
		"all kinds":     {head: marks, points: "BM1,5,5,10.500,\na,1,1,10,\nX1,1,1,99,\n,,,,\nbad,1,1,1O,\n", verdict: qa.VerdictIncomplete, exit: 2, account: qa.Account{Read: 5, Assessed: 1, Control: 1, Excluded: 1, NotAssessed: 1, Blank: 1}},
		"unselected":    {shots: ", shots: {codes: [PAD]}", points: "a,1,1,10,PAD\nb,1,1,10,OTHER\n", verdict: qa.VerdictIncomplete, exit: 2, account: qa.Account{Read: 2, Assessed: 1, NotAssessed: 1}},
		"polygon":       {shots: ", shots: {polygon: {corners: [[0 m, 0 m], [3 m, 0 m], [3 m, 3 m], [0 m, 3 m]]}}", points: "a,3,3,10,\nb,3.001,3,10,\n", verdict: qa.VerdictIncomplete, exit: 2, account: qa.Account{Read: 2, Assessed: 1, NotAssessed: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			res := runJob(t, x.head, x.shots, x.points, nil)
			assert.Equal(t, x.verdict, res.Verdict)
			assert.Equal(t, x.exit, res.ExitCode())
			assert.Equal(t, x.account, res.Account)
		})
	}
}

// Check shots on known marks prove a point file, disprove it, or are missing.
func TestCheckShots(t *testing.T) {
	limits := marks + "checkShots: {level: 10 mm, plan: 20 mm, source: s}\n"
	for name, x := range map[string]struct {
		head, mark, proved string
		assessed           int
	}{
		"proved at the limit": {limits, "BM1,5.012,5.016,10.510,\n", "levels proved by 1 shots", 1},
		"level off":           {limits, "BM1,5,5,10.511,\n", "1 of 1 check shots on known marks are outside", 0},
		"plan off":            {limits, "BM1,5.013,5.016,10.500,\n", "1 of 1 check shots on known marks are outside", 0},
		"none":                {limits, "", "levels not proved: no shot on a known mark", 1},
		"no limit":            {marks, "BM1,5,5,10.9,\n", "gives no limit (checkShots) to judge their levels", 1},
	} {
		t.Run(name, func(t *testing.T) {
			res := runJob(t, x.head, "", "a,1,1,10,\n"+x.mark, nil)
			assert.Contains(t, strings.Join(res.Proved, "\n"), x.proved)
			assert.Equal(t, x.assessed, res.Account.Assessed)
		})
	}
}

// Polygons of a file are each their own: one inside another makes no hole.
func TestPolygonsOfAFile(t *testing.T) {
	square := func(name, a, b string) string {
		return `{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[` + a + "," + a + "],[" + b + "," + a + "],[" + b + "," + b + "],[" + a + "," + b + "],[" + a + "," + a + `]]]},"properties":{"name":"` + name + `"}}`
	}
	lots := `{"type":"FeatureCollection","features":[` + square("L1", "0", "10") + "," + square("L2", "2", "4") + "]}"
	res := runJob(t, "", ", shots: {polygon: {file: lots.geojson}}", "a,3,3,10,\nb,9,9,10,\nc,11,1,10,\n", files{"lots.geojson": lots})
	assert.Equal(t, 2, res.Account.Assessed)
	res = runJob(t, "", ", shots: {polygon: {file: lots.geojson, name: L2}}", "a,3,3,10,\nb,9,9,10,\n", files{"lots.geojson": lots})
	assert.Equal(t, 1, res.Account.Assessed)
	res = runJob(t, "", ", shots: {polygon: {file: lots.geojson, name: L3}}", "a,3,3,10,\n", files{"lots.geojson": lots})
	assert.Equal(t, 0, res.Account.Assessed)
	require.Len(t, res.Problems, 1)
	assert.Contains(t, res.Problems[0].Text, `has no polygon named "L3"`)
}

// The figures of the 15 differences of which a note computed the statistics:
// computed there, no published source.
func TestStatistics(t *testing.T) {
	var points strings.Builder
	for _, z := range []string{"9.988", "9.992", "9.995", "9.997", "10.000", "10.002", "10.004", "10.006", "10.009", "10.011", "10.014", "10.018", "10.023", "10.027", "9.969"} {
		points.WriteString("p,1,1," + z + ",\n")
	}
	s := runJob(t, "", "", points.String(), nil).Checks[0].Stats
	assert.Equal(t, 15, s.N)
	assert.InDelta(t, 3.67, s.MeanMm, 0.005)
	assert.InDelta(t, 14.73, s.SdMm, 0.005)
	assert.InDelta(t, 14.69, s.RmsMm, 0.005)
	assert.Equal(t, -31.0, s.MinMm)
	assert.Equal(t, 27.0, s.MaxMm)
}
