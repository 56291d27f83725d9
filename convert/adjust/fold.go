package adjust

import (
	"slices"

	"sightrail/formats/unit"
)

// tie is an observation between two junctions, or a row of them with change
// points between. Its links are links[first:first+count].
type tie struct {
	from, to     int32 // points
	first, count int32
	diff         unit.Length // exact sum
	variance     float64
}

// link is an observation of a tie, walked forwards or backwards, and the point
// that it leads to.
type link struct {
	observation int32
	back        bool
	to          int32
}

// spur is a point that hangs on another by one observation only, when the spurs
// that hang on itself are taken off.
type spur struct {
	point, on   int32
	observation int32
	back        bool // observed from the point
}

// role is what a point is to the fold.
type role uint8

const (
	outside  role = iota // in a loose part
	junction             // is solved for
	fixed                // held, and does not move
	inner                // a change point of a tie
	hanging              // a spur
)

// fold is a network with change points and dead ends taken out.
type fold struct {
	net   *Network
	role  []role
	ties  []tie
	links []link
	spurs []spur // the last taken off hangs on what stays
	where []int32
	// where: of a junction, its number among the unknowns; of an inner point, its
	// tie; of a spur, its index; else -1
	junctions []int32 // points, by number
	weighted  []bool  // of a point: a mark that may move
	order     []int32 // points, neighbours near each other: what follows is numbered by it
	part      []int32 // of a point
	marks     []int32 // in each part
	firstObs  []int32 // observations at a point, loops left out: at[firstObs[p]:firstObs[p+1]]
	at        []int32
}

func newFold(n *Network, o Options, r *Result) (*fold, error) {
	np := len(n.Points)
	f := &fold{net: n, role: make([]role, np), where: make([]int32, np), weighted: make([]bool, np), part: make([]int32, np)}
	for i := range f.where {
		f.where[i] = -1
	}
	f.list()
	f.findParts(o, r)
	degree := f.peel()
	return f, f.walkTies(degree)
}

// list makes the lists of observations at points.
func (f *fold) list() {
	obs := f.net.Observations
	f.firstObs = make([]int32, len(f.net.Points)+1)
	for i := range obs {
		if o := &obs[i]; o.From != o.To {
			f.firstObs[o.From+1]++
			f.firstObs[o.To+1]++
		}
	}
	for p := range f.net.Points {
		f.firstObs[p+1] += f.firstObs[p]
	}
	f.at = make([]int32, f.firstObs[len(f.net.Points)])
	put := append([]int32(nil), f.firstObs[:len(f.net.Points)]...)
	for i := range obs {
		if o := &obs[i]; o.From != o.To {
			f.at[put[o.From]] = int32(i)
			put[o.From]++
			f.at[put[o.To]] = int32(i)
			put[o.To]++
		}
	}
}

func (f *fold) observationsAt(p int32) []int32 { return f.at[f.firstObs[p]:f.firstObs[p+1]] }

// other is the far end of an observation, and whether it is walked backwards from
// p.
func (f *fold) other(observation, p int32) (to int32, back bool) {
	o := &f.net.Observations[observation]
	if o.From == int(p) {
		return int32(o.To), false
	}
	return int32(o.From), true
}

// findParts names the parts that are joined, and says which marks hold them.
func (f *fold) findParts(o Options, r *Result) {
	pts := f.net.Points
	for i := range f.part {
		f.part[i] = -1
	}
	f.order = make([]int32, 0, len(pts))
	for start := range pts {
		if f.part[start] >= 0 {
			continue
		}
		number, first := int32(len(f.marks)), len(f.order)
		f.part[start] = number
		f.order = append(f.order, int32(start))
		marks := []int(nil)
		for i := first; i < len(f.order); i++ {
			p := f.order[i]
			if pts[p].Held {
				marks = append(marks, int(p))
			}
			for _, obs := range f.observationsAt(p) {
				if q, _ := f.other(obs, p); f.part[q] < 0 {
					f.part[q] = number
					f.order = append(f.order, q)
				}
			}
		}
		f.marks = append(f.marks, int32(len(marks)))
		f.holdPart(f.order[first:], marks, o, r)
	}
}

// holdPart gives the points of a part their roles, but for what is folded.
func (f *fold) holdPart(points []int32, marks []int, o Options, r *Result) {
	if len(marks) == 0 && !o.HoldLoose {
		loose := make([]int, len(points))
		for i, p := range points {
			loose[i] = int(p)
		}
		slices.Sort(loose)
		r.LooseParts = append(r.LooseParts, loose)
		return
	}
	for _, p := range points {
		f.role[p] = junction
	}
	if len(marks) == 0 {
		f.role[points[0]] = fixed
		r.Assumed = append(r.Assumed, int(points[0]))
		return
	}
	slices.Sort(marks)
	if len(points) == 1 {
		r.Untied = append(r.Untied, marks...)
	} else if len(marks) == 1 {
		r.Unproved = append(r.Unproved, marks...)
	}
	for i, p := range marks {
		switch v := f.net.Points[p].Variance; {
		case o.OneMark && i == 0 || !o.OneMark && v == 0:
			f.role[p] = fixed
		case !o.OneMark:
			f.weighted[p] = true
		}
	}
}

// kept reports whether a point is never folded.
func (f *fold) kept(p int32) bool {
	x := &f.net.Points[p]
	return f.role[p] != junction || x.Held || x.Wanted
}

// peel takes off dead ends, the outermost first, and returns how many
// observations each point has left.
func (f *fold) peel() (degree []int32) {
	degree = make([]int32, len(f.net.Points))
	var open []int32
	for p := range int32(len(degree)) {
		degree[p] = f.firstObs[p+1] - f.firstObs[p]
		if degree[p] == 1 && !f.kept(p) {
			open = append(open, p)
		}
	}
	for i := 0; i < len(open); i++ {
		p := open[i]
		f.role[p] = hanging
		f.where[p] = int32(len(f.spurs))
		degree[p] = 0
		for _, obs := range f.observationsAt(p) {
			q, back := f.other(obs, p)
			if f.role[q] == hanging {
				continue // hangs on p
			}
			f.spurs = append(f.spurs, spur{point: p, on: q, observation: obs, back: !back})
			degree[q]--
			if degree[q] == 1 && !f.kept(q) {
				open = append(open, q)
			}
		}
	}
	return degree
}

// walkTies makes the ties: from every point that stays, along each observation
// through change points with two observations, to the next that stays.
func (f *fold) walkTies(degree []int32) error {
	obs := f.net.Observations
	used := make([]bool, len(obs))
	for i := range f.spurs {
		used[f.spurs[i].observation] = true
	}
	f.links = make([]link, 0, len(obs))
	f.ties = make([]tie, 0, len(obs))
	through := func(p int32) bool { return degree[p] == 2 && !f.kept(p) }
	for _, p := range f.order {
		if f.role[p] == hanging || f.role[p] == outside || through(p) {
			continue
		}
		if f.role[p] == junction {
			f.where[p] = int32(len(f.junctions))
			f.junctions = append(f.junctions, p)
		}
		for _, first := range f.observationsAt(p) {
			if used[first] {
				continue
			}
			t := tie{from: p, first: int32(len(f.links))}
			at, o := p, first
			for {
				used[o] = true
				q, back := f.other(o, at)
				f.links = append(f.links, link{o, back, q})
				at = q
				if !through(q) {
					break
				}
				f.role[q], f.where[q] = inner, int32(len(f.ties))
				for _, next := range f.observationsAt(q) {
					if !used[next] {
						o = next
					}
				}
			}
			t.to, t.count = at, int32(len(f.links))-t.first
			if err := f.addUp(&t); err != nil {
				return err
			}
			f.ties = append(f.ties, t)
		}
	}
	for i := range obs { // a run back to its own point shows in no level
		if o := &obs[i]; o.From == o.To && f.role[o.From] != outside {
			f.ties = append(f.ties, tie{from: int32(o.From), to: int32(o.To), first: int32(len(f.links)), count: 1, diff: o.Diff, variance: o.Variance})
			f.links = append(f.links, link{int32(i), false, int32(o.To)})
		}
	}
	return nil
}

func (f *fold) addUp(t *tie) error {
	for _, l := range f.links[t.first : t.first+t.count] {
		d, err := t.diff.Add(f.signed(l.observation, l.back))
		if err != nil {
			return f.net.outOfRange(int(l.observation))
		}
		t.diff = d
		t.variance += f.net.Observations[l.observation].Variance
	}
	return nil
}

// signed is the difference of an observation as it is walked.
func (f *fold) signed(observation int32, back bool) unit.Length {
	d := f.net.Observations[observation].Diff
	if back {
		return -d
	}
	return d
}
