package landxml

import (
	"sightrail/formats"
	"sightrail/formats/unit"
)

// reading reads an attribute that holds one number; it may be absent. NaN, a
// legal double, means that it is not given.
func (d *decoder) reading(a attrs, key string) formats.Reading {
	text := trim(a.raw(key))
	if len(text) == 0 {
		return formats.Reading{}
	}
	if string(text) == "NaN" {
		d.nan.add(key)
		return formats.Reading{}
	}
	v, exact, err := unit.ParseDecimal(text)
	if err != nil {
		d.refuse(key, "%s is not a number", shorten(text))
		return formats.Reading{}
	}
	d.rounded(v, exact)
	return formats.Reading{Set: true, Value: v, Col: d.at}
}

// rounded counts numbers that lost digits which may matter. Those that keep
// decimals enough do not: exporters write 19 digits where 12 mean something.
func (d *decoder) rounded(v unit.Decimal, exact bool) {
	if !exact && v.Places < enoughPlaces {
		d.long++
	}
}

// enoughPlaces decimals are what a unit.Length holds of a metre.
const enoughPlaces = 9

// coordinates splits a list of numbers, four at most: one more than a point
// has. bad is the first text that is not a coordinate.
func (d *decoder) coordinates(text []byte) (v [4]unit.Decimal, n int, bad []byte) {
	for {
		word, rest := nextWord(text)
		if len(word) == 0 {
			return v, n, nil
		}
		x, exact, err := unit.ParseDecimal(word)
		if err != nil {
			return v, n, word
		}
		d.rounded(x, exact)
		if n < len(v) {
			v[n] = x
			n++
		}
		text = rest
	}
}

// nextWord cuts the first word of a list.
func nextWord(b []byte) (word, rest []byte) {
	i := 0
	for i < len(b) && blank(b[i]) {
		i++
	}
	j := i
	for j < len(b) && !blank(b[j]) {
		j++
	}
	return b[i:j], b[j:]
}

// whole reads a plain positive whole number of at most nine digits.
func whole(b []byte) (int, bool) {
	n := 0
	if len(b) == 0 || len(b) > 9 {
		return 0, false
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, n > 0
}

// same reports whether two decimals are one number: 1.0 is 1.00.
func same(a, b unit.Decimal) bool {
	if a.Places < b.Places {
		a, b = b, a
	}
	for a.Places > b.Places {
		if a.Coef%10 != 0 {
			return false
		}
		a.Coef, a.Places = a.Coef/10, a.Places-1
	}
	return a.Coef == b.Coef
}

// near is the float64 next to d or next but one: for areas that are compared
// roughly.
func near(d unit.Decimal) float64 { return float64(d.Coef) / tens[d.Places] }

var tens = func() (t [unit.MaxDigits + 2]float64) {
	t[0] = 1
	for i := 1; i < len(t); i++ {
		t[i] = 10 * t[i-1]
	}
	return t
}()
