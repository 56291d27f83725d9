package crs

import "math"

// mercator is the normal Mercator projection.
type mercator struct {
	l      ellipsoid
	radius float64
}

// newMercatorScale has a scale at the equator, variant A, whose latitude of
// origin can only be 0.
func newMercatorScale(l ellipsoid, v []float64) (projection, float64) {
	if v[0] != 0 {
		return nil, 0
	}
	return &mercator{l, l.a * v[2]}, v[1]
}

// newMercatorParallel has a parallel at true scale, variant B.
func newMercatorParallel(l ellipsoid, v []float64) (projection, float64) {
	return &mercator{l, l.a * l.parallel(radians(v[0]))}, v[1]
}

func (m *mercator) forward(lat, lon float64) (x, y float64) {
	return m.radius * lon, m.radius * m.l.isometric(lat)
}

func (m *mercator) inverse(x, y float64) (lat, lon float64) {
	return m.l.fromIsometric(y / m.radius), x / m.radius
}

// cassini is the projection of Cassini and Soldner, by the series of EPSG method
// 9806; its inverse is that of the series, to less than a nanometre.
type cassini struct {
	t transverse // for distances along the meridian
}

func newCassini(l ellipsoid, v []float64) (projection, float64) {
	p, lon := newTransverse(l, []float64{v[0], v[1], 1})
	return &cassini{t: *p.(*transverse)}, lon
}

func (p *cassini) forward(lat, lon float64) (x, y float64) {
	l := &p.t.l
	s, c := math.Sincos(lat)
	nu, tan := l.prime(s), s/c
	a, t, cc := lon*c, tan*tan, l.e2/(1-l.e2)*c*c
	a2 := a * a
	x = nu * a * (1 - a2*(t/6+(8-t+8*cc)*t*a2/120))
	y = p.t.radius*(p.t.distance(lat)-p.t.xi0) + nu*tan*a2*(0.5+(5-t+6*cc)*a2/24)
	return x, y
}

func (p *cassini) inverse(x, y float64) (lat, lon float64) {
	lat = y/p.t.radius + p.t.xi0
	for range 30 {
		s, c := math.Sincos(lat)
		fx, fy := p.forward(lat, lon)
		dLat, dLon := (y-fy)/p.t.l.meridian(s), (x-fx)/(p.t.l.prime(s)*c)
		lat, lon = lat+dLat, lon+dLon
		if math.Abs(dLat)+math.Abs(dLon) < 1e-15 {
			break
		}
		if !(math.Abs(lat) < math.Pi/2) {
			return math.NaN(), math.NaN()
		}
	}
	return lat, lon
}
