package levels

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"sightrail/formats/unit"
)

// ForwardBack is a stretch levelled forward and back. Forward is the difference
// from From to To, Back the one from To to From as it was levelled, so that
// their sum is nought but for errors.
type ForwardBack struct {
	From, To      string
	Forward, Back unit.Length
	Distance      Value // levelled length, one way
	Setups        int   // one way; only a rule with sqrt(n) needs it, 0 is not known
}

// DoubleSection is a section with what the two runs say of each other.
type DoubleSection struct {
	ForwardBack
	Discrepancy unit.Length // forward + back
	Mean        unit.Length // (forward − back)/2, from From to To, rounded once to one count
	Limit       Value       // rounded for print; judged exactly
	Judged      bool
	Within      bool   // only when Judged
	Why         string // it is not judged
}

// DoubleRun is the table of a line levelled forward and back.
type DoubleRun struct {
	Sections []DoubleSection
	// Total adds the sections: forward, back, length and set-ups; it is judged by
	// the rule over the whole length. It has the ends of a line only when every
	// section begins where the one before ended.
	Total DoubleSection
	// PerKm is the standard deviation, in mm, of one kilometre of the mean of the
	// two runs: sqrt(Σ(d²/L)/(4n)), d the discrepancy in mm, L the length one way
	// in km, n the number of sections. KnownPerKm is false when it cannot be worked
	// out; Why says why.
	PerKm      float64
	KnownPerKm bool
	Why        string
}

// ForwardAndBack compares two runs over the same sections. The rule is judged
// with K, or n, one way; the zero Rule judges nothing. An error is about a number
// that cannot be.
func ForwardAndBack(sections []ForwardBack, rule Rule) (*DoubleRun, error) {
	out := &DoubleRun{Sections: make([]DoubleSection, len(sections))}
	var forward, back, length sum
	total := ForwardBack{Distance: Value{Set: len(sections) > 0}}
	counted, joined := true, true
	for i, s := range sections {
		if err := s.check(); err != nil {
			return nil, err
		}
		out.Sections[i] = s.compare(rule)
		forward.add(s.Forward)
		back.add(s.Back)
		length.add(s.Distance.L)
		total.Distance.Set = total.Distance.Set && s.Distance.Set
		total.Setups += s.Setups
		counted = counted && s.Setups > 0
		joined = joined && (i == 0 || sections[i-1].To == s.From)
	}
	for _, x := range []sum{forward, back, length} {
		if x.err != nil || x.l.Abs() > unit.MaxLength/2 {
			return nil, errors.New("forward and back: a sum over the sections leaves the range of ±2,342 km; check the differences, the distances and their units")
		}
	}
	total.Forward, total.Back = forward.l, back.l
	if total.Distance.Set {
		total.Distance.L = length.l
	}
	if !counted {
		total.Setups = 0
	}
	if joined && len(sections) > 0 {
		total.From, total.To = sections[0].From, sections[len(sections)-1].To
	}
	out.Total = total.compare(rule)
	if len(sections) == 0 {
		out.Total.Judged, out.Total.Within, out.Total.Why = false, false, "no section was levelled forward and back"
	}
	out.perKm()
	return out, nil
}

// check refuses what cannot be.
func (s ForwardBack) check() error {
	for _, v := range []unit.Length{s.Forward, s.Back} {
		if v.Abs() > MaxLevel {
			return fmt.Errorf("section %s: a difference of %s m is between no two places; check the number and its unit", s.name(), v.Fixed(unit.M, 0))
		}
	}
	switch {
	case s.Distance.Set && s.Distance.L <= 0:
		return fmt.Errorf("section %s: a length of %s m cannot be; check the distance and its unit, or leave it blank", s.name(), s.Distance.L.Exact(unit.M, 0))
	case s.Setups < 0:
		return fmt.Errorf("section %s: %d set-ups cannot be; check the number, or leave it blank", s.name(), s.Setups)
	}
	return nil
}

func (s ForwardBack) name() string { return fmt.Sprintf("%s to %s", s.From, s.To) }

// compare judges one section.
func (s ForwardBack) compare(rule Rule) DoubleSection {
	out := DoubleSection{ForwardBack: s, Discrepancy: s.Forward + s.Back, Mean: unit.MulDiv(s.Forward-s.Back, 1, 2)}
	switch {
	case !rule.Given():
		out.Why = "no limit for forward and back in the job"
	case rule.NeedsDistance() && !s.Distance.Set:
		out.Why = fmt.Sprintf("the rule %s needs the levelled length, which is missing", rule.Text)
	case rule.Per == SqrtN && s.Setups == 0:
		out.Why = fmt.Sprintf("the rule %s needs the number of set-ups, which is missing", rule.Text)
	default:
		out.Limit = Of(rule.Limit(s.Distance.L, s.Setups))
		out.Judged, out.Within = true, rule.Allows(out.Discrepancy, s.Distance.L, s.Setups)
	}
	return out
}

// perKm works out the standard deviation of a kilometre.
func (d *DoubleRun) perKm() {
	var missing []string
	squares := 0.0 // mm² per km
	for i := range d.Sections {
		s := &d.Sections[i]
		if !s.Distance.Set {
			missing = append(missing, s.name())
			continue
		}
		mm := s.Discrepancy.Millimetres()
		squares += mm * mm / (s.Distance.L.Metres() / 1000)
	}
	switch n := len(d.Sections); {
	case n == 0:
		d.Why = "no section was levelled forward and back"
	case len(missing) > 0:
		d.Why = "the standard deviation of a kilometre needs the length of every section; missing: " + strings.Join(missing, ", ")
	default:
		d.PerKm, d.KnownPerKm = math.Sqrt(squares/(4*float64(n))), true
	}
}

// Unpaired is a section that no other goes against.
type Unpaired struct {
	Index int // into the sections given
	Why   string
}

// Pair puts sections of reduced runs together that lie between the same ends and
// were levelled in opposite directions, in the order given; the first of two is
// the forward one. Ends are compared as text. The length one way is the mean of
// the two, or the one that is there; the set-ups are those of the run that has
// more, where both are known.
func Pair(runs []Section) (sections []ForwardBack, unpaired []Unpaired) {
	type ends struct{ from, to string }
	waiting := map[ends][]int{} // forward runs without a partner
	partner := make([]int, len(runs))
	for i, r := range runs {
		partner[i] = -1
		if r.From == r.To || r.From == "" || r.To == "" {
			continue
		}
		against := ends{r.To, r.From}
		if w := waiting[against]; len(w) > 0 {
			partner[w[0]], partner[i] = i, w[0]
			waiting[against] = w[1:]
			continue
		}
		waiting[ends{r.From, r.To}] = append(waiting[ends{r.From, r.To}], i)
	}
	for i, r := range runs {
		k := partner[i]
		switch {
		case k > i:
			back := &runs[k]
			s := ForwardBack{From: r.From, To: r.To, Forward: r.Diff, Back: back.Diff, Distance: meanLength(r.Distance, back.Distance)}
			if r.Setups > 0 && back.Setups > 0 {
				s.Setups = max(r.Setups, back.Setups)
			}
			sections = append(sections, s)
		case k >= 0:
		case r.From == "" || r.To == "":
			unpaired = append(unpaired, Unpaired{i, "one of its ends has no name"})
		case r.From == r.To:
			unpaired = append(unpaired, Unpaired{i, fmt.Sprintf("it begins and ends on %s, so it has no run against it", r.From)})
		default:
			unpaired = append(unpaired, Unpaired{i, fmt.Sprintf("no run goes back from %s to %s", r.To, r.From)})
		}
	}
	return sections, unpaired
}

// meanLength is the mean of two lengths, or the one that is there.
func meanLength(a, b Value) Value {
	switch {
	case !a.Set:
		return b
	case !b.Set:
		return a
	}
	return Of(a.L/2 + b.L/2 + unit.MulDiv(a.L%2+b.L%2, 1, 2))
}
