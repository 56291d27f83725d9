package align_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/align"
	"sightrail/formats/unit"
)

const m, millimetre = unit.Metre, unit.Millimetre

func line(e0, n0, e1, n1 float64) align.Element {
	return align.Element{Shape: align.Line, Start: place(e0, n0), End: place(e1, n1)}
}

// quarter is an arc of a quarter turn to the right, of radius 100 m, from 0, 0
// going north to 100, 100 going east.
func quarter() align.Element {
	return align.Element{Shape: align.Arc, Start: place(0, 0), End: place(100, 100), Turn: align.ToRight, Centre: align.Point{Place: place(100, 0), Set: true}}
}

// easing is a clothoid from straight to 200 m, 60 m long, to the left, from 0, 0
// going north.
func easing() align.Element {
	point, _ := spiralSeries(num(0), num(1.0/200/60), num(60))
	return align.Element{Shape: align.Clothoid, Start: place(0, 0), End: place(-float(point.im), float(point.re)), Turn: align.ToLeft,
		EndRadius: align.Stated(200 * m), Length: align.Stated(60 * m)}
}

// What is wrong with an element is said, with its amount.
func TestFlawsOfElements(t *testing.T) {
	far := align.Place{E: unit.MaxLength/2 + 1}
	with := func(e align.Element, change func(*align.Element)) align.Element { change(&e); return e }
	for name, x := range map[string]struct {
		elements []align.Element
		kind     align.Kind
		bad      bool
		at       int
		off      unit.Length
		text     string
	}{
		"none":             {nil, align.Malformed, true, 0, 0, "no element of the alignment has a length, so it is nowhere"},
		"no shape":         {[]align.Element{{}}, align.Malformed, true, 0, 0, "element 1, an element of no known shape, can not be used; lines, arcs and clothoids can"},
		"far":              {[]align.Element{{Shape: align.Line, Start: far}}, align.Malformed, true, 0, 0, "element 1, a line, has a place more than 1,171 km from the origin of the job; check the unit and the grid of the file"},
		"a point":          {[]align.Element{line(0, 0, 0, 9), line(0, 9, 0, 9), line(0, 9, 0, 20)}, align.Left, false, 1, 0, "element 2, a line, starts and ends at one place and is left out"},
		"an arc's point":   {[]align.Element{line(0, 0, 0, 9), {Shape: align.Arc, Start: place(0, 9), End: place(0, 9)}}, align.Left, false, 1, 0, "element 2, an arc, starts and ends at one place and is left out"},
		"a spiral's point": {[]align.Element{line(0, 0, 0, 9), {Shape: align.Clothoid, Start: place(0, 9), End: place(0, 9)}}, align.Left, false, 1, 0, "element 2, a clothoid, starts and ends at one place and is left out"},
		"gap": {[]align.Element{line(0, 0, 0, 9), line(0.002, 9, 0.002, 20)}, align.Gap, true, 1, 2 * millimetre,
			"element 2 starts 2.0 mm from where element 1 ends, at chainage 9.000 m; an alignment has no gaps: correct the file, or state a larger tolerance"},
		"kink": {[]align.Element{line(0, 0, 0, 9), line(0, 9, 1, 10)}, align.Kink, false, 1, 0,
			"element 2 turns off by 45.0000 degrees to the right from the direction in which element 1 ends, at chainage 9.000 m"},
		"kink to the left": {[]align.Element{line(0, 0, 0, 9), line(0, 9, -1, 10)}, align.Kink, false, 1, 0,
			"element 2 turns off by 45.0000 degrees to the left from the direction in which element 1 ends, at chainage 9.000 m"},
		"length of a line": {[]align.Element{with(line(0, 0, 3, 4), func(e *align.Element) { e.Length = align.Stated(5003 * millimetre) })}, align.WrongLength, true, 0, 3 * millimetre,
			"element 1, a line, is stated to be 5.003 m long; by its coordinates it is 5.000 m, a difference of 3.0 mm. Levels by chainage would be taken at the wrong place; correct the file, or state a larger tolerance"},
		"chainage": {[]align.Element{line(0, 0, 3, 4), with(line(3, 4, 6, 8), func(e *align.Element) { e.Chainage = align.Stated(4997 * millimetre) })}, align.WrongStart, true, 1, -3 * millimetre,
			"element 2, a line, is stated to start at chainage 4.997 m; by the coordinates before it, it starts at 5.000 m, a difference of -3.0 mm. Levels by chainage would be taken at the wrong place; correct the file, or state a larger tolerance"},
		"negative length": {[]align.Element{with(line(0, 0, 3, 4), func(e *align.Element) { e.Length = align.Stated(-5 * m) })}, align.Malformed, true, 0, 0,
			"element 1, a line, has a stated length of -5.000 m; a length is above 0 and at most 1,171 km"},
		"radius of the arc": {[]align.Element{with(quarter(), func(e *align.Element) { e.Radius = align.Stated(100003 * millimetre) })}, align.WrongRadius, true, 0, 3 * millimetre,
			"element 1, an arc, is stated to have a radius of 100.003 m; by its coordinates it has 100.000 m, a difference of 3.0 mm; correct the file, or state a larger tolerance"},
		"negative radius": {[]align.Element{with(quarter(), func(e *align.Element) { e.Radius = align.Stated(-100 * m) })}, align.Malformed, true, 0, 0,
			"element 1, an arc, has a radius of -100.000 m; a radius is above 0 and at most 1,000 km, and the sense of turning is said apart"},
		"centre": {[]align.Element{with(quarter(), func(e *align.Element) { e.Centre.E -= 3 * millimetre })}, align.WrongRadius, true, 0, 3 * millimetre,
			"element 1, an arc, has its start 99.997 m and its end 100.000000045 m from its centre; both are its radius, so one of the three places is wrong; correct the file, or state a larger tolerance"},
		"the other turn": {[]align.Element{with(quarter(), func(e *align.Element) { e.Turn, e.Length = align.ToLeft, align.Stated(mOf(50*math.Pi)) })}, align.WrongLength, true, 0, mOf(-100 * math.Pi),
			"element 1, an arc, is stated to turn left, which makes it 471.238898038 m long, and to be 157.079632679 m long, which is the arc that turns the other way; correct one of them"},
		"length of the arc": {[]align.Element{with(quarter(), func(e *align.Element) { e.Length = align.Stated(157 * m) })}, align.WrongLength, true, 0, 157*m - mOf(50*math.Pi),
			"element 1, an arc, is stated to be 157.000 m long; by its coordinates it is 157.079632679 m, a difference of -79.6 mm. Levels by chainage would be taken at the wrong place; correct the file, or state a larger tolerance"},
		"neither centre nor radius": {[]align.Element{with(quarter(), func(e *align.Element) { e.Centre.Set = false })}, align.Malformed, true, 0, 0, "element 1, an arc, has neither centre nor radius; give one"},
		"radius without turn":       {[]align.Element{with(quarter(), func(e *align.Element) { e.Centre.Set, e.Turn, e.Radius = false, 0, align.Stated(100*m) })}, align.Malformed, true, 0, 0, "element 1, an arc, has a radius and no centre, and it is not said to which side it turns; say which"},
		"small radius": {[]align.Element{with(quarter(), func(e *align.Element) { e.Centre.Set, e.Radius = false, align.Stated(70*m) })}, align.WrongRadius, true, 0, mOf(50*math.Sqrt2) - 70*m,
			"element 1, an arc, has a radius of 70.000 m and ends 141.421356237 m apart, which is more than two radii; correct the file"},
		"turn not said":            {[]align.Element{with(quarter(), func(e *align.Element) { e.Turn = 0 })}, align.Malformed, true, 0, 0, "element 1, an arc, does not say to which side it turns, nor how long it is; say one of them"},
		"turn by no length":        {[]align.Element{with(quarter(), func(e *align.Element) { e.Turn, e.Length = 0, align.Stated(150*m) })}, align.Malformed, true, 0, 0, "element 1, an arc, does not say to which side it turns, and neither of the two arcs about its centre is 150.000 m long; correct the file"},
		"whole circle, no turn":    {[]align.Element{with(quarter(), func(e *align.Element) { e.End, e.Turn, e.Length = e.Start, 0, align.Stated(628*m) })}, align.Malformed, true, 0, 0, "element 1, an arc, is a whole circle without a usable radius or sense of turning; correct the file"},
		"clothoid without length":  {[]align.Element{with(easing(), func(e *align.Element) { e.Length.Set = false })}, align.Malformed, true, 0, 0, "element 1, a clothoid, has no length; without it, its shape is not known"},
		"clothoid without radius":  {[]align.Element{with(easing(), func(e *align.Element) { e.EndRadius.Set = false })}, align.Malformed, true, 0, 0, "element 1, a clothoid, is straight at both ends; give a radius, or make it a line"},
		"clothoid without turn":    {[]align.Element{with(easing(), func(e *align.Element) { e.Turn = 0 })}, align.Malformed, true, 0, 0, "element 1, a clothoid, does not say to which side it turns; say which"},
		"clothoid round and round": {[]align.Element{with(easing(), func(e *align.Element) { e.Length, e.EndRadius = align.Stated(90*m), align.Stated(m) })}, align.Malformed, true, 0, 0, "element 1, a clothoid, turns by more than a whole circle; check its length and its radii"},
		"clothoid of another radius": {[]align.Element{with(easing(), func(e *align.Element) { e.EndRadius = align.Stated(150 * m) })}, align.WrongLength, true, 0, -1,
			"element 1, a clothoid, has ends 59.9"},
		"clothoid of another PI": {[]align.Element{with(easing(), func(e *align.Element) { e.PI = align.Point{Place: place(0.01, 40.06), Set: true} })}, align.WrongPI, false, 0, -1,
			"element 1, a clothoid, has its PI "},
		"clothoid turned over": {[]align.Element{with(easing(), func(e *align.Element) { e.Turn, e.PI = align.ToRight, align.Point{Place: place(0, 40.06), Set: true} })}, align.WrongPI, true, 0, 0,
			"element 1, a clothoid, is stated to turn right; by its ends and its PI it turns left; correct one of them"},
	} {
		t.Run(name, func(t *testing.T) {
			a, flaws := align.New(x.elements, 0, align.Options{})
			var got *align.Flaw
			for i := range flaws {
				if flaws[i].Kind == x.kind && flaws[i].At == x.at {
					got = &flaws[i]
				}
			}
			require.NotNil(t, got, "%v", flaws)
			assert.Equal(t, x.bad, got.Bad)
			assert.Equal(t, x.bad, a == nil)
			if x.off == -1 {
				assert.Contains(t, got.Text, x.text)
				assert.NotZero(t, got.Off)
				return
			}
			assert.Equal(t, x.text, got.Text)
			assert.InDelta(t, float64(x.off), float64(got.Off), float64(unit.Micrometre))
			if x.bad {
				assert.EqualError(t, flaws.Err(), x.text)
			} else {
				assert.NoError(t, flaws.Err())
			}
		})
	}
	a, flaws := align.New([]align.Element{line(0, 0, 0, 9)}, unit.MaxLength/2+1, align.Options{})
	assert.Nil(t, a)
	assert.ErrorContains(t, flaws.Err(), "the chainage of the start is more than 1,171 km from 0")
}

// On its tolerance an amount is within, one count beyond it is not; and a tolerance
// that is stated counts instead.
func TestTolerancesOfElements(t *testing.T) {
	gap := func(by unit.Length, o align.Options) align.Flaws {
		second := line(0, 9, 0, 20)
		second.Start.E += by
		second.End.E += by
		_, flaws := align.New([]align.Element{line(0, 0, 0, 9), second}, 0, o)
		return flaws
	}
	assert.Empty(t, gap(millimetre, align.Options{}))
	assert.Len(t, gap(millimetre+1, align.Options{}), 1)
	assert.Empty(t, gap(25*millimetre, align.Options{Gap: 25 * millimetre}))
	assert.Len(t, gap(25*millimetre+1, align.Options{Gap: 25 * millimetre}), 1)

	fit := func(by unit.Length, o align.Options) align.Flaws {
		e := line(0, 0, 0, 9)
		e.Length = align.Stated(9*m + by)
		_, flaws := align.New([]align.Element{e}, 0, o)
		return flaws
	}
	assert.Empty(t, fit(2*millimetre, align.Options{}))
	assert.Len(t, fit(2*millimetre+1, align.Options{}), 1)
	assert.Empty(t, fit(-30*millimetre, align.Options{Fit: 30 * millimetre}))

	kink := func(degrees, tolerance float64) align.Flaws {
		_, flaws := align.New([]align.Element{line(0, 0, 0, 9), line(0, 9, 9*math.Tan(degrees*math.Pi/180), 18)}, 0, align.Options{Kink: tolerance})
		return flaws
	}
	assert.Empty(t, kink(0.0099, 0))
	require.Len(t, kink(-0.0101, 0), 1)
	assert.InDelta(t, -0.0101, kink(-0.0101, 0)[0].Degrees, 1e-9)
	assert.Empty(t, kink(2, 2.1))
	// lengths in messages are in the unit of the file
	assert.Contains(t, gap(m, align.Options{In: unit.Ft})[0].Text, "at chainage 29.527559055 ft")
}

// An arc may say how it runs in several ways; they give one alignment. (Geometry,
// no published source.)
func TestOneArcSaidInSeveralWays(t *testing.T) {
	want := build(t, 10*m, quarter())
	assert.InDelta(t, 50*math.Pi, (want.End() - want.Start()).Metres(), 1e-11)
	byRadius := quarter()
	byRadius.Centre.Set, byRadius.Radius = false, align.Stated(100*m)
	byLength := quarter()
	byLength.Turn, byLength.Length = 0, align.Stated(mOf(50*math.Pi))
	moved := quarter() // a centre along the chord is put right, and that is within tolerance
	moved.Centre.E, moved.Centre.N = moved.Centre.E+millimetre, moved.Centre.N+millimetre
	for _, e := range []align.Element{byRadius, byLength, moved} {
		a := build(t, 10*m, e)
		assert.InDelta(t, want.End().Metres(), a.End().Metres(), 1e-8)
		for _, s := range []unit.Length{10 * m, 50 * m, 160 * m} {
			p, b, err := want.At(s, 3*m)
			require.NoError(t, err)
			q, c, err := a.At(s, 3*m)
			require.NoError(t, err)
			assert.Less(t, apart(p, q), 1e-7)
			assert.InDelta(t, b, c, 1e-9)
		}
	}
	// three quarters of a circle, by its length or by its turn
	larger := byRadius
	larger.Turn, larger.Length = align.ToLeft, align.Stated(mOf(150*math.Pi))
	turned := quarter()
	turned.Turn = align.ToLeft
	turned.Centre.Place = place(100, 0)
	for _, e := range []align.Element{larger, turned} {
		a := build(t, 0, e)
		assert.InDelta(t, 150*math.Pi, a.End().Metres(), 1e-9)
	}
	// from 0, 0 about 100, 0 to the left it starts going south
	a := build(t, 0, turned)
	p, b, err := a.At(mOf(50*math.Pi), 0)
	require.NoError(t, err)
	assert.Less(t, apart(place(100, -100), p), 1e-9)
	assert.InDelta(t, math.Pi/2, b, 1e-12, "east")
	// a whole circle
	whole := quarter()
	whole.End, whole.Length = whole.Start, align.Stated(mOf(200*math.Pi))
	a = build(t, 0, whole)
	p, b, err = a.At(mOf(100*math.Pi), 10*m)
	require.NoError(t, err)
	assert.Less(t, apart(place(190, 0), p), 1e-9, "right of a circle to the right is inside")
	assert.InDelta(t, math.Pi, b, 1e-12)
	// half a circle from its radius, which is a count too small
	half := align.Element{Shape: align.Arc, Start: place(0, 0), End: place(200, 0), Turn: align.ToRight, Radius: align.Stated(100*m - 1)}
	assert.InDelta(t, 100*math.Pi, build(t, 0, half).End().Metres(), 1e-9)
}

// The turn of a clothoid is also told by where its tangents meet.
func TestClothoidByItsPI(t *testing.T) {
	e := easing()
	_, dir := spiralSeries(num(0), num(1.0/200/60), num(60))
	x := e.End.N.Metres() + e.End.E.Metres()*float(quo(dir.re, dir.im))
	e.PI, e.Turn = align.Point{Place: place(0, x), Set: true}, 0
	a := build(t, 0, e)
	_, b, err := a.At(a.End(), 0)
	require.NoError(t, err)
	assert.InDelta(t, 2*math.Pi-60.0/400, b, 1e-12, "it turns by half of length over radius")
}
