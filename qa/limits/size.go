package limits

import (
	"fmt"
	"math/big"
	"strings"

	"sightrail/formats/unit"
)

// Size is a limit that may depend on the size of the pipe: a length, a
// percentage of the size, or the lesser or greater of both, above or below the
// design.
type Size struct {
	Below   bool         // a limit below the design: the result is negative
	Fixed   unit.Length  // the length; used when HasFixed
	Percent unit.Decimal // the percentage; used when Of is not ""
	Of      string       // what the percentage is taken of: "DN" or "bore"
	Greater bool         // of two, the greater one; else the lesser

	HasFixed bool
}

// sizeWords are what a percentage may be taken of.
var sizeWords = []string{"DN", "bore"}

const sizeForms = `write "20 mm", "5 % of DN", "lesser of 20 mm and 5 % of DN" or "greater of ..."; "-" before it for a limit below the design`

// ParseSize reads a limit: "20 mm", "-20 mm", "5 % of DN", "5 % of bore",
// "lesser of 20 mm and 5 % of DN", "-greater of 5 % of DN and 10 mm". A sign
// belongs to the whole.
func ParseSize(text string) (Size, error) {
	rest := strings.Join(strings.Fields(text), " ")
	bad := func(why string) (Size, error) {
		return Size{}, fmt.Errorf("%q: %s; %s", text, why, sizeForms)
	}
	var s Size
	if after, ok := strings.CutPrefix(rest, "-"); ok {
		s.Below, rest = true, strings.TrimSpace(after)
	} else if after, ok := strings.CutPrefix(rest, "+"); ok {
		rest = strings.TrimSpace(after)
	}
	rest = strings.TrimPrefix(rest, "the ")
	parts := []string{rest}
	for _, word := range []string{"lesser of ", "greater of "} {
		after, ok := strings.CutPrefix(rest, word)
		if !ok {
			continue
		}
		s.Greater = word == "greater of "
		one, other, found := strings.Cut(after, " and ")
		if !found {
			return bad(`of what two? They are joined by "and"`)
		}
		parts = []string{one, other}
	}
	for _, part := range parts {
		if why := s.part(part); why != "" {
			return bad(why)
		}
	}
	if len(parts) == 2 && (!s.HasFixed || s.Of == "") {
		return bad("one of the two is a length, the other a percentage")
	}
	return s, nil
}

// part reads one of the parts of a size into s, or says what is wrong.
func (s *Size) part(part string) string {
	number, of, ok := strings.Cut(part, "%")
	if !ok {
		l, err := unit.ParseQuantity(part)
		switch {
		case err != nil:
			return err.Error()
		case strings.HasPrefix(part, "-") || strings.HasPrefix(part, "+") || l < 0:
			return "a sign belongs before the whole"
		}
		s.Fixed, s.HasFixed = l, true
		return ""
	}
	d, exact, err := unit.ParseDecimal(strings.TrimSpace(number))
	switch {
	case err != nil:
		return err.Error()
	case !exact:
		return "the percentage has more decimals than can be kept exactly"
	case strings.HasPrefix(number, "-") || strings.HasPrefix(number, "+") || d.Coef < 0:
		return "a sign belongs before the whole"
	}
	word, ok := strings.CutPrefix(strings.TrimSpace(of), "of ")
	for _, w := range sizeWords {
		if ok && word == w {
			s.Percent, s.Of = d, w
			return ""
		}
	}
	return `a percentage is "of DN" or "of bore"`
}

// String writes the limit as ParseSize reads it.
func (s Size) String() string {
	sign := ""
	if s.Below {
		sign = "-"
	}
	fixed := s.Fixed.Exact(unit.MM, 0) + " mm"
	share := s.Percent.String() + " % of " + s.Of
	switch {
	case s.Of == "":
		return sign + fixed
	case !s.HasFixed:
		return sign + share
	case s.Greater:
		return sign + "greater of " + fixed + " and " + share
	}
	return sign + "lesser of " + fixed + " and " + share
}

// Sized reports whether the limit depends on the size of the pipe.
func (s Size) Sized() bool { return s.Of != "" }

// For is the limit for a pipe of the given size: DN or bore, as Of says. The
// product of size and percentage is a whole number of counts for every size in
// millimetres or inches and a percentage with three decimals or fewer; where it is
// not, it is cut to the count below, so that the limit never allows more than
// the text does.
func (s Size) For(size unit.Length) (unit.Length, error) {
	result := s.Fixed
	if s.Sized() {
		if size <= 0 {
			return 0, fmt.Errorf("the limit is %q, and the %s of this pipe is not known; give it in the design or the job", s, s.Of)
		}
		share := new(big.Int).Mul(big.NewInt(s.Percent.Coef), big.NewInt(int64(size)))
		share.Quo(share, tenTo(s.Percent.Places+2))
		if !share.IsInt64() {
			return 0, fmt.Errorf("%q of %s mm is no length in use; look at the percentage", s, size.Exact(unit.MM, 0))
		}
		part := unit.Length(share.Int64())
		switch {
		case !s.HasFixed:
			result = part
		case s.Greater:
			result = max(result, part)
		default:
			result = min(result, part)
		}
	}
	if s.Below {
		return -result, nil
	}
	return result, nil
}

// SizeTolerance is a tolerance whose limits may depend on the size of the pipe.
type SizeTolerance struct {
	Lower, Upper       Size
	HasLower, HasUpper bool
	Source             string
}

// For is the tolerance for a pipe of the given size.
func (t SizeTolerance) For(size unit.Length) (Tolerance, error) {
	out := Tolerance{HasLower: t.HasLower, HasUpper: t.HasUpper, Source: t.Source}
	var err error
	if t.HasLower {
		if out.Lower, err = t.Lower.For(size); err != nil {
			return Tolerance{}, err
		}
	}
	if t.HasUpper {
		if out.Upper, err = t.Upper.For(size); err != nil {
			return Tolerance{}, err
		}
	}
	if out.HasLower && out.HasUpper && out.Lower > out.Upper {
		return Tolerance{}, fmt.Errorf("the lower limit %s lies above the upper limit %s; a limit below the design has a \"-\"", t.Lower, t.Upper)
	}
	return out, nil
}

// String writes the limits: "-lesser of ... / lesser of ...".
func (t SizeTolerance) String() string {
	switch {
	case t.HasLower && t.HasUpper:
		return t.Lower.String() + " / " + t.Upper.String()
	case t.HasUpper:
		return "not above " + t.Upper.String()
	case t.HasLower:
		return "not below " + t.Lower.String()
	}
	return "no limit"
}
