package qa

import (
	"strings"

	"sightrail/convert"
	"sightrail/qa/job"
)

// lotIndex finds the first lot that holds a shot, without trying all: lots with
// an outline by place, lots between chainages by chainage, the others by run.
type lotIndex struct {
	lots   []Lot
	place  *convert.Boxes
	placed []int // number of the lot of each box
	chain  *convert.Boxes
	chains []int
	along  []int          // lots between chainages of an alignment
	runs   []int          // lots by run alone
	byRun  map[string]int // run → the first of them that holds it, or -1
}

func newLotIndex(lots []Lot) *lotIndex {
	x := &lotIndex{lots: lots, byRun: map[string]int{}}
	var place, chain []convert.Box
	for i := range lots {
		switch l := &lots[i]; {
		case l.Cannot != "":
		case l.Chainage != nil && l.Along != nil:
			x.along = append(x.along, i)
		case l.Chainage != nil:
			x.chains = append(x.chains, i)
			chain = append(chain, convert.Box{Lo: convert.Place{E: l.Chainage.From.Length}, Hi: convert.Place{E: l.Chainage.To.Length}})
		case l.Outline != nil:
			x.placed = append(x.placed, i)
			place = append(place, l.Outline.Box())
		default:
			x.runs = append(x.runs, i)
		}
	}
	x.place, x.chain = convert.NewBoxes(place), convert.NewBoxes(chain)
	return x
}

// first is the number of the first lot that holds the shot, or -1.
func (x *lotIndex) first(s *convert.Shot) int {
	best := len(x.lots)
	try := func(numbers []int) func(int) bool {
		return func(i int) bool {
			k := numbers[i]
			if k < best && x.lots[k].Holds(s) {
				best = k
			}
			return k < best
		}
	}
	if s.Placed {
		x.place.Each(s.Place, try(x.placed))
	}
	if s.Chained {
		x.chain.Each(convert.Place{E: s.Chainage}, try(x.chains))
	}
	if k := x.ofRun(s.Run); k >= 0 {
		best = min(best, k)
	}
	if len(x.along) > 0 {
		best = min(best, x.onLine(s, best))
	}
	if best == len(x.lots) {
		return -1
	}
	return best
}

// onLine is the first lot before best between chainages of an alignment that holds the
// shot, or best. A shot is located once for lots of one design that follow each other.
func (x *lotIndex) onLine(s *convert.Shot, best int) int {
	var on *convert.Surface
	var at convert.Shot
	for _, i := range x.along {
		if i >= best {
			break
		}
		l := &x.lots[i]
		if l.Along != on {
			on, at = l.Along, *s
			var ok bool
			if at.Chainage, at.Offset, ok = on.Chain(s); !ok {
				at.Chained, at.Placed = false, false
			} else {
				at.Chained, at.Placed = true, false
			}
		}
		if at.Chained && l.Holds(&at) {
			return i
		}
	}
	return best
}

// ofRun is the first lot by run alone that a run belongs to, or -1.
func (x *lotIndex) ofRun(run string) int {
	if len(x.runs) == 0 {
		return -1
	}
	k, known := x.byRun[run]
	if known {
		return k
	}
	k = -1
	for _, i := range x.runs {
		if l := &x.lots[i]; len(l.Runs) == 0 || (job.Shots{Runs: l.Runs}).Matches("", "", "", run, "") {
			k = i
			break
		}
	}
	x.byRun[strings.Clone(run)] = k // a text of a point is a part of its file's block
	return k
}
