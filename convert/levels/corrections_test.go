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

func decimal(t require.TestingT, text string) unit.Decimal {
	d, exact, err := unit.ParseDecimal(text)
	require.NoError(t, err)
	require.True(t, exact)
	return d
}

func curvature(t require.TestingT, text string) levels.Curvature {
	c, err := levels.ParseCurvature(text)
	require.NoError(t, err)
	return c
}

func TestNoCorrectionUnlessAskedFor(t *testing.T) {
	none := levels.Corrections{}
	assert.False(t, none.Given() || none.NeedsDistance())
	assert.Empty(t, none.Words(unit.M))
	for _, d := range []levels.Value{{}, of(0), of(100), of(-5)} {
		got, items, err := none.Apply(-1234*milli, d, "any staff")
		assert.NoError(t, err)
		assert.Equal(t, -1234*milli, got)
		assert.Equal(t, levels.Items{}, items)
		for _, i := range items.Each() {
			assert.False(t, i.Value.Set, i.Name)
		}
	}
}

// Each correction by itself, by hand: 5 mm in 100 m over 40 m is 2 mm; 0.0675 m
// at 1 km is 2.7 mm at 200 m; a staff 20 parts per million too long adds 0.06 mm
// to 3 m.
func TestEachCorrection(t *testing.T) {
	collimation := unit.Grade{Rise: 5 * milli, Run: 100 * metre}
	long := map[string]levels.Staff{"": {Zero: milli / 2, PPM: decimal(t, "20")}, "S2": {Zero: -milli}, "S3": {PPM: decimal(t, "-12.5")}}
	for name, x := range map[string]struct {
		c       levels.Corrections
		reading float64
		dist    levels.Value
		staff   string
		items   levels.Items
		want    string
	}{
		"line of sight that rises":       {levels.Corrections{Collimation: collimation}, 1.5, of(40), "", levels.Items{Collimation: levels.Of(-2 * milli)}, "1.498"},
		"line of sight that falls":       {levels.Corrections{Collimation: unit.Grade{Rise: -5 * milli, Run: 100 * metre}}, 1.5, of(40), "", levels.Items{Collimation: levels.Of(2 * milli)}, "1.502"},
		"inverted, line rises":           {levels.Corrections{Collimation: collimation}, -1.5, of(40), "", levels.Items{Collimation: levels.Of(-2 * milli)}, "-1.502"},
		"level line, asked for":          {levels.Corrections{Collimation: unit.Grade{Run: metre}}, 1.5, of(40), "", levels.Items{Collimation: levels.Of(0)}, "1.500"},
		"curvature":                      {levels.Corrections{Curvature: curvature(t, "0.0675 m at 1 km")}, 1.5, of(200), "", levels.Items{Curvature: levels.Of(-27 * milli / 10)}, "1.4973"},
		"curvature, inverted":            {levels.Corrections{Curvature: curvature(t, "0.0675 m at 1 km")}, -1.5, of(200), "", levels.Items{Curvature: levels.Of(-27 * milli / 10)}, "-1.5027"},
		"refraction alone":               {levels.Corrections{Curvature: curvature(t, "-0.0112 m at 1 km")}, 1.5, of(1000), "", levels.Items{Curvature: levels.Of(112 * milli / 10)}, "1.5112"},
		"staff worn and too long":        {levels.Corrections{Staffs: long}, 3, levels.Value{}, "", levels.Items{StaffZero: levels.Of(milli / 2), StaffScale: levels.Of(6 * milli / 100)}, "3.00056"},
		"the same, inverted":             {levels.Corrections{Staffs: long}, -3, levels.Value{}, "", levels.Items{StaffZero: levels.Of(-milli / 2), StaffScale: levels.Of(-6 * milli / 100)}, "-3.00056"},
		"staff with a thick foot":        {levels.Corrections{Staffs: long}, 3, levels.Value{}, "S2", levels.Items{StaffZero: levels.Of(-milli), StaffScale: levels.Of(0)}, "2.999"},
		"staff too short":                {levels.Corrections{Staffs: long}, 4, levels.Value{}, "S3", levels.Items{StaffZero: levels.Of(0), StaffScale: levels.Of(-5 * milli / 100)}, "3.99995"},
		"nought on a staff that is worn": {levels.Corrections{Staffs: long}, 0, levels.Value{}, "", levels.Items{StaffZero: levels.Of(milli / 2), StaffScale: levels.Of(0)}, "0.0005"},
		"all of them": {levels.Corrections{Collimation: collimation, Curvature: curvature(t, "0.0675 m at 1 km"), Staffs: long}, 3, of(200), "",
			levels.Items{Collimation: levels.Of(-10 * milli), Curvature: levels.Of(-27 * milli / 10), StaffZero: levels.Of(milli / 2), StaffScale: levels.Of(6 * milli / 100)}, "2.98786"},
	} {
		got, items, err := x.c.Apply(mm(x.reading*1000), x.dist, x.staff)
		if assert.NoError(t, err, name) {
			assert.Equal(t, x.items, items, name)
			assert.Equal(t, x.want, got.Exact(unit.M, 3), name)
			assert.Equal(t, got-mm(x.reading*1000), items.Total(), name)
			assert.True(t, x.c.Given())
			sum := unit.Length(0)
			for _, i := range items.Each() {
				assert.Equal(t, i.Value.Set, i.Value != levels.Value{})
				sum += i.Value.L
			}
			assert.Equal(t, items.Total(), sum)
		}
	}
}

func TestCorrectionsRefused(t *testing.T) {
	collimation := levels.Corrections{Collimation: unit.Grade{Rise: milli, Run: 100 * metre}}
	curved := levels.Corrections{Curvature: curvature(t, "0.0673 m at 1 km")}
	both := levels.Corrections{Collimation: collimation.Collimation, Curvature: curved.Curvature}
	staffs := levels.Corrections{Staffs: map[string]levels.Staff{"S1": {Zero: milli}, "bent": {Zero: 2 * metre}, "soft": {PPM: decimal(t, "100000.1")}, "wild": {PPM: decimal(t, "123456789012345678")}}}
	none := levels.Value{}
	for _, x := range []struct {
		c       levels.Corrections
		reading unit.Length
		dist    levels.Value
		staff   string
		want    string
	}{
		{collimation, metre, none, "", "the distance of this sight is missing, and the correction for collimation needs it; book it, or do not ask for the correction"},
		{collimation, metre, of(0), "", "the distance of this sight is missing, and the correction for collimation needs it; book it, or do not ask for the correction"},
		{curved, metre, none, "", "the distance of this sight is missing, and the correction for curvature and refraction needs it; book it, or do not ask for the correction"},
		{both, metre, none, "", "the distance of this sight is missing, and the correction for collimation and for curvature and refraction needs it; book it, or do not ask for the correction"},
		{both, metre, of(-40), "", "a sight of -40 m cannot be; check the distance and its unit"},
		{both, metre, of(10_001), "", "a sight of 10001 m cannot be; check the distance and its unit"},
		{both, 1001 * metre, of(40), "", "a reading of 1001 m is longer than any staff; check the number and its unit"},
		{levels.Corrections{Collimation: unit.Grade{Rise: 100 * metre, Run: metre}}, metre, of(40), "", "a correction of more than a kilometre cannot be; check the error of the line of sight and the coefficient of curvature and refraction"},
		{staffs, metre, none, "", "this reading does not say which staff it was taken on, and the staffs have corrections; name the staff"},
		{staffs, metre, none, "S2", `the staff "S2" has no correction, though others have; give its zero error and scale, nought if it has none`},
		{staffs, metre, none, "bent", `a zero error of 2000 mm for the staff "bent" cannot be; check the number and its unit`},
		{staffs, metre, none, "soft", `a scale of 100000.1 parts per million for the staff "soft" cannot be; check the number`},
		{staffs, metre, none, "wild", `a scale of 123456789012345678 parts per million for the staff "wild" cannot be; check the number`},
	} {
		got, items, err := x.c.Apply(x.reading, x.dist, x.staff)
		assert.EqualError(t, err, x.want)
		assert.Zero(t, got)
		assert.Equal(t, levels.Items{}, items)
	}
}

// The coefficients of curvature and refraction together agree with each other:
// 0.0673 m at 1 km (a question site and other notes), 0.0675 (usual in US texts),
// 0.0206 ft at 1000 ft (from memory), and the radius of the earth, 6371 km, with
// k = 1/7 for 0.0673 (refraction is a seventh of curvature) and k = 0.14 for
// 0.0675.
func TestCoefficientsOfCurvature(t *testing.T) {
	for text, want := range map[string]string{
		"0.0673 m at 1 km": "67.3", "67.3 mm at 1000 m": "67.3", "0.0675 m at 1 km": "67.5", "0.0206 ft at 1000 ft": "67.6", "0.0206 ftUS at 1000 ftUS": "67.6", "0.574 ft at 1 mi": "67.6",
		"refraction 0.142857143, radius 6371 km": "67.3", "refraction 0.14, radius 6371 km": "67.5", "refraction 0 radius 6371 km": "78.5", "refraction 0.14, radius 6371000 m": "67.5",
	} {
		c := curvature(t, text)
		assert.True(t, c.Given())
		d, err := c.At(1000 * metre)
		require.NoError(t, err)
		assert.Equal(t, want, d.Fixed(unit.MM, 1), text)
		far, err := c.At(2000 * metre)
		require.NoError(t, err)
		assert.LessOrEqual(t, (far - 4*d).Abs(), unit.Length(2), "it grows with the square of the distance")
	}
	assert.Equal(t, "67.3 mm at 1000 m", curvature(t, " 67.3 mm at 1000 m").Text)
	assert.Equal(t, "refraction 0.14, radius of the earth 6371 km", curvature(t, "refraction 0.14, radius 6371 km").Text)
	c, err := levels.DropAt(67*milli, 1000*metre)
	require.NoError(t, err)
	assert.Equal(t, "0.0670 m at 1 km", c.Text)
	d, err := levels.Curvature{}.At(1000 * metre)
	require.NoError(t, err)
	assert.Zero(t, d)
	_, err = levels.Curvature{Drop: unit.MaxLength, Over: 1, By: 1}.At(1000 * metre)
	assert.ErrorIs(t, err, unit.ErrRange)

	for _, text := range []string{"", "0.0673", "0.0673 m", "0.0673 m at", "0.0673 at 1 km", "0.0673 m at 1", "refraction 0.13", "refraction 0.13, radius 6371", "refraction x, radius 6371 km", "radius 6371 km, refraction 0.13"} {
		_, err := levels.ParseCurvature(text)
		assert.EqualError(t, err, `"`+text+`" is no coefficient of curvature and refraction; write "0.0673 m at 1 km" or "refraction 0.13, radius 6371 km"`)
	}
	for text, want := range map[string]string{
		"0 m at 1 km":                      `a drop of 0.000 m at 1000 m is no coefficient of curvature and refraction; write it with the distance it belongs to, such as "0.0673 m at 1 km"`,
		"0.0673 m at -1 km":                `a drop of 0.0673 m at -1000 m is no coefficient of curvature and refraction; write it with the distance it belongs to, such as "0.0673 m at 1 km"`,
		"0.0673 m at 1 m":                  `a drop of 0.0673 m at 1 m is no coefficient of curvature and refraction; write it with the distance it belongs to, such as "0.0673 m at 1 km"`,
		"refraction 1, radius 6371 km":     "1 is no coefficient of refraction; it is a number such as 0.13, above -1 and below 1",
		"refraction -1.0, radius 6371 km":  "-1.0 is no coefficient of refraction; it is a number such as 0.13, above -1 and below 1",
		"refraction 0.13, radius 6371 m":   "6371 m is no radius of the earth; it is about 6371 km",
		"refraction 0.13, radius 63710 km": "63710 km is no radius of the earth; it is about 6371 km",
	} {
		_, err := levels.ParseCurvature(text)
		assert.EqualError(t, err, want, text)
	}
}

func TestCorrectionsInWords(t *testing.T) {
	c := levels.Corrections{Collimation: unit.Grade{Rise: -5 * milli, Run: 100 * metre}, Curvature: curvature(t, "0.0673 m at 1 km"),
		Staffs: map[string]levels.Staff{"S2": {Zero: -milli, PPM: decimal(t, "-12.5")}, "S1": {PPM: decimal(t, "20")}, "": {}}}
	assert.Equal(t, []string{
		"collimation: the line of sight falls 5.0 mm in 100 m; correction = -error x distance",
		"curvature and refraction: 0.0673 m at 1 km, growing with the square of the distance; taken off every reading",
		"staff not named: zero 0.0 mm, scale 0 parts per million; corrected = zero + reading x (1 + scale)",
		"staff S1: zero 0.0 mm, scale 20 parts per million; corrected = zero + reading x (1 + scale)",
		"staff S2: zero -1.0 mm, scale -12.5 parts per million; corrected = zero + reading x (1 + scale)",
	}, c.Words(unit.Unit{}))
}

// Readings are spoiled by every error at once, in fractions of math/big; the
// corrections bring the right reading back, to the rounding of their parts.
func TestCorrectionsUndoErrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := unit.Grade{Rise: unit.Length(rapid.Int64Range(-2000, 2000).Draw(t, "collimation")) * milli / 100, Run: 100 * metre}
		drop := unit.Length(rapid.Int64Range(1, 900).Draw(t, "drop")) * milli / 10
		zero := unit.Length(rapid.Int64Range(-300, 300).Draw(t, "zero")) * milli / 100
		ppm := unit.Decimal{Coef: rapid.Int64Range(-2000, 2000).Draw(t, "ppm"), Places: 1}
		right := unit.Length(rapid.Int64Range(100, 4000).Draw(t, "right")) * milli
		inverted := rapid.Bool().Draw(t, "inverted")
		dist := unit.Length(rapid.Int64Range(1, 3000).Draw(t, "distance")) * metre / 10
		rat := func(a, b unit.Length) *big.Rat { return big.NewRat(int64(a), int64(b)) }
		// the line of sight meets the staff too high by the errors of the sight
		sight := new(big.Rat).Mul(rat(e.Rise, e.Run), rat(dist, 1))
		bend := new(big.Rat).Mul(rat(dist, 1000*metre), rat(dist, 1000*metre))
		sight.Add(sight, bend.Mul(bend, rat(drop, 1)))
		if inverted {
			right = -right
		}
		length := new(big.Rat).Add(rat(right, 1), sight) // what a right staff would read
		if length.Abs(length).Cmp(rat(10*milli, 1)) < 0 {
			return
		}
		// and is read on a staff of which zero is missing and whose marks are too far apart
		scale := new(big.Rat).Add(rat(1, 1), new(big.Rat).SetFrac64(ppm.Coef, 10_000_000))
		length.Sub(length, rat(zero, 1)).Quo(length, scale)
		f, _ := length.Float64()
		reading := unit.Length(f)
		if inverted {
			reading = -reading
		}
		c := levels.Corrections{Collimation: e, Curvature: levels.Curvature{Drop: drop, Over: 1000 * metre, By: 1000 * metre}, Staffs: map[string]levels.Staff{"S": {Zero: zero, PPM: ppm}}}
		got, items, err := c.Apply(reading, levels.Of(dist), "S")
		require.NoError(t, err)
		require.InDelta(t, int64(right), int64(got), 4, "the reading is cut to a whole count, and four parts are rounded")
		require.Equal(t, got-reading, items.Total())
	})
}

// Every part is rounded once: against fractions of math/big.
func TestCorrectionsAgainstBig(t *testing.T) {
	half := big.NewRat(1, 2)
	rapid.Check(t, func(t *rapid.T) {
		draw := func(max unit.Length, what string) unit.Length {
			return unit.Length(rapid.Int64Range(-int64(max), int64(max)).Draw(t, what))
		}
		reading, dist := draw(5*metre, "reading"), 1+draw(300*metre, "distance").Abs()
		drop, at := draw(metre/10, "drop"), 10*metre+draw(1000*metre, "at").Abs()
		e := unit.Grade{Rise: draw(metre/10, "error"), Run: 10*metre + draw(100*metre, "over").Abs()}
		ppm := unit.Decimal{Coef: rapid.Int64Range(-1_000_000, 1_000_000).Draw(t, "ppm"), Places: uint8(rapid.IntRange(2, 6).Draw(t, "places"))}
		if drop == 0 {
			return
		}
		c := levels.Corrections{Collimation: e, Curvature: levels.Curvature{Drop: drop, Over: at, By: at}, Staffs: map[string]levels.Staff{"": {PPM: ppm}}}
		_, items, err := c.Apply(reading, levels.Of(dist), "")
		require.NoError(t, err)
		near := func(what string, got levels.Value, num, den []unit.Length) {
			want := big.NewRat(1, 1)
			for _, x := range num {
				want.Mul(want, new(big.Rat).SetInt64(int64(x)))
			}
			for _, x := range den {
				want.Quo(want, new(big.Rat).SetInt64(int64(x)))
			}
			want.Sub(want, new(big.Rat).SetInt64(int64(got.L)))
			require.True(t, got.Set)
			require.LessOrEqual(t, want.Abs(want).Cmp(half), 0, what)
		}
		power := unit.Length(1_000_000)
		for range ppm.Places {
			power *= 10
		}
		near("collimation", items.Collimation, []unit.Length{-1, e.Rise, dist}, []unit.Length{e.Run})
		near("curvature", items.Curvature, []unit.Length{-1, drop, dist, dist}, []unit.Length{at, at})
		near("scale", items.StaffScale, []unit.Length{reading, unit.Length(ppm.Coef)}, []unit.Length{power})
	})
}
