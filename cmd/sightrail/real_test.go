package main

import (
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"

	"sightrail/formats/fixture"
)

// realPipe is one pipe as encoding/xml reads it, apart from the program.
type realPipe struct {
	name       string
	start, end [3]float64 // northing, easting, invert
}

func realPipes(t *testing.T, path string) (pipes []realPipe) {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	dec := xml.NewDecoder(f)
	dec.CharsetReader = latin1
	var doc struct {
		Structs []struct {
			Name    string `xml:"name,attr"`
			Center  string
			Inverts []struct {
				Elev float64 `xml:"elev,attr"`
				Pipe string  `xml:"refPipe,attr"`
			} `xml:"Invert"`
		} `xml:"PipeNetworks>PipeNetwork>Structs>Struct"`
		Pipes []struct {
			Name  string `xml:"name,attr"`
			Start string `xml:"refStart,attr"`
			End   string `xml:"refEnd,attr"`
		} `xml:"PipeNetworks>PipeNetwork>Pipes>Pipe"`
	}
	require.NoError(t, dec.Decode(&doc))
	at := func(pit, pipe string) (p [3]float64) {
		for _, s := range doc.Structs {
			if s.Name != pit {
				continue
			}
			c := strings.Fields(s.Center)
			for k := range 2 {
				p[k], err = strconv.ParseFloat(c[k], 64)
				require.NoError(t, err)
			}
			for _, i := range s.Inverts {
				if i.Pipe == pipe {
					p[2] = i.Elev
				}
			}
		}
		return p
	}
	for _, p := range doc.Pipes {
		pipes = append(pipes, realPipe{p.Name, at(p.Start, p.Name), at(p.End, p.Name)})
	}
	return pipes
}

// The real networks, staffed at both ends and in the middle of every pipe, a
// third of the shots 30 mm high: every verdict is known from how the shots were
// made. In d11 the flow flags contradict the inverts in three of five pipes: a
// note each, and no stop.
func TestRealNetworks(t *testing.T) {
	for _, x := range []struct {
		file, network, grid, unit string
		perMM                     float64 // units of the file in a millimetre
		flags                     int
	}{
		{"d08_storm_pipes_circ.xml", "Hulevesiviemäri", "EPSG:3878", "m", 0.001, 0},
		{"d11_subdivision_11_foot_pipes.xml", "loop-south", "local county", "ft", 0.001 / 0.3048, 3},
	} {
		t.Run(x.network, func(t *testing.T) {
			path := fixture.Shared(t, "landxml", "files", x.file)
			pipes := realPipes(t, path)
			var shots strings.Builder
			want := map[string]string{}
			fmt.Fprintf(&shots, "Point,Easting (%s),Northing (%s),Level (%s),Run\n", x.unit, x.unit, x.unit)
			for i, p := range pipes {
				for k, part := range []float64{0, 0.5, 1} {
					high := (i+k)%3 == 0
					level := p.start[2] + part*(p.end[2]-p.start[2]) + 5*x.perMM
					name := fmt.Sprintf("S%d-%d", i, k)
					want[name] = "pass"
					if high {
						level += 25 * x.perMM
						want[name] = "fail"
					}
					fmt.Fprintf(&shots, "%s,%.6f,%.6f,%.6f,%s\n", name, p.start[1]+part*(p.end[1]-p.start[1]), p.start[0]+part*(p.end[0]-p.start[0]), level, p.name)
				}
			}
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, "shots.csv"), []byte(shots.String()), 0o600))
			job := "project: P\nunits: " + x.unit + "\ngrid: " + x.grid + "\nheightDatum: D\nsurveys:\n  - {file: shots.csv, kind: points, staffed: invert}\ndesigns:\n  - {name: n, file: " + filepath.ToSlash(path) +
				", network: " + x.network + "}\nchecks:\n  - pipe: {name: n, element: n, design: n, tolerance: {lower: -20 mm, upper: 20 mm, source: test}}\n"
			require.NoError(t, os.WriteFile(filepath.Join(dir, "job.yaml"), []byte(job), 0o600))
			code, _, msg := sightrail("check", filepath.Join(dir, "job.yaml"), "-o", filepath.Join(dir, "out"))
			require.Equal(t, 1, code, msg)
			f, err := os.Open(filepath.Join(dir, "out", "results.csv"))
			require.NoError(t, err)
			defer f.Close()
			rows, err := csv.NewReader(f).ReadAll()
			require.NoError(t, err)
			got := 0
			for _, r := range rows[1:] {
				if r[3] == "invert" {
					assert.Equal(t, want[r[4]], r[7], "%v", r)
					got++
				}
			}
			assert.Equal(t, 3*len(pipes), got)
			sum, err := os.ReadFile(filepath.Join(dir, "out", "summary.json"))
			require.NoError(t, err)
			assert.Equal(t, x.flags, strings.Count(string(sum), "the flow flags in the file say"))
		})
	}
}

// latin1 reads ISO-8859-1 for encoding/xml.
func latin1(_ string, in io.Reader) (io.Reader, error) {
	return charmap.ISO8859_1.NewDecoder().Reader(in), nil
}
