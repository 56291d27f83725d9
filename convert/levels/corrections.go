package levels

import (
	"errors"
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strings"

	"sightrail/formats/unit"
)

// Corrections are applied to a reading before it is reduced, each only when it
// is asked for. The zero value corrects nothing. A reading on an inverted staff
// is negative, here as elsewhere.
type Corrections struct {
	// Collimation is the error of the line of sight from a two-peg test, + when
	// it rises away from the instrument; Run 0 asks for nothing. The correction
	// is −error × distance.
	Collimation unit.Grade
	// Curvature is that of the earth and of the line of sight. The correction is
	// −drop at the distance: a distant staff reads too high.
	Curvature Curvature
	// Staffs has the corrections of each staff by its name; "" is the staff of
	// readings that name none. None asks for nothing; with any, the staff of every
	// reading must be in it.
	Staffs map[string]Staff
}

// Staff is what is wrong with a staff. The length read from its foot, which is
// the size of the reading whichever way up it stands, becomes
// Zero + length × (1 + PPM/1,000,000).
type Staff struct {
	// Zero is added: + when the foot is worn, so that less is read than there is
	// below the line of sight.
	Zero unit.Length
	// PPM is the scale in parts per million: + when the staff is too long, its
	// marks further apart than they say.
	PPM unit.Decimal
}

// Curvature is how far the line of sight departs from a level line, which grows
// with the square of the distance D: Drop · D² / (Over · By). The zero Curvature
// asks for nothing. In DropAt, Over and By are the distance at which Drop is
// stated.
type Curvature struct {
	Drop, Over, By unit.Length
	Text           string // the coefficient, for the report
}

// DropAt makes a Curvature from the drop at a distance, which is how the
// coefficients are printed: 0.0673 m or 0.0675 m at 1 km, 0.0206 ft at 1000 ft,
// curvature and refraction together (surveying texts; the last from memory). A
// negative drop is refraction alone.
func DropAt(drop, at unit.Length) (Curvature, error) {
	if at <= 0 || drop == 0 || drop.Abs() > at/100 {
		return Curvature{}, fmt.Errorf("a drop of %s m at %s m is no coefficient of curvature and refraction; write it with the distance it belongs to, such as \"0.0673 m at 1 km\"", drop.Exact(unit.M, 3), at.Exact(unit.M, 0))
	}
	return Curvature{drop, at, at, fmt.Sprintf("%s m at %s km", drop.Exact(unit.M, 4), at.Exact(unit.KM, 0))}, nil
}

// Refraction makes a Curvature from the coefficient of refraction k, the radius
// of the earth over that of the line of sight, and the radius of the earth in
// unit u: (1 − k) D² / 2R.
func Refraction(k, radius unit.Decimal, u unit.Unit) (Curvature, error) {
	part, err := k.Neg().LengthFrom(-1, unit.M, unit.M) // 1 − k, as metres
	if err != nil || part <= 0 || part >= 2*unit.Metre {
		return Curvature{}, fmt.Errorf("%s is no coefficient of refraction; it is a number such as 0.13, above -1 and below 1", k)
	}
	thousandth := radius
	thousandth.Places += 3
	by, err := thousandth.Length(u) // a radius is longer than a Length can be
	if err != nil || by < 6000*unit.Metre || by > 6800*unit.Metre {
		return Curvature{}, fmt.Errorf("%s %s is no radius of the earth; it is about 6371 km", radius, u)
	}
	return Curvature{part, 2000 * unit.Metre, by, fmt.Sprintf("refraction %s, radius of the earth %s %s", k, radius, u)}, nil
}

// ParseCurvature reads "0.0673 m at 1 km", which DropAt explains, or "refraction
// 0.13, radius 6371 km", which Refraction does.
func ParseCurvature(text string) (Curvature, error) {
	t := strings.TrimSpace(text)
	if drop, at, ok := strings.Cut(t, " at "); ok {
		d, err := unit.ParseQuantity(drop)
		a, errAt := unit.ParseQuantity(at)
		if err == nil && errAt == nil {
			c, err := DropAt(d, a)
			c.Text = t
			return c, err
		}
	}
	if f := strings.Fields(t); len(f) == 5 && f[0] == "refraction" && f[2] == "radius" {
		k, exact, err := unit.ParseDecimal(strings.TrimSuffix(f[1], ","))
		radius, exactR, errR := unit.ParseDecimal(f[3])
		u, ok := unit.ByName(f[4])
		if err == nil && errR == nil && exact && exactR && ok {
			return Refraction(k, radius, u)
		}
	}
	return Curvature{}, fmt.Errorf("%q is no coefficient of curvature and refraction; write \"0.0673 m at 1 km\" or \"refraction 0.13, radius 6371 km\"", text)
}

// Given reports whether it is asked for.
func (c Curvature) Given() bool { return c.Drop != 0 }

// At is the drop at a distance, rounded once to one count.
func (c Curvature) At(distance unit.Length) (unit.Length, error) {
	if !c.Given() {
		return 0, nil
	}
	d, num := big.NewInt(int64(distance)), big.NewInt(int64(c.Drop))
	num.Mul(num, d).Mul(num, d)
	den := big.NewInt(int64(c.Over))
	return quotient(num, den.Mul(den, big.NewInt(int64(c.By))))
}

// Items are the parts of a correction; each is set only when it was asked for.
// Their sum is what was added to the reading, exactly.
type Items struct {
	Collimation Value
	Curvature   Value // and refraction
	StaffZero   Value
	StaffScale  Value
}

// Item is one part of a correction with its name.
type Item struct {
	Name  string
	Value Value
}

// Each returns the parts in the order of a report.
func (i Items) Each() []Item {
	return []Item{{"collimation", i.Collimation}, {"curvature and refraction", i.Curvature}, {"staff zero", i.StaffZero}, {"staff scale", i.StaffScale}}
}

// Total is the sum of the parts.
func (i Items) Total() unit.Length {
	return i.Collimation.L + i.Curvature.L + i.StaffZero.L + i.StaffScale.L
}

// Given reports whether any correction is asked for.
func (c Corrections) Given() bool { return c.NeedsDistance() || len(c.Staffs) > 0 }

// NeedsDistance reports whether every sight must have its distance.
func (c Corrections) NeedsDistance() bool { return c.Collimation.Run != 0 || c.Curvature.Given() }

// Words says what is asked for, one line each, with lengths of u; none where
// nothing is.
func (c Corrections) Words(u unit.Unit) []string {
	var words []string
	if c.Collimation.Run != 0 {
		words = append(words, fmt.Sprintf("collimation: the line of sight %s; correction = -error x distance", LineLimit{}.rises(c.Collimation, lengthUnit(u))))
	}
	if c.Curvature.Given() {
		words = append(words, "curvature and refraction: "+c.Curvature.Text+", growing with the square of the distance; taken off every reading")
	}
	for _, name := range slices.Sorted(maps.Keys(c.Staffs)) {
		s, who := c.Staffs[name], "staff "+name
		if name == "" {
			who = "staff not named"
		}
		words = append(words, fmt.Sprintf("%s: zero %s mm, scale %s parts per million; corrected = zero + reading x (1 + scale)", who, s.Zero.Exact(unit.MM, 1), s.PPM))
	}
	return words
}

// Apply corrects a reading that was taken over a distance on a staff. Every part
// is worked out from the reading as booked and rounded once to one count.
func (c Corrections) Apply(reading unit.Length, distance Value, staff string) (corrected unit.Length, items Items, err error) {
	if reading.Abs() > MaxReading {
		return 0, Items{}, fmt.Errorf("a reading of %s m is longer than any staff; check the number and its unit", reading.Fixed(unit.M, 0))
	}
	if err := c.sight(distance, &items); err != nil {
		return 0, Items{}, err
	}
	if err := c.staff(reading, staff, &items); err != nil {
		return 0, Items{}, err
	}
	return reading + items.Total(), items, nil
}

// sight works out what depends on the distance.
func (c Corrections) sight(distance Value, items *Items) error {
	if !c.NeedsDistance() {
		return nil
	}
	switch {
	case !distance.Set || distance.L == 0: // nought is what a blank cell becomes in some books
		return fmt.Errorf("the distance of this sight is missing, and the correction for %s needs it; book it, or do not ask for the correction", c.byDistance())
	case distance.L < 0 || distance.L > MaxSight:
		return fmt.Errorf("a sight of %s m cannot be; check the distance and its unit", distance.L.Exact(unit.M, 0))
	}
	if c.Collimation.Run != 0 {
		items.Collimation = Of(-c.Collimation.Over(distance.L))
	}
	if c.Curvature.Given() {
		drop, err := c.Curvature.At(distance.L)
		if err != nil {
			return err
		}
		items.Curvature = Of(-drop)
	}
	for _, v := range []Value{items.Collimation, items.Curvature} {
		if v.L.Abs() > MaxReading {
			return errors.New("a correction of more than a kilometre cannot be; check the error of the line of sight and the coefficient of curvature and refraction")
		}
	}
	return nil
}

// byDistance names what is asked for that needs the distance.
func (c Corrections) byDistance() string {
	switch {
	case c.Collimation.Run == 0:
		return "curvature and refraction"
	case !c.Curvature.Given():
		return "collimation"
	}
	return "collimation and for curvature and refraction"
}

// staff works out what is wrong with the staff.
func (c Corrections) staff(reading unit.Length, name string, items *Items) error {
	if len(c.Staffs) == 0 {
		return nil
	}
	s, ok := c.Staffs[name]
	switch {
	case !ok && name == "":
		return errors.New("this reading does not say which staff it was taken on, and the staffs have corrections; name the staff")
	case !ok:
		return fmt.Errorf("the staff %q has no correction, though others have; give its zero error and scale, nought if it has none", name)
	case s.Zero.Abs() > unit.Metre:
		return fmt.Errorf("a zero error of %s mm for the staff %q cannot be; check the number and its unit", s.Zero.Exact(unit.MM, 0), name)
	}
	scale, err := s.scale(reading.Abs())
	if err != nil {
		return fmt.Errorf("a scale of %s parts per million for the staff %q cannot be; check the number", s.PPM, name)
	}
	zero := s.Zero
	if reading < 0 {
		zero, scale = -zero, -scale
	}
	items.StaffZero, items.StaffScale = Of(zero), Of(scale)
	return nil
}

// scale is length × PPM/1,000,000. Above a tenth it is a slip.
func (s Staff) scale(length unit.Length) (unit.Length, error) {
	num := new(big.Int).Mul(big.NewInt(int64(length)), big.NewInt(s.PPM.Coef))
	den := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(s.PPM.Places)+6), nil)
	l, err := quotient(num, den)
	if err == nil && new(big.Int).Abs(big.NewInt(s.PPM.Coef)).Cmp(new(big.Int).Quo(den, big.NewInt(10))) > 0 {
		err = unit.ErrRange
	}
	return l, err
}
