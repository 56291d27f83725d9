// Package flow works out what a round pipe carries: running full and partly full,
// at one slope along its whole length (uniform flow), by Manning or by
// Colebrook-White. Numbers in, numbers out, float64, in metres and seconds but for
// a Manning of feet.
//
// Accuracy: velocities and flows of a given depth to 1e-13 relative, depths that
// are searched for to 1e-12 of the bore. How true the formulas are of water is
// another matter: their roughness is known to a few percent at best.
package flow

import (
	"errors"
	"fmt"
	"math"
)

// Gravity is the standard acceleration, m/s²: 9.80665, ISO 80000-3.
const Gravity = 9.80665

// Constants of Manning's formula, V = K/n · R^(2/3) · S^(1/2): 1 in metres, and in
// feet the cube root of 3.2808, which is printed as 1.486.
const (
	Metres = 1
	Feet   = 1.486
)

// Law gives the mean velocity of uniform flow.
type Law interface {
	// Velocity is that in a section of hydraulic radius r at slope s, a fall over a
	// length; 0 where r or s is not above 0, and where the law knows of no flow.
	Velocity(r, s float64) float64
}

// Manning is Manning's formula with its roughness N; K is Metres or Feet.
type Manning struct{ N, K float64 }

// Velocity implements Law.
func (m Manning) Velocity(r, s float64) float64 {
	if !(r > 0) || !(s > 0) || !(m.N > 0) {
		return 0
	}
	return m.K / m.N * math.Pow(r, 2.0/3) * math.Sqrt(s)
}

// Slope is the slope at which a section of hydraulic radius r runs at velocity v.
func (m Manning) Slope(v, r float64) float64 {
	x := v * m.N / (m.K * math.Pow(r, 2.0/3))
	return x * x
}

// ColebrookWhite is the formula of Colebrook and White, with a section that is not
// full taken as a pipe of four times its hydraulic radius. Ks is the roughness and
// Nu the kinematic viscosity, m and m²/s; G is the acceleration of gravity, m/s².
type ColebrookWhite struct{ Ks, Nu, G float64 }

// Velocity implements Law. The formula is one of turbulent flow.
func (c ColebrookWhite) Velocity(r, s float64) float64 {
	if !(r > 0) || !(s > 0) {
		return 0
	}
	d := 4 * r
	root := math.Sqrt(2 * c.G * d * s)
	return max(0, -2*root*math.Log10(c.Ks/(3.7*d)+2.51*c.Nu/(d*root)))
}

// Section is the wetted part of a round pipe.
type Section struct {
	Depth, Area, Perimeter float64
	Radius                 float64 // hydraulic: Area over Perimeter; 0 when dry
	Width                  float64 // of the surface; 0 when dry or full
}

// Round is the section of a pipe of bore d filled to depth y, which is held between
// 0 and d.
func Round(d, y float64) Section {
	y = min(max(y, 0), d)
	// half the angle that the surface is seen under from the centre of the pipe
	half := math.Acos(min(max(1-2*y/d, -1), 1))
	s := Section{Depth: y, Area: d * d / 4 * (half - math.Sin(half)*math.Cos(half)), Perimeter: d * half, Width: d * math.Sin(half)}
	if s.Perimeter > 0 {
		s.Radius = s.Area / s.Perimeter
	}
	if y == 0 || y == d {
		s.Width = 0
	}
	return s
}

// At is the velocity and the flow of a pipe of bore d at slope s, filled to depth y.
func At(l Law, d, y, s float64) (v, q float64) {
	section := Round(d, y)
	v = l.Velocity(section.Radius, s)
	return v, v * section.Area
}

// Full is the velocity and the flow of a pipe that runs full.
func Full(l Law, d, s float64) (v, q float64) { return At(l, d, d, s) }

// Most is the largest flow of a pipe, and the depth it has: a round pipe carries
// more just before it is full.
func Most(l Law, d, s float64) (y, q float64) {
	lo, hi := d/2, d
	for range 200 {
		a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
		_, qa := At(l, d, a, s)
		_, qb := At(l, d, b, s)
		if qa < qb {
			lo = a
		} else {
			hi = b
		}
	}
	y = (lo + hi) / 2
	_, q = At(l, d, y, s)
	return y, q
}

// ErrTooMuch is returned for a flow that a pipe cannot carry.
var ErrTooMuch = errors.New("the pipe cannot carry it with a free surface")

// Depth is the depth at which a pipe carries the flow q. Where two do, near full
// bore, it is the lower one.
func Depth(l Law, d, s, q float64) (float64, error) {
	if !(q >= 0) || !(d > 0) {
		return 0, fmt.Errorf("a flow of %g in a bore of %g is none", q, d)
	}
	if q == 0 {
		return 0, nil
	}
	top, most := Most(l, d, s)
	if q > most {
		return 0, ErrTooMuch
	}
	return search(top, func(y float64) bool { _, at := At(l, d, y, s); return at >= q }), nil
}

// Critical is the depth at which the flow q has the least energy: q² · width = g ·
// area³. A pipe has one below full for every flow.
func Critical(d, q, g float64) float64 {
	if !(q > 0) {
		return 0
	}
	return search(d, func(y float64) bool {
		s := Round(d, y)
		return g*s.Area*s.Area*s.Area >= q*q*s.Width
	})
}

// search finds where reached turns true between 0 and top, by halving.
func search(top float64, reached func(float64) bool) float64 {
	lo, hi := 0.0, top
	for range 60 {
		if mid := (lo + hi) / 2; reached(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}
