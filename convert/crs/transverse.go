package crs

import "math"

// transverse is the transverse Mercator projection by the series of Krüger,
// nanometres within 45 degrees of its central meridian.
type transverse struct {
	l         ellipsoid
	radius    float64 // of the rectifying sphere, times the scale
	xi0       float64
	fwd, back series
}

// farthest is how far from its central meridian a place may be, as the
// transverse isometric angle: 45 degrees at the equator are 0.88.
const farthest = 0.9

// newTransverse has a latitude of origin and a scale on the central meridian. Two
// systems that EPSG withdrew have that in millionths by mistake.
func newTransverse(l ellipsoid, v []float64) (projection, float64) {
	if !(v[2] > 0.5 && v[2] < 2) {
		return nil, 0
	}
	n := l.third()
	t := &transverse{l: l, fwd: seriesOf(&toRectified, n), back: seriesOf(&fromRectified, n)}
	t.radius = v[2] * rectifying(&l)
	t.xi0 = t.distance(radians(v[0]))
	return t, v[1]
}

// rectifying is the radius of the sphere whose meridian is as long as that of
// the ellipsoid.
func rectifying(l *ellipsoid) float64 {
	n := l.third()
	n2 := n * n
	return l.a / (1 + n) * (1 + n2/4*(1+n2/16*(1+n2/4)))
}

// distance is the rectifying latitude: the distance along the meridian over the
// radius of the rectifying sphere.
func (t *transverse) distance(lat float64) float64 {
	s, c := t.l.conformalOf(lat)
	return math.Atan2(s, c) + t.fwd.at(2*s*c, c*c-s*s)
}

func (t *transverse) forward(lat, lon float64) (x, y float64) {
	s, c := t.l.conformalOf(lat)
	sl, cl := math.Sincos(lon)
	p, q := c*cl, c*sl
	h2 := s*s + p*p
	h := math.Sqrt(h2)
	eta := math.Asinh(q / h)
	if cl < 0 || !(eta < farthest && eta > -farthest) {
		return math.NaN(), math.NaN()
	}
	dx, dy := t.fwd.atComplex(2*s*p/h2, (p*p-s*s)/h2, 2*q/h2, (1+q*q)/h2)
	return t.radius * (eta + dx), t.radius * (math.Atan2(s, p) + dy - t.xi0)
}

func (t *transverse) inverse(x, y float64) (lat, lon float64) {
	xi, eta := y/t.radius+t.xi0, x/t.radius
	if !(eta < farthest+0.01 && eta > -farthest-0.01 && xi < math.Pi && xi > -math.Pi) {
		return math.NaN(), math.NaN()
	}
	s, c := math.Sincos(2 * xi)
	grow := math.Expm1(2 * eta)
	shrink := grow / (1 + grow) // 1 - exp(-2 eta)
	dEta, dXi := t.back.atComplex(s, c, (grow+shrink)/2, 1+(grow-shrink)/2)
	xi += dXi
	eta += dEta
	s, c = math.Sincos(xi)
	sh := math.Sinh(eta)
	return t.l.latitudeOf(s, math.Sqrt(sh*sh+c*c)), math.Atan2(sh, c)
}

// atComplex returns the sum of the series at xi + i eta, imaginary part first,
// from the functions of the doubled parts.
func (s *series) atComplex(sin2, cos2, sinh2, cosh2 float64) (im, re float64) {
	ur, ui := 2*cos2*cosh2, -2*sin2*sinh2
	var b1r, b1i, b2r, b2i float64
	for k := len(s) - 1; k >= 0; k-- {
		b1r, b1i, b2r, b2i = s[k]+ur*b1r-ui*b1i-b2r, ur*b1i+ui*b1r-b2i, b1r, b1i
	}
	sr, si := sin2*cosh2, cos2*sinh2
	return sr*b1i + si*b1r, sr*b1r - si*b1i
}
