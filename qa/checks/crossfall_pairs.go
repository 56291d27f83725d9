package checks

import (
	"cmp"
	"container/heap"
	"slices"

	"sightrail/convert"
	"sightrail/formats/unit"
)

// pair is a shot on the left and its partner, by number.
type pair struct{ left, right int }

// pairs finds the partners of the shots on the left; each shot is in one pair at most.
func (m *crossfallMeasurer) pairs() (out []pair) {
	if m.params.Pair == "run" {
		byRun := map[string][2][]int{}
		for k := range m.sides {
			for i := range m.sides[k] {
				x := byRun[m.sides[k][i].Run]
				x[k] = append(x[k], i)
				byRun[m.sides[k][i].Run] = x
			}
		}
		for _, x := range byRun {
			if len(x[0]) == 1 && len(x[1]) == 1 {
				out = append(out, pair{left: x[0][0], right: x[1][0]})
			}
		}
		return out
	}
	return nearestPairs(m.sides, m.params.Within.Length)
}

// section is all that stands at one chainage: the shots without a partner yet, by side.
type section struct {
	at         unit.Length
	waiting    [2][]int
	prev, next int // of the sections where shots are waiting
}

// nearPair is a pair that may be the nearest one: the first waiting on the left and on the
// right, in two sections next to each other.
type nearPair struct {
	apart    uint64 // chainages may lie further apart than a Length goes
	pair     pair
	from, to int
}

type nearPairs []nearPair

func (q nearPairs) Len() int      { return len(q) }
func (q nearPairs) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q nearPairs) Less(i, j int) bool {
	a, b := &q[i], &q[j]
	return cmp.Or(cmp.Compare(a.apart, b.apart), cmp.Compare(a.pair.left, b.pair.left), cmp.Compare(a.pair.right, b.pair.right)) < 0
}
func (q *nearPairs) Push(x any) { *q = append(*q, x.(nearPair)) }
func (q *nearPairs) Pop() any {
	last := len(*q) - 1
	x := (*q)[last]
	*q = (*q)[:last]
	return x
}

// nearestPairs takes the nearest pairs first, and of those as near the one of the
// earlier shot on the left, then on the right. The nearest pair never has a shot
// without a partner between its two, or that would be nearer to one of them: only
// neighbours are looked at, so that memory grows with the shots and not with all pairs
// that are within.
func nearestPairs(sides [2][]convert.Shot, within unit.Length) (out []pair) {
	type one struct{ side, shot int }
	all := make([]one, 0, len(sides[0])+len(sides[1]))
	for k := range sides {
		for i := range sides[k] {
			all = append(all, one{k, i})
		}
	}
	slices.SortStableFunc(all, func(a, b one) int {
		return cmp.Compare(sides[a.side][a.shot].Chainage, sides[b.side][b.shot].Chainage)
	})
	var list []section
	for i := 0; i < len(all); {
		s := section{at: sides[all[i].side][all[i].shot].Chainage}
		for ; i < len(all) && sides[all[i].side][all[i].shot].Chainage == s.at; i++ {
			s.waiting[all[i].side] = append(s.waiting[all[i].side], all[i].shot)
		}
		for len(s.waiting[0]) > 0 && len(s.waiting[1]) > 0 { // nothing is nearer than these
			out = append(out, pair{s.waiting[0][0], s.waiting[1][0]})
			s.waiting[0], s.waiting[1] = s.waiting[0][1:], s.waiting[1][1:]
		}
		if len(s.waiting[0])+len(s.waiting[1]) > 0 {
			s.prev, s.next = len(list)-1, len(list)+1
			list = append(list, s)
		}
	}
	var queue nearPairs
	ask := func(from int) { // with the next one
		if from < 0 || list[from].next >= len(list) {
			return
		}
		to := list[from].next
		a, b := &list[from], &list[to]
		left := 0 // whether a is on the left
		if len(a.waiting[0]) == 0 {
			left = 1
		}
		apart := uint64(b.at) - uint64(a.at) // exact: b is not before a
		if len(b.waiting[1-left]) == 0 || apart > uint64(within) {
			return
		}
		p := [2]int{a.waiting[left][0], b.waiting[1-left][0]}
		heap.Push(&queue, nearPair{apart, pair{p[left], p[1-left]}, from, to})
	}
	first := func(s *section, side, shot int) bool { return len(s.waiting[side]) > 0 && s.waiting[side][0] == shot }
	for i := range list {
		ask(i)
	}
	for len(queue) > 0 {
		x := heap.Pop(&queue).(nearPair)
		a, b := &list[x.from], &list[x.to]
		left := a
		right := b
		if !first(left, 0, x.pair.left) {
			left, right = b, a
		}
		if a.next != x.to || !first(left, 0, x.pair.left) || !first(right, 1, x.pair.right) {
			continue // one of them has a partner by now
		}
		out = append(out, x.pair)
		left.waiting[0], right.waiting[1] = left.waiting[0][1:], right.waiting[1][1:]
		for _, k := range []int{x.from, x.to} {
			if s := &list[k]; len(s.waiting[0])+len(s.waiting[1]) == 0 {
				if s.prev >= 0 {
					list[s.prev].next = s.next
				}
				if s.next < len(list) {
					list[s.next].prev = s.prev
				}
			}
		}
		// whoever is first now, or next to each other, is looked at anew
		for _, k := range []int{x.from, x.to} {
			if s := &list[k]; len(s.waiting[0])+len(s.waiting[1]) > 0 {
				ask(s.prev)
				ask(k)
			} else {
				ask(s.prev)
			}
		}
	}
	return out
}
