package align

import (
	"cmp"
	"math"
	"slices"

	"sightrail/formats/unit"
)

// Foot says how a place hangs on the alignment.
type Foot uint8

// The ways.
const (
	On     Foot = iota + 1 // at the foot of a perpendicular; up to 1 nm outside of an end it is at the end
	Corner                 // nearest to a joint with a kink beyond tolerance: outside of the bend there, where no perpendicular stands
	Before                 // behind the normal at the start
	After                  // beyond the normal at the end
	Centre                 // at the centre of an arc: all of the arc is equally near
)

// Hit is one way in which a place hangs on the alignment.
type Hit struct {
	Chainage unit.Length // of the foot; of a Centre, of the start of the arc
	Offset   unit.Length // + right, looking up-chainage; Before and After: from the tangent carried on
	Element  int         // index of the element
	Foot     Foot
	Beyond   unit.Length // Before and After: how far outside along the tangent
	Distance unit.Length // from the foot, never negative
}

// Locate returns every foot of a place within reach of the alignment, the nearest
// first, and of those equally near the one with the least chainage. A reach of
// unit.MaxLength, or a negative one, has no limit. Feet either side of a joint
// within tolerance are one. A place with no foot within reach, or more than
// 1,171 km from the origin, has none.
func (a *Alignment) Locate(p Place, reach unit.Length) []Hit {
	if !p.near() {
		return nil
	}
	if reach < 0 {
		reach = unit.MaxLength
	}
	var hits []Hit
	var feet []foot
	add := func(h Hit) {
		if h.Distance > reach {
			return
		}
		if n := len(hits); n > 0 && a.same(&hits[n-1], &h) {
			if h.Distance < hits[n-1].Distance {
				hits[n-1] = h
			}
			return
		}
		hits = append(hits, h)
	}
	last := len(a.pieces) - 1
	for i, piece := range a.pieces {
		at := &a.places[i]
		if !at.within(p, reach) {
			continue
		}
		if piece.before(p) {
			if i == 0 {
				add(a.beyond(0, Before, p))
			} else if a.pieces[i-1].after(p) {
				add(a.corner(i, p))
			}
		}
		feet = piece.feet(feet[:0], p)
		slices.SortFunc(feet, func(f, g foot) int { return cmp.Compare(f.along, g.along) })
		for _, f := range feet {
			h := Hit{Chainage: at.start + f.along, Offset: f.offset, Element: at.element, Foot: On, Distance: f.offset.Abs()}
			if f.centre {
				h.Foot = Centre
			}
			add(h)
		}
		if i == last && piece.after(p) {
			add(a.beyond(i, After, p))
		}
	}
	slices.SortStableFunc(hits, func(g, h Hit) int {
		return cmp.Or(cmp.Compare(g.Distance, h.Distance), cmp.Compare(g.Chainage, h.Chainage))
	})
	return hits
}

// within reports whether the element may be within reach of a place.
func (at *position) within(p Place, reach unit.Length) bool {
	if reach >= extent {
		return true
	}
	return (p.E-at.centre.E).Abs()-at.half <= reach && (p.N-at.centre.N).Abs()-at.half <= reach
}

// same reports whether two hits that follow each other are one: at one joint whose
// kink is within tolerance, and no further from each other than the kink explains.
func (a *Alignment) same(g, h *Hit) bool {
	if g.Foot == Before || g.Foot == After || h.Foot == Before || h.Foot == After || g.Foot == Centre || h.Foot == Centre {
		return false
	}
	apart := slack
	first, found := slices.BinarySearchFunc(a.joints, h.Element, func(j Joint, e int) int { return cmp.Compare(j.Element, e) })
	for i := first; found && i >= 0 && a.joints[i].Element > g.Element; i-- {
		j := &a.joints[i]
		apart += j.Gap.Metres() + slack
		if math.Abs(j.Kink) <= a.kink {
			apart += 2 * math.Abs(j.Kink) * max(g.Distance, h.Distance).Metres()
		}
	}
	return (h.Chainage - g.Chainage).Abs().Metres() <= apart
}

// corner is the hit at the joint before piece i.
func (a *Alignment) corner(i int, p Place) Hit {
	_, was := a.pieces[i-1].ends()
	is, _ := a.pieces[i].ends()
	_, d0 := a.pieces[i-1].directions()
	d1, _ := a.pieces[i].directions()
	h := Hit{Chainage: a.places[i].start, Element: a.places[i].element, Foot: Corner, Distance: min(distance(was, p), distance(is, p))}
	if math.Abs(a.joints[i-1].Kink) <= a.kink {
		h.Foot = On
	}
	right := between(was, p).dot(d0.right()) + between(is, p).dot(d1.right())
	if h.Offset = h.Distance; right < 0 {
		h.Offset = -h.Offset
	}
	return h
}

// beyond is the hit outside of the start or the end.
func (a *Alignment) beyond(i int, where Foot, p Place) Hit {
	from, to := a.pieces[i].ends()
	t0, t1 := a.pieces[i].directions()
	h := Hit{Chainage: a.start, Element: a.places[i].element, Foot: where}
	end, dir := from, t0
	if where == After {
		h.Chainage, end, dir = a.end, to, t1
	}
	if l, ok := a.pieces[i].(*lineOf); ok {
		h.Beyond, h.Offset = l.coordinates(p)
		if where == After {
			de, dn := l.chord()
			h.Beyond = unit.OverChord(p.E-to.E, de, p.N-to.N, dn, de, dn)
		}
	} else {
		v := between(end, p)
		h.Beyond, h.Offset = inMetres(v.dot(dir)), inMetres(v.dot(dir.right()))
	}
	h.Beyond = h.Beyond.Abs()
	h.Distance = distance(end, p)
	if h.Beyond <= unit.Nanometre { // the rounding of a place that is meant to be at the end
		h.Foot, h.Beyond, h.Distance = On, 0, h.Offset.Abs()
	}
	return h
}

// At returns the place at a chainage and an offset, + right, and the bearing of
// the alignment there: radians clockwise from grid north, 0 to 2π. At a joint it
// is that of the element after. A chainage outside of the alignment is ErrBefore
// or ErrAfter.
func (a *Alignment) At(chainage, offset unit.Length) (p Place, bearing float64, err error) {
	if err := outside("alignment", chainage, a.start, a.end, a.in); err != nil {
		return Place{}, 0, err
	}
	if offset.Abs() > extent {
		return Place{}, 0, ErrFar
	}
	i, found := slices.BinarySearchFunc(a.places, chainage, func(at position, c unit.Length) int { return cmp.Compare(at.start, c) })
	if !found {
		i--
	}
	i = min(i, len(a.pieces)-1)
	p, dir, err := a.pieces[i].at(chainage-a.places[i].start, offset)
	return p, dir.bearing(), err
}
