package crs

import (
	"fmt"
	"math"
)

// Factors are what a grid does to lengths and directions at a place.
type Factors struct {
	Convergence float64 // radians: bearing of grid north from true north, clockwise
	Scale       float64 // grid length over length on the ellipsoid, along a parallel
	ScaleNorth  float64 // the same along a meridian; equal to Scale on a conformal grid
	Radius      float64 // mean radius of the ellipsoid, metres
}

// Factors returns the factors at coordinates in the unit of the system, from
// differences of the projection over 4, 2, -2 and -4 km: scales within 1e-11,
// the convergence within 1e-11 radians. East and north are the directions of the map, also where
// the system counts westing and southing.
func (s *System) Factors(e, n float64) (Factors, error) {
	lat, lon := s.radians(e, n)
	if !(math.Abs(lat) < radians(89.9)) {
		return Factors{}, &PlaceError{Outcome: NoPlace, System: s, E: e, N: n, Lon: math.NaN(), Lat: math.NaN()}
	}
	step := min(3e-4, (math.Pi/2-math.Abs(lat))/4)
	lon = wrap(lon - s.lon0)
	difference := func(dLat, dLon float64) (x, y float64) {
		for _, k := range [4][2]float64{{1, 8}, {-1, -8}, {2, -1}, {-2, 1}} {
			px, py := s.projection.forward(lat+k[0]*dLat, lon+k[0]*dLon)
			x, y = x+k[1]*px, y+k[1]*py
		}
		return x / (12 * step), y / (12 * step)
	}
	nx, ny := difference(step, 0)
	ex, ey := difference(0, step)
	sin, cos := math.Sincos(lat)
	nu, rho := s.ellipsoid.prime(sin), s.ellipsoid.meridian(sin)
	f := Factors{
		Convergence: -math.Atan2(nx, ny),
		Scale:       math.Hypot(ex, ey) / (nu * cos),
		ScaleNorth:  math.Hypot(nx, ny) / rho,
		Radius:      math.Sqrt(nu * rho),
	}
	if math.IsNaN(f.Scale + f.ScaleNorth) {
		return Factors{}, &PlaceError{Outcome: NoPlace, System: s, E: e, N: n, Lon: math.NaN(), Lat: math.NaN()}
	}
	return f, nil
}

// Elevation is the factor by which a length at a height above the ellipsoid, in
// metres, becomes one on it.
func (f Factors) Elevation(height float64) float64 { return f.Radius / (f.Radius + height) }

// Combined returns the combined factor at coordinates in the unit of the system
// and a height above the ellipsoid in metres: what a length on the ground is to
// be multiplied by to be one of the grid. A level above the sea is not a height
// above the ellipsoid: the two differ by up to 100 m, which is 16 ppm of the
// factor. A grid that is not conformal has no combined factor.
func (s *System) Combined(e, n, height float64) (float64, error) {
	if !s.Conformal {
		return 0, fmt.Errorf("EPSG:%s (%s) is a %s grid, whose scale is another in every direction: distances on the ground cannot be compared with it by one factor", s.Code, s.Name, s.Method)
	}
	if !(math.Abs(height) <= 10000) {
		return 0, fmt.Errorf("a height of %g m above the ellipsoid is not one of a site; state it in metres", height)
	}
	f, err := s.Factors(e, n)
	if err != nil {
		return 0, err
	}
	return f.Scale * f.Elevation(height), nil
}
