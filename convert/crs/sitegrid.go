package crs

import (
	"errors"
	"fmt"
	"math"

	"sightrail/formats/unit"
)

// Control is a point that is known on the site and in the declared grid.
type Control struct {
	Name          string
	X, Y          float64 // easting and northing of the site grid, metres
	E, N          float64 // of the declared grid, metres
	Levelled      bool
	Level, Height unit.Length // of the site, and of the height datum of the grid
}

// Vertical says what is fitted to levels.
type Vertical uint8

// What may be fitted to levels.
const (
	LevelsAsTheyAre Vertical = iota
	LevelShift
	LevelShiftAndTilt
)

// Options say what is fitted, and how good control is known to be.
type Options struct {
	Scale    float64 // held at this factor from site to grid; 0 fits it
	Vertical Vertical
	Plan     float64 // standard deviation of one coordinate difference, metres; 0: from the residuals
	Levels   float64 // of one level difference, metres; 0: from the residuals
}

// rounding is the least standard deviation that is believed of coordinates that
// are written to the millimetre, in metres.
const rounding = 0.0003

// SiteGrid takes coordinates of a site to the declared grid:
//
//	E = A x - B y + E0        H = h + shift + TiltE (x - x0) + TiltN (y - y0)
//	N = B x + A y + N0
//
// with x0, y0 the middle of the levelled control.
type SiteGrid struct {
	A, B, E0, N0 float64
	Scale        float64 // grid metres in a metre of the site
	Rotation     float64 // radians anticlockwise from site to grid
	ScaleSD      float64 // standard deviation of a fitted scale; 0 without check
	Fitted       bool    // Scale was fitted, not held
	TiltE, TiltN float64 // metres in a metre

	Residuals []Residual // in the order of the control
	PlanSD    float64    // of a coordinate difference, from the residuals, metres; 0 without check
	LevelSD   float64
	PlanDoF   int // degrees of freedom; 0: no check at all
	LevelDoF  int
	PlanTest  Test
	LevelTest Test
	Foot      *FootSlip // where the control shows one

	xm, ym, em, nm float64 // middle of the control
	a, b           float64
	x0, y0         float64
	shift          unit.Length
	known          bool // Plan deviation was given
	spread         float64
}

// Residual is what is left at a point: transformed minus known, metres.
type Residual struct {
	Name        string
	East, North float64
	Level       float64
	Levelled    bool
}

// ErrControl is wrapped by every error of control that cannot be fitted.
var ErrControl = errors.New("the control cannot be fitted")

// FitSite fits a site grid to its control by least squares, all points with
// equal weight: at least two points apart; for a tilt three levelled ones that
// are not in line.
func FitSite(points []Control, o Options) (*SiteGrid, error) {
	if len(points) < 2 {
		return nil, fmt.Errorf("%w: %s, and a site grid needs at least 2; three or more also check it", ErrControl, counted(len(points)))
	}
	if !(o.Scale >= 0) || math.IsInf(o.Scale, 0) {
		return nil, fmt.Errorf("%w: a scale of %g is none; hold 1 or the combined factor, or fit it", ErrControl, o.Scale)
	}
	g := &SiteGrid{Fitted: o.Scale == 0, known: o.Plan > 0}
	count := float64(len(points))
	for _, p := range points {
		if math.IsNaN(p.X+p.Y+p.E+p.N) || math.IsInf(p.X+p.Y+p.E+p.N, 0) {
			return nil, fmt.Errorf("%w: %s has no coordinates in one of its frames", ErrControl, p.Name)
		}
		g.xm, g.ym, g.em, g.nm = g.xm+p.X/count, g.ym+p.Y/count, g.em+p.E/count, g.nm+p.N/count
	}
	var sum, dot, cross float64
	for _, p := range points {
		x, y, e, n := p.X-g.xm, p.Y-g.ym, p.E-g.em, p.N-g.nm
		sum, dot, cross = sum+x*x+y*y, dot+x*e+y*n, cross+x*n-y*e
	}
	if !(math.Sqrt(sum/count) > 0.01) || !(math.Hypot(dot, cross) > 0) {
		return nil, fmt.Errorf("%w: its points are all at one place, so that there is no direction; use points as far apart as the site", ErrControl)
	}
	g.a, g.b, g.spread = dot/sum, cross/sum, math.Sqrt(sum)
	if !g.Fitted {
		k := o.Scale / math.Hypot(g.a, g.b)
		g.a, g.b = g.a*k, g.b*k
	}
	g.A, g.B = g.a, g.b
	g.E0, g.N0 = g.em-g.a*g.xm+g.b*g.ym, g.nm-g.b*g.xm-g.a*g.ym
	g.Scale, g.Rotation = math.Hypot(g.a, g.b), math.Atan2(g.b, g.a)
	for _, p := range points {
		e, n := g.ToGrid(p.X, p.Y)
		g.Residuals = append(g.Residuals, Residual{Name: p.Name, East: e - p.E, North: n - p.N, Levelled: p.Levelled && o.Vertical != LevelsAsTheyAre})
	}
	g.testPlan(points, o.Plan)
	if err := g.fitLevels(points, o); err != nil {
		return nil, err
	}
	if slip, ok := WrongFoot(points); ok {
		g.Foot = &slip
	}
	return g, nil
}

// ToGrid takes site coordinates to the declared grid, metres.
func (g *SiteGrid) ToGrid(x, y float64) (e, n float64) {
	x, y = x-g.xm, y-g.ym
	return g.em + g.a*x - g.b*y, g.nm + g.b*x + g.a*y
}

// FromGrid is the inverse of ToGrid.
func (g *SiteGrid) FromGrid(e, n float64) (x, y float64) {
	e, n = e-g.em, n-g.nm
	k := g.a*g.a + g.b*g.b
	return g.xm + (g.a*e+g.b*n)/k, g.ym + (g.a*n-g.b*e)/k
}

// LevelShift returns what is added to a site level at a place of the site to
// make it one of the grid's height datum. Without tilt it is the same
// everywhere, and rounded once, to one count.
func (g *SiteGrid) LevelShift(x, y float64) (unit.Length, error) {
	if g.TiltE == 0 && g.TiltN == 0 {
		return g.shift, nil
	}
	tilt, err := unit.FromMetres(g.TiltE*(x-g.x0) + g.TiltN*(y-g.y0))
	if err != nil {
		return 0, err
	}
	return g.shift.Add(tilt)
}

// fitLevels fits the shift, and the tilt where it is asked for.
func (g *SiteGrid) fitLevels(points []Control, o Options) error {
	if o.Vertical == LevelsAsTheyAre {
		return nil
	}
	var at []int
	var total unit.Length
	for i, p := range points {
		if !p.Levelled {
			continue
		}
		d, err := p.Height.Add(-p.Level)
		if err == nil {
			total, err = total.Add(d)
		}
		if err != nil {
			return fmt.Errorf("%w: level of %s: %w", ErrControl, p.Name, err)
		}
		at = append(at, i)
		g.x0, g.y0 = g.x0+p.X, g.y0+p.Y
	}
	need := map[Vertical]int{LevelShift: 1, LevelShiftAndTilt: 3}[o.Vertical]
	if len(at) < need {
		return fmt.Errorf("%w: %d levelled points, and the fit of levels needs at least %d", ErrControl, len(at), need)
	}
	count := float64(len(at))
	g.x0, g.y0 = g.x0/count, g.y0/count
	g.shift = unit.MulDiv(total, 1, unit.Length(len(at)))
	rest := func(p Control) float64 { return (p.Height - p.Level - g.shift).Metres() }
	var xx, xy, yy, xd, yd float64
	for _, i := range at {
		p := points[i]
		x, y, d := p.X-g.x0, p.Y-g.y0, rest(p)
		xx, xy, yy, xd, yd = xx+x*x, xy+x*y, yy+y*y, xd+x*d, yd+y*d
	}
	q := func(Control) float64 { return 1 - 1/count }
	if o.Vertical == LevelShiftAndTilt {
		det := xx*yy - xy*xy
		if !(det > 1e-6*(xx+yy)*(xx+yy)) {
			return fmt.Errorf("%w: its levelled points are in line, so that a tilt across the line cannot be told; level a point off it, or fit the shift alone", ErrControl)
		}
		g.TiltE, g.TiltN = (yy*xd-xy*yd)/det, (xx*yd-xy*xd)/det
		q = func(p Control) float64 {
			x, y := p.X-g.x0, p.Y-g.y0
			return 1 - 1/count - (yy*x*x-2*xy*x*y+xx*y*y)/det
		}
	}
	g.LevelDoF = len(at) - need
	var of []leftover
	for _, i := range at {
		p := points[i]
		v := g.TiltE*(p.X-g.x0) + g.TiltN*(p.Y-g.y0) - rest(p)
		g.Residuals[i].Level = v
		of = append(of, leftover{name: p.Name, square: v * v, part: [2]float64{v, 0}, weight: [2]float64{q(p), 0}})
	}
	g.LevelSD, g.LevelTest = test(of, g.LevelDoF, o.Levels, "level")
	return nil
}

// testPlan judges the residuals in plan. Those of a fitted scale are alike in
// all directions; with the scale held a point is the freer along its radius.
func (g *SiteGrid) testPlan(points []Control, sd float64) {
	count := float64(len(points))
	g.PlanDoF = 2*len(points) - 4
	if !g.Fitted {
		g.PlanDoF++
	}
	var of []leftover
	for i, p := range points {
		x, y := p.X-g.xm, p.Y-g.ym
		r := math.Hypot(x, y)
		ux, uy := 1.0, 0.0 // along the radius, in the grid
		if r > 0 {
			ux, uy = (g.a*x-g.b*y)/(r*g.Scale), (g.b*x+g.a*y)/(r*g.Scale)
		}
		v := g.Residuals[i]
		along, across := v.East*ux+v.North*uy, v.North*ux-v.East*uy
		turn := r * r / (g.spread * g.spread)
		w := [2]float64{1 - 1/count, 1 - 1/count - turn}
		if g.Fitted {
			w[0] = w[1]
		}
		of = append(of, leftover{name: p.Name, square: along*along + across*across, part: [2]float64{along, across}, weight: w})
	}
	g.PlanSD, g.PlanTest = test(of, g.PlanDoF, sd, "plan")
	if g.Fitted && (sd > 0 || g.PlanDoF > 0) {
		g.ScaleSD = max(sd, rounding) / g.spread
		if sd == 0 {
			g.ScaleSD = max(g.PlanSD, rounding) / g.spread
		}
	}
}
