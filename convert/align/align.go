// Package align does the geometry of alignments: chainage and offset of a place,
// place of a chainage and offset, stations and station equations, the level and
// grade of a profile, and design levels by crossfall or by cross sections.
// Numbers in, numbers out.
//
// A horizontal alignment is a chain of lines, arcs and clothoids, each held by the
// coordinates of its ends. Directions and turns come from coordinates, never from
// bearings that a file states beside them. An arc passes through both of its ends:
// its centre is the one given, moved along the chord to be equally far from them.
// A clothoid has the stated length and radii and is scaled as a whole to fit
// between its ends. What had to be moved is compared with a stated tolerance.
// Chainages are distances along that geometry from the chainage of the start.
// Offsets are + to the right, looking up-chainage.
//
// Accuracy: chainage and offset on a line, and places on it, are exact, rounded
// once to one count of Length. On arcs and clothoids to 10 km long they are within
// 2e-10 m, for places within 200 m of the curve and nearer to it than half its
// radius there; nearer to a centre of curvature, chainages are less certain by as
// much as they are less determined. Levels on tangents, parabolas, crossfalls and
// cross sections are exact rationals, rounded once to one count, and their grades
// the nearest float64; levels of circular vertical curves are within 1e-12 m.
// Experiments: TestLineIsExact, TestProfileIsExact, TestCrossfallIsExact and
// TestSectionsAreExact compare with math/big, TestArcAccuracy,
// TestClothoidAccuracy and TestCircularCurveAccuracy with 300 bits.
//
// The package does not guess: an alignment with a gap, two vertical curves that
// overlap, a station that stands for two places, a place beside the last point of
// a cross section are said, not bridged.
package align

import (
	"errors"
	"fmt"
	"math"

	"sightrail/formats/unit"
)

// Place in plan, relative to the origin of the job's frame.
type Place struct{ E, N unit.Length }

// extent is the largest coordinate and chainage, so that differences and doubles
// of them fit into a Length.
const extent = unit.MaxLength / 2

func (p Place) near() bool { return p.E.Abs() <= extent && p.N.Abs() <= extent }

// Where a level was asked for and there is none. Errors of this package wrap them.
var (
	ErrBefore = errors.New("before the start")
	ErrAfter  = errors.New("after the end")
	ErrBeside = errors.New("beside the design")
	ErrFar    = errors.New("more than 1,171 km from the origin")
)

// outside says that a chainage is before the start or after the end of something;
// nil when it is neither. The start and the end themselves are inside.
func outside(what string, chainage, start, end unit.Length, in unit.Unit) error {
	switch {
	case chainage < start:
		return fmt.Errorf("chainage %s is %w of the %s at %s", text(chainage, in), ErrBefore, what, text(start, in))
	case chainage > end:
		return fmt.Errorf("chainage %s is %w of the %s at %s", text(chainage, in), ErrAfter, what, text(end, in))
	}
	return nil
}

// text prints a length in a message: to the millimetre, and further when it takes
// more to tell it from what it is compared with.
func text(l unit.Length, in unit.Unit) string {
	if !in.Known() {
		in = unit.M
	}
	return l.Exact(in, 3) + " " + in.Name
}

func mm(l unit.Length) string { return l.Fixed(unit.MM, 1) + " mm" }

// Kind of a flaw.
type Kind uint8

// The kinds of flaw.
const (
	Malformed   Kind = iota + 1 // nothing can be made of it; the text says why
	Left                        // an element or curve without length, left out
	Gap                         // between the end of an element and the start of the next
	Kink                        // between their directions
	WrongLength                 // the stated length is not that of the geometry
	WrongRadius                 // the stated radius, or the centre, does not fit the ends
	WrongStart                  // the stated chainage of an element is not the running one
	WrongPI                     // the stated point of intersection is off the tangents
	Overlap                     // of two vertical curves
	WrongBack                   // the back station of an equation is not the running one
)

// Flaw is what is wrong with, or odd in, an alignment, a profile, stations or
// cross sections.
type Flaw struct {
	At      int // index of the element, point, equation or section; of a joint, the second one
	Kind    Kind
	Bad     bool        // nothing can be built; else a note
	Off     unit.Length // amount, of those with one
	Degrees float64     // amount of a kink, + to the right
	Text    string
}

// Flaws is a list of them. It is an error when one is bad.
type Flaws []Flaw

// Err returns the first bad flaw as an error, or nil.
func (f Flaws) Err() error {
	for i := range f {
		if f[i].Bad {
			return errors.New(f[i].Text)
		}
	}
	return nil
}

// vec is a direction or a difference in plan, in metres.
type vec struct{ e, n float64 }

// between returns q − p. Both must be near.
func between(p, q Place) vec { return vec{(q.E - p.E).Metres(), (q.N - p.N).Metres()} }

func (a vec) dot(b vec) float64   { return a.e*b.e + a.n*b.n }
func (a vec) cross(b vec) float64 { return a.e*b.n - a.n*b.e } // + when b is to the left of a
func (a vec) sub(b vec) vec       { return vec{a.e - b.e, a.n - b.n} }
func (a vec) times(k float64) vec { return vec{a.e * k, a.n * k} }
func (a vec) size() float64       { return math.Hypot(a.e, a.n) }
func (a vec) right() vec          { return vec{a.n, -a.e} }

// turned returns a turned by the angle whose cosine and sine are given, + to the
// left.
func (a vec) turned(cos, sin float64) vec { return vec{a.e*cos - a.n*sin, a.e*sin + a.n*cos} }

// bearing is clockwise from grid north, 0 to 2π.
func (a vec) bearing() float64 {
	b := math.Atan2(a.e, a.n)
	if b < 0 {
		b += 2 * math.Pi
	}
	if b >= 2*math.Pi || b == 0 { // a turn of -1e-17, and minus zero
		return 0
	}
	return b
}

// place returns p + v, rounded once to one count.
func (p Place) plus(v vec) (Place, error) {
	e, err := unit.FromMetres(v.e)
	n, err2 := unit.FromMetres(v.n)
	q := Place{}
	if err == nil && err2 == nil {
		q.E, err = p.E.Add(e)
		q.N, err2 = p.N.Add(n)
	}
	if err != nil || err2 != nil || !q.near() {
		return Place{}, ErrFar
	}
	return q, nil
}

// inMetres is FromMetres for what is known to be in range.
func inMetres(m float64) unit.Length {
	l, err := unit.FromMetres(m)
	if err != nil {
		return unit.MaxLength
	}
	return l
}
