package align_test

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/align"
	"sightrail/formats/unit"
)

func rat(l unit.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }

// nearest is the whole number nearest to a fraction, half away from zero.
func nearest(r *big.Rat) unit.Length {
	n := new(big.Int).Abs(r.Num())
	n.Lsh(n, 1).Add(n, r.Denom()).Quo(n, new(big.Int).Lsh(r.Denom(), 1))
	return unit.Length(n.Int64() * int64(r.Sign()))
}

// drawnProfile draws PVIs whose curves leave room for each other.
// Tiny ones are a few counts long, which is for the rounding.
func drawnProfile(t *rapid.T, tiny bool, kinds ...align.Rounding) []align.PVI {
	lengths := rapid.Int64Range(int64(20*m), int64(300*m))
	if tiny {
		lengths = rapid.OneOf(rapid.Int64Range(1, int64(300*m)), rapid.Int64Range(1, 6))
	}
	at := unit.Length(rapid.Int64Range(-int64(1000*m), int64(1000*m)).Draw(t, "start"))
	var out []align.PVI
	before := unit.Length(0) // room that the last curve took
	n := rapid.IntRange(2, 6).Draw(t, "points")
	for i := range n {
		v := align.PVI{Level: unit.Length(rapid.Int64Range(-int64(20*m), int64(20*m)).Draw(t, "level"))}
		in, out2 := unit.Length(0), unit.Length(0)
		if i > 0 && i < n-1 {
			v.Curve = rapid.SampledFrom(kinds).Draw(t, "curve")
			switch v.Curve {
			case align.Parabola:
				v.Length = unit.Length(lengths.Draw(t, "length"))
				in, out2 = v.Length/2+v.Length%2, v.Length/2+v.Length%2
			case align.Unsymmetric:
				v.In, v.Out = unit.Length(lengths.Draw(t, "in")), unit.Length(lengths.Draw(t, "out"))
				in, out2 = v.In, v.Out
			}
		}
		if i > 0 {
			at += before + in + unit.Length(lengths.Draw(t, "tangent"))
		}
		v.Chainage = at
		before = out2
		out = append(out, v)
	}
	return out
}

// levelByBezier is the level of a profile by another way than the package's: a
// parabola through the ends of a curve and the control point at the PVI, as
// (1-t)²·start + 2t(1-t)·PVI + t²·end; an unsymmetric one is two of them, with
// control points midway along the tangents' halves and joined on the line between.
func levelByBezier(points []align.PVI, x unit.Length) *big.Rat {
	two := big.NewRat(2, 1)
	grade := func(i int) *big.Rat {
		return new(big.Rat).Quo(rat(points[i+1].Level-points[i].Level), rat(points[i+1].Chainage-points[i].Chainage))
	}
	arc := func(x0, z0, xc, zc, x1, z1 *big.Rat) *big.Rat {
		t := new(big.Rat).Quo(new(big.Rat).Sub(rat(x), x0), new(big.Rat).Sub(x1, x0))
		s := new(big.Rat).Sub(big.NewRat(1, 1), t)
		a := new(big.Rat).Mul(new(big.Rat).Mul(s, s), z0)
		b := new(big.Rat).Mul(new(big.Rat).Mul(two, new(big.Rat).Mul(s, t)), zc)
		c := new(big.Rat).Mul(new(big.Rat).Mul(t, t), z1)
		return a.Add(a, b.Add(b, c))
	}
	for i := 1; i < len(points)-1; i++ {
		v := points[i]
		in, out := rat(v.In), rat(v.Out)
		if v.Curve == align.Parabola {
			in = new(big.Rat).Quo(rat(v.Length), two)
			out = in
		}
		if v.Curve == 0 {
			continue
		}
		xp, zp := rat(v.Chainage), rat(v.Level)
		x0, x1 := new(big.Rat).Sub(xp, in), new(big.Rat).Add(xp, out)
		if rat(x).Cmp(x0) <= 0 || rat(x).Cmp(x1) >= 0 {
			continue
		}
		z0 := new(big.Rat).Sub(zp, new(big.Rat).Mul(grade(i-1), in))
		z1 := new(big.Rat).Add(zp, new(big.Rat).Mul(grade(i), out))
		if v.Curve == align.Parabola {
			return arc(x0, z0, xp, zp, x1, z1)
		}
		mid := func(a, b *big.Rat) *big.Rat { s := new(big.Rat).Add(a, b); return s.Quo(s, two) }
		xa, za, xb, zb := mid(x0, xp), mid(z0, zp), mid(xp, x1), mid(zp, z1)
		share := new(big.Rat).Quo(new(big.Rat).Sub(xp, xa), new(big.Rat).Sub(xb, xa))
		zm := new(big.Rat).Add(za, new(big.Rat).Mul(share, new(big.Rat).Sub(zb, za)))
		if x <= v.Chainage {
			return arc(x0, z0, xa, za, xp, zm)
		}
		return arc(xp, zm, xb, zb, x1, z1)
	}
	i := 0
	for i < len(points)-2 && points[i+1].Chainage <= x {
		i++
	}
	z := new(big.Rat).Mul(grade(i), rat(x-points[i].Chainage))
	return z.Add(z, rat(points[i].Level))
}

// Tangents and parabolas by two formulas, to the count: the offset from the tangent
// and the curve of three control points. (The identity of the two is geometry.)
func TestProfileIsExact(t *testing.T) {
	halves := 0
	rapid.Check(t, func(t *rapid.T) {
		points := drawnProfile(t, true, 0, align.Parabola, align.Unsymmetric)
		p, flaws := align.NewProfile(points, align.ProfileOptions{})
		require.NoError(t, flaws.Err())
		for range 20 {
			x := unit.Length(rapid.Int64Range(int64(p.Start()), int64(p.End())).Draw(t, "chainage"))
			if rapid.Bool().Draw(t, "at a point") {
				x = points[rapid.IntRange(0, len(points)-1).Draw(t, "point")].Chainage
			}
			want := levelByBezier(points, x)
			got, err := p.Level(x)
			require.NoError(t, err)
			require.Equal(t, nearest(want), got, "at %d: %s", x, want)
			if want.Denom().Cmp(big.NewInt(2)) == 0 {
				halves++
			}
			// the grade is the slope of the chord through two neighbours at equal
			// distances, exactly so on a parabola
			back, ahead, err := p.Grade(x)
			require.NoError(t, err)
			require.False(t, math.IsNaN(back+ahead))
		}
	})
	assert.NotZero(t, halves, "halves of a count are among them")
}

// Grades: of a tangent, and on a parabola the mean slope over any distance either
// side; two values at a kink.
func TestGrade(t *testing.T) {
	points := []align.PVI{{Chainage: 0, Level: 10 * m}, {Chainage: 100 * m, Level: 12 * m, Curve: align.Parabola, Length: 80 * m},
		{Chainage: 200 * m, Level: 9 * m}, {Chainage: 300 * m, Level: 9 * m, Curve: align.Unsymmetric, In: 20 * m, Out: 60 * m}, {Chainage: 400 * m, Level: 19 * m}}
	p, flaws := align.NewProfile(points, align.ProfileOptions{})
	require.Empty(t, flaws)
	for _, x := range []unit.Length{70 * m, 90 * m, 100 * m, 120 * m, 290 * m, 330 * m} {
		back, ahead, err := p.Grade(x)
		require.NoError(t, err)
		assert.Equal(t, back, ahead)
		a, err := p.Level(x - 5*m)
		require.NoError(t, err)
		b, err := p.Level(x + 5*m)
		require.NoError(t, err)
		assert.InDelta(t, (b-a).Metres()/10, ahead, 1e-12, "at %s", x)
	}
	for x, want := range map[unit.Length][2]float64{0: {0.02, 0.02}, 60 * m: {0.02, 0.02}, 140 * m: {-0.03, -0.03}, 200 * m: {-0.03, 0}, 250 * m: {0, 0}, 360 * m: {0.1, 0.1}, 400 * m: {0.1, 0.1}} {
		back, ahead, err := p.Grade(x)
		require.NoError(t, err)
		assert.Equal(t, want, [2]float64{back, ahead}, "at %s", x)
	}
	assert.Equal(t, unit.Grade{Rise: 2 * m, Run: 100 * m}, p.Tangent(0))
	// a curve that begins at a PVI without one: the kink is there all the same
	close := []align.PVI{{Chainage: 0}, {Chainage: 100 * m, Level: m}, {Chainage: 150 * m, Level: m, Curve: align.Parabola, Length: 100 * m}, {Chainage: 300 * m, Level: 4 * m}}
	p, flaws = align.NewProfile(close, align.ProfileOptions{})
	require.Empty(t, flaws)
	back, ahead, err := p.Grade(100 * m)
	require.NoError(t, err)
	assert.Equal(t, [2]float64{0.01, 0}, [2]float64{back, ahead})
	_, _, err = p.Grade(-1)
	assert.ErrorIs(t, err, align.ErrBefore)
	_, err = p.Level(300*m + 1)
	assert.ErrorIs(t, err, align.ErrAfter)
	assert.EqualError(t, err, "chainage 300.000 m is after the end of the profile at 300.000 m")
}

// circleLevel is the level of a circular curve above its PVI with 300 bits: the
// centre at equal distances from both tangents, and Pythagoras.
func circleLevel(g1, g2, radius, x *big.Float) *big.Float {
	one := num(1)
	sense := num(1)
	if g2.Cmp(g1) < 0 {
		sense = num(-1)
	}
	h1, h2 := root(add(one, mul(g1, g1))), root(add(one, mul(g2, g2)))
	// the centre is at xc, zc with zc - g·xc = sense·radius·h for both tangents
	xc := quo(mul(mul(sense, radius), sub(h2, h1)), sub(g1, g2))
	zc := add(mul(g1, xc), mul(mul(sense, radius), h1))
	d := sub(x, xc)
	return sub(zc, mul(sense, root(sub(mul(radius, radius), mul(d, d)))))
}

func TestCircularCurveAccuracy(t *testing.T) {
	worst, worstGrade, n := 0.0, 0.0, 0
	rapid.Check(t, func(t *rapid.T) {
		run := 100000 * m
		rise := func(name string) unit.Length {
			return unit.Length(rapid.IntRange(-1200, 1200).Draw(t, name))*10*m + unit.Length(rapid.Int64Range(0, int64(m)).Draw(t, name+", the rest"))
		}
		r1, r2 := rise("first"), rise("second")
		if (r1 - r2).Abs() < 10*m { // of 1 in 10,000
			return
		}
		n++
		radius := mOf(rapid.Float64Range(10, 100000).Draw(t, "radius"))
		points := []align.PVI{{Chainage: -run, Level: -r1}, {Curve: align.Circular, Radius: radius}, {Chainage: run, Level: r2}}
		p, flaws := align.NewProfile(points, align.ProfileOptions{})
		require.NoError(t, flaws.Err())
		start, end, ok := p.Curve(1)
		require.True(t, ok)
		g1, g2 := quo(metres(r1), metres(run)), quo(metres(r2), metres(run))
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		x := start + mOf(share*(end-start).Metres()*(1-1e-9)) + 1
		want := circleLevel(g1, g2, metres(radius), metres(x))
		got, err := p.Level(x)
		require.NoError(t, err)
		d := math.Abs(float(sub(want, metres(got))))
		worst = max(worst, d)
		require.Less(t, d, 1e-12)
		// the grade from two levels of 300 bits
		h := num(1e-20)
		slope := float(quo(sub(circleLevel(g1, g2, metres(radius), add(metres(x), h)), circleLevel(g1, g2, metres(radius), sub(metres(x), h))), mul(num(2), h)))
		_, g, err := p.Grade(x)
		require.NoError(t, err)
		worstGrade = max(worstGrade, math.Abs(g-slope))
		require.InDelta(t, slope, g, 1e-13)
		// at its ends it touches the tangents
		for _, e := range []unit.Length{start, end} {
			z, err := p.Level(e)
			require.NoError(t, err)
			tangent := unit.MulDiv(e, r1, run)
			if e > 0 {
				tangent = unit.MulDiv(e, r2, run)
			}
			require.LessOrEqual(t, (z - tangent).Abs().Metres(), 1e-11)
		}
	})
	t.Logf("worst difference of %d from 300 bits: %.2g m, of grade %.2g", n, worst, worstGrade)
	assert.Greater(t, n, 50)
}

// A circle is not the parabola of the same length. Between the same tangents, the
// two are less than half of steepest² × the middle ordinate apart and more than
// nothing. (From the series of the root; no published source.)
func TestCircleAndParabola(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.Float64Range(0.02, 0.12).Draw(t, "grade")
		radius := mOf(rapid.Float64Range(500, 20000).Draw(t, "radius"))
		up := mOf(10000 * g)
		points := []align.PVI{{Chainage: -10000 * m, Level: -up}, {Curve: align.Circular, Radius: radius}, {Chainage: 10000 * m, Level: -up}}
		circle, flaws := align.NewProfile(points, align.ProfileOptions{})
		require.Empty(t, flaws)
		start, end, _ := circle.Curve(1)
		points[1] = align.PVI{Curve: align.Parabola, Length: end - start}
		parabola, flaws := align.NewProfile(points, align.ProfileOptions{})
		require.Empty(t, flaws)
		a, err := circle.Level(0)
		require.NoError(t, err)
		b, err := parabola.Level(0)
		require.NoError(t, err)
		ordinate := (end - start).Metres() * 2 * g / 8
		require.InDelta(t, -ordinate, b.Metres(), 1e-9, "change of grade × length / 8")
		require.Greater(t, (a - b).Abs().Metres(), ordinate*g*g/8)
		require.Less(t, (a - b).Abs().Metres(), ordinate*g*g/2)
	})
}

func TestTurnings(t *testing.T) {
	for name, x := range map[string]struct {
		points []align.PVI
		want   []align.Turning
	}{
		"kinks": {[]align.PVI{{}, {Chainage: 100 * m, Level: m}, {Chainage: 200 * m}, {Chainage: 300 * m, Level: 2 * m}},
			[]align.Turning{{From: 100 * m, To: 100 * m, Level: m, High: true}, {From: 200 * m, To: 200 * m}}},
		"level top": {[]align.PVI{{}, {Chainage: 100 * m, Level: m}, {Chainage: 200 * m, Level: m}, {Chainage: 300 * m}},
			[]align.Turning{{From: 100 * m, To: 200 * m, Level: m, High: true}}},
		"a level step is none": {[]align.PVI{{}, {Chainage: 100 * m, Level: m}, {Chainage: 200 * m, Level: m}, {Chainage: 300 * m, Level: 2 * m}}, nil},
		"level at the ends":    {[]align.PVI{{}, {Chainage: 100 * m}, {Chainage: 200 * m, Level: m}, {Chainage: 300 * m, Level: m}}, nil},
		"all level":            {[]align.PVI{{}, {Chainage: 100 * m}}, nil},
		// grades 2 % and -1 % over 90 m: level 60 m after the start of the curve, at
		// 600 mm above it
		"parabola": {[]align.PVI{{}, {Chainage: 100 * m, Level: 2 * m, Curve: align.Parabola, Length: 90 * m}, {Chainage: 200 * m, Level: m}},
			[]align.Turning{{From: 115 * m, To: 115 * m, Level: 1700 * millimetre, High: true}}},
		// the same as a sag
		"sag": {[]align.PVI{{}, {Chainage: 100 * m, Level: -2 * m, Curve: align.Parabola, Length: 90 * m}, {Chainage: 200 * m, Level: -m}},
			[]align.Turning{{From: 115 * m, To: 115 * m, Level: -1700 * millimetre}}},
		"a curve that levels out": {[]align.PVI{{}, {Chainage: 100 * m, Level: 2 * m, Curve: align.Parabola, Length: 90 * m}, {Chainage: 200 * m, Level: 2 * m}, {Chainage: 300 * m}},
			[]align.Turning{{From: 145 * m, To: 200 * m, Level: 2 * m, High: true}}},
		// 2 % and -2 %: the middle of a circle, below the PVI by radius·(1/cos - 1)
		"circle": {[]align.PVI{{}, {Chainage: 100 * m, Level: 2 * m, Curve: align.Circular, Radius: 1000 * m}, {Chainage: 200 * m}},
			[]align.Turning{{From: 100 * m, To: 100 * m, Level: mOf(2 - 1000*(math.Sqrt(1+0.02*0.02)-1)), High: true}}},
	} {
		t.Run(name, func(t *testing.T) {
			p, flaws := align.NewProfile(x.points, align.ProfileOptions{})
			require.Empty(t, flaws)
			got := p.Turnings()
			require.Len(t, got, len(x.want), "%+v", got)
			for i, w := range x.want {
				assert.Equal(t, w.High, got[i].High)
				assert.InDelta(t, w.From.Metres(), got[i].From.Metres(), 1e-9)
				assert.InDelta(t, w.To.Metres(), got[i].To.Metres(), 1e-9)
				assert.InDelta(t, w.Level.Metres(), got[i].Level.Metres(), 1e-11)
			}
		})
	}
}

// The turning points against the levels themselves: between two of them, and
// between ends, the profile only rises or only falls.
func TestTurningsAtRandom(t *testing.T) {
	turned := 0
	rapid.Check(t, func(t *rapid.T) {
		points := drawnProfile(t, false, 0, align.Parabola, align.Unsymmetric)
		p, flaws := align.NewProfile(points, align.ProfileOptions{})
		require.NoError(t, flaws.Err())
		turnings := p.Turnings()
		turned += len(turnings)
		ends := []unit.Length{p.Start()}
		for i, u := range turnings {
			require.LessOrEqual(t, u.From, u.To)
			z, err := p.Level(u.From)
			require.NoError(t, err)
			require.LessOrEqual(t, (z - u.Level).Abs(), unit.Micrometre, "the level of a turning is rounded at its own place")
			if i > 0 {
				require.NotEqual(t, turnings[i-1].High, u.High)
			}
			ends = append(ends, u.From)
		}
		ends = append(ends, p.End())
		high, low, err := p.Extremes(p.Start(), p.End())
		require.NoError(t, err)
		for i := range ends[1:] {
			was, err := p.Level(ends[i])
			require.NoError(t, err)
			last, err := p.Level(ends[i+1])
			require.NoError(t, err)
			up := last >= was
			for k := range 50 {
				z, err := p.Level(ends[i] + unit.MulDiv(ends[i+1]-ends[i], unit.Length(k), 50))
				require.NoError(t, err)
				if up {
					require.GreaterOrEqual(t, z, was-1)
				} else {
					require.LessOrEqual(t, z, was+1)
				}
				was = z
				require.LessOrEqual(t, z, high.Level+1)
				require.GreaterOrEqual(t, z, low.Level-1)
			}
		}
	})
	assert.NotZero(t, turned)
}

func TestExtremesOfARange(t *testing.T) {
	p, flaws := align.NewProfile([]align.PVI{{}, {Chainage: 100 * m, Level: m}, {Chainage: 200 * m, Level: m}, {Chainage: 300 * m, Level: 3 * m}, {Chainage: 400 * m}}, align.ProfileOptions{})
	require.Empty(t, flaws)
	high, low, err := p.Extremes(50*m, 250*m)
	require.NoError(t, err)
	assert.Equal(t, align.Turning{From: 250 * m, To: 250 * m, Level: 2 * m, High: true}, high)
	assert.Equal(t, align.Turning{From: 50 * m, To: 50 * m, Level: m / 2}, low)
	high, low, err = p.Extremes(0, 400*m)
	require.NoError(t, err)
	assert.Equal(t, align.Turning{From: 300 * m, To: 300 * m, Level: 3 * m, High: true}, high)
	assert.Equal(t, align.Turning{}, low, "of two lowest the first")
	_, _, err = p.Extremes(-1, 5)
	assert.ErrorIs(t, err, align.ErrBefore)
	_, _, err = p.Extremes(0, 401*m)
	assert.ErrorIs(t, err, align.ErrAfter)
}

func TestFlawsOfProfiles(t *testing.T) {
	parabola := func(at, level, length unit.Length) align.PVI {
		return align.PVI{Chainage: at, Level: level, Curve: align.Parabola, Length: length}
	}
	end := func(at unit.Length) align.PVI { return align.PVI{Chainage: at} }
	for name, x := range map[string]struct {
		points []align.PVI
		kind   align.Kind
		bad    bool
		off    unit.Length
		text   string
	}{
		"none":  {nil, align.Malformed, true, 0, "a profile needs two PVIs or more, and there are 0"},
		"one":   {[]align.PVI{end(0)}, align.Malformed, true, 0, "a profile needs two PVIs or more, and there are 1"},
		"far":   {[]align.PVI{end(0), end(unit.MaxLength / 2)}, align.Malformed, true, 0, "PVI 2, at chainage 1171370.591421739 m, is more than 585 km from 0; check its unit"},
		"order": {[]align.PVI{end(0), end(10 * m), end(10 * m)}, align.Malformed, true, 0, "PVI 3, at chainage 10.000 m, is not after the one before it, at 10.000 m; a profile has one level at a chainage: correct the file"},
		"curve at the end": {[]align.PVI{end(0), parabola(10*m, m, 5*m)}, align.Malformed, true, 0,
			"PVI 2, at chainage 10.000 m, has a vertical curve at an end of the profile, where there is no second tangent; correct the file"},
		"overlap": {[]align.PVI{end(0), parabola(100*m, m, 100*m), parabola(200*m, 0, 120*m), end(300 * m)}, align.Overlap, true, 10 * m,
			"PVI 3, at chainage 200.000 m, has a vertical curve that starts at 140.000 m, 10000.0 mm before the one at chainage 100.000 m ends; curves can not overlap: correct the file"},
		"overlap in tolerance": {[]align.PVI{end(0), parabola(100*m, m, 100*m), parabola(200*m, 0, 100*m+2*millimetre), end(300 * m)}, align.Overlap, false, millimetre,
			"PVI 3, at chainage 200.000 m, has a vertical curve that starts at 149.999 m, 1.0 mm before the one at chainage 100.000 m ends; the first of the two holds to its end"},
		"overlap just beyond": {[]align.PVI{end(0), parabola(100*m, m, 100*m), parabola(200*m, 0, 100*m+2*millimetre+2), end(300 * m)}, align.Overlap, true, millimetre + 1,
			"PVI 3, at chainage 200.000 m, has a vertical curve that starts at 149.999 m, 1.0 mm before the one at chainage 100.000 m ends; curves can not overlap: correct the file"},
		"before the start": {[]align.PVI{end(0), parabola(100*m, m, 202*m), end(300 * m)}, align.Overlap, true, m,
			"PVI 2, at chainage 100.000 m, has a vertical curve that starts at -1.000 m, 1000.0 mm before PVI 1; curves can not overlap: correct the file"},
		"after the end": {[]align.PVI{end(0), parabola(100*m, m, 100*m), end(149 * m)}, align.Overlap, true, m,
			"PVI 2, at chainage 100.000 m, has a vertical curve that ends at 150.000 m, 1000.0 mm after PVI 3; curves can not overlap: correct the file"},
		"no size":       {[]align.PVI{end(0), parabola(100*m, m, 0), end(200 * m)}, align.Left, false, 0, "PVI 2, at chainage 100.000 m, has a vertical curve without size; it is left out"},
		"no change":     {[]align.PVI{end(0), parabola(100*m, 0, 50*m), end(200 * m)}, align.Left, false, 0, "PVI 2, at chainage 100.000 m, has a vertical curve between two tangents of one grade; it is left out"},
		"negative size": {[]align.PVI{end(0), parabola(100*m, m, -1), end(200 * m)}, align.Malformed, true, 0, "PVI 2, at chainage 100.000 m, has a vertical curve of negative or endless size; a length is at most 50 km and a radius 1,000 km"},
		"one length": {[]align.PVI{end(0), {Chainage: 100 * m, Level: m, Curve: align.Unsymmetric, In: 5 * m}, end(200 * m)}, align.Malformed, true, 0,
			"PVI 2, at chainage 100.000 m, has an unsymmetric parabola with one length of 0, which would leave a kink; correct the file"},
		"no kind": {[]align.PVI{end(0), {Chainage: 100 * m, Level: m, Curve: 9, Length: m}, end(200 * m)}, align.Malformed, true, 0,
			"PVI 2, at chainage 100.000 m, has a vertical curve of no known kind; parabolas, unsymmetric parabolas and circles can be used"},
		"endless circle": {[]align.PVI{end(0), {Chainage: m, Level: m, Curve: align.Circular, Radius: 900000 * m}, end(2 * m)}, align.Malformed, true, 0,
			"PVI 2, at chainage 1.000 m, has a circular curve that would be more than 50 km long; check its radius"},
		"circle too long": {[]align.PVI{end(0), {Chainage: 100 * m, Level: m, Curve: align.Circular, Radius: 20000 * m}, end(200 * m)}, align.Overlap, true, -1,
			"PVI 2, at chainage 100.000 m, has a vertical curve that starts at -99."},
	} {
		t.Run(name, func(t *testing.T) {
			p, flaws := align.NewProfile(x.points, align.ProfileOptions{})
			require.NotEmpty(t, flaws)
			assert.Equal(t, x.kind, flaws[0].Kind)
			assert.Equal(t, x.bad, flaws[0].Bad)
			assert.Equal(t, x.bad, p == nil)
			if x.off == -1 {
				assert.Contains(t, flaws[0].Text, x.text)
				return
			}
			assert.Equal(t, x.text, flaws[0].Text)
			assert.Equal(t, x.off, flaws[0].Off)
		})
	}
	// what is left out has the levels of the tangents
	p, _ := align.NewProfile([]align.PVI{end(0), parabola(100*m, 0, 50*m), end(200 * m)}, align.ProfileOptions{})
	z, err := p.Level(100 * m)
	require.NoError(t, err)
	assert.Zero(t, z)
	_, _, ok := p.Curve(1)
	assert.False(t, ok)
	// the first of two that overlap within tolerance holds, and the step at its end
	// is less than the eye of a needle
	p, _ = align.NewProfile([]align.PVI{end(0), parabola(100*m, m, 100*m), parabola(200*m, 0, 100*m+2*millimetre), end(300 * m)}, align.ProfileOptions{})
	a, err := p.Level(150*m - 1)
	require.NoError(t, err)
	b, err := p.Level(150 * m)
	require.NoError(t, err)
	assert.LessOrEqual(t, (a - b).Abs(), unit.Micrometre)
}

func BenchmarkLevel(b *testing.B) {
	p, flaws := align.NewProfile([]align.PVI{{}, {Chainage: 100 * m, Level: 2 * m, Curve: align.Parabola, Length: 90 * m}, {Chainage: 200 * m, Level: m}}, align.ProfileOptions{})
	if flaws != nil {
		b.Fatal(flaws)
	}
	for b.Loop() {
		if _, err := p.Level(110 * m); err != nil {
			b.Fatal(err)
		}
	}
}
