package crs

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Kind says what lies between a datum and WGS 84.
type Kind uint8

// Kinds of shift.
const (
	Unknown Kind = iota // EPSG lists none
	Same                // the datum is WGS 84
	Null                // declared to move nothing, within its metres
	Helmert             // three, seven or ten parameters: approximate, on request
	Grid                // a file of shifts, which is not read here
	Stated              // declared by the user to move nothing, within his metres
)

var kinds = [...]string{"unknown shift", "none", "null shift", "approximate shift", "shift by a grid file", "null shift stated by the user"}

// String names the kind.
func (k Kind) String() string { return kinds[k] }

// Shift is what lies between a datum and WGS 84.
type Shift struct {
	Kind   Kind
	Code   string  // of the EPSG operation, "1314"; two joined by "+"
	Name   string  // of the operation, "OSGB36 to WGS 84 (6)"
	Metres float64 // its accuracy
	Known  bool    // the accuracy is stated
	Area   Bounds  // where it holds
	File   string  // the grid file, of a Grid
	Old    bool    // EPSG has a newer one that takes its place
	values []float64
}

// Usable reports whether a place can be had by the shift.
func (s Shift) Usable() bool { return s.Kind != Unknown && s.Kind != Grid }

// String prints the shift as a report shows it: what, by which operation, and
// within how many metres.
func (s Shift) String() string {
	switch s.Kind {
	case Unknown:
		return s.Kind.String()
	case Same:
		return "none: the grid is on WGS 84"
	case Stated:
		return fmt.Sprintf("%s, within %s", s.Kind, s.within())
	}
	return fmt.Sprintf("%s %s (EPSG:%s), within %s", s.Kind, s.Name, s.Code, s.within())
}

func (s Shift) within() string {
	if !s.Known {
		return "an accuracy that is not stated"
	}
	return strconv.FormatFloat(s.Metres, 'f', -1, 64) + " m"
}

const wgs84Datum = "6326"

var wgs84 = ellipsoidOf(6378137, 298.257223563)

// shiftsOf lists the shifts of a datum that hold somewhere in an area, those of
// the whole area first, then the more accurate, old ones last.
func (t *table) shiftsOf(datum string, area Bounds) []Shift {
	if datum == wgs84Datum {
		return []Shift{{Kind: Same, Known: true, Area: world}}
	}
	var list []Shift
	for r := range t.shifts.all(datum) {
		s := Shift{Code: r[1], Name: r[2], Area: t.boundsOf(r.at(4))}
		if !s.Area.meet(area) {
			continue
		}
		if m := r.at(3); m != "" {
			s.Metres, s.Known = number(m), true
		}
		kind, old := strings.CutSuffix(r[0], "o")
		s.Old = old
		switch kind {
		case "n":
			s.Kind = Null
		case "h":
			s.Kind, s.values = Helmert, numbers(r[5:])
		default:
			s.Kind, s.File = Grid, r.at(5)
		}
		list = append(list, s)
	}
	slices.SortStableFunc(list, func(a, b Shift) int {
		return cmp.Or(yesLast(a.Old, b.Old), -yesLast(area.within(a.Area), area.within(b.Area)), cmp.Compare(a.rank(), b.rank()))
	})
	return list
}

func yesLast(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// rank is the accuracy, with what is not stated behind everything.
func (s Shift) rank() float64 {
	if !s.Known {
		return math.Inf(1)
	}
	return s.Metres
}

// choose returns the shift that is used unless another is named: none, a null
// one, or the one whose absence has to be told.
func (s *System) choose() Shift {
	for _, kind := range []Kind{Same, Null, Grid, Helmert} {
		if i := slices.IndexFunc(s.shifts, func(x Shift) bool { return x.Kind == kind }); i >= 0 {
			return s.shifts[i]
		}
	}
	return Shift{}
}

// Shift returns the shift to WGS 84 in use. Unless With or State has named
// another it is none, or a null one, or one that cannot be used: then Reason
// tells why.
func (s *System) Shift() Shift { return s.shift }

// Shifts lists the shifts to WGS 84 that EPSG has for the area of the system,
// those that hold in all of it first, then the more accurate, and last those
// that a newer one has replaced.
func (s *System) Shifts() []Shift { return slices.Clone(s.shifts) }

// Reason says why the system has no place on WGS 84 until an approximate shift
// is named, and which there are; "" where it has one.
func (s *System) Reason() string {
	if s.helmert != nil || s.shift.Kind == Same || s.shift.Kind == Null || s.shift.Kind == Stated {
		return ""
	}
	at := "EPSG:" + s.Code + " (" + s.Name + ")"
	var why string
	switch s.shift.Kind {
	case Grid:
		why = fmt.Sprintf("%s is on %s; its shift to WGS 84 needs the grid file %s (EPSG:%s), which is not read here", at, s.Geographic, s.shift.File, s.shift.Code)
	case Helmert:
		why = fmt.Sprintf("%s is on %s; its shifts to WGS 84 are approximate", at, s.Geographic)
	default:
		return fmt.Sprintf("%s is on %s, from which the EPSG dataset has no shift to WGS 84; say within how many metres the two are the same, or write points in the grid's own coordinates", at, s.Geographic)
	}
	var names []string
	for _, x := range s.shifts {
		if x.Kind == Helmert {
			names = append(names, fmt.Sprintf("EPSG:%s (%s, within %s)", x.Code, x.Name, x.within()))
		}
	}
	if len(names) == 0 {
		return why + "; write points in the grid's own coordinates"
	}
	if n := len(names); n > 3 {
		names = append(names[:3], fmt.Sprintf("%d more", n-3))
	}
	return why + "; name the one to use: " + strings.Join(names, ", ")
}

// With returns the system with the shift of an EPSG operation in use, which must
// be one of Shifts and no grid file.
func (s *System) With(operation string) (*System, error) {
	operation = strings.TrimPrefix(strings.TrimSpace(operation), "EPSG:")
	for _, x := range s.shifts {
		if x.Code != operation {
			continue
		}
		if !x.Usable() {
			return nil, fmt.Errorf("the shift EPSG:%s (%s) needs the grid file %s, which is not read here; name an approximate one", x.Code, x.Name, x.File)
		}
		c := *s
		c.shift = x
		c.helmert = nil
		if x.Kind == Helmert {
			c.helmert = newHelmert(&s.ellipsoid, x.values)
		}
		return &c, nil
	}
	return nil, fmt.Errorf("EPSG:%s is not a shift from %s to WGS 84 that holds in the area of EPSG:%s (%s); name one of EPSG's for it", operation, s.Geographic, s.Code, s.Name)
}

// State returns the system with its datum taken for WGS 84 on the user's word,
// within metres. It is for datums from which EPSG has no shift.
func (s *System) State(metres float64) (*System, error) {
	if s.shift.Kind != Unknown {
		return nil, fmt.Errorf("EPSG:%s (%s) has shifts to WGS 84 in the EPSG dataset; name one of them instead of stating that there is none", s.Code, s.Name)
	}
	if !(metres > 0 && metres <= 1000) {
		return nil, fmt.Errorf("%g m is not an accuracy of a shift; state more than 0 and at most 1000 m", metres)
	}
	c := *s
	c.shift = Shift{Kind: Stated, Metres: metres, Known: true, Area: world}
	return &c, nil
}

// helmert moves places of one ellipsoid to WGS 84 by a linear map of geocentric
// coordinates, as IOGP Publication 373-7-2 has it for EPSG methods 9603, 9606,
// 9607, 9636 and 1063.
type helmert struct {
	from    *ellipsoid
	m, back [3][3]float64
	t       [3]float64 // target = m source + t
}

// newHelmert takes translations in metres, rotations of a position vector in
// seconds, parts per million, and the place that is turned about in metres.
func newHelmert(from *ellipsoid, v []float64) *helmert {
	var p [10]float64
	copy(p[:], v)
	rx, ry, rz, k := radians(p[3]/3600), radians(p[4]/3600), radians(p[5]/3600), 1+p[6]*1e-6
	h := &helmert{from: from}
	h.m = [3][3]float64{{k, -k * rz, k * ry}, {k * rz, k, -k * rx}, {-k * ry, k * rx, k}}
	h.back = invert(h.m)
	pivot := [3]float64{p[7], p[8], p[9]}
	turned := times(&h.m, pivot)
	for i := range h.t {
		h.t[i] = p[i] + pivot[i] - turned[i]
	}
	return h
}

func times(m *[3][3]float64, v [3]float64) (r [3]float64) {
	for i := range r {
		r[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return r
}

// invert inverts a matrix that is close to unity, by its cofactors.
func invert(m [3][3]float64) (r [3][3]float64) {
	det := 0.0
	for i := range 3 {
		for j := range 3 {
			a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
			r[j][i] = m[a][c]*m[b][d] - m[a][d]*m[b][c]
		}
		det += m[0][i] * r[i][0]
	}
	for i := range 3 {
		for j := range 3 {
			r[i][j] /= det
		}
	}
	return r
}

// toWGS84 takes radians at height 0.
func (h *helmert) toWGS84(lat, lon float64) (float64, float64) {
	v := times(&h.m, h.from.geocentric(lat, lon, 0))
	for i := range v {
		v[i] += h.t[i]
	}
	lat, lon, _ = wgs84.geodeticOf(v)
	return lat, lon
}

// fromWGS84 is the inverse: the place at the height that gives height 0.
func (h *helmert) fromWGS84(lat, lon float64) (float64, float64) {
	height := 0.0
	var sLat, sLon float64
	for range 6 {
		v := wgs84.geocentric(lat, lon, height)
		for i := range v {
			v[i] -= h.t[i]
		}
		var up float64
		sLat, sLon, up = h.from.geodeticOf(times(&h.back, v))
		height -= up
		if math.Abs(up) < 1e-7 {
			break
		}
	}
	return sLat, sLon
}

func (l *ellipsoid) geocentric(lat, lon, height float64) [3]float64 {
	s, c := math.Sincos(lat)
	sl, cl := math.Sincos(lon)
	nu := l.prime(s)
	return [3]float64{(nu + height) * c * cl, (nu + height) * c * sl, (nu*(1-l.e2) + height) * s}
}

// geodeticOf returns radians and metres, by the rule of Bowring: below 1e-11
// radians within 10 km of the ellipsoid.
func (l *ellipsoid) geodeticOf(v [3]float64) (lat, lon, height float64) {
	p := math.Hypot(v[0], v[1])
	b := l.a * (1 - l.f)
	ss, cs := v[2]*l.a, p*b
	r := math.Hypot(ss, cs)
	ss, cs = ss/r, cs/r
	y, x := v[2]+l.e2/(1-l.e2)*b*ss*ss*ss, p-l.e2*l.a*cs*cs*cs
	r = math.Hypot(x, y)
	s, c := y/r, x/r
	return math.Atan2(y, x), math.Atan2(v[1], v[0]), p*c + v[2]*s - l.a*math.Sqrt(1-l.e2*s*s)
}

// NullShifts lists every null shift of the table, with its metres.
func NullShifts() []Shift {
	t := loaded()
	seen := map[string]Shift{}
	for datum := range t.shifts.codes() {
		for _, s := range t.shiftsOf(datum, world) {
			if s.Kind == Null {
				seen[s.Code] = s
			}
		}
	}
	list := slices.Collect(maps.Values(seen))
	slices.SortFunc(list, func(a, b Shift) int {
		return cmp.Or(cmp.Compare(len(a.Code), len(b.Code)), cmp.Compare(a.Code, b.Code))
	})
	return list
}
