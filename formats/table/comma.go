package table

import (
	"strings"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// DecimalComma finds out from the first rows of a grid whether its numbers have
// a decimal comma: some do, none has a point, and it cannot be a mark between
// thousands. why is set where that cannot be told.
func DecimalComma(rows [][]Cell, opt formats.Options) (yes bool, why string) {
	h, n, u := heading{}, 0, opt.Unit
	if len(opt.Columns) > 0 {
		b := New(&formats.Document{}, formats.Pos{}, opt)
		h = b.h
		for n = 0; n < len(rows) && !b.hasNumber(rows[n]); n++ {
		}
	} else {
		var ok bool
		if h, n, ok = find(rows, opt); !ok {
			return false, ""
		}
	}
	for i, c := range h.columns {
		if numeric[c.Role] && h.columns[i].Unit.Known() {
			u = c.Unit
		}
	}
	commas, points, thousands := 0, 0, 0
	first := ""
	for _, row := range rows[n:] {
		for i := range min(len(row), len(h.columns)) {
			t := strings.Trim(trim(row[i].Text), "()")
			if !numeric[h.columns[i].Role] || t == "" {
				continue
			}
			switch {
			case strings.Contains(t, ".") && isNumber(t):
				points++
			case strings.Count(t, ",") == 1 && isNumber(strings.Replace(t, ",", ".", 1)):
				commas++
				a, z, _ := strings.Cut(strings.TrimLeft(t, "+-"), ",")
				if len(z) == 3 && len(a) <= 3 && a != "" && a[0] != '0' {
					thousands++
					first = t
				}
			}
		}
	}
	switch {
	case commas == 0 || points > 0:
		return false, ""
	case thousands == commas && u.Known() && (u == unit.MM || u == unit.CM || u == unit.In):
		return false, "numbers such as " + first + " " + u.Name + " may have a decimal comma or a comma between thousands; declare \"decimal: comma\" for the file, or write them without a comma"
	}
	return true, ""
}
