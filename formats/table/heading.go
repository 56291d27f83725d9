package table

import (
	"strings"
	"unicode"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Roles of columns, as formats.Column carries them and a job file declares
// them.
const (
	Name, BS, IS, FS, Rise, Fall, Collimation = "name", "BS", "IS", "FS", "rise", "fall", "collimation"
	Level, Known, Distance, DistanceBS        = "level", "known", "distance", "distanceBS"
	DistanceFS, Inverted, Remark, Code        = "distanceFS", "inverted", "remark", "code"
	Staffed, Run, Chainage, Offset            = "staffed", "run", "chainage", "offset"
	Easting, Northing, Layer, Setup, Time     = "easting", "northing", "layer", "setup", "time"
	Description                               = "description"
	BSUpper, BSLower, ISUpper, ISLower        = "BS upper", "BS lower", "IS upper", "IS lower"
	FSUpper, FSLower                          = "FS upper", "FS lower"
	Skip                                      = "-" // a declared column that is not read
	xAxis, yAxis                              = "x", "y"
	station                                   = "station"
)

// words maps a heading, in lower case without marks and spaces, to its role.
var words = map[string]string{
	"name": Name, "point": Name, "pt": Name, "pointno": Name, "pointid": Name, "pointname": Name, "pointnumber": Name, "ptno": Name, "ptid": Name,
	"id": Name, "no": Name, "number": Name, "peg": Name, "mark": Name, "shot": Name, "staffposition": Name, "place": Name, "station": station, "sta": station, "stn": station,
	"bs": BS, "backsight": BS, "back": BS, "backreading": BS, "bsmiddle": BS, "bsmid": BS,
	"is": IS, "int": IS, "intermediate": IS, "intermediatesight": IS, "intersight": IS, "ismiddle": IS, "ismid": IS,
	"fs": FS, "foresight": FS, "fore": FS, "forereading": FS, "fsmiddle": FS, "fsmid": FS,
	"bsupper": BSUpper, "bslower": BSLower, "isupper": ISUpper, "islower": ISLower, "fsupper": FSUpper, "fslower": FSLower,
	"rise": Rise, "fall": Fall,
	"collimation": Collimation, "hpc": Collimation, "hoc": Collimation, "hi": Collimation, "heightofcollimation": Collimation, "heightofinstrument": Collimation,
	"heightofplaneofcollimation": Collimation, "planeofcollimation": Collimation, "instrumentheight": Collimation, "collimationlevel": Collimation,
	"level": Level, "rl": Level, "reducedlevel": Level, "elevation": Level, "elev": Level, "height": Level, "z": Level, "levels": Level,
	"known": Known, "knownlevel": Known, "givenlevel": Known, "benchmarklevel": Known, "bmlevel": Known,
	"distance": Distance, "dist": Distance, "sight": Distance, "sightdistance": Distance, "sightlength": Distance,
	"distancebs": DistanceBS, "distbs": DistanceBS, "bsdistance": DistanceBS, "bsdist": DistanceBS, "backdistance": DistanceBS,
	"distancefs": DistanceFS, "distfs": DistanceFS, "fsdistance": DistanceFS, "fsdist": DistanceFS, "foredistance": DistanceFS,
	"inverted": Inverted, "inv": Inverted, "invertedstaff": Inverted, "flag": Inverted,
	"remark": Remark, "remarks": Remark, "comment": Remark, "comments": Remark, "note": Remark, "notes": Remark,
	"description": Description, "desc": Description,
	"code": Code, "featurecode": Code, "feature": Code, "layer": Layer,
	"staffed": Staffed, "staffedon": Staffed, "staffon": Staffed,
	"run": Run, "line": Run, "pipe": Run, "chainage": Chainage, "ch": Chainage, "offset": Offset, "os": Offset,
	"easting": Easting, "eastings": Easting, "east": Easting, "e": Easting, "northing": Northing, "northings": Northing, "north": Northing, "n": Northing,
	"setup": Setup, "time": Time, "date": Time, "datetime": Time, "observed": Time, "x": xAxis, "y": yAxis,
}

// unitWords are the spellings of units in headings. A bare foot is the
// international one.
var unitWords = map[string]unit.Unit{
	"m": unit.M, "metre": unit.M, "metres": unit.M, "meter": unit.M, "meters": unit.M, "mm": unit.MM, "cm": unit.CM, "km": unit.KM,
	"ft": unit.Ft, "foot": unit.Ft, "feet": unit.Ft, "ftus": unit.FtUS, "usft": unit.FtUS, "ussurveyfoot": unit.FtUS, "ussurveyfeet": unit.FtUS, "surveyfeet": unit.FtUS, "in": unit.In, "inch": unit.In,
}

// parseHeading finds role and unit of one heading cell; role is "" when it says
// nothing that is known.
func parseHeading(text string) (role string, u unit.Unit) {
	t := strings.ToLower(strings.TrimSpace(text))
	if i := strings.IndexAny(t, "(["); i >= 0 {
		inside := strings.Trim(t[i:], "()[] ")
		u = unitWords[plainWord(inside)]
		if !u.Known() && plainWord(inside) != "" {
			// "Level (AHD)" says a datum, not a unit
			if r := words[plainWord(t)]; r != "" {
				return r, unit.Unit{}
			}
		}
		t = t[:i]
	}
	if r := words[plainWord(t)]; r != "" {
		return r, u
	}
	// "level_m", "Easting m"
	if i := strings.LastIndexAny(t, " _-"); i > 0 {
		if x, ok := unitWords[plainWord(t[i+1:])]; ok && !u.Known() {
			return words[plainWord(t[:i])], x
		}
	}
	return "", u
}

// plainWord keeps letters and digits only.
func plainWord(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, s)
}

// declarable are the roles that a job file may declare with columns, by their
// lower-case spelling.
var declarable = lower(Name, BS, IS, FS, Rise, Fall, Collimation, Level, Known, Distance, DistanceBS, DistanceFS, Inverted, Remark, Code, Staffed, Run,
	Chainage, Offset, Easting, Northing, Layer, Setup, Time, Description, BSUpper, BSLower, ISUpper, ISLower, FSUpper, FSLower, Skip)

func lower(roles ...string) map[string]string {
	m := make(map[string]string, len(roles))
	for _, r := range roles {
		m[strings.ToLower(r)] = r
	}
	return m
}

// heading is a resolved heading row.
type heading struct {
	columns []formats.Column
	roles   map[string]int // role → index into columns
	book    bool
	twice   []string
	xy      bool // x and y stand for the coordinates
	known   int  // headings understood
}

// resolve reads a heading row. It is good when it makes a level book or a list
// of points.
func resolve(cells []Cell) heading {
	h := heading{roles: map[string]int{}}
	axes := 0
	for i, c := range cells {
		text := strings.TrimSpace(c.Text)
		role, u := parseHeading(text)
		col := formats.Column{Col: i + 1, Heading: text, Role: role, Unit: u}
		if role == xAxis || role == yAxis {
			axes++
			col.Role = ""
		}
		h.columns = append(h.columns, col)
		if col.Role == "" {
			continue
		}
		h.known++
		if _, ok := h.roles[role]; ok {
			h.twice = append(h.twice, text)
			continue
		}
		h.roles[role] = i
	}
	h.settle()
	h.xy = axes == 2 && !h.has(Easting) && !h.has(Northing)
	return h
}

// settle decides what depends on the other columns: a station is a chainage
// where another column holds the name.
func (h *heading) settle() {
	h.book = h.has(BS) && h.has(FS)
	if i, ok := h.roles[station]; ok {
		role := Name
		if h.has(Name) {
			role = Chainage
		}
		delete(h.roles, station)
		if _, taken := h.roles[role]; !taken {
			h.roles[role] = i
			h.columns[i].Role = role
		} else {
			h.columns[i].Role = ""
		}
	}
	if i, ok := h.roles[Remark]; ok && !h.book && !h.has(Description) {
		delete(h.roles, Remark)
		h.roles[Description], h.columns[i].Role = i, Description
	}
	if i, ok := h.roles[Description]; ok && h.book && !h.has(Remark) {
		delete(h.roles, Description)
		h.roles[Remark], h.columns[i].Role = i, Remark
	}
}

func (h *heading) has(role string) bool { _, ok := h.roles[role]; return ok }

// points reports whether the columns list points.
func (h *heading) points() bool {
	return h.has(Easting) && h.has(Northing) || h.has(Chainage) && h.has(Name) || h.xy && h.known > 0
}

// fits reports whether the heading serves the content that is asked for.
func (h *heading) fits(c formats.Content) bool {
	switch c {
	case formats.LevelContent:
		return h.book
	case formats.PointContent:
		return h.points() && !h.book
	}
	return h.book || h.points()
}

// Fits reports whether one of the first rows of a grid is a heading that
// serves the content, so that a workbook's sheets can be tried.
func Fits(rows [][]Cell, opt formats.Options) bool {
	if len(opt.Columns) > 0 {
		return len(rows) > 0
	}
	for i := range rows {
		h := resolve(rows[i])
		if h.fits(opt.Content) {
			return true
		}
		if i > 0 {
			if h := resolve(joined(rows[i-1], rows[i])); h.fits(opt.Content) {
				return true
			}
		}
	}
	return false
}

// unitLine reports whether a row is the second line of a heading: it names units
// and holds no number.
func unitLine(cells []Cell) bool {
	units := 0
	for _, c := range cells {
		t := strings.TrimSpace(c.Text)
		if t == "" {
			continue
		}
		if _, _, err := unit.ParseDecimal(t); err == nil {
			return false
		}
		if _, u := parseHeading("level " + t); u.Known() {
			units++
		}
		if u := unitWords[plainWord(strings.ToLower(t))]; u.Known() {
			units++
		}
	}
	return units > 1
}

// joined puts two heading lines together, cell by cell.
func joined(a, b []Cell) []Cell {
	out := make([]Cell, max(len(a), len(b)))
	for i := range out {
		var t []string
		if i < len(a) && a[i].Text != "" {
			t = append(t, strings.TrimSpace(a[i].Text))
		}
		if i < len(b) && b[i].Text != "" {
			t = append(t, strings.TrimSpace(b[i].Text))
		}
		out[i].Text = strings.Join(t, " ")
	}
	return out
}
