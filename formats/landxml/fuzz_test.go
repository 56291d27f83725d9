package landxml

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// Whatever the bytes are: no panic, no face without its vertices, the same
// document both ways through lists, and what is written is read again.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{
		file(surface(three, `<F>1 2 3</F><F i="1" n="0 0 0">3 2 1</F>`)), file(points(`<CgPoint name="a" pntRef="b"/><CgPoint name="b">1 2 3</CgPoint>`)),
		file(network("", units("Metric", `linearUnit="meter" heightUnit="meter"`), circular)), "\xff\xfe<\x00L\x00", "<LandXML/>", `<?xml version="1.0" encoding="latin1"?><LandXML>`,
		`<l:LandXML xmlns:l="http://www.landxml.org/schema/LandXML-1.1"><l:Surfaces/></l:LandXML>`, file(surface(`<P id="9">1 2 <!-- --> 3</P>`, "<F>9 9 9</F>")), "<a b='&#x41;&lt;'><![CDATA[x]]></a>",
		file("<Surfaces><Surface><Definition><Faces><F>1 1 1</F></Faces><Pnts><P id='1'>1 2 3</P></Pnts></Definition></Surface></Surfaces>"),
		everything(), file(alignment("<AlignPIs><AlignPI><InSpiral><Spiral radiusStart='0'/></InSpiral></AlignPI></AlignPIs><CoordGeom><Line><Start pntRef='P'/></Line><IrregularLine><PntList3D>1 2 3 4</PntList3D></IrregularLine></CoordGeom>")),
		source("<Boundaries><Boundary><PntList2D>1 2<!-- -->3 &#52;</PntList2D></Boundary></Boundaries><Breaklines><Breakline><PntList3D/></Breakline></Breaklines>"),
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		opt := formats.Options{Unit: unit.M}
		d, err := Decode(bytes.NewReader(text), "f.xml", opt)
		if err != nil {
			t.Fatal(err) // reading from memory does not fail
		}
		opt.Bytes = int64(len(text))
		sized, err := Decode(bytes.NewReader(text), "f.xml", opt)
		require.NoError(t, err)
		require.Equal(t, sized, d)
		slow, err := decode(bytes.NewReader(text), "f.xml", opt, false)
		require.NoError(t, err)
		require.Equal(t, slow, d)
		for i := range d.Surfaces {
			for _, face := range d.Surfaces[i].Faces {
				for _, v := range face.V {
					require.True(t, v >= 0 && int(v) < len(d.Surfaces[i].Vertices), "a face names a vertex that is not there")
				}
			}
		}
		var b strings.Builder
		if len(d.Problems) > 0 || Encode(&b, d, formats.EncodeOptions{}) != nil {
			return
		}
		again, err := Decode(strings.NewReader(b.String()), "f.xml", formats.Options{})
		require.NoError(t, err)
		require.Empty(t, again.Problems, b.String())
		require.Equal(t, d.Counts(), again.Counts())
	})
}
