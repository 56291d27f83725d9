package xlsx

import (
	"strconv"
	"strings"
	"time"

	"sightrail/formats/table"
)

// cell turns one cell into text.
func (w *workbook) cell(kind string, style int, formula, hasValue bool, value, inline string) table.Cell {
	if formula {
		if !hasValue || value == "" && kind != "str" {
			return table.Cell{Bad: "the cell is a formula without a stored value; open the workbook, let it calculate, and save it"}
		}
		w.stored++
	}
	switch kind {
	case "s":
		if n, err := strconv.Atoi(value); err == nil && n >= 0 && n < len(w.strings) {
			return table.Cell{Text: w.strings[n]}
		}
		return table.Cell{Bad: "the cell names a text that the workbook does not have; it is damaged"}
	case "inlineStr":
		return table.Cell{Text: inline}
	case "str":
		return table.Cell{Text: value}
	case "b":
		return table.Cell{Text: map[string]string{"1": "true", "0": "false"}[value]}
	case "e":
		return table.Cell{Bad: strconv.Quote(value) + " is a spreadsheet error; mend the formula in the workbook"}
	case "d":
		return table.Cell{Text: value, Date: true}
	}
	if value == "" {
		return table.Cell{}
	}
	if style < len(w.dates) && w.dates[style] {
		return table.Cell{Text: w.date(value), Date: true}
	}
	return table.Cell{Text: shortest(value)}
}

// date writes a serial date as ISO text.
func (w *workbook) date(serial string) string {
	f, err := strconv.ParseFloat(serial, 64)
	if err != nil || f < 0 || f > 3e6 {
		return serial
	}
	day := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if w.from04 {
		day = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	t := day.Add(time.Duration(f*86400+0.5) * time.Second)
	if f == float64(int64(f)) {
		return t.Format("2006-01-02")
	}
	return t.Format("2006-01-02T15:04:05")
}

// shortest writes a stored number as a spreadsheet shows it: 15 significant
// digits, no exponent.
func shortest(value string) string {
	if plain(value) {
		return value
	}
	f, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return value
	}
	g := strconv.FormatFloat(f, 'g', 15, 64)
	f, err = strconv.ParseFloat(g, 64)
	if err != nil {
		return value
	}
	return strconv.FormatFloat(f, 'f', -1, 64)
}

// plain reports whether a number is written as shortest would: 15 digits or fewer, no
// exponent, and no nought that says nothing.
func plain[T string | []byte](s T) bool {
	i, point := 0, 0
	if len(s) > 0 && s[0] == '-' {
		i = 1
	}
	from := i
	for ; i < len(s); i++ {
		if s[i]-'0' <= 9 {
			continue
		}
		if s[i] != '.' || point > 0 || i == from {
			return false
		}
		point = i
	}
	n := i - from
	switch {
	case n == 0:
		return false
	case point == 0:
		return n <= 15 && (s[from] != '0' || len(s) == 1)
	}
	return n <= 16 && (s[from] != '0' || point == from+1) && point < len(s)-1 && s[len(s)-1] != '0'
}

// columnOf is the column number of a reference such as AB12.
func columnOf(ref string) int {
	n := 0
	for i := 0; i < len(ref) && ref[i] >= 'A' && ref[i] <= 'Z'; i++ {
		n = n*26 + int(ref[i]-'A') + 1
	}
	if n > 16384 {
		return 0
	}
	return n
}

// dateFormat reports whether a number format shows a date or a time.
func dateFormat(id, code string) bool {
	n, _ := strconv.Atoi(id)
	if n >= 14 && n <= 22 || n >= 45 && n <= 47 {
		return true
	}
	// outside quotes, brackets and escapes, the letters of date and time
	quote, bracket := false, false
	for i := 0; i < len(code); i++ {
		switch c := code[i]; {
		case c == '"':
			quote = !quote
		case quote:
		case c == '\\' || c == '_' || c == '*':
			i++
		case c == '[':
			bracket = true
		case c == ']':
			bracket = false
		case bracket:
		case strings.IndexByte("ymdhsYMDHS", c) >= 0:
			return true
		}
	}
	return false
}
