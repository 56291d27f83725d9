package crs

import (
	"fmt"
	"math"
)

// Outcome says what became of a place.
type Outcome uint8

// Outcomes, the first two with a place.
const (
	Placed       Outcome = iota
	OutsideArea          // placed, but outside the area of use of the system
	OutsideShift         // outside the area in which the shift holds
	NoShift              // the system has no shift to WGS 84 in use
	NoPlace              // the projection has no such place
)

var outcomes = [...]string{"placed", "outside the area of use", "outside the area of the datum shift", "no shift to WGS 84", "beyond the projection"}

// String names the outcome.
func (o Outcome) String() string { return outcomes[o] }

// HasPlace reports whether there is a longitude and latitude.
func (o Outcome) HasPlace() bool { return o <= OutsideArea }

// Margin is by how many degrees a place may lie outside the area of use, or that
// of the shift, before it is said to: EPSG rounds areas to a hundredth of a
// degree, and the edge of a land is no edge of its grid.
const Margin = 0.1

// PlaceError tells of a place that is not, or not simply, on WGS 84.
type PlaceError struct {
	Outcome  Outcome
	System   *System
	E, N     float64 // coordinates in the unit of the system
	Lon, Lat float64 // degrees, of WGS 84 where there is a shift; NaN without place
	backward bool    // it was asked for by longitude and latitude
}

func (e *PlaceError) Error() string {
	s := e.System
	grid := fmt.Sprintf("EPSG:%s (%s)", s.Code, s.Name)
	at := fmt.Sprintf("longitude %.5f, latitude %.5f", e.Lon, e.Lat)
	check := "check the code of the grid, its unit, and the order of the columns"
	if e.backward {
		check = "check the code of the grid, and that longitude comes first"
	} else {
		at = fmt.Sprintf("easting %.3f, northing %.3f of %s", e.E, e.N, grid)
		if !math.IsNaN(e.Lon) {
			at += fmt.Sprintf(" is longitude %.5f, latitude %.5f,", e.Lon, e.Lat)
		}
	}
	is := map[bool]string{true: " is", false: ""}[e.backward]
	switch e.Outcome {
	case OutsideArea:
		return fmt.Sprintf("%s%s outside the area of use of %s, %s; %s", at, is, grid, s.Area, check)
	case OutsideShift:
		return fmt.Sprintf("%s%s outside the area in which the shift EPSG:%s holds, %s; name another shift", at, is, s.shift.Code, s.shift.Area)
	case NoShift:
		return s.Reason()
	}
	if e.backward {
		return fmt.Sprintf("%s is out of reach of the projection of %s; %s", at, grid, check)
	}
	return at + " is no place on Earth; " + check
}

// ToWGS84 returns the place of coordinates in the unit of the system, in degrees
// of WGS 84. The error is a *PlaceError: with Outcome OutsideArea longitude and
// latitude are there all the same, else they are NaN.
func (s *System) ToWGS84(e, n float64) (lon, lat float64, err error) {
	lon, lat, what := s.place(e, n)
	if what == Placed {
		return lon, lat, nil
	}
	bad := &PlaceError{Outcome: what, System: s, E: e, N: n, Lon: lon, Lat: lat}
	if !what.HasPlace() {
		bad.Lon, bad.Lat = s.Earth(e, n)
	}
	return lon, lat, bad
}

func (s *System) place(e, n float64) (lon, lat float64, what Outcome) {
	if !s.ready() {
		return math.NaN(), math.NaN(), NoShift
	}
	lat, lon = s.radians(e, n)
	if math.IsNaN(lat) {
		return lon, lat, NoPlace
	}
	if s.helmert != nil {
		lat, lon = s.helmert.toWGS84(lat, lon)
	}
	lon, lat = degrees(lon), degrees(lat)
	if !s.shift.Area.Hold(lon, lat, Margin) {
		return math.NaN(), math.NaN(), OutsideShift
	}
	if !s.Area.Hold(lon, lat, Margin) {
		return lon, lat, OutsideArea
	}
	return lon, lat, Placed
}

func (s *System) ready() bool {
	return s.helmert != nil || s.shift.Kind == Null || s.shift.Kind == Same || s.shift.Kind == Stated
}

// Batch places many points without allocation: lon, lat and what are filled for
// every e, n and must be at least as long as e. It returns how many are not simply Placed.
func (s *System) Batch(lon, lat []float64, what []Outcome, e, n []float64) (odd int) {
	if min(len(n), len(lon), len(lat), len(what)) < len(e) {
		panic("crs: a batch of unequal lengths")
	}
	for i := range e {
		if lon[i], lat[i], what[i] = s.place(e[i], n[i]); what[i] != Placed {
			odd++
		}
	}
	return odd
}

// FromWGS84 is the inverse of ToWGS84, with the same errors.
func (s *System) FromWGS84(lon, lat float64) (e, n float64, err error) {
	fail := func(what Outcome) (float64, float64, error) {
		return math.NaN(), math.NaN(), &PlaceError{Outcome: what, System: s, E: math.NaN(), N: math.NaN(), Lon: lon, Lat: lat, backward: true}
	}
	switch {
	case !s.ready():
		return fail(NoShift)
	case !s.shift.Area.Hold(lon, lat, Margin):
		return fail(OutsideShift)
	}
	own, up := lon, lat
	if s.helmert != nil {
		up, own = s.helmert.fromWGS84(radians(lat), radians(lon))
		own, up = degrees(own), degrees(up)
	}
	e, n = s.Plane(own, up)
	switch {
	case math.IsNaN(e + n):
		return fail(NoPlace)
	case !s.Area.Hold(lon, lat, Margin):
		return e, n, &PlaceError{Outcome: OutsideArea, System: s, E: e, N: n, Lon: lon, Lat: lat, backward: true}
	}
	return e, n, nil
}
