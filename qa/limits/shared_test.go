package limits

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"sightrail/formats/fixture"
	"sightrail/formats/unit"
)

// The numbers of testdata/worked/quality are those of the outside check values,
// and none of those is left out.
func TestTranscriptionOfQuality(t *testing.T) {
	folder := fixture.Shared(t, "published", "quality")
	ours, err := filepath.Glob(filepath.Join(qualityFolder(t), "*.json"))
	require.NoError(t, err)
	theirs, err := filepath.Glob(filepath.Join(folder, "*.json"))
	require.NoError(t, err)
	require.NotEmpty(t, theirs)
	assert.Len(t, ours, len(theirs))
	for _, path := range theirs {
		name := strings.ReplaceAll(filepath.Base(path), "_", "-")
		e := readExample(t, name)
		f, err := os.Open(path)
		require.NoError(t, err)
		d := json.NewDecoder(f)
		d.UseNumber()
		var o struct {
			Method, Status, Units string
			Source                struct{ Seen string }
			Inputs                map[string]any
			Expected, Tolerance   map[string]any
		}
		require.NoError(t, d.Decode(&o))
		require.NoError(t, f.Close())
		for _, key := range []string{"file", "table"} { // named otherwise here
			delete(o.Inputs, key)
			delete(e.Inputs, key)
		}
		assert.Equal(t, o.Method, e.Kind, name)
		assert.Equal(t, o.Status, e.Status, name)
		assert.Equal(t, o.Units, e.Units, name)
		assert.Equal(t, strings.HasPrefix(o.Source.Seen, "memory"), e.Source.Seen == "memory", name)
		assert.Equal(t, o.Inputs, e.Inputs, name)
		assert.Equal(t, o.Expected, e.Want, name)
		assert.Equal(t, o.Tolerance, e.Within, name)
	}
}

// Tables, by the columns that hold figures; other columns have words of our own.
func TestTranscriptionOfQualityTables(t *testing.T) {
	folder := fixture.Shared(t, "published", "quality")
	tables := map[string]struct {
		ours    string
		columns [][2]string // theirs, ours
	}{
		"k_table_z19.csv":            {"factors-z19.csv", same("n", "aql_0.10", "aql_0.15", "aql_0.25", "aql_0.40", "aql_0.65", "aql_1.0", "aql_1.5", "aql_2.5", "aql_4.0", "aql_6.5", "aql_10")},
		"min_cover.csv":              {"least-cover.csv", append(same("source"), [2]string{"min_cover_m", "cover_m"})},
		"min_gradients.csv":          {"least-grades.csv", append(same("pipe", "clause"), [2]string{"min_gradient_percent", "percent"})},
		"surface_irregularities.csv": {"irregularities.csv", append(same("size_mm", "source"), [2]string{"per_300_m", "in_300_m"}, [2]string{"per_75_m", "in_75_m"})},
		"tolerance_presets.csv":      {"tolerance-presets.csv", append(same("lower_mm", "upper_mm"), [2]string{"original_unit", "printed_unit"})},
		"sampling_rules.csv":         {"sampling-rules.csv", same("clause")},
		"decision_rules.csv":         {"decision-rules.csv", nil},
	}
	found, err := filepath.Glob(filepath.Join(folder, "*.csv"))
	require.NoError(t, err)
	for _, path := range found {
		name := filepath.Base(path)
		if strings.HasPrefix(name, "strd_") || strings.HasPrefix(name, "pwl_") {
			other := map[bool]string{true: strings.ToLower(strings.ReplaceAll(name, "_", "-")), false: "pwl-table.csv"}[strings.HasPrefix(name, "strd_")]
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			got, err := os.ReadFile(filepath.Join(qualityFolder(t), other))
			require.NoError(t, err)
			assert.Equal(t, string(want), string(got), name)
			continue
		}
		table, ok := tables[name]
		require.True(t, ok, "%s is not transcribed", name)
		theirs, ours := readTable(t, path), readTable(t, filepath.Join(qualityFolder(t), table.ours))
		require.Len(t, ours, len(theirs), name)
		for i, row := range theirs {
			for _, c := range table.columns {
				want, ok := row[c[0]]
				require.True(t, ok, c[0])
				got, ok := ours[i][c[1]]
				require.True(t, ok, c[1])
				assert.Equal(t, want, got, "%s row %d", name, i+2)
			}
			if status, ok := ours[i]["status"]; ok {
				assert.Equal(t, strings.HasPrefix(row["seen"], "memory"), status == "memory", "%s row %d", name, i+2)
			}
			if name == "sampling_rules.csv" {
				assert.Equal(t, figuresIn(row["rule"]), figuresIn(ours[i]["rule"]), "%s row %d", name, i+2)
			}
		}
	}
}

func same(columns ...string) (pairs [][2]string) {
	for _, c := range columns {
		pairs = append(pairs, [2]string{c, c})
	}
	return pairs
}

var figure = regexp.MustCompile(`[0-9]+(?:\.[0-9]+)?`)

// figuresIn lists the different figures of a text in order. A 1 of "1 in 10" is
// a word in some wordings.
func figuresIn(text string) []string {
	text = strings.NewReplacer("(n-1)", "", "n-1", "", "Z1.9", "", "k_table_z19.csv", "", "n 35", "35", "PU + PL - 100", "100").Replace(text)
	list := figure.FindAllString(text, -1)
	list = slices.DeleteFunc(list, func(s string) bool { return s == "1" })
	slices.Sort(list)
	return slices.Compact(list)
}

// The table of factors in the program is the one transcribed, and a preset is
// there for every tolerance that was seen and for none from memory.
func TestTablesOfTheProgram(t *testing.T) {
	for _, row := range readTable(t, filepath.Join(qualityFolder(t), "factors-z19.csv")) {
		n, err := strconv.Atoi(row["n"])
		require.NoError(t, err)
		for column, cell := range row {
			aql, ok := strings.CutPrefix(column, "aql_")
			if !ok {
				continue
			}
			level, _, err := unit.ParseDecimal(aql)
			require.NoError(t, err)
			k, err := PublishedFactor(n, level)
			if cell == "" {
				assert.ErrorContains(t, err, "was seen")
				continue
			}
			require.NoError(t, err)
			want, _, err := unit.ParseDecimal(cell)
			require.NoError(t, err)
			assert.True(t, equalDecimals(want, k), "%d values, %s %%: %s for %s", n, aql, k, cell)
		}
	}
	rows := readTable(t, filepath.Join(qualityFolder(t), "tolerance-presets.csv"))
	presets := Presets()
	seen := 0
	for _, row := range rows {
		if row["status"] == "memory" {
			assert.Empty(t, row["preset"], "nothing from memory is a preset")
			continue
		}
		p := presets[seen]
		seen++
		require.Equal(t, row["preset"], p.Name)
		assert.Equal(t, row["element"] != "", p.Element != "")
		assert.Equal(t, row["kind"], p.Kind, p.Name)
		assert.Equal(t, row["source"], p.Source, p.Name)
		sized, err := p.Tolerance(unit.Ft)
		require.NoError(t, err, p.Name)
		tol, err := sized.For(length(t, "10 m")) // where 5 % of DN is more than 20 mm
		require.NoError(t, err, p.Name)
		side := func(column string, has bool, l unit.Length) {
			require.Equal(t, row[column] != "", has, "%s %s", p.Name, column)
			if !has {
				return
			}
			printed := length(t, row[column]+" mm")
			if row["printed_unit"] == "mm" || row["printed_unit"] == "cm" {
				assert.Equal(t, printed, l, "%s %s", p.Name, column)
			} else { // the table gives a tenth of a millimetre, the preset the figure in feet or inches
				assert.LessOrEqual(t, (printed - l).Abs(), unit.Millimetre/20, "%s %s", p.Name, column)
			}
		}
		side("lower_mm", tol.HasLower, tol.Lower)
		side("upper_mm", tol.HasUpper, tol.Upper)
	}
	assert.Len(t, presets, seen)
	assert.Equal(t, 66, seen)
}
