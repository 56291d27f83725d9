package csvfile

import (
	"strings"

	"sightrail/formats"
	"sightrail/formats/table"
	"sightrail/formats/unit"
)

func delimiterName(r rune) string {
	return map[rune]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "pipe", ' ': "space"}[r]
}

// findDelimiter takes the delimiter under which a heading is found, and of
// several, or where columns are declared, the one that leaves most numbers.
// spaces says that only spaces make a heading: they have to be declared.
func findDelimiter(sample []string, opt formats.Options) (delim rune, spaces bool) {
	const fits = 1 << 20
	best, score := ',', -1
	for _, d := range []rune{',', ';', '\t', '|'} {
		s := splitter{delim: byte(d)}
		rows := s.all(sample)
		n := numbers(rows, d)
		if len(opt.Columns) == 0 && table.Fits(rows, opt) {
			n += fits
		}
		if n > score {
			best, score = d, n
		}
	}
	if score < fits && len(opt.Columns) == 0 {
		s := splitter{delim: ' '}
		spaces = table.Fits(s.all(sample), opt)
	}
	return best, spaces
}

// numbers counts the cells that are numbers, in rows of more than one.
func numbers(rows [][]table.Cell, delim rune) int {
	n := 0
	for _, row := range rows {
		if len(row) < 2 {
			continue
		}
		for _, c := range row {
			t := strings.TrimSpace(c.Text)
			if delim != ',' {
				t = strings.Replace(t, ",", ".", 1)
			}
			if _, _, err := unit.ParseDecimal(t); err == nil {
				n++
			}
		}
	}
	return n
}
