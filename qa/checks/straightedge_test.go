package checks_test

import (
	"fmt"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sightrail/formats/unit"
	"sightrail/qa"
	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func straightedgeJob(u, length, limit, more string) string {
	return fmt.Sprintf("project: p\nunits: %[1]s\ngrid: local site\nheightDatum: site\nsurveys:\n  - {file: p.csv, kind: points, unit: %[2]s}\n"+
		"checks:\n  - straightedge: {name: v, element: e, length: %[3]s, tolerance: {upper: %[4]s, source: s}%[5]s}\n", strings.Replace(u, "in", "ft", 1), u, length, limit, more)
}

// gaps runs a profile of shots, places and levels in metres, and returns the gaps in
// millimetres of the inner shots.
func gaps(t *testing.T, bar float64, x, z []float64) []float64 {
	t.Helper()
	var shots strings.Builder
	shots.WriteString("Point,Easting,Northing,Level\n")
	for i := range x {
		fmt.Fprintf(&shots, "s%d,%.4f,0,%.5f\n", i, x[i], z[i])
	}
	res := runShots(t, straightedgeJob("m", fmt.Sprintf("%v m", bar), "5 mm", ""), map[string]string{"p.csv": shots.String()})
	require.Empty(t, res.Problems)
	var out []float64
	for i := range res.Rows {
		if r := &res.Rows[i]; r.Derived {
			require.True(t, r.Compared, r.Reason)
			out = append(out, r.Diff.Millimetres())
		}
	}
	require.Len(t, out, len(x)-2)
	return out
}

func steps(n int, by float64, z func(x float64) float64) (xs, zs []float64) {
	for i := range n {
		xs = append(xs, float64(i)*by)
		zs = append(zs, z(float64(i)*by))
	}
	return xs, zs
}

// Closed forms: a parabola of radius R has the gap L²/8R under a bar of length L, 11.25 mm
// here, and straight pieces of s between shots on it add half of s²/8R = 0.3125 mm; a
// slope and a crest have none but by the straight pieces between shots; beside a bump
// the gap is that of a line from its top to the ground a bar's length away.
func TestGapsOfShapes(t *testing.T) {
	x, z := steps(31, 0.5, func(x float64) float64 { return 10 + (x-7.5)*(x-7.5)/200 })
	got := gaps(t, 3, x, z)
	for i := 3; i < len(got)-3; i++ { // a bar's half away from the ends
		assert.InDelta(t, 11.25+0.3125/2, got[i], 1e-9, "shot %d", i+1)
	}
	x, z = steps(31, 0.5, func(x float64) float64 { return 10 + x/20 })
	for _, g := range gaps(t, 3, x, z) {
		assert.Zero(t, g)
	}
	x, z = steps(31, 0.5, func(x float64) float64 { return 10 - (x-7.5)*(x-7.5)/200 })
	for _, g := range gaps(t, 3, x, z) {
		assert.Zero(t, g, "a crest touches the bar at every shot somewhere")
	}
	x, z = steps(21, 0.5, func(x float64) float64 { return 10 + 0.006*map[bool]float64{true: 1}[x == 5] })
	got = gaps(t, 3, x, z)
	for i, want := range map[int]float64{9: 5, 8: 4, 7: 3, 6: 2, 5: 1, 4: 0.25, 10: 0, 11: 5, 12: 4} {
		assert.InDelta(t, want, got[i-1], 1e-9, "shot %d", i)
	}
}

// The gap is at least that of any line between two points of the profile that a bar
// can rest on, drawn at random, and no more than the best of a fine search finds, but
// for its steps.
func TestGapAgainstSearch(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		const bar = 1.2
		seed := rapid.Int64().Draw(rt, "seed")
		r := rand.New(rand.NewSource(seed))
		x, z := []float64{0}, []float64{10}
		for x[len(x)-1] < 4 {
			x = append(x, math.Round((x[len(x)-1]+0.05+0.15*r.Float64())*1e4)/1e4)
			z = append(z, math.Round((10+0.05*r.NormFloat64()*r.Float64())*1e5)/1e5)
		}
		level := func(at float64) float64 {
			for i := 1; i < len(x); i++ {
				if at <= x[i] {
					return z[i-1] + (z[i]-z[i-1])*(at-x[i-1])/(x[i]-x[i-1])
				}
			}
			return z[len(z)-1]
		}
		got := gaps(t, bar, x, z)
		for i, g := range got {
			k, best := i+1, 0.0
			search := func(a, b float64) {
				if h := level(a) + (level(b)-level(a))*(x[k]-a)/(b-a) - z[k]; h > best {
					best = h
				}
			}
			var points []float64
			for s := -60; s <= 60; s++ {
				points = append(points, x[k]+bar*float64(s)/60)
			}
			for _, p := range append(points, x...) {
				if p < 0 || p >= x[k] || p < x[k]-bar {
					continue
				}
				for _, q := range append(append(append([]float64(nil), x...), points...), p+bar) {
					if q > x[k] && q <= x[len(x)-1] && q-p <= bar {
						search(p, q)
					}
				}
			}
			for s := range 4000 { // a whole bar, in fine steps
				if p := x[k] - bar*float64(s+1)/4000; p >= 0 && p+bar > x[k] && p+bar <= x[len(x)-1] {
					search(p, p+bar)
				}
			}
			require.GreaterOrEqual(rt, g, best*1000-1e-6, "shot %d", k)
			require.LessOrEqual(rt, g, best*1000+0.4, "shot %d: %v", k, seed)
		}
	})
}

// Exactly on the limit, and one last digit beyond, in every unit; and shots exactly a
// sixth of the bar apart, and one last digit further. Arithmetic.
func TestGapOnItsLimitInEveryUnit(t *testing.T) {
	for _, c := range []struct{ unit, bar, limit, step, further, on, over string }{
		{"m", "3 m", "5 mm", "0.5", "0.5001", "9.995", "9.9949"},
		{"ft", "12 ft", "0.02 ft", "2", "2.001", "9.98", "9.9799"},
		{"ftUS", "12 ftUS", "0.02 ftUS", "2", "2.001", "9.98", "9.9799"},
		{"in", "120 in", "0.0625 in", "20", "20.01", "9.9375", "9.9374"},
	} {
		for level, want := range map[string]string{c.on: "pass", c.over: "fail"} {
			for step, assessed := range map[string]bool{c.step: true, c.further: false} {
				var shots strings.Builder
				shots.WriteString("Point,Chainage,Offset,Level\n")
				d, err := unit.ParseQuantity(step + " " + c.unit)
				require.NoError(t, err)
				for i := range 13 {
					z := "10"
					if i == 6 {
						z = level
					}
					u, _ := unit.ByName(c.unit)
					fmt.Fprintf(&shots, "s%d,%s,0,%s\n", i, (unit.Length(i)*d).Exact(u, 0), z)
				}
				res := runShots(t, straightedgeJob(c.unit, c.bar, c.limit, ""), map[string]string{"p.csv": shots.String()})
				require.Empty(t, res.Problems)
				r := res.Rows[13+5]
				if assessed {
					assert.Equal(t, want, r.Verdict.String(), "%s %s: %s", level, c.unit, r.Reason)
				} else {
					assert.Equal(t, "not assessed", r.Verdict.String())
					assert.Contains(t, r.Reason, "more than a sixth of the straightedge")
				}
			}
		}
	}
}

// The bar's ends, the count of irregularities and what is not known of it.
func TestStraightedgeWords(t *testing.T) {
	var shots strings.Builder
	shots.WriteString("Point,Run,Easting,Northing,Level\n")
	for i := range 21 {
		z := 10.0
		if i == 10 {
			z = 9.99
		}
		fmt.Fprintf(&shots, "s%d,R,%v,0,%v\n", i, float64(i)*0.5, z)
	}
	rule := ", irregularities: [{over: 4 mm, most: %d, per: %s m, source: t}]"
	res := runShots(t, straightedgeJob("m", "3 m", "5 mm", fmt.Sprintf(rule, 0, "10")), map[string]string{"p.csv": shots.String()})
	r := res.Rows[21+9]
	assert.Equal(t, "under a straightedge from s9 to s11", r.Reason)
	assert.Equal(t, "straightedge of 3.000 m", r.DesignAt)
	last := res.Rows[len(res.Rows)-1]
	assert.Equal(t, qa.QuantityIrregularities, last.Quantity)
	assert.Equal(t, "fail", last.Verdict.String())
	assert.Equal(t, "1 over 4 mm in the 10.000 m of the profile R from s10 on, 0 allowed", last.Reason)
	res = runShots(t, straightedgeJob("m", "3 m", "50 mm", fmt.Sprintf(rule, 1, "20")), map[string]string{"p.csv": shots.String()})
	last = res.Rows[len(res.Rows)-1]
	assert.Equal(t, "not assessed", last.Verdict.String())
	assert.Contains(t, last.Reason, "the profile is shorter than the length of the rule")
	twice := strings.Replace(shots.String(), "s11,R,5.5,", "s11,R,5,", 1)
	res = runShots(t, straightedgeJob("m", "3 m", "5 mm", ""), map[string]string{"p.csv": twice})
	assert.Equal(t, "the profile R has two shots at one place: s10 and s11", res.Rows[21].Reason)
}

func TestStraightedgeKeys(t *testing.T) {
	for _, c := range []struct{ length, limit, more, want string }{
		{"0 m", "5 mm", "", "a straightedge is longer than nothing"},
		{"101 m", "5 mm", "", "not longer than 100 m"},
		{"3 m", "5 mm", ", irregularities: [{over: 4 mm, most: 1, per: 2 m, source: t}]", "is longer than the straightedge"},
		{"3 m", "5 mm", ", irregularities: [{over: 0 mm, most: 1, per: 20 m, source: t}]", "a gap of more than nothing"},
	} {
		_, err := job.Load("job.yaml", []byte(straightedgeJob("m", c.length, c.limit, c.more)), checks.Kinds())
		assert.ErrorContains(t, err, c.want)
	}
}

func BenchmarkStraightedge(b *testing.B) {
	text := straightedgeJob("m", "3 m", "5 mm", "")
	var shots strings.Builder
	shots.WriteString("Point,Easting,Northing,Level\n")
	for i := range 20_000 {
		fmt.Fprintf(&shots, "s%d,%.2f,0,%.4f\n", i, float64(i)*0.1, 10+0.002*math.Sin(float64(i*i)))
	}
	dir := b.TempDir()
	writeFile(b, dir, "p.csv", shots.String())
	j, err := job.Load("job.yaml", []byte(text), checks.Kinds())
	require.NoError(b, err)
	for b.Loop() {
		run, err := qa.Prepare(j, checks.All, folder(dir), "test")
		require.NoError(b, err)
		_, err = run.Each(func([]qa.Row) error { return nil })
		require.NoError(b, err)
	}
}

func writeFile(tb testing.TB, dir, name, text string) {
	tb.Helper()
	require.NoError(tb, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
}

// The limits of a preset hold under its straightedge: another length is refused, none
// takes the preset's, and where the document has two the job must say which.
func TestStraightedgeOfThePreset(t *testing.T) {
	text := func(length, preset string) []byte {
		return []byte(strings.Replace(strings.Replace(straightedgeJob("m", "L", "5 mm", ""), "length: L, ", length, 1), "upper: 5 mm, source: s", "preset: "+preset, 1))
	}
	for _, c := range []struct{ length, preset, want string }{
		{"length: 2 m, ", "morth-surface-straightedge", "job.yaml:8:49: checks.straightedge.length: the limits of the preset \"morth-surface-straightedge\" are for a straightedge of 3 m, and the length here is 2 m, under which the gaps are others; write \"length: 3 m\" or leave the key out, or give \"upper:\" with its source in place of the preset"},
		{"length: 3 m, ", "nhbc-drive", "are for a straightedge of 2 m, and the length here is 3 m"},
		{"length: 3 m, ", "ufgs-02753-other", "are for a straightedge of 4 m or 12 ft, and the length here is 3 m, under which the gaps are others; write \"length: 4 m\" or \"length: 12 ft\""},
		{"", "ufgs-02753-other", "is for a straightedge of 4 m or 12 ft; add \"length:\" with the one that is laid"},
		{"", "shw-base", "nothing says how long the straightedge is"},
		{"length: 3 m, ", "morth-surface-straightedge", ""},
		{"length: 12 ft, ", "ufgs-02753-other", ""},
		{"length: 12 ftUS, ", "ufgs-02753-other", ""},
		{"length: 4 m, ", "ufgs-02753-other", ""},
		{"", "morth-surface-straightedge", ""},
	} {
		_, err := job.Load("job.yaml", text(c.length, c.preset), checks.Kinds())
		if c.want == "" {
			assert.NoError(t, err, c)
		} else {
			assert.ErrorContains(t, err, c.want, c)
		}
	}
	_, err := job.Load("job.yaml", []byte(strings.Replace(straightedgeJob("m", "L", "5 mm", ""), "length: L, ", "", 1)), checks.Kinds())
	assert.ErrorContains(t, err, "nothing says how long the straightedge is")

	// a hollow of R = 300 m under 3 m: 3²/(8 × 300) m = 3.75 mm, beyond 3 mm
	var shots strings.Builder
	shots.WriteString("Point,Easting,Northing,Level\n")
	for i := range 49 {
		x := float64(i) / 4
		fmt.Fprintf(&shots, "s%d,%v,0,%.5f\n", i, x, 10+(x-6)*(x-6)/600)
	}
	res := runShots(t, string(text("", "morth-surface-straightedge")), map[string]string{"p.csv": shots.String()})
	assert.Equal(t, "fail", string(res.Verdict))
	assert.Equal(t, "straightedge of 3.000 m", res.Rows[49+20].DesignAt)
}
