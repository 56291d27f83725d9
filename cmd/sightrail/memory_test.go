package main

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Garbage may gather before the first collection only.
func TestKeepFirstIsUndone(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(100))
	t.Setenv("GOGC", "")
	percent := func() uint64 {
		s := []metrics.Sample{{Name: "/gc/gogc:percent"}}
		metrics.Read(s)
		return s[0].Value.Uint64()
	}
	keepFirst(bookBytes)
	require.EqualValues(t, 2400, percent())
	require.Eventually(t, func() bool { runtime.GC(); return percent() == 100 }, 10*time.Second, time.Millisecond)

	t.Setenv("GOGC", "50") // has the last word
	keepFirst(bookBytes)
	require.EqualValues(t, 100, percent())
}
