package landxml

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats"
)

// What is not XML, or not whole, is refused by its place.
func TestBrokenXML(t *testing.T) {
	one := `<CgPoint name="A">1 2 3</CgPoint>`
	refusals(t, map[string][2]string{
		"empty":                   {"", "there is no element in the file"},
		"blank":                   {" \n ", "there is no element in the file"},
		"only a comment":          {"<!-- a -->", "there is no element in the file"},
		"text":                    {"§northing,easting", `text stands outside the root element: "northing,easting"`},
		"other root":              {"\n§<gpx version=\"1.1\"><wpt/></gpx>", "the root element is <gpx>, not <LandXML>; this is another kind of XML"},
		"cut off":                 {root + metres + "<Surfaces><Surface name=\"S\">§", "the file ends inside <Surface>; it is cut off"},
		"cut off in points":       {root + metres + `<Surfaces><Surface name="S"><Definition surfType="TIN"><Pnts><P id="1">0 0 1</P><P id="2">0 1§`, "the file ends inside <P>"},
		"cut off in a number":     {root + metres + `<Surfaces><Surface name="S"><Definition surfType="TIN"><Pnts>` + three + `</Pnts><Faces><F>1 2 3</F><F>1 2`, "the file ends inside <F>"},
		"cut off in a tag":        {root + metres + "<Surfaces>§<Surface name=\"S", "the file ends inside a tag or comment; it is cut off"},
		"cut off in a comment":    {root + metres + "§<!-- and", "the file ends inside a tag or comment"},
		"cut off in CDATA":        {root + metres + "§<![CDATA[ 1 2", "the file ends inside a tag or comment"},
		"cut off before the end":  {strings.TrimSuffix(file(points(one)), "</LandXML>"), "the file ends inside <LandXML>"},
		"tags do not match":       {root + metres + "<Surfaces>§</Surface></LandXML>", "</Surface> closes <Surfaces>; the tags do not match"},
		"tags in a list":          {file(surface("<P id=\"1\">0 0 1§</F>", "")), "</F> closes <P>"},
		"one end too many":        {file("") + "§</LandXML>", "</LandXML> closes no element"},
		"case of a tag":           {root + "§</landxml>", "</landxml> closes <LandXML>"},
		"two roots":               {file("") + "\n§" + file(""), "a second root element <LandXML>; two files may have been put together"},
		"text after the root":     {file("") + "§and more", `text stands outside the root element: "and more"`},
		"document type":           {"§<!DOCTYPE x [<!ENTITY a \"b\">]>" + root + "</LandXML>", "a document type declaration; it can define anything"},
		"document type, lower":    {"§<!doctype html>" + root + "</LandXML>", "document type declaration"},
		"other declaration":       {"<!ENTITY a \"b\">" + root + "</LandXML>", "<! begins neither a comment nor a CDATA section"},
		"nested":                  {root + strings.Repeat("<a>", 99) + "§<a>" + strings.Repeat("<a>", 100), "elements are nested more than 100 deep"},
		"attribute twice":         {file(points(`§<CgPoint name="A" name="B">1 2 3</CgPoint>`)), "<CgPoint>: the attribute name stands twice in one tag"},
		"attribute unquoted":      {file(points(`§<CgPoint name=A>1 2 3</CgPoint>`)), "the value of the attribute name is not in quotes"},
		"attribute without value": {file(points(`§<CgPoint name>1 2 3</CgPoint>`)), `"name" in a tag is no attribute with a value`},
		"attributes run together": {file(points(`§<CgPoint name="A"code="B">1 2 3</CgPoint>`)), "two attributes of a tag are not parted by a blank"},
		"tag without a name":      {file(points("§< >")), `"< >" is no tag`},
		"tag of signs":            {file(points("§<=>")), `"<=>" is no tag`},
		"unknown reference":       {file(points(`§<CgPoint name="A &nbsp; B">1 2 3</CgPoint>`)), `<CgPoint>: the attribute name: "&nbsp;" is no character that XML knows`},
		"bare ampersand":          {file(points(`§<CgPoint name="A & B">1 2 3</CgPoint>`)), "an & is not followed by the name of a character; it has to be written &amp;"},
		"reference to nothing":    {file(points(`§<CgPoint name="&#0;">1 2 3</CgPoint>`)), `"&#0;" is no character`},
		"reference too large":     {file(points(`§<CgPoint name="&#x110000;">1 2 3</CgPoint>`)), `"&#x110000;" is no character`},
		"reference in a number":   {file(points(`<CgPoint name="A">§1 &two; 3</CgPoint>`)), `"&two;" is no character`},
		"less-than in a value":    {file(points(`§<CgPoint name="A<B">1 2 3</CgPoint>`)), "it has to be written &lt;"},
		"control character":       {file(points("§<CgPoint name=\"A\x07\">1 2 3</CgPoint>")), "a control character (number 7)"},
		"UTF-8 that is not":       {file(points("<CgPoint name=\"Gr§\xe4ben\">1 2 3</CgPoint>")), "the byte 0xE4 is not UTF-8"},
		"UTF-8 cut":               {file(points("<CgPoint name=\"Gr§\xc3\">1 2 3</CgPoint>")), "the byte 0xC3 is not UTF-8"},
		"other encoding":          {`<?xml version="1.0" encoding="UTF-8"?>` + file(points("<CgPoint name=\"Gr§\xe4ben\">1 2 3</CgPoint>")), "is not UTF-8"},
		"unknown encoding":        {`<?xml version="1.0" encoding="klingon"?>` + root + "</LandXML>", `t.xml:1:1: encoding: the file says that its encoding is "klingon"`},
		"encoding of no use":      {`<?xml version="1.0" encoding="iso-2022-kr"?>` + root + "</LandXML>", `its encoding is "iso-2022-kr", which is not known here`},
		"UTF-16 that is not":      {`<?xml version="1.0" encoding="UTF-16"?>` + root + "</LandXML>", "the encoding is said to be UTF-16, and the bytes are not"},
		"UTF-32":                  {"\xff\xfe\x00\x00<\x00\x00\x00", "the file is in UTF-32, which is not read"},
	})
}

// Nothing of a broken file is handed on.
func TestBrokenFileHoldsNothing(t *testing.T) {
	whole := file(points(`<CgPoint name="A">1 2 3</CgPoint>`) + surface(three, "<F>1 2 3</F>") + `<Alignments><Alignment name="A"/></Alignments>` + network("", "", `<CircPipe diameter="300"/>`))
	for n := range len(whole) {
		d := decodeText(t, whole[:n], formats.Options{})
		require.Len(t, d.Problems, 1, whole[:n])
		require.Zero(t, d.Counts())
	}
	assert.Equal(t, formats.Counts{Points: 1, Surfaces: 1, Vertices: 3, Faces: 1, Alignments: 1, Structures: 2, Pipes: 1}, read(t, whole).Counts())
}

// Names keep their blanks, references and characters.
func TestNamesAsWritten(t *testing.T) {
	d := read(t, file(points(`<CgPoint name=" A &amp; &lt;B&gt; &#x41;&#66;&quot;'" code='say "x"' desc="a`+"\r\n\tb"+`&#10;&apos;">1 2 3</CgPoint><CgPoint name="Grøft ×">1 2 3</CgPoint><CgPoint name="&#x0000000041;"/>`)))
	p := d.Points[0]
	assert.Equal(t, []string{` A & <B> AB"'`, `say "x"`, "a  b\n'"}, []string{p.ID, p.Code, p.Desc})
	assert.Equal(t, "Grøft ×", d.Points[1].ID)
	assert.Equal(t, "A", d.Points[2].ID)
}

func TestCommentsAndInstructionsArePassedOver(t *testing.T) {
	d := read(t, "<?xml version=\"1.0\"?>\n<!-- <LandXML> -->\n<?pi <a> ?>\n"+file(points(`<CgPoint name="A">1 <!-- 9 --> 2 <?pi 8?> 3</CgPoint><!-- <CgPoint>1</CgPoint> -->`))+"\n<!-- end -->\n")
	require.Len(t, d.Points, 1)
	assert.Equal(t, "3", d.Points[0].Z.String())
	assert.Equal(t, 4, d.Points[0].Row)
}

func utf16Text(s string, big, mark bool) []byte {
	units := utf16.Encode([]rune(s))
	if mark {
		units = append([]uint16{0xFEFF}, units...)
	}
	var b []byte
	for _, u := range units {
		lo, hi := byte(u), byte(u>>8)
		if big {
			lo, hi = hi, lo
		}
		b = append(b, lo, hi)
	}
	return b
}

func TestEncodings(t *testing.T) {
	text := file(points(`<CgPoint name="Grøft €">1 2 3</CgPoint>`))
	declared := func(name string) string { return `<?xml version="1.0" encoding="` + name + `"?>` }
	single := func(s string) []byte {
		return bytes.ReplaceAll(bytes.ReplaceAll([]byte(s), []byte("ø"), []byte{0xF8}), []byte("€"), []byte{0x80})
	}
	for name, c := range map[string]struct {
		in   []byte
		opt  string
		want string // encoding that is told
	}{
		"UTF-8":                     {[]byte(text), "", ""},
		"UTF-8 declared":            {[]byte(declared("utf-8") + text), "", ""},
		"UTF-8 with a mark":         {[]byte("\xef\xbb\xbf" + declared("iso-8859-1") + text), "", ""},
		"UTF-16 LE":                 {utf16Text(text, false, true), "", "utf-16"},
		"UTF-16 BE":                 {utf16Text(text, true, true), "", "utf-16"},
		"UTF-16 LE declared":        {utf16Text(declared("UTF-16")+text, false, true), "", "utf-16"},
		"UTF-16 declared otherwise": {utf16Text(declared("utf-8")+text, true, true), "", "utf-16"},
		"UTF-16 LE without mark":    {utf16Text(text, false, false), "", "utf-16"},
		"UTF-16 BE without mark":    {utf16Text(text, true, false), "", "utf-16"},
		"Windows-1252":              {single(declared("Windows-1252") + text), "", "windows-1252"},
		"Latin 1 as it is used":     {single(declared("ISO-8859-1") + text), "", "iso-8859-1"},
		"declared by the job":       {single(declared("utf-8") + text), "windows-1252", "windows-1252"},
	} {
		t.Run(name, func(t *testing.T) {
			d, err := Decode(bytes.NewReader(c.in), "t.xml", formats.Options{Encoding: c.opt})
			require.NoError(t, err)
			require.Empty(t, d.Problems)
			assert.Equal(t, "Grøft €", d.Points[0].ID)
			assert.Equal(t, c.want, about(d, "encoding"))
			assert.True(t, sniff("t.dat", c.in) || bytes.HasPrefix(c.in, []byte("<?xml")))
		})
	}
	d, err := Decode(bytes.NewReader(append(utf16Text(text[:len(text)-20], false, true), 0x00, 0xD8)), "t.xml", formats.Options{})
	require.NoError(t, err)
	require.Len(t, d.Problems, 1)
}

func TestSniff(t *testing.T) {
	for head, want := range map[string]bool{
		"<LandXML>": true, "\n <l:LandXML": true, "<?xml version=\"1.0\"?>\n<LandXML": true, "\xef\xbb\xbf<LandXML": true, "<gpx>": false, "<html>": false,
		"id,n,e\n<LandXML": false, "{}": false, "": false, "PK\x03\x04": false,
	} {
		assert.Equal(t, want, sniff("t.dat", []byte(head)), "%q", head)
	}
	assert.True(t, sniff("A.XML", []byte("<gpx>")), "Decode says better what it is")
	assert.True(t, sniff("A.landxml", []byte(" <?xml")))
	assert.False(t, sniff("A.xml", []byte("id,n,e")))
}

// Faults of reading are errors, not problems of the file.
func TestReaderThatFails(t *testing.T) {
	fault := errors.New("the disk is gone")
	text := file(surface(strings.Repeat(" ", 1<<19)+three, "<F>1 2 3</F>"))
	for _, n := range []int{0, 10, 400, 1 << 18, len(text) - 100} {
		for _, plain := range []bool{true, false} {
			_, err := decode(io.MultiReader(strings.NewReader(text[:n]), iotest.ErrReader(fault)), "t.xml", formats.Options{}, plain)
			require.ErrorIs(t, err, fault, "%d bytes", n)
		}
	}
	stop := errors.New("stop")
	_, err := Decode(strings.NewReader(file(points(`<CgPoint name="A">1 2 3</CgPoint>`))), "t.xml", formats.Options{Points: func(formats.Pos, []formats.Point) error { return stop }})
	assert.ErrorIs(t, err, stop)
	_, err = Decode(nothing{}, "t.xml", formats.Options{})
	assert.ErrorIs(t, err, io.ErrNoProgress)
}

type nothing struct{}

func (nothing) Read([]byte) (int, error) { return 0, nil }

func TestTooLarge(t *testing.T) {
	s := newScanner(strings.NewReader("<LandXML>"+strings.Repeat(" ", 3000)), false)
	s.feed.limit = 2000
	var err error
	for range 10 {
		if _, _, _, err = s.next(); err != nil {
			break
		}
	}
	require.Error(t, err)
	assert.Contains(t, err.Error(), "the file is larger than")
}

// A stream that gives a byte at a time, and long texts between, give the same.
func TestAnySizeOfPieces(t *testing.T) {
	text := file(surface(three+strings.Repeat("\n", 300000)+`<P id="4">5 5 5</P>`, "<F>1 2 3</F><!--"+strings.Repeat("x", 400000)+`--><F i="1">2 3 4</F>`) + points(`<CgPoint name="`+strings.Repeat("n", 300000)+`">1 2 3</CgPoint>`))
	want := read(t, text)
	for name, r := range map[string]io.Reader{"byte": iotest.OneByteReader(strings.NewReader(text)), "half": iotest.HalfReader(strings.NewReader(text)), "data with the end": iotest.DataErrReader(strings.NewReader(text))} {
		d, err := Decode(r, "t.xml", formats.Options{})
		require.NoError(t, err)
		assert.Equal(t, want, d, name)
	}
	assert.Equal(t, 300001, want.Surfaces[0].Vertices[3].Row)
	assert.Equal(t, 1, want.Surfaces[0].Invisible)
	assert.Len(t, want.Points[0].ID, 300000)
}

func TestManyProblems(t *testing.T) {
	d := decodeText(t, file(points(strings.Repeat(`<CgPoint name="A">x</CgPoint>`, formats.MaxProblemsKept+5))), formats.Options{})
	assert.Len(t, d.Problems, formats.MaxProblemsKept+1)
	assert.Contains(t, texts(d.Problems), "further problems, not listed: 5")
}

func TestRealFileInPieces(t *testing.T) {
	for _, path := range realFiles(t) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		want, err := Decode(bytes.NewReader(text), "t.xml", formats.Options{})
		require.NoError(t, err)
		got, err := Decode(iotest.HalfReader(bytes.NewReader(text)), "t.xml", formats.Options{})
		require.NoError(t, err)
		assert.Equal(t, want, got, fmt.Sprint(path))
		slow, err := decode(bytes.NewReader(text), "t.xml", formats.Options{}, false)
		require.NoError(t, err)
		assert.Equal(t, want, slow, "all of it through the XML reader: %s", path)
	}
}
