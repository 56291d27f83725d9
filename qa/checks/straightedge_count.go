package checks

import (
	"fmt"
	"math/big"
	"slices"

	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/limits"
)

// gaps are those of a profile by shot: between least and most, which are the same but
// where the profile bends; nil where they are not known, and at the ends.
type gaps struct{ least, most []*big.Rat }

func newGaps(n int) *gaps { return &gaps{make([]*big.Rat, n), make([]*big.Rat, n)} }

// irregularity is one, or a shot that may be one: from shot to shot.
type irregularity struct {
	from, to int
	deepest  int
	sure     bool
}

// over lists the irregularities of a profile in order; a shot whose gap is not known
// well enough may be one, or a part of one, and is told as one that is not sure. There
// are never more of them than are listed, because a shot that joins two makes fewer.
func (g *gaps) over(size unit.Length) (list []irregularity) {
	limit := new(big.Rat).SetInt64(int64(size))
	for k := 1; k+1 < len(g.least); k++ {
		switch n := len(list) - 1; {
		case g.least[k] == nil || g.least[k].Cmp(limit) <= 0 && g.most[k].Cmp(limit) > 0:
			list = append(list, irregularity{k, k, k, false})
		case g.least[k].Cmp(limit) <= 0:
		case n >= 0 && list[n].sure && list[n].to == k-1:
			list[n].to = k
			if g.least[k].Cmp(g.least[list[n].deepest]) > 0 {
				list[n].deepest = k
			}
		default:
			list = append(list, irregularity{k, k, k, true})
		}
	}
	return list
}

// worst is how many irregularities the worst stretch has, which begins at the end of
// one; at is that one, and over are those from which on there are more than most.
func (p *profile) worst(list []irregularity, per unit.Length, most int) (n, at int, over []int) {
	end := 0
	for a := range list {
		for end < len(list) && p.x[list[end].from]-p.x[list[a].to] <= per {
			end++
		}
		if end-a > n {
			n, at = end-a, a
		}
		if end-a > most {
			over = append(over, a)
		}
	}
	return n, at, over
}

// irregular judges one rule about the number of irregularities, by the worst stretch
// of its length anywhere along the profile. Of all stretches with the same
// irregularities one begins where the first of them ends, so that these are enough.
func (m *straightedgeMeasurer) irregular(rule *Irregularities, run string, p *profile, g *gaps) qa.Row {
	all := g.over(rule.Over.Length)
	var sure []irregularity
	for _, x := range all {
		if x.sure {
			sure = append(sure, x)
		}
	}
	per, length := rule.Per.Length, p.x[len(p.x)-1]
	n, at, over := p.worst(sure, per, rule.Most)
	possible, _, _ := p.worst(all, per, rule.Most)
	r := qa.Row{Quantity: qa.QuantityIrregularities, Shot: *p.shots[0], DesignAt: "straightedge of " + inUnit(m.frame, m.bar), Limits: limits.Tolerance{Source: rule.Source}}
	stretch := "any " + inUnit(m.frame, min(per, length)) + " of the profile " + words(run)
	if n > 0 {
		r.Shot = *p.shots[sure[at].deepest]
		stretch = "the " + inUnit(m.frame, min(per, length)) + " of the profile " + words(run) + " from " + named(p.shots[sure[at].to]) + " on"
	}
	r.Reason = fmt.Sprintf("%d over %s mm in %s, %d allowed", n, rule.Over.Exact(unit.MM, 0), stretch, rule.Most)
	switch {
	case n > rule.Most:
		r.Verdict = limits.Fail
		if over = slices.DeleteFunc(over, func(a int) bool { return a == at }); len(over) > 0 {
			r.Reason += "; too many as well from " + named(p.shots[sure[over[0]].to]) + " on"
		}
		if len(over) > 1 {
			r.Reason += fmt.Sprintf(" and from %d more", len(over)-1)
		}
	case possible > rule.Most:
		r.Reason += fmt.Sprintf("; with the %d shots whose gap is not known there may be %d", len(all)-len(sure), possible)
	case length < per:
		r.Reason += "; the profile is shorter than the length of the rule"
	default:
		r.Verdict = limits.Pass
	}
	return r
}
