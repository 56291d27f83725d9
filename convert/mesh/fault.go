package mesh

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sightrail/formats/unit"
)

// Kind of a Fault.
type Kind uint8

// The kinds.
const (
	TwoLevels  Kind = iota // two points at one place, with different levels
	LinesCross             // two breaklines with different levels where they cross
	RingsCross             // rings that cross each other or themselves
)

// Fault is a contradiction in what was given. No surface is made while there is
// one, because which of the two is right decides a level.
type Fault struct {
	Kind   Kind
	Points []int32        // the two points of TwoLevels; else the ends of one side and of the other
	At     Place          // where
	Levels [2]unit.Length // of the first and the second; of rings none
}

// Words say how a Fault names points and places and prints levels.
type Words struct {
	Point func(int32) string // "row 14 (KB7)"
	Place func(Place) string // "500 012.250 E, 6 250 004.000 N"
	Level func(unit.Length) string
}

// Text says what contradicts what, and what to do.
func (f Fault) Text(w Words) string {
	point := func(i int) string { return w.Point(f.Points[i]) }
	switch f.Kind {
	case TwoLevels:
		return fmt.Sprintf("%s and %s are at one place, %s, with the levels %s and %s; correct one of them or leave it out",
			point(0), point(1), w.Place(f.At), w.Level(f.Levels[0]), w.Level(f.Levels[1]))
	case LinesCross:
		return fmt.Sprintf("the breakline from %s to %s and the breakline from %s to %s cross at %s with the levels %s and %s; give them a common point there, or end one of them before",
			point(0), point(1), point(2), point(3), w.Place(f.At), w.Level(f.Levels[0]), w.Level(f.Levels[1]))
	}
	return fmt.Sprintf("the side of the boundary or of a void from %s to %s crosses the side from %s to %s at %s; give the corners of each ring in order around it, and voids inside",
		point(0), point(1), point(2), point(3), w.Place(f.At))
}

// plain names points by their numbers, from 1, and prints metres from the
// origin of the job.
var plain = Words{
	Point: func(i int32) string { return fmt.Sprintf("point %d", i+1) },
	Place: func(p Place) string { return p.E.Exact(unit.M, 3) + " E, " + p.N.Exact(unit.M, 3) + " N" },
	Level: func(l unit.Length) string { return l.Exact(unit.M, 3) + " m" },
}

// Faults are the error of Triangulate when there are any, in the order of their
// points.
type Faults []Fault

// Error lists them, points by number from 1 and places from the origin of the
// job; callers that know better names use Text.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i := range f {
		lines[i] = f[i].Text(plain)
	}
	return strings.Join(lines, "\n")
}

func (f Faults) sort() {
	slices.SortStableFunc(f, func(a, b Fault) int {
		return cmp.Or(slices.Compare(a.Points, b.Points), cmp.Compare(a.At.E, b.At.E), cmp.Compare(a.At.N, b.At.N))
	})
}

var (
	errTooManyCrossings = fmt.Errorf("the breaklines and rings cross each other more than %d times; check that each is one line and not a scan of its points", MaxCrossings)
	errTooClose         = errors.New("breaklines or rings cross within a few millionths of a nanometre of each other and cannot be told apart; give lines that meet a common point")
	errOneLine          = errors.New("the points are all in one line, or fewer than three; a surface needs three that are not")
	errNothingInside    = errors.New("the boundary leaves nothing: its rings have no area, or the voids take all of it; check the corners and their order")
	errNothingShort     = errors.New("every face reaches outside and has a side longer than the longest allowed; allow longer sides")
)
