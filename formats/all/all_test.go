package all

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every folder of formats that holds a Format stands in the list, with what
// the list needs of it.
func TestNoneIsLeftOut(t *testing.T) {
	files, err := filepath.Glob("../*/*.go")
	require.NoError(t, err)
	n := 0
	for _, f := range files {
		text, err := os.ReadFile(f)
		require.NoError(t, err)
		n += strings.Count(string(text), "\nvar Format = &formats.Format{")
	}
	assert.Len(t, Formats, n)
	seen := map[string]bool{}
	for _, f := range Formats {
		assert.NotEmpty(t, f.Title)
		assert.NotNil(t, f.Sniff)
		assert.NotNil(t, f.Decode)
		assert.NotNil(t, f.Encode)
		assert.NotEmpty(t, f.Holds)
		for _, x := range f.Extensions {
			assert.False(t, seen[x], x)
			seen[x] = true
			by, err := ByName("a" + strings.ToUpper(x))
			require.NoError(t, err)
			assert.Same(t, f, by)
		}
	}
}

func TestFilesOfNoFormatAreNamedForWhatTheyAre(t *testing.T) {
	for head, want := range map[string]string{"": "empty", "\xd0\xcf\x11\xe0": "old kind", "%PDF-1.7": "PDF", "PK\x03\x04mimetype": "no workbook", "\x7fELF": "none of the formats"} {
		_, err := Find("a.bin", []byte(head))
		assert.ErrorContains(t, err, want)
	}
}
