package align

import (
	"errors"
	"fmt"
	"slices"

	"sightrail/formats/unit"
)

// SectionPoint is a point of a design cross section.
type SectionPoint struct {
	Name   string
	Offset unit.Length // + right
	Level  unit.Length // or height above the profile
}

// Section is a design cross section. Its points run from one side to the other;
// a straight line is between two that follow each other.
type Section struct {
	Chainage unit.Length
	Points   []SectionPoint
}

// Between says how the design runs from one cross section to the next.
type Between uint8

// The rules; one must be chosen.
const (
	// ByOffset takes the level at the offset in both sections, and in between runs
	// straight from the one to the other. An offset that one of them does not reach
	// is beside the design.
	ByOffset Between = iota + 1
	// ByName runs a straight line, in offset and level, from every point to the one
	// of the same name in the next section, and across between these lines. All
	// points have names, the same in neighbouring sections and in the same order.
	ByName
)

// Datum says what the levels of cross sections are.
type Datum uint8

// The data.
const (
	Absolute    Datum = iota + 1 // levels
	OverProfile                  // heights above the profile
)

// Sections are the design cross sections of an alignment.
type Sections struct {
	sections []Section
	between  Between
	profile  *Profile // nil when levels are absolute
	in       unit.Unit
}

// ErrStep is wrapped where a cross section has a vertical face, at the offset of
// which it has two levels.
var ErrStep = errors.New("is at a vertical face of the design, which has two levels there")

// NewSections makes cross sections in the order of their chainages, each with two
// points or more, from left to right or from right to left. profile is for those
// whose levels are heights above it, else nil. in is the unit of messages.
func NewSections(sections []Section, between Between, profile *Profile, in unit.Unit) (*Sections, Flaws) {
	s := &Sections{sections: slices.Clone(sections), between: between, profile: profile, in: in}
	var flaws Flaws
	bad := func(i int, format string, args ...any) {
		flaws = append(flaws, Flaw{At: i, Kind: Malformed, Bad: true,
			Text: fmt.Sprintf("cross section %d, at chainage %s, ", i+1, text(sections[i].Chainage, in)) + fmt.Sprintf(format, args...)})
	}
	switch {
	case between != ByOffset && between != ByName:
		return nil, Flaws{{Kind: Malformed, Bad: true, Text: "it is not said how the design runs between cross sections; say by offset or by name"}}
	case len(sections) == 0:
		return nil, Flaws{{Kind: Malformed, Bad: true, Text: "there are no cross sections"}}
	}
	for i := range s.sections {
		c := &s.sections[i]
		if c.Chainage.Abs() > extent {
			bad(i, "is more than 1,171 km from 0; check its unit")
			continue
		}
		if i > 0 && c.Chainage <= sections[i-1].Chainage {
			bad(i, "is not after the one before it, at %s; correct the file", text(sections[i-1].Chainage, in))
		}
		if words := c.order(in); words != "" {
			bad(i, "%s", words)
		}
		if between == ByName {
			if words := c.named(s.sections[max(i-1, 0)].Points); words != "" {
				bad(i, "%s", words)
			}
		}
	}
	if flaws.Err() != nil {
		return nil, flaws
	}
	return s, nil
}

// order puts the points from left to right, and says what is wrong with them.
func (c *Section) order(in unit.Unit) string {
	if len(c.Points) < 2 {
		return fmt.Sprintf("needs two points or more, and there are %d", len(c.Points))
	}
	c.Points = slices.Clone(c.Points)
	if c.Points[0].Offset > c.Points[len(c.Points)-1].Offset {
		slices.Reverse(c.Points)
	}
	for i, p := range c.Points {
		switch {
		case p.Offset.Abs() > extent/2 || p.Level.Abs() > extent/2:
			return "has a point more than 585 km away; check its unit"
		case i > 0 && p.Offset < c.Points[i-1].Offset:
			return fmt.Sprintf("goes back from offset %s to %s; it would have two levels there: correct the file", text(c.Points[i-1].Offset, in), text(p.Offset, in))
		}
	}
	if c.Points[0].Offset == c.Points[len(c.Points)-1].Offset {
		return "has no width"
	}
	return ""
}

// named compares the names of the points with those of the section before.
func (c *Section) named(before []SectionPoint) string {
	for i, p := range c.Points {
		switch {
		case p.Name == "":
			return fmt.Sprintf("has a point, number %d from the left, without a name; name it, or choose by offset", i+1)
		case len(before) != len(c.Points):
			return fmt.Sprintf("has %d points, and the one before it %d; the same names are needed in both, or choose by offset", len(c.Points), len(before))
		case before[i].Name != p.Name:
			return fmt.Sprintf("has %q where the one before it has %q, number %d from the left; the same names in the same order are needed, or choose by offset", p.Name, before[i].Name, i+1)
		case slices.ContainsFunc(c.Points[:i], func(q SectionPoint) bool { return q.Name == p.Name }):
			return fmt.Sprintf("has two points named %q; names must differ", p.Name)
		}
	}
	return ""
}

// Start is the chainage of the first section.
func (s *Sections) Start() unit.Length { return s.sections[0].Chainage }

// End is the chainage of the last section.
func (s *Sections) End() unit.Length { return s.sections[len(s.sections)-1].Chainage }

// Level is the design level at a chainage and an offset, + right, rounded once to
// one count. Outside of the sections or the profile it is ErrBefore or ErrAfter,
// beyond the outermost points ErrBeside, at a vertical face ErrStep. The outermost
// points themselves are inside.
func (s *Sections) Level(chainage, offset unit.Length) (unit.Length, error) {
	if err := outside("cross sections", chainage, s.Start(), s.End(), s.in); err != nil {
		return 0, err
	}
	i, share := rowBefore(chainage, len(s.sections), func(i int) unit.Length { return s.sections[i].Chainage })
	var z fraction
	var err error
	switch next := min(i+1, len(s.sections)-1); {
	case share.sign() == 0:
		z, err = s.across(s.sections[i].Points, nil, share, offset)
	case share.num.Cmp(share.den) == 0:
		z, err = s.across(s.sections[next].Points, nil, whole(0), offset)
	case s.between == ByName:
		z, err = s.across(s.sections[i].Points, s.sections[next].Points, share, offset)
	default:
		var z1 fraction
		if z, err = s.across(s.sections[i].Points, nil, share, offset); err == nil {
			z1, err = s.across(s.sections[next].Points, nil, share, offset)
		}
		if err == nil {
			z = mixed(z, z1, share)
		}
	}
	if err != nil {
		return 0, err
	}
	if s.profile != nil {
		p, err := s.profile.level(chainage)
		if err != nil {
			return 0, err
		}
		z = z.plus(p)
	}
	return z.round()
}

// across is the level at an offset of a section, or of the one that is share of
// the way from a to b when there is a b.
func (s *Sections) across(a, b []SectionPoint, share fraction, offset unit.Length) (fraction, error) {
	at := func(i int) (o, z fraction) {
		if b == nil {
			return whole(a[i].Offset), whole(a[i].Level)
		}
		return mixed(whole(a[i].Offset), whole(b[i].Offset), share), mixed(whole(a[i].Level), whole(b[i].Level), share)
	}
	target := whole(offset)
	var level fraction // at a point of that very offset
	o, z := at(0)
	if target.compare(o) < 0 {
		return fraction{}, fmt.Errorf("offset %s is %w: its outermost point on the left is at %s", text(offset, s.in), ErrBeside, text(rounded(o), s.in))
	}
	for i := range a {
		o1, z1 := at(i)
		switch target.compare(o1) {
		case 0:
			if level.num != nil && level.compare(z1) != 0 {
				return fraction{}, fmt.Errorf("offset %s %w, %s and %s", text(offset, s.in), ErrStep, text(rounded(level), s.in), text(rounded(z1), s.in))
			}
			level = z1
		case -1:
			if level.num != nil {
				return level, nil
			}
			return mixed(z, z1, target.minus(o).over(o1.minus(o))), nil
		}
		o, z = o1, z1
	}
	if level.num != nil {
		return level, nil
	}
	return fraction{}, fmt.Errorf("offset %s is %w: its outermost point on the right is at %s", text(offset, s.in), ErrBeside, text(rounded(o), s.in))
}

// maxNearAxis is how far a cross section at offset 0 may be from the profile, or a
// height from 0, for DatumOf to take it for one or the other.
const maxNearAxis = 5 * unit.Metre

// DatumOf tells from the values whether cross sections hold levels or heights above
// a profile: at the point nearest to offset 0 they are all within 5 m of the one
// and none is within 5 m of the other. When the values do not tell, it is an error.
func DatumOf(sections []Section, profile *Profile) (Datum, error) {
	var level, height, both, n int
	for _, c := range sections {
		z, err := profile.Level(c.Chainage)
		if err != nil || len(c.Points) == 0 {
			continue
		}
		n++
		p := slices.MinFunc(c.Points, func(p, q SectionPoint) int { return int(min(1, max(-1, p.Offset.Abs()-q.Offset.Abs()))) })
		isLevel, isHeight := (p.Level-z).Abs() <= maxNearAxis, p.Level.Abs() <= maxNearAxis
		switch {
		case isLevel && isHeight:
			both++
		case isLevel:
			level++
		case isHeight:
			height++
		}
	}
	switch {
	case n > 0 && level == n:
		return Absolute, nil
	case n > 0 && height == n:
		return OverProfile, nil
	}
	return 0, fmt.Errorf("it does not show whether the cross sections hold levels or heights above the profile: of %d within the profile, %d look like levels, %d like heights and %d like both; say which they are",
		n, level, height, both)
}
