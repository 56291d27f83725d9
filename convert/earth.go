package convert

import (
	"errors"
	"fmt"
	"strings"

	"sightrail/convert/crs"
	"sightrail/formats/unit"
)

// Earth takes places of the job's frame to longitude and latitude of WGS 84.
type Earth struct {
	system *crs.System
	scale  float64       // frame metres to units of the system
	site   *crs.SiteGrid // of a local grid that is fitted to control
	why    string        // no place has a longitude and latitude
}

// NewEarth is the Earth of a frame. shift names the EPSG operation to WGS 84, where
// the job chooses one; "" takes the null shift that the EPSG dataset declares, or
// none at all. The error is a code or a shift that there is not.
func NewEarth(f *Frame, shift string) (*Earth, error) {
	if f.EPSG == "" {
		return &Earth{why: "the grid is a local one, without a place on the Earth"}, nil
	}
	s, err := crs.Lookup(f.EPSG)
	if errors.Is(err, crs.ErrUnsupported) {
		return &Earth{why: err.Error()}, nil
	}
	if err != nil {
		return nil, err
	}
	if s, err = shifted(s, shift); err != nil {
		return nil, err
	}
	return &Earth{system: s, scale: 1 / s.Unit.Metres, why: s.Reason()}, nil
}

// shifted is the system with the shift that the job names: an EPSG operation, or
// "none within 2 m" where the user states it for a datum from which EPSG has none.
func shifted(s *crs.System, shift string) (*crs.System, error) {
	text, stated := strings.CutPrefix(shift, "none within ")
	switch {
	case shift == "":
		return s, nil
	case stated:
		l, err := unit.ParseQuantity(text)
		if err != nil {
			return nil, fmt.Errorf("%q: %w", shift, err)
		}
		return s.State(l.Metres())
	}
	return s.With(shift)
}

// NewSiteEarth is the Earth of a local grid that is fitted to control in a system.
func NewSiteEarth(fit *crs.SiteGrid, s *crs.System, shift string) (*Earth, error) {
	s, err := shifted(s, shift)
	if err != nil {
		return nil, err
	}
	return &Earth{system: s, scale: 1 / s.Unit.Metres, site: fit, why: s.Reason()}, nil
}

// Why says why no place can be had; "" where places can.
func (e *Earth) Why() string { return e.why }

// Words says how places come to WGS 84, and how well.
func (e *Earth) Words() string {
	if e.why != "" {
		return e.why
	}
	if e.site != nil {
		return fmt.Sprintf("from the local grid by its control in EPSG:%s (%s) to WGS 84: %s", e.system.Code, e.system.Name, e.system.Shift())
	}
	return fmt.Sprintf("from EPSG:%s (%s) to WGS 84: %s", e.system.Code, e.system.Name, e.system.Shift())
}

// Metres is how well the datum shift is known; 0 where it is not stated, or there
// is none.
func (e *Earth) Metres() float64 {
	if e.system == nil || e.why != "" {
		return 0
	}
	return e.system.Shift().Metres
}

// Place is the longitude and latitude of a place in degrees. note says what is odd
// about it, or why it has none.
func (e *Earth) Place(f *Frame, p Place) (lon, lat float64, ok bool, note string) {
	if e.why != "" {
		return 0, 0, false, e.why
	}
	size := f.Unit.Size.Metres()
	east, north := float64(f.E0)*size+p.E.Metres(), float64(f.N0)*size+p.N.Metres()
	if e.site != nil {
		east, north = e.site.ToGrid(east, north)
	}
	lon, lat, err := e.system.ToWGS84(east*e.scale, north*e.scale)
	var bad *crs.PlaceError
	switch {
	case err == nil:
		return lon, lat, true, ""
	case errors.As(err, &bad) && bad.Outcome.HasPlace():
		return lon, lat, true, "outside the area in which the grid is used"
	}
	return 0, 0, false, err.Error()
}
