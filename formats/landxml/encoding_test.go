package landxml

import (
	"bufio"
	"bytes"
	"io"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
)

// Text of one byte to a character is decoded as the library for encodings does
// it, whatever the sizes of the pieces.
func TestTextOfOneByteToACharacter(t *testing.T) {
	var all []byte
	for i := range 256 {
		all = append(all, byte(i))
	}
	texts := [][]byte{nil, all, bytes.Repeat([]byte("ascii only "), 900), bytes.Repeat([]byte{0xE4}, 9000), append(bytes.Repeat([]byte("x"), 65530), bytes.Repeat([]byte("\xe4b\x81"), 50)...)}
	n := 0
	for _, e := range charmap.All {
		c, ok := e.(*charmap.Charmap)
		if !ok || !asciiBelow(c) {
			continue
		}
		n++
		for _, text := range texts {
			want, err := c.NewDecoder().Bytes(text)
			require.NoError(t, err)
			for _, r := range []io.Reader{bytes.NewReader(text), iotest.OneByteReader(bytes.NewReader(text)), iotest.DataErrReader(bytes.NewReader(text))} {
				decoded := &byteText{r: bufio.NewReader(r), chars: c}
				var got bytes.Buffer
				p := make([]byte, 1+len(text)%90)
				for err = nil; err == nil; {
					var k int
					k, err = decoded.Read(p)
					got.Write(p[:k])
				}
				require.Equal(t, io.EOF, err)
				require.True(t, bytes.Equal(want, got.Bytes()), c)
			}
		}
	}
	assert.Greater(t, n, 30)
	assert.False(t, asciiBelow(charmap.CodePage037), "a character set that is not like ASCII goes the library's way")
	for size := range 9 {
		decoded := &byteText{r: bufio.NewReader(bytes.NewReader(all)), chars: charmap.Windows1252}
		var got []byte
		for p := make([]byte, size); size > 0; {
			k, err := decoded.Read(p)
			got = append(got, p[:k]...)
			if err == io.EOF {
				break
			}
		}
		want, err := charmap.Windows1252.NewDecoder().Bytes(all)
		require.NoError(t, err)
		assert.True(t, size == 0 || bytes.Equal(want, got), size)
	}
	_, err := (&byteText{r: bufio.NewReader(bytes.NewReader(all)), chars: charmap.ISO8859_1}).Read(nil)
	assert.NoError(t, err)
	_, err = io.ReadAll(&byteText{r: bufio.NewReader(iotest.ErrReader(io.ErrUnexpectedEOF)), chars: charmap.ISO8859_1})
	assert.Equal(t, io.ErrUnexpectedEOF, err)
}
