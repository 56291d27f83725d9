package convert

import (
	"fmt"
	"math/big"

	"sightrail/convert/surface"
	"sightrail/formats/unit"
)

// Raised is how much higher, measured vertically, the parallel surface is that lies
// offset above this one, measured square to it, at the place of a shot: offset ×
// √(1 + slope²), exact and rounded once to one count. why says that it is not known.
func (s *Surface) Raised(shot *Shot, offset unit.Length) (vertical unit.Length, why string) {
	switch {
	case !shot.Placed:
		return 0, "it has no place, and an offset square to the design needs one"
	case s.Plane != nil:
		// 1 + a² + c² over the two runs
		a, ar := fraction(s.Plane.Along)
		c, cr := fraction(s.Plane.Across)
		square := new(big.Int).Mul(ar, ar)
		square.Mul(square, new(big.Int).Mul(cr, cr))
		n := new(big.Int).Set(square)
		for _, x := range [][2]*big.Int{{a, cr}, {c, ar}} {
			p := new(big.Int).Mul(x[0], x[1])
			n.Add(n, p.Mul(p, p))
		}
		return root(offset, n, square), ""
	case s.TIN != nil:
		_, face, state, _ := s.TIN.Level(shot.Place.E, shot.Place.N)
		if state != surface.On {
			return 0, fmt.Sprintf("outside the design surface %s", s.Name)
		}
		e, n, z := s.TIN.Normal(face)
		square := new(big.Int).Mul(z, z)
		sum := new(big.Int).Set(square)
		sum.Add(sum, e.Mul(e, e)).Add(sum, n.Mul(n, n))
		return root(offset, sum, square), ""
	case s.aligned != nil:
		return s.aligned.raised(shot, offset)
	case s.line != nil:
		rise := big.NewInt(int64(s.line.to.Level - s.line.from.Level))
		de, dn := big.NewInt(int64(s.line.to.Place.E-s.line.from.Place.E)), big.NewInt(int64(s.line.to.Place.N-s.line.from.Place.N))
		square := new(big.Int).Mul(de, de)
		square.Add(square, dn.Mul(dn, dn))
		return root(offset, rise.Mul(rise, rise).Add(rise, square), square), ""
	}
	return 0, fmt.Sprintf("the slope of the design %s is not known here, and an offset square to it needs one; give the offset vertically", s.Name)
}

// fraction is a grade as a whole number over another; the zero Grade is level.
func fraction(g unit.Grade) (rise, run *big.Int) {
	if g.Run == 0 {
		return new(big.Int), big.NewInt(1)
	}
	return big.NewInt(int64(g.Rise)), big.NewInt(int64(g.Run))
}

// root is offset × √(n/d), rounded half away from zero.
func root(offset unit.Length, n, d *big.Int) unit.Length {
	o := big.NewInt(int64(offset))
	r := unit.RoundRoot(new(big.Int).Mul(new(big.Int).Mul(o, o), n), d)
	if offset < 0 {
		return -r
	}
	return r
}
