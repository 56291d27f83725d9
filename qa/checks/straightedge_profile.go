package checks

import (
	"cmp"
	"math"
	"math/big"
	"slices"

	"sightrail/convert"
	"sightrail/formats/unit"
)

// profile is a line of shots in order.
type profile struct {
	shots   []*convert.Shot
	x, z    []unit.Length // along, from the first shot, and level
	bar     unit.Length   // that lies on it
	chained bool          // a distance along it is one of chainages
	// By shot, what the way along the shots does within a bar's length of it: the shot
	// at which it turns back, the one that lies furthest beside a way too long to lay a
	// bar along (0 for none: the first shot does neither), and how far along it a bar
	// may reach.
	turns, bent []int
	reach       []unit.Length

	found []candidate // of the last shot
}

// bendPercent is how much longer the way along the shots may be than the straight line
// over a bar's length, in percent of the bar: common practice, no published source. 1 %
// is a bend of 16° in the middle of the bar, or shots every half metre that stand 35 mm
// to the left and to the right of the line in turn.
const bendPercent = 1

// plan is the distance between two shots: in plan, or by chainage and offset where one
// of them has no place.
func plan(a, b *convert.Shot) unit.Length { return unit.Distance(away(a, b)) }

// away is where b lies from a.
func away(a, b *convert.Shot) (e, n unit.Length) {
	if a.Placed && b.Placed {
		return b.Place.E - a.Place.E, b.Place.N - a.Place.N
	}
	return b.Offset - a.Offset, b.Chainage - a.Chainage
}

// newProfile puts shots in order along their line; why says that there is none.
func newProfile(shots []convert.Shot, bar unit.Length) (p *profile, why string) {
	p = &profile{bar: bar}
	chained, placed := true, true
	for i := range shots {
		p.shots = append(p.shots, &shots[i])
		chained, placed = chained && shots[i].Chained, placed && shots[i].Placed
	}
	switch {
	case len(shots) < 3:
		return nil, "has fewer than three shots"
	case chained:
		p.shots = inOrder(p.shots)
	case !placed:
		return nil, "has shots without a chainage and shots without a place"
	}
	for i, s := range p.shots {
		var x unit.Length
		if i > 0 {
			b := p.shots[i-1]
			step := plan(b, s)
			switch x = p.x[i-1] + step; {
			case step == 0:
				return nil, "has two shots at one place: " + named(b) + " and " + named(s)
			case x < 0:
				return nil, "is too long to be kept exactly"
			}
			p.chained = p.chained || !(b.Placed && s.Placed) && b.Chainage != s.Chainage
		}
		p.x, p.z = append(p.x, x), append(p.z, s.Level)
	}
	if p.x[len(p.x)-1] < bar {
		return nil, "is shorter than the straightedge"
	}
	p.bends()
	return p, ""
}

// inOrder puts shots with chainages in order: by chainage, or by offset where that way
// along them is shorter, because they lie across.
func inOrder(shots []*convert.Shot) []*convert.Shot {
	across := slices.Clone(shots)
	slices.SortStableFunc(shots, func(a, b *convert.Shot) int {
		return cmp.Or(cmp.Compare(a.Chainage, b.Chainage), cmp.Compare(a.Offset, b.Offset))
	})
	slices.SortStableFunc(across, func(a, b *convert.Shot) int {
		return cmp.Or(cmp.Compare(a.Offset, b.Offset), cmp.Compare(a.Chainage, b.Chainage))
	})
	way := func(list []*convert.Shot) (sum float64) {
		for i := 1; i < len(list); i++ {
			sum += float64(plan(list[i-1], list[i]))
		}
		return sum
	}
	if way(across) < way(shots) {
		return across
	}
	return shots
}

// wide finds neighbours further apart than a sixth of the bar, within a bar's length
// of shot k.
func (p *profile) wide(k int) (a, b int, wide bool) {
	for i := k; i > 0 && p.x[k]-p.x[i] < p.bar; i-- {
		if p.x[i]-p.x[i-1] > p.bar/perBar {
			return i - 1, i, true
		}
	}
	for i := k; i+1 < len(p.x) && p.x[i]-p.x[k] < p.bar; i++ {
		if p.x[i+1]-p.x[i] > p.bar/perBar {
			return i, i + 1, true
		}
	}
	return 0, 0, false
}

// bends looks at the way along the shots: where it turns back, and over every stretch
// that a bar lies in, from a shot to the first one a bar's length on, how much longer
// it is than the straight line.
func (p *profile) bends() {
	n := len(p.x)
	p.turns, p.bent, p.reach = make([]int, n), make([]int, n), make([]unit.Length, n)
	last := 0
	for k := 1; k < n; k++ {
		if k+1 < n && turnsBack(p.shots[k-1], p.shots[k], p.shots[k+1]) {
			last = k
			for i := k; i > 0 && p.x[k]-p.x[i] < p.bar && p.turns[i] == 0; i-- {
				p.turns[i] = k
			}
		}
		if last > 0 && p.x[k]-p.x[last] < p.bar && p.turns[k] == 0 {
			p.turns[k] = last
		}
	}
	for i, j := 0, 0; i < n && p.x[n-1]-p.x[i] >= p.bar; i++ {
		for p.x[j]-p.x[i] < p.bar {
			j++
		}
		longer := p.x[j] - p.x[i] - plan(p.shots[i], p.shots[j]) // and over no part of the way by more
		if p.x[j]-p.x[j-1] > p.bar || longer <= unit.Length(j-i+1) {
			continue // no bar is laid there; or no more than the distances were rounded by
		}
		if longer > p.bar/100*bendPercent {
			at := p.beside(i, j)
			for k := i; k <= j; k++ {
				p.bent[k] = at
			}
			continue
		}
		for k := i; k <= j; k++ {
			p.reach[k] = max(p.reach[k], p.bar+longer)
		}
	}
}

// turnsBack tells whether the way from a over b to c bends by a right angle or more.
func turnsBack(a, b, c *convert.Shot) bool {
	e1, n1 := away(a, b)
	e2, n2 := away(b, c)
	if (a.Placed && b.Placed) != (b.Placed && c.Placed) { // one step of either kind: both by chainage
		e1, n1, e2, n2 = b.Offset-a.Offset, b.Chainage-a.Chainage, c.Offset-b.Offset, c.Chainage-b.Chainage
	}
	x, y := float64(e1)*float64(e2), float64(n1)*float64(n2)
	if dot := x + y; math.Abs(dot) > 1e-12*(math.Abs(x)+math.Abs(y)) {
		return dot < 0
	}
	product := func(a, b unit.Length) *big.Int { return new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b))) }
	return new(big.Int).Add(product(e1, e2), product(n1, n2)).Sign() <= 0
}

// beside is the shot between two that lies furthest beside the line through them, or
// furthest from them where they stand at one place.
func (p *profile) beside(i, j int) (at int) {
	e, n := away(p.shots[i], p.shots[j])
	most := -1.0
	for k := i + 1; k < j; k++ {
		x, y := away(p.shots[i], p.shots[k])
		d := math.Abs(float64(x)*float64(n) - float64(y)*float64(e))
		if e == 0 && n == 0 {
			d = math.Hypot(float64(x), float64(y))
		}
		if d > most {
			at, most = k, d
		}
	}
	return at
}
