package landxml

import (
	"io"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/orisano/gosax"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
)

// words are ways to write one thing; the first third is plain.
type words []string

var oneInEight = []bool{false, false, false, false, false, false, false, true}

// draw draws a plain one, or now and then any, where odd ones are wanted.
func (w words) draw(t *rapid.T, odd bool) string {
	if odd && rapid.SampledFrom(oneInEight).Draw(t, "odd") {
		return rapid.SampledFrom(w).Draw(t, "any")
	}
	return rapid.SampledFrom(w[:max(1, len(w)/3)]).Draw(t, "plain")
}

// Lists as exporters write them, and every way in which they may be otherwise.
var (
	gap    = words{"", "\n", "\r\n\t ", "<!-- a <P id=\"9\">1 2 3</P> -->", "<?a b?>", "<Feature code=\"x\"><Property label=\"a\" value=\"b\"/></Feature>", "<![CDATA[x]]>", "words"}
	space0 = words{"", " ", "  ", "\n", "\t", "&#32;"}
	parted = words{" ", "  ", "\n", " \t", "&#x20;", ""}
	value  = words{"12.5", "6407243.751220999993", "-0.450", "12.", "0", ".5", "1E3", "+7", "-", "1-2", "NaN", "0x1", "1,5", "99999999999999999999", "1.5.2", "<!-- c -->5", "<![CDATA[6]]>", "&#55;", "x", ""}
	number = words{"1", "2", "3", "1", "02", "4", "7", "0", "-1", "1.0", "0003", "900000000", "1000000000", "", "a", "&#49;"}
	marks  = words{"", ` i="1"`, ` i="0"`, ` n="1 0 2"`, ` n="1 0 2" i="1"`, ` b="3" i="1" n=""`, ` i='1'`, ` i="2"`, `  i="1"`, ` i = "1"`, ` M="1"`, ` m="1"`, ` i="1" i="1"`, ` x:i="1"`, ` i=""`, ` n="<"`, ` n="a"`, "\n" + `i="1"`, ` `}
)

func listOfPoints(t *rapid.T, odd bool) string {
	var b strings.Builder
	for i := range rapid.IntRange(0, 6).Draw(t, "points") {
		id := words{`id="`, `id='`, `desc="d" id="`, `name="`, `id ="`}.draw(t, odd)
		quote := `"`
		if strings.Contains(id, "'") {
			quote = "'"
		}
		b.WriteString(gap.draw(t, odd) + "<P " + id + words{strconv.Itoa(i + 4), strconv.Itoa(i + 4), strconv.Itoa(i + 4), "", "3", "04", "90", "a", "&#49;", "1000000000", " 5 "}.draw(t, odd) + quote + words{">", ">", " >", "/>"}.draw(t, odd))
		b.WriteString(space0.draw(t, odd) + value.draw(t, odd) + parted.draw(t, odd) + value.draw(t, odd) + parted.draw(t, odd) + value.draw(t, odd) + space0.draw(t, odd))
		b.WriteString(words{"</P>", "</P>", "</P >", "", "</F>"}.draw(t, odd))
	}
	return b.String() + gap.draw(t, odd)
}

func listOfFaces(t *rapid.T, odd bool) string {
	var b strings.Builder
	for range rapid.IntRange(0, 6).Draw(t, "faces") {
		b.WriteString(gap.draw(t, odd) + "<F" + marks.draw(t, odd) + words{">", ">", "/>"}.draw(t, odd) + space0.draw(t, odd))
		b.WriteString(number.draw(t, odd) + parted.draw(t, odd) + number.draw(t, odd) + parted.draw(t, odd) + number.draw(t, odd) + space0.draw(t, odd))
		b.WriteString(words{"</F>", "</F>", "</F>", "", "</F\n>"}.draw(t, odd))
	}
	return b.String() + gap.draw(t, odd)
}

// The two ways through a list, straight and by the XML reader, give the same
// document to the last place, whatever the list looks like.
func TestTwoWaysThroughAList(t *testing.T) {
	whole, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		odd := rapid.Bool().Draw(t, "odd")
		pnts, faces := listOfPoints(t, odd), listOfFaces(t, odd)
		text := file(surface(three+pnts, faces))
		if cut := rapid.IntRange(0, 10*len(text)).Draw(t, "cut"); cut < len(text) {
			text = text[:cut]
		}
		for _, r := range []func() io.Reader{
			func() io.Reader { return strings.NewReader(text) },
			func() io.Reader { return iotest.OneByteReader(strings.NewReader(text)) },
		} {
			straight, err := decode(r(), "t.xml", formats.Options{}, true)
			require.NoError(t, err)
			byXML, err := decode(r(), "t.xml", formats.Options{}, false)
			require.NoError(t, err)
			require.Equal(t, byXML, straight, text)
			if len(straight.Problems) == 0 && len(straight.Surfaces[0].Faces) > 0 {
				whole++
			} else {
				refused++
			}
		}
	})
	assert.NotZero(t, whole)
	assert.NotZero(t, refused)
}

// After something that is not plain, the straight way is taken again.
func TestStraightWayIsTakenAgain(t *testing.T) {
	many := strings.Repeat(`<F>1 2 3</F>`, 1000)
	text := file(surface(three+`<!-- one --><P id="4" desc="d">1 1 1</P>`, many+"<!-- two -->"+many+`<F x="">1 2 3</F>`+many))
	d := &decoder{doc: &formats.Document{}, plain: true, unread: tally{}, nan: tally{}, scanner: newScanner(strings.NewReader(text), false)}
	events := 0
	for {
		kind, full, content, err := d.next()
		require.NoError(t, err)
		if kind == gosax.EventEOF {
			break
		}
		events++
		switch kind {
		case gosax.EventStart:
			require.NoError(t, d.open(full))
		case gosax.EventEnd:
			d.close()
			if d.surf != nil {
				d.readPlain()
			}
		default:
			if d.want {
				require.NoError(t, d.gather(content, true))
			}
		}
	}
	require.Len(t, d.doc.Surfaces, 1)
	assert.Len(t, d.doc.Surfaces[0].Faces, 3001)
	assert.Less(t, events, 60, "most of the file is not seen by the XML reader")
}
