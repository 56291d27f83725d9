package checks

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// maxAlong is how far the next shot along may be for the grade to it to be one at
// which a shot stands: common practice, no published source.
const maxAlong = 50 * unit.Metre

// edge is one side along: its chainages in order, and the lowest and highest level at
// each.
type edge []edgeAt

type edgeAt struct{ at, low, high unit.Length }

func newEdge(shots []convert.Shot) edge {
	var e edge
	for i := range shots {
		if s := &shots[i]; s.Chained {
			e = append(e, edgeAt{s.Chainage, s.Level, s.Level})
		}
	}
	slices.SortFunc(e, func(a, b edgeAt) int { return cmp.Compare(a.at, b.at) })
	n := 0
	for _, x := range e {
		if n > 0 && e[n-1].at == x.at {
			e[n-1].low, e[n-1].high = min(e[n-1].low, x.low), max(e[n-1].high, x.high)
			continue
		}
		e[n] = x
		n++
	}
	return e[:n]
}

// along is what the grades along make of a way: between low and high, in counts,
// rounded outwards.
type along struct {
	low, high unit.Length
	known     bool // by two shots that the way lies between
}

func (w *along) take(l unit.Length) {
	if w.low > w.high {
		w.low, w.high = l-1, l+1
	}
	w.low, w.high = min(w.low, l-1), max(w.high, l+1)
}

// grades takes the grades from shot s to the shots of its side before and after it, no
// nearer than its partner is along: a grade over less than the way says nothing of it.
func (w *along) grades(e edge, s *convert.Shot, way, partner unit.Length) {
	find := func(c unit.Length) (int, bool) {
		return slices.BinarySearchFunc(e, c, func(x edgeAt, c unit.Length) int { return cmp.Compare(x.at, c) })
	}
	next, _ := find(s.Chainage + way.Abs())
	prev, there := find(s.Chainage - way.Abs())
	if !there {
		prev--
	}
	for _, i := range []int{prev, next} {
		if i < 0 || i >= len(e) || (e[i].at-s.Chainage).Abs() > maxAlong {
			continue
		}
		for _, z := range []unit.Length{e[i].low, e[i].high} {
			w.take(unit.MulDiv(way, z-s.Level, e[i].at-s.Chainage))
		}
		w.known = w.known || (i == prev) == (partner < s.Chainage)
	}
}

// skewed tells whether the verdict of a pair at two chainages, d apart, hangs on the
// grade along or on how far across they are, and in words what they make of it. Over
// all rises and distances that there may be the limits are straight lines, so that the
// corners are enough; a decision rule moves them by its guard band.
func (m *crossfallMeasurer) skewed(a, b *convert.Shot, d unit.Length, r *qa.Row) (words, why string) {
	way := b.Chainage - a.Chainage
	w := along{low: 1, high: 0}
	w.grades(m.edges[0], a, way, b.Chainage)
	w.grades(m.edges[1], b, way, a.Chainage)
	apart := "the two are " + inUnit(m.frame, way.Abs()) + " apart along"
	const todo = "; shoot both at one chainage"
	if !w.known {
		return "", apart + ", and the grade along is not known there: it takes another shot on the left beyond the right one, or on the right beyond the left one, no further than " + inUnit(m.frame, maxAlong) + todo
	}
	across := []unit.Length{d}
	if a.Placed && b.Placed {
		if way.Abs() >= d {
			return "", apart + ", not less than they are in plan" + todo
		}
		square := new(big.Int).Mul(big.NewInt(int64(d-way.Abs())), big.NewInt(int64(d)+int64(way.Abs())))
		across = append(across, max(unit.Length(square.Sqrt(square).Int64())-1, 1))
		if o := (b.Offset - a.Offset).Abs(); o != 0 {
			across = append(across, o)
		}
	}
	nominal := decidedBy(m.params.Decision, r.Limits, r.Diff, r.U, r.HasU)
	for _, x := range across {
		exact := product(m.grade, x)
		var t limits.Tolerance
		m.limit(&t, exact, x)
		for _, e := range []unit.Length{0, w.low, w.high} {
			if decidedBy(m.params.Decision, t, r.Measured-e-rounded(exact), r.U, r.HasU) != nominal {
				return "", fmt.Sprintf("%s, where the grade along makes between %s and %s mm of the rise, and the verdict hangs on it%s", apart, signed(w.low), signed(w.high), todo)
			}
		}
	}
	return fmt.Sprintf("%s, where the grade along makes between %s and %s mm of the rise", apart, signed(w.low), signed(w.high)), ""
}

// signed is a length in tenths of a millimetre, with its sign.
func signed(l unit.Length) string {
	s := l.Fixed(unit.MM, 1)
	if l > 0 {
		s = "+" + s
	}
	return s
}
