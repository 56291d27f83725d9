package qa_test

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func prepareDesign(t *testing.T, design string, f files) (*qa.Run, error) {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nsurveys:\n  - {file: p.csv, kind: points}\ndesigns:\n  - {name: s, file: d.xml, surface: S" + design + "}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	if err != nil {
		return nil, err
	}
	all := files{"p.csv": "Point,Easting (m),Northing (m),Level (m)\na,1,1,10.004\nb,2,2,10.006\n", "d.xml": flat}
	for k, v := range f {
		all[k] = v
	}
	return qa.Prepare(j, checks.All, all, "test")
}

// A design file that is not the one that was issued stops the run.
func TestDesignHash(t *testing.T) {
	sum := fmt.Sprintf("%X", sha256.Sum256([]byte(flat)))
	_, err := prepareDesign(t, ", sha256: "+sum, nil)
	require.NoError(t, err, "in capitals too")
	other := strings.Repeat("ab", 32)
	_, err = prepareDesign(t, ", sha256: "+other, nil)
	require.Error(t, err)
	assert.Contains(t, err.Error(), "job.yaml:8:")
	assert.Contains(t, err.Error(), "it is not the file that was issued")
	_, err = prepareDesign(t, ", sha256: abc", nil)
	assert.ErrorContains(t, err, `"abc" is no SHA-256`)
}

// The fit to another revision is shown, and judges nothing: here the other one is
// 20 mm lower.
func TestFormerRevision(t *testing.T) {
	lower := strings.ReplaceAll(strings.ReplaceAll(flat, " 10</P>", " 9.98</P>"), `name="S"`, `name="T"`)
	r, err := prepareDesign(t, ", revision: C, former: {file: old.xml, revision: B, surface: T}", files{"old.xml": lower})
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	assert.Equal(t, qa.VerdictPass, res.Verdict)
	f := res.Checks[0].Former
	require.NotNil(t, f)
	assert.Equal(t, "B", f.Revision)
	assert.InDelta(t, 25, f.Stats.MeanMm, 1e-9)
	assert.InDelta(t, 5, res.Checks[0].Stats.MeanMm, 1e-9)
	assert.Zero(t, f.Stats.WithinPercent)
	_, err = prepareDesign(t, ", revision: C, former: {file: gone.xml, revision: B}", nil)
	assert.ErrorContains(t, err, "there is no such file")
	_, err = prepareDesign(t, ", revision: B, former: {file: old.xml, revision: B}", nil)
	assert.ErrorContains(t, err, "name the revision of each file")
	r, err = prepareDesign(t, ", revision: C, former: {file: old.xml, revision: B}", files{"old.xml": lower})
	require.NoError(t, err)
	res, err = r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	assert.Equal(t, qa.VerdictIncomplete, res.Verdict, "what was asked for was not done")
	assert.Contains(t, res.Problems[0].Text, `has no surface "S"; it has "T"`)
}
