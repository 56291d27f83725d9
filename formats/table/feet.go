package table

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Feet and inches are read where the options declare them, in the columns of
// staff readings and levels of a book. A value becomes a decimal of inches,
// which is exact: 1/64 inch is 0.015625 inch.

// isFeetInches are headings that name feet and inches, without marks.
var isFeetInches = map[string]bool{"ftin": true, "ftins": true, "feetinches": true, "feetandinches": true, "ftandin": true, "feetinch": true}

// feetInchMarks are the signs that people and word processors write for feet
// and inches, and the fractions that have a character of their own.
var feetInchMarks = strings.NewReplacer("′′", `"`, "''", `"`, "’’", `"`, "″", `"`, "”", `"`, "“", `"`, "′", "'", "’", "'", "‘", "'",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8")

const howFeet = `write it like 5' 6 3/8", 5 ft 6 in or 5-6-3/8`

// feetInches reads feet and inches as inches: 5' 6 3/8", 5'-6", 5 ft 6.375 in,
// 6 3/8", 5', 5-6-3/8, with a minus sign in front. ok is false where the text
// does not say which number is which.
func feetInches(text string, comma bool) (v unit.Decimal, ok bool, why string) {
	t := strings.TrimSpace(feetInchMarks.Replace(strings.ToLower(text)))
	t, negative := strings.CutPrefix(t, "-")
	t = strings.TrimSpace(t)
	feet, inches, marked := cutFeet(t)
	if !marked {
		return v, false, ""
	}
	refuse := func(format string, args ...any) (unit.Decimal, bool, string) {
		return unit.Decimal{}, false, fmt.Sprintf("%q: ", text) + fmt.Sprintf(format, args...)
	}
	if feet != "" && inches == "" { // feet alone may have decimals
		d, _, err := unit.ParseDecimal(point(feet, comma))
		if err != nil || feet[0] == '-' || feet[0] == '+' {
			return refuse("%q is no number of feet; %s", feet, howFeet)
		}
		if v, ok = times12(d); !ok {
			return refuse("the number has too many digits to be turned into inches exactly")
		}
		return sign(v, negative), true, ""
	}
	whole, part, hasPart := inches, "", false
	if i := strings.IndexByte(inches, '/'); i >= 0 {
		hasPart = true
		j := strings.LastIndexAny(inches[:i], " -") + 1
		whole, part = strings.TrimRight(inches[:max(j-1, 0)], " -"), inches[j:]
	}
	if whole == "" && hasPart {
		whole = "0"
	}
	v, exact, err := unit.ParseDecimal(point(whole, comma))
	switch {
	case err != nil || !exact || whole[0] == '-' || whole[0] == '+' || v.Places > 15:
		return refuse("%q is no number of inches; %s", inches, howFeet)
	case hasPart && v.Places > 0:
		return refuse("decimals and a fraction of an inch stand together; write one of them")
	}
	if hasPart {
		n, d, good := fraction(part)
		if !good {
			return refuse("%q is no part of an inch; halves, quarters, 8ths, 16ths, 32nds and 64ths are read", part)
		}
		if v.Coef > math.MaxInt64/1_000_000_000 {
			return refuse("%q is no number of inches; %s", inches, howFeet)
		}
		v = trimmed(unit.Decimal{Coef: v.Coef*1_000_000 + n*(1_000_000/d), Places: 6})
	}
	if feet == "" {
		return sign(v, negative), true, ""
	}
	if whole12(v) {
		return refuse("%s inches make a foot or more; correct the cell", inches)
	}
	f, err := strconv.ParseInt(feet, 10, 64)
	if err != nil || !allDigits(feet) || f > 99_999 {
		return refuse("%q is no whole number of feet; %s", feet, howFeet)
	}
	if v.Places > 12 {
		return refuse("the inches have too many decimals to be kept exactly")
	}
	v.Coef += f * 12 * tens[v.Places]
	return sign(v, negative), true, ""
}

// cutFeet parts feet and inches by their marks. marked is false where there are
// none.
func cutFeet(t string) (feet, inches string, marked bool) {
	for _, w := range []string{"feet", "foot", "ft.", "ft", "'"} {
		if a, z, ok := strings.Cut(t, w); ok {
			feet, t, marked = strings.TrimSpace(a), z, true
			break
		}
	}
	t = strings.TrimLeft(strings.TrimSpace(t), " ")
	if marked {
		t = strings.TrimSpace(strings.TrimPrefix(t, "-"))
	}
	for _, w := range []string{"inches", "inch", "ins.", "ins", "in.", "in", `"`} {
		if a, ok := strings.CutSuffix(t, w); ok {
			return feet, strings.TrimSpace(a), true
		}
	}
	if !marked {
		// 5-6, 5-6-3/8 and 5-6 3/8 have no marks and can be nothing else
		if a, z, ok := strings.Cut(t, "-"); ok && allDigits(a) && z != "" && z[0] >= '0' && z[0] <= '9' {
			return a, z, true
		}
	}
	return feet, t, marked
}

// fraction reads "3/8": less than one, over a power of two to 64.
func fraction(t string) (n, d int64, ok bool) {
	a, z, _ := strings.Cut(t, "/")
	n, err1 := strconv.ParseInt(strings.TrimSpace(a), 10, 64)
	d, err2 := strconv.ParseInt(strings.TrimSpace(z), 10, 64)
	switch d {
	case 2, 4, 8, 16, 32, 64:
		return n, d, err1 == nil && err2 == nil && n > 0 && n < d
	}
	return 0, 0, false
}

func point(t string, comma bool) string {
	if comma {
		return strings.Replace(t, ",", ".", 1)
	}
	return t
}

func sign(d unit.Decimal, negative bool) unit.Decimal {
	if negative {
		return d.Neg()
	}
	return d
}

// trimmed takes noughts off the end of the decimals.
func trimmed(d unit.Decimal) unit.Decimal {
	for d.Places > 0 && d.Coef%10 == 0 {
		d.Coef, d.Places = d.Coef/10, d.Places-1
	}
	return d
}

// whole12 reports whether a number of inches, not negative, is 12 or more.
func whole12(d unit.Decimal) bool { return d.Coef/tens[d.Places] >= 12 }

// times12 turns feet into inches.
func times12(d unit.Decimal) (unit.Decimal, bool) {
	if d.Coef > math.MaxInt64/12 || d.Coef < -math.MaxInt64/12 {
		return unit.Decimal{}, false
	}
	d.Coef *= 12
	return d, true
}

// inFeet are the columns that hold decimal feet where readings are in feet and
// inches; the columns of distances are in feet as well, and stay so.
var inFeet = map[string]bool{Level: true, Known: true, Collimation: true, Chainage: true, Offset: true}

// feetNumber reads a number of a book in feet and inches, as inches.
func (r *rowReader) feetNumber(t, role string) (v unit.Decimal, exact bool, why string) {
	if role == Distance || role == DistanceBS || role == DistanceFS {
		return number(t, r.b.comma)
	}
	v, ok, why := feetInches(t, r.b.comma)
	if ok || why != "" {
		return v, true, why
	}
	v, exact, why = number(t, r.b.comma)
	switch {
	case why != "":
		return v, exact, why
	case !inFeet[role]:
		return v, false, fmt.Sprintf("%q does not say what is feet and what is inches; %s", t, howFeet)
	}
	inches, ok := times12(v)
	if !ok {
		return v, false, fmt.Sprintf("%q has too many digits to be turned into inches exactly", t)
	}
	return inches, exact, ""
}

// feetUnits judges the units of the headings of a book in feet and inches: a
// column is in feet, or in feet and inches, or does not say.
func (b *Builder) feetUnits(pos formats.Pos) {
	h := &b.h
	refuse := func(at formats.Pos, field, format string, args ...any) {
		b.refuse(at, field, format, args...)
		b.refused = true
	}
	if !h.book {
		refuse(pos, "unit", "feet and inches are read in level books only; write the points of this file in decimal feet")
		return
	}
	if b.opt.Unit.Known() && b.opt.Unit != unit.Ft {
		refuse(pos, "unit", "feet and inches are declared for the file, and %s as well; one of them is wrong", b.opt.Unit.Name)
	}
	for i := range h.columns {
		c := &h.columns[i]
		if !numeric[c.Role] {
			continue
		}
		if isFeetInches[plainWord(strings.ToLower(h.odd[i]))] {
			h.odd[i] = ""
		}
		if c.Unit == unit.FtUS {
			refuse(pos.At(pos.Row, c.Col), c.Heading, "feet and inches are those of the international foot, and this column is in US survey feet; write the book in decimal feet")
		} else if c.Unit.Known() && c.Unit != unit.Ft {
			refuse(pos.At(pos.Row, c.Col), c.Heading, "the heading says %s, and feet and inches are declared for the file; one of them is wrong", c.Unit.Name)
		}
	}
	h.unit, h.distance = unit.In, unit.Ft
}
