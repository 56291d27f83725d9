package crs

import "math"

// Series of Krüger in the third flattening n, to its sixth power. The first
// index is the multiple of the angle, the second the power of n, both from 1.
// Source: C. F. F. Karney, Transverse Mercator with an accuracy of a few
// nanometers, Journal of Geodesy 85 (2011), equations 35 and 36, for the
// transverse ones; for the conformal latitude K. E. Engsager and K. Poder, A
// highly accurate world wide algorithm for the transverse Mercator mapping
// (2007). From memory; TestSeries holds the latter against the closed formula
// and the worked examples the former.
var (
	toRectified = [6][6]float64{
		{1. / 2, -2. / 3, 5. / 16, 41. / 180, -127. / 288, 7891. / 37800},
		{0, 13. / 48, -3. / 5, 557. / 1440, 281. / 630, -1983433. / 1935360},
		{0, 0, 61. / 240, -103. / 140, 15061. / 26880, 167603. / 181440},
		{0, 0, 0, 49561. / 161280, -179. / 168, 6601661. / 7257600},
		{0, 0, 0, 0, 34729. / 80640, -3418889. / 1995840},
		{0, 0, 0, 0, 0, 212378941. / 319334400},
	}
	fromRectified = [6][6]float64{
		{-1. / 2, 2. / 3, -37. / 96, 1. / 360, 81. / 512, -96199. / 604800},
		{0, -1. / 48, -1. / 15, 437. / 1440, -46. / 105, 1118711. / 3870720},
		{0, 0, -17. / 480, 37. / 840, 209. / 4480, -5569. / 90720},
		{0, 0, 0, -4397. / 161280, 11. / 504, 830251. / 7257600},
		{0, 0, 0, 0, -4583. / 161280, 108847. / 3991680},
		{0, 0, 0, 0, 0, -20648693. / 638668800},
	}
	toConformal = [6][6]float64{
		{-2, 2. / 3, 4. / 3, -82. / 45, 32. / 45, 4642. / 4725},
		{0, 5. / 3, -16. / 15, -13. / 9, 904. / 315, -1522. / 945},
		{0, 0, -26. / 15, 34. / 21, 8. / 5, -12686. / 2835},
		{0, 0, 0, 1237. / 630, -12. / 5, -24832. / 14175},
		{0, 0, 0, 0, -734. / 315, 109598. / 31185},
		{0, 0, 0, 0, 0, 444337. / 155925},
	}
	fromConformal = [6][6]float64{
		{2, -2. / 3, -2, 116. / 45, 26. / 45, -2854. / 675},
		{0, 7. / 3, -8. / 5, -227. / 45, 2704. / 315, 2323. / 945},
		{0, 0, 56. / 15, -136. / 35, -1262. / 105, 73814. / 2835},
		{0, 0, 0, 4279. / 630, -332. / 35, -399572. / 14175},
		{0, 0, 0, 0, 4174. / 315, -144838. / 6237},
		{0, 0, 0, 0, 0, 601676. / 22275},
	}
)

// series are the coefficients of sin 2x, sin 4x ... sin 12x.
type series [6]float64

func seriesOf(c *[6][6]float64, n float64) (s series) {
	for i := range c {
		for j := len(c[i]) - 1; j >= 0; j-- {
			s[i] = (s[i] + c[i][j]) * n
		}
	}
	return s
}

// at returns the sum of the series, by Clenshaw, from sin 2x and cos 2x.
func (s *series) at(sin2, cos2 float64) float64 {
	u := 2 * cos2
	b5 := s[4] + u*s[5]
	b4 := s[3] + u*b5 - s[5]
	b3 := s[2] + u*b4 - b5
	b2 := s[1] + u*b3 - b4
	return (s[0] + u*b2 - b3) * sin2
}

// ellipsoid is a figure of the Earth with what the projections need of it.
type ellipsoid struct {
	a, f, e, e2 float64 // metres, 1, 1, 1
	conformal   series  // conformal less geodetic latitude
	geodetic    series  // geodetic less conformal latitude
}

// ellipsoidOf makes an ellipsoid of its semi-major axis in metres and its
// inverse flattening, 0 for a sphere.
func ellipsoidOf(a, inverse float64) ellipsoid {
	l := ellipsoid{a: a}
	if inverse != 0 {
		l.f = 1 / inverse
	}
	l.e2 = l.f * (2 - l.f)
	l.e = math.Sqrt(l.e2)
	l.conformal = seriesOf(&toConformal, l.third())
	l.geodetic = seriesOf(&fromConformal, l.third())
	return l
}

// third is the third flattening.
func (l *ellipsoid) third() float64 { return l.f / (2 - l.f) }

// conformalOf returns sine and cosine of the conformal latitude.
func (l *ellipsoid) conformalOf(lat float64) (sin, cos float64) {
	s, c := math.Sincos(lat)
	return math.Sincos(lat + l.conformal.at(2*s*c, c*c-s*s))
}

// latitudeOf returns the geodetic latitude from multiples, by the same positive
// factor, of the sine and cosine of the conformal one.
func (l *ellipsoid) latitudeOf(sin, cos float64) float64 {
	r := sin*sin + cos*cos
	return math.Atan2(sin, cos) + l.geodetic.at(2*sin*cos/r, (cos*cos-sin*sin)/r)
}

// isometric returns the isometric latitude.
func (l *ellipsoid) isometric(lat float64) float64 {
	s, c := l.conformalOf(lat)
	return math.Asinh(s / c)
}

// fromIsometric returns the geodetic latitude of an isometric one.
func (l *ellipsoid) fromIsometric(psi float64) float64 { return l.latitudeOf(math.Sinh(psi), 1) }

// prime returns the radius of curvature in the prime vertical, along the
// meridian the other.
func (l *ellipsoid) prime(sin float64) float64 { return l.a / math.Sqrt(1-l.e2*sin*sin) }

func (l *ellipsoid) meridian(sin float64) float64 {
	w := 1 - l.e2*sin*sin
	return l.a * (1 - l.e2) / (w * math.Sqrt(w))
}

// parallel returns the radius of a parallel, in units of a.
func (l *ellipsoid) parallel(lat float64) float64 {
	s, c := math.Sincos(lat)
	return c / math.Sqrt(1-l.e2*s*s)
}

// authalic returns q, twice the sine of the authalic latitude where that of the
// pole is qp; and its derivative by latitude.
func (l *ellipsoid) authalic(lat float64) (q, dq float64) {
	s, c := math.Sincos(lat)
	w := 1 - l.e2*s*s
	log := s
	if l.e != 0 {
		log = math.Atanh(l.e*s) / l.e
	}
	return (1 - l.e2) * (s/w + log), 2 * (1 - l.e2) * c / (w * w)
}

// fromAuthalic returns the latitude of q, by Newton's rule.
func (l *ellipsoid) fromAuthalic(q float64) float64 {
	qp, _ := l.authalic(math.Pi / 2)
	if math.Abs(q) >= qp {
		if math.Abs(q) > qp*(1+1e-12) {
			return math.NaN()
		}
		return math.Copysign(math.Pi/2, q)
	}
	lat := math.Asin(q / qp)
	for range 8 {
		have, slope := l.authalic(lat)
		step := (q - have) / slope
		lat += step
		if math.Abs(step) < 1e-14 {
			break
		}
	}
	return lat
}
