package crs

import "math"

// oblique is the oblique Mercator projection of Hotine; formulas of IOGP
// Publication 373-7-2 (EPSG methods 9812 and 9815), with the isometric latitude
// in place of its exponential.
type oblique struct {
	l          ellipsoid
	a, b       float64 // metres, 1
	logH       float64
	sin0, cos0 float64 // of the angle at the natural origin
	sinC, cosC float64 // of the rectified angle
	lonBase    float64 // longitude of the natural origin less that of the centre
	uc         float64 // metres
}

// newObliqueNatural counts from the natural origin, variant A.
func newObliqueNatural(l ellipsoid, v []float64) (projection, float64) {
	p, lon := newObliqueCentre(l, v)
	p.(*oblique).uc = 0
	return p, lon
}

// newObliqueCentre counts from the centre of projection, variant B.
func newObliqueCentre(l ellipsoid, v []float64) (projection, float64) {
	lat, azimuth, rectified := radians(v[0]), radians(v[2]), radians(v[3])
	s, c := math.Sincos(lat)
	p := &oblique{l: l, b: math.Sqrt(1 + l.e2*c*c*c*c/(1-l.e2))}
	p.a = l.a * p.b * v[4] * math.Sqrt(1-l.e2) / (1 - l.e2*s*s)
	d := max(1, p.b*math.Sqrt(1-l.e2)/(c*math.Sqrt(1-l.e2*s*s)))
	root := math.Sqrt(d*d - 1)
	f := d + math.Copysign(root, lat)
	p.logH = math.Log(f) - p.b*l.isometric(lat) // t^B = exp(-B psi)
	g := (f - 1/f) / 2
	p.sin0 = math.Sin(azimuth) / d
	p.cos0 = math.Sqrt(1 - p.sin0*p.sin0)
	p.sinC, p.cosC = math.Sincos(rectified)
	// sin(B dl) = G tan(gamma0), without loss where that is 1
	sa, ca := math.Sincos(azimuth)
	p.lonBase = math.Copysign(math.Atan2(root*sa, d*math.Abs(ca))/p.b, -g*sa)
	p.uc = math.Copysign(p.a/p.b*math.Atan2(root, ca), lat)
	return p, v[1]
}

func (p *oblique) forward(lat, lon float64) (x, y float64) {
	q := math.Exp(p.logH + p.b*p.l.isometric(lat)) // H over t^B
	s, t := (q-1/q)/2, (q+1/q)/2
	sl, cl := math.Sincos(p.b * wrap(lon-p.lonBase))
	along := s*p.cos0 + sl*p.sin0
	across := (s*p.sin0 - sl*p.cos0) / t
	v := -p.a / p.b * math.Atanh(across) // p.a/2b log((1-U)/(1+U))
	u := p.a/p.b*math.Atan2(along, cl) - p.uc
	return v*p.cosC + u*p.sinC, u*p.cosC - v*p.sinC
}

func (p *oblique) inverse(x, y float64) (lat, lon float64) {
	v := x*p.cosC - y*p.sinC
	u := y*p.cosC + x*p.sinC + p.uc
	q := math.Exp(-p.b * v / p.a)
	s, t := (q-1/q)/2, (q+1/q)/2
	su, cu := math.Sincos(p.b * u / p.a)
	across := (su*p.cos0 + s*p.sin0) / t
	psi := (math.Atanh(across) - p.logH) / p.b
	return p.l.fromIsometric(psi), wrap(p.lonBase - math.Atan2(s*p.cos0-su*p.sin0, cu)/p.b)
}

// krovak is the oblique conformal conic projection of Krovak, southing and
// westing turned to north and east; EPSG methods 9819 and 1041.
type krovak struct {
	l          ellipsoid
	b, logT    float64
	sinA, cosA float64 // co-latitude of the cone axis
	n, logR    float64
}

func newKrovak(l ellipsoid, v []float64) (projection, float64) {
	lat, colatitude, pseudo := radians(v[0]), radians(v[2]), radians(v[3])
	s, c := math.Sincos(lat)
	k := &krovak{l: l, b: math.Sqrt(1 + l.e2*c*c*c*c/(1-l.e2)), n: math.Sin(pseudo)}
	k.logT = math.Asinh(math.Tan(math.Asin(s/k.b))) - k.b*l.isometric(lat)
	k.sinA, k.cosA = math.Sincos(colatitude)
	a := l.a * math.Sqrt(1-l.e2) / (1 - l.e2*s*s)
	k.logR = math.Log(v[4]*a/math.Tan(pseudo)) + k.n*math.Asinh(math.Tan(pseudo))
	return k, v[1]
}

func (k *krovak) forward(lat, lon float64) (x, y float64) {
	psi := k.b*k.l.isometric(lat) + k.logT
	sinU, cosU := math.Tanh(psi), 1/math.Cosh(psi)
	sinV, cosV := math.Sincos(-k.b * lon)
	// the cone's own latitude and longitude
	sinT := k.cosA*sinU + k.sinA*cosU*cosV
	across, along := cosU*sinV, k.cosA*cosU*cosV-k.sinA*sinU
	d := math.Atan2(across, along)
	r := math.Exp(k.logR - k.n*math.Atanh(sinT))
	s, c := math.Sincos(k.n * d)
	return -r * s, -r * c
}

func (k *krovak) inverse(x, y float64) (lat, lon float64) {
	r := math.Hypot(x, y)
	d := math.Atan2(-x, -y) / k.n
	t := (k.logR - math.Log(r)) / k.n
	sinT, cosT := math.Tanh(t), 1/math.Cosh(t)
	sd, cd := math.Sincos(d)
	sinU := k.cosA*sinT - k.sinA*cosT*cd
	across, along := cosT*sd, k.sinA*sinT+k.cosA*cosT*cd
	return k.l.fromIsometric((math.Atanh(sinU) - k.logT) / k.b), -math.Atan2(across, along) / k.b
}
