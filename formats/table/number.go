package table

import (
	"fmt"
	"strings"
	"unicode"

	"sightrail/formats/unit"
)

// blanks are the only characters that are taken off a cell in silence. A
// no-break space is none of them: it is shown.
const blanks = " \t\r\n"

func trim(s string) string {
	if s == "" || s[0] > ' ' && s[len(s)-1] > ' ' {
		return s
	}
	return strings.Trim(s, blanks)
}

// number reads a trimmed cell that is not blank. What is not plainly a number
// is refused, with what it may have been; nothing is changed in silence. exact
// is false when the number has more digits than are kept.
func number(t string, comma bool) (v unit.Decimal, exact bool, why string) {
	n := t
	if comma {
		if strings.IndexByte(t, '.') >= 0 {
			return v, false, dirty(t, comma)
		}
		n = strings.Replace(t, ",", ".", 1)
	}
	v, exact, err := unit.ParseDecimal(n)
	if err != nil {
		return unit.Decimal{}, false, dirty(t, comma)
	}
	return v, exact, ""
}

func isNumber(s string) bool { _, _, err := unit.ParseDecimal(s); return err == nil }

var (
	lookAlike = strings.NewReplacer("O", "0", "o", "0", "О", "0", "о", "0", "l", "1", "I", "1", "S", "5", "B", "8")
	oddSpace  = strings.NewReplacer("\u00a0", "", "\u202f", "", "\u2009", "", "\u2007", "", "\u200b", "", "\ufeff", "", "\u2060", "", "\u3000", "")
	oddMinus  = strings.NewReplacer("\u2212", "-", "\u2013", "-", "\u2014", "-", "\u2010", "-", "\u2011", "-", "\uff0d", "-", "\ufe63", "-")
)

// dirty says why a text is no number, and what it may have been.
func dirty(t string, comma bool) string {
	why, _ := dirt(t, comma)
	return why
}

// dirt is dirty with what the text may have been as a list.
func dirt(t string, comma bool) (why string, may []string) {
	mark, other := ".", ","
	if comma {
		mark, other = ",", "."
	}
	is := func(s string) bool { return isNumber(strings.Replace(s, mark, ".", 1)) && !strings.Contains(s, other) }
	digit := strings.ContainsAny(t, "0123456789")
	one := strings.Count(t, other) == 1
	swapped, without := strings.Replace(t, other, mark, 1), strings.ReplaceAll(t, other, "")
	switch {
	case strings.HasPrefix(t, "#"):
		return fmt.Sprintf("%q is a spreadsheet error, not a number; mend the formula in the workbook", t), nil
	case one && is(swapped) && comma:
		return fmt.Sprintf("%q has a decimal point, and the numbers of this file have a decimal comma; it may be %s or %s: write all numbers of the file in one way", t, swapped, without), []string{swapped, without}
	case one && is(swapped):
		return fmt.Sprintf("%q may be %s (decimal comma) or %s (thousands); write it without a comma, or declare \"decimal: comma\" for the file", t, swapped, without), []string{swapped, without}
	case strings.Contains(t, other) && is(without):
		return fmt.Sprintf("%q has marks between its thousands; it may be %s: write it without them", t, without), []string{without}
	case oddSpace.Replace(t) != t && is(oddSpace.Replace(t)):
		return fmt.Sprintf("%q holds a space that looks like nothing (a no-break space); it may be %s: correct the cell", t, oddSpace.Replace(t)), []string{oddSpace.Replace(t)}
	case oddMinus.Replace(t) != t && is(oddMinus.Replace(t)):
		return fmt.Sprintf("%q has a dash that is not a minus sign; it may be %s: correct the cell", t, oddMinus.Replace(t)), []string{oddMinus.Replace(t)}
	case strings.HasPrefix(t, "'") && is(t[1:]):
		return fmt.Sprintf("%q is a number that was made text with an apostrophe; it may be %s: correct the cell", t, t[1:]), []string{t[1:]}
	case len(t) > 1 && strings.HasSuffix(t, "-") && is("-"+t[:len(t)-1]):
		return fmt.Sprintf("%q has its minus sign behind it; it may be -%s: correct the cell", t, t[:len(t)-1]), []string{"-" + t[:len(t)-1]}
	case digit && is(lookAlike.Replace(t)):
		return fmt.Sprintf("%q holds a letter that looks like a digit; it may be %s: correct the cell", t, lookAlike.Replace(t)), []string{lookAlike.Replace(t)}
	case strings.IndexFunc(t, func(r rune) bool { return r > unicode.MaxASCII && unicode.IsDigit(r) }) >= 0:
		return fmt.Sprintf("%q holds digits of another script; write it with 0 to 9", t), nil
	case strings.Contains(t, " ") && is(strings.ReplaceAll(t, " ", "")):
		return fmt.Sprintf("%q has spaces inside; it may be %s: correct the cell", t, strings.ReplaceAll(t, " ", "")), []string{strings.ReplaceAll(t, " ", "")}
	case strings.ContainsAny(t, "'\"") && digit:
		return fmt.Sprintf("%q looks like feet and inches; write decimal feet, or declare \"unit: ft-in\" for a level book that is kept so", t), nil
	}
	if a, b, ok := strings.Cut(t, "+"); ok && allDigits(a) && is(b) {
		return fmt.Sprintf("%q is a chainage with a plus sign; it may be %s: write plain lengths, for the sign does not say how long a station is", t, a+b), []string{a + b}
	}
	if isNumber(strings.TrimLeft(t, "+-0123456789")) || allDigits(strings.TrimLeft(t, "+-")) {
		return fmt.Sprintf("%q has more than %d digits before the decimal point; no length is that large", t, unit.MaxDigits), nil
	}
	if i := strings.LastIndexAny(t, "0123456789."); i >= 0 && i < len(t)-1 && is(strings.TrimSpace(t[:i+1])) {
		return fmt.Sprintf("%q is a number with something behind it; it may be %s: keep the number alone in the cell and the unit in the heading", t, strings.TrimSpace(t[:i+1])), []string{strings.TrimSpace(t[:i+1])}
	}
	if i := strings.IndexAny(t, "+-0123456789."); i > 0 && is(t[i:]) {
		return fmt.Sprintf("%q is a number with something before it; it may be %s: keep the number alone in the cell", t, t[i:]), []string{t[i:]}
	}
	if _, ok, _ := feetInches(t, comma); ok && digit {
		return fmt.Sprintf("%q may be feet and inches; write decimal feet, or declare \"unit: ft-in\" for a level book that is kept so", t), nil
	}
	return fmt.Sprintf("%q is not a number", t), nil
}

func allDigits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// absent are the words that instruments and offices write for "no level".
var absent = map[string]bool{"n/a": true, "na": true, "n.a.": true, "nan": true, "*": true, "**": true, "***": true, "null": true, "none": true, "nil": true, "?": true}

// noValue reports whether a trimmed text stands for "no level". From common
// practice, no published source.
func noValue(t string) bool {
	if t == "" || t[0] > '9' && len(t) > 5 {
		return false
	}
	return absent[strings.ToLower(t)] || dash(t)
}

// noNumber reports whether a number stands for "no level": -9999, -32768 and
// 99999, with any decimals of zero.
func noNumber(d unit.Decimal) bool {
	c := d.Coef
	for range d.Places {
		if c%10 != 0 {
			return false
		}
		c /= 10
	}
	return c == -9999 || c == -32768 || c == 99999
}

// dash reports whether a cell holds a lone dash, which books use for an empty
// cell.
func dash(t string) bool {
	switch t {
	case "-", "--", "---", "\u2013", "\u2014", "\u2212":
		return true
	}
	return false
}
