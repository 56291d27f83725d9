package convert

import (
	"errors"
	"math/big"

	"github.com/twpayne/go-geom"

	"sightrail/formats/unit"
)

// Outline is a polygon of places: an outer ring and holes, or several of both.
// A place is inside when it is inside an odd number of rings; edges and corners
// are inside.
type Outline struct{ rings [][]Place }

// NewOutline makes an outline of rings; a ring need not repeat its first
// corner.
func NewOutline(rings [][]Place) (*Outline, error) {
	if len(rings) == 0 {
		return nil, errors.New("an outline needs at least one ring")
	}
	o := &Outline{}
	for _, r := range rings {
		if len(r) > 1 && r[0] == r[len(r)-1] {
			r = r[:len(r)-1]
		}
		if len(r) < 3 {
			return nil, errors.New("a ring of an outline needs three different corners")
		}
		o.rings = append(o.rings, r)
	}
	return o, nil
}

// Contains reports whether a place is inside or on the border, exactly.
func (o *Outline) Contains(p Place) bool {
	inside := false
	for _, r := range o.rings {
		for i := range r {
			a, b := r[i], r[(i+1)%len(r)]
			s := turn(a, b, p)
			if s == 0 && min(a.E, b.E) <= p.E && p.E <= max(a.E, b.E) && min(a.N, b.N) <= p.N && p.N <= max(a.N, b.N) {
				return true
			}
			// the edge crosses the ray to the east: upward edges with the place on
			// their left, downward ones with the place on their right
			if a.N <= p.N && b.N > p.N && s > 0 || b.N <= p.N && a.N > p.N && s < 0 {
				inside = !inside
			}
		}
	}
	return inside
}

// turn is the exact sign of the edge function: + when p is left of a to b.
func turn(a, b, p Place) int {
	return unit.CompareProducts(b.E-a.E, p.N-a.N, b.N-a.N, p.E-a.E)
}

// Geom returns the outline as a polygon in full grid coordinates, in the unit
// of the frame, for writers of GIS files.
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

func full(origin int64, l unit.Length, u unit.Unit) float64 {
	r := new(big.Rat).SetFrac(big.NewInt(int64(l)), big.NewInt(int64(u.Size)))
	f, _ := r.Add(r, new(big.Rat).SetInt64(origin)).Float64()
	return f
}
