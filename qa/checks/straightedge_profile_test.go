package checks_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa"
)

// hollow is a level in a hollow of radius 212 m around 0: 3²/(8 × 212) m = 5.307 mm
// under a bar of 3 m.
func hollow(x float64) float64 { return 10 + x*x/(2*212) }

func profileRun(t *testing.T, limit, more, head string, lines []string) *qa.Result {
	t.Helper()
	res := runShots(t, straightedgeJob("m", "3 m", limit, more), map[string]string{"p.csv": head + "\n" + strings.Join(lines, "\n") + "\n"})
	require.Empty(t, res.Problems)
	return res
}

// A profile 5 m inside of an alignment of radius 30 m: its distances are those in
// plan, 25/30 of those of the chainages, which would make the bar too short and the
// gap 3.7 mm. Geometry.
func TestStraightedgeInsideACurve(t *testing.T) {
	var both, places, chainages []string
	for i := range 41 {
		a := float64(i-20) * 0.4 / 30
		place, chainage := fmt.Sprintf("%.4f,%.4f", 25*math.Sin(a), 25*math.Cos(a)), fmt.Sprintf("%.4f,5", 100+30*a)
		z := fmt.Sprintf("%.5f", hollow(25*a))
		both = append(both, fmt.Sprintf("s%d,%s,%s,%s", i, place, chainage, z))
		places = append(places, fmt.Sprintf("s%d,%s,%s", i, place, z))
		chainages = append(chainages, fmt.Sprintf("s%d,%s,%s", i, chainage, z))
	}
	want := profileRun(t, "5 mm", "", "Point,Easting,Northing,Level", places)
	got := profileRun(t, "5 mm", "", "Point,Easting,Northing,Chainage,Offset,Level", both)
	for i := range want.Rows {
		assert.Equal(t, want.Rows[i].Diff, got.Rows[i].Diff)
		assert.Equal(t, want.Rows[i].Verdict, got.Rows[i].Verdict)
		assert.Equal(t, want.Rows[i].Reason, got.Rows[i].Reason)
	}
	assert.Equal(t, "fail", string(got.Verdict))
	assert.InDelta(t, 5.35, got.Rows[41+19].Diff.Millimetres(), 0.08)
	assert.Empty(t, got.Checks[0].Remarks)

	only := profileRun(t, "5 mm", "", "Point,Chainage,Offset,Level", chainages)
	require.Len(t, only.Checks[0].Remarks, 1)
	assert.Contains(t, only.Checks[0].Remarks[0], "the distances of the profile of the shots without a run are those of chainages and offsets")

	for i := range both { // without a place for one of them, its distances are by chainage
		if i == 20 {
			both[i] = fmt.Sprintf("s%d,,,%s", i, strings.SplitN(both[i], ",", 4)[3])
		}
	}
	mixed := profileRun(t, "5 mm", "", "Point,Easting,Northing,Chainage,Offset,Level", both)
	require.Len(t, mixed.Checks[0].Remarks, 1)
	assert.Equal(t, got.Rows[41+3].Diff, mixed.Rows[41+3].Diff)
}

// Shots across, at one chainage: their distances are those of the offsets, in whatever
// order the file has them, and no remark is needed; two lines across at two chainages
// of one run are assessed line by line.
func TestStraightedgeAcross(t *testing.T) {
	section := func(chainage string) (lines []string) {
		for i := range 21 {
			z := 10.0
			if i == 10 {
				z = 9.98
			}
			lines = append(lines, fmt.Sprintf("s%d,%s,%.1f,%v", i, chainage, -4+0.4*float64(i), z))
		}
		return lines
	}
	one := section("100")
	one[3], one[7] = one[7], one[3]
	res := profileRun(t, "5 mm", "", "Point,Chainage,Offset,Level", one)
	assert.Equal(t, 18, res.Checks[0].Counts.Pass)
	assert.Equal(t, 1, res.Checks[0].Counts.Fail)
	assert.Equal(t, "s10", res.Failures[0].Shot.ID)
	assert.InDelta(t, 20, res.Failures[0].Diff.Millimetres(), 1e-9)
	assert.Empty(t, res.Checks[0].Remarks)

	res = profileRun(t, "5 mm", "", "Point,Chainage,Offset,Level", append(section("100"), section("101")...))
	assert.Equal(t, 2, res.Checks[0].Counts.Fail)
	assert.Equal(t, 22, res.Checks[0].Counts.Pass)
	for i := range res.Rows {
		if r := &res.Rows[i]; r.Derived && !r.Compared {
			assert.Contains(t, r.Reason, "s20 and s0 are 8.062 m apart")
		}
	}
}

// Ways that a bar cannot be laid along, and the lines that they stand for: the hollow
// fails along the straight line, and shots out of order or beside the line make the
// way longer, the bar shorter and the gap too small. It is never passed.
func TestStraightedgeAlongABentWay(t *testing.T) {
	line := func(n int, by, beside float64, order func(i int) int) (lines []string) {
		for k := range n {
			i := order(k)
			x := float64(i) * by
			lines = append(lines, fmt.Sprintf("s%d,%.3f,%.4f,%.5f", i, x, beside*float64(1-i%2*2), hollow(x-float64(n-1)*by/2)))
		}
		return lines
	}
	straight := func(i int) int { return i }
	swapped := func(i int) int { return i - 1 + i%2*2 } // 1, 0, 3, 2, …
	for _, c := range []struct {
		name  string
		lines []string
		want  string
	}{
		{"in order", line(121, 0.1, 0, straight), ""},
		{"every two exchanged", line(120, 0.1, 0, swapped), "turns back"},
		{"0.1 m to the left and right", line(121, 0.1, 0.1, straight), "turns back"},
		{"0.03 m to the left and right", line(121, 0.1, 0.03, straight), "over a straightedge's length the way along the shots is longer than the straight line by more than 1 % of it"},
	} {
		res := profileRun(t, "5 mm", "", "Point,Easting,Northing,Level", c.lines)
		if c.want == "" {
			assert.Equal(t, "fail", string(res.Verdict), c.name)
			continue
		}
		assert.Equal(t, "incomplete", string(res.Verdict), c.name)
		assert.Equal(t, 0, res.Checks[0].Counts.Assessed, c.name)
		for i := range res.Rows {
			if r := &res.Rows[i]; r.Derived {
				assert.Contains(t, r.Reason, c.want, c.name)
				assert.Regexp(t, `s\d+ \(p\.csv:\d+:4\)`, r.Reason)
			}
		}
	}

	// 2 mm to the left and right every 0.1 m: the way is 0.08 % longer, so that between
	// 5.307 mm and 0.16 % less nothing can be told apart.
	bent := line(121, 0.1, 0.002, straight)
	for limit, want := range map[string]string{"5.29 mm": "fail", "5.305 mm": "not assessed", "5.33 mm": "pass"} {
		r := profileRun(t, limit, "", "Point,Easting,Northing,Level", bent).Rows[121+59]
		assert.Equal(t, want, r.Verdict.String(), "%s: %s", limit, r.Reason)
		if want == "not assessed" {
			assert.Contains(t, r.Reason, "the verdict hangs on that")
			assert.False(t, r.Compared)
		}
	}

	for limit, want := range map[string]string{"6.29 mm": "fail", "6.305 mm": "not assessed", "6.33 mm": "pass"} { // and by the limit with a guard band
		r := profileRun(t, limit, ", decision: {rule: guarded acceptance, guard: 1 mm, source: s}", "Point,Easting,Northing,Level", bent).Rows[121+59]
		assert.Equal(t, want, r.Verdict.String(), "%s: %s", limit, r.Reason)
	}

	// A corner of 90° between two level lines: a bar's length from it they pass.
	var corner []string
	for i := range 41 {
		e, n := min(float64(i), 20)/4, max(float64(i)-20, 0)/4
		corner = append(corner, fmt.Sprintf("s%d,%v,%v,10", i, e, n))
	}
	res := profileRun(t, "5 mm", "", "Point,Easting,Northing,Level", corner)
	for i := 1; i < 40; i++ {
		r := res.Rows[41+i-1]
		if i <= 8 || i >= 32 {
			assert.Equal(t, "pass", r.Verdict.String(), "%d: %s", i, r.Reason)
		} else {
			assert.Contains(t, r.Reason, "at s20 (p.csv:22:4) the way along the shots turns back", "%d", i)
		}
	}
}

// A straight line askew to the grid has no bends, however its distances are rounded:
// exactly on the limit passes, one last digit beyond fails. Arithmetic, along 3:4:5.
func TestStraightedgeAskew(t *testing.T) {
	for level, want := range map[string]string{"9.995": "pass", "9.9949": "fail"} {
		var lines, root []string
		for i := range 21 {
			z := "10"
			if i == 10 {
				z = level
			}
			lines = append(lines, fmt.Sprintf("s%d,%.1f,%.1f,%s", i, 0.3*float64(i), 0.4*float64(i), z))
			root = append(root, fmt.Sprintf("s%d,%.1f,%.1f,%s", i, 0.3*float64(i), 0.3*float64(i), z))
		}
		for _, l := range [][]string{lines, root} {
			assert.Equal(t, want, profileRun(t, "5 mm", "", "Point,Easting,Northing,Level", l).Rows[21+9].Verdict.String())
		}
	}
}

// Irregularities are counted in the worst stretch anywhere: two that lie on both sides
// of the end of the first 5 m, exactly 2 m apart, are two in 5 m and two in 2 m, and
// one in a stretch that is one last digit shorter than between them.
func TestIrregularitiesInTheWorstStretch(t *testing.T) {
	lines := func(low ...int) (out []string) {
		for i := range 61 {
			z := 10.0
			for _, k := range low {
				if i == k {
					z = 9.99
				}
			}
			out = append(out, fmt.Sprintf("s%d,%.2f,0,%v", i, float64(i)/4, z))
		}
		return out
	}
	rule := ", irregularities: [{over: 6 mm, most: %d, per: %s, source: t}]"
	for _, c := range []struct {
		low      []int
		most     int
		per      string
		want     string
		why, row string
	}{
		{[]int{16, 24}, 1, "5 m", "fail", "2 over 6 mm in the 5.000 m of the profile of the shots without a run from s16 on, 1 allowed", "s16"},
		{[]int{16, 30}, 1, "3.5 m", "fail", "2 over 6 mm in the 3.500 m", "s16"},
		{[]int{16, 30}, 1, "3.4999 m", "pass", "1 over 6 mm in the 3.500 m", "s16"},
		{[]int{8, 24, 40, 44, 50}, 2, "4.9 m", "fail", "3 over 6 mm in the 4.900 m of the profile of the shots without a run from s40 on, 2 allowed", "s40"},
		{[]int{10, 20, 30, 40}, 2, "5 m", "fail", "3 over 6 mm in the 5.000 m of the profile of the shots without a run from s10 on, 2 allowed; too many as well from s20 on", "s10"},
		{[]int{5, 15, 25, 35, 45}, 2, "5 m", "fail", "3 over 6 mm in the 5.000 m of the profile of the shots without a run from s5 on, 2 allowed; too many as well from s15 on and from 1 more", "s5"},
		{[]int{16, 17, 18, 38}, 1, "5 m", "fail", "from s18 on, 1 allowed", "s16"}, // three shots are one
		{nil, 0, "5 m", "pass", "0 over 6 mm in any 5.000 m of the profile", "s0"},
		{[]int{30}, 1, "20 m", "not assessed", "the profile is shorter than the length of the rule", "s30"},
	} {
		res := profileRun(t, "50 mm", fmt.Sprintf(rule, c.most, c.per), "Point,Easting,Northing,Level", lines(c.low...))
		last := res.Rows[len(res.Rows)-1]
		require.Equal(t, qa.QuantityIrregularities, last.Quantity)
		assert.Equal(t, c.want, last.Verdict.String(), "%v: %s", c.low, last.Reason)
		assert.Contains(t, last.Reason, c.why)
		assert.Equal(t, c.row, last.Shot.ID, last.Reason)
	}

	// a hole in the profile: what lies near it is not known, and may be too many
	hole := append(lines(8)[:30], lines()[32:]...)
	for most, want := range map[int]string{0: "fail", 1: "not assessed", 60: "pass"} {
		res := profileRun(t, "50 mm", fmt.Sprintf(rule, most, "5 m"), "Point,Easting,Northing,Level", hole)
		last := res.Rows[len(res.Rows)-1]
		assert.Equal(t, want, last.Verdict.String(), last.Reason)
		if want == "not assessed" {
			assert.Contains(t, last.Reason, "shots whose gap is not known there may be")
		}
		assert.NotEqual(t, "pass", string(res.Verdict))
	}
}

// A profile that cannot be assessed at all is not assessed in every lot that it runs
// through: none of them passes by what another check found there.
func TestStraightedgeOfNoProfileInEveryLot(t *testing.T) {
	text := straightedgeJob("m", "3 m", "5 mm", "") +
		"  - surface: {name: w, element: e, design: pad, tolerance: {lower: -50 mm, upper: 50 mm, source: s}}\n" +
		"designs:\n  - {name: pad, plane: {easting: 0 m, northing: 0 m, level: 10.000 m, bearing: 0 deg, grade: 0 %, across: 0 %}}\n" +
		"lots:\n  - {name: west, polygon: {corners: [[-1 m, -1 m], [5 m, -1 m], [5 m, 1 m], [-1 m, 1 m]]}}\n  - {name: east, polygon: {corners: [[5.1 m, -1 m], [11 m, -1 m], [11 m, 1 m], [5.1 m, 1 m]]}}\n"
	var shots strings.Builder
	shots.WriteString("Point,Easting,Northing,Level\n")
	for i := range 21 {
		fmt.Fprintf(&shots, "s%d,%v,0,10\n", i, float64(i)/2)
	}
	res := runShots(t, text, map[string]string{"p.csv": shots.String()})
	assert.Equal(t, "pass", string(res.Verdict))
	res = runShots(t, text, map[string]string{"p.csv": shots.String() + "again,10,0,10\n"})
	require.Empty(t, res.Problems)
	require.Len(t, res.Lots, 2)
	for _, l := range res.Lots {
		assert.Equal(t, qa.Counts{NotAssessed: 1}, l.Checks[0], l.Name)
		assert.Equal(t, "incomplete", string(l.Verdict), l.Name)
	}
	assert.Equal(t, qa.VerdictIncomplete, res.Checks[0].Verdict())
	assert.Equal(t, "incomplete", string(res.Verdict))
}
