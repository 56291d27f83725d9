package crs

import "math"

// conic is the Lambert conformal conic projection.
type conic struct {
	l    ellipsoid
	n    float64 // ratio of angles
	aF   float64 // metres
	r0   float64 // metres, of the false origin
	turn float64 // radians, of the Belgian variant
}

func (c *conic) radius(lat float64) float64 { return c.aF * math.Exp(-c.n*c.l.isometric(lat)) }

// newConic1 has the latitude of its true origin and a scale there.
func newConic1(l ellipsoid, v []float64) (projection, float64) {
	lat := radians(v[0])
	c := &conic{l: l, n: math.Sin(lat)}
	c.aF = v[2] * l.a * l.parallel(lat) * math.Exp(c.n*l.isometric(lat)) / c.n
	c.r0 = c.radius(lat)
	return c, v[1]
}

// newConic2 has two parallels at true scale, and a false origin.
func newConic2(l ellipsoid, v []float64) (projection, float64) {
	lat1, lat2 := radians(v[2]), radians(v[3])
	m1, psi1 := l.parallel(lat1), l.isometric(lat1)
	c := &conic{l: l, n: math.Sin(lat1)}
	if lat1 != lat2 {
		c.n = math.Log(m1/l.parallel(lat2)) / (l.isometric(lat2) - psi1)
	}
	c.aF = l.a * m1 * math.Exp(c.n*psi1) / c.n
	c.r0 = c.radius(radians(v[0]))
	return c, v[1]
}

// newConicMichigan has an ellipsoid that is scaled up to the height of the land.
func newConicMichigan(l ellipsoid, v []float64) (projection, float64) {
	l.a *= v[6]
	return newConic2(l, v)
}

// newConicBelgium is turned by 29.2985 seconds.
func newConicBelgium(l ellipsoid, v []float64) (projection, float64) {
	p, lon := newConic2(l, v)
	p.(*conic).turn = radians(29.2985 / 3600)
	return p, lon
}

func (c *conic) forward(lat, lon float64) (x, y float64) {
	r := c.radius(lat)
	s, cos := math.Sincos(c.n*lon - c.turn)
	return r * s, c.r0 - r*cos
}

func (c *conic) inverse(x, y float64) (lat, lon float64) {
	sign := math.Copysign(1, c.n)
	dx, dy := sign*x, sign*(c.r0-y)
	r := sign * math.Sqrt(dx*dx+dy*dy)
	return c.l.fromIsometric(-math.Log(r/c.aF) / c.n), (math.Atan2(dx, dy) + c.turn) / c.n
}

// albers is the equal-area conic projection of Albers.
type albers struct {
	l        ellipsoid
	n, c, r0 float64
}

func newAlbers(l ellipsoid, v []float64) (projection, float64) {
	lat1, lat2 := radians(v[2]), radians(v[3])
	m1, m2 := l.parallel(lat1), l.parallel(lat2)
	q1, _ := l.authalic(lat1)
	q2, _ := l.authalic(lat2)
	p := &albers{l: l, n: math.Sin(lat1)}
	if lat1 != lat2 {
		p.n = (m1*m1 - m2*m2) / (q2 - q1)
	}
	p.c = m1*m1 + p.n*q1
	q0, _ := l.authalic(radians(v[0]))
	p.r0 = p.radius(q0)
	return p, v[1]
}

func (p *albers) radius(q float64) float64 { return p.l.a * math.Sqrt(p.c-p.n*q) / p.n }

func (p *albers) forward(lat, lon float64) (x, y float64) {
	q, _ := p.l.authalic(lat)
	r := p.radius(q)
	s, c := math.Sincos(p.n * lon)
	return r * s, p.r0 - r*c
}

func (p *albers) inverse(x, y float64) (lat, lon float64) {
	sign := math.Copysign(1, p.n)
	dx, dy := sign*x, sign*(p.r0-y)
	r := math.Hypot(dx, dy) * p.n / p.l.a
	return p.l.fromAuthalic((p.c - r*r) / p.n), math.Atan2(dx, dy) / p.n
}
