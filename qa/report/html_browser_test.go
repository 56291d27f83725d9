//go:build browser

package report

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	devtools "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// browser opens a page in a real browser.
func browser(t *testing.T, html []byte) (ctx context.Context, file string) {
	t.Helper()
	dir := t.TempDir()
	file = filepath.Join(dir, "report.html")
	require.NoError(t, os.WriteFile(file, html, 0o600))
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath("/usr/bin/chromium"), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("hide-scrollbars", true), chromedp.UserDataDir(filepath.Join(dir, "profile")))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel2 := chromedp.NewContext(ctx)
	t.Cleanup(cancel2)
	ctx, cancel3 := context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(cancel3)
	return ctx, file
}

// lay lays the page out at both widths and looks for what sticks out of it and
// for lettering of drawings that overlaps. With SIGHTRAIL_SCREENSHOTS naming a
// folder it keeps the pictures there.
func lay(t *testing.T, ctx context.Context, file, name string) (overflow, clash []string) {
	t.Helper()
	for _, v := range []struct {
		name    string
		width   int64
		options []chromedp.EmulateViewportOption
	}{{"wide", 1280, nil}, {"narrow", 390, []chromedp.EmulateViewportOption{chromedp.EmulateMobile}}} {
		require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(v.width, 900, v.options...), chromedp.Navigate("file://"+file)))
		o, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](overflowJS))
		require.NoError(t, err)
		c, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](clashJS))
		require.NoError(t, err)
		for _, s := range o {
			overflow = append(overflow, v.name+": "+s)
		}
		for _, s := range c {
			clash = append(clash, v.name+": "+s)
		}
		if dir := os.Getenv("SIGHTRAIL_SCREENSHOTS"); dir != "" {
			picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, name+v.name+".png"), picture, 0o600))
		}
	}
	return overflow, clash
}

// TestPageInBrowser lays the page out wide and narrow: nothing may stick out of
// the page, no lettering may be clipped or lie over other lettering. Then it is
// printed.
func TestPageInBrowser(t *testing.T) {
	ctx, file := browser(t, writeOf(t, HTML, sampleResult(t)))
	overflow, clash := lay(t, ctx, file, "")
	assert.Empty(t, overflow)
	assert.Empty(t, clash)
	yes := true
	require.NoError(t, chromedp.Do(ctx, chromedp.ResetViewport()))
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(func(p *devtools.PrintToPDFParams) { p.PreferCSSPageSize, p.PrintBackground = &yes, &yes }))
	require.NoError(t, err)
	assert.True(t, bytes.HasPrefix(pdf, []byte("%PDF")))
	if dir := os.Getenv("SIGHTRAIL_SCREENSHOTS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "report.pdf"), pdf, 0o600))
	}
}

// TestLongNamesInBrowser gives every text of the files a name without a space.
func TestLongNamesInBrowser(t *testing.T) {
	res := sampleResult(t)
	dress(res, func() string { return "MANHOLE_AND_INSPECTION_CHAMBER_0123456789_WITH_A_NAME_THAT_NOBODY_SHORTENED" })
	ctx, file := browser(t, writeOf(t, HTML, res))
	overflow, clash := lay(t, ctx, file, "long-")
	assert.Empty(t, overflow)
	assert.Empty(t, clash)
}

// TestNonconformancesInBrowser lays out the page of the demo job, with a register,
// rounds of rework and a concession, and the same with long texts.
func TestNonconformancesInBrowser(t *testing.T) {
	long := "MANHOLE_AND_INSPECTION_CHAMBER_0123456789_WITH_A_NAME_THAT_NOBODY_SHORTENED"
	for name, edit := range map[string]map[string]func(string) string{"ncr-": nil, "ncr-long-": {
		"register.csv": func(s string) string {
			return strings.NewReplacer("S. Whitmore", long, "trim to formation", long, "NC-005", "NC-"+long).Replace(s)
		},
		"job.yaml": func(s string) string { return strings.NewReplacer("S. Whitmore", long, "note 9", long).Replace(s) },
	}} {
		_, out := demoOf(t, []*Kind{HTML}, edit)
		ctx, file := browser(t, []byte(out[0]))
		overflow, clash := lay(t, ctx, file, name)
		assert.Empty(t, overflow, name)
		assert.Empty(t, clash, name)
	}
}

// TestHostileTextInBrowser opens a page full of markup: nothing runs, nothing
// is fetched.
func TestHostileTextInBrowser(t *testing.T) {
	res := sampleResult(t)
	k := 0
	dress(res, func() string { k++; return hostile[k%len(hostile)] })
	ctx, file := browser(t, writeOf(t, HTML, res))
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("file://"+file)))
	n, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.querySelectorAll('script,img,b[onerror]').length + performance.getEntriesByType('resource').length`))
	require.NoError(t, err)
	assert.Zero(t, n)
	ok, err := chromedp.Run(ctx, chromedp.Evaluate[string](`getComputedStyle(document.querySelector('.band')).display`))
	require.NoError(t, err)
	assert.Equal(t, "grid", ok, "the style sheet is allowed by the page's own policy")
}

// TestBrowserChecksCanFail spoils a page: both of the looks above must see it.
func TestBrowserChecksCanFail(t *testing.T) {
	text := bytes.ReplaceAll(writeOf(t, HTML, sampleResult(t)), []byte("</svg>"), []byte(`<text x="50" y="50">over</text><text x="52" y="50">over</text></svg>`))
	text = bytes.Replace(text, []byte("<main>"), []byte(`<main><pre>`+strings.Repeat("wide ", 400)+`</pre>`), 1)
	ctx, file := browser(t, text)
	overflow, clash := lay(t, ctx, file, "spoilt-")
	assert.NotEmpty(t, overflow)
	assert.NotEmpty(t, clash)
}

// overflowJS names what is wider than the page, outside of scrolling wrappers.
const overflowJS = `(() => {
  const out = [], w = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > w) out.push('page ' + document.documentElement.scrollWidth + ' > ' + w);
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('.scroll') && !e.matches('.scroll') || e.closest('svg') && !e.matches('svg') || e.closest('.skip, thead')) continue;
    const r = e.getBoundingClientRect();
    if (r.width && (r.right > w + 1 || r.left < -1)) out.push(e.tagName + '.' + e.getAttribute('class') + ' ' + r.left + '..' + r.right);
  }
  return out;
})()`

// clashJS finds lettering of a drawing that lies over other lettering of it or
// sticks out of it.
const clashJS = `(() => {
  const out = [];
  for (const svg of document.querySelectorAll('svg')) {
    const frame = svg.getBoundingClientRect();
    if (!frame.width) continue;
    const all = [...svg.querySelectorAll('text')].map(e => [e.textContent, e.getBoundingClientRect()]);
    all.forEach(([s, a], i) => {
      if (a.left < frame.left - 1 || a.right > frame.right + 1 || a.top < frame.top - 1 || a.bottom > frame.bottom + 1) out.push('clipped: ' + s);
      for (const [t, b] of all.slice(i + 1))
        if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 3)
          out.push(s + ' over ' + t);
    });
  }
  return out;
})()`
