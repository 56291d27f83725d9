package convert

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"math/big"
	"slices"
	"strings"

	"sightrail/convert/align"
	"sightrail/formats"
	"sightrail/formats/unit"
)

// AlignmentOptions say what of an alignment is the design.
type AlignmentOptions struct {
	Profile    string            // its name; "" = the only design profile there is
	Crossfalls []align.Crossfall // from the profile outwards
	AllAlong   bool              // the one crossfall holds along the whole profile
	Sections   string            // name of the surface in the cross sections; "" = none
	Between    align.Between     // how the design runs between them
	Levels     align.Datum       // what their levels are; 0 = told from the values
	Reach      unit.Length       // how far from the alignment shots are looked for
}

// aligned is a design by chainage and offset along an alignment.
type aligned struct {
	name     string
	line     *align.Alignment
	stations *align.Stations // nil without equations
	reach    unit.Length
	level    func(chainage, offset unit.Length) (unit.Length, error)
	in       unit.Unit // of messages
}

// NewAlignmentSurface makes a surface of an alignment, its profile and either
// crossfalls or design cross sections; without both the profile holds as far as the
// reach, level across. What cannot be used is a problem, and then there is no surface.
func NewAlignmentSurface(name string, a *formats.Alignment, o AlignmentOptions, u unit.Unit, f *Frame) (*Surface, []formats.Problem) {
	b := &alignmentBuilder{of: a, unit: u, frame: f, field: "alignment " + a.Name, surface: &Surface{Name: name, Pos: a.Pos}}
	d := &aligned{name: a.Name, reach: o.Reach, in: f.Unit}
	d.line = b.plan()
	d.stations = b.stations(d.line)
	profile := b.profile(o.Profile)
	if len(b.problems) > 0 {
		return nil, b.problems
	}
	switch {
	case o.Sections != "":
		s := b.sections(&o, profile)
		if s != nil {
			d.level = s.Level
		}
	case len(o.Crossfalls) > 0:
		rows := o.Crossfalls
		if o.AllAlong {
			start, end := rows[0], rows[0]
			start.Chainage, end.Chainage = profile.Start(), profile.End()
			rows = []align.Crossfall{start, end}
		}
		c, flaws := align.NewCrossfalls(rows, f.Unit)
		b.flaws(a.Pos, flaws)
		if c != nil {
			d.level = func(chainage, offset unit.Length) (unit.Length, error) { return c.Level(profile, chainage, offset) }
		}
	default:
		d.level = func(chainage, _ unit.Length) (unit.Length, error) { return profile.Level(chainage) }
	}
	if len(b.problems) > 0 {
		return nil, b.problems
	}
	b.surface.aligned = d
	return b.surface, nil
}

type alignmentBuilder struct {
	of       *formats.Alignment
	unit     unit.Unit
	frame    *Frame
	field    string
	surface  *Surface
	problems []formats.Problem
}

func (b *alignmentBuilder) problem(at formats.Pos, format string, args ...any) {
	b.problems = append(b.problems, formats.Problem{Pos: at, Field: b.field, Text: fmt.Sprintf(format, args...)})
}

// flaws makes bad flaws problems, and the others notes.
func (b *alignmentBuilder) flaws(at formats.Pos, flaws align.Flaws) {
	for _, x := range flaws {
		p := formats.Problem{Pos: at, Field: b.field, Text: x.Text}
		if x.Bad {
			b.problems = append(b.problems, p)
		} else {
			b.surface.Notes = append(b.surface.Notes, p)
		}
	}
}

func (b *alignmentBuilder) length(d unit.Decimal, at formats.Pos, what string) unit.Length {
	l, err := d.Length(b.unit)
	if err != nil {
		b.problem(at, "%s %s cannot be used: %v", what, d.String(), err)
	}
	return l
}

func (b *alignmentBuilder) value(r formats.Reading, at formats.Pos, what string) align.Value {
	if !r.Set {
		return align.Value{}
	}
	return align.Stated(b.length(r.Value, at, what))
}

func (b *alignmentBuilder) place(p formats.Place, at formats.Pos, what string) align.Place {
	q, err := b.frame.Place(p.E, p.N, b.unit)
	switch {
	case !p.Placed:
		b.problem(at, "the %s has no coordinates", what)
	case err != nil:
		b.problem(at, "the %s is too far from the origin of the job; check the unit and the grid of the file", what)
	}
	return align.Place(q)
}

// plan makes the line in plan.
func (b *alignmentBuilder) plan() *align.Alignment {
	if len(b.of.Elements) == 0 {
		why := ""
		if len(b.of.PIs) > 0 {
			why = "; it lists points of intersection, and lines and curves are not made of those"
		}
		b.problem(b.of.Pos, "it has no lines and curves in plan%s", why)
		return nil
	}
	var elements []align.Element
	for i := range b.of.Elements {
		x := &b.of.Elements[i]
		e := align.Element{Start: b.place(x.Start, x.Pos, "start of element"), End: b.place(x.End, x.Pos, "end of element"), Length: b.value(x.Length, x.Pos, "the length"), Chainage: b.value(x.Station, x.Pos, "the station")}
		switch x.Rotation {
		case "cw":
			e.Turn = align.ToRight
		case "ccw":
			e.Turn = align.ToLeft
		}
		switch {
		case x.Kind == "line":
			e.Shape = align.Line
		case x.Kind == "curve":
			e.Shape, e.Radius = align.Arc, b.value(x.Radius, x.Pos, "the radius")
			if x.Centre.Placed {
				e.Centre = align.Point{Place: b.place(x.Centre, x.Pos, "centre"), Set: true}
			}
			if x.CurveType == "chord" { // its length is not along the arc
				e.Length = align.Value{}
			}
		case x.Kind == "spiral" && strings.EqualFold(x.SpiralType, "clothoid"):
			e.Shape, e.StartRadius, e.EndRadius = align.Clothoid, b.radius(x.RadiusStart, x.Pos), b.radius(x.RadiusEnd, x.Pos)
			if x.PI.Placed {
				e.PI = align.Point{Place: b.place(x.PI, x.Pos, "point of intersection"), Set: true}
			}
		case x.Kind == "spiral":
			b.problem(x.Pos, "element %d is a transition curve of the kind %q; only clothoids are known here", i+1, x.SpiralType)
		default:
			b.problem(x.Pos, "element %d is of the kind %q, which no chainage can be told on; only lines, arcs and clothoids are known here", i+1, x.Kind)
		}
		elements = append(elements, e)
	}
	start := unit.Length(0)
	if b.of.Stationed {
		start = b.length(b.of.StaStart, b.of.Pos, "the station of the start")
	}
	if len(b.problems) > 0 {
		return nil
	}
	a, flaws := align.New(elements, start, align.Options{In: b.frame.Unit})
	b.flaws(b.of.Pos, flaws)
	return a
}

func (b *alignmentBuilder) radius(r formats.Radius, at formats.Pos) align.Value {
	if !r.Set || r.Infinite {
		return align.Value{}
	}
	return align.Stated(b.length(r.Value, at, "the radius"))
}

// stations are the station equations, nil where there are none.
func (b *alignmentBuilder) stations(a *align.Alignment) *align.Stations {
	if a == nil || len(b.of.Equations) == 0 {
		return nil
	}
	var list []align.Equation
	for i := range b.of.Equations {
		x := &b.of.Equations[i]
		list = append(list, align.Equation{Internal: b.length(x.Internal, x.Pos, "the station"), Back: b.value(x.Back, x.Pos, "the back station"), Ahead: b.length(x.Ahead, x.Pos, "the station ahead"), Decreasing: x.Increment == "decreasing"})
	}
	s, flaws := align.NewStations(a.Start(), a.End(), list, 0, b.frame.Unit)
	b.flaws(b.of.Pos, flaws)
	return s
}

// profile makes the design profile of a name, or the only one.
func (b *alignmentBuilder) profile(name string) *align.Profile {
	var found []*formats.Profile
	var names []string
	for i := range b.of.Profiles {
		p := &b.of.Profiles[i]
		if p.Kind != "design" {
			continue
		}
		names = append(names, fmt.Sprintf("%q", p.Name))
		if name == "" || p.Name == name {
			found = append(found, p)
		}
	}
	switch has := "it has " + strings.Join(names, ", "); {
	case len(names) == 0:
		b.problem(b.of.Pos, "it has no design profile, and no level can be told without one")
		return nil
	case len(found) == 0:
		b.problem(b.of.Pos, "it has no design profile %q; %s", name, has)
		return nil
	case len(found) > 1 && name == "":
		b.problem(b.of.Pos, "it has %d design profiles, and the job names none of them; add \"profile:\", %s", len(found), has)
		return nil
	case len(found) > 1:
		b.problem(b.of.Pos, "it has %d design profiles %q; a name must be that of one", len(found), name)
		return nil
	}
	p := found[0]
	points := make([]align.PVI, len(p.PVIs))
	for i := range p.PVIs {
		x := &p.PVIs[i]
		at := p.Pos.At(x.Row, x.Col)
		points[i] = align.PVI{Chainage: b.length(x.Station, at, "the station"), Level: b.length(x.Elev, at, "the level")}
		switch x.Curve {
		case "parabola":
			points[i].Curve, points[i].Length = align.Parabola, b.value(x.Length, at, "the length").L
		case "asymmetric":
			points[i].Curve, points[i].In, points[i].Out = align.Unsymmetric, b.value(x.In, at, "the length").L, b.value(x.Out, at, "the length").L
		case "circular":
			points[i].Curve, points[i].Radius = align.Circular, b.value(x.Radius, at, "the radius").L.Abs()
		}
	}
	if len(b.problems) > 0 {
		return nil
	}
	out, flaws := align.NewProfile(points, align.ProfileOptions{In: b.frame.Unit})
	b.flaws(p.Pos, flaws)
	return out
}

// sections makes the design cross sections of one surface.
func (b *alignmentBuilder) sections(o *AlignmentOptions, profile *align.Profile) *align.Sections {
	var list []align.Section
	names := map[string]bool{}
	for i := range b.of.Sections {
		x := &b.of.Sections[i]
		for k := range x.Surfaces {
			s := &x.Surfaces[k]
			if names[s.Name] = true; s.Name != o.Sections {
				continue
			}
			at := s.Pos
			section := align.Section{Chainage: b.length(x.Station, x.Pos, "the station")}
			where := "the cross section at " + section.Chainage.Exact(b.frame.Unit, 3)
			switch {
			case x.Skewed:
				b.problem(at, "%s is not square to the alignment, and by how much is not known", where)
			case s.Closed:
				b.problem(at, "%s goes round an area and is no line of levels", where)
			}
			for n := range s.Points {
				p := &s.Points[n]
				if p.Gap || p.Sloped {
					b.problem(at.At(p.Row, p.Col), "point %d of %s is given by a slope, or nothing is known before it; only offsets and levels without a gap are known here", n+1, where)
					break
				}
				section.Points = append(section.Points, align.SectionPoint{Name: p.Name, Offset: b.length(p.Offset, at, "the offset"), Level: b.length(p.Level, at, "the level")})
			}
			if n := len(list); n > 0 && list[n-1].Chainage == section.Chainage {
				b.problem(at, "there are two cross sections of %q at %s", s.Name, section.Chainage.Exact(b.frame.Unit, 3))
			}
			list = append(list, section)
		}
	}
	if len(list) == 0 {
		has := "; they have none at all"
		if len(names) > 0 {
			has = fmt.Sprintf("; they have %q", slices.Sorted(maps.Keys(names)))
		}
		b.problem(b.of.Pos, "its cross sections have no surface %q%s", o.Sections, has)
		return nil
	}
	levels := o.Levels
	if levels == 0 {
		var err error
		if levels, err = align.DatumOf(list, profile); err != nil {
			b.problem(b.of.Pos, "whether the cross sections of %q hold levels or heights above the profile is not plain: %v; say \"levels: absolute\" or \"levels: overProfile\"", o.Sections, err)
			return nil
		}
	}
	over := profile
	if levels == align.Absolute {
		over = nil
	}
	s, flaws := align.NewSections(list, o.Between, over, b.frame.Unit)
	b.flaws(b.of.Pos, flaws)
	return s
}

// at is the design level at the foot of a shot on the alignment, or at its own chainage
// and offset where it has no place.
func (d *aligned) at(s *Shot) (z unit.Length, from, why string) {
	c, o, why := d.locate(s)
	if why != "" {
		return 0, "", why
	}
	z, err := d.level(c, o)
	if err != nil {
		return 0, "", fmt.Sprintf("%s of %s: %v", d.words(c, o), d.name, err)
	}
	return z, d.words(c, o) + " of " + d.name, ""
}

// locate finds chainage and offset of a shot. A shot that hangs on the alignment in
// several ways, with several design levels, has none.
func (d *aligned) locate(s *Shot) (chainage, offset unit.Length, why string) {
	switch {
	case !s.Placed && s.Chained:
		return d.booked(s)
	case !s.Placed:
		return 0, 0, "it has no place: no easting and northing, no chainage, and its name is in no peg list of the job"
	}
	hits := d.line.Locate(align.Place(s.Place), d.reach)
	var on []align.Hit
	for _, h := range hits {
		if h.Foot == align.Before || h.Foot == align.After {
			continue
		}
		if _, err := d.level(h.Chainage, h.Offset); err == nil || len(hits) == 1 {
			on = append(on, h)
		}
	}
	switch {
	case len(hits) == 0:
		return 0, 0, fmt.Sprintf("it lies further than %s %s from the alignment %s", d.reach.Exact(d.in, 3), d.in.Name, d.name)
	case len(on) == 0 && hits[0].Foot == align.Before:
		return 0, 0, fmt.Sprintf("it lies %s %s before the start of the alignment %s", hits[0].Beyond.Fixed(d.in, 3), d.in.Name, d.name)
	case len(on) == 0 && hits[0].Foot == align.After:
		return 0, 0, fmt.Sprintf("it lies %s %s beyond the end of the alignment %s", hits[0].Beyond.Fixed(d.in, 3), d.in.Name, d.name)
	case len(on) == 0:
		on = hits[:1]
	case len(on) > 1:
		return 0, 0, fmt.Sprintf("it lies beside the alignment %s in %d ways: at %s and at %s; which of them it belongs to is not plain", d.name, len(on), d.words(on[0].Chainage, on[0].Offset), d.words(on[1].Chainage, on[1].Offset))
	}
	return on[0].Chainage, on[0].Offset, ""
}

// booked is the chainage and offset of a shot that is booked by them: its chainage is a
// station as the file shows them. What is not on the alignment, stands for two places
// on it or lies beyond the reach has none.
func (d *aligned) booked(s *Shot) (chainage, offset unit.Length, why string) {
	chainage = s.Chainage
	if d.stations != nil {
		at, err := d.stations.Internal(s.Chainage, align.Any)
		if err != nil {
			return 0, 0, fmt.Sprintf("by the station equations of the alignment %s: %v", d.name, err)
		}
		chainage = at
	}
	switch {
	case chainage < d.line.Start() || chainage > d.line.End():
		return 0, 0, fmt.Sprintf("chainage %s is not on the alignment %s, which runs from %s to %s", s.Chainage.Exact(d.in, 3), d.name, d.line.Start().Fixed(d.in, 3), d.line.End().Fixed(d.in, 3))
	case s.Offset.Abs() > d.reach:
		return 0, 0, fmt.Sprintf("it lies further than %s %s from the alignment %s", d.reach.Exact(d.in, 3), d.in.Name, d.name)
	}
	return chainage, s.Offset, ""
}

// words says where: the station as the file shows it, and the side.
func (d *aligned) words(chainage, offset unit.Length) string {
	w := "ch " + chainage.Fixed(d.in, 3)
	if d.stations != nil {
		if list, err := d.stations.Shown(chainage); err == nil && len(list) > 0 {
			at := list[len(list)-1]
			w = "station " + at.Value.Fixed(d.in, 3)
			if at.Region > 0 {
				w += fmt.Sprintf(" after equation %d", at.Region)
			}
		}
	}
	switch {
	case offset > 0:
		w += ", " + offset.Fixed(d.in, 3) + " right"
	case offset < 0:
		w += ", " + offset.Abs().Fixed(d.in, 3) + " left"
	}
	return w
}

// Chain is chainage and offset of a shot on a design along an alignment; ok is false
// where there are none.
func (s *Surface) Chain(shot *Shot) (chainage, offset unit.Length, ok bool) {
	if s.aligned == nil {
		return 0, 0, false
	}
	c, o, why := s.aligned.locate(shot)
	return c, o, why == ""
}

// Along tells whether the design runs along an alignment.
func (s *Surface) Along() bool { return s.aligned != nil }

// slopeStep is the base that slopes of a design along an alignment are taken over.
const slopeStep = unit.Millimetre

// slope is the rise along and across at a place, each over 2 × slopeStep; ok is false
// where the design ends all around. Across it is that of the side the place is on, so
// that a crown has the slope of one side.
func (d *aligned) slope(c, o unit.Length) (along, across unit.Length, ok bool) {
	rise := func(c1, o1, c2, o2 unit.Length) (unit.Length, bool) {
		a, err1 := d.level(c1, o1)
		b, err2 := d.level(c2, o2)
		return b - a, errors.Join(err1, err2) == nil
	}
	okA, okC := false, false
	for _, by := range []unit.Length{-slopeStep, 0, -2 * slopeStep} {
		if along, okA = rise(c+by, o, c+by+2*slopeStep, o); okA {
			break
		}
	}
	out := unit.Length(0)
	if o < 0 {
		out = -2 * slopeStep
	}
	for _, by := range []unit.Length{out, -2*slopeStep - out} {
		if across, okC = rise(c, o+by, c, o+by+2*slopeStep); okC {
			break
		}
	}
	return along, across, okA && okC
}

// raised is Raised of a design along an alignment: exact for the slopes over
// slopeStep, which are those of the design but where it bends.
func (d *aligned) raised(s *Shot, offset unit.Length) (unit.Length, string) {
	c, o, why := d.locate(s)
	if why != "" {
		return 0, why
	}
	a, x, ok := d.slope(c, o)
	if !ok {
		return 0, fmt.Sprintf("the slope of the design along %s is not known at %s", d.name, d.words(c, o))
	}
	base := big.NewInt(int64(2 * slopeStep))
	square := base.Mul(base, base)
	sum := new(big.Int).Set(square)
	for _, r := range []unit.Length{a, x} {
		n := big.NewInt(int64(r))
		sum.Add(sum, n.Mul(n, n))
	}
	return root(offset, sum, square), ""
}

// steepest is SlopeAt of a design along an alignment.
func (d *aligned) steepest(p Place) (float64, bool) {
	c, o, why := d.locate(&Shot{Place: p, Placed: true})
	if why != "" {
		return 0, false
	}
	a, x, ok := d.slope(c, o)
	return math.Hypot(float64(a), float64(x)) / float64(2*slopeStep), ok
}
