package levels

import (
	"fmt"

	"sightrail/formats/unit"
)

// column is one booked column on its way through the verification.
type column struct {
	name  string
	first int // row that first differs, or -1
	text  string
	more  int
}

// verify compares what was booked with what was worked out. Of every column the
// first row that differs is named, and how many more do.
func (b *book) verify() {
	if !b.booked {
		return
	}
	rise, fall := &column{name: "rise", first: -1}, &column{name: "fall", first: -1}
	collimation, level := &column{name: "collimation", first: -1}, &column{name: "level", first: -1}
	current, next := Value{}, 0 // next is the chain that begins at this row or below
	for i := range b.rows {
		in, out := &b.rows[i], &b.res.Rows[i]
		for next < len(b.chains) && b.chains[next].first < i {
			next++
		}
		if out.Collimation.Set {
			current = out.Collimation
		} else if in.BS.Set {
			current = Value{}
		}
		if in.Booked == nil || len(b.rest) > 0 && b.rest[i] {
			continue
		}
		b.compare(rise, i, in.Booked.Rise, out.Rise)
		b.compare(fall, i, in.Booked.Fall, out.Fall)
		if !in.sighted() {
			continue
		}
		// a book shows the collimation in the row of its BS, or in all rows that
		// are read from it
		if current.Set {
			b.compare(collimation, i, in.Booked.Collimation, current)
		}
		switch {
		case in.KnownFrom == FromBook || !out.Level.Set:
			// it is the level itself, or there is nothing to compare it with
		case in.Booked.Level == out.Known && next < len(b.chains) && b.chains[next].first == i && b.chains[next].shared:
			// the row closes one run and begins another, which has the known level
		default:
			b.compare(level, i, in.Booked.Level, out.Level)
		}
	}
	for _, c := range []*column{rise, fall, collimation, level} {
		switch {
		case c.first < 0:
			continue
		case c.more == 1:
			c.text += "; one more row of this column differs"
		case c.more > 1:
			c.text += fmt.Sprintf("; %d more rows of this column differ", c.more)
		}
		b.res.BookedDiffers = append(b.res.BookedDiffers, Mistake{Index: c.first, Field: c.name, Text: c.text})
	}
}

func (b *book) compare(c *column, i int, booked, worked Value) {
	if !booked.Set {
		return
	}
	b.res.BookedAny = true
	change := c.name == "rise" || c.name == "fall"
	switch {
	case worked.Set && (booked.L-worked.L).Abs() <= b.opt.BookedWithin:
		return
	case !worked.Set && change && booked.L.Abs() <= b.opt.BookedWithin:
		return // a nought where the other column has the change
	case c.first >= 0:
		c.more++
		return
	}
	c.first = i
	if !worked.Set {
		c.text = fmt.Sprintf("booked %s where the readings give no %s", b.print(booked.L), c.name)
		return
	}
	much := "high"
	if booked.L < worked.L {
		much = "low"
	}
	if change {
		much = map[string]string{"high": "much", "low": "little"}[much]
	}
	c.text = fmt.Sprintf("booked %s, worked out %s: %s mm too %s", b.print(booked.L), b.print(worked.L), (booked.L-worked.L).Abs().Exact(unit.MM, 1), much)
}

// print writes a length of a message in the unit of the book, with at least
// three decimals; where the unit is not told, in metres, and says so.
func (b *book) print(l unit.Length) string {
	if !b.opt.Unit.Known() {
		return l.Exact(unit.M, 3) + " m"
	}
	return l.Exact(b.opt.Unit, 3)
}
