package crs

import "math"

// stereographic is the oblique stereographic projection by way of the conformal
// sphere; EPSG method 9809.
type stereographic struct {
	l          ellipsoid
	n, half    float64 // sphere's isometric latitude is n psi + half
	r2         float64 // twice the radius of the sphere, times the scale
	sin0, cos0 float64
}

func newStereographic(l ellipsoid, v []float64) (projection, float64) {
	lat := radians(v[0])
	s, c := math.Sincos(lat)
	p := &stereographic{l: l, n: math.Sqrt(1 + l.e2*c*c*c*c/(1-l.e2))}
	p.r2 = 2 * v[2] * math.Sqrt(l.prime(s)*l.meridian(s))
	p.sin0 = s / p.n
	p.cos0 = math.Sqrt(1 - p.sin0*p.sin0)
	p.half = math.Atanh(p.sin0) - p.n*l.isometric(lat)
	return p, v[1]
}

func (p *stereographic) forward(lat, lon float64) (x, y float64) {
	psi := p.n*p.l.isometric(lat) + p.half
	s, c := math.Tanh(psi), 1/math.Cosh(psi)
	sl, cl := math.Sincos(p.n * lon)
	k := p.r2 / (1 + s*p.sin0 + c*p.cos0*cl)
	return k * c * sl, k * (s*p.cos0 - c*p.sin0*cl)
}

func (p *stereographic) inverse(x, y float64) (lat, lon float64) {
	h := (x*x + y*y) / (p.r2 * p.r2) // square of the tangent of half the angle
	s, c := (p.sin0*(1-h)+2*y/p.r2*p.cos0)/(1+h), (p.cos0*(1-h)-2*y/p.r2*p.sin0)/(1+h)
	return p.l.fromIsometric((math.Atanh(s) - p.half) / p.n), math.Atan2(2*x/p.r2/(1+h), c) / p.n
}

// polar is the polar stereographic projection.
type polar struct {
	l     ellipsoid
	sign  float64 // -1 at the south pole
	scale float64 // radius is scale times exp(-psi), metres
}

// newPolarPole has a scale at the pole, variant A.
func newPolarPole(l ellipsoid, v []float64) (projection, float64) {
	e := l.e
	return &polar{l, math.Copysign(1, v[0]), 2 * l.a * v[2] / math.Sqrt(math.Pow(1+e, 1+e)*math.Pow(1-e, 1-e))}, v[1]
}

// newPolarParallel has a parallel at true scale, variant B.
func newPolarParallel(l ellipsoid, v []float64) (projection, float64) {
	sign := math.Copysign(1, v[0])
	lat := radians(v[0]) * sign
	return &polar{l, sign, l.a * l.parallel(lat) * math.Exp(l.isometric(lat))}, v[1]
}

func (p *polar) forward(lat, lon float64) (x, y float64) {
	r := p.scale * math.Exp(-p.l.isometric(p.sign*lat))
	s, c := math.Sincos(lon)
	return r * s, -p.sign * r * c
}

func (p *polar) inverse(x, y float64) (lat, lon float64) {
	return p.sign * p.l.fromIsometric(-math.Log(math.Hypot(x, y)/p.scale)), math.Atan2(x, -p.sign*y)
}

// equalArea is the azimuthal equal-area projection of Lambert.
type equalArea struct {
	l          ellipsoid
	qp, rq, d  float64
	sin0, cos0 float64
}

func newEqualArea(l ellipsoid, v []float64) (projection, float64) {
	lat := radians(v[0])
	p := &equalArea{l: l, d: 1}
	p.qp, _ = l.authalic(math.Pi / 2)
	p.rq = l.a * math.Sqrt(p.qp/2)
	q, _ := l.authalic(lat)
	p.sin0 = q / p.qp
	p.cos0 = math.Sqrt(max(0, 1-p.sin0*p.sin0))
	if math.Abs(v[0]) < 90 {
		p.d = l.a * l.parallel(lat) / (p.rq * p.cos0)
	} else {
		p.sin0, p.cos0 = math.Copysign(1, v[0]), 0
	}
	return p, v[1]
}

func (p *equalArea) forward(lat, lon float64) (x, y float64) {
	q, _ := p.l.authalic(lat)
	s := max(-1, min(1, q/p.qp))
	c := math.Sqrt(1 - s*s)
	sl, cl := math.Sincos(lon)
	b := p.rq * math.Sqrt(2/(1+p.sin0*s+p.cos0*c*cl))
	return b * p.d * c * sl, b / p.d * (p.cos0*s - p.sin0*c*cl)
}

func (p *equalArea) inverse(x, y float64) (lat, lon float64) {
	x, y = x/p.d, y*p.d
	rho := math.Hypot(x, y)
	if rho == 0 {
		return p.l.fromAuthalic(p.qp * p.sin0), 0
	}
	s, c := math.Sincos(2 * math.Asin(rho/(2*p.rq)))
	sin := c*p.sin0 + y*s*p.cos0/rho
	return p.l.fromAuthalic(p.qp * sin), math.Atan2(x*s, rho*p.cos0*c-y*p.sin0*s)
}
