package checks

import (
	"fmt"
	"slices"
	"strings"

	"sightrail/convert"
	"sightrail/formats/unit"
	"sightrail/qa/job"
)

// floors are what a staff may stand on at a pipe, from below, and what lies between
// one and the next.
var floors = []struct {
	word job.Staffed
	name string
	gap  string // up to the next
	size func(*sizes) unit.Length
}{
	{job.OnTrenchFloor, "trench bottom", "bedding", func(z *sizes) unit.Length { return z.bedding }},
	{job.OnBedding, "bedding", "wall", func(z *sizes) unit.Length { return z.wall }},
	{job.OnInvert, "invert", "bore", func(z *sizes) unit.Length { return z.bore }},
	{job.OnSoffit, "soffit", "wall", func(z *sizes) unit.Length { return z.wall }},
	{job.OnTop, "top", "collar", func(z *sizes) unit.Length { return z.collar }},
	{job.OnCollar, "collar", "", nil},
}

// gapWords are the sizes in full.
var gapWords = map[string]string{"bedding": "thickness of the bedding", "wall": "wall thickness", "bore": "bore", "collar": "height of the collar"}

func floorOf(staffed string) int {
	for k := range floors {
		if strings.EqualFold(string(floors[k].word), staffed) || strings.EqualFold(floors[k].name, staffed) {
			return k
		}
	}
	return -1
}

// rise is how far floor b lies above floor a, by the sizes of the pipe; missing is
// the first size that is not known.
func (z *sizes) rise(a, b int) (up unit.Length, gaps []string, missing string) {
	sign := unit.Length(1)
	if a > b {
		a, b, sign = b, a, -1
	}
	for k := a; k < b; k++ {
		size := floors[k].size(z)
		if size <= 0 && missing == "" {
			missing = gapWords[floors[k].gap]
		}
		up += size
		gaps = append(gaps, "the "+floors[k].gap)
	}
	return sign * up, gaps, missing
}

// asInvert turns what was staffed into the invert.
func (z *sizes) asInvert(s *convert.Shot, pipe string) (unit.Length, string) {
	if s.Staffed == "" {
		return 0, "nothing says what was staffed; declare \"staffed: invert\" (or soffit, top, collar, bedding, trenchBottom) for the survey, or by code"
	}
	at := floorOf(s.Staffed)
	if at < 0 {
		return 0, fmt.Sprintf("a shot on the %s cannot be turned into an invert; write what was staffed as invert, soffit, top, collar, bedding or trenchBottom", s.Staffed)
	}
	up, _, missing := z.rise(at, floorOf(string(job.OnInvert)))
	if missing != "" {
		return 0, fmt.Sprintf("the staff stood on the %s, and neither the design nor \"sizes\" of the check says the %s of pipe %s", floors[at].name, missing, pipe)
	}
	return s.Level + up, ""
}

// suspect names what may have been staffed in place of what is declared: the
// difference is, within window, the distance between the two. -1 when nothing fits.
// A difference inside the window needs no such explanation.
func (z *sizes) suspect(staffed string, diff, window unit.Length) (floor int, note string) {
	at := floorOf(staffed)
	if at < 0 || diff.Abs() <= window {
		return -1, ""
	}
	type fit struct {
		floor int
		off   unit.Length
		words string
	}
	var fits []fit
	for k := range floors {
		up, gaps, missing := z.rise(at, k)
		if k == at || missing != "" || (diff-up).Abs() > window {
			continue
		}
		fits = append(fits, fit{k, (diff - up).Abs(), fmt.Sprintf("%s, %s mm", andList(gaps), up.Abs().Exact(unit.MM, 0))})
	}
	if len(fits) == 0 {
		return -1, ""
	}
	slices.SortStableFunc(fits, func(a, b fit) int { return int((a.off - b.off).Sign()) })
	note = fmt.Sprintf("differs by %s: was the %s staffed?", fits[0].words, floors[fits[0].floor].name)
	for _, f := range fits[1:] {
		note += fmt.Sprintf(" Or the %s (%s)?", floors[f.floor].name, f.words)
	}
	return fits[0].floor, note
}

// andList writes a list with "and" before the last.
func andList(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}

// staffWindow is how near a difference must be to the size it is taken for: the wider of
// the limits and of two standard uncertainties.
func staffWindow(lower, upper unit.Length, uMm float64, hasU bool) unit.Length {
	w := max(lower.Abs(), upper.Abs())
	if u, err := unit.FromMetres(2 * uMm / 1000); hasU && err == nil {
		w = max(w, u)
	}
	return w
}

// mistaken counts shots of one pipe by what may have been staffed in their place.
type mistaken struct {
	shots  int
	floors map[int]int
	sizes  map[int]string // floor → what the difference is, of the first such shot
}

func (m *mistaken) add(floor int, note string) {
	m.shots++
	if floor < 0 {
		return
	}
	if m.floors == nil {
		m.floors, m.sizes = map[int]int{}, map[int]string{}
	}
	m.floors[floor]++
	if m.sizes[floor] == "" {
		m.sizes[floor] = note
	}
}

// remark tells of a pipe most of whose shots differ by one size.
func (m *mistaken) remark(pipe string) string {
	for k := range floors {
		if n := m.floors[k]; n >= 2 && 2*n > m.shots {
			return fmt.Sprintf("Pipe %s: %d of %d shots differ as if the %s had been staffed (the first of them %s)", pipe, n, m.shots, floors[k].name, m.sizes[k])
		}
	}
	return ""
}
