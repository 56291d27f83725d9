package checks_test

import (
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func pondingJob(u, limit, more string) string {
	return fmt.Sprintf("project: p\nunits: %[1]s\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, unit: %[2]s}\n"+
		"checks:\n  - ponding: {name: v, element: e, tolerance: {upper: %[3]s, source: s}%[4]s}\n", strings.Replace(u, "in", "ft", 1), u, limit, more)
}

// pondRows are the derived rows of a run.
func pondRows(t *testing.T, text, shots string) []qa.Row {
	t.Helper()
	res := runShots(t, text, map[string]string{"p.csv": shots})
	require.Empty(t, res.Problems)
	var out []qa.Row
	for _, r := range res.Rows {
		if r.Derived {
			out = append(out, r)
		}
	}
	return out
}

// Shapes whose area and volume have a closed form: a pit that is a pyramid, a slope
// against a kerb that is a wedge, two pits under one water, a cone cut off by its
// spill level.
func TestPondsOfShapes(t *testing.T) {
	pyramid := "Point,Easting,Northing,Level\na,0,0,10\nb,2,0,10\nc,2,2,10\nd,0,2,10\nm,1,1,9.97\n"
	rows := pondRows(t, pondingJob("m", "5 mm", ""), pyramid)
	require.Len(t, rows, 1)
	assert.Equal(t, "fail", rows[0].Verdict.String())
	assert.Equal(t, "m", rows[0].Shot.ID)
	assert.Equal(t, "30", fmt.Sprint(rows[0].Diff.Millimetres()))
	assert.Equal(t, "a pond: 4.00 m², 0.040 m³, from 1.000 to 1.000 E and 1.000 to 1.000 N; it spills at 10.000 of a", rows[0].Reason)

	// 10 m × 10 m that falls 100 mm to a kerb on three sides: ½ × 10 × 10 × 0.1
	wedge := "Point,Easting,Northing,Level,Code\nd,0,10,10.1,KERB\na,0,0,10,KERB\ng,5,0,10,KERB\nb,10,0,10,KERB\nc,10,10,10.1,KERB\nh,5,10,10.1,\n"
	rows = pondRows(t, pondingJob("m", "5 mm", ", kerbs: [KERB]"), wedge)
	require.Len(t, rows, 1)
	assert.Contains(t, rows[0].Reason, "a pond: 100.00 m², 5.000 m³")
	assert.Equal(t, "100", fmt.Sprint(rows[0].Diff.Millimetres()))
	// without the kerb it runs off; with a gully in the low edge it is dry
	for _, more := range []string{"", ", kerbs: [KERB], inlets: {names: [a]}"} {
		rows = pondRows(t, pondingJob("m", "0 mm", more), wedge)
		require.Len(t, rows, 1)
		assert.Equal(t, "pass", rows[0].Verdict.String(), rows[0].Reason)
		assert.Contains(t, rows[0].Reason, "no low spot without an outlet")
	}
	// kerbs all around and no inlet: it cannot get out
	rows = pondRows(t, pondingJob("m", "5 mm", ", kerbs: [KERB]"), strings.Replace(wedge, "h,5,10,10.1,", "h,5,10,10.1,KERB", 1))
	require.Len(t, rows, 1)
	assert.Equal(t, "fail", rows[0].Verdict.String())
	assert.Contains(t, rows[0].Reason, "water cannot get out")

	// a ridge of 9.99 between two pits, in a rim of 10: one water over two low spots
	pits := "Point,Easting,Northing,Level\na,0,0,10\nb,4,0,10\nc,4,2,10\nd,0,2,10\np,1,1,9.95\nr,2,1,9.99\nq,3,1,9.96\ns,2,0,10\nt,2,2,10\n"
	rows = pondRows(t, pondingJob("m", "5 mm", ""), pits)
	require.Len(t, rows, 1)
	assert.Contains(t, rows[0].Reason, "a pond over 2 low spots: 8.00 m²")
	assert.Equal(t, "p", rows[0].Shot.ID)
	assert.Equal(t, "50", fmt.Sprint(rows[0].Diff.Millimetres()))

	// a pit whose rim is notched half way down: the wet part is half as wide, a quarter
	// of the area and an eighth of the volume
	notch := "Point,Easting,Northing,Level\na,0,0,10.1\nb,4,0,10.1\nc,4,4,10.1\nd,0,4,10.1\nm,2,2,9.9\nn,2,0,10\n"
	rows = pondRows(t, pondingJob("m", "5 mm", ""), notch)
	require.Len(t, rows, 1)
	// the sides to c, d and half those beside the notch: three quarters of a pyramid of
	// 16 m² cut at half its height, and two triangles to the notch of 2 m² each, cut
	// between
	assert.Contains(t, rows[0].Reason, "it spills at 10.000 of n")
	assert.Equal(t, "100", fmt.Sprint(rows[0].Diff.Millimetres()))
	assert.Contains(t, rows[0].Reason, "a pond: 5.00 m²", "3/4 × 16/4 + 2 × 2 × 1 × ½")
}

// Depth exactly on the limit, and one last digit deeper, in every unit. Arithmetic.
func TestPondOnItsLimitInEveryUnit(t *testing.T) {
	for _, c := range []struct{ unit, limit, on, over string }{
		{"m", "5 mm", "9.995", "9.9949"}, {"ft", "0.02 ft", "9.98", "9.9799"}, {"ftUS", "0.02 ftUS", "9.98", "9.9799"}, {"in", "0.0625 in", "9.9375", "9.9374"},
	} {
		for level, want := range map[string]string{c.on: "pass", c.over: "fail"} {
			rows := pondRows(t, pondingJob(c.unit, c.limit, ""), "Point,Easting,Northing,Level\na,0,0,10\nb,2,0,10\nc,2,2,10\nd,0,2,10\nm,1,1,"+level+"\n")
			require.Len(t, rows, 1)
			assert.Equal(t, want, rows[0].Verdict.String(), "%s %s", level, c.unit)
		}
	}
}

// Ponds on random surfaces against water that rises step by step: a shot is wet to the
// lowest level at which it hangs together with an edge of the surface, found by joining
// shots from the lowest up. The order of the shots does not matter.
func TestPondsAgainstRisingWater(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewSource(rapid.Int64().Draw(rt, "seed")))
		const n = 7
		levels := map[[2]int]int{} // mm
		for e := range n {
			for k := range n {
				levels[[2]int{e, k}] = 10_000 + r.Intn(12)
			}
		}
		// a grid with its diagonals as breaklines, so that its triangles are known
		var shots []string
		lines := 0
		add := func(cells ...[2]int) {
			run := fmt.Sprintf("D%d", lines)
			if len(cells) == 1 {
				run = ""
			}
			for _, c := range cells {
				shots = append(shots, fmt.Sprintf("%d-%d,%s,%d,%d,%d.%03d", c[0], c[1], run, c[0], c[1], levels[c]/1000, levels[c]%1000))
			}
			lines++
		}
		for d := -n + 1; d < n; d++ {
			var line [][2]int
			for e := range n {
				if k := e + d; k >= 0 && k < n {
					line = append(line, [2]int{e, k})
				}
			}
			add(line...)
		}
		text := "Point,Run,Easting,Northing,Level\n" + strings.Join(shots, "\n") + "\n"
		rows := pondRows(t, pondingJob("m", "0 mm", `, made: {breaklines: ["D*"]}`), text)
		// brute force: for every level, what is joined to the border below it
		near := func(c [2]int) (out [][2]int) {
			for _, d := range [][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, -1}} {
				if x := [2]int{c[0] + d[0], c[1] + d[1]}; levels[x] > 0 {
					out = append(out, x)
				}
			}
			return out
		}
		spill := map[[2]int]int{}
		for water := 10_000; water < 10_012; water++ {
			var stack [][2]int
			seen := map[[2]int]bool{}
			for c, z := range levels {
				if (c[0] == 0 || c[1] == 0 || c[0] == n-1 || c[1] == n-1) && z <= water {
					stack, seen[c] = append(stack, c), true
				}
			}
			for len(stack) > 0 {
				c := stack[len(stack)-1]
				stack = stack[:len(stack)-1]
				if _, there := spill[c]; !there {
					spill[c] = water
				}
				for _, x := range near(c) {
					if !seen[x] && levels[x] <= water {
						stack, seen[x] = append(stack, x), true
					}
				}
			}
		}
		var want []string
		wet := map[[2]int]bool{}
		for c, z := range levels {
			wet[c] = spill[c] > z
		}
		done := map[[2]int]bool{}
		for c := range levels {
			if !wet[c] || done[c] {
				continue
			}
			low, stack := levels[c], [][2]int{c}
			done[c] = true
			for len(stack) > 0 {
				x := stack[len(stack)-1]
				stack = stack[:len(stack)-1]
				low = min(low, levels[x])
				for _, y := range near(x) {
					if wet[y] && !done[y] {
						stack, done[y] = append(stack, y), true
					}
				}
			}
			want = append(want, fmt.Sprintf("%d", spill[c]-low))
		}
		var got []string
		for _, x := range rows {
			if x.Diff != 0 {
				got = append(got, fmt.Sprint(x.Diff.Millimetres()))
			}
		}
		slices.Sort(want)
		slices.Sort(got)
		require.Equal(rt, want, got)
	})
}

func TestPondingKeys(t *testing.T) {
	for text, want := range map[string]string{
		strings.Replace(pondingJob("m", "5 mm", ""), "upper: 5 mm", "lower: 5 mm", 1): "standing water has a largest depth",
		pondingJob("m", "-5 mm", ""): "standing water has a largest depth",
		strings.Replace(pondingJob("m", "5 mm", ""), "upper: 5 mm", "lower: 0 mm, upper: 5 mm", 1): "a depth has no lower limit",
	} {
		_, err := job.Load("job.yaml", []byte(text), checks.Kinds())
		assert.ErrorContains(t, err, want)
	}
	res := runShots(t, pondingJob("m", "5 mm", ", inlets: {codes: [G]}"), map[string]string{"p.csv": "Point,Easting,Northing,Level\na,0,0,10\nb,2,0,10\n"})
	assert.Contains(t, res.Rows[2].Reason, "the shots make no surface")
	res = runShots(t, pondingJob("m", "5 mm", ", inlets: {codes: [G]}"), map[string]string{"p.csv": "Point,Easting,Northing,Level\na,0,0,10\nb,2,0,10\nc,1,1,10\n"})
	assert.Equal(t, []string{"No shot is an inlet by \"inlets:\" of the check."}, res.Checks[0].Remarks)
}

// Two kerbs that meet at a corner hold the water between them, whether the corner is
// shot for both or for one of them; the check says so.
func TestKerbsThatMeetHoldWater(t *testing.T) {
	for _, corner := range []string{"a2,0,0,10.0,K2\n", ""} {
		shots := "Point,Easting,Northing,Level,Run\nd,0,10,10.1,K1\na,0,0,10.0,K1\n" + corner + "b2,5,0,10.05,K2\nb,10,0,10.1,K2\nc,10,10,10.2,\n"
		res := runShots(t, pondingJob("m", "5 mm", `, kerbs: ["K*"]`), map[string]string{"p.csv": strings.ReplaceAll(shots, "\\n", "\n")})
		require.Empty(t, res.Problems)
		r := res.Rows[len(res.Rows)-1]
		assert.Equal(t, "fail", r.Verdict.String(), r.Reason)
		assert.Equal(t, "100", fmt.Sprint(r.Diff.Millimetres()))
		if corner == "" {
			assert.Contains(t, strings.Join(res.Checks[0].Remarks, "\n"), "Sides from one kerb to another are taken to hold water: 1, the first from a to b2")
		}
	}
}

// A kerb that no shot belongs to, and one that does not run along the edge of the
// surface, are no pass; an inlet at the place of a kerb's shot drains it.
func TestKerbsThatCannotBe(t *testing.T) {
	wedge := "Point,Easting,Northing,Level,Code\nd,0,10,10.1,KERB\na,0,0,10,KERB\ng,5,0,10,KERB\nb,10,0,10,KERB\nc,10,10,10.1,KERB\nh,5,10,10.1,\n"
	rows := pondRows(t, pondingJob("m", "5 mm", ", kerbs: [KRB]"), wedge)
	require.Len(t, rows, 1)
	assert.Equal(t, "not assessed: no shot of the check belongs to the kerb \"KRB\" of the job; correct the name, or leave it out", rows[0].Verdict.String()+": "+rows[0].Reason)
	rows = pondRows(t, pondingJob("m", "5 mm", ", kerbs: [KERB]"), wedge+"f,5,-0.5,9.95,\n")
	require.Len(t, rows, 1)
	assert.Equal(t, "not assessed", rows[0].Verdict.String())
	assert.Contains(t, rows[0].Reason, "does not run along the edge of the surface")
	rows = pondRows(t, pondingJob("m", "5 mm", ", kerbs: [KERB], inlets: {names: [grate]}"), wedge+"grate,5,0,10,\n")
	require.Len(t, rows, 1)
	assert.Equal(t, "pass", rows[0].Verdict.String(), rows[0].Reason)
}
