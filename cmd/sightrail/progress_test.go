package main

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Silent where nobody looks: in a pipe, and when quiet is asked for.
func TestProgressIsSilentInAPipe(t *testing.T) {
	assert.Nil(t, newProgress(&bytes.Buffer{}, false))
	var none *progress
	r, done := none.watch(strings.NewReader("abc"), "a", 3)
	text, err := io.ReadAll(r)
	require.NoError(t, err)
	assert.Equal(t, "abc", string(text))
	done()
	none.wait()
}

// A file that is read for longer than a second has a bar with its name, share and
// rate; what is read is not touched.
func TestProgressOfALongFile(t *testing.T) {
	var screen bytes.Buffer
	p := &progress{w: &screen}
	r, done := p.watch(strings.NewReader(strings.Repeat("x", 1<<20)), "points.csv", 1<<20)
	r.(*watched).since = time.Now().Add(-2 * time.Second)
	n, err := io.Copy(io.Discard, r)
	require.NoError(t, err)
	assert.Equal(t, int64(1<<20), n)
	done()
	p.wait()
	short, done := p.watch(strings.NewReader("y"), "short.csv", 1)
	_, err = io.ReadAll(short)
	require.NoError(t, err)
	done()
	assert.NotContains(t, screen.String(), "short.csv")
}

func TestQuiet(t *testing.T) {
	code, out, msg := sightrail("--quiet", "check", "testdata-that-is-not-there.yaml", "-o", t.TempDir())
	assert.Equal(t, exitUndone, code)
	assert.Empty(t, out)
	assert.NotEmpty(t, msg, "what is wrong is always said")
}
