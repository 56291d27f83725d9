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

// build makes an alignment without any flaw.
func build(t require.TestingT, start unit.Length, elements ...align.Element) *align.Alignment {
	a, flaws := align.New(elements, start, align.Options{})
	require.Empty(t, flaws)
	require.NotNil(t, a)
	return a
}

// curve is a clothoid or, with equal radii, an arc, drawn at random.
type curve struct {
	k0, k1, length float64 // of 1/m, m
	frame
	offset, along float64
}

// drawn draws a curve of some turn, at most a quarter of which an offset spans.
func drawn(t *rapid.T, arc bool) curve {
	c := curve{length: rapid.Float64Range(1, 10000).Draw(t, "length")}
	turn := rapid.Float64Range(1e-4, 3).Draw(t, "turn")
	if arc {
		turn = rapid.Float64Range(1e-2, 6.2).Draw(t, "turn of the arc")
		c.k0 = max(turn/c.length, 2e-6)
		c.k1 = c.k0
	} else {
		share := rapid.SampledFrom([]float64{0, 1, 0.5, 0.1, 0.999}).Draw(t, "share of the curvature at the start")
		mean := max(turn/c.length, 2.1e-6)
		c.k0, c.k1 = straight(2*mean*share), straight(2*mean*(1-share))
	}
	c.side = rapid.SampledFrom([]float64{1, -1}).Draw(t, "side")
	angle := num(rapid.Float64Range(0, 2*math.Pi).Draw(t, "direction"))
	sin, cos := sincos(angle)
	c.start = pair{num(rapid.Float64Range(-5e5, 5e5).Draw(t, "E")), num(rapid.Float64Range(-5e5, 5e5).Draw(t, "N"))}
	c.dir = pair{cos, sin}
	c.along = c.length * rapid.Float64Range(0, 1).Draw(t, "share")
	radius := 1 / max(c.k0+(c.k1-c.k0)*c.along/c.length, 1e-6)
	c.offset = rapid.Float64Range(-0.5, 0.5).Draw(t, "offset in radii") * min(radius, 200)
	return c
}

// straight takes a radius of more than 900 km for none.
func straight(k float64) float64 {
	if k < 1/9e5 {
		return 0
	}
	return k
}

// place on the curve and beside it, and the bearing, with 300 bits.
func (c curve) place(t require.TestingT, s, offset float64) (align.Place, float64) {
	a := quo(sub(num(c.k1), num(c.k0)), num(c.length))
	point, dir := spiralSeries(num(c.k0), a, num(s))
	world := c.dir.times(pair{dir.re, mul(dir.im, num(c.side))})
	bearing := math.Mod(math.Atan2(float(world.re), float(world.im))+2*math.Pi, 2*math.Pi)
	return c.at(t, point, dir, num(offset)), bearing
}

func (c curve) turn() align.Turn { return align.Turn(c.side) }

// element of the curve. Radii are rounded to a count, which moves nothing that
// can be seen.
func (c curve) element(t require.TestingT, shape align.Shape) align.Element {
	start, _ := c.place(t, 0, 0)
	end, _ := c.place(t, c.length, 0)
	e := align.Element{Shape: shape, Start: start, End: end, Turn: c.turn(), Length: align.Stated(mOf(c.length))}
	if shape == align.Arc {
		centre := c.at(t, pair{num(0), quo(num(1), num(c.k0))}, pair{num(1), num(0)}, num(0))
		e.Centre = align.Point{Place: centre, Set: true}
		e.Radius = align.Stated(mOf(1 / c.k0))
		return e
	}
	if c.k0 > 0 {
		e.StartRadius = align.Stated(mOf(1 / c.k0))
	}
	if c.k1 > 0 {
		e.EndRadius = align.Stated(mOf(1 / c.k1))
	}
	return e
}

// apart is the distance between two places in metres.
func apart(p, q align.Place) float64 {
	return math.Hypot((p.E - q.E).Metres(), (p.N - q.N).Metres())
}

// accuracy holds a curve against 300 bits, both ways, and returns the worst
// difference.
func accuracy(t *rapid.T, c curve, shape align.Shape, within float64) float64 {
	e := c.element(t, shape)
	chainage := mOf(rapid.Float64Range(-1000, 1e5).Draw(t, "chainage of the start"))
	a := build(t, chainage, e)
	length := (a.End() - a.Start()).Metres()
	require.InDelta(t, c.length, length, within)
	want, bearing := c.place(t, c.along, c.offset)

	got, gotBearing, err := a.At(min(chainage+mOf(c.along), a.End()), mOf(c.offset))
	require.NoError(t, err)
	worst := apart(want, got)
	require.Less(t, worst, within, "place")
	require.InDelta(t, 0, math.Remainder(bearing-gotBearing, 2*math.Pi), 1e-9)

	hits := a.Locate(want, unit.MaxLength)
	require.NotEmpty(t, hits)
	// the foot meant is one of them; a place within half the radius has it nearest,
	// but for a curve that comes back to it
	best := math.Inf(1)
	for _, h := range hits {
		d := max(math.Abs((h.Chainage-chainage).Metres()-c.along), math.Abs(h.Offset.Metres()-c.offset))
		best = min(best, d)
		require.GreaterOrEqual(t, h.Distance, hits[0].Distance)
	}
	require.Less(t, best, within, "chainage and offset: %v", hits)
	require.LessOrEqual(t, hits[0].Distance.Metres(), math.Abs(c.offset)+within, "a nearer one there may be")
	return max(worst, best)
}

func TestArcAccuracy(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		worst = max(worst, accuracy(t, drawn(t, true), align.Arc, 2e-10))
	})
	t.Logf("worst difference from 300 bits: %.2g m", worst)
	assert.NotZero(t, worst)
}

func TestClothoidAccuracy(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		worst = max(worst, accuracy(t, drawn(t, false), align.Clothoid, 2e-10))
	})
	t.Logf("worst difference from 300 bits: %.2g m", worst)
	assert.NotZero(t, worst)
}

// A clothoid between two equal radii is an arc, from the definition.
func TestClothoidOfOneRadiusIsAnArc(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawn(t, true)
		if c.k0*c.length > 6 {
			c.length = 6 / c.k0
			c.along = min(c.along, c.length)
		}
		arc := build(t, 0, c.element(t, align.Arc))
		clothoid := build(t, 0, c.element(t, align.Clothoid))
		require.InDelta(t, arc.End().Metres(), clothoid.End().Metres(), 1e-9)
		p, b, err := arc.At(min(mOf(c.along), arc.End()), mOf(c.offset))
		require.NoError(t, err)
		q, d, err := clothoid.At(min(mOf(c.along), clothoid.End()), mOf(c.offset))
		require.NoError(t, err)
		require.Less(t, apart(p, q), 1e-9)
		require.InDelta(t, 0, math.Remainder(b-d, 2*math.Pi), 1e-9)
	})
}

// The number of feet on a clothoid against a scan by steps of a thousandth of it:
// what is ahead changes its sign there.
func TestNoFootOfAClothoidIsMissed(t *testing.T) {
	several := 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawn(t, false)
		mean := rapid.Float64Range(0.5, 6).Draw(t, "turn more") / c.length
		c.k0, c.k1 = mean*1.2, mean*0.8
		if rapid.Bool().Draw(t, "grows") {
			c.k0, c.k1 = c.k1, c.k0
		}
		a := build(t, 0, c.element(t, align.Clothoid))
		near := c.length * rapid.Float64Range(0, 1.5).Draw(t, "distance")
		angle := rapid.Float64Range(0, 2*math.Pi).Draw(t, "angle")
		start, _ := c.place(t, c.length/2, 0)
		p := align.Place{E: start.E + mOf(near*math.Cos(angle)), N: start.N + mOf(near*math.Sin(angle))}
		if rapid.Bool().Draw(t, "by the centre of curvature") {
			s := c.length * rapid.Float64Range(0, 1).Draw(t, "share")
			p, _ = c.place(t, s, -c.side/(c.k0+(c.k1-c.k0)*s/c.length)*rapid.OneOf(rapid.Float64Range(0.9, 0.999), rapid.Float64Range(1.001, 1.1)).Draw(t, "share of the radius"))
		}
		changes, was := 0, 0.0
		const n = 1000
		for i := range n + 1 {
			q, bearing, err := a.At(unit.MulDiv(a.End(), unit.Length(i), n), 0)
			require.NoError(t, err)
			ahead := (p.E-q.E).Metres()*math.Sin(bearing) + (p.N-q.N).Metres()*math.Cos(bearing)
			if (i == 0 || i == n) && math.Abs(ahead) < 1e-6 {
				return // at the end of the clothoid a sign is chance
			}
			if i > 0 && (was < 0) != (ahead < 0) {
				changes++
			}
			was = ahead
		}
		feet := 0
		for _, h := range a.Locate(p, unit.MaxLength) {
			if h.Foot != align.On {
				continue
			}
			feet++
			q, _, err := a.At(h.Chainage, h.Offset)
			require.NoError(t, err)
			require.Less(t, apart(p, q), 1e-7*max(1, c.length/1000), "%+v", h)
		}
		// a scan may miss two that are close together
		require.GreaterOrEqual(t, feet, changes)
		require.Zero(t, (feet-changes)%2)
		require.LessOrEqual(t, feet-changes, 2)
		if feet > 1 {
			several++
		}
	})
	assert.NotZero(t, several)
}

// Places on a line and beside it, against math/big: along and offset squared are
// whole numbers over the square of the chord.
func TestLineIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func(name string) align.Place {
			l := rapid.OneOf(rapid.Int64Range(-1<<61, 1<<61), rapid.Int64Range(-8, 8))
			return align.Place{E: unit.Length(l.Draw(t, name+" E")), N: unit.Length(l.Draw(t, name+" N"))}
		}
		from, to, p := at("from"), at("to"), at("place")
		if rapid.Bool().Draw(t, "a chord of whole counts") {
			legs := rapid.SampledFrom([][2]unit.Length{{6, 8}, {-8, 6}, {10, -24}, {-6, -8}, {600, 800}}).Draw(t, "legs")
			to = align.Place{E: from.E + legs[0], N: from.N + legs[1]}
			p = align.Place{E: from.E + p.E%1000, N: from.N + p.N%1000}
		}
		if from == to {
			return
		}
		l := align.Element{Shape: align.Line, Start: from, End: to}
		a, flaws := align.New([]align.Element{l}, 0, align.Options{})
		if a == nil { // longer than 1,171 km
			require.True(t, flaws[0].Bad)
			return
		}
		big128 := func(x, y unit.Length) *big.Int { return new(big.Int).Mul(big.NewInt(int64(x)), big.NewInt(int64(y))) }
		sum := func(x, y *big.Int) *big.Int { return new(big.Int).Add(x, y) }
		de, dn := to.E-from.E, to.N-from.N
		square := sum(big128(de, de), big128(dn, dn))
		// is |got| the nearest to |top|/√square, halves away from zero?
		check := func(got unit.Length, top *big.Int, what string) {
			require.True(t, got == 0 || (got < 0) == (top.Sign() < 0), what)
			n := new(big.Int).Lsh(big.NewInt(int64(got.Abs())), 1) // 2|got|
			four := new(big.Int).Mul(big.NewInt(4), new(big.Int).Mul(top, top))
			low := new(big.Int).Sub(n, big.NewInt(1))
			high := new(big.Int).Add(n, big.NewInt(1))
			if got != 0 {
				c := new(big.Int).Mul(new(big.Int).Mul(low, low), square).Cmp(four)
				require.Negative(t, c, what) // a half itself is never met: legs of an even chord are even
			}
			require.Equal(t, 1, new(big.Int).Mul(new(big.Int).Mul(high, high), square).Cmp(four), what)
		}
		check(a.End(), square, "length")
		e, n := p.E-from.E, p.N-from.N
		along := sum(big128(e, de), big128(n, dn))
		across := sum(big128(e, dn), big128(-n, de))
		pastEnd := sum(big128(p.E-to.E, de), big128(p.N-to.N, dn))
		hits := a.Locate(p, unit.MaxLength)
		require.Len(t, hits, 1)
		h := hits[0]
		check(h.Offset, across, "offset")
		switch {
		case h.Foot == align.On && (along.Sign() < 0 || pastEnd.Sign() > 0): // within 1 nm
			past := new(big.Int).Neg(along)
			want := a.Start()
			if along.Sign() > 0 {
				past, want = pastEnd, a.End()
			}
			limit := new(big.Int).Mul(square, big.NewInt(3938*3938))
			require.LessOrEqual(t, new(big.Int).Mul(past, past).Cmp(limit), 0)
			require.Equal(t, want, h.Chainage)
		case along.Sign() < 0:
			require.Equal(t, align.Before, h.Foot)
			require.Equal(t, a.Start(), h.Chainage)
			check(-h.Beyond, along, "before the start")
		case pastEnd.Sign() > 0:
			require.Equal(t, align.After, h.Foot)
			require.Equal(t, a.End(), h.Chainage)
			check(h.Beyond, pastEnd, "after the end")
		default:
			require.Equal(t, align.On, h.Foot)
			check(h.Chainage, along, "chainage")
			require.Equal(t, h.Offset.Abs(), h.Distance)
			// and back, but for the rounding of the place: one count each way
			if h.Offset.Abs() < unit.MaxLength/2 {
				q, _, err := a.At(h.Chainage, h.Offset)
				if err == nil {
					require.LessOrEqual(t, max((q.E-p.E).Abs(), (q.N-p.N).Abs()), unit.Length(2))
				}
			}
		}
	})
}
