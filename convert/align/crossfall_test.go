package align_test

import (
	"errors"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/align"
	"sightrail/formats/unit"
)

func rate(t require.TestingT, s string) unit.Grade {
	g, err := align.ParseCrossfall(s)
	require.NoError(t, err, s)
	return g
}

// slope is a profile that rises 1 % from level 10 at chainage 0 to 20 at 1000.
func slope(t require.TestingT) *align.Profile {
	p, flaws := align.NewProfile([]align.PVI{{Level: 10 * m}, {Chainage: 1000 * m, Level: 20 * m}}, align.ProfileOptions{})
	require.Empty(t, flaws)
	return p
}

// Plain crown at 100, superelevated at 200. (Arithmetic; no published source.)
func TestCrossfall(t *testing.T) {
	p := slope(t)
	edge := align.Stated(4 * m)
	c, flaws := align.NewCrossfalls([]align.Crossfall{
		{Chainage: 100 * m, Left: rate(t, "fall 3 %"), Right: rate(t, "fall 3 %"), LeftEdge: edge, RightEdge: edge},
		{Chainage: 200 * m, Left: rate(t, "rise 5 %"), Right: rate(t, "fall 5 %"), LeftEdge: edge, RightEdge: align.Stated(5 * m)},
		{Chainage: 300 * m, Left: rate(t, "rise 5 %"), Right: rate(t, "fall 5 %"), LeftEdge: edge, RightEdge: align.Stated(5 * m)},
	}, unit.M)
	require.Empty(t, flaws)
	for _, x := range []struct{ chainage, offset, want string }{
		{"100", "0", "11"}, {"100", "2", "10.94"}, {"100", "-2", "10.94"}, {"100", "4", "10.88"},
		{"200", "2", "11.9"}, {"200", "-2", "12.1"}, {"200", "5", "11.75"}, {"300", "-4", "13.2"},
		{"150", "2", "11.42"}, // 4 % down
		{"150", "-2", "11.52"},
		{"137.5", "-2", "11.375"}, // level
		{"150", "4.5", "11.32"},   // the edge is half way from 4 to 5
	} {
		z, err := c.Level(p, inUnit(t, x.chainage, unit.M), inUnit(t, x.offset, unit.M))
		require.NoError(t, err)
		assert.Equal(t, inUnit(t, x.want, unit.M), z, "%s %s", x.chainage, x.offset)
	}
	_, err := c.Level(p, 150*m, 4500*millimetre+1)
	assert.EqualError(t, err, "offset 4.500 m is beside the design: its edge on the right is 4.500 m from offset 0")
	assert.ErrorIs(t, err, align.ErrBeside)
	_, err = c.Level(p, 150*m, -4001*millimetre)
	assert.EqualError(t, err, "offset -4.001 m is beside the design: its edge on the left is 4.000 m from offset 0")
	_, err = c.Level(p, 100*m-1, 0)
	assert.ErrorIs(t, err, align.ErrBefore)
	assert.ErrorContains(t, err, "of the table of crossfalls at 100.000 m")
	_, err = c.Level(p, 300*m+1, 0)
	assert.ErrorIs(t, err, align.ErrAfter)
	_, err = c.Level(p, 300*m, unit.MaxLength)
	assert.True(t, errors.Is(err, align.ErrFar) || errors.Is(err, align.ErrBeside))
	short, _ := align.NewProfile([]align.PVI{{}, {Chainage: 250 * m}}, align.ProfileOptions{})
	_, err = c.Level(short, 260*m, 0)
	assert.ErrorContains(t, err, "after the end of the profile")
	assert.Equal(t, 100*m, c.Start())
	assert.Equal(t, 300*m, c.End())
}

// Profile and crossfall are rounded together, once.
func TestCrossfallIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := drawnProfile(t, true, 0, align.Parabola, align.Unsymmetric)
		p, flaws := align.NewProfile(points, align.ProfileOptions{})
		require.NoError(t, flaws.Err())
		if p.End()-p.Start() < 10 {
			return
		}
		grade := func(name string) unit.Grade {
			return unit.Grade{Rise: unit.Length(rapid.Int64Range(-99, 99).Draw(t, name)), Run: unit.Length(rapid.Int64Range(1, 999).Draw(t, name+", run"))}
		}
		rows := []align.Crossfall{{Chainage: p.Start(), Left: grade("left"), Right: grade("right")}, {Chainage: p.End(), Left: grade("left at the end"), Right: grade("right at the end")}}
		c, flaws := align.NewCrossfalls(rows, unit.M)
		require.Empty(t, flaws)
		x := unit.Length(rapid.Int64Range(int64(p.Start()), int64(p.End())).Draw(t, "chainage"))
		offset := unit.Length(rapid.Int64Range(-int64(20*m), int64(20*m)).Draw(t, "offset"))
		g, h := rows[0].Left, rows[1].Left
		if offset > 0 {
			g, h = rows[0].Right, rows[1].Right
		}
		a, b := big.NewRat(int64(g.Rise), int64(g.Run)), big.NewRat(int64(h.Rise), int64(h.Run))
		share := big.NewRat(int64(x-p.Start()), int64(p.End()-p.Start()))
		a.Add(a, share.Mul(share, b.Sub(b, a)))
		want := a.Mul(a, rat(offset.Abs()))
		want.Add(want, levelByBezier(points, x))
		got, err := c.Level(p, x, offset)
		require.NoError(t, err)
		require.Equal(t, nearest(want), got)
	})
}

func TestFlawsOfCrossfalls(t *testing.T) {
	g := rate(t, "fall 3 %")
	row := func(at unit.Length) align.Crossfall { return align.Crossfall{Chainage: at, Left: g, Right: g} }
	edged := row(20 * m)
	edged.LeftEdge = align.Stated(m)
	inward := row(0)
	inward.RightEdge = align.Stated(-m)
	for want, rows := range map[string][]align.Crossfall{
		"the table of crossfalls is empty": nil,
		"crossfall 2, at chainage 10.000 m, is not after the one before it, at 10.000 m; a carriageway has one crossfall at a chainage: correct the table": {row(10 * m), row(10 * m)},
		"crossfall 1, at chainage 0.000 m, has no grade on one side; give left and right, each as a rise or a fall":                                        {{Left: g}},
		"crossfall 2, at chainage 20.000 m, has an edge where crossfall 1 has none, or none where it has one; give the edge at every chainage or at none":  {row(10 * m), edged},
		"crossfall 1, at chainage 0.000 m, has an edge at a negative distance; edges are distances from offset 0, left and right":                          {inward},
		"crossfall 1, at chainage 2342741.182843479 m, is more than 1,171 km from 0; check its unit":                                                       {row(unit.MaxLength)},
	} {
		c, flaws := align.NewCrossfalls(rows, unit.M)
		assert.Nil(t, c)
		assert.EqualError(t, flaws.Err(), want)
	}
	// one row is a table of one chainage
	c, flaws := align.NewCrossfalls([]align.Crossfall{row(10 * m)}, unit.M)
	require.Empty(t, flaws)
	z, err := c.Level(slope(t), 10*m, m)
	require.NoError(t, err)
	assert.Equal(t, 10070*millimetre, z)
	_, err = c.Level(slope(t), 11*m, m)
	assert.ErrorIs(t, err, align.ErrAfter)
}

func TestParseCrossfall(t *testing.T) {
	for s, want := range map[string]unit.Grade{"fall 3 %": {Rise: -3 * m, Run: 100 * m}, " rise 1 in 40 ": {Rise: m, Run: 40 * m}, "level": {Run: m}, "fall 25 mm/m": {Rise: -25 * m, Run: 1000 * m}, "fall 0 %": {Run: 100 * m}} {
		assert.Equal(t, want, rate(t, s), s)
	}
	for s, want := range map[string]string{
		"3 %":        `"3 %" does not say whether it rises or falls outwards from the axis; write "fall 3 %", "rise 1 in 40" or "level"`,
		"-3 %":       `"-3 %" does not say whether it rises or falls outwards from the axis; write "fall 3 %", "rise 1 in 40" or "level"`,
		"":           `"" does not say whether it rises or falls outwards from the axis; write "fall 3 %", "rise 1 in 40" or "level"`,
		"fall":       `"" is not a grade; write "1 in 100", "1 %" or "10 mm/m"`,
		"fall -3 %":  `"fall -3 %" has both a word and a sign; leave the sign out`,
		"rise +3 %":  `"rise +3 %" has both a word and a sign; leave the sign out`,
		"fall 1:40":  `"1:40" does not say which number is vertical; write "1 in N" (vertical in horizontal), "%" or "mm/m"`,
		"falls 3 %":  `"falls 3 %" does not say whether it rises or falls outwards from the axis; write "fall 3 %", "rise 1 in 40" or "level"`,
		"fall level": `"level" is not a grade; write "1 in 100", "1 %" or "10 mm/m"`,
	} {
		_, err := align.ParseCrossfall(s)
		assert.EqualError(t, err, want, s)
	}
}
