package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkReduce reads, reduces and prints a level book of 100 k readings.
func BenchmarkReduce(b *testing.B) {
	var s strings.Builder
	s.WriteString("Point,BS (m),IS (m),FS (m),Level (m)\nBM1,1.500,,,10.000\n")
	for range 33_333 {
		s.WriteString("a1,,1.250,,\na2,1.400,,1.400,\n")
	}
	s.WriteString("BM1,,,1.500,\n")
	path := filepath.Join(b.TempDir(), "book.csv")
	require.NoError(b, os.WriteFile(path, []byte(s.String()), 0o644))
	for b.Loop() {
		if code, out, problems := sightrail("reduce", path); strings.Count(out, "\n") < 60_000 {
			b.Fatal(code, problems)
		}
	}
}

// BenchmarkCheck runs a whole job of 22 k points against a pad, with csv and geojson.
func BenchmarkCheck(b *testing.B) {
	dir := b.TempDir()
	path := filepath.Join(dir, "job.yaml")
	require.NoError(b, os.WriteFile(path, []byte(partJob), 0o644))
	require.NoError(b, os.WriteFile(filepath.Join(dir, "points.csv"), []byte(lanePoints(22_000, 4000, 1)), 0o644))
	for b.Loop() {
		if code, _, problems := sightrail("check", path, "-o", filepath.Join(dir, "out"), "--outputs", "csv,geojson", "--overwrite", "-q"); code != 2 {
			b.Fatal(code, problems)
		}
	}
}
