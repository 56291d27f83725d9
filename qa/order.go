package qa

import (
	"cmp"
	"slices"
	"strings"

	"sightrail/formats/unit"
	"sightrail/qa/limits"
)

// spot is where a judged value stands along a line, and what it came to.
type spot struct {
	run              int32 // number of its run, by the first shot of each
	limits           int32 // in line.limits
	seq              int32 // as it came
	verdict          limits.Verdict
	chained          bool
	chainage, offset unit.Length
	diff, beyond     unit.Length
}

// line gathers judged values to be put in order along the line.
type line struct {
	spots  []spot
	runs   map[string]int32
	limits []limits.Tolerance
}

func (l *line) add(r *Row) {
	s := &r.Shot
	name := s.Run
	if r.OnPipe {
		name = r.Pipe
	}
	n, known := l.runs[name]
	if !known {
		if l.runs == nil {
			l.runs = map[string]int32{}
		}
		n = int32(len(l.runs))
		l.runs[strings.Clone(name)] = n
	}
	x := spot{run: n, seq: int32(len(l.spots)), verdict: r.Verdict, diff: r.Diff, beyond: r.Beyond, limits: int32(len(l.limits))}
	switch {
	case r.OnPipe:
		x.chained, x.chainage = true, r.Along
	case s.Chained:
		x.chained, x.chainage, x.offset = true, s.Chainage, s.Offset
	}
	for i := range l.limits {
		if l.limits[i] == r.Limits {
			x.limits = int32(i)
		}
	}
	if int(x.limits) == len(l.limits) {
		l.limits = append(l.limits, r.Limits)
	}
	l.spots = append(l.spots, x)
}

// The orders of values along the line, in words.
const (
	orderChainage = "in the order of chainage, run by run"
	orderFile     = "in the order of the files, run by run, because not every shot has a chainage"
	orderMixed    = "run by run, in the order of chainage where every shot of a run has one and else in the order of the files"
)

// sort puts the values in order: runs by their first shot; in a run by chainage,
// then by offset, where all of it have a chainage, else as they came. It says
// which.
func (l *line) sort() string {
	loose := make([]bool, len(l.runs))
	for i := range l.spots {
		loose[l.spots[i].run] = loose[l.spots[i].run] || !l.spots[i].chained
	}
	slices.SortFunc(l.spots, func(a, b spot) int {
		switch {
		case a.run != b.run:
			return cmp.Compare(a.run, b.run)
		case loose[a.run]:
			return cmp.Compare(a.seq, b.seq)
		}
		return cmp.Or(cmp.Compare(a.chainage, b.chainage), cmp.Compare(a.offset, b.offset), cmp.Compare(a.seq, b.seq))
	})
	switch {
	case !slices.Contains(loose, true):
		return orderChainage
	case !slices.Contains(loose, false):
		return orderFile
	}
	return orderMixed
}

// streaks finds the largest number of failures one after the other in one run, of
// values that need not be kept where they come in the order that counts.
type streaks struct {
	runs  map[string]*streak // by name
	last  string             // the run of the last value, and its name
	now   *streak
	loose int // runs with a shot that has no chainage
}

// streak is one run: its values, until one has no chainage and the order of the
// files counts; from then on how many failed one after the other.
type streak struct {
	kept      []spot
	loose     bool
	now, most int
}

func (k *streaks) add(r *Row) {
	name, x := r.Shot.Run, spot{verdict: r.Verdict}
	switch {
	case r.OnPipe:
		name, x.chained, x.chainage = r.Pipe, true, r.Along
	case r.Shot.Chained:
		x.chained, x.chainage, x.offset = true, r.Shot.Chainage, r.Shot.Offset
	}
	if k.now == nil || name != k.last {
		if k.now = k.runs[name]; k.now == nil {
			if k.runs == nil {
				k.runs = map[string]*streak{}
			}
			name = strings.Clone(name)
			k.now = &streak{}
			k.runs[name] = k.now
		}
		k.last = name
	}
	n := k.now
	switch {
	case n.loose:
		n.count(x.verdict)
	case x.chained:
		x.seq = int32(len(n.kept))
		n.kept = append(n.kept, x)
	default:
		n.loose = true
		k.loose++
		for i := range n.kept {
			n.count(n.kept[i].verdict)
		}
		n.kept = nil
		n.count(x.verdict)
	}
}

func (n *streak) count(v limits.Verdict) {
	if v != limits.Fail {
		n.now = 0
		return
	}
	n.now++
	n.most = max(n.most, n.now)
}

// longest is the largest number of failures one after the other, and the order it
// was counted in, in words.
func (k *streaks) longest() (most int, order string) {
	for _, n := range k.runs {
		slices.SortFunc(n.kept, func(a, b spot) int {
			return cmp.Or(cmp.Compare(a.chainage, b.chainage), cmp.Compare(a.offset, b.offset), cmp.Compare(a.seq, b.seq))
		})
		for i := range n.kept {
			n.count(n.kept[i].verdict)
		}
		n.kept = nil
		most = max(most, n.most)
	}
	switch k.loose {
	case 0:
		return most, orderChainage
	case len(k.runs):
		return most, orderFile
	}
	return most, orderMixed
}
