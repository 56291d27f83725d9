package main

import (
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const partJob = `project: parts
units: m
grid: EPSG:7855
heightDatum: AHD
surveys:
  - {file: points.csv, kind: points, unit: m}
designs:
  - {name: pad, plane: {easting: 320000 m, northing: 5800000 m, level: 10 m, corners: [[320000 m, 5800000 m], [320090 m, 5800000 m], [320090 m, 5800090 m], [320000 m, 5800090 m]]}}
checks:
  - surface: {name: pad, element: pad, design: pad, tolerance: {lower: -20 mm, upper: 10 mm, source: s}}
`

// partPoints are points with all that a file may hold between them: comments, blank
// lines, short rows, quotes, names without a level, dirt.
func partPoints(n int, seed int64) string {
	r := rand.New(rand.NewSource(seed))
	var b strings.Builder
	b.WriteString("Scan of the pad,,,,\nPoint,Run,Easting,Northing,Level\n")
	for i := range n {
		switch r.Intn(40) {
		case 0:
			b.WriteString("# a remark, 12\n")
		case 1:
			b.WriteString("\n")
		case 2:
			fmt.Fprintf(&b, "short%d,R\n", i)
		case 3:
			fmt.Fprintf(&b, "\"named, %d\",R,3200%02d.5,5800001,10.0\n", i, r.Intn(90))
		case 4:
			fmt.Fprintf(&b, "p%d,R,320001,5800001,1O.0\n", i)
		case 5:
			fmt.Fprintf(&b, "p%d,S,320001,5800001,\n", i)
		default:
			fmt.Fprintf(&b, "p%d,R%d,3200%02d.%03d,58000%02d.%03d,%.4f\n", i, r.Intn(3), r.Intn(99), r.Intn(1000), r.Intn(95), r.Intn(1000), 10+0.009*r.NormFloat64())
		}
	}
	return b.String()
}

// outputs are the files of a folder by name.
func outputs(t *testing.T, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	out := map[string]string{}
	for _, e := range entries {
		b, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		out[e.Name()] = string(b)
	}
	return out
}

// One, three and eight parts make the same bytes as the single run, and say the same.
func TestPartsMakeTheWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "job.yaml")
	require.NoError(t, os.WriteFile(path, []byte(partJob), 0o644))
	for _, n := range []int{300, 9000} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "points.csv"), []byte(partPoints(n, int64(n))), 0o644))
		whole := filepath.Join(dir, fmt.Sprint("whole", n))
		code, said, problems := sightrail("check", path, "-o", whole, "--outputs", "csv,geojson,geojsonl,summary")
		want := outputs(t, whole)
		require.Len(t, want, 4)
		require.Greater(t, strings.Count(want["results.csv"], "\n"), n/2)
		for _, parts := range []int{1, 3, 8} {
			var dirs []string
			for i := range parts {
				d := filepath.Join(dir, fmt.Sprintf("%d-%d-%d", n, parts, i))
				dirs = append([]string{d}, dirs...) // in any order
				code, _, stderr := sightrail("check", path, "-o", d, "--outputs", "csv,geojson,geojsonl", "--part", fmt.Sprintf("%d/%d", i+1, parts))
				require.Equal(t, 0, code, stderr)
			}
			merged := filepath.Join(dir, fmt.Sprintf("%d-%d", n, parts))
			gotCode, gotSaid, gotProblems := sightrail(append([]string{"merge", path, "-o", merged}, dirs...)...)
			assert.Equal(t, code, gotCode, gotProblems)
			assert.Equal(t, strings.ReplaceAll(said, whole, "X"), strings.ReplaceAll(gotSaid, merged, "X"))
			assert.Equal(t, problems, gotProblems)
			for name, text := range want {
				require.Equal(t, text, outputs(t, merged)[name], "%s of %d parts", name, parts)
			}
		}
	}
}

// What cannot be cut or put together is refused.
func TestPartsThatCannotBe(t *testing.T) {
	dir := t.TempDir()
	path, points := filepath.Join(dir, "job.yaml"), filepath.Join(dir, "points.csv")
	write := func(job, text string) {
		require.NoError(t, os.WriteFile(path, []byte(job), 0o644))
		require.NoError(t, os.WriteFile(points, []byte(text), 0o644))
	}
	part := func(k string) (int, string) {
		code, _, stderr := sightrail("check", path, "-o", filepath.Join(dir, strings.ReplaceAll(k, "/", "-")), "--overwrite", "--part", k)
		return code, stderr
	}
	head := "Point,Easting,Northing,Level\n"
	write(partJob, head+strings.Repeat("a,320001,5800001,10\n", 50))
	for k, want := range map[string]string{"0/3": "is not a part", "4/3": "is not a part", "x": "is not a part"} {
		code, stderr := part(k)
		assert.Equal(t, 2, code)
		assert.Contains(t, stderr, want)
	}
	for text, want := range map[string]string{
		head + "a,320001,5800001,10\n\"b\nc\",320001,5800001,10\n":            "it has a line break inside quotes",
		strings.ReplaceAll(head+"a,320001,5800001,10\nb,1,1,1\n", "\n", "\r"): "a carriage return alone",
		"\xff\xfeP\x00o\x00": "it is in UTF-16",
	} {
		write(partJob, text)
		code, stderr := part("2/2")
		assert.Equal(t, 2, code)
		assert.Contains(t, stderr, want)
	}
	for job, want := range map[string]string{
		strings.Replace(partJob, ", unit: m}", "}", 1):                           "whose unit is declared",
		partJob + "lots:\n  - {name: L, runs: [R]}\n":                            "it has lots",
		partJob + "  - coverage: {name: c, element: e, along: 5 m, source: s}\n": "works results out of several shots",
	} {
		write(job, head+"a,320001,5800001,10\n")
		code, stderr := part("1/2")
		assert.Equal(t, 2, code, job)
		assert.Contains(t, stderr, want)
	}

	// merging
	write(partJob, head+strings.Repeat("a,320001,5800001,10\n", 50))
	for _, k := range []string{"1/2", "2/2", "1/3"} {
		code, stderr := part(k)
		require.Equal(t, 0, code, stderr)
	}
	merge := func(dirs ...string) string {
		args := []string{"merge", path, "-o", filepath.Join(dir, "merged"), "--overwrite"}
		for _, d := range dirs {
			args = append(args, filepath.Join(dir, d))
		}
		code, _, stderr := sightrail(args...)
		if code == 0 {
			return ""
		}
		return stderr
	}
	assert.Empty(t, merge("2-2", "1-2"))
	assert.Contains(t, merge("1-2"), "there are 1 parts, and the file was cut into 2")
	assert.Contains(t, merge("1-2", "1-2"), "part 2 of 2 is missing, or is there twice")
	assert.Contains(t, merge("1-3", "2-2"), "with other inputs, options or numbers of parts")
	assert.Contains(t, merge("1-2", "nowhere"), "holds no part")
	require.NoError(t, os.WriteFile(points, []byte(head+strings.Repeat("a,320001,5800001,11\n", 50)), 0o644))
	assert.Contains(t, merge("1-2", "2-2"), "it was changed after part 1 was run")
	require.NoError(t, os.WriteFile(path, []byte(partJob+"\n# changed\n"), 0o644))
	assert.Contains(t, merge("1-2", "2-2"), "was run on another job file")
}

// The bytes do not depend on how many run at once, and every report sees all rows.
func TestBytesDoNotDependOnWorkers(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "job.yaml")
	require.NoError(t, os.WriteFile(path, []byte(partJob), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "points.csv"), []byte(partPoints(6000, 1)), 0o644))
	var want map[string]string
	for _, workers := range []int{1, 2, 7} {
		before := runtime.GOMAXPROCS(workers)
		out := filepath.Join(dir, fmt.Sprint("w", workers))
		code, _, stderr := sightrail("check", path, "-o", out, "--outputs", "html,csv,geojson,geojsonl,summary", "-q")
		runtime.GOMAXPROCS(before)
		require.Equal(t, 2, code, stderr)
		got := outputs(t, out)
		if want == nil {
			want = got
			continue
		}
		for name, text := range want {
			require.Equal(t, text, got[name], "%s with %d workers", name, workers)
		}
	}
}
