package mesh

import (
	"cmp"
	"slices"

	"sightrail/formats/unit"
)

// inside reports of every face whether it is a face of the surface: real, and
// inside the rings.
func (t *holder) inside(bounded bool) []bool {
	// the parity of outer rings and voids, walking in from infinity
	const seen = 1
	state := make([]uint8, len(t.edge)/3)
	var pile []int32
	enter := func(f int32, s uint8) {
		if state[f] == 0 {
			state[f] = s | seen
			pile = append(pile, f)
		}
	}
	for f := range int32(len(state)) {
		if t.ghost(3 * f) {
			enter(f, 0)
			break
		}
	}
	for len(pile) > 0 {
		f := pile[len(pile)-1]
		pile = pile[:len(pile)-1]
		for h := 3 * f; h < 3*f+3; h++ {
			bits := 0
			if m := t.edge[h].mark; m != 0 {
				bits = t.holds[m].bits & (byOuter | byVoid)
			}
			enter(t.edge[h].twin/3, state[f]^uint8(bits))
		}
	}
	keep := make([]bool, len(state))
	for f, s := range state {
		keep[f] = !t.ghost(int32(3*f)) && (!bounded || s&byOuter != 0) && s&byVoid == 0
	}
	return keep
}

// trim takes away faces over sides longer than longest, from outside inwards.
// Which ones go does not depend on where it begins. It returns how many, and
// their plan area in m².
func (t *holder) trim(keep []bool, longest unit.Length) (faces int, area float64) {
	limit := square(int64(longest), 0)
	var pile []int32
	for h := range int32(len(t.edge)) {
		if t.ghost(h) {
			pile = append(pile, h)
		}
	}
	var gone []int32
	for len(pile) > 0 {
		h := pile[len(pile)-1]
		pile = pile[:len(pile)-1]
		p, q, m := t.edge[h].org, t.edge[next(h)].org, t.edge[h].mark
		f := t.edge[h].twin / 3
		if p == infinity || q == infinity || !keep[f] || m != 0 && t.holds[m].bits != 0 {
			continue
		}
		if square(int64(t.at[p].E-t.at[q].E), int64(t.at[p].N-t.at[q].N)).compare(limit) <= 0 {
			continue
		}
		keep[f] = false
		gone = append(gone, f)
		pile = append(pile, 3*f, 3*f+1, 3*f+2)
	}
	slices.Sort(gone) // so that the area is summed in one order
	var a sum
	for _, f := range gone {
		a.add(t.twice(f).float() / 2)
	}
	return len(gone), a.value() / squareMetre
}

// twice is twice the plan area of a face.
func (t *build) twice(f int32) uint128 {
	p, q, r := t.at[t.edge[3*f].org], t.at[t.edge[3*f+1].org], t.at[t.edge[3*f+2].org]
	return cross(int64(q.E-p.E), int64(q.N-p.N), int64(r.E-p.E), int64(r.N-p.N)).abs()
}

// write puts the faces that are kept into the numbers of the input.
func (m *Mesh) write(in *Input, t *holder, point []int32, keep []bool) {
	m.Vertices = append(make([]Vertex, 0, len(in.Points)+len(t.added)), in.Points...)
	name := slices.Clone(point)
	for _, c := range t.added {
		name = append(name, int32(len(m.Vertices)))
		m.Vertices = append(m.Vertices, c.Vertex)
	}
	used := make([]bool, len(m.Vertices))
	faces := 0
	for _, k := range keep {
		if k {
			faces++
		}
	}
	m.Faces = make([][3]int32, 0, faces)
	for f, k := range keep {
		if !k {
			continue
		}
		var face [3]int32
		for i := range face {
			h := int32(3*f + i)
			face[i] = name[t.edge[h].org]
			used[face[i]] = true
			// from the one side, or from the only one
			if twin := t.edge[h].twin; t.edge[h].mark != 0 && (h < twin || !keep[twin/3]) {
				a, b := name[t.edge[h].org], name[t.edge[twin].org]
				m.Sides = append(m.Sides, [2]int32{min(a, b), max(a, b)})
			}
		}
		m.Faces = append(m.Faces, face)
	}
	for _, c := range t.added {
		if used[name[c.vertex]] {
			m.Added = append(m.Added, c)
		}
	}
	slices.SortFunc(m.Sides, func(a, b [2]int32) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	for _, p := range t.passed {
		if v := name[p.vertex]; used[v] {
			m.Passed = append(m.Passed, Passing{v, p.ends, p.line})
		}
	}
	slices.SortFunc(m.Passed, func(a, b Passing) int {
		return cmp.Or(cmp.Compare(a.Vertex, b.Vertex), slices.Compare(a.Ends[:], b.Ends[:]))
	})
	merged := m.Merged[:0]
	for _, p := range m.Merged {
		if used[p.Into] {
			used[p.Point] = true
			merged = append(merged, p)
		}
	}
	m.Merged = merged
	slices.SortFunc(m.Merged, func(a, b Merged) int { return cmp.Compare(a.Point, b.Point) })
	for p := range in.Points {
		if !used[p] {
			m.Outside = append(m.Outside, int32(p))
		}
	}
}
