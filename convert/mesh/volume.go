package mesh

import (
	"errors"
	"math"

	"sightrail/formats/unit"
)

// Volumes between two surfaces, in m³, and plan areas, in m². The difference is
// built minus design.
type Volumes struct {
	Above, Below         float64 // of what is over design, and of what is missing under it; both positive
	AreaAbove, AreaBelow float64

	// Of what is past the limits: over design + upper, and missing under design +
	// lower, and where that is. To design, past the limit, it is
	// Over + upper × AreaOver.
	Over, Under         float64
	AreaOver, AreaUnder float64

	Area     float64 // asked for: of the region, or of the built surface where there is none
	Compared float64 // of it, where both surfaces are
	NoBuilt  float64 // of it, where the built surface is not
	NoDesign float64 // of it, where the built surface is and the design is not
	Doubled  float64 // how much was compared more than once, because a surface lies over itself
}

// Compare reckons the volumes between two surfaces inside a region, or wherever
// the built surface is when the region is nil. lower and upper are limits of the
// difference; both are 0 when there are none.
func Compare(built, design *Layer, in *Region, lower, upper unit.Length) (Volumes, error) {
	if lower > upper {
		return Volumes{}, errors.New("the lower limit is above the upper one; exchange them")
	}
	c := comparison{built: built, design: design, lower: float64(lower), upper: float64(upper)}
	var v Volumes
	if in == nil {
		for f := range built.corners {
			c.whole(int32(f))
		}
		v.Area = built.Area()
		c.found = sum{s: v.Area * squareMetre}
	} else {
		var faces []int32
		for k := range in.faces {
			b := boxOf(in.faces[k][:]...)
			faces = built.boxes.touching(b, faces[:0])
			for _, f := range faces {
				c.part(&in.faces[k], b, f)
			}
		}
		v.Area = in.Area()
	}
	v.Above, v.Below = c.above.value()/cubicMetre, c.below.value()/cubicMetre
	v.Over, v.Under = c.over.value()/cubicMetre, c.under.value()/cubicMetre
	v.AreaAbove, v.AreaBelow = c.areaAbove.value()/squareMetre, c.areaBelow.value()/squareMetre
	v.AreaOver, v.AreaUnder = c.areaOver.value()/squareMetre, c.areaUnder.value()/squareMetre
	v.Compared = c.area.value() / squareMetre
	found := c.found.value() / squareMetre
	v.NoBuilt, v.NoDesign = unlessNoise(v.Area-found, v.Area), unlessNoise(found-v.Compared, v.Area)
	v.Doubled = unlessNoise(max(found-v.Area, v.Compared-found), v.Area)
	return v, nil
}

// comparison is the sums of one Compare, in counts.
type comparison struct {
	built, design        *Layer
	lower, upper         float64
	near                 []int32 // faces of the design
	of, both, past       piece
	found, area          sum
	above, below         sum
	over, under          sum
	areaAbove, areaBelow sum
	areaOver, areaUnder  sum
}

// corner is a corner of a piece, in counts from the first corner of the face of
// the built surface that the piece is of, and the difference there.
type corner struct{ x, y, d float64 }

// whole compares a whole face of the built surface.
func (c *comparison) whole(f int32) {
	face := &c.built.corners[f]
	o := face[0].place()
	c.of.face(o, face)
	c.against(face, c.of.p, boxOf(o, face[1].place(), face[2].place()))
}

// part compares what is of a face of the built surface inside a face of the
// region.
func (c *comparison) part(region *[3]Place, around box, f int32) {
	face := &c.built.corners[f]
	o := face[0].place()
	c.of.face(o, face)
	c.of.cut(o, region)
	if a, _ := solid(c.of.p); a > 0 {
		c.found.add(a)
		c.against(face, c.of.p, around.within(boxOf(o, face[1].place(), face[2].place())))
	}
}

// against compares a piece of a face with every face of the design.
func (c *comparison) against(face *[3]Vertex, p []corner, around box) {
	o := face[0].place()
	mine := slopeOf(face)
	c.near = c.design.boxes.touching(around, c.near[:0])
	for _, k := range c.near {
		other := &c.design.corners[k]
		q := &c.both
		q.p = append(q.p[:0], p...)
		q.cut(o, &[3]Place{other[0].place(), other[1].place(), other[2].place()})
		if len(q.p) < 3 {
			continue
		}
		theirs := slopeOf(other)
		from := from(o, other[0].place())
		apart := float64(face[0].Z - other[0].Z)
		noise := 0.0
		for i := range q.p {
			v := &q.p[i]
			rise, size := mine.rise(v.x, v.y)
			fall, more := theirs.rise(v.x-from.x, v.y-from.y)
			v.d = apart + (rise - fall)
			noise = max(noise, size+more)
		}
		c.prism(q.p, levelNoise*(noise+math.Abs(apart)))
	}
}

// levelNoise bounds the error of a difference, as a factor of all its terms made
// positive: about ten roundings, and those of the place. Within it a difference
// counts as on its limit, so that two planes a limit apart are nowhere past it.
const levelNoise = 16 * u

// prism adds what is between the surfaces over a piece. What is past a level by
// no more than noise is on it.
func (c *comparison) prism(p []corner, noise float64) {
	area, _ := solid(p)
	c.area.add(area)
	lo, hi := p[0].d, p[0].d
	for _, v := range p[1:] {
		lo, hi = min(lo, v.d), max(hi, v.d)
	}
	add := func(volume, area *sum, sign, level float64) {
		a, v := solid(c.past.over(p, sign, level))
		area.add(a)
		volume.add(v)
	}
	if hi > noise {
		add(&c.above, &c.areaAbove, 1, 0)
	}
	if lo < -noise {
		add(&c.below, &c.areaBelow, -1, 0)
	}
	if hi > c.upper+noise {
		add(&c.over, &c.areaOver, 1, c.upper)
	}
	if lo < c.lower-noise {
		add(&c.under, &c.areaUnder, -1, c.lower)
	}
}

// slope is the rise of a face to the east and to the north, and the same with
// every term positive, which is what its error is in proportion to.
type slope struct{ e, n, sizeE, sizeN float64 }

func slopeOf(c *[3]Vertex) slope {
	b, d := from(c[0].place(), c[1].place()), from(c[0].place(), c[2].place())
	zb, zd := float64(c[1].Z-c[0].Z), float64(c[2].Z-c[0].Z)
	area := twiceOf(c)
	return slope{(zb*d.y - zd*b.y) / area, (zd*b.x - zb*d.x) / area,
		(math.Abs(zb*d.y) + math.Abs(zd*b.y)) / area, (math.Abs(zd*b.x) + math.Abs(zb*d.x)) / area}
}

func (s *slope) rise(x, y float64) (rise, size float64) {
	return s.e*x + s.n*y, s.sizeE*math.Abs(x) + s.sizeN*math.Abs(y)
}

// solid is the plan area of a piece and the volume over it: a fan of triangular
// prisms cut at a slant, each its area × the mean of its three heights.
func solid(p []corner) (area, volume float64) {
	for k := 1; k+1 < len(p); k++ {
		o, b, c := p[0], p[k], p[k+1]
		a := ((b.x-o.x)*(c.y-o.y) - (b.y-o.y)*(c.x-o.x)) / 2
		area += a
		volume += a * (o.d + b.d + c.d) / 3
	}
	return area, volume
}
