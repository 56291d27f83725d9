package align

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"sightrail/formats/unit"
)

// Crossfall is the shape of a carriageway at a chainage. Between two of them the
// grades and the edges change evenly. The level of the profile is at offset 0; the
// grades are outwards from there, + rises, so that a plain crown has two negative
// ones.
type Crossfall struct {
	Chainage    unit.Length
	Left, Right unit.Grade
	// Edges, as distances from offset 0. A place beyond its edge is beside the
	// design. Not set = no edge, and then on that side in none of the table.
	LeftEdge, RightEdge Value
}

// Crossfalls is a table of them.
type Crossfalls struct {
	rows []Crossfall
	in   unit.Unit
}

// NewCrossfalls makes a table of crossfalls in the order of their chainages. One
// alone holds at its own chainage only: give it at the start and at the end. in is
// the unit of messages.
func NewCrossfalls(rows []Crossfall, in unit.Unit) (*Crossfalls, Flaws) {
	var flaws Flaws
	bad := func(i int, format string, args ...any) {
		flaws = append(flaws, Flaw{At: i, Kind: Malformed, Bad: true, Text: fmt.Sprintf("crossfall %d, at chainage %s, ", i+1, text(rows[i].Chainage, in)) + fmt.Sprintf(format, args...)})
	}
	if len(rows) == 0 {
		return nil, Flaws{{Kind: Malformed, Bad: true, Text: "the table of crossfalls is empty"}}
	}
	for i, r := range rows {
		switch {
		case r.Chainage.Abs() > extent:
			bad(i, "is more than 1,171 km from 0; check its unit")
		case i > 0 && r.Chainage <= rows[i-1].Chainage:
			bad(i, "is not after the one before it, at %s; a carriageway has one crossfall at a chainage: correct the table", text(rows[i-1].Chainage, in))
		case r.Left.Run <= 0 || r.Right.Run <= 0:
			bad(i, "has no grade on one side; give left and right, each as a rise or a fall")
		case r.LeftEdge.Set != rows[0].LeftEdge.Set || r.RightEdge.Set != rows[0].RightEdge.Set:
			bad(i, "has an edge where crossfall 1 has none, or none where it has one; give the edge at every chainage or at none")
		case r.LeftEdge.L < 0 || r.RightEdge.L < 0:
			bad(i, "has an edge at a negative distance; edges are distances from offset 0, left and right")
		}
	}
	if flaws.Err() != nil {
		return nil, flaws
	}
	return &Crossfalls{slices.Clone(rows), in}, nil
}

// Start and End are the first and the last chainage of the table.
func (c *Crossfalls) Start() unit.Length { return c.rows[0].Chainage }

// End is the last chainage of the table.
func (c *Crossfalls) End() unit.Length { return c.rows[len(c.rows)-1].Chainage }

// Level is the design level at a chainage and an offset, + right: profile and
// crossfall, rounded together once to one count. Outside of the profile or of the
// table it is ErrBefore or ErrAfter, beyond an edge ErrBeside. An edge is inside.
func (c *Crossfalls) Level(p *Profile, chainage, offset unit.Length) (unit.Length, error) {
	if err := outside("table of crossfalls", chainage, c.Start(), c.End(), c.in); err != nil {
		return 0, err
	}
	z, err := p.level(chainage)
	if err != nil {
		return 0, err
	}
	if offset.Abs() > extent {
		return 0, ErrFar
	}
	i, share := rowBefore(chainage, len(c.rows), func(i int) unit.Length { return c.rows[i].Chainage })
	j := min(i+1, len(c.rows)-1)
	r, s := &c.rows[i], &c.rows[j]
	side, g, h, edge, edge2 := "left", r.Left, s.Left, r.LeftEdge, s.LeftEdge
	if offset > 0 {
		side, g, h, edge, edge2 = "right", r.Right, s.Right, r.RightEdge, s.RightEdge
	}
	out := whole(offset.Abs())
	if edge.Set && offset != 0 {
		if at := mixed(whole(edge.L), whole(edge2.L), share); out.compare(at) > 0 {
			return 0, fmt.Errorf("offset %s is %w: its edge on the %s is %s from offset 0", text(offset, c.in), ErrBeside, side, text(rounded(at), c.in))
		}
	}
	rate := mixed(ratio(g.Rise, g.Run), ratio(h.Rise, h.Run), share)
	return z.plus(rate.times(out)).round()
}

// rowBefore finds the row at or before a chainage that is inside of a table, and
// the share of the way to the next.
func rowBefore(chainage unit.Length, n int, at func(int) unit.Length) (int, fraction) {
	lo, hi := 0, n-1
	for lo+1 < hi {
		if m := (lo + hi) / 2; cmp.Less(chainage, at(m)) {
			hi = m
		} else {
			lo = m
		}
	}
	if n == 1 {
		return 0, whole(0)
	}
	return lo, ratio(chainage-at(lo), at(lo+1)-at(lo))
}

// mixed returns a + share·(b − a).
func mixed(a, b, share fraction) fraction {
	if share.sign() == 0 {
		return a
	}
	return a.plus(b.minus(a).times(share))
}

// ParseCrossfall reads the grade of one side, outwards: "fall 3 %", "rise 1 in 40",
// "level". Without the word it is refused, because a bare grade does not say which
// way it runs.
func ParseCrossfall(s string) (unit.Grade, error) {
	t := strings.TrimSpace(s)
	if t == "level" {
		return unit.Grade{Run: unit.Metre}, nil
	}
	word, rest, _ := strings.Cut(t, " ")
	if word != "fall" && word != "rise" {
		return unit.Grade{}, fmt.Errorf("%q does not say whether it rises or falls outwards from the axis; write \"fall 3 %%\", \"rise 1 in 40\" or \"level\"", s)
	}
	g, err := unit.ParseGrade(rest)
	if err != nil {
		return unit.Grade{}, err
	}
	if g.Rise < 0 || strings.ContainsAny(rest, "+-") {
		return unit.Grade{}, fmt.Errorf("%q has both a word and a sign; leave the sign out", s)
	}
	if word == "fall" {
		g.Rise = -g.Rise
	}
	return g, nil
}
