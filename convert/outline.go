package convert

import (
	"cmp"
	"errors"
	"fmt"
	"math/big"
	"slices"

	"github.com/twpayne/go-geom"

	"sightrail/convert/mesh"
	"sightrail/formats/unit"
)

// Outline is a polygon of places: an outer ring and holes, or several of both.
// A place is inside when it is inside an odd number of rings; edges and corners
// are inside, those of holes too. The test is exact.
type Outline struct {
	rings  []ring
	lo, hi Place // the box
}

type ring []Place

// NewOutline makes an outline of rings; a ring need not repeat its first
// corner. Rings that cross themselves or each other are refused, because what
// is inside them is open to argument, and so are rings without an area.
func NewOutline(rings [][]Place) (*Outline, error) {
	if len(rings) == 0 {
		return nil, errors.New("an outline needs at least one ring")
	}
	o := &Outline{lo: Place{unit.MaxLength, unit.MaxLength}, hi: Place{-unit.MaxLength, -unit.MaxLength}}
	for k, corners := range rings {
		var r ring
		for i, p := range corners {
			if !p.near() {
				return nil, fmt.Errorf("corner %d of ring %d is more than 1,171 km from the origin of the job; check its unit", i+1, k+1)
			}
			if len(r) == 0 || r[len(r)-1] != p {
				r = append(r, p)
			}
			o.lo = Place{min(o.lo.E, p.E), min(o.lo.N, p.N)}
			o.hi = Place{max(o.hi.E, p.E), max(o.hi.N, p.N)}
		}
		if len(r) > 1 && r[0] == r[len(r)-1] {
			r = r[:len(r)-1]
		}
		if len(r) < 3 {
			return nil, fmt.Errorf("ring %d has %d different corners; a ring of an outline needs at least three", k+1, len(r))
		}
		o.rings = append(o.rings, r)
	}
	return o, o.simple()
}

// Region is the outline for the arithmetic of areas and gaps.
func (o *Outline) Region() (*mesh.Region, error) {
	rings := make([][]mesh.Place, len(o.rings))
	for i, r := range o.rings {
		for _, p := range r {
			rings[i] = append(rings[i], mesh.Place(p))
		}
	}
	return mesh.NewRegion(rings)
}

// Contains reports whether a place is inside or on the border, exactly.
func (o *Outline) Contains(p Place) bool {
	if p.E < o.lo.E || p.N < o.lo.N || p.E > o.hi.E || p.N > o.hi.N {
		return false
	}
	inside := false
	for _, r := range o.rings {
		a := r[len(r)-1]
		for _, b := range r {
			if min(a.N, b.N) <= p.N && p.N <= max(a.N, b.N) {
				s := turn(a, b, p)
				if s == 0 && min(a.E, b.E) <= p.E && p.E <= max(a.E, b.E) {
					return true
				}
				// the edge crosses the ray to the east: upward edges with the place on
				// their left, downward ones with the place on their right
				if a.N <= p.N && b.N > p.N && s > 0 || b.N <= p.N && a.N > p.N && s < 0 {
					inside = !inside
				}
			}
			a = b
		}
	}
	return inside
}

// turn is the exact sign of the edge function: + when p is left of a to b.
func turn(a, b, p Place) int {
	return unit.CompareProducts(b.E-a.E, p.N-a.N, b.N-a.N, p.E-a.E)
}

// side is one side of a ring, from its corner number corner to the next.
type side struct {
	a, b         Place
	ring, corner int
}

// simple refuses rings that cross. Rings may touch each other at a corner or
// along a side; a ring may not touch itself. Sides are compared in the order
// they begin from the west, so that only those that overlap meet.
func (o *Outline) simple() error {
	seen := map[string]int{}
	for k, r := range o.rings {
		key := r.key()
		if first, ok := seen[key]; ok {
			return fmt.Errorf("ring %d is ring %d again, and nothing would be inside both; give it once", k+1, first)
		}
		seen[key] = k + 1
	}
	var sides []side
	for k, r := range o.rings {
		for i := range r {
			sides = append(sides, side{r[i], r[(i+1)%len(r)], k, i})
		}
	}
	west := func(s side) unit.Length { return min(s.a.E, s.b.E) }
	slices.SortFunc(sides, func(s, t side) int {
		return cmp.Or(cmp.Compare(west(s), west(t)), cmp.Compare(s.ring, t.ring), cmp.Compare(s.corner, t.corner))
	})
	for i, s := range sides {
		for _, t := range sides[i+1:] {
			if west(t) > max(s.a.E, s.b.E) {
				break
			}
			switch {
			case s.ring != t.ring:
				if crosses(s, t) {
					return fmt.Errorf("ring %d crosses ring %d: the side from its corner %d and the side from corner %d; draw them so that they do not", s.ring+1, t.ring+1, s.corner+1, t.corner+1)
				}
			case touches(s, t, len(o.rings[s.ring])):
				return fmt.Errorf("ring %d crosses or touches itself: the sides from corner %d and from corner %d; give its corners in order around it", s.ring+1, min(s.corner, t.corner)+1, max(s.corner, t.corner)+1)
			}
		}
	}
	return nil
}

// key is the same for rings of the same corners, wherever they begin and
// whichever way they turn.
func (r ring) key() string {
	sorted := slices.Clone(r)
	slices.SortFunc(sorted, func(p, q Place) int { return cmp.Or(cmp.Compare(p.E, q.E), cmp.Compare(p.N, q.N)) })
	return fmt.Sprint(sorted)
}

// crosses reports whether two sides cut each other in one place inside both.
func crosses(s, t side) bool {
	return turn(s.a, s.b, t.a)*turn(s.a, s.b, t.b) < 0 && turn(t.a, t.b, s.a)*turn(t.a, t.b, s.b) < 0
}

// touches reports whether two sides of one ring of n corners share more than
// the corner of neighbours.
func touches(s, t side, n int) bool {
	on := func(s side, p Place) bool {
		return turn(s.a, s.b, p) == 0 && min(s.a.E, s.b.E) <= p.E && p.E <= max(s.a.E, s.b.E) && min(s.a.N, s.b.N) <= p.N && p.N <= max(s.a.N, s.b.N)
	}
	switch {
	case (s.corner+1)%n == t.corner:
		return on(s, t.b) || on(t, s.a)
	case (t.corner+1)%n == s.corner:
		return on(t, s.b) || on(s, t.a)
	}
	return crosses(s, t) || on(s, t.a) || on(s, t.b) || on(t, s.a) || on(t, s.b)
}

// Geom returns the outline as a polygon in full grid coordinates, in the unit
// of the frame, for writers of GIS files. Rings are closed.
func (o *Outline) Geom(f *Frame) *geom.Polygon {
	coords := make([][]geom.Coord, len(o.rings))
	for i, r := range o.rings {
		for k := range len(r) + 1 {
			p := r[k%len(r)]
			coords[i] = append(coords[i], geom.Coord{full(f.E0, p.E, f.Unit), full(f.N0, p.N, f.Unit)})
		}
	}
	return geom.NewPolygon(geom.XY).MustSetCoords(coords)
}

// full is the float64 nearest to a grid coordinate.
func full(origin int64, l unit.Length, u unit.Unit) float64 {
	r := new(big.Rat).SetFrac(big.NewInt(int64(l)), big.NewInt(int64(u.Size)))
	f, _ := r.Add(r, new(big.Rat).SetInt64(origin)).Float64()
	return f
}
