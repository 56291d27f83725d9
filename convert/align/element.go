package align

import (
	"fmt"
	"math"

	"sightrail/formats/unit"
)

// Shape of an element.
type Shape uint8

// The shapes.
const (
	Line Shape = iota + 1
	Arc
	Clothoid
)

func (s Shape) String() string {
	switch s {
	case Line:
		return "line"
	case Arc:
		return "arc"
	case Clothoid:
		return "clothoid"
	}
	return "element of no known shape"
}

// Turn is the side to which a curve turns, looking up-chainage.
type Turn int8

// The turns; the zero Turn is "not said".
const (
	ToLeft  Turn = 1  // counter-clockwise
	ToRight Turn = -1 // clockwise
)

func (t Turn) String() string {
	switch t {
	case ToLeft:
		return "left"
	case ToRight:
		return "right"
	}
	return "a side not said"
}

// Value is a length that may have been stated.
type Value struct {
	L   unit.Length
	Set bool
}

// Stated makes a Value.
func Stated(l unit.Length) Value { return Value{l, true} }

// Point is a place that may have been stated.
type Point struct {
	Place
	Set bool
}

// Element is one element of a horizontal alignment, as a file states it. Start
// and End decide; what else is stated is needed where they leave a choice, and is
// compared where they do not.
type Element struct {
	Shape      Shape
	Start, End Place
	Turn       Turn  // of an arc and a clothoid; 0 = as Length or PI say
	Centre     Point // of an arc; without it Radius is needed
	PI         Point // of a clothoid: where the tangents of its ends meet; compared
	Radius     Value // of an arc, without sign
	// of a clothoid, without sign; not set = straight (infinite)
	StartRadius, EndRadius Value
	Length                 Value // needed by a clothoid, compared otherwise
	Chainage               Value // of Start; compared
}

// What New takes when Options does not say.
const (
	DefaultGap  = unit.Millimetre
	DefaultFit  = 2 * unit.Millimetre
	DefaultKink = 0.01 // degrees
)

// Options say how far the elements may be from fitting together.
type Options struct {
	Gap  unit.Length // between an element and the next; 0 = DefaultGap. More is bad.
	Fit  unit.Length // of stated lengths, radii and chainages; 0 = DefaultFit. More is bad.
	Kink float64     // degrees between the directions of an element and the next; 0 = DefaultKink. More is a note.
	In   unit.Unit   // of lengths in messages; the zero Unit is metres
}

func (o Options) filled() Options {
	if o.Gap == 0 {
		o.Gap = DefaultGap
	}
	if o.Fit == 0 {
		o.Fit = DefaultFit
	}
	if o.Kink == 0 {
		o.Kink = DefaultKink
	}
	return o
}

// Alignment is a horizontal alignment ready to be asked. It is safe for use by
// several goroutines.
type Alignment struct {
	pieces []piece
	places []position // beside pieces
	joints []Joint    // joints[i] is between pieces i and i+1
	start  unit.Length
	end    unit.Length
	in     unit.Unit
	kink   float64 // radians
}

type position struct {
	element int
	start   unit.Length // chainage
	centre  Place       // of a box that holds the element
	half    unit.Length // of its side
}

// Joint is where two elements meet.
type Joint struct {
	Element  int         // index of the second
	Chainage unit.Length //
	Gap      unit.Length // between the end of the first and the start of the second
	Kink     float64     // radians from the direction of the first to that of the second, + to the right
}

// piece is the geometry of an element.
type piece interface {
	size() unit.Length
	// at returns the place a distance along and to the right, and the unit vector
	// of the direction there.
	at(along, offset unit.Length) (Place, vec, error)
	// feet appends the feet of the perpendiculars from a place.
	feet(to []foot, p Place) []foot
	// directions at start and end, as unit vectors.
	directions() (start, end vec)
	// before and after say that a place is behind the normal at the start, or
	// beyond the one at the end.
	before(p Place) bool
	after(p Place) bool
	ends() (start, end Place)
}

// foot of a perpendicular.
type foot struct {
	along, offset unit.Length
	centre        bool // the place is the centre of the arc
}

// slack is how far beyond its ends, in metres, a curve still has a foot: it is
// more than the rounding of the computation, so that no place is lost between two
// elements. Such a foot is put at the end.
const slack = 1e-9

// New makes an alignment that starts at chainage start. It returns nil when a flaw
// is bad. Element numbers in the texts of flaws count from 1.
func New(elements []Element, start unit.Length, options Options) (*Alignment, Flaws) {
	o := options.filled()
	b := &builder{Options: o, Alignment: &Alignment{start: start, end: start, in: o.In, kink: o.Kink * math.Pi / 180}}
	if start.Abs() > extent {
		b.flaw(Flaw{Kind: Malformed, Bad: true, Text: "the chainage of the start is more than 1,171 km from 0; check its unit"})
	}
	for i := range elements {
		if b.add(i, &elements[i]); b.end.Abs() > extent {
			b.bad(i, Malformed, "ends at a chainage of more than 1,171 km; check the unit of the file")
			break
		}
	}
	if len(b.pieces) == 0 && b.flaws.Err() == nil {
		b.flaw(Flaw{Kind: Malformed, Bad: true, Text: "no element of the alignment has a length, so it is nowhere"})
	}
	if b.flaws.Err() != nil {
		return nil, b.flaws
	}
	return b.Alignment, b.flaws
}

type builder struct {
	*Alignment
	Options
	flaws Flaws
	shape Shape // of the element at hand
}

func (b *builder) flaw(f Flaw) { b.flaws = append(b.flaws, f) }

// bad is a flaw without an amount.
func (b *builder) bad(i int, k Kind, words string) {
	b.flaw(Flaw{At: i, Kind: k, Bad: true, Text: fmt.Sprintf("element %d, %s, %s", i+1, b.article(), words)})
}

func (b *builder) article() string {
	if b.shape == Arc {
		return "an arc"
	}
	if b.shape == Line || b.shape == Clothoid {
		return "a " + b.shape.String()
	}
	return "an " + b.shape.String()
}

// off is a flaw with an amount.
func (b *builder) off(i int, k Kind, bad bool, by unit.Length, words string) {
	b.flaw(Flaw{At: i, Kind: k, Bad: bad, Off: by, Text: fmt.Sprintf("element %d, %s, %s", i+1, b.article(), words)})
}

func (b *builder) add(i int, e *Element) {
	b.shape = e.Shape
	if !e.Start.near() || !e.End.near() || e.Centre.Set && !e.Centre.near() || e.PI.Set && !e.PI.near() {
		b.bad(i, Malformed, "has a place more than 1,171 km from the origin of the job; check the unit and the grid of the file")
		return
	}
	for _, v := range []Value{e.Radius, e.StartRadius, e.EndRadius} {
		if v.Set && (v.L <= 0 || v.L > maxRadius) {
			b.bad(i, Malformed, fmt.Sprintf("has a radius of %s; a radius is above 0 and at most 1,000 km, and the sense of turning is said apart", text(v.L, b.In)))
			return
		}
	}
	if e.Length.Set && (e.Length.L < 0 || e.Length.L > extent) {
		b.bad(i, Malformed, fmt.Sprintf("has a stated length of %s; a length is above 0 and at most 1,171 km", text(e.Length.L, b.In)))
		return
	}
	if e.Chainage.Set && b.flaws.Err() == nil { // after a bad one, chainages run wrong
		if d := e.Chainage.L - b.end; d.Abs() > b.Fit {
			b.off(i, WrongStart, true, d, fmt.Sprintf("is stated to start at chainage %s; by the coordinates before it, it starts at %s, a difference of %s. "+
				"Levels by chainage would be taken at the wrong place; correct the file, or state a larger tolerance", text(e.Chainage.L, b.In), text(b.end, b.In), mm(d)))
		}
	}
	var p piece
	switch e.Shape {
	case Line:
		p = b.line(i, e)
	case Arc:
		p = b.arc(i, e)
	case Clothoid:
		p = b.clothoid(i, e)
	default:
		b.bad(i, Malformed, "can not be used; lines, arcs and clothoids can")
	}
	if p == nil {
		return
	}
	b.join(i, p)
	from, to := p.ends()
	at := position{element: i, start: b.end, centre: Place{from.E/2 + to.E/2, from.N/2 + to.N/2}}
	// no point of it is further from the nearer end than half its length
	at.half = max((to.E-from.E).Abs(), (to.N-from.N).Abs())/2 + p.size()/2 + unit.Millimetre
	b.pieces, b.places = append(b.pieces, p), append(b.places, at)
	b.end += p.size()
}

// fits compares a stated length with that of the geometry.
func (b *builder) fits(i int, e *Element, by unit.Length) bool {
	if !e.Length.Set {
		return true
	}
	d := e.Length.L - by
	if d.Abs() <= b.Fit {
		return true
	}
	b.off(i, WrongLength, true, d, fmt.Sprintf("is stated to be %s long; by its coordinates it is %s, a difference of %s. "+
		"Levels by chainage would be taken at the wrong place; correct the file, or state a larger tolerance", text(e.Length.L, b.In), text(by, b.In), mm(d)))
	return false
}

func (b *builder) left(i int) {
	b.flaw(Flaw{At: i, Kind: Left, Text: fmt.Sprintf("element %d, %s, starts and ends at one place and is left out", i+1, b.article())})
}

// join checks the joint with the piece before.
func (b *builder) join(i int, p piece) {
	if len(b.pieces) == 0 || b.flaws.Err() != nil {
		return
	}
	last := len(b.pieces) - 1
	_, was := b.pieces[last].ends()
	is, _ := p.ends()
	_, d0 := b.pieces[last].directions()
	d1, _ := p.directions()
	j := Joint{Element: i, Chainage: b.end, Gap: distance(was, is), Kink: math.Atan2(-d0.cross(d1), d0.dot(d1))}
	b.joints = append(b.joints, j)
	before := b.places[last].element
	if j.Gap > b.Gap {
		b.flaw(Flaw{At: i, Kind: Gap, Bad: true, Off: j.Gap, Text: fmt.Sprintf("element %d starts %s from where element %d ends, at chainage %s; "+
			"an alignment has no gaps: correct the file, or state a larger tolerance", i+1, mm(j.Gap), before+1, text(b.end, b.In))})
	}
	if math.Abs(j.Kink) > b.kink {
		b.flaw(Flaw{At: i, Kind: Kink, Degrees: j.Kink * 180 / math.Pi, Text: fmt.Sprintf("element %d turns off by %s from the direction in which element %d ends, at chainage %s",
			i+1, degrees(j.Kink), before+1, text(b.end, b.In))})
	}
}

// degrees prints an angle, + to the right.
func degrees(a float64) string {
	side := "right"
	if a < 0 {
		side = "left"
	}
	return fmt.Sprintf("%.4f degrees to the %s", math.Abs(a)*180/math.Pi, side)
}

// Start is the chainage of the start.
func (a *Alignment) Start() unit.Length { return a.start }

// End is the chainage of the end.
func (a *Alignment) End() unit.Length { return a.end }

// Joints are the joints between the elements, in order. Those within tolerance
// are among them.
func (a *Alignment) Joints() []Joint { return a.joints }

// lineOf is the exact geometry of a line.
type lineOf struct {
	from, to Place
	length   unit.Length
}

func (b *builder) line(i int, e *Element) piece {
	if e.Start == e.End {
		b.left(i)
		return nil
	}
	l := &lineOf{e.Start, e.End, distance(e.Start, e.End)}
	b.fits(i, e, l.length)
	return l
}

func (l *lineOf) size() unit.Length        { return l.length }
func (l *lineOf) ends() (start, end Place) { return l.from, l.to }

func (l *lineOf) directions() (start, end vec) {
	d := between(l.from, l.to)
	d = d.times(1 / d.size())
	return d, d
}

func (l *lineOf) chord() (de, dn unit.Length) { return l.to.E - l.from.E, l.to.N - l.from.N }

func (l *lineOf) before(p Place) bool {
	de, dn := l.chord()
	return dotSign(p.E-l.from.E, de, p.N-l.from.N, dn) < 0
}

func (l *lineOf) after(p Place) bool {
	de, dn := l.chord()
	return dotSign(p.E-l.to.E, de, p.N-l.to.N, dn) > 0
}

func (l *lineOf) feet(to []foot, p Place) []foot {
	if l.before(p) || l.after(p) {
		return to
	}
	along, offset := l.coordinates(p)
	return append(to, foot{along: along, offset: offset})
}

// coordinates of a place along the line and to the right of it.
func (l *lineOf) coordinates(p Place) (along, offset unit.Length) {
	de, dn := l.chord()
	e, n := p.E-l.from.E, p.N-l.from.N
	return unit.OverChord(e, de, n, dn, de, dn), unit.OverChord(e, dn, -n, de, de, dn)
}

func (l *lineOf) at(along, offset unit.Length) (Place, vec, error) {
	de, dn := l.chord()
	d, _ := l.directions()
	e, err := l.from.E.Add(unit.OverChord(along, de, offset, dn, de, dn))
	n, err2 := l.from.N.Add(unit.OverChord(along, dn, -offset, de, de, dn))
	if p := (Place{e, n}); err == nil && err2 == nil && p.near() {
		return p, d, nil
	}
	return Place{}, d, ErrFar
}
