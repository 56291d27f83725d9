package csvfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats"
	"sightrail/formats/unit"
)

// both decodes a text with the quick reader and without.
func both(t require.TestingT, text string, opt formats.Options) {
	quick, err1 := decode(strings.NewReader(text), "p.csv", opt, false, blockBytes)
	strict, err2 := decode(strings.NewReader(text), "p.csv", opt, true, blockBytes)
	require.Equal(t, err2 == nil, err1 == nil)
	require.Equal(t, strict, quick, text)
}

// The quick reader makes of every file what the other one makes, whatever the cells
// hold.
func TestPlainRowsAreTheSame(t *testing.T) {
	heads := []string{"Point,Easting,Northing,Level", "Point,Easting,Northing,Level,Code", "Code,Level (m),Northing (m),Easting (m),Point", "Easting,Northing,Level", "Point,Easting,Northing,Level,Other", "Point,Easting,Northing,Level,Run", "Point;E;N;Z;Code"}
	cell := rapid.OneOf(rapid.StringMatching(`-?[0-9]{1,6}(\.[0-9]{0,4})?`), rapid.SampledFrom([]string{"", "0", "-0", "007", "1.", ".5", "+1", "-9999", "-9999.00", "99999", "1e3", "1,5", "12 ", " 12", "a", "6E+02", "3-Apr", "n/a", "-", "'5", "123456789012345678", "1234567890123456789", "0.1234567890123456789", "é", "#1", "1.2.3", "\t1"}))
	rapid.Check(t, func(t *rapid.T) {
		head := rapid.SampledFrom(heads).Draw(t, "head")
		sep := ","
		if strings.Contains(head, ";") {
			sep = ";"
		}
		lines := []string{head, strings.Join([]string{"a", "1", "2", "3", "4"}[:strings.Count(head, sep)+1], sep)}
		for range rapid.IntRange(0, 12).Draw(t, "rows") {
			n := strings.Count(head, sep) + rapid.SampledFrom([]int{1, 1, 1, 1, 0, 2}).Draw(t, "more")
			lines = append(lines, strings.Join(rapid.SliceOfN(cell, n, n).Draw(t, "cells"), sep))
		}
		opt := formats.Options{Content: formats.PointContent, Unit: rapid.SampledFrom([]unit.Unit{{}, unit.M, unit.Ft}).Draw(t, "unit")}
		if rapid.Bool().Draw(t, "declared") {
			opt.Columns = []string{"name", "easting", "northing", "level", "code"}[:rapid.IntRange(4, 5).Draw(t, "columns")]
		}
		both(t, strings.Join(lines, rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "end")), opt)
	})
}

func FuzzPlain(f *testing.F) {
	f.Add("Point,Easting,Northing,Level,Code\na,1.5,2,3.25,X\nb,1,2,,\n\"c\",1,2,3,\n")
	f.Add("Point;E;N;Z\na;1,5;2;3\n")
	f.Add("Easting,Northing,Level\n1,2,-9999\n")
	f.Fuzz(func(t *testing.T, text string) {
		both(t, text, formats.Options{Content: formats.PointContent, Unit: unit.M})
	})
}

// Room made at once changes nothing, whatever the size of the file is said to be.
func TestSizeIsOnlyRoom(t *testing.T) {
	var b strings.Builder
	b.WriteString("Point,BS (m),IS (m),FS (m),Level (m)\nBM1,1.500,,,10.000\n")
	for range 3000 {
		b.WriteString("a,,1.250,,\n")
	}
	b.WriteString("BM1,,,1.500,\n")
	text := b.String()
	want, err := Decode(strings.NewReader(text), "b.csv", formats.Options{})
	require.NoError(t, err)
	require.Len(t, want.Books[0].Rows, 3002)
	for _, size := range []int64{1, 100, int64(len(text)), 1 << 24} {
		got, err := Decode(strings.NewReader(text), "b.csv", formats.Options{Bytes: size})
		require.NoError(t, err)
		require.Equal(t, want, got, size)
	}
}
