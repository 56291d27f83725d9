package align

import (
	"errors"
	"fmt"
	"math/bits"
	"strconv"
	"strings"

	"sightrail/formats/unit"
)

// Equation is a station equation: at an internal chainage, the distance along the
// alignment from its start with the station of the start added, the stations shown
// go on from another number.
type Equation struct {
	Internal   unit.Length
	Back       Value // the station that the stretch before has here; compared
	Ahead      unit.Length
	Decreasing bool // stations fall from here on
}

// Station is a station as shown: a number and the stretch it is counted in, 0
// before the first equation.
type Station struct {
	Value  unit.Length
	Region int
}

// Stations turns internal chainages into the stations shown and back.
type Stations struct {
	start, end unit.Length
	equations  []Equation
	in         unit.Unit
}

// NewStations makes the stations of an alignment from internal chainage start to
// end. Equations are in the order of their chainages. A back station that is not
// the running one by more than fit is bad. in is the unit of messages.
func NewStations(start, end unit.Length, equations []Equation, fit unit.Length, in unit.Unit) (*Stations, Flaws) {
	s := &Stations{start: start, end: end, in: in}
	var flaws Flaws
	bad := func(i int, k Kind, off unit.Length, format string, args ...any) {
		flaws = append(flaws, Flaw{At: i, Kind: k, Bad: true, Off: off, Text: fmt.Sprintf("station equation %d ", i+1) + fmt.Sprintf(format, args...)})
	}
	if start.Abs() > extent || end.Abs() > extent || start > end {
		return nil, Flaws{{Kind: Malformed, Bad: true, Text: "the stations have no usable start and end; check their unit"}}
	}
	last := start
	for i, e := range equations {
		switch {
		case e.Internal.Abs() > extent || e.Ahead.Abs() > extent:
			bad(i, Malformed, 0, "is more than 1,171 km from 0; check its unit")
		case e.Internal < start || e.Internal > end:
			bad(i, Malformed, 0, "is at %s, outside of the alignment, which runs from %s to %s; correct the file", text(e.Internal, in), text(start, in), text(end, in))
		case i > 0 && e.Internal <= last:
			bad(i, Malformed, 0, "is at %s, not after the one before it, at %s; correct the file", text(e.Internal, in), text(last, in))
		default:
			if running := s.shown(i, e.Internal); e.Back.Set && (e.Back.L-running).Abs() > fit {
				bad(i, WrongBack, e.Back.L-running, "has back station %s; the stations before it reach %s there; correct the file", text(e.Back.L, in), text(running, in))
			}
		}
		if flaws.Err() != nil {
			return nil, flaws
		}
		s.equations, last = append(s.equations, e), e.Internal
	}
	return s, nil
}

// shown is the number that an internal chainage has in a region.
func (s *Stations) shown(region int, internal unit.Length) unit.Length {
	if region == 0 {
		return internal
	}
	e := &s.equations[region-1]
	if e.Decreasing {
		return e.Ahead - (internal - e.Internal)
	}
	return e.Ahead + (internal - e.Internal)
}

// bounds of a region, in internal chainages; both ends are in it.
func (s *Stations) bounds(region int) (from, to unit.Length) {
	from, to = s.start, s.end
	if region > 0 {
		from = s.equations[region-1].Internal
	}
	if region < len(s.equations) {
		to = s.equations[region].Internal
	}
	return from, to
}

// Shown returns the station of an internal chainage. At an equation there are two,
// the back station and then the one ahead.
func (s *Stations) Shown(internal unit.Length) ([]Station, error) {
	if err := outside("alignment", internal, s.start, s.end, s.in); err != nil {
		return nil, err
	}
	var out []Station
	for region := range len(s.equations) + 1 {
		if from, to := s.bounds(region); from <= internal && internal <= to {
			out = append(out, Station{s.shown(region, internal), region})
		}
	}
	return out, nil
}

// Any is the region of a station of which only the number is known.
const Any = -1

// Ambiguous says that a station stands for several places.
type Ambiguous struct {
	Value    unit.Length
	Internal []unit.Length // of each place
	Region   []int         // beside Internal
	In       unit.Unit
}

func (a *Ambiguous) Error() string {
	var places []string
	for i := range a.Internal {
		places = append(places, fmt.Sprintf("%s in stretch %d", text(a.Internal[i], a.In), a.Region[i]))
	}
	return fmt.Sprintf("station %s stands for %d places, at chainages from the start of %s; say which stretch is meant (0 is before the first station equation)",
		text(a.Value, a.In), len(places), strings.Join(places, " and "))
}

// ErrNoStation is wrapped where a station stands for no place.
var ErrNoStation = errors.New("is not on the alignment")

// Internal returns the internal chainage of a station; region may be Any. A number
// that stands for several places is an *Ambiguous, one that is jumped over or
// outside is ErrNoStation.
func (s *Stations) Internal(value unit.Length, region int) (unit.Length, error) {
	if region > len(s.equations) || region < Any {
		return 0, fmt.Errorf("stretch %d %w, which has %d station equations; stretches count from 0", region, ErrNoStation, len(s.equations))
	}
	found := Ambiguous{Value: value, In: s.in}
	for r := range len(s.equations) + 1 {
		if region != Any && region != r || value.Abs() > extent {
			continue
		}
		from, to := s.bounds(r)
		at := value - s.shown(r, from) + from
		if r > 0 && s.equations[r-1].Decreasing {
			at = s.shown(r, from) - value + from
		}
		if at < from || at > to || len(found.Internal) > 0 && found.Internal[len(found.Internal)-1] == at {
			continue
		}
		found.Internal, found.Region = append(found.Internal, at), append(found.Region, r)
	}
	switch {
	case len(found.Internal) > 1:
		return 0, &found
	case len(found.Internal) == 1:
		return found.Internal[0], nil
	case region != Any:
		return 0, fmt.Errorf("station %s %w in stretch %d, which runs from %s to %s", text(value, s.in), ErrNoStation, region, text(s.ends(region, 0), s.in), text(s.ends(region, 1), s.in))
	case len(s.equations) > 0:
		return 0, fmt.Errorf("station %s %w: it is outside, or a station equation jumps over it", text(value, s.in), ErrNoStation)
	}
	return 0, fmt.Errorf("station %s %w, which runs from %s to %s", text(value, s.in), ErrNoStation, text(s.start, s.in), text(s.end, s.in))
}

func (s *Stations) ends(region, end int) unit.Length {
	from, to := s.bounds(region)
	if end == 0 {
		return s.shown(region, from)
	}
	return s.shown(region, to)
}

// FormatStation writes a chainage as full and plus stations: 153.25 m with full
// stations of 100 m and 3 places is "1+53.250". The plus has the digits of a full
// station. It is rounded half away from zero, and then split. A full station that
// is not a whole number of u writes the plain number.
func FormatStation(chainage, full unit.Length, u unit.Unit, places int) string {
	places = min(max(places, 0), unit.MaxPlaces)
	units, digits := stationUnits(full, u)
	if units == 0 {
		return chainage.Fixed(u, places)
	}
	number, _ := strings.CutPrefix(chainage.Fixed(u, places), "-")
	whole, decimals, _ := strings.Cut(number, ".")
	n, err := strconv.ParseInt(whole, 10, 64)
	if err != nil { // of more than 10^18 units there are none
		return chainage.Fixed(u, places)
	}
	sign := ""
	if strings.HasPrefix(chainage.Fixed(u, places), "-") {
		sign = "-"
	}
	if decimals != "" {
		decimals = "." + decimals
	}
	return fmt.Sprintf("%s%d+%0*d%s", sign, n/units, digits, n%units, decimals)
}

// stationUnits is how many u a full station has, and how many digits the plus; 0
// when it is not a whole number of them.
func stationUnits(full unit.Length, u unit.Unit) (n int64, digits int) {
	if !u.Known() || full <= 0 || full%u.Size != 0 {
		return 0, 0
	}
	n = int64(full / u.Size)
	return n, len(strconv.FormatInt(n-1, 10))
}

// ParseStation reads a chainage in u: a plain number, or full and plus stations
// when it was declared how long a full station is. The plus must be less than a
// full station and, where that is 10, 100 or 1000, have all its digits: "6+780" is
// refused with stations of 100, "1+53.25" with stations of 1000.
func ParseStation(s string, full unit.Length, u unit.Unit) (unit.Length, error) {
	before, plus, is := strings.Cut(s, "+")
	if !is || before == "" {
		return exactly(s, u)
	}
	if full == 0 {
		return 0, fmt.Errorf("%q is a chainage in full and plus stations, and it is not declared how long a full station is; declare it (100 m, 1000 m, 100 ft)", s)
	}
	units, digits := stationUnits(full, u)
	if units == 0 {
		return 0, fmt.Errorf("a full station of %s is not a whole number of %s; declare another", text(full, u), u.Name)
	}
	number, negative := strings.CutPrefix(before, "-")
	whole, decimals, point := strings.Cut(plus, ".")
	if !isDigits(number) || !isDigits(whole) || point && decimals != "" && !isDigits(decimals) {
		return 0, fmt.Errorf("%q is not a chainage in full and plus stations such as %s", s, FormatStation(full+full/2, full, u, 3))
	}
	rest, err := exactly(plus, u)
	if err != nil {
		return 0, err
	}
	if rest >= full || powerOfTen(units) && len(whole) != digits {
		return 0, fmt.Errorf("%q has %s after the plus, which does not fit full stations of %s; declare the right length of a full station, or write the plus with %d digits before the point",
			s, plus, text(full, u), digits)
	}
	n, err := strconv.ParseInt(number, 10, 64)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", s, unit.ErrRange)
	}
	hi, lo := bits.Mul64(uint64(n), uint64(full))
	if hi != 0 || lo > uint64(unit.MaxLength) {
		return 0, fmt.Errorf("%q: %w", s, unit.ErrRange)
	}
	l, err := unit.Length(lo).Add(rest)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", s, err)
	}
	if negative {
		l = -l
	}
	return l, nil
}

// exactly reads a number that must be kept without rounding.
func exactly(s string, u unit.Unit) (unit.Length, error) {
	l, exact, err := unit.Parse(s, u)
	if err == nil && !exact {
		return 0, fmt.Errorf("%q has more decimals than can be kept exactly", s)
	}
	return l, err
}

func isDigits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

func powerOfTen(n int64) bool {
	for n%10 == 0 {
		n /= 10
	}
	return n == 1
}
