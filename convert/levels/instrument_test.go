package levels_test

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
)

const milli, metre = unit.Millimetre, unit.Metre

func lineLimit(t require.TestingT, text string) levels.LineLimit {
	l, err := levels.ParseLineLimit(text)
	require.NoError(t, err)
	return l
}

func of(m float64) levels.Value { return levels.Of(mm(m * 1000)) }

// 1.0 mm over 50 m is the daily limit of the first-order levelling instructions
// of the Australian Division of National Mapping; the others are common
// practice, no published source.
func TestLineLimit(t *testing.T) {
	for in, want := range map[string]unit.Grade{
		"10 mm in 100 m": {Rise: 10 * milli, Run: 100 * metre}, " 1.0 mm over 50 m ": {Rise: milli, Run: 50 * metre}, "0.1 mm/m": {Rise: metre / 10, Run: 1000 * metre},
		"1 in 10000": {Rise: metre, Run: 10_000 * metre}, "0.01 %": {Rise: metre / 100, Run: 100 * metre}, "0.1 in in 100 ft": {Rise: unit.Inch / 10, Run: 100 * unit.InternationalFoot},
		"0.003 ft in 100 ft": {Rise: 3 * unit.InternationalFoot / 1000, Run: 100 * unit.InternationalFoot},
	} {
		l := lineLimit(t, in)
		assert.Equal(t, 0, l.Compare(want), in)
		assert.True(t, l.Given())
	}
	for _, in := range []string{"", "10 mm", "10 mm in", "10 mm in 100", "10 in 100 m", "0 mm in 100 m", "-10 mm in 100 m", "10 mm in -100 m", "10 mm in 0 m", "1:10000", "-1 %", "10 mm per 100 m"} {
		_, err := levels.ParseLineLimit(in)
		assert.EqualError(t, err, `"`+in+`" is not a limit for a line of sight; write a height over a length, such as "10 mm in 100 m" or "0.1 mm/m"`)
	}
	assert.False(t, levels.LineLimit{}.Given())
}

// Pegs 60 m apart, B 0.200 m above A; the line of sight rises 3 mm in 60 m
// (arithmetic).
func TestTwoPeg(t *testing.T) {
	mid := levels.PegSetup{A: 1500 * milli, B: 1300 * milli}
	for name, x := range map[string]levels.TwoPeg{
		"end at A, eyepiece over the peg": {Mid: mid, End: levels.PegSetup{A: 1450 * milli, B: 1253 * milli, DistA: of(0), DistB: of(60)}},
		"end near A":                      {Mid: mid, End: levels.PegSetup{A: 1450*milli + milli/10, B: 1253*milli - milli/10, DistA: of(2), DistB: of(58)}},
		"end beyond A":                    {Mid: mid, End: levels.PegSetup{A: 1451 * milli, B: 1254 * milli, DistA: of(20), DistB: of(80)}},
		"end beyond B":                    {Mid: mid, End: levels.PegSetup{A: 1454 * milli, B: 1251 * milli, DistA: of(80), DistB: of(20)}},
		"mid with distances":              {Mid: levels.PegSetup{A: 1500 * milli, B: 1300 * milli, DistA: of(30), DistB: of(30)}, End: levels.PegSetup{A: 1450 * milli, B: 1253 * milli, DistA: of(0), DistB: of(60)}},
		"mid not midway":                  {Mid: levels.PegSetup{A: 1501 * milli, B: 1302 * milli, DistA: of(20), DistB: of(40)}, End: levels.PegSetup{A: 1450 * milli, B: 1253 * milli, DistA: of(0), DistB: of(60)}},
		"both ends":                       {Mid: levels.PegSetup{A: 1450 * milli, B: 1253 * milli, DistA: of(0), DistB: of(60)}, End: levels.PegSetup{A: 1453 * milli, B: 1250 * milli, DistA: of(60), DistB: of(0)}},
		"known levels":                    {KnownA: of(100), KnownB: of(100.2), End: levels.PegSetup{A: 1450 * milli, B: 1253 * milli, DistA: of(0), DistB: of(60)}},
	} {
		r, err := x.Result()
		if !assert.NoError(t, err, name) {
			continue
		}
		assert.True(t, r.Supplied)
		assert.Equal(t, 0, r.Error.Compare(unit.Grade{Rise: 3 * milli, Run: 60 * metre}), "%s: %s", name, r.Error.OneIn())
		assert.Positive(t, r.Error.Run)
		assert.Equal(t, 200*milli, r.True, name)
		assert.Equal(t, r.True, r.RightA-r.RightB, name)
		assert.Equal(t, x.End.A-x.End.B, r.Apparent, name)
	}
}

func TestTwoPegOnItsLimit(t *testing.T) {
	x := levels.TwoPeg{Date: "3 May 2024", Mid: levels.PegSetup{A: 1500 * milli, B: 1300 * milli}, Limit: lineLimit(t, "10 mm in 100 m"),
		End: levels.PegSetup{A: 1450 * milli, B: 1256 * milli, DistA: of(0), DistB: of(60)}}
	r, err := x.Result()
	require.NoError(t, err)
	assert.True(t, r.Judged && r.Within, "6 mm over 60 m is on the limit")
	assert.Equal(t, "two-peg test of 3 May 2024: line of sight rises 10.0 mm in 100 m; true difference A to B 0.200 m, apparent 0.194 m; limit 10 mm in 100 m: within", r.Words(unit.M))
	x.End.B++
	r, err = x.Result()
	require.NoError(t, err)
	assert.True(t, r.Judged)
	assert.False(t, r.Within, "one count beyond")
	x.End.B += milli / 1000
	r, err = x.Result()
	require.NoError(t, err)
	assert.Contains(t, r.Words(unit.M), "rises 10.002 mm in 100 m;", "the print does not contradict the verdict")
	x.End.B = 1243*milli + milli/2
	x.Limit, x.Date = levels.LineLimit{}, ""
	r, err = x.Result()
	require.NoError(t, err)
	assert.False(t, r.Judged || r.Within)
	assert.Equal(t, "two-peg test, date not stated: line of sight falls 10.8 mm in 100 m; true difference A to B 0.200 m, apparent 0.2065 m; no limit given, not judged", r.Words(unit.Unit{}))
	x.Mid, x.KnownA, x.KnownB = levels.PegSetup{}, of(10), of(10.2065)
	r, err = x.Result()
	require.NoError(t, err)
	assert.Equal(t, "two-peg test, date not stated: line of sight is level; known difference A to B 0.2065 m, apparent 0.2065 m; no limit given, not judged", r.Words(unit.M))
}

func TestTwoPegInFeet(t *testing.T) {
	ft := unit.USSurveyFoot
	r, err := levels.TwoPeg{Mid: levels.PegSetup{A: 5 * ft, B: 4 * ft}, Limit: lineLimit(t, "0.01 ftUS in 100 ftUS"),
		End: levels.PegSetup{A: 5 * ft, B: 4*ft + ft/50, DistA: of(0), DistB: levels.Of(200 * ft)}}.Result()
	require.NoError(t, err)
	assert.True(t, r.Within)
	assert.Equal(t, "two-peg test, date not stated: line of sight rises 0.0100 ftUS in 100 ftUS; true difference A to B 1.000 ftUS, apparent 0.980 ftUS; limit 0.01 ftUS in 100 ftUS: within", r.Words(unit.FtUS))
}

func TestTwoPegRefused(t *testing.T) {
	mid := levels.PegSetup{A: 1500 * milli, B: 1300 * milli}
	end := levels.PegSetup{A: 1450 * milli, B: 1253 * milli, DistA: of(0), DistB: of(60)}
	with := func(s levels.PegSetup, a, b levels.Value) levels.PegSetup { s.DistA, s.DistB = a, b; return s }
	none := levels.Value{}
	for want, x := range map[string]levels.TwoPeg{
		"two-peg test: in both set-ups the sight to B is 0 m longer than the sight to A, so they show the same error and it cannot be told; set up midway between the pegs, and then near one of them":  {Mid: mid, End: with(end, of(30), of(30))},
		"two-peg test: in both set-ups the sight to B is 10 m longer than the sight to A, so they show the same error and it cannot be told; set up midway between the pegs, and then near one of them": {Mid: with(mid, of(25), of(35)), End: with(end, of(50), of(60))},
		"two-peg test: the end set-up has no distance to peg B; give the lengths of both sights":                                                                                                        {Mid: mid, End: with(end, of(0), none)},
		"two-peg test: the end set-up has no distance to peg A; give the lengths of both sights":                                                                                                        {Mid: mid},
		"two-peg test: the set-up between the pegs has no distance to peg A; give the lengths of both sights, or neither when it stood midway":                                                          {Mid: with(mid, none, of(30)), End: end},
		"two-peg test: the end set-up has a sight of -1 m to peg A, which cannot be; check the distance and its unit":                                                                                   {Mid: mid, End: with(end, of(-1), of(60))},
		"two-peg test: the end set-up has a sight of 60000 m to peg B, which cannot be; check the distance and its unit":                                                                                {Mid: mid, End: with(end, of(0), of(60000))},
		"two-peg test: the end set-up has sights of nought to both pegs; an instrument stands over one of them at most, so give the other distance":                                                     {Mid: mid, End: with(end, of(0), of(0))},
		"two-peg test: the set-up between the pegs has a reading of 1500 m, longer than any staff; check the number and its unit":                                                                       {Mid: levels.PegSetup{A: 1500 * metre, B: metre}, End: end},
		"two-peg test: there is one set-up and no known level; give the set-up between the pegs, or the known levels of both":                                                                           {End: end},
		"two-peg test: the known level of peg B is missing; give both levels, or neither and a set-up between the pegs":                                                                                 {End: end, KnownA: of(10)},
		"two-peg test: a known level of 30000 m for peg A is on no ground; check the number and its unit":                                                                                               {End: end, KnownA: of(30000), KnownB: of(10)},
		"two-peg test: there are known levels and a set-up between the pegs; give one or the other, so that it is clear which difference is the true one":                                               {Mid: mid, End: end, KnownA: of(10), KnownB: of(10)},
		"two-peg test: the line of sight would be more than 1 in 10 out of level, which no instrument is; check the readings, the distances and their units":                                            {Mid: mid, End: with(end, of(59.98), of(60))},
		"two-peg test: the sights to both pegs are equally long, so the error drops out and cannot be told; set up nearer to one of them":                                                               {End: with(end, of(30), of(30)), KnownA: of(10), KnownB: of(10)},
	} {
		r, err := x.Result()
		assert.EqualError(t, err, want)
		assert.Equal(t, levels.TwoPegResult{}, r)
	}
}

func TestNotSupplied(t *testing.T) {
	two, err := levels.TwoPeg{Limit: lineLimit(t, "10 mm in 100 m"), Date: "3 May 2024"}.Result()
	require.NoError(t, err)
	laser, err := levels.RotatingCheck{}.Result()
	require.NoError(t, err)
	assert.Equal(t, levels.Evidence{}, levels.Evidence{TwoPeg: two, Rotating: laser})
	assert.Equal(t, []string{"two-peg test: not supplied", "rotating-laser check: not supplied"}, levels.Evidence{}.Words(unit.M))
}

// Readings are made from a true difference and an error of the line of sight:
// the test finds both again, exactly, and its correction takes the error out of
// every reading.
func TestTwoPegRecoversTheError(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]unit.Length{milli, unit.InternationalFoot / 1000, unit.USSurveyFoot / 1000}).Draw(t, "step")
		dist := func(what string) unit.Length { return unit.Length(rapid.Int64Range(0, 100).Draw(t, what)) * 1000 * u }
		e := unit.Grade{Rise: unit.Length(rapid.Int64Range(-500, 500).Draw(t, "error in 100,000")) * u, Run: 100_000 * u}
		diff := unit.Length(rapid.Int64Range(-3000, 3000).Draw(t, "difference")) * u
		set := func(what string) levels.PegSetup {
			a, b := dist(what+" to A"), 1000*u+dist(what+" to B")
			right := unit.Length(rapid.Int64Range(-3000, 4000).Draw(t, what+" reading on A")) * u
			return levels.PegSetup{A: right + e.Over(a), B: right - diff + e.Over(b), DistA: levels.Of(a), DistB: levels.Of(b)}
		}
		x := levels.TwoPeg{Mid: set("mid"), End: set("end")}
		if rapid.Bool().Draw(t, "known") {
			x.Mid, x.KnownA, x.KnownB = levels.PegSetup{}, levels.Of(50*metre), levels.Of(50*metre+diff)
		}
		lever := func(s levels.PegSetup) unit.Length { return s.DistB.L - s.DistA.L }
		r, err := x.Result()
		if lever(x.End) == lever(x.Mid) {
			require.Error(t, err)
			return
		}
		require.NoError(t, err)
		require.Equal(t, 0, r.Error.Compare(e))
		require.Equal(t, diff, r.True)
		require.Equal(t, diff, r.RightA-r.RightB)
		c := levels.Corrections{Collimation: r.Error}
		for _, p := range []struct {
			reading unit.Length
			dist    levels.Value
			right   unit.Length
		}{{x.End.A, x.End.DistA, r.RightA}, {x.End.B, x.End.DistB, r.RightB}} {
			if p.dist.L == 0 {
				continue
			}
			got, items, err := c.Apply(p.reading, p.dist, "")
			require.NoError(t, err)
			require.Equal(t, p.right, got)
			require.Equal(t, levels.Items{Collimation: levels.Of(p.right - p.reading)}, items)
		}
	})
}

// Any readings and distances, against fractions of math/big.
func TestTwoPegAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := func(max unit.Length, what string) unit.Length {
			return unit.Length(rapid.Int64Range(0, int64(max)).Draw(t, what))
		}
		set := func(what string) levels.PegSetup {
			a := length(4*metre, what+" A")
			return levels.PegSetup{A: a, B: a + length(metre/20, what+" B less A"),
				DistA: levels.Of(length(100*metre, what+" to A")), DistB: levels.Of(1 + length(100*metre, what+" to B"))}
		}
		x := levels.TwoPeg{Mid: set("mid"), End: set("end")}
		d1, l1 := x.Mid.A-x.Mid.B, x.Mid.DistB.L-x.Mid.DistA.L
		d2, l2 := x.End.A-x.End.B, x.End.DistB.L-x.End.DistA.L
		r, err := x.Result()
		if l1 == l2 || unit.CompareProducts((d1-d2).Abs(), 10, (l2-l1).Abs(), 1) > 0 {
			require.Error(t, err)
			return
		}
		require.NoError(t, err)
		e := big.NewRat(int64(d1-d2), int64(l2-l1))
		require.Zero(t, e.Cmp(big.NewRat(int64(r.Error.Rise), int64(r.Error.Run))))
		near := func(what string, got unit.Length, base, over unit.Length) {
			want := new(big.Rat).Mul(e, new(big.Rat).SetInt64(int64(over)))
			want.Add(want, new(big.Rat).SetInt64(int64(base))).Sub(want, new(big.Rat).SetInt64(int64(got)))
			require.LessOrEqual(t, want.Abs(want).Cmp(big.NewRat(1, 2)), 0, "%s is not rounded once", what)
		}
		near("true difference", r.True, d1, l1)
		near("right reading on A", r.RightA, x.End.A, -x.End.DistA.L)
		near("right reading on B", r.RightB, x.End.B, -x.End.DistB.L)
	})
}

// A plane that rises 2 mm in 40 m towards mark 0 and falls 1 mm towards mark 90,
// on a beam that rises 3 mm in 40 m all round (arithmetic).
func TestRotatingCheck(t *testing.T) {
	c := levels.RotatingCheck{Date: "3 May 2024", R0: of(1.505), R180: of(1.501), R90: of(1.502), R270: of(1.504), Distance: of(40), Limit: lineLimit(t, "2 mm in 40 m")}
	r, err := c.Result()
	require.NoError(t, err)
	assert.Equal(t, 0, r.Axis0.Compare(unit.Grade{Rise: 2 * milli, Run: 40 * metre}))
	assert.Equal(t, 0, r.Axis90.Compare(unit.Grade{Rise: -milli, Run: 40 * metre}))
	assert.Zero(t, r.Cone)
	assert.True(t, r.Judged && r.Within, "on the limit")
	assert.Equal(t, "rotating-laser check of 3 May 2024: towards mark 0 rises 5.0 mm in 100 m; towards mark 90 falls 2.5 mm in 100 m; cone error not tested; limit 2 mm in 40 m: within", r.Words(unit.M))

	c.Cone = levels.ConeCheck{Known: of(-0.5), Near: levels.Facing{R0: 1500*milli + milli*375/1000 + milli/4, R180: 1500*milli + milli*375/1000 - milli/4, Distance: of(5)},
		Far: levels.Facing{R0: 2005 * milli, R180: 2001 * milli, Distance: of(40)}}
	r, err = c.Result()
	require.NoError(t, err)
	assert.Equal(t, 0, r.Cone.Compare(unit.Grade{Rise: 3 * milli, Run: 40 * metre}), "the error of level drops out of the means of opposite marks")
	assert.True(t, r.Judged)
	assert.False(t, r.Within, "the cone is beyond")
	assert.Contains(t, r.Words(unit.M), "; away from the instrument all round rises 7.5 mm in 100 m; limit 2 mm in 40 m: beyond")

	c.Cone = levels.ConeCheck{}
	c.R0.L++
	r, err = c.Result()
	require.NoError(t, err)
	assert.False(t, r.Within, "one count beyond")
	c.R0.L--
	c.R90, c.R270 = levels.Value{}, levels.Value{}
	r, err = c.Result()
	require.NoError(t, err)
	assert.False(t, r.Judged || r.Within, "an axis that was not tested is not within")
	assert.Equal(t, "rotating-laser check of 3 May 2024: towards mark 0 rises 5.0 mm in 100 m; axis of mark 90 not tested; cone error not tested; limit 2 mm in 40 m: not judged, both axes must be tested", r.Words(unit.M))
	c.R0.L++
	r, err = c.Result()
	require.NoError(t, err)
	assert.True(t, r.Judged, "one axis beyond the limit is enough")
	assert.False(t, r.Within)
	c.Limit = levels.LineLimit{}
	r, err = c.Result()
	require.NoError(t, err)
	assert.False(t, r.Judged || r.Within)
	assert.Contains(t, r.Words(unit.M), "; no limit given, not judged")
}

func TestRotatingCheckRefused(t *testing.T) {
	good := levels.RotatingCheck{R0: of(1.5), R180: of(1.5), R90: of(1.5), R270: of(1.5), Distance: of(40)}
	cone := levels.ConeCheck{Known: of(0), Near: levels.Facing{Distance: of(5)}, Far: levels.Facing{Distance: of(40)}}
	for want, change := range map[string]func(*levels.RotatingCheck){
		"the reading with mark 180 towards the staff is missing; an axis needs the readings of two opposite marks":                                             func(c *levels.RotatingCheck) { c.R180.Set = false },
		"the reading with mark 90 towards the staff is missing; an axis needs the readings of two opposite marks":                                              func(c *levels.RotatingCheck) { c.R90.Set = false },
		"the distance to the staff is missing; an error of level is a height over a distance":                                                                  func(c *levels.RotatingCheck) { c.Distance.Set = false },
		"a distance of 0 m to the staff cannot be; check the number and its unit":                                                                              func(c *levels.RotatingCheck) { c.Distance.L = 0 },
		"mark 270 has a reading of 1500 m, longer than any staff; check the number and its unit":                                                               func(c *levels.RotatingCheck) { c.R270 = of(1500) },
		"the difference of level between the near and the far peg is not known, and without it the cone error cannot be told; level it with both sights equal": func(c *levels.RotatingCheck) { c.Cone.Known = levels.Value{} },
		"a difference of 30000 m between two pegs cannot be; check the number and its unit":                                                                    func(c *levels.RotatingCheck) { c.Cone.Known = of(30000) },
		"the distance to the near peg is missing; an error of level is a height over a distance":                                                               func(c *levels.RotatingCheck) { c.Cone.Near.Distance.Set = false },
		"the far peg has a reading of 1500 m, longer than any staff; check the number and its unit":                                                            func(c *levels.RotatingCheck) { c.Cone.Far.R180 = 1500 * metre },
		"the plane would be more than 1 in 10 out of level, which no instrument is; check the readings, the distances and their units":                         func(c *levels.RotatingCheck) { c.R0 = of(9.6) },
		"the far peg is at 5 m and the near one at 5 m; the cone error shows only where the far one is further away":                                           func(c *levels.RotatingCheck) { c.Cone.Far.Distance = of(5) },
	} {
		c := good
		c.Cone = cone
		change(&c)
		_, err := c.Result()
		assert.EqualError(t, err, "rotating-laser check: "+want)
	}
}

// Readings made from errors of both axes and a cone: all three are found again.
func TestRotatingCheckRecoversErrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		slope := func(what string) unit.Grade {
			return unit.Grade{Rise: unit.Length(rapid.Int64Range(-100, 100).Draw(t, what)) * milli, Run: 1000 * metre}
		}
		x, y, cone := slope("mark 0"), slope("mark 90"), slope("cone")
		d := unit.Length(rapid.Int64Range(6, 100).Draw(t, "distance")) * metre
		near := unit.Length(rapid.Int64Range(1, 5).Draw(t, "near")) * metre
		known := unit.Length(rapid.Int64Range(-900, 900).Draw(t, "known")) * milli
		height := 1500 * milli
		read := func(over unit.Length, level unit.Length, axis unit.Grade, sign unit.Length) unit.Length {
			return height - level + cone.Over(over) + sign*axis.Over(over)
		}
		value := func(l unit.Length) levels.Value { return levels.Of(l) }
		c := levels.RotatingCheck{Distance: value(d), R0: value(read(d, known, x, 1)), R180: value(read(d, known, x, -1)), R90: value(read(d, known, y, 1)), R270: value(read(d, known, y, -1)),
			Cone: levels.ConeCheck{Known: value(known), Near: levels.Facing{R0: read(near, 0, x, 1), R180: read(near, 0, x, -1), Distance: value(near)},
				Far: levels.Facing{R0: read(d, known, y, 1), R180: read(d, known, y, -1), Distance: value(d)}}}
		r, err := c.Result()
		require.NoError(t, err)
		require.Equal(t, 0, r.Axis0.Compare(x))
		require.Equal(t, 0, r.Axis90.Compare(y))
		require.Equal(t, 0, r.Cone.Compare(cone))
	})
}
