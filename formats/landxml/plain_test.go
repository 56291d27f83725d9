package landxml

import (
	"fmt"
	"io"
	"math/rand/v2"
	"reflect"
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
		// the quickest way needs some bytes behind an element
		text := file(surface(three+pnts, faces) + strings.Repeat(" ", rapid.SampledFrom([]int{0, quick - 70, 2 * quick}).Draw(t, "behind")))
		if cut := rapid.IntRange(0, 10*len(text)).Draw(t, "cut"); cut < len(text) {
			text = text[:cut]
		}
		for _, r := range []func() io.Reader{
			func() io.Reader { return strings.NewReader(text) },
			func() io.Reader { return iotest.OneByteReader(strings.NewReader(text)) },
		} {
			opt := formats.Options{Bytes: int64(rapid.IntRange(-1, 2).Draw(t, "size")) * int64(len(text))}
			straight, err := decode(r(), "t.xml", opt, true)
			require.NoError(t, err)
			byXML, err := decode(r(), "t.xml", opt, false)
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

// Lists that are long enough to be moved, with odd ways to write an element here and
// there, give the same document both ways, whatever size the file is said to have.
func TestTwoWaysThroughALongList(t *testing.T) {
	odd := strings.Fields(strings.ReplaceAll(`<P~id="%d"~desc="">1~2~3</P> <P~id="%d">1.~.2~-3</P> <P~id="%d">1~2~3~</P> <P~id='%d'>1~2~3</P> <P~id="%d">1~2~0.1234567890123456789</P> <P~id="%d">1~~2~3E0</P> <!--~%d~--><P~id="7">1~2~-0.5</P>`, "~", "\x00"))
	other := strings.Fields(strings.ReplaceAll(`<F~i="1">1~2~%d</F> <F~i="0"~n="1~0~2">1~2~%d</F> <F>1~2~%d~</F> <F>~1~2~%d</F> <F>1~2~0%d</F> <F>1~2~&#49;</F><!--~%d~-->`, "~", "\x00"))
	g := rand.New(rand.NewPCG(3, 9))
	whole := 0
	for range 20 {
		var pnts, faces strings.Builder
		n := 2000 + g.IntN(9000)
		step, every := 1+g.IntN(2), 50+g.IntN(5000) // numbers with gaps, or without
		for i := range n {
			form := "<P id=\"%d\">" + fmt.Sprintf("%.3f %.*f %.2f", 6e6+1e4*g.Float64(), g.IntN(9), -3e5*g.Float64(), 99-100*g.Float64()) + "</P>"
			if g.IntN(every) == 0 {
				form = odd[g.IntN(len(odd))]
			}
			fmt.Fprintf(&pnts, strings.Repeat("\n", g.IntN(3))+strings.Repeat(" ", g.IntN(9))+strings.ReplaceAll(form, "\x00", " "), 4+i*step)
		}
		for range 2 * n {
			form := "<F>3 2 %d</F>"
			if g.IntN(every) == 0 {
				form = other[g.IntN(len(other))]
			}
			fmt.Fprintf(&faces, strings.Repeat("\r\n", g.IntN(2))+strings.ReplaceAll(form, "\x00", " "), 4+g.IntN(n)*step)
		}
		if g.IntN(4) == 0 {
			faces.WriteString("<F>1 2 900000000</F>")
		}
		text := file(surface(three+pnts.String(), faces.String()))
		byXML, err := decode(strings.NewReader(text), "t.xml", formats.Options{}, false)
		require.NoError(t, err)
		require.Equal(t, len(byXML.Problems), 1-len(byXML.Surfaces))
		whole += len(byXML.Surfaces)
		for _, size := range []int{0, 1, len(text) / 2, len(text), 9 * len(text), 1 << 40} {
			straight, err := decode(strings.NewReader(text), "t.xml", formats.Options{Bytes: int64(size)}, true)
			require.NoError(t, err)
			// not by require.Equal, which takes long over lists of this length
			require.True(t, reflect.DeepEqual(byXML, straight), "said to have %d bytes of %d", size, len(text))
		}
	}
	assert.True(t, whole > 5 && whole < 15, "%d of 20 are read", whole)
}

// A pile keeps everything in order, whatever it is told to expect, and what it is told
// costs no more than leap times what it holds.
func TestPile(t *testing.T) {
	g := rand.New(rand.NewPCG(5, 6))
	for range 100 {
		var p pile[int]
		n := g.IntN(100_000)
		for i := range n {
			if len(p.block) == cap(p.block) {
				p.grow(g.IntN(1 + 10*g.IntN(1<<g.IntN(40))))
				require.LessOrEqual(t, cap(p.block), max(2*largestBlock, (leap+1)*i), i)
			}
			p.add(i)
		}
		require.Equal(t, n, p.len())
		all := p.join()
		require.Len(t, all, n)
		require.Equal(t, n, cap(all), "what is appended to the list moves it")
		for i, v := range all {
			if v != i {
				require.Equal(t, i, v)
			}
		}
		require.Zero(t, p.len())
	}
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
