package unit

import (
	"fmt"
	"strings"
)

// ParseQuantity reads a number with its unit, as a job file writes it:
// "10 mm", "-0.450 m", "1.5 ft". The unit is never left out.
func ParseQuantity(text string) (Length, error) {
	number, name, ok := cutUnit(text)
	if !ok {
		return 0, fmt.Errorf("%q needs a number and a unit, such as \"10 mm\" or \"0.450 m\"", text)
	}
	u, ok := ByName(name)
	if !ok {
		return 0, fmt.Errorf("%q: %q is not a unit of length; use %s", text, name, unitNames())
	}
	l, exact, err := Parse(number, u)
	switch {
	case err != nil:
		return 0, err
	case !exact:
		return 0, fmt.Errorf("%q has more decimals than can be kept exactly", text)
	}
	return l, nil
}

// cutUnit splits "10 mm" and "10mm" at the end of the number.
func cutUnit(text string) (number, name string, ok bool) {
	text = strings.TrimSpace(text)
	i := strings.LastIndexAny(text, "0123456789.") + 1
	number, name = strings.TrimSpace(text[:i]), strings.TrimSpace(text[i:])
	return number, name, number != "" && name != ""
}

func unitNames() string {
	names := make([]string, len(Units))
	for i, u := range Units {
		names[i] = u.Name
	}
	return strings.Join(names, ", ")
}

// Grade is a vertical in a horizontal distance: Rise over Run. Run is never
// zero or negative in a grade that ParseGrade returned.
type Grade struct{ Rise, Run Length }

// ParseGrade reads "1 in 100", "1 %" or "10 mm/m". A sign is kept: whether
// plus is up or down is for the place that uses the grade to say. A bare ratio
// such as "2:1" is refused, because it does not say which number is vertical.
func ParseGrade(text string) (Grade, error) {
	t := strings.TrimSpace(text)
	if a, b, ok := strings.Cut(t, " in "); ok {
		rise, e1, err1 := Parse(strings.TrimSpace(a), M)
		run, e2, err2 := Parse(strings.TrimSpace(b), M)
		if err1 == nil && err2 == nil && e1 && e2 && run > 0 {
			return Grade{rise, run}, nil
		}
		return Grade{}, gradeError(text)
	}
	for suffix, run := range map[string]Length{"%": 100 * Metre, "mm/m": 1000 * Metre} {
		if number, ok := strings.CutSuffix(t, suffix); ok {
			rise, exact, err := Parse(strings.TrimSpace(number), M)
			if err == nil && exact {
				return Grade{rise, run}, nil
			}
			return Grade{}, gradeError(text)
		}
	}
	if strings.Contains(t, ":") {
		return Grade{}, fmt.Errorf("%q does not say which number is vertical; write \"1 in N\" (vertical in horizontal), \"%%\" or \"mm/m\"", text)
	}
	return Grade{}, gradeError(text)
}

func gradeError(text string) error {
	return fmt.Errorf("%q is not a grade; write \"1 in 100\", \"1 %%\" or \"10 mm/m\"", text)
}

// Over returns the rise over a horizontal distance, rounded once to one count.
func (g Grade) Over(run Length) Length { return MulDiv(run, g.Rise, g.Run) }

// Compare returns the sign of g − o, exactly.
func (g Grade) Compare(o Grade) int { return CompareProducts(g.Rise, o.Run, o.Rise, g.Run) }

// Ratio returns rise over run as a float64, for drawing.
func (g Grade) Ratio() float64 { return float64(g.Rise) / float64(g.Run) }

// OneIn prints the grade as "1 in 100" or "1 in 87.3", or "level" when it has no rise. The
// sign of a grade that runs the other way is printed before it.
func (g Grade) OneIn() string {
	if g.Rise == 0 {
		return "level"
	}
	sign, rise := "", g.Rise
	if rise < 0 {
		sign, rise = "-", -rise
	}
	return sign + "1 in " + strings.TrimSuffix(MulDiv(Metre, g.Run, rise).Fixed(M, 1), ".0")
}

// Percent prints the grade as "1.000 %".
func (g Grade) Percent() string { return MulDiv(100*Metre, g.Rise, g.Run).Fixed(M, 3) + " %" }
