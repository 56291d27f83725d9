package csvfile

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// show writes the points of a document in short.
func show(d *formats.Document) []string {
	var out []string
	for _, p := range d.Points {
		s := fmt.Sprintf("%d %s %s %s", p.Row, p.ID, p.E, p.N)
		if p.Levelled {
			s += " " + p.Z.String()
		}
		if p.Desc != "" {
			s += " " + p.Desc
		}
		if p.Bad != "" {
			s += " !"
		}
		out = append(out, s)
	}
	return out
}

// Files as they come, which are read without a problem; notes tell what was odd.
func TestMessyPoints(t *testing.T) {
	declared := formats.Options{Unit: unit.M, Columns: []string{"name", "easting", "northing", "level"}}
	for name, c := range map[string]struct {
		text string
		opt  formats.Options
		want []string
		note string
	}{
		"x and y, declared, with headings": {text: "Job 7\n\nPoint,X,Y,Z\na,1.5,2.5,3.5\n", opt: declared, want: []string{"4 a 1.5 2.5 3.5"}, note: "t.csv:3: the columns are read as declared, and this row is taken as their headings"},
		"declared, units below":            {text: "Point,X,Y,Z\n,(m),(m),(m)\na,1.5,2.5,3.5\n", opt: declared, want: []string{"3 a 1.5 2.5 3.5"}},
		"declared, no headings":            {text: "a,1.5,2.5,3.5\nb,,,\n", opt: declared, want: []string{"1 a 1.5 2.5 3.5", "2 b 0 0"}},
		"declared, first row blank":        {text: "\na,1.5,2.5,3.5\n", opt: declared, want: []string{"1  0 0", "2 a 1.5 2.5 3.5"}},
		"declared, no numbers at all":      {text: "a,,,\n", opt: declared, want: []string{"1 a 0 0"}},
		"declared, semicolons, commas":     {text: "1;1,5;2,5;3,5\n2;1,25;2,5;3,5\n", opt: declared, want: []string{"1 1 1.5 2.5 3.5", "2 2 1.25 2.5 3.5"}, note: "numbers have a decimal comma"},
		"declared spaces": {text: "  a   1.5\t2.5  3.5\n", opt: formats.Options{Delimiter: ' ', Unit: unit.M, Columns: []string{"name", "easting", "northing", "level"}},
			want: []string{"1 a 1.5 2.5 3.5"}},
		"spaces, quotes, description": {text: "Point E N Level Desc\na 1.5 2.5 3.5 \"edge of pad\"\nb 1.5 2.5 3.5 edge of pad\n", opt: formats.Options{Delimiter: ' '},
			want: []string{"2 a 1.5 2.5 3.5 edge of pad", "3 b 1.5 2.5 3.5 edge of pad"}},
		"ftUS declared":      {text: "Point,E (ft),N (ft),Level (ft)\na,2000000.5,700000,3\n", opt: formats.Options{Unit: unit.FtUS}, want: []string{"2 a 2000000.5 700000 3"}},
		"which is which":     {text: "Point,X (Easting),Y (Northing),Z (m)\na,1.5,2.5,3.5\n", want: []string{"2 a 1.5 2.5 3.5"}},
		"datum in heading":   {text: "Point,Easting (m),Northing (m),RL (m AHD)\na,1.5,2.5,3.5\n", want: []string{"2 a 1.5 2.5 3.5"}},
		"no level, in words": {text: pointHead + "a,1,2,N/A\nb,1,2,*\nc,1,2,-9999.000\nd,1,2,-\ne,1,2,\n", want: []string{"2 a 1 2 !", "3 b 1 2 !", "4 c 1 2 !", "5 d 1 2 !", "6 e 1 2"}, note: `t.csv:2:4: level: "N/A" stands for "no level" here`},
		"level of 0":         {text: pointHead + "a,1,2,45.5\nb,1,2,0.000\nc,1,2,47.1\n", want: []string{"2 a 1 2 45.5", "3 b 1 2 0.000", "4 c 1 2 47.1"}, note: "t.csv:3:4: level: 1 level is exactly 0, and all others lie between 45 and 48"},
		"short rows":         {text: pointHead + "a,1,2\nb\n\nc,1,2,3\n", want: []string{"2 a 1 2", "3 b 0 0", "4  0 0", "5 c 1 2 3"}, note: "rows with fewer fields than the heading are blank in the others: 2, 3"},
		"empty commas":       {text: "Point,Easting (m),Northing (m),Level (m),Desc,,\na,1,2,3,\"edge, left\",,\n", want: []string{"2 a 1 2 3 edge, left"}},
		"unread column":      {text: "Point,Easting (m),Northing (m),Weather,Level (m)\na,1,2,fine,3\n", want: []string{"2 a 1 2 3"}, note: `columns that are not read: "Weather"`},
		"comments":           {text: "# by crew 2\n" + pointHead + "#a,1,2,3\n# end\nb,1,2,3\n", want: []string{"5 b 1 2 3"}, note: "t.csv:3:1: the line begins with # and is not read, though it holds numbers"},
		"quoted # name":      {text: pointHead + "\"#a\",1,2,3\n", want: []string{"2 #a 1 2 3"}},
		"names":              {text: pointHead + "007,1,2,3\n1.00E+05,1,2,3\n3-Apr,1,2,3\n", want: []string{"2 007 1 2 3", "3 1.00E+05 1 2 3", "4 3-Apr 1 2 3"}, note: "looks like a name that a spreadsheet turned into a power"},
		"more digits":        {text: pointHead + "a,6407513.735184638761,2,3\n", want: []string{"2 a 6407513.73518463876 2 3"}, note: "1 number has more than 18 digits and is rounded to that"},
		"chainage table":     {text: "Station,Offset,Level (m)\n120.5,-2.5,44.1\n", want: []string{"2  0 0 44.1"}},
		"names and levels":   {text: "Peg,RL (m)\np1,44.1\n", opt: formats.Options{Content: formats.PointContent}, want: []string{"2 p1 0 0 44.1"}},
		"marks":              {text: "BM,Easting (m),Northing (m),Known (m)\nBM1,1,2,50.000\n", want: []string{"2 BM1 1 2 50.000"}},
		"semicolon integers": {text: "Point;E (m);N (m);Level (m)\na;1;2;3\n", want: []string{"2 a 1 2 3"}},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeText(t, c.text, c.opt)
			require.Empty(t, d.Problems)
			assert.Equal(t, c.want, show(d))
			assert.Equal(t, len(c.want), d.PointCount)
			if c.note != "" {
				assert.Contains(t, fmt.Sprintln(d.Notes), c.note)
			}
		})
	}
}

// Each unit word of a heading; a bare foot is the international one for small
// numbers. From common practice, no published source.
func TestUnitsOfHeadings(t *testing.T) {
	for head, want := range map[string]unit.Unit{"Level (m)": unit.M, "Level [mm]": unit.MM, "RL_ft": unit.Ft, "Elev ft US": unit.FtUS, "Elev. (US ft)": unit.FtUS, "Height (US survey feet)": unit.FtUS,
		"Reduced level (int ft)": unit.Ft, "Level/m": unit.M, "Level, m": unit.M, "Level in metres": unit.M, "RL (mAHD)": unit.M, "RL (AHD) (m)": unit.M, "RL (AHD)": {}, "Level": {}, "Level (in)": unit.In, "Level (in mm)": unit.MM} {
		d := decodeText(t, "Point,E,N,\""+head+"\"\na,1,2,3\n", formats.Options{})
		require.Empty(t, d.Problems, head)
		require.True(t, d.Points[0].Levelled, head)
		assert.Equal(t, want, d.Units.Linear, head)
	}
}

const bookHead = "Station,BS (m),IS (m),FS (m),RL (m),Remarks\n"

// Rows that add up the columns are notes; shots with such names are shots.
func TestTotals(t *testing.T) {
	body := "A,1.500,,,10.000,\nB,,1.250,,,\nC,1.750,,1.000,,\nD,,,1.500,,\n"
	for name, c := range map[string]struct {
		rows, note, problem string
		records             int
	}{
		"sums":                  {rows: "Sum,3.250,1.250,2.500,,\n", note: `t.csv:6:1: name: "Sum" is a row of sums; it is not read as a reading`, records: 4},
		"sigma":                 {rows: "Σ,3.250,,2.500,,\n", note: `"Σ" is a row of sums; it`, records: 4},
		"sign of sum":           {rows: "∑ BS − ∑ FS,0.750,,,,\n", note: "is a row of sums; it", records: 4},
		"sums and difference":   {rows: "Totals:,3.250,,2.500,,\nDifference,,,0.750,,\n", note: `"Difference" is a row of sums; it`, records: 4},
		"word in the remark":    {rows: ",3.250,,2.500,,Sum\n", note: `t.csv:6:6: name: "Sum" is a row of sums; it`, records: 4},
		"no word at all":        {rows: ",3.250,,2.500,,\n", note: "a row without a name that holds the sums", records: 4},
		"wrong sums":            {rows: "Total,3.260,,2.500,,\n", note: "its numbers are not what the readings above add up to (BS 3.25, IS 1.25, FS 2.5)", records: 4},
		"carried forward":       {rows: "Carried forward,3.250,1.250,2.500,,\nBrought forward,3.250,1.250,2.500,,\nE,1.0,,,,\n", note: `t.csv:7:1: name: "Brought forward" is a row of sums; it`, records: 5},
		"page sums":             {rows: "Sum,3.250,1.250,2.500,,\nE,1.000,,,,\nF,,,2.000,,\nSum,1.000,,2.000,,\n", note: `t.csv:9:1: name: "Sum" is a row of sums; it is`, records: 6},
		"one number, not a sum": {rows: "Sum,,,1.999,,\n", problem: `t.csv:6:1: name: "Sum" names a row of sums, but its number is not the sum of the column`, records: 4},
		"a shot named check":    {rows: "Check,,1.100,,,\n", records: 5},
		"a flat check":          {rows: "Check,,,0.750,,\n", records: 5},
		"a dirty check":         {rows: "Check,,1.1OO,,,\n", problem: `t.csv:6:3: IS: "1.1OO" holds a letter`, records: 5},
		"a check of sums":       {rows: "Check,3.250,,2.500,,\n", note: `"Check" is a row of sums`, records: 4},
		"summit":                {rows: "Summit,,1.1,,,\n", records: 5},
		"nameless reading":      {rows: ",,1.1,,,\n", records: 5},
		"after a bad row":       {rows: "E,,1.2x,,,\nSum,3.250,9.9,2.500,,\n", note: "was not compared, because a row above it cannot be read", problem: "t.csv:6:3: IS:", records: 5},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeText(t, bookHead+body+c.rows, formats.Options{})
			if c.problem == "" {
				require.Empty(t, d.Problems)
			} else {
				require.Len(t, d.Problems, 1)
				assert.Contains(t, d.Problems[0].String(), c.problem)
			}
			require.Len(t, d.Books, 1)
			assert.Len(t, d.Books[0].Rows, c.records)
			if c.note == "" {
				assert.NotContains(t, fmt.Sprint(d.Notes), "sums")
			} else {
				assert.Contains(t, fmt.Sprint(d.Notes), c.note)
			}
		})
	}
}

func TestMessyBook(t *testing.T) {
	d := decodeText(t, "Level book;;;;;\nPoint;Back;Inter-;Fore;Collimation;Red.\n;sight;mediate;sight;;level\n;m;m;m;m;m\n"+
		"BM 1;1,342;;;51,342;50,000\n1;;(2,310);-;;\n;;;;;\n2;;1,3OO;;;\n;;1,2x;;;\nSoffit;;-1,2;;;\n3;;;1,210;;N/A\n4;;-9999;;;\n", formats.Options{})
	require.Len(t, d.Books, 1)
	b := d.Books[0]
	assert.Equal(t, unit.M, b.Unit)
	assert.Equal(t, 4, b.Pos.Row)
	require.Len(t, b.Rows, 8, "every row is a record, the blank one too")
	assert.Equal(t, "1.342 50.000 51.342", fmt.Sprint(b.Rows[0].BS.Value, b.Rows[0].Level.Value, b.Rows[0].Collimation.Value))
	assert.True(t, b.Rows[1].IS.Bracket)
	assert.False(t, b.Rows[1].FS.Set)
	assert.True(t, b.Rows[2].Blank())
	assert.Contains(t, b.Rows[3].Bad, `IS: "1,3OO" holds a letter`)
	assert.False(t, b.Rows[4].Blank(), "a row that holds only a bad number is not blank")
	assert.Equal(t, "-1.2", b.Rows[5].IS.Value.String(), "a negative reading is kept; the reduction judges it")
	assert.False(t, b.Rows[6].Level.Set)
	assert.Contains(t, b.Rows[7].Bad, "\"-9999\" stands for \"no value\" in a column of readings")
	var places []string
	for _, p := range d.Problems {
		places = append(places, p.Pos.Cell())
	}
	assert.Equal(t, []string{"8:3", "9:3", "12:3"}, places)
	notes := fmt.Sprintln(d.Notes)
	for _, want := range []string{"one line above the headings is not read", "1 cell holds a dash and is taken as blank", `t.csv:11:6: level: "N/A" stands for "no value"`, "numbers have a decimal comma"} {
		assert.Contains(t, notes, want)
	}
}

func TestThreeWiresAndFlags(t *testing.T) {
	d := decodeText(t, "Peg,BS upper (ft),BS middle (ft),Lower BS (ft),Back wire,FS top (ft),FS mid (ft),FS bottom (ft),Inv,Dist BS (ft),Dist FS (ft)\nA,2.85,2.46,2.06,,,,,yes,79,\nB,,,,,5.0,4.607,4.2,maybe,,80\n", formats.Options{})
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].String(), `t.csv:3:9: inverted: "maybe" is neither yes nor no`)
	r := d.Books[0].Rows
	assert.Equal(t, "2.85 2.46 2.06", fmt.Sprint(r[0].WiresBS.Upper.Value, r[0].BS.Value, r[0].WiresBS.Lower.Value))
	assert.Equal(t, "5.0 4.607 4.2", fmt.Sprint(r[1].WiresFS.Upper.Value, r[1].FS.Value, r[1].WiresFS.Lower.Value))
	assert.True(t, r[0].Inverted)
	assert.True(t, d.Books[0].HasFlag)
	assert.Equal(t, unit.Ft, d.Books[0].Unit)
	assert.Equal(t, unit.Ft, d.Books[0].DistIn)
}

func TestSniff(t *testing.T) {
	for _, c := range []struct {
		name, head string
		want       bool
	}{{"a.csv", "x", true}, {"A.TXT", "x", true}, {"a.csv", " <?xml", false}, {"a.csv", "PK\x03\x04", false}, {"a.json", "x", false}} {
		assert.Equal(t, c.want, Format.Sniff(c.name, []byte(c.head)), c.name)
	}
}

func TestUTF16DeclaredAndDamaged(t *testing.T) {
	be := func(s string) string {
		var b strings.Builder
		for _, r := range s {
			b.WriteByte(byte(r >> 8))
			b.WriteByte(byte(r))
		}
		return b.String()
	}
	d := decodeText(t, be(pointHead+"a,1,2,3\n"), formats.Options{Encoding: "utf-16"})
	require.Empty(t, d.Problems)
	assert.Equal(t, []string{"2 a 1 2 3"}, show(d))
	d = decodeText(t, "\xfe\xff"+be(pointHead+"a,1,2,3\n")+"\xd8\x00"+be("b,1,2,3\n"), formats.Options{})
	require.Len(t, d.Problems, 1)
	assert.Contains(t, d.Problems[0].String(), "t.csv:3: the line holds characters that are damaged")
	assert.NotEmpty(t, d.Points[1].Bad)
}
