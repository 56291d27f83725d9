//go:build browser

package report

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/unit"
	"sightrail/qa"
)

// runsForBrowser are runs of every form on one page: few set-ups and many, with
// lengths of sights and without, long names, marks between, one that breaks.
func runsForBrowser(t *testing.T) *qa.Result {
	t.Helper()
	known := map[string]unit.Length{"BM1": metres(t, "26.400"), "BM2": metres(t, "25.875")}
	var books []qa.BookResult
	add := func(rows []levels.Row) {
		books = append(books, bookOf(fmt.Sprintf("book%d.csv", len(books)), rows, levels.Options{Rule: twelve}))
	}
	for k, n := range []int{1, 2, 5, 9, 16, 25, 40, 200} {
		l := &leveller{draw: plain(), spaced: k%3 != 0, side: 4, known: known}
		l.run("BM1", "BM2", n, 30*(k%2))
		for i := range l.rows {
			if k%2 == 1 && strings.HasPrefix(l.rows[i].Name, "TP") {
				l.rows[i].Name = "NAIL_IN_THE_KERB_OPPOSITE_" + l.rows[i].Name
			}
		}
		if k == 4 {
			l.rows[20].BS = levels.Value{} // breaks half way
		}
		if n >= 25 {
			for i := range l.rows {
				if l.rows[i].IS.Set && i%25 == 3 {
					l.rows[i].Name = fmt.Sprintf("MARK_%d", i)
					l.rows[i].Known, l.rows[i].KnownFrom = levels.Of(metres(t, "25")), "job"
				}
			}
		}
		add(l.rows)
	}
	return withBooks(t, books...)
}

// TestRunDiagramsInBrowser lays the diagrams out wide and narrow: no lettering
// lies over other lettering or is clipped. In print none of them is split.
func TestRunDiagramsInBrowser(t *testing.T) {
	ctx, file := browser(t, writeOf(t, HTML, runsForBrowser(t)))
	overflow, clash := lay(t, ctx, file, "runs-")
	assert.Empty(t, overflow)
	assert.Empty(t, clash)
	// a page of A4 is 263 mm high within its margins, 994 CSS pixels
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(680, 994), chromedp.Navigate("file://"+file), chromedp.Func(func(ctx context.Context, page *chromedp.Target) error {
		_, err := cdp.Call(ctx, page, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return err
	})))
	split, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](`[...document.querySelectorAll('#levels figure')].filter(f =>
		getComputedStyle(f).breakInside !== 'avoid' || f.getBoundingClientRect().height > 994 || !f.getBoundingClientRect().height).map(f => getComputedStyle(f).breakInside + " " + f.getBoundingClientRect().height + " " + f.textContent.slice(0, 40))`))
	require.NoError(t, err)
	assert.Empty(t, split)
	n, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.querySelectorAll('#levels figure').length`))
	require.NoError(t, err)
	assert.Equal(t, 8, n)
}
