package levels_test

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/convert/levels"
	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

type worked struct {
	Book   string
	Unit   string
	Within string
	Source struct{ Work, Place, Grade, Answers string }
	Want   struct {
		Rows []struct{ RL, HPC, Rise, Fall string }
		SumBS, SumFS, SumRise, SumFall, LastMinusFirst,
		Misclosure string
	}
}

// outside reports whether agreement with it is agreement with an outside
// source: grade A or B with printed answers.
func (w *worked) outside() bool {
	return (w.Source.Grade == "A" || w.Source.Grade == "B") && w.Source.Answers == "printed"
}

// readBook reads a book of testdata/worked the plain way, without the decoders
// of the program.
func readBook(t *testing.T, path string, u unit.Unit) []levels.Row {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	cells, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []levels.Row
	for _, rec := range cells[1:] {
		get := func(name string) levels.Value {
			for i, h := range cells[0] {
				if strings.HasPrefix(h, name) && rec[i] != "" {
					l, exact, err := unit.Parse(rec[i], u)
					require.NoError(t, err)
					require.True(t, exact)
					return levels.Of(l)
				}
			}
			return levels.Value{}
		}
		row := levels.Row{Name: rec[0], BS: get("BS ("), IS: get("IS ("), FS: get("FS ("), Known: get("Known")}
		if up, mid, lo := get("BS upper"), get("BS middle"), get("BS lower"); up.Set {
			mean, _, _ := levels.ThreeWire(up.L, mid.L, lo.L)
			row.BS = levels.Of(mean)
		}
		rows = append(rows, row)
	}
	return rows
}

// The books of testdata/worked/levelling against the answers of their sources,
// which each file names.
func TestPublishedBooks(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(fixture.Root(t), "testdata", "worked", "levelling", "*.json"))
	require.NoError(t, err)
	outside := 0
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".json"), func(t *testing.T) {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			var w worked
			require.NoError(t, json.Unmarshal(text, &w))
			require.NotEmpty(t, w.Source.Work)
			u, ok := unit.ByName(w.Unit)
			require.True(t, ok)
			within, _, err := unit.Parse(w.Within, u)
			require.NoError(t, err)
			res := levels.Reduce(readBook(t, filepath.Join(filepath.Dir(file), w.Book), u), levels.Options{})
			require.Empty(t, res.Mistakes)
			assert.True(t, res.ArithmeticOK, "ΣBS − ΣFS = ΣRise − ΣFall = last − first")
			check := func(what, printed string, got levels.Value) {
				if printed == "" {
					return
				}
				l, _, err := unit.Parse(printed, u)
				require.NoError(t, err)
				if assert.True(t, got.Set, what) {
					assert.LessOrEqual(t, (got.L - l).Abs(), within, "%s: %s, the source has %s", what, got.L.Exact(u, 3), printed)
				}
			}
			require.Len(t, res.Rows, len(w.Want.Rows))
			for i, r := range w.Want.Rows {
				got := res.Rows[i]
				check("level", r.RL, got.Level)
				check("collimation", r.HPC, got.Collimation)
				check("rise", r.Rise, got.Rise)
				check("fall", r.Fall, got.Fall)
			}
			check("ΣBS", w.Want.SumBS, levels.Of(res.Sums.BS))
			check("ΣFS", w.Want.SumFS, levels.Of(res.Sums.FS))
			check("Σrise", w.Want.SumRise, levels.Of(res.Sums.Rise))
			check("Σfall", w.Want.SumFall, levels.Of(res.Sums.Fall))
			check("last − first", w.Want.LastMinusFirst, res.FirstToLast)
			if w.Want.Misclosure != "" {
				check("misclosure", w.Want.Misclosure, res.Runs[0].Misclosure)
			}
			if w.outside() {
				outside++
			}
		})
	}
	assert.GreaterOrEqual(t, outside, 4, "books of grade A or B with printed answers")
}
