package crs

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
)

// laid are control points of a site under a known similarity, with normal errors
// of sd metres in the grid.
func laid(n int, scale, turn, sd float64, seed uint64) []Control {
	r := rand.New(rand.NewPCG(seed, 1))
	s, c := math.Sincos(turn)
	var list []Control
	for i := range n {
		x, y := 1000+400*math.Cos(2.4*float64(i))*math.Sqrt(float64(i)+0.5), 2000+400*math.Sin(2.4*float64(i))*math.Sqrt(float64(i)+0.5)
		list = append(list, Control{
			Name: fmt.Sprintf("P%d", i+1), X: x, Y: y,
			E: 389123 + scale*(c*x-s*y) + sd*r.NormFloat64(), N: 5812345 + scale*(s*x+c*y) + sd*r.NormFloat64(),
		})
	}
	return list
}

// A similarity without errors comes back, whatever it is, and its inverse.
func TestSimilarityComesBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		scale := rapid.Float64Range(0.3, 3.3).Draw(r, "scale")
		turn := rapid.Float64Range(-math.Pi, math.Pi).Draw(r, "turn")
		c := laid(rapid.IntRange(2, 9).Draw(r, "n"), scale, turn, 0, 1)
		g, err := FitSite(c, Options{})
		require.NoError(r, err)
		require.InEpsilon(r, scale, g.Scale, 1e-11)
		require.InDelta(r, 0, math.Remainder(turn-g.Rotation, 2*math.Pi), 1e-11)
		for _, v := range g.Residuals {
			require.InDelta(r, 0, math.Hypot(v.East, v.North), 1e-7)
		}
		x, y := rapid.Float64Range(-1e4, 1e4).Draw(r, "x"), rapid.Float64Range(-1e4, 1e4).Draw(r, "y")
		e, n := g.ToGrid(x, y)
		require.InDelta(r, g.A*x-g.B*y+g.E0, e, 1e-7)
		require.InDelta(r, g.B*x+g.A*y+g.N0, n, 1e-7)
		bx, by := g.FromGrid(e, n)
		require.InDelta(r, x, bx, 1e-7)
		require.InDelta(r, y, by, 1e-7)
		h, err := FitSite(c, Options{Scale: 1})
		require.NoError(r, err)
		require.InDelta(r, 1, h.Scale, 1e-15)
		require.InDelta(r, 0, math.Remainder(turn-h.Rotation, 2*math.Pi), 1e-11)
	})
}

// The fit is the one of least squares: no other turn, scale or shift has a
// smaller sum.
func TestFitIsLeast(t *testing.T) {
	sum := func(c []Control, a, b, e0, n0 float64) (s float64) {
		for _, p := range c {
			de, dn := a*p.X-b*p.Y+e0-p.E, b*p.X+a*p.Y+n0-p.N
			s += de*de + dn*dn
		}
		return s
	}
	for seed := range uint64(20) {
		c := laid(6, 0.9996, 0.3, 0.02, seed)
		for _, held := range []float64{0, 1} {
			g, err := FitSite(c, Options{Scale: held})
			require.NoError(t, err)
			best := sum(c, g.A, g.B, g.E0, g.N0)
			assert.InEpsilon(t, best, g.PlanSD*g.PlanSD*float64(g.PlanDoF), 1e-5)
			for _, d := range []float64{-1e-5, 1e-5} {
				s, co := math.Sincos(d) // turned about the middle
				a, b := g.A*co-g.B*s, g.B*co+g.A*s
				assert.Greater(t, sum(c, a, b, g.em-a*g.xm+b*g.ym, g.nm-b*g.xm-a*g.ym), best)
				assert.Greater(t, sum(c, g.A, g.B, g.E0+1000*d, g.N0), best)
				assert.Greater(t, sum(c, g.A, g.B, g.E0, g.N0+1000*d), best)
				if held == 0 {
					k := 1 + d
					assert.Greater(t, sum(c, k*g.A, k*g.B, g.em-k*(g.a*g.xm-g.b*g.ym), g.nm-k*(g.b*g.xm+g.a*g.ym)), best)
				}
			}
		}
	}
}

// The standard deviation of the scale against 2000 random sites.
func TestScaleDeviation(t *testing.T) {
	var sum, want float64
	const n = 2000
	for seed := range uint64(n) {
		g, err := FitSite(laid(6, 1, 0.3, 0.02, seed), Options{Plan: 0.02})
		require.NoError(t, err)
		sum += (g.Scale - 1) * (g.Scale - 1)
		want = g.ScaleSD
	}
	assert.InEpsilon(t, want, math.Sqrt(sum/n), 0.06)
}

// One wrong point is named, a good set is not accused, and few points accuse no
// one. The chances are those of the test: 0.1 % of good points.
func TestOutlierInPlan(t *testing.T) {
	type tally map[Finding]int
	trial := func(n int, o Options, slip float64) (got tally, right int) {
		got = tally{}
		for seed := range uint64(1000) {
			c := laid(n, 0.9996, 1.1, 0.01, seed)
			at := int(seed) % n
			c[at].E += slip * math.Cos(float64(seed))
			c[at].N += slip * math.Sin(float64(seed))
			g, err := FitSite(c, o)
			require.NoError(t, err)
			got[g.PlanTest.Finding]++
			if g.PlanTest.Finding == OneStands && g.PlanTest.Names[0] == c[at].Name {
				right++
			}
		}
		return got, right
	}
	for _, o := range []Options{{}, {Scale: 0.9996}, {Plan: 0.01}, {Plan: 0.01, Scale: 0.9996}} {
		name := fmt.Sprintf("%+v", o)
		// good control
		for _, n := range []int{5, 8, 15} {
			got, _ := trial(n, o, 0)
			accused := got[OneStands] + got[SomeStands]
			assert.LessOrEqual(t, accused, 3*n, "%s: %d points, 0.1 %% of each", name, n)
			if o.Plan == 0 {
				assert.Zero(t, got[Disagrees])
			}
		}
		// 150 mm where 10 mm is usual
		for _, n := range []int{8, 15} {
			got, right := trial(n, o, 0.15)
			assert.GreaterOrEqual(t, right, 980, "%s, %d points: %v", name, n, got)
			assert.LessOrEqual(t, got[OneStands]-right, 2, "%s: an innocent point is named", name)
		}
		// three points: the slip is there, and no one can say where, but with the
		// scale and the deviation known: then two that are right keep their distance
		got, right := trial(3, o, 0.15)
		if o.Scale == 0 || o.Plan == 0 {
			assert.Zero(t, got[OneStands], "%s: %v", name, got)
		}
		assert.LessOrEqual(t, got[OneStands]-right, 2, "%s: %v, %d right", name, got, right)
		// two: nothing is checked but, with the scale held, the distance
		got, _ = trial(2, o, 0.15)
		assert.Zero(t, got[OneStands], "%s: %v", name, got)
	}
	// what is called visible is found half the time at the least checked point,
	// more often at the others
	for _, o := range []Options{{Plan: 0.01}, {Plan: 0.01, Scale: 0.9996}} {
		g, err := FitSite(laid(9, 0.9996, 1.1, 0.01, 1), o)
		require.NoError(t, err)
		got, _ := trial(9, o, g.PlanTest.Visible)
		assert.InDelta(t, 650, 1000-got[Agrees], 200, "%v", got)
	}
	// four points with a stated deviation tell, without it they need a gross slip
	got, right := trial(4, Options{Plan: 0.01}, 0.15)
	assert.GreaterOrEqual(t, right+got[SomeStands], 900, "%v", got)
	_, right = trial(4, Options{}, 0.15)
	assert.Less(t, right, 500)
	_, right = trial(4, Options{}, 30)
	assert.Greater(t, right, 950)
}

func TestSentencesOfTests(t *testing.T) {
	c := laid(3, 0.9996, 1.1, 0, 1)
	c[1].E += 0.2
	g, err := FitSite(c, Options{})
	require.NoError(t, err)
	assert.Equal(t, NotTested, g.PlanTest.Finding)
	assert.Regexp(t, `^plan: with 3 points a wrong one cannot be told from the others; the residuals have a standard deviation of \d+\.\d mm, and whether that is good is for the user to say$`, g.PlanTest.Sentence)
	g, err = FitSite(c, Options{Plan: 0.01})
	require.NoError(t, err)
	assert.Equal(t, SomeStands, g.PlanTest.Finding)
	assert.Equal(t, []string{"P1", "P2", "P3"}, g.PlanTest.Names)
	assert.Equal(t, "plan: one of P1, P2, P3 is wrong (a chance of 0.1 %), but with 3 points it cannot be told which; measure one more", g.PlanTest.Sentence)

	g, err = FitSite(c[:2], Options{})
	require.NoError(t, err)
	assert.Equal(t, Test{Sentence: "plan: 2 points fit whatever their coordinates; without a further point nothing checks them"}, g.PlanTest)
	assert.Zero(t, g.PlanDoF)
	assert.Zero(t, g.ScaleSD)

	c = laid(7, 0.9996, 1.1, 0.004, 1)
	g, err = FitSite(c, Options{})
	require.NoError(t, err)
	assert.Equal(t, Agrees, g.PlanTest.Finding)
	assert.Regexp(t, `^plan: no point stands out \(a chance of 0.1 %\); standard deviation \d\.\d mm, and a slip of less than \d+ mm may not show$`, g.PlanTest.Sentence)
	c[3].N -= 0.2
	g, err = FitSite(c, Options{})
	require.NoError(t, err)
	assert.Equal(t, OneStands, g.PlanTest.Finding)
	assert.Equal(t, []string{"P4"}, g.PlanTest.Names)
	assert.Equal(t, "plan: P4 does not fit the other points (a chance of 0.1 %); check it, or leave it out", g.PlanTest.Sentence)
	c[6].E += 0.3
	c[0].E -= 0.25
	g, err = FitSite(c, Options{Plan: 0.004})
	require.NoError(t, err)
	assert.Equal(t, Disagrees, g.PlanTest.Finding)
	assert.Regexp(t, `^plan: the points disagree by \d+\.\d mm where 4.0 mm is stated, and no one of them explains it$`, g.PlanTest.Sentence)

	// coordinates written to the millimetre do not accuse each other
	c = laid(8, 1, 0, 0, 1)
	c[2].E += 0.0009
	g, err = FitSite(c, Options{})
	require.NoError(t, err)
	assert.Equal(t, Agrees, g.PlanTest.Finding)
}

func levelled(c []Control, mm ...int) []Control {
	for i, v := range mm {
		c[i].Levelled = true
		c[i].Level = unit.Length(i) * unit.Metre
		c[i].Height = c[i].Level + 11*unit.Metre + unit.Length(v)*unit.Millimetre
	}
	return c
}

func TestLevels(t *testing.T) {
	c := levelled(laid(8, 1, 0, 0, 1), 2, -1, 0, 1, -2, 1, 0)
	g, err := FitSite(c, Options{Vertical: LevelShift})
	require.NoError(t, err)
	shift, err := g.LevelShift(0, 0)
	require.NoError(t, err)
	assert.Equal(t, unit.MulDiv(78*unit.Metre+unit.Millimetre-unit.Metre, 1, 7), shift, "the mean, rounded once")
	assert.Equal(t, 6, g.LevelDoF)
	assert.Equal(t, Agrees, g.LevelTest.Finding)
	assert.False(t, g.Residuals[7].Levelled)
	assert.InDelta(t, shift.Metres()-11.002, g.Residuals[0].Level, 1e-12)

	c = levelled(c, 2, -1, 0, 50, -2, 1, 0)
	g, err = FitSite(c, Options{Vertical: LevelShift})
	require.NoError(t, err)
	assert.Equal(t, []string{"P4"}, g.LevelTest.Names)
	assert.Equal(t, "level: P4 does not fit the other points (a chance of 0.1 %); check it, or leave it out", g.LevelTest.Sentence)
	g, err = FitSite(c, Options{Vertical: LevelShiftAndTilt, Levels: 0.002})
	require.NoError(t, err)
	assert.Equal(t, []string{"P4"}, g.LevelTest.Names)

	// two levels: one is wrong, but which
	two := levelled(laid(2, 1, 0, 0, 1), 0, 40)
	g, err = FitSite(two, Options{Vertical: LevelShift, Levels: 0.002})
	require.NoError(t, err)
	assert.Equal(t, SomeStands, g.LevelTest.Finding)
	assert.Equal(t, "level: one of P1, P2 is wrong (a chance of 0.1 %), but with 2 points it cannot be told which; measure one more", g.LevelTest.Sentence)
	g, err = FitSite(levelled(laid(2, 1, 0, 0, 1), 0), Options{Vertical: LevelShift})
	require.NoError(t, err)
	assert.Equal(t, "level: 1 point fit whatever their coordinates; without a further point nothing checks them", g.LevelTest.Sentence)

	// levels are left alone unless asked for
	g, err = FitSite(c, Options{})
	require.NoError(t, err)
	assert.Equal(t, Test{}, g.LevelTest)
	shift, err = g.LevelShift(5, 5)
	require.NoError(t, err)
	assert.Zero(t, shift)
	assert.False(t, g.Residuals[0].Levelled)
}

// A tilt without errors comes back.
func TestTiltComesBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		p, q := rapid.Float64Range(-1e-3, 1e-3).Draw(r, "p"), rapid.Float64Range(-1e-3, 1e-3).Draw(r, "q")
		c := laid(6, 1, 0, 0, 1)
		plane := func(x, y float64) unit.Length {
			l, err := unit.FromMetres(57.25 + p*(x-1000) + q*(y-2000))
			require.NoError(r, err)
			return l
		}
		for i := range c {
			c[i].Levelled, c[i].Level = true, unit.Length(i)*unit.Metre
			c[i].Height = c[i].Level + plane(c[i].X, c[i].Y)
		}
		g, err := FitSite(c, Options{Vertical: LevelShiftAndTilt})
		require.NoError(r, err)
		require.InDelta(r, p, g.TiltE, 1e-13)
		require.InDelta(r, q, g.TiltN, 1e-13)
		got, err := g.LevelShift(1234, 2345)
		require.NoError(r, err)
		require.InDelta(r, plane(1234, 2345).Metres(), got.Metres(), 1e-10)
	})
}

func TestControlThatCannotBeFitted(t *testing.T) {
	c := laid(3, 1, 0, 0, 1)
	same := []Control{{Name: "A"}, {Name: "B"}}
	bad := laid(3, 1, 0, 0, 1)
	bad[1].E = math.NaN()
	line := levelled([]Control{{X: 0}, {X: 100, E: 100}, {X: 200, E: 200}}, 0, 1, 2)
	far := levelled(laid(3, 1, 0, 0, 1), 0, 0)
	far[0].Height, far[0].Level = unit.MaxLength, -unit.MaxLength
	for _, x := range []struct {
		c    []Control
		o    Options
		text string
	}{
		{nil, Options{}, "the control cannot be fitted: 0 points, and a site grid needs at least 2; three or more also check it"},
		{c[:1], Options{}, "the control cannot be fitted: 1 point, and a site grid needs at least 2; three or more also check it"},
		{c, Options{Scale: -1}, "the control cannot be fitted: a scale of -1 is none; hold 1 or the combined factor, or fit it"},
		{c, Options{Scale: math.NaN()}, "the control cannot be fitted: a scale of NaN is none; hold 1 or the combined factor, or fit it"},
		{same, Options{}, "the control cannot be fitted: its points are all at one place, so that there is no direction; use points as far apart as the site"},
		{bad, Options{}, "the control cannot be fitted: P2 has no coordinates in one of its frames"},
		{c, Options{Vertical: LevelShift}, "the control cannot be fitted: 0 levelled points, and the fit of levels needs at least 1"},
		{line[:2], Options{Vertical: LevelShiftAndTilt}, "the control cannot be fitted: 2 levelled points, and the fit of levels needs at least 3"},
		{line, Options{Vertical: LevelShiftAndTilt}, "the control cannot be fitted: its levelled points are in line, so that a tilt across the line cannot be told; level a point off it, or fit the shift alone"},
		{far, Options{Vertical: LevelShift}, "the control cannot be fitted: level of P1: the value is beyond ±2,342 km, the range of a length"},
	} {
		_, err := FitSite(x.c, x.o)
		assert.EqualError(t, err, x.text)
		assert.ErrorIs(t, err, ErrControl)
	}
}
