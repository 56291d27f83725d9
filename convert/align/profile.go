package align

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sightrail/formats/unit"
)

// Rounding says what a vertical curve is.
type Rounding uint8

// The vertical curves; the zero Rounding is none.
const (
	Parabola    Rounding = iota + 1 // symmetric: Length, half of it either side of the PVI
	Unsymmetric                     // two parabolas that meet below or above the PVI: In and Out
	Circular                        // a circle, not a parabola: Radius
)

// PVI is a point of vertical intersection: where two tangents of a profile meet,
// or where the profile starts or ends.
type PVI struct {
	Chainage, Level unit.Length
	Curve           Rounding
	Length          unit.Length // of a Parabola, horizontal
	In, Out         unit.Length // of an Unsymmetric, horizontal, before and after the PVI
	Radius          unit.Length // of a Circular, without sign
}

// ProfileOptions say how far vertical curves may overlap.
type ProfileOptions struct {
	// Overlap of two curves, or of a curve with an end of the profile, that is a
	// note; 0 = DefaultOverlap. The first of the two then holds to its end.
	Overlap unit.Length
	In      unit.Unit // of lengths in messages; the zero Unit is metres
}

// DefaultOverlap is what files that round to the millimetre leave.
const DefaultOverlap = unit.Millimetre

// longestCurve is the longest vertical curve, so that products of its lengths fit.
const longestCurve = 50 * 1000 * unit.Metre

// Profile is a vertical alignment ready to be asked.
type Profile struct {
	points  []PVI
	curves  []curve    // beside points
	tangent []fraction // grade from a point to the next
	in      unit.Unit
}

// curve of a PVI. Doubled chainages keep the halves of odd lengths whole.
type curve struct {
	kind     Rounding
	from, to unit.Length // doubled chainages of its ends
	a, b     unit.Length // of parabolas: doubled lengths before and after the PVI
	change   fraction    // grade after less grade before
	circle   circle
}

// NewProfile makes a profile of two or more PVIs in the order of their chainages.
// It returns nil when a flaw is bad. Numbers of PVIs in texts count from 1.
func NewProfile(points []PVI, o ProfileOptions) (*Profile, Flaws) {
	if o.Overlap == 0 {
		o.Overlap = DefaultOverlap
	}
	p := &Profile{points: slices.Clone(points), curves: make([]curve, len(points)), in: o.In}
	var flaws Flaws
	flaw := func(i int, k Kind, bad bool, off unit.Length, format string, args ...any) {
		words := ""
		if i < len(points) {
			words = fmt.Sprintf("PVI %d, at chainage %s, ", i+1, text(points[i].Chainage, o.In))
		}
		flaws = append(flaws, Flaw{At: i, Kind: k, Bad: bad, Off: off, Text: words + fmt.Sprintf(format, args...)})
	}
	if len(points) < 2 {
		flaw(len(points), Malformed, true, 0, "a profile needs two PVIs or more, and there are %d", len(points))
		return nil, flaws
	}
	for i := range points {
		v := &points[i]
		switch {
		case v.Chainage.Abs() > extent/2 || v.Level.Abs() > extent/2:
			flaw(i, Malformed, true, 0, "is more than 585 km from 0; check its unit")
		case i > 0 && v.Chainage <= points[i-1].Chainage:
			flaw(i, Malformed, true, 0, "is not after the one before it, at %s; a profile has one level at a chainage: correct the file", text(points[i-1].Chainage, o.In))
		case v.Curve != 0 && (i == 0 || i == len(points)-1):
			flaw(i, Malformed, true, 0, "has a vertical curve at an end of the profile, where there is no second tangent; correct the file")
		}
	}
	if flaws.Err() != nil {
		return nil, flaws
	}
	for i := range points[1:] {
		p.tangent = append(p.tangent, ratio(points[i+1].Level-points[i].Level, points[i+1].Chainage-points[i].Chainage))
	}
	for i := range points {
		p.curves[i].from, p.curves[i].to = 2*points[i].Chainage, 2*points[i].Chainage
		if points[i].Curve != 0 {
			p.round(i, flaw)
		}
	}
	if flaws.Err() != nil {
		return nil, flaws
	}
	for i := 1; i < len(points); i++ {
		c, d := &p.curves[i-1], &p.curves[i]
		by := c.to - d.from // doubled
		if by <= 0 {
			continue
		}
		words := fmt.Sprintf("has a vertical curve that starts at %s, %s before the one at chainage %s ends", text(d.from/2, o.In), mm(by/2), text(points[i-1].Chainage, o.In))
		at := i
		switch {
		case d.kind == 0: // the last point, or one without a curve
			at = i - 1
			words = fmt.Sprintf("has a vertical curve that ends at %s, %s after PVI %d", text(c.to/2, o.In), mm(by/2), i+1)
		case c.kind == 0:
			words = fmt.Sprintf("has a vertical curve that starts at %s, %s before PVI %d", text(d.from/2, o.In), mm(by/2), i)
		}
		if bad := by > 2*o.Overlap; bad {
			flaw(at, Overlap, true, by/2, "%s; curves can not overlap: correct the file", words)
		} else {
			flaw(at, Overlap, false, by/2, "%s; the first of the two holds to its end", words)
		}
	}
	if flaws.Err() != nil {
		return nil, flaws
	}
	return p, flaws
}

// round makes the curve of a PVI.
func (p *Profile) round(i int, flaw func(int, Kind, bool, unit.Length, string, ...any)) {
	v, c := &p.points[i], &p.curves[i]
	c.change = p.tangent[i].minus(p.tangent[i-1])
	switch v.Curve {
	case Parabola:
		c.a, c.b = v.Length, v.Length
	case Unsymmetric:
		c.a, c.b = v.In, v.Out
	case Circular:
		c.a, c.b = v.Radius, v.Radius
	default:
		flaw(i, Malformed, true, 0, "has a vertical curve of no known kind; parabolas, unsymmetric parabolas and circles can be used")
		return
	}
	switch {
	case c.a < 0 || c.b < 0 || max(c.a, c.b) > longestCurve && v.Curve != Circular || c.a > maxRadius:
		flaw(i, Malformed, true, 0, "has a vertical curve of negative or endless size; a length is at most 50 km and a radius 1,000 km")
		return
	case v.Curve == Unsymmetric && (c.a == 0) != (c.b == 0):
		flaw(i, Malformed, true, 0, "has an unsymmetric parabola with one length of 0, which would leave a kink; correct the file")
		return
	case c.a == 0:
		flaw(i, Left, false, 0, "has a vertical curve without size; it is left out")
		return
	case c.change.sign() == 0:
		flaw(i, Left, false, 0, "has a vertical curve between two tangents of one grade; it is left out")
		return
	}
	c.kind = v.Curve
	switch c.kind {
	case Unsymmetric:
		c.a, c.b = 2*c.a, 2*c.b
	case Circular:
		c.circle = newCircle(p.tangent[i-1].float(), p.tangent[i].float(), c.change.float(), v.Radius.Metres())
		if max(-c.circle.start, c.circle.end) > longestCurve.Metres() {
			flaw(i, Malformed, true, 0, "has a circular curve that would be more than 50 km long; check its radius")
			c.kind = 0
			return
		}
		c.a, c.b = 2*inMetres(-c.circle.start), 2*inMetres(c.circle.end)
	}
	c.from, c.to = 2*v.Chainage-c.a, 2*v.Chainage+c.b
}

// Start is the chainage of the first PVI.
func (p *Profile) Start() unit.Length { return p.points[0].Chainage }

// End is the chainage of the last PVI.
func (p *Profile) End() unit.Length { return p.points[len(p.points)-1].Chainage }

// Tangent returns the grade of the tangent from PVI i, counted from 0, to the
// next, + rising up-chainage.
func (p *Profile) Tangent(i int) unit.Grade {
	a, b := &p.points[i], &p.points[i+1]
	return unit.Grade{Rise: b.Level - a.Level, Run: b.Chainage - a.Chainage}
}

// Curve returns the chainages at which the vertical curve of PVI i, counted from
// 0, starts and ends, each rounded to a count; ok is false when it has none.
func (p *Profile) Curve(i int) (start, end unit.Length, ok bool) {
	c := &p.curves[i]
	return c.from/2 + c.from%2, c.to/2 + c.to%2, c.kind != 0
}

// Level is the design level at a chainage: exact on tangents and parabolas,
// rounded once to one count. Outside of the profile it is ErrBefore or ErrAfter.
func (p *Profile) Level(chainage unit.Length) (unit.Length, error) {
	z, err := p.level(chainage)
	if err != nil {
		return 0, err
	}
	return z.round()
}

func (p *Profile) level(chainage unit.Length) (fraction, error) {
	if err := outside("profile", chainage, p.Start(), p.End(), p.in); err != nil {
		return fraction{}, err
	}
	i := p.segment(chainage)
	if c := &p.curves[i]; 2*chainage < c.to {
		return p.onCurve(i, chainage), nil
	}
	if c := &p.curves[i+1]; 2*chainage > c.from {
		return p.onCurve(i+1, chainage), nil
	}
	v := &p.points[i]
	return whole(v.Level).plus(p.tangent[i].times(whole(chainage - v.Chainage))), nil
}

// segment returns the PVI at or before a chainage that is inside, and not the last.
func (p *Profile) segment(chainage unit.Length) int {
	i, found := slices.BinarySearchFunc(p.points, chainage, func(v PVI, c unit.Length) int { return cmp.Compare(v.Chainage, c) })
	if !found {
		i--
	}
	return min(i, len(p.points)-2)
}

// onCurve is the level on the curve of PVI i: the tangent, and from it
// m·(distance from the end of the curve / length on that side)², where
// m = (change of grade)·l1·l2 / 2(l1 + l2) is the offset at the PVI.
func (p *Profile) onCurve(i int, chainage unit.Length) fraction {
	v, c := &p.points[i], &p.curves[i]
	if c.kind == Circular {
		z, _ := c.circle.at((chainage - v.Chainage).Metres())
		return whole(v.Level).plus(whole(inMetres(z)))
	}
	side, from, near, far := i-1, 2*chainage-c.from, c.a, c.b
	if chainage > v.Chainage {
		side, from, near, far = i, c.to-2*chainage, c.b, c.a
	}
	z := whole(v.Level).plus(p.tangent[side].times(whole(chainage - v.Chainage)))
	return z.plus(c.change.times(ratio(far, near).over(whole(4 * (near + far)))).times(whole(from)).times(whole(from)))
}

// Grade is the grade at a chainage, + rising up-chainage, as the float64 nearest
// to the exact value. Where two tangents meet without a curve, back is that of the
// first and ahead that of the second; elsewhere the two are equal.
func (p *Profile) Grade(chainage unit.Length) (back, ahead float64, err error) {
	if err := outside("profile", chainage, p.Start(), p.End(), p.in); err != nil {
		return 0, 0, err
	}
	// just before the chainage, and just after it; at the ends, inside
	behind := p.segment(max(chainage-1, p.Start()))
	back = p.gradeAt(behind, chainage, chainage == p.Start())
	return back, p.gradeAt(p.segment(chainage), chainage, chainage != p.End()), nil
}

// gradeAt is the grade at a chainage, between PVI i and the next, just after it or
// just before it.
func (p *Profile) gradeAt(i int, chainage unit.Length, after bool) float64 {
	x := 2*chainage - 1
	if after {
		x += 2
	}
	if c := &p.curves[i]; c.kind != 0 && x < c.to {
		return p.gradeOnCurve(i, chainage)
	}
	if c := &p.curves[i+1]; c.kind != 0 && x > c.from {
		return p.gradeOnCurve(i+1, chainage)
	}
	return p.tangent[i].float()
}

func (p *Profile) gradeOnCurve(i int, chainage unit.Length) float64 {
	v, c := &p.points[i], &p.curves[i]
	if c.kind == Circular {
		_, g := c.circle.at((chainage - v.Chainage).Metres())
		return g
	}
	side, from, near, far := i-1, 2*chainage-c.from, c.a, c.b
	if chainage > v.Chainage {
		side, from, near, far = i, 2*chainage-c.to, c.b, c.a // a distance back from the end
	}
	return p.tangent[side].plus(c.change.times(ratio(far, near).over(whole(near + far))).times(whole(from))).float()
}

// circle is a circular vertical curve, in metres from its PVI.
type circle struct {
	start, end float64 // of the curve, horizontally
	level      float64 // of the start
	radius     float64
	sin, cos   float64 // of the first tangent
	sense      float64 // +1 sag, -1 crest
}

// newCircle makes the circle of a radius that touches two tangents; change is
// their difference, which is given because a difference of floats would lose
// digits.
func newCircle(g1, g2, change, radius float64) circle {
	c := circle{radius: radius, sense: 1}
	if change < 0 {
		c.sense = -1
	}
	// half the angle between the tangents: tan(a - b) = (tan a - tan b)/(1 + tan a tan b)
	half := math.Atan2(math.Abs(change), 1+g1*g2) / 2
	t := radius * math.Tan(half) // along the tangents
	h1 := math.Sqrt(1 + g1*g1)
	c.sin, c.cos = g1/h1, 1/h1
	c.start, c.end = -t*c.cos, t/math.Sqrt(1+g2*g2)
	c.level = -t * c.sin
	return c
}

// at returns the level above the PVI and the grade at a distance from it.
func (c *circle) at(x float64) (level, grade float64) {
	x -= c.start
	// The level above the start is the difference of two roots; it is taken as the
	// quotient that does not cancel.
	root := math.Sqrt(c.radius*c.radius*c.cos*c.cos - x*(c.sense*2*c.radius*c.sin+x))
	level = x * (2*c.radius*c.sin + c.sense*x) / (root + c.radius*c.cos)
	return c.level + level, (c.radius*c.sin + c.sense*x) / root
}
