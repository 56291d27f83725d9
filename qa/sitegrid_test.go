package qa_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

// A site grid that is turned by a quarter: site (x, y) lies at grid (500000 − y,
// 5800000 + x) of EPSG:7855, at scale 1.
func runSite(t *testing.T, siteGrid string) *qa.Result {
	text := "project: P\nunits: m\ngrid: local site\nheightDatum: D\nsiteGrid:\n  grid: EPSG:7855\n  source: control sheet\n" + siteGrid +
		"surveys:\n  - {file: p.csv, kind: points}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n" +
		"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {lower: -10 mm, upper: 10 mm, source: t}}\n"
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(t, err)
	r, err := qa.Prepare(j, checks.All, files{"p.csv": "Point,Easting (m),Northing (m),Level (m)\na,1,1,10\n", "d.xml": flat}, "test")
	require.NoError(t, err)
	res, err := r.Each(func([]qa.Row) error { return nil })
	require.NoError(t, err)
	return res
}

func control(lines ...string) string {
	return "  control:\n" + strings.Join(lines, "")
}

func point(name, x, y, e, n string) string {
	return "    - {name: " + name + ", easting: " + x + " m, northing: " + y + " m, gridEasting: " + e + " m, gridNorthing: " + n + " m}\n"
}

func TestSiteGrid(t *testing.T) {
	good := []string{point("A", "0", "0", "500000", "5800000"), point("B", "100", "0", "500000", "5800100"), point("C", "0", "100", "499900", "5800000"), point("D", "100", "100", "499900", "5800100")}
	res := runSite(t, control(good...))
	require.Empty(t, res.Problems)
	require.NotNil(t, res.Site)
	assert.InDelta(t, 1, res.Site.Fit.Scale, 1e-9)
	assert.Empty(t, res.Earth.Why())
	assert.Contains(t, res.Earth.Words(), "from the local grid by its control in EPSG:7855")
	_, lat, ok, note := res.Earth.Place(&res.Frame, res.Rows[0].Shot.Place)
	assert.True(t, ok, note)
	assert.InDelta(t, -37.95, lat, 0.1)

	// one point 200 mm off is named, and nothing is placed by it
	bad := append(append([]string(nil), good...), point("E", "50", "50", "499950.200", "5800050"), point("F", "20", "80", "499920", "5800020"))
	res = runSite(t, control(bad...))
	require.Len(t, res.Problems, 1)
	assert.Contains(t, res.Problems[0].Text, "E does not fit the other points")
	assert.NotEmpty(t, res.Earth.Why())
	assert.Equal(t, qa.VerdictIncomplete, res.Verdict)

	// the combined factor at the central meridian is 0.9996: the site has grid
	// distances, and ground distances are told apart from them
	res = runSite(t, "  height: 100 m\n  heightWithin: 5 m\n"+control(good...))
	require.Empty(t, res.Problems)
	assert.Contains(t, res.Site.Scale, "grid distances")
	assert.InDelta(t, 0.9996, res.Site.Combined, 0.0001)
}

func TestSiteGridKeys(t *testing.T) {
	for text, want := range map[string]string{
		"grid: EPSG:7855\nsiteGrid: {grid: EPSG:7855, source: s, control: [{name: A, easting: 0 m, northing: 0 m, gridEasting: 0 m, gridNorthing: 0 m}, {name: B, easting: 0 m, northing: 0 m, gridEasting: 0 m, gridNorthing: 0 m}]}\n":    "needs no fit",
		"grid: local site\nsiteGrid: {grid: local other, source: s, control: [{name: A, easting: 0 m, northing: 0 m, gridEasting: 0 m, gridNorthing: 0 m}, {name: A, easting: 0 m, northing: 0 m, gridEasting: 0 m, gridNorthing: 0 m}]}\n": "must be known in a grid of EPSG",
		"grid: local site\nshift: EPSG:1314\n": "a local grid has no datum to shift",
		"grid: local site\nsiteGrid: {grid: EPSG:7855, scale: 2, source: s, control: [{name: A, easting: 0 m, northing: 0 m, gridEasting: 0 m, gridNorthing: 0 m}, {name: B, easting: 0 m, northing: 0 m, gridEasting: 0 m, gridNorthing: 0 m}]}\n": `"2" is no scale of a site grid`,
	} {
		_, err := job.Load("job.yaml", []byte("project: P\nunits: m\nheightDatum: D\n"+text+"surveys:\n  - {file: p.csv, kind: points}\ndesigns:\n  - {name: s, file: d.xml, surface: S}\n"+
			"checks:\n  - surface: {name: c, element: e, design: s, tolerance: {upper: 10 mm, source: t}}\n"), checks.Kinds())
		assert.ErrorContains(t, err, want)
	}
}
