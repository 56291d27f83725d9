package report

import (
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"sightrail/convert"
	"sightrail/formats"
	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/job"
	"sightrail/qa/limits"
)

// BenchmarkAlike prints rows of a scan for results.csv and results.geojson with the
// columns of the speed table, and all of results.csv.
func BenchmarkAlike(b *testing.B) {
	for name, c := range map[string]struct {
		columns []string
		kinds   []*Kind
	}{
		"columns": {[]string{"point", "easting", "northing", "measured", "code", "design", "diff_mm", "verdict"}, []*Kind{CSV, GeoJSON}},
		"all":     {nil, []*Kind{CSV}},
	} {
		b.Run(name, func(b *testing.B) {
			head := &qa.Result{Job: &job.Job{}, Frame: convert.Frame{Unit: unit.M, EPSG: "7855", E0: 320000, N0: 5800000}, Columns: c.columns, GridOnly: true,
				Checks: []qa.CheckResult{{Common: job.Common{Name: "pad", Element: "pad"}}}}
			var err error
			head.Earth, err = convert.NewEarth(&head.Frame, "")
			require.NoError(b, err)
			var writers []Writer
			for _, k := range c.kinds {
				w, err := k.Start(io.Discard, head)
				require.NoError(b, err)
				writers = append(writers, w)
			}
			p := (&Fan{writers: writers}).Printer()
			r := qa.Row{Quantity: qa.QuantityLevel, Compared: true, Verdict: limits.Pass, DesignAt: "plane pad", Limits: limits.Tolerance{Upper: 20 * unit.Millimetre, HasUpper: true, Source: "s"},
				Shot: convert.Shot{Pos: formats.Pos{File: "scan.csv", Col: 4}, Use: convert.Assessed, Placed: true, Levelled: true}}
			p.Like(&r)
			as := qa.Written{Easting: "319979.890", Northing: "5800014.277", Level: "42.534"}
			var names []string
			for i := range 1000 {
				names = append(names, fmt.Sprint(100_000+i))
			}
			for i := 0; b.Loop(); i++ {
				if i%1000 == 0 {
					p.Reset()
				}
				r.Shot.ID, r.Shot.Code, r.Shot.Pos.Row = names[i%1000], "CL", i
				r.Shot.Place = convert.Place{E: -unit.Length(i), N: unit.Length(i)}
				r.Measured = 42534 * unit.Millimetre
				r.Design = r.Measured + unit.Length(i*7919)*unit.Nanometre
				r.Diff = r.Measured - r.Design
				p.Alike(&r, &as)
			}
		})
	}
}
