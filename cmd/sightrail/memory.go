package main

import (
	"os"
	"runtime"
	"runtime/debug"
)

// Memory: what a run holds is the design, which does not grow with the points, and a
// few batches of them. Garbage may gather up to a fixed amount beside that, and not, as
// is usual, up to as much again.
const (
	gatherReading = 50       // per cent of what is held, while designs are read
	gatherLooking = 200      // while a file is only looked at, and hardly anything is held
	gatherBytes   = 14 << 20 // while points pass by
	passingBytes  = 10 << 20 // what the batches under way and the figures of the checks hold
	bookBytes     = 96 << 20 // before the first collection, where a book is reduced
	firstHeap     = 4 << 20  // at which the runtime collects first, at 100 per cent
)

// gather lets so much garbage gather, in per cent of what is held; the result undoes
// it. GOGC in the environment has the last word.
func gather(percent int) (undo func()) {
	if os.Getenv("GOGC") != "" {
		return func() {}
	}
	before := debug.SetGCPercent(percent)
	return func() { debug.SetGCPercent(before) }
}

// keepFirst puts the first collection off until the heap is of that size; from then on
// they are as usual. What a reduced book is made of is all held to the end, and a
// collection in the middle finds nothing, but touches the room that waits for rows.
func keepFirst(size int64) {
	if os.Getenv("GOGC") != "" {
		return
	}
	debug.SetGCPercent(int(size * 100 / firstHeap))
	runtime.AddCleanup(new(sentinel), func(percent int) { debug.SetGCPercent(percent) }, 100)
}

// sentinel is held by nothing, so that the first collection finds it. It has a pointer:
// what has none may share its place with something that is held.
type sentinel struct{ _ *byte }

// passSparingly lets gatherBytes of garbage gather beside what is held now.
func passSparingly() {
	if os.Getenv("GOGC") != "" {
		return
	}
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	debug.SetGCPercent(int(max(5, gatherBytes*100/(m.HeapAlloc+passingBytes))))
}
