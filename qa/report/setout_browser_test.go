//go:build browser

package report

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	devtools "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
)

// small names lettering under 11 points, as printed, and sheets with more than 40
// rows.
const smallJS = `(() => {
  const out = [], least = 11 * 96 / 72 - 0.01;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let n = 0;
  while (walk.nextNode()) {
    if (!walk.currentNode.textContent.trim()) continue;
    n++;
    const e = walk.currentNode.parentElement, size = parseFloat(getComputedStyle(e).fontSize);
    if (size < least) out.push(e.tagName + ' ' + size + 'px: ' + walk.currentNode.textContent);
  }
  if (n < 50) out.push('only ' + n + ' texts');
  for (const s of document.querySelectorAll('.sheet')) {
    const rows = s.querySelectorAll('tbody tr').length;
    if (rows > 40 || rows < 1) out.push(rows + ' rows on a page');
    if (!s.querySelector('thead .name') || s.querySelectorAll('dt').length < 3) out.push('a page without its heading');
  }
  return out;
})()`

var pdfPage = regexp.MustCompile(`/Type\s*/Page\b`)

func printSheets(t *testing.T, text []byte, name string) (small []string, pages int) {
	ctx, file := browser(t, text)
	overflow, _ := lay(t, ctx, file, name)
	assert.Empty(t, overflow)
	require.NoError(t, chromedp.Do(ctx, chromedp.ResetViewport(), chromedp.Func(func(ctx context.Context, page *chromedp.Target) error {
		_, err := cdp.Call(ctx, page, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return err
	})))
	small, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](smallJS))
	require.NoError(t, err)
	yes := true
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(func(p *devtools.PrintToPDFParams) { p.PreferCSSPageSize, p.PrintBackground = &yes, &yes }))
	require.NoError(t, err)
	if dir := os.Getenv("SIGHTRAIL_SCREENSHOTS"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name+".pdf"), pdf, 0o600))
	}
	return small, len(pdfPage.FindAll(pdf, -1))
}

// Printed on A4, no lettering is smaller than 11 points, no page has more than 40
// rows, and every page of the sheets is one page of paper.
func TestSetoutPrint(t *testing.T) {
	for name, x := range map[string]struct {
		change func(*qa.SetoutResult)
		pages  int
	}{
		"setout-": {func(*qa.SetoutResult) {}, 6},
		"setout-full-": {func(r *qa.SetoutResult) {
			for i := range r.Sheets[0].Rows {
				r.Sheets[0].Rows[i].Remarks = nil
			}
		}, 6},
		"setout-much-": {func(r *qa.SetoutResult) {
			s := &r.Sheets[0]
			s.Warnings = []string{strings.Repeat("The plane is not proved, and is to be read on a second mark. ", 4), "The plane does not run with the design: the reading goes from 2.638 m at PIT1 to 3.160 m at PIT5. Use the reading of each row."}
			s.Remarks = append(s.Remarks, strings.Repeat("P12, P23 falls 1 in 100 (1.000 %) downstream, bore 300 mm, wall 38 mm. ", 6))
			s.Plane = strings.Repeat("L1, set up 2026-03-05 on a mark; ", 5)
		}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			res := setoutSample(80)
			x.change(res)
			want := 1 // the basis
			for i := range res.Sheets {
				want += PageCount(res, &res.Sheets[i])
			}
			if x.pages > 0 {
				assert.LessOrEqual(t, want, x.pages)
			}
			small, pages := printSheets(t, setoutBytes(t, SetoutPages, res), name)
			assert.Empty(t, small)
			assert.Equal(t, want, pages, "pages of paper")
		})
	}
}

// The look above must see a page that is spoilt.
func TestSetoutPrintCanFail(t *testing.T) {
	text := setoutBytes(t, SetoutPages, setoutSample(41))
	// lettering of 10 points: by an element that is smaller of itself
	text = bytes.Replace(text, []byte("Set-out sheet, page"), []byte("<sub>Set-out sheet, page</sub>"), 1)
	small, _ := printSheets(t, text, "setout-spoilt-")
	assert.NotEmpty(t, small)
}

// Names without a space do not push a page out of its paper.
func TestSetoutLongNames(t *testing.T) {
	res := setoutSample(20)
	long := "MANHOLE_AND_INSPECTION_CHAMBER_0123456789_WITH_A_NAME_THAT_NOBODY_SHORTENED"
	s := &res.Sheets[0]
	s.Of.Name, s.What, s.Plane = long, long, long
	s.Rows[3].Name, s.Rows[9].Name = long, long
	small, _ := printSheets(t, setoutBytes(t, SetoutPages, res), "setout-long-")
	assert.Empty(t, small)
}
