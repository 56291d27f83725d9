package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is read ahead is the stream, byte for byte, with its hash and its size.
func TestReadAhead(t *testing.T) {
	g := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{0, 1, aheadBytes - 1, aheadBytes, aheadBytes + 1, 10*aheadBytes + 7} {
		text := make([]byte, n)
		for i := range text {
			text[i] = byte(g.Uint32())
		}
		a := readAhead(iotest.HalfReader(bytes.NewReader(text)))
		got, err := io.ReadAll(a)
		require.NoError(t, err)
		assert.True(t, bytes.Equal(text, got))
		sum := sha256.Sum256(text)
		assert.Equal(t, hex.EncodeToString(sum[:]), a.hash())
		assert.Equal(t, int64(n), a.size)
		a.stop()
	}
}

// An error of the stream comes after what was read before it, and reading may stop
// early.
func TestReadAheadError(t *testing.T) {
	text := bytes.Repeat([]byte("x"), 3*aheadBytes+5)
	broken := errors.New("the stick was pulled out")
	a := readAhead(io.MultiReader(bytes.NewReader(text), iotest.ErrReader(broken)))
	got, err := io.ReadAll(a)
	assert.Equal(t, broken, err)
	assert.Len(t, got, len(text))
	a.stop()

	endless := readAhead(zeros{})
	_, err = io.ReadFull(endless, make([]byte, 10*aheadBytes))
	assert.NoError(t, err)
	endless.stop()
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}
