package geojson

import (
	"fmt"
	"strings"
	"testing"

	"sightrail/formats"
)

func BenchmarkPoints(b *testing.B) {
	var s strings.Builder
	s.WriteString(`{"type":"FeatureCollection",` + grid + `"features":[`)
	for i := range 100_000 {
		if i > 0 {
			s.WriteByte(',')
		}
		fmt.Fprintf(&s, "\n"+`{"type":"Feature","properties":{"point":"%d","code":"CL"},"geometry":{"type":"Point","coordinates":[319%03d.890,5800%03d.277,42.%03d]}}`, i, i%1000, i/7%1000, i%1000)
	}
	s.WriteString("\n]}\n")
	in := s.String()
	b.SetBytes(int64(len(in)))
	for b.Loop() {
		d, err := Decode(strings.NewReader(in), "t.geojson", formats.Options{Points: func(formats.Pos, []formats.Point) error { return nil }})
		if err != nil || d.PointCount != 100_000 {
			b.Fatal(d, err)
		}
	}
}
