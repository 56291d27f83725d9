package table

import "strings"

// months as spreadsheets abbreviate them in dates made of names such as 3-4.
const months = "jan feb mar apr may jun jul aug sep oct nov dec"

// oddName says what may have happened to a name: spreadsheets turn 06E2 into
// 6.00E+02 and 3-4 into 03-Apr, and leave spaces that nobody sees. The name is
// kept as it is.
func oddName(id string) string {
	if len(id) == 0 || isPlain(id) {
		return ""
	}
	if i := strings.Index(id, "E+"); i > 0 && allDigits(id[i+2:]) && isNumber(id[:i]) {
		return "looks like a name that a spreadsheet turned into a power; compare it with the field record"
	}
	if a, z, ok := strings.Cut(id, "-"); ok {
		if len(a) > len(z) {
			a, z = z, a
		}
		if len(a) <= 2 && allDigits(a) && len(z) == 3 && strings.Contains(months, strings.ToLower(z)) {
			return "looks like a name that a spreadsheet turned into a date; compare it with the field record"
		}
	}
	if oddSpace.Replace(id) != id {
		return "holds a space that looks like nothing (a no-break space); it is another name than the one without it"
	}
	return ""
}

// isPlain is the quick way past: nothing in it that oddName looks for.
func isPlain(id string) bool {
	for i := 0; i < len(id); i++ {
		if c := id[i]; c == '-' || c == '+' || c >= 0x80 {
			return false
		}
	}
	return true
}
