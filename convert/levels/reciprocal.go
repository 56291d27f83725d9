package levels

import (
	"errors"
	"fmt"
	"math/big"

	"sightrail/formats/unit"
)

// Reciprocal is a line that cannot be halved, levelled from both ends: over a
// river, or with the instrument over each peg in turn. The reading on the near
// peg is that of a short sight, as long on both banks, or the height of the
// eyepiece over the peg, measured there.
type Reciprocal struct {
	AtA, AtB Bank
	// Distance from A to B. It is needed for the slope of the line of sight only.
	Distance Value
	// Curvature and refraction, when their part of the error is to be taken out.
	Curvature Curvature
}

// Bank holds the readings on both pegs from one end.
type Bank struct{ A, B unit.Length }

// ReciprocalResult is what two ends give.
type ReciprocalResult struct {
	FromA, FromB unit.Length // level of B minus level of A, as each end reads it
	True         unit.Length // their mean, rounded once to one count
	// Error is how much too high the far peg is read: collimation, curvature and
	// refraction together; rounded once.
	Error unit.Length
	// Drop is the part of curvature and refraction, + when it makes the far
	// reading too high, and Collimation what is left; both only with a Distance
	// and a Curvature.
	Drop, Collimation Value
	// Slope of the line of sight, + when it rises away from the instrument, from
	// Collimation and the distance; Run 0 where that is not set.
	Slope unit.Grade
}

// Result works both ends out. It assumes what reciprocal levelling assumes: the
// same instrument and the same air on both banks.
func (r Reciprocal) Result() (ReciprocalResult, error) {
	for _, x := range []struct {
		bank, peg string
		v         unit.Length
	}{{"A", "A", r.AtA.A}, {"A", "B", r.AtA.B}, {"B", "A", r.AtB.A}, {"B", "B", r.AtB.B}} {
		if x.v.Abs() > MaxReading {
			return ReciprocalResult{}, fmt.Errorf("reciprocal levelling: the reading on %s from %s is %s m, longer than any staff; check the number and its unit", x.peg, x.bank, x.v.Fixed(unit.M, 0))
		}
	}
	out := ReciprocalResult{FromA: r.AtA.A - r.AtA.B, FromB: r.AtB.A - r.AtB.B}
	out.True = unit.MulDiv(out.FromA+out.FromB, 1, 2)
	out.Error = unit.MulDiv(out.FromB-out.FromA, 1, 2)
	if !r.Curvature.Given() {
		return out, nil
	}
	switch {
	case !r.Distance.Set:
		return ReciprocalResult{}, errors.New("reciprocal levelling: the distance from A to B is missing, and curvature and refraction need it; give the distance, or do not ask for the correction")
	case r.Distance.L <= 0 || r.Distance.L > MaxSight:
		return ReciprocalResult{}, fmt.Errorf("reciprocal levelling: a sight of %s m from A to B cannot be; check the distance and its unit", r.Distance.L.Exact(unit.M, 0))
	}
	drop, err := r.Curvature.At(r.Distance.L)
	if err != nil {
		return ReciprocalResult{}, err
	}
	out.Drop, out.Collimation = Of(drop), Of(out.Error-drop)
	out.Slope = unit.Grade{Rise: out.Collimation.L, Run: r.Distance.L}
	return out, nil
}

// Targets is a sight on two targets of a distant staff with a drum that tilts
// the line of sight: the drum is read on target A, on target B and where the
// bubble says that the line is level.
type Targets struct {
	A, B                 unit.Length // on the staff
	DrumA, DrumB, DrumAt unit.Decimal
}

// Reading returns what a level line reads on the staff, and how far that is
// from target A, + up the staff; rounded once to one count. A level line outside
// the targets is refused: it would not lie between what was seen.
func (t Targets) Reading() (reading, fromA unit.Length, err error) {
	for _, v := range []unit.Length{t.A, t.B} {
		if v.Abs() > MaxReading {
			return 0, 0, fmt.Errorf("two targets: a target at %s m is above any staff; check the number and its unit", v.Fixed(unit.M, 0))
		}
	}
	places := max(t.DrumA.Places, t.DrumB.Places, t.DrumAt.Places)
	a, b, at := scaled(t.DrumA, places), scaled(t.DrumB, places), scaled(t.DrumAt, places)
	whole, part := b.Sub(b, a), at.Sub(at, a)
	switch {
	case whole.Sign() == 0:
		return 0, 0, fmt.Errorf("two targets: the drum reads %s on both targets, so it measures nothing between them; check the readings", t.DrumA)
	case part.Sign()*whole.Sign() < 0 || part.CmpAbs(whole) > 0:
		return 0, 0, fmt.Errorf("two targets: the drum reads %s on the level line and %s and %s on the targets, so the line does not pass between them; move the targets, or check the readings", t.DrumAt, t.DrumA, t.DrumB)
	}
	part.Mul(part, big.NewInt(int64(t.B-t.A)))
	if fromA, err = quotient(part, whole); err != nil {
		return 0, 0, err
	}
	return t.A + fromA, fromA, nil
}

// scaled is d × 10^places as a whole number; d has no more decimals.
func scaled(d unit.Decimal, places uint8) *big.Int {
	p := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places-d.Places)), nil)
	return p.Mul(p, big.NewInt(d.Coef))
}
