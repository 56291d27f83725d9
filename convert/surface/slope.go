package surface

import "math"

// Slope is the steepest slope of a face, rise over run, never negative; 0 for a
// face without plan area. Its error is some roundings of float64: it is for
// remarks, not for verdicts.
func (t *TIN) Slope(face int32) float64 {
	f := &t.face[face]
	if f.flat() {
		return 0
	}
	return math.Hypot(f.zb*f.cn-f.zc*f.bn, f.zc*f.be-f.zb*f.ce) / f.d
}
