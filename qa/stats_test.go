package qa_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
)

func statsOf(t *testing.T, points string) *qa.CheckResult {
	t.Helper()
	res := runAccept(t, strings.Replace(acceptJob("", false), "lower: -10 mm, upper: 10 mm", "lower: -30 mm, upper: 20 mm", 1), points)
	return &res.Checks[0]
}

// Fifteen differences against −30 / +20 mm, worked by hand; no published source:
// mean 3.67, standard deviation 14.73, RMS 14.69 mm, 12 in, which is 80.0 %; 23,
// 27 and −31 are out. The median is the eighth, 4 mm; the quartiles are by the
// definition that is printed, at places 4 and 12 of 16.
func TestStatisticsOfFifteen(t *testing.T) {
	c := statsOf(t, shotsOf("23 -12 -8 -5 -3 0 2 4 6 9 11 14 18 27 -31", ""))
	s := &c.Stats
	assert.Equal(t, 15, s.N)
	assert.InDelta(t, 3.67, s.MeanMm, 0.005)
	assert.InDelta(t, 14.73, s.SdMm, 0.005)
	assert.InDelta(t, 14.69, s.RmsMm, 0.005)
	assert.Equal(t, 12, s.Within)
	assert.InDelta(t, 80, s.WithinPercent, 1e-12)
	assert.Equal(t, -31.0, s.MinMm)
	assert.Equal(t, 27.0, s.MaxMm)
	assert.Equal(t, 4.0, s.MedianMm())
	assert.Equal(t, []float64{-31, -5, 4, 14, 27}, s.Quantiles)
	assert.False(t, s.Coarse)
	assert.Equal(t, 2, s.High)
	assert.Equal(t, 1, s.Low)
	assert.Equal(t, 2, s.RunOfFailures, "27 and -31 stand side by side")
	assert.Contains(t, s.RunOrder, "in the order of the files")
}

// Neighbours are so in one run: the last of a run and the first of the next are
// none.
func TestRunOfFailuresEndsWithItsRun(t *testing.T) {
	head := "Point,Easting (m),Northing (m),Level (m),Run,Chainage (m),Offset (m)\n"
	c := statsOf(t, head+"a,1,1,10.03,A,2,0\nb,1,1,10.03,A,1,0\nc,1,1,10.03,B,1,0\nd,1,1,10,B,2,0\ne,1,1,10.03,A,9,0\nf,1,1,10,A,5,0\n")
	assert.Equal(t, 2, c.Stats.RunOfFailures)
	c = statsOf(t, head+"a,1,1,10.03,A,2,0\nb,1,1,,A,3,0\nc,1,1,10.03,A,4,0\n")
	assert.Equal(t, 2, c.Stats.RunOfFailures, "what was not assessed is left out")
}

// With more values than are kept the quantiles are of whole millimetres, and the
// run of failures is not worked out.
func TestStatisticsOfManyValues(t *testing.T) {
	var b strings.Builder
	b.WriteString("Point,Easting (m),Northing (m),Level (m)\n")
	n := qa.MaxValues + 1000
	for i := range n {
		fmt.Fprintf(&b, "p,1,1,%.4f\n", 10+float64(i%201-100)/10_000)
	}
	s := &statsOf(t, b.String()).Stats
	assert.Equal(t, n, s.N)
	assert.True(t, s.Coarse)
	assert.Equal(t, -1, s.RunOfFailures)
	require.Len(t, s.Quantiles, len(qa.QuantilePercents))
	for i, want := range []float64{-9, -5, 0, 5, 9} {
		assert.Equal(t, want, s.Quantiles[i])
	}
	none := qa.Stats{}
	assert.True(t, math.IsNaN(none.MedianMm()))
}
