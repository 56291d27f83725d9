package convert

import (
	"errors"
	"fmt"
	"math/big"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// LineNode is an end of a graded line.
type LineNode struct {
	Name  string
	Place Place
	Level unit.Length
}

// gradedLine is a straight line between two nodes, in plan and in level.
type gradedLine struct {
	from, to LineNode
	reach    unit.Length // how far to either side it holds
	length   unit.Length
	in       unit.Unit // of messages
}

// NewGradedLine makes a surface of a straight line between two nodes. It holds up to
// reach to either side, level across, and not beyond its nodes.
func NewGradedLine(name string, at formats.Pos, from, to LineNode, reach unit.Length, f *Frame) (*Surface, error) {
	if !from.Place.near() || !to.Place.near() {
		return nil, errors.New("a node is more than 1,171 km from the origin of the job; check its unit")
	}
	if from.Place == to.Place {
		return nil, errors.New("its two nodes are at one place; it has no direction")
	}
	if reach < 0 {
		return nil, errors.New("a reach has no minus sign")
	}
	return &Surface{Name: name, Pos: at, line: &gradedLine{from: from, to: to, reach: reach, length: distance(from.Place, to.Place), in: f.Unit}}, nil
}

// at is the design level at the foot of a shot on the line; a shot without a place is
// put by its chainage from the first node.
func (l *gradedLine) at(s *Shot) (z unit.Length, from, why string) {
	rise := l.to.Level - l.from.Level
	if !s.Placed {
		switch {
		case !s.Chained:
			return 0, "", "it has no place: no easting and northing, no chainage, and its name is in no peg list of the job"
		case s.Chainage < 0 || s.Chainage > l.length:
			return 0, "", fmt.Sprintf("chainage %s is not on the line from %s to %s, which is %s long", s.Chainage.Exact(l.in, 3), l.from.Name, l.to.Name, l.length.Fixed(l.in, 3))
		case s.Offset.Abs() > l.reach:
			return 0, "", l.beside(s.Offset)
		}
		return l.from.Level + unit.MulDiv(rise, s.Chainage, l.length), l.words(s.Chainage, s.Offset), ""
	}
	if !s.Place.near() {
		return 0, "", "it is more than 1,171 km from the origin of the job"
	}
	de, dn := l.to.Place.E-l.from.Place.E, l.to.Place.N-l.from.Place.N
	pe, pn := s.Place.E-l.from.Place.E, s.Place.N-l.from.Place.N
	whole := func(a, b, c, d unit.Length) *big.Int { // a×b + c×d
		x := new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(b)))
		return x.Add(x, new(big.Int).Mul(big.NewInt(int64(c)), big.NewInt(int64(d))))
	}
	along, square := whole(pe, de, pn, dn), whole(de, de, dn, dn)
	offset := unit.OverChord(pe, dn, -pn, de, de, dn)
	switch {
	case along.Sign() < 0:
		return 0, "", fmt.Sprintf("it lies %s %s before %s, where the line to %s begins", unit.OverChord(-pe, de, -pn, dn, de, dn).Fixed(l.in, 3), l.in.Name, l.from.Name, l.to.Name)
	case along.Cmp(square) > 0:
		return 0, "", fmt.Sprintf("it lies beyond %s, where the line from %s ends", l.to.Name, l.from.Name)
	}
	// offset² > reach², before the offset is rounded
	cross := whole(pe, dn, -pn, de)
	if reach := big.NewInt(int64(l.reach)); cross.Mul(cross, cross).Cmp(reach.Mul(reach, reach).Mul(reach, square)) > 0 {
		return 0, "", l.beside(offset)
	}
	z = l.from.Level + roundQuotient(along.Mul(along, big.NewInt(int64(rise))), square)
	return z, l.words(unit.OverChord(pe, de, pn, dn, de, dn), offset), ""
}

func (l *gradedLine) beside(offset unit.Length) string {
	return fmt.Sprintf("it lies %s %s beside the line from %s to %s, which holds for %s", offset.Abs().Fixed(l.in, 3), l.in.Name, l.from.Name, l.to.Name, l.reach.Exact(l.in, 3))
}

func (l *gradedLine) words(along, offset unit.Length) string {
	w := fmt.Sprintf("line %s to %s, %s from %s", l.from.Name, l.to.Name, along.Fixed(l.in, 3), l.from.Name)
	switch {
	case offset > 0:
		w += ", " + offset.Fixed(l.in, 3) + " right"
	case offset < 0:
		w += ", " + offset.Abs().Fixed(l.in, 3) + " left"
	}
	return w
}

// roundQuotient is n/d, rounded half away from zero; d is above zero and the result
// fits a Length.
func roundQuotient(n, d *big.Int) unit.Length {
	q := new(big.Int).Abs(n)
	q.Lsh(q, 1).Add(q, d)
	q.Quo(q, new(big.Int).Lsh(d, 1))
	if n.Sign() < 0 {
		q.Neg(q)
	}
	return unit.Length(q.Int64())
}
