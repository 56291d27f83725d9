package limits

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

func sortLengths(l []unit.Length) { slices.Sort(l) }

// Exact binomial bounds against an independent program. 20 of 20 at 95 % is the
// twentieth root of 0.05.
func TestSupportedShare(t *testing.T) {
	for _, c := range []struct {
		x, n             int
		confidence, want float64
	}{
		{20, 20, .95, 0.8608916593317348},
		{19, 20, .95, 0.7838938357931526},
		{45, 50, .95, 0.8011669974835816},
		{1, 10, .95, 0.005116196891823706},
		{999990, 1000000, .95, 0.9999830378398117},
		{9, 10, .99, 0.4956473370691987},
		{500, 1000, .9, 0.4792509908497745},
		{0, 10, .95, 0},
	} {
		got, err := SupportedShare(c.x, c.n, c.confidence)
		require.NoError(t, err)
		assert.InDelta(t, c.want, got, 1e-11, "%d of %d", c.x, c.n)
	}
	for _, bad := range [][2]int{{1, 0}, {-1, 5}, {6, 5}} {
		_, err := SupportedShare(bad[0], bad[1], .95)
		assert.Error(t, err)
	}
	_, err := SupportedShare(1, 2, 1)
	assert.ErrorIs(t, err, errShare)
}

func TestRemark(t *testing.T) {
	assert.Equal(t, "20 of 20 supports 86.1 %: with 95 % confidence at least so much of the whole is within limits, if the points were taken at random", Remark(20, 20))
	assert.Contains(t, Remark(0, 5), "0 of 5 supports 0.0 %")
	assert.Contains(t, Remark(1, 1), "1 of 1 supports 5.0 %")
	assert.Contains(t, Remark(1_000_000, 1_000_000), "supports 99.9997 %", "never 100 for less")
	assert.Empty(t, Remark(0, 0))
	assert.Equal(t, "100.0", percentText(100, 1))
	assert.Equal(t, "99.96", percentText(99.96, 1))
}

// The bound is what it is called: at that share, so many good ones or more
// happen with the probability 1 - confidence. Sums of the binomial itself.
func TestSupportedShareIsTheBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		x := rapid.IntRange(1, n).Draw(t, "x")
		confidence := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		p, err := SupportedShare(x, n, confidence)
		if err != nil {
			t.Fatal(err)
		}
		tail := 0.0
		for k := x; k <= n; k++ {
			a, _ := math.Lgamma(float64(n + 1))
			b, _ := math.Lgamma(float64(k + 1))
			c, _ := math.Lgamma(float64(n - k + 1))
			tail += math.Exp(a - b - c + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
		}
		if math.Abs(tail-(1-confidence)) > 1e-9 {
			t.Fatalf("%d of %d: at %v the tail is %v", x, n, p, tail)
		}
		if p >= float64(x)/float64(n) && confidence > 0.6 {
			t.Fatal("the bound is above the share seen")
		}
		if x < n {
			if more, _ := SupportedShare(x+1, n, confidence); more <= p {
				t.Fatal("one more good one supports no more")
			}
		}
	})
}

// Percent within limits against an independent program's beta distribution.
func TestPercentWithin(t *testing.T) {
	for _, c := range []struct {
		q    float64
		n    int
		want float64
	}{
		{1.4348, 4, 97.82666666666667}, {0.48, 5, 66.87504055671415}, {1, 3, 83.33333333333333},
		{2, 10, 98.82882483513872}, {-0.3, 7, 38.869077256295135}, {1.2, 30, 88.57787458914882},
		{0, 12, 50}, {10, 5, 100}, {-10, 5, 0},
	} {
		got, err := PercentWithin(c.q, c.n)
		require.NoError(t, err)
		assert.InDelta(t, c.want, got, 1e-9, c)
	}
	// with many values it is the normal distribution
	got, err := PercentWithin(1.5, 100_000)
	require.NoError(t, err)
	assert.InDelta(t, 100*normalBelow(1.5), got, 1e-3)
	_, err = PercentWithin(1, 2)
	assert.ErrorContains(t, err, "at least 3")
	_, err = PercentWithin(math.NaN(), 5)
	assert.Error(t, err)
}

func TestPercentWithinRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 300).Draw(t, "n")
		q := rapid.Float64Range(-4, 4).Draw(t, "Q")
		more := q + rapid.Float64Range(0, 2).Draw(t, "more")
		a, err := PercentWithin(q, n)
		if err != nil {
			t.Fatal(err)
		}
		b, err := PercentWithin(more, n)
		if err != nil || b < a-1e-9 || a < 0 || b > 100 {
			t.Fatalf("Q %v: %v, Q %v: %v %v", q, a, more, b, err)
		}
		mirrored, _ := PercentWithin(-q, n)
		if math.Abs(a+mirrored-100) > 1e-8 {
			t.Fatalf("Q %v: %v and %v", q, a, mirrored)
		}
	})
}
