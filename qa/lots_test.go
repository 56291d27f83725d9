package qa_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

const lotFile = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"A"},"geometry":{"type":"Polygon","coordinates":[[[0,0],[5,0],[5,10],[0,10],[0,0]]]}},
{"type":"Feature","properties":{"name":"B"},"geometry":{"type":"Polygon","coordinates":[[[5,0],[10,0],[10,10],[5,10],[5,0]]]}},
{"type":"Feature","properties":{"name":"C"},"geometry":{"type":"Polygon","coordinates":[[[20,0],[30,0],[30,10],[20,10],[20,0]]]}},
{"type":"Feature","properties":{"name":"D"},"geometry":{"type":"Polygon","coordinates":[[[20,20],[30,30],[30,20],[20,30],[20,20]]]}}]}`

// Lots are judged each by itself: one with a failure, one that passes, one
// without a shot, and one whose outline crosses itself stop nobody.
func TestLots(t *testing.T) {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nsurveys:\n  - {file: p.csv, kind: points}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n" +
		"lots:\n  - polygon: {file: lots.geojson}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, files{"p.csv": "Point,Easting (m),Northing (m),Level (m)\na,1,1,10.005\nb,5,1,10.012\nc,6,1,10.010\nd,9,9,9.995\n",
		"d.xml": flat, "lots.geojson": lotFile}, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	require.Len(t, res.Lots, 4)
	assert.Equal(t, qa.VerdictFail, res.Lots[0].Verdict, "b is on the border and counts in the first lot")
	assert.Equal(t, "c: b beyond the limit by +2 mm", res.Lots[0].Worst)
	assert.Equal(t, qa.Counts{Assessed: 2, Pass: 1, Fail: 1}, res.Lots[0].Counts)
	assert.Equal(t, qa.VerdictPass, res.Lots[1].Verdict)
	assert.Equal(t, qa.Counts{Assessed: 2, Pass: 2}, res.Lots[1].Checks[0])
	assert.Equal(t, qa.VerdictIncomplete, res.Lots[2].Verdict)
	assert.Equal(t, "no shot of the job lies in it", res.Lots[2].Reason)
	assert.Equal(t, qa.VerdictIncomplete, res.Lots[3].Verdict)
	assert.Contains(t, res.Lots[3].Reason, "its outline cannot be used")
	assert.False(t, res.Complete, "a lot that cannot be used is a problem")
	assert.Equal(t, "B", res.Rows[2].Shot.Lot)
}
