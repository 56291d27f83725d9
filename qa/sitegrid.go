package qa

import (
	"fmt"

	"sightrail/convert"
	"sightrail/convert/crs"
	"sightrail/qa/job"
)

// SiteResult is the fit of the site grid to its control, for the report.
type SiteResult struct {
	Keys     *job.SiteGrid
	Fit      *crs.SiteGrid
	Combined float64 // factor of the declared grid at the site; 0 where no height is given
	Scale    string  // what the scale says of the distances of the site
}

// heightSlip is how unsure a height above the ellipsoid is taken to be where a
// level above the sea may stand for it.
const heightSlip = 100

// siteGrid fits the site grid of the job. What speaks against it is a problem,
// and then it places nothing on the Earth.
func (r *Run) siteGrid() (*convert.Earth, error) {
	j := r.Head.Job
	k := j.SiteGrid
	none := func() (*convert.Earth, error) {
		f := r.Head.Frame
		return convert.NewEarth(&f, "")
	}
	cannot := func(key, format string, args ...any) (*convert.Earth, error) {
		r.problem(j.Where("siteGrid."+key), "siteGrid", format, args...)
		return none()
	}
	var points []crs.Control
	metres := func(c job.Coordinate) float64 { return c.Value.Float() * c.In.Size.Metres() }
	for i := range k.Control {
		c := &k.Control[i]
		p := crs.Control{Name: c.Name, X: metres(c.Easting), Y: metres(c.Northing), E: metres(c.GridEasting), N: metres(c.GridNorthing)}
		if c.Level != nil && c.GridLevel != nil {
			p.Levelled, p.Level, p.Height = true, c.Level.Length, c.GridLevel.Length
		}
		points = append(points, p)
	}
	opt := crs.Options{Scale: k.Scale.Factor}
	switch k.Vertical {
	case "shift":
		opt.Vertical = crs.LevelShift
	case "tilt":
		opt.Vertical = crs.LevelShiftAndTilt
	}
	if k.Deviation != nil {
		opt.Plan, opt.Levels = k.Deviation.Metres(), k.Deviation.Metres()
	}
	fit, err := crs.FitSite(points, opt)
	if err != nil {
		return cannot("control", "%v", err)
	}
	res := &SiteResult{Keys: k, Fit: fit}
	r.Head.Site = res
	system, err := crs.Lookup(k.Grid.EPSG)
	if err != nil {
		return cannot("grid", "%v", err)
	}
	if fit.Foot != nil {
		return cannot("control", "%s", fit.Foot.Sentence)
	}
	for _, t := range []crs.Test{fit.PlanTest, fit.LevelTest} {
		if t.Finding == crs.OneStands || t.Finding == crs.SomeStands || t.Finding == crs.Disagrees {
			return cannot("control", "%s", t.Sentence)
		}
	}
	if k.Height != nil {
		if err := r.combined(res, system, points); err != nil {
			return cannot("scale", "%v", err)
		}
	}
	return convert.NewSiteEarth(fit, system, j.Shift)
}

// combined compares the scale with the combined factor at the first control point.
func (r *Run) combined(res *SiteResult, system *crs.System, points []crs.Control) error {
	k := res.Keys
	p := points[0]
	factor, err := system.Combined(p.E/system.Unit.Metres, p.N/system.Unit.Metres, k.Height.Metres())
	if err != nil {
		return err
	}
	within := float64(heightSlip)
	if k.Within != nil {
		within = k.Within.Metres()
	}
	const perMetre = 0.157 // ppm of the radius of the Earth
	res.Combined = factor
	v, err := res.Fit.Compare(factor, perMetre*within)
	if err != nil {
		return err
	}
	res.Scale = v.Sentence
	if v.Distances == crs.Neither {
		return fmt.Errorf("%s", v.Sentence)
	}
	return nil
}
