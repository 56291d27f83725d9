package limits

import (
	"strings"

	"sightrail/formats/unit"
)

// limitPlaces is how many decimals of a millimetre a limit is printed with at
// most. It only cuts limits set in feet, such as 0.05 ftUS, 15.24003 mm.
const limitPlaces = 3

// lastDecimal is a billionth of a millimetre in counts of Length, rounded up.
const lastDecimal = 4

// String writes the limits in millimetres: "-30 / +10 mm", "not above +10 mm",
// "not below -30 mm", "no limit". It is plain ASCII, for cells and terminals.
func (t Tolerance) String() string {
	switch {
	case t.HasLower && t.HasUpper:
		return printLimit(t.Lower) + " / " + printLimit(t.Upper) + " mm"
	case t.HasUpper:
		return "not above " + printLimit(t.Upper) + " mm"
	case t.HasLower:
		return "not below " + printLimit(t.Lower) + " mm"
	}
	return "no limit"
}

func printLimit(l unit.Length) string {
	s := l.Fixed(unit.MM, limitPlaces)
	return plus(strings.TrimSuffix(strings.TrimRight(s, "0"), "."))
}

// plus writes a sign before a number that has none; zero keeps none.
func plus(s string) string {
	if s[0] == '-' || strings.Trim(s, "0.") == "" {
		return s
	}
	return "+" + s
}

// Printed writes the deviation in millimetres with its sign, "+12", "-3", "0":
// whole millimetres, tenths where whole millimetres would contradict the
// verdict ("+25.3" against a limit of 25), and more decimals where tenths still
// would. Half is rounded away from zero, in print only.
func (t Tolerance) Printed(deviation unit.Length) string {
	return plus(t.digits(deviation))
}

// PrintedBeyond writes how far past its limit a deviation is, as Judge gives
// it, in millimetres with its sign. What is beyond is never printed as 0.
func PrintedBeyond(beyond unit.Length) string {
	t := Tolerance{HasUpper: beyond >= 0, HasLower: beyond <= 0}
	return t.Printed(beyond)
}

// SurfaceAction says what brings a surface to design, in whole millimetres:
// "cut 12" where it is 12 high, "fill 12" where it is 12 low, "" where it is on
// design to the millimetre.
func SurfaceAction(diff unit.Length) string {
	return action(diff, diff.Fixed(unit.MM, 0), "cut ", "fill ")
}

// PipeAction says what brings a pipe to design: "lower 12" or "raise 12".
func PipeAction(diff unit.Length) string {
	return action(diff, diff.Fixed(unit.MM, 0), "lower ", "raise ")
}

// SurfaceAction is the action with the decimals of Printed, so that "+25.3" has
// "cut 25.3" beside it.
func (t Tolerance) SurfaceAction(diff unit.Length) string {
	return action(diff, t.digits(diff), "cut ", "fill ")
}

// PipeAction is the action with the decimals of Printed.
func (t Tolerance) PipeAction(diff unit.Length) string {
	return action(diff, t.digits(diff), "lower ", "raise ")
}

func action(diff unit.Length, digits, high, low string) string {
	digits = strings.TrimPrefix(digits, "-")
	switch {
	case strings.Trim(digits, "0.") == "":
		return ""
	case diff > 0:
		return high + digits
	}
	return low + digits
}

// digits writes the deviation in millimetres with as few decimals as keep it on
// its side of each limit.
func (t Tolerance) digits(deviation unit.Length) string {
	for places := range unit.MaxPlaces {
		s := deviation.Fixed(unit.MM, places)
		if t.agrees(s, deviation) {
			return s
		}
	}
	s := deviation.Fixed(unit.MM, unit.MaxPlaces)
	if t.agrees(s, deviation) {
		return s
	}
	// One count of Length can be finer than the last decimal. Rounding the
	// last decimal the other way puts the value on its side.
	for _, step := range []unit.Length{lastDecimal, -lastDecimal} {
		if s := (deviation + step).Fixed(unit.MM, unit.MaxPlaces); t.agrees(s, deviation) {
			return s
		}
	}
	return s
}

// agrees reports whether the printed millimetres lie on the same side of each
// limit as the deviation they stand for.
func (t Tolerance) agrees(printed string, deviation unit.Length) bool {
	return (!t.HasUpper || comparePrinted(printed, t.Upper) > 0 == (deviation > t.Upper)) &&
		(!t.HasLower || comparePrinted(printed, t.Lower) < 0 == (deviation < t.Lower))
}

// comparePrinted compares printed millimetres with a length, exactly: as whole
// numbers, digits × millimetre against length × 10^places.
func comparePrinted(printed string, l unit.Length) int {
	places := 0
	if i := strings.IndexByte(printed, '.'); i >= 0 {
		places = len(printed) - i - 1
	}
	scale := unit.Length(1)
	for range places {
		scale *= 10
	}
	digits := unit.Length(0)
	for _, c := range strings.TrimPrefix(printed, "-") {
		if c != '.' {
			digits = digits*10 + unit.Length(c-'0')
		}
	}
	if printed[0] == '-' {
		digits = -digits
	}
	return unit.CompareProducts(digits, unit.Millimetre, l, scale)
}

// PrintedGrade writes a fall over a horizontal length as "1 in 99.6" (one
// decimal, left out when it is 0) beside the least grade it was judged by, with
// more decimals where one would contradict the verdict. "level" where there is
// no fall, "-1 in 250" where it falls backwards.
func PrintedGrade(fall, length unit.Length, least unit.Grade) string {
	g := unit.Grade{Rise: fall, Run: length}
	v := LeastGrade(fall, length, least)
	if v == NotAssessed || fall <= 0 || least.Rise == 0 {
		return g.OneIn()
	}
	if g.Compare(least) == 0 {
		return least.OneIn() // 1.5 % is 1 in 66.666..., which no decimal says
	}
	n := unit.MulDiv(unit.Metre, length, fall)
	for places := 1; places <= unit.MaxPlaces; places++ {
		s := n.Fixed(unit.M, places)
		printed, exact, err := unit.Parse(s, unit.M)
		if err != nil || !exact {
			break
		}
		// 1 in printed passes when printed × rise ≤ 1 × run of the least grade
		if (unit.CompareProducts(printed, least.Rise, unit.Metre, least.Run) <= 0) == (v == Pass) {
			return "1 in " + strings.TrimSuffix(s, ".0")
		}
	}
	// Too near for decimals: say it in words.
	if v == Pass {
		return least.OneIn() + " or steeper"
	}
	return "flatter than " + least.OneIn()
}
