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
		return 0, fmt.Errorf("%s needs a number and a unit, such as \"10 mm\" or \"0.450 m\"", quoted(text))
	}
	u, ok := ByName(name)
	if !ok {
		return 0, fmt.Errorf("%s: %s is not a unit of length; use %s", quoted(text), quoted(name), unitNames())
	}
	l, exact, err := Parse(number, u)
	switch {
	case err != nil:
		return 0, err
	case !exact:
		return 0, fmt.Errorf("%s has more decimals than can be kept exactly", quoted(text))
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
	if strings.Contains(t, ":") {
		return Grade{}, fmt.Errorf("%s does not say which number is vertical; write \"1 in N\" (vertical in horizontal), \"%%\" or \"mm/m\"", quoted(text))
	}
	run := ""
	if rise, over, ok := strings.Cut(t, " in "); ok {
		t, run = rise, over
	} else if rise, ok := strings.CutSuffix(t, "%"); ok {
		t, run = rise, "100"
	} else if rise, ok := strings.CutSuffix(t, "mm/m"); ok {
		t, run = rise, "1000"
	}
	rise, exactRise, err := Parse(strings.TrimSpace(t), M)
	over, exactRun, errRun := Parse(strings.TrimSpace(run), M)
	if err != nil || errRun != nil || !exactRise || !exactRun || over <= 0 {
		return Grade{}, fmt.Errorf("%s is not a grade; write \"1 in 100\", \"1 %%\" or \"10 mm/m\"", quoted(text))
	}
	return Grade{rise, over}, nil
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
