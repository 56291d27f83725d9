package report

import (
	"fmt"

	"sightrail/convert"
	"sightrail/qa"
)

// planPatch is a nonconformance on the plan.
type planPatch struct {
	xy     []float64 // e, n, e, n
	number string
	closed bool // by the register
	line   bool // along a pipe
}

// patchesDrawn is how many outlines a plan shows at most.
const patchesDrawn = 500

// takePatches gathers the outlines of the nonconformances of the check: those in
// plan from the register, those along a pipe from this run.
func (v *planView) takePatches() {
	g := v.check.res.Register
	if g == nil {
		return
	}
	done := map[string]bool{}
	add := func(places []convert.Place, p planPatch) {
		if len(v.patches) == patchesDrawn || len(places) == 0 {
			return
		}
		for _, q := range places {
			e, n := v.check.units(q)
			p.xy = append(p.xy, e, n)
		}
		v.patches = append(v.patches, p)
	}
	for _, e := range g.Entries {
		n := e.Text(qa.ColNumber)
		done[n] = !e.Open()
		if i, ok := e.Check(); !ok || i != v.check.index {
			continue
		}
		for k, f := range e.InPlan() {
			p := planPatch{number: n, closed: !e.Open()}
			if k > 0 {
				p.number = "" // lettered once
			}
			add(f.Outline, p)
		}
	}
	for _, p := range g.Patches {
		if p.Check == v.check.index && p.Line != "" {
			add(p.Places(), planPatch{number: p.Number, closed: done[p.Number], line: true})
		}
	}
}

func (p *planPatch) class() string {
	c := "patch"
	if p.closed {
		c += " done"
	}
	if p.line {
		c += " line"
	}
	return c
}

// drawPatches lays the outlines under the shots, wide enough to take the marks in.
func (v *planView) drawPatches(cv *canvas, x, y func(float64) float64) {
	for i := range v.patches {
		p := &v.patches[i]
		var xy []float64
		for k := 0; k+1 < len(p.xy); k += 2 {
			xy = append(xy, x(p.xy[k]), y(p.xy[k+1]))
		}
		if len(xy) == 2 { // a stroke without length is a round dot
			xy = append(xy, xy[0]+0.1, xy[1])
		}
		cv.path(p.class(), !p.line, xy...)
	}
}

// namePatches letters the numbers at the northernmost corner, where there is room.
func (v *planView) namePatches(cv *canvas, frame box, x, y func(float64) float64) {
	seen := map[string]bool{}
	for i := range v.patches {
		p := &v.patches[i]
		if p.number == "" || seen[p.number] {
			continue
		}
		e, n := p.xy[0], p.xy[1]
		for k := 2; k+1 < len(p.xy); k += 2 {
			if p.xy[k+1] > n {
				e, n = p.xy[k], p.xy[k+1]
			}
		}
		if px, py := x(e), y(n)-8; frame.has(px, py) && cv.label("lab", px, py, short(p.number)) {
			seen[p.number] = true
		}
	}
}

func (v *planView) patchKeys() (keys []key) {
	open, closed := map[string]bool{}, map[string]bool{}
	for i := range v.patches {
		if p := &v.patches[i]; p.number != "" && p.closed {
			closed[p.number] = true
		} else if p.number != "" {
			open[p.number] = true
		}
	}
	if n := len(open); n > 0 {
		keys = append(keys, key{line: "patch", text: fmt.Sprintf("nonconformance, open (%d)", n)})
	}
	if n := len(closed); n > 0 {
		keys = append(keys, key{line: "patch done", text: fmt.Sprintf("nonconformance, closed (%d)", n)})
	}
	return keys
}
