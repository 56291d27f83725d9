package table

import (
	"strings"
	"unicode"

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
	StaffReading, Receiver                    = "reading", "receiver" // on a laser plane; reading: also of a book with one reading a row
	Type, ReadingUpper, ReadingLower          = "type", "reading upper", "reading lower"
	Mean, BSMean, ISMean, FSMean              = "mean", "BS mean", "IS mean", "FS mean"
	Staff, Page                               = "staff", "page"
	BSUpper, BSLower, ISUpper, ISLower        = "BS upper", "BS lower", "IS upper", "IS lower"
	FSUpper, FSLower                          = "FS upper", "FS lower"
	Skip                                      = "-" // a declared column that is not read
	xAxis, yAxis                              = "x", "y"
	station                                   = "station"
	sight                                     = "sight"  // a type of reading, or a distance
	middle                                    = "middle" // wire of a book with one reading a row
)

// spellings are the trade's headings of each role, in lower case without marks
// and spaces. From common practice, no published source.
var spellings = map[string]string{
	Name: "name point pt pointno pointid pointname pointnumber ptno ptid ptname id no nr number peg pegno mark bm benchmark shot shotno " +
		"staffposition staffstation place target object points stationpoint pointstation pegmark",
	station: "station stn sta stationno",
	BS:      "bs backsight backsights back backreading plussight",
	IS:      "is int inter intermediate intermediates intermediatesight intermediatesights intersight intermed intermediatereading ifs intermediateforesight",
	FS:      "fs foresight foresights fore forereading foresite minussight",
	Rise:    "rise rises", Fall: "fall falls",
	Collimation: "collimation hpc hoc hc hi hoi heightofcollimation heightofinstrument heightofplaneofcollimation planeofcollimation " +
		"instrumentheight collimationlevel collimationheight heightofcoll collht heightofcollimationline htofinst htofinstrument htofcoll htofcollimation instht " +
		"lineofcollimation lineofcoll",
	Level:      "level levels rl reducedlevel reducedlevels redlevel elevation elevations elev el height ht z rlevel",
	Known:      "known knownlevel knownrl knownelevation givenlevel given benchmarklevel bmlevel bmrl fixedlevel markrl",
	Distance:   "distance dist sightdistance sightlength lengthofsight sightdist",
	DistanceBS: "distancebs distbs bsdistance bsdist backdistance backsightdistance distanceback distback distancebacksight",
	DistanceFS: "distancefs distfs fsdistance fsdist foredistance foresightdistance distancefore distfore distanceforesight",
	Inverted:   "inverted inv invertedstaff staffinverted flag invflag",
	Remark:     "remark remarks comment comments note notes", Description: "description desc descr",
	Code: "code featurecode feature codes", Layer: "layer", Staffed: "staffed staffedon staffon",
	Run: "run line pipe string", Chainage: "chainage ch chain chn", Offset: "offset offs os",
	Easting:  "easting eastings east e xeasting eastingx xeast eastx yeasting eastingy yeast easty",
	Northing: "northing northings north n ynorthing northingy ynorth northy xnorthing northingx xnorth northx",
	Setup:    "setup setupno setupid instrumentstation inst instrument instrumentat instat instrumentsetup instrumentposition", Time: "time date datetime observed dateandtime timestamp",
	StaffReading: "reading readings staffreading staffreadings rodreading rodreadings", Receiver: "receiver receiveroffset receiverreading offplane",
	sight: "sight",
	Type:  "type kind sighttype typeofsight kindofsight readingtype typeofreading kindofreading bsisfs bsfs bsfsis isbsfs",
	// generic wires, of a book with one reading a row
	ReadingUpper: "readingupper upperreading upper upperwire upperhair upperstadia top topwire tophair",
	middle:       "middle middlewire middlehair middlereading centrewire centerwire centrehair centerhair mid midwire",
	ReadingLower: "readinglower lowerreading lower lowerwire lowerhair lowerstadia bottom bottomwire bottomhair",
	Mean:         "mean meanreading meanofwires",
	BSMean:       "bsmean meanbs backsightmean meanbacksight",
	ISMean:       "ismean meanis intermediatemean meanintermediate",
	FSMean:       "fsmean meanfs foresightmean meanforesight",
	Staff:        "staff staffno staffid staffnumber rod rodno rodid rodnumber",
	Page:         "page pageno pagenumber sheet sheetno sheetnumber pg folio",
	xAxis:        "x xcoordinate xcoord", yAxis: "y ycoordinate ycoord",
}

// words maps a heading, in lower case without marks and spaces, to its role.
var words = dictionary()

func dictionary() map[string]string {
	m := map[string]string{}
	for role, list := range spellings {
		for _, w := range strings.Fields(list) {
			m[w] = role
		}
	}
	// three wires: "BS upper", "Upper BS", "Backsight middle wire", "FS bottom hair"
	wires := [3]string{"upper top up u upperstadia topstadia", "middle mid centre center central axial", "lower bottom low l lowerstadia bottomstadia"}
	sights := [3][4]string{{BSUpper, BS, BSLower, "bs backsight back"}, {ISUpper, IS, ISLower, "is intermediate int intermediatesight"}, {FSUpper, FS, FSLower, "fs foresight fore"}}
	for _, sight := range sights {
		for _, s := range strings.Fields(sight[3]) {
			for i, list := range wires {
				for _, w := range strings.Fields(list) {
					for _, end := range []string{"", "wire", "hair", "reading"} {
						m[s+w+end], m[w+s+end], m[w+end+s] = sight[i], sight[i], sight[i]
					}
				}
			}
		}
	}
	return m
}

// unitWords are the spellings of units in headings, in lower case without marks
// and spaces. A bare foot is the international one unless something says more.
var unitWords = map[string]unit.Unit{
	"m": unit.M, "metre": unit.M, "metres": unit.M, "meter": unit.M, "meters": unit.M, "mtr": unit.M, "mtrs": unit.M,
	"mahd": unit.M, "maod": unit.M, "mod": unit.M, "masl": unit.M, "mamsl": unit.M,
	"mm": unit.MM, "millimetre": unit.MM, "millimetres": unit.MM, "millimeter": unit.MM, "millimeters": unit.MM,
	"cm": unit.CM, "centimetre": unit.CM, "centimetres": unit.CM, "centimeter": unit.CM, "centimeters": unit.CM, "km": unit.KM, "kilometre": unit.KM, "kilometres": unit.KM,
	"ft": unit.Ft, "foot": unit.Ft, "feet": unit.Ft,
	"intft": unit.Ft, "ftint": unit.Ft, "ift": unit.Ft, "ifeet": unit.Ft, "internationalfoot": unit.Ft, "internationalfeet": unit.Ft, "internationalft": unit.Ft,
	"ftus": unit.FtUS, "usft": unit.FtUS, "usfoot": unit.FtUS, "usfeet": unit.FtUS, "feetus": unit.FtUS, "footus": unit.FtUS, "ussurveyfoot": unit.FtUS, "ussurveyfeet": unit.FtUS,
	"ussurveyft": unit.FtUS, "surveyfoot": unit.FtUS, "surveyfeet": unit.FtUS, "surveyft": unit.FtUS, "sft": unit.FtUS, "usftsurvey": unit.FtUS,
	"in": unit.In, "inch": unit.In, "inches": unit.In,
}

// bareFoot are the spellings that do not say which foot.
var bareFoot = map[string]bool{"ft": true, "foot": true, "feet": true}

// otherUnits are lengths that no file may be read in.
var otherUnits = map[string]bool{"yd": true, "yds": true, "yard": true, "yards": true, "chains": true, "link": true, "links": true, "lk": true, "dm": true,
	"decimetre": true, "decimetres": true, "decimeter": true, "fathom": true, "fathoms": true, "rod": true, "rods": true, "ftin": true, "feetinches": true,
	"feetandinches": true, "ftandin": true, "feetinch": true, "ftins": true, "um": true, "µm": true, "nm": true}

// head is what one heading says.
type head struct {
	role string // "" when it says nothing that is known
	unit unit.Unit
	bare bool   // a foot that does not say which
	odd  string // a unit that is not read
}

func (h *head) takeUnit(word string) bool {
	u, ok := unitWords[word]
	if ok && !h.unit.Known() {
		h.unit, h.bare = u, bareFoot[word]
	}
	return ok
}

// parseHeading reads one heading: words, and a unit in brackets or behind.
func parseHeading(text string) head { return parseWith(words, text) }

// parseWith is parseHeading with other words.
func parseWith(words map[string]string, text string) head {
	var h head
	t := strings.ToLower(strings.TrimSpace(text))
	if r := words[plainWord(t)]; r != "" && !strings.ContainsAny(t, "([") && signed(t, nil) == "" {
		h.role = r
		return h
	}
	outside, inside := brackets(t)
	for _, in := range inside {
		h.bracket(in)
	}
	if h.role = signed(outside, inside); h.role != "" {
		return h
	}
	if h.role = words[plainWord(outside)]; h.role == xAxis || h.role == yAxis {
		// "X (Easting)" says which it is
		for _, in := range inside {
			if r := words[plainWord(in)]; r == Easting || r == Northing {
				h.role = r
			}
		}
	}
	if h.role != "" || h.unit.Known() {
		return h
	}
	// "level_m", "Easting m", "RL in metres", "BS/mm", "Level, ft US"
	for i := len(outside) - 1; i > 0; i-- {
		if strings.IndexByte(" _-/,", outside[i]) < 0 {
			continue
		}
		tail := plainWord(outside[i+1:])
		base := strings.TrimRight(outside[:i], " _-/,")
		if r := words[plainWord(strings.TrimSuffix(base, " in"))]; r != "" && (h.takeUnit(tail) || otherUnits[tail]) {
			h.role = r
			if otherUnits[tail] {
				h.odd = strings.TrimSpace(outside[i+1:])
			}
			return h
		}
	}
	return h
}

// bracket looks for a unit in what stands in brackets: "m", "ft US", "m AHD",
// "in metres". A datum alone is no unit.
func (h *head) bracket(in string) {
	if h.takeUnit(plainWord(in)) {
		return
	}
	if otherUnits[plainWord(in)] {
		h.odd = in
		return
	}
	fields := strings.FieldsFunc(in, func(r rune) bool { return r == ' ' || r == ',' || r == ';' })
	if len(fields) > 1 && fields[0] == "in" {
		fields = fields[1:]
	}
	if len(fields) > 1 && (h.takeUnit(plainWord(fields[0]+fields[1])) || h.takeUnit(plainWord(fields[0]))) {
		return
	}
	for _, f := range append(fields, in) {
		if h.takeUnit(plainWord(f)) {
			return
		}
		if otherUnits[plainWord(f)] {
			h.odd = in
		}
	}
}

// signed reads "+ Sight", "Sight (-)" and "+ S": a backsight is added to a level
// and a foresight taken off it.
func signed(outside string, inside []string) string {
	t := strings.TrimSpace(outside)
	if w := plainWord(t); w != "s" && w != "sight" && w != "sights" && w != "reading" {
		return ""
	}
	for _, mark := range append([]string{strings.TrimRight(t, "abcdefghijklmnopqrstuvwxyz "), strings.TrimLeft(t, "abcdefghijklmnopqrstuvwxyz ")}, inside...) {
		switch strings.TrimSpace(mark) {
		case "+":
			return BS
		case "-", "\u2212", "\u2013":
			return FS
		}
	}
	return ""
}

// brackets splits what stands in brackets from the rest.
func brackets(t string) (outside string, inside []string) {
	var out strings.Builder
	for t != "" {
		i := strings.IndexAny(t, "([")
		if i < 0 {
			out.WriteString(t)
			break
		}
		out.WriteString(t[:i] + " ")
		t = t[i+1:]
		j := strings.IndexAny(t, ")]")
		if j < 0 {
			return out.String(), append(inside, strings.TrimSpace(t))
		}
		inside, t = append(inside, strings.TrimSpace(t[:j])), t[j+1:]
	}
	return out.String(), inside
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

// numeric are the roles whose cells are numbers.
var numeric = map[string]bool{BS: true, IS: true, FS: true, Rise: true, Fall: true, Collimation: true, Level: true, Known: true, Distance: true, DistanceBS: true, DistanceFS: true,
	Chainage: true, Offset: true, Easting: true, Northing: true, StaffReading: true, Receiver: true,
	ReadingUpper: true, middle: true, ReadingLower: true, Mean: true, BSMean: true, ISMean: true, FSMean: true, BSUpper: true, BSLower: true, ISUpper: true, ISLower: true, FSUpper: true, FSLower: true,
	FromInvert: true, ToInvert: true, FromEasting: true, FromNorthing: true, ToEasting: true, ToNorthing: true, FromRim: true, ToRim: true, Bore: true, Wall: true}

// declarable are the roles that a job file may declare with columns, by their
// lower-case spelling.
var declarable = lower(Name, BS, IS, FS, Rise, Fall, Collimation, Level, Known, Distance, DistanceBS, DistanceFS, Inverted, Remark, Code, Staffed, Run,
	Chainage, Offset, Easting, Northing, Layer, Setup, Time, Description, StaffReading, Receiver, Type, ReadingUpper, ReadingLower, Mean, BSMean, ISMean, FSMean,
	Staff, Page, BSUpper, BSLower, ISUpper, ISLower, FSUpper, FSLower, Skip)

func lower(roles ...string) map[string]string {
	m := make(map[string]string, len(roles))
	for _, r := range roles {
		m[strings.ToLower(r)] = r
	}
	return m
}
