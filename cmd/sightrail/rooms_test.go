package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/formats/fixture"
)

// A package imports its parent, the shared packages, and folders to its left;
// only the lists import more.
func TestRooms(t *testing.T) {
	order := []string{"formats", "convert", "qa", "cmd"}
	shared := []string{"formats/unit", "formats/table", "formats/fixture", "qa/limits", "qa/job"}
	lists := []string{"formats/all", "qa/checks", "qa/report", "cmd/sightrail"}
	root := fixture.Root(t)
	seen := 0
	require.NoError(t, filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") {
			return err
		}
		rel, err := filepath.Rel(root, p)
		require.NoError(t, err)
		pkg := path.Dir(filepath.ToSlash(rel))
		f, err := parser.ParseFile(token.NewFileSet(), p, nil, parser.ImportsOnly)
		require.NoError(t, err)
		for _, i := range f.Imports {
			to, ok := strings.CutPrefix(strings.Trim(i.Path.Value, `"`), "sightrail/")
			if !ok {
				continue
			}
			seen++
			from, other := slices.Index(order, strings.Split(pkg, "/")[0]), slices.Index(order, strings.Split(to, "/")[0])
			child := strings.HasPrefix(to, pkg+"/")
			good := other < from || slices.Contains(shared, to) || to == path.Dir(pkg) || slices.Contains(lists, pkg) ||
				child && pkg == "convert" // convert puts together what its folders work out
			require.True(t, good, "%s imports %s", rel, to)
		}
		return nil
	}))
	require.Greater(t, seen, 50)
}
