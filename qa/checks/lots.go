package checks

import (
	"sightrail/convert"
	"sightrail/qa"
)

// firstOfLots are the first shots of every lot, in the order they came in. What is not
// assessed as a whole is told at each of them, or a lot beside the first would pass
// by its other results.
type firstOfLots struct {
	met   map[string]bool
	shots []convert.Shot
}

// meet takes the shot in where it is the first of its lot.
func (f *firstOfLots) meet(s *convert.Shot) {
	if f.met[s.Lot] {
		return
	}
	if f.met == nil {
		f.met = map[string]bool{}
	}
	f.met[s.Lot] = true
	f.shots = append(f.shots, detached(s))
}

// rows are the row at every shot.
func (f *firstOfLots) rows(r qa.Row) (out []qa.Row) {
	for i := range f.shots {
		r.Shot = f.shots[i]
		out = append(out, r)
	}
	return out
}
