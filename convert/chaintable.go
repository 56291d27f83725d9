package convert

import (
	"cmp"
	"fmt"
	"slices"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// chainTable is a table of design levels by chainage and offset.
type chainTable struct {
	name    string
	between bool
	rows    map[chainPlace]chainLevel
	along   map[chainLine][]chainLevel // in the order of their chainages
	lines   map[string]bool            // the runs it speaks of; "" = any
	in      unit.Unit                  // of messages
}

type chainPlace struct {
	run              string
	chainage, offset unit.Length
}

type chainLine struct {
	run    string
	offset unit.Length
}

type chainLevel struct {
	pos             formats.Pos
	chainage, level unit.Length
	twice           bool
}

// NewChainageTable makes a surface of the rows of a file: design levels by chainage
// and offset, and by run where the file has a column of it. between says that the
// design runs straight from row to row of one offset; else only the places of the
// rows have a level. A place with two levels is a problem, and has none.
func NewChainageTable(name string, d *formats.Document, between bool, u unit.Unit, f *Frame) (*Surface, []formats.Problem) {
	t := &chainTable{name: name, between: between, rows: map[chainPlace]chainLevel{}, along: map[chainLine][]chainLevel{}, lines: map[string]bool{}, in: f.Unit}
	s := &Surface{Name: name, Pos: formats.Pos{File: d.File}, chain: t}
	var problems []formats.Problem
	r := PointReader{Frame: f, Unit: u}
	unused := 0
	var first formats.Pos
	for i := range d.Points {
		var shot Shot
		r.shot(&shot, s.Pos, &d.Points[i])
		if shot.Use == Blank {
			continue
		}
		if !shot.Chained || !shot.Levelled {
			if unused++; unused == 1 {
				first = shot.Pos
			}
			continue
		}
		key := chainPlace{shot.Run, shot.Chainage, shot.Offset}
		x := chainLevel{pos: shot.Pos, chainage: shot.Chainage, level: shot.Level}
		if old, there := t.rows[key]; there {
			if old.level != x.level {
				problems = append(problems, formats.Problem{Pos: shot.Pos, Field: "level",
					Text: fmt.Sprintf("%s has another design level here than at %s; a place has one", t.words(shot.Run, shot.Chainage, shot.Offset), old.pos)})
				old.twice = true
				t.rows[key] = old
			}
			continue
		}
		t.rows[key] = x
		t.lines[shot.Run] = true
	}
	if unused > 0 {
		s.Notes = append(s.Notes, formats.Problem{Pos: first, Field: "level table " + name, Text: fmt.Sprintf("rows with no chainage or no level, which are not used: %d; this is the first", unused)})
	}
	if len(t.rows) == 0 && len(problems) == 0 && len(d.Problems) == 0 {
		problems = append(problems, formats.Problem{Pos: s.Pos, Field: "level table " + name, Text: "no row has a chainage and a level; a table by chainage needs columns of chainage, offset and level"})
	}
	for key, x := range t.rows {
		line := chainLine{key.run, key.offset}
		t.along[line] = append(t.along[line], x)
	}
	for _, l := range t.along {
		slices.SortFunc(l, func(a, b chainLevel) int { return cmp.Compare(a.chainage, b.chainage) })
	}
	return s, problems
}

func (t *chainTable) words(run string, chainage, offset unit.Length) string {
	side := "on the line"
	switch {
	case offset > 0:
		side = offset.Exact(t.in, 3) + " right"
	case offset < 0:
		side = offset.Abs().Exact(t.in, 3) + " left"
	}
	w := "ch " + chainage.Exact(t.in, 3) + ", " + side
	if run != "" {
		return run + " " + w
	}
	return w
}

// at is the design level at the chainage and offset of a shot.
func (t *chainTable) at(s *Shot) (z unit.Length, from, why string) {
	if !s.Chained {
		return 0, "", fmt.Sprintf("it has no chainage, and the level table %s is by chainage and offset", t.name)
	}
	run := s.Run
	if !t.lines[run] && t.lines[""] {
		run = ""
	}
	if !t.lines[run] {
		return 0, "", fmt.Sprintf("the level table %s has no row of the run %q", t.name, s.Run)
	}
	place := t.words(run, s.Chainage, s.Offset)
	if x, there := t.rows[chainPlace{run, s.Chainage, s.Offset}]; there {
		if x.twice {
			return 0, "", fmt.Sprintf("the level table %s has two levels at %s", t.name, place)
		}
		return x.level, place + " of " + t.name + ", " + x.pos.String(), ""
	}
	if !t.between {
		return 0, "", fmt.Sprintf("the level table %s has no row at %s; where the design runs straight between its rows, say so with \"between: true\"", t.name, place)
	}
	line := t.along[chainLine{run, s.Offset}]
	k, _ := slices.BinarySearchFunc(line, s.Chainage, func(x chainLevel, c unit.Length) int { return cmp.Compare(x.chainage, c) })
	switch {
	case len(line) == 0:
		return 0, "", fmt.Sprintf("the level table %s has no rows with this offset (%s); between offsets nothing is assumed", t.name, place)
	case k == 0:
		return 0, "", fmt.Sprintf("%s is before the first row of this offset in the level table %s, ch %s", place, t.name, line[0].chainage.Exact(t.in, 3))
	case k == len(line):
		return 0, "", fmt.Sprintf("%s is after the last row of this offset in the level table %s, ch %s", place, t.name, line[k-1].chainage.Exact(t.in, 3))
	}
	a, b := line[k-1], line[k]
	if a.twice || b.twice {
		return 0, "", fmt.Sprintf("the level table %s has two levels at a row next to %s", t.name, place)
	}
	z = a.level + unit.MulDiv(b.level-a.level, s.Chainage-a.chainage, b.chainage-a.chainage)
	return z, fmt.Sprintf("%s of %s, between %s and %s", place, t.name, a.pos, b.pos), ""
}
