package align_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/align"
	"sightrail/formats/unit"
)

// chain is drawn element by element, each starting where and how the one before
// ends, but for the kinks that are asked for.
type chain struct {
	elements []align.Element
	start    unit.Length
	kinks    []float64 // before each element, radians, + to the right
	sharpest float64   // the largest curvature
}

func drawnChain(t *rapid.T, kinks bool) chain {
	c := chain{start: mOf(rapid.Float64Range(-1000, 10000).Draw(t, "chainage of the start"))}
	angle := rapid.Float64Range(0, 2*math.Pi).Draw(t, "direction")
	f := frame{start: pair{num(rapid.Float64Range(-1e5, 1e5).Draw(t, "E")), num(rapid.Float64Range(-1e5, 1e5).Draw(t, "N"))}}
	f.dir = pair{num(math.Cos(angle)), num(math.Sin(angle))}
	unitSize := root(add(mul(f.dir.re, f.dir.re), mul(f.dir.im, f.dir.im)))
	f.dir = pair{quo(f.dir.re, unitSize), quo(f.dir.im, unitSize)}
	for range rapid.IntRange(1, 8).Draw(t, "elements") {
		kink := 0.0
		if kinks && len(c.elements) > 0 {
			kink = rapid.SampledFrom([]float64{0, 1e-9, -1e-6, 1e-3, -0.2, 1, -2.5}).Draw(t, "kink")
			sin, cos := sincos(num(-kink))
			f.dir = f.dir.times(pair{cos, sin})
		}
		c.kinks = append(c.kinks, kink)
		f.side = rapid.SampledFrom([]float64{1, -1}).Draw(t, "side")
		length := rapid.Float64Range(2, 300).Draw(t, "length")
		r0 := rapid.Float64Range(max(60, length/2), 5000).Draw(t, "radius")
		r1 := rapid.Float64Range(max(60, length/2), 5000).Draw(t, "other radius")
		var k0, k1 float64
		e := align.Element{Shape: rapid.SampledFrom([]align.Shape{align.Line, align.Arc, align.Clothoid}).Draw(t, "shape")}
		switch e.Shape {
		case align.Arc:
			k0, k1 = 1/r0, 1/r0
		case align.Clothoid:
			k0, k1 = 1/r0, 1/r1
			switch rapid.IntRange(0, 2).Draw(t, "straight at") {
			case 0:
				k0 = 0
			case 1:
				k1 = 0
			}
		}
		c.sharpest = max(c.sharpest, k0, k1)
		point, dir := spiralSeries(num(k0), quo(sub(num(k1), num(k0)), num(length)), num(length))
		along := pair{num(1), num(0)}
		e.Start = f.at(t, pair{num(0), num(0)}, along, num(0))
		e.End = f.at(t, point, dir, num(0))
		if e.Length = align.Stated(mOf(length)); e.Shape != align.Line {
			e.Turn = align.Turn(f.side)
		}
		switch {
		case e.Shape == align.Arc:
			e.Centre = align.Point{Place: f.at(t, pair{num(0), num(r0)}, along, num(0)), Set: true}
			e.Radius = align.Stated(mOf(r0))
		case e.Shape == align.Clothoid:
			if k0 > 0 {
				e.StartRadius = align.Stated(mOf(r0))
			}
			if k1 > 0 {
				e.EndRadius = align.Stated(mOf(r1))
			}
			// the tangents meet at x - y/tan(turn) from the start
			if t1 := quo(dir.im, dir.re); float(dir.im) > 1e-3 {
				x := sub(point.re, quo(point.im, t1))
				e.PI = align.Point{Place: f.at(t, pair{x, num(0)}, along, num(0)), Set: true}
			}
		}
		c.elements = append(c.elements, e)
		flip := func(p pair) pair { return pair{p.re, mul(p.im, num(f.side))} }
		f.start, f.dir = f.start.plus(f.dir.times(flip(point))), f.dir.times(flip(dir))
	}
	return c
}

// A chain whose elements follow from each other has no gap and no kink, and from
// chainage and offset to the place and back leads to where one was.
func TestChainThereAndBack(t *testing.T) {
	joints := 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawnChain(t, false)
		a := build(t, c.start, c.elements...)
		require.Equal(t, c.start, a.Start())
		require.Len(t, a.Joints(), len(c.elements)-1)
		chainage := mOf(rapid.Float64Range(0, 1).Draw(t, "share") * (a.End() - a.Start()).Metres() * (1 - 1e-12))
		chainage += a.Start()
		if n := len(a.Joints()); n > 0 && rapid.Bool().Draw(t, "at a joint") {
			chainage = a.Joints()[rapid.IntRange(0, n-1).Draw(t, "joint")].Chainage
			joints++
		}
		for _, j := range a.Joints() {
			require.Zero(t, j.Gap)
			require.InDelta(t, 0, j.Kink, 1e-10)
			p, b0, err := a.At(j.Chainage-1, 0)
			require.NoError(t, err)
			q, b1, err := a.At(j.Chainage, 0)
			require.NoError(t, err)
			require.Less(t, apart(p, q), 1e-11)
			require.InDelta(t, 0, math.Remainder(b0-b1, 2*math.Pi), 1e-10)
		}
		reach := 50.0
		if c.sharpest > 0 {
			reach = min(reach, 0.5/c.sharpest)
		}
		offset := mOf(reach * rapid.Float64Range(-1, 1).Draw(t, "offset"))
		p, bearing, err := a.At(chainage, offset)
		require.NoError(t, err)
		require.True(t, 0 <= bearing && bearing < 2*math.Pi)
		back := 0
		for _, h := range a.Locate(p, offset.Abs()+unit.Micrometre) {
			if d := (h.Chainage - chainage).Abs(); d < unit.Nanometre && (h.Offset-offset).Abs() < unit.Nanometre {
				back++
				require.Equal(t, align.On, h.Foot)
			}
		}
		require.Equal(t, 1, back, "chainage %s, offset %s, %+v", chainage, offset, a.Locate(p, offset.Abs()+unit.Micrometre))
	})
	assert.NotZero(t, joints)
}

// The nearest hit is as near as the nearest of many points of the chain, with
// kinks and without: no place is lost at a joint, inside or outside of the bend.
func TestNearestOfAChain(t *testing.T) {
	seen := map[align.Foot]int{}
	rapid.Check(t, func(t *rapid.T) {
		c := drawnChain(t, true)
		a, flaws := align.New(c.elements, c.start, align.Options{})
		require.NoError(t, flaws.Err())
		kinks := 0
		for i, k := range c.kinks {
			if i > 0 {
				require.InDelta(t, k, a.Joints()[i-1].Kink, 1e-10)
			}
			if math.Abs(k) > align.DefaultKink*math.Pi/180 {
				require.Equal(t, align.Kink, flaws[kinks].Kind)
				require.InDelta(t, k*180/math.Pi, flaws[kinks].Degrees, 1e-8)
				kinks++
			}
		}
		require.Len(t, flaws, kinks)
		near := a.Start() + unit.MulDiv(a.End()-a.Start(), unit.Length(rapid.IntRange(0, 1000).Draw(t, "thousandth")), 1000)
		if n := len(a.Joints()); n > 0 && rapid.Bool().Draw(t, "by a joint") {
			near = a.Joints()[rapid.IntRange(0, n-1).Draw(t, "joint")].Chainage
		}
		p, _, err := a.At(near, mOf(rapid.Float64Range(-100, 100).Draw(t, "offset")))
		require.NoError(t, err)
		p.E += mOf(rapid.SampledFrom([]float64{0, 1e-9, -1e-7, 0.1, 30}).Draw(t, "further"))
		const n = 2000
		step := (a.End() - a.Start()).Metres() / n
		nearest := math.Inf(1)
		for i := range n + 1 {
			q, _, err := a.At(a.Start()+unit.MulDiv(a.End()-a.Start(), unit.Length(i), n), 0)
			require.NoError(t, err)
			nearest = min(nearest, apart(p, q))
		}
		hits := a.Locate(p, -1)
		require.NotEmpty(t, hits)
		require.LessOrEqual(t, hits[0].Distance.Metres(), nearest+1e-9)
		require.GreaterOrEqual(t, hits[0].Distance.Metres(), nearest-step)
		for _, h := range hits {
			seen[h.Foot]++
			q, _, err := a.At(h.Chainage, 0)
			require.NoError(t, err)
			if h.Foot != align.Centre {
				require.InDelta(t, h.Distance.Metres(), apart(p, q), 1e-8, "%+v", h)
			}
		}
		// a reach only leaves out what is further
		reach := mOf(rapid.Float64Range(0, 200).Draw(t, "reach"))
		within := 0
		for _, h := range hits {
			if h.Distance <= reach {
				within++
			}
		}
		require.LessOrEqual(t, within, len(hits))
		got := a.Locate(p, reach)
		require.Equal(t, within, len(got), "%+v\n%+v", hits, got)
		require.Equal(t, append([]align.Hit(nil), hits[:within]...), append([]align.Hit(nil), got...))
	})
	for _, f := range []align.Foot{align.On, align.Corner, align.Before, align.After} {
		assert.NotZero(t, seen[f], "way %d", f)
	}
}
