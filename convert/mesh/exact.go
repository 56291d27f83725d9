package mesh

import (
	"math"

	"sightrail/formats/unit"
)

// u is the largest relative error of one rounding to float64.
const u = 1.0 / (1 << 53)

// Error bounds of the float64 filters, as factors of the same sum with every
// term positive. A difference of whole counts is rounded once when it becomes a
// float64; a machine that fuses a product with a sum rounds less often.
//
//   - orient: two differences, the product, the difference of products: four
//     roundings on each term. Six cover them and those of the bound itself.
//   - incircle: a cross product has four roundings on each term, a sum of two
//     squares four, their product one more and the two sums two: eleven. Sixteen
//     cover them and those of the bound itself.
const (
	orientBound   = 6 * u
	incircleBound = 16 * u
)

// orient returns +1 when c is left of the line from a to b, -1 when it is right
// of it and 0 when it is on it.
func orient(a, b, c Place) int {
	bx, by := int64(b.E-a.E), int64(b.N-a.N)
	cx, cy := int64(c.E-a.E), int64(c.N-a.N)
	l, r := float64(bx)*float64(cy), float64(by)*float64(cx)
	d, bound := l-r, (math.Abs(l)+math.Abs(r))*orientBound
	switch {
	case d > bound:
		return 1
	case d < -bound:
		return -1
	}
	return cross(bx, by, cx, cy).sign()
}

// incircle returns +1 when d is inside the circle through a, b and c, which
// must be counter-clockwise, -1 when it is outside and 0 when it is on it.
func incircle(a, b, c, d Place) int {
	iax, iay := int64(a.E-d.E), int64(a.N-d.N)
	ibx, iby := int64(b.E-d.E), int64(b.N-d.N)
	icx, icy := int64(c.E-d.E), int64(c.N-d.N)
	ax, ay := float64(iax), float64(iay)
	bx, by := float64(ibx), float64(iby)
	cx, cy := float64(icx), float64(icy)
	bxcy, bycx := bx*cy, by*cx
	cxay, cyax := cx*ay, cy*ax
	axby, aybx := ax*by, ay*bx
	la, lb, lc := ax*ax+ay*ay, bx*bx+by*by, cx*cx+cy*cy
	det := la*(bxcy-bycx) + lb*(cxay-cyax) + lc*(axby-aybx)
	bound := incircleBound * (la*(math.Abs(bxcy)+math.Abs(bycx)) +
		lb*(math.Abs(cxay)+math.Abs(cyax)) + lc*(math.Abs(axby)+math.Abs(aybx)))
	switch {
	case det > bound:
		return 1
	case det < -bound:
		return -1
	}
	return int320{}.
		plus(square(iax, iay), cross(ibx, iby, icx, icy)).
		plus(square(ibx, iby), cross(icx, icy, iax, iay)).
		plus(square(icx, icy), cross(iax, iay, ibx, iby)).sign()
}

// ahead reports whether c, on the line through a and b, is on b's side of a.
func ahead(a, b, c Place) bool {
	return (b.E-a.E).Sign()*(c.E-a.E).Sign() > 0 || (b.N-a.N).Sign()*(c.N-a.N).Sign() > 0
}

// clamp is the count of a float64, held to the range of places.
func clamp(x float64) unit.Length {
	return unit.Length(max(-float64(extent), min(float64(extent)-512, x)))
}
