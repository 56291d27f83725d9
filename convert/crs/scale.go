package crs

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Distances says what the distances of a site grid are.
type Distances uint8

// Kinds of distances. Untold is the zero one.
const (
	Untold   Distances = iota // the control does not determine the scale well enough to say
	OnGrid                    // those of the declared grid: scale 1
	OnGround                  // those on the ground: scale the combined factor
	Both                      // on this site the two are the same within what can be told
	Neither                   // refused
)

// ScaleVerdict is the comparison of a fitted scale with the combined factor.
type ScaleVerdict struct {
	Distances Distances
	GridPPM   float64 // fitted scale less 1
	GroundPPM float64 // fitted scale less the combined factor
	WithinPPM float64 // what either may be
	Sentence  string
}

// alike is by how many ppm a combined factor may differ from 1 for distances on
// the grid and on the ground to be called the same: 5 mm in a kilometre.
const alike = 5

// Compare says what distances the site grid has, from its fitted scale and the
// combined factor of the declared grid at the site (System.Combined). Grid
// metres in a metre of the site are 1 where it has grid distances, and the
// combined factor where it has distances on the ground; its inverse turns grid
// into ground. uncertainty is what the combined factor may be wrong by, in ppm:
// 0.157 for each metre that the height above the ellipsoid is unsure, so 16 where
// a level above the sea was taken for one.
func (g *SiteGrid) Compare(combined, uncertainty float64) (ScaleVerdict, error) {
	if !(combined > 0.9 && combined < 1.1) {
		return ScaleVerdict{}, fmt.Errorf("a combined factor of %g is not one of a survey grid; look at the grid's code, the place and the height it was worked out for", combined)
	}
	v := ScaleVerdict{GridPPM: (g.Scale - 1) * 1e6, GroundPPM: (g.Scale - combined) * 1e6}
	if !g.Fitted {
		v.Sentence = "the scale was held, so that it says nothing of what the distances of the site are"
		return v, nil
	}
	if g.ScaleSD == 0 {
		v.Sentence = fmt.Sprintf("the scale is %.8f, but two points do not check it; add a point, or state how good the control is", g.Scale)
		return v, nil
	}
	quantile := distuv.UnitNormal.Quantile(1 - LocalLevel/2)
	if !g.known {
		quantile = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(g.PlanDoF)}.Quantile(1 - LocalLevel/2)
	}
	noise := quantile * g.ScaleSD * 1e6
	v.WithinPPM = noise + math.Abs(uncertainty)
	scale := fmt.Sprintf("the scale from site to grid is %.8f (%+.1f ppm)", g.Scale, v.GridPPM)
	factor := fmt.Sprintf("the combined factor %.8f (%+.1f ppm)", combined, (combined-1)*1e6)
	// grid distances do not depend on the combined factor
	grid, ground := math.Abs(v.GridPPM) <= noise, math.Abs(v.GroundPPM) <= v.WithinPPM
	switch {
	case grid && ground && math.Abs(combined-1)*1e6 <= alike:
		v.Distances = Both
		v.Sentence = fmt.Sprintf("%s; 1 and %s are both within %.1f ppm of it, so that grid distances and distances on the ground are the same here", scale, factor, v.WithinPPM)
	case grid && ground:
		v.Sentence = fmt.Sprintf("%s, sure to %.1f ppm only: 1 and %s both agree with it, so that grid distances cannot be told from distances on the ground; use control that is further apart, or more of it", scale, v.WithinPPM, factor)
	case grid:
		v.Distances = OnGrid
		v.Sentence = fmt.Sprintf("%s: the site has grid distances (1, within %.1f ppm)", scale, noise)
	case ground:
		v.Distances = OnGround
		v.Sentence = fmt.Sprintf("%s: the site has distances on the ground (%s, within %.1f ppm)", scale, factor, v.WithinPPM)
	default:
		v.Distances = Neither
		v.Sentence = fmt.Sprintf("%s; it is neither 1 nor %s within %.1f ppm%s", scale, factor, v.WithinPPM, g.guess(combined, noise))
	}
	return v, nil
}

// guess names what a scale that is neither one nor the other may come from.
// noise is what it may be wrong by, ppm.
func (g *SiteGrid) guess(combined, noise float64) string {
	for _, x := range []struct {
		factor, within float64 // ppm
		text           string
	}{
		{0.3048, 1000, "the site grid is in feet and was read as metres"},
		{1 / 0.3048, 1000, "the declared grid is in feet and was read as metres"},
		{foot, 0.5, "the site grid was read in international feet and the declared grid in US survey feet"},
		{1 / foot, 0.5, "the site grid was read in US survey feet and the declared grid in international feet"},
		{1 / combined / combined, 1, "the factor was taken the wrong way round, so that it stands in the scale twice or as its inverse"},
	} {
		for _, base := range [2]float64{1, combined} {
			if noise <= x.within && math.Abs(g.Scale/base/x.factor-1)*1e6 <= x.within {
				return ": " + x.text + "; check both grids"
			}
		}
	}
	return "; check the code of the grid, the height of the site, the units, and each point"
}
