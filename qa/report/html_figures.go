package report

import "sightrail/qa"

// figureTable lays figures out: a row for what they are of, a column for each
// name.
type figureTable struct {
	Heads []string
	Rows  []figureRow
}

type figureRow struct {
	Of     string
	Values []string
}

func figuresOf(list []qa.Figure) *figureTable {
	if len(list) == 0 {
		return nil
	}
	t := &figureTable{}
	col, row := map[string]int{}, map[string]int{}
	for _, f := range list {
		head := f.Name
		if f.Unit != "" {
			head += ", " + f.Unit
		}
		if _, there := col[head]; !there {
			col[head] = len(t.Heads)
			t.Heads = append(t.Heads, head)
		}
		if _, there := row[f.Of]; !there {
			row[f.Of] = len(t.Rows)
			t.Rows = append(t.Rows, figureRow{Of: f.Of})
		}
		r := &t.Rows[row[f.Of]]
		for len(r.Values) <= col[head] {
			r.Values = append(r.Values, "")
		}
		r.Values[col[head]] = f.Print
	}
	for i := range t.Rows {
		for len(t.Rows[i].Values) < len(t.Heads) {
			t.Rows[i].Values = append(t.Rows[i].Values, "")
		}
		if t.Rows[i].Of == "" {
			t.Rows[i].Of = "all"
		}
	}
	return t
}
