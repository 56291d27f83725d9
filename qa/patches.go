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
	"sightrail/qa/limits"
)

// Patch is failing neighbours of one check, all high or all low: a chain of shots
// of which each is within the spacing of the next. Along a pipe they also follow
// each other, with no shot that passes between.
type Patch struct {
	Check    int
	Quantity Quantity
	High     bool
	Line     string   // "pipe P12", "run R1", "point F12"; "" = in plan
	Day      job.Date // of the survey
	Number   string   // in the register
	Lots     string
	Points   int
	// Outline is the hull of the shots, counter-clockwise from its least easting;
	// the two ends of shots in a line; one shot. Along a pipe and by chainage E is
	// the distance and N the offset.
	Outline       []convert.Place
	Length, Width unit.Length // the greatest length and the least width of the outline
	Area          float64     // of the outline, m²
	Mean          unit.Length // of the differences, rounded once
	HasMean       bool
	Worst         Row     // the shot that is furthest beyond its limit
	Volume        float64 // to design, m³
	VolumeBy      string  // how it was worked out; "" = there is none

	shots []*failing
}

// Alone reports whether the patch is a result without neighbours, such as the
// grade of a pipe.
func (p *Patch) Alone() bool { return strings.HasPrefix(p.Line, alone) }

// alone begins the line of results that no other can join.
const alone = "point "

// failing is a shot out of tolerance, also one that is superseded by now.
type failing struct {
	key    patchKey
	at     convert.Place
	day    job.Date
	until  job.Date // the day from which it is superseded; "" = not at all
	row    *Row
	diff   unit.Length
	beyond unit.Length
	action string
	has    bool // diff
	mark   *Trace
}

// patchKey is what shots of one patch have in common.
type patchKey struct {
	check    int
	quantity Quantity
	high     bool
	line     string
}

// keyOf says among what a row has its neighbours, and where it lies there.
func keyOf(r *Row, beyond unit.Length) (patchKey, convert.Place) {
	k := patchKey{check: r.Check, quantity: r.Quantity, high: beyond > 0}
	s := &r.Shot
	switch {
	case r.Quantity == QuantityGrade:
		k.line = alone + r.Pipe
	case r.OnPipe:
		k.line = "pipe " + r.Pipe
		return k, convert.Place{E: r.Along}
	case s.Placed && inReach(s.Place):
		return k, s.Place
	case s.Chained && !s.Placed:
		k.line = "run " + s.Run
		return k, convert.Place{E: s.Chainage, N: s.Offset}
	default:
		k.line = alone + s.ID
	}
	return k, convert.Place{}
}

// inReach reports whether differences of the place fit into a Length.
func inReach(p convert.Place) bool {
	return p.E.Abs() <= unit.MaxLength/2 && p.N.Abs() <= unit.MaxLength/2
}

// failingOf takes a row that fails, or a superseded one that failed.
func failingOf(r *Row, day job.Date) *failing {
	f := &failing{row: r, day: day, diff: r.Diff, beyond: r.Beyond, action: r.Action, has: r.Compared && !r.Graded()}
	if t := r.Trace; r.Shot.Use == convert.Superseded && t != nil {
		f.until, f.diff, f.beyond, f.action, f.has = t.until, t.Diff, t.Beyond, t.Action, t.Compared
	}
	f.key, f.at = keyOf(r, f.beyond)
	return f
}

// patchesOf makes the patches of failing shots of one day. The order of the shots
// does not matter.
func patchesOf(shots []*failing, passes map[patchKey][]unit.Length, spacing unit.Length) []*Patch {
	byKey := map[patchKey][]*failing{}
	for _, f := range shots {
		byKey[f.key] = append(byKey[f.key], f)
	}
	var out []*Patch
	for k, group := range byKey {
		slices.SortFunc(group, inOrder)
		at := make([]convert.Place, len(group))
		for i, f := range group {
			at[i] = f.at
		}
		var of []int
		if strings.HasPrefix(k.line, "pipe ") {
			side := k
			side.high = false
			of = joinAlong(at, passes[side], spacing)
		} else {
			of = joinWithin(at, spacing)
		}
		members := map[int][]*failing{}
		for i, root := range of {
			members[root] = append(members[root], group[i])
		}
		for _, m := range members {
			out = append(out, newPatch(k, m))
		}
	}
	slices.SortFunc(out, func(a, b *Patch) int {
		return cmp.Or(cmp.Compare(a.Check, b.Check), cmp.Compare(a.Quantity, b.Quantity), -cmp.Compare(side(a.High), side(b.High)), cmp.Compare(a.Line, b.Line), inOrder(a.shots[0], b.shots[0]))
	})
	return out
}

func side(high bool) int {
	if high {
		return 1
	}
	return 0
}

// inOrder sorts shots by place and name, so that the order of the files does not
// show.
func inOrder(a, b *failing) int {
	p, q := a.row.Shot.Pos, b.row.Shot.Pos
	return cmp.Or(cmp.Compare(a.at.E, b.at.E), cmp.Compare(a.at.N, b.at.N), cmp.Compare(a.row.Shot.ID, b.row.Shot.ID), cmp.Compare(a.diff, b.diff),
		cmp.Compare(p.File, q.File), cmp.Compare(p.Part, q.Part), cmp.Compare(p.Row, q.Row))
}

// joinAlong joins shots along a pipe, sorted, that follow each other within the
// spacing; passes are where shots pass, sorted.
func joinAlong(at []convert.Place, passes []unit.Length, spacing unit.Length) []int {
	of := make([]int, len(at))
	for i := 1; i < len(at); i++ {
		of[i] = i
		// the first pass beyond the shot before, and whether it is short of this one
		k, exact := slices.BinarySearch(passes, at[i-1].E)
		for exact && k < len(passes) && passes[k] == at[i-1].E {
			k++
		}
		if (k == len(passes) || passes[k] >= at[i].E) && !further(square(at[i-1], at[i]), spacing) {
			of[i] = of[i-1]
		}
	}
	return of
}

// joinWithin joins places that are within the spacing of each other, exactly, and
// through others (single linkage). It returns the least index of the group of
// each. Two places in one cell of half the spacing are always joined.
func joinWithin(at []convert.Place, spacing unit.Length) []int {
	root := make([]int, len(at))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	join := func(i, j int) {
		i, j = find(i), find(j)
		root[max(i, j)] = min(i, j)
	}
	size := int64(spacing/2 + spacing%2)
	type cell struct{ e, n int64 }
	cells := map[cell][]int{}
	var order []cell
	for i, p := range at {
		c := cell{floorDiv(int64(p.E), size), floorDiv(int64(p.N), size)}
		if cells[c] == nil {
			order = append(order, c)
		} else {
			join(cells[c][0], i)
		}
		cells[c] = append(cells[c], i)
	}
	for _, c := range order {
		for e := c.e - 2; e <= c.e+2; e++ {
			for n := c.n - 2; n <= c.n+2; n++ {
				if e > c.e || e == c.e && n > c.n {
					meet(at, cells[c], cells[cell{e, n}], spacing, find, join)
				}
			}
		}
	}
	for i := range root {
		root[i] = find(i)
	}
	return root
}

// meet joins the shots of two cells when any two of them are near enough.
func meet(at []convert.Place, a, b []int, spacing unit.Length, find func(int) int, join func(int, int)) {
	if len(a) == 0 || len(b) == 0 || find(a[0]) == find(b[0]) {
		return
	}
	for _, i := range a {
		for _, j := range b {
			if !further(square(at[i], at[j]), spacing) {
				join(i, j)
				return
			}
		}
	}
}

// newPatch sums up shots that are in order.
func newPatch(k patchKey, shots []*failing) *Patch {
	p := &Patch{Check: k.check, Quantity: k.quantity, High: k.high, Line: k.line, Day: shots[0].day, Points: len(shots), shots: shots}
	sum, has := new(big.Int), 0
	worst := shots[0]
	places := make([]convert.Place, len(shots))
	lots := map[string]bool{}
	for i, f := range shots {
		places[i] = f.at
		if f.beyond.Abs() > worst.beyond.Abs() {
			worst = f
		}
		if f.has {
			has++
			sum.Add(sum, big.NewInt(int64(f.diff)))
		}
		if l := f.row.Shot.Lot; l != "" && !lots[l] {
			lots[l] = true
		}
	}
	p.Worst = *worst.row
	p.Worst.Diff, p.Worst.Beyond, p.Worst.Action, p.Worst.Compared = worst.diff, worst.beyond, worst.action, worst.has
	names := make([]string, 0, len(lots))
	for l := range lots {
		names = append(names, l)
	}
	slices.Sort(names)
	p.Lots = strings.Join(names, "; ")
	if p.HasMean = has == len(shots); p.HasMean {
		p.Mean = meanOf(sum, has)
	}
	p.Outline = hull(places)
	p.Length, p.Width = spans(p.Outline)
	p.Area = areaOf(p.Outline)
	p.volume()
	return p
}

// meanOf is sum / n, rounded half away from zero.
func meanOf(sum *big.Int, n int) unit.Length {
	num := new(big.Int).Lsh(new(big.Int).Abs(sum), 1)
	num.Add(num, big.NewInt(int64(n)))
	num.Quo(num, big.NewInt(2*int64(n)))
	if sum.Sign() < 0 {
		num.Neg(num)
	}
	return unit.Length(num.Int64())
}

// volume works the volume between the failing shots and design out, for results
// that lie over an area.
func (p *Patch) volume() {
	if p.Line != "" || !p.HasMean || p.Quantity != QuantityLevel && p.Quantity != QuantityThickness || p.Area == 0 {
		return
	}
	in := mesh.Input{}
	mixed := false
	for _, f := range p.shots {
		in.Points = append(in.Points, mesh.Vertex{E: f.at.E, N: f.at.N, Z: f.diff})
		mixed = mixed || f.diff.Sign()*p.Mean.Sign() < 0
	}
	m, err := mesh.Triangulate(in)
	if err != nil {
		p.Volume = p.Area * p.Mean.Abs().Metres()
		p.VolumeBy = "area × mean, because two of its shots at one place differ"
		return
	}
	six := new(big.Int)
	for _, f := range m.Faces {
		a, b, c := m.Vertices[f[0]], m.Vertices[f[1]], m.Vertices[f[2]]
		t := cross(convert.Place{E: a.E, N: a.N}, convert.Place{E: b.E, N: b.N}, convert.Place{E: c.E, N: c.N})
		z := new(big.Int).Add(big.NewInt(int64(a.Z)), big.NewInt(int64(b.Z)))
		six.Add(six, t.Mul(t.Abs(t), z.Add(z, big.NewInt(int64(c.Z)))))
	}
	metre := big.NewInt(int64(unit.Metre))
	den := new(big.Int).Mul(metre, metre)
	den.Mul(den, metre).Mul(den, big.NewInt(6))
	p.Volume, _ = new(big.Rat).SetFrac(six.Abs(six), den).Float64()
	p.VolumeBy = "triangles between its shots"
	if mixed {
		p.VolumeBy += ", what is above design less what is below"
	}
}

// cross is twice the area of a triangle, + when it turns left.
func cross(a, b, c convert.Place) *big.Int {
	x := new(big.Int).Mul(big.NewInt(int64(b.E-a.E)), big.NewInt(int64(c.N-a.N)))
	return x.Sub(x, new(big.Int).Mul(big.NewInt(int64(b.N-a.N)), big.NewInt(int64(c.E-a.E))))
}

func turn(a, b, c convert.Place) int {
	return unit.CompareProducts(b.E-a.E, c.N-a.N, b.N-a.N, c.E-a.E)
}

// hull is the convex hull of places that are sorted by E, then N: without corners
// in a line, counter-clockwise from the first.
func hull(sorted []convert.Place) []convert.Place {
	pts := slices.Compact(slices.Clone(sorted))
	if len(pts) < 3 {
		return pts
	}
	half := func(list []convert.Place) []convert.Place {
		var h []convert.Place
		for _, p := range list {
			for len(h) > 1 && turn(h[len(h)-2], h[len(h)-1], p) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, p)
		}
		return h[:len(h)-1]
	}
	lower := half(pts)
	slices.Reverse(pts)
	return append(lower, half(pts)...)
}

// spans are the greatest length and the least width of a hull, each rounded down
// to one count: by the pairs of corners between two parallel lines that close in
// on it.
func spans(h []convert.Place) (length, width unit.Length) {
	n := len(h)
	if n < 2 {
		return 0, 0
	}
	if n == 2 {
		return rootOf(square(h[0], h[1])), 0
	}
	var far [2]uint64
	var thin *big.Rat
	k := 1
	for i := range h {
		a, b := h[i], h[(i+1)%n]
		for unit.CompareProducts(b.E-a.E, h[(k+1)%n].N-h[k].N, b.N-a.N, h[(k+1)%n].E-h[k].E) > 0 {
			k = (k + 1) % n
		}
		for _, p := range []convert.Place{a, b} {
			for _, q := range []convert.Place{h[k], h[(k+1)%n]} {
				if d := square(p, q); compare128(d, far) > 0 {
					far = d
				}
			}
		}
		c := cross(a, b, h[k])
		if w := new(big.Rat).SetFrac(c.Mul(c, c), big128(square(a, b))); thin == nil || w.Cmp(thin) < 0 {
			thin = w
		}
	}
	w := new(big.Int).Quo(thin.Num(), thin.Denom())
	return rootOf(far), unit.Length(w.Sqrt(w).Int64())
}

func big128(v [2]uint64) *big.Int {
	x := new(big.Int).SetUint64(v[0])
	return x.Or(x.Lsh(x, 64), new(big.Int).SetUint64(v[1]))
}

func rootOf(v [2]uint64) unit.Length {
	x := big128(v)
	return unit.Length(min(x.Sqrt(x).Uint64(), uint64(unit.MaxLength)))
}

// areaOf is the area of a hull in m².
func areaOf(h []convert.Place) float64 {
	two := new(big.Int)
	for i := 2; i < len(h); i++ {
		two.Add(two, cross(h[0], h[i-1], h[i]))
	}
	metre := big.NewInt(int64(unit.Metre))
	den := new(big.Int).Mul(metre, metre)
	a, _ := new(big.Rat).SetFrac(two, den.Mul(den, big.NewInt(2))).Float64()
	return a
}

// Side says on which side of its limits a patch is.
func (p *Patch) Side() string {
	if p.High {
		return "high"
	}
	return "low"
}

// Extent says how large the patch is, in the unit of the job.
func (p *Patch) Extent(f *convert.Frame) string {
	u := f.Unit
	l := func(x unit.Length) string { return x.Fixed(u, 1) + " " + u.Name }
	at := func(x unit.Length) string { return x.Fixed(u, 3) }
	switch {
	case p.Alone():
		return strings.TrimPrefix(p.Line, alone) + " as a whole"
	case p.Line != "" && len(p.Outline) == 1:
		return fmt.Sprintf("%s at %s", p.Line, at(p.Outline[0].E))
	case p.Line != "":
		lo, hi := p.Outline[0].E, p.Outline[0].E
		for _, c := range p.Outline {
			lo, hi = min(lo, c.E), max(hi, c.E)
		}
		return fmt.Sprintf("%s from %s to %s, %s long", p.Line, at(lo), at(hi), l(hi-lo))
	case len(p.Outline) == 1:
		return "one place"
	case p.Width == 0:
		return l(p.Length) + " long, in a line"
	}
	return l(p.Length) + " by " + l(p.Width)
}

// Need says what brings the patch to design, in millimetres.
func (p *Patch) Need() string {
	worst := p.Worst.Action
	if p.Points == 1 || !p.HasMean || worst == "" {
		return worst
	}
	mean := limits.PipeAction(p.Mean)
	if p.Line == "" && p.Quantity == QuantityLevel || strings.HasPrefix(worst, "cut ") || strings.HasPrefix(worst, "fill ") {
		mean = limits.SurfaceAction(p.Mean)
	}
	word, n, _ := strings.Cut(worst, " ")
	m, mm, _ := strings.Cut(mean, " ")
	if m != word {
		return worst + " at the worst shot"
	}
	return fmt.Sprintf("%s %s on average, %s at the worst shot", word, mm, n)
}

// WorstWords name the worst shot and its difference.
func (p *Patch) WorstWords() string {
	w := &p.Worst
	name := cmp.Or(w.Shot.ID, "a shot without name")
	if w.Graded() {
		_, built := w.GradeWords()
		return name + ": " + built
	}
	if !w.Compared {
		return name
	}
	return name + ": " + w.Limits.Printed(w.Diff) + " mm"
}
