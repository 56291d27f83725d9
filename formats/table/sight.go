package table

import (
	"strings"

	"sightrail/formats"
)

// A book with one reading a row has a column that says what the reading is, and
// one reading or three wires. Its rows become those of a book with the columns
// BS, IS and FS.

// kinds are the words for the type of a reading, in lower case, without dots,
// hyphens, slashes and spaces. From common practice, no published source.
var kinds = kindsOf(map[string]string{
	BS: "bs b back backsight backsights backreading plussight",
	IS: "is i int inter intermediate intermediatesight intermediatesights intersight intermed ifs intermediateforesight ss side sideshot sideshots",
	FS: "fs f fore foresight foresights forereading minussight",
})

func kindsOf(lists map[string]string) map[string]string {
	m := map[string]string{}
	for role, list := range lists {
		for _, w := range strings.Fields(list) {
			m[w] = role
		}
	}
	return m
}

var kindMarks = strings.NewReplacer(".", "", "-", "", "/", "", " ", "", "_", "")

// kindOf is the sight that a type names: BS, IS, FS, or "".
func kindOf(text string) string { return kinds[kindMarks.Replace(strings.ToLower(text))] }

// inContext are the roles of words that mean what is meant here only beside
// certain other columns. Elsewhere their columns are not read, and noted.
var inContext = []string{Type, StaffReading, middle, ReadingUpper, ReadingLower, Mean, Receiver, Staff, Page, BSMean, ISMean, FSMean}

// typed finds out whether the columns keep a book with one reading a row, and
// what "sight" means: the type of the reading where no other column says it,
// else the length of a sight.
func (h *heading) typed(content formats.Content) {
	columns := h.has(BS) || h.has(IS) || h.has(FS)
	reads := h.has(StaffReading) || h.has(middle)
	if i, ok := h.roles[sight]; ok {
		delete(h.roles, sight)
		role := Distance
		if reads && !columns && !h.has(Type) && !h.columns[i].Unit.Known() && h.odd[i] == "" {
			role = Type
		}
		h.columns[i].Role = role
		if first, taken := h.roles[role]; taken {
			h.twice = append(h.twice, [2]int{min(first, i), max(first, i)})
		} else {
			h.roles[role] = i
		}
	}
	h.kinds = reads && !columns && h.has(Type)
	if h.kinds && content != formats.LevelContent && h.has(Easting) && h.has(Northing) && h.has(Level) {
		h.kinds = false // surveyed points, which have their levels
	}
	if !h.kinds {
		return
	}
	if i, ok := h.roles[middle]; ok {
		h.columns[i].Role = StaffReading
		if first, taken := h.roles[StaffReading]; taken {
			h.twice = append(h.twice, [2]int{min(first, i), max(first, i)})
		}
		delete(h.roles, middle)
		h.roles[StaffReading] = i
	}
}

// narrow takes their meaning from columns that have none in this context.
func (h *heading) narrow() {
	keep := map[string]bool{}
	switch {
	case h.kinds:
		keep = map[string]bool{Type: true, StaffReading: true, ReadingUpper: true, ReadingLower: true, Staff: true, Page: true}
		keep[Mean] = h.has(ReadingUpper) && h.has(ReadingLower)
	case h.book:
		keep[Staff], keep[Page], keep[BSMean], keep[ISMean], keep[FSMean] = true, true, true, true, true
	default:
		keep[StaffReading], keep[Receiver] = true, true
	}
	for _, role := range inContext {
		i, ok := h.roles[role]
		if !ok || keep[role] {
			continue
		}
		delete(h.roles, role)
		h.known--
		h.dropped = append(h.dropped, i)
		for k := range h.columns {
			if h.columns[k].Role == role {
				h.columns[k].Role = ""
			}
		}
	}
	twice := h.twice[:0]
	for _, t := range h.twice {
		if h.columns[t[1]].Role != "" {
			twice = append(twice, t)
		}
	}
	h.twice = twice
}

// kind reads the reading of a row that has one, into the sight that its type
// says.
func (r *rowReader) kind(x *formats.BookRow) {
	h := &r.b.h
	at := h.at(Type)
	t := r.text(at, Type, true)
	if dash(t) {
		t = ""
	}
	role := kindOf(t)
	field := role
	if field == "" {
		field = StaffReading
	}
	filled := false
	for _, c := range []string{StaffReading, ReadingUpper, ReadingLower, Mean} {
		s, col := r.plain(c)
		filled = filled || s != "" && !dash(s) || col > 0 && r.cells[col-1].Bad != ""
	}
	reading, wires := r.readingIn(h.at(StaffReading), field), formats.Wires{}
	wires.Upper, wires.Lower, wires.Mean = r.readingIn(h.at(ReadingUpper), field), r.readingIn(h.at(ReadingLower), field), r.readingIn(h.at(Mean), field)
	switch {
	case role == "" && t != "":
		r.refuse(at+1, Type, "%q is no type of reading; write BS, IS or FS", t)
	case role == "" && filled:
		r.refuse(at+1, Type, "the row has a reading and does not say which it is; write BS, IS or FS")
	case role != "" && !filled:
		r.refuse(h.at(StaffReading)+1, role, "the row says %s and its reading is missing; write it, or clear the type", role)
	}
	switch role {
	case BS:
		x.BS, x.WiresBS = reading, wires
	case IS:
		x.IS, x.WiresIS = reading, wires
	case FS:
		x.FS, x.WiresFS = reading, wires
	}
}
