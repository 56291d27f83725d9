package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/qa/checks"
	"sightrail/qa/job"
)

func put(t *testing.T, dir, name, text string) string {
	p := filepath.Join(dir, name)
	require.NoError(t, os.WriteFile(p, []byte(text), 0o600))
	return p
}

func TestConvertNamesWhatIsLost(t *testing.T) {
	dir := t.TempDir()
	in := put(t, dir, "in.csv", "Point,Easting (m),Northing (m),Level (m),Code,Run\na,1.50,2,3,PAD,P1\n")
	out := filepath.Join(dir, "out.xml")
	code, _, msg := sightrail("convert", in, out)
	assert.Equal(t, exitOK, code)
	assert.Contains(t, msg, "not carried to LandXML: 1 points with a chainage, layer, run")
	text, err := os.ReadFile(out)
	require.NoError(t, err)
	assert.Contains(t, string(text), `<CgPoint name="a" code="PAD">2 1.50 3</CgPoint>`)
	require.NoError(t, os.Remove(out))
	code, _, msg = sightrail("convert", in, out, "--lossless")
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "something would be lost")
	assert.NoFileExists(t, out)
	for _, ext := range []string{".geojson", ".xlsx"} {
		mid, back := filepath.Join(dir, "mid"+ext), filepath.Join(dir, "back.csv")
		code, _, msg = sightrail("convert", in, mid, "--lossless")
		require.Equal(t, exitOK, code, msg)
		code, _, msg = sightrail("convert", mid, back)
		require.Equal(t, exitOK, code, msg)
		a, err := os.ReadFile(in)
		require.NoError(t, err)
		b, err := os.ReadFile(back)
		require.NoError(t, err)
		assert.Equal(t, string(a), string(b), ext)
	}
	code, _, msg = sightrail("convert", in, in)
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "write to another name")
	code, _, msg = sightrail("convert", in, filepath.Join(dir, "out.doc"))
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "is that of no format that is written")
}

func TestInspect(t *testing.T) {
	dir := t.TempDir()
	good := put(t, dir, "good.xml", messyDesign)
	bad := put(t, dir, "bad.csv", "nothing\n")
	code, out, _ := sightrail("inspect", good, bad, filepath.Join(dir, "absent.csv"), "--json")
	assert.Equal(t, exitUndone, code)
	var list []struct {
		File, Format    string
		Units           struct{ Linear string }
		Counts          map[string]int
		Problems, Notes []string
	}
	require.NoError(t, json.Unmarshal([]byte(out), &list))
	require.Len(t, list, 3)
	assert.Equal(t, "landxml", list[0].Format)
	assert.Equal(t, "m", list[0].Units.Linear)
	assert.Equal(t, 1, list[0].Counts["faces"])
	assert.Equal(t, 3, list[0].Counts["vertices"])
	assert.Empty(t, list[0].Problems)
	assert.Len(t, list[1].Problems, 1)
	assert.Contains(t, list[2].Problems[0], "no such file")
	code, _, _ = sightrail("inspect", good)
	assert.Equal(t, exitOK, code)
}

func TestFolderIsGuarded(t *testing.T) {
	dir := t.TempDir()
	job := put(t, dir, "job.yaml", messyJob)
	put(t, dir, "points.csv", messyPoints)
	put(t, dir, "design.xml", messyDesign)
	out := filepath.Join(dir, "out")
	code, _, msg := sightrail("check", job, "-o", out, "--outputs", "summary,csv")
	require.Equal(t, exitOK, code, msg)
	files, err := os.ReadDir(out)
	require.NoError(t, err)
	require.Len(t, files, 2)
	code, _, _ = sightrail("check", job, "-o", out)
	require.Equal(t, exitOK, code, "an earlier result is written over")
	put(t, out, "mine.txt", "keep")
	code, _, msg = sightrail("check", job, "-o", out)
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "holds mine.txt, which is no report")
	code, _, _ = sightrail("check", job, "-o", out, "--overwrite")
	assert.Equal(t, exitOK, code)
	assert.FileExists(t, filepath.Join(out, "mine.txt"))
	code, _, msg = sightrail("check", job, "-o", out, "--outputs", "pdf")
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, `there is no report "pdf"`)
	put(t, dir, "job.yaml", strings.Replace(messyJob, "surface: S", "serface: S", 1))
	code, _, msg = sightrail("check", job, "-o", filepath.Join(dir, "none"))
	assert.Equal(t, exitUndone, code)
	assert.NoDirExists(t, filepath.Join(dir, "none"), "a job that cannot be read writes nothing")
	assert.Contains(t, msg, `job.yaml:11:5: `)
}

func TestReduceClosesAndSays(t *testing.T) {
	dir := t.TempDir()
	book := put(t, dir, "b.csv", "Point,BS (m),IS (m),FS (m),RL (m)\nBM1,1.342,,,50.000\nA,1.655,,1.210,\nB,0.987,,1.876,\nBM2,,,0.554,50.346\n")
	code, out, msg := sightrail("reduce", book, "--closing", "6 mm", "--json")
	require.Equal(t, exitOK, code, msg)
	var doc struct {
		Rows                    []map[string]any
		MisclosureMm, AllowedMm float64
		Closes                  bool
		Sums                    map[string]float64
	}
	require.NoError(t, json.Unmarshal([]byte(out), &doc))
	assert.Equal(t, -2.0, doc.MisclosureMm)
	assert.Equal(t, 6.0, doc.AllowedMm)
	assert.True(t, doc.Closes)
	assert.Equal(t, 50.132, doc.Rows[1]["level"])
	assert.Equal(t, 0.344, doc.Sums["lastMinusFirst"])
	assert.Equal(t, 50.346, doc.Rows[3]["adjusted"])
	code, _, _ = sightrail("reduce", book, "--closing", "1 mm")
	assert.Equal(t, exitFail, code)
	code, _, msg = sightrail("reduce", book, "--known", "BM9=1")
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, `no point "BM9"`)
	bad := put(t, dir, "bad.csv", "Point,BS (m),IS (m),FS (m),Known (m)\nBM1,1.342,,,50.000\nA,,,1.210,\nB,,1.0,,\nBM2,,,0.554,50.346\n")
	code, _, msg = sightrail("reduce", bad)
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "bad.csv:3:2: BS: the change point A has a foresight and no backsight")
}

// A level of the first set-up is worth √(set-up² + reading²), by the rule that
// the package levels states.
func TestReduceUncertainty(t *testing.T) {
	book := put(t, t.TempDir(), "b.csv", goodBook)
	args := []string{"reduce", book, "--known", "BM1=10.000", "--known", "BM2=10.300", "--json"}
	code, out, msg := sightrail(append(args, "--reading", "1 mm", "--setup", "3 mm")...)
	require.Equal(t, exitOK, code, msg)
	assert.Contains(t, out, `"uncertaintyMm": 3.16`)
	_, out, _ = sightrail(args...)
	assert.Contains(t, out, `"uncertaintyMm": null`)
	for _, bad := range [][]string{{"--reading", "1"}, {"--reading", "0 mm"}, {"--setup", "1 mm"}, {"--reading", "1 mm", "--per-km", "2 mm"}, {"--staff", "-5 m"}} {
		code, _, msg := sightrail(append(args, bad...)...)
		assert.Equal(t, exitUndone, code, bad)
		assert.NotEmpty(t, msg)
	}
	code, _, msg = sightrail("reduce", book, "--staff", "1.6 m")
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, "is longer than the staff, which is 1.600")
}

// Feet and inches are read where they are declared, exactly: an eighth of an inch
// is 1/96 of a foot. Levels of such a book are decimal feet.
func TestReduceFeetInches(t *testing.T) {
	book := put(t, t.TempDir(), "b.csv", "Sta,BS,HI,FS,Elev\nBM1,5' 6 3/8\",105.53,,100.00\nTP1,4' 2 1/2\",106.39,3' 4 1/4\",102.18\nBM2,,,6' 4 5/8\",100.00\n")
	code, _, msg := sightrail("reduce", book)
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, `b.csv:2:2: BS: "5' 6 3/8\"" looks like feet and inches; write decimal feet, or declare "unit: ft-in"`)
	code, out, msg := sightrail("reduce", book, "--unit", "ft-in", "--known", "BM1=100.00", "--known", "BM2=100.00", "--closing", "0.01 ft")
	require.Equal(t, exitOK, code, msg)
	assert.Contains(t, out, "5.5313")
	assert.Contains(t, out, "misclosure (computed − known) 0.0 mm")
	assert.Contains(t, out, "booked columns agree with the recomputed ones")
}

// Every kind of check has a whole page, and can be asked for by its name.
func TestPageOfEveryCheck(t *testing.T) {
	_, list, _ := sightrail("checks")
	for _, k := range checks.All {
		for what, text := range map[string]string{"title": k.Title, "doc": k.Doc, "formula": k.Formula, "source": k.Source, "example": k.Example} {
			assert.NotEmpty(t, text, "%s of %s", what, k.Name)
		}
		code, page, msg := sightrail("checks", k.Name)
		assert.Equal(t, exitOK, code, msg)
		assert.Contains(t, list, page)
		for _, line := range strings.Split(page, "\n") {
			if !strings.HasPrefix(line, "  ") {
				continue
			}
			if head, _, key := strings.Cut(line, "   "); !key || head == "" {
				assert.LessOrEqual(t, len([]rune(line)), pageWidth, line)
			}
		}
		for _, key := range job.Keys(k.Params()) {
			assert.Contains(t, page, "  "+key.Name+" ")
		}
	}
	code, _, msg := sightrail("checks", "levels")
	assert.Equal(t, exitUndone, code)
	assert.Contains(t, msg, `there is no kind of check "levels"; there are surface, pipe`)
}
