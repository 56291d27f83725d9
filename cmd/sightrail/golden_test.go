package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/fixture"
)

// reducedMessy are the messy books whose trouble shows when they are reduced.
var reducedMessy = map[string]bool{"22-title-and-totals.csv": true, "23-missing-backsight.csv": true, "24-inverted-flag.csv": true, "25-feet-and-inches.csv": true}

// What a site sends, file by file in testdata/messy, and the whole diagnosis, which
// stands in testdata/messy/want. "make golden" writes it anew, for reading before
// it is kept.
func TestMessyFilesGolden(t *testing.T) {
	dir := filepath.Join(fixture.Root(t), "testdata", "messy")
	list, err := os.ReadDir(dir)
	require.NoError(t, err)
	var got strings.Builder
	n := 0
	for _, e := range list {
		if e.Name() == "want" {
			continue
		}
		n++
		commands := [][]string{{"inspect"}}
		if reducedMessy[e.Name()] {
			commands = append(commands, []string{"reduce"})
		}
		for _, c := range commands {
			code, out, msg := sightrail(append(c, filepath.Join(dir, e.Name()))...)
			got.WriteString("== " + c[0] + " " + e.Name() + "\n" + out + msg)
			got.WriteString("exit " + string(rune('0'+code)) + "\n")
		}
	}
	require.GreaterOrEqual(t, n, 40)
	text := strings.ReplaceAll(got.String(), filepath.ToSlash(dir)+"/", "")
	want := filepath.Join(dir, "want")
	if os.Getenv("SIGHTRAIL_GOLDEN") != "" {
		require.NoError(t, os.WriteFile(want, []byte(text), 0o644))
	}
	kept, err := os.ReadFile(want)
	require.NoError(t, err)
	assert.Equal(t, strings.ReplaceAll(string(kept), "\r\n", "\n"), text)
}

func TestPlenty(t *testing.T) {
	for want, x := range map[string]struct {
		n    int
		what string
	}{"1 vertex": {1, "vertices"}, "2 vertices": {2, "vertices"}, "1 boundary": {1, "boundaries"}, "1 level book": {1, "level books"}, "1 point of intersection": {1, "points of intersection"}} {
		assert.Equal(t, want, plenty(x.n, x.what))
	}
}
