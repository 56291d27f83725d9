package xlsx

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// What is taken for plain is what the longer way makes of it.
func TestPlainIsShortest(t *testing.T) {
	long := func(value string) string {
		f, err := strconv.ParseFloat(value, 64)
		if err != nil {
			return value
		}
		f, err = strconv.ParseFloat(strconv.FormatFloat(f, 'g', 15, 64), 64)
		if err != nil {
			return value
		}
		return strconv.FormatFloat(f, 'f', -1, 64)
	}
	taken := 0
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.StringMatching(`-?[0-9]{1,9}(\.[0-9]{0,9})?`), rapid.StringMatching(`-?0\.0{0,8}[0-9]{1,8}`), rapid.StringMatching(`[-+.0-9eE]{0,8}`)).Draw(t, "number")
		if plain(s) {
			taken++
		}
		require.Equal(t, long(s), shortest(s), s)
	})
	require.NotZero(t, taken)
}
