// Package crs places plane grids on the Earth: grid to WGS 84 and back by EPSG
// code, convergence, scale and combined factor at a place, and local site grids
// fitted to control. Numbers in, numbers out.
//
// The parameters are those of the EPSG dataset, taken from PROJ's database by
// gen.py; Version names both. A system is looked up by its code:
//
//	s, err := crs.Lookup("7855")
//	lon, lat, err := s.ToWGS84(easting, northing)
//
// Plane coordinates are always easting, northing, in the unit of the system,
// whatever the order of its axes in the EPSG definition. The few systems that
// count westing and southing (System.Westing, System.Southing) take those as
// they are counted. Longitude and latitude are degrees, in that order.
//
// Between the system's datum and WGS 84 lies a shift. A null shift is a declared
// one that moves nothing, with its metres stated (Shift.Metres). A shift that
// needs a grid file, or is not known, is never left out: ToWGS84 gives the reason
// instead of a place. An approximate one is used when With names it.
//
// Accuracy: on one datum, every supported system is within 0.1 mm of PROJ 9.1.1
// over its area of use, both ways, and nearly all within 1e-5 mm:
// TestEverySystemAgainstPROJ (build tag interop) projects 25 places of the area of
// each, and names the few in which PROJ is the coarser. TestRoundTrip returns
// within 50 nm. Approximate shifts are within 0.1 mm of PROJ's
// (TestEveryHelmertAgainstPROJ); as EPSG defines them they take every place as
// lying on the ellipsoid, which for a shift of 500 m is 0.08 m for 1000 m of
// height, less than any of them is worth. Series are those of the sixth order;
// their sources stand beside them.
//
// Speed (BenchmarkBatch): 3 to 11 million points a second on one core, 8 to 11
// for transverse Mercator and the conformal conic, 4 with an approximate shift.
package crs

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
)

// projection maps radians to metres and back, longitude counted from its central
// meridian, without false origin. NaN is where it cannot.
type projection interface {
	forward(lat, lon float64) (x, y float64)
	inverse(x, y float64) (lat, lon float64)
}

// method is a way to project: from an ellipsoid and the parameters of a row of
// the table (degrees, factors, then from falseAt on the false origin) to the
// projection and the longitude in degrees that it counts from. A projection of
// nil is one whose parameters make no sense.
type method struct {
	code      string
	falseAt   int
	conformal bool
	build     func(l ellipsoid, v []float64) (projection, float64)
}

// methods are the ways this package can do.
var methods = []method{
	{"9807", 3, true, newTransverse},
	{"9808", 3, true, newTransverse},
	{"9801", 3, true, newConic1},
	{"9802", 4, true, newConic2},
	{"9803", 4, true, newConicBelgium},
	{"1051", 4, true, newConicMichigan},
	{"9804", 3, true, newMercatorScale},
	{"9805", 2, true, newMercatorParallel},
	{"9806", 2, false, newCassini},
	{"9809", 3, true, newStereographic},
	{"9810", 3, true, newPolarPole},
	{"9829", 2, true, newPolarParallel},
	{"9812", 5, true, newObliqueNatural},
	{"9815", 5, true, newObliqueCentre},
	{"9820", 2, false, newEqualArea},
	{"9822", 4, false, newAlbers},
	{"9819", 5, true, newKrovak},
	{"1041", 5, true, newKrovak},
}

func methodOf(code string) (method, bool) {
	for _, m := range methods {
		if m.code == code {
			return m, true
		}
	}
	return method{}, false
}

// Unit is the unit of a system's coordinates.
type Unit struct {
	Code   string  // of EPSG, "9003"
	Name   string  // of EPSG, "US survey foot"
	Ratio  string  // metres in one unit, exactly: "0.3048", "1200/3937"
	Metres float64 // the same, rounded to the nearest float64
}

// System is a plane system of the EPSG dataset. It does not change once made,
// and may be used by any number of goroutines.
type System struct {
	Code, Name  string // "7855", "GDA2020 / MGA zone 55"
	Datum       string // "Geocentric Datum of Australia 2020"
	Geographic  string // name of its geographic system, "GDA2020"
	Method      string // "Transverse Mercator"
	Conformal   bool   // one scale in all directions
	Unit        Unit
	Area        Bounds // of use
	Westing     bool   // its first coordinate grows to the west
	Southing    bool   // its second coordinate grows to the south
	NorthFirst  bool   // EPSG lists northing (or southing) before easting
	Deprecated  bool   // EPSG has withdrawn it
	ReplacedBy  string // code of the one to use instead, or ""
	ellipsoid   ellipsoid
	projection  projection
	east, north float64 // false origin, metres
	lon0        float64 // radians from Greenwich
	signE       float64
	signN       float64
	shift       Shift
	shifts      []Shift
	helmert     *helmert // of shift, where it has one
}

// Reasons for which a code gives no system.
var (
	ErrUnknown     = errors.New("not a plane system of the EPSG dataset")
	ErrUnsupported = errors.New("projected in a way that is not provided")
)

var systems sync.Map // code: *System

// Lookup returns the system of an EPSG code: digits, with or without "EPSG:"
// before them. The error wraps ErrUnknown or ErrUnsupported.
func Lookup(code string) (*System, error) {
	code = strings.TrimPrefix(strings.TrimSpace(code), "EPSG:")
	if s, ok := systems.Load(code); ok {
		return s.(*System), nil
	}
	s, err := loaded().system(code)
	if err != nil {
		return nil, err
	}
	kept, _ := systems.LoadOrStore(code, s)
	return kept.(*System), nil
}

func (t *table) system(code string) (*System, error) {
	p, ok := t.planes.of(code)
	if !ok {
		if g, ok := t.geographic.of(code); ok {
			return nil, fmt.Errorf("EPSG:%s (%s) is longitude and latitude, %w; write the code of the grid that the eastings and northings are in", code, g[0], ErrUnknown)
		}
		return nil, fmt.Errorf("EPSG:%s is %w %s; write the code of a plane grid, such as EPSG:7855", code, ErrUnknown, t.version)
	}
	g, c := t.geographic.get(p[0]), t.conversions.get(p[2])
	s := &System{Code: code, Name: p[1], Datum: g[2], Geographic: g[0], Method: t.methods.get(c[0])[0], Area: t.boundsOf(p[3]), Unit: t.unit(p.at(4))}
	if name, ok := strings.CutPrefix(s.Name, "="); ok {
		s.Name = g[0] + " / " + name
	}
	axes := p.at(5)
	s.Westing, s.Southing, s.NorthFirst = strings.Contains(axes, "w"), strings.Contains(axes, "s"), strings.IndexAny(axes+"e", "ew") == 1
	s.ReplacedBy, s.Deprecated = strings.CutPrefix(p.at(6), "d")
	s.ellipsoid = ellipsoidOf(number(g[3]), number(g[4]))
	var v []float64
	var lon float64
	m, ok := methodOf(c[0])
	if ok {
		v = numbers(c[2:])
		s.projection, lon = m.build(s.ellipsoid, v)
	}
	if s.projection == nil {
		instead := "take the coordinates to another grid of the same place first"
		if s.ReplacedBy != "" {
			instead = "EPSG has withdrawn it and put EPSG:" + s.ReplacedBy + " in its place"
		}
		return nil, fmt.Errorf("EPSG:%s (%s) is %w, %s (EPSG method %s) with the parameters it has; %s", code, s.Name, ErrUnsupported, s.Method, c[0], instead)
	}
	s.Conformal = m.conformal
	metres := t.unit(c[1]).Metres
	s.east, s.north = v[m.falseAt]*metres, v[m.falseAt+1]*metres
	s.lon0 = radians(lon + number(g[5]))
	s.signE, s.signN = 1, 1
	if s.Westing {
		s.signE = -1
	}
	if s.Southing {
		s.signN = -1
	}
	s.shifts = t.shiftsOf(g[1], s.Area)
	s.shift = s.choose()
	return s, nil
}

func (t *table) unit(code string) Unit {
	if code == "" {
		code = "9001"
	}
	u := t.units.get(code)
	return Unit{code, u[0], u[1], number(u[1])}
}

func radians(degrees float64) float64 { return degrees * (math.Pi / 180) }

// degrees is the quotient, which is closer than a product with 180/pi.
func degrees(radians float64) float64 { return radians / (math.Pi / 180) }

// wrap returns an angle in radians as one of -pi to pi.
func wrap(a float64) float64 {
	if a > math.Pi || a < -math.Pi {
		a = math.Remainder(a, 2*math.Pi)
	}
	return a
}

// Plane projects a place in degrees on the system's own datum, longitude from
// Greenwich. The coordinates are NaN where the projection does not reach.
func (s *System) Plane(lon, lat float64) (e, n float64) {
	if !(lat >= -90 && lat <= 90) {
		return math.NaN(), math.NaN()
	}
	x, y := s.projection.forward(radians(lat), wrap(radians(lon)-s.lon0))
	return (s.east + s.signE*x) / s.Unit.Metres, (s.north + s.signN*y) / s.Unit.Metres
}

// Earth is the inverse of Plane: degrees on the system's own datum, longitude
// from Greenwich, NaN where there is no such place.
func (s *System) Earth(e, n float64) (lon, lat float64) {
	lat, lon = s.radians(e, n)
	return degrees(lon), degrees(lat)
}

func (s *System) radians(e, n float64) (lat, lon float64) {
	lat, lon = s.projection.inverse(s.signE*(e*s.Unit.Metres-s.east), s.signN*(n*s.Unit.Metres-s.north))
	lon = wrap(lon + s.lon0)
	finite := e-e+n-n == 0
	if !finite || !(lat >= -math.Pi/2 && lat <= math.Pi/2) || math.IsNaN(lon) {
		return math.NaN(), math.NaN()
	}
	return lat, lon
}
