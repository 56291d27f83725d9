package main

import (
	"io"
	"os"
	"sync"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// progressAfter is how long a file is read before a bar is shown for it.
const progressAfter = time.Second

// progress shows how far files have been read, on a terminal only. A nil progress
// shows nothing.
type progress struct {
	w    io.Writer
	once sync.Once
	bars *mpb.Progress
}

// newProgress watches where w is a terminal and nobody asked for quiet.
func newProgress(w io.Writer, quiet bool) *progress {
	f, ok := w.(*os.File)
	if quiet || !ok || !isatty.IsTerminal(f.Fd()) && !isatty.IsCygwinTerminal(f.Fd()) {
		return nil
	}
	return &progress{w: w}
}

// watch wraps a file that is read, of a size in bytes (0 is not known). done ends
// its bar.
func (p *progress) watch(r io.Reader, name string, size int64) (io.Reader, func()) {
	if p == nil {
		return r, func() {}
	}
	x := &watched{r: r, p: p, name: name, size: size, since: time.Now()}
	return x, x.done
}

// wait lets the last bars be drawn.
func (p *progress) wait() {
	if p != nil && p.bars != nil {
		p.bars.Wait()
	}
}

type watched struct {
	r     io.Reader
	p     *progress
	name  string
	size  int64
	since time.Time
	n     int64
	bar   *mpb.Bar
}

func (x *watched) Read(b []byte) (int, error) {
	n, err := x.r.Read(b)
	x.n += int64(n)
	if x.bar == nil && time.Since(x.since) >= progressAfter {
		x.p.once.Do(func() { x.p.bars = mpb.New(mpb.WithOutput(x.p.w), mpb.WithWidth(40)) })
		x.bar = x.p.bars.AddBar(x.size, mpb.BarRemoveOnComplete(),
			mpb.PrependDecorators(decor.Name(x.name+" "), decor.CountersKibiByte("% .0f / % .0f")),
			mpb.AppendDecorators(decor.Percentage(), decor.Name(" "), decor.AverageSpeed(decor.SizeB1024(0), "% .0f"), decor.Name(" left "), decor.AverageETA(decor.ET_STYLE_GO)))
		x.bar.DecoratorAverageAdjust(x.since)
	}
	if x.bar != nil {
		x.bar.SetCurrent(x.n)
	}
	return n, err
}

func (x *watched) done() {
	if x.bar != nil {
		x.bar.SetTotal(x.n, true)
	}
}
