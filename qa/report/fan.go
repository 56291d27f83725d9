package report

import (
	"fmt"
	"sync"
	"sync/atomic"

	"sightrail/qa"
)

// Fan hands the rows of a run to several writers, which work beside each other and
// beside the checks. Every writer gets all rows in order, so that what it writes
// does not depend on how many of them work at once. It is a qa.PrintSink.
type Fan struct {
	names   []string
	writers []Writer
	in      []chan *batch
	free    chan *batch
	now     *batch // that Room gave out
	wait    sync.WaitGroup
	res     *qa.Result // final, once the rows have ended

	mu  sync.Mutex
	err error
}

// batch is a slice of rows on its way through the writers.
type batch struct {
	rows  []qa.Row
	print *fanPrinter  // in place of rows
	free  func()       // of print
	left  atomic.Int32 // writers that have not written it
}

// inFlight is how many batches are on their way at once.
const inFlight = 4

// NewFan starts a fan; names are those of the files, for messages. Close ends it.
func NewFan(names []string, writers []Writer) *Fan {
	f := &Fan{names: names, writers: writers, free: make(chan *batch, inFlight), in: make([]chan *batch, len(writers))}
	for range inFlight {
		f.free <- &batch{}
	}
	for i := range writers {
		f.in[i] = make(chan *batch, inFlight)
		f.wait.Add(1)
		go f.write(i)
	}
	return f
}

// write is one writer at work.
func (f *Fan) write(i int) {
	defer f.wait.Done()
	var err error
	for b := range f.in[i] {
		if err == nil {
			if err = qa.Beside(func() error { return b.writeTo(f.writers[i], i) }); err != nil {
				f.fail(i, err)
			}
		}
		if b.left.Add(-1) == 0 {
			f.done(b)
		}
	}
	if err == nil && f.res != nil {
		if err := qa.Beside(func() error { return f.writers[i].Close(f.res) }); err != nil {
			f.fail(i, err)
		}
	}
}

func (b *batch) writeTo(w Writer, i int) error {
	if b.print != nil {
		return w.(printing).printed(b.print.texts[i])
	}
	return w.Rows(b.rows)
}

// done makes use of a batch that all writers have written.
func (f *Fan) done(b *batch) {
	if b.print != nil {
		b.free()
		return
	}
	f.free <- b
}

// fail keeps the first error, by the order of the writers where there are several.
func (f *Fan) fail(i int, err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.err == nil {
		f.err = fmt.Errorf("%s: %w", f.names[i], err)
	}
}

func (f *Fan) failed() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.err
}

// Room waits until there is a slice that all writers are done with.
func (f *Fan) Room() []qa.Row {
	if f.now == nil {
		f.now = <-f.free
	}
	return f.now.rows[:0]
}

// Take hands rows on. An error is that of a writer, of these rows or of earlier
// ones.
func (f *Fan) Take(rows []qa.Row) error {
	b := f.now
	f.now = nil
	b.rows = rows
	f.pass(b)
	return f.failed()
}

func (f *Fan) pass(b *batch) {
	b.left.Store(int32(len(f.writers)))
	if len(f.writers) == 0 {
		f.done(b)
	}
	for _, in := range f.in {
		in <- b
	}
}

// Close closes the writers with the final result; nil where the run did not come
// to one, and the reports are not finished then.
func (f *Fan) Close(res *qa.Result) error {
	f.res = res
	for _, in := range f.in {
		close(in)
	}
	f.wait.Wait()
	return qa.Raise(f.failed())
}
