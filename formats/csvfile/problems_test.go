package csvfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// marked takes the marks « » out of a text. The first stands before the field
// where a problem is expected; row and col are its place. A mark at the start
// of a line with a second one behind it, «», stands for the whole row.
func marked(t testing.TB, text, delim string) (clean string, row, col int) {
	i := strings.Index(text, "«")
	require.GreaterOrEqual(t, i, 0, "the text has no mark")
	before := text[:i]
	row = strings.Count(before, "\n") + 1
	line := before[strings.LastIndex(before, "\n")+1:]
	col = strings.Count(line, delim) + 1
	if line == "" && strings.HasPrefix(text[i:], "«»") {
		col = 0
	}
	return strings.NewReplacer("«", "", "»", "").Replace(text), row, col
}

const pointHead = "Point,Easting (m),Northing (m),Level (m)\n"

// Each text has its first problem at the mark, in these words, and the row that
// holds it is kept as a record that says why it cannot be used.
func TestProblemsAreAtTheirPlace(t *testing.T) {
	for name, c := range map[string]struct {
		text, want string
		opt        formats.Options
	}{
		"letter for digit":     {text: pointHead + "a,1,2,«1.34O»\n", want: `level: "1.34O" holds a letter that looks like a digit; it may be 1.340`},
		"letter l":             {text: pointHead + "a,1,«l2.5»,3\n", want: `northing: "l2.5" holds a letter that looks like a digit; it may be 12.5`},
		"comma number":         {text: pointHead + "a,1,2,«\"1,342\"»\n", want: `level: "1,342" may be 1.342 (decimal comma) or 1342 (thousands)`},
		"thousands":            {text: pointHead + "a,«\"320,000.125\"»,2,3\n", want: `easting: "320,000.125" has marks between its thousands; it may be 320000.125`},
		"unit behind":          {text: pointHead + "a,1,2,«1.342 m»\n", want: "it may be 1.342: keep the number alone"},
		"word before":          {text: pointHead + "a,1,2,«RL 10.2»\n", want: "a number with something before it; it may be 10.2"},
		"no-break space in":    {text: pointHead + "a,1,2,«1\u00a0342.5»\n", want: "no-break space"},
		"no-break space after": {text: pointHead + "a,1,2,«1.5\u00a0»\n", want: "no-break space"},
		"odd minus":            {text: pointHead + "a,1,2,«\u22121.342»\n", want: "a dash that is not a minus sign; it may be -1.342"},
		"minus behind":         {text: pointHead + "a,1,2,«1.342-»\n", want: "its minus sign behind it; it may be -1.342"},
		"apostrophe":           {text: pointHead + "a,1,2,«'1.5»\n", want: "made text with an apostrophe; it may be 1.5"},
		"error cell":           {text: pointHead + "a,1,2,«#REF!»\n", want: "is a spreadsheet error"},
		"other digits":         {text: pointHead + "a,1,2,«١.٥»\n", want: "digits of another script"},
		"spaces inside":        {text: pointHead + "a,1,2,«1 342.5»\n", want: "has spaces inside; it may be 1342.5"},
		"feet and inches":      {text: pointHead + "a,1,2,«12'-3\n", want: "looks like feet and inches"},
		"plus station":         {text: "Point,Chainage (m),Level (m)\na,«1+234.56»,3\n", want: `chainage: "1+234.56" is a chainage with a plus sign; it may be 1234.56`},
		"hexadecimal":          {text: pointHead + "a,1,2,«0x1p3»\n", want: `"0x1p3" is not a number`},
		"infinity":             {text: pointHead + "a,1,2,«inf»\n", want: `"inf" is not a number`},
		"not a number":         {text: pointHead + "a,1,2,«lol»\n", want: `"lol" is not a number`},
		"too large":            {text: pointHead + "a,1,2,«1234567890123456789012.5»\n", want: "more than 18 digits before the decimal point"},
		"bracketed level":      {text: pointHead + "a,1,2,«(3.5)»\n", want: "in brackets, which have no meaning here"},
		"half a place":         {text: pointHead + "a,1,«»,3\n", want: "northing: the row has one of easting and northing"},
		"other half":           {text: pointHead + "a,«»,1,3\n", want: "easting: the row has one of easting and northing"},
		"offset alone":         {text: "Name,Chainage (m),Offset (m),Level (m)\na,«»,2.5,3\n", want: "chainage: the row has an offset and no chainage"},
		"too many fields":      {text: pointHead + "a,1,2,3,«4»\n", want: "row: the row has 5 fields and the heading 4"},
		"comma cuts a number":  {text: "Point,Easting (m),Northing (m),Level (m),Desc\na,1.5,2.5,12,«345,pad»\n", want: "a comma may have cut a number in two"},
		"quote not closed":     {text: "Point,Easting (m),Northing (m),Level (m),Desc\na,1,2,3,«\"pad»\nb,1,2,3,\n", want: "a quote is opened in this field and not closed"},
		"text after quote":     {text: "Point,Easting (m),Northing (m),Level (m),Desc\na,1,2,3,«\"5\" pipe»\n", want: "text follows the closing quote"},
		"quotes far apart":     {text: "Point,Easting (m),Northing (m),Level (m),Desc\na,1,2,3,«\"x»\nb,1,2,3,y\nc,1,2,3,\"z\n", want: "a quote is opened in this field"},
		"bytes not UTF-8":      {text: pointHead + strings.Repeat("a,1,2,3\n", 10000) + "«»\xff,1,2,3\n", want: "bytes that are not UTF-8"},
		"point among commas":   {text: "Point;Easting (m);Northing (m);Level (m)\n" + strings.Repeat("a;1,5;2,5;3,5\n", 300) + "b;1,5;2,5;«1.342»\n", want: "has a decimal point, and the numbers of this file have a decimal comma; it may be 1,342 or 1342"},
		"mixed from the start": {text: "Point;Easting (m);Northing (m);Level (m)\na;1.5;2.5;«3,5»\n", want: "may be 3.5 (decimal comma) or 35 (thousands)"},
		"which foot":           {text: "Point,Easting (ft),Northing (ft),Level (ft)\na,1,2,3\nb,«2000000.5»,2,3\n", want: "unit: coordinates this large in \"ft\" differ by a foot"},
		"which foot, negative": {text: "Point,Easting (feet),Northing (feet),Level (feet)\nb,«1»,-500000,3\n", want: "unit: coordinates this large in \"ft\" differ by a foot"},
		"declared column":      {text: "a,1,«x2»,3\n", want: "northing: \"x2\" is a number with something before it", opt: formats.Options{Unit: unit.M, Columns: []string{"name", "easting", "northing", "level"}}},
	} {
		t.Run(name, func(t *testing.T) {
			delim := ","
			if strings.Contains(c.text, ";") {
				delim = ";"
			}
			if name == "quotes far apart" || name == "comma number" || name == "thousands" {
				require.Equal(t, ",", delim)
			}
			text, row, col := marked(t, c.text, delim)
			d := decodeText(t, text, c.opt)
			require.NotEmpty(t, d.Problems)
			p := d.Problems[0]
			assert.Contains(t, p.String(), c.want)
			assert.Equal(t, []int{row, col}, []int{p.Pos.Row, p.Pos.Col}, p.String())
			n := 0
			for i := range d.Points {
				if d.Points[i].Row == row {
					n++
					assert.NotEmpty(t, d.Points[i].Bad, "the record says why it cannot be used")
				}
			}
			assert.Equal(t, 1, n, "the row is one record")
		})
	}
}

// The rows below a stray quote are rows of their own.
func TestAStrayQuoteSpoilsOnlyItsLine(t *testing.T) {
	d := decodeText(t, "Point,E (m),N (m),Level (m),Desc\na,1,2,3,\"x\nb,1,2,3,y\nc,1,2,3,\"two\nlines\"\nd,1,2,3,\"z\ne,1,2,3,w\n", formats.Options{})
	var got []string
	for _, p := range d.Points {
		bad := ""
		if p.Bad != "" {
			bad = "!"
		}
		got = append(got, p.ID+":"+p.Desc+bad)
	}
	assert.Equal(t, []string{`a:"x!`, "b:y", "c:two\nlines", `d:"z!`, "e:w"}, got)
	assert.Equal(t, []int{2, 3, 4, 6, 7}, []int{d.Points[0].Row, d.Points[1].Row, d.Points[2].Row, d.Points[3].Row, d.Points[4].Row})
}

// A file that cannot be read at all gives one plain line and no record.
func TestRefusedFiles(t *testing.T) {
	long := pointHead + "a,1,2,3\n" + strings.Repeat("x", formats.MaxLineBytes+1<<18) + "\n"
	for name, c := range map[string]struct {
		text, want string
		opt        formats.Options
	}{
		"x and y":           {text: "Point,X,Y,Level\na,1,2,3\n", want: "t.csv:1: x, y: the headings x and y do not say which one is the easting"},
		"x and northing":    {text: "Point,X,Northing,Level\na,1,2,3\n", want: "the headings x and y do not say"},
		"no heading":        {text: "a,1,2,3\nb,1,2,3\n", want: `t.csv:1: no row of headings was found (the file begins with "a, 1, 2, 3")`},
		"how to declare":    {text: "a,1,2,3\nb,1,2,3\n", want: `"columns: [name, northing, easting, level, description]"`},
		"no book":           {text: pointHead + "a,1,2,3\n", want: "a level book needs the headings BS and FS", opt: formats.Options{Content: formats.LevelContent}},
		"no points":         {text: "Point,BS (m),FS (m)\na,1,2\n", want: "a point list needs the headings easting and northing", opt: formats.Options{Content: formats.PointContent}},
		"no FS":             {text: "Point,BS (m),IS (m)\na,1,2\n", want: "a level book needs BS and FS"},
		"two levels":        {text: "Point,Easting,Northing,Level,RL\na,1,2,3,4\n", want: `t.csv:1:5: RL: columns 4 and 5 ("Level" and "RL") both mean level`},
		"two names":         {text: "Point,No,BS,FS\na,1,2,3\n", want: `columns 1 and 2 ("Point" and "No") both mean name`},
		"units differ":      {text: "Point,Easting (m),Northing (m),Level (mm)\na,1,2,3\n", want: "t.csv:1:4: Level (mm): this column is in mm and another one in m"},
		"odd unit":          {text: "Point,Easting (m),Northing (m),Level (yd)\na,1,2,3\n", want: `"yd" is not a unit that is read`},
		"unit declared":     {text: pointHead + "a,1,2,3\n", want: "the headings say m, and ft is declared", opt: formats.Options{Unit: unit.Ft}},
		"book unit":         {text: "Point,BS (mm),FS (mm)\na,1,2\n", want: "the headings say mm, and m is declared", opt: formats.Options{Unit: unit.M}},
		"chainage unit":     {text: "Point,BS (mm),FS (mm),Chainage (m)\na,1342,,12.5\n", want: "chainages are in m and readings in mm"},
		"chainage no unit":  {text: "Point,BS (mm),FS (mm),Chainage\na,1342,,12.5\n", want: "the heading of the chainages names no unit"},
		"thousands or not":  {text: "Point\tBS (mm)\tFS (mm)\na\t1,342\t\nb\t\t1,210\n", want: "1,210 mm may have a decimal comma or a comma between thousands"},
		"spaces":            {text: "Point Easting Northing Level\na 1 2 3\n", want: `declare "delimiter: space"`},
		"NUL":               {text: pointHead + "a,1,2,3\nb,\x00,2,3\n", want: "t.csv:3: the line holds a NUL byte"},
		"empty":             {text: "", want: "t.csv: there is nothing in it"},
		"blank":             {text: "\n,,,\n \n", want: "there is nothing in it"},
		"empty, declared":   {text: "", want: "there is nothing in it", opt: formats.Options{Columns: []string{"name", "easting", "northing"}}},
		"long line":         {text: long, want: "t.csv:3: the line is longer than 1 MiB"},
		"declared nonsense": {text: "a,1,2\n", want: `columns: "shoe size" is not the meaning of a column`, opt: formats.Options{Columns: []string{"name", "shoe size", "level"}}},
		"declared x":        {text: "a,1,2\n", want: `columns: "x" is not the meaning of a column`, opt: formats.Options{Columns: []string{"name", "x", "y"}}},
		"declared twice":    {text: "a,1,2\n", want: `"level" is declared for two columns`, opt: formats.Options{Columns: []string{"name", "level", "level"}}},
		"declared little":   {text: "a,1,2\n", want: "the declared columns (name, code) make neither a level book", opt: formats.Options{Columns: []string{"name", "code"}}},
		"declared wrong":    {text: "Point,Northing,Easting,Level\na,1,2,3\n", want: "t.csv:1:2: Northing: the heading says northing, and the declared columns say easting", opt: formats.Options{Unit: unit.M, Columns: []string{"name", "easting", "northing", "level"}}},
	} {
		t.Run(name, func(t *testing.T) {
			d := decodeText(t, c.text, c.opt)
			require.NotEmpty(t, d.Problems)
			assert.Contains(t, d.Problems[0].String(), c.want)
			if name != "NUL" && name != "long line" {
				assert.Empty(t, d.Points)
				assert.Empty(t, d.Books)
			}
		})
	}
}

// What was read before a file had to be given up is kept.
func TestRowsBeforeTheStopAreKept(t *testing.T) {
	d := decodeText(t, pointHead+"a,1,2,3\nb,\x00,2,3\nc,1,2,3\n", formats.Options{})
	require.Len(t, d.Points, 1)
	assert.Equal(t, 1, d.PointCount)
}

// A list of problems that is full says how many it does not hold.
func TestNoProblemIsLostInSilence(t *testing.T) {
	n := formats.MaxProblemsKept + 250
	d := decodeText(t, pointHead+strings.Repeat("a,1,2,x\n", n), formats.Options{})
	require.Len(t, d.Problems, formats.MaxProblemsKept+1)
	assert.Equal(t, "t.csv: there are 250 more problems, which are not listed", d.Problems[0].String())
	d = decodeText(t, pointHead+strings.Repeat("a,1,2,N/A\n", n), formats.Options{})
	assert.Contains(t, d.Notes[0].String(), "there are 250 more notes")
	assert.Len(t, d.Points, n)
}
