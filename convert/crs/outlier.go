package crs

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// LocalLevel is the chance at which a good point is accused, as in the tests of
// levelling networks; GlobalLevel that at which good control as a whole is.
const (
	LocalLevel  = 0.001
	GlobalLevel = 0.025 // upper half of two-sided 5 %
)

// Finding is what residuals say of the control.
type Finding uint8

// Findings. NotTested is the zero one: nothing is proved.
const (
	NotTested  Finding = iota // too few points
	Agrees                    // nothing stands out
	OneStands                 // one point stands out
	SomeStands                // one of several, which cannot be told apart
	Disagrees                 // worse than stated, and no one point explains it
)

// Test is the statistical test of control. Names are the points that, each left
// out alone, would leave the others in agreement. A slip of a point of less than
// Visible metres is more likely than not to stay unseen.
type Test struct {
	Finding  Finding
	Names    []string
	Visible  float64
	Sentence string
}

// leftover are the residuals of a point: along two directions, each with its
// variance as a part of that of a coordinate.
type leftover struct {
	name         string
	square       float64
	part, weight [2]float64
}

// gain is by how much leaving the point out lowers the sum of squares, and how
// many degrees of freedom that takes.
// least is the smaller of the weights that count.
func (l leftover) gain() (sum, least float64, rank int) {
	least = math.Inf(1)
	for i, w := range l.weight {
		if w > 1e-9 {
			sum += l.part[i] * l.part[i] / w
			least = min(least, w)
			rank++
		}
	}
	return sum, least, rank
}

// test judges residuals with dof degrees of freedom against a stated standard
// deviation, or where that is 0 each point against the others. It returns the
// standard deviation from the residuals.
//
// With it stated, a point is accused by the chi-square of what leaving it out
// gains; without, by the F test of that against what the others leave. One point
// is named when it alone explains what is found.
func test(of []leftover, dof int, stated float64, what string) (sd float64, t Test) {
	total := 0.0
	for _, l := range of {
		total += l.square
	}
	if dof > 0 {
		sd = math.Sqrt(total / float64(dof))
	}
	if dof == 0 {
		return 0, Test{Sentence: fmt.Sprintf("%s: %s fit whatever their coordinates; without a further point nothing checks them", what, counted(len(of)))}
	}
	var names []string
	tested, accused, visible := false, false, 0.0
	for _, l := range of {
		gain, least, rank := l.gain()
		rest := dof - rank
		if rank == 0 || rest < 0 || rest == 0 && stated == 0 {
			continue
		}
		tested = true
		left := max(0, total-gain)
		limit := stated * stated * chiSquare(rank, LocalLevel)
		if stated == 0 {
			others := max(left/float64(rest), rounding*rounding)
			limit = others * float64(rank) * distuv.F{D1: float64(rank), D2: float64(rest)}.Quantile(1-LocalLevel)
		}
		visible = max(visible, math.Sqrt(limit/least))
		if gain > limit {
			accused = true
			if stated == 0 || rest == 0 || left <= stated*stated*chiSquare(rest, LocalLevel) {
				names = append(names, l.name)
			}
		}
	}
	level := "a chance of 0.1 %"
	switch {
	case len(names) == 1:
		t = Test{Finding: OneStands, Names: names, Sentence: fmt.Sprintf("%s: %s does not fit the other points (%s); check it, or leave it out", what, names[0], level)}
	case len(names) > 1:
		t = Test{Finding: SomeStands, Names: names, Sentence: fmt.Sprintf("%s: one of %s is wrong (%s), but with %s it cannot be told which; measure one more", what, strings.Join(names, ", "), level, counted(len(of)))}
	case accused || stated > 0 && total/(stated*stated) > chiSquare(dof, GlobalLevel):
		t = Test{Finding: Disagrees, Sentence: fmt.Sprintf("%s: the points disagree by %.1f mm where %.1f mm is stated, and no one of them explains it", what, sd*1e3, stated*1e3)}
	case !tested:
		t = Test{Sentence: fmt.Sprintf("%s: with %s a wrong one cannot be told from the others; the residuals have a standard deviation of %.1f mm, and whether that is good is for the user to say", what, counted(len(of)), sd*1e3)}
	default:
		t = Test{Finding: Agrees, Sentence: fmt.Sprintf("%s: no point stands out (%s); standard deviation %.1f mm, and a slip of less than %.0f mm may not show", what, level, sd*1e3, math.Ceil(visible*1e3))}
	}
	t.Visible = visible
	return sd, t
}

func counted(n int) string {
	if n == 1 {
		return "1 point"
	}
	return fmt.Sprintf("%d points", n)
}

func chiSquare(dof int, tail float64) float64 {
	return distuv.ChiSquared{K: float64(dof)}.Quantile(1 - tail)
}
