package landxml

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/formats"
	"sightrail/formats/fixture"
)

// terrain is a file with a surface of 2 × side × side faces, by a fixed seed.
func terrain(side int) []byte {
	r := rand.New(rand.NewPCG(7, 11))
	var b bytes.Buffer
	b.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + root + metres + "\n<Surfaces><Surface name=\"terrain\"><Definition surfType=\"TIN\"><Pnts>\n")
	for k := range (side + 1) * (side + 1) {
		fmt.Fprintf(&b, "<P id=\"%d\">%.6f %.6f %.6f</P>\n", k+1, 6407000+float64(k/(side+1))+r.Float64()/3, 155000+float64(k%(side+1))+r.Float64()/3, 70+30*r.Float64())
	}
	b.WriteString("</Pnts><Faces>\n")
	for k := range side * side {
		p := k/side*(side+1) + k%side + 1
		fmt.Fprintf(&b, "<F>%d %d %d</F>\n<F>%d %d %d</F>\n", p, p+1, p+side+2, p, p+side+2, p+side+1)
	}
	b.WriteString("</Faces></Definition></Surface></Surfaces></LandXML>\n")
	return b.Bytes()
}

func benchmarkDecode(b *testing.B, text []byte, plain bool) {
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		d, err := decode(bytes.NewReader(text), "t.xml", formats.Options{}, plain)
		require.NoError(b, err)
		require.Empty(b, d.Problems)
	}
}

// 200,000 faces, 13 MB. "by XML" is what a list costs that is not plain.
func BenchmarkDecodeTerrain(b *testing.B) {
	text := terrain(316)
	b.Run("straight", func(b *testing.B) { benchmarkDecode(b, text, true) })
	b.Run("by XML", func(b *testing.B) { benchmarkDecode(b, text, false) })
}

// A real file of 36,000 faces, in ISO 8859-1.
func BenchmarkDecodeReal(b *testing.B) {
	text, err := os.ReadFile(fixture.Shared(b, "landxml", "files", "d05_terrain_20k_pts_iso8859_profile_ns.xml"))
	require.NoError(b, err)
	benchmarkDecode(b, text, true)
}

func BenchmarkEncodeTerrain(b *testing.B) {
	text := terrain(316)
	d, err := Decode(bytes.NewReader(text), "t.xml", formats.Options{})
	require.NoError(b, err)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		var out bytes.Buffer
		require.NoError(b, Encode(&out, d, formats.EncodeOptions{}))
	}
}
