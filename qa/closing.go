package qa

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/convert/mesh"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// closer is a shot that passes, of a day that may be later than a patch.
type closer struct {
	key   patchKey // with neither side
	at    convert.Place
	day   job.Date
	until job.Date
	file  string
}

// close closes an open entry by the rule: newer shots cover all of it with no hole
// larger than the spacing, and all pass. It says why where it does not.
func (g *Register) close(e *Entry, day job.Date, passes map[patchKey][]closer) (why string) {
	if g.tooMany != "" {
		return g.tooMany
	}
	if len(e.parts) == 0 {
		return "it has no outline, so that no shot can be said to cover it"
	}
	last := e.opened
	for _, x := range e.parts {
		if x.day <= day {
			last = max(last, x.day)
		}
	}
	for _, f := range e.shots {
		if f.day <= day && (f.until == "" || f.until > day) {
			return "" // the standing says it
		}
	}
	if last == "" || e.opened == "" {
		return "its survey has no date, so that no shot can be said to be newer"
	}
	key := e.key
	key.high = false
	used, newest := map[int]bool{}, job.Date("")
	var largest unit.Length
	var files []string
	for _, x := range e.parts {
		if x.day > day {
			continue
		}
		var near []convert.Place
		lo, hi := box(x.outline)
		for i, c := range passes[key] {
			if c.day > last && c.day <= day && (c.until == "" || c.until > day) && within1(c.at.E, lo.E, hi.E, g.spacing.Length) && within1(c.at.N, lo.N, hi.N, g.spacing.Length) {
				near = append(near, c.at)
				used[i] = true
				newest = max(newest, c.day)
				if !slices.Contains(files, c.file) {
					files = append(files, c.file)
				}
			}
		}
		if len(near) == 0 {
			return "no newer shot"
		}
		hole, err := holeIn(x.outline, near, g.spacing.Length)
		switch {
		case err != nil:
			return "whether newer shots cover it cannot be told: " + err.Error()
		case hole.beyond:
			limit := strings.TrimSuffix(strings.TrimRight(g.spacing.Exact(unit.M, 3), "0"), ".")
			from := hole.radius.Fixed(unit.M, 2)
			if shown, _, err := unit.Parse(from, unit.M); err != nil || shown <= g.spacing.Length {
				from = "just over " + limit // print does not contradict the verdict
			}
			return fmt.Sprintf("the newer shots leave a hole: %s m from the next of them at %s, where %s m is allowed", from, g.whereIs(e, hole.at), limit)
		}
		largest = max(largest, hole.radius)
	}
	e.closed = newest
	e.cells[ColStatus], e.cells[ColClosedOn], e.cells[ColClosedBy] = StatusClosed, string(newest), "newer shots of "+strings.Join(files, ", ")+", by the closing rule"
	return fmt.Sprintf("closed: %s until %s, all within tolerance; no place of it is further than %s m from one", count(len(used), "newer shot", "newer shots"), newest, largest.Fixed(unit.M, 2))
}

func (g *Register) whereIs(e *Entry, p convert.Place) string {
	switch {
	case e.key.line == "":
		return g.frame.Easting(p, 1) + " E, " + g.frame.Northing(p, 1) + " N"
	case p.N == 0:
		return p.E.Fixed(g.frame.Unit, 1) + " on " + e.key.line
	}
	return p.E.Fixed(g.frame.Unit, 1) + ", offset " + p.N.Fixed(g.frame.Unit, 1) + " on " + e.key.line
}

func box(list []convert.Place) (lo, hi convert.Place) {
	lo, hi = list[0], list[0]
	for _, p := range list {
		lo = convert.Place{E: min(lo.E, p.E), N: min(lo.N, p.N)}
		hi = convert.Place{E: max(hi.E, p.E), N: max(hi.N, p.N)}
	}
	return lo, hi
}

// within1 reports whether x lies between lo and hi, or no further than by from
// them. Places are in reach, so that nothing overflows.
func within1(x, lo, hi, by unit.Length) bool { return x >= lo-by && x <= hi+by }

// hole is the place of an outline that is furthest from any shot.
type hole struct {
	at     convert.Place
	radius unit.Length
	beyond bool // further than allowed, exactly
}

func holeIn(outline, shots []convert.Place, allowed unit.Length) (hole, error) {
	if len(outline) < 3 {
		return holeOnLine(outline[0], outline[len(outline)-1], shots, allowed), nil
	}
	places := func(list []convert.Place) []mesh.Place {
		out := make([]mesh.Place, len(list))
		for i, p := range list {
			out[i] = mesh.Place{E: p.E, N: p.N}
		}
		return out
	}
	region, err := mesh.NewRegion([][]mesh.Place{places(outline)})
	if err != nil {
		return hole{}, err
	}
	g, err := mesh.LargestGap(places(shots), region)
	if err != nil {
		return hole{}, err
	}
	return hole{convert.Place{E: g.Centre.E, N: g.Centre.N}, g.Radius, g.Compare(allowed) > 0}, nil
}

// holeOnLine finds the place between a and b that is furthest from any shot. Along
// the line, with t the distance times the length of the line, the square of the
// distance to a shot is (t² − 2ut + c) / length²: the nearest shots are those of
// the lowest of the straight lines c − 2ut, and the furthest place is an end or
// where two of these cross. All of it is exact.
func holeOnLine(a, b convert.Place, shots []convert.Place, allowed unit.Length) hole {
	length := big128(square(a, b))
	if length.Sign() == 0 {
		least := square(a, shots[0])
		for _, p := range shots {
			if d := square(a, p); compare128(d, least) < 0 {
				least = d
			}
		}
		return hole{a, rootOf(least), further(least, allowed)}
	}
	type ray struct{ u, c *big.Int }
	var rays []ray
	for _, p := range shots {
		u := new(big.Int).Mul(big.NewInt(int64(p.E-a.E)), big.NewInt(int64(b.E-a.E)))
		u.Add(u, new(big.Int).Mul(big.NewInt(int64(p.N-a.N)), big.NewInt(int64(b.N-a.N))))
		c := new(big.Int).Mul(u, u)
		h := cross(a, b, p)
		rays = append(rays, ray{u, c.Add(c, h.Mul(h, h))})
	}
	slices.SortFunc(rays, func(x, y ray) int { return cmp.Or(x.u.Cmp(y.u), x.c.Cmp(y.c)) })
	meet := func(x, y ray) *big.Rat {
		d := new(big.Int).Sub(y.u, x.u)
		return new(big.Rat).SetFrac(new(big.Int).Sub(y.c, x.c), d.Lsh(d, 1))
	}
	var low []ray
	for _, r := range rays {
		if n := len(low); n > 0 && low[n-1].u.Cmp(r.u) == 0 {
			continue
		}
		for n := len(low); n > 1 && meet(low[n-2], r).Cmp(meet(low[n-2], low[n-1])) <= 0; n = len(low) {
			low = low[:n-1]
		}
		low = append(low, r)
	}
	end := new(big.Rat).SetInt(length)
	at := []*big.Rat{new(big.Rat), end}
	for i := 1; i < len(low); i++ {
		if t := meet(low[i-1], low[i]); t.Sign() > 0 && t.Cmp(end) < 0 {
			at = append(at, t)
		}
	}
	var worst, where *big.Rat
	for _, t := range at {
		var near *big.Rat
		for _, r := range low {
			// t² − 2ut + c
			v := new(big.Rat).Mul(t, new(big.Rat).Sub(t, new(big.Rat).SetInt(new(big.Int).Lsh(r.u, 1))))
			if v.Add(v, new(big.Rat).SetInt(r.c)); near == nil || v.Cmp(near) < 0 {
				near = v
			}
		}
		if worst == nil || near.Cmp(worst) > 0 {
			worst, where = near, t
		}
	}
	worst = new(big.Rat).Quo(worst, end)
	limit := new(big.Int).Mul(big.NewInt(int64(allowed)), big.NewInt(int64(allowed)))
	radius := new(big.Int).Quo(worst.Num(), worst.Denom())
	share, _ := new(big.Rat).Quo(where, end).Float64()
	place := convert.Place{E: a.E + unit.Length(share*float64(b.E-a.E)), N: a.N + unit.Length(share*float64(b.N-a.N))}
	return hole{place, unit.Length(radius.Sqrt(radius).Int64()), worst.Cmp(new(big.Rat).SetInt(limit)) > 0}
}

// gap is the square of the distance between two outlines, exactly.
type gap struct{ sq *big.Rat }

func (g gap) zero() bool      { return g.sq.Sign() == 0 }
func (g gap) less(o gap) bool { return g.sq.Cmp(o.sq) < 0 }

// between is the distance between two convex outlines; ok is false where it is
// more than most.
func between(a, b []convert.Place, most unit.Length) (d gap, ok bool) {
	alo, ahi := box(a)
	blo, bhi := box(b)
	if alo.E > bhi.E+most || blo.E > ahi.E+most || alo.N > bhi.N+most || blo.N > ahi.N+most {
		return gap{}, false
	}
	if insideOf(a[0], b) || insideOf(b[0], a) {
		return gap{new(big.Rat)}, true
	}
	var least *big.Rat
	each := func(list []convert.Place, do func(p, q convert.Place)) {
		for i, p := range list {
			do(p, list[(i+1)%len(list)])
		}
	}
	each(a, func(p, q convert.Place) {
		each(b, func(s, t convert.Place) {
			if cuts(p, q, s, t) {
				least = new(big.Rat)
			}
			for _, x := range []*big.Rat{toLine(p, s, t), toLine(q, s, t), toLine(s, p, q), toLine(t, p, q)} {
				if least == nil || x.Cmp(least) < 0 {
					least = x
				}
			}
		})
	})
	limit := new(big.Int).Mul(big.NewInt(int64(most)), big.NewInt(int64(most)))
	return gap{least}, least.Cmp(new(big.Rat).SetInt(limit)) <= 0
}

// insideOf reports whether a place is inside a counter-clockwise outline of three
// corners or more, or on it.
func insideOf(p convert.Place, ring []convert.Place) bool {
	for i, a := range ring {
		if turn(a, ring[(i+1)%len(ring)], p) < 0 {
			return false
		}
	}
	return len(ring) > 2
}

// cuts reports whether two segments cross inside of both.
func cuts(p, q, s, t convert.Place) bool {
	return turn(p, q, s)*turn(p, q, t) < 0 && turn(s, t, p)*turn(s, t, q) < 0
}

// toLine is the square of the distance of a place from a segment.
func toLine(p, a, b convert.Place) *big.Rat {
	dot := func(v, w convert.Place) *big.Int {
		x := new(big.Int).Mul(big.NewInt(int64(v.E)), big.NewInt(int64(w.E)))
		return x.Add(x, new(big.Int).Mul(big.NewInt(int64(v.N)), big.NewInt(int64(w.N))))
	}
	ab, ap := convert.Place{E: b.E - a.E, N: b.N - a.N}, convert.Place{E: p.E - a.E, N: p.N - a.N}
	t, l := dot(ap, ab), dot(ab, ab)
	switch {
	case t.Sign() <= 0:
		return new(big.Rat).SetInt(dot(ap, ap))
	case t.Cmp(l) >= 0:
		bp := convert.Place{E: p.E - b.E, N: p.N - b.N}
		return new(big.Rat).SetInt(dot(bp, bp))
	}
	c := cross(a, b, p)
	return new(big.Rat).SetFrac(c.Mul(c, c), l)
}
