package align_test

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/convert/align"
	"sightrail/formats/unit"
)

// points of a section: name, offset, level in metres.
func points(t require.TestingT, of ...any) (out []align.SectionPoint) {
	for i := 0; i < len(of); i += 3 {
		out = append(out, align.SectionPoint{Name: of[i].(string), Offset: mOf(of[i+1].(float64)), Level: mOf(of[i+2].(float64))})
	}
	return out
}

// A road with edges and a bank, which widens on the right from 4 m to 6 m.
func widening(t require.TestingT) []align.Section {
	return []align.Section{
		{Chainage: 100 * m, Points: points(t, "left", -4.0, 9.9, "axis", 0.0, 10.0, "right", 4.0, 9.9, "toe", 8.0, 7.9)},
		{Chainage: 200 * m, Points: points(t, "left", -4.0, 10.9, "axis", 0.0, 11.0, "right", 6.0, 10.85, "toe", 10.0, 8.85)},
	}
}

// The two rules give different levels where the road widens. (Arithmetic; no
// published source.)
func TestSectionsByBothRules(t *testing.T) {
	byOffset, flaws := align.NewSections(widening(t), align.ByOffset, nil, unit.M)
	require.Empty(t, flaws)
	byName, flaws := align.NewSections(widening(t), align.ByName, nil, unit.M)
	require.Empty(t, flaws)
	for _, x := range []struct{ chainage, offset, offsets, names string }{
		{"100", "0", "10", "10"}, {"100", "-2", "9.95", "9.95"}, {"100", "6", "8.9", "8.9"}, {"200", "6", "10.85", "10.85"}, {"200", "10", "8.85", "8.85"},
		{"150", "0", "10.5", "10.5"}, {"150", "-4", "10.4", "10.4"},
		{"150", "5", "10.1375", "10.375"}, // half of 9.4 and 10.875, or the line of the edge itself
		{"150", "9", "", "8.375"},         // beside the first section, on the line of the toe
		{"150", "8", "8.875", "8.875"},    // on the bank in both
	} {
		for i, s := range []*align.Sections{byOffset, byName} {
			want := []string{x.offsets, x.names}[i]
			z, err := s.Level(inUnit(t, x.chainage, unit.M), inUnit(t, x.offset, unit.M))
			if want == "" {
				assert.ErrorIs(t, err, align.ErrBeside)
				continue
			}
			require.NoError(t, err)
			assert.InDelta(t, inUnit(t, want, unit.M).Metres(), z.Metres(), 1e-12, "%s %s, rule %d", x.chainage, x.offset, i)
		}
	}
	for i, s := range []*align.Sections{byOffset, byName} {
		_, err := s.Level(150*m, -4001*millimetre)
		assert.EqualError(t, err, "offset -4.001 m is beside the design: its outermost point on the left is at -4.000 m")
		_, err = s.Level(150*m, 9001*millimetre)
		assert.EqualError(t, err, "offset 9.001 m is beside the design: its outermost point on the right is at "+[]string{"8", "9"}[i]+".000 m")
		_, err = s.Level(100*m-1, 0)
		assert.ErrorIs(t, err, align.ErrBefore)
		_, err = s.Level(200*m+1, 0)
		assert.ErrorIs(t, err, align.ErrAfter)
		assert.Equal(t, 100*m, s.Start())
		assert.Equal(t, 200*m, s.End())
	}
	// from right to left it is the same
	turned := widening(t)
	for i := range turned {
		p := turned[i].Points
		for j, k := 0, len(p)-1; j < k; j, k = j+1, k-1 {
			p[j], p[k] = p[k], p[j]
		}
	}
	s, flaws := align.NewSections(turned, align.ByName, nil, unit.M)
	require.Empty(t, flaws)
	z, err := s.Level(150*m, 5*m)
	require.NoError(t, err)
	assert.Equal(t, 10375*millimetre, z)
	assert.Equal(t, "toe", turned[0].Points[0].Name, "what was given is not touched")
}

// Heights above a profile are added to it, exactly.
func TestSectionsOverAProfile(t *testing.T) {
	sections := []align.Section{{Chainage: 0, Points: points(t, "", -4.0, -0.12, "", 0.0, 0.0, "", 4.0, -0.12)}, {Chainage: 1000 * m, Points: points(t, "", -4.0, -0.12, "", 0.0, 0.0, "", 4.0, -0.12)}}
	s, flaws := align.NewSections(sections, align.ByOffset, slope(t), unit.M)
	require.Empty(t, flaws)
	z, err := s.Level(250*m, 2*m)
	require.NoError(t, err)
	assert.Equal(t, 12440*millimetre, z)
	short, _ := align.NewProfile([]align.PVI{{}, {Chainage: 100 * m}}, align.ProfileOptions{})
	s, _ = align.NewSections(sections, align.ByOffset, short, unit.M)
	_, err = s.Level(101*m, 0)
	assert.ErrorContains(t, err, "after the end of the profile")
}

// A kerb face has two levels at its offset, and one on each side of it.
func TestVerticalFace(t *testing.T) {
	kerb := []align.SectionPoint(points(t, "axis", 0.0, 10.0, "lip", 4.0, 9.88, "top", 4.0, 10.03, "back", 6.0, 10.07))
	s, flaws := align.NewSections([]align.Section{{Chainage: 0, Points: kerb}, {Chainage: 10 * m, Points: kerb}}, align.ByName, nil, unit.M)
	require.Empty(t, flaws)
	for _, at := range []unit.Length{0, 5 * m, 10 * m} {
		_, err := s.Level(at, 4*m)
		assert.EqualError(t, err, "offset 4.000 m is at a vertical face of the design, which has two levels there, 9.880 m and 10.030 m")
		assert.ErrorIs(t, err, align.ErrStep)
		below, err := s.Level(at, 4*m-1)
		require.NoError(t, err)
		above, err := s.Level(at, 4*m+1)
		require.NoError(t, err)
		assert.InDelta(t, 9.88, below.Metres(), 1e-9)
		assert.InDelta(t, 10.03, above.Metres(), 1e-9)
	}
	// two points of one level at one offset are no face; nor is one at the outermost
	twice := points(t, "a", 0.0, 10.0, "b", 4.0, 9.88, "c", 4.0, 9.88, "d", 6.0, 10.0)
	s, flaws = align.NewSections([]align.Section{{Points: twice}}, align.ByOffset, nil, unit.M)
	require.Empty(t, flaws)
	for offset, want := range map[unit.Length]unit.Length{4 * m: 9880 * millimetre, 6 * m: 10 * m, 5 * m: 9940 * millimetre, 0: 10 * m} {
		z, err := s.Level(0, offset)
		require.NoError(t, err)
		assert.Equal(t, want, z)
	}
}

// Against math/big: by offset, the level is bilinear between two sections.
func TestSectionsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := func(name string) unit.Length {
			return unit.Length(rapid.OneOf(rapid.Int64Range(-int64(20*m), int64(20*m)), rapid.Int64Range(-5, 5)).Draw(t, name))
		}
		width := unit.Length(rapid.OneOf(rapid.Int64Range(1, 7), rapid.Int64Range(1, int64(20*m))).Draw(t, "width"))
		run := unit.Length(rapid.OneOf(rapid.Int64Range(1, 7), rapid.Int64Range(1, int64(50*m))).Draw(t, "run"))
		z := [4]unit.Length{l("z00"), l("z01"), l("z10"), l("z11")}
		section := func(at, a, b unit.Length) align.Section {
			return align.Section{Chainage: at, Points: []align.SectionPoint{{Name: "a", Level: a}, {Name: "b", Offset: width, Level: b}}}
		}
		x := unit.Length(rapid.Int64Range(0, int64(run)).Draw(t, "x"))
		o := unit.Length(rapid.Int64Range(0, int64(width)).Draw(t, "o"))
		mix := func(a, b *big.Rat, part, all unit.Length) *big.Rat {
			d := new(big.Rat).Sub(b, a)
			d.Mul(d, big.NewRat(int64(part), int64(all)))
			return d.Add(d, a)
		}
		want := nearest(mix(mix(rat(z[0]), rat(z[1]), o, width), mix(rat(z[2]), rat(z[3]), o, width), x, run))
		for _, rule := range []align.Between{align.ByOffset, align.ByName} { // of one width, the rules agree
			s, flaws := align.NewSections([]align.Section{section(0, z[0], z[1]), section(run, z[2], z[3])}, rule, nil, unit.M)
			require.Empty(t, flaws)
			got, err := s.Level(x, o)
			require.NoError(t, err)
			require.Equal(t, want, got)
		}
	})
}

func TestFlawsOfSections(t *testing.T) {
	two := points(t, "a", 0.0, 1.0, "b", 1.0, 1.0)
	of := func(at unit.Length, p []align.SectionPoint) align.Section {
		return align.Section{Chainage: at, Points: p}
	}
	for want, x := range map[string]struct {
		sections []align.Section
		rule     align.Between
	}{
		"it is not said how the design runs between cross sections; say by offset or by name": {[]align.Section{of(0, two)}, 0},
		"there are no cross sections": {nil, align.ByOffset},
		"cross section 2, at chainage 0.000 m, is not after the one before it, at 0.000 m; correct the file":                                                                          {[]align.Section{of(0, two), of(0, two)}, align.ByOffset},
		"cross section 1, at chainage 0.000 m, needs two points or more, and there are 1":                                                                                             {[]align.Section{of(0, two[:1])}, align.ByOffset},
		"cross section 1, at chainage 0.000 m, goes back from offset 2.000 m to 1.000 m; it would have two levels there: correct the file":                                            {[]align.Section{of(0, points(t, "", 0.0, 1.0, "", 2.0, 1.0, "", 1.0, 1.0, "", 3.0, 1.0))}, align.ByOffset},
		"cross section 1, at chainage 0.000 m, has no width":                                                                                                                          {[]align.Section{of(0, points(t, "", 0.0, 1.0, "", 0.0, 2.0))}, align.ByOffset},
		"cross section 1, at chainage 2342741.182843479 m, is more than 1,171 km from 0; check its unit":                                                                              {[]align.Section{of(unit.MaxLength, two)}, align.ByOffset},
		"cross section 1, at chainage 0.000 m, has a point more than 585 km away; check its unit":                                                                                     {[]align.Section{of(0, points(t, "", 0.0, 1.0, "", 6e5, 1.0))}, align.ByOffset},
		"cross section 1, at chainage 0.000 m, has a point, number 2 from the left, without a name; name it, or choose by offset":                                                     {[]align.Section{of(0, points(t, "a", 0.0, 1.0, "", 1.0, 1.0))}, align.ByName},
		"cross section 1, at chainage 0.000 m, has two points named \"a\"; names must differ":                                                                                         {[]align.Section{of(0, points(t, "a", 0.0, 1.0, "a", 1.0, 1.0))}, align.ByName},
		"cross section 2, at chainage 1.000 m, has 3 points, and the one before it 2; the same names are needed in both, or choose by offset":                                         {[]align.Section{of(0, two), of(m, points(t, "a", 0.0, 1.0, "b", 1.0, 1.0, "c", 2.0, 1.0))}, align.ByName},
		"cross section 2, at chainage 1.000 m, has \"c\" where the one before it has \"b\", number 2 from the left; the same names in the same order are needed, or choose by offset": {[]align.Section{of(0, two), of(m, points(t, "a", 0.0, 1.0, "c", 1.0, 1.0))}, align.ByName},
	} {
		s, flaws := align.NewSections(x.sections, x.rule, nil, unit.M)
		assert.Nil(t, s)
		assert.EqualError(t, flaws.Err(), want)
	}
}

func TestDatumOf(t *testing.T) {
	p, flaws := align.NewProfile([]align.PVI{{Level: 100 * m}, {Chainage: 100 * m, Level: 102 * m}}, align.ProfileOptions{})
	require.Empty(t, flaws)
	section := func(at unit.Length, axis float64) align.Section {
		return align.Section{Chainage: at, Points: points(t, "", -4.0, axis-9, "", 0.5, axis, "", 4.0, axis+9)}
	}
	d, err := align.DatumOf([]align.Section{section(0, 99.9), section(50*m, 101), section(200*m, 7)}, p)
	require.NoError(t, err)
	assert.Equal(t, align.Absolute, d)
	d, err = align.DatumOf([]align.Section{section(0, -0.1), section(50*m, 0)}, p)
	require.NoError(t, err)
	assert.Equal(t, align.OverProfile, d)
	_, err = align.DatumOf([]align.Section{section(0, -0.1), section(50*m, 101)}, p)
	assert.EqualError(t, err, "it does not show whether the cross sections hold levels or heights above the profile: of 2 within the profile, 1 look like levels, 1 like heights and 0 like both; say which they are")
	low, _ := align.NewProfile([]align.PVI{{Level: 2 * m}, {Chainage: 100 * m, Level: 3 * m}}, align.ProfileOptions{})
	_, err = align.DatumOf([]align.Section{section(0, 2)}, low)
	assert.ErrorContains(t, err, "1 like both")
	_, err = align.DatumOf(nil, p)
	assert.Error(t, err)
}
