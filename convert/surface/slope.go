package surface

import (
	"math"
	"math/big"
)

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

// Normal is a vector square to a face, pointing up, in whole numbers: exact. Its z is
// twice the plan area in square counts, 0 for a face without any.
func (t *TIN) Normal(face int32) (e, n, z *big.Int) {
	c := t.corners[face]
	a, b, d := &t.vertices[c[0]], &t.vertices[c[1]], &t.vertices[c[2]]
	whole := func(p, q, r, s int64) *big.Int { // p×q − r×s
		x := new(big.Int).Mul(big.NewInt(p), big.NewInt(q))
		return x.Sub(x, new(big.Int).Mul(big.NewInt(r), big.NewInt(s)))
	}
	ue, un, uz := int64(b.E-a.E), int64(b.N-a.N), int64(b.Z-a.Z)
	ve, vn, vz := int64(d.E-a.E), int64(d.N-a.N), int64(d.Z-a.Z)
	return whole(un, vz, uz, vn), whole(uz, ve, ue, vz), whole(ue, vn, un, ve)
}
