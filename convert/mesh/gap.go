package mesh

import (
	"cmp"
	"errors"
	"math/big"
	"slices"

	"sightrail/formats/unit"
)

// Gap is the largest circle centred inside a region with no point inside it.
type Gap struct {
	Centre Place       // rounded once to one count; the least E, then N, of several
	Radius unit.Length // rounded once to one count, half upwards
	square fraction    // of the radius, exact
}

// LargestGap finds the largest empty circle. Points outside the region count
// too. Without any point there is none, and that is an error.
func LargestGap(points []Place, in *Region) (Gap, error) {
	if len(points) == 0 {
		return Gap{}, errors.New("there is no point, so that the whole lot is one gap")
	}
	s := newSearch(points, in)
	s.corners()
	s.circles()
	return s.best(), nil
}

// Compare returns the sign of the radius less a limit, exactly.
func (g Gap) Compare(limit unit.Length) int {
	if limit < 0 {
		return 1
	}
	l := big64(limit)
	return g.square.compare(fraction{l.Mul(l, l), big.NewInt(1)})
}

// Meets reports whether points on a grid of a × b, each allowed to be off its
// place by allowance, could have left no larger gap: whether the radius is at
// most half the diagonal of the grid and the allowance. It is exact.
func (g Gap) Meets(a, b, allowance unit.Length) bool {
	// R − c ≤ h, for R > c: with x = R² + c² − h², x ≤ 2cR
	if g.Compare(allowance) <= 0 {
		return true
	}
	r := new(big.Rat).SetFrac(g.square.num, g.square.den)
	c := new(big.Rat).SetInt(big64(allowance))
	c.Mul(c, c)
	h := square(int64(a), int64(b)).big()
	x := new(big.Rat).Add(r, c)
	x.Sub(x, new(big.Rat).SetFrac(h, big.NewInt(4)))
	if x.Sign() <= 0 {
		return true
	}
	four := c.Mul(c, r).Mul(c, big.NewRat(4, 1))
	return allowance > 0 && x.Mul(x, x).Cmp(four) <= 0
}

// fraction is a rational that is not reduced; den is positive.
type fraction struct{ num, den *big.Int }

func (f fraction) compare(g fraction) int {
	return new(big.Int).Mul(f.num, g.den).Cmp(new(big.Int).Mul(g.num, f.den))
}

// root is the square root, rounded to a whole number, half upwards, and held at
// the largest Length.
func (f fraction) root() unit.Length {
	n := new(big.Int).Lsh(f.num, 2)
	n.Sqrt(n.Quo(n, f.den)) // ⌊2√f⌋
	n.Add(n, big.NewInt(1))
	if n.Rsh(n, 1); !n.IsInt64() {
		return unit.MaxLength
	}
	return unit.Length(n.Int64())
}

// nearest is a whole number nearest to n/d, half upwards; d is positive.
func nearest(n, d *big.Int) unit.Length {
	q := new(big.Int).Lsh(n, 1)
	q.Add(q, d)
	return unit.Length(q.Div(q, new(big.Int).Lsh(d, 1)).Int64())
}

// best picks the largest of the candidates. Those that float64 cannot tell from
// it are compared exactly, and so is whether a circle is centred inside.
func (s *search) best() Gap {
	slices.SortFunc(s.found, func(a, b candidate) int { return cmp.Compare(b.r+b.err, a.r+a.err) })
	least := 0.0
	var g Gap
	for i := range s.found {
		c := &s.found[i]
		if c.r+c.err < least {
			break
		}
		if c.kind == atCircle && !s.inside(c) {
			continue
		}
		least = max(least, c.r-c.err)
		f := s.square(c)
		sign := 1
		if g.square.num != nil {
			sign = f.compare(g.square)
		}
		if sign < 0 {
			continue
		}
		if p := s.centre(c); sign > 0 || cmp.Or(cmp.Compare(p.E, g.Centre.E), cmp.Compare(p.N, g.Centre.N)) < 0 {
			g.Centre, g.square = p, f
		}
	}
	g.Radius = g.square.root()
	return g
}
