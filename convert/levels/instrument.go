package levels

import (
	"errors"
	"fmt"
	"math/big"
	"strings"

	"sightrail/formats/unit"
)

// LineLimit is the largest error of a line of sight, or of a plane of light,
// that is accepted: a height over a length, such as "10 mm in 100 m". The zero
// LineLimit judges nothing.
type LineLimit struct {
	unit.Grade
	Text string // as written
}

// ParseLineLimit reads "10 mm in 100 m", "1.0 mm over 50 m" or a grade, such as
// "0.1 mm/m" or "1 in 10000".
func ParseLineLimit(text string) (LineLimit, error) {
	t := strings.TrimSpace(text)
	l := LineLimit{Text: t}
	for _, word := range []string{" in ", " over "} {
		at := strings.LastIndex(t, word)
		if at < 0 {
			continue
		}
		rise, err := unit.ParseQuantity(t[:at])
		run, errRun := unit.ParseQuantity(t[at+len(word):])
		if err == nil && errRun == nil {
			l.Grade = unit.Grade{Rise: rise, Run: run}
			break
		}
	}
	if !l.Given() {
		if g, err := unit.ParseGrade(t); err == nil {
			l.Grade = g
		}
	}
	if l.Rise <= 0 || l.Run <= 0 {
		return LineLimit{}, fmt.Errorf("%q is not a limit for a line of sight; write a height over a length, such as \"10 mm in 100 m\" or \"0.1 mm/m\"", text)
	}
	return l, nil
}

// Given reports whether there is a limit at all.
func (l LineLimit) Given() bool { return l.Run != 0 }

// Allows reports whether an error is within the limit, either way; on the limit
// it is. Products of whole numbers are compared.
func (l LineLimit) Allows(e unit.Grade) bool {
	return unit.CompareProducts(e.Rise.Abs(), l.Run, l.Rise, e.Run) <= 0
}

// PegSetup is one standing of the instrument in a two-peg test: the readings on
// both pegs and the lengths of the two sights. A reading whose sight has length
// 0 is the height of the eyepiece over the peg, measured there.
type PegSetup struct {
	A, B         unit.Length
	DistA, DistB Value
}

// TwoPeg is a two-peg test of a level. Mid is the set-up between the pegs; when
// it has no distances it stood midway. End is the set-up near one peg, or beyond
// it. Mid may stand anywhere when its distances are given, so long as the sights
// of the two set-ups do not differ by the same length. Where the levels of both
// pegs are known there is no Mid. The zero TwoPeg is a test that was not
// supplied.
type TwoPeg struct {
	Date           string // as the job has it
	Mid, End       PegSetup
	KnownA, KnownB Value // levels of the pegs
	Limit          LineLimit
}

// TwoPegResult is what a two-peg test gives. The zero result is "not supplied".
type TwoPegResult struct {
	Supplied bool
	Date     string
	// True is the level of B minus the level of A, free of the error, rounded
	// once; Apparent is the same as the end set-up reads it.
	True, Apparent unit.Length
	// Error of the line of sight, exact: + when it rises away from the
	// instrument. The correction of a reading is −Error × distance.
	Error unit.Grade
	// RightA and RightB are what the end set-up would read without the error,
	// each rounded once.
	RightA, RightB unit.Length
	FromKnown      bool // from known levels of the pegs, with one set-up
	Limit          LineLimit
	Judged, Within bool // Within only when Judged
}

// Supplied reports whether there is a test.
func (t TwoPeg) Supplied() bool {
	return t.Mid != PegSetup{} || t.End != PegSetup{} || t.KnownA.Set || t.KnownB.Set
}

// Result works the test out. The difference of level is D + e·L in every
// set-up, with D the reading on A minus that on B, and L the sight to B minus
// that to A; two set-ups, or one and the known difference, give e.
func (t TwoPeg) Result() (TwoPegResult, error) {
	if !t.Supplied() {
		return TwoPegResult{}, nil
	}
	r := TwoPegResult{Supplied: true, Date: t.Date, Limit: t.Limit, FromKnown: t.KnownA.Set || t.KnownB.Set}
	end, endLever, err := t.End.difference("the end set-up", true)
	if err != nil {
		return TwoPegResult{}, err
	}
	r.Apparent = end
	if r.FromKnown {
		err = t.fromKnown(&r, endLever)
	} else {
		err = t.fromMid(&r, endLever)
	}
	if err == nil && steep(r.Error) {
		err = errors.New("two-peg test: the line of sight would be more than 1 in 10 out of level, which no instrument is; check the readings, the distances and their units")
	}
	if err != nil {
		return TwoPegResult{}, err
	}
	r.RightA = t.End.A - r.Error.Over(t.End.DistA.L)
	r.RightB = t.End.B - r.Error.Over(t.End.DistB.L)
	if r.Judged = t.Limit.Given(); r.Judged {
		r.Within = t.Limit.Allows(r.Error)
	}
	return r, nil
}

func (t TwoPeg) fromMid(r *TwoPegResult, endLever unit.Length) error {
	if t.Mid == (PegSetup{}) {
		return errors.New("two-peg test: there is one set-up and no known level; give the set-up between the pegs, or the known levels of both")
	}
	mid, lever, err := t.Mid.difference("the set-up between the pegs", false)
	if err != nil {
		return err
	}
	if lever == endLever {
		return fmt.Errorf("two-peg test: in both set-ups the sight to B is %s m longer than the sight to A, so they show the same error and it cannot be told; set up midway between the pegs, and then near one of them", lever.Exact(unit.M, 0))
	}
	r.Error = slope(mid-r.Apparent, endLever-lever)
	if !steep(r.Error) {
		r.True = mid + r.Error.Over(lever)
	}
	return nil
}

func (t TwoPeg) fromKnown(r *TwoPegResult, lever unit.Length) error {
	for _, p := range []struct {
		peg string
		v   Value
	}{{"A", t.KnownA}, {"B", t.KnownB}} {
		switch {
		case !p.v.Set:
			return fmt.Errorf("two-peg test: the known level of peg %s is missing; give both levels, or neither and a set-up between the pegs", p.peg)
		case p.v.L.Abs() > MaxLevel:
			return fmt.Errorf("two-peg test: a known level of %s m for peg %s is on no ground; check the number and its unit", p.v.L.Fixed(unit.M, 0), p.peg)
		}
	}
	if t.Mid != (PegSetup{}) {
		return errors.New("two-peg test: there are known levels and a set-up between the pegs; give one or the other, so that it is clear which difference is the true one")
	}
	if lever == 0 {
		return errors.New("two-peg test: the sights to both pegs are equally long, so the error drops out and cannot be told; set up nearer to one of them")
	}
	r.True = t.KnownB.L - t.KnownA.L
	r.Error = slope(r.True-r.Apparent, lever)
	return nil
}

// difference returns the level of B minus that of A as one set-up reads it, and
// how much longer the sight to B is.
func (s PegSetup) difference(which string, needed bool) (d, lever unit.Length, err error) {
	for _, v := range []unit.Length{s.A, s.B} {
		if v.Abs() > MaxReading {
			return 0, 0, fmt.Errorf("two-peg test: %s has a reading of %s m, longer than any staff; check the number and its unit", which, v.Fixed(unit.M, 0))
		}
	}
	if !needed && !s.DistA.Set && !s.DistB.Set {
		return s.A - s.B, 0, nil
	}
	for _, x := range []struct {
		peg string
		v   Value
	}{{"A", s.DistA}, {"B", s.DistB}} {
		switch {
		case !x.v.Set && needed:
			return 0, 0, fmt.Errorf("two-peg test: %s has no distance to peg %s; give the lengths of both sights", which, x.peg)
		case !x.v.Set:
			return 0, 0, fmt.Errorf("two-peg test: %s has no distance to peg %s; give the lengths of both sights, or neither when it stood midway", which, x.peg)
		case x.v.L < 0 || x.v.L > MaxSight:
			return 0, 0, fmt.Errorf("two-peg test: %s has a sight of %s m to peg %s, which cannot be; check the distance and its unit", which, x.v.L.Exact(unit.M, 0), x.peg)
		}
	}
	if s.DistA.L == 0 && s.DistB.L == 0 {
		return 0, 0, fmt.Errorf("two-peg test: %s has sights of nought to both pegs; an instrument stands over one of them at most, so give the other distance", which)
	}
	return s.A - s.B, s.DistB.L - s.DistA.L, nil
}

// slope is a rise over a run of either sign, as a Grade.
func slope(rise, run unit.Length) unit.Grade {
	if run < 0 {
		rise, run = -rise, -run
	}
	return unit.Grade{Rise: rise, Run: run}
}

// steep reports whether an error is of a slip of the pen, not of an instrument.
func steep(e unit.Grade) bool {
	return unit.CompareProducts(e.Rise.Abs(), 10, e.Run, 1) > 0
}

// RotatingCheck is the check of a rotating laser on one staff at one distance:
// the instrument is turned in steps of a quarter so that its marks 0, 90, 180
// and 270 face the staff in turn. An axis whose two readings are missing is not
// tested. The zero RotatingCheck is a check that was not supplied.
type RotatingCheck struct {
	Date                string // as the job has it
	R0, R90, R180, R270 Value
	Distance            Value
	Cone                ConeCheck
	Limit               LineLimit // of each axis, and of the cone
}

// ConeCheck is what shows whether the beam sweeps a cone instead of a plane:
// two pegs of known difference at unlike distances, each read with mark 0 and
// with mark 180 towards it, so that the error of level drops out. The zero
// ConeCheck was not made.
type ConeCheck struct {
	Near, Far Facing
	Known     Value // level of the far peg minus that of the near one
}

// Facing is a peg read with two opposite marks towards it.
type Facing struct {
	R0, R180 unit.Length
	Distance Value
}

// RotatingResult is what the check gives. A Grade with Run 0 was not tested. The
// zero result is "not supplied".
type RotatingResult struct {
	Supplied bool
	Date     string
	// Axis0 is (r0 − r180) / 2D: + when the plane rises towards mark 0 of the
	// instrument. Axis90 is (r90 − r270) / 2D: + when it rises towards mark 90.
	Axis0, Axis90 unit.Grade
	Cone          unit.Grade // + when the beam rises away from the instrument all round
	Limit         LineLimit
	Judged        bool // both axes were tested, or something is beyond the limit
	Within        bool // only when Judged
}

// Supplied reports whether there is a check.
func (c RotatingCheck) Supplied() bool {
	return c.R0.Set || c.R90.Set || c.R180.Set || c.R270.Set || c.Distance.Set || c.Cone != ConeCheck{}
}

// Result works the check out.
func (c RotatingCheck) Result() (RotatingResult, error) {
	if !c.Supplied() {
		return RotatingResult{}, nil
	}
	r := RotatingResult{Supplied: true, Date: c.Date, Limit: c.Limit}
	var err error
	if r.Axis0, err = c.axis(c.R0, c.R180, "0", "180"); err != nil {
		return RotatingResult{}, err
	}
	if r.Axis90, err = c.axis(c.R90, c.R270, "90", "270"); err != nil {
		return RotatingResult{}, err
	}
	if r.Cone, err = c.Cone.slope(); err != nil {
		return RotatingResult{}, err
	}
	for _, e := range []unit.Grade{r.Axis0, r.Axis90, r.Cone} {
		if steep(e) {
			return RotatingResult{}, errors.New("rotating-laser check: the plane would be more than 1 in 10 out of level, which no instrument is; check the readings, the distances and their units")
		}
	}
	if !c.Limit.Given() {
		return r, nil
	}
	r.Judged, r.Within = true, true
	for _, e := range []unit.Grade{r.Axis0, r.Axis90, r.Cone} {
		r.Within = r.Within && (e.Run == 0 || c.Limit.Allows(e))
	}
	if r.Within && (r.Axis0.Run == 0 || r.Axis90.Run == 0) {
		r.Judged, r.Within = false, false
	}
	return r, nil
}

// axis works out the error of level of one axis.
func (c RotatingCheck) axis(one, other Value, mark, opposite string) (unit.Grade, error) {
	if !one.Set && !other.Set {
		return unit.Grade{}, nil
	}
	for _, x := range []struct {
		v    Value
		mark string
	}{{one, mark}, {other, opposite}} {
		switch {
		case !x.v.Set:
			return unit.Grade{}, fmt.Errorf("rotating-laser check: the reading with mark %s towards the staff is missing; an axis needs the readings of two opposite marks", x.mark)
		case x.v.L.Abs() > MaxReading:
			return unit.Grade{}, fmt.Errorf("rotating-laser check: mark %s has a reading of %s m, longer than any staff; check the number and its unit", x.mark, x.v.L.Fixed(unit.M, 0))
		}
	}
	if err := laserDistance("the staff", c.Distance); err != nil {
		return unit.Grade{}, err
	}
	return unit.Grade{Rise: one.L - other.L, Run: 2 * c.Distance.L}, nil
}

func laserDistance(to string, d Value) error {
	switch {
	case !d.Set:
		return fmt.Errorf("rotating-laser check: the distance to %s is missing; an error of level is a height over a distance", to)
	case d.L <= 0 || d.L > MaxSight:
		return fmt.Errorf("rotating-laser check: a distance of %s m to %s cannot be; check the number and its unit", d.L.Exact(unit.M, 0), to)
	}
	return nil
}

// slope works out the cone error, from the means of opposite marks.
func (c ConeCheck) slope() (unit.Grade, error) {
	if c == (ConeCheck{}) {
		return unit.Grade{}, nil
	}
	if !c.Known.Set {
		return unit.Grade{}, errors.New("rotating-laser check: the difference of level between the near and the far peg is not known, and without it the cone error cannot be told; level it with both sights equal")
	}
	if c.Known.L.Abs() > MaxLevel {
		return unit.Grade{}, fmt.Errorf("rotating-laser check: a difference of %s m between two pegs cannot be; check the number and its unit", c.Known.L.Fixed(unit.M, 0))
	}
	for _, x := range []struct {
		peg string
		f   Facing
	}{{"the near peg", c.Near}, {"the far peg", c.Far}} {
		for _, v := range []unit.Length{x.f.R0, x.f.R180} {
			if v.Abs() > MaxReading {
				return unit.Grade{}, fmt.Errorf("rotating-laser check: %s has a reading of %s m, longer than any staff; check the number and its unit", x.peg, v.Fixed(unit.M, 0))
			}
		}
		if err := laserDistance(x.peg, x.f.Distance); err != nil {
			return unit.Grade{}, err
		}
	}
	lever := c.Far.Distance.L - c.Near.Distance.L
	if lever <= 0 {
		return unit.Grade{}, fmt.Errorf("rotating-laser check: the far peg is at %s m and the near one at %s m; the cone error shows only where the far one is further away", c.Far.Distance.L.Exact(unit.M, 0), c.Near.Distance.L.Exact(unit.M, 0))
	}
	apparent := c.Near.R0 + c.Near.R180 - c.Far.R0 - c.Far.R180 // twice
	return unit.Grade{Rise: 2*c.Known.L - apparent, Run: 2 * lever}, nil
}

// Evidence is what the job supplies to show that the instrument was in order.
type Evidence struct {
	TwoPeg   TwoPegResult
	Rotating RotatingResult
}

// Words says in two lines what was supplied; lengths are in u, in metres when
// it is not known.
func (e Evidence) Words(u unit.Unit) []string {
	return []string{e.TwoPeg.Words(u), e.Rotating.Words(u)}
}

// Words is the test in one line of a report.
func (r TwoPegResult) Words(u unit.Unit) string {
	if !r.Supplied {
		return "two-peg test: not supplied"
	}
	u = lengthUnit(u)
	from := "true difference A to B"
	if r.FromKnown {
		from = "known difference A to B"
	}
	return fmt.Sprintf("two-peg test%s: line of sight %s; %s %s %s, apparent %s %s; %s", dated(r.Date), r.Limit.rises(r.Error, u),
		from, r.True.Exact(u, 3), u, r.Apparent.Exact(u, 3), u, r.Limit.outcome(r.Judged, r.Within))
}

// Words is the check in one line of a report.
func (r RotatingResult) Words(u unit.Unit) string {
	if !r.Supplied {
		return "rotating-laser check: not supplied"
	}
	u = lengthUnit(u)
	axis := func(e unit.Grade, mark string) string {
		if e.Run == 0 {
			return fmt.Sprintf("axis of mark %s not tested", mark)
		}
		return fmt.Sprintf("towards mark %s %s", mark, r.Limit.rises(e, u))
	}
	cone := "cone error not tested"
	if r.Cone.Run != 0 {
		cone = "away from the instrument all round " + r.Limit.rises(r.Cone, u)
	}
	outcome := r.Limit.outcome(r.Judged, r.Within)
	if r.Limit.Given() && !r.Judged {
		outcome = fmt.Sprintf("limit %s: not judged, both axes must be tested", r.Limit.Text)
	}
	return fmt.Sprintf("rotating-laser check%s: %s; %s; %s; %s", dated(r.Date), axis(r.Axis0, "0"), axis(r.Axis90, "90"), cone, outcome)
}

func dated(date string) string {
	if date == "" {
		return ", date not stated"
	}
	return " of " + date
}

func lengthUnit(u unit.Unit) unit.Unit {
	if !u.Known() {
		return unit.M
	}
	return u
}

// rises says an error as a height over 100 m or 100 feet, with as many decimals
// as it takes not to contradict the verdict.
func (l LineLimit) rises(e unit.Grade, u unit.Unit) string {
	base, small, places := unit.M, unit.MM, 1
	if u == unit.Ft || u == unit.FtUS {
		base, small, places = u, u, 4
	}
	height, length := unit.MulDiv(100*base.Size, e.Rise.Abs(), e.Run), 100*base.Size
	shown := height.Fixed(small, places)
	for l.Given() && places < unit.MaxPlaces {
		p, _, err := unit.Parse(shown, small)
		if err == nil && l.Allows(e) == l.Allows(unit.Grade{Rise: p, Run: length}) {
			break
		}
		places++
		shown = height.Fixed(small, places)
	}
	way := "rises"
	switch {
	case e.Rise == 0:
		return "is level"
	case e.Rise < 0:
		way = "falls"
	}
	return fmt.Sprintf("%s %s %s in 100 %s", way, shown, small, base)
}

// outcome says the limit and the verdict.
func (l LineLimit) outcome(judged, within bool) string {
	switch {
	case !judged:
		return "no limit given, not judged"
	case within:
		return fmt.Sprintf("limit %s: within", l.Text)
	}
	return fmt.Sprintf("limit %s: beyond", l.Text)
}

// quotient returns num/den, rounded half away from zero to one count of Length;
// den is not zero.
func quotient(num, den *big.Int) (unit.Length, error) {
	n, d := new(big.Int).Abs(num), new(big.Int).Abs(den)
	n.Lsh(n, 1).Add(n, d)
	n.Quo(n, d.Lsh(d, 1))
	if !n.IsInt64() {
		return 0, unit.ErrRange
	}
	if num.Sign()*den.Sign() < 0 {
		return -unit.Length(n.Int64()), nil
	}
	return unit.Length(n.Int64()), nil
}
