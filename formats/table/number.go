package table

import (
	"fmt"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// number reads a cell that should hold a number. A blank cell is not set. What
// is not plainly a number is refused, with what it may have been; nothing is
// changed in silence.
func (b *Builder) number(text string, col int) (formats.Reading, string) {
	t := strings.TrimSpace(text)
	if t == "" {
		return formats.Reading{}, ""
	}
	r := formats.Reading{Set: true, Col: col}
	if len(t) > 2 && t[0] == '(' && t[len(t)-1] == ')' {
		r.Bracket, t = true, strings.TrimSpace(t[1:len(t)-1])
	}
	n := t
	if b.comma && strings.Count(n, ",") == 1 && !strings.Contains(n, ".") {
		n = strings.Replace(n, ",", ".", 1)
	}
	v, _, err := unit.ParseDecimal(n)
	if err != nil {
		return formats.Reading{}, dirty(t, b.comma)
	}
	r.Value = v
	return r, ""
}

var lookAlike = strings.NewReplacer("O", "0", "o", "0", "l", "1", "I", "1", "S", "5", "B", "8")

// dirty says why a text is no number, and what it may have been.
func dirty(t string, comma bool) string {
	is := func(s string) bool { _, _, err := unit.ParseDecimal(s); return err == nil }
	clean := strings.NewReplacer("\u00a0", "", "\u202f", "", "\u2009", "").Replace(t)
	switch {
	case strings.HasPrefix(t, "#"):
		return fmt.Sprintf("%q is a spreadsheet error, not a number; mend the formula in the workbook", t)
	case strings.Count(t, ",") == 1 && is(strings.Replace(t, ",", ".", 1)) && is(strings.Replace(t, ",", "", 1)) && !comma:
		return fmt.Sprintf("%q may be %s (decimal comma) or %s (thousands); write it without a comma, or declare \"decimal: comma\" for the file", t,
			strings.Replace(t, ",", ".", 1), strings.Replace(t, ",", "", 1))
	case clean != t && is(clean):
		return fmt.Sprintf("%q holds a space that looks like nothing (a no-break space); it may be %s: correct the cell", t, clean)
	case strings.ContainsAny(t, "\u2212\u2013") && is(strings.NewReplacer("\u2212", "-", "\u2013", "-").Replace(t)):
		return fmt.Sprintf("%q has a dash that is not a minus sign; it may be %s: correct the cell", t, strings.NewReplacer("\u2212", "-", "\u2013", "-").Replace(t))
	case is(lookAlike.Replace(t)):
		return fmt.Sprintf("%q holds a letter that looks like a digit; it may be %s: correct the cell", t, lookAlike.Replace(t))
	}
	if i := strings.LastIndexAny(t, "0123456789."); i >= 0 && i < len(t)-1 && is(strings.TrimSpace(t[:i+1])) {
		return fmt.Sprintf("%q is a number with something behind it; it may be %s: keep the number alone in the cell and the unit in the heading", t, strings.TrimSpace(t[:i+1]))
	}
	return fmt.Sprintf("%q is not a number", t)
}

// absent lists what instruments and offices write for "no level".
var absent = map[string]bool{"-9999": true, "-9999.0": true, "-9999.000": true, "-32768": true, "99999": true, "9999": false, "n/a": true, "na": true, "*": true, "-": true, "null": true, "none": true}

func noValue(t string) bool { return absent[strings.ToLower(strings.TrimSpace(t))] }
