package table

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Headings of level books as they are kept around the world, with one row each.
// From common practice, no published source.
func TestBooksAroundTheWorld(t *testing.T) {
	for name, c := range map[string]struct {
		rows  string // the heading and rows, parted by //
		roles string // of the columns, "-" is not read
		want  string // the rows
	}{
		"rise and fall":               {"BS|IS|FS|Rise|Fall|Reduced Level|Distance|Remarks // 1.5|||||50.0||TBM 1 // |1.2||0.3||50.3||kerb // ||1.0|0.5||50.5||TBM 2", "BS IS FS rise fall level distance remark", "TBM 1 BS 1.5 RL 50.0, kerb IS 1.2 RL 50.3, TBM 2 FS 1.0 RL 50.5"},
		"rise and fall with names":    {"Point|Back sight|Inter. sight|Fore sight|Rise|Fall|R.L.|Remarks // TBM|1.5|||||50.0|", "name BS IS FS rise fall level remark", "TBM BS 1.5 RL 50.0"},
		"height of collimation":       {"Stn.|B.S.|I.S.|F.S.|H.P.C.|R.L.|Remarks // A|1.5|||51.5|50.0|", "name BS IS FS collimation level remark", "A BS 1.5 RL 50.0"},
		"collimation in words":        {"Peg No.|Backsight|Intermediate|Foresight|Height of Collimation|Reduced Level|Comments // A|1.5|||51.5|50.0|", "name BS IS FS collimation level remark", "A BS 1.5 RL 50.0"},
		"plane of collimation":        {"Staff station|B/S|I/S|F/S|Ht. of Coll.|Red. Level|Remarks // A|1.5|||51.5|50.0|", "name BS IS FS collimation level remark", "A BS 1.5 RL 50.0"},
		"plus and minus":              {"Sta|BS(+)|HI|FS(-)|Elev // BM 1|4.32|104.32||100.00 // TP 1|||5.11|99.21", "name BS collimation FS level", "BM 1 BS 4.32 RL 100.00, TP 1 FS 5.11 RL 99.21"},
		"marks without brackets":      {"Sta.|BS+|H.I.|FS-|Elev.|Notes // BM|4.32|104.32||100.00|", "name BS collimation FS level remark", "BM BS 4.32 RL 100.00"},
		"signs alone":                 {"Sta.|+ Sight|H.I.|− Sight|Elevation|Description // BM|4.32|104.32||100.00|spike", "name BS collimation FS level remark", "BM BS 4.32 RL 100.00"},
		"letters with signs":          {"Station|+S|HI|-S|Elev (ft) // BM|4.32|104.32||100.00", "name BS collimation FS level", "BM BS 4.32 RL 100.00"},
		"sights with signs in units":  {"Sta|B.S. (+) (ft)|Ht. of Inst.|F.S. (–) (ft)|Elev // BM|4.32|104.32||100.00", "name BS collimation FS level", "BM BS 4.32 RL 100.00"},
		"profile":                     {"Sta|BS|HI|IFS|FS|Elev|Remarks // 0+00|4.32|104.32|||100.00| // 0+50|||5.1||99.22|", "name BS collimation IS FS level remark", "0+00 BS 4.32 RL 100.00, 0+50 IS 5.1 RL 99.22"},
		"chainage and distance":       {"Station|Distance|BS|IS|FS|Rise|Fall|RL|Remarks // A||1.5|||||50.0|BM // B|20||1.2||0.3||50.3|", "name distance BS IS FS rise fall level remark", "A BS 1.5 RL 50.0, B IS 1.2 RL 50.3"},
		"chainage beside names":       {"Chainage (m)|Point|BS (m)|IS (m)|FS (m)|RL (m) // 0|A|1.5|||50.0", "chainage name BS IS FS level", "A BS 1.5 RL 50.0"},
		"distances of both sights":    {"Point|BS|Dist. BS|FS|Dist. FS|Known RL // A|1.5|30|||50.0", "name BS distanceBS FS distanceFS known", "A BS 1.5"},
		"inverted staff in a column":  {"Point|BS|IS|FS|Inverted staff|RL // A||1.5|||", "name BS IS FS inverted level", "A IS 1.5"},
		"line of collimation":         {"Point|Back|Inter|Fore|Line of collimation|Level // A|1.5|||51.5|50.0", "name BS IS FS collimation level", "A BS 1.5 RL 50.0"},
		"instrument height and coded": {"BM|Code|Back reading|Intermediate reading|Fore reading|Inst. Ht.|Elevation // A|K|1.5|||51.5|50.0", "name code BS IS FS collimation level", "A BS 1.5 RL 50.0"},
	} {
		t.Run(name, func(t *testing.T) {
			rows := strings.Split(c.rows, " // ")
			d := build(t, formats.Options{Content: formats.LevelContent}, rows...)
			require.Empty(t, d.Problems)
			require.Len(t, d.Books, 1)
			var roles []string
			for _, x := range resolve(cells(rows[0]), formats.LevelContent).columns {
				role := x.Role
				if role == "" {
					role = "-"
				}
				roles = append(roles, role)
			}
			assert.Equal(t, c.roles, strings.Join(roles, " "))
			assert.Equal(t, c.want, strings.Join(rowsOf(&d.Books[0]), ", "))
		})
	}
	for text, role := range map[string]string{"B/S": BS, "I/S": IS, "F/S": FS, "Date/Time": Time, "Sight (+)": BS, "(-) Sight": FS, "Sight": sight, "+": "", "-": "", "S": "", "Sight - m": sight} {
		assert.Equal(t, role, parseHeading(text).role, text)
	}
}

// Which staff, which set-up and when are kept as written.
func TestStaffSetupAndTime(t *testing.T) {
	d := build(t, formats.Options{}, "Point|BS (m)|FS (m)|Rod no|Inst. at|Date/Time", "A|1.5||S1|I 1|date:2026-02-01T08:15:00", "B||1.2|2||9:40")
	require.Empty(t, d.Problems)
	r := d.Books[0].Rows
	assert.Equal(t, []string{"S1", "I 1", "2026-02-01T08:15:00", "2", "", "9:40"}, []string{r[0].Staff, r[0].Setup, r[0].Time, r[1].Staff, r[1].Setup, r[1].Time})
	d = build(t, formats.Options{}, "Point|BS (m)|FS (m)|Rod|Staffed", "A|1.5||4.32|invert", "B||1.2|date:2026-02-01|top")
	assert.Equal(t, []string{`D2: staff: "4.32" looks like a reading, and the column "Rod" is taken for the name of the staff; head it BS, IS or FS if it holds readings`,
		"D3: staff: the cell is a date (2026-02-01), and a text is wanted; a spreadsheet may have turned it into one: write it again as text"}, lines(d.Problems))
	assert.Equal(t, "invert", d.Books[0].Rows[0].Staffed)
}

// Three wires that can be used, and those that cannot.
func TestWires(t *testing.T) {
	const head = "Point|BS upper (m)|BS middle (m)|BS lower (m)|BS mean (m)|FS (m)"
	for _, c := range []struct{ row, problem, note string }{
		{"a|1.650|1.500|1.351|1.5003|", "", ""},
		{"a|1.650|1.500|1.351|1.500|", "", ""},
		{"a|1.650|1.500|1.351|1.501|", "", "E2: BS: the mean is booked as 1.501, and the three wires give 1.5003; the wires are used"},
		{"a|(1.650)|(1.500)|(1.351)|(1.5003)|", "", ""},
		{"a|1.650|1.500|1.351|(1.5003)|", "", "the mean is booked as 1.5003, and the three wires give 1.50033"},
		{"a|1.650||1.351||", "B2: BS: an outer wire is booked and the middle wire is missing; write the middle wire, or clear the outer ones", ""},
		{"a|||1.351||", "D2: BS: an outer wire is booked and the middle wire is missing", ""},
		{"a|1.650|x|1.351||", `C2: BS: "x" is not a number`, ""},
		{"a||||1.5|", "E2: BS: a mean is booked and the reading itself is missing", ""},
		{"a|1.650|1.500|||", "", "B2: BS: one outer wire is booked without the other; the middle wire alone is used"},
		{"a||1.500||1.5|", "", "E2: BS: a mean is booked and not all three wires are; it is not compared, and the reading 1.500 is used"},
		{"a|||||1.2", "", ""},
	} {
		d := build(t, formats.Options{}, head, c.row)
		if c.problem == "" {
			assert.Empty(t, d.Problems, c.row)
		} else {
			require.Len(t, d.Problems, 1, c.row)
			assert.Contains(t, lines(d.Problems)[0], c.problem)
		}
		if c.note == "" {
			assert.Empty(t, d.Notes, c.row)
		} else {
			require.Len(t, d.Notes, 1, c.row)
			assert.Contains(t, lines(d.Notes)[0], c.note)
		}
	}
	// half of the last place, and one more
	d := build(t, formats.Options{}, head, "a|1.503|1.500|1.4985|1.500|", "b|1.503|1.500|1.4988|1.500|")
	assert.Equal(t, []string{"E3: BS: the mean is booked as 1.500, and the three wires give 1.5006; the wires are used"}, lines(d.Notes))
}

// The heading goes over two lines of which the lower one alone would do: the
// line above belongs to it where it adds a column and takes none away.
func TestLineAboveTheHeading(t *testing.T) {
	for heading, c := range map[string]struct {
		rows string
		want string
	}{
		"adds the name":    {"Point||||Reduced/|BS (m)|IS (m)|FS (m)|level/a|1.5|||50", "a BS 1.5 RL 50"},
		"is a title":       {"Level book|||/Point|BS (m)|FS (m)|RL/a|1.5||50", "a BS 1.5 RL 50"},
		"takes one away":   {"North||Run|/Point|BS (m)|FS (m)|/a|1.5||50", "a BS 1.5"},
		"says a unit only": {"|in metres||/Point|BS (m)|FS (m)|RL/a|1.5||50", "a BS 1.5 RL 50"},
	} {
		d := build(t, formats.Options{}, strings.Split(c.rows, "/")...)
		require.Empty(t, d.Problems, heading)
		assert.Equal(t, []string{c.want}, rowsOf(&d.Books[0]), heading)
		assert.Equal(t, unit.M, d.Books[0].Unit, heading)
	}
}
